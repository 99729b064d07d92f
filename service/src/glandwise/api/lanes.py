"""Threads of their own for what would keep the event loop: long calculations in one lane, renderings in another.

A lane takes so much at once and lets so much wait; more is put off by a 503. Whoever has hung up is worked for no longer,
and what takes too long is given up.
"""

from __future__ import annotations

import asyncio
import logging
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from contextvars import copy_context
from typing import Any, NamedTuple, TypeVar

from starlette.types import Receive

from glandwise.api.problems import ProblemError
from glandwise.numerics.compiled import give_way
from glandwise.patience import GivenUp, Patience, Turns, within

log = logging.getLogger("glandwise")
T = TypeVar("T")


async def hung_up(receive: Receive) -> None:
    """Return when the caller has hung up; its message has been read."""
    while (await receive())["type"] != "http.disconnect":
        pass


RENDERINGS = 2
"""Sheets, tables and plots made at once."""


class Lane:
    """At most ``threads`` pieces of work at once, ``waiting`` behind them, each for at most ``seconds`` in all.

    ``what`` names the work in problems. Those under way calculate in turn.
    """

    def __init__(self, what: str, threads: int, waiting: int, seconds: float) -> None:
        self.what, self.places, self.seconds = what, threads + waiting, seconds
        self._turns = Turns()
        name = f"glandwise-{what.replace(' ', '-')}"
        self._threads = ThreadPoolExecutor(threads, thread_name_prefix=name, initializer=give_way)
        self._lock = threading.Lock()
        self._taken: set[Patience] = set()
        self._stopping = False

    async def run(self, receive: Receive, function: Callable[..., T], *arguments: Any) -> T:
        """Return ``function(*arguments)``. Raises :class:`ProblemError` when it cannot be had, and what it raises."""
        patience = Patience(self.seconds, self._turns)
        with self._lock:
            if len(self._taken) >= self.places:
                detail = f"{self.places} {self.what} are under way or wait, which is as many as are taken"
                raise ProblemError("too-busy", detail)
            self._taken.add(patience)
        begun: Future[T] = self._threads.submit(copy_context().run, _bounded, patience, function, arguments)
        # a place is free again when its thread is, however long ago the caller has gone
        begun.add_done_callback(lambda _: self._leave(patience))
        work, watch = asyncio.wrap_future(begun), asyncio.create_task(hung_up(receive))
        try:
            either: set[asyncio.Future[Any]] = {work, watch}
            await asyncio.wait(either, timeout=self.seconds, return_when=asyncio.FIRST_COMPLETED)
            if work.done():
                return work.result()
            if watch.done():
                log.info("a caller hung up before it was answered")
                raise ProblemError("bad-request", "the caller hung up before it was answered")
            raise GivenUp
        except GivenUp:
            if self._stopping:
                detail = "the service is being stopped; ask again, and another will answer"
                raise ProblemError("unavailable", detail) from None
            detail = (
                f"of the {self.what} none may take longer than {self.seconds:g} s, with what it waits for the others; "
                "ask for less at once, or again when there is less to do"
            )
            raise ProblemError("took-too-long", detail) from None
        finally:
            patience.end()
            watch.cancel()
            work.cancel()

    @property
    def taken(self) -> int:
        """Places that are taken: pieces of work under way or waiting."""
        with self._lock:
            return len(self._taken)

    def _leave(self, patience: Patience) -> None:
        with self._lock:
            self._taken.discard(patience)

    def drain(self, seconds: float) -> None:
        """Have everything given up that takes longer than so many seconds from now on: the service is being stopped."""
        with self._lock:
            self._stopping = True
            until = time.monotonic() + seconds
            for patience in self._taken:
                patience.until = min(patience.until, until)

    def end(self) -> None:
        """Have everything under way given up."""
        with self._lock:
            under_way = list(self._taken)
        for patience in under_way:
            patience.end()


class Lanes(NamedTuple):
    """The lanes of the service."""

    long: Lane
    """Calculations of several milliseconds up to seconds."""
    renderings: Lane
    """Answers written in another form than JSON."""


def _bounded(patience: Patience, function: Callable[..., T], arguments: tuple[Any, ...]) -> T:
    with patience.in_turn(), within(patience):
        if patience.is_over:
            raise GivenUp
        return function(*arguments)
