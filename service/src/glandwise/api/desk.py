"""Where long work is handed to workers: processes, started when first needed, or a thread of the service.

A process keeps its own interpreter busy and not the service's, so that whoever asks a single question beside long work is
not kept waiting; and what brings a process down does not bring the service down.
"""

from __future__ import annotations

import asyncio
import logging
import multiprocessing
import os
import pickle
import signal
import threading
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import Any, TypeVar

from glandwise.checks.engine import Engine

log = logging.getLogger("glandwise")
T = TypeVar("T")

_held: list[Engine] = []
"""The engine of a worker process."""


class WorkerLost(Exception):  # noqa: N818 - what happened
    """The worker ended before it answered."""


def _begin(engine: bytes) -> None:
    """Set a worker process up: take the engine, leave signals to the parent, end when it has ended."""
    _held[:] = [pickle.loads(engine)]  # noqa: S301 - our own, from the process that started this one
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(0)


def _work(function: Callable[..., Any], arguments: tuple[Any, ...]) -> Any:
    return function(_held[0], *arguments)


def is_worker() -> bool:
    """Tell whether this is a worker process."""
    return bool(_held)


class Desk:
    """Hands functions of the engine and plain values to ``workers`` processes, or to a thread where that is 0."""

    def __init__(self, engine: Engine, workers: int) -> None:
        self.engine, self.workers = engine, workers
        self._pool: ProcessPoolExecutor | None = None

    @property
    def at_once(self) -> int:
        """Pieces of work that are worked on at the same time."""
        return max(1, self.workers)

    async def run(self, function: Callable[..., T], *arguments: Any) -> T:
        """Return ``function(engine, *arguments)``. Raises :class:`WorkerLost`, and what the function raises."""
        if self.workers == 0:
            return await asyncio.to_thread(function, self.engine, *arguments)
        if self._pool is None:
            self._pool = ProcessPoolExecutor(
                self.workers,
                mp_context=multiprocessing.get_context("spawn"),  # a copy of a process with threads may hang
                initializer=_begin,
                initargs=(pickle.dumps(self.engine),),
            )
        pool = self._pool
        try:
            found: T = await asyncio.wrap_future(pool.submit(_work, function, arguments))
        except BrokenProcessPool as error:
            log.exception("a worker ended while it was at work")
            if self._pool is pool:
                self._pool = None  # the next piece of work starts a new one
            raise WorkerLost from error
        return found

    def close(self) -> None:
        """End the workers."""
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)
            self._pool = None
