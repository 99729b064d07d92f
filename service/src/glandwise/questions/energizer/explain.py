"""What the load of an energizer rests on: its formulas run once more on numbers that remember how they were made."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import partial
from types import SimpleNamespace
from typing import NamedTuple

import numpy as np

from glandwise.case.bare_energizer import SHAPE
from glandwise.case.choices import EnergizerKind
from glandwise.case.numbers import Rules
from glandwise.case.ratings import numbers_of
from glandwise.numerics.docstring import Quantity
from glandwise.numerics.trace import labelled, leaf, records, traced
from glandwise.physics import bare_energizer as physics
from glandwise.physics.bare_energizer import Loaded, WorkingRange
from glandwise.questions.energizer.answer import MODULUS, Answer, Question
from glandwise.rules.model import RuleSetData
from glandwise.rules.sourced import Records

_properties = traced(physics.properties)
_loaded = traced(physics.loaded)
_working_range = traced(physics.working_range)
_scatter = traced(physics.modulus_scatter)
_factors = {"least": traced(physics.least_modulus_factor), "most": traced(physics.greatest_modulus_factor)}
_SCATTER = Quantity("x_E", "-", "Relative scatter of the modulus")
_SHOWN: Mapping[EnergizerKind, tuple[str, ...]] = {
    EnergizerKind.cantilever_v: ("deflection", "line_load", "stiffness", "stress", "permanent_set"),
    EnergizerKind.canted_coil: ("deflection", "line_load", "stiffness", "stress"),
    EnergizerKind.garter: ("deflection", "line_load", "stiffness", "stress"),
    EnergizerKind.o_ring: ("deflection", "squeeze", "line_load", "stiffness", "stress"),
}
"""Values of a kind, in the order of its working."""
_NOMINAL_ONLY: Mapping[EnergizerKind, tuple[str, ...]] = {
    kind: ("total_load",) if kind == EnergizerKind.o_ring else ("total_load", "stress_limit", "utilization")
    for kind in EnergizerKind
}


class Explained(NamedTuple):
    """Results of an energizer, each number with its tree."""

    nominal: Loaded
    least: Loaded | None
    """At those ends of the tolerances that give the least load; ``None`` without tolerances, or where a load is not known."""
    most: Loaded | None
    band: WorkingRange
    temperatures: tuple[float, ...]
    """Lowest and highest temperature of the material."""
    factors: tuple[float, ...]
    """Ends of the scatter of the modulus, where it has one."""
    shown: tuple[float, ...]
    """All that a working leads to."""


def explained(found: Answer, data: RuleSetData) -> Explained:
    """Run the formulas of an answer on leaves."""
    question, rules = found.question, numbers_of(data).leaves
    e = SHAPE.leaves(
        question.row[0],
        {name: f"request {pointer}" for name, pointer in question.pointers.items()},
        {"alloy": question.material or "", "elastomer": question.material or ""},
    )
    e.modulus_factor = 1.0
    material = _properties(e, rules)
    nominal = _loaded(e, material, rules)
    factors = _scatter_ends(e, question, rules) if MODULUS in question.limits else {}
    ends: dict[str, Loaded] = {}
    loads = found.at_corners["line_load"]
    if question.limits and np.isfinite(loads).all():
        for name, corner in (("least", int(np.argmin(loads))), ("most", int(np.argmax(loads)))):
            changed = SimpleNamespace(**_at_end(found, corner, factors))
            at_end = SimpleNamespace(**{**vars(e), **vars(changed)})
            ends[name] = labelled(name, partial(_loaded, at_end, material, rules), changed)
    band = _working_range(e, material, rules)
    kind = question.kind
    shown = [getattr(nominal, name) for name in (*_SHOWN[kind], *_NOMINAL_ONLY[kind])]
    shown += [getattr(end, name) for end in ends.values() for name in ("line_load", "stress")]
    shown += [edge for edge in band if math.isfinite(band.lower) and math.isfinite(band.upper)]
    temperatures = tuple(limit for limit in (material.lowest, material.highest) if math.isfinite(limit))
    return Explained(
        nominal, ends.get("least"), ends.get("most"), band, temperatures, tuple(factors.values()), (*temperatures, *shown)
    )  # fmt: skip


def records_of(found: Explained, question: Question) -> Records:
    """Return the records of the rules that an answer rests on, with those that chose a name."""
    results = (found.nominal, found.least, found.most, found.band, found.temperatures, found.factors)
    return (*records(*(item for item in results if item is not None)), *question.chosen)


def _scatter_ends(e: SimpleNamespace, question: Question, rules: Rules) -> dict[str, float]:
    """Return the factors on the modulus at the ends of its scatter."""
    stated = leaf(question.scatter, _SCATTER, "request /modulus_scatter")
    scatter = stated if question.states_scatter else _scatter(e, rules)
    return {name: labelled(name, partial(factor, scatter)) for name, factor in _factors.items()}


def _at_end(found: Answer, corner: int, factors: Mapping[str, float]) -> dict[str, float]:
    """Return what differs from the nominal energizer at one combination of the ends of its tolerances."""
    question, changed = found.question, dict[str, float]()
    for name in question.limits:
        value = float(np.asarray(found.corners[name])[corner])
        if value == question.nominal[name]:
            continue
        if name == MODULUS:
            changed["modulus_factor"] = factors["least" if value < 1.0 else "most"]
        else:
            source = f"request {question.pointers[name]}, at a limit"
            changed[name] = leaf(value, SHAPE.fields[name], source)
    return changed
