"""Tolerance classes and tables by size steps: what is looked up by name, before formulas take its numbers."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from math import nan
from typing import NamedTuple

from glandwise.mechanics.choices import ToleranceZone
from glandwise.mechanics.fits import Deviations, limit_deviations

_EDGE = 1.0 - 1.0e-9
"""A size that arrives through a conversion may miss the edge of its step by rounding: 80 mm stay in 50 to 80."""
_CLASS = re.compile(r"([A-Za-z]{1,2})(\d{1,2})")
_BELOW = ("d", "e", "f", "g")
_ABOVE = ("k", "m", "n", "p")
# ISO 286-1: holes K, M and N to IT8, P to IT7, take the mirrored shaft deviation plus the correction IT(n) - IT(n-1);
# coarser P takes it without, coarser K, M and N are not supported here.
_CORRECTED_HOLES = {"K": 8, "M": 8, "N": 8, "P": 7}
_CORRECTED_OVER, _CORRECTED_UP_TO = 3.0e-3, 0.5
"""Sizes between which the correction applies [m]: above 500 mm the mirrored deviation stands as it is."""


class ToleranceClassError(ValueError):
    """A tolerance class that the tables at hand do not support; ``accepted`` says what they do."""

    def __init__(self, requested: str, accepted: tuple[str, ...]) -> None:
        super().__init__(f"tolerance class not supported; accepted: {', '.join(accepted)}")
        self.requested = requested
        self.accepted = accepted


class ToleranceNumbers(NamedTuple):
    """What :func:`glandwise.mechanics.fits.limit_deviations` takes: numbers [m] and the place of the zone."""

    tolerance: float
    fundamental: float
    correction: float
    zone: ToleranceZone


def size_step_value(size: float, over: Sequence[float], up_to: Sequence[float], values: Sequence[float]) -> float:
    """Value of a table by size steps "over ... up to and including ..."; NaN in a hole, an empty cell and beyond its ends.

    A size on the edge of a step belongs to the lower one. The table is never extrapolated (ISO 286-1:2010, heading of the
    tables of standard tolerances; standard, from memory).
    """
    reduced = size * _EDGE
    if not reduced <= up_to[-1]:
        return nan
    step = bisect_left(up_to, reduced)
    return float(values[step]) if reduced > over[step] else nan


def accepted_classes(
    grades: Mapping[str, Sequence[float]], shaft_deviations: Mapping[str, Sequence[float]]
) -> tuple[str, ...]:
    """Tolerance classes that some tables support, holes before shafts.

    h, H, js and JS need no fundamental deviation; a hole K, M, N or P needs the next finer grade too.
    """
    numbers = sorted(int(name[2:]) for name in grades)
    below = [letter for letter in _BELOW if letter in shaft_deviations]
    above = [letter for letter in _ABOVE if letter in shaft_deviations]
    holes = [f"{letter.upper()}{number}" for letter in [*below, "h", "js"] for number in numbers]
    for letter in above:
        top = _CORRECTED_HOLES[letter.upper()]
        holes += [
            f"{letter.upper()}{number}"
            for number in numbers
            if (number <= top and number - 1 in numbers) or (number > top and letter == "p")
        ]
    shafts = [f"{letter}{number}" for letter in [*below, "h", "js", *above] for number in numbers]
    return (*holes, *shafts)


def tolerance_numbers(
    tolerance_class: str,
    size: float,
    over: Sequence[float],
    up_to: Sequence[float],
    grades: Mapping[str, Sequence[float]],
    shaft_deviations: Mapping[str, Sequence[float]],
) -> ToleranceNumbers:
    """Look up the numbers of a tolerance class such as ``h11`` or ``H8``, by letter (a capital for a hole) and grade.

    ``grades`` are standard tolerances by name, ``IT5`` and on, one for each size step; ``shaft_deviations`` the fundamental
    deviations of shafts by letter, with their sign: the upper for d to g, the lower for k to p [m]. NaN for a size beyond the
    tables; :class:`ToleranceClassError` for a class beyond them.

    Shaft k has none outside IT4 to IT7. The correction of holes K to P applies above 3 mm; M6 over 250 to 315 mm is 2 um off
    the rule, as tabulated. Letters a, b, c and r upwards need intermediate steps and are refused. ISO 286-1:2010, rules for
    fundamental deviations (standard, from memory).
    """
    match = _CLASS.fullmatch(tolerance_class)
    letter, grade = (match[1], int(match[2])) if match else ("", 0)
    low, is_shaft = letter.lower(), letter.islower()
    known = low in {"h", "js"} or (low in shaft_deviations and low in _BELOW + _ABOVE)
    refusal = ToleranceClassError(tolerance_class, accepted_classes(grades, shaft_deviations))
    if not known or not (is_shaft or letter.isupper()) or f"IT{grade}" not in grades:
        raise refusal

    def read(values: Sequence[float]) -> float:
        return size_step_value(size, over, up_to, values)

    tolerance = read(grades[f"IT{grade}"])
    if low == "js":
        return ToleranceNumbers(tolerance, 0.0, 0.0, ToleranceZone.symmetric)
    fundamental = read([0.0] * len(up_to) if low == "h" else shaft_deviations[low])
    if low == "h" or low in _BELOW:
        zone = ToleranceZone.shaft_below if is_shaft else ToleranceZone.hole_above
        return ToleranceNumbers(tolerance, fundamental, 0.0, zone)
    if is_shaft:
        if low == "k" and not 4 <= grade <= 7:
            fundamental *= 0.0
        return ToleranceNumbers(tolerance, fundamental, 0.0, ToleranceZone.shaft_above)
    if letter == "P" and grade > _CORRECTED_HOLES["P"]:
        return ToleranceNumbers(tolerance, fundamental, 0.0, ToleranceZone.hole_below)
    finer = f"IT{grade - 1}"
    if grade > _CORRECTED_HOLES[letter] or finer not in grades:
        raise refusal
    is_corrected = _CORRECTED_OVER < size * _EDGE <= _CORRECTED_UP_TO
    correction = tolerance - read(grades[finer]) if is_corrected else 0.0
    if letter == "M" and grade == 6 and 0.25 < size * _EDGE <= 0.315:
        correction += 2.0e-6
    return ToleranceNumbers(tolerance, fundamental, correction, ToleranceZone.hole_below)


def class_deviations(
    tolerance_class: str,
    size: float,
    over: Sequence[float],
    up_to: Sequence[float],
    grades: Mapping[str, Sequence[float]],
    shaft_deviations: Mapping[str, Sequence[float]],
) -> Deviations:
    """Limit deviations of a tolerance class [m]; see :func:`tolerance_numbers`."""
    return limit_deviations(*tolerance_numbers(tolerance_class, size, over, up_to, grades, shaft_deviations))
