"""Thin client of the Glandwise service."""
