"""Blanks: masses by hand, what must hold for any, and money as a plain product."""

from __future__ import annotations

import copy
import math
import random
from collections import Counter
from functools import cache
from typing import Any

import pytest
from fastapi.testclient import TestClient
from glandwise.app import create_app
from glandwise.contract.blank import BlankResult
from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import assert_problem, load_examples
from tests.laws import laws

Request = dict[str, Any]


@cache
def client() -> TestClient:
    return TestClient(create_app())


def estimate(request: Request) -> Any:
    answer = client().post("/v1/blank-estimates", json=request)
    assert answer.status_code == 200, answer.text
    BlankResult.model_validate(answer.json())
    return answer.json()


def q(value: float, unit: str) -> dict[str, Any]:
    return {"value": value, "unit": unit}


def question(**changes: Any) -> Request:
    request: Request = {
        "duty": {
            "shaft_diameter": q(60.0, "mm"),
            "motion": {"kind": "rotation", "rotational_speed": q(200.0, "rpm")},
            "pressure": q(1.0, "bar"),
            "temperature": {"normal": q(40.0, "degC")},
            "fluid": "mineral_oil_gear",
            "bore": {"diameter": q(80.0, "mm")},
        },
        "design": {"family": "flexible_lip", "compound": "ptfe_glass_15"},
        "pieces": 100,
    }
    for key, value in changes.items():
        if isinstance(request.get(key), dict) and isinstance(value, dict):
            request[key].update(copy.deepcopy(value))
        else:
            request[key] = copy.deepcopy(value)
    return request


BY_HAND = question(
    design={
        "lip_thickness": q(1.0, "mm"),
        "lip_length": q(4.0, "mm"),
        "interference": q(0.5, "mm"),
        "compound_properties": {"density": q(2.0, "g/cm3")},
        "family": "energized_lip",
    },
    pieces=37,
    axial_width=q(9.0, "mm"),
    stock={"form": "tube", "outer_diameter": q(85.0, "mm"), "inner_diameter": q(55.0, "mm"), "length": q(200.0, "mm")},
    allowances={
        "outer": q(2.0, "mm"), "inner": q(2.0, "mm"), "face": q(1.0, "mm"), "parting": q(3.0, "mm"),
        "chucking": q(20.0, "mm"), "reject_share": q(0.05, "1"),
    },
)  # fmt: skip


def test_a_tube_by_hand() -> None:
    """Masses of the volume, 2 g/cm3; 14 mm for each piece."""
    answer = estimate(BY_HAND)
    part = 1e3 * answer["finished"]["volume"]["value"]
    assert answer["finished"]["outer_diameter"] == q(
        79.88, "mm"
    )  # the bore of 80 mm less 0.15 %, the clearance of the body
    assert answer["finished"]["inner_diameter"] == q(59.5, "mm")
    assert answer["finished"]["mass"]["value"] == pytest.approx(part * 2e-6, rel=1e-9)
    assert answer["density"] == q(2.0, "g/cm3")
    blank, order = answer["blank"], answer["allocation"]
    assert blank["length_per_piece"]["value"] == pytest.approx(9.0 + 2.0 + 3.0)
    # (200 - 20) / 14 = 12.86; 37 / 0.95 = 38.9; 39 / 12 = 3.25
    assert (order["pieces_per_length"], order["pieces_to_make"], order["stock_lengths"]) == (12, 39, 4)
    section = math.pi / 4.0 * (85.0**2 - 55.0**2)
    assert order["used_length"]["value"] == pytest.approx(39 * 14.0 + 4 * 20.0)
    assert order["blank_mass"]["value"] == pytest.approx(section * 14.0 * 2e-6, rel=1e-9)
    assert order["stock_mass"]["value"] == pytest.approx(section * 4 * 200.0 * 2e-6, rel=1e-9)
    assert order["net_mass"]["value"] == pytest.approx(37 * part * 2e-6, rel=1e-9)
    assert order["yield_of_used"] == pytest.approx(37 * part / (section * (39 * 14.0 + 80.0)), rel=1e-9)
    assert answer["verdict"] == "pass"


FLANGE = question(
    design={
        "retention": "clamped_flange", "second_lip": "none", "lip_thickness": q(1.0, "mm"), "lip_length": q(4.0, "mm"),
        "interference": q(0.5, "mm"), "bore_angle": q(math.degrees(math.atan(0.125)), "deg"),
    },
    axial_width=q(9.0, "mm"),
)  # fmt: skip


def test_the_volume_of_a_flange_by_hand() -> None:
    """Heel, outer wall and lip, each a ring by Pappus' theorem; the fillets and the chamfered mouth are left out.

    The lip of 4 mm slopes by 1 : 8 from 0.25 mm over the shaft to 0.25 mm under it. It stands back from the face by 0.08 of
    the width, so that 9 - 4 - 0.72 = 4.28 mm are left for the heel. The cavity reaches to the outer wall, 0.35 of the section
    of 9.94 mm, or to where the cover bears, which is 0.4 of the 20 mm between shaft and bore.
    """
    heel = math.pi * (39.94**2 - 30.25**2) * 4.28
    cavity = min(39.94 - 0.35 * 9.94, 40.0 - 0.4 * 10.0)
    wall = math.pi * (39.94**2 - cavity**2) * 4.72
    across = math.hypot(1.0, 0.125)
    lip = 2.0 * math.pi * (30.0 + 0.5 * across) * 4.0 * across
    answer = estimate(FLANGE)
    assert answer["finished"]["volume"]["value"] == pytest.approx((heel + wall + lip) / 1e3, rel=5e-3)


def test_grooves_second_lips_and_stated_sizes_are_in_the_mass() -> None:
    """A groove takes away what it holds; a second lip and a thicker lip weigh; a garter, which is no PTFE, leaves a tip."""
    plain, second, thick = (
        estimate(question(design=design))["finished"]["mass"]["value"]
        for design in ({}, {"second_lip": "redundant"}, {"lip_thickness": q(2.0, "mm")})
    )
    flange = estimate(question(design={"retention": "clamped_flange"}))["finished"]["mass"]["value"]
    assert len({plain, second, thick, flange}) == 4
    assert thick > plain


def test_money_is_the_callers_rates_times_the_quantities() -> None:
    rates = {
        "currency": "XTS",
        "material": {"amount": 50.0, "per": "kg"},
        "machine_per_hour": 60.0,
        "machine_time_per_piece": q(4.0, "min"),
        "setup_time": q(0.5, "h"),
    }
    answer = estimate({**BY_HAND, "rates": rates})
    cost, order = answer["cost"], answer["allocation"]
    assert cost["currency"] == "XTS"
    assert cost["material"] == pytest.approx(50.0 * order["stock_mass"]["value"], rel=1e-9)
    assert cost["machining"] == pytest.approx(60.0 * (39 * 4.0 / 60.0 + 0.5), rel=1e-9)
    assert cost["total"] == pytest.approx(cost["material"] + cost["machining"], rel=1e-9)
    assert cost["per_piece"] == pytest.approx(cost["total"] / 37, rel=1e-9)
    pounds = estimate({**BY_HAND, "rates": {**rates, "material": {"amount": 50.0 * 0.45359237, "per": "lb"}}})
    assert pounds["cost"]["material"] == pytest.approx(cost["material"], rel=1e-9)
    only = estimate({**BY_HAND, "rates": {"currency": "XTS", "material": rates["material"]}})
    assert (only["cost"]["machining"], only["cost"]["total"]) == (None, only["cost"]["material"])
    assert estimate(BY_HAND)["cost"] is None


DESIGNS: list[Request] = [
    {"family": "flexible_lip", "compound": "ptfe_glass_15", "retention": "press_fit_case"},
    {
        "family": "flexible_lip",
        "compound": "ptfe_carbon_graphite_25",
        "retention": "clamped_flange",
        "second_lip": "redundant",
    },
    {"family": "energized_lip", "compound": "ptfe_carbon_graphite_25", "heel": "extended", "energizer": "canted_coil"},
    {"family": "energized_lip", "compound": "ptfe_glass_15", "lip_form": "scraper", "retention": "clamped_flange"},
]


@laws(60)
@given(st.floats(5.0, 1000.0), st.sampled_from(DESIGNS), st.integers(1, 5000), st.floats(0.0, 0.5))
def test_what_holds_for_any_blank(diameter: float, design: Request, pieces: int, rejects: float) -> None:
    request = question(pieces=pieces, design=design, allowances={"reject_share": q(rejects, "1")})
    request["duty"]["shaft_diameter"] = q(diameter, "mm")
    request["duty"]["bore"] = {}
    request["design"] = design
    answer = estimate(request)
    part, blank, order = answer["finished"], answer["blank"], answer["allocation"]
    assert part["outer_diameter"]["value"] > part["inner_diameter"]["value"] >= 0.0
    assert part["mass"]["value"] < order["blank_mass"]["value"]
    assert order["net_mass"]["value"] < order["used_mass"]["value"] <= order["stock_mass"]["value"] * (1.0 + 1e-9)
    assert 0.0 < order["yield_of_stock"] <= order["yield_of_used"] < 1.0
    assert order["pieces_to_make"] >= pieces
    assert order["pieces_to_make"] * (1.0 - rejects) >= pieces - 1e-6
    assert (order["pieces_to_make"] - 1) * (1.0 - rejects) < pieces
    assert order["pieces_per_length"] * (order["stock_lengths"] - 1) < order["pieces_to_make"]
    assert order["pieces_to_make"] <= order["pieces_per_length"] * order["stock_lengths"]
    assert blank["outer_diameter"]["value"] >= blank["least_outer_diameter"]["value"] > part["outer_diameter"]["value"]
    if blank["form"] == "tube":
        assert (
            blank["inner_diameter"]["value"]
            <= blank["greatest_inner_diameter"]["value"]
            < part["inner_diameter"]["value"]
        )
    else:
        assert blank["inner_diameter"] is None
    assert answer["verdict"] == "pass"


def test_twice_as_dense_is_twice_as_heavy_and_nothing_else() -> None:
    light, heavy = (
        estimate(question(design={"compound_properties": {"density": q(density, "g/cm3")}})) for density in (1.5, 3.0)
    )
    for key in ("blank_mass", "used_mass", "stock_mass", "net_mass"):
        assert heavy["allocation"][key]["value"] == pytest.approx(2.0 * light["allocation"][key]["value"], rel=1e-9)
    for key in ("pieces_to_make", "pieces_per_length", "stock_lengths", "yield_of_used", "yield_of_stock"):
        assert heavy["allocation"][key] == light["allocation"][key]
    assert heavy["blank"] == light["blank"]


def test_a_seal_and_its_stock_scale_together() -> None:
    """All lengths twice as great: the same counts and yields, eight times the mass; of a flange, since O-rings do not scale."""
    asked = {**BY_HAND, "design": {**FLANGE["design"], "compound_properties": {"density": q(2.0, "g/cm3")}}}

    def scaled(node: Any) -> Any:
        if isinstance(node, dict):
            if node.get("unit") == "mm":
                return q(2.0 * node["value"], "mm")
            return {key: scaled(value) for key, value in node.items()}
        return node

    small, large = estimate(asked), estimate(scaled(asked))
    for key in ("pieces_to_make", "pieces_per_length", "stock_lengths"):
        assert large["allocation"][key] == small["allocation"][key]
    assert large["allocation"]["yield_of_used"] == pytest.approx(small["allocation"]["yield_of_used"], rel=1e-9)
    for key in ("net_mass", "stock_mass"):
        assert large["allocation"][key]["value"] == pytest.approx(8.0 * small["allocation"][key]["value"], rel=1e-9)


def test_a_small_seal_is_turned_from_rod_and_a_large_one_from_tube() -> None:
    forms = []
    for diameter in (10.0, 300.0):
        request = question()
        request["duty"]["shaft_diameter"], request["duty"]["bore"] = q(diameter, "mm"), {}
        forms.append(estimate(request)["blank"]["form"])
    assert forms == ["rod", "tube"]


def test_an_extended_heel_is_wider_and_a_case_takes_its_walls() -> None:
    energized = {"family": "energized_lip", "compound": "ptfe_glass_15"}
    standard, extended = (estimate(question(design={**energized, "heel": heel})) for heel in ("standard", "extended"))
    assert extended["finished"]["axial_width"]["value"] > standard["finished"]["axial_width"]["value"]
    pressed = estimate(question(design={"retention": "press_fit_case"}))
    assert 60.0 < pressed["finished"]["outer_diameter"]["value"] < 80.0


@pytest.mark.parametrize(
    ("design", "expected"),
    [
        ({"second_lip": "none", "retention": "o_ring"}, {"main_lip": 1, "o_ring_groove": 1, "lead_in_chamfers": 2}),
        (
            {"second_lip": "redundant", "lip_tip": "upturned_with_garter", "reinforcing_band": True, "retention": "clamped_flange"},
            {"redundant_lip": 1, "garter_groove": 1, "upturned_tip": 1, "band_seat": 1, "clamped_faces": 2, "lead_in_chamfers": 1},
        ),
        ({"second_lip": "excluder", "retention": "press_fit_case"}, {"excluder": 1, "case_seat": 1}),
        (
            {"family": "energized_lip", "lip_form": "scraper", "heel": "extended", "energizer": "canted_coil"},
            {"spring_groove": 1, "scraper_edge": 1, "heel_step": 1, "static_leg": 1},
        ),
        ({"family": "energized_lip", "lip_form": "tapered"}, {"lip_taper": 1}),
    ],
)  # fmt: skip
def test_features_follow_the_design(design: Request, expected: dict[str, int]) -> None:
    found = {item["feature"]: item["count"] for item in estimate(question(design=design))["features"]}
    assert expected.items() <= found.items()
    absent = {"redundant_lip", "excluder", "garter_groove", "band_seat", "spring_groove", "heel_step", "scraper_edge",
              "lip_taper", "o_ring_groove", "clamped_faces", "case_seat"} - set(expected)  # fmt: skip
    usual = {"o_ring_groove"} if design.get("retention", "o_ring") == "o_ring" else set()
    energized = {"spring_groove"} if design.get("family") == "energized_lip" else set()
    assert not (absent - usual - energized) & set(found)


def test_tight_stock_is_a_caution() -> None:
    answer = estimate(question(stock={"outer_diameter": q(81.0, "mm")}))
    assert answer["verdict"] == "caution"
    assert "less than the usual allowance" in answer["summary"]


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"stock": {"outer_diameter": q(79.0, "mm")}}, "/stock/outer_diameter"),
        ({"stock": {"form": "tube", "inner_diameter": q(60.0, "mm")}}, "/stock/inner_diameter"),
        ({"stock": {"form": "rod", "inner_diameter": q(20.0, "mm")}}, "/stock/inner_diameter"),
        ({"stock": {"outer_diameter": q(90.0, "mm"), "inner_diameter": q(90.0, "mm")}}, "/stock/inner_diameter"),
        ({"stock": {"length": q(15.0, "mm")}}, "/stock/length"),
        ({"duty": {"shaft_diameter": q(8.0, "mm"), "bore": {}}, "stock": {"form": "tube"}}, "/stock/form"),
        *(
            ({"duty": {"bore": {"diameter": q(61.0, "mm")}}, "design": design}, "/duty/bore/diameter")
            for design in (
                {},
                {"retention": "press_fit_case"},
                {"retention": "clamped_flange"},
                {"family": "energized_lip"},
                {"lip_tip": "upturned_with_garter", "second_lip": "redundant", "reinforcing_band": True},
            )
        ),
        ({"duty": {"bore": {}}, "design": {"lip_thickness": q(9.0, "mm")}}, "/design/lip_thickness"),
        ({"axial_width": q(1.0, "mm"), "design": {"family": "energized_lip"}}, "/axial_width"),
        ({"rates": {"currency": "EUR", "machine_per_hour": 50.0}}, "/rates/machine_time_per_piece"),
    ],
)
def test_what_cannot_be_made_is_refused(changes: dict[str, Any], pointer: str) -> None:
    answer = client().post("/v1/blank-estimates", json=question(**changes))
    assert_problem(answer, 422, "out-of-domain", pointer)


def test_a_seal_of_any_size_is_weighed_or_refused() -> None:
    """Bores from nothing to far above the lip, widths and lips of any size: a part within its ring, or words that say why."""
    chance, told = random.Random(20260102), Counter[str]()
    features: list[Request] = [
        {},
        {"lip_tip": "upturned_with_garter"},
        {"second_lip": "redundant"},
        {"reinforcing_band": True},
    ]
    for k in range(200):
        design = {**DESIGNS[k % len(DESIGNS)]}
        if design["family"] == "flexible_lip":
            design.update(chance.choice(features))
        if chance.random() < 0.3:
            design["lip_thickness"] = q(10.0 ** chance.uniform(-0.6, 0.8), "mm")
        shaft = 10.0 ** chance.uniform(0.7, 2.9)
        request = question(axial_width=q(10.0 ** chance.uniform(-0.3, 1.6), "mm"))
        request["design"] = design
        request["duty"].update(
            shaft_diameter=q(shaft, "mm"), bore={"diameter": q(shaft + 10.0 ** chance.uniform(-1.0, 1.7), "mm")}
        )
        answer = client().post("/v1/blank-estimates", json=request)
        if answer.status_code == 422:
            assert answer.json()["errors"][0]["pointer"] in {
                "/duty/bore/diameter",
                "/axial_width",
                "/design/lip_thickness",
            }
            told["refused"] += 1
            continue
        part = estimate(request)["finished"]
        d, inner, w = (part[key]["value"] for key in ("outer_diameter", "inner_diameter", "axial_width"))
        assert 0.0 < 1e3 * part["volume"]["value"] < math.pi / 4.0 * (d**2 - inner**2) * w
        told["weighed"] += 1
    assert min(told.values()) > 40, told


def test_the_part_has_the_size_that_its_drawing_and_its_gland_have() -> None:
    """Outside by the body of the gland, which a case makes smaller by its walls, width by the series where none is stated."""
    for design in DESIGNS:
        request = question()
        request["design"], request["duty"]["bore"] = design, {}
        answer = estimate(request)
        gland = client().post("/v1/gland-checks", json={key: request[key] for key in ("duty", "design")}).json()
        part, outer = answer["finished"], gland["body"]["nominal"]["value"]
        width = gland["seal_width"]["value"]
        if design.get("retention") == "press_fit_case":
            wall = gland["press_fit"]["wall_thickness"]["value"]
            outer, width = gland["press_fit"]["outer_diameter"]["nominal"]["value"] - 2.0 * wall, width - wall
        assert part["outer_diameter"]["value"] == pytest.approx(outer, rel=1e-9)
        stands_out = any("stands out of its face" in note for note in answer["notes"])
        assert stands_out or part["axial_width"]["value"] == pytest.approx(width, rel=1e-9)
        supplied = {item["field"]: item for item in answer["assumptions"]}
        same = {item["field"]: item for item in gland["assumptions"]}
        assert supplied["/duty/bore/diameter"] == same["/duty/bore/diameter"]
        assert supplied["/axial_width"] == {**same["/gland/seal_width"], "field": "/axial_width"}


def test_a_gland_that_cannot_be_worked_out_is_said() -> None:
    """Beyond what is known of expansion there is a usual bore and width, and a note that says so."""
    request = question(duty={"temperature": {"normal": q(320.0, "degC")}, "bore": {}})
    answer = estimate(request)
    assert any(note.startswith("The gland could not be worked out (") for note in answer["notes"])
    assert {"/duty/bore/diameter", "/axial_width"} <= {item["field"] for item in answer["assumptions"]}
    assert not any("could not be worked out" in note for note in estimate(question())["notes"])


@pytest.mark.parametrize(("field", "value"), [("pieces", 0), ("pieces", 1.5), ("rates", {"currency": "eur"})])
def test_shape_of_the_request(field: str, value: Any) -> None:
    answer = client().post("/v1/blank-estimates", json=question(**{field: value}))
    assert_problem(answer, 422, "invalid-request")


def test_stated_values_are_not_reported_as_assumed() -> None:
    fields = {item["field"] for item in estimate(BY_HAND)["assumptions"]}
    assert fields == set()
    assert {"/allowances/outer", "/stock/form", "/stock/length", "/axial_width"} <= {
        item["field"] for item in estimate(question())["assumptions"]
    }


@pytest.mark.parametrize(
    "item", [item for item in load_examples() if item.operation == "estimate_blank"], ids=lambda item: item.name
)
def test_examples_run(item: Any) -> None:
    assert estimate(item.request)["verdict"] == "pass"
