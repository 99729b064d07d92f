"""What to expect of a seal in running: torque to start it, how long it may run dry, in which class it leaks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import floor, isfinite, log10, nan, pi
from typing import NamedTuple

import numpy as np

from glandwise.case.intake import Case, build
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.contract.duty import Duty
from glandwise.contract.running import HeatSurroundings
from glandwise.mechanics.choices import LipRoot
from glandwise.mechanics.heat import time_to_rise
from glandwise.mechanics.leakage import gas_leakage
from glandwise.mechanics.viscosity import sutherland_viscosity
from glandwise.numerics.trace import calm
from glandwise.physics.constants import ATMOSPHERE
from glandwise.questions.advice import Advice, Words
from glandwise.questions.envelope.operation import Finding
from glandwise.questions.friction import operation as friction
from glandwise.rules.loader import RuleSet
from glandwise.rules.model import RuleSetData

SHORTEST, LONGEST = 1.0, 3600.0
"""Dry runs that are told as a time [s]; a shorter one is none, a longer one is limited by something else."""


class Asked(NamedTuple):
    """A case with what was found of it."""

    case: Case
    duty: Duty
    design: FlexibleLip | EnergizedLip
    rules: RuleSet
    surroundings: HeatSurroundings
    findings: Mapping[str, Finding]
    """Criteria of the envelope, by name."""

    @property
    def data(self) -> RuleSetData:
        """The rule set."""
        return self.case.data


def expectations(asked: Asked) -> list[Advice]:
    """Return what to expect, the start first."""
    return [item for part in (_start, _dry_run, _leakage) for item in part(asked)]


# ------------------------------------------------------------------------------------------------------------- to start


def _start(asked: Asked) -> Iterator[Advice]:
    """Torque to start a new lip at the lowest temperature: friction of a start, which is the high end, after standing."""
    case, data = asked.case, asked.data
    known, factor = case.friction, data.gland.retention.breakaway_factor
    if known is None:
        return
    subject = friction.subject_of(case, HeatSurroundings())
    rows = np.repeat(subject.rows, 2)
    for name in ("rotational_speed", "surface_speed", "peak_speed"):
        rows[name] = 0.0
    rows["temperature"] = rows["temperature_min"]
    stated = subject.stated.copy()
    stated["ambient"] = rows["temperature_min"][0]  # at rest the air is as warm as the seal
    time = data.running.fresh_time
    mu = np.array([factor.si, factor.si_high]) * known.si_high
    found = subject._replace(stated=stated).found(rows, mu, 0.0, time.si, LipRoot.elastic)  # at rest there is no film
    usual, most = (float(value) for value in found["torque"])
    if not isfinite(usual):
        return
    text = Words(
        "Torque to start at {T} with a new lip: about {usual}, after a long stop up to {most}.",
        {"T": ("temperature", case.temperature_min), "usual": ("torque", usual), "most": ("torque", most)},
    )
    reason = Words(
        "A start is taken with the high end of friction, {mu}, times {f} after standing, and the load of a lip that has not "
        "relaxed.",
        {"mu": ("ratio", known.si_high), "f": ("ratio", factor.si_high)},
    )
    yield Advice("start_torque", text, reason, (known, factor, time), ("torque", usual))


# ------------------------------------------------------------------------------------------------------------- run dry


def _brief(seconds: float) -> str:
    """Say an estimated time with one digit, in the unit that suits it."""
    size, unit = next(
        (size, unit) for size, unit in ((3600.0, "h"), (60.0, "min"), (1.0, "s")) if seconds >= size or size == 1.0
    )
    return f"{float(f'{seconds / size:.1g}'):g} {unit}"


def _dry_run(asked: Asked) -> Iterator[Advice]:
    """How long a lip in a liquid may run dry, before the contact is as hot as its compound stands."""
    case, duty, rule = asked.case, asked.duty, asked.data.running.dry_run
    if case.fluid.phase == "gas" or case.lubrication == "dry" or not case.rotational_speed > 0.0:
        return
    dry = build(duty.model_copy(update={"lubrication": "dry"}), asked.design, asked.rules)
    known = dry.friction
    if known is None:
        return
    air = asked.data.running.fluid_film.gas  # where the liquid is not, there is air
    subject = friction.subject_of(dry, asked.surroundings.model_copy(update={"fluid_film": air.si}))
    found = friction.levels_of(dry, subject)
    limit = case.compound.temperature_max
    records = (known, limit, air, rule.shaft_density, rule.shaft_heat_capacity)
    running = found.high.running
    if running.converged and running.temperature <= limit.si:
        text = Words(
            "Dry the contact stays at {T} or below: a run without fluid harms by wear alone, not at once.",
            {"T": ("temperature", running.temperature)},
        )
        reason = Words(
            "Dry friction up to {mu} makes no more heat than the shaft carries off below {limit}.",
            {"mu": ("ratio", known.si_high), "limit": ("temperature", limit.si)},
        )
        yield Advice("dry_run", text, reason, records)
        return
    # of a balance that was not found the heat is not known; that of the load at the start is above it
    rows = np.repeat(subject.rows, 1)
    for name in ("rotational_speed", "surface_speed", "peak_speed"):
        rows[name] = 0.0
    still = subject.found(rows, known.si_high, 0.0, asked.data.running.fresh_time.si, LipRoot.heaviest)
    power = 2.0 * pi * dry.rotational_speed * float(still["torque"][0])
    k = float(found.around["shaft_conductivity"])
    rise = limit.si - max(case.temperature, case.temperature_max)
    room = calm(time_to_rise)(
        power, dry.shaft_diameter, dry.contact_width, k, rule.shaft_density.si, rule.shaft_heat_capacity.si, rise
    )
    if not isfinite(room) or room > LONGEST:
        return
    if room < SHORTEST:
        text = Words("Not to be run dry, not for a second: filled and vented before it turns.", {})
        value = None
    else:
        text = Words(f"May run dry for about {_brief(room)}, once, before its contact is too hot.", {})
        value = ("time", room)
    reason = Words(
        "Dry friction up to {mu} makes {P}, which the shaft takes up until the contact has {limit}.",
        {"mu": ("ratio", known.si_high), "P": ("power", power), "limit": ("temperature", limit.si)},
    )
    yield Advice("dry_run", text, reason, records, value)


# ------------------------------------------------------------------------------------------------------------- leakage


def _order(value: float) -> str:
    """Write a number as its power of ten."""
    return f"1e{floor(log10(value) + 0.5):+03d}"


def _gas_flow(case: Case, height: float) -> float:
    """Gas through a slit of some height under the whole contact [W]; NaN where a property is not known."""
    fluid = case.fluid
    if fluid.reference_viscosity is None or fluid.reference_temperature is None or fluid.sutherland_temperature is None:
        return nan
    eta = calm(sutherland_viscosity)(
        case.temperature, fluid.reference_temperature.si, fluid.reference_viscosity.si, fluid.sutherland_temperature.si
    )
    inside = float(ATMOSPHERE) + case.pressure
    high, low = max(inside, float(ATMOSPHERE)), min(inside, float(ATMOSPHERE))
    return float(calm(gas_leakage)(height, case.contact_width, pi * case.shaft_diameter, high, max(low, 0.0), eta))


_DOUBTFUL = ("runout", "offset", "shaft_roughness", "shaft_lead", "contaminants")


def _leakage(asked: Asked) -> Iterator[Advice]:
    """Class of leakage; never a number that a lip would be held to."""
    case, slit = asked.case, asked.data.requirements.leak_slit
    found = [asked.findings[name] for name in _DOUBTFUL if name in asked.findings]
    bad = [item for item in found if item.status == "fail"]
    open_ = [item for item in found if item.status in {"caution", "not_evaluated"}]
    named = ", ".join(asked.data.criteria[item.id].title for item in (bad or open_))
    records = (*(record for item in (bad or open_) for record in item.records), slit)
    if case.fluid.phase == "gas":
        low, high = _gas_flow(case, slit.si_low), _gas_flow(case, slit.si_high)
        flow = f", of the order of {_order(10.0 * low)} to {_order(10.0 * high)} mbar l/s" if low > 0.0 else ""
        text = Words(f"Gas passes the lip at all times{flow}: a lip is no hermetic seal.", {})
        reason = Words(
            "The contact is taken as a slit of {low} to {high}, which stands for its roughness.",
            {"low": ("roughness", slit.si_low), "high": ("roughness", slit.si_high)},
        )
        yield Advice("leakage_gas", text, reason, (slit, case.fluid))
    elif bad:
        text = Words("Leaks from the start.", {})
        yield Advice("leakage_open", text, Words(f"Beyond what the lip stands: {named}.", {}), records)
    elif open_:
        text = Words("Weeping: a moist shaft, a drop now and then; a drain or a second lip takes it up.", {})
        yield Advice("leakage_weeping", text, Words(f"Close to its limit or not stated: {named}.", {}), records)
    else:
        text = Words("Drop-tight once it has run in: a shaft that is moist at most, and no drop.", {})
        reason = Words("Shaft, runout and offset are within what the lip follows.", {})
        every = tuple(record for item in found for record in item.records)
        yield Advice("leakage_drop_tight", text, reason, (*every, slit))
