"""What whoever runs the service sees of it: log, metrics, readiness, dashboard."""

from __future__ import annotations

import json
import logging
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from fastapi.testclient import TestClient
from glandwise import logs
from glandwise.api.middleware import operation_of
from glandwise.app import create_app
from glandwise.logs import AsJson, AsText, trace_of
from glandwise.operations import OPERATIONS
from glandwise.questions import warm
from glandwise.settings import Settings
from prometheus_client.parser import text_string_to_metric_families

from tests.conftest import assert_problem, example

ROOT = Path(__file__).resolve().parents[2]
OBSERVE = ROOT / "docker" / "observe"
RUNBOOK = (ROOT / "service" / "docs" / "runbook.md").read_text(encoding="utf-8")
CHECK = "/v1/envelope-checks"
REQUEST = example("check_envelope", "gearbox_input_shaft")
LINES = {"content-type": "application/x-ndjson"}
SECRET = "Zq7secret"
TRACE, SPAN = "4bf92f3577b34da6a3ce929d0e0e4736", "00f067aa0ba902b7"


@pytest.fixture
def session() -> Iterator[TestClient]:
    """A service that has counted nothing yet."""
    with TestClient(create_app(Settings(batch_workers=0, log_requests=True))) as found:
        yield found


def counted(session: TestClient) -> dict[str, dict[tuple[tuple[str, str], ...], float]]:
    """Return what the service tells its collector: name → labels → value."""
    response = session.get("/metrics")
    assert response.status_code == 200
    assert response.headers["content-type"].startswith("text/plain; version=")
    found: dict[str, dict[tuple[tuple[str, str], ...], float]] = {}
    for family in text_string_to_metric_families(response.text):
        for sample in family.samples:
            found.setdefault(sample.name, {})[tuple(sorted(sample.labels.items()))] = sample.value
    return found


def value(found: dict[str, Any], name: str, **labels: str) -> float:
    """Sum what has these labels, among others."""
    wanted = set(labels.items())
    return float(sum(number for given, number in found[name].items() if wanted <= set(given)))


# ------------------------------------------------------------------------------------------------------------- metrics


def test_requests_are_counted_by_operation_and_status(session: TestClient) -> None:
    for body in (REQUEST, REQUEST, {}):
        session.post(CHECK, json=body)
    session.get("/v1/compounds")
    session.get("/v1/rule-sets/baseline")
    found = counted(session)
    count = "glandwise_request_seconds_count"
    assert value(found, count, operation="check_envelope", form="json", status="200") == 2
    assert value(found, count, operation="check_envelope", form="json", status="422") == 1
    assert value(found, count, operation="list_compounds", status="200") == 1
    assert value(found, count, operation="get_rule_set", status="200") == 1
    assert value(found, "glandwise_request_seconds_bucket", operation="check_envelope", status="200", le="+Inf") == 2
    assert value(found, "glandwise_request_seconds_sum", operation="check_envelope", status="200") > 0.0


def test_verdicts_are_counted_of_single_requests_and_lines(session: TestClient) -> None:
    verdict = session.post(CHECK, json=REQUEST).json()["verdict"]
    body = "\n".join([json.dumps(REQUEST), "{}", json.dumps(REQUEST)])
    assert session.post(CHECK, content=body, headers=LINES).status_code == 200
    found = counted(session)
    assert value(found, "glandwise_verdicts_total", operation="check_envelope", verdict=verdict) == 3
    assert value(found, "glandwise_batch_lines_total", operation="check_envelope", status="200") == 2
    assert value(found, "glandwise_batch_lines_total", operation="check_envelope", status="422") == 1
    assert value(found, "glandwise_request_seconds_count", operation="check_envelope", form="lines") == 1


def test_rules_queue_and_engine_are_told(session: TestClient) -> None:
    found, rules = counted(session), session.get("/v1/rule-sets").json()["rule_sets"]
    told = {dict(labels)["name"]: dict(labels) for labels in found["glandwise_rule_set"]}
    assert {name: labels["digest"] for name, labels in told.items()} == {item["name"]: item["digest"] for item in rules}
    assert [name for name, labels in told.items() if labels["default"] == "true"] == ["baseline"]
    assert value(found, "glandwise_lane_places", lane="long operations") == 34
    assert value(found, "glandwise_lane_taken") == 0
    assert value(found, "glandwise_kernels_ready") == 1
    assert value(found, "process_resident_memory_bytes") > 1e7


def test_nothing_that_was_sent_becomes_a_label(session: TestClient) -> None:
    session.get(f"/{SECRET}")
    session.get(f"/v1/rule-sets/{SECRET}")
    session.get("/v1/compounds", params={"rule_set": SECRET})
    session.request(SECRET.upper(), CHECK)
    session.post(CHECK, json={**REQUEST, "rule_set": SECRET}, headers={"x-request-id": SECRET, "accept": SECRET})
    text = session.get("/metrics").text
    assert SECRET.lower() not in text.lower()
    assert 'operation="other"' in text


def test_a_path_of_its_own_making_is_no_operation() -> None:
    assert operation_of({"path": f"/{SECRET}"}) == "other"
    assert {operation_of({"path": row.path}) for row in OPERATIONS.values()} == set(OPERATIONS)


# ------------------------------------------------------------------------------------------------------------------ log


def written(record: logging.LogRecord) -> dict[str, Any]:
    line = AsJson().format(record)
    assert "\n" not in line
    found: dict[str, Any] = json.loads(line)
    return found


def test_a_request_is_logged_with_its_operation_its_id_and_its_trace(
    session: TestClient, caplog: pytest.LogCaptureFixture
) -> None:
    marked: list[dict[str, Any]] = []

    class Collect(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            marked.append(written(record))

    collect = Collect()
    log = logging.getLogger("glandwise.requests")
    log.addHandler(collect)
    try:
        with caplog.at_level(logging.INFO, "glandwise.requests"):
            headers = {"x-request-id": "one-of-mine", "traceparent": f"00-{TRACE}-{SPAN}-01"}
            session.post(CHECK, json=REQUEST, headers=headers)
            session.get(f"/{SECRET}")
            session.get("/healthz")
    finally:
        log.removeHandler(collect)
    first, second = marked  # probes are not logged
    assert first.items() >= {
        "level": "info", "logger": "glandwise.requests", "event": "answered", "method": "POST", "operation": "check_envelope",
        "form": "json", "status": 200, "request_id": "one-of-mine", "trace_id": TRACE, "parent_id": SPAN,
    }.items()  # fmt: skip
    assert first["milliseconds"] > 0.0
    assert first["bytes"] > 1000
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", first["time"])
    assert (second["operation"], second["status"]) == ("other", 404)
    assert "trace_id" not in second
    assert SECRET not in json.dumps(marked)


@pytest.mark.parametrize(
    "header, told",
    [
        (f"00-{TRACE}-{SPAN}-01", True),
        (f"01-{TRACE}-{SPAN}-01-more", True),  # a later version may say more
        (f"00-{TRACE}-{SPAN}-01-more", False),
        (f"ff-{TRACE}-{SPAN}-01", False),
        (f"00-{'0' * 32}-{SPAN}-01", False),
        (f"00-{TRACE}-{'0' * 16}-01", False),
        (f"00-{TRACE.upper()}-{SPAN}-01", False),
        (f"00-{TRACE}-{SPAN}", False),
        (SECRET, False),
    ],
)
def test_only_a_trace_context_that_is_one_is_taken(header: str, told: bool) -> None:
    assert trace_of(header.encode()) == ((TRACE, SPAN) if told else (None, None))


def test_a_defect_is_written_with_its_place_and_without_its_words() -> None:
    try:
        raise ValueError(SECRET)
    except ValueError as error:
        record = logging.LogRecord("glandwise", logging.ERROR, "", 0, "it failed", (), (ValueError, error, None))
    found = written(record)
    assert found["message"] == "it failed"
    assert found["trace"].endswith("builtins.ValueError")
    assert SECRET not in json.dumps(found) + AsText().format(record)


def test_what_a_long_operation_logs_carries_the_request(session: TestClient, answered_by: Any) -> None:
    seen: list[Any] = []

    def noted(*given: Any) -> Any:
        seen.append(logs.marks.get())
        return select(*given)

    select = answered_by("select_design", noted)
    answer = session.post("/v1/selections", json={"duty": REQUEST["duty"]})
    assert answer.status_code == 200
    assert [mark.request_id for mark in seen] == [answer.headers["x-request-id"]]


# ------------------------------------------------------------------------------------------------------------ readiness


def test_readiness_tells_each_part(session: TestClient) -> None:
    found = session.get("/readyz").json()
    assert {part["name"]: part["state"] for part in found["parts"]} == {
        "rules": "ok", "kernels": "ok", "workers": "ok", "queue": "ok",
    }  # fmt: skip
    assert found["digests"].keys() == set(found["rule_sets"])
    assert "parts" not in session.get("/healthz").json()


def test_without_machine_code_the_service_is_not_ready(session: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(warm, "_ready", [])
    problem = assert_problem(session.get("/readyz"), 503, "unavailable")
    assert "compiled" in problem["detail"]
    assert session.get("/healthz").status_code == 200


def test_a_busy_replica_stays_ready_and_says_so(session: TestClient) -> None:
    desk = session.app.state.desk  # type: ignore[attr-defined]
    desk._held.turns = desk.max_batches
    response = session.get("/readyz")
    assert response.status_code == 200
    assert {part["name"]: part["state"] for part in response.json()["parts"]}["queue"] == "busy"


# -------------------------------------------------------------------------------------------- dashboard, alerts, runbook


def expressions() -> dict[str, str]:
    """Return every expression of the dashboard and the alerts, by title or name."""
    board = json.loads((OBSERVE / "dashboard.json").read_text(encoding="utf-8"))
    alerts = yaml.safe_load((OBSERVE / "alerts.yaml").read_text(encoding="utf-8"))
    found = {
        f"{panel['title']} {target['refId']}": target["expr"]
        for panel in board["panels"]
        for target in panel["targets"]
    }
    return found | {rule["alert"]: rule["expr"] for group in alerts["groups"] for rule in group["rules"]}


def test_dashboard_and_alerts_ask_for_what_is_told_by_labels_that_it_has(session: TestClient) -> None:
    session.post(CHECK, json=REQUEST)
    session.post(CHECK, content=json.dumps(REQUEST), headers=LINES)
    session.app.state.metrics.reloads.labels("taken").inc()  # type: ignore[attr-defined]
    found = counted(session)
    for title, expression in expressions().items():
        plain = re.sub(r'"[^"]*"|\[[^\]]*\]', "", expression)
        names = re.findall(r"\b(?:glandwise|process)_\w+", plain)
        assert names, title
        asked = set(re.findall(r"(\w+)!?=~?", plain))
        asked |= {name.strip() for group in re.findall(r"by \(([^)]*)\)", plain) for name in group.split(",")}
        for name in names:
            assert name in found, f"{title}: {name}"
        there = {label for name in names for labels in found[name] for label, _ in labels}
        assert asked - {"instance"} <= there, f"{title}: {asked - there}"


def test_the_runbook_has_each_alert_and_each_metric(session: TestClient) -> None:
    alerts = yaml.safe_load((OBSERVE / "alerts.yaml").read_text(encoding="utf-8"))
    for rule in alerts["groups"][0]["rules"]:
        assert f"\n## {rule['alert']}\n" in RUNBOOK
    own = set(re.findall(r"^# TYPE (\w+) ", session.get("/metrics").text, re.MULTILINE))
    own = {name for name in own if name.startswith("glandwise_") and not name.endswith("_created")}
    assert own
    for name in own:
        assert name in RUNBOOK, name
