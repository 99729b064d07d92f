"""Parts, licences and known vulnerabilities of what is shipped."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from tests import supply
from tests.supply.__main__ import LOCKS, TAKEN, audit, licences, page, parts_of, pinned, sbom, write_sbom

ROOT = Path(supply.__file__).resolve().parents[2]


def test_each_part_names_a_licence_that_was_looked_at() -> None:
    found = licences()
    assert len(found) > 40
    for name, (_, said, _) in found.items():
        assert said is not None, f"{name} names no licence that is known"
        assert parts_of(said) <= TAKEN, f"{name}: {said}"


def test_an_expression_is_taken_apart() -> None:
    assert parts_of("MPL-2.0 AND (Apache-2.0 OR MIT)") == {"MPL-2.0", "Apache-2.0", "MIT"}
    assert not parts_of("GPL-3.0-only") <= TAKEN


def test_the_page_of_licences_is_of_the_locks() -> None:
    committed = (ROOT / "service" / "docs" / "licences.md").read_text(encoding="utf-8")
    assert committed == page(), "service/docs/licences.md is stale; run: make licences"


@pytest.mark.slow
def test_the_bill_of_materials_holds_each_part_with_its_licence(tmp_path: Path) -> None:
    assert write_sbom(tmp_path / "sbom.json") == 0
    found = json.loads((tmp_path / "sbom.json").read_text(encoding="utf-8"))
    assert (found["bomFormat"], found["specVersion"]) == ("CycloneDX", "1.6")
    named = {component["name"].lower().replace("_", "-"): component for component in found["components"]}
    assert named.keys() >= {"fastapi", "numba", "numpy", "glandwise-service"}
    assert not named.keys() & {"pytest", "mypy", "hypothesis"}
    versions = pinned(LOCKS["service"])
    for name, component in named.items():
        if name != "glandwise-service":
            assert component["version"] == versions[name]
            assert component.get("licenses"), name


def test_parts_that_are_not_needed_are_left_out() -> None:
    made: dict[str, Any] = {
        "components": [
            {"name": "NumPy", "bom-ref": "a"},
            {"name": "pytest", "bom-ref": "b"},
            {"name": "pyarrow", "bom-ref": "c"},
        ],
        "dependencies": [{"ref": "a", "dependsOn": ["b"]}, {"ref": "b"}],
    }
    found = sbom(made, "service")
    assert [component["name"] for component in found["components"]] == ["NumPy"]
    assert found["dependencies"] == [{"ref": "a", "dependsOn": []}]
    assert [component["name"] for component in sbom(made, "service", ["tables"])["components"]] == ["NumPy", "pyarrow"]


# --------------------------------------------------------------------------------------------------------------- audit


def said(lock: Path, **changed: Any) -> str:
    """Write what the tool says where it has looked at everything; ``changed`` replaces what it says of single parts."""
    items = [{"name": name, "version": version, "vulns": []} for name, version in pinned(lock).items()]
    return json.dumps(
        {
            "dependencies": [
                changed.get(item["name"], item)
                for item in items
                if item["name"] not in changed or changed[item["name"]]
            ]
        }
    )


@pytest.mark.parametrize(
    "out, status",
    [
        (lambda lock: said(lock), 0),
        (
            lambda lock: said(
                lock, numpy={"name": "numpy", "version": pinned(lock)["numpy"], "vulns": [{"id": "X-1"}]}
            ),
            1,
        ),
        (lambda lock: said(lock, numpy={"name": "numpy", "skip_reason": "no database"}), 2),
        (lambda lock: said(lock, numpy={"name": "numpy", "version": "1", "vulns": []}), 2),
        (lambda lock: said(lock, numpy=None), 2),
        (lambda _: json.dumps({"dependencies": []}), 2),
        (lambda _: "", 2),
        (lambda _: "[]", 2),
    ],
)
def test_an_audit_that_has_not_looked_fails(out: Any, status: int) -> None:
    lock, asked = LOCKS["service"], list[Sequence[str]]()

    def run(command: Sequence[str]) -> tuple[int, str]:
        asked.append(command)
        return 0, out(lock)  # the tool says 0 for parts that it skips

    assert audit([lock], run) == status
    assert str(lock) in asked[0]
