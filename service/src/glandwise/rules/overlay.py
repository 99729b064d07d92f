"""How one rule tree is laid over another: dated values, sourced values replaced whole, removal.

A *tree* is what the TOML files of a rule set hold, keyed by file. An overlay follows the JSON merge patch (RFC 7396:
tables are merged, anything else is replaced, ``None`` removes) but for what carries a source:

* A sourced value is one thing. It is replaced whole, so that no new number stands under the old number's source.
* It holds from its own date. What was in force before that date stays in force until then.
* A record with a source of its own and parts without one (a fluid with its compatibility) may be changed in part only
  by a patch that signs: states ``source``, ``evidence`` and ``valid_from``.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from difflib import get_close_matches
from typing import Any, TypeAlias

Tree: TypeAlias = dict[str, Any]
SIGNATURE = ("source", "evidence", "valid_from")


class OverlayError(Exception):
    """A tree that cannot be laid over another: path in the tree, fault, and what is accepted."""

    def __init__(self, path: tuple[str, ...], fault: str, accepted: str) -> None:
        self.path, self.fault, self.accepted = path, fault, accepted
        super().__init__(f"{'.'.join(path)}: {fault}; accepted: {accepted}")


def is_date(value: Any) -> bool:
    """Tell a date without a time of day."""
    return type(value) is date


def is_history(value: Any) -> bool:
    """Tell an array of tables with a date each: a value with its history."""
    return (
        isinstance(value, list)
        and bool(value)
        and all(isinstance(item, dict) and is_date(item.get("valid_from")) for item in value)
    )


def is_sourced(value: Any) -> bool:
    """Tell a table that says what it rests on."""
    return isinstance(value, dict) and isinstance(value.get("evidence"), str)


def is_value(value: Any) -> bool:
    """Tell a sourced value: a table with evidence, whose tables, if any, are sourced values of their own."""
    return is_sourced(value) and all(is_value(item) for item in value.values() if isinstance(item, dict))


def dates(tree: Any) -> Iterator[date]:
    """Yield every ``valid_from`` of a tree."""
    if isinstance(tree, dict):
        if is_date(tree.get("valid_from")):
            yield tree["valid_from"]
        for value in tree.values():
            yield from dates(value)
    elif isinstance(tree, list):
        for value in tree:
            yield from dates(value)


def newest(value: Any) -> Any:
    """Return the newest entry of a history, anything else as it is."""
    return max(value, key=lambda item: item["valid_from"]) if is_history(value) else value


def without_none(value: Any) -> Any:
    """Return a patch as content: what it removes is simply not there."""
    if isinstance(value, dict):
        return {key: without_none(item) for key, item in value.items() if item is not None}
    return value


def merge_patch(target: Any, patch: Any) -> Any:
    """Apply a JSON merge patch (RFC 7396) and return the result; neither argument is changed."""
    if not isinstance(patch, dict):
        return patch
    result = dict(target) if isinstance(target, dict) else {}
    for key, value in patch.items():
        if value is None:
            result.pop(key, None)
        else:
            result[key] = merge_patch(result.get(key), value)
    return result


def lay_over(base: Any, patch: Any, path: tuple[str, ...] = ()) -> Any:
    """Lay a patch over a base and return the result; neither argument is changed.

    Raises
    ------
    OverlayError
        When a record with a source is changed in part without a signature.
    """
    if not isinstance(patch, dict):
        return _joined(base, patch) if is_history(patch) else patch
    held = newest(base)
    if not isinstance(held, dict) or is_value(held):
        return _joined(base, without_none(patch))
    signed = all(patch.get(name) is not None for name in SIGNATURE)
    if is_sourced(held) and not signed:
        for key, value in patch.items():
            if not (is_value(newest(value)) or (value is None and is_value(newest(held.get(key))))):
                raise OverlayError(
                    (*path, key),
                    "changes a sourced record without stating what the change rests on",
                    f"{', '.join(SIGNATURE)} in {'.'.join(path)} beside the change",
                )
    merged = dict(held)
    for key, value in patch.items():
        if value is None:
            merged.pop(key, None)
        else:
            merged[key] = lay_over(merged.get(key), value, (*path, key))
    if not is_sourced(held):
        return merged
    if signed:
        return _joined(base, merged)
    return [merged if entry is held else entry for entry in base] if isinstance(base, list) else merged


def _joined(base: Any, new: Any) -> Any:
    """Put a new value, or history, in force from its first date: what was in force before stays so until then."""
    entries = new if isinstance(new, list) else [new]
    if not is_history(entries):
        return new
    start = min(item["valid_from"] for item in entries)
    held = [base] if is_history([base]) else base
    older = [item for item in held if item["valid_from"] < start] if is_history(held) else []
    return [*older, *entries] if older or isinstance(new, list) else new


def removed(tree: Tree, names: list[str]) -> Tree:
    """Return a tree without the things named by dotted keys; the argument is not changed.

    Raises
    ------
    OverlayError
        When there is no such thing, or it is not one that can be removed.
    """
    for name in names:
        parts = tuple(name.split("."))
        if len(parts) < 2 or parts[0] == "rule_set":
            raise OverlayError(
                parts, f"{name!r} cannot be removed", "a dotted key inside a file, as in fluids.chlorine_gas"
            )
        tree = _removed(tree, parts, parts)
    return tree


def _removed(tree: Any, parts: tuple[str, ...], whole: tuple[str, ...]) -> Any:
    name, done = ".".join(whole), whole[: len(whole) - len(parts)]
    if is_value(newest(tree)):
        raise OverlayError(whole, f"{name!r} is a part of a sourced value", f"the whole value: {'.'.join(done)}")
    if is_history(tree) and len(parts) > 0:
        return [_removed(entry, parts, whole) if parts[0] in entry else entry for entry in tree]
    if not isinstance(tree, dict) or parts[0] not in tree:
        known = [str(key) for key in tree] if isinstance(tree, dict) else []
        near = get_close_matches(parts[0], known, n=5) or known[:20]
        raise OverlayError(
            whole, f"the extended set has no {name!r}", ", ".join(".".join((*done, key)) for key in near) or "nothing"
        )
    result = dict(tree)
    if len(parts) == 1:
        del result[parts[0]]
    else:
        result[parts[0]] = _removed(result[parts[0]], parts[1:], whole)
    return result
