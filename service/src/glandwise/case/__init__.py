"""One case, built once: a duty and a design with every number filled in, and the numbers of the rules beside it."""
