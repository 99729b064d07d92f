"""Wear of the lip: how fast at the start, how long to what it may give."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.choices import Energizer
from glandwise.formulas.viscoelastic import relaxed_share
from glandwise.formulas.wear import depth_rate, relieved_distance, wear_rate
from glandwise.numerics.arithmetic import least
from glandwise.numerics.interpolation import curve_at
from glandwise.physics.sizing import load_factor

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State


class Wearing(NamedTuple):
    """Nominal wear."""

    rate: float
    """Depth per second at the start [m/s]."""
    life: float
    """Time to the allowance [s]; infinite where nothing wears or the load is lost before."""


def wear_allowance(case: Case, rules: Rules) -> float:
    """Radial wear at which the seal is taken as worn out: the least of what lip, energizer and fit can give.

    A garter presses on, but against a lip that is worn past its interference it soon presses in vain.

    Returns
    -------
    h_a : m
        Depth that may wear.

    References
    ----------
    House estimate (models/wear).
    """
    constants = rules.constants[0]
    h_t = constants.lip_allowance_share * case.lip_thickness  # what the thickness of the lip gives
    if case.energizer == Energizer.cantilever_v:
        return least(h_t, constants.energizer_allowance_share * case.v_deflection)
    if case.energizer == Energizer.canted_coil:
        return least(h_t, constants.energizer_allowance_share * case.coil_deflection)
    return least(h_t, constants.interference_allowance_share * 0.5 * case.interference)


def lost_stiffness(case: Case, rules: Rules, state: State, t_load: float) -> float:
    """Load that lip and energizer lose per worn depth.

    Parameters
    ----------
    t_load : s
        Time under load.

    Returns
    -------
    k_w : N/m²
        Load lost per worn depth.
    """
    compound = rules.compounds[case.compound]
    T_c = state.running.temperature
    k_lip = state.shape.stiffness * curve_at(compound.elastic_modulus, T_c)  # stiffness of the lip, not relaxed
    f_t = relaxed_share(compound.relaxation, T_c, t_load)
    return (k_lip * f_t + state.spring.stiffness) * load_factor(case, rules)


def wearing(case: Case, rules: Rules, state: State) -> Wearing:
    """Nominal wear in the nominal running state.

    Returns
    -------
    h_dot : m/s
        Depth worn per second at the start.
    t_life : s
        Time to the allowance.

    References
    ----------
    Archard; the load that falls as the lip wears (models/wear).
    """
    factor = rules.shaft_materials[case.shaft_material].wear_factor
    K = wear_rate(rules.compounds[case.compound].wear[case.lubrication], factor)
    h_a = wear_allowance(case, rules)
    k_w = lost_stiffness(case, rules, state, rules.constants[0].nominal_time)
    s = relieved_distance(K, state.running.load, k_w, case.contact_width, h_a)
    h_dot = depth_rate(K, state.running.contact_pressure, case.surface_speed)
    return Wearing(h_dot, s / case.surface_speed)
