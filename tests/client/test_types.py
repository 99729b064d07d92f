"""What type checkers make of a user's script: nothing of a right one, each mistake of a wrong one."""

from __future__ import annotations

import importlib.util
import json
import re
import shutil
import subprocess
import sys
import typing
from pathlib import Path
from typing import Any

import pytest
from glandwise_client import GlandwiseClient, dicts, models
from pydantic import ValidationError

from tests.client.support import DESIGN, DUTY, ROOT

SCRIPTS = Path(__file__).parent / "typed"
SOURCES = ROOT / "client" / "src"


def mistakes(script: Path) -> list[int]:
    """Return the numbers of the lines that are wrong."""
    lines = script.read_text(encoding="utf-8").splitlines()
    return [number for number, line in enumerate(lines, start=1) if line.endswith("# wrong")]


def found_by_mypy(tmp_path: Path) -> dict[str, list[int]]:
    settings = tmp_path / "mypy.ini"
    settings.write_text(f"[mypy]\nstrict = True\nmypy_path = {SOURCES}\n", encoding="utf-8")
    scripts = [SCRIPTS / "right.py", SCRIPTS / "wrong.py"]
    kept = ROOT / ".mypy_cache" / "typed"
    command = [sys.executable, "-m", "mypy", "--config-file", str(settings), "--cache-dir", str(kept)]
    done = subprocess.run([*command, *map(str, scripts)], capture_output=True, text=True, cwd=tmp_path)
    assert done.returncode in (0, 1), done.stdout + done.stderr
    found = re.findall(r"^(.*?):(\d+): error", done.stdout, re.MULTILINE)
    assert {name for name, _ in found} <= {str(script) for script in scripts}, done.stdout
    return {script.name: sorted({int(line) for name, line in found if name == str(script)}) for script in scripts}


def found_by_pyright(tmp_path: Path) -> dict[str, list[int]]:
    settings: dict[str, Any] = {"typeCheckingMode": "strict", "extraPaths": [str(SOURCES)], "include": ["scripts"]}
    shutil.copytree(SCRIPTS, tmp_path / "scripts")
    (tmp_path / "pyrightconfig.json").write_text(json.dumps(settings), encoding="utf-8")
    command = [
        sys.executable,
        "-m",
        "pyright",
        "--outputjson",
        "--project",
        str(tmp_path),
        "--pythonpath",
        sys.executable,
    ]
    done = subprocess.run(command, capture_output=True, text=True)
    report = json.loads(done.stdout)
    assert report["summary"]["filesAnalyzed"] == 2, done.stderr
    found = [(Path(one["file"]).name, one["range"]["start"]["line"] + 1) for one in report["generalDiagnostics"]]
    return {name: sorted({line for file, line in found if file == name}) for name in ("right.py", "wrong.py")}


CHECKERS = {"mypy": found_by_mypy, "pyright": found_by_pyright}


@pytest.mark.slow
@pytest.mark.parametrize("checker", CHECKERS)
def test_a_right_script_passes_and_each_mistake_is_found(checker: str, tmp_path: Path) -> None:
    if importlib.util.find_spec(checker) is None:
        pytest.skip(f"{checker} is not installed")
    wrong = mistakes(SCRIPTS / "wrong.py")
    assert len(wrong) > 5
    assert CHECKERS[checker](tmp_path) == {"right.py": [], "wrong.py": wrong}


def test_every_object_of_a_request_has_its_twin_with_the_same_fields() -> None:
    twins = {name: twin for name, twin in vars(dicts).items() if typing.is_typeddict(twin)}
    assert len(twins) > 60
    for name, twin in twins.items():
        model = getattr(models, name)
        assert set(twin.__annotations__) == set(model.model_fields), name
        required = {field for field, about in model.model_fields.items() if about.is_required()}
        assert {field for field, kind in twin.__annotations__.items() if "Required[" in str(kind)} == required, name
        assert twin.__doc__


def test_a_model_takes_several_quantities_as_a_method_does(client: GlandwiseClient) -> None:
    for speeds in (([500, 1000], "rpm"), ["500 rpm", (1000, "rpm")]):
        request = models.RunoutAllowanceRequest(duty=DUTY, design=DESIGN, rotational_speeds=speeds)  # type: ignore[arg-type]
        assert client.allow_runout(request) == client.allow_runout(duty=DUTY, design=DESIGN, rotational_speeds=speeds)  # type: ignore[arg-type]
    for fault in ("500 rpm", 500, ([500], "mm")):
        with pytest.raises(ValidationError):
            models.RunoutAllowanceRequest(duty=DUTY, design=DESIGN, rotational_speeds=fault)  # type: ignore[arg-type]
