"""Property tests of every operation: valid and invalid data generated from the OpenAPI document, all checks.

Examples, boundary values (coverage) and random data, each positive and negative, with a fixed seed. No check is left
out; two are added: every error is a problem document in the canonical shape, and data that fit the schema are refused
for reasons of physics or for an unknown name only.

``make fuzz`` sends all of it, some 45,000 boundary values among it; ``make test`` sends a slice: examples and a few random
requests of each operation.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from glandwise.app import create_app
from glandwise.review import audit
from glandwise.settings import Settings
from schemathesis.checks import CheckContext
from schemathesis.config import SchemathesisConfig

from tests.conftest import assert_problem
from tests.laws import FUZZ

SETTINGS = "schemathesis.toml" if FUZZ else "schemathesis_slice.toml"

schema = schemathesis.openapi.from_asgi(
    "/openapi.json",
    create_app(Settings(batch_workers=0)),
    config=SchemathesisConfig.from_path(Path(__file__).with_name(SETTINGS)),
)


class Answer:
    """What ``assert_problem`` needs to see of a response."""

    def __init__(self, response: schemathesis.Response) -> None:
        self.status_code, self.content = response.status_code, response.content
        self.headers = {name.lower(): ", ".join(values) for name, values in response.headers.items()}
        self.text, self.json = response.text, response.json


@schemathesis.check
def canonical_problem(ctx: CheckContext, response: schemathesis.Response, case: schemathesis.Case) -> bool | None:
    """Every error is a problem document; a request never makes the service fail."""
    if response.status_code < 400 or not response.content:
        return True
    kind: Any = response.json()["type"].removeprefix("/problems/")
    assert kind != "internal-error"
    assert_problem(Answer(response), response.status_code, kind)
    return None


@schemathesis.check
def refused_by_physics_only(ctx: CheckContext, response: schemathesis.Response, case: schemathesis.Case) -> bool | None:
    """Data that fit the schema are refused with 422 only as unphysical or for a name that is not known."""
    positive = case.meta is not None and case.meta.generation.mode.is_positive
    if not positive or response.status_code != 422:
        return True
    problem = response.json()
    assert problem["type"] in {"/problems/out-of-domain", "/problems/unknown-name"}, problem
    assert all(error["accepted"] for error in problem["errors"]), problem
    return None


@pytest.fixture(scope="module", autouse=True)
def _one_audit_per_rule_set() -> Iterator[None]:
    """Audit each rule set once: an audit takes seconds, and other seeds and sample counts bring no other shape.

    Everything of the contract around it stays as it is: parsing, validation, refusals, and a real answer to check.
    """
    held: dict[str, dict[str, Any]] = {}

    def audit_once(request: Any, engine: Any) -> dict[str, Any]:
        key = request.model_dump_json(include={"base", "candidate"})
        if key not in held:
            held[key] = audit_set(request.model_copy(update={"samples": 64}), engine)
        return held[key]

    audit_set = audit.audit_set
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(audit, "audit_set", audit_once)
        yield


@pytest.mark.slow
@pytest.mark.drawn
@schema.parametrize()
def test_operation_keeps_its_contract(case: schemathesis.Case) -> None:
    case.call_and_validate()
