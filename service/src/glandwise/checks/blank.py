"""What does it take to machine a number of seals from tube or rod: blank, mass, yield, features.

Quantities only. Money is the caller's own rates times these quantities.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from glandwise import units as unit_table
from glandwise.checks import working_totals
from glandwise.checks.case import Assumed, Case, build
from glandwise.checks.engine import Engine, Trace, refusal
from glandwise.checks.report import assumption, cautions
from glandwise.contract.blank import BlankRequest
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.contract.quantities import accepted_range
from glandwise.mechanics import numeric as num
from glandwise.units import UnitSystem

HOUR = 3600.0
WHOLE = 1e-9
"""Lengths written in decimals may divide to a hair less than a whole number."""
NOTES = [
    "The section is taken as a body with one cavity behind the lip; chamfers, grooves and the forming of the lip are left "
    "out of the net mass.",
    "Lengths are cut one after another; the rest of the last length goes back to stock and counts in its mass only.",
]
_KEPT = frozenset({"/design/lip_thickness", "/design/lip_length", "/design/interference"})


class Part(NamedTuple):
    """Finished part, SI."""

    outer_diameter: float
    inner_diameter: float
    width: float
    volume: float


class Plan(NamedTuple):
    """Allowances and stock, SI."""

    form: str
    outer_diameter: float
    inner_diameter: float
    """0 for a rod."""
    length: float
    face: float
    parting: float
    chucking: float
    reject_share: float
    least_outer: float
    greatest_inner: float | None
    """``None`` where no tube has so small a bore."""


class _Supply:
    """Gives what the request states, or what the rules say, noted as assumed."""

    def __init__(self) -> None:
        self.assumed: list[Assumed] = []
        self.trace = Trace()

    def value(self, given: float | None, pointer: str, dimension: str, value: float, rule: str, *records: Any) -> float:
        """Return a value, noting where it came from."""
        if given is not None:
            return given
        self.assumed.append(Assumed(pointer, dimension, value, rule))
        self.trace.add(*records)
        return value


def part(request: BlankRequest, case: Case, supply: _Supply) -> Part:
    """Return the finished part."""
    data, design, d = case.data, request.design, request.duty.shaft_diameter
    sizing: Any = data.sizing.flexible_lip if isinstance(design, FlexibleLip) else data.sizing.energized_lip
    family = design.family

    def by_shaft(name: str) -> float:
        record = getattr(sizing, name)
        return float(num.interp(d, record.si_x, record.si_y))

    outer = supply.value(
        request.duty.bore.diameter, "/duty/bore/diameter", "length", d + 2.0 * by_shaft("radial_section"),
        f"sizing.{family}.radial_section", sizing.radial_section,
    )  # fmt: skip
    if design.retention == "press_fit_case":
        record = data.gland.press_fit.wall_thickness
        outer -= 2.0 * float(num.interp(outer, record.si_x, record.si_y))
        supply.trace.add(record)
        if outer <= d:
            raise refusal("out_of_domain", ("duty", "bore", "diameter"), "the case leaves no room for the seal",
                          "more than the shaft diameter and two walls of the case")  # fmt: skip
    width, width_rule, records = by_shaft("axial_width"), f"sizing.{family}.axial_width", [sizing.axial_width]
    if isinstance(design, EnergizedLip) and design.heel == "extended":
        width += by_shaft("heel_thickness") * (sizing.extended_heel_ratio.si - 1.0)
        records += [sizing.heel_thickness, sizing.extended_heel_ratio]
    width = supply.value(request.axial_width, "/axial_width", "length", width, width_rule, *records)
    inner = max(d - float(case.interference), 0.0)
    thickness, length = float(case.lip_thickness), float(case.lip_length)
    radial = 0.5 * (outer - inner)
    if isinstance(design, FlexibleLip):
        supply.trace.add(data.blank.outer_wall_share)
        wall = data.blank.outer_wall_share.si * radial
    else:
        # the static leg is as thick as the lip
        wall = thickness
    height, depth = max(radial - thickness - wall, 0.0), min(length, width)
    # by Pappus: the cavity lies between lip and outer wall
    cavity = num.pi * (inner + 2.0 * thickness + height) * height * depth
    return Part(outer, inner, width, num.pi * 0.25 * (outer * outer - inner * inner) * width - cavity)


def _pieces(length: float, chucking: float, pitch: float) -> int:
    """Return how many pieces a length gives."""
    return max(math.floor((length - chucking) / pitch + WHOLE), 0)


def plan(request: BlankRequest, made: Part, case: Case, supply: _Supply, units: UnitSystem) -> Plan:
    """Choose the stock and the allowances."""
    rule, given, stock = case.data.blank, request.allowances, request.stock

    def allowance(value: float | None, name: str, field: str) -> float:
        record = getattr(rule, field)
        usual = float(num.interp(made.outer_diameter, record.si_x, record.si_y))
        return supply.value(value, f"/allowances/{name}", "length", usual, f"blank.{field}", record)

    outer = allowance(given.outer, "outer", "outer_allowance")
    inner = allowance(given.inner, "inner", "inner_allowance")
    face = allowance(given.face, "face", "face_allowance")
    parting = allowance(given.parting, "parting", "parting_width")
    chucking = allowance(given.chucking, "chucking", "chucking_remnant")
    rejects = supply.value(
        given.reject_share,
        "/allowances/reject_share",
        "ratio",
        rule.reject_share.si,
        "blank.reject_share",
        rule.reject_share,
    )
    step = rule.diameter_step.si
    least_outer = made.outer_diameter + 2.0 * outer
    bore = made.inner_diameter - 2.0 * inner
    fitting = math.floor(bore / step + WHOLE) * step
    tube = fitting >= rule.tube_bore_min.si
    form = stock.form
    if form is None:
        form = "tube" if stock.inner_diameter is not None or tube else "rod"
        supply.assumed.append(Assumed("/stock/form", None, form, "blank.tube_bore_min"))
        supply.trace.add(rule.tube_bore_min)
    outside = supply.value(
        stock.outer_diameter, "/stock/outer_diameter", "length", math.ceil(least_outer / step - WHOLE) * step,
        "blank.diameter_step", rule.diameter_step,
    )  # fmt: skip
    inside = 0.0
    if form == "tube":
        if stock.inner_diameter is None and not tube:
            raise refusal("out_of_domain", ("stock", "form"), "no tube is known with so small a bore",
                          "rod, or the bore of the tube")  # fmt: skip
        inside = supply.value(
            stock.inner_diameter, "/stock/inner_diameter", "length", fitting, "blank.diameter_step", rule.diameter_step
        )
    record = rule.tube_length if form == "tube" else rule.rod_length
    length = supply.value(stock.length, "/stock/length", "length", record.si, f"blank.{form}_length", record)
    pitch = made.width + 2.0 * face + parting
    for field, short, accepted in (
        ("outer_diameter", outside < made.outer_diameter, _at_least(made.outer_diameter, units)),
        (
            "inner_diameter",
            inside > made.inner_diameter,
            accepted_range("length", None, made.inner_diameter, units.units["length"], digits=6),
        ),
        ("length", _pieces(length, chucking, pitch) < 1, _at_least(chucking + pitch, units)),
    ):
        if short:
            raise refusal("out_of_domain", ("stock", field), "the stock does not hold the part", accepted)
    return Plan(
        form, outside, inside, length, face, parting, chucking, rejects, least_outer, bore if bore > 0.0 else None
    )


def _at_least(length: float, units: UnitSystem) -> str:
    return accepted_range("length", length, None, units.units["length"], digits=6)


def features(design: FlexibleLip | EnergizedLip) -> list[tuple[str, str, int]]:
    """Return the features of a design to machine on one piece."""
    rows: list[tuple[str, str, int]] = [("main_lip", "main lip", 1)]
    if isinstance(design, FlexibleLip):
        if design.second_lip == "excluder":
            rows.append(("excluder", "excluder lip", 1))
        elif design.second_lip == "redundant":
            rows.append(("redundant_lip", "redundant lip", 1))
        if design.lip_tip == "upturned_with_garter":
            rows += [("upturned_tip", "upturned lip tip", 1), ("garter_groove", "groove of the garter", 1)]
        if design.reinforcing_band:
            rows.append(("band_seat", "seat of the reinforcing band", 1))
        rows.append(("lip_relief", "relief behind the lip", 1))
    else:
        form = {"scraper": ("scraper_edge", "scraping edge of the lip"), "tapered": ("lip_taper", "taper of the lip")}
        if design.lip_form in form:
            rows.append((*form[design.lip_form], 1))
        spring = {"cantilever_v": "cantilever V", "canted_coil": "canted coil"}[design.energizer]
        rows += [("spring_groove", f"groove of the {spring}", 1), ("static_leg", "static leg at the outer diameter", 1)]
        if design.heel == "extended":
            rows.append(("heel_step", "extended heel", 1))
    rows.append({
        "o_ring": ("o_ring_groove", "groove of the O-ring in the outer diameter", 1),
        "clamped_flange": ("clamped_faces", "clamped faces of the flange", 2),
        "press_fit_case": ("case_seat", "seat in the metal case", 1),
    }[design.retention])  # fmt: skip
    return [
        *rows,
        ("bore", "bore", 1),
        ("outer_diameter", "outer diameter", 1),
        ("faces", "faces", 2),
        (
            "lead_in_chamfers",
            "lead-in chamfers of the outer diameter",
            1 if design.retention == "clamped_flange" else 2,
        ),
    ]


def estimate(request: BlankRequest, engine: Engine) -> dict[str, Any]:
    """Answer a request for a blank estimate."""
    rules, units = engine.rules(request), request.units.system_of_units()
    case = build(request.duty, request.design, rules)
    supply = _Supply()
    supply.assumed += [item for item in case.assumed if item.pointer in _KEPT]
    sizing: Any = getattr(rules.data.sizing, request.design.family)
    supply.trace.add(sizing.lip_thickness, sizing.lip_length, sizing.interference, case.compound.density)
    made = part(request, case, supply)
    p = plan(request, made, case, supply, units)
    density = float(case.compound.density.si)

    pitch = made.width + 2.0 * p.face + p.parting
    per_length = _pieces(p.length, p.chucking, pitch)
    to_make = math.ceil(request.pieces / (1.0 - p.reject_share) - WHOLE)
    lengths = -(-to_make // per_length)
    section = num.pi * 0.25 * (p.outer_diameter**2 - p.inner_diameter**2)
    used = to_make * pitch + lengths * p.chucking
    per_metre = section * density
    net, used_mass, stock_mass = (
        request.pieces * made.volume * density,
        used * per_metre,
        lengths * p.length * per_metre,
    )
    tight = p.outer_diameter < p.least_outer * (1.0 - WHOLE) or (
        p.greatest_inner is not None and p.inner_diameter > p.greatest_inner * (1.0 + WHOLE)
    )
    length = units.quantity
    return {
        "verdict": "caution" if tight else "pass",
        "summary": _summary(request, p, to_make, lengths, stock_mass, net, tight, units),
        "density": units.quantity("density", density),
        "finished": {
            "outer_diameter": length("length", made.outer_diameter),
            "inner_diameter": length("length", made.inner_diameter),
            "axial_width": length("length", made.width),
            "volume": units.quantity("volume", made.volume),
            "mass": units.quantity("mass", made.volume * density),
        },
        "blank": {
            "form": p.form,
            "outer_diameter": length("length", p.outer_diameter),
            "inner_diameter": length("length", p.inner_diameter) if p.form == "tube" else None,
            "least_outer_diameter": length("length", p.least_outer),
            "greatest_inner_diameter": units.optional("length", p.greatest_inner),
            "length_per_piece": length("length", pitch),
            "stock_length": length("length", p.length),
            "chucking_remnant": length("length", p.chucking),
        },
        "allocation": {
            "pieces": request.pieces,
            "pieces_to_make": to_make,
            "pieces_per_length": per_length,
            "stock_lengths": lengths,
            "used_length": length("length", used),
            "blank_mass": units.quantity("mass", pitch * per_metre),
            "used_mass": units.quantity("mass", used_mass),
            "stock_mass": units.quantity("mass", stock_mass),
            "net_mass": units.quantity("mass", net),
            "yield_of_used": _number(net / used_mass),
            "yield_of_stock": _number(net / stock_mass),
        },
        "features": [
            {"feature": name, "title": title, "count": count} for name, title, count in features(request.design)
        ],
        "cost": _cost(request, stock_mass, to_make),
        "notes": NOTES,
        "assumptions": [assumption(item, units) for item in supply.assumed],
        "cautions": cautions(case, request.duty.food_contact),
        "evidence": supply.trace.evidence,
        "stamp": engine.stamp("estimate_blank", request, rules),
        "working": working_totals.blank(
            request,
            case,
            made,
            p,
            {item.pointer: item.rule for item in supply.assumed},
            (to_make, per_length, lengths),
            (net, used_mass, stock_mass),
        )
        if request.working
        else None,
    }


def _number(value: float) -> float:
    return float(f"{value:.10g}")


def _cost(request: BlankRequest, stock_mass: float, to_make: int) -> dict[str, Any] | None:
    rates = request.rates
    if rates is None:
        return None
    material = machining = None
    if rates.material is not None:
        material = rates.material.amount * float(unit_table.from_si(stock_mass, "mass", rates.material.per))
    if rates.machine_per_hour is not None:
        hours = (to_make * (rates.machine_time_per_piece or 0.0) + (rates.setup_time or 0.0)) / HOUR
        machining = rates.machine_per_hour * hours
    total = (material or 0.0) + (machining or 0.0)
    return {
        "currency": rates.currency,
        "material": None if material is None else _number(material),
        "machining": None if machining is None else _number(machining),
        "total": _number(total),
        "per_piece": _number(total / request.pieces),
    }


def _summary(
    request: BlankRequest, p: Plan, to_make: int, lengths: int, mass: float, net: float, tight: bool, units: UnitSystem
) -> str:
    size = units.text("length", p.outer_diameter, 4)
    if p.form == "tube":
        size = f"{size} by {units.text('length', p.inner_diameter, 4)}"
    plural = "length" if lengths == 1 else "lengths"
    less = " The stock leaves less than the usual allowance." if tight else ""
    pieces = "1 piece takes" if request.pieces == 1 else f"{request.pieces} pieces take"
    return (
        f"{pieces} {lengths} {plural} of {p.form} {size}, {units.text('mass', mass)} for {units.text('mass', net)} of seals "
        f"({to_make} to be made).{less}"
    )
