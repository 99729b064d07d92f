"""Who answers for a rule set: approval, version and age of its estimates, and what differs from another set.

A set that extends others stands on several: each that does not come with the service is looked at by itself, by what it states of
its own. So a change of a parent asks for a version of the parent, not of every set on it.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Literal, NamedTuple, TypeAlias

from glandwise.contract.governance import RuleSetReviewRequest
from glandwise.engine import Engine
from glandwise.patience import rest
from glandwise.questions.report import general_cautions
from glandwise.review.comparison import (
    candidate_tree,
    check_day,
    counted,
    named_tree,
    pair,
    rules_stamp,
    written_changes,
)
from glandwise.rules import compare
from glandwise.rules.loader import RuleTree, comes_with_the_service, today
from glandwise.rules.overlay import Tree, is_sourced, newest
from glandwise.rules.values import EVIDENCE_ORDER

Step: TypeAlias = Literal["none", "patch", "minor", "major"]
STEPS: tuple[Step, ...] = ("none", "patch", "minor", "major")
"""Parts of a version by what a change asks for, smallest first."""
NAMED = frozenset({"compounds", "fluids", "alloys", "elastomers", "shaft_materials"})
"""Tables whose entries requests name: without one of them a request that was answered is refused."""
ESTIMATE = "house_estimate"
_VERSION = re.compile(r"\d{1,9}(\.\d{1,9}){0,2}")


# ------------------------------------------------------------------------------------------------------------- versions


def numbers_of(version: str) -> tuple[int, int, int] | None:
    """Return a version as three numbers, those left out as zero; ``None`` where it is no numbers by dots."""
    if not _VERSION.fullmatch(version):
        return None
    parts = [*map(int, version.split(".")), 0, 0]
    return parts[0], parts[1], parts[2]


def raised(before: str, after: str) -> Step | Literal["lowered"] | None:
    """Return which part of a version was raised; ``None`` where the versions differ and are no numbers by dots."""
    if before == after:
        return "none"
    a, b = numbers_of(before), numbers_of(after)
    if a is None or b is None:
        return None
    if b < a:
        return "lowered"
    return "major" if b[0] > a[0] else "minor" if b[1] > a[1] else "patch" if b > a else "none"


class Stated(NamedTuple):
    """What a set of a chain states of its own, and by which head."""

    name: str
    header: Mapping[str, Any]
    tree: Tree
    built_in: bool


def stated_by(tree: RuleTree, whole: bool) -> list[Stated]:
    """Return what each set of a chain states, the uppermost first; of the uppermost its whole content, where ``whole`` says so."""
    layers, found = tree.layers, []
    if whole or not layers:
        found = [Stated(tree.name, tree.tree["rule_set"], tree.tree, False)]
        layers = layers[2:] if is_patched(tree) else layers[1:]
    for layer in layers:
        header = layer.tree["rule_set"]
        found.append(Stated(str(header["name"]), header, layer.tree, comes_with_the_service(layer)))
    return found


def is_patched(tree: RuleTree) -> bool:
    """Tell a set over which a patch is laid: a whole one on top of others says which it extends."""
    return len(tree.layers) > 1 and tree.layers[0].tree.get("rule_set", {}).get("extends") is None


@dataclass(frozen=True)
class Version:
    """A set of a chain: its version before and after, and what its change asks for."""

    name: str
    before: str | None
    """``None`` for a set that was not there."""
    after: str
    changes: int
    """Values of its own that differ."""
    needs: Step
    raised: Step | Literal["lowered"] | None
    approved: Mapping[str, Any] | None

    @property
    def in_step(self) -> bool:
        """Whether the version was raised as far as the change asks."""
        if self.before is None:
            return True
        if self.raised == "lowered":
            return False
        return self.raised is None or STEPS.index(self.raised) >= STEPS.index(self.needs)

    def unapproved(self, day: date) -> str | None:
        """Say why the version is not approved on a day; ``None`` where it is."""
        if self.approved is None:
            return "nobody is named in approved_by"
        if self.approved["version"] != self.after:
            return f"the approval is of version {self.approved['version']}"
        if self.approved["on"] > day:
            return f"the approval is dated ahead, {self.approved['on']}"
        return None

    def fault(self) -> str | None:
        """Say what is wrong with the version; ``None`` where nothing is."""
        if self.in_step:
            return None
        if self.raised == "lowered":
            return f"version {self.before} is followed by {self.after}, which is lower"
        what = f"{counted(self.changes, 'value')} changed" if self.changes else "what it extends or leaves out changed"
        if self.raised == "none":
            return f"{what}, which asks for a new {self.needs} version, and it is still {self.after}"
        return f"{what}, which asks for a new {self.needs} version; {self.before} -> {self.after} is a new {self.raised} one"


def versions(base: RuleTree, candidate: RuleTree) -> list[Version]:
    """Return the sets of a candidate that did not come with the service, with what each of them changed."""
    whole = is_patched(candidate)  # a patch belongs to the set that it is laid over
    before = {stated.name: stated for stated in stated_by(base, whole)}
    found: list[Version] = []
    for own in stated_by(candidate, whole):
        if own.built_in:
            continue
        held = before.get(own.name)
        version, approved = str(own.header["version"]), own.header.get("approved_by")
        if held is None:
            found.append(Version(own.name, None, version, 0, "none", "none", approved))
            continue
        changes = compare.diff(held.tree, own.tree)
        was = str(held.header["version"])
        needs = _needs(changes, held.header, own.header, base, candidate)
        found.append(Version(own.name, was, version, len(changes), needs, raised(was, version), approved))
    return found


def _needs(
    changes: Sequence[compare.Change],
    before: Mapping[str, Any],
    after: Mapping[str, Any],
    base: RuleTree,
    candidate: RuleTree,
) -> Step:
    """Return which part of a version a change of what a set states asks for."""
    gone = {
        (table, name)
        for table in NAMED
        for name in base.tree.get(table, {})
        if name not in candidate.tree.get(table, {})
    }
    mine = {tuple(change.path[:2]) for change in changes if change.kind == "removed"}
    mine |= {tuple(str(key).split(".")[:2]) for key in set(after.get("remove", [])) - set(before.get("remove", []))}
    if gone & mine or before.get("extends") != after.get("extends"):
        return "major"
    if (after.get("valid_from") or date.min) > (before.get("valid_from") or date.min):
        return "major"
    if any(change.affects_results for change in changes):
        return "minor"
    if before.get("remove", []) != after.get("remove", []) or before.get("valid_from") != after.get("valid_from"):
        return "minor"
    return "patch" if changes else "none"


# --------------------------------------------------------------------------------------------------------------- estimates


class Due(NamedTuple):
    """A value that is to be looked at again by a day."""

    key: str
    of: str
    """Set that states it."""
    value: Mapping[str, Any]
    by: date
    stated: bool
    """Whether the day stands beside the value; else it follows from its age."""


def due(tree: RuleTree, day: date, age: int | None, built_in: bool) -> list[Due]:
    """Return the values in force on a day that are to be looked at again by some day, the earliest first.

    That is the ``review_by`` of a value; of an estimate of the house that has none, ``age`` days from its ``valid_from``.
    Values of sets that come with the service are told if ``built_in``, and a band only by its own ``review_by``.
    """
    names = [str(layer.tree.get("rule_set", {}).get("name", tree.name)) for layer in tree.layers]
    found: list[Due] = []
    for path, value in _values(compare.as_of(tree, max(day, tree.valid_from)), ()):
        by = value.get("review_by")
        of_age = age is not None and value["evidence"] == ESTIMATE and path[0] != "bands"  # on a band no answer rests
        if by is None and not of_age:
            continue
        place = next(at for at, layer in enumerate(tree.layers) if _states(layer.tree, path, value))
        if comes_with_the_service(tree.layers[place]) and not built_in:
            continue
        last = by if by is not None else value["valid_from"] + timedelta(days=age or 0)
        found.append(Due(".".join(path), names[place], value, last, by is not None))
    return sorted(found, key=lambda item: (item.by, item.key))


def _values(content: Any, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Mapping[str, Any]]]:
    if isinstance(content, dict):
        if is_sourced(content):
            yield path, content
        for name, inner in content.items():
            yield from _values(inner, (*path, str(name)))


def _states(tree: Any, path: tuple[str, ...], value: Mapping[str, Any]) -> bool:
    """Tell whether a set states a value of this date."""
    for part in path:
        tree = newest(tree)
        if not isinstance(tree, dict) or part not in tree:
            return False
        tree = tree[part]
    entries = tree if isinstance(tree, list) else [tree]
    return any(isinstance(item, dict) and item.get("valid_from") == value.get("valid_from") for item in entries)


# ------------------------------------------------------------------------------------------------------------ the answer


def _rests_on(tree: Tree) -> Counter[tuple[str, str]]:
    """Return how many values rest on each level of evidence and source; a band is no value."""
    stated = {file: content for file, content in tree.items() if file not in ("bands", "rule_set", "sources")}
    return Counter((value["evidence"], value["source"]) for _, value in _values(stated, ()))


def _by(counts: Mapping[tuple[str, str], int], place: int) -> Counter[str]:
    """Return counts by the level of evidence (0) or by the source (1) alone."""
    found: Counter[str] = Counter()
    for key, count in counts.items():
        found[key[place]] += count
    return found


def _sources(before: Tree, after: Tree, resting: Sequence[Counter[str]]) -> list[dict[str, Any]]:
    """Write the sources on which another number of values rests, or that are told otherwise."""
    texts = [tree.get("sources", {}) for tree in (before, after)]
    found = []
    for name in sorted({*texts[0], *texts[1]}):
        one, two = (text.get(name) for text in texts)
        if one == two and resting[0][name] == resting[1][name]:
            continue
        shown = two or one
        found.append(
            {
                "id": name,
                "text": shown["text"],
                "standard": shown.get("standard"),
                "read": shown["read"],
                "kind": "added" if one is None else "removed" if two is None else "changed" if one != two else "same",
                "values_before": resting[0][name],
                "values_after": resting[1][name],
            }
        )
    return found


def _moves(changes: Sequence[compare.Change]) -> tuple[int, int]:
    """Return how many changed values rest on stronger evidence than before, and how many on weaker."""
    steps = [
        EVIDENCE_ORDER.index(change.evidence) - EVIDENCE_ORDER.index(change.evidence_before)
        for change in changes
        if change.kind == "changed" and None not in (change.evidence, change.evidence_before)
    ]
    return sum(step < 0 for step in steps), sum(step > 0 for step in steps)


def reviewed(
    base: RuleTree, candidate: RuleTree, since: date, *, age: int | None = None, within: int = 0, built_in: bool = False,
    pinned: tuple[date, date] | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Write who answers for a candidate on a day, and what differs from the base from that day on."""
    rest()
    sets = pair(base, candidate, since, pinned)
    rest()
    known = versions(base, candidate)
    rest()
    items = due(candidate, since, age, built_in)
    overdue = [item for item in items if item.by < since]
    soon = [item for item in items if since <= item.by <= since + timedelta(days=within)]
    changes = list({item.change.key: item.change for item in sets.changes}.values())
    stronger, weaker = _moves(changes)
    unapproved = [one for one in known if one.unapproved(since)]
    behind = [one for one in known if not one.in_step]
    before, after = (compare.as_of(tree, max(since, tree.valid_from)) for tree in (base, candidate))
    rests = _rests_on(before), _rests_on(after)
    counts = [_by(one, 0) for one in rests]
    parts = [
        counted(len(sets.changes), "changed value"),
        f"{stronger} on stronger and {weaker} on weaker evidence",
        f"{counted(len(unapproved), 'set')} not approved",
        f"{counted(len(behind), 'version')} not raised",
        f"{counted(len(overdue), 'review')} overdue",
    ]
    return {
        "verdict": "caution" if unapproved or behind or overdue or weaker else "pass",
        "summary": f"{', '.join(parts)}.",
        "base": rules_stamp(sets.base),
        "candidate": rules_stamp(sets.candidate),
        "from_date": since.isoformat(),
        "changes": written_changes(sets.changes, {}),
        "stronger": stronger,
        "weaker": weaker,
        "by_evidence": {level: {"before": counts[0][level], "after": counts[1][level]} for level in EVIDENCE_ORDER},
        "sources": _sources(before, after, [_by(one, 1) for one in rests]),
        "sets": [_written(one, since) for one in known],
        "reviews": [_due(item, since) for item in (*overdue, *soon)],
        "overdue": len(overdue),
    }


def _written(one: Version, day: date) -> dict[str, Any]:
    approved = one.approved
    return {
        "name": one.name,
        "version_before": one.before,
        "version": one.after,
        "changes": one.changes,
        "needs": one.needs,
        "raised": one.raised or "other",
        "version_fault": one.fault(),
        "approved_by": None
        if approved is None
        else {"who": approved["who"], "on": approved["on"].isoformat(), "version": approved["version"]},
        "approval_fault": one.unapproved(day),
    }


def _due(item: Due, day: date) -> dict[str, Any]:
    value = item.value
    return {
        "key": item.key,
        "rule_set": item.of,
        "value": value.get("value"),
        "unit": value.get("unit", value.get("y_unit")),
        "evidence": value["evidence"],
        "source": value["source"],
        "valid_from": value["valid_from"].isoformat(),
        "review_by": item.by.isoformat(),
        "stated": item.stated,
        "overdue": item.by < day,
        "days": (item.by - day).days,
    }


def review_set(request: RuleSetReviewRequest, engine: Engine) -> dict[str, Any]:
    """Answer a review of a rule set."""
    check_day(request.from_date, ("from_date",))
    base = named_tree(engine, request.base.name, request.base.as_of, ("base",))
    candidate, other_day = base, request.base.as_of
    if request.candidate is not None:
        candidate, other_day = candidate_tree(engine, base, request.candidate)
    since = request.from_date or today()
    days = (request.base.as_of or other_day, other_day or request.base.as_of)
    pinned = None if days[0] is None or days[1] is None else (days[0], days[1])
    found = reviewed(
        base, candidate, since, age=request.house_estimate_days, within=request.within_days, built_in=request.built_in,
        pinned=pinned,
    )  # fmt: skip
    asked = request.model_copy(update={"from_date": since})  # the day that is looked at belongs to the question
    rules = candidate.at(max(since, candidate.valid_from))
    return {
        **found,
        "stamp": engine.stamp("review_rule_set", asked, rules),
        "cautions": general_cautions(rules.data),
    }
