"""Problems of the service become exceptions that carry what the service said."""

from __future__ import annotations

import inspect
from typing import Any

import glandwise_client
import httpx
import pytest
from glandwise.api import problems
from glandwise_client import AnswerError, GlandwiseClient, GlandwiseError, ProblemError, RetryPolicy, _errors
from glandwise_client._base import Answer
from glandwise_client._responses import problem

from tests.client.support import DESIGN, DUTY, Script, healthy

ONCE = RetryPolicy(retries=0)


def answered(status: int, content: bytes = b"", **headers: str) -> Answer:
    return Answer(status, {name.replace("_", "-"): value for name, value in headers.items()}, content, "id-1")


@pytest.mark.parametrize("kind", problems.KINDS)
def test_every_kind_of_problem_has_its_exception(kind: str) -> None:
    status, title, _ = problems.KINDS[kind]
    field = problems.FieldProblem(pointer="/duty/pressure", detail="no", accepted="yes")
    response = problems.response(kind, "what happened", [field])
    error = problem(answered(status, bytes(response.body)))
    assert type(error) is _errors.BY_KIND[kind]
    assert issubclass(type(error), _errors.BY_STATUS[status])
    assert (error.status, error.type, error.title, error.detail) == (
        status,
        f"/problems/{kind}",
        title,
        "what happened",
    )
    assert error.errors == (("/duty/pressure", "no", "yes"),)
    assert error.request_id == "id-1"
    assert "/duty/pressure: no (accepted: yes)" in str(error)
    assert "id-1" in str(error)


def test_no_exception_waits_for_a_kind_the_service_does_not_have() -> None:
    assert set(_errors.BY_KIND) == set(problems.KINDS)


@pytest.mark.parametrize("status", [400, 401, 403, 404, 405, 406, 411, 413, 415, 422, 429, 500, 502, 503, 504])
def test_an_answer_of_a_gateway_is_known_by_its_status(status: int) -> None:
    error = problem(answered(status, b"<html>no</html>", retry_after="7"))
    assert type(error) is _errors.BY_STATUS[status]
    assert (error.status, error.type, error.errors, error.request_id, error.retry_after) == (
        status,
        None,
        (),
        "id-1",
        7.0,
    )


def test_a_kind_of_a_later_service_is_known_by_its_status() -> None:
    content = b'{"type": "/problems/later", "title": "Later", "status": 422, "detail": "d", "further": 1}'
    error = problem(answered(422, content))
    assert type(error) is glandwise_client.UnprocessableRequest
    assert (error.title, error.errors) == ("Later", ())


@pytest.mark.parametrize(
    ("status", "expected"), [(418, ProblemError), (507, glandwise_client.InternalError), (302, AnswerError)]
)
def test_other_statuses_are_not_lost(status: int, expected: type[GlandwiseError]) -> None:
    assert type(problem(answered(status))) is expected


def test_the_tree_in_the_docstring_is_the_tree() -> None:
    drawn: list[tuple[int, str]] = []
    for line in (_errors.__doc__ or "").splitlines():
        stripped = line.lstrip(" │├└─")
        name = stripped.split(" ")[0]
        if inspect.isclass(getattr(_errors, name, None)):
            drawn.append(((len(line) - len(stripped)) // 4 - 1, name))
    parents: dict[str, str] = {}
    stack: list[str] = []
    for depth, name in drawn:
        stack[depth:] = [name]
        parents[name] = stack[depth - 1] if depth else "Exception"
    classes = {
        name: value
        for name, value in vars(_errors).items()
        if inspect.isclass(value) and issubclass(value, GlandwiseError)
    }
    assert parents == {name: value.__bases__[0].__name__ for name, value in classes.items()}


def test_the_service_refuses_by_field(client: GlandwiseClient) -> None:
    with pytest.raises(glandwise_client.UnknownName) as caught:
        client.check_envelope(duty={**DUTY, "fluid": "mineral_oil_gaer"}, design=DESIGN, request_id="quote-17")
    assert caught.value.errors[0].pointer == "/duty/fluid"
    assert "mineral_oil_gear" in (caught.value.errors[0].accepted or "")
    assert caught.value.request_id == "quote-17"
    with pytest.raises(glandwise_client.OutOfDomain, match="/duty/shaft_diameter"):
        client.check_envelope(duty={**DUTY, "shaft_diameter": "5 m"}, design=DESIGN)
    with pytest.raises(glandwise_client.InvalidRequest, match="/duty/presure"):
        client.check_envelope(duty={**DUTY, "presure": "5 bar"}, design=DESIGN)
    with pytest.raises(glandwise_client.NotFound, match="baseline"):
        client.get_rule_set("nobody")
    with pytest.raises(glandwise_client.NotAcceptable):
        client.fetch("check_envelope", duty=DUTY, design=DESIGN, accept="image/gif")
    with pytest.raises(glandwise_client.InvalidJson):
        client.fetch("check_envelope", content=b"{")
    with pytest.raises(glandwise_client.UnsupportedMediaType):
        client.fetch("check_envelope", content=b"a=1", content_type="application/x-www-form-urlencoded")
    with pytest.raises(glandwise_client.ContentTooLarge):
        client.fetch("check_envelope", content=b" " * (5 * 1024 * 1024))


def test_a_problem_can_be_explained_by_its_type(client: GlandwiseClient) -> None:
    with pytest.raises(glandwise_client.UnknownName) as caught:
        client.list_fluids(rule_set="nobody")
    kind = str(caught.value.type).rpartition("/")[2]
    assert client.explain_problem(kind).title == caught.value.title


@pytest.mark.parametrize(
    ("failure", "expected", "builtin"),
    [
        (httpx.ConnectError("refused"), "ConnectionFailed", ConnectionError),
        (httpx.ConnectTimeout("slow"), "ConnectionFailed", ConnectionError),
        (httpx.RemoteProtocolError("hung up"), "ConnectionFailed", ConnectionError),
        (httpx.ReadError(""), "ConnectionFailed", ConnectionError),
        (httpx.ReadTimeout(""), "RequestTimeout", TimeoutError),
        (httpx.PoolTimeout(""), "RequestTimeout", TimeoutError),
        (httpx.UnsupportedProtocol("no scheme"), "RequestError", ValueError),
    ],
)
def test_a_call_without_an_answer(failure: Exception, expected: str, builtin: type[Exception]) -> None:
    script = Script(failure)
    with (
        GlandwiseClient("http://service.test", transport=script.transport, retry=ONCE) as client,
        pytest.raises(builtin) as caught,
    ):
        client.check_health(request_id="id-9")
    error: Any = caught.value
    assert type(error).__name__ == expected
    assert (error.status, error.type, error.errors, error.request_id) == (None, None, (), "id-9")
    # an address that cannot be used is not shown
    assert ("http://service.test" in error.detail) == (expected != "RequestError")
    assert error.__cause__ is not None


@pytest.mark.parametrize("url", ["no-scheme", "", "http://host:port"])
def test_an_address_that_is_none_is_said_to_be_none(url: str) -> None:
    with pytest.raises(glandwise_client.RequestError), GlandwiseClient(url) as client:
        client.check_health()


@pytest.mark.parametrize("content", [b"<html>", b"{}", b'{"status": 1}', b"\xff"])
def test_another_program_at_the_address_is_noticed(content: bytes) -> None:
    script = Script(httpx.Response(200, content=content))
    client = GlandwiseClient("http://service.test", transport=script.transport)
    with client, pytest.raises(AnswerError, match="does not read as Health"):
        client.check_health()


def test_a_name_of_no_operation() -> None:
    script = Script(healthy())
    with GlandwiseClient("http://service.test", transport=script.transport) as client:
        with pytest.raises(glandwise_client.RequestError, match="check_envelope"):
            client.fetch("chek_envelope")
        with pytest.raises(glandwise_client.RequestError, match="lone surrogate"):
            client.check_envelope(duty={"fluid": "\ud800"})
        with pytest.raises(glandwise_client.RequestError, match="/name: it is empty"):
            client.get_rule_set("")
    assert script.requests == []
