"""The lip on its shaft at a temperature: thermal strains of both, and the interference that is left.

One place for all that asks: sizes of a lip, its load, what it follows, its wear, the fits of thermal expansion.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from glandwise.case.choices import Family, Retention
from glandwise.mechanics import expansion
from glandwise.mechanics.expansion import FitAtTemperature, fit_at_temperature
from glandwise.mechanics.shells import held_root_share
from glandwise.numerics.arithmetic import greatest, least

if TYPE_CHECKING:
    from glandwise.case.expansion_numbers import MetalNumbers, PtfeExpansion
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.case.tables import Rows


class ExpansionConstants(Protocol):
    """Numbers that the expansion of every metal takes."""

    reference_temperature: float
    shape_span: float


class Expansions(Protocol):
    """Numbers of a rule set for thermal expansion: those of cases and those of glands both have them."""

    @property
    def constants(self) -> Rows[ExpansionConstants]:
        """Numbers that hold for all."""

    @property
    def ptfe(self) -> Rows[PtfeExpansion]:
        """Expansion of unfilled PTFE."""


def _from_room(metal: MetalNumbers, numbers: Expansions, T: float) -> float:
    """Strain of a metal from the temperature where those of metals are zero."""
    T_20 = numbers.constants[0].reference_temperature
    if metal.is_lent == 1:
        f_lent = expansion.lent_fit_scale(metal.fit, metal.mean_expansion, T_20, numbers.constants[0].shape_span)
        return expansion.metal_strain(metal.fit, metal.lowest, metal.flat, f_lent, metal.mean_expansion, T_20, T)
    return expansion.metal_strain(metal.fit, metal.lowest, metal.flat, 1.0, metal.mean_expansion, T_20, T)


def metal_strain(metal: MetalNumbers, numbers: Expansions, T_ref: float, T: float) -> float:
    """Strain of a metal.

    Parameters
    ----------
    T_ref : K
        Temperature at which its dimensions hold.
    T : K
        Temperature.

    Returns
    -------
    epsilon : -
        Strain of the metal from where dimensions hold.
    """
    epsilon_T = _from_room(metal, numbers, T)  # strain of the metal from room temperature
    epsilon_0 = _from_room(metal, numbers, T_ref)  # strain of the metal where dimensions hold
    return (epsilon_T - epsilon_0) / (1.0 + epsilon_0)


def seal_strain(case: Case, rules: Rules, numbers: Expansions, T_ref: float, T: float) -> float:
    """Strain of the compound of a seal.

    Parameters
    ----------
    T_ref : K
        Temperature at which its dimensions hold.
    T : K
        Temperature.

    Returns
    -------
    epsilon_s : -
        Strain of the compound from where dimensions hold.
    """
    f_exp = rules.compounds[case.compound].expansion_ratio
    curve, fit, T_low = numbers.ptfe[0].strain, numbers.ptfe[0].fit, numbers.ptfe[0].lowest
    epsilon_T = expansion.ptfe_strain(curve, fit, T_low, f_exp, T)  # strain of the compound from where its table counts
    epsilon_0 = expansion.ptfe_strain(curve, fit, T_low, f_exp, T_ref)  # strain of the compound where dimensions hold
    return (epsilon_T - epsilon_0) / (1.0 + epsilon_0)


def effective_length(case: Case, rules: Rules) -> float:
    """Free length of the lip: what a reinforcing band leaves of it.

    Returns
    -------
    L_free : m
        Free length of the lip.
    """
    if case.family == Family.flexible_lip and case.reinforcing_band == 1:
        return case.lip_length * rules.constants[0].band_length_share
    return case.lip_length


def lip_on_shaft(
    case: Case, rules: Rules, d_e: float, d_made: float, epsilon_d: float, epsilon_s: float, epsilon_root: float
) -> FitAtTemperature:  # fmt: skip
    """Fit of the unstretched lip on a shaft: the edge of the lip grows as its compound does, as far as its root lets it.

    Parameters
    ----------
    d_e : m
        Diameter of the shaft at the reference temperature.
    d_made : m
        Diameter of the lip as made.
    epsilon_d : -
        Strain of the shaft.
    epsilon_s : -
        Strain of the compound.
    epsilon_root : -
        Strain of what holds the root of the lip.

    Returns
    -------
    delta : m
        Interference on the radius; negative is a gap.
    Delta_delta : m
        Interference less that as made.
    d_T : m
        Diameter of the shaft.
    d_lip : m
        Diameter of the unstretched lip.

    References
    ----------
    Lip held at its root (models/thermal_fit).
    """
    r_lip = 0.5 * (case.shaft_diameter + case.lip_thickness)  # mean radius of the lip on the shaft
    L_free = effective_length(case, rules)
    phi_root = held_root_share(r_lip, case.lip_thickness, L_free, rules.compounds[case.compound].poisson_ratio)
    epsilon_edge = phi_root * epsilon_root + (1.0 - phi_root) * epsilon_s  # strain of the edge of the lip
    return fit_at_temperature(d_e, d_made, epsilon_d, epsilon_edge)


def _known(rules: Rules, T: float) -> float:
    """Temperature, within that to which the expansion of PTFE is known: a search may look beyond."""
    strain = rules.ptfe[0].strain
    return greatest(least(T, strain.x[strain.n - 1]), rules.ptfe[0].lowest)


def made_interference_at(case: Case, rules: Rules, i_made: float, T: float) -> float:
    """Radial interference that a temperature leaves of the unstretched lip on its shaft, nominal dimensions.

    The root is held by what holds the body: by a flange or a case as the housing grows, by a bore alone only where it
    confines the body. Expansion is held at the ends of what is known of it.

    Parameters
    ----------
    i_made : m
        Interference on the diameter, free.
    T : K
        Temperature of lip, shaft and housing.

    Returns
    -------
    i_T : m
        Interference on the radius; negative where the lip has grown off the shaft.

    References
    ----------
    Lip held at its root (models/thermal_fit).
    """
    T_k = _known(rules, T)  # temperature, as far as expansion is known
    T_ref = rules.constants[0].reference_temperature
    epsilon_d = metal_strain(rules.metals[case.shaft_material], rules, T_ref, T_k)  # strain of the shaft
    epsilon_s = seal_strain(case, rules, rules, T_ref, T_k)  # strain of the compound of the seal
    bore = case.housing_material if case.housing_material >= 0 else -2
    epsilon_root = metal_strain(rules.metals[bore], rules, T_ref, T_k)  # strain of what holds the root of the lip
    if case.retention == Retention.o_ring:
        epsilon_root = least(epsilon_s, epsilon_root)  # strain of the root until the bore stops it
    fit = lip_on_shaft(case, rules, case.shaft_diameter, case.shaft_diameter - i_made,
                       epsilon_d, epsilon_s, epsilon_root)  # fmt: skip
    return fit.interference


def interference_at(case: Case, rules: Rules, T: float) -> float:
    """Radial interference of the unstretched lip on its shaft, both at a temperature, nominal dimensions.

    Parameters
    ----------
    T : K
        Temperature of lip, shaft and housing.

    Returns
    -------
    i_T : m
        Interference on the radius; negative where the lip has grown off the shaft.

    References
    ----------
    Lip held at its root (models/thermal_fit).
    """
    return made_interference_at(case, rules, case.interference, T)
