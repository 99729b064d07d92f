"""Load, pressure and friction of a lip as plain formulas."""

from __future__ import annotations

import math

import numpy as np
import pytest
from glandwise.mechanics import contact
from glandwise.numerics.over import Over
from glandwise.numerics.trace import Working
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from tests.mechanics.support import sound, told

plain = Over(contact)
"""Its formulas over arrays."""


def test_total_line_load() -> None:
    spans = {"q_lip": (0.0, 2e4), "q_spring": (0.0, 1e4), "q_p": (-5e4, 5e4)}
    sound(contact.total_line_load, spans)


def test_a_lip_that_is_lifted_says_what_it_rests_on() -> None:
    q = told(contact.total_line_load, 100.0, 50.0, -400.0)
    working = Working(q)
    assert q == 0.0
    assert [working.symbol(step) for step in working.steps] == ["q_lip", "q_spring", "q_p", "q"]
    assert working.equation(working.steps[-1]) == "max(q_lip + q_spring + q_p, 0)"


def test_pressure_line_load() -> None:
    spans = {"p": (-1e5, 5e7), "L_p": (1e-3, 2e-2), "b": (1e-4, 1e-3), "f_p": (0.0, 1.0)}
    sound(contact.pressure_line_load, spans)


def test_mean_contact_pressure() -> None:
    sound(contact.mean_contact_pressure, {"q": (0.0, 5e4), "b": (1e-5, 2e-3)})
    assert told(contact.mean_contact_pressure, 100.0, 0.0) == math.inf


def test_friction() -> None:
    spans = {"mu": (0.01, 0.4), "q": (-1e3, 5e4), "d": (5e-3, 0.6), "n": (-50.0, 100.0)}
    sound(contact.friction, spans)


loads = st.floats(0.0, 2e4)


def test_a_lip_does_not_pull() -> None:
    assert plain.total_line_load(500.0, 200.0, -900.0) == 0.0
    assert plain.total_line_load(500.0, 200.0, -100.0) == 600.0
    assert plain.total_line_load(np.array([500.0, 1.0]), 0.0, -2.0).tolist() == [498.0, 0.0]


def test_pressure_load_is_what_a_cut_through_the_lip_carries() -> None:
    # pressure on the outer face less a linear film pressure under the contact, summed by quadrature
    pressure, length, width = 2e6, 1.5e-3, 0.4e-3
    outer = pressure * length
    film = quad(lambda x: pressure * (1 - x / width), 0.0, width)[0]
    load = plain.pressure_line_load(pressure, length, width, 0.5)
    assert load == pytest.approx(outer - film, rel=1e-12)


@given(st.floats(1e4, 1e8), st.floats(1e-4, 1e-2), st.floats(0.0, 1.0))
def test_pressure_load_lies_between_its_two_bounds(pressure: float, length: float, share: float) -> None:
    width = share * length
    tight, linear, open_ = (plain.pressure_line_load(pressure, length, width, factor) for factor in (0.0, 0.5, 1.0))
    assert tight >= linear >= open_ >= 0.0


def test_vacuum_lifts_an_energized_lip() -> None:
    assert plain.pressure_line_load(-1e5, 1e-3, 2e-4, 0.5) < 0.0


@given(st.floats(0.0, 1.0), loads, st.floats(1e-3, 1.0), st.floats(-100.0, 100.0))
def test_friction_is_consistent_in_itself(mu: float, load: float, diameter: float, turns: float) -> None:
    result = plain.friction(mu, load, diameter, turns)
    speed = math.pi * diameter * abs(turns)
    assert result.force == pytest.approx(mu * result.radial_load, rel=1e-14)
    assert result.torque == pytest.approx(mu * load * 2 * math.pi * (diameter / 2) ** 2, rel=1e-13)
    assert result.power == pytest.approx(result.force * speed, rel=1e-13)
    assert min(result) >= 0.0


def test_torque_grows_with_the_square_of_the_diameter_and_power_with_speed() -> None:
    one, two = plain.friction(0.1, 1000.0, 0.02, 10.0), plain.friction(0.1, 1000.0, 0.04, 10.0)
    assert two.torque / one.torque == pytest.approx(4.0, rel=1e-15)
    assert plain.friction(0.1, 1000.0, 0.02, 30.0).power / one.power == pytest.approx(3.0, rel=1e-15)


def test_an_open_contact_has_no_friction() -> None:
    assert plain.friction(0.1, -50.0, 0.02, 10.0) == (0.0, 0.0, 0.0, 0.0)


def test_pressure_without_width_is_infinite_and_harmless() -> None:
    assert plain.mean_contact_pressure(100.0, 0.0) == math.inf
    assert plain.mean_contact_pressure(100.0, 5e-4) == 2e5
