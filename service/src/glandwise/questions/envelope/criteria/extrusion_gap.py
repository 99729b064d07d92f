"""Sealed pressure against what the heel bridges over the closest gap behind it; the hardware is not stated here."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from glandwise.physics import extrusion
from glandwise.questions.envelope.measure import Judged, Measure, used

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State

DIMENSION = "gauge_pressure"
RATED = ""
MISSING = "The tables of tolerances end below this shaft."
ZONE = ("#f3e27c", "#7a6a00", "oo")


def measure(case: Case, rules: Rules, state: State, gland: GlandRules) -> Measure:
    """Sealed pressure against what the hot heel bridges over the closest throat of the rules.

    The gap is the wider of those at the normal and the highest temperature: in the cold the heel is many times as strong. Nothing
    that is not stated fails a seal: which throat the pressure asks for is a requirement on the drawing, and only what no throat
    that clears its shaft would stop is beyond. A vacuum counts as no pressure. Without a stated offset the shaft lies at one side.

    Returns
    -------
    p_in : Pa
        Sealed pressure.
    p_br : Pa
        Pressure that the heel bridges over the gap, which itself grows with that pressure.
    U_gap : -
        Use of that pressure.
    which : -
        Temperature of the widest gap.
    """
    throat = extrusion.closest_throat(case, rules, gland)
    p_in = extrusion.sealed(case)
    opening, which = extrusion.opening_at(case, throat, gland, case.temperature_max), 3.0
    other = extrusion.opening_at(case, throat, gland, case.temperature)
    if extrusion.widened(throat, other) > extrusion.widened(throat, opening):
        opening, which = other, 2.0
    heel = extrusion.heel_strength(case, rules, gland, case.temperature_max)
    p_br = extrusion.bridged_pressure(throat, gland, opening, heel, throat.heel)
    return Measure(p_in, p_br, used(p_in, p_br), which)


def words(found: Judged) -> str:
    """Say how the pressure lies to what the heel bridges."""
    m = found.measure
    if m.demand == 0.0:
        return "No pressure drives the heel into the gap behind it."
    over = "over the closest throat of the rules, with the shaft as far to one side as is stated or possible"
    if not isfinite(m.capacity):
        top = found.units.text(DIMENSION, extrusion.TOP)
        return f"The heel bridges {found.demand} {over}, and more than {top}."
    return (
        f"{found.demand} is {found.relation} the {found.capacity} that the heel bridges {over}; "
        "the hardware is not stated here, and the throat that is needed is a requirement on its drawing."
    )
