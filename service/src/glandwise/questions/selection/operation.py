"""Which design would live there: every coherent design evaluated in one pass, ranked, and what the others lack."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from glandwise.case import record
from glandwise.case.choices import Family, Retention
from glandwise.case.intake import build, stated
from glandwise.case.ratings import numbers_of
from glandwise.case.rows import Table, codes_of
from glandwise.case.sizing import unfitness
from glandwise.case.vocabulary import on_duty, state_features
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.contract.duty import Duty
from glandwise.contract.selection import SelectionRequest
from glandwise.engine import Engine, Trace, known, refusal
from glandwise.json_values import Json, JsonObject
from glandwise.mechanics.choices import LipDirection
from glandwise.physics.constants import THOUSAND_HOURS
from glandwise.questions.alternatives.found import alternatives
from glandwise.questions.arrays import Codes, Truths
from glandwise.questions.envelope import evaluation as batch
from glandwise.questions.envelope import operation as envelope
from glandwise.questions.report import assumptions, cautions, provenance
from glandwise.rules.features import FEATURES, SITUATIONS
from glandwise.rules.loader import RuleSet
from glandwise.rules.model import RuleSetData
from glandwise.rules.once import OncePerRuleSet
from glandwise.units import UnitSystem

Array = NDArray[np.float64]


class Candidates(NamedTuple):
    """Coherent designs."""

    rows: Table
    """What each states of its design; once they are judged, whole cases."""
    design: Codes
    """Number of the design, whatever compound and alloy it is made of."""
    effort: Array
    """Effort beyond the plainest seal."""

    @property
    def together(self) -> Codes:
        """Order that brings designs together that differ in heel and retention only."""
        return np.lexsort([self.rows[name] for name in _LEAST_FIRST])


_LEAST_FIRST = (
    "heel",
    "retention",
    "alloy",
    "compound",
    "reinforcing_band",
    "lip_form",
    "second_lip",
    "energizer",
    "family",
)


@OncePerRuleSet
def _every_design(data: RuleSetData) -> Candidates:
    """Return every coherent design of every compound and alloy of a rule set."""
    codes, effort = codes_of(data), {name: datum.si for name, datum in data.aims.effort.items()}
    filled = np.array([bool(compound.fillers) for compound in data.compounds.values()])
    rows: list[Table] = []
    efforts: list[Array] = []
    for family, axes in FEATURES.items():
        for values in product(*axes.values()):
            features = {"family": family, **dict(zip(axes, values, strict=True))}
            springs = range(len(codes.alloys)) if family == "energized_lip" else [-1]
            made = record.table(len(codes.compounds) * len(springs))
            state_features(made, features)
            made["compound"] = np.repeat(np.arange(len(codes.compounds)), len(springs))
            made["alloy"] = np.tile(springs, len(codes.compounds))
            rows.append(made)
            plain = sum(effort.get(f"{name}_{str(value).lower()}", 0.0) for name, value in features.items())
            efforts.append(plain + effort.get("filled", 0.0) * filled[made["compound"]])
    design = np.repeat(np.arange(len(rows)), [len(made) for made in rows])
    return Candidates(record.joined(rows), design, np.concatenate(efforts))


def candidates(data: RuleSetData, request: SelectionRequest) -> Candidates:
    """Return the coherent designs that a request allows, in the order in which it names what they are made of."""
    every, r, codes = _every_design(data), request.restrict, codes_of(data)
    rows = every.rows
    compounds = _wanted(codes.compounds, r.compounds, data.compounds, "compounds", "compound")
    alloys = _wanted(codes.alloys, r.energizer_alloys, data.alloys, "energizer_alloys", "alloy")
    if not any((r.compounds, r.energizer_alloys, r.families, r.retentions)):
        return every
    family = _places(rows["family"], None if r.families is None else [Family[name] for name in r.families])
    retention = _places(rows["retention"], None if r.retentions is None else [Retention[name] for name in r.retentions])
    compound = _places(rows["compound"], compounds)
    alloy = np.where(rows["family"] == Family.energized_lip, _places(rows["alloy"], alloys), 0)
    order = np.lexsort((alloy, compound, every.design, family))
    allowed = np.minimum.reduce([family, retention, compound, alloy]) >= 0
    order = order[allowed[order]]
    if not order.size:
        raise refusal("out_of_domain", ("restrict",), "no design is left to choose from", "fewer restrictions")
    return Candidates(record.chosen(rows, order), every.design[order], every.effort[order])


def _wanted(
    codes: Mapping[str, int], wanted: list[str] | None, table: Mapping[str, object], field: str, what: str
) -> list[int] | None:
    """Return the codes of names that a request restricts to."""
    if wanted is None:
        return None
    for position, name in enumerate(wanted):
        known(table, name, ("restrict", field, position), what)
    return [codes[name] for name in wanted]


def _places(held: Codes, wanted: Sequence[int] | None) -> Codes:
    """Return the place of each code among those wanted, negative where it is not; all of them where nothing is said."""
    if wanted is None:
        return np.maximum(held, 0)
    places = np.full(held.max(initial=0) + 2, -1)
    for place, code in enumerate(dict.fromkeys(wanted)):
        places[code] = place
    return places[held]


def elastomer_for(duty: Duty, data: RuleSetData, wanted: list[str]) -> str:
    """Choose the O-ring elastomer that suits the duty best among those wanted, of equals the first."""
    codes, numbers = codes_of(data), numbers_of(data).packed
    for position, name in enumerate(wanted):
        known(data.elastomers, name, ("restrict", "o_ring_elastomers", position), "elastomer")
    elastomers = np.asarray(numbers.elastomers).view(np.recarray)
    cold = duty.temperature.normal if duty.temperature.minimum is None else duty.temperature.minimum
    hot = duty.temperature.normal if duty.temperature.maximum is None else duty.temperature.maximum
    attacked = batch.verdicts_of(data).on_elastomer[codes.fluids[duty.fluid]]

    def badness(name: str) -> int:
        code = codes.elastomers[name]
        return unfitness(elastomers[code], int(attacked[code]), cold, hot)

    return min(wanted, key=badness)


def design_of(data: RuleSetData, c: Candidates, index: int, elastomer: str | None) -> FlexibleLip | EnergizedLip:
    """Return one judged candidate as a design of the contract."""
    row = c.rows[index]
    fields = {
        name: value for name, value in numbers_of(data).features(int(row["rating"])).items() if name not in SITUATIONS
    }
    fields["compound"] = list(data.compounds)[row["compound"]]
    fields["lip_direction"] = LipDirection(row["lip_direction"]).name
    if fields["retention"] == "o_ring":
        fields["o_ring_elastomer"] = elastomer
    if fields["family"] == "energized_lip":
        fields["energizer_alloy"] = list(data.alloys)[row["alloy"]]
        return EnergizedLip.model_validate(fields)
    return FlexibleLip.model_validate(fields)


def as_request(design: FlexibleLip | EnergizedLip) -> JsonObject:
    """Write a design without dimensions as request fields."""
    return design.model_dump(mode="json", exclude_none=True)


def direction_for(duty: Duty, data: RuleSetData) -> LipDirection:
    """Choose where the lip points: to the greater pressure, which presses it on.

    A liquid has to be held at rest as well, so that only a vacuum that would lift the lip turns it to the air.
    """
    holds = data.fluids[duty.fluid].phase != "gas"
    turns = -data.requirements.barrier_vacuum.si if holds else 0.0
    return LipDirection.away if duty.pressure < 0.0 and duty.pressure <= turns else LipDirection.toward


def spread(data: RuleSetData, duty: Duty, c: Candidates, elastomer: str | None) -> Table:
    """Put one duty before every candidate."""
    rows: Table = record.copied(c.rows)
    rows["lip_direction"] = direction_for(duty, data)
    on_duty(rows, stated(data, duty)[0])
    if elastomer is not None:
        rows["elastomer"] = codes_of(data).elastomers[elastomer]
    return rows


# ------------------------------------------------------------------------------------------------------------ ranking


AIMS = ("margin", "friction", "life", "simplicity", "practice", "evidence")


class Scores(NamedTuple):
    """Scores of the candidates by aim, and their weighted mean."""

    margin: batch.Array
    friction: batch.Array
    life: batch.Array
    simplicity: batch.Array
    practice: batch.Array
    evidence: batch.Array
    total: batch.Array


_shares = OncePerRuleSet(lambda _: dict[Hashable, float]())
"""By features: codes of ratings are given out in the order in which they are asked for."""


def evidence_shares(data: RuleSetData, rows: Table) -> Array:
    """Share of the rated capacities of every judged candidate that rest on more than an estimate."""
    held, numbers = _shares(data), numbers_of(data)
    codes, inverse = np.unique(rows["rating"], return_inverse=True)
    shares = []
    for code in codes.tolist():
        features = tuple(numbers.features(code).items())
        if features not in held:
            rated = [item for item in numbers.rated(code).values() if item.limit is not None]
            levels = [provenance(item.records).evidence for item in rated]
            held[features] = sum(level != "house_estimate" for level in levels) / max(len(levels), 1)
        shares.append(held[features])
    found: Array = np.array(shares)[inverse]
    return found


def practice_of(data: RuleSetData, rows: Table) -> Array:
    """How usual the family of every candidate is where its duty is: 1 wholly, 0 not at all."""
    rule = data.aims.practice

    def along(x: Array, usual: float, unusual: float) -> Array:
        return np.clip((unusual - x) / (unusual - usual), 0.0, 1.0)

    def by_logarithm(x: Array, usual: float, unusual: float) -> Array:
        return along(np.log(np.maximum(np.abs(x), usual)), math.log(usual), math.log(unusual))

    flexible = np.minimum.reduce([
        by_logarithm(rows["pressure"], rule.flexible_pressure_usual.si, rule.flexible_pressure_unusual.si),
        along(-rows["pressure"], rule.flexible_vacuum_usual.si, rule.flexible_vacuum_unusual.si),
        along(rows["temperature_min"], rule.flexible_cold_usual.si, rule.flexible_cold_unusual.si),
        along(rows["temperature"], rule.flexible_hot_usual.si, rule.flexible_hot_unusual.si),
    ])  # fmt: skip
    energized = by_logarithm(rows["surface_speed"], rule.energized_speed_usual.si, rule.energized_speed_unusual.si)
    found: Array = np.where(rows["family"] == Family.energized_lip, energized, flexible)
    return found


def weights_of(data: RuleSetData, request: SelectionRequest) -> dict[str, float]:
    """Return the weights of the aims, adding up to 1."""
    rule = data.aims.weights
    raw = {name: getattr(rule, name).si if (given := getattr(request.aims, name)) is None else given for name in AIMS}
    total = sum(raw.values())
    if total <= 0.0:
        raise refusal("out_of_domain", ("aims",), "every aim has no weight", "at least one weight above 0")
    return {name: value / total for name, value in raw.items()}


def lives(found: batch.Evaluation) -> batch.Array:
    """Nominal lives; infinite where nothing wears, zero where not known or where the load is lost before the wear ends it."""
    known = np.where(np.isfinite(found.life), found.life, 0.0)
    life: batch.Array = np.where(found.wear_rate == 0.0, np.inf, known)
    return life


def score(
    data: RuleSetData,
    c: Candidates,
    found: batch.Evaluation,
    passing: Truths,
    weights: Mapping[str, float],
) -> Scores:
    """Score the candidates by aim, less what each material costs that is not known to stand the fluid, and each limit that is near.

    Friction is relative to the best passing one.
    """
    used = np.array([found.utilization[name] for name in found.utilization])
    with np.errstate(invalid="ignore"):
        worst = np.where(np.isnan(used), -np.inf, used).max(axis=0)
    margin = np.clip(1.0 - np.maximum(worst, 0.0), 0.0, 1.0)
    torque = np.where(np.isnan(found.torque), np.inf, found.torque)
    least = torque[passing].min() if passing.any() else np.inf
    with np.errstate(divide="ignore", invalid="ignore"):
        friction = np.where(torque > 0.0, np.minimum(least / torque, 1.0), 1.0)
    friction = np.where(np.isnan(friction), 0.0, friction)
    least, ample = data.aims.least_life.si, data.aims.ample_life.si
    life = np.log(np.clip(lives(found), least, ample) / least) / math.log(ample / least)
    simplicity = 1.0 / (1.0 + c.effort)
    practice = practice_of(data, found.rows)
    evidence = evidence_shares(data, found.rows)
    aims = (margin, friction, life, simplicity, practice, evidence)
    earned = sum(weights[name] * aim for name, aim in zip(AIMS, aims, strict=True))
    left = (1.0 - data.aims.material_in_doubt.si) ** batch.doubtful(data, found.rows)
    near = (np.array([found.status[name] for name in found.utilization]) == batch.CAUTION).sum(axis=0)
    return Scores(*aims, earned * left * (1.0 - data.aims.near_limit.si) ** near)


def _best_alloys(c: Candidates, order: Codes) -> list[int]:
    """Keep the first of candidates that differ in the alloy only."""
    indices = np.asarray(order, dtype=np.intp)
    compound = c.rows["compound"]
    _, first = np.unique(c.design[indices] * (1 + compound.max()) + compound[indices], return_index=True)
    kept: list[int] = indices[np.sort(first)].tolist()
    return kept


def title(data: RuleSetData, design: FlexibleLip | EnergizedLip, elastomer: str | None = None) -> str:
    """Say a design in words; ``elastomer`` is that of the O-ring, as it was judged, where the design leaves it open."""
    compound = data.compounds[design.compound].title
    if isinstance(design, FlexibleLip):
        parts = ["flexible lip"]
        if design.second_lip != "none":
            parts.append({"excluder": "excluder", "redundant": "redundant lip"}[design.second_lip])
        if design.lip_tip != "plain":
            parts.append("upturned tip with garter")
        if design.reinforcing_band:
            parts.append("reinforcing band")
    else:
        form = {"plain": "energized lip", "scraper": "energized scraper lip", "tapered": "energized tapered lip"}
        spring = {"cantilever_v": "cantilever V", "canted_coil": "canted coil"}[design.energizer]
        parts = [form[design.lip_form], f"{spring} of UNS {design.energizer_alloy or data.sizing.energizer_alloy.name}"]
        if design.heel == "extended":
            parts.append("extended heel")
    if design.lip_direction == "away":
        parts.append("turned to the air side")
    held = {"o_ring": f"{design.o_ring_elastomer or elastomer} O-ring", "clamped_flange": "clamped by a flange",
            "press_fit_case": "pressed-in case"}[design.retention]  # fmt: skip
    return f"{', '.join(parts)}; {held}; {compound}"


class Governing(NamedTuple):
    """The criterion that decides on a candidate, as an answer writes it."""

    id: str
    title: str
    status: str
    utilization: float | None


def _governing(data: RuleSetData, found: batch.Evaluation, index: int) -> Governing:
    name = found.criteria[int(found.governing[index])]
    used = float(found.utilization[name][index]) if name in found.utilization else math.nan
    return Governing(
        id=name,
        title=data.criteria[name].title,
        status=batch.STATUSES[int(found.status[name][index])],
        utilization=float(f"{used:.10g}") if np.isfinite(used) else None,
    )


def _rank_reason(scores: Scores, index: int, weights: Mapping[str, float], governing: Governing) -> str:
    earned = {name: weights[name] * float(getattr(scores, name)[index]) for name in AIMS}
    best = max(AIMS, key=lambda name: earned[name])
    # an aim that carries a design does not hold it back as well
    lost = {name: weights[name] * (1.0 - float(getattr(scores, name)[index])) for name in AIMS if name != best}
    worst = max(lost, key=lambda name: lost[name])
    weak = f", held back by {_WEAKNESS[worst]}" if lost[worst] > 0.0 else ""
    share = f" at {100.0 * governing.utilization:.0f} % of its limit" if governing.utilization is not None else ""
    return f"Carried by {_STRENGTH[best]}{weak}; {governing.title} governs{share}."


_STRENGTH = {
    "margin": "its margin",
    "friction": "its low friction",
    "life": "its long life",
    "simplicity": "its simplicity",
    "practice": "being usual there",
    "evidence": "the evidence behind its ratings",
}
_WEAKNESS = {
    "margin": "its small margin",
    "friction": "its friction",
    "life": "its short life",
    "simplicity": "its effort",
    "practice": "being unusual there",
    "evidence": "thin evidence",
}


# ------------------------------------------------------------------------------------------------------- near misses


_FEATURES = ("energizer", "second_lip", "lip_form", "reinforcing_band", "retention", "heel", "compound")


def _distance(c: Candidates, a: int, others: Codes) -> Codes:
    """Number of choices in which candidates differ from one; another family differs in everything."""
    here, rows = c.rows[a], {name: c.rows[name][others] for name in ("family", "alloy", *_FEATURES)}
    differ = sum((rows[name] != here[name]).astype(int) for name in _FEATURES)
    # all springs of a lip differ from none, and those of a garter are no choice
    alloy = (rows["alloy"] != here["alloy"]) & (rows["alloy"] >= 0) & (here["alloy"] >= 0)
    other = 50 + (rows["compound"] != here["compound"])
    count: Codes = np.where(rows["family"] == here["family"], differ, other) + alloy
    return count


def _smallest_change(
    data: RuleSetData, c: Candidates, found: batch.Evaluation, scores: Scores, index: int, passing: Truths, elastomer: str | None,
    duty: Duty, rules: RuleSet, units: UnitSystem,
) -> JsonObject | None:  # fmt: skip
    """The fewest choices to change, among all designs that pass; where none passes, one change of the duty."""
    good = np.flatnonzero(passing)
    mine = design_of(data, c, index, elastomer)
    if good.size:
        distance = _distance(c, index, good)
        order = np.lexsort((-scores.total[good], distance))
        target = int(good[order[0]])
        theirs = design_of(data, c, target, elastomer)
        before, after = as_request(mine), as_request(theirs)
        fields = {key: value for key, value in after.items() if before.get(key) != value}
        words = [_choice(data, key, value) for key, value in fields.items()]
        return {
            "kind": "design",
            "title": "change to " + ", ".join(words),
            "design": fields,
            "verdict": batch.STATUSES[int(found.verdict[target])],
        }
    eased = envelope.relief(duty, mine, rules, units)
    if eased is None:
        return None
    return {"kind": "duty", "title": eased[0], "design": {}, "verdict": eased[2]}


def _choice(data: RuleSetData, field: str, value: Json) -> str:
    """Say one choice of a design in words."""
    name = field.replace("_", " ")
    if field == "compound":
        return data.compounds[str(value)].title
    if field == "energizer_alloy":
        return f"an energizer of UNS {value}"
    if value is True or value is False:
        return f"{'a' if value else 'no'} {name}"
    return f"no {name}" if value == "none" else f"{str(value).replace('_', ' ')} {name}"


def _nearest_first(c: Candidates, found: batch.Evaluation, scores: Scores) -> list[int]:
    """Return the designs that fail, one of those that differ in the alloy.

    A family that the trade takes for such a duty comes first, since what does not hold is the start of a talk, and nobody
    starts it from the other; then what fails fewest criteria by least.
    """
    failing = np.array([found.status[name] == batch.FAIL for name in found.criteria])
    count = failing.sum(axis=0)
    excess = np.zeros(len(count))
    for name, used in found.utilization.items():
        excess = np.maximum(excess, np.where(found.status[name] == batch.FAIL, used, 0.0))
    order = np.lexsort((-scores.total, excess, count, -np.round(scores.practice)))
    return _best_alloys(c, order[count[order] > 0])


def _near_misses(
    data: RuleSetData, c: Candidates, found: batch.Evaluation, scores: Scores, passing: Truths, elastomer: str | None,
    request: SelectionRequest, rules: RuleSet, units: UnitSystem,
) -> list[JsonObject]:  # fmt: skip
    failing = np.array([found.status[name] == batch.FAIL for name in found.criteria])
    missed = np.array(_nearest_first(c, found, scores), dtype=np.intp)
    # one example of each way to miss, so that the list does not repeat itself
    ways = np.array([c.rows["family"], *failing])[:, missed]
    _, first = np.unique(ways, axis=1, return_index=True)
    chosen: list[JsonObject] = []
    for index in missed[np.sort(first)[: request.near_miss_limit]].tolist():
        names = [name for name in found.criteria if found.status[name][index] == batch.FAIL]
        design = design_of(data, c, index, elastomer)
        chosen.append(
            {
                "design": as_request(design),
                "title": title(data, design),
                "failing": names,
                "governing": _governing(data, found, index)._asdict(),
                "change": _smallest_change(
                    data, c, found, scores, index, passing, elastomer, request.duty, rules, units
                ),
            }
        )
    return chosen


def _obstacles(data: RuleSetData, found: batch.Evaluation, units: UnitSystem) -> list[JsonObject]:
    """Say what stands in the way, the criteria that no design meets first."""
    n = len(found.verdict)
    rows: list[tuple[tuple[float, float], JsonObject]] = []
    for name in found.criteria:
        fails = int((found.status[name] == batch.FAIL).sum())
        if not fails:
            continue
        label = data.criteria[name].title
        best, text = None, f"{fails} of {n} designs fail {label}."
        if name in found.utilization:
            used = found.utilization[name]
            index = int(np.nanargmin(used))
            best = float(used[index])
            dimension = envelope.DIMENSION[name]
            demand, limit = (
                units.text(dimension, float(table[name][index])) for table in (found.demand, found.capacity)
            )
            if not np.isfinite(best):
                best, text = None, "No design that can be judged comes near it."
            elif best > envelope.SLACK:
                text = f"No design that can be judged meets it: {demand} is asked for, the best gives {limit} ({100 * best:.0f} % used)."
            elif np.nanmin(found.demand[name]) == np.nanmax(found.demand[name]):
                text = f"{fails} of {n} designs fail it; {demand} is asked for, the best gives {limit}."
            else:  # each design brings a demand of its own
                text = f"{fails} of {n} designs fail it; the best uses {100 * best:.0f} % of what it has."
        elif fails == n:
            text = f"No design meets {label}."
        row: JsonObject = {
            "criterion": name,
            "title": label,
            "fails": fails,
            "best_utilization": None if best is None else float(f"{best:.10g}"),
            "reason": text,
        }
        rows.append(((-fails, -(best or 0.0)), row))
    return [row for _, row in sorted(rows, key=lambda item: item[0])]


# ----------------------------------------------------------------------------------------------------------- request


class Failures(NamedTuple):
    """How many designs a criterion stops, as an answer writes it."""

    criterion: str
    title: str
    governs: int
    """Those in which it is the one that decides."""
    fails: int


class Ranking(NamedTuple):
    """Every design that a request allows, judged, and the order of those that pass."""

    candidates: Candidates
    found: batch.Evaluation
    scores: Scores
    weights: dict[str, float]
    passing: Truths
    """Which candidates pass."""
    best: list[int]
    """Candidates that pass, best first, of those that differ in the alloy only the first."""
    elastomer: str | None
    """Elastomer of the designs with an O-ring."""

    def design(self, data: RuleSetData, index: int) -> FlexibleLip | EnergizedLip:
        """Return a candidate as a design."""
        return design_of(data, self.candidates, index, self.elastomer)

    def nearest(self, data: RuleSetData) -> FlexibleLip | EnergizedLip:
        """Return the design that comes nearest to passing where none does."""
        return self.design(data, next(iter(_nearest_first(self.candidates, self.found, self.scores)), 0))


def guarded(duty: Duty, rows: Table) -> Truths:
    """Tell of each candidate whether it keeps the dirt out that comes from the air side; of clean air, each does."""
    if duty.contaminants in {None, "clean"}:
        return np.ones(len(rows), bool)
    return batch.guarded(rows)


def unknown_to_food(found: batch.Evaluation) -> Truths:
    """Return where it is not known whether the compound may touch the food that is sealed."""
    status = found.status.get("food_contact")
    return np.zeros(len(found.verdict), dtype=bool) if status is None else status == batch.NOT_EVALUATED


def rank(request: SelectionRequest, rules: RuleSet) -> Ranking:
    """Judge and rank the designs that a request allows."""
    data, duty = rules.data, request.duty
    known(data.fluids, duty.fluid, ("duty", "fluid"), "fluid")
    weights = weights_of(data, request)
    c = candidates(data, request)
    ringed, wanted = c.rows["retention"] == Retention.o_ring, request.restrict.o_ring_elastomers
    elastomer = elastomer_for(duty, data, wanted) if wanted is not None and ringed.any() else None
    found = batch.evaluate(data, spread(data, duty, c, elastomer), c.together)
    c = c._replace(rows=found.rows)
    if elastomer is None and ringed.any():  # as the rules choose it
        elastomer = list(data.elastomers)[c.rows["elastomer"][np.argmax(ringed)]]
    passing = (found.verdict == batch.PASS) | (found.verdict == batch.CAUTION)
    scores = score(data, c, found, passing, weights)
    # nobody proposes for food what is not known to be fit for it while something else is; then dirt from the air side
    # outranks every aim: what nothing keeps out ends any seal
    order = np.lexsort((-scores.total, found.verdict, ~guarded(duty, c.rows), unknown_to_food(found)))
    return Ranking(c, found, scores, weights, passing, _best_alloys(c, order[passing[order]]), elastomer)


def select(request: SelectionRequest, engine: Engine, ranking: Ranking | None = None) -> JsonObject:
    """Answer a selection, of a ranking that is at hand already where one is given."""
    rules, units = engine.rules(request), request.units.system_of_units()
    data, duty = rules.data, request.duty
    c, found, scores, weights, passing, best, elastomer = rank(request, rules) if ranking is None else ranking
    ranked: list[JsonObject] = []
    for place, index in enumerate(best[: request.limit], start=1):
        design = design_of(data, c, index, elastomer)
        governing = _governing(data, found, index)
        ranked.append(
            {
                "rank": place,
                "score": float(f"{scores.total[index]:.6g}"),
                "scores": {name: float(f"{getattr(scores, name)[index]:.6g}") for name in weights},
                "design": as_request(design),
                "title": title(data, design),
                "verdict": batch.STATUSES[int(found.verdict[index])],
                "governing": governing._asdict(),
                "torque": units.optional("torque", float(found.torque[index])),
                "wear_per_1000_h": units.optional("length", float(found.wear_rate[index]) * THOUSAND_HOURS),
                "life": _life(data, float(found.life[index]), units),
                "reason": _rank_reason(scores, index, weights, governing),
            }
        )
    failed = found.verdict == batch.FAIL
    failures: list[Failures] = []
    for position, name in enumerate(found.criteria):
        governs = int((failed & (found.governing == position)).sum())
        fails = int((found.status[name] == batch.FAIL).sum())
        if fails:
            failures.append(Failures(name, data.criteria[name].title, governs, fails))
    failures.sort(key=lambda row: (-row.governs, -row.fails))
    counts = {
        "evaluated": len(c.rows),
        "passing": int((found.verdict == batch.PASS).sum()),
        "with_caution": int((found.verdict == batch.CAUTION).sum()),
        "failing": int(failed.sum()),
        "not_evaluated": int((found.verdict == batch.NOT_EVALUATED).sum()),
    }
    near = (
        _near_misses(data, c, found, scores, passing, elastomer, request, rules, units)
        if request.near_miss_limit
        else []
    )
    case = build(duty, design_of(data, c, best[0] if best else 0, elastomer), rules)
    records = Trace()
    rule = data.aims.weights
    records.add(
        *(getattr(rule, name) for name in weights if getattr(request.aims, name) is None),
        data.aims.least_life,
        data.aims.ample_life,
        *data.aims.effort.values(),
    )
    case.assumed = [item for item in case.assumed if item.pointer.startswith("/duty")]
    verdict = batch.STATUSES[int(found.verdict[best[0]])] if best else "fail"
    return {
        "verdict": verdict,
        "summary": _summary(counts, ranked, failures),
        "alternatives": [item.written(units) for item in alternatives(duty, data)],
        "counts": counts,
        "ranked": ranked,
        "failures": [row._asdict() for row in failures],
        "near_misses": near,
        "obstacles": [] if best else _obstacles(data, found, units),
        "o_ring_elastomer": elastomer,
        "weights": {name: float(f"{value:.6g}") for name, value in weights.items()},
        "assumptions": assumptions(case, units),
        "cautions": cautions(case, duty.food_contact),
        "evidence": records.evidence,
        "stamp": engine.stamp("select_design", request, rules),
        "working": envelope.working_of(build(duty, design_of(data, c, best[0], elastomer), rules), duty)
        if request.working and best
        else None,
    }


def _life(data: RuleSetData, life: float, units: UnitSystem) -> JsonObject | None:
    """Write a life, none longer than the longest that is estimated; an infinite one is none."""
    return units.optional("time", min(life, data.running.wear.longest_life.si)) if life < math.inf else None


def _summary(counts: Mapping[str, int], ranked: Sequence[JsonObject], failures: Sequence[Failures]) -> str:
    total = counts["evaluated"]
    if not ranked:
        first = failures[0].title if failures else "nothing that could be evaluated"
        return f"None of {total} designs passes; {first} stops most of them."
    count, careful = counts["passing"], counts["with_caution"]
    first = f"first: {ranked[0]['title']}."
    if not count:
        some = "1 passes" if careful == 1 else f"{careful} pass"
        return f"None of {total} designs passes outright, {some} with care; {first}"
    some = f"{count} of {total} designs {'passes' if count == 1 else 'pass'}"
    return f"{some}, {careful} more with care; {first}" if careful else f"{some}; {first}"
