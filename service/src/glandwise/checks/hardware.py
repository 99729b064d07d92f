"""Shaft, bore and seal body with their limits and their thermal strains: what gland check and thermal fit share.

Dimensions hold at a reference temperature, 20 degC unless a request states its own; strains count from there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, NamedTuple, TypeAlias

from glandwise.checks.case import Assumed, Case
from glandwise.checks.engine import known, refusal
from glandwise.contract.duty import Duty
from glandwise.contract.energizer import TolerancedLength
from glandwise.contract.gland import BoreClass, Deviations, Gland, ShaftClass
from glandwise.contract.quantities import accepted_range
from glandwise.mechanics import expansion, fits
from glandwise.mechanics import numeric as num
from glandwise.rules.gland_model import UsualClass
from glandwise.rules.model import RuleSetData, ShaftMaterial

End: TypeAlias = Literal["nominal", "loosest", "tightest"]


class Size(NamedTuple):
    """A length with its limits [m]."""

    nominal: float
    low: float
    high: float
    tolerance_class: str | None = None


@dataclass(slots=True)
class Hardware:
    """What surrounds the seal, and the outside of its body, in SI."""

    data: RuleSetData
    case: Case
    shaft: Size
    bore: Size
    body: Size
    throat: Size
    width: float
    housing_outer_diameter: float
    shaft_material: ShaftMaterial
    shaft_material_name: str
    housing_material: ShaftMaterial
    housing_material_name: str
    offset: float
    """Distance of shaft and bore axes with half the runout; ``nan`` when no offset is stated."""
    reference: float
    """Temperature at which dimensions hold [K]."""
    records: tuple[Any, ...]

    def metal_strain(self, name: str, coefficient: float, temperature: num.Real) -> num.Real:
        """Strain of a metal from the reference temperature."""
        return expansion.strain_between(
            metal_strain(self.data, name, coefficient, temperature),
            metal_strain(self.data, name, coefficient, self.reference),
        )

    def shaft_strain(self, temperature: num.Real) -> num.Real:
        """Strain of the shaft from the reference temperature."""
        return self.metal_strain(self.shaft_material_name, self.shaft_material.mean_expansion.si, temperature)

    def housing_strain(self, temperature: num.Real) -> num.Real:
        """Strain of the housing from the reference temperature."""
        return self.metal_strain(self.housing_material_name, self.housing_material.mean_expansion.si, temperature)

    def seal_strain(self, temperature: num.Real) -> num.Real:
        """Strain of the seal's compound from the reference temperature."""
        return ptfe_strain(self.data, self.case.compound.expansion_ratio.si, temperature, self.reference)

    def ring_strain(self, temperature: num.Real) -> num.Real:
        """Strain of the O-ring's elastomer from the reference temperature."""
        assert self.case.elastomer is not None
        return self.case.elastomer.mean_expansion.si * (temperature - self.reference)


def ptfe_strain(data: RuleSetData, ratio: num.Real, temperature: num.Real, reference: float) -> num.Real:
    """Strain of a PTFE compound between two temperatures; ``ratio`` is its expansion over that of unfilled PTFE."""
    table, fit = data.expansion.ptfe_unfilled, data.expansion.cryogenic.ptfe_expansion

    def from_table_reference(t: num.Real) -> num.Real:
        return expansion.spliced_strain(
            t, table.si_temperature, table.si_coefficient, table.si_reference, fit.si_coefficients, fit.lowest_k, ratio
        )

    return expansion.strain_between(from_table_reference(temperature), from_table_reference(reference))


def metal_strain(data: RuleSetData, name: str, coefficient: float, temperature: num.Real) -> num.Real:
    """Strain of a metal from 20 degC: its mean coefficient above, a low-temperature fit below."""
    rule = data.expansion.metals
    own = rule.fits.get(name)
    fit = getattr(data.expansion.cryogenic, own or rule.other)
    start = rule.reference_temperature.si
    scale = 1.0
    if own is None:
        low = rule.shape_span.si
        rise = num.polyval(fit.si_coefficients, start) - num.polyval(fit.si_coefficients, low)
        scale = coefficient * (start - low) / rise
    return expansion.spliced_strain(
        temperature, (start, 2000.0), (coefficient, coefficient), start,
        tuple(scale * value for value in fit.si_coefficients), fit.lowest_k, 1.0, fit.flat_below_k,
    )  # fmt: skip


def strain_range(data: RuleSetData) -> tuple[float, float]:
    """Least and greatest temperature for which all strains are known [K]."""
    rule = data.expansion
    lows = [
        getattr(rule.cryogenic, f"{name}_expansion").lowest_k
        for name in ("ptfe", "austenitic_steel", "aluminium_6061", "nickel_718")
    ]
    return max(lows), float(rule.ptfe_unfilled.si_temperature[-1])


def check_temperatures(case: Case) -> None:
    """Refuse a duty whose temperatures lie outside the expansion data."""
    low, high = strain_range(case.data)
    for name, value in (("minimum", case.temperature_min), ("normal", case.temperature), ("maximum", case.temperature_max)):  # fmt: skip
        if not low <= value <= high:
            raise refusal("out_of_domain", ("duty", "temperature", name), "the expansion of PTFE is not known there",
                          accepted_range("temperature", low, high, "degC"))  # fmt: skip


def by_class(data: RuleSetData, name: str, nominal: float, location: tuple[str, ...], instead: str) -> Size:
    """Return the limits of a size by tolerance class, or refuse what the tables do not hold."""
    grades, shafts = data.gland.it_grades, data.gland.shaft_fundamental_deviations
    try:
        found = fits.limit_deviations(
            name, nominal, grades.si_over, grades.si_up_to, grades.si_columns, shafts.si_columns
        )
    except fits.ToleranceClassError as error:
        kind = [item for item in error.accepted if item[0].isupper() == name[0].isupper()]
        raise refusal("out_of_domain", location, "the tolerance class is not in the tables", ", ".join(kind)) from None
    if found.upper != found.upper:
        top = accepted_range("length", None, grades.si_up_to[-1], "mm")
        raise refusal("out_of_domain", location, "tolerance classes do not reach to this size", f"{top}, or {instead}")
    return Size(nominal, nominal + found.lower, nominal + found.upper, name)


def by_request(value: TolerancedLength) -> Size:
    """Return the limits of a length of the request."""
    return Size(value.nominal, value.low, value.high)


def _toleranced(
    case: Case, nominal: float, given: ShaftClass | BoreClass | Deviations | None, usual: UsualClass, field: str
) -> tuple[Size, tuple[Any, ...]]:
    data = case.data
    if isinstance(given, Deviations):
        return Size(nominal, nominal + given.lower, nominal + given.upper), ()
    name = usual.name
    if given is None:
        case.assumed.append(Assumed(f"/gland/{field}", None, name, f"gland.tolerance_class.{_KEY[field]}"))
    else:
        name = given.name
    size = by_class(data, name, nominal, ("gland", field), "deviations")
    records = (data.gland.it_grades, data.gland.shaft_fundamental_deviations)
    return size, records if given is not None else (usual, *records)


_KEY = {"shaft_tolerance": "shaft", "bore_tolerance": "housing_bore"}


def propose_bore(case: Case) -> float:
    """Return a bore for a shaft: the least standard one that leaves the radial section of the sizing rule."""
    data, d = case.data, case.shaft_diameter
    sizing = data.sizing.flexible_lip if case.family == "flexible_lip" else data.sizing.energized_lip
    section = num.interp(d, sizing.radial_section.si_x, sizing.radial_section.si_y)
    rows = data.gland.nominal_sizes.rows
    larger = min((shaft for shaft, _, _ in rows if shaft >= d * (1.0 - 1e-9)), default=None)
    if larger is None:
        return float(round(1e3 * (d + 2.0 * section))) * 1e-3
    bores = sorted(bore for shaft, bore, _ in rows if shaft == larger)
    bore = next((bore for bore in bores if bore - larger >= 2.0 * section), bores[-1])
    return float(d + (bore - larger)) if abs(larger - d) > 1e-9 * d else float(bore)


def _width(case: Case, bore: float) -> tuple[float, Any, str]:
    """Return the usual seal width of a shaft and bore, its record, and its rule."""
    data, d = case.data, case.shaft_diameter
    table = data.gland.nominal_sizes
    rows = [row for row in table.rows if row[0] >= d * (1.0 - 1e-9)]
    if rows:
        return min(rows, key=lambda row: (row[0], abs(row[1] - bore)))[2], table, "gland.nominal_sizes"
    sizing = data.sizing.flexible_lip if case.family == "flexible_lip" else data.sizing.energized_lip
    width = sizing.axial_width
    return float(num.interp(d, width.si_x, width.si_y)), width, f"sizing.{case.family}.axial_width"


def _material(case: Case, name: str | None, pointer: str, usual: Any, rule: str) -> tuple[str, ShaftMaterial, Any]:
    table = case.data.shaft_materials
    if name is not None:
        location = tuple(pointer.strip("/").split("/"))
        material = known(table, name, location, "material")
        return name, material, material.mean_expansion
    case.assumed.append(Assumed(pointer, None, usual.name, rule))
    return usual.name, table[usual.name], usual


def resolve(case: Case, duty: Duty, gland: Gland, reference: float | None = None) -> Hardware:
    """Fill in the hardware of a request; what is supplied is listed in the case as assumed.

    ``reference`` is the temperature at which the dimensions hold [K], that of the rule set when ``None``.
    """
    data = case.data
    rule = data.gland
    check_temperatures(case)
    records: list[Any] = []

    def assume(pointer: str, value: float, source: str, *used: Any) -> float:
        case.assumed.append(Assumed(pointer, "length", value, source))
        records.extend(used)
        return value

    d = case.shaft_diameter
    bore_diameter = duty.bore.diameter
    if bore_diameter is None:
        sizing = data.sizing.flexible_lip if case.family == "flexible_lip" else data.sizing.energized_lip
        bore_diameter = assume(
            "/duty/bore/diameter", propose_bore(case), "gland.nominal_sizes", rule.nominal_sizes, sizing.radial_section
        )
    shaft, used = _toleranced(case, d, gland.shaft_tolerance, rule.tolerance_class.shaft, "shaft_tolerance")
    records.extend(used)
    bore, used = _toleranced(
        case, bore_diameter, gland.bore_tolerance, rule.tolerance_class.housing_bore, "bore_tolerance"
    )
    records.extend(used)
    if gland.seal_width is None:
        value, record, source = _width(case, bore_diameter)
        width = assume("/gland/seal_width", value, source, record)
    else:
        width = gland.seal_width
    if gland.body_diameter is None:
        nominal = bore_diameter * (1.0 - rule.body.clearance_ratio.si)
        nominal = round(nominal, 5)
        usual = rule.tolerance_class.body
        body = by_class(data, usual.name, nominal, ("gland", "body_diameter"), "the body with its tolerances")
        assume("/gland/body_diameter", nominal, "gland.body.clearance_ratio", rule.body.clearance_ratio, usual)
    else:
        body = by_request(gland.body_diameter)
    if gland.throat_diameter is None:
        clearance = num.interp(d, rule.housing.throat_clearance.si_x, rule.housing.throat_clearance.si_y)
        usual = rule.tolerance_class.throat
        throat = by_class(
            data, usual.name, round(d + clearance, 6), ("gland", "throat_diameter"), "the opening with its tolerances"
        )
        assume(
            "/gland/throat_diameter", throat.nominal, "gland.housing.throat_clearance", rule.housing.throat_clearance
        )
    else:
        throat = by_request(gland.throat_diameter)
    if gland.housing_outer_diameter is None:
        ratio = rule.housing.outer_diameter_ratio
        outer = assume(
            "/gland/housing_outer_diameter", ratio.si * bore_diameter, "gland.housing.outer_diameter_ratio", ratio
        )
    else:
        outer = gland.housing_outer_diameter
    _check_sizes(shaft, bore, body, throat, outer, width, gland)
    shaft_name, shaft_material, shaft_record = _material(
        case, duty.shaft.material, "/duty/shaft/material", rule.housing.shaft_material, "gland.housing.shaft_material"
    )
    housing_name, housing_material, housing_record = _material(
        case, duty.bore.material, "/duty/bore/material", rule.housing.material, "gland.housing.material"
    )
    offset = num.nan if duty.offset is None else duty.offset + 0.5 * (duty.runout or 0.0)
    return Hardware(
        data=data,
        case=case,
        shaft=shaft,
        bore=bore,
        body=body,
        throat=throat,
        width=width,
        housing_outer_diameter=outer,
        shaft_material=shaft_material,
        shaft_material_name=shaft_name,
        housing_material=housing_material,
        housing_material_name=housing_name,
        offset=offset,
        reference=float(data.expansion.metals.reference_temperature.si if reference is None else reference),
        records=(*records, shaft_record, housing_record),
    )


def _check_sizes(shaft: Size, bore: Size, body: Size, throat: Size, outer: float, width: float, gland: Gland) -> None:
    """Refuse dimensions that contradict each other once everything is filled in."""
    for name, refused, accepted in (
        ("shaft_tolerance", shaft.low <= 0.0 or shaft.high >= bore.low, "a shaft smaller than the bore"),
        ("bore_tolerance", bore.low <= shaft.high, "a bore larger than the shaft"),
        ("body_diameter", not shaft.high < body.low, "more than the shaft"),
        ("body_diameter", body.high > bore.high, "a body that goes into the bore"),
        ("throat_diameter", not shaft.high < throat.high < bore.low, "between shaft and bore"),
        ("housing_outer_diameter", outer <= bore.high, "more than the bore"),
        ("groove", gland.groove is not None and not shaft.high < gland.groove.diameter.low, "a bottom above the shaft"),
        ("groove", gland.groove is not None and gland.groove.diameter.high >= body.low, "a bottom below the body"),
        ("heel_thickness", (gland.heel_thickness or 0.0) > width, "not more than the width of the seal"),
    ):  # fmt: skip
        if refused:
            raise refusal("out_of_domain", ("gland", name), "the dimensions contradict each other", accepted)
