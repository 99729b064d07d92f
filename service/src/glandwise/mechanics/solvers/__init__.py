"""Solvers behind the tables of the formulas: arrays, off line, never on the path of a request."""
