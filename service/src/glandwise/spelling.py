"""Units as people spell them, found among the symbols that a field accepts.

Text only: nothing is converted here. The client reads units with the same words: ``client/generate.py`` copies this module
there, so that it uses the standard library alone.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Final, TypeAlias

_LENGTHS = {
    "mm": ("millimeter", "millimetre"), "m": ("meter", "metre"), "cm": ("centimeter", "centimetre"),
    "um": ("micrometer", "micrometre", "micron"), "in": ("inch", "inches", '"', "″"), "ft": ("foot", "feet"),
    "mil": ("mil_length", "thou", "th"), "uin": ("microinch", "microinches"),
}  # fmt: skip
ATOMS = {
    **_LENGTHS,
    "rev": ("turn", "revolution", "r", "U"), "rad": ("radian",), "deg": ("degree", "°"), "Hz": ("hertz",),
    "s": ("second", "sec"), "min": ("minute", "MIN"), "h": ("hour", "hr"), "d": ("day",),
    "kPa": ("kilopascal", "KPA"), "GPa": ("gigapascal",), "bar": ("bar", "BAR"),
    "ksi": ("kip_per_square_inch", "kilopound_force_per_square_inch", "kpsi"),
    "K": ("kelvin",), "degC": ("degree_Celsius", "celsius", "Celsius", "°C", "℃", "C", "Cel", "CEL"),
    "degF": ("degree_Fahrenheit", "fahrenheit", "Fahrenheit", "°F", "℉", "F"),
    "delta_degC": ("delta_degree_Celsius", "ΔdegC", "Δ℃"), "delta_degF": ("delta_degree_Fahrenheit", "ΔdegF", "Δ℉"),
    "N": ("newton",), "kN": ("kilonewton",), "lbf": ("pound_force", "force_pound"),
    "kgf": ("kilogram_force", "force_kilogram", "kp"),
    "W": ("watt",), "kW": ("kilowatt",), "hp": ("horsepower",),
    "mPa": ("millipascal",), "cP": ("centipoise",),
    "g": ("gram",), "kg": ("kilogram",), "lb": ("pound",), "Btu": ("international_british_thermal_unit", "Btu_it", "BTU"),
    "kJ": ("kilojoule",), "J": ("joule",), "mol": ("mole",), "%": ("percent",), "1e-6": (),
    "HRC": (), "ShoreA": ("Shore_A",),
}  # fmt: skip
_NAMES: Final = {name: atom for atom, names in ATOMS.items() for name in (atom, *names)}

Factors: TypeAlias = frozenset[tuple[str, int]]

_COMPOSED: Final[Mapping[str, tuple[tuple[str, int], ...]]] = {
    **dict.fromkeys(("rpm", "revolutions_per_minute", "RPM"), (("rev", 1), ("min", -1))),
    **dict.fromkeys(("psi", "pound_force_per_square_inch", "PSI"), (("lbf", 1), ("in", -2))),
    **dict.fromkeys(("Pa", "pascal"), (("N", 1), ("m", -2))),
    **dict.fromkeys(("MPa", "megapascal", "MPA"), (("N", 1), ("mm", -2))),
    **dict.fromkeys(("dimensionless", "1"), ()),
}
"""Units that are others composed, so that ``N/mm²`` is found to be MPa where a pressure is asked for."""

_DEGREES: Final = re.compile(r"(?:deg(?:rees?)?|°)\s*([CF])(?![A-Za-z])")
_SIGNS: Final = str.maketrans({"·": "*", "⋅": "*", "×": "*", "µ": "u", "μ": "u", "−": "-", "⁻": "-", "¹": "1", "²": "2",
                               "³": "3", "^": "", "\u00a0": " "})  # fmt: skip
_TOKEN: Final = re.compile(r"\s*(?:(1e-6)|([A-Za-z_%°℃℉Δ\"″]+|1(?![0-9]))\s*(?:\*\*)?\s*(-?[0-9]+)?|([*/.()]))\s*")


def _spelled(name: str) -> tuple[tuple[str, int], ...] | None:
    """Return the factors of one name, in the plural too."""
    for form in (name, name[:-1]) if name.endswith("s") and len(name) > 3 else (name,):
        if form in _COMPOSED:
            return _COMPOSED[form]
        if form in _NAMES:
            return ((_NAMES[form], 1),)
    return None


@lru_cache(maxsize=4096)
def factors(text: str) -> Factors | None:
    """Return a unit's factors with their powers, or ``None`` for what is no unit known here.

    A product may be written with ``*``, ``.``, ``·`` or a blank, a power with ``**``, ``^`` or a bare digit.
    """
    text = _DEGREES.sub(r"deg\1", text.translate(_SIGNS).replace(" per ", "/"))
    powers: dict[str, int] = {}
    position, sign, outer = 0, 1, 1
    enclosing: list[int] = []
    complete = False  # whether the text up to here could stand alone
    while position < len(text):
        match = _TOKEN.match(text, position)
        if match is None:
            return None
        position = match.end()
        scale, name, power, mark = match.groups()
        if mark == "(":
            enclosing.append(outer)
            outer, sign, complete = outer * sign, 1, False
        elif mark == ")":
            if not enclosing or not complete:
                return None
            outer, sign = enclosing.pop(), 1
        elif mark:
            if not complete and (mark != "/" or powers or sign < 0):
                return None
            sign, complete = (-1 if mark == "/" else 1), False
        else:
            parts = (("1e-6", 1),) if scale else _spelled(name)
            if parts is None:
                return None
            for atom, own in parts:
                powers[atom] = powers.get(atom, 0) + sign * outer * own * int(power or 1)
            sign, complete = 1, True
    if not complete or enclosing:
        return None
    kept = {atom: power for atom, power in powers.items() if power}
    if len(kept) > 1 or any(power != 1 for power in kept.values()):  # in a composed unit, a degree is a difference
        for point, difference in (("degC", "delta_degC"), ("degF", "delta_degF")):
            if point in kept:
                kept[difference] = kept.pop(point)
    return frozenset(kept.items())


@lru_cache(maxsize=512)
def by_factors(accepted: tuple[str, ...]) -> dict[Factors, str]:
    """Index accepted units by their factors; codes that are no spelling (``MMT``) are left out."""
    index: dict[Factors, str] = {}
    for symbol in accepted:
        found = factors(symbol)
        if found is not None:
            index.setdefault(found, symbol)
    return index


GAUGE: Final = {"psig": "psi", "barg": "bar", "bar(g)": "bar", "psi(g)": "psi", "kPag": "kPa", "MPag": "MPa"}
"""Spellings that say of a pressure that it is relative to the ambient."""
ABSOLUTE: Final = frozenset({"psia", "bara", "bar(a)", "psi(a)", "kPaa", "MPaa"})
"""Spellings that say of a pressure that it is absolute: refused where a gauge pressure is asked for."""


def find_unit(text: str, accepted: tuple[str, ...], *, gauge: bool = False) -> str | None:
    """Return the accepted unit that a text spells, or ``None``; ``gauge``: a gauge pressure is asked for."""
    text = text.strip()
    text = GAUGE.get(text, text) if gauge else text
    if text in accepted:
        return text
    found = factors(text)
    return None if found is None else by_factors(accepted).get(found)


def listed(accepted: tuple[str, ...]) -> str:
    """Say which units are accepted, without the codes that stand for them."""
    return ", ".join(by_factors(accepted).values()) or ", ".join(accepted)
