"""A piece of advice: words with the numbers of the duty and of the rules in SI, written in the units asked for on leaving."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple, TypeAlias

from glandwise.json_values import JsonObject
from glandwise.questions.report import provenance
from glandwise.rules.sourced import Records
from glandwise.units import UnitSystem

Part: TypeAlias = tuple[str, float] | str
"""Dimension and value in SI, or a name of the rules."""


class Words(NamedTuple):
    """Sentences in which ``{name}`` stands for a number or a name, with those."""

    text: str
    parts: Mapping[str, Part]

    def written(self, units: UnitSystem) -> str:
        """Return the sentences with their numbers in the units asked for."""
        return self.text.format(
            **{name: part if isinstance(part, str) else units.text(*part) for name, part in self.parts.items()}
        )


def within(title: str) -> str:
    """Return a title as it stands within a sentence."""
    return title if title[1:2].isupper() or title[1:2] == "-" else title[:1].lower() + title[1:]


def rests_on(records: Records) -> JsonObject:
    """Write what advice rests on."""
    found = provenance(records)
    return {"evidence": found.evidence, "sources": list(found.sources)}


class Advice(NamedTuple):
    """One thing to tell beside a verdict: a line for the drawing of the hardware, or what to expect in running."""

    id: str
    text: Words
    reason: Words
    records: Records
    value: tuple[str, float] | None = None
    """Dimension and number that it turns on, where there is one."""

    def written(self, units: UnitSystem) -> JsonObject:
        """Write it in the units asked for."""
        return {
            "id": self.id,
            "text": self.text.written(units),
            "value": None if self.value is None else units.optional(*self.value),
            "reason": self.reason.written(units),
            **rests_on(self.records),
        }
