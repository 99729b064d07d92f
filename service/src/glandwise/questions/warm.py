"""Machine code made ready before a request needs it: compiled once, read from disk ever after."""

from __future__ import annotations

from glandwise.case import rows
from glandwise.questions.blank import answer as blank
from glandwise.questions.duty_spectrum import found as duty_spectrum
from glandwise.questions.energizer import answer as energizer
from glandwise.questions.envelope import judge as envelope
from glandwise.questions.friction import states as friction
from glandwise.questions.gland import judge as gland
from glandwise.questions.runout import found as runout
from glandwise.questions.thermal_fit import judge as thermal_fit
from glandwise.questions.wear import found as wear

KERNELS = (rows, envelope, runout, friction, wear, duty_spectrum, energizer, blank, gland, thermal_fit)
"""Modules whose ``warm`` makes their machine code ready."""


_ready: list[bool] = []


def warm() -> None:
    """Have all machine code ready; from then on nothing is compiled within a request."""
    for module in KERNELS:
        module.warm()
    _ready[:] = [True]


def is_warm() -> bool:
    """Tell whether all machine code is ready."""
    return bool(_ready)
