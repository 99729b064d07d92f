"""Choice of an O-ring and its groove, where a case states none.

Of the rings of the series that meet all limits and leave the lip its room, the thickest is taken: it holds most torque and
minds tolerances and temperature least. Where none meets the limits, the one that comes nearest.
"""

from __future__ import annotations

from math import inf, nan
from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.choices import LOOSEST, NOMINAL, TIGHTEST, End
from glandwise.numerics.arithmetic import greatest
from glandwise.physics.o_ring import Groove, Ring, Strains, groove_of, ring_of, seated, strains_at

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandConstants, GlandRules, GrooveLimits
    from glandwise.case.hardware import Hardware
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case

EDGE = 1.0 - 1.0e-9
"""A size that arrives through a conversion may miss the edge of its step by rounding."""
TRIAL = 1.0e-3
"""Width of a groove on trial [m]."""
NEAR = 0.1
"""Greatest difference of the inner diameter from that looked for."""
HOLDS, LOOSER, LIMIT, SLACK = 0, 1, 2, 3


class Used(NamedTuple):
    """Share of a limit that is used: what is looked at, its limit, and their ratio."""

    value: float
    bound: float
    utilization: float


class Uses(NamedTuple):
    """Shares of the limits of squeeze, at either end, and of fill and stretch, at the worst temperature."""

    loosest: float
    tightest: float
    fill: float
    stretch: float
    worst: float


class Choice(NamedTuple):
    """A ring with its groove and how well they go together."""

    row: int
    """Of the table of sizes; -1 for none."""
    groove: Groove
    is_beyond: bool
    """Whether a groove was tried for which the tables of tolerances hold nothing."""
    uses: Uses


class Around(NamedTuple):
    """Strains as assembled and at the least, normal and greatest temperature."""

    assembled: Strains
    coldest: Strains
    normal: Strains
    hottest: Strains


def strains_of(around: Around, k: int) -> Strains:
    """Return the strains of one of the temperatures."""
    if k == 0:
        return around.assembled
    if k == 1:
        return around.coldest
    if k == 2:
        return around.normal
    return around.hottest


def used_loosest(constants: GlandConstants, section: float, C: float, is_assembled: int) -> Used:
    """Share of the least squeeze that is used at the loosest end."""
    bound = constants.squeeze_service_min
    if is_assembled == 1:
        bound = greatest(
            constants.squeeze_min, constants.squeeze_min_absolute / section
        )  # least squeeze of this section
    return Used(C, bound, bound / greatest(C, 0.0))


def used_tightest(constants: GlandConstants, C: float, is_assembled: int) -> Used:
    """Share of the greatest squeeze that is used at the tightest end."""
    bound = constants.squeeze_service_max
    if is_assembled == 1:
        bound = constants.squeeze_max
    return Used(C, bound, C / bound)


def used_stretch(constants: GlandConstants, s: float, end: int) -> Used:
    """Place of a stretch in its window towards an end: 0 in the middle, 1 at the end."""
    half = 0.5 * (constants.stretch_max - constants.stretch_min)
    middle = constants.stretch_min + half
    if end == End.loosest:
        return Used(s, constants.stretch_min, greatest((middle - s) / half, 0.0))
    return Used(s, constants.stretch_max, greatest((s - middle) / half, 0.0))


def _limits(limits: GrooveLimits, size: float, is_width: bool) -> tuple[float, float, float]:
    """Size of a part of a groove with its limits; NaN where the tables of tolerances hold nothing."""
    reduced = size * EDGE
    for i in range(limits.n):
        if reduced <= limits.up_to[i]:
            if not reduced > limits.over[i]:
                return size, nan, nan
            if is_width:
                return size, size + limits.width_lower[i], size + limits.width_upper[i]
            return size, size + limits.bottom_lower[i], size + limits.bottom_upper[i]
    return size, nan, nan


def _cut(limits: GrooveLimits, bottom: float, width: float) -> Groove:
    """Groove with the limits of its bottom; its width on trial without."""
    d = _limits(limits, bottom, False)
    return Groove(d[0], d[1], d[2], width, width, width)


def _uses(hardware: Hardware, gland: GlandRules, ring: Ring, groove: Groove, around: Around) -> Uses:
    constants = gland.constants[0]
    f_off = constants.offset_share
    loosest = tightest = fill = 0.0
    stretch_low, stretch_high = nan, -inf
    for k in range(4):
        at = strains_of(around, k)
        f_s = 1.0 + at.seal
        loose = seated(hardware, ring, groove, at, LOOSEST, f_s, f_off)
        tight = seated(hardware, ring, groove, at, TIGHTEST, f_s, f_off)
        loosest = max(
            loosest, used_loosest(constants, loose.section, loose.squeeze_ratio, 1 if k == 0 else 0).utilization
        )
        tightest = max(tightest, used_tightest(constants, tight.squeeze_ratio, 1 if k == 0 else 0).utilization)
        filled = tight.fill / constants.fill_max if tight.depth > 0.0 else inf
        fill = max(fill, filled)
        if k == 0:
            stretch_low = loose.stretch
        stretch_high = max(stretch_high, tight.stretch)
    low = used_stretch(constants, stretch_low, LOOSEST).utilization
    stretch = max(low, used_stretch(constants, stretch_high, TIGHTEST).utilization)
    worst = max(max(max(loosest, tightest), stretch), fill)
    return Uses(loosest, tightest, fill, stretch, worst)


def _squeezed(
    hardware: Hardware, gland: GlandRules, ring: Ring, bottom: float, around: Around
) -> tuple[float, float, bool]:
    """Shares of the limits of squeeze for a groove bottom, and whether there are tolerances for it."""
    constants = gland.constants[0]
    groove = _cut(gland.grooves[0], bottom, TRIAL)
    loosest = tightest = 0.0
    for k in range(4):
        at = strains_of(around, k)
        f_s, is_assembled = 1.0 + at.seal, 1 if k == 0 else 0
        loose = seated(hardware, ring, groove, at, LOOSEST, f_s, constants.offset_share)
        tight = seated(hardware, ring, groove, at, TIGHTEST, f_s, constants.offset_share)
        loosest = max(loosest, used_loosest(constants, loose.section, loose.squeeze_ratio, is_assembled).utilization)
        tightest = max(tightest, used_tightest(constants, tight.squeeze_ratio, is_assembled).utilization)
    return loosest, tightest, groove.bottom_low == groove.bottom_low


def _holds(rule: int, loosest: float, tightest: float, aim: float) -> bool:
    if rule == HOLDS:
        return tightest <= aim
    if rule == LOOSER:
        return tightest <= loosest
    if rule == LIMIT:
        return tightest <= 1.0
    return loosest > 1.0


def _greatest_bottom(
    hardware: Hardware, gland: GlandRules, ring: Ring, around: Around, low: float, high: float, rule: int
) -> tuple[float, bool]:
    """Greatest groove bottom, to 10 um, for which a condition holds that fails beyond; and whether a trial had no limits."""
    a, b, is_beyond = low, high, False
    while b - a > 5.0e-6:
        middle = 0.5 * (a + b)
        loosest, tightest, is_known = _squeezed(hardware, gland, ring, middle, around)
        is_beyond = is_beyond or not is_known
        if _holds(rule, loosest, tightest, gland.constants[0].aim):
            a = middle
        else:
            b = middle
    return a, is_beyond


def _width_for(hardware: Hardware, gland: GlandRules, ring: Ring, bottom: float, around: Around) -> float:
    """Least groove width that keeps the fill within its limits, rounded up to a tenth of a millimetre."""
    constants = gland.constants[0]
    trial = _cut(gland.grooves[0], bottom, TRIAL)
    at = around.assembled
    f_s, f_off = 1.0 + at.seal, constants.offset_share
    width = seated(hardware, ring, trial, at, NOMINAL, f_s, f_off).fill * TRIAL / constants.fill_target
    for k in range(4):
        at = strains_of(around, k)
        tight = seated(hardware, ring, trial, at, TIGHTEST, 1.0 + at.seal, f_off)
        width = max(width, tight.fill * TRIAL / (constants.aim * constants.fill_max))
    if not (width > -inf and width < inf):
        return nan
    return round(-(-width // 1.0e-4) * 1.0e-4, 6)


def _no_uses() -> Uses:
    return Uses(nan, nan, nan, nan, inf)


def _no_groove() -> Groove:
    return Groove(nan, nan, nan, nan, nan, nan)


def groove_for(hardware: Hardware, gland: GlandRules, ring: Ring, around: Around) -> tuple[Groove, bool]:
    """Groove for a ring: squeezed as far as the aim allows, further only where it would else be too loose.

    NaN where there is none; and whether a groove was tried for which the tables of tolerances hold nothing.
    """
    constants = gland.constants[0]
    low = max(hardware.bore - 2.0 * ring.section, hardware.shaft_high * (1.0 + 1.0e-6))
    high = hardware.body_low * (1.0 - 1.0e-6)
    if not low < high:
        return _no_groove(), False
    bottom, is_beyond = _greatest_bottom(hardware, gland, ring, around, low, high, HOLDS)
    loosest, _, is_known = _squeezed(hardware, gland, ring, bottom, around)
    is_beyond = is_beyond or not is_known
    if loosest > constants.aim:
        other, missed = _greatest_bottom(hardware, gland, ring, around, low, high, LOOSER)
        bottom, is_beyond = max(bottom, other), is_beyond or missed
    # moved until the stretch of the ring is within its limits, as far as the squeeze allows
    _, bottom_low, bottom_high = _limits(gland.grooves[0], bottom, False)
    is_beyond = is_beyond or bottom_low != bottom_low
    grown = 0.0
    for k in range(4):
        at = strains_of(around, k)
        grown = max(grown, (1.0 + at.seal) / (1.0 + at.ring))
    # 20 um of room for the rounding of the bottom
    shortest = ring.inner_high * (1.0 + constants.stretch_min) + (bottom - bottom_low) + 2.0e-5
    longest = ring.inner_low * (1.0 + constants.stretch_max) / grown - (bottom_high - bottom)
    if bottom < shortest:
        other, missed = _greatest_bottom(hardware, gland, ring, around, low, high, LIMIT)
        bottom, is_beyond = min(shortest, max(bottom, other)), is_beyond or missed
    elif bottom > longest:
        other, missed = _greatest_bottom(hardware, gland, ring, around, low, high, SLACK)
        bottom, is_beyond = max(longest, min(bottom, other + 2.0e-5)), is_beyond or missed
    bottom = round(bottom // 1.0e-5 * 1.0e-5, 6)
    if not (bottom >= low and bottom < high):
        return _no_groove(), is_beyond
    width = _width_for(hardware, gland, ring, bottom, around)
    if width != width:
        return _no_groove(), is_beyond
    b, w = _limits(gland.grooves[0], bottom, False), _limits(gland.grooves[0], width, True)
    return Groove(b[0], b[1], b[2], w[0], w[1], w[2]), is_beyond or b[1] != b[1] or w[1] != w[1]


def ring_at(rings: object, row: int) -> Ring:
    """Return a size of the series with its limits."""
    size = rings[row]  # type: ignore[index]
    inner, section, of_inner, of_section = size.inner, size.section, size.inner_tolerance, size.section_tolerance
    return Ring(inner, inner - of_inner, inner + of_inner, section, section - of_section, section + of_section)


def _nearest(rings: object, first: int, last: int, inner: float, after: float, row: int) -> int:
    """Row of the ring next in nearness to an inner diameter, after one that is as far off; -1 where none is near."""
    best, found = inf, -1
    for i in range(first, last):
        off = abs(rings[i].inner - inner)  # type: ignore[index]
        if off < best and (off > after or (off == after and i > row)):
            best, found = off, i
    if found >= 0 and abs(rings[found].inner / inner - 1.0) < NEAR:  # type: ignore[index]
        return found
    return -1


def _after_series(rings: object, first: int, count: int) -> int:
    """Row after the last of the series that begins at a row."""
    last = first
    while last < count and rings[last].series == rings[first].series:  # type: ignore[index]
        last += 1
    return last


def ring_for_groove(hardware: Hardware, gland: GlandRules, around: Around) -> Choice:
    """Ring of the series that goes best with a given groove; of two as good the thicker."""
    rings, groove = gland.rings, groove_of(hardware)
    wanted = groove.bottom / (1.0 + gland.constants[0].stretch_target)
    chosen = Choice(-1, groove, False, _no_uses())
    least_worst, section = inf, -inf
    first = 0
    while first < len(rings):
        last = _after_series(rings, first, len(rings))
        after, row = -1.0, -1
        for _ in range(4):
            row = _nearest(rings, first, last, wanted, after, row)
            if row < 0:
                break
            after = abs(rings[row].inner - wanted)
            ring = ring_at(rings, row)
            uses = _uses(hardware, gland, ring, groove, around)
            if chosen.row < 0 or uses.worst < least_worst or (uses.worst == least_worst and ring.section > section):
                chosen, least_worst, section = Choice(row, groove, False, uses), uses.worst, ring.section
        first = last
    return chosen


def ring_and_groove(hardware: Hardware, gland: GlandRules, around: Around) -> Choice:
    """Ring of the series, with its groove."""
    rings, choice = gland.rings, gland.constants[0]
    deepest = choice.depth_share * 0.5 * (hardware.bore - hardware.shaft)
    widest = choice.width_share * hardware.width
    nearest = Choice(-1, _no_groove(), False, _no_uses())
    is_beyond = False
    first = 0
    while first < len(rings):
        last = _after_series(rings, first, len(rings))
        good = Choice(-1, _no_groove(), False, _no_uses())
        here = good
        # three quarters of the section is near enough to find the rings; the groove is worked out for each after
        wanted = (hardware.bore - 1.5 * rings[first].section) / (1.0 + choice.stretch_target)
        after, row = -1.0, -1
        for _ in range(2):
            row = _nearest(rings, first, last, wanted, after, row)
            if row < 0:
                break
            after = abs(rings[row].inner - wanted)
            ring = ring_at(rings, row)
            groove, missed = groove_for(hardware, gland, ring, around)
            is_beyond = is_beyond or missed
            if not (0.5 * (hardware.bore - groove.bottom) <= deepest and groove.width <= widest):
                continue
            uses = _uses(hardware, gland, ring, groove, around)
            if uses.worst <= 1.0 and (good.row < 0 or uses.stretch < good.uses.stretch):
                good = Choice(row, groove, is_beyond, uses)
            if here.row < 0 or uses.worst < here.uses.worst:
                here = Choice(row, groove, is_beyond, uses)
        if good.row >= 0:
            return Choice(good.row, good.groove, is_beyond, good.uses)
        if here.row >= 0 and (nearest.row < 0 or here.uses.worst <= nearest.uses.worst):
            nearest = here
        first = last
    return Choice(nearest.row, nearest.groove, is_beyond, nearest.uses)


def complete_ring(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules) -> float:
    """Fill in O-ring and groove where the hardware states none; 1 where the tables of tolerances hold nothing for it.

    Where no ring of the series goes with the bore and the body, both stay NaN.
    """
    has_ring = hardware.ring_inner == hardware.ring_inner
    has_groove = hardware.groove == hardware.groove
    if has_ring and has_groove:
        return 0.0
    around = Around(
        strains_at(case, hardware, rules, gland, hardware.reference),
        strains_at(case, hardware, rules, gland, case.temperature_min),
        strains_at(case, hardware, rules, gland, case.temperature),
        strains_at(case, hardware, rules, gland, case.temperature_max),
    )
    if has_ring:
        groove, is_beyond = groove_for(hardware, gland, ring_of(hardware), around)
        put_groove(hardware, groove)
        return 1.0 if is_beyond else 0.0
    chosen = ring_for_groove(hardware, gland, around) if has_groove else ring_and_groove(hardware, gland, around)
    if chosen.row >= 0:
        put_ring(hardware, ring_at(gland.rings, chosen.row), gland.rings[chosen.row].dash)
        put_groove(hardware, chosen.groove)
    return 1.0 if chosen.is_beyond else 0.0


def put_ring(hardware: Hardware, ring: Ring, dash: int) -> None:
    """Write a ring into some hardware."""
    hardware.ring_inner, hardware.ring_inner_low, hardware.ring_inner_high = (
        ring.inner, ring.inner_low, ring.inner_high
    )  # fmt: skip
    hardware.ring_section, hardware.ring_section_low, hardware.ring_section_high = (
        ring.section, ring.section_low, ring.section_high
    )  # fmt: skip
    hardware.dash = dash


def put_groove(hardware: Hardware, groove: Groove) -> None:
    """Write a groove into some hardware."""
    hardware.groove, hardware.groove_low, hardware.groove_high = groove.bottom, groove.bottom_low, groove.bottom_high
    hardware.groove_width, hardware.groove_width_low, hardware.groove_width_high = (
        groove.width, groove.width_low, groove.width_high
    )  # fmt: skip
