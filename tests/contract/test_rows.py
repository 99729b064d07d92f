"""Cases by rows of a CSV table: what a row is told is what its request is told alone, and a bad row is told why."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient
from glandwise.api.rows import HEAD, fields_of
from glandwise.app import create_app
from glandwise.case import flat
from glandwise.operations import OPERATIONS
from glandwise.settings import Settings

from tests.conftest import assert_problem

HEADERS = {"content-type": "text/csv"}
TABLE = """case_id,shaft_diameter [mm],rotational_speed [rpm],pressure [psi],temperature [degC],fluid,family,compound,runout [mil]
Q-1,60,420,12,45,mineral_oil_gear,flexible_lip,ptfe_carbon_graphite_25,3
Q-2,40,300,1500,60,mineral_oil_hydraulic,energized_lip,ptfe_carbon_25,
"""
HEADING, FIRST, SECOND = TABLE.splitlines()
REQUESTS: list[dict[str, Any]] = [
    {
        "duty": {
            "shaft_diameter": {"value": 60, "unit": "mm"},
            "motion": {"kind": "rotation", "rotational_speed": {"value": 420, "unit": "rpm"}},
            "pressure": {"value": 12, "unit": "psi"},
            "temperature": {"normal": {"value": 45, "unit": "degC"}},
            "fluid": "mineral_oil_gear",
            "runout": {"value": 3, "unit": "mil"},
        },
        "design": {"family": "flexible_lip", "compound": "ptfe_carbon_graphite_25"},
    },
    {
        "duty": {
            "shaft_diameter": {"value": 40, "unit": "mm"},
            "motion": {"kind": "rotation", "rotational_speed": {"value": 300, "unit": "rpm"}},
            "pressure": {"value": 1500, "unit": "psi"},
            "temperature": {"normal": {"value": 60, "unit": "degC"}},
            "fluid": "mineral_oil_hydraulic",
        },
        "design": {"family": "energized_lip", "compound": "ptfe_carbon_25"},
    },
]
TABLED = [row for row in OPERATIONS.values() if row.told]
ENVELOPE = "/v1/envelope-checks"


@pytest.fixture(scope="module")
def service() -> Iterator[TestClient]:
    """A service that judges batches in a thread."""
    with TestClient(create_app(Settings(batch_workers=0))) as session:
        yield session


def rows(client: TestClient, path: str, content: str | bytes, **query: str) -> list[dict[str, str]]:
    """What comes back for a table."""
    response = client.post(path, content=content, headers=HEADERS, params=query)
    assert response.status_code == 200, response.text
    assert response.headers["content-type"].startswith("text/csv")
    return list(csv.DictReader(io.StringIO(response.text, newline="")))


def test_tables_are_taken_for_the_four_questions_of_a_list_of_cases() -> None:
    assert {row.name for row in TABLED} == {"check_envelope", "estimate_friction", "estimate_wear", "answer_enquiry"}


@pytest.mark.parametrize("units", ["si", "us"])
@pytest.mark.parametrize("operation", TABLED, ids=lambda row: row.name)
def test_a_row_is_told_what_its_request_is_told_alone(service: TestClient, operation: Any, units: str) -> None:
    found = rows(service, operation.path, TABLE, units=units)
    assert [(row["line"], row["case_id"], row["status"], row["fault"]) for row in found] == [
        ("2", "Q-1", "200", ""), ("3", "Q-2", "200", ""),
    ]  # fmt: skip
    detail = {"detail": "verdict"} if operation.brief is not None else {}
    for row, request in zip(found, REQUESTS, strict=True):
        alone = service.post(operation.path, json={**request, **detail, "units": {"system": units}}).json()
        assert row["fingerprint"] == alone["stamp"]["fingerprint"]
        assert len(row) == len(HEAD) + len(operation.told)
        for told in operation.told:
            place: Any = alone
            for part in told.path:
                if place is not None:
                    place = place[part] if isinstance(part, str) else {one[part[0]]: one for one in place}[part[1]]
            if told.dimension is None:
                assert row[told.name] == ("" if place is None else str(place)), told.name
                continue
            (heading,) = [name for name in row if name.partition(" [")[0] == told.name]
            if place is not None:
                assert heading == f"{told.name} [{place['unit']}]"
                assert float(row[heading]) == place["value"]
            else:
                assert row[heading] == ""
    assert any(row[name] for row in found for name in row if "[" in name) or operation.brief is not None


def test_each_bad_row_is_told_with_its_line_and_stops_no_other(service: TestClient) -> None:
    bad = [
        FIRST.replace(",12,", ",n/a,"), FIRST.replace("mineral_oil_gear", "unobtainium"), FIRST.replace(",60,", ",-60,", 1),
        FIRST + ",5", FIRST.replace(",420,", ",,"), FIRST.replace("Q-1", '"Q\n1"').replace(",45,", ",,"),
        FIRST.replace(",12,", ',"8,5",'), "", FIRST.replace("flexible_lip", "flexible"),
    ]  # fmt: skip
    found = rows(service, ENVELOPE, "\n".join([HEADING, FIRST, *bad, SECOND]))
    told = [(row["line"], row["status"], row["fault"].partition(";")[0]) for row in found]
    last = told.pop(8)
    assert (last[:2], last[2].partition(":")[0]) == (("12", "422"), "family")
    assert told == [
        ("2", "200", ""),
        ("3", "422", "pressure: not a number"),
        ("4", "422", "fluid: no fluid of this name in the rule set"),
        ("5", "422", "shaft_diameter: too small"),
        ("6", "422", "the row has more or fewer cells than the heading"),
        ("7", "422", "rotational_speed: missing"),
        ("8", "422", "temperature: missing"),
        ("10", "422", "pressure: not a number"),
        ("13", "200", ""),
    ]
    assert all("; accepted: " in row["fault"] for row in found if row["status"] == "422")
    assert all(row["verdict"] == "" for row in found if row["status"] == "422")
    assert found[6]["case_id"] == "Q\n1"


def test_every_column_has_its_place_in_a_request() -> None:
    for operation in TABLED:
        taken = fields_of(operation)
        assert set(flat.COLUMN_NAMES) <= set(taken)
        assert len({field.path for field in taken.values()}) == len(taken)
        for name, field in taken.items():
            assert (field.measured is not None) == (
                name in flat.NUMBERS or name in {"target_life", "wear_allowance", "axial_width"}
            )


def test_plain_fields_of_a_request_are_columns(service: TestClient) -> None:
    content = f"{HEADING},target_life [h],pieces,reference\n{FIRST},1000000,5,RFQ 7\n{FIRST},,0,\n"
    found = rows(service, "/v1/enquiries", content)
    request = {
        **REQUESTS[0],
        "target_life": {"value": 1e6, "unit": "h"},
        "pieces": 5,
        "reference": "RFQ 7",
        "detail": "verdict",
    }
    assert found[0]["fingerprint"] == service.post("/v1/enquiries", json=request).json()["stamp"]["fingerprint"]
    assert found[1]["fault"].startswith("pieces: ")
    assert_problem(
        service.post("/v1/enquiries", content=content.replace("[h]", "[mm]"), headers=HEADERS), 422, "invalid-request"
    )
    assert_problem(service.post(ENVELOPE, content=content, headers=HEADERS), 422, "invalid-request")


def test_an_enquiry_needs_no_design(service: TestClient) -> None:
    names, cells = ([text.split(",")[place] for place in (1, 2, 3, 4, 5)] for text in (HEADING, FIRST))
    content = f"{','.join(names)}\n{','.join(cells)}\n"
    (found,) = rows(service, "/v1/enquiries", content)
    assert found["chosen"] in {"selected", "nearest"}
    assert found["compound"]
    problem = assert_problem(service.post(ENVELOPE, content=content, headers=HEADERS), 422, "invalid-request")
    assert problem["errors"][0]["pointer"] == "/family"


@pytest.mark.parametrize(
    ("content", "pointer"),
    [
        (TABLE.replace(" [psi]", ""), "/pressure"), (TABLE.replace("[psi]", "[mm]"), "/pressure [mm]"),
        (TABLE.replace("[psi]", "[psia]"), "/pressure [psia]"), (TABLE.replace("fluid", "flluid", 1), "/flluid"),
        (TABLE.replace("runout [mil]", "fluid"), "/fluid"), (TABLE.replace("pressure [psi]", "offset [mm]"), "/pressure"),
        (TABLE.replace("rotational_speed [rpm]", "offset [mm]"), "/rotational_speed"), ("", "/shaft_diameter"),
        (TABLE.replace(",", ";"), ""), (TABLE.replace("case_id", "case_id [mm]"), "/case_id [mm]"),
    ],
)  # fmt: skip
def test_a_table_that_cannot_be_read_is_refused_whole(service: TestClient, content: str, pointer: str) -> None:
    problem = assert_problem(service.post(ENVELOPE, content=content, headers=HEADERS), 422, "invalid-request")
    assert problem["errors"][0]["pointer"] == pointer
    assert problem["errors"][0]["accepted"]


def test_what_spreadsheets_write_is_read(service: TestClient) -> None:
    plain = rows(service, ENVELOPE, TABLE)
    for content in (TABLE.replace("\n", "\r\n").encode("utf-8-sig"), TABLE.rstrip("\n"), "\n\n" + TABLE):
        found = rows(service, ENVELOPE, content)
        assert [row["fingerprint"] for row in found] == [row["fingerprint"] for row in plain]
    assert rows(service, ENVELOPE, HEADING) == []


@pytest.mark.parametrize(
    ("content", "status", "kind"),
    [
        (TABLE.encode("utf-16"), 400, "bad-request"), (HEADING + "\n" + "x" * 200_000, 400, "bad-request"),
        (HEADING + "\n" + (FIRST + "\n") * 21, 413, "content-too-large"),
    ],
)  # fmt: skip
def test_what_is_no_table_is_refused(content: str | bytes, status: int, kind: str) -> None:
    with TestClient(create_app(Settings(batch_workers=0, max_batch_lines=20))) as client:
        assert_problem(client.post(ENVELOPE, content=content, headers=HEADERS), status, kind)


@pytest.mark.parametrize(
    ("query", "pointer"),
    [({"unit": "us"}, "/query/unit"), ({"units": "metric"}, "/query/units/system"), ({"as_of": "soon"}, "/query/as_of"),
     ({"rule_set": "nobody"}, "/query/rule_set")],
)  # fmt: skip
def test_what_holds_for_all_rows_is_judged_once(service: TestClient, query: dict[str, str], pointer: str) -> None:
    response = service.post(ENVELOPE, content=TABLE, headers=HEADERS, params=query)
    problem = assert_problem(response, 422, response.json()["type"].rpartition("/")[2])
    assert problem["errors"][0]["pointer"] == pointer


def test_a_table_of_rows_is_answered_in_rows_only(service: TestClient) -> None:
    response = service.post(ENVELOPE, content=TABLE, headers={**HEADERS, "accept": "application/json"})
    assert_problem(response, 406, "not-acceptable")
    assert_problem(service.post("/v1/selections", content=TABLE, headers=HEADERS), 415, "unsupported-media-type")


def test_a_cell_is_no_formula_of_a_spreadsheet(service: TestClient) -> None:
    (found,) = rows(service, ENVELOPE, f"{HEADING}\n{FIRST.replace('Q-1', '=1+1')}\n")
    assert found["case_id"] == "'=1+1"


def test_worker_processes_answer_alike(service: TestClient) -> None:
    with TestClient(create_app(Settings(batch_workers=1))) as pooled:
        assert rows(pooled, ENVELOPE, TABLE + FIRST) == rows(service, ENVELOPE, TABLE + FIRST)
