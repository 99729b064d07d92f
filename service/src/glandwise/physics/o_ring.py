"""The O-ring in the outer diameter of a seal: its condition at temperature, and the torque that it holds.

A PTFE body grows and shrinks many times as much as its bore. Cold, it draws the groove away from the bore; hot, it grows
until the bore stops it, and from then on the groove can only get as shallow as the body makes it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.choices import LOOSEST, End, Lubrication, Start
from glandwise.case.lip_fit import seal_strain
from glandwise.mechanics.expansion import diameter_after_confined_heating
from glandwise.mechanics.fits import o_ring_gland
from glandwise.mechanics.retention import o_ring_slip_torque
from glandwise.mechanics.springs import gent_modulus, o_ring_load
from glandwise.numerics.arithmetic import greatest, least
from glandwise.physics.strains import housing_strain, ring_strain

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules
    from glandwise.case.hardware import Hardware
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case


class Strains(NamedTuple):
    """Strains of the parts about an O-ring."""

    housing: float
    seal: float
    ring: float


class Ring(NamedTuple):
    """An O-ring with its limits [m]."""

    inner: float
    inner_low: float
    inner_high: float
    section: float
    section_low: float
    section_high: float


class Groove(NamedTuple):
    """A groove with its limits [m]."""

    bottom: float
    bottom_low: float
    bottom_high: float
    width: float
    width_low: float
    width_high: float


class Seat(NamedTuple):
    """Condition of an O-ring in its groove."""

    stretch: float
    section: float
    depth: float
    squeeze: float
    squeeze_ratio: float
    fill: float
    bottom: float


def ring_of(hardware: Hardware) -> Ring:
    """Return the O-ring of some hardware."""
    return Ring(
        hardware.ring_inner, hardware.ring_inner_low, hardware.ring_inner_high,
        hardware.ring_section, hardware.ring_section_low, hardware.ring_section_high,
    )  # fmt: skip


def groove_of(hardware: Hardware) -> Groove:
    """Return the groove of some hardware."""
    return Groove(
        hardware.groove, hardware.groove_low, hardware.groove_high,
        hardware.groove_width, hardware.groove_width_low, hardware.groove_width_high,
    )  # fmt: skip


def strains_at(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules, T: float) -> Strains:
    """Strains of housing, seal and O-ring at a temperature.

    Returns
    -------
    epsilon_H : -
        Strain of the housing.
    epsilon_s : -
        Strain of the compound of the seal.
    epsilon_r : -
        Strain of the O-ring.
    """
    epsilon_H = housing_strain(hardware, gland, T)  # strain of the housing
    epsilon_s = seal_strain(case, rules, gland, hardware.reference, T)  # strain of the compound of the seal
    epsilon_r = ring_strain(case, hardware, gland, T)  # strain of the O-ring
    return Strains(epsilon_H, epsilon_s, epsilon_r)


def _depth(D_T: float, G_T: float, B: float, f_s: float, f_off: float) -> float:
    """Depth of the groove under one body; once the bore stops the hot body, it is as deep as it was cut."""
    return 0.5 * (greatest(D_T, B * f_s) - G_T) + 0.5 * f_off * greatest(D_T - B * f_s, 0.0)


def seated(
    hardware: Hardware, ring: Ring, groove: Groove, at: Strains, end: int, f_s: float, f_off: float
) -> Seat:  # fmt: skip
    """Condition of an O-ring at a temperature and an end of the tolerances.

    The body sits off centre by a share of its clearance: away from the side looked at when loosest, towards it when
    tightest.

    Parameters
    ----------
    f_s : -
        Growth of the diameters of the body.
    f_off : -
        Share of the clearance by which the body sits off centre.

    Returns
    -------
    s : -
        Stretch of the O-ring on the groove.
    d_1 : m
        Section of the O-ring on the groove.
    h : m
        Depth of the gland.
    z : m
        Squeeze of the O-ring.
    C : -
        Squeeze over section.
    Phi : -
        Fill of the gland.
    G_T : m
        Groove bottom at temperature.

    References
    ----------
    Geometry of the O-ring gland (models/fits).
    """
    D_e, G_e, W_e, d_e, d_o, s_e = hardware.bore, groove.bottom, groove.width, ring.inner, ring.inner, ring.section
    if end == End.loosest:
        D_e, G_e, W_e = hardware.bore_high, groove.bottom_low, groove.width_high
        d_e, d_o, s_e = ring.inner_low, ring.inner_high, ring.section_low
    if end == End.tightest:
        D_e, G_e, W_e = hardware.bore_low, groove.bottom_high, groove.width_low
        d_e, d_o, s_e = ring.inner_high, ring.inner_low, ring.section_high
    D_T = D_e * (1.0 + at.housing)  # bore at temperature
    G_T = G_e * f_s  # groove bottom at temperature
    h = 0.5 * (greatest(D_T, hardware.body * f_s) - G_T)  # depth of the gland
    if end == End.loosest:
        h_lo = _depth(D_T, G_T, hardware.body_low, f_s, f_off)  # depth of the gland under the smallest body
        h_hi = _depth(D_T, G_T, hardware.body_high, f_s, f_off)  # depth of the gland under the largest body
        h = greatest(h_lo, h_hi)  # depth of the gland
    if end == End.tightest:
        h_lo = _depth(D_T, G_T, hardware.body_low, f_s, -f_off)  # depth of the gland under the smallest body
        h_hi = _depth(D_T, G_T, hardware.body_high, f_s, -f_off)  # depth of the gland under the largest body
        h = least(h_lo, h_hi)  # depth of the gland
    W_T = W_e * (1.0 + at.seal)  # groove width at temperature
    found = o_ring_gland(G_T + 2.0 * h, G_T, W_T, d_e, s_e, at.ring)
    s = G_T / (d_o * (1.0 + at.ring)) - 1.0  # stretch of the O-ring
    return Seat(s, found.section, found.depth, found.squeeze, found.squeeze_ratio, found.fill, G_T)


def seat_at(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules, T: float, end: int) -> Seat:
    """Condition of the O-ring of some hardware at a temperature, the body off centre unless all is nominal."""
    at = strains_at(case, hardware, rules, gland, T)
    ring, groove = ring_of(hardware), groove_of(hardware)
    return seated(hardware, ring, groove, at, end, 1.0 + at.seal, gland.constants[0].offset_share)


def body_share_after_heat(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules) -> float:
    """Share of the diameter of the body that is left once it has been hot in a bore that stops it.

    Returns
    -------
    f_body : -
        Share of the diameter of the body left after heat.
    """
    epsilon_s = seal_strain(case, rules, gland, hardware.reference, case.temperature_max)  # strain of the hot seal
    epsilon_H = housing_strain(hardware, gland, case.temperature_max)  # strain of the hot housing
    kappa = rules.compounds[case.compound].set_fraction
    B_set = diameter_after_confined_heating(hardware.body_high, hardware.bore_low, epsilon_s, epsilon_H, kappa)
    return B_set / hardware.body_high


def ring_torque(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules, state: int) -> float:
    """Torque that the O-ring holds at the loosest tolerances, by its weaker surface.

    A ring off centre is squeezed less on one side and more on the other: round the ring that takes nothing off.

    Returns
    -------
    M_r : N·m
        Torque that the O-ring holds; not known where the squeeze is greater than its load model reaches.

    References
    ----------
    Lindley 1967 (models/o_ring); Coulomb friction and elementary statics (models/retention).
    """
    constants, rubber = gland.constants[0], gland.rubbers[case.elastomer]
    ring, groove = ring_of(hardware), groove_of(hardware)
    mu_i, mu_o = constants.friction_ring_wet, rubber.friction_lubricated
    if case.lubrication == Lubrication.dry:
        mu_i, mu_o = constants.friction_ring, rubber.friction_dry
    E_r = gent_modulus(rubber.hardness)  # Young's modulus of the O-ring
    T = case.temperature_min
    if state == Start.hot_running:
        T = case.temperature_max
    at = strains_at(case, hardware, rules, gland, T)
    if state == Start.end_of_life_start:
        f_body = body_share_after_heat(case, hardware, rules, gland)
        f_s = f_body * (1.0 + at.seal)  # growth of the body that heat has set
        old = seated(hardware, ring, groove, at, LOOSEST, f_s, 0.0)
        normal = strains_at(case, hardware, rules, gland, case.temperature)
        new = seated(hardware, ring, groove, normal, LOOSEST, 1.0 + normal.seal, 0.0)
        z = old.squeeze - rubber.compression_set * greatest(new.squeeze, 0.0)  # squeeze left at the end of life
        load = o_ring_load(old.section, z / old.section, E_r, constants.ring_model_limit)
        r_i = 0.5 * hardware.groove_low * (1.0 + at.seal)  # radius of the groove bottom
        return o_ring_slip_torque(load.line_load, mu_i, r_i, mu_o, r_i + old.depth)
    here = seated(hardware, ring, groove, at, LOOSEST, 1.0 + at.seal, 0.0)
    load = o_ring_load(here.section, here.squeeze / here.section, E_r, constants.ring_model_limit)
    r_i = 0.5 * hardware.groove_low * (1.0 + at.seal)  # radius of the groove bottom
    return o_ring_slip_torque(load.line_load, mu_i, r_i, mu_o, r_i + here.depth)
