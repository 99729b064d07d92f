"""What to ask the customer: within what of the unknown a verdict stands, what turns it beyond, and how sure it is meanwhile.

Only what is not stated, or stated with a range, is asked for, and only where an answer changes the verdict of the envelope. The
design stays as it is, with its sizes; one input is varied by itself for its range, all of them together for the confidence.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from math import isfinite
from typing import Any, NamedTuple

import numpy as np

from glandwise.case.choices import Dirt, Lead
from glandwise.case.intake import Case, Design, Sized, build
from glandwise.case.vocabulary import NUMBERS
from glandwise.contract.duty import Duty, Oscillation, Rotation, SurfaceMotion
from glandwise.contract.quantities import Ranged, measured, with_number
from glandwise.contract.running import HeatSurroundings
from glandwise.numerics.boundary import Point, bisect
from glandwise.questions.advice import rests_on, within
from glandwise.questions.envelope import evaluation as batch
from glandwise.questions.envelope import operation as envelope
from glandwise.questions.friction.operation import subject_of
from glandwise.questions.wear import found as wear
from glandwise.rules.loader import RuleSet
from glandwise.rules.model import Datum
from glandwise.units import UnitSystem

GRID = 33
"""Values of a number that are tried over its plausible range, before its ends are solved."""
HALVINGS = 18
"""Of the way between two of them: the ends are known to a hundred thousandth of the range."""
CASES = 256
"""Plausible cases that a confidence looks at."""
NAMED = 3
"""Criteria that the words of a confidence name at most."""
SPREAD = 0.9
"""Share of the cases that lie between the ends of a spread."""


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


class Number(NamedTuple):
    """A number that is not stated, or stated with a range."""

    id: str
    pointer: str
    dimension: str
    column: str
    """Field of the case."""
    low: float
    high: float
    by_logarithm: bool
    text: str
    """The question."""
    records: tuple[Any, ...]
    stated: float | None = None
    """What is stated within the range; ``None`` where nothing is."""

    def at(self, share: Any) -> Any:
        """Return the values at some shares of the plausible range."""
        share = np.asarray(share)
        if self.by_logarithm:
            return self.low * (self.high / self.low) ** share
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


class Choice(NamedTuple):
    """A choice that is not stated."""

    id: str
    pointer: str
    options: tuple[Option, ...]
    text: str
    records: tuple[Any, ...]


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
        yield Number(
            name, "/" + "/".join(path), held.dimension, column, known.low, known.high, False, text, (), float(known)
        )


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

    def evaluate(self, columns: dict[str, Any]) -> batch.Evaluation:
        """Evaluate cases with some columns set (arrays of one length)."""
        again = _DERIVED[type(self.asked.duty.motion)] if _MOTION & columns.keys() else ()
        return batch.vary(self.asked.case, self.asked.findings, {**columns, **self._temperatures(columns)}, again)

    def _temperatures(self, columns: dict[str, Any]) -> dict[str, Any]:
        """Return the ends of the temperatures where the normal one varies: none passes it, and what is open goes along."""
        if "temperature" not in columns:
            return {}
        T, usual = columns["temperature"], self.asked.duty.temperature
        found = {}
        for column, stated, meet in (
            ("temperature_min", usual.minimum, np.minimum), ("temperature_max", usual.maximum, np.maximum),
        ):  # fmt: skip
            if stated is None:
                found[column] = T if column not in columns else columns[column] + (T - usual.normal)
            else:
                found[column] = meet(columns.get(column, stated), T)
        return found

    def number(self, number: Number, values: Any) -> batch.Evaluation:
        """Evaluate the values of one number."""
        return self.evaluate({number.column: values})

    def stands(self, found: batch.Evaluation) -> Any:
        """Tell where the verdict is no worse than told."""
        return found.verdict <= self.now


class Range(NamedTuple):
    """Where a number keeps the verdict, as shares of the plausible range; NaN where no value does."""

    start: float
    end: float
    outside: float
    """A value next to it that turns the verdict, of two ends the worse; NaN where none does."""
    by: int
    """Position of the criterion that turns it first on the way there; -1 where none does."""
    turns: float
    """Share of what is plausible that turns it."""
    worst: int
    best: int


def range_of(judge: Judge, number: Number) -> Range | None:
    """Find where a number keeps the verdict; ``None`` where no plausible value changes anything."""
    shares = np.linspace(0.0, 1.0, GRID)
    if number.stated is not None:  # with what is stated the verdict stands, however little beside it
        shares = np.unique(np.append(shares, number.share_of(number.stated)))
    found = judge.number(number, number.at(shares))
    stands, worst, best = judge.stands(found), int(found.verdict.max()), int(found.verdict.min())
    if stands.all() and best >= judge.now:
        return None
    if not stands.any():
        mildest = int(np.argmin(found.verdict))
        return Range(np.nan, np.nan, float(shares[mildest]), int(found.governing[mildest]), 1.0, worst, best)

    def point(values: Any) -> Point:
        here = judge.number(number, number.at(values))
        return Point(judge.stands(here), here.governing)

    turns = np.flatnonzero(stands[1:] != stands[:-1])
    within, without = (np.where(stands[turns] == side, turns, turns + 1) for side in (True, False))
    ends, blame = bisect(point, shares[within], shares[without], HALVINGS, most_bits=2)
    marks = np.array([0.0, *ends, 1.0])
    lengths, kept = np.diff(marks), np.arange(len(marks) - 1) % 2 == int(not stands[0])
    main = int(np.argmax(np.where(kept, lengths, -1.0)))
    if number.stated is not None:
        main = min(int(np.searchsorted(marks[1:], number.share_of(number.stated))), len(lengths) - 1)
    worse = max(
        (k for k in (main - 1, main) if 0 <= k < len(ends)), key=lambda k: found.verdict[without[k]], default=None
    )
    outside, by = (np.nan, -1) if worse is None else (float(shares[without[worse]]), int(blame[worse]))
    return Range(float(marks[main]), float(marks[main + 1]), outside, by, float(lengths[~kept].sum()), worst, best)


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


def _question(judge: Judge, number: Number, found: Range) -> dict[str, Any]:
    asked, units = judge.asked, judge.asked.units
    data = asked.rules.data
    ends: list[float | None] = [None, None]
    if found.start == found.start:
        low, high = (float(number.at(end)) for end in (found.start, found.end))
        ends = [low if found.start > 0.0 else None, high if found.end < 1.0 else None]
    now = batch.STATUSES[judge.now]
    digits = 2 if number.dimension == "time" else 3
    if found.turns >= 1.0:
        said = f"No plausible value keeps the verdict, which {_WORDS[now]} as long as this is not stated."
    elif ends == [None, None]:
        known = "stated" if number.stated is None else "known"
        said = f"{_whatever(number)}, the verdict is no worse; {known}, it may become one that {_WORDS[batch.STATUSES[found.best]]}."
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
        here = judge.number(number, np.array([value]))
        criterion, turned = here.criteria[found.by], batch.STATUSES[int(here.verdict[0])]
        said += f" Beyond, it {_WORDS[turned]} by {within(data.criteria[criterion].title)}."
        said += _helps(asked, *number.put(asked, value), criterion)
    return {
        "id": number.id, "field": number.pointer, "text": number.text, "reason": said,
        "holds_from": units.optional(number.dimension, ends[0]), "holds_to": units.optional(number.dimension, ends[1]),
        "holds_for": None, "turns": _rounded(found.turns), "worst": batch.STATUSES[found.worst],
        "best": batch.STATUSES[found.best], **rests_on(number.records),
    }  # fmt: skip


def _whatever(number: Number) -> str:
    return "Whatever is plausible" if number.stated is None else "Wherever it lies within the range"


def _rounded(share: float) -> float:
    return float(f"{share:.6g}")


def _asked_choice(judge: Judge, choice: Choice) -> dict[str, Any] | None:
    """Ask for a choice, where one of its options changes the verdict."""
    data = judge.asked.rules.data
    columns = {name: np.array([option.sets[name] for option in choice.options]) for name in choice.options[0].sets}
    found = judge.evaluate(columns)
    stands, worst, best = judge.stands(found), int(found.verdict.max()), int(found.verdict.min())
    if stands.all() and best >= judge.now:
        return None
    kept = [option.name for option, here in zip(choice.options, stands, strict=True) if here]
    said = "The verdict stands with " + (" or ".join(kept) if kept else "none of the choices") + "."
    for k, option in enumerate(choice.options):
        if not stands[k]:
            title = data.criteria[found.criteria[int(found.governing[k])]].title
            said += f" With {option.name} it {_WORDS[batch.STATUSES[int(found.verdict[k])]]} by {within(title)}."
    if stands.all():
        said = f"Whatever is plausible, the verdict is no worse; stated, it may become one that {_WORDS[batch.STATUSES[best]]}."
    turns = sum(option.share for option, here in zip(choice.options, stands, strict=True) if not here)
    return {
        "id": choice.id, "field": choice.pointer, "text": choice.text, "reason": said, "holds_from": None, "holds_to": None,
        "holds_for": kept, "turns": _rounded(turns), "worst": batch.STATUSES[worst], "best": batch.STATUSES[best],
        **rests_on(choice.records),
    }  # fmt: skip


# ----------------------------------------------------------------------------------------------------------- confidence


def spread_evenly(count: int, dimensions: int) -> Any:
    """Return points that fill a cube evenly, the same ones each time: multiples of powers of a root of x^(d+1) = x + 1.

    Roberts, M. (2018), "The unreasonable effectiveness of quasirandom sequences" (published, from memory).
    """
    root = 2.0
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (dimensions + 1.0))
    steps = root ** -np.arange(1.0, dimensions + 1.0)
    return (0.5 + np.outer(np.arange(1, count + 1), steps)) % 1.0


def _confidence(judge: Judge, numbers: Sequence[Number], choices: Sequence[Choice]) -> dict[str, Any]:
    """Evaluate the design over all that is open at once."""
    points = spread_evenly(CASES, len(numbers) + len(choices))
    columns: dict[str, Any] = {number.column: number.at(points[:, k]) for k, number in enumerate(numbers)}
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
    return {
        "text": f"{text}.", "holds": _rounded(holds), "lives": _rounded(float((found.verdict != batch.FAIL).mean())),
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


def _spread(asked: Asked, rows: Any) -> dict[str, Any]:
    """Say how life, torque and contact temperature spread over the cases."""
    found = wear.over(subject_of(asked.case, asked.surroundings), rows)
    longest = asked.rules.data.running.wear.longest_life.si
    known = np.isfinite(found["temperature"])
    values = {
        "life": np.where(known, np.minimum(found["worn_life"], longest), np.nan), "torque": found["torque"],
        "contact_temperature": found["temperature"],
    }  # fmt: skip
    said: list[str] = []
    told: dict[str, dict[str, Any]] = {}
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


def questions(asked: Asked) -> tuple[list[dict[str, Any]], dict[str, Any] | None]:
    """Return what to ask back, the most important first, and how sure the verdict is; none where all is stated."""
    judge = Judge(asked)
    numbers, choices = list(numbers_of(asked)), list(choices_of(asked))
    if not numbers and not choices:
        return [], None
    found = [_question(judge, number, here) for number in numbers if (here := range_of(judge, number)) is not None]
    found += [item for choice in choices if (item := _asked_choice(judge, choice)) is not None]
    order = {"fail": 0, "caution": 1, "not_evaluated": 2, "pass": 3}
    found.sort(key=lambda item: (-item["turns"], order[item["worst"]], item["id"]))
    return found, _confidence(judge, numbers, choices)
