"""What makes a rendering of a result, by its place: the modules are imported at first use, for a plotting library among
them would double the time to start."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from glandwise.engine import Engine
    from glandwise.operations import Operation


def renderer(place: str) -> Callable[..., bytes]:
    """Return the function at ``module:function`` of this package."""
    module, _, function = place.partition(":")
    found: Callable[..., bytes] = getattr(import_module(f"glandwise.api.render.{module}"), function)
    return found


def rendered(
    operation: Operation, offer: str, request: Any, result: Mapping[str, Any], engine: Engine | None
) -> bytes | None:
    """Render a result in a media type; ``None`` where that asks for more than the result and there is no engine to ask."""
    draw = renderer(dict(operation.renderings)[offer])
    if offer not in operation.asks_more:
        return draw(result)
    return None if engine is None else draw(result, operation.request.model_validate(request), engine)
