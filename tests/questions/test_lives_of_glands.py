"""Glands and thermal fits: machine code, the uncompiled formulas and their trace give the same, and the trace tells all."""

from __future__ import annotations

import copy
import inspect
import math
import random
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from glandwise.case import hardware, record
from glandwise.case.choices import Retention
from glandwise.case.gland_numbers import gland_numbers_of
from glandwise.case.ratings import numbers_of
from glandwise.contract.gland import GlandCheckRequest
from glandwise.contract.thermal_fit import ThermalFitRequest
from glandwise.engine import Engine
from glandwise.numerics.compiled import CHUNK
from glandwise.numerics.trace import Working, calm, traced
from glandwise.questions.gland import criteria
from glandwise.questions.gland import judge as gland_judge
from glandwise.questions.gland import kernel as gland_kernel
from glandwise.questions.gland import operation as gland
from glandwise.questions.thermal_fit import criteria as thermal_criteria
from glandwise.questions.thermal_fit import judge as thermal_judge
from glandwise.questions.thermal_fit import kernel as thermal_kernel
from glandwise.questions.thermal_fit import operation as thermal_fit
from glandwise.questions.warm import warm
from glandwise.rules.loader import RuleSet, RuleStore
from pydantic import ValidationError

from tests.mechanics.support import alike
from tests.questions.asked import with_gland
from tests.questions.larger import Larger
from tests.questions.support import energized, flexible, random_request, rules
from tests.questions.test_lives_of_questions import Bare, hostile

Fields = dict[str, Any]


@cache
def judged(count: int) -> tuple[thermal_fit.ThermalJudged, ...]:
    """Random glands, judged over the temperatures of their duty and as they are."""
    found = []
    for seed in range(count):
        body = with_gland(random_request(seed), random.Random(seed))
        try:
            ask = ThermalFitRequest.model_validate(body)
            found.append(thermal_fit.judge(ask.duty, ask.design, ask.gland, None, rules()))
        except ValidationError:
            continue
    assert len(found) > 0.7 * count
    return tuple(found)


def of_retention(j: gland.GlandJudged) -> Iterator[tuple[int, str]]:
    """Criteria that apply to a gland, with their places."""
    for name in (*gland.OF_RETENTION[j.retention], "extrusion_gap", "seal_rotation"):
        yield gland_kernel.IDS.index(name), name


def run(life: Any, case: Any, around: Any, rules_of_life: tuple[Any, Any], j: Any, name: str) -> list[float]:
    """Measure a criterion at its worst in a life of its formulas."""
    module = gland_kernel.MEASURED[gland_kernel.IDS.index(name)]
    there = (SimpleNamespace(**vars(case)),) if name == "seal_rotation" else ()
    with np.errstate(all="ignore"):
        found = life(module.measure)(case, *there, around, *rules_of_life)
    return [float(x) for x in found]


def bared(leaves: Any) -> Any:
    """Leaves as plain numbers, that may be written to."""
    plain = Bare(leaves)
    return SimpleNamespace(**{name: getattr(plain, name) for name in vars(leaves)})


def test_lives_of_a_gland_agree() -> None:
    data, known, count = rules().data, 0, 0
    of_rules, of_gland = numbers_of(data).leaves, gland_numbers_of(data).leaves
    plain_rules = (Bare(of_rules), Bare(of_gland))
    for at, j in enumerate(judged(60)):
        cases, around = j.rows.copy(), j.hardware_rows.copy()
        if at % 20 == 0:  # in turn a hostile number of the hardware and of the case
            hard = hostile(around, hardware.SHAPE.numbers)
            soft = hostile(cases, record.NUMBERS)
            cases = np.concatenate([cases, np.repeat(cases, len(hard)), soft])
            around = np.concatenate([around, hard, np.repeat(around, len(soft))])
        out = gland_judge.measured(data, cases, around, j.compounds)
        if j.compounds is not None:
            continue
        for c, h, found in zip(cases, around, out, strict=True):
            case, hardware_of = record.leaves(c, {}, {}), hardware.SHAPE.leaves(h, {}, {})
            for place, name in of_retention(j):
                expected = [found[part][place] for part in gland.PARTS]
                for life, numbers in ((traced, (of_rules, of_gland)), (calm, plain_rules)):
                    one, other = (case, hardware_of) if life is traced else (bared(case), bared(hardware_of))
                    values = run(life, one, other, numbers, j, name)
                    about = (life, name, c.tolist(), h.tolist())
                    # how far a search went may differ by rounding
                    alike(values[:3], expected[:3], about, relative=1e-9)
                known += math.isfinite(expected[2])
                count += 1
    assert known > 0.4 * count > 300


def test_lives_of_a_thermal_fit_agree() -> None:
    data, known = rules().data, 0
    of_rules, of_gland = numbers_of(data).leaves, gland_numbers_of(data).leaves
    for j in judged(60):
        if j.compounds is not None:
            continue
        case, around = record.leaves(j.rows[0], {}, {}), hardware.SHAPE.leaves(j.row, {}, {})
        temperatures = [*j.grid[::25], 0.0, -1.0, math.nan, math.inf, 1e300]
        for T, found in zip(temperatures, j.fits_at(temperatures), strict=True):
            for place, name in enumerate(thermal_kernel.IDS):
                if name == "body_in_bore" and j.retention != Retention.o_ring:
                    continue
                if name == "energizer_deflection" and j.case.energizer is None:
                    continue
                at = thermal_kernel.MEASURED[place].at
                expected = [found[part][place] for part in gland.PARTS]
                for life, one, other, numbers in (
                    (traced, case, around, (of_rules, of_gland)),
                    (calm, bared(case), bared(around), (Bare(of_rules), Bare(of_gland))),
                ):
                    there = (SimpleNamespace(**vars(one)),) if name == "lip_interference" else ()
                    temperature = np.float64(T) if life is calm else float(T)
                    with np.errstate(all="ignore"):
                        values = [float(x) for x in life(at)(one, *there, other, *numbers, temperature)]
                    alike(values[:3], expected[:3], (life, name, T), relative=1e-9)
                known += math.isfinite(expected[2])
    assert known > 300


def test_no_step_of_a_gland_or_a_thermal_fit_mixes_units() -> None:
    tried = 0
    for j in judged(60):
        told_of = j.told
        measures = [
            told_of.measure(name, m.which) for _, name in of_retention(j) if (m := j.measure(name)).which == m.which
        ]
        measures += [told_of.fit("lip_interference", float(j.grid[j.worst("lip_interference")]))]
        if j.case.energizer is not None:
            measures += [told_of.fit("energizer_deflection", float(j.grid[j.worst("energizer_deflection")]))]
        if j.retention == Retention.o_ring and j.has_ring:
            measures += [told_of.fit("body_in_bore", float(j.grid[0]))]
        for m in measures:
            for step in Working(*m[:3]).steps:
                if math.isnan(step.value):
                    continue  # what is not known has no unit either
                assert step.fault == "", (step.symbol, step.fault, step.title)
                assert step.dim is not None, step.symbol
                tried += 1
    assert tried > 5_000


def test_a_state_that_is_shown_is_the_one_that_was_judged() -> None:
    """What the trace of the worst state alone gives is what machine code found to be the worst of all."""
    for j in judged(60):
        for place, name in of_retention(j):
            m = j.measure(name)
            if m.which != m.which:
                continue
            shown = j.told.measure(name, m.which)
            assert [float(x) for x in shown] == pytest.approx([*m[:3], m.which], rel=1e-9, nan_ok=True), (name, place)


# ------------------------------------------------------------------------------------------------------------ evidence

OVEN = {"temperature": {"minimum": {"value": -40, "unit": "degC"}, "normal": {"value": 60, "unit": "degC"},
                                      "maximum": {"value": 150, "unit": "degC"}}}  # fmt: skip
GLANDS: dict[str, Fields] = {
    "o_ring": flexible(retention="o_ring"),
    "dry o_ring": energized(energizer="canted_coil", retention="o_ring"),
    "flange": energized(energizer="cantilever_v", heel="extended", retention="clamped_flange"),
    "case": flexible(lip_tip="upturned_with_garter", retention="press_fit_case"),
}


def asked(name: str) -> GlandCheckRequest:
    """A gland of which nothing is stated, hot and cold."""
    body = copy.deepcopy(GLANDS[name])
    body["duty"].update(copy.deepcopy(OVEN), pressure={"value": 2.0, "unit": "MPa"})
    if name.startswith("dry"):
        body["duty"]["lubrication"] = "dry"
    return GlandCheckRequest.model_validate({**body, "gland": {}})


def own_rules() -> RuleSet:
    """Rules whose numbers may be changed."""
    built = rules()
    return RuleSet(copy.deepcopy(built.data), built.name, built.version, built.digest, built.as_of)


def measured(request: GlandCheckRequest, own: RuleSet, judge: Callable[..., Any]) -> dict[str, Any]:
    """Criteria with numbers."""
    reference = (None,) if judge is thermal_fit.judge else ()
    findings = judge(request.duty, request.design, request.gland, *reference, own).findings
    return {finding.id: finding for finding in findings if finding.measure is not None}


@pytest.mark.parametrize("judge", [gland.judge, thermal_fit.judge], ids=["gland", "thermal fit"])
@pytest.mark.parametrize("name", GLANDS)
def test_a_criterion_names_every_record_that_moves_it(name: str, judge: Callable[..., Any]) -> None:
    """No criterion moves when all values of the rules that it does not name are made 3 % larger; some that it names move it."""
    own, request = own_rules(), asked(name)
    places = (f"compounds.{request.design.compound}", "gland.", "expansion.", "sizing.", "running.", "elastomers.", "alloys.",
              "shaft_materials.")  # fmt: skip
    larger = Larger(own, places, lambda: measured(request, own, judge))
    larger.require_names(200)
    moved, used = larger.moved, set().union(*larger.named.values())
    assert sum(len(moved(path)) for path, item in larger.records.items() if id(item) in used) > 15
    wanted = {
        "o_ring": "gland.o_ring_gland.",
        "dry o_ring": "gland.o_ring_gland.",
        "case": "gland.press_fit.",
        "flange": "gland.",
    }
    if judge is gland.judge:
        assert any(moved(path) for path in larger.records if path.startswith(wanted[name]))
        assert "seal_rotation" in moved("gland.retention.margin_min")
        assert "extrusion_gap" in moved("gland.extrusion.strength_share")


def test_published_numbers_over_house_estimates_are_no_published_gland(tmp_path: Path) -> None:
    """A house rule set that publishes the strength of its compound alone still answers with house estimates."""
    (tmp_path / "house").mkdir()
    published = 'source = "paper", evidence = "published", valid_from = 2026-01-01 }'
    files = {
        "rule_set": 'name = "house"\nversion = "1"\ntitle = "x"\ndescription = "x"\nextends = "baseline"\n',
        "sources": '[paper]\ntext = "Invented paper"\nread = "read"\n',
        "compounds": "[ptfe_carbon_graphite_25]\n"
        'yield_strength = { x = [-254, 23, 260], y = [60, 14, 3], x_unit = "degC", y_unit = "MPa", ' + published,
    }
    for file, text in files.items():
        (tmp_path / "house" / f"{file}.toml").write_text(text)
    body = flexible(compound="ptfe_carbon_graphite_25", retention="clamped_flange")
    answer = gland.check(
        GlandCheckRequest.model_validate({**body, "gland": {}}), Engine(RuleStore(tmp_path), "house")
    )  # fmt: skip
    for found in answer["criteria"]:
        if found["id"] in {"extrusion_gap", "clamp"}:
            assert found["evidence"] == "house_estimate", found["id"]
            assert "paper" in found["sources"]


# --------------------------------------------------------------------------------------------------------------- whole


@pytest.mark.parametrize("folder", [criteria, thermal_criteria])
def test_every_criterion_is_measured_in_its_place(folder: Any) -> None:
    kernel = gland_kernel if folder is criteria else thermal_kernel
    stems = {path.stem for path in Path(str(folder.__file__)).parent.glob("*.py")}
    assert stems - {"__init__"} == set(kernel.IDS)
    source = inspect.getsource(kernel.fitted if kernel is gland_kernel else kernel.fits_over)
    for at, name in enumerate(kernel.IDS):
        assert f"{at}, {name}." in source, name
    for name, module in zip(kernel.IDS, kernel.MEASURED, strict=True):
        assert module.DIMENSION in {"ratio", "length", "stress", "gauge_pressure", "torque"}
        assert callable(module.words)
        assert rules().data.criteria[name].title


def test_nothing_is_compiled_for_a_gland_that_is_asked() -> None:
    warm()
    before = [list(kernel.signatures) for kernel in (gland_judge._kernel, thermal_judge._kernel)]
    for name in GLANDS:
        gland.judge(asked(name).duty, asked(name).design, asked(name).gland, rules())
        thermal_fit.judge(asked(name).duty, asked(name).design, asked(name).gland, None, rules())
    assert [list(kernel.signatures) for kernel in (gland_judge._kernel, thermal_judge._kernel)] == before
    assert [len(signatures) for signatures in before] == [1, 1]


def test_many_rows_give_what_one_gives() -> None:
    """More rows than one thread takes at a time, each beside its own hardware."""
    found = [j for j in judged(60) if j.compounds is None]
    times = CHUNK // len(found) + 1
    cases, around = (np.concatenate([rows(j) for j in found] * times) for rows in (_case_of, _hardware_of))
    many = gland_judge.measured(rules().data, cases, around)
    assert len(many) > CHUNK
    for j, row in zip(found * times, many, strict=True):
        for part in gland.PARTS:
            np.testing.assert_array_equal(row[part], j.out[part])


def _case_of(j: gland.GlandJudged) -> Any:
    return j.rows


def _hardware_of(j: gland.GlandJudged) -> Any:
    return j.hardware_rows


def test_ring_and_groove_of_their_own_are_left_alone() -> None:
    for j in judged(60):
        if j.retention == Retention.o_ring and j.has_ring:
            row = j.hardware_rows.copy()
            again = gland_judge.measured(rules().data, j.rows, row, j.compounds)
            assert row.tobytes() == j.hardware_rows.tobytes()
            np.testing.assert_array_equal(again[0]["utilization"], j.out["utilization"])
