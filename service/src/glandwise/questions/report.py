"""Parts that every result shares: assumptions, cautions, evidence and sources."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf
from typing import NamedTuple, TypeAlias, overload

from glandwise.case.intake import Assumed, Case
from glandwise.case.override import GIVEN
from glandwise.json_values import JsonObject
from glandwise.questions.arrays import Floats, Numbers, Truths
from glandwise.rules.model import Evidence, RuleSetData, weakest
from glandwise.rules.once import OncePerRuleSet
from glandwise.rules.sourced import Records
from glandwise.units import UnitSystem


def assumption(item: Assumed, units: UnitSystem) -> JsonObject:
    """Write one supplied value."""
    value = item.value if item.dimension is None else units.quantity(item.dimension, float(item.value))
    return {"field": item.pointer, "value": value, "rule": item.rule}


def assumptions(case: Case, units: UnitSystem) -> list[JsonObject]:
    """Write what the service supplied."""
    return [assumption(item, units) for item in case.assumed]


Caution: TypeAlias = dict[str, str]
"""Name and sentence of a caution."""


class Trigger(NamedTuple):
    """A caution and what brings it; a threshold that is not there is one that nothing crosses."""

    id: str
    text: str
    always: bool
    hazards: frozenset[str]
    pressure_above: float
    temperature_above: float
    temperature_below: float
    food_contact: bool

    @overload
    def applies(self, has_hazard: bool, pressure: float, coldest: float, hottest: float, food: bool) -> bool: ...

    @overload
    def applies(
        self, has_hazard: Truths, pressure: Floats, coldest: Floats, hottest: Floats, food: Truths
    ) -> Truths: ...

    def applies(
        self, has_hazard: bool | Truths, pressure: Numbers, coldest: Numbers, hottest: Numbers, food: bool | Truths
    ) -> bool | Truths:
        """Tell whether the caution applies to a case, or to each of many."""
        return (
            self.always
            | has_hazard
            | (pressure > self.pressure_above)
            | (hottest > self.temperature_above)
            | (coldest < self.temperature_below)
            | (self.food_contact & food)
        )


@OncePerRuleSet
def triggers(data: RuleSetData) -> list[Trigger]:
    """Return the cautions of a rule set, ready to be tested."""
    return [
        Trigger(
            id=name,
            text=rule.text,
            always=not (
                rule.hazards
                or rule.food_contact
                or rule.pressure_above
                or rule.temperature_above
                or rule.temperature_below
            ),
            hazards=frozenset(rule.hazards),
            pressure_above=inf if rule.pressure_above is None else rule.pressure_above.si,
            temperature_above=inf if rule.temperature_above is None else rule.temperature_above.si,
            temperature_below=-inf if rule.temperature_below is None else rule.temperature_below.si,
            food_contact=rule.food_contact,
        )
        for name, rule in data.cautions.items()
    ]


def _applying(
    data: RuleSetData, fluid_hazards: Sequence[str], pressure: float, coldest: float, hottest: float, food: bool
) -> list[Caution]:
    return [
        {"id": trigger.id, "text": trigger.text}
        for trigger in triggers(data)
        if trigger.applies(not trigger.hazards.isdisjoint(fluid_hazards), pressure, coldest, hottest, food)
    ]


def cautions(case: Case, food_contact: bool, contact: float = 0.0) -> list[Caution]:
    """Return the cautions that apply to a case; ``contact`` is the temperature where the lip rubs, if known [K]."""
    pressure = float(abs(case.pressure))
    hottest = max(float(case.temperature_max), contact)
    return _applying(case.data, case.fluid.hazards, pressure, case.temperature_min, hottest, food_contact)


def general_cautions(data: RuleSetData) -> list[Caution]:
    """Return the cautions that always apply."""
    return _applying(data, (), 0.0, 293.15, 293.15, food=False)


class Provenance(NamedTuple):
    """What the records behind a statement rest on."""

    evidence: Evidence | None
    """The weakest among them."""
    sources: tuple[str, ...]
    """Sorted source ids."""


_PROVENANCES: dict[tuple[int, ...], tuple[Provenance, Records]] = {}
_KEPT = 4096


def provenance(records: Records) -> Provenance:
    """Return the weakest evidence and the sources of some records.

    Remembered for records of rule sets, which come again with every case; they are held with the answer, so that no
    other record can take the place of one in memory.
    """
    key = tuple(map(id, records))
    held = _PROVENANCES.get(key)
    if held is not None:
        return held[0]
    found = Provenance(
        weakest({record.evidence for record in records}), tuple(sorted({record.source for record in records}))
    )
    if GIVEN not in found.sources:
        if len(_PROVENANCES) >= _KEPT:
            _PROVENANCES.clear()
        _PROVENANCES[key] = (found, records)
    return found


class Grounds(NamedTuple):
    """What a statement rests on."""

    records: Records
    evidence: Evidence | None
    """The weakest among them."""
    sources: tuple[str, ...]
    """Sorted source ids."""


def grounds(records: Records) -> Grounds:
    """Return records with their weakest evidence and their sources."""
    return Grounds(records, *provenance(records))


NOTHING = Grounds((), None, ())
"""What a statement rests on that needs no rule."""
