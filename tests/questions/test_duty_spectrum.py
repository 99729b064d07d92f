"""Duty spectra: one phase is a single duty, and what several add up to."""

from __future__ import annotations

import copy
from functools import cache
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from glandwise.app import create_app
from glandwise.contract.duty_spectrum import SpectrumResult
from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import assert_problem, example, load_examples
from tests.laws import laws
from tests.questions.support import fixed

Request = dict[str, Any]


@cache
def client() -> TestClient:
    return TestClient(create_app())


def post(path: str, request: Request) -> Any:
    answer = client().post(path, json=request)
    assert answer.status_code == 200, answer.text
    return answer.json()


def assess(request: Request) -> Any:
    answer = post("/v1/duty-spectra", request)
    SpectrumResult.model_validate(answer)
    return answer


def q(value: float, unit: str) -> dict[str, Any]:
    return {"value": value, "unit": unit}


def rotation(rpm: float) -> Request:
    return {"kind": "rotation", "rotational_speed": q(rpm, "rpm")}


def question(*phases: Request, **changes: Any) -> Request:
    request: Request = {
        "duty": {
            "shaft_diameter": q(60.0, "mm"),
            "motion": rotation(240.0),
            "pressure": q(0.3, "bar"),
            "temperature": {"minimum": q(5.0, "degC"), "normal": q(45.0, "degC"), "maximum": q(70.0, "degC")},
            "fluid": "mineral_oil_gear",
            "contaminants": "clean",
            "runout": q(0.03, "mm"),
            "offset": q(0.05, "mm"),
            "shaft": {
                "material": "steel_hardened",
                "hardness": q(62.0, "HRC"),
                "roughness": q(0.25, "um"),
                "machining_lead": "none",
            },
        },
        "design": {"family": "flexible_lip", "compound": "ptfe_glass_15", "retention": "clamped_flange"},
        "phases": list(phases),
        **changes,
    }
    return copy.deepcopy(request)


ENERGIZED = {"family": "energized_lip", "compound": "ptfe_carbon_graphite_25", "retention": "o_ring"}
SWING = {"kind": "oscillation", "half_amplitude": q(30.0, "deg"), "frequency": q(1.0, "Hz")}
SINGLE: dict[str, tuple[Request, Request]] = {
    "flexible": ({}, {}),
    "energized": ({"design": ENERGIZED}, {"motion": rotation(30.0), "pressure": q(8.0, "MPa")}),
    "swinging": ({"design": ENERGIZED}, {"motion": SWING, "temperature": {"normal": q(20.0, "degC")}}),
    "standing": ({}, {"motion": rotation(0.0)}),
    "target and allowance": ({"target_life": q(3000.0, "h"), "wear_allowance": q(0.1, "mm")}, {}),
    "own surroundings": (
        {"surroundings": {"ambient_temperature": q(-10.0, "degC"), "shaft_length": q(40.0, "mm")}},
        {},
    ),
}


@pytest.mark.parametrize("name", SINGLE)
def test_one_phase_for_all_time_is_the_single_duty(name: str) -> None:
    changes, phase = SINGLE[name]
    request = question({"share": q(1.0, "1"), **phase}, **changes)
    answer = assess(request)
    single = {**request, "duty": {**request["duty"], **phase}}
    single.pop("phases")
    shared = {key: single[key] for key in ("duty", "design")}
    check = post("/v1/envelope-checks", shared)
    around = {key: single[key] for key in ("surroundings",) if key in single}
    friction = post("/v1/friction-estimates", {**shared, **around})
    wear = post("/v1/wear-estimates", {**single})
    (found,) = answer["phases"]
    assert found["verdict"] == check["verdict"]
    assert answer["governing"] == found["governing"] == check["governing"]
    for mine, theirs in zip(answer["criteria"], check["criteria"], strict=True):
        assert {key: mine[key] for key in ("id", "title", "status", "utilization")} == {
            key: theirs[key] for key in ("id", "title", "status", "utilization")
        }
    levels = {level["level"]: level for level in friction["levels"]}
    assert answer["mean_power"] == {name: level["power"] for name, level in levels.items()}
    assert answer["mean_torque"] == found["torque"] == levels["nominal"]["torque"]
    assert answer["greatest_torque"] == levels["high"]["torque"]
    assert found["contact_temperature"] == levels["nominal"]["contact_temperature"] == wear["contact_temperature"]
    for key in (
        "wear_per_1000_h",
        "wear_allowance",
        "allowance_by",
        "target_life",
        "life_probability",
        "sliding_distance_per_1000_h",
    ):
        assert answer[key] == wear[key], key
    for end in ("short", "sure", "nominal", "long"):
        if wear["life"][end] is None:
            assert answer["life"][end] is None
        else:
            assert answer["life"][end]["value"] == pytest.approx(wear["life"][end]["value"], rel=1e-9)
    assert answer["life_verdict"] == wear["verdict"]
    assert answer["rest_share"] == 0.0


@laws(15)
@given(st.floats(0.05, 1.0), st.integers(1, 4))
def test_the_same_phase_cut_into_pieces_changes_nothing_but_time(share: float, pieces: int) -> None:
    whole = assess(question({"share": q(1.0, "1")}))
    parts = assess(question(*[{"share": q(share / pieces, "1")} for _ in range(pieces)]))
    assert parts["rest_share"] == pytest.approx(1.0 - share, abs=1e-9)
    for end in ("low", "nominal", "high"):
        assert parts["mean_power"][end]["value"] == pytest.approx(share * whole["mean_power"][end]["value"], rel=1e-8)
        assert parts["wear_per_1000_h"][end]["value"] == pytest.approx(
            share * whole["wear_per_1000_h"][end]["value"], rel=1e-8
        )
    for end in ("short", "nominal", "long"):
        longer = min(whole["life"][end]["value"] / share, whole["life"]["longest"]["value"])
        assert parts["life"][end]["value"] == pytest.approx(longer, rel=1e-8)
    assert parts["mean_torque"]["value"] == pytest.approx(whole["mean_torque"]["value"], rel=1e-8)
    assert [phase["wear_share"] for phase in parts["phases"]] == pytest.approx([1.0 / pieces] * pieces)


SEVERAL = (
    {"name": "run", "share": q(0.5, "1"), "starts_per_hour": 4.0},
    {"name": "slow", "share": q(0.2, "1"), "motion": rotation(30.0), "pressure": q(1.0, "bar")},
    {"name": "hot", "share": q(10.0, "%"), "temperature": {"normal": q(120.0, "degC"), "maximum": q(150.0, "degC")}},
    {"name": "surge", "share": q(0.0, "1"), "pressure": q(6.0, "bar")},
)


def sized_by_the_hardest(request: Request, bar: float = 6.0) -> Request:
    """The design with the sizes of the one seal of all phases: for the greatest pressure and the widest temperatures."""
    hardest = {
        "pressure": q(bar, "bar"),
        "temperature": {"minimum": q(5.0, "degC"), "normal": q(120.0, "degC"), "maximum": q(150.0, "degC")},
    }
    design: Request = fixed({"duty": {**request["duty"], **hardest}, "design": request["design"]})["design"]
    return design


def test_each_criterion_is_taken_from_its_worst_phase() -> None:
    request = question(*SEVERAL)
    answer = assess(request)
    design = sized_by_the_hardest(request)
    singles = []
    for phase in SEVERAL:
        own = {key: phase[key] for key in ("motion", "pressure", "temperature") if key in phase}
        singles.append(post("/v1/envelope-checks", {"duty": {**request["duty"], **own}, "design": design}))
    rank = {"not_evaluated": -1, "pass": 0, "caution": 2, "fail": 3}
    for position, row in enumerate(answer["criteria"]):
        column = [single["criteria"][position] for single in singles]
        best = max(
            column,
            key=lambda item: (rank[item["status"]], -1.0 if item["utilization"] is None else item["utilization"]),
        )
        assert (row["status"], row["utilization"]) == (best["status"], best["utilization"])
        where = next(phase for phase in answer["phases"] if phase["name"] == row["phase"])
        there = next(item for item in where["criteria"] if item["id"] == row["id"])
        assert (there["status"], there["utilization"]) == (row["status"], row["utilization"])
    assert answer["verdict"] == "fail"
    assert answer["governing_phase"] == "surge"
    assert [phase["verdict"] for phase in answer["phases"]] == [single["verdict"] for single in singles]
    assert {item["id"]: item["phase"] for item in answer["criteria"]}["temperature_high"] == "hot"


def test_powers_and_wear_are_time_means_of_the_phases() -> None:
    answer = assess(question(*SEVERAL))
    shares = np.array([phase["share"] for phase in answer["phases"]])
    assert shares.tolist() == [0.5, 0.2, 0.1, 0.0]
    assert answer["rest_share"] == pytest.approx(0.2)
    power = np.array([phase["power"]["value"] for phase in answer["phases"]])
    torque = np.array([phase["torque"]["value"] for phase in answer["phases"]])
    assert answer["mean_power"]["nominal"]["value"] == pytest.approx(shares @ power, rel=1e-9)
    assert answer["mean_torque"]["value"] == pytest.approx(shares @ torque / shares.sum(), rel=1e-9)
    speed = np.array([phase["surface_speed"]["value"] for phase in answer["phases"]])
    assert answer["sliding_distance_per_1000_h"]["value"] == pytest.approx(shares @ speed * 3.6e6 * 1e3, rel=1e-9)
    design = sized_by_the_hardest(question(*SEVERAL))
    alone = np.array([depth_alone(phase, design) for phase in SEVERAL])
    assert answer["wear_per_1000_h"]["nominal"]["value"] == pytest.approx(shares @ alone, rel=1e-8)
    part = shares * alone
    assert [phase["wear_share"] for phase in answer["phases"]] == pytest.approx(part / part.sum(), rel=1e-8)


def alone(phase: Request, design: Request) -> Request:
    """The answer to a wear estimate of a phase that goes on for good, of the seal of all phases."""
    request = question(phase)
    own = {name: phase[name] for name in ("motion", "pressure", "temperature") if name in phase}
    answer: Request = post("/v1/wear-estimates", {"duty": {**request["duty"], **own}, "design": design})
    return answer


def depth_alone(phase: Request, design: Request) -> float:
    return float(alone(phase, design)["wear_per_1000_h"]["nominal"]["value"])


def test_each_phase_uses_up_its_share_of_the_life_it_would_have_alone() -> None:
    answer = assess(question(*SEVERAL[:3]))
    design = sized_by_the_hardest(question(*SEVERAL[:3]), 1.0)
    used = sum(
        share / alone(phase, design)["life"]["nominal"]["value"]
        for share, phase in zip((0.5, 0.2, 0.1), SEVERAL, strict=False)
    )
    assert answer["life"]["nominal"]["value"] == pytest.approx(1.0 / used, rel=1e-8)


def test_more_time_in_a_phase_never_makes_the_seal_last_longer() -> None:
    lives = [
        assess(question({"share": q(0.4, "1")}, {"share": q(share, "1"), "motion": rotation(900.0)}))["life"][
            "nominal"
        ]["value"]
        for share in (0.0, 0.05, 0.2, 0.6)
    ]
    assert lives == sorted(lives, reverse=True)
    assert lives[0] > 1.5 * lives[-1]


def test_starts_are_counted_and_no_damage_is_made_of_them() -> None:
    answer = assess(question(*SEVERAL))
    cycles = answer["cycles"]
    assert cycles["starts_per_1000_h"] == pytest.approx(0.5 * 4.0 * 1000.0)
    assert cycles["starts_in_life"] == pytest.approx(2.0 * answer["life"]["nominal"]["value"], rel=1e-9)
    assert cycles["pressure_swing"] == {"value": pytest.approx(0.03), "unit": "MPa"}
    assert cycles["phase_pressure_range"]["value"] == pytest.approx(0.6 - 0.03)
    run = answer["phases"][0]
    assert cycles["temperature_swing"]["value"] == pytest.approx(
        max(run["contact_temperature"]["value"] - 45.0, 0.0), abs=1e-6
    )
    without = assess(question(*[{**phase, "starts_per_hour": 0.0} for phase in SEVERAL]))
    assert {**without["cycles"], **dict.fromkeys(cycles, 0)} == dict.fromkeys(cycles, 0)
    assert without["cycles"]["pressure_swing"] is None
    for key in ("verdict", "life", "mean_power", "wear_per_1000_h"):
        assert without[key] == answer[key]


def test_nothing_runs() -> None:
    answer = assess(question({"share": q(0.0, "1")}))
    assert answer["mean_power"]["nominal"]["value"] == 0.0
    assert answer["mean_torque"] is None
    assert [answer["life"][end] for end in ("short", "nominal", "long")] == [None] * 3
    assert answer["phases"][0]["wear_share"] is None
    assert answer["rest_share"] == 1.0
    told = assess({**question({"share": q(0.0, "1")}), "working": True})
    assert told["working"]


def test_the_life_wanted_is_part_of_the_verdict() -> None:
    wears = {"family": "flexible_lip", "compound": "ptfe_unfilled", "retention": "clamped_flange"}
    passing = assess(question({"share": q(0.9, "1")}, design=wears))
    nominal, long = (passing["life"][end]["value"] for end in ("nominal", "long"))
    assert long < passing["life"]["longest"]["value"]
    for target, word in ((0.9 * nominal, "pass"), (1.1 * nominal, "caution"), (1.1 * long, "fail")):
        answer = assess(question({"share": q(0.9, "1")}, design=wears, target_life=q(target, "h")))
        assert answer["life_verdict"] == word
    assert answer["verdict"] == "fail"
    assert "life" in answer["summary"]


def test_a_short_life_is_conditional_where_none_is_asked_for() -> None:
    wears = {"family": "flexible_lip", "compound": "ptfe_unfilled", "retention": "clamped_flange"}
    answer = assess(question({"share": q(0.9, "1")}, design=wears))
    assert answer["life_probability"] < 0.5
    assert answer["life_verdict"] == "caution"
    assert answer["verdict"] == "caution"
    assert "taken as wanted" in answer["life_reason"]
    # time at rest stretches it
    rarely = assess(question({"share": q(0.01, "1")}, design=wears))
    assert rarely["life"]["nominal"]["value"] > 50.0 * answer["life"]["nominal"]["value"]
    assert rarely["life_probability"] > answer["life_probability"]


@pytest.mark.parametrize(
    ("phases", "kind", "pointer"),
    [
        ([{"share": q(0.6, "1")}, {"share": q(41.0, "%")}], "out-of-domain", "/phases"),
        ([{"name": "a", "share": q(0.1, "1")}, {"name": "a", "share": q(0.1, "1")}], "out-of-domain", "/phases"),
        ([], "invalid-request", "/phases"),
        ([{"share": q(0.1, "1"), "starts_per_hour": -1.0}], "invalid-request", "/phases/0/starts_per_hour"),
        ([{"share": q(1.2, "1")}], "out-of-domain", "/phases/0/share"),
    ],
)
def test_what_cannot_be_is_refused(phases: list[Request], kind: str, pointer: str) -> None:
    answer = client().post("/v1/duty-spectra", json=question(*phases))
    assert_problem(answer, 422, kind, pointer)


def test_shares_in_decimals_may_fill_all_of_the_time() -> None:
    assert assess(question(*[{"share": q(0.1, "1")} for _ in range(10)]))["rest_share"] == 0.0


def test_assumptions_of_a_phase_stand_under_the_phase() -> None:
    request = example("assess_spectrum", "agitator_drive")
    fields = [item["field"] for item in assess(request)["assumptions"]]
    assert "/phases/2/temperature/minimum" in fields
    assert len(fields) == len(set(fields))


@pytest.mark.parametrize(
    "item", [item for item in load_examples() if item.operation == "assess_spectrum"], ids=lambda item: item.name
)
def test_examples_run(item: Any) -> None:
    assert assess(item.request)["life"]["nominal"] is not None
