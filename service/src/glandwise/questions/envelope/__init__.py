"""Would this seal live there? Every criterion of a duty and a design."""
