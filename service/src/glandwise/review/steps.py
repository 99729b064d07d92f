"""Numbers of a rule set, each by itself, and what is put in their place to see what hangs on them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Literal, NamedTuple

from glandwise import units
from glandwise.rules import compare
from glandwise.rules.mixed import mixed
from glandwise.rules.model import RuleSetData
from glandwise.rules.overlay import Tree, is_value
from glandwise.rules.values import Curve, Datum

By = Literal["share", "range"]
_SKIPPED = frozenset({"rule_set", "sources", "bands"})
"""Files whose numbers judge no case."""


class Value(NamedTuple):
    """A number or a table of a rule set."""

    path: tuple[str, ...]
    stated: Mapping[str, Any]
    record: Datum | Curve

    @property
    def key(self) -> str:
        """The path as a dotted key."""
        return ".".join(self.path)

    @property
    def unit(self) -> str:
        """Unit of its numbers, of a table that of its ordinates."""
        return str(self.stated["y_unit" if isinstance(self.record, Curve) else "unit"])

    def times(self, factor: float) -> dict[str, Any]:
        """Return it with its numbers multiplied in SI: a temperature counts from absolute zero."""
        unit = self.unit
        dimension = self.record.y_dimension if isinstance(self.record, Curve) else self.record.dimension

        def of(number: float) -> float:
            return float(units.from_si(units.to_si(number, dimension, unit) * factor, dimension, unit))

        if isinstance(self.record, Curve):
            return {**self.stated, "y": [of(y) for y in self.stated["y"]]}
        numbers = {name: of(self.stated[name]) for name in ("value", "low", "high") if name in self.stated}
        return {**self.stated, **numbers}

    def at_end(self, end: Literal["low", "high"]) -> dict[str, Any] | None:
        """Return it at an end of its own range; ``None`` where it states none, or stands there."""
        if self.stated.get(end) is None or self.stated[end] == self.stated.get("value"):
            return None
        return {**self.stated, "value": self.stated[end]}

    def under(self, keys: Sequence[str]) -> bool:
        """Tell whether it stands under one of some keys."""
        return any(self.key == key or self.key.startswith(f"{key}.") for key in keys)


def values_of(data: RuleSetData, tree: Tree) -> Iterator[Value]:
    """Yield the numbers and tables of a rule set of one date, in its order."""
    for file, content in tree.items():
        if file not in _SKIPPED:
            yield from _values(getattr(data, file, None), content, (file,))


def _values(held: Any, content: Any, path: tuple[str, ...]) -> Iterator[Value]:
    if isinstance(held, Datum | Curve):
        if is_value(content):
            yield Value(path, content, held)
        return
    if isinstance(content, dict):
        for name, inner in content.items():
            under = held.get(name) if isinstance(held, dict) else getattr(held, str(name), None)
            if under is not None:
                yield from _values(under, inner, (*path, str(name)))


def steps_of(value: Value, by: By, step: float) -> list[Mapping[str, Any]]:
    """Return what is put in place of a value, down and up, as far as there is anything."""
    if by == "range":
        return [new for new in (value.at_end("low"), value.at_end("high")) if new is not None]
    return [value.times(1.0 - step), value.times(1.0 + step)]


def stepped(
    data: RuleSetData, tree: Tree, criteria: frozenset[str], stated: Sequence[tuple[Value, Mapping[str, Any]]]
) -> RuleSetData | None:
    """Return rules with other numbers; ``None`` where no rule set could hold them."""
    changes = [
        compare.Change(value.path, "changed", value.stated, dict(new), None, None, None, None, ("value",))
        for value, new in stated
    ]
    return mixed(data, tree, [compare.inverse(change) for change in changes], criteria)


def apart(values: Sequence[Value], sign: float, step: float) -> list[tuple[Value, Mapping[str, Any]]]:
    """Return values, each changed by a share of its own and none by less than a step, lest two of them cancel out."""
    return [
        (value, value.times(1.0 + sign * step * (1.0 + 0.37 * place / len(values))))
        for place, value in enumerate(values)
    ]


class Group(NamedTuple):
    """Values under one key: those of a file, of an entry, or one alone."""

    key: str
    values: Sequence[Value]


def grouped(values: Sequence[Value], depth: int) -> list[Group]:
    """Return values by the first parts of their keys."""
    found: dict[str, list[Value]] = {}
    for value in values:
        found.setdefault(".".join(value.path[:depth]), []).append(value)
    return [Group(key, some) for key, some in found.items()]
