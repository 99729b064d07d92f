"""Load, pressure and friction of a lip as plain formulas."""

from __future__ import annotations

import math

from glandwise.mechanics import contact
from glandwise.numerics.trace import Working
from glandwise.twofold import contact as before

from tests.mechanics.support import sound, told


def test_total_line_load() -> None:
    spans = {"q_lip": (0.0, 2e4), "q_spring": (0.0, 1e4), "q_p": (-5e4, 5e4)}
    sound(contact.total_line_load, spans, before.total_line_load)


def test_a_lip_that_is_lifted_says_what_it_rests_on() -> None:
    q = told(contact.total_line_load, 100.0, 50.0, -400.0)
    working = Working(q)
    assert q == 0.0
    assert [working.symbol(step) for step in working.steps] == ["q_lip", "q_spring", "q_p", "q"]
    assert working.equation(working.steps[-1]) == "max(q_lip + q_spring + q_p, 0)"


def test_pressure_line_load() -> None:
    spans = {"p": (-1e5, 5e7), "L_p": (1e-3, 2e-2), "b": (1e-4, 1e-3), "f_p": (0.0, 1.0)}
    sound(contact.pressure_line_load, spans, before.pressure_line_load)


def test_mean_contact_pressure() -> None:
    sound(contact.mean_contact_pressure, {"q": (0.0, 5e4), "b": (1e-5, 2e-3)}, before.mean_contact_pressure)
    assert told(contact.mean_contact_pressure, 100.0, 0.0) == math.inf


def test_friction() -> None:
    spans = {"mu": (0.01, 0.4), "q": (-1e3, 5e4), "d": (5e-3, 0.6), "n": (-50.0, 100.0)}
    sound(contact.friction, spans, before.friction)
