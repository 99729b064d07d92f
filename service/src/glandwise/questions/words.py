"""Words that criteria of several questions share."""

from __future__ import annotations

from glandwise.contract.quantities import accepted_range


def wanted(dimension: str, bound: float, unit: str, *, least: bool) -> str:
    """Say the end of a window in words; a demand that meets what is said meets the bound."""
    low, high, word = (bound, None, "needed") if least else (None, bound, "allowed")
    return f"{accepted_range(dimension, low, high, unit, digits=3)} is {word}"
