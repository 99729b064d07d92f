"""Load and width of a lip under pressure, by one-sided contact with the shaft.

The lip is a strip with bending and transverse shear, on the springs of its own hoops, held at its root. It stands on the
edge of its tip until the slope there has closed; then it lies down and the contact runs towards the root. Interference,
pressure and a spring act together: their loads do not add.
"""

from __future__ import annotations

from math import cos, isfinite, nan, pi, sqrt, tan, tanh
from typing import NamedTuple

import numpy as np

from glandwise.mechanics.choices import FilmPressure, LipDirection, LipState
from glandwise.numerics.arithmetic import greatest, least
from glandwise.numerics.lives import Constant, opaque

_OWN = "Finite elements of our own, axisymmetric with one-sided contact (house estimate)"
_EDGE_WIDTH = Constant(3.1, "k_w", "-", _OWN, "Width of a loaded edge times slope and modulus, over its load")
_TOUCH_DOWN = Constant(0.1, "k_t", "-", _OWN, "Length by which a contact reaches beyond touch-down, over the thickness")
_LEAST_LAID = Constant(0.5, "k_b", "-", _OWN, "Width of a contact when the lip begins to lie down, over the thickness")
_PEAK = Constant(0.72, "k_p", "-", _OWN, "Contact pressure at touch-down over shear force and shear length")
_ODONNELL = Constant(
    16.67, "k_r", "-", "O'Donnell, W. J. (1960), Trans. ASME J. Appl. Mech. 27 (published, from memory)",
    "Rotation of the root of a beam on a half plane, by its moment",
)  # fmt: skip
_COLLAPSE = Constant(
    6.0 + 4.0 * sqrt(2.0), "k_h", "-", "Limit load of an evenly loaded beam, clamped and propped (derived)",
    "Load at collapse times length squared over the plastic moment",
)  # fmt: skip
_PROPPED = Constant(
    2.0 - sqrt(2.0), "k_q", "-", "Limit load of an evenly loaded beam, clamped and propped (derived)",
    "Share of the load at collapse that the root takes",
)  # fmt: skip
_TERMS = 60
"""Most terms of a wave."""
_INVERSE = 1.0 / np.arange(1.0, 2.0 * _TERMS + 3.0)
"""Inverses of 1, 2, 3, ...: a wave takes thousands of them, and a processor is slow at dividing."""
_LONGEST = 10.0
"""Greatest free length in units of the decay length of the shell; beyond it the waves lose their digits."""


class _Mode(NamedTuple):
    """State at a station of the lip, from its root."""

    w: float
    M: float
    Q: float
    theta: float


_OPEN, _EDGE, _LAID = 0, 1, 2
"""What holds a lip at a station: nothing, the shaft at the edge of the tip, the shaft from there on."""


class _Held(NamedTuple):
    """A lip that is held at a station, its two unknowns at the root found."""

    gap: float
    """movement beyond the shaft where the slope is given; opening of the slope where the movement is given"""
    V: float
    M: float


def _waves(y: float, g: float, h: float) -> tuple[float, float, float, float, float]:
    """Integral of the third, and third to zeroth derivative of the wave with f'''(0) = 1 of f'''' = g f'' - h f."""
    f_i = f_0 = f_1 = f_2 = f_3 = 0.0 * y
    c, before, power = 1.0, 0.0, 1.0
    for n in range(_TERMS):
        term = c * power
        f_3 += term
        term *= y * _INVERSE[2 * n]
        f_2 += term
        term *= y * _INVERSE[2 * n + 1]
        f_1 += term
        term *= y * _INVERSE[2 * n + 2]
        f_0 += term
        f_i += term * y * _INVERSE[2 * n + 3]
        c, before = g * c - h * before, c
        power *= y * y * _INVERSE[2 * n] * _INVERSE[2 * n + 1]
        if (abs(c) + abs(h * before) * y * y) * power <= 1e-18:
            break
    return f_i, f_0, f_1, f_2, f_3


def _by_pressure(y: float, p: float, D: float, S: float, k: float) -> _Mode:
    """State by an even load over a length y that ends at the station."""
    f_i, f_0, f_1, f_2, _ = _waves(y, k / S, k / D)
    return _Mode(p * (f_i / D - f_1 / S), p * f_1, -p * f_2, p * f_0 / D)


def _held_at(
    hold: int, l_0: float, is_hinge: bool, M_h: float, L: float, tau: float, i: float, D: float, S: float, k: float,
    p_n: float, F_1: float, x_1: float, x_2: float, C_r: float, w_h: float,
) -> _Held:  # fmt: skip
    """Lip that ends free, on the edge of its tip, or laid on the shaft from a station on."""
    f_i, f_0, f_1, f_2, f_3 = _waves(l_0, k / S, k / D)
    # known loads: pressure, movement of the root, spring
    w = p_n * (f_i / D - f_1 / S) + w_h * f_3
    M = p_n * f_1 - w_h * k * f_1
    Q = -p_n * f_2 + w_h * k * f_2
    theta = p_n * f_0 / D - w_h * k * f_0 / D
    if F_1 > 0.0 and l_0 > x_1:
        near = _by_pressure(l_0 - x_1, F_1, D, S, k)
        w, M, Q, theta = w + near.w, M + near.M, Q + near.Q, theta + near.theta
        if l_0 > x_2:
            far = _by_pressure(l_0 - x_2, F_1, D, S, k)
            w, M, Q, theta = w - far.w, M - far.M, Q - far.Q, theta - far.theta
    by_moment = _Mode(f_1 / D, 1.0 - k * f_i / D, k * f_0 / D, (f_2 - k * f_0 / S) / D)
    by_turn = _Mode(f_2, -k * f_0, k * f_1, 1.0 - k * f_i / D)
    if is_hinge:
        w, M, Q, theta = (
            w + M_h * by_moment.w,
            M + M_h * by_moment.M,
            Q + M_h * by_moment.Q,
            theta + M_h * by_moment.theta,
        )
        u_w, u_M, u_Q, u_t = by_turn.w, by_turn.M, by_turn.Q, by_turn.theta
    else:
        u_w, u_M = by_moment.w + C_r * by_turn.w, by_moment.M + C_r * by_turn.M
        u_Q, u_t = by_moment.Q + C_r * by_turn.Q, by_moment.theta + C_r * by_turn.theta
    v_w, v_M, v_Q, v_t = f_2 / S - f_0 / D, -f_2, f_3, -f_1 / D
    if hold == _LAID:
        delta = sqrt(D / S)
        arm = delta * tanh((L - l_0) / delta)
        a_11, a_12, b_1 = u_t + u_Q / S, v_t + v_Q / S, -tau - theta - Q / S
        a_21, a_22, b_2 = u_M - arm * u_Q, v_M - arm * v_Q, arm * Q - M
    else:
        a_11, a_12, b_1 = (u_w, v_w, -i - w) if hold == _EDGE else (u_Q, v_Q, -Q)
        a_21, a_22, b_2 = u_M, v_M, -M
    det = a_11 * a_22 - a_12 * a_21
    first = (b_1 * a_22 - a_12 * b_2) / det
    second = (a_11 * b_2 - a_21 * b_1) / det
    w, Q, theta = w + first * u_w + second * v_w, Q + first * u_Q + second * v_Q, theta + first * u_t + second * v_t
    gap = w - (L * tau - i - l_0 * tau) if hold == _LAID else tau + theta + Q / S
    return _Held(gap, -Q, M_h if is_hinge else first)


class Standing(NamedTuple):
    """How a lip stands, per length of its own mean circumference."""

    free_length: float
    """length from the root to where the shaft takes hold [m]"""
    shear: float
    """shear force there [N/m]"""
    root_moment: float
    """moment at the root that bends the lip towards the shaft [N]"""
    opening: float
    """angle between shaft and bore face at the tip, zero when laid down [rad]"""


def _standing_words(*_: float) -> tuple[str, str, str, str]:
    """How a lip stands."""
    by = "the equation of a strip with shear on hoop springs, D w'''' - D k/S w'' + k w = p_n"
    return (
        f"where {by}, puts the bore face on the shaft, by a bracketed secant; the whole length while the tip stands open",
        f"by {by}, and the conditions at both ends",
        f"by {by}, and the conditions at both ends; no more than the root bears",
        f"by {by}, and the conditions at both ends; 0 once laid down",
    )


@opaque(words=_standing_words, name=tuple(f"strip_{name}" for name in Standing._fields))
def standing(
    L: float, tau: float, i: float, D: float, S: float, k: float, p_n: float, F: float, x_1: float, x_2: float,
    C_r: float, w_h: float, M_y: float,
) -> Standing:  # fmt: skip
    """Where a lip takes hold of the shaft, and with what force.

    Timoshenko strip on hoop springs, w towards the shaft from the straight lip: w' = θ + Q/S, D θ' = M, M' = -Q,
    Q' = k w - p_n. At the root w = w_h and θ = C_r M, or M at the plastic moment. At the tip w = -i and M = 0 while the
    slope w' + τ is open. Then the strip lies on the shaft from l_0 on, where w = g_0 - τ l_0, w' = -τ and
    M = δ tanh((L - l_0)/δ) Q with δ² = D/S, since what is laid down still shears; l_0 is the one root of the first of these
    under the other two. Both states give the same load where they meet.

    Parameters
    ----------
    L : m
        Free length from the root to the edge of the tip, along the axis, > 0.
    tau : -
        Slope of the bore face, >= 0.
    i : m
        Radial interference at the edge of the tip.
    D : N·m
        Flexural rigidity, > 0.
    S : N/m
        Shear stiffness, > 0.
    k : Pa/m
        Stiffness of the hoops per area, >= 0.
    p_n : Pa
        Pressure over the free length towards the shaft.
    F : N/m
        Load of the spring, >= 0.
    x_1 : m
        Begin of the patch that the spring presses on, from the root, >= 0.
    x_2 : m
        End of that patch, > x_1.
    C_r : 1/N
        Turn of the root per moment and circumference, >= 0.
    w_h : m
        Movement of the root towards the shaft.
    M_y : N
        Moment that the root bears, > 0; infinite if it does not yield.

    Returns
    -------
    l_0 : m
        Length from the root to where the shaft takes hold.
    V_0 : N/m
        Shear force where the shaft takes hold.
    M_0 : N
        Moment at the root, bending the lip towards the shaft.
    beta : rad
        Opening between shaft and bore face at the tip.

    References
    ----------
    Timoshenko beam theory and the elastic foundation that hoops make of a tube (Timoshenko and Woinowsky-Krieger 1959, art.
    114; published, from memory), with the contact conditions derived here.
    """
    F_1 = F / (x_2 - x_1)
    is_hinge, M_h = False, 0.0
    found = Standing(nan, nan, nan, nan)
    for _ in range(2):
        tip = _held_at(_EDGE, L, is_hinge, M_h, L, tau, i, D, S, k, p_n, F_1, x_1, x_2, C_r, w_h)
        if tip.gap > 0.0:
            if tip.V <= 0.0:
                free = _held_at(_OPEN, L, False, 0.0, L, tau, i, D, S, k, p_n, F_1, x_1, x_2, C_r, w_h)
                return Standing(L, 0.0, greatest(least(free.M, M_y), -M_y), greatest(free.gap, 0.0))
            found = Standing(L, tip.V, tip.M, tip.gap)
        elif tip.gap <= 0.0:
            held = _held_at(_LAID, L, is_hinge, M_h, L, tau, i, D, S, k, p_n, F_1, x_1, x_2, C_r, w_h)
            low, high, at_low, at_high, side, l_0 = 0.0, L, w_h - (L * tau - i), held.gap, 0, L
            for n in range(80 if at_high > 0.0 else 0):
                before = l_0
                l_0 = high - at_high / (at_high - at_low) * (high - low) if n < 40 else 0.5 * (low + high)
                held = _held_at(_LAID, l_0, is_hinge, M_h, L, tau, i, D, S, k, p_n, F_1, x_1, x_2, C_r, w_h)
                if held.gap == 0.0 or abs(l_0 - before) <= 1e-14 * L:
                    break
                if held.gap > 0.0:
                    high, at_high, at_low, side = l_0, held.gap, (0.5 * at_low if side == 1 else at_low), 1
                else:
                    low, at_low, at_high, side = l_0, held.gap, (0.5 * at_high if side == -1 else at_high), -1
            found = Standing(l_0, held.V, held.M, 0.0)
        if abs(found.root_moment) <= M_y or not isfinite(M_y):
            break
        is_hinge, M_h = True, (M_y if found.root_moment > 0.0 else -M_y)
    return found


def root_compliance(E: float, nu: float, t: float) -> float:
    """Turn of the root of a lip that grows out of an elastic heel, per moment and circumference.

    For a strip on a half plane; turn by shear force and movement of the root are left out.

    Parameters
    ----------
    E : Pa
        Young's modulus of the heel, > 0.
    nu : -
        Poisson's ratio, -1 < nu < 0.5.
    t : m
        Thickness of the lip at its root, > 0.

    Returns
    -------
    C_r : 1/N
        Turn of the root per moment and circumference.

    References
    ----------
    O'Donnell, W. J. (1960), The additional deflection of a cantilever due to the elasticity of the support, Trans. ASME, J.
    Appl. Mech. 27 (published, from memory).
    """
    E_s = E / (1.0 - nu**2)  # plane strain modulus
    return 1.0 / (pi * E_s * t**2) * _ODONNELL


def heel_bulge(p: float, E: float, nu: float, h: float) -> float:
    """Movement of the root of a lip towards the shaft as pressure squeezes the heel along the axis.

    Parameters
    ----------
    p : Pa
        Sealed gauge pressure on the heel.
    E : Pa
        Young's modulus of the heel, > 0.
    nu : -
        Poisson's ratio, -1 < nu < 0.5.
    h : m
        Radial section of the heel between its seat and the shaft, >= 0.

    Returns
    -------
    w_h : m
        Movement of the root towards the shaft.

    References
    ----------
    Plane strain of a block that is squeezed along one axis and free along the other (derived).
    """
    return nu * (1.0 + nu) * p / E * h


class LipContact(NamedTuple):
    """Contact of a lip with the shaft; loads per circumference of the shaft."""

    load: float
    """total radial line load [N/m]"""
    solid_load: float
    """load borne by solid contact, without the pressure of the film under it [N/m]"""
    width: float
    """axial width of the contact [m]"""
    laid_length: float
    """length of bore face laid on the shaft [m]"""
    peak_pressure: float
    """greatest contact pressure [Pa]"""
    root_stress: float
    """bending stress at the root, tension on the outer face [Pa]"""
    state: LipState
    """how the lip stands"""


def _film_share(film: int) -> float:
    """Mean pressure under the contact over the sealed pressure."""
    if film == FilmPressure.linear:
        return 0.5
    return 1.0 if film == FilmPressure.full else 0.0


def _signed(p: float, direction: int) -> float:
    """Pressure on the outer face over that on the bore face."""
    return p if direction == LipDirection.toward else -p


def _is_lip(d: float, t: float, L: float, a: float, i: float, E: float, nu: float) -> bool:
    """Whether the arguments describe a lip at all."""
    is_size = d > 0.0 and t > 0.0 and L > 0.0 and a >= 0.0 and a <= 0.6
    return is_size and abs(i) < L and E > 0.0 and nu > -1.0 and nu <= 0.5


def _is_loaded(p: float, L: float, F: float, x_F: float, C_r: float, w_h: float, sigma_y: float) -> bool:
    """Whether the arguments describe loads and a root."""
    is_load = isfinite(p) and F >= 0.0 and isfinite(F) and x_F >= 0.0 and x_F <= L
    return is_load and C_r >= 0.0 and isfinite(C_r) and isfinite(w_h) and sigma_y > 0.0


def _on_shaft(l_0: float, x_1: float, x_2: float) -> float:
    """Share of a patch that lies beyond a station."""
    return least(greatest((x_2 - l_0) / (x_2 - x_1), 0.0), 1.0)


def lip_contact(
    d: float, t: float, L: float, a: float, i: float, E: float, nu: float, p: float, F: float, x_F: float,
    C_r: float, w_h: float, sigma_y: float, direction: int, film: int,
) -> LipContact:  # fmt: skip
    """Load and width of the contact of a lip with interference, pressure and spring, by one-sided contact.

    The wet faces are the outer face and the face of the tip where the tip points towards the pressure, the bore face from
    the root to the contact where it points away; a vacuum acts as the same pressure on a lip that points the other way. The
    modulus is the relaxed one at temperature and time. The total load does not depend on the film under the contact; the
    solid load does: no film is the greatest, full pressure a lower bound. A linear film is never taken to bear more than
    half of the load.

    With a root that neither turns, moves nor yields (C_r and w_h 0, sigma_y infinite) the law is the low side of the load
    under pressure; an elastic heel is the nominal, its yielding the high one. Yielding is a hinge at the root and, as the
    lip cannot stand freely on more than the length at which it collapses between two hinges, a least length laid down.

    Checked range: d 10 to 500 mm, t/L 0.1 to 0.33, a 3 to 15 degrees, E 100 to 600 MPa, p to 70 MPa. Load within 8 % of
    finite elements there for a clamped elastic root, width within 4 % for most laid lips from 3 MPa, within 30 % below and
    on the edge. The peak pressure is that at touch-down, within 11 %, and no less than the mean; a sharp edge has none in
    elastic theory.
    A lip of no even thickness counts with its mean. Beyond ten decay lengths of its shell, and outside the ranges below, a
    lip is not known. One whose root touches has no numbers but its state. Interference below 0 with a load is a lip that
    pressure or spring holds down: without them it does not touch. Friction in the contact, wear, history and the weight of
    pressure along the lip are left out.

    Parameters
    ----------
    d : m
        Shaft diameter, > 0.
    t : m
        Thickness normal to the bore face, > 0.
    L : m
        Free length from the root to the edge of the tip, along the axis, > 0.
    a : rad
        Angle of the bore face to the axis before fitting, 0 to 0.6.
    i : m
        Radial interference at the edge of the tip, at temperature; negative for a gap.
    E : Pa
        Relaxed modulus, > 0.
    nu : -
        Poisson's ratio, above -1 to 0.5.
    p : Pa
        Sealed gauge pressure; negative for vacuum.
    F : N/m
        Line load of a spring on the outer face, per circumference of the lip, >= 0.
    x_F : m
        Place of the spring, from the root, 0 to L; the load spreads by half the thickness either way, as far as there is lip.
    C_r : 1/N
        Turn of the root per moment and circumference, >= 0.
    w_h : m
        Movement of the root towards the shaft.
    sigma_y : Pa
        Yield strength that bends the root, > 0; infinite to leave yielding out.
    direction : LipDirection
        Where the tip points.
    film : FilmPressure
        Sealed pressure under the contact.

    Returns
    -------
    q : N/m
        Line load of the lip.
    q_s : N/m
        Line load borne by solid contact.
    b : m
        Width of the contact.
    c : m
        Length of bore face laid on the shaft.
    p_max : Pa
        Greatest contact pressure.
    sigma_r : Pa
        Bending stress at the root, elastic up to the plastic moment, tension on the outer face.
    state : LipState
        How the lip stands.

    References
    ----------
    Derived here; held to finite elements of our own. Widths and peak by those elements (house estimate).
    """
    if not (_is_lip(d, t, L, a, i, E, nu) and _is_loaded(p, L, F, x_F, C_r, w_h, sigma_y)):
        return LipContact(nan, nan, nan, nan, nan, nan, LipState.unknown)
    tau = tan(a)  # slope of the bore face
    g_0 = L * tau - i  # clearance at the root
    if g_0 <= 0.0:
        return LipContact(nan, nan, nan, nan, nan, nan, LipState.root_touches)
    r = 0.5 * d + 0.5 * L * tau - i + 0.5 * t  # mean radius of the lip
    E_s = E / (1.0 - nu**2)  # plane strain modulus
    D = E_s * t**3 * cos(a) / 12.0  # flexural rigidity, along the axis
    S = 5.0 * E * t * cos(a) / (12.0 * (1.0 + nu))  # shear stiffness, along the axis
    k = E * t / r**2  # stiffness of the hoops
    x = sqrt(sqrt(0.25 * k / D)) * L  # free length over the decay length of the shell
    if not (r > 0.0 and x <= _LONGEST):
        return LipContact(nan, nan, nan, nan, nan, nan, LipState.unknown)
    p_o = _signed(p, direction)  # pressure on the outer face over that on the bore face
    p_n = p_o / cos(a) ** 2  # pressure that bends the free lip, along the axis
    s_F = greatest(least(0.5 * t, least(x_F, L - x_F)), 1e-4 * t)  # half the length that the spring presses on
    x_1 = greatest(x_F - s_F, 0.0)  # begin of that length
    x_2 = x_F + s_F  # end of that length
    w_r = least(w_h, g_0)  # movement of the root, which ends at the shaft
    M_y = sigma_y * t**2 / (2.0 * sqrt(3.0))  # plastic moment of the root
    l_0, V_0, M_0, beta = standing(L, tau, i, D, S, k, p_n, F, x_1, x_2, C_r, w_r, M_y)
    sigma_r = 6.0 * M_0 / t**2  # bending stress at the root
    p_c = greatest(p_o, 0.0)  # pressure on the back of what is laid down
    c = L - l_0  # length laid down by bending
    F_c = F * _on_shaft(l_0, x_1, x_2)  # load of the spring on what is laid down
    q = (V_0 + p_c * c + F_c - k * c * (0.5 * tau * c - i)) * 2.0 * r / d  # line load, elastic lip
    if q <= 0.0:
        return LipContact(0.0, 0.0, 0.0, 0.0, 0.0, sigma_r, LipState.lifted if i >= 0.0 else LipState.no_contact)
    if beta > 0.0:  # noqa: SIM108
        b = _EDGE_WIDTH * q * t / (E_s * beta * t + 2.0 * _EDGE_WIDTH * q)  # width of the loaded edge
    else:
        b = greatest(c + _TOUCH_DOWN * t, _LEAST_LAID * t)  # width of the contact laid down
    if p_c > 0.0 and isfinite(M_y):
        l_h = sqrt(_COLLAPSE * M_y / p_c)  # greatest length that stands freely
        F_h = F * _on_shaft(l_h, x_1, x_2)  # load of the spring beyond that length
        q = greatest(q, (p_c * (L - _PROPPED * l_h) + F_h) * 2.0 * r / d)  # line load, lip that may yield
        c = greatest(c, L - l_h)  # length laid down
        b = greatest(b, c)  # width of the contact
    f_p = _film_share(film)
    q_s = greatest(q - f_p * abs(p) * b, (1.0 - f_p) * q)  # line load borne by solid contact
    p_max = greatest(p_c + F_c / t + _PEAK * V_0 * sqrt(S / D), q / b)  # greatest contact pressure
    return LipContact(q, q_s, b, c, p_max, sigma_r, LipState.laid if c > 0.0 else LipState.edge)
