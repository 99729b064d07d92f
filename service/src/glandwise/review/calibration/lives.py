"""Lives of seals in the field, of which some have not ended: Weibull shape and scale.

Seals of a group are on one duty: each group has a scale of its own, and all have one shape. The shape tells how seals of one
kind differ; where the rules have a value for that, it is theirs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import exp, isfinite, log, nan

import scipy

from glandwise.contract.quantities import Measured
from glandwise.review.calibration.estimates import HOUSE_COVER, Lives, prior_of, weibull
from glandwise.review.calibration.found import (
    Asked,
    Axis,
    Kind,
    Point,
    Range,
    Value,
    datum,
    grouped,
    house_range,
    percent,
    posterior_of,
    told_less,
)
from glandwise.review.calibration.located import OWN
from glandwise.review.calibration.posterior import belief_of, lives_believed
from glandwise.review.calibration.records import Column, Records, Row
from glandwise.rules.model import RuleSetData

ENDED, SURVIVED = "ended", "survived"
_TAIL = 0.5 * (1.0 - HOUSE_COVER)
_HOUR = 3600.0


def columns() -> Mapping[str, Column]:
    """Return the columns of records of lives."""
    return {
        "specimen": Column("label of the seal; one row each"),
        "group": Column("seals on one duty have the same; one group where it is not there", needed=False),
        "life": Column("time in service", measured=Measured("time", "positive", 1.0, 1e10)),
        "state": Column("whether the life has ended by then, or the seal still lived", words=(ENDED, SURVIVED)),
    }


def _once(records: Records) -> None:
    seen: set[str] = set()
    for row in records.taken():
        if row.texts["specimen"] in seen:
            records.refuse(row, "specimen", "the seal has a row already", "one row for each seal")
        seen.add(row.texts["specimen"])


def ratio_of(shape: float) -> float:
    """Return the ratio of the ends of life between which nine in ten lie, by a Weibull shape."""
    return exp(log(log(_TAIL) / log(1.0 - _TAIL)) / shape)


def fit(records: Records, rules: RuleSetData, asked: Asked) -> list[Value]:
    """Return shape and scales of lives, and the scatter of seals where the rules have it."""
    _once(records)
    rows = records.taken()
    groups = grouped(rows, "group")
    lives = {
        name: (
            [row["life"] for row in own if row.texts["state"] == ENDED],
            [row["life"] for row in own if row.texts["state"] == SURVIVED],
        )
        for (name,), own in groups.items()
    }
    ended = sum(len(one) for one, _ in lives.values())
    how = (
        f"Weibull distribution, {ended} lives that have ended and {len(rows) - ended} that have not (right-censored), "
        f"{percent(asked.cover)} interval by profile likelihood"
    )
    no_rule = "no rule value takes it"
    shape = Value((), "Weibull shape of the lives", "1", None, None, None, len(rows), len(rows), how, no_rule)
    telling = [pair for pair in lives.values() if pair[0]]
    own: float | None = None
    if asked.beliefs is None:
        found = weibull(telling, asked.cover) if rows else None
    else:
        found, own = _believed(telling, rules, asked)
        how = posterior_of(
            f"a Weibull distribution, {ended} lives that have ended and {len(rows) - ended} that have not (right-censored)", asked.cover,
            "the range of `running.wear.seal_scatter`, nine in ten of a log-normal, and nothing of the scales",
        )  # fmt: skip
        shape.method = how
        shape.stays = shape.stays if found is not None else "no life has ended: nothing bounds a scale"
        if found is None:
            return [shape]
    if found is None:
        shape.stays = "fewer than two different lives of one group have ended: they tell no shape"
        return [shape]
    _fill(shape, (found.shape, found.shape_low, found.shape_high), 1.0)
    if found.common_by_chance is not None and found.common_by_chance < 0.01:
        shape.lack_of_fit.append("the groups do not have one shape; give each by itself")
    values = [shape]
    with_lives = [name for name, pair in lives.items() if pair[0]]
    for name, scale in zip(with_lives, found.scales, strict=True):
        title = f"Weibull scale of the lives of {name}" if name else "Weibull scale of the lives"
        seals = len(groups[name,])
        value = Value((), title, "h", None, None, None, seals, seals, how, no_rule)
        _fill(value, scale, _HOUR)
        if value.found is not None:
            value.x, value.y = (
                Axis("share that has ended", "1"),
                Axis(title.replace("Weibull scale of the lives", "Lives"), "h"),
            )
            value.points = _points(groups[name,], value.found.value, found.shape)
        values.append(value)
    values += _scatter(found, rules, asked, how, len(rows), own)
    return values


def _believed(
    telling: Sequence[tuple[Sequence[float], Sequence[float]]], rules: RuleSetData, asked: Asked
) -> tuple[Lives | None, float | None]:
    """Return the posterior of lives, and the share of its shape that is the records'; nothing of lives that all go on."""
    belief = belief_of(rules.running.wear.seal_scatter)
    if not telling or belief is None:
        return None, None
    found = lives_believed(telling, asked.cover, belief, log(ratio_of(1.0)))
    chance = weibull(telling, asked.cover)
    lives = Lives(
        *found.shape[:3], tuple((exp(scale.middle), exp(scale.low), exp(scale.high)) for scale in found.scales),
        sum(len(ended) for ended, _ in telling), nan, None if chance is None else chance.common_by_chance,
    )  # fmt: skip
    return lives, found.spread.share(belief)


def _points(rows: Sequence[Row], scale: float, shape: float) -> list[Point]:
    """Return the seals of a group: those that have ended at their median rank, those between them moved up (Johnson's ranks)."""
    rank, points = 0.0, []
    ordered = sorted(rows, key=lambda row: (row["life"], row.texts["state"]))
    n = len(ordered)
    for place, row in enumerate(ordered):
        life = row["life"] / _HOUR
        if row.texts["state"] == SURVIVED:
            points.append(Point(row.texts["specimen"], row.line, None, None, life, None, scale))
            continue
        rank += (n + 1.0 - rank) / (n - place + 1.0)
        share = (rank - 0.3) / (n + 0.4)  # median rank, Benard's approximation (from memory)
        points.append(
            Point(
                row.texts["specimen"], row.line, share, life, None, None, scale * (-log(1.0 - share)) ** (1.0 / shape)
            )
        )
    return points


def _fill(value: Value, ends: tuple[float, float, float], unit: float) -> None:
    """Fill a range in, unless an end of it is nowhere: so few lives bound nothing."""
    if ends[1] > 0.0 and isfinite(ends[2]):
        value.found = Range(*(end / unit for end in ends))
    else:
        value.stays = "too few lives have ended to bound it"


_LEAST_SHAPE = 0.05
"""Shape below which nine in ten lives lie further apart than any number is worth."""


def _scatter(
    found: Lives, rules: RuleSetData, asked: Asked, how: str, seals: int, own_share: float | None
) -> list[Value]:
    """Return how far seals of one kind differ, where the lives tell anything of it."""
    held = rules.running.wear.seal_scatter
    if found.shape_low < _LEAST_SHAPE:
        return []
    value = Value(
        ("running", "wear", "seal_scatter"), "Ratio of the ends of life between which nine in ten seals of one kind lie",
        held.unit, house_range(held), held.evidence,
        Range(ratio_of(found.shape), ratio_of(found.shape_high), ratio_of(found.shape_low)), seals, seals, how,
    )  # fmt: skip
    prior = prior_of(held.si, held.si_low, held.si_high)
    share = 1.0 if own_share is None else own_share
    if prior is not None and own_share is None:
        assert value.found is not None
        reach = float(scipy.stats.norm.ppf(0.5 + 0.5 * asked.cover))
        own = log(value.found.high / value.found.low) / (2.0 * reach)
        share = prior.spread**2 / (prior.spread**2 + own**2)
    value.own_share = share
    if share < OWN:
        value.stays = told_less(share)
        return [value]
    assert value.found is not None
    value.record = datum(value.found, held.unit, asked, f"From the shape: {how}.")
    return [value]


KIND = Kind("Lives in the field", columns, fit)
