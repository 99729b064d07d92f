"""Reading what a request brings: bytes within bounds, JSON stricter than the usual parser."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable
from typing import Any

import jiter
from starlette.requests import Request

from glandwise.api.problems import ProblemError

RATE = 16 * 1024
"""Bytes a second at which a message must come at least, and the answer to a batch be taken."""
_DIGITS = 20
"""Digits of a length that is still read; one with more is too large for any limit."""


def too_large(limit: int) -> ProblemError:
    """Return the problem of a message of more than ``limit`` bytes."""
    detail = f"at most {limit} bytes are accepted"
    return ProblemError("content-too-large", detail, headers={"Connection": "close"})


async def read_body(
    request: Request, declared: bytes, limit: int, seconds: float, take: Callable[[int], None] = lambda _: None
) -> bytes:
    """Read the body, refusing more than ``limit`` bytes as soon as that is known; ``declared`` is its Content-Length.

    It may take ``seconds`` beyond what it takes at :data:`RATE`. ``take`` is told the size of each part as it comes, and may
    refuse it.
    """
    digits = declared.lstrip(b"0")
    if digits.isdigit() and (len(digits) > _DIGITS or int(digits) > limit):
        raise too_large(limit)
    parts, size, more = bytearray(), 0, True
    begin = asyncio.get_running_loop().time()
    while more:
        try:
            async with asyncio.timeout_at(begin + seconds + size / RATE):
                message = await request.receive()
        except TimeoutError:
            detail = f"a body has to come within {seconds:g} s and the time that it takes at {RATE} bytes a second"
            raise ProblemError("request-timeout", detail, headers={"Connection": "close"}) from None
        if message["type"] == "http.disconnect":
            raise ProblemError("bad-request", "the body ended before its declared length")
        chunk: bytes = message.get("body", b"")
        more = message.get("more_body", False)
        size += len(chunk)
        if size > limit:
            raise too_large(limit)
        take(len(chunk))
        if not more and not parts:
            return chunk
        parts += chunk  # whole: a body that comes byte by byte takes no more room than another
    return bytes(parts)


_NO_NUMBER = re.compile(rb"\b(NaN|Infinity)\b")


def read_json(body: bytes) -> Any:
    """Parse RFC 8259 JSON: no NaN or Infinity, no duplicate keys, no lone surrogates, bounded depth."""
    try:
        return jiter.from_json(body, allow_inf_nan=False, catch_duplicate_keys=True)
    except ValueError as error:
        text = str(error)
        fault, _, position = text.rpartition(" at line ")
        if fault.startswith("Detected duplicate key"):
            fault = "an object has the same key twice"
        elif fault in {"unexpected end of hex escape", "lone leading surrogate in hex escape"}:
            fault = "a \\u escape is cut short or is a lone surrogate"
        elif not body.strip():
            fault = "the body is empty"
        elif body.startswith(b"\xef\xbb\xbf"):
            fault = "the body begins with a byte order mark; plain UTF-8 is needed"
        elif fault == "expected value" and (word := _NO_NUMBER.search(body)):
            fault = f"{word[0].decode()} is no number of JSON"
        raise ProblemError("invalid-json", f"{fault} (line {position})" if position else fault or text) from None
