"""The changelog of the built-in rule set: every change of data has an entry that carries the digest of the data.

``CHANGELOG.md`` holds entries, the newest first::

    ## 2026-11-25, version 2026.1

    - What: the values that changed.
    - Why: what made the change necessary, and what it rests on.
    - Criteria: identifiers of the criteria whose verdicts it can change, or all, or none.
    - Digest: SHA-256 of the rule set after the change.

``python -m glandwise.rules.changelog`` says whether the newest entry is that of the data. With ``--update`` it writes
the digest of the data into the newest entry, which must be an entry of the version in ``rule_set.toml``: so data of a
version that was given out cannot change without a new version and an entry of its own.
"""

from __future__ import annotations

import re
import sys
from datetime import date
from importlib.resources import files
from pathlib import Path
from typing import NamedTuple

from glandwise.rules.loader import BUILT_IN, RuleStore, RuleTree

FIELDS = ("What", "Why", "Criteria", "Digest")
ADVICE = (
    "the rule data differ from the newest entry of rules/CHANGELOG.md: raise the version in rule_set.toml if the last one "
    "was given out, describe the change in an entry of its own, then run: python -m glandwise.rules.changelog --update"
)
_HEADING = re.compile(r"^## (\d{4}-\d{2}-\d{2}), version (\S+)$")
_FIELD = re.compile(r"^- (What|Why|Criteria|Digest): *(.*)$")


class Entry(NamedTuple):
    """One entry of the changelog."""

    day: date
    """Date of the change."""
    version: str
    """Version of the rule set it belongs to."""
    what: str
    """Values that changed."""
    why: str
    """Why."""
    criteria: tuple[str, ...]
    """Criteria affected; ``("all",)`` or ``("none",)``."""
    digest: str
    """Digest of the rule set after the change."""


class ChangelogError(Exception):
    """A changelog that does not keep to its format: line, fault and what is accepted."""

    def __init__(self, line: int, fault: str, accepted: str) -> None:
        super().__init__(f"CHANGELOG.md:{line}: {fault}; accepted: {accepted}")


def parse(text: str, criteria: frozenset[str]) -> list[Entry]:
    """Return the entries of a changelog, the newest first; raises :class:`ChangelogError`."""
    entries: list[Entry] = []
    sections = re.split(r"^(?=## )", text, flags=re.MULTILINE)
    line = 1 + sections[0].count("\n")
    for section in sections[1:]:
        entry = _entry(section, line, criteria)
        if entries and entry.day > entries[-1].day:
            raise ChangelogError(line, "the entry is newer than the one above it", "entries in order, the newest first")
        if any(entry.digest == other.digest for other in entries):
            raise ChangelogError(line, "the digest is that of another entry", "one entry for each state of the data")
        entries.append(entry)
        line += section.count("\n")
    if not entries:
        raise ChangelogError(line, "there is no entry", "## YYYY-MM-DD, version V")
    return entries


def _entry(section: str, line: int, criteria: frozenset[str]) -> Entry:
    lines = section.splitlines()
    heading = _HEADING.match(lines[0])
    if heading is None:
        raise ChangelogError(line, f"{lines[0]!r} is not the heading of an entry", "## YYYY-MM-DD, version V")
    try:
        day = date.fromisoformat(heading[1])
    except ValueError:
        raise ChangelogError(line, f"{heading[1]} is not a date", "## YYYY-MM-DD, version V") from None
    found: dict[str, str] = {}
    last = ""
    for text in lines[1:]:
        if match := _FIELD.match(text):
            last = match[1]
            found[last] = match[2]
        elif text.startswith("  ") and last:
            found[last] = f"{found[last]} {text.strip()}"
    missing = [name for name in FIELDS if not found.get(name)]
    if missing:
        raise ChangelogError(
            line, f"the entry does not say: {', '.join(missing)}", "- What, - Why, - Criteria, - Digest"
        )
    affected = tuple(item.strip() for item in found["Criteria"].rstrip(".").split(","))
    for name in affected:
        if name not in criteria and affected not in (("all",), ("none",)):
            raise ChangelogError(
                line, f"{name!r} is not a criterion", "all, none, or of " + ", ".join(sorted(criteria))
            )
    if not re.fullmatch(r"[0-9a-f]{64}|pending", found["Digest"]):
        raise ChangelogError(line, "the digest is none", "64 hexadecimal digits, or pending until --update is run")
    return Entry(day, heading[2], found["What"], found["Why"], affected, found["Digest"])


def fault(text: str, rules: RuleTree) -> str | None:
    """Return what the changelog lacks for a rule set, ``None`` when nothing."""
    newest = parse(text, rules.criteria)[0]
    if newest.version != rules.newest().version:
        return f"{ADVICE} (the newest entry is of version {newest.version}, the data are of {rules.newest().version})"
    if newest.digest != rules.digest:
        return f"{ADVICE} (the entry has {newest.digest[:12]}, the data have {rules.digest[:12]})"
    return None


def updated(text: str, rules: RuleTree) -> str:
    """Return the changelog with the digest of the rule set in its newest entry; raises :class:`ChangelogError`."""
    newest = parse(text, rules.criteria)[0]
    version = rules.newest().version
    if newest.version != version:
        raise ChangelogError(
            1, f"the newest entry is of version {newest.version}", f"an entry of version {version} at the top"
        )
    return re.sub(r"^(- Digest: *).*$", rf"\g<1>{rules.digest}", text, count=1, flags=re.MULTILINE)


def main(arguments: list[str]) -> int:
    """Check the changelog, or with ``--update`` bring its newest entry up to date."""
    rules = RuleStore().trees[BUILT_IN]
    path = Path(str(files("glandwise.rules"))) / "CHANGELOG.md"
    text = path.read_text(encoding="utf-8")
    try:
        if arguments == ["--update"]:
            text = updated(text, rules)
            path.write_text(text, encoding="utf-8")
        lacking = fault(text, rules)
    except ChangelogError as error:
        lacking = str(error)
    sys.stdout.write(f"{lacking or 'The newest entry is that of the data.'}\n")
    return 1 if lacking else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
