"""What an enquiry asks back over gland and thermal fit: inside a stated range none of their verdicts turns, just outside one does.

Asked again, each part by its own operation, with the hardware stated as the enquiry has it and one input stated besides.
"""

from __future__ import annotations

import copy
import random
from functools import cache
from typing import Any

import numpy as np
import pytest
from glandwise.contract.enquiry import EnquiryRequest
from glandwise.questions.envelope import evaluation as batch
from glandwise.questions.envelope.operation import answer as check
from glandwise.questions.gland import operation as gland
from glandwise.questions.thermal_fit import operation as thermal_fit
from glandwise.questions.unknowns import found as unknowns
from glandwise.questions.unknowns.around import Around
from pydantic import ValidationError
from pydantic_core import PydanticCustomError

from tests.questions.support import (
    assert_finite,
    call,
    energized,
    engine,
    fixed,
    flexible,
    keeps_schema,
    merged,
    post,
    q,
    rules,
    si,
)
from tests.questions.test_unknowns import PER_SI, RANK, UNITS

Request = dict[str, Any]
PARTS = {"envelope": "check_envelope", "gland": "check_gland", "thermal_fit": "check_thermal_fit"}
CLASSES = {"shaft": "shaft_tolerance", "bore": "bore_tolerance"}


@cache
def requests() -> dict[str, Request]:
    """Seals of every retention in duties in which gland or thermal fit is near some limit; what is left out is little."""
    swivel = merged(energized(heel="extended"), gland={"clamp": {"force": q(5.0, "kN")}})
    swivel["duty"] |= {
        "pressure": q(12.0, "MPa"),
        "motion": {"kind": "surface", "surface_speed": q(0.02, "m/s")},
        "bore": {"diameter": q(72.0, "mm"), "material": "steel_soft"},
    }
    del swivel["duty"]["offset"]
    ring = flexible(retention="o_ring", o_ring_elastomer="NBR")  # else it is chosen anew for each temperature
    ring["duty"] |= {"bore": {"diameter": q(72.0, "mm")}, "temperature": {"normal": q(20.0, "degC")}}
    held = call("check_gland", ring)["o_ring"]
    ring["gland"] = {
        "groove": {
            name: {"nominal": held[f"groove_{name}"]["nominal"], "plus": q(0.05, "mm"), "minus": q(0.05, "mm")}
            for name in ("diameter", "width")
        },
        "o_ring": {"kind": "as568", "dash": held["dash"]},
    }
    hot = flexible(retention="press_fit_case")
    hot["duty"]["temperature"] = {"normal": q(60.0, "degC"), "minimum": q(20.0, "degC")}
    cold = merged(flexible(), gland={"clamp": {"force": q(5.5, "kN")}})
    cold["duty"]["temperature"] = {"normal": q(20.0, "degC")}
    return {"swivel": fixed(swivel), "ring": fixed(ring), "hot": fixed(hot), "cold": fixed(cold)}


NAMES = ("swivel", "ring", "hot", "cold")


@cache
def subject(name: str) -> tuple[unknowns.Asked, Around]:
    """A request as the questions take it, with what surrounds the seal."""
    body = EnquiryRequest.model_validate(requests()[name])
    judged = check(body, engine())
    around = Around(
        gland.judge(body.duty, body.design, body.gland, rules()),
        thermal_fit.judge(body.duty, body.design, body.gland, None, rules()),
    )
    found = (judged.case, body.duty, body.design, rules(), judged.findings, body.units.system_of_units())
    return unknowns.Asked(*found, around=around), around


@cache
def frozen(name: str) -> Request:
    """The request with the hardware stated that it was answered with, but for the materials."""
    request, (_, around) = copy.deepcopy(requests()[name]), subject(name)
    row, held = around.row[0], request.setdefault("gland", {})
    for part, field in CLASSES.items():
        held.setdefault(field, {"kind": "class", "name": around.judged.resolved.classes[part]})
    held.setdefault("throat_diameter", {"nominal": q(float(row["throat_high"]), "m")})  # of it the upper limit counts
    body = {"nominal": row["body"], "plus": row["body_high"] - row["body"], "minus": row["body"] - row["body_low"]}
    held.setdefault("body_diameter", {end: q(float(value), "m") for end, value in body.items() if value > 0.0})
    held.setdefault("seal_width", q(float(row["width"]), "m"))
    held.setdefault("housing_outer_diameter", q(float(row["housing"]), "m"))
    names = list(rules().data.shaft_materials)
    bore = request["duty"].setdefault("bore", {})
    bore.setdefault("diameter", q(float(row["bore"]), "m"))
    bore.setdefault("material", names[row["housing_metal"]])
    return request


def ranks(request: Request, pointer: str = "", value: Any = None) -> dict[str, int]:
    """The verdict of each part by its own operation, one input stated; what is refused cannot be judged."""
    request, found = copy.deepcopy(request), {}
    if pointer:
        *path, last = pointer.split("/")[1:]
        place = request
        for step in path:
            place = place.setdefault(step, {})
        place[last] = value
    for part, operation in PARTS.items():
        asked = {key: item for key, item in request.items() if key != "gland" or part != "envelope"}
        try:
            found[part] = RANK[call(operation, asked)["verdict"]]
        except (ValidationError, PydanticCustomError):
            found[part] = RANK["not_evaluated"]
    return found


def on_the_wire(number: unknowns.Number, value: float) -> Any:
    unit = UNITS[number.dimension]
    quantity = q(value * PER_SI.get(unit, 1.0), unit)
    return {"nominal": quantity} if number.id == "throat_diameter" else quantity


def numbers_of(asked: unknowns.Asked) -> dict[str, unknowns.Number]:
    return {number.id: number for number in (*unknowns.numbers_of(asked), *unknowns.numbers_around(asked))}


@pytest.mark.parametrize("name", NAMES)
def test_what_is_varied_is_judged_as_by_the_operations(name: str) -> None:
    asked, _ = subject(name)
    judge, request, chance = unknowns.Judge(asked), frozen(name), random.Random(2)
    now = ranks(request)
    assert RANK["not_evaluated"] not in now.values()  # nothing is refused
    assert {part: RANK[batch.STATUSES[code]] for part, code in judge.told.items()} == now
    moved = 0
    for number in numbers_of(asked).values():
        values = number.at(np.array([0.0, chance.random(), 1.0]))
        many = judge.outcomes(number, values, tuple(PARTS))
        for k, value in enumerate(values):
            one = ranks(request, number.pointer, on_the_wire(number, float(value)))
            told = {part: RANK[batch.STATUSES[int(outcome.verdict[k])]] for part, outcome in many.items()}
            if not number.column:  # the envelope takes no hardware
                told["envelope"] = now["envelope"]
            assert told == one, (number.id, value)
            moved += one != now
    assert moved or name == "hot"  # there the choices turn it


@pytest.mark.parametrize("name", NAMES)
def test_inside_a_range_no_part_turns_and_just_outside_one_does(name: str) -> None:
    answer = call("answer_enquiry", requests()[name])
    assert_finite(answer)
    keeps_schema("answer_enquiry", answer)
    request, chance, open_numbers = frozen(name), random.Random(1), numbers_of(subject(name)[0])
    now = ranks(request)
    around = 0
    for question in answer["questions"]:
        around += question["parts"] != ["envelope"]
        if question["holds_for"] is not None:
            continue
        number = open_numbers[question["id"]]
        low, high = (
            at if question[end] is None else si(question[end], number.dimension)
            for end, at in (("holds_from", number.low), ("holds_to", number.high))
        )
        if question["turns"] == 1.0:
            continue
        assert number.low <= low < high <= number.high
        for _ in range(4):
            value = low + (high - low) * chance.random()
            inside = ranks(request, question["field"], on_the_wire(number, value))
            assert all(inside[part] <= now[part] for part in PARTS), (question, value)
        for end, at, step in (("holds_from", low, -1.0), ("holds_to", high, 1.0)):
            if question[end] is not None:
                value = at + step * 1e-3 * (number.high - number.low if not number.by_logarithm else at - number.origin)
                outside = ranks(request, question["field"], on_the_wire(number, value))
                assert any(outside[part] > now[part] for part in question["parts"]), (question, value)
    assert around


@pytest.mark.parametrize("name", NAMES)
def test_ranks_agree_with_brute_force_and_nothing_idle_is_asked(name: str) -> None:
    asked, _ = subject(name)
    judge, request = unknowns.Judge(asked), frozen(name)
    questions = call("answer_enquiry", requests()[name])["questions"]
    told = {question["id"]: question for question in questions}
    brute: dict[str, float] = {}
    for number in numbers_of(asked).values():
        values = number.at((np.arange(150) + 0.5) / 150.0)
        many = judge.outcomes(number, values, tuple(judge.told) if number.column else ("gland", "thermal_fit"))
        worse = np.any([outcome.verdict > judge.told[part] for part, outcome in many.items()], axis=0)
        changed = {part for part, outcome in many.items() if (outcome.verdict != judge.told[part]).any()}
        if number.id in told:
            brute[number.id] = float(worse.mean())
            assert told[number.id]["turns"] == pytest.approx(brute[number.id], abs=0.01)
            assert changed <= set(told[number.id]["parts"])
        else:
            assert not changed, number.id
    now = ranks(request)
    for choice in (*unknowns.choices_of(asked), *unknowns.choices_around(asked)):
        found = {}
        for option in choice.options:
            value: Any = option.name
            if choice.id == "bore_tolerance":
                value = {"kind": "class", "name": option.name}
            if choice.id == "bore_diameter":  # what is proposed of the hardware follows it
                number, unit = option.name.split()
                found[option.name] = ranks(requests()[name], choice.pointer, q(float(number), unit))
            else:
                found[option.name] = ranks(request, choice.pointer, value)
        if choice.id not in told:
            assert all(found[option] == now for option in found), choice.id
            continue
        kept = [option for option in found if all(found[option][part] <= now[part] for part in PARTS)]
        assert told[choice.id]["holds_for"] == kept
        brute[choice.id] = sum(option.share for option in choice.options if option.name not in kept)
        assert told[choice.id]["turns"] == pytest.approx(brute[choice.id], abs=1e-5)
    assert brute.keys() == told.keys()
    turns = [question["turns"] for question in questions]
    assert turns == sorted(turns, reverse=True)


def test_a_high_pressure_without_a_stated_throat_asks_for_it_with_the_limit_of_the_gland_check() -> None:
    request = requests()["swivel"]
    answer = post("answer_enquiry", request)
    throat = next(question for question in answer["questions"] if question["id"] == "throat_diameter")
    assert throat["parts"] == ["gland"]
    assert throat["field"] == "/gland/throat_diameter"
    assert throat["holds_from"] is None
    assert "the verdict stands with this design. Beyond, the gland " in throat["reason"]
    assert throat["reason"].endswith("by extrusion gap.")

    def rank(diameter: float) -> int:
        stated = merged(request, gland={"throat_diameter": {"nominal": q(diameter, "m")}})
        return RANK[call("check_gland", stated)["verdict"]]

    now, low, high = RANK[answer["gland"]["verdict"]], 0.0502, 0.0515
    assert rank(low) <= now < rank(high)
    for _ in range(20):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if rank(middle) <= now else (low, middle)
    assert si(throat["holds_to"], "length") == pytest.approx(low, abs=1e-8)
    # stated within it, it is not asked for any more, and the gland stands
    stated = merged(request, gland={"throat_diameter": {"nominal": q(round(low - 5e-5, 5), "m")}})
    again = call("answer_enquiry", stated)
    assert RANK[again["gland"]["verdict"]] <= now
    assert "throat_diameter" not in {question["id"] for question in again["questions"]}


def test_an_envelope_check_asks_for_the_envelope_alone() -> None:
    request = {key: copy.deepcopy(part) for key, part in requests()["swivel"].items() if key != "gland"}
    del request["duty"]["runout"]
    answer = call("check_envelope", {**request, "questions": True})
    assert answer["questions"]
    assert {tuple(question["parts"]) for question in answer["questions"]} == {("envelope",)}
    assert "Gland and thermal fit" not in answer["confidence"]["text"]


def test_the_confidence_of_an_enquiry_says_that_it_is_of_the_envelope() -> None:
    answer = call("answer_enquiry", requests()["cold"])
    text = answer["confidence"]["text"]
    assert text.startswith("The verdict of the envelope holds in ")
    assert text.endswith("Gland and thermal fit are not judged over these cases.")
