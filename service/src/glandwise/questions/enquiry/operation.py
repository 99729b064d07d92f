"""One call for a quoting system: choose or check the design, and gather all that a quote needs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from itertools import islice
from typing import Generic, NamedTuple, TypedDict, TypeVar, cast

from pydantic import ValidationError
from pydantic_core import PydanticCustomError

from glandwise.case.intake import Design
from glandwise.contract.base import AnswerUnits
from glandwise.contract.blank import BlankRequest
from glandwise.contract.duty import Duty
from glandwise.contract.enquiry import PARTS, EnquiryRequest
from glandwise.contract.envelope import EnvelopeCheckRequest
from glandwise.contract.gland import GlandCheckRequest, check_gland_fits
from glandwise.contract.quantities import held_to_digits, written
from glandwise.contract.running import FrictionEstimateRequest, WearEstimateRequest
from glandwise.contract.selection import SelectionRequest
from glandwise.contract.thermal_fit import ThermalFitRequest
from glandwise.engine import Engine, fault_in_words
from glandwise.json_values import JsonObject
from glandwise.patience import rest
from glandwise.questions.alternatives.found import alternatives
from glandwise.questions.blank import operation as blank
from glandwise.questions.enquiry.dimensions import dimensions
from glandwise.questions.envelope import operation as envelope
from glandwise.questions.expectations.found import Asked as Expected
from glandwise.questions.expectations.found import expectations
from glandwise.questions.friction import operation as friction
from glandwise.questions.gland import operation as gland
from glandwise.questions.requirements.found import Wanted, held_of, requirements
from glandwise.questions.section.found import Drawable, drawable
from glandwise.questions.selection import operation as selection
from glandwise.questions.thermal_fit import operation as thermal_fit
from glandwise.questions.unknowns.around import Around
from glandwise.questions.unknowns.found import Asked as Open
from glandwise.questions.unknowns.found import questions
from glandwise.questions.wear import operation as wear
from glandwise.questions.wear.judge import likely
from glandwise.rules.loader import RuleSet
from glandwise.rules.model import Evidence, weakest

OFFERED = 5
"""Passing designs listed beside the chosen one."""

TRIED = 24
"""Designs of which wear, gland and thermal fit are tried before one is chosen."""

TRIED_EACH = 2
"""Failures of gland or thermal fit after which no more designs of that family, retention and heel are tried."""

NOTICE = 'Cautions, assumptions and requirements stand in the answer of detail "full" or "summary".'
"""What goes with a verdict alone."""

A = TypeVar("A")
_REFUSED = (ValidationError, PydanticCustomError)


def _pointer(location: tuple[str | int, ...]) -> str:
    return "".join(f"/{str(part).replace('~', '~0').replace('/', '~1')}" for part in location)


class Part(NamedTuple, Generic[A]):
    """One part of an enquiry: what was found, in SI, and how its contract has it."""

    found: A
    written: JsonObject


class _Common(TypedDict):
    """What every part is asked with, by the names of the contract."""

    units: AnswerUnits
    rule_set: str | None
    as_of: date | None
    working: bool
    duty: Duty


class Asked:
    """What an enquiry asks of one design after another."""

    def __init__(self, request: EnquiryRequest, engine: Engine) -> None:
        self.request, self.engine = request, engine
        self.rules, self.system = engine.rules(request), request.units.system_of_units()
        self.common: _Common = {
            "units": request.units, "rule_set": request.rule_set, "as_of": request.as_of, "working": request.working,
            "duty": request.duty,
        }  # fmt: skip
        width = request.axial_width
        self.gland = request.gland if width is None else request.gland.model_copy(update={"seal_width": width})
        """The gland, with the width of the seal wherever that is stated."""
        self._held: dict[str, tuple[Design, object]] = {}

    def _once(self, name: str, design: Design, find: Callable[[], A]) -> A:
        """Return what is found of a design; that of the design asked about last is kept."""
        held = self._held.get(name)
        if held is not None and held[0] is design:
            return cast("A", held[1])  # of one name there is one kind of answer
        found = find()
        self._held[name] = design, found
        return found

    def holds(self, design: Design) -> bool:
        """Tell whether neither gland nor thermal fit fails."""
        try:
            held = self._gland(design)
            turning = held.by_id("seal_rotation").utilization
            return (
                (turning is None or turning <= 1.0)  # a seal that has to be pinned comes after those that hold
                and envelope.verdict(held.findings) != "fail"
                and envelope.verdict(self._thermal_fit(design).findings) != "fail"
            )
        except _REFUSED:
            return False

    def lasts(self, design: Design) -> bool:
        """Tell whether a design is likely enough to last as long as is wanted."""
        return likely(self._wear(design).life, self.rules.data)

    def measured(self, design: Design) -> bool:
        """Tell whether it does so where wear was measured, without care."""
        return self._wear(design).verdict in {"pass", "not_evaluated"}

    def chance(self, design: Design) -> float:
        """Return the probability that a design lasts as long as is wanted, to two digits; one where it is not known."""
        probability = self._wear(design).life.probability
        return 1.0 if probability is None else probability

    def answer_envelope(self, design: Design) -> Part[envelope.Answer]:
        """Check the envelope."""
        ask = EnvelopeCheckRequest.model_construct(**self.common, design=design)
        found = envelope.answer(ask, self.engine)
        return Part(found, envelope.write(found, ask, self.engine))

    def _ask_gland(self, design: Design) -> GlandCheckRequest:
        return GlandCheckRequest.model_construct(**self.common, design=design, gland=self.gland)

    def _gland(self, design: Design) -> gland.GlandJudged:
        """Judge the gland; whether gland and design go together is judged here, as where it is asked alone."""

        def find() -> gland.GlandJudged:
            check_gland_fits(self.request.duty, design, self.gland)
            return gland.answer(self._ask_gland(design), self.engine)

        return self._once("gland", design, find)

    def answer_gland(self, design: Design) -> Part[gland.GlandJudged]:
        """Check the gland."""
        found = self._gland(design)
        return Part(found, gland.write(found, self._ask_gland(design), self.engine))

    def _ask_thermal_fit(self, design: Design) -> ThermalFitRequest:
        return ThermalFitRequest.model_construct(**self.common, design=design, gland=self.gland)

    def _thermal_fit(self, design: Design) -> thermal_fit.ThermalJudged:
        def find() -> thermal_fit.ThermalJudged:
            check_gland_fits(self.request.duty, design, self.gland)
            return thermal_fit.answer(self._ask_thermal_fit(design), self.engine)

        return self._once("thermal_fit", design, find)

    def answer_thermal_fit(self, design: Design) -> Part[thermal_fit.ThermalJudged]:
        """Check the fits over the temperatures of the duty."""
        found = self._thermal_fit(design)
        return Part(found, thermal_fit.write(found, self._ask_thermal_fit(design), self.engine))

    def expectations(self, check: envelope.Answer, design: Design) -> list[JsonObject]:
        """Say what to expect in running; what cannot be worked out is left out."""
        findings = {finding.id: finding for finding in check.findings}
        asked = Expected(
            check.case, self.request.duty, design, self.rules, self.request.surroundings, findings
        )  # fmt: skip
        try:
            return [item.written(self.system) for item in expectations(asked)]
        except _REFUSED:
            return []

    def questions(
        self,
        check: envelope.Answer,
        held: gland.GlandJudged | None,
        fitting: thermal_fit.ThermalJudged | None,
        design: Design,
    ) -> JsonObject:
        """Say what to ask back, over envelope, gland and thermal fit, and how sure the verdict is without it."""
        request = self.request
        if not request.questions and not request.ranges:
            return {"questions": None, "confidence": None}
        found = (check.case, request.duty, design, self.rules, check.findings, self.system)
        around = Around(held, fitting) if request.questions and (held or fitting) else None
        back, confidence = questions(Open(*found, request.ranges, request.surroundings, around))
        return {"questions": back if request.questions else None, "confidence": confidence}

    def requirements(self, check: envelope.Answer, held: gland.GlandJudged | None, design: Design) -> list[JsonObject]:
        """Say what the drawing of the hardware has to have."""
        findings = {finding.id: finding for finding in check.findings}
        found = None if held is None else held_of(held)
        wanted = Wanted(check.case, self.request.duty, self.gland, design.retention, findings, found)
        return [item.written(self.system) for item in requirements(wanted)]

    def answer_friction(self, design: Design) -> Part[friction.Answer]:
        """Estimate the friction."""
        around = self.request.surroundings
        ask = FrictionEstimateRequest.model_construct(**self.common, design=design, surroundings=around)
        found = friction.answer(ask, self.engine)
        return Part(found, friction.write(found, ask, self.engine))

    def _ask_wear(self, design: Design) -> WearEstimateRequest:
        return WearEstimateRequest.model_construct(**self.common, design=design, surroundings=self.request.surroundings)

    def _wear(self, design: Design) -> wear.Answer:
        return self._once("wear", design, lambda: wear.answer(self._ask_wear(design), self.engine))

    def answer_wear(self, design: Design) -> Part[wear.Answer]:
        """Estimate the wear."""
        found = self._wear(design)
        return Part(found, wear.write(found, self._ask_wear(design), self.engine))

    def _ask_blank(self, design: Design, held: gland.GlandJudged | None, pieces: int) -> BlankRequest:
        """Ask for the blank; bore and width that were not stated are those that the gland check proposes."""
        request, duty, width = self.request, self.request.duty, self.gland.seal_width
        if held is not None:
            width = held_to_digits(held.width)
            if duty.bore.diameter is None:
                bore = duty.bore.model_copy(update={"diameter": held_to_digits(held.bore)})
                duty = duty.model_copy(update={"bore": bore})
        common: _Common = {**self.common, "duty": duty}
        return BlankRequest.model_construct(
            **common, design=design, axial_width=width, stock=request.stock, allowances=request.allowances,
            rates=request.rates, pieces=pieces,
        )  # fmt: skip

    def _drawn(self, design: Design, held: gland.GlandJudged | None) -> Drawable:
        """Return the section that the drawing of the answer shows."""
        return self._once("section", design, lambda: drawable(self.request.duty, design, self.gland, self.rules, held))

    def answer_blank(self, design: Design, held: gland.GlandJudged | None) -> Part[blank.Estimate]:
        """Estimate the blank."""
        ask = self._ask_blank(design, held, self.request.pieces)
        found = blank.answer(ask, self.engine, self._drawn(design, held))
        return Part(found, blank.write(found, ask, self.engine))

    def quantity_breaks(self, design: Design, held: gland.GlandJudged | None, made: blank.Estimate) -> list[JsonObject]:
        """Say what each of the quantities takes; ``made`` is the blank of the one that is asked for."""
        breaks: list[JsonObject] = []
        for pieces in self.request.quantity_breaks or [self.request.pieces]:
            found, ask = made, self._ask_blank(design, held, pieces)
            if pieces != self.request.pieces:
                found = blank.answer(ask, self.engine, self._drawn(design, held))
            breaks.append(blank.taken_for(found, ask))
        return breaks


def answer(request: EnquiryRequest, engine: Engine) -> JsonObject:
    """Answer an enquiry."""
    rules = engine.rules(request)
    asked = Asked(request, engine)
    chosen, design, offered = "given", request.design, None
    if design is None:
        ask = SelectionRequest.model_construct(
            **asked.common, restrict=request.restrict, aims=request.aims, limit=OFFERED, near_miss_limit=OFFERED
        )
        ranking = selection.rank(ask, rules)
        offered = selection.select(ask, engine, ranking)
        chosen = "selected" if ranking.best else "nearest"
        design = _choose(ranking, asked, rules) if ranking.best else ranking.nearest(rules.data)
    check = asked.answer_envelope(design)
    unanswered: list[JsonObject] = []

    def part(name: str, ask: Callable[[], Part[A]]) -> Part[A] | None:
        """Answer one part; what it refuses is told, and stops none of the others."""
        rest()
        try:
            return ask()
        except _REFUSED as error:
            if isinstance(error, ValidationError):
                item = error.errors(include_url=False, include_input=False)[0]
                location, detail, context = item["loc"], fault_in_words(item), dict(item.get("ctx") or {})
            else:
                location, detail, context = (), error.message(), dict(error.context or {})
            accepted = context.get("accepted")
            unanswered.append(
                {
                    "part": name,
                    "field": _pointer((*location, *context.get("fields", ()))),
                    "detail": detail,
                    "accepted": None if accepted is None else str(accepted),
                }
            )
            return None

    held = part("gland", lambda: asked.answer_gland(design))
    fitting = part("thermal_fit", lambda: asked.answer_thermal_fit(design))
    rubbing = part("friction", lambda: asked.answer_friction(design))
    worn = part("wear", lambda: asked.answer_wear(design))
    made = part("blank", lambda: asked.answer_blank(design, None if held is None else held.found))
    parts: list[JsonObject] = [
        result.written for result in (check, held, fitting, rubbing, worn, made) if result is not None
    ]
    judged = [
        Judged("envelope", check.found.verdict, _sentence("Envelope", envelope.summary(check.found))),
        *(
            Judged(name, envelope.verdict(result.found.findings), _sentence(label, gland.summary(result.found)))
            for name, label, result in (("gland", "Gland", held), ("thermal fit", "Thermal fit", fitting))
            if result is not None
        ),
    ]
    if rubbing is not None:
        words = f"Contact: {friction.summary(rubbing.found, asked.system)}"
        judged.append(Judged("contact temperature", rubbing.found.verdict, words))
    judged.append(_life(None if worn is None else worn.found, request))
    verdict = max((item.verdict for item in judged), key=envelope.RANK.__getitem__)
    if verdict == "pass" and unanswered:
        verdict = "caution"
    title = selection.title(rules.data, design, check.found.case.elastomer_name)
    asked_for = PARTS if request.parts is None and request.detail == "full" else request.parts or ()
    answered = {
        "check": check, "gland": held, "thermal_fit": fitting, "friction": rubbing, "wear": worn, "blank": made,
    }  # fmt: skip
    evidence = weakest([cast("Evidence", found) for result in parts if (found := result["evidence"]) is not None])
    common: JsonObject = {
        "detail": request.detail,
        "reference": request.reference,
        "verdict": verdict,
        "summary": _summary(verdict, chosen, title, judged),
        "chosen": chosen,
        "design": written(design),
        "title": title,
        "evidence": evidence,
        "stamp": engine.stamp("answer_enquiry", request, rules),
    }
    if request.detail == "verdict":
        return {**common, "notice": NOTICE}
    of_hardware = None if held is None else held.found
    return {
        **common,
        "alternatives": [item.written(asked.system) for item in alternatives(request.duty, rules.data)],
        "requirements": asked.requirements(check.found, of_hardware, design),
        **asked.questions(check.found, of_hardware, None if fitting is None else fitting.found, design),
        "expectations": asked.expectations(check.found, design),
        "dimensions": dimensions(check.found.case, of_hardware, None if made is None else made.found, asked.system),
        "quantity_breaks": [] if made is None else asked.quantity_breaks(design, of_hardware, made.found),
        "selection": offered if "selection" in asked_for else None,
        **{
            name: result.written if result is not None and name in asked_for else None
            for name, result in answered.items()
        },
        "unanswered": unanswered,
        "assumptions": _distinct(parts, "assumptions", "field"),
        "cautions": _distinct(parts, "cautions", "id"),
        "working": None,
    }


# ------------------------------------------------------------------------------------------------------------ choosing


def _choose(ranking: selection.Ranking, asked: Asked, rules: RuleSet) -> Design:
    """Return the design that ranks first among those that hold in gland and thermal fit and last long enough.

    Tried is the best of each family, retention, heel and compound, up to a number. One that presses harder than wear was
    measured at is taken only where it is likelier to last than the first that does not. Where none lasts as long as is wanted,
    the first of those that hold and last about as long as the longest, else the one that lasts longest of those that hold.
    Where nothing holds, the first. Where food is sealed, designs that are known
    to be fit for it come before all others, and where dirt comes from the air side those of them that keep it out.
    """
    wanted = _wanted(asked.request, rules)
    lives = selection.lives(ranking.found)
    known = ~selection.unknown_to_food(ranking.found)
    shielded = known & selection.guarded(asked.request.duty, ranking.candidates.rows)
    pools = ([i for i in ranking.best if shielded[i]], [i for i in ranking.best if known[i]], ranking.best)
    for pool in {len(pool): pool for pool in pools if pool}.values():  # each holds the one before
        lasting = [index for index in pool if lives[index] >= wanted]
        alike = rules.data.aims.alike_life.si * max((float(lives[index]) for index in pool), default=0.0)
        rest = sorted(
            pool, key=lambda index: -min(float(lives[index]), alike)
        )  # lives that are alike stay as they rank
        failed: Counter[tuple[int, ...]] = Counter()
        beyond: Design | None = None
        for candidates, must_last in ((lasting, True), (rest, False)):
            for kind, design in islice(_each_kind(ranking, rules, candidates), TRIED):
                if failed[kind] >= TRIED_EACH or (must_last and not asked.lasts(design)):
                    continue
                measured = not must_last or asked.measured(design)
                if not measured and beyond is not None:
                    continue  # the first of those is held already
                if not asked.holds(design):
                    failed[kind] += 1
                elif measured:
                    return design if beyond is None or asked.chance(design) >= asked.chance(beyond) else beyond
                else:
                    beyond = design
            if beyond is not None:
                return beyond
    return selection.design_of(rules.data, ranking.candidates, ranking.best[0], ranking.elastomer)


def _each_kind(
    ranking: selection.Ranking, rules: RuleSet, indices: Iterable[int]
) -> Iterator[tuple[tuple[int, ...], Design]]:
    """Yield the first design of each kind and compound, with its kind: what decides on gland and fits."""
    c, seen = ranking.candidates, set[tuple[tuple[int, ...], int]]()
    for index in indices:
        row = c.rows[index]
        kind, compound = (int(row["family"]), int(row["retention"]), int(row["heel"])), int(row["compound"])
        if (kind, compound) not in seen:
            seen.add((kind, compound))
            yield kind, selection.design_of(rules.data, c, index, ranking.elastomer)


# --------------------------------------------------------------------------------------------------------- in one word


class Judged(NamedTuple):
    """One part in the verdict of the enquiry."""

    name: str
    verdict: str
    sentence: str
    """What the summary says of it where it decides; of envelope and life, always."""


def _wanted(request: EnquiryRequest, rules: RuleSet) -> float:
    """Return the life that is wanted: the one stated, or that of the rules for the machine [s]."""
    if request.duty.target_life is not None:
        return request.duty.target_life
    found: float = getattr(rules.data.running.wear.targets, request.duty.application or "not_stated").si
    return found


def _life(worn: wear.Answer | None, request: EnquiryRequest) -> Judged:
    """Judge the life by the probability that the one wanted is reached."""
    if worn is None:
        return Judged("life", "pass", "Its life is not known.")
    verdict = "pass" if worn.verdict == "not_evaluated" and request.duty.target_life is None else worn.verdict
    return Judged("life", verdict, wear.summary(worn, request.units.system_of_units()))


def _sentence(label: str, words: envelope.Said) -> str:
    """Say the verdict of a part in a sentence of the whole."""
    return f"{label}: {words.verdict[0].lower()}{words.verdict[1:]}, {words.why}"


_CHOSEN = {"given": "The given design", "selected": "The chosen design", "nearest": "No design passes; the nearest"}


def _summary(verdict: str, chosen: str, title: str, judged: list[Judged]) -> str:
    """Say an enquiry in one sentence, and in some more what decides it."""
    word = {
        "pass": "passes",
        "caution": "passes with care",
        "fail": "does not pass",
        "not_evaluated": "cannot be judged",
    }[verdict]
    deciding = [item for item in judged if item.verdict == verdict != "pass"]
    why = f" ({', '.join(item.name for item in deciding)})" if deciding else ""
    said = [item.sentence for item in judged if item in deciding or item.name in {"envelope", "life"}]
    return " ".join([f"{_CHOSEN[chosen]} {word}{why}: {title}.", *said])


def _distinct(parts: list[JsonObject], name: str, key: str) -> list[JsonObject]:
    """Gather entries of all parts, each once."""
    found: dict[str, JsonObject] = {}
    for result in parts:
        for entry in cast("Sequence[JsonObject]", result[name]):  # each part has them
            found.setdefault(str(entry[key]), entry)
    return list(found.values())
