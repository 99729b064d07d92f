"""What is logged of a defect: where it happened and of what kind it was, but none of what was sent.

The words of an exception hold what it was raised over, which can be any part of a request. So a record is written with
the frames and the names of the exceptions only, in the service's own log and in those of the server and of asyncio, which
report the same defects.
"""

from __future__ import annotations

import logging
import traceback
from collections.abc import Iterator
from typing import Final

WATCHED: Final = ("glandwise", "glandwise.security", "uvicorn.error", "asyncio", "concurrent.futures")


def _chain(error: BaseException) -> Iterator[str]:
    before = error.__cause__ or (None if error.__suppress_context__ else error.__context__)
    if before is not None:
        yield from _chain(before)
        yield "and then:\n"
    yield from traceback.format_tb(error.__traceback__)
    yield f"{type(error).__module__}.{type(error).__qualname__}\n"
    if isinstance(error, BaseExceptionGroup):
        for item in error.exceptions:
            yield from _chain(item)


def trace(error: BaseException) -> str:
    """Return the frames of an exception and of those that led to it, without their words."""
    return "".join(_chain(error)).rstrip("\n")


class WithoutWords(logging.Filter):
    """Take the words of exceptions out of a record."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Let every record pass, changed where it tells an exception."""
        if record.exc_info and record.exc_info[1] is not None:
            # asyncio puts the task and its exception on further lines of the message
            record.msg, record.args = (record.getMessage().splitlines() or [""])[0], ()
            record.exc_text, record.exc_info = trace(record.exc_info[1]), None
        return True


for _name in WATCHED:  # at import, so that it is done in a worker's process as well
    logging.getLogger(_name).addFilter(WithoutWords())

log: Final = logging.getLogger("glandwise")
"""The service's own log."""
