"""How fast the lip wears and how long it may last: always a range, and what the range rests on."""

from __future__ import annotations

from functools import partial
from math import inf, nan
from typing import NamedTuple

from glandwise.case import sizing
from glandwise.case.intake import Case, build
from glandwise.case.tables import source_of
from glandwise.contract.running import WearEstimateRequest
from glandwise.engine import Engine, refusal
from glandwise.json_values import JsonObject
from glandwise.mechanics.choices import LipRoot
from glandwise.numerics.docstring import Quantity
from glandwise.numerics.trace import labelled, leaf, traced
from glandwise.numerics.worksheet import written
from glandwise.physics import wear as physics
from glandwise.physics.energizer import spring_of
from glandwise.physics.heat_balance import balance, surroundings_with
from glandwise.physics.lip import shape_of
from glandwise.physics.wear import Ends, Room
from glandwise.questions import told
from glandwise.questions.arrays import Row
from glandwise.questions.friction.operation import subject_of
from glandwise.questions.friction.states import why_unknown
from glandwise.questions.friction.surroundings import assumed, leaves_of
from glandwise.questions.report import assumptions, cautions
from glandwise.questions.trees import Trees
from glandwise.questions.wear.found import Measured, measured
from glandwise.questions.wear.judge import BY, Life, verdict, words
from glandwise.rules.model import Evidence, weakest
from glandwise.rules.sourced import Records
from glandwise.units import UnitSystem


class Answer(NamedTuple):
    """Wear of a case, SI."""

    case: Case
    found: Measured
    verdict: str
    evidence: Evidence | None
    working: list[JsonObject] | None

    @property
    def life(self) -> Life:
        """Life against the one wanted."""
        found = self.found
        return Life(
            ends=found.ends,
            longest=self.case.data.running.wear.longest_life.si,
            target=found.target,
            asked=bool(self.case.row["target_life"][0] == self.case.row["target_life"][0]),
            slides=self.case.surface_speed > 0.0,
            presses=found.running.load != 0.0,
            by=found.by,
            pressure=found.worn.pressure,
        )

    @property
    def nominal(self) -> float | None:
        """Median life as it is told [s]; ``None`` where there is none."""
        return self.life.told(self.life.ends.median) if self.found.running.converged else None


def answer(request: WearEstimateRequest, engine: Engine) -> Answer:
    """Answer a request for a wear estimate."""
    case = build(request.duty, request.design, engine.rules(request))
    if case.friction is None or case.wear is None:
        raise refusal("out_of_domain", ("design", "compound"), "the rules hold no friction or wear of this compound in the "
                      f"medium {case.medium}", "another compound, or values in compound_properties")  # fmt: skip
    subject = subject_of(case, request.surroundings)
    found = measured(subject, nan if request.wear_allowance is None else request.wear_allowance)
    result = Answer(case, found, "not_evaluated", None, None)
    if found.running.converged:
        result = result._replace(verdict=verdict(result.life, case.data))
    evidence, working = _explained(request, result, subject.rows[0])
    return result._replace(evidence=evidence, working=working)


# ------------------------------------------------------------------------------------------------------ by a trace

_complete = traced(sizing.complete)
_shape_of = traced(shape_of)
_spring_of = traced(spring_of)
_surroundings_with = traced(surroundings_with)
_balance = traced(balance)
_room_of = traced(physics.room_of)
_rates_of = traced(physics.rates_of)
_wearing_of = traced(physics.wearing_of)
_target_of = traced(physics.target_of)
_ends_of = traced(physics.ends_of)
_slid = traced(physics.slid_in_1000_h)
_told_life = traced(physics.told_life)
ROOM = Quantity("h_a", "m", "Depth that may wear")
_LONGEST = Quantity("t_max", "s", "Longest life that is estimated")


def told_lives(case: Case, ends: Ends) -> Trees:
    """Return those lives as they are told that are longer than the longest that is estimated."""
    datum = case.data.running.wear.longest_life
    longest = leaf(datum.si, _LONGEST, source_of("running.wear.longest_life", datum), datum)
    lives = {"long": ends.long, "nominal": ends.median, "sure": ends.sure, "short": ends.short}
    return tuple(
        labelled(name, partial(_told_life, life, longest)) for name, life in lives.items() if datum.si < life < inf
    )  # fmt: skip


def governing_room(room: Room) -> float:
    """Return the depth that may wear: the lesser of that of the lip and that of the energizer."""
    return room.energizer if room.energizer < room.lip else room.lip


def explained(request: WearEstimateRequest, case: Case, row: Row) -> Trees:
    """Return the numbers of an answer, each with the tree that it came from."""
    found, rules = told.leaves_of(case, request.duty, row)
    _complete(found, rules)
    constants, compound = rules.constants[0], rules.compounds[found.compound]
    shape, spring = _shape_of(found, rules), _spring_of(found, rules, found.temperature)
    around = _surroundings_with(found, rules, leaves_of(request.surroundings))
    mu, C, time = compound.friction[found.medium], constants.film_friction, constants.nominal_time
    running = _balance(found, rules, around, spring.line_load, found.pressure, mu, C, time, LipRoot.elastic)
    stated = nan if request.wear_allowance is None else leaf(request.wear_allowance, ROOM, "request")
    room = _room_of(found, rules, stated)
    slid = _slid(found.surface_speed)
    if running.temperature != running.temperature:
        return running[:-2], governing_room(room), slid
    rates = _rates_of(found, rules, running.temperature)
    worn = _wearing_of(found, rules, shape, spring, running, room, time)
    ends = _ends_of(worn.life, worn.spread, _target_of(found, rules))
    return running[:-2], governing_room(room), rates, slid, worn[:-1], ends, told_lives(case, ends)


def _explained(
    request: WearEstimateRequest, result: Answer, row: Row
) -> tuple[Evidence | None, list[JsonObject] | None]:
    def find() -> Records:
        return told.rests_on(result.case, *explained(request, result.case, row))

    stated = tuple(name for name, value in request.surroundings if value is not None)
    found = result.found
    bounded = tuple(result.life.longest < end < inf for end in found.ends[:-1])
    limited = found.ends.median < inf
    branch = ("wear", stated, request.surroundings.correlation, found.by, found.running.converged, limited, bounded,
              request.duty.target_life is None, request.wear_allowance is None,
              found.room.energizer < found.room.lip)  # fmt: skip
    evidence = weakest({item.evidence for item in told.kept(result.case, request.duty, row, branch, find)})
    return evidence, written(*explained(request, result.case, row)) if request.working else None


# ------------------------------------------------------------------------------------------------------- as a result


def summary(result: Answer, units: UnitSystem) -> str:
    """Say an answer in words."""
    if not result.found.running.converged:
        return f"{why_unknown(result.found.modelled)} Wear cannot be estimated."
    return words(result.life, result.case.data, units)


def write(result: Answer, request: WearEstimateRequest, engine: Engine) -> JsonObject:
    """Write an answer as its contract has it, in the units of the request."""
    units, case, found = request.units.system_of_units(), result.case, result.found
    worn, rates, known = found.worn, found.rates, found.running.converged
    in_1000_h = {
        "low": worn.in_1000_h * rates.low / rates.nominal,
        "nominal": worn.in_1000_h,
        "high": worn.in_1000_h * rates.high / rates.nominal,
    }
    depths = {name: units.quantity("length", depth) for name, depth in in_1000_h.items()} if known else None

    def time(value: float) -> JsonObject | None:
        return units.optional("time", result.life.told(value)) if known else None

    return {
        "verdict": result.verdict,
        "summary": summary(result, units),
        "target_life": units.quantity("time", found.target),
        "target_stated": result.life.asked,
        "life_probability": result.life.probability if known else None,
        "specific_wear_rate_low": units.optional("specific_wear_rate", rates.low),
        "specific_wear_rate_nominal": units.optional("specific_wear_rate", rates.nominal),
        "specific_wear_rate_high": units.optional("specific_wear_rate", rates.high),
        "film_share": 1.0 - worn.share if known else None,
        "mean_contact_pressure": units.optional("stress", worn.pressure),
        "contact_temperature": units.optional("temperature", found.running.temperature),
        "wear_allowance": units.quantity("length", min(found.room)),
        "allowance_by": BY[found.by],
        "wear_per_1000_h": depths,
        "life": result.life.write(units) if known else None,
        "to_half_load": time(worn.to_half_load),
        "to_lost_load": time(worn.to_lost_load),
        "sliding_distance_per_1000_h": units.quantity("length", physics.slid_in_1000_h(case.surface_speed)),
        "assumptions": [*assumptions(case, units), *assumed(request.surroundings, found.around, units)],
        "cautions": cautions(case, request.duty.food_contact, found.running.hottest),
        "evidence": result.evidence,
        "stamp": engine.stamp("estimate_wear", request, engine.rules(request)),
        "working": result.working,
    }


def estimate(request: WearEstimateRequest, engine: Engine) -> JsonObject:
    """Answer a wear estimate."""
    return write(answer(request, engine), request, engine)
