"""Calculations: one route each, all of the same shape."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from starlette.types import ASGIApp

from glandwise.api.calculation import CalculationRoute, EngineDep
from glandwise.contract.audit import RuleSetAuditRequest, RuleSetAuditResult
from glandwise.contract.blank import BlankRequest, BlankResult
from glandwise.contract.comparison import RuleSetComparisonRequest, RuleSetComparisonResult
from glandwise.contract.duty_spectrum import SpectrumRequest, SpectrumResult
from glandwise.contract.energizer import EnergizerLoadRequest, EnergizerLoadResult
from glandwise.contract.enquiry import EnquiryRequest, EnquiryResult
from glandwise.contract.envelope import EnvelopeCheckRequest, EnvelopeCheckResult
from glandwise.contract.gland import GlandCheckRequest, GlandCheckResult
from glandwise.contract.operating_map import OperatingMapRequest, OperatingMapResult
from glandwise.contract.recheck import RecheckRequest, RecheckResult
from glandwise.contract.running import (
    FrictionEstimateRequest,
    FrictionEstimateResult,
    WearEstimateRequest,
    WearEstimateResult,
)
from glandwise.contract.runout import RunoutAllowanceRequest, RunoutAllowanceResult
from glandwise.contract.selection import SelectionRequest, SelectionResult
from glandwise.contract.thermal_fit import ThermalFitRequest, ThermalFitResult
from glandwise.questions.blank import operation as blank
from glandwise.questions.duty_spectrum import operation as duty_spectrum
from glandwise.questions.energizer import operation as energizer
from glandwise.questions.enquiry import operation as enquiry
from glandwise.questions.envelope import operation as envelope
from glandwise.questions.friction import operation as friction
from glandwise.questions.gland import operation as gland
from glandwise.questions.operating_map import operation as operating_map
from glandwise.questions.runout import operation as runout
from glandwise.questions.selection import operation as selection
from glandwise.questions.thermal_fit import operation as thermal_fit
from glandwise.questions.wear import operation as wear
from glandwise.review import audit, comparison, recheck

router = APIRouter(tags=["calculations"], route_class=CalculationRoute)


def by_path() -> dict[str, ASGIApp]:
    """Return the calculations as applications by their path."""
    return {route.path: route.answer for route in router.routes if isinstance(route, CalculationRoute)}


@router.post("/v1/envelope-checks", operation_id="check_envelope", response_model=EnvelopeCheckResult)
def check_envelope(body: EnvelopeCheckRequest, engine: EngineDep) -> dict[str, Any]:
    """Check a design against a duty, criterion by criterion, with the reason of each and what to change."""
    return envelope.check(body, engine)


@router.post("/v1/runout-allowances", operation_id="allow_runout", response_model=RunoutAllowanceResult)
def allow_runout(body: RunoutAllowanceRequest, engine: EngineDep) -> dict[str, Any]:
    """Give the dynamic runout a lip follows, by speed, and what governs it."""
    return runout.allow(body, engine)


@router.post("/v1/energizer-loads", operation_id="estimate_energizer_load", response_model=EnergizerLoadResult)
def estimate_energizer_load(body: EnergizerLoadRequest, engine: EngineDep) -> dict[str, Any]:
    """Give the load, stiffness and stress of an energizer over its deflection, at the ends of its tolerances."""
    return energizer.estimate(body, engine)


@router.post("/v1/friction-estimates", operation_id="estimate_friction", response_model=FrictionEstimateResult)
def estimate_friction(body: FrictionEstimateRequest, engine: EngineDep) -> dict[str, Any]:
    """Give load, torque, power and contact temperature of a running seal, as a range."""
    return friction.estimate(body, engine)


@router.post("/v1/wear-estimates", operation_id="estimate_wear", response_model=WearEstimateResult)
def estimate_wear(body: WearEstimateRequest, engine: EngineDep) -> dict[str, Any]:
    """Give the wear rate and the life of the lip, as a range."""
    return wear.estimate(body, engine)


@router.post("/v1/selections", operation_id="select_design", response_model=SelectionResult)
def select_design(body: SelectionRequest, engine: EngineDep) -> dict[str, Any]:
    """Judge every coherent design for a duty, rank those that pass, and say what the others lack."""
    return selection.select(body, engine)


@router.post("/v1/gland-checks", operation_id="check_gland", response_model=GlandCheckResult)
def check_gland(body: GlandCheckRequest, engine: EngineDep) -> dict[str, Any]:
    """Check the gland of a seal: limits and fits, O-ring or clamp or press fit, seal rotation, extrusion gap."""
    return gland.check(body, engine)


@router.post("/v1/thermal-fits", operation_id="check_thermal_fit", response_model=ThermalFitResult)
def check_thermal_fit(body: ThermalFitRequest, engine: EngineDep) -> dict[str, Any]:
    """Follow the fits of lip, body and energizer over temperature, and say whether they hold."""
    return thermal_fit.check(body, engine)


@router.post("/v1/operating-maps", operation_id="map_operation", response_model=OperatingMapResult)
def map_operation(body: OperatingMapRequest, engine: EngineDep) -> dict[str, Any]:
    """Show where over two numbers of its duty a seal lives, what limits it where, and how far each number may go."""
    return operating_map.map_operation(body, engine)


@router.post("/v1/rule-set-comparisons", operation_id="compare_rule_sets", response_model=RuleSetComparisonResult)
def compare_rule_sets(body: RuleSetComparisonRequest, engine: EngineDep) -> dict[str, Any]:
    """Judge past quotes under two rule sets and say which changed value turns which criterion over."""
    return comparison.compare_sets(body, engine)


@router.post("/v1/duty-spectra", operation_id="assess_spectrum", response_model=SpectrumResult)
def assess_spectrum(body: SpectrumRequest, engine: EngineDep) -> dict[str, Any]:
    """Judge a duty of several phases: the worst phase by criterion, mean power and torque, accumulated wear and life."""
    return duty_spectrum.assess(body, engine)


@router.post("/v1/rechecks", operation_id="recheck_result", response_model=RecheckResult)
def recheck_result(body: RecheckRequest, engine: EngineDep) -> dict[str, Any]:
    """Answer a stored request anew and say what differs from the stored answer, and why."""
    return recheck.recheck(body, engine)


@router.post("/v1/blank-estimates", operation_id="estimate_blank", response_model=BlankResult)
def estimate_blank(body: BlankRequest, engine: EngineDep) -> dict[str, Any]:
    """Give blank, mass, yield and features for machining a number of seals; money by the caller's rates only."""
    return blank.estimate(body, engine)


@router.post("/v1/rule-set-audits", operation_id="audit_rule_set", response_model=RuleSetAuditResult)
def audit_rule_set(body: RuleSetAuditRequest, engine: EngineDep) -> dict[str, Any]:
    """Hold a rule set to the laws of any sane one, over the whole envelope, and show a plain counterexample."""
    return audit.audit_set(body, engine)


@router.post("/v1/enquiries", operation_id="answer_enquiry", response_model=EnquiryResult)
def answer_enquiry(body: EnquiryRequest, engine: EngineDep) -> dict[str, Any]:
    """Answer an enquiry whole: choose or check the design, with gland, friction, wear and blank for a quote."""
    return enquiry.answer(body, engine)
