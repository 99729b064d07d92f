"""One formula, two shapes.

A mechanics function is written once, with the names of this module, and takes either Python floats or NumPy arrays.
On floats the calls run at ``math`` speed (a single check costs microseconds); as soon as one argument is an array the
NumPy ufunc runs instead, with broadcasting. Results keep the shape: floats in give a float out.

Out-of-domain arguments behave alike in both shapes: ``sqrt`` and ``log`` of a negative number give ``nan`` and
``exp`` beyond the range of a double gives ``inf``; nothing raises. The caller decides what a non-finite result means
(a verdict of ``not_evaluated``), so that one bad case cannot stop a batch.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
Real: TypeAlias = Any
"""``float`` or a float64 array. ``Any`` to the type checker: NumPy's arithmetic on a union of both is not expressible
without noise at each line, and the shape rule above is what the tests enforce."""

pi = math.pi
nan = math.nan
inf = math.inf


def is_array(*values: object) -> bool:
    """Tell whether any of ``values`` is a NumPy array (or NumPy scalar)."""
    for value in values:  # noqa: SIM110 - a generator here would cost more than most formulas
        if type(value) is not float and isinstance(value, (np.ndarray, np.generic)):
            return True
    return False


def _unary(
    scalar: Callable[[float], float], vector: Callable[[Any], Any], overflow: float = nan
) -> Callable[[Real], Real]:
    def function(x: Real) -> Real:
        if type(x) is not float and isinstance(x, (np.ndarray, np.generic)):
            with np.errstate(all="ignore"):
                return vector(x)
        try:
            return scalar(x)
        except ValueError:
            return nan
        except OverflowError:
            return overflow

    function.__name__ = function.__qualname__ = scalar.__name__
    function.__doc__ = f"``{scalar.__name__}`` of a float (``math``) or, elementwise, of an array (NumPy)."
    return function


sqrt = _unary(math.sqrt, np.sqrt)
exp = _unary(math.exp, np.exp, overflow=inf)
expm1 = _unary(math.expm1, np.expm1, overflow=inf)
sin = _unary(math.sin, np.sin)
cos = _unary(math.cos, np.cos)
tan = _unary(math.tan, np.tan)
arctan = _unary(math.atan, np.arctan)
arcsin = _unary(math.asin, np.arcsin)
arccos = _unary(math.acos, np.arccos)
sinh = _unary(math.sinh, np.sinh, overflow=inf)
cosh = _unary(math.cosh, np.cosh, overflow=inf)
tanh = _unary(math.tanh, np.tanh)


def log(x: Real) -> Real:
    """Natural logarithm; ``-inf`` at zero and ``nan`` below, in both shapes."""
    if isinstance(x, (np.ndarray, np.generic)):
        with np.errstate(all="ignore"):
            return np.log(x)
    if x > 0.0:
        return math.log(x)
    return -inf if x == 0.0 else nan


def log1p(x: Real) -> Real:
    """``log(1 + x)`` without loss near zero; ``-inf`` at -1 and ``nan`` below, in both shapes."""
    if isinstance(x, (np.ndarray, np.generic)):
        with np.errstate(all="ignore"):
            return np.log1p(x)
    if x > -1.0:
        return math.log1p(x)
    return -inf if x == -1.0 else nan


def log10(x: Real) -> Real:
    """Decimal logarithm; ``-inf`` at zero and ``nan`` below, in both shapes."""
    if isinstance(x, (np.ndarray, np.generic)):
        with np.errstate(all="ignore"):
            return np.log10(x)
    if x > 0.0:
        return math.log10(x)
    return -inf if x == 0.0 else nan


def absolute(x: Real) -> Real:
    """Magnitude of a real or complex float, or elementwise of an array."""
    return np.abs(x) if isinstance(x, (np.ndarray, np.generic)) else abs(x)


def power(x: Real, exponent: Real) -> Real:
    """``x ** exponent`` with ``nan`` (not an exception, not a complex number) for a negative base."""
    if not (type(x) is float and type(exponent) is float) and is_array(x, exponent):
        with np.errstate(all="ignore"):
            return np.power(x, exponent)
    try:
        return math.pow(x, exponent)
    except ValueError:
        return inf if x == 0.0 else nan
    except OverflowError:
        return inf


def divide(a: Real, b: Real) -> Real:
    """``a / b`` where a zero divisor gives ``inf`` with the sign of ``a`` (``nan`` for 0/0), in both shapes."""
    if not (type(a) is float and type(b) is float) and is_array(a, b):
        with np.errstate(all="ignore"):
            return np.divide(a, b)
    if b != 0.0:
        return a / b
    if a == 0.0 or a != a:
        return nan
    return math.copysign(inf, a) * math.copysign(1.0, b)


def minimum(a: Real, b: Real) -> Real:
    """Smaller of two, elementwise; ``nan`` wins, as in NumPy."""
    if not (type(a) is float and type(b) is float) and is_array(a, b):
        return np.minimum(a, b)
    if a != a or b != b:
        return nan
    return a if a <= b else b


def maximum(a: Real, b: Real) -> Real:
    """Larger of two, elementwise; ``nan`` wins, as in NumPy."""
    if not (type(a) is float and type(b) is float) and is_array(a, b):
        return np.maximum(a, b)
    if a != a or b != b:
        return nan
    return a if a >= b else b


def clip(x: Real, low: Real, high: Real) -> Real:
    """``x`` held within ``low..high``."""
    return minimum(maximum(x, low), high)


def where(condition: Real, a: Real, b: Real) -> Real:
    """``a`` where ``condition`` holds, else ``b``. Both branches are evaluated by the caller."""
    if type(condition) is bool and type(a) is float and type(b) is float:
        return a if condition else b
    if is_array(condition, a, b):
        return np.where(condition, a, b)
    return a if condition else b


def isfinite(x: Real) -> Real:
    """Whether ``x`` is neither infinite nor ``nan``."""
    return np.isfinite(x) if isinstance(x, (np.ndarray, np.generic)) else math.isfinite(x)


def interp(x: Real, xp: Sequence[float] | Array, fp: Sequence[float] | Array) -> Real:
    """Piecewise-linear interpolation of the table ``xp`` (increasing) → ``fp``, held constant beyond its ends.

    The caller that must not extrapolate tests the range itself; holding the end value is the safe reading for the
    tables used here and is stated in each docstring that relies on it.
    """
    if isinstance(x, (np.ndarray, np.generic)):
        values: Any = x
        return np.interp(values, np.asarray(xp), np.asarray(fp))
    if x != x:
        return nan
    if x <= xp[0]:
        return float(fp[0])
    last = len(xp) - 1
    if x >= xp[last]:
        return float(fp[last])
    low, high = 0, last
    while high - low > 1:
        middle = (low + high) // 2
        if xp[middle] <= x:
            low = middle
        else:
            high = middle
    x0, x1, y0, y1 = float(xp[low]), float(xp[high]), float(fp[low]), float(fp[high])
    return y0 + (y1 - y0) * ((x - x0) / (x1 - x0))


def polyval(coefficients: Sequence[float], x: Real) -> Real:
    """Polynomial with ``coefficients`` in ascending powers, by Horner's scheme."""
    result: Real = 0.0 * x
    for coefficient in reversed(coefficients):
        result = result * x + coefficient
    return result
