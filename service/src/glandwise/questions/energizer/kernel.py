"""What machine code runs over a table of energizers: the load of each row, and over how much deflection it goes."""

from __future__ import annotations

import numpy as np

from glandwise.case.numbers import Rules
from glandwise.physics.bare_energizer import Loaded, full_deflection, loaded, properties, working_range
from glandwise.questions.arrays import Compiled

LOADS = np.dtype([(name, "f8") for name in Loaded._fields])
RANGES = np.dtype([(name, "f8") for name in ("elastic_modulus", "yield_strength", "full_deflection", "lower", "upper")])


def loads(
    rows: Compiled,
    out: Compiled,
    rules: Rules,
) -> None:
    """Load, stiffness and stress of every energizer."""
    for i in range(len(rows)):
        e, row = rows[i], out[i]
        found = loaded(e, properties(e, rules), rules)
        row.line_load = found.line_load
        row.stiffness = found.stiffness
        row.stress = found.stress
        row.stress_limit = found.stress_limit
        row.utilization = found.utilization
        row.permanent_set = found.permanent_set
        row.deflection = found.deflection
        row.squeeze = found.squeeze
        row.total_load = found.total_load


def ranges(
    rows: Compiled,
    out: Compiled,
    rules: Rules,
) -> None:
    """Material, deflection up to which the load is drawn, and working range of every energizer."""
    for i in range(len(rows)):
        e, row = rows[i], out[i]
        material = properties(e, rules)
        band = working_range(e, material, rules)
        row.elastic_modulus = material.elastic_modulus
        row.yield_strength = material.yield_strength
        row.full_deflection = full_deflection(e, rules)
        row.lower = band.lower
        row.upper = band.upper
