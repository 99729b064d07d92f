"""Torque of the lips against the torque at which the seal turns in its bore."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.numerics.arithmetic import greatest
from glandwise.physics.retention import turning
from glandwise.questions.envelope.measure import Measure, used

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules
    from glandwise.case.hardware import Hardware
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.questions.gland.judged import Found

DIMENSION = "torque"
MISSING = "The holding torque is not known: the squeeze of the O-ring lies outside the range of its load model."
STATES = 3
"""Starts and running; the same again with the sealed pressure on."""


def at(
    case: Case, there: Case, hardware: Hardware, rules: Rules, gland: GlandRules, state: int, is_seated: int
) -> Measure:  # fmt: skip
    """Torque of the lips in a state against what holds the seal, less the margin.

    Parameters
    ----------
    there : Case
        A copy of the case, to be overwritten.

    Returns
    -------
    M_lips : N·m
        Torque of the lips.
    M_lim : N·m
        Torque at which the seal turns, over the margin.
    U_turn : -
        Use of that torque.
    which : -
        State, and whether the sealed pressure seats the body.
    """
    found = turning(case, there, hardware, rules, gland, state, is_seated)
    n_margin = gland.constants[0].margin
    U = used(n_margin * found.torque, found.holding)
    return Measure(found.torque, found.holding / n_margin, U, 3.0 * is_seated + state)


def measure(case: Case, there: Case, hardware: Hardware, rules: Rules, gland: GlandRules) -> Measure:
    """Torque of the lips against what holds the seal, in the worst state; not known where a state is not known."""
    worst = at(case, there, hardware, rules, gland, 0, 0)
    for is_seated in range(2):
        if is_seated == 0 or greatest(case.pressure, 0.0) > 0.0:
            for state in range(STATES):
                found = at(case, there, hardware, rules, gland, state, is_seated)
                if found.utilization > worst.utilization or found.utilization != found.utilization:
                    worst = found
    return worst


def place(which: float) -> tuple[int, ...]:
    """Return the state, and whether the sealed pressure is on."""
    return int(which) % STATES, int(which) // STATES


_STATE_WORDS = ("at a cold start", "running hot", "at a cold start at the end of life")
_MEANS_WORDS = {"o_ring": "the O-ring", "clamped_flange": "the clamped flange", "press_fit_case": "the pressed-in case"}
_TURNS = {"pass": "stays put", "caution": "stays put with little to spare", "fail": "may turn in its bore"}


def words(found: Found) -> str:
    """Say what holds the seal against the torque of its lips."""
    units, (state, is_seated) = found.units, place(found.measure.which)
    holding = float(found.out["holding"][int(found.measure.which)])
    pressed = f"at {units.text('gauge_pressure', float(found.out['sealed']))}" if is_seated else "without pressure"
    return (
        f"The seal {_TURNS[found.status]}: {_MEANS_WORDS[found.retention]} holds {units.text('torque', holding)} against "
        f"{found.demand} of the lips {_STATE_WORDS[state]} {pressed}; a margin of {found.margin:g} is asked for."
    )


def no_friction(medium: str) -> str:
    """Say that the friction is not known."""
    return f"The rules hold no friction of this compound in the medium {medium}."
