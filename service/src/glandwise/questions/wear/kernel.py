"""What machine code runs over a table of cases: running state and wear of each, with its three wear rates."""

from __future__ import annotations

import numpy as np

from glandwise.case.numbers import Rules
from glandwise.mechanics.choices import LipRoot
from glandwise.physics.energizer import spring_of
from glandwise.physics.heat_balance import AROUND, Running, Surroundings, balance, surroundings_with
from glandwise.physics.lip import shape_of
from glandwise.physics.wear import Ends, Rates, Wearing, ends_of, rates_of, room_of, target_of, wearing_of
from glandwise.questions.arrays import Compiled
from glandwise.questions.friction.kernel import put, put_around

OUT = np.dtype(
    [
        ("around", AROUND),
        *((name, "i8" if name == "state" else "f8") for name in Running._fields),
        ("spring_load", "f8"),
        ("room_lip", "f8"),
        ("room_energizer", "f8"),
        ("target", "f8"),
        *((f"rate_{name}", "f8") for name in Rates._fields),
        *((f"worn_{name}", "f8") for name in Wearing._fields),
        *((f"ends_{name}", "f8") for name in Ends._fields),
    ],
    align=True,
)
"""Surroundings, running state, depths that may wear, life wanted, wear rates, wear and lives."""


def wear(
    cases: Compiled,
    out: Compiled,
    stated: Compiled,
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
        mu, C = rules.compounds[case.compound].friction[case.medium], rules.constants[0].film_friction
        running = balance(case, rules, around, spring.line_load, case.pressure, mu, C, time, LipRoot.elastic)
        put(row, running)
        row.spring_load = spring.line_load
        room = room_of(case, rules, stated_room)
        rates = rates_of(case, rules, running.temperature)
        row.room_lip = room.lip
        row.room_energizer = room.energizer
        row.rate_low = rates.low
        row.rate_nominal = rates.nominal
        row.rate_high = rates.high
        found = wearing_of(case, rules, shape, spring, running, room, time)
        row.worn_rate = found.rate
        row.worn_in_1000_h = found.in_1000_h
        row.worn_pressure = found.pressure
        row.worn_share = found.share
        row.worn_to_depth = found.to_depth
        row.worn_to_travel = found.to_travel
        row.worn_to_half_load = found.to_half_load
        row.worn_to_lost_load = found.to_lost_load
        row.worn_life = found.life
        row.worn_spread = found.spread
        row.worn_by = found.by
        row.target = target_of(case, rules)
        ends = ends_of(found.life, found.spread, row.target)
        row.ends_short = ends.short
        row.ends_sure = ends.sure
        row.ends_median = ends.median
        row.ends_long = ends.long
        row.ends_probability = ends.probability
