"""The working recomputed: every step of every calculation, from its printed inputs alone.

The evaluator below shares no code with the service but the table functions, which it calls in the mechanics directly.
It raises the elementary functions from ``math``; every agreement is to 1e-9 of the value.
"""

from __future__ import annotations

import ast
import contextlib
import copy
import dataclasses
import json
import keyword
import math
import operator
import random
import re
from collections import Counter
from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import cache, reduce
from typing import Any, NamedTuple

import numpy as np
import orjson
import pytest
from glandwise.checks import (
    blank,
    duty_spectrum,
    energizer,
    envelope,
    friction,
    gland,
    operating_map,
    runout,
    selection,
    thermal_fit,
    wear,
)
from glandwise.checks.worksheet import FUNCTIONS, Worksheet
from glandwise.contract.blank import BlankRequest
from glandwise.contract.duty_spectrum import SpectrumRequest
from glandwise.contract.energizer import EnergizerLoadRequest
from glandwise.contract.envelope import EnvelopeCheckRequest
from glandwise.contract.gland import GlandCheckRequest
from glandwise.contract.operating_map import OperatingMapRequest
from glandwise.contract.running import FrictionEstimateRequest, WearEstimateRequest
from glandwise.contract.runout import RunoutAllowanceRequest
from glandwise.contract.selection import SelectionRequest
from glandwise.contract.thermal_fit import ThermalFitRequest
from glandwise.formulas.solvers import strip
from glandwise.mechanics import beams, fits, heat, rods
from pydantic import BaseModel, ValidationError

from tests.checks import support
from tests.checks.support import Request, q
from tests.conftest import ROOT, example, load_examples

OPERATIONS: dict[str, tuple[type[BaseModel], Callable[..., Any]]] = {
    "check_envelope": (EnvelopeCheckRequest, envelope.check),
    "allow_runout": (RunoutAllowanceRequest, runout.allow),
    "estimate_energizer_load": (EnergizerLoadRequest, energizer.estimate),
    "estimate_friction": (FrictionEstimateRequest, friction.estimate),
    "estimate_wear": (WearEstimateRequest, wear.estimate),
    "select_design": (SelectionRequest, selection.select),
    "check_gland": (GlandCheckRequest, gland.check),
    "check_thermal_fit": (ThermalFitRequest, thermal_fit.check),
    "map_operation": (OperatingMapRequest, operating_map.map_operation),
    "assess_spectrum": (SpectrumRequest, duty_spectrum.assess),
    "estimate_blank": (BlankRequest, blank.estimate),
}
"""Operations with a working."""
EXPLAINED = frozenset({
    "check_envelope", "select_design", "map_operation", "estimate_energizer_load", "estimate_blank", "check_gland",
    "check_thermal_fit",
})  # fmt: skip
"""Operations whose working is the trace of the formulas that ran: see ``test_explained``."""
TOLERANCE = 1e-9
Steps = list[dict[str, Any]]


# ------------------------------------------------------------------------------------------------------- the evaluator


def _exp(x: float) -> float:
    try:
        return math.exp(x)
    except OverflowError:
        return math.inf


def _coil(delta: float, p: float, a: float, b: float, beta: float, nu: float) -> rods.CantedCoilLoad:
    return rods.canted_coil_load(delta, p, a, b, beta, 0.1 * b, 2e11, 2e11 / (2.0 + 2.0 * nu))


def _coil_moment(delta: float, p: float, a: float, b: float, beta: float, nu: float) -> float:
    return float(_coil(delta, p, a, b, beta, nu).equivalent_moment / (2e11 * math.pi * (0.1 * b) ** 4 / 64.0))


TABLES: dict[str, Callable[..., Any]] = {
    "finger_load": lambda *x: beams.finger(*x).load,
    "finger_curvature": lambda *x: beams.finger(*x).elastic_root_curvature,
    "finger_tangent": lambda *x: beams.finger(*x).tangent,
    "finger_recovery": lambda *x: beams.finger(*x).recovery,
    "finger_set": lambda *x: beams.finger(*x).permanent_set,
    "canted_coil_rate": rods.canted_coil_linear_rate,
    "canted_coil_share": lambda *x: _coil(*x).share_of_linear,
    "canted_coil_tangent": lambda *x: _coil(*x).share_of_linear * _coil(*x).flatness,
    "canted_coil_moment": _coil_moment,
    "ring_constriction": lambda epsilon: heat.ring_constriction(2.0, epsilon, 0.5 / math.pi),
    "stretched_section": fits.stretched_section,
}
ELEMENTARY: dict[str, Callable[..., Any]] = {
    name: getattr(math, name)
    for name in ("floor", "ceil", "sqrt", "expm1", "log", "log1p", "log10", "sin", "cos", "tan", "asin", "acos", "atan",
                 "sinh", "cosh", "tanh")
} | {"exp": _exp, "abs": abs, "min": min, "max": max}  # fmt: skip
OPERATORS: dict[type, Callable[[Any, Any], Any]] = {
    ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv, ast.Pow: operator.pow,
}  # fmt: skip


@cache
def parsed(equation: str) -> ast.AST:
    """Tree of an equation."""
    return ast.parse(equation, mode="eval").body


def evaluated(equation: str, inputs: dict[str, Any]) -> Any:
    """Value of an equation; ``None`` where it has none."""

    def of(node: ast.AST) -> Any:
        if isinstance(node, ast.Constant):
            return node.value
        if isinstance(node, ast.Name):
            return math.pi if node.id == "pi" else inputs[node.id]
        if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
            return -of(node.operand)
        if isinstance(node, ast.BinOp):
            return OPERATORS[type(node.op)](of(node.left), of(node.right))
        assert isinstance(node, ast.Call)
        assert isinstance(node.func, ast.Name)
        return {**ELEMENTARY, **TABLES}[node.func.id](*map(of, node.args))

    try:
        value = of(parsed(equation))
    except (ZeroDivisionError, ValueError):
        return None
    return value if not isinstance(value, float) or math.isfinite(value) else None


@cache
def names_in(equation: str) -> set[str]:
    """Symbols of an equation."""
    found = {node.id for node in ast.walk(parsed(equation)) if isinstance(node, ast.Name)}
    return found - ELEMENTARY.keys() - TABLES.keys() - {"pi"}


# --------------------------------------------------------------------------------------------------------- the requests


RANDOM = ("check_envelope", "allow_runout", "estimate_friction", "estimate_wear")


def requests() -> Iterator[tuple[str, str, Request]]:
    """Every example of an operation, random duties with random designs, and random energizers."""
    for operation, name, _, request in load_examples():
        if operation in OPERATIONS:
            yield operation, name, request
    for seed in range(60):
        request = support.random_request(seed, wild=seed >= 40)
        for operation in RANDOM:
            yield operation, f"random {seed}", request
    for seed in range(40):
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
    for seed in range(8):
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
    model, function = OPERATIONS[operation]
    body = model.model_validate({**request, "working": working})
    return body, function(body, support.engine())


class Answer(NamedTuple):
    """A request with its answer as it is on the wire."""

    operation: str
    name: str
    request: Request
    result: Request
    steps: Steps


@pytest.fixture(scope="module")
def answers() -> list[Answer]:
    """Every request that is not refused, answered with its working."""
    found = []
    for operation, name, request in requests():
        if operation in EXPLAINED:
            continue
        try:
            body, result = call(operation, request, working=True)
        except ValidationError:
            continue
        written = json.loads(orjson.dumps(result))
        assert written["working"], (operation, name)
        found.append(Answer(operation, name, body.model_dump(mode="json"), written, written["working"]))
    return found


# --------------------------------------------------------------------------------------------------------------- steps


def close(a: float | None, b: float | None, tolerance: float = TOLERANCE) -> bool:
    """Whether two values agree; nothing agrees with nothing."""
    if a is None or b is None:
        return a is b
    return abs(a - b) <= tolerance * max(abs(a), abs(b))


def test_every_step_follows_from_its_printed_inputs(answers: list[Answer]) -> None:
    count = 0
    for answer in answers:
        for step in answer.steps:
            assert set(step["inputs"]) == names_in(step["equation"]), (answer[:2], step)
            value = evaluated(step["equation"], step["inputs"])
            assert close(value, step["value"]), (answer[:2], value, step)
            count += 1
    assert count > 5_000


def test_inputs_are_values_of_earlier_steps_or_points_of_a_table(answers: list[Answer]) -> None:
    points = rule_numbers()
    for answer in answers:
        known: dict[str, float | None] = {}
        for step in answer.steps:
            assert step["symbol"] not in known, (answer[:2], step["symbol"])
            assert step["symbol"] not in step["inputs"], (answer[:2], step)
            for name, value in step["inputs"].items():
                if name in known:
                    assert known[name] == value, (answer[:2], step["symbol"], name)
                else:
                    assert re.fullmatch(rf"{step['symbol']}_(x0|x1|y0|y1|end)", name), (
                        answer[:2],
                        step["symbol"],
                        name,
                    )
                    assert value in points, (answer[:2], step["symbol"], name)
            known[step["symbol"]] = step["value"]


NATURE = {8.31446261815324, 101325.0, 9.80665, 287.05287, 293.15, 293.15 - 0.0}
SEARCHED = re.compile(r"(T_c|omega_w)(_|$)")
DERIVED = re.compile(
    # limits of toleranced sizes, sizes chosen from series or by search, and units
    r"at a limit|tolerance class|(lower|upper) limit|AS568|by search|, rounded|rule gland\.nominal_sizes|definition of the unit"
    r"|rule blank\.tube_bore_min|rule gland\.o_ring_choice|request /gland|rule sizing\.\w+\.axial_width|search over the range"
)
NOTHING = re.compile(r"(q_spring|k_spring|m_spring|k_side|f_form|pv_c|sigma_lip|a_off)(_|$)")


def test_given_numbers_come_from_the_request_the_rules_or_nature(answers: list[Answer]) -> None:
    rules = rule_numbers()
    for answer in answers:
        request = set(plain_numbers(answer.request))
        for step in answer.steps:
            if step["inputs"] or step["equation"] != repr(step["value"]):
                continue
            value = step["value"]
            if value in request or value in rules or value in NATURE:
                continue
            if SEARCHED.match(step["symbol"]):
                assert "found by" in step["title"], step
            elif NOTHING.match(step["symbol"]):
                assert value in {0.0, 1.0}, step
            else:
                assert DERIVED.search(step["source"]), (answer[:2], step)


def test_steps_state_unit_title_and_source(answers: list[Answer]) -> None:
    for answer in answers:
        for step in answer.steps:
            assert step["title"], (answer[:2], step)
            assert len(step["source"]) > 3, (answer[:2], step)
            assert dimension_of(step["unit"]) is not None, step["unit"]
            assert re.fullmatch(r"[A-Za-z][A-Za-z0-9_]*", step["symbol"])
            assert not keyword.iskeyword(step["symbol"])
            assert step["symbol"] not in FUNCTIONS


BASE = {
    "m": (1, 0, 0, 0, 0), "kg": (0, 1, 0, 0, 0), "s": (0, 0, 1, 0, 0), "K": (0, 0, 0, 1, 0), "mol": (0, 0, 0, 0, 1),
    "rad": (0, 0, 0, 0, 0), "1": (0, 0, 0, 0, 0), "N": (1, 1, -2, 0, 0), "Pa": (-1, 1, -2, 0, 0), "J": (2, 1, -2, 0, 0),
    "W": (2, 1, -3, 0, 0),
}  # fmt: skip
Dimension = tuple[Fraction, ...]


@cache
def dimension_of(unit: str) -> Dimension | None:
    """Exponents of metre, kilogram, second, kelvin and mole of an SI unit; ``None`` for what is none."""
    total = [Fraction(0)] * 5
    for sign, part in re.findall(r"([./]?)([A-Za-z1]+[0-9]*)", "." + unit):
        match = re.fullmatch(r"(1|[A-Za-z]+)([0-9]*)", part)
        if match is None or match[1] not in BASE:
            return None
        power = int(match[2] or 1) * (-1 if sign == "/" else 1)
        total = [a + power * b for a, b in zip(total, BASE[match[1]], strict=True)]
    return tuple(total)


NUMBERS = re.compile(
    # correlations and fits of numbers in stated units, and steps whose equation carries a constant with a unit
    r"(k_air|nu_air|cp_R|E_s|T_cold|a_T|e_seal|s_1000|h_1000|E_r|u_temperature_low|m_spring)(_|$)"
)


def test_equations_are_sound_in_their_dimensions(answers: list[Answer]) -> None:
    """Units of the inputs, carried through the equation, give the unit of the result."""
    none = (Fraction(0),) * 5
    for answer in answers:
        unit_of: dict[str, str] = {}
        for step in answer.steps:
            unit_of[step["symbol"]] = step["unit"]
            if not step["inputs"] or NUMBERS.match(step["symbol"]):
                continue
            at = next((name for name in step["inputs"] if name in unit_of), None)
            dims = {}
            for name in step["inputs"]:
                unit = step["unit"] if re.search(r"_(y0|y1|end)$", name) and name not in unit_of else unit_of.get(name)
                if unit is None:  # an abscissa of a table
                    assert at is not None
                    unit = unit_of[at]
                dims[name] = dimension_of(unit) or none
            found = dimension(step["equation"], tuple(dims.items()))
            assert found is None or found == dimension_of(step["unit"]), (answer[:2], step)


@cache
def dimension(equation: str, given_dims: tuple[tuple[str, Dimension], ...]) -> Dimension | None:
    """Dimension of an equation; ``None`` for a bare zero, which has any. Raises where unlike things are added."""
    dims = dict(given_dims)
    none = (Fraction(0),) * 5
    lengths, stress = dimension_of("m"), dimension_of("Pa")

    def of(node: ast.AST) -> Dimension | None:
        if isinstance(node, ast.Constant):
            return None if node.value == 0 else none
        if isinstance(node, ast.Name):
            return none if node.id == "pi" else dims[node.id]
        if isinstance(node, ast.UnaryOp):
            return of(node.operand)
        if isinstance(node, ast.BinOp):
            left, right = of(node.left), of(node.right)
            if isinstance(node.op, ast.Pow):
                assert left is not None
                exponent = evaluated(ast.unparse(node.right), {})
                return tuple(part * Fraction(exponent).limit_denominator(100) for part in left)
            if isinstance(node.op, ast.Mult | ast.Div):
                sign = 1 if isinstance(node.op, ast.Mult) else -1
                return tuple(a + sign * b for a, b in zip(left or none, right or none, strict=True))
            return like(left, right)
        assert isinstance(node, ast.Call)
        assert isinstance(node.func, ast.Name)
        given = [of(argument) for argument in node.args]
        name = node.func.id
        if name in {"min", "max", "abs"}:
            return reduce(like, given)
        if name == "sqrt":
            assert given[0] is not None
            return tuple(part / 2 for part in given[0])
        if name == "canted_coil_rate":
            assert given == [lengths, lengths, lengths, none, lengths, stress, stress]
            return dimension_of("N/m")
        if name.startswith("canted_coil"):
            assert given == [lengths, lengths, lengths, lengths, none, none]
            return dimension_of("1/m") if name.endswith("moment") else none
        if name == "stretched_section":
            assert given == [lengths, lengths, lengths]
            return lengths
        assert all(item in {none, None} for item in given), equation
        return none

    def like(a: Dimension | None, b: Dimension | None) -> Dimension | None:
        assert a is None or b is None or a == b, equation
        return b if a is None else a

    return of(parsed(equation))


# ------------------------------------------------------------------------------------------------------------- results


def result_numbers(answer: Answer) -> Iterator[tuple[str, float | None]]:
    """Symbol and number of everything in a result that its working ends in."""
    r = answer.result

    def si(quantity: Request | None, dimension: str) -> float | None:
        return None if quantity is None else support.si(quantity, dimension)

    if answer.operation == "assess_spectrum":
        for level in ("low", "nominal", "high"):
            if r["mean_power"][level] is not None and r["rest_share"] < 1.0:
                yield f"P_mean_{level}", si(r["mean_power"][level], "power")
        for key, symbol in (("mean_torque", "M_mean"), ("greatest_torque", "M_most")):
            if r[key] is not None:
                yield symbol, si(r[key], "torque")
        yield "h_all", si(r["wear_allowance"], "length")
        yield "s_1000", si(r["sliding_distance_per_1000_h"], "length")
        for end, name in (("low", "long"), ("nominal", "nominal"), ("high", "short")):
            if r["life"] is not None and r["life"][name] is not None:
                yield f"t_{_told(r['life'], name)}_{end}", si(r["life"][name], "time")
    elif answer.operation == "allow_runout":
        here = r["at_duty"]
        yield "TIR", si(here["allowed_runout"], "length")
        yield "TIR_follow", si(here["followed_runout"], "length")
        if here["rated_runout"] is not None:
            yield "lim_runout", si(here["rated_runout"], "length")
        if here["allowed_with_offset"] is not None:
            yield "TIR_off", si(here["allowed_with_offset"], "length")
        yield "phi_hot", r["relaxed_share"]
        if r["utilization"] is not None:
            yield "u_runout", r["utilization"]
    elif answer.operation == "estimate_friction":
        for level in r["levels"]:
            if not level["converged"]:
                continue
            end = level["level"]
            yield f"T_c_{end}", si(level["contact_temperature"], "temperature")
            yield f"M_{end}", si(level["torque"], "torque")
            yield f"P_{end}", si(level["power"], "power")
            yield f"G_{end}", si(level["conductance"], "thermal_conductance")
            for part, symbol in (("lip", "q_lip"), ("energizer", "q_e"), ("pressure", "q_p"), ("total", "q")):
                yield f"{symbol}_{end}", si(level["load"][part], "line_load")
            yield f"p_c_{end}", si(level["lips"][0]["mean_contact_pressure"], "stress")
        yield "T_top", si(r["temperature_limit"], "temperature")
    elif answer.operation == "estimate_wear":
        yield "h_all", si(r["wear_allowance"], "length")
        yield "s_1000", si(r["sliding_distance_per_1000_h"], "length")
        for end in ("low", "nominal", "high"):
            yield f"K_{end}", si(r[f"specific_wear_rate_{end}"], "specific_wear_rate")
        if r["life"] is not None:
            yield "p_c", si(r["mean_contact_pressure"], "stress")
            yield "T_c", si(r["contact_temperature"], "temperature")
            for end, name in (("low", "long"), ("nominal", "nominal"), ("high", "short")):
                if r["life"][name] is not None:
                    yield f"t_{_told(r['life'], name)}_{end}", si(r["life"][name], "time")


def _told(life: dict[str, Any], end: str) -> str:
    """A life as long as any that is estimated is bounded in a step of its own."""
    return "told" if life[end] == life["longest"] else "life"


def test_working_ends_in_the_numbers_of_the_result(answers: list[Answer]) -> None:
    compared = Counter()
    for answer in answers:
        values = {step["symbol"]: step["value"] for step in answer.steps}
        for symbol, number in result_numbers(answer):
            assert symbol in values, (answer[:2], symbol)
            # results carry ten significant digits; an offset temperature scale costs one of them
            assert close(values[symbol], number, 2e-9), (answer[:2], symbol, values[symbol], number)
            compared[answer.operation] += 1
    for operation in OPERATIONS.keys() - EXPLAINED:
        least = {"assess_spectrum": 50}.get(operation, 100)
        assert compared[operation] >= least, compared


def test_balance_of_heat_closes_within_the_tolerance_of_its_search(answers: list[Answer]) -> None:
    found = [
        (abs(step["value"]), answer[:2])
        for answer in answers
        for step in answer.steps
        if step["symbol"].startswith("dT_bal")
    ]
    assert len(found) > 100
    assert max(found)[0] <= 0.0101, max(found)


def test_no_frequency_on_the_way_up_has_a_greater_stiffness_than_the_one_found(answers: list[Answer]) -> None:
    """The one number of the runout that a search gives is a maximum: tried at 60 speeds from standstill."""
    tried = 0
    for answer in answers[::5]:
        steps = {step["symbol"]: step for step in answer.steps}
        for end in ("cold", "hot"):
            if f"Z_{end}" not in steps:
                continue
            top = steps["omega"]["value"]
            for share in range(1, 61):
                omega = top * (share / 60.0) ** 3
                real, imaginary = (
                    evaluated(
                        steps[f"{name}_{end}"]["equation"],
                        {**steps[f"{name}_{end}"]["inputs"], f"omega_w_{end}": omega},
                    )
                    for name in ("k_re", "k_im")
                )
                assert math.hypot(real, imaginary) <= steps[f"Z_{end}"]["value"] * (1.0 + 1e-6), (
                    answer[:2],
                    end,
                    omega,
                )
            tried += 1
    assert tried > 10


def test_phases_share_what_is_the_same_and_nothing_else() -> None:
    request = example("assess_spectrum", "agitator_drive")
    _, result = call("assess_spectrum", request, working=True)
    symbols = [step["symbol"] for step in result["working"]]
    count = len(request["phases"])
    for shared in ("d", "k_E", "g_inf", "k_shaft"):
        assert symbols.count(shared) == 1
        assert f"{shared}_p1" not in symbols
    assert [name for name in symbols if re.fullmatch(r"n_p\d+", name)] == [
        f"n_p{index}" for index in range(1, count + 1)
    ]


# ------------------------------------------------------------------------------------------- without, and the worksheet


def test_without_working_nothing_else_changes() -> None:
    for operation, _, request in list(requests())[::6]:
        try:
            plain, shown = (call(operation, request, working=flag)[1] for flag in (False, True))
        except ValidationError:
            continue
        assert plain.pop("working") is None
        shown.pop("working")
        assert orjson.dumps(plain) == orjson.dumps(shown), operation


def test_working_is_not_made_unless_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: Any) -> None:
        raise AssertionError("a worksheet was made")

    monkeypatch.setattr(Worksheet, "__init__", refuse)
    for operation, _, request in list(requests())[::9]:
        with contextlib.suppress(ValidationError):
            call(operation, request, working=False)


def test_worksheet_refuses_a_symbol_that_means_two_numbers() -> None:
    sheet = Worksheet()
    sheet.given("a", "first", 1.0, "m", "test")
    sheet.given("a", "the same again", 1.0, "m", "test")
    with pytest.raises(ValueError, match="stands for"):
        sheet.given("a", "another", 2.0, "m", "test")
    assert [step["symbol"] for step in sheet.steps] == ["a"]


def test_worksheet_leaves_out_what_rests_on_an_unknown_number() -> None:
    sheet = Worksheet()
    sheet.given("a", "not known", math.nan, "m", "test")
    sheet.step("b", "follows", "2 * a", "m", "test")
    sheet.step("c", "follows further", "b + 1", "m", "test")
    sheet.given("e", "known", 0.0, "m", "test")
    sheet.step("f", "has no value", "1 / e", "1/m", "test")
    assert [(step["symbol"], step["value"]) for step in sheet.steps] == [("e", 0.0), ("f", None)]


def test_functions_are_those_of_the_documentation() -> None:
    page = (ROOT / "service" / "docs" / "working.md").read_text(encoding="utf-8")
    documented = set(re.findall(r"^\| `([a-z_0-9]+)\(", page, re.MULTILINE))
    assert set(FUNCTIONS) == set(ELEMENTARY) | set(TABLES)
    assert set(FUNCTIONS) < documented


@pytest.mark.parametrize("seed", range(8))
def test_table_functions_of_fingers_agree_with_their_solver(seed: int) -> None:
    """By another route: the boundary-value solver behind the table, to the accuracy its page states."""
    chance = random.Random(seed)
    angle, share = math.radians(chance.uniform(3.0, 55.0)), chance.uniform(0.05, 0.4)
    _, state = strip.solve_elastic_tip(np.array([angle]), np.array([share]))
    found = FUNCTIONS["finger_load"](angle, share * math.sin(angle), math.inf)
    assert found == pytest.approx(float(state.load[0]), rel=2e-6)


@pytest.mark.parametrize("epsilon", [1e-3, 0.03, 0.4])
def test_table_function_of_the_constriction_agrees_with_its_integral(epsilon: float) -> None:
    assert FUNCTIONS["ring_constriction"](epsilon) == pytest.approx(heat.exact_ring_factor(epsilon), rel=1e-6)


# --------------------------------------------------------------------------------------------------------------- numbers


def plain_numbers(value: Any) -> Iterator[float]:
    """Every number of a request in SI."""
    if isinstance(value, dict):
        for item in value.values():
            yield from plain_numbers(item)
    elif isinstance(value, list):
        for item in value:
            yield from plain_numbers(item)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield float(value)


@cache
def rule_numbers() -> frozenset[float]:
    """Every number of the rules in SI."""
    found: set[float] = set()

    def walk(record: Any) -> None:
        for name in ("si", "si_low", "si_high", "si_reference", "flat_below_k"):
            if isinstance(getattr(record, name, None), float):
                found.add(getattr(record, name))
        for name in ("si_x", "si_y", "ratios", "times_s", "si_temperature", "si_coefficient", "si_coefficients"):
            found.update(map(float, getattr(record, name, None) or ()))
        for column in (getattr(record, "si_columns", None) or {}).values():
            found.update(map(float, column))
        if isinstance(record, dict):
            for item in record.values():
                walk(item)
        elif dataclasses.is_dataclass(record):
            for field in dataclasses.fields(record):
                walk(getattr(record, field.name))
        elif isinstance(record, list):
            for item in record:
                walk(item)

    walk(support.rules().data)
    return frozenset(found)
