"""Threads that machine code runs on: it lets go of the interpreter."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from functools import cache


@cache
def pool() -> ThreadPoolExecutor:
    """Return the threads of this process."""
    return ThreadPoolExecutor(os.cpu_count() or 1, thread_name_prefix="formulas")
