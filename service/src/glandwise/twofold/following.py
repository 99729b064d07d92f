"""How much shaft runout a preloaded lip follows before it first leaves the shaft.

The lip is one degree of freedom: a relaxing stiffness (equilibrium spring and Maxwell branches), an elastic stiffness
beside it (garter or other energizer) and a mass, pressed on the shaft by a preload and driven by the shaft's
eccentricity. All quantities are per unit circumference (N/m, N/m², kg/m) or all lumped (N, N/m, kg): either serves,
and the docstrings give the former.

Branches are given as in ``viscoelastic``: sequences of floats with float arguments, or arrays with the branches on the
last axis whose leading axes broadcast against the other arguments.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from glandwise.twofold import numeric as num
from glandwise.twofold.viscoelastic import Branches

_INERTIA_FLOOR = 1e-7
"""Share of the static stiffness below which the inertia term is not searched; it bounds the error of the peak."""

_TOP = 2.0794415416798357
"""Logarithm of the factor, eight, by which the finer upper part of the grid spans the frequencies searched."""
# Where mass and relaxation meet, near the upper end, a maximum and a minimum may lie close together.
_LOWER = np.linspace(0.0, 1.0, 33)[:-1]
_UPPER = _TOP * np.linspace(-1.0, 0.0, 33)
_REFINEMENTS = 8
_BLOCK = 8192


class DynamicStiffness(NamedTuple):
    """Greatest dynamic stiffness between standstill and a speed."""

    magnitude: num.Real
    """Greatest load amplitude per unit eccentricity [N/m²]."""
    angular_frequency: num.Real
    """Where it occurs [rad/s]."""
    governs: Any
    """``"recovery"`` or ``"inertia"``; an empty text where the arguments were out of range [text]."""


class FollowingLimit(NamedTuple):
    """What a lip follows at a speed, running up from standstill."""

    eccentricity: num.Real
    """Allowed eccentricity of the shaft, half the TIR [m]."""
    tir: num.Real
    """Allowed total indicator reading [m]."""
    governing_frequency: num.Real
    """Angular frequency at which contact would first be lost on the way up [rad/s]."""
    governs: Any
    """``"recovery"``: relaxing and elastic stiffness; ``"inertia"``: the mass; empty where out of range [text]."""
    dynamic_stiffness: num.Real
    """Greatest load amplitude per unit eccentricity on the way up [N/m²]."""
    preload: num.Real
    """Preload on the side that the offset unloads, never below zero [N/m]."""


def dynamic_stiffness(
    angular_frequency: num.Real,
    equilibrium_stiffness: num.Real,
    branch_stiffnesses: Branches,
    relaxation_times: Branches,
    mass: num.Real,
    elastic_stiffness: num.Real = 0.0,
) -> num.Real:
    r"""Amplitude of the contact load per unit eccentricity at one frequency, while contact is kept.

    .. math::

        |Z(\omega)| = \left| k_e + k_\infty + \sum_i k_i \frac{i \omega \tau_i}{1 + i \omega \tau_i}
        - m \omega^2 \right|

    Parameters
    ----------
    angular_frequency
        Angular frequency :math:`\omega` of the shaft; float or array, >= 0, finite. [rad/s]
    equilibrium_stiffness
        Fully relaxed stiffness :math:`k_\infty` of the lip; float or array, >= 0. [N/m²]
    branch_stiffnesses
        Relaxing stiffnesses :math:`k_i`; sequence of floats, or array with branches on the last axis, >= 0. [N/m²]
    relaxation_times
        Relaxation times :math:`\tau_i` at temperature; likewise, > 0. [s]
    mass
        Effective mass :math:`m` at the lip's edge; float or array, >= 0. [kg/m]
    elastic_stiffness
        Stiffness :math:`k_e` that does not relax (energizer); float or array, >= 0. [N/m²]

    Returns
    -------
    float or array
        Dynamic stiffness :math:`|Z|`; ``nan`` outside the ranges above or without any static stiffness. [N/m²]

    Notes
    -----
    One degree of freedom, linear, steady state.

    References
    ----------
    Equation of motion of a driven oscillator with generalised Maxwell stiffness; derived here.
    """
    if not num.is_array(
        angular_frequency, equilibrium_stiffness, branch_stiffnesses, relaxation_times, mass, elastic_stiffness
    ):
        static = equilibrium_stiffness + elastic_stiffness
        if not (angular_frequency >= 0.0 and mass >= 0.0 and static > 0.0):
            return num.nan
        return num.sqrt(_square(angular_frequency, static, branch_stiffnesses, relaxation_times, mass)[0])
    case = _Batch(equilibrium_stiffness, branch_stiffnesses, relaxation_times, mass, elastic_stiffness)
    omega = np.asarray(angular_frequency, dtype=np.float64)
    omega = np.where(omega >= 0.0, omega, num.nan)
    return num.sqrt(_square(omega, case.static, case.branches, case.times, case.mass)[0])


def peak_dynamic_stiffness(
    angular_frequency: num.Real,
    equilibrium_stiffness: num.Real,
    branch_stiffnesses: Branches,
    relaxation_times: Branches,
    mass: num.Real,
    elastic_stiffness: num.Real = 0.0,
) -> DynamicStiffness:
    r"""Greatest dynamic stiffness met on the way from standstill to a speed.

    .. math:: Z_{\max}(\omega) = \max_{0 \le \omega' \le \omega} |Z(\omega')|

    Parameters
    ----------
    angular_frequency
        Angular frequency :math:`\omega` of the shaft; float or array, >= 0, finite. [rad/s]
    equilibrium_stiffness
        Fully relaxed stiffness of the lip; float or array, >= 0. [N/m²]
    branch_stiffnesses
        Relaxing stiffnesses; sequence of floats, or array with branches on the last axis, >= 0. [N/m²]
    relaxation_times
        Relaxation times at temperature; likewise, > 0. [s]
    mass
        Effective mass at the lip's edge; float or array, >= 0. [kg/m]
    elastic_stiffness
        Stiffness that does not relax; float or array, >= 0. [N/m²]

    Returns
    -------
    DynamicStiffness
        Magnitude [N/m²], the frequency where it occurs [rad/s], and what governs there.

    Notes
    -----
    The maximum lies at standstill, at ω, or at a stationary point between. Stationary points are the sign changes of
    d|Z|²/dω² on a grid of 65 points, half of them over the uppermost factor of eight in ω and equal in ln ω in either
    part, from mω² = 1e-7 k_static to mω² = 1.25 k_instantaneous, refined by a bracketed secant (Illinois). A maximum
    and a minimum between two neighbours would be passed over; against a dense search of 1700 systems near that case
    the peak was at most 1e-9 low. Each maximum is taken, although no more than one was met in 120,000 random systems.
    Above that range |Z| only rises; the start of the grid stands for all below it, which misses less than 1e-7 of the
    result. The grid does not depend on ω, so the result falls with ω nowhere by more than that. Where the rise up to ω
    can be proved from the response at ω alone, nothing is looked for. "Inertia" governs where mω² > 2 Re k*: there the
    mass adds to |Z|; below that it takes away, and the stiffness ("recovery") governs.

    References
    ----------
    Derived here. Illinois method: Dowell & Jarratt, BIT 11 (1971) 168; published, from memory.
    """
    if num.is_array(
        angular_frequency, equilibrium_stiffness, branch_stiffnesses, relaxation_times, mass, elastic_stiffness
    ):
        return _peak_batch(
            np.asarray(angular_frequency, dtype=np.float64),
            _Batch(equilibrium_stiffness, branch_stiffnesses, relaxation_times, mass, elastic_stiffness),
        )
    static = equilibrium_stiffness + elastic_stiffness
    if not (angular_frequency >= 0.0 and mass >= 0.0 and static > 0.0 and num.isfinite(angular_frequency)):
        return DynamicStiffness(num.nan, num.nan, "")
    best, where, part = static * static, 0.0, static
    square, storage, slope = _square(angular_frequency, static, branch_stiffnesses, relaxation_times, mass)
    if square > best:
        best, where, part = square, angular_frequency, storage
    inertia = mass * angular_frequency**2
    relaxing = sum(branch_stiffnesses)
    searched = inertia > _INERTIA_FLOOR * static and len(branch_stiffnesses) > 0
    if searched and not _rises_throughout(static, storage, slope, relaxing, inertia):
        omegas = _grid(static, static + relaxing, mass)
        slopes = _slope(omegas, static, branch_stiffnesses, relaxation_times, mass)
        found = [float(omegas[0])]
        for index in np.flatnonzero((slopes[:-1] > 0.0) & (slopes[1:] <= 0.0)).tolist():
            low, high = float(omegas[index]), float(omegas[index + 1])
            ends = float(slopes[index]), float(slopes[index + 1])
            if low < angular_frequency:
                found.append(_refine(low, high, *ends, static, branch_stiffnesses, relaxation_times, mass))
        for omega in found:
            square, storage, _ = _square(omega, static, branch_stiffnesses, relaxation_times, mass)
            if omega < angular_frequency and square > best:
                best, where, part = square, omega, storage
    return DynamicStiffness(num.sqrt(best), where, "inertia" if mass * where * where > 2.0 * part else "recovery")


def eccentricity_at_frequency(
    angular_frequency: num.Real,
    lip_preload: num.Real,
    equilibrium_stiffness: num.Real,
    branch_stiffnesses: Branches,
    relaxation_times: Branches,
    mass: num.Real,
    elastic_preload: num.Real = 0.0,
    elastic_stiffness: num.Real = 0.0,
) -> num.Real:
    r"""Eccentricity at which contact is first lost at one frequency, reached without passing through lower ones.

    .. math:: e(\omega) = \frac{q_\mathrm{lip} + q_e}{|k^*(\omega) - m \omega^2|}

    Parameters
    ----------
    angular_frequency
        Angular frequency :math:`\omega` of the shaft; float or array, >= 0, finite. [rad/s]
    lip_preload
        Contact load :math:`q_\mathrm{lip}` of the lip as relaxed and worn; float or array. [N/m]
    equilibrium_stiffness
        Fully relaxed stiffness of the lip; float or array, >= 0. [N/m²]
    branch_stiffnesses
        Relaxing stiffnesses; sequence of floats, or array with branches on the last axis, >= 0. [N/m²]
    relaxation_times
        Relaxation times at temperature; likewise, > 0. [s]
    mass
        Effective mass at the lip's edge; float or array, >= 0. [kg/m]
    elastic_preload
        Contact load :math:`q_e` that does not relax (energizer, garter, pressure); float or array. [N/m]
    elastic_stiffness
        Stiffness that does not relax; float or array, >= 0. [N/m²]

    Returns
    -------
    float or array
        Eccentricity; zero where the preload is not positive. [m]

    Notes
    -----
    Has a spurious maximum where mω² = Re k*: there the lip swings with the shaft by itself. A machine has to run up
    through all lower speeds, so a capacity is `allowed_eccentricity`, not this.

    References
    ----------
    Derived here from the equation of motion in contact; first loss is where the least contact load is zero.
    """
    preload = num.maximum(lip_preload + elastic_preload, 0.0)
    stiffness = dynamic_stiffness(
        angular_frequency, equilibrium_stiffness, branch_stiffnesses, relaxation_times, mass, elastic_stiffness
    )
    return num.divide(preload, stiffness)


def allowed_eccentricity(
    angular_frequency: num.Real,
    lip_preload: num.Real,
    equilibrium_stiffness: num.Real,
    branch_stiffnesses: Branches,
    relaxation_times: Branches,
    mass: num.Real,
    elastic_preload: num.Real = 0.0,
    elastic_stiffness: num.Real = 0.0,
    offset: num.Real = 0.0,
) -> FollowingLimit:
    r"""Eccentricity and runout that the lip follows at every speed up to the one given.

    .. math::

        e = \frac{\max(q_\mathrm{lip} + q_e - (k_\infty + k_e) a, \, 0)}{Z_{\max}(\omega)}, \qquad
        \mathrm{TIR} = 2 e

    Parameters
    ----------
    angular_frequency
        Angular frequency :math:`\omega` of the shaft; float or array, >= 0, finite. [rad/s]
    lip_preload
        Contact load :math:`q_\mathrm{lip}` of the lip as relaxed and worn, concentric; float or array. [N/m]
    equilibrium_stiffness
        Fully relaxed stiffness :math:`k_\infty` of the lip; float or array, >= 0. [N/m²]
    branch_stiffnesses
        Relaxing stiffnesses :math:`k_i`; sequence of floats, or array with branches on the last axis, >= 0. [N/m²]
    relaxation_times
        Relaxation times :math:`\tau_i` at temperature; likewise, > 0. [s]
    mass
        Effective mass :math:`m` at the lip's edge, energizer included; float or array, >= 0. [kg/m]
    elastic_preload
        Contact load :math:`q_e` that does not relax (energizer, garter, pressure); float or array. [N/m]
    elastic_stiffness
        Stiffness :math:`k_e` that does not relax; float or array, >= 0. [N/m²]
    offset
        Static offset :math:`a` of shaft axis to bore axis; float or array, >= 0. [m]

    Returns
    -------
    FollowingLimit
        Eccentricity and TIR [m], what governs and at which frequency [rad/s], dynamic stiffness [N/m²], preload on
        the unloaded side [N/m].

    Notes
    -----
    The offset presses one side and unloads the opposite one by the relaxed stiffness, since it stands for as long as
    the seal does; the unloaded side is judged. Lip sections are taken as independent round the circumference.
    Eccentricity is zero where no preload is left; ``nan`` outside the ranges above (a negative offset too).
    Never rises with ω nor falls with preload. A heavier lip is followed less only where inertia governs; below that,
    mass eases the load swing and the answer rises with it, slightly.

    References
    ----------
    Derived here; SDOF closed form checked against time integration with one-sided contact.
    """
    peak = peak_dynamic_stiffness(
        angular_frequency, equilibrium_stiffness, branch_stiffnesses, relaxation_times, mass, elastic_stiffness
    )
    preload = preload_under_offset(lip_preload, equilibrium_stiffness, offset, elastic_preload, elastic_stiffness)
    eccentricity = num.divide(preload, peak.magnitude)
    return FollowingLimit(
        eccentricity, 2.0 * eccentricity, peak.angular_frequency, peak.governs, peak.magnitude, preload
    )


def preload_under_offset(
    lip_preload: num.Real,
    equilibrium_stiffness: num.Real,
    offset: num.Real,
    elastic_preload: num.Real = 0.0,
    elastic_stiffness: num.Real = 0.0,
) -> num.Real:
    r"""Contact load left on the side that a shaft-to-bore offset unloads.

    .. math:: q = \max\left(q_\mathrm{lip} + q_e - (k_\infty + k_e) \, a, \; 0\right)

    Parameters
    ----------
    lip_preload
        Contact load of the lip as relaxed and worn, concentric; float or array. [N/m]
    equilibrium_stiffness
        Fully relaxed stiffness of the lip; float or array, >= 0. [N/m²]
    offset
        Static offset :math:`a` of shaft axis to bore axis; float or array, >= 0. [m]
    elastic_preload
        Contact load that does not relax; float or array. [N/m]
    elastic_stiffness
        Stiffness that does not relax; float or array, >= 0. [N/m²]

    Returns
    -------
    float or array
        Contact load on the unloaded side; ``nan`` for a negative offset. [N/m]

    Notes
    -----
    Offset is the distance of the axes (not its double); the side is 180° from the direction of the offset.

    References
    ----------
    Derived here (relaxed springs side by side).
    """
    left = lip_preload + elastic_preload - (equilibrium_stiffness + elastic_stiffness) * offset
    return num.where(offset >= 0.0, num.maximum(left, 0.0), num.nan)


def allowed_offset(
    eccentricity: num.Real,
    angular_frequency: num.Real,
    lip_preload: num.Real,
    equilibrium_stiffness: num.Real,
    branch_stiffnesses: Branches,
    relaxation_times: Branches,
    mass: num.Real,
    elastic_preload: num.Real = 0.0,
    elastic_stiffness: num.Real = 0.0,
) -> num.Real:
    r"""Shaft-to-bore offset that is left for a given eccentricity.

    .. math:: a = \max\left(\frac{q_\mathrm{lip} + q_e - e \, Z_{\max}(\omega)}{k_\infty + k_e}, \; 0\right)

    Parameters
    ----------
    eccentricity
        Eccentricity :math:`e` of the shaft, half its TIR; float or array, >= 0. [m]
    angular_frequency
        Angular frequency of the shaft; float or array, >= 0, finite. [rad/s]
    lip_preload
        Contact load of the lip as relaxed and worn, concentric; float or array. [N/m]
    equilibrium_stiffness
        Fully relaxed stiffness of the lip; float or array, >= 0. [N/m²]
    branch_stiffnesses
        Relaxing stiffnesses; sequence of floats, or array with branches on the last axis, >= 0. [N/m²]
    relaxation_times
        Relaxation times at temperature; likewise, > 0. [s]
    mass
        Effective mass at the lip's edge; float or array, >= 0. [kg/m]
    elastic_preload
        Contact load that does not relax; float or array. [N/m]
    elastic_stiffness
        Stiffness that does not relax; float or array, >= 0. [N/m²]

    Returns
    -------
    float or array
        Offset that may stand beside that eccentricity; zero where the eccentricity already uses the preload up. [m]

    Notes
    -----
    Inverse of `allowed_eccentricity` in the offset.

    References
    ----------
    Derived here.
    """
    peak = peak_dynamic_stiffness(
        angular_frequency, equilibrium_stiffness, branch_stiffnesses, relaxation_times, mass, elastic_stiffness
    )
    used = num.where(eccentricity >= 0.0, eccentricity, num.nan) * peak.magnitude
    left = num.maximum(lip_preload + elastic_preload - used, 0.0)
    return num.divide(left, equilibrium_stiffness + elastic_stiffness)


class _Batch:
    """Parameters of a batch as arrays of one shape; branches as a list of arrays of that shape."""

    def __init__(
        self,
        equilibrium_stiffness: num.Real,
        branch_stiffnesses: Branches,
        relaxation_times: Branches,
        mass: num.Real,
        elastic_stiffness: num.Real,
    ) -> None:
        branches, times = np.broadcast_arrays(
            np.asarray(branch_stiffnesses, dtype=np.float64), np.asarray(relaxation_times, dtype=np.float64)
        )
        static = np.asarray(equilibrium_stiffness, dtype=np.float64) + elastic_stiffness
        self.shape = np.broadcast_shapes(static.shape, np.shape(mass), branches.shape[:-1])
        self.static = np.broadcast_to(np.where(static > 0.0, static, num.nan), self.shape)
        weight = np.asarray(mass, dtype=np.float64)
        self.mass = np.broadcast_to(np.where(weight >= 0.0, weight, num.nan), self.shape)
        self.branches = [np.broadcast_to(branches[..., i], self.shape) for i in range(branches.shape[-1])]
        self.times = [np.broadcast_to(times[..., i], self.shape) for i in range(times.shape[-1])]


def _square(
    omega: num.Real, static: num.Real, branches: Any, times: Any, mass: num.Real
) -> tuple[num.Real, num.Real, num.Real]:
    """``|Z|²``, the storage part of the stiffness, and the slope of that part by ln ω²."""
    storage, loss, slope = static, 0.0 * omega, 0.0
    for branch, tau in zip(branches, times, strict=True):
        x = omega * tau
        spread = 1.0 + x * x
        lag = branch * x / spread
        stored = lag * x
        storage = storage + stored
        loss = loss + lag
        slope = slope + stored / spread
    real = storage - mass * omega * omega
    return real * real + loss * loss, storage, slope


def _slope(omega: num.Real, static: num.Real, branches: Any, times: Any, mass: num.Real) -> num.Real:
    """``ω² d|Z|²/dω²``, halved: its sign tells whether |Z| rises."""
    storage, loss, storage_slope, loss_slope = static, 0.0, 0.0, 0.0
    for branch, tau in zip(branches, times, strict=True):
        x = omega * tau
        y = x * x
        share = 1.0 / (1.0 + y)
        lag = branch * x * share
        storage = storage + lag * x
        loss = loss + lag
        storage_slope = storage_slope + lag * x * share
        loss_slope = loss_slope + 0.5 * lag * (1.0 - y) * share
    inertia = mass * omega * omega
    return (storage - inertia) * (storage_slope - inertia) + loss * loss_slope


def _rises_throughout(
    static: num.Real, storage: num.Real, slope: num.Real, relaxing: num.Real, inertia: num.Real
) -> num.Real:
    """Whether |Z| is sure to rise all the way from standstill to ω, so that no peak need be looked for.

    ``storage`` and its ``slope`` are those at ω, ``relaxing`` is the sum of the branches.

    With storage S, loss L, inertia I and slopes by ln ω², ``|Z|²`` rises where (S - I) (S' - I) + L L' > 0. Of any two
    branches with s = x y, the terms of S S' + L L' add up to at least s (1 + s)² / ((1 + x²)² (1 + y²)²) times their
    stiffnesses, so S S' + L L' is no less than the static stiffness times S', and k S' > I (S + S') is enough. On the
    way to ω, S'/ω² falls, S rises, and S' is never above a quarter of the branches: to test at ω is to test throughout.
    """
    return static * slope > inertia * (storage + 0.25 * relaxing)


def _grid(static: num.Real, total: num.Real, mass: num.Real) -> num.Array:
    """Frequencies between which a stationary point of |Z| is looked for; last axis for arrays."""
    low = num.sqrt(_INERTIA_FLOOR * static / mass)
    high = num.sqrt(1.25 * total / mass)
    span = num.log(high / low) - _TOP
    if num.is_array(low):
        low, high, span = low[..., None], high[..., None], span[..., None]
    return np.concatenate((low * np.exp(span * _LOWER), high * np.exp(_UPPER)), axis=-1)


def _refine(
    low: num.Real,
    high: num.Real,
    at_low: num.Real,
    at_high: num.Real,
    static: num.Real,
    branches: Any,
    times: Any,
    mass: num.Real,
) -> num.Real:
    """Root of the slope in a bracket (positive at ``low``), by a fixed number of Illinois steps."""
    root = low
    for _ in range(_REFINEMENTS):
        root = low + (high - low) * (at_low / (at_low - at_high))
        value = _slope(root, static, branches, times, mass)
        rising = value > 0.0
        # an end that stays is given half its value, or the bracket would shrink from one side only
        at_high = num.where(rising, 0.5 * at_high, value)
        at_low = num.where(rising, value, 0.5 * at_low)
        low, high = num.where(rising, root, low), num.where(rising, high, root)
    return root


def _peak_batch(omega: num.Array, case: _Batch) -> DynamicStiffness:
    """Array form of `peak_dynamic_stiffness`: the stationary points are found once per set of parameters."""
    valid = (omega >= 0.0) & np.isfinite(omega)
    omega = np.where(valid, omega, num.nan)
    with np.errstate(all="ignore"):
        square, storage, _ = _square(omega, case.static, case.branches, case.times, case.mass)
        start = np.broadcast_to(case.static * case.static, square.shape)
        rises = square > start
        best = np.where(np.isnan(square), num.nan, np.where(rises, square, start))
        where = np.where(np.isnan(square), num.nan, np.where(rises, omega, 0.0))
        part = np.where(rises, storage, case.static)
        known = np.where(valid, omega, 0.0)
        fastest = known if known.shape == case.shape else np.full(case.shape, np.max(known, initial=0.0))
        for at, value, at_storage in _stationary_points(case, fastest):
            higher = (at < omega) & (value > best)
            best, where = np.where(higher, value, best), np.where(higher, at, where)
            part = np.where(higher, at_storage, part)
        governs = np.where(case.mass * where * where > 2.0 * part, "inertia", "recovery")
    return DynamicStiffness(np.sqrt(best), where, np.where(np.isnan(best), "", governs))


def _stationary_points(case: _Batch, fastest: num.Array) -> list[tuple[num.Array, num.Array, num.Array]]:
    """Maxima of |Z| by rank, then the start of the grid: frequency (``nan`` for none), |Z|², storage; batch-shaped.

    ``fastest``, batch-shaped, is the greatest frequency that each set of parameters is asked for.
    """
    if not case.branches:
        return []
    static, mass = case.static.reshape(-1), case.mass.reshape(-1)
    branches = [branch.reshape(-1) for branch in case.branches]
    times = [tau.reshape(-1) for tau in case.times]
    omega = fastest.reshape(-1)
    inertia = mass * omega * omega
    _, stored, slope = _square(omega, static, branches, times, mass)
    rising = _rises_throughout(static, stored, slope, sum(branches), inertia)
    searched = np.flatnonzero((inertia > _INERTIA_FLOOR * static) & ~rising)
    start = np.full(static.shape, num.nan)
    start[searched] = np.sqrt(_INERTIA_FLOOR * static[searched] / mass[searched])
    ranks: list[tuple[num.Array, num.Array, num.Array]] = []
    for first in range(0, len(searched), _BLOCK):
        rows = searched[first : first + _BLOCK]
        k, m = static[rows], mass[rows]
        parts, taus = [branch[rows] for branch in branches], [tau[rows] for tau in times]
        omegas = _grid(k, k + sum(parts), m)
        slopes = _slope(
            omegas, k[:, None], [part[:, None] for part in parts], [tau[:, None] for tau in taus], m[:, None]
        )
        row, cell = np.nonzero((slopes[:, :-1] > 0.0) & (slopes[:, 1:] <= 0.0))
        if not row.size:
            continue
        mine = (k[row], [part[row] for part in parts], [tau[row] for tau in taus], m[row])
        at = _refine(omegas[row, cell], omegas[row, cell + 1], slopes[row, cell], slopes[row, cell + 1], *mine)
        value, storage, _ = _square(at, *mine)
        rank = np.arange(row.size) - np.searchsorted(row, row)
        while len(ranks) <= int(rank.max()):
            ranks.append((np.full(static.shape, num.nan), np.zeros(static.shape), np.zeros(static.shape)))
        for index in range(int(rank.max()) + 1):
            chosen = rank == index
            target = rows[row[chosen]]
            for array, values in zip(ranks[index], (at, value, storage), strict=True):
                array[target] = values[chosen]
    ranks.append((start, *_square(start, static, branches, times, mass)[:2]))
    return [(a.reshape(case.shape), b.reshape(case.shape), c.reshape(case.shape)) for a, b, c in ranks]
