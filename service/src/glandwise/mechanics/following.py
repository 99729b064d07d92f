"""How much shaft runout a preloaded lip follows before it first leaves the shaft.

The lip is one degree of freedom: a relaxing stiffness, an elastic stiffness beside it (garter or other energizer) and a
mass, pressed on the shaft by a preload and driven by the eccentricity of the shaft. All is per unit circumference of the
shaft.
"""

from __future__ import annotations

from math import exp, isfinite, log, nan, sqrt
from typing import NamedTuple

from glandwise.mechanics.choices import Governs
from glandwise.mechanics.viscoelastic import Relaxation, shift_factor
from glandwise.numerics.arithmetic import greatest, least
from glandwise.numerics.lives import opaque

_INERTIA_FLOOR = 1e-7
"""Share of the static stiffness below which the inertia term is not searched; it bounds the error of the peak."""

_STEPS = 32
"""Steps of either part of the grid."""

_TOP = 2.0794415416798357
"""Logarithm of the factor, eight, by which the finer upper part of the grid spans the frequencies searched."""

_UPPER = tuple(exp(_TOP * (i / _STEPS - 1.0)) for i in range(_STEPS + 1))
"""Upper part of the grid over its end: where mass and relaxation meet, a maximum and a minimum may lie close together."""

_REFINEMENTS = 8


class DynamicStiffness(NamedTuple):
    """Greatest dynamic stiffness between standstill and a speed."""

    magnitude: float
    """Greatest load amplitude per unit eccentricity [N/m²]."""
    angular_frequency: float
    """Where it occurs [rad/s]."""
    governs: Governs
    """Recovery or inertia; nothing where the arguments were out of range."""


class FollowingLimit(NamedTuple):
    """What a lip follows at a speed, running up from standstill."""

    eccentricity: float
    """Allowed eccentricity of the shaft, half the TIR [m]."""
    tir: float
    """Allowed total indicator reading [m]."""
    angular_frequency: float
    """Angular frequency at which contact would first be lost on the way up [rad/s]."""
    governs: Governs
    """Recovery: relaxing and elastic stiffness; inertia: the mass; nothing where the arguments were out of range."""
    dynamic_stiffness: float
    """Greatest load amplitude per unit eccentricity on the way up [N/m²]."""
    preload: float
    """Preload on the side that the offset unloads, never below zero [N/m]."""


class HeldLip(NamedTuple):
    """What holds a lip to the shaft at one temperature."""

    load: float
    """q_lip [N/m]: Load left of the relaxed lip"""
    spring_load: float
    """q_e [N/m]: Load of the energizer at the lip"""
    stiffness: float
    """k_0 [N/m²]: Stiffness of the lip at once"""
    equilibrium: float
    """k_inf [N/m²]: Stiffness of the lip that does not relax"""
    rest: float
    """k_rest [N/m²]: Stiffness of lip and energizer that does not relax"""
    shift: float
    """a_T [-]: Shift of the relaxation times"""
    mass: float
    """m [kg/m]: Moving mass"""


# ------------------------------------------------------------------------------------------------- dynamic stiffness


def _loaded(
    omega: float, k_rest: float, k_0: float, a_T: float, relaxation: Relaxation
) -> tuple[float, float, float, float]:
    """Storage and loss parts of the stiffness, the slope of storage by ln ω², and the sum of the branches."""
    storage, loss, slope, relaxing = k_rest, 0.0 * omega, 0.0, 0.0
    for i in range(relaxation.n):
        branch = k_0 * relaxation.shares[i]
        x = omega * (a_T * relaxation.times[i])
        spread = 1.0 + x * x
        lag = branch * x / spread
        stored = lag * x
        storage = storage + stored
        loss = loss + lag
        slope = slope + stored / spread
        relaxing = relaxing + branch
    return storage, loss, slope, relaxing


def _square(omega: float, storage: float, loss: float, m: float) -> float:
    """Square of the dynamic stiffness."""
    real = storage - m * omega * omega
    return real * real + loss * loss


def _rise(omega: float, k_rest: float, k_0: float, a_T: float, m: float, relaxation: Relaxation) -> float:
    """``ω² d|Z|²/dω²``, halved: its sign tells whether |Z| rises."""
    storage, loss, storage_slope, loss_slope = k_rest, 0.0, 0.0, 0.0
    for i in range(relaxation.n):
        x = omega * (a_T * relaxation.times[i])
        y = x * x
        share = 1.0 / (1.0 + y)
        lag = k_0 * relaxation.shares[i] * x * share
        storage = storage + lag * x
        loss = loss + lag
        storage_slope = storage_slope + lag * x * share
        loss_slope = loss_slope + 0.5 * lag * (1.0 - y) * share
    inertia = m * omega * omega
    return (storage - inertia) * (storage_slope - inertia) + loss * loss_slope


def _rises_throughout(k_rest: float, storage: float, slope: float, relaxing: float, inertia: float) -> bool:
    """Whether |Z| is sure to rise all the way from standstill to ω, so that no peak need be looked for.

    ``storage`` and its ``slope`` are those at ω, ``relaxing`` is the sum of the branches.

    With storage S, loss L, inertia I and slopes by ln ω², ``|Z|²`` rises where (S - I) (S' - I) + L L' > 0. Of any two
    branches with s = x y, the terms of S S' + L L' add up to at least s (1 + s)² / ((1 + x²)² (1 + y²)²) times their
    stiffnesses, so S S' + L L' is no less than the static stiffness times S', and k S' > I (S + S') is enough. On the
    way to ω, S'/ω² falls, S rises, and S' is never above a quarter of the branches: to test at ω is to test throughout.
    """
    return k_rest * slope > inertia * (storage + 0.25 * relaxing)


def _worst_words(*_: object) -> str:
    """Where the greatest stiffness lies."""
    return "place of the greatest dynamic stiffness from standstill to {0}: an end, or a stationary point found by a search"


@opaque(words=_worst_words)
def worst_frequency(omega: float, k_rest: float, k_0: float, a_T: float, m: float, relaxation: Relaxation) -> float:
    """Frequency of the greatest dynamic stiffness on the way from standstill to a speed.

    The maximum lies at standstill, at ω, or at a stationary point between. Stationary points are the sign changes of
    d|Z|²/dω² on a grid of 65 points, half of them over the uppermost factor of eight in ω and equal in ln ω in either
    part, from mω² = 1e-7 k_rest to mω² = 1.25 times the stiffness at once, refined by a bracketed secant (Illinois). A
    maximum and a minimum between two neighbours would be passed over; against a dense search of 1700 systems near that
    case the peak was at most 1e-9 low. Above that range |Z| only rises; the start of the grid stands for all below it,
    which misses less than 1e-7 of the result. The grid does not depend on ω, so the stiffness falls with ω nowhere by more
    than that. Where the rise up to ω can be proved from the response at ω alone, nothing is looked for.

    Parameters
    ----------
    omega : rad/s
        Angular frequency of the shaft, >= 0, finite.
    k_rest : N/m²
        Stiffness that does not relax, > 0.
    k_0 : N/m²
        Stiffness of the lip at once, of which the relaxation has its shares, >= 0.
    a_T : -
        Shift of the relaxation times, > 0.
    m : kg/m
        Moving mass, >= 0.

    Returns
    -------
    omega_w : rad/s
        Frequency of the greatest dynamic stiffness on the way up.

    References
    ----------
    Derived here. Illinois method: Dowell and Jarratt, BIT 11 (1971) 168; published, from memory.
    """
    if not (omega >= 0.0 and m >= 0.0 and k_rest > 0.0 and isfinite(omega)):
        return nan
    best, worst = k_rest * k_rest, 0.0
    storage, loss, slope, relaxing = _loaded(omega, k_rest, k_0, a_T, relaxation)
    square = _square(omega, storage, loss, m)
    if square > best:
        best, worst = square, omega
    inertia = m * omega**2
    if not (inertia > _INERTIA_FLOOR * k_rest and relaxation.n > 0):
        return worst
    if _rises_throughout(k_rest, storage, slope, relaxing, inertia):
        return worst
    start = sqrt(_INERTIA_FLOOR * k_rest / m)
    end = sqrt(1.25 * (k_rest + relaxing) / m)
    span = log(end / start) - _TOP
    if start < omega:
        storage, loss, slope, relaxing = _loaded(start, k_rest, k_0, a_T, relaxation)
        square = _square(start, storage, loss, m)
        if square > best:
            best, worst = square, start
    low, at_low = start, _rise(start, k_rest, k_0, a_T, m, relaxation)
    for i in range(1, 2 * _STEPS + 1):
        if not low < omega:
            return worst
        high = start * exp(span * (i / _STEPS)) if i < _STEPS else end * _UPPER[i - _STEPS]
        at_high = _rise(high, k_rest, k_0, a_T, m, relaxation)
        if at_low > 0.0 and at_high <= 0.0:
            root = _refined(low, high, at_low, at_high, k_rest, k_0, a_T, m, relaxation)
            storage, loss, slope, relaxing = _loaded(root, k_rest, k_0, a_T, relaxation)
            square = _square(root, storage, loss, m)
            if root < omega and square > best:
                best, worst = square, root
        low, at_low = high, at_high
    return worst


def _refined(
    low: float,
    high: float,
    at_low: float,
    at_high: float,
    k_rest: float,
    k_0: float,
    a_T: float,
    m: float,
    relaxation: Relaxation,
) -> float:
    """Root of the slope in a bracket (positive at ``low``), by a fixed number of Illinois steps."""
    root = low
    for _ in range(_REFINEMENTS):
        root = low + (high - low) * (at_low / (at_low - at_high))
        value = _rise(root, k_rest, k_0, a_T, m, relaxation)
        # an end that stays is given half its value, or the bracket would shrink from one side only
        if value > 0.0:
            low, at_low, at_high = root, value, 0.5 * at_high
        else:
            high, at_high, at_low = root, value, 0.5 * at_low
    return root


def _stiffness_words(
    omega: float, k_rest: float, k_0: float, a_T: float, relaxation: Relaxation  # noqa: ARG001
) -> tuple[str, str]:  # fmt: skip
    """Sums of the branches as expressions, times in s."""
    storage, loss = ["{1}"], []
    for i in range(relaxation.n):
        x = f"({{0}} * {{3}} * {relaxation.times[i]!s})"
        storage.append(f"{{2}} * {relaxation.shares[i]!s} * {x}**2 / (1 + {x}**2)")
        loss.append(f"{{2}} * {relaxation.shares[i]!s} * {x} / (1 + {x}**2)")
    return " + ".join(storage), " + ".join(loss) or "0"


@opaque(words=_stiffness_words)
def storage_and_loss(
    omega: float, k_rest: float, k_0: float, a_T: float, relaxation: Relaxation
) -> tuple[float, float]:
    """Stiffness in phase with the movement of the shaft and a quarter period ahead of it, without the mass.

    Parameters
    ----------
    omega : rad/s
        Angular frequency of the shaft, >= 0, finite.
    k_rest : N/m²
        Stiffness that does not relax, > 0.
    k_0 : N/m²
        Stiffness of the lip at once, of which the relaxation has its shares, >= 0.
    a_T : -
        Shift of the relaxation times, > 0.

    Returns
    -------
    k_re : N/m²
        Stiffness in phase with the movement.
    k_im : N/m²
        Stiffness a quarter period ahead of it.

    References
    ----------
    Generalised Maxwell series; Ferry, Viscoelastic Properties of Polymers, 3rd ed. 1980, ch. 3; published, from memory.
    """
    storage, loss, _, _ = _loaded(omega, k_rest, k_0, a_T, relaxation)
    return storage, loss


def _governs(k_m: float, k_re: float) -> Governs:
    """What governs: above twice the stiffness in phase the mass adds to the dynamic stiffness, below it takes away."""
    if k_m > 2.0 * k_re:
        return Governs.inertia
    return Governs.recovery if k_m <= 2.0 * k_re else Governs.nothing


def peak_dynamic_stiffness(
    omega: float, k_rest: float, k_0: float, a_T: float, m: float, relaxation: Relaxation
) -> DynamicStiffness:
    """Greatest amplitude of the contact load per unit eccentricity from standstill to a speed, while contact is kept.

    One degree of freedom, linear, steady state at each speed. NaN outside the ranges below.

    Parameters
    ----------
    omega : rad/s
        Angular frequency of the shaft, >= 0, finite.
    k_rest : N/m²
        Stiffness that does not relax, > 0.
    k_0 : N/m²
        Stiffness of the lip at once, of which the relaxation has its shares, >= 0.
    a_T : -
        Shift of the relaxation times, > 0.
    m : kg/m
        Moving mass, >= 0.

    Returns
    -------
    Z : N/m²
        Greatest dynamic stiffness on the way up.
    omega_w : rad/s
        Frequency of the greatest dynamic stiffness on the way up.
    governs : Governs
        Inertia where the mass adds to the stiffness there, else recovery.

    References
    ----------
    Equation of motion of a driven oscillator with generalised Maxwell stiffness; derived here.
    """
    omega_w = worst_frequency(omega, k_rest, k_0, a_T, m, relaxation)
    k_re, k_im = storage_and_loss(omega_w, k_rest, k_0, a_T, relaxation)
    k_m = m * omega_w**2  # inertia of the moving mass
    Z = sqrt((k_re - k_m) ** 2 + k_im**2)
    return DynamicStiffness(Z, omega_w, _governs(k_m, k_re))


# ------------------------------------------------------------------------------------------------------------ following


def _is_offset(a: float) -> bool:
    """Whether a number is a distance."""
    return a >= 0.0


def preload_under_offset(q_lip: float, q_e: float, k_rest: float, a: float) -> float:
    """Contact load left on the side that a shaft-to-bore offset unloads.

    Never below zero. The offset presses one side and unloads the opposite one by the relaxed stiffness, since it stands for as long as the
    seal does. Offset is the distance of the axes, not its double. NaN for a negative offset.

    Parameters
    ----------
    q_lip : N/m
        Contact load of the lip as relaxed and worn, concentric.
    q_e : N/m
        Contact load that does not relax.
    k_rest : N/m²
        Stiffness that does not relax, >= 0.
    a : m
        Static offset of shaft axis to bore axis, >= 0.

    Returns
    -------
    q_pre : N/m
        Load that holds the lip to the shaft.

    References
    ----------
    Relaxed springs side by side; derived here.
    """
    if not _is_offset(a):
        return nan
    return greatest(q_lip + q_e - k_rest * a, 0.0)


def allowed_eccentricity(lip: HeldLip, omega: float, a: float, relaxation: Relaxation) -> FollowingLimit:
    """Eccentricity and runout that a lip follows at every speed up to the one given.

    Contact is first lost where the least contact load of a turn is zero. Lip sections are taken as independent round the
    circumference. The eccentricity is zero where no preload is left; NaN outside the ranges below. It never rises with
    speed nor falls with preload. A heavier lip is followed less only where inertia governs; below that, mass eases the
    load swing and the answer rises with it, slightly.

    Parameters
    ----------
    omega : rad/s
        Angular frequency of the shaft, >= 0, finite.
    a : m
        Static offset of shaft axis to bore axis, >= 0.

    Returns
    -------
    e : m
        Eccentricity that the lip follows.
    TIR : m
        Runout that the lip follows.
    omega_w : rad/s
        Frequency of the greatest dynamic stiffness on the way up.
    governs : Governs
        Inertia where the mass adds to the stiffness there, else recovery.
    Z : N/m²
        Greatest dynamic stiffness on the way up.
    q_pre : N/m
        Load that holds the lip to the shaft.

    References
    ----------
    Derived here from the equation of motion in contact; closed form checked against integration in time with one-sided
    contact.
    """
    Z, omega_w, governs = peak_dynamic_stiffness(omega, lip.rest, lip.stiffness, lip.shift, lip.mass, relaxation)
    q_pre = preload_under_offset(lip.load, lip.spring_load, lip.rest, a)
    e = q_pre / Z
    return FollowingLimit(e, 2.0 * e, omega_w, governs, Z, q_pre)


def held_lip(
    q_lip: float,
    q_s: float,
    k_0: float,
    T: float,
    m_lip: float,
    k_s: float,
    m_s: float,
    relaxation: Relaxation,
) -> HeldLip:
    """What holds a lip to the shaft at a temperature.

    An energizer that pulls back as it opens (a coil beyond the crest of its curve) is not relied upon to make the lip
    supple: its stiffness counts as zero. Pressure, which would help to hold the lip, is not counted.

    Parameters
    ----------
    q_lip : N/m
        Load left of the relaxed lip.
    q_s : N/m
        Load of the energizer at the lip.
    k_0 : N/m²
        Stiffness of the lip at once, at the temperature.
    T : K
        Temperature of the lip.
    m_lip : kg/m
        Moving mass of the lip.
    k_s : N/m²
        Stiffness of the energizer.
    m_s : kg/m
        Mass of the energizer that moves with the lip.

    Returns
    -------
    q_lip : N/m
        Load left of the relaxed lip.
    q_e : N/m
        Load of the energizer at the lip.
    k_0 : N/m²
        Stiffness of the lip at once.
    k_inf : N/m²
        Stiffness of the lip that does not relax.
    k_rest : N/m²
        Stiffness of lip and energizer that does not relax.
    a_T : -
        Shift of the relaxation times.
    m : kg/m
        Moving mass of lip and energizer.

    References
    ----------
    Linear superposition; derived here.
    """
    k_inf = k_0 * relaxation.equilibrium
    return HeldLip(
        q_lip,
        q_s,
        k_0,
        k_inf,
        k_inf + greatest(k_s, 0.0),
        shift_factor(T, relaxation.reference_temperature, relaxation.activation_energy),
        m_lip + m_s,
    )


def followed_runout(
    lip_cold: HeldLip, lip_hot: HeldLip, omega: float, a: float, relaxation: Relaxation
) -> FollowingLimit:
    """Runout that a lip follows at its coldest and at its hottest: the lesser of both.

    Heat takes interference and load; cold stiffens the lip, and the shaft that runs out swings its load the more.

    Parameters
    ----------
    omega : rad/s
        Angular frequency of the shaft, >= 0, finite.
    a : m
        Static offset of shaft axis to bore axis, >= 0.

    Returns
    -------
    e : m
        Eccentricity that the lip follows.
    TIR_follow : m
        Runout that the lip follows, cold and hot.
    omega_w : rad/s
        Frequency of the greatest dynamic stiffness on the way up.
    governs : Governs
        Inertia where the mass adds to the stiffness there, else recovery.
    Z : N/m²
        Greatest dynamic stiffness on the way up.
    q_pre : N/m
        Load that holds the lip to the shaft.

    References
    ----------
    The lesser of two limits.
    """
    cold = allowed_eccentricity(lip_cold, omega, a, relaxation)
    hot = allowed_eccentricity(lip_hot, omega, a, relaxation)
    TIR_follow = least(cold.tir, hot.tir)
    is_cold = cold.tir <= hot.tir or cold.tir != cold.tir
    worse = cold if is_cold else hot
    return FollowingLimit(
        worse.eccentricity, TIR_follow, worse.angular_frequency, worse.governs, worse.dynamic_stiffness, worse.preload
    )  # fmt: skip


def followed_offset(lip_cold: HeldLip, lip_hot: HeldLip) -> float:
    """Static offset at which the relaxed lip just leaves a shaft that runs true, cold or hot.

    Returns
    -------
    a_max : m
        Offset that the relaxed lip follows.

    References
    ----------
    Relaxed springs side by side; derived here.
    """
    a_cold = greatest(lip_cold.load + lip_cold.spring_load, 0.0) / lip_cold.rest  # offset followed at the coldest
    a_hot = greatest(lip_hot.load + lip_hot.spring_load, 0.0) / lip_hot.rest  # offset followed at the hottest
    return least(a_cold, a_hot)
