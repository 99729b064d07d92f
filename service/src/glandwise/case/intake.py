"""A case: a duty and a design with every number the rules supply filled in, in SI.

What a request left out is taken from the sizing rule and listed as assumed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import nan, pi
from typing import Any, NamedTuple

import numpy as np

from glandwise.case.override import overridden
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.contract.duty import Duty, Oscillation, Rotation
from glandwise.engine import known
from glandwise.mechanics import kinematics
from glandwise.rules.features import most_special
from glandwise.rules.loader import RuleSet
from glandwise.rules.model import (
    CAPACITY_DIMENSION,
    Alloy,
    Capacity,
    Compound,
    Curve,
    Datum,
    Elastomer,
    Fluid,
    RuleSetData,
    ShaftMaterial,
)
from glandwise.rules.once import OncePerRuleSet


class Assumed(NamedTuple):
    """A value supplied where the request left it out: pointer, dimension (``None`` for a name), value, rule."""

    pointer: str
    dimension: str | None
    value: Any
    rule: str


class Limit(NamedTuple):
    """A rated capacity at a speed, with what it comes from."""

    value: float
    titles: tuple[str, ...]
    records: tuple[Any, ...]


@dataclass(slots=True)
class Case:
    """Numbers of one case in SI; ``nan`` is what is not known."""

    data: RuleSetData
    features: Mapping[str, Any]
    compound: Compound
    fluid: Fluid
    lubrication: str
    alloy: Alloy | None
    elastomer: Elastomer | None
    shaft_material: ShaftMaterial | None
    family: str
    energizer: str | None
    shaft_diameter: float
    rotational_speed: float
    surface_speed: float
    peak_speed: float
    pressure: float
    temperature_min: float
    temperature: float
    temperature_max: float
    runout: float
    offset: float
    hardness: float
    roughness: float
    friction: Datum | None
    """Friction coefficient of the compound for the lubrication of the case."""
    wear: Datum | None
    """Specific wear rate of the compound for the lubrication of the case."""
    lip_thickness: float
    lip_length: float
    interference: float
    contact_width: float
    dimensions: dict[str, float] = field(default_factory=dict)
    assumed: list[Assumed] = field(default_factory=list)


def feature_key(design: FlexibleLip | EnergizedLip) -> dict[str, Any]:
    """Return the features of a design that do not depend on the duty or the compound."""
    if isinstance(design, FlexibleLip):
        return {
            "family": "flexible_lip",
            "second_lip": design.second_lip,
            "lip_tip": design.lip_tip,
            "reinforcing_band": design.reinforcing_band,
            "retention": design.retention,
        }
    return {
        "family": "energized_lip",
        "lip_form": design.lip_form,
        "energizer": design.energizer,
        "retention": design.retention,
        "heel": design.heel,
    }


def features_of(design: FlexibleLip | EnergizedLip, compound: Compound, lubrication: str) -> dict[str, Any]:
    """Return the features of a design by which the rules look capacities up."""
    features = feature_key(design)
    features["lubrication"] = lubrication
    features["filled"] = bool(compound.fillers)
    return features


class Rating:
    """Rated capacity of one criterion for the designs that share their features."""

    __slots__ = ("_by_speed", "_factors", "_fixed", "_records", "_titles")

    def __init__(self, limit: Capacity | None, factors: Sequence[Capacity]) -> None:
        entries = () if limit is None else (limit, *factors)
        self._titles = tuple(entry.title for entry in entries)
        self._records = tuple(entry.record for entry in entries)
        self._by_speed = None if limit is None else limit.limit_by_speed
        self._factors = [entry.factor.si for entry in factors if entry.factor is not None]
        value = nan if limit is None or limit.limit is None else limit.limit.si
        self._fixed = Limit(self._reduced(value), self._titles, self._records)

    def _reduced(self, value: float) -> float:
        for factor in self._factors:
            value = value * factor
        return value

    @property
    def falls_with_speed(self) -> bool:
        """Whether the capacity depends on the surface speed."""
        return self._by_speed is not None

    def at(self, surface_speed: float) -> Limit:
        """Return the capacity at a surface speed; ``nan`` where the rules have none."""
        curve = self._by_speed
        if curve is None:
            return self._fixed
        value = self._reduced(_on(curve, surface_speed))
        return Limit(value, self._titles, self._records)


class _CapacityTable:
    """Capacities by feature combination, worked out once each (there are a few hundred)."""

    def __init__(self, data: RuleSetData) -> None:
        self.entries: dict[str, dict[str, Capacity]] = {}
        for name, entry in data.designs.capacities.items():
            self.entries.setdefault(entry.criterion, {})[name] = entry
        # not a cache of the class, which would hold the rule sets of requests long past
        self._found: dict[tuple[tuple[str, Any], ...], Mapping[str, Rating]] = {}

    def find(self, features: tuple[tuple[str, Any], ...]) -> Mapping[str, Rating]:
        """Return the ratings by criterion: the most specific matching limit and all matching factors."""
        found = self._found.get(features)
        if found is None:
            found = self._found[features] = self._find(features)
        return found

    def _find(self, features: tuple[tuple[str, Any], ...]) -> Mapping[str, Rating]:
        have = dict(features)
        ratings: dict[str, Rating] = {}
        for criterion in CAPACITY_DIMENSION:
            matching = {
                name: entry
                for name, entry in self.entries.get(criterion, {}).items()
                if all(have.get(key) == value for key, value in entry.when.items())
            }
            limit = most_special({name: entry.when for name, entry in matching.items() if entry.factor is None})
            ratings[criterion] = Rating(
                None if limit is None else matching[limit],
                [entry for entry in matching.values() if entry.factor is not None],
            )
        return ratings


_table = OncePerRuleSet(_CapacityTable)


def ratings(data: RuleSetData, features: Mapping[str, Any]) -> Mapping[str, Rating]:
    """Return the rated capacities of a design by criterion."""
    return _table(data).find(tuple(features.items()))


def capacity(data: RuleSetData, criterion: str, features: Mapping[str, Any], surface_speed: float) -> Limit:
    """Return the rated capacity of a design for a criterion; ``nan`` where the rules have none."""
    return ratings(data, features)[criterion].at(surface_speed)


def _mean_speeds(duty: Duty) -> tuple[float, float, float]:
    """Return rotational speed (equivalent mean), mean and peak surface speed."""
    d, motion = duty.shaft_diameter, duty.motion
    if isinstance(motion, Rotation):
        n = motion.rotational_speed
        v = kinematics.surface_speed(d, n)
        return n, v, v
    if isinstance(motion, Oscillation):
        mean = kinematics.oscillation_mean_speed(d, motion.half_amplitude, motion.frequency)
        peak = kinematics.oscillation_peak_speed(d, motion.half_amplitude, motion.frequency)
        return kinematics.rotation_speed(d, mean), mean, peak
    return kinematics.rotation_speed(d, motion.surface_speed), motion.surface_speed, motion.surface_speed


def build(duty: Duty, design: FlexibleLip | EnergizedLip, rules: RuleSet) -> Case:
    """Fill in a case from a duty, a design and the rules; refuses names the rules do not know."""
    data = rules.data
    compound: Compound = known(data.compounds, design.compound, ("design", "compound"), "compound")
    fluid: Fluid = known(data.fluids, duty.fluid, ("duty", "fluid"), "fluid")
    assumed: list[Assumed] = []
    lubrication = duty.lubrication
    if lubrication is None:
        lubrication = fluid.lubrication
        assumed.append(Assumed("/duty/lubrication", None, lubrication, f"fluids.{duty.fluid}"))
    compound = overridden(compound, design.compound_properties, lubrication)
    rotational, mean, peak = _mean_speeds(duty)
    t = duty.temperature
    if t.minimum is None:
        assumed.append(Assumed("/duty/temperature/minimum", "temperature", t.normal, "equal to the normal temperature"))
    if t.maximum is None:
        assumed.append(Assumed("/duty/temperature/maximum", "temperature", t.normal, "equal to the normal temperature"))
    material: ShaftMaterial | None = None
    hardness = duty.shaft.hardness
    if duty.shaft.material is not None:
        material = known(data.shaft_materials, duty.shaft.material, ("duty", "shaft", "material"), "material")
        if hardness is None and material.hardness is not None:
            hardness = material.hardness.si
            assumed.append(
                Assumed("/duty/shaft/hardness", "hardness_hrc", hardness, f"shaft_materials.{duty.shaft.material}")
            )
    if duty.bore.material is not None:
        known(data.shaft_materials, duty.bore.material, ("duty", "bore", "material"), "material")

    sizing = data.sizing.flexible_lip if isinstance(design, FlexibleLip) else data.sizing.energized_lip
    family = design.family
    d = duty.shaft_diameter

    def sized(
        given: float | None, name: str, record: Curve | Datum, dimension: str = "length", pointer: str = ""
    ) -> float:
        if given is not None:
            return given
        value = _on(record, d) if isinstance(record, Curve) else record.si
        assumed.append(Assumed(pointer or f"/design/{name}", dimension, value, f"sizing.{family}.{name}"))
        return float(value)

    width_factor = 1.0
    if isinstance(design, EnergizedLip):
        width_factor = data.sizing.lip_forms[design.lip_form].contact_width_factor.si
    contact_width = design.contact_width
    if contact_width is None:
        contact_width = _on(sizing.contact_width, d) * width_factor
        assumed.append(Assumed("/design/contact_width", "length", contact_width, f"sizing.{family}.contact_width"))
    alloy: Alloy | None = None
    elastomer: Elastomer | None = None
    if design.retention == "o_ring":
        name = design.o_ring_elastomer
        if name is None:
            name = data.sizing.o_ring_elastomer.name
            assumed.append(Assumed("/design/o_ring_elastomer", None, name, "sizing.o_ring_elastomer"))
        elastomer = known(data.elastomers, name, ("design", "o_ring_elastomer"), "elastomer")
    case = Case(
        data=data,
        features=features_of(design, compound, lubrication),
        compound=compound,
        fluid=fluid,
        lubrication=lubrication,
        alloy=None,
        elastomer=elastomer,
        shaft_material=material,
        family=family,
        energizer=None,
        shaft_diameter=d,
        rotational_speed=rotational,
        surface_speed=mean,
        peak_speed=peak,
        pressure=duty.pressure,
        temperature_min=t.normal if t.minimum is None else t.minimum,
        temperature=t.normal,
        temperature_max=t.normal if t.maximum is None else t.maximum,
        runout=nan if duty.runout is None else duty.runout,
        offset=nan if duty.offset is None else duty.offset,
        hardness=nan if hardness is None else hardness,
        roughness=nan if duty.shaft.roughness is None else duty.shaft.roughness,
        friction=getattr(compound.friction, lubrication),
        wear=getattr(compound.wear, lubrication),
        lip_thickness=sized(design.lip_thickness, "lip_thickness", sizing.lip_thickness),
        lip_length=sized(design.lip_length, "lip_length", sizing.lip_length),
        interference=sized(design.interference, "interference", sizing.interference),
        contact_width=contact_width,
        assumed=assumed,
    )
    if isinstance(design, FlexibleLip):
        if design.lip_tip == "upturned_with_garter":
            alloy = data.alloys[data.sizing.garter_alloy.name]
            case.energizer = "garter"
            case.dimensions = _garter_dimensions(case, design, assumed)
    else:
        name = design.energizer_alloy
        if name is None:
            name = data.sizing.energizer_alloy.name
            assumed.append(Assumed("/design/energizer_alloy", None, name, "sizing.energizer_alloy"))
        alloy = known(data.alloys, name, ("design", "energizer_alloy"), "alloy")
        case.energizer = design.energizer
        case.dimensions = _energizer_dimensions(case, design, sized)
    case.alloy = alloy
    return case


def _garter_dimensions(case: Case, design: FlexibleLip, assumed: list[Assumed]) -> dict[str, float]:
    if design.garter is not None:
        g = design.garter
        return {
            "wire_diameter": g.wire_diameter,
            "mean_coil_diameter": g.mean_coil_diameter,
            "free_length": g.free_length,
            "initial_tension": g.initial_tension,
            "active_coils": g.active_coils,
        }
    found = size_garter(case.data, case.shaft_diameter, case.lip_thickness)
    for name, dimension in (
        ("wire_diameter", "length"),
        ("mean_coil_diameter", "length"),
        ("free_length", "length"),
        ("initial_tension", "force"),
        ("active_coils", "ratio"),
    ):
        assumed.append(Assumed(f"/design/garter/{name}", dimension, found[name], "sizing.flexible_lip.garter_*"))
    return found


def size_garter(data: RuleSetData, shaft_diameter: float, lip_thickness: float) -> dict[str, float]:
    """Size a close-wound garter for a shaft diameter by the sizing rule."""
    sizing = data.sizing.flexible_lip
    wire = _on(sizing.garter_wire_diameter, shaft_diameter)
    coil = sizing.garter_coil_ratio.si * wire
    fitted_radius = 0.5 * shaft_diameter + lip_thickness + 0.5 * (coil + wire)
    free_length = 2.0 * pi * fitted_radius / (1.0 + sizing.garter_stretch.si)
    return {
        "wire_diameter": wire,
        "mean_coil_diameter": coil,
        "free_length": free_length,
        # torsion stress 8 F D / (pi d^3) of a helical spring, solved for the force
        "initial_tension": sizing.garter_initial_stress.si * pi * wire**3 / (8.0 * coil),
        "active_coils": free_length / wire,
    }


def _on(curve: Curve, x: float) -> float:
    """Value of a curve of the rules, held beyond its ends."""
    return float(np.interp(x, curve.si_x, curve.si_y))


def _energizer_dimensions(case: Case, design: EnergizedLip, sized: Any) -> dict[str, float]:
    s = case.data.sizing.energized_lip
    if design.energizer == "cantilever_v":
        v = design.cantilever_v
        if v is not None:
            return {"thickness": v.strip_thickness, "length": v.finger_length, "root_angle": v.root_angle,
                    "coverage": v.coverage, "deflection": v.deflection}  # fmt: skip
        at = "/design/cantilever_v/"
        return {
            "thickness": sized(None, "strip_thickness", s.strip_thickness, "length", at + "strip_thickness"),
            "length": sized(None, "finger_length", s.finger_length, "length", at + "finger_length"),
            "root_angle": sized(None, "finger_angle", s.finger_angle, "angle", at + "root_angle"),
            "coverage": sized(None, "finger_coverage", s.finger_coverage, "ratio", at + "coverage"),
            "deflection": sized(None, "finger_deflection", s.finger_deflection, "length", at + "deflection"),
        }
    c = design.canted_coil
    if c is not None:
        return {"wire_diameter": c.wire_diameter, "height": c.coil_height, "width": c.coil_width, "pitch": c.pitch,
                "cant_angle": c.cant_angle, "deflection": c.deflection}  # fmt: skip
    at = "/design/canted_coil/"
    wire = sized(None, "coil_wire_diameter", s.coil_wire_diameter, "length", at + "wire_diameter")
    height = sized(None, "coil_height", s.coil_height, "length", at + "coil_height")

    def derived(name: str, value: float) -> float:
        case.assumed.append(Assumed(at + name, "length", value, f"sizing.energized_lip.coil_{name}_*"))
        return value

    return {
        "wire_diameter": wire,
        "height": height,
        "width": derived("coil_width", s.coil_width_ratio.si * height),
        "pitch": derived("pitch", s.coil_pitch_ratio.si * wire),
        "cant_angle": sized(None, "coil_cant_angle", s.coil_cant_angle, "angle", at + "cant_angle"),
        "deflection": derived("deflection", s.coil_deflection_share.si * height),
    }


def changed(case: Case, **numbers: Any) -> Case:
    """Return a case with other numbers."""
    return replace(case, **numbers)
