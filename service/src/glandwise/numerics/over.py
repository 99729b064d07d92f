"""A formula over arrays, by its machine code: for plots and tests."""

from __future__ import annotations

from collections.abc import Callable
from types import FunctionType, ModuleType
from typing import Any

import numpy as np

from glandwise.numerics.compiled import compiled


def over(formula: Any) -> Callable[..., Any]:
    """Return a formula that takes numbers or arrays in any mixture, elementwise; several values as arrays each."""
    machine = compiled(formula)

    def one(*arguments: Any) -> Any:
        # whole numbers, but for choices, would be compiled for again
        return machine(*(float(x) if type(x) in {int, float, np.float64} else x for x in arguments))

    def many(*arguments: Any, **named: Any) -> Any:
        names = formula.__code__.co_varnames[len(arguments) : formula.__code__.co_argcount]
        given = [*arguments, *(named.pop(name) for name in names)]
        if named:
            raise TypeError(f"{formula.__name__} has no {', '.join(named)}")
        shape = np.broadcast_shapes(*(x.shape for x in given if isinstance(x, np.ndarray)))
        if not any(isinstance(x, np.ndarray) for x in given):
            return one(*given)
        spread = [np.broadcast_to(x, shape).ravel() if isinstance(x, np.ndarray) else None for x in given]
        found = [
            one(*(x if part is None else part[i] for x, part in zip(given, spread, strict=True)))
            for i in range(int(np.prod(shape)))
        ]
        if found and isinstance(found[0], tuple):
            columns = (np.array(column, dtype=float).reshape(shape) for column in zip(*found, strict=True))
            return type(found[0])(*columns)
        return np.array(found, dtype=float).reshape(shape)

    return many


class Over:
    """A module of formulas, each :func:`over` arrays."""

    def __init__(self, module: ModuleType) -> None:
        """Stand for a module."""
        self._module = module

    def __getattr__(self, name: str) -> Any:
        """Return a formula over arrays, anything else as it is."""
        thing = getattr(self._module, name)
        return over(thing) if isinstance(thing, FunctionType) else thing
