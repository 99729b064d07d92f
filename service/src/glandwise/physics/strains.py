"""Thermal strains of the parts of a seal and its hardware, from the temperature at which dimensions hold."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from glandwise.mechanics import expansion

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules, MetalNumbers
    from glandwise.case.hardware import Hardware
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case


class Parts(Protocol):
    """Hardware by what it is made of."""

    @property
    def reference(self) -> float:
        """Temperature at which dimensions hold [K]."""

    @property
    def shaft_metal(self) -> int:
        """Material of the shaft."""

    @property
    def housing_metal(self) -> int:
        """Material of the housing."""


def _from_room(metal: MetalNumbers, gland: GlandRules, T: float) -> float:
    """Strain of a metal from the temperature where those of metals are zero."""
    T_20 = gland.constants[0].reference_temperature
    if metal.is_lent == 1:
        f_lent = expansion.lent_fit_scale(metal.fit, metal.mean_expansion, T_20, gland.constants[0].shape_span)
        return expansion.metal_strain(metal.fit, metal.lowest, metal.flat, f_lent, metal.mean_expansion, T_20, T)
    return expansion.metal_strain(metal.fit, metal.lowest, metal.flat, 1.0, metal.mean_expansion, T_20, T)


def metal_strain(metal: MetalNumbers, gland: GlandRules, T_ref: float, T: float) -> float:
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
    epsilon_T = _from_room(metal, gland, T)  # strain of the metal from room temperature
    epsilon_0 = _from_room(metal, gland, T_ref)  # strain of the metal where dimensions hold
    return (epsilon_T - epsilon_0) / (1.0 + epsilon_0)


def seal_strain(case: Case, rules: Rules, gland: GlandRules, T_ref: float, T: float) -> float:
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
    curve, fit, T_low = gland.ptfe[0].strain, gland.ptfe[0].fit, gland.ptfe[0].lowest
    epsilon_T = expansion.ptfe_strain(curve, fit, T_low, f_exp, T)  # strain of the compound from where its table counts
    epsilon_0 = expansion.ptfe_strain(curve, fit, T_low, f_exp, T_ref)  # strain of the compound where dimensions hold
    return (epsilon_T - epsilon_0) / (1.0 + epsilon_0)


def ring_strain(case: Case, hardware: Hardware, gland: GlandRules, T: float) -> float:
    """Strain of the O-ring from where dimensions hold."""
    return gland.rubbers[case.elastomer].mean_expansion * (T - hardware.reference)


def housing_strain(hardware: Parts, gland: GlandRules, T: float) -> float:
    """Strain of the housing from where dimensions hold."""
    return metal_strain(gland.metals[hardware.housing_metal], gland, hardware.reference, T)


def shaft_strain(hardware: Parts, gland: GlandRules, T: float) -> float:
    """Strain of the shaft from where dimensions hold."""
    return metal_strain(gland.metals[hardware.shaft_metal], gland, hardware.reference, T)


def alloy_strain(case: Case, hardware: Hardware, gland: GlandRules, T: float) -> float:
    """Strain of the alloy of the energizer from where dimensions hold."""
    return metal_strain(gland.alloys[case.alloy], gland, hardware.reference, T)
