"""Words and numbers of answers for reading: names of fields, units, quantities."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from markupsafe import Markup, escape

from glandwise.units import format_number

VERDICT_COLOUR: Mapping[str, str] = {
    "pass": "#1d7a5f",
    "caution": "#b07a00",
    "fail": "#a8323e",
    "not_evaluated": "#6b7480",
}
VERDICT_WORD: Mapping[str, str] = {
    "pass": "passes",
    "caution": "passes with care",
    "fail": "does not pass",
    "not_evaluated": "cannot be judged",
}
EVIDENCE_WORD: Mapping[str, str] = {
    "standard": "standard",
    "published": "published",
    "own_test": "own test",
    "common_practice": "common practice",
    "house_estimate": "estimate",
}

_SUPERSCRIPT = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
_UNIT_TEXT: Mapping[str, str] = {
    "degC": "°C", "degF": "°F", "delta_degC": "K", "delta_degF": "°F", "deg": "°", "um": "µm", "uin": "µin", "1": "", "ShoreA": "Shore A",
    "1e-6/K": "10⁻⁶/K", "1e-6/degF": "10⁻⁶/°F", "in3.min/ft/lbf/h": "in³·min/(ft·lbf·h)",
}  # fmt: skip


def unit(symbol: str) -> str:
    """Write the symbol of a unit for reading: N/mm/mm becomes N/mm²."""
    known = _UNIT_TEXT.get(symbol)
    if known is not None:
        return known
    over, *under = symbol.split("/")
    parts: dict[str, int] = {}
    for factor in under:
        name, power = re.fullmatch(r"(.*?)(\d*)", factor).groups()  # type: ignore[union-attr]
        parts[name] = parts.get(name, 0) + int(power or 1)
    numerator = "·".join(_raised(factor) for factor in over.split("."))
    if not parts:
        return numerator
    denominator = "·".join(
        name + (str(power).translate(_SUPERSCRIPT) if power > 1 else "") for name, power in parts.items()
    )
    return f"{numerator}/({denominator})" if len(parts) > 1 else f"{numerator}/{denominator}"


def _raised(factor: str) -> str:
    name, power = re.fullmatch(r"(.+?)(\d*)", factor).groups()  # type: ignore[union-attr]
    return name + power.translate(_SUPERSCRIPT)


def number(value: float, digits: int = 4) -> str:
    """Write a number for reading, very large and very small ones with a power of ten."""
    text = format_number(value, digits)
    if "e" not in text:
        whole, point, rest = text.partition(".")
        return f"{int(whole):,}{point}{rest}" if "," not in whole and len(whole.lstrip("-")) > 3 else text
    mantissa, exponent = text.split("e")
    return f"{mantissa}·10{str(int(exponent)).translate(_SUPERSCRIPT)}"


def is_quantity(value: Any) -> bool:
    """Whether a JSON value is a quantity with its unit."""
    return isinstance(value, dict) and {"value", "unit"} <= value.keys() <= {"value", "unit", "low", "high"}


_MICROMETRE = {"mm": 3, "in": 4}
"""Decimals of a length below which nobody measures a seal."""


def _digits(value: float, unit: str, digits: int) -> int:
    """Return significant digits that keep the limits of a size: 163.880 mm and 163.846 mm are a fit apart."""
    whole = len(str(int(abs(value))))
    return max(digits, whole + _MICROMETRE[unit]) if unit in _MICROMETRE and 1.0 <= abs(value) < 1e4 else digits


def quantity(value: Mapping[str, Any], digits: int = 4) -> str:
    """Write a quantity for reading."""
    symbol = unit(str(value["unit"]))
    given = float(value["value"])
    digits = _digits(given, str(value["unit"]), digits)
    # a temperature a billionth of a degree off the zero of its scale is that zero
    text = "0" if str(value["unit"]).startswith("deg") and abs(given) < 1e-6 else number(given, digits)
    said = f"{text}{'' if symbol == '°' else ' '}{symbol}".strip()
    if value.get("low") is None or value.get("high") is None:
        return said
    return f"{said} ({number(float(value['low']), digits)} to {number(float(value['high']), digits)})"


_LABELS: Mapping[str, str] = {
    "percentile_5": "5 % of samples below",
    "percentile_95": "95 % of samples below",
    "wear_per_1000_h": "Wear per 1000 h",
    "sliding_distance_per_1000_h": "Sliding distance per 1000 h",
    "o_ring": "O-ring",
    "o_ring_elastomer": "O-ring elastomer",
    "o_ring_squeeze": "O-ring squeeze",
    "cantilever_v": "Cantilever V",
    "at_duty": "At the speed of the duty",
    "x": "Horizontal axis",
    "y": "Vertical axis",
    "runout": "Runout (TIR)",
    "allowed_runout": "Allowed runout (TIR)",
    "followed_runout": "Followed runout (TIR)",
    "rated_runout": "Rated runout (TIR)",
}


def label(name: str) -> str:
    """Write the name of a field for reading."""
    known = _LABELS.get(name)
    if known is not None:
        return known
    words = re.sub(r"\bptfe\b", "PTFE", name.replace("_", " "))
    return words[:1].upper() + words[1:]


def value(item: Any, digits: int = 4) -> str:
    """Write any plain value of an answer or a request for reading."""
    if item is None:
        return "–"
    if item is True or item is False:
        return "yes" if item else "no"
    if is_quantity(item):
        return quantity(item, digits)
    if isinstance(item, int | float):
        return number(float(item), digits)
    text = str(item)
    # names of the contract, not sentences
    if not re.fullmatch(r"[A-Za-z0-9]+(_[A-Za-z0-9]+)+", text):
        return text
    return text.replace("_", " ").replace("ptfe", "PTFE").replace("o ring", "O-ring")


_UNITS_IN_TEXT = re.compile(r"(?<=\d )(degC|degF|um|uin|[A-Za-z]+\.[A-Za-z]+(?:/[A-Za-z]+)*|N/mm/mm)(?![A-Za-z0-9/])")


def pretty(text: str) -> str:
    """Set the units in a sentence of an answer as they are written by hand."""
    return _UNITS_IN_TEXT.sub(lambda match: unit(match[1]), text)


LONGEST = 24
"""Letters of one word that a narrow column holds; a longer one (a digest, a key) may break anywhere."""
_SEAMS = re.compile(r"(?<=[./_:;,=])(?=[A-Za-z0-9])")
"""Where a key, a path or a pointer may break over lines."""
_BLANKS = re.compile(r"(\s+)")


def set_text(text: str) -> Markup:
    """Set a text for a narrow column: a word breaks at its seams alone, unless it has none and is longer than any."""
    return Markup("").join(part if part.isspace() else _set_word(part) for part in _BLANKS.split(pretty(text)))


def _set_word(word: str) -> Markup:
    parts = [word] if len(word) <= LONGEST // 2 or word[0].isdigit() else _SEAMS.split(word)
    return Markup("<wbr>").join(
        escape(part) if len(part) <= LONGEST else Markup('<span class="long">{}</span>').format(part) for part in parts
    )


def longest_part(text: str) -> int:
    """Return how many letters of a text must stay on one line."""
    lengths = (
        len(part) for word in text.split() for part in (_SEAMS.split(word) if len(word) > LONGEST // 2 else [word])
    )
    return min(LONGEST, max(lengths, default=0))


def brief(item: Any) -> str:
    """Say in a few words what a value is that has no room here."""
    if isinstance(item, list):
        return f"{len(item)} entries" if item else "none"
    if isinstance(item, dict) and not is_quantity(item):
        named = item.get("title") or item.get("name") or item.get("verdict")
        return value(named) if isinstance(named, str) else f"{len(item)} fields"
    return value(item)
