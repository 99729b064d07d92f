"""Giving up a calculation that takes too long, or that nobody waits for any more.

A thread cannot be stopped from outside: what may take long asks now and then whether to go on.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar


class GivenUp(Exception):  # noqa: N818 - what happened
    """The calculation was given up before it had an answer."""


class Patience:
    """How long a calculation may go on: for some seconds [s], and until :meth:`end` is called from whatever thread."""

    __slots__ = ("until",)

    def __init__(self, seconds: float) -> None:
        self.until = time.monotonic() + seconds

    def end(self) -> None:
        """Have the calculation given up as soon as it asks."""
        self.until = float("-inf")

    @property
    def is_over(self) -> bool:
        """Whether to give up."""
        return time.monotonic() > self.until


_CURRENT: ContextVar[Patience | None] = ContextVar("patience", default=None)


@contextmanager
def within(patience: Patience) -> Iterator[None]:
    """Bound what is calculated inside."""
    token = _CURRENT.set(patience)
    try:
        yield
    finally:
        _CURRENT.reset(token)


def go_on() -> None:
    """Raise :class:`GivenUp` when the calculation under way is not to go on; there is none outside :func:`within`."""
    patience = _CURRENT.get()
    if patience is not None and patience.is_over:
        raise GivenUp
