"""What to expect in running: torque to start, a dry run, the class of leakage."""

from __future__ import annotations

import re
from typing import Any

import pytest
from glandwise.contract.enquiry import EnquiryRequest
from glandwise.questions.enquiry import operation

from tests.questions.support import engine, keeps_schema, post, q, rules, si

KNOWN: dict[str, Any] = {
    "runout": q(0.02, "mm"), "offset": q(0.02, "mm"), "contaminants": "clean",
    "shaft": {"roughness": q(0.2, "um"), "hardness": q(60, "HRC"), "machining_lead": "none"},
}  # fmt: skip


def request(**duty: Any) -> dict[str, Any]:
    """An invented pump shaft of 50 mm in water."""
    given: dict[str, Any] = {
        "shaft_diameter": q(50, "mm"), "motion": {"kind": "rotation", "rotational_speed": q(1500, "rpm")},
        "pressure": q(1, "bar"), "temperature": {"normal": q(50, "degC")}, "fluid": "water",
    }  # fmt: skip
    return {
        "duty": {**given, **duty},
        "design": {"family": "energized_lip", "compound": "ptfe_carbon_25", "retention": "clamped_flange"},
    }


def expected(**duty: Any) -> dict[str, Any]:
    result = operation.answer(EnquiryRequest.model_validate(request(**duty)), engine())
    keeps_schema("answer_enquiry", result)
    items = {item["id"]: item for item in result["expectations"]}
    assert len(items) == len(result["expectations"])
    assert sum(name.startswith("leakage") for name in items) == 1
    assert all(
        item["text"].endswith(".") and item["reason"].endswith(".") and item["sources"] for item in items.values()
    )
    return items


def test_a_start_asks_for_more_than_running_and_more_in_the_cold() -> None:
    start = expected()["start_torque"]
    levels = post("estimate_friction", request())["levels"]
    high = next(level for level in levels if level["level"] == "high")
    assert si(start["value"], "torque") > si(high["torque"], "torque")
    cold = expected(temperature={"normal": q(50, "degC"), "minimum": q(-20, "degC")})["start_torque"]
    assert si(cold["value"], "torque") > si(start["value"], "torque")
    assert "-20 degC" in cold["text"]


def test_a_start_is_that_of_the_gland_check() -> None:
    """The same lip under the same pressure: what may turn the seal is what the motor has to overcome."""
    body = request()
    states = post("check_gland", body)["rotation"]["states"]
    cold = max(si(state["lip_torque"], "torque") for state in states if state["state"] == "cold_start")
    assert si(expected()["start_torque"]["value"], "torque") == pytest.approx(cold, rel=1e-6)


def dry_run(rpm: float, **duty: Any) -> dict[str, Any] | None:
    """Hot oil, so that little room is left to the compound."""
    hot = {"fluid": "mineral_oil_gear", "temperature": {"normal": q(230, "degC")}}
    motion = {"kind": "rotation", "rotational_speed": q(rpm, "rpm")}
    return expected(**{**hot, "motion": motion, **duty}).get("dry_run")


def test_a_dry_run_is_the_shorter_the_more_friction_makes_and_none_for_what_is_dry_anyhow() -> None:
    slow, fast, faster = dry_run(300), dry_run(1700), dry_run(3000)
    assert slow is not None
    assert fast is not None
    assert faster is not None
    assert slow["value"] is None
    assert "wear alone" in slow["text"]
    assert fast["value"] is not None
    assert re.search(r"for about \d+ (s|min|h), once", fast["text"])
    assert faster["value"] is None
    assert "not for a second" in faster["text"]
    assert dry_run(1500, fluid="nitrogen") is None
    assert dry_run(1500, lubrication="dry") is None


def test_leakage_is_a_class_and_never_a_number() -> None:
    tight = expected(**KNOWN)
    assert "leakage_drop_tight" in tight
    assert "leakage_weeping" in expected()
    lead = {**KNOWN, "shaft": {**KNOWN["shaft"], "machining_lead": "present"}}
    assert "machining lead" in expected(**lead)["leakage_open"]["reason"]
    gas = expected(fluid="nitrogen", **KNOWN)["leakage_gas"]
    assert "mbar l/s" in gas["text"]
    for item in (tight["leakage_drop_tight"], gas):
        assert item["value"] is None


def test_gas_leaks_more_under_more_pressure() -> None:
    """Ends of the order as powers of ten: pressure squared times the cube of the slit."""

    def order(bar: float) -> tuple[str, str]:
        text = expected(fluid="nitrogen", **{**KNOWN, "pressure": q(bar, "bar")})["leakage_gas"]["text"]
        low, high = text.partition("order of ")[2].split(" mbar")[0].split(" to ")
        return low, high

    slit = rules().data.requirements.leak_slit
    (low, high), (low_10, high_10) = order(1.0), order(100.0)
    assert float(low) < float(high)
    assert float(low_10) > float(low)
    assert float(high_10) > float(high)
    assert float(high) / float(low) == pytest.approx((slit.si_high / slit.si_low) ** 3, rel=10.0)
