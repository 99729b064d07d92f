"""The closed set of units and their factors to SI.

Every dimension that may stand on the wire or in rule data is listed here with its units and the codes that ERP systems
use for them (UCUM and UN/ECE Recommendation 20). The factors are derived from pint by ``python -m
glandwise.units_build`` into ``unit_factors.json``; a test derives them again. pint itself never runs in a request and
is never given a string from outside.

Rules of reading:

* ``rpm`` is revolutions per minute; a rotational speed in SI is in revolutions per second, never in radians.
* ``gauge_pressure`` is relative to the ambient and may be negative (vacuum side); ``stress`` is absolute.
* ``temperature`` carries an offset, ``temperature_difference`` does not.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import ROUND_CEILING, ROUND_FLOOR, Context, Decimal
from importlib.resources import files
from math import ceil, floor, isfinite, log10
from typing import Any, Final


@dataclass(frozen=True)
class Unit:
    """One unit: its symbol on the wire, the pint expression it stands for, and its aliases."""

    symbol: str
    expression: str
    aliases: tuple[str, ...] = ()


@dataclass(frozen=True)
class Dimension:
    """A kind of quantity with its SI unit (a pint expression) and the units accepted for it."""

    name: str
    title: str
    si: str
    units: tuple[Unit, ...]
    si_system: str
    us_system: str
    note: str = ""
    symbols: tuple[str, ...] = field(init=False)
    """Every symbol and code that is taken."""
    published: tuple[str, ...] = field(init=False)
    """Those that a schema lists: without the codes that differ from another one by case alone (kPa, KPA).

    Programs that make names in capitals of the members of an enumeration would make one name of the two.
    """

    def __post_init__(self) -> None:
        names = tuple(name for unit in self.units for name in (unit.symbol, *unit.aliases))
        object.__setattr__(self, "symbols", names)
        first = {name.casefold(): name for name in reversed(names)}
        object.__setattr__(self, "published", tuple(name for name in names if first[name.casefold()] == name))


_LENGTHS = (
    Unit("mm", "millimeter", ("MMT",)),
    Unit("m", "meter", ("MTR",)),
    Unit("cm", "centimeter", ("CMT",)),
    Unit("um", "micrometer", ("4H",)),
    Unit("in", "inch", ("[in_i]", "INH")),
    Unit("mil", "mil_length", ("[mil_i]", "77")),
)
_ROTATIONS = (
    Unit("rpm", "turn / minute", ("{rev}/min", "RPM")),
    Unit("rev/s", "turn / second", ("{rev}/s",)),
    Unit("rad/s", "radian / second", ("2A",)),
)
_SURFACE_SPEEDS = (
    Unit("m/s", "meter / second", ("MTS",)),
    Unit("m/min", "meter / minute", ("2X",)),
    Unit("ft/min", "foot / minute", ("[ft_i]/min", "FR")),
    Unit("ft/s", "foot / second", ("[ft_i]/s", "FS")),
)
_PRESSURES = (
    Unit("Pa", "pascal", ("PAL",)),
    Unit("kPa", "kilopascal", ("KPA",)),
    Unit("MPa", "megapascal", ("MPA",)),
    Unit("bar", "bar", ("BAR",)),
    Unit("psi", "pound_force_per_square_inch", ("[psi]", "PS")),
    Unit("kgf/cm2", "kilogram_force / centimeter ** 2"),
)

DIMENSIONS: Final[Mapping[str, Dimension]] = {
    dimension.name: dimension
    for dimension in (
        Dimension("length", "Length", "meter", _LENGTHS, "mm", "in"),
        Dimension(
            "roughness",
            "Roughness",
            "meter",
            (Unit("um", "micrometer", ("4H",)), Unit("uin", "microinch", ("u[in_i]",))),
            "um",
            "uin",
            "Arithmetic mean deviation Ra of the profile.",
        ),
        Dimension(
            "area",
            "Area",
            "meter ** 2",
            (Unit("mm2", "millimeter ** 2", ("MMK",)), Unit("in2", "inch ** 2", ("[sin_i]", "INK"))),
            "mm2",
            "in2",
        ),
        Dimension(
            "volume",
            "Volume",
            "meter ** 3",
            (
                Unit("mm3", "millimeter ** 3", ("MMQ",)),
                Unit("cm3", "centimeter ** 3", ("CMQ",)),
                Unit("in3", "inch ** 3", ("[cin_i]", "INQ")),
            ),
            "cm3",
            "in3",
        ),
        Dimension(
            "rotational_speed",
            "RotationalSpeed",
            "turn / second",
            _ROTATIONS,
            "rpm",
            "rpm",
            "Whole turns per time; rad/s is divided by 2 pi.",
        ),
        Dimension("surface_speed", "SurfaceSpeed", "meter / second", _SURFACE_SPEEDS, "m/s", "ft/min"),
        Dimension(
            "frequency",
            "Frequency",
            "turn / second",
            (Unit("Hz", "turn / second", ("HTZ",)), Unit("1/min", "turn / minute", ("/min",))),
            "Hz",
            "Hz",
            "Cycles per time.",
        ),
        Dimension(
            "angle", "Angle", "radian", (Unit("deg", "degree", ("DD",)), Unit("rad", "radian", ("C81",))), "deg", "deg"
        ),
        Dimension(
            "gauge_pressure",
            "GaugePressure",
            "pascal",
            _PRESSURES,
            "MPa",
            "psi",
            "Pressure above the ambient; negative on the vacuum side.",
        ),
        Dimension(
            "stress",
            "Stress",
            "pascal",
            (*_PRESSURES, Unit("GPa", "gigapascal", ("A89",)), Unit("ksi", "kilopound_force_per_square_inch", ())),
            "MPa",
            "psi",
            "Stress, contact pressure, strength or modulus.",
        ),
        Dimension(
            "temperature",
            "Temperature",
            "kelvin",
            (
                Unit("degC", "degree_Celsius", ("Cel", "CEL")),
                Unit("K", "kelvin", ("KEL",)),
                Unit("degF", "degree_Fahrenheit", ("[degF]", "FAH")),
            ),
            "degC",
            "degF",
            "A point on the scale, not a difference.",
        ),
        Dimension(
            "temperature_difference",
            "TemperatureDifference",
            "kelvin",
            (
                Unit("K", "kelvin", ("KEL",)),
                Unit("delta_degC", "delta_degree_Celsius", ()),
                Unit("delta_degF", "delta_degree_Fahrenheit", ()),
            ),
            "K",
            "delta_degF",
            "A difference of temperatures.",
        ),
        Dimension(
            "force",
            "Force",
            "newton",
            (
                Unit("N", "newton", ("NEW",)),
                Unit("kN", "kilonewton", ("B47",)),
                Unit("lbf", "pound_force", ("[lbf_av]", "C78")),
            ),
            "N",
            "lbf",
        ),
        Dimension(
            "line_load",
            "LineLoad",
            "newton / meter",
            (
                Unit("N/mm", "newton / millimeter", ("F47",)),
                Unit("N/m", "newton / meter", ("4P",)),
                Unit("lbf/in", "pound_force / inch", ("[lbf_av]/[in_i]", "F48")),
            ),
            "N/mm",
            "lbf/in",
            "Force per length of circumference.",
        ),
        Dimension(
            "spring_rate",
            "SpringRate",
            "newton / meter",
            (
                Unit("N/mm", "newton / millimeter", ("F47",)),
                Unit("N/m", "newton / meter", ("4P",)),
                Unit("lbf/in", "pound_force / inch", ("[lbf_av]/[in_i]", "F48")),
            ),
            "N/mm",
            "lbf/in",
            "Force per deflection.",
        ),
        Dimension(
            "line_stiffness",
            "LineStiffness",
            "newton / meter ** 2",
            (
                Unit("N/mm/mm", "newton / millimeter ** 2", ()),
                Unit("N/m/m", "newton / meter ** 2", ()),
                Unit("lbf/in/in", "pound_force / inch ** 2", ()),
            ),
            "N/mm/mm",
            "lbf/in/in",
            "Force per length of circumference and per radial deflection.",
        ),
        Dimension(
            "torque",
            "Torque",
            "newton * meter",
            (
                Unit("N.m", "newton * meter", ("NU",)),
                Unit("N.mm", "newton * millimeter", ()),
                Unit("lbf.in", "pound_force * inch", ("[lbf_av].[in_i]", "F21")),
                Unit("lbf.ft", "pound_force * foot", ("[lbf_av].[ft_i]", "M92")),
            ),
            "N.m",
            "lbf.in",
        ),
        Dimension(
            "power",
            "Power",
            "watt",
            (Unit("W", "watt", ("WTT",)), Unit("kW", "kilowatt", ("KWT",)), Unit("hp", "horsepower", ("[HP]",))),
            "W",
            "hp",
            "hp is the mechanical horsepower of 550 ft.lbf/s.",
        ),
        Dimension(
            "pressure_velocity",
            "PressureVelocity",
            "pascal * meter / second",
            (
                Unit("MPa.m/s", "megapascal * meter / second", ()),
                Unit("psi.ft/min", "pound_force_per_square_inch * foot / minute", ("[psi].[ft_i]/min",)),
            ),
            "MPa.m/s",
            "psi.ft/min",
        ),
        Dimension(
            "dynamic_viscosity",
            "DynamicViscosity",
            "pascal * second",
            (
                Unit("mPa.s", "millipascal * second", ("C24",)),
                Unit("Pa.s", "pascal * second", ("C65",)),
                Unit("cP", "centipoise", ("C7",)),
            ),
            "mPa.s",
            "cP",
        ),
        Dimension(
            "density",
            "Density",
            "kilogram / meter ** 3",
            (
                Unit("g/cm3", "gram / centimeter ** 3", ("23",)),
                Unit("kg/m3", "kilogram / meter ** 3", ("KMQ",)),
                Unit("lb/in3", "pound / inch ** 3", ("[lb_av]/[cin_i]", "LA")),
            ),
            "g/cm3",
            "lb/in3",
        ),
        Dimension(
            "mass",
            "Mass",
            "kilogram",
            (Unit("kg", "kilogram", ("KGM",)), Unit("g", "gram", ("GRM",)), Unit("lb", "pound", ("[lb_av]", "LBR"))),
            "kg",
            "lb",
        ),
        Dimension(
            "time",
            "Time",
            "second",
            (
                Unit("h", "hour", ("HUR",)),
                Unit("s", "second", ("SEC",)),
                Unit("min", "minute", ("MIN",)),
                Unit("d", "day", ("DAY",)),
            ),
            "h",
            "h",
        ),
        Dimension(
            "thermal_conductivity",
            "ThermalConductivity",
            "watt / meter / kelvin",
            (
                Unit("W/m/K", "watt / meter / kelvin", ("D53",)),
                Unit("Btu/h/ft/degF", "international_british_thermal_unit / hour / foot / delta_degree_Fahrenheit", ()),
            ),
            "W/m/K",
            "Btu/h/ft/degF",
        ),
        Dimension(
            "heat_transfer_coefficient",
            "HeatTransferCoefficient",
            "watt / meter ** 2 / kelvin",
            (
                Unit("W/m2/K", "watt / meter ** 2 / kelvin", ("D55",)),
                Unit(
                    "Btu/h/ft2/degF",
                    "international_british_thermal_unit / hour / foot ** 2 / delta_degree_Fahrenheit",
                    (),
                ),
            ),
            "W/m2/K",
            "Btu/h/ft2/degF",
        ),
        Dimension(
            "thermal_conductance",
            "ThermalConductance",
            "watt / kelvin",
            (
                Unit("W/K", "watt / kelvin", ("D52",)),
                Unit("Btu/h/degF", "international_british_thermal_unit / hour / delta_degree_Fahrenheit", ()),
            ),
            "W/K",
            "Btu/h/degF",
        ),
        Dimension(
            "thermal_expansion",
            "ThermalExpansion",
            "1 / kelvin",
            (
                Unit("1e-6/K", "1e-6 / kelvin", ()),
                Unit("1/K", "1 / kelvin", ("C91",)),
                Unit("1e-6/degF", "1e-6 / delta_degree_Fahrenheit", ()),
            ),
            "1e-6/K",
            "1e-6/degF",
        ),
        Dimension(
            "specific_wear_rate",
            "SpecificWearRate",
            "meter ** 3 / newton / meter",
            (
                Unit("mm3/N/m", "millimeter ** 3 / newton / meter", ()),
                Unit("in3.min/ft/lbf/h", "inch ** 3 * minute / foot / pound_force / hour", ()),
            ),
            "mm3/N/m",
            "in3.min/ft/lbf/h",
            "Worn volume per load and sliding distance.",
        ),
        Dimension(
            "mass_per_area",
            "MassPerArea",
            "kilogram / meter ** 2",
            (Unit("kg/m2", "kilogram / meter ** 2", ("28",)), Unit("lb/in2", "pound / inch ** 2", ())),
            "kg/m2",
            "lb/in2",
        ),
        Dimension(
            "molar_energy",
            "MolarEnergy",
            "joule / mole",
            (Unit("kJ/mol", "kilojoule / mole", ("B44",)), Unit("J/mol", "joule / mole", ("B15",))),
            "kJ/mol",
            "kJ/mol",
        ),
        Dimension(
            "molar_mass",
            "MolarMass",
            "kilogram / mole",
            (Unit("g/mol", "gram / mole", ("A94",)), Unit("kg/mol", "kilogram / mole", ("D74",))),
            "g/mol",
            "g/mol",
        ),
        Dimension(
            "heat_capacity",
            "HeatCapacity",
            "joule / kilogram / kelvin",
            (
                Unit("J/kg/K", "joule / kilogram / kelvin", ("B11",)),
                Unit("kJ/kg/K", "kilojoule / kilogram / kelvin", ("B43",)),
                Unit("Btu/lb/degF", "international_british_thermal_unit / pound / delta_degree_Fahrenheit", ()),
            ),
            "J/kg/K",
            "Btu/lb/degF",
        ),
        Dimension(
            "heat_of_vaporization",
            "HeatOfVaporization",
            "joule / kilogram",
            (
                Unit("kJ/kg", "kilojoule / kilogram", ("B42",)),
                Unit("J/kg", "joule / kilogram", ("J2",)),
                Unit("Btu/lb", "international_british_thermal_unit / pound", ("AZ",)),
            ),
            "kJ/kg",
            "Btu/lb",
        ),
        Dimension(
            "ratio",
            "Ratio",
            "dimensionless",
            (Unit("1", "dimensionless", ("C62",)), Unit("%", "percent", ("P1",))),
            "1",
            "1",
        ),
        Dimension(
            "hardness_hrc",
            "HardnessRockwellC",
            "dimensionless",
            (Unit("HRC", "dimensionless", ()),),
            "HRC",
            "HRC",
            "A number on the scale of ISO 6508-1; no conversion to other scales.",
        ),
        Dimension(
            "hardness_shore_a",
            "HardnessShoreA",
            "dimensionless",
            (Unit("ShoreA", "dimensionless", ()),),
            "ShoreA",
            "ShoreA",
            "A number on the scale of ISO 48-4; no conversion to other scales.",
        ),
    )
}

_FACTORS: Final[dict[str, dict[str, tuple[float, float]]]] = {
    name: {symbol: (pair[0], pair[1]) for symbol, pair in table.items()}
    for name, table in json.loads(files("glandwise").joinpath("unit_factors.json").read_text("utf-8")).items()
}


def factor(dimension: str, symbol: str) -> tuple[float, float]:
    """Return ``(scale, offset)`` with ``si = value * scale + offset`` for a unit symbol or alias."""
    return _FACTORS[dimension][symbol]


def factors(dimension: str) -> Mapping[str, tuple[float, float]]:
    """Return the factors of all symbols and aliases of a dimension."""
    return _FACTORS[dimension]


def to_si(value: Any, dimension: str, symbol: str) -> Any:
    """Convert a number (or array) given in ``symbol`` to SI."""
    scale, offset = _FACTORS[dimension][symbol]
    return value * scale + offset


def from_si(value: Any, dimension: str, symbol: str) -> Any:
    """Convert a number (or array) in SI to ``symbol``."""
    scale, offset = _FACTORS[dimension][symbol]
    return (value - offset) / scale


def _rounded(si: float, scale: float, offset: float) -> float:
    """Return an SI number in another unit, to ten digits; what an offset takes off leaves no noise behind."""
    value = (si - offset) / scale
    return float(f"{value:.10g}") if offset == 0.0 else round(value, 7)


class UnitSystem:
    """The units of an answer, one per dimension, with the rounding that answers carry.

    Answers are rounded to ten significant digits: far beyond the physics, and enough to keep the noise of a unit
    conversion (12.700000000000001 mm) out of other people's records.
    """

    __slots__ = ("_table", "name", "units")

    def __init__(self, name: str, overrides: Mapping[str, str] | None = None) -> None:
        self.name = name
        self.units: dict[str, str] = {
            dimension.name: dimension.us_system if name == "us" else dimension.si_system
            for dimension in DIMENSIONS.values()
        }
        self.units.update(overrides or {})
        self._table = {name: (unit, *_FACTORS[name][unit]) for name, unit in self.units.items()}

    def number(self, dimension: str, si: float) -> float:
        """Return the number of ``si`` in this system's unit, rounded."""
        _, scale, offset = self._table[dimension]
        return _rounded(si, scale, offset)

    def quantity(self, dimension: str, si: float) -> dict[str, Any]:
        """Return ``{"value", "unit"}`` of an SI number."""
        unit, scale, offset = self._table[dimension]
        return {"value": _rounded(si, scale, offset), "unit": unit}

    def optional(self, dimension: str, si: float | None) -> dict[str, Any] | None:
        """Return ``{"value", "unit"}``, or ``None`` for a missing or non-finite number."""
        if si is None or not isfinite(si):
            return None
        unit, scale, offset = self._table[dimension]
        return {"value": _rounded(si, scale, offset), "unit": unit}

    def text(self, dimension: str, si: float, digits: int = 3) -> str:
        """Return a number with its unit for reading, ``digits`` significant."""
        unit, scale, offset = self._table[dimension]
        return f"{format_number((si - offset) / scale, digits)} {unit}" if unit != "1" else format_number(si, digits)

    def bound(self, dimension: str, si: float, *, up: bool = False, digits: int | None = None) -> str:
        """Return a limit for reading, rounded to the safe side: three digits, or whole units from a hundred on.

        ``digits``: so many, also of a large number.
        """
        unit, value = self.units[dimension], self.number(dimension, si)
        if value == 0.0:
            return f"0 {unit}"
        place = floor(log10(abs(value)))
        step = 10.0 ** (min(place - 2, 0) if digits is None else place + 1 - digits)
        # what is a whole number of steps but for the noise of a conversion stays as it is
        noise = 1e-10 * abs(value) / step
        steps = ceil(value / step - noise) if up else floor(value / step + noise)
        return f"{format_number(steps * step)} {unit}"


_WHOLE_FROM = tuple(10.0 ** (digits - 1) for digits in range(18))
"""By the number of digits: from where on a number is written without a fraction."""


def format_number(value: float, digits: int = 3) -> str:
    """Write a number for reading: ``digits`` significant, no exponent between 1e-4 and 1e6, thousands set apart."""
    if value == 0.0:
        return "0"
    magnitude = abs(value)
    if magnitude >= 1e6 or magnitude < 1e-4:
        return f"{value:.{digits}g}"
    if magnitude >= _WHOLE_FROM[digits]:
        return f"{value:,.0f}"
    text = f"{value:.{digits}g}"
    return f"{value:f}".rstrip("0").rstrip(".") if "e" in text else text


_EXACT = 7
"""Significant digits in which an end of a range is still written in full."""


def format_bound(value: float, *, upper: bool, digits: int = 4) -> str:
    """Write an end of a range for reading, rounded into the range, so that what is written is accepted.

    ``digits`` significant, but in full where a few more tell it exactly (-459.67).
    """
    plain = Decimal(f"{value:.12g}")  # the noise of a conversion is no digit
    for enough in range(digits, _EXACT + 1):
        if Context(prec=enough).create_decimal(plain) == plain:
            return format_number(float(plain), enough)
    inward = Context(prec=digits, rounding=ROUND_FLOOR if upper else ROUND_CEILING).create_decimal(plain)
    return format_number(float(inward), digits)
