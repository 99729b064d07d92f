"""Flat cases: a duty and a design in one row, for corpora of past quotes in CSV, Parquet or Arrow.

A column is named by its field, and a number's column carries its unit in brackets (``pressure [psi]``): a heading without
one is refused, unless it is of a plain ratio. What a row leaves empty is filled in as in a single request, and a row is
refused exactly when the request that says the same is: by itself, with its fault, and it stops nothing else.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from glandwise import spelling, units
from glandwise.contract.base import NAME, RequestModel
from glandwise.contract.design import (
    CantedCoilDimensions,
    CantileverVDimensions,
    EnergizedLip,
    FlexibleLip,
    GarterDimensions,
)
from glandwise.contract.duty import Duty, Oscillation, Rotation, Shaft, SurfaceMotion, Temperatures
from glandwise.contract.quantities import Measured, measured
from glandwise.mechanics import kinematics
from glandwise.questions import flat_cells
from glandwise.questions.envelope import columns as batch
from glandwise.questions.flat_cells import EMPTY, UNKNOWN
from glandwise.rules.model import RuleSetData

_NUMBERS: Mapping[str, tuple[type[RequestModel], str]] = {
    "shaft_diameter": (Duty, "duty.shaft_diameter"),
    "rotational_speed": (Rotation, "duty.motion.rotational_speed"),
    "surface_speed": (SurfaceMotion, "duty.motion.surface_speed"),
    "oscillation_half_amplitude": (Oscillation, "duty.motion.half_amplitude"),
    "oscillation_frequency": (Oscillation, "duty.motion.frequency"),
    "pressure": (Duty, "duty.pressure"),
    "temperature_min": (Temperatures, "duty.temperature.minimum"),
    "temperature": (Temperatures, "duty.temperature.normal"),
    "temperature_max": (Temperatures, "duty.temperature.maximum"),
    "runout": (Duty, "duty.runout"),
    "offset": (Duty, "duty.offset"),
    "shaft_hardness": (Shaft, "duty.shaft.hardness"),
    "shaft_roughness": (Shaft, "duty.shaft.roughness"),
    "lip_thickness": (FlexibleLip, "design.lip_thickness"),
    "lip_length": (FlexibleLip, "design.lip_length"),
    "interference": (FlexibleLip, "design.interference"),
    "contact_width": (FlexibleLip, "design.contact_width"),
    "cantilever_v.thickness": (CantileverVDimensions, "design.cantilever_v.strip_thickness"),
    "cantilever_v.length": (CantileverVDimensions, "design.cantilever_v.finger_length"),
    "cantilever_v.root_angle": (CantileverVDimensions, "design.cantilever_v.root_angle"),
    "cantilever_v.coverage": (CantileverVDimensions, "design.cantilever_v.coverage"),
    "cantilever_v.deflection": (CantileverVDimensions, "design.cantilever_v.deflection"),
    "canted_coil.wire_diameter": (CantedCoilDimensions, "design.canted_coil.wire_diameter"),
    "canted_coil.height": (CantedCoilDimensions, "design.canted_coil.coil_height"),
    "canted_coil.width": (CantedCoilDimensions, "design.canted_coil.coil_width"),
    "canted_coil.pitch": (CantedCoilDimensions, "design.canted_coil.pitch"),
    "canted_coil.cant_angle": (CantedCoilDimensions, "design.canted_coil.cant_angle"),
    "canted_coil.deflection": (CantedCoilDimensions, "design.canted_coil.deflection"),
    "garter.wire_diameter": (GarterDimensions, "design.garter.wire_diameter"),
    "garter.mean_coil_diameter": (GarterDimensions, "design.garter.mean_coil_diameter"),
    "garter.free_length": (GarterDimensions, "design.garter.free_length"),
    "garter.initial_tension": (GarterDimensions, "design.garter.initial_tension"),
    "garter.active_coils": (GarterDimensions, "design.garter.active_coils"),
}
"""Columns of numbers: the model and the field each stands for."""


def _as_measured(model: type[RequestModel], path: str) -> Measured:
    found = measured(model, path.rpartition(".")[2])
    assert found is not None
    return found


NUMBERS: Mapping[str, Measured] = {name: _as_measured(*field) for name, field in _NUMBERS.items()}
"""Columns of numbers, and how the field of a request is measured and bounded."""


def _si_unit(dimension: str) -> str:
    """Return the symbol of the SI unit of a dimension, or of the unit of its answers where SI has no symbol."""
    usual = units.DIMENSIONS[dimension]
    return next((one for one in usual.symbols if units.factor(dimension, one) == (1.0, 0.0)), usual.si_system)


HEADINGS: Mapping[str, tuple[str, str]] = {
    name: (f"{name} [{unit}]", unit) for name, held in NUMBERS.items() for unit in (_si_unit(held.dimension),)
}
"""Columns of numbers: the heading that the service writes itself, and its unit."""

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

NAMES: Mapping[str, str] = {
    "fluid": "fluids",
    "compound": "compounds",
    "energizer_alloy": "alloys",
    "o_ring_elastomer": "elastomers",
    "shaft_material": "shaft-materials",
}
"""Columns of a name of the rule set, and where the names are listed."""

FLAGS = ("food_contact", "reinforcing_band")
REQUIRED = ("shaft_diameter", "pressure", "temperature", "fluid", "family", "compound")
MOTION = ("rotational_speed", "surface_speed", "oscillation_half_amplitude")
"""One of these columns is needed as well."""

COLUMN_NAMES = ("case_id", *NUMBERS, *CHOICES, *NAMES, *FLAGS)

_FIELDS: Mapping[str, tuple[str, ...]] = {
    **{name: tuple(path.split(".")) for name, (_, path) in _NUMBERS.items()},
    **{name: ("duty", name) for name in ("fluid", "lubrication", "contaminants", "food_contact")},
    **{name: ("design", name) for name in ("family", "compound", "energizer_alloy", "o_ring_elastomer", "second_lip",
        "lip_tip", "reinforcing_band", "retention", "lip_form", "energizer", "heel")},
    "machining_lead": ("duty", "shaft", "machining_lead"),
    "shaft_material": ("duty", "shaft", "material"),
}  # fmt: skip
"""Where what stands in a column has its place in a request."""

_OF_FAMILY: Mapping[str, tuple[str, ...]] = {
    family: tuple(name for name, path in _FIELDS.items() if path[0] == "design" and len(path) == 2
                  and path[1] in model.model_fields and path[1] not in other.model_fields)
    for family, model, other in (
        ("flexible_lip", FlexibleLip, EnergizedLip),
        ("energized_lip", EnergizedLip, FlexibleLip),
    )
}  # fmt: skip
"""Columns that only designs of one family have; those of energizers aside."""


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


_HEADER = re.compile(r"\s*([\w.]+)\s*(?:\[(.*)\])?\s*", re.DOTALL)


def header(name: str) -> tuple[str, str | None]:
    """Split a column heading into field and unit, whose every spelling is taken; refuse what is not known."""
    match = _HEADER.fullmatch(name)
    if match is None or match[1] not in COLUMN_NAMES:
        raise ColumnError(name, "no such column", ", ".join(COLUMN_NAMES))
    field, written = match[1], match[2]
    if field not in NUMBERS:
        if written is not None:
            raise ColumnError(name, "this column has no unit", f"{field} without brackets")
        return field, None
    held = NUMBERS[field]
    accepted, gauge = units.DIMENSIONS[held.dimension].symbols, held.dimension == "gauge_pressure"
    said = ", ".join(f"{field} [{unit}]" for unit in spelling.listed(accepted).split(", "))
    if not (written or "").strip():
        if "1" in accepted:
            return field, "1"
        raise ColumnError(name, "the heading has no unit", said)
    if gauge and written.strip() in spelling.ABSOLUTE:
        raise ColumnError(name, "an absolute pressure stands here, and the gauge pressure is asked for", said)
    found = spelling.find_unit(written, accepted, gauge=gauge)
    if found is None:
        raise ColumnError(name, "the unit does not fit", said)
    return field, found


def numbered(table: Mapping[str, Sequence[Any]], done: int, count: int) -> Mapping[str, Sequence[Any]]:
    """Give rows without an identifier the number they have in the file, so that no block has to know another."""
    heading = next((name for name in table if name.strip() == "case_id"), "case_id")
    cells = table.get(heading, [None] * count)
    ids = [str(done + row) if cell is None or cell == "" else str(cell) for row, cell in enumerate(cells, start=1)]
    return {**{name: cells for name, cells in table.items() if name != heading}, "case_id": ids}


class _Table:
    """The cells of a table by field, read one column after another; what cannot be read is blamed on its row."""

    def __init__(self, table: Mapping[str, Sequence[Any]]) -> None:
        self.cells: dict[str, Sequence[Any]] = {}
        self.units: dict[str, str] = {}
        """Unit of every column of numbers."""
        for heading, values in table.items():
            field, unit = header(heading)
            if field in self.cells:
                raise ColumnError(heading, "the column is there twice", "each column once")
            self.cells[field] = values
            if unit is not None:
                self.units[field] = unit
        for field in REQUIRED:
            if field not in self.cells:
                raise ColumnError(
                    field, "the column is missing", f"columns {', '.join(REQUIRED)} and one of {', '.join(MOTION)}"
                )
        if not any(field in self.cells for field in MOTION):
            raise ColumnError("rotational_speed", "no column says how the shaft moves", f"one of {', '.join(MOTION)}")
        self.count = len(self.cells["family"])
        self.faults: dict[int, str] = {}
        self.filled: dict[str, Any] = {}
        """Where something stands, by column; a column that is not there has no entry."""
        self.si: dict[str, Any] = {}
        self._nothing = np.full(self.count, math.nan)
        self._empty = np.full(self.count, EMPTY)

    def blame(self, rows: Any, field: str, fault: str, accepted: str) -> None:
        """Refuse rows for what stands in a column; the first fault of a row is told."""
        if rows.any():
            said = f"{field} {fault}; accepted: {accepted}"
            for row in np.flatnonzero(rows).tolist():
                self.faults.setdefault(row, said)

    def has(self, field: str) -> Any:
        """Where something stands in a column."""
        return self.filled.get(field, np.False_)

    def number(self, field: str) -> Any:
        """Return a column of numbers in SI, ``nan`` where it is empty."""
        return self.si.get(field, self._nothing)

    def read_numbers(self) -> None:
        """Read every column of numbers."""
        for field, cells in self.cells.items():
            if field not in NUMBERS:
                continue
            column = flat_cells.numbers(cells, NUMBERS[field], self.units[field])
            self.si[field], self.filled[field] = column.si, column.filled
            for rows, fault in ((column.garbled, "is not a number"), (column.outside, "is outside the range")):
                if rows.any():
                    self.blame(rows, field, fault, self.range(field))
            if field in REQUIRED:
                self.blame(~column.filled, field, "is empty", self.range(field))

    def range(self, field: str) -> str:
        """Say which numbers a column takes, in the unit of its heading."""
        return NUMBERS[field].accepted(self.units[field])

    def codes(self, field: str, known: Mapping[str, int], fault: str, accepted: str) -> Any:
        """Read a column of texts as codes."""
        if field not in self.cells:
            return self._empty
        found = flat_cells.chosen(self.cells[field], known)
        self._keep(field, found, fault, accepted)
        return found

    def flags(self, field: str) -> Any:
        """Read a column of true and false."""
        if field not in self.cells:
            return self._empty == 1
        found = flat_cells.flags(self.cells[field])
        self._keep(field, found, "is not true or false", "true, false, yes, no, 1, 0 or an empty cell")
        return found == 1

    def _keep(self, field: str, found: Any, fault: str, accepted: str) -> None:
        self.filled[field] = found != EMPTY
        self.blame(found == UNKNOWN, field, fault, accepted)
        if field in REQUIRED:
            self.blame(found == EMPTY, field, "is empty", accepted)


class _Codes(NamedTuple):
    """Texts of a table as codes: closed choices, names of the rule set, true or false."""

    choice: dict[str, Any]
    name: dict[str, Any]
    flag: dict[str, Any]


def read(data: RuleSetData, table: Mapping[str, Sequence[Any]]) -> Flat:
    """Read a table (column heading → cells) under a rule set."""
    rows = _Table(table)
    rows.read_numbers()
    codes = _texts(rows, batch.names_of(data))
    _one_motion(rows)
    _temperatures_in_order(rows)
    _only_of_its_family(rows, codes)
    _dimensions_fit(rows, codes)
    fine = np.ones(rows.count, dtype=bool)
    fine[list(rows.faults)] = False
    index = np.flatnonzero(fine)
    cells = rows.cells.get("case_id")
    ids = [str(row) for row in range(rows.count)] if cells is None else [str(value) for value in cells]
    return Flat(_columns(data, rows, codes).take(index), index, ids, rows.faults)


def _texts(rows: _Table, names: batch.Names) -> _Codes:
    """Read every column that holds no numbers."""
    choice: dict[str, Any] = {}
    for field, options in CHOICES.items():
        taken = ", ".join(option for option in options if option)
        code = rows.codes(
            field, {option: i for i, option in enumerate(options)}, f"is not one of {taken}", f"one of {taken}"
        )
        choice[field] = np.maximum(code, 0)
    tables = (names.fluids, names.compounds, names.alloys, names.elastomers, names.shaft_materials)
    name: dict[str, Any] = {}
    for (field, listed), known in zip(NAMES.items(), tables, strict=True):
        if field == "o_ring_elastomer":
            name[field] = _elastomers(rows, known, choice["retention"] == 0)
        else:
            name[field] = rows.codes(
                field,
                {one: i for i, one in enumerate(known)},
                "is not known to the rule set",
                f"a name from /v1/{listed}",
            )
        name[field] = np.maximum(name[field], -1)
    return _Codes(choice, name, {field: rows.flags(field) for field in FLAGS})


def _elastomers(rows: _Table, known: Sequence[str], o_ring: Any) -> Any:
    """Read the elastomers of O-rings; where there is no O-ring, a request asks of a name only that it be one."""
    table = {name: i for i, name in enumerate(known)}
    other = len(known)

    def code(name: str) -> int:
        if not name:
            return EMPTY
        return table.get(name, other if len(name) <= NAME.longest and NAME.pattern.fullmatch(name) else UNKNOWN)

    if "o_ring_elastomer" not in rows.cells:
        return rows.codes("o_ring_elastomer", {}, "", "")
    found = flat_cells.codes(rows.cells["o_ring_elastomer"], code)
    rows.filled["o_ring_elastomer"] = found != EMPTY
    unknown = (found == UNKNOWN) | ((found == other) & o_ring)
    rows.blame(unknown, "o_ring_elastomer", "is not known to the rule set", "a name from /v1/elastomers")
    return np.where(found == other, EMPTY, found)


# ------------------------------------------------------------------------- what the models of a request look at together


def _one_motion(rows: _Table) -> None:
    """Look for exactly one motion, and for both numbers of a swing."""
    swing = rows.has("oscillation_half_amplitude") | rows.has("oscillation_frequency")
    moves = {
        "rotational_speed": rows.has("rotational_speed"),
        "surface_speed": rows.has("surface_speed"),
        "oscillation_half_amplitude": swing,
    }
    before: Any = np.zeros(rows.count, dtype=bool)
    for field, here in moves.items():
        rows.blame(before & here, field, "says once more how the shaft moves", "one motion in a row")
        before = before | here
    rows.blame(
        ~before,
        "rotational_speed",
        "is empty, and no other cell says how the shaft moves",
        f"one of {', '.join(MOTION)}",
    )
    for field in ("oscillation_half_amplitude", "oscillation_frequency"):
        rows.blame(swing & ~rows.has(field), field, "is empty", "both numbers of a swing")


def _temperatures_in_order(rows: _Table) -> None:
    normal = rows.number("temperature")
    with np.errstate(invalid="ignore"):
        rows.blame(
            rows.number("temperature_min") > normal,
            "temperature_min",
            "lies above the normal temperature",
            "at most the normal temperature",
        )
        rows.blame(
            rows.number("temperature_max") < normal,
            "temperature_max",
            "lies below the normal temperature",
            "at least the normal temperature",
        )


def _only_of_its_family(rows: _Table, codes: _Codes) -> None:
    """Refuse what the other family alone has."""
    flexible = codes.choice["family"] == 0
    for family, here in (("flexible_lip", flexible), ("energized_lip", ~flexible)):
        for field in _OF_FAMILY[family]:
            rows.blame(rows.has(field) & ~here, field, f"is for family {family} only", "an empty cell")
    rows.blame(
        ~flexible & (codes.choice["retention"] == CHOICES["retention"].index("press_fit_case")),
        "retention",
        "press_fit_case is for family flexible_lip only",
        "o_ring, clamped_flange",
    )


def _kind(kind: str, codes: _Codes) -> tuple[Any, str]:
    """Return which rows have a kind of energizer, and the columns that say so."""
    flexible = codes.choice["family"] == 0
    if kind == "garter":
        return flexible & (codes.choice["lip_tip"] == 1), "family flexible_lip and lip_tip upturned_with_garter"
    return (
        ~flexible & (codes.choice["energizer"] == CHOICES["energizer"].index(kind)),
        f"family energized_lip and energizer {kind}",
    )


def _dimensions_fit(rows: _Table, codes: _Codes) -> None:
    """Look at the dimensions of energizers: those of its kind, all of them or none, and such as can be made."""
    for kind, parts in batch.DIMENSIONS.items():
        columns = [f"{kind}.{part}" for part in parts]
        if not any(column in rows.cells for column in columns):
            continue
        here, said = _kind(kind, codes)
        given: Any = np.zeros(rows.count, dtype=bool)
        for column in columns:
            rows.blame(rows.has(column) & ~here, column, "is for another design", f"an empty cell, or {said}")
            given = given | rows.has(column)
        for column in columns:
            rows.blame(given & ~rows.has(column), column, "is empty", f"all dimensions of a {kind} or none")
        size = {part: rows.number(f"{kind}.{part}") for part in parts}
        with np.errstate(invalid="ignore"):
            for part, refused, fault, accepted in _IMPOSSIBLE[kind](size):
                rows.blame(refused, f"{kind}.{part}", fault, accepted)


Impossible = Iterable[tuple[str, Any, str, str]]
"""Dimension, where it is refused, why, and what is accepted."""


def _impossible_v(v: Mapping[str, Any]) -> Impossible:
    sine = np.fromiter(map(math.sin, v["root_angle"].tolist()), dtype=float)
    yield ("deflection", v["deflection"] >= 2.0 * v["length"] * sine, "closes the V entirely",
           "less than the opening 2 L sin(root angle) of the free V")  # fmt: skip
    yield ("thickness", v["thickness"] >= v["length"], "makes the strip thicker than its fingers are long",
           "less than the finger length")  # fmt: skip


def _impossible_coil(c: Mapping[str, Any]) -> Impossible:
    wires = 2.0 * c["wire_diameter"]
    for part, refused, accepted in (
        ("height", c["height"] <= wires, "more than twice the wire diameter"),
        ("width", c["width"] <= wires, "more than twice the wire diameter"),
        ("pitch", c["pitch"] < c["wire_diameter"], "at least the wire diameter"),
        ("deflection", c["deflection"] >= c["height"] - wires, "less than the coil height less two wire diameters"),
    ):
        yield part, refused, "is no dimension a coil can have", accepted


def _impossible_garter(g: Mapping[str, Any]) -> Impossible:
    yield ("mean_coil_diameter", g["mean_coil_diameter"] <= g["wire_diameter"], "is not larger than the wire",
           "more than the wire diameter")  # fmt: skip


_IMPOSSIBLE = {"cantilever_v": _impossible_v, "canted_coil": _impossible_coil, "garter": _impossible_garter}


# ------------------------------------------------------------------------------------------------------------- columns


def _columns(data: RuleSetData, rows: _Table, codes: _Codes) -> batch.Columns:
    """Fill in what rows leave empty, as :func:`glandwise.case.intake.build` does, and set them up for a batch."""
    names = batch.names_of(data)
    choice, name = codes.choice, codes.name
    flexible = choice["family"] == 0
    alloy = np.where(
        name["energizer_alloy"] < 0, names.alloys.index(data.sizing.energizer_alloy.name), name["energizer_alloy"]
    )
    garter = np.where(choice["lip_tip"] == 1, names.alloys.index(data.sizing.garter_alloy.name), -1)
    rubber = np.where(
        name["o_ring_elastomer"] < 0,
        names.elastomers.index(data.sizing.o_ring_elastomer.name),
        name["o_ring_elastomer"],
    )
    by_material = np.array(
        [math.nan if (h := data.shaft_materials[m].hardness) is None else h.si for m in names.shaft_materials]
        + [math.nan]
    )
    fluid = np.maximum(name["fluid"], 0)
    normal = rows.number("temperature")
    rotational, mean, peak = _motion(rows)
    sets, design = _feature_sets(choice, codes.flag["reinforcing_band"], flexible)
    return batch.Columns(
        feature_sets=sets,
        design=design,
        compound=np.maximum(name["compound"], 0),
        fluid=fluid,
        alloy=np.where(flexible, garter, alloy),
        elastomer=np.where(choice["retention"] == 0, rubber, -1),
        shaft_material=name["shaft_material"],
        lubrication=np.where(choice["lubrication"] == 0, names.lubrication[fluid], choice["lubrication"] - 1),
        lead=choice["machining_lead"],
        dirt=choice["contaminants"],
        food_contact=codes.flag["food_contact"],
        shaft_diameter=rows.number("shaft_diameter"),
        rotational_speed=rotational,
        surface_speed=mean,
        peak_speed=peak,
        pressure=rows.number("pressure"),
        temperature_min=_or(rows.number("temperature_min"), normal),
        temperature=normal,
        temperature_max=_or(rows.number("temperature_max"), normal),
        runout=rows.number("runout"),
        offset=rows.number("offset"),
        hardness=_or(rows.number("shaft_hardness"), by_material[name["shaft_material"]]),
        roughness=rows.number("shaft_roughness"),
        dimensions={field: column for field, column in rows.si.items() if _FIELDS[field][0] == "design"},
    )


def _or(column: Any, usual: Any) -> Any:
    return np.where(np.isnan(column), usual, column)


def _motion(rows: _Table) -> tuple[Any, Any, Any]:
    """Rotational speed (equivalent mean), mean and peak surface speed, from whichever column is filled."""
    d = rows.number("shaft_diameter")
    with np.errstate(all="ignore"):
        n, v = rows.number("rotational_speed"), rows.number("surface_speed")
        mean = _or(kinematics.surface_speed(d, n), v)
        peak = mean
        if "oscillation_half_amplitude" in rows.cells:
            theta, f = rows.number("oscillation_half_amplitude"), rows.number("oscillation_frequency")
            peak = _or(mean, kinematics.oscillation_peak_speed(d, theta, f))
            mean = _or(mean, kinematics.oscillation_mean_speed(d, theta, f))
        return _or(n, kinematics.rotation_speed(d, mean)), mean, peak


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
    """Write a duty and a design as one flat row under headings with their units; what they leave out is left out."""
    row: dict[str, Any] = {"case_id": case_id}
    for name, (root, *path) in _FIELDS.items():
        value: Any = duty if root == "duty" else design
        for part in path:
            value = getattr(value, part, None)
        if value is None:
            continue
        if name in HEADINGS:
            heading, unit = HEADINGS[name]
            row[heading] = units.from_si(value, NUMBERS[name].dimension, unit)
        else:
            row[name] = value
    return row


def table(rows: Sequence[Mapping[str, Any]]) -> dict[str, list[Any]]:
    """Turn flat rows into columns; a column that no row fills is left out."""
    headings = [HEADINGS[name][0] if name in HEADINGS else name for name in COLUMN_NAMES]
    filled = [name for name in headings if any(row.get(name) is not None for row in rows)]
    return {name: [row.get(name) for row in rows] for name in filled}
