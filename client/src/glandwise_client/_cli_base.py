"""What the parts of the command share: where the answer comes from, exit codes, reading and writing, the progress bar."""

from __future__ import annotations

import functools
import importlib.util
import json
import math
import os
import secrets
import shutil
import stat
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any, Final, Literal, NamedTuple, ParamSpec, TypeAlias

import typer
from rich.console import Console
from rich.progress import BarColumn, TaskProgressColumn, TextColumn
from rich.progress import Progress as RichProgress
from rich.text import Text

from glandwise_client._client import GlandwiseClient
from glandwise_client._errors import BadRequest, ContentTooLarge, GlandwiseError, RequestError, UnprocessableRequest

FINE: Final = 0
TRIPPED: Final = 1
UNUSABLE: Final = 2
NO_ANSWER: Final = 3


class Unusable(Exception):  # noqa: N818 - says what is wrong
    """The command or what it was given cannot be used."""


# Commands ------------------------------------------------------------------------------------------------------------

P = ParamSpec("P")


NO_PARQUET: Final = "Parquet is not read or written here; install glandwise-service[tables], or take another format"
"""Said where the library of tables is not installed."""


def ended(command: Callable[P, int]) -> Callable[P, None]:
    """Return a function that ends the command with the code it returns, or with that of what it could not do."""

    @functools.wraps(command)
    def run(*arguments: P.args, **options: P.kwargs) -> None:
        try:
            code = command(*arguments, **options)
        except (Unusable, RequestError, BadRequest, ContentTooLarge, UnprocessableRequest) as error:
            code = _end(error, UNUSABLE)
        except OSError as error:  # no connection is an OSError too
            code = _end(error, NO_ANSWER if isinstance(error, GlandwiseError) else UNUSABLE)
        except ModuleNotFoundError as error:
            tables = (error.name or "").partition(".")[0] == "pyarrow"
            code = _end(Unusable(NO_PARQUET), UNUSABLE) if tables else _end(error, NO_ANSWER)
        except (GlandwiseError, ImportError) as error:
            code = _end(error, NO_ANSWER)
        raise typer.Exit(code)

    return run


def _end(error: Exception, code: int) -> int:
    sys.stderr.write(f"glandwise: {error}\n")
    return code


_STYLES: Final = {"green": r"^ *ok\b", "yellow": r"^CARE\b", "bold red": r"^ *FAIL\b|^CHANGED\b|\btripped\b"}
"""What stands out on a terminal."""


def say(lines: Sequence[str]) -> None:
    """Print lines as they are, on a terminal with the verdicts in colour."""
    console = Console(markup=False, highlight=False, emoji=False, soft_wrap=True)
    if not console.is_terminal:
        sys.stdout.write("\n".join(lines) + "\n")
        return
    for line in lines:
        text = Text(line)
        for style, marks in _STYLES.items():
            text.highlight_regex(marks, style)
        console.print(text)


# Where the answer comes from ----------------------------------------------------------------------------------------

_LONGEST: Final = 86400
"""Seconds that may be waited for an answer, at most."""


def _seconds(text: str | float) -> float:
    """Return seconds to wait."""
    try:
        seconds = float(text)
    except ValueError:
        seconds = math.nan
    if not 0.0 < seconds <= _LONGEST:  # NaN is not between them either
        raise typer.BadParameter(f"{text!r} is not a number of seconds above 0 and up to {_LONGEST}")
    return seconds


Url: TypeAlias = Annotated[str | None, typer.Option(help="Address of the service (GLANDWISE_URL).")]
InProcess: TypeAlias = Annotated[
    bool,
    typer.Option(
        "--in-process",
        help="Run the service in this process (so it is where it is installed and no address is given).",
    ),
]
Timeout: TypeAlias = Annotated[float, typer.Option(metavar="S", parser=_seconds, help="Seconds to wait for an answer.")]
Header: TypeAlias = Annotated[
    list[str] | None, typer.Option(metavar="'NAME: VALUE'", help="Sent along, for a gateway; as often as needed.")
]
Units: TypeAlias = Annotated[Literal["si", "us"] | None, typer.Option(help="Units of the answer.")]
PATIENCE: Final = 120.0
"""Seconds to wait for an answer where nothing is said."""


class Where(NamedTuple):
    """Where the answer comes from."""

    url: str | None
    in_process: bool
    timeout: float
    header: list[str]

    @classmethod
    def of(cls, url: str | None, in_process: bool, timeout: float, header: list[str] | None) -> Where:
        """Return what the options say. Raises :class:`Unusable` where they contradict."""
        if url and in_process:
            raise Unusable("--url and --in-process: give one of them")
        if not url and not in_process:
            url = os.environ.get("GLANDWISE_URL")
        return cls(url or None, in_process, timeout, header or [])

    @property
    def here(self) -> bool:
        """Whether the service runs in this process: when asked, or when it is installed and no address is given."""
        if self.in_process or self.url:
            return self.in_process
        return importlib.util.find_spec("glandwise") is not None

    def connect(self) -> GlandwiseClient:
        """Return the client. Raises ``ImportError`` where the service is not installed."""
        if self.here:
            return GlandwiseClient.in_process(timeout=self.timeout)
        headers = {}
        for text in self.header:
            name, colon, value = text.partition(":")
            if not colon:
                raise Unusable("--header: write it as 'Name: value'")
            headers[name.strip()] = value.strip()
        return GlandwiseClient(self.url, timeout=self.timeout, headers=headers)


# Reading -------------------------------------------------------------------------------------------------------------


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
        if path.suffix.lower() == ".parquet" and importlib.util.find_spec("pyarrow") is None:
            raise Unusable(f"--{name} {path}: {NO_PARQUET}")
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
        console = Console(stderr=True)
        bar = (BarColumn(), TaskProgressColumn()) if total else ()
        self._progress = RichProgress(
            *bar, TextColumn("{task.completed:,.0f} " + unit), console=console, disable=not console.is_terminal
        )
        self._task = self._progress.add_task(unit, total=total)
        self._progress.start()

    def __call__(self, count: int) -> None:
        self._progress.advance(self._task, count)

    def close(self) -> None:
        """Leave the line."""
        self._progress.stop()
