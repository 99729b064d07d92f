"""From a parsed body to a result: what a route, and each line of a batch, does with a request."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any, TypeAlias, get_type_hints

from pydantic import TypeAdapter, ValidationError

from glandwise.api import problems
from glandwise.case.names import unknown_names
from glandwise.engine import REFUSAL, Engine

Endpoint: TypeAlias = Callable[[Any, Engine], dict[str, Any]]
"""``def endpoint(body: RequestModel, engine: EngineDep) -> dict``; a function of a module, so that a worker finds it."""


@cache
def calculation(endpoint: Endpoint) -> Endpoint:
    """Return an endpoint as a function of the body as parsed.

    It raises :class:`glandwise.api.problems.ProblemError` for a body that it cannot answer.
    """
    model: Any = get_type_hints(endpoint, include_extras=True)["body"]
    adapter: TypeAdapter[Any] = TypeAdapter(model)
    validate = adapter.validate_python

    def calculate(raw: Any, engine: Engine) -> dict[str, Any]:
        try:
            return endpoint(validate(raw), engine)
        except ValidationError as error:
            # a refusal by the calculation names its field without the tags of unions on the way
            tagged = raw if error.title != REFUSAL else None
            names = unknown_names(model, raw, engine)
            raise problems.from_validation(error, tagged, model=model, names=names) from None

    return calculate
