"""What the film of a sealed fluid on its shaft hangs on: rows of a table for machine code, leaves for a trace.

Most of what is known of a fluid may be missing: that is NaN, and so is what hangs on it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import SimpleNamespace
from typing import Any, NamedTuple, Protocol

import numpy as np

from glandwise.case.choices import Wetting
from glandwise.mechanics.choices import ViscosityForm
from glandwise.numerics.docstring import Quantity
from glandwise.numerics.trace import Choice, leaf
from glandwise.rules.model import Datum, Fluid


class FilmNumbers(Protocol):
    """Numbers of a fluid around a shaft."""

    usual: float
    """Film coefficient of the rules for its phase."""
    wetting: int
    viscosity_form: int
    T_1: float
    eta_1: float
    T_2: float
    eta_2: float
    T_3: float
    eta_3: float
    hottest: float
    density: float
    volume_expansion: float
    thermal_conductivity: float
    heat_capacity: float
    reference_temperature: float
    reference_viscosity: float
    sutherland_temperature: float
    prandtl_number: float
    molar_mass: float
    boiling_point: float
    heat_of_vaporization: float


class _Number(NamedTuple):
    quantity: Quantity
    field: str
    """Field of the fluid that it comes from."""
    at: Callable[[Any], float]
    """Number of the record of that field."""


def _point(axis: str, index: int) -> Callable[[Any], float]:
    """Return what takes a point of a table; the last one stands for those that there are not."""
    return lambda curve: float(getattr(curve, axis)[min(index, len(curve.si_x) - 1)])


def _number(symbol: str, unit: str, title: str, field: str) -> _Number:
    return _Number(Quantity(symbol, unit, title), field, lambda record: float(record.si))


_NUMBERS: Mapping[str, _Number] = {
    **{
        name: _Number(Quantity(name, unit, f"{title} of the viscosity"), "viscosity", _point(axis, index))
        for index, title in enumerate(("First point", "Second point", "Third point"))
        for name, unit, axis in ((f"T_{index + 1}", "K", "si_x"), (f"eta_{index + 1}", "Pa·s", "si_y"))
    },
    "hottest": _Number(Quantity("T_n", "K", "Hottest point of the viscosity"), "viscosity", _point("si_x", 2)),
    "density": _number("rho_1", "kg/m³", "Density at the first point", "density"),
    "volume_expansion": _number("beta", "1/K", "Volume expansion of the fluid", "volume_expansion"),
    "thermal_conductivity": _number("k_l", "W/(m·K)", "Conductivity of the fluid", "thermal_conductivity"),
    "heat_capacity": _number("c_p", "J/(kg·K)", "Heat capacity of the fluid", "heat_capacity"),
    "reference_temperature": _number("T_0", "K", "Temperature of the reference of the gas", "reference_temperature"),
    "reference_viscosity": _number("eta_0", "Pa·s", "Viscosity of the gas there", "reference_viscosity"),
    "sutherland_temperature": _number("S_0", "K", "Sutherland's temperature of the gas", "sutherland_temperature"),
    "prandtl_number": _number("Pr", "-", "Prandtl number of the gas", "prandtl_number"),
    "molar_mass": _number("M_v", "kg/mol", "Molar mass of the fluid", "molar_mass"),
    "boiling_point": _number("T_b", "K", "Boiling point at one atmosphere", "boiling_point"),
    "heat_of_vaporization": _number("h_fg", "J/kg", "Heat of vaporization", "heat_of_vaporization"),
}
_USUAL = Quantity("h_usual", "W/(m²·K)", "Film coefficient of the rules for the phase")
DTYPE = np.dtype(
    [("usual", "f8"), ("wetting", "i8"), ("viscosity_form", "i8"), *((name, "f8") for name in _NUMBERS)], align=True
)


def _form(fluid: Fluid) -> int:
    known = fluid.viscosity is not None and fluid.viscosity_form is not None
    return int(ViscosityForm[fluid.viscosity_form]) if known and fluid.viscosity_form is not None else -1


def put(row: Any, fluid: Fluid, usual: Datum) -> None:
    """Write a fluid into a row; ``usual`` is what the rules hold for its phase."""
    row["usual"], row["wetting"], row["viscosity_form"] = usual.si, Wetting[fluid.film], _form(fluid)
    for name, number in _NUMBERS.items():
        record = getattr(fluid, number.field)
        row[name] = np.nan if record is None else number.at(record)


def leaves(
    fluid: Fluid, path: str, usual: Datum, of_usual: str, source_of: Callable[[str, Any], str]
) -> SimpleNamespace:  # fmt: skip
    """Return a fluid as leaves of a trace."""
    found: dict[str, Any] = {
        "usual": leaf(usual.si, _USUAL, source_of(of_usual, usual), usual),
        "wetting": Choice(Wetting[fluid.film], "film of the fluid", fluid.film),
        "viscosity_form": Choice(_form(fluid), "law of the viscosity", fluid.viscosity_form or "not known"),
    }
    for name, (quantity, field, at) in _NUMBERS.items():
        record = getattr(fluid, field)
        found[name] = (
            leaf(np.nan, quantity, "not known")
            if record is None
            else leaf(at(record), quantity, source_of(f"{path}.{field}", record), record)
        )
    return SimpleNamespace(**found)
