"""The published fingerprint: its verifier, its vectors, what it covers; and rules kept by their digest."""

from __future__ import annotations

import copy
import hashlib
import json
import re
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from glandwise import engine as engine_of
from glandwise.app import create_app
from glandwise.engine import Engine, fingerprint, identity, question
from glandwise.numerics import sources
from glandwise.operations import OPERATIONS
from glandwise.rules import archive, compare
from glandwise.rules.loader import RuleError, RuleStore, RuleTree
from glandwise.settings import Settings
from pydantic import BaseModel

from tests.conftest import load_examples
from tests.questions.test_comparison import datum, limit, merge

PAGE = (Path(__file__).parents[2] / "service" / "docs" / "fingerprint.md").read_text(encoding="utf-8")
BASE = RuleStore().trees["baseline"]
DIGEST = BASE.digest


def verifier() -> Any:
    """Return the function of the page, run as anybody would run it."""
    (source,) = re.findall(r"```python\n(.*?)```", PAGE, re.DOTALL)
    assert "glandwise" not in source.lower()
    namespace: dict[str, Any] = {}
    exec(source, namespace)
    return namespace["verify"]


def test_the_vectors_are_those_of_their_questions() -> None:
    vectors = re.findall(r"^\| `(\[.*?\])` \| `([0-9a-f]{64})` \|$", PAGE, re.MULTILINE)
    assert len(vectors) == 2
    verify = verifier()
    for text, digest in vectors:
        operation, request, rules, day, engine = json.loads(text)
        stamp = {"fingerprint": digest, "rule_set": {"digest": rules, "as_of": day}, "engine": engine}
        assert verify(stamp, text) == (operation, request)


NUMBERS = {"60": 60.0, "1/3": 1 / 3, "1.5·10^15": 1.5e15, "10^16": 1e16, "10^-5": 1e-5, "1.5·10^-6": 1.5e-6}


def test_numbers_are_written_as_the_page_says() -> None:
    """Whichever version writes them: another text would be another fingerprint."""
    told = dict(re.findall(r"^\| ([^|`]+) \| `([^`]+)` \|$", PAGE, re.MULTILINE))
    assert told.keys() == NUMBERS.keys()

    class Asked(BaseModel):
        numbers: list[float]
        names: dict[str, int]

    asked = Asked(numbers=list(NUMBERS.values()), names={"b": 1, "a_b": 2, "a": 3})
    text = question("ask", asked, "00", date(2026, 1, 1), "e").decode()
    assert (
        text
        == f'["ask",{{"names":{{"a":3,"a_b":2,"b":1}},"numbers":[{",".join(told.values())}]}},"00","2026-01-01","e"]'
    )


EXAMPLES = [
    (operation, name, request)
    for operation, name, _, request in load_examples()
    if operation in ("check_envelope", "check_gland", "estimate_wear", "answer_enquiry")
]


@pytest.mark.parametrize(("operation", "name", "request_"), EXAMPLES[:6], ids=lambda value: str(value)[:30])
def test_the_verifier_of_the_page_verifies_answers(operation: str, name: str, request_: dict[str, Any]) -> None:
    row, engine = OPERATIONS[operation], Engine(RuleStore(), "baseline")
    body = row.request.model_validate(request_)
    stamp = row.answer(body, engine)["stamp"]
    rules = engine.rules(body)
    text = question(operation, body, rules.digest, rules.as_of, identity()).decode()
    verify = verifier()
    told, asked = verify(stamp, text)
    assert told == operation
    assert set(asked) == set(row.request.model_fields) - engine_of._OF_THE_ANSWER
    for forged in (
        {**stamp, "fingerprint": "0" * 64},
        {**stamp, "engine": "9.9.9"},
        {**stamp, "rule_set": {**stamp["rule_set"], "digest": "0" * 64}},
    ):
        with pytest.raises(ValueError, match=r"another question|are not those"):
            verify(forged, text)


def of(request: dict[str, Any]) -> str:
    body = OPERATIONS["check_envelope"].request.model_validate(request)
    rules = BASE.newest()
    return fingerprint("check_envelope", body, rules.digest, rules.as_of, identity())


def test_what_changes_a_fingerprint_and_what_does_not() -> None:
    request = next(one for operation, _, one in EXAMPLES if operation == "check_envelope")
    plain = copy.deepcopy(request)
    plain.pop("units", None)
    held = of(plain)
    defaults = OPERATIONS["check_envelope"].request.model_validate(plain).model_dump(mode="json")
    family = type(OPERATIONS["check_envelope"].request.model_validate(plain).design)
    stated = copy.deepcopy(plain)
    for name, field in family.model_fields.items():  # every plain default, stated
        if isinstance(field.default, str | bool) and name not in stated["design"]:
            stated["design"][name] = field.default
    assert stated != plain
    assert of(stated) == held
    assert of({**plain, "units": {"system": "us"}, "working": True}) == held
    other = copy.deepcopy(plain)
    other["duty"]["food_contact"] = not defaults["duty"]["food_contact"]
    assert of(other) != held


def test_the_engine_is_known_by_its_formulas(monkeypatch: Any) -> None:
    version, _, digest = identity().partition("+")
    assert re.fullmatch(r"\d+\.\d+\.\d+", version)
    assert sources.digest().startswith(digest)
    assert len(digest) == 12
    identity.cache_clear()
    monkeypatch.setattr(sources, "digest", lambda: "f" * 64)
    try:
        assert identity() == f"{version}+{'f' * 12}"
    finally:
        identity.cache_clear()


# ------------------------------------------------------------------------------------------------------------- archive


def test_a_set_that_is_kept_is_the_set_that_was(tmp_path: Path) -> None:
    path = archive.put(BASE, tmp_path)
    assert path.name == f"{DIGEST}.json"
    assert hashlib.sha256(path.read_bytes()).hexdigest() == DIGEST
    assert archive.put(BASE, tmp_path) == path
    (tmp_path / "README").write_text("Rules as they were.", encoding="utf-8")
    kept = archive.Archive(tmp_path, BASE.criteria)
    assert kept.digests == [DIGEST]
    tree = kept.get(DIGEST)
    assert tree is not None
    assert tree.digest == DIGEST
    assert compare.diff(tree.tree, BASE.tree) == []
    assert [*tree.newest().data.compounds] == [*BASE.newest().data.compounds]
    assert kept.get("0" * 64) is None


def test_a_file_that_is_not_what_its_name_says_stops_the_start(tmp_path: Path) -> None:
    path = archive.put(BASE, tmp_path)
    path.write_bytes(path.read_bytes().replace(b"50.0", b"51.0", 1))
    with pytest.raises(RuleError, match="its content is not what its name is the SHA-256 of"):
        create_app(Settings(rule_archive=tmp_path))
    with pytest.raises(RuleError, match="there is no such folder"):
        create_app(Settings(rule_archive=tmp_path / "nowhere"))


def quoted() -> tuple[dict[str, Any], RuleTree]:
    """A quote of 42 psi under rules that have gone since: a rating of 40 psi, another density, under another name."""
    patch = merge(limit("pressure_flexible_lip", 40.0, "psi"))
    patch["compounds"] = {"ptfe_carbon_graphite_25": {"density": datum(2.4, "g/cm3")}}
    patch["rule_set"] = {"name": "gone", "version": "0"}
    then = compare.patched(BASE, compare.from_json(patch))
    from tests.questions.test_whole_answers import quote

    case = quote("Q", pressure=42.0)
    return {"duty": case["duty"], "design": case["design"]}, then


def test_a_recheck_says_which_rule_values_changed_and_what_each_does(tmp_path: Path) -> None:
    request, then = quoted()
    archive.put(then, tmp_path)
    row = OPERATIONS["check_envelope"]
    store = RuleStore()
    store.trees["gone"] = then
    stored = row.answer(row.request.model_validate({**request, "rule_set": "gone"}), Engine(store, "baseline"))
    assert stored["verdict"] == "fail"
    body = {"operation": "check_envelope", "stored_request": request, "stored_result": json.loads(json.dumps(stored))}
    with TestClient(create_app(Settings())) as client:
        blind = client.post("/v1/rechecks", json=body).json()
    assert (blind["rules_of_then_held"], blind["rule_changes"]) == (False, [])
    with TestClient(create_app(Settings(rule_archive=tmp_path))) as client:
        answer = client.post("/v1/rechecks", json=body)
        assert client.get("/v1/rule-sets").json()["rule_sets"][0]["name"] != "gone"
    assert answer.status_code == 200, answer.text
    found = answer.json()
    assert (found["same"], found["rules_changed"], found["rules_of_then_held"]) == (False, True, True)
    changes = {item["key"]: item for item in found["rule_changes"]}
    rating = changes["designs.capacities.pressure_flexible_lip.limit"]
    assert (rating["before"]["value"], rating["after"]["value"]) == (40.0, 50.0)
    assert rating["moves"] > 0
    assert "/verdict" in rating["pointers"]
    assert rating["verdict_without"] == "fail"
    density = changes["compounds.ptfe_carbon_graphite_25.density"]
    assert (density["moves"], density["pointers"]) == (0, [])
    assert density["verdict_without"] == found["verdict_after"]
    text = found["question"]
    assert hashlib.sha256(text.encode()).hexdigest() == found["stamp"]["fingerprint"]
    assert verifier()(found["stamp"], text)[0] == "check_envelope"
