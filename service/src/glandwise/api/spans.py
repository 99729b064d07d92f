"""What a span of OpenTelemetry says of a request beside what the framework tells: operation, form, verdict, rules.

The framework makes the spans (FastAPI's own telemetry) and sends them where the standard variables ``OTEL_*`` say. Nothing of what
was sent or answered becomes an attribute but names of ours, as in the metrics. Its records of refused requests and of exceptions
are left out: they would repeat what was sent.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from importlib.util import find_spec
from typing import Any, Final

from fastapi.telemetry import TelemetryConfig
from opentelemetry import trace
from starlette.types import Scope

from glandwise.api.access import PROBES
from glandwise.settings import SettingsError

ENDPOINTS: Final = ("OTEL_EXPORTER_OTLP_ENDPOINT", "OTEL_EXPORTER_OTLP_TRACES_ENDPOINT")
"""Variables, one of which says where spans go."""


def config(is_wanted: bool) -> TelemetryConfig:
    """Return what the framework is told.

    Raises :class:`glandwise.settings.SettingsError` where spans are wanted and cannot be sent.
    """
    if is_wanted:
        if find_spec("opentelemetry.sdk") is None:
            raise SettingsError("GLANDWISE_TELEMETRY: the extra `telemetry` of the service is not installed")
        if not any(os.environ.get(name) for name in ENDPOINTS):
            raise SettingsError(
                f"GLANDWISE_TELEMETRY: nothing says where to; accepted beside it: {' or '.join(ENDPOINTS)}"
            )
    return {
        "auto_configure": is_wanted,
        "logs": False,
        "metrics": False,  # Prometheus has them
        "operation_spans": False,
        "exclude": lambda scope: scope.get("path") in PROBES,
    }


def answered(scope: Scope, operation: str, form: str, request_id: str) -> None:
    """Say of the span of a request what was asked for."""
    if "fastapi.telemetry" in scope:
        trace.get_current_span().set_attributes(
            {"glandwise.operation": operation, "glandwise.form": form, "glandwise.request_id": request_id}
        )


def judged(scope: Scope, result: Mapping[str, Any]) -> None:
    """Say of the span of a request what the answer is and by which rules."""
    if "fastapi.telemetry" not in scope:
        return
    span, verdict = trace.get_current_span(), result.get("verdict")
    if isinstance(verdict, str):
        span.set_attribute("glandwise.verdict", verdict)
    rules = result.get("stamp", {}).get("rule_set")
    if rules is not None:
        span.set_attributes(
            {"glandwise.rule_set": f"{rules['name']} {rules['version']}", "glandwise.rules": rules["digest"]}
        )
