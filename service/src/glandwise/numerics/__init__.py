"""Plain formulas and their lives: compiled to judge, traced to explain, read as documentation."""
