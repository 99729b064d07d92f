"""The numbers of a rule set for glands and for expansion, as formulas take them: see :mod:`glandwise.case.numbers`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from types import SimpleNamespace
from typing import Any, NamedTuple, Protocol

import numpy as np

from glandwise.case.expansion_numbers import (
    METAL_TYPE,
    PTFE_TYPE,
    MetalNumbers,
    PtfeExpansion,
    packed_metals,
    packed_points,
    packed_ptfe,
    traced_metal,
    traced_ptfe,
)
from glandwise.case.tables import CURVE, POINTS, LazyRows, OneRow, Rows, at_path, record_dtype, source_of, traced_datum
from glandwise.case.tolerances import ToleranceClassError, class_deviations
from glandwise.mechanics.fits import Deviations
from glandwise.numerics.docstring import Quantity, attributes
from glandwise.numerics.interpolation import CurveRecord
from glandwise.numerics.trace import Choice, TracedCurve, leaf
from glandwise.rules.gland_model import ThroatFit, UsualClass
from glandwise.rules.model import Curve, Elastomer, RuleSetData
from glandwise.rules.once import OncePerRuleSet


class GlandConstants:
    """Numbers that hold for every gland."""

    reference_temperature: float
    """T_20 [K]: Temperature from which expansions of metals count"""
    shape_span: float
    """T_span [K]: Lower end of the span over which a lent shape is scaled"""
    energizer_least: float
    """f_least [-]: Least deflection of an energizer over that as made"""
    energizer_greatest: float
    """f_most [-]: Greatest deflection of an energizer over that at which it closes"""
    offset_share: float
    """f_off [-]: Share of the clearance by which the body sits off centre"""
    squeeze_max: float
    """C_most [-]: Greatest squeeze of an O-ring as assembled"""
    squeeze_min: float
    """C_least [-]: Least squeeze of an O-ring as assembled"""
    squeeze_min_absolute: float
    """s_least [m]: Least squeeze of an O-ring of any section as assembled"""
    squeeze_service_max: float
    """C_most_T [-]: Greatest squeeze of an O-ring in service"""
    squeeze_service_min: float
    """C_least_T [-]: Least squeeze of an O-ring in service"""
    stretch_min: float
    """S_least [-]: Least stretch of an O-ring"""
    stretch_target: float
    """S_aim [-]: Stretch of an O-ring aimed at"""
    stretch_max: float
    """S_most [-]: Greatest stretch of an O-ring"""
    fill_target: float
    """Phi_aim [-]: Fill of a groove aimed at"""
    fill_max: float
    """Phi_most [-]: Greatest fill of a groove"""
    depth_share: float
    """f_depth [-]: Greatest depth of a groove over the radial distance of shaft and bore"""
    width_share: float
    """f_width [-]: Greatest width of a groove over that of the seal"""
    aim: float
    """f_aim [-]: Share of a limit of squeeze and fill to which a groove is cut"""
    ring_model_limit: float
    """C_model [-]: Greatest squeeze for which the load of an O-ring is known"""
    friction_ring: float
    """mu_groove [-]: Static friction of an O-ring in its groove, dry"""
    friction_ring_wet: float
    """mu_groove [-]: Static friction of an O-ring in its groove, wetted"""
    friction_face: float
    """mu_face [-]: Static friction of PTFE on metal"""
    friction_case: float
    """mu_case [-]: Static friction of metal on metal"""
    margin: float
    """n_margin [-]: Least holding torque over lip torque"""
    breakaway: float
    """f_break [-]: Friction of a lip after standing over that in running"""
    seating_share: float
    """f_seat [-]: Share of the thrust of the sealed pressure that seats the body"""
    clamp_kept: float
    """f_kept [-]: Share of a clamp force that creep leaves"""
    clamp_pressure_share: float
    """f_long [-]: Pressure that a clamped face stands for long over the yield strength"""
    clamp_aim: float
    """f_clamp [-]: Share of that pressure for which a clamp force is proposed"""
    interference_min: float
    """i_least [m]: Least interference of a case"""
    shear_share: float
    """f_sh [-]: Strength of a heel in shear over that in tension"""
    planes: float
    """n_sh [-]: Shear planes of a heel"""
    strength_share: float
    """f_life [-]: Share of the yield strength that a heel may see for its life"""
    fresh_time: float
    """t_fresh [s]: Time after which a new lip is looked at"""
    housing_ratio: float
    """f_o [-]: Outside diameter of a housing over its bore"""

    PATHS: Mapping[str, str] = {
        "reference_temperature": "expansion.metals.reference_temperature",
        "shape_span": "expansion.metals.shape_span",
        "energizer_least": "expansion.energizer_travel.least_share",
        "energizer_greatest": "expansion.energizer_travel.greatest_share",
        "offset_share": "gland.body.offset_share",
        "squeeze_max": "gland.o_ring_gland.squeeze_max",
        "squeeze_min": "gland.o_ring_gland.squeeze_min",
        "squeeze_min_absolute": "gland.o_ring_gland.squeeze_min_absolute",
        "squeeze_service_max": "gland.o_ring_gland.squeeze_service_max",
        "squeeze_service_min": "gland.o_ring_gland.squeeze_service_min",
        "stretch_min": "gland.o_ring_gland.stretch_min",
        "stretch_target": "gland.o_ring_gland.stretch_target",
        "stretch_max": "gland.o_ring_gland.stretch_max",
        "fill_target": "gland.o_ring_gland.fill_target",
        "fill_max": "gland.o_ring_gland.fill_max",
        "depth_share": "gland.o_ring_choice.depth_share",
        "width_share": "gland.o_ring_choice.width_share",
        "aim": "gland.o_ring_choice.aim",
        "ring_model_limit": "sizing.energizer.o_ring_squeeze_limit",
        "friction_ring": "gland.static_friction.elastomer_on_ptfe",
        "friction_ring_wet": "gland.static_friction.elastomer_on_ptfe_lubricated",
        "friction_face": "gland.static_friction.ptfe_on_metal",
        "friction_case": "gland.static_friction.metal_on_metal",
        "margin": "gland.retention.margin_min",
        "breakaway": "gland.retention.breakaway_factor",
        "seating_share": "gland.retention.seating_share",
        "clamp_kept": "gland.retention.clamp_force_kept",
        "clamp_pressure_share": "gland.retention.clamp_pressure_share",
        "clamp_aim": "gland.retention.clamp_aim",
        "interference_min": "gland.press_fit.interference_min",
        "shear_share": "gland.extrusion.shear_over_yield",
        "planes": "gland.extrusion.planes",
        "strength_share": "gland.extrusion.strength_share",
        "fresh_time": "running.fresh_time",
        "housing_ratio": "gland.housing.outer_diameter_ratio",
    }


class RubberNumbers:
    """Numbers of the elastomer of an O-ring."""

    mean_expansion: float
    """alpha_r [1/K]: Mean expansion of the O-ring"""
    friction_dry: float
    """mu_bore [-]: Static friction of the O-ring on the bore, dry"""
    friction_lubricated: float
    """mu_bore [-]: Static friction of the O-ring on the bore, wetted"""
    compression_set: float
    """f_cs [-]: Share of the squeeze of the O-ring that is lost for good"""


class RubberRecord(RubberNumbers):
    """Numbers of the elastomer of an O-ring, with the lower end of its hardness."""

    hardness: float


class RingSizes(Protocol):
    """One size of O-ring."""

    series: int
    dash: int
    inner: float
    inner_tolerance: float
    section: float
    section_tolerance: float


class GrooveLimits(Protocol):
    """Limit deviations of groove bottom and width by steps of size, the first ``n`` of them."""

    over: Sequence[float]
    up_to: Sequence[float]
    bottom_lower: Sequence[float]
    bottom_upper: Sequence[float]
    width_lower: Sequence[float]
    width_upper: Sequence[float]
    n: int


class ThroatNumbers(Protocol):
    """The closest fit of shaft and throat that the rules ask for, by steps of size."""

    shaft_lower: CurveRecord
    """Lower deviation of the shaft."""
    throat_upper: CurveRecord
    """Upper deviation of the throat."""
    shaft_metal: int
    """Material of a shaft of which nothing is stated."""
    housing_metal: int


class BoreNumbers(Protocol):
    """What a bore of usual size has room for."""

    thickest: float
    """Section of the thickest O-rings of the series."""
    flexible: CurveRecord
    """Radial distance of shaft and standard bore that a flexible lip takes, by steps of the shaft."""
    energized: CurveRecord
    """The same for an energized lip."""


class GlandRules(NamedTuple):
    """Numbers of a rule set for glands: tables of records, or leaves with the same names."""

    constants: Rows[GlandConstants]
    ptfe: Rows[PtfeExpansion]
    metals: Rows[MetalNumbers]
    """Materials of shaft, housing and case."""
    alloys: Rows[MetalNumbers]
    rubbers: Rows[RubberRecord]
    rings: Any
    """Sizes of O-rings: the thickest section first, within it by dash number."""
    grooves: Rows[GrooveLimits]
    throats: Rows[ThroatNumbers]
    bores: Rows[BoreNumbers]


_STEPS = (POINTS,)
DTYPES: Mapping[str, np.dtype[Any]] = {
    "constants": record_dtype(GlandConstants),
    "ptfe": PTFE_TYPE,
    "metals": METAL_TYPE,
    "alloys": METAL_TYPE,
    "rubbers": record_dtype(RubberNumbers, ("hardness", "f8")),
    "rings": np.dtype(
        [
            ("series", "i8"),
            ("dash", "i8"),
            ("inner", "f8"),
            ("inner_tolerance", "f8"),
            ("section", "f8"),
            ("section_tolerance", "f8"),
        ]
    ),
    "grooves": np.dtype(
        [
            *((name, "f8", _STEPS) for name in ("over", "up_to", "bottom_lower", "bottom_upper")),
            *((name, "f8", _STEPS) for name in ("width_lower", "width_upper")),
            ("n", "i8"),
        ]
    ),
    "throats": np.dtype(
        [("shaft_lower", CURVE), ("throat_upper", CURVE), ("shaft_metal", "i8"), ("housing_metal", "i8")]
    ),
    "bores": np.dtype([("thickest", "f8"), ("flexible", CURVE), ("energized", CURVE)]),
}


def empty() -> GlandRules:
    """Return tables of zeros: what a kernel is warmed with."""
    return GlandRules(**{name: np.zeros(1, DTYPES[name]) for name in GlandRules._fields})


def sized_series(data: RuleSetData) -> list[Any]:
    """Return the series of O-rings, the thickest first."""
    return sorted(data.o_rings.as568.values(), key=lambda item: -item.section)


def packed(data: RuleSetData) -> GlandRules:
    """Pack the numbers of a rule set for glands."""
    constants = np.zeros(1, DTYPES["constants"])
    for name, path in GlandConstants.PATHS.items():
        constants[0][name] = at_path(data, path).si
    ptfe = packed_ptfe(data)
    metals, alloys = packed_metals(data, data.shaft_materials), packed_metals(data, data.alloys)
    rubbers = np.zeros(len(data.elastomers) + 1, DTYPES["rubbers"])
    for row, rubber in zip(rubbers, data.elastomers.values(), strict=False):
        for name in attributes(RubberNumbers):
            row[name] = getattr(rubber, name).si
        row["hardness"] = rubber.hardness.si_low
    sizes = [
        (number, ring.dash, ring.inner_diameter, ring.inner_diameter_tolerance, ring.section, ring.section_tolerance)
        for number, series in enumerate(sized_series(data))
        for ring in series.rings
    ]
    rings = np.array(sizes, DTYPES["rings"])
    return GlandRules(
        constants, ptfe, metals, alloys, rubbers, rings, _groove_limits(data), _throats(data), _bores(data)
    )


def standard_bore(data: RuleSetData, shaft: float, section: float) -> float:
    """Return the least bore of a standard shaft that leaves a radial section, else the greatest there is [m]."""
    bores = sorted(bore for d, bore, _ in data.gland.nominal_sizes.rows if d == shaft)
    return next((float(bore) for bore in bores if bore - shaft >= 2.0 * section), float(bores[-1]))


def _spaces(data: RuleSetData, section: Curve) -> tuple[list[float], list[float]]:
    """Return the radial distance of shaft and standard bore by steps of the shaft: what a shaft in the step has at the most."""
    shafts = sorted({float(row[0]) for row in data.gland.nominal_sizes.rows})
    sections = [float(np.interp(shaft, section.si_x, section.si_y)) for shaft in shafts]
    bores = [standard_bore(data, *item) for item in zip(shafts, sections, strict=True)]
    return shafts, [0.5 * (bore - shaft) for shaft, bore in zip(shafts, bores, strict=True)]


def _bores(data: RuleSetData) -> Any:
    found, sizing = np.zeros(1, DTYPES["bores"]), data.sizing
    row = found[0]
    row["thickest"] = sized_series(data)[0].rings[0].section
    row["flexible"] = packed_points(*_spaces(data, sizing.flexible_lip.radial_section))
    row["energized"] = packed_points(*_spaces(data, sizing.energized_lip.radial_section))
    return found


def closest_fit(data: RuleSetData) -> tuple[str, ThroatFit]:
    """Return the closest fit of shaft and throat that the rules ask for, with its place in them."""
    name, fit = max(data.gland.throat_fits.items(), key=lambda item: item[1].pressure_from.si)
    return f"gland.throat_fits.{name}", fit


def _steps(data: RuleSetData, usual: UsualClass) -> Iterator[tuple[float, Deviations]]:
    """Yield the steps of the tables of tolerances with the limit deviations of a class in each."""
    grades, shafts = data.gland.it_grades, data.gland.shaft_fundamental_deviations
    for size in grades.si_up_to:
        try:
            limits = class_deviations(
                usual.name, size, grades.si_over, grades.si_up_to, grades.si_columns, shafts.si_columns
            )
        except ToleranceClassError:  # told where the class is used
            limits = Deviations(np.nan, np.nan)
        yield float(size), limits


def _throat_curves(data: RuleSetData, fit: ThroatFit) -> tuple[tuple[list[float], list[float]], ...]:
    """Return the lower deviation of the shaft and the upper one of the throat, by steps of size."""
    shaft, throat = list(_steps(data, fit.shaft)), list(_steps(data, fit.throat))
    sizes = [size for size, _ in shaft]
    return (sizes, [float(item.lower) for _, item in shaft]), (sizes, [float(item.upper) for _, item in throat])


def _throats(data: RuleSetData) -> Any:
    found, (_, fit), names = np.zeros(1, DTYPES["throats"]), closest_fit(data), list(data.shaft_materials)
    row = found[0]
    row["shaft_lower"], row["throat_upper"] = (packed_points(*points) for points in _throat_curves(data, fit))
    row["shaft_metal"] = names.index(data.gland.housing.shaft_material.name)
    row["housing_metal"] = names.index(fit.housing.name)
    return found


def _groove_limits(data: RuleSetData) -> Any:
    rule, found = data.gland, np.zeros(1, DTYPES["grooves"])
    grades = rule.it_grades
    count = len(grades.si_over)
    row = found[0]
    row["over"][:count], row["up_to"][:count], row["n"] = grades.si_over, grades.si_up_to, count
    for part, usual in (("bottom", rule.tolerance_class.groove_diameter), ("width", rule.tolerance_class.groove_width)):
        for step, (_, limits) in enumerate(_steps(data, usual)):
            row[f"{part}_lower"][step], row[f"{part}_upper"][step] = limits.lower, limits.upper
    return found


# ----------------------------------------------------------------------------------------------- for the traced life

_SECTION = Quantity("s_0", "m", "Section of the thickest O-ring")
_HARDNESS = Quantity("S_A", "-", "Hardness of the O-ring, Shore A, lower end")


def _traced_rubber(name: str, record: Elastomer) -> SimpleNamespace:
    path = f"elastomers.{name}"
    found = {
        field: traced_datum(q, getattr(record, field), f"{path}.{field}")
        for field, q in attributes(RubberNumbers).items()
    }
    hardness = record.hardness
    found["hardness"] = leaf(hardness.si_low, _HARDNESS, source_of(f"{path}.hardness", hardness), hardness)
    return SimpleNamespace(**found)


def _traced_bores(data: RuleSetData) -> SimpleNamespace:
    series, sizes = sized_series(data)[0], data.gland.nominal_sizes
    key = next(name for name, item in data.o_rings.as568.items() if item is series)

    def space(section: Curve, family: str) -> TracedCurve:
        q = Quantity("w_std", "m", "Radial distance of shaft and standard bore")
        source = f"{source_of('gland.nominal_sizes', sizes)}; {source_of(f'sizing.{family}.radial_section', section)}"
        return TracedCurve(q, *_spaces(data, section), source, (sizes, section))

    return SimpleNamespace(
        thickest=leaf(series.rings[0].section, _SECTION, source_of(f"o_rings.as568.{key}", series), series),
        flexible=space(data.sizing.flexible_lip.radial_section, "flexible_lip"),
        energized=space(data.sizing.energized_lip.radial_section, "energized_lip"),
    )


def _traced_throat(data: RuleSetData) -> SimpleNamespace:
    (path, fit), rule, names = closest_fit(data), data.gland, list(data.shaft_materials)

    def curve(points: tuple[list[float], list[float]], part: str, symbol: str, title: str) -> TracedCurve:
        usual: UsualClass = getattr(fit, part)
        q = Quantity(symbol, "m", f"{title} in {usual.name}")
        parts = (usual, rule.it_grades, *(() if usual.name[0] in "hH" else (rule.shaft_fundamental_deviations,)))
        return TracedCurve(q, *points, source_of(f"{path}.{part}", usual), parts)

    shaft, throat = _throat_curves(data, fit)
    shaft_metal, housing_metal = rule.housing.shaft_material.name, fit.housing.name
    return SimpleNamespace(
        shaft_lower=curve(shaft, "shaft", "e_lo", "Lower deviation of the shaft"),
        throat_upper=curve(throat, "throat", "E_up", "Upper deviation of the throat"),
        shaft_metal=Choice(names.index(shaft_metal), "material of the shaft", shaft_metal),
        housing_metal=Choice(names.index(housing_metal), "material of the housing", housing_metal),
    )


def leaves(data: RuleSetData) -> GlandRules:
    """Return the numbers of a rule set for glands as leaves of a trace."""
    constants = {
        name: traced_datum(q, at_path(data, GlandConstants.PATHS[name]), GlandConstants.PATHS[name])
        for name, q in attributes(GlandConstants).items()
    }
    metals, alloys, rubbers = list(data.shaft_materials), list(data.alloys), list(data.elastomers)
    return GlandRules(
        constants=OneRow(SimpleNamespace(**constants)),
        ptfe=OneRow(traced_ptfe(data)),
        metals=LazyRows(lambda code: traced_metal(data, "shaft_materials", metals[code])),
        alloys=LazyRows(lambda code: traced_metal(data, "alloys", alloys[code])),
        rubbers=LazyRows(lambda code: _traced_rubber(rubbers[code], data.elastomers[rubbers[code]])),
        rings=None,
        grooves=OneRow(None),
        throats=OneRow(_traced_throat(data)),
        bores=OneRow(_traced_bores(data)),
    )


class GlandNumbers:
    """The numbers of one rule set for glands."""

    def __init__(self, data: RuleSetData) -> None:
        self.packed = packed(data)
        """Tables for machine code."""
        self.leaves = leaves(data)
        """Leaves for a trace."""


gland_numbers_of = OncePerRuleSet(
    GlandNumbers, ("gland", "expansion", "shaft_materials", "alloys", "elastomers", "o_rings", "sizing", "running")
)
"""The numbers of a rule set for glands."""
