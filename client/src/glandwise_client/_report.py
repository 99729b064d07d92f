"""Reports of a comparison or an audit of rule sets: text, Markdown, JUnit XML."""

from __future__ import annotations

import heapq
import json
import re
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final, Self

from junitparser import Error, Failure, JUnitXml, Skipped, TestCase, TestSuite

OUTCOMES: Final = ("same", "shifted", "better", "worse", "refused")
WORST: Final = 20
CHANGES: Final = 50
_RANK: Final = {"pass": 0, "not_evaluated": 1, "caution": 2, "fail": 3, "refused": 4}
_BESIDE: Final = {"note", "source", "evidence", "valid_from"}
_UNPRINTABLE: Final = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")

Row = Mapping[str, Any]


def shown(value: Any) -> str:
    """Write a value in a line: number and unit of a sourced one, else as JSON, cut where it is long."""
    if value is None:
        return "-"
    if isinstance(value, list) and value and all(isinstance(item, dict) and "valid_from" in item for item in value):
        value = value[-1]  # a history: its newest entry
    if isinstance(value, dict):
        value = {key: item for key, item in value.items() if key not in _BESIDE}
        if set(value) == {"value", "unit"}:
            number = value["value"]
            text = f"{number:g}" if isinstance(number, (int, float)) and not isinstance(number, bool) else str(number)
            return text if value["unit"] == "1" else f"{text} {value['unit']}"
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 90 else f"{text[:87]}..."


def newly_refused(row: Row) -> bool:
    """Tell a case that only the base could judge."""
    return bool(row["verdict_after"] == "refused" and row["verdict_before"] != "refused")


def _badness(row: Row) -> tuple[int, float]:
    step = _RANK.get(row["verdict_after"], 0) - _RANK.get(row["verdict_before"], 0)
    lost = [-item["margin_shift"] for item in row["criteria"] if item["margin_shift"] is not None]
    return step, max(lost, default=0.0)


def say(row: Row) -> str:
    """Say in one line what happened to a case."""
    if row["fault"]:
        return str(row["fault"])
    parts = []
    for item in row["criteria"]:
        text = item["id"].replace("_", " ")
        if item["status_before"] != item["status_after"]:
            text += f" {item['status_before']} -> {item['status_after']}"
        if item["utilization_before"] is not None and item["utilization_after"] is not None:
            text += (
                f" ({100 * item['utilization_before']:.3g} % -> {100 * item['utilization_after']:.3g} % of its limit)"
            )
        if item["as_of"] != row["as_of"]:
            text += f" on {item['as_of']}"
        if item["caused_by"]:
            text += f" by {', '.join(item['caused_by'])}"
        parts.append(text)
    return "; ".join(parts)


def turned(row: Row) -> str:
    """Say how the verdict of a case turns, and on which date."""
    return f"{row['verdict_before']} -> {row['verdict_after']} on {row['as_of']}"


class Cases:
    """Takes the cases that differ as they come, and holds no more of them than it shows."""

    def __init__(self, junit: Path | None = None) -> None:
        self.worst: list[Row] = []
        self.newly_refused = 0
        self.first_fault: str | None = None
        self._counts = dict.fromkeys(("tests", "failures", "errors", "skipped"), 0)
        self._junit = junit
        self._parts: Any = tempfile.TemporaryFile() if junit is not None else None  # noqa: SIM115 - closed on leaving

    def add(self, rows: Sequence[Row]) -> None:
        """Take some cases."""
        for row in rows:
            self.newly_refused += newly_refused(row)
            if row["fault"] and self.first_fault is None:
                self.first_fault = f"{row['case_id']}: {row['fault']}"
            if self._parts is not None:
                self._parts.write(self._testcase(row).tostring() + b"\n")
        bad = [row for row in rows if row["outcome"] == "worse" or newly_refused(row)]
        self.worst = heapq.nlargest(WORST, [*self.worst, *bad], key=_badness)

    def _testcase(self, row: Row) -> TestCase:
        verdicts = turned(row)
        case = TestCase(clean(row["case_id"]), "glandwise.rules.compare")
        self._counts["tests"] += 1
        if row["outcome"] == "worse":
            self._counts["failures"] += 1
            case.result = [_result(Failure, "worse", verdicts, say(row))]
        elif newly_refused(row):
            self._counts["errors"] += 1
            case.result = [_result(Error, "refused", verdicts, say(row))]
        elif row["outcome"] == "refused":
            self._counts["skipped"] += 1
            case.result = [Skipped(clean(say(row)))]
        else:
            case.system_out = clean(f"{row['outcome']}: {verdicts}; {say(row)}")
        return case

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._parts is not None:
            self._parts.close()

    def write(self) -> None:
        """Write the JUnit file, if there is to be one."""
        if self._junit is None:
            return
        suite, suites = TestSuite("rules compare"), JUnitXml()
        for name, count in self._counts.items():
            setattr(suite, name, count)
            setattr(suites, name, count)
        place = TestCase(_PLACE)
        suite.append(place)
        suites.append(suite)
        before, _, after = suites.tostring().partition(place.tostring())
        self._parts.seek(0)
        with self._junit.open("wb") as file:
            file.write(_DECLARATION + before + b"\n")
            shutil.copyfileobj(self._parts, file)
            file.write(after + b"\n")


_PLACE: Final = "cases"
"""Stands in the report for the cases, which are copied from a file: there may be more than memory holds."""
_DECLARATION: Final = b'<?xml version="1.0" encoding="utf-8"?>\n'


def _result(form: type[Failure | Error], kind: str, message: str, text: str) -> Failure | Error:
    found = form(clean(message), kind)
    found.text = clean(text)
    return found


def clean(text: str) -> str:
    """Return a text with what XML cannot hold replaced."""
    return _UNPRINTABLE.sub("?", str(text))


# Comparison ---------------------------------------------------------------------------------------------------------


def merge(total: dict[str, Any], part: Mapping[str, Any]) -> None:
    """Add the counts of one answer to those of the others."""
    for name in OUTCOMES:
        total["counts"][name] = total["counts"].get(name, 0) + part["counts"][name]
    for table in ("by_criterion", "by_family", "by_compound"):
        for key, counts in part[table].items():
            held = total[table].setdefault(key, dict.fromkeys(OUTCOMES, 0))
            for name in OUTCOMES:
                held[name] += counts[name]
        total[table] = dict(sorted(total[table].items()))
    known = {(change["key"], change["as_of"]): change for change in total["changes"]}
    for change in part["changes"]:
        if (one := known.get((change["key"], change["as_of"]))) is not None:
            one["cases"] += change["cases"]
            one["exercised"] |= change["exercised"]
        else:
            total["changes"].append(dict(change))


UNREAD: Final = "no criterion of a judged case hangs on the value, so that no case differs says nothing about it"
SAME_VERSION: Final = "The content of the set is another, though its name and version are the same."


def what_changed(change: Mapping[str, Any]) -> str:
    """Say what changed of a value; where the number stays, which of its fields do."""
    before, after = shown(change["before"]), shown(change["after"])
    if before == after and change["fields"]:
        return f"{before}, with other {', '.join(change['fields'])}"
    return f"{before} -> {after}"


def _since(change: Mapping[str, Any], report: Mapping[str, Any]) -> str:
    if change["as_of"] is None:
        return " (in the past only)"
    return f" (on {change['as_of']})" if len(report["dates"]) > 1 else ""


def comparison_text(report: Mapping[str, Any]) -> str:
    """Return a comparison for the terminal."""
    lines = [f"{_name(report['base'])} -> {_name(report['candidate'])}", report["summary"], ""]
    changes = _by_cases(report["changes"])
    lines += [
        f"  {change['cases']:>7} {change['key']}: {what_changed(change)}{_since(change, report)}"
        for change in changes[:WORST]
    ]
    if len(changes) > WORST:
        lines.append(f"          and {len(changes) - WORST} more changed values")
    if unread := [change for change in changes if not change["exercised"]]:
        lines += ["", f"  Not exercised ({UNREAD}):"]
        lines += [
            f"          {change['key']}: {what_changed(change)}{_since(change, report)}" for change in unread[:WORST]
        ]
        if len(unread) > WORST:
            lines.append(f"          and {len(unread) - WORST} more")
    if report["same_version"]:
        lines += ["", f"  {SAME_VERSION}"]
    lines += ["", f"  {'criterion':<28}" + "".join(f"{name:>9}" for name in OUTCOMES)]
    for key, counts in report["by_criterion"].items():
        if any(counts[name] for name in OUTCOMES[1:-1]):
            lines.append(f"  {key:<28}" + "".join(f"{counts[name]:>9}" for name in OUTCOMES))
    if report["worst"]:
        lines += ["", "Worst"]
        lines += [f"  {row['case_id']}: {turned(row)}: {say(row)}" for row in report["worst"]]
    return "\n".join([*lines, "", _gate(report), ""])


def _gate(report: Mapping[str, Any]) -> str:
    gate = report["gate"]
    return f"Gate ({gate['fail_on']}): {'tripped' if gate['tripped'] else 'passed'}{gate['reason'] and ', ' + gate['reason']}."


def _name(stamp: Mapping[str, Any]) -> str:
    return f"{stamp['name']} {stamp['version']} as of {stamp['as_of']} ({stamp['digest'][:12]})"


def _by_cases(changes: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    return sorted(changes, key=lambda change: (-change["cases"], change["key"]))


def _cell(text: Any) -> str:
    return " ".join(str(text).split()).replace("\\", "\\\\").replace("|", "\\|").replace("<", "&lt;")


def _table(heads: Sequence[str], rows: Iterable[Sequence[Any]]) -> Iterator[str]:
    yield f"| {' | '.join(heads)} |"
    yield f"|{'|'.join('---' for _ in heads)}|"
    for row in rows:
        yield f"| {' | '.join(_cell(cell) for cell in row)} |"
    yield ""


def comparison_markdown(report: Mapping[str, Any]) -> str:
    """Return a comparison as a Markdown summary."""
    counts = report["counts"]
    sets = f"{_name(report['base'])} → {_name(report['candidate'])}"
    lines = ["# Change of design rules", "", sets, "", f"**{_gate(report)}** {report['summary']}", ""]
    lines += _table([*OUTCOMES, "no longer judged"], [[*(counts[name] for name in OUTCOMES), report["newly_refused"]]])
    changes = _by_cases(report["changes"])
    lines += ["## Changed values", ""]
    lines += _table(
        ["key", "before", "after", "from", "evidence", "cases"],
        [
            [
                c["key"],
                shown(c["before"]),
                what_changed(c) if shown(c["before"]) == shown(c["after"]) else shown(c["after"]),
                c["as_of"] or "the past only",
                c["evidence"] or "-",
                c["cases"] if c["exercised"] else "not exercised",
            ]
            for c in changes[:CHANGES]
        ],
    )
    if len(changes) > CHANGES:
        lines += [f"and {len(changes) - CHANGES} more.", ""]
    lines += [f"Cases: those of which the value by itself changed a criterion. Not exercised: {UNREAD}.", ""]
    if report["same_version"]:
        lines += [SAME_VERSION, ""]
    lines += [f"Dates looked at: {', '.join(report['dates'])}.", ""]
    for title, field in (("criterion", "by_criterion"), ("family", "by_family"), ("compound", "by_compound")):
        rows = [
            [key, *(held[name] for name in OUTCOMES)]
            for key, held in report[field].items()
            if field != "by_criterion" or any(held[name] for name in OUTCOMES[1:-1])
        ]
        lines += [f"## By {title}", "", *_table([title, *OUTCOMES], rows)]
        if field == "by_criterion":
            lines += ["Criteria that are not listed stay the same in every case.", ""]
    if report["worst"]:
        bad = counts["worse"] + report["newly_refused"]
        lines += ["## Worst cases", ""]
        lines += _table(
            ["case", "before", "after", "on", "what"],
            [[r["case_id"], r["verdict_before"], r["verdict_after"], r["as_of"], say(r)] for r in report["worst"]],
        )
        if bad > len(report["worst"]):
            lines += [f"and {bad - len(report['worst'])} more.", ""]
    return "\n".join(lines)


# Audit --------------------------------------------------------------------------------------------------------------


def _example(item: Mapping[str, Any]) -> list[str]:
    lines = [item["text"]]
    if item["keys"]:
        lines.append(f"rule values: {', '.join(item['keys'])}")
    if item["case"]:
        lines.append(f"case (SI): {json.dumps(item['case'], ensure_ascii=False)}")
    if item["changed"]:
        lines.append(f"changed (SI): {json.dumps(item['changed'], ensure_ascii=False)}")
    return lines


def audit_text(report: Mapping[str, Any]) -> str:
    """Return an audit for the terminal."""
    lines = [_name(report["rule_set"]), report["summary"], ""]
    for law in report["laws"]:
        lines.append(
            f"  {'ok' if law['status'] == 'pass' else 'FAIL':<6}{law['title']} ({law['breaches']} of {law['checked']})"
        )
        for item in law["counterexamples"]:
            first, *rest = _example(item)
            lines += [f"        - {first}", *(f"          {line}" for line in rest)]
    return "\n".join([*lines, ""])


def audit_markdown(report: Mapping[str, Any]) -> str:
    """Return an audit as a Markdown summary."""
    lines = [
        "# Audit of design rules",
        "",
        _name(report["rule_set"]),
        "",
        f"**{report['verdict']}**: {report['summary']}",
        "",
    ]
    lines += _table(
        ["law", "status", "checked", "breaches"],
        [[law["title"], law["status"], law["checked"], law["breaches"]] for law in report["laws"]],
    )
    for law in report["laws"]:
        if law["counterexamples"]:
            lines += [f"## {_cell(law['title'])}", "", _cell(law["statement"]), ""]
            for item in law["counterexamples"]:
                first, *rest = _example(item)
                lines += [f"- {_cell(first)}", *(f"  - {_cell(line)}" for line in rest)]
            lines.append("")
    return "\n".join(lines)


def audit_junit(report: Mapping[str, Any]) -> bytes:
    """Return an audit as JUnit XML: one case for each law."""
    suite, suites = TestSuite("rules audit"), JUnitXml()
    for law in report["laws"]:
        case = TestCase(clean(law["id"]), "glandwise.rules.audit")
        if law["status"] == "fail":
            examples = "\n".join(line for item in law["counterexamples"] for line in _example(item))
            case.result = [_result(Failure, "law", f"{law['title']}: {law['breaches']} breaches", examples)]
        suite.add_testcase(case)
    suites.add_testsuite(suite)
    content: bytes = suites.tostring()
    return _DECLARATION + content + b"\n"
