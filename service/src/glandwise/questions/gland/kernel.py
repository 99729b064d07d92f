"""What machine code runs over a table of cases with their hardware: every criterion of a gland, and every state."""

from __future__ import annotations

from typing import Protocol

import numpy as np

from glandwise.case import sizing
from glandwise.case.choices import LOOSEST, Retention
from glandwise.case.gland_numbers import GlandRules
from glandwise.case.hardware import Hardware
from glandwise.case.numbers import Rules
from glandwise.case.record import Case
from glandwise.mechanics.retention import bridged_gap
from glandwise.numerics.arithmetic import greatest
from glandwise.physics import extrusion
from glandwise.physics.o_ring import seat_at
from glandwise.physics.o_ring_choice import complete_ring
from glandwise.physics.retention import clamped_face, pressed_case, start_friction, turning
from glandwise.physics.temperatures import temperature_of
from glandwise.questions.arrays import Compiled, Floats
from glandwise.questions.envelope.measure import Measure
from glandwise.questions.gland.criteria import (
    clamp,
    extrusion_gap,
    o_ring_fill,
    o_ring_squeeze,
    o_ring_stretch,
    press_fit,
    seal_rotation,
)

MEASURED = (o_ring_squeeze, o_ring_stretch, o_ring_fill, press_fit, clamp, extrusion_gap, seal_rotation)
"""Criteria in the order in which the kernel measures them."""
IDS = tuple(module.__name__.rpartition(".")[2] for module in MEASURED)
TEMPERATURES, ENDS, STATES = 4, 3, 2 * seal_rotation.STATES

_SEATS, _CASES = (TEMPERATURES, ENDS), (TEMPERATURES, ENDS)
OUT = np.dtype(
    [
        *((name, "f8", (len(MEASURED),)) for name in ("demand", "capacity", "utilization", "which")),
        *((name, "f8", _SEATS) for name in ("squeeze", "squeeze_ratio", "stretch", "fill")),
        *((name, "f8", _CASES) for name in ("case_interference", "case_pressure", "case_stress", "bore_stress")),
        ("case_yields", "f8", _CASES),
        ("face_pressure", "f8"),
        ("face_allowed", "f8"),
        *((name, "f8", (TEMPERATURES,)) for name in ("gap", "bridged_gap", "bridged_pressure", "flow")),
        ("heel_standard", "f8"),
        ("heel_extended", "f8"),
        *((name, "f8", (STATES,)) for name in ("torque", "holding", "friction")),
        ("sealed", "f8"),
        ("beyond", "f8"),
    ],
    align=True,
)
"""What is known of a gland: a column a criterion, then by temperature and end of the tolerances, by state of rotation.

``beyond`` is 1 where a groove was looked for beyond the tables of tolerances.
"""


def put(row: np.record, at: int, m: Measure) -> None:
    """Write one measure."""
    row.demand[at] = m.demand
    row.capacity[at] = m.capacity
    row.utilization[at] = m.utilization
    row.which[at] = m.which


class Seats(Protocol):
    """A row as far as the O-ring goes, by temperature and end of the tolerances."""

    squeeze: Floats
    squeeze_ratio: Floats
    stretch: Floats
    fill: Floats


def put_seats(row: Seats, case: Case, hardware: Hardware, rules: Rules, gland: GlandRules) -> None:
    """Write the O-ring at every temperature and end of the tolerances."""
    for k in range(TEMPERATURES):
        for end in range(ENDS):
            seat = seat_at(case, hardware, rules, gland, temperature_of(case, hardware, k), end)
            row.squeeze[k, end] = seat.squeeze
            row.squeeze_ratio[k, end] = seat.squeeze_ratio
            row.stretch[k, end] = seat.stretch
            row.fill[k, end] = seat.fill


def put_cases(row: np.record, case: Case, hardware: Hardware, gland: GlandRules) -> None:
    """Write the pressed-in case at every temperature and end of the tolerances."""
    for k in range(TEMPERATURES):
        for end in range(LOOSEST, ENDS):
            found = pressed_case(hardware, gland, temperature_of(case, hardware, k), end)
            row.case_interference[k, end] = found.interference
            row.case_pressure[k, end] = found.pressure
            row.case_stress[k, end] = found.case_stress
            row.bore_stress[k, end] = found.bore_stress
            row.case_yields[k, end] = found.yields


def put_gap(row: np.record, case: Case, hardware: Hardware, rules: Rules, gland: GlandRules) -> None:
    """Write the gap behind the seal at every temperature of the duty, and what other heels would bridge."""
    p, n = extrusion.sealed(case), gland.constants[0].planes
    row.heel_standard = row.heel_extended = np.inf
    for k in range(1, TEMPERATURES):
        T = temperature_of(case, hardware, k)
        opening = extrusion.opening_at(case, hardware, gland, T)
        heel = extrusion.heel_strength(case, rules, gland, T)
        row.gap[k] = extrusion.gap_under(hardware, opening, p)
        bridged = bridged_gap(p, hardware.heel, heel.tension, heel.shear, n)
        row.bridged_gap[k] = bridged if bridged < hardware.bore else np.inf  # beyond the bore it says nothing
        row.bridged_pressure[k] = extrusion.bridged_pressure(hardware, gland, opening, heel, hardware.heel)
        row.flow[k] = extrusion.flow_pressure(heel)
        standard = extrusion.bridged_pressure(hardware, gland, opening, heel, hardware.heel_standard)
        extended = extrusion.bridged_pressure(hardware, gland, opening, heel, hardware.heel_extended)
        if standard < row.heel_standard:
            row.heel_standard = standard
        if extended < row.heel_extended:
            row.heel_extended = extended


def put_states(row: np.record, case: Case, there: Case, hardware: Hardware, rules: Rules, gland: GlandRules) -> None:
    """Write the torques of every state, without and with the sealed pressure."""
    for is_seated in range(2):
        for state in range(seal_rotation.STATES):
            at = seal_rotation.STATES * is_seated + state
            found = turning(case, there, hardware, rules, gland, state, is_seated)
            row.torque[at] = found.torque
            row.holding[at] = found.holding
            row.friction[at] = start_friction(case, rules, gland, state)


def fitted(
    cases: Compiled,
    elsewhere: Compiled,
    hardware: Compiled,
    out: Compiled,
    rules: Rules,
    gland: GlandRules,
) -> None:
    """Choose O-ring, groove and clamp force where none is stated, and measure every criterion of every gland.

    ``elsewhere`` are the same cases once more, to be looked at in another state.
    """
    for i in range(len(cases)):
        case, there, around, row = cases[i], elsewhere[i], hardware[i], out[i]
        sizing.complete(case, rules)
        sizing.complete(there, rules)
        row.sealed = greatest(case.pressure, 0.0)
        if around.retention == Retention.o_ring:
            row.beyond = complete_ring(case, around, rules, gland)
            put(row, 0, o_ring_squeeze.measure(case, around, rules, gland))
            put(row, 1, o_ring_stretch.measure(case, around, rules, gland))
            put(row, 2, o_ring_fill.measure(case, around, rules, gland))
            put_seats(row, case, around, rules, gland)
        elif around.retention == Retention.press_fit_case:
            put(row, 3, press_fit.measure(case, around, rules, gland))
            put_cases(row, case, around, gland)
        else:
            face = clamped_face(case, around, rules, gland)
            around.clamp_force = face.force
            put(row, 4, clamp.measure(case, around, rules, gland))
            row.face_pressure = face.pressure
            row.face_allowed = face.allowed
        put(row, 5, extrusion_gap.measure(case, around, rules, gland))
        put_gap(row, case, around, rules, gland)
        put(row, 6, seal_rotation.measure(case, there, around, rules, gland))
        put_states(row, case, there, around, rules, gland)
