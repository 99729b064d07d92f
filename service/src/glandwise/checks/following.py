"""How much runout the lip follows at speed.

The model (see :mod:`glandwise.mechanics.following`) is judged at its worst: the lip has relaxed at the highest
temperature for the service time, and what it can still give back holds it to the shaft at the coldest state (20 degC or
the lowest temperature) and at the hottest; the lesser allowance counts. Pressure, which would help to hold the lip, is
not counted: the seal must also follow while the machine starts up without it. So a harsher duty never looks
better (a wider span of temperature, by no more than the dip of a few hundredths that may lie between its ends).
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


class _Parts(NamedTuple):
    """What holds the lip to the shaft, per shaft circumference."""

    load: num.Real
    """[N/m]"""
    stiffness: num.Real
    """Instantaneous stiffness of the lip [N/m²]."""
    equilibrium: num.Real
    """What of it does not relax [N/m²]."""
    shares: Any
    """What relaxes, in shares of it [-]."""
    shift: num.Real
    """Shift factor of the relaxation times [-]."""
    times: Any
    """Relaxation times at the reference temperature [s]."""
    mass: num.Real
    """[kg/m]"""
    spring_load: num.Real
    """[N/m]"""
    spring_stiffness: num.Real
    """[N/m²]"""


def _parts(case: Case, temperature: num.Real, kept: num.Real) -> _Parts:
    """What holds the lip at a temperature, with ``kept`` of its interference not relaxed away."""
    spring = lip.energizer(case, temperature)
    shape = lip.geometry(case)
    equilibrium, shares, shift, times = lip.relaxation(case, temperature)
    stiffness = shape.stiffness_per_modulus * lip.modulus(case, temperature)
    load = stiffness * (0.5 * case.interference) * kept
    return _Parts(
        load=load * case.load_factor,
        stiffness=stiffness,
        equilibrium=stiffness * equilibrium,
        shares=shares,
        shift=shift,
        times=times,
        mass=shape.mass + spring.mass,
        spring_load=spring.line_load * case.load_factor,
        # a coil beyond the crest of its curve pulls back as it opens; that is not relied upon to make the lip supple
        spring_stiffness=num.maximum(spring.stiffness, 0.0),
    )


def limit_at(parts: _Parts, omega: num.Real, offset: num.Real | None) -> following.FollowingLimit:
    """What the lip follows."""
    stiffness, shift = parts.stiffness, parts.shift
    if num.is_array(stiffness, shift):
        branches: Any = np.asarray(stiffness, dtype=float)[..., None] * np.asarray(parts.shares)
        times: Any = np.asarray(shift, dtype=float)[..., None] * np.asarray(parts.times)
    else:
        branches = [stiffness * share for share in parts.shares]
        times = [shift * tau for tau in parts.times]
    return following.allowed_eccentricity(
        omega,
        parts.load,
        parts.equilibrium,
        branches,
        times,
        parts.mass,
        parts.spring_load,
        parts.spring_stiffness,
        0.0 if offset is None else offset,
    )


def _worse(a: following.FollowingLimit, b: following.FollowingLimit) -> following.FollowingLimit:
    """The lesser of two limits, case by case."""
    if not num.is_array(a.tir, b.tir):
        return a if a.tir <= b.tir or a.tir != a.tir else b
    first = (a.tir <= b.tir) | np.isnan(a.tir)
    return following.FollowingLimit(*(np.where(first, x, y) for x, y in zip(a, b, strict=True)))


def ends(case: Case, time: num.Real | None) -> tuple[_Parts, _Parts]:
    """The lip at its coldest and at its hottest, relaxed at the hottest: either end can be the worse."""
    if time is None:
        if case.ends is None:
            case.ends = ends(case, case.data.sizing.following.service_time.si)
        held: tuple[_Parts, _Parts] = case.ends
        return held
    hot, cold = case.temperature_max, num.minimum(case.temperature_min, 293.15)
    kept = lip.relaxed_share(case, hot, time)
    return _parts(case, cold, kept), _parts(case, hot, kept)


def _records(case: Case) -> tuple[Any, ...]:
    """Records that what a lip follows rests on."""
    compound = case.compound
    records = (compound.elastic_modulus, compound.relaxation, case.data.sizing.following.service_time)
    return records if case.alloy is None else (*records, case.alloy.elastic_modulus)


_STIFF_SPRINGS = frozenset({"cantilever_v", "canted_coil"})


def allowance(
    case: Case, rotational_speed: num.Real, offset: num.Real | None = None, time: num.Real | None = None
) -> Allowance:
    """Return the allowed runout at a rotational speed [rev/s], with ``offset`` [m] (none when ``None``)."""
    omega = 2.0 * num.pi * rotational_speed
    cold, hot = ends(case, time)
    limit = limit_at(cold, omega, offset)
    # a stiff spring may hold a cold lip better than a hot one, and so may mass; else load and stiffness rise together
    heavy = hot.mass * omega * omega > hot.equilibrium
    if case.energizer in _STIFF_SPRINGS or (heavy if type(heavy) is bool else heavy.any()):
        limit = _worse(limit, limit_at(hot, omega, offset))
    speed = num.pi * case.shaft_diameter * rotational_speed
    cap = rated(case, "runout", speed)
    tir = num.minimum(limit.tir, cap.value)
    governs = num.where(limit.tir <= cap.value, limit.governs, "rated_cap")
    records = (*cap.records, *_records(case))
    return Allowance(tir, limit.tir, cap.value, governs, records, limit.preload, limit.dynamic_stiffness)


def offset_limit(case: Case) -> tuple[num.Real, tuple[Any, ...]]:
    """Return the static offset [m] at which the relaxed lip just leaves a shaft that runs true, and its records."""
    cold, hot = (
        num.divide(num.maximum(parts.load + parts.spring_load, 0.0), parts.equilibrium + parts.spring_stiffness)
        for parts in ends(case, None)
    )
    return num.minimum(cold, hot), _records(case)
