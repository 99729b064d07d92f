"""Compare rule trees: what changed, a candidate from a patch or a whole set, and each change taken back by itself.

Pure functions on trees (what the TOML files of a set hold, keyed by file). They share structure: a tree with one change
taken back copies only the tables on the way to that change, so thousands of them cost little. Nothing given is changed.

A comparison for one date works on trees of that date (:func:`as_of`); on whole trees a value with a history is compared
with its history, as one value.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Literal, TypeAlias

from glandwise.rules.loader import Layer, RuleTree, candidate, check_dates, checked
from glandwise.rules.overlay import OverlayError, Tree, is_history, is_sourced, is_value, lay_over, newest

Kind: TypeAlias = Literal["changed", "added", "removed"]
_BESIDE = {"note", "source", "evidence", "valid_from", "review_by"}


@dataclass(frozen=True, slots=True)
class Change:
    """One value that differs between two trees.

    The smallest thing that changes by itself: a sourced value (with its history), else a list or a scalar; or a whole
    record that only one tree has.
    """

    path: tuple[str, ...]
    """Keys from the name of the file on."""
    kind: Kind
    """Whether it was changed, added or removed."""
    before: Any
    """What the first tree has; ``None`` when it was added."""
    after: Any
    """What the second tree has; ``None`` when it was removed."""
    unit: str | None
    """Unit of a sourced number, or of the ordinates of a table."""
    source: str | None
    """Source that it rests on now, or did before it was removed."""
    evidence: str | None
    """How good the evidence of that is."""
    evidence_before: str | None
    """How good the evidence of it was before; ``None`` when it was added."""
    fields: tuple[str, ...]
    """Fields of a sourced value that differ, sorted; empty for anything else, and for what was added or removed."""

    @property
    def key(self) -> str:
        """The path as a dotted key."""
        return ".".join(self.path)

    @property
    def affects_results(self) -> bool:
        """False when only what stands beside a value differs: remark, source, evidence or dates."""
        return not set(self.fields or self.path[-1:]) <= _BESIDE


def as_of(rules: RuleTree, day: date) -> Tree:
    """Return the tree of a rule set as it stood on a day. Raises :class:`ValueError` for a day before the set."""
    return rules.as_of(day)


def diff(before: Tree, after: Tree) -> list[Change]:
    """Return what changed between two trees, sorted by path; how the sets are called does not count."""
    return sorted(_diff(_content(before), _content(after), (), None), key=lambda change: change.path)


def _content(tree: Tree) -> Tree:
    return {file: content for file, content in tree.items() if file != "rule_set"}


def _diff(before: Any, after: Any, path: tuple[str, ...], signed: Any) -> Iterator[Change]:
    if before is after or before == after:
        return
    tables = isinstance(before, dict) and isinstance(after, dict)
    if not tables or is_value(before) or is_value(after):
        yield _change("changed", path, before, after, signed)
        return
    if is_sourced(after):
        signed = after
    for key in {**before, **after}:
        inner = (*path, str(key))
        if key not in after:
            yield _change("removed", inner, before[key], None, before if is_sourced(before) else signed)
        elif key not in before:
            yield _change("added", inner, None, after[key], signed)
        else:
            yield from _diff(before[key], after[key], inner, signed)


def _change(kind: Kind, path: tuple[str, ...], before: Any, after: Any, signed: Any) -> Change:
    held, shown = newest(before), newest(after if kind != "removed" else before)
    record = shown if is_sourced(shown) else signed or {}
    unit = shown.get("unit", shown.get("y_unit")) if isinstance(shown, dict) else None
    fields: tuple[str, ...] = ()
    if kind == "changed" and (is_value(held) or is_history(before)) and isinstance(shown, dict):
        earlier = held if isinstance(held, dict) else {}
        fields = tuple(sorted(key for key in {*earlier, *shown} if earlier.get(key) != shown.get(key)))
        if is_history(before) or is_history(after):
            fields = tuple(sorted({*fields, "history"}))
    earlier_record = held if is_sourced(held) else record if kind == "removed" else None
    was = None if earlier_record is None else earlier_record.get("evidence")
    return Change(path, kind, before, after, unit, record.get("source"), record.get("evidence"), was, fields)


# ---------------------------------------------------------------------------------------------------------- candidates


_DATES = frozenset({"valid_from", "closed_on", "review_by", "on"})
"""Fields that hold a date."""


def from_json(content: Any) -> Any:
    """Return JSON content as a tree: every field of a date that is written as one becomes one."""
    if isinstance(content, dict):
        return {key: _date(item) if key in _DATES else from_json(item) for key, item in content.items()}
    if isinstance(content, list):
        return [from_json(item) for item in content]
    return content


def _date(value: Any) -> Any:
    if isinstance(value, str) and len(value) == 10:
        try:
            return date.fromisoformat(value)
        except ValueError:
            return value
    return value


def patched(base: RuleTree, patch: Tree) -> RuleTree:
    """Return a rule set with a patch applied, checked on every date.

    The patch is a JSON merge patch (RFC 7396) in which a sourced value is replaced whole and holds from its own date
    (see :mod:`glandwise.rules.overlay`); ``None`` removes.

    Raises
    ------
    RuleError
        With the path of the fault, when the patched set cannot be used.
    """
    layer = Layer("candidate", patch, None)
    for file, content in patch.items():
        if not isinstance(content, dict):
            raise layer.error((file,), "is not a table", "an object of the content of the file")
    for key in ("extends", "remove"):
        if patch.get("rule_set", {}).get(key) is not None:
            raise layer.error(("rule_set", key), "cannot stand in a patch", "null in place of what is to be removed")
    check_dates(layer)
    try:
        tree = lay_over(base.tree, patch)
    except OverlayError as error:
        raise layer.error(error.path, error.fault, error.accepted) from None
    return RuleTree(tree, (layer, *base.layers), base.criteria, base).check()


def whole(base: RuleTree, tree: Tree, parents: Sequence[Tree] = ()) -> RuleTree:
    """Return a whole rule set that is to be compared with ``base``, checked on every date.

    One that extends another takes it from ``parents``, else from the built-in sets and ``base``.

    Raises
    ------
    RuleError
        With the path of the fault, when the set cannot be used; ``parents/0/...`` stands for a parent.
    """
    own, *others = (
        _layer(label, content)
        for label, content in (
            ("candidate", tree),
            *((f"parents/{index}", parent) for index, parent in enumerate(parents)),
        )
    )
    beside: dict[str, Layer] = {}
    for layer in others:
        name = str(layer.tree["rule_set"]["name"])
        if name in beside:
            raise layer.error(("rule_set", "name"), f"{name!r} is the name of another parent too", "a name of its own")
        beside[name] = layer
    found = candidate(own, beside, base)
    used = {layer.label for layer in found.layers}
    for layer in others:
        if layer.label not in used:
            raise layer.error(("rule_set", "name"), "no set of the chain extends it", "parents of the set only")
    return found


def _layer(label: str, tree: Tree) -> Layer:
    layer = Layer(label, tree, None)
    for file, content in tree.items():
        if not isinstance(content, dict):
            raise layer.error((file,), "is not a table", "an object of the content of the file")
    if "rule_set" not in tree:
        raise layer.error(("rule_set",), "the file is missing", "name, version, title, description and valid_from")
    return checked(layer)


# ------------------------------------------------------------------------------------------- one change at a time


def without(after: Tree, change: Change) -> Tree:
    """Return a candidate tree with one change taken back: all the others stay."""
    result: Tree = _put(after, change.path, change.before, delete=change.kind == "added")
    return result


def only(base: Tree, change: Change) -> Tree:
    """Return a base tree with one change made: none of the others."""
    result: Tree = _put(base, change.path, change.after, delete=change.kind == "removed")
    return result


def inverse(change: Change) -> Change:
    """Return a change turned about: to take it back is to make the change."""
    kinds: dict[Kind, Kind] = {"added": "removed", "removed": "added", "changed": "changed"}
    return replace(change, kind=kinds[change.kind], before=change.after, after=change.before)


def _put(tree: Any, path: tuple[str, ...], value: Any, *, delete: bool) -> Any:
    result = dict(tree) if isinstance(tree, dict) else {}
    if len(path) > 1:
        result[path[0]] = _put(result.get(path[0]), path[1:], value, delete=delete)
    elif delete:
        result.pop(path[0], None)
    else:
        result[path[0]] = value
    return result
