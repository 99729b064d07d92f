"""Runout against the lesser of what the lip follows at speed and the rated cap."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.mechanics.choices import Governs
from glandwise.physics import following
from glandwise.questions.envelope.measure import Judged, Measure, used

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State

DIMENSION = "length"
RATED = "runout"
MISSING = "The runout of the shaft is not stated."
ZONE = ("#dcdcae", "#6d6c14", "|||")
RECOVERY, INERTIA, CAP = 1.0, 2.0, 3.0
GOVERNS = {RECOVERY: "the recovery of the lip", INERTIA: "the inertia of the lip", CAP: "the rated cap"}


def measure(case: Case, rules: Rules, state: State) -> Measure:
    """Runout against the lesser of what the lip follows at speed, with the offset that is stated, and the rated cap.

    Returns
    -------
    TIR : m
        Dynamic runout of the shaft.
    TIR_allowed : m
        Allowed runout.
    U_TIR : -
        Use of the allowed runout.
    which : -
        What governs.
    """
    a = case.offset if case.offset == case.offset else 0.0
    allowed = following.allowed_runout(case, rules, state.cold, state.hot, case.rotational_speed, a)
    which = CAP
    if allowed.governs != Governs.rated_cap:
        which = INERTIA if allowed.governs == Governs.inertia else RECOVERY
    return Measure(case.runout, allowed.tir, used(case.runout, allowed.tir), which)


def words(found: Judged) -> str:
    """Say how the runout lies to the allowed one."""
    if found.measure.capacity <= 0.0:
        return f"The offset leaves no runout that the lip could follow; {found.demand} TIR is stated."
    return (
        f"{found.demand} TIR is {found.relation} the {found.capacity} allowed at this speed; "
        f"{GOVERNS[found.measure.which]} governs."
    )
