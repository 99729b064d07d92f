"""The route of a calculation: strict JSON in, validated model, result out as bytes.

FastAPI describes the operation (path, models, examples) and so writes the contract; this route class runs it. The
body is parsed and validated here rather than by the framework, because the contract is stricter than its parser (see
:func:`read_json`) and because the answer of a hot operation leaves as bytes. That answers still fit their published
schema is what the contract tests prove.
"""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from typing import Annotated, Any

import jiter
import orjson
from fastapi import Depends
from fastapi.routing import APIRoute
from pydantic import TypeAdapter, ValidationError
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response

from glandwise.api import negotiation, problems
from glandwise.api.problems import ProblemError
from glandwise.checks.engine import REFUSAL, Engine


def _check_media_type(request: Request) -> None:
    header = request.headers.get("content-type", "")
    essence = header.partition(";")[0].strip().lower()
    if essence != "application/json" and not (essence.startswith("application/") and essence.endswith("+json")):
        detail = "no Content-Type was sent" if not header else "the Content-Type is not JSON"
        raise ProblemError("unsupported-media-type", f"{detail}; application/json is accepted")
    if request.headers.get("content-encoding", "identity").lower() != "identity":
        raise ProblemError("unsupported-media-type", "a content coding was used; send the body as it is")


async def read_body(request: Request, limit: int) -> bytes:
    """Read the body, refusing more than ``limit`` bytes as soon as that is known."""
    too_large = ProblemError(
        "content-too-large", f"at most {limit} bytes are accepted", headers={"Connection": "close"}
    )
    declared = request.headers.get("content-length")
    if declared is not None and declared.isdecimal() and int(declared) > limit:
        raise too_large
    chunks, size = [], 0
    try:
        async for chunk in request.stream():
            size += len(chunk)
            if size > limit:
                raise too_large
            chunks.append(chunk)
    except ClientDisconnect:
        raise ProblemError("bad-request", "the body ended before its declared length") from None
    return chunks[0] if len(chunks) == 1 else b"".join(chunks)


def read_json(body: bytes) -> Any:
    """Parse RFC 8259 JSON: no NaN or Infinity, no duplicate keys, no lone surrogates, bounded depth."""
    try:
        return jiter.from_json(body, allow_inf_nan=False, catch_duplicate_keys=True)
    except ValueError as error:
        text = str(error)
        fault, _, position = text.rpartition(" at line ")
        if fault.startswith("Detected duplicate key"):
            fault = "an object has the same key twice"
        elif fault in {"unexpected end of hex escape", "lone leading surrogate in hex escape"}:
            fault = "a \\u escape is cut short or is a lone surrogate"
        elif not body.strip():
            fault = "the body is empty"
        raise ProblemError("invalid-json", f"{fault} (line {position})" if position else fault or text) from None


def _engine(request: Request) -> Engine:
    engine: Engine = request.app.state.engine
    return engine


EngineDep = Annotated[Engine, Depends(_engine)]
"""The engine as the framework's dependency; invisible to the contract."""


LONG_OPERATIONS = frozenset({"select_design", "map_operation", "assess_spectrum", "answer_enquiry", "compare_rule_sets",
                             "audit_rule_set"})  # fmt: skip
"""Operations of tens of milliseconds and more: they run in a thread, off the event loop."""


class CalculationRoute(APIRoute):
    """Route of one calculation; the endpoint is ``def endpoint(body: RequestModel, engine: EngineDep) -> dict``."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        assert self.body_field is not None
        model: Any = self.body_field.field_info.annotation
        adapter: TypeAdapter[Any] = TypeAdapter(model)
        validate = adapter.validate_python
        endpoint = self.endpoint
        operation = self.operation_id or self.name
        is_long = operation in LONG_OPERATIONS

        async def handle(request: Request) -> Response:
            state = request.app.state
            _check_media_type(request)
            offer = negotiation.choose(request.headers.get("accept"), operation)
            raw = read_json(await read_body(request, state.settings.max_body_bytes))
            try:
                body = validate(raw)
                if is_long:
                    result = await run_in_threadpool(endpoint, body, state.engine)
                else:
                    result = endpoint(body, state.engine)
            except ValidationError as error:
                # a refusal by the calculation names its field without the tags of unions on the way
                tagged = raw if error.title != REFUSAL else None
                raise problems.from_validation(error, tagged) from None
            if offer is None:
                return Response(orjson.dumps(result), media_type="application/json")
            return await run_in_threadpool(negotiation.render, offer, operation, raw, result)

        return handle
