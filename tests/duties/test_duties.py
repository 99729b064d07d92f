"""Invented duties: their shape, that the contract takes every request, and how the answers stand to what is expected.

What does not agree yet is listed in ``not_yet.toml``: the list must shrink, and nothing beside it may disagree.
"""

from __future__ import annotations

import copy
from collections import Counter
from functools import cache
from typing import Any

import pytest
from glandwise.contract.enquiry import EnquiryRequest
from glandwise.questions.enquiry import operation

from tests.duties.agreement import Outcome, compare, judge
from tests.duties.model import FOLDER, TRADES, Duty, files, not_yet
from tests.questions import support

DUTIES = [pytest.param(duty, id=duty.id) for file in files() for duty in file.duty]


def test_every_trade_is_covered_by_a_file_of_its_name() -> None:
    assert {path.stem for path in FOLDER.glob("*.toml")} - {"not_yet"} == set(TRADES)
    assert [file.trade for file in files()] == list(TRADES)


def test_there_are_eighty_duties_or_more_of_different_names_and_sizes() -> None:
    duties = [duty for file in files() for duty in file.duty]
    assert len(duties) >= 80
    assert max(Counter(duty.id for duty in duties).values()) == 1
    diameters = [EnquiryRequest.model_validate(duty.request).duty.shaft_diameter for duty in duties]
    assert min(diameters) <= 8.0001e-3
    assert max(diameters) >= 0.9999
    for verdict in ("pass", "caution", "fail"):
        assert sum(duty.expect.verdict == [verdict] for duty in duties) >= 4
    for other in ("elastomer_lip", "mechanical_face_seal", "packing", "labyrinth"):
        assert sum(other in duty.expect.alternatives for duty in duties) >= 5


@pytest.mark.parametrize("duty", DUTIES)
def test_the_contract_takes_the_request_and_the_rules_know_its_names(duty: Duty) -> None:
    request, data = EnquiryRequest.model_validate(duty.request), support.rules().data
    assert request.duty.fluid in data.fluids
    assert request.duty.shaft.material is None or request.duty.shaft.material in data.shaft_materials
    assert set(duty.expect.compounds) | set(duty.expect.not_compounds) <= set(data.compounds)
    options = {(option.field, str(option.value)) for option in data.designs.options}
    for wanted in (duty.expect.options, duty.expect.not_options):
        assert {(field, value) for field, values in wanted.items() for value in values} <= options
    assert set(duty.expect.stopped_by) <= set(data.criteria) | {"life"}


@cache
def outcome(identifier: str) -> Outcome:
    return judge(next(duty for file in files() for duty in file.duty if duty.id == identifier), support.engine())


def test_the_list_names_duties_that_there_are() -> None:
    assert set(not_yet()) <= {duty.id for file in files() for duty in file.duty}


@pytest.mark.parametrize("duty", DUTIES)
def test_a_duty_agrees_or_is_known_not_to(duty: Duty) -> None:
    apart = [f"{item.name}: {item.got or item.standing}, expected {item.expected}" for item in outcome(duty.id).apart]
    if duty.id in not_yet():
        assert apart, "agrees wholly now: take it off the list (python -m tests.duties --not-yet)"
        assert sorted({item.name for item in outcome(duty.id).apart}) == sorted(not_yet()[duty.id].disagrees)
    else:
        assert not apart


def answered(identifier: str, **changed: Any) -> Outcome:
    """Compare the answer to a duty with its expectation, parts of the answer replaced."""
    duty = next(duty for file in files() for duty in file.duty if duty.id == identifier)
    return compare(duty, {**copy.deepcopy(_answer(identifier)), **changed})


@cache
def _answer(identifier: str) -> dict[str, Any]:
    duty = next(duty for file in files() for duty in file.duty if duty.id == identifier)
    return operation.answer(EnquiryRequest.model_validate(duty.request), support.engine())


def standing(outcome: Outcome, name: str) -> str:
    return next(item.standing for item in outcome.items if item.name == name)


def test_a_comparison_notices_what_is_wrong() -> None:
    name = "gearbox_input_50"
    assert standing(answered(name, verdict="pass"), "verdict") == "agrees"
    assert standing(answered(name, verdict="caution"), "verdict") == "disagrees"
    design = _answer(name)["design"]
    assert standing(answered(name, design={**design, "family": "flexible_lip"}), "family") == "agrees"
    assert standing(answered(name, design={**design, "family": "energized_lip"}), "family") == "disagrees"
    life = {"life": {"nominal": {"value": 10_000.0, "unit": "h"}}}
    assert standing(answered(name, wear={**_answer(name)["wear"], **life}), "life") == "agrees"
    life["life"]["nominal"]["value"] = 10.0
    assert standing(answered(name, wear={**_answer(name)["wear"], **life}), "life") == "disagrees"
    assert standing(answered(name, wear=None, friction=None), "torque") == "disagrees"


def test_what_results_do_not_name_is_not_taken_as_agreement() -> None:
    name = "gearbox_input_50"
    assert standing(answered(name, alternatives=None), "alternatives") == "not answered yet"
    assert standing(answered(name, alternatives=None), "not_alternatives") == "not answered yet"
    assert standing(answered(name, alternatives=[]), "alternatives") == "disagrees"
    assert standing(answered(name, alternatives=[{"id": "elastomer_lip"}]), "alternatives") == "agrees"
    assert standing(answered(name, alternatives=[{"id": "packing"}]), "not_alternatives") == "disagrees"
    worn = _answer(name)["wear"]
    assert standing(answered(name, wear={**worn, "life_probability": 0.7}), "life_probability") == "agrees"
    assert standing(answered(name, wear={**worn, "life_probability": 0.05}), "life_probability") == "disagrees"
    name = "gearbox_unstated_35"
    every = [{"id": item} for item in ("hardness", "finish", "lead")]
    assert standing(answered(name, requirements=every), "requirements") == "agrees"
    assert standing(answered(name, requirements=every[:2]), "requirements") == "disagrees"


def test_failing_for_another_reason_is_no_agreement() -> None:
    name = "union_680bar_60"
    check = copy.deepcopy(_answer(name)["check"])
    for criterion in check["criteria"]:
        criterion["status"] = "fail" if criterion["id"] == "shaft_lead" else "pass"
    assert standing(answered(name, verdict="fail", check=check, gland=None), "stopped_by") == "disagrees"
