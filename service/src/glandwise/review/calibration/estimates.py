"""Statistics of calibrations: a middle with its interval, robust, with the range of the house where data are few; lives.

Positive numbers are looked at in logarithms, one for each specimen: readings of one specimen are no independent samples. The
sampling model is that specimens scatter log-normally around the value that is looked for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import exp, inf, log, nan, sqrt
from typing import Any, NamedTuple

import numpy as np
import scipy

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
    return Prior(log(value), log_spread(low, high, float(scipy.stats.norm.ppf(0.5 + 0.5 * HOUSE_COVER))))


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

    found = scipy.optimize.least_squares(residuals, [start], loss="soft_l1", f_scale=width)
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
    found = joined(middle, error, n - 1, cover, prior, few=n < FEW)
    return Middle(found.middle, found.low, found.high, scatter, outliers, found.with_prior, found.own_share)


class Joined(NamedTuple):
    """A value with its interval, from records alone or joined with what the house believes."""

    middle: float
    low: float
    high: float
    with_prior: bool
    own_share: float


def joined(middle: float, error: float, freedom: float, cover: float, prior: Prior | None, *, few: bool) -> Joined:
    """Return the interval of a value by Student's t; where there are few, or it is wider than the house's, with the prior."""
    reach = float(scipy.stats.t.ppf(0.5 + 0.5 * cover, freedom)) * error
    normal = float(scipy.stats.norm.ppf(0.5 + 0.5 * cover))
    if prior is None or not (few or reach > prior.spread * normal):
        return Joined(middle, middle - reach, middle + reach, False, 1.0)
    share = prior.spread**2 / (prior.spread**2 + (reach / normal) ** 2)
    low, mid, high = _posterior(middle, error, freedom, prior, cover)
    return Joined(mid, low, high, True, share)


def _posterior(middle: float, error: float, freedom: float, prior: Prior, cover: float) -> tuple[float, float, float]:
    """Return lower end, median and upper end of a t-likelihood times a normal prior, by quadrature."""
    if error <= 0.0:
        return middle, middle, middle
    ends = [prior.middle - 8.0 * prior.spread, prior.middle + 8.0 * prior.spread]
    coarse = np.linspace(min(*ends, middle), max(*ends, middle), 4001)
    fine = middle + error * np.sinh(np.linspace(-12.0, 12.0, 4001))
    grid = np.unique(np.concatenate([coarse, fine[(fine > coarse[0]) & (fine < coarse[-1])]]))
    logs = scipy.stats.t.logpdf((grid - middle) / error, freedom) + scipy.stats.norm.logpdf(
        grid, prior.middle, prior.spread
    )
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
    found = scipy.stats.linregress(a[known], b[known])
    return float(found.slope) if found.pvalue < SURE else None


def slope_of(x: Sequence[float], y: Sequence[float]) -> float | None:
    """Return the slope of the readings of one specimen; ``None`` where they do not differ enough to have one."""
    a, b = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if len(a) < LEAST or not np.isfinite(a).all() or len(np.unique(a)) < 3:
        return None
    return float(scipy.stats.linregress(a, b).slope)


def alike(slopes: Sequence[float]) -> float | None:
    """Return the mean of slopes of specimens where chance would hardly let so many have it; ``None`` where it may well."""
    if len(slopes) < LEAST or float(np.ptp(slopes)) == 0.0:
        return None
    return float(np.mean(slopes)) if float(scipy.stats.ttest_1samp(slopes, 0.0).pvalue) < SURE else None


def centre(numbers: Sequence[float]) -> float:
    """Return the middle of the readings of one specimen, robust where there are enough."""
    x = np.asarray(numbers, dtype=float)
    return _robust(x)[0] if len(x) >= FEW else float(np.mean(x))


def factor_of(residuals: Callable[[float], Any]) -> float:
    """Return the logarithm of a factor with which a formula gives the readings of one specimen, robust from four on."""

    def these(u: Any) -> Any:
        return residuals(float(u[0]))

    first = scipy.optimize.least_squares(these, [0.0], bounds=([-3.0], [3.0]))
    if len(first.fun) < TOLD_APART:
        return float(first.x[0])
    scale = _MAD * float(np.median(np.abs(first.fun - np.median(first.fun))))
    if scale <= 1e-9:
        return float(first.x[0])
    width = _TUNING * scale
    return float(
        scipy.optimize.least_squares(these, first.x, bounds=([-3.0], [3.0]), loss="soft_l1", f_scale=width).x[0]
    )


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
            start = scipy.optimize.least_squares(residuals, start, loss="soft_l1", f_scale=_TUNING * scale).x
            left = residuals(start)
            if len(u) >= FEW:  # the line itself has taken two of them up
                bound = _FAR * scale * sqrt(len(u) / (len(u) - 2.0))
                far = tuple(np.flatnonzero(np.abs(left - np.median(left)) > bound).tolist())
    return Line(float(start[0] * height), float(start[1] * height / size), far)


def _through_medians(u: Any, v: Any) -> tuple[float, float]:
    """Return the line of Theil and Sen, which a wild reading hardly moves, to begin with."""
    found = scipy.stats.theilslopes(v, u)
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

        first = scipy.optimize.least_squares(these, begin, bounds=bounds, x_scale="jac")
        scale = _MAD * float(np.median(np.abs(first.fun - np.median(first.fun))))
        if scale <= 1e-12:
            return first.x
        width = _TUNING * scale
        return scipy.optimize.least_squares(
            these, first.x, bounds=bounds, x_scale="jac", loss="soft_l1", f_scale=width
        ).x

    whole = fit(every, np.asarray(start, dtype=float))
    names = sorted(set(specimens))
    count = len(names)
    freedom = count - len(whole)
    if freedom < 1:
        return Joint(tuple(whole.tolist()), (nan,) * len(whole), freedom, residuals(whole, every))
    without = np.array([fit(every[labels != name], whole) for name in names])
    errors = np.sqrt((count - 1.0) / count * np.sum((without - without.mean(axis=0)) ** 2, axis=0))
    return Joint(tuple(whole.tolist()), tuple(errors.tolist()), freedom, residuals(whole, every))


def ends_of(joint: Joint, place: int, cover: float, prior: Prior | None, *, few: bool) -> Joined:
    """Return one of several values with its interval."""
    return joined(joint.values[place], joint.errors[place], joint.freedom, cover, prior, few=few)


# ------------------------------------------------------------------------------------------------------------------ lives


class Lives(NamedTuple):
    """Weibull distributions of groups of lives, of which some have not ended: one shape, a scale for each group."""

    shape: float
    shape_low: float
    shape_high: float
    scales: tuple[tuple[float, float, float], ...]
    """Scale of each group with its ends."""
    ended: int
    log_likelihood: float
    common_by_chance: float | None
    """Probability that groups of one shape differ as much as these do; ``None`` of a single group."""


class _Group(NamedTuple):
    """Logarithms of lives of a group: of those that have ended, and of all."""

    ended: Any
    every: Any

    def log_scale(self, beta: float) -> float:
        """Return the logarithm of the likeliest scale at a shape, known in closed form."""
        powers = beta * self.every
        top = float(powers.max())
        return (top + log(float(np.sum(np.exp(powers - top)))) - log(len(self.ended))) / beta

    def likelihood(self, beta: float, log_eta: float) -> float:
        """Return the log-likelihood of a shape and a scale."""
        with np.errstate(over="ignore"):
            gone = float(np.sum(np.exp(beta * (self.every - log_eta))))
        return len(self.ended) * (log(beta) - beta * log_eta) + (beta - 1.0) * float(np.sum(self.ended)) - gone

    def best(self, beta: float) -> float:
        """Return the greatest log-likelihood at a shape."""
        return self.likelihood(beta, self.log_scale(beta))


_SHAPES = (-5.0, 6.0)
"""Range of the logarithm of a shape that is looked in."""


def _likeliest(profile: Callable[[float], float]) -> float:
    """Return the logarithm of the likeliest shape."""
    found = scipy.optimize.minimize_scalar(
        lambda u: -profile(exp(u)), bounds=_SHAPES, method="bounded", options={"xatol": 1e-11}
    )
    return float(found.x)


def _reaches(middle: float, profile: Callable[[float], float], bound: float) -> tuple[float, float]:
    """Return where a profile falls to a bound on either side; infinite where it does not within what a float can hold."""

    def over(u: float) -> float:
        return profile(u) - bound

    ends = []
    for side in (-1.0, 1.0):
        u, step = middle, 0.1
        while over(u) > 0.0 and abs(u - middle) < 20.0:
            u += side * step
            step *= 1.5
        ends.append(side * inf if over(u) > 0.0 else float(scipy.optimize.brentq(over, min(u, middle), max(u, middle))))
    return ends[0], ends[1]


def weibull(groups: Sequence[tuple[Sequence[float], Sequence[float]]], cover: float) -> Lives | None:
    """Fit lives that have ended, and those that have not, of groups with one shape.

    ``None`` where no group has two different lives that have ended: they tell no shape. Every group needs one. The scale that belongs to a
    shape is known in closed form, so that one number is looked for; :mod:`scipy.stats` finds the same on censored data, to the
    digits of its simplex. The bound of the profiles is that of the F distribution in place of chi-squared, which with few lives
    would promise too narrow an interval.
    """
    if not any(len(set(ended)) > 1 for ended, _ in groups):
        return None
    unit = log(float(np.median([life for ended, _ in groups for life in ended])))
    held = [_Group(np.log(ended) - unit, np.log([*ended, *survived]) - unit) for ended, survived in groups]
    count = sum(len(group.ended) for group in held)

    def profile(beta: float) -> float:
        return sum(group.best(beta) for group in held)

    middle = _likeliest(profile)
    shape, best = exp(middle), profile(exp(middle))
    bound = best - 0.5 * float(scipy.stats.f.ppf(cover, 1, max(count - len(held), 1)))
    low, high = _reaches(middle, lambda u: profile(exp(u)), bound)
    scales = []
    for group in held:
        others = [other for other in held if other is not group]

        def of_scale(log_eta: float, group: _Group = group, others: list[_Group] = others) -> float:
            def together(beta: float) -> float:
                return group.likelihood(beta, log_eta) + sum(other.best(beta) for other in others)

            return together(exp(_likeliest(together)))

        at = group.log_scale(shape)
        ends = _reaches(at, of_scale, bound)
        scales.append((exp(at + unit), exp(ends[0] + unit), exp(ends[1] + unit)))
    return Lives(shape, exp(low), exp(high), tuple(scales), count, best - count * unit, _common(held))


def _common(groups: Sequence[_Group]) -> float | None:
    """Return the probability that shapes of groups differ so by chance (likelihood ratio)."""
    telling = [group for group in groups if len(np.unique(group.ended)) > 1]
    if len(telling) < 2:
        return None
    apart = sum(group.best(exp(_likeliest(group.best))) for group in telling)
    shape = exp(_likeliest(lambda beta: sum(group.best(beta) for group in telling)))
    together = sum(group.best(shape) for group in telling)
    return float(scipy.stats.chi2.sf(2.0 * (apart - together), len(telling) - 1))


# ------------------------------------------------------------------------------------------------------- between two steps


class Between(NamedTuple):
    """Middle of logarithms of which each is known to lie between two ends."""

    middle: float
    low: float
    high: float
    scatter: float | None
    """Standard deviation from specimen to specimen; ``None`` where it is too small for the steps to tell."""


_SCATTER = (1e-4, 10.0)
"""Least and greatest scatter that is looked for."""


def censored(a: Any, b: Any, middle: Any, s: Any) -> Any:
    """Return the logarithm of the probability that a normal number lies between two ends, of which one may be infinite."""
    u, v = (a - middle) / s, (b - middle) / s
    flip = u > 0.0  # the tail that is small, so that nothing is lost in a difference of ones
    u, v = np.where(flip, -v, u), np.where(flip, -u, v)
    upper, lower = scipy.special.log_ndtr(v), scipy.special.log_ndtr(u)
    return upper + np.log1p(-np.exp(np.minimum(lower - upper, -1e-300)))


def between(ends: Sequence[tuple[float, float]], cover: float | None) -> Between | None:
    """Return the middle of logarithms that are normal, of each known only that it lies between its ends (an infinite one is none).

    By maximum likelihood, its interval by profile likelihood with the bound of the F distribution; no interval without a
    ``cover``. A scatter below that of numbers spread evenly over a step cannot be told, and is not taken as less: the
    likelihood of none at all would promise too narrow an interval. ``None`` where no end bounds the middle from one of its sides.
    """
    a, b = np.array(ends, dtype=float).T
    bounds = np.concatenate([a[np.isfinite(a)], b[np.isfinite(b)]])
    if not np.isfinite(a).any() or not np.isfinite(b).any():
        return None
    steps = (b - a)[np.isfinite(b - a)]
    least = max(_SCATTER[0], float(np.median(steps)) / sqrt(12.0)) if len(steps) else _SCATTER[0]
    scatters = log(least), log(max(_SCATTER[1], 10.0 * least))

    def likelihood(middle: float, s: float) -> float:
        return float(np.sum(censored(a, b, middle, s)))

    def likeliest(middle: float) -> Any:
        return scipy.optimize.minimize_scalar(
            lambda w: -likelihood(middle, exp(w)), bounds=scatters, method="bounded", options={"xatol": 1e-6}
        )

    def profile(middle: float) -> float:
        return -float(likeliest(middle).fun)

    span = float(bounds.min()), float(bounds.max())
    found = scipy.optimize.minimize_scalar(
        lambda m: -profile(m), bounds=span, method="bounded", options={"xatol": 1e-8}
    )
    middle = float(found.x)
    scatter = exp(float(likeliest(middle).x))
    told = scatter if scatter > 1.01 * least else None
    if cover is None:
        return Between(middle, nan, nan, told)
    bound = profile(middle) - 0.5 * float(scipy.stats.f.ppf(cover, 1, len(a) - 1))
    low, high = _reaches(middle, profile, bound)
    return Between(middle, low, high, told)
