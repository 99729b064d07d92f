"""The power of the laws that take the engine: changes to it that no seal could follow, and how many they catch.

The formulas run as machine code, so each change is made where that is called: to the numbers of the rules, to the cases of
some criteria, or to what comes out. Run by hand with ``python -m tests.rules.test_law_power``, which says of each change
which laws it breaks.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import numpy as np
import pytest
from glandwise.case.numbers import Rules
from glandwise.contract.audit import RuleSetAuditRequest
from glandwise.questions.envelope import judge
from glandwise.questions.envelope.kernel import IDS
from glandwise.review import audit
from glandwise.rules.loader import RuleStore

DATA = RuleStore().trees["baseline"].newest().data
SAMPLES = RuleSetAuditRequest.model_fields["samples"].default
ENOUGH = 8
"""Changes of ten that must be caught."""

Run = Callable[[Any, Rules], Any]
"""Judges some cases under some numbers of rules."""


class Change(NamedTuple):
    """A change to the engine."""

    title: str
    judged: Callable[[Run, Any, Rules], Any]
    """Judges cases as the changed engine would."""


def _measures(run: Run, rows: Any, rules: Rules, names: Sequence[str], **fields: Any) -> Any:
    """Judge cases with some criteria, and wear where none of them is named, taken from cases with other numbers."""
    out, other = run(rows.copy(), rules), rows.copy()
    for name, values in fields.items():
        other[name] = values
    changed = run(other, rules)
    for name in names:
        for part in ("demand", "capacity", "utilization", "which"):
            out[part][:, IDS.index(name)] = changed[part][:, IDS.index(name)]
    return out


def _times(run: Run, rows: Any, rules: Rules, name: str, factor: Any) -> Any:
    """Judge cases with the demand of a criterion times a factor."""
    out = run(rows.copy(), rules)
    for part in ("demand", "utilization"):
        out[part][:, IDS.index(name)] *= factor
    return out


def _worn_slower(run: Run, rows: Any, rules: Rules) -> Any:
    out = run(rows.copy(), rules)
    v = np.maximum(rows["surface_speed"], 1e-3)
    out["wear_rate"] /= v * v
    out["life"] *= v * v
    return out


def _relaxing_in_the_cold(run: Run, rows: Any, rules: Rules) -> Any:
    compounds = rules.compounds.copy()  # type: ignore[attr-defined]
    compounds["relaxation"]["activation_energy"] *= -1.0
    return run(rows.copy(), rules._replace(compounds=compounds))


def _keeping_the_heat(run: Run, rows: Any, rules: Rules) -> Any:
    shafts = rules.shaft_materials.copy()  # type: ignore[attr-defined]
    shafts["thermal_conductivity"] = 2500.0 / shafts["thermal_conductivity"]
    return run(rows.copy(), rules._replace(shaft_materials=shafts))


TEN = (
    Change("the lip wears more slowly the faster it runs", _worn_slower),
    Change("heat shifts the relaxation to longer times", _relaxing_in_the_cold),
    Change("pressure presses the lip a tenth less above 100 bar", lambda run, rows, rules: _measures(
        run, rows, rules, ("contact_pressure_velocity", "contact_temperature"),
        pressure=np.where(rows["pressure"] > 1e7, 0.9 * rows["pressure"], rows["pressure"]))),
    Change("a shaft that conducts better keeps the heat", _keeping_the_heat),
    Change("an offset takes nothing of the runout that is followed", lambda run, rows, rules: _measures(
        run, rows, rules, ("runout",), offset=0.0)),
    Change("a dip of a tenth in the contact PV between 12 and 13 m/s", lambda run, rows, rules: _times(
        run, rows, rules, "contact_pressure_velocity",
        np.where((rows["surface_speed"] > 12.0) & (rows["surface_speed"] < 13.0), 0.9, 1.0))),
    Change("a step of a third in the root stress at 90 degC", lambda run, rows, rules: _times(
        run, rows, rules, "lip_stress", np.where(rows["temperature_max"] > 363.15, 4.0 / 3.0, 1.0))),
    Change("pressure from the fluid side counts as a vacuum", lambda run, rows, rules: _measures(
        run, rows, rules, ("vacuum",), pressure=-np.abs(rows["pressure"]))),
    Change("PV is derated for the coldest temperature", lambda run, rows, rules: _measures(
        run, rows, rules, ("contact_pressure_velocity",), temperature_max=rows["temperature_min"])),
    Change("a lip follows the more runout the faster it runs", lambda run, rows, rules: _measures(
        run, rows, rules, ("runout",), rotational_speed=400.0 / np.maximum(rows["rotational_speed"], 0.1))),
)  # fmt: skip


def caught(change: Change) -> list[str]:
    """Return the laws that fail with a change to the engine."""
    over_rows = judge.over_rows

    def changed(kernel: Any, tables: tuple[Any, Any], numbers: Rules, gland: Any) -> Any:
        def run(cases: Any, rules: Rules) -> Any:
            return over_rows(kernel, (cases, np.zeros_like(tables[1])), rules, gland)

        return change.judged(run, tables[0], numbers)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(judge, "over_rows", changed)
        return [row["id"] for row in audit.audit(DATA, SAMPLES, 1) if row["status"] == "fail"]


@pytest.mark.slow
def test_most_unphysical_changes_are_caught_at_the_default_sample_count() -> None:
    found = {change.title: caught(change) for change in TEN}
    assert len(found) == 10
    assert sum(bool(broken) for broken in found.values()) >= ENOUGH, found


@pytest.mark.slow
def test_the_engine_as_it_is_breaks_none() -> None:
    assert caught(Change("nothing", lambda run, rows, rules: run(rows.copy(), rules))) == []


if __name__ == "__main__":
    for change in TEN:
        print(f"{change.title}: {', '.join(caught(change)) or 'not caught'}", flush=True)
