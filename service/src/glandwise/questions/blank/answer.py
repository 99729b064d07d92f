"""From the request of a blank estimate to its answer in SI."""

from __future__ import annotations

from collections.abc import Mapping
from types import SimpleNamespace
from typing import Any, NamedTuple

import numpy as np

from glandwise import units as unit_table
from glandwise.case.blank_order import DTYPE, SHAPE, OrderNumbers, order_numbers
from glandwise.case.choices import Family, Heel, Retention, StockForm
from glandwise.checks.case import Assumed, Case, build
from glandwise.checks.engine import refusal
from glandwise.contract.blank import BlankRequest
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.contract.quantities import accepted_range
from glandwise.numerics.compiled import compiled
from glandwise.numerics.trace import leaf, records, traced
from glandwise.physics import blank as physics
from glandwise.physics.blank import WHOLE, Money, Part, Stock, Taken
from glandwise.questions.blank import kernel
from glandwise.rules.loader import RuleSet
from glandwise.rules.model import RuleSetData
from glandwise.rules.once import OncePerRuleSet
from glandwise.units import UnitSystem

_orders = compiled(kernel.orders)
_part, _stock, _taken, _money = map(traced, (physics.part, physics.stock, physics.taken, physics.money))


def warm() -> None:
    """Compile, or read from disk, all that a request may need."""
    _orders(SHAPE.table(0), np.zeros(0, kernel.OUT), np.zeros(1, DTYPE))


class Order(NamedTuple):
    """An order as its formulas take it."""

    case: Case
    row: Any
    """The order, a table of one row."""
    numbers: OrderNumbers
    pointers: Mapping[str, str]
    """Where the request states a number of the row."""


class Answer(NamedTuple):
    """What an order takes, in SI."""

    order: Order
    part: Any
    """Rows of what machine code found, with the fields of the results of the formulas."""
    stock: Any
    taken: Any
    money: Any
    form: str
    is_tight: bool
    """Whether the stock leaves less than the usual allowance."""
    assumed: tuple[Assumed, ...]
    features: tuple[tuple[str, str, int], ...]


class Explained(NamedTuple):
    """The same numbers with the trees that they came from."""

    part: Part
    stock: Stock
    taken: Taken
    money: Money


def asked(request: BlankRequest, rules: RuleSet) -> Order:
    """Return the order of a request."""
    case = build(request.duty, request.design, rules)
    design, duty, given, stock, rates = (
        request.design, request.duty, request.allowances, request.stock, request.rates,
    )  # fmt: skip
    stated: dict[str, tuple[float | None, str]] = {
        "shaft_diameter": (duty.shaft_diameter, "/duty/shaft_diameter"),
        "bore_diameter": (duty.bore.diameter, "/duty/bore/diameter"),
        "axial_width": (request.axial_width, "/axial_width"),
        **{
            name: (getattr(design, name), f"/design/{name}") for name in ("lip_thickness", "lip_length", "interference")
        },
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
    row["family"], row["retention"] = Family[design.family], Retention[design.retention]
    row["heel"] = Heel[design.heel] if isinstance(design, EnergizedLip) else Heel.standard
    row["form"] = StockForm[stock.form or "not_stated"]
    pointers = {}
    for name, (value, pointer) in stated.items():
        if value is not None:
            row[name], pointers[name] = value, pointer
    numbers = order_numbers(rules.data)[design.family].of(case.compound, design.compound)
    return Order(case, table, numbers, pointers)


def answer(request: BlankRequest, rules: RuleSet, units: UnitSystem) -> Answer:
    """Answer a request for a blank estimate; what cannot be made is refused, in the units of the request."""
    order = asked(request, rules)
    out = np.zeros(1, kernel.OUT)
    _orders(order.row, out, order.numbers.packed)
    part, stock, taken, money = (out[0][name] for name, _ in kernel.PARTS)
    _refuse(request, part, stock, taken, rules.data, units)
    is_tight = stock["outer"] < stock["least_outer"] * (1.0 - WHOLE) or (
        stock["greatest_inner"] > 0.0 and stock["inner"] > stock["greatest_inner"] * (1.0 + WHOLE)
    )
    form = "tube" if stock["is_tube"] else "rod"
    return Answer(
        order, part, stock, taken, money, form, bool(is_tight),
        tuple(_assumed(request, order, part, stock, form)), tuple(features(request.design)),
    )  # fmt: skip


def explained(found: Answer, request: BlankRequest) -> Explained:
    """Run the formulas of an answer on leaves."""
    order, rules = found.order, found.order.numbers.leaves
    o = SHAPE.leaves(
        order.row[0], {name: f"request {pointer}" for name, pointer in order.pointers.items()}, {}
    )  # fmt: skip
    _name_money(o, request)
    part = _part(o, rules)
    stock = _stock(o, rules, part.outer, part.inner, part.width)
    taken = _taken(o, rules, part.volume, stock)
    return Explained(part, stock, taken, _money(o, taken.stock_mass, taken.to_make))


_kept = OncePerRuleSet(lambda _: dict[Any, tuple[Any, ...]]())
_MOST = 4096


def records_of(found: Answer, request: BlankRequest, data: RuleSetData) -> tuple[Any, ...]:
    """Return the records of the rules that an answer rests on.

    Which they are hangs on names, on what is stated and on the form of the stock, not on numbers; so they are found by a
    trace once for each combination and kept with the rule set.
    """
    order = found.order
    codes = tuple(int(order.row[0][name]) for name in SHAPE.names)
    key = (codes, request.design.compound, frozenset(order.pointers), found.form)
    own = order.case.compound is not data.compounds[request.design.compound]
    kept = _kept(data)
    result = None if own else kept.get(key)
    if result is None:
        result = records(*explained(found, request))
        if not own:
            if len(kept) >= _MOST:
                kept.clear()
            kept[key] = result
    return result


def _name_money(o: SimpleNamespace, request: BlankRequest) -> None:
    """Name currency and units of the rates, and the times that are not stated."""
    rates, fields = request.rates, SHAPE.fields
    if rates is None:
        return
    if rates.material is not None:
        title = f"Price of stock, {rates.currency} per {rates.material.per}"
        o.price = leaf(float(o.price), fields["price"]._replace(title=title), "request /rates/material")
        title = f"Mass of one {rates.material.per}"
        o.price_mass = leaf(float(o.price_mass), fields["price_mass"]._replace(title=title), "definition of the unit")
    if rates.machine_per_hour is not None:
        title = f"Machine, {rates.currency} per hour"
        o.hourly = leaf(float(o.hourly), fields["hourly"]._replace(title=title), "request /rates/machine_per_hour")


def _refuse(request: BlankRequest, part: Any, stock: Any, taken: Any, data: RuleSetData, units: UnitSystem) -> None:
    """Refuse what cannot be made."""
    if request.design.retention == "press_fit_case" and part["outer"] <= request.duty.shaft_diameter:
        raise refusal("out_of_domain", ("duty", "bore", "diameter"), "the case leaves no room for the seal",
                      "more than the shaft diameter and two walls of the case")  # fmt: skip
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


def _assumed(request: BlankRequest, order: Order, part: Any, stock: Any, form: str) -> list[Assumed]:
    """Return what the request does not state, as it was taken."""
    family = f"sizing.{request.design.family}"
    rows = [
        ("lip_thickness", "/design/lip_thickness", part["lip_thickness"], f"{family}.lip_thickness"),
        ("lip_length", "/design/lip_length", part["lip_length"], f"{family}.lip_length"),
        ("interference", "/design/interference", part["interference"], f"{family}.interference"),
        ("bore_diameter", "/duty/bore/diameter", part["bore"], f"{family}.radial_section"),
        ("axial_width", "/axial_width", part["width"], f"{family}.axial_width"),
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
    stated = set(order.pointers)
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
