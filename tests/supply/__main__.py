"""``make sbom``, ``make licences``, ``make audit``: parts of what is shipped, by its locks and the environment installed from them."""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
from collections.abc import Callable, Iterable, Sequence
from importlib.metadata import PackageNotFoundError, metadata
from pathlib import Path
from typing import Any

from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator

ROOT = Path(__file__).resolve().parents[2]
LOCKS = {
    "service": ROOT / "docker" / "service.lock",
    "statistics": ROOT / "docker" / "statistics.lock",
    "tables": ROOT / "docker" / "tables.lock",
    "telemetry": ROOT / "docker" / "telemetry.lock",
    "client": ROOT / "tests" / "client.lock",
}
"""Of the distributions, and of the extras of the service that are left out unless they are named."""
OWN = {"service": "glandwise-service", "client": "glandwise-client"}

BY_CLASSIFIER = {
    "3-Clause BSD License": "BSD-3-Clause",
    "MIT License": "MIT", "ISC License (ISCL)": "ISC", "BSD License": "BSD-3-Clause", "Python Software Foundation License": "PSF-2.0",
    "Apache Software License": "Apache-2.0", "Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0",
}  # fmt: skip
"""Licences of distributions that name theirs by a classifier or in words only; the words of both BSD licences go under one of them."""
TAKEN = {
    "0BSD", "Apache-2.0", "BSD-2-Clause", "BSD-3-Clause", "CC0-1.0", "ISC", "MIT", "MIT-0", "MIT-CMU", "MPL-2.0", "PSF-2.0", "Zlib",
    "LLVM-exception",
}  # fmt: skip
"""Licences that do not reach beyond the library itself. Another is looked at before it is taken."""


def pinned(lock: Path) -> dict[str, str]:
    """Return the versions of a lock."""
    return dict(re.findall(r"^([a-z0-9-]+)==([^\s;]+)", lock.read_text(encoding="utf-8"), re.MULTILINE))


def licence(name: str) -> str | None:
    """Return the licence of an installed distribution as an SPDX expression, ``None`` where it names none that is known."""
    said = metadata(name)
    if expression := said.get("License-Expression"):
        return str(expression)
    classifiers = [
        line.rpartition("::")[2].strip() for line in said.get_all("Classifier") or [] if line.startswith("License")
    ]
    found = [BY_CLASSIFIER[line] for line in classifiers if line in BY_CLASSIFIER]
    if found:
        return " AND ".join(sorted(found))
    text = str(said.get("License") or "").strip()
    return BY_CLASSIFIER.get(text, text if text in TAKEN else None)


def parts_of(expression: str) -> set[str]:
    """Return the licences that an expression is made of."""
    return set(re.findall(r"[A-Za-z0-9.-]+", expression)) - {"AND", "OR", "WITH"}


def licences() -> dict[str, tuple[str, str | None, list[str]]]:
    """Return version, licence and the distributions that need it, of each that is needed."""
    found: dict[str, tuple[str, str | None, list[str]]] = {}
    for own, lock in LOCKS.items():
        for name, version in pinned(lock).items():
            try:
                said = licence(name)
            except PackageNotFoundError:  # of another system
                continue
            found.setdefault(name, (version, said, []))[2].append(own)
    return dict(sorted(found.items()))


def page() -> str:
    """Return the page of licences."""
    rows = [
        f"| {name} | {version} | {said or 'not named'} | {', '.join(own)} |"
        for name, (version, said, own) in licences().items()
    ]
    head = """# Licences

What the distributions need, by their locks, with the licence that each names of itself (SPDX); made by `make licences`. A test fails for
one that names none, or one that has not been looked at before. `statistics`, `tables` and `telemetry` are extras of the
service that are left out unless they are named. `make sbom` writes the same as CycloneDX, with hashes of what is installed.

| library | version | licence | needed by |
|---|---|---|---|
"""
    return head + "\n".join(rows) + "\n"


def sbom(made: dict[str, Any], own: str, extras: Sequence[str] = ()) -> dict[str, Any]:
    """Return what a tool said of an environment, without the parts that the distribution does not need."""
    wanted = {OWN[own], *(name for part in (own, *extras) for name in pinned(LOCKS[part]))}

    def is_part(component: dict[str, Any]) -> bool:
        return re.sub(r"[-_.]+", "-", component["name"]).lower() in wanted

    components = [component for component in made["components"] if is_part(component)]
    references = {component["bom-ref"] for component in components}
    kept = [item for item in made.get("dependencies", []) if item["ref"] in references]
    for item in kept:
        item["dependsOn"] = [reference for reference in item.get("dependsOn", []) if reference in references]
    return {**made, "components": components, "dependencies": kept}


def write_sbom(target: Path, extras: Sequence[str] = ()) -> int:
    """Write the parts of the service, with those of its extras that are named."""
    command = (
        "cyclonedx-py", "environment", sys.executable, "--output-reproducible", "--of", "JSON", "--sv", "1.6", "--no-validate",
    )  # fmt: skip
    done = subprocess.run(
        [str(Path(sys.executable).parent / command[0]), *command[1:]],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )
    found = sbom(json.loads(done.stdout), "service", extras)
    text = json.dumps(found, indent=2) + "\n"
    if fault := JsonStrictValidator(SchemaVersion.V1_6).validate_str(text):
        print(f"what was put together is no CycloneDX 1.6: {fault}")
        return 1
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_text(text, encoding="utf-8")
    print(f"{len(found['components'])} parts")
    return 0


Run = Callable[[Sequence[str]], "tuple[int, str]"]


def _run(command: Sequence[str]) -> tuple[int, str]:
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=600)
    return done.returncode, done.stdout


def audit(locks: Iterable[Path], run: Run = _run) -> int:
    """Look for known vulnerabilities; return 0 where every part was looked at and none is known, else 1 (found) or 2 (not looked at)."""
    found: list[str] = []
    unseen: list[str] = []
    for lock in locks:
        wanted = pinned(lock)
        command = (
            sys.executable,
            "-m",
            "pip_audit",
            "--requirement",
            str(lock),
            "--require-hashes",
            "--disable-pip",
            "--format",
            "json",
        )
        _, out = run(command)
        try:
            said = {item["name"]: item for item in json.loads(out)["dependencies"]}
        except (ValueError, KeyError, TypeError):
            said = {}  # it did not come to an answer, for want of a database most often
        for name, version in wanted.items():
            item = said.get(name)
            if item is None or "skip_reason" in item or item.get("version") != version:
                unseen.append(f"{name} {version}")
            else:
                found += [f"{name} {version}: {fault['id']}" for fault in item.get("vulns", [])]
    for line in sorted(set(found)):
        print(f"known: {line}")
    if unseen:
        print(f"{len(set(unseen))} parts were not looked at: {', '.join(sorted(set(unseen))[:5])} ...")
    return 1 if found else 2 if unseen else 0


def main() -> int:
    """Do what is asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.supply")
    parser.add_argument("what", choices=("sbom", "licences", "audit"))
    parser.add_argument("target", nargs="?", type=Path)
    parser.add_argument("extras", nargs="*", help="extras of the service that are named: statistics, tables, telemetry")
    given = parser.parse_args()
    if given.what == "audit":
        return audit(LOCKS.values())
    if given.target is None:
        parser.error("name the file to write")
    if given.what == "sbom":
        return write_sbom(given.target, given.extras)
    given.target.write_text(page(), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
