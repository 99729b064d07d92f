"""What temperature does to the fits of a seal: lip on shaft, body in bore, energizer in its space.

The curve shows nominal dimensions; the verdict takes the tolerances and the temperature of the duty that are worst for
each criterion. Parts grow as if free, from the temperature at which they were measured; but the lip is held at its root,
by a flange or a case, or by the body once that is confined in its bore.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from glandwise.checks import lip
from glandwise.checks import o_ring as rings
from glandwise.checks.case import Case, Limit, build
from glandwise.checks.engine import Engine, refusal
from glandwise.checks.envelope import Finding, Measure, criterion, governing, ratio, status_of, summary, verdict
from glandwise.checks.gland import (
    PressedCase,
    Temperatures,
    assume_o_ring,
    judge_press_fit,
    judge_temperatures,
    press_case,
)
from glandwise.checks.hardware import Hardware, resolve, strain_range
from glandwise.checks.report import assumptions, cautions, wanted
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.contract.duty import Duty
from glandwise.contract.gland import Gland
from glandwise.contract.quantities import accepted_range
from glandwise.contract.thermal_fit import ThermalFitRequest
from glandwise.mechanics import expansion, shells
from glandwise.mechanics import numeric as num
from glandwise.rules.loader import RuleSet
from glandwise.rules.model import weakest
from glandwise.units import UnitSystem

Design = FlexibleLip | EnergizedLip
POINTS = 40
"""Temperatures of the curve when the request names none."""
ATMOSPHERE = 101325.0
"""Standard atmosphere (ISO 2533) [Pa]."""
STEPS = 61
"""Temperatures at which the range of the duty is judged; the curves are piecewise smooth between."""


class Travel(NamedTuple):
    """Deflection of an energizer over temperature, SI."""

    deflection: Any
    load: Any
    """Per length of contact [N/m]; ``nan`` where the model does not reach."""


class LipFit(NamedTuple):
    """The lip on the shaft over temperature, SI."""

    shaft: Any
    lip: Any
    interference: Any
    """Diametral [m]."""
    stiffness: Any
    """Of the lip, per radial movement [N/m²]."""


class Judged(NamedTuple):
    """Findings with what the result shows beside them."""

    case: Case
    hardware: Hardware
    findings: list[Finding]
    o_ring: rings.Proposal | None
    press_fit: PressedCase | None
    crossed: bool
    grid: Any
    """Temperatures at which the range of the duty is judged [K]."""


# -------------------------------------------------------------------------------------------------------------- parts


def root_strain(h: Hardware, temperature: Any, bore: float, body: float) -> Any:
    """Strain of the root of the lip: that of the metal which holds it, or of a body that a bore may stop."""
    housing = h.housing_strain(temperature)
    if h.case.features["retention"] != "o_ring":
        return housing
    return num.minimum(h.seal_strain(temperature), bore * (1.0 + housing) / body - 1.0)


def root_share(case: Case) -> Any:
    """Share of the root's strain in that of the edge of the lip."""
    length = lip.effective_length(case)
    return shells.held_root_share(case.lip_radius, case.lip_thickness, length, case.compound.poisson_ratio.si)


def lip_fit(h: Hardware, temperature: Any, loosest: bool = False) -> LipFit:
    """Unstretched lip and shaft at temperature; the interference as made holds on the nominal shaft.

    ``loosest``: on the smallest shaft, with the smallest body in the largest bore; else all nominal.
    """
    case = h.case
    d = h.shaft.low if loosest else h.shaft.nominal
    bore, body = (h.bore.high, h.body.low) if loosest else (h.bore.nominal, h.body.nominal)
    share = root_share(case)
    edge = share * root_strain(h, temperature, bore, body) + (1.0 - share) * h.seal_strain(temperature)
    fit = expansion.fit_at_temperature(d, h.shaft.nominal - case.interference, h.shaft_strain(temperature), edge)
    stiffness = lip.geometry(case).stiffness_per_modulus * lip.modulus(case, temperature)
    return LipFit(fit.inner_diameter, fit.outer_diameter, 2.0 * fit.interference, stiffness)


def _alloy_strain(h: Hardware, temperature: Any) -> Any:
    alloy = h.case.alloy
    assert alloy is not None
    name = next(key for key, value in h.data.alloys.items() if value is alloy)
    return h.metal_strain(name, alloy.mean_expansion.si, temperature)


def free_height(case: Case) -> float:
    """Free radial height of a V or a coil [m]."""
    g = case.dimensions
    if case.energizer == "cantilever_v":
        return float(2.0 * g["length"] * num.sin(g["root_angle"]))
    return float(g["height"])


def closing(case: Case) -> float:
    """Deflection at which a V or a coil closes [m]."""
    free = free_height(case)
    return free if case.energizer == "cantilever_v" else free - 2.0 * float(case.dimensions["wire_diameter"])


def deflection(h: Hardware, temperature: Any, shaft: float, bore: float) -> Any:
    """Deflection of the energizer at temperature [m]; stretch of the developed length for a garter.

    The deflection of the design holds between nominal shaft and bore at the reference temperature.
    """
    case, g = h.case, h.case.dimensions
    if case.energizer == "garter":
        seat = case.lip_thickness + 0.5 * (g["mean_coil_diameter"] + g["wire_diameter"])
        radius = 0.5 * shaft * (1.0 + h.shaft_strain(temperature)) + seat * (1.0 + h.seal_strain(temperature))
        return num.maximum(2.0 * num.pi * radius - g["free_length"] * (1.0 + _alloy_strain(h, temperature)), 0.0)
    free, installed = free_height(case), float(g["deflection"])
    # everything of the seal between bore and shaft that is not energizer
    walls = max(0.5 * (h.bore.nominal - h.shaft.nominal) - (free - installed), 2.0 * float(case.lip_thickness))
    space = expansion.energizer_space(
        bore, shaft, walls - case.lip_thickness, case.lip_thickness,
        0.5 * (h.bore.nominal - h.shaft.nominal) - walls + installed,
        h.housing_strain(temperature), h.shaft_strain(temperature), h.seal_strain(temperature), 0.0,
    )  # fmt: skip
    return num.maximum(space.deflection + free * _alloy_strain(h, temperature), 0.0)


def _travel(h: Hardware, temperature: Any) -> Travel | None:
    """Nominal deflection and load of the energizer over temperature."""
    case = h.case
    if case.energizer is None:
        return None
    travel = deflection(h, temperature, h.shaft.nominal, h.bore.nominal)
    # a garter's load follows from its own dimensions
    installed = None if case.energizer == "garter" else travel
    return Travel(travel, case.load_factor * lip.energizer(case, temperature, installed).line_load)


# ------------------------------------------------------------------------------------------------------------- criteria


def _at(units: UnitSystem, temperature: float) -> str:
    return units.text("temperature", temperature)


class Worst(NamedTuple):
    """A criterion over the range of the duty, at the temperature that is worst for it, SI."""

    temperature: float
    demand: float
    capacity: float
    utilization: float
    loose: bool
    """Whether the loose end of the tolerances is the worse one."""
    left: float = num.nan
    """What is left of the interference [m]."""
    wanted: float = num.nan
    """Interference as made of which nothing would be left [m]."""


def worst_lip(h: Hardware, grid: Any) -> Worst:
    """Loss of interference at its worst against the interference as made and the reach of the energizer."""
    case = h.case
    fit = lip_fit(h, grid, loosest=True)
    loss = np.maximum(case.interference - fit.interference, 0.0)
    travel = _travel(h, grid)
    # a spring that presses the lip on closes a gap of twice its load over the stiffness of the lip, on the diameter
    reach = 0.0 if travel is None else 2.0 * np.nan_to_num(travel.load) / (fit.stiffness * case.load_factor)
    capacity = np.broadcast_to(case.interference + reach, loss.shape)
    used = np.asarray(ratio(loss, capacity))
    worst = int(np.argmax(used))
    return Worst(
        float(grid[worst]),
        float(loss[worst]),
        float(capacity[worst]),
        float(used[worst]),
        True,
        float(fit.interference[worst]),
        # the lip as made that is just as large as the shaft there
        float(h.shaft.nominal - fit.shaft[worst] * (h.shaft.nominal - case.interference) / fit.lip[worst]),
    )


def _judge_lip(h: Hardware, grid: Any, units: UnitSystem) -> Finding:
    case, worst = h.case, worst_lip(h, grid)
    records = (
        *h.records, h.data.expansion.ptfe_unfilled, h.data.expansion.cryogenic.ptfe_expansion, h.data.expansion.metals,
        case.compound.expansion_ratio, case.compound.elastic_modulus, h.shaft_material.mean_expansion,
    )  # fmt: skip
    demand, limit, utilization, left = worst.demand, worst.capacity, worst.utilization, worst.left
    measure = Measure("length", demand, limit, utilization, Limit(limit, (), records))
    status = status_of(utilization, h.data.criteria["lip_interference"].caution_at.si)
    at = _at(units, worst.temperature)
    made = units.text("length", case.interference)
    if demand == 0.0:
        text = f"The lip never has less than the {made} of interference as made."
    elif left >= 0.0:
        text = f"Of {made} of interference as made, {units.text('length', left)} is left at {at} on the smallest shaft."
    else:
        holds = "the energizer presses it on" if status in {"pass", "caution"} else "nothing presses it on"
        if case.energizer is not None and status == "fail":
            holds = "the energizer cannot press it on"
        text = f"At {at} the unstretched lip is {units.text('length', -left)} larger than the smallest shaft; {holds}."
        if status == "fail":
            text += f" Made with about {units.text('length', worst.wanted)} of interference it would still just touch."
    return Finding("lip_interference", status, measure, text, records)


def as_made(h: Hardware) -> float:
    """Deflection of the energizer as assembled [m]."""
    return float(deflection(h, h.reference, h.shaft.nominal, h.bore.nominal))


def worst_energizer(h: Hardware, grid: Any) -> Worst:
    """Deflection of the energizer at its worst, against what it must keep and where it closes."""
    case, rule = h.case, h.data.expansion.energizer_travel
    low = np.asarray(deflection(h, grid, h.shaft.low, h.bore.high))
    high = np.asarray(deflection(h, grid, h.shaft.high, h.bore.low))
    least = rule.least_share.si * as_made(h)
    greatest = num.inf if case.energizer == "garter" else rule.greatest_share.si * closing(case)
    slack, closed = ratio(least, low), high / greatest
    used = np.maximum(slack, closed)
    worst = int(np.argmax(used))
    loose = bool(np.asarray(slack)[worst] >= np.asarray(closed)[worst])
    demand, limit = (float(low[worst]), least) if loose else (float(high[worst]), greatest)
    return Worst(float(grid[worst]), demand, limit, float(used[worst]), loose)


def _judge_energizer(h: Hardware, grid: Any, units: UnitSystem) -> Finding:
    case, rule = h.case, h.data.expansion.energizer_travel
    if case.energizer is None:
        return Finding("energizer_deflection", "pass", None, "The lip has no energizer.", ())
    assert case.alloy is not None
    records = (
        rule.least_share, rule.greatest_share, case.alloy.mean_expansion, case.compound.expansion_ratio,
        h.data.expansion.ptfe_unfilled, h.data.expansion.metals, *h.records,
    )  # fmt: skip
    worst = worst_energizer(h, grid)
    demand, limit, utilization, loose = worst.demand, worst.capacity, worst.utilization, worst.loose
    measure = Measure("length", demand, limit, utilization, Limit(limit, (), records))
    status = status_of(utilization, h.data.criteria["energizer_deflection"].caution_at.si)
    what = "stretch" if case.energizer == "garter" else "deflection"
    end, bound = "least" if loose else "greatest", wanted("length", limit, units.units["length"], least=loose)
    text = (
        f"The {what} of the energizer is {end} at {_at(units, worst.temperature)}, {units.text('length', demand)}; "
        f"{bound}; as made it is {units.text('length', as_made(h))}."
    )
    return Finding("energizer_deflection", status, measure, text, records)


def worst_ring(h: Hardware, p: rings.Proposal, grid: Any) -> Worst:
    """Squeeze of the O-ring over the range, before and after the body has been confined hot."""
    rule = h.data.gland.o_ring_gland
    at = rings.strains(h, grid)
    share = rings.body_share_after_heat(h, rings.strains(h, float(grid[-1])))
    least, most = rule.squeeze_service_min.si, rule.squeeze_service_max.si
    loose = np.asarray(rings.condition(h, p.ring, p.groove, at, "loosest", share).squeeze_ratio)
    tight = np.asarray(rings.condition(h, p.ring, p.groove, at, "tightest").squeeze_ratio)
    slack, full = num.divide(np.asarray(least), np.maximum(loose, 0.0)), tight / most
    used = np.maximum(slack, full)
    worst = int(np.argmax(used))
    is_loose = bool(slack[worst] >= full[worst])
    demand, limit = (float(loose[worst]), least) if is_loose else (float(tight[worst]), most)
    return Worst(float(grid[worst]), demand, limit, float(used[worst]), is_loose)


def _judge_o_ring(h: Hardware, p: rings.Proposal | None, grid: Any, units: UnitSystem) -> Finding:
    rule = h.data.gland.o_ring_gland
    records: tuple[Any, ...] = (
        rule.squeeze_service_min, rule.squeeze_service_max, h.data.gland.body.offset_share, h.case.compound.set_fraction,
        h.case.compound.expansion_ratio, h.data.expansion.ptfe_unfilled, *h.records,
    )  # fmt: skip
    if p is None:
        text = "No O-ring of the series goes with this bore and body; state a ring by its dimensions and a groove."
        return Finding("body_in_bore", "not_evaluated", None, text, records)
    worst = worst_ring(h, p, grid)
    demand, limit, utilization, is_loose = worst.demand, worst.capacity, worst.utilization, worst.loose
    share = rings.body_share_after_heat(h, rings.strains(h, float(grid[-1])))
    measure = Measure("ratio", demand, limit, utilization, Limit(limit, (), records))
    status = status_of(utilization, h.data.criteria["body_in_bore"].caution_at.si)
    once = ", once it has been hot," if is_loose and share < 1.0 else ""
    end, bound = "loosest" if is_loose else "tightest", wanted("ratio", limit, "%", least=is_loose)
    text = (
        f"The O-ring of the body{once} is squeezed {100.0 * demand:.3g} % at its {end} at {_at(units, worst.temperature)}; "
        f"{bound}."
    )
    return Finding("body_in_bore", status, measure, text, records)


def phases_cross(h: Hardware, coldest: float, hottest: float, pressure: float) -> bool:
    """Whether the seal works at any temperature in another phase than that in which it was measured."""
    for name in ("II-IV", "IV-I"):
        for temperature in (coldest, hottest):
            found = expansion.crosses_transition(h.reference, temperature, ATMOSPHERE + max(pressure, 0.0), name)
            if found != found:  # beyond what was measured: the transition lies higher still
                found = float(h.reference > expansion.transition_temperature(ATMOSPHERE, name))
            if found:
                return True
    return False


def judge(
    duty: Duty, design: Design, gland: Gland, reference: float | None, rules: RuleSet, units: UnitSystem
) -> Judged:
    """Judge the fits over the temperatures of the duty."""
    case = build(duty, design, rules)
    h = resolve(case, duty, gland, reference)
    t = Temperatures(h.reference, float(case.temperature_min), float(case.temperature), float(case.temperature_max))
    knots = [value for value in case.data.expansion.ptfe_unfilled.si_temperature if t.minimum < value < t.maximum]
    grid = np.unique([*np.linspace(t.minimum, t.maximum, STEPS), *knots, t.normal])
    found = judge_temperatures(case, units)
    chosen: rings.Proposal | None = None
    pressed: PressedCase | None = None
    if design.retention == "o_ring":
        chosen = rings.propose(h, gland, [rings.strains(h, temperature) for temperature in t])
        assume_o_ring(case, chosen)
        found.append(_judge_o_ring(h, chosen, grid, units))
    elif design.retention == "press_fit_case":
        pressed, records = press_case(h, gland, t)
        found.append(judge_press_fit(h, pressed, records, units)._replace(id="body_in_bore"))
    else:
        found.append(
            Finding("body_in_bore", "pass", None, "The clamped flange holds the body whatever it shrinks.", ())
        )
    found += [_judge_lip(h, grid, units), _judge_energizer(h, grid, units)]
    by_id = {finding.id: finding for finding in found}
    ordered = [by_id[name] for name in rules.data.criteria if name in by_id]
    crossed = phases_cross(h, t.minimum, t.maximum, float(case.pressure))
    return Judged(case, h, ordered, chosen, pressed, crossed, grid)


# --------------------------------------------------------------------------------------------------------------- result


def _phase(temperature: float) -> str:
    if temperature <= expansion.transition_temperature(ATMOSPHERE, "II-IV"):
        return "II"
    return "IV" if temperature <= expansion.transition_temperature(ATMOSPHERE, "IV-I") else "I"


def _temperatures(request: ThermalFitRequest, j: Judged) -> Any:
    """Temperatures of the curve, with those of assembly and duty."""
    case = j.case
    low, high = strain_range(case.data)
    marks = [j.hardware.reference, case.temperature_min, case.temperature, case.temperature_max]
    if request.temperatures is None:
        bottom = max(case.compound.temperature_min.si, low)
        top = min(max(case.compound.temperature_max.si, case.temperature_max), high)
        return np.unique([*np.linspace(bottom, top, POINTS - len(set(marks))), *marks])
    for index, value in enumerate(request.temperatures):
        if not low <= value <= high:
            raise refusal("out_of_domain", ("temperatures", index), "the expansion of PTFE is not known there",
                          accepted_range("temperature", low, high, "degC"))  # fmt: skip
    return np.unique([*request.temperatures, *marks])


def _number(value: Any) -> float:
    """Return a strain rounded as answers are, without the noise of a difference of equal numbers."""
    number = float(value)
    return float(f"{number:.10g}") if abs(number) > 1e-15 else 0.0


def _points(request: ThermalFitRequest, j: Judged, units: UnitSystem) -> list[dict[str, Any]]:
    h, case = j.hardware, j.case
    grid = _temperatures(request, j)
    seal, shaft, housing = h.seal_strain(grid), h.shaft_strain(grid), h.housing_strain(grid)
    fit = lip_fit(h, grid)
    load = case.load_factor * fit.stiffness * np.maximum(0.5 * fit.interference, 0.0)
    bore, body = h.bore.nominal * (1.0 + housing), h.body.nominal * (1.0 + seal)
    squeeze = None
    if j.o_ring is not None:
        squeeze = rings.condition(h, j.o_ring.ring, j.o_ring.groove, rings.strains(h, grid), "nominal").squeeze_ratio
    pressed = None
    if j.press_fit is not None and num.isfinite(j.press_fit.outer.nominal):
        pressed = j.press_fit.outer.nominal * (1.0 + j.press_fit.strain(grid)) - bore
    travel = _travel(h, grid)
    marks = {
        h.reference: "assembly", case.temperature_min: "minimum", case.temperature_max: "maximum",
        case.temperature: "normal",
    }  # fmt: skip
    return [
        {
            "temperature": units.quantity("temperature", t),
            "mark": marks.get(t),
            "phase": _phase(t),
            "seal_strain": _number(seal[i]),
            "shaft_strain": _number(shaft[i]),
            "housing_strain": _number(housing[i]),
            "shaft_diameter": units.quantity("length", float(fit.shaft[i])),
            "lip_diameter": units.quantity("length", float(fit.lip[i])),
            "interference": units.quantity("length", float(fit.interference[i])),
            "lip_load": units.quantity("line_load", float(load[i])),
            "bore_diameter": units.quantity("length", float(bore[i])),
            "body_diameter": units.quantity("length", float(body[i])),
            "body_clearance": units.quantity("length", float(bore[i] - body[i])),
            "o_ring_squeeze": None if squeeze is None else _number(squeeze[i]),
            "case_interference": None if pressed is None else units.quantity("length", float(pressed[i])),
            "energizer_deflection": None if travel is None else units.quantity("length", float(travel.deflection[i])),
            "energizer_load": None if travel is None else units.optional("line_load", float(travel.load[i])),
        }
        for i, t in enumerate(grid.tolist())
    ]


def _transition(j: Judged, units: UnitSystem) -> dict[str, Any]:
    h, case = j.hardware, j.case
    record = h.data.expansion.ptfe_transition.length_change
    ratio_ = case.compound.expansion_ratio.si
    pressure = ATMOSPHERE + max(float(case.pressure), 0.0)
    lower, upper = (expansion.transition_temperature(ATMOSPHERE, name) for name in ("II-IV", "IV-I"))
    change = ratio_ * record.si * (h.shaft.nominal - case.interference)
    return {
        "lower": units.quantity("temperature", lower),
        "upper": units.quantity("temperature", upper),
        "lower_at_pressure": units.optional("temperature", expansion.transition_temperature(pressure, "II-IV")),
        "upper_at_pressure": units.optional("temperature", expansion.transition_temperature(pressure, "IV-I")),
        "crossed": j.crossed,
        "least_length_change": _number(ratio_ * record.si_low),
        "length_change": _number(ratio_ * record.si),
        "greatest_length_change": _number(ratio_ * record.si_high),
        "lip_diameter_change": units.quantity("length", float(change)),
    }


def _after_heat(j: Judged, units: UnitSystem) -> dict[str, Any]:
    h = j.hardware
    hottest = float(j.case.temperature_max)
    left = expansion.diameter_after_confined_heating(
        h.body.nominal, h.bore.nominal, h.seal_strain(hottest), h.housing_strain(hottest),
        j.case.compound.set_fraction.si,
    )  # fmt: skip
    return {
        "body_diameter": units.quantity("length", float(left)),
        "lost_diameter": units.quantity("length", float(h.body.nominal - left)),
        "body_clearance": units.quantity("length", float(h.bore.nominal - left)),
    }


def _transition_caution(j: Judged, units: UnitSystem) -> dict[str, Any]:
    record = j.hardware.data.expansion.ptfe_transition.length_change
    low, high = (100.0 * j.case.compound.expansion_ratio.si * value for value in (record.si_low, record.si_high))
    lower, upper = (_at(units, expansion.transition_temperature(ATMOSPHERE, name)) for name in ("II-IV", "IV-I"))
    where = "The seal works in another phase than that in which it was measured. " if j.crossed else ""
    return {
        "id": "ptfe_transition",
        "text": f"{where}PTFE changes its length by {low:.2g} to {high:.2g} % over its transitions at about {lower} and "
        f"{upper}, depending on its thermal history; the curve spreads this over a wider range. Measure PTFE parts at a stated "
        "temperature, away from the transitions.",
    }


def check(request: ThermalFitRequest, engine: Engine) -> dict[str, Any]:
    """Answer a thermal fit."""
    rules, units = engine.rules(request), request.units.system_of_units()
    reference = request.assembly_temperature
    low, high = strain_range(rules.data)
    if reference is not None and not low <= reference <= high:
        raise refusal("out_of_domain", ("assembly_temperature",), "the expansion of PTFE is not known there",
                      accepted_range("temperature", low, high, "degC"))  # fmt: skip
    j = judge(request.duty, request.design, request.gland, reference, rules, units)

    def evaluate(duty: Duty, design: Design) -> list[Finding]:
        return judge(duty, design, request.gland, reference, rules, units).findings

    criteria = [
        criterion(finding, request.duty, request.design, rules, units, evaluate=evaluate) for finding in j.findings
    ]
    worst, whole = governing(j.findings), verdict(j.findings)
    chosen = next(item for item in criteria if item["id"] == worst.id)
    return {
        "verdict": whole,
        "summary": summary(whole, chosen, criteria),
        "governing": {key: chosen[key] for key in ("id", "title", "status", "utilization")},
        "criteria": criteria,
        "assembly_temperature": units.quantity("temperature", j.hardware.reference),
        "points": _points(request, j, units),
        "transition": _transition(j, units),
        "after_heat": _after_heat(j, units),
        "assumptions": assumptions(j.case, units),
        "cautions": [*cautions(j.case, request.duty.food_contact), _transition_caution(j, units)],
        "evidence": weakest([item["evidence"] for item in criteria if item["evidence"] is not None]),
        "stamp": engine.stamp("check_thermal_fit", request, rules),
        "working": _working(request, j) if request.working else None,
    }


def _working(request: ThermalFitRequest, j: Judged) -> list[dict[str, Any]]:
    # the working traces what is judged here, so it is brought in only when it is asked for
    from glandwise.checks import working_fit

    return working_fit.thermal_fit(j, request.duty, request.design, request.gland, request.assembly_temperature)
