"""Flat cases: a duty and a design in one row, for corpora of past quotes in CSV, Parquet or Arrow.

A column is named by its field; a number's column may carry its unit in brackets (``pressure [psi]``), SI where it does
not. What a row leaves empty is filled in as in a single request. A row that cannot be judged (an unknown name, a shaft of
no size) is refused by itself, with its fault, and stops nothing else.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from glandwise import units
from glandwise.checks import batch
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.contract.duty import Duty, Oscillation, Rotation
from glandwise.mechanics import kinematics
from glandwise.mechanics import numeric as num
from glandwise.rules.model import RuleSetData

NUMBERS: Mapping[str, str] = {
    "shaft_diameter": "length",
    "rotational_speed": "rotational_speed",
    "surface_speed": "surface_speed",
    "oscillation_half_amplitude": "angle",
    "oscillation_frequency": "frequency",
    "pressure": "gauge_pressure",
    "temperature_min": "temperature",
    "temperature": "temperature",
    "temperature_max": "temperature",
    "runout": "length",
    "offset": "length",
    "shaft_hardness": "hardness_hrc",
    "shaft_roughness": "roughness",
    "lip_thickness": "length",
    "lip_length": "length",
    "interference": "length",
    "contact_width": "length",
    "cantilever_v.thickness": "length",
    "cantilever_v.length": "length",
    "cantilever_v.root_angle": "angle",
    "cantilever_v.coverage": "ratio",
    "cantilever_v.deflection": "length",
    "canted_coil.wire_diameter": "length",
    "canted_coil.height": "length",
    "canted_coil.width": "length",
    "canted_coil.pitch": "length",
    "canted_coil.cant_angle": "angle",
    "canted_coil.deflection": "length",
    "garter.wire_diameter": "length",
    "garter.mean_coil_diameter": "length",
    "garter.free_length": "length",
    "garter.initial_tension": "force",
    "garter.active_coils": "ratio",
}
"""Columns of numbers and their dimension."""

CHOICES: Mapping[str, tuple[str, ...]] = {
    "family": ("flexible_lip", "energized_lip"),
    "lubrication": ("", *batch.LUBRICATIONS),
    "machining_lead": batch.LEADS,
    "contaminants": batch.DIRT,
    "second_lip": ("excluder", "none", "redundant"),
    "lip_tip": ("plain", "upturned_with_garter"),
    "retention": ("o_ring", "clamped_flange", "press_fit_case"),
    "lip_form": ("plain", "scraper", "tapered"),
    "energizer": ("cantilever_v", "canted_coil"),
    "heel": ("standard", "extended"),
}
"""Columns of a closed choice; an empty cell is the first one."""

NAMES = ("fluid", "compound", "energizer_alloy", "o_ring_elastomer", "shaft_material")
FLAGS = ("food_contact", "reinforcing_band")
REQUIRED = ("shaft_diameter", "pressure", "temperature", "fluid", "family", "compound")
MOTION = ("rotational_speed", "surface_speed", "oscillation_half_amplitude")
"""One of these columns is needed as well."""

COLUMN_NAMES = ("case_id", *NUMBERS, *CHOICES, *NAMES, *FLAGS)


class ColumnError(Exception):
    """A table that cannot be read at all: the column and what is accepted."""

    def __init__(self, column: str, fault: str, accepted: str) -> None:
        super().__init__(f"{column}: {fault}; accepted: {accepted}")
        self.column, self.fault, self.accepted = column, fault, accepted


class Flat(NamedTuple):
    """A table read: columns, which rows can be judged, and the fault of each other one."""

    columns: batch.Columns
    index: Any
    """Row of the table each case of ``columns`` came from."""
    ids: list[str]
    """Identifier of every row of the table."""
    faults: dict[int, str]
    """Row and fault of those that cannot be judged."""


_HEADER = re.compile(r"\s*([\w.]+)\s*(?:\[([^\]]+)\])?\s*")


def header(name: str) -> tuple[str, str | None]:
    """Split a column heading into field and unit; refuse what is not known."""
    match = _HEADER.fullmatch(name)
    if match is None or match[1] not in COLUMN_NAMES:
        raise ColumnError(name, "no such column", ", ".join(COLUMN_NAMES))
    field, unit = match[1], match[2]
    if unit is not None:
        dimension = NUMBERS.get(field)
        if dimension is None:
            raise ColumnError(name, "this column has no unit", f"{field} without brackets")
        if unit not in units.factors(dimension):
            raise ColumnError(name, "the unit does not fit", ", ".join(units.DIMENSIONS[dimension].symbols))
    return field, unit


def _text_codes(values: Any, known: Sequence[str], default: int) -> tuple[Any, Any]:
    """Return codes of texts, and which rows hold an unknown one; empty cells get ``default``."""
    texts = np.asarray(["" if value is None else str(value).strip() for value in values], dtype=object)
    distinct, inverse = np.unique(texts.astype(str), return_inverse=True)
    position = {name: i for i, name in enumerate(known)}
    table = np.array([default if not text else position.get(text, -2) for text in distinct])
    codes = table[inverse]
    return np.where(codes == -2, max(default, 0), codes), codes == -2


def _flags(values: Any) -> tuple[Any, Any]:
    truth = {"": 0, "0": 0, "false": 0, "no": 0, "1": 1, "true": 1, "yes": 1}
    texts = ["" if value is None else str(value).strip().lower() for value in values]
    codes = np.array([truth.get(text, -1) for text in texts])
    return codes == 1, codes < 0


def _numbers(values: Any, name: str, unit: str | None) -> tuple[Any, Any]:
    """Return a column of numbers in SI, empty cells as nan, and which rows hold something that is no number."""
    cells = [num.nan if value is None or value == "" else value for value in values]
    bad = np.zeros(len(cells), dtype=bool)
    try:
        column = np.asarray(cells, dtype=float)
    except (TypeError, ValueError):
        column = np.full(len(cells), num.nan)
        for row, cell in enumerate(cells):
            try:
                column[row] = float(cell)
            except (TypeError, ValueError):
                bad[row] = True
    return (column if unit is None else units.to_si(column, NUMBERS[name], unit)), bad


def numbered(table: Mapping[str, Sequence[Any]], done: int, count: int) -> Mapping[str, Sequence[Any]]:
    """Give rows without an identifier the number they have in the file, so that no block has to know another."""
    heading = next((name for name in table if name.strip() == "case_id"), "case_id")
    cells = table.get(heading, [None] * count)
    ids = [str(done + row) if cell is None or cell == "" else str(cell) for row, cell in enumerate(cells, start=1)]
    return {**{name: cells for name, cells in table.items() if name != heading}, "case_id": ids}


def read(data: RuleSetData, table: Mapping[str, Any]) -> Flat:
    """Read a table (column heading → cells) under a rule set."""
    names = batch.names_of(data)
    cells: dict[str, Any] = {}
    parsed: dict[str, Any] = {}
    garbled: dict[str, Any] = {}
    for heading, values in table.items():
        field, unit = header(heading)
        if field in cells:
            raise ColumnError(heading, "the column is there twice", "each column once")
        cells[field] = values
        if field in NUMBERS:
            parsed[field], garbled[field] = _numbers(values, field, unit)
    for field in REQUIRED:
        if field not in cells:
            raise ColumnError(
                field, "the column is missing", f"columns {', '.join(REQUIRED)} and one of {', '.join(MOTION)}"
            )
    if not any(field in cells for field in MOTION):
        raise ColumnError("rotational_speed", "no column says how the shaft moves", f"one of {', '.join(MOTION)}")
    n = len(cells["family"])
    faults: dict[int, str] = {}

    def blame(rows: Any, fault: str) -> None:
        for row in np.flatnonzero(rows).tolist():
            faults.setdefault(row, fault)

    def number(field: str) -> Any:
        return parsed.get(field, np.full(n, num.nan))

    for field, bad in garbled.items():
        blame(bad, f"{field} is not a number")
    empty = [""] * n
    choice: dict[str, Any] = {}
    for field, options in CHOICES.items():
        codes, bad = _text_codes(cells.get(field, empty), options, 0)
        choice[field] = codes
        blame(bad, f"{field} is not one of {', '.join(option for option in options if option)}")
    blame(np.array([not str(value or "").strip() for value in cells["family"]]), "family is empty")
    code: dict[str, Any] = {}
    for field, known in (
        ("fluid", names.fluids),
        ("compound", names.compounds),
        ("energizer_alloy", names.alloys),
        ("o_ring_elastomer", names.elastomers),
        ("shaft_material", names.shaft_materials),
    ):
        code[field], bad = _text_codes(cells.get(field, empty), known, -1)
        blame(bad, f"{field} is not known to the rule set")
        if field in REQUIRED:
            blame(code[field] < 0, f"{field} is empty")
    flag: dict[str, Any] = {}
    for field in FLAGS:
        flag[field], bad = _flags(cells.get(field, empty))
        blame(bad, f"{field} is not true or false")

    d, normal, p = number("shaft_diameter"), number("temperature"), number("pressure")
    for field, column, low, high in (
        ("shaft_diameter", d, 1e-3, 3.0),
        ("temperature", normal, 0.0, 1000.0),
        ("pressure", p, -101325.0, 500e6),
    ):
        with np.errstate(invalid="ignore"):
            blame(~((column >= low) & (column <= high)), f"{field} is empty or outside {low:g} to {high:g} in SI units")
    coldest = np.where(np.isnan(number("temperature_min")), normal, number("temperature_min"))
    hottest = np.where(np.isnan(number("temperature_max")), normal, number("temperature_max"))
    with np.errstate(invalid="ignore"):
        blame((coldest > normal) | (hottest < normal), "the temperatures are not in order")
        for field in NUMBERS:
            if field not in {"pressure", "temperature_min", "temperature", "temperature_max"} and field in parsed:
                blame(parsed[field] < 0.0, f"{field} is negative")
                blame(np.isinf(parsed[field]), f"{field} is not finite")
    rotational, mean, peak = _motion(d, number)
    blame(np.isnan(mean), "no cell says how the shaft moves")

    flexible = choice["family"] == 0
    garter = flexible & (choice["lip_tip"] == 1)
    blame(~flexible & (choice["retention"] == 2), "retention press_fit_case is for a flexible lip")
    usual_alloy = names.alloys.index(data.sizing.energizer_alloy.name)
    alloy = np.where(flexible, -1, np.where(code["energizer_alloy"] < 0, usual_alloy, code["energizer_alloy"]))
    alloy = np.where(garter, names.alloys.index(data.sizing.garter_alloy.name), alloy)
    usual_rubber = names.elastomers.index(data.sizing.o_ring_elastomer.name)
    rubber = np.where(code["o_ring_elastomer"] < 0, usual_rubber, code["o_ring_elastomer"])
    hardness = number("shaft_hardness")
    by_material = np.array(
        [num.nan if (h := data.shaft_materials[m].hardness) is None else h.si for m in names.shaft_materials]
        + [num.nan]
    )
    hardness = np.where(np.isnan(hardness), by_material[code["shaft_material"]], hardness)
    fluid = np.maximum(code["fluid"], 0)
    lubrication = np.where(choice["lubrication"] == 0, names.lubrication[fluid], choice["lubrication"] - 1)
    sets, design = _feature_sets(choice, flag["reinforcing_band"], flexible)
    columns = batch.Columns(
        feature_sets=sets,
        design=design,
        compound=np.maximum(code["compound"], 0),
        fluid=fluid,
        alloy=alloy,
        elastomer=np.where(choice["retention"] == 0, rubber, -1),
        shaft_material=code["shaft_material"],
        lubrication=lubrication,
        lead=choice["machining_lead"],
        dirt=choice["contaminants"],
        food_contact=flag["food_contact"],
        shaft_diameter=d,
        rotational_speed=rotational,
        surface_speed=mean,
        peak_speed=peak,
        pressure=p,
        temperature_min=coldest,
        temperature=normal,
        temperature_max=hottest,
        runout=number("runout"),
        offset=number("offset"),
        hardness=hardness,
        roughness=number("shaft_roughness"),
        dimensions={
            field: parsed[field]
            for field in parsed
            if field in {"lip_thickness", "lip_length", "interference", "contact_width"} or "." in field
        },
    )
    ids = [str(value) for value in cells["case_id"]] if "case_id" in cells else [str(row) for row in range(n)]
    index = np.array([row for row in range(n) if row not in faults], dtype=int)
    return Flat(columns.take(index), index, ids, faults)


def _motion(d: Any, number: Callable[[str], Any]) -> tuple[Any, Any, Any]:
    """Rotational speed (equivalent mean), mean and peak surface speed, from whichever column is filled."""
    with np.errstate(all="ignore"):
        n, v = number("rotational_speed"), number("surface_speed")
        theta, f = number("oscillation_half_amplitude"), number("oscillation_frequency")
        swing = kinematics.oscillation_mean_speed(d, theta, f)
        fastest = kinematics.oscillation_peak_speed(d, theta, f)
        turning = kinematics.surface_speed(d, n)
        mean = np.where(np.isnan(turning), np.where(np.isnan(v), swing, v), turning)
        peak = np.where(np.isnan(turning) & np.isnan(v), fastest, mean)
        rotational = np.where(np.isnan(n), kinematics.rotation_speed(d, mean), n)
    return rotational, mean, peak


def _feature_sets(choice: Mapping[str, Any], band: Any, flexible: Any) -> tuple[list[dict[str, Any]], Any]:
    """Distinct designs among the rows, and which of them each row has."""
    parts = ("second_lip", "lip_tip", "retention", "lip_form", "energizer", "heel")
    key = choice["family"].astype(int)
    for part in parts:
        relevant = flexible if part in {"second_lip", "lip_tip"} else ~flexible if part != "retention" else np.True_
        key = key * 4 + np.where(relevant, choice[part], 0)
    key = key * 2 + (band & flexible)
    distinct, first, inverse = np.unique(key, return_index=True, return_inverse=True)
    del distinct
    sets: list[dict[str, Any]] = []
    for row in first.tolist():

        def pick(part: str, at: int = row) -> str:
            return CHOICES[part][int(choice[part][at])]

        if flexible[row]:
            sets.append({"family": "flexible_lip", "second_lip": pick("second_lip"), "lip_tip": pick("lip_tip"),
                         "reinforcing_band": bool(band[row]), "retention": pick("retention")})  # fmt: skip
        else:
            sets.append({"family": "energized_lip", "lip_form": pick("lip_form"), "energizer": pick("energizer"),
                         "retention": pick("retention"), "heel": pick("heel")})  # fmt: skip
    return sets, inverse


def flatten(case_id: str, duty: Duty, design: FlexibleLip | EnergizedLip) -> dict[str, Any]:
    """Write a duty and a design as one flat row in SI."""
    motion = duty.motion
    row: dict[str, Any] = {
        "case_id": case_id,
        "shaft_diameter": duty.shaft_diameter,
        "pressure": duty.pressure,
        "temperature_min": duty.temperature.minimum,
        "temperature": duty.temperature.normal,
        "temperature_max": duty.temperature.maximum,
        "runout": duty.runout,
        "offset": duty.offset,
        "shaft_hardness": duty.shaft.hardness,
        "shaft_roughness": duty.shaft.roughness,
        "shaft_material": duty.shaft.material,
        "machining_lead": duty.shaft.machining_lead,
        "lubrication": duty.lubrication,
        "contaminants": duty.contaminants,
        "food_contact": duty.food_contact,
        "fluid": duty.fluid,
        "family": design.family,
        "compound": design.compound,
        "retention": design.retention,
        "o_ring_elastomer": design.o_ring_elastomer,
        "lip_thickness": design.lip_thickness,
        "lip_length": design.lip_length,
        "interference": design.interference,
        "contact_width": design.contact_width,
    }
    if isinstance(motion, Rotation):
        row["rotational_speed"] = motion.rotational_speed
    elif isinstance(motion, Oscillation):
        row["oscillation_half_amplitude"], row["oscillation_frequency"] = motion.half_amplitude, motion.frequency
    else:
        row["surface_speed"] = motion.surface_speed
    if isinstance(design, FlexibleLip):
        row |= {"second_lip": design.second_lip, "lip_tip": design.lip_tip, "reinforcing_band": design.reinforcing_band}
        if (g := design.garter) is not None:
            row |= {f"garter.{name}": value for name, value in g}
        return row
    row |= {
        "lip_form": design.lip_form,
        "energizer": design.energizer,
        "heel": design.heel,
        "energizer_alloy": design.energizer_alloy,
    }
    if (v := design.cantilever_v) is not None:
        row |= {
            "cantilever_v.thickness": v.strip_thickness,
            "cantilever_v.length": v.finger_length,
            "cantilever_v.root_angle": v.root_angle,
            "cantilever_v.coverage": v.coverage,
            "cantilever_v.deflection": v.deflection,
        }
    if (c := design.canted_coil) is not None:
        row |= {
            "canted_coil.wire_diameter": c.wire_diameter,
            "canted_coil.height": c.coil_height,
            "canted_coil.width": c.coil_width,
            "canted_coil.pitch": c.pitch,
            "canted_coil.cant_angle": c.cant_angle,
            "canted_coil.deflection": c.deflection,
        }
    return row


def table(rows: Sequence[Mapping[str, Any]]) -> dict[str, list[Any]]:
    """Turn flat rows into columns; a column that no row fills is left out."""
    filled = [name for name in COLUMN_NAMES if any(row.get(name) is not None for row in rows)]
    return {name: [row.get(name) for row in rows] for name in filled}
