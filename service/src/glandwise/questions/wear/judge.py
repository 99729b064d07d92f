"""What is said of a life: a median, the range of nine in ten, what four in five reach, the probability of what is wanted."""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from glandwise.json_values import JsonObject
from glandwise.physics.wear import EndedBy, Ends
from glandwise.rules.model import RuleSetData
from glandwise.units import UnitSystem

BY = {
    EndedBy.nothing: "wear does not govern",
    EndedBy.lip: "the thickness of the lip that may wear",
    EndedBy.energizer: "the travel of the energizer",
    EndedBy.load: "the load, of which too little is left",
}


def two_digits(time: float) -> float:
    """Round a time to two digits of its hours: no more is known."""
    return float(f"{time / 3600.0:.2g}") * 3600.0


class Life(NamedTuple):
    """A life against the one wanted, SI."""

    ends: Ends
    longest: float
    """Longest life that is estimated."""
    target: float
    """Life that is wanted."""
    asked: bool
    """Whether it was stated."""
    slides: bool
    presses: bool
    """Whether anything presses the lip to the shaft."""
    by: EndedBy
    pressure: float
    """Mean contact pressure after running in."""

    def told(self, end: float) -> float | None:
        """Return an end as it is told: none longer than the longest that is estimated, an infinite one is none."""
        return min(end, self.longest) if end < inf else None

    @property
    def probability(self) -> float | None:
        """Probability that the life wanted is reached, to two digits; ``None`` where it is not known."""
        P = self.ends.probability
        return float(f"{P:.2g}") if P == P and self.presses else None

    def write(self, units: UnitSystem) -> JsonObject:
        """Write the ends."""
        ends = {"short": self.ends.short, "sure": self.ends.sure, "nominal": self.ends.median, "long": self.ends.long}
        found = {name: units.optional("time", self.told(end)) for name, end in ends.items()}
        return {**found, "longest": units.quantity("time", self.longest)}

    def say(self, end: float, units: UnitSystem) -> str:
        """Say an end to two digits, as far as lives are estimated."""
        if end >= self.longest:
            return f"more than {units.text('time', two_digits(self.longest))}"
        return units.text("time", two_digits(end))


def likely(found: Life, data: RuleSetData) -> bool:
    """Tell whether the life wanted is likely enough; what is not known does not speak against it."""
    P = found.ends.probability
    return not found.presses or P != P or P >= data.running.wear.probability_caution.si


def verdict(found: Life, data: RuleSetData) -> str:
    """Judge a life: one that was asked for fails below one probability, any is a caution below another."""
    P, rule = found.ends.probability, data.running.wear
    if not found.presses or P != P:
        return "not_evaluated"
    if found.asked and P < rule.probability_fail.si:
        return "fail"
    careful = not likely(found, data) or found.pressure > rule.known_pressure.si
    if found.asked and found.target > found.longest:
        careful = True
    return "caution" if careful else "pass"


def words(found: Life, data: RuleSetData, units: UnitSystem, of: str = "of running") -> str:
    """Say how long a lip lasts."""
    if not found.presses:
        return "Nothing presses the lip to the shaft: it does not wear, and it does not seal."
    if not found.slides:
        return "Nothing slides: nothing wears."
    ends = found.ends
    wanted = units.text("time", found.target)
    kind = "wanted" if found.asked else "taken as wanted"
    if ends.median >= found.longest and ends.short >= found.longest:
        text = f"Wear does not govern: {found.say(ends.median, units)} {of}."
        if found.asked and found.target > found.longest:
            text += f" Whether it reaches the {wanted} that are wanted is beyond what is estimated."
        return text
    text = (
        f"Estimated order of life {found.say(ends.median, units)} {of}, nine in ten between {found.say(ends.short, units)} and "
        f"{found.say(ends.long, units)}; four in five reach {found.say(ends.sure, units)}. Ended by {BY[found.by]}. "
        f"Probability of the {wanted} that are {kind}: about {ends.probability:.2g}. "
        "Not a promise: a test on your shaft narrows this."
    )
    if found.pressure > data.running.wear.known_pressure.si:
        text += " The contact presses harder than wear was ever measured at."
    return text
