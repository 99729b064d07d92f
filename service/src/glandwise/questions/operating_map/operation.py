"""Where over two numbers of its duty does the seal live, and what limits it where?

The grid is one pass of the vectorised envelope. Its boundary, and how far each number of the duty may go by itself, are
bisected, all at once: a harsher duty never makes a criterion better, so each has one crossing. Inside is what does not
fail; a criterion that lacks an input does not count.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite, nan
from typing import NamedTuple, cast, overload

import numpy as np

from glandwise.case.intake import Case, build
from glandwise.case.ratings import numbers_of
from glandwise.contract.duty import Duty, Oscillation, Rotation
from glandwise.contract.operating_map import SPEEDS, Axis, OperatingMapRequest
from glandwise.engine import Engine, refusal
from glandwise.json_values import JsonObject
from glandwise.mechanics import kinematics
from glandwise.numerics.boundary import WIDE, Point, Polygon, bisect, trace
from glandwise.physics.ratings import rated
from glandwise.questions.arrays import Floats, Numbers
from glandwise.questions.envelope import evaluation as batch
from glandwise.questions.envelope import operation as envelope
from glandwise.questions.report import assumptions, cautions
from glandwise.rules.model import weakest
from glandwise.units import UnitSystem, format_number

BEYOND = 1.2
"""How far a map reaches beyond what passes when the request does not say: enough to show what lies there."""
COARSE = 12
"""Halvings that find how far a map must reach."""
LEAST_REACH = 0.002
"""Share of the rated range that must pass for a map to be cut to what passes."""
HALVINGS = 54
"""Halvings of a range of search: its last digit."""


class AxisRule(NamedTuple):
    """What an axis stands for."""

    title: str
    dimension: str
    lowest: float
    highest: float
    """Range the contract accepts."""


AXES: Mapping[str, AxisRule] = {
    "pressure": AxisRule("sealed pressure", "gauge_pressure", -101325.0, 500e6),
    "surface_speed": AxisRule("mean surface speed", "surface_speed", 0.0, 500.0),
    "rotational_speed": AxisRule("rotational speed", "rotational_speed", 0.0, 5000.0),
    "frequency": AxisRule("frequency of oscillation", "frequency", 0.0, 1000.0),
    "maximum_temperature": AxisRule("highest temperature of the fluid", "temperature", 0.0, 1000.0),
    "minimum_temperature": AxisRule("lowest temperature of the fluid", "temperature", 0.0, 1000.0),
    "runout": AxisRule("dynamic runout (TIR)", "length", 0.0, 0.1),
}


_FIELD_OF = {"maximum_temperature": "temperature_max", "minimum_temperature": "temperature_min"}


@dataclass
class Subject:
    """A duty and a design under examination."""

    case: Case
    duty: Duty
    findings: list[envelope.Finding]

    @overload
    def speeds(self, kind: str, values: float) -> dict[str, float]: ...

    @overload
    def speeds(self, kind: str, values: Floats) -> dict[str, Floats]: ...

    def speeds(self, kind: str, values: Numbers) -> dict[str, float] | dict[str, Floats]:
        """Return the speeds of a case by one of them."""
        values = cast("float", values)  # nothing but products and quotients: the formulas hold for arrays as they stand
        d, motion = self.case.shaft_diameter, self.duty.motion
        if isinstance(motion, Oscillation):
            per_cycle = kinematics.oscillation_mean_speed(d, motion.half_amplitude, 1.0)
            frequency = values if kind == "frequency" else values / per_cycle
            mean = kinematics.oscillation_mean_speed(d, motion.half_amplitude, frequency)
            peak = kinematics.oscillation_peak_speed(d, motion.half_amplitude, frequency)
        else:
            mean = peak = kinematics.surface_speed(d, values) if kind == "rotational_speed" else values
        return {
            "surface_speed": mean,
            "peak_speed": peak,
            "rotational_speed": kinematics.rotation_speed(d, mean),
        }

    @overload
    def numbers(self, kind: str, values: float) -> dict[str, float]: ...

    @overload
    def numbers(self, kind: str, values: Floats) -> dict[str, Floats]: ...

    def numbers(self, kind: str, values: Numbers) -> Mapping[str, Numbers]:
        """Return the fields of the case that a number of an axis sets."""
        if kind in SPEEDS:
            return self.speeds(kind, values)
        return {_FIELD_OF.get(kind, kind): values}

    def here(self, kind: str) -> float:
        """Return the number of the duty as it stands; ``nan`` where it is not stated."""
        motion, case = self.duty.motion, self.case
        if kind == "frequency":
            return motion.frequency if isinstance(motion, Oscillation) else nan
        return float(getattr(case, _FIELD_OF.get(kind, kind)))

    def evaluate(self, **numbers: Floats) -> batch.Evaluation:
        """Evaluate the duty with some numbers changed (arrays of one length)."""
        return batch.vary(self.case, self.findings, numbers)


def judged(found: batch.Evaluation) -> Point:
    """Return which points are inside, and the criterion that decides."""
    return Point(found.verdict != batch.FAIL, found.governing)


# --------------------------------------------------------------------------------------------------------------- axes


def ranges(subject: Subject, axes: Mapping[str, Axis]) -> dict[str, tuple[float, float]]:
    """Return the ends of both axes, by the rules where the request leaves them out."""
    found: dict[str, tuple[float, float]] = {}
    lows = {field: _low(subject, axis, field) for field, axis in axes.items()}
    # of pressures the mildest is the one nearest to none
    mild = {field: max(low, 0.0) if axes[field].kind == "pressure" else low for field, low in lows.items()}
    for field, axis in axes.items():
        kind, low, high, here = axis.kind, lows[field], axis.high, subject.here(axis.kind)
        if high is None:
            usual = _usual_high(subject, kind, field)
            fixed = next(subject.numbers(axes[other].kind, mild[other]) for other in axes if other != field)
            usual = low + BEYOND * (_reach(subject, kind, mild[field], usual, fixed) - low)
            high = max(usual, low if here != here else here * (1.1 if here > 0.0 else 0.9))
            high = min(high, AXES[kind].highest)
        if high <= low:
            raise refusal("out_of_domain", (field, "low" if axis.high is None else "high"), "the range is empty",
                          "a lower end below the upper one")  # fmt: skip
        found[field] = (low, high)
    return found


def _low(subject: Subject, axis: Axis, field: str) -> float:
    kind, normal = axis.kind, subject.duty.temperature.normal
    oscillates = isinstance(subject.duty.motion, Oscillation)
    if (kind == "frequency") != oscillates and kind in {"frequency", "rotational_speed"}:
        moves = "oscillates" if oscillates else "turns"
        raise refusal("out_of_domain", (field, "kind"), f"the shaft {moves}", "surface_speed, or "
                      + ("frequency" if oscillates else "rotational_speed"))  # fmt: skip
    if kind == "maximum_temperature" and axis.low is not None and axis.low < normal:
        raise refusal("out_of_domain", (field, "low"), "the highest temperature cannot lie below the normal one",
                      "at least the normal temperature")  # fmt: skip
    return float(axis.low) if axis.low is not None else _usual_low(subject, kind, subject.here(kind))


def _reach(subject: Subject, kind: str, start: float, end: float, fixed: Mapping[str, float]) -> float:
    """Return the greatest value of an axis up to ``end`` that does not fail; ``end`` where none or all do."""

    def point(values: Floats) -> Point:
        numbers = {name: np.full(len(values), value) for name, value in fixed.items()}
        return judged(subject.evaluate(**numbers, **subject.numbers(kind, values)))

    begins, ends = point(np.array([start])), point(np.array([end]))
    if end <= start or not begins.inside[0] or ends.inside[0]:
        return end
    found, _ = bisect(point, np.array([start]), np.array([end]), COARSE, WIDE)
    # a range that would vanish shows nothing
    return float(found[0]) if found[0] - start > LEAST_REACH * (end - start) else end


def _usual_low(subject: Subject, kind: str, here: float) -> float:
    if kind == "maximum_temperature":
        return subject.duty.temperature.normal
    if kind != "pressure" or here >= 0.0:
        return 0.0
    rated = _rated(subject.case, "vacuum")
    return max(min(-BEYOND * rated, 1.1 * here) if rated == rated else 1.1 * here, AXES[kind].lowest)


def _rated(case: Case, criterion: str) -> float:
    """Rated capacity of the design at rest; NaN where the rules have none."""
    ratings = numbers_of(case.data).packed.ratings.view(np.recarray)  # type: ignore[attr-defined]
    return float(rated(ratings[case.row["rating"].item(0)][criterion], 0.0))


def _unrated(field: str) -> Exception:
    detail = "the rules rate no capacity that would set the upper end"
    return refusal("out_of_domain", (field, "high"), detail, "an upper end")


def _usual_high(subject: Subject, kind: str, field: str) -> float:
    if kind == "maximum_temperature":
        measure = next((item.measure for item in subject.findings if item.id == "temperature_high"), None)
        if measure is None:
            raise _unrated(field)
        limit, normal = float(measure.capacity), subject.duty.temperature.normal
        return max(limit, normal + (BEYOND - 1.0) * (limit - envelope.ROOM))
    name = kind if kind in {"pressure", "runout"} else "surface_speed"
    rated = _rated(subject.case, name)
    if rated != rated:
        raise _unrated(field)
    if name != "surface_speed":
        return rated
    # the rated speed is a peak speed, and every speed is proportional to every other
    return rated / float(subject.speeds(kind, 1.0)["peak_speed"])


# ------------------------------------------------------------------------------------------------------ one by one


class Search(NamedTuple):
    """One number of the duty to be driven to its limit."""

    id: str
    title: str
    kind: str
    """Axis, or ``minimum_temperature``."""
    start: float
    end: float


def searches(subject: Subject) -> list[Search]:
    """Return what is driven to its limit; each from the mildest value."""
    normal = subject.duty.temperature.normal
    motion = subject.duty.motion
    speed = "frequency" if isinstance(motion, Oscillation) else "surface_speed"
    top = AXES[speed].highest
    if isinstance(motion, Rotation):
        speed = "rotational_speed"
        top = min(AXES[speed].highest, kinematics.rotation_speed(subject.case.shaft_diameter, top))
    return [
        Search("greatest_speed", "greatest speed at this pressure", speed, 0.0, top),
        Search("greatest_pressure", "greatest pressure at this speed", "pressure", 0.0, AXES["pressure"].highest),
        Search("deepest_vacuum", "deepest vacuum at this speed", "pressure", 0.0, AXES["pressure"].lowest),
        Search("greatest_runout", "greatest runout at this speed", "runout", 0.0, AXES["runout"].highest),
        Search("greatest_temperature", "highest temperature of the fluid", "maximum_temperature", normal, 1000.0),
        Search("least_temperature", "lowest temperature of the fluid", "minimum_temperature", normal, 1.0),
    ]


_FIELDS = (
    "pressure",
    "surface_speed",
    "peak_speed",
    "rotational_speed",
    "temperature_min",
    "temperature_max",
    "runout",
)


class Limit(NamedTuple):
    """How far one number of the duty may go, SI."""

    search: Search
    value: float | None
    """``None`` where nothing passes."""
    surface_speed: float | None
    """That of the greatest speed."""
    bounded: bool
    governing: Criterion | None
    """The criterion that bounds it."""

    def written(self, units: UnitSystem) -> JsonObject:
        """Write it in the units asked for."""
        value, speed, by = self.value, self.surface_speed, self.governing
        return {
            "id": self.search.id,
            "title": self.search.title,
            "value": None if value is None else units.quantity(AXES[self.search.kind].dimension, value),
            "surface_speed": None if speed is None else units.quantity("surface_speed", speed),
            "bounded": self.bounded,
            "governing": None if by is None else {"id": by.id, "title": by.title},
        }


class Criterion(NamedTuple):
    """A criterion as a map names it."""

    id: str
    title: str
    caution_at: float


def limits(subject: Subject, criteria: Sequence[Criterion]) -> list[Limit]:
    """Drive each number of the duty to its limit while the others stay."""
    asked = searches(subject)
    n = len(asked)
    standing = {name: float(getattr(subject.case, name)) for name in _FIELDS}

    def spread(values: Floats) -> batch.Evaluation:
        """Evaluate rounds of values, each round one value for every search."""
        table = values.reshape(-1, n)
        numbers = {name: np.full(table.shape, value) for name, value in standing.items()}
        for row, item in enumerate(asked):
            for name, column in subject.numbers(item.kind, table[:, row]).items():
                numbers[name][:, row] = column
        return subject.evaluate(**{name: column.ravel() for name, column in numbers.items()})

    start, end = np.array([item.start for item in asked]), np.array([item.end for item in asked])
    begins, ends = judged(spread(start)), judged(spread(end))
    found, blame = bisect(lambda values: judged(spread(values)), start, end, HALVINGS, WIDE)
    rows = []
    for row, item in enumerate(asked):
        bounded, passes = not ends.inside[row], bool(begins.inside[row])
        value = None if not passes else float(found[row] if bounded else end[row])
        position = int(blame[row] if passes else begins.blame[row])
        speed = None
        if value is not None and item.id == "greatest_speed":
            speed = float(subject.speeds(item.kind, value)["surface_speed"])
        stops = bool(bounded) or not passes
        rows.append(Limit(item, value, speed, stops, criteria[position] if stops else None))
    return rows


# --------------------------------------------------------------------------------------------------------------- map


def map_operation(request: OperatingMapRequest, engine: Engine) -> JsonObject:
    """Answer a request for an operating map."""
    rules, units = engine.rules(request), request.units.system_of_units()
    duty = request.duty
    case = build(duty, request.design, rules)
    subject = Subject(case, duty, envelope.judge(case, duty))
    axes = (request.x, request.y)
    ends = ranges(subject, {"x": request.x, "y": request.y})
    x, y = np.linspace(*ends["x"], request.x.points), np.linspace(*ends["y"], request.y.points)

    def at(points: Floats) -> batch.Evaluation:
        numbers: dict[str, Floats] = {}
        for axis, values in zip(axes, points.T, strict=True):
            numbers.update(subject.numbers(axis.kind, values))
        return subject.evaluate(**numbers)

    grid = np.stack([column.ravel() for column in np.meshgrid(x, y)], axis=1)
    found = at(grid)
    cells = judged(found)
    shape = (len(y), len(x))

    def utilization(points: Floats) -> Floats:
        result = at(points)
        rows = [result.utilization.get(name, np.full(len(points), nan)) for name in result.criteria]
        return np.array(rows)

    criteria = [
        Criterion(name, rules.data.criteria[name].title, rules.data.criteria[name].caution_at.si)
        for name in found.criteria
    ]
    table = np.array([found.utilization.get(name, np.full(len(grid), nan)) for name in found.criteria])
    used_by = table[cells.blame, np.arange(len(grid))].reshape(shape)
    polygons = trace(cells.inside.reshape(shape), x, y, lambda points: judged(at(points)), utilization)
    worst, whole = envelope.governing(subject.findings), envelope.verdict(subject.findings)
    used = nan if worst.measure is None else float(worst.measure.utilization)
    rows = limits(subject, criteria)
    decided = [finding for finding in subject.findings if finding.records]
    return {
        "verdict": whole,
        "summary": _summary(whole, rules.data.criteria[worst.id].title, (request.x.kind, request.y.kind), rows, units),
        "x": _axis(request.x.kind, x, units),
        "y": _axis(request.y.kind, y, units),
        "criteria": [criterion._asdict() for criterion in criteria],
        "statuses": list(batch.STATUSES),
        "status": found.verdict.reshape(shape).tolist(),
        "governing": cells.blame.reshape(shape).tolist(),
        "utilization": [[float(f"{u:.5g}") if isfinite(u) else None for u in row] for row in used_by.tolist()],
        "region": [_polygon(polygon, axes, units) for polygon in polygons],
        "duty_point": {
            "x": _number(request.x.kind, subject.here(request.x.kind), units),
            "y": _number(request.y.kind, subject.here(request.y.kind), units),
            "verdict": whole,
            "governing": {
                "id": worst.id,
                "title": rules.data.criteria[worst.id].title,
                "status": worst.status,
                "utilization": float(f"{used:.10g}") if isfinite(used) else None,
            },
        },
        "limits": [row.written(units) for row in rows],
        "assumptions": assumptions(case, units),
        "cautions": cautions(case, duty.food_contact),
        "evidence": weakest({record.evidence for finding in decided for record in finding.records}),
        "stamp": engine.stamp("map_operation", request, rules),
        "working": envelope.working_of(case, duty) if request.working else None,
    }


def _number(kind: str, si: float, units: UnitSystem) -> float | None:
    return units.number(AXES[kind].dimension, si) if si == si else None


def _axis(kind: str, values: Floats, units: UnitSystem) -> JsonObject:
    rule = AXES[kind]
    return {
        "kind": kind,
        "title": rule.title,
        "unit": units.units[rule.dimension],
        "values": [units.number(rule.dimension, float(value)) for value in values],
    }


def _polygon(polygon: Polygon, axes: tuple[Axis, Axis], units: UnitSystem) -> JsonObject:
    x, y = (
        [units.number(AXES[axis.kind].dimension, float(value)) for value in column]
        for axis, column in zip(axes, polygon.points.T, strict=True)
    )
    return {"x": x, "y": y, "governing": [None if side < 0 else int(side) for side in polygon.sides]}


_BY_AXIS = {
    "surface_speed": ("greatest_speed", "speed"),
    "rotational_speed": ("greatest_speed", "speed"),
    "frequency": ("greatest_speed", "frequency"),
    "pressure": ("greatest_pressure", "pressure"),
    "runout": ("greatest_runout", "runout"),
    "maximum_temperature": ("greatest_temperature", "the highest temperature"),
}


def _said(dimension: str, si: float, units: UnitSystem) -> str:
    return f"{format_number(units.number(dimension, si))} {units.units[dimension]}"


def _summary(whole: str, title: str, kinds: Sequence[str], rows: Sequence[Limit], units: UnitSystem) -> str:
    word = {
        "pass": "passes",
        "caution": "passes with care",
        "fail": "does not pass",
        "not_evaluated": "cannot be judged",
    }[whole]
    by_id = {row.search.id: row for row in rows}
    parts = []
    for kind in kinds:
        name, what = _BY_AXIS[kind]
        row = by_id[name]
        if row.value is not None and row.governing is not None:
            dimension = AXES[row.search.kind].dimension
            value = _said(dimension, row.value, units)
            if kind == "surface_speed" and row.surface_speed is not None:
                # in what the axis shows; the limit itself is told as the duty states its motion
                other = "" if units.units[dimension] == units.units["surface_speed"] else f", which is {value}"
                value = f"{_said('surface_speed', row.surface_speed, units)}{other}"
            parts.append(f"{what} up to {value} (then {row.governing.title})")
    more = f" One at a time: {', '.join(parts)}." if parts else ""
    return f"The duty {word}; {title} governs.{more}"
