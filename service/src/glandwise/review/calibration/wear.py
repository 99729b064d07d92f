"""Wear of specimens on a counterface: the specific wear rate of a compound in a medium.

The slope of depth over pressure times distance (or of mass over load times distance and density) is the specific wear rate
after Archard, as the service itself has it. What it starts with, by running in, is taken off where three readings or more
tell it. Rates of the rules are those on the reference counterface: what shaft, finish and temperature do to wear by the rules is
taken off.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import get_type_hints

from glandwise.contract.quantities import Measured
from glandwise.mechanics.wear import depth_rate
from glandwise.mechanics.wear_life import boundary_wear_rate, finish_factor, temperature_factor
from glandwise.review.calibration.estimates import line_of
from glandwise.review.calibration.found import Asked, Kind, Outlier, Value, grouped
from glandwise.review.calibration.located import located
from glandwise.review.calibration.records import Column, Records, Row
from glandwise.rules.model import Compound, RuleSetData

MEDIA = tuple(item.name for item in fields(get_type_hints(Compound)["wear"]))
"""What the rules know rates of wear by."""
_ONE = ("compound", "medium", "shaft_material")
_ALIKE = ("contact_pressure", "normal_load", "contact_temperature", "roughness")
DISTANCE = Measured("length", "positive", 1e-3, 1e9)
PRESSURE = Measured("stress", "positive", 1e2, 1e9)
LOAD = Measured("force", "positive", 1e-3, 1e6)
TEMPERATURE = Measured("temperature", "any", 1.0, 700.0)


def columns() -> Mapping[str, Column]:
    """Return the columns of records of wear."""
    return {
        "specimen": Column("label of the specimen; the readings of one have the same"),
        "compound": Column("name of the compound", names="compounds", what="compound"),
        "medium": Column("what was around the contact, as the rules know wear by", words=MEDIA),
        "shaft_material": Column("counterface", names="shaft_materials", what="material"),
        "sliding_distance": Column("since the start of the test", measured=DISTANCE),
        "contact_pressure": Column("mean, with `depth`", needed=False, measured=PRESSURE),
        "depth": Column("worn since the start", needed=False, measured=Measured("length", "zero_or_more", 0.0, 0.1)),
        "normal_load": Column("with `mass_loss`", needed=False, measured=LOAD),
        "mass_loss": Column(
            "since the start, in place of `depth`", needed=False, measured=Measured("mass", "zero_or_more", 0.0, 10.0)
        ),
        "contact_temperature": Column("of the contact, where known", needed=False, measured=TEMPERATURE),
        "roughness": Column(
            "Ra of the counterface, where known", needed=False, measured=Measured("roughness", "positive", 1e-9, 1e-4)
        ),
    }


def _of_one_sort(records: Records) -> None:
    """Refuse rows that give not one of depth and mass, each with its load, and rows that do not go with their specimen."""
    first: dict[str, Row] = {}
    for row in records.taken():
        worn = [name for name in ("depth", "mass_loss") if name in row.numbers]
        if len(worn) != 1:
            records.refuse(row, "depth", "not one of depth and mass_loss is given", "exactly one of them")
            continue
        load = "contact_pressure" if worn == ["depth"] else "normal_load"
        if load not in row.numbers:
            records.refuse(row, load, "missing", f"a number beside {worn[0]}")
            continue
        held = first.setdefault(row.texts["specimen"], row)
        for name in _ONE:
            if row.texts[name] != held.texts[name]:
                records.refuse(row, name, "another one than in the first row of this specimen", "one for all its rows")
        for name in (*_ALIKE, "depth", "mass_loss"):
            same = row.numbers.get(name) == held.numbers.get(name)
            if name in ("depth", "mass_loss"):
                same = (name in row.numbers) == (name in held.numbers)
            if not same:
                records.refuse(
                    row, name, "not as in the first row of this specimen", "one test, one load, for all its rows"
                )


def reference_factor(rules: RuleSetData, row: Row) -> float:
    """Return what counterface, finish and temperature make of the rate of the rules."""
    compound, wear = rules.compounds[row.texts["compound"]], rules.running.wear
    f_T = f_R = 1.0
    if "contact_temperature" in row.numbers:
        table = wear.temperature_filled if compound.fillers else wear.temperature_unfilled
        points = [number for pair in zip(table.si_x, table.si_y, strict=True) for number in pair]
        f_T = temperature_factor(row["contact_temperature"], *points)
    if "roughness" in row.numbers:
        f_R = finish_factor(row["roughness"], wear.finish_roughness.si, wear.finish_exponent.si)
    factor = rules.shaft_materials[row.texts["shaft_material"]].wear_factor.si
    return boundary_wear_rate(1.0, f_T, factor, f_R, 1.0)


def _rate(rows: list[Row], rules: RuleSetData, far: list[Outlier]) -> float:
    """Return the rate of one specimen on the reference counterface [1/Pa]."""
    first = rows[0]
    factor = reference_factor(rules, first)
    worn = "depth" if "depth" in first.numbers else "mass_loss"
    load = "contact_pressure" if worn == "depth" else "normal_load"
    # over a distance in place of a speed Archard's law gives a depth, and with a load in place of a pressure a volume
    unit = [depth_rate(factor, row[load], row["sliding_distance"]) for row in rows]
    if worn == "mass_loss":
        unit = [volume * rules.compounds[first.texts["compound"]].density.si for volume in unit]
    line = line_of(unit, [row[worn] for row in rows])
    far += [
        Outlier(first.texts["specimen"], rows[place].line, "this reading stands far off the line of its specimen")
        for place in line.far
    ]
    return line.slope


def fit(records: Records, rules: RuleSetData, asked: Asked) -> list[Value]:
    """Return the specific wear rate of every compound and medium that the records speak of."""
    _of_one_sort(records)
    values = []
    for (name, medium), rows in grouped(records.taken(), "compound", "medium").items():
        rates: dict[str, float] = {}
        loads: dict[str, float] = {}
        warm: dict[str, float] = {}
        far: list[Outlier] = []
        for (specimen,), its_own in grouped(rows, "specimen").items():
            rate = _rate(its_own, rules, far)
            if rate <= 0.0:
                for row in its_own:
                    records.refuse(row, "specimen", "its readings tell no wear", "readings that grow with the distance")
                continue
            rates[specimen] = rate
            loads[specimen] = its_own[0]["contact_pressure"]
            warm[specimen] = its_own[0]["contact_temperature"]
        held = getattr(rules.compounds[name].wear, medium)
        value = located(
            ("compounds", name, "wear", medium), f"Specific wear rate of {name} ({medium})", "specific_wear_rate",
            "mm3/N/m" if held is None else held.unit, held, rates, len(rows), asked,
            {"contact pressure": loads, "contact temperature": warm}, "wear",
        )  # fmt: skip
        value.outliers += far
        values.append(value)
    return values


KIND = Kind("Wear", columns, fit)
