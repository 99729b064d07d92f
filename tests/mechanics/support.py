"""What the tests of formulas share: the three lives held to one another, and the steps of a trace recomputed."""

from __future__ import annotations

import ast
import inspect
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from enum import IntEnum
from types import SimpleNamespace
from typing import Any, NamedTuple

import numpy as np
from glandwise.mechanics.viscoelastic import Relaxation
from glandwise.numerics import arithmetic
from glandwise.numerics.compiled import compiled
from glandwise.numerics.docstring import attributes, declared
from glandwise.numerics.trace import Choice, Working, calm, leaf, traced

HOSTILE = (0.0, -1.0, math.nan, math.inf, -math.inf, 1e300, 1e-300)
"""Numbers that no case should have and that no formula may stumble over."""

Row = Sequence[Any]
"""Arguments of a formula: numbers, choices and records."""


class Record(NamedTuple):
    """A record of the rules as the lives of a formula take it."""

    packed: Any
    """For machine code and for the uncompiled life."""
    told: Any
    """For the traced life."""


_BRANCHES = 8
_PRONY = np.dtype(
    [
        ("equilibrium", "f8"),
        ("shares", "f8", _BRANCHES),
        ("times", "f8", _BRANCHES),
        ("n", "i8"),
        ("reference_temperature", "f8"),
        ("activation_energy", "f8"),
    ]
)


def relaxation(
    equilibrium: float,
    shares: Sequence[float],
    times: Sequence[float],
    reference_temperature: float = 296.0,
    activation_energy: float = 8e4,
) -> Record:
    """Return a relaxation of a few branches."""
    table = np.zeros(1, _PRONY).view(np.recarray)
    rest = [0.0] * (_BRANCHES - len(shares))
    table[0] = (
        equilibrium, [*shares, *rest], [*times, *rest], len(shares), reference_temperature, activation_energy
    )  # fmt: skip
    known = attributes(Relaxation)

    def number(name: str, value: float) -> Any:
        return leaf(value, known[name], "given")

    told = SimpleNamespace(
        equilibrium=number("equilibrium", equilibrium),
        shares=list(shares),
        times=list(times),
        n=len(shares),
        reference_temperature=number("reference_temperature", reference_temperature),
        activation_energy=number("activation_energy", activation_energy),
    )
    return Record(table[0], told)


def packed(row: Row) -> list[Any]:
    """Return arguments as machine code takes them."""
    return [x.packed if isinstance(x, Record) else x for x in row]


def draws(*ranges: tuple[float, float], count: int = 200, seed: int = 1) -> list[tuple[float, ...]]:
    """Return arguments spread evenly over their ranges."""
    random = np.random.default_rng(seed)
    return [tuple(row) for row in random.uniform(*zip(*ranges, strict=True), (count, len(ranges))).tolist()]


def hostile(rows: Sequence[Row]) -> list[tuple[float, ...]]:
    """Return sensible rows of which one argument, or all, are hostile numbers."""
    found = []
    for at, row in enumerate(rows):
        for index in range(len(row)):
            if not isinstance(row[index], IntEnum | Record | bool):
                value = HOSTILE[(at + index) % len(HOSTILE)]
                found.append((*row[:index], value, *row[index + 1 :]))
    found.extend(tuple(x if isinstance(x, IntEnum | Record | bool) else value for x in rows[0]) for value in HOSTILE)
    return found


def leaves(formula: Any, row: Row) -> list[Any]:
    """Return the arguments of a formula as leaves of a trace, as its docstring declares them."""
    given, names = declared(formula).given, inspect.signature(formula).parameters
    pairs = list(zip(names, row, strict=True))
    wanted = [name for name, value in pairs if not isinstance(value, Record)]
    assert list(given) == wanted, f"{formula.__name__} declares {list(given)} of its arguments {wanted}"

    def of(name: str, value: Any) -> Any:
        if isinstance(value, Record):
            return value.told
        if isinstance(value, bool):
            return value
        q = given[name]
        return Choice(value, q.title, value.name) if isinstance(value, IntEnum) else leaf(value, q, "request")

    return [of(name, value) for name, value in pairs]


def told(formula: Any, *row: float) -> Any:
    """Return what the traced life of a formula gives for plain arguments."""
    return traced(formula)(*leaves(formula, row))


def flat(result: Any) -> list[float]:
    """Return the values of a result, be they one or several."""
    return [float(value) for value in result] if isinstance(result, tuple | list) else [float(result)]


def alike(one: Any, other: Any, about: object = "", relative: float = 1e-12) -> None:
    """Hold two results to one another; what is not known has to be unknown in both."""
    np.testing.assert_allclose(flat(one), flat(other), rtol=relative, atol=1e-290, equal_nan=True, err_msg=str(about))


def lives_agree(formula: Any, rows: Iterable[Row]) -> None:
    """Hold the compiled, the uncompiled and the traced life of a formula to one another."""
    machine, plain, told = compiled(formula), calm(formula), traced(formula)
    for row in rows:
        with np.errstate(all="ignore"):
            expected = plain(*(np.float64(x) if isinstance(x, float) else x for x in packed(row)))
        alike(machine(*packed(row)), expected, (formula.__name__, "compiled", row))
        alike(told(*leaves(formula, row)), expected, (formula.__name__, "traced", row))


def told_alike(formula: Any, rows: Sequence[Row], functions: Mapping[str, Callable[..., float]] | None = None) -> None:
    """Hold a formula to itself: its lives on sensible and hostile rows, and its steps to what is printed of them."""
    lives_agree(formula, rows)
    lives_agree(formula, hostile(rows[:40]))
    steps_hold(formula, rows[:40], functions)


_BINARY: Mapping[type[ast.operator], Callable[[float, float], float]] = {
    ast.Add: lambda a, b: a + b,
    ast.Sub: lambda a, b: a - b,
    ast.Mult: lambda a, b: a * b,
    ast.Div: arithmetic.divide,
    ast.Pow: arithmetic.power,
}


def evaluate(equation: str, inputs: Mapping[str, float], functions: Mapping[str, Callable[..., float]]) -> float:
    """Return the value of an equation as a reader of a working would find it."""
    names = {"pi": math.pi, "nan": math.nan, "inf": math.inf, **inputs}
    known = {"abs": abs, "min": arithmetic.least, "max": arithmetic.greatest, **arithmetic.FUNCTIONS, **functions}

    def of(node: ast.expr) -> float:
        match node:
            case ast.Constant(value=int() | float() as number):
                return float(number)
            case ast.Name(id=name):
                return names[name]
            case ast.UnaryOp(op=ast.USub(), operand=operand):
                return -of(operand)
            case ast.BinOp(left=left, op=op, right=right):
                return _BINARY[type(op)](of(left), of(right))
            case ast.Call(func=ast.Name(id=name), args=arguments):
                return float(known[name](*map(of, arguments)))
        raise ValueError(f"a reader cannot compute {ast.dump(node)}")

    return of(ast.parse(equation, mode="eval").body)


def steps_hold(
    formula: Any, rows: Iterable[Row], functions: Mapping[str, Callable[..., float]] | None = None
) -> list[Working]:
    """Trace a formula: no step may mix units, and each has to follow from what is printed. Return the workings."""
    workings = []
    for row in rows:
        working = Working(traced(formula)(*leaves(formula, row)))
        for step in working.steps:
            about = f"{formula.__name__}{tuple(row)}: {working.symbol(step)} = {working.equation(step)}"
            assert step.fault == "", f"{about}: {step.fault}"
            assert step.dim is not None, f"{about}: its unit is not known"
            if step.tree is not None and not step.words:
                alike(evaluate(working.equation(step), working.inputs(step), functions or {}), step.value, about)
        workings.append(working)
    return workings


def sound(
    formula: Any, spans: Mapping[str, tuple[float, float]], *chosen: IntEnum,
    functions: Mapping[str, Callable[..., float]] | None = None,
) -> None:  # fmt: skip
    """Hold the lives of a formula to one another and to what is printed of it.

    ``spans`` are the arguments in their order, ``chosen`` the choices that follow them.
    """
    rows = [(*row, *chosen) for row in draws(*spans.values())]
    lives_agree(formula, rows)
    lives_agree(formula, hostile(rows[:50]))
    steps_hold(formula, rows[:50], functions)
