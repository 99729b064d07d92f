"""What a trace gives to be told: numbers that know how they were made, one by one or in records."""

from __future__ import annotations

from typing import TypeAlias

Tree: TypeAlias = "float | tuple[Tree, ...] | None"
"""A number of the traced life, which is a float, or a tuple of such, as a formula with several results returns them."""
Trees: TypeAlias = tuple[Tree, ...]
"""What a working leads to."""
