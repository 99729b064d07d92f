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

from glandwise.checks import envelope, wear
from glandwise.checks.banks import AlloyBank, CompoundBank, DatumBank, ElastomerBank, ShaftMaterialBank
from glandwise.checks.case import Case, changed, feature_key, ratings, second_lip_share, size_garter
from glandwise.checks.once import OncePerRuleSet
from glandwise.contract.duty import Duty
from glandwise.mechanics import numeric as num
from glandwise.rules.model import CAPACITY_DIMENSION, Compatibility, RuleSetData

Codes = Any
"""Integer array."""

LUBRICATIONS = ("dry", "boundary", "lubricated")
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
    ``feature_sets``, whose entries are features as :func:`glandwise.checks.case.features_of` gives them, less
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
    shaft_diameter: num.Array
    rotational_speed: num.Array
    surface_speed: num.Array
    peak_speed: num.Array
    pressure: num.Array
    temperature_min: num.Array
    temperature: num.Array
    temperature_max: num.Array
    runout: num.Array
    offset: num.Array
    hardness: num.Array
    roughness: num.Array
    dimensions: dict[str, num.Array] = field(default_factory=dict)
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
    demand: dict[str, num.Array]
    capacity: dict[str, num.Array]
    utilization: dict[str, num.Array]
    status: dict[str, Codes]
    verdict: Codes
    governing: Codes
    """Index into ``criteria``."""
    torque: num.Array
    """Nominal friction torque [N m]; ``nan`` where the contact temperature was not evaluated."""
    wear_rate: num.Array
    """Nominal wear of the lip in depth per time, at the start [m/s]; ``nan`` where it is not known."""
    life: num.Array
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


def _energizer_kind(features: Mapping[str, Any]) -> str | None:
    if features["family"] == "energized_lip":
        kind: str = features["energizer"]
        return kind
    return "garter" if features.get("lip_tip") == "upturned_with_garter" else None


def _sized(given: num.Array | None, value: num.Array) -> num.Array:
    return value if given is None else np.where(np.isnan(given), value, given)


def _capacities(data: RuleSetData, c: Columns, lubrication: str, filled: Any) -> dict[str, num.Array]:
    """Rated capacities of every case: looked up once per combination of features, gathered."""
    combinations, inverse = np.unique(c.design * 2 + filled, return_inverse=True)
    tables = [
        ratings(data, {**c.feature_sets[code // 2], "lubrication": lubrication, "filled": bool(code % 2)})
        for code in combinations.tolist()
    ]
    found: dict[str, num.Array] = {}
    for name in CAPACITY_DIMENSION:
        speed = c.peak_speed if name in {"surface_speed", "pressure", "vacuum"} else c.surface_speed
        rows = [table[name] for table in tables]
        column = np.array([row.at(num.nan).value for row in rows])[inverse]
        for position, row in enumerate(rows):
            if row.falls_with_speed:
                here = np.flatnonzero(inverse == position)
                column[here] = row.at(speed[here]).value
        found[name] = column
    return found


def _case(data: RuleSetData, names: Names, c: Columns, family: str, kind: str | None, lubrication: str) -> Case:
    """Set one group up as a case of arrays."""
    sizing: Any = data.sizing.flexible_lip if family == "flexible_lip" else data.sizing.energized_lip
    d = c.shaft_diameter
    given = c.dimensions

    def by_diameter(record: Any) -> num.Array:
        result: num.Array = np.interp(d, record.array_x, record.array_y)
        return result

    def feature(name: str, convert: Any) -> Any:
        table = np.array([convert(entry.get(name)) for entry in c.feature_sets])
        return table[c.design]

    width_factor: Any = 1.0
    load_factor: Any = np.ones(len(c))
    second: Any = np.zeros(len(c))
    if family == "energized_lip":
        forms = data.sizing.lip_forms
        width_factor = feature("lip_form", lambda form: forms[form].contact_width_factor.si if form else num.nan)
        load_factor = feature("lip_form", lambda form: forms[form].load_factor.si if form else num.nan)
    else:
        second = feature("second_lip", lambda lip: second_lip_share(data, lip or "none"))
    thickness = _sized(given.get("lip_thickness"), by_diameter(sizing.lip_thickness))
    compounds = [data.compounds[name] for name in names.compounds]
    materials = [data.shaft_materials[name] for name in names.shaft_materials]
    conductivities = [record.thermal_conductivity for record in materials]
    films = [getattr(data.running.fluid_film, data.fluids[name].phase) for name in names.fluids]
    alloy: Any = None
    dimensions: dict[str, num.Array] = {}
    if kind == "garter":
        alloy = data.alloys[data.sizing.garter_alloy.name]
        usual = size_garter(data, d, thickness)
    elif kind is not None:
        alloy = AlloyBank([data.alloys[name] for name in names.alloys], c.alloy)
        usual = _usual_energizer(data, kind, by_diameter)
    if kind is not None:
        for name in DIMENSIONS[kind]:
            dimensions[name] = _sized(given.get(f"{kind}.{name}"), usual[name] + 0.0 * d)
    banded = feature("reinforcing_band", bool)
    return Case(
        data=data,
        features={"family": family, "reinforcing_band": banded},
        compound=CompoundBank(compounds, c.compound),  # type: ignore[arg-type]
        fluid=None,  # type: ignore[arg-type]
        lubrication=lubrication,
        alloy=alloy,
        elastomer=ElastomerBank([data.elastomers[name] for name in names.elastomers], c.elastomer),  # type: ignore[arg-type]
        shaft_material=ShaftMaterialBank(materials, c.shaft_material),  # type: ignore[arg-type]
        family=family,
        energizer=kind,
        shaft_diameter=d,
        rotational_speed=c.rotational_speed,
        surface_speed=c.surface_speed,
        peak_speed=c.peak_speed,
        pressure=c.pressure,
        temperature_min=c.temperature_min,
        temperature=c.temperature,
        temperature_max=c.temperature_max,
        runout=c.runout,
        offset=c.offset,
        hardness=c.hardness,
        roughness=c.roughness,
        friction=DatumBank([getattr(record.friction, lubrication) for record in compounds], c.compound),  # type: ignore[arg-type]
        wear=DatumBank([getattr(record.wear, lubrication) for record in compounds], c.compound),  # type: ignore[arg-type]
        fluid_film=DatumBank(films, c.fluid),  # type: ignore[arg-type]
        shaft_conductivity=DatumBank([*conductivities, data.running.shaft_conductivity], c.shaft_material),  # type: ignore[arg-type]
        second_lip_share=second,
        lip_thickness=thickness,
        lip_length=_sized(given.get("lip_length"), by_diameter(sizing.lip_length)),
        interference=_sized(given.get("interference"), by_diameter(sizing.interference)),
        contact_width=_sized(given.get("contact_width"), by_diameter(sizing.contact_width) * width_factor),
        load_factor=load_factor,
        dimensions=dimensions,
        capacities=_capacities(data, c, lubrication, names.filled[c.compound]),
    )


def _usual_energizer(data: RuleSetData, kind: str, by_diameter: Any) -> dict[str, Any]:
    s = data.sizing.energized_lip
    if kind == "cantilever_v":
        return {
            "thickness": by_diameter(s.strip_thickness),
            "length": by_diameter(s.finger_length),
            "root_angle": s.finger_angle.si,
            "coverage": s.finger_coverage.si,
            "deflection": by_diameter(s.finger_deflection),
        }
    wire, height = by_diameter(s.coil_wire_diameter), by_diameter(s.coil_height)
    return {
        "wire_diameter": wire,
        "height": height,
        "width": s.coil_width_ratio.si * height,
        "pitch": s.coil_pitch_ratio.si * wire,
        "cant_angle": s.coil_cant_angle.si,
        "deflection": s.coil_deflection_share.si * height,
    }


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


def group(c: Columns) -> list[tuple[str, str | None, str, Any]]:
    """Return family, energizer kind, lubrication and case indices of each group of cases that share their formulas."""
    kinds = [(entry["family"], _energizer_kind(entry)) for entry in c.feature_sets]
    order = list(dict.fromkeys(kinds))
    code = np.array([order.index(kind) for kind in kinds])[c.design] * len(LUBRICATIONS) + c.lubrication
    return [
        (
            *order[int(value) // len(LUBRICATIONS)],
            LUBRICATIONS[int(value) % len(LUBRICATIONS)],
            np.flatnonzero(code == value),
        )
        for value in np.unique(code)
    ]


def evaluate(data: RuleSetData, c: Columns) -> Evaluation:
    """Evaluate every criterion of every case."""
    names, n = names_of(data), len(c)
    numeric = tuple(name for name in envelope.NUMERIC if name in data.criteria)
    demand = {name: np.full(n, num.nan) for name in numeric}
    limit = {name: np.full(n, num.nan) for name in numeric}
    used = {name: np.full(n, num.nan) for name in numeric}
    torque, wear_rate, life = (np.full(n, num.nan) for _ in range(3))
    for family, kind, lubrication, index in group(c):
        case = _case(data, names, c.take(index), family, kind, lubrication)
        with np.errstate(all="ignore"):
            for name, m in envelope.measure(case, numeric).items():
                demand[name][index], limit[name][index], used[name][index] = m.demand, m.capacity, m.utilization
            if case.running is not None:
                torque[index] = case.running.torque
                if (wearing := wear.nominal(case, case.running)) is not None:
                    wear_rate[index], life[index] = wearing
    return _conclude(data, demand, limit, used, _categorical(names, c), torque, wear_rate, life)


def vary(case: Case, findings: Sequence[envelope.Finding], **numbers: num.Array) -> Evaluation:
    """Evaluate one case at many values of some numbers of its duty (arrays of one length, by field of the case).

    ``findings`` are those of the case as it stands: criteria without numbers do not vary and are taken from there.
    """
    n = len(next(iter(numbers.values())))
    names = tuple(name for name in envelope.NUMERIC if name in case.data.criteria)
    varied = changed(case, **numbers)
    with np.errstate(all="ignore"):
        found = envelope.measure(varied, names)
        state = varied.running
        wearing = None if state is None else wear.nominal(varied, state)

    def column(value: num.Real) -> num.Array:
        return np.array(np.broadcast_to(np.asarray(value, dtype=float), n))

    categorical = {item.id: np.full(n, STATUSES.index(item.status)) for item in findings if item.measure is None}
    if "fluid_compatibility" in categorical and {"temperature_min", "temperature_max"} & numbers.keys():
        status, known = envelope.compatibility_at(case, column(varied.temperature_min), column(varied.temperature_max))
        code = STATUSES.index(status)
        categorical["fluid_compatibility"] = np.maximum(code, np.where(known, PASS, NOT_EVALUATED))
    return _conclude(
        case.data,
        {name: column(m.demand) for name, m in found.items()},
        {name: column(m.capacity) for name, m in found.items()},
        {name: column(m.utilization) for name, m in found.items()},
        categorical,
        column(num.nan if state is None else state.torque),
        *(column(value) for value in ((num.nan, num.nan) if wearing is None else wearing)),
    )


def _conclude(
    data: RuleSetData,
    demand: dict[str, num.Array],
    limit: dict[str, num.Array],
    used: dict[str, num.Array],
    categorical: Mapping[str, Codes],
    torque: num.Array,
    wear_rate: num.Array,
    life: num.Array,
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
    criteria: tuple[str, ...], status: Mapping[str, Codes], used: Mapping[str, num.Array], n: int
) -> tuple[Codes, Codes]:
    """Verdict and governing criterion, by the same rule as a single check."""
    table = np.array([status[name] for name in criteria]).reshape(len(criteria), n)
    load = np.array([used.get(name, np.full(n, num.nan)) for name in criteria]).reshape(len(criteria), n)
    decided = np.where(table == NOT_EVALUATED, -1, table)
    worst = decided.max(axis=0)
    missing = (table == NOT_EVALUATED).any(axis=0)
    verdict = np.where(worst < 0, NOT_EVALUATED, np.where((worst == PASS) & missing, CAUTION, worst))
    ranked = np.where(worst < 0, table == NOT_EVALUATED, decided == worst)
    score = np.where(ranked, np.where(np.isnan(load), -1.0, load), -np.inf)
    return verdict, np.argmax(score, axis=0)


def columns(data: RuleSetData, cases: Sequence[Case], duties: Sequence[Duty], designs: Sequence[Any]) -> Columns:
    """Put single cases, as :func:`glandwise.checks.case.build` makes them, into columns."""
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
    dimensions: dict[str, num.Array] = {
        name: np.array([getattr(case, name) for case in cases], dtype=float)
        for name in ("lip_thickness", "lip_length", "interference", "contact_width")
    }
    for kind, parts in DIMENSIONS.items():
        for part in parts:
            column = [case.dimensions[part] if case.energizer == kind else num.nan for case in cases]
            if not np.isnan(column).all():
                dimensions[f"{kind}.{part}"] = np.array(column, dtype=float)

    def numbers(name: str) -> num.Array:
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
