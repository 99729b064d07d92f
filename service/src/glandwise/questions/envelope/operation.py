"""Would this seal live there? Every criterion of a duty and a design, its reason, and what to change.

Numbers first, words after: :func:`measure` gives demand, capacity and utilization of every numeric criterion;
:func:`judge` adds the categorical criteria and turns one case into findings, whose words are made when somebody asks for
them; :func:`answer` answers a request in SI, and :func:`write` and :func:`write_verdict` write that on leaving.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from functools import partial
from math import inf, isfinite, nan
from types import ModuleType
from typing import Literal, NamedTuple, TypeAlias, overload

import numpy as np
from pydantic import ValidationError

from glandwise.case.intake import Case, Limit, build
from glandwise.case.ratings import numbers_of
from glandwise.case.rows import row_of
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.contract.duty import Duty
from glandwise.contract.envelope import EnvelopeCheckRequest
from glandwise.engine import Engine
from glandwise.json_values import JsonObject
from glandwise.numerics.worksheet import written
from glandwise.patience import go_on
from glandwise.physics.constants import ROOM
from glandwise.questions import told
from glandwise.questions.arrays import Floats, Numbers, Row, Truths
from glandwise.questions.energizer_range import OUTSIDE
from glandwise.questions.envelope import kernel
from glandwise.questions.envelope import measure as criterion_words
from glandwise.questions.envelope.explain import numbers
from glandwise.questions.envelope.judge import measured as judge_rows
from glandwise.questions.envelope.measure import SLACK, status_of
from glandwise.questions.report import NOTHING, Grounds, assumptions, cautions, grounds
from glandwise.rules.loader import RuleSet
from glandwise.rules.model import Compatibility, Compound, Evidence, Fluid, RuleSetData, weakest
from glandwise.rules.once import OncePerRuleSet
from glandwise.rules.sourced import Records
from glandwise.units import UnitSystem

__all__ = ["ROOM", "SLACK", "status_of"]
"""Names that are taken from here; what this module defines is public by its name."""

Status: TypeAlias = str
RANK = {"pass": 0, "not_evaluated": 1, "caution": 2, "fail": 3}
"""Order of badness: a result is as bad as its worst criterion."""


class Measure(NamedTuple):
    """Numeric criterion: demand, capacity and utilization in SI; ``nan`` where something is not known."""

    dimension: str
    demand: float
    capacity: float
    utilization: float
    limit: Limit
    """What the capacity comes from, and the records of those criteria that do not lead there by a trace."""
    which: float = 0.0
    """What the capacity comes from, as a code of the criterion."""


class Finding(NamedTuple):
    """One criterion of one case."""

    id: str
    status: Status
    measure: Measure | None
    words: str | Callable[[UnitSystem], str]
    """Its reason, or what says it in some units."""
    rests_on: Grounds | Callable[[], Grounds]
    """What it rests on, or what finds that."""

    def reason(self, units: UnitSystem) -> str:
        """Say in one sentence why the status is what it is."""
        return self.words if isinstance(self.words, str) else self.words(units)

    @property
    def grounds(self) -> Grounds:
        """What it rests on."""
        return self.rests_on() if callable(self.rests_on) else self.rests_on

    @property
    def records(self) -> Records:
        """Records that it rests on."""
        return self.grounds.records

    @property
    def utilization(self) -> float | None:
        """Share of the capacity that is used, as answers give it; ``None`` where there is none."""
        m = self.measure
        return float(f"{m.utilization:.10g}") if m is not None and isfinite(m.utilization) else None


CRITERIA: Mapping[str, ModuleType] = dict(zip(kernel.IDS, kernel.MEASURED, strict=True))
"""Criteria with numbers."""
DIMENSION: Mapping[str, str] = {name: module.DIMENSION for name, module in CRITERIA.items()}
"""Dimension of each numeric criterion."""


class Judged(NamedTuple):
    """A case through machine code."""

    row: Row
    """The case as a row."""
    out: Row
    """What was found."""
    measures: dict[str, Measure]


def measured(case: Case) -> Judged:
    """Measure every criterion of a case."""
    go_on()
    rows, compounds = row_of(case)
    table = judge_rows(case.data, rows, compounds)
    rated = numbers_of(case.data).rated(int(rows[0]["rating"]))
    numbers, width = table.view(np.float64).tolist(), len(CRITERIA)
    columns = (numbers[at * width : (at + 1) * width] for at in range(4))  # demand, capacity, utilization, which
    found = {}
    for (name, module), demand, capacity, used, which in zip(CRITERIA.items(), *columns, strict=True):
        titles = rated[module.RATED].titles if module.RATED else ()
        found[name] = Measure(module.DIMENSION, demand, capacity, used, Limit(capacity, titles, ()), which)
    return Judged(rows[0], table[0], found)


def measure(case: Case) -> dict[str, Measure]:
    """Return demand, capacity and utilization of the numeric criteria."""
    return measured(case).measures


# -------------------------------------------------------------------------------------------- the words of a number


def _missing(name: str, m: Measure) -> str:
    """Say what a criterion lacks."""
    return (
        CRITERIA[name].MISSING or "A rule value is missing." if m.demand != m.demand or name in _HARDWARE else _NO_RULE
    )


def say(name: str, m: Measure, status: Status, units: UnitSystem) -> str:
    """Say how a criterion came out."""
    number = criterion_words.Measure(m.demand, m.capacity, m.utilization, m.which)
    found = criterion_words.Judged(m.dimension, number, status, m.limit.titles, units)
    return str(CRITERIA[name].words(found))


_NO_RULE = "The rule set has no capacity for this design."
_BY_ENERGIZER = {"contact_temperature", "contact_pressure_velocity", "runout", "offset"}
"""Criteria that need the load of the energizer."""
_HARDWARE = {"shaft_hardness", "shaft_roughness", *kernel.OF_HARDWARE}


# -------------------------------------------------------------------------------------------- categorical criteria


@OncePerRuleSet
def _record_names(data: RuleSetData) -> dict[int, str]:
    """Return the names of alloys and elastomers by the identity of their records."""
    return {id(record): name for table in (data.alloys, data.elastomers) for name, record in table.items()}


def known_range(fluid: Fluid) -> tuple[float, float]:
    """Return the temperatures between which what is known of a fluid holds [K]; infinite where no bound is known."""
    low, high = fluid.temperature_min, fluid.temperature_max
    slack = 1e-6  # a limit stated in other units is the limit still
    return -inf if low is None else low.si - slack, inf if high is None else high.si + slack


@overload
def within_record(fluid: Fluid, coldest: float, hottest: float) -> bool: ...


@overload
def within_record(fluid: Fluid, coldest: Floats, hottest: Floats) -> Truths: ...


def within_record(fluid: Fluid, coldest: Numbers, hottest: Numbers) -> bool | Truths:
    """Tell whether what is known of a fluid holds over a range of temperature [K], floats or arrays."""
    low, high = known_range(fluid)
    return (coldest >= low) & (hottest <= high)


def _attack(case: Case) -> tuple[Status, str]:
    """Tell what the fluid does to the materials of the seal, whatever the temperature; told once of each combination."""
    held, key = _attacks(case.data), (id(case.fluid), tuple(case.compound.fillers), id(case.alloy), id(case.elastomer))
    found = held.get(key)
    if found is None:
        found = held[key] = _attack_of(case)
    return found


_attacks = OncePerRuleSet(lambda _: dict[Hashable, tuple[Status, str]]())


def _attack_of(case: Case) -> tuple[Status, str]:
    fluid, found = case.fluid, list[tuple[str, Compatibility | None]]()
    table = fluid.compatibility
    found.append(("PTFE", table.ptfe))
    for filler in case.compound.fillers:
        found.append((f"filler {filler.replace('_', ' ')}", table.fillers.get(filler)))
    if case.alloy is not None:
        name = _record_names(case.data)[id(case.alloy)]
        found.append((f"energizer {name}", table.alloys.get(name)))
    if case.elastomer is not None:
        name = _record_names(case.data)[id(case.elastomer)]
        found.append((f"O-ring {name}", table.elastomers.get(name)))
    by_status: dict[str, list[str]] = {}
    status: Status
    for what, verdict in found:
        by_status.setdefault(verdict or "unknown", []).append(what)
    if bad := by_status.get("incompatible"):
        status, reason = "fail", f"{fluid.title} attacks: {', '.join(bad)}."
    elif careful := by_status.get("caution"):
        status, reason = "caution", f"{fluid.title} needs care with: {', '.join(careful)}."
    elif unknown := by_status.get("unknown"):
        status, reason = "not_evaluated", f"Nothing is known of {fluid.title} on: {', '.join(unknown)}."
    else:
        status, reason = "pass", f"{fluid.title} suits: {', '.join(what for what, _ in found)}."
    if status in {"fail", "caution"} and "unknown" in by_status:
        reason += f" Nothing is known on: {', '.join(by_status['unknown'])}."
    return status, reason


def compatibility_at(case: Case, coldest: Floats, hottest: Floats) -> tuple[Status, Truths]:
    """Return what the fluid does to the seal, and whether that is known over a range of temperature [K]."""
    return _attack(case)[0], within_record(case.fluid, coldest, hottest)


def _compatibility(case: Case) -> Finding:
    status, reason = _attack(case)
    words: str | Callable[[UnitSystem], str] = reason
    if not within_record(case.fluid, case.temperature_min, case.temperature_max):
        low, high = case.fluid.temperature_min, case.fluid.temperature_max

        def words(units: UnitSystem) -> str:
            ends = [f"from {units.text('temperature', low.si)}"] if low is not None else []
            ends += [f"to {units.text('temperature', high.si)}"] if high is not None else []
            return f"{reason} That is known {' '.join(ends)} only, and the duty goes beyond."

        status = "not_evaluated" if status == "pass" else status
    return Finding("fluid_compatibility", status, None, words, grounds((case.fluid,)))


FoodStanding: TypeAlias = Literal["base_resin_listed", "candidate", "not_a_candidate", "not_known"]


def food_standing(compound: Compound, data: RuleSetData) -> FoodStanding:
    """Return what is known of a compound for food contact: of its fillers the worst where they decide."""
    if compound.food_contact == "base_resin_listed":
        return "base_resin_listed"
    if compound.food_contact == "not_evaluated":
        return "not_known"
    found = {data.fillers[name].food_contact if name in data.fillers else "not_known" for name in compound.fillers}
    for standing in ("not_a_candidate", "not_known"):
        if standing in found:
            return standing
    return "candidate" if found else "not_known"


def _fillers_in_words(compound: Compound, data: RuleSetData, standing: FoodStanding) -> str:
    """Name the fillers of a standing, each with its regulation."""
    rules = [data.fillers[name] for name in compound.fillers if name in data.fillers]
    return "; ".join(f"{rule.title} ({rule.regulation})" for rule in rules if rule.food_contact == standing)


def _food(case: Case, food_contact: bool) -> Finding:
    if not food_contact and case.fluid.category != "food":
        return Finding("food_contact", "pass", None, "No food contact is asked for.", NOTHING)
    compound, data = case.compound, case.data
    standing = food_standing(compound, data)
    named = _fillers_in_words(compound, data, standing)
    status, reason = {
        "base_resin_listed": (
            "caution",
            "Unfilled PTFE is covered by 21 CFR 177.1550 as a base resin; the finished part needs its supplier's declaration.",
        ),
        "candidate": (
            "caution",
            f"A candidate that needs its supplier's declaration for the finished part: {named}. 21 CFR 177.1550 covers the base "
            "resin only; nothing here declares that it complies.",
        ),
        "not_a_candidate": ("fail", f"Not a candidate for food contact: {named}."),
        "not_known": (
            "not_evaluated",
            "Nothing is known of the food contact status of this compound" + (f": {named}." if named else "."),
        ),
    }[standing]
    fillers = tuple(data.fillers[name] for name in compound.fillers if name in data.fillers)
    return Finding("food_contact", status, None, reason, grounds((FOOD_SOURCE, *fillers)))


class _Cited(NamedTuple):
    source: str
    evidence: Evidence


FOOD_SOURCE = _Cited("cfr-21-177-1550", "standard")
AIR_NOT_STATED = "Clean air is taken, since nothing else is stated; the drawing of the hardware has to keep it so."
_TRADE = grounds((_Cited("common-practice", "common_practice"),))


def _lead(duty: Duty) -> Finding:
    lead = duty.shaft.machining_lead
    if lead is None:
        return Finding(
            "shaft_lead", "not_evaluated", None, "Whether the shaft has a machining lead is not stated.", NOTHING
        )
    if lead == "present":
        return Finding("shaft_lead", "fail", None, "A machining lead pumps fluid past the lip.", _TRADE)
    return Finding("shaft_lead", "pass", None, "The shaft is free of lead.", _TRADE)


def _contaminants(case: Case, duty: Duty) -> Finding:
    found = _dirt(case, duty)
    if "abrasive" in case.fluid.hazards and found.status in {"pass", "not_evaluated"}:
        reason = "The fluid itself carries solids, which wear lip and shaft."
        return Finding("contaminants", "caution", None, reason, grounds((case.fluid,)))
    return found


def _dirt(case: Case, duty: Duty) -> Finding:
    dirt = duty.contaminants
    if dirt is None:
        return Finding("contaminants", "pass", None, AIR_NOT_STATED, _TRADE)
    if dirt == "clean":
        return Finding("contaminants", "pass", None, "Nothing is to be kept out.", NOTHING)
    guarded = case.features.get("second_lip") == "excluder" or case.features.get("lip_form") == "scraper"
    guard = "an excluder" if case.family == "flexible_lip" else "a scraper lip"
    status, said = KEPT_OUT[dirt][guarded]
    return Finding("contaminants", status, None, said.format(guard=guard.capitalize() if guarded else guard), _TRADE)


KEPT_OUT: Mapping[str, tuple[tuple[Status, str], tuple[Status, str]]] = {
    "dusty": (
        ("caution", "Nothing keeps dusty dirt out; {guard} would."),
        ("pass", "{guard} keeps the dirt out."),
    ),
    "abrasive": (
        ("fail", "Nothing keeps abrasive dirt out; {guard} would."),
        ("caution", "{guard} slows abrasive dirt down but does not stop it."),
    ),
    "wet": (
        ("caution", "Nothing keeps rain, splash or a hose off the lip; {guard} would."),
        ("pass", "{guard} keeps the water out."),
    ),
    "submerged": (
        ("fail", "Water stands at the air side and no lip faces it; {guard} would."),
        ("caution", "{guard} faces the water outside, which it holds without pressure only."),
    ),
}
"""What an air side that is not clean means, without and with something that guards the lip."""


# ---------------------------------------------------------------------------------------------------- one case


def judge(case: Case, duty: Duty) -> list[Finding]:
    """Return the findings of one case, in the order of the rule set's criteria."""
    found: dict[str, Finding] = {}
    rules = case.data.criteria
    judged = measured(case)
    rests_on = _RestsOn(case, duty, judged)
    spring_load = float(judged.out["spring_load"])
    for name, m in judged.measures.items():
        rule = rules.get(name)
        if rule is None:
            continue
        status = status_of(m.utilization, rule.caution_at.si)
        words: str | Callable[[UnitSystem], str] = partial(say, name, m, status)
        if status == "not_evaluated":
            words = OUTSIDE if spring_load != spring_load and name in _BY_ENERGIZER else _missing(name, m)
        found[name] = Finding(name, status, m, words, partial(rests_on.of, name))
    for finding in (_compatibility(case), _food(case, duty.food_contact), _lead(duty), _contaminants(case, duty)):
        if finding.id in rules:
            found[finding.id] = finding
    return [found[name] for name in rules if name in found]


class _RestsOn:
    """What the criteria of a case rest on, looked up once and only if it is asked for."""

    __slots__ = ("_case", "_duty", "_found", "_judged")

    def __init__(self, case: Case, duty: Duty, judged: Judged) -> None:
        self._case, self._duty, self._judged = case, duty, judged
        self._found: Mapping[str, Grounds] | None = None

    def of(self, name: str) -> Grounds:
        """What one criterion rests on."""
        if self._found is None:
            self._found = told.grounds_of(self._case, self._duty, self._judged.row, self._judged.out)
        return self._found[name]


def governing(findings: list[Finding]) -> Finding:
    """Return the worst finding: by status, then by utilization."""

    worst, worst_rank, most_used = findings[0], -1, 0.0
    for finding in findings:
        m = finding.measure
        used = m.utilization if m is not None and m.utilization == m.utilization else -1.0
        # what could not be evaluated governs only where nothing could
        rank = 0 if finding.status == "not_evaluated" else 1 + RANK[finding.status]
        if rank > worst_rank or (rank == worst_rank and used > most_used):
            worst, worst_rank, most_used = finding, rank, used
    return worst


def verdict(findings: list[Finding]) -> Status:
    """Verdict of a set of findings: the worst of what could be evaluated, ``not_evaluated`` only when nothing could.

    A criterion that lacks its input does not turn a pass into something else by itself, but it is never a pass: it
    stands in the list as ``not_evaluated`` and lowers the verdict from ``pass`` to ``caution``.
    """
    found = {finding.status for finding in findings}
    for status in ("fail", "caution"):
        if status in found:
            return status
    if "pass" not in found:
        return "not_evaluated"
    return "caution" if "not_evaluated" in found else "pass"


# ------------------------------------------------------------------------------------------------------- remedies

_KEPT = {"compound", "compound_properties", "retention", "o_ring_elastomer"}


def changed_design(
    design: FlexibleLip | EnergizedLip, fields: Mapping[str, object]
) -> FlexibleLip | EnergizedLip | None:
    """Return a design with fields set; ``None`` when nothing would change or the result cannot exist.

    A change of family keeps only what both families have in common; the rest is sized anew. Dimensions of an energizer
    and properties of a compound that is replaced go with it.
    """
    family = fields.get("family", design.family)
    if family != design.family:
        kept = {name: value for name in _KEPT if (value := getattr(design, name)) is not None}
        if family == "energized_lip" and kept.get("retention") == "press_fit_case":
            kept.pop("retention")
        if fields.get("compound", design.compound) != design.compound:
            kept.pop("compound_properties", None)
        model: type[FlexibleLip | EnergizedLip] = EnergizedLip if family == "energized_lip" else FlexibleLip
        try:
            return model.model_validate({**kept, **fields})
        except ValidationError:
            return None
    if any(name not in type(design).model_fields for name in fields):
        return None
    if all(getattr(design, name) == value for name, value in fields.items()):
        return None
    drop = {"energizer": ("cantilever_v", "canted_coil"), "lip_tip": ("garter",), "compound": ("compound_properties",)}
    update = dict(fields)
    for name, value in fields.items():
        if getattr(design, name) != value:
            update.update(dict.fromkeys(drop.get(name, ())))
    return design.model_copy(update=update)


Evaluate: TypeAlias = Callable[[Duty, FlexibleLip | EnergizedLip], list[Finding]]
"""Findings of a changed duty or design."""


def remedies(
    failing: Finding,
    duty: Duty,
    design: FlexibleLip | EnergizedLip,
    rules: RuleSet,
    units: UnitSystem,
    evaluate: Evaluate | None = None,
) -> list[JsonObject]:
    """Evaluate every change the rules know for a criterion; those that cure it first, by rank.

    ``evaluate`` judges a change; the envelope does when it is absent. A criterion that a change does away with is cured.
    """
    proposals: list[tuple[tuple[bool, int, int], JsonObject]] = []
    for name, change in rules.data.changes.items():
        if failing.id not in change.criteria or (change.family is not None and change.family != design.family):
            continue
        if change.to_capacity is not None:
            proposal = _duty_change(change.to_capacity, failing, duty, design, rules, units, evaluate)
            if proposal is None:
                continue
            title, fields, new_duty, new_design = proposal[0], {}, proposal[1], design
            title = f"{change.title}: {title}" if title else change.title
        else:
            changed = changed_design(design, change.design)
            if changed is None:
                continue
            if changed.compound not in rules.data.compounds:
                continue
            title, fields, new_duty, new_design = change.title, dict(change.design), duty, changed
        findings = (
            judge(build(new_duty, new_design, rules), new_duty) if evaluate is None else evaluate(new_duty, new_design)
        )
        after = next((finding for finding in findings if finding.id == failing.id), None)
        cures = after is None or after.status in {"pass", "caution"}
        whole = verdict(findings)
        utilization = None if after is None or after.measure is None else float(after.measure.utilization)
        proposals.append((
            (not cures, RANK[whole], change.rank),
            {
                "change": name,
                "title": title,
                "design": fields,
                "evaluated": True,
                "cures": cures,
                "utilization": None if utilization is None or utilization != utilization else float(f"{utilization:.6g}"),
                "verdict": whole,
            },
        ))  # fmt: skip
    return [item for key, item in sorted(proposals, key=lambda pair: pair[0]) if not key[0]]


RELIEF_ROUNDS = 8
"""Rounds of easing a duty: relieving one criterion may bring another to the front, each at most a few times."""


def relief(
    duty: Duty, design: FlexibleLip | EnergizedLip, rules: RuleSet, units: UnitSystem
) -> tuple[str, Duty, Status] | None:
    """Ease the duty, field by field, until the design no longer fails; ``None`` where that is not possible.

    Of the changes that a criterion knows, those of the hardware and the duty are taken, the mildest first.
    """
    titles: dict[str, str] = {}
    for _ in range(RELIEF_ROUNDS):
        findings = judge(build(duty, design, rules), duty)
        failing = [finding for finding in findings if finding.status == "fail"]
        if not failing:
            return "; ".join(titles.values()), duty, verdict(findings)
        changed = False
        for finding in failing:
            options = [
                change
                for change in rules.data.changes.values()
                if change.to_capacity is not None and finding.id in change.criteria
            ]
            for change in sorted(options, key=lambda item: item.rank):
                assert change.to_capacity is not None
                proposal = _duty_change(change.to_capacity, finding, duty, design, rules, units)
                if proposal is not None:
                    words, duty = proposal
                    titles[change.to_capacity] = f"{change.title}: {words}" if words else change.title
                    changed = True
                    break
        if not changed:
            return None
    return None


def _duty_change(
    target: str,
    failing: Finding,
    duty: Duty,
    design: FlexibleLip | EnergizedLip,
    rules: RuleSet,
    units: UnitSystem,
    evaluate: Evaluate | None = None,
) -> tuple[str, Duty] | None:
    """Bring one field of the duty to what the criterion allows; ``None`` where nothing allowed is left.

    The words give the number rounded to the safe side; the duty holds it as it is.
    """
    m = failing.measure
    if target == "shaft.machining_lead":
        return "", duty.model_copy(update={"shaft": duty.shaft.model_copy(update={"machining_lead": "none"})})
    if m is None:
        return None
    if target == "shaft.hardness":
        shaft = duty.shaft.model_copy(update={"hardness": m.demand})
        words = f"at least {units.bound('hardness_hrc', m.demand, up=True)}"
        return words, duty.model_copy(update={"shaft": shaft})
    if target == "shaft.roughness":
        shaft = duty.shaft.model_copy(update={"roughness": m.capacity})
        words = f"Ra {units.bound('roughness', m.capacity, up=m.demand < m.capacity)}"
        return words, duty.model_copy(update={"shaft": shaft})

    motion = duty.motion
    field = {"rotation": "rotational_speed", "surface": "surface_speed", "oscillation": "frequency"}[motion.kind]

    def value_of() -> tuple[str, float | None]:
        if target == "pressure":
            return "gauge_pressure", duty.pressure
        return (field, getattr(motion, field)) if target == "surface_speed" else ("length", getattr(duty, target))

    def eased(value: float) -> Duty:
        if target == "surface_speed":
            return duty.model_copy(update={"motion": motion.model_copy(update={field: value})})
        return duty.model_copy(update={target: value})

    def used(value: float) -> float:
        changed = eased(value)
        if failing.id in CRITERIA:
            return measure(build(changed, design, rules))[failing.id].utilization
        found = judge(build(changed, design, rules), changed) if evaluate is None else evaluate(changed, design)
        after = next((finding.measure for finding in found if finding.id == failing.id), None)
        return nan if after is None else float(after.utilization)

    dimension, value = value_of()
    if value is None:
        return None
    share = _allowed_share(lambda share: used(value * share), m.utilization)
    if share is None:
        return None
    return f"at most {units.bound(dimension, abs(value * share))}", eased(value * share)


EASING_STEPS = 30
"""Halvings of the search for what is allowed: to a billionth of what is asked."""


def _allowed_share(used: Callable[[float], float], now: float) -> float | None:
    """Greatest share of a demand that a criterion allows, ``None`` if none; its utilization never falls as it rises."""
    if isfinite(now) and now > 0.0:
        # where the utilization is in proportion to the demand this is the answer, but for the last digit
        guess = (1.0 - 1e-12) / now
        if 1.0 - 1e-9 <= used(guess) <= 1.0:
            return guess
    low, high = 0.0, 1.0
    for _ in range(EASING_STEPS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if used(middle) <= 1.0 else (low, middle)
    return low if low > 0.0 else None


# --------------------------------------------------------------------------------------------------------- answer


class Answer(NamedTuple):
    """An envelope check, SI."""

    case: Case
    findings: list[Finding]
    """Every criterion, in the order of the rule set."""
    verdict: Status
    governing: Finding
    evidence: Evidence | None
    """The weakest that the criteria rest on."""


def titles_not_judged(data: RuleSetData, findings: Sequence[Finding]) -> list[str]:
    """Return the titles of the findings that lack something."""
    return [data.criteria[finding.id].title for finding in findings if finding.status == "not_evaluated"]


def answer(request: EnvelopeCheckRequest, engine: Engine) -> Answer:
    """Answer an envelope check."""
    case = build(request.duty, request.design, engine.rules(request))
    findings = judge(case, request.duty)
    return Answer(case, findings, verdict(findings), governing(findings), weakest_of(findings))


def weakest_of(findings: Iterable[Finding]) -> Evidence | None:
    """Return the weakest evidence that some findings rest on."""
    return weakest({found for finding in findings if (found := finding.grounds.evidence) is not None})


# ------------------------------------------------------------------------------------------------------ as a result


def criterion(
    finding: Finding,
    duty: Duty,
    design: FlexibleLip | EnergizedLip,
    rules: RuleSet,
    units: UnitSystem,
    with_remedies: bool = True,
    evaluate: Evaluate | None = None,
) -> JsonObject:
    """Write one finding as it stands in a result."""
    name, status, m = finding.id, finding.status, finding.measure
    demand = limit = None
    if m is not None:
        demand, limit = units.optional(m.dimension, m.demand), units.optional(m.dimension, m.capacity)
    rests_on = finding.grounds
    return {
        "id": name,
        "title": rules.data.criteria[name].title,
        "status": status,
        "demand": demand,
        "capacity": limit,
        "utilization": finding.utilization,
        "reason": finding.reason(units),
        "evidence": rests_on.evidence,
        "sources": list(rests_on.sources),
        "remedies": remedies(finding, duty, design, rules, units, evaluate)
        if with_remedies and status == "fail"
        else [],
    }


def write(found: Answer, request: EnvelopeCheckRequest, engine: Engine) -> JsonObject:
    """Write an answer as its contract has it, in the units of the request."""
    rules, units, case = engine.rules(request), request.units.system_of_units(), found.case
    return {
        "verdict": found.verdict,
        "summary": str(summary(found)),
        "governing": written_governing(found.governing, rules.data),
        "criteria": [criterion(finding, request.duty, request.design, rules, units) for finding in found.findings],
        "questions": None,
        "confidence": None,
        "assumptions": assumptions(case, units),
        "cautions": cautions(case, request.duty.food_contact, hottest_contact(found.findings)),
        "evidence": found.evidence,
        "stamp": engine.stamp("check_envelope", request, rules),
        "working": working_of(case, request.duty) if request.working else None,
    }


def written_governing(finding: Finding, data: RuleSetData) -> JsonObject:
    """Write the criterion that decides."""
    return {
        "id": finding.id,
        "title": data.criteria[finding.id].title,
        "status": finding.status,
        "utilization": finding.utilization,
    }


NOTICE = (
    "An engineering estimate to be proved by test, without the cautions that apply: those are in the full answer "
    '(detail "full").'
)


def write_verdict(found: Answer, request: EnvelopeCheckRequest, engine: Engine) -> JsonObject:
    """Write an answer without its words: what is there has the names and values that it has in the full one."""
    criteria = [
        {"id": finding.id, "status": finding.status, "utilization": finding.utilization} for finding in found.findings
    ]
    return {
        "detail": "verdict",
        "verdict": found.verdict,
        "governing": next(item for item in criteria if item["id"] == found.governing.id),
        "criteria": criteria,
        "evidence": found.evidence,
        "stamp": engine.stamp("check_envelope", request, engine.rules(request)),
        "notice": NOTICE,
    }


def hottest_contact(findings: Sequence[Finding]) -> float:
    """Return the contact temperature that was found [K]; infinity where friction finds no balance, 0 where unknown."""
    for finding in findings:
        if finding.id == "contact_temperature" and finding.measure is not None:
            m = finding.measure
            return inf if m.utilization == inf else m.demand if m.demand == m.demand else 0.0
    return 0.0


def working_of(case: Case, duty: Duty, criteria: Iterable[str] = CRITERIA) -> list[JsonObject]:
    """Return the working of a case: how every criterion with numbers came about."""
    measures = told.explained(case, duty, row_of(case)[0][0])
    return written(*(numbers(measures[name]) for name in criteria if name in case.data.criteria))


_VERDICT_WORDS = {
    "pass": "Passes",
    "caution": "Passes with care",
    "fail": "Does not pass",
    "not_evaluated": "Cannot be judged",
}


class Said(NamedTuple):
    """A verdict in words."""

    verdict: str
    """What the verdict is: "Passes"."""
    why: str
    """What governs, and what could not be judged: "sealed pressure governs at 42 % of its limit."."""

    def __str__(self) -> str:
        """Say both."""
        return f"{self.verdict}: {self.why}"


def said(whole: Status, worst: Finding, findings: Sequence[Finding], data: RuleSetData) -> Said:
    """Say the verdict, what governs, and what could not be judged of some findings, in words."""
    used = worst.utilization
    share = f" at {100.0 * used:.0f} % of its limit" if used is not None else ""
    missing = titles_not_judged(data, findings)
    words = _VERDICT_WORDS[whole]
    if whole == "caution" and worst.status == "pass":
        words = "Passes as far as it was judged"
    text = f"{data.criteria[worst.id].title} governs{share}."
    return Said(words, f"{text} Not judged: {', '.join(missing)}." if missing and whole != "not_evaluated" else text)


def summary(found: Answer) -> Said:
    """Say an answer in words."""
    return said(found.verdict, found.governing, found.findings, found.case.data)
