"""The evidence of a criterion is the weakest of all that went into its numbers."""

from __future__ import annotations

import copy
import random
from pathlib import Path

import pytest
from glandwise.case.intake import build
from glandwise.contract.envelope import EnvelopeCheckRequest
from glandwise.engine import Engine
from glandwise.questions import told
from glandwise.questions.envelope import check
from glandwise.questions.envelope import operation as envelope
from glandwise.rules.loader import RuleSet, RuleStore
from glandwise.units import UnitSystem

from tests.questions.larger import Larger
from tests.questions.support import criteria, energized, flexible, merged, rules

UNITS = UnitSystem("si")
DRY = {"lubrication": "dry"}
DESIGNS = {
    "flexible": merged(flexible(), duty=DRY),
    "banded": merged(flexible(reinforcing_band=True), duty={"lubrication": "flooded"}),
    "garter": merged(flexible(lip_tip="upturned_with_garter"), duty=DRY),
    "cantilever": merged(energized(energizer="cantilever_v"), duty=DRY),
    "coil": merged(energized(energizer="canted_coil", lip_form="tapered"), duty=DRY),
    "lubricated": merged(flexible(), duty={"lubrication": "flooded"}),
}


def found(request: EnvelopeCheckRequest, own: RuleSet) -> dict[str, envelope.Finding]:
    """Criteria with numbers of a request."""
    case = build(request.duty, request.design, own)
    findings = envelope.judge(case, request.duty)
    return {finding.id: finding for finding in findings if finding.measure is not None}


@pytest.mark.parametrize("name", DESIGNS)
def test_a_criterion_names_every_record_that_moves_it(name: str) -> None:
    """No criterion moves when all values of the rules that it does not name are made 3 % larger; some that it names move it."""
    built = rules()
    own = RuleSet(copy.deepcopy(built.data), built.name, built.version, built.digest, built.as_of)
    request = EnvelopeCheckRequest.model_validate(DESIGNS[name])
    compound = f"compounds.{request.design.compound}"
    places = (compound, "sizing.", "running.", "alloys.", "elastomers.", "designs.", f"fluids.{request.duty.fluid}",
              "gland.extrusion.", "gland.housing.", "shaft_materials.", "expansion.")  # fmt: skip
    larger = Larger(own, places, lambda: found(request, own))
    larger.require_names(300)
    moved = larger.moved
    for path in (
        f"{compound}.limiting_pv", f"{compound}.pv_derating", f"{compound}.elastic_modulus", f"{compound}.relaxation",
        "running.nominal_time",
    ):  # fmt: skip
        assert "contact_pressure_velocity" in moved(path), path
    assert "contact_temperature" in moved(f"{compound}.thermal_conductivity")
    for path in ("gland.extrusion.strength_share", f"{compound}.yield_strength"):
        assert "extrusion_gap" in moved(path)
    if name in {"banded", "garter"}:
        assert {"offset", "runout"} & moved("sizing.following.service_time")


@pytest.mark.parametrize("name", DESIGNS)
def test_what_a_criterion_rests_on_hangs_on_names_alone(name: str) -> None:
    """Records are kept by the names of a case: other numbers of the same names give the same ones by a trace of their own."""
    chance = random.Random(3)
    for _ in range(6):
        request = copy.deepcopy(DESIGNS[name])
        duty = request["duty"]
        for quantity in (duty["shaft_diameter"], duty["pressure"]):
            quantity["value"] *= chance.uniform(0.7, 1.4)
        read = EnvelopeCheckRequest.model_validate(request)
        kept = {name: {id(r) for r in finding.records} for name, finding in found(read, rules()).items()}
        told.forget(rules().data)
        fresh = {name: {id(r) for r in finding.records} for name, finding in found(read, rules()).items()}
        assert kept == fresh


def test_an_alloy_that_the_rules_chose_is_named() -> None:
    data = rules().data
    chosen = copy.deepcopy(DESIGNS["coil"])
    chosen["design"].pop("energizer_alloy", None)
    for request, usual in ((chosen, data.sizing.energizer_alloy), (DESIGNS["garter"], data.sizing.garter_alloy)):
        findings = found(EnvelopeCheckRequest.model_validate(request), rules())
        assert usual in findings["contact_pressure_velocity"].records
        assert usual in findings["runout"].records
        assert usual not in findings["surface_speed"].records


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
    answer = check.check(EnvelopeCheckRequest.model_validate(request), engine)
    criterion = criteria(answer)["contact_pressure_velocity"]
    assert criterion["evidence"] == "house_estimate"
    assert {"paper", "house-estimate"} <= set(criterion["sources"])
