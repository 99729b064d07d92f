"""Where long work is handed to workers: processes, started when first needed, or a thread of the service.

A process keeps its own interpreter busy and not the service's, so that whoever asks a single question beside long work is
not kept waiting; and what brings a process down does not bring the service down.
"""

from __future__ import annotations

import asyncio
import gc
import logging
import multiprocessing
import os
import pickle
import signal
import threading
import time
from collections.abc import AsyncIterator, Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import asynccontextmanager, contextmanager
from functools import cached_property
from multiprocessing.connection import wait
from typing import Any, TypeVar
from weakref import WeakSet

from glandwise.api.problems import ProblemError
from glandwise.checks.engine import Engine

log = logging.getLogger("glandwise")
T = TypeVar("T")

RETRY_AFTER = "2"
"""Seconds after which to ask again when too many batches are under way."""
PATIENCE = 2.0
"""Seconds within which a worker that is told to end has to."""

_held: list[Engine] = []
"""The engine of a worker process."""


class WorkerLost(Exception):  # noqa: N818 - what happened
    """The worker ended before it answered."""


# ---------------------------------------------------------------------------------------------------- in the worker


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


# --------------------------------------------------------------------------------------------------- in the service


class Workers:
    """``count`` processes that hold an engine; those that are lost are replaced when there is work again."""

    def __init__(self, desk: Desk, count: int) -> None:
        self.desk, self.count = desk, count
        self._pool: ProcessPoolExecutor | None = None
        self._lock = threading.Lock()

    async def run(self, function: Callable[..., T], *arguments: Any) -> T:
        """Return ``function(engine, *arguments)``. Raises :class:`WorkerLost`, and what the function raises."""
        try:
            # a process may be started here, which takes a while, and would keep the event loop from everything else
            future = await asyncio.to_thread(self._submit, _work, function, arguments)
            found: T = await asyncio.wrap_future(future)
        except BrokenProcessPool as error:
            log.exception("a worker ended while it was at work")
            raise WorkerLost from error
        return found

    def _submit(self, *work: Any) -> Future[Any]:
        with self._lock:
            if self._pool is not None:
                try:
                    return self._pool.submit(*work)
                except BrokenProcessPool:  # before this work came
                    self._pool = None
            if self.desk.closed:
                raise WorkerLost
            self._pool = ProcessPoolExecutor(
                self.count,
                mp_context=multiprocessing.get_context("spawn"),  # a copy of a process with threads may hang
                initializer=_begin,
                initargs=(self.desk.pickled_engine,),
            )
            return self._pool.submit(*work)

    def close(self) -> None:
        """End the processes, whatever they are at."""
        with self._lock:
            pool, self._pool = self._pool, None
        if pool is None:
            return
        processes = list((pool._processes or {}).values())  # the library offers no way to end them before 3.14
        manager: Any = pool._executor_manager_thread
        pool.shutdown(wait=False)
        process: Any = None
        for process in processes:
            process.terminate()
        until = time.monotonic() + PATIENCE
        for process in processes:
            if not wait([process.sentinel], max(0.0, until - time.monotonic())):
                process.kill()
        # what they were at and what waited for them is lost now, which the pool tells whoever asked
        if manager is not None:
            manager.join(PATIENCE)
        del pool, processes, process, manager
        gc.collect()  # its semaphores go now: a service that a signal ends has no time for them later


class Desk:
    """Hands functions of the engine and plain values to ``workers`` processes, or to a thread where that is 0.

    At most ``max_batches`` callers have a turn at a time.
    """

    def __init__(self, engine: Engine, workers: int, max_batches: int) -> None:
        self.engine, self.workers, self.max_batches = engine, workers, max_batches
        self.closed = False
        self._turns = 0
        self._open: WeakSet[Workers] = WeakSet()
        self._shared = self._made(workers)

    def _made(self, count: int) -> Workers:
        workers = Workers(self, count)
        self._open.add(workers)
        return workers

    @cached_property
    def pickled_engine(self) -> bytes:
        """The engine for a worker: the rules of the service, whatever has become of their files since."""
        return pickle.dumps(self.engine)

    @property
    def at_once(self) -> int:
        """Pieces of work that are worked on at the same time."""
        return max(1, self.workers)

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Hold a turn. Raises :class:`ProblemError` when none is free."""
        if self._turns >= self.max_batches:
            detail = f"{self.max_batches} batches are under way, which is as many as are taken at once"
            raise ProblemError("unavailable", detail, headers={"Retry-After": RETRY_AFTER})
        self._turns += 1
        try:
            yield
        finally:
            self._turns -= 1

    async def run(self, function: Callable[..., T], *arguments: Any) -> T:
        """Return ``function(engine, *arguments)``. Raises :class:`WorkerLost`, and what the function raises."""
        if self.workers == 0:
            return await asyncio.to_thread(function, self.engine, *arguments)
        return await self._shared.run(function, *arguments)

    @asynccontextmanager
    async def apart(self) -> AsyncIterator[Workers]:
        """Give a worker of one's own, whose end costs nobody else anything."""
        workers = self._made(1)
        try:
            yield workers
        finally:
            await asyncio.to_thread(workers.close)

    def open(self) -> None:
        """Take work (again)."""
        self.closed = False

    def close(self) -> None:
        """End the workers, whatever they are at."""
        self.closed = True
        for workers in list(self._open):
            workers.close()
