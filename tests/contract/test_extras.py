"""What the service is without the extras that may be left out."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from glandwise import extras
from glandwise.api.render.operating_map import _spread
from glandwise.operations import OPERATIONS
from glandwise.review import sampling
from glandwise_client import GlandwiseClient, NotInstalled
from scipy.ndimage import distance_transform_edt

from tests.questions.support import rules

ROOT = Path(__file__).resolve().parents[2]
_WITHOUT = """
import json, sys
sys.modules["scipy"] = None  # whatever asks for it fails
from fastapi.testclient import TestClient
from glandwise.app import create_app
from glandwise.openapi_build import without_digests
told = {}
with TestClient(create_app(), client=("127.0.0.1", 50000)) as client:
    told["ready"] = client.get("/readyz").status_code
    for path in sys.argv[1:]:
        example = json.loads(open(path, encoding="utf-8").read())
        answer = client.post(example["path"], json=example["request"])
        same = answer.status_code == 200 and without_digests(answer.json()) == example["response"]
        told[example["operation"]] = True if same else [answer.status_code, answer.json()]
        if example["operation"] == "map_operation":
            plot = client.post(example["path"], json=example["request"], headers={"accept": "image/svg+xml"})
            told["plot"] = "<svg" in plot.text
    told["document"] = client.get("/openapi.json").json() == json.loads(open("openapi/openapi.json").read())
json.dump(told, sys.stdout)
"""


@pytest.mark.slow
def test_without_statistics_all_but_calibrations_and_audits_answers_as_before() -> None:
    examples = sorted(map(str, (ROOT / "openapi" / "examples").glob("*.json")))
    done = subprocess.run(
        [sys.executable, "-c", _WITHOUT, *examples], capture_output=True, text=True, check=False, cwd=ROOT
    )
    assert done.returncode == 0, done.stderr
    told: dict[str, Any] = json.loads(done.stdout)
    lacking = {name for name, row in OPERATIONS.items() if row.extra}
    assert lacking == {"audit_rule_set", "calibrate_rules"}
    for name in lacking:
        status, problem = told.pop(name)
        assert status == 501
        assert problem["type"] == "/problems/not-installed"
        assert "glandwise-service[statistics]" in problem["detail"]
    assert told.pop("ready") == 200
    assert {name: said for name, said in told.items() if said is not True} == {}
    assert set(told) == {*OPERATIONS, "plot", "document"} - lacking


def _lacks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(extras, "is_installed", lambda _: False)


def test_a_client_meets_it_as_what_it_is_and_does_not_ask_again(monkeypatch: pytest.MonkeyPatch) -> None:
    _lacks(monkeypatch)
    with GlandwiseClient.in_process() as client, pytest.raises(NotInstalled, match="its extra statistics") as caught:
        client.audit_rule_set({})
    assert caught.value.status == 501
    assert caught.value.retry_after is None


def test_it_is_said_before_the_request_is_read(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    _lacks(monkeypatch)
    answer = client.post("/v1/calibrations", content=b"{", headers={"accept-language": "de"})
    assert answer.status_code == 501
    assert "fehlt ein Teil" in answer.json()["message"]


def test_what_draws_cases_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    _lacks(monkeypatch)
    with pytest.raises(ImportError, match=r"glandwise-service\[statistics\]"):
        sampling.sample(rules().data, 8, 1, 0)


@pytest.mark.parametrize("seed", range(20))
def test_zones_reach_as_far_as_a_transform_of_distances_has_it(seed: int) -> None:
    """Held to SciPy's exact transform: each point gets a zone that is as near as the nearest."""
    random = np.random.default_rng(seed)
    shape = tuple(random.integers(1, 40, 2))
    zones = np.where(random.random(shape) < random.choice([0.02, 0.3, 0.9]), random.integers(0, 5, shape), -1)
    found = _spread(zones)
    known = zones >= 0
    if not known.any() or known.all():
        assert (found == zones).all()
        return
    near = distance_transform_edt(~known)
    assert (found[known] == zones[known]).all()
    for zone in np.unique(found):
        here = found == zone
        assert distance_transform_edt(zones != zone)[here] == pytest.approx(near[here])
