"""Run every published, derived and pinned check row of ``cases/*.toml`` against the function it names.

A file holds ``[[source]]`` tables (``id``, ``text``) and ``[[case]]`` tables::

    [[source]]
    id = "wahl"
    text = "..."
    from_memory = true                 # where numbers or the formula come from memory; the text says so too

    [[case]]
    name = "a sentence that states the case"
    kind = "published" | "derived" | "pin"     # published: the numbers stand in the source; derived: they were worked out
    source = "<source id>"
    locator = "Table 2, row 3"
    function = "glandwise.mechanics.springs:helical_rate"
    input = { d = 0.4e-3 } # "rules:gland.it_grades.si_over" stands for what the built-in rules hold there
    expected = { value = 14.0 }        # "value" for a float, else a field of the named tuple, or field[i]
    scale = { value = 1.0e-3 }         # optional: expected is result / scale, to keep the printed unit
    tolerance = { value = 0.05 }       # absolute, in the printed unit: half the last printed digit unless a reason is given
    tolerance_reason = "..."           # needed when the tolerance is wider than half the last printed digit
"""

from __future__ import annotations

import importlib
import math
import re
import tomllib
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
from glandwise.rules.loader import RuleStore
from glandwise.rules.model import RuleSetData

CASES = Path(__file__).parent / "cases"
REQUIRED = {"name", "kind", "source", "function", "input", "expected", "tolerance"}
OPTIONAL = {"locator", "scale", "tolerance_reason"}
MEMORY = re.compile(r"\b(memory|remembered)\b")


def _documents() -> list[tuple[str, dict[str, Any]]]:
    """Files by name; numbers as they are printed."""
    return [
        (path.stem, tomllib.loads(path.read_text(encoding="utf-8"), parse_float=Decimal))
        for path in sorted(CASES.glob("*.toml"))
    ]


DOCUMENTS = _documents()


def _load() -> list[Any]:
    parameters = []
    for stem, document in DOCUMENTS:
        sources = {source["id"]: source["text"] for source in document["source"]}
        for number, case in enumerate(document["case"], start=1):
            parameters.append(pytest.param(case, sources, id=f"{stem}-{number}-{case['name'][:60]}"))
    return parameters


@lru_cache
def _rules() -> RuleSetData:
    return RuleStore().trees["baseline"].newest().data


def _value(written: Any) -> Any:
    """Return an input as a function takes it: floats for printed numbers, what the rules hold for a reference."""
    if isinstance(written, Decimal):
        return float(written)
    if isinstance(written, list):
        return [_value(item) for item in written]
    if isinstance(written, dict):
        return {key: _value(item) for key, item in written.items()}
    if isinstance(written, str) and written.startswith("rules:"):
        found: Any = _rules()
        for part in written.removeprefix("rules:").split("."):
            found = found[part] if isinstance(found, dict) else getattr(found, part)
        return found
    return written


def _half_last_digit(printed: Decimal | int) -> Decimal:
    exponent = printed.as_tuple().exponent if isinstance(printed, Decimal) else 0
    assert isinstance(exponent, int)
    return Decimal(5).scaleb(exponent - 1)


def _pick(result: Any, key: str) -> float:
    if key == "value":
        return float(result)
    match = re.fullmatch(r"(\w+?)(?:\[(-?\d+)\])?", key)
    assert match, key
    field = getattr(result, match[1]) if match[1] != "item" else result
    return float(field if match[2] is None else field[int(match[2])])


@pytest.mark.parametrize(("stem", "document"), DOCUMENTS, ids=[stem for stem, _ in DOCUMENTS])
def test_sources_say_what_comes_from_memory(stem: str, document: dict[str, Any]) -> None:
    used = {case["source"] for case in document["case"]}
    for source in document["source"]:
        assert source.keys() <= {"id", "text", "from_memory"}, source
        assert source.get("from_memory", False) == bool(MEMORY.search(source["text"])), source["id"]
        assert source["id"] in used, f"{stem}: no row is of {source['id']}"


@pytest.mark.parametrize(("case", "sources"), _load())
def test_case(case: dict[str, Any], sources: dict[str, str]) -> None:
    assert case.keys() >= REQUIRED, REQUIRED - case.keys()
    assert case.keys() <= REQUIRED | OPTIONAL, case.keys() - REQUIRED - OPTIONAL
    assert case["kind"] in {"published", "derived", "pin"}
    if case["kind"] == "published":
        assert "evaluated" not in sources[case["source"]], "what was evaluated is derived"
    assert case["source"] in sources
    assert case["expected"].keys() == case["tolerance"].keys()
    module, name = case["function"].split(":")
    result = getattr(importlib.import_module(module), name)(**_value(case["input"]))
    for key, expected in case["expected"].items():
        tolerance = case["tolerance"][key]
        assert tolerance <= _half_last_digit(expected) or case.get("tolerance_reason"), (
            f"{key}: {tolerance} is wider than half the last digit of {expected}, and no reason is given"
        )
        assert expected == 0 or tolerance < abs(expected) / 4, f"{key}: {tolerance} tells nothing of {expected}"
        printed = _pick(result, key) / float(case.get("scale", {}).get(key, 1.0))
        assert math.isfinite(printed), f"{key}: {printed}"
        assert abs(printed - float(expected)) <= float(tolerance), (
            f"{key}: {printed!r}, {case['kind']} {expected} +- {tolerance} ({sources[case['source']]})"
        )
