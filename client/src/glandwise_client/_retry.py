"""When to try again, and after how long. Pure: no clock, no network, no sleep of its own.

Every operation of the service is a pure calculation or a reading, so that repeating one is always safe. A 500 is not
repeated: the same request meets the same defect. A batch that took too long is not repeated either: it would take as long
again, and the service may still be at the first.
"""

from __future__ import annotations

import random as _random
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from typing import Final, Literal

Failure = Literal["connect", "disconnected", "timeout", "unusable"]
"""Why no answer came. ``unusable`` is what trying again cannot cure, such as a URL that is none."""

RETRIED_STATUS: Final = frozenset({408, 429, 502, 503, 504})
RETRIED_FAILURES: Final[frozenset[Failure]] = frozenset({"connect", "disconnected", "timeout"})
TOO_LONG: Final = frozenset({408, 504, "timeout"})
"""Statuses and failures of what took too long."""


@dataclass(frozen=True, kw_only=True)
class RetryPolicy:
    """How patient the client is."""

    retries: int = 2
    """Attempts after the first; 0 switches retries off."""
    first_delay: float = 0.5
    """Wait before the first retry, in seconds; each further one is ``factor`` times longer."""
    factor: float = 2.0
    """Growth of the wait."""
    longest_delay: float = 8.0
    """Longest wait of the client's own choosing, in seconds."""
    jitter: float = 0.25
    """Share by which a wait is shortened at random, so that many callers do not return in step."""
    longest_wait: float = 60.0
    """Longest ``Retry-After`` that is waited for, in seconds; a longer one is left to the caller."""

    def __post_init__(self) -> None:
        if self.retries < 0 or min(self.first_delay, self.longest_delay, self.longest_wait) < 0:
            raise ValueError("a retry policy cannot hold negative numbers")
        if self.factor < 1 or not 0 <= self.jitter <= 1:
            raise ValueError("the factor is at least 1, the jitter between 0 and 1")


def _utc_now() -> datetime:
    return datetime.now(UTC)


def retry_after(headers: Mapping[str, str], now: Callable[[], datetime] = _utc_now) -> float | None:
    """Return the seconds of a ``Retry-After`` header (a number or an HTTP date); ``None`` without a usable one."""
    text = headers.get("retry-after", "").strip()
    if text.isascii() and text.isdigit():
        return float(text)
    try:
        moment = parsedate_to_datetime(text)
    except ValueError:
        return None
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=UTC)
    return max(0.0, (moment - now()).total_seconds())


def delay(
    policy: RetryPolicy,
    attempt: int,
    *,
    status: int | None = None,
    headers: Mapping[str, str] | None = None,
    failure: Failure | None = None,
    batch: bool = False,
    now: Callable[[], datetime] = _utc_now,
    random: Callable[[], float] = _random.random,
) -> float | None:
    """Return the seconds to wait before the next attempt, or ``None`` to stop.

    ``attempt`` counts from 0; ``headers`` have lower-case names; either ``status`` or ``failure`` is given.
    ``batch`` says that the message holds many requests.
    """
    if attempt >= policy.retries or (batch and (failure or status) in TOO_LONG):
        return None
    if failure is not None:
        if failure not in RETRIED_FAILURES:
            return None
    elif status not in RETRIED_STATUS:
        return None
    asked = retry_after(headers or {}, now)
    if asked is not None:
        return asked if asked <= policy.longest_wait else None
    backoff = min(policy.longest_delay, policy.first_delay * policy.factor**attempt)
    return backoff * (1.0 - policy.jitter * random())
