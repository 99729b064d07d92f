"""Who answers for the rules: what a policy demands of approval, versions, changelog and reviews, and how it is told."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final, Literal, NamedTuple

from glandwise_client._pages import Heading, Part, Rows, Sentence
from glandwise_client._policy import Level, Policy

Check = Literal["approval", "version", "changelog", "review"]
ALLOWED: Final = 4096 * 1024
"""Bytes of a changelog that are read."""
LISTED: Final = 20
"""Values that are named where there are more."""
Set = Mapping[str, Any]


class Fault(NamedTuple):
    """Something that a policy watches over and that is not so."""

    check: Check
    level: Level
    subject: str
    """The set, or the key of the value."""
    text: str

    @property
    def said(self) -> str:
        """The fault in a sentence without its end."""
        return f"{_LEADS[self.check]}: {self.subject}: {self.text}"


_LEADS: Final[Mapping[str, str]] = {
    "approval": "not approved", "version": "version not raised", "changelog": "no entry in the changelog",
    "review": "review overdue",
}  # fmt: skip

_ENTRY: Final = re.compile(r"^## \d{4}-\d{2}-\d{2}, version (\S+)[ \t]*$", re.MULTILINE)


def changelog_fault(folder: Path | None, version: str) -> str | None:
    """Say what the changelog of a set lacks for a version; ``None`` where nothing."""
    if folder is None:
        return "there is no folder of it here in which a CHANGELOG.md could stand"
    path = folder / "CHANGELOG.md"
    if not path.is_file():
        return f"there is no {path}"
    text = path.read_bytes()[:ALLOWED].decode("utf-8", "replace")
    entries = list(_ENTRY.finditer(text))
    if not entries:
        return f"{path} has no entry; accepted: ## 2026-11-25, version {version}"
    newest = entries[0]
    if newest[1] != version:
        return f"the newest entry of {path} is of version {newest[1]}, the set is of {version}"
    body = text[newest.end() : entries[1].start() if len(entries) > 1 else len(text)]
    missing = [name for name in ("What", "Why") if not re.search(rf"^- {name}: *\S", body, re.MULTILINE)]
    return f"the entry of version {version} in {path} does not say: {', '.join(missing)}" if missing else None


def faults(review: Mapping[str, Any], policy: Policy, folders: Mapping[str, Path]) -> list[Fault]:
    """Return what is not as a policy demands; ``folders`` are those of the sets, by name, as far as they stand here."""
    found: list[Fault] = []
    for one in review["sets"]:
        name = f"{one['name']} {one['version']}"
        if policy.require_approval and one["approval_fault"]:
            found.append(Fault("approval", "fail", name, one["approval_fault"]))
        moved = one["needs"] != "none"
        if one["version_fault"] and _asks(one, policy.versions.steps):
            found.append(Fault("version", policy.versions.version, name, one["version_fault"]))
        if moved and policy.versions.changelog != "ignore":
            lacking = changelog_fault(folders.get(one["name"]), one["version"])
            if lacking:
                found.append(Fault("changelog", policy.versions.changelog, name, lacking))
    waived = {waiver.change for waiver in policy.waivers if waiver.change and not waiver.expired}
    found += [
        Fault("review", policy.reviews.overdue, item["key"], _overdue(item))
        for item in review["reviews"]
        if item["overdue"] and item["key"] not in waived
    ]
    return [item for item in found if item.level != "ignore"]


def _asks(one: Set, steps: bool) -> bool:
    """Tell whether the version is at fault, where any new one is as good as that which the change asks for."""
    return steps or one["raised"] in ("none", "lowered")


def _overdue(item: Mapping[str, Any]) -> str:
    why = "stated beside it" if item["stated"] else f"in force since {item['valid_from']}"
    return f"{item['evidence'].replace('_', ' ')} of {item['rule_set']}, due on {item['review_by']} ({why})"


def reasons(found: Sequence[Fault]) -> list[str]:
    """Say in the words of a gate what trips it."""
    told = [item.said for item in found if item.level == "fail" and item.check != "review"]
    overdue = [item for item in found if item.level == "fail" and item.check == "review"]
    if overdue:
        count = f"{len(overdue)} reviews" if len(overdue) > 1 else "1 review"
        told.append(f"{count} overdue")
    return told


def written(review: Mapping[str, Any], found: Sequence[Fault]) -> dict[str, Any]:
    """Write what is told of it in a report."""
    return {
        "sets": review["sets"],
        "reviews": review["reviews"],
        "overdue": review["overdue"],
        "faults": [{**item._asdict(), "said": item.said} for item in found],
    }


# Told ----------------------------------------------------------------------------------------------------------------


def approval(one: Set) -> str:
    """Say who approved a set."""
    by = one["approved_by"]
    if by is None:
        return "not approved"
    told = f"approved by {by['who']} on {by['on']}"
    return f"{told}, but {one['approval_fault']}" if one["approval_fault"] else told


def version(one: Set) -> str:
    """Say the version of a set, and the one before where it is another."""
    before = one["version_before"]
    return one["version"] if before in (None, one["version"]) else f"{before} -> {one['version']}"


def lines(governance: Mapping[str, Any]) -> list[str]:
    """Return it for a terminal, or line by line."""
    told = [f"{one['name']} {version(one)}: {approval(one)}" for one in governance["sets"]]
    serious = sorted(governance["faults"], key=lambda item: item["level"] != "fail")
    told += [_marked(item) for item in serious[:LISTED]]
    if len(serious) > LISTED:
        told.append(f"and {len(serious) - LISTED} more")
    return told


def _marked(item: Mapping[str, Any]) -> str:
    return f"{'FAIL' if item['level'] == 'fail' else 'CARE'}  {item['said']}"


def parts(governance: Mapping[str, Any], most: int) -> list[Part]:
    """Return it as parts of a page."""
    found: list[Part] = []
    if governance["sets"]:
        found += [
            Heading("Who answers for it"),
            Rows(["set", "version", "approval", "values changed", "version asked for"],
                 [[one["name"], version(one), approval(one), one["changes"], one["needs"]] for one in governance["sets"]]),
        ]  # fmt: skip
    others = [item for item in governance["faults"] if item["check"] != "review"]
    if others:
        found.append(
            Rows(["what is not as it should be", "the gate"],
                 [[item["said"], "trips" if item["level"] == "fail" else "warns"] for item in others],
                 ["worse" if item["level"] == "fail" else "changed" for item in others])
        )  # fmt: skip
    due = governance["reviews"]
    if due:
        found += [
            Heading("Values to be looked at again"),
            Rows(["value", "set", "evidence", "in force since", "by", "days"],
                 [[item["key"], item["rule_set"], item["evidence"].replace("_", " "), item["valid_from"], item["review_by"],
                   item["days"]] for item in due[:most]],
                 ["worse" if item["overdue"] else "changed" for item in due[:most]]),
        ]  # fmt: skip
        if len(due) > most:
            found.append(Sentence(f"and {len(due) - most} more."))
    return found
