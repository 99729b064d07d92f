"""Flat cases: a duty and a design in one row, for corpora of past quotes in CSV, Parquet or Arrow.

A column is named by its field, and a number's column carries its unit in brackets (``pressure [psi]``): a heading without
one is refused, unless it is of a plain ratio. What a row leaves empty is filled in as in a single request, and a row is
refused exactly when the request that says the same is: by itself, with its fault, and it stops nothing else.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from enum import IntEnum
from typing import Any, NamedTuple

import numpy as np

from glandwise import spelling, units
from glandwise.case import flat_cells, record, vocabulary
from glandwise.case.choices import Energizer, Family, Retention
from glandwise.case.flat_cells import EMPTY, UNKNOWN, Cells, Coded
from glandwise.case.rows import Table, codes_of
from glandwise.case.vocabulary import ENERGIZERS
from glandwise.contract.base import NAME, RequestModel
from glandwise.contract.design import (
    NO_SPRING,
    OF_ANOTHER,
    EnergizedLip,
    FlexibleLip,
    coil_misfits,
    garter_misfits,
    strip_misfits,
)
from glandwise.contract.duty import FORMER_LUBRICATIONS, Duty, temperature_misfits
from glandwise.contract.faults import OUTSIDE, WORDS, Misfit
from glandwise.contract.quantities import Measured, measured
from glandwise.engine import no_such, one_of, unknown
from glandwise.rules.model import RuleSetData


def _as_measured(model: type[RequestModel], path: str) -> Measured:
    found = measured(model, path.rpartition(".")[2])
    assert found is not None
    return found


NUMBERS: Mapping[str, Measured] = {name: _as_measured(at.model, at.place) for name, at in vocabulary.NUMBERS.items()}
"""Columns of numbers, and how the field of a request is measured and bounded."""


def _si_unit(dimension: str) -> str:
    """Return the symbol of the SI unit of a dimension, or of the unit of its answers where SI has no symbol."""
    usual = units.DIMENSIONS[dimension]
    return next((one for one in usual.symbols if units.factor(dimension, one) == (1.0, 0.0)), usual.si_system)


HEADINGS: Mapping[str, tuple[str, str]] = {
    name: (f"{name} [{unit}]", unit) for name, held in NUMBERS.items() for unit in (_si_unit(held.dimension),)
}
"""Columns of numbers: the heading that the service writes itself, and its unit."""


def _usual_first(place: str, codes: type[IntEnum]) -> tuple[str, ...]:
    """Return the options of a choice, the one that an empty cell stands for first."""
    names = [item.name for item in codes]
    field = place.rpartition(".")[2]
    usual = next(
        (model.model_fields[field].default for model in (FlexibleLip, EnergizedLip) if field in model.model_fields),
        None,
    )
    first = [usual] if usual is not None else [] if "not_stated" in names else [""]
    return tuple(dict.fromkeys([*first, *names]))


CHOICES: Mapping[str, tuple[str, ...]] = {
    "family": tuple(item.name for item in Family),
    "lip_tip": ("plain", "upturned_with_garter"),
    "energizer": ("cantilever_v", "canted_coil"),
    **{name: _usual_first(choice.place, choice.codes) for name, choice in vocabulary.CHOICES.items()},
}
"""Columns of a closed choice; an empty cell is the first one."""

FORMER: Mapping[str, Mapping[str, str]] = {"lubrication": FORMER_LUBRICATIONS}
"""Options of before, by column, and what they are taken as."""

NAMES = vocabulary.NAMES
"""Columns of a name of the rule set."""

FLAGS = ("food_contact", "reinforcing_band")
REQUIRED = ("shaft_diameter", "pressure", "temperature", "fluid", "family", "compound")
MOTION = ("rotational_speed", "surface_speed", "oscillation_half_amplitude")
"""One of these columns is needed as well."""

COLUMN_NAMES = ("case_id", *NUMBERS, *CHOICES, *NAMES, *FLAGS)

_FIELDS: Mapping[str, tuple[str, ...]] = {
    **{
        name: tuple(item.place.split("."))
        for table in (vocabulary.NUMBERS, vocabulary.CHOICES, vocabulary.NAMES)
        for name, item in table.items()
    },
    "food_contact": ("duty", "food_contact"),
    **{name: ("design", name) for name in ("family", "lip_tip", "energizer", "reinforcing_band")},
}
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
    """A table read: which rows can be judged, what they state, and the fault of each other one."""

    rows: Table
    """Cases as they are stated; what they leave open is filled in when they are judged."""
    index: Any
    """Row of the table each case came from."""
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


def listed(cells: Cells) -> Sequence[Any]:
    """Return the cells of a column one by one."""
    return cells.listed() if isinstance(cells, Coded) else cells.tolist() if isinstance(cells, np.ndarray) else cells


def numbered(table: Mapping[str, Cells], done: int, count: int) -> Mapping[str, Cells]:
    """Give rows without an identifier the number they have in the file, so that no block has to know another."""
    heading = next((name for name in table if name.strip() == "case_id"), "case_id")
    cells = listed(table[heading]) if heading in table else [None] * count
    ids = [str(done + row) if cell is None or cell == "" else str(cell) for row, cell in enumerate(cells, start=1)]
    return {**{name: cells for name, cells in table.items() if name != heading}, "case_id": ids}


class _Table:
    """The cells of a table by field, read one column after another; what cannot be read is blamed on its row."""

    def __init__(self, table: Mapping[str, Cells]) -> None:
        self.cells: dict[str, Cells] = {}
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
            said = f"{field}: {fault}; accepted: {accepted}"
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
            for rows, fault in ((column.garbled, NO_NUMBER), (column.outside, OUTSIDE)):
                if rows.any():
                    self.blame(rows, field, fault, self.range(field))
            if field in REQUIRED:
                self.blame(~column.filled, field, MISSING, self.range(field))

    def range(self, field: str) -> str:
        """Say which numbers a column takes, in the unit of its heading."""
        return NUMBERS[field].accepted(self.units[field])

    def chosen(self, field: str, options: Mapping[str, int]) -> Any:
        """Read a column of a closed choice as codes."""
        if field not in self.cells:
            return self._empty
        former = FORMER.get(field, {})
        found = flat_cells.codes(
            self.cells[field], lambda text: options.get(former.get(text, text), UNKNOWN) if text else EMPTY
        )
        taken = ", ".join(option for option in options if option)
        self._keep(field, found, WORDS["literal_error"][0], f"one of {taken}")
        return found

    def named(self, field: str, table: Mapping[str, Any], codes: Mapping[str, int], looked_up: Any) -> Any:
        """Read a column of names as codes; where one is not looked up, it is only asked to be a name."""
        if field not in self.cells:
            return self._empty
        faults: list[tuple[str, bool]] = []
        what, every = NAMES[field].what, one_of(table)

        def read(text: str) -> int:
            if not text:
                return EMPTY
            code = codes.get(text)
            if code is None:
                fault, accepted, is_name = _name_fault(text, table, what, "" if len(faults) < MOST_CLOSE else every)
                faults.append((f"{field}: {fault}; accepted: {accepted}", is_name))
                code = UNKNOWN + 1 - len(faults)
            return code

        found = flat_cells.codes(self.cells[field], read)
        self.filled[field] = found != EMPTY
        asked = np.broadcast_to(looked_up, found.shape)
        for row in np.flatnonzero(found <= UNKNOWN).tolist():
            said, is_name = faults[UNKNOWN - int(found[row])]
            if asked[row] or not is_name:
                self.faults.setdefault(row, said)
        if field in REQUIRED:
            self.blame(found == EMPTY, field, MISSING, every)
        return np.maximum(found, EMPTY)

    def flags(self, field: str) -> Any:
        """Read a column of true and false."""
        if field not in self.cells:
            return self._empty == 1
        found = flat_cells.flags(self.cells[field])
        self._keep(field, found, WORDS["bool_type"][0], flat_cells.TRUE_OR_FALSE)
        return found == 1

    def _keep(self, field: str, found: Any, fault: str, accepted: str) -> None:
        self.filled[field] = found != EMPTY
        self.blame(found == UNKNOWN, field, fault, accepted)
        if field in REQUIRED:
            self.blame(found == EMPTY, field, MISSING, accepted)


MISSING, NO_NUMBER, NOT_KNOWN = (WORDS[kind][0] for kind in ("missing", "float_type", "extra_forbidden"))
MOST_CLOSE = 50
"""Unknown names of a column to which the close ones are looked for; it takes a while for each."""


def _name_fault(text: str, table: Mapping[str, Any], what: str, every: str) -> tuple[str, str, bool]:
    """Say of a text that is no known name what is wrong, what is accepted, and whether it could be a name at all.

    Where ``every`` known name is given, the close ones are not looked for.
    """
    is_name = len(text) <= NAME.longest and NAME.pattern.fullmatch(text) is not None
    fault, accepted = ("", every) if every else unknown(table, text, what)
    if not is_name:
        fault = WORDS["string_too_long" if len(text) > NAME.longest else "name_form"][0]
    return fault or no_such(what), accepted, is_name


ReadBy = tuple[tuple[str, ...], ...]
"""What of a rule set a table is read by: two sets that have it in common read every table alike."""


def read_by(data: RuleSetData) -> ReadBy:
    """Return what a table is read by: the names of the rule set, in their order."""
    return tuple(tuple(getattr(data, table)) for table in dict.fromkeys(name.table for name in NAMES.values()))


def read(data: RuleSetData, table: Mapping[str, Cells]) -> Flat:
    """Read a table (column heading → cells) under a rule set."""
    rows = _Table(table)
    rows.read_numbers()
    stated = record.table(rows.count)
    _read_choices(rows, stated)
    _read_names(rows, stated, data)
    _one_motion(rows)
    temperatures = [rows.number(name) for name in ("temperature_min", "temperature", "temperature_max")]
    _refuse(rows, "duty.temperature", temperature_misfits(*temperatures))
    _only_of_its_family(rows, stated)
    _dimensions_fit(rows, stated)
    for name, number in vocabulary.NUMBERS.items():
        if name in rows.si:
            stated[number.field] = rows.si[name]
    fine = np.ones(rows.count, dtype=bool)
    fine[list(rows.faults)] = False
    index = np.flatnonzero(fine)
    cells = rows.cells.get("case_id")
    ids = list(map(str, range(rows.count) if cells is None else listed(cells)))
    return Flat(record.chosen(stated, index), index, ids, rows.faults)


def _read_choices(rows: _Table, stated: Table) -> None:
    """Read every column of a closed choice, of true or false, and which energizer they make up."""

    def of(field: str) -> Any:
        return np.maximum(rows.chosen(field, {option: code for code, option in enumerate(CHOICES[field])}), 0)

    stated["family"] = of("family")
    flexible = stated["family"] == Family.flexible_lip
    has = {
        **dict.fromkeys(_OF_FAMILY["flexible_lip"], flexible),
        **dict.fromkeys(_OF_FAMILY["energized_lip"], ~flexible),
    }
    for name, choice in vocabulary.CHOICES.items():
        codes = np.array([choice.codes[option] if option else -1 for option in CHOICES[name]])
        stated[choice.field] = np.where(has.get(name, np.True_), codes[of(name)], 0)
    tips, kinds = (
        np.array([Energizer.none, Energizer.garter]),
        np.array([Energizer[kind] for kind in CHOICES["energizer"]]),
    )
    stated["energizer"] = np.where(flexible, tips[of("lip_tip")], kinds[of("energizer")])
    stated["reinforcing_band"] = rows.flags("reinforcing_band") & flexible
    stated["food_contact"] = rows.flags("food_contact")


def _read_names(rows: _Table, stated: Table, data: RuleSetData) -> None:
    """Read every column of names; that of an elastomer is looked up where there is an O-ring."""
    codes, ring = codes_of(data), stated["retention"] == Retention.o_ring
    for field, name in NAMES.items():
        looked_up = ring if field == "o_ring_elastomer" else np.True_
        stated[name.field] = rows.named(field, getattr(data, name.table), getattr(codes, name.table), looked_up)


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
    rows.blame(~before, "rotational_speed", MISSING, f"one of {', '.join(MOTION)}")
    for field in ("oscillation_half_amplitude", "oscillation_frequency"):
        rows.blame(swing & ~rows.has(field), field, MISSING, "both numbers of a swing")


def _only_of_its_family(rows: _Table, stated: Table) -> None:
    """Refuse what the other family alone has."""
    flexible = stated["family"] == Family.flexible_lip
    for family, here in (("flexible_lip", flexible), ("energized_lip", ~flexible)):
        for field in _OF_FAMILY[family]:
            rows.blame(rows.has(field) & ~here, field, NOT_KNOWN, f"an empty cell; only family {family} has it")
    pressed = ~flexible & (stated["retention"] == Retention.press_fit_case)
    rows.blame(pressed, "retention", WORDS["literal_error"][0], "one of o_ring, clamped_flange")


def _dimensions_fit(rows: _Table, stated: Table) -> None:
    """Look at the dimensions of energizers: those of its kind, all of them or none, and such as can be made."""
    flexible = stated["family"] == Family.flexible_lip
    for kind in ENERGIZERS:
        columns = [name for name in NUMBERS if name.startswith(f"{kind}.")]
        if not any(column in rows.cells for column in columns):
            continue
        of_family, here = flexible == (kind == "garter"), stated["energizer"] == Energizer[kind]
        given: Any = np.zeros(rows.count, dtype=bool)
        for column in columns:
            rows.blame(rows.has(column) & ~of_family, column, NOT_KNOWN, "an empty cell")
            rows.blame(rows.has(column) & ~here, column, *OF_ANOTHER[kind])
            given = given | rows.has(column)
        for column in columns:
            rows.blame(given & ~rows.has(column), column, MISSING, f"all dimensions of a {kind} or none")
        size = {_FIELDS[column][-1]: rows.number(column) for column in columns}
        _refuse(rows, f"design.{kind}", _MISFITS[kind](size))
    plain = flexible & (stated["energizer"] == Energizer.none)
    rows.blame(rows.has("spring_place") & plain, "spring_place", *NO_SPRING)


def _strip_misfits(size: Mapping[str, Any]) -> Iterable[Misfit]:
    # by the sine of the model, to the last digit
    return strip_misfits(size, np.fromiter(map(math.sin, size["root_angle"].tolist()), dtype=float))


_MISFITS = {"cantilever_v": _strip_misfits, "canted_coil": coil_misfits, "garter": garter_misfits}
_COLUMN_AT = {number.place: name for name, number in vocabulary.NUMBERS.items()}


def _refuse(rows: _Table, place: str, misfits: Iterable[Misfit]) -> None:
    """Refuse rows for numbers that do not go together."""
    with np.errstate(invalid="ignore"):
        for item in misfits:
            rows.blame(item.refused, _COLUMN_AT[f"{place}.{item.field}"], item.detail, item.accepted)


# ------------------------------------------------------------------------------------------------------- the way back


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


_MOTIONS = {"rotational_speed": "rotation", "surface_speed": "surface", "oscillation_half_amplitude": "oscillation"}


def unflatten(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a flat row, by its headings, as the case of a request that says the same; what it leaves empty is left out."""
    case: dict[str, Any] = {"duty": {}, "design": {}}
    for heading, cell in row.items():
        text = flat_cells.text(cell)
        if not text or cell != cell:
            continue
        field, unit = header(heading)
        if field == "case_id":
            case["case_id"] = str(cell)
            continue
        value: Any = text
        if unit is not None:
            value = {"value": float(text), "unit": unit}
        elif field in FLAGS:
            value = bool(flat_cells.flags([cell])[0] == 1)
        here = case
        *above, name = _FIELDS[field]
        for part in above:
            here = here.setdefault(part, {})
        here[name] = value
        if field in _MOTIONS:
            here["kind"] = _MOTIONS[field]
    return case


def tabled(
    ids: Sequence[str], duties: Sequence[Duty], designs: Sequence[FlexibleLip | EnergizedLip]
) -> dict[str, list[Any]]:
    """Write duties and designs as columns: the table of the rows that :func:`flatten` gives of each."""
    held: dict[tuple[str, ...], list[Any]] = {("duty",): list(duties), ("design",): list(designs)}

    def column(path: tuple[str, ...]) -> list[Any]:
        if path not in held:
            *above, part = path
            held[path] = [None if value is None else vars(value).get(part) for value in column(tuple(above))]
        return held[path]

    result: dict[str, list[Any]] = {"case_id": list(ids)}
    for name in COLUMN_NAMES[1:]:
        cells = column(_FIELDS[name])
        if cells.count(None) == len(cells):
            continue
        heading = name
        if name in HEADINGS:
            (heading, unit), dimension = HEADINGS[name], NUMBERS[name].dimension
            if units.factor(dimension, unit) != (1.0, 0.0):
                cells = [None if value is None else units.from_si(value, dimension, unit) for value in cells]
        result[heading] = cells
    return result


def table(rows: Sequence[Mapping[str, Any]]) -> dict[str, list[Any]]:
    """Turn flat rows into columns; a column that no row fills is left out."""
    headings = [HEADINGS[name][0] if name in HEADINGS else name for name in COLUMN_NAMES]
    filled = [name for name in headings if any(row.get(name) is not None for row in rows)]
    return {name: [row.get(name) for row in rows] for name in filled}
