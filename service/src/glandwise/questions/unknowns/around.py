"""Gland and thermal fit of a judged design over rows in which some of what is open is set.

The hardware stays as it is stated and as the answer proposes it, O-ring, groove and clamp force included; what is set takes
the place of single numbers of it. The rules by which a criterion becomes a status are those of
:mod:`glandwise.questions.gland` and :mod:`glandwise.questions.thermal_fit`; a test holds the verdicts to theirs.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import NamedTuple

import numpy as np
from pydantic_core import PydanticCustomError

from glandwise.case.choices import Retention
from glandwise.case.hardware_intake import resolve, strain_range
from glandwise.contract.gland import BoreClass, check_gland_fits
from glandwise.patience import go_on
from glandwise.questions.arrays import Codes, Column, Floats, Table, Truths
from glandwise.questions.envelope import evaluation as batch
from glandwise.questions.envelope import operation as envelope
from glandwise.questions.gland import judge as glands
from glandwise.questions.gland import kernel as of_gland
from glandwise.questions.gland.operation import TEMPERATURES, GlandJudged
from glandwise.questions.thermal_fit import judge as fits
from glandwise.questions.thermal_fit import kernel as of_fit
from glandwise.questions.thermal_fit.operation import ThermalJudged, grid_over

GLAND, FIT = "gland", "thermal_fit"


class Outcome(NamedTuple):
    """Verdicts of one part over rows."""

    verdict: Codes
    governing: Codes
    """Position of the criterion that decides; -1 where nothing could be judged."""
    criteria: tuple[str, ...]
    measured: Floats | None = None
    """All that the verdicts hang on, one column a row."""

    @property
    def is_moved(self) -> bool:
        """Whether the rows differ in anything that a verdict hangs on."""
        if self.measured is None:
            return True
        first = self.measured[:, :1]
        return not bool(((self.measured == first) | (np.isnan(self.measured) & np.isnan(first))).all())


class Around:
    """What surrounds a judged seal."""

    def __init__(self, gland: GlandJudged | None, fit: ThermalJudged | None) -> None:
        """One of the two is there: a part that could not be answered is not asked about."""
        judged = gland or fit
        assert judged is not None
        self.judged: GlandJudged = judged
        self.data = judged.case.data
        self.row = judged.hardware_rows.copy()
        """The hardware as machine code takes it, with what it chose, as a table of one row."""
        self.now = {
            name: batch.STATUSES.index(envelope.verdict(found.findings))
            for name, found in ((GLAND, gland), (FIT, fit))
            if found is not None
        }
        """Verdicts as told, by part."""
        self._known = strain_range(self.data)

    def rows(self, count: int, fields: Mapping[str, float | Column]) -> Table:
        """Return so many rows of the hardware with some fields set."""
        rows = np.repeat(self.row, count)
        for name, values in fields.items():
            rows[name] = values
        return rows

    @property
    def is_heel_of_lip(self) -> bool:
        """Whether the lip itself is what bridges the gap."""
        return self.judged.case.family == "flexible_lip" and self.judged.gland.heel_thickness is None

    def with_bore(self, diameter: float) -> Table | None:
        """Return the hardware for a bore [m], whatever was proposed of it proposed anew; ``None`` where none goes with it."""
        j = self.judged
        duty = j.duty.model_copy(update={"bore": j.duty.bore.model_copy(update={"diameter": diameter})})
        try:
            check_gland_fits(duty, j.design, j.gland)
            row: Table = resolve(j.case, duty, j.gland).row()
        except PydanticCustomError:
            return None
        return row

    def with_bore_class(self, name: str) -> Table | None:
        """Return the hardware with a bore of a tolerance class; ``None`` where the tables do not hold it."""
        j = self.judged
        gland = j.gland.model_copy(update={"bore_tolerance": BoreClass(kind="class", name=name)})
        try:
            numbers = resolve(j.case, j.duty, gland).numbers
        except PydanticCustomError:
            return None
        return self.rows(1, {field: numbers[field] for field in ("bore_low", "bore_high")})

    def over(
        self, found: batch.Evaluation, hardware: Table, parts: Collection[str] = (GLAND, FIT)
    ) -> dict[str, Outcome]:
        """Judge cases of which the envelope was evaluated, each with its row of the hardware."""
        go_on()
        cases, j = found.rows, self.judged
        out = glands.measured(self.data, cases, hardware, j.compounds)
        low, high = self._known
        unknown = (cases["temperature_min"] < low) | (cases["temperature_max"] > high) | (out["beyond"] == 1.0)
        told = {}
        if GLAND in parts and GLAND in self.now:
            told[GLAND] = self._concluded(found, unknown, self._of_gland(out, j.criteria))
        if FIT in parts and FIT in self.now:
            told[FIT] = self._concluded(found, unknown, self._of_fit(cases, hardware, out, unknown))
        return told

    def _of_gland(self, out: Table, names: Collection[str]) -> dict[str, tuple[Floats, Codes]]:
        """Return use and status codes of the criteria of a gland."""
        found = {}
        for name in names:
            used = out["utilization"][:, of_gland.IDS.index(name)]
            codes = batch.status_codes(used, self.data.criteria[name].caution_at.si)
            if name == "seal_rotation" and self.judged.is_holding_proposed:
                # nothing that is made up fails a seal
                codes = np.minimum(codes, batch.CAUTION)
            if name == "extrusion_gap":
                demand, flow = out["demand"][:, of_gland.IDS.index(name)], out["flow"][:, 1:].min(axis=1)
                codes = np.where((codes == batch.PASS) & (demand > flow), batch.CAUTION, codes)
            found[name] = used, codes
        return found

    def _of_fit(self, cases: Table, hardware: Table, out: Table, unknown: Truths) -> dict[str, tuple[Floats, Codes]]:
        """Return use and status codes of the criteria of a thermal fit; the worst over the temperatures of each case."""
        j, count = self.judged, len(cases)
        worst = np.full((count, len(of_fit.IDS)), np.nan)
        for i in np.flatnonzero(~unknown):
            one, case = slice(i, i + 1), cases[i]
            grid = grid_over(self.data, *(float(case[f"temperature{end}"]) for end in ("_min", "", "_max")))
            worst[i] = fits.measured(self.data, grid, cases[one], hardware[one], j.compounds)["utilization"].max(axis=0)
        passes = np.full(count, -1.0), np.full(count, batch.PASS)
        found = {"energizer_deflection": passes, "body_in_bore": passes}
        held = ["lip_interference", *(["energizer_deflection"] if j.case.energizer is not None else [])]
        if j.retention == Retention.o_ring:
            held.append("body_in_bore")  # not known without a ring
        elif j.retention == Retention.press_fit_case:
            found["body_in_bore"] = self._of_gland(out, ["press_fit"])["press_fit"]
        for name in held:
            used = worst[:, of_fit.IDS.index(name)]
            found[name] = used, batch.status_codes(used, self.data.criteria[name].caution_at.si)
        return found

    def _concluded(
        self, found: batch.Evaluation, unknown: Truths, measured: dict[str, tuple[Floats, Codes]]
    ) -> Outcome:
        """Turn the criteria of a part into its verdicts; temperatures are judged as in the envelope."""
        measured = {name: (found.utilization[name], found.status[name]) for name in TEMPERATURES} | measured
        criteria = tuple(name for name in self.data.criteria if name in measured)
        used = np.array([measured[name][0] for name in criteria])
        codes = np.array([measured[name][1] for name in criteria])
        verdict, governing = batch.verdict_of(codes, np.where(np.isnan(used), -1.0, used))
        verdict, governing = np.where(unknown, batch.NOT_EVALUATED, verdict), np.where(unknown, -1, governing)
        return Outcome(verdict, governing, criteria, np.concatenate([used, codes, unknown[None]]))
