"""Wear over the time: how deep the lip is worn when, by the same march as the life."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from glandwise.case.intake import build
from glandwise.contract.running import WearEstimateRequest
from glandwise.engine import Engine
from glandwise.questions.arrays import Floats
from glandwise.questions.friction.operation import subject_of
from glandwise.questions.wear.found import measured

POINTS = 16
"""Depths looked at, even up to the wear allowance."""
NINE_IN_TEN = 1.6448536269514722
"""Quantile of the normal distribution between whose ends nine in ten lie."""


class OverTime(NamedTuple):
    """Depths and the times at which they are reached, SI."""

    depth: Floats
    time: Floats
    """Median; NaN where a depth is never reached."""
    early: Floats
    """One in twenty seals is worn so deep before."""
    late: Floats
    """One in twenty seals is not worn so deep by then."""


def over_time(request: WearEstimateRequest, engine: Engine) -> OverTime | None:
    """Return wear over time of a request; ``None`` where nothing wears or its wear is not known."""
    case = build(request.duty, request.design, engine.rules(request))
    subject = subject_of(case, request.surroundings)
    if case.friction is None or case.wear is None:
        return None
    whole = measured(subject, np.nan if request.wear_allowance is None else request.wear_allowance)
    allowed = whole.room.lip
    depths = allowed * np.arange(1, POINTS + 1) / POINTS
    found = [measured(subject, float(depth)).worn for depth in depths[:-1]] + [whole.worn]
    time = np.array([worn.to_depth for worn in found])
    reached = np.isfinite(time) & (time > 0.0)
    if not (allowed > 0.0 and reached.any()):
        return None
    away = np.exp(NINE_IN_TEN * np.array([worn.spread for worn in found]))
    time = np.where(reached, time, np.nan)
    return OverTime(depths, time, time / away, time * away)
