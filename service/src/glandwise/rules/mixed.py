"""A rule set of one date with one change taken back: only what changed is read again.

Both sets it is mixed of have been checked as they stand. What the mixture must still hold together is asked: the record
that changed by itself, the names that files use of each other, the criteria, and one limit for each design. Whether its
numbers would be believed, and what its records rest on, is not: nobody proposes to use it.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable
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


def mixed(after: RuleSetData, tree: Tree, change: Change, criteria: Iterable[str]) -> RuleSetData | None:
    """Return ``after`` with one change taken back, or ``None`` when that set cannot be used.

    ``tree`` is the content of ``after``, of its date alone. What did not change is shared with ``after``.
    """
    go_on()
    file, *inside = change.path
    content = without(tree, change)
    if file not in content:
        return None
    try:
        found = _read(file, inside, content[file], getattr(after, file))
    except ValidationError:
        return None
    data = copy.copy(after)
    object.__setattr__(data, file, found)
    known = frozenset(criteria)
    faults: list[Any] = [*criteria_faults(data, known), *reference_faults(data, content, known)]
    if file == "designs" and not faults:
        faults += limit_faults(data)
    return None if faults else data


def _read(file: str, inside: list[str], content: Any, held: Any) -> Any:
    """Read a file of which one thing differs from what is held."""
    if get_origin(_file(file)) is not dict or not inside:
        return _reader(file, False).validate_python(content)
    entry = inside[0]
    return {
        name: _reader(file, True).validate_python(stated) if name == entry else held[name]
        for name, stated in content.items()
    }
