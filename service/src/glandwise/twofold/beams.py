r"""Cantilever V energizer: strip fingers pressed by the flat land of a lip, geometrically exact, beyond yield too.

The finger is an elastica clamped at its root at an angle to the land. The land pushes along its own normal without
friction. It touches the tip until the tip has turned parallel to it; pressed further, the finger lies down on the land
from its tip and the contact runs inward. Both branches, elastic and elastic-perfectly plastic, are tabulated once from
a solver in dimensionless form and interpolated here.
"""

from __future__ import annotations

import math
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from glandwise.twofold import numeric as num
from glandwise.twofold.grid import UniformGrid
from glandwise.twofold.numeric import Real

_TABLE = Path(__file__).parent.parent / "mechanics" / "made" / "beams.npz"

# Extent of the tables, and with it the validity of the model.
ROOT_ANGLE_LEAST = math.radians(1.0)
"""least root angle to the land [rad]"""
ROOT_ANGLE_GREATEST = math.radians(60.0)
"""greatest root angle to the land [rad]"""
COMPRESSION_GREATEST = 0.95
"""greatest share of the free height of a finger that may be taken away [-]"""

# A value on a limit stays inside after rounding; the tables hold their end values over so little.
_LEAST, _GREATEST, _MOST = ROOT_ANGLE_LEAST - 1e-12, ROOT_ANGLE_GREATEST + 1e-12, COMPRESSION_GREATEST + 1e-12

_ANGLE_AXIS = (ROOT_ANGLE_LEAST, ROOT_ANGLE_GREATEST, 60)
_ROOT_COMPRESSION_AXIS = (0.0, math.sqrt(COMPRESSION_GREATEST), 65)
_PLASTIC_ANGLE_AXIS = (ROOT_ANGLE_LEAST, ROOT_ANGLE_GREATEST, 13)
_PLASTIC_ROOT_COMPRESSION_AXIS = (0.0, math.sqrt(COMPRESSION_GREATEST), 17)
_SLACK_AXIS = (0.0, 1.0, 61)
_HEIGHT_AXIS = (0.0, 1.0, 61)


class _Tables(NamedTuple):
    tip: UniformGrid
    lay_down: UniformGrid
    plastic_tip: UniformGrid
    plastic_lay_down: UniformGrid
    least_contact: float


class FingerState(NamedTuple):
    """Dimensionless state of one finger: lengths over L, load over EI/L² per unit width."""

    load: Real
    """:math:`\\alpha = P L^2/(EI)` [-]"""
    tangent: Real
    """:math:`\\mathrm d\\alpha/\\mathrm d(\\delta/L)` on loading [-]"""
    recovery: Real
    """the same slope for a small step back; differs from ``tangent`` once the finger has yielded [-]"""
    elastic_root_curvature: Real
    """root curvature times L if the strip never yielded [-]"""
    root_moment: Real
    """root moment over the moment of first yield, at most 1.5 [-]"""
    permanent_set: Real
    """loss of free height after release, over L [-]"""
    contact: Real
    """arc length from the root to the contact, over L; 1 at the tip [-]"""
    arm: Real
    """distance from the root to the contact along the land, over L [-]"""


class CantileverV(NamedTuple):
    """Loads of a V energizer per unit circumference."""

    line_load: Real
    """load of either leg normal to the axis, over the whole circumference [N/m]"""
    leg_stiffness: Real
    """slope of the line load in the deflection of the inner leg, on loading [N/m²]"""
    gland_stiffness: Real
    """slope of the line load in the deflection of both legs together, on loading [N/m²]"""
    recovery_stiffness: Real
    """slope of the line load in the deflection of both legs together, for a small step back [N/m²]"""
    leg_deflection: Real
    """deflection of the inner leg along the normal of its land [m]"""
    root_stress: Real
    """bending stress at the root if the strip never yielded [Pa]"""
    yield_ratio: Real
    """that stress over the yield strength [-]"""
    root_moment_ratio: Real
    """root moment over the moment of first yield, 1.5 when the root is a plastic hinge [-]"""
    plastic_line_load: Real
    """line load that would make the undeflected root a plastic hinge [N/m]"""
    permanent_set: Real
    """loss of free height of the inner leg after release, along the normal of its land [m]"""
    contact_fraction: Real
    """free length from the root to the contact over the whole free length; below 1 the finger lies on the land [-]"""
    contact_distance: Real
    """distance from the root to the contact along the land [m]"""


@lru_cache(maxsize=1)
def _tables() -> _Tables:
    """Read the tables once."""
    with np.load(_TABLE, allow_pickle=False) as data:
        values = {name: data[name].astype(np.float64) for name in data.files}
    return _Tables(
        UniformGrid([_ANGLE_AXIS, _ROOT_COMPRESSION_AXIS], values["tip"], [3, 3]),
        UniformGrid([_ANGLE_AXIS], values["lay_down"], [3]),
        UniformGrid(
            [_PLASTIC_ANGLE_AXIS, _PLASTIC_ROOT_COMPRESSION_AXIS, _SLACK_AXIS], values["plastic_tip"], [3, 3, 1]
        ),
        UniformGrid([_PLASTIC_ANGLE_AXIS, _HEIGHT_AXIS], values["plastic_lay_down"], [3, 3]),
        0.99 * float(values["plastic_lay_down"][..., 2].min()),
    )


def _elastic_tip(psi: Real, chi: Real, kappa_y: Real) -> FingerState:
    """State of an elastic finger touched at its tip."""
    sine, cosine = num.sin(psi), num.cos(psi)
    factor, arm, slope = _tables().tip(psi, num.sqrt(chi))
    secant = 3.0 * factor / (cosine * cosine)  # alpha = secant * delta / L
    alpha = secant * chi * sine
    arm = arm * cosine
    tangent, curvature = secant * slope, alpha * arm
    return FingerState(alpha, tangent, tangent, curvature, curvature / kappa_y, 0.0 * chi, 1.0 + 0.0 * chi, arm)


def _elastic_lay_down(psi: Real, chi: Real, kappa_y: Real, parallel: tuple[Real, ...]) -> FingerState:
    """State of an elastic finger lying on the land; contact above 1 where it does not yet."""
    sine, cosine = num.sin(psi), num.cos(psi)
    contact = (1.0 - chi) / parallel[1]
    alpha = parallel[0] * sine / (cosine * contact) ** 2
    arm = parallel[2] * cosine * contact
    tangent, curvature = 2.0 * alpha / ((1.0 - chi) * sine), alpha * arm
    return FingerState(alpha, tangent, tangent, curvature, curvature / kappa_y, 0.0 * chi, contact, arm)


def _plastic_tip(
    psi: Real, chi: Real, kappa_y: Real, curvature: Real, elastic_curvature: Real, elastic_tangent: Real
) -> FingerState:
    """State of a yielded finger touched at its tip, given the elastic one touched at its tip."""
    slack = num.minimum(kappa_y / elastic_curvature, 1.0)
    load, moment, given, slope = _tables().plastic_tip(psi, num.sqrt(chi), slack)
    sine = num.sin(psi)
    moment = num.minimum(moment, 1.5)
    alpha = load * kappa_y / num.cos(psi)
    arm = moment * kappa_y / alpha
    tangent = slope * alpha / (chi * sine)
    return FingerState(alpha, tangent, elastic_tangent, curvature, moment, given * chi * sine, 1.0 + 0.0 * chi, arm)


def _plastic_height(psi: Real, chi: Real, kappa_y: Real, parallel: tuple[Real, ...]) -> tuple[Real, Real]:
    """Arc length at first yield and square root of the height over that at first yield, of a finger lying down."""
    sine = num.sin(psi)
    first = num.sqrt(2.0 * parallel[0]) * sine / num.cos(psi)
    return first, num.sqrt((1.0 - chi) * kappa_y / (parallel[1] * first))


def _plastic_lay_down(psi: Real, chi: Real, kappa_y: Real, curvature: Real, parallel: tuple[Real, ...]) -> FingerState:
    """State of a yielded finger lying on the land; contact above 1, or ``nan``, where this branch does not apply."""
    sine = num.sin(psi)
    first, u = _plastic_height(psi, chi, kappa_y, parallel)
    u = num.where(u <= 1.0, u, num.nan)
    scaled, moment, contact, released, angle, slope = _tables().plastic_lay_down(psi, u)
    moment = num.minimum(moment, 1.5)
    alpha = scaled * kappa_y**2 / (2.0 * sine * u)
    contact = contact * first * u / kappa_y
    remaining = released * (1.0 - chi) * sine + (1.0 - contact) * num.sin(angle * psi * u)
    tangent, arm = slope * alpha / ((1.0 - chi) * sine), moment * kappa_y / alpha
    # Stepping back is elastic: as an elastic finger that lies down to the same contact.
    recovery = 2.0 * parallel[0] / (num.cos(psi) ** 2 * parallel[1] * contact**3)
    return FingerState(alpha, tangent, recovery, curvature, moment, sine - remaining, contact, arm)


def finger(root_angle: Real, deflection: Real, yield_curvature: Real) -> FingerState:
    r"""Dimensionless state of a straight strip finger pressed by a frictionless flat.

    .. math::
        \theta'' = \alpha\cos\theta, \quad \theta(0) = \psi, \quad \theta'(c) = 0, \quad
        \int_0^c \sin\theta\,\mathrm ds = \sin\psi - \frac{\delta}{L}, \qquad
        c = L \ \text{while}\ \theta(L) > 0, \ \text{else}\ \theta(c) = 0

    Parameters
    ----------
    root_angle
        :math:`\psi`, angle between the root of the finger and the flat, float or array, 1 to 60 degrees [rad]
    deflection
        :math:`\delta/L`, travel of the flat along its normal from first touch, float or array, up to
        :math:`0.95\sin\psi` [-]
    yield_curvature
        :math:`\kappa_y L = 2\sigma_y L/(E t)`, float or array, above 0; ``inf`` for a finger that never yields [-]

    Returns
    -------
    FingerState
        load [-], tangent [-], recovery [-], elastic root curvature [-], root moment [-], permanent set [-], contact [-], arm [-]; all
        ``nan`` outside the ranges above, load and set zero where the deflection is zero or less (no contact)

    Notes
    -----
    Interpolated in tables: within 1e-6 of the solver while elastic; beyond yield within 3e-4 in load and, for the set,
    3e-4 of the deflection. A yielded finger that lies down sheds moment near its contact, which the solver ignores: its
    load is then low by up to 3 %. Three things are real and not faults of the table: the elastic tangent steps up where the
    finger begins to lie down (fourfold for small angles, from 3EI/L³ to 12EI/c³); once the root is a hinge the load
    falls a little with deflection while the contact stays at the tip, because the arm grows; and the hinge comes with a
    kink in the tangent, over which the table blends. The recovery slope is that of an elastic finger with the same
    contact, within 6 % of the step back of the yielded shape itself in the cases compared.

    References
    ----------
    Bisshopp, K. E. and Drucker, D. C. (1945), Quarterly of Applied Mathematics 3, 272-275 (published), extended here to
    a root angle, an inward-running contact and an elastic-perfectly plastic section (derived).
    """
    if num.is_array(root_angle, deflection, yield_curvature):
        arguments = [np.asarray(x, dtype=np.float64) for x in (root_angle, deflection, yield_curvature)]
        return _finger_array(*np.broadcast_arrays(*arguments))
    if not (_LEAST <= root_angle <= _GREATEST and yield_curvature > 0.0):
        return _NOTHING
    chi = deflection / math.sin(root_angle)
    if not chi <= _MOST:
        return _NOTHING
    if chi <= 0.0:
        state = _elastic_tip(root_angle, 0.0, yield_curvature)
        return state if chi == 0.0 else state._replace(tangent=0.0, recovery=0.0)
    parallel = _tables().lay_down(root_angle)
    state = _elastic_lay_down(root_angle, chi, yield_curvature, parallel)
    at_tip = None
    if state.contact > 1.0:
        state = at_tip = _elastic_tip(root_angle, chi, yield_curvature)
    if state.root_moment <= 1.0:
        return state
    first, u = _plastic_height(root_angle, chi, yield_curvature, parallel)
    if u <= 1.0 and _tables().least_contact * first * u <= yield_curvature:
        laid = _plastic_lay_down(root_angle, chi, yield_curvature, state.elastic_root_curvature, parallel)
        if laid.contact <= 1.0:
            return laid
    at_tip = at_tip or _elastic_tip(root_angle, chi, yield_curvature)
    return _plastic_tip(
        root_angle, chi, yield_curvature, state.elastic_root_curvature, at_tip.elastic_root_curvature, at_tip.tangent
    )


_NOTHING = FingerState(*(num.nan,) * 8)


def _finger_array(psi: Any, deflection: Any, kappa_y: Any) -> FingerState:
    """Array path of ``finger``: the same branches, each evaluated where it is wanted."""
    with np.errstate(all="ignore"):
        valid = (psi >= _LEAST) & (psi <= _GREATEST) & (kappa_y > 0.0)
        psi = np.where(valid, psi, ROOT_ANGLE_LEAST)
        chi = deflection / np.sin(psi)
        valid &= chi <= _MOST
        chi = np.where(valid, np.maximum(chi, 0.0), 0.0)
        parallel = _tables().lay_down(psi)
        lay = _elastic_lay_down(psi, chi, kappa_y, parallel)
        tip = _elastic_tip(psi, chi, kappa_y)
        result = [np.asarray(np.where(lay.contact <= 1.0, a, b)) for a, b in zip(lay, tip, strict=True)]
        result[1][deflection < 0.0] = result[2][deflection < 0.0] = 0.0
        yields = valid & (result[4] > 1.0)
        if yields.any():
            args = psi[yields], chi[yields], kappa_y[yields], result[3][yields]
            laid = _plastic_lay_down(*args, tuple(column[yields] for column in parallel))
            at_tip = _plastic_tip(*args, tip.elastic_root_curvature[yields], tip.tangent[yields])
            flat = laid.contact <= 1.0
            for column, a, b in zip(result, laid, at_tip, strict=True):
                column[yields] = np.where(flat, a, b)
        for column in result:
            column[~valid] = np.nan
    return FingerState(*result)


def anticlastic_blend(width: Real, thickness: Real, bending_radius: Real, poisson_ratio: Real) -> Real:
    r"""Share of the plate stiffening :math:`1/(1-\nu^2)` that a bent strip of finite width has.

    .. math::
        \frac{E'}{E} = \frac{1 - \nu^2 f}{1-\nu^2}, \quad
        f = \frac{3}{2\beta}\,\frac{\cosh\beta - \cos\beta}{\sinh\beta + \sin\beta}
        + \frac{\sinh\beta\,\sin\beta}{(\sinh\beta + \sin\beta)^2}, \quad
        \beta = b\,\Bigl[\frac{3(1-\nu^2)}{R^2 t^2}\Bigr]^{1/4}, \qquad \text{blend} = 1 - f

    Parameters
    ----------
    width
        width b of the strip, float or array, above 0 [m]
    thickness
        thickness t, float or array, above 0 [m]
    bending_radius
        radius R to which the strip is bent, float or array, above 0, ``inf`` for a straight one [m]
    poisson_ratio
        float or array, 0 to 0.5 [-]

    Returns
    -------
    float or array
        0 (beam: narrow or hardly bent) to 1 (plate: wide and sharply bent) [-]

    Notes
    -----
    A finger bends most at its root and not at all at its contact, so one radius is an average; free side edges, linear
    elastic strip, flat across when free.

    References
    ----------
    Ashwell, D. G. (1950), The anticlastic curvature of rectangular beams and plates, Journal of the Royal Aeronautical
    Society 54, 708-715 (published, from memory; the form is derived here from the strip's differential equation).
    """
    beta = width * num.sqrt(num.sqrt(3.0 * (1.0 - poisson_ratio**2)) / (bending_radius * thickness))
    held = num.clip(beta, 1e-3, 100.0)
    total = num.sinh(held) + num.sin(held)
    f = 1.5 / held * (num.cosh(held) - num.cos(held)) / total + num.sinh(held) * num.sin(held) / total**2
    return 1.0 - num.where(beta < 1e-3, 1.0, num.where(beta > 100.0, num.divide(1.5, beta), f))


def bending_modulus(modulus: Real, poisson_ratio: Real, plate_blend: Real) -> Real:
    r"""Modulus that bends a strip, between beam and plate.

    .. math:: E' = E\,\Bigl[1 + \phi\,\Bigl(\frac{1}{1-\nu^2} - 1\Bigr)\Bigr]

    Parameters
    ----------
    modulus
        Young's modulus E, float or array, above 0 [Pa]
    poisson_ratio
        float or array, 0 to 0.5 [-]
    plate_blend
        :math:`\phi`, 0 for a narrow strip to 1 for one whose anticlastic bending is suppressed, float or array [-]

    Returns
    -------
    float or array
        E' [Pa]

    References
    ----------
    Timoshenko, S. and Woinowsky-Krieger, S. (1959), Theory of Plates and Shells, 2nd ed., ch. 1 (published, from
    memory).
    """
    squared = poisson_ratio * poisson_ratio
    return modulus * (1.0 + plate_blend * squared / (1.0 - squared))


def cantilever_v(
    gland_deflection: Real,
    thickness: Real,
    length: Real,
    root_angle: Real,
    coverage: Real,
    modulus: Real,
    yield_strength: Real,
    poisson_ratio: Real = 0.0,
    plate_blend: Real = 0.0,
    stiffness_ratio: Real = 1.0,
    land_angle: Real = 0.0,
) -> CantileverV:
    r"""Load of a V energizer whose two legs share the deflection of the gland.

    .. math::
        \delta = \frac{\rho}{1+\rho}\,\Delta, \qquad
        q = c\,\cos\beta\;\frac{E' t^3}{12 L^2}\;\alpha\!\left(\psi - \beta, \frac{\delta}{L}, \kappa_y L\right), \qquad
        \kappa_y = \frac{2\sigma_y}{E' t}

    Parameters
    ----------
    gland_deflection
        :math:`\Delta`, free height over the legs less the height they are held at, both taken where the finger tips
        touch, float or array, :math:`\le 0` without contact [m]
    thickness
        strip thickness t, float or array, above 0 [m]
    length
        free length L of a finger from its root, float or array, above 0 [m]
    root_angle
        angle :math:`\psi` of the root of a leg to the seal axis, half the angle of the V if symmetric, float or array
        [rad]
    coverage
        share c of the circumference taken up by fingers, float or array, above 0 to 1 [-]
    modulus
        Young's modulus of the strip at its temperature, float or array, above 0 [Pa]
    yield_strength
        yield strength at its temperature, float or array, above 0, ``inf`` to leave yielding out [Pa]
    poisson_ratio
        float or array, 0 to 0.5; matters only with ``plate_blend`` [-]
    plate_blend
        share of the plate stiffening, see ``anticlastic_blend``, float or array, 0 to 1 [-]
    stiffness_ratio
        :math:`\rho`, stiffness of the outer leg over that of the inner one, float or array, above 0, ``inf`` if the
        outer leg is rigid [-]
    land_angle
        inclination :math:`\beta` of the lip land to the seal axis in the installed state, positive as the leg opens,
        float or array; :math:`\psi - \beta` from 1 to 60 degrees [rad]

    Returns
    -------
    CantileverV
        line load [N/m], leg, gland and recovery stiffness [N/m²], leg deflection [m], root stress [Pa], yield ratio
        [-], root moment ratio [-], plastic line load [N/m], permanent set [m], contact fraction [-], contact distance
        [m]; ``nan`` beyond the range of ``finger``

    Notes
    -----
    The legs are in series: equal force, so the given ratio shares out the deflection (exact for equal legs, first-order
    for unequal ones). Fingers are straight, of uniform width and flat across; the curvature of the ring, the rounding
    at the root and friction on the land are left out, and the load of separate fingers is averaged over the
    circumference. Strip thickness enters cubed, length to the inverse third power. Yielding uses the uniaxial strength
    also for wide fingers, which understates their strength by up to 15 %. A preset spring (once pressed further than
    this) is not this case: it follows its own unloading line. Past yield a shaft that runs out meets
    ``recovery_stiffness``, not ``gland_stiffness``, which is small there or negative.

    References
    ----------
    See ``finger``.
    """
    bending = bending_modulus(modulus, poisson_ratio, plate_blend)
    share = 1.0 / (1.0 + num.divide(1.0, stiffness_ratio))
    deflection = share * gland_deflection
    kappa_y = 2.0 * yield_strength * length / (bending * thickness)
    angle = root_angle - land_angle
    state = finger(angle, deflection / length, kappa_y)
    cosine = num.cos(land_angle)
    rigidity = bending * thickness * thickness * thickness / 12.0
    scale = coverage * cosine * rigidity / (length * length)
    load = scale * state.load
    leg_stiffness = scale * state.tangent / length
    permanent_set = state.permanent_set * length
    moment = yield_strength * thickness * thickness / 4.0  # plastic moment per width, 1.5 times that of first yield
    stress = bending * thickness * state.elastic_root_curvature / (2.0 * length)
    return CantileverV(
        load,
        leg_stiffness,
        leg_stiffness * share,
        scale * state.recovery / length * share,
        deflection,
        stress,
        stress / yield_strength,
        state.root_moment,
        coverage * cosine * moment / (length * num.cos(angle)),
        permanent_set,
        state.contact,
        state.arm * length,
    )
