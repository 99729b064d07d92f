"""Runout following: time integration with one-sided contact, the running minimum, offset, shapes, speed."""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import pytest
from glandwise.twofold import following
from hypothesis import example, given, settings
from hypothesis import strategies as st


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


CASES = {
    "one branch, 50 Hz": (50.0, 10.0, 50e3, [30e3], [2e-3], 2e-3),
    "one branch, 200 Hz": (200.0, 10.0, 50e3, [30e3], [2e-3], 2e-3),
    "two branches, 100 Hz": (100.0, 10.0, 20e3, [20e3, 10e3], [1e-3, 20e-3], 5e-3),
    # a branch of no stiffness keeps the integrator's state from being empty
    "elastic, past resonance": (1250.0, 10.0, 50e3, [0.0], [1e-3], 2e-3),
}


@pytest.mark.parametrize("name", CASES)
def test_first_loss_of_contact_by_time_integration(name: str) -> None:
    frequency, preload, static, stiffnesses, times, mass = CASES[name]
    omega = 2 * math.pi * frequency
    e = following.eccentricity_at_frequency(omega, preload, static, stiffnesses, times, mass)
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
    e = share * following.eccentricity_at_frequency(omega, 10.0, static, [k], [tau], mass)
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


systems = st.tuples(
    st.floats(1.0, 1e3),  # preload
    st.floats(1e4, 1e6),  # equilibrium
    st.lists(st.tuples(st.floats(0.0, 3.0), st.floats(-5.0, 3.0)), max_size=5),
    st.floats(-4.0, -0.5),  # log10 mass
    st.floats(0.0, 2e5),  # elastic stiffness
).map(lambda s: (s[0], s[1], [s[1] * share for share, _ in s[2]], [10.0**x for _, x in s[2]], 10.0 ** s[3], s[4]))
speeds = st.floats(0.0, 3e4)


def limit(omega: float, system: Any, **changes: float) -> following.FollowingLimit:
    preload, equilibrium, stiffnesses, times, mass, elastic = system
    return following.allowed_eccentricity(
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


@settings(max_examples=150, deadline=None)
@given(systems, speeds, st.floats(1.0, 10.0))
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
    plain = following.eccentricity_at_frequency(
        omega, preload, equilibrium, stiffnesses, times, mass, elastic_stiffness=elastic
    )
    assert slow.eccentricity <= plain * (1 + 1e-12)


@settings(max_examples=60, deadline=None)
@given(systems, speeds)
@example((1.0, 1e4, [1e4], [1e3], 1e-4, 0.0), 8.0)  # rises long before the mass counts for anything
def test_running_minimum_agrees_with_brute_force(system: Any, omega: float) -> None:
    preload, equilibrium, stiffnesses, times, mass, elastic = system
    found = limit(omega, system)
    sweep = np.concatenate([[0.0], np.geomspace(1e-6, 1.0, 20001) * omega])
    stiffness = following.dynamic_stiffness(sweep, equilibrium, stiffnesses, times, mass, elastic)
    brute = preload / stiffness.max()
    # the sweep can only miss a peak, by less than the square of its step; the search by its stated floor
    assert found.eccentricity <= brute * (1 + 1e-7)
    assert found.eccentricity >= brute * (1 - 1e-6)
    at = following.dynamic_stiffness(found.governing_frequency, equilibrium, stiffnesses, times, mass, elastic)
    assert at == pytest.approx(found.dynamic_stiffness, rel=1e-12)


@settings(max_examples=80, deadline=None)
@given(systems, speeds, st.floats(1.0, 5.0), st.floats(0.0, 1e-3))
def test_load_and_offset(system: Any, omega: float, factor: float, offset: float) -> None:
    base = limit(omega, system)
    more = limit(omega, system, preload=system[0] * factor)
    assert more.eccentricity == pytest.approx(base.eccentricity * factor, rel=1e-12)
    # load from a spring that does not relax counts alike and adds no stiffness by itself
    assert limit(omega, system, elastic_preload=10.0).eccentricity > base.eccentricity
    off = limit(omega, system, offset=offset)
    assert 0.0 <= off.eccentricity <= base.eccentricity
    # what is left for the offset, and back again
    preload, equilibrium, stiffnesses, times, mass, elastic = system
    room = following.allowed_offset(
        0.5 * base.eccentricity, omega, preload, equilibrium, stiffnesses, times, mass, 0.0, elastic
    )
    assert room == pytest.approx(0.5 * preload / (equilibrium + elastic), rel=1e-9)
    back = limit(omega, system, offset=room)
    assert back.eccentricity == pytest.approx(0.5 * base.eccentricity, rel=1e-9)


@settings(max_examples=100, deadline=None)
@given(systems, speeds, st.floats(1.01, 10.0))
def test_mass(system: Any, omega: float, factor: float) -> None:
    """More mass is followed less where inertia governs; where recovery does, never less than the massless stiffness."""
    base, heavier = limit(omega, system), limit(omega, system, mass=system[4] * factor)
    if base.governs == "inertia":
        assert heavier.eccentricity < base.eccentricity
        assert heavier.governs == "inertia"
    massless = limit(omega, system, mass=0.0)
    assert massless.governs == "recovery"
    if base.governs == "recovery":
        assert base.eccentricity >= massless.eccentricity * (1 - 1e-9)


@settings(max_examples=60, deadline=None)
@given(st.floats(1.0, 1e3), st.floats(1e4, 1e6), st.floats(-4.0, -0.5), speeds, st.floats(1.0, 10.0))
def test_elastic_lip_is_monotone_in_mass(
    preload: float, stiffness: float, log: float, omega: float, factor: float
) -> None:
    mass = 10.0**log
    light, heavy = (
        following.allowed_eccentricity(omega, preload, stiffness, [], [], m).eccentricity for m in (mass, mass * factor)
    )
    assert heavy <= light
    assert light == pytest.approx(preload / max(stiffness, mass * omega**2 - stiffness), rel=1e-12)


def test_spurious_peak_is_capped() -> None:
    """Near mω² = Re k* the plain formula promises 4 mm; the running minimum stays at what the run-up allows."""
    omega = 2 * math.pi * 1000.0
    plain = following.eccentricity_at_frequency(omega, 10.0, 50e3, [30e3], [2e-3], 2e-3)
    capped = following.allowed_eccentricity(omega, 10.0, 50e3, [30e3], [2e-3], 2e-3)
    assert plain > 3.9e-3
    assert capped.eccentricity < 0.1362e-3
    assert capped.governs == "recovery"
    assert capped.governing_frequency / (2 * math.pi) == pytest.approx(197.3, abs=0.1)


@pytest.mark.parametrize(("share", "kept"), [(0.99, True), (1.01, False)])
def test_run_up_through_the_governing_speed(share: float, kept: bool) -> None:
    """Why the running minimum is the capacity: a slow run-up to 350 Hz loses contact near 197 Hz first."""
    from scipy.integrate import solve_ivp

    static, k, tau, mass = 50e3, 30e3, 2e-3, 2e-3
    first, last, duration = 120.0, 350.0, 0.5
    rate = 2 * math.pi * (last - first) / duration
    final = following.allowed_eccentricity(2 * math.pi * last, 10.0, static, [k], [tau], mass)
    e = share * final.eccentricity
    assert e < following.eccentricity_at_frequency(2 * math.pi * last, 10.0, static, [k], [tau], mass)

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
    assert at == pytest.approx(final.governing_frequency, rel=0.1)
    assert load.min() == pytest.approx((1 - share) * 10.0, abs=0.02)


def test_a_garter_buys_runout() -> None:
    """Load without relaxing stiffness: the same lip follows more, and its own stiffness costs a little back."""
    lip = (600.0, 100.0, 4e5, [2e5, 1e5], [1e-3, 1.0], 1e-3)
    bare = following.allowed_eccentricity(*lip)
    garter = following.allowed_eccentricity(*lip, elastic_preload=80.0, elastic_stiffness=2e3)
    assert 1.7 * bare.eccentricity < garter.eccentricity < 1.8 * bare.eccentricity


def test_floats_and_arrays_agree_over_every_shape() -> None:
    rng = np.random.default_rng(11)
    n = 200
    omega, equilibrium = rng.uniform(0, 6000, n), rng.uniform(1e5, 1e6, n)
    mass, preload = 10 ** rng.uniform(-3.5, -0.5, n), rng.uniform(-20, 500, n)
    stiffnesses = equilibrium[:, None] * rng.uniform(0, 2, (n, 4))
    times, elastic, offset = 10 ** rng.uniform(-5, 3, (n, 4)), rng.uniform(0, 1e5, n), rng.uniform(0, 2e-4, n)
    mass[:5] = 0.0
    batch = following.allowed_eccentricity(omega, preload, equilibrium, stiffnesses, times, mass, 50.0, elastic, offset)
    for i in range(n):
        single = following.allowed_eccentricity(
            float(omega[i]),
            float(preload[i]),
            float(equilibrium[i]),
            stiffnesses[i].tolist(),
            times[i].tolist(),
            float(mass[i]),
            50.0,
            float(elastic[i]),
            float(offset[i]),
        )
        assert type(single.eccentricity) is float
        assert single.governs == batch.governs[i]
        for name in ("eccentricity", "tir", "governing_frequency", "dynamic_stiffness", "preload"):
            assert float(getattr(batch, name)[i]) == pytest.approx(getattr(single, name), rel=1e-9), name
    # a curve over speed for one lip, and for several at once
    curve = following.allowed_eccentricity(omega, 100.0, 4e5, [2e5, 1e5], [1e-3, 1.0], 0.05)
    assert curve.eccentricity.shape == curve.governs.shape == (n,)
    grid = following.allowed_eccentricity(
        omega, 100.0, np.array([[4e5], [8e5]]), np.array([[[2e5, 1e5]], [[4e5, 2e5]]]), [1e-3, 1.0], 0.05
    )
    assert grid.eccentricity.shape == (2, n)
    assert grid.eccentricity[0] == pytest.approx(curve.eccentricity)
    raw = following.eccentricity_at_frequency(omega, 100.0, 4e5, [2e5, 1e5], [1e-3, 1.0], 0.05)
    assert raw[7] == pytest.approx(
        following.eccentricity_at_frequency(float(omega[7]), 100.0, 4e5, [2e5, 1e5], [1e-3, 1.0], 0.05)
    )


def test_the_search_is_left_out_only_where_it_finds_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the rise is proved, |Z| does rise, and the search that is left out would not have changed the answer."""
    rng = np.random.default_rng(31)
    proof = following._rises_throughout
    outcomes: list[bool] = []

    def noted(*arguments: Any) -> Any:
        outcomes.append(proof(*arguments))
        return outcomes[-1]

    proved = 0
    for _ in range(400):
        count = int(rng.integers(1, 9))
        omega, static = float(10 ** rng.uniform(0, 3.5)), float(10 ** rng.uniform(4, 6))
        branches = (static * 10 ** rng.uniform(-2, 0.5, count)).tolist()
        times = (10 ** rng.uniform(-5, 1, count)).tolist()
        mass = float(static / omega**2 * 10 ** rng.uniform(-5, 0.5))
        monkeypatch.setattr(following, "_rises_throughout", noted)
        outcomes.clear()
        short = following.peak_dynamic_stiffness(omega, static, branches, times, mass)
        together = following.peak_dynamic_stiffness(np.array([omega]), static, branches, times, mass)
        monkeypatch.setattr(following, "_rises_throughout", lambda *a: a[0] < 0.0)
        assert following.peak_dynamic_stiffness(omega, static, branches, times, mass) == short
        assert together.magnitude[0] == pytest.approx(short.magnitude, rel=1e-12)
        assert bool(outcomes[0]) == bool(outcomes[1][0])
        if outcomes[0]:
            proved += 1
            way = following.dynamic_stiffness(np.linspace(0.0, omega, 2001), static, branches, times, mass)
            assert (np.diff(way) > -1e-13 * way[:-1]).all()
    assert 40 < proved < 360


def test_large_batch_is_cut_into_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(13)
    n = 500
    arguments = (
        rng.uniform(0, 6000, n),
        100.0,
        rng.uniform(1e5, 1e6, n),
        rng.uniform(0, 1e6, (n, 3)),
        10 ** rng.uniform(-5, 1, (n, 3)),
        10 ** rng.uniform(-3, -0.5, n),
    )
    whole = following.allowed_eccentricity(*arguments)
    monkeypatch.setattr(following, "_BLOCK", 64)
    blocks = following.allowed_eccentricity(*arguments)
    assert np.array_equal(whole.eccentricity, blocks.eccentricity)


def test_outside_validity() -> None:
    good = {"lip_preload": 100.0, "equilibrium_stiffness": 4e5, "branch_stiffnesses": [2e5], "relaxation_times": [1e-3]}
    for wrong in (
        {"mass": -1.0},
        {"equilibrium_stiffness": 0.0},
        {"angular_frequency": -1.0},
        {"offset": -1e-3},
        {"angular_frequency": math.inf},
        {"angular_frequency": math.nan},
        {"mass": math.nan},
    ):
        arguments: dict[str, Any] = {"angular_frequency": 600.0, "mass": 1e-3, **good, **wrong}
        assert math.isnan(following.allowed_eccentricity(**arguments).eccentricity), wrong
        name = next(iter(wrong))
        batch = following.allowed_eccentricity(**{**arguments, name: np.array([arguments[name]] * 2)})
        assert np.isnan(batch.eccentricity).all(), wrong
        assert name == "offset" or (batch.governs == "").all()
    assert math.isnan(following.dynamic_stiffness(-1.0, 1.0, [], [], 0.0))
    assert math.isnan(following.allowed_offset(-1.0, 600.0, 100.0, 4e5, [], [], 1e-3))
    none = following.allowed_eccentricity(600.0, **{**good, "lip_preload": -5.0}, mass=1e-3)
    assert none.eccentricity == 0.0
    assert following.preload_under_offset(100.0, 4e5, 1.0) == 0.0


def test_float_path_is_fast() -> None:
    """Bound of 1 ms: an order above what it takes (about 50 to 90 µs), so that a busy machine does not fail it."""
    case = (600.0, 100.0, 4e5, [2e5, 1e5, 1e5, 5e4, 5e4], [1e-4, 1e-3, 1e-2, 1.0, 100.0], 1e-3)
    shortest = math.inf
    for _ in range(5):
        start = time.perf_counter()
        for _ in range(50):
            following.allowed_eccentricity(*case)
        shortest = min(shortest, (time.perf_counter() - start) / 50)
    assert shortest < 1e-3


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
    peak = following.peak_dynamic_stiffness(top, scale, moduli, times, mass)
    omegas = np.concatenate([np.geomspace(1e-4, 1.0, 300), np.linspace(0.0, 1.0, 2000)]) * top
    brute = following.dynamic_stiffness(omegas, scale, moduli, times, mass)
    assert peak.magnitude >= float(brute.max()) * (1.0 - 1e-7)
    assert peak.magnitude <= float(brute.max()) * (1.0 + 1e-4)
    at_peak = following.dynamic_stiffness(peak.angular_frequency, scale, moduli, times, mass)
    assert at_peak == pytest.approx(peak.magnitude, rel=1e-12)
    batch = following.peak_dynamic_stiffness(np.array([top, 0.5 * top]), scale, moduli, times, mass)
    assert batch.magnitude[0] == pytest.approx(peak.magnitude, rel=1e-12)
    assert batch.magnitude[1] <= peak.magnitude * (1.0 + 1e-12)


def test_preloads_of_lip_and_energizer_add() -> None:
    lip = {"equilibrium_stiffness": 5e4, "branch_stiffnesses": (2e4,), "relaxation_times": (0.01,), "mass": 2e-3}
    for function in (following.eccentricity_at_frequency, following.allowed_eccentricity):
        together = function(300.0, 40.0, **lip, elastic_preload=60.0)
        alone = function(300.0, 100.0, **lip)
        assert together == alone
    assert following.allowed_offset(1e-4, 300.0, 40.0, **lip, elastic_preload=60.0) == pytest.approx(
        following.allowed_offset(1e-4, 300.0, 100.0, **lip)
    )
    assert following.preload_under_offset(40.0, 5e4, 1e-3, 60.0, 1e4) == pytest.approx(100.0 - 6e4 * 1e-3)


def test_branches_and_times_go_together() -> None:
    for function in (following.dynamic_stiffness, following.peak_dynamic_stiffness):
        with pytest.raises(ValueError, match="zip"):
            function(300.0, 5e4, (2e4, 1e4), (0.01,), 2e-3)


@pytest.mark.parametrize("scale", [1e-3, 1e5])
def test_a_lip_that_never_relaxes_meets_its_peak_where_the_search_begins(scale: float) -> None:
    # relaxing far below the least frequency searched: the start of the grid stands for all below it
    mass = 2e-3 * scale
    start = math.sqrt(1e-7 * scale / mass)
    case = (scale, (2.0 * scale,), (1e5 / start,), mass)
    single = following.peak_dynamic_stiffness(0.2, *case)
    assert single.magnitude == pytest.approx(3.0 * scale, rel=1e-6)
    assert single.angular_frequency == pytest.approx(start, rel=1e-9)
    many = following.peak_dynamic_stiffness(np.array([0.2, 0.1]), *case)
    assert many.magnitude[0] == pytest.approx(single.magnitude, rel=1e-12)
    assert many.angular_frequency[0] == pytest.approx(start, rel=1e-9)


@pytest.mark.parametrize("share", [30.0, 200.0, 1e3, 1e4])
@pytest.mark.parametrize("ratio", [1.41, 1.42, 1.44, 1.45, 1.47, 1.5])
def test_a_maximum_close_to_a_minimum_is_found(share: float, ratio: float) -> None:
    # one branch, whose relaxation falls together with the natural frequency of the unrelaxed lip
    mass, total = 2e-3, 1.0 + share
    natural = math.sqrt(total / mass)
    case = (1.0, (share,), (ratio / natural,), mass)
    for reach in (0.7, 0.75, 0.8):
        omegas = np.linspace(0.0, reach, 4000) * natural
        brute = following.dynamic_stiffness(omegas, *case)
        single = following.peak_dynamic_stiffness(reach * natural, *case)
        many = following.peak_dynamic_stiffness(np.array([reach * natural]), *case)
        assert float(brute.max()) * (1.0 - 1e-8) <= single.magnitude <= float(brute.max()) * (1.0 + 1e-6)
        assert many.magnitude[0] == pytest.approx(single.magnitude, rel=1e-12)
