"""Where batches are handed to workers: processes, started when first needed, or a thread of the service.

A process keeps its own interpreter busy and not the service's, so that whoever asks a single question beside a batch is
not kept waiting; and what brings a process down does not bring the service down. Each worker has a pipe of its own and
shares no lock with another, so that one that is killed at any moment, half a message read or written, costs nothing but
what it was at: the kept pools of processes share queues and semaphores, which such a death leaves taken.
"""

from __future__ import annotations

import asyncio
import logging
import multiprocessing
import os
import pickle
import signal
import sys
import threading
import time
from collections.abc import AsyncIterator, Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import asynccontextmanager, contextmanager, suppress
from functools import cache, cached_property
from multiprocessing.connection import Connection
from typing import Any, TypeVar
from weakref import WeakSet

from glandwise import logs, process
from glandwise.api.problems import ProblemError
from glandwise.engine import Engine
from glandwise.questions.warm import warm

log = logging.getLogger("glandwise")
T = TypeVar("T")

PATIENCE = 2.0
"""Seconds within which a worker that was killed is expected to be gone."""
STARTS = 3
"""Times that a worker is started anew when it ends before it has work."""
NO_WORKER = "no process can be started to answer batches; single requests are answered"
"""What is said where no worker can be had."""
START_PATIENCE = 60.0
"""Seconds within which a worker has to be there."""

_held: list[Engine] = []
"""The engine of a worker process."""


class WorkerLost(Exception):  # noqa: N818 - what happened
    """The worker ended before it answered."""


class NoWorker(WorkerLost):
    """No worker can be had: whoever asked is not to blame."""


# ---------------------------------------------------------------------------------------------------- in the worker


def _serve(pipe: Connection, log_as: tuple[logs.Form, logs.Level] | None) -> None:
    """Be a worker: take the engine, then work, until the other end of the pipe is closed."""
    if log_as is not None:
        logs.set_up(*log_as)
    process.begin()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    try:
        pipe.send(None)
        _held[:] = [pickle.loads(pipe.recv_bytes())]  # noqa: S301 - our own, from the process that started this one
        warm()
        process.settle()
        with suppress(AttributeError, OSError):
            os.nice(process.YIELDS)
        pipe.send(None)
        while True:
            function, arguments = pipe.recv()
            try:
                answer: tuple[Any, BaseException | None] = function(_held[0], *arguments), None
            except Exception as error:
                answer = None, error
            del arguments  # a table that has been judged is not kept until the next one comes
            pipe.send(answer)
            del answer
    except (EOFError, OSError):
        return


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(0)


def is_worker() -> bool:
    """Tell whether this is a worker process."""
    return bool(_held)


def _nothing(_: Engine) -> None:
    """Show that a worker is there."""


# --------------------------------------------------------------------------------------------------- in the service


@cache
def _copying() -> Any:
    """Return how processes are started that are copies of one that has all loaded and does nothing else.

    A worker is there at once then, and shares what it does not change with the others. A copy of this process, which has threads,
    might hang. Elsewhere than on Linux, what is loaded may not bear to be copied; before 3.11.1 the socket was anybody's.
    """
    if sys.platform != "linux" or sys.version_info < (3, 11, 1):
        return _anew()
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["glandwise.api.worker"])
    return context


def _anew() -> Any:
    """Return how processes are started that load everything for themselves."""
    return multiprocessing.get_context("spawn")


class _Worker:
    """A process with an engine, and the pipe to it."""

    def __init__(self, context: Any) -> None:
        # what goes to the new one at its start must fit into the buffer of a pipe, because its parent holds the other end
        # meanwhile: the engine follows through the worker's own pipe
        self._pipe, theirs = context.Pipe()
        with theirs:
            self.process = context.Process(
                target=_serve, args=(theirs, logs.chosen()), daemon=True, name="glandwise-worker"
            )
            self.process.start()

    def begin(self, engine: bytes) -> None:
        """Hand it the engine. Raises :class:`WorkerLost`."""
        try:
            if self._pipe.poll(START_PATIENCE):
                self._pipe.recv()
                self._pipe.send_bytes(engine)
                self._pipe.recv()
                return
        except (EOFError, OSError):
            pass
        raise WorkerLost

    def is_there(self) -> bool:
        """Tell whether it waits for work; one that has ended has closed its pipe."""
        try:
            return not self._pipe.poll()
        except OSError:
            return False

    def ask(self, function: Callable[..., T], arguments: tuple[Any, ...]) -> T:
        """Return what it makes of the arguments. Raises :class:`WorkerLost`, and what the function raises."""
        try:
            self._pipe.send((function, arguments))
            answer, error = self._pipe.recv()
        except (EOFError, OSError):
            raise WorkerLost from None
        if error is not None:
            raise error
        found: T = answer
        return found

    def kill(self) -> None:
        """End it; whoever waits for its answer is told that it is lost."""
        self.process.kill()

    def bury(self) -> None:
        """Let go of what is left of it."""
        self.kill()
        self.process.join(PATIENCE)
        self._pipe.close()


class Workers:
    """``count`` processes that hold an engine; those that are lost are replaced when there is work again."""

    def __init__(self, desk: Desk, count: int) -> None:
        self.desk, self.count = desk, count
        self.missing = False
        """Whether none could be had when one was wanted last."""
        self._threads = ThreadPoolExecutor(max(1, count), thread_name_prefix="glandwise-desk")
        self._lock = threading.Lock()
        self._idle: list[_Worker] = []
        self._all: set[_Worker] = set()
        self._closed = False

    @property
    def processes(self) -> list[int]:
        """The ids of the processes that there are."""
        with self._lock:
            return [worker.process.pid for worker in self._all if worker.process.pid is not None]

    async def run(self, function: Callable[..., T], *arguments: Any) -> T:
        """Return ``function(engine, *arguments)``. Raises :class:`WorkerLost`, and what the function raises."""
        # a process may be started there, which takes a while, and would keep the event loop from everything else
        return await asyncio.get_running_loop().run_in_executor(self._threads, self._run, function, arguments)

    def _run(self, function: Callable[..., T], arguments: tuple[Any, ...]) -> T:
        """Do some work in this thread's turn: there are as many threads as there may be workers."""
        worker = self._take() or self._start()
        try:
            found = worker.ask(function, arguments)
        except WorkerLost:
            log.warning("a worker ended while it was at work", extra={"event": "worker_lost"})
            self.desk.count_loss()
            self._forget(worker)
            raise
        except BaseException:
            self._give_back(worker)
            raise
        self._give_back(worker)
        return found

    def _take(self) -> _Worker | None:
        """Return one that waits for work, if there is one; those that have ended meanwhile are forgotten."""
        while True:
            with self._lock:
                if not self._idle:
                    return None
                worker = self._idle.pop()
            if worker.is_there():
                return worker
            self._forget(worker)

    def _start(self) -> _Worker:
        ways: list[Callable[[], Any]] = [_copying] * (STARTS - 1) + [_anew]  # the last where nothing can be copied
        for started in ways:
            if self._is_closed():
                break
            try:
                worker = _Worker(started())
            except (OSError, EOFError):  # no memory, no place among the processes, or nothing is left to copy
                log.exception("a worker could not be started")
                continue
            with self._lock:
                self._all.add(worker)  # from now on it is ended with the others
            try:
                if self._is_closed():
                    raise WorkerLost
                worker.begin(self.desk.pickled_engine)
            except WorkerLost:
                self._forget(worker)
                continue
            self.missing = False
            return worker
        if not self._is_closed():
            self.missing = True
            log.error("no worker can be had: %d tries to start one failed", STARTS)
        raise NoWorker

    def _is_closed(self) -> bool:
        return self._closed or self.desk.closed

    def _give_back(self, worker: _Worker) -> None:
        with self._lock:
            self._idle.append(worker)

    def _forget(self, worker: _Worker) -> None:
        with self._lock:
            self._all.discard(worker)
        worker.bury()

    def end(self) -> None:
        """End the processes, whatever they are at; more may be started while the desk is open."""
        with self._lock:
            workers, idle, self._idle = list(self._all), self._idle, []
        for worker in workers:
            worker.kill()
        until = time.monotonic() + PATIENCE
        for worker in workers:
            worker.process.join(max(0.0, until - time.monotonic()))
        for worker in idle:  # the thread that waits for one lets go of it itself
            self._forget(worker)

    def close(self) -> None:
        """End the processes for good."""
        self._closed = True
        self.end()
        self._threads.shutdown(wait=False)


class _Held:
    """What is held at a time, of the rules that are served and of those before."""

    turns = 0
    size = 0
    lost = 0


class Desk:
    """Hands functions of the engine and plain values to ``workers`` processes, or to a thread where that is 0.

    At most ``max_batches`` callers have a turn at a time; all messages that are held at a time have ``max_bytes`` at most.
    ``before`` is the desk of the rules that were served before, at which batches may still be under way: its turns count too.
    """

    _ends = float("inf")
    """When what is under way has to be answered."""

    def __init__(
        self, engine: Engine, workers: int, max_batches: int, max_bytes: int = 2**30, before: Desk | None = None
    ) -> None:
        self.engine, self.workers, self.max_batches, self.max_bytes = engine, workers, max_batches, max_bytes
        self.closed = False
        self._before = before
        self._held: _Held = before._held if before is not None else _Held()
        self.own_turns = 0
        """Batches and tables under way with the rules of this desk."""
        self._trial: asyncio.Task[None] | None = None
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

    def drain(self, seconds: float) -> None:
        """Have what is under way answered within so many seconds: the service is being stopped."""
        self._ends = time.monotonic() + seconds
        if self._before is not None:
            self._before.drain(seconds)

    def seconds_left(self, seconds: float) -> float:
        """Return for how long something may be worked at that may take ``seconds`` from now on."""
        return min(seconds, max(0.0, self._ends - time.monotonic()))

    def late(self, seconds: float) -> ProblemError:
        """Return the problem of something that was given up and might take ``seconds``."""
        if self._ends < float("inf"):
            return ProblemError("unavailable", "the service is being stopped; ask again, and another will answer")
        detail = f"a batch or table is worked at for at most {seconds:g} s; send what is left again"
        return ProblemError("took-too-long", detail)

    def require_turn(self) -> None:
        """Raise :class:`ProblemError` when no turn is free."""
        if self._held.turns >= self.max_batches:
            detail = f"{self.max_batches} batches are under way, which is as many as are taken at once"
            raise ProblemError("too-busy", detail)

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Hold a turn. Raises :class:`ProblemError` when none is free."""
        self.require_turn()
        self._held.turns += 1
        self.own_turns += 1
        try:
            yield
        finally:
            self._held.turns -= 1
            self.own_turns -= 1

    @contextmanager
    def room(self) -> Iterator[Callable[[int], None]]:
        """Give a function that takes room for so many bytes, and raises :class:`ProblemError` when there is none left."""
        taken = 0

        def take(size: int) -> None:
            nonlocal taken
            if self._held.size + size > self.max_bytes:
                headers = {"Connection": "close"}
                raise ProblemError("too-busy", "the batches under way leave no room for another", headers=headers)
            self._held.size += size
            taken += size

        try:
            yield take
        finally:
            self._held.size -= taken

    async def run(self, function: Callable[..., T], *arguments: Any) -> T:
        """Return ``function(engine, *arguments)``. Raises :class:`WorkerLost`, and what the function raises."""
        if self.workers == 0:
            return await asyncio.to_thread(function, self.engine, *arguments)
        return await self._shared.run(function, *arguments)

    @property
    def lost(self) -> int:
        """Workers that ended while they were at work."""
        return self._held.lost

    def count_loss(self) -> None:
        """Count one more."""
        self._held.lost += 1

    def forget_before(self) -> None:
        """Let go of the desk before: all that it was at has been answered."""
        self._before = None

    @property
    def turns(self) -> int:
        """Batches and tables under way."""
        return self._held.turns

    @property
    def bytes_held(self) -> int:
        """Bytes of the messages that are held."""
        return self._held.size

    @property
    def processes(self) -> list[int]:
        """The ids of the processes that are kept."""
        return self._shared.processes

    @property
    def lacks_workers(self) -> bool:
        """Tell whether no worker could be had when one was wanted last."""
        return self._shared.missing

    def try_again(self) -> None:
        """Have a worker started beside everything else, unless that is under way: nobody else may ask for one again."""
        if self._trial is None or self._trial.done():
            self._trial = asyncio.create_task(self._try())

    async def _try(self) -> None:
        with suppress(WorkerLost):
            await self.run(_nothing)

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
        self.closed, self._ends = False, float("inf")

    def close(self) -> None:
        """End the workers, whatever they are at; none is started until the desk is opened again."""
        self.closed = True
        for workers in list(self._open):
            workers.end()
        if self._before is not None:
            self._before.close()
