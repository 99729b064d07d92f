"""Step of a search for x = f(x). The loop stands where it is used: a function cannot be an argument of a formula."""

from __future__ import annotations

from glandwise.numerics.arithmetic import greatest, least
from glandwise.numerics.lives import opaque

PATIENT = 12
"""Passes after which a search that has a bracket halves it."""


def _words(*arguments: float) -> str:
    return f"found by a search; the steps that follow prove it to {arguments[-1]:g}"


def _between_words(*_: float) -> str:
    return "found by a search; the steps that follow prove it"


@opaque(search=True, words=_between_words)
def kept_between(x: float, low: float, high: float, passes: int) -> tuple[float, float]:
    """Next place to look where a solution is known to lie between two: the middle, if ``x`` does not or after many passes.

    The second number tells whether ``x`` stays.
    """
    if x > low and x < high and passes < PATIENT:
        return x, 1.0
    return 0.5 * (low + high), 0.0


@opaque(search=True, words=_words)
def next_guess(
    x: float,
    residual: float,
    step: float,
    change: float,
    low: float,
    high: float,
    tolerance: float,  # noqa: ARG001
) -> tuple[float, float]:
    """Next place to look, and the way there: a secant on the residual, at most ten times it (Aitken).

    ``residual`` is f(x) - x, ``step`` the last way and ``change`` what it changed of the residual, both 0 at first. The
    way is 0 where there is nowhere left to go between ``low`` and ``high``.
    """
    stretch = -step / change if change != 0.0 else 1.0
    if not stretch > 0.0:
        stretch = 1.0
    following = least(greatest(x + least(stretch, 10.0) * residual, low), high)
    return following, following - x
