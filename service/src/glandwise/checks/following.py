"""How much runout the lip follows at speed.

The model (see :mod:`glandwise.mechanics.following`) is judged at its worst: the lip has relaxed at the highest
temperature for the service time, and what it can still give back holds it to the shaft at the coldest state (20 degC or
the lowest temperature) and at the hottest; the lesser allowance counts. Pressure, which would help to hold the lip, is
not counted: the seal must also follow while the machine starts up without it. So a harsher duty never looks better.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from glandwise.checks import lip
from glandwise.checks.case import Case, rated
from glandwise.mechanics import following
from glandwise.mechanics import numeric as num

WORDS = {
    "recovery": "the recovery of the lip",
    "inertia": "the inertia of the lip",
    "rated_cap": "the rated cap",
    "": "nothing",
}


class Allowance(NamedTuple):
    """Allowed dynamic runout (TIR) and what governs it; floats or arrays."""

    tir: num.Real
    """[m]"""
    followed_tir: num.Real
    """By the mechanics alone [m]."""
    rated_tir: num.Real
    """Rated cap [m]."""
    governs: Any
    """``recovery``, ``inertia`` or ``rated_cap``."""
    records: tuple[Any, ...]
    preload: num.Real
    """Contact load on the unloaded side [N/m]."""
    stiffness: num.Real
    """Greatest dynamic stiffness up to the speed [N/m²]."""


def _limit(
    case: Case, temperature: num.Real, kept: num.Real, omega: num.Real, offset: num.Real | None
) -> following.FollowingLimit:
    """What the lip follows at a temperature, with ``kept`` of its interference not relaxed away."""
    spring = lip.energizer(case, temperature)
    shape = lip.geometry(case)
    equilibrium, branches, shift, times = lip.relaxation(case, temperature)
    stiffness = shape.stiffness_per_modulus * lip.modulus(case, temperature)
    load = stiffness * (0.5 * case.interference) * kept
    mass = shape.mass + spring.mass
    if num.is_array(stiffness, shift):
        stiffness = np.asarray(stiffness, dtype=float)
        branch: Any = stiffness[..., None] * np.asarray(branches)
        taus: Any = np.asarray(shift, dtype=float)[..., None] * np.asarray(times)
    else:
        branch = tuple(stiffness * share for share in branches)
        taus = tuple(shift * tau for tau in times)
    return following.allowed_eccentricity(
        omega,
        load * case.load_factor,
        stiffness * equilibrium,
        branch,
        taus,
        mass,
        spring.line_load * case.load_factor,
        spring.stiffness,
        0.0 if offset is None else offset,
    )


def _worse(a: following.FollowingLimit, b: following.FollowingLimit) -> following.FollowingLimit:
    """The lesser of two limits, case by case."""
    if not num.is_array(a.tir, b.tir):
        return a if a.tir <= b.tir else b
    first = a.tir <= b.tir
    return following.FollowingLimit(*(np.where(first, x, y) for x, y in zip(a, b, strict=True)))


def allowance(
    case: Case, rotational_speed: num.Real, offset: num.Real | None = None, time: num.Real | None = None
) -> Allowance:
    """Return the allowed runout at a rotational speed [rev/s], with ``offset`` [m] (none when ``None``)."""
    rule = case.data.sizing.following
    hold = rule.service_time.si if time is None else time
    hot, cold = case.temperature_max, num.minimum(case.temperature_min, 293.15)
    kept = lip.relaxed_share(case, hot, hold)
    omega = 2.0 * num.pi * rotational_speed
    limit = _limit(case, cold, kept, omega, offset)
    if case.energizer in {"cantilever_v", "canted_coil"}:
        # a stiff spring may hold a cold lip better than a hot one: either end can be the worse
        limit = _worse(limit, _limit(case, hot, kept, omega, offset))
    speed = num.pi * case.shaft_diameter * rotational_speed
    cap = rated(case, "runout", speed)
    tir = num.minimum(limit.tir, cap.value)
    governs = num.where(limit.tir <= cap.value, limit.governs, "rated_cap")
    records = (*cap.records, case.compound.elastic_modulus, case.compound.relaxation, rule.service_time)
    if case.alloy is not None:
        records = (*records, case.alloy.elastic_modulus)
    return Allowance(tir, limit.tir, cap.value, governs, records, limit.preload, limit.dynamic_stiffness)
