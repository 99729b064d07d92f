"""Numbers of a fluid as formulas take them: rows of a table for machine code, leaves for a trace.

Most of what is known of a fluid may be missing: that is NaN, and so is what hangs on it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import SimpleNamespace
from typing import Any, NamedTuple, Protocol

import numpy as np

from glandwise.case.choices import Lubrication, Medium
from glandwise.mechanics.choices import ViscosityForm
from glandwise.numerics.docstring import Quantity
from glandwise.numerics.trace import Choice, leaf
from glandwise.rules.model import Fluid


class FluidNumbers(Protocol):
    """Numbers of a fluid."""

    lubrication: int
    medium: int
    viscosity_form: int
    solids: int
    dry_inert: int
    lubricity: int
    crystallises: int
    T_1: float
    eta_1: float
    T_2: float
    eta_2: float
    T_3: float
    eta_3: float
    hottest: float
    density: float
    volume_expansion: float
    film_floor: float
    film_floor_low: float
    film_floor_high: float
    viscosity_low: float
    viscosity_high: float
    boiling_point: float
    heat_of_vaporization: float
    molar_mass: float
    deposits_from: float


class Number(NamedTuple):
    """A number of a fluid for formulas."""

    quantity: Quantity
    field: str
    """Field of the fluid that it comes from."""
    at: Callable[[Any], float]
    """Number of the record of that field."""
    otherwise: float = np.nan
    """Where there is no record."""


def _point(axis: str, index: int) -> Callable[[Any], float]:
    """Return what takes a point of a table; the last one stands for those that there are not."""
    return lambda curve: float(getattr(curve, axis)[min(index, len(curve.si_x) - 1)])


def si_of(record: Any) -> float:
    """Return the number of a record."""
    return float(record.si)


def _low(record: Any) -> float:
    return float(record.si_low)


def _high(record: Any) -> float:
    return float(record.si_high)


COMMON: Mapping[str, Number] = {
    **{
        name: Number(Quantity(name, unit, f"{title} of the viscosity"), "viscosity", _point(axis, index))
        for index, title in enumerate(("First point", "Second point", "Third point"))
        for name, unit, axis in ((f"T_{index + 1}", "K", "si_x"), (f"eta_{index + 1}", "Pa·s", "si_y"))
    },
    "hottest": Number(Quantity("T_n", "K", "Hottest point of the viscosity"), "viscosity", _point("si_x", 2)),
    "density": Number(Quantity("rho_1", "kg/m³", "Density at the first point"), "density", si_of),
    "volume_expansion": Number(Quantity("beta", "1/K", "Volume expansion of the fluid"), "volume_expansion", si_of),
    "boiling_point": Number(Quantity("T_b", "K", "Boiling point at one atmosphere"), "boiling_point", si_of),
    "heat_of_vaporization": Number(Quantity("h_fg", "J/kg", "Heat of vaporization"), "heat_of_vaporization", si_of),
}
"""What lip and shaft both go by."""
_NUMBERS: Mapping[str, Number] = {
    **COMMON,
    "film_floor": Number(Quantity("f_0", "-", "Share that solid contact bears at the least"), "film_floor", si_of),
    "film_floor_low": Number(Quantity("f_0_low", "-", "Low end of that share"), "film_floor", _low),
    "film_floor_high": Number(Quantity("f_0_high", "-", "High end of that share"), "film_floor", _high),
    "viscosity_low": Number(
        Quantity("f_eta_low", "-", "Low end of the viscosity over it"), "viscosity_factor", _low, 1.0
    ),
    "viscosity_high": Number(
        Quantity("f_eta_high", "-", "High end of the viscosity over it"), "viscosity_factor", _high, 1.0
    ),
    "molar_mass": Number(Quantity("M_v", "kg/mol", "Molar mass of the vapour"), "molar_mass", si_of),
    "deposits_from": Number(
        Quantity("T_dep", "K", "Temperature from which what wets the lip leaves deposits"), "deposit_temperature", si_of
    ),
}
SOLIDS = ("powder", "dough", "chips", "slurry")
"""Kinds of solids by their code less one."""
POWDER, DOUGH, CHIPS, SLURRY = 1, 2, 3, 4
THIN = ("fuel", "solvent")
"""Media that wet without protecting, by their code of lubricity less one."""
FUEL, SOLVENT = 1, 2
_MEDIA = {"fuel": "oil", "solvent": "aqueous"}
"""Medium that is known and stands for one of which nothing is; a factor on wear says what is lost."""
_CODES = ("lubrication", "medium", "viscosity_form", "solids", "dry_inert", "lubricity", "crystallises")
DTYPE = np.dtype([*((name, "f8") for name in _NUMBERS), *((name, "i8") for name in _CODES)], align=True)


def _codes(fluid: Fluid) -> dict[str, int]:
    return {
        "lubrication": Lubrication[fluid.lubrication],
        "medium": Medium[_MEDIA.get(fluid.medium, fluid.medium)],
        "viscosity_form": form_of(fluid),
        "solids": 0 if fluid.solids is None else 1 + SOLIDS.index(fluid.solids),
        "dry_inert": int(fluid.dry_inert),
        "lubricity": 1 + THIN.index(fluid.medium) if fluid.medium in THIN else 0,
        "crystallises": int(fluid.crystallises),
    }


def form_of(fluid: Fluid) -> int:
    """Return the law of the viscosity as a code; -1 where it is not known."""
    form = fluid.viscosity_form if fluid.viscosity is not None else None
    return -1 if form is None else int(ViscosityForm[form])


def put_numbers(row: Any, fluid: Fluid, numbers: Mapping[str, Number]) -> None:
    """Write numbers of a fluid into a row."""
    for name, number in numbers.items():
        record = getattr(fluid, number.field)
        row[name] = number.otherwise if record is None else number.at(record)


def leaves_of(
    fluid: Fluid, path: str, source_of: Callable[[str, Any], str], numbers: Mapping[str, Number]
) -> dict[str, Any]:  # fmt: skip
    """Return numbers of a fluid as leaves of a trace."""
    found = {}
    for name, (quantity, field, at, otherwise) in numbers.items():
        record = getattr(fluid, field)
        found[name] = (
            leaf(otherwise, quantity, "not known")
            if record is None
            else leaf(at(record), quantity, source_of(f"{path}.{field}", record), record)
        )
    return found


def put(row: Any, fluid: Fluid) -> None:
    """Write a fluid into a row."""
    put_numbers(row, fluid, _NUMBERS)
    for name, code in _codes(fluid).items():
        row[name] = code


def leaves(fluid: Fluid, path: str, source_of: Callable[[str, Any], str]) -> SimpleNamespace:
    """Return a fluid as leaves of a trace."""
    found = leaves_of(fluid, path, source_of, _NUMBERS)
    for name, code in _codes(fluid).items():
        words = {
            "viscosity_form": fluid.viscosity_form or "not known",
            "solids": fluid.solids or "none",
            "dry_inert": str(fluid.dry_inert),
            "lubricity": fluid.medium,
            "crystallises": str(fluid.crystallises),
        }
        found[name] = Choice(code, name.replace("_", " "), words.get(name, getattr(fluid, name, "")))
    return SimpleNamespace(**found)
