"""Load, torque, power and contact temperature of a running seal, as a range."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from glandwise.checks import running, working
from glandwise.checks.case import Case, build, changed
from glandwise.checks.engine import Engine, Trace, refusal
from glandwise.checks.report import assumptions, cautions
from glandwise.contract.energizer import Sampling
from glandwise.contract.running import FrictionEstimateRequest, HeatSurroundings, LipTolerances
from glandwise.mechanics import contact
from glandwise.mechanics import numeric as num
from glandwise.questions import tolerance
from glandwise.units import UnitSystem


def given_surroundings(case: Case, given: HeatSurroundings) -> running.Surroundings:
    """Fill in the surroundings of a request."""
    return running.surroundings(
        case,
        ambient=given.ambient_temperature,
        shaft_conductivity=given.shaft_conductivity,
        shaft_length=given.shaft_length,
        fluid_film=given.fluid_film,
        correlation=given.correlation,
    )


def level(case: Case, name: str, state: running.Running, mu: float, time: float, units: UnitSystem) -> dict[str, Any]:
    """Write one level."""
    known = bool(state.converged)
    base = {
        "level": name,
        "time": units.quantity("time", time),
        "friction_coefficient": mu,
        "converged": known,
        "iterations": int(state.iterations),
    }
    if not known:
        nothing = dict.fromkeys(("contact_temperature", "torque", "power", "conductance", "load"))
        return {**base, **nothing, "lips": []}
    load = state.load
    lips = [("main", load.total)]
    second = case.features.get("second_lip", "none")
    if second != "none":
        lips.append((second, state.second_load))
    return {
        **base,
        "contact_temperature": units.quantity("temperature", state.temperature),
        "torque": units.quantity("torque", state.torque),
        "power": units.quantity("power", state.power),
        "conductance": units.quantity("thermal_conductance", state.conductance),
        "load": {
            "lip": units.quantity("line_load", load.lip),
            "energizer": units.quantity("line_load", load.energizer),
            "pressure": units.quantity("line_load", load.pressure),
            "total": units.quantity("line_load", load.total),
        },
        "lips": [_lip(case, which, q, mu, units) for which, q in lips],
    }


def _lip(case: Case, which: str, line_load: float, mu: float, units: UnitSystem) -> dict[str, Any]:
    made = contact.friction(mu, line_load, case.shaft_diameter, case.rotational_speed)
    return {
        "lip": which,
        "line_load": units.quantity("line_load", line_load),
        "mean_contact_pressure": units.quantity("stress", contact.mean_contact_pressure(line_load, case.contact_width)),
        "torque": units.quantity("torque", made.torque),
        "power": units.quantity("power", made.power),
    }


def states(case: Case, around: running.Surroundings) -> list[tuple[str, float, float, running.Running]]:
    """Return level, friction coefficient, time and running state at low, nominal and high friction."""
    record = case.friction
    if record is None:
        raise refusal("out_of_domain", ("design", "compound"), "the rules hold no friction of this compound when it runs "
                      f"{case.lubrication}", "another compound, or a friction coefficient in compound_properties")  # fmt: skip
    rule = case.data.running
    return [
        (name, mu, time, running.run(case, around, mu, time))
        for name, mu, time in (
            ("low", record.si_low, case.data.sizing.following.service_time.si),
            ("nominal", record.si, rule.nominal_time.si),
            ("high", record.si_high, rule.fresh_time.si),
        )
    ]


def trace(case: Case, around: running.Surroundings) -> Trace:
    """Return the records that the running state rests on."""
    found = Trace()
    rule = case.data.running
    found.add(case.friction, rule.nominal_time, rule.fresh_time, *around.records)
    found.add(case.compound.elastic_modulus, case.compound.relaxation, case.compound.thermal_conductivity)
    if case.alloy is not None:
        found.add(case.alloy.elastic_modulus)
    if case.family == "energized_lip":
        found.add(case.data.sizing.pressure_load.energized_length_share)
    return found


def estimate(request: FrictionEstimateRequest, engine: Engine) -> dict[str, Any]:
    """Answer a friction estimate."""
    rules, units = engine.rules(request), request.units.system_of_units()
    case = build(request.duty, request.design, rules)
    around = given_surroundings(case, request.surroundings)
    found = states(case, around)
    low, nominal, high = (state for *_, state in found)
    limit = case.compound.temperature_max.si
    if not nominal.converged:
        verdict, text = "not_evaluated", running.no_balance(case)
    else:
        verdict = "fail" if nominal.temperature > limit else "pass"
        if verdict == "pass" and not (high.converged and high.temperature <= limit):
            verdict = "caution"
        span = (
            f"{units.text('torque', low.torque)} to {units.text('torque', high.torque)}"
            if high.converged
            else "no upper bound"
        )
        text = (
            f"{units.text('torque', nominal.torque)} ({span}) and {units.text('power', nominal.power)} make the contact "
            f"{units.text('temperature', nominal.temperature)}; the compound stands {units.text('temperature', limit)}."
        )
    records = trace(case, around)
    records.add(case.compound.temperature_max)
    return {
        "verdict": verdict,
        "summary": text,
        "levels": [level(case, name, state, mu, time, units) for name, mu, time, state in found],
        "surface_speed": units.quantity("surface_speed", case.surface_speed),
        "temperature_limit": units.quantity("temperature", limit),
        "spread": None
        if request.tolerances is None
        else _spread(case, around, request.tolerances, request.sampling, units),
        "assumptions": [*assumptions(case, units), *surroundings_assumed(request.surroundings, around, units)],
        "cautions": cautions(case, request.duty.food_contact, hottest_contact(high)),
        "evidence": records.evidence,
        "stamp": engine.stamp("estimate_friction", request, rules),
        "working": working.friction(case, request.duty, request.design, around, request.surroundings, found)
        if request.working
        else None,
    }


def hottest_contact(state: running.Running) -> float:
    """Return the contact temperature of a running state [K]; infinity where friction finds no balance, 0 if unknown."""
    if state.converged:
        return float(state.temperature)
    return num.inf if state.beyond else 0.0


def _spread(
    case: Case, around: running.Surroundings, given: LipTolerances, how: Sampling, units: UnitSystem
) -> dict[str, Any]:
    """What tolerances and the range of friction do to the state after a day of running."""
    record = case.friction
    assert record is not None
    nominal = {
        "shaft_diameter": case.shaft_diameter,
        "lip_bore": case.shaft_diameter - case.interference,
        "lip_thickness": case.lip_thickness,
        "lip_length": case.lip_length,
        "contact_width": case.contact_width,
        "friction_coefficient": record.si,
    }
    if case.energizer in {"cantilever_v", "canted_coil"}:
        nominal["energizer_deflection"] = case.dimensions["deflection"]
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
    if record.si_low < record.si_high:
        limits["friction_coefficient"] = (record.si_low, record.si_high)
    time = case.data.running.nominal_time.si

    def state(x: Mapping[str, Any]) -> tuple[Any, running.Running]:
        # a lip larger than the shaft does not touch it: no interference, not a negative one
        interference = num.maximum(x["shaft_diameter"] - x["lip_bore"], 0.0)
        dimensions = dict(case.dimensions)
        if "energizer_deflection" in x:
            dimensions["deflection"] = x["energizer_deflection"]
        other = changed(
            case,
            shaft_diameter=x["shaft_diameter"],
            interference=interference,
            lip_thickness=x["lip_thickness"],
            lip_length=x["lip_length"],
            contact_width=x["contact_width"],
        )
        other.dimensions = dimensions
        return interference, running.run(other, around, x["friction_coefficient"], time)

    here, ends, drawn = (
        state(x)
        for x in (
            nominal,
            tolerance.corners(nominal, limits),
            tolerance.samples(nominal, limits, how.samples, how.seed, how.distribution),
        )
    )

    def row(dimension: str, pick: Callable[[tuple[Any, running.Running]], Any]) -> dict[str, Any]:
        return tolerance.spread(units, dimension, pick(here), pick(ends), pick(drawn))

    return {
        "interference": row("length", lambda found: found[0]),
        "line_load": row("line_load", lambda found: found[1].load.total),
        "torque": row("torque", lambda found: found[1].torque),
        "contact_temperature": row("temperature", lambda found: found[1].temperature),
        "sensitivities": tolerance.sensitivities(lambda x: state(x)[1].torque, nominal, limits),
        "samples": how.samples,
    }


def surroundings_assumed(
    given: HeatSurroundings, around: running.Surroundings, units: UnitSystem
) -> list[dict[str, Any]]:
    """Write what the rules supplied of the surroundings."""
    rows = (
        ("ambient_temperature", "temperature", around.ambient),
        ("shaft_conductivity", "thermal_conductivity", around.shaft_conductivity),
        ("shaft_length", "length", around.shaft_length),
        ("fluid_film", "heat_transfer_coefficient", around.fluid_film),
    )
    found: list[dict[str, Any]] = [
        {"field": f"/surroundings/{name}", "value": units.quantity(dimension, value), "rule": f"running.{name}"}
        for name, dimension, value in rows
        if getattr(given, name) is None
    ]
    if given.correlation is None:
        found.append(
            {"field": "/surroundings/correlation", "value": around.correlation, "rule": "running.film_correlation"}
        )
    return found
