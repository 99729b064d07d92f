"""What bears on what, and which way: the laws of a duty that grows more demanding, and of materials that change.

Every sampled case takes three steps along every axis, a near one, a far one, and a near one from there, and everything
that it uses (of each limit, and of the lip by wear) is held against what the table of each axis says of it. The same is
done with materials of which one kind of value is scaled.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any, Literal, NamedTuple, TypeAlias

import numpy as np

from glandwise.case.intake import LUBRICATIONS, MEDIA
from glandwise.case.rows import Table
from glandwise.questions.envelope import evaluation as batch
from glandwise.questions.envelope import operation as envelope
from glandwise.review.sampling import (
    DIP,
    SHOWN,
    VACUUM,
    Found,
    evaluated,
    made_plain,
    range_of,
    with_number,
    written,
)
from glandwise.rules.model import Datum, RuleSetData

Bearing: TypeAlias = Literal["all", "some", "may", "either"]
"""``all``: every case to which it applies uses more; ``some``: cases use more, none less; ``may``: none uses less;
``either``: it may go both ways."""

NEAR = 0.004
"""Near step as share of the way to the worst: short enough that what should grow does not hide what falls."""
FALL = 1e-3
"""Relative fall of a use that counts as an improvement, beyond the noise of solving to a tolerance."""
NOISE = 1e-7
"""Relative change of a use that counts as one at all."""
EXACT = 1e-6
"""Relative deviation from strict proportion that counts as one."""
FELT = 0.95
"""Share of the cases to which it applies in which what bears on all of them must be felt; the rest is for ends of tables."""
FEWEST = 16
"""Cases to which it applies, from which something can be said of their share."""
NARROWINGS = 12
"""Halvings of the step that breaks a law."""
ON_MATERIALS = 400
"""Cases, the first of those sampled, that are put to materials scaled in each way."""
SCALE = 1.05
"""Factor on the scaled values."""


class Axis(NamedTuple):
    """A way in which a duty grows more demanding, and what it bears on."""

    name: str
    field: str
    """Field of the cases."""
    worst: str
    """``high`` or ``low``: the end of the range towards which it does."""
    bears_on: Mapping[str, Bearing]
    """What it bears on; anything else it must leave as it is."""
    falls: Mapping[str, float] = MappingProxyType({})
    """What may fall as it grows, by nature, and in which share of the cases that it moves: a film carries more at speed and may
    rub more than a dry lip, a hot lip presses less and lies down, a lip laid down by pressure spreads its load."""
    in_proportion: tuple[str, ...] = ()
    """What grows in strict proportion to the number (:func:`_measure`)."""


BY_HEAT = frozenset({"contact_temperature", "contact_pressure_velocity", "torque", "wear", "life"})
"""What friction, heat and wear decide, and with them the film."""
_IN_CONTACT = BY_HEAT - {"contact_temperature"}
"""What the heat of the contact decides."""
_WEAR: Mapping[str, Bearing] = {"wear": "some", "life": "some"}

AXES = (
    Axis("pressure", "pressure", "high",
         {"pressure": "all", "pressure_velocity": "all", "lip_stress": "some", "contact_temperature": "some",
          # the lip lies down and spreads its contact
          "contact_pressure_velocity": "either", "wear": "either", "life": "either", "extrusion_gap": "some",
          "seal_rotation": "either"},  # it loads the lip and seats the body
         {"contact_pressure_velocity": 0.5, "contact_temperature": 0.1, "wear": 0.2, "life": 0.2, "seal_rotation": 0.5},
         ("pressure", "pressure_velocity")),
    # a fluid boils off sooner, and the film with it
    Axis("vacuum", "pressure", "low", {"vacuum": "all", "contact_load": "some", **dict.fromkeys(BY_HEAT, "either")},
         {"contact_temperature": 0.2}, ("vacuum",)),
    Axis("surface_speed", "surface_speed", "high",
         {"surface_speed": "all", "pressure_velocity": "all", "contact_temperature": "all", "contact_pressure_velocity": "all",
          "wear": "all", "life": "some", "runout": "may"},
         # a warmer lip presses less; one case in some thousand changes from one balance of heat to another
         {"contact_pressure_velocity": 0.12, "wear": 0.1, "life": 0.1, "contact_temperature": 0.01},
         ("surface_speed", "pressure_velocity")),
    Axis("temperature_max", "temperature_max", "high",
         {"temperature_high": "all", "contact_temperature": "some", "contact_pressure_velocity": "some",
          # a hotter lip is a softer one: it lies down, and gives more way to its spring
          "lip_stress": "either", "contact_load": "either", "runout": "either", "offset": "either",
          "extrusion_gap": "some", "pressure": "may", "fluid_compatibility": "may"},
         {"lip_stress": 0.05, "contact_load": 0.01, "runout": 0.1, "offset": 0.15}, ("temperature_high",)),
    Axis("temperature_min", "temperature_min", "low",
         {"temperature_low": "all", "root_clearance": "some", "runout": "may", "offset": "may",
          "extrusion_gap": "either",  # two metals may part more at a temperature between the ends
          "seal_rotation": "some", "fluid_compatibility": "may"},
         # a rubber ring that is warm is squeezed no further than its load is known
         {"root_clearance": 0.03, "seal_rotation": 0.1}, ("temperature_low",)),
    Axis("runout", "runout", "high", {"runout": "all", "root_clearance": "may", "extrusion_gap": "may"}, in_proportion=("runout",)),
    Axis("offset", "offset", "high",
         {"offset": "all", "runout": "may", "root_clearance": "all", "extrusion_gap": "may"}, in_proportion=("offset",)),
    Axis("hardness", "hardness", "low", {"shaft_hardness": "all"}, in_proportion=("shaft_hardness",)),
    Axis("lubrication", "lubrication", "low",
         {"pressure_velocity": "some", "contact_temperature": "some", "contact_pressure_velocity": "some", **_WEAR,
          "seal_rotation": "either"},  # a dry O-ring holds more
         # a shaft that is wetted less is hotter, and a hot lip presses less
         {"contact_pressure_velocity": 0.15, "contact_temperature": 0.45, "wear": 0.3, "life": 0.25, "seal_rotation": 1.0}),
)  # fmt: skip


FEW_FALLS = 4
"""Falls by nature that are let pass in any step: a share of few cases says nothing."""


class Materials(NamedTuple):
    """A kind of rule value that is scaled up, and what it bears on."""

    title: str
    table: Literal["compounds", "alloys", "shaft_materials"]
    """Table of the records that have it."""
    variant: Callable[[RuleSetData, Any], Any]
    """Return a record with the value scaled."""
    more: Mapping[str, Bearing]
    """What uses more."""
    less: Mapping[str, Bearing]
    """What uses less."""
    powers: Mapping[str, float]
    """Power of the factor by which a use changes, where that is exact."""
    falls: Mapping[str, float] = MappingProxyType({})
    """What may go the other way by nature, and in which share of the cases."""


def _changed(record: Any, **values: Any) -> Any:
    """Return a record with other values; it is not checked anew."""
    other = copy.copy(record)
    for name, value in values.items():
        object.__setattr__(other, name, value)
    return other


def _scaled(record: Any) -> Any:
    """Return a number or a table times ``SCALE``."""
    if record is None:
        return None
    if isinstance(record, Datum):
        return _changed(record, **{name: getattr(record, name) * SCALE for name in ("si", "si_low", "si_high")})
    return _changed(record, si_y=tuple(y * SCALE for y in record.si_y), array_y=record.array_y * SCALE)


def _field(name: str) -> Callable[[RuleSetData, Any], Any]:
    return lambda _, record: _changed(record, **{name: _scaled(getattr(record, name))})


def _by_state(name: str) -> Callable[[RuleSetData, Any], Any]:
    def variant(_: RuleSetData, record: Any) -> Any:
        held = getattr(record, name)
        states = {state: _scaled(getattr(held, state)) for state in MEDIA}
        return _changed(record, **{name: _changed(held, **states)})

    return variant


def _better_shaft(data: RuleSetData, record: Any) -> Any:
    """Return the shaft that is taken where none is stated, as a material, with its conductivity scaled."""
    plain = _changed(record.wear_factor, si=1.0, si_low=1.0, si_high=1.0)
    return _changed(record, thermal_conductivity=_scaled(data.running.shaft_conductivity), wear_factor=plain)


_HEAT: Mapping[str, Bearing] = {
    "wear": "either", "life": "either", "torque": "either", "contact_pressure_velocity": "either",
}  # fmt: skip

MATERIALS = (
    Materials("friction", "compounds", _by_state("friction"),
              {"contact_temperature": "some", "torque": "some", "wear": "either", "life": "either",
               "contact_pressure_velocity": "either", "seal_rotation": "some"}, {}, {}),
    # a lip that wears faster has lost more of its load within the day after which its rate and its pressure are told
    Materials("specific wear rate", "compounds", _by_state("wear"), {"wear": "either", "life": "some"}, {}, {}, {"life": 0.02}),
    Materials("modulus of the compound", "compounds", _field("elastic_modulus"),
              {"contact_temperature": "either", "contact_pressure_velocity": "either", "torque": "either", "wear": "either",
               "life": "either", "runout": "either", "offset": "either", "lip_stress": "either", "seal_rotation": "either"},
              {"contact_load": "some"}, {},
              {"contact_load": 0.02}),  # a stiff lip gives less way to its spring
    Materials("strength of the compound", "compounds", _field("yield_strength"),
              {"contact_temperature": "either", "contact_pressure_velocity": "either", "seal_rotation": "either", **_HEAT},
              {"lip_stress": "all", "extrusion_gap": "some"}, {"lip_stress": -1.0}),
    Materials("limiting PV", "compounds", _field("limiting_pv"), {}, {"contact_pressure_velocity": "some"}, {}),
    Materials("derating of PV", "compounds", _field("pv_derating"), {}, {"contact_pressure_velocity": "some"}, {}),
    Materials("conductivity of the compound", "compounds", _field("thermal_conductivity"), _HEAT,
              {"contact_temperature": "some"}, {}),
    Materials("conductivity of the shaft", "shaft_materials", _better_shaft,
              # a shaft of another name expands otherwise
              {**_HEAT, "extrusion_gap": "either", "seal_rotation": "either", "contact_load": "either",
               "root_clearance": "either", "runout": "either", "offset": "either", "lip_stress": "either",
               "contact_pressure_velocity": "either"},
              {"contact_temperature": "some"}, {}),
    Materials("modulus of the alloy", "alloys", _field("elastic_modulus"),
              {"contact_temperature": "some", "contact_pressure_velocity": "either", "torque": "some", "seal_rotation": "some",
               "wear": "either",
               "life": "either", "runout": "either", "offset": "either"}, {"contact_load": "may"}, {}),
)  # fmt: skip


def uses(found: batch.Evaluation) -> dict[str, Any]:
    """Return everything that grows as a duty grows more demanding: the use of each limit, of the lip, and the torque."""
    with np.errstate(divide="ignore", invalid="ignore"):
        # without a number, by its status: a fluid may lose what is known of it
        by_status = {
            name: np.where(status == batch.NOT_EVALUATED, np.nan, status.astype(float))
            for name, status in found.status.items()
            if name not in found.utilization
        }
        told = {**found.utilization, **by_status, "wear": found.wear_rate}
        # hotter than its compound stands a contact is outside of every number that there is for it
        known = found.utilization["contact_temperature"] <= 1.0
        return {name: np.where(known, used, np.nan) if name in _IN_CONTACT else used for name, used in told.items()}


def _measure(axis: Axis, x: Any) -> Any:
    """Return the number of an axis as a limit counts it."""
    if axis.name == "temperature_max":
        return np.maximum(x - envelope.ROOM, 0.0)
    if axis.name == "temperature_min":
        return np.maximum(envelope.ROOM - x, 0.0)
    return 1.0 / x if axis.name == "hardness" else np.abs(x)


class Step(NamedTuple):
    """A step of all cases along an axis."""

    axis: Axis
    start: Any
    end: Any
    rows: Any
    """Cases that can take it."""
    before: batch.Evaluation
    after: batch.Evaluation
    near: bool


def steps(data: RuleSetData, c: Table, shares: Any) -> tuple[batch.Evaluation, list[Step]]:
    """Take the steps of every case along every axis; ``shares`` says how far the far ones go."""
    places: list[tuple[Axis, Any, list[Any]]] = []
    for place, axis in enumerate(AXES):
        x = c[axis.field]
        if axis.name == "lubrication":
            places.append((axis, x > 0, [np.maximum(x - 1, 0)]))
            continue
        low, high = (-VACUUM, 0.0) if axis.name == "vacuum" else range_of(data, axis.field)
        worst = high if axis.worst == "high" else low
        rows = x < 0.0 if axis.name == "vacuum" else x >= 0.0 if axis.name == "pressure" else np.full(len(c), True)
        way = np.where(rows, worst - x, 0.0)
        far = x + shares[place % len(shares)] * way
        places.append((axis, rows, [x + NEAR * way, far, far + NEAR * np.where(rows, worst - far, 0.0)]))
    base, *others = evaluated(data, [c, *(with_number(c, axis.field, to) for axis, _, ends in places for to in ends)])
    found = iter(others)
    taken: list[Step] = []
    for axis, rows, ends in places:
        x, after = c[axis.field], [next(found) for _ in ends]
        taken.append(Step(axis, x, ends[0], rows, base, after[0], near=len(ends) > 1))
        if len(ends) > 1:
            taken.append(Step(axis, x, ends[1], rows, base, after[1], near=False))
            taken.append(Step(axis, ends[1], ends[2], rows, after[1], after[2], near=True))
    return base, taken


def fallen(name: str, before: Any, after: Any) -> Any:
    """Tell where a use falls; what hardly uses a limit at all is held to the limit."""
    least = 0.0 if name in _OF_NO_LIMIT else DIP
    with np.errstate(invalid="ignore"):
        return before - after > FALL * np.maximum(np.abs(before), least)


_OF_NO_LIMIT = frozenset({"wear", "torque"})
"""Uses that are no share of a limit."""


def _compared(before: batch.Evaluation, after: batch.Evaluation, rows: Any) -> Iterator[tuple[str, Any, Any, Any]]:
    """Yield each use with the cases in which it is a number before and after, and both numbers."""
    first, second = uses(before), uses(after)
    for name, u in first.items():
        v = second[name]
        yield name, rows & np.isfinite(u) & np.isfinite(v), u, v


def _moved(u: Any, v: Any) -> Any:
    with np.errstate(invalid="ignore"):
        return np.abs(v - u) > NOISE * np.maximum(np.abs(u), np.abs(v))


def _plainly(name: str) -> str:
    return name.replace("_", " ")


class _Finder:
    """Collects the breaches of a law with a few counterexamples."""

    def __init__(self, data: RuleSetData, c: Table) -> None:
        self.data, self.c = data, c
        self.checked = self.breaches = 0
        self.examples: list[dict[str, Any]] = []

    def note(self, rows: Any, text: Callable[[int], str], changed: Callable[[int], dict[str, Any]]) -> None:
        """Note the cases that break the law."""
        count = int(rows.sum())
        self.breaches += count
        if count and len(self.examples) < SHOWN:
            row = int(np.flatnonzero(rows)[0])
            self.examples.append(
                {"text": text(row), "keys": [], "case": written(self.data, self.c, row), "changed": changed(row)}
            )

    def found(self) -> Found:
        return Found(self.checked, self.breaches, self.examples)


def _ends(step: Step) -> Callable[[int], dict[str, Any]]:
    def changed(row: int) -> dict[str, Any]:
        if step.axis.name == "lubrication":
            return {"lubrication": [LUBRICATIONS[int(side[row])] for side in (step.start, step.end)]}
        return {step.axis.field: [float(f"{side[row]:.6g}") for side in (step.start, step.end)]}

    return changed


def monotone(data: RuleSetData, c: Table, taken: Sequence[Step]) -> Found:
    """More demand never uses less, but for what does so by nature in some of the cases."""
    found = _Finder(data, c)
    for step in taken:
        found.checked += int(step.rows.sum())
        for name, rows, u, v in _compared(step.before, step.after, step.rows):
            breaks = rows & fallen(name, u, v)
            count = int(breaks.sum())
            if name in step.axis.falls and count <= max(
                step.axis.falls[name] * int((rows & _moved(u, v)).sum()), FEW_FALLS
            ):
                continue
            found.breaches += count
            if count and len(found.examples) < SHOWN:
                row = int(np.flatnonzero(breaks)[0])
                found.examples.append(_minimal(data, c, row, step, name))
    return found.found()


def felt(data: RuleSetData, c: Table, taken: Sequence[Step]) -> Found:
    """What bears on a criterion moves it."""
    found = _Finder(data, c)
    moving: dict[tuple[str, str], int] = {}
    asked: dict[tuple[str, str], int] = {}
    for step in taken:
        for name, rows, u, v in _compared(step.before, step.after, step.rows):
            bearing = step.axis.bears_on.get(name)
            if bearing not in ("all", "some"):
                continue
            # a case that uses nothing of it on the worse side has none to use: it is of the other family, or at rest
            rows = rows & (step.end != step.start) & (v > 0.0)
            if bearing == "all":
                found.checked += 1
                still = rows & ~_moved(u, v)
                if int(rows.sum()) >= FEWEST and still.sum() > (1.0 - FELT) * rows.sum():
                    found.note(still, _unmoved(step, name, int(still.sum()), int(rows.sum())), _ends(step))
            key = (step.axis.name, name)
            asked[key] = asked.get(key, 0) + int(rows.sum())
            moving[key] = moving.get(key, 0) + int((rows & _moved(u, v)).sum())
    for (axis, name), count in moving.items():
        found.checked += 1
        if not count and asked[axis, name] >= FEWEST * FEWEST:
            text = f"{_plainly(axis)} moves {_plainly(name)} in none of {asked[axis, name]} cases"
            found.breaches += 1
            found.examples.append({"text": text, "keys": [], "case": {}, "changed": {}})
    return Found(found.checked, found.breaches, found.examples[:SHOWN])


def _unmoved(step: Step, name: str, still: int, cases: int) -> Callable[[int], str]:
    return lambda _: (
        f"{_plainly(name)} stays as it is while {_plainly(step.axis.name)} grows worse, in {still} of {cases} cases"
    )


def apart(data: RuleSetData, c: Table, taken: Sequence[Step]) -> Found:
    """What does not bear on a criterion leaves it."""
    found = _Finder(data, c)
    for step in taken:
        for name, rows, u, v in _compared(step.before, step.after, step.rows):
            if name not in step.axis.bears_on:
                found.checked += int(rows.sum())
                found.note(rows & _moved(u, v), _touched(step, name, u, v), _ends(step))
    return found.found()


def _touched(step: Step, name: str, u: Any, v: Any) -> Callable[[int], str]:
    return lambda row: (
        f"{_plainly(name)} goes from {u[row]:.6g} to {v[row]:.6g} of its limit with {_plainly(step.axis.name)}, which does "
        "not bear on it"
    )


def proportion(data: RuleSetData, c: Table, taken: Sequence[Step]) -> Found:
    """Twice the demand uses twice the limit."""
    found = _Finder(data, c)
    for step in taken:
        with np.errstate(divide="ignore", invalid="ignore"):
            factor = _measure(step.axis, step.end) / _measure(step.axis, step.start)
        for name, rows, u, v in _compared(step.before, step.after, step.rows):
            rows = rows & np.isfinite(factor) & (u > 0.0)
            if name in step.axis.in_proportion:
                found.checked += int(rows.sum())
                with np.errstate(divide="ignore", invalid="ignore"):
                    breaks = rows & (np.abs(v / u / factor - 1.0) > EXACT)
                found.note(breaks, _out_of_proportion(step, name, u, v, factor), _ends(step))
    return found.found()


def _out_of_proportion(step: Step, name: str, u: Any, v: Any, factor: Any) -> Callable[[int], str]:
    return lambda row: (
        f"{_plainly(name)} grows {v[row] / u[row]:.6g}-fold where {_plainly(step.axis.name)} grows {factor[row]:.6g}-fold"
    )


# ----------------------------------------------------------------------------------------------------------- materials


_CODES: Mapping[str, str] = {"compounds": "compound", "alloys": "alloy", "shaft_materials": "shaft_material"}


def _variants(data: RuleSetData, c: Table) -> tuple[RuleSetData, list[Table]]:
    """Return a rule set that holds every record scaled in every way besides, and the cases with each kind of them."""
    tables: dict[str, dict[str, Any]] = {name: dict(getattr(data, name)) for name in _CODES}
    cases = []
    for place, kind in enumerate(MATERIALS):
        held, table = getattr(data, kind.table), tables[kind.table]
        code = c[_CODES[kind.table]]
        # a shaft that is not stated is the first of the variants
        chosen = (
            np.full(len(c), len(table))
            if kind.table == "shaft_materials"
            else np.where(code < 0, -1, code + len(table))
        )
        table.update({f"{name}__{place}": kind.variant(data, record) for name, record in held.items()})
        cases.append(with_number(c, _CODES[kind.table], chosen))
    return _changed(data, **tables), cases


def materials(data: RuleSetData, c: Table) -> Found:
    """Materials bear on what they are for, and the way they should."""
    c = c[:ON_MATERIALS]
    found = _Finder(data, c)
    every = np.full(len(c), True)
    other, variants = _variants(data, c)
    base, *scaled = evaluated(other, [c, *variants])
    for kind, after in zip(MATERIALS, scaled, strict=True):
        torque = ("torque", np.isfinite(base.torque) & np.isfinite(after.torque), base.torque, after.torque)
        for name, rows, u, v in (*_compared(base, after, every), torque):
            if name in base.status and name not in base.utilization:
                continue  # what a fluid does to a record goes by its name, and the variants have none
            found.checked += int(rows.sum())
            bearing = kind.more.get(name) or kind.less.get(name)
            moved = _moved(u, v)
            sign = -1.0 if name in kind.less else 1.0
            breaks = rows & (moved if bearing is None else fallen(name, sign * u, sign * v) & (bearing != "either"))
            if name in kind.falls and breaks.sum() <= max(kind.falls[name] * (rows & moved).sum(), FEW_FALLS):
                breaks = np.full(len(c), False)
            if name in kind.powers:
                with np.errstate(divide="ignore", invalid="ignore"):
                    breaks |= rows & (u > 0.0) & (np.abs(v / u / SCALE ** kind.powers[name] - 1.0) > EXACT)
            rows = rows & (u > 0.0)
            if bearing == "all" and rows.sum() >= FEWEST and (rows & ~moved).sum() > (1.0 - FELT) * rows.sum():
                breaks |= rows & ~moved
            if bearing == "some" and rows.sum() >= FEWEST and not (rows & moved).any():
                breaks |= rows
            found.note(breaks, _wrongly(kind, name, u, v), lambda _: {})
    return found.found()


def _wrongly(kind: Materials, name: str, u: Any, v: Any) -> Callable[[int], str]:
    way = "less" if name in kind.less else "more" if name in kind.more else "as much"
    return lambda row: (
        f"{_plainly(name)} goes from {u[row]:.6g} to {v[row]:.6g} where the {kind.title} is {SCALE:g} times as great; it "
        f"should use {way}" + (f", by a factor of {SCALE ** kind.powers[name]:.6g}" if name in kind.powers else "")
    )


# ------------------------------------------------------------------------------------------------------ plain examples


def _minimal(data: RuleSetData, c: Table, row: int, step: Step, use: str) -> dict[str, Any]:
    """Make a breach of monotony as plain as it can be."""
    axis = step.axis

    def both(one: Table, start: float, end: float) -> tuple[float, float]:
        two = with_number(one[[0, 0]], axis.field, np.array([start, end]))
        before, after = uses(batch.evaluate(data, two))[use]
        return float(before), float(after)

    def breaks(one: Table, start: float, end: float) -> bool:
        if axis.name == "temperature_max" and (start < one["temperature"][0] or end < one["temperature"][0]):
            return False
        if axis.name == "temperature_min" and (start > one["temperature"][0] or end > one["temperature"][0]):
            return False
        before, after = both(one, start, end)
        return bool(np.isfinite(before) and np.isfinite(after) and fallen(use, before, after))

    one = c[[row]]
    start, end = step.start[row], step.end[row]
    for name in ("pressure", "surface_speed", "temperature_min", "temperature_max", "temperature", "runout", "offset", "hardness",
                 "roughness", "shaft_diameter"):  # fmt: skip
        if name == axis.field:
            continue
        simpler = made_plain(data, one, name)
        if breaks(simpler, start, end):
            one = simpler
    for _ in range(NARROWINGS if axis.name != "lubrication" else 0):
        middle = 0.5 * (start + end)
        if breaks(one, start, middle):
            end = middle
        elif breaks(one, middle, end):
            start = middle
        else:
            break
    before, after = both(one, start, end)
    one = with_number(one, axis.field, np.array([start]))
    where = (
        f"lubrication goes from {LUBRICATIONS[int(start)]} to {LUBRICATIONS[int(end)]}"
        if axis.name == "lubrication"
        else f"{_plainly(axis.field)} {'grows' if end > start else 'falls'} from {start:.6g} to {end:.6g} (SI)"
    )
    said = {
        "wear": "wear falls from {:.6g} to {:.6g} m/s",
    }
    text = said.get(use, _plainly(use) + " falls from {:.6g} to {:.6g} of its limit").format(before, after)
    moved = replace_ends(step, row, start, end)
    return {"text": f"{text} as {where}", "keys": [], "case": written(data, one, 0), "changed": moved}


def replace_ends(step: Step, row: int, start: Any, end: Any) -> dict[str, Any]:
    """Write the ends of a narrowed step."""
    return _ends(step._replace(start={row: start}, end={row: end}))(row)
