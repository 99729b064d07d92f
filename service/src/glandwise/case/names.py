"""The names in a request that the rules do not know: all of them, whatever else is wrong with it.

A calculation stops at the first name it does not find, and a request that does not fit its schema never gets there. So
where a request is refused, its names are looked up in the body as it came, to be told together with the other faults.
"""

from __future__ import annotations

import types
from collections.abc import Iterable, Iterator
from datetime import date
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from glandwise.contract.base import RULE_SETS, NameOf
from glandwise.engine import Engine, UnknownName, unknown
from glandwise.rules.loader import RuleSet

Location = tuple[str | int, ...]
MOST = 50
"""Unknown names told of one request."""


def unknown_names(model: type[BaseModel], raw: Any, engine: Engine) -> list[UnknownName]:
    """Return the names in a body that are not known to the rule set it asks for."""
    rules = _rules(raw, engine) if "rule_set" in model.model_fields else None
    found: dict[Location, UnknownName] = {}
    for location, name_of, name in names(model, raw):
        if name_of.table == RULE_SETS:
            table: Any = engine.store.trees
        elif rules is not None:
            table = getattr(rules.data, name_of.table)
        else:  # cases are judged by two sets, and one that is refused stops no other
            continue
        if name not in table and len(found) < MOST:
            found.setdefault(location, UnknownName(location, *unknown(table, name, name_of.what)))
    return list(found.values())


def _rules(raw: Any, engine: Engine) -> RuleSet:
    """Return the rules a body asks for; the default or newest ones where it asks for none that can be given."""
    given: Any = raw if isinstance(raw, dict) else {}
    name, day = given.get("rule_set"), given.get("as_of")
    if not isinstance(name, str) or name not in engine.store.trees:
        name = None
    try:
        return engine.rules_of(name, date.fromisoformat(day))
    except (TypeError, ValueError, ValidationError):
        return engine.rules_of(name, None)


def names(model: type[BaseModel], raw: Any, location: Location = ()) -> Iterator[tuple[Location, NameOf, str]]:
    """Yield place, kind and text of every name in a body; what does not fit the model is passed over."""
    if not isinstance(raw, dict):
        return
    for field, info in model.model_fields.items():
        if raw.get(field) is not None:
            for place, name_of, name in _inside(info.annotation, raw[field], (*location, field), info.metadata):
                if name_of.only_where is not None and place == (*location, field):
                    beside, value = name_of.only_where
                    if raw.get(beside) not in (None, value):
                        continue
                yield place, name_of, name


def _inside(
    annotation: Any, value: Any, location: Location, metadata: Iterable[Any] = ()
) -> Iterator[tuple[Location, NameOf, str]]:
    origin = get_origin(annotation)
    name_of = next((item for item in metadata if isinstance(item, NameOf)), None)
    if name_of is not None:
        if isinstance(value, str):
            yield location, name_of, value
    elif origin is Annotated:
        inner, *further = get_args(annotation)
        yield from _inside(inner, value, location, further)
    elif origin in {Union, types.UnionType}:
        members = get_args(annotation)
        fitting = [one for one in members if not _is_model(one) or _has_tags_of(one, value)]
        for one in fitting if any(map(_is_model, fitting)) else members:
            yield from _inside(one, value, location)
    elif origin is list and isinstance(value, list):
        for position, item in enumerate(value):
            yield from _inside(get_args(annotation)[0], item, (*location, position))
    elif _is_model(annotation):
        yield from names(annotation, value, location)


def _is_model(annotation: Any) -> bool:
    return isinstance(annotation, type) and issubclass(annotation, BaseModel)


def _has_tags_of(model: type[BaseModel], value: Any) -> bool:
    """Whether an object bears the tags of a member of a union."""
    return isinstance(value, dict) and all(
        value.get(name) in get_args(field.annotation)
        for name, field in model.model_fields.items()
        if field.is_required() and get_origin(field.annotation) is Literal
    )
