"""What the answers of an operation say that will go: the headers of RFC 9745 (Deprecation) and RFC 8594 (Sunset)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime
from email.utils import format_datetime

from glandwise.operations import Operation

Headers = list[tuple[bytes, bytes]]


def _midnight(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=UTC)


def headers(operation: Operation) -> Headers:
    """Return the headers of an operation that is deprecated; none for any other."""
    leaving = operation.deprecated
    if leaving is None:
        return []
    since, end = _midnight(leaving.since), _midnight(leaving.sunset)
    return [
        (b"deprecation", f"@{int(since.timestamp())}".encode()),
        (b"sunset", format_datetime(end, usegmt=True).encode()),
        (b"link", f'<{leaving.instead}>; rel="successor-version"'.encode()),
    ]


def by_path(operations: Iterable[Operation]) -> Mapping[str, Headers]:
    """Return the headers of those operations that are deprecated, by their path."""
    return {row.path: headers(row) for row in operations if row.deprecated is not None}
