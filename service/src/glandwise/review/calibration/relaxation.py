"""Relaxation of a compound: how much of its load it loses, and how that shifts with temperature.

The records are shares of a load that are left after times at temperatures. Few rigs tell a dozen branches apart, so that the
house's series keeps its form: found is one factor on all its shares, and the activation energy where specimens at two
temperatures or more tell it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log
from typing import Any

import numpy as np

from glandwise.contract.quantities import Measured
from glandwise.mechanics.viscoelastic import relaxed_share
from glandwise.review.calibration.estimates import (
    FEW,
    LEAST,
    Joint,
    alike,
    ends_of,
    far_off,
    fit_together,
    prior_of,
    slope_of,
)
from glandwise.review.calibration.found import (
    Asked,
    Axis,
    Kind,
    Outlier,
    Point,
    Range,
    Value,
    grouped,
    house_range,
    percent,
    shown,
    signed,
)
from glandwise.review.calibration.located import OWN
from glandwise.review.calibration.records import Column, Records, Row
from glandwise.review.calibration.wear import TEMPERATURE
from glandwise.rules.model import Prony, RuleSetData

_MOST = 0.999
"""Share of the modulus that may relax at the most: a series leaves something over."""
_FAINT = 0.02
"""Factor on the shares of the house below which nothing can be said to relax."""


@dataclass
class _Series:
    """A series as the formula of an answer takes it."""

    equilibrium: float
    shares: Sequence[float]
    times: Sequence[float]
    n: int
    reference_temperature: float
    activation_energy: float


def columns() -> Mapping[str, Column]:
    """Return the columns of records of relaxation."""
    time = Measured("time", "positive", 1e-3, 1e10)
    return {
        "specimen": Column("label of the specimen; the readings of one have the same"),
        "compound": Column("name of the compound", names="compounds", what="compound"),
        "temperature": Column("at which it is held", measured=TEMPERATURE),
        "reference_time": Column("after loading, at which the load counts as whole", measured=time),
        "time": Column("after loading", measured=time),
        "load_share": Column("load over that at `reference_time`", measured=Measured("ratio", "positive", 1e-3, 1.2)),
    }


def series_of(prony: Prony, amount: float, energy: float) -> _Series:
    """Return the house's series with a factor on its shares, and an activation energy [J/mol]."""
    shares = tuple(amount * share for share in prony.branches)
    return _Series(1.0 - sum(shares), shares, tuple(prony.times), len(shares), prony.reference_temperature.si, energy)


def share_left(prony: Prony, amount: float, energy: float, row: Row) -> float:
    """Return the share of the load at the reference time that is left."""
    series = series_of(prony, amount, energy)
    return relaxed_share(series, row["temperature"], row["time"]) / relaxed_share(
        series, row["temperature"], row["reference_time"]
    )


def _in_order(records: Records) -> None:
    first: dict[str, Row] = {}
    for row in records.taken():
        held = first.setdefault(row.texts["specimen"], row)
        if row["time"] <= row["reference_time"]:
            records.refuse(row, "time", "not later than reference_time", "more than reference_time")
        elif row.texts["compound"] != held.texts["compound"]:
            records.refuse(
                row, "compound", "another one than in the first row of this specimen", "one for all its rows"
            )
        elif row["temperature"] != held["temperature"]:
            records.refuse(
                row, "temperature", "not as in the first row of this specimen", "one test, one load, for all its rows"
            )


def _warm_apart(rows: Sequence[Row]) -> bool:
    """Tell whether two temperatures or more have two specimens or more each: only then does one left out leave a shift."""
    at: dict[float, set[str]] = {}
    for row in rows:
        at.setdefault(row["temperature"], set()).add(row.texts["specimen"])
    return sum(len(names) >= 2 for names in at.values()) >= 2


def _fit(rows: Sequence[Row], prony: Prony, with_shift: bool) -> Joint:
    own = prony.activation_energy.si
    seen = np.array([log(row["load_share"]) for row in rows])

    def residuals(values: Any, places: Any) -> Any:
        energy = exp(float(values[1])) if with_shift else own
        made = [log(share_left(prony, exp(float(values[0])), energy, rows[place])) for place in places]
        return seen[places] - np.array(made)

    most = log(_MOST / sum(prony.branches))
    low, high, start = [log(_FAINT)], [most], [min(0.0, most - 0.1)]
    if with_shift:
        low, high, start = [*low, log(own) - 3.0], [*high, log(own) + 3.0], [*start, log(own)]
    return fit_together(residuals, start, (low, high), [row.texts["specimen"] for row in rows])


def _of_specimens(rows: Sequence[Row], residuals: Any) -> tuple[list[str], list[float], list[float]]:
    """Return the mean residual of every specimen, and its slope over the logarithm of time."""
    names, means, slopes = [], [], []
    for (name,), own in grouped(rows, "specimen").items():
        left = [float(residuals[place]) for place, row in enumerate(rows) if row.texts["specimen"] == name]
        names.append(name)
        means.append(float(np.mean(left)))
        slope = slope_of([log(row["time"]) for row in own], left)
        if slope is not None:
            slopes.append(slope)
    return names, means, slopes


def fit(records: Records, rules: RuleSetData, asked: Asked) -> list[Value]:
    """Return factor and activation energy of the relaxation of every compound that the records speak of."""
    _in_order(records)
    values = []
    for (name,), rows in grouped(records.taken(), "compound").items():
        values += _of_compound(name, rows, rules.compounds[name].relaxation, asked)
    return values


def _of_compound(name: str, rows: Sequence[Row], prony: Prony, asked: Asked) -> list[Value]:
    specimens = len(grouped(rows, "specimen"))
    amount = Value(
        ("compounds", name, "relaxation"), f"Relaxation of {name}: factor on the shares of the house's series", "1",
        Range(1.0, 1.0, 1.0), prony.evidence, None, specimens, len(rows), "not estimated",
    )  # fmt: skip
    energy = Value(
        ("compounds", name, "relaxation", "activation_energy"), f"Activation energy of the relaxation of {name}",
        prony.activation_energy.unit, house_range(prony.activation_energy), prony.activation_energy.evidence, None, specimens,
        len(rows), "not estimated",
    )  # fmt: skip
    shifts = _warm_apart(rows)
    if specimens < LEAST + shifts:
        for value in (amount, energy):
            value.stays = f"{specimens} of at least {LEAST + shifts} specimens: fewer do not tell how specimens differ"
        return [amount, energy]
    joint = _fit(rows, prony, shifts)
    how = (
        f"robust least squares (soft_l1) over {len(rows)} readings of {specimens} specimens, {percent(asked.cover)} interval by "
        "leaving out one specimen at a time (jackknife, Student's t)"
    )
    ends = ends_of(joint, 0, asked.cover, None, few=False)
    amount.found, amount.method, amount.own_share = Range(exp(ends.middle), exp(ends.low), exp(ends.high)), how, 1.0
    amount.x, amount.y = Axis("time under load", "h"), Axis("share of the load that is left", "1")
    amount.points = [
        Point(row.texts["specimen"], row.line, row["time"] / 3600.0, row["load_share"], None, None,
              row["load_share"] / exp(float(left)))
        for row, left in zip(rows, joint.residuals, strict=True)
    ]  # fmt: skip
    names, means, slopes = _of_specimens(rows, joint.residuals)
    amount.scatter = float(np.std(means, ddof=1))
    amount.outliers = [
        Outlier(names[place], None, f"its loads lie {100.0 * (exp(means[place]) - 1.0):+.3g} % from the fit")
        for place in far_off(means)
    ]
    if (slope := alike(slopes)) is not None:
        amount.lack_of_fit.append(
            f"it relaxes {'more slowly' if slope > 0.0 else 'faster'} at late times than the form of the series has it; "
            "give a series of your own"
        )
    found_energy = _shift(energy, joint, prony, asked, how) if shifts else None
    if not shifts:
        energy.stays = "there are not two temperatures with two specimens each: nothing tells how relaxation shifts"
    amount.record = _record(amount, prony, asked, found_energy)
    return [amount, energy]


def _shift(value: Value, joint: Joint, prony: Prony, asked: Asked, how: str) -> dict[str, Any] | None:
    """Fill in what the records tell of the activation energy; return it as a sourced value where it is theirs."""
    held = prony.activation_energy
    prior = prior_of(held.si, held.si_low, held.si_high)
    ends = ends_of(joint, 1, asked.cover, prior, few=value.specimens < FEW)
    share = value.own_share = ends.own_share
    value.method = how + (", joined with the range of the house as a prior" if ends.with_prior else "")
    value.found = Range(*(exp(end) / held.si * held.value for end in (ends.middle, ends.low, ends.high)))
    if share < OWN:
        value.stays = (
            f"the records give {percent(round(share, 2))} of the precision, less than what the house has already"
        )
        return None
    record = {
        "value": shown(value.found.value), "low": shown(value.found.low), "high": shown(value.found.high), "unit": held.unit,
        **signed(asked, f"{value.method[0].upper()}{value.method[1:]}."),
    }  # fmt: skip
    value.record = record
    return record


def _record(amount: Value, prony: Prony, asked: Asked, energy: dict[str, Any] | None) -> dict[str, Any]:
    """Write the series whole: a sourced value is replaced as one, with what it keeps under its own source."""
    assert amount.found is not None
    factor = amount.found.value

    def kept(datum: Any) -> dict[str, Any]:
        fields = ("value", "low", "high", "unit", "source", "evidence", "valid_from", "note")
        return {name: held for name in fields if (held := getattr(datum, name)) not in (None, "")}

    note = f"The house's series times {shown(factor)} ({shown(amount.found.low)} to {shown(amount.found.high)}): {amount.method}."
    return {
        "ratios": [shown(factor * share) for share in prony.ratios], "times_s": list(prony.times_s),
        "reference_temperature": kept(prony.reference_temperature),
        "activation_energy": energy or kept(prony.activation_energy), **signed(asked, note),
    }  # fmt: skip


KIND = Kind("Relaxation", columns, fit)
