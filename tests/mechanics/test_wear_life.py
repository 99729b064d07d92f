"""Life of a lip that wears."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from glandwise.mechanics import wear_life
from glandwise.mechanics.choices import Motion
from glandwise.mechanics.viscoelastic import relaxed_share
from glandwise.numerics.compiled import compiled
from glandwise.numerics.trace import Working, calm, traced
from scipy.integrate import quad, solve_ivp

from tests.mechanics.support import HOSTILE, Record, alike, draws, flat, leaves, packed, relaxation, told, told_alike

RELAXING = relaxation(0.35, [0.05] * 8, [10.0**k for k in range(8)])
LASTING = relaxation(1.0, [0.0], [1.0])
PUMP: dict[str, Any] = {
    "T": 313.0, "t_0": 86400.0, "K_b": 3e-16, "v": 4.6, "motion": Motion.turning, "S": 0.2, "G_0": 1e-7, "f_0": 0.1,
    "q_p": 100.0, "q_e": 200.0, "k_e": 4e5, "q_l": 190.0, "k_l": 5e5, "p": 3e5, "b_0": 5e-5, "theta": 0.15, "V_0": 400.0,
    "D": 0.02, "c_f": 2.0, "L": 1.5e-3, "f_q": 0.5, "f_x": 0.2, "h_a": 1.9e-4, "h_e": 3e-4, "h_m": 4e-4, "t_m": 86400.0,
}  # fmt: skip
"""An energized lip in water."""
CALM, MACHINE = calm(wear_life.lip_life), compiled(wear_life.lip_life)
_left, _width = compiled(relaxed_share), compiled(wear_life.worn_width)


def life(record: Record = RELAXING, **changes: Any) -> wear_life.Life:
    """Life of the pump's lip with some numbers changed."""
    found: wear_life.Life = MACHINE(record.packed, *{**PUMP, **changes}.values())
    return found


def integrated(record: Record, a: dict[str, Any]) -> tuple[float, float, float, float, float]:
    """Times to depth, travel, half and the lost share of the load, and the depth at the stated time, by an adaptive integration."""
    at_start = _left(record.packed, a["T"], a["t_0"])

    def load(h: float, t: float) -> float:
        r = _left(record.packed, a["T"], a["t_0"] + t) / at_start
        return float(a["q_p"] + max(a["q_e"] - a["k_e"] * h, 0.0) + r * max(a["q_l"] - a["k_l"] * h, 0.0))

    def slowness(h: float, t: float) -> float:
        q, b = load(h, t), a["b_0"] + _width(h, a["theta"], a["V_0"], a["D"]) + h * a["c_f"]
        b = min(b, max(a["L"], a["b_0"]))
        x = a["S"] * b / q / a["G_0"]
        mean = 1.0 / (1.0 + x)
        if a["motion"] == Motion.swinging and x > 0.0:
            angle = np.linspace(0.0, 0.5 * math.pi, 2001)
            mean = np.trapezoid(np.cos(angle) / (1.0 + x * np.cos(angle)), angle)
        phi = a["f_0"] + (1.0 - a["f_0"]) * mean
        return float(b / (a["K_b"] * phi * abs(a["v"]) * max(q - 0.5 * a["p"] * b, a["f_q"] * q)))

    start = load(0.0, 0.0)

    def half(x: float, y: Any) -> float:
        return load(math.exp(x), y[0]) - 0.5 * start

    def fifth(x: float, y: Any) -> float:
        return load(math.exp(x), y[0]) - a["f_x"] * start

    def mark(_: float, y: Any) -> float:
        return float(y[0] - a["t_m"])

    fifth.terminal = True  # type: ignore[attr-defined]
    h_0 = 1e-10 * a["h_m"]
    run = solve_ivp(
        lambda x, y: [slowness(math.exp(x), y[0]) * math.exp(x)], (math.log(h_0), math.log(a["h_m"])),
        [slowness(0.0, 0.0) * h_0], rtol=1e-8, atol=1e-3, events=[half, fifth, mark], dense_output=True, max_step=0.3,
    )  # fmt: skip

    def at(h: float) -> float:
        return float(run.sol(math.log(h))[0]) if math.log(h) <= run.t[-1] else math.inf

    lost = [float(y[0][0]) if len(y) else math.inf for y in run.y_events[:2]]
    return at(a["h_a"]), at(a["h_e"]), *lost, math.exp(run.t_events[2][0] if len(run.t_events[2]) else run.t[-1])


def cases(count: int) -> list[dict[str, Any]]:
    """Lips from dry to flooded, from light to pressed by 150 bar, edges and lips that lie."""
    random = np.random.default_rng(5)
    found = []
    for index in range(count):
        q_p = float(random.choice([0.0, 100.0, 5000.0]))
        found.append({
            **PUMP, "K_b": float(10.0 ** random.uniform(-18, -14)), "v": float(10.0 ** random.uniform(-2, 1.3)),
            "motion": Motion(index % 2), "S": float(10.0 ** random.uniform(-4, 2)), "theta": float(random.choice([0.0, 0.05, 0.3])),
            "q_p": q_p, "p": 3e3 * q_p, "q_e": float(random.choice([0.0, 300.0])), "k_l": float(random.uniform(1e5, 2e6)),
            "V_0": q_p + 190.0, "b_0": float(10.0 ** random.uniform(-4.5, -3)), "L": float(10.0 ** random.uniform(-3.5, -2)),
        })  # fmt: skip
    return found


# ---------------------------------------------------------------------------------------------------------------- lives


def test_lives() -> None:
    points = (
        (200.0, 230.0),
        (0.2, 1.0),
        (290.0, 296.0),
        (0.9, 1.1),
        (370.0, 380.0),
        (1.5, 3.0),
        (470.0, 480.0),
        (3.0, 6.0),
    )
    told_alike(wear_life.temperature_factor, draws((180.0, 560.0), *points))
    told_alike(wear_life.finish_factor, draws((5e-8, 8e-7), (1e-7, 2e-7), (0.5, 2.0)))
    told_alike(wear_life.mild_factor, draws((0.0, 0.1), (0.002, 0.008), (0.01, 0.05), (0.002, 0.05)))
    told_alike(wear_life.boundary_wear_rate, draws((1e-18, 1e-13), (0.3, 5.0), (0.5, 5.0), (1.0, 6.0), (1.0, 100.0)))
    told_alike(wear_life.worn_width, draws((0.0, 5e-4), (0.0, 0.3), (0.0, 3e4), (1e-3, 0.3)))
    told_alike(wear_life.contact_width, draws((0.0, 1e-3), (0.0, 1e-3), (0.0, 5e-4), (0.0, 8.0), (1e-4, 4e-3)))
    told_alike(wear_life.solid_load, draws((0.0, 3e4), (0.0, 3e7), (1e-5, 4e-3), (0.0, 1.0)))
    told_alike(wear_life.loss_term, [(x,) for x in (0.0, 1e-6, 0.0499, 0.0501, 0.5, 0.999)])
    spans = ((1e-18, 1e-13), (50.0, 3e4), (0.0, 1e6), (1e-5, 1e-3), (0.0, 10.0), (1e-6, 4e-4))
    told_alike(wear_life.widening_distance, draws(*spans), {"loss": wear_life.loss_term})
    told_alike(wear_life.log_spread, draws((0.01, 0.9), (1.1, 100.0), (0.8, 2.0)))
    told_alike(wear_life.joined_spread, draws((0.0, 3.0), (0.0, 3.0)))
    told_alike(wear_life.life_quantile, draws((1e3, 1e9), (0.0, 3.0), (-2.0, 2.0)))
    told_alike(wear_life.probability_reached, draws((1e3, 1e9), (1e3, 1e9), (0.1, 3.0)))


def test_lives_of_the_march() -> None:
    """The three lives on sensible lips and on each argument made hostile: alike, or not known in all."""
    rows = [(RELAXING, *case.values()) for case in cases(6)]
    names = list(PUMP)
    for index, value in [(i, HOSTILE[i % len(HOSTILE)]) for i in range(len(names))]:
        if names[index] != "motion":
            rows.append((RELAXING, *[value if i == index else x for i, x in enumerate(PUMP.values())]))
    rows.extend((RELAXING, *[x if isinstance(x, Motion) else value for x in PUMP.values()]) for value in HOSTILE)
    for row in rows:
        with np.errstate(all="ignore"):
            expected = CALM(*(np.float64(x) if isinstance(x, float) else x for x in packed(row)))
            # the passes of a search may round apart
            alike(MACHINE(*packed(row)), expected, row, 1e-9)
            alike(traced(wear_life.lip_life)(*leaves(wear_life.lip_life, row)), expected, row, 1e-9)


def test_a_working_says_how_the_times_came_about() -> None:
    found = traced(wear_life.lip_life)(*leaves(wear_life.lip_life, (RELAXING, *PUMP.values())))
    working = Working(found)
    words = [step.words for step in working.steps if step.words]
    assert len(words) == 9
    assert all(step.fault == "" for step in working.steps)


# ---------------------------------------------------------------------------------------------------------- integration


@pytest.mark.parametrize("case", cases(16), ids=str)
def test_times_agree_with_an_adaptive_integration(case: dict[str, Any]) -> None:
    found = life(**case)
    expected = integrated(RELAXING, case)
    assert found[:4] == pytest.approx(expected[:4], rel=0.01)
    assert found.depth == pytest.approx(expected[4], rel=0.01)


def test_the_march_comes_down_to_the_closed_law() -> None:
    """Flanks of fixed angle, no relaxing, no pressure, no film."""
    flank, K, v, k, q, b = 4.0, 3e-16, 2.0, 4e5, 300.0, 3e-4
    changes = {
        "K_b": K, "v": v, "S": 0.0, "q_p": 0.0, "q_e": 0.0, "k_e": 0.0, "q_l": q, "k_l": k, "p": 0.0, "b_0": b, "theta": 1e9,
        "c_f": flank, "L": math.inf,
    }  # fmt: skip
    found = life(LASTING, **changes)
    assert v * found.to_depth == pytest.approx(wear_life.widening_distance(K, q, k, b, flank, 1.9e-4), rel=2e-4)
    lost = wear_life.widening_distance(K, q, k, b, flank, 0.5 * q / k)
    assert v * found.to_half_load == pytest.approx(lost, rel=2e-4)


@pytest.mark.parametrize("k", [0.0, 1e-3, 1e3, 3e5, 1.4e6, 1.55e6])
def test_the_closed_law_is_its_integral(k: float) -> None:
    K, q, b, c, h = 3e-16, 300.0, 3e-4, 4.0, 1.9e-4
    expected = quad(lambda x: (b + c * x) / (K * (q - k * x)), 0.0, h, epsabs=0.0, epsrel=1e-12)[0]
    assert told(wear_life.widening_distance, K, q, k, b, c, h) == pytest.approx(expected, rel=1e-10)


def test_the_closed_law_ends_where_the_load_does() -> None:
    assert told(wear_life.widening_distance, 3e-16, 300.0, 2e6, 3e-4, 4.0, 1.9e-4) == math.inf


# ----------------------------------------------------------------------------------------------------------------- laws


def test_width_closes_the_gap_of_a_bent_edge() -> None:
    for h, theta, load, stiffness in draws((1e-6, 5e-4), (0.0, 0.3), (10.0, 3e4), (1e-3, 0.3)):
        w = wear_life.worn_width(h, theta, load, stiffness)
        assert theta * w + load * w**3 / (6.0 * stiffness) == pytest.approx(h, rel=1e-12)


def test_an_edge_and_a_lip_that_lies_join() -> None:
    """Slopes to nothing, loads to nothing: no step to the formula without them."""
    laid = wear_life.worn_width(1e-4, 0.0, 400.0, 0.02)
    assert laid == pytest.approx((6 * 0.02 * 1e-4 / 400.0) ** (1 / 3), rel=1e-12)
    assert wear_life.worn_width(1e-4, 1e-12, 400.0, 0.02) == pytest.approx(laid, rel=1e-9)
    assert wear_life.worn_width(1e-4, 0.15, 0.0, 0.02) == pytest.approx(1e-4 / 0.15, rel=1e-12)
    assert wear_life.worn_width(1e-4, 0.15, 1e-9, 0.02) == pytest.approx(1e-4 / 0.15, rel=1e-9)
    assert wear_life.worn_width(0.0, 0.15, 400.0, 0.02) == 0.0


def test_solid_contact_bears_a_share_of_the_load_at_least() -> None:
    assert wear_life.solid_load(100.0, 1e5, 1e-3, 0.5) == pytest.approx(50.0)
    assert wear_life.solid_load(100.0, 1e6, 1e-3, 0.5) == 50.0
    assert wear_life.solid_load(100.0, 0.0, 1e-3, 0.5) == 100.0


def first(found: wear_life.Life) -> float:
    """First of the ends of a life."""
    return min(found.to_depth, found.to_travel, found.to_lost_load)


def test_a_harsher_duty_does_not_last_longer() -> None:
    assert first(life(K_b=6e-16)) < first(life())
    assert first(life(v=9.2, S=0.4)) < first(life())
    assert first(life(S=0.4)) > first(life())
    assert first(life(f_0=0.3)) < first(life())
    assert life(p=0.0).to_depth < life().to_depth


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [("K_b", 1e-18, 1e-13), ("v", 1e-4, 50.0), ("S", 1e-6, 1e3), ("p", 1.0, 3e6), ("theta", 1e-6, 0.4), ("b_0", 1e-6, 2e-3),
     ("L", 1e-5, 1e-2),
     ("k_l", 1e3, 2e6), ("k_e", 1e3, 2e6), ("V_0", 1e-2, 1e4), ("h_a", 1e-5, 4e-4), ("q_e", 1.0, 3e3), ("T", 250.0, 500.0)],
)  # fmt: skip
def test_life_has_no_step(name: str, low: float, high: float) -> None:
    """The first of the ends, and the state after a day, go without a jump though one end takes over from another."""
    found = [life(**{name: float(x)}) for x in np.geomspace(low, high, 2001)]
    ends = np.log([[first(item), item.depth, item.width, item.load, item.share] for item in found])
    assert np.all(np.isfinite(ends))
    assert np.abs(np.diff(ends, axis=0)).max() < 0.03


def test_a_share_of_solid_contact_that_lasts_is_a_smaller_wear_rate() -> None:
    one = life(S=0.0, f_0=1.0, K_b=1e-16)
    assert flat(life(S=0.0, f_0=0.5, K_b=1e-16)) == pytest.approx(
        flat(one), rel=1e-12
    )  # dry: all of the load, whatever f_0
    film = life(S=1e9, f_0=0.1, K_b=1e-15)
    assert film[:8] == pytest.approx(one[:8], rel=1e-4)


def test_without_speed_only_relaxing_takes_the_load() -> None:
    found = life(v=0.0, q_p=0.0, q_e=0.0, t_0=0.0)
    assert found.to_depth == found.to_travel == math.inf
    at = found.to_half_load
    assert _left(RELAXING.packed, PUMP["T"], at) / _left(RELAXING.packed, PUMP["T"], 0.0) == pytest.approx(
        0.5, rel=1e-6
    )
    assert life(v=1e-9, q_p=0.0, q_e=0.0, t_0=0.0).to_half_load == pytest.approx(at, rel=0.05)
    assert life(v=0.0, q_p=0.0, q_e=0.0, t_0=0.0, T=353.0).to_half_load < at  # with wear a lower load may last longer
    assert found.to_lost_load == math.inf
    assert (found.depth, found.width) == (0.0, PUMP["b_0"])


def test_what_is_beyond_its_end_at_the_start() -> None:
    assert life(p=1e9).to_lift == 0.0
    assert life(h_a=0.0).to_depth == 0.0
    assert life(h_e=math.inf).to_travel == math.inf
    assert all(map(math.isnan, life(q_p=0.0, q_e=0.0, q_l=0.0)))


def test_ends_come_in_their_order() -> None:
    found = life(q_p=0.0, q_e=0.0)
    assert 0.0 < found.to_half_load < found.to_lost_load < math.inf
    assert found.to_travel == math.inf  # the load is gone before the travel is


def test_a_swing_wears_more_than_turning_at_its_greatest_speed() -> None:
    assert life(motion=Motion.swinging).to_depth < life().to_depth


def test_a_contact_is_no_wider_than_the_lip_is_long() -> None:
    """Once all of the lip lies on the shaft the depth grows as that of a block: the pressure of the load on the whole length."""
    bounded = {
        "q_e": 0.0,
        "k_e": 0.0,
        "q_l": 0.0,
        "k_l": 0.0,
        "q_p": 5e3,
        "p": 1e6,
        "V_0": 100.0,
        "L": 8e-4,
        "S": 0.0,
        "f_0": 1.0,
    }
    wide, short = life(**{**bounded, "L": math.inf}), life(**bounded)
    assert wide.width > 8e-4
    assert life(**{**bounded, "t_m": 0.999 * short.to_depth}).width == pytest.approx(8e-4, rel=1e-12)
    assert short.to_depth < wide.to_depth
    full = 5e3 - 0.5 * 1e6 * 8e-4  # load of solid contact on the whole length
    block = (3e-4 - 1.9e-4) * 8e-4 / (PUMP["K_b"] * PUMP["v"] * full)
    laid = life(**{**bounded, "h_a": 3e-4}).to_depth - life(**{**bounded, "h_a": 1.9e-4}).to_depth
    assert laid == pytest.approx(block, rel=1e-3)


def test_a_contact_that_was_wider_when_new_stays_as_wide() -> None:
    found = life(b_0=2e-3, L=1.5e-3)
    assert found.width == 2e-3


# -------------------------------------------------------------------------------------------------------------- factors


def test_temperature_factor_meets_its_points() -> None:
    points = (228.15, 0.3, 293.15, 1.0, 373.15, 2.0, 473.15, 5.0)
    for T, f in ((150.0, 0.3), (228.15, 0.3), (293.15, 1.0), (373.15, 2.0), (473.15, 5.0), (333.15, math.sqrt(2.0))):
        assert told(wear_life.temperature_factor, T, *points) == pytest.approx(f, rel=1e-12)
    values = np.log([wear_life.temperature_factor(T, *points) for T in np.linspace(200.0, 540.0, 3401)])
    assert np.all(np.diff(values) >= 0.0)
    assert np.diff(values).max() < 2e-3


def test_finish_factor_runs_through_the_classes() -> None:
    """Middles of 0.1-0.2, 0.2-0.4, 0.4-0.8 µm: 1, 2.5, 6."""
    found = [
        wear_life.finish_factor(1e-6 * math.sqrt(a * b), 0.1414e-6, 1.29)
        for a, b in ((0.1, 0.2), (0.2, 0.4), (0.4, 0.8))
    ]
    assert found == pytest.approx([1.0, 2.5, 6.0], rel=0.03)
    assert wear_life.finish_factor(5e-8, 0.1414e-6, 1.29) == 1.0


def test_mild_wear_turns_severe_without_a_step() -> None:
    """Ends as stated, the geometric middle in the middle, and never slower at a higher speed."""
    assert wear_life.mild_factor(0.0, 0.005, 0.02, 0.01) == pytest.approx(0.01, rel=1e-12)
    assert wear_life.mild_factor(0.01, 0.005, 0.02, 0.01) == pytest.approx(0.1, rel=1e-12)
    assert wear_life.mild_factor(3.0, 0.005, 0.02, 0.01) == 1.0
    found = np.log([wear_life.mild_factor(v, 0.005, 0.02, 0.01) for v in np.geomspace(1e-4, 1.0, 2001)])
    assert np.all(np.diff(found) >= 0.0)
    assert np.diff(found).max() < 0.02


# ---------------------------------------------------------------------------------------------------------- probability


def test_the_stated_share_of_draws_lies_in_the_range() -> None:
    """Nine in ten of 200,000 products of three factors lie between the quantiles; the target is reached as often as is said."""
    random = np.random.default_rng(11)
    ranges = ((1 / 7, 7.0), (1 / 3, 3.0), (0.6, 1.5))
    sigma, draws_of, centre = 0.0, np.ones(200_000), 1.0
    for low, high in ranges:
        one = wear_life.log_spread(low, high, 1.645)
        sigma = wear_life.joined_spread(sigma, one)
        centre *= math.sqrt(low * high)
        draws_of *= np.exp(random.normal(0.5 * math.log(low * high), one, draws_of.size))
    low, high = (wear_life.life_quantile(centre, sigma, z) for z in (-1.645, 1.645))
    assert np.mean((draws_of > low) & (draws_of < high)) == pytest.approx(0.9, abs=0.003)
    assert np.mean(draws_of > 0.5) == pytest.approx(wear_life.probability_reached(0.5, centre, sigma), abs=0.004)
    four_in_five = wear_life.life_quantile(centre, sigma, -0.8416)
    assert wear_life.probability_reached(four_in_five, centre, sigma) == pytest.approx(0.8, abs=1e-4)


def test_ends_of_the_probability() -> None:
    assert told(wear_life.probability_reached, 1e7, 1e7, 1.4) == 0.5
    assert told(wear_life.probability_reached, 0.0, 1e7, 1.4) == 1.0
    assert told(wear_life.probability_reached, math.inf, 1e7, 1.4) == 0.0
    assert told(wear_life.probability_reached, 1e7, math.inf, 1.4) == 1.0


def test_ranges_in_quadrature_are_narrower_than_end_to_end() -> None:
    a, b = wear_life.log_spread(0.1, 10.0, 1.645), wear_life.log_spread(0.2, 5.0, 1.645)
    assert max(a, b) < wear_life.joined_spread(a, b) < a + b
