"""The memory that a worker may take for one request."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from glandwise.api.desk import is_worker


@contextmanager
def bounded(max_bytes: int) -> Iterator[None]:
    """Bound what a worker takes beyond what it has: a small message can unpack to a large table.

    The service itself, which answers others too, is left as it is.
    """
    if not is_worker() or sys.platform != "linux":
        yield
        return
    import resource  # not on every system

    soft, hard = resource.getrlimit(resource.RLIMIT_AS)
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
    bound = pages * resource.getpagesize() + max_bytes
    bound = min([bound, *(limit for limit in (soft, hard) if limit != resource.RLIM_INFINITY)])
    resource.setrlimit(resource.RLIMIT_AS, (bound, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_AS, (soft, hard))
