"""``glandwise rules diff`` and ``glandwise rules review``: what differs between two rule sets, and who answers for one."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Annotated, Any, Final

import typer

from glandwise_client import _governance as governance
from glandwise_client import _policy as policies
from glandwise_client import _report as report
from glandwise_client._cli_base import (
    FINE,
    PATIENCE,
    TRIPPED,
    Header,
    InProcess,
    Timeout,
    Unusable,
    Url,
    Where,
    ended,
    say,
)
from glandwise_client._cli_rules import (
    After,
    Before,
    FromDate,
    Html,
    Json,
    Junit,
    Markdown,
    Outputs,
    Service,
    base_of,
    candidate_of,
    check_files,
    dated_from,
    folders_of,
    reviewed,
    sent,
    write_pages,
)
from glandwise_client._pages import Heading, Part, Rows, Sentence

ON_A_PAGE: Final = 500
"""Values on a page; the JSON has them all."""


def _asked(
    base: str, candidate: str | None, from_date: date | None, where: Where
) -> tuple[dict[str, Any], dict[str, Path]]:
    """Return what is asked of the service, and the folders of the sets by name."""
    request: dict[str, Any] = {"base": base_of(base, None), **dated_from(from_date)}
    given = candidate_of(base if candidate is None else candidate)
    if candidate is not None:
        if given.folder is not None and where.here:
            service = Service()
            service.tree(given, service.named(base))  # a fault is named with its file and line
        request["candidate"] = sent(given)
    return request, folders_of(given, where.here)


@ended
def diff(
    base: Before,
    candidate: After,
    from_date: FromDate = None, html: Html = None, markdown: Markdown = None, as_json: Json = None,
    url: Url = None, in_process: InProcess = False, timeout: Timeout = PATIENCE, header: Header = None,
) -> int:  # fmt: skip
    """Show what differs between two rule sets: values, evidence, sources, versions."""
    where = Where.of(url, in_process, timeout, header)
    check_files(Outputs(None, markdown, as_json, html=html), candidate, [])
    request, folders = _asked(base, candidate, from_date, where)
    found = _told(request, policies.Policy(), folders, where)
    say(difference_text(found).splitlines())
    write_pages(found, "Difference of two rule sets", difference(found, ON_A_PAGE), as_json, markdown, html)
    return FINE


def _told(
    request: dict[str, Any], policy: policies.Policy, folders: Mapping[str, Path], where: Where
) -> dict[str, Any]:
    """Return what the service says, with what a policy finds wrong."""
    review = reviewed(request, policy, where)
    if review is None:
        raise Unusable("this service does not tell who answers for its rules")
    broken = governance.faults(review, policy, folders)
    return {**review, "governance": governance.written(review, broken), "reasons": governance.reasons(broken)}


@ended
def review(
    rule_set: Annotated[str, typer.Option(metavar="NAME", help="The rule set; with a candidate, the one in force.")] = "baseline",
    candidate: Annotated[
        str | None,
        typer.Option(metavar="NAME|PATCH.json|FOLDER", help="A set that is to take its place."),
    ] = None,
    policy: Annotated[
        Path | None, typer.Option(metavar="FILE", help="A policy (TOML): what is asked of approval, versions, reviews.")
    ] = None,
    within: Annotated[
        int, typer.Option(metavar="DAYS", min=0, max=36500, help="Tell values as well that are due within so many days.")
    ] = 90,
    days: Annotated[
        int | None,
        typer.Option(
            metavar="DAYS", min=0, max=36500,
            help="Days from its valid_from by which a house estimate without a review_by is due (as the policy has it).",
        ),
    ] = None,
    built_in: Annotated[bool, typer.Option("--built-in", help="Look at values of built-in sets too.")] = False,
    from_date: FromDate = None, junit: Junit = None, html: Html = None, markdown: Markdown = None,
    as_json: Json = None,
    url: Url = None, in_process: InProcess = False, timeout: Timeout = PATIENCE, header: Header = None,
) -> int:  # fmt: skip
    """Say who approved a rule set, and which of its estimates are to be looked at again; 1 where the policy is not kept."""
    where = Where.of(url, in_process, timeout, header)
    check_files(Outputs(junit, markdown, as_json, html=html), candidate, [] if policy is None else [policy])
    held_to = policies.Policy() if policy is None else policies.read(policy)
    further = {"house_estimate_days": days} if days is not None else {}
    further |= {"built_in": True} if built_in else {}
    held_to = held_to.model_copy(update={"reviews": held_to.reviews.model_copy(update=further)})
    request, folders = _asked(rule_set, candidate, from_date, where)
    found = _told({**request, "within_days": within}, held_to, folders, where)
    say(review_text(found).splitlines())
    write_pages(found, "Review of a rule set", review_page(found, ON_A_PAGE), as_json, markdown, html)
    if junit is not None:
        junit.write_bytes(report.review_junit(found))
    return TRIPPED if found["reasons"] else FINE


# Told ----------------------------------------------------------------------------------------------------------------


def _head(found: Mapping[str, Any]) -> str:
    base, candidate = report.named(found["base"]), report.named(found["candidate"])
    return candidate if base == candidate else f"{base} -> {candidate}"


def _verdict(found: Mapping[str, Any]) -> str:
    return f"The policy is not kept: {', '.join(found['reasons'])}." if found["reasons"] else "The policy is kept."


def review_text(found: Mapping[str, Any]) -> str:
    """Return a review for the terminal."""
    told = [_head(found), found["summary"], "", *(f"  {line}" for line in governance.lines(found["governance"]))]
    if found["reviews"]:
        told += ["", "  days  to be looked at again"]
        told += [
            f"  {item['days']:>5} {item['key']} ({item['evidence'].replace('_', ' ')} of {item['rule_set']}, "
            f"by {item['review_by']})"
            for item in found["reviews"][: governance.LISTED]
        ]
        if len(found["reviews"]) > governance.LISTED:
            told.append(f"        and {len(found['reviews']) - governance.LISTED} more")
    return "\n".join([*told, "", _verdict(found), ""])


def review_page(found: Mapping[str, Any], most: int) -> list[Part]:
    """Return a review as parts of a page."""
    return [
        Heading("Review of a rule set", 1),
        Sentence(f"{_head(found)}, on {found['from_date']}"),
        Sentence(found["summary"], _verdict(found)),
        *governance.parts(found["governance"], most),
    ]


def _moved(change: Mapping[str, Any]) -> str:
    """Say whether a value rests on stronger or weaker evidence than before."""
    before, after = change["evidence_before"], change["evidence"]
    if change["kind"] != "changed" or None in (before, after) or before == after:
        return ""
    return "weaker" if report.RANKS[after] > report.RANKS[before] else "stronger"


def difference_text(found: Mapping[str, Any]) -> str:
    """Return a difference for the terminal."""
    told = [_head(found), found["summary"], ""]
    for change in found["changes"]:
        moved = _moved(change)
        told.append(
            f"  {change['kind']:<8}{change['key']}: {report.what_changed(change)}"
            + (f" ({report.evidence_of(change)}, {moved})" if moved else "")
        )
    if not found["changes"]:
        told.append("  No value differs.")
    told += ["", *(f"  {line}" for line in governance.lines(found["governance"]))]
    return "\n".join([*told, ""])


_EFFECTS: Final = {"weaker": "worse", "stronger": "better", "": "changed"}


def difference(found: Mapping[str, Any], most: int) -> list[Part]:
    """Return a difference as parts of a page: values file by file, evidence, sources, sets."""
    parts: list[Part] = [
        Heading("Difference of two rule sets", 1),
        Sentence(_head(found)),
        Sentence(found["summary"]),
    ]
    files: dict[str, list[Mapping[str, Any]]] = {}
    for change in found["changes"][:most]:
        files.setdefault(change["key"].partition(".")[0], []).append(change)
    for file, changes in files.items():
        parts += [
            Heading(file.replace("_", " ").capitalize()),
            Rows(["value", "what", "evidence", "source", "from"],
                 [[item["key"], f"{item['kind']}: {report.what_changed(item)}", _evidence(item), _source(item),
                   item["as_of"] or "the past only"] for item in changes],
                 [_EFFECTS[_moved(item)] for item in changes]),
        ]  # fmt: skip
    if len(found["changes"]) > most:
        parts.append(Sentence(f"and {len(found['changes']) - most} more changed values."))
    if not files:
        parts.append(Sentence("No value differs."))
    parts += [
        Heading("Values by evidence"),
        Rows(["level", "values before", "values after"],
             [[level.replace("_", " "), count["before"], count["after"]] for level, count in found["by_evidence"].items()]),
    ]  # fmt: skip
    if found["sources"]:
        parts += [
            Heading("Values by source"),
            Rows(["source", "what it is", "read", "entry", "values before", "values after"],
                 [[item["id"], item["text"], item["read"].replace("_", " "), item["kind"], item["values_before"],
                   item["values_after"]] for item in found["sources"]]),
        ]  # fmt: skip
    return [*parts, *governance.parts(found["governance"], most)]


def _evidence(change: Mapping[str, Any]) -> str:
    moved = _moved(change)
    return report.evidence_of(change) + (f" ({moved})" if moved else "")


def _source(change: Mapping[str, Any]) -> str:
    """Say the source before and after, where the value has one of its own."""
    ends = [report.newest(change[end]) for end in ("before", "after")]
    names = [end.get("source") if isinstance(end, dict) else None for end in ends]
    if names[0] and names[1] and names[0] != names[1]:
        return f"{names[0]} -> {names[1]}"
    return str(names[1] or names[0] or change["source"] or "-")
