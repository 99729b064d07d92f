"""Mutants of a module: cosmic-ray's operators, a seeded choice of places, one mutant at each place."""

from __future__ import annotations

import ast
import random
from collections.abc import Iterator
from typing import Any, NamedTuple

import parso
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.operators.operator import Example, Operator
from cosmic_ray.operators.provider import OperatorProvider

# Changes that flatter: bit and shift operators on floats raise a TypeError at once, so any test would notice them.
_IDLE = ("LShift", "RShift", "BitXor", "Invert", "Variable", "RemoveDecorator", "_Is", "IsNot", "NoOp")

_SWAPS = {"minimum": "maximum", "sin": "cos", "sinh": "cosh", "min": "max", "floor": "ceil", "all": "any"}
_SWAPS |= {new: old for old, new in _SWAPS.items()}


class SwapFunction(Operator):  # type: ignore[misc]
    """Call the sister of a function: minimum for maximum, sine for cosine, all for any."""

    def mutation_positions(self, node: Any) -> Iterator[tuple[tuple[int, int], tuple[int, int]]]:
        """Yield the names followed by a call or handed on."""
        if node.type == "name" and node.value in _SWAPS and node.parent.type in {"trailer", "atom_expr", "power"}:
            yield node.start_pos, node.end_pos

    def mutate(self, node: Any, index: int) -> Any:  # noqa: ARG002 - the interface
        """Swap the name."""
        node.value = _SWAPS[node.value]
        return node

    @classmethod
    def examples(cls) -> tuple[Example, ...]:
        """Return an example."""
        return (Example("num.sin(x)", "num.cos(x)"),)


class Mutant(NamedTuple):
    """One change of one module."""

    module: str
    function: str
    line: int
    column: int
    operator: str
    occurrence: int


class Change(NamedTuple):
    """A mutant with the lines it changes."""

    mutant: Mutant
    before: str
    after: str
    source: str


def _operators() -> dict[str, type[Operator]]:
    provider = OperatorProvider()
    chosen = {name: provider[name] for name in sorted(provider) if not any(part in name for part in _IDLE)}
    # of the bit operators only & and |, on conditions, and only for each other
    chosen = {
        name: operator
        for name, operator in chosen.items()
        if "Bit" not in name or name.endswith(("BitAnd_BitOr", "BitOr_BitAnd"))
    }
    return {**chosen, "SwapFunction": SwapFunction}


def _kind(name: str) -> str:
    for prefix in ("ReplaceBinary", "ReplaceComparison", "ReplaceUnary"):
        if name.startswith(prefix):
            return prefix
    return name


def _annotations(source: str) -> set[tuple[int, int]]:
    """Return the places of names and operators inside annotations, which are never evaluated."""
    places = set()
    for node in ast.walk(ast.parse(source)):
        notes = [getattr(node, "annotation", None), getattr(node, "returns", None)]
        for note in notes:
            if note is not None:
                places |= {
                    (line, column)
                    for line in range(note.lineno, note.end_lineno + 1)
                    for column in range(
                        note.col_offset if line == note.lineno else 0,
                        note.end_col_offset if line == note.end_lineno else 200,
                    )
                }
    return places


def _functions(source: str) -> dict[int, str]:
    """Return the outermost function or class method of each line."""
    names: dict[int, str] = {}
    for node in ast.parse(source).body:
        inner = [node, *(node.body if isinstance(node, ast.ClassDef) else [])]
        for part in inner:
            if isinstance(part, (ast.FunctionDef, ast.ClassDef)) and part.end_lineno is not None:
                names |= dict.fromkeys(range(part.lineno, part.end_lineno + 1), part.name)
    return names


def find(module: str, source: str) -> dict[tuple[int, int, str], list[Mutant]]:
    """Return every mutant of a module by place: line, column and kind of change."""
    places: dict[tuple[int, int, str], list[Mutant]] = {}
    skipped, functions = _annotations(source), _functions(source)
    nodes = list(ast_nodes(get_ast(source)))
    for name, operator_class in _operators().items():
        operator, occurrence = operator_class(), 0
        for node in nodes:
            for (line, column), _ in operator.mutation_positions(node):
                if (line, column) not in skipped:
                    mutant = Mutant(module, functions.get(line, "(module)"), line, column, name, occurrence)
                    places.setdefault((line, column, _kind(name)), []).append(mutant)
                occurrence += 1
    return dict(sorted(places.items()))


def apply(mutant: Mutant, source: str) -> Change | None:
    """Return the changed source; nothing where it is no valid program or the same one."""
    changed = mutate_code(source, _operators()[mutant.operator](), mutant.occurrence)
    if changed is None or changed == source:
        return None
    try:
        tree = ast.parse(changed)
    except (SyntaxError, ValueError):
        return None
    if ast.dump(tree) == ast.dump(ast.parse(source)):
        return None
    pairs = zip(source.splitlines(), changed.splitlines(), strict=False)
    before, after = next((old.strip(), new.strip()) for old, new in pairs if old != new)
    return Change(mutant, before, after, changed)


def sample(module: str, source: str, places: int, seed: int, functions: frozenset[str], only: bool) -> list[Change]:
    """Return one mutant at each of so many places, drawn by the seed.

    ``only`` says whether just the named functions are drawn from, or all but those.
    """
    found = {place: all_ for place, all_ in find(module, source).items() if (all_[0].function in functions) == only}
    # not for secrets: a choice that is the same in each run
    rng = random.Random(f"{seed} {module} {only}")
    order = list(found)
    rng.shuffle(order)
    changes: list[Change] = []
    for place in order:
        if len(changes) == places:
            break
        mutants = found[place]
        rng.shuffle(mutants)
        change = next((change for mutant in mutants if (change := apply(mutant, source)) is not None), None)
        if change is not None:
            changes.append(change)
    return sorted(changes, key=lambda change: change.mutant[2:])


def version() -> str:
    """Return the versions that the choice of mutants rests on."""
    from importlib.metadata import version as of

    return f"cosmic-ray {of('cosmic-ray')}, parso {parso.__version__}"
