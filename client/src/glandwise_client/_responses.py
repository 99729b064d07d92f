"""Reading answers: results to models, problems to exceptions. No input or output here."""

from __future__ import annotations

from contextlib import suppress
from typing import Any, cast

from pydantic import BaseModel, ValidationError

from glandwise_client._base import Answer
from glandwise_client._errors import BY_KIND, BY_STATUS, AnswerError, FieldFault, InternalError, ProblemError
from glandwise_client._models import Problem
from glandwise_client._requests import Operation, R
from glandwise_client._retry import retry_after


def problem(answer: Answer) -> ProblemError | AnswerError:
    """Return the exception of an answer that is no success."""
    wait = retry_after(answer.headers)
    if answer.status < 400:
        detail = f"an answer of status {answer.status} was not expected; mind the base URL"
        return AnswerError(detail, status=answer.status, request_id=answer.request_id)
    fallback = BY_STATUS.get(answer.status) or (InternalError if answer.status >= 500 else ProblemError)
    try:
        document = Problem.model_validate_json(answer.content)
    except ValidationError:
        detail = f"status {answer.status} without a problem document; a gateway, or another program, has answered"
        return fallback(detail, status=answer.status, request_id=answer.request_id, retry_after=wait)
    kind = BY_KIND.get(document.type.rpartition("/")[2], fallback)
    return kind(
        document.detail,
        status=document.status,
        type=document.type,
        title=document.title,
        errors=[FieldFault(fault.pointer, fault.detail, fault.accepted) for fault in document.errors or ()],
        request_id=document.request_id or answer.request_id,
        retry_after=wait,
    )


def check(answer: Answer) -> Answer:
    """Return a successful answer; raise the exception of any other."""
    if 200 <= answer.status < 300:
        return answer
    raise problem(answer)


def _as(model: type[BaseModel], content: Any) -> BaseModel:
    return model.model_validate_json(content) if isinstance(content, bytes) else model.model_validate(content)


def read(operation: Operation[R], content: Any, *, status: int, request_id: str | None) -> R:
    """Return the model of a result, given as JSON or parsed from it. Raises :class:`AnswerError`."""
    model = cast(type[BaseModel], operation.result)
    try:
        return cast(R, _as(model, content))
    except ValidationError as error:
        for other in operation.others:
            with suppress(ValidationError):
                return cast(R, _as(other, content))
        first = error.errors(include_url=False, include_input=False)[0]
        place = "/".join(str(part) for part in first["loc"]) or "the answer"
        detail = f"the answer does not read as {model.__name__}: {place}: {first['msg']}"
        raise AnswerError(detail, status=status, request_id=request_id) from error


def parse(operation: Operation[R], answer: Answer) -> R:
    """Return the result of an answer, or raise its exception."""
    check(answer)
    if operation.result is None:
        return cast(R, answer)
    result = read(operation, answer.content, status=answer.status, request_id=answer.request_id)
    result.__dict__["answer"] = answer  # where the cached property of ResultModel looks first
    return result
