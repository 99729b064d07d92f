"""What to ask the customer: within what of the unknown a verdict stands, what turns it beyond, and how sure it is meanwhile.

Only what is not stated, or stated with a range, is asked for, and only where an answer changes a verdict: that of the envelope
and, where they were judged, those of gland and thermal fit. The design stays as it is, with its sizes, and so does the hardware;
one input is varied by itself for its range, all of them together for the confidence, which is of the envelope alone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from math import isfinite
from typing import NamedTuple, TypeAlias

import numpy as np

from glandwise.case.choices import Dirt, Lead
from glandwise.case.intake import Case, Design, Sized, build
from glandwise.case.vocabulary import NUMBERS
from glandwise.contract.duty import Duty, Oscillation, Rotation, SurfaceMotion
from glandwise.contract.quantities import Ranged, measured, with_number
from glandwise.contract.running import HeatSurroundings
from glandwise.json_values import JsonObject
from glandwise.numerics.boundary import Point, bisect
from glandwise.questions.advice import rests_on, within
from glandwise.questions.arrays import Codes, Column, Floats, Numbers, Table, Truths
from glandwise.questions.envelope import evaluation as batch
from glandwise.questions.envelope import operation as envelope
from glandwise.questions.friction.operation import subject_of
from glandwise.questions.unknowns.around import FIT, GLAND, Around, Outcome
from glandwise.questions.wear import found as wear
from glandwise.rules.loader import RuleSet
from glandwise.rules.model import Datum
from glandwise.rules.sourced import Records
from glandwise.units import UnitSystem

GRID = 33
"""Values of a number that are tried over its plausible range, before its ends are solved."""
STRIDE = 2
"""Of them, each so many-th is tried in gland and thermal fit, which take some times as long."""
HALVINGS = 18
"""Of the way between two of them: the ends are known to a hundred thousandth of the range."""
ENVELOPE = "envelope"
MADE_FOR_EACH = frozenset({"shaft_diameter"})
"""Fields of a case that all of the hardware follows: with a range of them, gland and thermal fit are not judged."""
WITHIN_BORE = 0.98
"""Share of the way from shaft to bore up to which an opening behind the seal is one."""
CASES = 256
"""Plausible cases that a confidence looks at."""
NAMED = 3
"""Criteria that the words of a confidence name at most."""
SPREAD = 0.9
"""Share of the cases that lie between the ends of a spread."""


Columns: TypeAlias = Mapping[str, Column]
"""Fields of a case or of the hardware that are set, one value a row."""


class Asked(NamedTuple):
    """A judged design."""

    case: Case
    duty: Duty
    design: Design
    rules: RuleSet
    findings: Sequence[envelope.Finding]
    units: UnitSystem
    ranges: Mapping[tuple[str, ...], Ranged] = {}
    """What is stated with a range, by its place in the request."""
    surroundings: HeatSurroundings = HeatSurroundings()
    around: Around | None = None
    """Gland and thermal fit, where they are asked about too."""


class Number(NamedTuple):
    """A number that is not stated, or stated with a range."""

    id: str
    pointer: str
    dimension: str
    column: str
    """Field of the case; empty of a number of the hardware."""
    low: float
    high: float
    by_logarithm: bool
    text: str
    """The question."""
    records: Records
    stated: float | None = None
    """What is stated within the range; ``None`` where nothing is."""
    hardware: tuple[str, ...] = ()
    """Fields of the hardware."""
    origin: float = 0.0
    """What the logarithm counts from."""
    digits: int = 3
    """Digits of its ends in words."""

    def at(self, share: Numbers) -> Floats:
        """Return the values at some shares of the plausible range."""
        share = np.asarray(share)
        if self.by_logarithm:
            least, most = self.low - self.origin, self.high - self.origin
            return self.origin + least * (most / least) ** share
        return self.low + share * (self.high - self.low)

    def share_of(self, value: float) -> float:
        """Return where a value lies in a range that is stated."""
        return (value - self.low) / (self.high - self.low)

    def put(self, asked: Asked, value: float) -> tuple[Duty, Design]:
        """Return duty and design with the number stated."""
        root, *path = self.pointer.split("/")[1:]
        if root == "design":
            return asked.duty, with_number(asked.design, path, value)
        duty = with_number(asked.duty, path, value)
        T = duty.temperature
        ends = {
            "minimum": None if T.minimum is None else min(T.minimum, T.normal),
            "maximum": None if T.maximum is None else max(T.maximum, T.normal),
        }
        return duty.model_copy(update={"temperature": T.model_copy(update=ends)}), asked.design


class Option(NamedTuple):
    """One of the choices: its name, how many mean it, and what it sets in a row."""

    name: str
    share: float
    sets: dict[str, int]
    hardware: Table | None = None
    """Row of the hardware with it, as a table; ``None`` where it is none of the hardware."""
    title: str | None = None
    """How it stands in a sentence; as it is named where ``None``."""

    @property
    def words(self) -> str:
        """The choice within a sentence."""
        return self.title or self.name


class Choice(NamedTuple):
    """A choice that is not stated."""

    id: str
    pointer: str
    options: tuple[Option, ...]
    text: str
    records: Records


# --------------------------------------------------------------------------------------------------------- what is open


def numbers_of(asked: Asked) -> Iterator[Number]:
    """Yield the numbers that the duty leaves open."""
    duty, rule, T = asked.duty, asked.rules.data.unknowns, asked.duty.temperature.normal

    def one(name: str, pointer: str, dimension: str, column: str, text: str, by_logarithm: bool = True) -> Number:
        datum: Datum = getattr(rule, name)
        return Number(name, pointer, dimension, column, datum.si_low, datum.si_high, by_logarithm, text, (datum,))

    yield from _stated(asked)
    if duty.runout is None:
        text = "How much does the shaft run out at the lip, as total indicator reading?"
        yield one("runout", "/duty/runout", "length", "runout", text)
    if duty.offset is None:
        text = "How far may the middle of the shaft lie off that of the bore?"
        yield one("offset", "/duty/offset", "length", "offset", text)
    if not isfinite(asked.case.hardness):  # a stated material says how hard it is
        text = "How hard is the surface of the shaft under the lip?"
        yield one("shaft_hardness", "/duty/shaft/hardness", "hardness_hrc", "hardness", text, by_logarithm=False)
    if duty.shaft.roughness is None:
        text = "How rough is the shaft under the lip, as Ra?"
        yield one("shaft_roughness", "/duty/shaft/roughness", "roughness", "roughness", text)
    if duty.temperature.minimum is None and T > rule.colder.si_high:
        text = "How cold does the fluid get at the seal, at rest and at a start?"
        yield Number("minimum_temperature", "/duty/temperature/minimum", "temperature", "temperature_min",
                     T - rule.colder.si_high, T - rule.colder.si_low, False, text, (rule.colder,))  # fmt: skip
    if duty.temperature.maximum is None:
        text = "How hot does the fluid get at the seal at the worst?"
        yield Number("maximum_temperature", "/duty/temperature/maximum", "temperature", "temperature_max",
                     T + rule.hotter.si_low, T + rule.hotter.si_high, False, text, (rule.hotter,))  # fmt: skip
    if duty.target_life is None:
        text = "How many hours of running is the seal to last?"
        yield one("target_life", "/duty/target_life", "time", "target_life", text)


_FIELDS = {number.place: (number.model, number.field) for number in NUMBERS.values()}
_NAMES = {
    "duty.temperature.normal": "normal_temperature", "duty.temperature.minimum": "minimum_temperature",
    "duty.temperature.maximum": "maximum_temperature", "duty.shaft.hardness": "shaft_hardness",
    "duty.shaft.roughness": "shaft_roughness",
}  # fmt: skip
"""Identifiers of the questions for what is stated with a range, where they are not the name of the field."""
_IN_WORDS = {
    "shaft_diameter": "the diameter of the shaft", "rotational_speed": "the speed of the shaft",
    "surface_speed": "the surface speed of the shaft", "half_amplitude": "the half amplitude of the swing",
    "frequency": "the frequency of the swing", "pressure": "the pressure at the seal",
    "normal_temperature": "the usual temperature of the fluid at the seal",
    "minimum_temperature": "the lowest temperature of the fluid at the seal",
    "maximum_temperature": "the highest temperature of the fluid at the seal",
    "runout": "the runout of the shaft at the lip", "offset": "the offset of the shaft from its bore",
    "shaft_hardness": "the hardness of the shaft under the lip", "shaft_roughness": "the roughness Ra of the shaft under the lip",
    "target_life": "the life that is wanted", "lip_thickness": "the thickness of the lip", "lip_length": "the length of the lip",
    "interference": "the interference of the lip on the shaft", "contact_width": "the width of the contact",
    "bore_angle": "the angle of the bore of the lip", "spring_place": "the place of the spring on the lip",
}  # fmt: skip


def _stated(asked: Asked) -> Iterator[Number]:
    """Yield the numbers that are stated with a range."""
    for path, known in asked.ranges.items():
        place = ".".join(path)
        model, column = _FIELDS[place]
        held = measured(model, path[-1])
        assert held is not None
        name = _NAMES.get(place, path[-1])
        low, high = (asked.units.text(held.dimension, end) for end in (known.low, known.high))
        text = f"Where between {low} and {high} does {_IN_WORDS[name]} lie?"
        # the lip of a flexible one is what bridges the gap behind it
        is_heel = column == "lip_thickness" and asked.around is not None and asked.around.is_heel_of_lip
        yield Number(
            name, "/" + "/".join(path), held.dimension, column, known.low, known.high, False, text, (), float(known),
            ("heel", "heel_standard") if is_heel else (),
        )  # fmt: skip


def choices_of(asked: Asked) -> Iterator[Choice]:
    """Yield the choices that the duty leaves open."""
    duty, rule, fluid = asked.duty, asked.rules.data.unknowns, asked.case.fluid
    if duty.shaft.machining_lead is None:
        there = rule.lead_present.si
        options = (Option("none", 1.0 - there, {"lead": Lead.none}), Option("present", there, {"lead": Lead.present}))
        text = "Is the shaft under the lip free of lead, as plunge grinding leaves it?"
        yield Choice("machining_lead", "/duty/shaft/machining_lead", options, text, (rule.lead_present,))
    if duty.contaminants is None:
        dusty, abrasive, wet = rule.dusty.si, rule.abrasive.si, rule.wet.si
        dirt = (
            Option("clean", 1.0 - dusty - abrasive - wet, {"dirt": Dirt.clean}), Option("dusty", dusty, {"dirt": Dirt.dusty}),
            Option("wet", wet, {"dirt": Dirt.wet}), Option("abrasive", abrasive, {"dirt": Dirt.abrasive}),
        )  # fmt: skip
        text = "What comes to the seal from the air side: nothing, dust, rain or a hose, or abrasive dirt?"
        yield Choice("contaminants", "/duty/contaminants", dirt, text, (rule.dusty, rule.wet, rule.abrasive))
    if duty.lubrication is None and fluid.phase == "liquid":
        mist, starved = rule.mist.si, rule.starved.si
        supply = (
            Option("flooded", 1.0 - mist - starved, _supplied(asked, "flooded")), Option("mist", mist, _supplied(asked, "mist")),
            Option("starved", starved, _supplied(asked, "starved")),
        )  # fmt: skip
        text = "How does the fluid get to the lip: does it stand in it, is it splashed, or does little get there?"
        yield Choice("lubrication", "/duty/lubrication", supply, text, (rule.mist, rule.starved))


def numbers_around(asked: Asked) -> Iterator[Number]:
    """Yield the numbers that the request leaves open of the hardware."""
    if (around := asked.around) is None:
        return
    gland, row, data = around.judged.gland, around.row[0], asked.rules.data
    if gland.throat_diameter is None:
        rule, curve = data.unknowns.throat_clearance, data.gland.housing.throat_clearance
        shaft = max(float(row["shaft"]), float(row["shaft_high"]))
        usual = float(np.interp(row["shaft"], curve.si_x, curve.si_y))
        low = shaft + usual * rule.si_low
        high = min(shaft + usual * rule.si_high, shaft + WITHIN_BORE * (float(row["bore_low"]) - shaft))
        text = "How wide is the opening of the housing behind the seal, through which the shaft passes, at its largest?"
        if low < high:
            yield Number("throat_diameter", "/gland/throat_diameter", "length", "", low, high, True, text, (rule, curve),
                         None, ("throat", "throat_low", "throat_high"), shaft, 5)  # fmt: skip
    if gland.housing_outer_diameter is None:
        ratio, bore = data.gland.housing.outer_diameter_ratio, float(row["bore_high"])
        text = "How large is the outside diameter of the housing about the seal?"
        yield Number("housing_outer_diameter", "/gland/housing_outer_diameter", "length", "", bore * ratio.si_low,
                     bore * ratio.si_high, True, text, (ratio,), None, ("housing",))  # fmt: skip


def choices_around(asked: Asked) -> Iterator[Choice]:
    """Yield the choices that the request leaves open of the hardware."""
    if (around := asked.around) is None:
        return
    duty, gland, data = asked.duty, around.judged.gland, asked.rules.data
    rule = data.unknowns
    if duty.bore.diameter is None:
        d = asked.case.shaft_diameter
        table = data.gland.nominal_sizes
        larger = min((shaft for shaft, _, _ in table.rows if shaft >= d * (1.0 - 1e-9)), default=None)
        bores = sorted(bore for shaft, bore, _ in table.rows if shaft == larger)
        rows = [(bore, around.with_bore(bore)) for bore in bores]
        sizes = tuple(
            Option(asked.units.text("length", bore, 5), 1.0 / len(rows), {}, row)
            for bore, row in rows
            if row is not None
        )
        text = "How large is the bore of the housing that the seal goes into?"
        if len(sizes) > 1:
            yield Choice("bore_diameter", "/duty/bore/diameter", sizes, text, (table,))
    if gland.bore_tolerance is None:
        held = [(name, share, around.with_bore_class(name)) for name, share in rule.bore_class.items()]
        records = tuple(rule.bore_class.values())
        total = sum(share.si for _, share, row in held if row is not None)
        classes = tuple(Option(name, share.si / total, {}, row) for name, share, row in held if row is not None)
        text = "To which tolerance class is the bore of the housing made?"
        if len(classes) > 1:
            yield Choice("bore_tolerance", "/gland/bore_tolerance", classes, text, records)
    for name, pointer, stated, shares, text in (
        ("shaft_material", "/duty/shaft/material", duty.shaft.material, rule.shaft_material, "What is the shaft made of?"),
        ("housing_material", "/duty/bore/material", duty.bore.material, rule.housing_material,
         "What is the housing made of?"),
    ):  # fmt: skip
        if stated is None and shares:
            yield _material(around, name, pointer, shares, text)


def _material(around: Around, name: str, pointer: str, shares: Mapping[str, Datum], text: str) -> Choice:
    """Return the choice of a material; the hardness that one brings to the shaft has a question of its own."""
    table = around.data.shaft_materials
    shares = {metal: share for metal, share in shares.items() if metal in table}  # those that are in force
    total = sum(share.si for share in shares.values())
    codes, field = list(table), f"{name.partition('_')[0]}_metal"
    options = tuple(
        Option(metal, share.si / total, {name: codes.index(metal)},
               around.rows(1, {field: codes.index(metal)}), within(table[metal].title))
        for metal, share in shares.items()
    )  # fmt: skip
    return Choice(name, pointer, options, text, tuple(shares.values()))


_BY_SUPPLY = ("lubrication", "medium", "lubricant", "rating")


def _supplied(asked: Asked, supply: str) -> dict[str, int]:
    """Return what a supply sets in a row of the design as it is."""
    duty = asked.duty.model_copy(update={"lubrication": supply})
    row = build(duty, asked.design, asked.rules, Sized(asked.case, asked.duty)).row
    return {name: int(row[name][0]) for name in _BY_SUPPLY}


# ------------------------------------------------------------------------------------------------------------- evaluated


_MOTION = {"shaft_diameter", "rotational_speed", "surface_speed", "half_amplitude", "frequency"}
_DERIVED: Mapping[type, tuple[str, ...]] = {
    Rotation: ("surface_speed", "peak_speed"),
    SurfaceMotion: ("rotational_speed", "peak_speed"),
    Oscillation: ("rotational_speed", "surface_speed", "peak_speed"),
}
"""Speeds that follow from those of a motion and the shaft."""


class Judge:
    """Evaluates the design over rows in which some of what is open is set."""

    def __init__(self, asked: Asked) -> None:
        self.asked = asked
        self.now = batch.STATUSES.index(envelope.verdict(list(asked.findings)))
        self.told = {ENVELOPE: self.now} | ({} if asked.around is None else asked.around.now)
        """Verdicts as told, by part."""

    def evaluate(self, columns: Columns) -> batch.Evaluation:
        """Evaluate cases with some columns set (arrays of one length)."""
        again = _DERIVED[type(self.asked.duty.motion)] if _MOTION & columns.keys() else ()
        return batch.vary(self.asked.case, self.asked.findings, {**columns, **self._temperatures(columns)}, again)

    def _temperatures(self, columns: Columns) -> Columns:
        """Return the ends of the temperatures where the normal one varies: none passes it, and what is open goes along."""
        if "temperature" not in columns:
            return {}
        found: dict[str, Column] = {}
        T, usual = columns["temperature"], self.asked.duty.temperature
        for column, stated, meet in (
            ("temperature_min", usual.minimum, np.minimum), ("temperature_max", usual.maximum, np.maximum),
        ):  # fmt: skip
            if stated is None:
                found[column] = T if column not in columns else columns[column] + (T - usual.normal)
            else:
                found[column] = meet(columns.get(column, stated), T)
        return found

    def number(self, number: Number, values: Floats) -> batch.Evaluation:
        """Evaluate the values of one number."""
        return self.evaluate({number.column: values})

    def outcomes(self, number: Number, values: Floats, parts: Collection[str]) -> dict[str, Outcome]:
        """Judge the values of one number in some parts."""
        found = self.evaluate({number.column: values} if number.column else self._as_it_is(len(values)))
        return self._of_parts(found, dict.fromkeys(number.hardware, values), parts)

    def _as_it_is(self, count: int) -> Columns:
        return {"offset": np.full(count, self.asked.case.offset)}

    def _of_parts(
        self, found: batch.Evaluation, hardware: Columns | Table, parts: Collection[str]
    ) -> dict[str, Outcome]:
        """Return the verdicts of some parts; of the hardware there are fields that are set, or whole rows."""
        around = self.asked.around
        told = {ENVELOPE: Outcome(found.verdict, found.governing, found.criteria)} if ENVELOPE in parts else {}
        if around is not None and (GLAND in parts or FIT in parts):
            rows = hardware if isinstance(hardware, np.ndarray) else around.rows(len(found.rows), hardware)
            told |= around.over(found, rows, parts)
        return told

    def chosen(self, choice: Choice) -> dict[str, Outcome]:
        """Judge the options of a choice in every part that they are of."""
        options = choice.options
        columns = {name: np.array([option.sets[name] for option in options]) for name in options[0].sets}
        found = self.evaluate(columns or self._as_it_is(len(options)))
        of_hardware = options[0].hardware is not None
        hardware: Columns | Table = {}
        if of_hardware:
            hardware = np.concatenate([option.hardware for option in options])
        return self._of_parts(found, hardware, [name for name in self.told if columns or name != ENVELOPE])

    def stands(self, found: batch.Evaluation) -> Truths:
        """Tell where the verdict is no worse than told."""
        return found.verdict <= self.now


class Range(NamedTuple):
    """Where a number keeps the verdicts, as shares of the plausible range; NaN where no value does."""

    start: float
    end: float
    outside: float
    """A value next to it that turns a verdict, of two ends the worse; NaN where none does."""
    part: str
    """Part that turns there; where none does, the first that could be better."""
    turns: float
    """Share of what is plausible that turns one."""
    worst: int
    best: int
    best_of_part: int
    parts: tuple[str, ...]
    """Parts whose verdicts change."""


class _Ranked(NamedTuple):
    """A question as an answer has it, with what it is ranked by."""

    id: str
    turns: float
    """Share of what is plausible that turns a verdict."""
    worst: int
    """Verdict there."""
    written: JsonObject


class _Tried(NamedTuple):
    """Verdicts of one part over some of the values that are tried."""

    part: str
    now: int
    shares: Floats
    outcome: Outcome

    @property
    def stands(self) -> Truths:
        """Where the verdict is no worse than told."""
        stands: Truths = self.outcome.verdict <= self.now
        return stands

    @property
    def changes(self) -> bool:
        """Whether any verdict is another than told."""
        return bool((self.outcome.verdict != self.now).any())

    def on(self, shares: Floats) -> Codes:
        """Return the codes of more values, each that of the nearest."""
        codes: Codes = self.outcome.verdict[np.abs(shares[:, None] - self.shares).argmin(axis=1)]
        return codes


class _Turn(NamedTuple):
    """Where a part turns on the way through the range."""

    at: float
    outside: float
    """Value next to it that was tried, in which the verdict is worse."""
    code: int
    """Verdict there."""
    part: str


def _tried(judge: Judge, number: Number) -> list[_Tried]:
    """Try values of a number over its range, in each part whose verdict could hang on it."""
    shares = np.linspace(0.0, 1.0, GRID)
    coarse = shares[::STRIDE]
    if number.stated is not None:  # with what is stated the verdict stands, however little beside it
        shares, coarse = (np.unique(np.append(tried, number.share_of(number.stated))) for tried in (shares, coarse))
    found = []
    if number.column:
        outcome = judge.outcomes(number, number.at(shares), (ENVELOPE,))[ENVELOPE]
        found.append(_Tried(ENVELOPE, judge.now, shares, outcome))
    others = [name for name in judge.told if name != ENVELOPE and number.column not in MADE_FOR_EACH]
    if others:
        ends = judge.outcomes(number, number.at(coarse[[0, len(coarse) // 2, -1]]), others)
        moved = [name for name in others if ends[name].is_moved]
        more = judge.outcomes(number, number.at(coarse), moved) if moved else {}
        found += [_Tried(name, judge.told[name], coarse, more[name]) for name in moved]
    return found


def _turns(judge: Judge, number: Number, tried: _Tried) -> list[_Turn]:
    """Solve where a part turns between two values that were tried."""
    stands, shares, part = tried.stands, tried.shares, tried.part

    def point(values: Floats) -> Point:
        here = judge.outcomes(number, number.at(values), (part,))[part]
        return Point(here.verdict <= tried.now, here.governing)

    turns = np.flatnonzero(stands[1:] != stands[:-1])
    within, without = (np.where(stands[turns] == side, turns, turns + 1) for side in (True, False))
    ends, _ = bisect(point, shares[within], shares[without], HALVINGS)
    return [
        _Turn(float(end), float(shares[k]), int(tried.outcome.verdict[k]), part)
        for end, k in zip(ends, without, strict=True)
    ]


def range_of(judge: Judge, number: Number) -> Range | None:
    """Find where a number keeps the verdicts; ``None`` where no plausible value changes anything."""
    changed = [tried for tried in _tried(judge, number) if tried.changes]
    if not changed:
        return None
    finest = max((tried.shares for tried in changed), key=len)
    codes = np.array([tried.on(finest) for tried in changed])
    together = codes.max(axis=0)
    worst, best = int(together.max()), int(together.min())
    parts = tuple(tried.part for tried in changed)
    turns = sorted(turn for tried in changed for turn in _turns(judge, number, tried))
    marks = np.array([0.0, *(turn.at for turn in turns), 1.0])
    lengths, kept = np.diff(marks), np.empty(len(marks) - 1, bool)
    standing = {tried.part: bool(tried.stands[0]) for tried in changed}
    for k in range(len(kept)):
        kept[k] = all(standing.values())
        if k < len(turns):
            standing[turns[k].part] ^= True
    if not lengths[kept].sum() > 0.0:
        mildest = int(np.argmin(together))
        told = np.array([tried.now for tried in changed])
        blamed = int(np.argmax(np.where(codes[:, mildest] > told, codes[:, mildest], -1)))
        return Range(np.nan, np.nan, float(finest[mildest]), parts[blamed], 1.0, worst, best, best, parts)
    main = int(np.argmax(np.where(kept, lengths, -1.0)))
    if number.stated is not None:
        main = min(int(np.searchsorted(marks[1:], number.share_of(number.stated))), len(lengths) - 1)
    beside = [turns[k] for k in (main - 1, main) if 0 <= k < len(turns)]
    outside = max(beside, key=lambda turn: turn.code, default=None)
    better = next((tried for tried in changed if tried.outcome.verdict.min() < tried.now), changed[0])
    return Range(
        float(marks[main]), float(marks[main + 1]), np.nan if outside is None else outside.outside,
        better.part if outside is None else outside.part, float(lengths[~kept].sum()), worst, best,
        int(better.outcome.verdict.min()), parts,
    )  # fmt: skip


# ------------------------------------------------------------------------------------------------------------- in words


def _helps(asked: Asked, duty: Duty, design: Design, criterion: str) -> str:
    """Say what change of the design lives in a duty in which a criterion fails; nothing where none does."""
    findings = envelope.judge(build(duty, design, asked.rules, Sized(asked.case, asked.duty)), duty)
    failing = next((item for item in findings if item.id == criterion and item.status == "fail"), None)
    if failing is None:
        return ""
    for change in envelope.remedies(failing, duty, design, asked.rules, asked.units):
        if change["verdict"] != "fail" and change["design"]:
            return f" To {change['title']} would live there."
    return ""


_WORDS = {"pass": "passes", "caution": "passes with care", "fail": "fails", "not_evaluated": "cannot be judged"}


_PART = {ENVELOPE: ("it", "", "it"), GLAND: ("the gland", " of the gland", "that of the gland"),
         FIT: ("the thermal fit", " of the thermal fit", "that of the thermal fit")}  # fmt: skip
"""A part as what turns, as whose verdict it is, and its verdict."""


def _turned(judge: Judge, part: str, code: int, criterion: int, criteria: Sequence[str]) -> str:
    """Say what becomes of a part, and by which criterion."""
    by = f" by {within(judge.asked.rules.data.criteria[criteria[criterion]].title)}" if criterion >= 0 else ""
    return f"{_PART[part][0]} {_WORDS[batch.STATUSES[code]]}{by}"


def _question(judge: Judge, number: Number, found: Range) -> _Ranked:
    asked, units = judge.asked, judge.asked.units
    ends: list[float | None] = [None, None]
    if found.start == found.start:
        low, high = (float(number.at(end)) for end in (found.start, found.end))
        ends = [low if found.start > 0.0 else None, high if found.end < 1.0 else None]
    now = batch.STATUSES[judge.told[found.part]]
    digits = 2 if number.dimension == "time" else number.digits
    _, of_part, its = _PART[found.part]
    if found.start != found.start:
        said = f"No plausible value keeps the verdict{of_part}, which {_WORDS[now]} as long as this is not stated."
    elif ends == [None, None]:
        known = "stated" if number.stated is None else "known"
        said = f"{_whatever(number)}, the verdict is no worse; {known}, {its} may become one that "
        said += f"{_WORDS[batch.STATUSES[found.best_of_part]]}."
    else:
        parts = []
        if ends[0] is not None:
            parts.append(f"from {units.bound(number.dimension, ends[0], up=True, digits=digits)}")
        if ends[1] is not None:
            parts.append(f"up to {units.bound(number.dimension, ends[1], digits=digits)}")
        words = " ".join(parts)
        said = f"{words[0].upper()}{words[1:]} the verdict stands with this design."
    if found.outside == found.outside:
        value = float(number.at(found.outside))
        here = judge.outcomes(number, np.array([value]), (found.part,))[found.part]
        by = int(here.governing[0])
        said += f" Beyond, {_turned(judge, found.part, int(here.verdict[0]), by, here.criteria)}."
        if found.part == ENVELOPE:
            said += _helps(asked, *number.put(asked, value), here.criteria[by])
    written: JsonObject = {
        "id": number.id, "field": number.pointer, "text": number.text, "reason": said,
        "holds_from": units.optional(number.dimension, ends[0]), "holds_to": units.optional(number.dimension, ends[1]),
        "holds_for": None, "turns": _rounded(found.turns), "worst": batch.STATUSES[found.worst],
        "best": batch.STATUSES[found.best], "parts": list(found.parts), **rests_on(number.records),
    }  # fmt: skip
    return _Ranked(number.id, found.turns, found.worst, written)


def _either(names: Sequence[str]) -> str:
    if len(names) < 3:
        return " or ".join(names) or "none of the choices"
    return f"{', '.join(names[:-1])} or {names[-1]}"


def _whatever(number: Number) -> str:
    return "Whatever is plausible" if number.stated is None else "Wherever it lies within the range"


def _rounded(share: float) -> float:
    return float(f"{share:.6g}")


def _asked_choice(judge: Judge, choice: Choice) -> _Ranked | None:
    """Ask for a choice, where one of its options changes the verdict."""
    outcomes = judge.chosen(choice)
    changed = {part: found for part, found in outcomes.items() if (found.verdict != judge.told[part]).any()}
    if not changed:
        return None
    codes = np.array([found.verdict for found in changed.values()])
    stands = np.all([found.verdict <= judge.told[part] for part, found in changed.items()], axis=0)
    worst, best = int(codes.max(axis=0).max()), int(codes.max(axis=0).min())
    kept = [option for option, here in zip(choice.options, stands, strict=True) if here]
    said = f"The verdict stands with {_either([option.words for option in kept])}."
    for k, option in enumerate(choice.options):
        turned = [
            _turned(judge, part, int(found.verdict[k]), int(found.governing[k]), found.criteria)
            for part, found in changed.items()
            if found.verdict[k] > judge.told[part]
        ]
        if turned:
            said += f" With {option.words} {' and '.join(turned)}."
    if stands.all():
        part, found = next((part, found) for part, found in changed.items() if found.verdict.min() < judge.told[part])
        better = _WORDS[batch.STATUSES[int(found.verdict.min())]]
        said = f"Whatever is plausible, the verdict is no worse; stated, {_PART[part][2]} may become one that {better}."
    turns = sum(option.share for option, here in zip(choice.options, stands, strict=True) if not here)
    written: JsonObject = {
        "id": choice.id, "field": choice.pointer, "text": choice.text, "reason": said,
        "holds_from": None, "holds_to": None, "holds_for": [option.name for option in kept], "turns": _rounded(turns),
        "worst": batch.STATUSES[worst], "best": batch.STATUSES[best], "parts": list(changed), **rests_on(choice.records),
    }  # fmt: skip
    return _Ranked(choice.id, turns, worst, written)


# ----------------------------------------------------------------------------------------------------------- confidence


def spread_evenly(count: int, dimensions: int) -> Floats:
    """Return points that fill a cube evenly, the same ones each time: multiples of powers of a root of x^(d+1) = x + 1.

    Roberts, M. (2018), "The unreasonable effectiveness of quasirandom sequences" (published, from memory).
    """
    root = 2.0
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (dimensions + 1.0))
    steps = root ** -np.arange(1.0, dimensions + 1.0)
    return (0.5 + np.outer(np.arange(1, count + 1), steps)) % 1.0


def _confidence(judge: Judge, numbers: Sequence[Number], choices: Sequence[Choice]) -> JsonObject:
    """Evaluate the design over all that is open at once."""
    points = spread_evenly(CASES, len(numbers) + len(choices))
    columns: dict[str, Column] = {number.column: number.at(points[:, k]) for k, number in enumerate(numbers)}
    for k, choice in enumerate(choices, start=len(numbers)):
        bounds = np.cumsum([option.share for option in choice.options])
        which = np.minimum(np.searchsorted(bounds, points[:, k], side="right"), len(choice.options) - 1)
        for name in choice.options[0].sets:
            columns[name] = np.array([option.sets[name] for option in choice.options])[which]
    found = judge.evaluate(columns)
    stands = judge.stands(found)
    blamed = Counter(found.criteria[int(k)] for k in found.governing[~stands])
    titles = {name: judge.asked.rules.data.criteria[name].title for name in blamed}
    holds = float(stands.mean())
    ranges = any(number.stated is not None for number in numbers)
    open_ = len(choices) > 0 or any(number.stated is None for number in numbers)
    of = {
        (False, True): "of the plausible cases of what is not stated",
        (True, True): "of the plausible cases of what is not stated or stated as a range",
        (True, False): "of the cases within the ranges that are stated",
    }[ranges, open_]
    text = f"The verdict of the envelope holds in {_percent(holds)} {of}"
    if blamed:
        rest = [within(titles[name]) for name, _ in blamed.most_common(NAMED)]
        text += f"; the rest turns on {_listed(rest)}"
    apart = "" if judge.asked.around is None else " Gland and thermal fit are not judged over these cases."
    return {
        "text": f"{text}.{apart}", "holds": _rounded(holds), "lives": _rounded(float((found.verdict != batch.FAIL).mean())),
        "cases": CASES,
        "turns_on": [
            {"id": name, "title": titles[name], "share": _rounded(count / CASES)} for name, count in blamed.most_common()
        ],
        "spread": _spread(judge.asked, found.rows) if ranges else None,
    }  # fmt: skip


_SPREADS = (
    ("life", "time", 2, "the median life"), ("torque", "torque", 2, "the torque"),
    ("contact_temperature", "temperature", 3, "the contact temperature"),
)  # fmt: skip
"""What is told over the cases: name, dimension, digits that are said, words."""


def _spread(asked: Asked, rows: Table) -> JsonObject:
    """Say how life, torque and contact temperature spread over the cases."""
    found = wear.over(subject_of(asked.case, asked.surroundings), rows)
    longest = asked.rules.data.running.wear.longest_life.si
    known = np.isfinite(found["temperature"])
    values = {
        "life": np.where(known, np.minimum(found["worn_life"], longest), np.nan), "torque": found["torque"],
        "contact_temperature": found["temperature"],
    }  # fmt: skip
    said: list[str] = []
    told: dict[str, JsonObject] = {}
    for name, dimension, digits, what in _SPREADS:
        finite = values[name][np.isfinite(values[name])]
        if not len(finite):
            told[name] = {"low": None, "median": None, "high": None, "known": 0.0}
            continue
        ends = np.quantile(finite, (0.5 - SPREAD / 2.0, 0.5, 0.5 + SPREAD / 2.0)).tolist()
        low, middle, high = (asked.units.text(dimension, end, digits) for end in ends)
        said.append(f"{what} between {low} and {high}, half of them below {middle}" if low != high else f"{what} {low}")
        named = zip(("low", "median", "high"), ends, strict=True)
        told[name] = {key: asked.units.optional(dimension, end) for key, end in named}
        told[name]["known"] = _rounded(len(finite) / len(rows))
    text = (
        f"In nine of ten of these cases: {'; '.join(said)}."
        if said
        else "No balance of heat was found in any of these cases."
    )
    return {"text": text, "share": SPREAD, **told}


def _percent(share: float) -> str:
    if 0.0 < share < 0.01 or 0.99 < share < 1.0:
        return "less than 1 %" if share < 0.5 else "more than 99 %"
    return f"{100.0 * share:.0f} %"


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


# --------------------------------------------------------------------------------------------------------------- answer


def questions(asked: Asked) -> tuple[list[JsonObject], JsonObject | None]:
    """Return what to ask back, the most important first, and how sure the verdict is; none where all is stated."""
    judge = Judge(asked)
    numbers, choices = list(numbers_of(asked)), list(choices_of(asked))
    all_numbers, all_choices = [*numbers, *numbers_around(asked)], [*choices, *choices_around(asked)]
    found = [_question(judge, number, here) for number in all_numbers if (here := range_of(judge, number)) is not None]
    found += [item for choice in all_choices if (item := _asked_choice(judge, choice)) is not None]
    order = {"fail": 0, "caution": 1, "not_evaluated": 2, "pass": 3}
    found.sort(key=lambda item: (-_rounded(item.turns), order[batch.STATUSES[item.worst]], item.id))
    return [item.written for item in found], _confidence(judge, numbers, choices) if numbers or choices else None
