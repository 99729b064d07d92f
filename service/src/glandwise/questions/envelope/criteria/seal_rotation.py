"""Torque of the lips at a cold start against the most that an O-ring alone holds; the hardware is not stated here."""

from __future__ import annotations

from math import inf, nan
from typing import TYPE_CHECKING

from glandwise.case.choices import Retention
from glandwise.numerics.arithmetic import greatest
from glandwise.physics.energizer import spring_at
from glandwise.physics.retention import held_by_ring, start_torque, thickest_ring_torque
from glandwise.questions.envelope.measure import Judged, Measure, used

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State

DIMENSION = "torque"
RATED = ""
MISSING = "The torque of the lips at a cold start or the hold of the O-ring is not known."
ZONE = ("#dcd3ea", "#5a3d8a", "xx")
WITHOUT, WITH, OTHERWISE = 0.0, 1.0, 2.0


def measure(case: Case, rules: Rules, state: State, gland: GlandRules) -> Measure:
    """Torque of the lips at a cold start against the most that an O-ring alone holds in a bore of usual size.

    Nothing that is not stated fails a seal: what is beyond here turns with any O-ring of the series, whatever the tolerances. A
    flange or a pressed-in case can be pinned or keyed, so that nothing is beyond it here; it is looked at with its hardware. The
    worse of both counts, without and with the sealed pressure, which loads the lip and seats the body.

    Returns
    -------
    M_lips : N·m
        Torque of the lips.
    M_hold : N·m
        Torque at which the seal turns in its bore.
    U_turn : -
        Use of that torque.
    which : -
        Whether the sealed pressure is on.
    """
    p_in = greatest(case.pressure, 0.0)
    q_e = spring_at(case, rules, state.turn, case.temperature_min).line_load
    if case.retention != Retention.o_ring:
        M_lips = start_torque(case, rules, gland, q_e, p_in)
        return Measure(M_lips, inf, 0.0 if M_lips == M_lips else nan, OTHERWISE)
    M_ring = thickest_ring_torque(case, rules, gland, case.temperature_min)
    bare = held_by_ring(case, rules, gland, q_e, M_ring, 0.0 * case.pressure)
    U_bare = used(bare.torque, bare.holding)
    if p_in > 0.0:
        pressed = held_by_ring(case, rules, gland, q_e, M_ring, p_in)
        U_pressed = used(pressed.torque, pressed.holding)
        if U_pressed > U_bare or U_pressed != U_pressed:
            return Measure(pressed.torque, pressed.holding, U_pressed, WITH)
    return Measure(bare.torque, bare.holding, U_bare, WITHOUT)


def words(found: Judged) -> str:
    """Say how the torque of the lips lies to what an O-ring holds."""
    m = found.measure
    if m.which == OTHERWISE:
        return (
            f"Lips drag with {found.demand} at a cold start; a flange or a case that holds too little can be pinned, and is looked at "
            "with its hardware."
        )
    pressed = "with the pressure on" if m.which == WITH else "without pressure"
    return (
        f"{found.demand} of the lips at a cold start {pressed} is {found.relation} the {found.capacity} that the thickest O-ring "
        "holds in a bore of usual size; the hardware is not stated here."
    )
