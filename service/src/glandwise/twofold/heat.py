"""Frictional heat: the paths it leaves by and the temperature it leaves behind.

Absolute temperatures in kelvin, rotational speed in turns per second. A heat path is a conductance to a temperature;
paths join like electrical sources (Thévenin), so a hot fluid on one side and cool air on the other need no mean.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import numpy as np

from glandwise.twofold import numeric as num
from glandwise.twofold.grid import UniformGrid

STANDARD_GRAVITY = 9.80665
"""Standard acceleration of free fall (3rd CGPM, 1901; exact by definition). [m/s²]"""

_TABLE = Path(__file__).parent.parent / "mechanics" / "made" / "heat.json"


class HeatPath(NamedTuple):
    """A way for heat to leave."""

    conductance: num.Real
    """Heat per kelvin [W/K]"""
    temperature: num.Real
    """Temperature at the far end [K]"""


class Fluid(NamedTuple):
    """Transport properties of a fluid at its film temperature."""

    conductivity: num.Real
    """Thermal conductivity [W/(m·K)]"""
    viscosity: num.Real
    """Kinematic viscosity [m²/s]"""
    prandtl: num.Real
    """Prandtl number [-]"""
    expansion: num.Real
    """Volume expansion coefficient [1/K]"""


class Film(NamedTuple):
    """Heat transfer coefficient of a shaft surface and how it came about."""

    film: num.Real
    """Heat transfer coefficient [W/(m²·K)]"""
    nusselt: num.Real
    """Nusselt number on the diameter [-]"""
    reynolds: num.Real
    """Reynolds number of the surface speed on the diameter [-]"""
    grashof: num.Real
    """Grashof number on the diameter [-]"""
    in_range: num.Real
    """Whether the correlation is used within its range [bool]"""


class Correlation(NamedTuple):
    """What a rotating-cylinder correlation is and where it holds."""

    source: str
    """Author and year [text]"""
    reynolds_low: float
    """Lower end of the range, 0 if none is stated [-]"""
    reynolds_high: float
    """Upper end of the range, inf if none is stated [-]"""
    buoyancy: bool
    """Whether natural convection is a term of it [bool]"""


class FlashBand(NamedTuple):
    """Temperature rise under a heated band that moves over a half space."""

    peclet: num.Real
    """Half-width times speed over twice the diffusivity [-]"""
    maximum: num.Real
    """Greatest rise [K]"""
    mean: num.Real
    """Mean rise over the band [K]"""
    peak_position: num.Real
    """Place of the greatest rise over the half-width; -1 is the trailing edge [-]"""


class FlashCircle(NamedTuple):
    """Mean temperature rise of a circular spot that moves over a half space."""

    peclet: num.Real
    """Radius times speed over twice the diffusivity [-]"""
    mean: num.Real
    """Mean rise; nan between the two limiting regimes [K]"""
    bound: num.Real
    """Smaller of both limits, which neither regime exceeds [K]"""


class FixedPoint(NamedTuple):
    """Outcome of an iteration to ``x = f(x)``."""

    value: num.Real
    """Last iterate, within the bounds [as the start]"""
    residual: num.Real
    """``f(x) - x`` there [as the start]"""
    iterations: num.Real
    """Evaluations of ``f`` [int]"""
    converged: num.Real
    """Whether the residual is within the tolerance [bool]"""


# --------------------------------------------------------------------------------------------------------- conduction


def fin_parameter(diameter: num.Real, conductivity: num.Real, film: num.Real) -> num.Real:
    r"""Decay constant of the temperature along a shaft.

    .. math:: m = \sqrt{\frac{4 h}{k d}}

    Parameters
    ----------
    diameter : float or array
        Shaft diameter :math:`d`, > 0. [m]
    conductivity : float or array
        Thermal conductivity of the shaft :math:`k`, > 0. [W/(m·K)]
    film : float or array
        Heat transfer coefficient :math:`h` of the surface, > 0. [W/(m²·K)]

    Returns
    -------
    float or array
        :math:`m`. [1/m]

    Notes
    -----
    One-dimensional fin: Biot number :math:`h d/4k` below about 0.1.

    References
    ----------
    Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, chapter 3 (published; form from memory, checked
    against a numerical boundary-value problem in the tests).
    """
    return num.sqrt(4.0 * film / (conductivity * diameter))


def long_shaft_length(diameter: num.Real, conductivity: num.Real, film: num.Real, share: num.Real) -> num.Real:
    r"""Length beyond which a shaft with an insulated end counts as endless.

    .. math:: L = \frac{\operatorname{artanh} s}{m}

    Parameters
    ----------
    diameter : float or array
        Shaft diameter :math:`d`, > 0. [m]
    conductivity : float or array
        Thermal conductivity of the shaft :math:`k`, > 0. [W/(m·K)]
    film : float or array
        Heat transfer coefficient :math:`h` of the surface, > 0. [W/(m²·K)]
    share : float or array
        Conductance wanted over that of an endless shaft :math:`s`, 0..1, as 0.99. [-]

    Returns
    -------
    float or array
        :math:`L`; ``nan`` for a share above 1. [m]

    Notes
    -----
    As `fin_conductance`.

    References
    ----------
    Incropera and DeWitt, chapter 3, example of long rods, with :math:`mL = 2.65` for 99 % (published; from memory).
    """
    ratio = num.divide(1.0 + share, 1.0 - share)
    return 0.5 * num.log(ratio) / fin_parameter(diameter, conductivity, film)


def fin_conductance(
    diameter: num.Real,
    conductivity: num.Real,
    film: num.Real,
    length: num.Real = num.inf,
    end_film: num.Real = 0.0,
) -> num.Real:
    r"""Conductance of one side of a solid shaft from the contact to the surrounding fluid.

    .. math:: G = \sqrt{h \pi d\,k A}\;
              \frac{\sinh mL + H \cosh mL}{\cosh mL + H \sinh mL}, \qquad
              H = \frac{h_e}{m k}, \qquad A = \frac{\pi d^2}{4}

    Parameters
    ----------
    diameter : float or array
        Shaft diameter :math:`d`, > 0. [m]
    conductivity : float or array
        Thermal conductivity of the shaft :math:`k`, > 0. [W/(m·K)]
    film : float or array
        Heat transfer coefficient :math:`h` of the surface, > 0. [W/(m²·K)]
    length : float or array
        Length :math:`L` of this side, > 0; infinite by default. [m]
    end_film : float or array
        Heat transfer coefficient :math:`h_e` of the end face: 0 for an insulated end, ``film`` for a free end,
        infinite for an end held at the fluid temperature. [W/(m²·K)]

    Returns
    -------
    float or array
        Conductance :math:`G` of this side. [W/K]

    Notes
    -----
    One-dimensional, constant properties. A hollow shaft, steps and a bearing or coupling as heat sink are left out;
    the last can be bounded by both end conditions.

    References
    ----------
    Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, chapter 3, table of fin equations (published; form
    from memory, checked against a numerical boundary-value problem in the tests).
    """
    m = fin_parameter(diameter, conductivity, film)
    infinite = m * conductivity * (0.25 * num.pi) * diameter * diameter
    echo = (2.0 / (1.0 + num.divide(end_film, m * conductivity)) - 1.0) * num.exp(-2.0 * m * length)
    return infinite * num.divide(1.0 - echo, 1.0 + echo)


def fin_temperature_ratio(
    position: num.Real,
    diameter: num.Real,
    conductivity: num.Real,
    film: num.Real,
    length: num.Real = num.inf,
    end_film: num.Real = 0.0,
) -> num.Real:
    r"""Temperature rise along the shaft over that at the contact.

    .. math:: \frac{\vartheta(x)}{\vartheta_0} =
              \frac{\cosh m(L-x) + H \sinh m(L-x)}{\cosh mL + H \sinh mL}

    Parameters
    ----------
    position : float or array
        Distance from the contact :math:`x`, 0..L. [m]
    diameter : float or array
        Shaft diameter :math:`d`, > 0. [m]
    conductivity : float or array
        Thermal conductivity of the shaft :math:`k`, > 0. [W/(m·K)]
    film : float or array
        Heat transfer coefficient :math:`h` of the surface, > 0. [W/(m²·K)]
    length : float or array
        Length :math:`L` of this side, > 0; infinite by default. [m]
    end_film : float or array
        Heat transfer coefficient :math:`h_e` of the end face, as in `fin_conductance`. [W/(m²·K)]

    Returns
    -------
    float or array
        Ratio, 1 at the contact; ``nan`` beyond the ends. [-]

    Notes
    -----
    As `fin_conductance`.

    References
    ----------
    As `fin_conductance`.
    """
    m = fin_parameter(diameter, conductivity, film)
    reflection = 2.0 / (1.0 + num.divide(end_film, m * conductivity)) - 1.0
    inside = num.where(position >= 0.0, num.where(position <= length, 1.0, num.nan), num.nan)
    rise = num.exp(-m * position) + reflection * num.exp(-m * (2.0 * length - position))
    return inside * num.divide(rise, 1.0 + reflection * num.exp(-2.0 * m * length))


def fin_temperature_rise(
    heat: num.Real,
    diameter: num.Real,
    conductivity: num.Real,
    film: num.Real,
    length: num.Real = num.inf,
    end_film: num.Real = 0.0,
) -> num.Real:
    r"""Temperature rise of a shaft heated at the middle of two equal sides.

    .. math:: \vartheta_0 = \frac{Q}{2 G}

    Parameters
    ----------
    heat : float or array
        Heat :math:`Q` entering the shaft at the contact, >= 0. [W]
    diameter : float or array
        Shaft diameter :math:`d`, > 0. [m]
    conductivity : float or array
        Thermal conductivity of the shaft :math:`k`, > 0. [W/(m·K)]
    film : float or array
        Heat transfer coefficient :math:`h` of the surface, > 0. [W/(m²·K)]
    length : float or array
        Length :math:`L` of either side, > 0; infinite by default. [m]
    end_film : float or array
        Heat transfer coefficient :math:`h_e` of the end faces, as in `fin_conductance`. [W/(m²·K)]

    Returns
    -------
    float or array
        Rise above the fluid, mean over the cross-section at the contact. [K]

    Notes
    -----
    The surface under a narrow contact is hotter by `ring_constriction`.

    References
    ----------
    As `fin_conductance`.
    """
    return num.divide(heat, 2.0 * fin_conductance(diameter, conductivity, film, length, end_film))


def ring_constriction(diameter: num.Real, contact_width: num.Real, conductivity: num.Real) -> num.Real:
    r"""Resistance between the contact ring on the shaft surface and the shaft's cross-section.

    .. math:: R = \frac{1}{\pi d k}\,\Phi\!\left(\frac{2b}{d}\right), \qquad
              \Phi(\epsilon) = \frac{1}{\pi} \int_0^\infty
              \left(\frac{\sin(s\epsilon/2)}{s\epsilon/2}\right)^{2}
              \left( \frac{I_0(s)}{s I_1(s)} - \frac{2}{s^2} \right) \mathrm{d}s

    Parameters
    ----------
    diameter : float or array
        Shaft diameter :math:`d`, > 0. [m]
    contact_width : float or array
        Axial contact width :math:`b`, > 0. [m]
    conductivity : float or array
        Thermal conductivity of the shaft :math:`k`, > 0. [W/(m·K)]

    Returns
    -------
    float or array
        Mean rise of the contact over that of the cross-section by fin theory, per watt into the shaft; ``nan`` for
        :math:`2b/d` outside 1e-5..1. [K/W]

    Notes
    -----
    Long solid cylinder, uniform flux over the ring, surface beside it insulated (small Biot number), so nothing
    depends on the fin. It stands in series with both fin sides together. For a narrow ring it grows as
    :math:`\ln(d/2b)/\pi`; under a contact of 0.5 mm it adds a seventh to a half of the fin's own resistance in the
    shafts of the check rows, so leaving it out understates the contact temperature. Tabulated by `build_table`.

    References
    ----------
    Derived here by Fourier transform along the shaft; checked against axisymmetric finite elements in the tests.
    Carslaw and Jaeger, Conduction of Heat in Solids (1959), treat the method (from memory).
    """
    epsilon = num.divide(2.0 * contact_width, diameter)
    (factor,) = _tables()["ring"](num.log(epsilon))
    inside = (epsilon >= _RING_LOW * (1.0 - 1.0e-9)) & (epsilon <= 1.0 + 1.0e-9)
    return num.where(inside, factor, num.nan) / (num.pi * diameter * conductivity)


def cylinder_wall_conductance(
    inner_radius: num.Real, outer_radius: num.Real, length: num.Real, conductivity: num.Real
) -> num.Real:
    r"""Conductance through the wall of a cylinder, as a seal body or housing.

    .. math:: G = \frac{2 \pi k L}{\ln(r_2/r_1)}

    Parameters
    ----------
    inner_radius : float or array
        :math:`r_1`, > 0. [m]
    outer_radius : float or array
        :math:`r_2` > :math:`r_1`. [m]
    length : float or array
        Axial length :math:`L`, > 0. [m]
    conductivity : float or array
        Thermal conductivity :math:`k`, > 0. [W/(m·K)]

    Returns
    -------
    float or array
        Conductance :math:`G`. [W/K]

    Notes
    -----
    Radial conduction, constant conductivity. Layers stand in `series`.

    References
    ----------
    Incropera and DeWitt, chapter 3 (published; checked against a general-purpose heat transfer library in the tests).
    """
    return num.divide(2.0 * num.pi * conductivity * length, num.log(num.divide(outer_radius, inner_radius)))


def plane_wall_conductance(area: num.Real, thickness: num.Real, conductivity: num.Real) -> num.Real:
    r"""Conductance through a plane wall, as a thin lip or a flange face.

    .. math:: G = \frac{k A}{t}

    Parameters
    ----------
    area : float or array
        Area :math:`A`, >= 0. [m²]
    thickness : float or array
        Thickness :math:`t`, > 0. [m]
    conductivity : float or array
        Thermal conductivity :math:`k`, > 0. [W/(m·K)]

    Returns
    -------
    float or array
        Conductance :math:`G`. [W/K]

    Notes
    -----
    One-dimensional.

    References
    ----------
    Fourier's law.
    """
    return num.divide(conductivity * area, thickness)


def series(*conductances: num.Real) -> num.Real:
    r"""Conductance of several in a row.

    .. math:: \frac{1}{G} = \sum_i \frac{1}{G_i}

    Parameters
    ----------
    *conductances : float or array
        :math:`G_i`, >= 0; a surface film is area times heat transfer coefficient. [W/K]

    Returns
    -------
    float or array
        :math:`G`, 0 if any of them is 0. [W/K]

    Notes
    -----
    Exact.

    References
    ----------
    Definition.
    """
    resistance: num.Real = 0.0
    for conductance in conductances:
        resistance = resistance + num.divide(1.0, conductance)
    return num.divide(1.0, resistance)


def join(*paths: HeatPath | tuple[num.Real, num.Real]) -> HeatPath:
    r"""One path that stands for several from the same place.

    .. math:: G = \sum_i G_i, \qquad T = \frac{\sum_i G_i T_i}{\sum_i G_i}

    Parameters
    ----------
    *paths : HeatPath
        Conductances and far temperatures. [W/K], [K]

    Returns
    -------
    HeatPath
        Joint conductance and temperature; the temperature is ``nan`` if nothing conducts. [W/K], [K]

    Notes
    -----
    Exact for conductances that do not depend on temperature.

    References
    ----------
    Thévenin's theorem for a linear network.
    """
    conductance: num.Real = 0.0
    weighted: num.Real = 0.0
    for part, temperature in paths:
        conductance = conductance + part
        weighted = weighted + part * temperature
    return HeatPath(conductance, num.divide(weighted, conductance))


def behind(resistance: num.Real, path: HeatPath) -> HeatPath:
    r"""Path seen through a resistance in front of it.

    .. math:: \frac{1}{G'} = R + \frac{1}{G}, \qquad T' = T

    Parameters
    ----------
    resistance : float or array
        :math:`R`, >= 0, as from `ring_constriction`. [K/W]
    path : HeatPath
        What lies behind. [W/K], [K]

    Returns
    -------
    HeatPath
        Path from the near end. [W/K], [K]

    Notes
    -----
    Exact.

    References
    ----------
    Definition.
    """
    return HeatPath(num.divide(1.0, resistance + num.divide(1.0, path.conductance)), path.temperature)


def contact_temperature(heat: num.Real, *paths: HeatPath) -> num.Real:
    r"""Contact temperature for a given heat.

    .. math:: T_c = \frac{P + \sum_i G_i T_i}{\sum_i G_i}

    Parameters
    ----------
    heat : float or array
        Frictional power :math:`P`, >= 0. [W]
    *paths : HeatPath
        Ways out, all from the contact: shaft (behind its constriction), lip to the fluid, body to the housing. With
        one temperature at the far ends this is that temperature plus :math:`P/\sum G`. [W/K], [K]

    Returns
    -------
    float or array
        Mean contact temperature, steady. [K]

    Notes
    -----
    Steady state, one contact temperature for shaft and lip side (mean over the real spots: `flash_circle` gives what
    a spot adds). Heating up takes the shaft minutes to hours; a duty shorter than that stays cooler.

    References
    ----------
    Energy balance.
    """
    path = join(*paths)
    return path.temperature + num.divide(heat, path.conductance)


# --------------------------------------------------------------------------------------------------------- convection


CORRELATIONS: dict[str, Correlation] = {
    "anderson_saunders": Correlation("Anderson and Saunders 1953", 0.0, num.inf, False),
    "becker": Correlation("Becker 1963", 800.0, 1.0e5, False),
    "etemad": Correlation("Etemad 1955", 0.0, num.inf, True),
    "kays_bjorklund": Correlation("Kays and Bjorklund 1958", 0.0, num.inf, True),
    "dropkin_carmi": Correlation("Dropkin and Carmi 1957", 15_000.0, num.inf, False),
    "ozerdem": Correlation("Ozerdem 2000", 2_000.0, 40_000.0, False),
}
"""Rotating-cylinder correlations by name; every range is from memory."""

_CRITICAL = 1.09
"""Reynolds number over the root of the Grashof number above which rotation rules (Anderson & Saunders; memory)."""


def rotating_cylinder_film(
    diameter: num.Real,
    rotation_speed: num.Real,
    fluid: Fluid | Sequence[num.Real],
    temperature_difference: num.Real,
    correlation: str = "becker",
    axial_speed: num.Real = 0.0,
) -> Film:
    r"""Heat transfer coefficient of a shaft turning in a large volume of fluid.

    .. math::
       \begin{aligned}
       \text{anderson\_saunders:}\quad & \mathrm{Nu} = 0.10\,\mathrm{Re}^{2/3} \\
       \text{becker:}\quad & \mathrm{Nu} = 0.133\,\mathrm{Re}^{2/3}\,\mathrm{Pr}^{1/3} \\
       \text{etemad:}\quad & \mathrm{Nu} = 0.11\,[(0.5\,\mathrm{Re}^2 + \mathrm{Gr})\,\mathrm{Pr}]^{0.35} \\
       \text{kays\_bjorklund:}\quad
       & \mathrm{Nu} = 0.095\,(0.5\,\mathrm{Re}^2 + \mathrm{Re}_a^2 + \mathrm{Gr})^{0.35} \\
       \text{dropkin\_carmi:}\quad & \mathrm{Nu} = 0.073\,\mathrm{Re}^{0.7} \\
       \text{ozerdem:}\quad & \mathrm{Nu} = 0.318\,\mathrm{Re}^{0.571}
       \end{aligned}

    with :math:`\mathrm{Re} = \pi n d^2/\nu`, :math:`\mathrm{Re}_a = v_a d/\nu`,
    :math:`\mathrm{Gr} = g \beta |\Delta T| d^3/\nu^2`, :math:`h = \mathrm{Nu}\,k/d`.

    Parameters
    ----------
    diameter : float or array
        Shaft diameter :math:`d`, > 0. [m]
    rotation_speed : float or array
        Turns per second :math:`n`; the magnitude counts. [rev/s]
    fluid : Fluid or sequence
        Properties at the mean of surface and bulk temperature, in the order of `Fluid`.
        [W/(m·K)], [m²/s], [-], [1/K]
    temperature_difference : float or array
        Surface less bulk temperature :math:`\Delta T`; the magnitude counts. [K]
    correlation : str
        One of `CORRELATIONS`. [-]
    axial_speed : float or array
        Speed :math:`v_a` of fluid along the shaft, used by ``kays_bjorklund`` only. [m/s]

    Returns
    -------
    Film
        Coefficient, numbers, and whether the correlation is within its range.
        [W/(m²·K)], [-], [-], [-], [bool]

    Raises
    ------
    KeyError
        For an unknown correlation (a fault of the caller, not of a case).

    Notes
    -----
    All but ``becker`` were measured in air; ``becker`` in water and carried over by its Prandtl number, so it alone
    suits a liquid. Those without a Grashof term fall to nothing at rest and are flagged out of range below
    :math:`\mathrm{Re} = 1.09\sqrt{\mathrm{Gr}}`; `shaft_film` then puts natural convection in their place. Where no
    Reynolds range is known the flag tests that alone. They differ among themselves by about a fifth, which is the
    uncertainty to carry. The fluid in a gland swirls with the shaft and is confined: the wetted side of a seal is
    not a large volume, and a user's own coefficient is better there.

    References
    ----------
    All six from memory, none checked against its paper; agreement among them speaks against a gross slip only.
    Anderson and Saunders, Proc. R. Soc. A 217 (1953) 555; Becker, Int. J. Heat Mass Transfer 6 (1963) 1053; Etemad,
    Trans. ASME 77 (1955) 1283; Kays and Bjorklund, Trans. ASME 80 (1958) 70; Dropkin and Carmi, Trans. ASME 79
    (1957) 741; Ozerdem, Int. Comm. Heat Mass Transfer 27 (2000) 1015. Some textbooks print Etemad's relation with
    the Prandtl number on Gr alone, which in air is up to 13 % higher.
    """
    conductivity, _, prandtl, _ = fluid
    reynolds, grashof = _reynolds_and_grashof(diameter, rotation_speed, fluid, temperature_difference)
    axial = axial_speed * diameter / fluid[1]
    nusselt = _turning_nusselt(correlation, reynolds, grashof, prandtl, axial)
    in_range = _turning_in_range(correlation, reynolds, grashof)
    return Film(nusselt * conductivity / diameter, nusselt, reynolds, grashof, in_range)


def _reynolds_and_grashof(
    diameter: num.Real, rotation_speed: num.Real, fluid: Fluid | Sequence[num.Real], temperature_difference: num.Real
) -> tuple[num.Real, num.Real]:
    """Reynolds number of the surface speed and Grashof number, both on the diameter."""
    _, viscosity, _, expansion = fluid
    surface = num.pi * num.absolute(rotation_speed) * diameter
    ratio = diameter * diameter * diameter / (viscosity * viscosity)
    grashof = STANDARD_GRAVITY * expansion * num.absolute(temperature_difference) * ratio
    return surface * diameter / viscosity, grashof


def _turning_nusselt(
    correlation: str, reynolds: num.Real, grashof: num.Real, prandtl: num.Real, axial: num.Real
) -> num.Real:
    """Nusselt number of a turning shaft by a correlation; ``axial`` is the Reynolds number of a flow along it."""
    if correlation == "becker":
        return 0.133 * num.power(reynolds, 2.0 / 3.0) * num.power(prandtl, 1.0 / 3.0)
    if correlation == "anderson_saunders":
        return 0.10 * num.power(reynolds, 2.0 / 3.0)
    if correlation == "etemad":
        return 0.11 * num.power((0.5 * reynolds * reynolds + grashof) * prandtl, 0.35)
    if correlation == "kays_bjorklund":
        return 0.095 * num.power(0.5 * reynolds * reynolds + axial * axial + grashof, 0.35)
    if correlation == "dropkin_carmi":
        return 0.073 * num.power(reynolds, 0.7)
    if correlation == "ozerdem":
        return 0.318 * num.power(reynolds, 0.571)
    raise KeyError(correlation)


def _turning_in_range(correlation: str, reynolds: num.Real, grashof: num.Real) -> num.Real:
    """Whether a correlation for a turning shaft is used within its range."""
    entry = CORRELATIONS[correlation]
    in_range = (reynolds >= entry.reynolds_low) & (reynolds <= entry.reynolds_high)
    if not entry.buoyancy:
        in_range = in_range & (reynolds >= _CRITICAL * num.sqrt(grashof))
    return in_range


def _still_nusselt(grashof: num.Real, prandtl: num.Real) -> num.Real:
    """Nusselt number of a horizontal shaft at rest."""
    damping = num.power(1.0 + num.power(0.559 / prandtl, 9.0 / 16.0), 8.0 / 27.0)
    root = 0.60 + 0.387 * num.power(grashof * prandtl, 1.0 / 6.0) / damping
    return root * root


def natural_cylinder_film(
    diameter: num.Real, fluid: Fluid | Sequence[num.Real], temperature_difference: num.Real
) -> Film:
    r"""Heat transfer coefficient of a horizontal shaft at rest.

    .. math:: \mathrm{Nu} = \left\{ 0.60 +
              \frac{0.387\,\mathrm{Ra}^{1/6}}{[1 + (0.559/\mathrm{Pr})^{9/16}]^{8/27}} \right\}^2,
              \qquad \mathrm{Ra} = \mathrm{Gr}\,\mathrm{Pr}

    Parameters
    ----------
    diameter : float or array
        Shaft diameter :math:`d`, > 0. [m]
    fluid : Fluid or sequence
        Properties at the mean of surface and bulk temperature, in the order of `Fluid`.
        [W/(m·K)], [m²/s], [-], [1/K]
    temperature_difference : float or array
        Surface less bulk temperature; the magnitude counts. [K]

    Returns
    -------
    Film
        Coefficient and numbers; in range up to Ra = 1e12. [W/(m²·K)], [-], [-], [-], [bool]

    Notes
    -----
    Long horizontal cylinder in a large volume. A vertical shaft differs.

    References
    ----------
    Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975) 1049 (published; equal to a general-purpose heat transfer
    library's transcription in the tests).
    """
    conductivity, _, prandtl, _ = fluid
    _, grashof = _reynolds_and_grashof(diameter, 0.0, fluid, temperature_difference)
    nusselt = _still_nusselt(grashof, prandtl)
    return Film(nusselt * conductivity / diameter, nusselt, 0.0 * grashof, grashof, grashof * prandtl <= 1.0e12)


def shaft_film(
    diameter: num.Real,
    rotation_speed: num.Real,
    fluid: Fluid | Sequence[num.Real],
    temperature_difference: num.Real,
    correlation: str = "becker",
    axial_speed: num.Real = 0.0,
) -> Film:
    r"""Heat transfer coefficient of a shaft, turning or at rest.

    .. math:: h = \max(h_\mathrm{rotation},\ h_\mathrm{natural})

    Parameters
    ----------
    diameter : float or array
        Shaft diameter, > 0. [m]
    rotation_speed : float or array
        Turns per second. [rev/s]
    fluid : Fluid or sequence
        Properties at the mean of surface and bulk temperature, in the order of `Fluid`.
        [W/(m·K)], [m²/s], [-], [1/K]
    temperature_difference : float or array
        Surface less bulk temperature. [K]
    correlation : str
        One of `CORRELATIONS`. [-]
    axial_speed : float or array
        Speed of fluid along the shaft, used by ``kays_bjorklund`` only. [m/s]

    Returns
    -------
    Film
        As `rotating_cylinder_film` where rotation gives more, else as `natural_cylinder_film`.
        [W/(m²·K)], [-], [-], [-], [bool]

    Notes
    -----
    The larger of the two is a common choice for mixed convection and not a measured law; it is on the low side where
    both are alike.

    References
    ----------
    As the two functions it joins; taking the larger is common practice (no source).
    """
    turning = rotating_cylinder_film(diameter, rotation_speed, fluid, temperature_difference, correlation, axial_speed)
    still = natural_cylinder_film(diameter, fluid, temperature_difference)
    rotation_rules = turning.film >= still.film
    return Film(
        num.where(rotation_rules, turning.film, still.film),
        num.where(rotation_rules, turning.nusselt, still.nusselt),
        turning.reynolds,
        turning.grashof,
        num.where(rotation_rules, turning.in_range, still.in_range),
    )


def shaft_coefficient(
    diameter: num.Real,
    rotation_speed: num.Real,
    fluid: Fluid | Sequence[num.Real],
    temperature_difference: num.Real,
    correlation: str = "becker",
    axial_speed: num.Real = 0.0,
) -> num.Real:
    r"""Heat transfer coefficient of a shaft, turning or at rest, without what `shaft_film` tells beside it.

    .. math:: h = \max(\mathrm{Nu}_\mathrm{rotation},\ \mathrm{Nu}_\mathrm{natural})\,\frac{k}{d}

    Parameters
    ----------
    diameter : float or array
        Shaft diameter :math:`d`, > 0. [m]
    rotation_speed : float or array
        Turns per second. [rev/s]
    fluid : Fluid or sequence
        Properties at the mean of surface and bulk temperature, in the order of `Fluid`.
        [W/(m·K)], [m²/s], [-], [1/K]
    temperature_difference : float or array
        Surface less bulk temperature. [K]
    correlation : str
        One of `CORRELATIONS`. [-]
    axial_speed : float or array
        Speed of fluid along the shaft, used by ``kays_bjorklund`` only. [m/s]

    Returns
    -------
    float or array
        Coefficient :math:`h`. [W/(m²·K)]

    Raises
    ------
    KeyError
        For an unknown correlation (a fault of the caller, not of a case).

    Notes
    -----
    As `shaft_film`; for iterations, in which the numbers beside the coefficient are not looked at.

    References
    ----------
    As `shaft_film`.
    """
    conductivity, viscosity, prandtl, _ = fluid
    reynolds, grashof = _reynolds_and_grashof(diameter, rotation_speed, fluid, temperature_difference)
    turning = _turning_nusselt(correlation, reynolds, grashof, prandtl, axial_speed * diameter / viscosity)
    still = _still_nusselt(grashof, prandtl)
    return num.where(turning >= still, turning, still) * conductivity / diameter


def dry_air(temperature: num.Real, pressure: num.Real) -> Fluid:
    r"""Transport properties of dry air.

    .. math:: \mu = \frac{1.458\times10^{-6}\,T^{3/2}}{T + 110.4}, \qquad
              k = \frac{2.64638\times10^{-3}\,T^{3/2}}{T + 245.4\times10^{-12/T}}, \qquad
              \nu = \frac{\mu R T}{p}, \qquad \mathrm{Pr} = \frac{c_p \mu}{k}, \qquad \beta = \frac{1}{T}

    .. math:: \frac{c_p}{R} = 3.653 - 1.337\times10^{-3}\,T + 3.294\times10^{-6}\,T^2
              - 1.913\times10^{-9}\,T^3 + 0.2763\times10^{-12}\,T^4

    Parameters
    ----------
    temperature : float or array
        Film temperature :math:`T`, absolute, > 0. [K]
    pressure : float or array
        Absolute pressure :math:`p`, > 0. [Pa]

    Returns
    -------
    Fluid
        Conductivity, kinematic viscosity, Prandtl number, expansion. [W/(m·K)], [m²/s], [-], [1/K]

    Notes
    -----
    Meant for 200..600 K near atmospheric pressure; the heat capacity is fitted from 300 K and holds to 0.3 % at
    250 K. Against Incropera's table A.4 (from memory), 250..600 K: viscosity within 0.7 % to 400 K and 1.4 % beyond,
    conductivity and Prandtl number within 0.8 %. Ideal gas, R = 287.05287 J/(kg·K).

    References
    ----------
    U.S. Standard Atmosphere, 1976, equations 51 and 53, for viscosity and conductivity (standard; equal to a
    general-purpose library's transcription in the tests). Moran and Shapiro, Fundamentals of Engineering
    Thermodynamics, table A-21, for the heat capacity (published; from memory).
    """
    root = temperature * num.sqrt(temperature)
    viscosity = 1.458e-6 * root / (temperature + 110.4)
    conductivity = 2.64638e-3 * root / (temperature + 245.4 * num.exp(-12.0 * _LN10 / temperature))
    c0, c1, c2, c3, c4 = _HEAT_CAPACITY_AIR
    capacity = (((c4 * temperature + c3) * temperature + c2) * temperature + c1) * temperature + c0
    return Fluid(
        conductivity,
        viscosity * _GAS_CONSTANT_AIR * temperature / pressure,
        _GAS_CONSTANT_AIR * capacity * viscosity / conductivity,
        1.0 / temperature,
    )


_HEAT_CAPACITY_AIR = (3.653, -1.337e-3, 3.294e-6, -1.913e-9, 0.2763e-12)
_LN10 = 2.302585092994046
_GAS_CONSTANT_AIR = 287.05287
"""Specific gas constant of dry air, U.S. Standard Atmosphere 1976 (8314.32/28.9644). [J/(kg·K)]"""


# -------------------------------------------------------------------------------------------------- flash temperature


def flash_band(
    heat_flux: num.Real,
    half_width: num.Real,
    speed: num.Real,
    conductivity: num.Real,
    diffusivity: num.Real,
) -> FlashBand:
    r"""Temperature rise under a band of uniform heat flux that moves across itself over a half space.

    .. math:: \vartheta(x) = \frac{2 q \chi}{\pi k V} \int_{X-L}^{X+L} e^{-u} K_0(|u|)\,\mathrm{d}u, \qquad
              X = \frac{V x}{2\chi}, \qquad L = \frac{V b}{2 \chi}

    Parameters
    ----------
    heat_flux : float or array
        Heat flux into the body :math:`q`, >= 0. [W/m²]
    half_width : float or array
        Half of the band's width :math:`b` in the direction of motion, > 0. [m]
    speed : float or array
        Speed :math:`V` of the band over the body; the magnitude counts. [m/s]
    conductivity : float or array
        Thermal conductivity :math:`k` of the body, > 0. [W/(m·K)]
    diffusivity : float or array
        Thermal diffusivity :math:`\chi` of the body, > 0. [m²/s]

    Returns
    -------
    FlashBand
        Péclet number, greatest and mean rise, place of the greatest (held at its value for L = 0.001, nearly the
        middle, below that). [-], [K], [K], [-]

    Notes
    -----
    Quasi-steady. Below L = 0.001 the small-speed expansion is used, above 10 000 the fast-source limit; between them
    a table of the exact integral. At rest no steady rise exists and the result is infinite (zero for zero flux).
    A seal's closed contact ring slides along itself and is *not* such a band; this serves for a contact broken around
    the circumference, and for real spots longer than wide.

    References
    ----------
    Jaeger, Proc. R. Soc. New South Wales 76 (1942) 203 (published; form from memory, the integral is evaluated in
    closed form here and by quadrature in the tests).
    """
    peclet = 0.5 * num.absolute(speed) * half_width / diffusivity
    maximum, mean, peak = _band_table()(num.log(num.clip(peclet, _PECLET_LOW, _PECLET_HIGH)))
    fast = 2.0 * num.sqrt(num.divide(num.pi, peclet))
    slow = num.log(peclet) + _EULER_GAMMA
    over = num.where(peclet < _PECLET_LOW, 2.0 * (1.0 + _LN2 - slow), fast * maximum)
    over_mean = num.where(peclet < _PECLET_LOW, 2.0 * (1.5 - slow), 2.0 / 3.0 * fast * mean)
    # no flux, no rise, also at rest where the factor is infinite
    cold = heat_flux == 0.0
    unit = num.where(cold, 1.0, heat_flux) * half_width / (num.pi * conductivity)
    return FlashBand(peclet, num.where(cold, 0.0, unit * over), num.where(cold, 0.0, unit * over_mean), peak)


def flash_circle(
    heat: num.Real,
    radius: num.Real,
    speed: num.Real,
    conductivity: num.Real,
    diffusivity: num.Real,
) -> FlashCircle:
    r"""Mean temperature rise of a circular spot that moves over a half space.

    .. math:: \bar\vartheta = 0.25\,\frac{Q}{k a} \quad (L < 0.1), \qquad
              \bar\vartheta = 0.308\,\frac{Q}{k a}\sqrt{\frac{\chi}{V a}} \quad (L > 5), \qquad
              L = \frac{V a}{2\chi}

    Parameters
    ----------
    heat : float or array
        Heat into the body :math:`Q`, >= 0. [W]
    radius : float or array
        Radius of the spot :math:`a`, > 0. [m]
    speed : float or array
        Speed :math:`V`; the magnitude counts. [m/s]
    conductivity : float or array
        Thermal conductivity :math:`k` of the body, > 0. [W/(m·K)]
    diffusivity : float or array
        Thermal diffusivity :math:`\chi` of the body, > 0. [m²/s]

    Returns
    -------
    FlashCircle
        Péclet number; mean rise, ``nan`` for 0.1 <= L <= 5 where neither holds; the smaller of both limits, which
        bounds it from above everywhere. [-], [K], [K]

    Notes
    -----
    Quasi-steady, all of the heat into one body.

    References
    ----------
    Archard, Wear 2 (1958/59) 438, as tabulated by Stachowiak and Batchelor, Engineering Tribology (published; from
    memory).
    """
    magnitude = num.absolute(speed)
    peclet = 0.5 * magnitude * radius / diffusivity
    cold = heat == 0.0
    scale = num.where(cold, 1.0, heat) / (conductivity * radius)
    slow = num.where(cold, 0.0, 0.25 * scale)
    fast = num.where(cold, 0.0, 0.308 * scale * num.sqrt(num.divide(diffusivity, magnitude * radius)))
    mean = num.where(peclet < 0.1, slow, num.where(peclet > 5.0, fast, num.nan))
    return FlashCircle(peclet, mean, num.minimum(slow, fast))


_RING_LOW = 1.0e-5
_PECLET_LOW = 1.0e-3
_PECLET_HIGH = 1.0e4
_EULER_GAMMA = 0.5772156649015329
_LN2 = 0.6931471805599453


# -------------------------------------------------------------------------------------------------------- fixed point


def fixed_point(
    function: Callable[[num.Real], num.Real],
    start: num.Real,
    lower: num.Real,
    upper: num.Real,
    tolerance: float,
    max_iterations: int = 50,
    damping: float = 1.0,
) -> FixedPoint:
    r"""Solve x = f(x) within bounds by relaxed iteration.

    .. math:: x_{i+1} = \mathrm{clip}\,[x_i + \omega_i r_i], \qquad r_i = f(x_i) - x_i, \qquad
              \omega_i = -\,\frac{x_i - x_{i-1}}{r_i - r_{i-1}} \quad \text{if } 0 < \omega_i

    Parameters
    ----------
    function : callable
        :math:`f`, taking and giving a float or an array of one shape; it may return ``nan``. [as start]
    start : float or array
        First :math:`x`; for a temperature the lowest sensible one, so that the lowest solution is found. [any]
    lower, upper : float or array
        Bounds of :math:`x`; a solution beyond them counts as none. [as start]
    tolerance : float
        Greatest residual :math:`|r|` taken as solved, > 0. [as start]
    max_iterations : int
        Evaluations of :math:`f` at most. [-]
    damping : float
        Relaxation :math:`\omega` of the first step and wherever the secant has none to offer, 0..1. [-]

    Returns
    -------
    FixedPoint
        Value, residual, evaluations, converged; per element for arrays. [as start], [as start], [int], [bool]

    Notes
    -----
    Aitken's dynamic relaxation, the secant method on the residual: it damps an alternating iteration, lengthens a slow
    one (ω at most 10), and where the slope of f exceeds one, a runaway without equilibrium, it moves on in the
    direction of the residual to the next solution or to the bound, which is reported as not converged. With f
    increasing and the start below, each solution reached is one that a heating contact would settle at. An element
    that yields ``nan`` stops there, not converged, and holds up none of the others. Near a fold, where the slope of f
    comes close to one, the error exceeds the residual by 1/(1 - slope).

    References
    ----------
    Aitken (1926); Irons and Tuck, Int. J. Num. Meth. Eng. 1 (1969) 275 (from memory).
    """
    first = function(start)
    if num.is_array(start, lower, upper, first):
        return _fixed_point_array(function, first, start, lower, upper, tolerance, max_iterations, damping)
    x = start
    if not lower <= x <= upper:
        x = num.clip(x, lower, upper)
        first = function(x)
    residual = first - x
    iterations = 1
    step = change = 0.0
    while True:
        if abs(residual) <= tolerance:
            return FixedPoint(x, residual, iterations, True)
        # a nan residual fails every comparison and ends here too
        if iterations >= max_iterations or residual != residual:
            return FixedPoint(x, residual, iterations, False)
        relaxation = -step / change if change != 0.0 else damping
        if not relaxation > 0.0:
            relaxation = damping
        following = x + min(relaxation, _RELAXATION_MAX) * residual
        if not lower <= following <= upper:
            following = num.clip(following, lower, upper)
        step = following - x
        if step == 0.0:
            return FixedPoint(x, residual, iterations, False)
        x = following
        change = -residual
        residual = function(x) - x
        change += residual
        iterations += 1


_RELAXATION_MAX = 10.0


def _fixed_point_array(
    function: Callable[[num.Real], num.Real],
    first: num.Real,
    start: num.Real,
    lower: num.Real,
    upper: num.Real,
    tolerance: float,
    max_iterations: int,
    damping: float,
) -> FixedPoint:
    """`fixed_point` for arrays: the same steps, each element frozen once it is decided."""
    shape = np.broadcast_shapes(np.shape(start), np.shape(lower), np.shape(upper), np.shape(first))
    x = np.clip(np.broadcast_to(np.asarray(start, dtype=np.float64), shape), lower, upper)
    residual = function(x) - x
    count = np.ones(shape, dtype=np.int64)
    step = np.zeros(shape)
    change = np.zeros(shape)
    active = np.abs(residual) > tolerance
    for _ in range(max_iterations - 1):
        if not active.any():
            break
        with np.errstate(all="ignore"):
            relaxation = -step / change
        relaxation = np.where(relaxation > 0.0, relaxation, damping)
        relaxation = np.minimum(np.where(np.isfinite(relaxation), relaxation, damping), _RELAXATION_MAX)
        move = np.where(active, relaxation * residual, 0.0)
        following = np.clip(x + move, lower, upper)
        active = active & (following != x)
        step = np.where(active, following - x, step)
        x = np.where(active, following, x)
        renewed = np.where(active, function(x) - x, residual)
        change = np.where(active, renewed - residual, change)
        residual = renewed
        count = count + active
        active = active & (np.abs(residual) > tolerance)
    return FixedPoint(x, residual, count, np.abs(residual) <= tolerance)


def balance_temperature(
    heat: Callable[[num.Real], num.Real],
    path: HeatPath | Callable[[num.Real], HeatPath],
    upper: num.Real,
    tolerance: float,
    max_iterations: int = 50,
) -> FixedPoint:
    r"""Contact temperature where friction and cooling depend on it.

    .. math:: T = T_\infty(T) + \frac{P(T)}{G(T)}

    Parameters
    ----------
    heat : callable
        Frictional power :math:`P(T)` >= 0 of the contact temperature, float or array. [W] of [K]
    path : HeatPath or callable
        Joint path from the contact, or a function of the contact temperature that gives it. [W/K], [K]
    upper : float or array
        Temperature above which no balance is accepted, as that of decomposition. [K]
    tolerance : float
        Greatest imbalance taken as solved, > 0. [K]
    max_iterations : int
        Evaluations at most. [-]

    Returns
    -------
    FixedPoint
        Contact temperature, imbalance, evaluations, converged. [K], [K], [int], [bool]

    Notes
    -----
    Starts at the far temperature and finds the lowest balance above it. Not converged means no balance below
    ``upper`` within the iterations: report it as not evaluated, not as ``upper``.

    References
    ----------
    Energy balance; method as `fixed_point`.
    """
    if isinstance(path, HeatPath):
        conductance, far = path

        def function(temperature: num.Real) -> num.Real:
            return far + heat(temperature) / conductance

        return fixed_point(function, far, far, upper, tolerance, max_iterations)
    follow = path

    def moving(temperature: num.Real) -> num.Real:
        here = follow(temperature)
        return here.temperature + heat(temperature) / here.conductance

    # with nothing hotter than the far end yet known, the far temperature there is the natural start
    start = follow(upper).temperature
    return fixed_point(moving, start, start, upper, tolerance, max_iterations)


# --------------------------------------------------------------------------------------------------------------- table


@cache
def _tables() -> dict[str, UniformGrid]:
    """The committed tables, read at first use."""
    document = json.loads(_TABLE.read_text(encoding="utf-8"))
    return {name: UniformGrid([tuple(table["axis"])], np.array(table["rows"]), [3]) for name, table in document.items()}


def _band_table() -> UniformGrid:
    """Greatest and mean rise over the fast limit, and place of the greatest, by the logarithm of the Péclet number."""
    return _tables()["band"]


def exact_band_rise(position: float, peclet: float) -> float:
    r"""Dimensionless rise under the moving band, by the closed form of its integral.

    .. math:: Y = \frac{\vartheta \pi k V}{2 q \chi} = F(X+L) - F(X-L), \qquad
              F(x) = \begin{cases} 1 - x e^{-x} [K_1(x) - K_0(x)] & x > 0 \\
              1 - |x| e^{|x|} [K_0(|x|) + K_1(|x|)] & x < 0 \end{cases}

    Parameters
    ----------
    position : float
        Place over half-width, -1 at the trailing edge. [-]
    peclet : float
        :math:`L` > 0. [-]

    Returns
    -------
    float
        :math:`Y`. [-]

    Notes
    -----
    The solver behind the table; not for use per case.

    References
    ----------
    Antiderivative of :math:`e^{\mp u} K_0(u)`; derived, checked by quadrature in the tests.
    """
    return _band_integral((position + 1.0) * peclet) - _band_integral((position - 1.0) * peclet)


def _band_integral(x: float) -> float:
    """Integral of exp(-u) K0(|u|) from 0 to x."""
    from scipy.special import k0e, k1e

    t = abs(x)
    if t == 0.0:
        return 0.0
    if x > 0.0:
        return float(1.0 - t * num.exp(-2.0 * t) * (k1e(t) - k0e(t)))
    return float(1.0 - t * (k0e(t) + k1e(t)))


def exact_band_mean(peclet: float) -> float:
    r"""Mean of the dimensionless rise over the moving band, in closed form.

    .. math:: \bar Y = \frac{1}{2L} \left[ \int_0^{2L} F(s)\,\mathrm{d}s - \int_{-2L}^{0} F(s)\,\mathrm{d}s \right]

    Parameters
    ----------
    peclet : float
        :math:`L` > 0. [-]

    Returns
    -------
    float
        :math:`\bar Y`, in the unit of `exact_band_rise`. [-]

    Notes
    -----
    The solver behind the table; not for use per case. F as in `exact_band_rise`.

    References
    ----------
    Second antiderivative of :math:`e^{\mp u} K_0(u)`; derived, checked by sampling in the tests.
    """
    from scipy.special import k0e, k1e

    t = 2.0 * peclet
    k0, k1 = float(k0e(t)), float(k1e(t))
    tail = num.exp(-2.0 * t)
    ahead = t * (1.0 - t * tail * (k1 - k0)) - (1.0 - t * tail * (t * (k1 - k0) + k1)) / 3.0
    astern = t * (t * (k0 + k1) - 1.0) - (1.0 + t * (t * (k0 + k1) - k1)) / 3.0
    return float((ahead + astern) / t)


def exact_band_peak(peclet: float) -> float:
    r"""Place of the greatest rise under the moving band, by root finding.

    .. math:: e^{-s} K_0(s) = e^{2L-s} K_0(2L-s), \qquad s = X + L

    Parameters
    ----------
    peclet : float
        :math:`L` > 0. [-]

    Returns
    -------
    float
        Place over half-width :math:`X/L`, -1 at the trailing edge. [-]

    Notes
    -----
    The solver behind the table; not for use per case.

    References
    ----------
    Derivative of `exact_band_rise` set to zero.
    """
    from scipy.optimize import brentq
    from scipy.special import k0e

    def slope(logarithm: float) -> float:
        s = num.exp(logarithm)
        return float(-2.0 * s + num.log(float(k0e(s))) - num.log(float(k0e(2.0 * peclet - s))))

    low, high = num.log(peclet) - 40.0, num.log(peclet)
    return float(num.exp(brentq(slope, low, high, xtol=1.0e-13))) / peclet - 1.0


def exact_ring_factor(epsilon: float) -> float:
    r"""Constriction factor of a contact ring by quadrature of the integral in `ring_constriction`.

    .. math:: \Phi(\epsilon) = \frac{1}{\pi} \int_0^\infty
              \left(\frac{\sin(s\epsilon/2)}{s\epsilon/2}\right)^{2}
              \left( \frac{I_0(s)}{s I_1(s)} - \frac{2}{s^2} \right) \mathrm{d}s

    Parameters
    ----------
    epsilon : float
        Ring width over shaft radius, > 0. [-]

    Returns
    -------
    float
        :math:`\Phi`. [-]

    Notes
    -----
    The solver behind the table; not for use per case.

    References
    ----------
    As `ring_constriction`.
    """
    from scipy.integrate import quad
    from scipy.special import i0e, i1e

    def kernel(s: float) -> float:
        if s < 1.0e-2:  # series, where the difference cancels
            return 0.25 - s * s / 96.0
        return float(i0e(s) / (s * i1e(s))) - 2.0 / (s * s)

    def weight(s: float) -> float:
        z = 0.5 * s * epsilon
        return 1.0 if z == 0.0 else (float(np.sin(z)) / z) ** 2

    total = 0.0
    lobe = 2.0 * num.pi / epsilon
    edges = [0.0, *(10.0**p for p in range(-1, 8) if 10.0**p < lobe), lobe]
    for a, b in pairwise(edges):
        total += quad(lambda s: weight(s) * kernel(s), a, b, epsabs=1.0e-13, epsrel=1.0e-12, limit=200)[0]
    lobes = 300
    for i in range(1, lobes):
        total += quad(lambda s: weight(s) * kernel(s), i * lobe, (i + 1) * lobe, epsabs=1.0e-13, epsrel=1.0e-9)[0]
    end = lobes * lobe
    # beyond, the sine squared averages to a half and the kernel is 1/s
    return (total + 1.0 / (epsilon * epsilon * end * end)) / num.pi


def build_table() -> None:
    r"""Solve the moving band and the ring constriction over their ranges and write the table.

    .. math:: \ln L \mapsto \hat Y,\ \bar Y,\ X_{max}/L; \qquad \ln \epsilon \mapsto \Phi

    Returns
    -------
    None
        Writes ``heat.json``.

    Notes
    -----
    A few seconds. The rises are stored over their limit at high speed, so that the table varies slowly.
    """
    band_axis = (num.log(_PECLET_LOW), num.log(_PECLET_HIGH), 241)
    band = []
    for logarithm in np.linspace(*band_axis):
        peclet = num.exp(float(logarithm))
        peak = exact_band_peak(peclet)
        limit = 2.0 * num.sqrt(num.pi * peclet)
        band.append([exact_band_rise(peak, peclet) / limit, 1.5 * exact_band_mean(peclet) / limit, peak])
    ring_axis = (num.log(_RING_LOW), 0.0, 93)
    ring = [[exact_ring_factor(num.exp(float(logarithm)))] for logarithm in np.linspace(*ring_axis)]
    document = {
        name: {"axis": axis, "rows": [[float(f"{value:.10g}") for value in row] for row in rows]}
        for name, axis, rows in (("band", band_axis, band), ("ring", ring_axis, ring))
    }
    _TABLE.parent.mkdir(exist_ok=True)
    _TABLE.write_text(json.dumps(document, separators=(",", ":")) + "\n", encoding="utf-8")
    _tables.cache_clear()
