"""Features of designs: which there are, which designs have them, and which of two conditions is the more special.

A condition (the ``when`` of a capacity) stands for the coherent designs, in every situation, that have its features. Of
two conditions the more special is the one whose designs are among those of the other and are not all of them, however
many features each names: ``{lip_tip = "plain"}`` is as special as ``{family = "flexible_lip", lip_tip = "plain"}``, for no
other family has a lip tip.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache
from itertools import product
from typing import Any

FEATURES: dict[str, dict[str, tuple[str | bool, ...]]] = {
    "flexible_lip": {
        "second_lip": ("none", "excluder", "redundant"),
        "lip_tip": ("plain", "upturned_with_garter"),
        "reinforcing_band": (False, True),
        "retention": ("o_ring", "clamped_flange", "press_fit_case"),
    },
    "energized_lip": {
        "lip_form": ("plain", "scraper", "tapered"),
        "energizer": ("cantilever_v", "canted_coil"),
        "retention": ("o_ring", "clamped_flange"),
        "heel": ("standard", "extended"),
    },
}
"""Features of a design by family, with the values each can have; the contract's designs are tested against it."""

SITUATIONS: dict[str, tuple[str | bool, ...]] = {
    "medium": ("dry", "aqueous", "oil"),
    "filled": (False, True),
}
"""Features that designs of every family have: of the duty, and of the compound."""


def feature_sets() -> Iterator[dict[str, Any]]:
    """Yield the features of every coherent design in every situation."""
    for family, axes in FEATURES.items():  # the product of its choices is every coherent design
        names = (*axes, *SITUATIONS)
        for values in product(*axes.values(), *SITUATIONS.values()):
            yield {"family": family, **dict(zip(names, values, strict=True))}


@lru_cache(maxsize=1)
def _having() -> tuple[dict[tuple[str, Any], int], int]:
    """Return the designs that have each feature, one bit for each of :func:`feature_sets`, and all of them."""
    having: dict[tuple[str, Any], int] = {}
    bit = 1
    for features in feature_sets():
        for item in features.items():
            having[item] = having.get(item, 0) | bit
        bit <<= 1
    return having, bit - 1


def designs_with(when: Mapping[Any, Any]) -> int:
    """Return the designs that have some features, one bit for each of :func:`feature_sets`."""
    having, found = _having()
    for item in when.items():
        found &= having.get(item, 0)
    return found


def more_special(one: Mapping[Any, Any], other: Mapping[Any, Any]) -> bool:
    """Tell a condition whose designs are some of those of another."""
    a, b = designs_with(one), designs_with(other)
    return a != b and a & b == a


def most_special(conditions: Mapping[str, Mapping[Any, Any]]) -> str | None:
    """Return the name of the condition that is more special than every other, ``None`` where there is none."""
    for name, when in conditions.items():
        if all(name == other or more_special(when, held) for other, held in conditions.items()):
            return name
    return None


def undecided(conditions: Mapping[str, Mapping[Any, Any]]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Yield two names, the later one last, of which neither is the more special, and a design that has both conditions.

    A third condition that decides between them, more special than both for all the designs they share, settles it.
    """
    masks = {name: designs_with(when) for name, when in conditions.items()}
    names = list(conditions)
    for position, later in enumerate(names):
        for earlier in names[:position]:
            a, b = masks[earlier], masks[later]
            shared = a & b
            if not shared or (a != b and shared in (a, b)):
                continue
            for mask in masks.values():
                if a != b and mask not in (a, b) and mask & shared == mask:
                    shared &= ~mask
            if shared:
                bit = (shared & -shared).bit_length() - 1
                yield earlier, later, next(item for index, item in enumerate(feature_sets()) if index == bit)
