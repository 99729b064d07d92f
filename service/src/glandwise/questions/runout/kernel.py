"""What machine code runs over a table of cases: the runout that each is allowed at its speed, with its offset."""

from __future__ import annotations

import numpy as np

from glandwise.case.numbers import Rules
from glandwise.mechanics.viscoelastic import relaxed_share
from glandwise.physics.energizer import spring_of
from glandwise.physics.following import allowed_runout, ends
from glandwise.physics.lip import shape_of
from glandwise.physics.ratings import rated
from glandwise.questions.arrays import Compiled

OUT = np.dtype(
    [
        ("tir", "f8"),
        ("followed", "f8"),
        ("rated", "f8"),
        ("governs", "i8"),
        ("stiffness", "f8"),
        ("preload", "f8"),
        ("relaxed_share", "f8"),
        ("spring_load", "f8"),
        ("rated_speed", "f8"),
    ],
    align=True,
)
"""What is known of a case: the allowance, share of the load that is left, load of the energizer, rated speed."""


def runout(
    cases: Compiled,
    out: Compiled,
    t_load: float,
    rules: Rules,
) -> None:
    """Find the allowed runout of every case after a time under load; an offset that is not stated is none."""
    for i in range(len(cases)):
        case, row = cases[i], out[i]
        shape = shape_of(case, rules)
        cold, hot = ends(case, rules, shape, t_load)
        a = case.offset if case.offset == case.offset else 0.0
        allowed = allowed_runout(case, rules, cold, hot, case.rotational_speed, a)
        row.tir = allowed.tir
        row.followed = allowed.followed
        row.rated = allowed.rated
        row.governs = allowed.governs
        row.stiffness = allowed.stiffness
        row.preload = allowed.preload
        row.relaxed_share = relaxed_share(rules.compounds[case.compound].relaxation, case.temperature_max, t_load)
        row.spring_load = spring_of(case, rules, case.temperature).line_load
        row.rated_speed = rated(rules.ratings[case.rating].surface_speed, 0.0)
