"""Pressure that the lip faces against the rated one; one from behind asks nothing of this criterion.

The rating of an energized lip falls with the strength of the hot compound, which its heel has to bridge the gap with; a
flexible lip is held to the stress at its root.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.case.choices import Family
from glandwise.case.sizing import sealed
from glandwise.numerics.arithmetic import least
from glandwise.numerics.interpolation import curve_at
from glandwise.physics.ratings import rated
from glandwise.questions.envelope.measure import Judged, Measure, rated_words, used

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State

DIMENSION = "gauge_pressure"
RATED = "pressure"
MISSING = ""
ZONE = ("#a9c6e3", "#1f4f82", "")


def measure(case: Case, rules: Rules, state: State) -> Measure:
    """Sealed pressure against the rated one.

    Returns
    -------
    p_rel : Pa
        Pressure that the lip faces, none where it comes from behind.
    p_rated : Pa
        Rated pressure of the design.
    U_p : -
        Use of the rated pressure.
    which : -
        Share of the rating that the heat leaves, 0 where it takes nothing.
    """
    p_rated = rated(rules.ratings[case.rating].pressure, case.peak_speed)
    p = sealed(case)  # pressure that the lip faces, none where it comes from behind
    if case.family == Family.energized_lip:
        strength = rules.compounds[case.compound].yield_strength
        S_hot = curve_at(strength, case.temperature_max)
        S_rated = curve_at(strength, rules.constants[0].pressure_rating_temperature)
        f_hot = least(S_hot / S_rated, 1.0)  # strength that is left in the heat
        p_hot = p_rated * f_hot  # rated pressure in the heat
        which = f_hot if f_hot < 1.0 else 0.0
        return Measure(p, p_hot, used(p, p_hot), which)
    return Measure(p, p_rated, used(p, p_rated), 0.0)


def words(found: Judged) -> str:
    """Say how the pressure lies to the rated one."""
    left = found.measure.which
    if left == 0.0:
        return rated_words(found)
    return rated_words(found._replace(titles=(*found.titles, f"{100.0 * left:.0f} % of it left in the heat")))
