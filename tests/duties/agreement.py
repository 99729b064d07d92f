"""Ask the service about a duty, and hold the answer to what an engineer expects of it, item by item."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Literal, NamedTuple, TypeAlias

from glandwise import units
from glandwise.contract.enquiry import EnquiryRequest
from glandwise.engine import Engine
from glandwise.questions.enquiry import operation

from tests.duties.model import Band, Duty, Expectation

Standing: TypeAlias = Literal["agrees", "disagrees", "not answered yet"]

MEASURES = {
    "torque": "torque",
    "contact_temperature": "temperature",
    "contact_pressure": "stress",
    "line_load": "line_load",
    "life": "time",
    "life_probability": "ratio",
}
"""Bands of an expectation, and the dimension of each."""


class Item(NamedTuple):
    """One item of an expectation against the answer."""

    name: str
    standing: Standing
    expected: str
    got: str


class Outcome(NamedTuple):
    """What the service answered to a duty, and how it stands to each item expected."""

    duty: Duty
    verdict: str
    title: str
    compound: str
    numbers: dict[str, float | None]
    items: list[Item]

    @property
    def apart(self) -> list[Item]:
        """Items that do not agree, whatever the reason."""
        return [item for item in self.items if item.standing != "agrees"]


def judge(duty: Duty, engine: Engine) -> Outcome:
    """Ask the service, and compare."""
    return compare(duty, operation.answer(EnquiryRequest.model_validate(duty.request), engine))


def compare(duty: Duty, answer: Mapping[str, Any]) -> Outcome:
    """Hold an answer, in units of the SI system, to the expectation of its duty."""
    numbers = {name: _number(name, answer) for name in MEASURES}
    items = [*_words(duty.expect, answer), *_bands(duty.expect, numbers, "life_probability" in (answer["wear"] or {}))]
    return Outcome(duty, answer["verdict"], answer["title"], answer["design"]["compound"], numbers, items)


def _words(expect: Expectation, answer: Mapping[str, Any]) -> Iterator[Item]:
    design, verdict = answer["design"], answer["verdict"]
    yield _item("verdict", verdict in expect.verdict, " or ".join(expect.verdict), verdict)
    if expect.stopped_by and verdict == "fail":
        failing = _failing(answer)
        yield _item("stopped_by", bool(failing & set(expect.stopped_by)), expect.stopped_by, sorted(failing))
    for name, allowed in (("family", expect.families), ("compound", expect.compounds)):
        if allowed:
            yield _item(name, design[name] in allowed, allowed, design[name])
    if expect.not_compounds:
        here = design["compound"]
        yield _item("compound", here not in expect.not_compounds, "not " + ", ".join(expect.not_compounds), here)
    for field, allowed in expect.options.items():
        here = str(design.get(field))
        yield _item(field, here in allowed, allowed, here)
    for field, refused in expect.not_options.items():
        here = str(design.get(field))
        yield _item(field, here not in refused, "not " + ", ".join(refused), here)
    if expect.requirements:
        named = _named(answer, "requirements")
        yield _item(
            "requirements", None if named is None else set(expect.requirements) <= named, expect.requirements, named
        )
    if expect.alternatives:
        named = _named(answer, "alternatives")
        yield _item(
            "alternatives", None if named is None else set(expect.alternatives) & named, expect.alternatives, named
        )
    if expect.not_alternatives:
        named = _named(answer, "alternatives")
        wanted = "not " + ", ".join(expect.not_alternatives)
        yield _item(
            "not_alternatives", None if named is None else not set(expect.not_alternatives) & named, wanted, named
        )


def _bands(expect: Expectation, numbers: Mapping[str, float | None], told: bool) -> Iterator[Item]:
    for name, dimension in MEASURES.items():
        band: Band | None = getattr(expect, name)
        if band is None:
            continue
        low, high = (None if end is None else units.to_si(end, dimension, band.unit) for end in (band.low, band.high))
        if name == "life_probability" and not told:
            yield _item(name, None, _ends(band), "")
            continue
        here = numbers[name]
        inside = here is not None and (low is None or here >= low) and (high is None or here <= high)
        got = "no number" if here is None else f"{units.from_si(here, dimension, band.unit):.3g}"
        yield _item(name, inside, _ends(band), got)


def _ends(band: Band) -> str:
    ends = (
        f"at least {band.low:g}" if band.high is None
        else f"at most {band.high:g}" if band.low is None
        else f"{band.low:g} to {band.high:g}"
    )  # fmt: skip
    return ends if band.unit == "1" else f"{ends} {band.unit}"


def _item(name: str, agrees: Any, expected: Any, got: Any) -> Item:
    """``agrees`` is ``None`` where the answer has no place for it yet."""
    standing: Standing = "not answered yet" if agrees is None else "agrees" if agrees else "disagrees"
    return Item(name, standing, _text(expected), "" if agrees is None else _text(got))


def _text(value: Any) -> str:
    if isinstance(value, str):
        return value
    return ", ".join(sorted(value) if isinstance(value, set | frozenset) else value) or "none"


def _named(answer: Mapping[str, Any], field: str) -> set[str] | None:
    """Return the identifiers in a list of the result; ``None`` while results have no such list."""
    found = answer.get(field)
    return None if found is None else {item["id"] for item in found}


def _failing(answer: Mapping[str, Any]) -> set[str]:
    """Return the criteria that fail in any part; a life that fails its target is ``life``."""
    failing = {
        criterion["id"]
        for part in ("check", "gland", "thermal_fit")
        if answer[part] is not None
        for criterion in answer[part]["criteria"]
        if criterion["status"] == "fail"
    }
    if answer["friction"] is not None and answer["friction"]["verdict"] == "fail":
        failing.add("contact_temperature")
    if answer["wear"] is not None and answer["wear"]["verdict"] == "fail":
        failing.add("life")
    return failing


def _number(name: str, answer: Mapping[str, Any]) -> float | None:
    """Return a number of the answer in SI; ``None`` where it has none."""
    if name == "life_probability":
        found = (answer["wear"] or {}).get(name)
        return None if found is None else float(found)
    if name == "life":
        life = (answer["wear"] or {}).get("life")
        found = None if life is None else life.get("median", life["nominal"])
    else:
        levels = (answer["friction"] or {}).get("levels", [])
        level = next((level for level in levels if level["level"] == "nominal"), {})
        main = next((lip for lip in level.get("lips", []) if lip["lip"] == "main"), {})
        found = {
            "torque": level.get("torque"),
            "contact_temperature": level.get("contact_temperature"),
            "contact_pressure": main.get("mean_contact_pressure"),
            "line_load": main.get("line_load"),
        }[name]
    return None if found is None else float(units.to_si(found["value"], MEASURES[name], found["unit"]))
