"""How many examples a law is held to: a share of them in `make test`, all and new ones each time in `make fuzz`."""

from __future__ import annotations

import os
from typing import Any

from hypothesis import settings

FUZZ = bool(os.environ.get("FUZZ"))


def share(count: int) -> int:
    """Return how many of some examples are looked at: a third of them, or all."""
    return count if FUZZ else max(1, -(-count // 3))


def laws(examples: int, **more: Any) -> settings:
    """Return the settings of a law that is held to so many examples by `make fuzz`."""
    return settings(deadline=None, database=None, max_examples=share(examples), **more)
