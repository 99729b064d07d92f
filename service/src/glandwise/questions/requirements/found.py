"""What has to stand on the drawing of the hardware so that a verdict holds, chosen by what the duty needs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import isfinite, nan
from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.choices import Retention
from glandwise.case.hardware_intake import Fit, bridged_by, greatest_clearance, throat_fit, usual_heel_of
from glandwise.case.intake import Case
from glandwise.case.tolerances import size_step_value
from glandwise.contract.duty import Duty
from glandwise.contract.gland import Gland
from glandwise.mechanics import fits
from glandwise.mechanics.choices import LipDirection
from glandwise.questions.advice import Advice, Part, Words, within
from glandwise.questions.envelope.operation import Finding
from glandwise.rules.model import RuleSetData
from glandwise.rules.sourced import Records

if TYPE_CHECKING:
    from glandwise.questions.gland.operation import GlandJudged


class Held(NamedTuple):
    """What a gland check found of the hardware, in SI."""

    bridged_gap: float
    """Least radial gap over which the heel would bridge the pressure, over the temperatures; infinite where it bridges any."""
    clamp_force: float
    """Of a clamped flange; NaN where nothing is clamped."""
    heel: float
    """Thickness of what bridges the gap."""
    lip_torque: float
    """Greatest torque of the lips against what holds the seal; NaN where it is not known."""
    turning: str
    """Status of that."""
    records: Records
    """What that rests on."""


def held_of(judged: GlandJudged) -> Held:
    """Return what a judged gland says of the hardware."""
    clamped = judged.retention == Retention.clamped_flange
    turning = judged.by_id("seal_rotation")
    torque = nan if turning.measure is None else turning.measure.demand
    return Held(
        float(judged.out["bridged_gap"][1:].min()),
        float(judged.row["clamp_force"]) if clamped else nan,
        float(judged.row["heel"]),
        torque,
        turning.status,
        turning.records,
    )


class Wanted(NamedTuple):
    """A case with what was measured of it."""

    case: Case
    duty: Duty
    gland: Gland
    retention: str
    findings: Mapping[str, Finding]
    """Criteria of the envelope, by name."""
    held: Held | None

    @property
    def data(self) -> RuleSetData:
        """The rule set."""
        return self.case.data

    @property
    def fit(self) -> Fit | None:
        """The fit of the throat that the pressure asks for."""
        bridged = bridged_by(self.case, self.heel)
        return throat_fit(self.data, self.case.shaft_diameter, self.case.pressure, bridged)

    @property
    def heel(self) -> float:
        """Thickness of what bridges the gap [m]: as it was judged, else that of the rules."""
        if self.held is not None:
            return self.held.heel
        return usual_heel_of(self.case)

    @property
    def is_turned(self) -> bool:
        """Whether the lip points to the air side."""
        return bool(self.case.row[0]["lip_direction"] == LipDirection.away)

    @property
    def has_solids(self) -> bool:
        """Whether solids are in the fluid."""
        return "abrasive" in self.case.fluid.hazards

    @property
    def is_food(self) -> bool:
        """Whether food is sealed."""
        return self.duty.food_contact or self.case.fluid.category == "food"


def requirements(wanted: Wanted) -> list[Advice]:
    """Return what the hardware has to be like, the gap first."""
    parts = (
        _throat,
        _pressure_limits,
        _housing,
        _back_up_ring,
        _retention,
        _hardness,
        _coating,
        _finish,
        _lead,
        _chamfer,
        _fitting,
        _guidance,
        _flange,
        _air_side,
        _barrier,
        _purge,
        _quench,
        _food,
    )
    return [item for part in parts for item in part(wanted)]


def _plain(text: str, **parts: Part) -> Words:
    return Words(text, parts)


# --------------------------------------------------------------------------------------------------- gap and pressure


def _throat(wanted: Wanted) -> Iterator[Advice]:
    fit, case, data = wanted.fit, wanted.case, wanted.data
    if fit is None:
        return
    d, p = case.shaft_diameter, case.pressure
    widest = data.gland.extrusion.gap_max
    records = tuple(record for part in ("shaft", "throat") for _, record in fit.of(part))
    clearance = greatest_clearance(data, fit.rule, d)
    bridged = nan if wanted.held is None else wanted.held.bridged_gap
    allowed = min(widest.si, bridged) if bridged == bridged else widest.si
    if wanted.gland.throat_diameter is None or wanted.gland.shaft_tolerance is None:
        classes = "Throat of the housing to {throat} and shaft to {shaft} at the seal"
        told: dict[str, Part] = {"throat": fit.rule.throat.name, "shaft": fit.rule.shaft.name, "d": ("length", d)}
        text = _plain(f"{classes}: radial gap at most {{gap}} at {{d}}.", gap=("length", clearance), **told)
        if clearance != clearance:
            text = _plain(f"{classes}, or closer; the tables of tolerances end below {{d}}.", **told)
        reason = _plain(
            "{p} pushes the heel into the gap behind it, which is looked at with the shaft at one side.",
            p=("gauge_pressure", p),
        )
        yield Advice("throat_fit", text, reason, (*records, data.gland.it_grades), ("length", clearance))
    text = _plain(
        "Radial gap between shaft and throat at most {gap} everywhere, runout, wear of the bearings and heat counted.",
        gap=("length", allowed),
    )
    why = (
        "The heel bridges {p} over no more than that"
        if allowed < widest.si
        else "No wider gap is left to PTFE under {p}"
    )
    reason = _plain(f"{why}, at the temperatures of the duty.", p=("gauge_pressure", p))
    yield Advice("gap", text, reason, (widest, case.compound.yield_strength), ("length", allowed))


def _pressure_limits(wanted: Wanted) -> Iterator[Advice]:
    """What peaks, pulses and the other side may bring; only where there is pressure."""
    found, p = wanted.findings, wanted.case.pressure
    forward = [found[name] for name in ("pressure", "extrusion_gap") if name in found]
    capacities = [m.capacity for item in forward if (m := item.measure) is not None and isfinite(m.capacity)]
    reverse = found["vacuum"].measure if "vacuum" in found else None
    if p == 0.0 or not capacities or reverse is None or not isfinite(reverse.capacity):
        return
    most, back = min(capacities), reverse.capacity
    behind = "fluid" if wanted.is_turned else "air"
    text = _plain(
        f"Pressure at the seal at most {{most}}, every peak and pulse counted; from the {behind} side, at a stop or a flush as "
        "well, at most {back}.",
        most=("gauge_pressure", most), back=("gauge_pressure", back),
    )  # fmt: skip
    reason = _plain(
        "A pulse loads lip and heel as its peak does and creeps into the gap a little each time; pressure from behind "
        "lifts the lip. Where it comes from both sides in turn, two lips face away from each other."
    )
    records = (*(record for item in forward for record in item.records), *found["vacuum"].records)
    yield Advice("pressure_limits", text, reason, records, ("gauge_pressure", most))


def _retention(wanted: Wanted) -> Iterator[Advice]:
    """What has to hold the seal in its bore, where the torque of its lips asks for more than is held with a margin."""
    held = wanted.held
    if held is None or not isfinite(held.lip_torque) or held.turning == "pass":
        return
    rule = wanted.data.gland.retention
    least = held.lip_torque * rule.margin_min.si
    text = _plain(
        "Seal kept from turning by a pin, a key or a notch in its flange, or by what holds at least {M} cold and hot.",
        M=("torque", least),
    )
    reason = _plain(
        "The lips drag with up to {M} when they start cold, and what is proposed to hold the seal leaves no margin of {n}.",
        M=("torque", held.lip_torque), n=("ratio", rule.margin_min.si),
    )  # fmt: skip
    yield Advice("retention", text, reason, (rule.margin_min, rule.breakaway_factor, *held.records), ("torque", least))


def _housing(wanted: Wanted) -> Iterator[Advice]:
    fit, p = wanted.fit, wanted.case.pressure
    if fit is None or wanted.duty.bore.material is not None:
        return
    material, ratio = fit.rule.housing, wanted.data.gland.housing.outer_diameter_ratio
    text = _plain(
        "Housing of {material}, or stiffer, with an outside diameter of at least {ratio} bores.",
        material=within(wanted.data.shaft_materials[material.name].title), ratio=("ratio", ratio.si),
    )  # fmt: skip
    reason = _plain("{p} widens the bore and with it the gap.", p=("gauge_pressure", p))
    yield Advice("housing", text, reason, (material, ratio))


def _back_up_ring(wanted: Wanted) -> Iterator[Advice]:
    above, p = wanted.data.requirements.back_up_ring_above, wanted.case.pressure
    if p > above.si:
        text = _plain(
            "Floating back-up ring of a stiffer material behind the heel, close to the shaft and free to follow it."
        )
        reason = _plain(
            "{p} is above {limit}, where no throat that clears a shaft is close enough.",
            p=("gauge_pressure", p),
            limit=("gauge_pressure", above.si),
        )
        yield Advice("back_up_ring", text, reason, (above,))


# -------------------------------------------------------------------------------------------------------------- shaft


def _hardness(wanted: Wanted) -> Iterator[Advice]:
    rule, case = wanted.data.requirements, wanted.case
    fillers = case.compound.shaft_hardness_min
    is_fast = case.surface_speed > rule.fast.si
    usual = rule.hardness_fast if is_fast else rule.hardness
    least = max(fillers.si, usual.si)
    text = _plain("Surface of the shaft under the lip at least {H}.", H=("hardness_hrc", least))
    reason = _plain(
        "Below it the lip cuts a groove: the compound asks for {fillers}, lip seals for {usual} "
        f"{'above' if is_fast else 'up to'} {{v}}.",
        fillers=("hardness_hrc", fillers.si), usual=("hardness_hrc", usual.si), v=("surface_speed", rule.fast.si),
    )  # fmt: skip
    yield Advice("hardness", text, reason, (fillers, usual, rule.fast), ("hardness_hrc", least))


def _coating(wanted: Wanted) -> Iterator[Advice]:
    rule, case, shaft = wanted.data.requirements, wanted.case, wanted.duty.shaft
    dirty = wanted.has_solids or wanted.duty.contaminants == "abrasive"
    hard = case.hardness
    if dirty and not hard > rule.hardness_solids.si:
        text = _plain(
            "Surface under the lip coated: carbide, chromium oxide or a hard sleeve, at least {H}.",
            H=("hardness_hrc", rule.hardness_solids.si),
        )
        reason = _plain("Solids bed into the lip and cut a softer shaft.")
        yield Advice(
            "coating", text, reason, (rule.hardness_solids, case.fluid), ("hardness_hrc", rule.hardness_solids.si)
        )
    elif "corrosive" in case.fluid.hazards and shaft.material is None:
        text = _plain(
            "Surface under the lip hard and proof against {fluid}: a dense ceramic coat, or an alloy that stands it.",
            fluid=within(case.fluid.title),
        )
        reason = _plain("The fluid is corrosive, and pits tear the lip; hardness alone says nothing of that.")
        yield Advice("coating", text, reason, (case.fluid,))
    elif wanted.duty.contaminants in {"wet", "submerged"} and shaft.material is None:
        text = _plain("Surface under the lip hard and proof against rust: stainless, chromium plated or coated.")
        reason = _plain("Water comes to it from the air side, and rust cuts the lip.")
        yield Advice("coating", text, reason, wanted.findings["contaminants"].records)
    elif hard < case.compound.shaft_hardness_min.si:
        least = case.compound.shaft_hardness_min
        text = _plain(
            "Surface under the lip hardened, plated or sleeved to at least {H}.", H=("hardness_hrc", least.si)
        )
        reason = _plain("The shaft has {H}, less than the compound asks for.", H=("hardness_hrc", hard))
        yield Advice("coating", text, reason, (least,), ("hardness_hrc", least.si))


def _finish(wanted: Wanted) -> Iterator[Advice]:
    rule, case = wanted.data.requirements, wanted.case
    is_oil = case.medium == "oil"
    finish = rule.finish_oil if is_oil else rule.finish_other
    text = _plain(
        "Finish of the shaft under the lip Ra {low} to {high}, ground in plunge and polished.",
        low=("roughness", finish.si_low), high=("roughness", finish.si),
    )  # fmt: skip
    why = "Oil wants some texture to stay; " if is_oil else "No film covers the peaks; "
    reason = _plain(
        why + "the compound bears no more than Ra {most}, and rougher shafts wear it faster.",
        most=("roughness", case.compound.shaft_roughness_max.si),
    )
    yield Advice("finish", text, reason, (finish, case.compound.shaft_roughness_max), ("roughness", finish.si))


def _lead(wanted: Wanted) -> Iterator[Advice]:
    limit = wanted.data.requirements.lead_angle
    text = _plain(
        "No lead on the shaft under the lip: at most {angle}, by a thread with a weight in both senses of turning.",
        angle=("angle", limit.si),
    )
    reason = _plain("A helix left by machining pumps fluid past the lip; plunge grinding can leave one as well.")
    yield Advice("lead", text, reason, (limit,), ("angle", limit.si))


def _chamfer(wanted: Wanted) -> Iterator[Advice]:
    gland, d = wanted.data.gland, wanted.case.shaft_diameter
    table, angle = gland.shaft_lead_in, gland.shaft_lead_in_angle
    reduction = size_step_value(d, table.si_over, table.si_up_to, table.si_columns["reduction"])
    if reduction != reduction:
        return
    small = fits.shaft_lead_in(d, reduction, angle.max.si).small_diameter
    text = _plain(
        "Lead-in chamfer on the shaft from {small}, at {low} to {high} to the axis, edges rounded and polished.",
        small=("length", small), low=("angle", angle.min.si), high=("angle", angle.max.si),
    )  # fmt: skip
    reason = _plain("A lip that is pushed over a sharp edge is cut before it ever runs.")
    yield Advice("chamfer", text, reason, (table, angle.min, angle.max), ("length", small))


def _fitting(wanted: Wanted) -> Iterator[Advice]:
    """How the lip comes on its shaft: over a cone, warm where it is stretched far, and in which order."""
    rule, case = wanted.data.requirements, wanted.case
    stretch = case.interference / (case.shaft_diameter - case.interference)
    cone = "Fitted over a polished cone of at most {angle} to the axis, lip first, edges and threads covered"
    if stretch > rule.fitting_stretch.si:
        text = _plain(
            f"{cone}; the lip warmed to {{T}} just before and left on a dummy shaft until it has shrunk to size.",
            angle=("angle", rule.fitting_angle.si), T=("temperature", rule.fitting_temperature.si),
        )  # fmt: skip
        reason = _plain(
            "The lip is stretched by {e} over the shaft: cold PTFE is stiff, and what is forced on stays wide for long.",
            e=("ratio", float(f"{stretch:.2g}")),
        )
        records: Records = (rule.fitting_angle, rule.fitting_temperature, rule.fitting_stretch)
    else:
        text = _plain(
            f"{cone}; the shaft wetted with the fluid or its grease, and the lip warmed to at most {{T}} where it goes on hard.",
            angle=("angle", rule.fitting_angle.si), T=("temperature", rule.fitting_temperature.si),
        )  # fmt: skip
        reason = _plain("PTFE takes no edge back: what is scratched or folded in fitting leaks from the first hour.")
        records = (rule.fitting_angle, rule.fitting_temperature)
    yield Advice("fitting", text, reason, records, ("angle", rule.fitting_angle.si))


def _guidance(wanted: Wanted) -> Iterator[Advice]:
    found, duty = [wanted.findings[name] for name in ("runout", "offset") if name in wanted.findings], wanted.duty
    m = next((item.measure for item in found if item.id == "runout"), None)
    near = [item.status in {"caution", "fail"} for item in found]
    if m is None or not isfinite(m.capacity) or not (wanted.fit is not None or duty.runout is None or any(near)):
        return
    records = next(item.records for item in found if item.id == "runout")
    tir, share = max(m.capacity, 0.0), wanted.data.requirements.bearing_play_share
    text = _plain(
        "Shaft guided beside the seal: runout at the lip at most {tir}, total indicator reading; of that at most {play} by play "
        "of the bearings, the rest by deflection and form of the shaft.",
        tir=("length", tir), play=("length", share.si * tir),
    )  # fmt: skip
    if any(near):
        reason = _plain("What is stated comes near to or goes beyond what the lip follows.")
    elif duty.runout is None:
        reason = _plain("The runout is not stated, and this is what the lip follows at that speed.")
    else:
        reason = _plain("Under pressure a shaft that wanders opens the gap behind the heel.")
    yield Advice("shaft_guidance", text, reason, (*records, share), ("length", tir))


def _flange(wanted: Wanted) -> Iterator[Advice]:
    if wanted.retention != "clamped_flange":
        return
    rule = wanted.data.gland.retention
    force = nan if wanted.held is None else wanted.held.clamp_force
    reason = _plain("The seal is held against turning by its flange; PTFE creeps, so that part of the force is lost.")
    if force == force:
        text = _plain("Housing in two parts that clamp the flange of the seal all round with {F}.", F=("force", force))
        yield Advice("flange", text, reason, (rule.clamp_aim, rule.clamp_force_kept), ("force", force))
    else:
        text = _plain("Housing in two parts that clamp the flange of the seal all round.")
        yield Advice("flange", text, reason, (rule.clamp_force_kept,))


# ------------------------------------------------------------------------------------------------ what is around it


def _air_side(wanted: Wanted) -> Iterator[Advice]:
    """Clean air, where the duty does not say what comes from there and nothing keeps dirt out."""
    design = wanted.case.features
    if (
        wanted.duty.contaminants is not None
        or design.get("second_lip") == "excluder"
        or design.get("lip_form") == "scraper"
    ):
        return
    guard = "an excluder before the main lip" if wanted.case.family == "flexible_lip" else "a scraper lip"
    text = _plain(
        f"No dust, splash or dirt at the lip from the air side: a shield, a slinger or a cover; else {guard}."
    )
    reason = _plain(
        "What comes from the air side is not stated, and clean air is taken: dirt that reaches a lip wears it in days."
    )
    yield Advice("air_side", text, reason, wanted.findings["contaminants"].records)


def _barrier(wanted: Wanted) -> Iterator[Advice]:
    case, vacuum = wanted.case, wanted.data.requirements.barrier_vacuum
    hazards = set(case.fluid.hazards)
    text = "Second seal behind the first, with a vent, a barrier fluid or a purge between and a way to see a leak"
    acid = "corrosive" in hazards and case.fluid.category in {"acid", "alkali", "oxidizer"}
    named = [hazard for hazard in ("toxic", "flammable", "oxygen") if hazard in hazards]
    if named or acid:
        what = " and ".join(named or ["corrosive"]).replace("oxygen", "rich in oxygen")
        reason = _plain("{fluid} is {what}: one lip is no containment.", fluid=case.fluid.title, what=what)
        yield Advice("second_barrier", _plain(f"{text}."), reason, (case.fluid,))
    elif wanted.is_food and case.pressure > 0.0 and case.fluid.phase != "paste":
        reason = _plain("Hygienic service: what passes the lip must neither come back nor stay behind it.")
        yield Advice("second_barrier", _plain(f"{text}; the space between can be rinsed."), reason, (case.fluid,))
    elif case.pressure <= -vacuum.si and case.fluid.phase in {"liquid", "liquefied_gas"}:
        reason = _plain(
            "{p}: a lip that keeps air out lets liquid go at rest, and one that keeps liquid back draws air.",
            p=("gauge_pressure", case.pressure),
        )
        yield Advice("second_barrier", _plain(f"{text}; two lips back to back."), reason, (vacuum,))
    elif wanted.duty.contaminants == "submerged":
        reason = _plain(
            "Water stands at the air side: each lip holds one way only, and which side presses more may turn round."
        )
        yield Advice(
            "second_barrier",
            _plain(f"{text}; two lips back to back."),
            reason,
            (wanted.findings["contaminants"].records),
        )
    elif wanted.has_solids and case.pressure > 0.0 and wanted.duty.contaminants == "abrasive":
        reason = _plain(
            "Solids under pressure on one side and dirt on the other: a single lip is cut before it is worn."
        )
        yield Advice("second_barrier", _plain(f"{text}."), reason, (case.fluid,))


def _purge(wanted: Wanted) -> Iterator[Advice]:
    fluid = wanted.case.fluid
    if wanted.has_solids:
        kind = "Gas" if fluid.phase == "gas" else "Clean flush or grease"
        text = _plain(
            f"{kind} fed between the lips towards the fluid, at more than its pressure of {{p}}.",
            p=("gauge_pressure", max(wanted.case.pressure, 0.0)),
        )
        reason = _plain("{fluid} carries solids, which have to be kept off the lip.", fluid=fluid.title)
        yield Advice("purge", text, reason, (fluid,), ("gauge_pressure", max(wanted.case.pressure, 0.0)))


def _quench(wanted: Wanted) -> Iterator[Advice]:
    fluid = wanted.case.fluid
    if fluid.crystallises:
        text = _plain(
            "Quench on the air side: what dries there is rinsed with clean water or kept wet and warm; drain below the shaft."
        )
        reason = _plain("{fluid} dries to hard crystals at the lip, which score lip and shaft.", fluid=fluid.title)
        yield Advice("quench", text, reason, (fluid, wanted.data.running.wear.fluids.crystals))


def _food(wanted: Wanted) -> Iterator[Advice]:
    if not wanted.is_food:
        return
    compound, rules = wanted.case.compound, wanted.data.fillers
    known = [rules[name] for name in compound.fillers if name in rules]
    names = "; ".join(f"{within(rule.title)} ({rule.regulation})" for rule in known)
    fillers = " and of its fillers: {fillers}" if names else ""
    text = _plain(
        f"Declaration of the supplier for food contact of the finished part, of the resin (21 CFR 177.1550){fillers}.",
        fillers=names,
    )
    reason = _plain("Food is sealed, and no compound complies by its recipe alone; nothing here declares that it does.")
    yield Advice("food_declaration", text, reason, tuple(known) or (wanted.case.fluid,))
