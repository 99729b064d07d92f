"""Limiting PV by step tests: load or speed raised step by step until a specimen fails.

A specimen tells only between what its limit lies: the last step that it held, and the step at which it failed. What the limit is
rated down by with temperature, and how it runs over speed, is taken from the rules: found is one factor on the curve of the house.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import exp, inf, isfinite, log, sqrt

import numpy as np
import scipy

from glandwise.contract.quantities import Measured
from glandwise.review.calibration.estimates import LEAST, SURE, TOLD_APART, Between, between, trend
from glandwise.review.calibration.found import (
    Asked,
    Axis,
    Kind,
    Outlier,
    Point,
    Range,
    Value,
    grouped,
    percent,
    posterior_of,
    shown,
    signed,
    told_less,
)
from glandwise.review.calibration.located import OWN
from glandwise.review.calibration.posterior import belief_of, between_believed
from glandwise.review.calibration.records import Column, Records, Row
from glandwise.review.calibration.wear import TEMPERATURE
from glandwise.rules.model import Compound, Curve, RuleSetData

HELD, FAILED = "held", "failed"


def columns() -> Mapping[str, Column]:
    """Return the columns of records of step tests."""
    return {
        "specimen": Column("label of the specimen; its steps stand in the order in which they were run"),
        "compound": Column("name of the compound", names="compounds", what="compound"),
        "medium": Column("what was around the contact; the rules have the limit of a dry one", words=("dry",)),
        "contact_pressure": Column("of the step, mean", measured=Measured("stress", "positive", 1e3, 1e9)),
        "surface_speed": Column("of the step", measured=Measured("surface_speed", "positive", 1e-4, 100.0)),
        "temperature": Column("of the specimen beside the contact, at the step", measured=TEMPERATURE),
        "state": Column("whether the specimen held the step or failed at it", words=(HELD, FAILED)),
    }


def _at(curve: Curve, x: float) -> float:
    return float(np.interp(x, curve.array_x, curve.array_y))


def factor(row: Row, compound: Compound) -> float:
    """Return pressure times speed of a step over what the rules allow at its speed and temperature."""
    allowed = _at(compound.limiting_pv, row["surface_speed"]) * _at(compound.pv_derating, row["temperature"])
    return row["contact_pressure"] * row["surface_speed"] / allowed


def _in_order(records: Records, rules: RuleSetData) -> None:
    """Refuse what no step test can give: another compound within a specimen, a step after the failure, a failure below what was held."""
    first: dict[str, Row] = {}
    over: set[str] = set()
    most: dict[str, float] = {}
    for row in records.taken():
        name = row.texts["specimen"]
        held = first.setdefault(name, row)
        if row.texts["compound"] != held.texts["compound"]:
            records.refuse(
                row, "compound", "another one than in the first row of this specimen", "one for all its rows"
            )
            continue
        if name in over:
            records.refuse(row, "state", "a step after the specimen has failed", "the failure as its last step")
            continue
        x = factor(row, rules.compounds[row.texts["compound"]])
        if row.texts["state"] == HELD:
            most[name] = max(most.get(name, 0.0), x)
        elif x <= most.get(name, 0.0):
            records.refuse(
                row, "contact_pressure", "a failure at no more than a step that was held",
                "more pressure times speed, by what temperature takes off, than at every step before",
            )  # fmt: skip
        else:
            over.add(name)


def _ends(rows: list[Row], compound: Compound) -> tuple[float, float]:
    """Return between which logarithms of the factor a specimen fails."""
    held = [log(factor(row, compound)) for row in rows if row.texts["state"] == HELD]
    failed = [log(factor(row, compound)) for row in rows if row.texts["state"] == FAILED]
    return max(held, default=-inf), min(failed, default=inf)


def fit(records: Records, rules: RuleSetData, asked: Asked) -> list[Value]:
    """Return the limiting PV of every compound that the records speak of."""
    _in_order(records, rules)
    values = []
    for (name,), rows in grouped(records.taken(), "compound").items():
        compound = rules.compounds[name]
        specimens = grouped(rows, "specimen")
        ends = {specimen: _ends(own, compound) for (specimen,), own in specimens.items()}
        values.append(_value(name, compound.limiting_pv, ends, rows, asked))
    return values


def _value(name: str, curve: Curve, ends: Mapping[str, tuple[float, float]], rows: list[Row], asked: Asked) -> Value:
    flat = min(curve.y) == max(curve.y)
    scale, unit = (curve.y[0], curve.y_unit) if flat else (1.0, "1")
    what = "dry, at room temperature" if flat else "factor on the house's over speed"
    value = Value(
        ("compounds", name, "limiting_pv"), f"Limiting PV of {name}, {what}", unit, Range(scale, scale, scale),
        curve.evidence, None, len(ends), len(rows), "not estimated",
    )  # fmt: skip
    found: Between | None = None
    failed = sum(isfinite(high) for _, high in ends.values())
    held = sum(isfinite(low) for low, _ in ends.values())
    if asked.beliefs is not None:
        found, value.method, value.own_share = _believed(ends, asked)
    elif len(ends) < LEAST:
        value.stays = f"{len(ends)} of at least {LEAST} specimens: fewer do not tell how specimens differ"
    elif not failed:
        value.stays = "no specimen has failed: the records say only that the limit lies above"
    elif not held:
        value.stays = "no specimen has held a step: the records say only that the limit lies below"
    if asked.beliefs is None and not value.stays:
        found = between(list(ends.values()), asked.cover)
    if found is None or not isfinite(found.high - found.low):
        value.stays = value.stays or "the steps do not bound the limit on both sides"
        return value
    if asked.beliefs is None:
        value.own_share = 1.0
        value.method = (
            f"normal distribution of the logarithms of the limits of {len(ends)} specimens, of each known only that it lies between the "
            f"last step held and the step failed ({len(ends) - failed} have not failed), {percent(asked.cover)} "
            "interval by profile likelihood"
        )
    value.found = Range(*(scale * exp(end) for end in (found.middle, found.low, found.high)))
    value.scatter = found.scatter
    value.y = Axis(value.title, unit)
    for name, pair in ends.items():
        low, high = (scale * exp(end) if isfinite(end) else None for end in pair)
        value.points.append(Point(name, None, None, None, low, high, value.found.value))
    value.outliers = _far(ends)
    value.lack_of_fit = _lack_of_fit(ends, rows)
    if value.own_share is not None and value.own_share < OWN:
        value.stays = told_less(value.own_share)
        return value
    low, high = (shown(end) for end in value.found[1:])
    note = f"Found {shown(value.found.value)} {unit} ({low} to {high}): {value.method}."
    value.record = {
        "x": list(curve.x), "y": [shown(exp(found.middle) * y) for y in curve.y], "x_unit": curve.x_unit,
        "y_unit": curve.y_unit, **signed(asked, note),
    }  # fmt: skip
    return value


def _believed(ends: Mapping[str, tuple[float, float]], asked: Asked) -> tuple[Between, str, float]:
    """Return the posterior of the factor, how it was made, and the share of it that is the records'."""
    assert asked.beliefs is not None
    belief, scatter = belief_of(asked.beliefs.factor.limiting_pv), belief_of(asked.beliefs.scatter.pv_steps)
    assert belief is not None
    assert scatter is not None
    middle, spread = between_believed(list(ends.values()), asked.cover, belief, scatter)
    method = posterior_of(
        f"the middle of normal logarithms of the limits of {len(ends)} specimen{'s' * (len(ends) > 1)}, of each known only between "
        "what it lies", asked.cover,
        "`calibration.factor.limiting_pv` and `calibration.scatter.pv_steps`, each nine in ten of a log-normal",
    )  # fmt: skip
    return Between(middle.middle, middle.low, middle.high, spread), method, middle.share(belief)


def _far(ends: Mapping[str, tuple[float, float]]) -> list[Outlier]:
    """Name specimens that lie further off all the others than chance makes in one table of a hundred."""
    names, found = list(ends), []
    n = len(names)
    widths = [high - low for low, high in ends.values() if isfinite(high - low)]
    if n < TOLD_APART or not widths:
        return []
    far = float(scipy.stats.t.ppf(1.0 - 0.5 * SURE / n, n - 2)) * sqrt(n / (n - 1.0))
    step = float(np.median(widths))
    for name, (low, high) in ends.items():
        rest = between([ends[other] for other in names if other != name], None)
        if rest is None:
            continue
        away = max(low - rest.middle, rest.middle - high, 0.0)
        if away > far * max(rest.scatter or 0.0, 0.5 * step):
            side = "above" if low > rest.middle else "below"
            found.append(
                Outlier(
                    name, None, f"its limit lies by a factor of {exp(away):.3g} or more {side} the middle of all others"
                )
            )
    return found


def _lack_of_fit(ends: Mapping[str, tuple[float, float]], rows: list[Row]) -> list[str]:
    """Say along what the limits run that the rules have taken off. A step heats itself: temperature goes along with the limit."""
    last = {row.texts["specimen"]: row for row in rows}
    known = [(last[name], 0.5 * (low + high)) for name, (low, high) in ends.items() if isfinite(high - low)]
    slope = trend([log(row["surface_speed"]) for row, _ in known], [middle for _, middle in known])
    if slope is None:
        return []
    return [
        f"it changes with the surface speed, about as its power {slope:.2g}, beyond what the curve of the house has; give the records "
        "of one range by themselves"
    ]


KIND = Kind("PV step tests", columns, fit)
