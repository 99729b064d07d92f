"""Limits and fits: ISO 286 deviations, Lamé interference fits, extrusion gaps, O-ring glands and lead-ins.

Tables (tolerance grades, fundamental deviations, lead-in chamfers) are rule data and arrive as arguments; what is in
this module is the rules for reading them and the mechanics.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from glandwise.twofold import numeric as num
from glandwise.twofold.numeric import Real

# A size that arrives through a unit conversion may miss its own step edge by rounding: 80 mm must stay in 50-80.
_EDGE = 1.0 - 1.0e-9

# ISO 286-1: standard tolerance = multiple of the tolerance factor i, grades IT5..IT13, sizes up to 500 mm.
_GRADE_MULTIPLES = {5: 7.0, 6: 10.0, 7: 16.0, 8: 25.0, 9: 40.0, 10: 64.0, 11: 100.0, 12: 160.0, 13: 250.0}

_CLASS = re.compile(r"([A-Za-z]{1,2})(\d{1,2})")
_CLEARANCE_LETTERS = ("d", "e", "f", "g", "h")
_TRANSITION_LETTERS = ("k", "m", "n", "p")
# ISO 286-1: holes K, M and N to IT8, P to IT7, take the mirrored shaft deviation plus the correction IT(n) - IT(n-1);
# coarser P takes it without, coarser K, M and N are not supported here.
_CORRECTED_HOLES = {"K": 8, "M": 8, "N": 8, "P": 7}


class ToleranceClassError(ValueError):
    """A tolerance class that the tables at hand do not support; ``accepted`` says what they do."""

    def __init__(self, requested: str, accepted: tuple[str, ...]) -> None:
        super().__init__(f"tolerance class not supported; accepted: {', '.join(accepted)}")
        self.requested = requested
        self.accepted = accepted


class Deviations(NamedTuple):
    """Limit deviations from the nominal size."""

    upper: Real
    """Upper limit deviation (es or ES) [m]."""
    lower: Real
    """Lower limit deviation (ei or EI) [m]."""


class CylinderStress(NamedTuple):
    """Stresses in a thick-walled cylinder at one radius, tension positive."""

    radial: Real
    """Radial stress [Pa]."""
    hoop: Real
    """Hoop stress [Pa]."""


class InterferenceFit(NamedTuple):
    """Contact pressure and stresses of an interference fit, tension positive."""

    pressure: Real
    """Contact pressure; zero where the parts clear each other [Pa]."""
    outer_bore_hoop: Real
    """Hoop stress in the outer part at the interface [Pa]."""
    outer_rim_hoop: Real
    """Hoop stress in the outer part at its outer radius [Pa]."""
    inner_interface_hoop: Real
    """Hoop stress in the inner part at the interface [Pa]."""
    inner_bore_hoop: Real
    """Hoop stress in the inner part at its bore; for a solid part the uniform stress [Pa]."""
    outer_growth: Real
    """Radial growth of the outer part at the interface [m]."""
    inner_shrinkage: Real
    """Radial shrinkage of the inner part at the interface [m]."""


class RadialGap(NamedTuple):
    """Radial gap between a bore and a round part in it."""

    diametral_clearance: Real
    """Bore diameter less part diameter, zero when they interfere [m]."""
    concentric: Real
    """Gap on the radius with both axes coincident [m]."""
    actual: Real
    """Largest gap on the radius at the stated offset of the axes [m]."""
    worst: Real
    """Largest gap on the radius with the part touching the bore on the other side [m]."""


class ORingGland(NamedTuple):
    """Condition of an O-ring in an outer-diameter groove closed by a bore."""

    stretch: Real
    """Stretch of the inner diameter on the groove; negative when the ring is loose on it [-]."""
    section: Real
    """Section diameter of the ring on its groove, unsqueezed [m]."""
    depth: Real
    """Radial depth between groove bottom and bore [m]."""
    squeeze: Real
    """Compression of the section across the gland; negative when it does not touch [m]."""
    squeeze_ratio: Real
    """Squeeze over the installed section diameter [-]."""
    fill: Real
    """Section area of the ring over that of the gland [-]."""


class ORingExtremes(NamedTuple):
    """The two ends of an O-ring gland's condition over all tolerances."""

    loosest: ORingGland
    """Least squeeze and least fill; its stretch is the least [-]."""
    tightest: ORingGland
    """Most squeeze and most fill; its stretch is the greatest [-]."""


class LeadIn(NamedTuple):
    """Lead-in chamfer of a shaft end."""

    reduction: Real
    """Reduction of diameter over the chamfer [m]."""
    small_diameter: Real
    """Diameter at the small end [m]."""
    length: Real
    """Axial length of the chamfer [m]."""


class HousingBore(NamedTuple):
    """Proportions of the housing bore for a seal width."""

    depth: Real
    """Least bore depth [m]."""
    chamfer_min: Real
    """Least axial length of the lead-in chamfer [m]."""
    chamfer_max: Real
    """Greatest axial length of the lead-in chamfer [m]."""
    corner_radius: Real
    """Greatest radius in the bottom corner [m]."""


def size_step_value(size: Real, over: Sequence[float], up_to: Sequence[float], values: Sequence[float]) -> Real:
    r"""Return the value of a table by nominal size steps "over ... up to and including ...".

    .. math:: v = v_k, \qquad D_{\mathrm{over},k} < D \le D_{\mathrm{up\,to},k}

    Parameters
    ----------
    size : float or array
        Nominal size :math:`D`. [m]
    over : sequence of float
        Lower bounds of the steps, exclusive, increasing. [m]
    up_to : sequence of float
        Upper bounds of the steps, inclusive, increasing, as many as ``over``. [m]
    values : sequence of float
        One value per step, in the unit wanted back; ``nan`` marks an empty cell. [as given]

    Returns
    -------
    float or array
        The step's value; ``nan`` below the first step, above the last, in a hole between steps and in an empty cell.
        [as given]

    Notes
    -----
    A size on a step's edge belongs to the lower step; 1e-9 of the size is allowed for unit conversion. The table is
    never extrapolated.

    References
    ----------
    ISO 286-1:2010, tables of standard tolerances, heading "above / up to and including" (standard, from memory).
    """
    last = len(up_to) - 1
    if num.is_array(size):
        sizes = np.asarray(size, dtype=float)
        index = np.minimum(np.searchsorted(np.asarray(up_to, dtype=float), sizes * _EDGE, side="left"), last)
        inside = (sizes * _EDGE <= up_to[last]) & (sizes * _EDGE > np.asarray(over, dtype=float)[index])
        return np.where(inside, np.asarray(values, dtype=float)[index], num.nan)
    reduced = size * _EDGE
    if not reduced <= up_to[last]:
        return num.nan
    step = bisect_left(up_to, reduced)
    return float(values[step]) if reduced > over[step] else num.nan


def tolerance_factor(lower_size: Real, upper_size: Real) -> Real:
    r"""Return the standard tolerance factor of a size step up to 500 mm.

    .. math:: i = 0.45\,\sqrt[3]{D} + 0.001\,D, \qquad D = \sqrt{D_1 D_2}

    Parameters
    ----------
    lower_size : float or array
        Lower bound :math:`D_1` of the step; 1 mm for the first step. [m]
    upper_size : float or array
        Upper bound :math:`D_2` of the step; up to 0.5 m. [m]

    Returns
    -------
    float or array
        Tolerance factor :math:`i` (micrometres in the printed formula, with :math:`D` in millimetres). [m]

    Notes
    -----
    A check on the tables only: the standard's tables are rounded and are what counts.

    References
    ----------
    ISO 286-1:2010, basis of the system (standard, from memory).
    """
    mean = num.sqrt(lower_size * upper_size) * 1.0e3
    return (0.45 * num.power(mean, 1.0 / 3.0) + 0.001 * mean) * 1.0e-6


def formula_tolerance(grade: int, lower_size: Real, upper_size: Real) -> Real:
    r"""Return the unrounded standard tolerance of a grade, from the tolerance factor.

    .. math:: \mathrm{IT}_n = c_n\, i

    Parameters
    ----------
    grade : int
        Grade number, 5 to 13. [-]
    lower_size : float or array
        Lower bound of the size step; 1 mm for the first step. [m]
    upper_size : float or array
        Upper bound of the size step; up to 0.5 m. [m]

    Returns
    -------
    float or array
        Tolerance before the standard's rounding. [m]

    Raises
    ------
    ToleranceClassError
        If the grade is outside 5 to 13.

    Notes
    -----
    Multiples 7, 10, 16, 25, 40, 64, 100, 160, 250 for IT5 to IT13. For checking tables, not for use in place of them.

    References
    ----------
    ISO 286-1:2010, basis of the system (standard, from memory).
    """
    if grade not in _GRADE_MULTIPLES:
        raise ToleranceClassError(f"IT{grade}", tuple(f"IT{number}" for number in _GRADE_MULTIPLES))
    return _GRADE_MULTIPLES[grade] * tolerance_factor(lower_size, upper_size)


def accepted_classes(
    grades: Mapping[str, Sequence[float]], shaft_deviations: Mapping[str, Sequence[float]]
) -> tuple[str, ...]:
    r"""List the tolerance classes that a set of tables supports.

    .. math:: \{\text{letter}\} \times \{\text{grade}\}

    Parameters
    ----------
    grades : mapping of str to sequence of float
        Columns of standard tolerances by name, ``"IT5"`` and so on. [m]
    shaft_deviations : mapping of str to sequence of float
        Fundamental deviations of shafts by letter, same steps. [m]

    Returns
    -------
    tuple of str
        Class designations, holes before shafts. [-]

    Notes
    -----
    h, H, js and JS need no fundamental deviation. A hole K, M, N or P needs the next finer grade too.

    References
    ----------
    ISO 286-1:2010 (standard, from memory).
    """
    numbers = sorted(int(name[2:]) for name in grades)
    below = [letter for letter in ("d", "e", "f", "g") if letter in shaft_deviations]
    above = [letter for letter in _TRANSITION_LETTERS if letter in shaft_deviations]
    holes = [f"{letter.upper()}{number}" for letter in [*below, "h", "js"] for number in numbers]
    for letter in above:
        top = _CORRECTED_HOLES[letter.upper()]
        coarse = letter == "p"
        holes += [
            f"{letter.upper()}{number}"
            for number in numbers
            if (number <= top and number - 1 in numbers) or (number > top and coarse)
        ]
    shafts = [f"{letter}{number}" for letter in [*below, "h", "js", *above] for number in numbers]
    return (*holes, *shafts)


def limit_deviations(
    tolerance_class: str,
    size: Real,
    over: Sequence[float],
    up_to: Sequence[float],
    grades: Mapping[str, Sequence[float]],
    shaft_deviations: Mapping[str, Sequence[float]] | None = None,
) -> Deviations:
    r"""Return the limit deviations of a tolerance class such as ``"h11"`` or ``"H8"``.

    .. math::
        \text{shaft d..h:}\; ei = es - \mathrm{IT} \qquad \text{shaft k..p:}\; es = ei + \mathrm{IT} \qquad
        \text{js, JS:}\; \pm \mathrm{IT}/2

        \text{hole D..H:}\; EI = -es,\; ES = EI + \mathrm{IT} \qquad
        \text{hole K..P:}\; ES = -ei + (\mathrm{IT}_n - \mathrm{IT}_{n-1}),\; EI = ES - \mathrm{IT}

    Parameters
    ----------
    tolerance_class : str
        Letter (case sensitive: capital for a hole) and grade. [-]
    size : float or array
        Nominal size. [m]
    over : sequence of float
        Lower bounds of the size steps, exclusive. [m]
    up_to : sequence of float
        Upper bounds of the size steps, inclusive. [m]
    grades : mapping of str to sequence of float
        Standard tolerances by grade name ``"IT5"`` ..., one value per step. [m]
    shaft_deviations : mapping of str to sequence of float, optional
        Fundamental deviation of shafts by letter, one signed value per step: es for d to g, ei for k to p. [m]

    Returns
    -------
    Deviations
        Upper and lower limit deviation; ``nan`` for a size outside the table. [m]

    Raises
    ------
    ToleranceClassError
        If letter or grade is not supported by the tables given; it lists what is.

    Notes
    -----
    js and JS keep half micrometres (the standard permits rounding of some). Shaft k is ei = 0 outside IT4 to IT7.
    The correction of holes K to P applies above 3 mm and to K, M, N up to IT8 (coarser ones are refused) and P up to
    IT7 (coarser ones go without); M6 over 250 to 315 mm is 2 um off the rule, as tabulated.
    Letters a, b, c and r upwards need intermediate steps and are refused.

    References
    ----------
    ISO 286-1:2010, rules for fundamental deviations (standard, from memory).
    """
    deviations = shaft_deviations or {}
    match = _CLASS.fullmatch(tolerance_class)
    letter, grade = (match[1], int(match[2])) if match else ("", 0)
    name = f"IT{grade}"
    shaft = letter.islower()
    low = letter.lower()
    known = low in {"h", "js"} or (low in deviations and low in _CLEARANCE_LETTERS + _TRANSITION_LETTERS)
    if not known or not (letter.islower() or letter.isupper()) or name not in grades:
        raise ToleranceClassError(tolerance_class, accepted_classes(grades, deviations))
    tolerance = size_step_value(size, over, up_to, grades[name])
    if low == "js":
        return Deviations(0.5 * tolerance, -0.5 * tolerance)
    zero = [0.0] * len(up_to)
    fundamental = size_step_value(size, over, up_to, zero if low == "h" else deviations[low])
    if low in _CLEARANCE_LETTERS:
        if shaft:
            return Deviations(fundamental, fundamental - tolerance)
        return Deviations(tolerance - fundamental, 0.0 - fundamental)
    if shaft:
        if low == "k" and not 4 <= grade <= 7:
            fundamental = 0.0 * fundamental
        return Deviations(fundamental + tolerance, fundamental)
    if letter == "P" and grade > _CORRECTED_HOLES["P"]:
        return Deviations(0.0 - fundamental, 0.0 - fundamental - tolerance)
    finer = f"IT{grade - 1}"
    if grade > _CORRECTED_HOLES[letter] or finer not in grades:
        raise ToleranceClassError(tolerance_class, accepted_classes(grades, deviations))
    correction = num.where(size * _EDGE > 3.0e-3, tolerance - size_step_value(size, over, up_to, grades[finer]), 0.0)
    if letter == "M" and grade == 6:
        exception = size_step_value(size, [0.0, 0.25, 0.315], [0.25, 0.315, num.inf], [0.0, 2.0e-6, 0.0])
        correction = correction + exception
    upper = correction - fundamental
    return Deviations(upper, upper - tolerance)


def cylinder_stress(
    radius: Real, inner_radius: Real, outer_radius: Real, inner_pressure: Real, outer_pressure: Real
) -> CylinderStress:
    r"""Return Lamé's stresses in a thick-walled cylinder.

    .. math:: \sigma_{r,\theta} = A \mp \frac{B}{r^2}, \quad
        A = \frac{p_i r_i^2 - p_o r_o^2}{r_o^2 - r_i^2}, \quad
        B = \frac{(p_i - p_o)\, r_i^2 r_o^2}{r_o^2 - r_i^2}

    Parameters
    ----------
    radius : float or array
        Radius of interest, from ``inner_radius`` to ``outer_radius``, above 0. [m]
    inner_radius : float or array
        Bore radius, 0 for a solid cylinder. [m]
    outer_radius : float or array
        Outer radius, above ``inner_radius``. [m]
    inner_pressure : float or array
        Pressure on the bore. [Pa]
    outer_pressure : float or array
        Pressure on the outside. [Pa]

    Returns
    -------
    CylinderStress
        Radial and hoop stress, tension positive; ``nan`` for impossible radii. [Pa]

    Notes
    -----
    Linear elastic, axisymmetric, any axial stress constant over the section.

    References
    ----------
    G. Lamé (1852); Budynas & Nisbett, Shigley's Mechanical Engineering Design, ch. 3, stresses in pressurized
    cylinders (published, from memory).
    """
    inner, outer = inner_radius * inner_radius, outer_radius * outer_radius
    wall = num.where((outer > inner) & (inner_radius >= 0.0), outer - inner, num.nan)
    a = num.divide(inner_pressure * inner - outer_pressure * outer, wall)
    b = num.divide((inner_pressure - outer_pressure) * inner * outer, wall)
    ratio = num.divide(b, radius * radius)
    inside = (radius >= inner_radius * _EDGE) & (radius * _EDGE <= outer_radius)
    return CylinderStress(num.where(inside, a - ratio, num.nan), num.where(inside, a + ratio, num.nan))


def bore_growth(
    pressure: Real,
    bore_radius: Real,
    outer_radius: Real,
    modulus: Real,
    poisson: Real,
    axial_stress: Real = 0.0,
) -> Real:
    r"""Return the radial growth of a housing bore under internal pressure.

    .. math:: u = \frac{R}{E}\left[p\,\frac{r_o^2 + R^2}{r_o^2 - R^2} + \nu p - \nu \sigma_z\right]

    Parameters
    ----------
    pressure : float or array
        Internal gauge pressure. [Pa]
    bore_radius : float or array
        Bore radius :math:`R`. [m]
    outer_radius : float or array
        Outer radius :math:`r_o` of the housing wall, above ``bore_radius``; ``inf`` for a block. [m]
    modulus : float or array
        Young's modulus of the housing. [Pa]
    poisson : float or array
        Poisson's ratio of the housing. [-]
    axial_stress : float or array
        Axial stress in the wall: 0 for an open end, :math:`p R^2/(r_o^2 - R^2)` for a closed one. [Pa]

    Returns
    -------
    float or array
        Radial growth at the bore; ``nan`` if the outer radius is not the greater. [m]

    Notes
    -----
    Long cylinder, pressure over its whole length: an upper value for a short pressurised length.

    References
    ----------
    G. Lamé (1852); Shigley's Mechanical Engineering Design, ch. 3 (published, from memory).
    """
    share = num.divide(bore_radius, num.where(outer_radius > bore_radius, outer_radius, num.nan))
    ratio = (1.0 + share * share) / (1.0 - share * share)
    return bore_radius / modulus * (pressure * (ratio + poisson) - poisson * axial_stress)


def interference_fit(
    interference: Real,
    interface_radius: Real,
    inner_radius: Real,
    outer_radius: Real,
    inner_modulus: Real,
    inner_poisson: Real,
    outer_modulus: Real,
    outer_poisson: Real,
) -> InterferenceFit:
    r"""Return pressure, hoop stresses and displacements of an interference fit of two rings.

    .. math:: p = \frac{\delta}{R\left[\dfrac{1}{E_o}\left(\dfrac{r_o^2+R^2}{r_o^2-R^2}+\nu_o\right)
        + \dfrac{1}{E_i}\left(\dfrac{R^2+r_i^2}{R^2-r_i^2}-\nu_i\right)\right]}

    Parameters
    ----------
    interference : float or array
        Interference :math:`\delta` **on the radius**; negative is clearance. [m]
    interface_radius : float or array
        Common radius :math:`R`. [m]
    inner_radius : float or array
        Bore radius of the inner part, 0 if solid. [m]
    outer_radius : float or array
        Outer radius of the outer part. [m]
    inner_modulus, inner_poisson : float or array
        Young's modulus [Pa] and Poisson's ratio of the inner part. [-]
    outer_modulus, outer_poisson : float or array
        Young's modulus [Pa] and Poisson's ratio of the outer part. [-]

    Returns
    -------
    InterferenceFit
        Pressure and stresses [Pa], displacements [m]; ``nan`` unless inner < interface < outer radius.

    Notes
    -----
    Plane stress (free ends), linear elastic, equal lengths. A PTFE part creeps: pass its relaxed modulus. As a hole
    in the inner part shrinks to nothing its bore stress tends to twice that of a solid part, so the two cases differ.

    References
    ----------
    Shigley's Mechanical Engineering Design, ch. 3, press and shrink fits; Roark's Formulas for Stress and Strain,
    thick-walled cylinders (published, from memory).
    """
    square, inner, outer = (
        interface_radius * interface_radius,
        inner_radius * inner_radius,
        outer_radius * outer_radius,
    )
    valid = (inner_radius >= 0.0) & (inner < square) & (square < outer)
    hub = num.divide(outer + square, num.where(valid, outer - square, num.nan))
    sleeve = num.divide(square + inner, num.where(valid, square - inner, num.nan))
    outer_compliance = interface_radius / outer_modulus * (hub + outer_poisson)
    inner_compliance = interface_radius / inner_modulus * (sleeve - inner_poisson)
    pressure = num.maximum(num.divide(interference, outer_compliance + inner_compliance), 0.0)
    bore = num.where(inner_radius > 0.0, sleeve + 1.0, 1.0)
    return InterferenceFit(
        pressure=pressure,
        outer_bore_hoop=pressure * hub,
        outer_rim_hoop=pressure * (hub - 1.0),
        inner_interface_hoop=-pressure * sleeve,
        inner_bore_hoop=-pressure * bore,
        outer_growth=pressure * outer_compliance,
        inner_shrinkage=pressure * inner_compliance,
    )


def same_material_pressure(
    interference: Real, interface_radius: Real, inner_radius: Real, outer_radius: Real, modulus: Real
) -> Real:
    r"""Return the pressure of an interference fit of two rings of one material.

    .. math:: p = \frac{E\,\delta}{2R^3}\,\frac{(r_o^2-R^2)(R^2-r_i^2)}{r_o^2-r_i^2}

    Parameters
    ----------
    interference : float or array
        Interference on the radius, not negative. [m]
    interface_radius : float or array
        Common radius :math:`R`. [m]
    inner_radius : float or array
        Bore radius of the inner part, 0 if solid. [m]
    outer_radius : float or array
        Outer radius of the outer part. [m]
    modulus : float or array
        Young's modulus. [Pa]

    Returns
    -------
    float or array
        Contact pressure. [Pa]

    Notes
    -----
    Poisson's ratio cancels. Some texts write it with the diametral interference and diameters: same value.

    References
    ----------
    Shigley's Mechanical Engineering Design, ch. 3 (published, from memory).
    """
    square, inner, outer = (
        interface_radius * interface_radius,
        inner_radius * inner_radius,
        outer_radius * outer_radius,
    )
    shape = num.divide((outer - square) * (square - inner), outer - inner)
    return modulus * interference / (2.0 * square * interface_radius) * shape


def radial_gap(
    bore_diameter: Real,
    part_diameter: Real,
    offset: Real = 0.0,
    bore_growth: Real = 0.0,
    bore_strain: Real = 0.0,
    part_strain: Real = 0.0,
) -> RadialGap:
    r"""Return the radial gap of a round part in a bore, concentric, offset and at worst.

    .. math:: c = D(1+\varepsilon_D) + 2u - d(1+\varepsilon_d), \quad
        g = \tfrac{c}{2} + \min\left(e, \tfrac{c}{2}\right), \quad g_{\max} = c

    Parameters
    ----------
    bore_diameter : float or array
        Bore diameter :math:`D` at the reference temperature. [m]
    part_diameter : float or array
        Diameter :math:`d` of the part in it (shaft or seal body). [m]
    offset : float or array
        Distance :math:`e` between the axes, not negative. [m]
    bore_growth : float or array
        Radial growth :math:`u` of the bore under pressure. [m]
    bore_strain : float or array
        Thermal strain of the bore from the reference temperature. [-]
    part_strain : float or array
        Thermal strain of the part from the reference temperature. [-]

    Returns
    -------
    RadialGap
        Diametral clearance and the concentric, actual and worst radial gaps. [m]

    Notes
    -----
    Rigid round parts. The part cannot be offset by more than the concentric gap, so the worst case is the whole
    diametral clearance on one side. Give the largest bore and the smallest part for the tolerance extreme.

    References
    ----------
    Geometry; no constant used.
    """
    clearance = num.maximum(
        bore_diameter * (1.0 + bore_strain) + 2.0 * bore_growth - part_diameter * (1.0 + part_strain), 0.0
    )
    half = 0.5 * clearance
    return RadialGap(clearance, half, half + num.minimum(num.absolute(offset), half), clearance)


def stretched_section(section: Real, inner_diameter: Real, groove_diameter: Real) -> Real:
    r"""Return the section diameter of an O-ring stretched on a groove.

    .. math:: d'^2\,(D_g + d') = d^2\,(d_i + d)

    Parameters
    ----------
    section : float or array
        Free section diameter :math:`d`. [m]
    inner_diameter : float or array
        Free inner diameter :math:`d_i`. [m]
    groove_diameter : float or array
        Groove bottom diameter :math:`D_g`. [m]

    Returns
    -------
    float or array
        Section diameter on the groove; the free one where the ring is not stretched. [m]

    Notes
    -----
    Constant volume, section stays round (exact for an incompressible thin ring): d' = d sqrt(D/D') of the mean
    diameters, solved for the new mean diameter too.

    References
    ----------
    Volume constancy; no constant used.
    """
    groove = num.maximum(groove_diameter, inner_diameter)
    volume = section * section * (inner_diameter + section)
    x = section
    # Convex and increasing, started above the root: Newton's steps fall to it without overshoot; 5 reach rounding.
    for _ in range(5):
        x = x - (x * x * (groove + x) - volume) / (x * (2.0 * groove + 3.0 * x))
    return x


def o_ring_gland(
    bore_diameter: Real,
    groove_diameter: Real,
    groove_width: Real,
    inner_diameter: Real,
    section: Real,
    offset: Real = 0.0,
    bore_strain: Real = 0.0,
    body_strain: Real = 0.0,
    ring_strain: Real = 0.0,
) -> ORingGland:
    r"""Return stretch, squeeze and fill of an O-ring in the outer diameter of a seal.

    .. math:: s = \frac{D_g}{d_i} - 1, \quad h = \frac{D_b - D_g}{2} + e, \quad
        C = 1 - \frac{h}{d'}, \quad \Phi = \frac{\pi d'^2}{4\,h\,w}

    Parameters
    ----------
    bore_diameter : float or array
        Bore diameter :math:`D_b`. [m]
    groove_diameter : float or array
        Groove bottom diameter :math:`D_g`. [m]
    groove_width : float or array
        Groove width :math:`w`. [m]
    inner_diameter : float or array
        Free inner diameter :math:`d_i` of the ring. [m]
    section : float or array
        Free section diameter :math:`d` of the ring. [m]
    offset : float or array
        Signed offset :math:`e` of the body from the bore's axis towards (negative) or away from the point looked at.
        [m]
    bore_strain, body_strain, ring_strain : float or array
        Strains from the reference condition of the bore, of the seal body and, with swelling added, of the ring. [-]

    Returns
    -------
    ORingGland
        Stretch, section, depth, squeeze, squeeze ratio and fill; ``nan`` fill where the depth is not positive.

    Notes
    -----
    Sections taken as areas: the mean diameters of ring and gland are not distinguished. A ring looser than its groove
    (negative stretch) keeps its free section. The strains scale every dimension of their part.

    References
    ----------
    Geometry and volume constancy; ISO 3601-2 defines the terms (standard, not consulted).
    """
    bore = bore_diameter * (1.0 + bore_strain)
    groove = groove_diameter * (1.0 + body_strain)
    width = groove_width * (1.0 + body_strain)
    inner = inner_diameter * (1.0 + ring_strain)
    installed = stretched_section(section * (1.0 + ring_strain), inner, groove)
    depth = 0.5 * (bore - groove) + offset
    squeeze = installed - depth
    area = 0.25 * num.pi * installed * installed
    return ORingGland(
        stretch=groove / inner - 1.0,
        section=installed,
        depth=depth,
        squeeze=squeeze,
        squeeze_ratio=squeeze / installed,
        fill=num.divide(area, num.where(depth > 0.0, depth, num.nan) * width),
    )


def o_ring_extremes(
    bore_diameter: tuple[Real, Real],
    groove_diameter: tuple[Real, Real],
    groove_width: tuple[Real, Real],
    inner_diameter: tuple[Real, Real],
    section: tuple[Real, Real],
    offset: Real = 0.0,
    bore_strain: Real = 0.0,
    body_strain: Real = 0.0,
    ring_strain: Real = 0.0,
) -> ORingExtremes:
    r"""Return the loosest and the tightest condition of an O-ring gland over all tolerances.

    .. math:: C_{\min} = C(D_b^{+}, D_g^{-}, d_i^{-}, d^{-}, +e), \qquad
        C_{\max} = C(D_b^{-}, D_g^{+}, d_i^{+}, d^{+}, -e)

    Parameters
    ----------
    bore_diameter : pair of float or array
        Least and greatest bore diameter. [m]
    groove_diameter : pair of float or array
        Least and greatest groove bottom diameter. [m]
    groove_width : pair of float or array
        Least and greatest groove width. [m]
    inner_diameter : pair of float or array
        Least and greatest free inner diameter of the ring. [m]
    section : pair of float or array
        Least and greatest free section diameter of the ring. [m]
    offset : float or array
        Greatest offset of the body's axis from the bore's, not negative. [m]
    bore_strain, body_strain, ring_strain : float or array
        Strains of bore, seal body and ring from the reference condition. [-]

    Returns
    -------
    ORingExtremes
        Two conditions. ``stretch`` in them is the least and the greatest stretch, whose corners differ from those of
        squeeze in the ring's inner diameter.

    Notes
    -----
    Squeeze falls with bore diameter and rises with groove diameter, ring inner diameter and section; fill likewise,
    and falls with width. For the groove diameter this needs 4 h < 2 D_g + 3 d', which holds for any gland shallower
    than half its diameter, so that the two corners are the exact extremes of all 2^5.

    References
    ----------
    Interval arithmetic on :func:`o_ring_gland`.
    """
    strains = (bore_strain, body_strain, ring_strain)
    loose = o_ring_gland(
        bore_diameter[1], groove_diameter[0], groove_width[1], inner_diameter[0], section[0], offset, *strains
    )
    tight = o_ring_gland(
        bore_diameter[0], groove_diameter[1], groove_width[0], inner_diameter[1], section[1], -offset, *strains
    )
    scale = (1.0 + body_strain) / (1.0 + ring_strain)
    return ORingExtremes(
        loosest=loose._replace(stretch=groove_diameter[0] / inner_diameter[1] * scale - 1.0),
        tightest=tight._replace(stretch=groove_diameter[1] / inner_diameter[0] * scale - 1.0),
    )


def shaft_lead_in(
    shaft_diameter: Real,
    angle: Real,
    over: Sequence[float],
    up_to: Sequence[float],
    reductions: Sequence[float],
) -> LeadIn:
    r"""Return the lead-in chamfer of a shaft end from a table of diameter reductions.

    .. math:: d_3 = d_1 - \Delta(d_1), \qquad l = \frac{\Delta}{2\tan\beta}

    Parameters
    ----------
    shaft_diameter : float or array
        Shaft diameter :math:`d_1`. [m]
    angle : float or array
        Angle :math:`\beta` of the chamfer to the axis, 0 to pi/2. [rad]
    over, up_to : sequence of float
        Size steps of the table, exclusive and inclusive. [m]
    reductions : sequence of float
        Diameter reduction per step. [m]

    Returns
    -------
    LeadIn
        Reduction, small diameter and axial length; ``nan`` outside the table. [m]

    Notes
    -----
    Table and permitted angles are rule data (ISO 6194-1 gives 15 to 30 degrees).

    References
    ----------
    ISO 6194-1, shaft lead-in chamfer (standard, from memory).
    """
    reduction = size_step_value(shaft_diameter, over, up_to, reductions)
    return LeadIn(reduction, shaft_diameter - reduction, num.divide(0.5 * reduction, num.tan(angle)))


def housing_bore(
    width: Real,
    over: Sequence[float],
    up_to: Sequence[float],
    extra_depth: Sequence[float],
    chamfer_min: Sequence[float],
    chamfer_max: Sequence[float],
    corner_radius: Sequence[float],
) -> HousingBore:
    r"""Return the least depth, the chamfer and the corner radius of a housing bore for a seal width.

    .. math:: t \ge b + \Delta t(b)

    Parameters
    ----------
    width : float or array
        Nominal seal width :math:`b`. [m]
    over, up_to : sequence of float
        Width steps of the table, exclusive and inclusive. [m]
    extra_depth : sequence of float
        Least depth beyond the seal width :math:`\Delta t`, per step. [m]
    chamfer_min, chamfer_max : sequence of float
        Limits of the chamfer's axial length, per step. [m]
    corner_radius : sequence of float
        Greatest bottom corner radius, per step. [m]

    Returns
    -------
    HousingBore
        Depth, chamfer limits and corner radius; ``nan`` outside the table. [m]

    Notes
    -----
    The table is rule data.

    References
    ----------
    ISO 6194-1, housing bore dimensions (standard, from memory).
    """
    extra, low, high, radius = (
        size_step_value(width, over, up_to, column) for column in (extra_depth, chamfer_min, chamfer_max, corner_radius)
    )
    return HousingBore(width + extra, low, high, radius)
