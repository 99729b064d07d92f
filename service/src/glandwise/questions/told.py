"""A single case for the traced life, and what the criteria of a case rest on.

Which rules a criterion uses hangs on names (family, compound, fluid, options), on what is stated and on what sets the limit,
not on numbers; so it is found by a trace once for each combination and kept with the rule set.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Mapping
from types import SimpleNamespace
from typing import TypeVar, cast

import numpy as np

from glandwise.case import record, sizing
from glandwise.case.gland_numbers import GlandRules, closest_fit, gland_numbers_of
from glandwise.case.hardware_intake import with_chosen_metals
from glandwise.case.intake import Case
from glandwise.case.numbers import Rules, traced_compound
from glandwise.case.ratings import numbers_of
from glandwise.case.rows import codes_of
from glandwise.case.tables import OneRow, source_of
from glandwise.contract.duty import Duty, Oscillation, Rotation
from glandwise.mechanics import kinematics
from glandwise.numerics.docstring import Quantity
from glandwise.numerics.trace import leaf, records, traced
from glandwise.questions.arrays import Row
from glandwise.questions.envelope import explain
from glandwise.questions.envelope.kernel import IDS
from glandwise.questions.envelope.measure import Measure
from glandwise.questions.report import Grounds, grounds
from glandwise.questions.trees import Tree
from glandwise.rules.model import Alloy, Elastomer, RuleSetData, walk
from glandwise.rules.once import OncePerRuleSet
from glandwise.rules.sourced import Records, Sourced

POINTERS: Mapping[str, str] = {
    "/design/lip_thickness": "lip_thickness",
    "/design/lip_length": "lip_length",
    "/design/interference": "interference",
    "/design/contact_width": "contact_width",
    "/design/bore_angle": "bore_angle",
    "/design/spring_place": "spring_place",
    "/design/cantilever_v/strip_thickness": "v_thickness",
    "/design/cantilever_v/finger_length": "v_length",
    "/design/cantilever_v/root_angle": "v_angle",
    "/design/cantilever_v/coverage": "v_coverage",
    "/design/cantilever_v/deflection": "v_deflection",
    "/design/canted_coil/wire_diameter": "coil_wire",
    "/design/canted_coil/coil_height": "coil_height",
    "/design/canted_coil/coil_width": "coil_width",
    "/design/canted_coil/pitch": "coil_pitch",
    "/design/canted_coil/cant_angle": "coil_angle",
    "/design/canted_coil/deflection": "coil_deflection",
    "/design/garter/wire_diameter": "garter_wire",
    "/design/garter/mean_coil_diameter": "garter_coil",
    "/design/garter/free_length": "garter_length",
    "/design/garter/initial_tension": "garter_tension",
    "/design/garter/active_coils": "garter_coils",
}
"""Field of a case by the pointer of a dimension that the service supplies."""

_complete = traced(sizing.complete)
_mean_speed = traced(kinematics.oscillation_mean_speed)
_peak_speed = traced(kinematics.oscillation_peak_speed)
_surface_speed = traced(kinematics.surface_speed)
_rotation_speed = traced(kinematics.rotation_speed)


def supplied(case: Case) -> list[str]:
    """Return the fields of a case that the service sized."""
    return [POINTERS[item.pointer] for item in case.assumed if item.pointer in POINTERS]


def leaves_of(case: Case, duty: Duty, row: Row) -> tuple[SimpleNamespace, Rules]:
    """Return a case and its rules as leaves; ``row`` is the case as machine code takes it."""
    row = row.copy()
    for name in supplied(case):
        row[name] = math.nan
    found = record.leaves(row, {}, {})
    if case.sized is not None:  # the seal is sized for another duty
        other, there = leaves_of(case.sized.case, case.sized.duty, case.sized.case.row[0])
        _complete(other, there)
        for name in supplied(case):
            setattr(found, name, getattr(other, name))
    assumed = {item.pointer for item in case.assumed}
    for name in ("minimum", "maximum"):
        if f"/duty/temperature/{name}" in assumed:
            setattr(found, f"temperature_{name[:3]}", found.temperature)
    if (
        "/duty/shaft/hardness" in assumed
        and case.shaft_material is not None
        and case.shaft_material.hardness is not None
    ):
        datum = case.shaft_material.hardness
        source = source_of(f"shaft_materials.{duty.shaft.material}.hardness", datum)
        found.hardness = leaf(datum.si, record.FIELDS["hardness"], source, datum)
    _add_motion(found, duty)
    rules = numbers_of(case.data).leaves
    if case.own_compound is not None:
        rules = rules._replace(compounds=OneRow(traced_compound(case.compound, "of the request", case.data)))
    return found, rules


def _add_motion(found: SimpleNamespace, duty: Duty) -> None:
    """Lead from the motion that the request states to the speeds of the case."""
    d, motion = found.shaft_diameter, duty.motion
    if isinstance(motion, Rotation):
        found.surface_speed = _surface_speed(d, found.rotational_speed)
        found.peak_speed = found.surface_speed
    elif isinstance(motion, Oscillation):
        theta = leaf(motion.half_amplitude, Quantity("theta", "rad", "Half of the total swing"), "request")
        f = leaf(motion.frequency, Quantity("f", "1/s", "Frequency of the swing"), "request")
        found.surface_speed, found.peak_speed = _mean_speed(d, theta, f), _peak_speed(d, theta, f)
        found.rotational_speed = _rotation_speed(d, found.surface_speed)
    else:
        found.peak_speed = found.surface_speed
        found.rotational_speed = _rotation_speed(d, found.surface_speed)


def explained(case: Case, duty: Duty, row: Row) -> dict[str, Measure]:
    """Return the measures of a case, each number with the tree that it came from."""
    return explain.explained(*leaves_of(case, duty, row), gland_leaves_of(case))[1]


def gland_leaves_of(case: Case) -> GlandRules:
    """Return the numbers of the rules for the hardware of a case that states none, as leaves."""
    data, row, chosen = case.data, case.row[0], dict[int, Sourced]()
    codes, (_, fit) = codes_of(data).shaft_materials, closest_fit(data)
    for field, usual in (("shaft_material", data.gland.housing.shaft_material), ("housing_material", fit.housing)):
        if row[field] < 0:
            chosen[codes[usual.name]] = usual
    return with_chosen_metals(data, chosen)


def chosen_by(case: Case) -> dict[int, Records]:
    """Return the rules that chose a material which the request leaves open, by the records of that material."""
    assumed = {item.pointer for item in case.assumed}
    sizing, parts = case.data.sizing, list[tuple[Records, Alloy | Elastomer]]()
    if case.alloy is not None and case.energizer == "garter":
        parts.append(((sizing.garter_alloy,), case.alloy))
    elif case.alloy is not None and "/design/energizer_alloy" in assumed:
        parts.append(((sizing.energizer_alloy,), case.alloy))
    if case.elastomer is not None and "/design/o_ring_elastomer" in assumed:
        # the fluid has a say: the usual one is taken where nothing suits it better
        parts.append(((sizing.o_ring_elastomer, case.fluid), case.elastomer))
    return {id(record): rules for rules, part in parts for _, record in walk(part)}


def rests_on(case: Case, *results: Tree) -> Records:
    """Return the records that traced results of a case rest on, those among them that chose a material for the request."""
    return _with(chosen_by(case), records(*results))


def _with(chosen: Mapping[int, Records], found: Records) -> Records:
    """Return records and those rules that chose the material of one of them."""
    more = {id(rule): rule for record in found for rule in chosen.get(id(record), ())}
    return (*found, *more.values())


_kept = OncePerRuleSet(lambda _: dict[Hashable, object]())
_MOST = 4096
T = TypeVar("T")


def forget(data: RuleSetData) -> None:
    """Forget what is known of a rule set whose numbers have been changed in place."""
    _kept.forget(data)
    numbers_of.forget(data)
    gland_numbers_of.forget(data)


def kept(case: Case, duty: Duty, row: Row, branch: Hashable, find: Callable[[], T]) -> T:
    """Return what a trace of a case found out about the rules it uses; traced once for each combination.

    ``branch`` holds the question and all that decides its branches beside the names of the case, what it states and its
    motion. A compound of the caller's is traced each time: its records are of the request.
    """
    if case.own_compound is not None:
        return find()
    key = branch, row.item()[len(record.NUMBERS) :], tuple([item.pointer for item in case.assumed]), duty.motion.kind
    held = _kept(case.data)
    found = cast("T | None", held.get(key))  # a key begins with its question
    if found is None:
        found = find()
        if len(held) >= _MOST:
            held.clear()
        held[key] = found
    return found


def grounds_of(case: Case, duty: Duty, row: Row, out: Row) -> Mapping[str, Grounds]:
    """Return what every criterion of a judged case rests on; ``out`` is what machine code found."""
    branch = (
        np.ceil(out["which"]).tobytes(),
        np.isnan(out["demand"]).tobytes(),
        np.isnan(out["utilization"]).tobytes(),
    )

    def find() -> Mapping[str, Grounds]:
        measures, chosen = explained(case, duty, row), chosen_by(case)
        return {name: grounds(_with(chosen, records(*explain.numbers(measures[name])))) for name in IDS}

    return kept(case, duty, row, branch, find)
