"""What the tests of the checks share: invented requests, calls with and without HTTP, and laws that hold for any answer."""

from __future__ import annotations

import copy
import math
import random
from collections.abc import Iterator
from functools import cache
from typing import Any

from glandwise import units
from glandwise.app import create_app
from glandwise.case.choices import LipDirection
from glandwise.case.intake import Case, build
from glandwise.case.vocabulary import NUMBERS
from glandwise.contract.envelope import EnvelopeCheckRequest
from glandwise.contract.quantities import measured
from glandwise.contract.running import (
    FrictionEstimateRequest,
)
from glandwise.engine import Engine
from glandwise.operations import OPERATIONS
from glandwise.questions.envelope import operation as envelope
from glandwise.rules.loader import RuleSet, RuleStore
from pydantic import TypeAdapter

Request = dict[str, Any]
Answer = dict[str, Any]

PATHS = {row.name: row.path for row in OPERATIONS.values()}


@cache
def engine() -> Engine:
    """The engine with the built-in rules."""
    return Engine(RuleStore(None), "baseline")


@cache
def rules() -> RuleSet:
    """The newest baseline rules."""
    tree = engine().store.get("baseline")
    assert tree is not None
    return tree.newest()


@cache
def _client() -> Any:
    from fastapi.testclient import TestClient

    return TestClient(create_app())


def call(operation: str, request: Request) -> Answer:
    """Answer a request without HTTP; what would be a 422 raises ``pydantic.ValidationError``."""
    row = OPERATIONS[operation]
    return row.answer(row.request.model_validate(request), engine())


def verdict_of(duty: Request, design: Request) -> Answer:
    """Judge an envelope as a check of it does, without what takes a trace: an answer with verdict, what governs, and criteria."""
    asked = EnvelopeCheckRequest.model_validate({"duty": duty, "design": design})
    findings = envelope.judge(build(asked.duty, asked.design, rules()), asked.duty)
    criteria = [{"id": item.id, "status": item.status, "utilization": item.utilization} for item in findings]
    governing = envelope.governing(findings).id
    return {
        "verdict": envelope.verdict(findings),
        "governing": next(item for item in criteria if item["id"] == governing),
        "criteria": criteria,
    }


def post(operation: str, request: Request) -> Answer:
    """Answer a request over HTTP; anything but 200 fails."""
    response = _client().post(PATHS[operation], json=request)
    assert response.status_code == 200, response.text
    answer: Answer = response.json()
    return answer


def refused(operation: str, request: Request) -> Answer:
    """Return the problem of a request that must be refused as 422 over HTTP."""
    response = _client().post(PATHS[operation], json=request)
    assert response.status_code == 422, response.text
    assert response.headers["content-type"] == "application/problem+json"
    problem: Answer = response.json()
    return problem


def keeps_schema(operation: str, answer: Answer) -> None:
    """Assert that an answer fits the published result model."""
    TypeAdapter(OPERATIONS[operation].result).validate_python(answer)


def case_of(request: Request) -> Case:
    """The case that a request with a duty and a design makes."""
    body = FrictionEstimateRequest.model_validate({key: request[key] for key in ("duty", "design")})
    return build(body.duty, body.design, rules())


def fixed(request: Request) -> Request:
    """The same request with the sizes, the direction and the O-ring stated that the rules give it: laws of a duty hold for one seal."""
    case = case_of(request)
    sizes: dict[str, Any] = {}
    for number in NUMBERS.values():
        inside = number.place.split(".")
        value = float(case.row[number.field][0])
        # the width of a worn-in lip is no stated one
        if inside[0] != "design" or number.field == "contact_width" or not math.isfinite(value):
            continue
        if number.field == "spring_place" and case.energizer is None:
            continue
        held = measured(number.model, inside[-1])
        assert held is not None
        unit = next(
            unit
            for unit in units.DIMENSIONS[held.dimension].symbols
            if units.factor(held.dimension, unit) == (1.0, 0.0)
        )
        part = sizes if len(inside) == 2 else sizes.setdefault(inside[1], {})
        part[inside[-1]] = q(value, unit)
    if case.elastomer_name is not None:
        sizes["o_ring_elastomer"] = case.elastomer_name
    sizes["lip_direction"] = LipDirection(int(case.row[0]["lip_direction"])).name
    return merged(request, design=sizes)


def q(value: float, unit: str) -> dict[str, Any]:
    """A quantity on the wire."""
    return {"value": value, "unit": unit}


def si(quantity: dict[str, Any], dimension: str) -> float:
    """The SI number of a quantity on the wire."""
    return float(units.to_si(quantity["value"], dimension, quantity["unit"]))


def merged(request: Request, **parts: Any) -> Request:
    """A copy of a request with fields of its objects set; ``duty={"pressure": ...}`` reaches into the duty."""
    result = copy.deepcopy(request)
    for key, value in parts.items():
        if isinstance(value, dict) and isinstance(result.get(key), dict):
            result[key].update(copy.deepcopy(value))
        else:
            result[key] = copy.deepcopy(value)
    return result


def criteria(answer: Answer) -> dict[str, Answer]:
    """The criteria of an envelope check by their id."""
    return {item["id"]: item for item in answer["criteria"]}


def flexible(**design: Any) -> Request:
    """A benign duty of a flexible lip, all of it stated: every criterion passes."""
    return {
        "duty": {
            "shaft_diameter": q(50.0, "mm"),
            "motion": {"kind": "surface", "surface_speed": q(3.0, "m/s")},
            "pressure": q(10.0, "kPa"),
            "temperature": {"minimum": q(10.0, "degC"), "normal": q(40.0, "degC"), "maximum": q(60.0, "degC")},
            "fluid": "mineral_oil_gear",
            "contaminants": "clean",
            "runout": q(0.02, "mm"),
            "offset": q(0.02, "mm"),
            "shaft": {"hardness": q(60.0, "HRC"), "roughness": q(0.25, "um"), "machining_lead": "none"},
        },
        "design": {
            "family": "flexible_lip",
            "compound": "ptfe_carbon_graphite_25",
            "retention": "clamped_flange",
            **design,
        },
    }


def energized(**design: Any) -> Request:
    """A benign duty of an energized lip, all of it stated."""
    request = flexible()
    request["duty"]["motion"] = {"kind": "surface", "surface_speed": q(0.3, "m/s")}
    request["duty"]["pressure"] = q(0.5, "MPa")
    request["design"] = {
        "family": "energized_lip",
        "compound": "ptfe_carbon_graphite_25",
        "retention": "clamped_flange",
        **design,
    }
    return request


def numbers(answer: Any, path: str = "") -> Iterator[tuple[str, float]]:
    """Every number of an answer with its path."""
    if isinstance(answer, dict):
        for key, value in answer.items():
            yield from numbers(value, f"{path}/{key}")
    elif isinstance(answer, list):
        for index, value in enumerate(answer):
            yield from numbers(value, f"{path}/{index}")
    elif isinstance(answer, float | int) and not isinstance(answer, bool):
        yield path, float(answer)


def assert_finite(answer: Answer) -> None:
    """Assert that no number of an answer is infinite or not a number."""
    wrong = [path for path, value in numbers(answer) if not math.isfinite(value)]
    assert not wrong, wrong


def random_design(chance: random.Random) -> Request:
    """Any coherent choice of options, sized by the rules or, at times, with a few dimensions of its own."""
    data = rules().data
    elastomer = chance.choice([*data.elastomers, None])
    design: Request = {"compound": chance.choice(list(data.compounds))}
    if chance.random() < 0.5:
        design.update(
            family="flexible_lip",
            second_lip=chance.choice(["none", "excluder", "redundant"]),
            lip_tip=chance.choice(["plain", "upturned_with_garter"]),
            reinforcing_band=chance.random() < 0.5,
            retention=chance.choice(["o_ring", "clamped_flange", "press_fit_case"]),
        )
    else:
        design.update(
            family="energized_lip",
            lip_form=chance.choice(["plain", "scraper", "tapered"]),
            energizer=chance.choice(["cantilever_v", "canted_coil"]),
            retention=chance.choice(["o_ring", "clamped_flange"]),
            heel=chance.choice(["standard", "extended"]),
        )
        if chance.random() < 0.7:
            design["energizer_alloy"] = chance.choice(list(data.alloys))
    if elastomer is not None and design["retention"] == "o_ring":
        design["o_ring_elastomer"] = elastomer
    for name, low, high in (
        ("lip_thickness", 0.2, 2.0), ("lip_length", 1.0, 10.0), ("interference", 0.0, 1.5), ("contact_width", 0.05, 2.0),
    ):  # fmt: skip
        if chance.random() < 0.15:
            design[name] = q(round(chance.uniform(low, high), 3), "mm")
    if chance.random() < 0.3:
        _add_spring(design, chance)
    if chance.random() < 0.2:
        design["compound_properties"] = random_properties(chance)
    return design


def _add_spring(design: Request, chance: random.Random) -> None:
    """Give the energizer dimensions of its own, now and then beyond what its model covers."""
    if design.get("energizer") == "cantilever_v":
        length, angle = chance.uniform(1.0, 8.0), chance.uniform(5.0, 75.0)
        design["cantilever_v"] = {
            "strip_thickness": q(length * chance.uniform(0.02, 0.3), "mm"),
            "finger_length": q(length, "mm"),
            "root_angle": q(angle, "deg"),
            "coverage": q(chance.uniform(0.1, 1.0), "1"),
            "deflection": q(2.0 * length * math.sin(math.radians(angle)) * chance.uniform(0.01, 0.99), "mm"),
        }
    elif design.get("energizer") == "canted_coil":
        wire = chance.uniform(0.1, 0.8)
        height = wire * chance.uniform(4.0, 14.0)
        design["canted_coil"] = {
            "wire_diameter": q(wire, "mm"),
            "coil_height": q(height, "mm"),
            "coil_width": q(height * chance.uniform(0.7, 1.7), "mm"),
            "pitch": q(wire * chance.uniform(1.1, 3.0), "mm"),
            "cant_angle": q(chance.uniform(10.0, 65.0), "deg"),
            "deflection": q((height - 2.0 * wire) * chance.uniform(0.01, 0.99), "mm"),
        }
    elif design.get("lip_tip") == "upturned_with_garter":
        wire = chance.uniform(0.1, 0.8)
        design["garter"] = {
            "wire_diameter": q(wire, "mm"),
            "mean_coil_diameter": q(wire * chance.uniform(2.0, 10.0), "mm"),
            "free_length": q(chance.uniform(20.0, 500.0), "mm"),
            "initial_tension": q(chance.uniform(0.0, 5.0), "N"),
            "active_coils": q(chance.uniform(20.0, 2000.0), "1"),
        }


def random_properties(chance: random.Random) -> Request:
    """Properties of a compound in place of those of the rules, some of them."""
    mu = sorted(chance.uniform(0.01, 0.5) for _ in range(3))
    rate = sorted(10 ** chance.uniform(-8.0, -3.0) for _ in range(3))
    ends = ("low", "nominal", "high")
    every: Request = {
        "elastic_modulus": q(10 ** chance.uniform(1.5, 3.7), "MPa"),
        "poisson_ratio": q(chance.uniform(0.3, 0.48), "1"),
        "yield_strength": q(chance.uniform(3.0, 100.0), "MPa"),
        "density": q(chance.uniform(1.8, 4.0), "g/cm3"),
        "thermal_conductivity": q(chance.uniform(0.1, 5.0), "W/m/K"),
        "relaxation": {
            "branches": [{"share": q(0.3, "1"), "time": q(10.0, "s")}, {"share": q(0.2, "1"), "time": q(1e5, "s")}],
            "reference_temperature": q(23.0, "degC"),
            "activation_energy": q(chance.uniform(20.0, 300.0), "kJ/mol"),
        },
        "friction_coefficient": {end: q(value, "1") for end, value in zip(ends, mu, strict=True)},
        "specific_wear_rate": {end: q(value, "mm3/N/m") for end, value in zip(ends, rate, strict=True)},
    }
    return {name: value for name, value in every.items() if chance.random() < 0.4}


def random_duty(chance: random.Random, wild: bool = False) -> Request:
    """A duty within what seals of this kind are asked to do; ``wild`` goes out to the ends of the accepted ranges."""
    data = rules().data
    diameter = (
        chance.choice([8.0, 20.0, 35.0, 50.0, 80.0, 120.0, 300.0]) if not wild else 10 ** chance.uniform(0.0, 3.47)
    )
    span = 500.0 if wild else 40.0
    speed = chance.choice([0.0, 10 ** chance.uniform(-3.0, math.log10(span))])
    kind = chance.random()
    motion: Request
    if kind < 0.4:
        motion = {"kind": "surface", "surface_speed": q(speed, "m/s")}
    elif kind < 0.8:
        motion = {"kind": "rotation", "rotational_speed": q(min(speed / (math.pi * diameter / 1e3), 4999.0), "rev/s")}
    else:
        half = chance.uniform(1.0, 180.0)
        motion = {
            "kind": "oscillation", "half_amplitude": q(half, "deg"),
            "frequency": q(min(speed / (2.0 * math.radians(half) * diameter / 1e3), 999.0), "Hz"),
        }  # fmt: skip
    normal = chance.uniform(-150.0, 230.0) if not wild else chance.uniform(-270.0, 700.0)
    temperature = {"normal": q(normal, "degC")}
    if chance.random() < 0.7:
        temperature["minimum"] = q(max(normal - chance.uniform(0.0, 100.0), -273.0), "degC")
    if chance.random() < 0.7:
        temperature["maximum"] = q(min(normal + chance.uniform(0.0, 100.0), 720.0), "degC")
    top = 5e8 if wild else 6e7
    pressure = chance.choice([0.0, 10 ** chance.uniform(3.0, math.log10(top)), -chance.uniform(0.0, 101e3)])
    duty: Request = {
        "shaft_diameter": q(diameter, "mm"),
        "motion": motion,
        "pressure": q(pressure, "Pa"),
        "temperature": temperature,
        "fluid": chance.choice(list(data.fluids)),
        "food_contact": chance.random() < 0.2,
        "shaft": {},
    }
    if chance.random() < 0.4:
        duty["lubrication"] = chance.choice(["dry", "starved", "flooded"])
    if chance.random() < 0.7:
        duty["contaminants"] = chance.choice(["clean", "dusty", "abrasive", "wet", "submerged"])
    if chance.random() < 0.8:
        duty["runout"] = q(chance.uniform(0.0, 0.5), "mm")
    if chance.random() < 0.7:
        duty["offset"] = q(chance.uniform(0.0, 0.5), "mm")
    shaft = duty["shaft"]
    if chance.random() < 0.5:
        shaft["material"] = chance.choice(list(data.shaft_materials))
    if chance.random() < 0.7:
        shaft["hardness"] = q(chance.uniform(10.0, 70.0), "HRC")
    if chance.random() < 0.7:
        shaft["roughness"] = q(10 ** chance.uniform(-2.0, 0.7), "um")
    if chance.random() < 0.7:
        shaft["machining_lead"] = chance.choice(["none", "present"])
    return duty


def random_request(seed: int, wild: bool = False) -> Request:
    """A request with a duty and a design, the same for the same seed."""
    chance = random.Random(seed)
    return {"duty": random_duty(chance, wild), "design": random_design(chance)}


def _toleranced(nominal: float, spread: float, unit: str = "mm") -> Request:
    length: Request = {"nominal": q(nominal, unit)}
    if spread > 0.0:
        length.update(plus=q(spread, unit), minus=q(spread, unit))
    return length


def random_energizer(seed: int) -> Request:
    """An energizer with tolerances, now and then beyond its model, the same for the same seed."""
    chance = random.Random(seed)
    spread = chance.choice([0.0, 0.01, 0.03])
    kind = chance.choice(["cantilever_v", "canted_coil", "garter", "o_ring"])
    energizer: Request = {"kind": kind}
    if kind != "o_ring" and chance.random() < 0.7:
        energizer["alloy"] = chance.choice(list(rules().data.alloys))

    def length(nominal: float) -> Request:
        return _toleranced(nominal, spread * nominal)

    def compression(travel: float, height: float) -> Request:
        if chance.random() < 0.5:
            return {"kind": "deflection", "deflection": length(travel)}
        return {"kind": "gland", "free_height": length(height), "gland_height": length(height - travel)}

    if kind == "cantilever_v":
        finger, angle = chance.uniform(1.0, 8.0), chance.uniform(3.0, 65.0)
        opening = 2.0 * finger * math.sin(math.radians(angle))
        energizer.update(
            strip_thickness=length(finger * chance.uniform(0.02, 0.2)),
            finger_length=length(finger),
            root_angle=q(angle, "deg"),
            coverage=q(chance.uniform(0.2, 1.0), "1"),
            compression=compression(opening * chance.uniform(0.05, 0.99), 2.0 * opening),
        )
    elif kind == "canted_coil":
        wire = chance.uniform(0.1, 0.8)
        height = wire * chance.uniform(5.0, 14.0)
        energizer.update(
            wire_diameter=length(wire),
            coil_height=length(height),
            coil_width=length(height * chance.uniform(0.85, 1.6)),
            pitch=length(wire * chance.uniform(1.2, 3.0)),
            cant_angle=q(chance.uniform(12.0, 62.0), "deg"),
            compression=compression((height - 2.0 * wire) * chance.uniform(0.05, 0.7), height),
        )
    elif kind == "garter":
        wire, ring = chance.uniform(0.1, 0.8), chance.uniform(20.0, 200.0)
        energizer.update(
            wire_diameter=length(wire),
            mean_coil_diameter=length(wire * chance.uniform(2.5, 10.0)),
            active_coils=q(chance.uniform(50.0, 2000.0), "1"),
            free_length=q(math.pi * ring * chance.uniform(0.9, 1.05), "mm"),
            initial_tension=q(chance.uniform(0.0, 3.0), "N"),
            ring_diameter=length(ring),
        )
    else:
        section = chance.uniform(1.0, 7.0)
        energizer.update(
            section=length(section),
            inside_diameter=q(chance.uniform(10.0, 300.0), "mm"),
            gland_height=length(section * chance.uniform(0.55, 0.98)),
        )
    return {
        "energizer": energizer,
        "contact_diameter": q(chance.uniform(10.0, 200.0), "mm"),
        "temperature": q(chance.uniform(-200.0, 300.0), "degC"),
        "sampling": {
            "samples": 500,
            "seed": chance.randrange(1000),
            "distribution": chance.choice(["normal", "uniform"]),
        },
    }
