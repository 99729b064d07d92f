"""What machine code runs over a table of cases: running state and wear of each, with its three wear rates."""

from __future__ import annotations

from typing import Any

import numpy as np

from glandwise.case.numbers import Rules
from glandwise.mechanics.choices import LipRoot
from glandwise.physics.energizer import spring_of
from glandwise.physics.heat_balance import AROUND, Running, Surroundings, balance, surroundings_with
from glandwise.physics.lip import shape_of
from glandwise.physics.wear import Rates, Worn, lost_stiffness, rates_of, room_of, worn
from glandwise.questions.friction.kernel import put, put_around

OUT = np.dtype(
    [
        ("around", AROUND),
        *((name, "i8" if name == "state" else "f8") for name in Running._fields),
        ("spring_load", "f8"),
        ("room", "f8"),
        ("room_by", "i8"),
        ("lost_stiffness", "f8"),
        *((f"rate_{name}", "f8") for name in Rates._fields),
        *((f"worn_{name}", "f8") for name in Worn._fields),
    ],
    align=True,
)
"""Surroundings, running state, allowance and what sets it, wear rates, wear and lives."""


def wear(
    cases: Any,
    out: Any,
    stated: Any,
    stated_room: float,
    rules: Rules,
) -> None:
    """Find the wear of every case; ``stated`` are surroundings, ``stated_room`` a wear in place of those of the rules."""
    given = Surroundings(
        stated[0].ambient,
        stated[0].shaft_conductivity,
        stated[0].shaft_length,
        stated[0].fluid_film,
        stated[0].boils_at,
        stated[0].correlation,
    )
    time = rules.constants[0].nominal_time
    for i in range(len(cases)):
        case, row = cases[i], out[i]
        around = surroundings_with(case, rules, given)
        put_around(row.around, around)
        shape, spring = shape_of(case, rules), spring_of(case, rules, case.temperature)
        mu = rules.compounds[case.compound].friction[case.lubrication]
        running = balance(case, rules, around, spring.line_load, case.pressure, mu, time, LipRoot.elastic)
        put(row, running)
        row.spring_load = spring.line_load
        room, rates = room_of(case, rules, stated_room), rates_of(case, rules)
        row.room = room.depth
        row.room_by = room.by
        row.rate_low = rates.low
        row.rate_nominal = rates.nominal
        row.rate_high = rates.high
        k_w = lost_stiffness(case, rules, shape, spring, running.temperature, time)
        row.lost_stiffness = k_w
        found = worn(case, running, rates, k_w, room.depth)
        row.worn_depth_low = found.depth_low
        row.worn_depth_nominal = found.depth_nominal
        row.worn_depth_high = found.depth_high
        row.worn_in_1000_h_low = found.in_1000_h_low
        row.worn_in_1000_h = found.in_1000_h
        row.worn_in_1000_h_high = found.in_1000_h_high
        row.worn_long = found.long
        row.worn_nominal = found.nominal
        row.worn_short = found.short
