"""Posteriors: what the house believes joined with what records say, by quadrature over the few numbers that are not known.

A belief is a range of the rules read as nine in ten of a normal distribution of the logarithm. What is not known are the value, how far
specimens scatter around it and, of relaxation, two numbers more: so few that their whole density is laid out on a grid, with
no chain to be run and nothing random. The density is smooth and falls to nothing at the ends of the grid, where sums over even steps
are as good as exact.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import exp, inf, isfinite, log
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
"""Times that the grid is drawn in, or out, around the density, at the most."""
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
    """Lay a density with one top out over a grid around that top, as wide as it is anything, within some ends.

    ``logs`` takes the numbers as arrays that broadcast, and gives the logarithm of the density up to a constant.
    """

    def over(box: Any, counts: Sequence[int]) -> Density:
        axes = tuple(
            np.linspace(float(low), float(high), count) for (low, high), count in zip(box, counts, strict=True)
        )
        found = logs(*np.meshgrid(*axes, indexing="ij", sparse=True))
        return Density(axes, np.where(np.isfinite(found), found, -np.inf))

    bounds = np.asarray(ends, dtype=float)
    first = over(bounds, [coarse] * len(bounds))
    place = np.unravel_index(int(np.argmax(first.logs)), first.logs.shape)
    box = _around_top(logs, np.array([axis[k] for axis, k in zip(first.axes, place, strict=True)]), bounds)
    for _ in range(_ROUNDS):
        here = over(box, [coarse] * len(box))
        held = here.logs > here.logs.max() - _DEEP
        drawn = box.copy()
        for axis, (low, high) in enumerate(box):
            there = np.flatnonzero(held.any(axis=tuple(other for other in range(len(box)) if other != axis)))
            step = (high - low) / (coarse - 1.0)
            # where it is something at an end still, further out; else in
            drawn[axis, 0] = low - 0.5 * (high - low) if there[0] == 0 else low + (there[0] - 1) * step
            drawn[axis, 1] = high + 0.5 * (high - low) if there[-1] == coarse - 1 else low + (there[-1] + 1) * step
        drawn = np.clip(drawn, bounds[:, :1], bounds[:, 1:])
        moved = np.abs(drawn - box).max(axis=1) > 0.2 * (box[:, 1] - box[:, 0])
        box = drawn
        if not moved.any():
            break
    return over(box, counts)


def _around_top(logs: Callable[..., Any], start: Any, bounds: Any) -> Any:
    """Return ends around the top of a density by how it is curved there; all of its bounds where that is not to be had."""

    def below(x: Any) -> float:
        if (x < bounds[:, 0]).any() or (x > bounds[:, 1]).any():
            return inf
        value = float(logs(*(np.reshape(one, (1,) * len(x)) for one in x)).item())
        return -value if isfinite(value) else inf

    n, widths = len(start), bounds[:, 1] - bounds[:, 0]
    simplex = np.vstack([start, start + np.diag(np.where(start > bounds.mean(axis=1), -1.0, 1.0) * 0.05 * widths)])
    found = scipy.optimize.minimize(
        below, start, method="Nelder-Mead",
        options={"initial_simplex": simplex, "xatol": 1e-5 * float(widths.min()), "fatol": 1e-4, "maxfev": 600 * n},
    )  # fmt: skip
    top, reach = found.x, np.empty(n)
    for axis in range(n):  # as far as it takes along each axis to fall by a tenth, which finite differences then see
        step = widths[axis] * 0.05
        while step > 1e-9 * widths[axis] and not below(top + step * np.eye(n)[axis]) - found.fun < 0.1:
            step *= 0.5
        reach[axis] = step
    curved = np.empty((n, n))
    for a in range(n):
        for b in range(n):
            u, v = reach[a] * np.eye(n)[a], reach[b] * np.eye(n)[b]
            curved[a, b] = (below(top + u + v) - below(top + u - v) - below(top - u + v) + below(top - u - v)) / (
                4.0 * reach[a] * reach[b]
            )
    if not np.isfinite(curved).all() or (np.linalg.eigvalsh(curved) <= 0.0).any():
        return bounds
    spread = np.sqrt(np.diag(np.linalg.inv(curved)))
    return np.clip(np.stack([top - 7.0 * spread, top + 7.0 * spread], axis=1), bounds[:, :1], bounds[:, 1:])


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
    scales nothing is believed (even in the logarithm); a scale to the power of minus the shape is then gamma distributed and
    drops out in closed form, so that one number is left.
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
