"""Records of invented rigs: made by the service's own formulas from a known truth, with the scatter that rigs have."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from functools import cache
from math import exp, log
from typing import Any, NamedTuple

import numpy as np
from glandwise.mechanics.beams import cantilever_v
from glandwise.mechanics.contact import friction as lip_friction
from glandwise.mechanics.viscoelastic import relaxed_share
from glandwise.mechanics.wear import depth_rate
from glandwise.review.calibration.estimates import prior_of
from glandwise.review.calibration.found import Asked, Kind, Range, Value
from glandwise.review.calibration.operation import KINDS, NAMES
from glandwise.review.calibration.records import read
from glandwise.review.calibration.relaxation import series_of
from glandwise.rules.loader import RuleStore
from glandwise.rules.model import RuleSetData

COMPOUND = "ptfe_carbon_graphite_25"
ALLOY = "R30003"
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


def wear(
    rng: Any, specimens: int = 8, truth: float | None = None, shaft: str = "steel_hardened", scatter: float = 0.35
) -> Simulated:
    """Depth against distance of specimens on a counterface, at three pressures, after some running in."""
    held = baseline().compounds[COMPOUND].wear.dry
    assert held is not None
    K = held.si * exp(rng.normal(0.0, 0.5)) if truth is None else truth
    factor = baseline().shaft_materials[shaft].wear_factor.si
    rows: list[tuple[Any, ...]] = []
    for place in range(specimens):
        p = (1.0e6, 2.0e6, 3.0e6)[place % 3]
        own = K * factor * exp(rng.normal(0.0, scatter))
        started = rng.uniform(0.0, 2.0e-6)
        for s in (2.0e4, 5.0e4, 1.0e5, 1.5e5, 2.0e5):
            h = (started + depth_rate(own, p, s)) * exp(rng.normal(0.0, 0.02))
            rows.append((f"W{place + 1}", COMPOUND, "dry", shaft, s, p / 1e6, h * 1e6))
    heading = "specimen,compound,medium,shaft_material,sliding_distance [m],contact_pressure [MPa],depth [um]"
    return Simulated(table(heading, rows), {"wear": K / 1e-9})


def friction(
    rng: Any, specimens: int = 8, truth: float | None = None, with_speed: float = 0.0, scatter: float = 0.15
) -> Simulated:
    """Torque of rings on a shaft, each at several speeds; ``with_speed`` is the power with which friction goes with speed."""
    held = baseline().compounds[COMPOUND].friction.dry
    assert held is not None
    mu = held.si * exp(rng.normal(0.0, 0.3)) if truth is None else truth
    rows: list[tuple[Any, ...]] = []
    for place in range(specimens):
        own, q, d = mu * exp(rng.normal(0.0, scatter)), rng.uniform(300.0, 900.0), 0.05
        for n in (0.5, 1.0, 2.0, 5.0, 10.0, 20.0):
            torque = lip_friction(own * n**with_speed, q, d, n).torque * exp(rng.normal(0.0, 0.04))
            rows.append((f"F{place + 1}", COMPOUND, "dry", 50.0, q / 1e3, n * 60.0, torque))
    heading = "specimen,compound,medium,shaft_diameter [mm],line_load [N/mm],rotational_speed [rpm],torque [N.m]"
    return Simulated(table(heading, rows), {"friction": mu})


def relaxation(
    rng: Any, specimens: int = 12, amount: float | None = None, energy: float | None = None,
    temperatures: tuple[float, ...] = (296.15, 333.15, 373.15), scatter: float = 0.08, noise: float = 0.01,
) -> Simulated:  # fmt: skip
    """Load of rings held at three temperatures for weeks."""
    prony = baseline().compounds[COMPOUND].relaxation
    held = prony.activation_energy
    prior = prior_of(held.si, held.si_low, held.si_high)
    assert prior is not None
    a = exp(rng.normal(0.0, 0.2)) if amount is None else amount
    H = exp(rng.normal(prior.middle, 0.5 * prior.spread)) if energy is None else energy
    rows: list[tuple[Any, ...]] = []
    for place in range(specimens):
        T = temperatures[place % len(temperatures)]
        series = series_of(prony, min(a * exp(rng.normal(0.0, scatter)), 0.999 / sum(prony.branches)), H)
        whole = relaxed_share(series, T, 60.0)
        for t in (600.0, 3.6e3, 3.6e4, 2.0e5, 8.0e5, 3.0e6):
            share = relaxed_share(series, T, t) / whole * exp(rng.normal(0.0, noise))
            rows.append((f"R{place + 1}", COMPOUND, T - 273.15, 60.0, t, share))
    heading = "specimen,compound,temperature [degC],reference_time [s],time [s],load_share"
    return Simulated(table(heading, rows), {"relaxation": a, "activation_energy": H / 1e3})


def energizer_load(rng: Any, specimens: int = 8, truth: float | None = None, scatter: float = 0.03) -> Simulated:
    """Load of fingers of strip over deflection."""
    factor = exp(rng.normal(0.0, 0.08)) if truth is None else truth
    alloy = baseline().alloys[ALLOY]
    rows: list[tuple[Any, ...]] = []
    for place in range(specimens):
        own = factor * exp(rng.normal(0.0, scatter))
        for delta in (0.2e-3, 0.35e-3, 0.5e-3, 0.7e-3):
            E = own * float(np.interp(296.15, alloy.elastic_modulus.array_x, alloy.elastic_modulus.array_y))
            S = float(np.interp(296.15, alloy.yield_strength.array_x, alloy.yield_strength.array_y))
            q = cantilever_v(delta, 0.13e-3, 3.4e-3, 0.35, 0.8, E, S).line_load * exp(rng.normal(0.0, 0.02))
            rows.append((f"E{place + 1}", "cantilever_v", ALLOY, 23.0, delta * 1e3, q / 1e3, 0.13, 3.4, 0.35, 0.8))
    heading = (
        "specimen,energizer,alloy,temperature [degC],deflection [mm],line_load [N/mm],strip_thickness [mm],finger_length [mm],"
        "root_angle [rad],coverage"
    )
    return Simulated(table(heading, rows), {"elastic_modulus": factor})


def life(rng: Any, seals: int = 30, shape: float | None = None, groups: int = 2) -> Simulated:
    """Lives of seals on two duties, looked at after years; some still live."""
    beta = float(rng.uniform(1.0, 3.0)) if shape is None else shape
    truth = {"Weibull shape of the lives": beta}
    rows: list[tuple[Any, ...]] = []
    for group in range(groups):
        eta = float(rng.uniform(4000.0, 20000.0))
        truth[f"Weibull scale of the lives of duty {group + 1}"] = eta
        until = eta * rng.uniform(0.9, 1.6)
        for place in range(seals // groups):
            t = eta * float(rng.weibull(beta))
            rows.append(
                (f"L{group}-{place}", f"duty {group + 1}", min(t, until), "ended" if t <= until else "survived")
            )
    return Simulated(table("specimen,group,life [h],state", rows), truth)


def pv_steps(
    rng: Any,
    specimens: int = 10,
    truth: float | None = None,
    ratio: float = 1.25,
    spread: float = 0.15,
    steps: int = 14,
) -> Simulated:
    """Pressure raised step by step at several speeds until each specimen fails; ``steps`` at the most."""
    compound = baseline().compounds[COMPOUND]
    factor = exp(rng.normal(0.0, 0.3)) if truth is None else truth
    rows: list[tuple[Any, ...]] = []
    for place in range(specimens):
        own, v = factor * exp(rng.normal(0.0, spread)), (0.5, 1.0, 2.0)[place % 3]
        allowed = float(np.interp(v, compound.limiting_pv.array_x, compound.limiting_pv.array_y))
        p = 0.3 * allowed / v * exp(rng.uniform(0.0, log(ratio)))
        for _ in range(steps):
            T = 296.15 + 40.0 * p * v / allowed
            rated = allowed * float(np.interp(T, compound.pv_derating.array_x, compound.pv_derating.array_y))
            state = "held" if p * v < own * rated else "failed"
            rows.append((f"P{place + 1}", COMPOUND, "dry", p / 1e6, v, T - 273.15, state))
            if state == "failed":
                break
            p *= ratio
    heading = "specimen,compound,medium,contact_pressure [MPa],surface_speed [m/s],temperature [degC],state"
    return Simulated(table(heading, rows), {"limiting_pv": factor * float(compound.limiting_pv.y[0])})


MADE: Mapping[str, Callable[..., Simulated]] = {
    "wear": wear, "friction": friction, "relaxation": relaxation, "energizer_load": energizer_load, "life": life,
    "pv_steps": pv_steps,
}  # fmt: skip
"""Simulations by kind of records."""


def held(kind: str, seed: int, **options: Any) -> dict[str, bool]:
    """Say of one repetition whether each interval holds its truth."""
    rng = np.random.default_rng(seed)
    made = MADE[kind](rng, **options)
    values = {name_of(value): value for value in fitted(kind, made.text)}
    return {
        name: values[name].found is not None and found(values[name]).low <= truth <= found(values[name]).high
        for name, truth in made.truth.items()
    }


def name_of(value: Value) -> str:
    """Name a value as the truths of simulations do."""
    if not value.key:
        return value.title
    return value.key[2] if value.key[-1] in ("dry", "relaxation", "elastic_modulus") else value.key[-1]
