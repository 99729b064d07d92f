r"""Exact plane elastica of a straight strip clamped at its root: the solutions from which fingers are tabulated.

Everything here is dimensionless: lengths in units of the free length :math:`L`, load
:math:`\alpha = P L^2/(EI)`, curvature in units of :math:`1/L`. The strip leaves its root at an angle :math:`\psi` to
the contacted flat and is pressed along the normal of that flat. SciPy is imported where it is used; nothing here is
meant for the path of a request.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Real: TypeAlias = float | Array
"""A float or an array."""


class DeadLoad(NamedTuple):
    """Shape of an end-loaded cantilever, straight and transverse to the load when free."""

    tip_slope: Real
    """rotation of the tip [rad]"""
    deflection: Real
    """travel of the tip along the load, over the length [-]"""
    shortening: Real
    """travel of the tip towards the root, over the length [-]"""


class TipContact(NamedTuple):
    """State of an elastic strip touched at its tip."""

    load: Real
    """:math:`P L^2/(EI)` [-]"""
    height: Real
    """distance of the tip from the root along the load, over the length [-]"""
    arm: Real
    """distance of the tip from the root across the load, over the length [-]"""


class ElasticPlastic(NamedTuple):
    """State of an elastic-perfectly plastic strip of rectangular section, loaded monotonically."""

    length: Array
    """arc length from the root to the contact [-]"""
    height: Array
    """distance of the contact from the root along the load [-]"""
    root_moment: Array
    """root moment over the moment of first yield, at most 1.5 [-]"""
    released_height: Array
    """height of the same arc once the load is taken off [-]"""
    released_angle: Array
    """angle to the flat, at the contact, once the load is taken off [rad]"""


def _arc(tip_angle: Real, gap: Real, sine: Real) -> tuple[Real, Real]:
    """Return ``K - F`` and ``E - E(phi)`` of an arc with sin(root) = ``sine`` and sin(root) - sin(tip) = ``gap``."""
    from scipy.special import ellipeinc, ellipkinc

    m = 0.5 * (1.0 - np.sin(tip_angle))
    # K - F(phi) = F(phi_c) and E - E(phi) = E(phi_c) - m sin(phi) sin(phi_c): no loss of digits for a short arc.
    cotangent = np.sqrt(gap / (1.0 - sine))
    complement = np.arctan(cotangent / np.sqrt(1.0 - m))
    sine_phi = 1.0 / np.sqrt(1.0 + cotangent**2)
    return ellipkinc(complement, m), ellipeinc(complement, m) - m * sine_phi * np.sin(complement)


def _gap(root_angle: Real, rotation: Real) -> Real:
    """Difference of the sines of root and tip angle, without cancellation."""
    return 2.0 * np.cos(root_angle - 0.5 * rotation) * np.sin(0.5 * rotation)


def tip_contact(root_angle: Real, rotation: Real) -> TipContact:
    r"""Elastic strip touched at its tip, by elliptic integrals, from the rotation of the tip.

    .. math::
        \sqrt\alpha = K(m) - F(\varphi_0|m), \quad
        \eta = \frac{2}{\sqrt\alpha}\,[E(m) - E(\varphi_0|m)] - 1, \quad
        \xi = \sqrt{\frac{2(\sin\psi - \sin\theta_t)}{\alpha}}

    with :math:`\theta_t = \psi - \vartheta`, :math:`m = (1-\sin\theta_t)/2` and
    :math:`\sin^2\varphi_0 = (1-\sin\psi)/(1-\sin\theta_t)`.

    Parameters
    ----------
    root_angle
        angle :math:`\psi` of the root to the plane normal to the load, float or array, 0 to below pi/2 [rad]
    rotation
        rotation :math:`\vartheta` of the tip towards that plane and beyond, float or array, above 0 and below
        :math:`\psi + \pi/2` [rad]

    Returns
    -------
    TipContact
        load [-], height [-] and arm [-]

    Notes
    -----
    Inextensible, no shear, load of constant direction. A tip angle below zero is a strip pushed past parallel by a
    point at its tip; a flat would by then touch it further in.

    References
    ----------
    Bisshopp, K. E. and Drucker, D. C. (1945), Large deflection of cantilever beams, Quarterly of Applied Mathematics 3,
    272-275 (published; root angle zero). The root angle is carried through the same integrals here.
    """
    k, e = _arc(root_angle - rotation, _gap(root_angle, rotation), np.sin(root_angle))
    return TipContact(k**2, 2.0 * e / k - 1.0, np.sqrt(2.0 * _gap(root_angle, rotation)) / k)


def dead_load(load: Real) -> DeadLoad:
    r"""Large deflection of a cantilever under a transverse dead load at its end.

    .. math::
        \theta'' = -\alpha\cos\theta, \quad \theta(0) = 0, \quad \theta'(1) = 0, \quad \alpha = \frac{P L^2}{EI}

    Parameters
    ----------
    load
        :math:`\alpha`, float or array, 0 to 50 [-]

    Returns
    -------
    DeadLoad
        tip slope [rad], deflection over length [-], shortening over length [-]; ``nan`` outside the range of ``load``

    Notes
    -----
    Solved for the tip slope to rounding error, not interpolated: tens of microseconds for an array element, not for the
    path of a request. Below :math:`\alpha = 10^{-4}` the leading terms :math:`\alpha/2`, :math:`\alpha/3`,
    :math:`\alpha^2/15` serve; they are right to :math:`\alpha^2`.

    References
    ----------
    Bisshopp, K. E. and Drucker, D. C. (1945), Quarterly of Applied Mathematics 3, 272-275 (published).
    """
    from scipy.optimize import elementwise

    alpha = np.asarray(load, dtype=np.float64)
    inside = np.where((alpha > 1e-4) & (alpha <= 50.0), alpha, 1.0)

    def residual(rotation: Array, target: Array) -> Array:
        result: Array = tip_contact(0.0, rotation).load / target - 1.0
        return result

    bracket = (np.full_like(inside, 1e-6), np.full_like(inside, 0.5 * np.pi - 1e-6))
    slope = elementwise.find_root(residual, bracket, args=(inside,)).x
    state = tip_contact(0.0, slope)
    small, outside = alpha <= 1e-4, ~((alpha >= 0.0) & (alpha <= 50.0))
    columns = [
        np.where(outside, np.nan, np.where(small, leading, exact))
        for leading, exact in ((alpha / 2, slope), (alpha / 3, -state.height), (alpha**2 / 15, 1.0 - state.arm))
    ]
    return DeadLoad(*columns) if isinstance(load, np.ndarray) else DeadLoad(*(float(column) for column in columns))


_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)


def _integral(function: Callable[[Array], Array], low: Array, high: Array) -> Array:
    """Gauss-Legendre integral of ``function`` over ``low..high``, elementwise."""
    half = 0.5 * (high - low)
    points = low[..., None] + half[..., None] * (_NODES + 1.0)
    return half * (function(points) * _WEIGHTS).sum(axis=-1)


def elastic_plastic(root_angle: Array, rotation: Array, load: Array, yield_curvature: Real) -> ElasticPlastic:
    r"""Elastic-perfectly plastic strip under a given load whose contact has turned by a given angle.

    .. math::
        \frac{M}{M_y} = \begin{cases} \kappa/\kappa_y \\ \tfrac32 - \tfrac12 (\kappa_y/\kappa)^2 \end{cases} \qquad
        \int_0^M \kappa\,\mathrm dM = P\,(\sin\theta - \sin\theta_t), \qquad s = \int \frac{\mathrm d\theta}{\kappa}

    The first integral gives the moment at each angle in closed form. The outer, elastic part of the arc follows from
    elliptic integrals; in the plastic part :math:`\kappa_y/\kappa = r(\theta)` is linear in :math:`\sin\theta` and the
    arc is integrated by quadrature. Where :math:`r` reaches zero the root is a hinge, which takes the rest of the turn.
    Unloading is elastic (the section would yield in reverse only beyond :math:`2 M_y`).

    Parameters
    ----------
    root_angle
        angle :math:`\psi` of the root to the flat, array, 0 to below pi/2 [rad]
    rotation
        turn :math:`\vartheta` of the contact, array, above 0 and below :math:`\psi + \pi/2` [rad]
    load
        :math:`\alpha = P L^2/(EI)`, array, above 0 [-]
    yield_curvature
        :math:`\kappa_y L`, array, above 0 [-]

    Returns
    -------
    ElasticPlastic
        length [-], height [-], root moment over yield moment [-], released height [-] and released angle [rad]

    Notes
    -----
    Deformation theory: each section is taken to be loaded monotonically. That holds while the contact stays at the tip;
    once it runs inward, sections near the end of the plastic zone shed a little moment, which is ignored: against a path
    dependent chain of layers the load is then low by up to 3 %.

    References
    ----------
    Section law: Prager, W. and Hodge, P. G. (1951), Theory of Perfectly Plastic Solids, Wiley (published, from memory).
    The combination with the elastica is derived here; small deflections recover their cantilever.
    """
    psi, turn, alpha, kappa_y = np.broadcast_arrays(root_angle, rotation, load, yield_curvature)
    tip = psi - turn
    gap, sine_tip = _gap(psi, turn), np.sin(psi - turn)
    unit = kappa_y**2 / alpha
    gap_yield, gap_hinge = np.minimum(gap, 0.5 * unit), np.minimum(gap, 1.5 * unit)
    angle_yield = np.where(gap_yield < gap, np.arcsin(np.clip(sine_tip + gap_yield, -1.0, 1.0)), psi)
    angle_hinge = np.where(gap_hinge < gap, np.arcsin(np.clip(sine_tip + gap_hinge, -1.0, 1.0)), psi)
    k, e = _arc(tip, gap_yield, np.sin(angle_yield))
    root = np.sqrt(alpha)
    elastic_length, elastic_height = k / root, (2.0 * e - k) / root

    def slack(angle: Array) -> Array:  # r = kappa_y / kappa, 1 where the plastic zone ends, 0 in a hinge
        low = angle_yield.reshape(angle_yield.shape + (1,) * (angle.ndim - angle_yield.ndim))
        scale = unit.reshape(low.shape)
        return np.clip(1.0 - 2.0 * np.cos(0.5 * (angle + low)) * np.sin(0.5 * (angle - low)) / scale, 0.0, 1.0)

    def released(angle: Array) -> Array:  # residual angle of the sections between ``angle`` and the root
        high = angle_hinge.reshape(angle_hinge.shape + (1,) * (angle.ndim - angle_hinge.ndim))
        high = np.broadcast_to(high, angle.shape)
        return high - _integral(lambda x: 1.0 - 0.5 * slack(x) * (3.0 - slack(x) ** 2), angle, high)

    plastic_length = _integral(slack, angle_yield, angle_hinge) / kappa_y
    plastic_height = _integral(lambda x: slack(x) * np.sin(x), angle_yield, angle_hinge) / kappa_y
    end = released(angle_yield)
    r_root = slack(angle_hinge)
    moment = np.where(gap_yield < gap, 0.5 * (3.0 - r_root**2), np.sqrt(2.0 * alpha * gap) / kappa_y)
    return ElasticPlastic(
        elastic_length + plastic_length,
        elastic_height + plastic_height,
        moment,
        elastic_length * np.sin(end)
        + _integral(lambda x: slack(x) * np.sin(released(x)), angle_yield, angle_hinge) / kappa_y,
        end,
    )


def solve_elastic_tip(root_angle: Array, compression: Array) -> tuple[Array, TipContact]:
    r"""Rotation and state of an elastic strip whose tip is held at a given height.

    .. math:: \eta(\psi, \vartheta) = (1 - \chi)\sin\psi

    Parameters
    ----------
    root_angle
        :math:`\psi`, array, above 0 and below pi/2 [rad]
    compression
        share :math:`\chi` of the free height taken away, array, above 0 and at most 1 [-]

    Returns
    -------
    tuple
        rotation of the tip [rad] and the ``TipContact`` state

    Notes
    -----
    Solved to rounding error by bracketing; used to build tables and in tests.
    """
    from scipy.optimize import elementwise

    psi, chi = np.broadcast_arrays(root_angle, compression)

    def residual(rotation: Array, psi: Array, chi: Array) -> Array:
        result: Array = tip_contact(psi, rotation).height / np.sin(psi) - (1.0 - chi)
        return result

    rigid = psi - np.arcsin((1.0 - chi) * np.sin(psi))
    upper = np.minimum(3.0 * rigid, psi + 0.5 * np.pi - 1e-6)
    rotation = elementwise.find_root(residual, (rigid, upper), args=(psi, chi)).x
    return rotation, tip_contact(psi, rotation)


def solve_lay_down(root_angle: Array) -> TipContact:
    r"""State of an elastic strip whose tip has just come parallel to the flat, :math:`\vartheta = \psi`.

    .. math:: \alpha^*, \eta^*, \xi^* = \alpha, \eta, \xi\,(\psi, \vartheta = \psi)

    Parameters
    ----------
    root_angle
        :math:`\psi`, array, above 0 and below pi/2 [rad]

    Returns
    -------
    TipContact
        load [-], height [-] and arm [-]

    Notes
    -----
    Pressed further the strip lies down from its tip: the free end beyond the contact carries no load and so stays
    straight, along the flat, and the part within stays similar to this state with its own length :math:`c < L`.
    """
    return tip_contact(root_angle, root_angle)


def solve_plastic_tip(
    root_angle: Array, compression: Array, yield_curvature: Array
) -> tuple[Array, Array, ElasticPlastic]:
    r"""Load, rotation and state of an elastic-plastic strip whose tip is held at a given height.

    .. math:: s(\vartheta, \alpha) = 1, \qquad \eta(\vartheta, \alpha) = (1-\chi)\sin\psi

    Parameters
    ----------
    root_angle
        :math:`\psi`, array, above 0 and below pi/2 [rad]
    compression
        :math:`\chi`, array, above 0 and below 1 [-]
    yield_curvature
        :math:`\kappa_y L`, array, above 0 [-]

    Returns
    -------
    tuple
        load :math:`\alpha` [-], rotation of the tip [rad], ``ElasticPlastic`` state

    Notes
    -----
    Nested bracketing: the load that gives unit length for a rotation, the rotation that gives the height.
    """
    from scipy.optimize import elementwise

    psi, chi, kappa_y = np.broadcast_arrays(root_angle, compression, yield_curvature)

    def load_for(rotation: Array, psi: Array, kappa_y: Array) -> Array:
        upper = tip_contact(psi, rotation).load
        lower = np.minimum(0.5 * kappa_y**2 / _gap(psi, rotation), upper)

        def residual(log_load: Array, psi: Array, rotation: Array, kappa_y: Array) -> Array:
            result: Array = elastic_plastic(psi, rotation, np.exp(log_load), kappa_y).length - 1.0
            return result

        bracket = (np.log(lower) - 1e-9, np.log(upper) + 1e-9)
        found = elementwise.find_root(residual, bracket, args=(psi, rotation, kappa_y))
        result: Array = np.exp(found.x)
        return result

    def outer(rotation: Array, psi: Array, chi: Array, kappa_y: Array) -> Array:
        load = load_for(rotation, psi, kappa_y)
        result: Array = elastic_plastic(psi, rotation, load, kappa_y).height / np.sin(psi) - (1.0 - chi)
        return result

    rigid = psi - np.arcsin((1.0 - chi) * np.sin(psi))
    elastic, _ = solve_elastic_tip(psi, chi)
    # wider than the rounding of the height, which is 1e-9 of the least compression that is tabulated
    bracket = (rigid * (1.0 - 1e-9), elastic * (1.0 + 1e-6))
    rotation = elementwise.find_root(outer, bracket, args=(psi, chi, kappa_y)).x
    load = load_for(rotation, psi, kappa_y)
    return load, rotation, elastic_plastic(psi, rotation, load, kappa_y)


def solve_plastic_lay_down(root_angle: Array, height: Array) -> tuple[Array, ElasticPlastic]:
    r"""Load and state of an elastic-plastic strip that lies on the flat beyond its contact.

    .. math:: \vartheta = \psi, \qquad \eta(\lambda) = y\,\kappa_y, \qquad \lambda = \frac{P}{EI\,\kappa_y^2}

    Parameters
    ----------
    root_angle
        :math:`\psi`, array, above 0 and below pi/2 [rad]
    height
        distance of the flat from the root times the yield curvature, array, above 0 [-]

    Returns
    -------
    tuple
        load :math:`\lambda` [-] and the ``ElasticPlastic`` state in units of :math:`1/\kappa_y`

    Notes
    -----
    The free length does not enter: the part that lies on the flat is unloaded.
    """
    from scipy.optimize import elementwise

    psi, target = np.broadcast_arrays(root_angle, height)

    def residual(log_load: Array, psi: Array, target: Array) -> Array:
        result: Array = np.log(elastic_plastic(psi, psi, np.exp(log_load), 1.0).height / target)
        return result

    upper = np.log(2.0 * (solve_lay_down(psi).load * solve_lay_down(psi).height ** 2) / target**2)
    found = elementwise.find_root(residual, (np.full_like(target, -9.0), upper), args=(psi, target))
    load = np.exp(found.x)
    return load, elastic_plastic(psi, psi, load, 1.0)
