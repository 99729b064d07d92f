"""Does the seal fit its gland, stay put in it, and bridge the gap behind it?

The limits of all parts come first (:mod:`glandwise.checks.hardware`), then what holds the seal: an O-ring in the outer
diameter, a clamped flange or a pressed-in case. Every state is judged at the tolerances that are worst for it, at the
least, normal and greatest temperature of the duty.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

from glandwise.checks import lip, running
from glandwise.checks import o_ring as rings
from glandwise.checks.banks import curve_at
from glandwise.checks.case import Assumed, Case, Limit, build, changed
from glandwise.checks.engine import Engine, known, refusal
from glandwise.checks.envelope import (
    Finding,
    Measure,
    criterion,
    governing,
    ratio,
    status_of,
    summary,
    temperature_measures,
    verdict,
)
from glandwise.checks.hardware import Hardware, Size, by_request, resolve
from glandwise.checks.lip import load, relaxed_share
from glandwise.checks.report import assumptions, cautions, wanted
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.contract.duty import Duty
from glandwise.contract.gland import Gland, GlandCheckRequest
from glandwise.mechanics import contact, fits, retention, springs
from glandwise.mechanics import numeric as num
from glandwise.rules.loader import RuleSet
from glandwise.rules.model import weakest
from glandwise.units import UnitSystem

Design = FlexibleLip | EnergizedLip


class Temperatures(NamedTuple):
    """The temperatures looked at [K]; the assembly first."""

    assembly: float
    minimum: float
    normal: float
    maximum: float


class Extrusion(NamedTuple):
    """Gap behind the seal at one temperature, SI."""

    temperature: float
    gap: float
    allowed_gap: float
    allowed_pressure: float
    surface_flow: float


class Fit(NamedTuple):
    """Pressed-in case at one temperature and one end of the tolerances, SI."""

    temperature: float
    end: str
    interference: float
    pressure: float
    case_stress: float
    bore_stress: float
    yields: bool


class PressedCase(NamedTuple):
    """Pressed-in case [m]."""

    outer: Size
    wall: float
    length: float
    fits: list[Fit]
    strain: Callable[[Any], Any]
    """Strain of the case from the reference temperature."""


class Flange(NamedTuple):
    """Clamped flange, SI."""

    force: float
    proposed: bool
    inner: float
    outer: float
    pressure: float
    allowed: float


class Rotation(NamedTuple):
    """Lip torque and holding torque in one state, SI."""

    state: str
    pressure: float
    temperature: float
    friction: float
    lip_torque: float
    holding_torque: float


class Judged(NamedTuple):
    """Findings of a gland with everything they rest on."""

    case: Case
    hardware: Hardware
    findings: list[Finding]
    o_ring: rings.Proposal | None
    press_fit: PressedCase | None
    flange: Flange | None
    extrusion: list[Extrusion]
    heels: list[tuple[str, float, float]]
    heel: float
    rotation: list[Rotation]
    temperatures: Temperatures


# ----------------------------------------------------------------------------------------------------------- extrusion


def gap_law(h: Hardware, temperature: float) -> Callable[[float], float]:
    """Greatest radial gap between shaft and opening by pressure: tolerances, temperature and eccentricity at worst [m]."""
    material = h.housing_material
    growth_per_pressure = fits.bore_growth(
        1.0, 0.5 * h.bore.high, 0.5 * h.housing_outer_diameter, material.elastic_modulus.si, material.poisson_ratio.si
    )
    # the opening is taken to grow in proportion to the pressurised bore beside it: more than it does
    growth_per_pressure *= h.throat.high / h.bore.high
    unknown = h.offset != h.offset
    strains = h.housing_strain(temperature), h.shaft_strain(temperature)

    def gap(pressure: float) -> float:
        growth = growth_per_pressure * max(pressure, 0.0)
        found = fits.radial_gap(h.throat.high, h.shaft.low, 0.0 if unknown else h.offset, growth, *strains)
        return float(found.worst if unknown else found.actual)

    return gap


def _strength(h: Hardware, temperature: float) -> tuple[float, float]:
    """Strength of the heel in tension and in shear that it may see for its life [Pa]."""
    rule = h.data.gland.extrusion
    tension = float(curve_at(h.case.compound.yield_strength, temperature)) * rule.strength_share.si
    return tension, tension * rule.shear_over_yield.si


_TOP = 1e9
"""Pressure beyond which a heel is taken to hold any [Pa]."""


def bridged_pressure(h: Hardware, temperature: float, heel: float) -> float:
    """Pressure that shears or folds the heel into the gap, which itself grows with that pressure [Pa]."""
    planes = h.data.gland.extrusion.planes.si
    tension, shear = _strength(h, temperature)
    gap = gap_law(h, temperature)

    def limit(pressure: float) -> float:
        found = retention.extrusion_pressure(gap(pressure), heel, tension, shear, planes)
        return float(min(found.shear, found.bending))

    low, high = 0.0, limit(0.0)
    if limit(min(high, _TOP)) > _TOP:
        return num.inf
    high = min(high, _TOP)
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if limit(middle) > middle else (low, middle)
    return 0.5 * (low + high)


def _heel(case: Case, gland: Gland) -> tuple[float, list[tuple[str, float]], tuple[Any, ...]]:
    """Thickness of what bridges the gap, the heels to compare, and the records used."""
    if gland.heel_thickness is not None:
        return gland.heel_thickness, [("given", gland.heel_thickness)], ()
    if case.family == "flexible_lip":
        return float(case.lip_thickness), [("standard", float(case.lip_thickness))], ()
    sizing = case.data.sizing.energized_lip
    standard = float(num.interp(case.shaft_diameter, sizing.heel_thickness.si_x, sizing.heel_thickness.si_y))
    extended = standard * sizing.extended_heel_ratio.si
    chosen = extended if case.features["heel"] == "extended" else standard
    case.assumed.append(Assumed("/gland/heel_thickness", "length", chosen, "sizing.energized_lip.heel_thickness"))
    return (
        chosen,
        [("standard", standard), ("extended", extended)],
        (sizing.heel_thickness, sizing.extended_heel_ratio),
    )


def _extrusion(h: Hardware, t: Temperatures, heel: float) -> list[Extrusion]:
    found = []
    pressure = max(float(h.case.pressure), 0.0)
    planes = h.data.gland.extrusion.planes.si
    for temperature in dict.fromkeys(t[1:]):
        tension, shear = _strength(h, temperature)
        gap = gap_law(h, temperature)(pressure)
        by_shear = planes * heel * num.divide(shear, pressure)
        by_bending = heel * num.sqrt(num.divide(0.5 * tension, pressure))
        bridged = min(by_shear, by_bending)  # beyond the bore it says nothing
        local = retention.extrusion_pressure(gap, heel, tension, shear, planes).local
        found.append(
            Extrusion(
                temperature,
                gap,
                bridged if bridged < h.bore.nominal else num.inf,
                bridged_pressure(h, temperature, heel),
                float(local),
            )
        )
    return found


def _judge_extrusion(h: Hardware, states: list[Extrusion], records: tuple[Any, ...], units: UnitSystem) -> Finding:
    rule = h.data.gland.extrusion
    pressure = max(float(h.case.pressure), 0.0)
    worst = min(states, key=lambda state: state.allowed_pressure)
    used = 0.0 if pressure == 0.0 else pressure / worst.allowed_pressure
    records = (
        *records, rule.shear_over_yield, rule.planes, rule.strength_share, h.case.compound.yield_strength, *h.records,
    )  # fmt: skip
    measure = Measure(
        "gauge_pressure", pressure, worst.allowed_pressure, used, Limit(worst.allowed_pressure, (), records)
    )
    status = status_of(used, h.data.criteria["extrusion_gap"].caution_at.si)
    gap, at = units.text("length", worst.gap), units.text("temperature", worst.temperature)
    if pressure == 0.0:
        return Finding("extrusion_gap", status, measure, f"No pressure drives the heel into the gap of {gap}.", records)
    if worst.gap == 0.0:
        return Finding("extrusion_gap", status, measure, "The gap behind the seal is closed.", records)
    relation = {"pass": "within", "caution": "close to", "fail": "beyond"}[status]
    asked = units.text("gauge_pressure", pressure)
    if num.isfinite(worst.allowed_pressure):
        allowed = units.text("gauge_pressure", worst.allowed_pressure)
        text = f"{asked} is {relation} the {allowed} that the heel bridges over a gap of {gap} at {at}"
    else:
        text = (
            f"Over a gap of {gap} at {at} the heel bridges {asked}, and more than {units.text('gauge_pressure', _TOP)}"
        )
    bridges = units.text("length", worst.allowed_gap) if num.isfinite(worst.allowed_gap) else "any"
    text += f"; it would bridge {bridges}."
    flow = min(state.surface_flow for state in states)
    if status == "pass" and pressure > flow:
        status = "caution"
    if pressure > flow:
        text += (
            f" Above {units.text('gauge_pressure', flow)} the surface of the heel flows into any gap: expect nibbling; "
            "a close gap or a separate ring behind the heel keeps it small."
        )
    return Finding("extrusion_gap", status, measure, text, records)


# -------------------------------------------------------------------------------------------------------------- O-ring


def _judge_o_ring(h: Hardware, p: rings.Proposal | None, units: UnitSystem) -> list[Finding]:
    rule = h.data.gland.o_ring_gland
    ids = ("o_ring_squeeze", "o_ring_stretch", "o_ring_fill")
    if p is None:
        text = "No O-ring of the series goes with this bore and body; state a ring by its dimensions and a groove."
        return [Finding(name, "not_evaluated", None, text, (rule.squeeze_max,)) for name in ids]
    assert h.case.elastomer is not None
    base = (
        *h.records,
        h.case.elastomer.mean_expansion,
        h.data.expansion.ptfe_unfilled,
        h.case.compound.expansion_ratio,
    )
    if p.ring.dash is not None:
        base = (*base, *(table for table in h.data.o_rings.as568.values() if p.ring.dash in table.dash))
    squeeze_records = (
        *base, rule.squeeze_min, rule.squeeze_max, rule.squeeze_min_absolute, rule.squeeze_service_min,
        rule.squeeze_service_max, h.data.gland.body.offset_share,
    )  # fmt: skip
    use = p.use

    def percent(value: float) -> str:
        return f"{100.0 * value:.3g} %"

    found = []
    for name, window, records, text in (
        ("o_ring_squeeze", use.squeeze, squeeze_records,
         "Squeeze at its {end} is {value} at {at}; {limit}."),
        ("o_ring_stretch", use.stretch, (*base, rule.stretch_min, rule.stretch_max),
         "Stretch is {value}; {limit}."),
        ("o_ring_fill", use.fill, (*base, rule.fill_max),
         "The ring fills {value} of its gland at {at}; {limit}."),
    ):  # fmt: skip
        used = float(window.utilization)
        status = status_of(used, h.data.criteria[name].caution_at.si)
        least = name != "o_ring_fill" and (
            use.squeeze_end == "loosest" if name == "o_ring_squeeze" else window.bound == rule.stretch_min.si
        )
        temperature = use.squeeze_temperature if name == "o_ring_squeeze" else use.fill_temperature
        reason = text.format(
            end=use.squeeze_end, value=percent(window.value), at=units.text("temperature", temperature),
            limit=wanted("ratio", window.bound, "%", least=least),
        ) if num.isfinite(window.value) else "The hot body closes the gland entirely."  # fmt: skip
        measure = Measure("ratio", window.value, window.bound, used, Limit(window.bound, (), records))
        found.append(Finding(name, status, measure, reason, records))
    return found


class _Grip(NamedTuple):
    """Holding torque by state and pressure, and what it rests on."""

    torques: dict[str, float]
    records: tuple[Any, ...]


def _wet(case: Case) -> bool:
    return case.lubrication != "dry"


def _o_ring_grip(h: Hardware, p: rings.Proposal, t: Temperatures) -> _Grip:
    """Torque the O-ring holds at the loosest tolerances: by its weaker surface, cold, hot, and after it has set.

    A ring off centre is squeezed less on one side and more on the other: round the ring that takes nothing off.
    """
    elastomer, friction = h.case.elastomer, h.data.gland.static_friction
    assert elastomer is not None
    on_ptfe = friction.elastomer_on_ptfe_lubricated if _wet(h.case) else friction.elastomer_on_ptfe
    on_bore = elastomer.friction_lubricated if _wet(h.case) else elastomer.friction_dry
    limit = h.data.sizing.energizer.o_ring_squeeze_limit
    modulus = springs.gent_modulus(elastomer.hardness.si_low)
    hottest = rings.strains(h, t.maximum)
    normal = rings.condition(h, p.ring, p.groove, rings.strains(h, t.normal), "loosest", centred=True)

    def torque(temperature: float, aged: bool) -> float:
        at = rings.strains(h, temperature)
        share = float(rings.body_share_after_heat(h, hottest)) if aged else 1.0
        state = rings.condition(h, p.ring, p.groove, at, "loosest", share, centred=True)
        squeeze = state.squeeze - (elastomer.compression_set.si * max(normal.squeeze, 0.0) if aged else 0.0)
        line_load = springs.oring_load(state.section, squeeze / state.section, modulus, limit.si).line_load
        inner = 0.5 * p.groove.diameter.low * (1.0 + at.seal)
        return float(retention.o_ring_slip_torque(line_load, on_ptfe.si, inner, on_bore.si, inner + state.depth))

    torques = {
        "cold_start": torque(t.minimum, False),
        "hot_running": torque(t.maximum, False),
        "end_of_life_start": torque(t.minimum, True),
    }
    records = (
        on_ptfe, on_bore, elastomer.hardness, elastomer.compression_set, elastomer.mean_expansion, limit,
        h.case.compound.set_fraction, h.case.compound.expansion_ratio,
    )  # fmt: skip
    return _Grip(torques, records)


# ------------------------------------------------------------------------------------------------------------ press fit


def press_case(h: Hardware, gland: Gland, t: Temperatures) -> tuple[PressedCase, tuple[Any, ...]]:
    rule, given, case = h.data.gland.press_fit, gland.case, h.case
    bore = h.bore.nominal
    records: list[Any] = [rule.interference_min]

    def take(value: float | None, name: str, supplied: float, record: Any) -> float:
        if value is not None:
            return value
        case.assumed.append(Assumed(f"/gland/case/{name}", "length", supplied, f"gland.press_fit.{name}"))
        records.append(record)
        return float(supplied)

    if given is not None and given.outer_diameter is not None:
        outer = by_request(given.outer_diameter)
    else:
        table = h.data.gland.case_interference
        lower, upper = (
            fits.size_step_value(bore, table.si_over, table.si_up_to, table.si_columns[name])
            for name in ("lower", "upper")
        )
        outer = Size(bore + 0.5 * (lower + upper), bore + lower, bore + upper)
        records.append(table)
        if outer.low == outer.low:
            case.assumed.append(
                Assumed("/gland/case/outer_diameter", "length", outer.nominal, "gland.case_interference")
            )
    wall = take(
        given.wall_thickness if given else None,
        "wall_thickness",
        num.interp(bore, rule.wall_thickness.si_x, rule.wall_thickness.si_y),
        rule.wall_thickness,
    )
    length = take(given.length if given else None, "length", rule.length_share.si * h.width, rule.length_share)
    if given is not None and given.material is not None:
        name = given.material
        material = known(h.data.shaft_materials, name, ("gland", "case", "material"), "material")
    else:
        name = rule.material.name
        material = h.data.shaft_materials[name]
        case.assumed.append(Assumed("/gland/case/material", None, name, "gland.press_fit.material"))
        records.append(rule.material)
    strength = given.yield_strength if given is not None and given.yield_strength is not None else None
    if strength is None:
        strength = rule.yield_strength.si
        case.assumed.append(Assumed("/gland/case/yield_strength", "stress", strength, "gland.press_fit.yield_strength"))
        records.append(rule.yield_strength)
    records += [material.elastic_modulus, material.mean_expansion, h.housing_material.elastic_modulus]
    radius = 0.5 * bore

    def strain(temperature: Any) -> Any:
        return h.metal_strain(name, material.mean_expansion.si, temperature)

    found = []
    for temperature in dict.fromkeys(t):
        grown, bore_strain = (
            float(strain(temperature)),
            h.housing_strain(temperature),
        )
        for end, outside, hole in (("loosest", outer.low, h.bore.high), ("tightest", outer.high, h.bore.low)):
            interference = float(outside * (1.0 + grown) - hole * (1.0 + bore_strain))
            fit = fits.interference_fit(
                0.5 * interference, radius, radius - wall, 0.5 * h.housing_outer_diameter, material.elastic_modulus.si,
                material.poisson_ratio.si, h.housing_material.elastic_modulus.si, h.housing_material.poisson_ratio.si,
            )  # fmt: skip
            # the inside of the case yields first, where the hoop stress is 2 p R^2 / (R^2 - r^2)
            most = strength * (1.0 - (1.0 - wall / radius) ** 2) / 2.0
            pressure = min(float(fit.pressure), most) if fit.pressure == fit.pressure else num.nan
            found.append(
                Fit(
                    temperature, end, interference, pressure, float(fit.inner_bore_hoop),
                    float(pressure / fit.pressure * fit.outer_bore_hoop) if fit.pressure > 0.0 else 0.0,
                    bool(fit.pressure > most),
                )
            )  # fmt: skip
    return PressedCase(outer, wall, length, found, strain), tuple(records)


def judge_press_fit(h: Hardware, c: PressedCase, records: tuple[Any, ...], units: UnitSystem) -> Finding:
    needed = h.data.gland.press_fit.interference_min.si
    loosest = min(c.fits, key=lambda fit: fit.interference)
    left = loosest.interference
    used = num.inf if left <= 0.0 else needed / left
    if left != left:
        used = num.nan
    status = status_of(used, h.data.criteria["press_fit"].caution_at.si)
    measure = Measure("length", needed, left, used, Limit(left, (), records))
    if status == "not_evaluated":
        return Finding("press_fit", status, measure, "The table of interferences does not reach to this bore.", records)
    at = units.text("temperature", loosest.temperature)
    text = (
        f"The case keeps {units.text('length', left)} of interference at its loosest, at {at}; "
        f"{units.text('length', needed)} is needed."
        if left > 0.0
        else f"The case is loose at {at}: {units.text('length', -left)} of clearance at its loosest."
    )
    if any(fit.yields for fit in c.fits):
        text += " At its tightest the case yields, which caps the contact pressure."
    return Finding("press_fit", status, measure, text, records)


def _press_fit_grip(h: Hardware, c: PressedCase, t: Temperatures) -> _Grip:
    friction = h.data.gland.static_friction.metal_on_metal
    torques = {}
    for state, temperature in (
        ("cold_start", t.minimum), ("hot_running", t.maximum), ("end_of_life_start", t.minimum),
    ):  # fmt: skip
        fit = next(fit for fit in c.fits if fit.temperature == temperature and fit.end == "loosest")
        torques[state] = float(
            retention.press_fit_holding_torque(fit.pressure, friction.si, 0.5 * h.bore.nominal, c.length)
        )
    return _Grip(torques, (friction,))


# ---------------------------------------------------------------------------------------------------------------- clamp


def _flange(h: Hardware, gland: Gland, t: Temperatures) -> tuple[Flange, tuple[Any, ...]]:
    rule, given, case = h.data.gland.retention, gland.clamp, h.case
    outer = h.bore.nominal if given is None or given.outer_diameter is None else given.outer_diameter
    inner = None if given is None else given.inner_diameter
    records: list[Any] = [rule.clamp_pressure_share, case.compound.yield_strength]
    if inner is None:
        inner = outer - rule.clamp_face_share.si * (h.bore.nominal - h.shaft.nominal)
        case.assumed.append(Assumed("/gland/clamp/inner_diameter", "length", inner, "gland.retention.clamp_face_share"))
        records.append(rule.clamp_face_share)
    area = 0.25 * num.pi * max(outer * outer - inner * inner, 0.0)
    allowed = float(curve_at(case.compound.yield_strength, t.maximum)) * rule.clamp_pressure_share.si
    force = None if given is None else given.force
    proposed = force is None
    if force is None:
        force = rule.clamp_aim.si * allowed * area
        case.assumed.append(Assumed("/gland/clamp/force", "force", force, "gland.retention.clamp_aim"))
        records.append(rule.clamp_aim)
    pressure = force / area if area > 0.0 else num.nan
    return Flange(force, proposed, inner, outer, pressure, allowed), tuple(records)


def _judge_flange(h: Hardware, f: Flange, records: tuple[Any, ...], t: Temperatures, units: UnitSystem) -> Finding:
    used = ratio(f.pressure, f.allowed)
    status = status_of(used, h.data.criteria["clamp"].caution_at.si)
    measure = Measure("stress", f.pressure, f.allowed, used, Limit(f.allowed, (), records))
    if status == "not_evaluated":
        return Finding("clamp", status, measure, "The clamped face has no width.", records)
    relation = {"pass": "within", "caution": "close to", "fail": "beyond"}[status]
    text = (
        f"{units.text('stress', f.pressure)} on the clamped face is {relation} the {units.text('stress', f.allowed)} that "
        f"the compound stands for long at {units.text('temperature', t.maximum)}."
    )
    return Finding("clamp", status, measure, text, records)


def _flange_grip(h: Hardware, f: Flange) -> _Grip:
    rule, friction = h.data.gland.retention, h.data.gland.static_friction.ptfe_on_metal
    fresh = float(retention.clamp_holding_torque(f.force, friction.si, 0.5 * f.inner, 0.5 * f.outer, 2.0))
    crept = fresh * rule.clamp_force_kept.si
    # the clamp creeps within days: what is left then is what holds in running as well
    return _Grip(
        {"cold_start": crept, "hot_running": crept, "end_of_life_start": crept}, (friction, rule.clamp_force_kept)
    )


# ------------------------------------------------------------------------------------------------------------- rotation


def _lip_torque(case: Case, friction: float, time: float) -> float:
    """Torque of the lips [N m]; where the heat finds no balance, that of a lip which friction has not softened."""
    at_rest = case.rotational_speed == 0.0
    around = running.surroundings(case, ambient=case.temperature if at_rest else None)
    state = running.run(case, around, friction, time)
    if state.converged:
        return float(state.torque)
    main = load(case, case.temperature, time, case.pressure)
    second = case.second_lip_share * (main.lip + main.energizer)
    return float(contact.friction(friction, main.total + second, case.shaft_diameter, case.rotational_speed).torque)


def _rotation(h: Hardware, grip: _Grip | None, t: Temperatures) -> tuple[list[Rotation], tuple[Any, ...]]:
    """Every state with and without the sealed pressure, which seats the body on its shoulder while it is on."""
    case, rule, data = h.case, h.data.gland.retention, h.data
    record = case.friction
    if record is None:
        return [], ()
    start, run = record.si_high * rule.breakaway_factor.si, record.si
    seat_friction = data.gland.static_friction.ptfe_on_metal
    bore, shaft = 0.5 * h.bore.nominal, 0.5 * h.shaft.nominal
    found = []
    fresh = data.running.fresh_time.si
    relaxed = relaxed_share(case, t.normal, data.sizing.following.service_time.si)
    # at the end of life the lip has relaxed at the normal temperature, not at that of the cold start
    aged = changed(case, interference=case.interference * relaxed / relaxed_share(case, t.minimum, fresh))
    duty_pressure = max(float(case.pressure), 0.0)
    for pressure in (0.0, duty_pressure) if duty_pressure > 0.0 else (0.0,):
        thrust = rule.seating_share.si * pressure * num.pi * (bore * bore - shaft * shaft)
        seating = float(retention.clamp_holding_torque(thrust, seat_friction.si, shaft, bore, 1.0))
        for state, seal, temperature, speed, friction, time in (
            ("cold_start", case, t.minimum, 0.0, start, fresh),
            ("hot_running", case, t.maximum, case.rotational_speed, run, data.running.nominal_time.si),
            ("end_of_life_start", aged, t.minimum, 0.0, start, fresh),
        ):
            there = changed(seal, temperature=temperature, rotational_speed=speed, pressure=pressure)
            holding = num.nan if grip is None else grip.torques[state] + seating
            found.append(Rotation(state, pressure, temperature, friction, _lip_torque(there, friction, time), holding))
    records = (
        record, rule.breakaway_factor, rule.margin_min, rule.seating_share, seat_friction, data.running.fresh_time,
        data.sizing.following.service_time, case.compound.elastic_modulus, case.compound.relaxation,
        *(() if grip is None else grip.records),
    )  # fmt: skip
    return found, records


_STATE_WORDS = {
    "cold_start": "at a cold start",
    "hot_running": "running hot",
    "end_of_life_start": "at a cold start at the end of life",
}
_MEANS_WORDS = {"o_ring": "the O-ring", "clamped_flange": "the clamped flange", "press_fit_case": "the pressed-in case"}


def _judge_rotation(
    h: Hardware, states: list[Rotation], records: tuple[Any, ...], means: str, units: UnitSystem
) -> Finding:
    margin = h.data.gland.retention.margin_min.si
    if not states:
        text = f"The rules hold no friction of this compound when it runs {h.case.lubrication}."
        return Finding("seal_rotation", "not_evaluated", None, text, (h.data.gland.retention.margin_min,))
    usable = [state for state in states if state.holding_torque == state.holding_torque]
    if len(usable) < len(states):
        text = "The holding torque is not known: the squeeze of the O-ring lies outside the range of its load model."
        return Finding("seal_rotation", "not_evaluated", None, text, records)
    worst = max(usable, key=lambda state: ratio(margin * state.lip_torque, state.holding_torque))
    used = float(ratio(margin * worst.lip_torque, worst.holding_torque))
    status = status_of(used, h.data.criteria["seal_rotation"].caution_at.si)
    allowed = worst.holding_torque / margin
    measure = Measure("torque", worst.lip_torque, allowed, used, Limit(allowed, (), records))
    holds = units.text("torque", worst.holding_torque)
    pressed = "without pressure" if worst.pressure == 0.0 else f"at {units.text('gauge_pressure', worst.pressure)}"
    turns = {"pass": "stays put", "caution": "stays put with little to spare", "fail": "may turn in its bore"}[status]
    text = (
        f"The seal {turns}: {_MEANS_WORDS[means]} holds {holds} against {units.text('torque', worst.lip_torque)} of the "
        f"lips {_STATE_WORDS[worst.state]} {pressed}; a margin of {margin:g} is asked for."
    )
    return Finding("seal_rotation", status, measure, text, records)


# ------------------------------------------------------------------------------------------------------------- one gland


def judge_temperatures(case: Case, units: UnitSystem) -> list[Finding]:
    found = []
    for name, m in temperature_measures(case).items():
        status = status_of(m.utilization, case.data.criteria[name].caution_at.si)
        relation = {"pass": "within", "caution": "close to", "fail": "beyond", "not_evaluated": "near"}[status]
        text = (
            f"{units.text('temperature', m.demand)} is {relation} the limit of {units.text('temperature', m.capacity)} "
            f"set by the {m.limit.titles[0]}."
        )
        found.append(Finding(name, status, m, text, m.limit.records))
    return found


def judge(duty: Duty, design: Design, gland: Gland, rules: RuleSet, units: UnitSystem) -> Judged:
    """Judge one gland. Parts of the gland that belong to another retention than the design's are left aside."""
    case = build(duty, design, rules)
    if case.energizer is not None and not lip.modelled(case):
        raise refusal("out_of_domain", ("design", case.energizer), lip.OUTSIDE, lip.ACCEPTED[case.energizer])
    h = resolve(case, duty, gland)
    t = Temperatures(h.reference, float(case.temperature_min), float(case.temperature), float(case.temperature_max))
    found: list[Finding] = judge_temperatures(case, units)
    chosen: rings.Proposal | None = None
    pressed: PressedCase | None = None
    flange: Flange | None = None
    grip: _Grip | None = None
    if design.retention == "o_ring":
        chosen = rings.propose(h, gland, [rings.strains(h, temperature) for temperature in t])
        assume_o_ring(case, chosen)
        found += _judge_o_ring(h, chosen, units)
        grip = None if chosen is None else _o_ring_grip(h, chosen, t)
    elif design.retention == "press_fit_case":
        pressed, records = press_case(h, gland, t)
        found.append(judge_press_fit(h, pressed, records, units))
        grip = _press_fit_grip(h, pressed, t)
    else:
        flange, records = _flange(h, gland, t)
        found.append(_judge_flange(h, flange, records, t, units))
        grip = _flange_grip(h, flange)
    heel, heels, heel_records = _heel(case, gland)
    extrusion = _extrusion(h, t, heel)
    found.append(_judge_extrusion(h, extrusion, heel_records, units))
    rotation, rotation_records = _rotation(h, grip, t)
    found.append(_judge_rotation(h, rotation, rotation_records, design.retention, units))
    compared = [
        (name, thickness, min(bridged_pressure(h, temperature, thickness) for temperature in dict.fromkeys(t[1:])))
        for name, thickness in heels
    ]
    by_id = {finding.id: finding for finding in found}
    ordered = [by_id[name] for name in rules.data.criteria if name in by_id]
    return Judged(case, h, ordered, chosen, pressed, flange, extrusion, compared, heel, rotation, t)


def assume_o_ring(case: Case, p: rings.Proposal | None) -> None:
    if p is None:
        return
    if p.ring_proposed:
        case.assumed.append(Assumed("/gland/o_ring", None, f"AS568-{p.ring.dash:03d}", "gland.o_ring_choice"))
    if p.groove_proposed:
        for name, size in (("diameter", p.groove.diameter), ("width", p.groove.width)):
            case.assumed.append(Assumed(f"/gland/groove/{name}", "length", size.nominal, "gland.o_ring_choice"))


# --------------------------------------------------------------------------------------------------------------- result


def _size(size: Size, units: UnitSystem) -> dict[str, Any]:
    return {
        "nominal": units.quantity("length", size.nominal),
        "maximum": units.quantity("length", size.high),
        "minimum": units.quantity("length", size.low),
    }


def _limits(size: Size, units: UnitSystem) -> dict[str, Any]:
    return {
        **_size(size, units),
        "tolerance_class": size.tolerance_class,
        "upper_deviation": units.quantity("length", size.high - size.nominal),
        "lower_deviation": units.quantity("length", size.low - size.nominal),
    }


def lead_in(h: Hardware, units: UnitSystem) -> dict[str, Any] | None:
    """Write the lead-in chamfer of the shaft."""
    table, angle = h.data.gland.shaft_lead_in, h.data.gland.shaft_lead_in_angle
    steep, flat = (
        fits.shaft_lead_in(h.shaft.nominal, record.si, table.si_over, table.si_up_to, table.si_columns["reduction"])
        for record in (angle.max, angle.min)
    )
    if steep.reduction != steep.reduction:
        return None
    return {
        "reduction": units.quantity("length", steep.reduction),
        "small_diameter": units.quantity("length", steep.small_diameter),
        "least_angle": units.quantity("angle", angle.min.si),
        "greatest_angle": units.quantity("angle", angle.max.si),
        "least_length": units.quantity("length", steep.length),
        "greatest_length": units.quantity("length", flat.length),
    }


def bore_shape(h: Hardware, units: UnitSystem) -> dict[str, Any] | None:
    """Write depth, chamfer, corner and roughness of the bore."""
    table, rough = h.data.gland.housing_bore, h.data.gland.bore_roughness
    columns = table.si_columns
    found = fits.housing_bore(
        h.width, table.si_over, table.si_up_to, columns["extra_depth"], columns["chamfer_min"], columns["chamfer_max"],
        columns["corner_radius"],
    )  # fmt: skip
    if found.depth != found.depth:
        return None
    return {
        "least_depth": units.quantity("length", found.depth),
        "least_chamfer": units.quantity("length", found.chamfer_min),
        "greatest_chamfer": units.quantity("length", found.chamfer_max),
        "greatest_corner_radius": units.quantity("length", found.corner_radius),
        "least_roughness": units.quantity("roughness", rough.ra_min.si),
        "greatest_roughness": units.quantity("roughness", rough.ra_max.si),
    }


def _number(value: float) -> float | None:
    return float(f"{value:.10g}") if num.isfinite(value) else None


def o_ring_state(h: Hardware, p: rings.Proposal, temperature: float, end: Any, units: UnitSystem) -> dict[str, Any]:
    """Write the O-ring at one temperature and one end of the tolerances."""
    state = rings.condition(h, p.ring, p.groove, rings.strains(h, temperature), end)
    return {
        "temperature": units.quantity("temperature", temperature),
        "tolerances": end,
        "squeeze": units.quantity("length", float(state.squeeze)),
        "squeeze_ratio": _number(float(state.squeeze_ratio)),
        "stretch": _number(float(state.stretch)),
        "fill": _number(float(state.fill)),
    }


def o_ring_result(judged: Judged, units: UnitSystem) -> dict[str, Any] | None:
    """Write ring, groove and their states."""
    p, h = judged.o_ring, judged.hardware
    if p is None:
        return None
    return {
        "dash": p.ring.dash,
        "inner_diameter": _size(p.ring.inner_diameter, units),
        "section": _size(p.ring.section, units),
        "groove_diameter": _size(p.groove.diameter, units),
        "groove_width": _size(p.groove.width, units),
        "ring_proposed": p.ring_proposed,
        "groove_proposed": p.groove_proposed,
        "states": [
            o_ring_state(h, p, temperature, end, units)
            for temperature in dict.fromkeys(judged.temperatures)
            for end in ("nominal", "loosest", "tightest")
        ],
    }


def _press_fit_result(c: PressedCase | None, units: UnitSystem) -> dict[str, Any] | None:
    if c is None or not num.isfinite(c.outer.low):
        return None
    return {
        "outer_diameter": _size(c.outer, units),
        "wall_thickness": units.quantity("length", c.wall),
        "length": units.quantity("length", c.length),
        "states": [
            {
                "temperature": units.quantity("temperature", fit.temperature),
                "tolerances": fit.end,
                "interference": units.quantity("length", fit.interference),
                "pressure": units.quantity("stress", fit.pressure),
                "case_stress": units.quantity("stress", fit.case_stress),
                "bore_stress": units.quantity("stress", fit.bore_stress),
                "case_yields": fit.yields,
            }
            for fit in c.fits
        ],
    }


def _clamp_result(f: Flange | None, units: UnitSystem) -> dict[str, Any] | None:
    if f is None or not num.isfinite(f.pressure):
        return None
    return {
        "force": units.quantity("force", f.force),
        "proposed": f.proposed,
        "inner_diameter": units.quantity("length", f.inner),
        "outer_diameter": units.quantity("length", f.outer),
        "pressure": units.quantity("stress", f.pressure),
        "allowed_pressure": units.quantity("stress", f.allowed),
    }


def _extrusion_result(judged: Judged, units: UnitSystem) -> dict[str, Any]:
    h = judged.hardware
    return {
        "throat": _size(h.throat, units),
        "heel_thickness": units.quantity("length", judged.heel),
        "eccentric": h.offset != h.offset,
        "states": [
            {
                "temperature": units.quantity("temperature", state.temperature),
                "gap": units.quantity("length", state.gap),
                "allowed_gap": units.optional("length", state.allowed_gap),
                "allowed_pressure": units.optional("gauge_pressure", state.allowed_pressure),
                "surface_flow_pressure": units.quantity("gauge_pressure", state.surface_flow),
            }
            for state in judged.extrusion
        ],
        "heels": [
            {
                "heel": name,
                "thickness": units.quantity("length", thickness),
                "allowed_pressure": units.optional("gauge_pressure", allowed),
            }
            for name, thickness, allowed in judged.heels
        ],
    }


def _rotation_result(judged: Judged, means: str, units: UnitSystem) -> dict[str, Any]:
    return {
        "means": means,
        "margin_needed": judged.hardware.data.gland.retention.margin_min.si,
        "states": [
            {
                "state": state.state,
                "pressure": units.quantity("gauge_pressure", state.pressure),
                "temperature": units.quantity("temperature", state.temperature),
                "friction_coefficient": _number(state.friction),
                "lip_torque": units.quantity("torque", state.lip_torque),
                "holding_torque": units.optional("torque", state.holding_torque),
                "margin": _number(float(num.divide(state.holding_torque, state.lip_torque))),
            }
            for state in judged.rotation
        ],
    }


def check(request: GlandCheckRequest, engine: Engine) -> dict[str, Any]:
    """Answer a gland check."""
    rules, units = engine.rules(request), request.units.system_of_units()
    judged = judge(request.duty, request.design, request.gland, rules, units)

    def evaluate(duty: Duty, design: Design) -> list[Finding]:
        return judge(duty, design, request.gland, rules, units).findings

    criteria = [
        criterion(finding, request.duty, request.design, rules, units, evaluate=evaluate) for finding in judged.findings
    ]
    worst, whole = governing(judged.findings), verdict(judged.findings)
    chosen = next(item for item in criteria if item["id"] == worst.id)
    h = judged.hardware
    return {
        "verdict": whole,
        "summary": summary(whole, chosen, criteria),
        "governing": {key: chosen[key] for key in ("id", "title", "status", "utilization")},
        "criteria": criteria,
        "shaft": _limits(h.shaft, units),
        "bore": _limits(h.bore, units),
        "body": _limits(h.body, units),
        "seal_width": units.quantity("length", h.width),
        "shaft_lead_in": lead_in(h, units),
        "bore_shape": bore_shape(h, units),
        "o_ring": o_ring_result(judged, units),
        "press_fit": _press_fit_result(judged.press_fit, units),
        "clamp": _clamp_result(judged.flange, units),
        "extrusion": _extrusion_result(judged, units),
        "rotation": _rotation_result(judged, request.design.retention, units),
        "assumptions": assumptions(judged.case, units),
        "cautions": cautions(judged.case, request.duty.food_contact),
        "evidence": weakest([item["evidence"] for item in criteria if item["evidence"] is not None]),
        "stamp": engine.stamp("check_gland", request, rules),
        "working": _working(request, judged) if request.working else None,
    }


def _working(request: GlandCheckRequest, judged: Judged) -> list[dict[str, Any]]:
    # the working traces what is judged here, so it is brought in only when it is asked for
    from glandwise.checks import working_fit

    return working_fit.gland_check(judged, request.duty, request.design, request.gland)
