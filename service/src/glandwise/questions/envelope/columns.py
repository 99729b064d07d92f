"""Many cases in one pass: the envelope on arrays.

A :class:`Columns` holds duties and designs column by column; :func:`evaluate` groups the cases by what changes the
formulas (family, energizer, lubrication), runs the same functions as a single check on each group, and returns demand,
capacity, utilization and status of every criterion. Selection, operating maps, spectra and comparisons of rule sets all
run on it; that it agrees with single checks is a test.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from glandwise.case import record
from glandwise.case.choices import Energizer as EnergizerKind
from glandwise.case.intake import Case, feature_key
from glandwise.case.ratings import numbers_of
from glandwise.case.rows import LUBRICATIONS, ROW_DIMENSIONS, ROW_NUMBERS, features_code, row_of
from glandwise.contract.duty import Duty
from glandwise.patience import go_on
from glandwise.questions.envelope import judge, kernel
from glandwise.questions.envelope import operation as envelope
from glandwise.rules.model import Compatibility, RuleSetData
from glandwise.rules.once import OncePerRuleSet

__all__ = ["LUBRICATIONS"]
"""Names that are taken from here; what this module defines is public by its name."""

Array = NDArray[np.float64]
Codes = Any
"""Integer array."""

LEADS = ("not_stated", "none", "present")
DIRT = ("not_stated", "clean", "dusty", "abrasive")
STATUSES = ("pass", "not_evaluated", "caution", "fail")
"""Status by code; a higher code is worse."""
PASS, NOT_EVALUATED, CAUTION, FAIL = range(4)

DIMENSIONS: Mapping[str, tuple[str, ...]] = {
    "cantilever_v": ("thickness", "length", "root_angle", "coverage", "deflection"),
    "canted_coil": ("wire_diameter", "height", "width", "pitch", "cant_angle", "deflection"),
    "garter": ("wire_diameter", "mean_coil_diameter", "free_length", "initial_tension", "active_coils"),
}
"""Energizer dimensions by kind, as a case names them."""


@dataclass
class Columns:
    """Cases by column; SI, ``nan`` where a number is not stated, ``-1`` where a name is not chosen.

    Names are codes into the sorted tables of the rule set (see :class:`Names`); ``design`` is an index into
    ``feature_sets``, whose entries are features as :func:`glandwise.case.intake.features_of` gives them, less
    ``lubrication`` and ``filled``.
    """

    feature_sets: Sequence[Mapping[str, Any]]
    design: Codes
    compound: Codes
    fluid: Codes
    alloy: Codes
    elastomer: Codes
    shaft_material: Codes
    lubrication: Codes
    lead: Codes
    dirt: Codes
    food_contact: Codes
    shaft_diameter: Array
    rotational_speed: Array
    surface_speed: Array
    peak_speed: Array
    pressure: Array
    temperature_min: Array
    temperature: Array
    temperature_max: Array
    runout: Array
    offset: Array
    hardness: Array
    roughness: Array
    dimensions: dict[str, Array] = field(default_factory=dict)
    """Dimensions that are given: lip dimensions by name, energizer dimensions as ``kind.name``."""

    def __len__(self) -> int:
        return len(self.design)

    def take(self, index: Any) -> Columns:
        """Return some of the cases."""
        values: dict[str, Any] = {}
        for item in fields(self):
            value = getattr(self, item.name)
            if item.name == "feature_sets":
                values[item.name] = value
            elif item.name == "dimensions":
                values[item.name] = {name: column[index] for name, column in value.items()}
            else:
                values[item.name] = value[index]
        return Columns(**values)


class Names:
    """Names of a rule set by code, and the lookup tables over them, worked out once per rule set."""

    def __init__(self, data: RuleSetData) -> None:
        self.data = data
        self.compounds, self.fluids = list(data.compounds), list(data.fluids)
        self.alloys, self.elastomers = list(data.alloys), list(data.elastomers)
        self.shaft_materials = list(data.shaft_materials)
        self.filled = np.array([bool(data.compounds[name].fillers) for name in self.compounds])
        self.lubrication = np.array([LUBRICATIONS.index(data.fluids[name].lubrication) for name in self.fluids])
        self.is_food = np.array([data.fluids[name].category == "food" for name in self.fluids])
        self.is_abrasive = np.array(["abrasive" in data.fluids[name].hazards for name in self.fluids])
        self.coldest, self.hottest = np.array([envelope.known_range(data.fluids[name]) for name in self.fluids]).T
        self.food = np.array([_FOOD[data.compounds[name].food_contact] for name in self.compounds])
        tables = [data.fluids[name].compatibility for name in self.fluids]
        self.on_compound = np.array(
            [
                [
                    max(_code(t.ptfe), *(_code(t.fillers.get(filler)) for filler in data.compounds[name].fillers), PASS)
                    for name in self.compounds
                ]
                for t in tables
            ]
        )
        # the last column stands for "none of these in the design"
        self.on_alloy = np.array([[*(_code(t.alloys.get(name)) for name in self.alloys), PASS] for t in tables])
        self.on_elastomer = np.array(
            [[*(_code(t.elastomers.get(name)) for name in self.elastomers), PASS] for t in tables]
        )


_FOOD = {"base_resin_listed": CAUTION, "filler_needs_clearance": FAIL, "not_evaluated": NOT_EVALUATED}


def _code(verdict: Compatibility | None) -> int:
    return {"compatible": PASS, None: NOT_EVALUATED, "caution": CAUTION, "incompatible": FAIL}[verdict]


names_of = OncePerRuleSet(Names)


@dataclass
class Evaluation:
    """Criteria of many cases."""

    criteria: tuple[str, ...]
    """Identifiers in the order of the rule set."""
    demand: dict[str, Array]
    capacity: dict[str, Array]
    utilization: dict[str, Array]
    status: dict[str, Codes]
    verdict: Codes
    governing: Codes
    """Index into ``criteria``."""
    torque: Array
    """Nominal friction torque [N m]; ``nan`` where the contact temperature was not evaluated."""
    wear_rate: Array
    """Nominal wear of the lip in depth per time, at the start [m/s]; ``nan`` where it is not known."""
    life: Array
    """Nominal time to the wear allowance [s]; infinite where nothing wears or the load is lost before, ``nan`` where it is
    not known."""

    def take(self, index: Any) -> Evaluation:
        """Return what was found of some of the cases."""
        values: dict[str, Any] = {"criteria": self.criteria}
        for item in fields(self):
            value = getattr(self, item.name)
            if item.name != "criteria":
                by_name = isinstance(value, dict)
                values[item.name] = {name: column[index] for name, column in value.items()} if by_name else value[index]
        return Evaluation(**values)


def _categorical(names: Names, c: Columns) -> dict[str, Codes]:
    """Status codes of the criteria without numbers."""
    compatible = np.maximum.reduce(
        [
            names.on_compound[c.fluid, c.compound],
            names.on_alloy[c.fluid, c.alloy],
            names.on_elastomer[c.fluid, c.elastomer],
        ]
    )
    # what is known of a fluid holds in its range of temperature
    known = (c.temperature_min >= names.coldest[c.fluid]) & (c.temperature_max <= names.hottest[c.fluid])
    compatible = np.maximum(compatible, np.where(known, PASS, NOT_EVALUATED))
    guarded = np.array(
        [entry.get("second_lip") == "excluder" or entry.get("lip_form") == "scraper" for entry in c.feature_sets]
    )[c.design]
    # rows: dirt; columns: not guarded, guarded
    kept_out = np.array([[NOT_EVALUATED] * 2, [PASS] * 2, [CAUTION, PASS], [FAIL, CAUTION]])
    asked = c.food_contact | names.is_food[c.fluid]
    return {
        "fluid_compatibility": compatible,
        "food_contact": np.where(asked, names.food[c.compound], PASS),
        "shaft_lead": np.array([NOT_EVALUATED, PASS, FAIL])[c.lead],
        "contaminants": np.maximum(
            kept_out[c.dirt, guarded.astype(int)], np.where(names.is_abrasive[c.fluid], CAUTION, PASS)
        ),
    }


def rows_of(data: RuleSetData, c: Columns) -> Any:
    """Put cases into rows for machine code; what is not stated stays open."""
    names, numbers = names_of(data), numbers_of(data)
    rows = record.table(len(c))
    for name in ROW_NUMBERS:
        rows[name] = getattr(c, name)
    for name in (
        "compound",
        "fluid",
        "alloy",
        "elastomer",
        "shaft_material",
        "lubrication",
        "lead",
        "dirt",
        "food_contact",
    ):
        rows[name] = getattr(c, name)
    codes = np.array([features_code(entry) for entry in c.feature_sets])[c.design]
    for at, name in enumerate(("family", "energizer", "second_lip", "lip_form", "reinforcing_band")):
        rows[name] = codes[:, at]
    rows["alloy"][rows["energizer"] == EnergizerKind.garter] = names.alloys.index(data.sizing.garter_alloy.name)
    for name in ("lip_thickness", "lip_length", "interference", "contact_width"):
        if name in c.dimensions:
            rows[name] = c.dimensions[name]
    for kind, parts in ROW_DIMENSIONS.items():
        own = rows["energizer"] == EnergizerKind[kind]
        for part, name in parts.items():
            if (given := c.dimensions.get(f"{kind}.{part}")) is not None:
                rows[name] = np.where(own, given, np.nan)
    sort = (c.design * len(LUBRICATIONS) + c.lubrication) * 2 + names.filled[c.compound]
    combinations, inverse = np.unique(sort, return_inverse=True)
    ratings = [
        numbers.rating(
            {
                **c.feature_sets[code // 2 // len(LUBRICATIONS)],
                "lubrication": LUBRICATIONS[code // 2 % len(LUBRICATIONS)],
                "filled": bool(code % 2),
            }
        )
        for code in combinations.tolist()
    ]
    rows["rating"] = np.array(ratings)[inverse]
    return rows


def _measures(data: RuleSetData, out: Any) -> tuple[dict[str, Array], dict[str, Array], dict[str, Array]]:
    """Return demand, capacity and utilization by criterion of what machine code has written."""
    at = {name: index for index, name in enumerate(kernel.IDS) if name in data.criteria}
    demand, limit, used = (
        {name: out[part][:, k] for name, k in at.items()} for part in ("demand", "capacity", "utilization")
    )
    return demand, limit, used


def evaluate(data: RuleSetData, c: Columns) -> Evaluation:
    """Evaluate every criterion of every case."""
    go_on()
    out = judge.measured(data, rows_of(data, c))
    return _conclude(
        data, *_measures(data, out), _categorical(names_of(data), c), out["torque"], out["wear_rate"], out["life"]
    )


def vary(case: Case, findings: Sequence[envelope.Finding], **numbers: Array) -> Evaluation:
    """Evaluate one case at many values of some numbers of its duty (arrays of one length, by field of the case).

    ``findings`` are those of the case as it stands: criteria without numbers do not vary and are taken from there.
    """
    n = len(next(iter(numbers.values())))
    go_on()
    one, compounds = row_of(case)
    rows = np.repeat(one, n)
    for name, values in numbers.items():
        rows[name] = values
    out = judge.measured(case.data, rows, compounds)
    categorical = {item.id: np.full(n, STATUSES.index(item.status)) for item in findings if item.measure is None}
    if "fluid_compatibility" in categorical and {"temperature_min", "temperature_max"} & numbers.keys():
        status, known = envelope.compatibility_at(case, rows["temperature_min"], rows["temperature_max"])
        code = STATUSES.index(status)
        categorical["fluid_compatibility"] = np.maximum(code, np.where(known, PASS, NOT_EVALUATED))
    return _conclude(case.data, *_measures(case.data, out), categorical, out["torque"], out["wear_rate"], out["life"])


def _conclude(
    data: RuleSetData,
    demand: dict[str, Array],
    limit: dict[str, Array],
    used: dict[str, Array],
    categorical: Mapping[str, Codes],
    torque: Array,
    wear_rate: Array,
    life: Array,
) -> Evaluation:
    """Turn utilizations and the status codes of the criteria without numbers into verdicts."""
    status: dict[str, Codes] = {}
    for name, u in used.items():
        caution = data.criteria[name].caution_at.si
        with np.errstate(invalid="ignore"):
            code = np.where(u > envelope.SLACK, FAIL, np.where(u > caution * envelope.SLACK, CAUTION, PASS))
        status[name] = np.where(np.isnan(u), NOT_EVALUATED, code)
    status.update({name: code for name, code in categorical.items() if name in data.criteria})
    criteria = tuple(name for name in data.criteria if name in status)
    verdict, governing = _verdict(criteria, status, used, len(torque))
    return Evaluation(criteria, demand, limit, used, status, verdict, governing, torque, wear_rate, life)


def _verdict(
    criteria: tuple[str, ...], status: Mapping[str, Codes], used: Mapping[str, Array], n: int
) -> tuple[Codes, Codes]:
    """Verdict and governing criterion, by the same rule as a single check."""
    table = np.array([status[name] for name in criteria]).reshape(len(criteria), n)
    load = np.array([used.get(name, np.full(n, np.nan)) for name in criteria]).reshape(len(criteria), n)
    decided = np.where(table == NOT_EVALUATED, -1, table)
    worst = decided.max(axis=0)
    missing = (table == NOT_EVALUATED).any(axis=0)
    verdict = np.where(worst < 0, NOT_EVALUATED, np.where((worst == PASS) & missing, CAUTION, worst))
    ranked = np.where(worst < 0, table == NOT_EVALUATED, decided == worst)
    score = np.where(ranked, np.where(np.isnan(load), -1.0, load), -np.inf)
    return verdict, np.argmax(score, axis=0)


def columns(data: RuleSetData, cases: Sequence[Case], duties: Sequence[Duty], designs: Sequence[Any]) -> Columns:
    """Put single cases, as :func:`glandwise.case.intake.build` makes them, into columns."""
    names = names_of(data)
    code: dict[str, dict[Any, int]] = {
        "compound": {name: i for i, name in enumerate(names.compounds)},
        "fluid": {name: i for i, name in enumerate(names.fluids)},
        "alloy": {id(data.alloys[name]): i for i, name in enumerate(names.alloys)},
        "elastomer": {id(data.elastomers[name]): i for i, name in enumerate(names.elastomers)},
        "material": {name: i for i, name in enumerate(names.shaft_materials)},
    }
    sets: dict[tuple[Any, ...], int] = {}
    design = np.array([sets.setdefault(tuple(feature_key(item).items()), len(sets)) for item in designs])
    dimensions: dict[str, Array] = {
        name: np.array([getattr(case, name) for case in cases], dtype=float)
        for name in ("lip_thickness", "lip_length", "interference", "contact_width")
    }
    for kind, parts in DIMENSIONS.items():
        for part in parts:
            column = [case.dimensions[part] if case.energizer == kind else np.nan for case in cases]
            if not np.isnan(column).all():
                dimensions[f"{kind}.{part}"] = np.array(column, dtype=float)

    def numbers(name: str) -> Array:
        return np.array([getattr(case, name) for case in cases], dtype=float)

    def spring(case: Case) -> int:
        return -1 if case.alloy is None else code["alloy"][id(case.alloy)]

    return Columns(
        feature_sets=[dict(key) for key in sets],
        design=design,
        compound=np.array([code["compound"][item.compound] for item in designs]),
        fluid=np.array([code["fluid"][duty.fluid] for duty in duties]),
        alloy=np.array([spring(case) for case in cases]),
        elastomer=np.array([-1 if case.elastomer is None else code["elastomer"][id(case.elastomer)] for case in cases]),
        shaft_material=np.array([code["material"].get(duty.shaft.material or "", -1) for duty in duties]),
        lubrication=np.array([LUBRICATIONS.index(case.lubrication) for case in cases]),
        lead=np.array([LEADS.index(duty.shaft.machining_lead or "not_stated") for duty in duties]),
        dirt=np.array([DIRT.index(duty.contaminants or "not_stated") for duty in duties]),
        food_contact=np.array([duty.food_contact for duty in duties]),
        **{
            name: numbers(name)
            for name in (
                "shaft_diameter", "rotational_speed", "surface_speed", "peak_speed", "pressure", "temperature_min",
                "temperature", "temperature_max", "runout", "offset", "hardness", "roughness",
            )
        },
        dimensions=dimensions,
    )  # fmt: skip
