"""Arithmetic that does not raise, and the lesser and the greater of two numbers.

NaN says "not known" and travels: the lesser and the greater of two numbers are NaN when either is, unlike ``min`` and
``max``, whose answer depends on the order of their arguments.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

import numpy as np

from glandwise.numerics.lives import opaque


def divide(a: float, b: float) -> float:
    """Quotient as IEEE 754 has it."""
    if b != 0.0:
        return a / b
    return math.nan if a == 0.0 or a != a else math.copysign(math.inf, a) * math.copysign(1.0, b)


def power(a: float, b: float) -> float:
    """Power as IEEE 754 has it."""
    try:
        return math.pow(a, b)
    except ValueError:
        return math.inf if a == 0.0 else math.nan
    except OverflowError:
        return -math.inf if a < 0.0 and b % 2.0 == 1.0 else math.inf


def _calm(name: str) -> Callable[[float], float]:
    function: Callable[[float], float] = getattr(math, name)

    def calm(x: float) -> float:
        try:
            return function(x)
        except ValueError:
            return -math.inf if name.startswith("log") and x == (-1.0 if name == "log1p" else 0.0) else math.nan
        except OverflowError:
            return math.inf if x > 0.0 or name == "cosh" else -math.inf

    calm.__name__ = name
    return calm


FUNCTIONS: Mapping[str, Callable[[float], float]] = {
    name: _calm(name)
    for name in (
        "sqrt", "exp", "expm1", "log", "log1p", "log10", "sin", "cos", "tan", "asin", "acos", "atan", "sinh", "cosh", "tanh",
        "erf", "erfc", "floor", "ceil",
    )
}  # fmt: skip
"""Functions of :mod:`math` that a formula may use, as they answer without raising."""


@opaque(name="min", unit="alike")
def least(a: float, b: float) -> float:
    """Lesser of two numbers; NaN when either is."""
    return a if a <= b or a != a else b


@opaque(name="max", unit="alike")
def greatest(a: float, b: float) -> float:
    """Greater of two numbers; NaN when either is."""
    return a if a >= b or a != a else b


@opaque(name="floor", unit="alike")
def whole_below(x: float) -> float:
    """Greatest whole number not above; as a number, since machine code has no whole number for NaN."""
    return np.floor(x)  # type: ignore[no-any-return]


@opaque(name="ceil", unit="alike")
def whole_above(x: float) -> float:
    """Least whole number not below; as a number, since machine code has no whole number for NaN."""
    return np.ceil(x)  # type: ignore[no-any-return]
