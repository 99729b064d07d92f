"""What the trade holds to be so (common practice, no source), as capacities and as inequalities between options."""

from __future__ import annotations

import itertools
import math
from typing import Any

import pytest

from tests.questions.support import call, case_of, criteria, energized, flexible, merged, post, q, si

PSI = 6894.757293168
FPM = 0.00508


def capacity(request: dict[str, Any], criterion: str, dimension: str) -> float:
    """Capacity of a criterion over HTTP, in SI."""
    return si(criteria(post("check_envelope", request))[criterion]["capacity"], dimension)


@pytest.mark.parametrize(
    ("request_", "criterion", "psi"),
    [
        (flexible(), "pressure", 50.0),
        (flexible(reinforcing_band=True), "pressure", 150.0),
        (energized(), "pressure", 3000.0),
        (energized(heel="extended"), "pressure", 10_000.0),
    ],
    ids=["flexible lip", "reinforcing band", "energized lip", "extended heel"],
)
def test_rated_pressure_holds_up_to_its_maximum_and_not_beyond(
    request_: dict[str, Any], criterion: str, psi: float
) -> None:
    assert capacity(request_, criterion, "gauge_pressure") == pytest.approx(psi * PSI, rel=1e-9)
    at, beyond = (
        criteria(post("check_envelope", merged(request_, duty={"pressure": q(value, "psi")})))[criterion]
        for value in (psi, 1.01 * psi)
    )
    assert at["status"] == "caution"
    assert at["utilization"] == pytest.approx(1.0)
    assert beyond["status"] == "fail"
    if request_["design"]["family"] == "flexible_lip":
        assert at["evidence"] == "common_practice"
        assert at["sources"] == ["common-practice"]
    else:  # up to which temperature the rating holds, and with which strength it falls beyond, is estimated
        assert at["evidence"] == "house_estimate"
        assert at["sources"] == ["common-practice", "house-estimate"]


@pytest.mark.parametrize("unit, per_psi", [("psi", 1.0), ("bar", 0.06894757293168), ("kPa", 6.894757293168)])
def test_a_pressure_at_its_limit_is_at_it_in_any_unit(unit: str, per_psi: float) -> None:
    for request, psi in ((flexible(), 50.0), (flexible(reinforcing_band=True), 150.0), (energized(), 3000.0)):
        answer = criteria(post("check_envelope", merged(request, duty={"pressure": q(psi * per_psi, unit)})))
        assert answer["pressure"]["status"] == "caution"


@pytest.mark.parametrize(
    ("request_", "feet_per_minute"),
    [(flexible(), 5000.0), (energized(retention="o_ring"), 1000.0)],
    ids=["flexible lip", "energized lip"],
)
def test_rated_surface_speed(request_: dict[str, Any], feet_per_minute: float) -> None:
    assert capacity(request_, "surface_speed", "surface_speed") == pytest.approx(feet_per_minute * FPM, rel=1e-9)
    for factor, status in ((1.0, "caution"), (1.01, "fail")):
        motion = {"kind": "surface", "surface_speed": q(factor * feet_per_minute, "ft/min")}
        found = criteria(post("check_envelope", merged(request_, duty={"motion": motion})))["surface_speed"]
        assert found["status"] == status


def test_clamped_flange_raises_speed_a_little() -> None:
    loose = capacity(energized(retention="o_ring"), "surface_speed", "surface_speed")
    clamped = capacity(energized(retention="clamped_flange"), "surface_speed", "surface_speed")
    assert 1.0 < clamped / loose <= 1.5


def test_garter_takes_runout_up_to_twenty_thousandths_depending_on_speed() -> None:
    # a shaft large enough that the rated cap, not the mechanics, decides
    request = merged(flexible(lip_tip="upturned_with_garter"), duty={"shaft_diameter": q(250.0, "mm")})
    inch = 0.0254
    allowed = []
    for speed in (0.0, 200.0, 500.0, 1000.0, 2000.0, 3500.0, 5000.0):
        motion = {"kind": "surface", "surface_speed": q(speed, "ft/min")}
        answer = post("allow_runout", merged(request, duty={"motion": motion, "offset": q(0.0, "mm")}))
        allowed.append(si(answer["at_duty"]["allowed_runout"], "length"))
        assert si(answer["at_duty"]["rated_runout"], "length") <= 0.020 * inch * (1 + 1e-9)
    assert allowed[0] == pytest.approx(0.020 * inch, rel=1e-9)
    assert allowed == sorted(allowed, reverse=True)
    assert allowed[-1] < 0.5 * allowed[0]


@pytest.mark.parametrize("diameter", [10.0, 25.0, 50.0, 100.0, 250.0])
def test_garter_buys_runout(diameter: float) -> None:
    followed = []
    for tip in ("plain", "upturned_with_garter"):
        request = merged(flexible(lip_tip=tip), duty={"shaft_diameter": q(diameter, "mm")})
        point = post("allow_runout", request)["at_duty"]
        followed.append((si(point["followed_runout"], "length"), si(point["rated_runout"], "length")))
    plain, garter = followed
    assert garter[0] > plain[0]
    assert garter[1] > plain[1]


@pytest.mark.parametrize("diameter", [10.0, 18.0, 25.0, 50.0, 75.0, 100.0, 200.0, 350.0, 500.0])
def test_canted_coil_loads_the_lip_less_than_cantilever_v_at_default_sizing(diameter: float) -> None:
    loads = {}
    for energizer in ("cantilever_v", "canted_coil"):
        request = merged(energized(energizer=energizer), duty={"shaft_diameter": q(diameter, "mm")})
        level = post("estimate_friction", request)["levels"][1]
        loads[energizer] = si(level["load"]["energizer"], "line_load"), si(level["torque"], "torque")
    assert 0.0 < loads["canted_coil"][0] < loads["cantilever_v"][0]
    assert loads["canted_coil"][1] < loads["cantilever_v"][1]


@pytest.mark.parametrize("energizer", ["cantilever_v", "canted_coil"])
@pytest.mark.parametrize("pressure", [0.0, 5.0])
def test_tapered_lip_rubs_less_than_a_plain_one(energizer: str, pressure: float) -> None:
    plain, tapered = (
        post(
            "estimate_friction",
            merged(energized(energizer=energizer, lip_form=form), duty={"pressure": q(pressure, "MPa")}),
        )["levels"]
        for form in ("plain", "tapered")
    )
    for a, b in zip(plain, tapered, strict=True):
        assert si(b["torque"], "torque") < si(a["torque"], "torque")


def test_scraper_and_excluder_keep_dirt_out_and_a_plain_lip_does_not() -> None:
    for request, fine in (
        (energized(lip_form="scraper"), True),
        (energized(lip_form="plain"), False),
        (flexible(second_lip="excluder"), True),
        (flexible(second_lip="redundant"), False),
    ):
        dirty = merged(request, duty={"contaminants": "dusty"})
        assert (criteria(post("check_envelope", dirty))["contaminants"]["status"] == "pass") == fine


def test_unfilled_ptfe_serves_from_425_below_to_450_above() -> None:
    # clamped, so that no O-ring decides; a nickel alloy stands the cold
    request = flexible(compound="ptfe_unfilled")
    for low, high, cold, hot in (
        (-425.0, 450.0, True, True),
        (-430.0, 450.0, False, True),
        (-425.0, 455.0, True, False),
    ):
        temperature = {"minimum": q(low, "degF"), "normal": q(70.0, "degF"), "maximum": q(high, "degF")}
        found = criteria(post("check_envelope", merged(request, duty={"temperature": temperature})))
        assert (found["temperature_low"]["status"] != "fail") == cold
        assert (found["temperature_high"]["status"] != "fail") == hot
        assert found["temperature_low"]["evidence"] == "common_practice"


def test_ptfe_without_an_energizer_relaxes() -> None:
    def share(hours: float, celsius: float) -> float:
        temperature = {"normal": q(celsius, "degC")}
        request = merged(flexible(compound="ptfe_unfilled"), duty={"temperature": temperature})
        return float(post("allow_runout", {**request, "service_time": q(hours, "h")})["relaxed_share"])

    by_time = [share(hours, 23.0) for hours in (0.01, 1.0, 100.0, 10_000.0)]
    by_temperature = [share(100.0, celsius) for celsius in (-40.0, 23.0, 80.0, 150.0)]
    for shares in (by_time, by_temperature):
        assert all(0.0 < value < 1.0 for value in shares)
        assert all(later < earlier for earlier, later in itertools.pairwise(shares))


def test_an_energizer_gives_back_what_ptfe_loses() -> None:
    """The share of the lip load left after long service is larger with an energizer."""

    def kept(request: dict[str, Any]) -> float:
        levels = call("estimate_friction", request)["levels"]
        fresh, relaxed = levels[2]["load"], levels[0]["load"]
        return si(relaxed["total"], "line_load") / si(fresh["total"], "line_load")

    still = {"motion": {"kind": "surface", "surface_speed": q(0.0, "m/s")}, "pressure": q(0.0, "Pa")}
    bare = kept(merged(flexible(), duty=still))
    for energizer in ("cantilever_v", "canted_coil"):
        assert kept(merged(energized(energizer=energizer), duty=still)) > bare


@pytest.mark.parametrize("make", [flexible, lambda: flexible(reinforcing_band=True), energized])
def test_pressure_and_speed_maxima_do_not_hold_together(make: Any) -> None:
    request = make()
    start = criteria(post("check_envelope", request))
    # lubricated, so that the rated maxima are what is tested
    request["duty"]["lubrication"] = "flooded"
    fast = {"kind": "surface", "surface_speed": start["surface_speed"]["capacity"]}
    high = start["pressure"]["capacity"]
    by_speed = criteria(post("check_envelope", merged(request, duty={"motion": fast, "pressure": q(0.0, "Pa")})))
    slow = {"kind": "surface", "surface_speed": q(0.0, "m/s")}
    by_pressure = criteria(post("check_envelope", merged(request, duty={"motion": slow, "pressure": high})))
    both = post("check_envelope", merged(request, duty={"motion": fast, "pressure": high}))
    together = criteria(both)
    assert by_speed["surface_speed"]["status"] == together["surface_speed"]["status"] == "caution"
    assert by_pressure["pressure"]["status"] == together["pressure"]["status"] == "caution"
    assert by_speed["pressure_velocity"]["status"] == by_pressure["pressure_velocity"]["status"] == "pass"
    assert together["pressure_velocity"]["status"] == "fail"
    assert "do not hold together" in together["pressure_velocity"]["reason"]
    assert both["verdict"] == "fail"


def test_redundant_lip_holds_more_vacuum_and_costs_friction() -> None:
    held = [capacity(flexible(second_lip=lip), "vacuum", "gauge_pressure") for lip in ("excluder", "redundant")]
    assert held[1] > held[0]
    torque = [
        si(post("estimate_friction", flexible(second_lip=lip))["levels"][1]["torque"], "torque")
        for lip in ("none", "excluder", "redundant")
    ]
    assert torque[0] < torque[1] < torque[2]


def test_default_sizes_grow_with_the_shaft_and_suit_their_models() -> None:
    for make in (flexible, energized):
        for energizer in ({}, {"energizer": "canted_coil"}) if make is energized else ({},):
            before: dict[str, float] = {}
            for diameter in (10.0, 25.0, 60.0, 150.0, 500.0):
                case = case_of(merged(make(**energizer), duty={"shaft_diameter": q(diameter, "mm")}))
                sizes = {
                    "lip_thickness": case.lip_thickness, "lip_length": case.lip_length,
                    "interference": case.interference, "contact_width": case.contact_width,
                }  # fmt: skip
                assert all(math.isfinite(value) and value >= before.get(name, 0.0) for name, value in sizes.items())
                assert case.contact_width < case.lip_length
                before = sizes
