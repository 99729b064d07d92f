"""PTFE or not? Other kinds of seal, each with its limits on both sides."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from glandwise.contract.duty import Duty
from glandwise.questions.alternatives.found import Alternative, alternatives
from glandwise.units import UnitSystem

from tests.questions.support import rules

OIL = {"fluid": "mineral_oil_hydraulic"}


def duty(
    fluid: str = "mineral_oil_hydraulic", bar: float = 0.2, speed: float = 8.0, hottest: float = 90.0, **more: Any
) -> Duty:
    """An invented duty."""
    return Duty.model_validate(
        {
            "shaft_diameter": {"value": 50.0, "unit": "mm"},
            "motion": {"kind": "surface", "surface_speed": {"value": speed, "unit": "m/s"}},
            "pressure": {"value": bar, "unit": "bar"},
            "temperature": {
                "normal": {"value": min(20.0, hottest), "unit": "degC"},
                "maximum": {"value": hottest, "unit": "degC"},
            },
            "fluid": fluid,
            **more,
        }
    )


def found(asked: Duty) -> dict[str, Alternative]:
    return {item.id: item for item in alternatives(asked, rules().data)}


@pytest.mark.parametrize(
    ("kind", "inside", "outside"),
    [
        ("elastomer_lip", {"bar": 0.3}, {"bar": 0.31}),
        ("elastomer_lip", {"bar": -0.3}, {"bar": -0.31}),
        ("elastomer_lip", {"speed": 29.9}, {"speed": 30.1}),
        ("elastomer_lip", {"hottest": 150.0}, {"hottest": 150.1}),
        ("elastomer_lip", {}, {"lubrication": "dry"}),
        ("elastomer_lip", {"fluid": "grease_lithium"}, {"fluid": "water"}),
        ("mechanical_face_seal", {"fluid": "water", "bar": 5.1, "speed": 1.0}, {"fluid": "water", "bar": 4.9, "speed": 1.0}),
        ("mechanical_face_seal", {"fluid": "toluene", "bar": 1.1, "speed": 1.0}, {"fluid": "water", "bar": 1.1, "speed": 1.0}),
        ("mechanical_face_seal", {"bar": 10.0, "speed": 2.1}, {"bar": 200.0, "speed": 0.4}),
        ("mechanical_face_seal", {"fluid": "steam", "bar": 5.0, "speed": 0.2}, {"fluid": "steam", "bar": 5.0, "speed": 0.03}),
        ("mechanical_face_seal", {"fluid": "milk", "bar": 6.0, "speed": 1.0}, {"fluid": "dough", "bar": 6.0, "speed": 1.0}),
        ("packing", {"hottest": 231.0}, {"hottest": 229.0}),
        ("packing", {"hottest": 201.0, "bar": 21.0}, {"hottest": 201.0, "bar": 19.0}),
        ("packing", {"fluid": "slurry_mineral", "speed": 1.0}, {"fluid": "water", "speed": 1.0}),
        ("packing", {"bar": 10.0, "speed": 0.004}, {"bar": 10.0, "speed": 0.1}),
        ("labyrinth", {"fluid": "air", "speed": 2.1}, {"fluid": "air", "speed": 1.9}),
        ("labyrinth", {"speed": 20.1}, {"speed": 19.9}),
        ("labyrinth", {"bar": 0.0, "speed": 10.1}, {"bar": 0.2, "speed": 10.1}),
        ("labyrinth", {"speed": 10.1, "contaminants": "abrasive"}, {"speed": 10.1, "contaminants": "dusty"}),
        ("labyrinth", {"bar": 40.0, "speed": 3.0}, {"bar": 20.0, "speed": 3.0}),
    ],
)  # fmt: skip
def test_each_limit_has_two_sides(kind: str, inside: dict[str, Any], outside: dict[str, Any]) -> None:
    assert kind in found(duty(**inside))
    assert kind not in found(duty(**outside))


def test_the_rubber_is_the_first_that_stands_it() -> None:
    cool, hot, fast = (found(duty(**more))["elastomer_lip"] for more in ({}, {"hottest": 120.0}, {"speed": 20.0}))
    si = UnitSystem("si")
    assert "of NBR" in cool.reason.written(si)
    assert "of FKM" in hot.reason.written(si)
    assert "plenty of oil" not in hot.reason.written(si)
    assert "of FKM" in fast.reason.written(si)
    assert "plenty of oil" in fast.reason.written(si)
    assert "needs care" not in cool.reason.written(si)
    # this ester attacks one and needs care with the other
    attacked = found(duty("phosphate_ester"))["elastomer_lip"].reason.written(si)
    assert "of FKM" in attacked
    assert "needs care with FKM" in attacked


def test_a_reason_holds_the_numbers_in_the_units_asked_for() -> None:
    item = found(duty("water", bar=3.0, speed=4.5))["mechanical_face_seal"]
    written = item.written(UnitSystem("si"))
    assert "1.35 MPa.m/s (0.3 MPa at 4.5 m/s)" in written["reason"]
    assert "0.5 MPa.m/s" in written["reason"]
    assert written["verdict"] == "sounder"
    assert written["evidence"] == "house_estimate"
    assert "ft" in item.written(UnitSystem("us"))["reason"]


def test_published_limits_are_named_with_their_source() -> None:
    written = found(duty())["elastomer_lip"].written(UnitSystem("si"))
    assert "neale-tribology-handbook-b23" in written["sources"]


def test_a_plain_slow_water_pump_needs_nothing_else() -> None:
    assert found(duty("water", bar=1.0, speed=0.2, hottest=40.0)) == {}


def test_a_title_with_braces_does_no_harm() -> None:
    data = copy.deepcopy(rules().data)
    object.__setattr__(data.fluids["slurry_mineral"], "title", "Slurry {p} {0}")
    (item,) = [
        item for item in alternatives(duty("slurry_mineral", speed=1.0, hottest=40.0), data) if item.id == "packing"
    ]
    assert "slurry {p} {0} carries solids" in item.reason.written(UnitSystem("si"))
