"""What machine code runs over the temperatures of one case with its hardware: its fits, and every criterion."""

from __future__ import annotations

from math import tan

import numpy as np

from glandwise.case import sizing
from glandwise.case.choices import LOOSEST, NOMINAL, Energizer, Retention
from glandwise.case.gland_numbers import GlandRules
from glandwise.case.lip_fit import effective_length, seal_strain
from glandwise.case.numbers import Rules
from glandwise.mechanics.choices import LipRoot
from glandwise.numerics.arithmetic import least
from glandwise.physics.lip import modulus, touching
from glandwise.physics.o_ring import body_share_after_heat, seat_at
from glandwise.physics.retention import case_interference
from glandwise.physics.strains import housing_strain, shaft_strain
from glandwise.physics.thermal import deflection, energizer_load, lip_fit
from glandwise.questions.arrays import Compiled, Floats
from glandwise.questions.envelope.measure import Measure
from glandwise.questions.thermal_fit.criteria import body_in_bore, energizer_deflection, lip_interference

FREE = 1.0 - 1e-9
"""Share of the rise of the bore face up to which a root surely stands free of the shaft."""
MEASURED = (lip_interference, energizer_deflection, body_in_bore)
"""Criteria in the order in which the kernel measures them."""
IDS = tuple(module.__name__.rpartition(".")[2] for module in MEASURED)
OUT = np.dtype(
    [
        *((name, "f8", (len(MEASURED),)) for name in ("demand", "capacity", "utilization", "which")),
        *((name, "f8") for name in ("seal", "shaft", "housing")),
        *((name, "f8") for name in ("shaft_diameter", "lip_diameter", "interference", "lip_load")),
        *((name, "f8") for name in ("bore_diameter", "body_diameter", "squeeze", "case_interference")),
        *((name, "f8") for name in ("deflection", "energizer_load", "as_made", "left", "wanted", "body_share")),
    ],
    align=True,
)
"""What is known at a temperature: a column a criterion, strains, then the fits of nominal dimensions.

``left`` is the interference on the smallest shaft, ``wanted`` that as made of which nothing would be left there.
"""


def put(row: np.record, at: int, m: Measure) -> None:
    """Write one measure."""
    row.demand[at] = m.demand
    row.capacity[at] = m.capacity
    row.utilization[at] = m.utilization
    row.which[at] = m.which


def fits_over(
    temperatures: Floats,
    out: Compiled,
    cases: Compiled,
    elsewhere: Compiled,
    hardware: Compiled,
    rules: Rules,
    gland: GlandRules,
) -> None:
    """Measure the fits of the first case at every temperature; ``elsewhere`` is that case once more."""
    case, there, around = cases[0], elsewhere[0], hardware[0]
    sizing.complete(case, rules)
    sizing.complete(there, rules)
    for i in range(len(temperatures)):
        T, row = temperatures[i], out[i]
        row.seal = seal_strain(case, rules, gland, around.reference, T)
        row.shaft = shaft_strain(around, gland, T)
        row.housing = housing_strain(around, gland, T)
        fit = lip_fit(case, around, rules, gland, T, NOMINAL)
        row.shaft_diameter, row.lip_diameter, row.interference = fit.shaft, fit.lip, fit.interference
        # a lip that cold has drawn onto the shaft with its root presses at least as it does where the root just stands free
        i_T = least(0.5 * fit.interference, FREE * effective_length(case, rules) * tan(case.bore_angle))
        lip = touching(case, rules, T, i_T, modulus(case, rules, T), 0.0, 0.0, LipRoot.elastic)
        row.lip_load = lip.load
        row.bore_diameter = around.bore * (1.0 + row.housing)
        row.body_diameter = around.body * (1.0 + row.seal)
        put(row, 0, lip_interference.at(case, there, around, rules, gland, T))
        loosest = lip_fit(case, around, rules, gland, T, LOOSEST)
        row.left = loosest.interference
        # the lip as made that is just as large as the shaft there
        row.wanted = around.shaft - loosest.shaft * (around.shaft - case.interference) / loosest.lip
        if case.energizer != Energizer.none:
            put(row, 1, energizer_deflection.at(case, around, rules, gland, T))
            row.deflection = deflection(case, around, rules, gland, T, around.shaft, around.bore)
            row.as_made = energizer_deflection.as_made(case, around, rules, gland)
            row.energizer_load = energizer_load(case, there, around, rules, gland, T)
        if around.retention == Retention.o_ring:
            put(row, 2, body_in_bore.at(case, around, rules, gland, T))
            row.squeeze = seat_at(case, around, rules, gland, T, NOMINAL).squeeze_ratio
            row.body_share = body_share_after_heat(case, around, rules, gland)
        elif around.retention == Retention.press_fit_case:
            row.case_interference = case_interference(around, gland, T, NOMINAL)
