"""A criterion is one file: leaving a part of it out, or leaving it out of the kernel, is found here and not by a request."""

from __future__ import annotations

import ast
import inspect
from pathlib import Path

import pytest
from glandwise.questions.envelope import criteria, kernel
from glandwise.questions.envelope.kernel import IDS, MEASURED
from glandwise.rules.model import CAPACITY_DIMENSION
from glandwise.units import DIMENSIONS

from tests.questions.support import rules


def test_every_file_is_measured_in_its_place() -> None:
    folder = Path(str(criteria.__file__)).parent
    assert {path.stem for path in folder.glob("*.py")} - {"__init__"} == set(IDS)
    body = ast.parse(inspect.getsource(kernel.envelope))
    # what hangs on less than a case is kept in a variable
    held = {
        node.targets[0].id: node.value.func.value.id  # type: ignore[attr-defined]
        for node in ast.walk(body)
        if isinstance(node, ast.Assign)
        and isinstance(node.value, ast.Call)
        and isinstance(node.value.func, ast.Attribute)
        and node.value.func.attr == "measure"
    }
    placed = {
        held[at.id] if isinstance(at := node.args[2], ast.Name) else at.func.value.id: node.args[1].value  # type: ignore[attr-defined]
        for node in ast.walk(body)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "put"
    }
    assert placed == {name: at for at, name in enumerate(IDS)}


@pytest.mark.parametrize("module", MEASURED, ids=IDS)
def test_a_criterion_has_all_its_parts(module: object) -> None:
    assert module.DIMENSION in DIMENSIONS  # type: ignore[attr-defined]
    assert module.RATED in {"", *CAPACITY_DIMENSION}  # type: ignore[attr-defined]
    assert isinstance(module.MISSING, str)  # type: ignore[attr-defined]
    assert callable(module.words)  # type: ignore[attr-defined]
    zone = module.ZONE  # type: ignore[attr-defined]
    assert zone is None or (len(zone) == 3 and zone[0].startswith("#") and zone[1].startswith("#"))


def test_every_criterion_has_a_title_and_a_caution_in_the_rules() -> None:
    for name in IDS:
        rule = rules().data.criteria[name]
        assert rule.title
        assert 0.0 < rule.caution_at.si <= 1.0


def test_zones_of_a_map_stay_apart() -> None:
    zones = [module.ZONE for module in MEASURED if module.ZONE is not None]
    assert len({zone[0] for zone in zones}) == len(zones)
