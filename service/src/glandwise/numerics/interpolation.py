"""Reading of curves and tables: curves of the rules, tables of what a solver found."""

from __future__ import annotations

import math
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from glandwise.numerics.lives import opaque

Table = NDArray[np.float64]


class CurveRecord(Protocol):
    """A curve of the rules: the first ``n`` points of ``x`` and ``y``."""

    x: Any
    y: Any
    n: int


def _curve_words(curve: CurveRecord, x: float) -> str:
    """Line between the points on either side, as an expression; the end that is held beyond the ends."""
    last = int(curve.n) - 1
    if last < 0 or x != x:
        return "not known"
    if not curve.x[0] < x < curve.x[last]:
        return repr(float(curve.y[0] if x <= curve.x[0] else curve.y[last]))
    i = max(j for j in range(last + 1) if curve.x[j] <= x)
    x0, y0, x1, y1 = (float(part[j]) for j in (i, i + 1) for part in (curve.x, curve.y))
    return f"{y0!r} + ({y1!r} - {y0!r}) * ({{0}} - {x0!r}) / ({x1!r} - {x0!r})"


@opaque(words=_curve_words)
def curve_at(curve: CurveRecord, x: float) -> float:
    """Value of a curve of the rules, linear between its points and held beyond its ends; NaN where ``x`` is.

    A curve without points (``n`` is 0) is not known: NaN.
    """
    if curve.n == 0 or x != x:
        return math.nan
    if not x > curve.x[0]:
        return curve.y[0]  # type: ignore[no-any-return]
    for i in range(1, curve.n):
        if x < curve.x[i]:
            slope = (curve.y[i] - curve.y[i - 1]) / (curve.x[i] - curve.x[i - 1])
            return slope * (x - curve.x[i - 1]) + curve.y[i - 1]  # type: ignore[no-any-return]
    return curve.y[curve.n - 1]  # type: ignore[no-any-return]


def _inside_words(curve: CurveRecord, x: float) -> str:
    last = int(curve.n) - 1
    return _curve_words(curve, x) if last >= 0 and curve.x[0] <= x <= curve.x[last] else "not known beyond its ends"


@opaque(words=_inside_words)
def curve_inside(curve: CurveRecord, x: float) -> float:
    """Value of a curve of the rules, linear between its points; NaN beyond its ends and where ``x`` is."""
    if curve.n > 0 and x >= curve.x[0] and x <= curve.x[curve.n - 1]:
        return curve_at(curve, x)
    return math.nan


EDGE = 1.0 - 1.0e-9
"""A size that arrives through a conversion may miss the edge of its step by rounding: 80 mm stay in 50 to 80."""


def _step_words(curve: CurveRecord, x: float) -> str:
    found = [float(curve.y[i]) for i in range(int(curve.n)) if x * EDGE <= curve.x[i]]
    return repr(found[0]) if found and found[0] == found[0] else "not known beyond its steps"


@opaque(words=_step_words)
def step_at(curve: CurveRecord, x: float) -> float:
    """Value of a table by steps of size, each up to and including its ``x``; NaN beyond the last and in a hole."""
    for i in range(curve.n):
        if x * EDGE <= curve.x[i]:
            return curve.y[i]  # type: ignore[no-any-return]
    return math.nan


def place(x: float, first: float, last: float, count: int, order: int) -> tuple[int, float]:
    """First of the ``order + 1`` points of a uniform axis to be read at ``x``, and the way from it in steps.

    ``x`` is held within the axis; NaN comes back as NaN.
    """
    u = (x - first) / (last - first) * (count - 1.0)
    if u != u:
        return 0, u
    if u <= 0.0:
        u = 0.0
    elif u >= count - 1.0:
        u = count - 1.0
    low = int(u) - order // 2
    if low < 0:
        low = 0
    elif low > count - 1 - order:
        low = count - 1 - order
    return low, u - low


def cubic_weights(t: float) -> tuple[float, float, float, float]:
    """Lagrange weights of four points at ``t``, counted in steps from the first."""
    a, b, c = t - 1.0, t - 2.0, t - 3.0
    return a * b * c / -6.0, t * b * c * 0.5, t * a * c * -0.5, t * a * b / 6.0


def cubic_at(values: Table, low: int, t: float) -> float:
    """Value of a line of numbers between four of its points; see :func:`place`."""
    w0, w1, w2, w3 = cubic_weights(t)
    return float(w0 * values[low] + w1 * values[low + 1] + w2 * values[low + 2] + w3 * values[low + 3])
