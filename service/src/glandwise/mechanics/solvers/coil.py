"""Geometrically exact rod of the canted coil spring, many coils at a time. Used off line, to build and check tables.

Half a coil between its two two-fold axes, as described in :mod:`glandwise.mechanics.rods`, is integrated as an initial
value problem in the angle θ by the classical fourth-order Runge-Kutta rule, and the unknown starting values are found
by Newton's method. Lengths are in half heights b, forces in EI/b², moments in EI/b.

State of the rod: the quaternion that turns the free wire into the loaded one, displacement u, moment m. With
t the turned tangent and ω the spatial rate of turn,

    ω = m + ν (m·t) t,    u' = t - t_free,    m' = -t × n,    n piecewise constant,

because a round wire has EI/GJ = 1 + ν. Displacements, not positions: a coil at rest then gives exactly no residual.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

Trace: TypeAlias = list[tuple[Array, Array, Array]]
"""Angle, state and tangent (times ds/dθ) at each step."""


class Coils(NamedTuple):
    """Geometry of a batch of coils, each field an array of the same length."""

    aspect: Array
    """Half width over half height a/b [-]."""
    pitch: Array
    """Pitch over half height p/b [-]."""
    cant: Array
    """Cant angle β [rad]."""
    nu: Array
    """EI/GJ - 1, Poisson's ratio of the wire [-]."""


class Path(NamedTuple):
    """Load path of each coil of a batch; arrays of shape (levels, coils), ``nan`` where no solution was found."""

    load: Array
    """F b²/EI per coil [-]."""
    moment: Array
    """Largest resultant moment |m| b/EI along the wire [-]."""
    equivalent: Array
    """Largest b/EI √(bending² + ¾ torsion²) along the wire [-]."""
    torsion: Array
    """Largest torsion moment |m·t| b/EI along the wire [-]."""
    gap: Array
    """Least distance between the centrelines of neighbouring turns over half height [-]."""
    contact: Array
    """Angle θ at which the plate touches [rad]."""


def _rates(state: Array, theta: Array, coils: Coils, tan_cant: Array, n_x: Array, n_z: Array) -> tuple[Array, Array]:
    """Rate of the state over θ, and the turned tangent times ds/dθ."""
    q0, q1, q2, q3, _, _, _, m_x, m_y, m_z = state
    sine, cosine = np.sin(theta), np.cos(theta)
    a_x = coils.pitch / (2.0 * math.pi) - sine * tan_cant
    a_y = coils.aspect * cosine
    a_z = -sine
    speed = np.sqrt(a_x * a_x + a_y * a_y + a_z * a_z)
    # Turn the free tangent: v + 2 q0 (q × v) + 2 q × (q × v); speed is kept inside.
    c_x, c_y, c_z = q2 * a_z - q3 * a_y, q3 * a_x - q1 * a_z, q1 * a_y - q2 * a_x
    e_x = 2.0 * (q0 * c_x + q2 * c_z - q3 * c_y)
    e_y = 2.0 * (q0 * c_y + q3 * c_x - q1 * c_z)
    e_z = 2.0 * (q0 * c_z + q1 * c_y - q2 * c_x)
    t_x, t_y, t_z = a_x + e_x, a_y + e_y, a_z + e_z
    twist = coils.nu * (m_x * t_x + m_y * t_y + m_z * t_z) / speed
    w_x, w_y, w_z = (0.5 * (speed * m + twist * t) for m, t in ((m_x, t_x), (m_y, t_y), (m_z, t_z)))
    rate = np.stack(
        (
            -w_x * q1 - w_y * q2 - w_z * q3,
            w_x * q0 + w_y * q3 - w_z * q2,
            w_y * q0 + w_z * q1 - w_x * q3,
            w_z * q0 + w_x * q2 - w_y * q1,
            e_x,
            e_y,
            e_z,
            -t_y * n_z,
            t_x * n_z - t_z * n_x,
            t_y * n_x,
        )
    )
    return rate, np.stack((t_x, t_y, t_z))


def _integrate(
    unknown: Array, level: float, coils: Coils, steps: int, moving: bool, trace: Trace | None = None
) -> Array:
    """Residual of the end conditions for starting values ``unknown`` (7, coils); ``trace`` collects the states."""
    turn, n_x, n_z, m_x, m_z, force, crest = unknown
    tan_cant = np.tan(coils.cant)
    zero = np.zeros_like(turn)
    # The first two-fold axis: rotation about y only, and no moment about y.
    state = np.stack(
        (
            *(np.cos(turn / 2), zero, np.sin(turn / 2), zero),
            *(zero, zero, zero),
            *(m_x, zero, m_z),
        )
    )
    residual: list[Array] = []
    for start, end in ((zero - math.pi / 2, crest), (crest, zero + math.pi / 2)):
        h = (end - start) / steps
        for i in range(steps):
            theta = start + i * h
            k1, tangent = _rates(state, theta, coils, tan_cant, n_x, n_z)
            if trace is not None:
                trace.append((theta, state, tangent))
            k2, _ = _rates(state + 0.5 * h * k1, theta + 0.5 * h, coils, tan_cant, n_x, n_z)
            k3, _ = _rates(state + 0.5 * h * k2, theta + 0.5 * h, coils, tan_cant, n_x, n_z)
            k4, _ = _rates(state + h * k3, theta + h, coils, tan_cant, n_x, n_z)
            state = state + (h / 6.0) * (k1 + 2.0 * (k2 + k3) + k4)
        if not residual:
            _, tangent = _rates(state, end, coils, tan_cant, n_x, n_z)
            residual = [np.cos(end) - 1.0 + state[6] + 0.5 * level, tangent[2] if moving else end]
            n_z = n_z + force
    if trace is not None:
        trace.append((end, state, _rates(state, end, coils, tan_cant, n_x, n_z)[1]))
    return np.stack([*residual, state[4], state[6], state[1], state[3], state[8]])


def _peaks(trace: Trace) -> tuple[Array, Array, Array]:
    """Largest resultant, equivalent and torsion moment along the wire."""
    moments = np.stack([state[7:10] for _, state, _ in trace])
    tangents = np.stack([tangent for _, _, tangent in trace])
    square = (moments**2).sum(axis=1)
    torsion = np.abs((moments * tangents).sum(axis=1)) / np.sqrt((tangents**2).sum(axis=1))
    return (
        np.sqrt(square.max(axis=0)),
        np.sqrt((square - 0.25 * torsion**2).max(axis=0)),
        torsion.max(axis=0),
    )


def _gap(trace: Trace, coils: Coils) -> Array:
    """Least distance from half a turn to the turn after, which the two-fold axes complete."""
    pitch = coils.pitch
    theta = np.stack([theta for theta, _, _ in trace])
    free = (
        pitch * theta / (2.0 * math.pi) + np.cos(theta) * np.tan(coils.cant),
        coils.aspect * np.sin(theta),
        np.cos(theta),
    )
    half = np.stack(free, axis=1) + np.stack([state[4:7] for _, state, _ in trace])  # (points, 3, coils)
    first = half[::-1] * np.array([-1.0, 1.0, -1.0])[:, None]
    first[:, 0] -= pitch / 2.0  # turned about the axis at θ = -π/2
    last = half[::-1] * np.array([-1.0, 1.0, -1.0])[:, None]
    last[:, 0] += pitch / 2.0  # turned about the axis at θ = +π/2
    turn = np.concatenate((first[:-1], half, last[1:]))
    turn[:, 0] += pitch
    start, along = turn[:-1], np.diff(turn, axis=0)
    length2 = (along**2).sum(axis=1)
    nearest = np.full(pitch.size, np.inf)
    reach = half.shape[0] // 2  # a quarter turn each way: the same wire lies one turn off
    for i, point in enumerate(half):
        near = slice(i + reach, i + 3 * reach)
        away = point - start[near]
        share = np.clip((away * along[near]).sum(axis=1) / length2[near], 0.0, 1.0)
        distance2 = ((away - share[:, None] * along[near]) ** 2).sum(axis=1)
        nearest = np.minimum(nearest, distance2.min(axis=0))
    distance: Array = np.sqrt(nearest)
    return distance


def compress(coils: Coils, levels: Sequence[float] | Array, steps: int = 48, moving: bool = True) -> Path:
    r"""Follow each coil of a batch through rising compressions.

    .. math:: \omega = m + \nu\,(m \cdot t)\,t, \qquad u' = t - t_0, \qquad m' = -t \times n

    Parameters
    ----------
    coils : Coils
        Geometry of the coils, in half heights. [-]
    levels : sequence of float, or array
        Compressions :math:`\delta/b`, rising in moderate steps: each starts from the last, > 0. [-]
    steps : int
        Steps of the Runge-Kutta rule on each side of the crest, > 0. [-]
    moving : bool
        Whether the plate may touch wherever the wire is level; otherwise the load stays on the wire's first crest. [-]

    Returns
    -------
    Path
        Load, moments, gap and place of contact at each level, ``nan`` where Newton's method found no solution. [-]

    Notes
    -----
    Inextensible, unshearable round wire; frictionless plates; a straight infinite row of equal coils.

    References
    ----------
    S. S. Antman, Nonlinear Problems of Elasticity, 2nd ed. 2005, ch. 8 (special Cosserat theory; from memory;
    published).
    """
    count = coils.aspect.size
    rows: list[list[Array]] = []
    before = np.zeros((7, count))
    older, old_level, older_level = before, 0.0, 0.0
    many = Coils(*(np.tile(item, 8) for item in coils))
    for level in levels:
        guess = before.copy()
        if old_level > 0.0:
            guess += (before - older) * ((level - old_level) / (old_level - older_level))
        unknown = guess
        good = np.zeros(count, dtype=bool)
        for _ in range(12):
            # One pass integrates the guess and its seven neighbours.
            step = 1e-7 * (1.0 + np.abs(unknown))
            trial = np.tile(unknown, (1, 8))
            for j in range(7):
                trial[j, (j + 1) * count : (j + 2) * count] += step[j]
            residual = _integrate(trial, level, many, steps, moving)
            blocks = residual.reshape(7, 8, count)
            base = blocks[:, 0]
            jacobian = ((blocks[:, 1:] - base[:, None]) / step[None]).transpose(2, 0, 1)
            sound = np.isfinite(jacobian).all(axis=(1, 2)) & np.isfinite(base).all(axis=0)
            jacobian[~sound] = np.eye(7)
            change = np.linalg.solve(jacobian, np.where(sound, base, 0.0).T[..., None])[..., 0].T
            unknown = unknown - np.where(sound, change, np.nan)
            good = np.abs(change).max(axis=0) < 1e-8 * (1.0 + np.abs(unknown).max(axis=0))
            if (good | ~sound).all():
                break
        unknown = np.where(good, unknown, np.nan)
        trace: Trace = []
        _integrate(unknown, level, coils, steps, moving, trace)
        rows.append([unknown[5], *_peaks(trace), _gap(trace, coils), unknown[6]])
        older, before, older_level, old_level = before, unknown, old_level, level
    return Path(*(np.stack(column) for column in zip(*rows, strict=True)))
