"""Thermal fits: published expansion through the service, geometry by hand, and what must hold for every fit."""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from glandwise.contract.thermal_fit import ThermalFitResult
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from tests.conftest import assert_problem, changed, example
from tests.laws import laws
from tests.questions.support import fixed, rules

PATH = "/v1/thermal-fits"
RANK = {"pass": 0, "not_evaluated": 1, "caution": 2, "fail": 3}
LIGHT = laws(30, suppress_health_check=[HealthCheck.function_scoped_fixture])


def mm(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "mm"}


def celsius(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "degC"}


def kelvin(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "K"}


def request(
    temperatures: tuple[float, float, float] = (20.0, 40.0, 80.0),
    *,
    shaft: float = 50.0,
    pressure: float = 0.0,
    curve: list[dict[str, Any]] | None = None,
    assembly: dict[str, Any] | None = None,
    materials: tuple[str, str] = ("stainless_austenitic_316", "stainless_austenitic_316"),
    gland: dict[str, Any] | None = None,
    **design: Any,
) -> dict[str, Any]:
    """A plain enquiry."""
    low, normal, high = temperatures
    return {
        "duty": {
            "shaft_diameter": mm(shaft),
            "motion": {"kind": "rotation", "rotational_speed": {"value": 100, "unit": "rpm"}},
            "pressure": {"value": pressure, "unit": "MPa"},
            "temperature": {"minimum": celsius(low), "normal": celsius(normal), "maximum": celsius(high)},
            "fluid": "nitrogen",
            "shaft": {"material": materials[0]},
            "bore": {"material": materials[1]},
        },
        "design": {"family": "flexible_lip", "compound": "ptfe_unfilled", "retention": "clamped_flange", **design},
        "gland": gland or {},
        **({} if curve is None else {"temperatures": curve}),
        **({} if assembly is None else {"assembly_temperature": assembly}),
    }


def ask(client: TestClient, body: dict[str, Any]) -> dict[str, Any]:
    """Post a request and return its result, which must fit its model."""
    response = client.post(PATH, json=body)
    assert response.status_code == 200, response.text
    result: dict[str, Any] = response.json()
    ThermalFitResult.model_validate(result)
    return result


def by_id(result: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {item["id"]: item for item in result["criteria"]}


def at(result: dict[str, Any], temperature: float) -> dict[str, Any]:
    """Point of the curve at a temperature in degC."""
    point: dict[str, Any] = next(
        item for item in result["points"] if abs(item["temperature"]["value"] - temperature) < 1e-6
    )
    return point


# Kirby, J. Res. NBS 57 (1956) 91-94, mean coefficient of PTFE between 25 degC and T in 1e-6/K, from memory.
KIRBY = {-190: 86, -150: 96, -100: 112, -50: 135, 0: 200, 50: 124, 100: 124, 150: 135, 200: 151, 250: 174, 300: 218}


def test_the_curve_of_unfilled_ptfe_is_that_of_kirby(client: TestClient) -> None:
    body = request(assembly=celsius(25), curve=[celsius(t) for t in KIRBY])
    result = ask(client, body)
    for temperature, mean in KIRBY.items():
        strain = at(result, temperature)["seal_strain"]
        assert strain == pytest.approx(mean * 1e-6 * (temperature - 25.0), abs=5e-9)


# NIST fits, (L - L293)/L293 in 1e-5: PTFE evaluated from its coefficients; S30400 by the printed coefficients.
NIST_PTFE = {20.0: -2119.1852, 77.0: -1943.5488}


def nist_steel(temperature: float) -> float:
    t = max(temperature, 23.0)
    return 1e-5 * (-295.54 - 0.39811 * t + 9.2683e-3 * t**2 - 2.0261e-5 * t**3 + 1.7127e-8 * t**4)


def test_below_kirbys_table_the_curve_follows_the_nist_fit(client: TestClient) -> None:
    body = request(assembly=celsius(25), curve=[kelvin(t) for t in NIST_PTFE])
    result = ask(client, body)
    low, high = (at(result, t - 273.15)["seal_strain"] for t in NIST_PTFE)
    assert high - low == pytest.approx((NIST_PTFE[77.0] - NIST_PTFE[20.0]) * 1e-5, abs=1e-9)


@pytest.mark.parametrize("temperature", [20.0, 77.0, 150.0, 250.0])
def test_austenitic_steel_follows_its_nist_fit(client: TestClient, temperature: float) -> None:
    result = ask(client, request(assembly=celsius(20), curve=[kelvin(temperature)]))
    point = at(result, temperature - 273.15)
    # the fit is 0.4e-5 off zero at its own reference temperature
    assert point["shaft_strain"] == pytest.approx(nist_steel(temperature) - nist_steel(293.15), abs=1e-9)
    assert point["shaft_strain"] == point["housing_strain"]


def test_a_metal_without_a_fit_shrinks_in_the_proportion_of_its_coefficient(client: TestClient) -> None:
    result = ask(client, request(curve=[kelvin(77.0)], materials=("titanium_alloy", "stainless_austenitic_316")))
    point = at(result, 77.0 - 273.15)
    # 8.6e-6/K against the fit's own mean between 200 and 293 K
    own = (nist_steel(293.15) - nist_steel(200.0)) / 93.15
    assert point["shaft_strain"] / point["housing_strain"] == pytest.approx(8.6e-6 / own, rel=1e-6)
    # handbooks give about 0.17 % for Ti-6Al-4V from room temperature to 77 K
    assert point["shaft_strain"] == pytest.approx(-0.0016, abs=2e-4)


LIP = {"lip_thickness": mm(0.8), "lip_length": mm(4.2)}


def root_share(radius: float, thickness: float, length: float, poisson: float) -> float:
    """Strain of the edge of a shell whose root alone is moved by one, from its four waves and their four end conditions.

    In decay lengths the fourth derivative is -4 times the strain: waves exp(±s) cos s and exp(±s) sin s. No slope at the
    root, neither moment nor shear at the edge.
    """
    end = length * (3.0 * (1.0 - poisson**2) / (radius * thickness) ** 2) ** 0.25
    exponents = np.array([1 + 1j, 1 - 1j, -1 + 1j, -1 - 1j])
    rows = [np.ones(4), exponents, exponents**2 * np.exp(exponents * end), exponents**3 * np.exp(exponents * end)]
    waves = np.linalg.solve(np.array(rows), np.array([1.0, 0.0, 0.0, 0.0]))
    return float((waves @ np.exp(exponents * end)).real)


def edge_strain(point: dict[str, Any], root: float) -> float:
    """Strain of the edge of the lip of `LIP` on a shaft of 50 mm, its root strained by ``root``."""
    share = root_share(25.4, 0.8, 4.2, rules().data.compounds["ptfe_unfilled"].poisson_ratio.si)
    assert 0.1 < share < 0.9
    return share * root + (1.0 - share) * float(point["seal_strain"])


@pytest.mark.parametrize("retention", ["clamped_flange", "press_fit_case"])
def test_interference_by_hand(client: TestClient, retention: str) -> None:
    """A flange or a case holds the root of the lip to the strain of the housing."""
    steel_in_aluminium = ("steel_hardened", "aluminium_alloy")
    body = request((0.0, 20.0, 100.0), interference=mm(0.6), retention=retention, materials=steel_in_aluminium, **LIP)
    for point in ask(client, body)["points"]:
        shaft = 50.0 * (1.0 + point["shaft_strain"])
        lip = 49.4 * (1.0 + edge_strain(point, point["housing_strain"]))
        assert point["shaft_diameter"]["value"] == pytest.approx(shaft, rel=1e-8)
        assert point["lip_diameter"]["value"] == pytest.approx(lip, rel=1e-8)
        assert point["interference"]["value"] == pytest.approx(shaft - lip, abs=1e-7)
        assert (point["lip_load"]["value"] > 0.0) == (shaft > lip)


def test_the_body_on_its_o_ring_is_free_until_the_bore_stops_it(client: TestClient) -> None:
    body = request((-50.0, 20.0, 120.0), interference=mm(0.6), retention="o_ring", **LIP)
    points = ask(client, body)["points"]
    made = at({"points": points}, 20.0)["body_diameter"]["value"]
    stopped = []
    for point in points:
        root = min(point["seal_strain"], point["bore_diameter"]["value"] / made - 1.0)
        stopped.append(root < point["seal_strain"])
        lip = 49.4 * (1.0 + edge_strain(point, root))
        assert point["lip_diameter"]["value"] == pytest.approx(lip, rel=1e-8)
        if not stopped[-1]:  # everything of PTFE grows alike
            assert point["lip_diameter"]["value"] == pytest.approx(49.4 * (1.0 + point["seal_strain"]), rel=1e-8)
    assert True in stopped
    assert stopped == sorted(stopped)


def test_a_reinforcing_band_holds_the_lip_closer_to_its_edge(client: TestClient) -> None:
    plain, banded = (
        at(ask(client, request((20.0, 40.0, 100.0), reinforcing_band=band, interference=mm(0.8), **LIP)), 100.0)
        for band in (False, True)
    )
    assert banded["interference"]["value"] > plain["interference"]["value"]


def test_lip_criterion_by_hand(client: TestClient) -> None:
    """Worst at the greatest temperature, on the smallest h11 shaft."""
    result = ask(client, request((20.0, 40.0, 60.0), interference=mm(0.8), **LIP))
    hot = at(result, 60.0)
    left = (50.0 - 0.160) * (1.0 + hot["shaft_strain"]) - 49.2 * (1.0 + edge_strain(hot, hot["housing_strain"]))
    found = by_id(result)["lip_interference"]
    assert found["demand"]["value"] == pytest.approx(0.8 - left, abs=1e-6)
    assert found["capacity"]["value"] == pytest.approx(0.8)
    assert found["utilization"] == pytest.approx((0.8 - left) / 0.8, rel=1e-6)


def test_lip_criterion_on_an_o_ring_by_hand(client: TestClient) -> None:
    """The smallest body in the largest bore is stopped last; the smallest h11 shaft."""
    gland = {
        "body_diameter": {"nominal": mm(71.8), "minus": mm(0.1)},
        "bore_tolerance": {"kind": "deviations", "upper": mm(0.046), "lower": mm(0.0)},
    }
    body = request((20.0, 40.0, 90.0), interference=mm(0.8), retention="o_ring", gland=gland, **LIP)
    body["duty"]["bore"]["diameter"] = mm(72.0)
    result = ask(client, body)
    hot = at(result, 90.0)
    root = 72.046 * (1.0 + hot["housing_strain"]) / 71.7 - 1.0
    assert hot["housing_strain"] < root < hot["seal_strain"]
    left = (50.0 - 0.160) * (1.0 + hot["shaft_strain"]) - 49.2 * (1.0 + edge_strain(hot, root))
    assert by_id(result)["lip_interference"]["demand"]["value"] == pytest.approx(0.8 - left, abs=1e-6)


@pytest.mark.parametrize("shaft", [10.0, 15.0, 20.0, 25.0, 50.0, 100.0, 200.0, 400.0])
def test_the_interference_supplied_outlasts_heat(client: TestClient, shaft: float) -> None:
    """As the rule of sizes says: on the smallest shaft at 150 degC, filled PTFE on the nominal one at 200 degC."""
    unfilled = ask(client, request((20.0, 40.0, 150.0), shaft=shaft))
    assert by_id(unfilled)["lip_interference"]["status"] in {"pass", "caution"}
    records = rules().data.compounds.items()
    growing = max((record.expansion_ratio.si, name) for name, record in records if name != "ptfe_unfilled")[1]
    filled = ask(client, request((20.0, 40.0, 200.0), shaft=shaft, compound=growing))
    assert at(filled, 200.0)["interference"]["value"] > 0.0


@pytest.mark.parametrize("retention", ["clamped_flange", "o_ring"])
def test_a_lip_that_lifts_is_told_with_what_interference_it_would_not(client: TestClient, retention: str) -> None:
    body = request((20.0, 40.0, 150.0), interference=mm(0.2), retention=retention, **LIP)
    found = by_id(ask(client, body))["lip_interference"]
    assert found["status"] == "fail"
    words = re.search(r"Made with about ([\d.]+) mm of interference it would still just touch", found["reason"])
    assert words
    wanted = float(words[1])
    assert wanted > 0.2
    enough = by_id(ask(client, changed(body, "/design/interference", mm(wanted))))["lip_interference"]
    assert enough["utilization"] == pytest.approx(1.0, abs=0.5e-3 / wanted)  # three digits are printed


def test_cold_draws_the_lip_onto_the_shaft_and_loosens_the_body(client: TestClient) -> None:
    body = request((-196.0, 20.0, 60.0), retention="o_ring", o_ring_elastomer="VMQ", interference=mm(0.8), **LIP)
    points = ask(client, body)["points"]
    interference = [point["interference"]["value"] for point in points]
    clearance = [point["body_clearance"]["value"] for point in points]
    squeeze = [point["o_ring_squeeze"] for point in points]
    cold_of_room = [index for index, point in enumerate(points) if point["temperature"]["value"] <= 20.0]
    for values in (interference, clearance):
        assert [values[index] for index in cold_of_room] == sorted((values[i] for i in cold_of_room), reverse=True)
    assert [squeeze[index] for index in cold_of_room] == sorted(squeeze[index] for index in cold_of_room)
    # 2 % of shrinkage on a lip of about 50 mm
    assert 0.9 < interference[0] - interference[-1] < 2.5


def test_the_default_curve_covers_the_compound_and_marks_the_duty(client: TestClient) -> None:
    result = ask(client, request((-30.0, 35.0, 90.0), compound="ptfe_glass_15"))
    temperatures = [point["temperature"]["value"] for point in result["points"]]
    assert temperatures == sorted(temperatures)
    assert 38 <= len(temperatures) <= 44
    assert temperatures[0] == pytest.approx((-425.0 - 32.0) / 1.8)
    assert temperatures[-1] == pytest.approx((475.0 - 32.0) / 1.8)
    marks = {point["mark"]: point["temperature"]["value"] for point in result["points"] if point["mark"]}
    assert marks == {"minimum": -30.0, "assembly": 20.0, "normal": 35.0, "maximum": 90.0}


# ---------------------------------------------------------------------------------------------------------- transitions


def test_points_name_the_phase(client: TestClient) -> None:
    result = ask(client, request(curve=[celsius(t) for t in (10.0, 25.0, 35.0)]))
    assert [at(result, t)["phase"] for t in (10.0, 25.0, 35.0)] == ["II", "IV", "I"]
    # Martin and Eby (1968): 20 and 30 degC at one atmosphere
    assert result["transition"]["lower"]["value"] == pytest.approx(20.2, abs=0.05)
    assert result["transition"]["upper"]["value"] == pytest.approx(30.6, abs=0.05)


@pytest.mark.parametrize(
    ("low", "high", "measured", "pressure", "crossed"),
    [
        (22.0, 28.0, 23.0, 0.0, False),
        (10.0, 28.0, 23.0, 0.0, True),
        (22.0, 40.0, 23.0, 0.0, True),
        # 20 MPa lifts the lower transition to 23.7 degC: a part measured at 23 works in its cold phase
        (23.0, 23.0, 23.0, 20.0, True),
        (31.0, 60.0, 35.0, 0.0, False),
        (31.0, 60.0, 23.0, 0.0, True),
        (40.0, 60.0, 50.0, 200.0, True),
    ],
)
def test_a_seal_that_works_in_another_phase_is_said(
    client: TestClient, low: float, high: float, measured: float, pressure: float, crossed: bool
) -> None:
    body = request((low, low, high), assembly=celsius(measured), pressure=pressure, family="energized_lip")
    result = ask(client, body)
    assert result["transition"]["crossed"] is crossed
    caution = next(item for item in result["cautions"] if item["id"] == "ptfe_transition")
    assert ("another phase" in caution["text"]) is crossed
    change = result["transition"]
    assert 0.0 < change["least_length_change"] < change["length_change"] < change["greatest_length_change"] < 0.01


# ----------------------------------------------------------------------------------------------------- body, energizer


def test_energizer_deflection_by_hand(client: TestClient) -> None:
    """A coil of height 3 mm deflected 0.6 mm between shaft and bore of one material; PTFE walls take up the rest."""
    coil = {
        "wire_diameter": mm(0.3), "coil_height": mm(3.0), "coil_width": mm(3.4), "pitch": mm(0.6),
        "cant_angle": {"value": 35, "unit": "deg"}, "deflection": mm(0.6),
    }  # fmt: skip
    body = request(
        (-100.0, 20.0, 60.0),
        family="energized_lip",
        energizer="canted_coil",
        canted_coil=coil,
        energizer_alloy="S31600",
    )
    body["duty"]["bore"]["diameter"] = mm(64.0)
    result = ask(client, body)
    cold = at(result, -100.0)
    walls = 7.0 - 2.4
    # shaft, bore and coil are one metal, so only what PTFE loses more than the metal is lost to the coil
    lost = walls * (cold["shaft_strain"] - cold["seal_strain"])
    expected = 0.6 * (1.0 + cold["shaft_strain"]) - lost
    assert cold["energizer_deflection"]["value"] == pytest.approx(expected, abs=1e-6)
    assert at(result, 20.0)["energizer_deflection"]["value"] == pytest.approx(0.6, abs=1e-9)
    assert cold["energizer_load"]["value"] > 0.0


@pytest.mark.parametrize("energizer", ["cantilever_v", "canted_coil"])
def test_an_energizer_reaches_where_the_lip_alone_would_lift(client: TestClient, energizer: str) -> None:
    body = request(
        (20.0, 40.0, 110.0), family="energized_lip", energizer=energizer, lip_length=mm(6.0), interference=mm(0.3)
    )
    result = ask(client, body)
    assert at(result, 110.0)["interference"]["value"] < 0.0
    assert by_id(result)["lip_interference"]["capacity"]["value"] > 0.3
    assert by_id(result)["energizer_deflection"]["status"] in {"pass", "caution"}


def test_a_garter_lets_a_lip_follow_further(client: TestClient) -> None:
    plain = by_id(ask(client, request((20.0, 40.0, 90.0))))["lip_interference"]
    garter = by_id(ask(client, request((20.0, 40.0, 90.0), lip_tip="upturned_with_garter")))["lip_interference"]
    assert garter["utilization"] < plain["utilization"]
    points = ask(client, request((20.0, 40.0, 90.0), lip_tip="upturned_with_garter"))["points"]
    assert all(point["energizer_deflection"]["value"] > 0.0 for point in points)


def test_a_deflection_that_closes_the_coil_fails(client: TestClient) -> None:
    coil = {
        "wire_diameter": mm(0.5), "coil_height": mm(2.0), "coil_width": mm(2.4), "pitch": mm(0.8),
        "cant_angle": {"value": 35, "unit": "deg"}, "deflection": mm(0.95),
    }  # fmt: skip
    body = request(family="energized_lip", energizer="canted_coil", canted_coil=coil)
    found = by_id(ask(client, body))["energizer_deflection"]
    assert found["status"] == "fail"
    assert found["capacity"]["value"] == pytest.approx(0.8 * (2.0 - 2.0 * 0.5))
    assert "is greatest at" in found["reason"]
    assert "at most 0.8 mm is allowed" in found["reason"]
    eased = changed(body, "/design/canted_coil/deflection", mm(0.2))
    found = by_id(ask(client, eased))["energizer_deflection"]
    assert "is least at" in found["reason"]
    assert "at least 0.06 mm is needed; as made it is 0.2 mm" in found["reason"]


def test_a_hot_body_set_in_its_bore_is_loose_when_cold_again(client: TestClient) -> None:
    cool = ask(client, request((20.0, 20.0, 24.0), retention="o_ring"))
    hot = ask(client, request((20.0, 30.0, 150.0), retention="o_ring"))
    assert cool["after_heat"]["lost_diameter"]["value"] == pytest.approx(0.0, abs=1e-9)
    assert hot["after_heat"]["lost_diameter"]["value"] > 0.1
    assert hot["after_heat"]["body_clearance"]["value"] > cool["after_heat"]["body_clearance"]["value"]
    worst = at(hot, 150.0)
    squeezed = 1.0 - worst["bore_diameter"]["value"] / worst["body_diameter"]["value"]
    body = at(hot, 20.0)["body_diameter"]["value"]
    assert hot["after_heat"]["lost_diameter"]["value"] == pytest.approx(0.35 * squeezed * body, rel=1e-6)


def test_a_flange_holds_and_a_case_follows_its_bore(client: TestClient) -> None:
    assert by_id(ask(client, request()))["body_in_bore"]["status"] == "pass"
    body = request((20.0, 40.0, 130.0), retention="press_fit_case", materials=("steel_soft", "aluminium_alloy"))
    result = ask(client, body)
    case = [point["case_interference"]["value"] for point in result["points"]]
    hot_of_room = [c for c, p in zip(case, result["points"], strict=True) if p["temperature"]["value"] >= 20.0]
    assert hot_of_room == sorted(hot_of_room, reverse=True)
    assert by_id(result)["body_in_bore"]["status"] == "fail"


# ------------------------------------------------------------------------------------------------------------- in general


@given(
    st.sampled_from(["flexible_lip", "energized_lip"]), st.sampled_from(["o_ring", "clamped_flange"]),
    st.floats(-150.0, 20.0), st.floats(0.0, 60.0), st.floats(20.0, 120.0), st.floats(0.0, 60.0),
    st.sampled_from(["ptfe_unfilled", "ptfe_carbon_graphite_25"]),
)  # fmt: skip
@LIGHT
def test_a_wider_range_of_temperature_never_makes_a_verdict_better(
    client: TestClient,
    family: str,
    retention: str,
    cold: float,
    colder: float,
    hot: float,
    hotter: float,
    compound: str,
) -> None:
    # ring and groove are given: a proposal would be another one for another range
    gland: dict[str, Any] = {}
    if retention == "o_ring":
        gland = {
            "o_ring": {"kind": "as568", "dash": 146},
            "groove": {"diameter": {"nominal": mm(68.0), "minus": mm(0.12)}, "width": {"nominal": mm(3.9)}},
        }
    common = {"family": family, "retention": retention, "gland": gland, "compound": compound}

    def over(low: float, high: float) -> dict[str, Any]:
        body = request((low, 20.0, high), **common)
        body["duty"]["bore"]["diameter"] = mm(72.0)
        return ask(client, body)

    # one seal, with the sizes that the wider range gives it
    sized = fixed(request((cold - colder, 20.0, hot + hotter), **{**common, "gland": None}))["design"]
    common.update({name: value for name, value in sized.items() if name not in common})
    narrow, wide = over(cold, hot), over(cold - colder, hot + hotter)
    for name, item in by_id(narrow).items():
        other = by_id(wide)[name]
        if item["utilization"] is not None and other["utilization"] is not None:
            # a finer grid may find a slightly worse point between
            assert other["utilization"] >= item["utilization"] * (1 - 2e-3), (name, item["reason"], other["reason"])
        else:
            assert RANK[other["status"]] >= RANK[item["status"]], name
    assert RANK[wide["verdict"]] >= RANK[narrow["verdict"]]


@pytest.mark.parametrize("name", ["liquid_nitrogen_valve", "hot_blower_us_units"])
def test_units_of_the_answer_change_nothing_else(client: TestClient, name: str) -> None:
    body = example("check_thermal_fit", name)
    si, us = (ask(client, {**body, "units": {"system": system}}) for system in ("si", "us"))
    assert si["stamp"]["fingerprint"] == us["stamp"]["fingerprint"]
    for a, b in zip(si["criteria"], us["criteria"], strict=True):
        assert (a["id"], a["status"], a["utilization"]) == (b["id"], b["status"], b["utilization"])
    for a, b in zip(si["points"], us["points"], strict=True):
        assert a["seal_strain"] == b["seal_strain"]
        assert a["interference"]["value"] == pytest.approx(b["interference"]["value"] * 25.4, abs=1e-8)
        assert (a["mark"], a["phase"]) == (b["mark"], b["phase"])


def test_a_seal_at_its_assembly_temperature_is_as_made(client: TestClient) -> None:
    result = ask(client, request((20.0, 20.0, 20.0), interference=mm(0.5)))
    point = at(result, 20.0)
    assert point["mark"] == "normal"
    assert (point["seal_strain"], point["shaft_strain"]) == (pytest.approx(0, abs=1e-15), 0.0)
    assert point["interference"]["value"] == pytest.approx(0.5, abs=1e-9)
    found = by_id(result)["lip_interference"]
    assert found["demand"]["value"] == pytest.approx(0.16, abs=1e-9)  # h11 alone


@pytest.mark.parametrize(
    ("pointer", "value", "at_"),
    [
        ("/temperatures", [celsius(20.0), celsius(310.0)], "/temperatures/1"),
        ("/assembly_temperature", kelvin(2.0), "/assembly_temperature"),
        ("/duty/temperature/minimum", kelvin(1.0), "/duty/temperature/minimum"),
        ("/gland/case", {}, "/gland/case"),
    ],
)
def test_refusals_say_where_and_what_is_accepted(client: TestClient, pointer: str, value: Any, at_: str) -> None:
    assert_problem(client.post(PATH, json=changed(request(), pointer, value)), 422, "out-of-domain", at_)


def test_no_number_leaves_that_is_not_finite(client: TestClient) -> None:
    body = request((-260.0, 20.0, 290.0), retention="o_ring", family="energized_lip", compound="ptfe_unfilled")
    result = ask(client, body)
    for point in result["points"]:
        for value in point.values():
            if isinstance(value, float):
                assert math.isfinite(value)
    assert result["verdict"] == "fail"
