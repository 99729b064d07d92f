"""Cantilever V energizer: strip fingers pressed by the flat land of a lip, geometrically exact, beyond yield too.

The finger is an elastica clamped at its root at an angle to the land. The land pushes along its own normal without
friction. It touches the tip until the tip has turned parallel to it; pressed further, the finger lies down on the land
from its tip and the contact runs inward. Both branches, elastic and elastic-perfectly plastic, are read from tables that a
solver made in dimensionless form: lengths over the length L of the finger, load over E I/L² per unit width.
"""

from __future__ import annotations

from math import cos, nan, radians, sin, sqrt
from typing import NamedTuple

from glandwise.mechanics import tables
from glandwise.numerics.arithmetic import least
from glandwise.numerics.interpolation import Table, cubic_weights, place
from glandwise.numerics.lives import opaque

# Extent of the tables, and with it the validity of the model.
ROOT_ANGLE_LEAST = radians(1.0)
"""least root angle to the land [rad]"""
ROOT_ANGLE_GREATEST = radians(60.0)
"""greatest root angle to the land [rad]"""
COMPRESSION_GREATEST = 0.95
"""greatest share of the free height of a finger that may be taken away [-]"""

# A value on a limit stays inside after rounding; the tables hold their end values over so little.
_LEAST, _GREATEST, _MOST = ROOT_ANGLE_LEAST - 1e-12, ROOT_ANGLE_GREATEST + 1e-12, COMPRESSION_GREATEST + 1e-12
_ROOT_MOST = sqrt(COMPRESSION_GREATEST)

_TABLES = tables.read("beams.npz")
_TIP = _TABLES["tip"]
"""over angle and root of the compression: load, arm, slope, each over its small-angle form"""
_LAY_DOWN = _TABLES["lay_down"]
"""over the angle, when the tip lies parallel: load, height, arm"""
_PLASTIC_TIP = _TABLES["plastic_tip"]
"""over angle, root of the compression, slack of the yield curvature: load, root moment, set, slope"""
_PLASTIC_LAY_DOWN = _TABLES["plastic_lay_down"]
"""over angle and root of the height: load, root moment, contact, released height, released angle, slope"""
_LEAST_CONTACT = 0.99 * float(_PLASTIC_LAY_DOWN[..., 2].min())

Weights = tuple[float, float, float, float]


def _line_at(values: Table, i: int, u: Weights, quantity: int) -> float:
    found = 0.0
    for a in range(4):
        found += u[a] * values[i + a, quantity]
    return found


def _patch_at(values: Table, i: int, u: Weights, j: int, v: Weights, quantity: int) -> float:
    found = 0.0
    for a in range(4):
        for b in range(4):
            found += u[a] * v[b] * values[i + a, j + b, quantity]
    return found


def _block_at(values: Table, i: int, u: Weights, j: int, v: Weights, k: int, t: float, quantity: int) -> float:
    found = 0.0
    for a in range(4):
        for b in range(4):
            w = u[a] * v[b]
            found += w * (1.0 - t) * values[i + a, j + b, k, quantity] + w * t * values[i + a, j + b, k + 1, quantity]
    return found


class _Parallel(NamedTuple):
    """Finger whose tip just lies parallel to the land, over its small-angle form."""

    load: float
    height: float
    arm: float


class _State(NamedTuple):
    load: float
    tangent: float
    recovery: float
    curvature: float
    moment: float
    permanent_set: float
    contact: float


def _parallel(psi: float) -> _Parallel:
    values = _LAY_DOWN
    i, s = place(psi, ROOT_ANGLE_LEAST, ROOT_ANGLE_GREATEST, values.shape[0], 3)
    u = cubic_weights(s)
    return _Parallel(_line_at(values, i, u, 0), _line_at(values, i, u, 1), _line_at(values, i, u, 2))


def _elastic_tip(psi: float, chi: float, kappa_y: float) -> _State:
    """State of an elastic finger touched at its tip."""
    values = _TIP
    i, s = place(psi, ROOT_ANGLE_LEAST, ROOT_ANGLE_GREATEST, values.shape[0], 3)
    j, t = place(sqrt(chi), 0.0, _ROOT_MOST, values.shape[1], 3)
    u, v = cubic_weights(s), cubic_weights(t)
    sine, cosine = sin(psi), cos(psi)
    secant = 3.0 * _patch_at(values, i, u, j, v, 0) / (cosine * cosine)  # load over deflection
    alpha = secant * chi * sine
    arm = _patch_at(values, i, u, j, v, 1) * cosine
    tangent, curvature = secant * _patch_at(values, i, u, j, v, 2), alpha * arm
    return _State(alpha, tangent, tangent, curvature, curvature / kappa_y, 0.0, 1.0)


def _elastic_lay_down(psi: float, chi: float, kappa_y: float, parallel: _Parallel) -> _State:
    """State of an elastic finger lying on the land; contact above 1 where it does not yet."""
    sine, cosine = sin(psi), cos(psi)
    contact = (1.0 - chi) / parallel.height
    alpha = parallel.load * sine / (cosine * contact) ** 2
    arm = parallel.arm * cosine * contact
    tangent, curvature = 2.0 * alpha / ((1.0 - chi) * sine), alpha * arm
    return _State(alpha, tangent, tangent, curvature, curvature / kappa_y, 0.0, contact)


def _plastic_tip(psi: float, chi: float, kappa_y: float, curvature: float, elastic: _State) -> _State:
    """State of a yielded finger touched at its tip, given the elastic one touched at its tip."""
    values = _PLASTIC_TIP
    i, s = place(psi, ROOT_ANGLE_LEAST, ROOT_ANGLE_GREATEST, values.shape[0], 3)
    j, t = place(sqrt(chi), 0.0, _ROOT_MOST, values.shape[1], 3)
    k, r = place(least(kappa_y / elastic.curvature, 1.0), 0.0, 1.0, values.shape[2], 1)
    u, v = cubic_weights(s), cubic_weights(t)
    sine = sin(psi)
    moment = least(_block_at(values, i, u, j, v, k, r, 1), 1.5)
    alpha = _block_at(values, i, u, j, v, k, r, 0) * kappa_y / cos(psi)
    tangent = _block_at(values, i, u, j, v, k, r, 3) * alpha / (chi * sine)
    permanent_set = _block_at(values, i, u, j, v, k, r, 2) * chi * sine
    return _State(alpha, tangent, elastic.tangent, curvature, moment, permanent_set, 1.0)


def _plastic_height(psi: float, chi: float, kappa_y: float, parallel: _Parallel) -> tuple[float, float]:
    """Arc length at first yield and square root of the height over that at first yield, of a finger lying down."""
    first = sqrt(2.0 * parallel.load) * sin(psi) / cos(psi)
    return first, sqrt((1.0 - chi) * kappa_y / (parallel.height * first))


def _plastic_lay_down(
    psi: float, chi: float, kappa_y: float, curvature: float, parallel: _Parallel, first: float, root: float
) -> _State:
    """State of a yielded finger lying on the land; contact above 1 where it does not yet."""
    values = _PLASTIC_LAY_DOWN
    i, s = place(psi, ROOT_ANGLE_LEAST, ROOT_ANGLE_GREATEST, values.shape[0], 3)
    j, t = place(root, 0.0, 1.0, values.shape[1], 3)
    u, v = cubic_weights(s), cubic_weights(t)
    sine, cosine = sin(psi), cos(psi)
    moment = least(_patch_at(values, i, u, j, v, 1), 1.5)
    alpha = _patch_at(values, i, u, j, v, 0) * kappa_y * kappa_y / (2.0 * sine * root)
    contact = _patch_at(values, i, u, j, v, 2) * first * root / kappa_y
    released, angle = _patch_at(values, i, u, j, v, 3), _patch_at(values, i, u, j, v, 4)
    remaining = released * (1.0 - chi) * sine + (1.0 - contact) * sin(angle * psi * root)
    tangent = _patch_at(values, i, u, j, v, 5) * alpha / ((1.0 - chi) * sine)
    # Stepping back is elastic: as an elastic finger that lies down to the same contact.
    recovery = 2.0 * parallel.load / (cosine * cosine * parallel.height * contact * contact * contact)
    return _State(alpha, tangent, recovery, curvature, moment, sine - remaining, contact)


def _pressed(psi: float, chi: float, kappa_y: float) -> _State:
    """State of a finger within the tables, pressed by a share of its free height above 0."""
    parallel = _parallel(psi)
    state = _elastic_lay_down(psi, chi, kappa_y, parallel)
    if state.contact > 1.0:
        state = _elastic_tip(psi, chi, kappa_y)
    if state.moment > 1.0:
        curvature, laid_down = state.curvature, False
        first, root = _plastic_height(psi, chi, kappa_y, parallel)
        if root <= 1.0 and _LEAST_CONTACT * first * root <= kappa_y:
            state = _plastic_lay_down(psi, chi, kappa_y, curvature, parallel, first, root)
            laid_down = state.contact <= 1.0
        if not laid_down:
            state = _plastic_tip(psi, chi, kappa_y, curvature, _elastic_tip(psi, chi, kappa_y))
    return state


class Finger(NamedTuple):
    """Dimensionless state of one finger: lengths over L, load over E I/L² per unit width."""

    load: float
    """P L²/(E I) [-]"""
    tangent: float
    """slope of the load in the deflection over L, as it is pressed further [-]"""
    recovery: float
    """the same slope for a small step back; differs from ``tangent`` once the finger has yielded [-]"""
    curvature: float
    """root curvature times L if the strip never yielded [-]"""
    permanent_set: float
    """loss of free height after release, over L [-]"""


@opaque(name=("finger_load", "finger_tangent", "finger_recovery", "finger_curvature", "finger_set"))
def finger(psi: float, delta: float, kappa_y: float) -> Finger:
    """Dimensionless state of a straight strip finger pressed by a frictionless flat.

    Read from tables: within 1e-6 of the solver while elastic; beyond yield within 3e-4 in load and, for the set, 3e-4 of the
    deflection. A yielded finger that lies down sheds moment near its contact, which the solver ignores: its load is then low
    by up to 3 %. Three things are real and not faults of the table: the elastic tangent steps up where the finger begins to
    lie down (fourfold for small angles, from 3EI/L³ to 12EI/c³); once the root is a hinge the load falls a little with
    deflection while the contact stays at the tip, because the arm grows; and the hinge comes with a kink in the tangent, over
    which the table blends. The recovery slope is that of an elastic finger with the same contact, within 6 % of the step back
    of the yielded shape itself in the cases compared.

    Parameters
    ----------
    psi : rad
        Angle between the root of the finger and the flat, 1 to 60 degrees.
    delta : -
        Travel of the flat along its normal from first touch, over the length of the finger, up to 0.95 sin(psi).
    kappa_y : -
        Curvature at first yield times the length, 2 S L/(E t), > 0; infinite for a finger that never yields.

    Returns
    -------
    alpha : -
        Load; zero where there is no contact. This and all others are not known outside the ranges above.
    alpha_on : -
        Slope of the load as the finger is pressed further.
    alpha_back : -
        Slope of the load for a small step back.
    kappa_root : -
        Elastic curvature at the root.
    h_set : -
        Loss of free height after release.

    References
    ----------
    Bisshopp, K. E. and Drucker, D. C. (1945), Quarterly of Applied Mathematics 3, 272-275 (published), extended here to a
    root angle, an inward-running contact and an elastic-perfectly plastic section (derived).
    """
    if not (psi >= _LEAST and psi <= _GREATEST and kappa_y > 0.0):
        return Finger(nan, nan, nan, nan, nan)
    chi = delta / sin(psi)
    if not chi <= _MOST:
        return Finger(nan, nan, nan, nan, nan)
    if chi <= 0.0:
        slope = _elastic_tip(psi, 0.0, kappa_y).tangent if chi == 0.0 else 0.0
        return Finger(0.0, slope, slope, 0.0, 0.0)
    state = _pressed(psi, chi, kappa_y)
    return Finger(state.load, state.tangent, state.recovery, state.curvature, state.permanent_set)


def bending_modulus(E: float, nu: float, f_plate: float) -> float:
    """Modulus that bends a strip, between beam and plate.

    Parameters
    ----------
    E : Pa
        Young's modulus, > 0.
    nu : -
        Poisson ratio, 0 to 0.5.
    f_plate : -
        Share of the plate stiffening: 0 for a narrow strip to 1 for one whose anticlastic bending is suppressed.

    Returns
    -------
    E_bend : Pa
        Bending modulus of the strip, between beam and plate.

    References
    ----------
    Timoshenko, S. and Woinowsky-Krieger, S. (1959), Theory of Plates and Shells, 2nd ed., ch. 1 (published, from memory).
    """
    return E * (1.0 + f_plate * nu**2 / (1.0 - nu**2))


class CantileverV(NamedTuple):
    """Loads of a V energizer per unit circumference."""

    line_load: float
    """load of either leg normal to the axis, over the whole circumference [N/m]"""
    loading_stiffness: float
    """slope of the line load in the deflection of both legs together, pressed further [N/m²]"""
    recovery_stiffness: float
    """slope of the line load in the deflection of both legs together, for a small step back [N/m²]"""
    root_stress: float
    """bending stress at the root if the strip never yielded [Pa]"""
    permanent_set: float
    """loss of free height of both legs after release [m]"""


def cantilever_v(Delta: float, t: float, L: float, psi: float, c: float, E: float, S: float) -> CantileverV:
    """Load of a V energizer whose two equal legs share the deflection of the gland.

    Fingers are straight, of uniform width and flat across; the curvature of the ring, the rounding at the root and friction
    on the land are left out, and the load of separate fingers is averaged over the circumference. Strip thickness enters
    cubed, length to the inverse third power. Yielding uses the uniaxial strength also for wide fingers, which understates
    their strength by up to 15 %. A preset spring (once pressed further than this) is not this case: it follows its own
    unloading line. Past yield a shaft that runs out meets the stiffness of a small step back, not that of pressing further,
    which is small there or negative. Not known beyond the range of a finger.

    Parameters
    ----------
    Delta : m
        Free height over the legs less the height they are held at, both taken where the finger tips touch; no contact at
        zero or less.
    t : m
        Strip thickness, > 0.
    L : m
        Free length of a finger from its root, > 0.
    psi : rad
        Angle of the root of a leg to its land, half the angle of the V if symmetric, 1 to 60 degrees.
    c : -
        Share of the circumference taken up by fingers, > 0 to 1.
    E : Pa
        Modulus that bends the strip at its temperature: Young's modulus for narrow fingers, > 0.
    S : Pa
        Yield strength at its temperature, > 0; infinite to leave yielding out.

    Returns
    -------
    q : N/m
        Load of the energizer per circumference.
    k_on : N/m²
        Stiffness of the energizer, both legs together, pressed further.
    k_back : N/m²
        Stiffness of the energizer, both legs together, for a small step back.
    sigma : Pa
        Bending stress at the root, elastic.
    h_set : m
        Loss of free height after release, both legs.

    References
    ----------
    Bisshopp, K. E. and Drucker, D. C. (1945), Quarterly of Applied Mathematics 3, 272-275 (published), extended here to a
    root angle, an inward-running contact and an elastic-perfectly plastic section (derived).
    """
    delta = 0.5 * Delta  # deflection of either leg
    kappa_y = 2.0 * S * L / (E * t)  # curvature at first yield over that of one finger length
    state = finger(psi, delta / L, kappa_y)
    alpha = state.load  # load of a finger, P L²/(E I)
    alpha_on = state.tangent  # slope of the load of a finger as it is pressed further
    alpha_back = state.recovery  # slope of the load of a finger for a small step back
    kappa_root = state.curvature  # elastic curvature at the root
    return CantileverV(
        c * E * t**3 / (12.0 * L**2) * alpha,
        c * E * t**3 / (24.0 * L**3) * alpha_on,
        c * E * t**3 / (24.0 * L**3) * alpha_back,
        E * t * kappa_root / (2.0 * L),
        2.0 * L * state.permanent_set,
    )


def finger_mass(rho: float, c: float, t: float, L: float) -> float:
    """Mass of fingers that moves with the lip.

    Parameters
    ----------
    rho : kg/m³
        Density of the strip, > 0.
    c : -
        Share of the circumference taken up by fingers, > 0 to 1.
    t : m
        Strip thickness, > 0.
    L : m
        Free length of a finger, > 0.

    Returns
    -------
    m : kg/m
        Moving mass of the energizer per circumference.

    References
    ----------
    33/140 of a cantilever moves with its tip, after Rayleigh (derived).
    """
    return 33.0 / 140.0 * rho * c * t * L
