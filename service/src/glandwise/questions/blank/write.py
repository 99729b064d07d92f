"""The answer of a blank estimate in the units and the words of the contract. Money is the caller's own rates."""

from __future__ import annotations

import math
from typing import Any

from glandwise.checks.engine import Engine
from glandwise.checks.report import assumption, cautions, provenance
from glandwise.contract.blank import BlankRequest
from glandwise.numerics.worksheet import written
from glandwise.questions.blank.answer import Answer, answer, explained, records_of
from glandwise.units import UnitSystem

NOTES = [
    "The section is taken as a body with one cavity behind the lip; chamfers, grooves and the forming of the lip are left "
    "out of the net mass.",
    "Lengths are cut one after another; the rest of the last length goes back to stock and counts in its mass only.",
]


def estimate(request: BlankRequest, engine: Engine) -> dict[str, Any]:
    """Answer a request for a blank estimate."""
    rules, units = engine.rules(request), request.units.system_of_units()
    found = answer(request, rules, units)
    return {
        **write(found, request, units),
        "cautions": cautions(found.order.case, request.duty.food_contact),
        "evidence": provenance(records_of(found, request, rules.data)).evidence,
        "stamp": engine.stamp("estimate_blank", request, rules),
        "working": written(*explained(found, request)) if request.working else None,
    }


def write(found: Answer, request: BlankRequest, units: UnitSystem) -> dict[str, Any]:
    """Write an answer."""
    part, stock, taken = found.part, found.stock, found.taken

    def length(value: float) -> Any:
        return units.quantity("length", float(value))

    def mass(value: float) -> Any:
        return units.quantity("mass", float(value))

    return {
        "verdict": "caution" if found.is_tight else "pass",
        "summary": _summary(found, request, units),
        "density": units.quantity("density", float(found.order.case.compound.density.si)),
        "finished": {
            "outer_diameter": length(part["outer"]),
            "inner_diameter": length(part["inner"]),
            "axial_width": length(part["width"]),
            "volume": units.quantity("volume", float(part["volume"])),
            "mass": mass(taken["part_mass"]),
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
        "allocation": {
            "pieces": request.pieces,
            "pieces_to_make": int(taken["to_make"]),
            "pieces_per_length": int(taken["per_length"]),
            "stock_lengths": int(taken["lengths"]),
            "used_length": length(taken["used_length"]),
            "blank_mass": mass(taken["blank_mass"]),
            "used_mass": mass(taken["used_mass"]),
            "stock_mass": mass(taken["stock_mass"]),
            "net_mass": mass(taken["net_mass"]),
            "yield_of_used": _number(taken["yield_of_used"]),
            "yield_of_stock": _number(taken["yield_of_stock"]),
        },
        "features": [{"feature": name, "title": title, "count": count} for name, title, count in found.features],
        "cost": _cost(found, request),
        "notes": NOTES,
        "assumptions": [assumption(item, units) for item in found.assumed],
    }


def _number(value: float) -> float:
    return float(f"{value:.10g}")


def _cost(found: Answer, request: BlankRequest) -> dict[str, Any] | None:
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
