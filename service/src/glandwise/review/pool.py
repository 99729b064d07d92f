"""Work spread over processes by Dask: results come back in the order of the work, and only a little is under way at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

R = TypeVar("R")


@contextmanager
def local(workers: int) -> Iterator[Any]:
    """Start worker processes on this machine, and end them."""
    import distributed as dask_distributed

    distributed: Any = dask_distributed
    # its page of figures is of no use here, and would listen to everybody at a port that may be taken
    cluster = distributed.LocalCluster(
        n_workers=workers, threads_per_worker=1, dashboard_address=None, host="127.0.0.1",
        scheduler_kwargs={"dashboard_address": "127.0.0.1:0"},
    )  # fmt: skip
    client = distributed.Client(cluster)
    try:
        yield client
    finally:
        client.close()
        cluster.close()


def given(client: Any, shared: Any) -> Any:
    """Send a value to each worker, once for all the work that is done with it."""
    return client.scatter([shared], broadcast=True)[0]  # a tuple whole, not its parts


def in_order(client: Any, work: Callable[..., R], held: Any, items: Iterable[list[Any]], workers: int) -> Iterator[R]:
    """Yield ``work(shared, *item)`` for each item, in their order; ``held`` is the shared value as it was :func:`given`.

    Only two items a worker are under way, so that memory stays bounded however many there are.
    """
    pending: list[Any] = []
    for item in items:
        pending.append(client.submit(work, held, *item, pure=False))
        if len(pending) >= 2 * workers:
            yield pending.pop(0).result()
    while pending:
        yield pending.pop(0).result()
