"""Energizer loads over HTTP: against hand formulas, at the ends of tolerances, and beyond the models."""

from __future__ import annotations

import itertools
import math
import time
from typing import Any

import numpy as np
import pytest
from glandwise.mechanics import beams, rods, springs
from hypothesis import given
from hypothesis import strategies as st

from tests.laws import laws
from tests.questions.support import (
    assert_finite,
    call,
    keeps_schema,
    merged,
    post,
    q,
    random_energizer,
    refused,
    rules,
    si,
)

MM = 1e-3
seeds = st.integers(min_value=0, max_value=10**9)


def length(nominal: float, tolerance: float = 0.0) -> dict[str, Any]:
    return {"nominal": q(nominal, "mm"), "plus": q(tolerance, "mm"), "minus": q(tolerance, "mm")}


def by(deflection: float, tolerance: float = 0.0) -> dict[str, Any]:
    return {"kind": "deflection", "deflection": length(deflection, tolerance)}


def asked(energizer: dict[str, Any], **more: Any) -> dict[str, Any]:
    usual = {"contact_diameter": q(50.0, "mm"), "temperature": q(25.0, "degC"), "sampling": {"samples": 500}}
    return {"energizer": energizer, **usual, **more}


STEEL = {"elastic_modulus": q(200.0, "GPa"), "poisson_ratio": q(0.3, "1"), "yield_strength": q(1500.0, "MPa")}
STRIP = {
    "kind": "cantilever_v", "strip_thickness": length(0.1), "finger_length": length(2.4), "root_angle": q(20.0, "deg"),
    "coverage": q(0.8, "1"), "compression": by(0.2), **STEEL,
}  # fmt: skip
COIL = {
    "kind": "canted_coil", "wire_diameter": length(0.3), "coil_height": length(3.1), "coil_width": length(3.6),
    "pitch": length(0.54), "cant_angle": q(35.0, "deg"), "compression": by(0.75), **STEEL,
}  # fmt: skip
GARTER = {
    "kind": "garter", "wire_diameter": length(0.3), "mean_coil_diameter": length(1.5), "active_coils": q(520.0, "1"),
    "free_length": q(160.0, "mm"), "initial_tension": q(0.5, "N"), "ring_diameter": length(53.0), **STEEL,
}  # fmt: skip
RING = {
    "kind": "o_ring", "section": length(2.6), "inside_diameter": q(45.0, "mm"), "gland_height": length(2.1),
    "elastic_modulus": q(8.0, "MPa"),
}  # fmt: skip
KINDS = [STRIP, COIL, GARTER, RING]
each_kind = pytest.mark.parametrize("energizer", KINDS, ids=[str(kind["kind"]) for kind in KINDS])


def nominal_load(energizer: dict[str, Any], **more: Any) -> float:
    return si(post("estimate_energizer_load", asked(energizer, **more))["load"]["nominal"], "line_load")


def sensitivity(energizer: dict[str, Any], name: str) -> float:
    rows = post("estimate_energizer_load", asked(energizer))["sensitivities"]
    return float(next(row["exponent"] for row in rows if row["input"] == name))


# ----------------------------------------------------------------------------------------------- against formulas


def test_cantilever_v_at_small_deflection_is_two_fingers_in_series() -> None:
    """q = c · 3 E I/L³ · Δ/2 · 1/cos² of the root angle: force and travel lie across the finger, the gland upright."""
    E, t, L, c, psi = 200e9, 0.1 * MM, 2.4 * MM, 0.8, math.radians(20.0)
    travel = 0.002
    strip = {**STRIP, "compression": by(travel)}
    expected = c * 3.0 * E * t**3 / 12.0 / L**3 * 0.5 * travel * MM / math.cos(psi) ** 2
    assert nominal_load(strip) == pytest.approx(expected, rel=5e-3)


@pytest.mark.parametrize("deflection", [0.05, 0.2, 0.6, 1.2])
def test_cantilever_v_is_that_of_the_mechanics(deflection: float) -> None:
    answer = post("estimate_energizer_load", asked({**STRIP, "compression": by(deflection)}))
    v = beams.cantilever_v(deflection * MM, 0.1 * MM, 2.4 * MM, math.radians(20.0), 0.8, 200e9, 1500e6)
    assert si(answer["load"]["nominal"], "line_load") == pytest.approx(v.line_load, rel=1e-9)
    assert si(answer["stiffness"], "line_stiffness") == pytest.approx(v.loading_stiffness, rel=1e-9)
    assert si(answer["stress"], "stress") == pytest.approx(v.root_stress, rel=1e-9)
    assert si(answer["total_load"], "force") == pytest.approx(v.line_load * math.pi * 0.05, rel=1e-9)


def test_wide_fingers_are_plates() -> None:
    narrow, wide = (nominal_load({**STRIP, "plate_blend": q(blend, "1")}) for blend in (0.0, 1.0))
    assert wide / narrow == pytest.approx(1.0 / (1.0 - 0.3**2), rel=1e-6)


def test_canted_coil_is_that_of_the_mechanics_and_near_its_small_deflection_rate() -> None:
    a, b, p, d, beta = 1.65 * MM, 1.4 * MM, 0.54 * MM, 0.3 * MM, math.radians(35.0)
    shear, nu = 200e9 / 2.6, 0.3
    # loads per contact length: the row of turns lies on a larger circle than the contact
    circle = (50.0 + 3.1) / 50.0
    for travel in (0.2, 0.75, 1.3):
        found = nominal_load({**COIL, "compression": by(travel)})
        expected = rods.canted_coil_load(travel * MM, p, 2.0 * a + d, 2.0 * b + d, beta, d, 200e9, nu, circle).line_load
        assert found == pytest.approx(expected, rel=1e-9)
    rate = rods.canted_coil_rate(p, a, b, beta, d, 200e9, shear)
    small = nominal_load({**COIL, "compression": by(0.004)})
    assert small == pytest.approx(rate * 0.004 * MM / p * circle, rel=0.02)


def test_garter_pulls_by_its_tension_over_the_radius() -> None:
    """T = F + k Δ with k = G d⁴/(8 D³ N) and Δ = π D_ring - L₀; q = T/r of the contact."""
    shear = 200e9 / 2.6
    rate = shear * (0.3 * MM) ** 4 / (8.0 * (1.5 * MM) ** 3 * 520.0)
    tension = 0.5 + rate * (math.pi * 53.0 - 160.0) * MM
    answer = post("estimate_energizer_load", asked(GARTER))
    assert si(answer["load"]["nominal"], "line_load") == pytest.approx(tension / 0.025, rel=1e-9)
    assert si(answer["total_load"], "force") == pytest.approx(2.0 * math.pi * tension, rel=1e-9)
    stress = 8.0 * tension * 1.5 * MM / (math.pi * (0.3 * MM) ** 3) * springs.en13906_factor(5.0)
    assert si(answer["stress"], "stress") == pytest.approx(stress, rel=1e-9)
    # held against shear yield by von Mises
    assert si(answer["stress_limit"], "stress") == pytest.approx(1500e6 / math.sqrt(3.0), rel=1e-3)


def test_a_garter_that_is_not_stretched_gives_nothing() -> None:
    loose = post("estimate_energizer_load", asked({**GARTER, "free_length": q(170.0, "mm")}))
    assert si(loose["load"]["nominal"], "line_load") == 0.0
    assert loose["verdict"] == "fail"
    assert "slack" in loose["summary"]
    barely = post(
        "estimate_energizer_load", asked({**GARTER, "ring_diameter": length(51.0, 0.1), "initial_tension": q(0.0, "N")})
    )
    assert barely["verdict"] == "caution"
    assert "slack at an extreme" in barely["summary"]


def test_o_ring_follows_lindley() -> None:
    """F/(π D d E) = 1.25 C^1.5 + 50 C^6, per length of the contact."""
    squeeze = (2.6 - 2.1) / 2.6
    per_ring = 2.6 * MM * 8e6 * (1.25 * squeeze**1.5 + 50.0 * squeeze**6)
    answer = post("estimate_energizer_load", asked(RING))
    assert si(answer["load"]["nominal"], "line_load") == pytest.approx(per_ring * 47.6 / 50.0, rel=1e-9)
    assert answer["squeeze"] == pytest.approx(squeeze, rel=1e-9)
    assert answer["stress"] is None
    assert answer["working_range"] is None


def test_hardness_stands_for_the_modulus_by_gent() -> None:
    soft = {key: value for key, value in RING.items() if key != "elastic_modulus"}
    for hardness in (50.0, 70.0, 90.0):
        found = nominal_load({**soft, "hardness": q(hardness, "ShoreA")})
        stated = nominal_load({**RING, "elastic_modulus": q(float(springs.gent_modulus(hardness)), "Pa")})
        assert found == pytest.approx(stated, rel=1e-9)


@each_kind
def test_load_of_a_metal_follows_its_modulus_and_that_its_temperature(energizer: dict[str, Any]) -> None:
    stiff = {
        **energizer,
        "elastic_modulus": q(2.0 * energizer["elastic_modulus"]["value"], energizer["elastic_modulus"]["unit"]),
    }
    ratio = nominal_load(stiff) / nominal_load(energizer)
    # the initial tension of a garter has nothing to do with the modulus
    assert (1.0 < ratio < 2.0) if energizer is GARTER else (ratio == pytest.approx(2.0, rel=1e-9))
    if energizer is RING:
        return
    alloy = {key: value for key, value in energizer.items() if key not in STEEL}
    cold, hot = (
        nominal_load({**alloy, "alloy": "S31600"}, temperature=q(celsius, "degC")) for celsius in (25.0, 250.0)
    )
    record = rules().data.alloys["S31600"].elastic_modulus
    falls = np.interp([523.15, 298.15], record.si_x, record.si_y)
    fall = falls[0] / falls[1]
    assert hot / cold == pytest.approx(fall, rel=1e-9) if energizer is not GARTER else fall < hot / cold < 1.0


# -------------------------------------------------------------------------------------------------- sensitivities


def test_strip_thickness_enters_cubed_and_length_to_the_inverse_third_power() -> None:
    small = {
        **STRIP,
        "compression": by(0.005),
        "strip_thickness": length(0.1, 0.002),
        "finger_length": length(2.4, 0.02),
    }
    assert sensitivity(small, "strip_thickness") == pytest.approx(3.0, abs=0.01)
    assert sensitivity(small, "finger_length") == pytest.approx(-3.0, abs=0.02)
    assert sensitivity(small, "elastic_modulus") == pytest.approx(1.0, abs=1e-6)


def test_wire_diameter_enters_to_the_fourth_power() -> None:
    # within given overall sizes a thicker wire also has a smaller centreline, which adds to the fourth power
    assert 4.0 < sensitivity({**COIL, "wire_diameter": length(0.3, 0.005)}, "wire_diameter") < 5.0

    def load(wire: float) -> float:
        # the centreline held
        sizes = {"coil_height": length(2.8 + wire), "coil_width": length(3.3 + wire)}
        return nominal_load({**COIL, "wire_diameter": length(wire), **sizes}) / (52.8 + wire)

    assert math.log(load(0.303) / load(0.297)) / math.log(0.303 / 0.297) == pytest.approx(4.0, abs=1e-3)


def test_sensitivities_fall_and_swing_follows_from_the_ends() -> None:
    strip = {**STRIP, "strip_thickness": length(0.1, 0.004), "finger_length": length(2.4, 0.05)}
    answer = post("estimate_energizer_load", asked(strip))
    rows = answer["sensitivities"]
    assert [row["input"] for row in rows] == ["strip_thickness", "finger_length", "elastic_modulus"]
    swings = [abs(row["swing"]) for row in rows]
    assert swings == sorted(swings, reverse=True)
    ends = [nominal_load({**STRIP, "strip_thickness": length(t)}) for t in (0.096, 0.104)]
    middle = si(answer["load"]["nominal"], "line_load")
    assert rows[0]["swing"] == pytest.approx((ends[1] - ends[0]) / middle, rel=1e-4)


# ----------------------------------------------------------------------------------------------------- tolerances


@laws(80)
@given(seed=seeds)
def test_any_energizer_is_answered_and_its_spread_in_order(seed: int) -> None:
    request = random_energizer(seed)
    answer = call("estimate_energizer_load", request)
    assert_finite(answer)
    keeps_schema("estimate_energizer_load", answer)
    spread = {name: value and value["value"] for name, value in answer["load"].items()}
    if spread["nominal"] is None:
        assert answer["verdict"] in {"not_evaluated", "fail"}
        assert answer["stiffness"] is answer["stress"] is answer["total_load"] is answer["utilization"] is None
        return
    low, high = spread["minimum"], spread["maximum"]
    if low is None or high is None:
        assert answer["verdict"] != "pass"
        return
    assert low <= spread["nominal"] <= high
    # a strip that yields has a flat crest, which a sample may meet between the corners
    yields = answer["utilization"] is not None and answer["utilization"] > 1.0
    slack = 1e-3 if yields else 1e-9
    if spread["percentile_5"] is not None:
        assert low * (1.0 - slack) <= spread["percentile_5"] <= spread["percentile_95"] <= high * (1.0 + slack)
    if request["energizer"]["kind"] == "cantilever_v":
        assert (answer["permanent_set"]["value"] > 0.0) == (answer["utilization"] > 1.0)
    if answer["working_range"] is not None:
        assert 0.0 <= answer["working_range"]["lower"]["value"] < answer["working_range"]["upper"]["value"]


@each_kind
def test_without_tolerances_there_is_no_spread(energizer: dict[str, Any]) -> None:
    answer = post("estimate_energizer_load", asked(energizer, modulus_scatter=q(0.0, "1")))
    values = [value["value"] for value in answer["load"].values()]
    assert max(values) == pytest.approx(min(values), rel=1e-12)
    assert answer["sensitivities"] == []


def tolerated(**sampling: Any) -> dict[str, Any]:
    strip = {**STRIP, "strip_thickness": length(0.1, 0.004), "compression": by(0.3, 0.05)}
    return post("estimate_energizer_load", asked(strip, sampling={"samples": 10_000, **sampling}))["load"]


def test_the_same_seed_gives_the_same_samples() -> None:
    assert tolerated(seed=5) == tolerated(seed=5)
    assert tolerated(seed=5) != tolerated(seed=6)
    a, b = (tolerated(seed=seed) for seed in (5, 6))
    for name in ("minimum", "nominal", "maximum"):
        assert a[name] == b[name]
    for name in ("percentile_5", "percentile_95"):
        assert a[name]["value"] == pytest.approx(b[name]["value"], rel=0.01)


def test_uniform_samples_spread_wider_than_normal_ones() -> None:
    normal, uniform = (tolerated(distribution=name) for name in ("normal", "uniform"))
    assert uniform["percentile_5"]["value"] < normal["percentile_5"]["value"]
    assert uniform["percentile_95"]["value"] > normal["percentile_95"]["value"]


def test_percentiles_of_one_uniform_input_are_known() -> None:
    """With the modulus alone scattered, the load is uniform: 5 % of its width lie below the fifth percentile."""
    answer = post(
        "estimate_energizer_load",
        asked(STRIP, modulus_scatter=q(0.1, "1"), sampling={"samples": 100_000, "distribution": "uniform"}),
    )
    middle = answer["load"]["nominal"]["value"]
    assert answer["load"]["minimum"]["value"] == pytest.approx(0.9 * middle, rel=1e-9)
    assert answer["load"]["percentile_5"]["value"] == pytest.approx(0.91 * middle, rel=1e-3)
    assert answer["load"]["percentile_95"]["value"] == pytest.approx(1.09 * middle, rel=1e-3)


def test_normal_samples_have_a_third_of_the_tolerance_as_deviation() -> None:
    answer = post(
        "estimate_energizer_load",
        asked(STRIP, modulus_scatter=q(0.15, "1"), sampling={"samples": 100_000, "distribution": "normal"}),
    )
    middle = answer["load"]["nominal"]["value"]
    for name, deviate in (("percentile_5", -1.6449), ("percentile_95", 1.6449)):
        assert answer["load"][name]["value"] == pytest.approx(middle * (1.0 + 0.05 * deviate), rel=2e-3)


def test_tolerance_may_lie_on_one_side_only() -> None:
    strip = {**STRIP, "strip_thickness": {"nominal": q(0.1, "mm"), "plus": q(0.01, "mm")}}
    load = post("estimate_energizer_load", asked(strip, modulus_scatter=q(0.0, "1")))["load"]
    assert load["minimum"] == load["nominal"]
    assert load["maximum"]["value"] > load["nominal"]["value"]


def test_a_crest_within_the_tolerances_is_met() -> None:
    """A coil near its greatest load loses on either side: the nominal load is then the greatest."""
    coil = {**COIL, "cant_angle": q(18.0, "deg"), "pitch": length(0.6), "compression": by(1.05, 0.4)}
    load = post("estimate_energizer_load", asked(coil, modulus_scatter=q(0.0, "1")))["load"]
    values = {name: value["value"] for name, value in load.items()}
    ends = [nominal_load({**coil, "compression": by(travel)}) for travel in (0.65, 1.45)]
    assert max(ends) / 1e3 < values["nominal"]
    assert values["minimum"] <= values["percentile_5"] <= values["percentile_95"]
    assert values["maximum"] == values["nominal"]


def test_ten_thousand_samples_take_no_time() -> None:
    """All in one array pass: far below what a loop over single loads would take."""
    coil = {**COIL, "wire_diameter": length(0.3, 0.008), "compression": by(0.75, 0.1)}
    request = asked(coil, sampling={"samples": 10_000})
    call("estimate_energizer_load", request)
    best = math.inf
    for _ in range(2):
        start = time.process_time()
        call("estimate_energizer_load", request)
        best = min(best, time.process_time() - start)
    assert best < 1.0


def test_gland_and_deflection_say_the_same() -> None:
    gland = {"kind": "gland", "free_height": length(1.9, 0.05), "gland_height": length(1.7, 0.03)}
    answer = post("estimate_energizer_load", asked({**STRIP, "compression": gland}, modulus_scatter=q(0.0, "1")))
    assert si(answer["deflection"], "length") == pytest.approx(0.2 * MM, rel=1e-9)
    least, middle, most = (nominal_load({**STRIP, "compression": by(travel)}) for travel in (0.12, 0.2, 0.28))
    for name, expected in (("minimum", least), ("nominal", middle), ("maximum", most)):
        assert si(answer["load"][name], "line_load") == pytest.approx(expected, rel=1e-8)


# ---------------------------------------------------------------------------------------- beyond model and yield


def test_beyond_the_model_nothing_is_given() -> None:
    deep = {**COIL, "compression": by(2.0)}
    answer = post("estimate_energizer_load", asked(deep))
    assert answer["verdict"] == "not_evaluated"
    for name in ("total_load", "stiffness", "stress", "utilization", "permanent_set"):
        assert answer[name] is None
    assert all(value is None for value in answer["load"].values())
    assert answer["curve"], "the curve up to where the model ends is still given"
    assert answer["notes"]


def test_a_tolerance_that_leaves_the_model_is_a_caution() -> None:
    answer = post(
        "estimate_energizer_load", asked({**COIL, "compression": by(1.4, 0.4), "yield_strength": q(9.0, "GPa")})
    )
    assert answer["verdict"] == "caution"
    assert "outside the range" in answer["summary"]
    assert answer["load"]["nominal"] is not None
    assert answer["load"]["maximum"] is None


def test_a_strip_that_yields_fails_and_keeps_a_set() -> None:
    answer = post("estimate_energizer_load", asked({**STRIP, "compression": by(1.2)}))
    assert answer["verdict"] == "fail"
    assert answer["utilization"] > 1.0
    assert answer["permanent_set"]["value"] > 0.0
    assert "yields" in answer["summary"]
    elastic = post("estimate_energizer_load", asked(STRIP))
    assert elastic["verdict"] == "pass"
    assert elastic["permanent_set"]["value"] == 0.0


def test_yield_at_an_extreme_of_tolerance_is_a_caution() -> None:
    stress = si(post("estimate_energizer_load", asked(STRIP))["stress"], "stress")
    close = {**STRIP, "yield_strength": q(1.02 * stress, "Pa"), "compression": by(0.2, 0.02)}
    answer = post("estimate_energizer_load", asked(close))
    assert answer["verdict"] == "caution"
    assert answer["utilization"] == pytest.approx(1.0 / 1.02, rel=1e-9)


# ---------------------------------------------------------------------------------------------------- temperature

NAMED = {
    "cantilever_v": ({key: value for key, value in STRIP.items() if key not in STEEL} | {"alloy": "S30100"}),
    "canted_coil": ({key: value for key, value in COIL.items() if key not in STEEL} | {"alloy": "S30100"}),
    "garter": ({key: value for key, value in GARTER.items() if key not in STEEL} | {"alloy": "S30200"}),
    "o_ring": {"elastomer": "FKM", **{key: value for key, value in RING.items() if key != "elastic_modulus"}},
}
each_named = pytest.mark.parametrize("kind", list(NAMED))


def at_temperature(energizer: dict[str, Any], celsius: float, **more: Any) -> dict[str, Any]:
    answer = post("estimate_energizer_load", asked(energizer, temperature=q(celsius, "degC"), working=True, **more))
    assert_finite(answer)
    keeps_schema("estimate_energizer_load", answer)
    return answer


def stands(kind: str) -> tuple[str, float, float]:
    """Name of the material of `NAMED` and the ends of its temperatures in degC."""
    name = NAMED[kind].get("alloy") or NAMED[kind]["elastomer"]
    record = rules().data.elastomers[name] if kind == "o_ring" else rules().data.alloys[name]
    return str(name), record.temperature_min.si - 273.15, record.temperature_max.si - 273.15


@each_named
def test_a_temperature_the_material_does_not_stand_fails(kind: str) -> None:
    name, low, high = stands(kind)
    for celsius in (low, 20.0, high):
        answer = at_temperature(NAMED[kind], celsius)
        assert answer["verdict"] == "pass", answer["summary"]
        assert si(answer["temperature_minimum"], "temperature") == pytest.approx(low + 273.15)
        assert si(answer["temperature_maximum"], "temperature") == pytest.approx(high + 273.15)
    for celsius, end, limit in ((low - 1.0, "below", low), (high + 1.0, "above", high)):
        answer = at_temperature(NAMED[kind], celsius)
        assert answer["verdict"] == "fail"
        words = f"{celsius:.4g} degC is {end} the {limit:.4g} degC {name} stands."
        assert answer["summary"].startswith(words), (words, answer["summary"])


@each_named
def test_beyond_what_is_known_of_the_material_no_load_is_given(kind: str) -> None:
    """A table is not held beyond its ends, nor the modulus of rubber beyond the temperatures it stands."""
    for celsius in (-260.0, 400.0):
        answer = at_temperature(NAMED[kind], celsius)
        assert answer["verdict"] == "fail"
        assert all(value is None for value in answer["load"].values())
        for field in (
            "total_load",
            "stiffness",
            "stress",
            "stress_limit",
            "utilization",
            "permanent_set",
            "working_range",
        ):
            assert answer[field] is None, field
        assert answer["curve"] == answer["sensitivities"] == []
        assert f"is not known at {celsius:.0f} degC; no load is given." in answer["summary"]
        uniform = at_temperature(NAMED[kind], celsius, sampling={"samples": 100, "distribution": "uniform"})
        assert uniform["load"] == answer["load"]


def test_an_alloy_that_stands_more_than_is_tabled_is_not_evaluated() -> None:
    record = rules().data.alloys["R30003"]
    end = record.elastic_modulus.si_x[-1] - 273.15
    assert end < 350.0 < record.temperature_max.si - 273.15
    coil = {**NAMED["canted_coil"], "alloy": "R30003"}
    assert at_temperature(coil, end)["verdict"] == "pass"
    answer = at_temperature(coil, 350.0)
    assert answer["verdict"] == "not_evaluated"
    assert answer["load"]["nominal"] is None
    # with a modulus stated there is a load, but not whether it yields
    stated = at_temperature({**coil, "elastic_modulus": q(180.0, "GPa")}, 350.0)
    assert stated["verdict"] == "not_evaluated"
    assert stated["load"]["nominal"] is not None
    assert stated["stress_limit"] is stated["utilization"] is None
    assert "whether it yields is not judged" in stated["summary"]
    whole = at_temperature({**coil, **STEEL}, 350.0)
    assert whole["verdict"] == "pass"
    assert at_temperature({**coil, **STEEL}, 400.0)["verdict"] == "fail"


def test_the_verdict_on_an_o_ring_rests_on_squeeze_and_temperature() -> None:
    passed = at_temperature(NAMED["o_ring"], 25.0)
    assert passed["verdict"] == "pass"
    assert "squeezed by 19.2 %; the model holds up to 40 %" in passed["summary"]
    deep = at_temperature({**NAMED["o_ring"], "gland_height": length(1.5)}, 25.0)
    assert deep["verdict"] == "not_evaluated"
    loose = at_temperature({**NAMED["o_ring"], "gland_height": length(2.5, 0.15)}, 25.0)
    assert loose["verdict"] == "caution"
    assert "slack at an extreme" in loose["summary"]
    for properties in ({"elastic_modulus": q(8.0, "MPa")}, {"hardness": q(70.0, "ShoreA")}):
        ring = {key: value for key, value in RING.items() if key != "elastic_modulus"} | properties
        unnamed = at_temperature(ring, 25.0)
        assert unnamed["verdict"] == "not_evaluated"
        assert unnamed["load"]["nominal"] is not None
        assert "No elastomer is named" in unnamed["summary"]
        assert unnamed["temperature_minimum"] is unnamed["temperature_maximum"] is None
    # what is left out is supplied, and its temperatures with it
    bare = at_temperature({key: value for key, value in RING.items() if key != "elastic_modulus"}, 400.0)
    assert bare["verdict"] == "fail"


def test_a_modulus_stated_for_the_temperature_gives_a_load_there() -> None:
    answer = at_temperature({**RING, "elastomer": "FKM"}, -30.0)
    assert answer["verdict"] == "fail"
    assert answer["load"]["nominal"] is not None


@each_kind
def test_properties_without_a_name_leave_the_temperature_open_and_say_so(energizer: dict[str, Any]) -> None:
    answer = at_temperature(energizer, 600.0)
    assert answer["verdict"] == ("not_evaluated" if energizer is RING else "pass")
    assert any("not judged" in text for text in (answer["summary"], *answer["notes"]))


@each_kind
def test_the_curve_starts_small_and_passes_through_the_nominal_load(energizer: dict[str, Any]) -> None:
    answer = post("estimate_energizer_load", asked(energizer))
    travels = [si(point["deflection"], "length") for point in answer["curve"]]
    loads = [si(point["line_load"], "line_load") for point in answer["curve"]]
    assert travels == sorted(travels)
    at, load = si(answer["deflection"], "length"), si(answer["load"]["nominal"], "line_load")
    assert travels[0] < at <= travels[-1] * (1.0 + 1e-9)
    (x0, y0), (x1, y1) = next(
        pair for pair in itertools.pairwise(zip(travels, loads, strict=True)) if pair[0][0] <= at <= pair[1][0]
    )
    assert min(y0, y1) * (1.0 - 1e-9) <= load <= max(y0, y1) * (1.0 + 1e-9), (x0, x1)


def test_stiffness_is_the_slope_of_the_load() -> None:
    for energizer in (STRIP, COIL):
        travel = energizer["compression"]["deflection"]["nominal"]["value"]
        low, high = (nominal_load({**energizer, "compression": by(travel * f)}) for f in (0.999, 1.001))
        slope = si(post("estimate_energizer_load", asked(energizer))["stiffness"], "line_stiffness")
        assert (high - low) / (0.002 * travel * MM) == pytest.approx(slope, rel=2e-3)


def test_a_canted_coil_has_a_flat_working_range() -> None:
    coil = post("estimate_energizer_load", asked(COIL))
    band = coil["working_range"]
    low, high = (si(band[name], "length") / MM for name in ("lower", "upper"))
    loads = [nominal_load({**COIL, "compression": by(travel)}) for travel in (low, 0.5 * (low + high), high)]
    # the widest band whose greatest load over its least is (1 + x)/(1 - x)
    share = band["load_share"]
    assert max(loads) / min(loads) == pytest.approx((1.0 + share) / (1.0 - share), rel=0.01)
    # the same ratio of deflections moves the load of a V with it
    strip = [nominal_load({**STRIP, "compression": by(travel)}) for travel in (0.2, 0.2 * high / low)]
    assert strip[1] / strip[0] > 1.0 + 2.0 * (max(loads) / min(loads) - 1.0)


# --------------------------------------------------------------------------------------------- what it rests on


def test_an_alloy_left_out_is_supplied_and_said() -> None:
    bare = {key: value for key, value in STRIP.items() if key not in STEEL}
    answer = post("estimate_energizer_load", asked(bare))
    fields = {item["field"] for item in answer["assumptions"]}
    assert "/energizer/alloy" in fields
    assert answer["evidence"] == "house_estimate"
    stated = post("estimate_energizer_load", asked(STRIP, modulus_scatter=q(0.03, "1")))
    assert stated["assumptions"] == []
    named = nominal_load({**bare, "alloy": rules().data.sizing.energizer_alloy.name})
    assert si(answer["load"]["nominal"], "line_load") == pytest.approx(named, rel=1e-12)


@pytest.mark.parametrize(
    ("energizer", "pointer"),
    [
        ({**STRIP, "compression": by(1.7)}, "/energizer/compression"),
        ({**STRIP, "strip_thickness": length(3.0)}, "/energizer/strip_thickness"),
        ({**STRIP, "alloy": "S99999"}, "/energizer/alloy"),
        ({**COIL, "pitch": length(0.2)}, "/energizer/pitch"),
        ({**COIL, "compression": by(2.6)}, "/energizer/compression"),
        ({**GARTER, "mean_coil_diameter": length(0.25)}, "/energizer/mean_coil_diameter"),
        ({**RING, "gland_height": length(2.7)}, "/energizer/gland_height"),
        ({**RING, "seat_diameter": q(30.0, "mm")}, "/energizer/seat_diameter"),
        ({**STRIP, "strip_thickness": {"nominal": q(0.1, "mm"), "minus": q(0.2, "mm")}}, "/energizer/strip_thickness/minus"),
    ],
)  # fmt: skip
def test_dimensions_that_cannot_be_are_refused(energizer: dict[str, Any], pointer: str) -> None:
    problem = refused("estimate_energizer_load", asked(energizer))
    assert pointer in {error["pointer"] for error in problem["errors"]}, problem


def test_units_change_no_load() -> None:
    here = post("estimate_energizer_load", asked(STRIP))
    there = post("estimate_energizer_load", merged(asked(STRIP), units={"system": "us"}))
    assert there["verdict"] == here["verdict"]
    for name, value in here["load"].items():
        assert si(there["load"][name], "line_load") == pytest.approx(si(value, "line_load"), rel=1e-8)
    assert there["sensitivities"] == here["sensitivities"]
    assert there["stamp"]["fingerprint"] == here["stamp"]["fingerprint"]
