"""Other kinds of seal that would do for a duty, or that are the sounder choice: limits of the rules against the duty."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite
from typing import Literal, NamedTuple

from glandwise.contract.duty import Duty, Oscillation, Rotation
from glandwise.json_values import JsonObject
from glandwise.mechanics import kinematics
from glandwise.questions.advice import Part, Words, rests_on, within
from glandwise.rules.advice_model import Rubber
from glandwise.rules.model import Fluid, RuleSetData
from glandwise.rules.sourced import Records, Sourced
from glandwise.units import UnitSystem

SLACK = 1e-9
"""A limit stated in other units is the limit still."""


class Alternative(NamedTuple):
    """Another kind of seal."""

    id: Literal["elastomer_lip", "mechanical_face_seal", "packing", "labyrinth"]
    title: str
    verdict: Literal["would_do", "sounder"]
    reason: Words
    records: Records
    """Rules and fluid that it rests on."""

    def written(self, units: UnitSystem) -> JsonObject:
        """Write it in the units asked for."""
        return {
            "id": self.id,
            "title": self.title,
            "verdict": self.verdict,
            "reason": self.reason.written(units),
            **rests_on(self.records),
        }


class Seen(NamedTuple):
    """A duty as these rules look at it, in SI."""

    data: RuleSetData
    fluid: Fluid
    medium: str
    """`dry`, `aqueous` or `oil`; `dry` where the lip is said to run so."""
    has_solids: bool
    """Whether solids are in the fluid."""
    is_dirty: bool
    """Whether abrasive dirt comes from the air side."""
    diameter: float
    speed: float
    """Mean surface speed."""
    pressure: float
    """Less the pressure of the air side; negative for a vacuum."""
    coldest: float
    hottest: float
    eccentricity: float
    """Greater of runout and offset, taken as total readings; 0 where neither is stated."""

    @property
    def pv(self) -> float:
        """Product of sealed pressure and mean speed, a vacuum counting as none."""
        return max(self.pressure, 0.0) * self.speed

    @property
    def is_oil(self) -> bool:
        """Whether a liquid lubricates."""
        return self.fluid.phase == "liquid" and self.medium == "oil"

    @property
    def is_dry(self) -> bool:
        """Whether a gas or steam is sealed, or the lip runs dry."""
        return self.fluid.phase == "gas" or self.medium == "dry"

    @property
    def is_wet(self) -> bool:
        """Whether a liquid is sealed, a liquefied gas among them."""
        return self.fluid.phase in {"liquid", "liquefied_gas"}

    def words(self, text: str, **limits: Part) -> Words:
        """Return words about the duty and some limits."""
        duty: dict[str, Part] = {
            "fluid": within(self.fluid.title),
            "v": ("surface_speed", self.speed),
            "p": ("gauge_pressure", self.pressure),
            "pv": ("pressure_velocity", self.pv),
            "cold": ("temperature", self.coldest),
            "hot": ("temperature", self.hottest),
        }
        return Words(text, {**duty, **limits})


def mean_speed(duty: Duty) -> float:
    """Return the mean surface speed of a duty [m/s]."""
    d, motion = duty.shaft_diameter, duty.motion
    if isinstance(motion, Rotation):
        return kinematics.surface_speed(d, motion.rotational_speed)
    if isinstance(motion, Oscillation):
        return kinematics.oscillation_mean_speed(d, motion.half_amplitude, motion.frequency)
    return motion.surface_speed


def seen(duty: Duty, data: RuleSetData) -> Seen:
    """Return a duty as these rules look at it; its fluid is one of the rule set."""
    fluid, temperature = data.fluids[duty.fluid], duty.temperature
    offset = 0.0 if duty.offset is None else 2.0 * duty.offset
    return Seen(
        data, fluid, "dry" if (duty.lubrication or fluid.lubrication) == "dry" else fluid.medium,
        has_solids="abrasive" in fluid.hazards, is_dirty=duty.contaminants == "abrasive",
        diameter=duty.shaft_diameter, speed=mean_speed(duty), pressure=duty.pressure,
        coldest=temperature.normal if temperature.minimum is None else temperature.minimum,
        hottest=temperature.normal if temperature.maximum is None else temperature.maximum,
        eccentricity=max(0.0 if duty.runout is None else duty.runout, offset),
    )  # fmt: skip


def alternatives(duty: Duty, data: RuleSetData) -> list[Alternative]:
    """Return the other kinds of seal that a duty should be asked about; empty where PTFE lips are the usual choice."""
    case = seen(duty, data)
    return [
        item for item in (_elastomer_lip(case), _face_seal(case), _packing(case), _labyrinth(case)) if item is not None
    ]


# ------------------------------------------------------------------------------------------------------ elastomer lip


def _rubbers(case: Seen) -> Iterator[tuple[int, str, Rubber]]:
    """Yield the rubbers that stand speed, temperatures and fluid, with how well they stand the fluid."""
    for name, rubber in case.data.alternatives.elastomer_lip.rubbers.items():
        standing = case.fluid.compatibility.elastomers.get(name)
        fast = case.speed > rubber.surface_speed_max.si * (1.0 + SLACK)
        within = rubber.temperature_min.si - SLACK <= case.coldest and case.hottest <= rubber.temperature_max.si + 1e-6
        if standing in {"compatible", "caution"} and within and not fast:
            yield ("compatible", "caution").index(standing), name, rubber


def _elastomer_lip(case: Seen) -> Alternative | None:
    rule = case.data.alternatives.elastomer_lip
    lubricated = case.medium == "oil" and case.fluid.category in {"oil", "grease"}
    if not lubricated or abs(case.pressure) > rule.pressure_max.si * (1.0 + SLACK):
        return None
    careful, name, rubber = min(_rubbers(case), key=lambda item: item[0], default=(0, "", None))
    if rubber is None:
        return None
    records: list[Sourced] = [
        rule.pressure_max,
        rubber.surface_speed_max,
        rubber.temperature_min,
        rubber.temperature_max,
        case.fluid,
    ]
    text = (
        "A standard lip seal of {rubber} to ISO 6194 would do: it runs in {fluid}, up to {p_max} and {v_max} in good oil, "
        "from {T_min} to {T_max}; the duty has {p}, {v} and {cold} to {hot}."
    )
    low = rubber.surface_speed_max.si_low
    if isfinite(low) and case.speed > low:
        text += " Above {v_usual} it needs plenty of oil."
    if careful:
        text += " The fluid needs care with {rubber}: ask for its compound."
    if case.is_dirty:
        text += " Abrasive dirt asks for a lip against it and grease behind."
    if case.eccentricity > rule.eccentricity_max.si:
        records.append(rule.eccentricity_max)
        text += " Its bore should run true to the shaft within {e_max}, or its lip be made for more."
    text += " PTFE is needed only where friction, running dry or a longer life asks for it."
    return Alternative(
        "elastomer_lip", rule.title, "would_do",
        case.words(
            text, rubber=name, p_max=("gauge_pressure", rule.pressure_max.si), v_max=("surface_speed", rubber.surface_speed_max.si),
            v_usual=("surface_speed", low), T_min=("temperature", rubber.temperature_min.si),
            T_max=("temperature", rubber.temperature_max.si), e_max=("length", rule.eccentricity_max.si),
        ),
        tuple(records),
    )  # fmt: skip


# ---------------------------------------------------------------------------------------------------------- face seal


def _face_seal(case: Seen) -> Alternative | None:
    rule, fluid = case.data.alternatives.mechanical_face_seal, case.fluid
    if fluid.phase in {"grease", "paste"}:
        return None
    if case.is_wet:
        toxic = "toxic" in fluid.hazards and not case.is_oil
        kinds = [(rule.liquid, "liquids that do not lubricate")]
        if case.is_oil:
            kinds = [(rule.oil, "lubricating liquids")] if case.speed > rule.oil_speed.si else []
        elif toxic:
            kinds.append((rule.toxic, "toxic liquids, which a worn lip lets out"))
    else:
        slow = case.speed <= case.data.alternatives.labyrinth.dry_speed.si  # above, nothing that rubs lives in gas
        kinds = [(rule.dry, "gases and steam")] if slow and not case.has_solids else []
    for limit, what in kinds:
        if case.pv > limit.si * (1.0 + SLACK):
            kind = {
                "gas": "A face seal with faces for dry running, or with a barrier of gas or liquid,",
            }.get(fluid.phase, "A mechanical face seal")
            reason = case.words(
                f"{kind} is the sounder choice: pressure times speed is {{pv}} ({{p}} at {{v}}), above the {{limit}} up to"
                f" which a lip is reasonable in {what}.",
                limit=("pressure_velocity", limit.si),
            )
            return Alternative(
                "mechanical_face_seal",
                rule.title,
                "sounder",
                reason,
                (limit, *((rule.oil_speed,) if case.is_oil and case.is_wet else ()), fluid),
            )
    return None


# ------------------------------------------------------------------------------------------------------------ packing


def _packing(case: Seen) -> Alternative | None:
    rule = case.data.alternatives.packing

    def item(verdict: Literal["would_do", "sounder"], text: str, records: Records, **limits: Part) -> Alternative:
        return Alternative("packing", rule.title, verdict, case.words(text, **limits), records)

    if case.hottest > rule.temperature_above.si:
        text = (
            "A packing of graphite is the sounder choice: {hot} is above {T}, where PTFE has hardly any strength left."
        )
        above = rule.temperature_above
        return item("sounder", text, (above,), T=("temperature", above.si))
    if case.hottest > rule.temperature_under_pressure.si and case.pressure > rule.pressure_when_hot.si:
        T, p = rule.temperature_under_pressure, rule.pressure_when_hot
        text = "A packing of graphite is the sounder choice: PTFE creeps under {p} at {hot}; the limits are {p_hot} above {T}."
        return item("sounder", text, (T, p), T=("temperature", T.si), p_hot=("gauge_pressure", p.si))
    if case.has_solids and not case.is_oil and case.fluid.category != "oil" and case.speed <= rule.solids_speed.si:
        text = (
            "A stuffing box with flushed packing would do: {fluid} carries solids, which wear every lip, and up"
            " to {v_max} a packing is renewed and tightened in place; the duty has {v}."
        )
        limit = rule.solids_speed
        return item("would_do", text, (limit, case.fluid), v_max=("surface_speed", limit.si))
    stem, pressed = rule.stem_speed, rule.stem_pressure
    if case.speed <= stem.si and case.pressure >= pressed.si * (1.0 - SLACK) and case.fluid.phase != "grease":
        text = (
            "A packing would do: the shaft moves like a stem, at {v} in the mean (up to {v_max}), and from {p_min} on stems"
            " are packed with PTFE or graphite that can be tightened in place; the duty has {p}."
        )
        limits: dict[str, Part] = {"v_max": ("surface_speed", stem.si), "p_min": ("gauge_pressure", pressed.si)}
        return item("would_do", text, (stem, pressed), **limits)
    return None


# ---------------------------------------------------------------------------------------------------------- labyrinth


def _labyrinth(case: Seen) -> Alternative | None:
    rule, v = case.data.alternatives.labyrinth, case.speed

    def item(verdict: Literal["would_do", "sounder"], text: str, records: Records, **limits: Part) -> Alternative:
        return Alternative("labyrinth", rule.title, verdict, case.words(text, **limits), records)

    if case.is_dry and case.fluid.phase == "gas" and v > rule.dry_speed.si:
        text = (
            "A seal that does not touch is the sounder choice: above {limit} a lip in gas wears through within days to weeks,"
            " and the duty has {v}; a little leakage of gas is the price."
        )
        return item("sounder", text, (rule.dry_speed, case.fluid), limit=("surface_speed", rule.dry_speed.si))
    if v > rule.any_speed.si:
        text = "A seal that does not touch is the sounder choice: {v} is above {limit}, where what rubs runs hot in any fluid."
        return item("sounder", text, (rule.any_speed,), limit=("surface_speed", rule.any_speed.si))
    if case.pv > rule.heat.si:
        text = (
            "A close gap or a floating ring, its leakage drained, is the sounder choice: pressure times speed is {pv} ({p} at"
            " {v}), above {limit}, where nothing that rubs is cooled."
        )
        return item("sounder", text, (rule.heat,), limit=("pressure_velocity", rule.heat.si))
    if (case.has_solids or case.is_dirty) and v > rule.abrasive_speed.si:
        text = "A labyrinth, with sealing air if need be, is the sounder choice: above {limit} solids wear any lip; the duty has {v}."
        return item("sounder", text, (rule.abrasive_speed,), limit=("surface_speed", rule.abrasive_speed.si))
    if not case.is_dry and v > rule.open_speed.si and abs(case.pressure) <= rule.open_pressure.si * (1.0 + SLACK):
        text = (
            "A labyrinth with a drain would do: next to no pressure, {p}, presses the fluid out, and above {limit} one is usual"
            " since it never wears; the duty has {v}."
        )
        records = (rule.open_speed, rule.open_pressure)
        return item("would_do", text, records, limit=("surface_speed", rule.open_speed.si))
    return None
