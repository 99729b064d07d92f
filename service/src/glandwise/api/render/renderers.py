"""What makes a rendering of a result, by its place: the modules are imported at first use, for a plotting library among
them would double the time to start."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any, TypeAlias

Renderer: TypeAlias = Callable[[Mapping[str, Any]], bytes]


def renderer(place: str) -> Renderer:
    """Return the function at ``module:function`` of this package."""
    module, _, function = place.partition(":")
    found: Renderer = getattr(import_module(f"glandwise.api.render.{module}"), function)
    return found
