"""Hardness that the fillers of the compound ask for, against the hardness of the shaft."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.questions.envelope.measure import Judged, Measure

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State

DIMENSION = "hardness_hrc"
RATED = ""
MISSING = "The hardness of the shaft is not stated."
ZONE = None
_ENOUGH = {"pass": "enough", "caution": "barely enough", "fail": "not enough"}


def measure(case: Case, rules: Rules, state: State) -> Measure:
    """Hardness that the fillers of the compound ask for, against the hardness of the shaft.

    Returns
    -------
    H_asked : -
        Least hardness that the fillers ask for, HRC.
    H : -
        Hardness of the shaft, HRC.
    U_H : -
        Use of the hardness.
    which : -
        Nothing to tell apart.
    """
    H_asked = rules.compounds[case.compound].shaft_hardness_min
    return Measure(H_asked, case.hardness, H_asked / case.hardness, 0.0)


def words(found: Judged) -> str:
    """Say whether the shaft is hard enough."""
    return f"The compound asks for {found.demand}; the shaft has {found.capacity}, {_ENOUGH[found.status]}."
