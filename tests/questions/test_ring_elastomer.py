"""The elastomer of an O-ring that nobody stated: the usual one where it suits, else what suits fluid and temperature."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from glandwise.case.intake import build
from glandwise.contract.envelope import EnvelopeCheckRequest
from glandwise.questions.report import assumptions
from glandwise.review.attribution import Reach
from glandwise.review.judged import Table
from glandwise.rules.loader import RuleStore, RuleTree

from tests.questions.support import call, rules

DATA = rules().data
USUAL = DATA.sizing.o_ring_elastomer.name
HARM = {"compatible": 0, None: 1, "caution": 2, "incompatible": 3}
TEMPERATURES = [(-196.0, -150.0), (-40.0, 60.0), (-28.0, 80.0), (0.0, 20.0), (20.0, 90.0), (20.0, 140.0), (20.0, 250.0)]


def duty(fluid: str, coldest: float, hottest: float) -> dict[str, Any]:
    """A slow shaft without pressure."""
    ends = {"minimum": coldest, "normal": hottest, "maximum": hottest}
    return {
        "shaft_diameter": {"value": 50.0, "unit": "mm"},
        "motion": {"kind": "rotation", "rotational_speed": {"value": 20.0, "unit": "rpm"}},
        "pressure": {"value": 0.1, "unit": "bar"},
        "temperature": {name: {"value": value, "unit": "degC"} for name, value in ends.items()},
        "fluid": fluid,
    }


DESIGN = {"family": "flexible_lip", "compound": "ptfe_glass_15"}


def chosen(of_duty: dict[str, Any], **design: Any) -> dict[str, Any]:
    """Return the assumption of a check that tells the elastomer."""
    request = {"duty": of_duty, "design": {**DESIGN, **design}}
    answer = call("check_envelope", request)
    found: dict[str, Any] = next(row for row in answer["assumptions"] if row["field"] == "/design/o_ring_elastomer")
    return found


def best(fluid: str, coldest: float, hottest: float) -> str:
    """The choice as a list of reasons to sort by: what the fluid does, too cold or hot, then the usual one, then the order."""
    told = DATA.fluids[fluid].compatibility.elastomers

    def place(item: tuple[int, str]) -> tuple[int, bool, int]:
        order, name = item
        record = DATA.elastomers[name]
        bears = record.temperature_min.si - 273.15 <= coldest and hottest <= record.temperature_max.si - 273.15
        return (HARM[told.get(name)] if bears else 3, name != USUAL, order)

    return min(enumerate(DATA.elastomers), key=place)[1]


@pytest.mark.parametrize("fluid", DATA.fluids)
def test_every_fluid_at_every_temperature_gets_what_suits_it_best(fluid: str) -> None:
    """By what a case assumes, which a check of it tells."""
    for coldest, hottest in TEMPERATURES:
        request = {"duty": duty(fluid, coldest, hottest), "design": DESIGN}
        asked = EnvelopeCheckRequest.model_validate(request)
        case = build(asked.duty, asked.design, rules())
        (told,) = (
            row
            for row in assumptions(case, asked.units.system_of_units())
            if row["field"] == "/design/o_ring_elastomer"
        )
        assert told["value"] == best(fluid, coldest, hottest), (coldest, hottest)
        assert (told["rule"] == "sizing.o_ring_elastomer") == (told["value"] == USUAL)


def test_what_the_trade_would_take() -> None:
    """Common practice, no source: FKM in hydraulics, nitrile in gear oil with additives and in the cold, EPDM in steam."""
    for fluid, coldest, hottest, name in (
        ("mineral_oil_hydraulic", 20.0, 60.0, "FKM"),
        ("mineral_oil_gear", 20.0, 80.0, "NBR"),
        ("mineral_oil_gear", 20.0, 120.0, "HNBR"),
        ("mineral_oil_hydraulic", -28.0, 60.0, "NBR"),
        ("steam", 110.0, 125.0, "EPDM"),
    ):
        assert chosen(duty(fluid, coldest, hottest))["value"] == name, fluid


def test_gear_oil_needs_no_care_by_a_ring_that_nobody_asked_for() -> None:
    request = {
        "duty": duty("mineral_oil_gear", 20.0, 80.0),
        "design": {"family": "flexible_lip", "compound": "ptfe_glass_15"},
    }
    by_id = {item["id"]: item for item in call("check_envelope", request)["criteria"]}
    assert by_id["fluid_compatibility"]["status"] == "pass"
    request["design"]["o_ring_elastomer"] = "FKM"  # type: ignore[index]
    by_id = {item["id"]: item for item in call("check_envelope", request)["criteria"]}
    assert by_id["fluid_compatibility"]["status"] == "caution"


def test_the_title_of_an_enquiry_names_the_ring_that_was_judged() -> None:
    request = {
        "duty": duty("mineral_oil_gear", 20.0, 80.0),
        "design": {"family": "flexible_lip", "compound": "ptfe_glass_15"},
    }
    answer = call("answer_enquiry", request)
    assert "NBR O-ring" in answer["title"]
    assert answer["dimensions"]["o_ring"]["elastomer"] == "NBR"


@pytest.mark.parametrize("fluid", ["mineral_oil_gear", "steam", "air"])
def test_selection_and_check_take_the_same(fluid: str) -> None:
    of_duty = duty(fluid, 20.0, 95.0)
    found = call("select_design", {"duty": of_duty, "limit": 40})
    assert found["o_ring_elastomer"] == chosen(of_duty)["value"]
    wanted = {"o_ring_elastomers": ["VMQ", "CR", "FFKM"]}
    restricted = call("select_design", {"duty": of_duty, "restrict": wanted, "limit": 40})["o_ring_elastomer"]
    told = DATA.fluids[fluid].compatibility.elastomers
    assert restricted == min(wanted["o_ring_elastomers"], key=lambda name: HARM[told.get(name)])


def test_the_evidence_says_that_the_fluid_had_a_say() -> None:
    """The usual one is a choice of the house by itself; beside it stands the source of the fluid's record."""
    told = call("check_envelope", {
        "duty": duty("mineral_oil_gear", 20.0, 80.0), "design": {"family": "flexible_lip", "compound": "ptfe_glass_15"},
    })  # fmt: skip
    by_id = {item["id"]: item for item in told["criteria"]}
    assert by_id["temperature_high"]["evidence"] == "house_estimate"
    assert {DATA.sizing.o_ring_elastomer.source, DATA.fluids["mineral_oil_gear"].source} <= set(
        by_id["temperature_high"]["sources"]
    )


def test_a_change_of_what_a_fluid_does_to_another_elastomer_touches_rings_that_are_not_stated() -> None:
    """So that a comparison judges again what then gets another ring."""
    base = RuleStore().trees["baseline"]
    cell = {
        "family": ["flexible_lip"] * 2, "compound": ["ptfe_glass_15"] * 2, "fluid": ["mineral_oil_hydraulic"] * 2,
        "shaft_diameter [mm]": [50.0] * 2, "rotational_speed [rpm]": [20.0] * 2, "pressure [bar]": [0.1] * 2,
        "temperature [degC]": [40.0] * 2,
        "retention": ["o_ring", "clamped_flange"],
    }  # fmt: skip
    reading = Table(cell).under(base.newest().data)
    assert list(reading.evaluation.rows["elastomer"]) == [list(DATA.elastomers).index("FKM"), -1]
    tree = copy.deepcopy(dict(base.tree))
    tree["fluids"]["mineral_oil_hydraulic"]["compatibility"]["elastomers"]["FKM"] = "caution"
    other = RuleTree(tree, (), base.criteria).newest().data
    assert list(Reach(reading).touched(other)) == [True, False]
    after = Table(cell).under(other)
    assert list(after.evaluation.rows["elastomer"]) == [list(DATA.elastomers).index("NBR"), -1]
    tree["fluids"]["mineral_oil_hydraulic"]["compatibility"]["elastomers"]["FKM"] = "compatible"
    tree["fluids"]["mineral_oil_hydraulic"]["compatibility"]["elastomers"]["CR"] = "incompatible"
    third = RuleTree(tree, (), base.criteria).newest().data
    assert list(Reach(reading).touched(third)) == [True, False]
