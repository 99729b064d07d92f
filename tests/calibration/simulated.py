"""Records of invented rigs: made by the service's own formulas from a known truth, with the scatter that rigs have."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from functools import cache
from math import exp
from typing import Any, NamedTuple

import numpy as np
from glandwise.mechanics.wear import depth_rate
from glandwise.review.calibration.found import Asked, Kind, Range, Value
from glandwise.review.calibration.operation import KINDS, NAMES
from glandwise.review.calibration.records import read
from glandwise.rules.loader import RuleStore
from glandwise.rules.model import RuleSetData

COMPOUND = "ptfe_carbon_graphite_25"
ASKED = Asked(0.9, date(2026, 3, 1), "own-test")


@cache
def baseline() -> RuleSetData:
    """The newest baseline rules."""
    tree = RuleStore(None).get("baseline")
    assert tree is not None
    return tree.newest().data


class Simulated(NamedTuple):
    """Records and their truth, by the name of what is found."""

    text: str
    truth: Mapping[str, float]


def fitted(kind: str, text: str, asked: Asked = ASKED) -> list[Value]:
    """Return what a fit finds in records."""
    chosen: Kind = KINDS[kind]
    records = read(text, chosen.columns(), {name: getattr(baseline(), name) for name in NAMES})
    return chosen.fit(records, baseline(), asked)


def found(value: Value) -> Range:
    """Return the range of a value that was found."""
    assert value.found is not None, value.stays
    return value.found


def table(heading: str, rows: list[tuple[Any, ...]]) -> str:
    """Write a table."""
    return "\n".join(
        [heading, *(",".join(f"{cell:.6g}" if isinstance(cell, float) else str(cell) for cell in row) for row in rows)]
    )


def wear(rng: Any, specimens: int = 8, truth: float | None = None, shaft: str = "steel_hardened") -> Simulated:
    """Depth against distance of specimens on a counterface, at three pressures, after some running in."""
    held = baseline().compounds[COMPOUND].wear.dry
    assert held is not None
    K = held.si * exp(rng.normal(0.0, 0.5)) if truth is None else truth
    factor = baseline().shaft_materials[shaft].wear_factor.si
    rows: list[tuple[Any, ...]] = []
    for place in range(specimens):
        p = (1.0e6, 2.0e6, 3.0e6)[place % 3]
        own = K * factor * exp(rng.normal(0.0, 0.35))
        started = rng.uniform(0.0, 2.0e-6)
        for s in (2.0e4, 5.0e4, 1.0e5, 1.5e5, 2.0e5):
            h = (started + depth_rate(own, p, s)) * exp(rng.normal(0.0, 0.02))
            rows.append((f"W{place + 1}", COMPOUND, "dry", shaft, s, p / 1e6, h * 1e6))
    heading = "specimen,compound,medium,shaft_material,sliding_distance [m],contact_pressure [MPa],depth [um]"
    return Simulated(table(heading, rows), {"wear": K / 1e-9})


MADE: Mapping[str, Callable[..., Simulated]] = {"wear": wear}
"""Simulations by kind of records."""


def held(kind: str, seed: int, **options: Any) -> dict[str, bool]:
    """Say of one repetition whether each interval holds its truth."""
    rng = np.random.default_rng(seed)
    made = MADE[kind](rng, **options)
    values = {_name(value): value for value in fitted(kind, made.text)}
    return {
        name: values[name].found is not None and found(values[name]).low <= truth <= found(values[name]).high
        for name, truth in made.truth.items()
    }


def _name(value: Value) -> str:
    return {"compounds": value.key[2] if len(value.key) > 2 else ""}.get(value.key[0] if value.key else "", value.title)
