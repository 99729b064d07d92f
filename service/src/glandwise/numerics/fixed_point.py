"""Step of a search for x = f(x). The loop stands where it is used: a function cannot be an argument of a formula."""

from __future__ import annotations

from math import log

from glandwise.numerics.lives import opaque

STIFF = 50.0
"""Residual beyond which its logarithm counts: a film that is stiff in the cold makes residuals of any size."""


def _words(*arguments: float) -> str:
    return f"found by a search; the steps that follow prove it to {arguments[-1]:g}"


@opaque(search=True, words=_words)
def next_guess(
    x: float,
    residual: float,
    low: float,
    f_low: float,
    high: float,
    f_high: float,
    side: float,
    tolerance: float,  # noqa: ARG001
) -> tuple[float, float, float, float, float, float]:
    """Next place to look for a root, and what encloses it: false position on a tamed residual (Illinois).

    ``residual`` is f(x) - x. ``low`` and ``high`` enclose the root, ``f_low`` > 0 and ``f_high`` < 0 are what is known there
    of the tamed residual, 0 where nothing is known yet, ``side`` tells which of them was found last: 1, -1, at first 0.
    Until both are known, the search goes on by twice the residual, then along the line through the last two places;
    where the residual is not known, as beyond what a model covers, it goes half the way back to ``low``. Returned are
    the next place and the five in the same order; the next place is ``x`` itself where there is nowhere left to go.
    """
    if residual != residual:
        return 0.5 * (low + x), low, f_low, x, 0.0, 0.0
    f, size = residual, abs(residual)
    if size > STIFF:
        f = residual / size * STIFF * (1.0 + log(size / STIFF))
    following = x + 2.0 * residual
    if residual > 0.0:
        if side > 0.0:  # the same end again
            if f_high < 0.0:  # what is known of the other one counts half
                f_high = 0.5 * f_high
            elif f_low > f:  # a little beyond where the line through both places meets zero
                ahead = 1.1 * f * (x - low) / (f_low - f)
                following = x + (ahead if ahead < 20.0 * residual else 20.0 * residual)
        low, f_low, side = x, f, 1.0
    else:
        if side < 0.0 and f_low > 0.0:
            f_low = 0.5 * f_low
        high, f_high, side = x, f, -1.0
    if f_low > 0.0 and f_high < 0.0:
        following = low + (high - low) * f_low / (f_low - f_high)
    if following > high:
        following = high
    if following < low:
        following = low
    return following, low, f_low, high, f_high, side
