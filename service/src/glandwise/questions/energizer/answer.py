"""Load of an energizer, nominal, at the ends of its tolerances, sampled and over its deflection; in SI."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import NamedTuple

import numpy as np

from glandwise.case.bare_energizer import SHAPE
from glandwise.case.choices import EnergizerKind
from glandwise.case.numbers import empty
from glandwise.case.ratings import tables_of
from glandwise.contract.energizer import EnergizerLoadRequest
from glandwise.numerics.compiled import compiled, over_rows, ready
from glandwise.questions import tolerance
from glandwise.questions.arrays import Floats, Row, Table
from glandwise.questions.energizer import kernel
from glandwise.rules.model import Datum, RuleSetData
from glandwise.rules.sourced import Records

_loads = compiled(kernel.loads)
_ranges = compiled(kernel.ranges)
MODULUS = "elastic_modulus"
"""Name under which the scatter of the modulus is reported among the inputs with a tolerance; a factor on the nominal one."""
POINTS = 40
"""Points of the curve."""


def warm() -> None:
    """Compile, or read from disk, all that a request may need; nothing is compiled after that."""
    ready(_loads, SHAPE.table(0), np.zeros(0, kernel.LOADS), empty())
    ready(_ranges, SHAPE.table(0), np.zeros(0, kernel.RANGES), empty())


class Why(StrEnum):
    """What a verdict rests on, the temperature apart."""

    material = "material"
    """Properties of the material are not known."""
    outside = "outside"
    """The dimensions lie outside the range of the model."""
    slack = "slack"
    squeezed = "squeezed"
    """A ring has no strength to be held against."""
    strength = "strength"
    """The yield strength is not known."""
    yields = "yields"
    yields_at_extreme = "yields_at_extreme"
    slack_at_extreme = "slack_at_extreme"
    outside_at_extreme = "outside_at_extreme"
    elastic = "elastic"


class Question(NamedTuple):
    """An energizer as its formulas take it."""

    kind: EnergizerKind
    row: Table
    """The energizer with nominal dimensions, a table of one row."""
    nominal: dict[str, float]
    """Inputs that may have a tolerance."""
    limits: dict[str, tuple[float, float]]
    """Lower and upper value of those that do."""
    pointers: Mapping[str, str]
    """Where the request states a number of the row."""
    material: str | None
    """Name of the alloy or elastomer."""
    lowest: Datum | None
    """Lowest temperature that it stands."""
    highest: Datum | None
    scatter: float
    states_scatter: bool
    """Whether the scatter is that of the request."""
    chosen: Records
    """Records of the rules that chose a name."""


class Answer(NamedTuple):
    """Load of an energizer, in SI; NaN where something is not known."""

    question: Question
    verdict: str
    why: Why
    missing: tuple[str, ...]
    """Properties of the material that are not known at its temperature."""
    beyond: str
    """``below`` or ``above`` the temperatures that the material stands, else empty."""
    nominal: Row
    """Row of what the nominal energizer gives."""
    ranges: Row
    """Row of what holds over its deflections."""
    corners: tolerance.Inputs
    """Inputs at the ends of their tolerances."""
    at_corners: Table
    drawn: Table
    """What the samples give."""
    curve: Table
    deflections: Floats
    sensitivities: list[tolerance.Sensitivity]


class _Loads:
    """Loads of an energizer for any inputs, by machine code."""

    def __init__(self, data: RuleSetData, row: Table) -> None:
        self._rules, self._row = tables_of(data), row

    def __call__(self, inputs: tolerance.Inputs) -> Table:
        """Return what an energizer gives for inputs that are numbers, or columns of as many numbers each."""
        count = max((np.size(value) for value in inputs.values()), default=1)
        rows = np.repeat(self._row, count)
        for name, value in inputs.items():
            rows["modulus_factor" if name == MODULUS else name] = value
        result: Table = over_rows(_loads, (rows, np.zeros(count, kernel.LOADS)), self._rules)
        return result

    def ranges(self) -> Row:
        """Return what holds over the deflections of the nominal energizer."""
        out = np.zeros(1, kernel.RANGES)
        _ranges(self._row, out, self._rules)
        row: Row = out[0]
        return row


def answer(question: Question, request: EnergizerLoadRequest, data: RuleSetData) -> Answer:
    """Return what an energizer gives, nominal, over its tolerances and over its deflection."""
    loads = _Loads(data, question.row)
    nominal, limits, how = question.nominal, question.limits, request.sampling
    here, ranges = loads(nominal)[0], loads.ranges()
    corners = tolerance.corners(nominal, limits)
    at_corners = loads(corners)
    drawn = loads(tolerance.samples(nominal, limits, how.samples, how.seed, how.distribution))
    grid = np.linspace(0.0, np.fmax(ranges["full_deflection"], here["deflection"]), POINTS + 1)[1:]
    along = {name: value for name, value in nominal.items() if name not in {"free_height", "gland_height"}}
    missing = _missing(question, ranges)
    beyond = ""
    if question.lowest is not None and request.temperature < question.lowest.si:
        beyond = "below"
    elif question.highest is not None and request.temperature > question.highest.si:
        beyond = "above"
    verdict, why = _judged(question, here, at_corners, drawn, bool(missing))
    if beyond:
        verdict = "fail"
    elif question.kind == EnergizerKind.o_ring and question.material is None and verdict != "fail":
        verdict = "not_evaluated"
    return Answer(
        question, verdict, why, missing, beyond, here, ranges, corners, at_corners, drawn,
        loads({**along, "deflection": grid}), grid,
        tolerance.sensitivities(lambda x: loads(x)["line_load"][0], nominal, limits),
    )  # fmt: skip


def _missing(question: Question, ranges: Row) -> tuple[str, ...]:
    if question.material is None:
        return ()
    words = {"modulus": ranges["elastic_modulus"]}
    if question.kind != EnergizerKind.o_ring:
        words["yield strength"] = ranges["yield_strength"]
    return tuple(word for word, value in words.items() if not np.isfinite(value))


def _judged(question: Question, here: Row, at_corners: Table, drawn: Table, missing: bool) -> tuple[str, Why]:
    """Judge load and stress, the temperature apart."""
    if not np.isfinite(here["line_load"]):
        return "not_evaluated", Why.material if missing else Why.outside
    if here["line_load"] <= 0.0:
        return "fail", Why.slack
    ring = question.kind == EnergizerKind.o_ring
    if not ring:
        if not np.isfinite(here["stress_limit"]):
            return "not_evaluated", Why.strength
        if here["utilization"] > 1.0:
            return "fail", Why.yields
        if np.nanmax(at_corners["stress"]) / here["stress_limit"] > 1.0:
            return "caution", Why.yields_at_extreme
    if np.nanmin(at_corners["line_load"]) <= 0.0:
        return "caution", Why.slack_at_extreme
    if not (np.isfinite(at_corners["line_load"]).all() and np.isfinite(drawn["line_load"]).all()):
        return "caution", Why.outside_at_extreme
    return "pass", Why.squeezed if ring else Why.elastic
