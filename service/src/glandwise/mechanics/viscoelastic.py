"""Linear viscoelasticity of a lip: what time and temperature leave of its stiffness and load."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, nan
from typing import Protocol

from glandwise.numerics.arithmetic import greatest, least
from glandwise.numerics.lives import Constant, opaque

GAS_CONSTANT = Constant(8.31446261815324, "R", "J/(mol·K)", "SI of 2019, exact", "Molar gas constant")

COLDEST = Constant(
    1.0, "T_0", "K", "definition: the shift has no value at absolute zero", "Temperature below which relaxation is no slower"
)  # fmt: skip

FROZEN = Constant(
    1e30, "a_max", "-", "definition: nothing relaxes in any service life, and its square is still a number", "Greatest shift"
)  # fmt: skip

SPENT = 50.0
"""Times of its own after which nothing of a branch is left: less than a number of 1 can tell."""


class Relaxation(Protocol):
    """Relaxation of a modulus: an equilibrium share and the branches of a generalised Maxwell series."""

    equilibrium: float
    """g_inf [-]: Share of the instantaneous modulus that does not relax"""
    shares: Sequence[float]
    """g [-]: Share of the instantaneous modulus of each branch; the first ``n`` count"""
    times: Sequence[float]
    """tau [s]: Relaxation time of each branch at the reference temperature, > 0; the first ``n`` count"""
    n: int
    """n [-]: Number of branches"""
    reference_temperature: float
    """T_ref [K]: Temperature to which the relaxation times refer, > 0"""
    activation_energy: float
    """H_a [J/mol]: Activation energy of the relaxation times, >= 0"""


def _is_positive(x: float) -> bool:
    """Whether a number is positive."""
    return x > 0.0


def shift_factor(T: float, T_ref: float, H_a: float) -> float:
    """Time-temperature shift factor by an activation energy.

    Below 1 when warmer than the reference: time under load counts as time over shift, a frequency as frequency times
    shift. One thermally activated process: not across a transition (PTFE: near 19 °C and 30 °C, and near 120 °C).

    Parameters
    ----------
    T : K
        Temperature; below 1 K it counts as 1 K.
    T_ref : K
        Temperature of the relaxation times, > 0, else NaN.
    H_a : J/mol
        Activation energy, >= 0.

    Returns
    -------
    a_T : -
        Shift of the relaxation times.

    References
    ----------
    Ferry, Viscoelastic Properties of Polymers, 3rd ed. 1980, ch. 11; published, from memory.
    """
    if not _is_positive(T_ref):
        return nan
    T_held = greatest(T, COLDEST)  # temperature that it relaxes at
    return least(exp(H_a / GAS_CONSTANT * (1.0 / T_held - 1.0 / T_ref)), FROZEN)


def _series_words(g_inf: float, t_red: float, relaxation: Relaxation) -> str:  # noqa: ARG001
    """Sum of the branches as an expression, times in s."""
    terms = (f"{relaxation.shares[i]!s} * exp(-{{1}} / {relaxation.times[i]!s})" for i in range(relaxation.n))
    return " + ".join(["{0}", *terms])


@opaque(words=_series_words)
def relaxed_series(g_inf: float, t_red: float, relaxation: Relaxation) -> float:
    """Share of a modulus that is left a while after a step of strain.

    Linear: valid for strains small enough that the modulus does not depend on strain. An infinite time gives the
    equilibrium share.

    Parameters
    ----------
    g_inf : -
        Share that does not relax.
    t_red : s
        Time since the step over the shift factor, >= 0, else NaN.

    Returns
    -------
    f_t : -
        Share of the instantaneous modulus that is left.

    References
    ----------
    Generalised Maxwell series; Ferry, Viscoelastic Properties of Polymers, 3rd ed. 1980, ch. 3; published, from memory.
    """
    if not t_red >= 0.0:
        return nan
    total = g_inf
    for i in range(relaxation.n):
        x = t_red / relaxation.times[i]
        if not x >= SPENT:  # what underflows is slow to work out; what is not known goes on
            total += relaxation.shares[i] * exp(-x)
    return total


def relaxed_share(relaxation: Relaxation, T: float, t: float) -> float:
    """Share of its own load that a lip held at constant interference and temperature still gives after a time.

    Parameters
    ----------
    T : K
        Temperature while held; below 1 K it counts as 1 K.
    t : s
        Time under load, >= 0, infinity gives the equilibrium; NaN for a negative time.

    Returns
    -------
    f_t : -
        Share of the lip's own load that is left; 1 for time zero.

    References
    ----------
    Generalised Maxwell series with Arrhenius shift; Ferry, Viscoelastic Properties of Polymers, 3rd ed. 1980, ch. 3 and
    11; published, from memory.
    """
    a_T = shift_factor(T, relaxation.reference_temperature, relaxation.activation_energy)
    t_red = t / a_T  # time at the reference temperature that relaxes as much
    return relaxed_series(relaxation.equilibrium, t_red, relaxation)
