"""Which smallest combinations of changes have an effect that none of them has alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations
from math import comb
from typing import Any

import numpy as np

MOST = 120
"""Combinations that are tried of one size; where there are more, one smallest combination is narrowed down instead."""

Judge = Callable[[tuple[int, ...], Any], Any]
"""Tells of some items, by their places, which of them a combination of changes has its effect on."""


def smallest(changes: Sequence[int], items: int, judge: Judge) -> dict[int, list[tuple[int, ...]]]:
    """Return for each of some items the combinations of two changes or more that have the effect, none with fewer changes.

    All changes together are known to have it, and no change alone. Where there are too many combinations of a size, one is
    narrowed down: from all changes, each is left out that can be.
    """
    found: dict[int, list[tuple[int, ...]]] = {}
    open_: Any = np.arange(items)
    for size in range(2, len(changes)):
        if not open_.size:
            return found
        if comb(len(changes), size) > MOST:
            found.update(_narrowed(changes, open_, judge))
            return found
        for some in combinations(changes, size):
            for item in open_[np.asarray(judge(some, open_), dtype=bool)].tolist():
                found.setdefault(item, []).append(some)
        open_ = np.array([item for item in open_.tolist() if item not in found], dtype=int)
    for item in open_.tolist():
        found[item] = [tuple(changes)]
    return found


def _narrowed(changes: Sequence[int], items: Any, judge: Judge) -> Iterator[tuple[int, list[tuple[int, ...]]]]:
    """Leave out of all changes, item by item, one after another that can be left out."""
    held: dict[tuple[int, ...], Any] = {tuple(changes): items}
    for change in changes:
        after: dict[tuple[int, ...], list[int]] = {}
        for some, here in held.items():
            fewer = tuple(one for one in some if one != change)
            does = np.asarray(judge(fewer, here), dtype=bool) if len(fewer) > 1 else np.zeros(len(here), dtype=bool)
            for left, part in ((fewer, here[does]), (some, here[~does])):
                if len(part):
                    after.setdefault(left, []).extend(part.tolist())
        held = {some: np.array(part, dtype=int) for some, part in after.items()}
    for some, here in held.items():
        for item in here.tolist():
            yield item, [some]
