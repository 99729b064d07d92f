"""Wear estimates: Archard's scaling, the order of the range, allowances, and verdicts against a target."""

from __future__ import annotations

import math
from typing import Any

import pytest
from glandwise.case.lip_fit import interference_at
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from tests.questions.plain import Plain, run
from tests.questions.support import (
    assert_finite,
    call,
    case_of,
    energized,
    fixed,
    flexible,
    keeps_schema,
    merged,
    post,
    q,
    random_request,
    rules,
    si,
)

seeds = st.integers(min_value=0, max_value=10**9)
HOUR = 3600.0
EVENLY = {"ambient_temperature": q(25.0, "degC")}
DESIGNS = [flexible(), flexible(lip_tip="upturned_with_garter"), energized(), energized(energizer="canted_coil")]
each_design = pytest.mark.parametrize("request_", DESIGNS, ids=["flexible", "garter", "cantilever_v", "canted_coil"])


def laws(examples: int) -> settings:
    """Settings of a law: the same examples on every run."""
    return settings(deadline=None, derandomize=True, database=None, max_examples=examples)


def slow(request: dict[str, Any], speed: float = 0.001, **duty: Any) -> dict[str, Any]:
    """So slow that frictional heat changes nothing, at the temperature of the surroundings."""
    cool = {"normal": q(25.0, "degC")}
    motion = {"kind": "surface", "surface_speed": q(speed, "m/s")}
    return {**merged(request, duty={"motion": motion, "temperature": cool, **duty}), "surroundings": EVENLY}


def with_rate(request: dict[str, Any], low: float, nominal: float, high: float) -> dict[str, Any]:
    ends = zip(("low", "nominal", "high"), (low, nominal, high), strict=True)
    rate = {end: q(value, "mm3/N/m") for end, value in ends}
    return merged(request, design={"compound_properties": {"specific_wear_rate": rate}})


def life(answer: dict[str, Any]) -> list[float]:
    return [si(answer["life"][name], "time") for name in ("short", "nominal", "long")]


@laws(100)
@given(seed=seeds)
def test_any_wear_is_answered_as_a_range_in_order(seed: int) -> None:
    request = {**random_request(seed, wild=seed % 5 == 4), "target_life": q(1000.0, "h")}
    answer = call("estimate_wear", request)
    assert_finite(answer)
    keeps_schema("estimate_wear", answer)
    rates = [si(answer[f"specific_wear_rate_{end}"], "specific_wear_rate") for end in ("low", "nominal", "high")]
    assert 0.0 < rates[0] <= rates[1] <= rates[2]
    if answer["wear_per_1000_h"] is None:
        assert answer["verdict"] == "not_evaluated"
        return
    worn = {end: si(quantity, "length") for end, quantity in answer["wear_per_1000_h"].items()}
    assert 0.0 <= worn["low"] <= worn["nominal"] <= worn["high"]
    lasting = [answer["life"][name] for name in ("short", "nominal", "long")]
    if None in lasting:
        assert lasting == [None, None, None]
        assert answer["verdict"] in {"pass", "not_evaluated"}
        still = si(answer["sliding_distance_per_1000_h"], "length") == 0.0
        assert (answer["verdict"] == "pass") == (still and worn["high"] == 0.0 and "slides" in answer["summary"])
        return
    short, nominal, long = life(answer)
    assert 0.0 < short <= nominal <= long
    target = 1000.0 * HOUR
    assert answer["verdict"] == ("pass" if short >= target else "caution" if nominal >= target else "fail")


@each_design
def test_wear_is_archards(request_: dict[str, Any]) -> None:
    """Depth rate = K p v, from the printed numbers."""
    answer = post("estimate_wear", slow(request_, 0.2))
    pressure = si(answer["mean_contact_pressure"], "stress")
    for end in ("low", "nominal", "high"):
        k = si(answer[f"specific_wear_rate_{end}"], "specific_wear_rate")
        depth = k * pressure * 0.2 * 1000.0 * HOUR
        assert answer["wear_per_1000_h"][end]["value"] == pytest.approx(depth * 1e3, rel=1e-7)
    assert si(answer["sliding_distance_per_1000_h"], "length") == pytest.approx(0.2 * 3.6e6, rel=1e-9)


@each_design
def test_wear_scales_with_its_rate_and_the_way(request_: dict[str, Any]) -> None:
    once = post("estimate_wear", with_rate(slow(request_), 1e-6, 2e-6, 6e-6))
    twice = post("estimate_wear", with_rate(slow(request_), 2e-6, 4e-6, 12e-6))
    faster = post("estimate_wear", with_rate(slow(request_, 0.003), 1e-6, 2e-6, 6e-6))
    for end in ("low", "nominal", "high"):
        base = once["wear_per_1000_h"][end]["value"]
        assert twice["wear_per_1000_h"][end]["value"] == pytest.approx(2.0 * base, rel=1e-9)
        # threefold speed: as much more way, the load but for a trace of heat the same
        assert faster["wear_per_1000_h"][end]["value"] == pytest.approx(3.0 * base, rel=1e-3)
    for a, b in zip(life(once), life(twice), strict=True):
        assert b == pytest.approx(0.5 * a, rel=1e-9)
    assert once["specific_wear_rate_nominal"]["value"] == pytest.approx(2e-6, rel=1e-9)


@each_design
def test_pressure_presses_the_lip_on_but_spreads_its_contact(request_: dict[str, Any]) -> None:
    """Load grows with pressure; mean pressure, and with it the wear, need not: the lip lies down."""
    answers = [post("estimate_wear", fixed(slow(request_, pressure=q(kpa, "kPa")))) for kpa in (0.0, 100.0, 300.0)]
    design = fixed(slow(request_, pressure=q(300.0, "kPa")))["design"]
    levels = [
        post("estimate_friction", {**slow({**request_, "design": design}, pressure=q(kpa, "kPa"))})["levels"][1]
        for kpa in (0.0, 100.0, 300.0)
    ]
    loads = [si(level["load"]["total"], "line_load") for level in levels]
    widths = [si(level["lips"][0]["contact_width"], "length") for level in levels]
    assert loads[0] < loads[1] < loads[2]
    assert widths == sorted(widths)
    assert all(answer["wear_per_1000_h"]["nominal"]["value"] > 0.0 for answer in answers)


@each_design
def test_life_is_that_of_a_lip_that_loses_its_load(request_: dict[str, Any]) -> None:
    """The closed form against stepping through the wear."""
    request = with_rate(slow(request_, 0.01), 1e-6, 1e-6, 1e-6)
    answer = post("estimate_wear", request)
    case = case_of(request)
    day = rules().data.running.nominal_time.si
    temperature = si(answer["contact_temperature"], "temperature")
    plain = Plain(case)
    own = plain.shape.stiffness * plain.modulus(temperature) * plain.relaxed_share(temperature, day)
    stiffness = (own + plain.spring(case.temperature).stiffness) * plain.load_factor
    level = post("estimate_friction", request)["levels"][1]
    width, speed, k = si(level["lips"][0]["contact_width"], "length"), 0.01, 1e-15
    load = si(answer["mean_contact_pressure"], "stress") * width
    allowance = si(answer["wear_allowance"], "length")

    def worn_out(_: float, depth: Any) -> float:
        return float(depth[0] - allowance)

    worn_out.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(
        lambda _, depth: [k * (load - stiffness * depth[0]) / width * speed], (0.0, 1e12), [0.0],
        events=worn_out, rtol=1e-9, atol=1e-15,
    )  # fmt: skip
    assert life(answer)[1] == pytest.approx(found.t_events[0][0], rel=1e-5)


@each_design
def test_a_steady_load_would_wear_it_out_sooner(request_: dict[str, Any]) -> None:
    answer = post("estimate_wear", slow(request_, 0.05))
    steady = (
        si(answer["wear_allowance"], "length") / (answer["wear_per_1000_h"]["nominal"]["value"] * 1e-3) * 1000.0 * HOUR
    )
    assert life(answer)[1] >= steady


def test_a_shaft_material_multiplies_the_rate() -> None:
    base = post("estimate_wear", slow(flexible()))["specific_wear_rate_nominal"]["value"]
    for name, material in rules().data.shaft_materials.items():
        answer = post("estimate_wear", slow(flexible(), shaft={"material": name}))
        assert answer["specific_wear_rate_nominal"]["value"] == pytest.approx(base * material.wear_factor.si, rel=1e-8)


def test_unfilled_ptfe_wears_much_faster_dry_than_filled() -> None:
    dry = [
        post("estimate_wear", slow(flexible(compound=name), lubrication="dry"))["specific_wear_rate_nominal"]["value"]
        for name in ("ptfe_unfilled", "ptfe_carbon_graphite_25")
    ]
    assert dry[0] > 10.0 * dry[1]


def test_the_allowance_is_the_least_of_what_can_be_given() -> None:
    rule = rules().data.running.wear
    scant = {"interference": q(0.2, "mm")}
    case = case_of(slow(flexible(**scant)))
    answer = post("estimate_wear", slow(flexible(**scant)))
    by_lip = rule.lip_allowance_share.si * case.lip_thickness
    warm = run(interference_at, Plain(case).row, Plain(case).rules, case.temperature)
    by_fit = rule.interference_allowance_share.si * warm
    assert si(answer["wear_allowance"], "length") == pytest.approx(min(by_lip, by_fit), rel=1e-9)
    assert answer["allowance_by"] == "the interference of the lip"
    ringed = post("estimate_wear", slow(flexible(lip_tip="upturned_with_garter", **scant)))
    assert ringed["wear_allowance"] == answer["wear_allowance"]
    thin = post("estimate_wear", slow(flexible(lip_thickness=q(0.3, "mm"))))
    assert thin["allowance_by"] == "the thickness of the lip"
    assert si(thin["wear_allowance"], "length") == pytest.approx(rule.lip_allowance_share.si * 0.3e-3, rel=1e-9)
    sprung = post("estimate_wear", slow(energized()))
    travel = rule.energizer_allowance_share.si * case_of(energized()).deflection
    assert si(sprung["wear_allowance"], "length") == pytest.approx(travel, rel=1e-9)
    assert sprung["allowance_by"] == "the travel of the energizer"
    stated = post("estimate_wear", {**slow(flexible()), "wear_allowance": q(0.05, "mm")})
    assert si(stated["wear_allowance"], "length") == pytest.approx(5e-5)
    assert stated["allowance_by"] == "the request"


def test_verdict_against_a_target_is_by_the_range() -> None:
    request = slow(flexible(), 0.5)
    short, nominal, long = life(post("estimate_wear", request))
    assert short < nominal < long
    for seconds, verdict in ((0.9 * short, "pass"), (1.1 * short, "caution"), (0.9 * nominal, "caution"),
                             (1.1 * nominal, "fail"), (1.1 * long, "fail")):  # fmt: skip
        assert post("estimate_wear", {**request, "target_life": q(seconds, "s")})["verdict"] == verdict
    assert post("estimate_wear", request)["verdict"] == "not_evaluated"


def test_nothing_that_slides_wears_nothing() -> None:
    answer = post("estimate_wear", {**slow(flexible(), 0.0), "target_life": q(1e5, "h")})
    assert answer["verdict"] == "pass"
    assert answer["wear_per_1000_h"] == dict.fromkeys(("low", "nominal", "high"), q(0.0, "mm"))
    assert [answer["life"][end] for end in ("short", "nominal", "long")] == [None] * 3
    assert "slides" in answer["summary"]


def test_a_lip_lifted_by_vacuum_is_no_long_lived_one() -> None:
    request = {**slow(flexible(interference=q(0.02, "mm")), pressure=q(-90.0, "kPa")), "target_life": q(1.0, "h")}
    answer = post("estimate_wear", request)
    assert si(answer["mean_contact_pressure"], "stress") == 0.0
    assert answer["verdict"] == "not_evaluated"
    assert "does not seal" in answer["summary"]


def test_a_load_gone_before_the_allowance_is_no_endless_life() -> None:
    request = {**slow(flexible()), "wear_allowance": q(1.0, "mm"), "target_life": q(1.0, "h")}
    answer = post("estimate_wear", request)
    assert answer["verdict"] == "not_evaluated"
    assert "the load ends its life" in answer["summary"]
    assert [answer["life"][end] for end in ("short", "nominal", "long")] == [None] * 3


LONGEST = 100.0 * 365.25 * 24.0
"""Hours up to which lives are estimated."""


@pytest.mark.parametrize("speed", [1e-4, 1e-30, 1e-300])
def test_a_life_longer_than_any_that_is_known_is_told_as_that_or_more(speed: float) -> None:
    """And never as one that ends with the load, however slowly it wears."""
    answer = post("estimate_wear", {**slow(flexible(), speed), "working": True})
    assert [answer["life"][end]["value"] for end in ("short", "nominal", "long", "longest")] == [LONGEST] * 4
    assert answer["summary"] == "More than 876,600 h of running to the allowance set by the thickness of the lip."
    told = [step for step in answer["working"] if "t_told" in step["symbol"]]
    assert [step["value"] for step in told] == [LONGEST * 3600.0] * 3


def test_an_end_of_a_life_beyond_what_is_known_is_told_as_more() -> None:
    answer = post("estimate_wear", slow(flexible(), 0.05))
    short, nominal, long = (answer["life"][end]["value"] for end in ("short", "nominal", "long"))
    assert short < nominal < long == LONGEST
    assert answer["summary"].endswith(" to more than 876,600 h.")


@pytest.mark.parametrize(("target", "verdict"), [(1e5, "pass"), (LONGEST, "pass"), (1e6, "caution")])
def test_a_wanted_life_beyond_what_is_known_does_not_simply_pass(target: float, verdict: str) -> None:
    answer = post("estimate_wear", {**slow(flexible(), 1e-4), "target_life": q(target, "h")})
    assert answer["verdict"] == verdict
    assert ("beyond what is estimated" in answer["summary"]) == (verdict == "caution")


def test_lives_of_a_selection_an_enquiry_and_a_spectrum_are_bounded_alike() -> None:
    request = slow(flexible(), 1e-30)
    ranked = post("select_design", {"duty": request["duty"]})["ranked"]
    assert ranked
    assert all(entry["life"] is None or entry["life"]["value"] <= LONGEST for entry in ranked)
    assert max(entry["life"]["value"] for entry in ranked if entry["life"] is not None) == LONGEST
    enquiry = post("answer_enquiry", request)
    assert enquiry["wear"]["life"]["long"]["value"] == LONGEST
    assert "Life more than 876,600 h of running." in enquiry["summary"]
    spectrum = post(
        "assess_spectrum", {**request, "phases": [{"share": q(0.5, "1"), "starts_per_hour": 1}], "working": True}
    )
    assert [spectrum["life"][end]["value"] for end in ("short", "nominal", "long")] == [LONGEST] * 3
    assert spectrum["cycles"]["starts_in_life"] == pytest.approx(0.5 * LONGEST)
    assert spectrum["life_reason"].startswith("More than 876,600 h of calendar time")


def test_without_a_balance_of_heat_wear_is_not_told() -> None:
    motion = {"kind": "surface", "surface_speed": q(400.0, "m/s")}
    request = merged(
        flexible(compound="ptfe_unfilled"), duty={"motion": motion, "lubrication": "dry", "pressure": q(30.0, "MPa")}
    )
    answer = post("estimate_wear", {**request, "target_life": q(1.0, "h")})
    assert answer["verdict"] == "not_evaluated"
    assert answer["life"] is answer["wear_per_1000_h"] is answer["mean_contact_pressure"] is None
    assert answer["specific_wear_rate_nominal"] is not None


def test_oscillation_wears_by_its_mean_speed() -> None:
    half, frequency = math.radians(30.0), 0.05
    swinging = {"kind": "oscillation", "half_amplitude": q(30.0, "deg"), "frequency": q(frequency, "Hz")}
    mean = 2.0 * half * 0.05 * frequency
    answer = post("estimate_wear", slow(flexible(), motion=swinging))
    assert si(answer["sliding_distance_per_1000_h"], "length") == pytest.approx(mean * 3.6e6, rel=1e-9)
    turning = post("estimate_wear", slow(flexible(), mean))
    assert si(answer["wear_per_1000_h"]["nominal"], "length") == pytest.approx(
        si(turning["wear_per_1000_h"]["nominal"], "length"), rel=1e-9
    )


def test_units_change_no_verdict_and_no_number() -> None:
    for request in DESIGNS:
        asked = {**slow(request, 0.1), "target_life": q(5000.0, "h")}
        here, there = (post("estimate_wear", {**asked, "units": {"system": system}}) for system in ("si", "us"))
        assert here["verdict"] == there["verdict"]
        assert si(here["wear_per_1000_h"]["high"], "length") == pytest.approx(
            si(there["wear_per_1000_h"]["high"], "length"), rel=1e-8
        )
        for a, b in zip(life(here), life(there), strict=True):
            assert a == pytest.approx(b, rel=1e-8)
