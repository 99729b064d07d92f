"""Pressure on a clamped face against what the hot compound stands for long."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.physics.retention import clamped_face
from glandwise.questions.envelope.measure import Measure, used
from glandwise.questions.gland.judged import RELATION

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules
    from glandwise.case.hardware import Hardware
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.questions.gland.judged import Found

DIMENSION = "stress"
MISSING = "The clamped face has no width."


def at(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules) -> Measure:
    """Pressure on the clamped face.

    Returns
    -------
    p_f : Pa
        Pressure on the clamped face.
    p_long : Pa
        Pressure that the hot compound stands for long.
    U_clamp : -
        Use of that pressure.
    which : -
        Nothing to tell apart.
    """
    face = clamped_face(case, hardware, rules, gland)
    return Measure(face.pressure, face.allowed, used(face.pressure, face.allowed), 0.0)


measure = at


def place(which: float) -> tuple[int, ...]:
    """Return nothing: there is one state alone."""
    return ()


def words(found: Found) -> str:
    """Say how the pressure lies to what the compound stands."""
    return (
        f"{found.demand} on the clamped face is {RELATION[found.status]} the {found.capacity} that "
        f"the compound stands for long at {found.at(3)}."
    )
