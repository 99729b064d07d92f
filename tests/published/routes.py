"""What sources print and no answer tells, on its way from the plain formulas; and formulas of their own to compare with."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from types import SimpleNamespace
from typing import Any, NamedTuple

import numpy as np
from glandwise.case import expansion_numbers, tolerances
from glandwise.mechanics import beams, expansion, fits, following, heat, rods, shells, springs, viscoelastic, wear
from glandwise.mechanics.choices import FilmCorrelation, PtfeTransition
from glandwise.numerics.interpolation import curve_inside
from glandwise.numerics.over import Over
from scipy.optimize import brentq, minimize_scalar

from tests.mechanics.support import relaxation

# --------------------------------------------------------------------------------------------------------------- fits

GRADE_MULTIPLES = {5: 7.0, 6: 10.0, 7: 16.0, 8: 25.0, 9: 40.0, 10: 64.0, 11: 100.0, 12: 160.0, 13: 250.0}
"""Standard tolerance over tolerance factor (ISO 286-1:2010, basis of the system; from memory)."""


def tolerance_factor(lower_size: float, upper_size: float) -> float:
    """Tolerance factor of a size step up to 500 mm [m] (ISO 286-1:2010, basis of the system; from memory)."""
    mean = math.sqrt(lower_size * upper_size) * 1.0e3
    return float((0.45 * mean ** (1.0 / 3.0) + 0.001 * mean) * 1.0e-6)


def formula_tolerance(grade: int, lower_size: float, upper_size: float) -> float:
    """Standard tolerance before it is rounded [m]; the rounded tables are what counts."""
    return GRADE_MULTIPLES[grade] * tolerance_factor(lower_size, upper_size)


def limit_deviations(
    tolerance_class: str,
    size: float,
    over: Sequence[float],
    up_to: Sequence[float],
    grades: Mapping[str, Sequence[float]],
    shaft_deviations: Mapping[str, Sequence[float]] | None = None,
) -> fits.Deviations:
    """Limit deviations of a class out of tables."""
    return tolerances.class_deviations(tolerance_class, size, over, up_to, grades, shaft_deviations or {})


def greatest_clearance(
    shaft: str,
    hole: str,
    size: float,
    over: Sequence[float],
    up_to: Sequence[float],
    grades: Mapping[str, Sequence[float]],
    shaft_deviations: Mapping[str, Sequence[float]],
) -> float:
    """Greatest clearance of a fit on the diameter, m."""
    low, high = (limit_deviations(name, size, over, up_to, grades, shaft_deviations) for name in (shaft, hole))
    return float(high.upper - low.lower)


def same_material_pressure(
    interference: float, interface_radius: float, inner_radius: float, outer_radius: float, modulus: float
) -> float:
    """Pressure of a press fit of one material, on whose Poisson ratio it does not hang."""
    found = [
        fits.interference_fit(interference, interface_radius, inner_radius, outer_radius, modulus, nu, modulus, nu)
        for nu in (0.2, 0.4)
    ]
    np.testing.assert_allclose(found[0].pressure, found[1].pressure, rtol=1e-12)
    return found[0].pressure


# ------------------------------------------------------------------------------------------------------------ springs


def wahl_factor(index: float) -> float:
    """Stress factor of Wahl (from memory)."""
    return (4.0 * index - 1.0) / (4.0 * index - 4.0) + 0.615 / index


def bergstraesser_factor(index: float) -> float:
    """Stress factor of Bergsträsser (from memory)."""
    return (4.0 * index + 2.0) / (4.0 * index - 3.0)


def active_coils_for_rate(wire_diameter: float, coil_diameter: float, shear_modulus: float, rate: float) -> float:
    """Coils that have a rate."""
    return springs.helical_rate(wire_diameter, coil_diameter, shear_modulus, 1.0) / rate


def helical_force_for_stress(stress: float, wire_diameter: float, coil_diameter: float, factor: float) -> float:
    """Force that has a stress."""
    return stress / springs.helical_shear_stress(1.0, wire_diameter, coil_diameter, factor)


class Garter(NamedTuple):
    rate: float
    tension: float
    line_load: float
    contact_line_load: float
    radial_total: float


def garter_ring(
    wire_diameter: float,
    coil_diameter: float,
    shear_modulus: float,
    active_coils: float,
    free_length: float,
    initial_tension: float,
    ring_radius: float,
    contact_radius: float,
) -> Garter:
    """Garter on its seat, its load at the axis of the spring and at the contact."""
    spring = (wire_diameter, coil_diameter, shear_modulus, active_coils)
    seat, contact = (
        springs.garter_ring(*spring, free_length, initial_tension, ring_radius, r).line_load
        for r in (ring_radius, contact_radius)
    )
    total = 2.0 * math.pi * contact_radius * contact
    return Garter(springs.helical_rate(*spring), contact * contact_radius, seat, contact, total)


def lindley_factor(squeeze_ratio: float, squeeze_limit: float) -> float:
    """Load of an O-ring over circumference, section and modulus."""
    return springs.o_ring_load(1.0, squeeze_ratio, 1.0, squeeze_limit).line_load


def irhd_modulus(irhd: float) -> float:
    """Modulus of rubber by its hardness after ISO 48: 100 Phi((log10 of E in MPa - 0.364)/0.7), inverted (from memory)."""
    from scipy.stats import norm

    return float(1e6 * 10.0 ** (0.364 + 0.7 * norm.ppf(irhd / 100.0)))


class Coil(NamedTuple):
    load_per_coil: float


def canted_coil_load(
    deflection: float,
    pitch: float,
    half_width: float,
    half_height: float,
    cant_angle: float,
    wire_diameter: float,
    elastic_modulus: float,
    shear_modulus: float,
) -> Coil:
    """Load of one turn of a canted coil."""
    d = wire_diameter
    load = Over(rods).canted_coil_load(
        deflection, pitch, 2.0 * half_width + d, 2.0 * half_height + d, cant_angle, d, elastic_modulus,
        0.5 * elastic_modulus / shear_modulus - 1.0, 1.0,
    )  # fmt: skip
    return Coil(load.line_load * pitch)


class Finger(NamedTuple):
    load: float
    tangent: float
    permanent_set: float
    root_moment: float
    contact: float
    arm: float


def finger(root_angle: float, deflection: float, yield_curvature: float) -> Finger:
    """Finger of a V, with what no answer tells of it."""
    plain = Over(beams)
    found = plain.finger(root_angle, deflection, yield_curvature)
    inside = plain._pressed(root_angle, deflection / math.sin(root_angle), yield_curvature)
    bent = inside.moment * yield_curvature if inside.moment > 1.0 else inside.curvature
    return Finger(
        found.load, found.tangent, found.permanent_set, inside.moment, inside.contact, bent / inside.load
    )  # fmt: skip


# ---------------------------------------------------------------------------------------------------------- expansion


def _curve(x: Sequence[float], y: Sequence[float]) -> Any:
    return SimpleNamespace(x=list(x), y=list(y), n=len(x))


def strain_from_mean_coefficients(
    temperature: float, temperatures: Sequence[float], mean_coefficients: Sequence[float], reference_temperature: float
) -> float:
    """Strain by a table of mean coefficients."""
    table: Any = SimpleNamespace(
        si_temperature=temperatures, si_coefficient=mean_coefficients, si_reference=reference_temperature
    )
    return curve_inside(_curve(*expansion_numbers.strain_curve(table)), temperature)


def strain_from_polynomial(
    temperature: float, coefficients: Sequence[float], lowest: float, highest: float, flat_below: float = 0.0
) -> float:
    """Strain by a fit for low temperatures."""
    assert lowest <= temperature <= highest
    powers = [float(i) for i in range(len(coefficients))]
    return expansion.polynomial_at(_curve(powers, coefficients), max(temperature, flat_below))


_TRANSITIONS = {"II-IV": PtfeTransition.II_IV, "IV-I": PtfeTransition.IV_I}


def transition_temperature(pressure: float, transition: str) -> float:
    return expansion.transition_temperature(pressure, _TRANSITIONS[transition])


def transition_pressure(temperature: float, transition: str) -> float:
    """Pressure at which PTFE changes phase at a temperature."""
    choice = _TRANSITIONS[transition]
    return float(brentq(lambda p: expansion.transition_temperature(p, choice) - temperature, 0.0, 68.6e6, xtol=1e-6))


# --------------------------------------------------------------------------------------------------------------- heat


def fin_parameter(diameter: float, conductivity: float, film: float) -> float:
    """Inverse of the length over which the rise of a shaft falls to an e-th."""
    area = math.pi * diameter**2 / 4.0
    return heat.fin_conductance(diameter, conductivity, film, math.inf) / (conductivity * area)


def fin_temperature_rise(
    heat: float, diameter: float, conductivity: float, film: float, length: float = math.inf
) -> float:
    """Rise of a shaft where heat enters between its two sides."""
    return 0.5 * heat / _fin(diameter, conductivity, film, length)


_fin = heat.fin_conductance


def long_shaft_length(diameter: float, conductivity: float, film: float, share: float) -> float:
    """Length from which a shaft conducts a share of what an endless one does."""
    endless = _fin(diameter, conductivity, film, math.inf)
    return float(brentq(lambda L: _fin(diameter, conductivity, film, L) / endless - share, 1e-6, 10.0, xtol=1e-14))


class Film(NamedTuple):
    film: float
    nusselt: float
    reynolds: float
    grashof: float


def rotating_cylinder_film(
    diameter: float, rotation_speed: float, fluid: Sequence[float], temperature_difference: float, correlation: str
) -> Film:
    """Film of a shaft by the correlation for turning alone, with its dimensionless numbers."""
    conductivity, viscosity, prandtl, volume_expansion = fluid
    reynolds = math.pi * rotation_speed * diameter**2 / viscosity
    grashof = heat.STANDARD_GRAVITY * volume_expansion * temperature_difference * diameter**3 / viscosity**2
    choice = FilmCorrelation[correlation]
    nusselt = heat.turning_nusselt(reynolds, grashof, prandtl, choice)
    still = heat.still_nusselt(grashof, prandtl)
    film = heat.shaft_film(diameter, rotation_speed, *fluid, temperature_difference, choice)
    np.testing.assert_allclose(film, max(nusselt, still) * conductivity / diameter, rtol=1e-12)
    return Film(nusselt * conductivity / diameter, nusselt, reynolds, grashof)


# ---------------------------------------------------------------------------------------------------------- lip, wear


class Lip(NamedTuple):
    stiffness: float
    raw_reaction: float


def lip_response(
    radius: float,
    thickness: float,
    free_length: float,
    modulus: float,
    poisson_ratio: float,
    interference: float,
    pressure: float = 0.0,
) -> Lip:
    """Stiffness of a lip and its load, which may pull."""
    lip = shells.lip_shell(radius, thickness, free_length, poisson_ratio)
    stiffness = modulus * lip.stiffness_per_modulus
    return Lip(stiffness, stiffness * interference + lip.pressure_length * pressure)


def wear_depth(wear_rate: float, contact_pressure: float, distance: float) -> float:
    """Depth over a distance: that of a second in which it is slid."""
    return wear.depth_rate(wear_rate, contact_pressure, distance)


def wear_distance(wear_rate: float, contact_pressure: float, allowance: float) -> float:
    """Distance to an allowance at a load that stays."""
    return wear.relieved_distance(wear_rate, contact_pressure * 1e-3, 0.0, 1e-3, allowance)


# ------------------------------------------------------------------------------------------------- relaxing stiffness


class Complex(NamedTuple):
    storage: float
    loss: float


def complex_modulus(
    angular_frequency: float, equilibrium: float, branch_moduli: Sequence[float], relaxation_times: Sequence[float]
) -> Complex:
    """Storage and loss modulus of branches with moduli of their own."""
    series = relaxation(1.0, branch_moduli, relaxation_times).packed
    storage, loss = following.storage_and_loss(np.float64(angular_frequency), equilibrium, 1.0, 1.0, series)
    return Complex(float(storage), float(loss))


def loss_factor(
    angular_frequency: float, equilibrium: float, branch_moduli: Sequence[float], relaxation_times: Sequence[float]
) -> float:
    found = complex_modulus(angular_frequency, equilibrium, branch_moduli, relaxation_times)
    return found.loss / found.storage


class Peak(NamedTuple):
    angular_frequency: float
    loss_factor: float


def standard_solid_loss_peak(equilibrium: float, branch_modulus: float, relaxation_time: float) -> Peak:
    """Greatest loss factor of one branch, looked for."""
    found = minimize_scalar(
        lambda u: -loss_factor(math.exp(u) / relaxation_time, equilibrium, [branch_modulus], [relaxation_time]),
        bounds=(-10.0, 10.0),
        method="bounded",
        options={"xatol": 1e-10},
    )
    return Peak(math.exp(found.x) / relaxation_time, -float(found.fun))


def relaxation_modulus(
    time: float, equilibrium: float, branch_moduli: Sequence[float], relaxation_times: Sequence[float]
) -> float:
    """Modulus a while after a step of strain."""
    series = relaxation(1.0, branch_moduli, relaxation_times).packed
    return float(viscoelastic.relaxed_series(equilibrium, time, series))


def eccentricity_at_frequency(
    angular_frequency: float,
    lip_preload: float,
    equilibrium_stiffness: float,
    branch_stiffnesses: Sequence[float],
    relaxation_times: Sequence[float],
    mass: float,
) -> float:
    """Eccentricity at which contact is lost at one frequency, whatever happens below it."""
    storage, loss = complex_modulus(angular_frequency, equilibrium_stiffness, branch_stiffnesses, relaxation_times)
    return lip_preload / math.hypot(storage - mass * angular_frequency**2, loss)


def allowed_eccentricity(
    angular_frequency: float,
    lip_preload: float,
    equilibrium_stiffness: float,
    branch_stiffnesses: Sequence[float],
    relaxation_times: Sequence[float],
    mass: float,
) -> following.FollowingLimit:
    """Eccentricity that a lip follows from standstill to a frequency."""
    lip = following.HeldLip(lip_preload, 0.0, 1.0, equilibrium_stiffness, equilibrium_stiffness, 1.0, mass)
    series = relaxation(1.0, branch_stiffnesses, relaxation_times).packed
    found: following.FollowingLimit = Over(following).allowed_eccentricity(lip, angular_frequency, 0.0, series)
    return found
