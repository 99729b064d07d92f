"""What the film of a sealed fluid on its shaft hangs on: rows of a table for machine code, leaves for a trace.

Most of what is known of a fluid may be missing: that is NaN, and so is what hangs on it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import SimpleNamespace
from typing import Any, Protocol

import numpy as np

from glandwise.case.choices import Wetting
from glandwise.case.fluid_numbers import COMMON, Number, form_of, leaves_of, put_numbers, si_of
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


def _number(symbol: str, unit: str, title: str, field: str) -> Number:
    return Number(Quantity(symbol, unit, title), field, si_of)


_NUMBERS: Mapping[str, Number] = {
    **COMMON,
    "thermal_conductivity": _number("k_l", "W/(m·K)", "Conductivity of the fluid", "thermal_conductivity"),
    "heat_capacity": _number("c_p", "J/(kg·K)", "Heat capacity of the fluid", "heat_capacity"),
    "reference_temperature": _number("T_0", "K", "Temperature of the reference of the gas", "reference_temperature"),
    "reference_viscosity": _number("eta_0", "Pa·s", "Viscosity of the gas there", "reference_viscosity"),
    "sutherland_temperature": _number("S_0", "K", "Sutherland's temperature of the gas", "sutherland_temperature"),
    "prandtl_number": _number("Pr", "-", "Prandtl number of the gas", "prandtl_number"),
    "molar_mass": _number("M_v", "kg/mol", "Molar mass of the fluid", "molar_mass"),
}
_USUAL = Quantity("h_usual", "W/(m²·K)", "Film coefficient of the rules for the phase")
DTYPE = np.dtype(
    [("usual", "f8"), ("wetting", "i8"), ("viscosity_form", "i8"), *((name, "f8") for name in _NUMBERS)], align=True
)


def put(row: Any, fluid: Fluid, usual: Datum) -> None:
    """Write a fluid into a row; ``usual`` is what the rules hold for its phase."""
    row["usual"], row["wetting"], row["viscosity_form"] = usual.si, Wetting[fluid.film], form_of(fluid)
    put_numbers(row, fluid, _NUMBERS)


def leaves(
    fluid: Fluid, path: str, usual: Datum, of_usual: str, source_of: Callable[[str, Any], str]
) -> SimpleNamespace:  # fmt: skip
    """Return a fluid as leaves of a trace."""
    found: dict[str, Any] = {
        "usual": leaf(usual.si, _USUAL, source_of(of_usual, usual), usual),
        "wetting": Choice(Wetting[fluid.film], "film of the fluid", fluid.film),
        "viscosity_form": Choice(form_of(fluid), "law of the viscosity", fluid.viscosity_form or "not known"),
    }
    found.update(leaves_of(fluid, path, source_of, _NUMBERS))
    return SimpleNamespace(**found)
