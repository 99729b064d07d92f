"""What machine code runs over a table of cases: every criterion, friction and wear of each row."""

from __future__ import annotations

import numpy as np

from glandwise.case.gland_numbers import GlandRules
from glandwise.case.numbers import Rules
from glandwise.physics.state import state_of
from glandwise.questions.arrays import Compiled
from glandwise.questions.envelope.criteria import (
    contact_load,
    contact_pressure_velocity,
    contact_temperature,
    extrusion_gap,
    life,
    lip_stress,
    offset,
    pressure,
    pressure_velocity,
    root_clearance,
    runout,
    seal_rotation,
    shaft_hardness,
    shaft_roughness,
    surface_speed,
    temperature_high,
    temperature_low,
    vacuum,
)
from glandwise.questions.envelope.measure import Measure

MEASURED = (
    surface_speed,
    pressure,
    vacuum,
    pressure_velocity,
    contact_temperature,
    contact_pressure_velocity,
    lip_stress,
    temperature_low,
    temperature_high,
    runout,
    offset,
    shaft_hardness,
    shaft_roughness,
    extrusion_gap,
    life,
    contact_load,
    root_clearance,
    seal_rotation,
)
"""Criteria with numbers, in the order in which the kernel measures them."""
OF_HARDWARE = ("extrusion_gap", "seal_rotation")
"""Those that look at the hardware: they take the numbers of the rules for glands, too."""
IDS = tuple(module.__name__.rpartition(".")[2] for module in MEASURED)
_WIDTH = (len(MEASURED),)
OUT = np.dtype(
    [
        ("demand", "f8", _WIDTH),
        ("capacity", "f8", _WIDTH),
        ("utilization", "f8", _WIDTH),
        ("which", "f8", _WIDTH),
        ("torque", "f8"),
        ("spring_load", "f8"),
        ("wear_rate", "f8"),
        ("life", "f8"),
        ("alike", "i8"),
    ],
    align=True,
)
"""What is known of a case: a column a criterion, then friction torque, load of the energizer, wear and life.

``alike`` is given: whether the case has the lip, the energizer, the materials and the duty of the one before.
"""


def put(row: np.record, at: int, m: Measure) -> None:
    """Write one measure."""
    row.demand[at] = m.demand
    row.capacity[at] = m.capacity
    row.utilization[at] = m.utilization
    row.which[at] = m.which


def envelope(cases: Compiled, out: Compiled, rules: Rules, gland: GlandRules) -> None:
    """Measure every criterion of every case; the cases are filled in."""
    for i in range(len(cases)):
        case, row = cases[i], out[i]
        if i == 0 or row.alike == 0:
            state = state_of(case, rules)
        if i == 0 or row.alike == 0 or case.elastomer != cases[i - 1].elastomer:
            turning = seal_rotation.measure(case, rules, state, gland)
        if i == 0 or row.alike == 0 or case.heel != cases[i - 1].heel:
            gap = extrusion_gap.measure(case, rules, state, gland)
        put(row, 0, surface_speed.measure(case, rules, state))
        put(row, 1, pressure.measure(case, rules, state))
        put(row, 2, vacuum.measure(case, rules, state))
        put(row, 3, pressure_velocity.measure(case, rules, state))
        put(row, 4, contact_temperature.measure(case, rules, state))
        put(row, 5, contact_pressure_velocity.measure(case, rules, state))
        put(row, 6, lip_stress.measure(case, rules, state))
        put(row, 7, temperature_low.measure(case, rules, state))
        put(row, 8, temperature_high.measure(case, rules, state))
        put(row, 9, runout.measure(case, rules, state))
        put(row, 10, offset.measure(case, rules, state))
        put(row, 11, shaft_hardness.measure(case, rules, state))
        put(row, 12, shaft_roughness.measure(case, rules, state))
        put(row, 13, gap)
        put(row, 14, life.measure(case, rules, state))
        put(row, 15, contact_load.measure(case, rules, state))
        put(row, 16, root_clearance.measure(case, rules, state))
        put(row, 17, turning)
        row.torque = state.running.torque
        row.spring_load = state.spring.line_load
        row.wear_rate = state.worn.rate
        row.life = state.worn.life
