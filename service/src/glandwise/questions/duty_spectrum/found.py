"""What the phases of a duty add up to, by machine code."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from glandwise.numerics.compiled import compiled, ready
from glandwise.physics.duty_spectrum import Means, Worn
from glandwise.questions.arrays import Table
from glandwise.questions.duty_spectrum import kernel

PHASE = kernel.PHASE
_kernel = compiled(kernel.spectrum)


def warm() -> None:
    """Compile, or read from disk, all that a request may need; nothing is compiled after that."""
    phases = np.zeros(0, PHASE)
    ready(_kernel, phases, phases, np.zeros(1, kernel.OUT))


class Sums(NamedTuple):
    """What phases add up to, SI."""

    means: Means
    worn: Worn
    wear_shares: list[float]
    """Share in the wear of each phase that lasts; NaN where nothing wears."""


def added(lasting: Table, every: Table) -> Sums:
    """Add up the phases that last; ``every`` are all phases, lasting or not, as tables."""
    out = np.zeros(1, kernel.OUT)
    _kernel(lasting, every, out)
    row = out[0]
    return Sums(
        Means(*(float(row[f"mean_{name}"]) for name in Means._fields)),
        Worn(*(float(row[f"worn_{name}"]) for name in Worn._fields)),
        lasting["wear_share"].tolist(),
    )
