"""What temperature does to the fits of a seal: lip on shaft, body in bore, energizer in its space.

The curve shows nominal dimensions; the verdict takes the tolerances and the temperature of the duty that are worst for
each criterion. What is measured and said stands in :mod:`glandwise.questions.thermal_fit`, one file a criterion.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from glandwise.case.choices import Retention
from glandwise.case.hardware_intake import check_temperatures, resolve, strain_range, unknown_strain
from glandwise.case.intake import Limit, build
from glandwise.engine import Engine
from glandwise.json_values import JsonObject
from glandwise.mechanics import expansion
from glandwise.mechanics.choices import PtfeTransition
from glandwise.numerics.worksheet import written
from glandwise.physics.constants import ATMOSPHERE
from glandwise.questions.arrays import Floats, Table
from glandwise.questions.envelope import operation as envelope
from glandwise.questions.envelope.measure import Measure, status_of
from glandwise.questions.envelope.operation import (
    Finding,
    criterion,
    governing,
    verdict,
    weakest_of,
    written_governing,
)
from glandwise.questions.gland import judge as glands
from glandwise.questions.gland.explain import Told, numbers
from glandwise.questions.gland.operation import PARTS, TEMPERATURES, GlandJudged, summary
from glandwise.questions.report import NOTHING, assumptions, cautions, grounds
from glandwise.questions.thermal_fit import judge as fits
from glandwise.questions.thermal_fit import kernel
from glandwise.questions.thermal_fit import written as part
from glandwise.questions.thermal_fit.criteria import body_in_bore, energizer_deflection
from glandwise.questions.thermal_fit.judged import Found

if TYPE_CHECKING:
    from glandwise.contract.design import EnergizedLip, FlexibleLip
    from glandwise.contract.duty import Duty
    from glandwise.contract.gland import Gland
    from glandwise.contract.thermal_fit import ThermalFitRequest
    from glandwise.rules.loader import RuleSet
    from glandwise.rules.model import RuleSetData
    from glandwise.units import UnitSystem

    Design = FlexibleLip | EnergizedLip

STEPS = 61
"""Temperatures at which the range of the duty is judged; the curves are piecewise smooth between."""


class ThermalJudged(GlandJudged):
    """One case over the temperatures of its duty."""

    grid: Floats
    """Temperatures at which the range of the duty is judged [K]."""
    fits: Table
    """What was found at each of them; see :data:`glandwise.questions.thermal_fit.kernel.OUT`."""

    def fits_at(self, temperatures: Floats | Sequence[float]) -> Table:
        """Return the fits at some temperatures [K]."""
        grid = np.ascontiguousarray(temperatures, dtype=np.float64)
        return fits.measured(self.case.data, grid, self.rows, self.hardware_rows, self.compounds)

    def worst(self, name: str) -> int:
        """Return where on the grid a criterion is used most."""
        return int(np.argmax(self.fits["utilization"][:, kernel.IDS.index(name)]))

    def fit_finding(self, name: str) -> Finding:
        """Judge one criterion over the range of the duty."""
        case, module, worst = self.case, kernel.MEASURED[kernel.IDS.index(name)], self.worst(name)
        row, T = self.fits[worst], float(self.grid[worst])
        m = Measure(*(float(row[part][kernel.IDS.index(name)]) for part in PARTS))
        status = status_of(m.utilization, case.data.criteria[name].caution_at.si)
        made = float(row["as_made"]) if name == "energizer_deflection" else float(case.interference)

        def words(units: UnitSystem) -> str:
            return str(module.words(Found(module.DIMENSION, m, status, T, made, case.energizer, row, units)))

        rests_on = partial(self.explained.rests_on, Told.fit, name, T)
        return Finding(
            name, status, envelope.Measure(module.DIMENSION, *m[:3], Limit(m.capacity, (), ())), words, rests_on
        )

    def body_finding(self) -> Finding:
        """Judge what holds the body in its bore."""
        if self.retention == Retention.press_fit_case:
            return self.finding("press_fit")._replace(id="body_in_bore")
        if self.retention == Retention.clamped_flange:
            return Finding("body_in_bore", "pass", None, body_in_bore.CLAMPED, NOTHING)
        if not self.has_ring:
            limits = self.case.data.gland.o_ring_gland
            rests_on = grounds((limits.squeeze_service_min, limits.squeeze_service_max))
            return Finding("body_in_bore", "not_evaluated", None, body_in_bore.MISSING, rests_on)
        return self.fit_finding("body_in_bore")

    def working(self) -> list[JsonObject]:
        """Return the steps to every criterion, each at its worst temperature."""
        measures = [self.told.temperature(name) for name in TEMPERATURES]
        if self.retention == Retention.press_fit_case:
            m = self.measure("press_fit")
            measures += [self.told.measure("press_fit", m.which)] if m.capacity == m.capacity else []
        names = [
            *(["body_in_bore"] if self.retention == Retention.o_ring and self.has_ring else []),
            "lip_interference",
            *(["energizer_deflection"] if self.case.energizer is not None else []),
        ]
        measures += [self.told.fit(name, float(self.grid[self.worst(name)])) for name in names]
        return written(*map(numbers, measures))

    @property
    def crosses(self) -> bool:
        """Whether the seal works at any temperature in another phase than that in which it was measured."""
        reference, pressure = self.temperatures.assembly, ATMOSPHERE + max(float(self.case.pressure), 0.0)
        for transition in PtfeTransition:
            for T in (self.temperatures.minimum, self.temperatures.maximum):
                found = expansion.crosses_transition(reference, T, pressure, transition)
                if found != found:  # beyond what was measured: the transition lies higher still
                    found = float(reference > expansion.transition_temperature(ATMOSPHERE, transition))
                if found:
                    return True
        return False


def grid_over(data: RuleSetData, low: float, normal: float, high: float) -> Floats:
    """Return the temperatures at which the range of a duty is judged [K]."""
    knots = [value for value in data.expansion.ptfe_unfilled.si_temperature if low < value < high]
    return np.unique([*np.linspace(low, high, STEPS), *knots, normal])


def judge(duty: Duty, design: Design, gland: Gland, reference: float | None, rules: RuleSet) -> ThermalJudged:
    """Judge the fits over the temperatures of the duty."""
    case = build(duty, design, rules)
    check_temperatures(case)
    j = ThermalJudged(case, duty, design, gland, resolve(case, duty, gland, reference), reference)
    j.out = glands.measured(case.data, j.rows, j.hardware_rows, j.compounds)[0]
    if j.out["beyond"] == 1.0:
        j.refuse_beyond()
    j.assume(clamp=False)
    j.grid = grid_over(case.data, *j.temperatures[1:])
    j.fits = j.fits_at(j.grid)
    energizer = Finding("energizer_deflection", "pass", None, energizer_deflection.NONE, NOTHING)
    if case.energizer is not None:
        energizer = j.fit_finding("energizer_deflection")
    found = [*j.temperature_findings(), j.body_finding(), j.fit_finding("lip_interference"), energizer]
    by_id = {finding.id: finding for finding in found}
    j.findings = [by_id[name] for name in rules.data.criteria if name in by_id]
    return j


def answer(request: ThermalFitRequest, engine: Engine) -> ThermalJudged:
    """Answer a thermal fit, in SI."""
    rules, reference = engine.rules(request), request.assembly_temperature
    low, high = strain_range(rules.data)
    if reference is not None and not low <= reference <= high:
        raise unknown_strain(rules.data, ("assembly_temperature",))
    return judge(request.duty, request.design, request.gland, reference, rules)


def write(j: ThermalJudged, request: ThermalFitRequest, engine: Engine) -> JsonObject:
    """Write an answer as its contract has it, in the units of the request."""
    rules, units = engine.rules(request), request.units.system_of_units()

    def evaluate(duty: Duty, design: Design) -> list[Finding]:
        return judge(duty, design, request.gland, request.assembly_temperature, rules).findings

    return {
        "verdict": verdict(j.findings),
        "summary": str(summary(j)),
        "governing": written_governing(governing(j.findings), rules.data),
        "criteria": [
            criterion(finding, request.duty, request.design, rules, units, evaluate=evaluate) for finding in j.findings
        ],
        "assembly_temperature": units.quantity("temperature", j.temperatures.assembly),
        "points": part.points(j, request.temperatures, units),
        "transition": part.transition(j, units),
        "after_heat": part.after_heat(j, units),
        "assumptions": assumptions(j.case, units),
        "cautions": [*cautions(j.case, request.duty.food_contact), part.transition_caution(j, units)],
        "evidence": weakest_of(j.findings),
        "stamp": engine.stamp("check_thermal_fit", request, rules),
        "working": j.working() if request.working else None,
    }


def check(request: ThermalFitRequest, engine: Engine) -> JsonObject:
    """Answer a thermal fit."""
    return write(answer(request, engine), request, engine)
