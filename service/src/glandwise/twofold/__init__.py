"""Pieces of physics: SI floats or arrays in, the same shape out; no input, no output, no rule data."""
