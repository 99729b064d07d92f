"""A flat row is refused exactly when the request that says the same is."""

from __future__ import annotations

import math
import time
import tracemalloc
from typing import Any, get_args

import numpy as np
import pytest
from glandwise import units
from glandwise.case import flat as corpus
from glandwise.case import flat_cells
from glandwise.case.intake import build
from glandwise.contract import quantities as q
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.contract.duty import Duty, Shaft
from glandwise.contract.envelope import EnvelopeCheckRequest
from glandwise.review import comparison
from glandwise.rules.loader import RuleStore
from hypothesis import HealthCheck, given
from hypothesis import strategies as st
from pydantic import ValidationError

from tests.laws import laws

RULES = RuleStore().trees["baseline"].newest()
DATA = RULES.data

PLACES = {
    "shaft_diameter": "duty.shaft_diameter",
    "rotational_speed": "duty.motion.rotational_speed",
    "surface_speed": "duty.motion.surface_speed",
    "oscillation_half_amplitude": "duty.motion.half_amplitude",
    "oscillation_frequency": "duty.motion.frequency",
    "pressure": "duty.pressure",
    "target_life": "duty.target_life",
    "temperature_min": "duty.temperature.minimum",
    "temperature": "duty.temperature.normal",
    "temperature_max": "duty.temperature.maximum",
    "runout": "duty.runout",
    "offset": "duty.offset",
    "shaft_hardness": "duty.shaft.hardness",
    "shaft_roughness": "duty.shaft.roughness",
    "shaft_material": "duty.shaft.material",
    "machining_lead": "duty.shaft.machining_lead",
    "cantilever_v.thickness": "design.cantilever_v.strip_thickness",
    "cantilever_v.length": "design.cantilever_v.finger_length",
    "canted_coil.height": "design.canted_coil.coil_height",
    "canted_coil.width": "design.canted_coil.coil_width",
    **{name: f"duty.{name}" for name in ("fluid", "lubrication", "application", "contaminants", "food_contact")},
}
"""Place of a column in a request, where it is not simply of that name in the design."""

USUAL: dict[str, list[Any]] = {
    "shaft_diameter": [0.05, 0.3],
    "rotational_speed": [0.0, 25.0],
    "surface_speed": [0.0, 4.0],
    "oscillation_half_amplitude": [0.5],
    "oscillation_frequency": [2.0],
    "pressure": [-20e3, 0.0, 2e5],
    "temperature_min": [250.0, 311.15],
    "temperature": [311.15, 350.0],
    "temperature_max": [311.15, 350.0, 420.0],
    "runout": [0.0, 1e-4],
    "offset": [0.0, 1e-4],
    "shaft_hardness": [45.0],
    "shaft_roughness": [3e-7],
    "lip_thickness": [7e-4],
    "lip_length": [4e-3],
    "interference": [0.0, 5e-4],
    "contact_width": [5e-4],
    "bore_angle": [0.17, 0.3],
    "spring_place": [0.6],
    "target_life": [1.44e7],
    "cantilever_v.thickness": [1e-4, 2e-3],
    "cantilever_v.length": [2e-3],
    "cantilever_v.root_angle": [0.35, math.pi / 6],
    "cantilever_v.coverage": [0.8],
    "cantilever_v.deflection": [4e-4, 2e-3],
    "canted_coil.wire_diameter": [4e-4],
    "canted_coil.height": [4e-3, 8e-4],
    "canted_coil.width": [4.4e-3, 8e-4],
    "canted_coil.pitch": [1e-3, 4e-4],
    "canted_coil.cant_angle": [0.6],
    "canted_coil.deflection": [8e-4, 3.2e-3],
    "garter.wire_diameter": [4e-4],
    "garter.mean_coil_diameter": [2e-3, 4e-4],
    "garter.free_length": [0.15],
    "garter.initial_tension": [0.0, 0.5],
    "garter.active_coils": [300.0],
}
"""Numbers that are mostly fine, in SI."""

TEXTS: dict[str, list[str]] = {
    **{name: list(options) for name, options in corpus.CHOICES.items()},
    "fluid": list(DATA.fluids)[:4],
    "compound": list(DATA.compounds)[:4],
    "energizer_alloy": list(DATA.alloys),
    "o_ring_elastomer": list(DATA.elastomers),
    "shaft_material": list(DATA.shaft_materials),
    "food_contact": ["true", "no", "1"],
    "reinforcing_band": ["yes", "False", "0"],
}

WILD = st.one_of(
    st.sampled_from(
        ["", " ", None, "nan", "inf", "-inf", "Infinity", "n/a", "1e400", " 3.5 ", "1,5", "0x10", "-1", "none", "a b",
         "x" * 65, "NBR2", math.nan, math.inf, -math.inf, True, False, 0, -0.0, 1, 1e9, -50.0, 10**400, [1.0], {}]
    ),
    st.floats(),
    st.text(max_size=5),
)  # fmt: skip


def heading_unit(name: str) -> st.SearchStrategy[str | None]:
    """A unit for the heading of a column of numbers; none for a plain ratio."""
    dimension = corpus.NUMBERS[name].dimension
    return st.sampled_from([*([None] if dimension == "ratio" else []), *units.factors(dimension)])


def number(name: str, unit: str | None) -> st.SearchStrategy[Any]:
    """A number for a column: usual, at or near a bound, or none at all."""
    held = corpus.NUMBERS[name]
    scale, offset = (1.0, 0.0) if unit is None else units.factor(held.dimension, unit)
    assert held.low is not None
    assert held.high is not None
    near = [
        (end + sign * size * max(abs(end), abs(offset), 1e-300) - offset) / scale
        for end in (held.low, held.high)
        for sign in (-1.0, 1.0)
        for size in (0.0, 0.5e-12, 2e-12, 1e-3)
    ]
    usual = st.sampled_from([(value - offset) / scale for value in USUAL[name]])
    return st.one_of(*[usual] * 8, usual.map(repr), st.sampled_from(near), WILD)


DESIGNS = [
    {"family": "flexible_lip"},
    {"family": "flexible_lip", "lip_tip": "upturned_with_garter"},
    {"family": "flexible_lip", "lip_tip": "upturned_with_garter", "garter": True},
    {"family": "energized_lip"},
    {"family": "energized_lip", "cantilever_v": True},
    {"family": "energized_lip", "energizer": "canted_coil", "canted_coil": True},
]


@st.composite
def tables(draw: st.DrawFn) -> dict[str, list[Any]]:
    """A table of a few rows: plausible designs, now and then with cells that are not."""
    unit = {name: draw(heading_unit(name)) for name in corpus.NUMBERS}
    title = {name: f"{name} [{unit[name]}]" if unit.get(name) else name for name in corpus.COLUMN_NAMES}
    rows = []
    for _ in range(draw(st.integers(1, 6))):
        design = draw(st.sampled_from(DESIGNS))
        row: dict[str, Any] = {name: value for name, value in design.items() if name in corpus.CHOICES}
        kinds = [name for name, value in design.items() if value is True]
        wanted = ["shaft_diameter", "pressure", "temperature"]
        wanted += draw(st.sampled_from([["rotational_speed"], ["surface_speed"],
                                        ["oscillation_half_amplitude", "oscillation_frequency"]]))  # fmt: skip
        wanted += [name for name in corpus.NUMBERS if name.partition(".")[0] in kinds]
        optional = ["temperature_min", "temperature_max", "runout", "offset", "shaft_hardness", "shaft_roughness",
                    "lip_thickness", "lip_length", "interference", "contact_width"]  # fmt: skip
        wanted += draw(st.lists(st.sampled_from(optional), unique=True))
        row |= {name: draw(st.sampled_from(USUAL[name])) for name in wanted}
        for name in wanted:
            scale, offset = (
                (1.0, 0.0) if unit[name] is None else units.factor(corpus.NUMBERS[name].dimension, unit[name] or "")
            )
            row[name] = (row[name] - offset) / scale
        named = ["fluid", "compound", *draw(st.lists(st.sampled_from(sorted(TEXTS)), unique=True, max_size=2))]
        for name in named:
            row.setdefault(name, draw(st.sampled_from(TEXTS[name])))
        for name in draw(st.lists(st.sampled_from([*corpus.NUMBERS, *sorted(TEXTS)]), unique=True, max_size=1)):
            if name in corpus.NUMBERS:
                row[name] = draw(number(name, unit[name]))
            else:
                row[name] = draw(st.one_of(*[st.sampled_from(TEXTS[name])] * 3, WILD))
        rows.append(row)
    return {title[name]: [row.get(name) for row in rows] for name in corpus.COLUMN_NAMES if name != "case_id"}


def empty(cell: Any) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())


def request_of(row: dict[str, Any]) -> dict[str, Any]:
    """The request that says what a row says, and is refused for what a row cannot say."""
    request: dict[str, Any] = {"duty": {"temperature": {}}, "design": {}}
    for heading, given_cell in row.items():
        name, unit = corpus.header(heading)
        cell = given_cell
        if empty(cell):
            continue
        if name in corpus.NUMBERS:
            if isinstance(cell, float) and math.isnan(cell):
                continue
            if isinstance(cell, str):
                try:
                    cell = float(cell)
                except ValueError:
                    cell = "no number"
            table = units.factors(corpus.NUMBERS[name].dimension)
            assert unit in table
            value: Any = {"value": cell, "unit": unit}
        elif name in corpus.FLAGS:
            word = str(cell).strip().lower()
            value = {"true": True, "yes": True, "1": True, "1.0": True, "false": False, "no": False, "0": False,
                     "0.0": False}.get(word, word)  # fmt: skip
        else:
            value = cell.strip() if isinstance(cell, str) else str(cell)
            if value == "not_stated" and name in {"machining_lead", "contaminants", "application"}:
                continue
        *path, field = PLACES.get(name, f"design.{name}").split(".")
        place = request
        for part in path:
            place = place.setdefault(part, {})
        place[field] = value
    motion = request["duty"].get("motion", {})
    kind = {"rotational_speed": "rotation", "surface_speed": "surface"}
    motion["kind"] = next((kind[field] for field in motion if field in kind), "oscillation")
    return request


def refused(row: dict[str, Any]) -> str | None:
    """Why the request that says the same is refused, if it is."""
    try:
        model = EnvelopeCheckRequest.model_validate(request_of(row))
        build(model.duty, model.design, RULES)
    except ValidationError as error:
        return str(error)
    return None


@laws(400, suppress_health_check=list(HealthCheck))
@given(tables())
def test_a_row_is_refused_exactly_when_its_request_is(table: dict[str, list[Any]]) -> None:
    flat = corpus.read(DATA, table)
    count = len(flat.ids)
    for place in range(count):
        row = {name: cells[place] for name, cells in table.items()}
        why = refused(row)
        assert (place in flat.faults) == (why is not None), (row, why, flat.faults.get(place))
        alone = corpus.read(DATA, {name: [cell] for name, cell in row.items()})
        assert alone.faults.get(0) == flat.faults.get(place)
    assert flat.index.tolist() == [place for place in range(count) if place not in flat.faults]
    for fault in flat.faults.values():
        said, accepted = fault.split("; accepted: ")
        assert said.split(": ")[0] in corpus.COLUMN_NAMES
        assert accepted


BASE: dict[str, Any] = {
    "shaft_diameter": 0.05,
    "rotational_speed": 25.0,
    "pressure": 2e5,
    "temperature": 330.0,
    "fluid": "water",
    "family": "flexible_lip",
    "compound": "ptfe_unfilled",
}
V = {"family": "energized_lip", "cantilever_v.thickness": 1e-4, "cantilever_v.length": 2e-3, "cantilever_v.root_angle": 0.35,
     "cantilever_v.coverage": 0.8, "cantilever_v.deflection": 4e-4}  # fmt: skip
COIL = {"family": "energized_lip", "energizer": "canted_coil", "canted_coil.wire_diameter": 4e-4, "canted_coil.height": 4e-3,
        "canted_coil.width": 4.4e-3, "canted_coil.pitch": 1e-3, "canted_coil.cant_angle": 0.6,
        "canted_coil.deflection": 8e-4}  # fmt: skip
GARTER = {"lip_tip": "upturned_with_garter", "garter.wire_diameter": 4e-4, "garter.mean_coil_diameter": 2e-3,
          "garter.free_length": 0.15, "garter.initial_tension": 0.5, "garter.active_coils": 300.0}  # fmt: skip


def headed(row: dict[str, Any]) -> dict[str, Any]:
    """Put the SI unit into the heading of every number that has none."""
    return {corpus.HEADINGS.get(name, (name,))[0]: cell for name, cell in row.items()}


@pytest.mark.parametrize("design", [{}, V, COIL, GARTER], ids=["plain", "cantilever_v", "canted_coil", "garter"])
def test_what_is_whole_is_taken(design: dict[str, Any]) -> None:
    row = headed({**BASE, **design})
    assert refused(row) is None
    assert not corpus.read(DATA, {name: [cell] for name, cell in row.items()}).faults


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        ({"lip_thickness [mm]": 0.0}, "lip_thickness: outside the range the service answers for; accepted: 0.001 mm to 1,000 mm"),
        ({"contact_width": 3.0}, "contact_width: outside the range"),
        ({**V, "cantilever_v.coverage": 5.0}, "cantilever_v.coverage: outside the range"),
        ({**V, "cantilever_v.thickness": 0.0}, "cantilever_v.thickness: outside the range"),
        ({**V, "cantilever_v.thickness": 3e-3}, "cantilever_v.thickness: the strip is thicker than its fingers are long"),
        ({**V, "cantilever_v.deflection": 1.0}, "cantilever_v.deflection: the deflection closes the V entirely"),
        ({**V, "cantilever_v.root_angle": 3.0}, "cantilever_v.root_angle: outside the range"),
        ({**V, "cantilever_v.coverage": None}, "cantilever_v.coverage: missing; accepted: all dimensions of a cantilever_v or none"),
        ({**V, "energizer": "canted_coil"}, "cantilever_v.thickness: dimensions of another kind of energizer are given"),
        ({**COIL, "canted_coil.height": 8e-4}, "canted_coil.height: the coil cannot have these dimensions; accepted: more than twice"),
        ({**COIL, "canted_coil.pitch": 3e-4}, "canted_coil.pitch: the coil cannot have these dimensions"),
        ({**COIL, "canted_coil.deflection": 3.3e-3}, "canted_coil.deflection: the coil cannot have these dimensions"),
        ({**GARTER, "lip_tip": "plain"}, "garter.wire_diameter: a plain tip cannot hold a garter"),
        ({**GARTER, "garter.mean_coil_diameter": 4e-4}, "garter.mean_coil_diameter: the mean coil diameter is not larger than the wire"),
        ({"shaft_hardness": 1e5}, "shaft_hardness: outside the range"),
        ({"temperature_max": math.inf}, "temperature_max: outside the range"),
        ({"temperature_min": -50.0}, "temperature_min: outside the range the service answers for; accepted: 0 K to 1,000 K"),
        ({"rotational_speed": 1e9}, "rotational_speed: outside the range"),
        ({"rotational_speed": None}, "rotational_speed: missing; accepted: one of"),
        ({"runout": 5.0}, "runout: outside the range"),
        ({"runout": "nan"}, "runout: not a number"),
        ({"runout": "inf"}, "runout: not a number"),
        ({"runout": True}, "runout: not a number"),
        ({"surface_speed": 2.0}, "surface_speed: says once more how the shaft moves"),
        ({"oscillation_frequency": 2.0}, "oscillation_half_amplitude: says once more"),
        ({"rotational_speed": None, "oscillation_frequency": 2.0}, "oscillation_half_amplitude: missing"),
        ({"heel": "extended"}, "heel: not known here; accepted: an empty cell; only family energized_lip has it"),
        ({**V, "second_lip": "none"}, "second_lip: not known here"),
        ({**V, "retention": "press_fit_case"}, "retention: not one of the values known here; accepted: one of o_ring, clamped_flange"),
        ({"retention": "clamped_flange", "o_ring_elastomer": "N BR"}, "o_ring_elastomer: not a name"),
    ],
)  # fmt: skip
def test_what_a_request_refuses_is_refused_in_a_row(changes: dict[str, Any], fault: str) -> None:
    row, good = headed({**BASE, **changes}), headed(BASE)
    assert refused(row) is not None
    flat = corpus.read(DATA, {name: [cell, good.get(name)] for name, cell in row.items()})
    assert fault in flat.faults[0]
    assert 1 not in flat.faults


def test_choices_are_those_of_the_contract() -> None:
    def literals(model: Any, name: str) -> set[str]:
        stack, found = [model.model_fields[name].annotation], set()
        while stack:
            item = stack.pop()
            found |= {item} if isinstance(item, str) else set()
            stack += get_args(item)
        return found

    for name, options in corpus.CHOICES.items():
        models = (Duty, Shaft, FlexibleLip, EnergizedLip)
        own = set().union(*(literals(model, name) for model in models if name in model.model_fields))
        former = corpus.FORMER.get(name, {})
        assert own - {*former} == set(options) - {"", "not_stated"}, name
        assert {*former} <= own, name
        assert {*former.values()} <= {*options}, name
        defaults = [model.model_fields[name].default for model in models if name in model.model_fields]
        if name != "family":
            assert all((options[0] if default else options[0] in {"", "not_stated"}) == (default or True)
                       for default in defaults), name  # fmt: skip


def test_columns_of_one_interval_have_it_in_both_families() -> None:
    for name in ("lip_thickness", "lip_length", "interference", "contact_width"):
        assert q.measured(FlexibleLip, name) == q.measured(EnergizedLip, name) == corpus.NUMBERS[name]


def test_numbers_are_rounded_as_in_a_request() -> None:
    r = np.random.default_rng(4)
    values = np.concatenate(
        [np.exp(r.uniform(-60.0, 25.0, 20_000)), np.round(r.uniform(0.0, 400.0, 5_000), 1) * 1e-3,
         [0.0, 1.0, 10.0, 0.9999999999999, 9.9999999999995, 1.000000000005, 1e22, 1e-22, 1e300, -5.5]]
    )  # fmt: skip
    assert (flat_cells.rounded(values) == [float(f"{value:.12g}") for value in values]).all()


def test_a_long_name_is_counted_without_its_length() -> None:
    base = RuleStore().trees["baseline"]
    table = {name: [cell] * 3 for name, cell in headed(BASE).items()}
    table["compound"] = ["ptfe_unfilled", "x" * 30_000, "ptfe_unfilled"]
    found = comparison.compare_table(comparison.pair(base, base, None, None), table)
    totals = comparison.Totals()
    totals.add(found)
    assert {name: sum(counts.values()) for name, counts in totals.by_compound.items()} == {
        "ptfe_unfilled": 2,
        "x" * 64: 1,
    }


@pytest.mark.parametrize("column", ["fluid", "heel", "food_contact", "runout", "case_id"])
def test_one_long_cell_costs_no_more_than_itself(column: str) -> None:
    count, long = 20_000, "x" * 30_000
    table = {name: [cell] * count for name, cell in headed({"case_id": "a", **BASE}).items()}
    (column,) = headed({column: None})
    table[column] = [*table.get(column, [""] * count)[1:], long]
    tracemalloc.start()
    begun = time.process_time()
    try:
        flat = corpus.read(DATA, table)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 40e6
    assert time.process_time() - begun < 5.0
    assert list(flat.faults) == ([] if column == "case_id" else [count - 1])
