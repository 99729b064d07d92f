"""What the parts of the command share: exit codes, reading and writing of files, the progress bar."""

from __future__ import annotations

import json
import os
import secrets
import shutil
import stat
import sys
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

FINE: Final = 0
TRIPPED: Final = 1
UNUSABLE: Final = 2
NO_ANSWER: Final = 3


class Unusable(Exception):  # noqa: N818 - says what is wrong
    """The command or what it was given cannot be used."""


def _no_number(text: str) -> Any:
    """Refuse NaN and Infinity, which the parser would take."""
    raise ValueError(f"{text} is not a number of JSON")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Refuse a key that is there twice, of which the parser would keep the last."""
    found = dict(pairs)
    if len(found) < len(pairs):
        twice = next(key for place, (key, _) in enumerate(pairs) if key in dict(pairs[:place]))
        raise ValueError(f"the key {json.dumps(twice[:64])} is there twice in an object")
    return found


def parsed(text: str | bytes) -> Any:
    """Return what JSON holds, as strictly as the service reads it. Raises ``ValueError``."""
    try:
        return json.loads(text, parse_constant=_no_number, object_pairs_hook=_once)
    except RecursionError:
        raise ValueError("it is nested too deep") from None


def content_of(name: str) -> dict[str, Any]:
    """Return the JSON object of a file, or of standard input for ``-``."""
    label = "standard input" if name == "-" else name
    try:
        content = sys.stdin.buffer.read() if name == "-" else Path(name).read_bytes()
        document = parsed(content.decode("utf-8-sig"))
    except OSError as error:
        raise Unusable(f"{label}: {error.strerror or error}") from None
    except ValueError as error:
        raise Unusable(f"{label} is not JSON: {error}") from None
    if not isinstance(document, dict):
        raise Unusable(f"{label}: an object is expected")
    return document


# Files ---------------------------------------------------------------------------------------------------------------


def check_outputs(outputs: Mapping[str, Path | None], inputs: Iterable[str | Path]) -> None:
    """Refuse before a long job what could not be written after it, or would be written over an input or another output.

    ``outputs`` are paths by the name of their option; an input may be ``-`` for standard input.
    """
    taken = [(str(path), _same_as(path)) for path in inputs]
    for name, path in outputs.items():
        if path is None:
            continue
        if not path.parent.is_dir() or path.is_dir():
            raise Unusable(f"--{name} {path}: there is no such folder, or it is one")
        if path.exists() and not path.is_file():
            continue  # a device, such as the null device, or a pipe: nothing in it is lost
        same = _same_as(path)
        for other, its_own in taken:
            if its_own & same:
                raise Unusable(
                    f"--{name} {path}: this would be written over {'standard input' if other == '-' else other}"
                )
        taken.append((f"--{name}", same))


def _same_as(path: str | Path) -> set[Any]:
    """Return what tells a file from every other: where it is, and as what the system holds it."""
    try:
        if path == "-":
            held = os.fstat(sys.stdin.fileno())
            return {(held.st_dev, held.st_ino)} if stat.S_ISREG(held.st_mode) else set()
        found: set[Any] = {os.path.normcase(Path(path).resolve())}
        if Path(path).exists():
            held = Path(path).stat()
            found.add((held.st_dev, held.st_ino))
    except (OSError, ValueError):  # ValueError: standard input that is no file
        return set()
    return found


@contextmanager
def whole(path: Path) -> Iterator[Path]:
    """Give the path of a file beside ``path`` that takes its place at the end, or is removed when there is no good end."""
    if path.exists() and not path.is_file():
        yield path  # a device or a pipe has no beside
        return
    path = path.resolve()
    beside = path.with_name(f".{path.stem}.{secrets.token_hex(4)}{path.suffix}")
    try:
        yield beside
        if path.exists():
            shutil.copymode(path, beside)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)


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
