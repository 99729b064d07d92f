"""Life of a lip that wears: it widens as it wears, loses load by wear and by relaxing, and leaves contact to the film.

The depth grows by Archard's law at the pressure of the moment. Ends of life are located, not stepped over: the depth that
may wear, the travel of the energizer, half of the load, the load that counts as lost, and the load at which the sealed
pressure lifts the lip.
Rates are known to a factor of several either way, so that a life is a median with a spread, and a target is reached with a
probability.
"""

from __future__ import annotations

from math import erfc, exp, inf, isfinite, log, log1p, nan, sqrt
from typing import NamedTuple

from glandwise.mechanics.choices import Motion
from glandwise.mechanics.lubrication import duty_number, film_share, swing_mean
from glandwise.mechanics.viscoelastic import Relaxation, relaxed_series, shift_factor
from glandwise.numerics.arithmetic import greatest, least
from glandwise.numerics.lives import opaque

# ---------------------------------------------------------------------------------------------------------------- rates


def temperature_factor(
    T: float, T_1: float, f_1: float, T_2: float, f_2: float, T_3: float, f_3: float, T_4: float, f_4: float
) -> float:
    """Factor of the contact temperature on the wear rate: its logarithm runs straight from point to point.

    Held below the coldest point, continued beyond the warmest at its last slope.

    Parameters
    ----------
    T : K
        Temperature of the contact.
    T_1 : K
        Coldest point.
    f_1 : -
        Factor there, > 0.
    T_2 : K
        Second point.
    f_2 : -
        Factor there, > 0.
    T_3 : K
        Third point.
    f_3 : -
        Factor there, > 0.
    T_4 : K
        Warmest point.
    f_4 : -
        Factor there, > 0.

    Returns
    -------
    f_T : -
        Factor of the temperature.

    References
    ----------
    Neale, The Tribology Handbook, 2nd ed., p. A5.3: a factor at 20, 100 and 200 °C (form read, values from memory); the way
    between the points is a convention of this service.
    """
    if T <= T_2:
        u = (greatest(T, T_1) - T_1) / (T_2 - T_1)  # way from the first to the second point
        return f_1 * exp(u * log(f_2 / f_1))
    if T <= T_3:
        u = (T - T_2) / (T_3 - T_2)  # way from the second to the third point
        return f_2 * exp(u * log(f_3 / f_2))
    u = (T - T_3) / (T_4 - T_3)  # way from the third to the fourth point
    return f_3 * exp(u * log(f_4 / f_3))


def finish_factor(R_a: float, R_1: float, m: float) -> float:
    """Factor of the finish of the shaft on the wear rate: a power of the roughness, 1 on what is smooth enough.

    Parameters
    ----------
    R_a : m
        Roughness Ra of the worn-in surface, > 0.
    R_1 : m
        Roughness up to which it does not count, > 0.
    m : -
        Exponent, >= 0.

    Returns
    -------
    f_R : -
        Factor of the finish.

    References
    ----------
    Neale, The Tribology Handbook, 2nd ed., p. A5.3: classes 0.1-0.2, 0.2-0.4 and 0.4-0.8 µm (form read, values from
    memory); the power that runs through the middles of the classes is a convention of this service.
    """
    return greatest(R_a / R_1, 1.0) ** m


def mild_factor(v: float, v_m: float, v_s: float, f_m: float) -> float:
    """Factor of a crawl on the wear rate of unfilled PTFE: thin films below one speed, plates torn off above another.

    Between both it runs straight over the logarithm of the speed, in its own logarithm.

    Parameters
    ----------
    v : m/s
        Mean sliding speed, >= 0.
    v_m : m/s
        Speed up to which the wear is mild, > 0.
    v_s : m/s
        Speed from which on it is severe, > v_m.
    f_m : -
        Rate of mild wear over that of severe wear, 0 to 1.

    Returns
    -------
    f_v : -
        Factor of the speed.

    References
    ----------
    Two regimes that meet near 0.01 m/s at room temperature: Blanchet and Kennedy, Wear 153 (1992) 229 (from memory); the line
    between them is a convention of this service.
    """
    share = log(least(greatest(v, v_m), v_s) / v_m) / log(v_s / v_m)  # of the way from mild to severe
    return f_m ** (1.0 - share)


def boundary_wear_rate(K_0: float, f_T: float, f_c: float, f_R: float, f_s: float) -> float:
    """Specific wear rate where solid contact bears all of the load.

    Parameters
    ----------
    K_0 : 1/Pa
        Specific wear rate of the compound in the medium, on hardened steel, smooth, at 20 °C, > 0.
    f_T : -
        Factor of the contact temperature, > 0.
    f_c : -
        Factor of the material of the counterface, > 0.
    f_R : -
        Factor of its finish, > 0.
    f_s : -
        Factor of solids at the lip, >= 1.

    Returns
    -------
    K_b : 1/Pa
        Specific wear rate of the boundary.

    References
    ----------
    Factors taken as independent: Neale, The Tribology Handbook, 2nd ed., p. A5.3 (published); rates and factors are rule data.
    """
    return K_0 * f_T * f_c * f_R * f_s


# -------------------------------------------------------------------------------------------------------------- contact


def worn_width(h: float, theta: float, V_0: float, D: float) -> float:
    """Width by which wear widens the contact at a loaded edge.

    The lip behind its edge stands off by the slope of the edge and by its own bending, theta w + V_0 w³/(6 D); what is worn
    off the edge closes that. A lip that lies on the shaft has no slope left. One formula for both, without a step between.

    Parameters
    ----------
    h : m
        Depth worn, >= 0.
    theta : -
        Slope of the loaded edge, >= 0; 0 where the lip lies on the shaft.
    V_0 : N/m
        Line load at the edge, >= 0.
    D : N·m
        Bending stiffness of the lip per width, > 0.

    Returns
    -------
    w : m
        Width gained.

    References
    ----------
    Positive root of a cubic (Cardano, without loss of digits); derived.
    """
    if h <= 0.0:
        return 0.0
    if V_0 <= 0.0:
        return h / theta
    P = 2.0 * D * theta / V_0  # slope against bending of the lip
    Q = 3.0 * D * h / V_0  # worn depth against bending of the lip
    u = (Q + sqrt(Q**2 + P**3)) ** (1.0 / 3.0)  # Cardano's root
    return 2.0 * Q / (u**2 + P + (P / u) ** 2)


def contact_width(b_0: float, w: float, h: float, c_f: float, L: float) -> float:
    """Contact width of a worn lip: it grows until the whole length of the lip lies on the shaft.

    Parameters
    ----------
    b_0 : m
        Contact width when new, >= 0.
    w : m
        Width gained at the loaded edge.
    h : m
        Depth worn, >= 0.
    c_f : -
        Cotangent of the other flank of the tip to the shaft, >= 0.
    L : m
        Length of the lip that can lie on the shaft, > 0; a contact wider than that when new stays as wide.

    Returns
    -------
    b : m
        Contact width.

    References
    ----------
    Geometry.
    """
    return least(b_0 + w + h * c_f, greatest(L, b_0))


def solid_load(q: float, p: float, b: float, f_q: float) -> float:
    """Line load that solid contact bears: the sealed pressure under the contact, falling along it, bears the rest.

    Not below a share of the load: as the contact widens, a formula without a floor runs to nothing while the lip still rubs.

    Parameters
    ----------
    q : N/m
        Line load in all, >= 0.
    p : Pa
        Sealed pressure, >= 0.
    b : m
        Contact width, >= 0.
    f_q : -
        Least share of the load that solid contact bears, 0 to 1.

    Returns
    -------
    q_s : N/m
        Line load of the solid contact.

    References
    ----------
    Linear fall of the pressure; the floor is a proposal of this service, a half in rule data (house estimate).
    """
    return greatest(q - 0.5 * p * b, f_q * q)


@opaque(name="loss")
def loss_term(x: float) -> float:
    """(-ln(1 - x)/x - 1)/x: what the loss of load adds to the way of a widening contact; 1/2 at 0.

    Parameters
    ----------
    x : -
        Share of the load that is lost, 0 to 1.

    Returns
    -------
    y : -
        Value.

    References
    ----------
    Integral in closed form; derived.
    """
    if x < 0.05:  # the closed form loses its digits here
        total = 0.0
        for n in range(12):
            total = total * x + 1.0 / (13.0 - n)
        return total
    return (-log1p(-x) / x - 1.0) / x


def widening_distance(K: float, q_0: float, k: float, b_0: float, c: float, h: float) -> float:
    """Sliding distance to a depth, the contact widening and the load falling in proportion to it.

    For flanks of fixed angle, a constant share of solid contact and no relaxing: the closed law that the march of
    :func:`lip_life` comes down to there.

    Parameters
    ----------
    K : 1/Pa
        Specific wear rate with the share of solid contact in it, > 0.
    q_0 : N/m
        Line load at the start, > 0.
    k : N/m²
        Line load lost per depth, >= 0.
    b_0 : m
        Contact width at the start, >= 0.
    c : -
        Sum of the cotangents of both flanks to the shaft, >= 0.
    h : m
        Depth, >= 0.

    Returns
    -------
    s : m
        Sliding distance; infinite where the load is gone before.

    References
    ----------
    Integral of dh/ds = K (q_0 - k h)/(b_0 + c h); derived, checked by numerical integration in the tests.
    """
    x = k * h / q_0  # share of the load that is lost by then
    if x >= 1.0:
        return inf
    y = loss_term(x)  # what the loss adds
    return h / (K * q_0) * (b_0 * (1.0 + x * y) + c * h * y)


# ----------------------------------------------------------------------------------------------------------------- life


class Life(NamedTuple):
    """Times at which a worn lip comes to its ends, infinite where another one comes before; its state at a stated time."""

    to_depth: float
    to_travel: float
    to_half_load: float
    to_lost_load: float
    to_lift: float
    depth: float
    width: float
    load: float
    share: float


class _Lip(NamedTuple):
    """What a march of wear goes by."""

    shift: float
    t_0: float
    f_t0: float
    K_b: float
    v: float
    motion: int
    S: float
    G_0: float
    f_0: float
    q_p: float
    q_e: float
    k_e: float
    q_l: float
    k_l: float
    p: float
    b_0: float
    theta: float
    V_0: float
    D: float
    c_f: float
    L: float
    f_q: float
    f_x: float


def _load(lip: _Lip, r: float, h: float) -> float:
    return lip.q_p + greatest(lip.q_e - lip.k_e * h, 0.0) + r * greatest(lip.q_l - lip.k_l * h, 0.0)


def _left(lip: _Lip, relaxation: Relaxation, t: float) -> float:
    """Share of the lip's own load at the start that relaxing has left."""
    return relaxed_series(relaxation.equilibrium, (lip.t_0 + t) / lip.shift, relaxation) / lip.f_t0


def _width(lip: _Lip, h: float) -> float:
    return contact_width(lip.b_0, worn_width(h, lip.theta, lip.V_0, lip.D), h, lip.c_f, lip.L)


def _share(lip: _Lip, q: float, b: float) -> float:
    G = duty_number(lip.S, q, b)
    if lip.motion == Motion.swinging:
        return lip.f_0 + (1.0 - lip.f_0) * swing_mean(G / lip.G_0)
    return film_share(G, lip.G_0, lip.f_0)


def _slowness(lip: _Lip, r: float, h: float) -> float:
    """Time per depth worn."""
    q = _load(lip, r, h)
    b = _width(lip, h)
    return b / (lip.K_b * _share(lip, q, b) * abs(lip.v) * solid_load(q, lip.p, b, lip.f_q))


_GROWING = 8
"""Steps that grow, from the first to those that follow."""
_EVEN = 16
"""Steps of one size that the way would be divided into."""
_FIRST = 300.0
"""Time in seconds that the first step is to last about."""
_SEARCHES = 60


def _between(u: float, t: float, t_next: float, m: float, m_next: float) -> float:
    """Time within a step, at a part ``u`` of it: cubic by times and slopes (per step) at both ends."""
    v = 1.0 - u
    return t * v * v * (1.0 + 2.0 * u) + t_next * u * u * (3.0 - 2.0 * u) + u * v * (m * v - m_next * u)


def _above(lip: _Lip, relaxation: Relaxation, h: float, t: float, lift: float, bound: float) -> float:
    """By how much the load is above a bound and, where ``lift`` is not 0, above that share of the pressure on the width."""
    q = _load(lip, _left(lip, relaxation, t), h) - bound
    return q if lift == 0.0 else q - lift * lip.p * _width(lip, h)


def _part_to(
    lip: _Lip, relaxation: Relaxation, h: float, dh: float, t: float, t_next: float, m: float, m_next: float,
    lift: float, bound: float,
) -> float:  # fmt: skip
    """Part of a step after which the load has come down to a bound (Illinois)."""
    a, b = 0.0, 1.0
    f_a = _above(lip, relaxation, h, t, lift, bound)
    f_b = _above(lip, relaxation, h + dh, t_next, lift, bound)
    if f_a <= 0.0:  # what was guessed of the relaxing may cross the bound a little beside
        return a
    if f_b >= 0.0:
        return b
    for _ in range(_SEARCHES):
        u = b - f_b * (b - a) / (f_b - f_a)
        f = _above(lip, relaxation, h + u * dh, _between(u, t, t_next, m, m_next), lift, bound)
        if f * f_b < 0.0:
            a, f_a = b, f_b
        else:
            f_a *= 0.5
        if abs(u - b) < 1.0e-13 or f == 0.0:
            return u
        b, f_b = u, f
    return b


def _part_at(t_m: float, t: float, t_next: float, m: float, m_next: float) -> float:
    """Part of a step after which a time has gone, by bisection."""
    a, b = 0.0, 1.0
    for _ in range(_SEARCHES):
        u = 0.5 * (a + b)
        if _between(u, t, t_next, m, m_next) < t_m:
            a = u
        else:
            b = u
    return b


def _last_depth(lip: _Lip, q_0: float, h_m: float) -> float:
    """Depth at which the load would be lost without relaxing; the thickness where that is less."""
    if _load(lip, 1.0, h_m) >= lip.f_x * q_0:
        return h_m
    a, b = 0.0, h_m
    for _ in range(_SEARCHES):
        h = 0.5 * (a + b)
        if _load(lip, 1.0, h) > lip.f_x * q_0:
            a = h
        else:
            b = h
    return b


def _laid_depth(lip: _Lip, h_m: float) -> float:
    """Depth at which the whole length of the lip has come to lie on the shaft; the thickness where that is less."""
    if lip.b_0 >= lip.L or _width(lip, h_m) < lip.L:
        return h_m
    a, b = 0.0, h_m
    for _ in range(_SEARCHES):
        h = 0.5 * (a + b)
        if _width(lip, h) < lip.L:
            a = h
        else:
            b = h
    return b


def _relaxed_at(lip: _Lip, relaxation: Relaxation, bound: float) -> float:
    """Time at which relaxing alone has brought the load down to a bound."""
    if not _load(lip, _left(lip, relaxation, inf), 0.0) < bound:
        return inf
    a, b = log(1.0e-3), log(1.0e18)
    for _ in range(_SEARCHES):
        x = 0.5 * (a + b)
        if _load(lip, _left(lip, relaxation, exp(x)), 0.0) > bound:
            a = x
        else:
            b = x
    return exp(b)


_LIFE_WORDS = (
    "time to the depth that may wear, integrated from the wear rate at each depth",
    "time to the travel of the energizer, integrated from the wear rate at each depth",
    "time to half of the load, integrated from the wear rate at each depth",
    "time to the load that counts as lost, integrated from the wear rate at each depth",
    "time until the sealed pressure lifts the lip, integrated from the wear rate at each depth",
    "depth worn at the stated time or at the end of life, if that is before",
    "contact width then",
    "line load then",
    "share of the load borne by solid contact then",
)


def _life_words(*_: object) -> tuple[str, ...]:
    return _LIFE_WORDS


@opaque(words=_life_words, name=tuple(f"march_{name}" for name in Life._fields))
def lip_life(
    relaxation: Relaxation, T: float, t_0: float, K_b: float, v: float, motion: int, S: float, G_0: float, f_0: float,
    q_p: float, q_e: float, k_e: float, q_l: float, k_l: float, p: float, b_0: float, theta: float, V_0: float,
    D: float, c_f: float, L: float, f_q: float, f_x: float, h_a: float, h_e: float, h_m: float, t_m: float,
) -> Life:  # fmt: skip
    """Times at which a lip that wears and relaxes comes to its ends.

    The depth h grows by K_b phi |v| q_s/b: phi the share of solid contact at the duty number of the moment, q_s the line load
    of solid contact, b the width of the moment. The load is q_p (by pressure, does not fall), the energizer's q_e - k_e h
    and the lip's own q_l - k_l h, which relaxes meanwhile; neither falls below nothing. Speed, temperature and viscosity are
    those that last. The march goes over depth and ends where the load counts as lost or ``h_m`` is worn; without speed or
    wear only relaxing brings the load down.

    Parameters
    ----------
    T : K
        Temperature at which the lip relaxes.
    t_0 : s
        Time under load at the start, to which q_l belongs, >= 0.
    K_b : 1/Pa
        Specific wear rate of the boundary, >= 0.
    v : m/s
        Mean sliding speed; the sense does not matter.
    motion : Motion
        Motion of the shaft.
    S : Pa
        Viscosity times angular speed as far as supplied (of a swing the greatest), >= 0; 0 in gas.
    G_0 : -
        Duty number at which half of what a film may carry is carried, > 0.
    f_0 : -
        Share that solid contact bears at the least, 0 to 1.
    q_p : N/m
        Line load by the sealed pressure, >= 0.
    q_e : N/m
        Line load of the energizer, >= 0.
    k_e : N/m²
        What it loses per depth, >= 0.
    q_l : N/m
        Line load of the lip by its interference at the start, >= 0.
    k_l : N/m²
        What it loses per depth, >= 0.
    p : Pa
        Sealed pressure, >= 0.
    b_0 : m
        Contact width when new, > 0.
    theta : -
        Slope of the loaded edge, >= 0; 0 where the lip lies on the shaft.
    V_0 : N/m
        Line load at the edge, >= 0.
    D : N·m
        Bending stiffness of the lip per width, > 0.
    c_f : -
        Cotangent of the other flank of the tip to the shaft, >= 0.
    L : m
        Length of the lip that can lie on the shaft, > 0; infinite where nothing bounds it.
    f_q : -
        Least share of the load that solid contact bears, 0 to 1.
    f_x : -
        Share of the load at the start that is left where the lip is taken as worn out, > 0 and below a half.
    h_a : m
        Depth that may wear.
    h_e : m
        Travel of the energizer that wear may use; infinite without one.
    h_m : m
        Thickness of the lip, beyond which there is nothing to wear, > 0.
    t_m : s
        Time at which the state is told, >= 0: a day of running.

    Returns
    -------
    t_h : s
        Time to the depth that may wear.
    t_e : s
        Time to the travel of the energizer.
    t_50 : s
        Time to half of the load at the start.
    t_x : s
        Time to the load that counts as lost.
    t_p : s
        Time until the load falls below half of the sealed pressure on the width.
    h_m : m
        Depth worn at the stated time, or at the end of the march if that is before.
    b_m : m
        Contact width then.
    q_m : N/m
        Line load then.
    phi_m : -
        Share of the load borne by solid contact then.

    References
    ----------
    Archard, J. Appl. Phys. 24 (1953) 981 (published; from memory), integrated by Simpson's rule over the depth, in steps
    that grow at first and are even then; checked by an adaptive integration and by the closed law in the tests.
    """
    a_T = shift_factor(T, relaxation.reference_temperature, relaxation.activation_energy)
    f_t0 = relaxed_series(relaxation.equilibrium, t_0 / a_T, relaxation)
    lip = _Lip(
        a_T, t_0, f_t0, K_b, v, motion, S, G_0, f_0, q_p, q_e, k_e, q_l, k_l, p, b_0, theta, V_0, D, c_f, L, f_q, f_x
    )  # fmt: skip
    q_0 = _load(lip, 1.0, 0.0)
    m = _slowness(lip, 1.0, 0.0)
    known = (
        T + t_0 + K_b + v + S + G_0 + f_0 + q_p + q_e + k_e + q_l + k_l + p + b_0 + theta + V_0 + D + c_f + f_q + f_x
    )
    known = known + h_m + t_m
    if not (
        isfinite(known)
        and isfinite(q_0)
        and q_0 > 0.0
        and h_m > 0.0
        and L > 0.0
        and m > 0.0
        and h_a == h_a
        and h_e == h_e
    ):
        return Life(nan, nan, nan, nan, nan, nan, nan, nan, nan)
    to_lift = 0.0 if q_0 <= 0.5 * p * b_0 else inf
    if not isfinite(m):
        if to_lift > 0.0:
            to_lift = _relaxed_at(lip, relaxation, 0.5 * p * b_0)
        to_half, to_lost = _relaxed_at(lip, relaxation, 0.5 * q_0), _relaxed_at(lip, relaxation, f_x * q_0)
        q = _load(lip, _left(lip, relaxation, t_m), 0.0)
        return Life(inf, inf, to_half, to_lost, to_lift, 0.0, b_0, q, _share(lip, q, b_0))
    to_depth = 0.0 if h_a <= 0.0 else inf
    to_travel = 0.0 if h_e <= 0.0 else inf
    to_half = to_lost = inf
    h_mark = t_mark = -1.0
    h_end = _last_depth(lip, q_0, h_m)
    h_laid = _laid_depth(lip, h_m)
    h_1 = least(greatest(_FIRST / m, 1.0e-15 * h_end), 1.0e-3 * h_end)
    even = h_end / _EVEN
    grow = exp(log(even / h_1) / (_GROWING - 1.0))
    h, t, h_grid, place, bend = 0.0, 0.0, h_1, 0, 0.0
    for _ in range(_GROWING + _EVEN + 2):
        h_next = h_grid
        for corner in range(2):  # where the load of the energizer or of the lip is gone
            gone = lip.q_e - lip.k_e * h if corner == 0 else lip.q_l - lip.k_l * h
            rate = lip.k_e if corner == 0 else lip.k_l
            if gone > 0.0 and gone < rate * (h_next - h):
                h_next = h + gone / rate
        if h < h_laid < h_next:  # where all of the lip lies on the shaft
            h_next = h_laid
        dh = h_next - h
        if dh > 0.0:
            half = 0.5 * dh
            # the way of the step before, continued, tells how far the lip has relaxed by then
            m_half = _slowness(lip, _left(lip, relaxation, t + half * (m + 0.5 * half * bend)), h + half)
            r_next = _left(lip, relaxation, t + dh * m_half)
            m_next = _slowness(lip, r_next, h_next)
            t_next = t + dh * (m + 4.0 * m_half + m_next) / 6.0
            bend = (m_next - m_half) / half
            q_next = _load(lip, r_next, h_next)
            end = 1.0
            if q_next < f_x * q_0:
                end = _part_to(lip, relaxation, h, dh, t, t_next, dh * m, dh * m_next, 0.0, f_x * q_0)
                to_lost = _between(end, t, t_next, dh * m, dh * m_next)
            if h < h_a and h_a <= h + end * dh:
                to_depth = _between((h_a - h) / dh, t, t_next, dh * m, dh * m_next)
            if h < h_e and h_e <= h + end * dh:
                to_travel = _between((h_e - h) / dh, t, t_next, dh * m, dh * m_next)
            if to_half == inf and q_next < 0.5 * q_0:
                part = _part_to(lip, relaxation, h, dh, t, t_next, dh * m, dh * m_next, 0.0, 0.5 * q_0)
                to_half = _between(part, t, t_next, dh * m, dh * m_next)
            if to_lift == inf and q_next < 0.5 * p * _width(lip, h_next):
                part = _part_to(lip, relaxation, h, dh, t, t_next, dh * m, dh * m_next, 0.5, 0.0)
                if part <= end:
                    to_lift = _between(part, t, t_next, dh * m, dh * m_next)
            if h_mark < 0.0 and t_next >= t_m:
                part = least(_part_at(t_m, t, t_next, dh * m, dh * m_next), end)
                h_mark, t_mark = h + part * dh, least(t_m, _between(end, t, t_next, dh * m, dh * m_next))
            if end < 1.0:
                h, t = h + end * dh, to_lost
                break
            h, t, m = h_next, t_next, m_next
        if h_next == h_grid:
            place += 1
            if place == _GROWING + _EVEN - 1:
                break
            h_grid = h_grid * grow if place < _GROWING - 1 else h_end - even * (_GROWING + _EVEN - 2.0 - place)
    if to_lost == inf and h_end < h_m:
        to_lost = t
    if h_mark < 0.0:
        h_mark, t_mark = h, t
    q, b = _load(lip, _left(lip, relaxation, t_mark), h_mark), _width(lip, h_mark)
    return Life(to_depth, to_travel, to_half, to_lost, to_lift, h_mark, b, q, _share(lip, q, b))


# ----------------------------------------------------------------------------------------------------------- probability


def log_spread(f_low: float, f_high: float, z: float) -> float:
    """Standard deviation of the logarithm of a factor from the range that it is known by.

    Parameters
    ----------
    f_low : -
        Low end of the range, or of its ratio to the middle, > 0.
    f_high : -
        High end, > 0.
    z : -
        Quantile of the normal distribution that the ends stand for: 1.645 where nine in ten lie between them.

    Returns
    -------
    sigma : -
        Standard deviation of the logarithm.

    References
    ----------
    Log-normal distribution; definition.
    """
    return log(f_high / f_low) / (2.0 * z)


def joined_spread(sigma_1: float, sigma_2: float) -> float:
    """Spread of a product of two factors that do not hang on one another: squares add.

    A factor that a life goes with to a power counts with its spread times that power.

    Parameters
    ----------
    sigma_1 : -
        Standard deviation of the logarithm of the one.
    sigma_2 : -
        Standard deviation of the logarithm of the other.

    Returns
    -------
    sigma : -
        Standard deviation of the logarithm of the product.

    References
    ----------
    Variances of independent quantities add.
    """
    return sqrt(sigma_1**2 + sigma_2**2)


def life_quantile(t_50: float, sigma: float, z: float) -> float:
    """Life that a stated share of seals does not reach.

    Parameters
    ----------
    t_50 : s
        Median life, >= 0.
    sigma : -
        Standard deviation of the logarithm of the life, >= 0.
    z : -
        Quantile of the normal distribution: -1.645 and 1.645 for the ends of nine in ten, -0.842 for what four in five reach.

    Returns
    -------
    t_z : s
        Life at this quantile.

    References
    ----------
    Log-normal distribution; definition. That lives of wear are so distributed is a convention (common practice).
    """
    return t_50 * exp(sigma * z)


def probability_reached(t: float, t_50: float, sigma: float) -> float:
    """Probability that a seal lives as long as a target.

    It speaks of what is known: most of the spread is that of the wear rate, the same for all seals of a kind.

    Parameters
    ----------
    t : s
        Target life, >= 0.
    t_50 : s
        Median life, > 0.
    sigma : -
        Standard deviation of the logarithm of the life, > 0.

    Returns
    -------
    P : -
        Probability that the target is reached.

    References
    ----------
    Log-normal distribution; definition.
    """
    x = log(t / t_50) / (sigma * sqrt(2.0))  # target on the scale of the spread
    return 0.5 * erfc(x)
