"""How the log is written, and what of a defect: where it happened and of what kind it was, but none of what was sent.

The words of an exception hold what it was raised over, which can be any part of a request. So a record is written with
the frames and the names of the exceptions only, in the service's own log and in those of the server and of asyncio, which
report the same defects.
"""

from __future__ import annotations

import logging
import re
import traceback
from collections.abc import Iterator
from contextvars import ContextVar
from datetime import UTC, datetime
from typing import Final, Literal, NamedTuple

import orjson

WATCHED: Final = (
    "glandwise",
    "glandwise.security",
    "glandwise.requests",
    "uvicorn.error",
    "asyncio",
    "concurrent.futures",
)


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


# ------------------------------------------------------------------------------------------------------------- written


class Marks(NamedTuple):
    """What every record of a request carries."""

    request_id: str
    trace_id: str | None = None
    """The trace that the request is part of (W3C trace context), where its caller says so."""
    parent_id: str | None = None
    """The caller's span in it."""


marks: Final[ContextVar[Marks | None]] = ContextVar("marks", default=None)
"""The request under way."""

_TRACE: Final = re.compile(rb"([0-9a-f]{2})-([0-9a-f]{32})-([0-9a-f]{16})-[0-9a-f]{2}(-.*)?")


def trace_of(traceparent: bytes) -> tuple[str | None, str | None]:
    """Return trace and span of a ``traceparent`` header; nothing of one that is malformed or all zeros."""
    found = _TRACE.fullmatch(traceparent)
    if found is None or found[1] == b"ff" or (found[1] == b"00" and found[4]):
        return None, None
    if not found[2].strip(b"0") or not found[3].strip(b"0"):
        return None, None
    return found[2].decode(), found[3].decode()


FIELDS: Final = (
    "event", "reason", "caller", "right", "address", "method", "operation", "form", "status", "milliseconds", "bytes",
    "rule_set", "digest", "before",
)  # fmt: skip
"""What a record may carry beside its words; each is made here, none is the text of a caller."""


def _of(record: logging.LogRecord) -> dict[str, object]:
    """Return what is written of a record, in order."""
    at = datetime.fromtimestamp(record.created, UTC)
    found: dict[str, object] = {
        "time": at.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
        "level": record.levelname.lower(),
        "logger": record.name,
        "message": record.getMessage(),
    }
    if (here := marks.get()) is not None:
        found |= {name: value for name, value in here._asdict().items() if value is not None}
    found |= {name: record.__dict__[name] for name in FIELDS if record.__dict__.get(name) is not None}
    error = record.exc_info[1] if record.exc_info else None
    if error is not None or record.exc_text:
        found["trace"] = record.exc_text or trace(error)  # type: ignore[arg-type]
    return found


class AsJson(logging.Formatter):
    """A record as a line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        """Write a record."""
        return orjson.dumps(_of(record), default=str).decode()


class AsText(logging.Formatter):
    """A record for reading: a line, and the trace of a defect below."""

    def format(self, record: logging.LogRecord) -> str:
        """Write a record."""
        found = _of(record)
        traced, request = found.get("trace"), found.get("request_id")
        line = f"{found['time']} {record.levelname:<7} {record.name}: {found['message']}"
        return line + (f" [{request}]" if request else "") + (f"\n{traced}" if traced else "")


Form = Literal["text", "json"]
Level = Literal["debug", "info", "warning", "error"]

_chosen: list[tuple[Form, Level]] = []


def chosen() -> tuple[Form, Level] | None:
    """Return how this process writes its log, ``None`` where that is left to whoever embeds it."""
    return _chosen[0] if _chosen else None


def set_up(form: Form, level: Level) -> None:
    """Write the log of this process, and of the server within it, on the error stream."""
    _chosen[:] = [(form, level)]
    handler = logging.StreamHandler()
    handler.setFormatter(AsJson() if form == "json" else AsText())
    logging.basicConfig(handlers=[handler], level=logging.WARNING, force=True)
    for name in ("glandwise", "uvicorn"):
        logging.getLogger(name).setLevel(level.upper())
