"""What a process that only serves sets for itself; one that embeds the service keeps its own settings."""

from __future__ import annotations

import gc
import sys

SWITCH = 0.0005
"""Seconds after which a thread hands on the interpreter. The usual 5 ms are as long as several checks, and a check that
waits for a selection or a map in another thread would wait for them again and again."""


YIELDS = 15
"""By how much threads of long formulas yield the processor to single questions, which wait for one answer each. Beside a batch and
selections without end the slowest hundredth of single checks then waits half as long."""


MOST_FILES = 65_536
"""Open files and connections asked of the system; what it usually grants, 1,024, is as many as there may be callers."""


def begin() -> None:
    """Start loading. What is loaded stays: looking through it for what could go takes a sixth of the start."""
    gc.disable()
    if sys.platform != "win32":
        import resource

        soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        wanted = MOST_FILES if hard == resource.RLIM_INFINITY else min(hard, MOST_FILES)
        if soft != resource.RLIM_INFINITY and soft < wanted:
            resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))


def settle() -> None:
    """Have all loaded, to be served from now on: it is not looked through again while requests wait."""
    from glandwise.numerics import compiled

    gc.freeze()
    gc.enable()
    sys.setswitchinterval(SWITCH)
    compiled.yields = YIELDS
