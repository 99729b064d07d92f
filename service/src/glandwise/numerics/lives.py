"""Other lives of a plain function: the same function, whose global names lead to the same life of what it calls.

A formula is a plain function of floats. Nothing is registered and nothing is decorated: a function of this package that
a formula names, directly or through its module, is found by walking its names. Only :func:`opaque` functions (searches,
tables, curves of the rules) say how a working speaks of them.
"""

from __future__ import annotations

import dis
import threading
from collections.abc import Callable
from functools import cache
from types import CodeType, FunctionType, ModuleType
from typing import Any, TypeVar

_making = threading.RLock()
"""Held by whoever makes a life: the compiler of Python's syntax trees is not made for several threads, and nothing is made twice."""

ROOT = __name__.partition(".")[0]

Formula = TypeVar("Formula", bound=Callable[..., Any])


def _belongs(thing: Any) -> bool:
    """Whether a function or module is of this package."""
    name = thing.__name__ if isinstance(thing, ModuleType) else thing.__module__
    return f"{name}.".startswith(f"{ROOT}.")


@cache
def _named_in(code: CodeType) -> dict[str, set[str]]:
    """Global names that a function and those within it mention, each with the attributes that are taken of it at once."""
    found: dict[str, set[str]] = {}
    last = ""
    for step in dis.get_instructions(code):
        if step.opname == "LOAD_GLOBAL":
            last = str(step.argval)
            found.setdefault(last, set())
            continue
        if step.opname in {"LOAD_ATTR", "LOAD_METHOD"} and last:
            found[last].add(str(step.argval))
        last = ""
    for item in code.co_consts:
        if isinstance(item, CodeType):
            for name, parts in _named_in(item).items():
                found.setdefault(name, set()).update(parts)
    return found


class Life:
    """One way for plain functions to run."""

    def __init__(
        self,
        dress: Callable[[FunctionType, FunctionType], Any],
        value: Callable[[str, Any], Any] = lambda _, thing: thing,
    ) -> None:
        """``dress`` makes a function of this life of a copy and its original; ``value`` swaps other globals."""
        self._dress, self._value = dress, value
        self._held: dict[FunctionType, Any] = {}

    def __call__(self, function: Any) -> Any:
        """Return this life of a plain function."""
        if function not in self._held:
            with _making:
                if function not in self._held:
                    self._held[function] = self._dress(self.copied(function), function)
        return self._held[function]

    def copied(self, function: Any) -> FunctionType:
        """Return a copy of a function whose global names lead to this life."""
        scope: dict[str, Any] = dict(function.__globals__)
        for name, parts in _named_in(function.__code__).items():
            if name in scope:
                scope[name] = self._swapped(name, scope[name], parts)
        copy = FunctionType(function.__code__, scope, function.__name__, function.__defaults__)
        copy.__module__, copy.__qualname__, copy.__doc__ = function.__module__, function.__qualname__, function.__doc__
        return copy

    def _swapped(self, name: str, thing: Any, parts: set[str]) -> Any:
        if isinstance(thing, FunctionType) and _belongs(thing):
            return self(thing)
        if isinstance(thing, ModuleType) and (_belongs(thing) or thing.__name__ == "math"):
            twin = ModuleType(thing.__name__)
            for part in parts:
                setattr(twin, part, self._swapped(part, getattr(thing, part), set()))
            return twin
        return self._value(name, thing)


def opaque(**told: Any) -> Callable[[Formula], Formula]:
    """Mark a function whose inside is no part of a working.

    Parameters
    ----------
    told
        ``words``: function of the arguments that says how the value came about, or how each of several did, ``{0}`` being
        the symbol of the first argument that is a number; with them a value is a step of its own. ``name``: name of the
        function in an equation, of several values one each; else the symbols under ``Returns``. ``unit``: unit of the
        values, where no ``Returns`` tells; ``alike`` for that of the arguments. ``search``: the first of the values was
        looked for, the others are the business of the search.
    """

    def mark(function: Formula) -> Formula:
        function.opaque = told  # type: ignore[attr-defined]
        return function

    return mark


def with_arrays(function: Formula) -> Formula:
    """Mark a function that makes arrays or returns them: its machine code counts who holds them, which others are spared."""
    function.with_arrays = True  # type: ignore[attr-defined]
    return function


class Constant(float):
    """A constant of nature or of a published correlation: a float that knows its symbol, unit and source."""

    __slots__ = ("source", "symbol", "title", "unit")
    symbol: str
    title: str
    unit: str
    source: str

    def __new__(cls, value: float, symbol: str, unit: str, source: str, title: str = "") -> Constant:
        """Hold a value."""
        self = float.__new__(cls, value)
        self.symbol, self.unit, self.source, self.title = symbol, unit, source, title
        return self
