"""What machine code adds up of the phases of a duty."""

from __future__ import annotations

from typing import Any

import numpy as np

from glandwise.physics.duty_spectrum import Means, PhaseNumbers, means_of, wear_share, worn_by
from glandwise.physics.wear import Rates, Worn

PHASE = np.dtype([*((name, "f8") for name in PhaseNumbers.__annotations__), ("wear_share", "f8")], align=True)
"""A phase; what it shares of the wear is to be found."""
OUT = np.dtype(
    [*((f"mean_{name}", "f8") for name in Means._fields), *((f"worn_{name}", "f8") for name in Worn._fields)],
    align=True,
)
"""Means, then wear and lives."""


def spectrum(
    lasting: Any, every: Any, out: Any, K_low: float, K: float, K_high: float, h_a: float
) -> None:  # fmt: skip
    """Add up the phases that last, and find the greatest torque of every phase."""
    row = out[0]
    means = means_of(lasting, every)
    row.mean_power_low = means.power_low
    row.mean_power = means.power
    row.mean_power_high = means.power_high
    row.mean_torque = means.torque
    row.mean_greatest_torque = means.greatest_torque
    row.mean_speed = means.speed
    found = worn_by(lasting, Rates(K_low, K, K_high), means.speed, h_a)
    row.worn_depth_low = found.depth_low
    row.worn_depth_nominal = found.depth_nominal
    row.worn_depth_high = found.depth_high
    row.worn_in_1000_h_low = found.in_1000_h_low
    row.worn_in_1000_h = found.in_1000_h
    row.worn_in_1000_h_high = found.in_1000_h_high
    row.worn_long = found.long
    row.worn_nominal = found.nominal
    row.worn_short = found.short
    for i in range(len(lasting)):
        phase = lasting[i]
        phase.wear_share = wear_share(phase.share, phase.contact_pressure, phase.speed, lasting)
