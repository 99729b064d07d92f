"""Runout that a lip follows: lives, working, limits, a dense search, and the formulas that it comes from."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import pytest
from glandwise.mechanics import following
from glandwise.mechanics.choices import Governs
from glandwise.numerics.arithmetic import FUNCTIONS
from glandwise.numerics.compiled import compiled
from glandwise.numerics.docstring import attributes
from glandwise.numerics.over import Over
from glandwise.numerics.trace import Working, leaf, traced
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.mechanics.support import Record, alike, draws, hostile, leaves, lives_agree, packed, relaxation, steps_hold

plain = Over(following)
"""Its formulas over arrays."""


def chain(stiffnesses: Sequence[float], times: Sequence[float]) -> Any:
    """Branches by their own stiffness, as machine code takes them."""
    return relaxation(1.0, stiffnesses, times).packed


def dynamic(omega: Any, equilibrium: float, stiffnesses: Any, times: Any, mass: float, elastic: float = 0.0) -> Any:
    """Amplitude of the dynamic stiffness by complex arithmetic."""
    omega = np.asarray(omega, dtype=float)
    x = 1j * omega[..., None] * np.asarray(times, dtype=float)
    return np.abs(equilibrium + elastic + np.sum(stiffnesses * x / (1.0 + x), axis=-1) - mass * omega**2)


def peak_of(omega: float, rest: float, stiffnesses: Any, times: Any, mass: float) -> following.DynamicStiffness:
    machine = compiled(following.peak_dynamic_stiffness)
    found: following.DynamicStiffness = machine(float(omega), rest, 1.0, 1.0, mass, chain(stiffnesses, times))
    return found


def at_frequency(
    omega: float, preload: float, rest: float, stiffnesses: Any, times: Any, mass: float, elastic: float = 0.0
) -> float:
    """Eccentricity at which contact is lost at one frequency, whatever happens below it."""
    series = chain(stiffnesses, times)
    storage, loss = compiled(following.storage_and_loss)(float(omega), rest + elastic, 1.0, 1.0, series)
    with np.errstate(divide="ignore"):  # in resonance, undamped, nothing stands against the shaft
        return float(np.divide(preload, np.hypot(storage - mass * omega**2, loss)))


def allowed(
    omega: float,
    preload: float,
    equilibrium: float,
    stiffnesses: Any,
    times: Any,
    mass: float,
    elastic_preload: float = 0.0,
    elastic_stiffness: float = 0.0,
    offset: float = 0.0,
) -> following.FollowingLimit:
    lip = following.HeldLip(
        preload, elastic_preload, 1.0, equilibrium, equilibrium + elastic_stiffness, 1.0, float(mass)
    )
    found: following.FollowingLimit = compiled(following.allowed_eccentricity)(
        lip, float(omega), float(offset), chain(stiffnesses, times)
    )
    return found


def limit(omega: float, system: Any, **changes: float) -> following.FollowingLimit:
    preload, equilibrium, stiffnesses, times, mass, elastic = system
    return allowed(
        omega,
        changes.get("preload", preload),
        equilibrium,
        stiffnesses,
        times,
        changes.get("mass", mass),
        changes.get("elastic_preload", 0.0),
        elastic,
        changes.get("offset", 0.0),
    )


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
    (10.0, 3e3), (0.0, 800.0), (1e5, 5e6), (220.0, 500.0), (1e-3, 1e-2), (-5e4, 2e5), (0.0, 0.3), count=200,
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
    (held((row[0], row[1], 3.0 * row[2], 250.0, *row[4:])), hot, omega, a, series)
    for row, (hot, omega, a, series) in zip(LIPS, LIMITS, strict=True)
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
    lives_agree(following.followed_runout, [(record(x), held(LIPS[1]), 9e3, 1e-4, SERIES[3]) for x in bad])
    lives_agree(following.followed_runout, [(held(LIPS[1]), record(x), 9e3, 1e-4, SERIES[3]) for x in bad])
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
    row[5] = -1e5
    lip = compiled(following.held_lip)(*packed(row))
    assert lip.rest == lip.equilibrium


def test_the_lesser_of_cold_and_hot_counts() -> None:
    limit, both, taken = compiled(following.allowed_eccentricity), compiled(following.followed_runout), set()
    for cold, hot, omega, a, series in ENDS:
        at_cold, at_hot = (limit(lip.packed, omega, a, series.packed) for lip in (cold, hot))
        worst = both(cold.packed, hot.packed, omega, a, series.packed)
        assert worst == (at_cold if at_cold.tir <= at_hot.tir else at_hot)
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


class Run(NamedTuple):
    """Outcome of a simulated run."""

    lost_at: float | None
    """Time of the first loss of contact [s]."""
    least_load: float
    """Least contact load over the last turn, if contact was kept [N]."""
    widest_gap: float
    """Widest gap [m]."""


def simulate(
    eccentricity: float,
    omega: float,
    preload: float,
    static: float,
    stiffnesses: Sequence[float],
    times: Sequence[float],
    mass: float,
    settle: float,
) -> Run:
    """Drive the lip by a slowly growing eccentricity; let it fly when the load would turn to pull, and catch it again.

    The state in contact is the Maxwell branches alone (the lip sits on the shaft); in flight also lip and velocity.
    """
    from scipy.integrate import solve_ivp

    k, tau = np.asarray(stiffnesses, dtype=float), np.asarray(times, dtype=float)
    end = settle + 4 * 2 * math.pi / omega

    def shaft(t: float) -> tuple[float, float, float]:
        s = min(t / settle, 1.0)
        ramp = s**3 * (10 - 15 * s + 6 * s * s)
        ramp1 = 30 * s * s * (1 - s) ** 2 / settle
        ramp2 = 60 * s * (1 - s) * (1 - 2 * s) / settle**2
        sin, cos = math.sin(omega * t), math.cos(omega * t)
        return (
            eccentricity * ramp * sin,
            eccentricity * (ramp1 * sin + ramp * omega * cos),
            eccentricity * (ramp2 * sin + 2 * ramp1 * omega * cos - ramp * omega**2 * sin),
        )

    def spring(x: float, v: Any) -> float:
        return float(preload + static * x + k @ (x - v))

    def load(t: float, v: Any) -> float:
        x, _, acceleration = shaft(t)
        return spring(x, v) + mass * acceleration

    def gap(t: float, state: Any) -> float:
        return shaft(t)[0] - float(state[0])

    def leaves(t: float, v: Any) -> float:
        return load(t, v)

    def lands(t: float, state: Any) -> float:
        return -gap(t, state)

    leaves.terminal = lands.terminal = True
    leaves.direction, lands.direction = -1, -1
    options: dict[str, Any] = {"rtol": 1e-8, "atol": 1e-12, "max_step": 2 * math.pi / omega / 40, "dense_output": True}
    t, v, lost, widest, least = 0.0, np.zeros(k.size), None, 0.0, math.inf
    for _ in range(60):
        run = solve_ivp(lambda s, w: (shaft(s)[0] - w) / tau, (t, end), v, events=leaves, **options)
        if run.status == 0:
            last = np.linspace(end - 2 * math.pi / omega, end, 2001)
            if lost is None:
                least = min(load(s, run.sol(s)) for s in last)
            break
        t, v = float(run.t[-1]), run.y[:, -1]
        lost = t if lost is None else lost
        x, speed, _ = shaft(t)
        # the lip presses inward on the shaft, so load pushes it along -x once it is free
        flight = solve_ivp(
            lambda _, w: np.concatenate([[w[1], -spring(w[0], w[2:]) / mass], (w[0] - w[2:]) / tau]),
            (t, end),
            np.concatenate([[x, speed], v]),
            events=lands,
            first_step=1e-9,
            **options,
        )
        widest = max(widest, float(np.max(flight.y[0] - [shaft(s)[0] for s in flight.t])))
        t, v = float(flight.t[-1]), flight.y[2:, -1]
        if flight.status == 0:
            break
    return Run(lost, least, widest)


RUNS = {
    "one branch, 50 Hz": (50.0, 10.0, 50e3, [30e3], [2e-3], 2e-3),
    "one branch, 200 Hz": (200.0, 10.0, 50e3, [30e3], [2e-3], 2e-3),
    "two branches, 100 Hz": (100.0, 10.0, 20e3, [20e3, 10e3], [1e-3, 20e-3], 5e-3),
    # a branch of no stiffness keeps the integrator's state from being empty
    "elastic, past resonance": (1250.0, 10.0, 50e3, [0.0], [1e-3], 2e-3),
}


@pytest.mark.parametrize("name", RUNS)
def test_first_loss_of_contact_by_time_integration(name: str) -> None:
    frequency, preload, static, stiffnesses, times, mass = RUNS[name]
    omega = 2 * math.pi * frequency
    e = at_frequency(omega, preload, static, stiffnesses, times, mass)
    settle = max(8 * max(times, default=0.0), 10 / frequency)
    arguments = (omega, preload, static, stiffnesses, times, mass, settle)
    kept, lost = simulate(0.99 * e, *arguments), simulate(1.01 * e, *arguments)
    assert kept.lost_at is None
    assert kept.widest_gap == 0.0
    assert lost.lost_at is not None
    assert lost.widest_gap > 0.0
    # the load that is left at 0.99 e is the hundredth part of the preload
    assert kept.least_load == pytest.approx(0.01 * preload, rel=0.02)


@pytest.mark.parametrize("frequency", [50.0, 200.0])
@pytest.mark.parametrize(("share", "left"), [(0.999, 0.01), (1.0, 0.0), (1.001, -0.01)])
def test_least_load_about_the_limit(frequency: float, share: float, left: float) -> None:
    """Preload 10 N: least load +0.0100, 0, -0.0100 N at 0.999, 1, 1.001 of the limit (contact held by force)."""
    from scipy.integrate import solve_ivp

    static, k, tau, mass, omega = 50e3, 30e3, 2e-3, 2e-3, 2 * math.pi * frequency
    e = share * at_frequency(omega, 10.0, static, [k], [tau], mass)
    end = 20 * tau + 3 / frequency
    run = solve_ivp(
        lambda t, v: (e * math.cos(omega * t) - v) / tau,
        (0, end),
        [0.0],
        rtol=1e-10,
        atol=1e-14,
        dense_output=True,
        max_step=1 / frequency / 40,
    )
    t = np.linspace(end - 1 / frequency, end, 4001)
    x = e * np.cos(omega * t)
    load = 10.0 + static * x + k * (x - run.sol(t)[0]) - mass * omega**2 * x
    assert load.min() == pytest.approx(left, abs=5e-5)


lips = st.tuples(
    st.floats(1.0, 1e3),  # preload
    st.floats(1e4, 1e6),  # equilibrium
    st.lists(st.tuples(st.floats(0.0, 3.0), st.floats(-5.0, 3.0)), max_size=5),
    st.floats(-4.0, -0.5),  # log10 mass
    st.floats(0.0, 2e5),  # elastic stiffness
).map(lambda s: (s[0], s[1], [s[1] * share for share, _ in s[2]], [10.0**x for _, x in s[2]], 10.0 ** s[3], s[4]))


speeds = st.floats(0.0, 3e4)


@settings(max_examples=150, deadline=None)
@given(lips, speeds, st.floats(1.0, 10.0))
def test_never_rises_with_speed(system: Any, omega: float, factor: float) -> None:
    slow, fast = limit(omega, system), limit(omega * factor, system)
    assert math.isfinite(slow.eccentricity)
    assert slow.eccentricity > 0.0
    # to the floor of the search, below which the mass is not looked at
    assert fast.eccentricity <= slow.eccentricity * (1 + 1e-7)
    assert slow.tir == 2 * slow.eccentricity
    # never beyond standstill, nor beyond the plain formula at this speed
    assert slow.eccentricity <= limit(0.0, system).eccentricity
    preload, equilibrium, stiffnesses, times, mass, elastic = system
    plain = at_frequency(omega, preload, equilibrium, stiffnesses, times, mass, elastic)
    assert slow.eccentricity <= plain * (1 + 1e-12)


@settings(max_examples=40)
@given(lips, speeds)
@example((1.0, 1e4, [1e4], [1e3], 1e-4, 0.0), 8.0)  # rises long before the mass counts for anything
def test_running_minimum_agrees_with_brute_force(system: Any, omega: float) -> None:
    preload, equilibrium, stiffnesses, times, mass, elastic = system
    found = limit(omega, system)
    sweep = np.concatenate([[0.0], np.geomspace(1e-6, 1.0, 8001) * omega])
    stiffness = dynamic(sweep, equilibrium, stiffnesses, times, mass, elastic)
    brute = preload / stiffness.max()
    # the sweep can only miss a peak, by less than the square of its step; the search by its stated floor
    assert found.eccentricity <= brute * (1 + 1e-7)
    assert found.eccentricity >= brute * (1 - 1e-6)
    at = dynamic(found.angular_frequency, equilibrium, stiffnesses, times, mass, elastic)
    assert at == pytest.approx(found.dynamic_stiffness, rel=1e-12)


@settings(max_examples=100, deadline=None)
@given(lips, speeds, st.floats(1.01, 10.0))
def test_mass(system: Any, omega: float, factor: float) -> None:
    """More mass is followed less where inertia governs; where recovery does, never less than the massless stiffness."""
    base, heavier = limit(omega, system), limit(omega, system, mass=system[4] * factor)
    if base.governs == Governs.inertia:
        assert heavier.eccentricity < base.eccentricity
        assert heavier.governs == Governs.inertia
    massless = limit(omega, system, mass=0.0)
    assert massless.governs == Governs.recovery
    if base.governs == Governs.recovery:
        assert base.eccentricity >= massless.eccentricity * (1 - 1e-9)


@settings(max_examples=60, deadline=None)
@given(st.floats(1.0, 1e3), st.floats(1e4, 1e6), st.floats(-4.0, -0.5), speeds, st.floats(1.0, 10.0))
def test_elastic_lip_is_monotone_in_mass(
    preload: float, stiffness: float, log: float, omega: float, factor: float
) -> None:
    mass = 10.0**log
    light, heavy = (allowed(omega, preload, stiffness, [], [], m).eccentricity for m in (mass, mass * factor))
    assert heavy <= light
    assert light == pytest.approx(preload / max(stiffness, mass * omega**2 - stiffness), rel=1e-12)


def test_spurious_peak_is_capped() -> None:
    """Near mω² = Re k* the plain formula promises 4 mm; the running minimum stays at what the run-up allows."""
    omega = 2 * math.pi * 1000.0
    plain = at_frequency(omega, 10.0, 50e3, [30e3], [2e-3], 2e-3)
    capped = allowed(omega, 10.0, 50e3, [30e3], [2e-3], 2e-3)
    assert plain > 3.9e-3
    assert capped.eccentricity < 0.1362e-3
    assert capped.governs == Governs.recovery
    assert capped.angular_frequency / (2 * math.pi) == pytest.approx(197.3, abs=0.1)


@pytest.mark.parametrize(("share", "kept"), [(0.99, True), (1.01, False)])
def test_run_up_through_the_governing_speed(share: float, kept: bool) -> None:
    """Why the running minimum is the capacity: a slow run-up to 350 Hz loses contact near 197 Hz first."""
    from scipy.integrate import solve_ivp

    static, k, tau, mass = 50e3, 30e3, 2e-3, 2e-3
    first, last, duration = 120.0, 350.0, 0.5
    rate = 2 * math.pi * (last - first) / duration
    final = allowed(2 * math.pi * last, 10.0, static, [k], [tau], mass)
    e = share * final.eccentricity
    assert e < at_frequency(2 * math.pi * last, 10.0, static, [k], [tau], mass)

    def angle(t: Any) -> Any:
        return 2 * math.pi * first * t + rate * t * t / 2

    run = solve_ivp(
        lambda t, v: (e * math.sin(angle(t)) - v) / tau, (0, duration), [0.0], rtol=1e-8, atol=1e-12, dense_output=True
    )
    t = np.linspace(0.02, duration, 100001)
    x, speed = e * np.sin(angle(t)), 2 * math.pi * first + rate * t
    acceleration = e * rate * np.cos(angle(t)) - speed**2 * x
    load = 10.0 + static * x + k * (x - run.sol(t)[0]) + mass * acceleration
    assert (load.min() > 0.0) == kept
    at = speed[load.argmin()]
    assert at == pytest.approx(final.angular_frequency, rel=0.1)
    assert load.min() == pytest.approx((1 - share) * 10.0, abs=0.02)


def test_a_garter_buys_runout() -> None:
    """Load without relaxing stiffness: the same lip follows more, and its own stiffness costs a little back."""
    lip = (600.0, 100.0, 4e5, [2e5, 1e5], [1e-3, 1.0], 1e-3)
    bare = allowed(*lip)
    garter = allowed(*lip, elastic_preload=80.0, elastic_stiffness=2e3)
    assert 1.7 * bare.eccentricity < garter.eccentricity < 1.8 * bare.eccentricity


@given(
    st.lists(st.tuples(st.floats(0.05, 20.0), st.floats(0.03, 30.0)), min_size=1, max_size=3),
    st.floats(0.1, 1.3),
    st.sampled_from([1e-6, 1.0, 1e5]),
)
def test_peak_is_the_greatest_of_all_lower_frequencies(
    branches: list[tuple[float, float]], reach: float, scale: float
) -> None:
    moduli = [scale * share for share, _ in branches]
    total = scale + sum(moduli)
    mass = 2e-3 * scale
    natural = math.sqrt(total / mass)
    times = [ratio / natural for _, ratio in branches]
    top = reach * natural
    peak = peak_of(top, scale, moduli, times, mass)
    omegas = np.concatenate([np.geomspace(1e-4, 1.0, 300), np.linspace(0.0, 1.0, 2000)]) * top
    brute = dynamic(omegas, scale, moduli, times, mass)
    assert peak.magnitude >= float(brute.max()) * (1.0 - 1e-7)
    assert peak.magnitude <= float(brute.max()) * (1.0 + 1e-4)
    at_peak = dynamic(peak.angular_frequency, scale, moduli, times, mass)
    assert at_peak == pytest.approx(peak.magnitude, rel=1e-12)
    assert peak_of(0.5 * top, scale, moduli, times, mass).magnitude <= peak.magnitude * (1.0 + 1e-12)


@pytest.mark.parametrize("scale", [1e-3, 1e5])
def test_a_lip_that_never_relaxes_meets_its_peak_where_the_search_begins(scale: float) -> None:
    # relaxing far below the least frequency searched: the start of the grid stands for all below it
    mass = 2e-3 * scale
    start = math.sqrt(1e-7 * scale / mass)
    case = (scale, (2.0 * scale,), (1e5 / start,), mass)
    single = peak_of(0.2, *case)
    assert single.magnitude == pytest.approx(3.0 * scale, rel=1e-6)
    assert single.angular_frequency == pytest.approx(start, rel=1e-9)


@pytest.mark.parametrize("share", [30.0, 200.0, 1e3, 1e4])
@pytest.mark.parametrize("ratio", [1.41, 1.42, 1.44, 1.45, 1.47, 1.5])
def test_a_maximum_close_to_a_minimum_is_found(share: float, ratio: float) -> None:
    # one branch, whose relaxation falls together with the natural frequency of the unrelaxed lip
    mass, total = 2e-3, 1.0 + share
    natural = math.sqrt(total / mass)
    case = (1.0, (share,), (ratio / natural,), mass)
    for reach in (0.7, 0.75, 0.8):
        omegas = np.linspace(0.0, reach, 4000) * natural
        brute = dynamic(omegas, *case)
        single = peak_of(reach * natural, *case)
        assert float(brute.max()) * (1.0 - 1e-8) <= single.magnitude <= float(brute.max()) * (1.0 + 1e-6)


@settings(max_examples=80)
@given(lips, speeds, st.floats(1.0, 5.0), st.floats(0.0, 1e-3))
def test_load_and_offset(system: Any, omega: float, factor: float, offset: float) -> None:
    base = limit(omega, system)
    more = limit(omega, system, preload=system[0] * factor)
    assert more.eccentricity == pytest.approx(base.eccentricity * factor, rel=1e-12)
    # load from a spring that does not relax counts alike and adds no stiffness by itself
    assert limit(omega, system, elastic_preload=10.0).eccentricity > base.eccentricity
    assert 0.0 <= limit(omega, system, offset=offset).eccentricity <= base.eccentricity
    preload, equilibrium, *_, elastic = system
    room = 0.5 * preload / (equilibrium + elastic)
    assert limit(omega, system, offset=room).eccentricity == pytest.approx(0.5 * base.eccentricity, rel=1e-9)


def test_where_the_search_is_left_out_the_stiffness_rises() -> None:
    """The proof that spares the search is true where it is given, and is given for some lips and not for others."""
    random, proved = np.random.default_rng(31), 0
    for _ in range(400):
        count = int(random.integers(1, 9))
        omega, rest = float(10 ** random.uniform(0, 3.5)), float(10 ** random.uniform(4, 6))
        branches, times = rest * 10 ** random.uniform(-2, 0.5, count), 10 ** random.uniform(-5, 1, count)
        mass = float(rest / omega**2 * 10 ** random.uniform(-5, 0.5))
        storage, _, slope, relaxing = compiled(following._loaded)(
            omega, rest, 1.0, 1.0, chain(branches.tolist(), times.tolist())
        )
        if compiled(following._rises_throughout)(rest, storage, slope, relaxing, mass * omega**2):
            proved += 1
            way = dynamic(np.linspace(0.0, omega, 2001), rest, branches, times, mass)
            assert (np.diff(way) > -1e-13 * way[:-1]).all()
    assert 40 < proved < 360


def test_outside_validity() -> None:
    good = {"omega": 600.0, "preload": 100.0, "equilibrium": 4e5, "stiffnesses": [2e5], "times": [1e-3], "mass": 1e-3}
    for wrong in (
        {"mass": -1e-9}, {"mass": math.nan}, {"equilibrium": 0.0}, {"omega": -1e-6}, {"offset": -1e-9},
        {"omega": math.inf}, {"omega": math.nan},
    ):  # fmt: skip
        assert math.isnan(allowed(**{**good, **wrong}).eccentricity), wrong
    for right in ({"mass": 0.0}, {"omega": 0.0}, {"offset": 0.0}):
        assert allowed(**{**good, **right}).eccentricity > 0.0, right
    assert allowed(**{**good, "preload": -5.0}).eccentricity == 0.0
