"""``glandwise rules``: what a change of design rules does to past quotes, and whether a rule set is sane.

Against a server the cases go over in chunks. Inside this process the service reads the file itself, block by block; its
modules are loaded by name then, so that the client needs none of them.
"""

from __future__ import annotations

import argparse
import importlib
import json
import os
import sys
import tomllib
from collections.abc import Callable, Iterator
from contextlib import ExitStack, suppress
from datetime import date
from pathlib import Path
from typing import Any, Final, NamedTuple

from glandwise_client import _report as report
from glandwise_client._cli_base import FINE, TRIPPED, Progress, Unusable, check_outputs, content_of, parsed, whole
from glandwise_client._client import GlandwiseClient
from glandwise_client._errors import RequestError, UnprocessableRequest
from glandwise_client._report import shown

__all__ = ["add_commands", "shown"]

CHUNK: Final = 500
FAIL_ON: Final = ("worse", "any", "none")
_ROWS: Final = (".ndjson", ".jsonl", ".parquet")
"""Endings of files of cases that differ."""

Connect = Callable[[argparse.Namespace], GlandwiseClient]
Here = Callable[[argparse.Namespace], bool]


def add_commands(group: Any, where: argparse.ArgumentParser, connect: Connect, here: Here) -> None:
    """Add the commands to the parser."""
    text = "look for laws that a rule set breaks; 1 when one does not hold"
    command = group.add_parser("audit", parents=[where], help=text, description=text)
    which = command.add_mutually_exclusive_group()
    which.add_argument("--rule-set", metavar="NAME", help="a rule set the service holds (baseline)")
    which.add_argument(
        "--candidate", metavar="PATCH.json|FOLDER", help="a patch of the base, or a folder of TOML files"
    )
    command.add_argument("--base", default="baseline", metavar="NAME", help="rule set a patch applies to (baseline)")
    command.add_argument("--samples", type=int, metavar="N", help="points sampled over the envelope")
    command.add_argument("--seed", type=int, metavar="S", help="seed of the sampling")
    _add_dates(command)
    _add_files(command)
    command.set_defaults(run=lambda arguments: audit(arguments, connect, here))

    text = "compare two rule sets over past quotes"
    command = group.add_parser("compare", parents=[where], help=text, description=text)
    command.add_argument("--base", required=True, metavar="NAME", help="rule set before the change")
    command.add_argument(
        "--candidate", required=True, metavar="NAME|PATCH.json|FOLDER",
        help="rule set after it: a name, a patch of the base, or a folder of TOML files",
    )  # fmt: skip
    command.add_argument(
        "--cases", required=True, type=Path, metavar="FILE", help="past quotes: .ndjson; in this process also .parquet and .csv"
    )  # fmt: skip
    command.add_argument(
        "--fail-on", choices=FAIL_ON, default="worse",
        help="exit code 1: when a case turns worse or can no longer be judged (worse), when anything differs or a changed value "
        "was not exercised (any), never (none)",
    )  # fmt: skip
    command.add_argument(
        "--no-attribution", action="store_true", help="do not look for the value that caused each difference"
    )
    command.add_argument(
        "--out", type=Path, metavar="FILE", help="every case that differs: .ndjson; in this process also .parquet"
    )
    command.add_argument(
        "--workers", type=int, default=1, metavar="N", help="worker processes (Dask), in this process only"
    )
    _add_dates(command)
    _add_files(command)
    command.set_defaults(run=lambda arguments: compare(arguments, connect, here))


def _date(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a date, as in 2026-01-01") from None


def _add_dates(command: argparse.ArgumentParser) -> None:
    command.add_argument("--as-of", type=_date, metavar="DATE", help="look at the values in force on this date as well")
    command.add_argument(
        "--from", dest="from_date", type=_date, metavar="DATE",
        help="first date looked at (today): it and every later one on which anything changes",
    )  # fmt: skip


def _add_files(command: argparse.ArgumentParser) -> None:
    command.add_argument("--junit", type=Path, metavar="FILE", help="JUnit XML")
    command.add_argument("--markdown", type=Path, metavar="FILE", help="summary in Markdown")
    command.add_argument("--json", type=Path, metavar="FILE", help="the report as JSON")


def _check_files(arguments: argparse.Namespace) -> None:
    """Refuse outputs that cannot be written, or only over what is read or written besides."""
    inputs: list[Path] = [arguments.cases] if "cases" in arguments else []
    if arguments.candidate is not None:
        candidate = Path(arguments.candidate)
        inputs += candidate.glob("*.toml") if candidate.is_dir() else [candidate] if candidate.is_file() else []
    outputs = {name: getattr(arguments, name, None) for name in ("junit", "markdown", "json", "out")}
    check_outputs(outputs, inputs)


def _write_json(path: Path, content: Any) -> None:
    path.write_text(json.dumps(content, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")


# Rule sets ----------------------------------------------------------------------------------------------------------


class _Candidate(NamedTuple):
    """A candidate as it was given."""

    kind: str
    """``name``, ``patch`` or ``folder``."""
    name: str
    patch: dict[str, Any] | None
    folder: Path | None


def _candidate(text: str) -> _Candidate:
    path = Path(text)
    if path.is_dir():
        return _Candidate("folder", text, None, path)
    if path.suffix.lower() == ".json" or path.is_file():
        return _Candidate("patch", text, content_of(text), None)
    return _Candidate("name", text, None, None)


def _plain(value: Any) -> Any:
    """Write what a TOML file holds as JSON."""
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    return [_plain(item) for item in value] if isinstance(value, list) else value


def _read_folder(folder: Path) -> dict[str, Any]:
    """Read the TOML files of a rule set."""
    tree = {}
    for path in sorted(folder.glob("*.toml")):
        try:
            tree[path.stem] = tomllib.loads(path.read_text(encoding="utf-8"))
        except ValueError as error:  # not UTF-8, or not TOML
            raise Unusable(f"{path}: {error}") from None
    if "rule_set" not in tree:
        raise Unusable(f"{folder}: there is no rule_set.toml in it")
    return tree


def _parents(folder: Path, tree: dict[str, Any]) -> list[dict[str, Any]]:
    """Read the rule sets that a set extends, as far as they stand beside it: they may be changed there as well."""
    folder = Path(os.path.abspath(folder))  # noqa: PTH100 - a link is not followed: what stands beside it counts
    beside: dict[Any, list[Path]] = {}
    for path in sorted(folder.parent.iterdir()):
        if path != folder and not path.name.startswith(".") and (path / "rule_set.toml").is_file():
            with suppress(ValueError):  # one that cannot be read has no name by which it could be meant
                name = tomllib.loads((path / "rule_set.toml").read_text(encoding="utf-8")).get("name")
                beside.setdefault(name, []).append(path)
    parents: list[dict[str, Any]] = []
    names = {tree["rule_set"].get("name")}
    while (name := tree["rule_set"].get("extends")) in beside and name not in names:
        if len(beside[name]) > 1:
            raise Unusable(f"{' and '.join(map(str, beside[name]))} both hold the rule set {name!r}")
        names.add(name)
        tree = _read_folder(beside[name][0])
        parents.append(_plain(tree))
    return parents


def _sent(candidate: _Candidate) -> dict[str, Any]:
    """Return a candidate as it is sent to a service."""
    if candidate.kind == "name":
        return {"kind": "name", "name": candidate.name}
    if candidate.patch is not None:
        return {"kind": "patch", "patch": candidate.patch}
    assert candidate.folder is not None
    tree = _read_folder(candidate.folder)
    return {"kind": "whole", "rule_set": _plain(tree), "parents": _parents(candidate.folder, tree)}


def _base(arguments: argparse.Namespace, name: str) -> dict[str, Any]:
    """Return the base, and the date that both sets are looked at besides."""
    day = {} if arguments.as_of is None else {"as_of": arguments.as_of.isoformat()}
    return {"kind": "name", "name": name, **day}


def _from(arguments: argparse.Namespace) -> dict[str, Any]:
    return {} if arguments.from_date is None else {"from_date": arguments.from_date.isoformat()}


class _Service:
    """The modules of the service, loaded by name."""

    def __init__(self) -> None:
        try:
            self.corpus = importlib.import_module("glandwise.review.corpus_job")
        except ModuleNotFoundError as error:
            if error.name not in {"glandwise", "glandwise.jobs"}:
                raise
            raise ImportError("the service is not installed here (glandwise-service); give --url instead") from error
        self.comparison = importlib.import_module("glandwise.review.comparison")
        self.columns = importlib.import_module("glandwise.questions.flat")
        self.compare = importlib.import_module("glandwise.rules.compare")
        self.loader = importlib.import_module("glandwise.rules.loader")
        settings = importlib.import_module("glandwise.settings")
        self.faults = (self.loader.RuleError, self.corpus.CorpusError, self.columns.ColumnError)
        try:
            self.store = self.loader.RuleStore(settings.Settings().rules)
        except (settings.SettingsError, self.loader.RuleError) as error:
            raise Unusable(str(error)) from None

    def named(self, name: str) -> Any:
        """Return a rule set by name."""
        tree = self.store.get(name)
        if tree is None:
            raise Unusable(f"no rule set {name!r}; there are: {', '.join(sorted(self.store.trees))} (GLANDWISE_RULES)")
        return tree

    def tree(self, candidate: _Candidate, base: Any) -> Any:
        """Return a candidate as a rule set, checked."""
        if candidate.kind == "name":
            return self.named(candidate.name)
        try:
            if candidate.patch is not None:
                return self.compare.patched(base, self.compare.from_json(candidate.patch))
            return self.loader.read_candidate(candidate.folder, base)
        except self.loader.RuleError as error:
            raise Unusable(str(error)) from None


# Audit --------------------------------------------------------------------------------------------------------------


def audit(arguments: argparse.Namespace, connect: Connect, here: Here) -> int:
    """Audit a rule set."""
    _check_files(arguments)
    request: dict[str, Any] = {"base": _base(arguments, arguments.rule_set or arguments.base), **_from(arguments)}
    if arguments.candidate is not None:
        candidate = _candidate(arguments.candidate)
        if candidate.folder is not None and here(arguments):
            service = _Service()
            service.tree(candidate, service.named(arguments.base))  # a fault is named with its file and line
        request["candidate"] = _sent(candidate)
    request |= {name: value for name in ("samples", "seed") if (value := getattr(arguments, name)) is not None}
    with connect(arguments) as client:
        found = json.loads(client.fetch("audit_rule_set", request).content)
    sys.stdout.write(report.audit_text(found))
    if arguments.json is not None:
        _write_json(arguments.json, found)
    if arguments.markdown is not None:
        arguments.markdown.write_text(report.audit_markdown(found), encoding="utf-8")
    if arguments.junit is not None:
        arguments.junit.write_bytes(report.audit_junit(found))
    return FINE if found["verdict"] == "pass" else TRIPPED


# Comparison ---------------------------------------------------------------------------------------------------------


def compare(arguments: argparse.Namespace, connect: Connect, here: Here) -> int:
    """Compare two rule sets over cases."""
    _check_files(arguments)
    if not arguments.cases.is_file():
        raise Unusable(f"{arguments.cases}: there is no such file")
    if arguments.out is not None and arguments.out.suffix.lower() not in _ROWS:
        raise Unusable(f"--out {arguments.out}: unknown ending; accepted: {', '.join(_ROWS)}")
    candidate = _candidate(arguments.candidate)
    with ExitStack() as stack:
        cases = stack.enter_context(report.Cases(arguments.junit))
        out = stack.enter_context(whole(arguments.out)) if arguments.out is not None else None
        run = _compare_here if here(arguments) else _compare_there
        found = run(arguments, candidate, cases, out, connect)
        count = sum(found["counts"].values())
        if not count:
            raise Unusable(f"{arguments.cases} holds no case; a gate on nothing would always pass")
        if found["counts"]["refused"] == count and not cases.newly_refused:
            raise Unusable(
                f"{arguments.cases}: of {counted(count, 'case')} none can be judged; the first: {cases.first_fault}"
            )
        found |= {"newly_refused": cases.newly_refused, "worst": cases.worst}
        found["gate"] = gate(arguments.fail_on, found)
        cases.write()
    sys.stdout.write(report.comparison_text(found))
    if arguments.json is not None:
        _write_json(arguments.json, found)
    if arguments.markdown is not None:
        arguments.markdown.write_text(report.comparison_markdown(found), encoding="utf-8")
    return TRIPPED if found["gate"]["tripped"] else FINE


def gate(fail_on: str, found: dict[str, Any]) -> dict[str, Any]:
    """Say whether the gate trips, and by what."""
    counts, lost = found["counts"], found["newly_refused"]
    known = {
        "worse": ((counts["worse"], "case", "worse"), (lost, "case", "no longer judged")),
        "any": (
            (sum(counts.values()) - counts["same"], "case", "different or not judged"),
            (sum(not change["exercised"] for change in found["changes"]), "changed value", "not exercised"),
        ),
        "none": (),
    }
    reasons = [f"{counted(number, noun)} {words}" for number, noun, words in known[fail_on] if number]
    if fail_on == "any" and found["same_version"]:
        reasons.append("other content under the same version")
    return {"fail_on": fail_on, "tripped": bool(reasons), "reason": ", ".join(reasons)}


def _compare_here(
    arguments: argparse.Namespace, candidate: _Candidate, cases: report.Cases, out: Path | None, _: Connect
) -> dict[str, Any]:
    service = _Service()
    base = service.named(arguments.base)
    other = service.tree(candidate, base)
    for tree, side in ((base, "base"), (other, "candidate")):
        if arguments.as_of is not None and arguments.as_of < tree.valid_from:
            raise Unusable(f"--as-of {arguments.as_of}: the {side} is in force from {tree.valid_from}")
    earliest, latest = service.loader.EARLIEST, service.loader.latest()
    for option, day in (("--as-of", arguments.as_of), ("--from", arguments.from_date)):
        if day is not None and not earliest <= day <= latest:
            raise Unusable(f"{option} {day}: too far from today; accepted: {earliest} to {latest}")
    pinned = None if arguments.as_of is None else (arguments.as_of, arguments.as_of)
    sets = service.corpus.sets_of(base, other, arguments.from_date, pinned)
    run, options = service.corpus.run, {}
    if arguments.workers > 1:
        try:
            importlib.import_module("distributed")
        except ModuleNotFoundError:
            raise ImportError("--workers needs Dask: install glandwise-service[cluster]") from None
        run, options = service.corpus.run_on_dask, {"workers": arguments.workers}
    try:
        progress = Progress(service.corpus.length(arguments.cases))
        done = run(sets, arguments.cases, out, attribute=not arguments.no_attribution, progress=progress,
                   each=cases.add, **options)  # fmt: skip
    except service.faults as error:
        raise Unusable(str(error)) from None
    except ValueError as error:  # a file that is not what its ending says
        raise Unusable(f"{arguments.cases}: {error}") from None
    progress.close()
    found: dict[str, Any] = service.comparison.report(service.corpus.pair_of(sets), done.totals)
    return found


def _lines(path: Path) -> Iterator[tuple[int, dict[str, Any]]]:
    """Yield the cases of an NDJSON file with the number of their line."""
    if path.suffix.lower() not in {".ndjson", ".jsonl"}:
        raise Unusable(
            f"{path.name}: a server takes cases as NDJSON with duty and design; flat rows (CSV, Parquet) are read in "
            "process only: use --in-process where the service is installed"
        )
    with path.open("rb") as file:
        for number, line in enumerate(file, start=1):
            if not line.strip():
                continue
            try:
                case = parsed(line)
            except ValueError as error:
                raise Unusable(f"{path.name}, line {number}: {error}") from None
            if not isinstance(case, dict) or not {"duty", "design"} <= case.keys():
                raise Unusable(
                    f"{path.name}, line {number}: an object with duty and design is expected; flat rows are read in process "
                    "only: use --in-process where the service is installed"
                )
            yield number, {"case_id": str(number), **case}


def _chunks(path: Path) -> Iterator[tuple[list[int], list[dict[str, Any]]]]:
    numbers: list[int] = []
    cases: list[dict[str, Any]] = []
    for number, case in _lines(path):
        numbers.append(number)
        cases.append(case)
        if len(cases) == CHUNK:
            yield numbers, cases
            numbers, cases = [], []
    if cases:
        yield numbers, cases


def _compare_there(
    arguments: argparse.Namespace, candidate: _Candidate, cases: report.Cases, out: Path | None, connect: Connect
) -> dict[str, Any]:
    if arguments.workers > 1:
        raise Unusable("--workers is for --in-process")
    if arguments.out is not None and arguments.out.suffix.lower() not in {".ndjson", ".jsonl"}:
        raise Unusable(f"{arguments.out}: against a server only .ndjson is written")
    request = {"base": _base(arguments, arguments.base), "candidate": _sent(candidate), **_from(arguments),
               "attribute": not arguments.no_attribution}  # fmt: skip
    found: dict[str, Any] = {
        "verdict": "pass", "summary": "", "base": None, "candidate": None, "same_version": False, "dates": [],
        "changes": [], "counts": {}, "by_criterion": {}, "by_family": {}, "by_compound": {},
    }  # fmt: skip
    progress = Progress(None)
    rows = out.open("w", encoding="utf-8") if out is not None else None
    try:
        with connect(arguments) as client:
            for numbers, chunk in _chunks(arguments.cases):
                try:
                    answer = json.loads(client.fetch("compare_rule_sets", {**request, "cases": chunk}).content)
                except (RequestError, UnprocessableRequest) as error:
                    raise _by_line(error, arguments.cases.name, numbers) from None
                found |= {name: answer[name] for name in ("base", "candidate", "same_version", "from_date", "dates")}
                request["from_date"] = answer["from_date"]  # however long it takes, and past midnight
                report.merge(found, answer)
                cases.add(answer["cases"])
                if rows is not None:
                    rows.writelines(
                        json.dumps(row, ensure_ascii=False, separators=(",", ":")) + "\n" for row in answer["cases"]
                    )
                progress(len(chunk))
    finally:
        progress.close()
        if rows is not None:
            rows.close()
    counts = found["counts"]
    unread = sum(not change["exercised"] for change in found["changes"])
    if counts.get("worse") or counts.get("refused"):
        found["verdict"] = "fail"
    elif counts.get("better") or counts.get("shifted") or unread:
        found["verdict"] = "caution"
    words = {"worse": "worse", "better": "better", "shifted": "shifted in margin", "same": "the same",
             "refused": "not judged"}  # fmt: skip
    parts = ", ".join(f"{counts[name]} {text}" for name, text in words.items() if counts.get(name))
    said = counted(len(found["changes"]), "changed value") + (f" ({unread} not exercised)" if unread else "")
    on = f" on {len(found['dates'])} dates" if len(found["dates"]) > 1 else ""
    found["summary"] = f"{said}, {counted(sum(counts.values()), 'case')}{on}: {parts}."
    return found


def counted(number: int, noun: str) -> str:
    """Write a number with its noun."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _by_line(error: RequestError | UnprocessableRequest, name: str, numbers: list[int]) -> Unusable:
    """Say at which line of the file a chunk was refused."""
    texts = []
    for fault in error.errors:
        parts = fault.pointer.split("/")
        if len(parts) > 2 and parts[1] == "cases" and parts[2].isdigit() and int(parts[2]) < len(numbers):
            fault = fault._replace(pointer="/" + "/".join(parts[3:]))
            texts.append(f"{name}, line {numbers[int(parts[2])]}: {fault}")
        else:
            texts.append(str(fault))
    return Unusable("\n  ".join(texts) or str(error))
