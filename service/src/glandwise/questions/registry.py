"""The calculations by the name of their operation: for whoever answers one calculation by another."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

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
from glandwise.engine import Engine
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
