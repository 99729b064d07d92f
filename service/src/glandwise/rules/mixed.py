"""A rule set of one date with some changes taken back: only what changed is read again.

Both sets it is mixed of have been checked as they stand. What the mixture must still hold together is asked: the records
that changed by themselves, the names that files use of each other, the criteria, and one limit for each design. Whether its
numbers would be believed, and what its records rest on, is not: nobody proposes to use it.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Any, get_args, get_origin, get_type_hints

from pydantic import TypeAdapter, ValidationError

from glandwise.patience import go_on
from glandwise.rules.compare import Change, without
from glandwise.rules.loader import criteria_faults, limit_faults, reference_faults
from glandwise.rules.model import RuleSetData
from glandwise.rules.overlay import Tree


@lru_cache
def _file(name: str) -> Any:
    return get_type_hints(RuleSetData, include_extras=True)[name]


@lru_cache
def _reader(name: str, entries: bool) -> TypeAdapter[Any]:
    """Return what reads a file, or one of its named entries."""
    kind = _file(name)
    return TypeAdapter(get_args(kind)[1] if entries else kind)


def mixed(after: RuleSetData, tree: Tree, changes: Sequence[Change], criteria: Iterable[str]) -> RuleSetData | None:
    """Return ``after`` with some changes taken back, or ``None`` when that set cannot be used.

    ``tree`` is the content of ``after``, of its date alone. What did not change is shared with ``after``. A change is made
    rather than taken back when it comes :func:`turned about <glandwise.rules.compare.inverse>`.
    """
    go_on()
    content = tree
    for change in changes:
        content = without(content, change)
    data = copy.copy(after)
    for file in dict.fromkeys(change.path[0] for change in changes):
        if file not in content:
            return None
        inside = [list(change.path[1:]) for change in changes if change.path[0] == file]
        try:
            found = _read(file, inside, content[file], getattr(after, file))
        except ValidationError:
            return None
        object.__setattr__(data, file, found)
    known = frozenset(criteria)
    faults: list[Any] = [*criteria_faults(data, known), *reference_faults(data, content, known)]
    if any(change.path[0] == "designs" for change in changes) and not faults:
        faults += limit_faults(data)
    return None if faults else data


def _read(file: str, inside: Sequence[list[str]], content: Any, held: Any) -> Any:
    """Read a file of which some things differ from what is held."""
    if get_origin(_file(file)) is not dict or not all(inside):
        return _reader(file, False).validate_python(content)
    entries = {path[0] for path in inside}
    return {
        name: _reader(file, True).validate_python(stated) if name in entries else held[name]
        for name, stated in content.items()
    }
