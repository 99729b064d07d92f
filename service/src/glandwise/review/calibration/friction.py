"""Friction of a lip on a shaft: the coefficient of a compound in a medium, from torque at a known load."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from math import exp, log, nan
from typing import get_type_hints

from glandwise.contract.quantities import Measured
from glandwise.mechanics.contact import friction
from glandwise.review.calibration.estimates import alike, centre, slope_of
from glandwise.review.calibration.found import Asked, Kind, Value, grouped
from glandwise.review.calibration.located import located
from glandwise.review.calibration.records import Column, Records, Row
from glandwise.review.calibration.wear import TEMPERATURE
from glandwise.rules.model import Compound, RuleSetData

MEDIA = tuple(item.name for item in fields(get_type_hints(Compound)["friction"]))
"""What the rules know friction by."""


def columns() -> Mapping[str, Column]:
    """Return the columns of records of friction."""
    return {
        "specimen": Column("label of the seal or ring; the readings of one have the same"),
        "compound": Column("name of the compound", names="compounds", what="compound"),
        "medium": Column("regime, as the rules know friction by", words=MEDIA),
        "shaft_diameter": Column("diameter on which it rubs", measured=Measured("length", "positive", 1e-3, 3.0)),
        "line_load": Column(
            "radial load per circumference, measured", measured=Measured("line_load", "positive", 1.0, 1e6)
        ),
        "rotational_speed": Column("of the shaft", measured=Measured("rotational_speed", "positive", 1e-4, 5000.0)),
        "torque": Column("of the lip alone", measured=Measured("torque", "positive", 1e-7, 1e6)),
        "temperature": Column("of the contact, where known", needed=False, measured=TEMPERATURE),
    }


def _of_one_sort(records: Records) -> None:
    first: dict[str, Row] = {}
    for row in records.taken():
        held = first.setdefault(row.texts["specimen"], row)
        for name in ("compound", "medium"):
            if row.texts[name] != held.texts[name]:
                records.refuse(row, name, "another one than in the first row of this specimen", "one for all its rows")


def coefficient(row: Row) -> float:
    """Return the friction coefficient of a reading: its torque over that of a coefficient of one."""
    whole = friction(1.0, row["line_load"], row["shaft_diameter"], row["rotational_speed"])
    return row["torque"] / whole.torque


def fit(records: Records, rules: RuleSetData, asked: Asked) -> list[Value]:
    """Return the friction coefficient of every compound and medium that the records speak of."""
    _of_one_sort(records)
    values = []
    for (name, medium), rows in grouped(records.taken(), "compound", "medium").items():
        found: dict[str, float] = {}
        runs: dict[str, list[float]] = {"speed": [], "temperature": []}
        for (specimen,), own in grouped(rows, "specimen").items():
            logs = [log(coefficient(row)) for row in own]
            found[specimen] = exp(centre(logs))
            for what, x in (
                ("speed", [log(row["rotational_speed"]) for row in own]),
                ("temperature", [row["temperature"] if "temperature" in row.numbers else nan for row in own]),
            ):
                if (slope := slope_of(x, logs)) is not None:
                    runs[what].append(slope)
        held = getattr(rules.compounds[name].friction, medium)
        value = located(
            ("compounds", name, "friction", medium), f"Friction coefficient of {name} ({medium})", "ratio",
            "1" if held is None else held.unit, held, found, len(rows), asked, {}, "friction",
        )  # fmt: skip
        for what, slopes in runs.items():
            if (slope := alike(slopes)) is not None:
                value.lack_of_fit.append(
                    f"it {'rises' if slope > 0.0 else 'falls'} with {what} within the specimens: one coefficient does not "
                    "describe this regime; give the records of one range by themselves"
                )
        values.append(value)
    return values


KIND = Kind("Friction", columns, fit)
