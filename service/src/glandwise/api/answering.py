"""From a parsed body to a result: what a route, and each line of a batch, does with a request."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any, TypeAlias

from pydantic import ValidationError

from glandwise.api import problems
from glandwise.case.names import unknown_names
from glandwise.contract.base import read_as
from glandwise.engine import REFUSAL, Engine
from glandwise.numerics.trace import let_go
from glandwise.operations import Operation

Calculation: TypeAlias = Callable[[Any, Engine], dict[str, Any]]
"""A function of a body as parsed."""


@cache
def calculation(operation: Operation) -> Calculation:
    """Return an operation as a function of the body as parsed.

    It raises :class:`glandwise.api.problems.ProblemError` for a body that it cannot answer.
    """
    model = operation.request
    validate = model.model_validate

    def calculate(raw: Any, engine: Engine) -> dict[str, Any]:
        try:
            with let_go():
                return operation.answer(validate(raw, context=read_as(raw)), engine)
        except ValidationError as error:
            # a refusal by the calculation names its field without the tags of unions on the way
            tagged = raw if error.title != REFUSAL else None
            names = unknown_names(model, raw, engine)
            raise problems.from_validation(error, tagged, model=model, names=names) from None

    return calculate
