"""What the fluid does between lip and shaft: viscosity where the lip rubs, duty number, share of solid contact, friction."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.choices import Lubrication
from glandwise.mechanics.choices import Motion
from glandwise.mechanics.films import saturation_temperature
from glandwise.mechanics.lubrication import (
    boiling_share,
    duty_number,
    film_friction,
    floor_share,
    mixed_friction,
    share_of,
    slow_share,
    viscous_stress,
)
from glandwise.mechanics.viscosity import liquid_viscosity
from glandwise.numerics.arithmetic import greatest, least
from glandwise.physics.constants import ATMOSPHERE, LEAST_PRESSURE

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case


class Film(NamedTuple):
    """What a film does at one temperature of the contact."""

    viscosity: float
    """[Pa s]"""
    duty_number: float
    share: float
    """Share of the load that solid contact bears."""


def motion_of(case: Case) -> int:
    """Whether the shaft turns or swings."""
    if case.half_amplitude == case.half_amplitude:
        return Motion.swinging
    return Motion.turning


def supply_factor(case: Case, rules: Rules) -> float:
    """How much of the duty number of a flooded lip is left by the way it is supplied.

    Returns
    -------
    f_G : -
        Duty number over that of a flooded lip; 0 where nothing carries it.
    """
    constants = rules.constants[0]
    if case.lubrication == Lubrication.flooded:
        return 1.0
    if case.lubrication == Lubrication.grease:
        return constants.supply_grease
    if case.lubrication == Lubrication.mist:
        return constants.supply_mist
    if case.lubrication == Lubrication.starved:
        return constants.supply_starved
    return 0.0


def viscosity_at(case: Case, rules: Rules, T: float) -> float:
    """Viscosity of the fluid that wets the lip, held beyond the reach of its points and beyond a greatest one.

    Parameters
    ----------
    T : K
        Temperature.

    Returns
    -------
    eta : Pa·s
        Viscosity where the lip rubs.

    References
    ----------
    Laws by points (models/viscosity); the reach is a house estimate.
    """
    fluid, constants = rules.fluids[case.lubricant], rules.constants[0]
    T_eta = least(greatest(T, fluid.T_1 - constants.reach_cold), fluid.hottest + constants.reach_hot)
    eta_T = liquid_viscosity(
        fluid.viscosity_form, T_eta, fluid.T_1, fluid.eta_1, fluid.T_2, fluid.eta_2, fluid.T_3, fluid.eta_3,
        fluid.density, fluid.volume_expansion,
    )  # fmt: skip
    return least(eta_T, constants.greatest_viscosity)


def boiling_at(case: Case, rules: Rules) -> float:
    """Temperature at which the fluid that wets the lip boils at the sealed pressure.

    Returns
    -------
    T_sat : K
        Boiling point; infinite where the fluid does not boil or it is not known.

    References
    ----------
    Clausius and Clapeyron, integrated (models/films).
    """
    fluid = rules.fluids[case.lubricant]
    if fluid.boiling_point != fluid.boiling_point:
        return inf
    p_abs = greatest(ATMOSPHERE + case.pressure, LEAST_PRESSURE)  # absolute pressure
    return saturation_temperature(p_abs, ATMOSPHERE, fluid.boiling_point, fluid.molar_mass, fluid.heat_of_vaporization)


def least_share(case: Case, rules: Rules) -> float:
    """Share of the load that solid contact bears in a full film of the fluid.

    Returns
    -------
    f_0 : -
        Share that solid contact bears at the least.
    """
    fluid, constants = rules.fluids[case.lubricant], rules.constants[0]
    if fluid.film_floor == fluid.film_floor:
        return fluid.film_floor
    if fluid.solids > 0:
        return constants.full_film_share_particles
    return constants.full_film_share


def angular_speed(case: Case) -> float:
    """Angular speed of the shaft, of a swing the greatest.

    Returns
    -------
    omega_G : rad/s
        Angular speed of the duty number.

    References
    ----------
    Definition.
    """
    return 2.0 * case.peak_speed / case.shaft_diameter


def film_at(case: Case, rules: Rules, q: float, b: float, T: float, T_sat: float) -> Film:
    """What a film does for a lip: nothing in gas and at rest, most of the work at speed in oil.

    Parameters
    ----------
    q : N/m
        Line load of the lip.
    b : m
        Width of the contact.
    T : K
        Temperature of the contact.
    T_sat : K
        Temperature at which the fluid boils.

    Returns
    -------
    eta : Pa·s
        Viscosity where the lip rubs.
    G_d : -
        Duty number.
    phi : -
        Share of the load borne by solid contact.

    References
    ----------
    Lubrication as a state (models/lubrication).
    """
    if case.lubrication == Lubrication.dry:
        return Film(0.0, 0.0, 1.0)
    if q <= 0.0:
        return Film(0.0, 0.0, 1.0)
    constants = rules.constants[0]
    eta = viscosity_at(case, rules, T)
    omega_G = angular_speed(case)
    f_G = supply_factor(case, rules)
    S = viscous_stress(f_G, eta, omega_G)
    G_d = duty_number(S, q, b)
    f_0 = least_share(case, rules)
    if T_sat < inf:
        w = boiling_share(T, T_sat, constants.boiling_distance)  # share of the film lost by boiling
        f_0 = floor_share(f_0, w)
    motion = motion_of(case)
    phi = share_of(motion, G_d, constants.duty_number_half, f_0)
    if motion == Motion.swinging:
        phi = slow_share(phi, case.surface_speed, constants.reversal_speed, constants.reversal_floor)
    return Film(eta, G_d, phi)


def friction_at(case: Case, rules: Rules, film: Film, mu_b: float, C: float) -> float:
    """Friction coefficient of the lip: solid contact and film side by side; one that the request measured as it is.

    Parameters
    ----------
    mu_b : -
        Friction coefficient where solid contact bears all of the load.
    C : -
        Friction of a full film over the cube root of the duty number.

    Returns
    -------
    mu : -
        Friction coefficient as it runs.

    References
    ----------
    Lubrication as a state (models/lubrication).
    """
    if rules.compounds[case.compound].own_friction == 1:
        return mu_b
    if case.lubrication == Lubrication.dry:
        return mu_b
    mu_f = film_friction(C, film.duty_number)
    return mixed_friction(film.share, mu_b, mu_f)
