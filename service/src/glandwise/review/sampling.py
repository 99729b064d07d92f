"""Cases sampled over the whole envelope, for the laws that take the engine to see.

The envelope is sampled by a scrambled Sobol sequence over duties, designs and materials. The numbers of a case can be
changed one by one, and made plain.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from glandwise.case import record
from glandwise.case.choices import Application, Dirt, Energizer, Family, Lead, Lubrication
from glandwise.case.ratings import numbers_of
from glandwise.case.rows import Table, codes_of, fill
from glandwise.case.vocabulary import NAMES, NUMBERS, state_features
from glandwise.extras import STATISTICS, require
from glandwise.mechanics import kinematics
from glandwise.questions.envelope import evaluation as batch
from glandwise.rules.features import SITUATIONS, feature_sets
from glandwise.rules.model import RuleSetData

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


def changed(rows: Table, **numbers: Any) -> Table:
    """Return the cases with other numbers."""
    rows = record.copied(rows)
    for name, values in numbers.items():
        rows[name] = values
    return rows


def with_number(c: Table, name: str, values: Any) -> Table:
    """Return the cases with one number changed; a speed changes all its forms."""
    if name != "surface_speed":
        return changed(c, **{name: values})
    d: Any = c["shaft_diameter"]
    turns = kinematics.rotation_speed(d, values)
    return changed(c, surface_speed=values, peak_speed=values, rotational_speed=turns)


_NUMBERS = (
    "shaft_diameter", "surface_speed", "pressure", "temperature", "runout", "offset", "hardness", "roughness",
)  # fmt: skip
_BESIDE = (
    "coldest", "hottest", "design", "alloy", "compound", "fluid", "elastomer", "lubrication", "dirt", "application",
)  # fmt: skip
"""What is drawn of each case; each has a column of its own in the sequence."""


def sample(data: RuleSetData, count: int, seed: int, axes: int) -> tuple[Table, Any]:
    """Return sampled cases and, for each of some axes, how far (0 to 1) its step goes towards the worst."""
    require(STATISTICS)
    from scipy.stats import qmc

    codes = codes_of(data)
    sets: list[dict[str, Any]] = []
    for features in feature_sets():
        plain = {key: value for key, value in features.items() if key not in SITUATIONS}
        if plain not in sets:
            sets.append(plain)
    drawn = (*_NUMBERS, *_BESIDE)
    u = qmc.Sobol(len(drawn) + axes, scramble=True, seed=seed).random_base2(int(np.ceil(np.log2(count))))
    column = dict(zip(drawn, u.T, strict=False))
    value: dict[str, Any] = {}
    for name in _NUMBERS:
        low, high = range_of(data, name)
        x = column[name]
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
    coldest = low + (value["temperature"] - low) * (1.0 - column["coldest"] ** 3)
    hottest = value["temperature"] + (high - value["temperature"]) * column["hottest"] ** 3

    def pick(name: str, n: int) -> Any:
        return np.minimum((column[name] * n).astype(int), n - 1)

    designs = record.table(len(sets))
    for place, features in enumerate(sets):
        state_features(designs[place : place + 1], features)
    rows = record.chosen(designs, pick("design", len(sets)))
    rows["alloy"] = pick("alloy", len(codes.alloys))
    rows["compound"] = pick("compound", len(codes.compounds))
    rows["fluid"] = pick("fluid", len(codes.fluids))
    rows["elastomer"] = pick("elastomer", len(codes.elastomers))
    rows["lubrication"] = pick("lubrication", len(Lubrication))
    rows["lead"] = np.where(np.arange(len(rows)) % 7 == 0, Lead.present, Lead.none)
    rows["dirt"] = 1 + pick("dirt", len(Dirt) - 1)
    rows["food_contact"] = np.arange(len(rows)) % 5 == 0
    rows["application"] = pick("application", len(Application))
    # every other case states the life that is wanted
    usual = data.running.wear.targets.not_stated.si
    rows["target_life"] = np.where(np.arange(len(rows)) % 2 == 0, usual, np.nan)
    rows = changed(rows, temperature_min=coldest, temperature_max=hottest, **value)
    # each seal is sized once, for the duty that it was sampled with: the laws hold at fixed dimensions
    cases = fill(data, with_number(rows, "surface_speed", value["surface_speed"]))
    return cases, u.T[len(drawn) :]


_WRITTEN = ("shaft_diameter", "surface_speed", "pressure", "temperature_min", "temperature", "temperature_max", "runout",
            "offset")  # fmt: skip


def written(data: RuleSetData, c: Table, row: int) -> dict[str, Any]:
    """Write one case as a flat row."""
    return written_filled(data, fill(data, record.copied(c[row : row + 1]))[0])


def written_filled(data: RuleSetData, case: Any) -> dict[str, Any]:
    """Write one case that has been filled in as a flat row, in SI units."""
    features = numbers_of(data).features(int(case["rating"]))
    out: dict[str, Any] = {name: value for name, value in features.items() if name not in SITUATIONS}
    for column, held in NAMES.items():
        if case[held.field] >= 0 and (column != "energizer_alloy" or case["family"] == Family.energized_lip):
            out[column] = list(getattr(data, held.table))[case[held.field]]
    out["lubrication"] = Lubrication(case["lubrication"]).name
    out["contaminants"] = Dirt(case["dirt"]).name
    out["food_contact"] = bool(case["food_contact"])
    for name, heading in (("hardness", "shaft_hardness"), ("roughness", "shaft_roughness")):
        out[heading] = float(f"{case[name]:.6g}")
    for name in _WRITTEN:
        out[name] = float(f"{case[name]:.6g}")
    # the width of a worn-in lip is no stated one, and a lip without a spring has no place for it
    skipped = {"contact_width", *(["spring_place"] if case["energizer"] == Energizer.none else [])}
    for column, number in NUMBERS.items():
        if number.place.startswith("design.") and number.field not in skipped and np.isfinite(case[number.field]):
            out[column] = float(f"{case[number.field]:.6g}")
    return out


def made_plain(data: RuleSetData, c: Table, name: str) -> Table:
    """Return a single case with one number set to its plain value."""
    if name == "temperature":
        return changed(c, temperature=np.clip(data.audit.temperature.si, c["temperature_min"], c["temperature_max"]))
    if name in {"temperature_min", "temperature_max"}:
        return with_number(c, name, c["temperature"])
    return with_number(c, name, np.array([getattr(data.audit, name).si]))


def evaluated(data: RuleSetData, parts: Sequence[Table]) -> list[batch.Evaluation]:
    """Evaluate tables of one length, as many as fit in one pass."""
    n = len(parts[0])
    at_once = max(1, PASS_ROWS // n)
    found: list[batch.Evaluation] = []
    for start in range(0, len(parts), at_once):
        some = parts[start : start + at_once]
        whole = batch.evaluate(data, record.joined(some))
        found.extend(whole.take(slice(place * n, (place + 1) * n)) for place in range(len(some)))
    return found
