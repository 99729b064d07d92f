"""One case, sent in every form there is: the same record for machine code, and the same words where it is refused."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from fastapi.testclient import TestClient
from glandwise.api.negotiation import COLUMNS
from glandwise.app import create_app
from glandwise.case import flat, record, rows
from glandwise.case.rows import Table
from glandwise.contract.envelope import EnvelopeCheckRequest
from glandwise.questions.envelope import judge
from glandwise.review.corpus_job import blocks
from glandwise.rules.loader import RuleStore
from glandwise.settings import Settings

from tests.conftest import changed

CHECKS, SELECTIONS, MAPS = "/v1/envelope-checks", "/v1/selections", "/v1/operating-maps"
DATA = RuleStore().trees["baseline"].newest().data


def q(value: float, unit: str) -> dict[str, Any]:
    return {"value": value, "unit": unit}


DUTY = {
    "shaft_diameter": q(2.0, "in"),
    "motion": {"kind": "rotation", "rotational_speed": q(900.0, "rpm")},
    "pressure": q(0.25, "bar"),
    "temperature": {"normal": q(110.0, "degF"), "maximum": q(70.0, "degC")},
    "fluid": "mineral_oil_gear",
    "runout": q(0.05, "mm"),
    "shaft": {"material": next(name for name, item in DATA.shaft_materials.items() if item.hardness is not None)},
}
SWING = {"kind": "oscillation", "half_amplitude": q(40.0, "deg"), "frequency": q(1.5, "Hz")}
FILLED = next(name for name, item in DATA.compounds.items() if item.fillers)
LIP = {"family": "flexible_lip", "compound": FILLED}
SPRUNG = {"family": "energized_lip", "compound": "ptfe_unfilled"}
STRIP = {"strip_thickness": q(0.1, "mm"), "finger_length": q(2.0, "mm"), "root_angle": q(20.0, "deg"),
         "coverage": q(80.0, "%"), "deflection": q(0.4, "mm")}  # fmt: skip
COIL = {"wire_diameter": q(0.4, "mm"), "coil_height": q(4.0, "mm"), "coil_width": q(4.4, "mm"), "pitch": q(1.0, "mm"),
        "cant_angle": q(35.0, "deg"), "deflection": q(0.8, "mm")}  # fmt: skip
GARTER = {"wire_diameter": q(0.4, "mm"), "mean_coil_diameter": q(2.0, "mm"), "free_length": q(150.0, "mm"),
          "initial_tension": q(0.5, "N"), "active_coils": q(300.0, "1")}  # fmt: skip
CASES: dict[str, dict[str, Any]] = {
    "plain": {"duty": DUTY, "design": LIP},
    "swing": {"duty": {**DUTY, "motion": SWING, "lubrication": "flooded"}, "design": {**LIP, "retention": "clamped_flange"}},
    "surface": {
        "duty": {**DUTY, "motion": {"kind": "surface", "surface_speed": q(400.0, "ft/min")}},
        "design": {**LIP, "second_lip": "redundant", "reinforcing_band": True, "lip_thickness": q(0.8, "mm")},
    },
    "garter": {"duty": DUTY, "design": {**LIP, "lip_tip": "upturned_with_garter"}},
    "own_garter": {"duty": DUTY, "design": {**LIP, "lip_tip": "upturned_with_garter", "garter": GARTER}},
    "strip": {"duty": {**DUTY, "contaminants": "dusty", "food_contact": True}, "design": {**SPRUNG, "lip_form": "scraper"}},
    "own_strip": {"duty": DUTY, "design": {**SPRUNG, "cantilever_v": STRIP, "heel": "extended"}},
    "coil": {"duty": DUTY, "design": {**SPRUNG, "energizer": "canted_coil", "energizer_alloy": next(iter(DATA.alloys))}},
    "own_coil": {"duty": DUTY, "design": {**SPRUNG, "energizer": "canted_coil", "canted_coil": COIL}},
}  # fmt: skip


@pytest.fixture(scope="module")
def service() -> Iterator[TestClient]:
    """A service that works everything off within this process."""
    with TestClient(create_app(Settings(batch_workers=0))) as session:
        yield session


@pytest.fixture
def judged(monkeypatch: pytest.MonkeyPatch) -> list[Table]:
    """The records that machine code was given, pass by pass."""
    given: list[Table] = []
    over_rows = judge.over_rows

    def noted(kernel: Any, tables: tuple[Any, ...], *arguments: Any) -> Any:
        given.append(tables[0].copy())
        return over_rows(kernel, tables, *arguments)

    monkeypatch.setattr(judge, "over_rows", noted)
    return given


def columns(request: dict[str, Any]) -> dict[str, list[Any]]:
    """A request as a table of one row."""
    model = EnvelopeCheckRequest.model_validate(request)
    return flat.table([flat.flatten("a", model.duty, model.design)])


def stream(table: dict[str, list[Any]]) -> bytes:
    sink, content = pa.BufferOutputStream(), pa.table(table)
    with pa.ipc.new_stream(sink, content.schema) as writer:
        writer.write_table(content)
    return bytes(sink.getvalue())


def files(table: dict[str, list[Any]], folder: Path) -> Iterator[Path]:
    """A table in every format of a corpus."""
    pq.write_table(pa.table(table), folder / "one.parquet")
    with (folder / "one.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([list(table), *zip(*table.values(), strict=True)])
    for suffix in (".parquet", ".csv"):
        yield folder / f"one{suffix}"


def same(one: Any, other: Any) -> None:
    """Assert that two records are the same, field by field, to the last digit."""
    for name in record.FIELDS:
        a, b = one[name], other[name]
        assert a == b or (a != a and b != b), (name, a, b)


@pytest.mark.parametrize("name", CASES)
def test_a_case_becomes_the_same_record_whatever_it_came_in(
    name: str, service: TestClient, judged: list[Table], tmp_path: Path
) -> None:
    request = CASES[name]
    assert service.post(CHECKS, json=request).status_code == 200
    expected = judged[0][0]
    judged.clear()
    lines = service.post(CHECKS, content=json.dumps(request), headers={"content-type": "application/x-ndjson"})
    assert json.loads(lines.content)["status"] == 200
    same(judged[0][0], expected)
    table = columns(request)
    judged.clear()
    assert service.post(CHECKS, content=stream(table), headers={"content-type": COLUMNS}).status_code == 200
    same(judged[0][0], expected)
    (tmp_path / "one.ndjson").write_text(json.dumps({"case_id": "a", **request}), encoding="utf-8")
    for path in (*files(table, tmp_path), tmp_path / "one.ndjson"):
        ((block, _),) = blocks(path)
        read = flat.read(DATA, block)
        assert not read.faults
        same(rows.fill(DATA, read.rows)[0], expected)


@pytest.mark.parametrize("name", ["plain", "swing", "strip", "coil"])
def test_a_point_of_a_grid_is_the_record_of_its_request(name: str, service: TestClient, judged: list[Table]) -> None:
    request = CASES[name]
    design = request["design"]
    wanted = {"families": [design["family"]], "compounds": [design["compound"]]}
    found = service.post(SELECTIONS, json={"duty": request["duty"], "restrict": wanted, "limit": 5}).json()
    grid = judged[0]
    for item in (*found["ranked"], *found["near_misses"]):
        judged.clear()
        service.post(CHECKS, json={"duty": request["duty"], "design": item["design"]})
        expected = judged[0][0]
        # its codes say which of the grid it is
        alike = np.logical_and.reduce([grid[field] == expected[field] for field in record.NAMES])
        assert alike.sum() == 1
        same(grid[alike][0], expected)


@pytest.mark.parametrize("name", ["plain", "own_strip"])
def test_a_point_of_a_map_is_the_record_of_its_request(name: str, service: TestClient, judged: list[Table]) -> None:
    request = CASES[name]
    axes = {"x": {"kind": "pressure", "low": q(0.0, "bar"), "high": q(0.5, "bar"), "points": 11},
            "y": {"kind": "runout", "low": q(0.0, "mm"), "high": q(0.1, "mm"), "points": 11}}  # fmt: skip
    answer = service.post(MAPS, json={**request, **axes})
    assert answer.status_code == 200, answer.text
    duty, grid = judged[0][0], next(table for table in judged if len(table) == 121)
    (here,) = np.flatnonzero(
        np.isclose(grid["pressure"], duty["pressure"]) & np.isclose(grid["runout"], duty["runout"])
    )
    point = grid[here].copy()
    for field in ("pressure", "runout"):  # which a grid divides
        point[field] = duty[field]
    same(point, duty)


# ------------------------------------------------------------------------------------------------------------ refusals


FAULTS: dict[str, tuple[str, str, str, Any, Any]] = {
    # case, pointer, column, what stands in the request, what stands in the cell
    "fluid": ("plain", "/duty/fluid", "fluid", "minral_oil", "minral_oil"),
    "no fluid like it": ("plain", "/duty/fluid", "fluid", "qqqq", "qqqq"),
    "compound": ("plain", "/design/compound", "compound", "ptfe_carbn_25", "ptfe_carbn_25"),
    "material": ("plain", "/duty/shaft/material", "shaft_material", "chese", "chese"),
    "alloy": ("coil", "/design/energizer_alloy", "energizer_alloy", "N10277", "N10277"),
    "elastomer": ("plain", "/design/o_ring_elastomer", "o_ring_elastomer", "NBX", "NBX"),
    "diameter": ("plain", "/duty/shaft_diameter", "shaft_diameter", q(9e3, "mm"), 9.0),
    "minimum": ("plain", "/duty/temperature/minimum", "temperature_min", q(400.0, "K"), 400.0),
    "maximum": ("plain", "/duty/temperature/maximum", "temperature_max", q(200.0, "K"), 200.0),
    "closed strip": ("own_strip", "/design/cantilever_v/deflection", "cantilever_v.deflection", q(9.0, "mm"), 9e-3),
    "thick strip": ("own_strip", "/design/cantilever_v/strip_thickness", "cantilever_v.thickness", q(3.0, "mm"), 3e-3),
    "low coil": ("own_coil", "/design/canted_coil/coil_height", "canted_coil.height", q(0.8, "mm"), 8e-4),
    "narrow coil": ("own_coil", "/design/canted_coil/coil_width", "canted_coil.width", q(0.8, "mm"), 8e-4),
    "dense coil": ("own_coil", "/design/canted_coil/pitch", "canted_coil.pitch", q(0.3, "mm"), 3e-4),
    "flat coil": ("own_coil", "/design/canted_coil/deflection", "canted_coil.deflection", q(3.9, "mm"), 3.9e-3),
    "thin garter": ("own_garter", "/design/garter/mean_coil_diameter", "garter.mean_coil_diameter", q(0.4, "mm"), 4e-4),
}  # fmt: skip


def with_cell(table: dict[str, list[Any]], column: str, cell: Any) -> dict[str, list[Any]]:
    """A table of one row with another cell, a number in SI."""
    heading = flat.HEADINGS.get(column, (column,))[0]
    return {**table, heading: [cell]}


@pytest.mark.parametrize("name", FAULTS)
def test_a_case_is_refused_in_the_same_words_whatever_it_came_in(
    name: str, service: TestClient, tmp_path: Path
) -> None:
    case, pointer, column, value, cell = FAULTS[name]
    good = CASES[case]
    request = changed(good, pointer, value)
    (problem,) = service.post(CHECKS, json=request).json()["errors"]
    assert problem["pointer"] == pointer
    lines = service.post(CHECKS, content=json.dumps(request), headers={"content-type": "application/x-ndjson"})
    assert json.loads(lines.content)["problem"]["errors"] == [problem]
    for path in (SELECTIONS, MAPS):
        body: dict[str, Any] = {"duty": request["duty"]}
        if path == MAPS:
            body = {**request, "x": {"kind": "pressure"}, "y": {"kind": "runout"}}
        elif not pointer.startswith("/duty"):
            continue
        assert service.post(path, json=body).json()["errors"] == [problem]
    table = with_cell(columns(good), column, cell)
    said = {flat.read(DATA, table).faults[0]}
    answer = service.post(CHECKS, content=stream(table), headers={"content-type": COLUMNS})
    said.update(pa.ipc.open_stream(answer.content).read_all()["fault"].to_pylist())
    for path in files(table, tmp_path):
        said.add(flat.read(DATA, next(blocks(path)).table).faults[0])
    accepted = problem["accepted"]
    if name == "diameter":  # each in its own unit
        accepted = accepted.replace("1 mm to 3,000 mm", "0.001 m to 3 m")
    assert said == {f"{column}: {problem['detail']}; accepted: {accepted}"}
