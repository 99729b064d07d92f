"""The one table of operations: what is asked and answered where, by which function, in which forms.

From a row follow the route, the document of the interface and with it the client's method, the lane, the forms of a
batch, the renderings, the calculation sheet, and whether a stored answer can be rechecked. Examples stand in
``contract/examples/<name>/``; tests hold them, the guide to the interface and the client to this table.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import KW_ONLY, dataclass
from datetime import date, timedelta
from typing import Any, Literal, get_args

from pydantic import BaseModel, create_model

from glandwise.contract.audit import RuleSetAuditRequest, RuleSetAuditResult
from glandwise.contract.blank import BlankRequest, BlankResult
from glandwise.contract.calibration import CalibrationRequest, CalibrationResult
from glandwise.contract.comparison import RuleSetComparisonRequest, RuleSetComparisonResult
from glandwise.contract.duty_spectrum import SpectrumRequest, SpectrumResult
from glandwise.contract.energizer import EnergizerLoadRequest, EnergizerLoadResult
from glandwise.contract.enquiry import EnquiryRequest, EnquiryResult, EnquiryVerdict
from glandwise.contract.envelope import EnvelopeCheckRequest, EnvelopeCheckResult, EnvelopeVerdict
from glandwise.contract.gland import GlandCheckRequest, GlandCheckResult
from glandwise.contract.governance import RuleSetReviewRequest, RuleSetReviewResult
from glandwise.contract.operating_map import OperatingMapRequest, OperatingMapResult
from glandwise.contract.recheck import RecheckRequest as AnyRecheckRequest
from glandwise.contract.recheck import RecheckResult
from glandwise.contract.running import (
    FrictionEstimateRequest,
    FrictionEstimateResult,
    WearEstimateRequest,
    WearEstimateResult,
)
from glandwise.contract.runout import RunoutAllowanceRequest, RunoutAllowanceResult
from glandwise.contract.selection import SelectionRequest, SelectionResult
from glandwise.contract.thermal_fit import ThermalFitRequest, ThermalFitResult
from glandwise.engine import Engine
from glandwise.extras import STATISTICS
from glandwise.questions.blank import operation as blank
from glandwise.questions.duty_spectrum import operation as duty_spectrum
from glandwise.questions.energizer import operation as energizer
from glandwise.questions.enquiry import operation as enquiry
from glandwise.questions.envelope import check as envelope
from glandwise.questions.friction import operation as friction
from glandwise.questions.gland import operation as gland
from glandwise.questions.operating_map import operation as operating_map
from glandwise.questions.runout import operation as runout
from glandwise.questions.selection import operation as selection
from glandwise.questions.thermal_fit import operation as thermal_fit
from glandwise.questions.wear import operation as wear
from glandwise.review import audit, comparison, governance, recheck

SVG = "image/svg+xml"
DXF = "image/vnd.dxf"
LINES = "application/x-ndjson"
CSV = "text/csv"
PDF = "application/pdf"
AAS = "application/aas+json"
"""An Asset Administration Shell in JSON, named as the registered ``application/aas+zip``."""
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@dataclass(frozen=True, slots=True)
class Deprecation:
    """That an operation will go: its answers say so in headers from then on (RFC 9745, RFC 8594)."""

    since: date
    """Day from which nobody should begin to use it."""
    sunset: date
    """Day after which it may be gone; a year after ``since`` at least, which is what the policy promises."""
    instead: str
    """Path of the operation that takes its place."""


SUPPORTED_FOR = timedelta(days=365)
"""Time that a deprecated operation stays at least."""


@dataclass(frozen=True, slots=True)
class Told:
    """What a row of a table is told in one column of the answer."""

    name: str
    path: tuple[str | tuple[str, str], ...]
    """Where it stands in the result; a pair is a field and its value, and picks an entry of a list."""
    dimension: str | None = None
    """Dimension of a quantity, whose unit stands in the heading."""

    def heading(self, units: Mapping[str, str]) -> str:
        """Write the heading of the column, in the units of an answer."""
        return self.name if self.dimension is None else f"{self.name} [{units[self.dimension]}]"

    def of(self, result: Mapping[str, Any]) -> Any:
        """Find it in a result; ``None`` where the result leaves it open."""
        here: Any = result
        for part in self.path:
            if here is None:
                return None
            here = here[part] if isinstance(part, str) else next((one for one in here if one[part[0]] == part[1]), None)
        return here if self.dimension is None or here is None else here["value"]


_STAMP = Told("evidence", ("evidence",)), Told("fingerprint", ("stamp", "fingerprint"))
_VERDICT = Told("verdict", ("verdict",))


def _ends(name: str, dimension: str, *paths: tuple[str, tuple[str | tuple[str, str], ...]]) -> tuple[Told, ...]:
    """Return the columns of a range, one for each end."""
    return tuple(Told(f"{name}_{end}", path, dimension) for end, path in paths)


def _levels(name: str, dimension: str) -> tuple[Told, ...]:
    ends = ((end, ("levels", ("level", end), name)) for end in ("low", "nominal", "high"))
    return _ends(name, dimension, *ends)


@dataclass(frozen=True, slots=True)
class Operation:
    """A row. A worker gets it as it is, so its models and its function are those of a module."""

    name: str
    """Verb and noun: the ``operationId``, the client's method, the folder of the examples."""
    path: str
    request: type[Any]
    result: type[BaseModel]
    answer: Callable[[Any, Engine], dict[str, Any]]
    title: str
    """Head of the calculation sheet."""
    text: str
    """What it does, in a sentence: its description in the document and in the client."""
    _: KW_ONLY
    brief: type[BaseModel] | None = None
    """Result of those requests whose ``detail`` asks for the verdict alone."""
    long: bool = False
    """Takes several milliseconds up to seconds: runs in a thread of its own, and asks ``patience.go_on`` now and then."""
    extra: str = ""
    """Extra of the service without which it is not there."""
    cost: float = 1.0
    """Milliseconds of one core that it takes, about: what a caller is charged with before it is known what it took."""
    lines: bool = True
    """Takes many requests as lines; an operation that judges many cases by itself does not."""
    columns: bool = False
    """Takes a table of cases as columns."""
    told: tuple[Told, ...] = ()
    """What each row of a table of cases is told; without it no table of rows is taken."""
    words: tuple[Told, ...] = ()
    """What a row of a workbook, which is for people, is told besides; the full answer has it."""
    renderings: tuple[tuple[str, str], ...] = ()
    """Media types beside JSON, sheet and table, each with the module and function of ``api.render`` that makes it."""
    asks_more: frozenset[str] = frozenset()
    """Those of the media types whose maker gets the request and the engine besides, to ask what the result does not say."""
    right: Literal["judge", "rules"] = "judge"
    """Right that a token needs for it."""
    deprecated: Deprecation | None = None
    """Since when it is deprecated, and until when it stays."""
    section: bool = False
    """Whether its seal can be had as a drawing: its cross-section to scale, made of the request and the answer."""
    asset_shell: bool = False
    """Whether its seal can be had as an Asset Administration Shell."""
    drawn: frozenset[str] = frozenset()
    """Fields of the result that its drawing shows better than a table on the sheet."""

    @property
    def answers(self) -> Any:
        """Every model of a result."""
        return self.result if self.brief is None else self.result | self.brief

    @property
    def drawing(self) -> str | None:
        """Module and function of ``api.render`` that draws the result."""
        return dict(self.renderings).get(SVG)


ON_CASES = (
    Operation(
        "check_envelope", "/v1/envelope-checks", EnvelopeCheckRequest, EnvelopeCheckResult, envelope.check, "Envelope check",
        "Check a design against a duty, criterion by criterion, with the reason of each and what to change.",
        columns=True,
        told=(
            _VERDICT, Told("governing", ("governing", "id")), Told("utilization", ("governing", "utilization")), *_STAMP,
        ),
        words=(Told("summary", ("summary",)),),
        brief=EnvelopeVerdict,
        section=True,
    ),
    Operation(
        "allow_runout", "/v1/runout-allowances", RunoutAllowanceRequest, RunoutAllowanceResult, runout.allow,
        "Runout allowance",
        "Give the dynamic runout a lip follows, by speed, and what governs it.",
        renderings=((SVG, "runout:render_curve"),),
    ),
    Operation(
        "estimate_energizer_load", "/v1/energizer-loads", EnergizerLoadRequest, EnergizerLoadResult, energizer.estimate,
        "Energizer load",
        "Give the load, stiffness and stress of an energizer over its deflection, at the ends of its tolerances.",
        long=True, cost=50.0,
        renderings=((SVG, "energizer:render_curve"),),
    ),
    Operation(
        "estimate_friction", "/v1/friction-estimates", FrictionEstimateRequest, FrictionEstimateResult, friction.estimate,
        "Friction and contact temperature",
        "Give load, torque, power and contact temperature of a running seal, as a range.",
        long=True,
        cost=50.0,
        told=(
            _VERDICT, Told("summary", ("summary",)), *_levels("torque", "torque"), *_levels("power", "power"),
            *_levels("contact_temperature", "temperature"),
            Told("temperature_limit", ("temperature_limit",), "temperature"),
            Told("surface_speed", ("surface_speed",), "surface_speed"), *_STAMP,
        ),
        renderings=((SVG, "friction:render_over_speed"),),
        asks_more=frozenset({SVG}),
    ),
    Operation(
        "estimate_wear", "/v1/wear-estimates", WearEstimateRequest, WearEstimateResult, wear.estimate, "Wear and life",
        "Give the wear rate and the life of the lip, as a range.",
        told=(
            _VERDICT, Told("summary", ("summary",)),
            *_ends("life", "time", *((end, ("life", end)) for end in ("short", "nominal", "long"))),
            *_ends("wear_per_1000_h", "length", *((end, ("wear_per_1000_h", end)) for end in ("low", "nominal", "high"))),
            Told("wear_allowance", ("wear_allowance",), "length"),
            Told("contact_temperature", ("contact_temperature",), "temperature"), *_STAMP,
        ),
        renderings=((SVG, "wear:render_life"),),
        asks_more=frozenset({SVG}),
    ),
    Operation(
        "select_design", "/v1/selections", SelectionRequest, SelectionResult, selection.select, "Selection of a design",
        "Judge every coherent design for a duty, rank those that pass, and say what the others lack.",
        long=True, cost=70.0,
        renderings=((SVG, "selection:render_ranking"),),
    ),
    Operation(
        "check_gland", "/v1/gland-checks", GlandCheckRequest, GlandCheckResult, gland.check, "Gland check",
        "Check the gland of a seal: limits and fits, O-ring or clamp or press fit, seal rotation, extrusion gap.",
        long=True, cost=15.0,
        section=True,
    ),
    Operation(
        "check_thermal_fit", "/v1/thermal-fits", ThermalFitRequest, ThermalFitResult, thermal_fit.check, "Thermal fit",
        "Follow the fits of lip, body and energizer over temperature, and say whether they hold.",
        long=True, cost=15.0,
        renderings=((SVG, "thermal_fit:render_curve"),),
    ),
    Operation(
        "map_operation", "/v1/operating-maps", OperatingMapRequest, OperatingMapResult, operating_map.map_operation,
        "Operating map",
        "Show where over two numbers of its duty a seal lives, what limits it where, and how far each number may go.",
        long=True, cost=1000.0,
        renderings=((SVG, "operating_map:render_map"),),
        drawn=frozenset({
            "x", "y", "criteria", "statuses", "status", "governing", "utilization", "region",
        }),
    ),
    Operation(
        "assess_spectrum", "/v1/duty-spectra", SpectrumRequest, SpectrumResult, duty_spectrum.assess, "Duty spectrum",
        "Judge a duty of several phases: the worst phase by criterion, mean power and torque, accumulated wear and life.",
        long=True, cost=5.0,
        renderings=((SVG, "duty_spectrum:render_phases"),),
    ),
    Operation(
        "estimate_blank", "/v1/blank-estimates", BlankRequest, BlankResult, blank.estimate, "Blank",
        "Give blank, mass, yield and features for machining a number of seals; money by the caller's rates only.",
        long=True, cost=10.0,
        section=True,
    ),
    Operation(
        "answer_enquiry", "/v1/enquiries", EnquiryRequest, EnquiryResult, enquiry.answer, "Answer to an enquiry",
        "Answer an enquiry whole: choose or check the design, with gland, friction, wear and blank for a quote.",
        long=True, cost=150.0, section=True, asset_shell=True,
        told=(
            _VERDICT, Told("summary", ("summary",)), Told("chosen", ("chosen",)), Told("title", ("title",)),
            Told("family", ("design", "family")), Told("compound", ("design", "compound")), *_STAMP,
        ),
        brief=EnquiryVerdict,
    ),
)  # fmt: skip
"""Operations on a case: their stored answers can be rechecked."""

_Known: Any = Literal[tuple(row.name for row in ON_CASES)]
RecheckRequest = create_model(
    "RecheckRequest",
    __base__=AnyRecheckRequest,
    __doc__=AnyRecheckRequest.__doc__,
    __module__=__name__,
    operation=(_Known, AnyRecheckRequest.model_fields["operation"]),
)
"""The request of a recheck, of the operations there are."""


def recheck_result(request: AnyRecheckRequest, engine: Engine) -> dict[str, Any]:
    """Answer a recheck."""
    return recheck.recheck(request, engine, {row.name: row for row in ON_CASES})


def calibrate_rules(request: CalibrationRequest, engine: Engine) -> dict[str, Any]:
    """Answer a calibration; what it needs is loaded when one is asked for."""
    from glandwise.review.calibration.operation import calibrate

    return calibrate(request, engine)


ON_RULES = (
    Operation(
        "compare_rule_sets", "/v1/rule-set-comparisons", RuleSetComparisonRequest, RuleSetComparisonResult,
        comparison.compare_sets, "Comparison of rule sets",
        "Judge past quotes under two rule sets and say which changed value turns which criterion over.",
        long=True, cost=300.0, lines=False, right="rules",
        renderings=((LINES, "lines:render_cases"), (SVG, "comparison:render_outcomes")),
    ),
    Operation(
        "recheck_result", "/v1/rechecks", RecheckRequest, RecheckResult, recheck_result, "Recheck of a result",
        "Answer a stored request anew and say what differs from the stored answer, and why.",
        long=True, cost=100.0,
    ),
    Operation(
        "audit_rule_set", "/v1/rule-set-audits", RuleSetAuditRequest, RuleSetAuditResult, audit.audit_set,
        "Audit of a rule set",
        "Hold a rule set to the laws of any sane one, over the whole envelope, and show a plain counterexample.",
        long=True, cost=800.0, lines=False, right="rules", extra=STATISTICS,
    ),
    Operation(
        "review_rule_set", "/v1/rule-set-reviews", RuleSetReviewRequest, RuleSetReviewResult, governance.review_set,
        "Review of a rule set",
        "Say who approved a rule set, whether its version keeps step with what changed, and which estimates are to be looked at again.",
        long=True, cost=150.0, lines=False, right="rules",
    ),
    Operation(
        "calibrate_rules", "/v1/calibrations", CalibrationRequest, CalibrationResult, calibrate_rules, "Calibration",
        "Find rule values with their intervals from records of a test rig or of the field, as a rule set to lay over another.",
        long=True, cost=300.0, lines=False, renderings=((SVG, "calibration:render_fit"),), right="rules", extra=STATISTICS,
    ),
)  # fmt: skip
"""Operations that judge rules, or answers."""


def _checked(rows: tuple[Operation, ...]) -> Mapping[str, Operation]:
    """Return the rows by name. A fault in the table ends the start of the service, not a request."""
    for row in rows:
        if not re.fullmatch("[a-z]+(_[a-z]+)+", row.name) or not row.path.startswith("/v1/"):
            raise ImportError(f"operation {row.name}: a name is verb_noun, a path begins with /v1/")
        if row.deprecated is not None and row.deprecated.sunset - row.deprecated.since < SUPPORTED_FOR:
            raise ImportError(f"operation {row.name}: a deprecated operation stays {SUPPORTED_FOR.days} days at least")
    for what in ("name", "path", "title", "request", "result"):
        values = [getattr(row, what) for row in rows]
        if twice := {str(value) for value in values if values.count(value) > 1}:
            raise ImportError(f"operations: {what} twice: {', '.join(sorted(twice))}")
    return {row.name: row for row in rows}


OPERATIONS = _checked((*ON_CASES, *ON_RULES))
"""All operations by their name."""


def parts(operation: Operation) -> Mapping[str, Operation]:
    """Return the fields of a result that are whole results of other operations, and of which."""
    return {
        name: row
        for name, field in operation.result.model_fields.items()
        for row in OPERATIONS.values()
        if row.result in (field.annotation, *get_args(field.annotation))
    }
