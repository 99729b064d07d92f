"""A number stated with a range: its value is judged, its range goes into what is asked back and how sure the verdict is."""

from __future__ import annotations

import copy
import random
import re
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from glandwise.app import create_app
from glandwise.contract.envelope import EnvelopeCheckRequest
from glandwise.operations import ON_CASES
from glandwise.questions.envelope.operation import answer as check
from glandwise.questions.unknowns import found as unknowns

from tests.conftest import example
from tests.questions.support import (
    PATHS,
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
    refused,
    rules,
    si,
)
from tests.questions.test_unknowns import RANK

Request = dict[str, Any]


def certain(request: Request) -> Request:
    """The same request with nothing left open."""
    request = copy.deepcopy(fixed(request))
    temperature = request["duty"]["temperature"]
    for end in ("minimum", "maximum"):
        temperature.setdefault(end, temperature["normal"])
    return merged(request, duty={"target_life": q(1000.0, "h"), "lubrication": "flooded"})


def ranged(request: Request, pointer: str, low: float, high: float) -> Request:
    """The same request with a range of a number, as shares of it (of a temperature kelvin about it)."""
    request = copy.deepcopy(request)
    held = part(request, pointer)
    value = held["value"]
    if held["unit"] == "degC":
        return put(request, pointer, {**held, "low": value + low, "high": value + high})
    return put(request, pointer, {**held, "low": value * (1.0 + low), "high": value * (1.0 + high)})


def part(request: Request, pointer: str) -> Any:
    """What stands at a place."""
    for step in pointer.split("/")[1:]:
        request = request[step]
    return request


def put(request: Request, pointer: str, value: Any) -> Request:
    """The same request with something at a place."""
    request = copy.deepcopy(request)
    *path, name = pointer.split("/")[1:]
    part(request, "".join(f"/{step}" for step in path))[name] = value
    return request


def asked(request: Request) -> unknowns.Asked:
    """The request as the questions take it."""
    body = EnvelopeCheckRequest.model_validate(request)
    judged = check(body, engine())
    units = body.units.system_of_units()
    return unknowns.Asked(judged.case, body.duty, body.design, rules(), judged.findings, units, body.ranges)


TEMPERATURES = {"minimum": q(10.0, "degC"), "normal": q(40.0, "degC"), "maximum": q(75.0, "degC")}
FLEXIBLE = certain(merged(flexible(), duty={"temperature": TEMPERATURES}))
ENERGIZED = certain(merged(energized(), duty={"temperature": TEMPERATURES}))
SWINGING = put(
    FLEXIBLE, "/duty/motion", {"kind": "oscillation", "half_amplitude": q(60.0, "deg"), "frequency": q(2.0, "Hz")}
)
TURNING = put(FLEXIBLE, "/duty/motion", {"kind": "rotation", "rotational_speed": q(1000.0, "rpm")})
CASES = [
    (FLEXIBLE, "/duty/motion/surface_speed", -0.5, 9.0),
    (TURNING, "/duty/motion/rotational_speed", -0.9, 20.0),
    (SWINGING, "/duty/motion/half_amplitude", -0.5, 2.0),
    (SWINGING, "/duty/motion/frequency", -0.5, 90.0),
    (FLEXIBLE, "/duty/pressure", -1.0, 30.0),
    (ENERGIZED, "/duty/pressure", -0.9, 6.0),
    (FLEXIBLE, "/duty/temperature/normal", -29.0, 35.0),
    (FLEXIBLE, "/duty/temperature/minimum", -80.0, 20.0),
    (FLEXIBLE, "/duty/temperature/maximum", -30.0, 200.0),
    (FLEXIBLE, "/duty/runout", -0.9, 20.0),
    (ENERGIZED, "/duty/offset", -0.9, 30.0),
    (FLEXIBLE, "/duty/shaft/hardness", -0.8, 0.1),
    (FLEXIBLE, "/duty/shaft/roughness", -0.5, 9.0),
    (FLEXIBLE, "/duty/target_life", -0.5, 90.0),
    (TURNING, "/duty/shaft_diameter", -0.5, 2.0),
    (FLEXIBLE, "/design/lip_thickness", -0.4, 1.0),
    (FLEXIBLE, "/design/interference", -0.9, 1.0),
]  # fmt: skip
NAMES = [f"{request['design']['family']}{pointer}" for request, pointer, *_ in CASES]


def single(request: Request, pointer: str, value: float, unit: str) -> Any:
    """A check of the request with one value in place of the range; temperatures keep their order."""
    request = put(request, pointer, q(value, unit))
    if pointer == "/duty/temperature/normal":
        for end, of in (("minimum", min), ("maximum", max)):
            held = part(request, f"/duty/temperature/{end}")
            request = put(request, f"/duty/temperature/{end}", q(of(held["value"], value), unit))
    return request


@pytest.mark.parametrize(("request_", "pointer", "low", "high"), CASES, ids=NAMES)
def test_a_range_keeps_what_it_says(request_: Request, pointer: str, low: float, high: float) -> None:
    """Everything but questions and confidence is that of the value; shares and ends are those of single checks."""
    stated = ranged(request_, pointer, low, high)
    plain, answer = post("check_envelope", request_), post("check_envelope", {**stated, "questions": True})
    assert_finite(answer)
    keeps_schema("check_envelope", answer)
    moved = {name for name in answer if answer[name] != plain[name]}
    assert moved == {"questions", "confidence", "stamp"}
    held, now, chance = part(stated, pointer), RANK[answer["verdict"]], random.Random(5)
    subject = asked(stated)
    judge, (number,) = unknowns.Judge(subject), list(unknowns.numbers_of(subject))
    # brute force, one check a value
    values = [held["low"] + (held["high"] - held["low"]) * (k + chance.random()) / 24.0 for k in range(24)]
    verdicts = [RANK[call("check_envelope", single(request_, pointer, v, held["unit"]))["verdict"]] for v in values]
    many = judge.number(number, np.array([si(q(v, held["unit"]), number.dimension) for v in values])).verdict
    assert [RANK[unknowns.batch.STATUSES[code]] for code in many] == verdicts
    worse = float(np.mean([code > now for code in verdicts]))
    assert answer["confidence"]["holds"] == pytest.approx(1.0 - worse, abs=2.0 / 24.0)
    (question, *rest) = answer["questions"] or [None]
    assert not rest
    if question is None:
        assert set(verdicts) == {now}
        return
    assert question["field"] == pointer
    assert question["turns"] == pytest.approx(worse, abs=2.0 / 24.0)
    assert question["text"].startswith("Where between ")
    begin, end = (held[name] if question[at] is None else si(question[at], number.dimension) for name, at in
                  (("low", "holds_from"), ("high", "holds_to")))  # fmt: skip
    begin, end = (si(held | {"value": held[name]}, number.dimension) if question[at] is None else edge for name, at, edge in
                  (("low", "holds_from", begin), ("high", "holds_to", end)))  # fmt: skip
    assert begin <= si(held, number.dimension) <= end
    inside = begin + (end - begin) * np.array([0.001, 0.2, 0.5, 0.8, 0.999])
    assert judge.stands(judge.number(number, inside)).all()
    for at, edge, step in (("holds_from", begin, -1.0), ("holds_to", end, 1.0)):
        if question[at] is not None:
            outside = edge + step * 1e-3 * (number.high - number.low)
            assert not judge.stands(judge.number(number, np.array([outside]))).any()


@pytest.mark.parametrize("pointer", ["/duty/pressure", "/duty/temperature/normal", "/design/interference"])
def test_a_range_of_no_width_is_a_certain_number(pointer: str) -> None:
    for more in ({}, {"questions": True}):
        assert post("check_envelope", {**ranged(FLEXIBLE, pointer, 0.0, 0.0), **more}) == post(
            "check_envelope", {**FLEXIBLE, **more}
        )


def test_the_fingerprint_is_that_of_the_range_in_any_unit() -> None:
    def fingerprint(normal: Request) -> str:
        stamp = post("check_envelope", put(FLEXIBLE, "/duty/temperature/normal", normal))["stamp"]
        return str(stamp["fingerprint"])

    here = {"value": 40.0, "unit": "degC", "low": 30.0, "high": 50.0}
    there = {"value": 104.0, "unit": "degF", "low": 86.0, "high": 122.0}
    assert fingerprint(here) == fingerprint(there)
    others = [{"value": 40.0, "unit": "degC"}, {**here, "low": 31.0}, {**here, "high": 51.0}]
    assert len({fingerprint(here), *map(fingerprint, others)}) == 4


@pytest.mark.parametrize("field", ["runout", "offset", "target_life"])
def test_a_wider_range_to_the_harsher_side_never_holds_more_often(field: str) -> None:
    """Each case of the wider range is at least as harsh as the same case of the narrower one."""
    before = 1.0
    for high in (0.5, 2.0, 8.0, 30.0, 100.0):
        answer = post("check_envelope", ranged(FLEXIBLE, f"/duty/{field}", -0.2, high))
        assert answer["questions"] is None
        assert answer["confidence"]["holds"] <= before
        before = answer["confidence"]["holds"]
    assert before < 1.0


def test_a_range_within_what_holds_is_sure_and_asks_nothing() -> None:
    """The range that a question grants, stated, is sure: the rest of a wider one is what was not."""
    wide = post("check_envelope", {**ranged(FLEXIBLE, "/duty/runout", -0.5, 20.0), "questions": True})
    (question,) = wide["questions"]
    assert wide["confidence"]["holds"] < 1.0
    value = part(FLEXIBLE, "/duty/runout")
    granted = {**value, "low": 0.5 * value["value"], "high": question["holds_to"]["value"]}
    assert question["holds_to"]["unit"] == value["unit"]
    answer = post("check_envelope", {**put(FLEXIBLE, "/duty/runout", granted), "questions": True})
    assert answer["questions"] == []
    assert answer["confidence"]["holds"] == 1.0
    assert (
        answer["confidence"]["text"]
        == "The verdict of the envelope holds in 100 % of the cases within the ranges that are stated."
    )


def test_the_spread_is_that_of_single_estimates() -> None:
    """Quantiles of wear and friction estimates at random temperatures and pressures, within what 60 draws can tell."""
    request = ranged(ranged(TURNING, "/duty/temperature/normal", -20.0, 30.0), "/duty/pressure", -0.8, 2.0)
    spread = post("check_envelope", request)["confidence"]["spread"]
    chance, lives, torques, hot = random.Random(2), [], [], []
    for _ in range(60):
        one = TURNING
        for pointer in ("/duty/temperature/normal", "/duty/pressure"):
            held = part(request, pointer)
            one = single(one, pointer, chance.uniform(held["low"], held["high"]), held["unit"])
        asks = {key: one[key] for key in ("duty", "design")}
        worn, rubbed = call("estimate_wear", asks), call("estimate_friction", asks)
        lives.append(si(worn["life"]["nominal"], "time"))
        (nominal,) = (level for level in rubbed["levels"] if level["level"] == "nominal")
        torques.append(si(nominal["torque"], "torque"))
        hot.append(si(nominal["contact_temperature"], "temperature"))
    for name, dimension, found in (
        ("life", "time", lives), ("torque", "torque", torques), ("contact_temperature", "temperature", hot),
    ):  # fmt: skip
        told = spread[name]
        assert told["known"] == 1.0
        low, middle, high = (si(told[end], dimension) for end in ("low", "median", "high"))
        assert low < middle < high
        for end, share in ((low, 0.05), (middle, 0.5), (high, 0.95)):
            below = float(np.mean(np.array(found) <= end))
            assert below == pytest.approx(share, abs=3.0 * np.sqrt(share * (1.0 - share) / 60.0)), name
    assert spread["share"] == 0.9
    assert spread["text"].startswith("In nine of ten of these cases: the median life between ")


def test_surroundings_of_an_enquiry_count_in_its_spread() -> None:
    request = ranged(FLEXIBLE, "/duty/temperature/normal", -20.0, 30.0)
    usual = post("answer_enquiry", {**request, "questions": False})
    assert usual["questions"] is None
    cool = post("answer_enquiry", {**request, "surroundings": {"shaft_conductivity": q(200.0, "W/(m.K)")}})
    hot, less = (si(one["confidence"]["spread"]["contact_temperature"]["high"], "temperature") for one in (usual, cool))
    assert less < hot - 0.5
    keeps_schema("answer_enquiry", cool)


def test_a_range_of_what_is_stated_joins_what_is_left_open() -> None:
    request = ranged(FLEXIBLE, "/duty/pressure", -0.5, 30.0)
    del request["duty"]["runout"]
    answer = post("check_envelope", {**request, "questions": True})
    assert {item["id"] for item in answer["questions"]} == {"pressure", "runout"}
    assert "of what is not stated or stated as a range" in answer["confidence"]["text"]
    turns = [item["turns"] for item in answer["questions"]]
    assert turns == sorted(turns, reverse=True)


def test_the_life_beside_a_duty_takes_a_range_too() -> None:
    request = copy.deepcopy(FLEXIBLE)
    life = {**request["duty"].pop("target_life"), "low": 900.0, "high": 90000.0}
    (here,) = post("answer_enquiry", {**request, "target_life": life})["questions"]
    (there,) = post("answer_enquiry", put(FLEXIBLE, "/duty/target_life", life))["questions"]
    assert here == there
    assert here["field"] == "/duty/target_life"


RANGE = {"value": 40.0, "unit": "degC", "low": 30.0, "high": 50.0}


@pytest.mark.parametrize(
    ("normal", "pointer", "detail"),
    [
        ({**RANGE, "low": 41.0}, "/duty/temperature/normal/low", "the range begins above the value"),
        ({**RANGE, "high": 39.0}, "/duty/temperature/normal/high", "the range ends below the value"),
        ({**RANGE, "low": -300.0}, "/duty/temperature/normal/low", "outside the range the service answers for"),
        ({**RANGE, "high": 76.0}, "/duty/temperature/maximum", "the maximum lies below the greatest normal temperature"),
        ({**RANGE, "low": 9.0}, "/duty/temperature/minimum", "the minimum lies above the least normal temperature"),
        ({**RANGE, "high": "warm"}, "/duty/temperature/normal/high", "not a number"),
        ({**RANGE, "middle": 40.0}, "/duty/temperature/normal/middle", "not known here"),
        ({"value": 40.0, "unit": "degC", "low": 30.0}, "/duty/temperature/normal/high", "a range with one end only"),
        ({"value": 40.0, "unit": "degC", "high": 50.0}, "/duty/temperature/normal/low", "a range with one end only"),
    ],
)  # fmt: skip
def test_a_range_that_is_none_is_refused(normal: Request, pointer: str, detail: str) -> None:
    (fault,) = refused("check_envelope", put(FLEXIBLE, "/duty/temperature/normal", normal))["errors"]
    assert (fault["pointer"], fault["detail"]) == (pointer, detail)
    assert fault["accepted"]
    assert fault["code"] != "refused"


OTHERS = sorted(
    row.name
    for row in ON_CASES
    if "duty" in row.request.model_fields and row.name not in {"check_envelope", "answer_enquiry"}
)


@pytest.mark.parametrize("operation", OTHERS)
def test_an_operation_that_carries_no_range_says_so(operation: str) -> None:
    request = copy.deepcopy(next(iter(_examples(operation))))
    pressure = request["duty"]["pressure"]
    pressure |= {"low": pressure["value"] - 1.0, "high": pressure["value"] + 1.0}
    problem = refused(operation, request)
    assert problem["errors"][0]["pointer"] == "/duty/pressure/low"
    assert problem["errors"][0]["accepted"] == "value and unit alone; check_envelope and answer_enquiry take a range"
    assert problem["errors"][0]["code"] == "range_not_carried"


def _examples(operation: str) -> Any:
    from tests.conftest import ROOT

    for file in sorted((ROOT / "openapi" / "examples").glob(f"{operation}.*.json")):
        yield example(operation, file.name.split(".")[1])


def test_ranges_of_spectra_and_past_quotes_are_refused_by_name() -> None:
    spectrum = copy.deepcopy(next(iter(_examples("assess_spectrum"))))
    phase = spectrum["phases"][0]
    phase["temperature"] = {"normal": RANGE}
    (fault,) = refused("assess_spectrum", spectrum)["errors"]
    assert fault["pointer"] == "/phases/0/temperature/normal/low"
    quotes = copy.deepcopy(next(iter(_examples("compare_rule_sets"))))
    pressure = quotes["cases"][0]["duty"]["pressure"]
    pressure |= {"low": pressure["value"], "high": pressure["value"] + 1.0}
    (fault,) = refused("compare_rule_sets", quotes)["errors"]
    assert fault["pointer"] == "/cases/0/duty/pressure/low"


@pytest.mark.parametrize("pointer", ["/duty/bore", "/gland"])
def test_a_field_without_a_range_says_so(pointer: str) -> None:
    name = "diameter" if pointer == "/duty/bore" else "seal_width"
    request = merged(FLEXIBLE, **{pointer.split("/")[1]: {}})
    request = put(request, pointer, {name: {"value": 80.0, "unit": "mm", "low": 79.0, "high": 81.0}})
    (fault,) = refused("answer_enquiry", request)["errors"]
    assert fault["pointer"] == f"{pointer}/{name}/low"
    assert "numbers of the duty but for the bore take a range" in fault["accepted"]


@pytest.mark.parametrize("operation", ["check_envelope", "answer_enquiry"])
def test_a_verdict_alone_takes_no_range(operation: str) -> None:
    (fault,) = refused(operation, {**ranged(FLEXIBLE, "/duty/pressure", -0.5, 2.0), "detail": "verdict"})["errors"]
    assert fault["pointer"] == "/duty/pressure/low"
    assert 'detail "full"' in fault["accepted"]


def test_a_table_has_no_column_for_a_range() -> None:
    client = TestClient(create_app())
    table = "shaft_diameter [mm],pressure_low [bar]\n50,1\n"
    answer = client.post(PATHS["check_envelope"], content=table, headers={"content-type": "text/csv"})
    assert answer.status_code == 422
    assert "pressure_low" in answer.text


def test_a_sheet_shows_the_range_and_what_it_spreads() -> None:
    client = TestClient(create_app())
    request = ranged(FLEXIBLE, "/duty/temperature/normal", -20.0, 30.0)
    sheet = client.post(PATHS["check_envelope"], json=request, headers={"accept": "text/html"}).text
    assert "40 °C (20 to 70)" in sheet.replace("\u202f", " ").replace("\xa0", " ")
    assert "In nine of ten of these cases" in sheet
    assert "How sure it is" in sheet


def test_a_fault_of_a_range_is_said_in_german() -> None:
    client = TestClient(create_app())
    request = put(FLEXIBLE, "/duty/temperature/normal", {**RANGE, "low": 41.0})
    problem = client.post(PATHS["check_envelope"], json=request, headers={"accept-language": "de"}).json()
    assert problem["errors"][0]["message"].endswith("unteres Ende darf nicht über dem Wert selbst liegen.")


def test_a_life_is_said_with_two_digits_and_told_exactly() -> None:
    """No more is known; and what is said lies within what is told."""
    (question,) = post("check_envelope", {**ranged(FLEXIBLE, "/duty/target_life", -0.5, 90.0), "questions": True})[
        "questions"
    ]
    said = re.match(r"Up to ([\d,]+) h the verdict stands", question["reason"])
    assert said is not None
    number = float(said[1].replace(",", ""))
    assert number == float(f"{number:.2g}")
    assert number <= question["holds_to"]["value"] < 1.1 * number
