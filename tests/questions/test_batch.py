"""A batch agrees with single checks, case by case."""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import pytest
from glandwise.case.intake import Case, build
from glandwise.case.rows import row_of
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.contract.duty import Duty
from glandwise.contract.running import WearEstimateRequest
from glandwise.engine import Engine
from glandwise.physics.constants import THOUSAND_HOURS
from glandwise.questions.envelope import evaluation as batch
from glandwise.questions.envelope import operation as envelope
from glandwise.questions.wear import operation as wear
from glandwise.rules.loader import RuleStore
from glandwise.units import UnitSystem

RULES = RuleStore().trees["baseline"].newest()
UNITS = UnitSystem("si")


def table_of(cases: list[Case]) -> Any:
    """Cases as one table."""
    return np.concatenate([row_of(case)[0] for case in cases])


def random_duty(r: random.Random) -> Duty:
    data = RULES.data
    normal = r.uniform(-40.0, 180.0)
    motion: dict[str, Any] = r.choice(
        [
            {"kind": "rotation", "rotational_speed": {"value": r.choice([0.0, 5.0, 300.0, 3000.0]), "unit": "rpm"}},
            {"kind": "surface", "surface_speed": {"value": r.uniform(0.0, 30.0), "unit": "m/s"}},
            {
                "kind": "oscillation",
                "half_amplitude": {"value": 30.0, "unit": "deg"},
                "frequency": {"value": 2.0, "unit": "Hz"},
            },
        ]
    )
    return Duty.model_validate(
        {
            "shaft_diameter": {"value": r.uniform(8.0, 400.0), "unit": "mm"},
            "motion": motion,
            "pressure": {"value": r.choice([-8.0, 0.0, 20.0, 90.0, 2000.0, 8000.0]), "unit": "psi"},
            "temperature": {
                "normal": {"value": normal, "unit": "degC"},
                "minimum": {"value": normal - r.uniform(0.0, 60.0), "unit": "degC"},
                "maximum": {"value": normal + r.uniform(0.0, 60.0), "unit": "degC"},
            },
            "fluid": r.choice(list(data.fluids)),
            "lubrication": r.choice([None, "dry", "mist", "flooded"]),
            "contaminants": r.choice([None, "clean", "dusty", "abrasive", "wet", "submerged"]),
            "food_contact": r.random() < 0.3,
            "runout": r.choice([None, {"value": 0.1, "unit": "mm"}]),
            "offset": r.choice([None, {"value": 0.1, "unit": "mm"}]),
            "shaft": {
                "material": r.choice([None, *data.shaft_materials]),
                "hardness": r.choice([None, {"value": 45.0, "unit": "HRC"}]),
                "roughness": r.choice([None, {"value": 0.3, "unit": "um"}]),
                "machining_lead": r.choice([None, "none", "present"]),
            },
        }
    )


def random_design(r: random.Random) -> FlexibleLip | EnergizedLip:
    data = RULES.data
    compound = r.choice(list(data.compounds))
    elastomer = r.choice([None, *data.elastomers])
    thickness = r.choice([None, {"value": 0.7, "unit": "mm"}])
    if r.random() < 0.5:
        return FlexibleLip.model_validate(
            {
                "family": "flexible_lip",
                "compound": compound,
                "o_ring_elastomer": elastomer,
                "lip_thickness": thickness,
                "second_lip": r.choice(["none", "excluder", "redundant"]),
                "lip_tip": r.choice(["plain", "upturned_with_garter"]),
                "reinforcing_band": r.random() < 0.5,
                "retention": r.choice(["o_ring", "clamped_flange", "press_fit_case"]),
            }
        )
    return EnergizedLip.model_validate(
        {
            "family": "energized_lip",
            "compound": compound,
            "o_ring_elastomer": elastomer,
            "lip_thickness": thickness,
            "lip_form": r.choice(["plain", "scraper", "tapered"]),
            "energizer": r.choice(["cantilever_v", "canted_coil"]),
            "energizer_alloy": r.choice([None, *data.alloys]),
            "retention": r.choice(["o_ring", "clamped_flange"]),
            "heel": r.choice(["standard", "extended"]),
        }
    )


@pytest.mark.parametrize("seed", range(3))
def test_batch_agrees_with_single_checks(seed: int) -> None:
    r = random.Random(seed)
    duties = [random_duty(r) for _ in range(150)]
    designs = [random_design(r) for _ in range(150)]
    cases = [build(duty, design, RULES) for duty, design in zip(duties, designs, strict=True)]
    found = batch.evaluate(RULES.data, table_of(cases))
    for i, (duty, case) in enumerate(zip(duties, cases, strict=True)):
        findings = envelope.judge(case, duty)
        assert [finding.id for finding in findings] == list(found.criteria)
        for finding in findings:
            assert batch.STATUSES[found.status[finding.id][i]] == finding.status, (i, finding)
            if finding.measure is not None:
                for mine, theirs in (
                    (finding.measure.utilization, found.utilization[finding.id][i]),
                    (finding.measure.demand, found.demand[finding.id][i]),
                    (finding.measure.capacity, found.capacity[finding.id][i]),
                ):
                    # the contact temperature is solved to 0.01 K on both paths
                    tolerance = 2e-4 if finding.id == "contact_temperature" else 1e-9
                    assert np.isclose(float(mine), theirs, rtol=tolerance, atol=0.0, equal_nan=True), (i, finding.id)
        assert batch.STATUSES[found.verdict[i]] == envelope.verdict(findings)
        worst = envelope.governing(findings)
        chosen = found.criteria[found.governing[i]]
        assert chosen == worst.id or np.isclose(
            found.utilization[chosen][i], float(worst.measure.utilization) if worst.measure else np.nan, rtol=2e-4
        )


def test_wear_in_a_batch_is_that_of_a_wear_estimate() -> None:
    """A vacuum takes load off a single lip, on which a batch, as the envelope, does not rely; in it a film boils off."""
    r, engine = random.Random(4), Engine(RuleStore(), "baseline")
    duties, designs = [random_duty(r) for _ in range(120)], [random_design(r) for _ in range(120)]
    cases = [build(duty, design, RULES) for duty, design in zip(duties, designs, strict=True)]
    found = batch.evaluate(RULES.data, table_of(cases))
    known = kept = 0
    for i, (duty, design, case) in enumerate(zip(duties, designs, cases, strict=True)):
        if case.wear is None or case.friction is None:
            assert np.isnan(found.wear_rate[i])
            assert np.isnan(found.life[i])
            continue
        if duty.pressure < 0.0:
            continue
        answer = wear.estimate(WearEstimateRequest.model_construct(duty=duty, design=design), engine)
        if answer["wear_per_1000_h"] is None:
            assert np.isnan(found.wear_rate[i])
            continue
        known += 1
        rate = answer["wear_per_1000_h"]["nominal"]["value"] * 1e-3 / THOUSAND_HOURS
        assert np.isclose(found.wear_rate[i], rate, rtol=1e-8)
        if answer["life"]["nominal"] is None:
            assert not np.isfinite(found.life[i])
        else:
            kept += 1
            longest = answer["life"]["longest"]["value"] * 3600.0
            assert np.isclose(min(found.life[i], longest), answer["life"]["nominal"]["value"] * 3600.0, rtol=1e-8)
    assert known > 60
    assert kept > 30


def test_taking_some_cases_changes_none() -> None:
    r = random.Random(9)
    duties, designs = [random_duty(r) for _ in range(40)], [random_design(r) for _ in range(40)]
    cases = [build(duty, design, RULES) for duty, design in zip(duties, designs, strict=True)]
    whole = table_of(cases)
    some = np.array([3, 30, 11])
    a, b = batch.evaluate(RULES.data, whole), batch.evaluate(RULES.data, whole[some])
    for name in a.criteria:
        assert (a.status[name][some] == b.status[name]).all()
    for name in a.utilization:
        assert np.allclose(a.utilization[name][some], b.utilization[name], rtol=2e-4, equal_nan=True)
