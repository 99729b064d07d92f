"""Descriptions of fields come from the source when the document is made."""

from __future__ import annotations

import sys
from typing import Annotated, Any

import pytest
from glandwise.contract.base import RequestModel
from glandwise.rules.values import CONFIG
from pydantic import Field, TypeAdapter
from pydantic.dataclasses import dataclass


class Asked(RequestModel):
    """An object."""

    own: Annotated[int, Field(description="Said by the field.")]
    """Not said."""
    below: int | None = None
    """Said below,
    in two lines."""
    renamed: Annotated[int, Field(alias="other")] = 1
    """Said of another name."""


class More(Asked):
    """An object with another field."""

    added: list[int]
    """Said of what is added."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class Held:
    """A record."""

    number: float
    """Said of a number."""


OWN = {"own": "Said by the field.", "below": "Said below,\nin two lines.", "other": "Said of another name."}


@pytest.mark.parametrize(
    ("model", "said"),
    [
        (Asked, OWN),
        (More, {**OWN, "added": "Said of what is added."}),
        (Held, {"number": "Said of a number."}),
    ],
)
def test_fields_say_what_stands_below_them_unless_they_say_it_themselves(
    model: Any, said: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "glandwise.invented", sys.modules[__name__])
    for owner in (Asked, More, Held):
        monkeypatch.setattr(owner, "__module__", "glandwise.invented")
    properties = TypeAdapter(model).json_schema()["properties"]
    assert {name: field["description"] for name, field in properties.items()} == said
