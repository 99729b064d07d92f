"""A judged thermal fit as an answer has it, in the units that were asked for."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from glandwise.case.choices import Retention
from glandwise.case.hardware_intake import strain_range, unknown_strain
from glandwise.json_values import JsonObject
from glandwise.mechanics import expansion
from glandwise.mechanics.choices import PtfeTransition
from glandwise.physics.constants import ATMOSPHERE
from glandwise.questions.arrays import Floats
from glandwise.questions.report import Caution

if TYPE_CHECKING:
    from collections.abc import Sequence

    from glandwise.questions.thermal_fit.operation import ThermalJudged
    from glandwise.units import UnitSystem

POINTS = 40
"""Temperatures of the curve when the request names none."""


def _phase(T: float) -> str:
    if expansion.transition_temperature(ATMOSPHERE, PtfeTransition.II_IV) >= T:
        return "II"
    return "IV" if expansion.transition_temperature(ATMOSPHERE, PtfeTransition.IV_I) >= T else "I"


def temperatures(j: ThermalJudged, wanted: Sequence[float] | None) -> Floats:
    """Return the temperatures of the curve, with those of assembly and duty [K]."""
    case = j.case
    low, high = strain_range(case.data)
    marks = [j.temperatures.assembly, case.temperature_min, case.temperature, case.temperature_max]
    if wanted is None:
        bottom = max(case.compound.temperature_min.si, low)
        top = min(max(case.compound.temperature_max.si, case.temperature_max), high)
        return np.unique([*np.linspace(bottom, top, POINTS - len(set(marks))), *marks])
    for index, value in enumerate(wanted):
        if not low <= value <= high:
            raise unknown_strain(case.data, ("temperatures", index))
    return np.unique([*wanted, *marks])


def _number(value: float) -> float:
    """Return a strain rounded as answers are, without the noise of a difference of equal numbers."""
    number = float(value)
    return float(f"{number:.10g}") if abs(number) > 1e-15 else 0.0


def points(j: ThermalJudged, wanted: Sequence[float] | None, units: UnitSystem) -> list[JsonObject]:
    """Write the fits by temperature, all dimensions nominal."""
    case, t = j.case, j.temperatures
    grid = temperatures(j, wanted)
    fits = j.fits_at(grid)
    has_ring = j.retention == Retention.o_ring and j.has_ring
    has_case = j.retention == Retention.press_fit_case and isfinite(j.row["case"])
    has_energizer = case.energizer is not None
    marks = {t.assembly: "assembly", t.minimum: "minimum", t.maximum: "maximum", t.normal: "normal"}

    def length(value: float) -> JsonObject:
        return units.quantity("length", float(value))

    return [
        {
            "temperature": units.quantity("temperature", T),
            "mark": marks.get(T),
            "phase": _phase(T),
            "seal_strain": _number(at["seal"]),
            "shaft_strain": _number(at["shaft"]),
            "housing_strain": _number(at["housing"]),
            "shaft_diameter": length(at["shaft_diameter"]),
            "lip_diameter": length(at["lip_diameter"]),
            "interference": length(at["interference"]),
            "lip_load": units.quantity("line_load", float(at["lip_load"])),
            "bore_diameter": length(at["bore_diameter"]),
            "body_diameter": length(at["body_diameter"]),
            "body_clearance": length(at["bore_diameter"] - at["body_diameter"]),
            "o_ring_squeeze": _number(at["squeeze"]) if has_ring else None,
            "case_interference": length(at["case_interference"]) if has_case else None,
            "energizer_deflection": length(at["deflection"]) if has_energizer else None,
            "energizer_load": units.optional("line_load", float(at["energizer_load"])) if has_energizer else None,
        }
        for T, at in zip(grid.tolist(), fits, strict=True)
    ]


def transition(j: ThermalJudged, units: UnitSystem) -> JsonObject:
    """Write the transitions of PTFE near room temperature."""
    case = j.case
    record, ratio = case.data.expansion.ptfe_transition.length_change, case.compound.expansion_ratio.si
    pressure = ATMOSPHERE + max(float(case.pressure), 0.0)
    change = ratio * record.si * (float(j.row["shaft"]) - case.interference)

    def at(p: float, which: PtfeTransition) -> float:
        return expansion.transition_temperature(p, which)

    return {
        "lower": units.quantity("temperature", at(ATMOSPHERE, PtfeTransition.II_IV)),
        "upper": units.quantity("temperature", at(ATMOSPHERE, PtfeTransition.IV_I)),
        "lower_at_pressure": units.optional("temperature", at(pressure, PtfeTransition.II_IV)),
        "upper_at_pressure": units.optional("temperature", at(pressure, PtfeTransition.IV_I)),
        "crossed": j.crosses,
        "least_length_change": _number(ratio * record.si_low),
        "length_change": _number(ratio * record.si),
        "greatest_length_change": _number(ratio * record.si_high),
        "lip_diameter_change": units.quantity("length", float(change)),
    }


def after_heat(j: ThermalJudged, units: UnitSystem) -> JsonObject:
    """Write what heat leaves of a body that its bore confines."""
    hot, body, bore = j.fits[-1], float(j.row["body"]), float(j.row["bore"])
    left = expansion.diameter_after_confined_heating(
        body, bore, float(hot["seal"]), float(hot["housing"]), j.case.compound.set_fraction.si
    )
    return {
        "body_diameter": units.quantity("length", left),
        "lost_diameter": units.quantity("length", body - left),
        "body_clearance": units.quantity("length", bore - left),
    }


def transition_caution(j: ThermalJudged, units: UnitSystem) -> Caution:
    """Write the caution on the transitions of PTFE."""
    record = j.case.data.expansion.ptfe_transition.length_change
    low, high = (100.0 * j.case.compound.expansion_ratio.si * value for value in (record.si_low, record.si_high))
    lower, upper = (
        units.text("temperature", expansion.transition_temperature(ATMOSPHERE, which)) for which in PtfeTransition
    )
    where = "The seal works in another phase than that in which it was measured. " if j.crosses else ""
    return {
        "id": "ptfe_transition",
        "text": f"{where}PTFE changes its length by {low:.2g} to {high:.2g} % over its transitions at about {lower} and "
        f"{upper}, by its thermal history. Measure PTFE parts at a stated temperature away from them.",
    }
