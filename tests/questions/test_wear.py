"""Wear estimates: Archard's scaling, the order of the range, allowances, and verdicts against a target."""

from __future__ import annotations

import math
from typing import Any

import pytest
from glandwise.case.lip_fit import effective_length, interference_at
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from tests.laws import laws
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
    refused,
    rules,
    si,
)

seeds = st.integers(min_value=0, max_value=10**9)
HOUR = 3600.0
EVENLY = {"ambient_temperature": q(25.0, "degC")}
DESIGNS = [flexible(), flexible(lip_tip="upturned_with_garter"), energized(), energized(energizer="canted_coil")]
each_design = pytest.mark.parametrize("request_", DESIGNS, ids=["flexible", "garter", "cantilever_v", "canted_coil"])


def slow(request: dict[str, Any], speed: float = 0.001, **duty: Any) -> dict[str, Any]:
    """So slow that frictional heat changes nothing, at the temperature of the surroundings."""
    cool = {"normal": q(25.0, "degC")}
    motion = {"kind": "surface", "surface_speed": q(speed, "m/s")}
    return {**merged(request, duty={"motion": motion, "temperature": cool, **duty}), "surroundings": EVENLY}


def with_rate(request: dict[str, Any], low: float, nominal: float, high: float) -> dict[str, Any]:
    ends = zip(("low", "nominal", "high"), (low, nominal, high), strict=True)
    rate = {end: q(value, "mm3/N/m") for end, value in ends}
    return merged(request, design={"compound_properties": {"specific_wear_rate": rate}})


ENDS = ("short", "sure", "nominal", "long")


def life(answer: dict[str, Any]) -> list[float]:
    return [si(answer["life"][name], "time") for name in ENDS]


@laws(100)
@given(seed=seeds)
def test_any_wear_is_answered_as_a_range_in_order(seed: int) -> None:
    request = {**random_request(seed, wild=seed % 5 == 4), "target_life": q(1000.0, "h")}
    answer = call("estimate_wear", request)
    assert_finite(answer)
    keeps_schema("estimate_wear", answer)
    if answer["wear_per_1000_h"] is None:
        assert answer["verdict"] == "not_evaluated"
        assert answer["life_probability"] is None
        return
    rates = [si(answer[f"specific_wear_rate_{end}"], "specific_wear_rate") for end in ("low", "nominal", "high")]
    assert 0.0 < rates[0] <= rates[1] <= rates[2]
    assert 0.0 <= answer["film_share"] < 1.0
    worn = {end: si(quantity, "length") for end, quantity in answer["wear_per_1000_h"].items()}
    assert 0.0 <= worn["low"] <= worn["nominal"] <= worn["high"]
    probability, rule = answer["life_probability"], rules().data.running.wear
    if probability is None:
        assert "does not seal" in answer["summary"]
        return
    assert 0.0 <= probability <= 1.0
    lasting = [answer["life"][name] for name in ENDS]
    if None in lasting:
        assert lasting == [None] * 4
        assert probability == 1.0
    else:
        lives = life(answer)
        assert lives == sorted(lives)
    pressure = si(answer["mean_contact_pressure"], "stress")
    if probability < 0.9 * rule.probability_fail.si:
        assert answer["verdict"] == "fail"
    elif probability < 0.98 * rule.probability_caution.si:
        assert answer["verdict"] in {"caution", "fail"}
    elif probability > 1.02 * rule.probability_caution.si:
        assert answer["verdict"] == ("caution" if pressure > rule.known_pressure.si else "pass")


@each_design
def test_wear_is_archards(request_: dict[str, Any]) -> None:
    """Depth rate = K p v of what solid contact bears, from the printed numbers."""
    answer = post("estimate_wear", slow(request_, 0.2))
    pressure = si(answer["mean_contact_pressure"], "stress")
    for end in ("low", "nominal", "high"):
        k = si(answer[f"specific_wear_rate_{end}"], "specific_wear_rate") * (1.0 - answer["film_share"])
        depth = k * pressure * 0.2 * 1000.0 * HOUR
        assert answer["wear_per_1000_h"][end]["value"] == pytest.approx(depth * 1e3, rel=1e-7)
    assert si(answer["sliding_distance_per_1000_h"], "length") == pytest.approx(0.2 * 3.6e6, rel=1e-9)


@each_design
def test_a_life_goes_with_the_rate_that_was_measured(request_: dict[str, Any]) -> None:
    """So slow that relaxing is over and hardly anything is worn when the lip has run in."""
    once = post("estimate_wear", with_rate(slow(request_), 1e-7, 2e-7, 6e-7))
    twice = post("estimate_wear", with_rate(slow(request_), 2e-7, 4e-7, 12e-7))
    assert once["film_share"] == 0.0
    for end in ("low", "nominal", "high"):
        base = once["wear_per_1000_h"][end]["value"]
        assert twice["wear_per_1000_h"][end]["value"] == pytest.approx(2.0 * base, rel=1e-2)
    assert once["specific_wear_rate_nominal"]["value"] == pytest.approx(2e-7, rel=1e-9)
    assert all(b < a or a == b == LONGEST * HOUR for a, b in zip(life(once), life(twice), strict=True))


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
def test_life_is_that_of_a_lip_that_widens_and_loses_its_load(request_: dict[str, Any]) -> None:
    """The march of the formula against stepping through the wear, the lip relaxing meanwhile."""
    request = {**with_rate(slow(request_, 0.01), 1e-6, 1e-6, 1e-6), "wear_allowance": q(0.1, "mm")}
    answer = post("estimate_wear", request)
    case = case_of(request)
    rule, day = rules().data.running, rules().data.running.nominal_time.si
    levels = post("estimate_friction", {key: request[key] for key in ("duty", "design", "surroundings")})["levels"]
    load = {name: si(part, "line_load") for name, part in levels[1]["load"].items()}
    temperature = si(answer["contact_temperature"], "temperature")
    plain = Plain(case)
    left = plain.relaxed_share(temperature, day)
    own = plain.shape.stiffness * plain.modulus(temperature) * left * plain.load_factor
    spring = plain.spring(case.temperature).stiffness * plain.load_factor
    speed, k, pressure = 0.01, 1e-15, max(case.pressure, 0.0)
    thickness, ratio = case.lip_thickness, case.compound.poisson_ratio.si
    bending = plain.modulus(temperature) * left * thickness**3 / (12.0 * (1.0 - ratio**2))
    free = run(effective_length, plain.row, plain.rules)
    inside = max(run(interference_at, plain.row, plain.rules, temperature), 0.0)
    slope = max(math.tan(float(case.row["bore_angle"][0])) - 1.5 * inside / free, 1e-3)
    started = si(levels[1]["lips"][0]["contact_width"], "length")
    edge = max(si(levels[1]["load"]["total"], "line_load") - pressure * started, 0.0)

    def gained(h: float) -> float:
        """Width at which the lip behind its edge stands off by what is worn: its slope and its own bending."""
        return float(brentq(lambda w: slope * w + edge * w**3 / (6.0 * bending) - h, 0.0, 1.1 * h / slope))

    def total(t: float, h: float) -> float:
        share = plain.relaxed_share(temperature, day + t) / left
        return load["pressure"] + max(load["energizer"] - spring * h, 0.0) + share * max(load["lip"] - own * h, 0.0)

    def rate(t: float, depth: Any) -> list[float]:
        h = float(depth[0])
        width, q_all = started + gained(h), total(t, h)
        return [k * speed * max(q_all - 0.5 * pressure * width, rule.wear.solid_load_floor.si * q_all) / width]

    def worn_out(_: float, depth: Any) -> float:
        return float(depth[0] - 1e-4)

    def lost(t: float, depth: Any) -> float:
        return total(t, float(depth[0])) - rule.wear.lost_load_share.si * total(0.0, 0.0)

    worn_out.terminal = lost.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(rate, (0.0, 1e12), [0.0], events=(worn_out, lost), rtol=1e-9, atol=1e-15, method="LSODA")
    ended = min(float(times[0]) for times in found.t_events if len(times))
    assert si(answer["life"]["nominal"], "time") == pytest.approx(ended, rel=2e-3)


@pytest.mark.parametrize("request_", [flexible(), energized()], ids=["flexible", "energized"])
def test_thicker_fluids_and_slower_shafts_make_lips_last_longer(request_: dict[str, Any]) -> None:
    """By time; the fluids are oils from thin to thick at one temperature."""

    def lasting(**duty: Any) -> float:
        return si(post("estimate_wear", slow(request_, **duty))["life"]["nominal"], "time")

    by_speed = [
        lasting(speed=speed, fluid="mineral_oil_gear", lubrication="flooded") for speed in (3.0, 1.0, 0.3, 0.1, 0.03)
    ]
    assert by_speed == sorted(by_speed)
    supplied = [
        lasting(speed=0.3, fluid="mineral_oil_gear", lubrication=how)
        for how in ("dry", "starved", "mist", "grease", "flooded")
    ]
    assert supplied == sorted(supplied)
    # a starved shaft is hotter, and a hot lip presses less: that gives some of it back
    assert supplied[-1] > 1.2 * supplied[1] > 1.3 * supplied[0]


def test_a_shaft_material_multiplies_the_rate() -> None:
    request = slow(flexible(), 1e-6, shaft={})
    base = post("estimate_wear", request)["specific_wear_rate_nominal"]["value"]
    for name, material in rules().data.shaft_materials.items():
        answer = post("estimate_wear", slow(flexible(), 1e-6, shaft={"material": name}))
        assert answer["specific_wear_rate_nominal"]["value"] == pytest.approx(base * material.wear_factor.si, rel=1e-6)


def test_heat_finish_solids_and_a_dry_gas_make_lips_wear_faster() -> None:
    def rate(**duty: Any) -> float:
        answer = post(
            "estimate_wear", slow(flexible(compound="ptfe_carbon_graphite_25"), 1e-6, **{"shaft": {}, **duty})
        )
        return si(answer["specific_wear_rate_nominal"], "specific_wear_rate")

    wear = rules().data.running.wear
    rough = {"roughness": q(0.56, "um")}
    assert rate(shaft=rough) == pytest.approx(
        rate() * (0.56e-6 / wear.finish_roughness.si) ** wear.finish_exponent.si, rel=1e-6
    )
    smooth = {"roughness": q(0.05, "um")}
    assert rate(shaft=smooth) == rate()
    assert rate(fluid="slurry_mineral") == pytest.approx(rate(fluid="water") * wear.solids.slurry.si, rel=1e-6)
    assert rate(fluid="nitrogen", lubrication=None) == pytest.approx(
        rate(fluid="air", lubrication=None) * wear.dry_inert.carbon_or_graphite.si, rel=1e-6
    )
    # a crawl, so that no film tells one liquid from another
    plain = {"temperature": {"normal": q(20.0, "degC")}}
    for fluid, like, factor in (
        ("diesel_fuel", "mineral_oil_hydraulic", wear.fluids.fuel), ("toluene", "water", wear.fluids.solvent),
        ("sodium_hydroxide", "water", wear.fluids.crystals),
    ):  # fmt: skip
        assert rate(fluid=fluid, **plain) == pytest.approx(rate(fluid=like, **plain) * factor.si, rel=1e-6)
        assert rate(fluid=fluid, lubrication="dry", **plain) == pytest.approx(rate(fluid="air", **plain), rel=1e-6)
    hot = {"normal": q(100.0, "degC")}
    assert rate(fluid="air", lubrication=None, temperature=hot) > 1.1 * rate(fluid="air", lubrication=None)


def rate_at(speed: float, compound: str, **duty: Any) -> float:
    answer = post("estimate_wear", slow(flexible(compound=compound), speed, **duty))
    return si(answer["specific_wear_rate_nominal"], "specific_wear_rate")


def test_unfilled_ptfe_wears_much_faster_dry_than_filled_but_at_a_crawl() -> None:
    """Blanchet and Kennedy, Wear 153 (1992) 229, from memory: 1e-6 to 1e-5 mm3/Nm below about 0.01 m/s, 5e-4 to 1e-3 above."""
    fast = [rate_at(0.03, name, lubrication="dry") for name in ("ptfe_unfilled", "ptfe_carbon_graphite_25")]
    assert fast[0] > 10.0 * fast[1]
    crawl = rate_at(0.001, "ptfe_unfilled", lubrication="dry")
    assert 1e-15 < crawl < 2e-14  # 1/Pa; a lip is a little warmer than the pins of the tests
    assert rate_at(0.001, "ptfe_unfilled", fluid="water") == pytest.approx(
        rate_at(0.03, "ptfe_unfilled", fluid="water"), rel=0.05
    )


def test_a_rate_that_was_measured_knows_no_crawl() -> None:
    request = with_rate(flexible(compound="ptfe_unfilled"), 1e-4, 2e-4, 4e-4)
    answer = post("estimate_wear", slow(request, 0.001, lubrication="dry"))
    assert answer["specific_wear_rate_nominal"] == q(2e-4, "mm3/N/m")


def test_the_allowance_is_the_least_of_what_can_be_given() -> None:
    rule = rules().data.running.wear
    thin = post("estimate_wear", slow(flexible(lip_thickness=q(0.3, "mm"))))
    assert si(thin["wear_allowance"], "length") == pytest.approx(rule.lip_allowance_share.si * 0.3e-3, rel=1e-9)
    sprung = post("estimate_wear", slow(energized()))
    case = case_of(energized())
    travel = min(rule.energizer_allowance_share.si * case.deflection, rule.lip_allowance_share.si * case.lip_thickness)
    assert si(sprung["wear_allowance"], "length") == pytest.approx(travel, rel=1e-9)
    stated = post("estimate_wear", {**slow(flexible(), 0.1), "wear_allowance": q(0.01, "mm")})
    assert si(stated["wear_allowance"], "length") == pytest.approx(1e-5)
    assert stated["allowance_by"] == "the thickness of the lip that may wear"


def test_a_verdict_is_by_the_probability_of_the_target() -> None:
    request = slow(flexible(), 5.0)
    free = post("estimate_wear", request)
    short, sure, nominal, long = life(free)
    assert short < sure < nominal < long
    for seconds, verdict, probability in (
        (0.9 * short, "pass", 0.95), (sure, "pass", 0.8), (0.9 * nominal, "pass", 0.5), (1.1 * nominal, "caution", 0.5),
        (0.9 * long, "caution", 0.05), (1.1 * long, "fail", 0.05),
    ):  # fmt: skip
        answer = post("estimate_wear", {**request, "target_life": q(seconds, "s")})
        assert answer["verdict"] == verdict, seconds
        assert answer["life_probability"] == pytest.approx(probability, abs=0.04)
        assert answer["target_stated"]
    assert not free["target_stated"]
    assert si(free["target_life"], "time") == rules().data.running.wear.targets.not_stated.si


def test_a_life_that_nobody_asked_for_never_fails() -> None:
    request = slow(flexible(compound="ptfe_unfilled"), 5.0, lubrication="dry", application="heavy_slow_shaft")
    answer = post("estimate_wear", request)
    assert answer["life_probability"] < 0.05
    assert answer["verdict"] == "caution"
    assert si(answer["target_life"], "time") == rules().data.running.wear.targets.heavy_slow_shaft.si
    told = post("check_envelope", {key: request[key] for key in ("duty", "design")})
    (criterion,) = (item for item in told["criteria"] if item["id"] == "life")
    assert criterion["status"] == "caution"
    asked = merged({key: request[key] for key in ("duty", "design")}, duty={"target_life": q(40000.0, "h")})
    (criterion,) = (item for item in post("check_envelope", asked)["criteria"] if item["id"] == "life")
    assert criterion["status"] == "fail"


def test_a_life_is_wanted_once() -> None:
    request = {**slow(flexible(), 0.5, target_life=q(100.0, "h")), "target_life": q(100.0, "h")}
    problem = refused("estimate_wear", request)
    assert "stated twice" in str(problem)


def test_a_life_is_said_as_no_promise() -> None:
    answer = post("estimate_wear", slow(flexible(), 0.5))
    assert "nine in ten between" in answer["summary"]
    assert "Not a promise" in answer["summary"]
    assert "four in five reach" in answer["summary"]


def test_nothing_that_slides_wears_nothing() -> None:
    answer = post("estimate_wear", {**slow(flexible(), 0.0), "target_life": q(1e5, "h")})
    assert answer["verdict"] == "pass"
    assert answer["wear_per_1000_h"] == dict.fromkeys(("low", "nominal", "high"), q(0.0, "mm"))
    assert [answer["life"][end] for end in ENDS] == [None] * 4
    assert "slides" in answer["summary"]


def test_a_lip_lifted_by_vacuum_is_no_long_lived_one() -> None:
    request = {**slow(flexible(interference=q(0.02, "mm")), pressure=q(-90.0, "kPa")), "target_life": q(1.0, "h")}
    answer = post("estimate_wear", request)
    assert answer["verdict"] == "not_evaluated"
    assert answer["life_probability"] is None
    assert "does not seal" in answer["summary"]


def test_a_load_gone_before_the_allowance_ends_the_life() -> None:
    request = {**slow(flexible(), 0.1, lubrication="dry", pressure=q(0.0, "bar")), "wear_allowance": q(1.0, "mm")}
    answer = post("estimate_wear", request)
    assert answer["allowance_by"] == "the load, of which too little is left"
    assert (
        si(answer["to_half_load"], "time") < si(answer["to_lost_load"], "time") == si(answer["life"]["nominal"], "time")
    )


LONGEST = 100.0 * 365.25 * 24.0
"""Hours up to which lives are estimated."""


@pytest.mark.parametrize("speed", [1e-9, 1e-30, 1e-300])
def test_a_life_longer_than_any_that_is_known_is_told_as_that_or_more(speed: float) -> None:
    """And never as one that ends with the load, however slowly it wears."""
    answer = post("estimate_wear", slow(flexible(), speed))
    assert {answer["life"][end] and answer["life"][end]["value"] for end in (*ENDS, "longest")} <= {LONGEST, None}
    assert answer["summary"].startswith("Wear does not govern: more than 880,000 h of running.")


def test_an_end_of_a_life_beyond_what_is_known_is_told_as_more() -> None:
    request = {
        **slow(flexible(), 0.02, lubrication="flooded", fluid="mineral_oil_gear"),
        "wear_allowance": q(0.05, "mm"),
    }
    answer = post("estimate_wear", request)
    short, nominal, long = (answer["life"][end]["value"] for end in ("short", "nominal", "long"))
    assert short < nominal < long == LONGEST
    assert " and more than 880,000 h;" in answer["summary"]


@pytest.mark.parametrize(("target", "verdict"), [(1e5, "pass"), (LONGEST, "pass"), (1e6, "caution")])
def test_a_wanted_life_beyond_what_is_known_does_not_simply_pass(target: float, verdict: str) -> None:
    answer = post("estimate_wear", {**slow(flexible(), 1e-12), "target_life": q(target, "h")})
    assert answer["verdict"] == verdict
    assert ("beyond what is estimated" in answer["summary"]) == (verdict == "caution")


def test_lives_of_a_selection_an_enquiry_and_a_spectrum_are_bounded_alike() -> None:
    request = slow(flexible(), 1e-12)
    ranked = post("select_design", {"duty": request["duty"]})["ranked"]
    assert ranked
    assert all(entry["life"] is None or entry["life"]["value"] <= LONGEST for entry in ranked)
    enquiry = post("answer_enquiry", request)
    assert "more than 880,000 h of running." in enquiry["summary"]
    spectrum = post(
        "assess_spectrum", {**request, "phases": [{"share": q(0.5, "1"), "starts_per_hour": 1}], "working": True}
    )
    assert {spectrum["life"][end] and spectrum["life"][end]["value"] for end in ENDS} <= {LONGEST, None}
    assert "more than 880,000 h of calendar time" in spectrum["life_reason"]


def test_without_a_balance_of_heat_wear_is_not_told() -> None:
    motion = {"kind": "surface", "surface_speed": q(400.0, "m/s")}
    request = merged(
        flexible(compound="ptfe_unfilled"), duty={"motion": motion, "lubrication": "dry", "pressure": q(30.0, "MPa")}
    )
    answer = post("estimate_wear", {**request, "target_life": q(1.0, "h")})
    assert answer["verdict"] == "not_evaluated"
    assert answer["life"] is answer["wear_per_1000_h"] is answer["mean_contact_pressure"] is None
    assert answer["life_probability"] is answer["specific_wear_rate_nominal"] is None


def test_oscillation_wears_by_its_mean_speed() -> None:
    half, frequency = math.radians(30.0), 0.05
    swinging = {"kind": "oscillation", "half_amplitude": q(30.0, "deg"), "frequency": q(frequency, "Hz")}
    mean = 2.0 * half * 0.05 * frequency
    answer = post("estimate_wear", slow(flexible(), motion=swinging, lubrication="dry"))
    assert si(answer["sliding_distance_per_1000_h"], "length") == pytest.approx(mean * 3.6e6, rel=1e-9)
    turning = post("estimate_wear", slow(flexible(), mean, lubrication="dry"))
    assert si(answer["wear_per_1000_h"]["nominal"], "length") == pytest.approx(
        si(turning["wear_per_1000_h"]["nominal"], "length"), rel=1e-9
    )
    # at each reversal nothing is carried by a film
    wet = slow(flexible(), motion=swinging, fluid="mineral_oil_gear", lubrication="flooded")
    assert post("estimate_wear", wet)["film_share"] <= 1.0 - rules().data.running.lubrication.reversal_floor.si + 1e-9


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
