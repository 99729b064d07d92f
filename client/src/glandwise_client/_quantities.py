"""Numbers with units as people write them, turned into what stands on the wire: ``{"value": 50.0, "unit": "psi"}``.

Taken are ``"50 psi"``, ``(50, "psi")``, ``{"value": 50, "unit": "psi"}``, and objects that hold a number and a unit
(``magnitude`` and ``units``, or ``value`` and ``unit``); pint's quantities are such objects. pint is never imported, and
no number is converted here unless the caller's own object converts it: the service does, in one place.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Any, Final, Protocol, TypeAlias


class HasMagnitude(Protocol):
    """A quantity as pint has it."""

    @property
    def magnitude(self) -> Any:
        """The number."""

    @property
    def units(self) -> Any:
        """The unit; its text is read."""


class HasValue(Protocol):
    """A quantity as this package's results have it."""

    @property
    def value(self) -> Any:
        """The number."""

    @property
    def unit(self) -> Any:
        """The unit; its text is read."""


QuantityLike: TypeAlias = str | tuple[float, str] | Mapping[str, Any] | HasMagnitude | HasValue | float
"""What stands for a quantity. A bare number only stands for a ratio."""
QuantitiesLike: TypeAlias = Sequence[QuantityLike] | tuple[Sequence[float], str] | HasMagnitude
"""What stands for several: a sequence of quantities, ``([500, 1000], "rpm")``, or an array with a unit."""


class QuantityFault(ValueError):  # noqa: N818
    """A value that is no quantity of its field; ``accepted`` says what would be."""

    def __init__(self, detail: str, accepted: str) -> None:
        super().__init__(detail)
        self.detail, self.accepted = detail, accepted

    def __str__(self) -> str:
        return f"{self.detail} (accepted: {self.accepted})"


# Units as text ------------------------------------------------------------------------------------------------------

_LENGTHS = {
    "mm": ("millimeter", "millimetre"), "m": ("meter", "metre"), "cm": ("centimeter", "centimetre"),
    "um": ("micrometer", "micrometre", "micron"), "in": ("inch", "inches", '"', "″"), "ft": ("foot", "feet"),
    "mil": ("mil_length", "thou", "th"), "uin": ("microinch", "microinches"),
}  # fmt: skip
_ATOMS = {
    **_LENGTHS,
    "rev": ("turn", "revolution", "r", "U"), "rad": ("radian",), "deg": ("degree", "°"), "Hz": ("hertz",),
    "s": ("second", "sec"), "min": ("minute",), "h": ("hour", "hr"), "d": ("day",),
    "kPa": ("kilopascal",), "GPa": ("gigapascal",), "bar": (), "ksi": ("kip_per_square_inch", "kilopound_force_per_square_inch", "kpsi"),
    "K": ("kelvin",), "degC": ("degree_Celsius", "celsius", "Celsius", "°C", "℃", "C"),
    "degF": ("degree_Fahrenheit", "fahrenheit", "Fahrenheit", "°F", "℉", "F"),
    "delta_degC": ("delta_degree_Celsius", "ΔdegC", "Δ℃"), "delta_degF": ("delta_degree_Fahrenheit", "ΔdegF", "Δ℉"),
    "N": ("newton",), "kN": ("kilonewton",), "lbf": ("pound_force", "force_pound"),
    "W": ("watt",), "kW": ("kilowatt",), "hp": ("horsepower",),
    "mPa": ("millipascal",), "cP": ("centipoise",),
    "g": ("gram",), "kg": ("kilogram",), "lb": ("pound",), "Btu": ("international_british_thermal_unit", "Btu_it", "BTU"),
    "kJ": ("kilojoule",), "J": ("joule",), "mol": ("mole",), "%": ("percent",), "1e-6": (),
    "HRC": (), "ShoreA": ("Shore_A",),
}  # fmt: skip
_NAMES: Final = {name: atom for atom, names in _ATOMS.items() for name in (atom, *names)}

Factors: TypeAlias = frozenset[tuple[str, int]]

_COMPOSED: Final[Mapping[str, tuple[tuple[str, int], ...]]] = {
    **dict.fromkeys(("rpm", "revolutions_per_minute", "RPM"), (("rev", 1), ("min", -1))),
    **dict.fromkeys(("psi", "pound_force_per_square_inch", "PSI"), (("lbf", 1), ("in", -2))),
    **dict.fromkeys(("Pa", "pascal"), (("N", 1), ("m", -2))),
    **dict.fromkeys(("MPa", "megapascal"), (("N", 1), ("mm", -2))),
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
def _by_factors(accepted: tuple[str, ...]) -> dict[Factors, str]:
    """Index accepted units by their factors; codes that are no spelling (``MMT``) are left out."""
    index: dict[Factors, str] = {}
    for symbol in accepted:
        found = factors(symbol)
        if found is not None:
            index.setdefault(found, symbol)
    return index


def find_unit(text: str, accepted: tuple[str, ...]) -> str | None:
    """Return the accepted unit that a text spells, or ``None``."""
    text = text.strip()
    if text in accepted:
        return text
    found = factors(text)
    return None if found is None else _by_factors(accepted).get(found)


def _listed(accepted: tuple[str, ...]) -> str:
    return ", ".join(_by_factors(accepted).values()) or ", ".join(accepted)


# pint's names for the same factors ----------------------------------------------------------------------------------

_PINT_NAMES: Final[Mapping[str, str]] = {
    "rev": "turn", "mil": "thou", "%": "percent", "ksi": "kip_per_square_inch", "bar": "bar", "1e-6": "ppm",
    **{atom: names[0] for atom, names in _ATOMS.items() if names and atom not in {"mil", "rev", "%", "ksi", "ShoreA"}},
}  # fmt: skip
_PINT_WHOLE: Final[Mapping[str, str]] = {
    "rpm": "revolutions_per_minute", "psi": "pound_force_per_square_inch", "Pa": "pascal", "MPa": "megapascal",
}  # fmt: skip


def pint_expression(symbol: str) -> str | None:
    """Return the unit in pint's names, or ``None`` for a scale that pint does not have."""
    if symbol in _PINT_WHOLE:
        return _PINT_WHOLE[symbol]
    found = factors(symbol)
    if found is None or any(atom not in _PINT_NAMES for atom, _ in found):
        return None
    ordered = sorted(found, key=lambda item: (-item[1], item[0]))
    return " * ".join(f"{_PINT_NAMES[atom]} ** {power}" if power != 1 else _PINT_NAMES[atom] for atom, power in ordered)


_UNSAFE: Final = frozenset({"rev", "rad", "deg", "Hz", "%", "degC", "degF"})
"""Not to be converted by the caller's object: pint takes turns and radians for plain numbers (a silent factor of 2 pi),
and a difference of temperatures for a point on the scale."""


def _converted(quantity: Any, accepted: tuple[str, ...]) -> tuple[Any, str] | None:
    """Let a pint-like object convert itself to the first accepted unit, where that is safe."""
    convert = getattr(quantity, "to", None)
    symbol = accepted[0]
    atoms = factors(symbol)
    expression = pint_expression(symbol)
    if not callable(convert) or not atoms or expression is None or any(atom in _UNSAFE for atom, _ in atoms):
        return None
    if any(len(found) == 1 and next(iter(found))[0] in _UNSAFE for found in _by_factors(accepted)):
        return None
    try:
        return convert(expression).magnitude, symbol
    except Exception:  # whatever the caller's library raises for units that do not fit
        return None


# Quantities ---------------------------------------------------------------------------------------------------------

_NUMBER_WITH_UNIT: Final = re.compile(r"([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)\s*(.*)", re.DOTALL)
_GAUGE: Final = {"psig": "psi", "barg": "bar", "bar(g)": "bar", "psi(g)": "psi", "kPag": "kPa", "MPag": "MPa"}
_ABSOLUTE: Final = frozenset({"psia", "bara", "bar(a)", "psi(a)", "kPaa", "MPaa"})


def _number(value: Any) -> float:
    """Return a finite number of any numeric type."""
    if isinstance(value, (bool, str, bytes)) or value is None:
        raise TypeError
    number = float(value)
    if not math.isfinite(number):
        raise QuantityFault("the number is not finite", "a finite number")
    return number


def examples(accepted: tuple[str, ...]) -> str:
    """Say how a quantity is written, with the units it may have."""
    unit = next(iter(_by_factors(accepted).values()), accepted[0])
    return f'"5 {unit}", (5, "{unit}") or a quantity object, in {_listed(accepted)}'


def _with_unit(value: Any, unit: Any, accepted: tuple[str, ...], gauge: bool) -> dict[str, Any]:
    text = str(unit).strip()
    if gauge:
        text = _GAUGE.get(text, text)
        if text in _ABSOLUTE:
            raise QuantityFault(f"{text} is an absolute pressure; the gauge pressure is asked for", _listed(accepted))
    symbol = find_unit(text, accepted)
    if symbol is None:
        if not text:
            raise QuantityFault("the unit is missing", examples(accepted))
        raise QuantityFault(f"the unit {text[:40]!r} does not fit", _listed(accepted))
    try:
        return {"value": _number(value), "unit": symbol}
    except (TypeError, ValueError, OverflowError) as error:
        if isinstance(error, QuantityFault):
            raise
        raise QuantityFault("the number is none", examples(accepted)) from None


def _from_text(text: str, accepted: tuple[str, ...], gauge: bool) -> dict[str, Any]:
    match = _NUMBER_WITH_UNIT.fullmatch(text.strip().replace("−", "-"))
    if match is None:
        raise QuantityFault("this text is not a number with a unit", examples(accepted))
    number, unit = match.groups()
    if unit[:1] == "," or (unit[:1].isdigit() and not re.match(r"1(e-6)? */", unit)):
        raise QuantityFault("the number has a comma or a gap in it", "a decimal point, and no thousands separator")
    if unit[:1] == "-" or (unit[:1] == "/" and unit[1:2].isdigit()):
        raise QuantityFault("the number is a fraction or a range", examples(accepted))
    if not unit and "1" in accepted:
        unit = "1"
    return _with_unit(float(number), unit, accepted, gauge)


def split(value: Any) -> tuple[Any, Any] | None:
    """Return number and unit of an object that holds both, or ``None``."""
    for number, unit in (("magnitude", "units"), ("value", "unit")):
        if hasattr(value, number) and hasattr(value, unit):
            return getattr(value, number), getattr(value, unit)
    return None


def _from_object(value: Any, number: Any, unit: Any, accepted: tuple[str, ...], gauge: bool) -> dict[str, Any]:
    text = str(unit).strip()
    if not text and "1" in accepted:
        text = "1"
    if text == "mil" and hasattr(value, "magnitude"):
        raise QuantityFault(
            "the unit 'mil' of pint is an angle and does not fit; its length is 'thou'", _listed(accepted)
        )
    try:
        return _with_unit(number, text, accepted, gauge)
    except QuantityFault:
        converted = _converted(value, accepted)
        if converted is None:
            raise
        return _with_unit(*converted, accepted, gauge)


def write(value: Any, accepted: tuple[str, ...], *, gauge: bool = False) -> dict[str, Any]:
    """Return a quantity as it stands on the wire. Raises :class:`QuantityFault`."""
    if isinstance(value, str):
        return _from_text(value, accepted, gauge)
    if isinstance(value, Mapping):
        if set(value) != {"value", "unit"}:
            raise QuantityFault("a quantity has exactly the fields value and unit", examples(accepted))
        return _with_unit(value["value"], value["unit"], accepted, gauge)
    if isinstance(value, (tuple, list)):
        if len(value) != 2 or not isinstance(value[1], str):
            raise QuantityFault("a pair of number and unit is needed", examples(accepted))
        return _with_unit(value[0], value[1], accepted, gauge)
    parts = split(value)
    if parts is not None:
        return _from_object(value, *parts, accepted, gauge)
    try:
        number = _number(value)
    except (TypeError, ValueError, OverflowError) as error:
        if isinstance(error, QuantityFault):
            raise
        raise QuantityFault("this is no quantity", examples(accepted)) from None
    if "1" not in accepted:
        raise QuantityFault(f"the number {number:g} has no unit", examples(accepted))
    return {"value": number, "unit": "1"}


def several(value: Any) -> Iterable[Any]:
    """Return the quantities of a sequence, of ``(numbers, unit)``, or of an array with a unit, one by one."""
    if isinstance(value, (tuple, list)) and len(value) == 2 and isinstance(value[1], str) and _is_array(value[0]):
        return [(number, value[1]) for number in value[0]]
    parts = split(value)
    if _is_array(value if parts is None else parts[0]):
        return list(value)  # an array with a unit gives quantities one by one
    raise QuantityFault("a list is needed", 'a list of quantities, or ([1, 2, 3], "unit")')


def _is_array(value: Any) -> bool:
    if split(value) is not None or isinstance(value, (str, bytes, Mapping)):
        return False
    return isinstance(value, Iterable) and getattr(value, "ndim", 1) == 1
