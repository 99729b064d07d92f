"""Friction over the speed: the same seal, turned slower and faster than its duty."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from glandwise.case.intake import build
from glandwise.contract.running import FrictionEstimateRequest
from glandwise.engine import Engine
from glandwise.questions.arrays import Floats
from glandwise.questions.friction.operation import subject_of
from glandwise.questions.friction.states import ROOTS

SLOWEST, FASTEST, POINTS = 0.005, 4.0, 41
"""Range of the speed over that of the duty, and number of speeds, even in the logarithm."""
_SPEEDS = ("rotational_speed", "surface_speed", "peak_speed", "frequency")


class OverSpeed(NamedTuple):
    """States over the speed, SI; rows low, nominal and high; NaN where no balance of heat was found."""

    surface_speed: Floats
    torque: Floats
    temperature: Floats
    film_share: Floats
    """Share of the load that a film bears, nominal."""


def over_speed(request: FrictionEstimateRequest, engine: Engine) -> OverSpeed | None:
    """Return the friction of a request over the speed; ``None`` where nothing moves or its friction is not known.

    Sizes, load and surroundings stay those of the duty.
    """
    case = build(request.duty, request.design, engine.rules(request))
    subject, known = subject_of(case, request.surroundings), case.friction
    if known is None or not case.surface_speed > 0.0:
        return None
    factors = np.unique(np.append(np.geomspace(SLOWEST, FASTEST, POINTS), 1.0))
    count, data = len(factors), case.data
    rows = np.repeat(subject.rows, 3 * count)
    for name in _SPEEDS:
        if name in (rows.dtype.names or ()):
            rows[name] = rows[name] * np.tile(factors, 3)
    film = data.running.lubrication.film_friction_factor
    times = (data.sizing.following.service_time.si, data.running.nominal_time.si, data.running.fresh_time.si)

    def each(values: Sequence[float]) -> Floats:
        return np.repeat(np.array(values), count)

    found = subject.found(
        rows, each((known.si_low, known.si, known.si_high)), each((film.si_low, film.si, film.si_high)), each(times),
        each([int(root) for root in ROOTS]),
    )  # fmt: skip

    def level(name: str) -> Floats:
        return np.array(found[name], dtype=float).reshape(3, count)

    return OverSpeed(case.surface_speed * factors, level("torque"), level("temperature"), 1.0 - level("film_share")[1])
