"""What load does an energizer give: over its deflection, at the ends of its tolerances, and how sure is that."""
