"""Statistics of calibrations: a middle with its interval, robust, with the range of the house where data are few; lives.

Positive numbers are looked at in logarithms, one for each specimen: readings of one specimen are no independent samples. The
sampling model is that specimens scatter log-normally around the value that is looked for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import exp, inf, log, nan, sqrt
from typing import Any, NamedTuple

import numpy as np
from scipy import optimize, stats

from glandwise.mechanics.wear_life import log_spread

LEAST = 3
"""Specimens below which nothing is said: of two that happen to agree the interval would be far too narrow."""
FEW = 6
"""Specimens below which none is given less weight than another: among so few an outlier cannot be told."""
TOLD_APART = 4
"""Specimens from which one that stands far off is at least named."""
HOUSE_COVER = 0.9
"""Share of the plausible that a range of the rules stands for: nine in ten."""
_TUNING = 1.5
"""Residual over the scale from which weight falls: at the normal distribution 95 % of the efficiency of a mean is kept."""
_MAD = 1.4826
"""Standard deviation over the median absolute deviation, of a normal distribution."""
_FAR = 3.5
"""Modified z-score from which a specimen is called an outlier (Iglewicz and Hoaglin 1993, from memory)."""
SURE = 0.01
"""Probability of a trend by chance below which it is called one."""


class Prior(NamedTuple):
    """What the house believes of a logarithm: normal, its ends at nine in ten."""

    middle: float
    spread: float


class Middle(NamedTuple):
    """Middle of logarithms, its interval, and how specimens scatter around it."""

    middle: float
    low: float
    high: float
    scatter: float
    """Standard deviation from specimen to specimen, without the outliers."""
    outliers: tuple[int, ...]
    """Places of those that stand far off."""
    with_prior: bool
    own_share: float
    """Share of the precision that the records contribute; 1 without a prior."""


def prior_of(value: float, low: float, high: float) -> Prior | None:
    """Return what a range of the rules says; ``None`` where it has no width."""
    if not 0.0 < low < high:
        return None
    return Prior(log(value), log_spread(low, high, float(stats.norm.ppf(0.5 + 0.5 * HOUSE_COVER))))


def far_off(logs: Sequence[float]) -> tuple[int, ...]:
    """Return the places of numbers that stand far off the others, by their modified z-scores."""
    x = np.asarray(logs)
    if len(x) < TOLD_APART:
        return ()
    away = np.abs(x - np.median(x))
    scale = _MAD * float(np.median(away))
    return tuple(np.flatnonzero(away > _FAR * scale).tolist()) if scale > 0.0 else ()


def _robust(x: Any) -> tuple[float, float]:
    """Return the robust middle of numbers and its standard error."""
    n = len(x)
    start = float(np.median(x))
    scale = _MAD * float(np.median(np.abs(x - start)))
    if scale <= 0.0:  # more than half of them are the same
        return float(np.mean(x)), float(np.std(x, ddof=1)) / sqrt(n)
    width = _TUNING * scale

    def residuals(m: Any) -> Any:
        return x - m[0]

    found = optimize.least_squares(residuals, [start], loss="soft_l1", f_scale=width)
    middle = float(found.x[0])
    root = np.sqrt(1.0 + ((x - middle) / width) ** 2)
    pull, slope = (x - middle) / root, root**-3.0
    # the slopes are uncertain themselves when specimens are few (Huber 1981, ch. 7, from memory)
    wider = 1.0 + float(np.var(slope)) / (n * float(np.mean(slope)) ** 2)
    return middle, float(wider * sqrt(np.sum(pull**2) / (1.0 - 1.0 / n)) / np.sum(slope))


def middle_of(logs: Sequence[float], cover: float, prior: Prior | None = None) -> Middle | None:
    """Return the middle of logarithms of specimens; ``None`` of fewer than three: two hardly tell how specimens differ.

    From ``FEW`` specimens on robust least squares (``soft_l1``), its interval by Student's t and the asymptotic variance of an
    M-estimate; below, mean and t. Where there are few, or the interval is wider than what the house believes, the prior comes
    in: the posterior is the t of the records times the normal of the house.
    """
    x = np.asarray(logs, dtype=float)
    n = len(x)
    if n < LEAST:
        return None
    middle, error = _robust(x) if n >= FEW else (float(np.mean(x)), float(np.std(x, ddof=1)) / sqrt(n))
    outliers = far_off(logs)
    kept = np.delete(x, outliers) if outliers else x
    scatter = float(np.std(kept, ddof=1))
    reach = float(stats.t.ppf(0.5 + 0.5 * cover, n - 1)) * error
    if prior is None or not (n < FEW or reach > prior.spread * float(stats.norm.ppf(0.5 + 0.5 * cover))):
        return Middle(middle, middle - reach, middle + reach, scatter, outliers, False, 1.0)
    own_spread = reach / float(stats.norm.ppf(0.5 + 0.5 * cover))
    share = prior.spread**2 / (prior.spread**2 + own_spread**2)
    low, mid, high = _posterior(middle, error, n - 1, prior, cover)
    return Middle(mid, low, high, scatter, outliers, True, share)


def _posterior(middle: float, error: float, freedom: float, prior: Prior, cover: float) -> tuple[float, float, float]:
    """Return lower end, median and upper end of a t-likelihood times a normal prior, by quadrature."""
    if error <= 0.0:
        return middle, middle, middle
    ends = [prior.middle - 8.0 * prior.spread, prior.middle + 8.0 * prior.spread]
    coarse = np.linspace(min(*ends, middle), max(*ends, middle), 4001)
    fine = middle + error * np.sinh(np.linspace(-12.0, 12.0, 4001))
    grid = np.unique(np.concatenate([coarse, fine[(fine > coarse[0]) & (fine < coarse[-1])]]))
    logs = stats.t.logpdf((grid - middle) / error, freedom) + stats.norm.logpdf(grid, prior.middle, prior.spread)
    density = np.exp(logs - logs.max())
    steps = 0.5 * (density[1:] + density[:-1]) * np.diff(grid)
    share = np.concatenate([[0.0], np.cumsum(steps)]) / steps.sum()
    low, mid, high = np.interp([0.5 - 0.5 * cover, 0.5, 0.5 + 0.5 * cover], share, grid)
    return float(low), float(mid), float(high)


def trend(x: Sequence[float], y: Sequence[float]) -> float | None:
    """Return the slope of numbers over others where chance would hardly make one so steep; ``None`` where it may well."""
    a, b = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    known = np.isfinite(a) & np.isfinite(b)
    if known.sum() < FEW or len(np.unique(a[known])) < 3:
        return None
    found = stats.linregress(a[known], b[known])
    return float(found.slope) if found.pvalue < SURE else None


class Line(NamedTuple):
    """Readings of a specimen: what it had at the start, and its slope."""

    offset: float
    slope: float
    far: tuple[int, ...]
    """Places of readings that stand far off the line."""


def line_of(x: Sequence[float], y: Sequence[float]) -> Line:
    """Fit the readings of a specimen, robust from four on; two or fewer go through the origin, for nothing tells an offset."""
    a, b = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if len(np.unique(a)) < 3:
        return Line(0.0, float(np.sum(a * b) / np.sum(a * a)), ())
    size, height = float(np.max(np.abs(a))), float(np.max(np.abs(b))) or 1.0
    u, v = a / size, b / height

    def residuals(line: Any) -> Any:
        return v - line[0] - line[1] * u

    start = np.polynomial.polynomial.polyfit(u, v, 1)
    far: tuple[int, ...] = ()
    if len(u) >= TOLD_APART:
        start = np.asarray(_through_medians(u, v))
        left = residuals(start)
        scale = _MAD * float(np.median(np.abs(left - np.median(left))))
        if scale > 1e-9:
            start = optimize.least_squares(residuals, start, loss="soft_l1", f_scale=_TUNING * scale).x
            left = residuals(start)
            if len(u) >= FEW:  # the line itself has taken two of them up
                bound = _FAR * scale * sqrt(len(u) / (len(u) - 2.0))
                far = tuple(np.flatnonzero(np.abs(left - np.median(left)) > bound).tolist())
    return Line(float(start[0] * height), float(start[1] * height / size), far)


def _through_medians(u: Any, v: Any) -> tuple[float, float]:
    """Return the line of Theil and Sen, which a wild reading hardly moves, to begin with."""
    found = stats.theilslopes(v, u)
    return float(found.intercept), float(found.slope)


# ------------------------------------------------------------------------------------------------ several values together


class Joint(NamedTuple):
    """Values found together, with their standard errors and the freedom that these have."""

    values: tuple[float, ...]
    errors: tuple[float, ...]
    freedom: int
    residuals: Any


def fit_together(
    residuals: Callable[[Any, Any], Any], start: Sequence[float], bounds: tuple[Sequence[float], Sequence[float]],
    specimens: Sequence[str],
) -> Joint:  # fmt: skip
    """Fit several values to readings of several specimens by robust least squares, with errors by leaving specimens out.

    ``residuals`` takes the values and the places of readings. The errors are those of the jackknife over whole specimens
    (Tukey 1958), which asks for no model of how the readings of one hang together.
    """
    labels = np.asarray(specimens)
    every = np.arange(len(labels))

    def fit(places: Any, begin: Any) -> Any:
        def these(values: Any) -> Any:
            return residuals(values, places)

        first = optimize.least_squares(these, begin, bounds=bounds, x_scale="jac")
        scale = _MAD * float(np.median(np.abs(first.fun - np.median(first.fun))))
        if scale <= 1e-12:
            return first.x
        width = _TUNING * scale
        return optimize.least_squares(these, first.x, bounds=bounds, x_scale="jac", loss="soft_l1", f_scale=width).x

    whole = fit(every, np.asarray(start, dtype=float))
    names = sorted(set(specimens))
    count = len(names)
    freedom = count - len(whole)
    if freedom < 1:
        return Joint(tuple(whole.tolist()), (nan,) * len(whole), freedom, residuals(whole, every))
    without = np.array([fit(every[labels != name], whole) for name in names])
    errors = np.sqrt((count - 1.0) / count * np.sum((without - without.mean(axis=0)) ** 2, axis=0))
    return Joint(tuple(whole.tolist()), tuple(errors.tolist()), freedom, residuals(whole, every))


# ------------------------------------------------------------------------------------------------------------------ lives


class Lives(NamedTuple):
    """Weibull distribution of lives of which some have not ended, with intervals by profile likelihood."""

    shape: float
    shape_low: float
    shape_high: float
    scale: float
    scale_low: float
    scale_high: float
    ended: int
    log_likelihood: float


def _profile_of_shape(beta: float, ended: Any, every: Any) -> float:
    """Return the greatest log-likelihood at a shape: the scale that belongs to it is known in closed form."""
    r = len(ended)
    powers = beta * np.log(every)
    top = float(powers.max())
    total = top + log(float(np.sum(np.exp(powers - top))))
    return r * (log(beta) - total + log(r) - 1.0) + (beta - 1.0) * float(np.sum(np.log(ended)))


def _scale_of(beta: float, ended: Any, every: Any) -> float:
    powers = beta * np.log(every)
    top = float(powers.max())
    return exp((top + log(float(np.sum(np.exp(powers - top)))) - log(len(ended))) / beta)


def _profile_of_scale(eta: float, ended: Any, every: Any) -> float:
    """Return the greatest log-likelihood at a scale, over all shapes."""
    r, x, y = len(ended), np.log(ended / eta), np.log(every / eta)

    def likelihood(log_beta: float) -> float:
        beta = exp(log_beta)
        with np.errstate(over="ignore"):
            return -(r * (log_beta - log(eta)) + (beta - 1.0) * float(np.sum(x)) - float(np.sum(np.exp(beta * y))))

    found = optimize.minimize_scalar(likelihood, bounds=(-5.0, 6.0), method="bounded", options={"xatol": 1e-10})
    return -float(found.fun)


def weibull(ended: Sequence[float], survived: Sequence[float], cover: float) -> Lives | None:
    """Fit lives and survivors; ``None`` with fewer than two lives, or all of them the same: they tell no shape.

    The scale that belongs to a shape is known in closed form, so that one number is looked for; :mod:`scipy.stats` finds the
    same on censored data, to the digits of its simplex. The bound of the profile is that of the F distribution in place of
    chi-squared, which with few lives would promise too narrow an interval.
    """
    if len(ended) < 2 or len(set(ended)) < 2:
        return None
    unit = float(np.median(ended))
    x, c = np.asarray(ended, dtype=float) / unit, np.asarray(survived, dtype=float) / unit
    every = np.concatenate([x, c])
    found = optimize.minimize_scalar(
        lambda u: -_profile_of_shape(exp(u), x, every), bounds=(-5.0, 6.0), method="bounded", options={"xatol": 1e-11}
    )
    shape = exp(float(found.x))
    scale = _scale_of(shape, x, every)
    best = _profile_of_shape(shape, x, every)
    bound = best - 0.5 * float(stats.f.ppf(cover, 1, max(len(ended) - 1, 1)))

    def ends(middle: float, profile: Callable[[float], float]) -> tuple[float, float]:
        def over(u: float) -> float:
            return profile(exp(u)) - bound

        low = high = log(middle)
        step = 0.1
        while over(low) > 0.0 and low > log(middle) - 20.0:
            low -= step
            step *= 1.5
        step = 0.1
        while over(high) > 0.0 and high < log(middle) + 20.0:
            high += step
            step *= 1.5
        lower = 0.0 if over(low) > 0.0 else exp(optimize.brentq(over, low, log(middle)))
        upper = inf if over(high) > 0.0 else exp(optimize.brentq(over, log(middle), high))
        return lower, upper

    shape_low, shape_high = ends(float(shape), lambda b: _profile_of_shape(b, x, every))
    scale_low, scale_high = ends(float(scale), lambda e: _profile_of_scale(e, x, every))
    likelihood = best - len(ended) * log(unit)
    return Lives(
        float(shape),
        shape_low,
        shape_high,
        float(scale) * unit,
        scale_low * unit,
        scale_high * unit,
        len(ended),
        likelihood,
    )
