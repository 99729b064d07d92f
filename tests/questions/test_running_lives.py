"""Runout, friction, wear and spectra: compiled, traced and uncompiled agree, and what an answer rests on are its leaves."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from glandwise.case import record
from glandwise.case.ratings import tables_of
from glandwise.contract.duty_spectrum import SpectrumRequest
from glandwise.contract.running import FrictionEstimateRequest, HeatSurroundings, WearEstimateRequest
from glandwise.contract.runout import RunoutAllowanceRequest
from glandwise.engine import Engine
from glandwise.numerics.docstring import attributes
from glandwise.numerics.trace import Working, leaf, records, traced
from glandwise.physics import duty_spectrum as spectrum_physics
from glandwise.physics.heat_balance import AROUND
from glandwise.questions import told
from glandwise.questions.duty_spectrum import kernel as spectrum_kernel
from glandwise.questions.duty_spectrum import operation as duty_spectrum
from glandwise.questions.friction import kernel as friction_kernel
from glandwise.questions.friction import operation as friction
from glandwise.questions.friction.operation import levels_of, subject_of
from glandwise.questions.runout import kernel as runout_kernel
from glandwise.questions.runout import operation as runout
from glandwise.questions.runout.found import Subject
from glandwise.questions.wear import kernel as wear_kernel
from glandwise.questions.wear import operation as wear
from glandwise.questions.wear.found import measured
from glandwise.rules.loader import RuleStore

from tests.laws import FUZZ
from tests.mechanics.support import HOSTILE, alike
from tests.questions import plain, support
from tests.questions.support import energized, flexible, merged, q

DESIGNS = {
    "flexible": flexible(second_lip="excluder"),
    "garter": flexible(lip_tip="upturned_with_garter", reinforcing_band=True),
    "cantilever_v": merged(energized(), duty={"lubrication": "dry"}),
    "canted_coil": energized(energizer="canted_coil", lip_form="tapered"),
}
each_design = pytest.mark.parametrize("name", DESIGNS)
STATED = HeatSurroundings.model_validate(
    {"ambient_temperature": q(30.0, "degC"), "shaft_length": q(0.2, "m"), "correlation": "becker"}
)


def hostile_rows(request: dict[str, Any], first: int) -> Any:
    """A case, then the same with one number after the other that no case should have: each third pair from ``first`` on, or all."""
    rows, _ = plain.row_of(support.case_of(request))
    pairs = [(name, value) for name in record.NUMBERS for value in HOSTILE][first % 3 * (not FUZZ) :: 1 if FUZZ else 3]
    table = np.repeat(rows, 1 + len(pairs))
    for row, (name, value) in zip(table[1:], pairs, strict=True):
        row[name] = value
    return table


def both_lives(kernel: Any, out: Any, rows: Any, *arguments: Any) -> Iterator[tuple[Any, Any]]:
    """Run a kernel compiled and uncompiled over some rows; give the rows of what either found."""
    from glandwise.numerics.compiled import compiled

    tables = tables_of(support.rules().data)
    machine, bare = out.copy(), out.copy()
    compiled(kernel)(rows.copy(), machine, *arguments, tables)
    attributed = [plain.records(x) if isinstance(x, np.ndarray) else x for x in (rows, bare, *arguments)]
    plain.run(kernel, *attributed, type(tables)(*(plain.records(x) for x in tables)))
    yield from zip(machine, bare, strict=True)


def flat(row: Any) -> list[float]:
    """Numbers of a row."""
    return [x for value in row.item() for x in (value if isinstance(value, tuple) else (value,))]


@pytest.mark.drawn
@each_design
def test_compiled_and_uncompiled_agree_on_what_no_case_should_have(name: str) -> None:
    rows = hostile_rows(DESIGNS[name], list(DESIGNS).index(name))
    stated = np.zeros(1, AROUND)
    stated[0] = (math.nan, math.nan, math.nan, math.nan, math.nan, -1)
    of_friction = np.zeros(len(rows), friction_kernel.OUT)
    of_friction["mu"], of_friction["time"] = 0.1, 8.64e4
    for kernel, out, arguments in (
        (runout_kernel.runout, np.zeros(len(rows), runout_kernel.OUT), (3.6e6,)),
        (friction_kernel.friction, of_friction, (stated,)),
        (wear_kernel.wear, np.zeros(len(rows), wear_kernel.OUT), (stated, math.nan)),
    ):
        for machine, bare in both_lives(kernel, out, rows, *arguments):
            if "energizer" in out.dtype.names:
                for found in (machine, bare):  # what energizer and pressure add is a difference of loads: as sums
                    found["energizer"] += found["lip"]
                    found["pressure"] += found["energizer"]
            alike(flat(machine), flat(bare), (name, kernel.__name__), 1e-9)


def told_runout(request: dict[str, Any]) -> tuple[Any, Any]:
    body = RunoutAllowanceRequest.model_validate(request)
    case = support.case_of(request)
    rows, compounds = plain.row_of(case)
    subject = Subject(case.data, rows, compounds, case.data.sizing.following.service_time.si)
    here = subject.at([case.rotational_speed], math.nan)[0]
    return runout.explained(body, case, rows[0]), here


@each_design
def test_the_trace_of_runout_finds_what_machine_code_finds(name: str) -> None:
    (here, _, share, *_), row = told_runout(DESIGNS[name])
    alike(here, [row[n] for n in ("tir", "followed", "rated", "governs", "stiffness", "preload")], name, 1e-11)
    alike(share, row["relaxed_share"], name, 1e-11)


@each_design
@pytest.mark.parametrize("given", [HeatSurroundings(), STATED], ids=["usual", "stated"])
def test_the_trace_of_friction_and_wear_finds_what_machine_code_finds(name: str, given: HeatSurroundings) -> None:
    request = {**DESIGNS[name], "surroundings": given}
    case = support.case_of(request)
    subject = subject_of(case, given)
    found = levels_of(case, subject)
    body = FrictionEstimateRequest.model_validate(request)
    *levels, limit = friction.explained(body, case, subject.rows[0])
    assert float(limit) == found.limit.temperature <= case.compound.temperature_max.si
    for state, (running, main, *second) in zip(found[:3], levels, strict=True):
        alike(running, state.running[:-2], name, 1e-11)
        alike(main, state.main, name, 1e-11)
        assert bool(second) == (case.features.get("second_lip", "none") != "none")
        if second:
            alike(second[0], state.second, name, 1e-11)
    worn = measured(subject, math.nan)
    running, room, rates, _, wearing, ends, _ = wear.explained(
        WearEstimateRequest.model_validate(request), case, subject.rows[0]
    )
    for told_, machine in (
        (running, worn.running[:-2]), (room, min(worn.room)), (rates, worn.rates), (wearing, worn.worn[:-1]), (ends, worn.ends),
    ):  # fmt: skip
        alike(told_, machine, name, 1e-11)


def phases_table(count: int, seed: int) -> Any:
    table = np.zeros(count, spectrum_kernel.PHASE)
    random = np.random.default_rng(seed)
    for name in spectrum_kernel.PHASE.names or ():
        table[name] = random.uniform(0.1, 0.3, count)
    return table


def test_sums_over_phases_are_alike_in_all_lives() -> None:
    """For hostile numbers as well, in any field of any phase."""
    from glandwise.numerics.compiled import compiled

    quantities = attributes(spectrum_physics.PhaseNumbers)
    fields = list(quantities)
    tables = [phases_table(3, seed) for seed in range(20)]
    for name in fields:
        for value in HOSTILE:
            table = phases_table(2, 1)
            table[1][name] = value
            tables.append(table)
    tables.append(phases_table(0, 1))
    for table in tables:
        machine, bare = np.zeros(1, spectrum_kernel.OUT), np.zeros(1, spectrum_kernel.OUT)
        lasting = table.copy()
        compiled(spectrum_kernel.spectrum)(lasting, table, machine)
        apart = plain.records(table.copy())
        plain.run(spectrum_kernel.spectrum, apart, plain.records(table), plain.records(bare))
        alike(flat(machine[0]), flat(bare[0]), table)
        alike(lasting["wear_share"].tolist(), apart["wear_share"].tolist(), table)
        rows = [
            SimpleNamespace(**{name: leaf(float(row[name]), quantities[name], "given") for name in fields})
            for row in table
        ]
        means = traced(spectrum_physics.means_of)(rows, rows)
        alike(means, [machine[0][f"mean_{name}"] for name in means._fields], table)
        worn = traced(spectrum_physics.worn_by)(rows)
        alike(worn, [machine[0][f"worn_{name}"] for name in worn._fields], table)
        for step in Working(means, worn).steps:
            assert step.fault == "", step


def explained(name: str) -> Iterator[tuple[str, tuple[Any, ...]]]:
    """The traced numbers of each question."""
    request = DESIGNS[name]
    case = support.case_of(request)
    row = plain.row_of(case)[0][0]
    yield "allow_runout", runout.explained(RunoutAllowanceRequest.model_validate(request), case, row)
    yield "estimate_friction", friction.explained(FrictionEstimateRequest.model_validate(request), case, row)
    yield "estimate_wear", wear.explained(WearEstimateRequest.model_validate(request), case, row)
    body = SpectrumRequest.model_validate({**request, "phases": [
        {"share": q(0.5, "1")}, {"share": q(0.1, "1"), "pressure": q(0.02, "MPa")},
    ]})  # fmt: skip
    yield "assess_spectrum", duty_spectrum.explained(body, duty_spectrum.answer(body, support.engine()))


@each_design
def test_no_step_mixes_units_and_each_has_a_unit_and_a_source(name: str) -> None:
    for operation, numbers in explained(name):
        working = Working(*numbers)
        assert len(working.steps) > 40
        for step in working.steps:
            about = f"{operation}: {working.symbol(step)} = {working.equation(step)}"
            assert step.fault == "", f"{about}: {step.fault}"
            assert step.dim is not None, about
            assert step.tree is not None or step.source or step.words, about


@each_design
def test_the_evidence_of_an_answer_is_the_weakest_of_its_leaves(name: str) -> None:
    order = ["standard", "published", "common_practice", "house_estimate"]
    for operation, numbers in explained(name):
        rests_on = told.rests_on(support.case_of(DESIGNS[name]), *numbers)
        assert {id(item) for item in records(*numbers)} <= {id(item) for item in rests_on}
        request = DESIGNS[name]
        if operation == "assess_spectrum":
            request = {**request, "phases": [
                {"share": q(0.5, "1")}, {"share": q(0.1, "1"), "pressure": q(0.02, "MPa")},
            ]}  # fmt: skip
        weakest = max((item.evidence for item in rests_on), key=order.index)
        assert order.index(support.post(operation, request)["evidence"]) >= order.index(weakest)
        if operation != "assess_spectrum":
            assert support.post(operation, request)["evidence"] == weakest


PUBLISHED = 'source = "paper", evidence = "published", valid_from = 2026-01-01 }'


@pytest.fixture(scope="module")
def engine(tmp_path_factory: pytest.TempPathFactory) -> Engine:
    """Rules in which friction, wear and stiffness of one compound are published, and all else is as it was."""
    above = tmp_path_factory.mktemp("rules")
    (above / "house").mkdir()
    media = ("dry", "aqueous", "oil")
    friction_ = ", ".join(
        f'{name} = {{ value = 0.05, low = 0.02, high = 0.1, unit = "1", {PUBLISHED}' for name in media
    )
    wear_ = ", ".join(
        f'{name} = {{ value = 2e-7, low = 1e-7, high = 6e-7, unit = "mm3/N/m", {PUBLISHED}' for name in media
    )
    files = {
        "rule_set": 'name = "house"\nversion = "1"\ntitle = "x"\ndescription = "x"\nextends = "baseline"\n',
        "sources": '[paper]\ntext = "Invented paper"\nread = "read"\n',
        "compounds": "[ptfe_carbon_graphite_25]\n"
        + f"friction = {{ {friction_} }}\nwear = {{ {wear_} }}\n"
        + 'elastic_modulus = { x = [-254, 23, 260], y = [5000, 900, 80], x_unit = "degC", y_unit = "MPa", '
        + PUBLISHED,
    }
    for file, text in files.items():
        Path(above / "house" / f"{file}.toml").write_text(text)
    return Engine(RuleStore(above), "house")


def test_published_values_over_house_estimates_make_no_published_answer(engine: Engine) -> None:
    request = merged(flexible(compound="ptfe_carbon_graphite_25"), duty={"lubrication": "dry"})
    for model, function in (
        (RunoutAllowanceRequest, runout.allow), (FrictionEstimateRequest, friction.estimate), (WearEstimateRequest, wear.estimate),
    ):  # fmt: skip
        answer = function(model.model_validate({**request, "working": True}), engine)
        assert answer["evidence"] == "house_estimate"
        sources = " ".join(step["source"] for step in answer["working"])
        assert "source paper, published" in sources
        assert "house estimate" in sources
