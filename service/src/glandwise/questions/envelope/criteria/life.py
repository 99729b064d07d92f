"""Probability that the seal lives as long as is wanted."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from glandwise.numerics.arithmetic import greatest, least
from glandwise.physics.wear import ends_of, target_of, told_life
from glandwise.questions.envelope.measure import Judged, Measure

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State

DIMENSION = "time"
RATED = ""
MISSING = "No balance of frictional heat was found, or friction or wear is not known."
ZONE = ("#d8d3a8", "#6b5f0e", "..")
USUAL, ASKED, BEYOND, ENDLESS = 0.0, 1.0, 2.0, 4.0
"""Whether the life was asked for; what adds to it: the contact pressure lies beyond what wear was measured at, nothing ends it."""


def use_of(case: Case, rules: Rules, P: float, p_m: float) -> float:
    """Use of a life: the limit where hardly one seal in twenty reaches it, a caution from an even chance on.

    A life that nobody asked for never fails. Where the contact presses harder than wear was measured at, it is a caution at
    best.

    Parameters
    ----------
    P : -
        Probability that the target is reached.
    p_m : Pa
        Mean contact pressure after running in.

    Returns
    -------
    U : -
        Use of the life.
    """
    c = rules.constants[0]
    U_c = c.life_caution_at
    x = (1.0 - P) / (1.0 - c.probability_caution)  # way from certain to the caution
    y = (c.probability_caution - P) / (c.probability_caution - c.probability_fail)  # way from there to the fail
    U = U_c * least(x, 1.0) + (1.0 - U_c) * greatest(y, 0.0)
    if case.target_life != case.target_life:
        U = least(U, 1.0)
    return greatest(U, least(U_c * p_m / c.known_pressure, 1.0))


def measure(case: Case, rules: Rules, state: State) -> Measure:
    """Life that is wanted against the one that half of the seals are estimated to reach.

    Returns
    -------
    t_want : s
        Life that is wanted.
    t_told : s
        Life that half of the seals reach, as it is told.
    U_life : -
        Use of the life, by the probability that it is reached.
    which : -
        Whether it was asked for, and whether the contact presses harder than wear was measured at.
    """
    worn = state.worn
    t_want = target_of(case, rules)
    which = USUAL
    if case.target_life == case.target_life:
        which = ASKED
    if worn.pressure > rules.constants[0].known_pressure:
        which = which + BEYOND
    if worn.life == inf:
        which = which + ENDLESS
    ends = ends_of(worn.life, worn.spread, t_want)
    t_told = told_life(ends.median, rules.constants[0].longest_life)
    U_life = use_of(case, rules, ends.probability, worn.pressure)
    return Measure(t_want, t_told, U_life, which)


_REACHED = {
    "pass": "more than half of such seals are estimated to reach it",
    "caution": "fewer than half of such seals are estimated to reach it",
    "fail": "hardly one in twenty of such seals is estimated to reach it",
}


def words(found: Judged) -> str:
    """Say how the life wanted lies to the one estimated; two digits at most, for no more is known."""
    m = found.measure
    code = int(m.which)
    wanted = "wanted" if code & int(ASKED) else "taken as wanted, since none is stated"
    reached = _REACHED[found.status]
    if found.status != "fail" and m.demand <= m.capacity:
        reached = _REACHED["pass"]
    text = (
        f"{found.demand} are {wanted}: {reached}, half last {found.units.text('time', rounded(m.capacity))} or longer."
    )
    if code & int(BEYOND):
        text += " The contact presses harder than wear was ever measured at: prove it by a test."
    return text


def rounded(t: float) -> float:
    """A time to two digits of its hours."""
    return float(f"{t / 3600.0:.2g}") * 3600.0
