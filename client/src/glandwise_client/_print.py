"""Answers as lines of text, for the demonstration and the command line."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from typing import Final, TypeAlias

from glandwise_client import models as m
from glandwise_client._base import Quantity

WIDTH: Final = 100
Stamped: TypeAlias = m.EnvelopeCheckResult | m.RunoutAllowanceResult | m.EnergizerLoadResult | m.SelectionResult
"""Results that state assumptions, cautions, evidence and their stamp."""

MARKS: Final = {"pass": "ok", "caution": "CARE", "fail": "FAIL", "not_evaluated": "?"}
BAR: Final = 12
MARGIN: Final = 8
EVIDENCE: Final = {
    "standard": "a standard",
    "published": "published data",
    "own_test": "tests of the house",
    "common_practice": "common practice of the trade",
    "house_estimate": "a house estimate",
}


def bar(utilization: float | None) -> str:
    """Draw how much of a limit is used."""
    if utilization is None:
        return " " * (BAR + 8)
    share = min(1.0, max(0.0, utilization))
    filled = round(share * BAR)
    end = ">" if utilization > 1 else "|"
    return f"{'=' * filled}{'.' * (BAR - filled)}{end} {100 * utilization:4.0f} %"


def wrap(text: str, indent: int = MARGIN, first: str | None = None) -> list[str]:
    """Fill lines, keeping numbers together with their units."""
    lines = textwrap.wrap(
        re.sub(r"(?<=[0-9]) (?=[%°A-Za-z])", "\u00a0", text),
        WIDTH,
        initial_indent=" " * indent if first is None else first.ljust(indent),
        subsequent_indent=" " * indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace("\u00a0", " ") for line in lines]


def number(quantity: Quantity | None) -> str:
    """Write a quantity to three digits."""
    if quantity is None:
        return "-"
    return format(quantity, ",.0f" if abs(quantity.value) >= 999.5 else ".3g")


_WHOLE: Final = {"pass": "the whole design passes", "caution": "the whole design passes with care"}


def remedy_lines(remedies: Sequence[m.Remedy]) -> list[str]:
    """Return what each change would do."""
    lines: list[str] = []
    for remedy in remedies:
        effect = "cures this" if remedy.cures else "does not cure this"
        if remedy.utilization is not None:
            effect += f" ({100 * remedy.utilization:.0f} % of the limit)"
        if remedy.evaluated:
            effect += f", and {_WHOLE.get(remedy.verdict, 'something else still fails')}"
        lines += wrap(f"{remedy.title} - {effect}", MARGIN + 5, " " * MARGIN + "  -> ")
    return lines


def ways_out(criteria: Sequence[m.Criterion]) -> list[str]:
    """Name the single changes with which the whole design would pass."""
    found = {
        remedy.change: remedy.title
        for criterion in criteria
        if criterion.status == "fail"
        for remedy in criterion.remedies
        if remedy.evaluated and remedy.cures and remedy.verdict in _WHOLE
    }
    return wrap("; or ".join(found.values()) + ".", MARGIN, "Change:") if found else []


def heading(title: str, verdict: str, summary: str) -> list[str]:
    """Return a title, the verdict and what it says."""
    return ["", title, "-" * WIDTH, *wrap(summary, MARGIN, MARKS.get(verdict, verdict))]


_UNNAMED = {"duty", "design", "shaft", "bore", "gland", "surroundings"}
"""Objects whose fields are plain without them."""


def _place(field: str) -> str:
    """Write where a value stands: its name, after that of the object it belongs to where the name alone says little."""
    *_, around, name = ("", *field.strip("/").split("/"))
    words = name if around in _UNNAMED or not around else f"{around} {name}"
    return words.replace("_", " ")


def foot(result: Stamped) -> list[str]:
    """Return what was assumed and what the result rests on."""
    lines = []
    if result.assumptions:
        taken = ", ".join(f"{_place(item.field)} {item.value}" for item in result.assumptions)
        lines += wrap(f"{taken.replace('o ring', 'O-ring')}.", 10, "Assumed:")
    stamp = result.stamp
    evidence = EVIDENCE.get(result.evidence or "", "nothing stated")
    lines += wrap(
        f"weakest evidence: {evidence}; rules {stamp.rule_set.name} {stamp.rule_set.version} as of "
        f"{stamp.rule_set.as_of} (sha256 {stamp.rule_set.digest[:12]}...), engine {stamp.engine}, "
        f"fingerprint {stamp.fingerprint[:12]}...",
        10,
        "Stamp:",
    )
    return lines


def envelope_lines(result: m.EnvelopeCheckResult, title: str = "Envelope check") -> list[str]:
    """Return an envelope check as lines of text."""
    lines = heading(title, result.verdict, result.summary)
    lines += [*ways_out(result.criteria), ""]
    lines.append(f"{'':<{MARGIN}}{'criterion':<32} {'share of the limit':<20}  what is asked / what there is")
    for criterion in result.criteria:
        mark = MARKS.get(criterion.status, criterion.status)
        name = criterion.title if len(criterion.title) <= 32 else criterion.title[:31] + "…"
        numbers = ""
        if criterion.demand is not None and criterion.capacity is not None:
            numbers = f"{number(criterion.demand)} / {number(criterion.capacity)}"
        lines.append(f"{mark:<{MARGIN}}{name:<32} {bar(criterion.utilization)}  {numbers}".rstrip())
        if criterion.status != "pass":
            lines += wrap(criterion.reason)
            lines += remedy_lines(criterion.remedies)
    return [*lines, "", *foot(result)]


def verdict_lines(result: m.EnvelopeVerdict) -> list[str]:
    """Return a verdict without words as lines of text."""
    lines = [f"Envelope check: {result.verdict}", ""]
    for criterion in result.criteria:
        mark = MARKS.get(criterion.status, criterion.status)
        lines.append(f"{mark:<{MARGIN}}{criterion.id:<32} {bar(criterion.utilization)}".rstrip())
    return [*lines, "", *wrap(result.notice)]


def caution_lines(*results: Stamped) -> list[str]:
    """Return the cautions of several results, each once."""
    cautions = {caution.id: caution.text for result in results for caution in result.cautions}
    if not cautions:
        return []
    return ["", "Cautions", "-" * WIDTH, *(line for text in cautions.values() for line in wrap(text, 2, "- "))]


_PARTS: Final = (
    ("check", "Envelope"), ("gland", "Gland"), ("thermal_fit", "Thermal fit"), ("friction", "Friction"), ("wear", "Wear"),
    ("blank", "Blank"),
)  # fmt: skip


def enquiry_lines(result: m.EnquiryResult | m.EnquiryVerdict) -> list[str]:
    """Return the answer to an enquiry on one screen: verdict, a line of each answer, what the hardware needs."""
    lines = heading("Enquiry", result.verdict, result.summary)
    if isinstance(result, m.EnquiryVerdict):
        return [*lines, "", *wrap(result.notice)]
    lines.append("")
    for name, label in _PARTS:
        if (part := getattr(result, name)) is not None:
            mark = MARKS.get(part.verdict, part.verdict)
            lines += wrap(part.summary, MARGIN + 13, f"{mark:<{MARGIN}}{label:<13}")
    for unanswered in result.unanswered:
        label = unanswered.part.replace("_", " ").capitalize()
        lines += wrap(f"not answered: {unanswered.detail}", MARGIN + 13, f"{'?':<{MARGIN}}{label:<13}")
    if result.requirements:
        lines += ["", "To stand on the drawing of the hardware", "-" * WIDTH]
        lines += [line for item in result.requirements for line in wrap(item.text, 2, "- ")]
    if result.cautions:
        lines += ["", "Cautions", "-" * WIDTH]
        lines += [line for item in result.cautions for line in wrap(item.text, 2, "- ")]
    stamp = result.stamp
    rules = f"rules {stamp.rule_set.name} {stamp.rule_set.version} as of {stamp.rule_set.as_of}"
    return [*lines, "", *wrap(f"{rules}, fingerprint {stamp.fingerprint[:12]}...", 10, "Stamp:")]
