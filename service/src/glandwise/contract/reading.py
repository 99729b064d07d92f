"""Quantities as people write them, where that can be read in one way only.

Text such as ``8 bar`` stands for ``{"value": 8, "unit": "bar"}``, and units are taken in other spellings (``1/min``, ``lb/in²``,
``kgf/cm²``). What can be read in two ways is refused with the reason: a bare number, an absolute pressure, a comma, a number such
as ``1.500`` without word of what its sign means.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Literal, TypeAlias

from pydantic_core import PydanticCustomError

from glandwise import spelling, units

DecimalSign: TypeAlias = Literal["point", "comma"]

EXAMPLES: Mapping[str, str] = {
    "length": "45 mm", "roughness": "0.3 um", "rotational_speed": "1450 rpm", "surface_speed": "3 m/s", "frequency": "2 Hz",
    "angle": "30 deg", "gauge_pressure": "8 bar", "stress": "10 MPa", "temperature": "80 degC", "temperature_difference": "20 K",
    "force": "50 N", "time": "5000 h", "ratio": "0.3", "hardness_hrc": "58 HRC", "hardness_shore_a": "70 ShoreA",
    "dynamic_viscosity": "50 mPa.s",
}  # fmt: skip
"""A quantity of each kind, as people write it."""

_NUMBER = re.compile(r"([+-]?)(\d+)(?:([.,])(\d+))?(?:[eE]([+-]?\d{1,3}))?")
_LONGEST = 60
"""Characters of a text that is read."""
_TURNS = frozenset({("min", -1)})
_POUNDS = frozenset({("lb", 1), ("in", -2)})
_ABSOLUTE = frozenset({*spelling.ABSOLUTE, "psi abs", "bar abs", "bar absolute", "ata"})


def example_of(dimension: str) -> str:
    """Return a quantity as people write it."""
    return EXAMPLES.get(dimension) or f"1 {units.DIMENSIONS[dimension].si_system}"


def _accepted(dimension: str) -> str:
    number, _, unit = example_of(dimension).partition(" ")
    return f'{{"value": {number}, "unit": "{unit or 1}"}}, or "{example_of(dimension)}"'


def find_unit(text: str, dimension: str) -> str | None:
    """Return the unit of a dimension that a text spells, ``None`` where there is none. Refuses an absolute pressure."""
    text, known = text.strip(), units.DIMENSIONS[dimension].symbols
    gauge = dimension == "gauge_pressure"
    if gauge and text in _ABSOLUTE:
        raise PydanticCustomError(
            "absolute_pressure", "an absolute pressure where one relative to the ambient is asked for",
            {"accepted": "the pressure less that of the ambient (some 1 bar or 14.7 psi), as in \"8 bar\""},
        )  # fmt: skip
    if len(text) > _LONGEST:
        return None
    if (found := spelling.find_unit(text, known, gauge=gauge)) is not None:
        return found
    factors = spelling.factors(text)
    if dimension == "rotational_speed" and factors == _TURNS:
        return "rpm"
    if dimension in {"gauge_pressure", "stress"} and factors == _POUNDS:  # of force, where a pressure is asked for
        return "psi"
    return None


def _ambiguous(dimension: str) -> PydanticCustomError:
    return PydanticCustomError(
        "ambiguous_number", "a number that can be read in two ways",
        {"accepted": f"a decimal point and no separator of thousands, or decimal_sign stated; {_accepted(dimension)}"},
    )  # fmt: skip


def _number(text: str, dimension: str, sign: DecimalSign | None) -> tuple[float, str]:
    """Read the number that a text begins with; return it with the rest."""
    match = _NUMBER.match(text)
    if match is None:
        raise PydanticCustomError(
            "unreadable_quantity", "not a number with its unit", {"accepted": _accepted(dimension)}
        )
    minus, whole, mark, digits, power = match.groups()
    rest = text[match.end() :]
    if rest[:1] in {".", ",", "'"} or (
        rest[:1] == " " and rest[1:2].isdigit() and not rest[1:].startswith(("1/", "1e-6"))
    ):
        raise _ambiguous(dimension)
    if mark is not None:
        thousands = len(digits) == 3 and 1 <= len(whole) <= 3 and whole.strip("0") != ""
        meant = "," if sign == "comma" else "."
        if mark != meant or (sign is None and thousands):
            raise _ambiguous(dimension)
    return float(f"{minus}{whole}.{digits or '0'}e{power or '0'}"), rest


def quantity(value: Any, dimension: str, sign: DecimalSign | None = None) -> Any:
    """Return a quantity in its plain form; what is none is left to be refused by the schema."""
    if type(value) is dict:
        unit = value.get("unit")
        if (
            type(unit) is str
            and unit not in units.factors(dimension)
            and (found := find_unit(unit, dimension)) is not None
        ):
            return {**value, "unit": found}
        return value
    if type(value) is str and len(value) <= _LONGEST:
        number, rest = _number(value.strip().replace("−", "-"), dimension, sign)
        unit = rest.strip() or ("1" if "1" in units.factors(dimension) else "")
        if not unit:
            raise PydanticCustomError("missing_unit", "a number without its unit", {"accepted": _accepted(dimension)})
        found = find_unit(unit, dimension)
        if found is None:
            accepted = spelling.listed(units.DIMENSIONS[dimension].symbols)
            raise PydanticCustomError(
                "unknown_unit", "not a unit of this quantity", {"accepted": f"one of: {accepted}"}
            )
        return {"value": number, "unit": found}
    if type(value) in {int, float}:
        raise PydanticCustomError("missing_unit", "a number without its unit", {"accepted": _accepted(dimension)})
    return value
