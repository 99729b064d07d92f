"""Cases as a workbook: an empty one is filled in, and its rows are told what their requests are told alone."""

from __future__ import annotations

import csv
import datetime
import io
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from typing import Any

import openpyxl
import pytest
from fastapi.testclient import TestClient
from glandwise.api import workbooks
from glandwise.api.rows import HEAD, columns, fields_of
from glandwise.app import create_app
from glandwise.operations import OPERATIONS, XLSX
from glandwise.settings import Settings

from tests.conftest import assert_problem

HEADERS = {"content-type": XLSX}
TABLED = [row for row in OPERATIONS.values() if row.told]
ENVELOPE, WEAR = "/v1/envelope-checks", "/v1/wear-estimates"
FIRST: dict[str, Any] = {
    "case_id": "Q-1", "shaft_diameter": 60, "rotational_speed": 420, "pressure": 0.08, "temperature": 45,
    "fluid": "mineral_oil_gear", "family": "flexible_lip", "compound": "ptfe_carbon_graphite_25", "runout": 0.08,
}  # fmt: skip
SECOND: dict[str, Any] = {
    "case_id": 1002, "shaft_diameter": 40, "rotational_speed": 300.5, "pressure": 10, "temperature": 60,
    "fluid": "mineral_oil_hydraulic", "family": "energized_lip", "compound": "ptfe_carbon_25", "food_contact": False,
}  # fmt: skip


@pytest.fixture(scope="module")
def service() -> Iterator[TestClient]:
    """A service that judges batches in a thread."""
    with TestClient(create_app(Settings(batch_workers=0, max_batch_lines=50))) as session:
        yield session


def empty(client: TestClient, operation: str, **query: str) -> Any:
    """The empty workbook of an operation."""
    response = client.get(f"/v1/templates/{operation}", params=query)
    assert response.status_code == 200, response.text
    assert response.headers["content-type"] == XLSX
    return openpyxl.load_workbook(io.BytesIO(response.content))


def saved(book: Any) -> bytes:
    """A workbook as bytes."""
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def filled(book: Any, *rows: dict[str, Any], start: int = 2) -> bytes:
    """A workbook with rows under its headings."""
    sheet = book["cases"]
    places = {cell.value.partition(" [")[0]: cell.column for cell in sheet[1]}
    for number, row in enumerate(rows, start=start):
        for name, value in row.items():
            sheet.cell(number, places[name], value)
    return saved(book)


def plain(*rows: list[Any]) -> bytes:
    """A workbook of one sheet with some rows."""
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    return saved(book)


HEADING = [
    "case_id", "shaft_diameter [mm]", "rotational_speed [rpm]", "pressure [MPa]", "temperature [degC]", "fluid", "family",
    "compound", "runout [mm]",
]  # fmt: skip
GOOD = list(FIRST.values())


def answers(client: TestClient, path: str, content: bytes, **query: str) -> list[dict[str, Any]]:
    """What comes back for a workbook."""
    response = client.post(path, content=content, headers=HEADERS, params=query)
    assert response.status_code == 200, response.text
    assert response.headers["content-type"] == XLSX
    head, *rows = openpyxl.load_workbook(io.BytesIO(response.content))["answers"].iter_rows(values_only=True)
    return [dict(zip(head, row, strict=True)) for row in rows]


# ---------------------------------------------------------------------------------------------------------- the empty one


@pytest.mark.parametrize("units", ["si", "us"])
@pytest.mark.parametrize("operation", TABLED, ids=lambda row: row.name)
def test_the_empty_workbook_has_every_column_with_its_unit_and_says_what_it_is(
    service: TestClient, operation: Any, units: str
) -> None:
    book = empty(service, operation.name, units=units)
    head = [cell.value for cell in book["cases"][1]]
    found = columns(operation, head)
    assert {name for name, _ in found} == set(fields_of(operation))
    assert all((unit is not None) == (fields_of(operation)[name].measured is not None) for name, unit in found)
    assert ("shaft_diameter", "mm" if units == "si" else "in") in found
    said = list(book["columns"].iter_rows(min_row=2, values_only=True))
    assert [row[0] for row in said] == head
    for cell, (_, _, what, taken) in zip(book["cases"][1], said, strict=True):
        assert what, cell.value
        assert taken, cell.value
        assert what in cell.comment.text
    choices = {next(iter(choice.sqref.ranges)).min_col for choice in book["cases"].data_validations.dataValidation}
    assert {head[place - 1] for place in choices} >= {"fluid", "family", "compound", "heel", "food_contact"}
    names = {cell[0].value: [one.value for one in cell[1:] if one.value] for cell in book["names"].iter_cols()}
    assert set(names["fluid"]) == set(service.get("/v1/fluids").json()["fluids"])


def test_the_empty_workbook_is_kept_by_its_tag(service: TestClient) -> None:
    first, again = (service.get("/v1/templates/estimate_wear") for _ in range(2))
    assert first.content == again.content, "it does not hang on the clock"
    held = service.get("/v1/templates/estimate_wear", headers={"if-none-match": first.headers["etag"]})
    assert (held.status_code, held.content) == (304, b"")
    assert service.head("/v1/templates/estimate_wear").status_code == 200
    assert_problem(service.get("/v1/templates/select_design"), 404, "not-found")
    assert_problem(service.get("/v1/templates/estimate_wear", headers={"accept": "image/png"}), 406, "not-acceptable")
    assert_problem(service.get("/v1/templates/estimate_wear?unit=us"), 422, "invalid-request")
    assert_problem(service.get("/v1/templates/estimate_wear?rule_set=none"), 422, "unknown-name")


def test_an_empty_workbook_that_comes_back_empty_is_answered_with_no_row(service: TestClient) -> None:
    assert answers(service, ENVELOPE, saved(empty(service, "check_envelope"))) == []


# -------------------------------------------------------------------------------------------------------------- answers


@pytest.mark.parametrize("units", ["si", "us"])
@pytest.mark.parametrize("operation", TABLED, ids=lambda row: row.name)
def test_a_row_is_told_what_it_is_told_in_a_table_of_text(service: TestClient, operation: Any, units: str) -> None:
    found = answers(
        service, operation.path, filled(empty(service, operation.name), FIRST, SECOND, start=4), units=units
    )
    text = io.StringIO()
    writer = csv.writer(text)
    heading = [*HEADING, "food_contact"]
    writer.writerow(heading)
    for row in (FIRST, SECOND):
        writer.writerow([row.get(name.partition(" [")[0], "") for name in heading])
    response = service.post(
        operation.path, content=text.getvalue(), headers={"content-type": "text/csv"}, params={"units": units}
    )
    table = list(csv.DictReader(io.StringIO(response.text, newline="")))
    assert [row["line"] for row in found] == [4, 5]
    assert [row["case_id"] for row in found] == ["Q-1", "1002"]
    for one, other in zip(found, table, strict=True):
        assert (one["status"], one["fault"]) == (200, None)
        assert one["summary"].endswith(".")
        assert set(other) == set(one) - {told.name for told in operation.words}
        for name in set(other) - {"line"}:
            if isinstance(one[name], int | float):
                assert float(other[name]) == one[name], name
            else:
                assert other[name] == (one[name] or ""), name


def test_what_is_told_in_words_is_what_the_full_answer_says(service: TestClient) -> None:
    (row,) = answers(service, ENVELOPE, plain(HEADING, GOOD))
    request = {
        "duty": {
            "shaft_diameter": {"value": 60, "unit": "mm"},
            "motion": {"kind": "rotation", "rotational_speed": {"value": 420, "unit": "rpm"}},
            "pressure": {"value": 0.08, "unit": "MPa"},
            "temperature": {"normal": {"value": 45, "unit": "degC"}},
            "fluid": "mineral_oil_gear",
            "runout": {"value": 0.08, "unit": "mm"},
        },
        "design": {"family": "flexible_lip", "compound": "ptfe_carbon_graphite_25"},
    }
    alone = service.post(ENVELOPE, json=request).json()
    assert (row["verdict"], row["summary"]) == (alone["verdict"], alone["summary"])
    assert row["fingerprint"] == alone["stamp"]["fingerprint"]


def test_the_same_workbook_is_answered_with_the_same_bytes(service: TestClient) -> None:
    content = plain(HEADING, GOOD)
    first, again = (service.post(WEAR, content=content, headers=HEADERS).content for _ in range(2))
    assert first == again


def test_workers_answer_alike(service: TestClient) -> None:
    content = plain(HEADING, GOOD, ["x"])
    with TestClient(create_app(Settings(batch_workers=1))) as session:
        assert answers(session, WEAR, content) == answers(service, WEAR, content)
        assert_problem(session.post(WEAR, content=b"PK", headers=HEADERS), 400, "bad-request")


def bad(**other: Any) -> list[Any]:
    return list({**FIRST, **other}.values())


def test_each_bad_row_is_told_with_its_line_and_stops_no_other(service: TestClient) -> None:
    book = openpyxl.Workbook()
    rows = [
        HEADING, GOOD, bad(pressure="=0.04*2"), [], bad(fluid="unobtainium"), bad(pressure="n/a"), bad(case_id="=1+1"),
        bad(runout=0.35), [*GOOD, "more"], GOOD[:3], bad(pressure=datetime.date(2026, 3, 1)), bad(family=True),
        bad(shaft_diameter="#DIV/0!"), GOOD,
    ]  # fmt: skip
    for row in rows:
        book.active.append(row)
    book.active["I8"].number_format = "0 %"
    found = answers(service, ENVELOPE, saved(book))
    assert [(row["line"], row["status"], (row["fault"] or "").partition(";")[0]) for row in found] == [
        (2, 200, ""),
        (3, 422, "pressure: a formula stands here, which is not worked out"),
        (5, 422, "fluid: no fluid of this name in the rule set"),
        (6, 422, "pressure: not a number"),
        (7, 422, "case_id: a formula stands here, which is not worked out"),
        (8, 422, "runout: the cell is shown as a percentage"),
        (9, 422, "the row has more or fewer cells than the heading"),
        (10, 422, "pressure: missing"),
        (11, 422, "pressure: not a number"),
        (12, 422, found[9]["fault"].partition(";")[0]),
        (13, 422, "shaft_diameter: not a number"),
        (14, 200, ""),
    ]
    assert found[9]["fault"].startswith("family: ")
    assert all("accepted: " in row["fault"] for row in found if row["status"] == 422)
    assert all(row["verdict"] is None for row in found if row["status"] == 422)


def test_text_that_looks_like_a_formula_stays_text(service: TestClient) -> None:
    book = openpyxl.Workbook()
    book.active.append(HEADING)
    book.active.append(GOOD)
    book.active["A2"].value = "=2+5"
    book.active["A2"].data_type = "s"
    response = service.post(ENVELOPE, content=saved(book), headers=HEADERS)
    cell = openpyxl.load_workbook(io.BytesIO(response.content))["answers"]["B2"]
    assert (cell.value, cell.data_type) == ("=2+5", "s")


# ------------------------------------------------------------------------------------------------------------- refusals


def test_headings_are_refused_as_in_a_table_of_text(service: TestClient) -> None:
    def refused(content: bytes) -> dict[str, Any]:
        return assert_problem(service.post(ENVELOPE, content=content, headers=HEADERS), 422, "invalid-request")

    assert "no such column" in refused(plain([*HEADING, "colour"], GOOD))["detail"]
    assert "the unit does not fit" in refused(plain(["shaft_diameter [bar]", *HEADING], GOOD))["detail"]
    assert "the column is missing" in refused(plain(HEADING[:5], GOOD))["detail"]
    assert "twice" in refused(plain([*HEADING, "fluid"], GOOD))["detail"]
    assert "a formula" in refused(plain(['="case"&"_id"', *HEADING[1:]], GOOD))["detail"]
    assert "the column is missing" in refused(plain())["detail"]
    problem = assert_problem(
        service.post(f"{ENVELOPE}?detail=full", content=plain(HEADING, GOOD), headers=HEADERS), 422, "invalid-request"
    )
    assert problem["errors"][0]["pointer"] == "/query/detail"


def test_of_several_sheets_that_of_the_cases_is_read(service: TestClient) -> None:
    book = openpyxl.Workbook()
    book.active.append(["notes of my own"])
    other = book.create_sheet("Mappe2")
    other.append(HEADING)
    other.append(GOOD)
    problem = assert_problem(service.post(ENVELOPE, content=saved(book), headers=HEADERS), 422, "invalid-request")
    assert problem["errors"][0]["accepted"] == "one sheet, or one named cases"
    other.title = "Cases"
    assert [row["status"] for row in answers(service, ENVELOPE, saved(book))] == [200]


def replaced(content: bytes, name: str, part: bytes) -> bytes:
    """A workbook with another file in its archive."""
    stream = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as before,
        zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as after,
    ):
        assert name in before.namelist()
        for entry in before.namelist():
            after.writestr(entry, part if entry == name else before.read(entry))
    return stream.getvalue()


SHEET = "xl/worksheets/sheet1.xml"
OPEN = b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
ENTITIES = (
    b'<!DOCTYPE w [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;">'
    b'<!ENTITY s SYSTEM "file:///etc/passwd">]>'
)

CELL = b'<row r="1"><c r="A1" t="inlineStr"><is><t>&c;&s;</t></is></c></row></sheetData></worksheet>'


@pytest.mark.parametrize(
    "content",
    [
        b"", b"PK", b"case_id,fluid\n", plain(HEADING)[:-100], plain(HEADING)[:2000],
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(2000),  # as a workbook with a password begins
        replaced(plain(HEADING, GOOD), SHEET, b"<worksheet"),
        replaced(plain(HEADING, GOOD), SHEET, ENTITIES + OPEN + CELL),
    ],
    ids=["empty", "two letters", "text", "cut", "cut early", "password", "no sheet", "entities"],
)  # fmt: skip
def test_what_is_no_workbook_is_refused(service: TestClient, content: bytes) -> None:
    assert_problem(service.post(ENVELOPE, content=content, headers=HEADERS), 400, "bad-request", secret="root:")


def test_a_workbook_is_unpacked_within_bounds(service: TestClient) -> None:
    def refused(content: bytes) -> str:
        assert len(content) < 2_000_000
        detail = assert_problem(service.post(ENVELOPE, content=content, headers=HEADERS), 413, "content-too-large")[
            "detail"
        ]
        return str(detail)

    assert "bytes in all" in refused(replaced(plain(HEADING), SHEET, b" " * 200_000_000))
    many = io.BytesIO(plain(HEADING))
    with zipfile.ZipFile(many, "a") as archive:
        for number in range(workbooks.MOST_ENTRIES):
            archive.writestr(f"media/{number}", b"")
    assert "files" in refused(many.getvalue())
    assert "at most 50 rows" in refused(plain(HEADING, *[GOOD] * 51))


@pytest.mark.parametrize(
    ("rows", "fault"),
    [
        (b'<row r="1"><c r="XFD1"><v>1</v></c></row>', "more columns than are read"),
        (b'<row r="999999999"><c r="A1"><v>1</v></c></row>', "the column is missing"),
    ],
)
def test_a_sheet_of_nothing_far_away_costs_little(service: TestClient, rows: bytes, fault: str) -> None:
    content = replaced(plain(HEADING), SHEET, OPEN + rows + b"</sheetData></worksheet>")
    problem = assert_problem(service.post(ENVELOPE, content=content, headers=HEADERS), 422, "invalid-request")
    assert fault in problem["detail"]


def test_dimensions_that_are_wrong_leave_no_cell_out(service: TestClient) -> None:
    content = plain(HEADING, GOOD)
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        sheet = archive.read(SHEET)
    assert b'<dimension ref="A1:I2"' in sheet
    wrong = replaced(content, SHEET, sheet.replace(b'ref="A1:I2"', b'ref="A1:B1"'))
    assert answers(service, ENVELOPE, wrong) == answers(service, ENVELOPE, content)


def test_without_the_library_the_service_says_so(service: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    content = plain(HEADING, GOOD)
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    post = service.post(ENVELOPE, content=content, headers=HEADERS)
    get = service.get("/v1/templates/check_envelope")
    for response, status, kind in ((post, 415, "unsupported-media-type"), (get, 406, "not-acceptable")):
        assert "its extra xlsx" in assert_problem(response, status, kind)["detail"]


def test_the_library_is_loaded_when_it_is_asked_for() -> None:
    script = "import sys, glandwise.app, glandwise.api.workbooks; sys.exit('openpyxl' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", script], timeout=120.0, check=False).returncode == 0


def test_the_head_of_an_answer_is_that_of_a_table(service: TestClient) -> None:
    for operation in TABLED:
        (row,) = answers(service, operation.path, plain(HEADING, ["x"]))
        assert tuple(row)[: len(HEAD)] == HEAD
        assert [name.partition(" [")[0] for name in row][len(HEAD) :] == [one.name for one in workbooks.told(operation)]
