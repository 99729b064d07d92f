"""What a case can say: the places of a request, the columns of a table and the fields of the record, side by side."""

from __future__ import annotations

from collections.abc import Mapping
from enum import IntEnum
from typing import Any, NamedTuple

from glandwise.case.choices import (
    Application,
    Dirt,
    Energizer,
    Family,
    Heel,
    Lead,
    LipDirection,
    LipForm,
    Lubrication,
    Retention,
    SecondLip,
)
from glandwise.contract.base import RequestModel
from glandwise.contract.design import (
    CantedCoilDimensions,
    CantileverVDimensions,
    FlexibleLip,
    GarterDimensions,
)
from glandwise.contract.duty import Duty, Oscillation, Rotation, Shaft, SurfaceMotion, Temperatures


class Number(NamedTuple):
    """A number of a case."""

    model: type[RequestModel]
    place: str
    """Place in a request; its last part is a field of the model."""
    field: str
    """Field of the record."""


NUMBERS: Mapping[str, Number] = {
    "shaft_diameter": Number(Duty, "duty.shaft_diameter", "shaft_diameter"),
    "rotational_speed": Number(Rotation, "duty.motion.rotational_speed", "rotational_speed"),
    "surface_speed": Number(SurfaceMotion, "duty.motion.surface_speed", "surface_speed"),
    "oscillation_half_amplitude": Number(Oscillation, "duty.motion.half_amplitude", "half_amplitude"),
    "oscillation_frequency": Number(Oscillation, "duty.motion.frequency", "frequency"),
    "pressure": Number(Duty, "duty.pressure", "pressure"),
    "temperature_min": Number(Temperatures, "duty.temperature.minimum", "temperature_min"),
    "temperature": Number(Temperatures, "duty.temperature.normal", "temperature"),
    "temperature_max": Number(Temperatures, "duty.temperature.maximum", "temperature_max"),
    "runout": Number(Duty, "duty.runout", "runout"),
    "offset": Number(Duty, "duty.offset", "offset"),
    "shaft_hardness": Number(Shaft, "duty.shaft.hardness", "hardness"),
    "shaft_roughness": Number(Shaft, "duty.shaft.roughness", "roughness"),
    "target_life": Number(Duty, "duty.target_life", "target_life"),
    "lip_thickness": Number(FlexibleLip, "design.lip_thickness", "lip_thickness"),
    "lip_length": Number(FlexibleLip, "design.lip_length", "lip_length"),
    "interference": Number(FlexibleLip, "design.interference", "interference"),
    "contact_width": Number(FlexibleLip, "design.contact_width", "contact_width"),
    "bore_angle": Number(FlexibleLip, "design.bore_angle", "bore_angle"),
    "spring_place": Number(FlexibleLip, "design.spring_place", "spring_place"),
    "cantilever_v.thickness": Number(CantileverVDimensions, "design.cantilever_v.strip_thickness", "v_thickness"),
    "cantilever_v.length": Number(CantileverVDimensions, "design.cantilever_v.finger_length", "v_length"),
    "cantilever_v.root_angle": Number(CantileverVDimensions, "design.cantilever_v.root_angle", "v_angle"),
    "cantilever_v.coverage": Number(CantileverVDimensions, "design.cantilever_v.coverage", "v_coverage"),
    "cantilever_v.deflection": Number(CantileverVDimensions, "design.cantilever_v.deflection", "v_deflection"),
    "canted_coil.wire_diameter": Number(CantedCoilDimensions, "design.canted_coil.wire_diameter", "coil_wire"),
    "canted_coil.height": Number(CantedCoilDimensions, "design.canted_coil.coil_height", "coil_height"),
    "canted_coil.width": Number(CantedCoilDimensions, "design.canted_coil.coil_width", "coil_width"),
    "canted_coil.pitch": Number(CantedCoilDimensions, "design.canted_coil.pitch", "coil_pitch"),
    "canted_coil.cant_angle": Number(CantedCoilDimensions, "design.canted_coil.cant_angle", "coil_angle"),
    "canted_coil.deflection": Number(CantedCoilDimensions, "design.canted_coil.deflection", "coil_deflection"),
    "garter.wire_diameter": Number(GarterDimensions, "design.garter.wire_diameter", "garter_wire"),
    "garter.mean_coil_diameter": Number(GarterDimensions, "design.garter.mean_coil_diameter", "garter_coil"),
    "garter.free_length": Number(GarterDimensions, "design.garter.free_length", "garter_length"),
    "garter.initial_tension": Number(GarterDimensions, "design.garter.initial_tension", "garter_tension"),
    "garter.active_coils": Number(GarterDimensions, "design.garter.active_coils", "garter_coils"),
}
"""Numbers by the column of a table that holds them."""

ENERGIZERS = ("cantilever_v", "canted_coil", "garter")
"""Energizers whose dimensions can be stated, all of them or none."""


def numbers_under(place: str) -> Mapping[str, str]:
    """Return the fields of the numbers that stand in one object of a request, by their names in it."""
    inside = (number for number in NUMBERS.values() if number.place.rpartition(".")[0] == place)
    return {number.place.rpartition(".")[2]: number.field for number in inside}


class Choice(NamedTuple):
    """A closed choice of a case, whose code is the member of the same name."""

    place: str
    codes: type[IntEnum]
    field: str


CHOICES: Mapping[str, Choice] = {
    "lubrication": Choice("duty.lubrication", Lubrication, "lubrication"),
    "application": Choice("duty.application", Application, "application"),
    "machining_lead": Choice("duty.shaft.machining_lead", Lead, "lead"),
    "contaminants": Choice("duty.contaminants", Dirt, "dirt"),
    "second_lip": Choice("design.second_lip", SecondLip, "second_lip"),
    "retention": Choice("design.retention", Retention, "retention"),
    "lip_form": Choice("design.lip_form", LipForm, "lip_form"),
    "lip_direction": Choice("design.lip_direction", LipDirection, "lip_direction"),
    "heel": Choice("design.heel", Heel, "heel"),
}
"""Closed choices by the column of a table that holds them; family, tip and kind make up the energizer beside them."""


class Named(NamedTuple):
    """A name of the rule set in a case."""

    place: str
    table: str
    """Table of the rule set."""
    what: str
    """What bears the name, in words."""
    field: str


NAMES: Mapping[str, Named] = {
    "fluid": Named("duty.fluid", "fluids", "fluid", "fluid"),
    "compound": Named("design.compound", "compounds", "compound", "compound"),
    "energizer_alloy": Named("design.energizer_alloy", "alloys", "alloy", "alloy"),
    "o_ring_elastomer": Named("design.o_ring_elastomer", "elastomers", "elastomer", "elastomer"),
    "housing_material": Named("duty.bore.material", "shaft_materials", "material", "housing_material"),
    "shaft_material": Named("duty.shaft.material", "shaft_materials", "material", "shaft_material"),
}
"""Names of the rule set by the column of a table that holds them."""


def state_features(rows: Any, features: Mapping[str, Any]) -> None:
    """Write the features of a design, as the rules name them, into rows."""
    rows["family"] = Family[features["family"]]
    tip = "garter" if features.get("lip_tip") == "upturned_with_garter" else "none"
    rows["energizer"] = Energizer[features.get("energizer", tip)]
    rows["reinforcing_band"] = features.get("reinforcing_band", False)
    for name, choice in CHOICES.items():
        if name in features:
            rows[choice.field] = choice.codes[features[name]]


def on_duty(rows: Any, duty: Any) -> None:
    """Write what one row states of its duty into others."""
    for field in DUTY:
        rows[field] = duty[field]


DUTY = (
    *(item.field for table in (NUMBERS, CHOICES, NAMES) for item in table.values() if item.place.startswith("duty.")),
    "peak_speed",
    "food_contact",
)
"""Fields of the record that hold the duty."""
