"""Rated capacities of a design."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.numerics.interpolation import curve_at

if TYPE_CHECKING:
    from glandwise.case.numbers import RatingRecord


def rated(rating: RatingRecord, v: float) -> float:
    """Rated capacity at a surface speed; NaN where the rules have none.

    Parameters
    ----------
    v : m/s
        Surface speed.
    """
    limit = rating.limit
    if rating.curve.n > 0:
        limit = curve_at(rating.curve, v)
    for i in range(rating.n):
        limit = limit * rating.factors[i]
    return limit
