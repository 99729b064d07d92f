"""What machine code runs over a table of cases: the running state of each with its friction after its time."""

from __future__ import annotations

import numpy as np

from glandwise.case.numbers import Rules
from glandwise.physics.energizer import spring_of
from glandwise.physics.friction import LipFriction, level
from glandwise.physics.heat_balance import AROUND, Running, Surroundings, surroundings_with
from glandwise.physics.temperatures import hottest_contact
from glandwise.questions.arrays import Compiled

_RUNNING = tuple(Running._fields)
_LIP = tuple(LipFriction._fields)
OUT = np.dtype(
    [
        ("mu", "f8"),
        ("film_friction", "f8"),
        ("time", "f8"),
        ("root", "i8"),
        ("around", AROUND),
        *((name, "i8" if name == "state" else "f8") for name in _RUNNING),
        *((f"{lip}_{name}", "f8") for lip in ("main", "second") for name in _LIP),
        ("spring_load", "f8"),
        ("limit", "f8"),
        ("limit_by", "f8"),
    ],
    align=True,
)
"""Friction of solid contact and of a film, time and what the root does to be filled in; then the surroundings, the running state, each lip,
the energizer, the highest temperature of the contact and what sets it."""


def put(row: np.record, running: Running) -> None:
    """Write a running state."""
    row.temperature = running.temperature
    row.sink = running.sink
    row.conductance = running.conductance
    row.lip = running.lip
    row.energizer = running.energizer
    row.pressure = running.pressure
    row.load = running.load
    row.second_load = running.second_load
    row.solid_load = running.solid_load
    row.width = running.width
    row.contact_pressure = running.contact_pressure
    row.state = running.state
    row.torque = running.torque
    row.power = running.power
    row.viscosity = running.viscosity
    row.duty_number = running.duty_number
    row.film_share = running.film_share
    row.friction = running.friction
    row.second_friction = running.second_friction
    row.passes = running.passes
    row.beyond = running.beyond


def put_around(row: np.record, around: Surroundings) -> None:
    """Write the surroundings."""
    row.ambient = around.ambient
    row.shaft_conductivity = around.shaft_conductivity
    row.shaft_length = around.shaft_length
    row.fluid_film = around.fluid_film
    row.boils_at = around.boils_at
    row.correlation = around.correlation


def friction(
    cases: Compiled,
    out: Compiled,
    stated: Compiled,
    rules: Rules,
) -> None:
    """Find the running state of every case; ``stated`` are surroundings in place of those of the rules."""
    given = Surroundings(
        stated[0].ambient,
        stated[0].shaft_conductivity,
        stated[0].shaft_length,
        stated[0].fluid_film,
        stated[0].boils_at,
        stated[0].correlation,
    )
    for i in range(len(cases)):
        case, row = cases[i], out[i]
        around = surroundings_with(case, rules, given)
        spring = spring_of(case, rules, case.temperature)
        found = level(case, rules, spring, around, row.mu, row.film_friction, row.time, row.root)
        put_around(row.around, around)
        put(row, found.running)
        row.main_contact_pressure = found.main.contact_pressure
        row.main_torque = found.main.torque
        row.main_power = found.main.power
        row.second_contact_pressure = found.second.contact_pressure
        row.second_torque = found.second.torque
        row.second_power = found.second.power
        row.spring_load = spring.line_load
        highest = hottest_contact(case, rules)
        row.limit = highest.temperature
        row.limit_by = highest.which
