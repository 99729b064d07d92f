"""The seal and its gland as plane geometry in metres: axial position and radius. Drawn from dimensions, nothing is judged."""
