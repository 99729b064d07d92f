"""Sealed pressure against what the heel bridges over the gap behind it."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from glandwise.physics import extrusion
from glandwise.physics.temperatures import temperature_of
from glandwise.questions.arrays import Row
from glandwise.questions.envelope.measure import Measure, status_of, used
from glandwise.questions.gland.judged import RELATION

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules
    from glandwise.case.hardware import Hardware
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.questions.gland.judged import Found

DIMENSION = "gauge_pressure"
MISSING = ""


def at(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules, k: int) -> Measure:
    """Sealed pressure against what the heel bridges at a temperature; a vacuum counts as none.

    Returns
    -------
    p_in : Pa
        Sealed pressure.
    p_br : Pa
        Pressure that the heel bridges over the gap, which itself grows with that pressure.
    U_gap : -
        Use of that pressure.
    which : -
        Temperature.
    """
    T = temperature_of(case, hardware, k)
    p_in = extrusion.sealed(case)
    p_br = extrusion.bridged_at(case, hardware, rules, gland, T)
    return Measure(p_in, p_br, used(p_in, p_br), k + 0.0)


def measure(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules) -> Measure:
    """Sealed pressure against what the heel bridges at the worst temperature of the duty."""
    worst = at(case, hardware, rules, gland, 1)
    for k in range(2, 4):
        found = at(case, hardware, rules, gland, k)
        if found.capacity < worst.capacity:
            worst = found
    return worst


def place(which: float) -> tuple[int, ...]:
    """Return the temperature."""
    return (int(which),)


def status(found: Measure, caution_at: float, flow: float) -> str:
    """Return the status: above the pressure at which the surface flows into any gap it is no pass."""
    usual = status_of(found.utilization, caution_at)
    return "caution" if usual == "pass" and found.demand > flow else usual


def words(found: Found) -> str:
    """Say how the pressure lies to what the heel bridges."""
    m, units, k = found.measure, found.units, int(found.measure.which)
    opened, bridged = float(found.out["gap"][k]), float(found.out["bridged_gap"][k])
    gap = units.text("length", opened)
    if m.demand == 0.0:
        return f"No pressure drives the heel into the gap of {gap}."
    if opened == 0.0:
        return "The gap behind the seal is closed."
    bridges = units.text("length", bridged) if isfinite(bridged) else "any"
    where = f"a gap of {gap} at {found.at(k)}"
    text = f"{found.demand} is {RELATION[found.status]} the {found.capacity} that the heel bridges over {where}"
    if not isfinite(m.capacity):
        text = f"Over {where} the heel bridges {found.demand}, and more than {units.text(DIMENSION, extrusion.TOP)}"
    text += f"; it would bridge {bridges}."
    flow = flow_of(found.out)
    if m.demand > flow:
        text += (
            f" Above {units.text('gauge_pressure', flow)} the surface of the heel flows into any gap: expect nibbling; "
            "a close gap or a separate ring behind the heel keeps it small."
        )
    return text


def flow_of(out: Row) -> float:
    """Return the least pressure at which the surface of the heel flows into any gap [Pa]."""
    return float(out["flow"][1:].min())
