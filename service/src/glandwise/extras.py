"""Parts of the service that are left out of an installation unless they are named, and whether they are there."""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec

STATISTICS = "statistics"
"""What calibrations, audits and the search for what quotes do not exercise need."""
_NEEDS = {STATISTICS: "scipy"}


@cache
def is_installed(extra: str) -> bool:
    """Tell whether an extra is there."""
    return find_spec(_NEEDS[extra]) is not None


def missing(extra: str) -> str:
    """Say that an extra is not there, and how it is had."""
    return f"what this needs is not installed with this service (its extra {extra}); accepted: one that has glandwise-service[{extra}]"


def require(extra: str) -> None:
    """Raise :class:`ImportError` with what to install where an extra is not there."""
    if not is_installed(extra):
        raise ImportError(missing(extra))
