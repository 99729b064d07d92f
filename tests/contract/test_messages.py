"""Words for people: every fault of a request has a code that stays and a sentence, in each language, that repeats nothing."""

from __future__ import annotations

import ast
import json
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from glandwise.api import messages, workbooks
from glandwise.api.problems import KINDS
from glandwise.app import create_app
from glandwise.contract.faults import OUTSIDE, WORDS
from glandwise.contract.quantities import NO_RANGE
from glandwise.openapi_growth import reachable
from glandwise.operations import ON_CASES

from tests.conftest import ROOT, changed, example

SOURCE = ROOT / "service" / "src" / "glandwise"
FOLDER = SOURCE / "api" / "messages"
FAULTS: dict[str, Any] = tomllib.loads((FOLDER / "faults.toml").read_text(encoding="utf-8"))
GERMAN: dict[str, Any] = tomllib.loads((FOLDER / "de.toml").read_text(encoding="utf-8"))
REQUEST = example("check_envelope", "gearbox_input_shaft")
PATH = "/v1/envelope-checks"
_PLACE = {"PydanticCustomError": 1, "Misfit": 2, "refusal": 2, "_refuse_end": 1}
"""Which argument of a refusal holds its words."""


def written_details(folder: Path) -> Iterator[str]:
    """Yield the words of every refusal in a folder that are written out."""
    for file in folder.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                name = getattr(node.func, "id", getattr(node.func, "attr", ""))
                place = _PLACE.get(name)
                if place is not None and len(node.args) > place:
                    words = node.args[place]
                    # one word is a place, not what is wrong there
                    if isinstance(words, ast.Constant) and "{" not in words.value and " " in words.value:
                        yield words.value


REFUSALS = sorted({detail for part in ("contract", "case", "questions") for detail in written_details(SOURCE / part)})


@pytest.mark.parametrize("detail", [*REFUSALS, OUTSIDE, NO_RANGE])
def test_every_refusal_of_a_request_has_a_code(detail: str) -> None:
    assert messages.code_of("", detail) != messages.OTHER


def of_tables() -> Iterator[str]:
    """Yield the words of every refusal of a table, a column or a cell."""
    for place in ("case/flat.py", "api/rows.py", "api/columns.py", "api/workbooks.py"):
        for node in ast.walk(ast.parse((SOURCE / place).read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", getattr(node.func, "attr", "")) in _OF_COLUMN:
                words = node.args[1]
                choices = [words.body, words.orelse] if isinstance(words, ast.IfExp) else [words]
                yield from (one.value for one in choices if isinstance(one, ast.Constant))
                assert not any(isinstance(one, ast.JoinedStr) for one in choices), "words that change have no code"


_OF_COLUMN = {"ColumnError", "of_column"}
TABLES = sorted({*of_tables(), *(words for words, _ in workbooks._FAULTS.values())})


@pytest.mark.parametrize("detail", TABLES)
def test_every_refusal_of_a_table_has_a_code(detail: str) -> None:
    assert messages.code_of("", detail) != messages.OTHER


def test_the_scan_of_tables_finds_them() -> None:
    assert len(TABLES) > 12
    assert {"no such column", "the heading has no unit", "the cells are separated by semicolons"} <= set(TABLES)


@pytest.mark.parametrize(
    ("heading", "row", "code"),
    [
        ("shaft_diameter [mm],colour", "60,red", "unknown_heading"),
        ("shaft_diameter,fluid", "60,water", "heading_unit"),
        ("shaft_diameter [bar],fluid", "60,water", "heading_unit"),
        ("fluid [mm],family", "water,flexible_lip", "heading_with_unit"),
        ("fluid,fluid", "water,water", "heading_twice"),
        ("fluid,family", "water,flexible_lip", "missing_column"),
        ("pressure [psia],fluid", "60,water", "absolute_pressure"),
        ("a;b;c", "1;2;3", "separated_by_semicolons"),
    ],
)
def test_a_table_that_cannot_be_read_has_the_code_of_its_fault(
    client: TestClient, heading: str, row: str, code: str
) -> None:
    for language, other in (("en", "de"), ("de", "en")):
        headers = {"content-type": "text/csv", "accept-language": language}
        answer = client.post(PATH, content=f"{heading}\n{row}\n", headers=headers)
        assert answer.status_code == 422
        (fault,) = answer.json()["errors"]
        assert fault["code"] == code
        said = messages.sentence(code, fault["pointer"], fault["detail"], fault["accepted"], None, language)
        assert fault["message"] == said != messages.sentence(code, fault["pointer"], "", fault["accepted"], None, other)


def test_an_unknown_parameter_has_a_code(client: TestClient) -> None:
    answer = client.get("/v1/compounds?colour=red")
    assert [fault["code"] for fault in answer.json()["errors"]] == ["unknown_parameter"]


def test_the_scan_of_refusals_finds_them() -> None:
    assert len(REFUSALS) > 50
    assert "the bore is not larger than the shaft" in REFUSALS


def test_every_kind_of_fault_has_a_code_and_every_code_a_fault() -> None:
    assert {kind for entry in FAULTS.values() for kind in entry.get("kind", ())} == set(WORDS)
    whole = " ".join(file.read_text(encoding="utf-8") for file in SOURCE.rglob("*.py"))
    for entry in FAULTS.values():
        words = entry.get("detail", [])
        for detail in [words] if isinstance(words, str) else words:
            tail = re.sub(
                r"^no (fluid|compound|alloy|elastomer|material|rule set) of this name( in the rule set)?$", "", detail
            )
            assert tail in whole, detail


@pytest.mark.parametrize("code", FAULTS)
def test_every_code_is_said_in_every_language(code: str) -> None:
    assert re.fullmatch(r"[a-z]+(_[a-z0-9]+)*", code)
    for language in messages.LANGUAGES:
        for example_, accepted in (("8 bar", "at least 3"), (None, None)):
            said = messages.sentence(code, "/duty/pressure", "some fault", accepted, example_, language)
            assert said.endswith(".")
            assert not re.search(r"[\[\]{}]", said), said
            assert language == messages.DEFAULT or "some fault" not in said


def test_every_kind_of_problem_is_said_in_german() -> None:
    assert set(KINDS) <= set(GERMAN["kinds"])


def test_every_field_of_a_request_has_a_name_in_german(document: dict[str, Any]) -> None:
    schemas = document["components"]["schemas"]
    operations = [operation for path in document["paths"].values() for operation in path.values()]
    of_cases = {row.name for row in ON_CASES}
    bodies = [operation["requestBody"] for operation in operations if operation["operationId"] in of_cases]
    asked = reachable(schemas, [bodies])
    names = {name for schema in asked for name in schemas[schema].get("properties", ())}
    assert len(names) > 150
    assert names <= set(GERMAN["fields"])


@pytest.mark.parametrize(
    ("pointer", "value", "code", "english", "german"),
    [
        ("/duty/pressure", 8, "missing_unit", "Pressure is missing its unit; write for example 8 bar.",
         "Druck: Die Einheit fehlt; zum Beispiel 8 bar."),
        ("/duty/pressure", ..., "missing", "Pressure is missing; write for example 8 bar.", "Druck fehlt; zum Beispiel 8 bar."),
        ("/duty/pressure", "100 psia", "absolute_pressure",
         "Pressure is given as an absolute pressure; what is needed is the pressure above the ambient, which is some 1 bar "
         "(14.7 psi) less.",
         "Druck ist als Absolutdruck angegeben; gebraucht wird der Überdruck gegen die Umgebung, der etwa 1 bar (14,7 psi) "
         "kleiner ist."),
        ("/duty/pressure", {"value": 99999, "unit": "bar"}, "outside_range",
         "Pressure is outside the range that can be answered for: -1.01325 bar to 5,000 bar.",
         "Druck liegt außerhalb des Bereichs, für den eine Antwort möglich ist: -1,01325 bar bis 5000 bar."),
        ("/duty/bore", {"diameter": "5 mm"}, "bore_not_larger_than_shaft", "The bore must be larger than the shaft.",
         "Die Bohrung muss größer sein als die Welle."),
        ("/design/second_lip", "both", "unknown_choice", "Second lip is none of the choices: none, excluder or redundant.",
         "Zweite Lippe ist keine der Möglichkeiten: none, excluder oder redundant."),
        ("/rule_set", "basline", "unknown_rule_set", "There is no rule set of this name; close names: baseline.",
         "Ein Regelsatz dieses Namens ist nicht bekannt; ähnliche Namen: baseline."),
    ],
)  # fmt: skip
def test_a_fault_is_said_to_people(
    client: TestClient, pointer: str, value: Any, code: str, english: str, german: str
) -> None:
    request = changed(REQUEST, pointer, value)
    for language, said in (("en", english), ("de-AT, de;q=0.9, en;q=0.1", german)):
        answer = client.post(PATH, json=request, headers={"accept-language": language})
        assert answer.status_code == 422
        assert answer.headers["content-language"] == language[:2]
        assert "Accept-Language" in answer.headers["vary"]
        problem = answer.json()
        (field,) = problem["errors"]
        assert (field["code"], field["message"]) == (code, said)
        assert problem["message"] == said
    assert field["pointer"].startswith(pointer)


def test_codes_and_what_programs_read_do_not_depend_on_the_language(client: TestClient) -> None:
    request = changed(changed(REQUEST, "/duty/fluid", "minerel_oil"), "/duty/pressure", 8)
    english, german = (
        client.post(PATH, json=request, headers={"accept-language": language, "x-request-id": "a"}).json()
        for language in messages.LANGUAGES
    )
    assert english != german
    for problem in (english, german):
        problem.pop("message")
        for field in problem["errors"]:
            field.pop("message")
    assert english == german


def test_lines_of_a_batch_are_told_in_the_language_of_the_message() -> None:
    lines = json.dumps(changed(REQUEST, "/duty/pressure", 8)) + "\n[]\n"
    headers = {"content-type": "application/x-ndjson", "accept-language": "de"}
    # an application of its own: the workers of the shared one end with the first test that leaves its context
    with TestClient(create_app()) as own:
        found = [json.loads(line) for line in own.post(PATH, content=lines, headers=headers).text.splitlines()]
    assert found[0]["problem"]["message"] == "Druck: Die Einheit fehlt; zum Beispiel 8 bar."
    assert found[1]["problem"]["errors"][0]["code"] == "not_an_object"


def test_what_has_no_field_is_said_as_well(client: TestClient) -> None:
    answer = client.get("/v1/nothing", headers={"accept-language": "de"})
    assert answer.json()["message"] == "Das Gesuchte gibt es hier nicht."
    assert client.get("/v1/nothing").json()["message"] == KINDS["not-found"][2]


@pytest.mark.parametrize(
    ("header", "language"),
    [
        (None, "en"), ("", "en"), ("de", "de"), ("DE-ch", "de"), ("fr, de;q=0.2", "de"), ("en;q=0.4, de;q=0.5", "de"),
        ("de;q=0, en", "en"), ("fr", "en"), ("*", "en"), ("de;q=x", "en"), (";;,,", "en"), ("de;q=0.5, *", "en"),
    ],
)  # fmt: skip
def test_the_language_is_the_best_there_is(header: str | None, language: str) -> None:
    assert messages.language_of(header) == language


def test_names_of_the_callers_own_stand_as_in_a_pointer() -> None:
    assert messages.field_words("/duty/bore/diameter", "de") == "Bohrung, Durchmesser"
    assert messages.field_words("/phases/0/duty/pressure/value", "en") == "Phases no. 1 pressure"
    assert messages.field_words("", "de") == "Die Anfrage"
