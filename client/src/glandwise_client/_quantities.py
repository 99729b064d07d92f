"""Numbers with units as people write them, turned into what stands on the wire: ``{"value": 50.0, "unit": "psi"}``.

Taken are ``"50 psi"``, ``(50, "psi")``, ``{"value": 50, "unit": "psi"}``, and objects that hold a number and a unit
(``magnitude`` and ``units``, or ``value`` and ``unit``); pint's quantities are such objects. Where a field takes a range,
``{"value": 60, "unit": "degC", "low": 50, "high": 75}`` says it. pint is never imported, and
no number is converted here unless the caller's own object converts it: the service does, in one place.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final, Protocol, TypeAlias

from glandwise_client._spelling import ABSOLUTE, ATOMS, by_factors, factors, find_unit, listed


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


QuantityLike: TypeAlias = str | tuple[float, str] | Mapping[str, Any] | HasMagnitude | HasValue
"""What stands for a quantity."""
RatioLike: TypeAlias = QuantityLike | float
"""What stands for a ratio: a bare number as well."""
QuantitiesLike: TypeAlias = Sequence[QuantityLike] | tuple[Sequence[float], str] | HasMagnitude
"""What stands for several: a sequence of quantities, ``([500, 1000], "rpm")``, or an array with a unit."""


class QuantityFault(ValueError):  # noqa: N818
    """A value that is no quantity of its field; ``accepted`` says what would be."""

    def __init__(self, detail: str, accepted: str) -> None:
        super().__init__(detail)
        self.detail, self.accepted = detail, accepted

    def __str__(self) -> str:
        return f"{self.detail} (accepted: {self.accepted})"


# pint's names for the same factors ----------------------------------------------------------------------------------

_PINT_NAMES: Final[Mapping[str, str]] = {
    "rev": "turn", "mil": "thou", "%": "percent", "ksi": "kip_per_square_inch", "bar": "bar", "1e-6": "ppm",
    **{atom: names[0] for atom, names in ATOMS.items() if names and atom not in {"mil", "rev", "%", "ksi", "ShoreA"}},
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
    if any(len(found) == 1 and next(iter(found))[0] in _UNSAFE for found in by_factors(accepted)):
        return None
    try:
        return convert(expression).magnitude, symbol
    except Exception:  # whatever the caller's library raises for units that do not fit
        return None


# Quantities ---------------------------------------------------------------------------------------------------------

_NUMBER_WITH_UNIT: Final = re.compile(r"([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)\s*(.*)", re.DOTALL)


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
    unit = next(iter(by_factors(accepted).values()), accepted[0])
    return f'"5 {unit}", (5, "{unit}") or a quantity object, in {listed(accepted)}'


def _with_unit(value: Any, unit: Any, accepted: tuple[str, ...], gauge: bool) -> dict[str, Any]:
    text = str(unit).strip()
    if gauge and text in ABSOLUTE:
        raise QuantityFault(f"{text} is an absolute pressure; the gauge pressure is asked for", listed(accepted))
    symbol = find_unit(text, accepted, gauge=gauge)
    if symbol is None:
        if not text:
            raise QuantityFault("the unit is missing", examples(accepted))
        raise QuantityFault("this unit does not fit", listed(accepted))
    try:
        return {"value": _number(value), "unit": symbol}
    except (TypeError, ValueError, OverflowError) as error:
        if isinstance(error, QuantityFault):
            raise
        raise QuantityFault("the number is none", examples(accepted)) from None


_MEANT: Final = ((frozenset({("min", -1)}), "rpm"), (frozenset({("lb", 1), ("in", -2)}), "psi"))
"""What people write for turns per minute and for pounds of force per square inch."""


def _as_meant(unit: str, accepted: tuple[str, ...]) -> str:
    """Return the unit that a text means which spells another one, as the service reads it."""
    if find_unit(unit, accepted) is None:
        written = factors(unit)
        for spelt, meant in _MEANT:
            if written == spelt and meant in accepted:
                return meant
    return unit


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
    return _with_unit(float(number), _as_meant(unit, accepted), accepted, gauge)


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
            "the unit 'mil' of pint is an angle and does not fit; its length is 'thou'", listed(accepted)
        )
    try:
        return _with_unit(number, text, accepted, gauge)
    except QuantityFault:
        converted = _converted(value, accepted)
        if converted is None:
            raise
        return _with_unit(*converted, accepted, gauge)


ENDS: Final = frozenset({"low", "high"})
"""Ends of a range that goes with a number."""


def write(value: Any, accepted: tuple[str, ...], *, gauge: bool = False, ranged: bool = False) -> dict[str, Any]:
    """Return a quantity as it stands on the wire; ``ranged``: it may come with a range. Raises :class:`QuantityFault`."""
    if isinstance(value, str):
        return _from_text(value, accepted, gauge)
    if isinstance(value, Mapping):
        if set(value) - ENDS != {"value", "unit"} or not (value.keys() <= {"value", "unit"} or ranged):
            fields = "value and unit, and low and high of a range" if ranged else "exactly the fields value and unit"
            raise QuantityFault(f"a quantity has {fields}", examples(accepted))
        found = _with_unit(value["value"], value["unit"], accepted, gauge)
        ends = {end: value[end] for end in sorted(ENDS, reverse=True) if value.get(end) is not None}
        return found | {
            end: _with_unit(number, value["unit"], accepted, gauge)["value"] for end, number in ends.items()
        }
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
        raise QuantityFault("this number has no unit", examples(accepted))
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


# Conversion of results ------------------------------------------------------------------------------------------------


def convert(value: float, unit: str, wanted: str) -> tuple[float, str]:
    """Return a number in another unit, and that unit as the service writes it. Raises ``ValueError``.

    A unit may be one of several dimensions: the wanted one decides. A kelvin is left in doubt where a temperature and a
    difference of two would become different numbers.
    """
    from glandwise_client._units import DIMENSIONS  # only where something is converted

    held = [table for table in DIMENSIONS.values() if unit in table]
    if not held:
        raise ValueError(f"{unit} is no unit that is known here")
    for table in held:
        symbol = find_unit(wanted, tuple(table))
        if symbol is None:
            continue
        (scale, offset), (other_scale, other_offset) = table[unit], table[symbol]
        if unit == "K" and other_offset:
            raise ValueError(
                "a quantity in K is a temperature or a difference of two; ask the service for the other unit"
            )
        return (value if symbol == unit else (value * scale + offset - other_offset) / other_scale), symbol
    symbols = dict.fromkeys(symbol for table in held for symbol in table)
    raise ValueError(f"a quantity in {unit} cannot be had in that unit (accepted: {', '.join(symbols)})")


def number_and_unit(value: str | tuple[Any, ...]) -> tuple[float, str]:
    """Return number and unit of a quantity as people write it, the unit as the service writes it. Raises ``ValueError``."""
    from glandwise_client._units import DIMENSIONS

    for name, table in DIMENSIONS.items():
        try:
            found = write(value, tuple(table), gauge=name == "gauge_pressure")
        except QuantityFault as fault:
            last = fault
            continue
        return found["value"], found["unit"]
    raise ValueError(f"this is no quantity: {last.detail}")
