"""Contact pressure times speed of a lip against the limiting PV of the compound."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.case.choices import Lubrication
from glandwise.numerics.interpolation import curve_at
from glandwise.questions.envelope.measure import Judged, Measure, used

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State

DIMENSION = "pressure_velocity"
RATED = ""
MISSING = ""
ZONE = ("#c9bfe0", "#57408f", "xx")


def measure(case: Case, rules: Rules, state: State) -> Measure:
    """Contact pressure times speed of a lip against the limiting PV of the compound.

    The load is that of the coldest lip, the limit that of the hottest, so that a harsher duty never looks better. Under
    boundary lubrication the limit is a multiple of the dry one. A lubricated lip is not held to a PV measured dry: it
    asks nothing of this criterion.

    Returns
    -------
    pv_c : Pa·m/s
        Contact pressure times mean surface speed.
    PV_lim : Pa·m/s
        Limiting product at this speed and temperature.
    U_PV : -
        Use of the limiting product.
    which : -
        Lubrication.
    """
    compound = rules.compounds[case.compound]
    v = case.surface_speed
    PV_lim = curve_at(compound.limiting_pv, v) * curve_at(compound.pv_derating, case.temperature_max)
    if case.lubrication == Lubrication.lubricated:
        return Measure(0.0, PV_lim, 0.0, 2.0)
    cold = state.cold_contact
    p_c = cold.load / cold.width  # mean contact pressure
    pv_c = p_c * v
    if case.lubrication == Lubrication.boundary:
        PV_boundary = PV_lim * rules.constants[0].boundary_pv_factor  # limiting product under boundary lubrication
        return Measure(pv_c, PV_boundary, used(pv_c, PV_boundary), 1.0)
    return Measure(pv_c, PV_lim, used(pv_c, PV_lim), 0.0)


def words(found: Judged) -> str:
    """Say how the product lies to the limiting one."""
    if found.measure.which == 2.0:
        return "The lip is lubricated: a PV limit measured dry does not apply."
    how = "dry lip" if found.measure.which == 0.0 else "lip under boundary lubrication"
    return (
        f"{found.demand} of the {how} is {found.relation} the {found.capacity} the compound stands at this speed and "
        "temperature."
    )
