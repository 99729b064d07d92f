"""Pydantic models of requests and results, and the units on the wire."""
