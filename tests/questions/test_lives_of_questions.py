"""Energizers and blanks: machine code, the uncompiled formulas and their trace give the same, and the trace tells all."""

from __future__ import annotations

import copy
import dataclasses
import math
import random
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from glandwise.case import bare_energizer, blank_order
from glandwise.case.intake import build
from glandwise.case.ratings import numbers_of
from glandwise.contract.blank import BlankRequest
from glandwise.contract.energizer import EnergizerLoadRequest
from glandwise.engine import Engine
from glandwise.numerics.compiled import compiled
from glandwise.numerics.trace import Choice, Traced, Working, calm, records, traced
from glandwise.physics import bare_energizer as energizers
from glandwise.physics import blank as blanks
from glandwise.questions.blank import answer as blank_answer
from glandwise.questions.blank import kernel as blank_kernel
from glandwise.questions.blank import operation as blank
from glandwise.questions.energizer import answer as energizer_answer
from glandwise.questions.energizer import explain as energizer_explain
from glandwise.questions.energizer import kernel as energizer_kernel
from glandwise.questions.energizer import operation as energizer
from glandwise.questions.section.found import shares_of
from glandwise.rules.loader import RuleStore
from glandwise.rules.model import Curve, Datum, walk
from pydantic import ValidationError

from tests.mechanics.support import HOSTILE, alike
from tests.questions.asked import random_energizer, with_stock
from tests.questions.larger import nudged
from tests.questions.support import engine, random_request, rules
from tests.questions.test_energizer import COIL, GARTER, RING, STEEL, STRIP, asked


class Bare:
    """Leaves as plain numbers, for the uncompiled life."""

    def __init__(self, thing: Any) -> None:
        self._thing = thing

    def __getitem__(self, code: int) -> Any:
        return bare(self._thing[code])

    def __getattr__(self, name: str) -> Any:
        return bare(getattr(self._thing, name))


def bare(x: Any) -> Any:
    if isinstance(x, Traced):
        return np.float64(x)
    if isinstance(x, Choice):
        return int(x)
    if isinstance(x, SimpleNamespace) or (hasattr(x, "__getitem__") and not isinstance(x, np.ndarray | tuple | list)):
        return Bare(x)
    return x


def hostile(rows: Any, numbers: tuple[str, ...]) -> Any:
    """Rows of which one number is hostile, each in turn, and rows of nothing but hostile numbers."""
    found = []
    for at, row in enumerate(rows):
        for index, name in enumerate(numbers):
            if row[name] == row[name]:
                changed = row.copy()
                changed[name] = HOSTILE[(at + index) % len(HOSTILE)]
                found.append(changed)
    for value in HOSTILE:
        changed = rows[0].copy()
        for name in numbers:
            changed[name] = value
        found.append(changed)
    return np.array(found, rows.dtype)


# ---------------------------------------------------------------------------------------------------------- energizers


def energizer_requests(count: int) -> Iterator[EnergizerLoadRequest]:
    for seed in range(count):
        try:
            yield EnergizerLoadRequest.model_validate(random_energizer(random.Random(seed)))
        except ValidationError:
            continue
    for kind in (STRIP, COIL, GARTER, RING):
        yield EnergizerLoadRequest.model_validate(asked(kind))
        plain = {key: value for key, value in kind.items() if key not in STEEL}
        yield EnergizerLoadRequest.model_validate(asked(plain))


def test_lives_of_an_energizer_agree() -> None:
    data = rules().data
    sensible = np.concatenate([energizer.asked(request, data)[0].row for request in energizer_requests(40)])
    shape = bare_energizer.SHAPE
    rows = np.concatenate([sensible, hostile(sensible[::5], shape.numbers)])
    numbers, told = numbers_of(data).packed, numbers_of(data).leaves
    loads, ranges = np.zeros(len(rows), energizer_kernel.LOADS), np.zeros(len(rows), energizer_kernel.RANGES)
    compiled(energizer_kernel.loads)(rows, loads, numbers)
    compiled(energizer_kernel.ranges)(rows, ranges, numbers)

    def run(life: Any, e: Any, tables: Any) -> tuple[list[float], list[float]]:
        with np.errstate(all="ignore"):
            material = life(energizers.properties)(e, tables)
            band = life(energizers.working_range)(e, material, tables)
            full = life(energizers.full_deflection)(e, tables)
            load = life(energizers.loaded)(e, material, tables)
        return [float(x) for x in load], [
            float(x) for x in (material.elastic_modulus, material.yield_strength, full, band.lower, band.upper)
        ]

    known = 0
    for row, load, over in zip(rows, loads, ranges, strict=True):
        e = shape.leaves(row, {}, {})
        for life, case, tables in ((traced, e, told), (calm, Bare(e), Bare(told))):
            one, other = run(life, case, tables)
            alike(one, load.tolist(), (life, row))
            alike(other, over.tolist(), (life, row))
        known += math.isfinite(load["line_load"])
    assert known > 0.3 * len(rows)


def test_no_step_of_an_energizer_mixes_units() -> None:
    data = rules().data
    for request in energizer_requests(40):
        told = energizer_explain.explained(
            energizer_answer.answer(energizer.asked(request, data)[0], request, data), data
        )
        for step in Working(*told.shown).steps:
            assert step.fault == "", (step.symbol, step.fault)
            assert step.dim is not None, step.symbol


def numbered(record: Any) -> Iterator[Any]:
    """Every datum and curve within a part of the rules."""
    if hasattr(record, "si_y") or hasattr(record, "si"):
        yield record
    elif dataclasses.is_dataclass(record):
        for field in dataclasses.fields(record):
            yield from numbered(getattr(record, field.name))


@pytest.mark.parametrize("kind", [STRIP, COIL, GARTER, RING], ids=lambda kind: str(kind["kind"]))
def test_the_evidence_of_an_energizer_names_every_record_that_moves_it(kind: dict[str, Any]) -> None:
    plain = {key: value for key, value in kind.items() if key not in STEEL}
    request = EnergizerLoadRequest.model_validate(asked(plain))

    def fresh() -> Any:
        return copy.deepcopy(rules().data)

    def answered(data: Any) -> Any:
        found = energizer_answer.answer(energizer.asked(request, data)[0], request, data)
        at_corners = found.at_corners["line_load"]
        return found.nominal.tolist(), found.ranges.tolist(), at_corners.min(), at_corners.max()

    data = fresh()
    found = energizer_answer.answer(energizer.asked(request, data)[0], request, data)
    named = energizer_explain.records_of(energizer_explain.explained(found, data), found.question)
    used = {id(record) for record in named}
    material = data.elastomers[found.question.material] if kind is RING else data.alloys[found.question.material]
    for record in (*numbered(material), *numbered(data.sizing.energizer)):
        changed = fresh()
        twin = _twin(data, changed, record)
        object.__setattr__(twin, *_nudged(twin))
        if repr(answered(changed)) != repr(answered(data)):
            assert id(record) in used, record
        elif id(record) in used:  # what decides only whether the temperature is stood
            assert record in (found.question.lowest, found.question.highest)


def _nudged(record: Any) -> tuple[str, Any]:
    return ("si_y", tuple(1.03 * y for y in record.si_y)) if hasattr(record, "si_y") else ("si", 1.03 * record.si)


def _twin(data: Any, other: Any, record: Any) -> Any:
    """The record that stands in another copy of the rules where one stands in these."""

    def pairs(a: Any, b: Any) -> Iterator[tuple[Any, Any]]:
        if a is record:
            yield a, b
        elif isinstance(a, dict):
            for key in a:
                yield from pairs(a[key], b[key])
        elif dataclasses.is_dataclass(a):
            for field in dataclasses.fields(a):
                yield from pairs(getattr(a, field.name), getattr(b, field.name))

    return next(pairs(data, other))[1]


# --------------------------------------------------------------------------------------------------------------- blanks


def orders(count: int) -> Iterator[tuple[BlankRequest, Any]]:
    for seed in range(count):
        body = with_stock(random_request(seed), random.Random(seed))
        try:
            request = BlankRequest.model_validate(body)
            case = build(request.duty, request.design, rules())
            yield request, blank.asked(request, case, blank.drawn_of(request, rules()))
        except ValidationError:
            continue


def test_lives_of_a_blank_agree() -> None:
    shape, known = blank_order.SHAPE, 0
    for at, (_, order) in enumerate(orders(60)):
        rows = np.concatenate([order.row, hostile(order.row, shape.numbers)]) if at % 4 == 0 else order.row
        out = np.zeros(len(rows), blank_kernel.OUT)
        compiled(blank_kernel.orders)(rows, out, order.numbers.packed)
        told = order.numbers.leaves
        for row, found in zip(rows, out, strict=True):
            o = shape.leaves(row, {}, {})
            for life, case, tables in ((traced, o, told), (calm, Bare(o), Bare(told))):
                with np.errstate(all="ignore"):
                    part = life(blanks.part)(case)
                    stock = life(blanks.stock)(case, tables, part.outer, part.inner, part.width)
                    taken = life(blanks.taken)(case, tables, part.volume, stock)
                    money = life(blanks.money)(case, taken.stock_mass, taken.to_make)
                for name, one in (("part", part), ("stock", stock), ("taken", taken), ("money", money)):
                    alike([float(x) for x in one], found[name].tolist(), (life, name, row))
            known += math.isfinite(found["taken"]["net_mass"])
    assert known > 100


def test_no_step_of_a_blank_mixes_units() -> None:
    for request, order in orders(30):
        try:
            found = blank_answer.answer(order)
        except ValidationError:
            continue
        for step in Working(*blank_answer.explained(found, request)).steps:
            assert step.fault == "", (step.symbol, step.fault)
            assert step.dim is not None, step.symbol


def test_the_records_kept_of_a_blank_are_those_of_its_trace() -> None:
    for request, order in orders(60):
        try:
            found = blank_answer.answer(order)
        except ValidationError:
            continue
        kept = blank_answer.records_of(found, request, rules().data)
        assert set(map(id, kept)) == set(map(id, records(*blank_answer.explained(found, request))))


EACH_ENERGIZER: list[Any] = [
    {"family": "flexible_lip", "retention": "o_ring", "second_lip": "redundant", "reinforcing_band": True},
    {"family": "flexible_lip", "retention": "clamped_flange", "lip_tip": "upturned_with_garter", "second_lip": "none"},
    {"family": "flexible_lip", "retention": "press_fit_case", "second_lip": "excluder"},
    {"family": "energized_lip", "retention": "o_ring", "energizer": "cantilever_v", "heel": "extended"},
    {"family": "energized_lip", "retention": "clamped_flange", "energizer": "canted_coil", "lip_form": "tapered"},
]


@pytest.mark.parametrize("design", EACH_ENERGIZER, ids=lambda design: "-".join(map(str, design.values())))
def test_the_evidence_of_a_blank_names_every_record_that_moves_its_part(design: Any) -> None:
    """Each value that a section reads of the rules is made 3 % larger by turns; shares of what is not drawn are not named."""
    own = dataclasses.replace(rules(), data=copy.deepcopy(rules().data))
    body = {**random_request(3), "design": {**design, "compound": "ptfe_glass_15"}, "pieces": 5}
    body["duty"] = {**body["duty"], "bore": {}, "pressure": {"value": 1.0, "unit": "bar"}}
    request = BlankRequest.model_validate(body)

    def asked() -> Any:
        return blank.asked(request, build(request.duty, request.design, own), blank.drawn_of(request, own))

    def sizes() -> list[float]:
        return [float(asked().row[0][name]) for name in blank_answer.DRAWN]

    before, found = sizes(), blank_answer.answer(asked())
    explained = blank_answer.explained(found, request)
    named = {id(record) for record in records(explained.part.outer, explained.part.width, explained.part.volume)}
    moving = set()
    sizing = ("heel_thickness", "extended_heel_ratio", "band_length_share", "radial_section", "axial_width")
    places = ("blank.", "gland.body.", "gland.press_fit.", "gland.retention.clamp_face_share",
              *(f"sizing.{design['family']}.{name}" for name in sizing))  # fmt: skip
    for path, record in walk(own.data):
        if not isinstance(record, Datum | Curve) or not path.startswith(places):
            continue
        with nudged(record):
            shares_of.forget(own.data)
            moves = sizes() != before
        if moves:
            moving.add(path)
            assert id(record) in named, f"{path} moves the part, which does not name it"
    shares = own.data.blank.drawn
    assert "blank.drawn.fillet" in moving
    assert (id(shares.web) in named) == (design.get("second_lip", "none") != "none")
    assert (
        (id(shares.band_thickness) in named)
        == ("blank.drawn.band_thickness" in moving)
        == ("reinforcing_band" in design)
    )
    assert (id(shares.taper) in named) == ("blank.drawn.taper" in moving) == ("lip_form" in design)
    assert (id(shares.recess) in named) == (design["family"] == "flexible_lip")
    assert id(own.data.blank.reject_share) not in named


def test_what_decided_a_branch_stays_with_what_a_caller_names_and_returns() -> None:
    """Whether the stock is tube hangs on a rule: that shows in the working and among the records."""
    tried = 0
    for request, order in orders(40):
        if request.stock.form is not None or request.stock.inner_diameter is not None:
            continue
        found = blank_answer.answer(order)
        told = blank_answer.explained(found, request)
        working = Working(*told)
        step = next(step for step in working.steps if step.symbol == "tube")
        assert f"d_step {'>=' if found.form == 'tube' else '<'} d_tube" in working.because(step)
        assert rules().data.blank.tube_bore_min in records(*told)
        tried += 1
    assert tried > 5


# ------------------------------------------------------------------------------------------------------------- evidence


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Engine:
    """Rules in which some values are published and all else is as it was."""
    above = tmp_path_factory.mktemp("rules")
    (above / "house").mkdir()
    published = 'source = "paper", evidence = "published", valid_from = 2026-01-01 }'
    files = {
        "rule_set": 'name = "house"\nversion = "1"\ntitle = "x"\ndescription = "x"\nextends = "baseline"\n',
        "sources": '[paper]\ntext = "Invented paper"\nread = "read"\n',
        "sizing": "[energizer]\nmetal_modulus_scatter = { value = 0.03, unit = \"1\", " + published + "\n",
        "compounds": '[ptfe_glass_15]\ndensity = { value = 2.2, unit = "g/cm3", ' + published + "\n",
    }  # fmt: skip
    for name, text in files.items():
        Path(above / "house" / f"{name}.toml").write_text(text)
    return Engine(RuleStore(above), "house")


def test_some_published_values_do_not_lift_the_evidence_above_the_weakest(house: Engine) -> None:
    whole = EnergizerLoadRequest.model_validate(asked(STRIP))
    assert energizer.estimate(whole, engine())["evidence"] == "house_estimate"
    assert energizer.estimate(whole, house)["evidence"] == "published"
    plain = {key: value for key, value in STRIP.items() if key not in STEEL}
    assert energizer.estimate(EnergizerLoadRequest.model_validate(asked(plain)), house)["evidence"] == "house_estimate"
    # the band of a coil is bounded by a share that is a house estimate
    coil = EnergizerLoadRequest.model_validate(asked(COIL))
    assert energizer.estimate(coil, house)["evidence"] == "house_estimate"
    request = BlankRequest.model_validate({**random_request(3), "pieces": 5})
    request = request.model_copy(update={"design": request.design.model_copy(update={"compound": "ptfe_glass_15"})})
    assert blank.estimate(request, house)["evidence"] == "house_estimate"


def test_what_is_all_stated_rests_on_nothing() -> None:
    request = EnergizerLoadRequest.model_validate(asked(STRIP, modulus_scatter={"value": 0.02, "unit": "1"}))
    assert energizer.estimate(request, engine())["evidence"] is None
