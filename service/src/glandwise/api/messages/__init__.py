"""Words for people: a sentence for each fault, in the language that the caller reads, beside its code and its pointer.

A code is stable and stands for one fault, whatever the words; ``parameters`` are what its sentence is made of. Texts stand in
``faults.toml`` and, for names of fields and what is accepted, in one file a language: a further language is a further file and
a further key of each fault. What was sent is never part of a sentence.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any

from glandwise.contract.faults import WORDS

DEFAULT = "en"
LANGUAGES = (DEFAULT, "de")
"""Languages of the sentences, the one first that stands for all others."""
LONGEST = 200
"""Letters of what is accepted that are still read out in a sentence; a longer list stands beside it only."""
OTHER = "refused"
"""Code of a fault that has none of its own: of the data of rules, for programmers."""

_CONTAINERS = frozenset({"duty", "design", "motion", "query", "path", "stored_request", "gland"})
"""Objects that are not named before their fields."""


@cache
def _read(name: str) -> Mapping[str, Any]:
    return tomllib.loads(files(__package__).joinpath(f"{name}.toml").read_text(encoding="utf-8"))


@cache
def _codes() -> tuple[Mapping[str, str], Mapping[str, str]]:
    """Return the codes by kind of fault and by words."""
    kinds: dict[str, str] = {}
    details: dict[str, str] = {}
    for code, entry in _read("faults").items():
        kinds.update(dict.fromkeys(entry.get("kind", ()), code))
        words = entry.get("detail", [])
        details.update(dict.fromkeys([words] if isinstance(words, str) else words, code))
    for kind, (words, _) in WORDS.items():
        details.setdefault(words, kinds[kind])
    return kinds, details


def code_of(kind: str, detail: str) -> str:
    """Return the code of a fault by its kind, else by its words."""
    kinds, details = _codes()
    return kinds.get(kind) or details.get(detail, OTHER)


def language_of(header: str | None) -> str:
    """Choose the language by an ``Accept-Language`` header: the first of the highest quality that there is."""
    best, chosen = 0.0, DEFAULT
    for item in (header or "").split(",")[:50]:
        name, _, parameters = item.strip().lower().partition(";")
        match = re.fullmatch(r"\s*q\s*=\s*([01](?:\.\d{0,3})?)\s*", parameters) if parameters else None
        quality = float(match[1]) if match else 0.0 if parameters else 1.0
        language = DEFAULT if name == "*" else name.partition("-")[0]
        if language in LANGUAGES and quality > best:
            best, chosen = quality, language
    return chosen


def field_words(pointer: str, language: str) -> str:
    """Say a field in words: "Bore diameter" for ``/duty/bore/diameter``."""
    parts = [part.replace("~1", "/").replace("~0", "~") for part in pointer.split("/")[1:]]
    while len(parts) > 1 and parts[-1] in {"value", "unit"}:
        parts.pop()
    parts = [part for place, part in enumerate(parts) if part not in _CONTAINERS or place == len(parts) - 1]
    local = None if language == DEFAULT else _read(language)
    if not parts:
        return "The request" if local is None else str(local["other"]["request"])
    if local is None:
        words = [f"no. {int(part) + 1}" if part.isdigit() else part.replace("_", " ") for part in parts]
        text = " ".join(words)
    else:
        names = local["fields"]
        numbered = local["other"]["number"]
        words = [
            numbered.format(int(part) + 1) if part.isdigit() else names.get(part, part.replace("_", " "))
            for part in parts
        ]
        text = ", ".join(words)
    return text[:1].upper() + text[1:]


def _local_numbers(text: str, language: str) -> str:
    """Write the numbers of a text with a decimal comma where the language has one."""
    return text if language == DEFAULT else re.sub(r"(?<=\d)\.(?=\d)", ",", re.sub(r"(?<=\d),(?=\d{3}\b)", "", text))


def accepted_words(accepted: str | None, language: str) -> str | None:
    """Say what is accepted; ``None`` where the language has no words for it."""
    if accepted is None:
        return None
    if accepted.startswith("'"):  # a list of choices
        quoted = accepted.replace("'", "").replace("_", " ")
        return quoted if language == DEFAULT else quoted.replace(" or ", " oder ")
    if language == DEFAULT:
        return accepted
    local = _read(language)
    if accepted in local["accepted"]:
        return str(local["accepted"][accepted])
    for pattern in local["patterns"]:
        if (match := re.fullmatch(pattern["en"], accepted)) is not None:
            said: str = pattern["de"].format(*match.groups())
            return said if "Namen" in said or "meint" in said else _local_numbers(said, language)
    return None


def _filled(template: str, values: Mapping[str, str | None]) -> str | None:
    """Fill a sentence in; what stands in brackets falls out with a value it has not, else there is no sentence."""

    def part(text: str) -> str | None:
        needed = re.findall(r"\{(\w+)\}", text)
        return None if any(values.get(name) is None for name in needed) else text.format(**values)

    optional = re.search(r"\[([^\]]*)\]", template)
    if optional is not None:
        template = template[: optional.start()] + (part(optional[1]) or "") + template[optional.end() :]
    return part(template)


def sentence(
    code: str, pointer: str, detail: str, accepted: str | None, example: str | None = None, language: str = DEFAULT
) -> str:
    """Say a fault to somebody who knows the machine and not the program."""
    entry = _read("faults").get(code, {})
    field, said_accepted = field_words(pointer, language), accepted_words(accepted, language)
    values = {
        "Field": field,
        "accepted": said_accepted if said_accepted is not None and len(said_accepted) <= LONGEST else None,
        "example": None if example is None else _local_numbers(example, language),
    }
    if (template := entry.get(language)) is not None and (said := _filled(template, values)) is not None:
        return said
    if language != DEFAULT:
        said = _filled(_read(language)["other"]["sentence"], values)
        assert said is not None
        return said
    return f"{field}: {detail}."


def problem_sentence(kind: str, explanation: str, sentences: Sequence[str], language: str = DEFAULT) -> str:
    """Say a problem: by its faults, as far as they can be read at once, or else by its kind."""
    if sentences:
        return " ".join(sentences[:3])
    return explanation if language == DEFAULT else str(_read(language)["kinds"].get(kind, explanation))
