"""What is said of an energizer whose dimensions lie outside the range of its model."""

from __future__ import annotations

OUTSIDE = "The dimensions of the energizer lie outside the range of its model."
"""What is said where a load, and all that follows from it, is not known."""
ACCEPTED = {
    "cantilever_v": "a root angle of 1 to 60 degrees and a deflection of at most 0.95 times the opening of the free V",
    "canted_coil": "a cant angle of 15 to 60 degrees, width over height 0.8 to 1.8 and pitch over half height 0.2 to 1.4, "
    "both of the wire centreline, and a deflection of at most 0.54 times its height",
    "garter": "a coil larger than its wire",
}
"""Dimensions that the model of each energizer covers."""
