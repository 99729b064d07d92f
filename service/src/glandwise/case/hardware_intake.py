"""The hardware of a request with everything filled in that it leaves out, as numbers or as leaves of a trace.

The same lines run on floats and on numbers that remember how they were made, so that a working says of every dimension
where it comes from.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from math import inf, nan
from types import SimpleNamespace
from typing import Any, Literal, NamedTuple

import numpy as np

from glandwise.case import hardware
from glandwise.case.choices import Retention
from glandwise.case.expansion_numbers import traced_metal
from glandwise.case.gland_numbers import GlandRules, gland_numbers_of, standard_bore
from glandwise.case.intake import Assumed, Case
from glandwise.case.tables import source_of
from glandwise.case.tolerances import ToleranceClassError, class_deviations, size_step_value, tolerance_numbers
from glandwise.contract.duty import Duty
from glandwise.contract.energizer import TolerancedLength
from glandwise.contract.gland import BoreClass, Deviations, Gland, ORingByDash, ShaftClass
from glandwise.contract.quantities import accepted_range
from glandwise.engine import known, refusal
from glandwise.mechanics.choices import ToleranceZone
from glandwise.mechanics.fits import limit_deviations
from glandwise.mechanics.retention import bridged_gap
from glandwise.numerics.docstring import Quantity
from glandwise.numerics.interpolation import curve_at
from glandwise.numerics.trace import Choice, TracedCurve, leaf, step, traced
from glandwise.rules.gland_model import ORing, ORingSeries, ThroatFit, UsualClass
from glandwise.rules.model import Curve, RuleSetData

_curve_at = traced(curve_at)
_limit_deviations = traced(limit_deviations)
_LIMITS = "limits of size, ISO 286-1"
_DEFINITION = "definition"
_FIELDS = hardware.SHAPE.fields


class Size(NamedTuple):
    """A length with its limits [m]."""

    nominal: float
    low: float
    high: float
    tolerance_class: str | None = None


@dataclass(slots=True)
class Resolved:
    """Hardware of a request."""

    numbers: dict[str, float] = field(default_factory=dict)
    """By field of the record, in SI; leaves for the traced life."""
    codes: dict[str, int] = field(default_factory=dict)
    classes: dict[str, str | None] = field(default_factory=dict)
    """Tolerance class of shaft, bore, body and throat."""
    chosen: dict[int, Any] = field(default_factory=dict)
    """Record that chose a material where the request did not."""
    assumed: list[Assumed] = field(default_factory=list)
    assumed_last: list[Assumed] = field(default_factory=list)
    """What stands behind the O-ring, groove or clamp force that machine code chooses."""

    def put(self, name: str, size: Size) -> None:
        """Note a size with its limits."""
        self.numbers.update({name: size.nominal, f"{name}_low": size.low, f"{name}_high": size.high})

    @property
    def around_groove(self) -> tuple[float, ...]:
        """Dimensions that a ring and its groove are chosen for."""
        names = ("shaft_high", "bore", "bore_low", "bore_high", "body", "body_low", "body_high", "width")
        return tuple(self.numbers[name] for name in names)

    def row(self) -> Any:
        """Return a table of one row."""
        rows = hardware.SHAPE.table(1)
        for name, value in (*self.numbers.items(), *self.codes.items()):
            rows[0][name] = value
        return rows

    def leaves(self, names: tuple[str, ...] = ()) -> SimpleNamespace:
        """Return the record for the traced life; ``names`` are those of the materials by code."""
        shape = hardware.SHAPE
        found: dict[str, Any] = {**dict.fromkeys(shape.numbers, nan), **dict.fromkeys(shape.names, -1), **self.numbers}
        for name, value in self.codes.items():
            found[name] = shape.code(name, value, names[value] if name.endswith("_metal") and names else "")
        return SimpleNamespace(**found)


class Numbers:
    """Numbers of a request and of the rules: floats, or leaves of a trace."""

    def __init__(self, is_told: bool) -> None:
        self.is_told = is_told

    def given(self, value: float, q: Quantity) -> Any:
        return leaf(value, q, "request") if self.is_told else value

    def looked_up(self, value: float, q: Quantity, *found: tuple[str, Any], how: str = "") -> Any:
        """Number that was looked up in some records."""
        if not self.is_told:
            return value
        source = "; ".join([*(source_of(path, record) for path, record in found), *([how] if how else [])])
        return leaf(value, q, source, tuple(record for _, record in found))

    def on_curve(self, curve: Curve, x: Any, q: Quantity, path: str) -> Any:
        if not self.is_told:
            return float(np.interp(x, curve.si_x, curve.si_y))
        return _curve_at(TracedCurve(q, curve.si_x, curve.si_y, source_of(path, curve), curve), x)

    @staticmethod
    def step(value: Any, q: Quantity, source: str = _DEFINITION) -> Any:
        return step(value, q, source)

    def toleranced(self, name: str, value: TolerancedLength) -> Size:
        """Size of the request with its limits."""
        parts = ((name, value.nominal), (f"{name}_low", value.low), (f"{name}_high", value.high))
        return Size(*(self.given(number, _FIELDS[part]) for part, number in parts))

    def between(self, name: str, nominal: Any, lower: Any, upper: Any, class_name: str | None = None) -> Size:
        """Size with its deviations."""
        low = self.step(nominal + lower, _FIELDS[f"{name}_low"], _LIMITS)
        return Size(nominal, low, self.step(nominal + upper, _FIELDS[f"{name}_high"], _LIMITS), class_name)

    def by_class(
        self, data: RuleSetData, name: str, class_name: str, nominal: Any, location: tuple[str, ...], instead: str,
        usual: UsualClass | None = None, chosen_by: Sequence[tuple[str, Any]] = (),
    ) -> Size:  # fmt: skip
        """Size with the limits of a tolerance class; refuses what the tables do not hold.

        ``usual`` or ``chosen_by`` are the records that chose the class where the request did not.
        """
        grades, shafts = data.gland.it_grades, data.gland.shaft_fundamental_deviations
        try:
            found = tolerance_numbers(
                class_name, float(nominal), grades.si_over, grades.si_up_to, grades.si_columns, shafts.si_columns
            )
        except ToleranceClassError as error:
            kind = [item for item in error.accepted if item[0].isupper() == class_name[0].isupper()]
            raise refusal(
                "out_of_domain", location, "the tolerance class is not in the tables", ", ".join(kind)
            ) from None
        if found.tolerance != found.tolerance or found.fundamental != found.fundamental:
            top = accepted_range("length", None, grades.si_up_to[-1], "mm")
            raise refusal(
                "out_of_domain", location, "tolerance classes do not reach to this size", f"{top}, or {instead}"
            )
        if not self.is_told:
            limits = limit_deviations(*found)
            return self.between(name, nominal, limits.lower, limits.upper, class_name)
        usually = [("gland.tolerance_class", usual)] if usual is not None else []
        records = (("gland.it_grades", grades), *usually, *chosen_by)
        IT = self.looked_up(
            found.tolerance, Quantity("IT", "m", f"Standard tolerance of {class_name} at this size"), *records
        )
        e, Delta = (
            0.0 if value == 0.0 else self.looked_up(value, q, ("gland.shaft_fundamental_deviations", shafts))
            for value, q in (
                (found.fundamental, Quantity("e", "m", f"Fundamental deviation of {class_name.lower()} at this size")),
                (found.correction, Quantity("Delta", "m", f"Correction of {class_name} at this size")),
            )
        )
        zone = Choice(found.zone, "tolerance zone", ToleranceZone(found.zone).name)
        limits = _limit_deviations(IT, e, Delta, zone)
        return self.between(name, nominal, limits.lower, limits.upper, class_name)


class Fit(NamedTuple):
    """Fit of shaft and throat that a pressure asks for."""

    path: str
    """Where it stands in the rules."""
    rule: ThroatFit
    chosen_by: tuple[tuple[str, Any], ...]
    """Records that chose it, with their places."""

    def of(self, part: Literal["shaft", "throat", "housing"]) -> tuple[tuple[str, Any], ...]:
        """Return the records behind the class of one of the two."""
        return ((f"{self.path}.{part}", getattr(self.rule, part)), *self.chosen_by)


def usual_heel_of(case: Case) -> float:
    """Return the thickness of what bridges the gap where none is stated [m]."""
    if case.family == "flexible_lip":
        return float(case.lip_thickness)
    sizing, d = case.data.sizing.energized_lip, float(case.shaft_diameter)
    standard = float(np.interp(d, sizing.heel_thickness.si_x, sizing.heel_thickness.si_y))
    return standard * sizing.extended_heel_ratio.si if case.features["heel"] == "extended" else standard


class Bridged(NamedTuple):
    """What a heel bridges at the pressure of a duty."""

    gap: float
    """Least radial gap over the temperatures [m]; infinite without pressure."""
    records: tuple[tuple[str, Any], ...]
    """What that rests on, with its places."""


def bridged_by(case: Case, heel: float) -> Bridged:
    """Return the gap that a heel of some thickness [m] bridges at the pressure of a case, at its worst temperature."""
    rule, compound, p = case.data.gland.extrusion, case.compound, float(case.pressure)
    places = (
        ("compound.yield_strength", compound.yield_strength),
        *(
            (f"gland.extrusion.{name}", getattr(rule, name))
            for name in ("strength_share", "shear_over_yield", "planes")
        ),
    )
    if not p > 0.0:
        return Bridged(inf, places)
    gaps = []
    for T in (case.temperature_min, case.temperature, case.temperature_max):
        curve = compound.yield_strength
        sigma = float(np.interp(float(T), curve.si_x, curve.si_y)) * rule.strength_share.si
        gaps.append(bridged_gap(p, heel, sigma, sigma * rule.shear_over_yield.si, rule.planes.si))
    return Bridged(min(gaps), places)


def throat_fit(data: RuleSetData, d: float, p: float, bridged: Bridged | None = None) -> Fit | None:
    """Return the fit that a pressure [Pa] asks for on a shaft [m]; ``None`` where the usual classes do.

    Where it may leave a wider gap than the rules allow under such a pressure, or more than a share of what the heel
    bridges, the next closer one.
    """
    fits = sorted(data.gland.throat_fits.items(), key=lambda item: item[1].pressure_from.si)
    at = sum(p >= fit.pressure_from.si * (1.0 - 1e-9) for _, fit in fits) - 1
    rule = data.gland.extrusion
    room = inf if bridged is None else bridged.gap * rule.fit_share.si
    by_heel = () if bridged is None else (("gland.extrusion.fit_share", rule.fit_share), *bridged.records)
    chosen: tuple[tuple[str, Any], ...]
    if at < 0:
        if not usual_clearance(data, d) > room * (1.0 + 1e-9):
            return None
        at, chosen = 0, by_heel
    else:
        chosen = ((f"gland.throat_fits.{fits[at][0]}.pressure_from", fits[at][1].pressure_from),)
    asked = at
    while at + 1 < len(fits) and greatest_clearance(data, fits[at][1], d) > min(rule.gap_max.si, room) * (1.0 + 1e-9):
        at += 1
    if at > asked:
        closer = by_heel if room < rule.gap_max.si else (("gland.extrusion.gap_max", rule.gap_max),)
        chosen = tuple(dict([*chosen, *closer]).items())
    name, fit = fits[at]
    return Fit(f"gland.throat_fits.{name}", fit, chosen)


def usual_clearance(data: RuleSetData, d: float) -> float:
    """Greatest clearance on the diameter of the usual classes with the usual opening [m]; NaN beyond the tables."""
    usual, curve = data.gland.tolerance_class, data.gland.housing.throat_clearance
    between = _clearance(data, usual.shaft, usual.throat, d)
    return between + float(np.interp(d, curve.si_x, curve.si_y))


def greatest_clearance(data: RuleSetData, fit: ThroatFit, d: float) -> float:
    """Greatest clearance of a fit on the diameter, which is the radial gap where the shaft lies at one side [m].

    NaN beyond the tables of tolerances.
    """
    return _clearance(data, fit.shaft, fit.throat, d)


def _clearance(data: RuleSetData, of_shaft: UsualClass, of_throat: UsualClass, d: float) -> float:
    grades, shafts = data.gland.it_grades, data.gland.shaft_fundamental_deviations
    tables = grades.si_over, grades.si_up_to, grades.si_columns, shafts.si_columns
    try:
        shaft, throat = (class_deviations(item.name, d, *tables) for item in (of_shaft, of_throat))
    except ToleranceClassError:  # told where the class is used
        return nan
    return float(throat.upper - shaft.lower)


def strain_range(data: RuleSetData) -> tuple[float, float]:
    """Return the least and the greatest temperature for which all strains are known [K]."""
    rule = data.expansion
    lows = [
        getattr(rule.cryogenic, f"{name}_expansion").lowest_k
        for name in ("ptfe", "austenitic_steel", "aluminium_6061", "nickel_718")
    ]
    return max(lows), float(rule.ptfe_unfilled.si_temperature[-1])


def unknown_strain(data: RuleSetData, location: Sequence[str | int]) -> Exception:
    """Return the refusal of a temperature outside the expansion data."""
    accepted = accepted_range("temperature", *strain_range(data), "degC")
    return refusal("out_of_domain", location, "the expansion of PTFE is not known there", accepted)


def check_temperatures(case: Case) -> None:
    """Refuse a duty whose temperatures lie outside the expansion data."""
    low, high = strain_range(case.data)
    for name, value in (("minimum", case.temperature_min), ("normal", case.temperature), ("maximum", case.temperature_max)):  # fmt: skip
        if not low <= value <= high:
            raise unknown_strain(case.data, ("duty", "temperature", name))


def _sizing(case: Case) -> Any:
    return case.data.sizing.flexible_lip if case.family == "flexible_lip" else case.data.sizing.energized_lip


def propose_bore(case: Case) -> float:
    """Return a bore for a shaft: the least standard one that leaves the radial section of the sizing rule [m]."""
    data, d = case.data, float(case.shaft_diameter)
    section = float(np.interp(d, _sizing(case).radial_section.si_x, _sizing(case).radial_section.si_y))
    rows = data.gland.nominal_sizes.rows
    larger = min((shaft for shaft, _, _ in rows if shaft >= d * (1.0 - 1e-9)), default=None)
    if larger is None:
        return float(round(1e3 * (d + 2.0 * section))) * 1e-3
    bore = standard_bore(data, larger, section)
    return float(d + (bore - larger)) if abs(larger - d) > 1e-9 * d else float(bore)


class _Resolver:
    """One request on its way to its hardware."""

    def __init__(
        self, case: Case, duty: Duty, gland: Gland, reference: float | None, told: SimpleNamespace | None
    ) -> None:
        self.case, self.duty, self.gland, self.data = case, duty, gland, case.data
        self.told = told
        self.n, self.found = Numbers(told is not None), Resolved()
        self.reference = reference
        self.d: Any = float(case.shaft_diameter) if told is None else told.shaft_diameter

    def run(self) -> Resolved:
        found, gland, rule = self.found, self.gland, self.data.gland
        self._reference()
        found.numbers["shaft"] = self.d
        bore = self._bore()
        self._heel()
        bridged = bridged_by(self.case, float(found.numbers["heel"]))
        self.fit = throat_fit(self.data, float(self.d), float(self.case.pressure), bridged)
        shaft = self._shaft(rule.tolerance_class.shaft)
        hole = self._toleranced("bore", bore, gland.bore_tolerance, rule.tolerance_class.housing_bore, "bore_tolerance")
        width = self._width(bore)
        body = self._body(bore)
        throat = self._throat(shaft)
        outer = self._outer(bore)
        for name, size in (("shaft", shaft), ("bore", hole), ("body", body), ("throat", throat)):
            found.put(name, size)
            found.classes[name] = size.tolerance_class
        found.numbers.update(width=width, housing=outer)
        _check_sizes(shaft, hole, body, throat, outer, width, gland)
        housing = rule.housing
        self._material("shaft_metal", self.duty.shaft.material, "/duty/shaft/material", housing.shaft_material,
                       "gland.housing.shaft_material")  # fmt: skip
        usual, path = (
            (housing.material, "gland.housing.material")
            if self.fit is None
            else (self.fit.rule.housing, f"{self.fit.path}.housing")
        )
        self._material("housing_metal", self.duty.bore.material, "/duty/bore/material", usual, path)
        retention = Retention[self.case.features["retention"]]
        found.codes["retention"] = retention
        if retention == Retention.o_ring:
            self._ring()
        elif retention == Retention.press_fit_case:
            self._case(bore)
        else:
            self._clamp(bore)
        return found

    def _assume(self, pointer: str, dimension: str | None, value: Any, source: str) -> None:
        self.found.assumed.append(Assumed(pointer, dimension, value, source))

    def _reference(self) -> None:
        if self.reference is not None:
            value = self.n.given(self.reference, _FIELDS["reference"])
        else:
            record = self.data.expansion.metals.reference_temperature
            path = "expansion.metals.reference_temperature"
            value = self.n.looked_up(float(record.si), _FIELDS["reference"], (path, record), how="ISO 1")
        self.found.numbers["reference"] = value

    def _bore(self) -> Any:
        if self.duty.bore.diameter is not None:
            return self.n.given(self.duty.bore.diameter, _FIELDS["bore"])
        value, sizes = propose_bore(self.case), self.data.gland.nominal_sizes
        self._assume("/duty/bore/diameter", "length", value, "gland.nominal_sizes")
        section = (f"sizing.{self.case.family}.radial_section", _sizing(self.case).radial_section)
        return self.n.looked_up(value, _FIELDS["bore"], ("gland.nominal_sizes", sizes), section)

    def _toleranced(
        self, name: str, nominal: Any, given: ShaftClass | BoreClass | Deviations | None, usual: UsualClass, field: str
    ) -> Size:
        if isinstance(given, Deviations):
            title = _FIELDS[name].title.partition(",")[0]
            lower, upper = (
                self.n.given(value, Quantity(f"e_{end}", "m", f"{title}, {words} deviation"))
                for end, words, value in (("lo", "lower", given.lower), ("up", "upper", given.upper))
            )
            return self.n.between(name, nominal, lower, upper)
        if given is None:
            key = "shaft" if name == "shaft" else "housing_bore"
            self._assume(f"/gland/{field}", None, usual.name, f"gland.tolerance_class.{key}")
        class_name = usual.name if given is None else given.name
        used = usual if given is None else None
        return self.n.by_class(self.data, name, class_name, nominal, ("gland", field), "deviations", used)

    def _width(self, bore: float) -> Any:
        if self.gland.seal_width is not None:
            return self.n.given(self.gland.seal_width, _FIELDS["width"])
        data, d = self.data, float(self.d)
        table = data.gland.nominal_sizes
        rows = [row for row in table.rows if row[0] >= d * (1.0 - 1e-9)]
        if rows:
            value = min(rows, key=lambda row: (row[0], abs(row[1] - float(bore))))[2]
            self._assume("/gland/seal_width", "length", value, "gland.nominal_sizes")
            return self.n.looked_up(value, _FIELDS["width"], ("gland.nominal_sizes", table))
        path, curve = f"sizing.{self.case.family}.axial_width", _sizing(self.case).axial_width
        found = self.n.on_curve(curve, self.d, _FIELDS["width"], path)
        self._assume("/gland/seal_width", "length", float(found), path)
        return found

    def _body(self, bore: Any) -> Size:
        given, rule = self.gland.body_diameter, self.data.gland
        if given is not None:
            return self.n.toleranced("body", given)
        record, usual = rule.body.clearance_ratio, rule.tolerance_class.body
        value = round(float(bore) * (1.0 - record.si), 5)
        nominal = self.n.looked_up(value, _FIELDS["body"], ("gland.body.clearance_ratio", record), how="rounded")
        instead = "the body with its tolerances"
        size = self.n.by_class(self.data, "body", usual.name, nominal, ("gland", "body_diameter"), instead, usual)
        self._assume("/gland/body_diameter", "length", value, "gland.body.clearance_ratio")
        return size

    def _shaft(self, usual: UsualClass) -> Size:
        """Shaft in its usual class, or in that of the fit that the pressure asks for."""
        given, fit = self.gland.shaft_tolerance, self.fit
        if given is not None or fit is None:
            return self._toleranced("shaft", self.d, given, usual, "shaft_tolerance")
        name = fit.rule.shaft.name
        self._assume("/gland/shaft_tolerance", None, name, f"{fit.path}.shaft")
        location = ("gland", "shaft_tolerance")
        return self.n.by_class(self.data, "shaft", name, self.d, location, "deviations", chosen_by=fit.of("shaft"))

    def _throat(self, shaft: Size) -> Size:
        """Opening behind the seal: stated, by the fit that the pressure asks for, or with the usual clearance."""
        given, rule = self.gland.throat_diameter, self.data.gland
        if given is not None:
            return self.n.toleranced("throat", given)
        instead = "the opening with its tolerances"
        if (fit := self.fit) is not None:
            # a shaft that is stated to be larger than its nominal size goes through its opening all the same
            nominal = shaft.high if float(shaft.high) > float(self.d) else self.d
            location, chosen = ("gland", "throat_diameter"), fit.of("throat")
            size = self.n.by_class(
                self.data, "throat", fit.rule.throat.name, nominal, location, instead, chosen_by=chosen
            )
            self._assume("/gland/throat_diameter", "length", float(nominal), f"{fit.path}.throat")
            return size
        curve, usual, d = rule.housing.throat_clearance, rule.tolerance_class.throat, float(self.d)
        value = round(d + float(np.interp(d, curve.si_x, curve.si_y)), 6)
        path = "gland.housing.throat_clearance"
        nominal = self.n.looked_up(value, _FIELDS["throat"], (path, curve), how="rounded")
        size = self.n.by_class(self.data, "throat", usual.name, nominal, ("gland", "throat_diameter"), instead, usual)
        self._assume("/gland/throat_diameter", "length", value, path)
        return size

    def _outer(self, bore: Any) -> Any:
        if self.gland.housing_outer_diameter is not None:
            return self.n.given(self.gland.housing_outer_diameter, _FIELDS["housing"])
        record, path = self.data.gland.housing.outer_diameter_ratio, "gland.housing.outer_diameter_ratio"
        share = self.n.looked_up(record.si, Quantity("f_o", "-", "Housing over bore"), (path, record))
        found = self.n.step(share * bore, _FIELDS["housing"])
        self._assume("/gland/housing_outer_diameter", "length", float(found), path)
        return found

    def _material(self, field_name: str, name: str | None, pointer: str, usual: Any, rule: str) -> None:
        table = self.data.shaft_materials
        if name is not None:
            known(table, name, tuple(pointer.strip("/").split("/")), "material")
        else:
            self._assume(pointer, None, usual.name, rule)
            name = usual.name
            self.found.chosen[list(table).index(name)] = usual
        self.found.codes[field_name] = list(table).index(name)

    def _ring(self) -> None:
        given, groove, found = self.gland.o_ring, self.gland.groove, self.found
        if isinstance(given, ORingByDash):
            sized = size_of(self.data, given.dash)
            if sized is None:
                spans = ", ".join(f"{table.dash[0]} to {table.dash[-1]}" for table in self.data.o_rings.as568.values())
                raise refusal("unknown_name", ("gland", "o_ring", "dash"), "no size of this number", spans)
            key, series, ring = sized
            put_ring(found, self.n, ring, source_of(f"o_rings.as568.{key}", series), (series,))
        elif given is not None:
            found.put("ring_inner", self.n.toleranced("ring_inner", given.inner_diameter))
            found.put("ring_section", self.n.toleranced("ring_section", given.section))
        if groove is not None:
            found.put("groove", self.n.toleranced("groove", groove.diameter))
            found.put("groove_width", self.n.toleranced("groove_width", groove.width))

    def _case(self, bore: Any) -> None:
        rule, given, found = self.data.gland.press_fit, self.gland.case, self.found
        if given is not None and given.outer_diameter is not None:
            found.put("case", self.n.toleranced("case", given.outer_diameter))
        else:
            table = self.data.gland.case_interference
            lower, upper = (
                self.n.looked_up(
                    size_step_value(float(bore), table.si_over, table.si_up_to, table.si_columns[end]),
                    Quantity(f"e_K_{end[:2]}", "m", f"Interference of the case, {end} end"),
                    ("gland.case_interference", table),
                )
                for end in ("lower", "upper")
            )
            low, high = (
                self.n.step(bore + value, _FIELDS[f"case_{end}"]) for end, value in (("low", lower), ("high", upper))
            )
            nominal = self.n.step(bore + 0.5 * (lower + upper), _FIELDS["case"])
            found.put("case", Size(nominal, low, high))
            if float(low) == float(low):
                self._assume("/gland/case/outer_diameter", "length", float(nominal), "gland.case_interference")
        found.numbers["case_wall"] = self._case_wall(bore, rule)
        found.numbers["case_length"] = self._case_length(rule)
        if given is not None and given.material is not None:
            known(self.data.shaft_materials, given.material, ("gland", "case", "material"), "material")
            found.codes["case_metal"] = list(self.data.shaft_materials).index(given.material)
        else:
            self._material("case_metal", None, "/gland/case/material", rule.material, "gland.press_fit.material")
        if given is not None and given.yield_strength is not None:
            found.numbers["case_strength"] = self.n.given(given.yield_strength, _FIELDS["case_strength"])
        else:
            path, record = "gland.press_fit.yield_strength", rule.yield_strength
            found.numbers["case_strength"] = self.n.looked_up(record.si, _FIELDS["case_strength"], (path, record))
            self._assume("/gland/case/yield_strength", "stress", record.si, path)

    def _case_wall(self, bore: Any, rule: Any) -> Any:
        given = self.gland.case
        if given is not None and given.wall_thickness is not None:
            return self.n.given(given.wall_thickness, _FIELDS["case_wall"])
        path = "gland.press_fit.wall_thickness"
        wall = self.n.on_curve(rule.wall_thickness, bore, _FIELDS["case_wall"], path)
        self._assume("/gland/case/wall_thickness", "length", float(wall), path)
        return wall

    def _case_length(self, rule: Any) -> Any:
        given = self.gland.case
        if given is not None and given.length is not None:
            return self.n.given(given.length, _FIELDS["case_length"])
        path, record = "gland.press_fit.length_share", rule.length_share
        share = self.n.looked_up(record.si, Quantity("f_K", "-", "Case over seal width"), (path, record))
        length = self.n.step(share * self.found.numbers["width"], _FIELDS["case_length"])
        self._assume("/gland/case/length", "length", float(length), "gland.press_fit.length")
        return length

    def _clamp(self, bore: Any) -> None:
        rule, given, found = self.data.gland.retention, self.gland.clamp, self.found
        outer, inner = bore, None if given is None else given.inner_diameter
        if given is not None and given.outer_diameter is not None:
            outer = self.n.given(given.outer_diameter, _FIELDS["clamp_outer"])
        found.numbers["clamp_outer"] = outer
        if inner is not None:
            found.numbers["clamp_inner"] = self.n.given(inner, _FIELDS["clamp_inner"])
        else:
            path, record = "gland.retention.clamp_face_share", rule.clamp_face_share
            share = self.n.looked_up(record.si, Quantity("f_face", "-", "Clamped share of the section"), (path, record))
            proposed = self.n.step(outer - share * (bore - self.d), _FIELDS["clamp_inner"])
            found.numbers["clamp_inner"] = proposed
            self._assume("/gland/clamp/inner_diameter", "length", float(proposed), path)
        if given is not None and given.force is not None:
            found.numbers["clamp_force"] = self.n.given(given.force, _FIELDS["clamp_force"])

    def _heel(self) -> None:
        """Thickness of what bridges the gap, and the heels to compare."""
        case, numbers = self.case, self.found.numbers
        if self.gland.heel_thickness is not None:
            numbers["heel"] = numbers["heel_standard"] = self.n.given(self.gland.heel_thickness, _FIELDS["heel"])
            return
        if case.family == "flexible_lip":
            numbers["heel"] = float(case.lip_thickness) if self.told is None else self.told.lip_thickness
            numbers["heel_standard"] = numbers["heel"]
            return
        sizing, path = case.data.sizing.energized_lip, "sizing.energized_lip"
        standard = self.n.on_curve(
            sizing.heel_thickness, self.d, _FIELDS["heel_standard"], f"{path}.heel_thickness"
        )  # fmt: skip
        record = sizing.extended_heel_ratio
        ratio = Quantity("f_h", "-", "Extended over standard heel")
        more = self.n.looked_up(record.si, ratio, (f"{path}.extended_heel_ratio", record))
        extended = self.n.step(standard * more, _FIELDS["heel_extended"])
        numbers["heel_standard"], numbers["heel_extended"] = standard, extended
        numbers["heel"] = extended if case.features["heel"] == "extended" else standard
        pointer = "/gland/heel_thickness"
        self.found.assumed_last.append(Assumed(pointer, "length", float(numbers["heel"]), f"{path}.heel_thickness"))


def size_of(data: RuleSetData, dash: int) -> tuple[str, ORingSeries, ORing] | None:
    """Return the size of an O-ring by its number, with the name of its series and the series."""
    for key, series in data.o_rings.as568.items():
        if dash in series.dash:
            return key, series, series.rings[series.dash.index(dash)]
    return None


def put_ring(found: Resolved, n: Numbers, ring: ORing, source: str, rests_on: tuple[Any, ...]) -> None:
    """Note a size of the series."""
    for name, nominal, tolerance in (
        ("ring_inner", ring.inner_diameter, ring.inner_diameter_tolerance),
        ("ring_section", ring.section, ring.section_tolerance),
    ):
        values = ((name, nominal), (f"{name}_low", nominal - tolerance), (f"{name}_high", nominal + tolerance))
        for part, value in values:
            found.numbers[part] = leaf(value, _FIELDS[part], source, rests_on) if n.is_told else value
    found.codes["dash"] = ring.dash


def resolve(
    case: Case, duty: Duty, gland: Gland, reference: float | None = None, told: SimpleNamespace | None = None
) -> Resolved:
    """Fill in the hardware of a request.

    ``reference`` is the temperature at which the dimensions hold [K], that of the rule set when ``None``; ``told`` is the
    case as leaves, its dimensions filled in, for the traced life.
    """
    return _Resolver(case, duty, gland, reference, told).run()


def put_chosen(data: RuleSetData, found: Resolved, row: Any, around: tuple[Any, ...]) -> None:
    """Note ring and groove that machine code chose, as leaves; ``around`` are the records that what is around rests on."""
    n, rule = Numbers(is_told=True), data.gland
    limits, choice = rule.o_ring_gland, rule.o_ring_choice
    rests_on = (
        *(getattr(limits, item.name) for item in fields(limits)),
        *(getattr(choice, item.name) for item in fields(choice)),
        rule.body.offset_share,
        *around,
    )
    how = "rule gland.o_ring_choice, found by a search within the limits of gland.o_ring_gland"
    if "ring_inner" not in found.numbers and row["dash"] >= 0:
        sized = size_of(data, int(row["dash"]))
        assert sized is not None
        key, series, ring = sized
        source = f"{source_of(f'o_rings.as568.{key}', series)}; size {ring.dash:03d}; {how}"
        put_ring(found, n, ring, source, (series, *rests_on))
    if "groove" not in found.numbers and row["groove"] == row["groove"]:
        usual = rule.tolerance_class
        for name, usual_class in (("groove", usual.groove_diameter), ("groove_width", usual.groove_width)):
            nominal = leaf(float(row[name]), _FIELDS[name], how, rests_on)
            found.put(name, n.by_class(data, name, usual_class.name, nominal, ("gland", "groove"), "", usual_class))


def traced_rules(data: RuleSetData, found: Resolved) -> GlandRules:
    """Return the numbers of the rules for glands as leaves, with the records that chose materials."""
    return with_chosen_metals(data, found.chosen)


def with_chosen_metals(data: RuleSetData, chosen: Mapping[int, Any]) -> GlandRules:
    """Return the numbers of the rules for glands as leaves; ``chosen`` are the records that chose a material, by its code."""
    rules = gland_numbers_of(data).leaves
    return rules._replace(metals=_Metals(data, rules.metals, chosen))


class _Metals:
    """Metals of the rules as leaves, by their codes; those that were chosen rest on what chose them."""

    __slots__ = ("_chosen", "_data", "_metals")

    def __init__(self, data: RuleSetData, metals: Any, chosen: Mapping[int, Any]) -> None:
        self._data, self._metals, self._chosen = data, metals, chosen

    def __getitem__(self, code: int) -> Any:
        at = int(code)
        if at in self._chosen:
            return traced_metal(self._data, "shaft_materials", list(self._data.shaft_materials)[at], self._chosen[at])
        return self._metals[at]


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
