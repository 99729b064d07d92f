"""Posteriors: what the house believes joined with what records say, by quadrature over the few numbers that are not known.

A belief is a range of the rules read as nine in ten of a normal distribution of the logarithm. What is not known are the value, how far
specimens scatter around it and, of relaxation, two numbers more: so few that their whole density is laid out on a grid, with
no chain to be run and nothing random. The density is smooth and falls to nothing at the ends of the grid, where sums over even steps
are as good as exact.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import exp, log
from typing import Any, NamedTuple

import numpy as np
import scipy

from glandwise.mechanics.wear_life import log_spread
from glandwise.review.calibration.estimates import HOUSE_COVER, Middle, Prior, censored, far_off

_DEEP = 18.0
"""Depth below its top to which the logarithm of a density is followed: what lies beyond is a ten-millionth."""
_FAR = 6.0
"""Spreads of a belief to either side that are looked at first."""
_COARSE = 21
"""Values of a number while the density is looked for."""
_ROUNDS = 16
"""Times that the grid is drawn in around the density, at the most."""
_FINE = 2001
"""Values of a number along which its own density is added up."""


def belief_of(datum: Any) -> Prior | None:
    """Return the belief whose nine in ten are the range of a sourced number; ``None`` where it states none."""
    low, high = datum.si_low, datum.si_high
    if not 0.0 < low < high:
        return None
    z = float(scipy.stats.norm.ppf(0.5 + 0.5 * HOUSE_COVER))
    return Prior(0.5 * (log(low) + log(high)), log_spread(low, high, z))


class Marginal(NamedTuple):
    """One number by itself, whatever the others: median, the ends of its interval, and its variance."""

    middle: float
    low: float
    high: float
    variance: float

    def share(self, belief: Prior) -> float:
        """Return the share of the precision that does not come from a belief."""
        return min(max(1.0 - self.variance / belief.spread**2, 0.0), 1.0)


class Density(NamedTuple):
    """A density over a grid of even steps."""

    axes: tuple[Any, ...]
    logs: Any
    """Its logarithm, up to a constant."""

    def marginal(self, place: int, cover: float) -> Marginal:
        """Return one of the numbers by itself."""
        others = tuple(axis for axis in range(len(self.axes)) if axis != place)
        along = scipy.special.logsumexp(self.logs, axis=others)
        x = self.axes[place]
        fine = np.linspace(x[0], x[-1], _FINE)
        return summed(fine, scipy.interpolate.CubicSpline(x, along - along.max())(fine), cover)


def summed(x: Any, logs: Any, cover: float) -> Marginal:
    """Return what the logarithm of a density along even steps says of its number."""
    density = np.exp(logs - logs.max())
    total = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]))])
    low, middle, high = np.interp([0.5 - 0.5 * cover, 0.5, 0.5 + 0.5 * cover], total / total[-1], x)
    mean = float(np.sum(x * density) / density.sum())
    return Marginal(float(middle), float(low), float(high), float(np.sum((x - mean) ** 2 * density) / density.sum()))


def density(
    logs: Callable[..., Any], ends: Sequence[tuple[float, float]], counts: Sequence[int], *, coarse: int = _COARSE
) -> Density:
    """Lay a density with one top out over a grid that is drawn in to where it is anything.

    Numbers that are tied to one another more than nine in ten would want axes of their own; those of a calibration are not.
    ``logs`` takes the numbers as arrays that broadcast, and gives the logarithm of the density up to a constant.
    """
    box = [(float(low), float(high)) for low, high in ends]

    def over(counts: Sequence[int]) -> Density:
        axes = tuple(np.linspace(*end, count) for end, count in zip(box, counts, strict=True))
        found = logs(*np.meshgrid(*axes, indexing="ij", sparse=True))
        return Density(axes, np.where(np.isfinite(found), found, -np.inf))

    for _ in range(_ROUNDS):
        here = over([coarse] * len(box))
        held = here.logs > here.logs.max() - _DEEP
        drawn = []
        for place, axis in enumerate(here.axes):
            any_there = np.flatnonzero(held.any(axis=tuple(other for other in range(len(box)) if other != place)))
            drawn.append((float(axis[max(any_there[0] - 2, 0)]), float(axis[min(any_there[-1] + 2, len(axis) - 1)])))
        closer = any(b - a < 0.8 * (high - low) for (a, b), (low, high) in zip(drawn, box, strict=True))
        box = drawn
        if not closer:
            break
    return over(counts)


def believed(x: Any, belief: Prior) -> Any:
    """Return the logarithm of the density of a belief, up to a constant."""
    return -0.5 * ((x - belief.middle) / belief.spread) ** 2


def around(belief: Prior, *seen: float) -> tuple[float, float]:
    """Return the ends between which a number is looked for: those of a belief, and what was seen."""
    reach = _FAR * belief.spread
    ends = (belief.middle - reach, belief.middle + reach, *seen)
    return min(ends), max(ends)


# ----------------------------------------------------------------------------------------- one number of each specimen


def middle_believed(logs: Sequence[float], cover: float, belief: Prior, scatter: Prior) -> Middle:
    """Return the middle of logarithms of specimens, normal around it, of which and of whose scatter the house believes something."""
    x = np.asarray(logs, dtype=float)
    n = len(x)
    mean, squares = (float(x.mean()), float(np.sum((x - x.mean()) ** 2))) if n else (belief.middle, 0.0)

    def of(m: Any, u: Any) -> Any:
        seen = -n * u - 0.5 * (squares + n * (m - mean) ** 2) * np.exp(-2.0 * u)
        return seen + believed(m, belief) + believed(u, scatter)

    own = 0.5 * log(squares / n) if squares > 0.0 else scatter.middle
    found = density(of, [around(belief, mean), around(scatter, own)], (101, 61))
    value, spread = found.marginal(0, cover), found.marginal(1, cover)
    return Middle(value.middle, value.low, value.high, exp(spread.middle), far_off(logs), True, value.share(belief))


def between_believed(
    ends: Sequence[tuple[float, float]], cover: float, belief: Prior, scatter: Prior
) -> tuple[Marginal, float]:
    """Return the middle of logarithms of which each is known to lie between two ends, and their scatter."""
    a, b = (np.asarray(side, dtype=float)[:, None, None] for side in zip(*ends, strict=True))

    def of(m: Any, u: Any) -> Any:
        return censored(a, b, m, np.exp(u)).sum(axis=0) + believed(m, belief) + believed(u, scatter)

    seen = [end for pair in ends for end in pair if np.isfinite(end)]
    found = density(of, [around(belief, *seen), around(scatter)], (101, 61))
    return found.marginal(0, cover), exp(found.marginal(1, cover).middle)


# ------------------------------------------------------------------------------------------------------------------ lives


class LivesBelieved(NamedTuple):
    """Posterior of lives of groups that share one Weibull shape."""

    shape: Marginal
    spread: Marginal
    """Logarithm of the logarithm of the ratio of the ends between which nine in ten lives lie: it is inverse to the shape."""
    scales: tuple[Marginal, ...]
    """Logarithm of the scale of each group."""


def lives_believed(
    groups: Sequence[tuple[Sequence[float], Sequence[float]]], cover: float, belief: Prior, wide: float
) -> LivesBelieved:
    """Return shape and scales of lives, of which those of ``survived`` have not ended.

    ``belief`` is that of the ratio of the ends of nine in ten lives, ``wide`` the logarithm of that ratio at a shape of one. Of
    scales nothing is believed (even in the logarithm); a scale to the power of minus the shape is then gamma distributed and drops out in closed
    form, so that one number is left.
    """
    unit = log(float(np.median([life for ended, _ in groups for life in ended])))
    held = [(np.log(ended) - unit, np.log([*ended, *survived]) - unit) for ended, survived in groups]
    least = min(1e-3, 0.1 * belief.middle)

    def powers(beta: Any) -> list[Any]:
        """Return the logarithm of the sum of the lives of each group to the power of the shape."""
        return [scipy.special.logsumexp(beta[..., None] * every, axis=-1) for _, every in held]

    def of(v: Any) -> Any:
        beta = wide / v
        logs = believed(v, belief)
        for (ended, _), power in zip(held, powers(beta), strict=True):
            logs = logs + (len(ended) - 1.0) * np.log(beta) + beta * ended.sum() - len(ended) * power
        return logs

    ends = (least, belief.middle + _FAR * belief.spread + wide)
    found = density(of, [ends], (801,), coarse=201)
    (v,) = found.axes
    ratio = found.marginal(0, cover)
    weights = np.exp(found.logs - found.logs.max())
    weights /= weights.sum()
    beta = wide / v
    scales = []
    for (ended, _), power in zip(held, powers(beta), strict=True):

        def below(x: float, power: Any = power, count: int = len(ended)) -> float:
            """Return the probability that the logarithm of the scale lies below a number."""
            many = np.exp(np.minimum(power - beta * x, 700.0))
            return float(np.sum(weights * scipy.special.gammaincc(count, many)))

        scales.append(_quantiles(below, cover, unit))
    shape = Marginal(wide / ratio.middle, wide / ratio.high, wide / ratio.low, float("nan"))
    return LivesBelieved(shape, ratio, tuple(scales))


def _quantiles(below: Callable[[float], float], cover: float, unit: float) -> Marginal:
    def at(share: float) -> float:
        low, high = -1.0, 1.0
        while below(low) > share and low > -600.0:
            low *= 2.0
        while below(high) < share and high < 600.0:
            high *= 2.0
        return float(scipy.optimize.brentq(lambda x: below(x) - share, low, high)) + unit

    return Marginal(at(0.5), at(0.5 - 0.5 * cover), at(0.5 + 0.5 * cover), float("nan"))
