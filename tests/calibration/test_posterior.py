"""Posteriors, held to cases that are known in closed form, to an independent sampler, to least squares, and to drawn truths."""

from __future__ import annotations

from itertools import pairwise
from math import exp, inf, log, sqrt

import numpy as np
import pytest
from glandwise.contract.calibration import CalibrationRequest
from glandwise.review.calibration.estimates import Prior, middle_of, weibull
from glandwise.review.calibration.found import NO_BELIEF
from glandwise.review.calibration.lives import ratio_of
from glandwise.review.calibration.posterior import (
    belief_of,
    believed,
    between_believed,
    density,
    lives_believed,
    middle_believed,
)
from glandwise.rules.values import Datum, DatumIn
from scipy import stats

from tests.calibration import believed as drawn
from tests.calibration import simulated
from tests.calibration.believed import ASKED_BAYES, MADE, held
from tests.calibration.simulated import COMPOUND, baseline, fitted, found

LOGS = [0.1, -0.3, 0.25, 0.05, -0.2]
BELIEF = Prior(0.4, 0.7)
SCATTER = Prior(log(0.25), 0.4)


def _datum(low: float, high: float) -> Datum:
    day = baseline().calibration.scatter.wear.valid_from
    return DatumIn("ratio")(Datum(low, "1", "house-estimate", "house_estimate", day, low=low, high=high))


def test_a_range_is_nine_in_ten_of_a_belief() -> None:
    belief = belief_of(_datum(0.5, 8.0))
    assert belief is not None
    assert stats.norm.interval(0.9, belief.middle, belief.spread) == pytest.approx((log(0.5), log(8.0)))
    assert belief_of(_datum(1.0, 1.0)) is None


@pytest.mark.parametrize("specimens", [1, 2, 5])
def test_with_a_known_scatter_it_is_the_conjugate_normal(specimens: int) -> None:
    """Of a normal with known deviation and a normal belief of its mean the posterior is normal, by adding precisions."""
    s, logs = 0.3, LOGS[:specimens]
    precision = 1.0 / BELIEF.spread**2 + specimens / s**2
    mean = (BELIEF.middle / BELIEF.spread**2 + sum(logs) / s**2) / precision
    for cover in (0.5, 0.9, 0.99):
        known = middle_believed(logs, cover, BELIEF, Prior(log(s), 1e-5))
        low, high = stats.norm.interval(cover, mean, 1.0 / sqrt(precision))
        assert (known.low, known.middle, known.high) == pytest.approx((low, mean, high), abs=2e-5)
    assert known.own_share == pytest.approx(1.0 - 1.0 / precision / BELIEF.spread**2, abs=1e-5)


def test_with_nothing_believed_of_the_value_it_is_that_of_a_scatter_by_itself() -> None:
    """Given the scatter the middle is normal around the mean: its variance is that of the scatter's posterior over the count."""
    far = middle_believed(LOGS, 0.9, Prior(0.0, 50.0), SCATTER)
    x = np.asarray(LOGS)
    squares, n = float(np.sum((x - x.mean()) ** 2)), len(x)
    u = np.linspace(SCATTER.middle - 8 * SCATTER.spread, SCATTER.middle + 8 * SCATTER.spread, 20001)
    w = np.exp(believed(u, SCATTER) - (n - 1) * u - 0.5 * squares * np.exp(-2.0 * u))
    w /= w.sum()

    def below(m: float) -> float:
        return float(np.sum(w * stats.norm.cdf((m - x.mean()) * sqrt(n) * np.exp(-u))))

    assert (below(far.low), below(far.middle), below(far.high)) == pytest.approx((0.05, 0.5, 0.95), abs=3e-4)


def test_of_no_specimen_it_is_the_belief() -> None:
    none = middle_believed([], 0.9, BELIEF, SCATTER)
    low, high = stats.norm.interval(0.9, BELIEF.middle, BELIEF.spread)
    assert (none.low, none.middle, none.high) == pytest.approx((low, BELIEF.middle, high), abs=1e-5)
    assert none.own_share == pytest.approx(0.0, abs=1e-4)
    assert none.scatter == pytest.approx(exp(SCATTER.middle), rel=1e-4)


def test_what_is_known_of_nothing_is_the_belief_too() -> None:
    middle, _ = between_believed([(-inf, inf)], 0.9, BELIEF, SCATTER)
    low, high = stats.norm.interval(0.9, BELIEF.middle, BELIEF.spread)
    assert (middle.low, middle.high) == pytest.approx((low, high), abs=1e-5)
    one = lives_believed([([700.0], [])], 0.9, BELIEF._replace(middle=2.0, spread=0.3), log(ratio_of(1.0)))
    low, high = stats.norm.interval(0.9, 2.0, 0.3)  # one life tells no shape
    assert (one.spread.low, one.spread.high) == pytest.approx((low, high), abs=1e-4)


def test_narrow_steps_are_numbers() -> None:
    narrow, _ = between_believed([(x - 1e-4, x + 1e-4) for x in LOGS], 0.9, BELIEF, SCATTER)
    plain = middle_believed(LOGS, 0.9, BELIEF, SCATTER)
    assert narrow[:3] == pytest.approx((plain.middle, plain.low, plain.high), abs=1e-4)


def test_a_step_to_one_side_moves_to_that_side() -> None:
    """A specimen that has not failed tells that the limit lies above; least squares tell nothing of it."""
    held_only, _ = between_believed([(BELIEF.middle + 0.5, inf)], 0.9, BELIEF, SCATTER)
    assert held_only.low > BELIEF.middle - 1.645 * BELIEF.spread + 0.3
    assert held_only.middle > BELIEF.middle + 0.3


def test_of_many_it_is_that_of_least_squares() -> None:
    x = np.random.default_rng(2).normal(0.6, 0.3, 400).tolist()
    plain, joined = middle_of(x, 0.9), middle_believed(x, 0.9, BELIEF, SCATTER)
    assert plain is not None
    width = plain.high - plain.low
    for one, other in zip((plain.low, plain.middle, plain.high), (joined.low, joined.middle, joined.high), strict=True):
        assert abs(one - other) < 0.2 * width  # robust and plain means of these differ by as much
    assert joined.high - joined.low == pytest.approx(width, rel=0.1)


def test_lives_of_many_are_those_of_the_likeliest() -> None:
    rng = np.random.default_rng(4)
    groups = [((500.0 * rng.weibull(1.8, 300)).tolist(), [600.0] * 30), ((900.0 * rng.weibull(1.8, 300)).tolist(), [])]
    plain = weibull(groups, 0.9)
    joined = lives_believed(groups, 0.9, Prior(2.0, 0.4), log(ratio_of(1.0)))
    assert plain is not None
    assert joined.shape[:3] == pytest.approx((plain.shape, plain.shape_low, plain.shape_high), rel=0.02)
    for one, other in zip(plain.scales, joined.scales, strict=True):
        assert [exp(end) for end in other[:3]] == pytest.approx(one, rel=0.01)


def test_a_scale_of_lives_of_a_known_shape_is_inverse_gamma() -> None:
    lives, known = [300.0, 800.0, 1200.0], 2.0
    wide = log(ratio_of(1.0))
    joined = lives_believed([(lives, [1500.0])], 0.9, Prior(wide / known, 1e-4), wide)
    total = sum(t**known for t in [*lives, 1500.0])
    ends = [(total / stats.gamma.ppf(1.0 - p, 3)) ** (1.0 / known) for p in (0.5, 0.05, 0.95)]
    assert [exp(end) for end in joined.scales[0][:3]] == pytest.approx(ends, rel=1e-3)


@pytest.mark.parametrize("tied", [-0.9, 0.0, 0.9])
@pytest.mark.parametrize("place", [3.217, -40.1, 0.0])
def test_a_narrow_density_is_found_in_a_wide_box(tied: float, place: float) -> None:
    def logs(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        x, y = (a - place) / 0.03, (b + 7.3) / 0.2
        return np.asarray(-0.5 * (x * x - 2.0 * tied * x * y + y * y) / (1.0 - tied**2))

    there = density(logs, [(-50.0, 50.0), (-20.0, 20.0)], (101, 101))
    a, b = there.marginal(0, 0.9), there.marginal(1, 0.9)
    assert a[:3] == pytest.approx((place, place - 1.645 * 0.03, place + 1.645 * 0.03), abs=1e-4)
    assert b.variance == pytest.approx(0.2**2, rel=1e-3)


def test_an_independent_sampler_finds_the_same() -> None:
    """Of relaxation, with four numbers that are not known; the density is written down anew, with whole covariances."""
    emcee = pytest.importorskip("emcee")
    made = drawn.MADE["relaxation"](np.random.default_rng(8), 3)
    amount, energy = fitted("relaxation", made.text, ASKED_BAYES)
    prony, beliefs = baseline().compounds[COMPOUND].relaxation, baseline().calibration
    rows = [line.split(",") for line in made.text.splitlines()[1:]]
    T = np.array([float(row[2]) + 273.15 for row in rows])
    early, late = (np.array([float(row[column]) for row in rows]) for column in (3, 4))
    seen, names = np.log([float(row[5]) for row in rows]), np.array([row[0] for row in rows])
    alike = (names[:, None] == names[None, :]).astype(float)
    ends = [
        (datum.si_low, datum.si_high)
        for datum in (
            beliefs.factor.relaxation, prony.activation_energy, beliefs.scatter.relaxation, beliefs.readings.relaxation,
        )
    ]  # fmt: skip
    middles = np.array([0.5 * log(a * b) for a, b in ends])
    spreads = np.array([log(b / a) / 2.0 / stats.norm.ppf(0.95) for a, b in ends])

    def logs(at: np.ndarray) -> float:
        total = -0.5 * float(np.sum(((at - middles) / spreads) ** 2))
        if exp(at[0]) * sum(prony.ratios) >= 0.999:
            return -inf
        shift = np.exp(exp(at[1]) / 8.314462618 * (1.0 / T - 1.0 / prony.reference_temperature.si))

        def left(t: np.ndarray) -> np.ndarray:
            gone = sum(
                ratio * -np.expm1(-t / shift / time) for ratio, time in zip(prony.ratios, prony.times_s, strict=True)
            )
            return np.asarray(exp(at[0]) * gone)

        a, b = left(late), left(early)
        slope = -a / (1.0 - a) + b / (1.0 - b)
        cov = exp(2.0 * at[2]) * alike * np.outer(slope, slope) + exp(2.0 * at[3]) * np.eye(len(seen))
        off = seen - np.log1p(-a) + np.log1p(-b)
        return total - 0.5 * float(np.linalg.slogdet(cov)[1] + off @ np.linalg.solve(cov, off))

    rng = np.random.default_rng(5)
    start = middles + 0.01 * rng.normal(size=(16, 4))
    start[:, 0] = np.minimum(start[:, 0], log(0.99 / sum(prony.ratios)))
    sampler = emcee.EnsembleSampler(16, 4, logs)
    sampler.random_state = np.random.RandomState(6).get_state()
    sampler.run_mcmc(start, 2000)
    chain = sampler.get_chain(discard=400, flat=True)
    for place, (value, unit) in enumerate(((amount, 1.0), (energy, 1e3))):
        low, middle, high = np.quantile(np.exp(chain[:, place]) / unit, [0.05, 0.5, 0.95])
        ours, width = found(value), high - low
        assert [ours.low, ours.value, ours.high] == pytest.approx([low, middle, high], abs=0.12 * width)
        assert ours.high - ours.low == pytest.approx(width, rel=0.12)


REPETITIONS = 40


@pytest.mark.parametrize("kind", MADE)
def test_intervals_hold_drawn_truths_as_often_as_promised(kind: str) -> None:
    """Truth and scatter drawn as the house believes them, of one and of three specimens; the guide has what many more give."""
    counts: dict[str, list[bool]] = {}
    for specimens in (1, 3):
        for seed in range(REPETITIONS // 2):
            for name, holds in held(kind, 50_000 + seed, specimens).items():
                counts.setdefault(name, []).append(holds)
    assert counts
    for name, all_of in counts.items():
        least, most = (int(stats.binom.ppf(p, len(all_of), 0.9)) for p in (1e-3, 1.0 - 1e-3))
        assert least <= sum(all_of) <= most or least <= sum(all_of) == len(all_of), name


def test_one_specimen_tells_what_least_squares_leave() -> None:
    made = simulated.wear(np.random.default_rng(1), 1)
    (plain,), (joined,) = fitted("wear", made.text), fitted("wear", made.text, ASKED_BAYES)
    assert plain.found is None
    assert joined.record is not None
    assert joined.record["evidence"] == "own_test"
    assert "calibration.scatter.wear" in joined.record["note"]
    house = baseline().compounds[COMPOUND].wear.dry
    assert house is not None
    assert joined.record["high"] / joined.record["low"] < 0.5 * house.si_high / house.si_low


def test_intervals_get_narrower_with_specimens() -> None:
    widths = []
    for specimens in (1, 2, 4, 8, 16):
        (value,) = fitted(
            "energizer_load", simulated.energizer_load(np.random.default_rng(3), specimens).text, ASKED_BAYES
        )
        widths.append(found(value).high / found(value).low)
    assert all(later < earlier for earlier, later in pairwise(widths))


def test_one_temperature_leaves_the_activation_energy_as_the_house_has_it() -> None:
    made = simulated.relaxation(np.random.default_rng(2), 4, temperatures=(296.15,))
    amount, energy = fitted("relaxation", made.text, ASKED_BAYES)
    held_by_house = baseline().compounds[COMPOUND].relaxation.activation_energy
    assert energy.stays
    assert energy.record is None
    ours = found(energy)
    assert (ours.low, ours.high) == pytest.approx(
        (held_by_house.si_low / 1e3, held_by_house.si_high / 1e3), rel=2e-3
    )  # at the temperature of reference nothing shifts
    assert amount.record is not None


def test_what_the_house_has_without_a_range_is_no_belief() -> None:
    from glandwise.review.calibration.located import located

    value = located(
        ("compounds", "x", "wear", "dry"),
        "Rate",
        "ratio",
        "1",
        _datum(1.0, 1.0),
        {"a": 1.0},
        1,
        ASKED_BAYES,
        {},
        "wear",
    )
    assert value.found is None
    assert value.stays == NO_BELIEF


def test_the_method_is_asked_for_by_name() -> None:
    assert CalibrationRequest.model_fields["method"].default == "least_squares"
