"""Many cases in one pass: the envelope over a table of rows.

:func:`evaluate` fills rows in, runs the machine code of a single check over them, and returns demand, capacity, utilization
and status of every criterion. Selection, operating maps, tables and comparisons of rule sets all run on it; that it agrees
with single checks is a test.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from glandwise.case import record
from glandwise.case.choices import Dirt, Lead, LipForm, SecondLip
from glandwise.case.intake import Case
from glandwise.case.rows import Table, fill, row_of
from glandwise.patience import go_on
from glandwise.questions.arrays import Codes, Column, Floats, Numbers, Truths
from glandwise.questions.envelope import judge, kernel
from glandwise.questions.envelope import operation as envelope
from glandwise.rules.model import Compatibility, RuleSetData
from glandwise.rules.once import OncePerRuleSet

Array = NDArray[np.float64]
Some = TypeVar("Some", NDArray[np.float64], NDArray[np.integer])
STATUSES = ("pass", "not_evaluated", "caution", "fail")
"""Status by code; a higher code is worse."""
PASS, NOT_EVALUATED, CAUTION, FAIL = range(4)


class Verdicts:
    """What the names of a rule set say of each other, by their codes."""

    def __init__(self, data: RuleSetData) -> None:
        fluids, compounds = data.fluids.values(), data.compounds.values()
        self.is_food = np.array([fluid.category == "food" for fluid in fluids])
        self.is_abrasive = np.array(["abrasive" in fluid.hazards for fluid in fluids])
        self.coldest, self.hottest = np.array([envelope.known_range(fluid) for fluid in fluids]).T
        self.food = np.array([_FOOD[envelope.food_standing(compound, data)] for compound in compounds])
        tables = [fluid.compatibility for fluid in fluids]
        self.on_compound = np.array(
            [
                [
                    max(_code(t.ptfe), *(_code(t.fillers.get(filler)) for filler in compound.fillers), PASS)
                    for compound in compounds
                ]
                for t in tables
            ]
        )
        # the last column stands for "none of these in the design"
        self.on_alloy = np.array([[*(_code(t.alloys.get(name)) for name in data.alloys), PASS] for t in tables])
        self.on_elastomer = np.array(
            [[*(_code(t.elastomers.get(name)) for name in data.elastomers), PASS] for t in tables]
        )


_FOOD = {"base_resin_listed": CAUTION, "candidate": CAUTION, "not_a_candidate": FAIL, "not_known": NOT_EVALUATED}


def _code(verdict: Compatibility | None) -> int:
    return {"compatible": PASS, None: NOT_EVALUATED, "caution": CAUTION, "incompatible": FAIL}[verdict]


verdicts_of = OncePerRuleSet(Verdicts, ("fluids", "compounds", "alloys", "elastomers", "fillers"))


@dataclass
class Evaluation:
    """Criteria of many cases."""

    rows: Table
    """The cases, filled in."""
    criteria: tuple[str, ...]
    """Identifiers in the order of the rule set."""
    demand: dict[str, Array]
    capacity: dict[str, Array]
    utilization: dict[str, Array]
    status: Mapping[str, Codes]
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

    def take(self, index: slice | Codes | Truths) -> Evaluation:
        """Return what was found of some of the cases."""

        def some(columns: Mapping[str, Some]) -> dict[str, Some]:
            return {name: column[index] for name, column in columns.items()}

        return Evaluation(
            rows=record.chosen(self.rows, index),
            criteria=self.criteria,
            demand=some(self.demand),
            capacity=some(self.capacity),
            utilization=some(self.utilization),
            status=some(self.status),
            verdict=self.verdict[index],
            governing=self.governing[index],
            torque=self.torque[index],
            wear_rate=self.wear_rate[index],
            life=self.life[index],
        )


# rows: dirt, where it is not stated clean air; columns: not guarded, guarded
_CLEAN = (("pass", ""), ("pass", ""))
_KEPT_OUT = np.array(
    [[STATUSES.index(status) for status, _ in envelope.KEPT_OUT.get(dirt.name, _CLEAN)] for dirt in Dirt]
)
_LEADS = np.array([NOT_EVALUATED, PASS, FAIL])
assert len(_LEADS) == len(Lead)


def guarded(rows: Table) -> Truths:
    """Return where a design keeps out the dirt that comes from the air side."""
    found: Truths = (rows["second_lip"] == SecondLip.excluder) | (rows["lip_form"] == LipForm.scraper)
    return found


def _of_materials(data: RuleSetData, rows: Table) -> Codes:
    """Return what the fluid does to compound, alloy and elastomer, as codes; one row each."""
    names, fluid = verdicts_of(data), rows["fluid"]
    return np.array(
        [
            names.on_compound[fluid, rows["compound"]],
            names.on_alloy[fluid, rows["alloy"]],
            names.on_elastomer[fluid, rows["elastomer"]],
        ]
    )


def doubtful(data: RuleSetData, rows: Table) -> Codes:
    """Return how many materials of a design are not known to stand the fluid."""
    count: Codes = (_of_materials(data, rows) != PASS).sum(axis=0)
    return count


def _categorical(data: RuleSetData, rows: Table) -> dict[str, Codes]:
    """Status codes of the criteria without numbers."""
    names, fluid, compound = verdicts_of(data), rows["fluid"], rows["compound"]
    compatible = _of_materials(data, rows).max(axis=0)
    # what is known of a fluid holds in its range of temperature
    known = (rows["temperature_min"] >= names.coldest[fluid]) & (rows["temperature_max"] <= names.hottest[fluid])
    compatible = np.maximum(compatible, np.where(known, PASS, NOT_EVALUATED))
    asked = (rows["food_contact"] != 0) | names.is_food[fluid]
    return {
        "fluid_compatibility": compatible,
        "food_contact": np.where(asked, names.food[compound], PASS),
        "shaft_lead": _LEADS[rows["lead"]],
        "contaminants": np.maximum(
            _KEPT_OUT[rows["dirt"], guarded(rows).astype(int)], np.where(names.is_abrasive[fluid], CAUTION, PASS)
        ),
    }


def evaluate(data: RuleSetData, rows: Table, order: Codes | None = None) -> Evaluation:
    """Evaluate every criterion of every case; ``rows`` are left as they are, and filled in where they are open.

    ``order``, where it is given, brings cases together that differ in what they are rated for only: they are quicker so.
    """
    go_on()
    filled = fill(data, record.copied(rows))
    out = judge.measured(data, filled) if order is None else judge.measured_in(order, data, filled)
    return _conclude(data, filled, out, _categorical(data, filled))


def vary(
    case: Case, findings: Sequence[envelope.Finding], columns: Mapping[str, Column], again: Iterable[str] = ()
) -> Evaluation:
    """Evaluate one case in many ways of stating its duty (arrays of one length, by field of the case); its sizes stay.

    Lead, dirt and the temperatures over which compatibility is known are those of each row; food is that of ``findings``.
    ``again`` are fields that are worked out again for each row.
    """
    go_on()
    one, compounds = row_of(case)
    rows = np.repeat(one, len(next(iter(columns.values()))))
    for name, values in columns.items():
        rows[name] = values
    if open_ := tuple(again):
        for name in open_:
            rows[name] = np.nan
        fill(case.data, rows, compounds)
    out = judge.measured(case.data, rows, compounds)
    status, known = envelope.compatibility_at(case, rows["temperature_min"], rows["temperature_max"])
    solids = CAUTION if "abrasive" in case.fluid.hazards else PASS
    food = next((STATUSES.index(item.status) for item in findings if item.id == "food_contact"), PASS)
    categorical = {
        "fluid_compatibility": np.maximum(STATUSES.index(status), np.where(known, PASS, NOT_EVALUATED)),
        "food_contact": np.full(len(rows), food),
        "shaft_lead": _LEADS[rows["lead"]],
        "contaminants": np.maximum(_KEPT_OUT[rows["dirt"], guarded(rows).astype(int)], solids),
    }
    return _conclude(case.data, rows, out, categorical)


def _conclude(data: RuleSetData, rows: Table, out: Table, categorical: Mapping[str, Codes]) -> Evaluation:
    """Turn what machine code found and the status codes of the criteria without numbers into verdicts."""
    at = [k for k, name in enumerate(kernel.IDS) if name in data.criteria]
    names = [kernel.IDS[k] for k in at]
    # one row a criterion, so that what is read of one lies together
    demand, capacity, used = (np.ascontiguousarray(out[part].T)[at] for part in ("demand", "capacity", "utilization"))
    caution = np.array([[data.criteria[name].caution_at.si] for name in names])
    criteria = tuple(name for name in data.criteria if name in kernel.IDS or name in categorical)
    table, load = np.empty((len(criteria), len(rows)), np.int8), np.full((len(criteria), len(rows)), -1.0)
    numeric = [criteria.index(name) for name in names]
    table[numeric], load[numeric] = status_codes(used, caution), np.where(np.isnan(used), -1.0, used)
    for name, found in categorical.items():
        if name in data.criteria:
            table[criteria.index(name)] = found
    demands, capacities, uses = (dict(zip(names, part, strict=True)) for part in (demand, capacity, used))
    status = dict(zip(criteria, table, strict=True))
    verdict, governing = verdict_of(table, load)
    return Evaluation(
        rows,
        criteria,
        demands,
        capacities,
        uses,
        status,
        verdict,
        governing,
        out["torque"],
        out["wear_rate"],
        out["life"],
    )


def status_codes(used: Floats, caution: Numbers) -> Codes:
    """Return the status codes of utilizations, by the same rule as a single check."""
    with np.errstate(invalid="ignore"):
        codes = np.where(used > caution * envelope.SLACK, np.int8(CAUTION), np.int8(PASS))
        codes[used > envelope.SLACK] = FAIL
    codes[np.isnan(used)] = NOT_EVALUATED
    return codes


def verdict_of(table: Codes, load: Array) -> tuple[Codes, Codes]:
    """Verdict and governing criterion, by the same rule as a single check; ``load`` is -1 where there is no number."""
    unknown = table == NOT_EVALUATED
    decided = np.where(unknown, np.int8(-1), table)
    worst = decided.max(axis=0)
    nothing = worst < 0
    verdict = np.where(nothing, NOT_EVALUATED, np.where((worst == PASS) & unknown.any(axis=0), CAUTION, worst))
    ranked = np.where(nothing, unknown, decided == worst)
    return verdict, np.argmax(np.where(ranked, load, -np.inf), axis=0)
