"""The calculations by the name of their operation: for whoever answers one calculation by another."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from glandwise.checks import (
    blank,
    duty_spectrum,
    energizer,
    enquiry,
    envelope,
    friction,
    gland,
    operating_map,
    runout,
    selection,
    thermal_fit,
    wear,
)
from glandwise.checks.engine import Engine
from glandwise.contract.base import CalculationRequest
from glandwise.contract.blank import BlankRequest
from glandwise.contract.duty_spectrum import SpectrumRequest
from glandwise.contract.energizer import EnergizerLoadRequest
from glandwise.contract.enquiry import EnquiryRequest
from glandwise.contract.envelope import EnvelopeCheckRequest
from glandwise.contract.gland import GlandCheckRequest
from glandwise.contract.operating_map import OperatingMapRequest
from glandwise.contract.running import FrictionEstimateRequest, WearEstimateRequest
from glandwise.contract.runout import RunoutAllowanceRequest
from glandwise.contract.selection import SelectionRequest
from glandwise.contract.thermal_fit import ThermalFitRequest


class Operation(NamedTuple):
    """Request model and function of a calculation."""

    model: type[CalculationRequest]
    answer: Callable[[Any, Engine], dict[str, Any]]


OPERATIONS: Mapping[str, Operation] = {
    "check_envelope": Operation(EnvelopeCheckRequest, envelope.check),
    "allow_runout": Operation(RunoutAllowanceRequest, runout.allow),
    "estimate_energizer_load": Operation(EnergizerLoadRequest, energizer.estimate),
    "estimate_friction": Operation(FrictionEstimateRequest, friction.estimate),
    "estimate_wear": Operation(WearEstimateRequest, wear.estimate),
    "select_design": Operation(SelectionRequest, selection.select),
    "check_gland": Operation(GlandCheckRequest, gland.check),
    "check_thermal_fit": Operation(ThermalFitRequest, thermal_fit.check),
    "map_operation": Operation(OperatingMapRequest, operating_map.map_operation),
    "assess_spectrum": Operation(SpectrumRequest, duty_spectrum.assess),
    "estimate_blank": Operation(BlankRequest, blank.estimate),
    "answer_enquiry": Operation(EnquiryRequest, enquiry.answer),
}
