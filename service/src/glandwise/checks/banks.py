"""Rule records of many cases at once: the same attributes as a single record, with arrays for numbers.

A batch holds cases of different compounds, alloys and fluids. A bank stands where a single record stands in a
:class:`glandwise.checks.case.Case`, so that the same formulas run on both.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from glandwise.mechanics import numeric as num
from glandwise.rules.model import Compound, Curve, Prony

Index = Any
"""Integer array: which record each case uses."""


def curve_at(curve: Any, x: num.Real) -> num.Real:
    """Value of a curve, or of the curve of each case of a bank, held constant beyond its ends."""
    if isinstance(curve, CurveBank):
        return curve.at(x)
    return num.interp(x, curve.si_x, curve.si_y)


class CurveBank:
    """One piecewise-linear curve per case, on the union of their abscissae (which keeps each exact)."""

    __slots__ = ("index", "x", "y")

    def __init__(self, curves: Sequence[Curve], index: Index) -> None:
        self.x = np.unique(np.concatenate([curve.array_x for curve in curves]))
        self.y = np.array([np.interp(self.x, curve.array_x, curve.array_y) for curve in curves])
        self.index = index

    def at(self, x: num.Real) -> num.Real:
        """Value of each case's curve at its own abscissa."""
        grid = self.x
        inside = np.clip(x, grid[0], grid[-1])
        left = np.clip(np.searchsorted(grid, inside, side="right") - 1, 0, len(grid) - 2)
        share = (inside - grid[left]) / (grid[left + 1] - grid[left])
        low, high = self.y[self.index, left], self.y[self.index, left + 1]
        return low + (high - low) * share


class DatumBank:
    """One number per case, with its range; ``nan`` where a case has none."""

    __slots__ = ("si", "si_high", "si_low")

    def __init__(self, records: Sequence[Any], index: Index, missing: float = num.nan) -> None:
        def column(name: str) -> Any:
            return np.array([missing if record is None else getattr(record, name) for record in records])[index]

        self.si, self.si_low, self.si_high = column("si"), column("si_low"), column("si_high")


class PronyBank:
    """One relaxation per case; shorter series are filled up with branches of no share."""

    __slots__ = ("activation_energy", "branches", "equilibrium", "reference_temperature", "times")

    def __init__(self, records: Sequence[Prony], index: Index) -> None:
        width = max(len(record.ratios) for record in records)
        shares = np.array([[*record.ratios, *[0.0] * (width - len(record.ratios))] for record in records])
        times = np.array([[*record.times_s, *[1.0] * (width - len(record.times_s))] for record in records])
        self.branches, self.times = shares[index], times[index]
        self.equilibrium = 1.0 - self.branches.sum(axis=-1)
        self.reference_temperature = DatumBank([record.reference_temperature for record in records], index)
        self.activation_energy = DatumBank([record.activation_energy for record in records], index)


class CompoundBank:
    """One compound per case."""

    def __init__(self, records: Sequence[Compound], index: Index) -> None:
        for name in ("elastic_modulus", "yield_strength", "limiting_pv", "pv_derating"):
            setattr(self, name, CurveBank([getattr(record, name) for record in records], index))
        for name in (
            "density",
            "poisson_ratio",
            "thermal_conductivity",
            "temperature_min",
            "temperature_max",
            "shaft_hardness_min",
            "shaft_roughness_min",
            "shaft_roughness_max",
        ):
            setattr(self, name, DatumBank([getattr(record, name) for record in records], index))
        self.relaxation = PronyBank([record.relaxation for record in records], index)


class AlloyBank:
    """One energizer alloy per case."""

    def __init__(self, records: Sequence[Any], index: Index) -> None:
        for name in ("elastic_modulus", "yield_strength"):
            setattr(self, name, CurveBank([getattr(record, name) for record in records], index))
        for name in ("density", "poisson_ratio", "temperature_min", "temperature_max"):
            setattr(self, name, DatumBank([getattr(record, name) for record in records], index))


class ShaftMaterialBank:
    """One shaft material per case; a case without one wears as on the reference shaft (index -1)."""

    def __init__(self, records: Sequence[Any], index: Index) -> None:
        every = [*(record.wear_factor for record in records), None]
        self.wear_factor = DatumBank(every, index, 1.0)


class ElastomerBank:
    """One O-ring elastomer per case; a case without one is limited by nothing (index -1)."""

    def __init__(self, records: Sequence[Any], index: Index) -> None:
        every = [*records, None]
        self.temperature_min = DatumBank(
            [getattr(record, "temperature_min", None) for record in every], index, -num.inf
        )
        self.temperature_max = DatumBank([getattr(record, "temperature_max", None) for record in every], index, num.inf)
