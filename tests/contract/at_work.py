"""What tests have workers do: by itself, for a worker that is given a function loads the module it stands in."""

from __future__ import annotations

import os
import signal
import time
from typing import Any

from glandwise.contract.envelope import EnvelopeCheckRequest
from glandwise.engine import Engine
from glandwise.operations import OPERATIONS


def names_and_digests(engine: Engine) -> dict[str, str]:
    """The rule sets that an engine holds."""
    return {name: tree.digest for name, tree in engine.store.trees.items()}


def broken(_: Engine) -> None:
    """Fail."""
    raise ZeroDivisionError


def idle(_: Engine, seconds: float) -> None:
    """Keep a worker busy."""
    time.sleep(seconds)


def deadly(body: EnvelopeCheckRequest, engine: Engine) -> dict[str, Any]:
    """Check an envelope; one of water ends the process that does it."""
    if body.duty.fluid == "water":
        os.kill(os.getpid(), signal.SIGKILL)
    return OPERATIONS["check_envelope"].answer(body, engine)
