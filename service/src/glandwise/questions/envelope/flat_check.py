"""Envelope checks of a flat table: column by column what a single check says case by case, without its words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from glandwise.case import flat as corpus
from glandwise.case.flat_cells import Cells
from glandwise.case.rows import codes_of
from glandwise.questions import report
from glandwise.questions.arrays import Codes, Floats, Truths
from glandwise.questions.envelope import evaluation as batch
from glandwise.questions.envelope import operation as envelope
from glandwise.rules.model import RuleSetData
from glandwise.units import UnitSystem, from_si


@dataclass(frozen=True)
class Judged:
    """The criteria of every row of a table; a row that is refused has none."""

    ids: list[str]
    faults: dict[int, str]
    """Row and fault of those that are refused."""
    index: Codes
    """Rows of the table that were judged; the arrays below have one entry for each."""
    verdict: Codes
    """Code into :data:`glandwise.questions.envelope.evaluation.STATUSES`."""
    governing: Codes
    """Code into ``criteria``."""
    criteria: tuple[str, ...]
    status: Mapping[str, Codes]
    """Code into :data:`glandwise.questions.envelope.evaluation.STATUSES`, by criterion."""
    numbers: Mapping[str, Floats]
    """Numbers by column heading; not finite where there is none."""
    cautions: Mapping[str, Truths]
    """Whether a caution applies, by its id."""


def judge(data: RuleSetData, table: Mapping[str, Cells], units: UnitSystem) -> Judged:
    """Judge every row of a table. Raises :class:`glandwise.case.flat.ColumnError`."""
    flat = corpus.read(data, table)
    found = batch.evaluate(data, flat.rows)
    numbers: dict[str, Floats] = {}
    for name in found.criteria:
        if name not in found.utilization:
            continue
        numbers[f"{name}.utilization"] = found.utilization[name]
        dimension = envelope.DIMENSION[name]
        for part, column in (("demand", found.demand[name]), ("capacity", found.capacity[name])):
            numbers[f"{name}.{part} [{units.units[dimension]}]"] = from_si(column, dimension, units.units[dimension])
    numbers[f"friction_torque [{units.units['torque']}]"] = from_si(found.torque, "torque", units.units["torque"])
    return Judged(
        ids=flat.ids,
        faults=flat.faults,
        index=flat.index,
        verdict=found.verdict,
        governing=found.governing,
        criteria=found.criteria,
        status=found.status,
        numbers=numbers,
        cautions=_cautions(data, found),
    )


def _cautions(data: RuleSetData, found: batch.Evaluation) -> dict[str, Truths]:
    rows, fluids = found.rows, codes_of(data).records["fluids"]
    hazards = [frozenset(fluid.hazards) for fluid in fluids]
    nothing = np.zeros(len(rows))
    contact = found.demand.get("contact_temperature", nothing)
    without_balance = np.isposinf(found.utilization.get("contact_temperature", nothing))
    rubbing = np.where(without_balance, np.inf, np.nan_to_num(contact))
    hottest = np.maximum(rows["temperature_max"], rubbing)
    return {
        trigger.id: trigger.applies(
            np.array([not trigger.hazards.isdisjoint(some) for some in hazards])[rows["fluid"]],
            np.abs(rows["pressure"]),
            rows["temperature_min"],
            hottest,
            rows["food_contact"] != 0,
        )
        for trigger in report.triggers(data)
    }
