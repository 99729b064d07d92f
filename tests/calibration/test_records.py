"""Tables of records: what is taken, and what is refused with which line and reason."""

from __future__ import annotations

import re

import pytest
from glandwise import units
from glandwise.review.calibration.operation import KINDS, NAMES
from glandwise.review.calibration.records import Records, heading, read
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from tests.calibration.simulated import COMPOUND, baseline
from tests.conftest import ROOT

HEAD = "specimen,compound,medium,shaft_material,sliding_distance [m],contact_pressure [bar],depth [um]"
GOOD = f"A,{COMPOUND},dry,steel_hardened,1000,20,3"
GUIDE = (ROOT / "service" / "docs" / "calibration.md").read_text(encoding="utf-8")


def taken(text: str) -> Records:
    return read(text, KINDS["wear"].columns(), {name: getattr(baseline(), name) for name in NAMES})


def refused(text: str) -> str:
    with pytest.raises(ValidationError) as caught:
        taken(text)
    (error,) = caught.value.errors()
    assert error["loc"] == ("records",)
    return f"{error['msg']}; {error['ctx']['accepted']}"


def test_a_row_is_read_in_its_units() -> None:
    (row,) = taken(f"{HEAD}\n{GOOD}\n").rows
    assert row.line == 2
    assert row.texts == {"specimen": "A", "compound": COMPOUND, "medium": "dry", "shaft_material": "steel_hardened"}
    assert row.numbers == pytest.approx({"sliding_distance": 1000.0, "contact_pressure": 2.0e6, "depth": 3.0e-6})
    assert row["roughness"] != row["roughness"]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("1000", "x", "sliding_distance: not a number; accepted: 0.001 m to 1e+09 m"),
        ("1000", "", "sliding_distance: missing; accepted"),
        ("1000", "nan", "sliding_distance: not a number"),
        ("1000", "-5", "sliding_distance: outside the range"),
        ("20", "1e9", "contact_pressure: outside the range the service answers for; accepted: 0.001 bar to 10,000 bar"),
        (
            COMPOUND,
            "ptfe_of_nobody",
            "compound: no compound of this name in the rule set; accepted: one of: ptfe_bronze_40",
        ),
        ("dry", "vacuum", "medium: not one of the values known here; accepted: one of: "),
        ("A,", ",", "specimen: missing"),
        ("A,", f"{'A' * 65},", "specimen: not one line of text"),
        (",3", ",3,4", "row: 8 cells; accepted: 7, as in the heading"),
        (",3", "", "row: 6 cells"),
    ],
)
def test_a_bad_row_is_refused_with_its_line_and_stops_no_other(old: str, new: str, said: str) -> None:
    records = taken(f"{HEAD}\n\n{GOOD}\n{GOOD.replace(old, new)}\n{GOOD}\n")
    assert list(records.refused) == [4]
    assert records.refused[4].startswith(said)
    assert [row.line for row in records.taken()] == [3, 5]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "a table without a heading; specimen, compound"),
        (HEAD.replace("depth [um]", "deepness [um]"), "a heading that is not known; heading 7: specimen, compound"),
        (HEAD.replace("depth [um]", "depth"), "a heading without its unit; heading 7: depth [mm], "),
        (HEAD.replace("depth [um]", "depth [N]"), "a unit that does not fit its column; heading 7: depth [mm], "),
        (HEAD.replace("medium", "medium [1]"), "a unit in the heading of a column that has none; heading 3: medium"),
        (HEAD.replace("medium", "compound"), "a heading that is there twice; heading 3"),
        (HEAD.replace("medium,", ""), "a column that is needed is missing; medium"),
        (f'{HEAD}\n"A"x,{COMPOUND}', "a line that cannot be read as a row of a table"),
        (f"{HEAD}\n" + f"{GOOD}\n" * 20_001, "too many rows; at most 20000 rows"),
    ],
)
def test_a_table_that_cannot_be_read_is_refused(text: str, said: str) -> None:
    assert refused(text).startswith(said)


def test_a_quoted_cell_with_a_line_break_keeps_the_count_of_lines() -> None:
    records = taken(f'{HEAD}\n"A\nB",{GOOD[2:]}\n{GOOD.replace("1000", "x")}\n')
    assert list(records.refused) == [2, 4]


@given(st.lists(st.lists(st.text(max_size=8), max_size=9), max_size=5))
def test_whatever_stands_in_a_table_is_taken_or_refused(cells: list[list[str]]) -> None:
    lines = [",".join(f'"{cell.replace(chr(34), chr(34) * 2)}"' for cell in row) for row in cells]
    records = taken("\n".join([HEAD, *lines]))
    assert len(records.taken()) + len(records.refused) == records.count


@pytest.mark.parametrize("kind", KINDS)
def test_the_guide_has_every_column(kind: str) -> None:
    section = re.split(r"^### ", GUIDE, flags=re.MULTILINE)
    (text,) = [part for part in section if part.startswith(f"{kind}\n")]
    told = re.findall(r"^\| `([a-z_]+)(?: \[.*?\])?` \|", text, re.MULTILINE)
    columns = KINDS[kind].columns()
    assert told == list(columns)
    for name, column in columns.items():
        if column.measured is not None and column.measured.dimension != "ratio":
            (unit,) = set(re.findall(rf"`{name} \[(.+?)\]`", text))
            assert unit in units.DIMENSIONS[column.measured.dimension].symbols, heading(name, column)
