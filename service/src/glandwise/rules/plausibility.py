"""Values that nobody would believe: every number of a rule set against the band of its kind.

The bands are rules themselves (``bands.toml``), each with unit, reason, source, evidence and date. A band has a dotted key
in which ``*`` stands for any one part: ``compounds.*.density``. The key with the most parts spelled out counts, so a house
that believes more of one value states a band of its own for it, ``compounds.house_blend.density``, and with it the reason.

What is measured is named after the place of the value, and in addition:

* a table has ``.x`` and ``.y``; what is read off it or set against others a name of its own (:func:`_relations`);
* a capacity is also ``capacities.<criterion>.<family>.<variant>``, followed by ``.factor`` or ``.speed`` where it is a factor
  or the speeds of a table; the variant is ``plain`` or ``banded``, ``standard`` or ``extended``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass
from difflib import get_close_matches
from functools import lru_cache
from itertools import pairwise
from math import inf
from typing import Any, NamedTuple

from glandwise import units
from glandwise.rules.explain import Finding
from glandwise.rules.features import FEATURES
from glandwise.rules.gland_model import CryogenicFit, MeanExpansion, NominalSizes, ORingSeries, StepTable
from glandwise.rules.model import Capacity, Prony, RuleSetData
from glandwise.rules.stated import Read
from glandwise.rules.values import Band, Curve, Datum

Path = tuple[str | int, ...]
ROOM = 296.15
"""Temperature at which materials are tested (23 degC, ISO 291) [K]."""
_TOLERANCE = 1e-9
"""Relative; a bound is still believed when it was written in another unit."""


class Measured(NamedTuple):
    """Some numbers of a rule set that are of one kind."""

    place: Path
    """Where they stand."""
    kinds: tuple[tuple[str, ...], ...]
    """Keys they go by, the place itself first; a band for an earlier one counts more."""
    numbers: Sequence[float]
    """In SI."""
    dimension: str
    unit: str
    """Unit they are written in."""
    others: tuple[Path, ...] = ()
    """Places of other numbers that have a part in them."""


def faults(data: RuleSetData, newest: bool = True, files: Mapping[str, Read] | None = None) -> Iterator[Finding]:
    """Find what lies outside the bands, and bands of no value; the latter by the ``newest`` values only.

    What values say together is asked where each by itself is believed, and told once for each record. ``files`` are those that
    the set was read from: one whose numbers were believed beside the same bands is not looked at again.
    """
    bands = _table(tuple(data.bands.items()))
    held: set[str] = set()
    found: dict[Path, Finding] = {}

    def look(items: Iterable[Measured], whole: int | None = None) -> set[str]:
        """Judge some numbers, and return the keys of the bands that they fall under."""
        under: set[str] = set()
        for item in items:
            matching = bands.of(item.kinds)
            under.update(matching)
            finding = _judged(item, matching, bands)
            if finding is not None:
                found.setdefault(item.place[:whole], finding)
        held.update(under)
        return under

    known = files or {}
    beside = known.get("bands")
    for name in _names(RuleSetData):
        read = known.get(name)
        if read is not None and read.believed is not None and read.believed[0] is beside:
            held |= read.believed[1]
            continue
        before = len(found)
        under = look(_values(getattr(data, name), (name,)))
        if read is not None and beside is not None and len(found) == before:
            read.believed = beside, frozenset(under)
    look(_capacities(data))
    if not found:
        look(_relations(data), 2)
    yield from found.values()
    if newest and not found:
        for key in bands.spelled_out - held:
            kinds = [".".join(kind) for item in measured(data) for kind in item.kinds]
            near = get_close_matches(key, dict.fromkeys(kinds), n=3) or ["the dotted key of a value"]
            yield Finding(("bands", key), "is the band of no value", ", ".join(near))


def measured(data: RuleSetData) -> Iterator[Measured]:
    """Yield every number of a rule set that has a band."""
    yield from _values(data)
    yield from _capacities(data)
    yield from _relations(data)


def _own(item: Measured) -> str:
    return f'["{".".join(item.kinds[0])}"] with low, high, unit, reason, source, evidence and valid_from'


def _judged(item: Measured, matching: Sequence[str], bands: _Bands) -> Finding | None:
    """Return the fault of some numbers, by the first band that they fall under."""
    if not matching:
        return Finding(item.place, "is of a kind for which there is no band", f"a band in bands.toml: {_own(item)}")
    key = matching[0]
    band, limits = bands.bands[key], bands.limits(key, item.dimension)
    if limits is None:
        accepted = ", ".join(units.DIMENSIONS[item.dimension].symbols)
        return Finding(("bands", key, "unit"), f"{band.unit!r} is no unit of what the band is for", accepted)
    low, high = limits
    for number in item.numbers:
        if not low - _TOLERANCE * abs(low) <= number <= high + _TOLERANCE * abs(high):
            written = units.from_si(number, item.dimension, item.unit)
            return Finding(
                item.place,
                f"{_with_unit(f'{written:.6g}', item.unit)} is outside the band of {key}: {band.reason}",
                f"{_bounds(band)}; or, where more is to be believed, a band of its own in bands.toml: {_own(item)}",
                others=(*item.others, ("bands", key)),
            )
    return None


def _with_unit(text: str, unit: str) -> str:
    """Write a unit behind a number; a ratio has none to be written."""
    return text if unit == "1" else f"{text} {unit}"


def _bounds(band: Band) -> str:
    """Say what a band accepts."""
    if band.low is None:
        return _with_unit(f"at most {band.high:g}", band.unit)
    if band.high is None:
        return _with_unit(f"at least {band.low:g}", band.unit)
    return _with_unit(f"{band.low:g} to {band.high:g}", band.unit)


class _Bands:
    """Bands by the parts of their keys; what was looked up is kept."""

    def __init__(self, bands: dict[str, Band]) -> None:
        self.bands = bands
        self.spelled_out = {key for key in bands if "*" not in key and not key.startswith("capacities.")}
        """Keys that are of one value each, which should be there."""
        self._tree: dict[str, Any] = {}
        self._found: dict[tuple[tuple[str, ...], ...], tuple[str, ...]] = {}
        self._limits: dict[tuple[str, str], tuple[float, float] | None] = {}
        for key in bands:
            node = self._tree
            for part in key.split("."):
                node = node.setdefault(part, {})
            node[""] = key

    def of(self, kinds: tuple[tuple[str, ...], ...]) -> tuple[str, ...]:
        """Return the keys of the bands that a value falls under, that which counts first."""
        found = self._found.get(kinds)
        if found is None:
            found = self._found[kinds] = tuple(key for kind in kinds for key in _matching(self._tree, kind, 0))
        return found

    def limits(self, key: str, dimension: str) -> tuple[float, float] | None:
        """Return the ends of a band in SI; ``None`` when its unit is none of the dimension."""
        if (key, dimension) not in self._limits:
            band = self.bands[key]
            self._limits[key, dimension] = (
                (
                    -inf if band.low is None else units.to_si(band.low, dimension, band.unit),
                    inf if band.high is None else units.to_si(band.high, dimension, band.unit),
                )
                if band.unit in units.DIMENSIONS[dimension].symbols
                else None
            )
        return self._limits[key, dimension]


@lru_cache(maxsize=8)
def _table(bands: tuple[tuple[str, Band], ...]) -> _Bands:
    return _Bands(dict(bands))


def _matching(node: dict[str, Any], kind: tuple[str, ...], at: int) -> Iterator[str]:
    """Yield the keys that match, those with earlier parts spelled out first."""
    if at == len(kind):
        if "" in node:
            yield node[""]
        return
    for part in (kind[at], "*"):
        if part in node:
            yield from _matching(node[part], kind, at + 1)


# ------------------------------------------------------------------------------------------------- values by their place


@lru_cache
def _names(kind: type) -> tuple[str, ...]:
    return tuple(item.name for item in fields(kind) if item.init)


def _records(value: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    """Yield every record that holds numbers, with its place."""
    if isinstance(value, _WITH_NUMBERS):
        yield path, value
    if is_dataclass(value) and not isinstance(value, Datum | Curve | Capacity | Band):
        for name in _names(type(value)):  # type: ignore[arg-type, unused-ignore]
            yield from _records(getattr(value, name), (*path, name))
    elif isinstance(value, dict):
        for key, entry in value.items():
            yield from _records(entry, (*path, key))


_WITH_NUMBERS = (Datum, Curve, Prony, StepTable, NominalSizes, ORingSeries, MeanExpansion, CryogenicFit)


def _measured(place: Path, numbers: Sequence[float], dimension: str, unit: str, name: Path | None = None) -> Measured:
    kind = tuple(str(part) for part in (place if name is None else name))
    return Measured(place, (kind,), numbers, dimension, unit)


def _datum(place: Path, datum: Datum) -> Iterator[Measured]:
    """A number and the ends of its range, each where it stands."""
    kind = tuple(str(part) for part in place)
    for key, number in (("value", datum.si), ("low", datum.si_low), ("high", datum.si_high)):
        if getattr(datum, key) is not None:
            yield Measured((*place, key), (kind,), (number,), datum.dimension, datum.unit)


def _curve(place: Path, curve: Curve) -> Iterator[Measured]:
    yield _measured((*place, "x"), curve.si_x, curve.x_dimension, curve.x_unit)
    yield _measured((*place, "y"), curve.si_y, curve.y_dimension, curve.y_unit)


def _lengths(place: Path, name: str, numbers: Sequence[float], unit: str, kind: Path | None = None) -> Measured:
    si = [units.to_si(number, "length", unit) for number in numbers]
    return _measured((*place, name), si, "length", unit, kind)


_STRAINS = 6
"""Temperatures at which a fit of the strain is looked at, its ends among them."""


def _values(some: Any, path: Path = ()) -> Iterator[Measured]:
    for place, record in _records(some, path):
        if isinstance(record, Datum):
            yield from _datum(place, record)
        elif isinstance(record, Curve):
            yield from _curve(place, record)
        elif isinstance(record, Prony):
            yield _measured((*place, "ratios"), (sum(record.ratios),), "ratio", "1")
            yield _measured((*place, "times_s"), record.times_s, "time", "s")
        elif isinstance(record, StepTable):
            yield _lengths(place, "up_to", record.up_to, record.size_unit)
            for name, column in record.columns.items():
                yield _lengths((*place, "columns"), name, column, record.unit)
        elif isinstance(record, NominalSizes):
            for name in ("shaft", "bore", "width"):
                yield _lengths(place, name, getattr(record, name), record.unit)
        elif isinstance(record, ORingSeries):
            yield _lengths(place, "section", (record.section,), record.unit)
            yield _lengths(place, "section_tolerance", (record.section_tolerance,), record.unit)
            for name in ("inner_diameter", "inner_diameter_tolerance"):
                yield _lengths(place, name, getattr(record, name), record.unit)
        elif isinstance(record, MeanExpansion):
            yield _measured((*place, "temperature"), record.si_temperature, "temperature", record.temperature_unit)
            yield _measured((*place, "mean_coefficient"), record.si_coefficient, "thermal_expansion", record.unit)
            reference = (record.si_reference,)
            yield _measured((*place, "reference_temperature"), reference, "temperature", record.temperature_unit)
        elif isinstance(record, CryogenicFit):
            for name in ("lowest_k", "highest_k", "flat_below_k"):
                yield _measured((*place, name), (getattr(record, name),), "temperature", "K")
            first, span = record.lowest_k, (record.highest_k - record.lowest_k) / (_STRAINS - 1)
            strains = [_polynomial(record.si_coefficients, first + span * step) for step in range(_STRAINS)]
            yield _measured((*place, "coefficients"), strains, "ratio", "1")


def _polynomial(coefficients: Sequence[float], x: float) -> float:
    value = 0.0
    for coefficient in reversed(coefficients):
        value = value * x + coefficient
    return value


_VARIANTS: dict[str, tuple[Any, dict[Any, str]]] = {"flexible_lip": ("reinforcing_band", {False: "plain", True: "banded"}),
             "energized_lip": ("heel", {"standard": "standard", "extended": "extended"})}  # fmt: skip


def _capacities(data: RuleSetData) -> Iterator[Measured]:
    """Yield every capacity once for each kind of design that it may rate; a variant left open counts as the lesser one."""
    for name, entry in data.designs.capacities.items():
        place: Path = ("designs", "capacities", name)
        for family in FEATURES:
            if not _may_rate(entry, family):
                continue
            field, variants = _VARIANTS[family]
            variant = variants[entry.when.get(field, next(iter(variants)))]
            kind = ("capacities", entry.criterion, family, variant)
            for what, record, more in (
                ("limit", entry.limit, ()),
                ("limit_by_speed", entry.limit_by_speed, ()),
                ("factor", entry.factor, ("factor",)),
            ):
                if isinstance(record, Datum):
                    for item in _datum((*place, what), record):
                        yield item._replace(kinds=(*item.kinds, (*kind, *more)))
                elif isinstance(record, Curve):
                    x, y = _curve((*place, what), record)
                    yield x._replace(kinds=(*x.kinds, (*kind, "speed")))
                    yield y._replace(kinds=(*y.kinds, kind))


def _may_rate(entry: Capacity, family: str) -> bool:
    """Whether some design of a family has the features of a capacity."""
    if entry.when.get("family", family) != family:
        return False
    others = {name for features in FEATURES.values() for name in features} - set(FEATURES[family])
    return not others.intersection(entry.when)


# -------------------------------------------------------------------------------------------------------------- relations


def _relations(data: RuleSetData) -> Iterator[Measured]:
    """Yield what values say together, as numbers that have bands like any other.

    ``<a>_over_<b>`` is a ratio; ``at_room`` a table at 23 degC; ``rise`` the greatest ratio of a number of a table to the
    one before it; ``uncovered`` by how much a table falls short of the temperatures it is needed at.
    """
    for name, compound in data.compounds.items():
        place: Path = ("compounds", name)
        modulus, strength = compound.elastic_modulus, compound.yield_strength
        span = compound.temperature_min.si, compound.temperature_max.si
        ends = tuple((*place, end, "value") for end in ("temperature_min", "temperature_max"))
        for field, curve in (("elastic_modulus", modulus), ("yield_strength", strength)):
            at_room = (_at(curve, ROOM),)
            yield _measured((*place, field, "y"), at_room, "stress", curve.y_unit, (*place, field, "at_room"))
            yield _rise((*place, field), curve)
            yield _uncovered((*place, field), curve, *span, ends)
        yield _uncovered((*place, "pv_derating"), compound.pv_derating, max(span[0], ROOM), span[1], ends)
        yield _strain(place, strength, modulus)
        for field, by in (("friction", compound.friction), ("wear", compound.wear)):
            yield from _by_medium((*place, field), by)
    widest = (
        min((compound.temperature_min.si for compound in data.compounds.values()), default=ROOM),
        max((compound.temperature_max.si for compound in data.compounds.values()), default=ROOM),
    )
    for name, alloy in data.alloys.items():
        place = ("alloys", name)
        span = max(alloy.temperature_min.si, widest[0]), min(alloy.temperature_max.si, widest[1])
        ends = tuple((*place, end, "value") for end in ("temperature_min", "temperature_max"))
        for field, curve in (("elastic_modulus", alloy.elastic_modulus), ("yield_strength", alloy.yield_strength)):
            yield _rise((*place, field), curve)
            yield _uncovered((*place, field), curve, *span, ends)
        yield _strain(place, alloy.yield_strength, alloy.elastic_modulus)
    for name, fluid in data.fluids.items():
        if fluid.viscosity is not None:
            yield _rise(("fluids", name, "viscosity"), fluid.viscosity)
    for name, elastomer in data.elastomers.items():
        place = ("elastomers", name)
        wet, dry = elastomer.friction_lubricated, elastomer.friction_dry
        yield _over(place, "friction_lubricated", wet, "friction_dry", dry)
    yield from _of_sizing(data)
    yield from _of_glands(data)
    running, sizing = data.running, data.sizing
    yield _over(("running",), "fresh_time", running.fresh_time, "nominal_time", running.nominal_time)
    service = sizing.following.service_time
    where: Path = ("sizing", "following", "service_time")
    yield _over(("running",), "nominal_time", running.nominal_time, "service_time", service, where)
    travel = data.expansion.energizer_travel
    yield _over(
        ("expansion", "energizer_travel"), "least_share", travel.least_share, "greatest_share", travel.greatest_share
    )


def _at(curve: Curve, x: float) -> float:
    """Value of a table, held constant beyond its ends."""
    if x <= curve.si_x[0]:
        return float(curve.si_y[0])
    for (x0, x1), (y0, y1) in zip(pairwise(curve.si_x), pairwise(curve.si_y), strict=True):
        if x <= x1:
            return float(y0 + (y1 - y0) * (x - x0) / (x1 - x0))
    return float(curve.si_y[-1])


def _rise(place: Path, curve: Curve) -> Measured:
    steepest = max(after / before for before, after in pairwise(curve.si_y))
    return _measured((*place, "y"), (steepest,), "ratio", "1", (*place, "rise"))


def _uncovered(place: Path, curve: Curve, coldest: float, hottest: float, ends: tuple[Path, ...]) -> Measured:
    missing = max(curve.si_x[0] - coldest, hottest - curve.si_x[-1], 0.0)
    item = _measured((*place, "x"), (missing,), "temperature_difference", "K", (*place, "uncovered"))
    return item._replace(others=ends)


def _strain(place: Path, strength: Curve, modulus: Curve) -> Measured:
    strains = [_at(strength, x) / _at(modulus, x) for x in sorted({*strength.si_x, *modulus.si_x})]
    name = (*place, "yield_strength_over_elastic_modulus")
    item = _measured((*place, "yield_strength", "y"), (min(strains), max(strains)), "ratio", "1", name)
    return item._replace(others=((*place, "elastic_modulus", "y"),))


def _ratio(a: float, b: float) -> float:
    """A over b; none of nothing is nothing."""
    return 0.0 if a == 0.0 else a / b if b else inf


def _over(place: Path, first: str, a: Datum, second: str, b: Datum, divisor: Path = ()) -> Measured:
    """The ratio of two numbers of a table; the second stands at ``divisor`` where it is of another."""
    numbers = (_ratio(a.si, b.si),)
    item = _measured((*place, first, "value"), numbers, "ratio", "1", (*place, f"{first}_over_{second}"))
    return item._replace(others=((*(divisor or (*place, second)), "value"),))


def _by_medium(place: Path, by: Any) -> Iterator[Measured]:
    given = [(name, datum) for name in ("oil", "aqueous", "dry") if (datum := getattr(by, name)) is not None]
    for (first, a), (second, b) in pairwise(given):
        yield _over(place, first, a, second, b)


_PROPORTIONS = {
    "energized_lip": (
        ("heel_thickness", "axial_width"), ("strip_thickness", "finger_length"),
        ("finger_deflection", "finger_length"), ("coil_wire_diameter", "coil_height"), ("coil_height", "radial_section"),
    ),
}  # fmt: skip
"""Dimensions that go together."""


_ORDERED = {
    "flexible_lip": (("slenderness_min", "slenderness_max"),),
    "energized_lip": (
        ("light_pressure", "heavy_pressure"), ("spring_load_light", "spring_load_medium"),
        ("spring_load_medium", "spring_load_heavy"), ("slenderness_heavy", "slenderness_light"),
        ("lip_length_heavy", "lip_length_light"),
    ),
}  # fmt: skip
"""Numbers of which the first is the lesser."""


def _of_sizing(data: RuleSetData) -> Iterator[Measured]:
    for family, pairs in _ORDERED.items():
        sizing = getattr(data.sizing, family)
        for first, second in pairs:
            yield _over(("sizing", family), first, getattr(sizing, first), second, getattr(sizing, second))
    for family, pairs in _PROPORTIONS.items():
        sizing = getattr(data.sizing, family)
        for first, second in pairs:
            place: Path = ("sizing", family)
            a, b = getattr(sizing, first), getattr(sizing, second) if second else None
            diameters = sorted({*a.si_x, *(b.si_x if b is not None else ())} - {0.0})
            ratios = [_ratio(_at(a, d), d if b is None else _at(b, d)) for d in diameters] or [inf]
            name = f"{first}_over_{second or 'shaft_diameter'}"
            numbers = (min(ratios), max(ratios))
            item = _measured((*place, first, "y"), numbers, "ratio", "1", (*place, name))
            yield item._replace(others=((*place, second, "y"),) if second else ())


def _of_glands(data: RuleSetData) -> Iterator[Measured]:
    gland = data.gland
    for table, first, second in (
        ("shaft_lead_in_angle", "min", "max"),
        ("bore_roughness", "ra_min", "ra_max"),
        ("o_ring_gland", "squeeze_min", "squeeze_max"),
        ("o_ring_gland", "squeeze_service_min", "squeeze_min"),
        ("o_ring_gland", "squeeze_max", "squeeze_service_max"),
        ("o_ring_gland", "stretch_min", "stretch_target"),
        ("o_ring_gland", "stretch_target", "stretch_max"),
        ("o_ring_gland", "fill_target", "fill_max"),
        ("static_friction", "elastomer_on_ptfe_lubricated", "elastomer_on_ptfe"),
    ):
        record = getattr(gland, table)
        yield _over(("gland", table), first, getattr(record, first), second, getattr(record, second))
    for name, first, second in (
        ("housing_bore", "chamfer_min", "chamfer_max"), ("case_interference", "lower", "upper"),
        ("it_grades", "IT8", "IT11"),
    ):  # fmt: skip
        columns = getattr(gland, name).si_columns
        ratios = [_ratio(a, b) for a, b in zip(columns[first], columns[second], strict=True)]
        place: Path = ("gland", name, "columns")
        yield _measured((*place, first), (max(ratios),), "ratio", "1", ("gland", name, f"{first}_over_{second}"))
    sizes = gland.nominal_sizes
    ratios = [bore / shaft for shaft, bore in zip(sizes.shaft, sizes.bore, strict=True) if shaft > 0.0]
    place = ("gland", "nominal_sizes")
    yield _measured((*place, "bore"), ratios, "ratio", "1", (*place, "bore_over_shaft"))
