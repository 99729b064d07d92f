"""What does it take to machine a number of seals from tube or rod: the request taken in, the answer written.

Quantities only. Money is the caller's own rates times these quantities.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from glandwise import units as unit_table
from glandwise.case.blank_order import SHAPE, order_numbers
from glandwise.case.choices import StockForm
from glandwise.case.intake import Assumed, Case, build
from glandwise.contract.blank import BlankRequest
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.contract.gland import Gland
from glandwise.contract.quantities import accepted_range
from glandwise.drawing.outline import Outline
from glandwise.drawing.seal import Made, made
from glandwise.engine import Engine, refusal
from glandwise.json_values import JsonObject
from glandwise.numerics.worksheet import written
from glandwise.questions.blank.answer import LIP, Answer, Order, explained, records_of
from glandwise.questions.blank.answer import answer as worked_out
from glandwise.questions.report import assumption, cautions, provenance
from glandwise.questions.section.found import Drawable, drawable
from glandwise.rules.loader import RuleSet
from glandwise.rules.model import Evidence, RuleSetData
from glandwise.units import UnitSystem

NOTES = [
    "The part is that of the drawn section as made, turned about the axis; fillets, webs, the form of the tip and a second "
    "lip are drawn by usual shares, the gland as stated or as it is usually proposed.",
    "Lengths are cut one after another; the rest of the last length goes back to stock and counts in its mass only.",
]


def drawn_of(request: BlankRequest, rules: RuleSet) -> Drawable:
    """Return the section of a request, in the gland that the service proposes."""
    gland = Gland().model_copy(update={"seal_width": request.axial_width})
    return drawable(request.duty, request.design, gland, rules)


def asked(request: BlankRequest, case: Case, drawn: Drawable) -> Order:
    """Return the order of a request; what has no section is refused."""
    found = made(drawn.size)
    body = _body(request, found)
    design, duty, given, stock, rates = (
        request.design, request.duty, request.allowances, request.stock, request.rates,
    )  # fmt: skip
    stated: dict[str, tuple[float | None, str]] = {
        "shaft_diameter": (duty.shaft_diameter, "/duty/shaft_diameter"),
        **{name: (getattr(design, name), f"/design/{name}") for name in LIP},
        "pieces": (float(request.pieces), "/pieces"),
        "outer_allowance": (given.outer, "/allowances/outer"),
        "inner_allowance": (given.inner, "/allowances/inner"),
        "face_allowance": (given.face, "/allowances/face"),
        "parting_width": (given.parting, "/allowances/parting"),
        "chucking_remnant": (given.chucking, "/allowances/chucking"),
        "reject_share": (given.reject_share, "/allowances/reject_share"),
        "stock_outer": (stock.outer_diameter, "/stock/outer_diameter"),
        "stock_inner": (stock.inner_diameter, "/stock/inner_diameter"),
        "stock_length": (stock.length, "/stock/length"),
    }
    if rates is not None and rates.material is not None:
        stated["price"] = rates.material.amount, "/rates/material"
        stated["price_mass"] = unit_table.to_si(1.0, "mass", rates.material.per), "/rates/material/per"
    if rates is not None and rates.machine_per_hour is not None:
        stated["hourly"] = rates.machine_per_hour, "/rates/machine_per_hour"
        stated["time_per_piece"] = rates.machine_time_per_piece or 0.0, "/rates/machine_time_per_piece"
        stated["setup_time"] = rates.setup_time or 0.0, "/rates/setup_time"
    table = SHAPE.table(1)
    row = table[0]
    row["form"] = StockForm[stock.form or "not_stated"]
    pointers = {}
    for name, (value, pointer) in stated.items():
        if value is not None:
            row[name], pointers[name] = value, pointer
    for name in LIP:
        row[name] = getattr(case, name)
    left, right, _, top = body.box
    row["part_outer"], row["part_width"], row["part_volume"] = 2.0 * top, right - left, body.volume
    numbers = order_numbers(case.data).of(case.compound, design.compound)
    own = case.compound is not case.data.compounds[design.compound]
    return Order(table, numbers, pointers, None if own else design.compound, case, drawn, found.remarks)


def _body(request: BlankRequest, drawn: Made) -> Outline:
    """Return the outline of the part as made; refuse a seal that has no room for its lip."""
    if drawn.lacks == "height":
        if request.duty.bore.diameter is None and request.design.lip_thickness is not None:
            raise refusal("out_of_domain", ("design", "lip_thickness"), "the section leaves no room for the lip",
                          "a thinner lip, or a larger bore")  # fmt: skip
        raise refusal("out_of_domain", ("duty", "bore", "diameter"), "the section leaves no room for the lip",
                      "room for lip, cavity and outer wall, and for the wall of a case")  # fmt: skip
    if drawn.lacks == "length":
        raise refusal("out_of_domain", ("axial_width",), "the width leaves no room for the lip",
                      "more than heel and chamfer take")  # fmt: skip
    return drawn.body


def _refuse(request: BlankRequest, found: Answer, data: RuleSetData, units: UnitSystem) -> None:
    """Refuse what cannot be made."""
    part, stock, taken = found.part, found.stock, found.taken
    has_tube = stock["tube_bore"] >= data.blank.tube_bore_min.si
    if stock["is_tube"] and request.stock.inner_diameter is None and not has_tube:
        raise refusal("out_of_domain", ("stock", "form"), "no tube is known with so small a bore",
                      "rod, or the bore of the tube")  # fmt: skip

    def least(value: float) -> str:
        return accepted_range("length", float(value), None, units.units["length"], digits=6)

    most = accepted_range("length", None, float(part["inner"]), units.units["length"], digits=6)
    for field, short, accepted in (
        ("outer_diameter", stock["outer"] < part["outer"], least(part["outer"])),
        ("inner_diameter", stock["inner"] > part["inner"], most),
        ("length", taken["per_length"] < 1.0, least(stock["chucking"] + stock["pitch"])),
    ):
        if short:
            raise refusal("out_of_domain", ("stock", field), "the stock does not hold the part", accepted)


def _assumed(request: BlankRequest, found: Answer) -> list[Assumed]:
    """Return what the request does not state, as it was taken."""
    part, stock, form, drawn = found.part, found.stock, found.form, found.order.drawn
    family = f"sizing.{request.design.family}"
    rows = [
        ("lip_thickness", "/design/lip_thickness", part["lip_thickness"], f"{family}.lip_thickness"),
        ("lip_length", "/design/lip_length", part["lip_length"], f"{family}.lip_length"),
        ("interference", "/design/interference", part["interference"], f"{family}.interference"),
        ("bore_diameter", "/duty/bore/diameter", drawn.size.bore, drawn.supplied.get("bore", "")),
        ("axial_width", "/axial_width", drawn.size.width, drawn.supplied.get("width", "")),
        ("outer_allowance", "/allowances/outer", stock["outer_allowance"], "blank.outer_allowance"),
        ("inner_allowance", "/allowances/inner", stock["inner_allowance"], "blank.inner_allowance"),
        ("face_allowance", "/allowances/face", stock["face"], "blank.face_allowance"),
        ("parting_width", "/allowances/parting", stock["parting"], "blank.parting_width"),
        ("chucking_remnant", "/allowances/chucking", stock["chucking"], "blank.chucking_remnant"),
        ("reject_share", "/allowances/reject_share", stock["reject_share"], "blank.reject_share"),
        ("form", "/stock/form", form, "blank.tube_bore_min"),
        ("stock_outer", "/stock/outer_diameter", stock["outer"], "blank.diameter_step"),
        ("stock_inner", "/stock/inner_diameter", stock["inner"], "blank.diameter_step"),
        ("stock_length", "/stock/length", stock["length"], f"blank.{form}_length"),
    ]
    stated = set(found.order.pointers)
    if request.duty.bore.diameter is not None:
        stated.add("bore_diameter")
    if request.axial_width is not None:
        stated.add("axial_width")
    if request.stock.form is not None:
        stated.add("form")
    if form == "rod":  # has no bore
        stated.add("stock_inner")
    dimension = {"form": None, "reject_share": "ratio"}
    return [
        Assumed(pointer, dimension.get(name, "length"), value if name == "form" else float(value), rule)
        for name, pointer, value, rule in rows
        if name not in stated
    ]


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


class Estimate(NamedTuple):
    """What an order takes, in SI, and what that rests on."""

    case: Case
    found: Answer
    evidence: Evidence | None

    @property
    def verdict(self) -> str:
        """Whether the stock leaves what is usual."""
        return "caution" if self.found.is_tight else "pass"


def answer(request: BlankRequest, engine: Engine, drawn: Drawable | None = None) -> Estimate:
    """Answer a request for a blank estimate, in SI; what cannot be made is refused.

    ``drawn`` is the section of the seal where more is known of its gland than the request says.
    """
    rules = engine.rules(request)
    case = build(request.duty, request.design, rules)
    found = worked_out(asked(request, case, drawn_of(request, rules) if drawn is None else drawn))
    _refuse(request, found, rules.data, request.units.system_of_units())
    return Estimate(case, found, provenance(records_of(found, request, rules.data)).evidence)


def write(result: Estimate, request: BlankRequest, engine: Engine) -> JsonObject:
    """Write an answer as its contract has it, in the units of the request."""
    found, case, units = result.found, result.case, request.units.system_of_units()
    return {
        "verdict": result.verdict,
        **_quantities(found, request, case, units),
        "cautions": cautions(case, request.duty.food_contact),
        "evidence": result.evidence,
        "stamp": engine.stamp("estimate_blank", request, engine.rules(request)),
        "working": written(*explained(found, request)) if request.working else None,
    }


def estimate(request: BlankRequest, engine: Engine) -> JsonObject:
    """Answer a blank estimate."""
    return write(answer(request, engine), request, engine)


def taken_for(result: Estimate, request: BlankRequest) -> JsonObject:
    """Write what the pieces take and cost alone."""
    found = result.found
    return {**_allocation(found, request, request.units.system_of_units()), "cost": _cost(found, request)}


def _allocation(found: Answer, request: BlankRequest, units: UnitSystem) -> JsonObject:
    taken = found.taken

    def mass(name: str) -> JsonObject:
        return units.quantity("mass", float(taken[name]))

    return {
        "pieces": request.pieces,
        "pieces_to_make": int(taken["to_make"]),
        "pieces_per_length": int(taken["per_length"]),
        "stock_lengths": int(taken["lengths"]),
        "used_length": units.quantity("length", float(taken["used_length"])),
        "blank_mass": mass("blank_mass"),
        "used_mass": mass("used_mass"),
        "stock_mass": mass("stock_mass"),
        "net_mass": mass("net_mass"),
        "yield_of_used": _number(taken["yield_of_used"]),
        "yield_of_stock": _number(taken["yield_of_stock"]),
    }


def _quantities(found: Answer, request: BlankRequest, case: Case, units: UnitSystem) -> JsonObject:
    part, stock, taken = found.part, found.stock, found.taken

    def length(value: float) -> JsonObject:
        return units.quantity("length", float(value))

    return {
        "summary": _summary(found, request, units),
        "density": units.quantity("density", float(case.compound.density.si)),
        "finished": {
            "outer_diameter": length(part["outer"]),
            "inner_diameter": length(part["inner"]),
            "axial_width": length(part["width"]),
            "volume": units.quantity("volume", float(part["volume"])),
            "mass": units.quantity("mass", float(taken["part_mass"])),
        },
        "blank": {
            "form": found.form,
            "outer_diameter": length(stock["outer"]),
            "inner_diameter": length(stock["inner"]) if found.form == "tube" else None,
            "least_outer_diameter": length(stock["least_outer"]),
            "greatest_inner_diameter": length(stock["greatest_inner"]) if stock["greatest_inner"] > 0.0 else None,
            "length_per_piece": length(stock["pitch"]),
            "stock_length": length(stock["length"]),
            "chucking_remnant": length(stock["chucking"]),
        },
        "allocation": _allocation(found, request, units),
        "features": [
            {"feature": name, "title": title, "count": count} for name, title, count in features(request.design)
        ],
        "cost": _cost(found, request),
        "notes": _notes(found.order),
        "assumptions": [assumption(item, units) for item in _assumed(request, found)],
    }


def _notes(order: Order) -> list[str]:
    """Say what the numbers take for granted."""
    remark = order.drawn.remark
    return [*NOTES, *order.remarks, *(() if remark is None else (remark,))]


def _number(value: float) -> float:
    return float(f"{value:.10g}")


def _cost(found: Answer, request: BlankRequest) -> JsonObject | None:
    if request.rates is None:
        return None
    money = found.money
    return {
        "currency": request.rates.currency,
        **{name: _number(money[name]) if math.isfinite(money[name]) else None for name in ("material", "machining")},
        "total": _number(money["total"]),
        "per_piece": _number(money["per_piece"]),
    }


def _summary(found: Answer, request: BlankRequest, units: UnitSystem) -> str:
    size = units.text("length", float(found.stock["outer"]), 4)
    if found.form == "tube":
        size = f"{size} by {units.text('length', float(found.stock['inner']), 4)}"
    lengths = int(found.taken["lengths"])
    plural = "length" if lengths == 1 else "lengths"
    less = " The stock leaves less than the usual allowance." if found.is_tight else ""
    pieces = "1 piece takes" if request.pieces == 1 else f"{request.pieces} pieces take"
    stock, net = (units.text("mass", float(found.taken[name])) for name in ("stock_mass", "net_mass"))
    return (
        f"{pieces} {lengths} {plural} of {found.form} {size}, {stock} for {net} of seals "
        f"({int(found.taken['to_make'])} to be made).{less}"
    )
