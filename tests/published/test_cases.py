"""Run every published, derived and pinned check row of ``cases/*.toml`` against the function it names.

A file holds ``[[source]]`` tables (``id``, ``text``) and ``[[case]]`` tables::

    [[case]]
    name = "a sentence that states the case"
    kind = "published" | "derived" | "pin"
    source = "<source id>"
    locator = "Table 2, row 3"
    function = "glandwise.mechanics.springs:garter_tension"
    input = { wire_diameter = 0.4e-3 }
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
from pathlib import Path
from typing import Any

import pytest

CASES = Path(__file__).parent / "cases"
REQUIRED = {"name", "kind", "source", "function", "input", "expected", "tolerance"}
OPTIONAL = {"locator", "scale", "tolerance_reason"}


def _load() -> list[Any]:
    parameters = []
    for path in sorted(CASES.glob("*.toml")):
        document = tomllib.loads(path.read_text(encoding="utf-8"))
        sources = {source["id"]: source["text"] for source in document["source"]}
        for number, case in enumerate(document["case"], start=1):
            parameters.append(pytest.param(case, sources, id=f"{path.stem}-{number}-{case['name'][:60]}"))
    return parameters


def _pick(result: Any, key: str) -> float:
    if key == "value":
        return float(result)
    match = re.fullmatch(r"(\w+?)(?:\[(-?\d+)\])?", key)
    assert match, key
    field = getattr(result, match[1]) if match[1] != "item" else result
    return float(field if match[2] is None else field[int(match[2])])


@pytest.mark.parametrize(("case", "sources"), _load())
def test_case(case: dict[str, Any], sources: dict[str, str]) -> None:
    assert case.keys() >= REQUIRED, REQUIRED - case.keys()
    assert case.keys() <= REQUIRED | OPTIONAL, case.keys() - REQUIRED - OPTIONAL
    assert case["kind"] in {"published", "derived", "pin"}
    assert case["source"] in sources
    assert case["expected"].keys() == case["tolerance"].keys()
    module, name = case["function"].split(":")
    result = getattr(importlib.import_module(module), name)(**case["input"])
    for key, expected in case["expected"].items():
        printed = _pick(result, key) / case.get("scale", {}).get(key, 1.0)
        assert math.isfinite(printed), f"{key}: {printed}"
        assert abs(printed - expected) <= case["tolerance"][key], (
            f"{key}: {printed!r}, {case['kind']} {expected!r} +- {case['tolerance'][key]!r} ({sources[case['source']]})"
        )
