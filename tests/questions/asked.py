"""What workings are tested on: every example of an operation, random duties with random designs, random energizers."""

from __future__ import annotations

import copy
import math
import random
from collections.abc import Iterator

from glandwise.operations import ON_CASES
from pydantic import BaseModel

from tests.conftest import load_examples
from tests.laws import share
from tests.questions import support
from tests.questions.support import Request, q

OPERATIONS = {row.name: row for row in ON_CASES if row.name != "answer_enquiry"}
"""Operations with a working."""

RANDOM = ("check_envelope", "allow_runout", "estimate_friction", "estimate_wear")


def requests() -> Iterator[tuple[str, str, Request]]:
    """Every example of an operation, random duties with random designs, and random energizers."""
    for operation, name, _, request in load_examples():
        if operation in OPERATIONS:
            yield operation, name, request
    for seed in (*range(share(40)), *range(40, 40 + share(20))):
        request = support.random_request(seed, wild=seed >= 40)
        for operation in RANDOM:
            yield operation, f"random {seed}", request
    for seed in range(share(40)):
        chance, request = random.Random(seed), support.random_request(seed)
        glanded = with_gland(request, chance)
        yield "check_gland", f"random {seed}", glanded
        cold = chance.choice([None, q(chance.uniform(-60.0, 60.0), "degC")])
        yield (
            "check_thermal_fit",
            f"random {seed}",
            glanded if cold is None else {**glanded, "assembly_temperature": cold},
        )
        yield "estimate_blank", f"random {seed}", with_stock(request, chance)
    for seed in range(share(8)):
        yield "assess_spectrum", f"random {seed}", with_phases(support.random_request(seed), random.Random(seed))
    for seed in range(2):
        axis = {"points": 10}
        request = {
            **support.random_request(seed),
            "x": {"kind": "surface_speed", **axis},
            "y": {"kind": "pressure", **axis},
        }
        yield "map_operation", f"random {seed}", request
    for seed in range(40):
        yield "estimate_energizer_load", f"random {seed}", random_energizer(random.Random(seed))


def with_gland(request: Request, chance: random.Random) -> Request:
    """The request with a gland, half of the time with dimensions of its own."""
    if chance.random() < 0.4:
        return {**request, "gland": {}}
    request = copy.deepcopy(request)
    d, retention = request["duty"]["shaft_diameter"]["value"], request["design"]["retention"]
    bore = round(d + chance.uniform(10.0, 24.0), 1)
    request["duty"]["bore"] = {"diameter": q(bore, "mm")}
    if chance.random() < 0.5:
        request["duty"]["bore"]["material"] = chance.choice(list(support.rules().data.shaft_materials))

    def toleranced(value: float, share: float) -> Request:
        return {"nominal": q(value, "mm"), "plus": q(share, "mm"), "minus": q(share, "mm")}

    options: Request = {
        "shaft_tolerance": chance.choice([
            {"kind": "class", "name": chance.choice(["h9", "f7", "js10"])},
            {"kind": "deviations", "upper": q(0.0, "mm"), "lower": q(-0.05, "mm")},
        ]),
        "bore_tolerance": chance.choice([
            {"kind": "class", "name": chance.choice(["H7", "F8"])},
            {"kind": "deviations", "upper": q(0.06, "mm"), "lower": q(0.0, "mm")},
        ]),
        "seal_width": q(chance.uniform(6.0, 15.0), "mm"),
        "throat_diameter": toleranced(d + chance.uniform(0.2, 1.0), 0.03),
        "housing_outer_diameter": q(bore * chance.uniform(1.15, 2.0), "mm"),
        "heel_thickness": q(chance.uniform(0.8, 4.0), "mm"),
        "body_diameter": toleranced(bore - chance.uniform(0.2, 0.6), 0.05),
    }  # fmt: skip
    if retention == "clamped_flange":
        options["clamp"] = {"force": q(chance.uniform(100.0, 20000.0), "N"), "inner_diameter": q(bore - 4.0, "mm")}
    if retention == "press_fit_case":
        options["case"] = {"wall_thickness": q(1.0, "mm"), "yield_strength": q(300.0, "MPa"), "length": q(5.0, "mm"),
                           "outer_diameter": toleranced(bore + chance.uniform(0.1, 0.25), 0.02)}  # fmt: skip
    if retention == "o_ring":
        options["groove"] = {"diameter": toleranced(bore - 5.4, 0.04), "width": toleranced(5.0, 0.05)}
        options["o_ring"] = {
            "kind": "dimensions", "inner_diameter": toleranced(bore - 8.0, 0.3), "section": toleranced(3.53, 0.1),
        }  # fmt: skip
    return {**request, "gland": {name: value for name, value in options.items() if chance.random() < 0.5}}


def with_stock(request: Request, chance: random.Random) -> Request:
    """The request of a number of pieces, some of it with stock, allowances and rates of its own."""
    d = request["duty"]["shaft_diameter"]["value"]
    options: Request = {
        "axial_width": q(chance.uniform(8.0, 20.0), "mm"),
        "stock": chance.choice([{"form": "rod"}, {"outer_diameter": q(d * 2.0 + 40.0, "mm")}, {"length": q(1.0, "m")}]),
        "allowances": {"outer": q(1.5, "mm"), "face": q(0.4, "mm"), "reject_share": q(chance.uniform(0.0, 0.4), "1")},
        "rates": {
            "currency": "EUR", "material": {"amount": 70.0, "per": chance.choice(["kg", "g", "lb"])},
            "machine_per_hour": 80.0, "machine_time_per_piece": q(6.0, "min"), "setup_time": q(2.0, "h"),
        },
    }  # fmt: skip
    chosen = {name: value for name, value in options.items() if chance.random() < 0.5}
    return {**request, "pieces": chance.randrange(1, 3000), **chosen}


def with_phases(request: Request, chance: random.Random) -> Request:
    """The request with a duty of several phases."""
    phases: list[Request] = [{"share": q(0.4, "1")}]
    for _ in range(chance.randrange(1, 3)):
        other = support.random_duty(chance)
        phase = {"share": q(round(chance.choice([0.0, chance.uniform(0.01, 0.3)]), 3), "1")}
        phase |= {name: other[name] for name in ("motion", "pressure", "temperature") if chance.random() < 0.6}
        phases.append(phase)
    return {**request, "phases": phases}


def random_energizer(chance: random.Random) -> Request:
    """A request for the load of some energizer with tolerances, now and then beyond what its model covers."""

    def toleranced(value: float, share: float = 0.02) -> Request:
        part: Request = {"nominal": q(value, "mm")}
        for side in ("plus", "minus"):
            if chance.random() < 0.5:
                part[side] = q(value * chance.uniform(0.0, share), "mm")
        return part

    def compression(deflection: float, height: float) -> Request:
        if chance.random() < 0.5:
            return {"kind": "deflection", "deflection": toleranced(deflection)}
        return {
            "kind": "gland", "free_height": toleranced(height, 0.01), "gland_height": toleranced(height - deflection, 0.01),
        }  # fmt: skip

    kind = chance.choice(["cantilever_v", "canted_coil", "garter", "o_ring"])
    e: Request = {"kind": kind}
    if kind == "cantilever_v":
        length, angle = chance.uniform(1.0, 8.0), chance.uniform(5.0, 65.0)
        opening = 2.0 * length * math.sin(math.radians(angle))
        e |= {
            "strip_thickness": toleranced(length * chance.uniform(0.02, 0.2)), "finger_length": toleranced(length),
            "root_angle": q(angle, "deg"), "coverage": q(chance.uniform(0.2, 1.0), "1"),
            "compression": compression(opening * chance.uniform(0.02, 0.97), opening),
        }  # fmt: skip
        if chance.random() < 0.4:
            e["plate_blend"] = q(chance.uniform(0.0, 1.0), "1")
    elif kind == "canted_coil":
        wire = chance.uniform(0.1, 0.8)
        height = wire * chance.uniform(5.0, 12.0)
        e |= {
            "wire_diameter": toleranced(wire), "coil_height": toleranced(height),
            "coil_width": toleranced(height * chance.uniform(0.9, 1.6)), "pitch": toleranced(wire * chance.uniform(1.3, 3.0)),
            "cant_angle": q(chance.uniform(12.0, 62.0), "deg"),
            "compression": compression((height - wire) * chance.uniform(0.05, 0.6), height),
        }  # fmt: skip
    elif kind == "garter":
        wire = chance.uniform(0.1, 0.8)
        ring = chance.uniform(20.0, 150.0)
        e |= {
            "wire_diameter": toleranced(wire), "mean_coil_diameter": toleranced(wire * chance.uniform(3.0, 8.0)),
            "active_coils": q(chance.uniform(100.0, 900.0), "1"), "free_length": q(math.pi * ring * chance.uniform(0.9, 1.05), "mm"),
            "initial_tension": q(chance.uniform(0.0, 3.0), "N"), "ring_diameter": toleranced(ring, 0.005),
        }  # fmt: skip
    else:
        section = chance.uniform(1.0, 7.0)
        inside = section * chance.uniform(3.0, 30.0)
        e |= {
            "section": toleranced(section, 0.05), "inside_diameter": q(inside, "mm"),
            "gland_height": toleranced(section * chance.uniform(0.55, 0.95)),
        }  # fmt: skip
        if chance.random() < 0.5:
            e["seat_diameter"] = q(inside * chance.uniform(0.95, 1.08), "mm")
        if chance.random() < 0.3:
            e["elastic_modulus"] = q(chance.uniform(2.0, 20.0), "MPa")
    request: Request = {
        "energizer": e, "contact_diameter": q(chance.uniform(10.0, 150.0), "mm"),
        "temperature": q(chance.uniform(-150.0, 250.0), "degC"), "sampling": {"samples": 100},
    }  # fmt: skip
    if chance.random() < 0.3:
        request["modulus_scatter"] = q(chance.choice([0.0, 0.1]), "1")
    return request


def call(operation: str, request: Request, *, working: bool) -> tuple[BaseModel, Request]:
    """Answer a request; returns it as read, and the result."""
    row = OPERATIONS[operation]
    body = row.request.model_validate({**request, "working": working})
    return body, row.answer(body, support.engine())
