"""What judges rules rather than seals."""
