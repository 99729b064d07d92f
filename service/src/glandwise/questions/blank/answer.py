"""What machining a number of seals takes, in SI, and what the answer rests on."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from types import SimpleNamespace
from typing import NamedTuple

import numpy as np

from glandwise.case import record, sizing
from glandwise.case.blank_order import DTYPE, SHAPE, OrderNumbers
from glandwise.case.intake import Case
from glandwise.contract.blank import BlankRequest
from glandwise.numerics.compiled import compiled, ready
from glandwise.numerics.trace import leaf, records, traced
from glandwise.physics import blank as physics
from glandwise.physics.blank import WHOLE, Money, Part, Stock, Taken
from glandwise.questions import told
from glandwise.questions.arrays import Row, Table
from glandwise.questions.blank import kernel
from glandwise.questions.section.found import Drawable
from glandwise.questions.section.weighed import names_of, rests_on
from glandwise.rules.model import RuleSetData
from glandwise.rules.once import OncePerRuleSet
from glandwise.rules.sourced import Records

_orders = compiled(kernel.orders)
_complete = traced(sizing.complete)
_part, _stock, _taken, _money = map(traced, (physics.part, physics.stock, physics.taken, physics.money))


LIP = ("lip_thickness", "lip_length", "interference")
"""Sizes of the lip that the rules supply where the request does not state them."""
DRAWN = {
    "part_outer": "section as drawn, free",
    "part_width": "section as drawn, free",
    "part_volume": "section as drawn, free, turned about the axis by Pappus' theorem",
}
"""What the drawing gives, with where it comes from."""


def warm() -> None:
    """Compile, or read from disk, all that a request may need; nothing is compiled after that."""
    ready(_orders, SHAPE.table(0), np.zeros(0, kernel.OUT), np.zeros(1, DTYPE))


class Order(NamedTuple):
    """An order as its formulas take it."""

    row: Table
    """The order, a table of one row."""
    numbers: OrderNumbers
    pointers: Mapping[str, str]
    """Where the request states a number of the row."""
    compound: str | None
    """Name of the compound; ``None`` where the request states properties of it."""
    case: Case
    """Duty and design, whose lip the rules have sized."""
    drawn: Drawable
    """Section that gives extents and volume of the part."""
    remarks: list[str]
    """What is to be said of that section."""


class Answer(NamedTuple):
    """What an order takes."""

    order: Order
    part: Row
    """Rows of what machine code found, with the fields of the results of the formulas."""
    stock: Row
    taken: Row
    money: Row
    form: str
    is_tight: bool
    """Whether the stock leaves less than the usual allowance."""


class Explained(NamedTuple):
    """The same numbers with the trees that they came from."""

    part: Part
    stock: Stock
    taken: Taken
    money: Money


def answer(order: Order) -> Answer:
    """Return what an order takes, be it possible or not."""
    out = np.zeros(1, kernel.OUT)
    _orders(order.row, out, order.numbers.packed)
    part, stock, taken, money = (out[0][name] for name, _ in kernel.PARTS)
    is_tight = stock["outer"] < stock["least_outer"] * (1.0 - WHOLE) or (
        stock["greatest_inner"] > 0.0 and stock["inner"] > stock["greatest_inner"] * (1.0 + WHOLE)
    )
    return Answer(order, part, stock, taken, money, "tube" if stock["is_tube"] else "rod", bool(is_tight))


def explained(found: Answer, request: BlankRequest) -> Explained:
    """Run the formulas of an answer on leaves."""
    order, rules = found.order, found.order.numbers.leaves
    o = SHAPE.leaves(
        order.row[0], {name: f"request {pointer}" for name, pointer in order.pointers.items()}, {}
    )  # fmt: skip
    _lead_to_section(o, order, request)
    _name_money(o, request)
    part = _part(o)
    stock = _stock(o, rules, part.outer, part.inner, part.width)
    taken = _taken(o, rules, part.volume, stock)
    return Explained(part, stock, taken, _money(o, taken.stock_mass, taken.to_make))


def _lead_to_section(o: SimpleNamespace, order: Order, request: BlankRequest) -> None:
    """Lead from duty and design to the sizes that are not stated, and from them to extents and volume of the section."""
    names = [name for name in LIP if name not in order.pointers]
    case, rules = told.leaves_of(order.case, request.duty, order.case.row[0])
    _complete(case, rules)
    for name in names:
        setattr(o, name, getattr(case, name))
    for (name, words), behind in zip(DRAWN.items(), rests_on(order.drawn), strict=True):
        setattr(o, name, leaf(float(getattr(o, name)), SHAPE.fields[name], words, behind))


_kept = OncePerRuleSet(lambda _: dict[Hashable, Records]())
_MOST = 4096


def records_of(found: Answer, request: BlankRequest, data: RuleSetData) -> Records:
    """Return the records of the rules that an answer rests on.

    Which they are hangs on names, on what is stated and on the form of the stock, not on numbers; so they are found by a
    trace once for each combination and kept with the rule set.
    """
    order = found.order
    codes = tuple(int(order.row[0][name]) for name in SHAPE.names)
    names = order.case.row.item()[len(record.NUMBERS) :]
    drawn = names_of(order.drawn)
    key = (codes, names, order.compound, frozenset(order.pointers), *told.supplied(order.case), drawn, found.form)
    kept = _kept(data)
    result = None if order.compound is None else kept.get(key)
    if result is None:
        result = records(*explained(found, request))
        if order.compound is not None:
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
