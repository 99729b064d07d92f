"""A case from a request: what it states as a row, filled in by the rules, and the list of what they supplied."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from operator import attrgetter, itemgetter
from typing import Any, NamedTuple

import numpy as np

from glandwise.case import record
from glandwise.case.choices import Energizer, Family, Lubrication, Medium
from glandwise.case.numbers import compound_row
from glandwise.case.override import overridden
from glandwise.case.ratings import numbers_of
from glandwise.case.rows import Table, codes_of, fill
from glandwise.case.vocabulary import CHOICES, ENERGIZERS, NAMES, NUMBERS, numbers_under
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.contract.duty import Duty, Oscillation, Rotation, SurfaceMotion
from glandwise.engine import known
from glandwise.rules.loader import RuleSet
from glandwise.rules.model import Alloy, Compound, Datum, Elastomer, Fluid, RuleSetData, ShaftMaterial

Design = FlexibleLip | EnergizedLip


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


class Case:
    """One case: its row, its numbers in SI (NaN is what is not known), the records that its names stand for."""

    __slots__ = (
        "alloy",
        "assumed",
        "compound",
        "contact_width",
        "data",
        "elastomer",
        "energizer",
        "family",
        "fluid",
        "hardness",
        "interference",
        "lip_length",
        "lip_thickness",
        "lubrication",
        "medium",
        "offset",
        "own_compound",
        "peak_speed",
        "pressure",
        "rotational_speed",
        "roughness",
        "row",
        "runout",
        "shaft_diameter",
        "shaft_material",
        "sized",
        "surface_speed",
        "temperature",
        "temperature_max",
        "temperature_min",
    )  # fmt: skip

    def __init__(
        self,
        data: RuleSetData,
        row: Table,
        assumed: list[Assumed],
        compound: Compound | None = None,
        sized: Sized | None = None,
    ) -> None:
        """``row`` is filled in; ``compound`` is one with properties of the caller's in place of the rule set's.

        ``sized`` is the case for whose duty the seal is sized, where that is another.
        """
        self.data, self.row, self.assumed, self.sized = data, row, assumed, sized
        values = row.item()
        code, fluid, alloy, elastomer, material, family, energizer, lubrication, medium = _CODES_OF_CASE(values)
        records = codes_of(data).records
        self.own_compound: Table | None = None
        self.compound: Compound = records["compounds"][code] if compound is None else compound
        if compound is not None:
            self.own_compound = compound_row(compound, data)
            row["compound"] = 0  # the only row of its table
        self.fluid: Fluid = records["fluids"][fluid]
        self.alloy: Alloy | None = None if alloy < 0 else records["alloys"][alloy]
        self.elastomer: Elastomer | None = None if elastomer < 0 else records["elastomers"][elastomer]
        self.shaft_material: ShaftMaterial | None = None if material < 0 else records["shaft_materials"][material]
        self.family = _FAMILIES[family]
        self.energizer = _ENERGIZERS[energizer]
        self.lubrication = LUBRICATIONS[lubrication]
        self.medium = MEDIA[medium]
        self.shaft_diameter: float
        self.rotational_speed: float
        self.surface_speed: float
        self.peak_speed: float
        self.pressure: float
        self.temperature_min: float
        self.temperature: float
        self.temperature_max: float
        self.runout: float
        self.offset: float
        self.hardness: float
        self.roughness: float
        self.lip_thickness: float
        self.lip_length: float
        self.interference: float
        self.contact_width: float
        (
            self.shaft_diameter, self.rotational_speed, self.surface_speed, self.peak_speed, self.pressure,
            self.temperature_min, self.temperature, self.temperature_max, self.runout, self.offset, self.hardness,
            self.roughness, self.lip_thickness, self.lip_length, self.interference, self.contact_width,
        ) = _NUMBERS_OF_CASE(values)  # fmt: skip

    @property
    def features(self) -> Mapping[str, Any]:
        """Features of the design, by which the rules look its capacities up."""
        return numbers_of(self.data).features(self.row["rating"].item(0))

    @property
    def elastomer_name(self) -> str | None:
        """Name of the elastomer of the O-ring, stated or chosen; ``None`` without one."""
        code = self.row["elastomer"].item(0)
        return None if code < 0 else list(self.data.elastomers)[code]

    @property
    def friction(self) -> Datum | None:
        """Friction coefficient of the compound in the medium of the case, all of the load on solid contact."""
        found: Datum | None = getattr(self.compound.friction, self.medium)
        return found

    @property
    def wear(self) -> Datum | None:
        """Specific wear rate of the compound in the medium of the case, all of the load on solid contact."""
        found: Datum | None = getattr(self.compound.wear, self.medium)
        return found

    @property
    def own_wear(self) -> bool:
        """Whether the wear rate is the caller's, measured in the duty."""
        return self.own_compound is not None and bool(self.own_compound["own_wear"][0])

    @property
    def deflection(self) -> float:
        """Deflection of the energizer as fitted; NaN where it has none."""
        return float(self.row[_DEFLECTIONS[self.energizer]][0]) if self.energizer in _DEFLECTIONS else np.nan


LUBRICATIONS = tuple(item.name for item in Lubrication)
"""Lubrications by code."""
MEDIA = tuple(item.name for item in Medium)
"""Media by code."""
_FAMILIES = tuple(item.name for item in Family)
_ENERGIZERS = tuple(None if item == Energizer.none else item.name for item in Energizer)
_DEFLECTIONS: Mapping[str | None, str] = {"cantilever_v": "v_deflection", "canted_coil": "coil_deflection"}

# ---------------------------------------------------------------------------------------------------- what is stated

_PLACE = {name: at for at, name in enumerate(record.FIELDS)}
_NUMBERS_OF_CASE = itemgetter(
    *(_PLACE[name] for name in (
        "shaft_diameter", "rotational_speed", "surface_speed", "peak_speed", "pressure", "temperature_min", "temperature",
        "temperature_max", "runout", "offset", "hardness", "roughness", "lip_thickness", "lip_length", "interference",
        "contact_width",
    ))
)  # fmt: skip
_CODES_OF_CASE = itemgetter(
    *(_PLACE[name] for name in (
        "compound", "fluid", "alloy", "elastomer", "shaft_material", "family", "energizer", "lubrication", "medium",
    ))
)  # fmt: skip
_NOTHING: tuple[Any, ...] = record.table(1).item()


class _Read:
    """Numbers of one object of a request, read at once."""

    def __init__(self, fields: Mapping[str, str]) -> None:
        self._get = attrgetter(*fields)
        self._places = [_PLACE[field] for field in fields.values()]

    def into(self, values: list[Any], part: Any) -> None:
        """Write the numbers that a part of a request states into the values of a row."""
        for at, value in zip(self._places, self._get(part), strict=True):
            if value is not None:
                values[at] = value


_DUTY = _Read(
    {
        **numbers_under("duty"),
        **{f"temperature.{name}": field for name, field in numbers_under("duty.temperature").items()},
        **{f"shaft.{name}": field for name, field in numbers_under("duty.shaft").items()},
    }
)
_DESIGN = _Read(numbers_under("design"))
_MOTION: Mapping[type, tuple[tuple[str, int], ...]] = {
    model: tuple(
        (name, _PLACE[field]) for name, field in numbers_under("duty.motion").items() if name in model.model_fields
    )
    for model in (Rotation, SurfaceMotion, Oscillation)
}
_DIMENSIONS = {kind: _Read(numbers_under(f"design.{kind}")) for kind in ENERGIZERS}


def _choices(root: str, model: type) -> tuple[tuple[Callable[[Any], str | None], Mapping[str, int], int], ...]:
    found = []
    for choice in CHOICES.values():
        head, _, path = choice.place.partition(".")
        if head == root and path.partition(".")[0] in model.model_fields:  # type: ignore[attr-defined]
            found.append((attrgetter(path), {item.name: int(item) for item in choice.codes}, _PLACE[choice.field]))
    return tuple(found)


_CHOICES: Mapping[type, Any] = {
    Duty: _choices("duty", Duty),
    **{model: _choices("design", model) for model in (FlexibleLip, EnergizedLip)},
}
_KIND = {item.name: int(item) for item in Energizer}


def _named(values: list[Any], data: RuleSetData, column: str, name: str | None) -> None:
    """Write the code of a name; refuses one that the rules do not know."""
    if name is not None:
        place, table, what, field = NAMES[column]
        code = getattr(codes_of(data), table).get(name)
        if code is None:
            known(getattr(data, table), name, place.split("."), what)
        values[_PLACE[field]] = code


def _state_duty(values: list[Any], data: RuleSetData, duty: Duty) -> None:
    _named(values, data, "fluid", duty.fluid)
    _named(values, data, "shaft_material", duty.shaft.material)
    _named(values, data, "housing_material", duty.bore.material)
    _DUTY.into(values, duty)
    for name, at in _MOTION[type(duty.motion)]:
        values[at] = getattr(duty.motion, name)
    values[_PLACE["food_contact"]] = int(duty.food_contact)


def _state_design(values: list[Any], data: RuleSetData, design: Design) -> None:
    _named(values, data, "compound", design.compound)
    if design.retention == "o_ring":
        _named(values, data, "o_ring_elastomer", design.o_ring_elastomer)
    _DESIGN.into(values, design)
    kind = "none"
    if isinstance(design, FlexibleLip):
        values[_PLACE["family"]] = int(Family.flexible_lip)
        values[_PLACE["reinforcing_band"]] = int(design.reinforcing_band)
        if design.lip_tip == "upturned_with_garter":
            kind = "garter"
    else:
        _named(values, data, "energizer_alloy", design.energizer_alloy)
        values[_PLACE["family"]] = int(Family.energized_lip)
        kind = design.energizer
    values[_PLACE["energizer"]] = _KIND[kind]
    if kind != "none" and (dimensions := getattr(design, kind)) is not None:
        _DIMENSIONS[kind].into(values, dimensions)


def stated(data: RuleSetData, duty: Duty, design: Design | None = None) -> Table:
    """Return what a request states as a row that is not filled in; refuses names that the rules do not know."""
    values = list(_NOTHING)
    if design is not None:
        _state_design(values, data, design)
    _state_duty(values, data, duty)
    for part in (duty, design):
        for get, of, at in _CHOICES.get(type(part), ()):
            if (chosen := get(part)) is not None:
                values[at] = of[chosen]
    return record.one(values)


# -------------------------------------------------------------------------------------------------- what is supplied


class _Usual(NamedTuple):
    at: int
    pointer: str
    dimension: str
    rule: str


def _usual(field: str, pointer: str, rule: str, dimension: str = "length") -> _Usual:
    return _Usual(_PLACE[field], f"/design/{pointer}", dimension, f"sizing.{rule}")


_ANGLE = {
    family: _usual("bore_angle", "bore_angle", f"{family}.{rule}", "angle")
    for family, rule in (("flexible_lip", "root_clearance"), ("energized_lip", "bore_angle"))
}
_PLACES = {
    family: _usual("spring_place", "spring_place", f"{family}.{rule}", "ratio")
    for family, rule in (("flexible_lip", "garter_place"), ("energized_lip", "spring_place"))
}
_WIDTH = {family: _usual("contact_width", "contact_width", f"{family}.contact_width") for family in _FAMILIES}
_LIP = {
    family: tuple(_usual(name, name, f"{family}.{name}") for name in ("lip_thickness", "lip_length", "interference"))
    for family in _FAMILIES
}
_OF_ENERGIZER: Mapping[str | None, tuple[_Usual, ...]] = {
    None: (),
    "garter": (
        _usual("garter_wire", "garter/wire_diameter", "flexible_lip.garter_*"),
        _usual("garter_coil", "garter/mean_coil_diameter", "flexible_lip.garter_*"),
        _usual("garter_length", "garter/free_length", "flexible_lip.garter_*"),
        _usual("garter_tension", "garter/initial_tension", "flexible_lip.garter_*", "force"),
        _usual("garter_coils", "garter/active_coils", "flexible_lip.garter_*", "ratio"),
    ),
    "cantilever_v": (
        _usual("v_thickness", "cantilever_v/strip_thickness", "energized_lip.strip_thickness"),
        _usual("v_length", "cantilever_v/finger_length", "energized_lip.finger_length"),
        _usual("v_angle", "cantilever_v/root_angle", "energized_lip.finger_angle", "angle"),
        _usual("v_coverage", "cantilever_v/coverage", "energized_lip.finger_coverage", "ratio"),
        _usual("v_deflection", "cantilever_v/deflection", "energized_lip.finger_deflection"),
    ),
    "canted_coil": (
        _usual("coil_wire", "canted_coil/wire_diameter", "energized_lip.coil_wire_diameter"),
        _usual("coil_height", "canted_coil/coil_height", "energized_lip.coil_height"),
        _usual("coil_width", "canted_coil/coil_width", "energized_lip.coil_width_ratio"),
        _usual("coil_pitch", "canted_coil/pitch", "energized_lip.coil_pitch_ratio"),
        _usual("coil_angle", "canted_coil/cant_angle", "energized_lip.coil_cant_angle", "angle"),
        _usual("coil_deflection", "canted_coil/deflection", "energized_lip.coil_deflection_share"),
    ),
}


def _supplied(
    duty: Duty, design: Design, data: RuleSetData, before: tuple[Any, ...], after: tuple[Any, ...]
) -> Iterator[Assumed]:
    """Yield what the rules supplied, ``before`` and ``after`` being the values of a row."""

    def sizes(usual: tuple[_Usual, ...]) -> Iterator[Assumed]:
        for at, pointer, dimension, rule in usual:
            if before[at] != before[at]:
                yield Assumed(pointer, dimension, after[at], rule)

    if duty.lubrication is None:
        name = LUBRICATIONS[after[_PLACE["lubrication"]]]
        yield Assumed("/duty/lubrication", None, name, f"fluids.{duty.fluid}")
    elif after[_PLACE["lubricant"]] != after[_PLACE["fluid"]]:
        yield Assumed("/duty/lubrication", None, data.running.lubricant.name, "running.lubricant")
    t = duty.temperature
    for end, value in (("minimum", t.minimum), ("maximum", t.maximum)):
        if value is None:
            yield Assumed(f"/duty/temperature/{end}", "temperature", t.normal, "equal to the normal temperature")
    hardness = after[_PLACE["hardness"]]
    if duty.shaft.hardness is None and hardness == hardness:
        yield Assumed("/duty/shaft/hardness", "hardness_hrc", hardness, f"shaft_materials.{duty.shaft.material}")
    yield from sizes((_WIDTH[design.family],))
    if design.retention == "o_ring" and design.o_ring_elastomer is None:
        name = list(data.elastomers)[after[_PLACE["elastomer"]]]
        usual = name == data.sizing.o_ring_elastomer.name
        rule = "sizing.o_ring_elastomer" if usual else "suits fluid and temperature better than sizing.o_ring_elastomer"
        yield Assumed("/design/o_ring_elastomer", None, name, rule)
    yield from sizes(_LIP[design.family])
    yield from sizes((_ANGLE[design.family],))
    if after[_PLACE["energizer"]] != Energizer.none:
        yield from sizes((_PLACES[design.family],))
    if isinstance(design, EnergizedLip) and design.energizer_alloy is None:
        yield Assumed("/design/energizer_alloy", None, data.sizing.energizer_alloy.name, "sizing.energizer_alloy")
    yield from sizes(_OF_ENERGIZER[_ENERGIZERS[after[_PLACE["energizer"]]]])


class Sized(NamedTuple):
    """A case of the same design whose duty the seal is sized for."""

    case: Case
    duty: Duty


def sized_for(duty: Duty, design: Design, rules: RuleSet) -> Sized:
    """Return the case of a duty that a seal is sized for."""
    return Sized(build(duty, design, rules), duty)


_SIZES = tuple(number.field for number in NUMBERS.values() if number.place.startswith("design."))


def build(duty: Duty, design: Design, rules: RuleSet, sized: Sized | None = None) -> Case:
    """Fill in a case from a duty, a design and the rules; refuses names the rules do not know.

    The sizes that the design does not state are those for the duty, or for that of another case.
    """
    data = rules.data
    row = stated(data, duty, design)
    before = row.item()
    if sized is not None:
        for name in (*_SIZES, "width_by"):
            row[name] = sized.case.row[name]
    compound = None
    if design.compound_properties is not None:  # which of them count hangs on what wets the lip
        medium = MEDIA[fill(data, row.copy()).item()[_PLACE["medium"]]]
        compound = overridden(data.compounds[design.compound], design.compound_properties, medium)
        code, row["compound"] = row["compound"].item(), 0  # the only row of its table
        fill(data, row, compound_row(compound, data))
        row["compound"] = code
    after = fill(data, row).item()
    assumed = list(_supplied(duty, design, data, before, after))
    return Case(data, row, assumed, compound, sized)
