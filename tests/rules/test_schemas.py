"""The JSON Schemas of the rule files: in step with the model, right for what is right, and wrong for what is wrong."""

from __future__ import annotations

import json
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from fastapi.testclient import TestClient
from glandwise.rules import schemas

from .conftest import BASELINE, HEADER
from .test_faults import DENSITY, PRONY, SEEDS, SIGNED


def plain(node: Any) -> Any:
    """TOML as JSON tools see it: dates are text."""
    if isinstance(node, dict):
        return {key: plain(item) for key, item in node.items()}
    if isinstance(node, list):
        return [plain(item) for item in node]
    return node.isoformat() if isinstance(node, date) else node


def faults(file: str, text: str, overlay: bool) -> list[str]:
    validator = jsonschema.Draft7Validator(schemas.kept(file, overlay), format_checker=jsonschema.FormatChecker())
    return [error.json_path for error in validator.iter_errors(plain(tomllib.loads(text)))]


def test_there_is_a_schema_for_every_file_and_no_other(tmp_path: Path) -> None:
    folder = tmp_path / "schemas"
    for _ in range(2):
        schemas.write(folder)
        names = {file.name for file in folder.iterdir()}
        assert names == {schemas.name_of(file, overlay) for file in schemas.FILES for overlay in (False, True)}
        (folder / "older.schema.json").touch()
    assert json.loads((folder / "compounds.schema.json").read_text("utf-8")) == schemas.build("compounds")
    assert {file.stem for file in BASELINE.glob("*.toml")} == set(schemas.FILES)


@pytest.mark.parametrize("file", schemas.FILES)
def test_the_schemas_are_schemas_and_the_built_in_set_fits_them(file: str) -> None:
    text = (BASELINE / f"{file}.toml").read_text(encoding="utf-8")
    for overlay in (False, True):
        schema = schemas.kept(file, overlay)
        jsonschema.Draft7Validator.check_schema(schema)
        assert '"null"' not in json.dumps(schema)
    assert faults(file, text, overlay=False) == []
    if file != "rule_set":
        assert faults(file, text, overlay=True) == []


def test_the_header_of_an_overlay() -> None:
    assert faults("rule_set", HEADER + 'remove = ["fluids.steam"]\n', overlay=True) == []
    assert faults("rule_set", HEADER, overlay=False) == ["$", "$"]
    assert faults("rule_set", HEADER.replace('extends = "baseline"\n', ""), overlay=True) == ["$"]


@pytest.mark.parametrize(
    ("file", "text"),
    [
        ("compounds", f"[ptfe_unfilled]\ndensity = {DENSITY}\n"),
        ("compounds", f"[ptfe_unfilled]\ndensity = [{DENSITY}, {DENSITY.replace('2026', '2027')}]\n"),
        ("compounds", f"[ptfe_unfilled.friction]\ndry = {DENSITY.replace('g/cm3', '%')}\n"),
        ("compounds", "[ptfe_unfilled]\n" + PRONY.format(ratios=[0.2], times=[1])),
        ("fluids", '[water.compatibility]\nptfe = "caution"\n'),
        ("sizing", f'energizer_alloy = {{ name = "S30200", {SIGNED} }}\n'),
    ],
)
def test_an_overlay_states_only_what_it_changes(file: str, text: str) -> None:
    assert faults(file, text, overlay=True) == []
    assert faults(file, text, overlay=False) != []


TOLD_BY_SHAPE = (
    "unknown key",
    "unknown key in a value",
    "unit of another dimension",
    "missing source",
    "missing evidence",
    "missing date",
    "evidence that is none",
    "text for a number",
    "truth for a number",
    "a bare number",
    "curve with text in it",
    "wrong unit of ordinates",
    "filler that is none",
    "date with a time of day",
    "empty history",
    "history with an undated entry",
    "fault in the second entry of a history",
    "name that is none",
    "change to an unknown duty field",
    "capacity for an unknown feature",
    "version that is a number",
)


@pytest.mark.parametrize("name", TOLD_BY_SHAPE)
def test_an_editor_shows_what_shape_can_show(name: str) -> None:
    seed = SEEDS[name]
    assert faults(seed.file, seed.text, overlay=True) != []


def test_the_service_serves_the_schemas(client: TestClient) -> None:
    answer = client.get("/v1/rule-schemas/compounds")
    assert answer.status_code == 200
    assert answer.json() == schemas.build("compounds")
    assert client.get("/v1/rule-schemas/compounds", params={"overlay": True}).json() == schemas.build("compounds", True)
    again = client.get("/v1/rule-schemas/compounds", headers={"if-none-match": answer.headers["etag"]})
    assert again.status_code == 304


def test_a_schema_of_no_file_is_not_found(client: TestClient) -> None:
    answer = client.get("/v1/rule-schemas/compound")
    assert answer.status_code == 404
    assert "compounds" in answer.json()["detail"]
    assert client.get("/v1/rule-schemas/Rule-Set").status_code == 422
