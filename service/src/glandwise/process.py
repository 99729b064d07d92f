"""What a process that only serves sets for itself; one that embeds the service keeps its own settings."""

from __future__ import annotations

import gc
import sys

SWITCH = 0.0005
"""Seconds after which a thread hands on the interpreter. The usual 5 ms are as long as several checks, and a check that
waits for a selection or a map in another thread would wait for them again and again."""


YIELDS = 10
"""By how much long work, in threads and in workers, yields the processor to single questions, which wait for one answer each. All of it
alike: a thread that holds the interpreter and waits for a processor behind others keeps the event loop waiting with it."""


MOST_FILES = 65_536
"""Open files and connections asked of the system; what it usually grants, 1,024, is as many as there may be callers."""


_begun: list[int] = []
"""How nice this process was when it began to be one that only serves."""


def begin() -> None:
    """Start loading. What is loaded stays: looking through it for what could go takes a sixth of the start."""
    gc.disable()
    if sys.platform == "win32":
        _begun[:] = [0]
        return
    import os
    import resource

    _begun[:] = [os.getpriority(os.PRIO_PROCESS, 0)]
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = MOST_FILES if hard == resource.RLIM_INFINITY else min(hard, MOST_FILES)
    if soft != resource.RLIM_INFINITY and soft < wanted:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))


def settle() -> None:
    """Have all loaded, to be served from now on: it is not looked through again while requests wait.

    Called again when machine code is ready, whose objects are a third of all. A process that did not begin here, because it embeds
    the service, keeps its own settings.
    """
    if not _begun:
        return
    from glandwise.numerics import compiled

    gc.freeze()
    gc.enable()
    sys.setswitchinterval(SWITCH)
    compiled.niceness = min(_begun[0] + YIELDS, 19)
