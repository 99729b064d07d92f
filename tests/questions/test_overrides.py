"""Properties of a compound given in the request: each changes what it should, everywhere, and is named as its source."""

from __future__ import annotations

from typing import Any

import pytest
from glandwise.case.override import overridden
from glandwise.contract.design import CompoundProperties
from glandwise.contract.running import HeatSurroundings
from glandwise.questions.friction.operation import levels_of, subject_of

from tests.questions.plain import Plain
from tests.questions.support import (
    assert_finite,
    call,
    case_of,
    criteria,
    energized,
    fixed,
    flexible,
    merged,
    post,
    q,
    refused,
    rules,
    si,
)


def given(request: dict[str, Any], **properties: Any) -> dict[str, Any]:
    return merged(request, design={"compound_properties": properties})


def ends(low: float, nominal: float, high: float, unit: str = "1") -> dict[str, Any]:
    return {"low": q(low, unit), "nominal": q(nominal, unit), "high": q(high, unit)}


RELAXATION = {
    "branches": [{"share": q(0.2, "1"), "time": q(1.0, "s")}, {"share": q(0.3, "1"), "time": q(1e6, "s")}],
    "reference_temperature": q(23.0, "degC"),
    "activation_energy": q(80.0, "kJ/mol"),
}
EVERY = {
    "elastic_modulus": q(900.0, "MPa"),
    "poisson_ratio": q(0.4, "1"),
    "yield_strength": q(25.0, "MPa"),
    "density": q(3.0, "g/cm3"),
    "thermal_conductivity": q(1.5, "W/m/K"),
    "relaxation": RELAXATION,
    "friction_coefficient": ends(0.03, 0.05, 0.07),
    "specific_wear_rate": ends(1e-7, 2e-7, 4e-7, "mm3/N/m"),
}
OPERATIONS = ["check_envelope", "allow_runout", "estimate_friction", "estimate_wear"]


def numbers_of(answer: Any, skip: tuple[str, ...] = ("stamp", "assumptions", "iterations")) -> Any:
    """The answer without what does not depend on the physics."""
    if isinstance(answer, dict):
        return {key: numbers_of(value) for key, value in answer.items() if key not in skip}
    return [numbers_of(item) for item in answer] if isinstance(answer, list) else answer


# whether an operation must answer otherwise when a property changes, at a duty where each matters
CHANGES = {
    "elastic_modulus": {"check_envelope", "allow_runout", "estimate_friction", "estimate_wear"},
    "poisson_ratio": {"check_envelope", "allow_runout", "estimate_friction", "estimate_wear"},
    "yield_strength": {"check_envelope", "estimate_friction"},  # the root of the heaviest lip yields
    "density": set(),
    "thermal_conductivity": {"check_envelope", "estimate_friction", "estimate_wear"},
    "relaxation": {"check_envelope", "allow_runout", "estimate_friction", "estimate_wear"},
    "friction_coefficient": {"check_envelope", "estimate_friction", "estimate_wear"},
    "specific_wear_rate": {"check_envelope", "estimate_wear"},
}


@pytest.mark.parametrize("name", list(EVERY))
@pytest.mark.parametrize("operation", OPERATIONS)
def test_a_property_changes_what_rests_on_it_and_nothing_else(operation: str, name: str) -> None:
    request = merged(
        flexible(), duty={"motion": {"kind": "surface", "surface_speed": q(6.0, "m/s")}, "pressure": q(30.0, "kPa")}
    )
    base, other = call(operation, request), call(operation, given(request, **{name: EVERY[name]}))
    assert_finite(other)
    if operation == "check_envelope":
        # sources name the request also where the number stays
        without = ("stamp", "assumptions", "sources", "evidence", "remedies")
        base, other = numbers_of(base, without), numbers_of(other, without)
        base["criteria"] = [{k: v for k, v in item.items() if k not in without} for item in base["criteria"]]
        other["criteria"] = [{k: v for k, v in item.items() if k not in without} for item in other["criteria"]]
    same = numbers_of(base) == numbers_of(other)
    if name == "density" and operation == "allow_runout":
        return  # mass matters only where inertia governs, see below
    assert same == (operation not in CHANGES[name])


def test_the_fingerprint_knows_the_properties() -> None:
    stamps = {
        call("estimate_friction", request)["stamp"]["fingerprint"]
        for request in (
            flexible(),
            given(flexible(), density=q(2.5, "g/cm3")),
            given(flexible(), density=q(2.6, "g/cm3")),
        )
    }
    assert len(stamps) == 3


def test_every_given_property_is_traced_to_the_request() -> None:
    compound = rules().data.compounds["ptfe_unfilled"]
    other = overridden(compound, CompoundProperties.model_validate(EVERY), "dry")
    records = [
        other.elastic_modulus, other.poisson_ratio, other.yield_strength, other.density, other.thermal_conductivity,
        other.relaxation, other.friction.dry, other.wear.dry,
    ]  # fmt: skip
    assert all(record is not None and record.source == "request" for record in records)
    assert all(record is not None and record.evidence == "house_estimate" for record in records)
    # what was not given stays, also for other lubrications
    assert other.friction.oil == compound.friction.oil
    assert other.wear.aqueous == compound.wear.aqueous
    assert other.temperature_max == compound.temperature_max
    assert overridden(compound, None, "dry") is compound


@pytest.mark.parametrize(
    ("properties", "ids"),
    [
        ({"elastic_modulus": q(900.0, "MPa")}, {"contact_temperature", "runout"}),
        ({"yield_strength": q(25.0, "MPa")}, {"lip_stress"}),
        ({"friction_coefficient": ends(0.03, 0.05, 0.07)}, {"contact_temperature"}),
        ({"relaxation": RELAXATION}, {"contact_temperature", "runout"}),
    ],
    ids=["modulus", "yield", "friction", "relaxation"],
)
def test_criteria_name_the_request_as_source(properties: dict[str, Any], ids: set[str]) -> None:
    before, after = (
        criteria(post("check_envelope", request)) for request in (flexible(), given(flexible(), **properties))
    )
    for name in ids:
        assert "request" not in before[name]["sources"]
        assert "request" in after[name]["sources"]
        assert after[name]["evidence"] == "house_estimate"
    for name in ("surface_speed", "pressure", "temperature_high", "shaft_hardness"):
        assert after[name]["sources"] == before[name]["sources"]


def test_given_values_arrive_as_they_are() -> None:
    case = case_of(given(flexible(), **EVERY))
    for temperature in (4.0, 293.15, 500.0):
        assert Plain(case).modulus(temperature) == pytest.approx(900e6, rel=1e-12)
    c = case.compound
    assert (c.poisson_ratio.si, c.density.si, c.thermal_conductivity.si) == pytest.approx((0.4, 3000.0, 1.5), rel=1e-12)
    assert case.friction is not None
    assert (case.friction.si_low, case.friction.si, case.friction.si_high) == pytest.approx((0.03, 0.05, 0.07))
    assert case.wear is not None
    assert (case.wear.si_low, case.wear.si, case.wear.si_high) == pytest.approx((1e-16, 2e-16, 4e-16))
    series = Plain(case).compound.relaxation
    told = (series.equilibrium, *series.shares[: series.n], *series.times[: series.n])
    assert told == pytest.approx((0.5, 0.2, 0.3, 1.0, 1e6))


def test_given_friction_is_used_at_each_level() -> None:
    answer = post("estimate_friction", given(flexible(), friction_coefficient=ends(0.03, 0.05, 0.07)))
    assert [level["friction_coefficient"] for level in answer["levels"]] == pytest.approx([0.03, 0.05, 0.07])


def test_friction_given_holds_for_the_lubrication_of_the_duty() -> None:
    for lubrication in ("dry", "starved", "flooded"):
        request = merged(flexible(), duty={"lubrication": lubrication})
        answer = post("estimate_friction", given(request, friction_coefficient=ends(0.01, 0.02, 0.03)))
        assert answer["levels"][1]["friction_coefficient"] == pytest.approx(0.02)


def test_a_stiffer_lip_presses_in_proportion() -> None:
    still = fixed(merged(flexible(), duty={"motion": {"kind": "surface", "surface_speed": q(0.0, "m/s")}}))
    loads = [
        si(
            post("estimate_friction", given(still, elastic_modulus=q(mpa, "MPa")))["levels"][1]["load"]["lip"],
            "line_load",
        )
        for mpa in (300.0, 600.0)
    ]
    assert loads[1] == pytest.approx(2.0 * loads[0], rel=1e-9)


def test_a_lip_that_never_relaxes_keeps_its_share() -> None:
    branch = [{"share": q(0.25, "1"), "time": q(1e-3, "s")}]
    answer = post("allow_runout", given(flexible(), relaxation={**RELAXATION, "branches": branch}))
    assert answer["relaxed_share"] == pytest.approx(0.75, rel=1e-9)
    slow = [{"share": q(0.25, "1"), "time": q(1e12, "s")}]
    answer = post("allow_runout", given(flexible(), relaxation={**RELAXATION, "branches": slow}))
    assert answer["relaxed_share"] == pytest.approx(1.0, abs=1e-3)


def test_yield_strength_given_moves_the_lip_stress_alone() -> None:
    pressed = merged(flexible(), duty={"pressure": q(40.0, "kPa")})
    weak, strong = (
        criteria(post("check_envelope", given(pressed, yield_strength=q(mpa, "MPa"))))["lip_stress"]["utilization"]
        for mpa in (10.0, 20.0)
    )
    assert weak == pytest.approx(2.0 * strong, rel=1e-9)


def test_a_denser_lip_follows_less_where_inertia_governs() -> None:
    """Far beyond resonance the allowance is that of the mass."""
    fast = merged(flexible(), duty={"motion": {"kind": "rotation", "rotational_speed": q(4900.0, "rev/s")}})
    light, heavy = (post("allow_runout", given(fast, density=q(density, "g/cm3")))["at_duty"] for density in (2.0, 8.0))
    assert si(heavy["followed_runout"], "length") < si(light["followed_runout"], "length")


def test_conductivity_given_cools_the_contact() -> None:
    fast = merged(energized(), duty={"motion": {"kind": "surface", "surface_speed": q(3.0, "m/s")}})
    poor, good = (
        si(post("estimate_friction", given(fast, thermal_conductivity=q(k, "W/m/K")))["levels"][1]["contact_temperature"],
           "temperature")
        for k in (0.1, 5.0)
    )  # fmt: skip
    assert good < poor


def test_a_running_state_rests_on_the_given_records() -> None:
    case = case_of(given(flexible(), friction_coefficient=ends(0.03, 0.05, 0.07)))
    assert levels_of(case, subject_of(case, HeatSurroundings())).nominal.running.converged
    assert case.friction is not None
    assert case.friction.source == "request"


@pytest.mark.parametrize(
    ("properties", "pointer"),
    [
        ({"friction_coefficient": ends(0.2, 0.1, 0.3)}, "/design/compound_properties/friction_coefficient/nominal"),
        ({"specific_wear_rate": ends(2e-7, 1e-7, 3e-7, "mm3/N/m")}, "/design/compound_properties/specific_wear_rate/nominal"),
        ({"poisson_ratio": q(0.6, "1")}, "/design/compound_properties/poisson_ratio"),
        ({"elastic_modulus": q(-5.0, "MPa")}, "/design/compound_properties/elastic_modulus/value"),
        (
            {"relaxation": {**RELAXATION, "branches": [{"share": q(0.6, "1"), "time": q(1.0, "s")}] * 2}},
            "/design/compound_properties/relaxation/branches",
        ),
    ],
)  # fmt: skip
@pytest.mark.parametrize("operation", OPERATIONS)
def test_properties_that_cannot_be_are_refused(operation: str, properties: dict[str, Any], pointer: str) -> None:
    problem = refused(operation, given(flexible(), **properties))
    assert pointer in {error["pointer"] for error in problem["errors"]}, problem
