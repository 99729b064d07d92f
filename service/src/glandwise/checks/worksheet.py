"""The worksheet: ordered steps of a calculation that a reader can recompute.

A step states an equation in the symbols of earlier steps. The worksheet knows every symbol and its value, takes the
inputs of a step from its equation, and refuses a symbol that would mean two numbers, so printed inputs cannot drift
from printed values. Results come from the mechanics that gave the verdict; only auxiliary steps, which lead from one
such number to the next, take their value from their own equation.
"""

from __future__ import annotations

import ast
import math
import re
from collections.abc import Callable, Container, Mapping, Sequence
from functools import lru_cache, reduce
from typing import Any

from glandwise.mechanics import beams, fits, heat, rods
from glandwise.mechanics import numeric as num
from glandwise.rules.model import Curve, Datum


def _finger(field: str) -> Callable[..., float]:
    def function(angle: float, deflection: float, yield_curvature: float) -> float:
        return float(getattr(beams.finger(angle, deflection, yield_curvature), field))

    return function


def _coil(pick: Callable[[rods.CantedCoilLoad], float]) -> Callable[..., float]:
    def function(
        deflection: float, pitch: float, half_width: float, half_height: float, cant: float, ratio: float
    ) -> float:
        # wire of unit rigidity, E pi d4/64 = 1; its Poisson ratio gives E/G = 2 (1 + nu)
        wire = (64.0 / num.pi) ** 0.25
        state = rods.canted_coil_load(
            deflection, pitch, half_width, half_height, cant, wire, 1.0, 1.0 / (2.0 * (1.0 + ratio))
        )
        return float(pick(state))

    return function


def _ring(epsilon: float) -> float:
    # of a shaft with pi d k = 1 W/K
    return float(heat.ring_constriction(1.0, 0.5 * epsilon, 1.0 / num.pi))


FUNCTIONS: Mapping[str, Callable[..., float]] = {
    "abs": abs,
    "max": lambda *values: reduce(num.maximum, values),
    "min": lambda *values: reduce(num.minimum, values),
    "floor": lambda x: float(math.floor(x)),
    "ceil": lambda x: float(math.ceil(x)),
    "sqrt": num.sqrt,
    "exp": num.exp,
    "expm1": num.expm1,
    "log": num.log,
    "log1p": num.log1p,
    "log10": num.log10,
    "sin": num.sin,
    "cos": num.cos,
    "tan": num.tan,
    "asin": num.arcsin,
    "acos": num.arccos,
    "atan": num.arctan,
    "sinh": num.sinh,
    "cosh": num.cosh,
    "tanh": num.tanh,
    "finger_load": _finger("load"),
    "finger_curvature": _finger("elastic_root_curvature"),
    "finger_tangent": _finger("tangent"),
    "finger_recovery": _finger("recovery"),
    "finger_set": _finger("permanent_set"),
    "canted_coil_rate": lambda *given: float(rods.canted_coil_linear_rate(*given)),
    "canted_coil_share": _coil(lambda state: state.share_of_linear),
    "canted_coil_tangent": _coil(lambda state: state.share_of_linear * state.flatness),
    "canted_coil_moment": _coil(lambda state: state.equivalent_moment),
    "ring_constriction": _ring,
    "stretched_section": lambda *given: float(fits.stretched_section(*given)),
}
"""Functions an equation may use; the page ``working.md`` of the documentation defines each."""


@lru_cache(maxsize=4096)
def _parsed(equation: str) -> ast.expr:
    return ast.parse(equation, mode="eval").body


@lru_cache(maxsize=4096)
def symbols_of(equation: str) -> tuple[str, ...]:
    """Symbols of an equation in the order in which they occur, functions and constants left out."""
    names = [node for node in ast.walk(_parsed(equation)) if isinstance(node, ast.Name)]
    names.sort(key=lambda node: node.col_offset)
    return tuple(dict.fromkeys(node.id for node in names if node.id not in FUNCTIONS and node.id != "pi"))


_BINARY: Mapping[type[ast.operator], Callable[[float, float], float]] = {
    ast.Add: lambda a, b: a + b,
    ast.Sub: lambda a, b: a - b,
    ast.Mult: lambda a, b: a * b,
    ast.Div: num.divide,
    ast.Pow: num.power,
}


def evaluate(equation: str, values: Mapping[str, float]) -> float:
    """Value of an equation; not finite where it has none."""

    def of(node: ast.expr) -> float:
        match node:
            case ast.Constant(value=int() | float() as number):
                return float(number)
            case ast.Name(id="pi"):
                return num.pi
            case ast.Name(id=name):
                return values[name]
            case ast.UnaryOp(op=ast.USub(), operand=operand):
                return -of(operand)
            case ast.BinOp(left=left, op=op, right=right):
                return _BINARY[type(op)](of(left), of(right))
            case ast.Call(func=ast.Name(id=name), args=arguments):
                return FUNCTIONS[name](*map(of, arguments))
        raise ValueError(f"an equation of the worksheet uses {ast.dump(node)}")

    return of(_parsed(equation))


def _renamed(equation: str, names: Mapping[str, str]) -> str:
    """The equation with other symbols."""
    return _SYMBOL.sub(lambda match: names.get(match[0], match[0]), equation)


_SYMBOL = re.compile(r"\b[A-Za-z_]\w*")


def datum_source(path: str, record: Any) -> str:
    """Say where a value of the rules (or one given in their place) comes from."""
    if record.source == "request":
        return "request, in place of the rules"
    evidence = record.evidence.replace("_", " ")
    if record.source.replace("-", " ") == evidence:
        return f"rule {path}; {evidence}"
    return f"rule {path}; source {record.source}, {evidence}"


class Worksheet:
    """Steps in order; a scope writes to the same sheet with a suffix on the symbols of its steps."""

    __slots__ = ("_suffix", "_values", "steps")

    def __init__(self) -> None:
        self.steps: list[dict[str, Any]] = []
        self._values: dict[str, float] = {}
        self._suffix = ""

    def scope(self, name: str) -> Worksheet:
        """Return the same sheet for another state: the symbols of its steps end in ``_name``."""
        inner = Worksheet.__new__(Worksheet)
        inner.steps, inner._values, inner._suffix = self.steps, self._values, f"_{name}" if name else ""
        return inner

    def __getitem__(self, symbol: str) -> float:
        """Value of a symbol; ``nan`` where it is not known."""
        return self._values[symbol]

    def given(self, symbol: str, title: str, value: Any, unit: str, source: str) -> str:
        """State a number that nothing on the sheet gives: of the request, of the rules, of nature, or found by a search."""
        number = float(value)
        return self._write(symbol, title, repr(number), {}, number, unit, source)

    def rule(self, symbol: str, title: str, record: Datum, unit: str, path: str) -> str:
        """State a number of the rules."""
        return self.given(symbol, title, record.si, unit, datum_source(path, record))

    def step(
        self, symbol: str, title: str, equation: str, unit: str, source: str, value: Any = None, **points: float
    ) -> str:
        """Write a step and return its symbol; ``points`` are inputs of its own (points of a table).

        A step that needs a number which is not known is left out, and with it all that would follow from it.
        """
        inputs = {name: points[name] if name in points else self._values[name] for name in symbols_of(equation)}
        name = symbol + self._suffix
        if not all(map(math.isfinite, inputs.values())):
            self._values[name] = math.nan
            return name
        return self._write(
            symbol, title, equation, inputs, evaluate(equation, inputs) if value is None else float(value), unit, source
        )

    def lookup(self, symbol: str, title: str, curve: Curve, at: str, unit: str, path: str) -> str:
        """Read a table of the rules, linear between its points and held beyond its ends."""
        x, name = self._values[at], symbol + self._suffix
        value, xs, ys = num.interp(x, curve.si_x, curve.si_y), curve.si_x, curve.si_y
        source = datum_source(path, curve)
        if not math.isfinite(x) or curve.source == "request":
            return self.given(symbol, title, value, unit, source)
        if not xs[0] < x < xs[-1]:
            end, y = ("lower", ys[0]) if x <= xs[0] else ("upper", ys[-1])
            points = {f"{name}_end": float(y)}
            return self.step(symbol, f"{title} ({end} end of its table)", f"{name}_end", unit, source, value, **points)
        index = max(i for i, node in enumerate(xs) if node <= x)
        x0, x1, y0, y1 = (f"{name}_{point}" for point in ("x0", "x1", "y0", "y1"))
        equation = f"{y0} + ({y1} - {y0}) * ({at} - {x0}) / ({x1} - {x0})"
        points = {x0: float(xs[index]), x1: float(xs[index + 1]), y0: float(ys[index]), y1: float(ys[index + 1])}
        return self.step(symbol, f"{title} (from its table)", equation, unit, source, value, **points)

    def adopt(self, steps: Sequence[Mapping[str, Any]], suffix: str, common: Container[str] = ()) -> dict[str, str]:
        """Take over the steps of another sheet; returns the symbols they have here by those they had there.

        A step that is here already, by symbol, equation and value, is not repeated. One whose symbol is among the
        ``common`` keeps it; the symbols of others end in ``_suffix``, if there is one.
        """
        here = {step["symbol"]: step for step in self.steps}
        names: dict[str, str] = {}
        for step in steps:
            own = step["symbol"]
            known = here.get(own)
            equation = _renamed(step["equation"], names)
            if known is not None and known["equation"] == equation and known["value"] == step["value"]:
                names[own] = own
                continue
            name = own if (own in common and own not in self._values) or not suffix else f"{own}_{suffix}"
            points = {key: f"{name}{key.removeprefix(own)}" for key in step["inputs"] if key not in names}
            equation = _renamed(step["equation"], {**names, **points})
            inputs = {names.get(key, points.get(key, key)): value for key, value in step["inputs"].items()}
            value = math.nan if step["value"] is None else step["value"]
            names[own] = name
            self._put(name, step["title"], equation, inputs, value, step["unit"], step["source"])
        return names

    def _write(
        self, symbol: str, title: str, equation: str, inputs: dict[str, float], value: float, unit: str, source: str
    ) -> str:
        return self._put(symbol + self._suffix, title, equation, inputs, value, unit, source)

    def _put(
        self, name: str, title: str, equation: str, inputs: dict[str, float], value: float, unit: str, source: str
    ) -> str:
        if name in self._values:
            held = self._values[name]
            if held == value or (math.isnan(held) and math.isnan(value)):
                return name
            raise ValueError(f"the symbol {name} of the worksheet stands for {held!r} and for {value!r}")
        self._values[name] = value
        if inputs or math.isfinite(value):
            self.steps.append(
                {
                    "symbol": name,
                    "title": title,
                    "equation": equation,
                    "inputs": inputs,
                    "value": value if math.isfinite(value) else None,
                    "unit": unit,
                    "source": source,
                }
            )
        return name
