"""Contact pressure times speed that solid contact bears, against the limiting PV of the compound."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from glandwise.case.choices import Medium
from glandwise.numerics.arithmetic import greatest, least
from glandwise.numerics.interpolation import curve_at
from glandwise.questions.envelope.measure import Judged, Measure, used

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State

DIMENSION = "pressure_velocity"
RATED = ""
MISSING = "No balance of frictional heat was found, or the friction is not known."
ZONE = ("#c9bfe0", "#57408f", "xx")
DRY, WET = 0.0, 1.0


def measure(case: Case, rules: Rules, state: State) -> Measure:
    """Contact pressure times speed that solid contact bears, against the limiting PV of the compound.

    That of the worn-in lip, with nominal friction: a new edge is narrow and gives several times as much for an hour. In a
    fluid the limit is a multiple of the dry one. Between the limit and the high end of its range it is the heat that decides,
    which another criterion looks at: no more than a caution.

    Returns
    -------
    pv_s : Pa·m/s
        Contact pressure times mean surface speed, as far as solid contact bears it.
    PV_lim : Pa·m/s
        Limiting product at this speed and temperature.
    U_PV : -
        Use of the limiting product.
    which : -
        Whether the lip is wet.
    """
    compound, constants, running = rules.compounds[case.compound], rules.constants[0], state.running
    v = case.surface_speed
    PV_dry = curve_at(compound.limiting_pv, v) * curve_at(compound.pv_derating, case.temperature_max)
    f_PV, f_high, which = constants.dry_pv_factor, constants.dry_pv_factor_high, DRY
    if case.medium != Medium.dry:
        f_PV, f_high, which = constants.wet_pv_factor, constants.wet_pv_factor_high, WET
    PV_lim = PV_dry * f_PV
    if running.beyond > 0.0:
        return Measure(running.contact_pressure, PV_lim, inf, which)
    pv_s = running.film_share * running.contact_pressure * v
    PV_high = PV_dry * f_high  # limiting product at the high end of what is known: up to there the heat decides
    U_c = constants.pv_caution_at
    U_sure = U_c * used(least(pv_s, PV_lim), PV_lim)  # share up to the limit
    pv_more = greatest(least(pv_s, PV_high) - PV_lim, 0.0)
    U_run = (1.0 - U_c) * used(pv_more, PV_high - PV_lim)  # share of what has been run beyond it
    U_over = used(pv_s - least(pv_s, PV_high), PV_high)  # beyond what has been run
    return Measure(pv_s, PV_lim, U_sure + U_run + U_over, which)


def words(found: Judged) -> str:
    """Say how the product lies to the limiting one."""
    m = found.measure
    how = "dry lip" if m.which == DRY else "wet lip, as far as solid contact bears it,"
    if m.demand != m.demand:
        return f"The lip finds no balance of heat: the limit of the {'dry' if m.which == DRY else 'wet'} lip does not matter."
    if found.status == "caution" and m.demand > m.capacity:
        return (
            f"{found.demand} of the {how} is beyond the {found.capacity} that is certain at this speed and temperature, and within "
            "what has been run: the heat decides."
        )
    return (
        f"{found.demand} of the {how} is {found.relation} the {found.capacity} the compound stands at this speed and "
        "temperature."
    )
