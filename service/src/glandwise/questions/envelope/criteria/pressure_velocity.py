"""Sealed pressure times mean surface speed: where the rated maxima of both stop holding together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.case.sizing import sealed
from glandwise.physics.ratings import rated
from glandwise.questions.envelope.measure import Judged, Measure, rated_words, used

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State

DIMENSION = "pressure_velocity"
RATED = "pressure_velocity"
MISSING = ""
ZONE = ("#d9b3bd", "#8c2f4b", "///")


def measure(case: Case, rules: Rules, state: State) -> Measure:
    """Sealed pressure times mean surface speed against the rated product.

    Returns
    -------
    pv : Pa·m/s
        Sealed pressure times mean surface speed.
    pv_rated : Pa·m/s
        Rated product of the design.
    U_pv : -
        Use of the rated product.
    which : -
        Nothing to tell apart.
    """
    pv_rated = rated(rules.ratings[case.rating].pressure_velocity, case.surface_speed)
    pv = sealed(case) * case.surface_speed
    return Measure(pv, pv_rated, used(pv, pv_rated), 0.0)


def words(found: Judged) -> str:
    """Say how the product lies to the rated one."""
    corner = " Rated pressure and rated speed do not hold together at their maxima." if found.status == "fail" else ""
    return rated_words(found) + corner
