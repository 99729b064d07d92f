"""Squeeze of the O-ring that holds the body in its bore, before and after the body has been confined hot."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.case.choices import LOOSEST, TIGHTEST
from glandwise.numerics.arithmetic import greatest
from glandwise.physics.o_ring import body_share_after_heat, groove_of, ring_of, seated, strains_at
from glandwise.questions.envelope.measure import Measure
from glandwise.questions.words import wanted

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules
    from glandwise.case.hardware import Hardware
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.questions.thermal_fit.judged import Found

DIMENSION = "ratio"
MISSING = "No O-ring of the series goes with this bore and body; state a ring by its dimensions and a groove."
CLAMPED = "The clamped flange holds the body whatever it shrinks."
LOOSE = 1.0


def at(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules, T: float) -> Measure:
    """Squeeze of the O-ring at a temperature and the end of the tolerances that is worse.

    Parameters
    ----------
    T : K
        Temperature.

    Returns
    -------
    C : -
        Squeeze over section.
    C_lim : -
        Least or greatest squeeze over section.
    U_C : -
        Use of the limit of squeeze.
    which : -
        Whether the loose end is the worse.
    """
    constants = gland.constants[0]
    ring, groove, f_off = ring_of(hardware), groove_of(hardware), constants.offset_share
    strains = strains_at(case, hardware, rules, gland, T)
    f_body = body_share_after_heat(case, hardware, rules, gland)
    f_s = f_body * (1.0 + strains.seal)  # growth of the body that heat has set
    loose = seated(hardware, ring, groove, strains, LOOSEST, f_s, f_off)
    tight = seated(hardware, ring, groove, strains, TIGHTEST, 1.0 + strains.seal, f_off)
    slack = constants.squeeze_service_min / greatest(loose.squeeze_ratio, 0.0)
    full = tight.squeeze_ratio / constants.squeeze_service_max
    if slack >= full:
        return Measure(loose.squeeze_ratio, constants.squeeze_service_min, slack, LOOSE)
    return Measure(tight.squeeze_ratio, constants.squeeze_service_max, full, 0.0)


def words(found: Found) -> str:
    """Say how the squeeze lies to its limit."""
    is_loose = found.measure.which == LOOSE
    once = ", once it has been hot," if is_loose and found.out["body_share"] < 1.0 else ""
    end, bound = "loosest" if is_loose else "tightest", wanted("ratio", found.measure.capacity, "%", least=is_loose)
    squeezed = f"{100.0 * found.measure.demand:.3g} %"
    return f"The O-ring of the body{once} is squeezed {squeezed} at its {end} at {found.at}; {bound}."
