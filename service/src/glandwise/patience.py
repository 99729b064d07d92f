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
LONGEST = 1.0
"""Seconds after which whoever waits for its turn goes on without. A second is long for a calculation that asks for none; and should one
that has the turn wait for something that another holds, both would wait for ever."""


class Turns:
    """Has one of several threads calculate at a time, in turn.

    Threads share one interpreter: two that calculate take twice as long each, and whoever answers single questions beside them would
    wait for both of them again and again. A lock alone is not enough: who lets go of one and wants it again has it back before any
    other wakes up.
    """

    def __init__(self, longest: float = LONGEST) -> None:
        self._longest = longest
        self._lock, self._taken, self._since = threading.Lock(), False, 0.0
        self._waiting: deque[threading.Event] = deque()

    def take(self) -> bool:
        """Wait for one's turn; false where it did not come."""
        mine = threading.Event()
        with self._lock:
            if self._taken:
                self._waiting.append(mine)
            else:
                self._taken = True
                mine.set()
        if not mine.wait(self._longest):
            with self._lock:
                if not mine.is_set():
                    self._waiting.remove(mine)
                    return False
        self._since = time.monotonic()
        return True

    def leave(self) -> None:
        """Give one's turn to whoever has waited longest."""
        with self._lock:
            if self._waiting:
                self._waiting.popleft().set()
            else:
                self._taken = False

    @property
    def are_due(self) -> bool:
        """Whether another waits, and whoever has its turn has had it long enough."""
        return bool(self._waiting) and time.monotonic() - self._since > SLICE


class Patience:
    """How long a calculation may go on: for some seconds [s], and until :meth:`end` is called from whatever thread.

    It takes part in ``turns``.
    """

    __slots__ = ("_has_turn", "_turns", "until")

    def __init__(self, seconds: float, turns: Turns | None = None) -> None:
        self.until, self._turns, self._has_turn = time.monotonic() + seconds, turns, False

    @contextmanager
    def in_turn(self) -> Iterator[None]:
        """Wait for one's turn, and have it inside."""
        try:
            self._take()
            yield
        finally:
            self._leave()

    def pass_on(self) -> None:
        """Have others have their turn, where that is due."""
        if self._has_turn and self._turns is not None and self._turns.are_due:
            self._leave()
            self._take()

    def _take(self) -> None:
        self._has_turn = self._turns is not None and self._turns.take()

    def _leave(self) -> None:
        if self._has_turn and self._turns is not None:
            self._has_turn = False
            self._turns.leave()

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


def rest() -> None:
    """Have other calculations have their turn, where one waits, then go on as by :func:`go_on`.

    Only where nothing is held that others may wait for, be it the lock of a cached property: whoever waits for it has the turn then.
    """
    patience = _CURRENT.get()
    if patience is not None:
        patience.pass_on()
    go_on()
