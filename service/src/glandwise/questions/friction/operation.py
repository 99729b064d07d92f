"""Load, torque, power and contact temperature of a running seal, as a range."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from glandwise.case import sizing
from glandwise.case.intake import Case, build
from glandwise.case.rows import row_of
from glandwise.contract.running import FrictionEstimateRequest, HeatSurroundings
from glandwise.engine import Engine, refusal
from glandwise.json_values import JsonObject
from glandwise.mechanics.choices import LipRoot, LipState
from glandwise.numerics.trace import traced
from glandwise.numerics.worksheet import written
from glandwise.physics.temperatures import BY_FLUID, hottest_contact
from glandwise.questions import told, tolerance
from glandwise.questions.arrays import Floats, Row, Table
from glandwise.questions.friction.states import Levels, State, Subject, levels, told_levels, why_unknown
from glandwise.questions.friction.surroundings import assumed
from glandwise.questions.friction.surroundings import row_of as stated_row
from glandwise.questions.report import assumptions, cautions
from glandwise.questions.trees import Trees
from glandwise.rules.model import Evidence, weakest
from glandwise.rules.sourced import Records
from glandwise.units import UnitSystem


class FrictionSpread(NamedTuple):
    """What tolerances and the range of friction do to the state after running in, SI."""

    interference: tolerance.Spread
    line_load: tolerance.Spread
    torque: tolerance.Spread
    contact_temperature: tolerance.Spread
    sensitivities: list[tolerance.Sensitivity]
    samples: int


class Answer(NamedTuple):
    """Friction of a case, SI."""

    case: Case
    levels: Levels
    verdict: str
    spread: FrictionSpread | None
    evidence: Evidence | None
    working: list[JsonObject] | None


def subject_of(case: Case, given: HeatSurroundings) -> Subject:
    """Return a case for machine code, with the surroundings that the request states."""
    rows, compounds = row_of(case)
    return Subject(case.data, rows, compounds, stated_row(given))


def levels_of(case: Case, subject: Subject) -> Levels:
    """Return the running states of a case; refuses a compound whose friction the rules do not know."""
    known = case.friction
    if known is None:
        raise refusal("out_of_domain", ("design", "compound"), "the rules hold no friction of this compound in the medium "
                      f"{case.medium}", "another compound, or a friction coefficient in compound_properties")  # fmt: skip
    return levels(subject, (known.si_low, known.si, known.si_high))


def answer(request: FrictionEstimateRequest, engine: Engine) -> Answer:
    """Answer a request for a friction estimate."""
    case = build(request.duty, request.design, engine.rules(request))
    subject = subject_of(case, request.surroundings)
    found = levels_of(case, subject)
    evidence, working = _explained(request, case, subject, found)
    return Answer(
        case=case,
        levels=found,
        verdict=_verdict(found),
        spread=None if request.tolerances is None else _spread(request, case, subject, found),
        evidence=evidence,
        working=working,
    )


def _verdict(found: Levels) -> str:
    nominal, high, limit = found.nominal, found.high, found.limit.temperature
    if not nominal.running.converged:
        return "not_evaluated"
    if nominal.running.temperature > limit:
        return "fail"
    return "pass" if high.running.converged and high.running.temperature <= limit else "caution"


# -------------------------------------------------------------------------------------------------------- tolerances


def _spread(request: FrictionEstimateRequest, case: Case, subject: Subject, found: Levels) -> FrictionSpread:
    known, given, how = case.friction, request.tolerances, request.sampling
    assert known is not None
    assert given is not None
    nominal = {
        "shaft_diameter": case.shaft_diameter,
        "lip_bore": case.shaft_diameter - case.interference,
        "lip_thickness": case.lip_thickness,
        "lip_length": case.lip_length,
        "contact_width": case.contact_width,
        "friction_coefficient": known.si,
    }
    travel = {"cantilever_v": "v_deflection", "canted_coil": "coil_deflection"}.get(case.energizer or "")
    if travel is not None:
        nominal["energizer_deflection"] = case.deflection
    elif given.energizer_deflection:
        raise refusal("out_of_domain", ("tolerances", "energizer_deflection"), "this design has no energizer that is deflected",
                      "no tolerance, or an energized lip")  # fmt: skip
    limits: dict[str, tuple[float, float]] = {}
    for name, value in given:
        if value:
            if value >= nominal[name]:
                raise refusal("out_of_domain", ("tolerances", name), "the tolerance is not smaller than the dimension",
                              "less than the dimension")  # fmt: skip
            limits[name] = (nominal[name] - value, nominal[name] + value)
    if known.si_low < known.si_high:
        limits["friction_coefficient"] = (known.si_low, known.si_high)
    # the surroundings do not follow the tolerances of the shaft
    there = subject._replace(stated=np.array([found.around], found.around.dtype))

    def states(x: tolerance.Inputs) -> tuple[Floats, Table]:
        rows = np.repeat(subject.rows, max(np.size(value) for value in x.values()))
        for name in ("shaft_diameter", "lip_thickness", "lip_length", "contact_width"):
            rows[name] = x[name]
        # a lip larger than the shaft does not touch it: no interference, not a negative one
        rows["interference"] = np.maximum(x["shaft_diameter"] - x["lip_bore"], 0.0)
        if travel is not None:
            rows[travel] = x["energizer_deflection"]
        film = case.data.running.lubrication.film_friction_factor.si
        mu = x["friction_coefficient"]
        return rows["interference"], there.found(rows, mu, film, found.nominal.time, LipRoot.elastic)

    (width, here), (widths, ends), (taken, drawn) = (
        states(x)
        for x in (
            nominal,
            tolerance.corners(nominal, limits),
            tolerance.samples(nominal, limits, how.samples, how.seed, how.distribution),
        )
    )

    def spread(name: str) -> tolerance.Spread:
        return tolerance.spread_of(here[name][0], ends[name], drawn[name])

    return FrictionSpread(
        interference=tolerance.spread_of(width[0], widths, taken),
        line_load=spread("load"),
        torque=spread("torque"),
        contact_temperature=spread("temperature"),
        sensitivities=tolerance.sensitivities(lambda x: states(x)[1]["torque"][0], nominal, limits),
        samples=how.samples,
    )


# ------------------------------------------------------------------------------------------------------ by a trace

_complete = traced(sizing.complete)
_hottest_contact = traced(hottest_contact)


def explained(request: FrictionEstimateRequest, case: Case, row: Row) -> Trees:
    """Return the numbers of an answer, each with the tree that it came from."""
    found, rules = told.leaves_of(case, request.duty, row)
    _complete(found, rules)
    states = told_levels(found, rules, request.surroundings)
    two = case.features.get("second_lip", "none") != "none"
    numbers = tuple(
        (state.running[:-2], state.main, *((state.second,) if two else ()))
        for state in (states.low, states.nominal, states.high)
    )
    return *numbers, _hottest_contact(found, rules).temperature


def _explained(
    request: FrictionEstimateRequest, case: Case, subject: Subject, found: Levels
) -> tuple[Evidence | None, list[JsonObject] | None]:
    row = subject.rows[0]

    def find() -> Records:
        return told.rests_on(case, *explained(request, case, row))

    stated = tuple(name for name, value in request.surroundings if value is not None)
    branch = ("friction", stated, request.surroundings.correlation, *(state.running.converged for state in found[:3]))
    evidence = weakest({item.evidence for item in told.kept(case, request.duty, row, branch, find)})
    return evidence, written(*explained(request, case, row)) if request.working else None


# ------------------------------------------------------------------------------------------------------- as a result


def _level(case: Case, name: str, state: State, units: UnitSystem) -> JsonObject:
    running = state.running
    base: JsonObject = {
        "level": name,
        "time": units.quantity("time", state.time),
        "boundary_friction_coefficient": state.friction,
        "friction_coefficient": running.friction if running.converged else state.friction,
        "film_share": 1.0 - running.film_share if running.converged else None,
        "duty_number": running.duty_number if running.converged else None,
        "viscosity": units.optional("dynamic_viscosity", running.viscosity or None),
        "converged": state.running.converged,
        "iterations": int(running.passes),
    }
    if not state.running.converged:
        nothing: JsonObject = dict.fromkeys(
            ("contact_temperature", "torque", "power", "conductance", "lip_state", "load")
        )
        return {**base, **nothing, "lips": []}
    lips = [("main", running.load, running.width, running.friction, state.main)]
    second = case.features.get("second_lip", "none")
    if second != "none":
        lips.append((second, running.second_load, case.contact_width, running.second_friction, state.second))
    return {
        **base,
        "contact_temperature": units.quantity("temperature", running.temperature),
        "torque": units.quantity("torque", running.torque),
        "power": units.quantity("power", running.power),
        "conductance": units.quantity("thermal_conductance", running.conductance),
        "lip_state": LipState(int(running.state)).name,
        "load": {
            "lip": units.quantity("line_load", running.lip),
            "energizer": units.quantity("line_load", running.energizer),
            "pressure": units.quantity("line_load", running.pressure),
            "total": units.quantity("line_load", running.load),
            "solid": units.quantity("line_load", running.solid_load),
        },
        "lips": [
            {
                "lip": which,
                "line_load": units.quantity("line_load", load),
                "contact_width": units.quantity("length", width),
                "friction_coefficient": mu,
                "mean_contact_pressure": units.quantity("stress", friction.contact_pressure),
                "torque": units.quantity("torque", friction.torque),
                "power": units.quantity("power", friction.power),
            }
            for which, load, width, mu, friction in lips
        ],
    }


def summary(found: Answer, units: UnitSystem) -> str:
    """Say an answer in words."""
    low, nominal, high = found.levels[:3]
    if not nominal.running.converged:
        return why_unknown(nominal.modelled)
    span = (
        f"{units.text('torque', low.running.torque)} to {units.text('torque', high.running.torque)}"
        if high.running.converged
        else "no upper bound"
    )
    made = f"{units.text('torque', nominal.running.torque)} ({span}) and {units.text('power', nominal.running.power)}"
    limit = units.text("temperature", found.levels.limit.temperature)
    stands = f"what wets it leaves hard deposits from {limit}" if _by_fluid(found) else f"the compound stands {limit}"
    return f"{made} make the contact {units.text('temperature', nominal.running.temperature)}; {stands}."


def _by_fluid(found: Answer) -> bool:
    return found.levels.limit.which == BY_FLUID


def _written_spread(found: FrictionSpread, units: UnitSystem) -> JsonObject:
    return {
        "interference": tolerance.written(found.interference, units, "length"),
        "line_load": tolerance.written(found.line_load, units, "line_load"),
        "torque": tolerance.written(found.torque, units, "torque"),
        "contact_temperature": tolerance.written(found.contact_temperature, units, "temperature"),
        "sensitivities": found.sensitivities,
        "samples": found.samples,
    }


def write(found: Answer, request: FrictionEstimateRequest, engine: Engine) -> JsonObject:
    """Write an answer as its contract has it, in the units of the request."""
    units, case = request.units.system_of_units(), found.case
    return {
        "verdict": found.verdict,
        "summary": summary(found, units),
        "levels": [_level(case, name, state, units) for name, state in found.levels.named()],
        "surface_speed": units.quantity("surface_speed", case.surface_speed),
        "temperature_limit": units.quantity("temperature", found.levels.limit.temperature),
        "temperature_limit_by": "fluid" if _by_fluid(found) else "compound",
        "spread": None if found.spread is None else _written_spread(found.spread, units),
        "assumptions": [
            *assumptions(case, units),
            *assumed(request.surroundings, found.levels.around, units),
        ],
        "cautions": cautions(case, request.duty.food_contact, found.levels.high.running.hottest),
        "evidence": found.evidence,
        "stamp": engine.stamp("estimate_friction", request, engine.rules(request)),
        "working": found.working,
    }


def estimate(request: FrictionEstimateRequest, engine: Engine) -> JsonObject:
    """Answer a friction estimate."""
    return write(answer(request, engine), request, engine)
