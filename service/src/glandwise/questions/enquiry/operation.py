"""One call for a quoting system: choose or check the design, and gather all that a quote needs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import islice
from typing import Any, NamedTuple

from pydantic import TypeAdapter, ValidationError
from pydantic_core import PydanticCustomError

from glandwise import units
from glandwise.contract.blank import BlankRequest
from glandwise.contract.design import Design
from glandwise.contract.enquiry import EnquiryRequest
from glandwise.contract.envelope import EnvelopeCheckRequest
from glandwise.contract.gland import GlandCheckRequest, check_gland_fits
from glandwise.contract.quantities import written
from glandwise.contract.running import FrictionEstimateRequest, WearEstimateRequest
from glandwise.contract.selection import SelectionRequest
from glandwise.contract.thermal_fit import ThermalFitRequest
from glandwise.engine import Engine, fault_in_words
from glandwise.questions.blank import operation as blank
from glandwise.questions.envelope import operation as envelope
from glandwise.questions.friction import operation as friction
from glandwise.questions.gland import operation as gland
from glandwise.questions.selection import operation as selection
from glandwise.questions.thermal_fit import operation as thermal_fit
from glandwise.questions.wear import operation as wear
from glandwise.questions.wear.judge import in_words
from glandwise.rules.loader import RuleSet
from glandwise.rules.model import weakest

OFFERED = 5
"""Passing designs listed beside the chosen one."""

TRIED = 24
"""Designs of which wear, gland and thermal fit are tried before one is chosen."""

TRIED_EACH = 2
"""Failures of gland or thermal fit after which no more designs of that family, retention and heel are tried."""

_DESIGN: TypeAdapter[Any] = TypeAdapter(Design)
_REFUSED = (ValidationError, PydanticCustomError)


def _pointer(location: tuple[str | int, ...]) -> str:
    return "".join(f"/{str(part).replace('~', '~0').replace('/', '~1')}" for part in location)


class Asked:
    """What an enquiry asks of one design after another."""

    def __init__(self, request: EnquiryRequest, engine: Engine) -> None:
        self.request, self.engine = request, engine
        self.rules, self.system = engine.rules(request), request.units.system_of_units()
        self.common: dict[str, Any] = {
            "units": request.units, "rule_set": request.rule_set, "as_of": request.as_of, "working": request.working,
            "duty": request.duty,
        }  # fmt: skip
        self._fit: tuple[Any, dict[str, Any]] | None = None

    def holds(self, design: Any) -> bool:
        """Tell whether neither gland nor thermal fit fails; a gland is judged without looking for remedies."""
        duty, around = self.request.duty, self.request.gland
        try:
            check_gland_fits(duty, design, around)
            judged = gland.judge(duty, design, around, self.rules, self.system)
            return envelope.verdict(judged.findings) != "fail" and self.thermal_fit(design)["verdict"] != "fail"
        except _REFUSED:
            return False

    def gland(self, design: Any) -> dict[str, Any]:
        """Check the gland; whether gland and design go together is judged here, as where it is asked alone."""
        ask = GlandCheckRequest.model_construct(**self.common, design=design, gland=self.request.gland)
        check_gland_fits(ask.duty, ask.design, ask.gland)
        return gland.check(ask, self.engine)

    def thermal_fit(self, design: Any) -> dict[str, Any]:
        """Check the fits over the temperatures of the duty; what was found of the design asked about last is kept."""
        if self._fit is not None and self._fit[0] is design:
            return self._fit[1]
        ask = ThermalFitRequest.model_construct(**self.common, design=design, gland=self.request.gland)
        check_gland_fits(ask.duty, ask.design, ask.gland)
        self._fit = design, thermal_fit.check(ask, self.engine)
        return self._fit[1]

    def friction(self, design: Any) -> dict[str, Any]:
        """Estimate the friction."""
        around = self.request.surroundings
        return friction.estimate(
            FrictionEstimateRequest.model_construct(**self.common, design=design, surroundings=around), self.engine
        )

    def wear(self, design: Any) -> dict[str, Any]:
        """Estimate the wear."""
        return wear.estimate(
            WearEstimateRequest.model_construct(
                **self.common, design=design, surroundings=self.request.surroundings,
                target_life=self.request.target_life,
            ),
            self.engine,
        )  # fmt: skip

    def blank(self, design: Any, held: dict[str, Any] | None) -> dict[str, Any]:
        """Estimate the blank; a bore that was not stated is the one the gland check proposes."""
        duty = self.request.duty
        if duty.bore.diameter is None and held is not None:
            nominal = held["bore"]["nominal"]
            diameter = units.to_si(nominal["value"], "length", nominal["unit"])
            duty = duty.model_copy(update={"bore": duty.bore.model_copy(update={"diameter": diameter})})
        given = {**self.common, "design": design, "duty": duty}
        return blank.estimate(BlankRequest.model_construct(**given, pieces=self.request.pieces), self.engine)


def answer(request: EnquiryRequest, engine: Engine) -> dict[str, Any]:
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
        nearest = offered["near_misses"][:1]
        design = _choose(ranking, asked, rules) if ranking.best else _DESIGN.validate_python(nearest[0]["design"])
    check = envelope.check(EnvelopeCheckRequest.model_construct(**asked.common, design=design), engine)
    unanswered: list[dict[str, Any]] = []

    def part(name: str, ask: Callable[[], dict[str, Any]]) -> dict[str, Any] | None:
        """Answer one part; what it refuses is told, and stops none of the others."""
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

    held = part("gland", lambda: asked.gland(design))
    fitting = part("thermal_fit", lambda: asked.thermal_fit(design))
    rubbing = part("friction", lambda: asked.friction(design))
    worn = part("wear", lambda: asked.wear(design))
    made = part("blank", lambda: asked.blank(design, held))
    parts = [result for result in (check, held, fitting, rubbing, worn, made) if result is not None]
    life = _life(worn, request, rules)
    judged = [
        Judged("envelope", check["verdict"], _sentence("Envelope", check)),
        *(
            Judged(name, result["verdict"], _sentence(label, result))
            for name, label, result in (
                ("gland", "Gland", held),
                ("thermal fit", "Thermal fit", fitting),
                ("contact temperature", "Contact", rubbing),
            )
            if result is not None
        ),
        life,
    ]
    verdict = max((item.verdict for item in judged), key=envelope.RANK.__getitem__)
    if verdict == "pass" and unanswered:
        verdict = "caution"
    title = selection.title(rules.data, design)
    return {
        "verdict": verdict,
        "summary": _summary(verdict, chosen, title, judged),
        "chosen": chosen,
        "design": written(design),
        "title": title,
        "selection": offered,
        "check": check,
        "gland": held,
        "thermal_fit": fitting,
        "friction": rubbing,
        "wear": worn,
        "blank": made,
        "unanswered": unanswered,
        "assumptions": _distinct(parts, "assumptions", "field"),
        "cautions": _distinct(parts, "cautions", "id"),
        "evidence": weakest([result["evidence"] for result in parts if result["evidence"] is not None]),
        "stamp": engine.stamp("answer_enquiry", request, rules),
        "working": None,
    }


# ------------------------------------------------------------------------------------------------------------ choosing


def _choose(ranking: selection.Ranking, asked: Asked, rules: RuleSet) -> Any:
    """Return the design that ranks first among those that hold in gland and thermal fit and last long enough.

    Tried is the best of each family, retention, heel and compound, up to a number. Where none lasts as long as is wanted,
    the one that lasts longest of those that hold; where no life is wanted and all are short, the first that holds. Where
    nothing holds, the first.
    """
    target = asked.request.target_life
    wanted = rules.data.running.wear.short_life.si if target is None else target
    lives = selection.lives(ranking.found)
    lasting = [index for index in ranking.best if lives[index] >= wanted]
    rest = ranking.best if target is None else sorted(ranking.best, key=lambda index: -float(lives[index]))
    failed: Counter[tuple[int, ...]] = Counter()
    for candidates, must_last in ((lasting, True), (rest, False)):
        for kind, design in islice(_each_kind(ranking, rules, candidates), TRIED):
            if failed[kind] >= TRIED_EACH or (must_last and _too_short(asked.wear(design), target, wanted)):
                continue
            if asked.holds(design):
                return design
            failed[kind] += 1
    return selection.design_of(rules.data, ranking.candidates, ranking.best[0], ranking.elastomer)


def _each_kind(
    ranking: selection.Ranking, rules: RuleSet, indices: Iterable[int]
) -> Iterator[tuple[tuple[int, ...], Any]]:
    """Yield the first design of each kind and compound, with its kind: what decides on gland and fits."""
    c, seen = ranking.candidates, set[tuple[tuple[int, ...], int]]()
    for index in indices:
        row = c.rows[index]
        kind, compound = (int(row["family"]), int(row["retention"]), int(row["heel"])), int(row["compound"])
        if (kind, compound) not in seen:
            seen.add((kind, compound))
            yield kind, selection.design_of(rules.data, c, index, ranking.elastomer)


def _nominal(worn: Mapping[str, Any]) -> float | None:
    """Return the nominal life of a wear estimate [s]; ``None`` where there is none."""
    life = worn["life"]
    if life is None or life["nominal"] is None:
        return None
    return float(units.to_si(life["nominal"]["value"], "time", life["nominal"]["unit"]))


def _too_short(worn: Mapping[str, Any], target: float | None, wanted: float) -> bool:
    if target is not None:
        return bool(worn["verdict"] == "fail")
    nominal = _nominal(worn)
    return nominal is not None and nominal < wanted


# --------------------------------------------------------------------------------------------------------- in one word


class Judged(NamedTuple):
    """One part in the verdict of the enquiry."""

    name: str
    verdict: str
    sentence: str
    """What the summary says of it where it decides; of envelope and life, always."""


def _life(worn: Mapping[str, Any] | None, request: EnquiryRequest, rules: RuleSet) -> Judged:
    """Judge the life: against the one that is wanted, or else whether it is short."""
    system = request.units.system_of_units()
    if worn is None:
        return Judged("life", "pass", "Its life is not known.")
    nominal, target = _nominal(worn), request.target_life
    verdict = "pass" if target is None else worn["verdict"]
    if nominal is None:
        return Judged("life", verdict, str(worn["summary"]))
    ends = [
        in_words(units.to_si(end["value"], "time", end["unit"]), rules.data.running.wear.longest_life.si, system)
        for end in (worn["life"][name] for name in ("nominal", "short", "long"))
    ]
    text = f"Life {ends[0]}{'' if ends[0] == ends[1] else f' ({ends[1]} to {ends[2]})'} of running"
    if target is not None:
        wanted = system.text("time", target)
        return Judged("life", verdict, text + {
            "pass": f"; {wanted} are wanted.",
            "caution": f"; {wanted} are wanted, which it does not reach at the worst.",
            "fail": f", less than the {wanted} that are wanted.",
        }.get(verdict, "."))  # fmt: skip
    short = rules.data.running.wear.short_life.si
    if nominal < short:
        return Judged("life", "caution", f"{text}, which is short (below {system.text('time', short)}).")
    return Judged("life", verdict, text + ".")


def _sentence(label: str, result: Mapping[str, Any]) -> str:
    """Turn the summary of a part, "Passes: this governs.", into a sentence of the whole."""
    text = str(result["summary"])
    word, _, rest = text.partition(": ")
    if rest and word in _VERDICTS:
        text = f"{word[0].lower()}{word[1:]}, {rest}"
    return f"{label}: {text}"


_VERDICTS = ("Passes", "Passes with care", "Passes as far as it was judged", "Does not pass", "Cannot be judged")
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


def _distinct(parts: list[dict[str, Any]], name: str, key: str) -> list[dict[str, Any]]:
    """Gather entries of all parts, each once."""
    found: dict[str, dict[str, Any]] = {}
    for result in parts:
        for entry in result[name]:
            found.setdefault(entry[key], entry)
    return list(found.values())
