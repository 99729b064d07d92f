"""The seal that was proposed or checked, as numbers to draw."""
