"""Both clients: sending, retrying, reading, and that they are one another's mirror."""

from __future__ import annotations

import ast
import asyncio
import inspect
import json
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import glandwise_client as package
import httpx
import pint
import pytest
from glandwise_client import AsyncGlandwiseClient, GlandwiseClient, RetryPolicy, Timeouts, models
from glandwise_client._operations import OPERATIONS

from tests.client.support import DESIGN, DUTY, HEALTH, ROOT, Script, healthy

PATIENT = RetryPolicy(retries=2, first_delay=0.5, jitter=0.0)
PUBLIC = {name for name in dir(GlandwiseClient) if not name.startswith("_")}


# Shape --------------------------------------------------------------------------------------------------------------


def test_every_operation_of_the_contract_is_a_method_of_both_clients(document: dict[str, Any]) -> None:
    named = {operation["operationId"] for item in document["paths"].values() for operation in item.values()}
    assert named == set(OPERATIONS)
    for name in named:
        assert inspect.isfunction(getattr(GlandwiseClient, name))
        assert inspect.iscoroutinefunction(getattr(AsyncGlandwiseClient, name))


def test_every_operation_stands_in_the_table_as_in_the_contract(document: dict[str, Any]) -> None:
    for path, item in document["paths"].items():
        for verb, described in item.items():
            operation = OPERATIONS[described["operationId"]]
            assert (operation.path, operation.method) == (path, verb.upper())
            parameters = described.get("parameters", [])
            assert operation.query == tuple(one["name"] for one in parameters if one["in"] == "query")
            assert all("{" + one["name"] + "}" in path for one in parameters if one["in"] == "path")
            assert operation.result is not None
            assert (operation.request is not None) == (verb == "post")


def test_the_clients_mirror_one_another() -> None:
    assert {name for name in dir(AsyncGlandwiseClient) if not name.startswith("_")} == PUBLIC
    for name in sorted(PUBLIC | {"__init__"}):
        own, other = (inspect.signature(getattr(kind, name)) for kind in (GlandwiseClient, AsyncGlandwiseClient))
        swap = str(own).replace("SyncTransport", "AsyncTransport").replace("'Iterator[", "'AsyncIterator[")
        assert swap == str(other), name
        documented = getattr(GlandwiseClient, name).__doc__, getattr(AsyncGlandwiseClient, name).__doc__
        assert documented[0] == documented[1], name
        assert documented[0] or name == "__init__", name


def test_every_field_of_a_request_is_a_keyword_of_its_method() -> None:
    for name, operation in OPERATIONS.items():
        keywords = set(inspect.signature(getattr(GlandwiseClient, name)).parameters)
        fields = set(operation.request.model_fields) if operation.request else set()
        assert fields | set(operation.query) <= keywords


def test_exports() -> None:
    assert package.__all__ == sorted(package.__all__)
    imported = {
        name for name, value in vars(package).items() if not name.startswith("_") and not inspect.ismodule(value)
    }
    assert set(package.__all__) - {"__version__", "models"} == imported - {"annotations"}
    for name in package.__all__:
        assert getattr(package, name) is not None


def test_the_version_is_that_of_the_distribution() -> None:
    import tomllib

    project = tomllib.loads((ROOT / "client" / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["version"] == package.__version__


COMMAND = {"typer", "rich", "junitparser", "click"}
"""What the command line stands on, an extra of the client."""


def test_the_client_loads_without_what_the_command_stands_on() -> None:
    # the HTTP library looks for rich and click itself
    code = "import sys, glandwise_client; print(sorted({'typer', 'junitparser'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout.strip() == "[]"


def test_one_module_knows_the_http_library_and_none_the_service() -> None:
    for file in Path(package.__file__).parent.glob("*.py"):
        names = set()
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names |= {alias.name.partition(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                names.add(str(node.module).partition(".")[0])
        assert ("httpx" in names) == (file.name == "_http.py"), file.name
        known = {"glandwise_client", "pydantic", "httpx"}
        if file.name.startswith("_cli") or file.name in {"__main__.py", "_report.py"}:
            known |= COMMAND  # an extra: nothing else may import them
        if file.name == "_tables.py":
            known |= {"polars", "pyarrow"}  # only where a table of theirs was handed in
        assert names <= set(sys.stdlib_module_names) | known, (file.name, names)


@pytest.mark.slow
def test_the_generated_modules_are_in_step_with_the_contract() -> None:
    command = [sys.executable, str(ROOT / "client" / "generate.py"), "--check"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


# Models -------------------------------------------------------------------------------------------------------------

EXAMPLES = sorted((ROOT / "openapi" / "examples").glob("*.json"))


@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.stem)
def test_examples_of_the_contract_read_and_write_without_loss(file: Path) -> None:
    example = json.loads(file.read_text(encoding="utf-8"))
    operation = OPERATIONS[example["operation"]]
    assert operation.request is not None
    request = operation.request.model_validate(example["request"])
    assert request.model_dump(mode="json", exclude_unset=True) == example["request"]
    result = operation.result.model_validate(example["response"])
    assert result.model_dump(mode="json", exclude_unset=True) == example["response"]


def test_there_are_examples() -> None:
    assert len(EXAMPLES) >= 3


MAPS = {"files", "trips", "by_operation", "by_criterion", "by_family", "by_compound", "by_evidence"}
"""Fields that hold an entry by name: a stray entry in them is no later field."""


def _with_more(node: Any, name: str = "") -> Any:
    """Add a field to every object and change every text that is one of few."""
    if isinstance(node, dict):
        more = {} if name in MAPS else {"later": {"n": 1}}
        return {**{key: _with_more(value, key) for key, value in node.items()}, **more}
    if isinstance(node, list):
        return [_with_more(item) for item in node]
    return "of_a_later_service" if node in {"pass", "caution", "fail", "not_evaluated", "house_estimate"} else node


@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.stem)
def test_results_of_a_later_service_are_read(file: Path) -> None:
    example = json.loads(file.read_text(encoding="utf-8"))
    operation = OPERATIONS[example["operation"]]
    changed = _with_more(example["response"])
    read = operation.result.model_validate(changed)
    assert not hasattr(read, "later")


# Sending ------------------------------------------------------------------------------------------------------------


class Waits(list[float]):
    """Notes the waits in place of sleeping."""

    async def later(self, seconds: float) -> None:
        self.append(seconds)


@pytest.fixture
def waits(monkeypatch: pytest.MonkeyPatch) -> Waits:
    noted = Waits()
    monkeypatch.setattr("glandwise_client._client.time.sleep", noted.append)
    monkeypatch.setattr("glandwise_client._async_client.asyncio.sleep", noted.later)
    return noted


def call(kind: str, script: Script, **options: Any) -> models.Health:
    """Call ``check_health`` by either client."""
    if kind == "sync":
        with GlandwiseClient("http://service.test/base", transport=script.transport, **options) as client:
            return client.check_health()

    async def run() -> models.Health:
        async with AsyncGlandwiseClient("http://service.test/base", transport=script.transport, **options) as client:
            return await client.check_health()

    return asyncio.run(run())


KINDS = pytest.mark.parametrize("kind", ["sync", "async"])


@KINDS
def test_trouble_that_passes_is_waited_out(kind: str, waits: Waits) -> None:
    script = Script(httpx.ConnectError("refused"), httpx.Response(503, headers={"Retry-After": "3"}), healthy())
    result = call(kind, script, retry=PATIENT)
    assert result.status == "ok"
    assert waits == [0.5, 3.0]
    ids = {request.headers["x-request-id"] for request in script.requests}
    assert len(ids) == 1  # one call, one id, however often it is sent
    assert str(script.requests[0].url) == "http://service.test/base/healthz"


@KINDS
def test_the_token_of_the_environment_goes_along(kind: str, waits: Waits, monkeypatch: pytest.MonkeyPatch) -> None:
    def sent(**options: Any) -> str | None:
        script = Script(healthy())
        call(kind, script, **options)
        return script.requests[0].headers.get("authorization")

    monkeypatch.setenv("GLANDWISE_TOKEN", "from-outside\n")
    assert sent() == "Bearer from-outside"
    assert sent(headers={"authorization": "Bearer own"}) == "Bearer own"
    assert sent(trust_env=False) is None
    monkeypatch.delenv("GLANDWISE_TOKEN")
    assert sent() is None


@KINDS
def test_patience_ends(kind: str, waits: Waits) -> None:
    with pytest.raises(package.Unavailable):
        call(kind, Script(*(httpx.Response(503) for _ in range(4))), retry=PATIENT)
    assert waits == [0.5, 1.0]
    with pytest.raises(package.RequestTimeout):
        call(kind, Script(*(httpx.ReadTimeout("") for _ in range(4))), retry=PATIENT)
    assert waits == [0.5, 1.0] * 2


@KINDS
def test_a_defect_is_not_tried_again(kind: str, waits: Waits) -> None:
    with pytest.raises(package.InternalError):
        call(kind, Script(httpx.Response(500)), retry=PATIENT)
    assert waits == []


@KINDS
def test_a_long_wait_is_left_to_the_caller(kind: str, waits: Waits) -> None:
    with pytest.raises(package.TooManyRequests) as caught:
        call(kind, Script(httpx.Response(429, headers={"Retry-After": "3600"})), retry=PATIENT)
    assert (waits, caught.value.retry_after) == ([], 3600.0)


@KINDS
def test_headers_and_timeouts(kind: str) -> None:
    script = Script(healthy())
    timeouts = Timeouts(connect=1, read=2, write=3, pool=4)
    result = call(kind, script, headers={"Authorization": "Bearer token"}, timeout=timeouts)
    request = script.requests[0]
    assert request.headers["authorization"] == "Bearer token"
    assert request.headers["accept"] == "application/json"
    assert request.headers["user-agent"].startswith("glandwise-client/")
    assert request.extensions["timeout"] == {"connect": 1, "read": 2, "write": 3, "pool": 4}
    assert result.answer.status == 200
    assert result.answer.request_id == request.headers["x-request-id"]
    assert json.loads(result.answer.content) == HEALTH


def test_a_call_has_its_own_timeout_query_and_path() -> None:
    script = Script(healthy(), httpx.Response(404), httpx.Response(404))
    with GlandwiseClient("http://service.test/", transport=script.transport, timeout=9) as client:
        client.check_health(timeout=0.5)
        with pytest.raises(package.NotFound):
            client.get_rule_set("a/b c", as_of="2026-01-01")
        with pytest.raises(package.NotFound):
            client.list_fluids(rule_set="house")
    first, second, third = script.requests
    assert first.extensions["timeout"]["read"] == 0.5
    assert second.url.raw_path == b"/v1/rule-sets/a%2Fb%20c?as_of=2026-01-01"
    assert third.url.raw_path == b"/v1/fluids?rule_set=house"
    assert third.extensions["timeout"]["read"] == 9


# Against the service in this process --------------------------------------------------------------------------------


def test_dict_keywords_model_text_and_pint_ask_the_same(client: GlandwiseClient) -> None:
    registry = pint.UnitRegistry()
    in_pint = {
        **DUTY,
        "shaft_diameter": registry.Quantity(5.0, "cm"),
        "motion": {"kind": "rotation", "rotational_speed": registry.Quantity(25.0, "turn/second")},
        "pressure": registry.Quantity(29.0, "psi"),
        "temperature": {"normal": registry.Quantity(80.0, "degC")},
    }
    request = models.EnvelopeCheckRequest(duty=models.Duty(**DUTY), design=models.FlexibleLip(**DESIGN))
    prints = {
        client.check_envelope(duty=DUTY, design=DESIGN).stamp.fingerprint,
        client.check_envelope({"duty": DUTY, "design": DESIGN}).stamp.fingerprint,
        client.check_envelope(request).stamp.fingerprint,
        client.check_envelope(duty=models.Duty(**DUTY), design=DESIGN).stamp.fingerprint,
        client.check_envelope(duty=in_pint, design=DESIGN, units="us").stamp.fingerprint,
    }
    assert len(prints) == 1


def test_results_are_typed_and_equal(client: GlandwiseClient) -> None:
    first, second = (client.check_envelope(duty=DUTY, design=DESIGN) for _ in range(2))
    assert type(first) is models.EnvelopeCheckResult
    assert first == second
    assert first.answer.request_id != second.answer.request_id
    assert "answer" not in first.model_dump()
    criterion = next(item for item in first.criteria if item.id == "pressure")
    assert criterion.capacity is not None
    assert criterion.capacity.unit == "MPa"
    again = client.check_envelope(duty={**DUTY, "pressure": criterion.capacity}, design=DESIGN)  # a result goes back in
    assert next(item for item in again.criteria if item.id == "pressure").utilization == pytest.approx(1.0, rel=1e-9)
    with pytest.raises(AttributeError):
        _ = criterion.answer


def test_units_of_the_answer(app: Any) -> None:
    with GlandwiseClient.in_process(app, units="us") as client:
        american = client.allow_runout(duty=DUTY, design=DESIGN)
        metric = client.allow_runout(duty=DUTY, design=DESIGN, units="si")
        mixed = client.allow_runout(duty=DUTY, design=DESIGN, units={"system": "us", "length": "mil"})
    assert american.at_duty.allowed_runout.unit == "in"
    assert metric.at_duty.allowed_runout.unit == "mm"
    assert mixed.at_duty.allowed_runout.unit == "mil"
    assert mixed.preload.unit == "lbf/in"
    registry = pint.UnitRegistry()
    lengths = [
        result.at_duty.allowed_runout.to_pint(registry).to("mm").magnitude for result in (american, metric, mixed)
    ]
    assert lengths == pytest.approx([lengths[0]] * 3, rel=1e-8)


def test_working_is_asked_for_and_read(client: GlandwiseClient) -> None:
    content = json.loads(client.check_envelope(duty=DUTY, design=DESIGN).answer.content)
    step = {"symbol": "v", "title": "surface speed", "equation": "pi d n", "inputs": {"d": 0.05, "n": 25.0}, "value": 3.927,
            "unit": "m/s", "source": "definition"}  # fmt: skip
    script = Script(httpx.Response(200, json={**content, "working": [step]}))
    with GlandwiseClient("http://service.test", transport=script.transport) as remote:
        steps = remote.check_envelope(duty=DUTY, design=DESIGN, working=True).working
    assert json.loads(script.requests[0].content)["working"] is True
    assert steps is not None
    assert (steps[0].symbol, steps[0].inputs["n"]) == ("v", 25.0)


def test_a_verdict_alone_is_asked_for_and_read(client: GlandwiseClient) -> None:
    full = client.check_envelope(duty=DUTY, design=DESIGN)
    for found in (
        client.check_envelope(duty=DUTY, design=DESIGN, detail="verdict"),
        client.check_envelope({"duty": DUTY, "design": DESIGN, "detail": "verdict"}),
    ):
        assert type(found) is models.EnvelopeVerdict
        assert (found.verdict, found.evidence, found.stamp) == (full.verdict, full.evidence, full.stamp)
        assert [item.utilization for item in found.criteria] == [item.utilization for item in full.criteria]
        assert json.loads(found.answer.content)["detail"] == "verdict"


def test_every_reading_operation_answers(client: GlandwiseClient) -> None:
    read = [name for name, operation in OPERATIONS.items() if operation.method == "GET"]
    needed = {"get_rule_set": ("baseline",), "get_fluid": ("water",), "explain_problem": ("unknown-name",)}
    for name in read:
        operation = OPERATIONS[name]
        result = getattr(client, name)(*needed.get(name, ()))
        assert type(result) is operation.result
        assert result.answer.status == 200
        assert result.model_dump(mode="json", exclude_unset=True) == json.loads(result.answer.content), name


def test_async_in_process(app: Any, client: GlandwiseClient) -> None:
    async def run() -> list[models.EnvelopeCheckResult]:
        async with AsyncGlandwiseClient.in_process(app) as other:
            calls = (other.check_envelope(duty=DUTY, design=DESIGN, request_id=f"id-{n}") for n in range(10))
            return list(await asyncio.gather(*calls))

    results = asyncio.run(run())
    assert [result.answer.request_id for result in results] == [f"id-{n}" for n in range(10)]
    assert all(result == client.check_envelope(duty=DUTY, design=DESIGN) for result in results)


def test_the_sync_client_works_where_a_loop_is_running(client: GlandwiseClient) -> None:
    async def notebook() -> str:
        return client.check_health().status

    assert asyncio.run(notebook()) == "ok"


def test_one_client_serves_several_threads(client: GlandwiseClient) -> None:
    with ThreadPoolExecutor(4) as pool:
        ids = list(pool.map(lambda n: client.check_health(request_id=f"id-{n}").answer.request_id, range(40)))
    assert ids == [f"id-{n}" for n in range(40)]


def test_in_process_leaves_no_thread_behind(app: Any) -> None:
    before = threading.active_count()
    client = GlandwiseClient.in_process(app)
    client.check_health()
    assert threading.active_count() == before + 1
    client.close()
    client.close()
    assert threading.active_count() == before


def test_in_process_keeps_the_timeout() -> None:
    async def slow(scope: Any, receive: Any, send: Any) -> None:
        await asyncio.sleep(30)

    with GlandwiseClient.in_process(slow, timeout=0.1) as client, pytest.raises(package.RequestTimeout):
        client.check_health()


def test_a_defect_of_the_service_is_a_problem_in_process_too() -> None:
    async def broken(scope: Any, receive: Any, send: Any) -> None:
        raise RuntimeError("defect")

    with GlandwiseClient.in_process(broken) as client, pytest.raises(package.InternalError):
        client.check_health()


def test_in_process_says_what_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(name: str) -> Any:
        raise ModuleNotFoundError(f"No module named {name!r}", name=name.partition(".")[0])

    monkeypatch.setattr("glandwise_client._http.importlib.import_module", missing)
    for kind in (GlandwiseClient, AsyncGlandwiseClient):
        with pytest.raises(ImportError, match="install glandwise-service"):
            kind.in_process()


def test_an_answer_as_it_came(client: GlandwiseClient) -> None:
    answer = client.fetch("check_envelope", duty=DUTY, design=DESIGN, units="us")
    assert (answer.status, answer.media_type) == (200, "application/json")
    assert json.loads(answer.text)["verdict"]
    assert client.fetch("get_rule_set", path={"name": "baseline"}).headers["etag"]


# What was stored ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("units", [None, "us"])
@pytest.mark.parametrize("as_model", [False, True])
def test_a_stored_request_is_rechecked_as_it_was_written(app: Any, units: Any, as_model: bool) -> None:
    """With quantities as people write them, and whatever units the client asked for of its own accord."""
    request: Any = {"duty": DUTY, "design": DESIGN}
    if as_model:
        request = models.EnvelopeCheckRequest(**request)
    with GlandwiseClient.in_process(app, units=units) as client:
        stored = json.loads(client.fetch("check_envelope", request).content)
    with GlandwiseClient.in_process(app) as client:
        result = client.recheck_result(operation="check_envelope", stored_request=request, stored_result=stored)
        assert result.same, result.summary
        assert result.fingerprint_matches
        parsed = client.check_envelope(request)
        for part in (parsed, {"verdict": parsed.verdict, "stamp": parsed.stamp}, {"stamp": parsed.stamp}):
            kept: Any = part
            result = client.recheck_result(operation="check_envelope", stored_request=request, stored_result=kept)
            assert (result.same, result.stamp_holds) == (True, True), result.summary
        stored["governing"] = None  # a statement that is another today, and no field that was left out
        result = client.recheck_result(operation="check_envelope", stored_request=request, stored_result=stored)
        assert [item.pointer for item in result.differences] == ["/governing"]
        wrong = {"duty": {**DUTY, "pressure": "3 foo"}, "design": DESIGN}
        with pytest.raises(package.RequestError, match="/stored_request/duty/pressure"):
            client.recheck_result(operation="check_envelope", stored_request=wrong, stored_result=stored)
        with pytest.raises(package.InvalidRequest, match="/operation"):
            client.recheck_result(operation="list_fluids", stored_request=wrong, stored_result=stored)


def test_a_seal_is_had_as_a_shell(app: Any) -> None:
    async def other() -> Any:
        async with AsyncGlandwiseClient.in_process(app) as client:
            return await client.asset_shell(duty=DUTY, design=DESIGN, detail="summary")

    with GlandwiseClient.in_process(app) as client:
        shell = client.asset_shell(duty=DUTY, design=DESIGN, detail="summary")
    assert shell.media_type == "application/aas+json"
    (submodel,) = json.loads(shell.content)["submodels"]
    assert submodel["idShort"] == "SealProposal"
    assert asyncio.run(other()).content == shell.content


def test_drawings_are_shown_in_a_notebook(app: Any) -> None:
    async def other() -> Any:
        async with AsyncGlandwiseClient.in_process(app) as client:
            return await client.drawing("check_gland", duty=DUTY, design=DESIGN)

    with GlandwiseClient.in_process(app) as client:
        drawn = client.drawing("check_gland", duty=DUTY, design=DESIGN)
        file = client.drawing("check_gland", duty=DUTY, design=DESIGN, form="dxf")
        plain = client.fetch("check_gland", duty=DUTY, design=DESIGN)
    assert drawn._repr_svg_() == drawn.text
    assert "<svg" in drawn.text
    assert file.media_type == "image/vnd.dxf"
    assert file._repr_svg_() is plain._repr_svg_() is None
    assert asyncio.run(other()).content == drawn.content
