"""Statistics of calibrations, held to other ways of working them out and to simulated truths."""

from __future__ import annotations

from math import exp, log, sqrt

import numpy as np
import pytest
from glandwise.review.calibration import estimates
from glandwise.review.calibration.estimates import LEAST, middle_of, prior_of, trend, weibull
from scipy import integrate, stats

from tests.calibration.simulated import MADE, held

FIVE = [0.1, -0.3, 0.25, 0.05, -0.2]
VALUES = [0.1, -0.3, 0.25, 0.05, -0.2, 0.4, -0.15, 0.02]


def test_few_without_a_prior_are_the_textbook() -> None:
    found = middle_of(FIVE, 0.9)
    assert found is not None
    low, high = stats.t.interval(0.9, 4, loc=np.mean(FIVE), scale=stats.sem(FIVE))
    assert (found.low, found.middle, found.high) == pytest.approx((low, np.mean(FIVE), high))
    assert found.own_share == 1.0


def test_fewer_than_three_tell_nothing() -> None:
    assert middle_of([0.1] * (LEAST - 1), 0.9) is None


def test_one_wild_specimen_moves_little() -> None:
    plain, wild = middle_of(VALUES, 0.9), middle_of([*VALUES, 3.0], 0.9)
    assert plain is not None
    assert wild is not None
    assert wild.outliers == (8,)
    assert abs(wild.middle - plain.middle) < 0.1 < abs(float(np.mean([*VALUES, 3.0])) - float(np.mean(VALUES)))


def test_the_posterior_is_that_of_adaptive_quadrature() -> None:
    prior = prior_of(1.0, 0.5, 2.0)
    assert prior is not None
    found = middle_of([0.8, 0.5, 0.9], 0.9, prior)
    assert found is not None
    assert found.with_prior
    error = stats.sem([0.8, 0.5, 0.9])

    def density(x: float) -> float:
        return float(
            stats.t.pdf((x - np.mean([0.8, 0.5, 0.9])) / error, 2) * stats.norm.pdf(x, prior.middle, prior.spread)
        )

    total = integrate.quad(density, -4.0, 4.0, points=[0.7], limit=200)[0]
    for end, share in ((found.low, 0.05), (found.middle, 0.5), (found.high, 0.95)):
        assert integrate.quad(density, -4.0, end, limit=200)[0] / total == pytest.approx(share, abs=2e-4)


def test_a_range_is_a_prior_of_nine_in_ten() -> None:
    prior = prior_of(2.0, 1.0, 4.0)
    assert prior is not None
    assert stats.norm.interval(0.9, prior.middle, prior.spread) == pytest.approx((0.0, log(4.0)))
    assert prior_of(2.0, 2.0, 2.0) is None


def test_many_good_specimens_leave_the_prior_out() -> None:
    rng = np.random.default_rng(5)
    found = middle_of(rng.normal(0.0, 0.1, 30).tolist(), 0.9, prior_of(exp(3.0), exp(2.0), exp(4.0)))
    assert found is not None
    assert not found.with_prior
    assert abs(found.middle) < 0.1


def test_a_trend_is_told_and_noise_is_none() -> None:
    x = list(range(10))
    noise = [0.3, -0.2, 0.1, -0.4, 0.2, 0.0, -0.1, 0.35, -0.3, 0.1]
    assert trend(x, noise) is None
    assert trend(x, [0.5 * a + b for a, b in zip(x, noise, strict=True)]) == pytest.approx(0.5, abs=0.05)


ENDED = [312.0, 540.0, 611.0, 770.0, 905.0, 1130.0, 1420.0]
SURVIVED = [800.0, 1500.0, 1500.0, 1500.0]
ELSEWHERE = {
    "lifelines 0.30.3": (1.9371275543420605, 1359.4041403796114, -56.91534311131706),
    "reliability 0.9.0": (1.9371275510160773, 1359.404095339015, -56.915343111317064),
}
"""Shape, scale and log-likelihood that independent libraries gave for these invented lives."""


@pytest.mark.parametrize("library", ELSEWHERE)
def test_lives_are_those_of_other_libraries(library: str) -> None:
    found = weibull([(ENDED, SURVIVED)], 0.9)
    assert found is not None
    shape, scale, likelihood = ELSEWHERE[library]
    assert (found.shape, found.scales[0][0]) == pytest.approx((shape, scale), rel=1e-6)
    assert found.log_likelihood == pytest.approx(likelihood, rel=1e-9)
    assert found.shape_low < found.shape < found.shape_high
    middle, low, high = found.scales[0]
    assert low < middle < high


def test_lives_are_those_of_the_fit_to_censored_data() -> None:
    found = weibull([(ENDED, SURVIVED)], 0.9)
    assert found is not None
    data = stats.CensoredData(uncensored=ENDED, right=SURVIVED)
    shape, _, scale = stats.weibull_min.fit(data, 1.5, floc=0.0, scale=1000.0)
    assert (found.shape, found.scales[0][0]) == pytest.approx((shape, scale), rel=1e-3)


def test_the_ends_of_lives_lie_on_the_profile() -> None:
    found = weibull([(ENDED, SURVIVED)], 0.9)
    assert found is not None
    drop = 0.5 * stats.f.ppf(0.9, 1, len(ENDED) - 1)

    def best(shape: float | None, scale: float | None) -> float:
        data = stats.CensoredData(uncensored=ENDED, right=SURVIVED)
        fixed = {"fc": shape} if shape is not None else {"fscale": scale}
        c, loc, s = stats.weibull_min.fit(data, 1.5, floc=0.0, scale=1000.0, **fixed)
        there = stats.weibull_min(c, loc, s)
        return float(np.sum(there.logpdf(ENDED)) + np.sum(there.logsf(SURVIVED)))

    for end in (found.shape_low, found.shape_high):
        assert best(end, None) == pytest.approx(found.log_likelihood - drop, abs=2e-3)
    for end in found.scales[0][1:]:
        assert best(None, end) == pytest.approx(found.log_likelihood - drop, abs=2e-3)


def test_one_life_tells_no_shape() -> None:
    assert weibull([([100.0], [200.0] * 9)], 0.9) is None
    assert weibull([([100.0, 100.0], [])], 0.9) is None


def test_lives_do_not_hang_on_the_unit() -> None:
    hours, seconds = (
        weibull([(ENDED, SURVIVED)], 0.9),
        weibull([([3600.0 * t for t in ENDED], [3600.0 * t for t in SURVIVED])], 0.9),
    )
    assert hours is not None
    assert seconds is not None
    assert seconds.shape == pytest.approx(hours.shape, rel=1e-8)
    assert seconds.scales[0][2] == pytest.approx(3600.0 * hours.scales[0][2], rel=1e-6)


def test_groups_share_a_shape_and_are_told_apart_where_they_do_not() -> None:
    twice = weibull([(ENDED, SURVIVED), ([5.0 * t for t in ENDED], [5.0 * t for t in SURVIVED])], 0.9)
    once = weibull([(ENDED, SURVIVED)], 0.9)
    assert twice is not None
    assert once is not None
    assert twice.shape == pytest.approx(once.shape, rel=1e-7)
    assert twice.scales[1][0] == pytest.approx(5.0 * twice.scales[0][0], rel=1e-7)
    assert twice.shape_high - twice.shape_low < once.shape_high - once.shape_low
    assert twice.common_by_chance == pytest.approx(1.0)
    apart = weibull([(ENDED, []), ([1000.0 + 0.01 * t for t in ENDED], [])], 0.9)
    assert apart is not None
    assert apart.common_by_chance is not None
    assert apart.common_by_chance < 1e-6


def test_several_values_together_are_those_of_plain_least_squares() -> None:
    rng = np.random.default_rng(3)
    names = [f"s{place // 4}" for place in range(40)]
    x = np.tile([0.0, 1.0, 2.0, 3.0], 10)
    y = 1.0 + 0.5 * x + np.repeat(rng.normal(0.0, 0.2, 10), 4) + rng.normal(0.0, 0.02, 40)
    joint = estimates.fit_together(
        lambda v, places: y[places] - v[0] - v[1] * x[places], [0.0, 0.0], ([-9.0, -9.0], [9.0, 9.0]), names
    )
    slope, start = np.polyfit(x, y, 1)
    assert joint.values == pytest.approx((start, slope), abs=0.05)
    assert joint.freedom == 8
    means = [y[4 * g : 4 * g + 4].mean() - 0.5 * 1.5 for g in range(10)]
    assert joint.errors[0] == pytest.approx(float(stats.sem(means)), rel=0.35)  # the specimens, not the forty readings
    assert joint.errors[1] < 0.2 * joint.errors[0]


REPETITIONS = 60


@pytest.mark.parametrize("kind", MADE)
def test_intervals_hold_the_truth_as_often_as_promised(kind: str) -> None:
    """Of 60 repetitions so few are binomial at 0.9 that only one run in a thousand has them; the whole measures 500."""
    least = int(stats.binom.ppf(1e-3, REPETITIONS, 0.9))
    counts: dict[str, int] = {}
    for seed in range(REPETITIONS):
        for name, holds in held(kind, 10_000 + seed).items():
            counts[name] = counts.get(name, 0) + holds
    assert counts
    for name, count in counts.items():
        assert count >= least, name


def test_the_error_of_a_middle_is_that_of_simulation() -> None:
    rng = np.random.default_rng(11)
    middles = [middle_of(rng.normal(0.0, 1.0, 12).tolist(), 0.9) for _ in range(300)]
    spread = float(np.std([item.middle for item in middles if item is not None]))
    assert spread == pytest.approx(1.0 / sqrt(12.0), rel=0.15)
    assert estimates.FEW < 12
