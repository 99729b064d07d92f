"""A duty of several phases: the worst of them by criterion, and what they add up to.

Each phase is a duty of its own and goes through the same envelope, friction and wear as a single one. Powers, torques
and wear are then averaged over time. Wear adds up linearly: the order of the phases does not count, nor does what one
does to the transfer film of the next.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from glandwise.checks import envelope, friction, running, working_totals
from glandwise.checks import wear as wearing
from glandwise.checks.case import Assumed, Case, build
from glandwise.checks.engine import Engine, refusal
from glandwise.checks.report import assumption, cautions
from glandwise.contract.duty import Duty
from glandwise.contract.duty_spectrum import ROUNDING, Phase, SpectrumRequest
from glandwise.mechanics import numeric as num
from glandwise.mechanics import wear
from glandwise.rules.loader import RuleSet
from glandwise.rules.model import weakest
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
    """One phase with all that was worked out for it."""

    name: str
    phase: Phase
    duty: Duty
    case: Case
    findings: list[envelope.Finding]
    low: running.Running
    nominal: running.Running
    high: running.Running

    @property
    def share(self) -> float:
        """Share of calendar time."""
        return float(self.phase.share)


def phase_duty(duty: Duty, phase: Phase) -> Duty:
    """Return the duty of a phase."""
    own = {name: value for name in ("motion", "pressure", "temperature") if (value := getattr(phase, name)) is not None}
    return duty.model_copy(update=own)


def phase_state(
    request: SpectrumRequest, position: int, rules: RuleSet, units: UnitSystem
) -> tuple[PhaseState, running.Surroundings]:
    """Work one phase out."""
    phase = request.phases[position]
    duty = phase_duty(request.duty, phase)
    case = build(duty, request.design, rules)
    around = friction.given_surroundings(case, request.surroundings)
    low, nominal, high = (state for *_, state in friction.states(case, around))
    findings = envelope.judge(case, duty, units)
    return PhaseState(phase.name or str(position + 1), phase, duty, case, findings, low, nominal, high), around


# ---------------------------------------------------------------------------------------------------------- criteria


def _used(finding: envelope.Finding) -> float | None:
    m = finding.measure
    return float(f"{m.utilization:.10g}") if m is not None and num.isfinite(m.utilization) else None


def worst(states: Sequence[PhaseState]) -> list[tuple[envelope.Finding, PhaseState]]:
    """Return each criterion in its worst phase; what could not be evaluated counts only where nothing could."""

    def badness(pair: tuple[envelope.Finding, PhaseState]) -> tuple[int, float]:
        finding, _ = pair
        rank = -1 if finding.status == "not_evaluated" else envelope.RANK[finding.status]
        m = finding.measure
        return rank, m.utilization if m is not None and m.utilization == m.utilization else -1.0

    rows = zip(*([(finding, state) for finding in state.findings] for state in states), strict=True)
    return [max(row, key=badness) for row in rows]


# -------------------------------------------------------------------------------------------------------------- wear


class SpectrumWear(NamedTuple):
    """Wear over all phases."""

    rates: wear.WearRate
    """Depth per second of calendar time at the start [m/s]."""
    contributions: tuple[float, ...]
    """Share of each phase in it; ``nan`` where nothing wears [-]."""
    life: wear.Life
    """Calendar time to the allowance [s]."""


def accumulate(states: Sequence[PhaseState], k: wear.WearRate, allowance: float, contact_width: float) -> SpectrumWear:
    """Add up the wear of all phases.

    As in a single phase the lip loses load as it wears, each phase at its own stiffness: dh/dt = K/b sum of
    share v (q - k h). A phase whose load would be gone before the allowance is taken to lose it evenly up to there, so
    that it never counts as healing.
    """
    shares = [state.share for state in states]
    means = [
        wear.duty_wear(
            shares,
            [wear.depth_rate(rate, state.nominal.contact_pressure, state.case.surface_speed) for state in states],
        )
        for rate in k
    ]
    load = stiffness = 0.0
    for state in states:
        slides = state.share * state.case.surface_speed
        total = float(state.nominal.load.total)
        load += slides * total
        stiffness += slides * min(wearing.stiffness_of(state.case, state.nominal), total / allowance)
    long, nominal, short = (
        float(wear.relieved_distance(rate, load, stiffness, contact_width, allowance)) for rate in k
    )
    if load > stiffness * allowance:
        long, nominal, short = (wearing.not_overflown(time) for time in (long, nominal, short))
    return SpectrumWear(
        wear.WearRate(*(mean.depth_rate for mean in means)), means[1].contributions, wear.Life(short, nominal, long)
    )


def _life_verdict(
    states: Sequence[PhaseState], found: SpectrumWear | None, target: float | None, by: str, units: UnitSystem
) -> tuple[str, str]:
    if found is None:
        return "not_evaluated", "A phase finds no balance of frictional heat: wear cannot be estimated."
    lasting = [state for state in states if state.share > 0.0]
    slides = any(state.case.surface_speed > 0.0 for state in lasting)
    presses = not lasting or any(state.nominal.load.total > 0.0 for state in lasting)
    return wearing.judge(found.life, slides, presses, target, by, states[0].case.data, units, "of calendar time")


# ----------------------------------------------------------------------------------------------------------- request


def assess(request: SpectrumRequest, engine: Engine) -> dict[str, Any]:
    """Answer a request to assess a duty spectrum."""
    rules, units = engine.rules(request), request.units.system_of_units()
    states, arounds = zip(
        *(phase_state(request, position, rules, units) for position in range(len(request.phases))), strict=True
    )
    first, around = states[0].case, arounds[0]
    record = first.wear
    if record is None:
        raise refusal("out_of_domain", ("design", "compound"), "the rules hold no wear of this compound when it runs "
                      f"{first.lubrication}", "another compound, or a wear rate in compound_properties")  # fmt: skip
    k, room = wearing.rate(first, record), wearing.allowance(first)
    depth, by = (room.depth, room.by) if request.wear_allowance is None else (request.wear_allowance, "the request")
    known = all(bool(state.nominal.converged) for state in states if state.share > 0.0)
    worn = (
        accumulate([state for state in states if state.share > 0.0], k, depth, first.contact_width) if known else None
    )
    life_verdict, life_reason = _life_verdict(states, worn, request.target_life, by, units)
    pairs = worst(states)
    chosen = max((state for state in states), key=lambda state: envelope.RANK[envelope.verdict(state.findings)])
    enveloped = envelope.verdict(chosen.findings)
    short_life = rules.data.running.wear.short_life
    short = request.target_life is None and worn is not None and worn.life.nominal < short_life.si
    if short:
        life_reason += f" That is short (below {units.text('time', short_life.si)})."
    counted = life_verdict if request.target_life is not None else "caution" if short else "pass"
    whole = max(enveloped, counted, key=envelope.RANK.__getitem__)
    deciding = envelope.governing([finding for finding, _ in pairs])
    where = next(state for finding, state in pairs if finding is deciding)
    found = friction.trace(first, around)
    found.add(record, *(room.records if request.wear_allowance is None else ()))
    if first.shaft_material is not None:
        found.add(first.shaft_material.wear_factor)
    if request.target_life is None:
        found.add(short_life)
    evidence = {record.evidence for state in states for finding in state.findings for record in finding.records}
    return {
        "verdict": whole,
        "summary": _summary(whole, enveloped, rules.data.criteria[deciding.id].title, where.name, life_reason),
        "governing": _governing(deciding, rules),
        "governing_phase": where.name,
        "criteria": [
            {
                "id": finding.id,
                "title": rules.data.criteria[finding.id].title,
                "status": finding.status,
                "utilization": _used(finding),
                "phase": state.name,
            }
            for finding, state in pairs
        ],
        "phases": _phases(states, worn, rules, units),
        "rest_share": _number(rest) if (rest := 1.0 - sum(state.share for state in states)) > ROUNDING else 0.0,
        **_means(states, units),
        "sliding_distance_per_1000_h": units.quantity(
            "length", sum(state.share * state.case.surface_speed for state in states) * wearing.THOUSAND_HOURS
        ),
        "wear_allowance": units.quantity("length", depth),
        "allowance_by": by,
        **_wear(worn, rules, units),
        "life_verdict": life_verdict,
        "life_reason": life_reason,
        "cycles": _cycles(states, worn, units),
        "notes": NOTES,
        "assumptions": [
            *(assumption(item, units) for item in _assumed(states)),
            *friction.surroundings_assumed(request.surroundings, around, units),
        ],
        "cautions": _cautions(states, request.duty.food_contact),
        "evidence": weakest(evidence | ({found.evidence} if found.evidence is not None else set())),
        "stamp": engine.stamp("assess_spectrum", request, rules),
        "working": working_totals.spectrum(request, states, arounds, k, worn) if request.working else None,
    }


def _number(value: float) -> float:
    return float(f"{value:.10g}")


def _governing(finding: envelope.Finding, rules: RuleSet) -> dict[str, Any]:
    return {
        "id": finding.id,
        "title": rules.data.criteria[finding.id].title,
        "status": finding.status,
        "utilization": _used(finding),
    }


def _phases(
    states: Sequence[PhaseState], worn: SpectrumWear | None, rules: RuleSet, units: UnitSystem
) -> list[dict[str, Any]]:
    wearing_states = [state for state in states if state.share > 0.0]
    shares: dict[int, float] = {}
    if worn is not None:
        shares = {id(state): share for state, share in zip(wearing_states, worn.contributions, strict=True)}
    rows = []
    for state in states:
        part = shares.get(id(state), 0.0 if shares else num.nan)
        rows.append(
            {
                "name": state.name,
                "share": _number(state.share),
                "verdict": envelope.verdict(state.findings),
                "governing": _governing(envelope.governing(state.findings), rules),
                "criteria": [
                    {"id": finding.id, "status": finding.status, "utilization": _used(finding)}
                    for finding in state.findings
                ],
                "surface_speed": units.quantity("surface_speed", state.case.surface_speed),
                "contact_temperature": units.optional("temperature", state.nominal.temperature),
                "mean_contact_pressure": units.optional("stress", state.nominal.contact_pressure),
                "torque": units.optional("torque", state.nominal.torque),
                "power": units.optional("power", state.nominal.power),
                "wear_share": _number(part) if num.isfinite(part) else None,
            }
        )
    return rows


def _means(states: Sequence[PhaseState], units: UnitSystem) -> dict[str, Any]:
    """Return mean powers, mean and greatest torque; a phase that is not known leaves nothing known."""

    def mean(level: str, name: str) -> float:
        return float(sum(s.share * float(getattr(getattr(s, level), name)) for s in states if s.share > 0.0))

    in_phases = sum(state.share for state in states)
    torque = num.divide(mean("nominal", "torque"), in_phases)
    peaks = [float(state.high.torque) for state in states]
    return {
        "mean_power": {level: units.optional("power", mean(level, "power")) for level in ("low", "nominal", "high")},
        "mean_torque": units.optional("torque", torque),
        "greatest_torque": units.optional("torque", max(peaks) if all(num.isfinite(t) for t in peaks) else num.nan),
    }


def _wear(worn: SpectrumWear | None, rules: RuleSet, units: UnitSystem) -> dict[str, Any]:
    if worn is None:
        return {"wear_per_1000_h": None, "life": None}
    names = ("low", "nominal", "high")
    depths = {
        name: units.quantity("length", float(rate) * wearing.THOUSAND_HOURS)
        for name, rate in zip(names, worn.rates, strict=True)
    }
    return {"wear_per_1000_h": depths, "life": wearing.written(worn.life, rules.data, units)}


def _cycles(states: Sequence[PhaseState], worn: SpectrumWear | None, units: UnitSystem) -> dict[str, Any]:
    per_second = sum(state.share * state.phase.starts_per_hour / HOUR for state in states)
    starting = [state for state in states if state.phase.starts_per_hour > 0.0]
    rises = [num.maximum(0.0, float(state.nominal.temperature - state.case.temperature)) for state in starting]
    in_life = num.nan
    if worn is not None and worn.life.nominal < num.inf:
        in_life = per_second * min(float(worn.life.nominal), states[0].case.data.running.wear.longest_life.si)
    pressures = [state.duty.pressure for state in states]
    return {
        "starts_per_1000_h": _number(per_second * wearing.THOUSAND_HOURS),
        "starts_in_life": _number(in_life) if num.isfinite(in_life) else None,
        "temperature_swing": units.optional(
            "temperature_difference", max(rises) if rises and all(num.isfinite(rise) for rise in rises) else None
        ),
        "pressure_swing": units.optional(
            "gauge_pressure", max((abs(state.duty.pressure) for state in starting), default=None)
        ),
        "phase_pressure_range": units.quantity("gauge_pressure", max(pressures) - min(pressures)),
        "note": CYCLE_NOTE,
    }


def _assumed(states: Sequence[PhaseState]) -> list[Assumed]:
    """Return what was supplied, once; what a phase's own temperature left out stands under the phase."""
    found: dict[str, Assumed] = {}
    for position, state in enumerate(states):
        for item in state.case.assumed:
            pointer = item.pointer
            if state.phase.temperature is not None and pointer.startswith("/duty/temperature/"):
                pointer = pointer.replace("/duty/", f"/phases/{position}/", 1)
            found.setdefault(pointer, item._replace(pointer=pointer))
    return list(found.values())


def _cautions(states: Sequence[PhaseState], food_contact: bool) -> list[dict[str, Any]]:
    rows = {row["id"]: row for state in states for row in cautions(state.case, food_contact)}
    return [rows[name] for name in states[0].case.data.cautions if name in rows]


def _summary(whole: str, enveloped: str, title: str, phase: str, life: str) -> str:
    word = {
        "pass": "passes in every phase",
        "caution": "passes with care",
        "fail": "does not pass",
        "not_evaluated": "cannot be judged",
    }[whole]
    why = "" if whole == enveloped else " (life)"
    return f"The seal {word}{why}; {title} governs in phase {phase}. {life}"
