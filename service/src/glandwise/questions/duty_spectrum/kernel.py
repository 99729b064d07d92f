"""What machine code adds up of the phases of a duty."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np

from glandwise.physics.duty_spectrum import Means, PhaseNumbers, Worn, means_of, wear_share, worn_by
from glandwise.questions.arrays import Compiled

PHASE = np.dtype([*((name, "f8") for name in PhaseNumbers.__annotations__), ("wear_share", "f8")], align=True)
"""A phase; what it shares of the wear is to be found."""
OUT = np.dtype(
    [*((f"mean_{name}", "f8") for name in Means._fields), *((f"worn_{name}", "f8") for name in Worn._fields)],
    align=True,
)
"""Means, then wear and lives."""


class Lasting(PhaseNumbers, Protocol):
    """A phase with what it shares of the wear."""

    wear_share: float
    """omega [-]: Share in the wear"""


def spectrum(lasting: Sequence[Lasting], every: Sequence[PhaseNumbers], out: Compiled) -> None:
    """Add up the phases that last, and find the greatest torque of every phase."""
    row = out[0]
    means = means_of(lasting, every)
    row.mean_power_low = means.power_low
    row.mean_power = means.power
    row.mean_power_high = means.power_high
    row.mean_torque = means.torque
    row.mean_greatest_torque = means.greatest_torque
    row.mean_speed = means.speed
    found = worn_by(lasting)
    row.worn_rate = found.rate
    row.worn_in_1000_h = found.in_1000_h
    row.worn_life = found.life
    row.worn_spread = found.spread
    for i in range(len(lasting)):
        phase = lasting[i]
        phase.wear_share = wear_share(phase.share, phase.wear_rate, lasting)
