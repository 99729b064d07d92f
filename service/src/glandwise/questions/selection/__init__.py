"""Which design would live there."""
