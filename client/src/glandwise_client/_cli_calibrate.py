"""``glandwise rules calibrate``: rule values from records of a rig or of the field, as a folder of rules."""

from __future__ import annotations

import importlib
import io
import json
from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from glandwise_client import _report as report
from glandwise_client._cli_base import (
    FINE,
    NO_PARQUET,
    PATIENCE,
    TRIPPED,
    Header,
    InProcess,
    Timeout,
    Unusable,
    Url,
    Where,
    check_outputs,
    ended,
    say,
)
from glandwise_client._cli_rules import AsOf, Json, as_date, compare, write_json


def _read(path: Path) -> str:
    """Return records as the service takes them. Raises :class:`Unusable`."""
    try:
        if path.suffix.lower() == ".parquet":
            return _of_parquet(path)
        return path.read_bytes().decode("utf-8")
    except UnicodeDecodeError:
        raise Unusable(f"{path}: it is not UTF-8") from None
    except OSError as error:
        raise Unusable(f"{path}: {error.strerror or error}") from None


def _of_parquet(path: Path) -> str:
    """Write a table of Parquet as comma-separated values, its columns named with their units as there."""
    try:
        parquet = importlib.import_module("pyarrow.parquet")
        values = importlib.import_module("pyarrow.csv")
    except ModuleNotFoundError:
        raise Unusable(f"{path}: {NO_PARQUET}") from None
    try:
        table = parquet.read_table(path)
    except (OSError, ValueError) as error:
        raise Unusable(f"{path}: it is not Parquet: {error}") from None
    stream = io.BytesIO()
    values.write_csv(table, stream)
    return stream.getvalue().decode("utf-8")


def _check_out(out: Path) -> None:
    """Refuse a folder in which something stands already: what was found before would be mixed with what is found now."""
    if out.exists() and (not out.is_dir() or any(out.iterdir())):
        raise Unusable(f"--out {out}: there is something in it already; give a folder of its own")


def _write(out: Path, files: dict[str, str], records: str) -> None:
    out.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (out / name).write_text(text, encoding="utf-8", newline="")
    (out / "records.csv").write_bytes(records.encode())  # what the digest of the source is of


@ended
def calibrate(
    records: Annotated[
        Path, typer.Argument(metavar="RECORDS", help="Records: .csv, or .parquet with glandwise-service[tables].")
    ],
    kind: Annotated[str, typer.Option(metavar="KIND", help="Of wear, friction, relaxation, energizer_load, life, pv_steps.")],
    rig: Annotated[str, typer.Option(help="What they were made on, or where they were collected.")],
    day: Annotated[
        date, typer.Option("--closed-on", metavar="DATE", parser=as_date, help="Day on which they were closed.")
    ],
    out: Annotated[
        Path, typer.Option(metavar="FOLDER", help="Folder of rules that is made, with the records beside them.")
    ],
    title: Annotated[str | None, typer.Option("--report", help="Report in which they stand.")] = None,
    rule_set: Annotated[
        str | None, typer.Option(metavar="NAME", help="Rule set to lay the values over (the service's default).")
    ] = None,
    name: Annotated[str | None, typer.Option(metavar="NAME", help="Name of the rule set that is made (own-tests).")] = None,
    confidence: Annotated[
        float | None, typer.Option(metavar="SHARE", help="Share of intervals that hold the true value (0.9).")
    ] = None,
    method: Annotated[
        Literal["least_squares", "bayes"] | None,
        typer.Option(help="How values are found; bayes: from one specimen on, with the range of the house as prior."),
    ] = None,
    against: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Past quotes to compare with, as `rules compare` takes them.")
    ] = None,
    fail_on: Annotated[
        Literal["verdict", "design", "worse", "any", "none"],
        typer.Option(help="Of the comparison, as in `rules compare`."),
    ] = "none",
    as_of: AsOf = None, as_json: Json = None, url: Url = None, in_process: InProcess = False, timeout: Timeout = PATIENCE,
    header: Header = None,
) -> int:  # fmt: skip
    """Find rule values in records; 1 when they tell none, or when what is found cannot be used."""
    where = Where.of(url, in_process, timeout, header)
    check_outputs({"json": as_json}, [records, *([against] if against is not None else [])])
    _check_out(out)
    if against is not None and not against.is_file():
        raise Unusable(f"{against}: there is no such file")
    text = _read(records)
    asked = {"report": title, "rule_set": rule_set, "name": name, "confidence": confidence, "method": method}
    request: dict[str, Any] = {"kind": kind, "records": text, "rig": rig, "closed_on": day.isoformat()}
    request |= {field: value for field, value in asked.items() if value is not None}
    if as_of is not None:
        request["as_of"] = as_of.isoformat()
    with where.connect() as client:
        found = json.loads(client.fetch("calibrate_rules", request).content)
    say(report.calibration_text(found).splitlines())
    if as_json is not None:
        write_json(as_json, found)
    if found["files"]:
        _write(out, found["files"], text)
        say([f"{out}: {', '.join([*found['files'], 'records.csv'])}"])
    if not found["gate"]["accepted"]:
        return TRIPPED
    if against is not None:
        base = found["stamp"]["rule_set"]["name"]
        compare(
            base=base, candidate=str(out), cases=against, fail_on=fail_on, as_of=as_of, url=url, in_process=in_process,
            timeout=timeout, header=header,
        )  # fmt: skip
    return FINE
