"""Loss of interference against the interference as made and the reach of the energizer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.case.choices import LOOSEST, Energizer
from glandwise.numerics.arithmetic import greatest
from glandwise.physics.thermal import energizer_reach, lip_fit
from glandwise.questions.envelope.measure import Measure, used

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules
    from glandwise.case.hardware import Hardware
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.questions.thermal_fit.judged import Found

DIMENSION = "length"


def at(case: Case, there: Case, hardware: Hardware, rules: Rules, gland: GlandRules, T: float) -> Measure:
    """Interference lost on the smallest shaft at a temperature against that as made and the reach of the energizer.

    A spring that presses the lip on closes a gap of twice its load over the stiffness of the lip, on the diameter.

    Parameters
    ----------
    there : Case
        A copy of the case, to be overwritten.
    T : K
        Temperature.

    Returns
    -------
    i_lost : m
        Interference lost.
    i_all : m
        Interference as made and reach of the energizer.
    U_lip : -
        Use of the interference.
    which : -
        Nothing to tell apart.
    """
    fit = lip_fit(case, hardware, rules, gland, T, LOOSEST)
    i_lost = greatest(case.interference - fit.interference, 0.0)  # interference lost
    i_all = case.interference
    if case.energizer != Energizer.none:
        i_reach = energizer_reach(case, there, hardware, rules, gland, T)
        i_all = case.interference + i_reach  # interference as made and reach of the energizer
    return Measure(i_lost, i_all, used(i_lost, i_all), 0.0)


def words(found: Found) -> str:
    """Say what interference is left."""
    made, left = found.length(found.made), float(found.out["left"])
    if found.measure.demand == 0.0:
        return f"The lip never has less than the {made} of interference as made."
    if left >= 0.0:
        return f"Of {made} of interference as made, {found.length(left)} is left at {found.at} on the smallest shaft."
    holds = "the energizer presses it on" if found.status in {"pass", "caution"} else "nothing presses it on"
    if found.energizer is not None and found.status == "fail":
        holds = "the energizer cannot press it on"
    text = f"At {found.at} the unstretched lip is {found.length(-left)} larger than the smallest shaft; {holds}."
    if found.status == "fail":
        text += f" Made with about {found.length(found.out['wanted'])} of interference it would still just touch."
    return text
