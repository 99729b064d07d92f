"""A duty of several phases: the worst of them by criterion, and what they add up to.

Each phase is a duty of its own and goes through the same envelope, friction and wear as a single one.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, isfinite, nan
from types import SimpleNamespace
from typing import NamedTuple

import numpy as np

from glandwise.case.intake import Assumed, Case, Sized, build, sized_for
from glandwise.case.numbers import Rules
from glandwise.contract.duty import Duty
from glandwise.contract.duty_spectrum import ROUNDING, Phase, SpectrumRequest
from glandwise.engine import Engine, refusal
from glandwise.json_values import JsonObject
from glandwise.numerics.docstring import Quantity
from glandwise.numerics.trace import labelled, leaf, traced
from glandwise.numerics.worksheet import written
from glandwise.physics import duty_spectrum as physics
from glandwise.physics import wear as wear_physics
from glandwise.physics.constants import THOUSAND_HOURS
from glandwise.physics.duty_spectrum import Means, Worn
from glandwise.physics.wear import Ends, Room, ends_of, slid_in_1000_h
from glandwise.questions import told
from glandwise.questions.arrays import Table
from glandwise.questions.duty_spectrum.found import PHASE, added
from glandwise.questions.envelope import explain
from glandwise.questions.envelope import operation as envelope
from glandwise.questions.friction.operation import levels_of, subject_of
from glandwise.questions.friction.states import Levels, Subject, told_levels
from glandwise.questions.friction.surroundings import assumed
from glandwise.questions.report import Caution, assumption, cautions
from glandwise.questions.trees import Trees
from glandwise.questions.wear.found import Measured, measured
from glandwise.questions.wear.judge import BY, Life, words
from glandwise.questions.wear.judge import verdict as life_verdict
from glandwise.questions.wear.operation import ROOM, governing_room, told_lives
from glandwise.rules.loader import RuleSet
from glandwise.rules.model import Evidence, weakest
from glandwise.rules.sourced import Records
from glandwise.units import UnitSystem

HOUR = 3600.0
NOTES = [
    "Phases add up linearly: their order and what one does to the transfer film of the next are left out.",
    "Each phase is taken as settled: heat and load as after long running in it.",
    "Standstill makes no heat and no wear.",
]
CYCLE_NOTE = (
    "A count, no damage: no sourced model of what a start costs this lip is at hand. Each start rubs the lip before its "
    "film builds up, and may swing its temperature and pressure as stated; prove by test where starts are frequent."
)


class PhaseState(NamedTuple):
    """One phase with all that was worked out for it, SI."""

    position: int
    name: str
    phase: Phase
    duty: Duty
    case: Case
    subject: Subject
    findings: list[envelope.Finding]
    levels: Levels
    worn: Measured
    """Wear and life if the phase went on for good."""

    @property
    def share(self) -> float:
        """Share of calendar time."""
        return float(self.phase.share)


class Answer(NamedTuple):
    """A duty of several phases, SI."""

    states: list[PhaseState]
    pairs: list[tuple[envelope.Finding, PhaseState]]
    """Each criterion in its worst phase."""
    enveloped: str
    """Worst verdict of the envelope of a phase."""
    verdict: str
    means: Means
    room: float
    """Wear at which the seal is taken as worn out [m]."""
    worn: Worn | None
    """``None`` where a phase that lasts finds no balance of heat."""
    wear_shares: list[float]
    """Of each phase; NaN where nothing wears or the wear is not known."""
    judged: Life
    life_verdict: str
    evidence: Evidence | None
    working: list[JsonObject] | None

    @property
    def lasting(self) -> list[PhaseState]:
        """Phases that last."""
        return [state for state in self.states if state.share > 0.0]


def phase_duty(duty: Duty, phase: Phase) -> Duty:
    """Return the duty of a phase."""
    own = {name: value for name in ("motion", "pressure", "temperature") if (value := getattr(phase, name)) is not None}
    return duty.model_copy(update=own)


def hardest(request: SpectrumRequest) -> Duty:
    """Return the duty for which the one seal of all phases is sized: their greatest pressure, their widest temperatures."""
    duties = [phase_duty(request.duty, phase) for phase in request.phases]
    normal = [duty.temperature.normal for duty in duties]
    low, high = (
        [t if (t := getattr(duty.temperature, end)) is not None else duty.temperature.normal for duty in duties]
        for end in ("minimum", "maximum")
    )
    temperature = request.duty.temperature.model_copy(
        update={"minimum": min(low), "normal": max(normal), "maximum": max(high)}
    )
    return request.duty.model_copy(
        update={"pressure": max(duty.pressure for duty in duties), "temperature": temperature}
    )


def phase_state(request: SpectrumRequest, position: int, rules: RuleSet, sized: Sized) -> PhaseState:
    """Work one phase out, of the one seal that is sized for all."""
    phase = request.phases[position]
    duty = phase_duty(request.duty, phase)
    case = build(duty, request.design, rules, sized)
    subject = subject_of(case, request.surroundings)
    found = levels_of(case, subject)
    findings = envelope.judge(case, duty)
    worn = measured(subject, nan if request.wear_allowance is None else request.wear_allowance)
    return PhaseState(position, phase.name or str(position + 1), phase, duty, case, subject, findings, found, worn)


def worst(states: Sequence[PhaseState]) -> list[tuple[envelope.Finding, PhaseState]]:
    """Return each criterion in its worst phase; what could not be evaluated counts only where nothing could."""

    def badness(pair: tuple[envelope.Finding, PhaseState]) -> tuple[int, float]:
        finding, _ = pair
        rank = -1 if finding.status == "not_evaluated" else envelope.RANK[finding.status]
        m = finding.measure
        return rank, m.utilization if m is not None and m.utilization == m.utilization else -1.0

    rows = zip(*([(finding, state) for finding in state.findings] for state in states), strict=True)
    return [max(row, key=badness) for row in rows]


def _phases_table(states: Sequence[PhaseState]) -> Table:
    table = np.zeros(len(states), PHASE)
    for row, state in zip(table, states, strict=True):
        low, nominal, high = (level.running for level in state.levels[:3])
        row["share"], row["speed"] = state.share, state.case.surface_speed
        row["wear_rate"], row["life"], row["spread"] = (
            state.worn.worn.rate,
            state.worn.worn.life,
            state.worn.worn.spread,
        )
        row["power_low"], row["power"], row["power_high"] = low.power, nominal.power, high.power
        row["torque"], row["torque_high"] = nominal.torque, high.torque
    return table


def answer(request: SpectrumRequest, engine: Engine) -> Answer:
    """Answer a request to assess a duty spectrum."""
    rules = engine.rules(request)
    sized = sized_for(hardest(request), request.design, rules)
    states = [phase_state(request, position, rules, sized) for position in range(len(request.phases))]
    first, data = states[0], rules.data
    if first.case.wear is None:
        raise refusal("out_of_domain", ("design", "compound"), "the rules hold no wear of this compound in the medium "
                      f"{first.case.medium}", "another compound, or a wear rate in compound_properties")  # fmt: skip
    lasting = [state for state in states if state.share > 0.0]
    sums = added(_phases_table(lasting), _phases_table(states))
    known = all(state.levels.nominal.running.converged for state in lasting)
    worn = sums.worn if known else None
    wear_shares = iter(sums.wear_shares)
    parts = [next(wear_shares) if state.share > 0.0 else 0.0 for state in states]
    pairs = worst(states)
    enveloped = max((envelope.verdict(state.findings) for state in states), key=envelope.RANK.__getitem__)
    target = first.worn.target
    worst_phase = max(lasting, key=lambda state: state.share / state.worn.worn.life, default=first)
    judged = Life(
        ends=Ends(nan, nan, nan, nan, nan) if worn is None else ends_of(worn.life, worn.spread, target),
        longest=data.running.wear.longest_life.si,
        target=target,
        asked=request.duty.target_life is not None,
        slides=any(state.case.surface_speed > 0.0 for state in lasting),
        presses=not lasting or any(state.levels.nominal.running.load > 0.0 for state in lasting),
        by=worst_phase.worn.by,
        pressure=worst_phase.worn.worn.pressure,
    )
    lives = "not_evaluated" if worn is None else life_verdict(judged, data)
    found = Answer(
        states=states,
        pairs=pairs,
        enveloped=enveloped,
        verdict=max(enveloped, lives if worn is not None else "pass", key=envelope.RANK.__getitem__),
        means=sums.means,
        room=min(first.worn.room),
        worn=worn,
        wear_shares=parts if known and lasting else [nan] * len(states),
        judged=judged,
        life_verdict=lives,
        evidence=None,
        working=None,
    )
    return found._replace(
        evidence=_evidence(request, found),
        working=written(*explained(request, found)) if request.working else None,
    )


# ------------------------------------------------------------------------------------------------------ by a trace

_means_of = traced(physics.means_of)
_worn_by = traced(physics.worn_by)
_room_of = traced(wear_physics.room_of)
_wearing_of = traced(wear_physics.wearing_of)
_target_of = traced(wear_physics.target_of)
_ends_of = traced(wear_physics.ends_of)
_slid = traced(wear_physics.slid_in_1000_h)


class _ToldPhase(NamedTuple):
    """What a trace tells of a phase."""

    measures: Trees
    """Numbers of the envelope."""
    row: SimpleNamespace
    """What the totals take."""
    running: Trees
    case: SimpleNamespace
    rules: Rules


def _told_phase(request: SpectrumRequest, state: PhaseState) -> _ToldPhase:
    case, rules = told.leaves_of(state.case, state.duty, state.subject.rows[0])
    gland = told.gland_leaves_of(state.case)
    share = leaf(state.share, Quantity("tau", "-", f"Share of calendar time of phase {state.name}"), "request")

    def make() -> _ToldPhase:
        measures = explain.explained(case, rules, gland)[1]
        levels = told_levels(case, rules, request.surroundings)
        low, nominal, high = levels.low.running, levels.nominal.running, levels.high.running
        time = rules.constants[0].nominal_time
        worn = _wearing_of(case, rules, levels.shape, levels.spring, nominal, _room(request, case, rules), time)
        row = SimpleNamespace(
            share=share, speed=case.surface_speed, wear_rate=worn.rate, life=worn.life, spread=worn.spread,
            power_low=low.power, power=nominal.power, power_high=high.power, torque=nominal.torque, torque_high=high.torque,
        )  # fmt: skip
        numbers = tuple(x for m in measures.values() for x in explain.numbers(m))
        return _ToldPhase(numbers, row, (low[:-2], nominal[:-2], high[:-2], worn[:-1]), case, rules)

    return labelled(f"p{state.position + 1}", make, SimpleNamespace(**vars(case), share=share))


def explained(request: SpectrumRequest, found: Answer) -> Trees:
    """Return the numbers of an answer, each with the tree that it came from."""
    phases = [_told_phase(request, state) for state in found.states]
    lasting = [phase.row for phase, state in zip(phases, found.states, strict=True) if state.share > 0.0]
    first = phases[0]
    means = _means_of(lasting, [phase.row for phase in phases])
    room = governing_room(_room(request, first.case, first.rules))
    parts = tuple((phase.measures, phase.running) for phase in phases)
    numbers = (parts, means, _slid(means.speed), room)
    if found.worn is None or not lasting:
        return numbers
    worn = _worn_by(lasting)
    ends = _ends_of(worn.life, worn.spread, _target_of(first.case, first.rules))
    return *numbers, worn, ends, told_lives(found.states[0].case, ends)


def _room(request: SpectrumRequest, case: SimpleNamespace, rules: Rules) -> Room:
    stated = nan if request.wear_allowance is None else leaf(request.wear_allowance, ROOM, "request")
    found: Room = _room_of(case, rules, stated)
    return found


def _evidence(request: SpectrumRequest, found: Answer) -> Evidence | None:
    """Weakest of all that the phases rest on, and of what sums them up."""
    rests_on = [record for state in found.states for finding in state.findings for record in finding.records]
    stated = (
        tuple(name for name, value in request.surroundings if value is not None),
        request.surroundings.correlation,
    )
    for state in found.states:

        def find(state: PhaseState = state) -> Records:
            phase = _told_phase(request, state)
            return told.rests_on(state.case, phase.running, _target_of(phase.case, phase.rules))

        converged = tuple(level.running.converged for level in state.levels[:3])
        branch = (
            "spectrum",
            stated,
            converged,
            state.worn.by,
            request.duty.target_life is None,
            request.wear_allowance is None,
        )
        rests_on += told.kept(state.case, state.duty, state.subject.rows[0], branch, find)
    wear = found.states[0].case.data.running.wear
    if any(wear.longest_life.si < end < inf for end in found.judged.ends[:-1]):
        rests_on.append(wear.longest_life)
    return weakest({record.evidence for record in rests_on})


# ------------------------------------------------------------------------------------------------------- as a result


def write(found: Answer, request: SpectrumRequest, engine: Engine) -> JsonObject:
    """Write an answer as its contract has it, in the units of the request."""
    rules, units = engine.rules(request), request.units.system_of_units()
    criteria, states = rules.data.criteria, found.states
    deciding = envelope.governing([finding for finding, _ in found.pairs])
    where = next(state for finding, state in found.pairs if finding is deciding)
    reason = _life_reason(found, rules, units)
    rest = 1.0 - sum(state.share for state in states)
    means = found.means
    powers = {"low": means.power_low, "nominal": means.power, "high": means.power_high}
    return {
        "verdict": found.verdict,
        "summary": _summary(found, criteria[deciding.id].title, where.name, reason),
        "governing": envelope.written_governing(deciding, rules.data),
        "governing_phase": where.name,
        "criteria": [
            {
                "id": finding.id,
                "title": criteria[finding.id].title,
                "status": finding.status,
                "utilization": finding.utilization,
                "phase": state.name,
            }
            for finding, state in found.pairs
        ],
        "phases": _phases(found, rules, units),
        "rest_share": _number(rest) if rest > ROUNDING else 0.0,
        "mean_power": {level: units.optional("power", power) for level, power in powers.items()},
        "mean_torque": units.optional("torque", means.torque),
        "greatest_torque": units.optional("torque", means.greatest_torque),
        "sliding_distance_per_1000_h": units.quantity("length", slid_in_1000_h(means.speed)),
        "wear_allowance": units.quantity("length", found.room),
        "allowance_by": BY[found.judged.by],
        "target_life": units.quantity("time", found.judged.target),
        "target_stated": found.judged.asked,
        "life_probability": found.judged.probability,
        **_wear(found, units),
        "life_verdict": found.life_verdict,
        "life_reason": reason,
        "cycles": _cycles(found, units),
        "notes": NOTES,
        "assumptions": [
            *(assumption(item, units) for item in _assumed(states)),
            *assumed(request.surroundings, states[0].levels.around, units),
        ],
        "cautions": _cautions(states, request.duty.food_contact),
        "evidence": found.evidence,
        "stamp": engine.stamp("assess_spectrum", request, rules),
        "working": found.working,
    }


def _number(value: float) -> float:
    return float(f"{value:.10g}")


def _life_reason(found: Answer, rules: RuleSet, units: UnitSystem) -> str:
    if found.worn is None:
        return "A phase finds no balance of frictional heat: wear cannot be estimated."
    return words(found.judged, rules.data, units, "of calendar time")


def _phases(found: Answer, rules: RuleSet, units: UnitSystem) -> list[JsonObject]:
    rows: list[JsonObject] = []
    for state, part in zip(found.states, found.wear_shares, strict=True):
        running = state.levels.nominal.running
        rows.append(
            {
                "name": state.name,
                "share": _number(state.share),
                "verdict": envelope.verdict(state.findings),
                "governing": envelope.written_governing(envelope.governing(state.findings), rules.data),
                "criteria": [
                    {"id": finding.id, "status": finding.status, "utilization": finding.utilization}
                    for finding in state.findings
                ],
                "surface_speed": units.quantity("surface_speed", state.case.surface_speed),
                "contact_temperature": units.optional("temperature", running.temperature),
                "mean_contact_pressure": units.optional("stress", running.contact_pressure),
                "torque": units.optional("torque", running.torque),
                "power": units.optional("power", running.power),
                "wear_share": _number(part) if isfinite(part) else None,
            }
        )
    return rows


def _wear(found: Answer, units: UnitSystem) -> JsonObject:
    worn = found.worn
    if worn is None:
        return {"wear_per_1000_h": None, "life": None}
    rates = found.states[0].worn.rates
    depths = {
        "low": worn.in_1000_h * rates.low / rates.nominal,
        "nominal": worn.in_1000_h,
        "high": worn.in_1000_h * rates.high / rates.nominal,
    }
    return {
        "wear_per_1000_h": {name: units.quantity("length", depth) for name, depth in depths.items()},
        "life": found.judged.write(units),
    }


def _cycles(found: Answer, units: UnitSystem) -> JsonObject:
    states, life = found.states, found.judged
    per_second = sum(state.share * state.phase.starts_per_hour / HOUR for state in states)
    starting = [state for state in states if state.phase.starts_per_hour > 0.0]
    temperatures = [state.levels.nominal.running.temperature - float(state.case.temperature) for state in starting]
    lasting = life.told(life.ends.median)
    in_life = nan if lasting is None else per_second * lasting
    swing = max(0.0, *temperatures) if temperatures and all(map(isfinite, temperatures)) else None
    pressures = [state.duty.pressure for state in states]
    return {
        "starts_per_1000_h": _number(per_second * THOUSAND_HOURS),
        "starts_in_life": _number(in_life) if isfinite(in_life) else None,
        "temperature_swing": units.optional("temperature_difference", swing),
        "pressure_swing": units.optional(
            "gauge_pressure", max((abs(state.duty.pressure) for state in starting), default=None)
        ),
        "phase_pressure_range": units.quantity("gauge_pressure", max(pressures) - min(pressures)),
        "note": CYCLE_NOTE,
    }


def _assumed(states: Sequence[PhaseState]) -> list[Assumed]:
    """Return what was supplied, once; what a phase's own temperature left out stands under the phase."""
    found: dict[str, Assumed] = {}
    for state in states:
        for item in state.case.assumed:
            pointer = item.pointer
            if state.phase.temperature is not None and pointer.startswith("/duty/temperature/"):
                pointer = pointer.replace("/duty/", f"/phases/{state.position}/", 1)
            found.setdefault(pointer, item._replace(pointer=pointer))
    return list(found.values())


def _cautions(states: Sequence[PhaseState], food_contact: bool) -> list[Caution]:
    rows = {row["id"]: row for state in states for row in cautions(state.case, food_contact)}
    return [rows[name] for name in states[0].case.data.cautions if name in rows]


def _summary(found: Answer, title: str, phase: str, life: str) -> str:
    word = {
        "pass": "passes in every phase",
        "caution": "passes with care",
        "fail": "does not pass",
        "not_evaluated": "cannot be judged",
    }[found.verdict]
    why = "" if found.verdict == found.enveloped else " (life)"
    return f"The seal {word}{why}; {title} governs in phase {phase}. {life}"


def assess(request: SpectrumRequest, engine: Engine) -> JsonObject:
    """Answer a request to assess a duty spectrum."""
    return write(answer(request, engine), request, engine)
