"""The worked examples: each script runs, and each page's arithmetic is right and agrees with the service."""

from __future__ import annotations

import ast
import math
import re
import runpy
import subprocess
import sys
from collections.abc import Iterator
from typing import Any, NamedTuple

import pytest
from glandwise import units
from glandwise_client import GlandwiseClient, Quantity, demo

from tests.client.support import ROOT
from tests.conftest import dimensions_of

FOLDER = ROOT / "service" / "docs" / "examples"
NAMES = sorted(path.stem for path in FOLDER.glob("*.md"))
NUMBER = r"-?\d[\d.]*(?:e-?\d+)?"
FUNCTIONS = {name: getattr(math, name) for name in ("sin", "cos", "sinh", "cosh", "tanh", "sqrt", "log", "exp")}
FUNCTIONS |= {"pi": math.pi, "min": min, "max": max}


class Line(NamedTuple):
    """A line of hand calculation: a number taken over (without expression), or one that follows."""

    symbol: str
    expression: str | None
    text: str
    unit: str
    sources: tuple[str, ...]


class Row(NamedTuple):
    """A row of the table of a page."""

    quantity: str
    symbol: str
    hand: str
    service: str
    within: str


def page(name: str) -> str:
    return (FOLDER / f"{name}.md").read_text(encoding="utf-8")


def lines(text: str) -> list[Line]:
    """Read the hand calculations of a page; anything in them that is not understood is a fault of the page."""
    found = []
    for sources, block in re.findall(r"^```text hand([ \w]*)\n(.*?)^```", text, re.MULTILINE | re.DOTALL):
        for raw in block.splitlines():
            line = raw.partition("#")[0].rstrip()
            if not line:
                continue
            taken = re.fullmatch(rf"(\w+) +:= +({NUMBER})(?: (\S+))?", line)
            follows = re.fullmatch(rf"(\w+) += (.+) = ({NUMBER})(?: (\S+))?", line)
            if taken:
                found.append(Line(taken[1], None, taken[2], taken[3] or "", tuple(sources.split())))
            else:
                assert follows, raw
                found.append(Line(follows[1], follows[2].strip(), follows[3], follows[4] or "", ()))
    return found


def rows(text: str) -> list[Row]:
    """Read the table of a page."""
    table = text.partition("| quantity | symbol | by hand | service | within |\n|---|---|---|---|---|\n")[2]
    cells = [
        [cell.strip().strip("`") for cell in line.strip("|").split("|")]
        for line in table.partition("\n\n")[0].strip().splitlines()
    ]
    return [Row(*row) for row in cells]


def half_a_digit(text: str) -> float:
    """Return half a unit of the last printed digit."""
    mantissa, _, exponent = text.partition("e")
    decimals = len(mantissa.partition(".")[2])
    return 0.5000001 * 10.0 ** (int(exponent or 0) - decimals)


def evaluate(expression: str, known: dict[str, float]) -> float:
    """Work an expression with the numbers above it, as printed there."""
    tree = ast.parse(expression, mode="eval")
    allowed = (ast.Expression, ast.BinOp, ast.UnaryOp, ast.Call, ast.Name, ast.Constant, ast.operator, ast.unaryop, ast.Load)  # fmt: skip
    assert all(isinstance(node, allowed) for node in ast.walk(tree)), expression
    return float(eval(compile(tree, "page", "eval"), {"__builtins__": {}}, {**FUNCTIONS, **known}))


def in_si(value: Any) -> float:
    """Return a quantity of a result in SI, and a plain number as it is."""
    if isinstance(value, Quantity):
        return float(units.to_si(value.value, dimensions_of(value.unit)[0], value.unit))
    return float(value)


@pytest.fixture(scope="module", params=NAMES)
def example(request: pytest.FixtureRequest) -> Any:
    """Return name, script and answers of an example."""
    sys.path.insert(0, str(FOLDER))
    try:
        script = runpy.run_path(str(FOLDER / f"{request.param}.py"))
    finally:
        sys.path.remove(str(FOLDER))
        sys.modules.pop("report", None)
    with GlandwiseClient.in_process() as client:
        return request.param, script, script["ask"](client)


def run(name: str, *arguments: str) -> str:
    command = [sys.executable, "-W", "error", str(FOLDER / f"{name}.py"), *arguments]
    done = subprocess.run(command, capture_output=True, text=True, encoding="utf-8", timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


IN_WORKING: dict[str, dict[str, str]] = {
    "cryogenic_transfer_pump": {
        "h_fluid": "h",
        "alpha_shaft": "alpha", "alpha_alloy": "alpha_3", "L": "L_lip", "H_0": "h_coil", "mu_nominal": "mu",
        "q_f": "q_coil", "R_c": "R_c_nominal", "G_back": "G_back_nominal", "K_0": "k", "h_all": "h_t",
    },
    "food_mixer_gearbox": {
        "h_fluid": "h",
        "L": "L_free", "b": "b_lip_nominal", "phi_nominal": "f_t_nominal", "i_T": "i_T_nominal",
        "nu_air_nominal": "nu_air_air_nominal",
        "k_air_nominal": "k_air_air_nominal", "eps_shaft_max": "epsilon_d", "eps_housing_max": "epsilon_H",
        "eps_seal_max": "epsilon_s", "C_f": "C", "R_c": "R_c_nominal",
        "G_back": "G_back_nominal", "K_0": "k", "h_all": "h_t",
    },
    "high_pressure_swivel": {
        "h_fluid": "h",
        "L": "L_free", "phi_nominal": "f_t_nominal", "i_T": "i_T_nominal", "t_s": "t_v_2", "L_s": "L_v_2",
        "psi": "phi_v", "c_s": "c_v", "Delta": "delta_v", "E_s": "E_e", "x_F": "f_spring", "h_s": "w_r_strip",
        "S_hot": "S", "f_aim": "f_clamp", "eps_housing_max": "epsilon_H", "eps_shaft_max": "epsilon_d", "a_off": "a",
        "TIR_stated": "TIR", "t_h": "t_h1", "S_t": "sigma", "S_sh": "tau_heel", "eps_root": "epsilon_root",
        "C_f": "C", "eps_seal_max": "epsilon_s",
        "R_c": "R_c_nominal", "G_back": "G_back_nominal", "K_0": "k",
    },
}  # fmt: skip
"""Symbols of a hand calculation that the working of the service calls otherwise."""
NO_STEP = {("cryogenic_transfer_pump", "B")}
"""The body of a seal is rounded by the service before the working begins; the clearance it gives is compared below."""


def test_every_script_has_its_page() -> None:
    assert [path.stem for path in sorted(FOLDER.glob("*.py")) if path.stem != "report"] == NAMES
    assert NAMES


@pytest.fixture(scope="module")
def url() -> Iterator[str]:
    with demo.running_service() as url:
        yield url


def shown(name: str) -> str:
    found = re.search(r"^```text report\n(.*?)^```", page(name), re.MULTILINE | re.DOTALL)
    assert found is not None
    return found[1]


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_the_script_asks_a_service_that_is_running_and_prints_what_the_page_shows(name: str, url: str) -> None:
    assert run(name, "--url", url) == shown(name)


@pytest.mark.slow
def test_a_script_answers_by_itself() -> None:
    """One of them; what all of them ask in this process is held against their pages below."""
    assert run(NAMES[0]) == shown(NAMES[0])


def test_the_arithmetic_of_the_page_is_right(example: Any) -> None:
    known: dict[str, float] = {}
    worked = 0
    for line in lines(page(example[0])):
        assert line.symbol not in known or line.expression is None, line
        value = float(line.text)
        if line.expression is not None:
            assert abs(evaluate(line.expression, known) - value) <= half_a_digit(line.text), line
            worked += 1
        elif line.symbol in known:
            assert value == known[line.symbol], line
        known[line.symbol] = value
    assert worked >= len(rows(page(example[0])))


def test_what_the_page_takes_over_is_what_the_service_has(example: Any) -> None:
    name, script, answers = example
    given = script["given"](answers) if "given" in script else {}
    for line in lines(page(name)):
        if line.expression is None:
            values = [in_si(given[line.symbol])] if line.symbol in given and "given" in line.sources else []
            for source in line.sources:
                if source != "given":
                    there = {line.symbol, IN_WORKING[name].get(line.symbol, line.symbol)}
                    values += [step.value for step in answers[source].working if step.symbol in there]
            assert values or (name, line.symbol) in NO_STEP, line
            for value in values:
                assert abs(value - float(line.text)) <= half_a_digit(line.text), (line, value)


def test_the_hand_calculation_agrees_with_the_service(example: Any) -> None:
    name, script, answers = example
    numbers = script["numbers"](answers)
    text = page(name)
    worked = {line.symbol: f"{line.text} {line.unit}".strip() for line in lines(text) if line.expression is not None}
    assert [row.quantity for row in rows(text)] == list(numbers)
    for row in rows(text):
        assert row.hand == worked[row.symbol], row
        hand, _, unit = row.hand.partition(" ")
        service, _, its_unit = row.service.partition(" ")
        assert unit == its_unit, row
        value = in_si(numbers[row.quantity])
        assert abs(value - float(service)) <= half_a_digit(service), (row, value)
        amount, _, kind = row.within.partition(" ")
        assert kind in {"%", unit}, row
        room = float(amount) * (abs(value) / 100.0 if kind == "%" else 1.0)
        assert abs(float(hand) - value) <= room, (row, value)
