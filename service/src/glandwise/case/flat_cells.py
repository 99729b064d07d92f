"""Cells of a flat table: what stands in a column, as codes or as numbers in SI, and which cells cannot be read.

A text is looked up, a number is converted, rounded and bounded just as the field of a request is that the column stands
for (:class:`glandwise.contract.quantities.Measured`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from glandwise.contract.quantities import DIGITS, Measured

EMPTY, UNKNOWN = -1, -2
"""Codes of a cell in which nothing stands, and of a text that is not known."""


class Numbers(NamedTuple):
    """A column of numbers."""

    si: Any
    """In SI; ``nan`` where a cell is empty or cannot be taken."""
    filled: Any
    """Where something stands."""
    garbled: Any
    """Where something stands that is no number."""
    outside: Any
    """Where a number stands that a request does not take."""


@dataclass(frozen=True)
class Coded:
    """A column of few texts: the texts, and for each cell the place of its own; -1 where it is empty."""

    texts: Sequence[Any]
    places: Any

    def __len__(self) -> int:
        return len(self.places)

    def listed(self) -> list[Any]:
        """Return the cells one by one."""
        texts = [*self.texts, None]
        return [texts[place] for place in self.places.tolist()]


Cells = Sequence[Any] | Coded | NDArray[Any]
"""A column as it came: cell by cell, as few texts, or as numbers whose NaN is an empty cell."""


def text(cell: Any) -> str:
    """Return a cell as text without the space around it."""
    return "" if cell is None else str(cell).strip()


def codes(cells: Cells, read: Callable[[str], int]) -> Any:
    """Return a code for each cell; texts that are the same are looked up once."""
    if isinstance(cells, Coded):
        return np.array([*(read(text(cell)) for cell in cells.texts), EMPTY])[cells.places]
    if isinstance(cells, np.ndarray):
        cells = [None if cell != cell else cell for cell in cells.tolist()]
    try:
        table = {cell: read(text(cell)) for cell in dict.fromkeys(cells)}
    except TypeError:  # a list or an object, which is no key
        return np.array([read(text(cell)) for cell in cells], dtype=int)
    return np.fromiter(map(table.__getitem__, cells), dtype=int, count=len(cells))


_TRUTH = {"0": 0, "0.0": 0, "false": 0, "no": 0, "1": 1, "1.0": 1, "true": 1, "yes": 1}
TRUE_OR_FALSE = "true, false, yes, no, 1, 0 or an empty cell"
"""What a column of true and false takes."""


def flags(cells: Cells) -> Any:
    """Return 1 for true and 0 for false."""
    return codes(cells, lambda word: _TRUTH.get(word.lower(), UNKNOWN) if word else EMPTY)


def numbers(cells: Cells, measured: Measured, unit: str) -> Numbers:
    """Read a column of numbers in a unit."""
    value, filled, garbled = _values(cells)
    scale, offset, below, above = measured.reading(unit)
    with np.errstate(invalid="ignore", over="ignore"):
        si = value if scale == 1.0 and offset == 0.0 else value * scale + offset
        outside = (si < below) | (si > above)
        if measured.sign != "any":
            outside |= value <= 0.0 if measured.sign == "positive" else value < 0.0
        si = np.clip(rounded(np.where(outside, math.nan, si)), measured.low, measured.high)
    return Numbers(si, filled, garbled, outside)


def _values(cells: Cells) -> tuple[Any, Any, Any]:
    """Return the numbers of a column as they stand, and where something stands, and where it is no number."""
    if isinstance(cells, np.ndarray):
        value = cells.astype(float)
        return value, ~np.isnan(value), np.zeros(len(cells), dtype=bool)
    if isinstance(cells, Coded):
        of_texts = [
            np.append(column, end) for column, end in zip(_values(cells.texts), (math.nan, False, False), strict=True)
        ]
        value, filled, garbled = (column[cells.places] for column in of_texts)
        return value, filled, garbled
    cells = list(cells)
    kinds: set[type] = set(map(type, cells))
    if kinds <= {float, int, type(None)}:
        try:
            value = np.array(cells, dtype=float)  # None turns into nan
        except OverflowError:
            pass
        else:
            filled = ~np.isnan(value)
            return value, filled, np.zeros(len(cells), dtype=bool)
    if kinds == {str}:
        blank: Any = np.fromiter((not cell or cell.isspace() for cell in cells), dtype=bool, count=len(cells))
        try:
            value = np.array([cell or math.nan for cell in cells] if blank.any() else cells, dtype=float)
        except (ValueError, OverflowError):
            pass
        else:
            return value, ~blank, ~blank & ~np.isfinite(value)
    found = [_value(cell) for cell in cells]
    value = np.array([math.nan if one is None else one for one in found])
    garbled = np.fromiter((one is None for one in found), dtype=bool, count=len(cells))
    return value, garbled | ~np.isnan(value), garbled


def _value(cell: Any) -> float | None:
    """Return the number of one cell, ``nan`` where it is empty; ``None`` where it is no number."""
    if isinstance(cell, str):
        cell = cell.strip()
        if not cell:
            return math.nan
        try:
            value = float(cell)
        except ValueError:
            return None
        return value if np.isfinite(value) else None
    if cell is None:
        return math.nan
    if isinstance(cell, bool | np.bool_) or not isinstance(cell, float | int | np.floating | np.integer):
        return None
    try:
        return float(cell)
    except OverflowError:
        return math.inf if cell > 0 else -math.inf


_EXACT = 22
"""Powers of ten up to this one are exact in a float."""


def rounded(si: Any, digits: int = DIGITS) -> Any:
    """Round to significant digits, those to which a request is held as a rule: the same float as from the printed number."""
    size = np.abs(si)
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = digits - 1 - np.floor(np.log10(size))
    plain = np.abs(shift) <= _EXACT
    power = 10.0 ** np.where(plain, np.abs(shift), 0.0)
    scaled = np.where(shift < 0.0, si / power, si * power)
    whole = np.rint(scaled)
    result = np.where(shift < 0.0, whole * power, whole / power)
    # near a tie, or beyond exact powers, the printed number decides
    unsure = (~plain | (np.abs(np.abs(scaled - whole) - 0.5) < 1e-2)) & np.isfinite(si) & (size > 0.0)
    result = np.where(plain, result, si)
    for at in np.flatnonzero(unsure).tolist():
        result[at] = float(f"{si[at]:.{digits}g}")
    return result
