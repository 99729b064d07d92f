"""What the tests of the client share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx

ROOT = Path(__file__).resolve().parents[2]

DUTY: dict[str, Any] = {
    "shaft_diameter": "50 mm",
    "motion": {"kind": "rotation", "rotational_speed": "1500 rpm"},
    "pressure": "29 psi",
    "temperature": {"normal": (80, "degC")},
    "fluid": "mineral_oil_gear",
}
DESIGN: dict[str, Any] = {"family": "flexible_lip", "compound": "ptfe_carbon_graphite_25"}


class Script:
    """A transport, sync and async, that plays answers and failures in turn and remembers the requests."""

    def __init__(self, *steps: httpx.Response | Exception | Callable[[httpx.Request], httpx.Response]) -> None:
        self.steps = list(steps)
        self.requests: list[httpx.Request] = []
        self.transport = httpx.MockTransport(self)

    def __call__(self, request: httpx.Request) -> httpx.Response:
        self.requests.append(request)
        step = self.steps.pop(0)
        if isinstance(step, Exception):
            raise step
        return step if isinstance(step, httpx.Response) else step(request)


HEALTH = {"status": "ok", "engine": "0.1.0", "rule_sets": ["baseline"]}


def healthy() -> httpx.Response:
    """An answer of ``check_health``."""
    return httpx.Response(200, json=HEALTH)
