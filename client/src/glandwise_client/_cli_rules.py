"""``glandwise rules``: what a change of design rules does to past quotes, and whether a rule set is sane.

Against a server the cases go over in chunks. Inside this process the service reads the file itself, block by block; its
modules are loaded by name then, so that the client needs none of them.
"""

from __future__ import annotations

import importlib
import json
import os
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack, suppress
from datetime import date
from itertools import chain
from pathlib import Path
from typing import Annotated, Any, Final, Literal, NamedTuple

import typer

from glandwise_client import _governance as governance
from glandwise_client import _pages
from glandwise_client import _policy as policies
from glandwise_client import _report as report
from glandwise_client._cli_base import (
    FINE,
    PATIENCE,
    TRIPPED,
    Header,
    InProcess,
    Progress,
    Timeout,
    Unusable,
    Url,
    Where,
    check_outputs,
    content_of,
    ended,
    parsed,
    say,
    whole,
)
from glandwise_client._errors import MethodNotAllowed, NotFound, RequestError, UnprocessableRequest
from glandwise_client._pages import Part

CHUNK: Final = 500
WHOLE_CHUNK: Final = 40
"""Cases of a request that asks for whole answers: some ten milliseconds each, under each set."""
_ROWS: Final = (".ndjson", ".jsonl", ".parquet")
"""Endings of files of cases that differ."""

app = typer.Typer(help="Gates for a change of design rules.")


def as_date(text: str | date) -> date:
    """Return a date that an option holds."""
    try:
        return date.fromisoformat(str(text))
    except ValueError:
        raise typer.BadParameter(f"{text!r} is not a date, as in 2026-01-01") from None


AsOf = Annotated[
    date | None,
    typer.Option(metavar="DATE", parser=as_date, help="Look at the values in force on this date as well."),
]
Before = Annotated[str, typer.Option(metavar="NAME", help="Rule set before the change.")]
After = Annotated[
    str,
    typer.Option(
        metavar="NAME|PATCH.json|FOLDER",
        help="Rule set after it: a name, a patch of the base, or a folder of TOML files.",
    ),
]
FromDate = Annotated[
    date | None,
    typer.Option(
        "--from",
        metavar="DATE",
        parser=as_date,
        help="First date looked at (today): it and every later one on which anything changes.",
    ),
]
Junit = Annotated[Path | None, typer.Option(metavar="FILE", help="JUnit XML.")]
Markdown = Annotated[Path | None, typer.Option(metavar="FILE", help="Summary in Markdown.")]
Html = Annotated[Path | None, typer.Option(metavar="FILE", help="The report as a page of HTML.")]
Json = Annotated[Path | None, typer.Option("--json", metavar="FILE", help="The report as JSON.")]


class Outputs(NamedTuple):
    """Files to write a report to."""

    junit: Path | None
    markdown: Path | None
    json: Path | None
    out: Path | None = None
    html: Path | None = None
    comment: Path | None = None


class Compared(NamedTuple):
    """What is compared with what, and how."""

    base: str
    cases: Path
    as_of: date | None
    from_date: date | None
    attribution: bool
    workers: int
    operations: tuple[str, ...]
    thresholds: dict[str, float]


def check_files(outputs: Outputs, candidate: str | None, inputs: list[Path]) -> None:
    """Refuse outputs that cannot be written, or only over what is read or written besides."""
    if candidate is not None:
        path = Path(candidate)
        inputs = [*inputs, *(path.glob("*.toml") if path.is_dir() else [path] if path.is_file() else [])]
    check_outputs(outputs._asdict(), inputs)


def write_json(path: Path, content: Any) -> None:
    """Write a report as JSON."""
    path.write_text(json.dumps(content, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")


def write_pages(
    found: Any, title: str, parts: Sequence[Part], as_json: Path | None, markdown: Path | None, html: Path | None
) -> None:
    """Write a report to the files that are asked for: whole as JSON, as a page in Markdown and in HTML."""
    if as_json is not None:
        write_json(as_json, found)
    if markdown is not None:
        markdown.write_text(_pages.markdown(parts), encoding="utf-8")
    if html is not None:
        html.write_text(_pages.html(title, parts), encoding="utf-8")


# Rule sets ----------------------------------------------------------------------------------------------------------


class Candidate(NamedTuple):
    """A candidate as it was given."""

    kind: str
    """``name``, ``patch`` or ``folder``."""
    name: str
    patch: dict[str, Any] | None
    folder: Path | None


def candidate_of(text: str) -> Candidate:
    path = Path(text)
    if path.is_dir():
        return Candidate("folder", text, None, path)
    if path.suffix.lower() == ".json" or path.is_file():
        return Candidate("patch", text, content_of(text), None)
    return Candidate("name", text, None, None)


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


def _beside(folder: Path, tree: dict[str, Any]) -> dict[str, Path]:
    """Return the folders of the rule sets that a set extends, by name, as far as they stand beside it."""
    folder = Path(os.path.abspath(folder))  # noqa: PTH100 - a link is not followed: what stands beside it counts
    beside: dict[Any, list[Path]] = {}
    for name, path in _named_in(folder.parent):
        if path != folder:
            beside.setdefault(name, []).append(path)
    found: dict[str, Path] = {}
    own = tree["rule_set"].get("name")
    while (name := tree["rule_set"].get("extends")) in beside and name not in (own, *found):
        if len(beside[name]) > 1:
            raise Unusable(f"{' and '.join(map(str, beside[name]))} both hold the rule set {name!r}")
        found[name] = beside[name][0]
        tree = _read_folder(found[name])
    return found


def _named_in(folder: Path) -> Iterator[tuple[Any, Path]]:
    """Yield the names of the rule sets whose folders stand in a folder."""
    for path in sorted(folder.iterdir()):
        if not path.name.startswith(".") and (path / "rule_set.toml").is_file():
            with suppress(ValueError):  # one that cannot be read has no name by which it could be meant
                yield tomllib.loads((path / "rule_set.toml").read_text(encoding="utf-8")).get("name"), path


def _parents(folder: Path, tree: dict[str, Any]) -> list[dict[str, Any]]:
    """Read the rule sets that a set extends, as far as they stand beside it: they may be changed there as well."""
    return [_plain(_read_folder(path)) for path in _beside(folder, tree).values()]


def folders_of(candidate: Candidate, here: bool) -> dict[str, Path]:
    """Return the folders of a candidate and of what it extends, by name, as far as they stand on this machine."""
    if candidate.folder is not None:
        tree = _read_folder(candidate.folder)
        return {str(tree["rule_set"].get("name")): candidate.folder, **_beside(candidate.folder, tree)}
    rules = os.environ.get("GLANDWISE_RULES")
    if candidate.kind != "name" or not here or not rules or not Path(rules).is_dir():
        return {}
    return {str(name): path for name, path in _named_in(Path(rules))}


def sent(candidate: Candidate) -> dict[str, Any]:
    """Return a candidate as it is sent to a service."""
    if candidate.kind == "name":
        return {"kind": "name", "name": candidate.name}
    if candidate.patch is not None:
        return {"kind": "patch", "patch": candidate.patch}
    assert candidate.folder is not None
    tree = _read_folder(candidate.folder)
    return {"kind": "whole", "rule_set": _plain(tree), "parents": _parents(candidate.folder, tree)}


def base_of(name: str, as_of: date | None) -> dict[str, Any]:
    """Return the base, and the date that both sets are looked at besides."""
    day = {} if as_of is None else {"as_of": as_of.isoformat()}
    return {"kind": "name", "name": name, **day}


def dated_from(from_date: date | None) -> dict[str, Any]:
    return {} if from_date is None else {"from_date": from_date.isoformat()}


class Service:
    """The modules of the service, loaded by name."""

    def __init__(self) -> None:
        try:
            self.corpus = importlib.import_module("glandwise.review.corpus_job")
        except ModuleNotFoundError as error:
            if error.name not in {"glandwise", "glandwise.review"}:
                raise
            raise ImportError("the service is not installed here (glandwise-service); give --url instead") from error
        self.comparison = importlib.import_module("glandwise.review.comparison")
        self.governance = importlib.import_module("glandwise.review.governance")
        self.columns = importlib.import_module("glandwise.case.flat")
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

    def tree(self, candidate: Candidate, base: Any) -> Any:
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


@app.command("audit")
@ended
def audit(
    rule_set: Annotated[
        str | None, typer.Option(metavar="NAME", help="A rule set the service holds (baseline).")
    ] = None,
    candidate: Annotated[
        str | None,
        typer.Option(metavar="PATCH.json|FOLDER", help="A patch of the base, or a folder of TOML files."),
    ] = None,
    base: Annotated[str, typer.Option(metavar="NAME", help="Rule set a patch applies to.")] = "baseline",
    samples: Annotated[int | None, typer.Option(metavar="N", help="Points sampled over the envelope.")] = None,
    seed: Annotated[int | None, typer.Option(metavar="S", help="Seed of the sampling.")] = None,
    as_of: AsOf = None, from_date: FromDate = None, junit: Junit = None, markdown: Markdown = None, as_json: Json = None,
    url: Url = None, in_process: InProcess = False, timeout: Timeout = PATIENCE, header: Header = None,
) -> int:  # fmt: skip
    """Look for laws that a rule set breaks; 1 when one does not hold."""
    where = Where.of(url, in_process, timeout, header)
    if rule_set is not None and candidate is not None:
        raise Unusable("--rule-set and --candidate: give one of them")
    check_files(Outputs(junit, markdown, as_json), candidate, [])
    request: dict[str, Any] = {"base": base_of(rule_set or base, as_of), **dated_from(from_date)}
    if candidate is not None:
        given = candidate_of(candidate)
        if given.folder is not None and where.here:
            service = Service()
            service.tree(given, service.named(base))  # a fault is named with its file and line
        request["candidate"] = sent(given)
    request |= {name: value for name, value in (("samples", samples), ("seed", seed)) if value is not None}
    with where.connect() as client:
        found = json.loads(client.fetch("audit_rule_set", request).content)
    say(report.audit_text(found).splitlines())
    if as_json is not None:
        write_json(as_json, found)
    if markdown is not None:
        markdown.write_text(report.audit_markdown(found), encoding="utf-8")
    if junit is not None:
        junit.write_bytes(report.audit_junit(found))
    return FINE if found["verdict"] == "pass" else TRIPPED


# Archive ------------------------------------------------------------------------------------------------------------


@app.command("archive")
@ended
def archive(
    to: Annotated[Path, typer.Option(metavar="FOLDER", help="The archive; made where there is none.")],
    rule_set: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="A rule set, as often as needed (all there are).")
    ] = None,
    history: Annotated[
        Path | None, typer.Option(metavar="PATH", help="A git repository: every rule set of its history as well.")
    ] = None,
) -> int:  # fmt: skip
    """Keep rule sets as they are, each in a file named by its digest; in this process only."""
    service = Service()
    names = rule_set or sorted(service.store.trees)
    trees: Iterable[Any] = [service.named(name) for name in names]
    kept = importlib.import_module("glandwise.rules.archive")
    built_in = list(service.loader.RuleStore().trees.values())
    try:
        to.mkdir(parents=True, exist_ok=True)
        if history is not None:
            past = kept.History(history, built_in, kept.Archive(to, built_in[0].criteria))
            trees = chain(trees, past.every())
        for tree in trees:
            path = kept.put(tree, to)
            say([f"{tree.name} {tree.tree['rule_set']['version']}: {path}"])
    except service.loader.RuleError as error:
        raise Unusable(str(error)) from None
    except OSError as error:
        raise Unusable(f"--to {to}: {error.strerror or error}") from None
    return FINE


# Comparison ---------------------------------------------------------------------------------------------------------


@app.command("compare")
@ended
def compare(
    base: Before,
    candidate: After,
    cases: Annotated[
        Path,
        typer.Option(metavar="FILE", help="Past quotes: .ndjson; in this process also .parquet and .csv."),
    ],
    fail_on: Annotated[
        Literal["verdict", "design", "worse", "any", "none"] | None,
        typer.Option(
            help="Exit code 1: when a verdict turns worse or is lost (verdict); besides, when another design is proposed "
            "(design); when anything turns worse by more than the thresholds (worse, the default); when anything differs or "
            "a changed value was not exercised (any); never (none)."
        ),
    ] = None,
    operation: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME",
            help=f"What each case is judged by, as often as needed (all): {', '.join(policies.OPERATIONS)}.",
        ),
    ] = None,
    policy: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="A policy (TOML): fail_on, operations, thresholds, waivers, and what is asked of the rules."),
    ] = None,
    no_attribution: Annotated[
        bool, typer.Option("--no-attribution", help="Do not look for the value that caused each difference.")
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Every case that differs: .ndjson; in this process also .parquet."),
    ] = None,
    workers: Annotated[
        int, typer.Option(metavar="N", help="Worker processes (Dask), in this process only.")
    ] = 1,
    html: Html = None,
    comment: Annotated[
        Path | None, typer.Option(metavar="FILE", help="One page of Markdown, for a comment on a pull request.")
    ] = None,
    as_of: AsOf = None, from_date: FromDate = None, junit: Junit = None, markdown: Markdown = None, as_json: Json = None,
    url: Url = None, in_process: InProcess = False, timeout: Timeout = PATIENCE, header: Header = None,
) -> int:  # fmt: skip
    """Compare two rule sets over past quotes."""
    where = Where.of(url, in_process, timeout, header)
    read = [cases] if policy is None else [cases, policy]
    check_files(Outputs(junit, markdown, as_json, out, html, comment), candidate, read)
    held_to = policies.Policy() if policy is None else policies.read(policy)
    fail_on = fail_on or held_to.fail_on or "worse"
    operations = tuple(operation or held_to.operations or policies.OPERATIONS)
    for name in operations:
        if name not in policies.OPERATIONS:
            raise Unusable(
                f"--operation {name}: no operation that is compared; accepted: {', '.join(policies.OPERATIONS)}"
            )
    if no_attribution and any(waiver.change for waiver in held_to.waivers):
        raise Unusable("--no-attribution: a waiver names a change, and what is due to it is found by attribution only")
    if not cases.is_file():
        raise Unusable(f"{cases}: there is no such file")
    if out is not None and out.suffix.lower() not in _ROWS:
        raise Unusable(f"--out {out}: unknown ending; accepted: {', '.join(_ROWS)}")
    asked = Compared(
        base, cases, as_of, from_date, not no_attribution, workers, operations, held_to.thresholds.model_dump()
    )
    given = candidate_of(candidate)
    with ExitStack() as stack:
        waivers = policies.Waivers(held_to)
        held = stack.enter_context(report.Cases(junit, fail_on, waivers))
        rows = stack.enter_context(whole(out)) if out is not None else None
        found = (
            _compare_here(asked, given, held, rows, held_to)
            if where.here
            else _compare_there(asked, given, held, rows, held_to, where)
        )
        count = sum(found["counts"].values())
        if not count:
            raise Unusable(f"{cases} holds no case; a gate on nothing would always pass")
        if held.neither == count:
            raise Unusable(
                f"{cases}: of {report.counted(count, 'case')} none can be judged; the first: {held.first_fault}"
            )
        found |= {
            "newly_refused": held.newly_refused, "worst": held.worst, "thresholds": asked.thresholds,
            "waivers": waivers.used(), "waived": held.waived,
        }  # fmt: skip
        review = found.pop("review")
        broken = [] if review is None else governance.faults(review, held_to, folders_of(given, where.here))
        found["governance"] = None if review is None else governance.written(review, broken)
        found["gate"] = gate(fail_on, found, held, broken)
        held.write(found)
    say(report.comparison_text(found).splitlines())
    if as_json is not None:
        write_json(as_json, {**found, "worst": found["worst"][: report.WORST]})
    if markdown is not None:
        markdown.write_text(report.comparison_markdown(found), encoding="utf-8")
    if html is not None:
        html.write_text(report.comparison_html(found), encoding="utf-8")
    if comment is not None:
        comment.write_text(report.comparison_comment(found), encoding="utf-8")
    return TRIPPED if found["gate"]["tripped"] else FINE


def reviewed(request: dict[str, Any], policy: policies.Policy, where: Where) -> dict[str, Any] | None:
    """Ask a service who answers for a candidate; an older one does not tell."""
    asked = {"house_estimate_days": policy.reviews.house_estimate_days, "built_in": policy.reviews.built_in}
    try:
        with where.connect() as client:
            found: dict[str, Any] = json.loads(client.fetch("review_rule_set", {**request, **asked}).content)
    except (NotFound, MethodNotAllowed):
        if policy.demands:
            raise Unusable("the policy asks who answers for the rules, which this service does not tell") from None
        return None
    return found


def weaker(change: dict[str, Any]) -> bool:
    """Tell a value that rests on weaker evidence than before."""
    before, after = change["evidence_before"], change["evidence"]
    return None not in (before, after) and change["kind"] == "changed" and report.RANKS[after] > report.RANKS[before]


def gate(
    fail_on: str, found: dict[str, Any], held: report.Cases, broken: Sequence[governance.Fault] = ()
) -> dict[str, Any]:
    """Say whether the gate trips, and by what; what a policy demands of the rules themselves trips each but ``none``."""
    counts = found["counts"]
    let_through = [item["change"] for item in found["waivers"] if item["change"] and not item["expired"]]
    found["weaker"] = [
        change["key"] for change in found["changes"] if weaker(change) and change["key"] not in let_through
    ]
    weak = len(found["weaker"])
    words = {
        "verdict": "with a worse verdict",
        "design": "with a worse verdict or another proposed design",
        "worse": "worse",
    }
    known = {
        **{
            name: ((held.tripped, "case", text), (held.lost, "case", "no longer judged"))
            for name, text in words.items()
        },
        "any": (
            (sum(counts.values()) - counts["same"], "case", "different or not judged"),
            (sum(not change["exercised"] for change in found["changes"]), "changed value", "not exercised"),
        ),
        "none": (),
    }
    if fail_on == "worse":
        known["worse"] = (*known["worse"], (weak, "value", "on weaker evidence"))
    reasons = [f"{report.counted(number, noun)} {text}" for number, noun, text in known[fail_on] if number]
    if fail_on == "any" and found["same_version"]:
        reasons.append("other content under the same version")
    if fail_on != "none":
        reasons += governance.reasons(broken)
    return {"fail_on": fail_on, "tripped": bool(reasons), "reason": ", ".join(reasons)}


def _compare_here(
    asked: Compared, candidate: Candidate, cases: report.Cases, out: Path | None, policy: policies.Policy
) -> dict[str, Any]:
    service = Service()
    base = service.named(asked.base)
    other = service.tree(candidate, base)
    for tree, side in ((base, "base"), (other, "candidate")):
        if asked.as_of is not None and asked.as_of < tree.valid_from:
            raise Unusable(f"--as-of {asked.as_of}: the {side} is in force from {tree.valid_from}")
    earliest, latest = service.loader.EARLIEST, service.loader.latest()
    for option, day in (("--as-of", asked.as_of), ("--from", asked.from_date)):
        if day is not None and not earliest <= day <= latest:
            raise Unusable(f"{option} {day}: too far from today; accepted: {earliest} to {latest}")
    pinned = None if asked.as_of is None else (asked.as_of, asked.as_of)
    sets = service.corpus.sets_of(base, other, asked.from_date, pinned)
    run, options = service.corpus.run, {}
    if asked.workers > 1:
        try:
            importlib.import_module("distributed")
        except ModuleNotFoundError:
            raise ImportError("--workers needs Dask: install glandwise-service[cluster]") from None
        run, options = service.corpus.run_on_dask, {"workers": asked.workers}
    try:
        progress = Progress(service.corpus.length(asked.cases))
        done = run(sets, asked.cases, out, attribute=asked.attribution, progress=progress, each=cases.add,
                   asked=service.corpus.asked_of(asked.operations, asked.thresholds), **options)  # fmt: skip
    except service.faults as error:
        raise Unusable(str(error)) from None
    except ValueError as error:  # a file that is not what its ending says
        raise Unusable(f"{asked.cases}: {error}") from None
    progress.close()
    found: dict[str, Any] = service.comparison.report(service.corpus.pair_of(sets), done.totals)
    reviews = policy.reviews
    review = service.governance.reviewed(
        base, other, sets.since, age=reviews.house_estimate_days, built_in=reviews.built_in
    )
    return {**found, "review": review}


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


def _chunks(path: Path, size: int) -> Iterator[tuple[list[int], list[dict[str, Any]]]]:
    numbers: list[int] = []
    cases: list[dict[str, Any]] = []
    for number, case in _lines(path):
        numbers.append(number)
        cases.append(case)
        if len(cases) == size:
            yield numbers, cases
            numbers, cases = [], []
    if cases:
        yield numbers, cases


def _compare_there(
    asked: Compared, candidate: Candidate, cases: report.Cases, out: Path | None, policy: policies.Policy, where: Where
) -> dict[str, Any]:
    if asked.workers > 1:
        raise Unusable("--workers is for --in-process")
    if out is not None and out.suffix.lower() not in {".ndjson", ".jsonl"}:
        raise Unusable(f"{out.name}: against a server only .ndjson is written")
    request = {"base": base_of(asked.base, asked.as_of), "candidate": sent(candidate), **dated_from(asked.from_date),
               "attribute": asked.attribution, "operations": list(asked.operations),
               "thresholds": asked.thresholds}  # fmt: skip
    size = CHUNK if set(asked.operations) <= {"check_envelope"} else min(CHUNK, WHOLE_CHUNK)
    found: dict[str, Any] = {
        "verdict": "pass", "summary": "", "base": None, "candidate": None, "same_version": False, "dates": [],
        "changes": [], "counts": {}, "transitions": [], "trips": {}, "by_operation": {}, "by_criterion": {}, "by_family": {},
        "by_compound": {},
    }  # fmt: skip
    progress = Progress(None)
    rows = out.open("w", encoding="utf-8") if out is not None else None
    try:
        with where.connect() as client:
            for numbers, chunk in _chunks(asked.cases, size):
                try:
                    answer = json.loads(client.fetch("compare_rule_sets", {**request, "cases": chunk}).content)
                except (RequestError, UnprocessableRequest) as error:
                    raise _by_line(error, asked.cases.name, numbers) from None
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
    said = report.counted(len(found["changes"]), "changed value") + (f" ({unread} not exercised)" if unread else "")
    on = f" on {len(found['dates'])} dates" if len(found["dates"]) > 1 else ""
    found["summary"] = f"{said}, {report.counted(sum(counts.values()), 'case')}{on}: {parts}."
    if not counts:  # refused in a moment
        return {**found, "review": None}
    about = {"base": base_of(asked.base, None), "candidate": request["candidate"], "from_date": found["from_date"]}
    return {**found, "review": reviewed(about, policy, where)}


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
