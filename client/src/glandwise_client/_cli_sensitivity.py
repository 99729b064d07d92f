"""``glandwise rules sensitivity``: which rule values decide past quotes, and where the quotes are blind."""

from __future__ import annotations

import csv
import importlib
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Annotated, Any, Final, Literal

import typer

from glandwise_client import _policy as policies
from glandwise_client._cli_base import FINE, Progress, Unusable, check_outputs, ended, say
from glandwise_client._cli_rules import Html, Json, Markdown, Service, as_date, write_pages
from glandwise_client._pages import Heading, Part, Rows, Sentence
from glandwise_client._report import counted

EVIDENCE: Final = ("standard", "published", "own_test", "common_practice", "house_estimate")
LISTED = 20
"""Values, cases and keys on a terminal; a page has more of them."""
ON_A_PAGE = 200


def _share(least: float, most: float) -> Any:
    def share(text: str | float) -> float:
        try:
            per_cent = float(text)
        except ValueError:
            per_cent = float("nan")
        if not least <= per_cent <= most:  # NaN is not between them either
            raise typer.BadParameter(f"{text!r} is not a number from {least:g} to {most:g}, in per cent")
        return per_cent / 100.0

    return share


@ended
def sensitivity(
    cases: Annotated[list[Path], typer.Argument(metavar="FILE...", help="Past quotes: .ndjson, .parquet, .csv.")],
    rule_set: Annotated[str, typer.Option(metavar="NAME", help="The rule set.")] = "baseline",
    by: Annotated[
        Literal["share", "range"],
        typer.Option(help="Change each value by --step (share), or to the ends of its own range, where it states one (range)."),
    ] = "share",
    step: Annotated[
        float, typer.Option(metavar="%", parser=_share(0.01, 20.0), help="By how much, in per cent, up and down.")
    ] = 1.0,
    within: Annotated[
        float, typer.Option(metavar="%", parser=_share(0.0, 50.0), help="What counts as near a boundary, in per cent.")
    ] = 5.0,
    only: Annotated[
        list[str] | None,
        typer.Option(metavar="KEY", help="Look at the values under this key alone, as often as needed (designs.capacities)."),
    ] = None,
    suggestions: Annotated[int, typer.Option(metavar="N", min=0, max=200, help="Cases that are suggested, at most.")] = 20,
    suggest: Annotated[
        Path | None, typer.Option(metavar="FILE.csv", help="Write the suggested cases as a corpus.")
    ] = None,
    operation: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME",
            help="What some of the cases are judged by, as often as needed (the envelope alone): "
            f"{', '.join(policies.OPERATIONS)}.",
        ),
    ] = None,
    sample: Annotated[
        int | None, typer.Option(metavar="N", min=1, max=500, help="Cases that are answered whole, spread over all (8).")
    ] = None,
    answers: Annotated[
        int | None, typer.Option(metavar="N", min=1, max=1_000_000, help="Answers to changed values, at most (2000).")
    ] = None,
    evidence: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LEVEL",
            help=f"Put only values on this evidence to whole answers, as often as needed (all): {', '.join(EVIDENCE)}.",
        ),
    ] = None,
    workers: Annotated[int, typer.Option(metavar="N", min=1, help="Worker processes (Dask) for whole answers.")] = 1,
    as_of: Annotated[
        date | None,
        typer.Option(metavar="DATE", parser=as_date, help="Judge by the values in force on this date (the newest)."),
    ] = None,
    markdown: Markdown = None, html: Html = None, as_json: Json = None,
) -> int:  # fmt: skip
    """Say which rule values decide past quotes, and which no quote exercises; in this process only."""
    check_outputs({"markdown": markdown, "html": html, "json": as_json, "suggest": suggest}, cases)
    if suggest is not None and suggest.suffix.lower() != ".csv":
        raise Unusable(f"--suggest {suggest}: unknown ending; accepted: .csv")
    operations = tuple(operation or ())
    for name in operations:
        if name not in policies.OPERATIONS:
            raise Unusable(
                f"--operation {name}: no operation that is compared; accepted: {', '.join(policies.OPERATIONS)}"
            )
    for level in evidence or ():
        if level not in EVIDENCE:
            raise Unusable(f"--evidence {level}: no level of evidence; accepted: {', '.join(EVIDENCE)}")
    whole = set(operations) - {"check_envelope"}
    given = {"--sample": sample, "--answers": answers, "--evidence": evidence, "--workers": workers > 1 or None}
    if not whole and any(value is not None for value in given.values()):
        named = next(name for name, value in given.items() if value is not None)
        raise Unusable(f"{named}: is for whole answers; name an --operation beside check_envelope")
    service = Service()
    review = importlib.import_module("glandwise.review.sensitivity")
    tree = service.named(rule_set)
    if as_of is not None and as_of < tree.valid_from:
        raise Unusable(f"--as-of {as_of}: the rule set is in force from {tree.valid_from}")
    try:
        parts = review.parts(cases)
        progress = Progress(None, "values")
        found = review.examine(
            tree, [part.table for part in parts], as_of, by=by, step=step, within=within, only=only or (),
            most=suggestions, documents=[part.documents for part in parts],
            whole=_bounds(operations, sample, answers, evidence, workers) if whole else None, progress=progress,
        )  # fmt: skip
    except (*service.faults, review.Blind) as error:
        raise Unusable(str(error)) from None
    except ValueError as error:  # a file that is not what its ending says
        raise Unusable(f"{', '.join(map(str, cases))}: {error}") from None
    progress.close()
    say(text(found).splitlines())
    write_pages(found, "What decides the corpus", page(found, ON_A_PAGE), as_json, markdown, html)
    if suggest is not None:
        _write(suggest, [item["case"] for item in found["suggestions"]])
    return FINE


def _bounds(
    operations: tuple[str, ...], sample: int | None, answers: int | None, evidence: list[str] | None, workers: int
) -> Any:
    """Return how much work is done on whole answers."""
    if workers > 1:
        try:
            importlib.import_module("distributed")
        except ModuleNotFoundError:
            raise ImportError("--workers needs Dask: install glandwise-service[cluster]") from None
    given = {"sample": sample, "answers": answers, "evidence": None if evidence is None else tuple(evidence)}
    given = {name: value for name, value in given.items() if value is not None}
    return importlib.import_module("glandwise.review.whole_steps").Bounds(operations, workers=workers, **given)


def _write(path: Path, rows: list[dict[str, Any]]) -> None:
    headings = list(dict.fromkeys(name for row in rows for name in row))
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, headings, restval="")
        writer.writeheader()
        writer.writerows({name: _cell(entry) for name, entry in row.items()} for row in rows)


def _cell(value: Any) -> Any:
    return str(value).lower() if isinstance(value, bool) else value


def text(found: Mapping[str, Any]) -> str:
    """Return what was found for the terminal."""
    lines = [found["summary"], ""]
    lines += [f"  {'turned':>6} {'moved':>6} {'read':>6} {_strength(found):>9}  value"]
    for value in found["values"][:LISTED]:
        lines.append(
            f"  {value['turned']:>6} {value['moved']:>6} {value['read']:>6} {value['shift']:>9.3g}  "
            f"{value['key']} ({value['evidence'].replace('_', ' ')})"
        )
    lines += _more(found["values"], "values that move something")
    if found["unread"]:
        lines += ["", "  No case reads, though one could:"]
        lines += [f"    {item['key']} ({counted(item['values'], 'value')})" for item in found["unread"][:LISTED]]
        lines += _more(found["unread"], "keys")
    never = [item["id"].replace("_", " ") for item in found["criteria"] if not item["governs"]]
    if never:
        lines += ["", f"  Governs no case: {', '.join(never)}"]
    lines += ["", f"  Near a boundary: {counted(found['cases_near'], 'case')}"]
    lines += [f"    {item['case_id']}: {_near(item)}" for item in found["near"][:LISTED]]
    if found["suggestions"]:
        lines += ["", "  Suggested cases:"]
        lines += [f"    {_case(item)}: {_reaches(item)}" for item in found["suggestions"][:LISTED]]
    if found["whole"] is not None:
        lines += ["", "Whole answers", *_whole_text(found, found["whole"])]
    return "\n".join([*lines, ""])


def _whole_text(found: Mapping[str, Any], whole: Mapping[str, Any]) -> list[str]:
    """Return what was found of whole answers for the terminal."""
    strength = _strength(found)
    lines = [whole["summary"], ""]
    lines += [f"  {'designs':>7} {'turned':>6} {'moved':>6} {'read':>6} {f'life {strength}':>10}  value"]
    for value in whole["values"][:LISTED]:
        turns = f": {_verdicts(value)}" if value["verdicts"] else ""
        lines.append(
            f"  {value['designs']:>7} {value['turned']:>6} {value['moved']:>6} {value['read']:>6} {value['life']:>10.3g}  "
            f"{value['key']} ({value['evidence'].replace('_', ' ')}){turns}"
        )
    lines += _more(whole["values"], "values that move an answer")
    for items, words in (
        (whole["unread"], "None of these cases reads:"),
        (whole["left_out"]["entries"], "Left out, for the answers were used up:"),
    ):
        if items:
            lines += ["", f"  {words}"]
            lines += [f"    {item['key']} ({counted(item['values'], 'value')})" for item in items[:LISTED]]
            lines += _more(items, "keys")
    return lines


def _verdicts(value: Mapping[str, Any]) -> str:
    """Say how many verdicts of which operation turn."""
    return ", ".join(f"{name} {number}" for name, number in value["verdicts"].items())


def _strength(found: Mapping[str, Any]) -> str:
    return "shift" if found["by"] == "range" else "%/%"


def _more(items: Any, words: str) -> list[str]:
    return [f"    and {len(items) - LISTED} more {words} in the report"] if len(items) > LISTED else []


def _near(item: Mapping[str, Any]) -> str:
    side = "beyond" if item["distance"] > 0 else "below"
    bound = "its limit" if item["boundary"] == "limit" else "where caution begins"
    return f"{item['criterion'].replace('_', ' ')} {abs(100 * item['distance']):.2g} % {side} {bound}" + (
        ", governs" if item["governs"] else ""
    )


def _case(item: Mapping[str, Any]) -> str:
    case = item["case"]
    return f"{case['case_id']} ({case['family'].replace('_', ' ')}, {case['compound']}, {case['fluid']}; {item['verdict']})"


def _reaches(item: Mapping[str, Any]) -> str:
    few = item["reaches"][:4]
    return ", ".join(few) + (f" and {len(item['reaches']) - 4} more" if len(item["reaches"]) > 4 else "")


def page(found: Mapping[str, Any], most: int) -> list[Part]:
    """Return what was found as parts of a page."""
    rules, values = found["rules"], found["values"]
    how = (
        "Shift: by what share the use of the governing criterion moves over the range, in the mean of all cases."
        if found["by"] == "range"
        else "%/%: by how many per cent the use of the governing criterion moves for each per cent of the value, in the mean of "
        "all cases."
    )
    parts: list[Part] = [
        Heading("What decides the corpus", 1),
        Sentence(f"{rules['name']} {rules['version']} as of {rules['as_of']} ({rules['digest'][:12]})"),
        Sentence(found["summary"]),
        Heading("Values that decide"),
        Rows(
            ["value", "evidence", "verdicts turned", "worse", "better", "cases moved", "cases that read it", _strength(found),
             "criteria"],
            [[v["key"], v["evidence"].replace("_", " "), v["turned"], v["worse"], v["better"], v["moved"], v["read"],
              float(f"{v['shift']:.3g}"), ", ".join(name.replace("_", " ") for name in v["criteria"])]
             for v in values[:most]],
        ),
        Sentence(how),
    ]  # fmt: skip
    if len(values) > most:
        parts.append(Sentence(f"and {len(values) - most} more that move something."))
    if found["without_effect"]:
        parts += [Heading("Read, but without effect"), Sentence(", ".join(found["without_effect"][:most]))]
    parts += [
        Heading("What no case reads, though one could"),
        Rows(["key", "values"], [[item["key"], item["values"]] for item in found["unread"][:most]]),
    ]
    if found["missing"]:
        parts += [
            Heading("What no case has"),
            Rows(["field", "none of"], [[name, ", ".join(entries)] for name, entries in found["missing"].items()]),
        ]
    parts += [
        Heading("Criteria"),
        Rows(["criterion", "governs", "cases near a boundary"],
             [[item["id"].replace("_", " "), item["governs"], item["near"]] for item in found["criteria"]]),
        Heading("Cases near a boundary"),
        Rows(["case", "what"], [[item["case_id"], _near(item)] for item in found["near"][:most]]),
        Heading("Suggested cases"),
        Rows(["case", "what it reaches"], [[_case(item), ", ".join(item["reaches"])] for item in found["suggestions"]]),
    ]  # fmt: skip
    if found["beyond"]:
        parts += [
            Heading("What the envelope does not read"),
            Sentence("No sampled case reads these either: other answers do, or a combination that is seldom met."),
            Sentence(", ".join(f"{item['key']} ({item['values']})" for item in found["beyond"][:most])),
        ]
    return parts if found["whole"] is None else [*parts, *_whole_page(found, found["whole"], most)]


def _whole_page(found: Mapping[str, Any], whole: Mapping[str, Any], most: int) -> list[Part]:
    """Return what was found of whole answers as parts of a page."""
    values, left, strength = whole["values"], whole["left_out"], _strength(found)
    per = "over the range" if found["by"] == "range" else "for each per cent of the value"
    parts: list[Part] = [
        Heading("What decides whole answers"),
        Sentence(whole["summary"]),
        Sentence(f"Answered: {', '.join(whole['operations'])}. Cases: {', '.join(whole['case_ids'][:most])}."),
        Rows(
            ["value", "evidence", "designs changed", "cases turned", "worse", "better", "verdicts turned", "criteria turned",
             f"life {strength}", f"torque {strength}", "cases moved", "cases that read it", "turned, for example"],
            [[v["key"], v["evidence"].replace("_", " "), v["designs"], v["turned"], v["worse"], v["better"], _verdicts(v),
              ", ".join(f"{name} {number}" for name, number in v["statuses"].items()), float(f"{v['life']:.3g}"),
              float(f"{v['torque']:.3g}"), v["moved"], v["read"], ", ".join(v["turned_cases"])]
             for v in values[:most]],
        ),
        Sentence(
            "Designs, cases, verdicts and criteria: how many turn by either step. Life and torque: the share by which they move "
            f"{per}, in the mean of the cases that were answered."
        ),
    ]  # fmt: skip
    if len(values) > most:
        parts.append(Sentence(f"and {len(values) - most} more that move an answer."))
    if whole["without_effect"]:
        parts += [
            Heading("Read by whole answers, but without effect"),
            Sentence(", ".join(whole["without_effect"][:most])),
        ]
    for title, items in (
        ("What none of the cases that were answered whole reads", whole["unread"]),
        ("Left out, for the answers were used up", left["entries"]),
    ):
        if items:
            parts += [Heading(title), Rows(["key", "values"], [[item["key"], item["values"]] for item in items[:most]])]
            if len(items) > most:
                parts.append(Sentence(f"and {len(items) - most} more keys."))
    if whole["not_stepped"]:
        parts += [
            Heading("Not changed"),
            Sentence("No rule set could hold a changed one, or the value states no range."),
            Sentence(", ".join(whole["not_stepped"][:most])),
        ]
    spent = whole["answers"]
    parts.append(
        Sentence(
            f"{spent['given']} answers to single changed values (at most {spent['limit']}), {spent['to_find_what_is_read']} more to "
            "find what is read."
        )
    )
    return parts
