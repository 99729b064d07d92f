"""The traced life: floats that remember how they were made, so that a formula that runs tells its working.

There is no state outside the values (but for :func:`let_go`, which only takes away): a step is a node of the tree of the
number that it gave, and the working of a result is what can be reached from it. So the passes of a search that came before
the last are never shown, two threads cannot meet, and what was computed but not used is left out.

Formulas are a subset of Python, held by tracing each of them in a test: assignment to plain names, ``if``, ``for`` over a
``range``, ``return``, comparisons of two numbers at a time, arithmetic, functions of :mod:`math` and calls of formulas.
"""

from __future__ import annotations

import ast
import inspect
import itertools
import math
import operator
import re
import textwrap
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from typing import Any, NamedTuple, TypeVar

import numpy as np

from glandwise.numerics import arithmetic
from glandwise.numerics.dimensions import PLAIN, Dimension, dimension, over, raised, spelled, times
from glandwise.numerics.docstring import Declared, Quantity, declared
from glandwise.numerics.lives import Constant, Life

T = TypeVar("T")
_OPERATORS: dict[type[ast.cmpop], str] = {
    ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!=",
}  # fmt: skip
_COMPARE: dict[str, Callable[[Any, Any], bool]] = {
    "<": operator.lt, "<=": operator.le, ">": operator.gt, ">=": operator.ge, "==": operator.eq, "!=": operator.ne,
}  # fmt: skip
CALLER = "_caller"
"""Argument by which a formula in this life is told from which call it was called."""
_CONTRARY = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "==": "!=", "!=": "=="}


class Condition(NamedTuple):
    """A comparison that decided a branch: its numbers are part of the working."""

    words: str
    operands: tuple[Any, ...]


@dataclass(eq=False, slots=True)
class Frame:
    """One call of a formula: conditions met in it, by place in the source, and the step that it gave."""

    because: dict[int, Condition] = field(default_factory=dict)
    label: str = ""
    """What tells this call apart from others of the same formula: the name that its caller gave to the result."""
    caller: Frame | None = None
    """The call in which this one was made."""
    named: bool = False
    """Whether its caller has done something with its result, which settles the label."""
    serial: int = field(default_factory=itertools.count().__next__)

    def outermost(self) -> Frame:
        """Return the last of the calls that are known to lie round this one."""
        frame = self
        while frame.caller is not None:
            frame = frame.caller
        return frame

    def within(self, caller: Frame) -> Frame | None:
        """Return the call that was made in a caller and that this one belongs to; none where it was called elsewhere."""
        frame = self
        while frame.caller is not None:
            if frame.caller is caller:
                return frame
            frame = frame.caller
        return None

    def labels(self) -> tuple[str, ...]:
        """Labels of the call and of its callers, from within."""
        found: list[str] = []
        frame: Frame | None = self
        while frame is not None:
            if frame.label:
                found.append(frame.label)
            frame = frame.caller
        return tuple(found)


@dataclass(eq=False, slots=True)
class Step:
    """A number with a name. A leaf has no tree: it was given, belongs to a rule, or was found by a search."""

    symbol: str
    title: str
    tree: Any
    value: float
    dim: Dimension | None
    source: str = ""
    record: Any = None
    """Record of the rules that a leaf comes from, or several."""
    frame: Frame | None = None
    because: tuple[Condition, ...] = ()
    words: str = ""
    fault: str = ""
    """Declared and found unit, where they differ."""
    fresh: bool = False
    """Whether the caller may still give it another name."""


class Traced(float):
    """A float with the tree that it came from: a step, or an operation with its arguments."""

    __slots__ = ("dim", "tree")
    dim: Dimension | None
    tree: Any

    def __new__(cls, value: float, tree: Any, dim: Dimension | None = PLAIN) -> Traced:
        """Hold a value."""
        self = float.__new__(cls, value)
        self.tree, self.dim = tree, dim
        return self

    def __neg__(self) -> Traced:
        """Contrary."""
        return Traced(-float(self), ("neg", self), self.dim)

    def __abs__(self) -> Traced:
        """Amount."""
        return Traced(abs(float(self)), ("abs", self), self.dim)

    def __reduce__(self) -> tuple[Any, ...]:
        """Leave as a plain float: a working does not travel."""
        return float, (float(self),)


class Choice(int):
    """A name chosen from a list: the code that the compiled life sees, with its words."""

    title: str
    name: str

    def __new__(cls, member: int, title: str, name: str) -> Choice:
        """Hold a code."""
        self = int.__new__(cls, member)
        self.title, self.name = title, name
        return self


_circles: ContextVar[list[Step] | None] = ContextVar("circles", default=None)
"""Steps with conditions that were traced within :func:`let_go`."""


@contextmanager
def let_go() -> Iterator[None]:
    """Have what is traced within be gone as soon as nobody holds it any longer.

    A condition holds the numbers that were compared, which lead back to steps that hold the condition. Thousands of such circles
    an enquiry are left to the collector otherwise, which then keeps all threads waiting for tens of milliseconds. Conditions of
    what was traced within are not there any more afterwards.
    """
    steps: list[Step] = []
    token = _circles.set(steps)
    try:
        yield
    finally:
        _circles.reset(token)
        for step in steps:
            step.because = ()


def _note(step: Step) -> None:
    steps = _circles.get()
    if steps is not None and step.because:
        steps.append(step)


def _unit_of(op: str, a: Any, b: Any) -> Dimension | None:
    """Unit of an operation; a bare number has that of the other in a sum."""
    first, second = getattr(a, "dim", PLAIN), getattr(b, "dim", PLAIN)
    if op in {"+", "-"}:
        if not isinstance(b, Traced):
            return first
        if not isinstance(a, Traced):
            return second
        return first if first == second else None
    if first is None or second is None:
        return None
    if op == "**":
        return raised(first, float(b)) if not isinstance(b, Traced) or first != PLAIN else PLAIN
    return times(first, second) if op == "*" else over(first, second)


def _operator(op: str, compute: Callable[[float, float], float]) -> tuple[Any, Any]:
    """Return an operator and its reflection."""

    def forward(a: Any, b: Any) -> Traced:
        return Traced(compute(float(a), float(b)), (op, a, b), _unit_of(op, a, b))

    return forward, lambda b, a: forward(a, b)


for _op, _name, _compute in (
    ("+", "add", float.__add__),
    ("-", "sub", float.__sub__),
    ("*", "mul", float.__mul__),
    ("/", "truediv", arithmetic.divide),
    ("**", "pow", arithmetic.power),
):
    _forward, _backward = _operator(_op, _compute)
    setattr(Traced, f"__{_name}__", _forward)
    setattr(Traced, f"__r{_name}__", _backward)


def _function(name: str) -> Callable[[Any], Any]:
    compute = arithmetic.FUNCTIONS[name]

    def function(x: Any) -> Any:
        if not isinstance(x, Traced):
            return compute(x)
        if name == "sqrt":
            return Traced(compute(float(x)), (name, x), None if x.dim is None else raised(x.dim, 0.5))
        return Traced(
            compute(float(x)), (name, x), x.dim if name in {"floor", "ceil"} else PLAIN if x.dim == PLAIN else None
        )

    return function


_FUNCTIONS = {name: _function(name) for name in arithmetic.FUNCTIONS}


def _isfinite(x: Any) -> bool:
    return math.isfinite(float(x))


# ----------------------------------------------------------------------------------------------- what no formula gave


def leaf(value: float, q: Quantity, source: str, record: Any = None, words: str = "") -> Traced:
    """Return a number that no formula gave."""
    unit = dimension(q.unit)
    return Traced(value, Step(q.symbol, q.title, None, float(value), unit, source, record, words=words), unit)


def step(value: Any, q: Quantity, source: str) -> Any:
    """Name a number that was computed of traced ones outside of any formula; one that has a name keeps it."""
    if not isinstance(value, Traced) or isinstance(value.tree, Step):
        return value
    unit = dimension(q.unit)
    fault = "" if value.dim == unit else f"declared {q.unit}, found {spelled(value.dim)}"
    return Traced(value, Step(q.symbol, q.title, value.tree, float(value), unit, source, fault=fault), unit)


class TracedCurve:
    """A curve of the rules for the traced life: as its record has it, with what a working says of it."""

    def __init__(self, q: Quantity, xs: Any, ys: Any, source: str, record: Any) -> None:
        self.x, self.y, self.n = xs, ys, len(xs)
        self.symbol, self.title, self.dim, self.source, self.record = (
            q.symbol,
            q.title,
            dimension(q.unit),
            source,
            record,
        )


# ------------------------------------------------------------------------------------------ what rewritten code calls


def _named(target: str, value: Any, frame: Frame, title: str) -> Any:
    """Name what is assigned to a variable; the name that the caller gives wins over that of the formula called."""
    if hasattr(value, "_fields"):  # the name tells what it holds apart from what another call gave
        symbols = {item.tree.symbol for item in value if isinstance(item, Traced) and isinstance(item.tree, Step)}
        _called(value, frame, "" if target in symbols else target)
    if not isinstance(value, Traced):
        return value
    step = value.tree
    if not isinstance(step, Step):
        _called(value, frame)
        return Traced(value, Step(target, title, step, float(value), value.dim, frame=frame), value.dim)
    if step.fresh:
        prefix = f"{step.symbol}_"
        _called(value, frame, target.removeprefix(prefix) if target.startswith(prefix) else "")
        step.symbol, step.title, step.frame, step.fresh = target, title or step.title, frame, False
    else:
        _called(value, frame)
    return value


def _called(x: Any, caller: Frame, label: str = "") -> None:
    """Label the calls that gave a value to their caller; the first thing that is done with it counts."""
    if isinstance(x, tuple):
        for item in x:
            _called(item, caller, label)
    elif isinstance(x, Traced):
        if not isinstance(x.tree, Step):
            _called(x.tree, caller, label)
        elif x.tree.frame is not None:
            call = x.tree.frame.within(caller)
            if call is not None and not call.named:
                call.label, call.named = label, True


def _called_for(value: Any, frame: Frame) -> None:
    """Tell all calls that a result rests on and that no formula made, be it as arguments of others only, who made them."""
    seen: set[int] = set()

    def walk(x: Any) -> None:
        if isinstance(x, tuple):
            for item in x:
                walk(item)
        elif isinstance(x, Traced):
            walk(x.tree)
        elif isinstance(x, Step) and x.frame is not None and id(x) not in seen:
            seen.add(id(x))
            call = x.frame.outermost()
            if call.serial > frame.serial:
                call.caller = frame
            elif call is not frame:
                return
            walk(x.tree)

    walk(value)


def labelled(label: str, make: Callable[[], T], given: Any = None) -> T:
    """Return what traced formulas give, its steps marked so that they are told apart from those of another state.

    A symbol that stands for several numbers in a working ends in the label then. ``given`` is a record of leaves that
    belong to this state alone.
    """
    outer = Frame(label=label)
    result = make()
    _called_for(result, outer)
    for x in vars(given).values() if given is not None else ():
        step = getattr(x, "tree", None)
        if isinstance(step, Step) and step.frame is None and step.record is None:  # those of the rules belong to all
            step.frame = outer
    return result


def _all_named(targets: tuple[str, ...], values: Any, frame: Frame, title: str) -> tuple[Any, ...]:
    return tuple(_named(target, value, frame, title) for target, value in zip(targets, values, strict=True))


def _told(op: str, left: Any, right: Any, frame: Frame, at: int) -> bool:
    """Compare, and remember the outcome with the call."""
    outcome = bool(_COMPARE[op](left, right))
    if isinstance(left, Choice):
        verb = "is" if outcome == (op == "==") else "is not"
        frame.because[at] = Condition(f"{left.title} {verb} {getattr(right, 'name', str(right)).replace('_', ' ')}", ())
    elif left is not right and (isinstance(left, Traced) or isinstance(right, Traced)):
        frame.because[at] = Condition(op if outcome else _CONTRARY[op], (left, right))
    return outcome


def _result(value: Any, frame: Frame, words: Declared) -> Any:
    """Name what a formula returns by its docstring; one that declares no result is part of the step of its caller."""
    if words.results:
        if isinstance(value, tuple):
            items = [_one_result(v, q, frame, words) for v, q in zip(value, words.results, strict=True)]
            value = type(value)(*items) if hasattr(value, "_fields") else tuple(items)
        else:
            value = _one_result(value, words.results[0], frame, words)
    frame.because.clear()  # the steps have them now
    return value


def _one_result(value: Any, q: Quantity, frame: Frame, words: Declared) -> Any:
    if not isinstance(value, float):
        return value
    unit = dimension(q.unit)
    if not isinstance(value, Traced):
        step = Step(
            q.symbol, q.title or words.title, None, value, unit, "as the branch has it", frame=frame, fresh=True
        )
        step.because = tuple(frame.because.values())
        _note(step)
        return Traced(value, step, unit)
    step = value.tree
    if isinstance(step, Step) and step.frame is not frame:
        return value  # passed through
    if not isinstance(step, Step):
        step = Step(q.symbol, "", step, float(value), value.dim, frame=frame)
        value = Traced(value, step, unit)
    step.title, step.source, step.fresh = step.title or q.title or words.title, step.source or words.references, True
    step.fault = "" if step.dim == unit else f"declared {q.unit}, found {spelled(step.dim)}"
    step.dim, step.because = unit, (*step.because, *frame.because.values())
    _note(step)
    return value


class _Rewriter(ast.NodeTransformer):
    """Let a function tell its assignments, comparisons and results."""

    def __init__(self, lines: list[str], steps: bool, scope: dict[str, Any]) -> None:
        self._lines, self._steps, self._scope = lines, steps, scope

    @staticmethod
    def _call(name: str, *arguments: Any) -> ast.Call:
        parts = [item if isinstance(item, ast.AST) else ast.Constant(item) for item in arguments]
        return ast.Call(ast.Name(name, ast.Load()), parts, [])  # type: ignore[arg-type]

    def visit_FunctionDef(self, node: ast.FunctionDef) -> Any:
        self.generic_visit(node)
        node.decorator_list, node.returns = [], None
        for argument in node.args.args:
            argument.annotation = None
        node.args.kwonlyargs.append(ast.arg(CALLER))
        node.args.kw_defaults.append(ast.Constant(None))
        node.body.insert(0, ast.parse(f"_frame = _Frame(caller={CALLER})").body[0])
        return node

    def visit_Call(self, node: ast.Call) -> Any:
        self.generic_visit(node)
        if getattr(self._of_scope(node.func), "tells_caller", False):
            node.keywords.append(ast.keyword(CALLER, ast.Name("_frame", ast.Load())))
        return node

    def _of_scope(self, node: ast.expr) -> Any:
        """Return what a name, or a name of a module, stands for."""
        if isinstance(node, ast.Attribute):
            return getattr(self._of_scope(node.value), node.attr, None)
        return self._scope.get(node.id) if isinstance(node, ast.Name) else None

    def visit_Assign(self, node: ast.Assign) -> Any:
        self.generic_visit(node)
        if not self._steps:
            return node
        target = node.targets[0]
        items = target.elts if isinstance(target, ast.Tuple) else [target]
        if len(node.targets) != 1 or not all(isinstance(item, ast.Name) for item in items):
            raise SyntaxError(f"a formula assigns to plain names: {ast.unparse(node)}")
        names = tuple(item.id for item in items if isinstance(item, ast.Name))
        title = self._lines[node.lineno - 1].partition("  # ")[2]
        title = "" if title.startswith(("noqa", "type:")) else title
        several = isinstance(target, ast.Tuple)
        node.value = self._call(
            "_all_named" if several else "_named", names if several else names[0], node.value, ast.Name("_frame", ast.Load()), title
        )  # fmt: skip
        return node

    def visit_Compare(self, node: ast.Compare) -> Any:
        self.generic_visit(node)
        if len(node.ops) != 1 or type(node.ops[0]) not in _OPERATORS:
            raise SyntaxError(f"a formula compares two numbers at a time: {ast.unparse(node)}")
        op = _OPERATORS[type(node.ops[0])]
        at = node.lineno * 1000 + node.col_offset
        return self._call("_told", op, node.left, node.comparators[0], ast.Name("_frame", ast.Load()), at)

    def visit_Return(self, node: ast.Return) -> Any:
        self.generic_visit(node)
        if node.value is not None:
            node.value = self._call(
                "_result", node.value, ast.Name("_frame", ast.Load()), ast.Name("_words", ast.Load())
            )
        return node


def _alike(arguments: tuple[Any, ...]) -> Dimension | None:
    """Unit that some arguments share; a bare number has that of the others."""
    found = {x.dim for x in arguments if isinstance(x, Traced)}
    return PLAIN if not found else found.pop() if len(found) == 1 else None


def _plain(value: Any) -> Any:
    return float(value) if isinstance(value, float) else value


def _opaque_values(function: Any) -> tuple[tuple[str, Quantity], ...]:
    """Name in an equation, symbol, unit and title of each value of an opaque function: of its mark, else its docstring."""
    how, words = function.opaque, declared(function)
    names = how.get("name", [q.symbol for q in words.results] or function.__name__)
    names = [names] if isinstance(names, str) else names
    found = words.results or [Quantity(name, "-", words.title) for name in names]
    units = how.get("unit", [q.unit for q in found])
    units = [units] * len(found) if isinstance(units, str) else units
    return tuple((n, q._replace(unit=unit)) for n, q, unit in zip(names, found, units, strict=True))


def _counts_on(words: str | tuple[str, ...]) -> bool:
    """Whether words speak of arguments behind the first one, by their place."""
    return any(re.search(r"\{[1-9]", text) for text in ((words,) if isinstance(words, str) else words))


def _opaque(function: Any) -> Any:
    """Return the traced form of an opaque function: its value, with words in place of its inside."""
    how, run = function.opaque, calm(function)
    quantities, references = _opaque_values(function), declared(function).references

    def told(*arguments: Any, _caller: Frame | None = None) -> Any:
        bare, call = [_plain(x) for x in arguments], Frame(caller=_caller)
        with np.errstate(all="ignore"):
            values = run(*(np.float64(x) if isinstance(x, float) else x for x in bare))
        words = how["words"](*bare) if "words" in how else ""
        if how.get("search"):
            step = Step("x", "", None, float(values[0]), arguments[0].dim, frame=call, words=words, fresh=True)
            return Traced(values[0], step, step.dim), *map(_plain, values[1:])
        curve = next((x for x in arguments if isinstance(x, TracedCurve)), None)
        shown = [x for x in arguments if isinstance(x, float)]
        if words and not _counts_on(words):  # an infinite bound is none; the first argument is what the words speak of
            shown = [*shown[:1], *(x for x in shown[1:] if not math.isinf(x))]
        several = isinstance(values, tuple)
        found = []
        for index, value in enumerate(values if several else (values,)):
            name, q = quantities[index]
            unit: Dimension | None
            if curve is not None:
                name, unit = curve.symbol, curve.dim
            else:
                unit = _alike(arguments) if q.unit == "alike" else dimension(q.unit)
            tree = (name, *shown)
            if not words:
                found.append(Traced(value, tree, unit))
                continue
            said = words if isinstance(words, str) else words[index]
            step = Step(q.symbol, q.title, tree, float(value), unit, references, frame=call, words=said, fresh=True)
            if curve is not None:
                step.symbol, step.title, step.fresh = curve.symbol, curve.title, False
                step.source, step.record = curve.source, curve.record
            found.append(Traced(value, step, unit))
        if not several:
            return found[0]
        return type(values)(*found) if hasattr(values, "_fields") else tuple(found)

    told.tells_caller = True  # type: ignore[attr-defined]
    return told


def _dress(copy: Any, original: Any) -> Any:
    if hasattr(original, "opaque"):
        return _opaque(original)
    words = declared(original)
    source = textwrap.dedent(inspect.getsource(original))
    scope = copy.__globals__
    tree = _Rewriter(source.splitlines(), bool(words.results), scope).visit(ast.parse(source))
    scope.update(_Frame=Frame, _named=_named, _all_named=_all_named, _told=_told, _result=_result, _words=words)
    exec(compile(ast.fix_missing_locations(tree), inspect.getsourcefile(original) or "", "exec"), scope)  # noqa: S102
    made = scope[original.__name__]
    made.tells_caller = True
    return made


_held_constants: dict[int, Traced] = {}


def _value(name: str, thing: Any) -> Any:
    if isinstance(thing, Constant):
        if id(thing) not in _held_constants:
            title = thing.title or name.replace("_", " ").lower()
            _held_constants[id(thing)] = leaf(thing, Quantity(thing.symbol, thing.unit, title), thing.source)
        return _held_constants[id(thing)]
    if thing is math.pi:
        return Traced(math.pi, ("pi",))
    if thing is math.isfinite:
        return _isfinite
    return _FUNCTIONS[name] if name in _FUNCTIONS and thing is getattr(math, name) else thing


def _calm(name: str) -> Callable[[float], np.float64]:
    """Give a function of :mod:`math` back as what does not raise when it is divided by."""
    compute = arithmetic.FUNCTIONS[name]
    return lambda x: np.float64(compute(x))


_traced = Life(_dress, _value)


def traced(function: Any) -> Callable[..., Any]:
    """Return the traced life of a plain function; it is made when it first runs, so that starting up need not wait for it."""

    def told(*arguments: Any) -> Any:
        return _traced(function)(*arguments)

    return told


calm = Life(
    lambda copy, _: copy,
    lambda name, thing: _calm(name) if name in _FUNCTIONS and thing is getattr(math, name) else thing,
)
"""The uncompiled life, for debugging and coverage, on ``numpy.float64``: it does not raise where machine code does not."""


# ---------------------------------------------------------------------------------------------------- reading a trace


def records(*results: Any) -> tuple[Any, ...]:
    """Return the records of the rules that some results rest on, each once."""
    found: dict[int, Any] = {}
    seen: set[int] = set()
    waiting: list[Any] = list(results)
    while waiting:
        x = waiting.pop()
        if isinstance(x, tuple):
            waiting.extend(x)
        elif isinstance(x, Traced):
            waiting.append(x.tree)
        elif isinstance(x, Step) and id(x) not in seen:
            seen.add(id(x))
            waiting.append(x.tree)
            waiting.extend(condition.operands for condition in x.because)
            of_leaf = x.record if type(x.record) is tuple else (x.record,)
            found.update((id(record), record) for record in of_leaf if record is not None)
    return tuple(found.values())


_RANK = {"+": 1, "-": 1, "*": 2, "/": 2, "neg": 3, "**": 4}


@cache
def _names(text: str) -> frozenset[str] | None:
    """Names that stand in an expression; none where a text is no expression."""
    try:
        tree = ast.parse(text, mode="eval")
    except SyntaxError:
        return None
    return frozenset(node.id for node in ast.walk(tree) if isinstance(node, ast.Name))


def _is_expression(text: str, symbols: set[str]) -> bool:
    names = _names(text)
    return names is not None and names <= symbols | arithmetic.FUNCTIONS.keys() | {"pi", "min", "max", "abs"}


def _written(x: float) -> str:
    """Write a number of a formula; a fraction of small whole numbers as one."""
    text = repr(x).removesuffix(".0")
    if len(text) > 12 and math.isfinite(x):
        fraction = Fraction(x).limit_denominator(99)
        if fraction.numerator / fraction.denominator == x:
            return f"({fraction.numerator} / {fraction.denominator})"
    return text


class Working:
    """All steps that some results rest on, inputs before what they give, each symbol standing for one number.

    What was worked out twice the same way, as for two states that share it, is one step.
    """

    def __init__(self, *results: Any) -> None:
        """Read the trees of traced numbers, or tuples of them."""
        self._one_of: dict[Step, Step] = {}
        """The step that stands for all that are like it."""
        known: dict[Any, Step] = {}
        labels: dict[Step, tuple[str, ...]] = {}

        def walk(x: Any) -> None:
            if isinstance(x, tuple):
                for item in x:
                    walk(item)
            elif isinstance(x, Traced):
                walk(x.tree)
            elif isinstance(x, Step) and x not in self._one_of:
                walk(x.tree)
                own = () if x.frame is None else x.frame.labels()
                one = self._one_of[x] = known.setdefault(self._content(x), x)
                # what several states share is told apart from other steps by what they have in common
                labels[one] = tuple(label for label in labels.get(one, own) if label in own)
                for condition in x.because:  # what a search found comes before the balance that proves it
                    walk(condition.operands)

        walk(results)
        self.steps = tuple(known.values())
        self._names = self._told_apart(labels)

    def _content(self, step: Step) -> Any:
        """What a step says: alike for steps that are the same."""

        def of(x: Any) -> Any:
            if isinstance(x, tuple):
                return tuple(map(of, x))
            if isinstance(x, Traced):
                return of(x.tree)
            if isinstance(x, Step):
                return id(self._one_of[x]) if x in self._one_of else id(x)
            return x.hex() if isinstance(x, float) else x

        # what a branch gave without an equation says nothing but why
        because = tuple(condition.words for condition in step.because) if step.tree is None else ()
        return step.symbol, float(step.value).hex(), step.source, step.words, because, of(step.tree)

    def _told_apart(self, labels: dict[Step, tuple[str, ...]]) -> dict[Step, str]:
        """Give steps that share a symbol the labels of the calls that they belong to, from within, else a number."""
        names, left = {step: step.symbol for step in self.steps}, dict(labels)
        while True:
            often = Counter(names.values())
            alike = [step for step in self.steps if often[names[step]] > 1 and left[step]]
            if not alike:
                break
            for step in alike:
                label, *rest = left[step]
                names[step], left[step] = f"{names[step]}_{label}", tuple(rest)
        taken: set[str] = set()
        for step, base in names.items():
            name, number = base, 2
            while name in taken:
                name, number = f"{base}_{number}", number + 1
            names[step] = name
            taken.add(name)
        return names

    def symbol(self, step: Step) -> str:
        """Symbol of a step, unlike all others."""
        return self._names[self._one_of[step]]

    def because(self, step: Step) -> str:
        """Say in symbols why a formula took the branch that it took."""
        return "; ".join(f" {words} ".join(map(self._text, pair)) if pair else words for words, pair in step.because)

    def equation(self, step: Step) -> str:
        """Right side of a step as an expression in symbols; the number itself where nothing gave it."""
        if step.tree is None:
            return repr(step.value)
        if step.words:
            said = self.words(step)
            if _is_expression(said, set(self.inputs(step))):
                return said
        return self._text(step.tree) if isinstance(step.tree, Traced) else self._expression(step.tree)

    def words(self, step: Step) -> str:
        """Say in symbols how a value came about that no equation gave: ``{0}`` in its words is its first argument."""
        if step.tree is None:
            return step.words
        symbols = map(self._text, step.tree[1:])
        return step.words.format(*(text if text.isidentifier() else f"({text})" for text in symbols))

    def inputs(self, step: Step) -> dict[str, float]:
        """Return the numbers that stand in the equation of a step, by symbol."""
        found: dict[str, float] = {}

        def walk(x: Any) -> None:
            if isinstance(x, tuple):
                for item in x[1:]:
                    walk(item)
            elif isinstance(x, Traced):
                if isinstance(x.tree, Step):
                    found[self.symbol(x.tree)] = x.tree.value
                else:
                    walk(x.tree)

        walk(step.tree)
        return found

    def _text(self, x: Any) -> str:
        if not isinstance(x, Traced):
            return _written(float(x)) if isinstance(x, float | int) else getattr(x, "symbol", str(x))
        return self.symbol(x.tree) if isinstance(x.tree, Step) else self._expression(x.tree)

    def _expression(self, tree: Any) -> str:
        op, *arguments = tree
        if op not in _RANK:
            return op if not arguments else f"{op}({', '.join(map(self._text, arguments))})"
        shown = []
        for position, x in enumerate(arguments):
            inner = x.tree[0] if isinstance(x, Traced) and isinstance(x.tree, tuple) else ""
            rank = 3 if not isinstance(x, Traced) and x < 0.0 else _RANK.get(inner, 9)
            low = rank < _RANK[op] or (position == 1 and op in "-/" and rank == _RANK[op])
            low = low or (position == 0 and op == "**" and rank < 9)
            shown.append(f"({self._text(x)})" if low else self._text(x))
        if op == "neg":
            return f"-{shown[0]}"
        return "**".join(shown) if op == "**" else f" {op} ".join(shown)
