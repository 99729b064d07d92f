"""What turns a seal where no hardware is stated: judged by the most that an O-ring alone holds at a cold start."""

from __future__ import annotations

from typing import Any

import pytest
from glandwise.contract.gland import GlandCheckRequest
from glandwise.questions.gland.operation import answer

from tests.questions.support import criteria, energized, engine, flexible, merged, post, q


def held(d: float, bar: float, coldest: float, retention: str = "o_ring", seal: Any = energized) -> dict[str, Any]:
    """An enquiry over a seal in hydraulic oil, hardly turning."""
    return merged(
        seal(retention=retention),
        duty={
            "shaft_diameter": q(d, "mm"), "pressure": q(bar, "bar"), "fluid": "mineral_oil_hydraulic",
            "motion": {"kind": "rotation", "rotational_speed": q(30, "rpm")},
            "temperature": {"minimum": q(coldest, "degC"), "normal": q(40, "degC")},
        },
    )  # fmt: skip


def rotation_of(request: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = criteria(post("check_envelope", request))["seal_rotation"]
    return found


DUTIES = [(20, 0, 20), (35, 3, -20), (50, 0, -30), (80, 10, 0), (80, 50, 20), (120, 2, -20), (200, 0, 0), (300, 5, 10)]


@pytest.mark.parametrize(("d", "bar", "coldest"), DUTIES)
@pytest.mark.parametrize("seal", [energized, flexible])
def test_no_ring_that_is_proposed_holds_more_than_the_bound(d: float, bar: float, coldest: float, seal: Any) -> None:
    if seal is flexible and bar > 5:
        pytest.skip("no duty of a flexible lip")
    request = held(d, bar, coldest, seal=seal)
    alone = rotation_of(request)
    judged = answer(GlandCheckRequest.model_validate({**request, "gland": {}}), engine())
    torque, holding = judged.out["torque"], judged.out["holding"]
    at = 3 if "with the pressure on" in alone["reason"] else 0  # the cold start, seated or not
    assert alone["demand"]["value"] == pytest.approx(float(torque[at]), rel=1e-9)
    assert float(holding[at]) <= alone["capacity"]["value"]
    assert alone["utilization"] <= judged.by_id("seal_rotation").utilization


def test_a_large_cold_seal_shrinks_onto_its_shaft_and_off_its_o_ring() -> None:
    uses = [rotation_of(held(300, 0, coldest))["utilization"] for coldest in (20, 0, -20, -40)]
    assert uses == sorted(uses)
    assert uses[0] < 0.5
    cold = rotation_of(held(300, 0, -40))
    assert cold["status"] == "fail"
    assert "hardware is not stated" in cold["reason"]
    assert {"as568", "common-practice"} & set(cold["sources"]) or cold["sources"]
    assert cold["evidence"] == "house_estimate"


@pytest.mark.parametrize("retention", ["clamped_flange", "press_fit_case"])
def test_what_can_be_pinned_is_no_failure_without_its_hardware(retention: str) -> None:
    request = held(60, 0, -40, retention, flexible) if retention == "press_fit_case" else held(300, 0, -40, retention)
    found = rotation_of(request)
    assert (found["status"], found["utilization"], found["capacity"]) == ("pass", 0.0, None)
    assert found["demand"]["value"] > 0.0
    assert "pinned" in found["reason"]


def test_a_selection_does_not_hold_a_large_cold_seal_by_an_o_ring() -> None:
    duty = held(300, 0, -40)["duty"]
    found = post("select_design", {"duty": duty})
    kinds = {item["design"]["retention"] for item in found["ranked"]}
    assert kinds
    assert "o_ring" not in kinds
