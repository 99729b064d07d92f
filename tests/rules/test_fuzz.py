"""Whatever stands in a rule file or in a patch, what comes of it is a rule set or a fault with its place."""

from __future__ import annotations

import json
import tempfile
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from glandwise.rules import compare
from glandwise.rules.loader import FILES, RuleError, RuleStore, RuleTree
from glandwise.rules.overlay import is_history
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from tests.laws import laws

from .conftest import HEADER

DIGEST_DIGITS = 64
BASE = RuleStore().trees["baseline"]
SIGNED = {"source": "house-estimate", "evidence": "house_estimate", "valid_from": "2026-01-01"}
HOSTILE: list[Any] = [
    None, True, False, 0, -1, 1, 2**31, 2**63 - 1, 2**63, -(2**63) - 1, 2**64, 10**400, -(10**400), 0.0, -0.0, 1e308,
    5e-324, float("inf"), float("nan"), "", "1", "mm", "degC", "g/cm3", "house-estimate", "standard", "2026-01-01",
    "2026-02-30", "9999-12-31", "0001-01-01", "\x00", "é", "x" * 300, "*", "a.b", [], {}, [[]], [{}], [None], {"": 1},
    {"valid_from": "2026-01-01"}, [{"valid_from": "2026-01-01"}], [SIGNED, SIGNED], SIGNED, {**SIGNED, "value": 10**30},
]  # fmt: skip


def nested(depth: int, kind: type) -> Any:
    """Return lists or tables within each other."""
    value: Any = 1
    for _ in range(depth):
        value = [value] if kind is list else {"a": value}
    return value


def paths(tree: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Return every path of a tree."""
    found = [path]
    if isinstance(tree, dict):
        for key, value in tree.items():
            found += paths(value, (*path, key))
    elif isinstance(tree, list) and not is_history(tree):
        for index, value in enumerate(tree[:2]):
            found += paths(value, (*path, index))
    return found


PATHS = [path for path in paths({name: tree for name, tree in BASE.tree.items() if name != "fluids"}) if path]
PATHS += paths({"fluids": {"steam": BASE.tree["fluids"]["steam"]}})[1:]
values = st.one_of(
    st.sampled_from(HOSTILE),
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
        max_leaves=8,
    ),
)


def put(path: tuple[Any, ...], value: Any) -> Any:
    """Return a patch that says one thing; within a list the list is copied from the baseline."""
    held: Any = BASE.tree
    at = next((index for index, part in enumerate(path) if isinstance(part, int)), None)
    if at is not None:
        for part in path[:at]:
            held = held[part]
        held = json.loads(json.dumps(held, default=str))
        inside = held
        for part in path[at:-1]:
            inside = inside[part]
        inside[path[-1]] = value
        path, value = path[:at], held
    for part in reversed(path):
        value = {part: value}
    return value


def whole_values(path: tuple[Any, ...], value: Any) -> Any:
    """Return a patch that restates the sourced value around a path, with one field of it changed."""
    held: Any = BASE.tree
    for part in path[:-1]:
        held = held[part]
    if not isinstance(held, dict) or isinstance(path[0], int):
        return put(path, value)
    return put(path[:-1], {**json.loads(json.dumps(held, default=str)), path[-1]: value})


def assert_usable_or_fault(patch: Any) -> None:
    try:
        tree = compare.patched(BASE, compare.from_json(patch))
    except RuleError as error:
        for item in (error, *error.also):
            assert item.file.endswith(".toml")
            assert item.key
            assert item.fault
    else:
        assert isinstance(tree, RuleTree)
        assert len(tree.digest) == DIGEST_DIGITS


FUZZ = laws(60, suppress_health_check=list(HealthCheck))


@FUZZ
@given(path=st.sampled_from(PATHS), value=values, whole=st.booleans())
def test_a_patch_gives_a_rule_set_or_a_fault(path: tuple[Any, ...], value: Any, whole: bool) -> None:
    assert_usable_or_fault(whole_values(path, value) if whole else put(path, value))


@FUZZ
@given(patch=st.dictionaries(st.sampled_from([*FILES, "", "unknown"]), values, max_size=3))
def test_content_of_files_in_a_patch_gives_a_rule_set_or_a_fault(patch: Any) -> None:
    assert_usable_or_fault(patch)


@pytest.mark.parametrize("kind", [list, dict])
@pytest.mark.parametrize("depth", [10, 31, 32, 100, 180])
def test_a_patch_that_nests(depth: int, kind: type) -> None:
    for path in (("compounds",), ("compounds", "ptfe_unfilled"), ("compounds", "ptfe_unfilled", "fillers")):
        with pytest.raises(RuleError):
            compare.patched(BASE, compare.from_json(put(path, nested(depth, kind))))


def toml(value: Any) -> str:
    """Write a value as TOML, as far as TOML can."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float | date):
        return str(value)
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(str(key))} = {toml(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    text = str(value or "")
    return text if len(text) == len("2026-01-01") and text[4:5] == "-" else json.dumps(text)


def load(text: str | bytes, file: str = "compounds") -> None:
    """Load a house set with one file; what is wrong with it must be a fault with file, line and key."""
    with tempfile.TemporaryDirectory() as above:
        folder = Path(above) / "house"
        folder.mkdir()
        (folder / "rule_set.toml").write_text(HEADER)
        (folder / f"{file}.toml").write_bytes(
            text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass")
        )
        RuleStore(Path(above))


def assert_loads_or_fault(text: str | bytes, file: str) -> None:
    try:
        load(text, file)
    except RuleError as error:
        for item in (error, *error.also):
            assert item.file == f"house/{file}.toml"
            assert item.key
            assert item.fault
            assert item.line is not None or "UTF-8" in item.fault


@FUZZ
@given(path=st.sampled_from(PATHS), value=values, whole=st.booleans())
def test_a_file_gives_a_rule_set_or_a_fault_with_its_line(path: tuple[Any, ...], value: Any, whole: bool) -> None:
    patch = whole_values(path, value) if whole else put(path, value)
    (file, content), *_ = patch.items()
    if file != "rule_set" and isinstance(content, dict):
        assert_loads_or_fault("\n".join(f"{json.dumps(str(k))} = {toml(v)}" for k, v in content.items()) + "\n", file)


PIECES = st.lists(
    st.sampled_from([
        "[", "]", "[[", "]]", "{", "}", "=", ",", ".", "\n", "#", '"', "'", '"""', "'''", "\\", "ptfe_unfilled", "density",
        "value", "2.2", "1e999", "-", "+", "_", "inf", "nan", "0x", "2026-01-01", "2026-01-01T25:00:00", "07:32:00", "true",
        "9" * 5000, "\x00", "\ufeff", "é", "\t", "\r", "[ptfe_unfilled]\n", "density = {", "unit = 'g/cm3'",
    ]),
    max_size=14,
)  # fmt: skip


@FUZZ
@given(pieces=PIECES)
def test_text_that_may_not_be_toml_gives_a_rule_set_or_a_fault_with_its_line(pieces: list[str]) -> None:
    assert_loads_or_fault("".join(pieces), "compounds")


@FUZZ
@given(text=st.binary(max_size=60))
def test_bytes_give_a_rule_set_or_a_fault(text: bytes) -> None:
    assert_loads_or_fault(text, "compounds")


DENSITY = 'density = {{ value = {}, unit = "g/cm3", source = "house-estimate", evidence = "house_estimate", valid_from = 2026-01-01 }}\n'
BEYOND = {"2**64": str(2**64), "-2**63-1": str(-(2**63) - 1), "10**400": "1" + "0" * 400, "5,000 digits": "9" * 5000}


@pytest.mark.parametrize("number", BEYOND.values(), ids=BEYOND)
def test_a_whole_number_beyond_what_toml_has(number: str) -> None:
    with pytest.raises(RuleError) as caught:
        load(f"\n[ptfe_unfilled]\n{DENSITY.format(number)}")
    error = caught.value
    assert (error.file, error.line, error.key) == ("house/compounds.toml", 3, "ptfe_unfilled.density.value")
    assert error.fault == "is beyond what a whole number may be"
    assert error.accepted == "a whole number from -9223372036854775808 to 9223372036854775807"


DEEP = {
    "arrays": ("[ptfe_unfilled]\n\nfillers = " + "[" * 5000 + "]" * 5000, 3),
    "arrays over lines": ("[ptfe_unfilled]\nfillers = " + "[\n" * 5000 + "]" * 5000, 33),
    "unclosed arrays": ("[ptfe_unfilled]\n\nfillers = " + "[" * 5000, 3),
    "inline tables": ("[ptfe_unfilled]\n\nfillers = " + "{a = " * 5000 + "1" + "}" * 5000, 3),
    "dotted keys": ("[ptfe_unfilled]\n\n" + ".".join(["a"] * 5000) + " = 1", 3),
    "dotted keys that the parser bears": ("[ptfe_unfilled]\n\n" + ".".join(["a"] * 40) + " = 1", 3),
    "a table": ("\n\n[" + ".".join(["a"] * 5000) + "]\nb = 1", 3),
    "an array of tables": ("\n\n[[" + ".".join(["a"] * 5000) + "]]\nb = 1", 3),
}


@pytest.mark.parametrize("name", DEEP)
def test_nesting_without_end(name: str) -> None:
    text, line = DEEP[name]
    with pytest.raises(RuleError) as caught:
        load(text)
    error = caught.value
    assert (error.file, error.line, error.fault) == ("house/compounds.toml", line, "nests too deeply")
    assert error.key.startswith(("ptfe_unfilled.", "a.a."))
    assert error.accepted == "at most 32 levels of tables and arrays"


def test_what_cannot_be_read_is_a_fault_of_its_file(tmp_path: Path) -> None:
    (tmp_path / "house" / "compounds.toml").mkdir(parents=True)
    (tmp_path / "house" / "rule_set.toml").write_text(HEADER)
    with pytest.raises(RuleError, match=r"house/compounds\.toml: compounds\.toml: cannot be read: .*a file of TOML"):
        RuleStore(tmp_path)
