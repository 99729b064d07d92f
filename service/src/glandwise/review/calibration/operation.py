"""Answer a calibration: read the records, fit them, make a rule set of what they tell, and hold it to past quotes."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from typing import Any

from glandwise.contract.calibration import CalibrationRequest
from glandwise.contract.comparison import NamedRuleSet, RuleSetComparisonRequest, WholeRuleSet
from glandwise.engine import Engine, unquoted
from glandwise.patience import rest
from glandwise.questions.report import general_cautions
from glandwise.review.calibration import energizer, friction, lives, pv_steps, relaxation, wear
from glandwise.review.calibration.found import Asked, Kind, Range, Value, shown
from glandwise.review.calibration.overlay import as_json, files_of, tree_of
from glandwise.review.calibration.records import Records, read
from glandwise.review.comparison import check_day, compare_sets, counted, named_tree
from glandwise.rules import compare
from glandwise.rules.loader import RuleError, RuleTree
from glandwise.rules.overlay import Tree

KINDS: Mapping[str, Kind] = {
    "wear": wear.KIND,
    "friction": friction.KIND,
    "relaxation": relaxation.KIND,
    "energizer_load": energizer.KIND,
    "life": lives.KIND,
    "pv_steps": pv_steps.KIND,
}
"""Kinds of records, by their name in a request."""
NAMES = ("compounds", "shaft_materials", "alloys", "elastomers", "fluids")
"""Tables of the rules whose names stand in records."""


def calibrate(request: CalibrationRequest, engine: Engine) -> dict[str, Any]:
    """Answer a calibration."""
    check_day(request.closed_on, ("closed_on",))
    rules = engine.rules_of(request.rule_set, request.as_of)
    base = named_tree(engine, rules.name, None, ("rule_set",))
    kind = KINDS[request.kind]
    digest = hashlib.sha256(request.records.encode()).hexdigest()
    source = f"own-test-{request.kind.replace('_', '-')}-{request.closed_on}-{digest[:8]}"
    beliefs = rules.data.calibration if request.method == "bayes" else None
    asked = Asked(request.confidence, request.closed_on, source, beliefs)
    records = read(request.records, kind.columns(), {name: getattr(rules.data, name) for name in NAMES})
    rest()
    values = kind.fit(records, rules.data, asked)
    rest()
    specimens = len({row.texts.get("specimen") for row in records.taken()})
    cited = {
        "text": _text(request, kind, specimens), "read": "read",
        "records": {"rig": request.rig, "closed_on": request.closed_on, "specimens": specimens, "sha256": digest},
    }  # fmt: skip
    tree = tree_of(values, rules, request.name, request.closed_on, source, cited, kind.title)
    faults = [] if tree is None else _faults(base, tree)
    comparison = None
    if tree is not None and not faults and request.against:
        comparison = compare_sets(
            RuleSetComparisonRequest(
                base=NamedRuleSet(kind="name", name=rules.name),
                candidate=WholeRuleSet(kind="whole", rule_set=as_json(tree)),
                cases=request.against,
                operations=request.operations,
                from_date=request.from_date,
            ),
            engine,
        )
    return {
        "verdict": _verdict(values, records, faults),
        "summary": _summary(values, records, faults),
        "records": {
            "rows": records.count, "taken": len(records.taken()), "specimens": specimens, "sha256": digest,
        },
        "refused": [{"line": line, "reason": reason} for line, reason in sorted(records.refused.items())],
        "values": [_written(value) for value in values],
        "rule_set": None if tree is None else as_json(tree),
        "files": {} if tree is None else files_of(tree),
        "gate": {"accepted": tree is not None and not faults, "faults": faults},
        "comparison": comparison,
        "stamp": engine.stamp("calibrate_rules", request, rules),
        "assumptions": [],
        "cautions": general_cautions(rules.data),
        "evidence": None if tree is None else "own_test",
    }  # fmt: skip


def _text(request: CalibrationRequest, kind: Kind, specimens: int) -> str:
    report = f", {request.report}" if request.report else ""
    return f"Own records{report}: {kind.title.lower()}, {counted(specimens, 'specimen')}, {request.rig}, {request.closed_on}"


def _faults(base: RuleTree, tree: Tree) -> list[str]:
    """Return why a set cannot be laid over the base; nothing where it can."""
    try:
        compare.whole(base, tree)
    except RuleError as error:
        return [
            f"{'.'.join(map(str, item.path)) or item.key}: {unquoted(item.fault)}; accepted: {item.accepted}"
            for item in (error, *error.also)
        ]
    return []


def _doubts(values: Sequence[Value]) -> int:
    return sum(len(value.outliers) + len(value.lack_of_fit) for value in values)


def _verdict(values: Sequence[Value], records: Records, faults: Sequence[str]) -> str:
    if faults:
        return "fail"
    if all(value.found is None for value in values):
        return "not_evaluated"
    whole = all(value.record is not None for value in values if value.key)
    return "pass" if whole and not records.refused and not _doubts(values) else "caution"


def _summary(values: Sequence[Value], records: Records, faults: Sequence[str]) -> str:
    replaced = sum(value.record is not None for value in values)
    parts = [
        f"{counted(len(values), 'value')} from {len(records.taken())} of {counted(records.count, 'row')}",
        f"{replaced} take the place of what the rules have"
        if replaced != 1
        else "1 takes the place of what the rules have",
    ]
    if doubts := _doubts(values):
        parts.append(f"{counted(doubts, 'remark')} on outliers and fit")
    if faults:
        parts.append("the rule set that is made cannot be used")
    return "; ".join(parts) + "."


def _range(found: Range | None) -> dict[str, float] | None:
    return None if found is None else {name: shown(number) for name, number in found._asdict().items()}


def _written(value: Value) -> dict[str, Any]:
    return {
        "key": ".".join(value.key) or None,
        "title": value.title,
        "unit": value.unit,
        "found": _range(value.found),
        "house": None if value.house is None else value.house._asdict(),
        "house_evidence": value.house_evidence,
        "replaces": value.record is not None,
        "stays": value.stays or None,
        "specimens": value.specimens,
        "readings": value.readings,
        "method": value.method,
        "scatter": None if value.scatter is None else shown(value.scatter),
        "own_share": None if value.own_share is None else shown(value.own_share),
        "outliers": [item._asdict() for item in value.outliers],
        "lack_of_fit": value.lack_of_fit,
        "x": None if value.x is None else value.x._asdict(),
        "y": None if value.y is None else value.y._asdict(),
        "points": [
            {name: shown(held) if isinstance(held, float) else held for name, held in point._asdict().items()}
            for point in value.points
        ],
    }
