"""The contact in running: friction heats it, warmth softens and relaxes the lip, which lowers the friction.

Load, friction and temperature hang together: PTFE softens as it warms, so the load falls, and with it the heat; the fluid
thins, so that less of the load is borne by a film. The contact temperature is where heat made and heat carried away balance.
"""

from __future__ import annotations

from math import inf, nan, pi
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from glandwise.case.lip_fit import interference_at
from glandwise.case.sizing import chosen_or, stated_or
from glandwise.mechanics.choices import LipState
from glandwise.mechanics.contact import friction, mean_contact_pressure
from glandwise.mechanics.films import boiling_film
from glandwise.mechanics.heat import (
    behind,
    dry_air,
    fin_conductance,
    join,
    plane_wall_conductance,
    ring_constriction,
    series,
    shaft_film,
)
from glandwise.numerics.arithmetic import greatest, least
from glandwise.numerics.fixed_point import next_guess
from glandwise.physics.constants import ATMOSPHERE, HOTTEST, STILL
from glandwise.physics.fluid_film import wetted_shaft
from glandwise.physics.lip import by_parts, relaxed_modulus, second_load, touching
from glandwise.physics.lubrication import boiling_at, film_at, friction_at

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case

TOLERANCE = 0.01
"""Imbalance of the contact temperature taken as solved [K]."""
PASSES = 50


class Surroundings(NamedTuple):
    """What carries the heat away."""

    ambient: float
    shaft_conductivity: float
    shaft_length: float
    fluid_film: float
    boils_at: float
    """Temperature at which the fluid boils away from the shaft; infinite for all but liquefied gases."""
    correlation: int


AROUND = np.dtype(
    [
        ("ambient", "f8"),
        ("shaft_conductivity", "f8"),
        ("shaft_length", "f8"),
        ("fluid_film", "f8"),
        ("boils_at", "f8"),
        ("correlation", "i8"),
    ],
    align=True,
)
"""Surroundings as a row of a table."""


class Running(NamedTuple):
    """State of the main lip in running; NaN where no balance was found."""

    temperature: float
    """Contact temperature [K]."""
    sink: float
    """Temperature without friction [K]."""
    conductance: float
    """Heat carried off per kelvin [W/K]."""
    lip: float
    """Contact load by the lip itself [N/m]."""
    energizer: float
    """Contact load by the energizer [N/m]."""
    pressure: float
    """Contact load by the pressure [N/m]."""
    load: float
    """Contact load of the main lip [N/m]."""
    second_load: float
    """Contact load of the second lip [N/m]."""
    solid_load: float
    """Contact load of the main lip that solid contact bears, without the film under it [N/m]."""
    width: float
    """Contact width of the main lip [m]."""
    contact_pressure: float
    """Mean contact pressure of the main lip [Pa]."""
    state: LipState
    """How the lip stands."""
    torque: float
    """Of both lips [N m]."""
    power: float
    """Of both lips [W]."""
    viscosity: float
    """Of the fluid where the lip rubs; 0 where nothing wets it [Pa s]."""
    duty_number: float
    """Viscosity times angular speed over mean contact pressure, as far as the lip is supplied [-]."""
    film_share: float
    """Share of the load that solid contact bears [-]."""
    friction: float
    """Friction coefficient of the main lip as it runs [-]."""
    second_friction: float
    """Friction coefficient of the second lip as it runs [-]."""
    passes: float
    """Passes of the search."""
    beyond: float
    """1 where even at the hottest temperature looked at more heat is made than carried away."""

    @property
    def converged(self) -> bool:
        """Whether a balance was found."""
        return self.temperature == self.temperature

    @property
    def hottest(self) -> float:
        """Contact temperature [K]; infinite where friction finds no balance, 0 where it is not known."""
        if self.temperature == self.temperature:
            return self.temperature
        return inf if self.beyond > 0.0 else 0.0


def surroundings(case: Case, rules: Rules) -> Surroundings:
    """What carries the heat away where nothing else is stated.

    The air side is at room temperature, or as warm as a machine whose fluid is hot makes it.

    Returns
    -------
    T_amb : K
        Temperature on the air side.
    k_shaft : W/(m·K)
        Conductivity of the shaft.
    L_shaft : m
        Length of shaft that carries heat, each side.
    h_fluid : W/(m²·K)
        Film coefficient of the wetted shaft.
    T_away : K
        Temperature at which the fluid boils away from the shaft.
    correlation : -
        Film of a turning shaft.
    """
    constants = rules.constants[0]
    wetted = wetted_shaft(case, rules)
    T_warm = case.temperature - constants.air_side_below  # air side of a hot machine
    return Surroundings(
        greatest(constants.ambient_temperature, T_warm),
        rules.shaft_materials[case.shaft_material].thermal_conductivity,
        constants.shaft_length_ratio * case.shaft_diameter,
        wetted.film,
        wetted.boils_at,
        constants.film_correlation,
    )


def _boils_at(h: float, T_away: float) -> float:
    """A film coefficient that is stated holds whatever boils."""
    if h == h:
        return inf
    return T_away


def surroundings_with(case: Case, rules: Rules, stated: Surroundings) -> Surroundings:
    """What carries the heat away, what is stated in place of the usual; what is not is NaN, a correlation -1.

    Returns
    -------
    T_amb : K
        Temperature on the air side.
    k_shaft : W/(m·K)
        Conductivity of the shaft.
    L_shaft : m
        Length of shaft that carries heat, each side.
    h_fluid : W/(m²·K)
        Film coefficient of the wetted shaft.
    T_away : K
        Temperature at which the fluid boils away from the shaft.
    correlation : -
        Film of a turning shaft.
    """
    usual = surroundings(case, rules)
    return Surroundings(
        stated_or(stated.ambient, usual.ambient),
        stated_or(stated.shaft_conductivity, usual.shaft_conductivity),
        stated_or(stated.shaft_length, usual.shaft_length),
        stated_or(stated.fluid_film, usual.fluid_film),
        _boils_at(stated.fluid_film, usual.boils_at),
        chosen_or(stated.correlation, usual.correlation),
    )


def unknown(passes: float, beyond: float) -> Running:
    """Return the state where no balance was found."""
    return Running(
        nan,
        nan,
        nan,
        nan,
        nan,
        nan,
        nan,
        nan,
        nan,
        nan,
        nan,
        LipState.unknown,
        nan,
        nan,
        nan,
        nan,
        nan,
        nan,
        nan,
        passes,
        beyond,
    )


def balance(
    case: Case,
    rules: Rules,
    around: Surroundings,
    q_e: float,
    p: float,
    mu_b: float,
    C: float,
    t_load: float,
    root: int,
) -> Running:
    """Contact temperature at which the heat made is carried away, and what the lip does there.

    The second lip has the film of its own load: the pressure that lifts or presses the main lip does not reach it.

    Parameters
    ----------
    q_e : N/m
        Load of the energizer.
    p : Pa
        Sealed pressure, gauge.
    mu_b : -
        Friction coefficient where solid contact bears all of the load.
    C : -
        Friction of a full film over the cube root of the duty number.
    t_load : s
        Time under load.
    root : LipRoot
        What the root of the lip does.

    Returns
    -------
    T_c : K
        Contact temperature.
    T_sink : K
        Temperature without friction.
    G : W/K
        Heat carried off per kelvin.
    q_lip : N/m
        Load of the lip itself, relaxed.
    q_spring : N/m
        Load of the energizer at the lip.
    q_p : N/m
        Load by the sealed pressure.
    q : N/m
        Contact load of the main lip.
    q_2 : N/m
        Contact load of the second lip.
    q_s : N/m
        Contact load of the main lip that solid contact bears.
    b : m
        Contact width of the main lip.
    p_c : Pa
        Mean contact pressure of the main lip.
    state : LipState
        How the lip stands.
    M : N·m
        Friction torque of both lips.
    P : W
        Frictional heat of both lips.
    eta : Pa·s
        Viscosity where the lip rubs.
    G_d : -
        Duty number.
    phi : -
        Share of the load that solid contact bears.
    mu : -
        Friction coefficient of the main lip as it runs.
    mu_2 : -
        Friction coefficient of the second lip as it runs.
    passes : -
        Passes of the search.
    beyond : -
        Whether no balance lies below the hottest temperature looked at.

    References
    ----------
    Conductances in row and side by side, Thévenin (models/heat).
    """
    d, n, T = case.shaft_diameter, case.rotational_speed, case.temperature
    T_amb, k, h = around.ambient, around.shaft_conductivity, around.fluid_film
    constants = rules.constants[0]

    # ways of the heat that do not depend on the contact temperature
    t_way = case.lip_thickness * constants.housing_length_ratio  # way of the heat through the lip
    k_lip = rules.compounds[case.compound].thermal_conductivity
    G_wet = fin_conductance(d, k, h, around.shaft_length)
    T_sat = boiling_at(case, rules)

    # heat is made, never taken up: no balance lies below the colder end of the ways out
    T_low = least(T, T_amb)
    T_c, T_left, f_left, T_right, f_right, side = T_low, T_low, 0.0, float(HOTTEST), 0.0, 0.0
    for i in range(PASSES):
        dT = greatest(T_c - T_amb, STILL)  # shaft over air
        air = dry_air(0.5 * (T_c + T_amb), ATMOSPHERE)
        h_air = shaft_film(d, n, air.conductivity, air.viscosity, air.prandtl, air.expansion, dT, around.correlation)
        G_air = fin_conductance(d, k, h_air, around.shaft_length)
        G_boil = G_wet
        if T_c > around.boils_at:
            h_boil = boiling_film(T_c - around.boils_at, constants.boiling_superheat, h, constants.vapour_film)
            G_boil = fin_conductance(d, k, h_boil, around.shaft_length)
        sides = join(G_boil, T, G_air, T_amb)
        i_T = interference_at(case, rules, T_c)
        E_t = relaxed_modulus(case, rules, T_c, t_load)
        lip = touching(case, rules, T_c, i_T, E_t, p, q_e, root)
        A_c = pi * d * lip.width  # area of the contact
        R_c = ring_constriction(d, lip.width, k)
        G_lip = plane_wall_conductance(A_c, t_way, k_lip)
        G_back = series(G_lip, h * A_c)
        G_shaft = behind(R_c, sides.conductance)
        ways = join(G_shaft, sides.temperature, G_back, T)
        q_2 = second_load(case, rules, T_c, i_T, E_t, p, q_e, root, lip)
        film = film_at(case, rules, lip.solid, lip.width, T_c, T_sat)
        mu = friction_at(case, rules, film, mu_b, C)
        made = friction(mu, lip.solid, d, n)
        if q_2 > 0.0:
            behind_it = film_at(case, rules, q_2, case.contact_width, T_c, T_sat)  # film under the second lip
            mu_2 = friction_at(case, rules, behind_it, mu_b, C)
            also = friction(mu_2, q_2, d, n)
            M = made.torque + also.torque  # friction torque of both lips
            P = made.power + also.power  # frictional heat of both lips
        else:
            M, P, mu_2 = made.torque, made.power, mu_b
        dT_made = P / ways.conductance  # rise by the heat made
        T_next = ways.temperature + dT_made  # temperature that the heat made gives
        residual = T_next - T_c  # imbalance
        if abs(residual) <= TOLERANCE:
            p_c = mean_contact_pressure(lip.solid, lip.width)
            by = by_parts(case, rules, T_c, i_T, E_t, p, q_e, root, lip)
            T_sink = ways.temperature  # temperature without friction
            G = ways.conductance  # heat carried off per kelvin
            return Running(
                T_c, T_sink, G, by.lip, by.energizer, by.pressure, lip.load, q_2, lip.solid, lip.width, p_c,
                lip.state, M, P, film.viscosity, film.duty_number, film.share, mu, mu_2,
                i + 1.0, 0.0,
            )  # fmt: skip
        # a guess too hot, where the root touches, is no answer yet
        if residual != residual and T_c - T_left <= TOLERANCE:
            return unknown(i + 1.0, 0.0)
        T_last = T_c
        T_c, T_left, f_left, T_right, f_right, side = next_guess(
            T_c, residual, T_left, f_left, T_right, f_right, side, TOLERANCE
        )
        if T_c == T_last:
            return unknown(i + 1.0, 1.0 if T_last >= HOTTEST and residual > TOLERANCE else 0.0)
    return unknown(PASSES + 0.0, 0.0)
