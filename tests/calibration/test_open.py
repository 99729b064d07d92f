"""Open figures: repeated pin-on-disc runs that were published with loads, volumes and rates, through the calibration.

"Integrated numerical and experimental investigation of tribological performance of PTFE based composite material", Obrabotka
Metallov (Metal Working and Material Science) 27 (2025) no. 2, table 5 (open access; the page of the table was read, that of the
materials was not). Pins of three filled PTFEs on a disc of austenitic steel, 5 km each; runs 15 to 20 repeat one another.
"""

from __future__ import annotations

from math import exp, log

import numpy as np
import pytest
from glandwise.review.calibration.found import Value
from scipy import stats

from tests.calibration.believed import ASKED_BAYES
from tests.calibration.simulated import ASKED, COMPOUND, fitted, found, table

DISTANCE = 5000.0
LOADS = [55.0, 155.0, 55.0, 155.0, 55.0, 155.0, 55.0, 155.0, 15.0, 200.0, *[115.0] * 10]
"""Normal loads of the runs [N]: volume over rate and distance of the first and third material, to a part in a thousand."""
VOLUMES = {
    "first": [
        13.0605, 85.0757, 24.7405, 155.9154, 16.3985, 101.9721, 26.6520, 185.1592, 2.2919, 216.3670, 35.4290, 107.6915, 55.6731,
        82.5310, 70.8319, 72.9259, 68.1916, 71.8334, 70.3767, 78.7527,
    ],
    "third": [
        10.0141, 53.2009, 20.3713, 109.5102, 12.2503, 64.0694, 24.6040, 123.9012, 2.2741, 128.4902, 25.7003, 78.6877, 43.8375,
        59.2238, 50.6657, 50.0740, 48.0710, 50.2105, 52.1680, 49.4367,
    ],
}  # fmt: skip
"""Printed volumes worn [mm3]; those of the second material do not go with its printed rates, and are left out."""
RATES = {
    "first": [
        4.749e-5, 1.098e-4, 8.997e-5, 2.012e-4, 5.963e-5, 1.316e-4, 9.692e-5, 2.389e-4, 3.056e-5, 2.164e-4, 6.162e-5, 1.873e-4,
        9.682e-5, 1.435e-4, 1.232e-4, 1.268e-4, 1.186e-4, 1.249e-4, 1.224e-4, 1.370e-4,
    ],
    "third": [
        3.641e-5, 6.865e-5, 7.408e-5, 1.413e-4, 4.455e-5, 8.267e-5, 8.947e-5, 1.599e-4, 3.032e-5, 1.285e-4, 4.470e-5, 1.368e-4,
        7.624e-5, 1.030e-4, 8.811e-5, 8.709e-5, 8.360e-5, 8.732e-5, 9.073e-5, 8.598e-5,
    ],
}  # fmt: skip
"""Printed specific wear rates [mm3/N/m]."""
AREA = 50.0
"""Of the pin [mm2], any: a rate does not hang on it."""
REPEATED = range(14, 20)


def worn(material: str, runs: range, *, bayes: bool = False) -> Value:
    """Find the rate of some runs on their own counterface and at their own temperature."""
    rows = [
        (
            f"run {run + 1}",
            COMPOUND,
            "dry",
            "steel_hardened",
            DISTANCE,
            LOADS[run] / AREA,
            VOLUMES[material][run] / AREA * 1e3,
        )
        for run in runs
    ]
    heading = "specimen,compound,medium,shaft_material,sliding_distance [m],contact_pressure [MPa],depth [um]"
    (value,) = fitted("wear", table(heading, rows), ASKED_BAYES if bayes else ASKED)
    return value


@pytest.mark.parametrize("material", VOLUMES)
def test_each_run_has_the_rate_that_is_printed(material: str) -> None:
    value = worn(material, range(20))
    for point, printed in zip(value.points, RATES[material], strict=True):
        assert point.seen == pytest.approx(printed, rel=1.5e-3)  # the rates are printed to four digits, loads to three


@pytest.mark.parametrize("material", VOLUMES)
def test_repeated_runs_give_their_mean_and_students_interval(material: str) -> None:
    value = worn(material, REPEATED)
    logs = np.log(RATES[material][14:])
    low, high = stats.t.interval(0.9, 5, loc=logs.mean(), scale=stats.sem(logs))
    assert found(value).value == pytest.approx(exp(logs.mean()), rel=0.03)  # robust: one of the first lies off
    assert found(value).low == pytest.approx(exp(low), rel=0.03)
    assert found(value).high == pytest.approx(exp(high), rel=0.03)
    assert not value.lack_of_fit


@pytest.mark.parametrize("material", VOLUMES)
def test_rates_that_rise_with_the_load_are_a_lack_of_fit(material: str) -> None:
    """The authors fit powers of load to these runs; the calibration says that Archard's law does not have them."""
    value = worn(material, range(20))
    assert any("contact pressure" in said for said in value.lack_of_fit)


@pytest.mark.parametrize("material", VOLUMES)
def test_a_posterior_says_where_the_house_does_not_believe_them(material: str) -> None:
    """Hot, on austenitic steel and short, they wear far more than the rules have on hardened steel at room temperature."""
    value = worn(material, REPEATED, bayes=True)
    assert any("outside" in said for said in value.lack_of_fit)
    assert found(value).value == pytest.approx(found(worn(material, REPEATED)).value, rel=0.1)


def test_repeated_runs_scatter_less_than_the_house_believes_of_specimens() -> None:
    """One batch on one rig, within days: less than the least that is believed of specimens over batches and years."""
    scatters = [worn(material, REPEATED).scatter for material in VOLUMES]
    assert all(scatter is not None and 0.02 < scatter < 0.12 for scatter in scatters)
    assert log(max(VOLUMES["first"][14:]) / min(VOLUMES["first"][14:])) < 0.2
