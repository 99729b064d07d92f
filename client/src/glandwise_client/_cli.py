"""The command ``glandwise``: requests from files, tables or JSON to the terminal, gates for a pipeline.

Exit codes: 0 fine; 1 a gate tripped (a verdict ``fail``, a refused line of a batch, a stored result that no longer holds,
a law that does not hold, a comparison caught by ``--fail-on``); 2 the command or what it was given cannot be used; 3 no
answer from the service.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import math
import os
import sys
from collections.abc import Sequence
from typing import Any, Final

from glandwise_client import _cli_batch as batch
from glandwise_client import _cli_rules as rules
from glandwise_client import _operations
from glandwise_client import _print as out
from glandwise_client import models as m
from glandwise_client._cli_base import FINE, NO_ANSWER, TRIPPED, UNUSABLE, Unusable, content_of
from glandwise_client._client import GlandwiseClient
from glandwise_client._errors import BadRequest, ContentTooLarge, GlandwiseError, RequestError, UnprocessableRequest
from glandwise_client._responses import parse
from glandwise_client._version import __version__

_SHOWN: Final = 20
_LONGEST: Final = 86400
"""Seconds that may be waited for an answer, at most."""


def here(arguments: argparse.Namespace) -> bool:
    """Tell whether the service runs inside this process: when asked, or when it is installed and no address is given."""
    if arguments.in_process or arguments.url:
        return bool(arguments.in_process)
    return importlib.util.find_spec("glandwise") is not None


def connect(arguments: argparse.Namespace) -> GlandwiseClient:
    """Return the client the arguments ask for. Raises ``ImportError`` where the service is not installed."""
    if here(arguments):
        return GlandwiseClient.in_process(timeout=arguments.timeout)
    headers = {}
    for text in arguments.header:
        name, colon, value = text.partition(":")
        if not colon:
            raise Unusable("--header: write it as 'Name: value'")
        headers[name.strip()] = value.strip()
    return GlandwiseClient(arguments.url or None, timeout=arguments.timeout, headers=headers)


# One request --------------------------------------------------------------------------------------------------------


def _ask(arguments: argparse.Namespace, operation: Any, request: dict[str, Any]) -> Any:
    """Put a request to the service, print the answer where JSON is asked for, and return it as a model."""
    units = getattr(arguments, "units", None)
    with connect(arguments) as client:
        answer = client.fetch(operation.name, {**request, **({"units": units} if units else {})})
    if arguments.json:
        text = json.dumps(json.loads(answer.content), indent=2, ensure_ascii=False)
        sys.stdout.write(f"{text}\n")
    return parse(operation, answer)


def check(arguments: argparse.Namespace) -> int:
    """Check a design in a duty."""
    result: m.EnvelopeCheckResult = _ask(arguments, _operations.CHECK_ENVELOPE, content_of(arguments.file))
    if not arguments.json:
        _write([*out.envelope_lines(result), *out.caution_lines(result)])
    return TRIPPED if result.verdict == "fail" else FINE


def select(arguments: argparse.Namespace) -> int:
    """Select designs for a duty."""
    result: m.SelectionResult = _ask(arguments, _operations.SELECT_DESIGN, content_of(arguments.file))
    if not arguments.json:
        _write([*selection_lines(result), *out.caution_lines(result)])
    return TRIPPED if result.verdict == "fail" else FINE


def recheck(arguments: argparse.Namespace) -> int:
    """Recheck a stored result."""
    stored = content_of(arguments.file)
    if arguments.pin_date:
        stored = {**stored, "pin_date": True}
    result: m.RecheckResult = _ask(arguments, _operations.RECHECK_RESULT, stored)
    if not arguments.json:
        _write(recheck_lines(result))
    return FINE if result.same and result.stamp_holds is not False else TRIPPED


def selection_lines(result: m.SelectionResult) -> list[str]:
    """Return a selection as lines of text."""
    lines = [*out.heading("Selection", result.verdict, result.summary), ""]
    if result.ranked:
        lines.append(
            f"{'':<{out.MARGIN}}{'rank':>4} {'score':>6} {'torque':>12}  {'share of the limit':<20}  governed by"
        )
    for entry in result.ranked:
        lines.append(
            f"{out.MARKS.get(entry.verdict, entry.verdict):<{out.MARGIN}}{entry.rank:>4} {entry.score:>6.3f} "
            f"{out.number(entry.torque):>12}  {out.bar(entry.governing.utilization)}  {entry.governing.title}"
        )
        lines += out.wrap(entry.title, out.MARGIN + 5)
    if result.obstacles:
        lines += ["", "What stands in the way"]
        for obstacle in result.obstacles:
            lines += out.wrap(f"{obstacle.title}: {obstacle.reason}", 4, "  -")
    if result.near_misses:
        lines += ["", "Close"]
        for miss in result.near_misses:
            change = f" Change: {miss.change.title}." if miss.change is not None else ""
            lines += out.wrap(f"{miss.title}: fails {miss.governing.title}.{change}", 4, "  -")
    if result.failures:
        stopped = ", ".join(f"{item.title} {item.governs}" for item in result.failures[:6])
        lines += ["", *out.wrap(f"{stopped}.", 10, "Stopped:")]
    return [*lines, "", *out.foot(result)]


def recheck_lines(result: m.RecheckResult) -> list[str]:
    """Return a recheck as lines of text."""
    lines = [
        "",
        "Recheck",
        "-" * out.WIDTH,
        *out.wrap(result.summary, out.MARGIN, "same" if result.same else "CHANGED"),
    ]
    lines += ["", f"{'verdict':<24}{result.verdict_before or 'not stored'} -> {result.verdict_after or '-'}"]
    for title, value in (("engine changed", result.engine_changed), ("rules changed", result.rules_changed),
                         ("fingerprint matches", result.fingerprint_matches),
                         ("stamp holds", result.stamp_holds)):  # fmt: skip
        lines.append(f"{title:<24}{'not known' if value is None else 'yes' if value else 'no'}")
    if result.difference_count:
        values = "1 value differs" if result.difference_count == 1 else f"{result.difference_count} values differ"
        lines += ["", values]
        lines += [
            f"  {item.pointer}: {rules.shown(item.before)} -> {rules.shown(item.after)}"
            for item in result.differences[:_SHOWN]
        ]
        if result.difference_count > _SHOWN:
            lines.append(f"  and {result.difference_count - _SHOWN} more (--json lists them)")
    if result.rule_changes:
        lines += ["", "Rule values that differ"]
        lines += [
            f"  {item.key}: {rules.shown(item.before)} -> {rules.shown(item.after)}" for item in result.rule_changes
        ]
    elif result.rules_changed and not result.rules_of_then_held:
        lines += ["", "The rules of then are not held here, so that what changed in them cannot be told."]
    return lines


def _write(lines: Sequence[str]) -> None:
    sys.stdout.write("\n".join(lines).lstrip("\n") + "\n")


# The command --------------------------------------------------------------------------------------------------------


def _seconds(text: str) -> float:
    """Return seconds to wait."""
    try:
        seconds = float(text)
    except ValueError:
        seconds = math.nan
    if not 0.0 < seconds <= _LONGEST:  # NaN is not between them either
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of seconds above 0 and up to {_LONGEST}")
    return seconds


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="glandwise",
        description="Engineering of machined PTFE rotary shaft seals.",
        epilog="exit codes: 0 fine; 1 a gate tripped; 2 the command or its input cannot be used; 3 no answer from the service",
    )
    parser.add_argument("--version", action="version", version=f"%(prog)s {__version__}")
    where = argparse.ArgumentParser(add_help=False)
    which = where.add_mutually_exclusive_group()
    which.add_argument("--url", help="address of the service (GLANDWISE_URL)")
    which.add_argument(
        "--in-process", action="store_true", help="run the service in this process (so it is where it is installed and no address is given)"
    )  # fmt: skip
    where.add_argument(
        "--timeout", type=_seconds, default=120.0, metavar="S", help="seconds to wait for an answer (120)"
    )
    where.add_argument(
        "--header", action="append", default=[], metavar="'NAME: VALUE'", help="sent along, for a gateway"
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    for name, run, text in (
        ("check", check, "check a design in a duty; 1 when it fails"),
        ("select", select, "list the designs that would live in a duty; 1 when none does"),
    ):
        command = commands.add_parser(name, parents=[where], help=text, description=text)
        command.add_argument("file", metavar="FILE", help="the request as JSON; - for standard input")
        command.add_argument("--units", choices=("si", "us"), help="units of the answer")
        command.add_argument("--json", action="store_true", help="print the whole answer as JSON")
        command.set_defaults(run=run)
    text = "ask whether a stored result still holds; 1 when the answer is another"
    command = commands.add_parser("recheck", parents=[where], help=text, description=text)
    command.add_argument(
        "file", metavar="STORED.json", help="operation, stored_request and stored_result; - for standard input"
    )
    command.add_argument("--pin-date", action="store_true", help="keep the date of the stored rules")
    command.add_argument("--json", action="store_true", help="print the whole answer as JSON")
    command.set_defaults(run=recheck)

    batch.add_command(commands, where, connect)
    group = commands.add_parser("rules", help="gates for a change of design rules").add_subparsers(
        required=True, metavar="COMMAND"
    )
    rules.add_commands(group, where, connect, here)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command and return its exit code."""
    for stream in (sys.stdout, sys.stderr):
        if (stream.encoding or "").lower().replace("-", "") != "utf8" and hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        arguments = _parser().parse_args(argv)
    except SystemExit as end:  # argparse has said what is wrong, or printed its help
        return end.code if isinstance(end.code, int) else UNUSABLE
    if not arguments.url and not arguments.in_process:
        arguments.url = os.environ.get("GLANDWISE_URL")
    try:
        return int(arguments.run(arguments))
    except (Unusable, RequestError, BadRequest, ContentTooLarge, UnprocessableRequest) as error:
        return _end(error, UNUSABLE)
    except OSError as error:
        if isinstance(error, GlandwiseError):  # no connection is an OSError too
            return _end(error, NO_ANSWER)
        return _end(error, UNUSABLE)
    except (GlandwiseError, ImportError) as error:
        return _end(error, NO_ANSWER)


def _end(error: Exception, code: int) -> int:
    sys.stderr.write(f"glandwise: {error}\n")
    return code
