"""Reports of a comparison or an audit of rule sets: text, Markdown, HTML, JUnit XML."""

from __future__ import annotations

import heapq
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final, Self

from junitparser import Error, Failure, JUnitXml, Skipped, TestCase, TestSuite

from glandwise_client import _governance as governance
from glandwise_client._pages import Heading, Part, Rows, Sentence, html, markdown
from glandwise_client._pages import cell as _cell
from glandwise_client._policy import Waivers, tripping

OUTCOMES: Final = ("same", "shifted", "better", "worse", "refused")
WORST: Final = 20
"""Cases shown on the terminal and in Markdown."""
LISTED: Final = 500
"""Cases shown on a page of HTML, and as test cases of JUnit."""
ON_A_COMMENT: Final = 8
"""Transitions, cases and values shown in a comment."""
_RANK: Final = {"pass": 0, "not_evaluated": 1, "caution": 2, "fail": 3, "refused": 4}
_BESIDE: Final = {"note", "source", "evidence", "valid_from", "review_by"}
_UNPRINTABLE: Final = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
OPERATIONS: Final = {
    "check_envelope": "envelope", "check_gland": "gland", "check_thermal_fit": "thermal fit", "estimate_friction": "friction",
    "estimate_wear": "wear life", "select_design": "selection", "estimate_blank": "blank", "answer_enquiry": "whole enquiry",
}  # fmt: skip
"""Operations in words."""

Row = Mapping[str, Any]


def shown(value: Any) -> str:
    """Write a rule value: number and unit of a sourced one, a table by its points, a record by how much it holds."""
    if value is None:
        return "-"
    value = newest(value)
    if isinstance(value, dict):
        value = {key: item for key, item in value.items() if key not in _BESIDE}
        if "value" in value and value.keys() <= {"value", "low", "high", "unit"}:
            unit = "" if value.get("unit", "1") == "1" else f" {value['unit']}"
            ends = [f"{_number(value[end])}" for end in ("low", "high") if end in value]
            return f"{_number(value['value'])}{unit}" + (f" ({' to '.join(ends)})" if ends else "")
        if {"x", "y"} <= value.keys():
            return ", ".join(f"{_number(y)} at {_number(x)}" for x, y in zip(value["x"], value["y"], strict=False))
        inside = sum(1 for _ in _leaves(value))
        return json.dumps(value, ensure_ascii=False) if inside <= _FEW else f"a record of {inside} entries"
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def newest(value: Any) -> Any:
    """Return the newest entry of a history, anything else as it is."""
    if isinstance(value, list) and value and all(isinstance(item, dict) and "valid_from" in item for item in value):
        return max(value, key=lambda item: item["valid_from"])
    return value


_FEW: Final = 6
"""Entries of a record that are written out."""


def _leaves(value: Any) -> Iterable[Any]:
    if isinstance(value, dict | list):
        for item in value.values() if isinstance(value, dict) else value:
            yield from _leaves(item)
    else:
        yield value


def _number(value: Any) -> str:
    return f"{value:g}" if isinstance(value, int | float) and not isinstance(value, bool) else str(value)


RANKS: Final = {"standard": 0, "published": 1, "own_test": 2, "common_practice": 3, "house_estimate": 4}
"""Levels of evidence, the strongest first."""


def newly_refused(row: Row) -> bool:
    """Tell a case that only the base could judge."""
    return bool(row["verdict_after"] == "refused" and row["verdict_before"] != "refused")


def _badness(row: Row) -> tuple[int, int, float]:
    steps = [_RANK.get(row["verdict_after"], 0) - _RANK.get(row["verdict_before"], 0)]
    steps += [
        _RANK.get(answer["verdict_after"], 0) - _RANK.get(answer["verdict_before"], 0) for answer in row["answers"]
    ]
    lost = [-item["margin_shift"] for item in row["criteria"] if item["margin_shift"] is not None]
    return len(row["trips"]), max(steps), max(lost, default=0.0)


def due_to(item: Row) -> str:
    """Say which changes an effect is due to."""
    alone, undone = item["alone"], item["caused_by"]
    if alone:
        return f"by {' and, likewise alone, by '.join(alone)}"
    if item["jointly"]:
        return "only together: " + "; or ".join(" with ".join(some) for some in item["jointly"])
    return f"not without {' and not without '.join(undone)}" if undone else ""


def said(row: Row) -> list[tuple[str, str]]:
    """Say what happened to a case, and what each of it is due to."""
    found: list[tuple[str, str]] = []
    if row["fault"]:
        found.append((str(row["fault"]), due_to(row)))
    for item in sorted(row["criteria"], key=lambda item: item["outcome"] != "worse"):
        text = item["id"].replace("_", " ")
        if item["status_before"] != item["status_after"]:
            text += f" {item['status_before']} -> {item['status_after']}"
        if item["utilization_before"] is not None and item["utilization_after"] is not None:
            text += (
                f" ({100 * item['utilization_before']:.3g} % -> {100 * item['utilization_after']:.3g} % of its limit)"
            )
        if item["as_of"] != row["as_of"]:
            text += f" on {item['as_of']}"
        found.append((text, due_to(item)))
    for answer in row["answers"]:
        name = OPERATIONS[answer["operation"]]
        if answer["fault"]:
            found.append((f"{name}: {answer['fault']}", ""))
        found += [(f"{name}: {_turn(item)}", due_to(item)) for item in answer["transitions"]]
    return found


def _turn(item: Row) -> str:
    """Say one thing that changed of an answer."""
    subject = "" if item["subject"] is None else item["subject"].replace("_", " ").replace(".", " ")
    kind = item["kind"]
    if kind == "design":
        return "another design is proposed"
    if kind in ("verdict", "criterion", "evidence"):
        words = f"{item['before']} -> {item['after']}".replace("_", " ")
        lead = "evidence " if kind == "evidence" else f"{subject} " if subject else ""
        if kind == "criterion" and item["value_before"] is not None and item["value_after"] is not None:
            words += f" ({100 * item['value_before']:.3g} % -> {100 * item['value_after']:.3g} % of its limit)"
        return lead + words
    if kind == "margin":
        return f"{subject} {100 * item['value_before']:.3g} % -> {100 * item['value_after']:.3g} % of its limit"
    ends = " -> ".join("none" if item[end] is None else f"{item[end]:.4g}" for end in ("value_before", "value_after"))
    return f"{subject} {ends}{'' if item['unit'] in (None, '1') else ' ' + item['unit']}"


def say(row: Row) -> str:
    """Say in one line what happened to a case."""
    return "; ".join(f"{text} {due}".strip() for text, due in said(row))


def turned(row: Row) -> str:
    """Say how the verdict of a case turns, and on which date."""
    return f"{row['verdict_before']} -> {row['verdict_after']} on {row['as_of']}"


class Cases:
    """Takes the cases that differ as they come, and holds no more of them than it shows."""

    def __init__(self, junit: Path | None = None, fail_on: str = "worse", waivers: Waivers | None = None) -> None:
        self.worst: list[Row] = []
        self.newly_refused = 0
        self.first_fault: str | None = None
        self.fail_on, self.waivers = fail_on, waivers
        self.tripped, self.lost, self.waived = 0, 0, 0
        """Cases that trip the gate: such as can be judged, such as cannot any more, and such as a waiver lets through."""
        self.neither = 0
        """Cases that neither set can judge."""
        self._junit = junit

    def add(self, rows: Sequence[Row]) -> None:
        """Take some cases."""
        bad: list[Row] = []
        for row in rows:
            lost = newly_refused(row)
            self.newly_refused += lost
            if row["fault"] and self.first_fault is None:
                self.first_fault = f"{row['case_id']}: {row['fault']}"
            self.neither += row["verdict_before"] == row["verdict_after"] == "refused"
            trips = self.fail_on in row["trips"]
            waived = trips and self.waivers is not None and self.waivers.cover(row, self.fail_on)
            if trips:
                self.waived += waived
                self.lost += lost and not waived
                self.tripped += not lost and not waived
            if row["trips"] or row["outcome"] == "worse":
                bad.append({**row, "waived": waived})
        self.worst = heapq.nlargest(LISTED, [*self.worst, *bad], key=_badness)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def write(self, report: Mapping[str, Any]) -> None:
        """Write the JUnit file, if there is to be one: the cases that trip the gate, and none that do not."""
        if self._junit is None:
            return
        suite = TestSuite("rules compare")
        suite.add_property("gate", _gate(report))
        suite.add_property("summary", clean(report["summary"]))
        if self.fail_on in ("verdict", "design", "worse"):
            for row in self.worst:
                if self.fail_on in row["trips"]:
                    suite.add_testcase(_testcase(row, self.fail_on))
            if (more := self.tripped + self.lost + self.waived - len(list(suite))) > 0:
                case = _case("further cases")
                case.result = [_result(Failure, "worse", f"{more} more cases trip the gate", f"{more} more, see --out")]
                suite.add_testcase(case)
            for key in report["weaker"] if self.fail_on == "worse" else ():
                case = _case(clean(key))
                case.result = [_result(Failure, "evidence", "on weaker evidence", f"{key} rests on weaker evidence")]
                suite.add_testcase(case)
        elif report["gate"]["tripped"]:
            case = _case(f"gate {self.fail_on}")
            case.result = [_result(Failure, self.fail_on, report["gate"]["reason"], report["summary"])]
            suite.add_testcase(case)
        _govern(suite, report["governance"], self.fail_on != "none")
        self._junit.write_bytes(_written(suite))


def _govern(suite: TestSuite, told: Mapping[str, Any] | None, trips: bool) -> None:
    """Tell who answers for the rules, as properties, and what trips the gate of it, as test cases."""
    for one in told["sets"] if told else ():
        suite.add_property(clean(f"approval of {one['name']} {one['version']}"), clean(governance.approval(one)))
    broken = [item for item in told["faults"] if item["level"] == "fail"] if told and trips else []
    for item in broken[:LISTED]:
        case = _case(clean(f"{item['check']} {item['subject']}"))
        case.result = [_result(Failure, item["check"], item["said"], item["said"])]
        suite.add_testcase(case)
    if len(broken) > LISTED:
        case = _case("further values")
        case.result = [_result(Failure, "review", "more of them", f"{len(broken) - LISTED} more")]
        suite.add_testcase(case)


def _testcase(row: Row, gate: str) -> TestCase:
    case = _case(clean(row["case_id"]))
    if row["waived"]:
        case.result = [Skipped(clean(f"waived; {say(row)}"))]
    elif newly_refused(row):
        case.result = [_result(Error, "refused", turned(row), say(row))]
    else:
        case.result = [_result(Failure, gate, turned(row), say(row))]
    return case


def _case(name: str, of: str = "glandwise.rules.compare") -> TestCase:
    return TestCase(name, of, 0.0)


def _written(suite: TestSuite) -> bytes:
    """Write a suite with all that readers of JUnit files ask for."""
    suite.timestamp = datetime.now(tz=UTC).strftime("%Y-%m-%dT%H:%M:%S")
    suite.hostname = "localhost"
    suite.update_statistics()
    # what the library has no name for, and readers that hold to the schema miss
    element = suite._elem
    element.set("id", "0")
    element.set("package", "glandwise")
    for name in ("system-out", "system-err"):
        element.append(element.makeelement(name, {}))
    suites = JUnitXml()
    suites.append(suite)
    for name in ("tests", "failures", "errors", "skipped"):
        setattr(suites, name, getattr(suite, name))
    content: bytes = suites.tostring()
    return _DECLARATION + content + b"\n"


_DECLARATION: Final = b'<?xml version="1.0" encoding="utf-8"?>\n'


def _result(form: type[Failure | Error], kind: str, message: str, text: str) -> Failure | Error:
    found = form(clean(message), kind)
    found.text = clean(text)
    return found


def clean(text: str) -> str:
    """Return a text with what XML cannot hold replaced."""
    return _UNPRINTABLE.sub("?", str(text))


# Comparison ---------------------------------------------------------------------------------------------------------

_SAME_KIND: Final = ("operation", "kind", "subject", "effect", "before", "after")


def merge(total: dict[str, Any], part: Mapping[str, Any]) -> None:
    """Add the counts of one answer to those of the others."""
    for name in OUTCOMES:
        total["counts"][name] = total["counts"].get(name, 0) + part["counts"][name]
    for gate, count in part["trips"].items():
        total["trips"][gate] = total["trips"].get(gate, 0) + count
    for table in ("by_operation", "by_criterion", "by_family", "by_compound"):
        for key, counts in part[table].items():
            held = total[table].setdefault(key, dict.fromkeys(OUTCOMES, 0))
            for name in OUTCOMES:
                held[name] += counts[name]
    for table in ("by_criterion", "by_family", "by_compound"):
        total[table] = dict(sorted(total[table].items()))
    known = {tuple(item[name] for name in _SAME_KIND): item for item in total["transitions"]}
    for item in part["transitions"]:
        if (held := known.get(tuple(item[name] for name in _SAME_KIND))) is not None:
            held["cases"] += item["cases"]
        else:
            total["transitions"].append(dict(item))
    total["transitions"].sort(key=_gravity)
    changes = {(change["key"], change["as_of"]): change for change in total["changes"]}
    for change in part["changes"]:
        if (one := changes.get((change["key"], change["as_of"]))) is not None:
            one["cases"] += change["cases"]
            one["exercised"] |= change["exercised"]
        else:
            total["changes"].append(dict(change))


_EFFECTS: Final = ("worse", "changed", "better")
_KINDS: Final = ("verdict", "design", "criterion", "life", "torque", "evidence", "margin", "quantity")


def _gravity(item: Row) -> tuple[Any, ...]:
    """Order of transitions, as the service has it: worst first."""
    order = _EFFECTS.index(item["effect"]), _KINDS.index(item["kind"]), list(OPERATIONS).index(item["operation"])
    return *order, *(item[name] or "" for name in ("subject", "effect", "before", "after")), -item["cases"]


UNREAD: Final = "no answer to a judged case hangs on the value, so that no case differs says nothing about it"
SAME_VERSION: Final = "The content of the set is another, though its name and version are the same."


def transition(item: Row, thresholds: Mapping[str, float]) -> str:
    """Say a transition in words."""
    name = OPERATIONS[item["operation"]]
    subject = "" if item["subject"] is None else f" {item['subject'].replace('_', ' ').replace('.', ' ')}"
    kind = item["kind"]
    if kind in ("verdict", "criterion", "evidence"):
        what = " evidence" if kind == "evidence" else subject
        return f"{name}{what}: {item['before']} -> {item['after']}".replace("_", " ")
    if kind == "design":
        return f"{name}: another design is proposed"
    share = thresholds[
        {"margin": "margin_loss", "life": "life_change", "torque": "torque_change"}.get(kind, "quantity_change")
    ]
    down, up = ("down", "up") if kind in ("life", "margin") else ("up", "down")
    way = {"worse": f"{down} by", "better": f"{up} by", "changed": "changed by"}[item["effect"]]
    of = " of the capacity" if kind == "margin" else ""
    what = " margin" if kind == "margin" else ""
    return f"{name}{subject}{what} {way} more than {100 * share:g} %{of}"


def what_changed(change: Mapping[str, Any]) -> str:
    """Say what changed of a value; where the number stays, which of its fields do; of a table, the points that differ."""
    before, after = change["before"], change["after"]
    if isinstance(before, dict) and isinstance(after, dict) and {"x", "y"} <= before.keys() & after.keys():
        one, two = (dict(zip(value["x"], value["y"], strict=False)) for value in (before, after))
        points = [
            f"at {_number(x)}: {_number(one.get(x, 'none'))} -> {_number(two.get(x, 'none'))}"
            for x in sorted({**one, **two})
            if one.get(x) != two.get(x)
        ]
        if points:
            return "; ".join(points)
    if shown(before) == shown(after) and change["fields"]:
        return f"{shown(before)}, with other {', '.join(change['fields'])}"
    return f"{shown(before)} -> {shown(after)}"


def _since(change: Mapping[str, Any], report: Mapping[str, Any]) -> str:
    if change["as_of"] is None:
        return " (in the past only)"
    return f" (on {change['as_of']})" if len(report["dates"]) > 1 else ""


def _judged(report: Mapping[str, Any]) -> str:
    """Say what was judged of each case."""
    names = [OPERATIONS[name] for name in report["by_operation"]]
    return f"Judged: {', '.join(names)}."


def comparison_text(report: Mapping[str, Any]) -> str:
    """Return a comparison for the terminal."""
    lines = [f"{named(report['base'])} -> {named(report['candidate'])}", report["summary"], _judged(report), ""]
    if report["transitions"]:
        lines.append("  cases")
        lines += [
            f"  {item['cases']:>7} {item['effect']:<8}{transition(item, report['thresholds'])}"
            for item in report["transitions"][:WORST]
        ]
        if len(report["transitions"]) > WORST:
            lines.append(f"          and {len(report['transitions']) - WORST} more transitions")
        lines.append("")
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
    for title, table in (("operation", "by_operation"), ("criterion", "by_criterion")):
        lines += ["", f"  {title:<28}" + "".join(f"{name:>9}" for name in OUTCOMES)]
        for key, counts in report[table].items():
            if table == "by_operation" or any(counts[name] for name in OUTCOMES[1:-1]):
                lines.append(f"  {OPERATIONS.get(key, key):<28}" + "".join(f"{counts[name]:>9}" for name in OUTCOMES))
    if report["worst"]:
        lines += ["", "Worst"]
        lines += [f"  {row['case_id']}: {turned(row)}: {say(row)}" for row in report["worst"][:WORST]]
    if report["waivers"]:
        lines += ["", "Waivers"]
        lines += [f"  {_waiver(item)}" for item in report["waivers"]]
    if report["governance"] and (told := governance.lines(report["governance"])):
        lines += ["", "Who answers for it", *(f"  {line}" for line in told)]
    return "\n".join([*lines, "", _gate(report), ""])


def _waiver(item: Row) -> str:
    """Say a waiver in a line."""
    state = (
        f"expired on {item['until']}, so it lets nothing through"
        if item["expired"]
        else f"until {item['until']}, lets {item['cases']} cases through"
        if item["cases"]
        else f"until {item['until']}, not needed"
    )
    return f"{item['subject']}: {state}. {item['approved_by']}: {item['reason']}"


def _gate(report: Mapping[str, Any]) -> str:
    gate = report["gate"]
    waived = f" ({report['waived']} waived)" if report["waived"] else ""
    return f"Gate ({gate['fail_on']}): {'tripped' if gate['tripped'] else 'passed'}{gate['reason'] and ', ' + gate['reason']}{waived}."


def named(stamp: Mapping[str, Any]) -> str:
    return f"{stamp['name']} {stamp['version']} as of {stamp['as_of']} ({stamp['digest'][:12]})"


def _by_cases(changes: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    return sorted(changes, key=lambda change: (-change["cases"], change["key"]))


def _transition_rows(report: Mapping[str, Any], most: int) -> Rows:
    items = report["transitions"][:most]
    rows = [[transition(item, report["thresholds"]), item["effect"], item["cases"]] for item in items]
    return Rows(["what changed", "effect", "cases"], rows, [item["effect"] for item in items])


def _change_rows(report: Mapping[str, Any], most: int) -> Rows:
    return Rows(
        ["key", "what", "from", "evidence", "cases"],
        [
            [c["key"], what_changed(c), c["as_of"] or "the past only", evidence_of(c),
             c["cases"] if c["exercised"] else "not exercised"]
            for c in _by_cases(report["changes"])[:most]
        ],
    )  # fmt: skip


def evidence_of(change: Row) -> str:
    before, after = ((change[name] or "-").replace("_", " ") for name in ("evidence_before", "evidence"))
    return after if before == after or change["kind"] != "changed" else f"{before} -> {after}"


def _case_rows(report: Mapping[str, Any], most: int) -> Rows:
    """Return the worst cases, a line for each thing that turned."""
    rows: list[Sequence[Any]] = []
    for row in report["worst"][:most]:
        items = _worst_first(row, report)
        for index, (text, due) in enumerate(items):
            lead = [row["case_id"], turned(row)] if not index else ["", ""]
            rows.append([*lead, text + (" (waived)" if row["waived"] and not index else ""), due or "-"])
    return Rows(["case", "envelope", "what turned", "due to"], rows)


def _worst_first(row: Row, report: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return what of a case trips a gate; all that happened to it where nothing does."""
    items = tripping(row, "worse", report["thresholds"]["margin_loss"])
    if not items or row["fault"]:
        return said(row)
    kept = {"criteria": [item for item in row["criteria"] if item in items]}
    answers = [
        {**answer, "transitions": [item for item in answer["transitions"] if item in items or item["kind"] == "design"]}
        for answer in row["answers"]
    ]
    return said({**row, **kept, "answers": answers})


def _comparison(report: Mapping[str, Any], cases: int) -> list[Part]:
    """Return a comparison as parts of a page, the transitions first."""
    counts = report["counts"]
    everything = len(report["transitions"]) + len(report["changes"])
    parts: list[Part] = [
        Heading("Change of design rules", 1),
        Sentence(f"{named(report['base'])} → {named(report['candidate'])}"),
        Sentence(report["summary"], _gate(report)),
        Sentence(_judged(report)),
        Heading("What turned"),
        _transition_rows(report, everything),
    ]
    if not report["transitions"]:
        parts.append(Sentence("No answer changed by more than the thresholds."))
    parts.append(
        Rows([*OUTCOMES, "no longer judged"], [[*(counts[name] for name in OUTCOMES), report["newly_refused"]]])
    )
    if report["worst"]:
        parts += [Heading("Worst cases"), _case_rows(report, cases)]
        bad = report["trips"]["worse"]
        if bad > len(report["worst"][:cases]):
            parts.append(Sentence(f"and {bad - len(report['worst'][:cases])} more."))
    if report["waivers"]:
        parts += [
            Heading("Waivers"),
            Rows(["what", "until", "approved by", "reason", "cases"],
                 [[w["subject"], f"{w['until']}{' (expired)' if w['expired'] else ''}", w["approved_by"], w["reason"], w["cases"]]
                  for w in report["waivers"]]),
        ]  # fmt: skip
    if report["governance"]:
        parts += governance.parts(report["governance"], cases)
    parts += [Heading("Changed values"), _change_rows(report, everything)]
    parts.append(
        Sentence(f"Cases: those of which the value, changed alone, changes an answer. Not exercised: {UNREAD}.")
    )
    if report["same_version"]:
        parts.append(Sentence(SAME_VERSION))
    parts.append(Sentence(f"Dates looked at: {', '.join(report['dates'])}."))
    for title, field in (
        ("operation", "by_operation"), ("criterion", "by_criterion"), ("family", "by_family"), ("compound", "by_compound"),
    ):  # fmt: skip
        rows = [
            [OPERATIONS.get(key, key), *(held[name] for name in OUTCOMES)]
            for key, held in report[field].items()
            if field != "by_criterion" or any(held[name] for name in OUTCOMES[1:-1])
        ]
        parts += [Heading(f"By {title}"), Rows([title, *OUTCOMES], rows)]
        if field == "by_criterion":
            parts.append(Sentence("Criteria of the envelope that are not listed stay the same in every case."))
    return parts


def comparison_markdown(report: Mapping[str, Any]) -> str:
    """Return a comparison as Markdown."""
    return markdown(_comparison(report, WORST))


def comparison_html(report: Mapping[str, Any]) -> str:
    """Return a comparison as a page of HTML."""
    return html("Change of design rules", _comparison(report, LISTED))


def comparison_comment(report: Mapping[str, Any]) -> str:
    """Return a comparison as one page of Markdown, for a comment on a pull request."""
    few = ON_A_COMMENT
    parts: list[Part] = [
        Heading("Change of design rules", 3),
        Sentence(f"{report['summary']} {_judged(report)}", _gate(report)),
        _transition_rows(report, few),
    ]
    if (more := len(report["transitions"]) - few) > 0:
        parts.append(Sentence(f"and {more} more transitions in the report."))
    parts.append(_change_rows(report, few))
    if (more := len(report["changes"]) - few) > 0:
        parts.append(Sentence(f"and {more} more changed values in the report."))
    if report["worst"]:
        parts.append(_case_rows(report, few // 2))
        if (more := report["trips"]["worse"] - few // 2) > 0:
            parts.append(Sentence(f"and {more} more cases in the report."))
    parts += [Sentence(_waiver(item), "Waiver:") for item in report["waivers"]]
    if report["governance"] and (told := governance.lines(report["governance"])):
        parts += [Sentence(line, "Rules:") for line in told[:few]]
        if len(told) > few:
            parts.append(Sentence(f"and {len(told) - few} more about the rules in the report."))
    return markdown(parts)


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
    lines = [named(report["rule_set"]), report["summary"], ""]
    for law in report["laws"]:
        lines.append(
            f"  {'ok' if law['status'] == 'pass' else 'FAIL':<6}{law['title']} ({law['breaches']} of {law['checked']})"
        )
        for item in law["counterexamples"]:
            first, *rest = _example(item)
            lines += [f"        - {first}", *(f"          {line}" for line in rest)]
    return "\n".join([*lines, ""])


def counted(number: int, noun: str) -> str:
    """Write a number with its noun."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def calibration_text(found: Mapping[str, Any]) -> str:
    """Return a calibration for the terminal."""
    lines = [found["summary"], ""]
    for value in found["values"]:
        lines.append(
            f"  {'ok' if value['replaces'] else 'stays':<6}{value['title']}, {counted(value['specimens'], 'specimen')}"
        )
        for name in ("found", "house"):
            if value[name] is not None:
                ends = f"{value[name]['low']:g} to {value[name]['high']:g}"
                lines.append(f"        {name}: {value[name]['value']:g} {value['unit']} ({ends})")
        lines += [f"        {text}" for text in (value["stays"], value["method"]) if text]
        lines += [
            f"        outlier {item['specimen']}{'' if item['line'] is None else ', line ' + str(item['line'])}: {item['reason']}"
            for item in value["outliers"]
        ]
        lines += [f"        {text}" for text in value["lack_of_fit"]]
    lines += [f"  FAIL  {fault}" for fault in found["gate"]["faults"]]
    if found["refused"]:
        lines += ["", f"  {counted(len(found['refused']), 'row')} refused:"]
        lines += [f"        line {row['line']}: {row['reason']}" for row in found["refused"][:WORST]]
    return "\n".join([*lines, ""])


def audit_markdown(report: Mapping[str, Any]) -> str:
    """Return an audit as a Markdown summary."""
    lines = [
        "# Audit of design rules",
        "",
        named(report["rule_set"]),
        "",
        f"**{report['verdict']}**: {report['summary']}",
        "",
    ]
    rows = [[law["title"], law["status"], law["checked"], law["breaches"]] for law in report["laws"]]
    lines.append(markdown([Rows(["law", "status", "checked", "breaches"], rows)]))
    for law in report["laws"]:
        if law["counterexamples"]:
            lines += [f"## {_cell(law['title'])}", "", _cell(law["statement"]), ""]
            for item in law["counterexamples"]:
                first, *rest = _example(item)
                lines += [f"- {_cell(first)}", *(f"  - {_cell(line)}" for line in rest)]
            lines.append("")
    return "\n".join(lines)


def review_junit(found: Mapping[str, Any]) -> bytes:
    """Return a review as JUnit XML: what is not as the policy demands."""
    suite = TestSuite("rules review")
    suite.add_property("summary", clean(found["summary"]))
    _govern(suite, found["governance"], trips=True)
    return _written(suite)


def audit_junit(report: Mapping[str, Any]) -> bytes:
    """Return an audit as JUnit XML: one case for each law."""
    suite = TestSuite("rules audit")
    suite.add_property("summary", clean(report["summary"]))
    for law in report["laws"]:
        case = _case(clean(law["id"]), "glandwise.rules.audit")
        if law["status"] == "fail":
            examples = "\n".join(line for item in law["counterexamples"] for line in _example(item))
            case.result = [_result(Failure, "law", f"{law['title']}: {law['breaches']} breaches", examples)]
        suite.add_testcase(case)
    return _written(suite)
