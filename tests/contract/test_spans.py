"""Spans of OpenTelemetry: one for each request, with names of ours only, sent where the standard variables say."""

from __future__ import annotations

import gzip
import http.server
import threading
import time
from collections.abc import Iterator
from typing import Any

import httpx
import pytest
from fastapi.testclient import TestClient
from glandwise.api import spans
from glandwise.app import create_app
from glandwise.settings import Settings, SettingsError
from opentelemetry.proto.collector.trace.v1.trace_service_pb2 import ExportTraceServiceRequest
from opentelemetry.sdk.trace import ReadableSpan, TracerProvider
from opentelemetry.sdk.trace.export import SimpleSpanProcessor
from opentelemetry.sdk.trace.export.in_memory_span_exporter import InMemorySpanExporter
from opentelemetry.trace import SpanKind, StatusCode

from tests.conftest import example
from tests.security.test_wire import served

CHECK = "/v1/envelope-checks"
REQUEST = example("check_envelope", "gearbox_input_shaft")
TRACE, SPAN = "4bf92f3577b34da6a3ce929d0e0e4736", "00f067aa0ba902b7"
SECRET = "Zq7secret"


@pytest.fixture
def exporter(monkeypatch: pytest.MonkeyPatch) -> InMemorySpanExporter:
    """What has been sent of an application that is made after this."""
    found, provider, usual = InMemorySpanExporter(), TracerProvider(shutdown_on_exit=False), spans.config
    provider.add_span_processor(SimpleSpanProcessor(found))
    monkeypatch.setattr(spans, "config", lambda is_wanted: {**usual(is_wanted), "tracer_provider": provider})
    return found


@pytest.fixture
def session(exporter: InMemorySpanExporter) -> Iterator[TestClient]:
    with TestClient(create_app(Settings(batch_workers=0)), raise_server_exceptions=False) as found:
        yield found


def told(exporter: InMemorySpanExporter) -> tuple[ReadableSpan, dict[str, Any]]:
    (span,) = exporter.get_finished_spans()
    exporter.clear()
    return span, dict(span.attributes or {})


def test_a_span_tells_the_operation_its_verdict_and_the_rules_and_belongs_to_the_trace_of_the_caller(
    session: TestClient, exporter: InMemorySpanExporter
) -> None:
    headers = {"traceparent": f"00-{TRACE}-{SPAN}-01", "x-request-id": "order-7"}
    answer = session.post(CHECK, json=REQUEST, headers=headers).json()
    span, attributes = told(exporter)
    assert span.kind is SpanKind.SERVER
    assert span.name == f"POST {CHECK}"
    assert span.context is not None
    assert f"{span.context.trace_id:032x}" == TRACE
    assert span.parent is not None
    assert f"{span.parent.span_id:016x}" == SPAN
    assert attributes["glandwise.operation"] == "check_envelope"
    assert attributes["glandwise.form"] == "json"
    assert attributes["glandwise.request_id"] == "order-7"
    assert attributes["glandwise.verdict"] == answer["verdict"]
    assert attributes["glandwise.rules"] == answer["stamp"]["rule_set"]["digest"]
    assert attributes["http.response.status_code"] == 200


def test_probes_have_none_and_batches_have_one(session: TestClient, exporter: InMemorySpanExporter) -> None:
    session.get("/healthz")
    session.get("/readyz")
    assert not exporter.get_finished_spans()
    body = f"{httpx.Request('POST', 'http://x', json=REQUEST).content.decode()}\n" * 3
    assert session.post(CHECK, content=body, headers={"content-type": "application/x-ndjson"}).status_code == 200
    assert told(exporter)[1]["glandwise.form"] == "lines"


def test_what_was_sent_is_in_no_attribute_and_no_event(session: TestClient, exporter: InMemorySpanExporter) -> None:
    session.post(CHECK, json={**REQUEST, "rule_set": SECRET, SECRET: SECRET})
    session.post(CHECK, content=SECRET.encode())
    session.post(CHECK, json={"duty": {"fluid": SECRET}})
    for span in exporter.get_finished_spans():
        assert SECRET not in span.to_json()
        assert span.status.status_code is not StatusCode.ERROR  # a refusal is no fault of the service


def test_answers_are_the_same_with_spans(session: TestClient) -> None:
    with TestClient(create_app(Settings(batch_workers=0))) as plain:
        assert session.post(CHECK, json=REQUEST).json() == plain.post(CHECK, json=REQUEST).json()
        mark = {"x-request-id": "order-7"}
        assert session.post(CHECK, json={}, headers=mark).json() == plain.post(CHECK, json={}, headers=mark).json()


def test_spans_that_cannot_be_sent_stop_the_start(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in spans.ENDPOINTS:
        monkeypatch.delenv(name, raising=False)
    with pytest.raises(SettingsError, match="nothing says where to; accepted beside it: OTEL_EXPORTER_OTLP_ENDPOINT"):
        create_app(Settings(telemetry=True))
    monkeypatch.setattr(spans, "find_spec", lambda _: None)
    with pytest.raises(SettingsError, match="extra `telemetry`"):
        create_app(Settings(telemetry=True))


class Collector(http.server.BaseHTTPRequestHandler):
    """Takes what a collector takes."""

    taken: list[ExportTraceServiceRequest]

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["content-length"]))
        if self.headers.get("content-encoding") == "gzip":
            body = gzip.decompress(body)
        self.taken.append(ExportTraceServiceRequest.FromString(body))
        self.send_response(200)
        self.end_headers()

    def log_message(self, *args: Any) -> None:
        """Stay silent."""


@pytest.mark.slow
def test_a_service_sends_its_spans_where_the_standard_variables_say(monkeypatch: pytest.MonkeyPatch) -> None:
    Collector.taken = []
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Collector) as collector:
        thread = threading.Thread(target=collector.serve_forever, daemon=True)
        thread.start()
        for name, value in (
            (spans.ENDPOINTS[0], f"http://127.0.0.1:{collector.server_port}"), ("OTEL_SERVICE_NAME", "glandwise"),
            ("OTEL_BSP_SCHEDULE_DELAY", "200"),
        ):  # fmt: skip
            monkeypatch.setenv(name, value)
        with served(telemetry="true") as (port, _):
            assert httpx.post(f"http://127.0.0.1:{port}{CHECK}", json=REQUEST).status_code == 200
            until = time.monotonic() + 30.0
            while time.monotonic() < until and not Collector.taken:
                time.sleep(0.1)
        collector.shutdown()
    sent = [
        (resource.resource, span)
        for item in Collector.taken
        for resource in item.resource_spans
        for scope in resource.scope_spans
        for span in scope.spans
    ]
    (resource, span) = sent[0]
    assert {item.key: item.value.string_value for item in resource.attributes}["service.name"] == "glandwise"
    attributes = {item.key: item.value.string_value for item in span.attributes}
    assert attributes["glandwise.operation"] == "check_envelope"
