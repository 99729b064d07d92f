"""Equations of a working as formulas: MathML from the expressions of its steps.

A browser does not break a formula over lines, so a long sum or product becomes several formulas in a row, between
which the line may break.
"""

from __future__ import annotations

import ast
from collections.abc import Mapping

from markupsafe import Markup, escape

from glandwise.api.render import words

GREEK: Mapping[str, str] = {
    "alpha": "α", "beta": "β", "delta": "δ", "Delta": "Δ", "eps": "ε",
    "kappa": "κ", "lam": "λ", "mu": "μ", "nu": "ν", "omega": "ω", "phi": "φ",
    "psi": "ψ", "rho": "ρ", "sigma": "σ", "tau": "τ", "theta": "θ", "pi": "π",
}  # fmt: skip
_FUNCTIONS: Mapping[str, str] = {"log": "ln", "log10": "lg", "asin": "arcsin", "acos": "arccos", "atan": "arctan"}
_INFIX: Mapping[type[ast.operator], str] = {ast.Add: "+", ast.Sub: "−"}
_RANK: Mapping[type[ast.operator], int] = {ast.Add: 1, ast.Sub: 1, ast.Mult: 2, ast.Div: 2, ast.Pow: 4}
COLUMN = 25.0
"""Width of the column of equations on a sheet, in em of its type."""
LEAST = 9.0
"""Width that the first part of an equation may take at least, however wide the symbol before it is."""
SHORT = 4
"""Letters of a function that its first argument stays with."""
_LETTER, _DIGIT, _INDEX, _FENCE, _COMMA = 0.66, 0.64, 0.48, 0.45, 0.7
"""Widths in em of what a formula is made of, rounded up; `_INDEX` is a letter of a subscript."""
_MARK: Mapping[type[ast.operator], float] = {ast.Add: 1.5, ast.Sub: 1.5, ast.Mult: 0.95}


def symbol(name: str) -> Markup:
    """Write a symbol with its subscript as MathML."""
    head, _, tail = name.partition("_")
    letter = GREEK.get(head, head)
    # a name of several letters is upright of itself
    base = Markup("<mi>{}</mi>").format(letter)
    if not tail:
        return base
    index = ",".join(GREEK.get(part, part) for part in tail.split("_"))
    return Markup('<msub>{}<mi mathvariant="normal">{}</mi></msub>').format(base, index)


def _operator(text: str) -> Markup:
    return Markup("<mo>{}</mo>").format(text)


def _row(*parts: Markup) -> Markup:
    return Markup("<mrow>{}</mrow>").format(Markup("").join(parts))


def _fenced(inner: Markup) -> Markup:
    return _row(_operator("("), inner, _operator(")"))


def _rank(node: ast.AST) -> int:
    if isinstance(node, ast.BinOp):
        return _RANK[type(node.op)]
    return 3 if isinstance(node, ast.UnaryOp) else 5


def _digits(node: ast.Constant) -> str:
    return f"{node.value:.12g}" if isinstance(node.value, float) else str(node.value)


def _number(node: ast.Constant) -> Markup:
    # as written, a power of ten set as one
    text = _digits(node)
    mantissa, _, exponent = text.partition("e")
    if not exponent:
        return Markup("<mn>{}</mn>").format(text)
    power = Markup("<msup><mn>10</mn><mn>{}</mn></msup>").format(int(exponent))
    return power if mantissa == "1" else _row(Markup("<mn>{}</mn>").format(mantissa), _operator("·"), power)


def _call(name: str, arguments: list[ast.expr]) -> Markup:
    if name == "sqrt":
        return Markup("<msqrt>{}</msqrt>").format(_term(arguments[0]))
    if name == "abs":
        return _row(_operator("|"), _term(arguments[0]), _operator("|"))
    shown = _FUNCTIONS.get(name, name.replace("_", " "))
    inner = _operator(",").join(_term(argument) for argument in arguments)
    return _row(Markup('<mi mathvariant="normal">{}</mi>').format(shown), _fenced(inner))


def _operand(node: ast.expr, rank: int, *, right: bool = False) -> Markup:
    inner = _term(node)
    own = _rank(node)
    return _fenced(inner) if own < rank or (right and own == rank and rank == 1) else inner


def _is_fraction(node: ast.expr) -> bool:
    return isinstance(node, ast.BinOp) and isinstance(node.op, ast.Div)


def _term(node: ast.expr) -> Markup:
    """Write one expression as MathML."""
    match node:
        case ast.Constant():
            return _number(node)
        case ast.Name(id=name):
            return symbol(name)
        case ast.UnaryOp(operand=operand):
            return _row(_operator("−"), _operand(operand, 3))
        case ast.Call(func=ast.Name(id=name), args=arguments):
            return _call(name, arguments)
        case ast.BinOp(left=left, op=ast.Div(), right=right):
            return Markup("<mfrac>{}{}</mfrac>").format(_row(_term(left)), _row(_term(right)))
        case ast.BinOp(left=left, op=ast.Pow(), right=right):
            base = _term(left)
            if _rank(left) < 5 or _is_fraction(left):
                base = _fenced(base)
            return Markup("<msup>{}{}</msup>").format(_row(base), _row(_term(right)))
        case ast.BinOp(left=left, op=ast.Mult(), right=right):
            return _row(_operand(left, 2), _operator("·"), _operand(right, 2, right=True))
        case ast.BinOp(left=left, op=op, right=right):
            return _row(_operand(left, 1), _operator(_INFIX[type(op)]), _operand(right, 1, right=True))
    raise ValueError(f"no formula for {ast.dump(node)}")


def _symbol_width(name: str) -> float:
    head, _, tail = name.partition("_")
    letters = 1 if head in GREEK else len(head)
    return _LETTER * letters + _INDEX * sum(1 if part in GREEK else len(part) + 0.4 for part in tail.split("_") if tail)


def _width(node: ast.expr) -> float:
    """Estimate how wide an expression is when it is set, in em."""
    match node:
        case ast.Constant():
            return _DIGIT * len(_digits(node))
        case ast.Name(id=name):
            return _symbol_width(name)
        case ast.UnaryOp(operand=operand):
            return 0.8 + _width(operand)
        case ast.Call(func=ast.Name(id="sqrt"), args=arguments):
            return 1.0 + _width(arguments[0])
        case ast.Call(func=ast.Name(id=name), args=arguments):
            return _DIGIT * len(name) + 2.0 * _FENCE + sum(_COMMA + _width(argument) for argument in arguments)
        case ast.BinOp(left=left, op=ast.Div(), right=right):
            return 0.3 + max(_width(left), _width(right))
        case ast.BinOp(left=left, op=ast.Pow(), right=right):
            return 2.0 * _FENCE + _width(left) + 0.75 * _width(right)
        case ast.BinOp(left=left, op=op, right=right):
            fences = sum(2.0 * _FENCE for item in (left, right) if _rank(item) < _RANK[type(op)])
            return _width(left) + _MARK[type(op)] + _width(right) + fences
    raise ValueError(f"no formula for {ast.dump(node)}")


def _pieces(node: ast.expr, most: float) -> list[Markup]:
    """Split an expression wider than ``most`` where a line may break."""
    if _width(node) <= most:
        return [_term(node)]
    match node:
        case ast.BinOp(left=left, op=ast.Add() | ast.Sub() as op, right=right):
            fenced = isinstance(op, ast.Sub) and _rank(right) == 1
            inner = _fenced_pieces(right, most) if fenced else _pieces(right, most)
            return [*_pieces(left, most), *_led_by(_operator(_INFIX[type(op)]), inner)]
        case ast.BinOp(left=left, op=ast.Mult(), right=right):
            first, second = (
                _fenced_pieces(item, most) if _rank(item) == 1 else _pieces(item, most) for item in (left, right)
            )
            return [*first, *_led_by(_operator("·"), second)]
        case ast.BinOp(left=left, op=ast.Div(), right=right):
            # too wide to stand over a bar or under it
            above = _fenced_pieces(left, most) if _rank(left) == 1 else _pieces(left, most)
            below = _fenced_pieces(right, most) if _rank(right) < 4 else _pieces(right, most)
            return [*above, *_led_by(_operator("/"), below)]
        case ast.BinOp(left=left, op=ast.Pow(), right=right):
            end = Markup("<msup>{}{}</msup>").format(_operator(")"), _row(_term(right)))
            return _ended(_led_by(_operator("("), _pieces(left, most)), end)
        case ast.UnaryOp(operand=operand):
            inner = _fenced_pieces(operand, most) if _rank(operand) < 3 else _pieces(operand, most)
            return _led_by(_operator("−"), inner)
        case ast.Call(func=ast.Name(id="abs"), args=[argument]):
            return _ended(_led_by(_operator("|"), _pieces(argument, most)), _operator("|"))
        case ast.Call(func=ast.Name(id=name), args=arguments):
            parts: list[Markup] = []
            for index, argument in enumerate(arguments):
                inner = _pieces(argument, most)
                parts += _led_by(_operator(","), inner) if index else inner
            # a root whose bar would be too long is written with a bracket
            text = "√" if name == "sqrt" else _FUNCTIONS.get(name, name.replace("_", " "))
            shown = Markup('<mi mathvariant="normal">{}</mi>').format(text)
            opening = _row(shown, _operator("("))
            # a long name stands before its arguments on a line of its own
            return _closed(_led_by(opening, parts) if len(text) <= SHORT else [opening, *parts])
    return [_term(node)]


def _led_by(mark: Markup, pieces: list[Markup]) -> list[Markup]:
    return [_row(mark, pieces[0]), *pieces[1:]]


def _ended(pieces: list[Markup], mark: Markup) -> list[Markup]:
    return [*pieces[:-1], _row(pieces[-1], mark)]


def _closed(pieces: list[Markup]) -> list[Markup]:
    return _ended(pieces, _operator(")"))


def _fenced_pieces(node: ast.expr, most: float) -> list[Markup]:
    return _closed(_led_by(_operator("("), _pieces(node, most)))


def equation(name: str, expression: str) -> Markup:
    """Write ``name = expression`` as one or several formulas in a row, none wider than :data:`COLUMN`."""
    node, most = ast.parse(expression, mode="eval").body, COLUMN - _symbol_width(name) - _MARK[ast.Add]
    # what a part is led by and closed with takes some room as well
    pieces = [_term(node)] if _width(node) <= most else _pieces(node, max(LEAST, most - 3.0))
    lead = _row(symbol(name), _operator("="))
    first = _row(lead, pieces[0]) if most > LEAST else lead
    rest = pieces[1:] if most > LEAST else pieces
    return Markup(" ").join(Markup('<math displaystyle="true">{}</math>').format(piece) for piece in (first, *rest))


def lone(name: str) -> Markup:
    """Write a symbol alone."""
    return Markup("<math>{}</math>").format(symbol(name))


def plain(number: float | None, symbol_of_unit: str) -> Markup:
    """Write the value of a step with its unit."""
    if number is None:
        return Markup("not finite")
    text = f"{words.number(number, 6)} {words.unit(symbol_of_unit)}".strip()
    return escape(text)
