"""Giving up a calculation that takes too long, or that nobody waits for any more.

A thread cannot be stopped from outside: what may take long asks now and then whether to go on.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar


class GivenUp(Exception):  # noqa: N818 - what happened
    """The calculation was given up before it had an answer."""


SLICE = 0.01
"""Seconds after which a calculation passes its turn on to the next one that waits."""


class Turns:
    """Has one of several threads calculate at a time, in turn.

    Threads share one interpreter: two that calculate take twice as long each, and whoever answers single questions beside them would
    wait for both of them again and again. A lock alone is not enough: who lets go of one and wants it again has it back before any
    other wakes up.
    """

    def __init__(self) -> None:
        self._lock, self._taken, self._since = threading.Lock(), False, 0.0
        self._waiting: deque[threading.Event] = deque()

    def take(self) -> None:
        """Wait for one's turn."""
        mine = threading.Event()
        with self._lock:
            if self._taken:
                self._waiting.append(mine)
            else:
                self._taken = True
                mine.set()
        mine.wait()
        self._since = time.monotonic()

    def leave(self) -> None:
        """Give one's turn to whoever has waited longest."""
        with self._lock:
            if self._waiting:
                self._waiting.popleft().set()
            else:
                self._taken = False

    def pass_on(self) -> None:
        """Have others have a turn, where one's own has lasted long enough."""
        if self._waiting and time.monotonic() - self._since > SLICE:
            self.leave()
            self.take()

    def __enter__(self) -> None:
        """Wait for one's turn."""
        self.take()

    def __exit__(self, *_: object) -> None:
        """Give one's turn to the next."""
        self.leave()


class Patience:
    """How long a calculation may go on: for some seconds [s], and until :meth:`end` is called from whatever thread.

    ``turns`` are those that it takes part in.
    """

    __slots__ = ("turns", "until")

    def __init__(self, seconds: float, turns: Turns | None = None) -> None:
        self.until, self.turns = time.monotonic() + seconds, turns

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
    """Raise :class:`GivenUp` when the calculation under way is not to go on; there is none outside :func:`within`.

    Where others wait for a turn, they have it first.
    """
    patience = _CURRENT.get()
    if patience is None:
        return
    if patience.turns is not None:
        patience.turns.pass_on()
    if patience.is_over:
        raise GivenUp
