"""The gap behind a seal where no hardware is stated: judged over the closest throat, and asked for as a requirement."""

from __future__ import annotations

from typing import Any

import pytest
from glandwise.case.hardware_intake import Bridged, greatest_clearance, throat_fit, usual_clearance

from tests.questions.support import criteria, energized, merged, post, q, rules


def swivel(bar: float, celsius: float = 80.0, **duty: Any) -> dict[str, Any]:
    """An 80 mm swivel in oil, hardly turning."""
    return merged(
        energized(heel="standard"),
        duty={
            "shaft_diameter": q(80, "mm"), "pressure": q(bar, "bar"), "fluid": "mineral_oil_hydraulic",
            "motion": {"kind": "rotation", "rotational_speed": q(30, "rpm")},
            "temperature": {"normal": q(celsius, "degC")}, **duty,
        },
    )  # fmt: skip


def gap_of(request: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = criteria(post("check_envelope", request))["extrusion_gap"]
    return found


def test_what_is_judged_is_the_throat_that_the_gland_check_would_judge_if_it_were_stated() -> None:
    fit = max(rules().data.gland.throat_fits.values(), key=lambda item: item.pressure_from.si)
    request = swivel(200.0)
    stated = {
        "shaft_tolerance": {"kind": "class", "name": fit.shaft.name},
        "throat_diameter": {
            "nominal": q(80.02, "mm"), "plus": q(0.010, "mm"), "minus": q(0, "mm"),
        },
    }  # fmt: skip
    request["duty"]["bore"] = {"material": fit.housing.name}
    alone = gap_of(request)
    gland = criteria(post("check_gland", {**request, "gland": stated}))["extrusion_gap"]
    # the bore of the gland has a tolerance of its own, by which its opening widens a little less
    assert alone["capacity"]["value"] == pytest.approx(gland["capacity"]["value"], rel=2e-3)
    assert "closest throat" in alone["reason"]
    assert "requirement" in alone["reason"]


def test_pressure_of_a_swivel_is_no_failure_of_hardware_that_nobody_stated() -> None:
    assert gap_of(swivel(200.0))["status"] == "pass"
    hot = gap_of(swivel(680.0, 120.0))
    assert hot["status"] == "fail"
    assert hot["evidence"] == "house_estimate"
    assert {"iso-286-1", "von-mises"} <= set(hot["sources"])


def test_no_pressure_and_a_vacuum_use_nothing() -> None:
    for bar in (0.0, -0.5):
        found = gap_of(swivel(bar))
        assert found["utilization"] == 0.0
        assert found["status"] == "pass"


def test_a_stated_offset_counts_as_far_as_the_throat_lets_it() -> None:
    def used(**duty: Any) -> float:
        return float(gap_of(swivel(200.0, **duty))["utilization"])

    nothing = {"runout": q(0, "mm")}
    centred, off, beyond = (used(offset=q(e, "mm"), **nothing) for e in (0.0, 0.02, 1.0))
    assert centred < off < beyond
    not_stated = swivel(200.0)
    not_stated["duty"].pop("offset", None)
    assert beyond == pytest.approx(float(gap_of(not_stated)["utilization"]))
    assert used(offset=q(0, "mm"), runout=q(0.04, "mm")) == pytest.approx(off)


def test_a_heel_that_bridges_little_asks_for_a_closer_fit() -> None:
    data, d = rules().data, 0.08
    usual = usual_clearance(data, d)
    share = data.gland.extrusion.fit_share.si
    assert throat_fit(data, d, 5e5, Bridged(1.01 * usual / share, ())) is None
    fits = sorted(data.gland.throat_fits.items(), key=lambda item: item[1].pressure_from.si)
    clearances = [greatest_clearance(data, fit, d) for _, fit in fits]
    assert clearances == sorted(clearances, reverse=True)
    for at, clearance in enumerate(clearances):
        found = throat_fit(data, d, 5e5, Bridged(1.01 * clearance / share, (("compound", object()),)))
        assert found is not None
        assert found.path == f"gland.throat_fits.{fits[at][0]}"
        assert "compound" in dict(found.chosen_by)
    closest = throat_fit(data, d, 5e5, Bridged(0.0, ()))
    assert closest is not None
    assert closest.path == f"gland.throat_fits.{fits[-1][0]}"


def test_shafts_beyond_half_a_metre_are_judged() -> None:
    found = gap_of(merged(swivel(50.0), duty={"shaft_diameter": q(700, "mm")}))
    assert found["status"] in {"pass", "caution", "fail"}
    assert found["utilization"] is not None
