"""A judged gland as an answer has it, in the units that were asked for."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from glandwise.case.choices import LOOSEST, TIGHTEST, End, Retention, Start
from glandwise.case.tolerances import size_step_value
from glandwise.json_values import JsonObject
from glandwise.mechanics import fits
from glandwise.numerics.arithmetic import divide
from glandwise.questions.arrays import Row
from glandwise.questions.gland import kernel

if TYPE_CHECKING:
    from glandwise.questions.gland.operation import GlandJudged, Judged
    from glandwise.units import UnitSystem


def size(row: Row, name: str, units: UnitSystem) -> JsonObject:
    """Write a size with its limits."""
    return {
        "nominal": units.quantity("length", float(row[name])),
        "maximum": units.quantity("length", float(row[f"{name}_high"])),
        "minimum": units.quantity("length", float(row[f"{name}_low"])),
    }


def limits(j: Judged, name: str, units: UnitSystem) -> JsonObject:
    """Write a size with its limits, its deviations and its tolerance class."""
    row = j.row
    return {
        **size(row, name, units),
        "tolerance_class": j.resolved.classes[name],
        "upper_deviation": units.quantity("length", float(row[f"{name}_high"] - row[name])),
        "lower_deviation": units.quantity("length", float(row[f"{name}_low"] - row[name])),
    }


def lead_in(j: Judged, units: UnitSystem) -> JsonObject | None:
    """Write the lead-in chamfer of the shaft."""
    table, angle = j.case.data.gland.shaft_lead_in, j.case.data.gland.shaft_lead_in_angle
    d = float(j.row["shaft"])
    reduction = size_step_value(d, table.si_over, table.si_up_to, table.si_columns["reduction"])
    if reduction != reduction:
        return None
    steep, flat = (fits.shaft_lead_in(d, reduction, record.si) for record in (angle.max, angle.min))
    return {
        "reduction": units.quantity("length", reduction),
        "small_diameter": units.quantity("length", steep.small_diameter),
        "least_angle": units.quantity("angle", angle.min.si),
        "greatest_angle": units.quantity("angle", angle.max.si),
        "least_length": units.quantity("length", steep.length),
        "greatest_length": units.quantity("length", flat.length),
    }


def bore_shape(j: Judged, units: UnitSystem) -> JsonObject | None:
    """Write depth, chamfer, corner and roughness of the bore."""
    table, rough = j.case.data.gland.housing_bore, j.case.data.gland.bore_roughness
    width = float(j.row["width"])
    found = {
        name: size_step_value(width, table.si_over, table.si_up_to, table.si_columns[name])
        for name in ("extra_depth", "chamfer_min", "chamfer_max", "corner_radius")
    }
    if found["extra_depth"] != found["extra_depth"]:
        return None
    return {
        "least_depth": units.quantity("length", fits.bore_depth(width, found["extra_depth"])),
        "least_chamfer": units.quantity("length", found["chamfer_min"]),
        "greatest_chamfer": units.quantity("length", found["chamfer_max"]),
        "greatest_corner_radius": units.quantity("length", found["corner_radius"]),
        "least_roughness": units.quantity("roughness", rough.ra_min.si),
        "greatest_roughness": units.quantity("roughness", rough.ra_max.si),
    }


def number(value: float) -> float | None:
    """Write a plain number; null where it is not known."""
    return float(f"{value:.10g}") if isfinite(value) else None


def _o_ring(j: GlandJudged, units: UnitSystem) -> JsonObject | None:
    if j.retention != Retention.o_ring or not j.has_ring:
        return None
    row, out = j.row, j.out
    return {
        "dash": None if row["dash"] < 0 else int(row["dash"]),
        "inner_diameter": size(row, "ring_inner", units),
        "section": size(row, "ring_section", units),
        "groove_diameter": size(row, "groove", units),
        "groove_width": size(row, "groove_width", units),
        "ring_proposed": j.is_ring_proposed,
        "groove_proposed": j.is_groove_proposed,
        "states": [
            {
                "temperature": units.quantity("temperature", T),
                "tolerances": end.name,
                "squeeze": units.quantity("length", float(out["squeeze"][k, end])),
                "squeeze_ratio": number(out["squeeze_ratio"][k, end]),
                "stretch": number(out["stretch"][k, end]),
                "fill": number(out["fill"][k, end]),
            }
            for T, k in in_order(j)
            for end in End
        ],
    }


def in_order(j: Judged, first: int = 0) -> list[tuple[float, int]]:
    """Return temperatures that differ with their places, in the order of those."""
    found: dict[float, int] = {}
    for k, value in enumerate(j.temperatures):
        if k >= first:
            found.setdefault(value, k)
    return list(found.items())


def _press_fit(j: GlandJudged, units: UnitSystem) -> JsonObject | None:
    row, out = j.row, j.out
    if j.retention != Retention.press_fit_case or not isfinite(row["case_low"]):
        return None
    return {
        "outer_diameter": size(row, "case", units),
        "wall_thickness": units.quantity("length", float(row["case_wall"])),
        "length": units.quantity("length", float(row["case_length"])),
        "states": [
            {
                "temperature": units.quantity("temperature", T),
                "tolerances": End(end).name,
                "interference": units.quantity("length", float(out["case_interference"][k, end])),
                "pressure": units.quantity("stress", float(out["case_pressure"][k, end])),
                "case_stress": units.quantity("stress", float(out["case_stress"][k, end])),
                "bore_stress": units.quantity("stress", float(out["bore_stress"][k, end])),
                "case_yields": bool(out["case_yields"][k, end] == 1.0),
            }
            for T, k in in_order(j)
            for end in (LOOSEST, TIGHTEST)
        ],
    }


def _clamp(j: GlandJudged, units: UnitSystem) -> JsonObject | None:
    row, out = j.row, j.out
    if j.retention != Retention.clamped_flange or not isfinite(out["face_pressure"]):
        return None
    return {
        "force": units.quantity("force", float(row["clamp_force"])),
        "proposed": j.is_force_proposed,
        "inner_diameter": units.quantity("length", float(row["clamp_inner"])),
        "outer_diameter": units.quantity("length", float(row["clamp_outer"])),
        "pressure": units.quantity("stress", float(out["face_pressure"])),
        "allowed_pressure": units.quantity("stress", float(out["face_allowed"])),
    }


def _heels(j: GlandJudged) -> list[tuple[str, str]]:
    """Return the heels to compare with their fields."""
    if j.gland.heel_thickness is not None:
        return [("given", "heel_standard")]
    standard = [("standard", "heel_standard")]
    return standard if j.case.family == "flexible_lip" else [*standard, ("extended", "heel_extended")]


def _extrusion(j: GlandJudged, units: UnitSystem) -> JsonObject:
    row, out = j.row, j.out

    return {
        "throat": size(row, "throat", units),
        "heel_thickness": units.quantity("length", float(row["heel"])),
        "eccentric": bool(j.case.offset != j.case.offset),
        "states": [
            {
                "temperature": units.quantity("temperature", T),
                "gap": units.quantity("length", float(out["gap"][k])),
                "allowed_gap": units.optional("length", float(out["bridged_gap"][k])),
                "allowed_pressure": units.optional("gauge_pressure", float(out["bridged_pressure"][k])),
                "surface_flow_pressure": units.quantity("gauge_pressure", float(out["flow"][k])),
            }
            for T, k in in_order(j, first=1)
        ],
        "heels": [
            {
                "heel": name,
                "thickness": units.quantity("length", float(row[field])),
                "allowed_pressure": units.optional("gauge_pressure", float(out[field])),
            }
            for name, field in _heels(j)
        ],
    }


def _rotation(j: GlandJudged, units: UnitSystem) -> JsonObject:
    out, p = j.out, float(j.out["sealed"])
    places = range(kernel.STATES if p > 0.0 else kernel.STATES // 2) if j.case.friction is not None else ()

    def temperature(state: Start) -> float:
        return j.temperatures.maximum if state == Start.hot_running else j.temperatures.minimum

    states = []
    for place in places:
        state = Start(place % len(Start))
        torque, holding = float(out["torque"][place]), float(out["holding"][place])
        states.append(
            {
                "state": state.name,
                "pressure": units.quantity("gauge_pressure", p if place >= len(Start) else 0.0),
                "temperature": units.quantity("temperature", temperature(state)),
                "friction_coefficient": number(out["friction"][place]),
                "lip_torque": units.quantity("torque", torque),
                "holding_torque": units.optional("torque", holding),
                "margin": number(divide(holding, torque)),
            }
        )
    margin = j.case.data.gland.retention.margin_min.si
    return {"means": j.retention.name, "margin_needed": margin, "states": states}


def gland_part(j: GlandJudged, units: UnitSystem) -> JsonObject:
    """Write what an answer has of a gland beside its verdict."""
    return {
        "shaft": limits(j, "shaft", units),
        "bore": limits(j, "bore", units),
        "body": limits(j, "body", units),
        "seal_width": units.quantity("length", float(j.row["width"])),
        "shaft_lead_in": lead_in(j, units),
        "bore_shape": bore_shape(j, units),
        "o_ring": _o_ring(j, units),
        "press_fit": _press_fit(j, units),
        "clamp": _clamp(j, units),
        "extrusion": _extrusion(j, units),
        "rotation": _rotation(j, units),
    }
