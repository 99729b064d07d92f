"""Flat rows are judged as the requests they were made from, and a bad row stops nothing else."""

from __future__ import annotations

import importlib.util
import random
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from glandwise.checks import batch, corpus
from glandwise.checks.case import build

_spec = importlib.util.spec_from_file_location("batch_cases", Path(__file__).with_name("test_batch.py"))
assert _spec is not None
assert _spec.loader is not None
cases = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(cases)

DATA = cases.RULES.data


def test_rows_are_judged_as_their_requests() -> None:
    r = random.Random(21)
    duties, designs = [cases.random_duty(r) for _ in range(200)], [cases.random_design(r) for _ in range(200)]
    built = [build(duty, design, cases.RULES) for duty, design in zip(duties, designs, strict=True)]
    direct = batch.evaluate(DATA, batch.columns(DATA, built, duties, designs))
    rows = [corpus.flatten(str(i), duty, design) for i, (duty, design) in enumerate(zip(duties, designs, strict=True))]
    flat = corpus.read(DATA, corpus.table(rows))
    assert not flat.faults
    found = batch.evaluate(DATA, flat.columns)
    for name in direct.criteria:
        assert (direct.status[name] == found.status[name]).all(), name
    for name in direct.utilization:
        assert np.allclose(direct.utilization[name], found.utilization[name], rtol=1e-9, equal_nan=True), name


def simple(**changes: Any) -> dict[str, list[Any]]:
    row: dict[str, Any] = {
        "case_id": "a",
        "shaft_diameter [mm]": 50.0,
        "rotational_speed [rpm]": 1500.0,
        "pressure [psi]": 30.0,
        "temperature [degF]": 140.0,
        "fluid": "water",
        "family": "flexible_lip",
        "compound": "ptfe_unfilled",
    }
    row.update(changes)
    return {name: [value, value] for name, value in row.items()}


def test_units_stand_in_the_heading() -> None:
    columns = corpus.read(DATA, simple()).columns
    assert columns.shaft_diameter[0] == pytest.approx(0.05)
    assert columns.rotational_speed[0] == pytest.approx(25.0)
    assert columns.pressure[0] == pytest.approx(30 * 6894.757293168361)
    assert columns.temperature[0] == pytest.approx(333.15)


@pytest.mark.parametrize(
    ("heading", "value", "fault"),
    [
        ("fluid", "nectar", "fluid is not known"),
        ("fluid", "", "fluid is empty"),
        ("family", "lip", "family is not one of"),
        ("retention", "glue", "retention is not one of"),
        ("shaft_diameter [mm]", -3.0, "shaft_diameter is outside the range; accepted: 1 mm to 3,000 mm"),
        ("pressure [psi]", None, "pressure is empty; accepted: -14.7 psi to"),
        ("temperature_min [degF]", 200.0, "temperature_min lies above the normal temperature"),
        ("runout", -1.0, "runout is outside the range; accepted: 0 m to 0.1 m"),
        ("food_contact", "maybe", "food_contact is not true or false"),
        ("rotational_speed [rpm]", None, "how the shaft moves"),
    ],
)
def test_a_bad_row_is_refused_alone(heading: str, value: Any, fault: str) -> None:
    table = simple()
    good = table.get(heading, [None, None])[0]
    table[heading] = [good, value]
    flat = corpus.read(DATA, table)
    assert flat.index.tolist() == [0]
    assert fault in flat.faults[1]


@pytest.mark.parametrize(
    ("heading", "fault"),
    [
        ("colour", "no such column"),
        ("pressure [mm]", "the unit does not fit"),
        ("fluid [mm]", "this column has no unit"),
    ],
)
def test_a_table_that_cannot_be_read_names_the_column(heading: str, fault: str) -> None:
    with pytest.raises(corpus.ColumnError, match=fault):
        corpus.read(DATA, {**simple(), heading: [1, 2]})


def test_a_missing_column_is_named() -> None:
    table = simple()
    del table["fluid"]
    with pytest.raises(corpus.ColumnError, match="fluid: the column is missing"):
        corpus.read(DATA, table)
