"""Flat rows are judged as the requests they were made from, and a bad row stops nothing else."""

from __future__ import annotations

import importlib.util
import random
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from glandwise import spelling, units
from glandwise.case import flat as corpus
from glandwise.case.intake import build
from glandwise.questions.envelope import evaluation as batch
from glandwise_client._quantities import QuantityFault, write

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
    direct = batch.evaluate(DATA, cases.table_of(built))
    rows = [corpus.flatten(str(i), duty, design) for i, (duty, design) in enumerate(zip(duties, designs, strict=True))]
    table = corpus.table(rows)
    assert corpus.tabled([str(i) for i in range(200)], duties, designs) == table
    flat = corpus.read(DATA, table)
    assert not flat.faults
    found = batch.evaluate(DATA, flat.rows)
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
    row = corpus.read(DATA, simple()).rows[0]
    assert row["shaft_diameter"] == pytest.approx(0.05)
    assert row["rotational_speed"] == pytest.approx(25.0)
    assert row["pressure"] == pytest.approx(30 * 6894.757293168361)
    assert row["temperature"] == pytest.approx(333.15)


@pytest.mark.parametrize(
    ("heading", "value", "fault"),
    [
        ("fluid", "nectar", "fluid: no fluid of this name in the rule set; accepted: close names: vinegar"),
        ("fluid", "", "fluid: missing; accepted: one of: "),
        ("family", "lip", "family: not one of the values known here; accepted: one of flexible_lip, energized_lip"),
        ("retention", "glue", "retention: not one of the values known here"),
        (
            "shaft_diameter [mm]",
            -3.0,
            "shaft_diameter: outside the range the service answers for; accepted: 1 mm to 3,000 mm",
        ),
        ("pressure [psi]", None, "pressure: missing; accepted: -14.69 psi to 72,510 psi"),
        ("temperature_min [degF]", 200.0, "temperature_min: the minimum lies above the normal temperature"),
        ("runout [m]", -1.0, "runout: outside the range the service answers for; accepted: 0 m to 0.1 m"),
        ("food_contact", "maybe", "food_contact: not a truth value; accepted: true, false"),
        ("rotational_speed [rpm]", None, "rotational_speed: missing; accepted: one of rotational_speed, surface_speed"),
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
        ("runout", "the heading has no unit"),
        ("runout []", "the heading has no unit"),
        ("pressure [psia]", "an absolute pressure stands here, and the gauge pressure is asked for"),
    ],
)
def test_a_table_that_cannot_be_read_names_the_column(heading: str, fault: str) -> None:
    with pytest.raises(corpus.ColumnError, match=fault):
        corpus.read(DATA, {**simple(), heading: [1, 2]})


@pytest.mark.parametrize("field", corpus.NUMBERS)
def test_a_heading_of_a_dimension_without_its_unit_is_refused_with_what_is_accepted(field: str) -> None:
    if corpus.NUMBERS[field].dimension == "ratio":
        assert corpus.header(field) == (field, "1")
        return
    for heading in (field, f" {field} ", f"{field} []", f"{field} [ ]"):
        with pytest.raises(corpus.ColumnError, match="the heading has no unit") as caught:
            corpus.header(heading)
        assert caught.value.column == heading
        for accepted in caught.value.accepted.split(", "):
            assert corpus.header(accepted)[0] == field


SPELLINGS = {
    **{f"{name}{end}": None for names in spelling.ATOMS.values() for name in names for end in ("", "s")},
    **dict.fromkeys(
        ("mm", "°C", "deg F", "degrees C", "rev/min", "1 / min", "U/min", "N/mm²", "lbf/in^2", "µm", "thou", '"', "psig",
         "barg", "bar(g)", "kPag", "MPag", "psia", "bara", "metres per second", "m s-1", "feet/minute", "[in_i]", "MMT",
         "{rev}/min", "furlong", "mm mm", "Percent", "PSI", "RPM", "rad per s", "1/s", "Hz", "cycles"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("field", corpus.NUMBERS)
def test_a_heading_takes_every_spelling_that_the_client_takes(field: str) -> None:
    """And means by it what the client means; what the client refuses is refused here."""
    held = corpus.NUMBERS[field]
    accepted = units.DIMENSIONS[held.dimension].symbols
    taken = 0
    for text in [*SPELLINGS, *accepted]:
        try:
            symbol: str | None = write((1.0, text), accepted, gauge=held.dimension == "gauge_pressure")["unit"]
        except QuantityFault:
            symbol = None
        if symbol is None:
            with pytest.raises(corpus.ColumnError):
                corpus.header(f"{field} [{text}]")
        else:
            taken += 1
            assert corpus.header(f"{field} [{text}]") == (field, symbol)
    assert taken >= len(accepted)


def test_a_missing_column_is_named() -> None:
    table = simple()
    del table["fluid"]
    with pytest.raises(corpus.ColumnError, match="fluid: the column is missing"):
        corpus.read(DATA, table)
