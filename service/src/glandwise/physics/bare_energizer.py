"""An energizer by itself: load, stiffness and stress from its own dimensions, at the temperature and in the space stated."""

from __future__ import annotations

from math import nan, pi, sin
from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.choices import EnergizerKind, Material
from glandwise.mechanics.beams import bending_modulus, cantilever_v
from glandwise.mechanics.fits import stretched_section
from glandwise.mechanics.rods import canted_coil_band, canted_coil_load, canted_coil_touching
from glandwise.mechanics.springs import garter_ring, gent_modulus, o_ring_load, shear_modulus
from glandwise.numerics.arithmetic import greatest, least
from glandwise.numerics.interpolation import curve_inside

if TYPE_CHECKING:
    from glandwise.case.bare_energizer import BareEnergizer
    from glandwise.case.numbers import Rules

# ------------------------------------------------------------------------------------------------------------- material


class Properties(NamedTuple):
    """What the material of an energizer gives at its temperature."""

    elastic_modulus: float
    """[Pa]"""
    poisson_ratio: float
    yield_strength: float
    """[Pa]; NaN for rubber."""
    lowest: float
    """Lowest temperature that the material stands [K]; NaN where it is not named, as the next."""
    highest: float


def alloy_modulus(e: BareEnergizer, rules: Rules) -> float:
    """Young's modulus of a metal energizer: as stated, else of its alloy; not known beyond the table of the alloy."""
    if e.elastic_modulus == e.elastic_modulus:
        return e.elastic_modulus
    if e.material == Material.named:
        return curve_inside(rules.alloys[e.alloy].elastic_modulus, e.temperature)
    return nan


def alloy_poisson_ratio(e: BareEnergizer, rules: Rules) -> float:
    """Poisson's ratio of a metal energizer: as stated, else of its alloy."""
    if e.poisson_ratio == e.poisson_ratio:
        return e.poisson_ratio
    if e.material == Material.named:
        return rules.alloys[e.alloy].poisson_ratio
    return nan


def alloy_strength(e: BareEnergizer, rules: Rules) -> float:
    """Yield strength of a metal energizer: as stated, else of its alloy; not known beyond the table of the alloy."""
    if e.yield_strength == e.yield_strength:
        return e.yield_strength
    if e.material == Material.named:
        return curve_inside(rules.alloys[e.alloy].yield_strength, e.temperature)
    return nan


def rubber_hardness(e: BareEnergizer, rules: Rules) -> float:
    """Hardness of an O-ring: as stated, else of its elastomer."""
    if e.hardness == e.hardness:
        return e.hardness
    if e.material == Material.named:
        return rules.elastomers[e.elastomer].hardness
    return nan


def rubber_modulus(e: BareEnergizer, rules: Rules) -> float:
    """Young's modulus of an O-ring, as stated or from its hardness.

    Glassy in the cold, decaying in the heat: beyond the temperatures of the elastomer the hardness of room temperature says
    nothing.

    Returns
    -------
    E_e : Pa
        Young's modulus of the energizer.
    """
    if e.elastic_modulus == e.elastic_modulus:
        return e.elastic_modulus
    if e.material == Material.named:
        elastomer = rules.elastomers[e.elastomer]
        if e.temperature < elastomer.temperature_min:
            return nan
        if e.temperature > elastomer.temperature_max:
            return nan
    return gent_modulus(rubber_hardness(e, rules))


def properties(e: BareEnergizer, rules: Rules) -> Properties:
    """Properties of the material of an energizer at its temperature."""
    if e.kind == EnergizerKind.o_ring:
        E_o = rubber_modulus(e, rules)
        if e.material == Material.named:
            elastomer = rules.elastomers[e.elastomer]
            return Properties(E_o, nan, nan, elastomer.temperature_min, elastomer.temperature_max)
        return Properties(E_o, nan, nan, nan, nan)
    E_a, nu_a, S_a = alloy_modulus(e, rules), alloy_poisson_ratio(e, rules), alloy_strength(e, rules)
    if e.material == Material.named:
        alloy = rules.alloys[e.alloy]
        return Properties(E_a, nu_a, S_a, alloy.temperature_min, alloy.temperature_max)
    return Properties(E_a, nu_a, S_a, nan, nan)


def modulus_scatter(e: BareEnergizer, rules: Rules) -> float:
    """Usual relative scatter of the modulus of an energizer."""
    if e.kind == EnergizerKind.o_ring:
        return rules.constants[0].elastomer_modulus_scatter
    return rules.constants[0].metal_modulus_scatter


def least_modulus_factor(x_E: float) -> float:
    """Factor on the modulus at the lower end of its scatter.

    Parameters
    ----------
    x_E : -
        Relative scatter of the modulus, 0 to below 1.

    Returns
    -------
    f_E : -
        Young's modulus over the nominal one, at the lower end of its scatter.
    """
    return 1.0 - x_E


def greatest_modulus_factor(x_E: float) -> float:
    """Factor on the modulus at the upper end of its scatter.

    Parameters
    ----------
    x_E : -
        Relative scatter of the modulus, 0 to below 1.

    Returns
    -------
    f_E : -
        Young's modulus over the nominal one, at the upper end of its scatter.
    """
    return 1.0 + x_E


def scattered_modulus(e: BareEnergizer, E: float) -> float:
    """Young's modulus within its scatter.

    Parameters
    ----------
    E : Pa
        Nominal modulus.

    Returns
    -------
    E_s : Pa
        Young's modulus of the energizer at the end of its scatter.
    """
    if e.modulus_factor == 1.0:
        return E
    return e.modulus_factor * E


# ----------------------------------------------------------------------------------------------------------------- load


class Loaded(NamedTuple):
    """State of an energizer in its space; per circumference of the contact."""

    line_load: float
    """[N/m]"""
    stiffness: float
    """Slope of the load in the deflection, pressed further [N/m²]."""
    stress: float
    """Greatest stress of a metal energizer, elastic; mean pressure under an O-ring [Pa]."""
    stress_limit: float
    """Stress at which it yields [Pa]; NaN for an O-ring."""
    utilization: float
    """Stress over its limit."""
    permanent_set: float
    """Loss of free height after release [m]; NaN where the model has none."""
    deflection: float
    """From the free state [m]; of a garter the growth of its diameter."""
    squeeze: float
    """Of an O-ring, over its section."""
    total_load: float
    """Summed round the circumference [N]."""


def deflection(e: BareEnergizer) -> float:
    """Deflection of a V or of a canted coil.

    Returns
    -------
    Delta : m
        Deflection of the energizer, nothing where its space is higher than it is.
    """
    if e.deflection == e.deflection:
        return e.deflection
    return greatest(e.free_height - e.gland_height, 0.0)


def seat_of_garter(e: BareEnergizer) -> float:
    """Diameter of the axis of a garter on its seat.

    Returns
    -------
    D_s : m
        Diameter of the coil axis on its seat.
    """
    if e.deflection == e.deflection:
        return e.free_length / pi + e.deflection
    return e.ring_diameter


def seat_of_ring(e: BareEnergizer) -> float:
    """Diameter that an O-ring sits on: its inside diameter where no other is stated."""
    if e.seat_diameter == e.seat_diameter:
        return e.seat_diameter
    return e.inside_diameter


def loaded(e: BareEnergizer, m: Properties, rules: Rules) -> Loaded:
    """State of an energizer of a material."""
    if e.kind == EnergizerKind.cantilever_v:
        return loaded_fingers(e, m)
    if e.kind == EnergizerKind.canted_coil:
        return loaded_coil(e, m)
    if e.kind == EnergizerKind.garter:
        return loaded_garter(e, m, rules)
    return loaded_ring(e, m, rules)


def loaded_fingers(e: BareEnergizer, m: Properties) -> Loaded:
    """State of a cantilever V energizer.

    Returns
    -------
    q_e : N/m
        Load of the energizer per circumference of the contact.
    k_e : N/m²
        Stiffness of the energizer, pressed further.
    sigma_e : Pa
        Greatest stress of the energizer, elastic.
    S_e : Pa
        Yield strength of the energizer.
    u_stress : -
        Use of the strength.
    h_set : m
        Loss of free height after release, both legs.
    Delta : m
        Deflection of the energizer.
    C : -
        Squeeze of an O-ring; this is none.
    F_all : N
        Load summed round the circumference.
    """
    E_s = scattered_modulus(e, m.elastic_modulus)
    E_bend = E_s
    if e.plate_blend == e.plate_blend:
        E_bend = bending_modulus(E_s, m.poisson_ratio, e.plate_blend)
    Delta, S = deflection(e), m.yield_strength
    q_e, k_e, _, sigma_e, h_set = cantilever_v(
        Delta, e.strip_thickness, e.finger_length, e.root_angle, e.coverage, E_bend, S
    )
    return Loaded(q_e, k_e, sigma_e, S, sigma_e / S, h_set, Delta, nan, q_e * pi * e.contact_diameter)


def loaded_coil(e: BareEnergizer, m: Properties) -> Loaded:
    """State of a canted coil energizer.

    Returns
    -------
    q_e : N/m
        Load of the energizer per circumference of the contact.
    k_q : N/m²
        Stiffness of the energizer.
    sigma_e : Pa
        Greatest stress of the energizer, elastic.
    S_e : Pa
        Yield strength of the energizer.
    u_stress : -
        Use of the strength.
    h_set : m
        Loss of free height after release; the model has none.
    Delta : m
        Deflection of the energizer.
    C : -
        Squeeze of an O-ring; this is none.
    F_all : N
        Load summed round the circumference.
    """
    d, Delta, S = e.contact_diameter, deflection(e), m.yield_strength
    E_s = scattered_modulus(e, m.elastic_modulus)
    f_r = (d + e.coil_height) / d  # circumference of the coil over that of the contact
    q_e, k_q, sigma_e = canted_coil_load(
        Delta, e.pitch, e.coil_width, e.coil_height, e.cant_angle, e.wire_diameter, E_s, m.poisson_ratio, f_r
    )
    return Loaded(q_e, k_q, sigma_e, S, sigma_e / S, nan, Delta, nan, q_e * pi * d)


def loaded_garter(e: BareEnergizer, m: Properties, rules: Rules) -> Loaded:
    """State of a garter on its seat.

    Returns
    -------
    q_e : N/m
        Load of the energizer per circumference of the contact.
    k_q : N/m²
        Stiffness of the energizer as its ring grows.
    sigma_e : Pa
        Corrected shear stress of the wire.
    tau_e : Pa
        Shear yield strength of the energizer.
    u_stress : -
        Use of the strength.
    h_set : m
        Loss of free height after release; the model has none.
    Delta : m
        Growth of the diameter of the garter over its free one.
    C : -
        Squeeze of an O-ring; this is none.
    F_all : N
        Load summed round the circumference.
    """
    d, D_s = e.contact_diameter, seat_of_garter(e)
    G_e = shear_modulus(scattered_modulus(e, m.elastic_modulus), m.poisson_ratio)
    r_s = D_s / 2.0  # radius of the coil axis on its seat
    r = d / 2.0  # radius of the contact
    q_e, k_q, sigma_e = garter_ring(
        e.wire_diameter, e.mean_coil_diameter, G_e, e.active_coils, e.free_length, e.initial_tension, r_s, r
    )
    tau_e = (
        m.yield_strength * rules.constants[0].shear_yield_ratio
    )  # shear yield strength of the energizer, by von Mises
    Delta = D_s - e.free_length / pi  # growth of the diameter of the garter over its free one
    return Loaded(q_e, k_q, sigma_e, tau_e, sigma_e / tau_e, nan, Delta, nan, q_e * pi * d)


def loaded_ring(e: BareEnergizer, m: Properties, rules: Rules) -> Loaded:
    """State of an O-ring in its gland.

    Returns
    -------
    q_e : N/m
        Load of the energizer per circumference of the contact.
    k_e : N/m²
        Stiffness of the energizer per circumference of the contact.
    p_e : Pa
        Mean pressure over the width of the contact.
    S_e : Pa
        Yield strength of the energizer; rubber has none.
    u_stress : -
        Use of the strength; rubber has none.
    h_set : m
        Loss of free height after release; the model has none.
    Delta : m
        Deflection of the ring.
    C : -
        Squeeze over section.
    F_all : N
        Load summed round the circumference.
    """
    d, d_s = e.contact_diameter, seat_of_ring(e)
    d_1 = stretched_section(e.section, e.inside_diameter, d_s)  # section of the ring as seated, its volume kept
    Delta = e.deflection
    if e.deflection != e.deflection:
        Delta = d_1 - e.gland_height  # deflection of the ring
    C = Delta / d_1  # squeeze over section
    E_s = scattered_modulus(e, m.elastic_modulus)
    q_ring, k_ring, p_ring = o_ring_load(d_1, C, E_s, rules.constants[0].squeeze_limit)
    f_r = (d_s + d_1) / d  # mean circumference of the ring over that of the contact
    q_e = q_ring * f_r
    return Loaded(q_e, k_ring * f_r, p_ring, nan, nan, nan, Delta, C, q_e * pi * d)


# ------------------------------------------------------------------------------------------------------------ its range


def full_deflection(e: BareEnergizer, rules: Rules) -> float:
    """Deflection up to which the load of an energizer is drawn: where its model ends, or twice the stretch of a garter."""
    if e.kind == EnergizerKind.cantilever_v:
        return 0.95 * (2.0 * e.finger_length * sin(e.root_angle))
    if e.kind == EnergizerKind.canted_coil:
        return 0.54 * (e.coil_height - e.wire_diameter)
    if e.kind == EnergizerKind.garter:
        D_free = e.free_length / pi  # free diameter of the garter
        return greatest(2.0 * (e.ring_diameter - D_free), 0.05 * D_free)
    return rules.constants[0].squeeze_limit * stretched_section(e.section, e.inside_diameter, seat_of_ring(e))


class WorkingRange(NamedTuple):
    """Band of deflection in which the load of a canted coil is nearly flat."""

    lower: float
    """[m]"""
    upper: float
    """[m]"""


def working_range(e: BareEnergizer, m: Properties, rules: Rules) -> WorkingRange:
    """Band of deflection in which the load of a canted coil stays within a share of its middle.

    It ends where turns touch, at the latest where the model ends. Not known for other kinds.

    Returns
    -------
    delta_low : m
        Least deflection of the working range.
    delta_top : m
        Greatest deflection of the working range.
    """
    if e.kind != EnergizerKind.canted_coil:
        return WorkingRange(nan, nan)
    if m.elastic_modulus != m.elastic_modulus:  # without a modulus there is no load that could be flat
        return WorkingRange(nan, nan)
    d, beta, nu = e.wire_diameter, e.cant_angle, m.poisson_ratio
    a = (e.coil_width - d) / 2.0  # half width of the wire centreline
    b = (e.coil_height - d) / 2.0  # half height of the wire centreline
    delta_full = 0.54 * (e.coil_height - d)  # deflection up to which the load of the coil is known
    # infinite where turns do not touch within the model
    delta_top = least(delta_full, canted_coil_touching(e.pitch, a, b, beta, d, nu))
    f_q = rules.constants[0].working_load_share
    return WorkingRange(canted_coil_band(f_q, delta_top, e.pitch, a, b, beta, nu), delta_top)
