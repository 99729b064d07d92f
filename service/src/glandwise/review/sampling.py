"""Cases sampled over the whole envelope, for the laws that take the engine to see.

The envelope is sampled by a scrambled Sobol sequence over duties, designs and materials. The numbers of a case can be
changed one by one, and made plain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any, NamedTuple

import numpy as np

from glandwise.mechanics import kinematics
from glandwise.questions.envelope import columns as batch
from glandwise.rules.features import SITUATIONS, feature_sets
from glandwise.rules.model import RuleSetData

_rotation_speed: Any = kinematics.rotation_speed
"""Arithmetic alone: it takes arrays as they are."""
SHOWN = 5
"""Counterexamples reported for each law."""
PASS_ROWS = 4096
"""Cases evaluated in one pass: what a pass costs hardly depends on their number while they are fewer."""
VACUUM = 101325.0
"""Standard atmosphere [Pa]."""
DIP = 0.02
"""Utilization below which changes are measured against it: what hardly uses a capacity hardly matters."""


class Found(NamedTuple):
    """What the audit of one law found."""

    checked: int
    breaches: int
    counterexamples: list[dict[str, Any]]


def range_of(data: RuleSetData, name: str) -> tuple[float, float]:
    record = getattr(data.audit, "temperature" if name.startswith("temperature") else name)
    return record.si_low, record.si_high


def with_number(c: batch.Columns, name: str, values: Any) -> batch.Columns:
    """Return the cases with one number changed; a speed changes all its forms."""
    if name != "surface_speed":
        changed: Any = {name: values}
        return replace(c, **changed)
    return replace(
        c,
        surface_speed=values,
        peak_speed=values,
        rotational_speed=_rotation_speed(c.shaft_diameter, values),
    )


def sample(data: RuleSetData, count: int, seed: int, axes: int) -> tuple[batch.Columns, Any]:
    """Return sampled cases and, for each of some axes, how far (0 to 1) its step goes towards the worst."""
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
    engine = qmc.Sobol(len(numbers) + 9 + axes, scramble=True, seed=seed)
    u = engine.random_base2(int(np.ceil(np.log2(count))))
    unit = iter(u.T)
    value: dict[str, Any] = {}
    for name in numbers:
        low, high = range_of(data, name)
        x = next(unit)
        if name in {"shaft_diameter", "pressure"}:
            # most service lies at the low end of these: sample it as densely
            value[name] = low + (high - low) * x**3
        else:
            value[name] = low + (high - low) * x
    # every eleventh case has its pressure on the air side, down to a full vacuum
    reverse = np.arange(len(u)) % 11 == 0
    value["pressure"] = np.where(
        reverse, -VACUUM * value["pressure"] / range_of(data, "pressure")[1], value["pressure"]
    )
    low, high = range_of(data, "temperature")
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
        rotational_speed=_rotation_speed(value["shaft_diameter"], value["surface_speed"]),
        peak_speed=value["surface_speed"],
        temperature_min=coldest,
        temperature_max=hottest,
        **value,
    )
    return columns, np.array(list(unit)[:axes])


def written(data: RuleSetData, c: batch.Columns, row: int) -> dict[str, Any]:
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


def made_plain(data: RuleSetData, c: batch.Columns, name: str) -> batch.Columns | None:
    """Return a single case with one number set to its plain value; ``None`` where that cannot be."""
    record = data.audit
    if name == "temperature":
        plain = record.temperature.si
        return replace(c, temperature=np.array([np.clip(plain, c.temperature_min[0], c.temperature_max[0])]))
    if name in {"temperature_min", "temperature_max"}:
        return with_number(c, name, c.temperature.copy())
    return with_number(c, name, np.array([getattr(record, name).si]))


def evaluated(data: RuleSetData, parts: Sequence[batch.Columns]) -> list[batch.Evaluation]:
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
