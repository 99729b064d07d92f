"""Calculations: a route for each row of the table of operations, all of the same shape."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fastapi import APIRouter
from starlette.types import ASGIApp

from glandwise.api.calculation import CalculationRoute, EngineDep
from glandwise.operations import OPERATIONS, Operation

router = APIRouter(tags=["calculations"], route_class=CalculationRoute)


def by_path() -> dict[str, ASGIApp]:
    """Return the calculations as applications by their path."""
    return {route.path: route.answer for route in router.routes if isinstance(route, CalculationRoute)}


def _described(operation: Operation) -> Callable[..., Any]:
    """Return a function that tells the framework what an operation takes; the route itself answers."""

    def endpoint(body: Any, engine: Any) -> dict[str, Any]:
        return operation.answer(body, engine)

    endpoint.__name__, endpoint.__doc__ = operation.name, operation.text
    endpoint.__annotations__ = {"body": operation.request, "engine": EngineDep, "return": dict[str, Any]}
    return endpoint


for _row in OPERATIONS.values():
    router.add_api_route(
        _row.path, _described(_row), methods=["POST"], operation_id=_row.name, response_model=_row.answers
    )
