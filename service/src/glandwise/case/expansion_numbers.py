"""The numbers of a rule set for thermal expansion, as formulas take them: see :mod:`glandwise.case.numbers`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import SimpleNamespace
from typing import Any, Protocol

import numpy as np

from glandwise.case.tables import CURVE, POINTS, LazyRows, filled, source_of
from glandwise.numerics.docstring import Quantity
from glandwise.numerics.interpolation import CurveRecord
from glandwise.numerics.trace import TracedCurve, leaf
from glandwise.rules.gland_model import CryogenicFit, MeanExpansion
from glandwise.rules.model import RuleSetData


class PtfeExpansion(Protocol):
    """Expansion of unfilled PTFE."""

    strain: CurveRecord
    fit: CurveRecord
    lowest: float


class MetalNumbers(Protocol):
    """Numbers of a material of shaft, housing or case, or of an alloy."""

    fit: CurveRecord
    lowest: float
    flat: float
    is_lent: int
    mean_expansion: float
    elastic_modulus: float
    poisson_ratio: float


METAL_TYPE = np.dtype(
    [
        ("fit", CURVE),
        ("lowest", "f8"),
        ("flat", "f8"),
        ("is_lent", "i8"),
        ("mean_expansion", "f8"),
        ("elastic_modulus", "f8"),
        ("poisson_ratio", "f8"),
    ]
)
PTFE_TYPE = np.dtype([("strain", CURVE), ("fit", CURVE), ("lowest", "f8")])


def strain_curve(table: MeanExpansion) -> tuple[list[float], list[float]]:
    """Return the points of the strain that a table of mean coefficients stands for, zero at its reference."""
    points = {
        float(t): float(c) * (float(t) - table.si_reference)
        for t, c in zip(table.si_temperature, table.si_coefficient, strict=True)
    }
    points[float(table.si_reference)] = 0.0
    ordered = sorted(points)
    return ordered, [points[t] for t in ordered]


def _powers(fit: CryogenicFit) -> tuple[list[float], list[float]]:
    return [float(i) for i in range(len(fit.si_coefficients))], list(fit.si_coefficients)


def packed_points(x: Sequence[float], y: Sequence[float]) -> Any:
    """Return the points of a curve as the fields of a row."""
    return filled(x, POINTS), filled(y, POINTS), len(x)


def _fit_of(data: RuleSetData, name: str) -> tuple[str, CryogenicFit, bool]:
    """Return name and fit of the expansion of a metal in the cold, and whether it is lent by another metal."""
    own = data.expansion.metals.fits.get(name)
    key = own or data.expansion.metals.other
    return key, getattr(data.expansion.cryogenic, key), own is None


def packed_metals(data: RuleSetData, records: Mapping[str, Any]) -> Any:
    """Pack some metals; of an alloy, whose modulus is a curve of its own, the expansion alone."""
    table = np.zeros(len(records), METAL_TYPE)
    for row, (name, record) in zip(table, records.items(), strict=True):
        _, fit, is_lent = _fit_of(data, name)
        row["fit"] = packed_points(*_powers(fit))
        row["lowest"], row["flat"], row["is_lent"] = fit.lowest_k, fit.flat_below_k, is_lent
        row["mean_expansion"] = record.mean_expansion.si
        for part in ("elastic_modulus", "poisson_ratio"):
            row[part] = getattr(getattr(record, part), "si", np.nan)
    return table


def packed_ptfe(data: RuleSetData) -> Any:
    """Pack the expansion of unfilled PTFE."""
    table, cold = np.zeros(1, PTFE_TYPE), data.expansion.cryogenic.ptfe_expansion
    table[0] = packed_points(*strain_curve(data.expansion.ptfe_unfilled)), packed_points(*_powers(cold)), cold.lowest_k
    return table


def packed_usual(data: RuleSetData) -> Any:
    """Pack the materials of shafts and housings, the last two those of a housing and of a shaft that are not stated."""
    names, housing = list(data.shaft_materials), data.gland.housing
    table = packed_metals(data, data.shaft_materials)
    usual = [names.index(housing.material.name), names.index(housing.shaft_material.name)]
    return np.concatenate([table, table[usual]])


_LENGTHS = "epsilon_PTFE", "Strain of unfilled PTFE from the reference of its table"
_METAL = {
    "mean_expansion": Quantity("alpha", "1/K", "Mean expansion of the metal"),
    "elastic_modulus": Quantity("E_m", "Pa", "Young's modulus of the metal"),
    "poisson_ratio": Quantity("nu_m", "-", "Poisson's ratio of the metal"),
}


def _traced_fit(fit: CryogenicFit, path: str, symbol: str, title: str) -> tuple[TracedCurve, Any]:
    source = source_of(path, fit)
    curve = TracedCurve(Quantity(symbol, "-", title), *_powers(fit), source, fit)
    lowest = Quantity("T_low", "K", "Lowest temperature of the fit of the expansion")
    return curve, leaf(fit.lowest_k, lowest, source, fit)


def traced_metal(data: RuleSetData, table: str, name: str, *chosen_by: Any) -> SimpleNamespace:
    """Return a metal as leaves; ``chosen_by`` is the record that chose it where the request did not."""
    metal = getattr(data, table)[name]
    key, fit, is_lent = _fit_of(data, name)
    path = f"expansion.cryogenic.{key}"
    curve, lowest = _traced_fit(fit, path, "epsilon_fit", "Strain by the fit for low temperatures")
    flat = Quantity("T_flat", "K", "Temperature below which nothing shrinks further")
    found = {}
    for field, q in _METAL.items():
        record = getattr(metal, field)
        if hasattr(record, "si"):
            source = source_of(f"{table}.{name}.{field}", record)
            found[field] = leaf(record.si, q, source, (record, *chosen_by))
    return SimpleNamespace(
        fit=curve,
        lowest=lowest,
        flat=leaf(fit.flat_below_k, flat, source_of(path, fit), fit),
        is_lent=int(is_lent),
        **found,
    )


def traced_ptfe(data: RuleSetData) -> SimpleNamespace:
    """Return the expansion of unfilled PTFE as leaves."""
    table = data.expansion.ptfe_unfilled
    points = strain_curve(table)
    strain = TracedCurve(
        Quantity(_LENGTHS[0], "-", _LENGTHS[1]), *points, source_of("expansion.ptfe_unfilled", table), table
    )
    fit, lowest = _traced_fit(
        data.expansion.cryogenic.ptfe_expansion, "expansion.cryogenic.ptfe_expansion", "epsilon_cold",
        "Strain of unfilled PTFE by the fit for low temperatures",
    )  # fmt: skip
    return SimpleNamespace(strain=strain, fit=fit, lowest=lowest)


def traced_usual(data: RuleSetData) -> LazyRows:
    """Return the materials of shafts and housings as leaves: see :func:`packed_usual`."""
    names, housing = list(data.shaft_materials), data.gland.housing
    usual = {-1: housing.shaft_material, -2: housing.material}

    def metal(code: int) -> SimpleNamespace:
        if code < 0:
            return traced_metal(data, "shaft_materials", usual[code].name, usual[code])
        return traced_metal(data, "shaft_materials", names[code])

    return LazyRows(metal)
