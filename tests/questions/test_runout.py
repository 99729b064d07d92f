"""Laws of runout allowances: the curve, its limits, and what offset, time and temperature take away."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from glandwise.case.intake import Case
from glandwise.case.lip_fit import interference_at
from glandwise.case.ratings import numbers_of
from glandwise.case.rows import row_of
from glandwise.mechanics import following as mechanics
from glandwise.mechanics.choices import LipRoot
from glandwise.mechanics.viscoelastic import shift_factor
from glandwise.physics.following import ends
from glandwise.physics.lip import touching
from glandwise.questions.runout.found import Subject
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from tests.laws import laws
from tests.questions.plain import Plain, run
from tests.questions.support import (
    assert_finite,
    call,
    case_of,
    energized,
    fixed,
    flexible,
    merged,
    post,
    q,
    random_request,
    si,
)

seeds = st.integers(min_value=0, max_value=10**9)
DESIGNS = [
    flexible(),
    flexible(lip_tip="upturned_with_garter"),
    flexible(reinforcing_band=True),
    energized(),
    energized(energizer="canted_coil", lip_form="scraper"),
]
NAMES = ["plain", "garter", "band", "cantilever_v", "canted_coil"]
each_design = pytest.mark.parametrize("request_", DESIGNS, ids=NAMES)


def tir(answer: dict[str, Any], field: str = "allowed_runout") -> float:
    return si(answer["at_duty"][field], "length")


def allowance(case: Case, speed: float, offset: float = math.nan, time: float | None = None) -> Any:
    """What machine code finds at a rotational speed with an offset, NaN for none, after a time under load."""
    rows, compounds = row_of(case)
    time = case.data.sizing.following.service_time.si if time is None else time
    return Subject(case.data, rows, compounds, time).at([speed], offset)[0]


def hotter(case: Case, kelvin: float) -> Case:
    """The same case with another highest temperature."""
    row, own = row_of(case)
    row["temperature_max"] += kelvin
    return Case(case.data, row, case.assumed, None if own is None else case.compound)


def rated_speed(case: Case) -> float:
    """The speed that the rules rate the design for [m/s]."""
    rated = numbers_of(case.data).rated(int(case.row["rating"][0]))["surface_speed"]
    assert rated.limit is not None
    assert rated.limit.limit is not None
    return math.prod([rated.limit.limit.si, *(entry.factor.si for entry in rated.factors if entry.factor is not None)])


def modelled(case: Case) -> bool:
    """Whether the energizer lies within the range of its model."""
    return bool(np.isfinite(allowance(case, 0.0)["spring_load"]))


def at_speed(request: dict[str, Any], metres_per_second: float) -> dict[str, Any]:
    return merged(request, duty={"motion": {"kind": "surface", "surface_speed": q(metres_per_second, "m/s")}})


@each_design
def test_the_curve_is_what_each_of_its_speeds_gives_alone(request_: dict[str, Any]) -> None:
    speeds = [0.0, 3.0, 40.0, 700.0, 2500.0, 9000.0]
    curve = post("allow_runout", {**request_, "rotational_speeds": [q(n, "rpm") for n in speeds]})["curve"]
    assert len(curve) == len(speeds)
    for n, point in zip(speeds, curve, strict=True):
        motion = {"kind": "rotation", "rotational_speed": q(n, "rpm")}
        alone = post("allow_runout", merged(request_, duty={"motion": motion}))["at_duty"]
        assert alone["governs"] == point["governs"]
        for name in ("allowed_runout", "followed_runout", "rated_runout", "allowed_with_offset"):
            assert si(point[name], "length") == pytest.approx(si(alone[name], "length"), rel=1e-8, abs=1e-13)
        assert si(point["surface_speed"], "surface_speed") == pytest.approx(math.pi * 0.05 * n / 60.0, rel=1e-9)


@each_design
def test_the_usual_curve_runs_from_rest_to_the_rated_speed(request_: dict[str, Any]) -> None:
    curve = post("allow_runout", request_)["curve"]
    speeds = [si(point["surface_speed"], "surface_speed") for point in curve]
    case = case_of(request_)
    assert len(curve) == 25
    assert speeds[0] == 0.0
    assert speeds[-1] == pytest.approx(rated_speed(case), rel=1e-9)
    fast = post("allow_runout", at_speed(request_, 60.0))["curve"]
    assert si(fast[-1]["surface_speed"], "surface_speed") == pytest.approx(60.0, rel=1e-9)


@laws(80)
@given(seed=seeds)
def test_runout_never_rises_with_speed_and_the_lesser_limit_governs(seed: int) -> None:
    request = random_request(seed, wild=seed % 5 == 4)
    try:
        answer = call("allow_runout", request)
    except ValidationError:
        return  # a spring beyond its model, see the envelope
    assert_finite(answer)
    points = answer["curve"]
    for a, b in itertools.pairwise(points):
        for name in ("allowed_runout", "followed_runout", "rated_runout"):
            # the start of the model's search grid stands for all below it to 1e-7
            assert b[name]["value"] <= a[name]["value"] * (1.0 + 2e-7)
    for point in (*points, answer["at_duty"]):
        allowed, followed, rated = (
            point[name]["value"] for name in ("allowed_runout", "followed_runout", "rated_runout")
        )
        assert allowed == min(followed, rated)
        assert (point["governs"] == "rated_cap") == (rated < followed)
        assert point["governs"] in {"rated_cap", "recovery", "inertia"}
        if point["allowed_with_offset"] is not None:
            assert 0.0 <= point["allowed_with_offset"]["value"] <= allowed


@laws(60)
@given(seed=seeds)
def test_time_heat_and_offset_only_take_away(seed: int) -> None:
    case = case_of(random_request(seed))
    if not modelled(case):
        return
    n = case.rotational_speed
    base = allowance(case, n)
    for time in (1e3, 1e6, 1e9) if case.energizer is None else ():  # a softer lip resists its spring less
        later, sooner = (allowance(case, n, time=t)["followed"] for t in (10.0 * time, time))
        assert later <= sooner * (1.0 + 1e-12)
    for offset in (1e-5, 1e-4, 5e-4):
        shifted, further = (allowance(case, n, a)["tir"] for a in (offset, 1.5 * offset))
        assert further <= shifted <= base["tir"]
    warm = allowance(hotter(case, 40.0), n)
    # between the ends of temperature may lie a dip of a few hundredths
    assert warm["followed"] <= base["followed"] * 1.04


def test_at_rest_a_bare_lip_follows_what_it_has_left_over_its_relaxed_stiffness() -> None:
    """By hand: load E k' δ/2 kept over stiffness E k' share that never relaxes; the shape and E cancel."""
    request = merged(at_speed(flexible(), 0.0), duty={"temperature": {"normal": q(20.0, "degC")}})
    request["service_time"] = q(1000.0, "h")
    answer = post("allow_runout", request)
    case = case_of(request)
    left_over = 1.0 - sum(case.compound.relaxation.ratios)
    expected = 2.0 * 0.5 * case.interference * answer["relaxed_share"] / left_over
    assert tir(answer, "followed_runout") == pytest.approx(expected, rel=1e-6)
    # and an offset takes twice itself, for the relaxed stiffness bears both
    shifted = post("allow_runout", merged(request, duty={"offset": q(0.05, "mm")}))
    left = si(shifted["at_duty"]["allowed_with_offset"], "length")
    followed = allowance(case, 0.0, 0.05e-3, 3.6e6)["followed"]
    assert followed == pytest.approx(expected - 2.0 * 0.05e-3, rel=1e-6)
    assert left == pytest.approx(min(followed, tir(answer, "rated_runout")), rel=1e-6)


def test_interference_scales_what_a_bare_lip_follows() -> None:
    one, two = (tir(post("allow_runout", flexible(interference=q(mm, "mm"))), "followed_runout") for mm in (0.2, 0.4))
    # hot, both have lost the same to the heat, but for what the greater stretch takes
    assert two > 2.0 * one
    assert tir(post("allow_runout", flexible(interference=q(0.0, "mm")))) == 0.0


def test_pressure_is_not_relied_upon() -> None:
    for request in map(fixed, DESIGNS):
        pressed = merged(request, duty={"pressure": q(0.2, "MPa")})
        bare = merged(request, duty={"pressure": q(0.0, "MPa")})
        assert post("allow_runout", pressed)["at_duty"] == post("allow_runout", bare)["at_duty"]


@pytest.mark.parametrize(("runout", "verdict"), [(0.5, "pass"), (0.95, "caution"), (1.0, "caution"), (1.05, "fail")])
@each_design
def test_verdict_is_by_share_of_the_allowance_with_offset(
    request_: dict[str, Any], runout: float, verdict: str
) -> None:
    request_ = fixed(request_)
    allowed = tir(post("allow_runout", request_), "allowed_with_offset")
    answer = post("allow_runout", merged(request_, duty={"runout": q(runout * allowed, "m")}))
    assert answer["verdict"] == verdict
    assert answer["utilization"] == pytest.approx(runout, rel=1e-9)


def test_without_runout_there_is_no_verdict_and_without_allowance_none_passes() -> None:
    request = flexible()
    del request["duty"]["runout"]
    assert post("allow_runout", request)["verdict"] == "not_evaluated"
    lifted = merged(flexible(), duty={"offset": q(1.0, "mm")})
    answer = post("allow_runout", lifted)
    assert tir(answer, "allowed_with_offset") == 0.0
    assert answer["verdict"] == "fail"
    assert answer["utilization"] is None


def test_a_frozen_lip_still_has_numbers_down_to_absolute_zero() -> None:
    for celsius in (-150.0, -200.0, -260.0, -270.0, -273.0, -273.15):
        temperature = {"normal": q(20.0, "degC"), "minimum": q(celsius, "degC")}
        for request in DESIGNS:
            answer = post("allow_runout", merged(request, duty={"temperature": temperature}))
            assert_finite(answer)
            assert tir(answer, "followed_runout") > 0.0
    # colder than frozen is no stiffer: what relaxes not at all relaxes no less
    shares = [run(shift_factor, t, 296.15, 6e4) for t in (20.0, 4.0, 1.0, 0.0)]
    assert all(math.isfinite(share) for share in shares)
    assert shares == sorted(shares)


def test_a_coil_beyond_its_crest_is_not_taken_to_make_the_lip_supple() -> None:
    coil = {
        "wire_diameter": q(0.3, "mm"), "coil_height": q(3.1, "mm"), "coil_width": q(3.6, "mm"), "pitch": q(0.6, "mm"),
        "cant_angle": q(16.0, "deg"), "deflection": q(1.3, "mm"),
    }  # fmt: skip
    case = case_of(energized(energizer="canted_coil", canted_coil=coil))
    plain = Plain(case)
    assert plain.spring(case.temperature).stiffness < 0.0
    own = plain.shape.stiffness * plain.modulus(case.temperature_max)
    assert allowance(case, 0.0)["stiffness"] >= own * plain.compound.relaxation.equilibrium * (1.0 - 1e-9)


def test_the_limit_of_offset_is_where_the_runout_is_used_up() -> None:
    for request in DESIGNS:
        case = case_of(request)
        plain, time = Plain(case), case.data.sizing.following.service_time.si
        limit = run(mechanics.followed_offset, *run(ends, plain.row, plain.rules, plain.shape, time))
        assert allowance(case, 0.0, 0.999 * limit)["tir"] > 0.0
        assert allowance(case, 0.0, 1.001 * limit)["tir"] == 0.0


def test_the_allowance_is_that_of_the_mechanics_at_the_worse_end() -> None:
    """The check only prepares the numbers: the same by hand from the pieces."""
    case = case_of(at_speed(energized(), 1.0))
    plain, omega = Plain(case), 2.0 * math.pi * case.rotational_speed
    kept = plain.relaxed_share(case.temperature_max, 3.6e6)
    followed = []
    for temperature in (min(case.temperature_min, 293.15), case.temperature_max):
        spring, series = plain.spring(temperature), plain.compound.relaxation
        k = plain.shape.stiffness * plain.modulus(temperature)
        i = run(interference_at, plain.row, plain.rules, max(temperature, 293.15))
        parts = (i, plain.modulus(temperature) * kept, 0.0)
        bare, sprung = (
            run(touching, plain.row, plain.rules, temperature, *parts, load, LipRoot.elastic).load
            for load in (0.0, spring.line_load)
        )
        shift = run(shift_factor, temperature, series.reference_temperature, series.activation_energy)
        rest = k * series.equilibrium + spring.stiffness
        mass = plain.shape.mass + spring.mass
        held = mechanics.HeldLip(bare, sprung - bare, k, k * series.equilibrium, rest, shift, mass)
        followed.append(run(mechanics.allowed_eccentricity, held, omega, 0.0, series).tir)
    assert allowance(case, case.rotational_speed)["followed"] == pytest.approx(min(followed), rel=1e-12)
