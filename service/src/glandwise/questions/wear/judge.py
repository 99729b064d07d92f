"""What is said of a life."""

from __future__ import annotations

from math import inf
from typing import Any, NamedTuple

from glandwise.physics.wear import AllowedBy
from glandwise.units import UnitSystem

BY = {
    AllowedBy.lip: "the thickness of the lip",
    AllowedBy.energizer: "the travel of the energizer",
    AllowedBy.interference: "the interference of the lip",
    AllowedBy.request: "the request",
}


class Life(NamedTuple):
    """Time to the allowance, SI; infinite where nothing wears or the load is lost before."""

    short: float
    nominal: float
    long: float
    longest: float
    """Longest life that is estimated."""

    @property
    def ends(self) -> dict[str, float]:
        """Ends of the life."""
        return {"short": self.short, "nominal": self.nominal, "long": self.long}

    def told(self, end: float) -> float | None:
        """Return an end as it is told: none longer than the longest that is estimated, an infinite one is none."""
        return min(end, self.longest) if end < inf else None

    def write(self, units: UnitSystem) -> dict[str, Any]:
        """Write the ends."""
        found = {name: units.optional("time", self.told(end)) for name, end in self.ends.items()}
        return {**found, "longest": units.quantity("time", self.longest)}

    def say(self, end: float, units: UnitSystem) -> str:
        """Say an end, as far as lives are estimated."""
        return in_words(end, self.longest, units)


def in_words(time: float, longest: float, units: UnitSystem) -> str:
    """Say a time to an end of a life [s], as far as lives are estimated."""
    return f"more than {units.text('time', longest)}" if time >= longest else units.text("time", time)


class Subject(NamedTuple):
    """What a life is judged by."""

    life: Life
    slides: bool
    presses: bool
    """Whether anything presses the lip to the shaft."""
    by: AllowedBy


def verdict(found: Subject, target: float | None) -> str:
    """Judge a life against a target [s]."""
    life = found.life
    if not found.presses or target is None or (found.slides and life.short == inf):
        return "not_evaluated"
    if not found.slides:
        return "pass"
    if life.short >= target:
        return "caution" if target > life.longest else "pass"
    return "caution" if life.nominal >= target else "fail"


def words(found: Subject, target: float | None, units: UnitSystem, of: str = "of running") -> str:
    """Say how long a lip lasts."""
    life = found.life
    if not found.presses:
        return "Nothing presses the lip to the shaft: it does not wear, and it does not seal."
    if not found.slides:
        return "Nothing slides: nothing wears."
    by = BY[found.by]
    if life.short == inf:
        return (
            f"The lip has lost its load before the allowance set by {by} is worn: the load ends its life, not the wear."
        )
    short, nominal, long = (life.say(end, units) for end in life.ends.values())
    text = f"{nominal} {of} to the allowance set by {by}"
    text = f"{text[0].upper()}{text[1:]}" + ("." if life.short >= life.longest else f", within {short} to {long}.")
    if target is not None and life.short >= target > life.longest:
        wanted = units.text("time", target)
        return f"{text} Whether it reaches the {wanted} that are wanted is beyond what is estimated."
    return text
