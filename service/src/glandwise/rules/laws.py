"""What must hold for any sane rule set, whatever its numbers.

Two kinds of laws: those that can be read off the data (here), and those that take the engine to see (sampled over the
whole envelope by :mod:`glandwise.review.audit`). Each finds a counterexample or holds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from itertools import pairwise
from typing import Any, NamedTuple

from glandwise.rules.features import FEATURES, feature_sets, most_special
from glandwise.rules.model import Capacity, Curve, RuleSetData


class Law(NamedTuple):
    """A law by its identifier, title and statement."""

    id: str
    title: str
    statement: str


class Breach(NamedTuple):
    """Where a law does not hold: what was found, and the keys of the values concerned."""

    text: str
    keys: tuple[str, ...]


SAMPLED = (
    Law("monotone", "more demand never helps", "No case uses less of any limit, wears more slowly or lives longer when pressure, "
        "vacuum, speed, heat, cold, runout or offset grows, the shaft gets softer or the lip runs drier; what a film that carries, "
        "a lip that softens or one that lies down may lower by nature falls in a small share of the cases only."),
    Law("felt", "what bears on a criterion moves it", "Pressure, vacuum, speed, heat, cold, runout, offset and hardness move the "
        "criteria that they bear on in every case to which those apply."),
    Law("apart", "what does not bear on a criterion leaves it", "Nothing else of a duty moves a criterion."),
    Law("proportion", "twice the demand uses twice the limit", "Use grows in proportion to what is held to a limit."),
    Law("materials", "materials bear on what they are for", "Friction, wear, stiffness, strength, limiting PV, derating and "
        "conductivity move what they bear on, the way they should, and nothing else."),
    Law("continuous", "no cliff", "Nowhere, at a breakpoint or between, does the use of a limit jump by more than the stated share."),
    Law("asked", "more demand asks for no less", "The fit of the throat gets no wider as the pressure grows, the shaft is asked to be no "
        "softer as the speed grows or where solids come under the lip."),
    Law("no_hole", "no hole in the map", "Every coherent design has a capacity for every rated criterion at every speed."),
    Law("reachable", "every criterion is reachable", "Somewhere in the envelope each criterion passes, and somewhere it fails."),
)  # fmt: skip
"""Laws that take the engine."""


# ---------------------------------------------------------------------------------------------- laws read off the data


def _matches(entry: Capacity, features: Mapping[str, Any]) -> bool:
    return all(features.get(key) == value for key, value in entry.when.items())


def chosen(data: RuleSetData, criterion: str, features: Mapping[str, Any]) -> tuple[str | None, tuple[str, ...]]:
    """Return the names of the limit and of the factors that rate a design for a criterion."""
    matching = {
        name: entry
        for name, entry in data.designs.capacities.items()
        if entry.criterion == criterion and _matches(entry, features)
    }
    limit = most_special({name: entry.when for name, entry in matching.items() if entry.factor is None})
    return limit, tuple(name for name, entry in matching.items() if entry.factor is not None)


def rated(
    data: RuleSetData, criterion: str, features: Mapping[str, Any]
) -> tuple[tuple[float, ...], tuple[float, ...]] | None:
    """Return the rated capacity as a table over surface speed (one point when it does not depend on it)."""
    name, factors = chosen(data, criterion, features)
    if name is None:
        return None
    entry = data.designs.capacities[name]
    scale = 1.0
    for factor in factors:
        record = data.designs.capacities[factor].factor
        assert record is not None
        scale *= record.si
    if entry.limit is not None:
        return (0.0,), (entry.limit.si * scale,)
    assert entry.limit_by_speed is not None
    return entry.limit_by_speed.si_x, tuple(value * scale for value in entry.limit_by_speed.si_y)


def _at(table: tuple[tuple[float, ...], tuple[float, ...]], x: float) -> float:
    xs, ys = table
    if x <= xs[0]:
        return ys[0]
    for (x0, x1), (y0, y1) in zip(pairwise(xs), pairwise(ys), strict=True):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return ys[-1]


def _not_less(data: RuleSetData, criterion: str, field: str, better: Any, plain: Any) -> Iterator[Breach]:
    """Yield where a design with the better choice is rated lower than the same design with the plain one."""
    for features in feature_sets():
        if features.get(field) != better:
            continue
        other = {**features, field: plain}
        a, b = rated(data, criterion, features), rated(data, criterion, other)
        if a is None or b is None:
            continue
        for x in sorted({*a[0], *b[0]}):
            if _at(a, x) < _at(b, x) * (1.0 - 1e-12):
                where = f" at {x:.4g} m/s" if len({*a[0], *b[0]}) > 1 else ""
                names = {name for f in (features, other) for name in (chosen(data, criterion, f)[0],) if name}
                yield Breach(
                    f"{criterion.replace('_', ' ')} of {words(features)}{where}: {_at(a, x):.6g} with {_word(field, better)}, "
                    f"{_at(b, x):.6g} with {_word(field, plain)} (SI)",
                    tuple(f"designs.capacities.{name}" for name in sorted(names)),
                )
                return


def _word(field: str, value: Any) -> str:
    return f"{field.replace('_', ' ')} {str(value).replace('_', ' ').lower()}"


def words(features: Mapping[str, Any]) -> str:
    """Say the features of a design."""
    return ", ".join(
        [str(features["family"]).replace("_", " "), *(_word(k, v) for k, v in features.items() if k != "family")]
    )


def _falls(curve: Curve, key: str, what: str) -> Iterator[Breach]:
    for (x0, x1), (y0, y1) in zip(pairwise(curve.x), pairwise(curve.y), strict=True):
        if y1 > y0:
            yield Breach(
                f"{what} rises from {y0:g} at {x0:g} {curve.x_unit} to {y1:g} at {x1:g} {curve.x_unit}", (key,)
            )
            return


def _derating(data: RuleSetData) -> Iterator[Breach]:
    for name, compound in data.compounds.items():
        for field in ("pv_derating", "yield_strength", "elastic_modulus"):
            yield from _falls(
                getattr(compound, field), f"compounds.{name}.{field}", f"{field.replace('_', ' ')} of {name}"
            )
    for name, alloy in data.alloys.items():
        for field in ("yield_strength", "elastic_modulus"):
            yield from _falls(getattr(alloy, field), f"alloys.{name}.{field}", f"{field.replace('_', ' ')} of {name}")
    for name, entry in data.designs.capacities.items():
        if entry.limit_by_speed is not None:
            yield from _falls(entry.limit_by_speed, f"designs.capacities.{name}.limit_by_speed", entry.title)


def _filled_wear(data: RuleSetData) -> Iterator[Breach]:
    plain = {name: compound for name, compound in data.compounds.items() if not compound.fillers}
    for name, compound in data.compounds.items():
        if not compound.fillers:
            continue
        for other, reference in plain.items():
            for state in ("dry", "aqueous", "oil"):
                a, b = getattr(compound.wear, state), getattr(reference.wear, state)
                if a is not None and b is not None and a.si > b.si:
                    yield Breach(
                        f"{name} wears faster than {other} in medium {state}: {a.value:g} against {b.value:g} {b.unit}",
                        (f"compounds.{name}.wear.{state}", f"compounds.{other}.wear.{state}"),
                    )


def _unused(data: RuleSetData) -> Iterator[Breach]:
    """Yield capacities, changes, efforts and cautions that can never apply."""
    seen: set[str] = set()
    for features in feature_sets():
        for criterion in {entry.criterion for entry in data.designs.capacities.values()}:
            limit, factors = chosen(data, criterion, features)
            seen.update((*((limit,) if limit else ()), *factors))
    for name in data.designs.capacities:
        if name not in seen:
            yield Breach(f"capacity {name}: no coherent design is rated by it", (f"designs.capacities.{name}",))
    for name, change in data.changes.items():
        fields = {key for axes in FEATURES.values() for key in axes} | {
            "family",
            "compound",
            "energizer_alloy",
            "o_ring_elastomer",
            "lip_direction",
        }
        unknown = set(change.design) - fields
        if unknown:
            yield Breach(f"change {name}: {', '.join(sorted(unknown))} is no field of a design", (f"changes.{name}",))
        for field, table in (
            ("compound", data.compounds),
            ("energizer_alloy", data.alloys),
            ("o_ring_elastomer", data.elastomers),
        ):
            value = change.design.get(field)
            if value is not None and value not in table:
                yield Breach(
                    f"change {name}: there is no {field.replace('_', ' ')} {value}", (f"changes.{name}.design",)
                )
    keys = {
        f"{key}_{str(value).lower()}" for axes in FEATURES.values() for key, values in axes.items() for value in values
    }
    keys |= {f"family_{family}" for family in FEATURES} | {"filled"}
    for name in data.aims.effort:
        if name not in keys:
            yield Breach(f"effort {name}: no choice is called that", (f"aims.effort.{name}",))
    hazards = {hazard for fluid in data.fluids.values() for hazard in fluid.hazards}
    for name, rule in data.cautions.items():
        if rule.hazards and not hazards.intersection(rule.hazards) and not _otherwise(rule):
            yield Breach(f"caution {name}: no fluid has the hazard it is for", (f"cautions.{name}",))


def _otherwise(rule: Any) -> bool:
    return bool(rule.food_contact or rule.pressure_above or rule.temperature_above or rule.temperature_below)


STRUCTURAL: Mapping[Law, Callable[[RuleSetData], Iterator[Breach]]] = {
    Law("reinforced", "a reinforced lip stands no less", "A flexible lip with a reinforcing band is rated for no less pressure and no "
        "less pressure times speed than the same lip without."): lambda data: (
        breach for criterion in ("pressure", "pressure_velocity")
        for breach in _not_less(data, criterion, "reinforcing_band", True, False)
    ),
    Law("extended_heel", "an extended heel stands no less", "An energized lip with an extended heel is rated for no less pressure than "
        "the same lip with a standard one."): lambda data: _not_less(data, "pressure", "heel", "extended", "standard"),
    Law("clamped", "a clamped seal runs no slower", "An energized lip clamped by a flange is rated for no less speed than the same lip "
        "held by an O-ring."): lambda data: _not_less(data, "surface_speed", "retention", "clamped_flange", "o_ring"),
    Law("garter", "a garter takes no less runout", "A flexible lip with an upturned tip and a garter is rated for no less runout and "
        "offset than one with a plain tip."): lambda data: (
        breach for criterion in ("runout", "offset")
        for breach in _not_less(data, criterion, "lip_tip", "upturned_with_garter", "plain")
    ),
    Law("lubricated", "lubrication does no harm", "A lip in oil is rated for no less pressure times speed than a dry one."):
        lambda data: _not_less(data, "pressure_velocity", "medium", "oil", "dry"),
    Law("filled_wear", "fillers slow wear down", "No filled compound wears faster than an unfilled one."): _filled_wear,
    Law("derating", "derating never rises", "Strength, modulus, the derating of PV with temperature, and capacities that depend on "
        "speed never rise along their tables."): _derating,
    Law("used", "no choice is idle", "Every capacity rates a design; every change, effort and caution can apply."): _unused,
}  # fmt: skip
"""Laws read off the data, and the check of each."""
