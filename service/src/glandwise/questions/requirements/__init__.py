"""What has to stand on the drawing of the hardware so that a verdict holds."""
