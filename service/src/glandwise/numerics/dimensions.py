"""Units of formulas as exponents of base units: they name the unit of any step and catch a formula that mixes them."""

from __future__ import annotations

import ast
from functools import cache
from typing import NamedTuple


class Dimension(NamedTuple):
    """Exponents of the base units; an angle or a count has none."""

    m: float = 0.0
    kg: float = 0.0
    s: float = 0.0
    K: float = 0.0
    mol: float = 0.0


PLAIN = Dimension()
"""Of a plain number."""
_BASE = {name: Dimension(**{name: 1.0}) for name in Dimension._fields}


@cache
def times(a: Dimension, b: Dimension) -> Dimension:
    """Dimension of a product."""
    return Dimension(*(x + y for x, y in zip(a, b, strict=True)))


@cache
def over(a: Dimension, b: Dimension) -> Dimension:
    """Dimension of a quotient."""
    return Dimension(*(x - y for x, y in zip(a, b, strict=True)))


@cache
def raised(a: Dimension, exponent: float) -> Dimension:
    """Dimension of a power; exponents that differ by noise alone are the same."""
    return Dimension(*(round(x * exponent, 9) for x in a))


_N = over(times(_BASE["kg"], _BASE["m"]), raised(_BASE["s"], 2.0))
_NAMES: dict[str, Dimension] = {
    **_BASE,
    "N": _N,
    "Pa": over(_N, raised(_BASE["m"], 2.0)),
    "J": times(_N, _BASE["m"]),
    "W": over(times(_N, _BASE["m"]), _BASE["s"]),
    "rad": PLAIN,
    "rev": PLAIN,
}
_SPELLED: dict[Dimension, str] = {PLAIN: "1"}


@cache
def dimension(unit: str) -> Dimension:
    """Exponents of a coherent SI unit as a docstring writes it: ``W/(m²·K)``, ``1/m``, ``-``."""
    if unit in {"-", "1"}:
        return PLAIN
    tree = ast.parse(unit.replace("·", "*").replace("²", "**2").replace("³", "**3").replace("⁴", "**4"), mode="eval")

    def of(node: ast.expr) -> Dimension:
        match node:
            case ast.Name(id=name) if name in _NAMES:
                return _NAMES[name]
            case ast.Constant(value=1):
                return PLAIN
            case ast.BinOp(left=left, op=ast.Mult(), right=right):
                return times(of(left), of(right))
            case ast.BinOp(left=left, op=ast.Div(), right=right):
                return over(of(left), of(right))
            case ast.BinOp(left=left, op=ast.Pow(), right=ast.Constant(value=int() | float() as exponent)):
                return raised(of(left), float(exponent))
        raise ValueError(f"{unit!r} is no coherent SI unit")

    found = of(tree.body)
    _SPELLED.setdefault(found, unit)
    return found


dimension("N/m³")  # of a foundation; declared by no formula, since it stands within one


for _unit in (
    "m",
    "m²",
    "m³",
    "s",
    "1/s",
    "kg",
    "K",
    "N",
    "Pa",
    "J",
    "W",
    "N/m",
    "N/m²",
    "m/s",
    "W/K",
    "m²/s",
    "Pa·s",
    "kg/m",
    "kg/m³",
    "N·m",
):
    dimension(_unit)


def spelled(found: Dimension | None) -> str:
    """Write a unit the way some docstring does, else in base units; ``?`` where it is not known."""
    if found is None:
        return "?"
    if found in _SPELLED:
        return _SPELLED[found]
    parts = ((name, exponent) for name, exponent in zip(Dimension._fields, found, strict=True) if exponent)
    return "·".join(name if exponent == 1.0 else f"{name}^{exponent:g}" for name, exponent in parts)
