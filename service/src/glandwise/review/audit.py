"""Audit a rule set: the laws of :mod:`glandwise.rules.laws`, those that take the engine sampled over the whole envelope.

The laws are held on every date that counts, as in a comparison. A breach is made plain before it is reported: every number
that does not matter is set to its plain value, and the step that breaks the law is narrowed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from math import inf, nan
from typing import Any

import numpy as np

from glandwise.case import record
from glandwise.case.hardware_intake import greatest_clearance, throat_fit
from glandwise.case.rows import Table
from glandwise.contract.audit import RuleSetAuditRequest
from glandwise.engine import Engine, refusal
from glandwise.questions.envelope import evaluation as batch
from glandwise.questions.report import general_cautions
from glandwise.review import directions
from glandwise.review.comparison import candidate_tree, check_day, named_tree, rules_stamp
from glandwise.review.sampling import DIP, SHOWN, Found, changed, evaluated, range_of, sample, with_number, written
from glandwise.rules import laws
from glandwise.rules.features import feature_sets
from glandwise.rules.loader import RuleTree, today
from glandwise.rules.model import CAPACITY_DIMENSION, Curve, RuleSetData

FAR_STEPS = 6
"""Axes for which the length of the far step is drawn; the others take those of the first."""
NEAR = 1e-6
"""Relative distance from a breakpoint at which both sides are looked at."""
AT_BREAKPOINT = 64
"""Sampled cases put to each breakpoint."""
ON_THROATS = 256
"""Sampled shafts whose throats are looked at."""
PARTS = 16
"""Parts into which a steep step is cut to look for the one that jumps."""
CUTS = 4
"""Times that is done: less than a ten-thousandth of a near step is left."""
STEEPEST = 2
"""Steepest steps of each axis and criterion that are looked at for a jump."""


def breakpoints(data: RuleSetData) -> dict[str, dict[float, list[str]]]:
    """Return the breakpoints of all tables over speed and temperature, with the tables that have them."""
    found: dict[str, dict[float, list[str]]] = {"surface_speed": {}, "temperature_max": {}}

    def note(axis: str, curve: Curve, key: str) -> None:
        for x in curve.si_x:
            found[axis].setdefault(float(x), []).append(key)

    for name, entry in data.designs.capacities.items():
        if entry.limit_by_speed is not None:
            note("surface_speed", entry.limit_by_speed, f"designs.capacities.{name}.limit_by_speed")
    for name, compound in data.compounds.items():
        note("surface_speed", compound.limiting_pv, f"compounds.{name}.limiting_pv")
        for field in ("pv_derating", "yield_strength", "elastic_modulus"):
            note("temperature_max", getattr(compound, field), f"compounds.{name}.{field}")
    return found


def _continuous(data: RuleSetData, c: Table, taken: Sequence[directions.Step]) -> Found:
    """Look for jumps at the breakpoints of the tables, and wherever a near step is steep."""
    jumps = _jumps(data, c, taken)
    limit = data.audit.max_jump.si
    some = record.chosen(c, np.linspace(0, len(c) - 1, AT_BREAKPOINT).astype(int))
    checked, breaches = 0, 0
    examples: list[dict[str, Any]] = []
    for axis, points in breakpoints(data).items():
        low, high = range_of(data, axis)
        places = [(x, keys) for x, keys in sorted(points.items()) if low < x < high]
        if not places:
            continue
        # every breakpoint in one pass: what a pass costs hardly depends on its length
        x_of = np.repeat([x for x, _ in places], len(some))
        every = record.chosen(some, np.tile(np.arange(len(some)), len(places)))
        ends = [x_of * (1.0 - NEAR), x_of * (1.0 + NEAR)]
        if axis == "temperature_max":
            every = changed(every, temperature=np.minimum(every["temperature"], ends[0]),
                            temperature_min=np.minimum(every["temperature_min"], ends[0]))  # fmt: skip
        a, b = evaluated(data, [with_number(every, axis, end) for end in ends])
        for place, (x, keys) in enumerate(places):
            here = slice(place * len(some), (place + 1) * len(some))
            checked += len(some)
            for name in a.utilization:
                u, v = a.utilization[name][here], b.utilization[name][here]
                with np.errstate(invalid="ignore", divide="ignore"):
                    # relative, but not of what hardly uses the capacity at all
                    jump = np.abs(v - u) / np.maximum(np.maximum(np.abs(u), np.abs(v)), DIP)
                rows = np.flatnonzero((jump > limit) & ~_burns_out(data, some, name))
                breaches += rows.size
                if rows.size and len(examples) < SHOWN:
                    row = int(rows[0])
                    examples.append(
                        {
                            "text": f"{name.replace('_', ' ')} jumps from {u[row]:.4g} to {v[row]:.4g} of its capacity at "
                            f"{axis.replace('_', ' ')} {x:.6g} (SI)",
                            "keys": keys,
                            "case": written(data, every, here.start + row),
                            "changed": {axis: [float(end[here][row]) for end in ends]},
                        }
                    )
    return Found(checked + jumps.checked, breaches + jumps.breaches, [*examples, *jumps.counterexamples][:SHOWN])


def _jump(u: Any, v: Any) -> Any:
    """Jump relative to the use, but not of what hardly uses the capacity at all."""
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.nan_to_num(np.abs(v - u) / np.maximum(np.maximum(np.abs(u), np.abs(v)), DIP))


def _burns_out(data: RuleSetData, c: Table, name: str) -> Any:
    """Return where a use jumps by nature: a liquid that boils leaves the shaft all at once."""
    if name not in directions.BY_HEAT:
        return np.full(len(c), False)
    return np.array([fluid.film == "boiling" for fluid in data.fluids.values()])[c["fluid"]]


def _jumps(data: RuleSetData, c: Table, taken: Sequence[directions.Step]) -> Found:
    """Cut the steepest near steps finer and finer where they are steepest: what is left of a growth is a jump."""
    limit = data.audit.max_jump.si
    asked: list[tuple[directions.Axis, int, str, float, float]] = []
    near = [step for step in taken if step.near]
    for step in near:
        for name, u in step.before.utilization.items():
            rows = step.rows & ~_burns_out(data, c, name)
            rise = np.where(rows, _jump(u, step.after.utilization[name]), 0.0)
            asked.extend(
                (step.axis, row, name, float(step.start[row]), float(step.end[row]))
                for row in np.argsort(-rise, kind="stable")[:STEEPEST].tolist()
                if rise[row] > limit
            )
    checked = int(sum(step.rows.sum() for step in near))
    if not asked:
        return Found(checked, 0, [])
    cases = record.chosen(c, np.array([row for _, row, *_ in asked]))
    start, end = (np.array([item[place] for item in asked]) for place in (3, 4))
    names = np.array([name for _, _, name, *_ in asked])
    places = np.arange(len(asked))

    def used(at: Any) -> Any:
        """Return the use of each case at some numbers of its axis, by rows."""
        every = record.chosen(cases, np.tile(places, len(at)))
        for field in {axis.field for axis, *_ in asked}:
            rows = np.tile([axis.field == field for axis, *_ in asked], len(at))
            every = with_number(every, field, np.where(rows, at.ravel(), every[field]))
        (found,) = evaluated(data, [every])
        result = np.empty(at.shape)
        for name in set(names.tolist()):
            result[:, names == name] = found.utilization[name].reshape(at.shape)[:, names == name]
        return result

    for _ in range(CUTS):
        at = start + np.linspace(0.0, 1.0, PARTS + 1)[:, None] * (end - start)
        use = used(at)
        steepest = np.argmax(_jump(use[:-1], use[1:]), axis=0)
        start, end = at[steepest, places], at[steepest + 1, places]
        u, v = use[steepest, places], use[steepest + 1, places]
    rows = np.flatnonzero(_jump(u, v) > limit)
    examples = [
        {
            "text": f"{str(names[row]).replace('_', ' ')} jumps from {u[row]:.4g} to {v[row]:.4g} of its capacity at "
            f"{asked[row][0].field.replace('_', ' ')} {end[row]:.6g} (SI)",
            "keys": [],
            "case": written(data, cases, row),
            "changed": {asked[row][0].field: [float(start[row]), float(end[row])]},
        }
        for row in rows[:SHOWN].tolist()
    ]
    return Found(checked, rows.size, examples)


def _no_hole(data: RuleSetData) -> Found:
    checked, breaches = 0, 0
    examples: list[dict[str, Any]] = []
    for features in feature_sets():
        for criterion in CAPACITY_DIMENSION:
            if criterion not in data.criteria:
                continue
            checked += 1
            if laws.rated(data, criterion, features) is None:
                breaches += 1
                if len(examples) < SHOWN:
                    text = f"{criterion.replace('_', ' ')} of {laws.words(features)} has no capacity"
                    examples.append(
                        {"text": text, "keys": ["designs.capacities"], "case": dict(features), "changed": {}}
                    )
    return Found(checked, breaches, examples)


def _asked(data: RuleSetData, c: Table) -> Found:
    """Look for demands on the hardware that relax as a duty grows."""
    rule, checked, breaches = data.requirements, 0, 0
    examples: list[dict[str, Any]] = []

    def broken(text: str, keys: Sequence[str], **numbers: list[float]) -> None:
        nonlocal breaches
        breaches += 1
        if len(examples) < SHOWN:
            examples.append({"text": text, "keys": list(keys), "case": {}, "changed": numbers})

    for name, softer in (("hardness_fast", "hardness"), ("hardness_solids", "hardness_fast")):
        checked += 1
        if getattr(rule, name).si < getattr(rule, softer).si:
            words = f"{name.replace('_', ' ')} asks for less than {softer.replace('_', ' ')}"
            broken(words, [f"requirements.{name}", f"requirements.{softer}"])
    fits = sorted({fit.pressure_from.si for fit in data.gland.throat_fits.values()})
    for row in range(min(len(c), ON_THROATS)):
        d = float(c["shaft_diameter"][row])
        widest, asked_at = inf, 0.0
        for p in fits:
            fit = throat_fit(data, d, p)
            clearance = nan if fit is None else greatest_clearance(data, fit.rule, d)
            checked += 1
            if clearance > widest * (1.0 + NEAR):
                text = f"the throat of a shaft of {d:.4g} m may be {clearance:.3g} m wide at {p:.4g} Pa, {widest:.3g} m at less"
                broken(text, [] if fit is None else [fit.path], pressure=[asked_at, p])
            if clearance == clearance:
                widest, asked_at = clearance, p
    return Found(checked, breaches, examples)


def _reachable(data: RuleSetData, seen: list[batch.Evaluation]) -> Found:
    examples: list[dict[str, Any]] = []
    names = seen[0].criteria
    for name in names:
        for code in (batch.PASS, batch.FAIL):
            if not any((found.status[name] == code).any() for found in seen):
                word = "passes" if code == batch.PASS else "fails"
                examples.append(
                    {
                        "text": f"{data.criteria[name].title} never {word} anywhere in the envelope",
                        "keys": [f"criteria.{name}"],
                        "case": {},
                        "changed": {},
                    }
                )
    return Found(len(names) * 2, len(examples), examples[:SHOWN])


def audit(data: RuleSetData, samples: int, seed: int) -> list[dict[str, Any]]:
    """Return every law with whether it holds."""
    results = []
    for law, check in laws.STRUCTURAL.items():
        breaches = list(check(data))
        shown = [{"text": item.text, "keys": list(item.keys), "case": {}, "changed": {}} for item in breaches[:SHOWN]]
        results.append(_row(law, Found(1, len(breaches), shown)))
    c, shares = sample(data, samples, seed, FAR_STEPS)
    base, taken = directions.steps(data, c, shares)
    found: Mapping[str, Found] = {
        "monotone": directions.monotone(data, c, taken),
        "felt": directions.felt(data, c, taken),
        "apart": directions.apart(data, c, taken),
        "proportion": directions.proportion(data, c, taken),
        "materials": directions.materials(data, c),
        "continuous": _continuous(data, c, taken),
        "asked": _asked(data, c),
        "no_hole": _no_hole(data),
        "reachable": _reachable(data, [base, *(step.after for step in taken)]),
    }
    results.extend(_row(law, found[law.id]) for law in laws.SAMPLED)
    return results


def _row(law: laws.Law, found: Found) -> dict[str, Any]:
    return {
        "id": law.id,
        "title": law.title,
        "statement": law.statement,
        "status": "fail" if found.breaches else "pass",
        "checked": found.checked,
        "breaches": found.breaches,
        "counterexamples": found.counterexamples,
    }


def audit_on(tree: RuleTree, days: Sequence[date], samples: int, seed: int) -> list[dict[str, Any]]:
    """Return every law with whether it holds on every one of some dates; each counterexample has its date."""
    results: list[dict[str, Any]] = []
    for day in days:
        found = audit(tree.at(day).data, samples, seed)
        for row in found:
            row["counterexamples"] = [{**item, "as_of": day.isoformat()} for item in row["counterexamples"]]
        if not results:
            results = found
            continue
        for held, row in zip(results, found, strict=True):
            held["status"] = "fail" if "fail" in (held["status"], row["status"]) else "pass"
            held["checked"] += row["checked"]
            held["breaches"] += row["breaches"]
            held["counterexamples"] = (held["counterexamples"] + row["counterexamples"])[:SHOWN]
    return results


def days_of(tree: RuleTree, since: date, asked: date | None) -> list[date]:
    """Return the dates on which a set is audited: the first and every later one on which it changes, and one asked for."""
    first = max(since, tree.valid_from)
    return sorted(
        {first, *(point for point in tree.breakpoints if point > first), *(() if asked is None else (asked,))}
    )


def audit_set(request: RuleSetAuditRequest, engine: Engine) -> dict[str, Any]:
    """Answer an audit of a rule set."""
    check_day(request.from_date, ("from_date",))
    base = named_tree(engine, request.base.name, request.base.as_of, ("base",))
    tree, day = base, request.base.as_of
    if request.candidate is not None:
        tree, day = candidate_tree(engine, base, request.candidate)
        day = day or request.base.as_of
        if day is not None and day < tree.valid_from:
            raise refusal(
                "out_of_domain", ("base", "as_of"), "the candidate is not in force yet", f"{tree.valid_from} or later"
            )
    since = request.from_date or today()
    days = days_of(tree, since, day)
    found = audit_on(tree, days, request.samples, request.seed)
    rules = tree.at(days[0])
    failing = [row for row in found if row["status"] == "fail"]
    held = len(found) - len(failing)
    text = f"{held} of {len(found)} laws hold" + (f" on {len(days)} dates" if len(days) > 1 else "")
    if failing:
        text += f"; broken: {', '.join(row['title'] for row in failing)}"
    asked = request.model_copy(update={"from_date": since})  # the dates that are looked at belong to the question
    return {
        "verdict": "fail" if failing else "pass",
        "summary": f"{text}.",
        "rule_set": rules_stamp(rules),
        "from_date": since.isoformat(),
        "dates": [item.isoformat() for item in days],
        "laws": found,
        "stamp": engine.stamp("audit_rule_set", asked, rules),
        "cautions": general_cautions(rules.data),
    }
