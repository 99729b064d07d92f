"""Runout that a lip follows: lives, working, limits, a dense search, and the formulas that it comes from."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from glandwise.mechanics import following, viscoelastic
from glandwise.mechanics.choices import Governs
from glandwise.numerics.arithmetic import FUNCTIONS
from glandwise.numerics.compiled import compiled
from glandwise.numerics.docstring import attributes
from glandwise.numerics.trace import Working, calm, leaf, traced
from glandwise.twofold import following as old

from tests.mechanics.support import Record, alike, draws, hostile, leaves, lives_agree, packed, relaxation, steps_hold

Row = tuple[Any, ...]


def systems(count: int, seed: int = 3) -> list[Row]:
    """Speed, rest, stiffness at once, shift, mass and relaxation, so that each of the three places of a peak is met."""
    random, found = np.random.default_rng(seed), []
    for _ in range(count):
        n = int(random.integers(0, 6))
        shares, times = random.uniform(0.0, 3.0, n), 10.0 ** random.uniform(-5.0, 3.0, n)
        k_inf, total = 10.0 ** random.uniform(4.0, 6.0), 1.0 + float(shares.sum())
        k_e = float(random.choice([0.0, random.uniform(0.0, 2e5)]))
        series = relaxation(1.0 / total, (shares / total).tolist(), times.tolist())
        omega, m, a_T = (10.0 ** random.uniform(*span) for span in ((0.0, 4.5), (-4.0, -0.5), (-2.0, 2.0)))
        found.append((omega, k_inf + k_e, k_inf * total, a_T, m, series))
    return found


SYSTEMS = systems(300)
LIP = draws(
    (1e-3, 6e-3), (1e8, 9e8), (2e-4, 2e-3), (0.2, 1.0), (0.7, 1.3), (220.0, 500.0), (1e-3, 1e-2), (0.0, 800.0),
    (-5e4, 2e5), (0.0, 0.3), count=200,
)  # fmt: skip
SERIES = [row[-1] for row in SYSTEMS]
LIPS = [(*row, series) for row, series in zip(LIP, SERIES, strict=False)]


def record(lip: following.HeldLip) -> Record:
    fields = attributes(following.HeldLip)
    told = following.HeldLip(*(leaf(float(x), fields[name], "given") for name, x in lip._asdict().items()))
    return Record(following.HeldLip(*map(np.float64, lip)), told)


def held(row: Row) -> Record:
    return record(compiled(following.held_lip)(*packed(row)))


SPEEDS = [10.0**x for (x,) in draws((0.0, 4.2), count=200)]
OFFSETS = [x for (x,) in draws((0.0, 3e-4), count=200)]
LIMITS = [
    (held(row), omega, a, row[-1]) for row, omega, a in zip(LIPS, SPEEDS, OFFSETS, strict=False)
]  # fmt: skip
# relaxed at the hottest; the cold lip has the greater modulus and mass counts alike
ENDS = [
    (held((row[0], 3.0 * row[1], *row[2:5], 250.0, *row[6:])), hot, omega, a, bool(at % 2), series)
    for at, (row, (hot, omega, a, series)) in enumerate(zip(LIPS, LIMITS, strict=True))
]
PRELOADS = draws((0.0, 500.0), (0.0, 800.0), (1e4, 1e6), (0.0, 1e-3))
BOTH = [(row[0], row[1]) for row in ENDS]

CASES = [
    (following.peak_dynamic_stiffness, SYSTEMS),
    (following.preload_under_offset, PRELOADS),
    (following.allowed_eccentricity, LIMITS),
    (following.held_lip, LIPS),
    (following.followed_runout, ENDS),
    (following.followed_offset, BOTH),
]
BY_NAME = pytest.mark.parametrize("formula,rows", CASES, ids=[formula.__name__ for formula, _ in CASES])


@BY_NAME
def test_lives_agree(formula: Any, rows: list[Row]) -> None:
    lives_agree(formula, rows[:120])
    lives_agree(formula, hostile(rows[:40]))


def test_lives_agree_on_a_hostile_lip() -> None:
    lip = held(LIPS[0]).packed
    bad = [
        lip._replace(**{name: value})
        for name, value in itertools.product(lip._fields, (0.0, -1.0, math.nan, math.inf, 1e300, 1e-300))
    ]
    lives_agree(following.allowed_eccentricity, [(record(x), 900.0, 1e-4, SERIES[3]) for x in bad])
    lives_agree(following.followed_runout, [(record(x), held(LIPS[1]), 9e3, 1e-4, True, SERIES[3]) for x in bad])
    lives_agree(following.followed_runout, [(held(LIPS[1]), record(x), 9e3, 1e-4, False, SERIES[3]) for x in bad])
    lives_agree(following.followed_offset, [(record(x), held(LIPS[1])) for x in bad])


@BY_NAME
def test_a_reader_can_recompute_each_step(formula: Any, rows: list[Row]) -> None:
    steps_hold(formula, hostile(rows[:10]))
    for working in steps_hold(formula, rows[:60]):
        for step in working.steps:
            if step.words and step.symbol != "omega_w":
                words = working.words(step)
                value = eval(words, {"__builtins__": {}}, {**FUNCTIONS, **working.inputs(step)})
                alike(value, step.value, words)


def test_the_working_says_what_was_looked_for() -> None:
    peak = traced(following.peak_dynamic_stiffness)(*leaves(following.peak_dynamic_stiffness, SYSTEMS[0]))
    working = Working(peak)
    step = next(step for step in working.steps if step.symbol == "omega_w")
    assert working.words(step).startswith("place of the greatest dynamic stiffness from standstill to omega:")
    assert set(working.inputs(step)) == {"omega", "k_rest", "k_0", "a_T", "m"}


def stiffness(row: Row, omega: Any) -> Any:
    """Amplitude of the dynamic stiffness by complex arithmetic."""
    _, k_rest, k_0, a_T, m, series = row
    p, omega = series.packed, np.asarray(omega)[:, None]
    x = 1j * omega * a_T * p.times[: p.n]
    return np.abs(k_rest + k_0 * np.sum(p.shares[: p.n] * x / (1.0 + x), axis=1) - m * omega[:, 0] ** 2)


def test_the_peak_is_the_greatest_of_all_lower_speeds() -> None:
    met = 0
    for row in SYSTEMS:
        peak = compiled(following.peak_dynamic_stiffness)(*packed(row))
        dense = stiffness(row, np.concatenate(([0.0], np.geomspace(1e-6 * row[0], row[0], 4000))))
        assert peak.magnitude >= dense.max() * (1.0 - 1e-7)
        assert peak.magnitude == pytest.approx(stiffness(row, [peak.angular_frequency])[0], rel=1e-12)
        met += 0.0 < peak.angular_frequency < row[0]
    assert met > 30


def test_inertia_governs_where_the_mass_adds() -> None:
    for row in SYSTEMS:
        peak = compiled(following.peak_dynamic_stiffness)(*packed(row))
        lighter = stiffness((*row[:4], row[4] * (1.0 - 1e-4), row[5]), [peak.angular_frequency])[0]
        if peak.angular_frequency > 0.0 and row[4] * peak.angular_frequency**2 > 1e-3 * row[1]:
            assert (peak.governs == Governs.inertia) == (lighter < peak.magnitude)


@pytest.mark.parametrize("at", [0, 1, 4])
@pytest.mark.parametrize("bad", [-1.0, math.nan])
def test_outside_the_ranges_nothing_governs(at: int, bad: float) -> None:
    row = packed(SYSTEMS[0])
    row[at] = bad
    peak = compiled(following.peak_dynamic_stiffness)(*row)
    assert math.isnan(peak.magnitude)
    assert peak.governs == Governs.nothing


def test_a_spring_that_pulls_back_is_not_relied_upon() -> None:
    row = [*LIPS[0]]
    row[8] = -1e5
    lip = compiled(following.held_lip)(*packed(row))
    assert lip.rest == lip.equilibrium


def test_the_lesser_of_cold_and_hot_counts() -> None:
    limit, both, taken = compiled(following.allowed_eccentricity), compiled(following.followed_runout), set()
    for cold, hot, omega, a, _, series in ENDS:
        at_cold, at_hot = (limit(lip.packed, omega, a, series.packed) for lip in (cold, hot))
        worst = both(cold.packed, hot.packed, omega, a, True, series.packed)
        assert worst == (at_cold if at_cold.tir <= at_hot.tir else at_hot)
        assert both(cold.packed, hot.packed, 1e-3, a, False, series.packed) == limit(
            cold.packed, 1e-3, a, series.packed
        )
        taken.add(at_cold.tir < at_hot.tir)
    assert taken == {True, False}


def test_the_lip_leaves_the_shaft_at_the_offset_that_it_follows() -> None:
    for cold, hot in BOTH:
        a = compiled(following.followed_offset)(cold.packed, hot.packed)
        left = [
            compiled(following.preload_under_offset)(x.packed.load, x.packed.spring_load, x.packed.rest, a)
            for x in (cold, hot)
        ]
        assert min(left) == pytest.approx(0.0, abs=1e-9 * cold.packed.load)


# goes away with the old functions
def branches(k_0: float, a_T: float, series: Record) -> tuple[list[float], list[float]]:
    p = series.packed
    return [k_0 * x for x in p.shares[: p.n].tolist()], [a_T * x for x in p.times[: p.n].tolist()]


def test_the_peak_is_as_before() -> None:
    for row in systems(3000, 11):
        omega, k_rest, k_0, a_T, m, series = row
        before = old.peak_dynamic_stiffness(omega, k_rest, *branches(k_0, a_T, series), m)
        after = compiled(following.peak_dynamic_stiffness)(*packed(row))
        alike(after[:2], before[:2], row)
        assert after.governs.name == before.governs


def test_the_limit_is_as_before() -> None:
    for lip, omega, a, series in LIMITS:
        x = following.HeldLip(*map(float, lip.packed))
        before = old.allowed_eccentricity(
            omega, x.load, x.equilibrium, *branches(x.stiffness, x.shift, series), x.mass, x.spring_load,
            x.rest - x.equilibrium, a,
        )  # fmt: skip
        after = compiled(following.allowed_eccentricity)(*packed((lip, omega, a, series)))
        fields = ("eccentricity", "tir", "dynamic_stiffness", "preload")
        alike([getattr(after, n) for n in fields], [getattr(before, n) for n in fields], relative=1e-11)
        alike(after.angular_frequency, before.governing_frequency, relative=1e-9)
        assert after.governs.name == before.governs
    for row in PRELOADS:
        q_lip, q_e, k_rest, a = row
        alike(compiled(following.preload_under_offset)(*row), old.preload_under_offset(q_lip, k_rest, a, q_e))
    p = SERIES[3].packed
    lip = compiled(following.held_lip)(*packed((*LIP[0], SERIES[3])))
    assert lip.shift == compiled(viscoelastic.shift_factor)(LIP[0][5], p.reference_temperature, p.activation_energy)
    assert calm(following.held_lip)(*map(np.float64, LIP[0]), p) == lip
