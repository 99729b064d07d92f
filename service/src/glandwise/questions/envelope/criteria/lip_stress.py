"""Bending at the root of a flexible lip by pressure against what the hot compound bears for long."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.case.choices import Family
from glandwise.numerics.arithmetic import greatest
from glandwise.numerics.interpolation import curve_at
from glandwise.questions.envelope.measure import Judged, Measure, used

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State

DIMENSION = "stress"
RATED = ""
MISSING = ""
ZONE = ("#b9d8cf", "#1c6b57", "++")
ENERGIZED = 1.0


def measure(case: Case, rules: Rules, state: State) -> Measure:
    """Bending at the root of a flexible lip under pressure against what the hot compound bears for long.

    Interference and pressure bend the root opposite ways, and a lip that lies down stands freely on a shorter length: what
    counts is what is left of the bending by the pressure once the lip has relaxed in service. An energized lip bears on its
    heel and asks nothing of this criterion.

    Returns
    -------
    sigma : Pa
        Bending stress at the root.
    S_long : Pa
        Stress that the root bears for long.
    U_sigma : -
        Use of the strength of the root.
    which : -
        Whether the lip bears on its heel.
    """
    S_long = rules.constants[0].root_stress_share * curve_at(
        rules.compounds[case.compound].yield_strength, case.temperature_max
    )
    if case.family != Family.flexible_lip:
        return Measure(0.0, S_long, 0.0, ENERGIZED)
    sigma = greatest(state.hot_contact.root_stress, 0.0)  # bending stress at the root
    return Measure(sigma, S_long, used(sigma, S_long), 0.0)


def words(found: Judged) -> str:
    """Say how the stress lies to what the root bears."""
    if found.measure.which == ENERGIZED:
        return "An energized lip bears on its heel."
    return f"{found.demand} at the root of the lip is {found.relation} the {found.capacity} the hot compound bears for long."
