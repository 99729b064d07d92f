"""What the parts of the command share: exit codes, reading of files, the progress bar."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any, Final

FINE: Final = 0
TRIPPED: Final = 1
UNUSABLE: Final = 2
NO_ANSWER: Final = 3


class Unusable(Exception):  # noqa: N818 - says what is wrong
    """The command or what it was given cannot be used."""


def no_number(text: str) -> Any:
    """Refuse NaN and Infinity, which the parser would take."""
    raise ValueError(f"{text} is not a number of JSON")


def content_of(name: str) -> dict[str, Any]:
    """Return the JSON object of a file, or of standard input for ``-``."""
    label = "standard input" if name == "-" else name
    try:
        content = sys.stdin.buffer.read() if name == "-" else Path(name).read_bytes()
        document = json.loads(content.decode("utf-8-sig"), parse_constant=no_number)
    except OSError as error:
        raise Unusable(f"{label}: {error.strerror or error}") from None
    except (ValueError, RecursionError) as error:
        raise Unusable(f"{label} is not JSON: {error}") from None
    if not isinstance(document, dict):
        raise Unusable(f"{label}: an object is expected")
    return document


class Progress:
    """A bar on standard error, on a terminal only."""

    def __init__(self, total: int | None, unit: str = "cases") -> None:
        self.total, self.unit, self.done = total, unit, 0
        self.shown = sys.stderr.isatty()

    def __call__(self, count: int) -> None:
        self.done += count
        if self.shown:
            share = min(1.0, self.done / self.total) if self.total else 0.0
            bar = f"[{'=' * round(30 * share):<30}] {100 * share:3.0f} % " if self.total else ""
            sys.stderr.write(f"\r{bar}{self.done:,} {self.unit}")
            sys.stderr.flush()

    def close(self) -> None:
        """Leave the line."""
        if self.shown and self.done:
            sys.stderr.write("\n")
