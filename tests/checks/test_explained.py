"""Workings that are the trace of the formulas that ran: recomputed from what is printed, and complete in what they rest on.

The evaluator shares no code with the service but the tables of solved shapes, which it reads through the uncompiled formulas.
"""

from __future__ import annotations

import ast
import json
import keyword
import math
import re
from collections import Counter
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any, NamedTuple

import numpy as np
import orjson
import pytest
from glandwise.formulas import beams, fits, heat, rods, shells
from glandwise.numerics.dimensions import dimension
from glandwise.numerics.trace import calm
from pydantic import ValidationError

from tests.checks import support
from tests.checks.support import Request
from tests.checks.test_working import ELEMENTARY, EXPLAINED, OPERATORS, call, requests
from tests.conftest import ROOT, example

TOLERANCE = 1e-9


def _read(formula: Any, field: str | int | None = None) -> Callable[..., float]:
    run = calm(formula)

    def read(*arguments: float) -> float:
        with np.errstate(all="ignore"):
            value = run(*map(np.float64, arguments))
        return float(value if field is None else value[field] if isinstance(field, int) else getattr(value, field))

    return read


TABLES: dict[str, Callable[..., float]] = {
    "finger_load": _read(beams.finger, "load"),
    "finger_curvature": _read(beams.finger, "curvature"),
    "finger_tangent": _read(beams.finger, "tangent"),
    "finger_recovery": _read(beams.finger, "recovery"),
    "finger_set": _read(beams.finger, "permanent_set"),
    "canted_coil_rate": _read(rods.canted_coil_rate),
    "canted_coil_share": _read(rods.canted_coil, "share"),
    "canted_coil_tangent": _read(rods.canted_coil, "tangent"),
    "canted_coil_moment": _read(rods.canted_coil, "moment"),
    "canted_coil_touching": _read(rods.canted_coil_touching),
    "canted_coil_band": _read(rods.canted_coil_band),
    "stretched_section": _read(fits.stretched_section),
    "ring_factor": _read(heat.ring_factor),
    "phi_k": _read(shells.end_functions, 0),
    "phi_c": _read(shells.end_functions, 1),
    "phi_s": _read(shells.end_functions, 2),
    "phi_m": _read(shells.mass_share),
}
SEARCHED = re.compile(r"(T_c|omega_w|p_br)(_|$)")
"""Numbers that a search gave: the steps that follow prove them."""


@cache
def parsed(equation: str) -> ast.expr:
    """Tree of an equation."""
    return ast.parse(equation, mode="eval").body


def evaluated(equation: str, inputs: dict[str, float]) -> float | None:
    """Value of an equation; ``None`` where it has none."""

    def of(node: ast.expr) -> float:
        match node:
            case ast.Constant(value=int() | float() as number):
                return float(number)
            case ast.Name(id="pi"):
                return math.pi
            case ast.Name(id="nan" | "inf"):
                return math.nan
            case ast.Name(id=name):
                return inputs[name]
            case ast.UnaryOp(op=ast.USub(), operand=operand):
                return -of(operand)
            case ast.BinOp(left=left, op=op, right=right):
                return float(OPERATORS[type(op)](of(left), of(right)))
            case ast.Call(func=ast.Name(id=name), args=arguments):
                return float({**ELEMENTARY, **TABLES}[name](*map(of, arguments)))
        raise AssertionError(ast.dump(node))

    try:
        value = of(parsed(equation))
    except (ZeroDivisionError, ValueError, OverflowError):
        return None
    return value if math.isfinite(value) else None


def close(a: float | None, b: float | None, tolerance: float = TOLERANCE) -> bool:
    """Whether two values agree; nothing agrees with nothing."""
    return a is b if a is None or b is None else abs(a - b) <= tolerance * max(abs(a), abs(b))


class Answer(NamedTuple):
    """An answer with its working."""

    operation: str
    name: str
    request: Request
    result: Request
    steps: list[dict[str, Any]]


@pytest.fixture(scope="module")
def answers() -> list[Answer]:
    """Every request that is not refused, answered with its working."""
    found = []
    for operation, name, request in requests():
        if operation not in EXPLAINED:
            continue
        try:
            _, result = call(operation, request, working=True)
        except ValidationError:
            continue
        written = json.loads(orjson.dumps(result))
        if operation == "select_design" and not written["ranked"]:
            assert written["working"] is None
            continue
        assert written["working"], (operation, name)
        found.append(Answer(operation, name, request, written, written["working"]))
    return found


def test_every_step_follows_from_its_printed_inputs(answers: list[Answer]) -> None:
    searched = count = 0
    for answer in answers:
        known: dict[str, float | None] = {}
        for step in answer.steps:
            where = (answer[:2], step)
            assert step["symbol"] not in known, where
            for name, value in step["inputs"].items():
                assert known[name] == value or (known[name] is None and math.isnan(value)), where
            known[step["symbol"]] = step["value"]
            if SEARCHED.match(step["symbol"]):
                searched += 1
                continue
            assert close(evaluated(step["equation"], step["inputs"]), step["value"]), where
            count += 1
    assert count > 5_000
    assert searched > 100


def test_a_balance_of_heat_closes_within_the_tolerance_of_its_search(answers: list[Answer]) -> None:
    closed = 0
    for answer in answers:
        steps = {step["symbol"]: step for step in answer.steps}
        if "residual" not in steps or answer.operation != "check_envelope":
            continue
        left = abs(steps["residual"]["value"])
        hot = next(item for item in answer.result["criteria"] if item["id"] == "contact_temperature")
        if hot["demand"] is None:
            assert left > 1.0, answer[:2]  # more heat is made than carried away
        else:
            assert left <= 0.01, answer[:2]
            closed += 1
    assert closed > 40


def test_steps_state_unit_title_and_source(answers: list[Answer]) -> None:
    for answer in answers:
        for step in answer.steps:
            assert step["title"], (answer[:2], step)
            assert step["title"][0] == step["title"][0].upper(), step
            assert len(step["source"]) > 3, (answer[:2], step)
            dimension(step["unit"].replace(".", "*") if "**" not in step["unit"] else "-")
            assert re.fullmatch(r"[A-Za-z][A-Za-z0-9_]*", step["symbol"])
            assert not keyword.iskeyword(step["symbol"])
            assert step["symbol"] not in ELEMENTARY


JUDGED = ("check_envelope", "check_gland", "check_thermal_fit")
"""Operations that judge criteria."""
KINDS = ("request", "rule ", "as the branch has it", "definition", "ISO", "Atmosphere", "CGPM")


def test_a_number_that_nothing_gives_says_where_it_comes_from(answers: list[Answer]) -> None:
    kinds: Counter[str] = Counter()
    for answer in answers:
        for step in answer.steps:
            if step["inputs"] or step["equation"] != repr(step["value"]) or SEARCHED.match(step["symbol"]):
                continue
            source = step["source"]
            kind = next(
                (
                    word
                    for word in ("request", "rule ", "as the branch has it", "definition", "ISO", "Atmosphere", "CGPM")
                    if word in source
                ),
                source,
            )
            kinds[kind] += 1
    assert not kinds.keys() - {
        "request", "rule ", "as the branch has it", "definition", "ISO", "Atmosphere", "CGPM", "SI of 2019, exact",
        "Definition", "far beyond the decomposition of PTFE", "choice of this service",
        "found by a search over the range of the duty",
    }, kinds  # fmt: skip
    assert kinds["rule "] > kinds["request"] > 0


def test_every_source_that_a_working_shows_is_among_the_sources(answers: list[Answer]) -> None:
    told = re.compile(r"rule \S+; (?:source ([a-z0-9-]+), )?([a-z ]+)(?:$|;)")
    for answer in answers:
        if answer.operation not in JUDGED:
            continue
        listed = {source for item in answer.result["criteria"] for source in item["sources"]}
        for step in answer.steps:
            for source, evidence in told.findall(step["source"].partition("; {")[0]):
                assert (source or evidence.replace(" ", "-")) in listed, (answer[:2], step)


def test_a_working_ends_in_the_numbers_of_the_result(answers: list[Answer]) -> None:
    compared = Counter[str]()
    for answer in answers:
        if answer.operation not in JUDGED:
            continue
        values = [step["value"] for step in answer.steps if step["value"] is not None]
        for item in answer.result["criteria"]:
            if item["utilization"] is not None:
                assert any(close(value, item["utilization"], 2e-9) for value in values), (answer[:2], item["id"])
                compared[answer.operation] += 1
    assert compared["check_envelope"] > 400
    assert compared["check_gland"] > 100
    assert compared["check_thermal_fit"] > 100


def test_a_pressure_that_a_heel_bridges_is_the_one_that_shears_or_folds_it(answers: list[Answer]) -> None:
    tried = 0
    for answer in answers:
        values = {step["symbol"]: step["value"] for step in answer.steps}
        if "p_pr" in values:
            assert close(values["p_pr"], values["p_br"]), answer[:2]
            tried += 1
    assert tried > 20


def shown(answer: Answer) -> Iterator[tuple[str, float | None]]:
    """Symbol and number of everything in a result that its working ends in."""
    r = answer.result

    def si(quantity: Request | None, kind: str) -> float | None:
        return None if quantity is None else support.si(quantity, kind)

    if answer.operation == "estimate_energizer_load":
        load = r["load"]
        for symbol, key in (("q_e", "nominal"), ("q_e_least", "minimum"), ("q_e_most", "maximum")):
            if key == "nominal" or load["minimum"] != load["maximum"]:
                yield symbol, si(load[key], "line_load")
        kind = answer.request["energizer"]["kind"]
        stiffness = "k_q" if kind in {"canted_coil", "garter"} else "k_e"
        for symbol, key, name in (
            ("F_all", "total_load", "force"), (stiffness, "stiffness", "line_stiffness"), ("sigma_e", "stress", "stress"),
            ("h_set", "permanent_set", "length"), ("Delta", "deflection", "length"),
        ):  # fmt: skip
            yield symbol, si(r[key], name)
        yield "u_stress", r["utilization"]
        yield "C", r["squeeze"]
        if r["working_range"] is not None:
            yield "delta_low", si(r["working_range"]["lower"], "length")
            yield "delta_top", si(r["working_range"]["upper"], "length")
    elif answer.operation == "estimate_blank":
        part, stock, order = r["finished"], r["blank"], r["allocation"]
        yield "V", si(part["volume"], "volume")
        yield "m_1", si(part["mass"], "mass")
        yield "D_least", si(stock["least_outer_diameter"], "length")
        yield "l_b", si(stock["length_per_piece"], "length")
        yield "L_b", si(stock["stock_length"], "length")
        yield "D_b", si(stock["outer_diameter"], "length")
        yield "L_used", si(order["used_length"], "length")
        for key, symbol in (
            ("net_mass", "m_net"),
            ("used_mass", "m_used"),
            ("stock_mass", "m_stock"),
            ("blank_mass", "m_l"),
        ):
            yield symbol, si(order[key], "mass")
        for key, symbol in (
            ("pieces_to_make", "N_m"), ("pieces_per_length", "N_l"), ("stock_lengths", "N_s"), ("yield_of_stock", "y_stock"),
            ("yield_of_used", "y_used"),
        ):  # fmt: skip
            yield symbol, order[key]
        if r["cost"] is not None and r["cost"]["total"]:
            both = r["cost"]["material"] is not None and r["cost"]["machining"] is not None
            yield "c_stock", r["cost"]["material"]
            yield "c_machine", r["cost"]["machining"]
            yield "c_all", r["cost"]["total"] if both else None
            yield "c_1", r["cost"]["per_piece"]


def test_a_working_ends_in_every_number_of_the_result(answers: list[Answer]) -> None:
    compared: Counter[str] = Counter()
    for answer in answers:
        values = {step["symbol"]: step["value"] for step in answer.steps}
        for symbol, number in shown(answer):
            if number is None:
                continue
            assert symbol in values, (answer[:2], symbol)
            # results carry ten significant digits
            assert close(values[symbol], number, 2e-9), (answer[:2], symbol, values[symbol], number)
            compared[answer.operation] += 1
    assert min(compared["estimate_energizer_load"], compared["estimate_blank"]) > 200, compared


def test_functions_of_the_tables_are_documented() -> None:
    page = (ROOT / "service" / "docs" / "working.md").read_text(encoding="utf-8")
    assert set(TABLES) <= set(re.findall(r"^\| `([a-z_0-9]+)\(", page, re.MULTILINE))


def test_selection_shows_the_working_of_its_first_design() -> None:
    request = example("select_design", "gearbox_input")
    _, selected = call("select_design", request, working=True)
    check = {"duty": request["duty"], "design": selected["ranked"][0]["design"]}
    assert selected["working"] == call("check_envelope", check, working=True)[1]["working"]
