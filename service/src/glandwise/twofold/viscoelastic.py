"""Linear viscoelasticity of a lip: generalised Maxwell series, temperature shift, what relaxes and what stays set.

A Prony series is one equilibrium modulus and branches (modulus, relaxation time). ``branch_moduli`` and
``relaxation_times`` hold the branches on their **last axis**:

- for the fast path, sequences of floats (list or tuple), and floats elsewhere;
- for batches, arrays of shape ``(..., n)``; the leading axes broadcast against the other arguments (time, frequency,
  equilibrium modulus), which carry no branch axis.

Any consistent unit serves: moduli [Pa], stiffnesses [N/m²], or shares of the instantaneous modulus [-].
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import exp
from typing import NamedTuple, TypeAlias

import numpy as np

from glandwise.twofold import numeric as num

Branches: TypeAlias = Sequence[float] | num.Array
"""Values of the branches: a sequence of floats, or an array with the branches on the last axis."""

GAS_CONSTANT = 8.31446261815324
"""Molar gas constant [J/(mol K)], exact: Boltzmann constant times Avogadro constant as defined in the SI of 2019."""

_LN10 = 2.302585092994046


class ComplexModulus(NamedTuple):
    """Answer in phase with the strain and a quarter period ahead of it, in the unit of the series."""

    storage: num.Real
    """Storage part E' [unit of the series]."""
    loss: num.Real
    """Loss part E'' [unit of the series]."""


class LossPeak(NamedTuple):
    """Peak of the loss factor of a standard linear solid."""

    angular_frequency: num.Real
    """Angular frequency of the peak [rad/s]."""
    loss_factor: num.Real
    """Loss factor tan δ there [-]."""


def instantaneous_modulus(equilibrium: num.Real, branch_moduli: Branches) -> num.Real:
    r"""Modulus at once after a step of strain.

    .. math:: E_0 = E_\infty + \sum_i E_i

    Parameters
    ----------
    equilibrium
        Equilibrium modulus :math:`E_\infty`; float or array, >= 0. [Pa]
    branch_moduli
        Branch moduli :math:`E_i`; sequence of floats, or array with branches on the last axis, >= 0. [Pa]

    Returns
    -------
    float or array
        Instantaneous modulus :math:`E_0`. [Pa]

    Notes
    -----
    Linear viscoelastic solid.

    References
    ----------
    Ferry, Viscoelastic Properties of Polymers, 3rd ed. 1980, ch. 1; published, from memory.
    """
    if num.is_array(equilibrium, branch_moduli):
        return equilibrium + np.sum(branch_moduli, axis=-1)
    return equilibrium + float(sum(branch_moduli))


def relaxation_modulus(
    time: num.Real, equilibrium: num.Real, branch_moduli: Branches, relaxation_times: Branches
) -> num.Real:
    r"""Stress per unit strain a while after a step of strain.

    .. math:: E(t) = E_\infty + \sum_i E_i \, e^{-t/\tau_i}

    Parameters
    ----------
    time
        Reduced time :math:`t` since the step (time over the shift factor); float or array, >= 0. [s]
    equilibrium
        Equilibrium modulus :math:`E_\infty`; float or array, >= 0. [Pa]
    branch_moduli
        Branch moduli :math:`E_i`; sequence of floats, or array with branches on the last axis, >= 0. [Pa]
    relaxation_times
        Relaxation times :math:`\tau_i`; likewise, > 0. [s]

    Returns
    -------
    float or array
        Relaxation modulus :math:`E(t)`; ``nan`` for a negative time. [Pa]

    Notes
    -----
    Linear: valid for strains small enough that modulus does not depend on strain. An infinite time gives the
    equilibrium modulus.

    References
    ----------
    Ferry, Viscoelastic Properties of Polymers, 3rd ed. 1980, ch. 3; published, from memory.
    """
    if num.is_array(time, equilibrium, branch_moduli, relaxation_times):
        ratio = -np.asarray(time, dtype=np.float64)[..., None] / np.asarray(relaxation_times, dtype=np.float64)
        total = equilibrium + np.sum(np.asarray(branch_moduli) * num.exp(ratio), axis=-1)
        return num.where(time >= 0.0, total, num.nan)
    if not time >= 0.0:
        return num.nan
    total = equilibrium
    try:
        for branch, tau in zip(branch_moduli, relaxation_times, strict=True):
            total += branch * exp(-time / tau)
    except OverflowError:  # only a negative relaxation time leads here
        return num.inf
    return total


def complex_modulus(
    angular_frequency: num.Real, equilibrium: num.Real, branch_moduli: Branches, relaxation_times: Branches
) -> ComplexModulus:
    r"""Storage and loss parts of the modulus under steady sinusoidal strain.

    .. math::

        E^*(\omega) = E_\infty + \sum_i E_i \frac{i \omega \tau_i}{1 + i \omega \tau_i}, \qquad
        E' = E_\infty + \sum_i E_i \frac{x_i^2}{1 + x_i^2}, \quad
        E'' = \sum_i E_i \frac{x_i}{1 + x_i^2}, \quad x_i = \omega \tau_i

    Parameters
    ----------
    angular_frequency
        Reduced angular frequency :math:`\omega` (times the shift factor); float or array, >= 0, finite. [rad/s]
    equilibrium
        Equilibrium modulus :math:`E_\infty`; float or array, >= 0. [Pa]
    branch_moduli
        Branch moduli :math:`E_i`; sequence of floats, or array with branches on the last axis, >= 0. [Pa]
    relaxation_times
        Relaxation times :math:`\tau_i`; likewise, > 0. [s]

    Returns
    -------
    ComplexModulus
        Storage and loss parts; ``nan`` for a negative frequency. [Pa]

    Notes
    -----
    Linear; the series says nothing beyond the reciprocals of its shortest and longest relaxation times.

    References
    ----------
    Ferry, Viscoelastic Properties of Polymers, 3rd ed. 1980, ch. 3; published, from memory.
    """
    if num.is_array(angular_frequency, equilibrium, branch_moduli, relaxation_times):
        omega = np.asarray(angular_frequency, dtype=np.float64)
        omega = np.where(omega >= 0.0, omega, num.nan)
        x = omega[..., None] * np.asarray(relaxation_times, dtype=np.float64)
        lag = np.asarray(branch_moduli) / (1.0 + x * x)
        return ComplexModulus(equilibrium + np.sum(lag * x * x, axis=-1), np.sum(lag * x, axis=-1))
    if not angular_frequency >= 0.0:
        return ComplexModulus(num.nan, num.nan)
    storage, loss = equilibrium, 0.0
    for branch, tau in zip(branch_moduli, relaxation_times, strict=True):
        x = angular_frequency * tau
        lag = branch * x / (1.0 + x * x)
        storage += lag * x
        loss += lag
    return ComplexModulus(storage, loss)


def loss_factor(
    angular_frequency: num.Real, equilibrium: num.Real, branch_moduli: Branches, relaxation_times: Branches
) -> num.Real:
    r"""Loss factor under steady sinusoidal strain.

    .. math:: \tan\delta = E'' / E'

    Parameters
    ----------
    angular_frequency
        Reduced angular frequency; float or array, >= 0, finite. [rad/s]
    equilibrium
        Equilibrium modulus; float or array, >= 0. [Pa]
    branch_moduli
        Branch moduli; sequence of floats, or array with branches on the last axis, >= 0. [Pa]
    relaxation_times
        Relaxation times; likewise, > 0. [s]

    Returns
    -------
    float or array
        Loss factor. [-]

    Notes
    -----
    As `complex_modulus`.

    References
    ----------
    As `complex_modulus`.
    """
    storage, loss = complex_modulus(angular_frequency, equilibrium, branch_moduli, relaxation_times)
    return num.divide(loss, storage)


def standard_solid_loss_peak(equilibrium: num.Real, branch_modulus: num.Real, relaxation_time: num.Real) -> LossPeak:
    r"""Where a series of one branch loses most, and how much.

    .. math::

        \omega_p = \frac{1}{\tau} \sqrt{\frac{E_\infty}{E_0}}, \qquad
        \tan\delta_p = \frac{E_1}{2 \sqrt{E_\infty E_0}}, \qquad E_0 = E_\infty + E_1

    Parameters
    ----------
    equilibrium
        Equilibrium modulus :math:`E_\infty`; float or array, > 0. [Pa]
    branch_modulus
        Branch modulus :math:`E_1`; float or array, >= 0. [Pa]
    relaxation_time
        Relaxation time :math:`\tau`; float or array, > 0. [s]

    Returns
    -------
    LossPeak
        Angular frequency [rad/s] and loss factor [-] of the peak.

    Notes
    -----
    Standard linear solid; exact.

    References
    ----------
    Ferry, Viscoelastic Properties of Polymers, 3rd ed. 1980, ch. 3; published, from memory.
    """
    glassy = equilibrium + branch_modulus
    return LossPeak(
        num.divide(num.sqrt(num.divide(equilibrium, glassy)), relaxation_time),
        num.divide(branch_modulus, 2.0 * num.sqrt(equilibrium * glassy)),
    )


def arrhenius_shift(temperature: num.Real, reference_temperature: num.Real, activation_energy: num.Real) -> num.Real:
    r"""Time-temperature shift factor by an activation energy.

    .. math:: \ln a_T = \frac{H}{R} \left( \frac{1}{T} - \frac{1}{T_0} \right)

    Parameters
    ----------
    temperature
        Temperature :math:`T`; float or array, > 0. [K]
    reference_temperature
        Temperature :math:`T_0` of the series; float or array, > 0. [K]
    activation_energy
        Activation energy :math:`H`; float or array, >= 0. [J/mol]

    Returns
    -------
    float or array
        Shift factor :math:`a_T`: below 1 when warmer. Reduced time is :math:`t/a_T`, reduced frequency
        :math:`\omega a_T`. ``nan`` for a temperature that is not positive. [-]

    Notes
    -----
    One thermally activated process; not across a transition (PTFE: near 19 °C and 30 °C, and near 120 °C).

    References
    ----------
    Ferry, Viscoelastic Properties of Polymers, 3rd ed. 1980, ch. 11; published, from memory.
    """
    ok = (temperature > 0.0) & (reference_temperature > 0.0)
    inverse = num.divide(1.0, num.where(ok, temperature, num.nan))
    return num.exp(activation_energy / GAS_CONSTANT * (inverse - num.divide(1.0, reference_temperature)))


def wlf_shift(temperature: num.Real, reference_temperature: num.Real, c1: num.Real, c2: num.Real) -> num.Real:
    r"""Time-temperature shift factor of Williams, Landel and Ferry.

    .. math:: \log_{10} a_T = -\frac{c_1 (T - T_0)}{c_2 + T - T_0}

    Parameters
    ----------
    temperature
        Temperature :math:`T`; float or array, > T₀ - c₂. [K]
    reference_temperature
        Temperature :math:`T_0` of the series; float or array. [K]
    c1
        First constant :math:`c_1`; float or array, >= 0. [-]
    c2
        Second constant :math:`c_2`; float or array, > 0. [K]

    Returns
    -------
    float or array
        Shift factor :math:`a_T`; ``nan`` at and below the pole T₀ - c₂. [-]

    Notes
    -----
    Meant for amorphous polymers from the glass transition to about 100 K above it; PTFE is semicrystalline, so the
    constants are a fit, with no meaning beyond the range fitted.

    References
    ----------
    Williams, Landel & Ferry, J. Am. Chem. Soc. 77 (1955) 3701; published, from memory.
    """
    difference = temperature - reference_temperature
    above = c2 + difference
    span = num.where(above > 0.0, above, num.nan)
    return num.exp(-_LN10 * c1 * difference / span)


def tabulated_modulus(
    temperature: num.Real, table_temperatures: Sequence[float], table_moduli: Sequence[float]
) -> num.Real:
    r"""Instantaneous modulus at a temperature from a table, linear in its logarithm.

    .. math:: \ln E_0(T) = \ln E_j + \frac{T - T_j}{T_{j+1} - T_j} \ln \frac{E_{j+1}}{E_j}

    Parameters
    ----------
    temperature
        Temperature :math:`T`; float or array. [K]
    table_temperatures
        Temperatures of the table; increasing, two or more. [K]
    table_moduli
        Instantaneous moduli of the table; as many, > 0. [Pa]

    Returns
    -------
    float or array
        Instantaneous modulus; ``nan`` outside the table, which is not extrapolated. [Pa]

    Raises
    ------
    ValueError
        If the table is not increasing, not positive, shorter than two rows, or its columns differ in length.

    Notes
    -----
    Monotone between the rows of a monotone table, and positive.

    References
    ----------
    Definition.
    """
    if len(table_temperatures) != len(table_moduli) or len(table_temperatures) < 2:
        raise ValueError("a modulus table needs two columns of the same length, two rows or more")
    if any(b <= a for a, b in pairwise(table_temperatures)) or min(table_moduli) <= 0:
        raise ValueError("a modulus table needs increasing temperatures and positive moduli")
    logarithms = [num.log(float(value)) for value in table_moduli]
    inside = (temperature >= table_temperatures[0]) & (temperature <= table_temperatures[-1])
    modulus = num.exp(num.interp(temperature, table_temperatures, logarithms))
    return num.where(inside, modulus, num.nan)


def relaxed_load_ratio(
    time: num.Real,
    shift_factor: num.Real,
    equilibrium: num.Real,
    branch_moduli: Branches,
    relaxation_times: Branches,
    set_fraction: num.Real = 0.0,
) -> num.Real:
    r"""Share of the load at fitting that a lip held at constant interference still gives after a time.

    .. math:: \frac{q(t, T)}{q(0)} = (1 - s) \frac{E(t / a_T)}{E_0}

    Parameters
    ----------
    time
        Time held :math:`t`; float or array, >= 0, infinity gives the equilibrium. [s]
    shift_factor
        Time-temperature shift factor :math:`a_T`; float or array, > 0. [-]
    equilibrium
        Equilibrium modulus :math:`E_\infty`; float or array, > 0. [Pa]
    branch_moduli
        Branch moduli; sequence of floats, or array with branches on the last axis, >= 0. [Pa]
    relaxation_times
        Relaxation times at the reference temperature; likewise, > 0. [s]
    set_fraction
        Share :math:`s` of the interference that has become permanent set; float or array, 0..1. [-]

    Returns
    -------
    float or array
        Ratio of load now to load at fitting, at the same temperature; ``nan`` outside the ranges above. [-]

    Notes
    -----
    Constant temperature while held. The series stands for the recoverable part alone. If it was fitted to load at
    held strain, the set is already in it: pass no set here, and use it only for what is given back
    (`recoverable_interference`).

    References
    ----------
    Linear superposition, as `relaxation_modulus`; the set as a share of interference is this model's definition.
    """
    ok = (shift_factor > 0.0) & (set_fraction >= 0.0) & (set_fraction <= 1.0)
    reduced = num.divide(time, num.where(ok, shift_factor, num.nan))
    glassy = instantaneous_modulus(equilibrium, branch_moduli)
    relaxed = relaxation_modulus(reduced, equilibrium, branch_moduli, relaxation_times)
    return (1.0 - set_fraction) * num.divide(relaxed, glassy)


def recoverable_interference(interference: num.Real, set_fraction: num.Real) -> num.Real:
    r"""How far a shaft may move away slowly before the lip stops following it.

    .. math:: \delta_r = (1 - s) \delta

    Parameters
    ----------
    interference
        Interference :math:`\delta` the lip has been held at; float or array, >= 0. [m]
    set_fraction
        Share :math:`s` that has become permanent set; float or array, 0..1. [-]

    Returns
    -------
    float or array
        Recoverable interference; ``nan`` outside the ranges above. What is set is not given back. [m]

    Notes
    -----
    Slow against every relaxation time. How far a fast movement is followed is the matter of ``following``.

    References
    ----------
    Definition.
    """
    ok = (interference >= 0.0) & (set_fraction >= 0.0) & (set_fraction <= 1.0)
    return num.where(ok, (1.0 - set_fraction) * interference, num.nan)
