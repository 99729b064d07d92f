"""The search for a fluid by whatever it is called: names, titles and other names, spelt nearly right.

What is found is offered. Nothing is ever taken in place of a name that was sent.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any, NamedTuple

from rapidfuzz import fuzz, utils

from glandwise.rules.model import Fluid

LEAST = 75.0
"""Likeness, of 100, from which on a fluid is offered."""
MOST = 10
"""Fluids offered at most."""


class Match(NamedTuple):
    """A fluid that may be meant."""

    name: str
    title: str
    matched: str
    """The name that is like what was looked for."""
    likeness: float


@cache
def other_names() -> Mapping[str, tuple[str, ...]]:
    """Return the other names by the name of the fluid."""
    content: dict[str, Any] = tomllib.loads(files("glandwise.api").joinpath("fluid_names.toml").read_text("utf-8"))
    return {name: tuple(words) for name, words in content.items()}


def _likeness(text: str, words: str) -> float:
    if text == words:
        return 100.0
    whole = fuzz.ratio(text, words)
    if len(text) < 4:  # of an abbreviation, nothing but itself
        return whole if text in words.split() else 0.0
    return min(99.0, max(whole, 0.95 * fuzz.token_set_ratio(text, words)))


def find(fluids: Mapping[str, Fluid], text: str) -> list[Match]:
    """Return the fluids that a text may mean, the likeliest first."""
    wanted = utils.default_process(text)
    found = []
    for name, fluid in fluids.items():
        called = (name.replace("_", " "), fluid.title, *other_names().get(name, ()))
        best, matched = max((_likeness(wanted, utils.default_process(words)), words) for words in called)
        if best >= LEAST:
            found.append(Match(name, fluid.title, matched, round(best, 1)))
    return sorted(found, key=lambda match: (-match.likeness, match.name))[:MOST]
