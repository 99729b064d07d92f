"""Tolerances: worst-case corners, seeded samples, sensitivities. Any number of inputs, any model on arrays."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import product
from typing import NamedTuple, TypeAlias

import numpy as np

from glandwise.json_values import JsonObject
from glandwise.questions.arrays import Floats, Numbers
from glandwise.units import UnitSystem

Limits = Mapping[str, tuple[float, float]]
"""Lower and upper value of each input with a tolerance."""

Inputs: TypeAlias = Mapping[str, float | Floats]
"""Numbers that a model takes, one of each or a column of as many."""
Sensitivity: TypeAlias = dict[str, str | float]
"""What an input with a tolerance does: its name, exponent and swing."""

STEP = 1e-4
"""Relative step of a sensitivity."""


def corners(nominal: Mapping[str, float], limits: Limits) -> Inputs:
    """Return every combination of extreme and nominal inputs, as arrays; inputs without a tolerance stay nominal.

    The nominal ones are among them for loads that have their crest within the tolerances.
    """
    names = list(limits)
    levels = (dict.fromkeys((limits[name][0], nominal[name], limits[name][1])) for name in names)
    grid = np.array(list(product(*levels))) if names else np.zeros((1, 0))
    return {**nominal, **{name: grid[:, index] for index, name in enumerate(names)}}


def samples(nominal: Mapping[str, float], limits: Limits, count: int, seed: int, distribution: str) -> Inputs:
    """Return random inputs; ``normal`` takes each tolerance as three standard deviations and cuts off there."""
    generator = np.random.default_rng(seed)
    drawn: dict[str, Floats] = {}
    for name, (low, high) in limits.items():
        middle = nominal[name]
        if distribution == "uniform":
            drawn[name] = generator.uniform(low, high, count)
        else:
            deviate = np.clip(generator.standard_normal(count), -3.0, 3.0) / 3.0
            drawn[name] = middle + np.where(deviate < 0.0, (middle - low) * deviate, (high - middle) * deviate)
    return {**nominal, **drawn}


def sensitivities(model: Callable[[Inputs], float], nominal: Mapping[str, float], limits: Limits) -> list[Sensitivity]:
    """Return exponent and swing of a model by input, by falling swing; inputs without finite answers are left out."""
    base = float(model(nominal))
    rows: list[tuple[float, Sensitivity]] = []
    for name, (low, high) in limits.items():
        middle = nominal[name]
        points = [middle * (1.0 + STEP), middle * (1.0 - STEP), high, low]
        up, down, top, bottom = (float(model({**nominal, name: value})) for value in points)
        if not (base > 0.0 and np.isfinite([up, down, top, bottom]).all()):
            continue
        exponent, swing = (up - down) / (2.0 * STEP * base), (top - bottom) / base
        rows.append((abs(swing), {"input": name, "exponent": float(f"{exponent:.6g}"), "swing": float(f"{swing:.6g}")}))
    return [row for _, row in sorted(rows, key=lambda item: -item[0])]


class Spread(NamedTuple):
    """A quantity at the ends of its tolerances, SI; NaN where the model does not reach."""

    minimum: float
    nominal: float
    maximum: float
    percentile_5: float
    percentile_95: float


def spread_of(nominal: float, extremes: Numbers, drawn: Numbers) -> Spread:
    """Return the spread of a quantity by its values with nominal, extreme and random inputs."""
    ends = np.atleast_1d(np.asarray(extremes, dtype=float))
    taken = np.atleast_1d(np.asarray(drawn, dtype=float))
    low, high = np.percentile(taken, [5.0, 95.0]) if np.isfinite(taken).all() else (np.nan, np.nan)
    return Spread(float(ends.min()), float(nominal), float(ends.max()), float(low), float(high))


def written(found: Spread, units: UnitSystem, dimension: str) -> JsonObject:
    """Write a spread."""
    return {name: units.optional(dimension, value) for name, value in found._asdict().items()}


def spread(units: UnitSystem, dimension: str, nominal: float, extremes: Numbers, drawn: Numbers) -> JsonObject:
    """Write a quantity at the ends of its tolerances."""
    return written(spread_of(nominal, extremes, drawn), units, dimension)
