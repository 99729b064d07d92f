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
from bisect import bisect_right
from collections.abc import Callable, Sequence
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
Real: TypeAlias = Any
"""``float`` or a float64 array. ``Any`` to the type checker: NumPy's arithmetic on a union of both is not expressible
without noise at each line, and the shape rule above is what the tests enforce."""

_ARRAYS = (np.ndarray, np.generic)

pi = math.pi
nan = math.nan
inf = math.inf


def is_array(*values: object) -> bool:
    """Tell whether any of several values is a NumPy array or a NumPy scalar.

    Parameters
    ----------
    *values : object
        What is looked at. [any]

    Returns
    -------
    bool
        Whether the array path is to be taken. [bool]

    Notes
    -----
    A NumPy scalar counts: its arithmetic warns and raises as that of an array does.
    """
    for value in values:  # noqa: SIM110 - a generator here would cost more than most formulas
        if type(value) is not float and isinstance(value, _ARRAYS):
            return True
    return False


def _unary(
    scalar: Callable[[float], float], vector: Callable[[Any], Any], overflow: float = nan, odd: bool = False
) -> Callable[[Real], Real]:
    def function(x: Real) -> Real:
        if type(x) is not float and isinstance(x, _ARRAYS):
            with np.errstate(all="ignore"):
                return vector(x)
        try:
            return scalar(x)
        except ValueError:
            return nan
        except OverflowError:
            return math.copysign(overflow, x) if odd else overflow

    function.__name__ = function.__qualname__ = scalar.__name__
    function.__doc__ = f"""``{scalar.__name__}`` of a float or, elementwise, of an array.

    Parameters
    ----------
    x : float or array
        Argument. [-]

    Returns
    -------
    float or array
        Value in the shape of ``x``; ``nan`` outside the domain, never an exception. [-]

    Notes
    -----
    ``math`` for a float, NumPy for an array; no exception and no warning in either.
    """
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
sinh = _unary(math.sinh, np.sinh, overflow=inf, odd=True)
cosh = _unary(math.cosh, np.cosh, overflow=inf)
tanh = _unary(math.tanh, np.tanh)


def log(x: Real) -> Real:
    """Natural logarithm.

    Parameters
    ----------
    x : float or array
        Argument. [-]

    Returns
    -------
    float or array
        ``-inf`` at zero and ``nan`` below, in both shapes. [-]

    Notes
    -----
    ``math`` for a float, NumPy for an array.
    """
    if isinstance(x, _ARRAYS):
        with np.errstate(all="ignore"):
            return np.log(x)
    if x > 0.0:
        return math.log(x)
    return -inf if x == 0.0 else nan


def log1p(x: Real) -> Real:
    """Natural logarithm of one plus a number, without loss near zero.

    Parameters
    ----------
    x : float or array
        Argument. [-]

    Returns
    -------
    float or array
        ``-inf`` at -1 and ``nan`` below, in both shapes. [-]

    Notes
    -----
    ``math`` for a float, NumPy for an array.
    """
    if isinstance(x, _ARRAYS):
        with np.errstate(all="ignore"):
            return np.log1p(x)
    if x > -1.0:
        return math.log1p(x)
    return -inf if x == -1.0 else nan


def log10(x: Real) -> Real:
    """Decimal logarithm.

    Parameters
    ----------
    x : float or array
        Argument. [-]

    Returns
    -------
    float or array
        ``-inf`` at zero and ``nan`` below, in both shapes. [-]

    Notes
    -----
    ``math`` for a float, NumPy for an array.
    """
    if isinstance(x, _ARRAYS):
        with np.errstate(all="ignore"):
            return np.log10(x)
    if x > 0.0:
        return math.log10(x)
    return -inf if x == 0.0 else nan


def absolute(x: Real) -> Real:
    """Magnitude.

    Parameters
    ----------
    x : float or array
        Real or complex. [any]

    Returns
    -------
    float or array
        Never negative. [as x]

    Notes
    -----
    Elementwise on an array.
    """
    return np.abs(x) if isinstance(x, _ARRAYS) else abs(x)


def power(x: Real, exponent: Real) -> Real:
    """Power of a real number.

    Parameters
    ----------
    x : float or array
        Base. [-]
    exponent : float or array
        Exponent. [-]

    Returns
    -------
    float or array
        ``nan`` (no exception, no complex number) for a negative base with a broken exponent; an infinity for zero to
        a negative one and beyond the range of a double. [-]

    Notes
    -----
    ``math.pow`` for floats, NumPy for arrays.
    """
    if not (type(x) is float and type(exponent) is float) and is_array(x, exponent):
        with np.errstate(all="ignore"):
            return np.power(x, exponent)
    try:
        return math.pow(x, exponent)
    except ValueError:
        return math.pow(math.copysign(inf, x), -exponent) if x == 0.0 else nan
    except OverflowError:
        return math.pow(math.copysign(inf, x), abs(exponent))


def divide(a: Real, b: Real) -> Real:
    """Quotient that does not raise.

    Parameters
    ----------
    a : float or array
        Dividend. [any]
    b : float or array
        Divisor. [any]

    Returns
    -------
    float or array
        A zero divisor gives an infinity with the sign of ``a`` times that of the zero, ``nan`` for 0/0. [a over b]

    Notes
    -----
    The same in both shapes.
    """
    if not (type(a) is float and type(b) is float) and is_array(a, b):
        with np.errstate(all="ignore"):
            return np.divide(a, b)
    if b != 0.0:
        return a / b
    if a == 0.0 or a != a:
        return nan
    return math.copysign(inf, a) * math.copysign(1.0, b)


def minimum(a: Real, b: Real) -> Real:
    """Smaller of two.

    Parameters
    ----------
    a : float or array
        One. [any]
    b : float or array
        Other. [as a]

    Returns
    -------
    float or array
        Elementwise; ``nan`` wins, as in NumPy. [as a]

    Notes
    -----
    The same in both shapes.
    """
    if not (type(a) is float and type(b) is float) and is_array(a, b):
        return np.minimum(a, b)
    if a != a or b != b:
        return nan
    return a if a <= b else b


def maximum(a: Real, b: Real) -> Real:
    """Larger of two.

    Parameters
    ----------
    a : float or array
        One. [any]
    b : float or array
        Other. [as a]

    Returns
    -------
    float or array
        Elementwise; ``nan`` wins, as in NumPy. [as a]

    Notes
    -----
    The same in both shapes.
    """
    if not (type(a) is float and type(b) is float) and is_array(a, b):
        return np.maximum(a, b)
    if a != a or b != b:
        return nan
    return a if a >= b else b


def clip(x: Real, low: Real, high: Real) -> Real:
    """Number held within two bounds.

    Parameters
    ----------
    x : float or array
        Number. [any]
    low : float or array
        Lower bound. [as x]
    high : float or array
        Upper bound; it wins where the bounds cross. [as x]

    Returns
    -------
    float or array
        Elementwise; ``nan`` stays. [as x]

    Notes
    -----
    The same in both shapes.
    """
    return minimum(maximum(x, low), high)


def where(condition: Real, a: Real, b: Real) -> Real:
    """One of two by a condition.

    Parameters
    ----------
    condition : bool or array
        What decides. [bool]
    a : float or array
        Value where it holds. [any]
    b : float or array
        Value elsewhere. [as a]

    Returns
    -------
    float or array
        Elementwise. [as a]

    Notes
    -----
    The caller has evaluated both: neither may raise where the other is meant.
    """
    if type(condition) is bool and type(a) is float and type(b) is float:
        return a if condition else b
    if is_array(condition, a, b):
        return np.where(condition, a, b)
    return a if condition else b


def isfinite(x: Real) -> Real:
    """Whether a number is neither infinite nor ``nan``.

    Parameters
    ----------
    x : float or array
        Number. [any]

    Returns
    -------
    bool or array
        Elementwise. [bool]

    Notes
    -----
    The same in both shapes.
    """
    return np.isfinite(x) if isinstance(x, _ARRAYS) else math.isfinite(x)


def interp(x: Real, xp: Sequence[float] | Array, fp: Sequence[float] | Array) -> Real:
    """Piecewise-linear interpolation of a table.

    Parameters
    ----------
    x : float or array
        Argument. [any]
    xp : sequence or array
        Arguments of the table, increasing. [as x]
    fp : sequence or array
        Values of the table, as many. [any]

    Returns
    -------
    float or array
        Held constant beyond the ends of the table; ``nan`` for ``nan``. [as fp]

    Notes
    -----
    The caller that must not extrapolate tests the range itself; holding the end value is the safe reading for the
    tables used here and is stated in each docstring that relies on it.
    """
    if isinstance(x, _ARRAYS):
        values: Any = x
        return np.interp(values, np.asarray(xp), np.asarray(fp))
    if x != x:
        return nan
    if x <= xp[0]:
        return float(fp[0])
    if x >= xp[-1]:
        return float(fp[-1])
    high = bisect_right(xp, x)
    x0, y0 = xp[high - 1], fp[high - 1]
    return float(y0 + (fp[high] - y0) * ((x - x0) / (xp[high] - x0)))


def polyval(coefficients: Sequence[float], x: Real) -> Real:
    """Value of a polynomial.

    Parameters
    ----------
    coefficients : sequence of float
        Coefficients in ascending powers. [any]
    x : float or array
        Argument. [any]

    Returns
    -------
    float or array
        Sum of coefficients times powers, zero for none. [as the coefficients]

    Notes
    -----
    Horner's scheme.
    """
    result: Real = 0.0 * x
    for coefficient in reversed(coefficients):
        result = result * x + coefficient
    return result
