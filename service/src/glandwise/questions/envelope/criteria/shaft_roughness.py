"""Roughness of the shaft against the window of the compound; the nearer end counts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.numerics.arithmetic import greatest
from glandwise.questions.envelope.measure import Judged, Measure

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State

DIMENSION = "roughness"
RATED = ""
MISSING = "The roughness of the shaft is not stated."
ZONE = None


def measure(case: Case, rules: Rules, state: State) -> Measure:
    """Roughness of the shaft against the window of the compound; the nearer end counts.

    Returns
    -------
    Ra : m
        Roughness of the shaft.
    Ra_lim : m
        Nearer end of the window.
    U_Ra : -
        Use of the window.
    which : -
        Nothing to tell apart.
    """
    compound = rules.compounds[case.compound]
    U_rough = case.roughness / compound.shaft_roughness_max  # use of the rough end
    U_smooth = compound.shaft_roughness_min / case.roughness  # use of the smooth end
    if U_rough >= U_smooth:
        return Measure(case.roughness, compound.shaft_roughness_max, greatest(U_rough, U_smooth), 0.0)
    return Measure(case.roughness, compound.shaft_roughness_min, greatest(U_rough, U_smooth), 0.0)


def words(found: Judged) -> str:
    """Say how the roughness lies to the window."""
    side = "rougher" if found.measure.demand >= found.measure.capacity else "smoother"
    verb = {
        "pass": "within the window; the nearer end is",
        "caution": "close to the end of the window at",
        "fail": f"{side} than the window, which ends at",
    }[found.status]
    return f"Ra {found.demand} is {verb} {found.capacity}."
