"""The command ``glandwise``: requests from files, tables or JSON to the terminal, gates for a pipeline.

Exit codes: 0 fine; 1 a gate tripped (a verdict ``fail``, a refused line of a batch, a stored result that no longer holds,
a law that does not hold, a comparison caught by ``--fail-on``); 2 the command or what it was given cannot be used; 3 no
answer from the service.
"""

from __future__ import annotations

import json
import sys
import tempfile
import webbrowser
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any, Final

import typer

from glandwise_client import _cli_batch, _cli_calibrate, _cli_governance, _cli_rules, _cli_sensitivity, _operations
from glandwise_client import _print as out
from glandwise_client import models as m
from glandwise_client._cli_base import (
    FINE,
    PATIENCE,
    TRIPPED,
    UNUSABLE,
    Header,
    InProcess,
    Timeout,
    Units,
    Url,
    Where,
    check_outputs,
    content_of,
    ended,
    say,
    whole,
)
from glandwise_client._report import shown
from glandwise_client._responses import parse
from glandwise_client._version import __version__

_SHOWN: Final = 20

app = typer.Typer(
    help="Engineering of machined PTFE rotary shaft seals.",
    epilog="Exit codes: 0 fine; 1 a gate tripped; 2 the command or its input cannot be used; 3 no answer from the service.",
    context_settings={"help_option_names": ["-h", "--help"]},
    add_completion=False,
    pretty_exceptions_enable=False,
)
app.command("batch")(_cli_batch.batch)
_cli_rules.app.command("calibrate")(_cli_calibrate.calibrate)
_cli_rules.app.command("sensitivity")(_cli_sensitivity.sensitivity)
_cli_rules.app.command("diff")(_cli_governance.diff)
_cli_rules.app.command("review")(_cli_governance.review)
app.add_typer(_cli_rules.app, name="rules")


def _version(asked: bool) -> None:
    if asked:
        typer.echo(f"glandwise {__version__}")
        raise typer.Exit


@app.callback()
def _main(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    pass


# One request --------------------------------------------------------------------------------------------------------

File = Annotated[str, typer.Argument(metavar="FILE", help="The request as JSON; - for standard input.")]
Json = Annotated[bool, typer.Option("--json", help="Print the whole answer as JSON.")]


Open = Annotated[bool, typer.Option("--open", help="Open the sheet of the answer in the browser.")]


Shell = Annotated[
    Path | None,
    typer.Option(
        metavar="FILE.json", help="Write the seal as an Asset Administration Shell, for product lifecycle management."
    ),
]


def _ask(
    where: Where, operation: Any, request: dict[str, Any], as_json: bool, units: str | None = None, opened: bool = False,
    shell: Path | None = None,
) -> Any:  # fmt: skip
    """Put a request to the service, print the answer where JSON is asked for, and return it as a model."""
    asked = {**request, **({"units": units} if units else {})}
    with where.connect() as client:
        answer = client.fetch(operation.name, asked)
        if opened:
            _open(client.fetch(operation.name, asked, accept="text/html").content)
        if shell is not None:
            with whole(shell) as path:
                path.write_bytes(client.asset_shell(asked).content)
    if as_json:
        text = json.dumps(json.loads(answer.content), indent=2, ensure_ascii=False)
        sys.stdout.write(f"{text}\n")
    return parse(operation, answer)


def _open(page: bytes) -> None:
    """Show a page in the browser; it is left behind, for the browser reads it when this program has ended."""
    with tempfile.NamedTemporaryFile(prefix="glandwise-", suffix=".html", delete=False) as file:
        file.write(page)
    if not webbrowser.open(Path(file.name).as_uri()):
        sys.stderr.write(f"no browser was found; the sheet is in {file.name}\n")


def _write(lines: Sequence[str]) -> None:
    say("\n".join(lines).lstrip("\n").split("\n"))


@app.command()
@ended
def check(
    file: File, units: Units = None, as_json: Json = False, opened: Open = False,
    url: Url = None, in_process: InProcess = False, timeout: Timeout = PATIENCE, header: Header = None,
) -> int:  # fmt: skip
    """Check a design in a duty; 1 when it fails."""
    where = Where.of(url, in_process, timeout, header)
    result = _ask(where, _operations.CHECK_ENVELOPE, content_of(file), as_json, units, opened)
    if not as_json and isinstance(result, m.EnvelopeVerdict):
        _write(out.verdict_lines(result))
    elif not as_json:
        _write([*out.envelope_lines(result), *out.caution_lines(result)])
    return TRIPPED if result.verdict == "fail" else FINE


@app.command()
@ended
def select(
    file: File, units: Units = None, as_json: Json = False, opened: Open = False,
    url: Url = None, in_process: InProcess = False, timeout: Timeout = PATIENCE, header: Header = None,
) -> int:  # fmt: skip
    """List the designs that would live in a duty; 1 when none does."""
    where = Where.of(url, in_process, timeout, header)
    result: m.SelectionResult = _ask(where, _operations.SELECT_DESIGN, content_of(file), as_json, units, opened)
    if not as_json:
        _write([*selection_lines(result), *out.caution_lines(result)])
    return TRIPPED if result.verdict == "fail" else FINE


@app.command()
@ended
def enquire(
    file: File, units: Units = None, as_json: Json = False, opened: Open = False,
    shell: Shell = None, url: Url = None, in_process: InProcess = False, timeout: Timeout = PATIENCE, header: Header = None,
) -> int:  # fmt: skip
    """Answer an enquiry whole: design, checks, life, blank; 1 when it fails."""
    where = Where.of(url, in_process, timeout, header)
    check_outputs({"shell": shell}, [file])
    result = _ask(where, _operations.ANSWER_ENQUIRY, content_of(file), as_json, units, opened, shell)
    if not as_json:
        _write(out.enquiry_lines(result))
    return TRIPPED if result.verdict == "fail" else FINE


@app.command()
@ended
def recheck(
    file: Annotated[
        str,
        typer.Argument(
            metavar="STORED.json", help="Operation, stored_request and stored_result; - for standard input."
        ),
    ],
    pin_date: Annotated[bool, typer.Option("--pin-date", help="Keep the date of the stored rules.")] = False,
    as_json: Json = False,
    url: Url = None, in_process: InProcess = False, timeout: Timeout = PATIENCE, header: Header = None,
) -> int:  # fmt: skip
    """Ask whether a stored result still holds; 1 when the answer is another."""
    where = Where.of(url, in_process, timeout, header)
    stored = {**content_of(file), **({"pin_date": True} if pin_date else {})}
    result: m.RecheckResult = _ask(where, _operations.RECHECK_RESULT, stored, as_json)
    if not as_json:
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
            f"  {item.pointer}: {shown(item.before)} -> {shown(item.after)}" for item in result.differences[:_SHOWN]
        ]
        if result.difference_count > _SHOWN:
            lines.append(f"  and {result.difference_count - _SHOWN} more (--json lists them)")
    if result.rule_changes:
        lines += ["", "Rule values that differ"]
        lines += [f"  {item.key}: {shown(item.before)} -> {shown(item.after)}" for item in result.rule_changes]
    elif result.rules_changed and not result.rules_of_then_held:
        lines += ["", "The rules of then are not held here, so that what changed in them cannot be told."]
    return lines


# The command --------------------------------------------------------------------------------------------------------


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command and return its exit code."""
    for stream in (sys.stdout, sys.stderr):
        if (stream.encoding or "").lower().replace("-", "") != "utf8" and hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        app(args=argv, prog_name="glandwise")
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else UNUSABLE
    return FINE
