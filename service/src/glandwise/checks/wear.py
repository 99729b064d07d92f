"""How fast the lip wears and how long it may last: always a range, and what the range rests on."""

from __future__ import annotations

import sys
from functools import reduce
from typing import Any, NamedTuple

from glandwise.checks import lip, running, working
from glandwise.checks.case import Case, build
from glandwise.checks.engine import Engine, refusal
from glandwise.checks.friction import given_surroundings, hottest_contact, surroundings_assumed, trace
from glandwise.checks.report import assumptions, cautions
from glandwise.contract.running import WearEstimateRequest
from glandwise.mechanics import numeric as num
from glandwise.mechanics import wear
from glandwise.rules.model import Datum, RuleSetData
from glandwise.units import UnitSystem

THOUSAND_HOURS = 3.6e6
"""Reference time of wear in results [s]."""


class Allowance(NamedTuple):
    """Wear a lip has to give, and what sets it."""

    depth: num.Real
    by: str
    records: tuple[Any, ...]


def _allowances(case: Case) -> list[tuple[str, num.Real, Any]]:
    """Return what lip, energizer and fit can each give to wear."""
    rule = case.data.running.wear
    options = [("the thickness of the lip", rule.lip_allowance_share.si * case.lip_thickness, rule.lip_allowance_share)]
    if case.energizer in {"cantilever_v", "canted_coil"}:
        share = rule.energizer_allowance_share
        options.append(("the travel of the energizer", share.si * case.dimensions["deflection"], share))
    else:
        # a garter presses on, but against a lip that is worn past its interference it soon presses in vain
        share = rule.interference_allowance_share
        options.append(("the interference of the lip", share.si * 0.5 * case.interference, share))
    return options


def allowance(case: Case) -> Allowance:
    """Return the radial wear at which the seal is taken as worn out: the least of what lip, energizer and fit can give."""
    by, depth, record = min(_allowances(case), key=lambda option: option[1])
    return Allowance(depth, by, (record,))


def rate(case: Case, record: Datum) -> wear.WearRate:
    """Specific wear rate against the shaft of the case."""
    factor = 1.0 if case.shaft_material is None else case.shaft_material.wear_factor.si
    return wear.wear_rate_range(record.si_low, record.si_high, factor, 1.0, record.si)


def estimate(request: WearEstimateRequest, engine: Engine) -> dict[str, Any]:
    """Answer a wear estimate."""
    rules, units = engine.rules(request), request.units.system_of_units()
    case = build(request.duty, request.design, rules)
    around = given_surroundings(case, request.surroundings)
    friction, record = case.friction, case.wear
    if friction is None or record is None:
        raise refusal("out_of_domain", ("design", "compound"), "the rules hold no friction or wear of this compound when it "
                      f"runs {case.lubrication}", "another compound, or values in compound_properties")  # fmt: skip
    state = running.run(case, around, friction.si, case.data.running.nominal_time.si)
    room = allowance(case)
    depth, by = (room.depth, room.by) if request.wear_allowance is None else (request.wear_allowance, "the request")
    k = rate(case, record)
    found = trace(case, around)
    found.add(record, *(room.records if request.wear_allowance is None else ()))
    if case.shaft_material is not None:
        found.add(case.shaft_material.wear_factor)
    result: dict[str, Any] = {
        "specific_wear_rate_low": units.optional("specific_wear_rate", k.low),
        "specific_wear_rate_nominal": units.optional("specific_wear_rate", k.nominal),
        "specific_wear_rate_high": units.optional("specific_wear_rate", k.high),
        "mean_contact_pressure": units.optional("stress", state.contact_pressure),
        "contact_temperature": units.optional("temperature", state.temperature),
        "wear_allowance": units.quantity("length", depth),
        "allowance_by": by,
        "wear_per_1000_h": None,
        "life": None,
        "sliding_distance_per_1000_h": units.quantity("length", case.surface_speed * THOUSAND_HOURS),
    }
    life: wear.Life | None = None
    stiffness = num.nan
    if not state.converged:
        verdict, text = "not_evaluated", f"{running.no_balance(case)} Wear cannot be estimated."
    else:
        rates = [
            wear.depth_rate(value, state.contact_pressure, case.surface_speed) for value in (k.low, k.nominal, k.high)
        ]
        stiffness = float(stiffness_of(case, state))
        life = _life(case, k, state, depth, stiffness)
        low, nominal, high = (units.quantity("length", value * THOUSAND_HOURS) for value in rates)
        result["wear_per_1000_h"] = {"low": low, "nominal": nominal, "high": high}
        result["life"] = written(life, case.data, units)
        slides, presses = case.surface_speed > 0.0, state.load.total != 0.0
        verdict, text = judge(life, slides, presses, request.target_life, by, case.data, units)
    return {
        "verdict": verdict,
        "summary": text,
        **result,
        "assumptions": [*assumptions(case, units), *surroundings_assumed(request.surroundings, around, units)],
        "cautions": cautions(case, request.duty.food_contact, hottest_contact(state)),
        "evidence": found.evidence,
        "stamp": engine.stamp("estimate_wear", request, rules),
        "working": working.wearing(
            case,
            request.duty,
            request.design,
            around,
            request.surroundings,
            request.wear_allowance,
            state,
            k,
            life,
            stiffness,
        )
        if request.working
        else None,
    }


class Wearing(NamedTuple):
    """Nominal wear of a case or of a batch: how fast at the start, how long to the allowance of the rules."""

    rate: num.Real
    """Depth per second [m/s]."""
    life: num.Real
    """Time [s]; infinite where nothing wears or the load is lost before the allowance is worn."""


def nominal(case: Case, state: running.Running) -> Wearing | None:
    """Return the nominal wear in a running state; ``None`` where the rules hold no wear rate."""
    if case.wear is None:
        return None
    k = rate(case, case.wear).nominal
    depth = reduce(num.minimum, (option[1] for option in _allowances(case)))
    distance = wear.relieved_distance(k, state.load.total, stiffness_of(case, state), case.contact_width, depth)
    return Wearing(
        wear.depth_rate(k, state.contact_pressure, case.surface_speed), num.divide(distance, case.surface_speed)
    )


def stiffness_of(case: Case, state: running.Running) -> num.Real:
    """Load that lip and energizer lose per worn depth [N/m²]."""
    time = case.data.running.nominal_time.si
    own = lip.geometry(case).stiffness_per_modulus * lip.modulus(case, state.temperature)
    own = own * lip.relaxed_share(case, state.temperature, time)
    return (own + state.spring.stiffness) * case.load_factor


def _life(case: Case, k: wear.WearRate, state: running.Running, depth: float, stiffness: num.Real) -> wear.Life:
    """Life to an allowance; the lip loses load as it wears, which the mean pressure alone would not show."""
    short, nominal, long = (
        _time(
            float(wear.relieved_distance(rate, state.load.total, stiffness, case.contact_width, depth)),
            float(case.surface_speed),
        )
        for rate in (k.high, k.nominal, k.low)
    )
    return wear.Life(short, nominal, long)


def _time(distance: float, speed: float) -> float:
    """Time for a distance [s]; infinite only where the distance is, or nothing slides."""
    time = float(num.divide(distance, speed))
    return time if speed == 0.0 or distance == num.inf else not_overflown(time)


def not_overflown(time: float) -> float:
    """Return a time that is known to end [s], also where it is more than a float holds."""
    return min(time, sys.float_info.max)


def written(life: wear.Life, data: RuleSetData, units: UnitSystem) -> dict[str, Any]:
    """Write the ends of a life, none longer than the longest that is estimated; an infinite one is none."""
    longest = data.running.wear.longest_life.si
    ends = {"short": life.short, "nominal": life.nominal, "long": life.long}
    found = {name: units.optional("time", min(end, longest) if end < num.inf else None) for name, end in ends.items()}
    return {**found, "longest": units.quantity("time", longest)}


def in_words(time: num.Real, data: RuleSetData, units: UnitSystem) -> str:
    """Say a time to an end of a life [s], as far as lives are estimated."""
    longest = data.running.wear.longest_life.si
    return f"more than {units.text('time', longest)}" if time >= longest else units.text("time", time)


def judge(
    life: wear.Life, slides: bool, presses: bool, target: float | None, by: str, data: RuleSetData, units: UnitSystem,
    of: str = "of running",
) -> tuple[str, str]:  # fmt: skip
    """Return verdict and sentence on a life."""
    if not presses:
        return "not_evaluated", "Nothing presses the lip to the shaft: it does not wear, and it does not seal."
    if not slides:
        return ("pass" if target is not None else "not_evaluated"), "Nothing slides: nothing wears."
    if life.short == num.inf:
        return "not_evaluated", (
            f"The lip has lost its load before the allowance set by {by} is worn: the load ends its life, not the wear."
        )
    longest = data.running.wear.longest_life.si
    short, nominal, long = (in_words(end, data, units) for end in (life.short, life.nominal, life.long))
    text = f"{nominal} {of} to the allowance set by {by}"
    text = f"{text[0].upper()}{text[1:]}" + ("." if life.short >= longest else f", within {short} to {long}.")
    if target is None:
        return "not_evaluated", text
    if life.short >= target:
        if target > longest:
            wanted = units.text("time", target)
            return "caution", f"{text} Whether it reaches the {wanted} that are wanted is beyond what is estimated."
        return "pass", text
    return ("caution" if life.nominal >= target else "fail"), text
