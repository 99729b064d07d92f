"""The rule set that a calibration makes: its tree, and the tree as files of TOML."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from glandwise.review.calibration.found import Value
from glandwise.rules.loader import RuleSet
from glandwise.rules.model import written
from glandwise.rules.overlay import Tree, is_date, is_value


def tree_of(
    values: Sequence[Value], base: RuleSet, name: str, day: date, source: str, cited: dict[str, Any], title: str
) -> Tree | None:
    """Return the tree of an overlay with the values that replace one of the base; ``None`` where there is none."""
    replacing = [value for value in values if value.record is not None]
    if not replacing:
        return None
    tree: Tree = {
        "rule_set": {
            "name": name,
            "version": f"{day}",
            "title": f"{title}: values of our own records",
            "description": f"Values found from records of our own, over {base.name} {base.version}.",
            "extends": base.name,
        },
        "sources": {source: cited},
    }
    for value in replacing:
        if any(value.key[: len(other.key)] == other.key for other in replacing if other is not value):
            continue  # it is written with the one that it is a part of
        here = tree
        for part in value.key[:-1]:
            here = here.setdefault(part, {})
        here[value.key[-1]] = value.record
    return tree


def files_of(tree: Tree) -> dict[str, str]:
    """Write a tree as files of TOML, by their name."""
    return {f"{file}.toml": "\n".join(_tables(content, ())).lstrip("\n") + "\n" for file, content in tree.items()}


def _tables(content: dict[str, Any], path: tuple[str, ...]) -> Iterator[str]:
    """Yield the lines of a table: its own keys first, then the tables below it."""
    below = {key: value for key, value in content.items() if isinstance(value, dict) and not _in_a_line(value)}
    own = {key: value for key, value in content.items() if key not in below}
    if own and path:
        yield ""
        yield f"[{'.'.join(path)}]"
    for key, value in own.items():
        yield f"{key} = {_value(value)}"
    for key, value in below.items():
        yield from _tables(value, (*path, key))


def _in_a_line(value: dict[str, Any]) -> bool:
    return is_value(value) or (all(not isinstance(item, dict) for item in value.values()) and "sha256" in value)


def _value(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_value(item)}" for key, item in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    if is_date(value):
        return str(value)
    return repr(value) if isinstance(value, float | int) and not isinstance(value, bool) else written(value)


def as_json(value: Any) -> Any:
    """Return a tree as JSON has it: dates as text."""
    if is_date(value):
        return value.isoformat()
    if isinstance(value, dict):
        return {key: as_json(item) for key, item in value.items()}
    return [as_json(item) for item in value] if isinstance(value, list) else value
