"""Machine code made ready before a request needs it: compiled once, read from disk ever after."""

from __future__ import annotations

from glandwise.questions.blank import answer as blank
from glandwise.questions.energizer import answer as energizer
from glandwise.questions.envelope import judge

KERNELS = (judge, energizer, blank)
"""Modules whose ``warm`` makes their machine code ready."""


def warm() -> None:
    """Have all machine code ready; from then on nothing is compiled within a request."""
    for module in KERNELS:
        module.warm()
