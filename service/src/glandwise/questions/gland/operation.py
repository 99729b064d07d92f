"""Does the seal fit its gland, stay put in it, and bridge the gap behind it? The answer to a gland check.

Hardware is resolved in :mod:`glandwise.case.hardware_intake`; what is measured of it and said of that stands in
:mod:`glandwise.questions.gland`, one file a criterion.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property, partial
from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.choices import Retention
from glandwise.case.hardware_intake import Numbers, Resolved, check_temperatures, put_chosen, resolve, traced_rules
from glandwise.case.intake import Assumed, Limit, build
from glandwise.case.rows import row_of
from glandwise.engine import Engine, refusal
from glandwise.json_values import JsonObject
from glandwise.numerics.trace import records
from glandwise.numerics.worksheet import written
from glandwise.questions import told
from glandwise.questions.arrays import Row
from glandwise.questions.energizer_range import ACCEPTED, OUTSIDE
from glandwise.questions.envelope import operation as envelope
from glandwise.questions.envelope.measure import Measure, status_of
from glandwise.questions.envelope.operation import (
    Finding,
    Said,
    criterion,
    governing,
    said,
    verdict,
    weakest_of,
    written_governing,
)
from glandwise.questions.gland import kernel
from glandwise.questions.gland.criteria import extrusion_gap, seal_rotation
from glandwise.questions.gland.explain import Told, complete, numbers
from glandwise.questions.gland.judge import measured
from glandwise.questions.gland.judged import Found
from glandwise.questions.gland.written import gland_part
from glandwise.questions.report import Grounds, assumptions, cautions, grounds

if TYPE_CHECKING:
    from glandwise.case.intake import Case
    from glandwise.contract.design import EnergizedLip, FlexibleLip
    from glandwise.contract.duty import Duty
    from glandwise.contract.gland import Gland, GlandCheckRequest
    from glandwise.rules.loader import RuleSet
    from glandwise.units import UnitSystem

    Design = FlexibleLip | EnergizedLip

PARTS = ("demand", "capacity", "utilization", "which")
OF_RETENTION = {
    Retention.o_ring: ("o_ring_squeeze", "o_ring_stretch", "o_ring_fill"),
    Retention.press_fit_case: ("press_fit",),
    Retention.clamped_flange: ("clamp",),
}
"""Criteria of what holds the seal."""
TEMPERATURES = ("temperature_low", "temperature_high")
_PINNED = "What holds it is not stated: a pin, a key, or what holds more is required."


class Temperatures(NamedTuple):
    """The temperatures looked at [K]; the assembly first."""

    assembly: float
    minimum: float
    normal: float
    maximum: float

    @property
    def apart(self) -> dict[float, int]:
        """Temperatures that differ, with their places."""
        return {value: k for k, value in reversed(list(enumerate(self)))}


class Explained:
    """One case in its gland, and the same as leaves of a trace once that is asked for.

    It does not know what was found, so that findings which ask it close no circle: traces are large.
    """

    def __init__(
        self, case: Case, duty: Duty, gland: Gland, reference: float | None, row: Row, hardware_row: Row
    ) -> None:
        self.case, self._duty, self._gland, self._reference = case, duty, gland, reference
        self._row, self._hardware_row = row, hardware_row
        self._grounds: dict[tuple[object, ...], Grounds] = {}

    @cached_property
    def told(self) -> Told:
        """The case as leaves of a trace."""
        data = self.case.data
        case, rules = told.leaves_of(self.case, self._duty, self._row)
        complete(case, rules)
        found = resolve(self.case, self._duty, self._gland, self._reference, case)
        gland, names = traced_rules(data, found), tuple(data.shaft_materials)
        if Retention(found.codes["retention"]) == Retention.o_ring:
            around = Told(case, found.leaves(names), rules, gland)
            strains = map(around.strains, range(len(Temperatures._fields)))
            put_chosen(data, found, self._hardware_row, records(*strains, *found.around_groove))
        return Told(case, found.leaves(names), rules, gland)

    def rests_on(self, measure: Callable[..., Measure], *arguments: str | float) -> Grounds:
        """Return what a measure rests on; ``measure`` is a method of what is told."""
        key = measure, *arguments
        if key not in self._grounds:
            self._grounds[key] = grounds(told.rests_on(self.case, *numbers(measure(self.told, *arguments))))
        return self._grounds[key]


class Judged:
    """One case in its gland with everything that was found, in SI."""

    def __init__(
        self, case: Case, duty: Duty, design: Design, gland: Gland, hardware: Resolved,
        reference: float | None = None,
    ) -> None:  # fmt: skip
        self.case, self.duty, self.design, self.gland, self.reference = case, duty, design, gland, reference
        self.resolved = hardware
        self.rows, self.compounds = row_of(case)
        self.hardware_rows = hardware.row()
        self.row = self.hardware_rows[0]
        """The hardware as machine code takes it."""
        self.retention = Retention(hardware.codes["retention"])
        self.temperatures = Temperatures(
            float(self.row["reference"]),
            float(case.temperature_min),
            float(case.temperature),
            float(case.temperature_max),
        )
        self.explained = Explained(case, duty, gland, reference, self.rows[0], self.row)
        self.findings: list[Finding] = []

    @property
    def told(self) -> Told:
        """The case as leaves of a trace."""
        return self.explained.told

    @property
    def bore(self) -> float:
        """Nominal diameter of the bore, as stated or as proposed [m]."""
        return float(self.row["bore"])

    @property
    def width(self) -> float:
        """Axial width of the seal, as stated or as proposed [m]."""
        return float(self.row["width"])

    @property
    def has_ring(self) -> bool:
        """Whether there is an O-ring in a groove."""
        return bool(self.row["groove"] == self.row["groove"] and self.row["ring_inner"] == self.row["ring_inner"])

    @property
    def is_ring_proposed(self) -> bool:
        """Whether the O-ring was chosen here."""
        return "ring_inner" not in self.resolved.numbers

    @property
    def is_groove_proposed(self) -> bool:
        """Whether the groove was chosen here."""
        return "groove" not in self.resolved.numbers

    @property
    def is_holding_proposed(self) -> bool:
        """Whether what holds the seal was chosen here: nothing of it is stated."""
        if self.retention == Retention.o_ring:
            return self.is_ring_proposed and self.is_groove_proposed
        if self.retention == Retention.clamped_flange:
            return self.gland.clamp is None
        return self.gland.case is None

    @property
    def is_force_proposed(self) -> bool:
        """Whether the clamp force was chosen here."""
        return "clamp_force" not in self.resolved.numbers

    def refuse_beyond(self) -> None:
        """Refuse a groove beyond the tables of tolerances, as where its limits are asked for."""
        top = self.case.data.gland.it_grades.si_up_to[-1]
        names = self.case.data.gland.tolerance_class
        for usual in (names.groove_diameter, names.groove_width):
            Numbers(is_told=False).by_class(
                self.case.data, "groove", usual.name, 2.0 * top, ("gland", "groove"), "the groove with its tolerances"
            )

    def assume(self, *, clamp: bool = True) -> None:
        """List what was filled in; a clamp only where it is looked at."""
        case, row = self.case, self.row
        case.assumed.extend(item for item in self.resolved.assumed if clamp or "/clamp/" not in item.pointer)
        if self.retention == Retention.o_ring and self.has_ring:
            if self.is_ring_proposed:
                case.assumed.append(Assumed("/gland/o_ring", None, f"AS568-{row['dash']:03d}", "gland.o_ring_choice"))
            if self.is_groove_proposed:
                for name, field in (("diameter", "groove"), ("width", "groove_width")):
                    value = float(row[field])
                    case.assumed.append(Assumed(f"/gland/groove/{name}", "length", value, "gland.o_ring_choice"))
        if clamp and self.retention == Retention.clamped_flange and self.is_force_proposed:
            force = float(row["clamp_force"])
            case.assumed.append(Assumed("/gland/clamp/force", "force", force, "gland.retention.clamp_aim"))

    def temperature_findings(self) -> list[Finding]:
        """Judge the temperatures of the duty against the range that every part stands."""
        measures, found = envelope.measured(self.case).measures, []
        for name in TEMPERATURES:
            m = measures[name]
            status = status_of(m.utilization, self.case.data.criteria[name].caution_at.si)
            words = partial(envelope.say, name, m, status)
            rests_on = partial(self.explained.rests_on, Told.temperature, name)
            found.append(Finding(name, status, m, words, rests_on))
        return found

    def by_id(self, name: str) -> Finding:
        """Return a finding."""
        return next(finding for finding in self.findings if finding.id == name)


class GlandJudged(Judged):
    """One case in its gland, with what machine code found of it."""

    out: Row
    """Row of what was found; see :data:`glandwise.questions.gland.kernel.OUT`."""

    def measure(self, name: str) -> Measure:
        """Return what was found of a criterion."""
        at = kernel.IDS.index(name)
        return Measure(*(float(self.out[part][at]) for part in PARTS))

    @property
    def criteria(self) -> tuple[str, ...]:
        """Criteria of this retention."""
        return (*OF_RETENTION[self.retention], "extrusion_gap", "seal_rotation")

    def finding(self, name: str) -> Finding:
        """Judge one criterion."""
        case, m = self.case, self.measure(name)
        module = kernel.MEASURED[kernel.IDS.index(name)]
        caution_at = case.data.criteria[name].caution_at.si
        usual = status_of(m.utilization, caution_at)

        rests_on = partial(self.explained.rests_on, Told.measure, name, m.which)
        around = self.temperatures, self.out, self.retention.name, case.medium, case.data.gland.retention.margin_min.si

        def words(units: UnitSystem) -> str:
            return str(module.words(Found(module.DIMENSION, m, usual, *around, units)))

        measure = envelope.Measure(module.DIMENSION, *m[:3], Limit(m.capacity, (), ()), m.which)
        if usual == "not_evaluated":
            missing = module.MISSING
            if name == "seal_rotation" and case.friction is None:
                missing = seal_rotation.no_friction(case.medium)
            # what has no state to be measured in has no number either
            known = measure if name in {"press_fit", "clamp"} else None
            return Finding(name, usual, known, missing, rests_on)
        status = usual
        if name == "seal_rotation" and usual == "fail" and self.is_holding_proposed:
            # nothing that is made up fails a seal: that it has to be kept from turning is a requirement
            return Finding(name, "caution", measure, lambda units: f"{words(units)} {_PINNED}", rests_on)
        if name == "extrusion_gap":
            status = extrusion_gap.status(m, caution_at, extrusion_gap.flow_of(self.out))
        return Finding(name, status, measure, words, rests_on)

    def working(self) -> list[JsonObject]:
        """Return the steps to every criterion, each in its worst state."""
        measures = [self.told.temperature(name) for name in TEMPERATURES]
        measures += [
            self.told.measure(name, m.which) for name in self.criteria if (m := self.measure(name)).which == m.which
        ]
        return written(*map(numbers, measures))


def judge(duty: Duty, design: Design, gland: Gland, rules: RuleSet) -> GlandJudged:
    """Judge one gland. Parts of the gland that belong to another retention than the design's are left aside."""
    case = build(duty, design, rules)
    refuse_unknown_energizer(case)
    check_temperatures(case)
    j = GlandJudged(case, duty, design, gland, resolve(case, duty, gland))
    j.out = measured(case.data, j.rows, j.hardware_rows, j.compounds)[0]
    if j.out["beyond"] == 1.0:
        j.refuse_beyond()
    j.assume()
    case.assumed.extend(j.resolved.assumed_last)
    found = [*j.temperature_findings(), *(j.finding(name) for name in j.criteria)]
    by_id = {finding.id: finding for finding in found}
    j.findings = [by_id[name] for name in rules.data.criteria if name in by_id]
    return j


def refuse_unknown_energizer(case: Case) -> None:
    """Refuse an energizer outside its model: the torque of the lips is not known."""
    if case.energizer is None:
        return
    load = envelope.measured(case).out["spring_load"]
    if load != load:
        raise refusal("out_of_domain", ("design", case.energizer), OUTSIDE, ACCEPTED[case.energizer])


def answer(request: GlandCheckRequest, engine: Engine) -> GlandJudged:
    """Answer a gland check, in SI."""
    return judge(request.duty, request.design, request.gland, engine.rules(request))


def summary(found: Judged) -> Said:
    """Say an answer in words."""
    return said(verdict(found.findings), governing(found.findings), found.findings, found.case.data)


def write(judged: GlandJudged, request: GlandCheckRequest, engine: Engine) -> JsonObject:
    """Write an answer as its contract has it, in the units of the request."""
    rules, units = engine.rules(request), request.units.system_of_units()

    def evaluate(duty: Duty, design: Design) -> list[Finding]:
        return judge(duty, design, request.gland, rules).findings

    return {
        "verdict": verdict(judged.findings),
        "summary": str(summary(judged)),
        "governing": written_governing(governing(judged.findings), rules.data),
        "criteria": [
            criterion(finding, request.duty, request.design, rules, units, evaluate=evaluate)
            for finding in judged.findings
        ],
        **gland_part(judged, units),
        "assumptions": assumptions(judged.case, units),
        "cautions": cautions(judged.case, request.duty.food_contact),
        "evidence": weakest_of(judged.findings),
        "stamp": engine.stamp("check_gland", request, rules),
        "working": judged.working() if request.working else None,
    }


def check(request: GlandCheckRequest, engine: Engine) -> JsonObject:
    """Answer a gland check."""
    return write(answer(request, engine), request, engine)
