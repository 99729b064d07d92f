"""Which way a lip points: to the greater pressure, which presses it on, be that the fluid or the air."""

from __future__ import annotations

from typing import Any

import pytest

from tests.questions.support import call

FLEXIBLE = {"family": "flexible_lip", "compound": "ptfe_glass_15"}
ENERGIZED = {"family": "energized_lip", "compound": "ptfe_carbon_fibre_15"}
SIZES = {
    "lip_thickness": {"value": 0.5, "unit": "mm"}, "lip_length": {"value": 4.0, "unit": "mm"},
    "interference": {"value": 0.8, "unit": "mm"},
}  # fmt: skip


def question(design: dict[str, Any], bar: float, fluid: str = "air", **sizes: Any) -> dict[str, Any]:
    ends = {name: {"value": 40.0, "unit": "degC"} for name in ("minimum", "normal", "maximum")}
    return {
        "duty": {
            "shaft_diameter": {"value": 40.0, "unit": "mm"},
            "motion": {"kind": "rotation", "rotational_speed": {"value": 100.0, "unit": "rpm"}},
            "pressure": {"value": bar, "unit": "bar"}, "temperature": ends, "fluid": fluid,
            "runout": {"value": 0.03, "unit": "mm"}, "offset": {"value": 0.05, "unit": "mm"},
        },
        "design": {**design, **sizes},
    }  # fmt: skip


def by_id(request: dict[str, Any]) -> dict[str, Any]:
    return {item["id"]: item for item in call("check_envelope", request)["criteria"]}


@pytest.mark.parametrize("design", [FLEXIBLE, ENERGIZED])
@pytest.mark.parametrize("sizes", [SIZES, {}])
def test_a_vacuum_before_a_lip_turned_to_the_air_is_a_pressure(design: dict[str, Any], sizes: dict[str, Any]) -> None:
    """Use, load, torque and life are those of the same pressure in the fluid; a gas of another density cools a little else."""
    here = question({**design, "lip_direction": "toward"}, 0.9, **sizes)
    there = question({**design, "lip_direction": "away"}, -0.9, **sizes)
    one, two = by_id(here), by_id(there)
    for name in ("pressure", "vacuum", "pressure_velocity", "lip_stress", "contact_load"):
        assert one[name]["utilization"] == pytest.approx(two[name]["utilization"], rel=1e-6), name
    assert one["vacuum"]["utilization"] == 0.0 < one["pressure"]["utilization"]
    torques = [call("estimate_friction", item)["levels"][1]["torque"]["value"] for item in (here, there)]
    lives = [call("estimate_wear", item)["life"]["nominal"]["value"] for item in (here, there)]
    assert torques[0] == pytest.approx(torques[1], rel=0.03)
    assert lives[0] == pytest.approx(lives[1], rel=0.03)


@pytest.mark.parametrize("design", [FLEXIBLE, ENERGIZED])
def test_pressure_from_behind_a_lip_is_reversed_wherever_it_comes_from(design: dict[str, Any]) -> None:
    one = by_id(question({**design, "lip_direction": "toward"}, -0.9, **SIZES))
    two = by_id(question({**design, "lip_direction": "away"}, 0.9, **SIZES))
    for found in (one, two):
        assert found["pressure"]["utilization"] == 0.0
        assert found["vacuum"]["utilization"] > 0.8
    assert one["vacuum"]["utilization"] == pytest.approx(two["vacuum"]["utilization"])


def test_a_flexible_lip_that_a_vacuum_lifts_is_turned_round_by_the_first_change() -> None:
    found = by_id(question({**FLEXIBLE, "lip_direction": "toward"}, -0.9, **SIZES))
    assert found["vacuum"]["status"] == "fail"
    first = found["vacuum"]["remedies"][0]
    assert (first["change"], first["design"]) == ("turn_lip_to_the_air", {"lip_direction": "away"})
    turned = by_id(question({**FLEXIBLE, "lip_direction": "away"}, -0.9, **SIZES))
    assert turned["vacuum"]["status"] == "pass"


@pytest.mark.parametrize(
    ("fluid", "bar", "direction"),
    [
        ("air", 0.5, "toward"), ("air", 0.0, "toward"), ("air", -0.05, "away"), ("argon", -1.0, "away"),
        ("mineral_oil_hydraulic", -0.1, "toward"), ("mineral_oil_hydraulic", -0.49, "toward"),
        ("mineral_oil_hydraulic", -0.5, "away"), ("grease_lithium", -0.2, "toward"), ("vegetable_oil", 2.0, "toward"),
    ],
)  # fmt: skip
def test_a_selection_turns_the_lip_to_the_greater_pressure(fluid: str, bar: float, direction: str) -> None:
    """Common practice, no source: a vacuum seal points to the air. A liquid at rest has to be held against a slight vacuum."""
    found = call("select_design", {"duty": question(FLEXIBLE, bar, fluid)["duty"], "limit": 20})
    assert found["ranked"]
    for row in [*found["ranked"], *found["near_misses"]]:
        assert row["design"]["lip_direction"] == direction
        assert ("turned to the air side" in row["title"]) == (direction == "away")


def test_a_full_vacuum_is_usual_for_a_spring() -> None:
    """House estimate: up to 0.3 bar a lip without a spring is as usual as one with."""
    for bar, usual in ((-0.2, 1.0), (-0.65, 0.5), (-1.0, 0.0)):
        rows = call("select_design", {"duty": question(FLEXIBLE, bar)["duty"], "limit": 100})["ranked"]
        scores = {row["scores"]["practice"] for row in rows if row["design"]["family"] == "flexible_lip"}
        assert all(score <= usual + 1e-6 for score in scores)
        springs = {row["scores"]["practice"] for row in rows if row["design"]["family"] == "energized_lip"}
        assert springs <= {1.0}
        assert scores or springs
