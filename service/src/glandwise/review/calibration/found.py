"""What a calibration finds: a value with its interval, beside what the house has; and how a kind of records is fitted."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, NamedTuple

from glandwise import units
from glandwise.review.calibration.estimates import Middle
from glandwise.review.calibration.records import Column, Records, Row
from glandwise.rules.advice_model import Beliefs
from glandwise.rules.model import RuleSetData

DIGITS = 4
"""Significant digits of a number that is written into rules: more than any rig tells."""


class Asked(NamedTuple):
    """How records are looked at."""

    cover: float
    """Share of intervals that hold the true value."""
    day: date
    """Day from which what is found holds."""
    source: str
    """Identifier of the source in the overlay."""
    beliefs: Beliefs | None = None
    """What is believed before the records, where posteriors are asked for; ``None`` for least squares."""


class Outlier(NamedTuple):
    """A specimen, or a reading of one, that stands far off the others."""

    specimen: str
    line: int | None
    """Of a reading, its line in the table."""
    reason: str


class Range(NamedTuple):
    """A number with its ends, in the unit of the value."""

    value: float
    low: float
    high: float


class Point(NamedTuple):
    """What one specimen, or one reading, says of a value, in the unit of the axis."""

    specimen: str
    line: int | None
    """Of a reading, its line in the table."""
    x: float | None
    """Over which it is drawn; ``None`` where it is drawn over nothing but its place."""
    seen: float | None
    """What the records say; ``None`` where they say only between what it lies."""
    low: float | None
    high: float | None
    """Ends between which it lies, where that is all they say; ``None`` of an open end."""
    fitted: float
    """What the fit has in its place."""


class Axis(NamedTuple):
    """What is drawn: its title and unit."""

    title: str
    unit: str


@dataclass
class Value:
    """A value that records speak of."""

    key: tuple[str, ...]
    """Where it stands in the rules; empty where no rule takes it."""
    title: str
    unit: str
    house: Range | None
    """What the house has, its ends where it states them."""
    house_evidence: str | None
    found: Range | None
    """What the records tell; ``None`` where they tell too little."""
    specimens: int
    readings: int
    method: str
    """How the interval was made, in words."""
    stays: str = ""
    """Why the house's value stays; empty where it is replaced."""
    scatter: float | None = None
    """Standard deviation of the logarithm from specimen to specimen."""
    own_share: float | None = None
    """Share of the precision that the records contribute."""
    outliers: list[Outlier] = field(default_factory=list)
    lack_of_fit: list[str] = field(default_factory=list)
    points: list[Point] = field(default_factory=list)
    """What it rests on, to be drawn; empty where nothing was found."""
    x: Axis | None = None
    """Over which the points are drawn; ``None`` where only their order counts."""
    y: Axis | None = None
    """What the points are; ``None`` where there are none."""
    record: dict[str, Any] | None = None
    """The sourced value as it is written into the overlay; ``None`` where the house's stays."""


@dataclass(frozen=True)
class Kind:
    """A kind of records: its columns and its fit."""

    title: str
    columns: Callable[[], Mapping[str, Column]]
    fit: Callable[[Records, RuleSetData, Asked], list[Value]]


def shown(number: float) -> float:
    """Round a number to what is written into rules."""
    return float(f"{number:.{DIGITS}g}")


def grouped(rows: Sequence[Row], *names: str) -> dict[tuple[str, ...], list[Row]]:
    """Return rows by what stands in some columns of texts, in the order in which it first stands there."""
    found: dict[tuple[str, ...], list[Row]] = {}
    for row in rows:
        found.setdefault(tuple(row.texts.get(name, "") for name in names), []).append(row)
    return found


def house_range(datum: Any) -> Range:
    """Return what a sourced number of the rules says, in its own unit."""
    low = datum.value if datum.low is None else datum.low
    return Range(datum.value, low, datum.value if datum.high is None else datum.high)


def percent(share: float) -> str:
    """Write a share."""
    return f"{100.0 * share:g} %"


def method_of(middle: Middle, specimens: int, cover: float, robust: bool) -> str:
    """Say how an interval was made."""
    how = "robust least squares (soft_l1)" if robust else "the mean"
    text = f"{how} of the logarithms of {specimens} specimens, {percent(cover)} interval by Student's t"
    if middle.with_prior:
        text += ", joined with the range of the house as a prior (normal in the logarithm, its ends at nine in ten)"
    return text


def told_less(share: float) -> str:
    """Say why a value stays that the records tell less of than the house has already."""
    return f"the records give {percent(round(share, 2))} of the precision, less than what the house has already"


NO_BELIEF = "the house states no range of it: there is no belief to begin with"
"""Why a value stays where a posterior is asked for."""


def posterior_of(what: str, cover: float, beliefs: str) -> str:
    """Say how a posterior was made."""
    return f"posterior of {what}, {percent(cover)} interval by quadrature, from {beliefs}"


def datum(found: Range, unit: str, asked: Asked, note: str) -> dict[str, Any]:
    """Write a number as a sourced value of an overlay."""
    return {
        "value": shown(found.value), "low": min(shown(found.low), shown(found.value)),
        "high": max(shown(found.high), shown(found.value)), "unit": unit, **signed(asked, note),
    }  # fmt: skip


def signed(asked: Asked, note: str) -> dict[str, Any]:
    """Return what a value rests on."""
    return {"source": asked.source, "evidence": "own_test", "valid_from": asked.day, "note": note}


def in_unit(si: float, dimension: str, unit: str) -> float:
    """Return a number of SI in a unit."""
    return float(units.from_si(si, dimension, unit))
