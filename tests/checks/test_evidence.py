"""The evidence of a criterion is the weakest of all that went into its numbers."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from glandwise.checks import envelope
from glandwise.checks.case import build, changed
from glandwise.checks.engine import Engine
from glandwise.contract.envelope import EnvelopeCheckRequest
from glandwise.rules.loader import RuleSet, RuleStore
from glandwise.rules.model import Curve, Datum, Prony, walk

from tests.checks.support import criteria, energized, flexible, merged, rules

DRY = {"lubrication": "dry"}
DESIGNS = {
    "flexible": merged(flexible(), duty=DRY),
    "banded": merged(flexible(reinforcing_band=True), duty={"lubrication": "boundary"}),
    "garter": merged(flexible(lip_tip="upturned_with_garter"), duty=DRY),
    "cantilever": merged(energized(energizer="cantilever_v"), duty=DRY),
    "coil": merged(energized(energizer="canted_coil", lip_form="tapered"), duty=DRY),
    "lubricated": merged(flexible(), duty={"lubrication": "lubricated"}),
}


@contextmanager
def nudged(record: Any) -> Iterator[None]:
    """Make the numbers of a record 3 % larger for a while."""
    if isinstance(record, Datum):
        changes = {name: getattr(record, name) * 1.03 for name in ("si", "si_low", "si_high")}
    elif isinstance(record, Curve):
        changes = {"si_y": tuple(y * 1.03 for y in record.si_y)}
    else:
        changes = {"branches": tuple(share * 1.03 for share in record.branches)}
        changes["equilibrium"] = 1.0 - sum(changes["branches"])
    held = {name: getattr(record, name) for name in changes}
    try:
        for name, value in changes.items():
            object.__setattr__(record, name, value)
        yield
    finally:
        for name, value in held.items():
            object.__setattr__(record, name, value)


@pytest.mark.parametrize("name", DESIGNS)
def test_contact_pressure_velocity_names_every_record_that_moves_it(name: str) -> None:
    built = rules()
    own = RuleSet(copy.deepcopy(built.data), built.name, built.version, built.digest, built.as_of)
    request = EnvelopeCheckRequest.model_validate(DESIGNS[name])

    def measured() -> envelope.Measure:
        return envelope.contact_pressure_velocity(build(request.duty, request.design, own))

    plain = measured()
    named = {id(record) for record in plain.limit.records}
    moving = []
    for path, record in walk(own.data):
        if not isinstance(record, Datum | Curve | Prony):
            continue
        with nudged(record):
            now = measured()
        if (now.demand, now.capacity) != (plain.demand, plain.capacity):
            moving.append(path)
            assert id(record) in named, f"{path} moves the criterion, which does not name it"
    compound = f"compounds.{request.design.compound}"
    assert {f"{compound}.limiting_pv", f"{compound}.pv_derating"} <= set(moving)
    if name != "lubricated":
        assert {f"{compound}.elastic_modulus", f"{compound}.relaxation", "running.nominal_time"} <= set(moving)


def test_an_alloy_that_the_rules_chose_is_named() -> None:
    request = EnvelopeCheckRequest.model_validate(DESIGNS["coil"])
    data = rules().data
    chosen = request.design.model_copy(update={"energizer_alloy": None})
    assert (
        data.sizing.energizer_alloy
        in envelope.contact_pressure_velocity(build(request.duty, chosen, rules())).limit.records
    )
    garter = EnvelopeCheckRequest.model_validate(DESIGNS["garter"])
    measure = envelope.contact_pressure_velocity(build(garter.duty, garter.design, rules()))
    assert data.sizing.garter_alloy in measure.limit.records


PUBLISHED = 'source = "paper", evidence = "published", valid_from = 2026-01-01 }'


@pytest.fixture(scope="module")
def engine(tmp_path_factory: pytest.TempPathFactory) -> Engine:
    """Rules in which what the criterion used to name is published, and all else is as it was."""
    above = tmp_path_factory.mktemp("rules")
    (above / "house").mkdir()
    files = {
        "rule_set": 'name = "house"\nversion = "1"\ntitle = "x"\ndescription = "x"\nextends = "baseline"\n',
        "sources": '[paper]\ntext = "Invented paper"\nread = "read"\n',
        "compounds": "[ptfe_carbon_graphite_25]\n"
        + 'limiting_pv = { x = [10, 5000], y = [12000, 12000], x_unit = "ft/min", y_unit = "psi.ft/min", '
        + PUBLISHED
        + '\npv_derating = { x = [23, 260], y = [1, 0.3], x_unit = "degC", y_unit = "1", '
        + PUBLISHED
        + '\nelastic_modulus = { x = [-254, 23, 260], y = [5000, 900, 80], x_unit = "degC", y_unit = "MPa", '
        + PUBLISHED,
    }
    for file, text in files.items():
        Path(above / "house" / f"{file}.toml").write_text(text)
    return Engine(RuleStore(above), "house")


def test_published_tables_over_house_estimates_are_no_published_criterion(engine: Engine) -> None:
    request = merged(flexible(compound="ptfe_carbon_graphite_25"), duty=DRY)
    answer = envelope.check(EnvelopeCheckRequest.model_validate(request), engine)
    found = criteria(answer)["contact_pressure_velocity"]
    assert found["evidence"] == "house_estimate"
    assert {"paper", "house-estimate"} <= set(found["sources"])


@pytest.mark.parametrize("name", DESIGNS)
def test_many_numbers_of_one_design_rest_on_what_one_rests_on(name: str) -> None:
    request = EnvelopeCheckRequest.model_validate(DESIGNS[name])
    case = build(request.duty, request.design, rules())
    column = changed(case, surface_speed=np.linspace(0.5, 5.0, 7), pressure=np.zeros(7))
    one, many = envelope.contact_pressure_velocity(case), envelope.contact_pressure_velocity(column)
    assert many.limit.records == one.limit.records
    assert np.shape(many.capacity) == (7,)
