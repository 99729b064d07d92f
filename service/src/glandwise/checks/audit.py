"""Audit a rule set: the laws of :mod:`glandwise.rules.laws`, those that take the engine sampled over the whole envelope.

The envelope is sampled by a scrambled Sobol sequence over duties, designs and materials, and besides at every breakpoint
of every table. A breach is made plain before it is reported: every number that does not matter is set to its plain value,
and the step that breaks the law is narrowed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields, replace
from typing import Any, NamedTuple

import numpy as np

from glandwise.checks import batch
from glandwise.checks.comparison import candidate_tree, named_tree, rules_stamp
from glandwise.checks.engine import Engine
from glandwise.checks.report import general_cautions
from glandwise.contract.audit import RuleSetAuditRequest
from glandwise.mechanics import kinematics
from glandwise.rules import laws
from glandwise.rules.features import SITUATIONS, feature_sets
from glandwise.rules.model import CAPACITY_DIMENSION, Curve, RuleSetData

SHOWN = 5
"""Counterexamples reported for each law."""
NARROWINGS = 12
"""Halvings of the step that breaks a law."""
NEAR = 1e-6
"""Relative distance from a breakpoint at which both sides are looked at."""
AT_BREAKPOINT = 64
"""Sampled cases put to each breakpoint."""
PASS_ROWS = 4096
"""Cases evaluated in one pass: what a pass costs hardly depends on their number while they are fewer."""
VACUUM = 101325.0
"""Standard atmosphere [Pa]."""
DIP = 0.02
"""Fall of a utilization that counts as an improvement beyond the noise of the models, as share of the capacity."""


class Axis(NamedTuple):
    """A way in which a duty grows more demanding."""

    name: str
    worst: str
    """``high`` or ``low``: the end of the range towards which it does."""


AXES = (
    Axis("pressure", "high"),
    Axis("surface_speed", "high"),
    Axis("temperature_max", "high"),
    Axis("temperature_min", "low"),
    Axis("runout", "high"),
    Axis("offset", "high"),
    Axis("hardness", "low"),
)


def _range(data: RuleSetData, name: str) -> tuple[float, float]:
    record = getattr(data.audit, "temperature" if name.startswith("temperature") else name)
    return record.si_low, record.si_high


def _set(c: batch.Columns, name: str, values: Any) -> batch.Columns:
    """Return the cases with one number changed; a speed changes all its forms."""
    if name != "surface_speed":
        changed: Any = {name: values}
        return replace(c, **changed)
    return replace(
        c,
        surface_speed=values,
        peak_speed=values,
        rotational_speed=kinematics.rotation_speed(c.shaft_diameter, values),
    )


def sample(data: RuleSetData, count: int, seed: int) -> tuple[batch.Columns, Any]:
    """Return sampled cases and, for each axis, how far (0 to 1) its step goes towards the worst."""
    from scipy.stats import qmc

    numbers = (
        "shaft_diameter",
        "surface_speed",
        "pressure",
        "temperature",
        "runout",
        "offset",
        "hardness",
        "roughness",
    )
    names = batch.names_of(data)
    sets: list[dict[str, Any]] = []
    for features in feature_sets():
        plain = {key: value for key, value in features.items() if key not in SITUATIONS}
        if plain not in sets:
            sets.append(plain)
    engine = qmc.Sobol(len(numbers) + 9 + len(AXES), scramble=True, seed=seed)
    u = engine.random_base2(int(np.ceil(np.log2(count))))
    unit = iter(u.T)
    value: dict[str, Any] = {}
    for name in numbers:
        low, high = _range(data, name)
        x = next(unit)
        if name in {"shaft_diameter", "pressure"}:
            # most service lies at the low end of these: sample it as densely
            value[name] = low + (high - low) * x**3
        else:
            value[name] = low + (high - low) * x
    # every eleventh case has its pressure on the air side, down to a full vacuum
    reverse = np.arange(len(u)) % 11 == 0
    value["pressure"] = np.where(reverse, -VACUUM * value["pressure"] / _range(data, "pressure")[1], value["pressure"])
    low, high = _range(data, "temperature")
    coldest = low + (value["temperature"] - low) * (1.0 - next(unit) ** 3)
    hottest = value["temperature"] + (high - value["temperature"]) * next(unit) ** 3

    def pick(n: int) -> Any:
        return np.minimum((next(unit) * n).astype(int), n - 1)

    design = pick(len(sets))
    family = np.array([entry["family"] == "flexible_lip" for entry in sets])[design]
    garter = np.array([entry.get("lip_tip") == "upturned_with_garter" for entry in sets])[design]
    ring = np.array([entry["retention"] == "o_ring" for entry in sets])[design]
    alloy = np.where(
        family, np.where(garter, names.alloys.index(data.sizing.garter_alloy.name), -1), pick(len(names.alloys))
    )
    n = len(design)
    columns = batch.Columns(
        feature_sets=sets,
        design=design,
        compound=pick(len(names.compounds)),
        fluid=pick(len(names.fluids)),
        alloy=alloy,
        elastomer=np.where(ring, pick(len(names.elastomers)), -1),
        shaft_material=np.full(n, -1),
        lubrication=pick(len(batch.LUBRICATIONS)),
        lead=np.where(np.arange(n) % 7 == 0, batch.LEADS.index("present"), batch.LEADS.index("none")),
        dirt=1 + pick(3),
        food_contact=np.arange(n) % 5 == 0,
        rotational_speed=kinematics.rotation_speed(value["shaft_diameter"], value["surface_speed"]),
        peak_speed=value["surface_speed"],
        temperature_min=coldest,
        temperature_max=hottest,
        **value,
    )
    return columns, np.array(list(unit)[: len(AXES)])


# ------------------------------------------------------------------------------------------------------------ findings


class Found(NamedTuple):
    """What the audit of one law found."""

    checked: int
    breaches: int
    counterexamples: list[dict[str, Any]]


def _improved(before: batch.Evaluation, after: batch.Evaluation) -> Iterator[tuple[str, Any]]:
    """Yield each criterion with the cases in which it improved."""
    for name in before.criteria:
        a, b = before.status[name], after.status[name]
        better = (b < a) & (a != batch.NOT_EVALUATED) & (b != batch.NOT_EVALUATED)
        if name in before.utilization:
            with np.errstate(invalid="ignore"):
                better &= ~(before.utilization[name] - after.utilization[name] <= DIP)
        yield name, better


def _written(data: RuleSetData, c: batch.Columns, row: int) -> dict[str, Any]:
    """Write one case as a flat row."""
    names = batch.names_of(data)
    out: dict[str, Any] = dict(c.feature_sets[int(c.design[row])])
    out["compound"] = names.compounds[int(c.compound[row])]
    out["fluid"] = names.fluids[int(c.fluid[row])]
    if c.alloy[row] >= 0:
        out["energizer_alloy"] = names.alloys[int(c.alloy[row])]
    if c.elastomer[row] >= 0:
        out["o_ring_elastomer"] = names.elastomers[int(c.elastomer[row])]
    out["lubrication"] = batch.LUBRICATIONS[int(c.lubrication[row])]
    out["contaminants"] = batch.DIRT[int(c.dirt[row])]
    out["food_contact"] = bool(c.food_contact[row])
    for name, heading in (("hardness", "shaft_hardness"), ("roughness", "shaft_roughness")):
        out[heading] = float(f"{getattr(c, name)[row]:.6g}")
    for name in (
        "shaft_diameter",
        "surface_speed",
        "pressure",
        "temperature_min",
        "temperature",
        "temperature_max",
        "runout",
        "offset",
    ):
        out[name] = float(f"{getattr(c, name)[row]:.6g}")
    return out


def _plain(data: RuleSetData, c: batch.Columns, name: str) -> batch.Columns | None:
    """Return a single case with one number set to its plain value; ``None`` where that cannot be."""
    record = data.audit
    if name == "temperature":
        plain = record.temperature.si
        return replace(c, temperature=np.array([np.clip(plain, c.temperature_min[0], c.temperature_max[0])]))
    if name in {"temperature_min", "temperature_max"}:
        return _set(c, name, c.temperature.copy())
    return _set(c, name, np.array([getattr(record, name).si]))


def _minimal(data: RuleSetData, c: batch.Columns, row: int, axis: Axis, to: float, criterion: str) -> dict[str, Any]:
    """Make a breach of monotony as plain as it can be."""

    def breaks(one: batch.Columns, start: float, end: float) -> bool:
        if axis.name == "temperature_max" and (start < one.temperature[0] or end < one.temperature[0]):
            return False
        if axis.name == "temperature_min" and (start > one.temperature[0] or end > one.temperature[0]):
            return False
        two = one.take(np.array([0, 0]))
        found = batch.evaluate(data, _set(two, axis.name, np.array([start, end])))
        before, after = (found.status[criterion][i] for i in (0, 1))
        return bool(after < before and batch.NOT_EVALUATED not in (before, after))

    one = c.take(np.array([row]))
    start = float(getattr(one, axis.name)[0])
    for name in ("pressure", "surface_speed", "temperature_min", "temperature_max", "temperature", "runout", "offset", "hardness",
                 "roughness", "shaft_diameter"):  # fmt: skip
        if name == axis.name:
            continue
        simpler = _plain(data, one, name)
        if simpler is not None and breaks(simpler, start, to):
            one = simpler
    end = to
    for _ in range(NARROWINGS):
        middle = 0.5 * (start + end)
        if breaks(one, start, middle):
            end = middle
        elif breaks(one, middle, end):
            start = middle
        else:
            break
    one = _set(one, axis.name, np.array([start]))
    two = batch.evaluate(data, _set(one.take(np.array([0, 0])), axis.name, np.array([start, end])))
    before, after = (batch.STATUSES[int(two.status[criterion][i])] for i in (0, 1))
    return {
        "text": f"{criterion.replace('_', ' ')} turns from {before} to {after} as {axis.name.replace('_', ' ')} "
        f"{'grows' if end > start else 'falls'} from {start:.6g} to {end:.6g} (SI)",
        "keys": [],
        "case": _written(data, one, 0),
        "changed": {axis.name: [float(f"{start:.6g}"), float(f"{end:.6g}")]},
    }


def _evaluated(data: RuleSetData, parts: Sequence[batch.Columns]) -> list[batch.Evaluation]:
    """Evaluate tables of one length, as many as fit in one pass; none of them gives dimensions."""
    n = len(parts[0])
    at_once = max(1, PASS_ROWS // n)
    found: list[batch.Evaluation] = []
    for start in range(0, len(parts), at_once):
        some = parts[start : start + at_once]
        stacked: dict[str, Any] = {
            item.name: np.concatenate([getattr(part, item.name) for part in some])
            for item in fields(batch.Columns)
            if item.name not in {"feature_sets", "dimensions"}
        }
        whole = batch.evaluate(data, replace(some[0], **stacked))
        found.extend(whole.take(slice(place * n, (place + 1) * n)) for place in range(len(some)))
    return found


def _monotone(data: RuleSetData, c: batch.Columns, steps: Any) -> tuple[Found, list[batch.Evaluation]]:
    """Return what was found, and every evaluation made on the way."""
    ends: list[Any] = []
    for axis, share in zip(AXES, steps, strict=True):
        low, high = _range(data, axis.name)
        x = getattr(c, axis.name)
        worst = np.where(x < 0.0, -VACUUM, high) if axis.name == "pressure" else high if axis.worst == "high" else low
        ends.append(x + share * (worst - x))
    seen = _evaluated(data, [c, *(_set(c, axis.name, to) for axis, to in zip(AXES, ends, strict=True))])
    base, breaches = seen[0], 0
    examples: list[dict[str, Any]] = []
    for axis, to, other in zip(AXES, ends, seen[1:], strict=True):
        for name, rows in _improved(base, other):
            count = int(rows.sum())
            breaches += count
            if count and len(examples) < SHOWN:
                row = int(np.flatnonzero(rows)[0])
                examples.append(_minimal(data, c, row, axis, float(to[row]), name))
    return Found(len(c) * len(AXES), breaches, examples), seen


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


def _continuous(data: RuleSetData, c: batch.Columns) -> Found:
    limit = data.audit.max_jump.si
    some = c.take(np.linspace(0, len(c) - 1, AT_BREAKPOINT).astype(int))
    checked, breaches = 0, 0
    examples: list[dict[str, Any]] = []
    for axis, points in breakpoints(data).items():
        low, high = _range(data, axis)
        places = [(x, keys) for x, keys in sorted(points.items()) if low < x < high]
        if not places:
            continue
        # every breakpoint in one pass: what a pass costs hardly depends on its length
        x_of = np.repeat([x for x, _ in places], len(some))
        every = some.take(np.tile(np.arange(len(some)), len(places)))
        ends = [x_of * (1.0 - NEAR), x_of * (1.0 + NEAR)]
        if axis == "temperature_max":
            every = replace(every, temperature=np.minimum(every.temperature, ends[0]),
                            temperature_min=np.minimum(every.temperature_min, ends[0]))  # fmt: skip
        a, b = _evaluated(data, [_set(every, axis, end) for end in ends])
        for place, (x, keys) in enumerate(places):
            here = slice(place * len(some), (place + 1) * len(some))
            checked += len(some)
            for name in a.utilization:
                u, v = a.utilization[name][here], b.utilization[name][here]
                with np.errstate(invalid="ignore", divide="ignore"):
                    # relative, but not of what hardly uses the capacity at all
                    jump = np.abs(v - u) / np.maximum(np.maximum(np.abs(u), np.abs(v)), DIP)
                rows = np.flatnonzero(jump > limit)
                breaches += rows.size
                if rows.size and len(examples) < SHOWN:
                    row = int(rows[0])
                    examples.append(
                        {
                            "text": f"{name.replace('_', ' ')} jumps from {u[row]:.4g} to {v[row]:.4g} of its capacity at "
                            f"{axis.replace('_', ' ')} {x:.6g} (SI)",
                            "keys": keys,
                            "case": _written(data, every, here.start + row),
                            "changed": {axis: [float(end[here][row]) for end in ends]},
                        }
                    )
    return Found(checked, breaches, examples)


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
    c, steps = sample(data, samples, seed)
    monotone, seen = _monotone(data, c, steps)
    found: Mapping[str, Found] = {
        "monotone": monotone,
        "continuous": _continuous(data, c),
        "no_hole": _no_hole(data),
        "reachable": _reachable(data, seen),
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


def audit_set(request: RuleSetAuditRequest, engine: Engine) -> dict[str, Any]:
    """Answer an audit of a rule set."""
    base = named_tree(engine, request.base.name, request.base.as_of, ("base",))
    tree, day = base, request.base.as_of
    if request.candidate is not None:
        tree, day = candidate_tree(engine, base, request.candidate)
    rules = tree.at(day) if day is not None else tree.newest()
    found = audit(rules.data, request.samples, request.seed)
    failing = [row for row in found if row["status"] == "fail"]
    held = len(found) - len(failing)
    text = f"{held} of {len(found)} laws hold"
    if failing:
        text += f"; broken: {', '.join(row['title'] for row in failing)}"
    return {
        "verdict": "fail" if failing else "pass",
        "summary": f"{text}.",
        "rule_set": rules_stamp(rules),
        "laws": found,
        "stamp": engine.stamp("audit_rule_set", request, rules),
        "cautions": general_cautions(rules.data),
    }
