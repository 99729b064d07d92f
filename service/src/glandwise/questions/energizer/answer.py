"""From the request of an energizer load to its answer in SI."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Any, NamedTuple

import numpy as np

from glandwise.case.bare_energizer import SHAPE
from glandwise.case.choices import EnergizerKind, Material
from glandwise.case.numbers import DTYPES, Rules
from glandwise.case.ratings import numbers_of
from glandwise.checks import tolerance
from glandwise.checks.case import Assumed
from glandwise.checks.engine import known
from glandwise.contract.energizer import (
    ByDeflection,
    CantedCoilEnergizer,
    CantileverVEnergizer,
    EnergizerLoadRequest,
    GarterEnergizer,
    ORingEnergizer,
    TolerancedLength,
)
from glandwise.numerics.compiled import CHUNK, compiled, over_rows
from glandwise.questions.energizer import kernel
from glandwise.questions.workers import pool
from glandwise.rules.model import Datum, RuleSetData

Table = np.ndarray[Any, Any]

_loads = compiled(kernel.loads)
_ranges = compiled(kernel.ranges)
MODULUS = "elastic_modulus"
"""Name under which the scatter of the modulus is reported among the inputs with a tolerance; a factor on the nominal one."""
POINTS = 40
"""Points of the curve."""


def warm() -> None:
    """Compile, or read from disk, all that a request may need."""
    shapes = [np.zeros(1, DTYPES[name]) for name in Rules._fields]
    _loads(SHAPE.table(0), np.zeros(0, kernel.LOADS), *shapes)
    _ranges(SHAPE.table(0), np.zeros(0, kernel.RANGES), *shapes)


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
    assumed: tuple[Assumed, ...]
    chosen: tuple[Any, ...]
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
    nominal: Any
    """Row of what the nominal energizer gives."""
    ranges: Any
    """Row of what holds over its deflections."""
    corners: Mapping[str, Any]
    """Inputs at the ends of their tolerances."""
    at_corners: Table
    drawn: Table
    """What the samples give."""
    curve: Table
    deflections: Any
    sensitivities: list[dict[str, Any]]


_TOLERANCED: Mapping[type, tuple[str, ...]] = {
    CantileverVEnergizer: ("strip_thickness", "finger_length"),
    CantedCoilEnergizer: ("wire_diameter", "coil_height", "coil_width", "pitch"),
    GarterEnergizer: ("wire_diameter", "mean_coil_diameter", "ring_diameter"),
    ORingEnergizer: ("section", "gland_height"),
}
_EXACT: Mapping[type, tuple[str, ...]] = {
    CantileverVEnergizer: ("root_angle", "coverage", "plate_blend"),
    CantedCoilEnergizer: ("cant_angle",),
    GarterEnergizer: ("active_coils", "free_length", "initial_tension"),
    ORingEnergizer: ("inside_diameter", "seat_diameter", "hardness"),
}


def asked(request: EnergizerLoadRequest, data: RuleSetData) -> Question:
    """Return the energizer of a request; a name that the rules do not know is refused."""
    e = request.energizer
    parts: dict[str, TolerancedLength] = {name: getattr(e, name) for name in _TOLERANCED[type(e)]}
    pointers = {"contact_diameter": "/contact_diameter", "temperature": "/temperature"}
    pointers |= {name: f"/energizer/{name}" for name in parts}
    if isinstance(e, CantileverVEnergizer | CantedCoilEnergizer):
        c = e.compression
        heights = (
            {"deflection": c.deflection}
            if isinstance(c, ByDeflection)
            else {"free_height": c.free_height, "gland_height": c.gland_height}
        )
        parts |= heights
        pointers |= {name: f"/energizer/compression/{name}" for name in heights}
    table = SHAPE.table(1)
    row = table[0]
    row["kind"], row["modulus_factor"] = EnergizerKind[e.kind], 1.0
    row["contact_diameter"], row["temperature"] = request.contact_diameter, request.temperature
    properties = () if isinstance(e, ORingEnergizer) else ("poisson_ratio", "yield_strength")
    for name in (*_EXACT[type(e)], *properties, MODULUS):
        value = getattr(e, name)
        if value is not None:
            row[name], pointers[name] = value, f"/energizer/{name}"
    for name, part in parts.items():
        row[name] = part.nominal

    assumed: list[Assumed] = []
    chosen: list[Any] = []
    record, name = _material(request, data, assumed, chosen)
    row["material"] = Material.described if record is None else Material.named
    ring = isinstance(e, ORingEnergizer)
    if record is not None:
        row["elastomer" if ring else "alloy"] = list(data.elastomers if ring else data.alloys).index(name)
    scatter = request.modulus_scatter
    if scatter is None:
        usual = data.sizing.energizer
        scatter = (usual.elastomer_modulus_scatter if ring else usual.metal_modulus_scatter).si
        assumed.append(Assumed("/modulus_scatter", "ratio", scatter, "sizing.energizer.*_modulus_scatter"))
    limits = {name: (part.low, part.high) for name, part in parts.items() if part.low < part.high}
    if scatter > 0.0:
        limits[MODULUS] = (1.0 - scatter, 1.0 + scatter)
    return Question(
        EnergizerKind[e.kind],
        table,
        {**{name: part.nominal for name, part in parts.items()}, MODULUS: 1.0},
        limits,
        pointers,
        name if record is not None else None,
        None if record is None else record.temperature_min,
        None if record is None else record.temperature_max,
        scatter,
        request.modulus_scatter is not None,
        tuple(assumed),
        tuple(chosen),
    )


def _material(
    request: EnergizerLoadRequest, data: RuleSetData, assumed: list[Assumed], chosen: list[Any]
) -> tuple[Any, str]:
    """Return the record of the material and its name, the usual one where the request leaves its properties open."""
    e = request.energizer
    table: dict[str, Any]
    if isinstance(e, ORingEnergizer):
        name, open_ = e.elastomer, e.elastic_modulus is None and e.hardness is None
        usual, field, table, rule = data.sizing.o_ring_elastomer, "elastomer", data.elastomers, "o_ring_elastomer"
    else:
        name, open_ = e.alloy, None in (e.elastic_modulus, e.poisson_ratio, e.yield_strength)
        usual = data.sizing.garter_alloy if e.kind == "garter" else data.sizing.energizer_alloy
        field, table, rule = "alloy", data.alloys, "garter_alloy" if e.kind == "garter" else "energizer_alloy"
    if name is None and open_:
        name = usual.name
        assumed.append(Assumed(f"/energizer/{field}", None, name, f"sizing.{rule}"))
        chosen.append(usual)
    if name is None:
        return None, ""
    record = known(table, name, ("energizer", field), field)
    if isinstance(e, ORingEnergizer) and open_:
        assumed.append(Assumed("/energizer/hardness", "hardness_shore_a", record.hardness.si, f"elastomers.{name}"))
    return record, name


class _Loads:
    """Loads of an energizer for any inputs, by machine code."""

    def __init__(self, data: RuleSetData, row: Table) -> None:
        self._numbers, self._row = tuple(numbers_of(data).packed), row

    def __call__(self, inputs: Mapping[str, Any]) -> Table:
        """Return what an energizer gives for inputs that are numbers, or columns of as many numbers each."""
        count = max((np.size(value) for value in inputs.values()), default=1)
        rows = np.repeat(self._row, count)
        for name, value in inputs.items():
            rows["modulus_factor" if name == MODULUS else name] = value
        out = np.zeros(count, kernel.LOADS)
        result: Table = over_rows(_loads, rows, out, self._numbers, pool() if count > 4 * CHUNK else None)
        return result

    def ranges(self) -> Any:
        """Return what holds over the deflections of the nominal energizer."""
        out = np.zeros(1, kernel.RANGES)
        _ranges(self._row, out, *self._numbers)
        return out[0]


def answer(request: EnergizerLoadRequest, data: RuleSetData) -> Answer:
    """Answer an energizer load request."""
    question = asked(request, data)
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


def _missing(question: Question, ranges: Any) -> tuple[str, ...]:
    if question.material is None:
        return ()
    words = {"modulus": ranges["elastic_modulus"]}
    if question.kind != EnergizerKind.o_ring:
        words["yield strength"] = ranges["yield_strength"]
    return tuple(word for word, value in words.items() if not np.isfinite(value))


def _judged(question: Question, here: Any, at_corners: Table, drawn: Table, missing: bool) -> tuple[str, Why]:
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
