"""What is asked back keeps what it says: inside a stated range the verdict stands, just outside it does not."""

from __future__ import annotations

import copy
import random
from typing import Any

import numpy as np
import pytest
from glandwise.contract.envelope import EnvelopeCheckRequest
from glandwise.questions.envelope.operation import answer as check
from glandwise.questions.unknowns import found as unknowns

from tests.questions.support import (
    assert_finite,
    energized,
    engine,
    fixed,
    flexible,
    keeps_schema,
    merged,
    post,
    q,
    refused,
    rules,
    si,
)

RANK = {"pass": 0, "not_evaluated": 1, "caution": 2, "fail": 3}
OPEN = ("runout", "offset", "contaminants", "hardness", "roughness", "machining_lead", "minimum", "maximum")
UNITS = {"length": "m", "hardness_hrc": "HRC", "roughness": "um", "temperature": "K", "time": "s"}
PER_SI = {"um": 1e6}


def left_open(request: dict[str, Any], names: tuple[str, ...]) -> dict[str, Any]:
    """The same request with some of its inputs left out, of one seal."""
    request = copy.deepcopy(fixed(request))
    duty = request["duty"]
    for name in names:
        for part in (duty, duty["shaft"], duty["temperature"]):
            part.pop(name, None)
    return {**request, "questions": True}


def duties(count: int) -> list[dict[str, Any]]:
    """Seals of both kinds in duties that are near some limit, each with some inputs left out."""
    chance, found = random.Random(7), []
    for index in range(count):
        request = (flexible, energized)[index % 2]()
        duty = request["duty"]
        duty["pressure"]["value"] *= chance.uniform(0.5, 4.0)
        duty["motion"]["surface_speed"]["value"] *= chance.uniform(0.3, 3.0)
        duty["temperature"]["normal"] = q(chance.uniform(20.0, 60.0), "degC")
        duty["fluid"] = chance.choice(["mineral_oil_gear", "water", "grease_lithium"])
        names = tuple(name for name in OPEN if chance.random() < 0.5) or ("runout",)
        found.append(left_open(request, names))
    return found


DUTIES = duties(16)


def verdict(request: dict[str, Any], pointer: str = "", value: Any = None) -> str:
    """Verdict of a single check, one input stated."""
    request = {key: copy.deepcopy(part) for key, part in request.items() if key != "questions"}
    if pointer:
        *path, name = pointer.split("/")[1:]
        part = request
        for step in path:
            part = part.setdefault(step, {})
        part[name] = value
    return check(EnvelopeCheckRequest.model_validate(request), engine()).verdict


def asked(request: dict[str, Any]) -> unknowns.Asked:
    """The same as the questions take it."""
    body = EnvelopeCheckRequest.model_validate(request)
    judged = check(body, engine())
    return unknowns.Asked(judged.case, body.duty, body.design, rules(), judged.findings, body.units.system_of_units())


@pytest.mark.parametrize("request_", DUTIES, ids=lambda r: "-".join(sorted(r["duty"])))
def test_inside_a_range_the_verdict_stands_and_just_outside_it_does_not(request_: dict[str, Any]) -> None:
    answer = post("check_envelope", request_)
    assert_finite(answer)
    keeps_schema("check_envelope", answer)
    now, chance = RANK[answer["verdict"]], random.Random(1)
    open_numbers = {number.id: number for number in unknowns.numbers_of(asked(request_))}
    for question in answer["questions"]:
        if question["holds_for"] is not None:
            continue
        number = open_numbers[question["id"]]
        unit = UNITS[number.dimension]
        none = question["turns"] == 1.0
        low, high = (
            at if question[name] is None else si(question[name], number.dimension)
            for name, at in (("holds_from", number.low), ("holds_to", number.high))
        )
        assert number.low <= low < high <= number.high
        for _ in range(0 if none else 12):
            share = chance.random()
            value = low * (high / low) ** share if number.by_logarithm else low + share * (high - low)
            assert RANK[verdict(request_, question["field"], q(value * PER_SI.get(unit, 1.0), unit))] <= now, (
                question,
                value,
            )
        for name, at, step in (("holds_from", low, -1.0), ("holds_to", high, 1.0)):
            if question[name] is not None:
                outside = at + step * 1e-3 * (number.high - number.low if not number.by_logarithm else at)
                assert RANK[verdict(request_, question["field"], q(outside * PER_SI.get(unit, 1.0), unit))] > now, (
                    question,
                    outside,
                )


@pytest.mark.parametrize("request_", DUTIES[:8], ids=lambda r: "-".join(sorted(r["duty"])))
def test_shares_and_order_agree_with_brute_force_and_nothing_idle_is_asked(request_: dict[str, Any]) -> None:
    answer = post("check_envelope", request_)
    now, subject = RANK[answer["verdict"]], asked(request_)
    judge = unknowns.Judge(subject)
    told = {question["id"]: question for question in answer["questions"]}
    brute: dict[str, float] = {}
    for number in unknowns.numbers_of(subject):
        shares = (np.arange(1000) + 0.5) / 1000.0
        found = judge.number(number, number.at(shares)).verdict
        worse = float(np.mean([RANK[unknowns.batch.STATUSES[code]] > now for code in found]))
        if number.id in told:
            assert told[number.id]["turns"] == pytest.approx(worse, abs=3e-3)
            brute[number.id] = worse
        else:
            assert worse == 0.0
            assert min(RANK[unknowns.batch.STATUSES[code]] for code in found) >= now
    for choice in unknowns.choices_of(subject):
        verdicts = {o.name: RANK[verdict(request_, choice.pointer, o.name)] for o in choice.options}
        if choice.id not in told:
            assert set(verdicts.values()) == {now}
            continue
        assert told[choice.id]["holds_for"] == [name for name, code in verdicts.items() if code <= now]
        brute[choice.id] = sum(option.share for option in choice.options if verdicts[option.name] > now)
        assert told[choice.id]["turns"] == pytest.approx(brute[choice.id], rel=1e-6)
    assert brute.keys() == told.keys()
    turns = [question["turns"] for question in answer["questions"]]
    assert turns == sorted(turns, reverse=True)


@pytest.mark.parametrize("request_", DUTIES[:6], ids=lambda r: "-".join(sorted(r["duty"])))
def test_a_confidence_agrees_with_random_draws(request_: dict[str, Any]) -> None:
    """Draws of a common generator in place of the even spread: within four standard deviations of the one and the other."""
    answer = post("check_envelope", request_)
    subject, random_ = asked(request_), np.random.default_rng(3)
    judge, count, columns = unknowns.Judge(subject), 4000, {}
    for number in unknowns.numbers_of(subject):
        columns[number.column] = number.at(random_.random(count))
    for choice in unknowns.choices_of(subject):
        which = random_.choice(len(choice.options), count, p=[option.share for option in choice.options])
        for name in choice.options[0].sets:
            columns[name] = np.array([option.sets[name] for option in choice.options])[which]
    found = judge.evaluate(columns)
    holds = float(np.mean(judge.stands(found)))
    cases = answer["confidence"]["cases"]
    assert answer["confidence"]["holds"] == pytest.approx(holds, abs=4.0 * np.sqrt(0.25 / cases + 0.25 / count))
    assert answer["confidence"]["lives"] >= answer["confidence"]["holds"] or answer["verdict"] == "fail"
    shares = sum(item["share"] for item in answer["confidence"]["turns_on"])
    assert shares == pytest.approx(1.0 - answer["confidence"]["holds"], abs=1e-5)


def test_points_are_spread_evenly() -> None:
    """Any box of a tenth of the volume holds nearly a tenth of the points."""
    points = unknowns.spread_evenly(1000, 5)
    assert points.shape == (1000, 5)
    assert (points >= 0.0).all()
    assert (points < 1.0).all()
    for k in range(5):
        assert np.mean(points[:, k] < 0.1) == pytest.approx(0.1, abs=0.01)
        others = (points[:, k] < 0.5) & (points[:, (k + 1) % 5] < 0.2)
        assert np.mean(others) == pytest.approx(0.1, abs=0.02)


def test_nothing_is_asked_where_everything_is_stated() -> None:
    request = merged(flexible(), duty={"target_life": q(1000.0, "h"), "lubrication": "flooded"})
    answer = post("check_envelope", {**request, "questions": True})
    assert answer["questions"] == []
    assert answer["confidence"] is None
    plain = post("check_envelope", request)
    assert plain["questions"] is None
    assert plain["confidence"] is None


def test_a_verdict_alone_asks_nothing() -> None:
    problem = refused("check_envelope", {**flexible(), "questions": True, "detail": "verdict"})
    assert problem["errors"][0]["pointer"] == "/questions"


def test_an_enquiry_asks_unless_it_is_told_not_to() -> None:
    request = flexible()
    del request["duty"]["runout"]
    answer = post("answer_enquiry", request)
    (runout,) = (item for item in answer["questions"] if item["id"] == "runout")
    assert runout["text"] == "How much does the shaft run out at the lip, as total indicator reading?"
    assert runout["reason"].startswith("Up to ")
    assert "the verdict stands with this design" in runout["reason"]
    assert runout["evidence"] == "house_estimate"
    assert answer["confidence"]["text"].startswith("The verdict of the envelope holds in ")
    assert post("answer_enquiry", {**request, "detail": "summary"})["questions"] == answer["questions"]
    assert post("answer_enquiry", {**request, "questions": False})["questions"] is None


def test_numbers_of_a_question_are_in_the_units_that_are_asked_for() -> None:
    request = flexible()
    del request["duty"]["runout"]
    metric, inches = (
        next(
            item
            for item in post("check_envelope", {**request, "questions": True, **more})["questions"]
            if item["id"] == "runout"
        )
        for more in ({}, {"units": {"system": "us"}})
    )
    assert inches["holds_to"]["unit"] == "in"
    assert si(inches["holds_to"], "length") == pytest.approx(si(metric["holds_to"], "length"), rel=1e-8)
    assert " in the verdict stands" in inches["reason"]
