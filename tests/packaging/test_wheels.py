"""The two distributions as they leave the house."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import zipfile
from email import message_from_string
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
pytestmark = [pytest.mark.packaging, pytest.mark.slow]


def run(*command: str | Path, cwd: Path, **variables: str) -> str:
    """Run a command outside the checkout and return what it printed."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "GLANDWISE"))}
    done = subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        env={**kept, **variables},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def build(name: str, folder: Path) -> Path:
    """Build the wheel of one distribution."""
    pip = (sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation", "--wheel-dir", folder)
    run(*pip, ROOT / name, cwd=folder)
    (wheel,) = folder.glob("*.whl")
    return wheel


@pytest.fixture(scope="module")
def client_wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build("client", tmp_path_factory.mktemp("client"))


@pytest.fixture(scope="module")
def service_wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build("service", tmp_path_factory.mktemp("service"))


def contents(wheel: Path) -> set[str]:
    """Name the files of a wheel, its own metadata apart."""
    with zipfile.ZipFile(wheel) as archive:
        return {name for name in archive.namelist() if ".dist-info/" not in name}


def sources(package: Path) -> set[str]:
    """Name the files of a package in the checkout as a wheel should name them."""
    files = (file for file in package.rglob("*") if file.is_file() and "__pycache__" not in file.parts)
    return {file.relative_to(package.parent).as_posix() for file in files}


def requirements(wheel: Path) -> set[str]:
    """Name the distributions a wheel needs, extras apart."""
    with zipfile.ZipFile(wheel) as archive:
        (name,) = [name for name in archive.namelist() if name.endswith(".dist-info/METADATA")]
        metadata = message_from_string(archive.read(name).decode("utf-8"))
    needed = metadata.get_all("Requires-Dist") or []
    names = (re.match(r"[A-Za-z0-9._-]+", line) for line in needed if "extra ==" not in line)
    return {name.group().lower() for name in names if name}


def test_the_client_wheel_holds_the_client_and_needs_two_libraries(client_wheel: Path) -> None:
    assert contents(client_wheel) == sources(ROOT / "client" / "src" / "glandwise_client")
    assert "glandwise_client/py.typed" in contents(client_wheel)
    assert requirements(client_wheel) == {"httpx", "pydantic"}


def test_the_service_wheel_holds_rules_tables_and_examples(service_wheel: Path) -> None:
    held = contents(service_wheel)
    assert held == sources(ROOT / "service" / "src" / "glandwise")
    for part in ("rules/data/baseline/rule_set.toml", "rules/data/baseline/sources.toml", "mechanics/made/canted_coil.npz",
                 "mechanics/made/beams.npz", "unit_factors.json", "py.typed"):  # fmt: skip
        assert f"glandwise/{part}" in held
    assert any(name.startswith("glandwise/contract/examples/check_envelope/") for name in held)
    assert "httpx" not in requirements(service_wheel)
    assert "pint" not in requirements(service_wheel)


@pytest.mark.parametrize("name", ["client", "service"])
def test_two_builds_of_the_same_sources_are_the_same_bytes(name: str, tmp_path: Path) -> None:
    """Elsewhere, later, with files of other ages."""
    made = []
    for number, folder in enumerate(("one", "two")):
        source = tmp_path / folder / name
        shutil.copytree(ROOT / name, source, ignore=shutil.ignore_patterns("__pycache__", "docs"))
        for path in source.rglob("*"):
            os.utime(path, (1e9 + number * 1e6, 1e9 + number * 1e6))
        target = tmp_path / f"{folder}-wheel"
        pip = (
            sys.executable,
            "-m",
            "pip",
            "wheel",
            "--quiet",
            "--no-deps",
            "--no-build-isolation",
            "--wheel-dir",
            target,
        )
        run(*pip, source, cwd=tmp_path, SOURCE_DATE_EPOCH="1767225600")
        (wheel,) = target.glob("*.whl")
        made.append(wheel.read_bytes())
    assert made[0] == made[1]


@pytest.mark.parametrize("name", ["client", "service"])
def test_the_licence_is_in_the_wheel(name: str, request: pytest.FixtureRequest) -> None:
    with zipfile.ZipFile(request.getfixturevalue(f"{name}_wheel")) as archive:
        (licence,) = [entry for entry in archive.namelist() if entry.endswith(".dist-info/licenses/LICENSE")]
        assert archive.read(licence) == (ROOT / name / "LICENSE").read_bytes()
        (about,) = [entry for entry in archive.namelist() if entry.endswith(".dist-info/METADATA")]
        assert "License-Expression: LicenseRef-Proprietary" in archive.read(about).decode("utf-8")


ALONE = """
import sys
from importlib.util import find_spec
assert find_spec("glandwise") is None

import json, threading
from http.server import BaseHTTPRequestHandler, HTTPServer
from glandwise_client import AsyncGlandwiseClient, GlandwiseClient, RequestError

heavy = {"numpy", "scipy", "pint", "fastapi", "starlette", "pyarrow", "matplotlib"} & set(sys.modules)
assert not heavy, heavy

for kind in (GlandwiseClient, AsyncGlandwiseClient):
    try:
        kind.in_process()
    except ImportError as error:
        assert "install glandwise-service" in str(error), error
    else:
        raise AssertionError("in_process() found a service")

class Service(BaseHTTPRequestHandler):
    def do_GET(self):
        body = json.dumps({"status": "ok", "engine": "0", "rule_sets": []}).encode()
        self.send_response(200)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)
    def log_message(self, *arguments):
        pass

server = HTTPServer(("127.0.0.1", 0), Service)
threading.Thread(target=server.serve_forever, daemon=True).start()
with GlandwiseClient(f"http://127.0.0.1:{server.server_port}", trust_env=False) as client:
    assert client.check_health().status == "ok"
    try:
        client.check_envelope(duty={"pressure": 5})
    except RequestError as error:
        assert "/duty/pressure" in str(error)
    else:
        raise AssertionError("a number without a unit was sent")
server.shutdown()
print("alone")
"""


def test_the_client_works_alone_in_an_empty_environment(client_wheel: Path, tmp_path: Path) -> None:
    run(sys.executable, "-m", "venv", tmp_path / "venv", cwd=tmp_path)
    python = tmp_path / "venv" / ("Scripts" if os.name == "nt" else "bin") / "python"
    run(python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", client_wheel, cwd=tmp_path)
    assert run(python, "-W", "error", "-c", ALONE, cwd=tmp_path).strip() == "alone"
    listed = run(
        python, "-m", "pip", "list", "--format=freeze", "--disable-pip-version-check", cwd=tmp_path
    ).splitlines()
    installed = {line.partition("==")[0].lower().replace("_", "-") for line in listed} - {"pip", "setuptools"}
    assert {"glandwise-client", "httpx", "pydantic"} <= installed
    assert len(installed) <= 13, installed  # the two libraries bring about nine of their own


FROM_WHEEL = """
import sys
import glandwise
from pathlib import Path
assert Path(glandwise.__file__).is_relative_to(sys.argv[1]), glandwise.__file__
from glandwise_client import GlandwiseClient
with GlandwiseClient.in_process() as client:
    assert client.list_compounds().compounds
    energizer = {
        "kind": "canted_coil", "wire_diameter": {"nominal": "0.32 mm"}, "coil_height": {"nominal": "3.3 mm"},
        "coil_width": {"nominal": "3.8 mm"}, "pitch": {"nominal": "0.58 mm"}, "cant_angle": "35 deg",
        "compression": {"kind": "deflection", "deflection": {"nominal": "0.8 mm"}},
    }
    result = client.estimate_energizer_load(energizer=energizer, contact_diameter="60 mm", temperature="20 degC")
    assert result.load.nominal.value > 0
print("whole")
"""


def test_the_service_runs_from_its_wheel(service_wheel: Path, client_wheel: Path, tmp_path: Path) -> None:
    target = tmp_path / "site"
    for wheel in (service_wheel, client_wheel):
        with zipfile.ZipFile(wheel) as archive:
            archive.extractall(target)
    assert run(sys.executable, "-c", FROM_WHEEL, target, cwd=tmp_path, PYTHONPATH=str(target)).strip() == "whole"
