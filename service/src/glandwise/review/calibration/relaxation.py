"""Relaxation of a compound: how much of its load it loses, and how that shifts with temperature.

The records are shares of a load that are left after times at temperatures. Few rigs tell a dozen branches apart, so that the
house's series keeps its form: found is one factor on all its shares, and the activation energy where specimens at two
temperatures or more tell it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log
from typing import Any, NamedTuple

import numpy as np

from glandwise.contract.quantities import Measured
from glandwise.mechanics.viscoelastic import relaxed_share
from glandwise.patience import rest
from glandwise.review.calibration.estimates import (
    FEW,
    LEAST,
    Joined,
    Joint,
    Prior,
    alike,
    ends_of,
    far_off,
    fit_together,
    prior_of,
    slope_of,
)
from glandwise.review.calibration.found import (
    NO_BELIEF,
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
    posterior_of,
    shown,
    signed,
    told_less,
)
from glandwise.review.calibration.located import OWN
from glandwise.review.calibration.posterior import Marginal, around, belief_of, believed, density
from glandwise.review.calibration.records import Column, Records, Row
from glandwise.review.calibration.wear import TEMPERATURE
from glandwise.rules.advice_model import Beliefs
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


class _Fitted(NamedTuple):
    """Logarithms of factor and activation energy, each with its ends; what is left of the readings; and how it was made."""

    amount: Joined
    energy: Joined | None
    residuals: Any
    how: str


def _least_squares(rows: Sequence[Row], prony: Prony, with_shift: bool, asked: Asked) -> _Fitted:
    specimens = len(grouped(rows, "specimen"))
    joint = _fit(rows, prony, with_shift)
    how = (
        f"robust least squares (soft_l1) over {len(rows)} readings of {specimens} specimens, {percent(asked.cover)} interval by "
        "leaving out one specimen at a time (jackknife, Student's t)"
    )
    energy = None
    if with_shift:
        held = prony.activation_energy
        energy = ends_of(joint, 1, asked.cover, prior_of(held.si, held.si_low, held.si_high), few=specimens < FEW)
    return _Fitted(ends_of(joint, 0, asked.cover, None, few=False), energy, joint.residuals, how)


def _relaxing(rows: Sequence[Row], prony: Prony, energies: Any) -> tuple[Any, Any]:
    """Return what of the load has relaxed at each reading and at its reference time, by activation energy, for a factor of one."""
    points = [(row["temperature"], row[name]) for name in ("time", "reference_time") for row in rows]
    gone = []
    for energy in energies:
        series = series_of(prony, 1.0, float(energy))
        at = {point: 1.0 - relaxed_share(series, *point) for point in set(points)}
        gone.append([at[point] for point in points])
    late, early = np.split(np.array(gone), 2, axis=1)
    return late, early


def _believed(rows: Sequence[Row], prony: Prony, asked: Asked, beliefs: Beliefs) -> _Fitted:
    """Return the posterior of factor and activation energy, with what specimens and readings scatter not known either.

    Readings are normal around the line of their specimen, the logarithms of the factors of specimens around the one looked for; a specimen
    shifts its readings in proportion to what the formula makes of a small change of the factor.
    """
    held = [belief_of(datum) for datum in (
        beliefs.factor.relaxation, prony.activation_energy, beliefs.scatter.relaxation, beliefs.readings.relaxation,
    )]  # fmt: skip
    told = held[1] is not None
    # without a range the activation energy is the house's, and as good as known
    amount, energy, own, noise = (Prior(log(prony.activation_energy.si), 1e-3) if one is None else one for one in held)
    seen = np.array([log(row["load_share"]) for row in rows])
    places = [
        [place for place, row in enumerate(rows) if row.texts["specimen"] == name]
        for (name,) in grouped(rows, "specimen")
    ]
    most = log(_MOST / sum(prony.branches))

    def left(factor: Any, energies: Any) -> tuple[Any, Any]:
        """Return residuals, and their slope over the logarithm of the factor: by factor, energy and reading."""
        late, early = (factor[..., None] * share for share in _relaxing(rows, prony, energies))
        return seen - np.log1p(-late) + np.log1p(-early), -late / (1.0 - late) + early / (1.0 - early)

    def of(a: Any, h: Any, s: Any, r: Any) -> Any:
        rest()
        logs = believed(a, amount) + believed(h, energy) + believed(s, own) + believed(r, noise)
        off, slope = left(np.exp(a[:, :, 0, 0]), np.exp(h[0, :, 0, 0]))
        one, wide = np.exp(-2.0 * r), np.exp(2.0 * s)
        for its_own in places:
            y, J = off[..., its_own], slope[..., its_own]
            yy, yJ, JJ = (np.sum(pair, axis=-1)[..., None, None] for pair in (y * y, y * J, J * J))
            grown = 1.0 + wide * one * JJ  # determinant and inverse of r^2 I + s^2 J J'
            logs = logs - 0.5 * (one * (yy - wide * one * yJ**2 / grown) + np.log(grown)) - len(its_own) * r
        return logs

    low, high = around(amount)
    found = density(
        of, [(low, min(high, most)), around(energy), around(own), around(noise)], (41, 41, 17, 17), coarse=13
    )
    a, h = found.marginal(0, asked.cover), found.marginal(1, asked.cover)

    def joined(one: Marginal, belief: Prior) -> Joined:
        return Joined(one.middle, one.low, one.high, True, one.share(belief))

    how = posterior_of(
        f"{len(rows)} readings of {len(places)} specimen{'s' * (len(places) > 1)}", asked.cover,
        "the range of the activation energy, `calibration.factor.relaxation`, `calibration.scatter.relaxation` and "
        "`calibration.readings.relaxation`, each nine in ten of a log-normal",
    )  # fmt: skip
    residuals = left(np.exp(np.array([a.middle])), [exp(h.middle)])[0][0]
    return _Fitted(joined(a, amount), joined(h, energy) if told else None, residuals, how)


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
    if asked.beliefs is None and specimens < LEAST + shifts:
        for value in (amount, energy):
            value.stays = f"{specimens} of at least {LEAST + shifts} specimens: fewer do not tell how specimens differ"
        return [amount, energy]
    fitted = (
        _least_squares(rows, prony, shifts, asked)
        if asked.beliefs is None
        else _believed(rows, prony, asked, asked.beliefs)
    )
    shifts, how = shifts or asked.beliefs is not None, fitted.how
    ends = fitted.amount
    amount.found, amount.method, amount.own_share = (
        Range(exp(ends.middle), exp(ends.low), exp(ends.high)),
        how,
        ends.own_share,
    )
    amount.x, amount.y = Axis("time under load", "h"), Axis("share of the load that is left", "1")
    amount.points = [
        Point(row.texts["specimen"], row.line, row["time"] / 3600.0, row["load_share"], None, None,
              row["load_share"] / exp(float(left)))
        for row, left in zip(rows, fitted.residuals, strict=True)
    ]  # fmt: skip
    names, means, slopes = _of_specimens(rows, fitted.residuals)
    amount.scatter = float(np.std(means, ddof=1)) if len(means) > 1 else None
    amount.outliers = [
        Outlier(names[place], None, f"its loads lie {100.0 * (exp(means[place]) - 1.0):+.3g} % from the fit")
        for place in far_off(means)
    ]
    if (slope := alike(slopes)) is not None:
        amount.lack_of_fit.append(
            f"it relaxes {'more slowly' if slope > 0.0 else 'faster'} at late times than the form of the series has it; "
            "give a series of your own"
        )
    found_energy = _shift(energy, fitted, prony, asked) if shifts else None
    if not shifts:
        energy.stays = "there are not two temperatures with two specimens each: nothing tells how relaxation shifts"
    if ends.own_share < OWN:
        amount.stays = told_less(ends.own_share)
        if energy.record is not None:
            energy.record, energy.stays = None, "the series is replaced as one, and its shares stay"
    else:
        amount.record = _record(amount, prony, asked, found_energy)
    return [amount, energy]


def _shift(value: Value, fitted: _Fitted, prony: Prony, asked: Asked) -> dict[str, Any] | None:
    """Fill in what the records tell of the activation energy; return it as a sourced value where it is theirs."""
    held = prony.activation_energy
    ends = fitted.energy
    if ends is None:
        value.stays = NO_BELIEF
        return None
    share = value.own_share = ends.own_share
    value.method = fitted.how
    if ends.with_prior and asked.beliefs is None:
        value.method += ", joined with the range of the house as a prior"
    value.found = Range(*(exp(end) / held.si * held.value for end in (ends.middle, ends.low, ends.high)))
    if share < OWN:
        value.stays = told_less(share)
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
