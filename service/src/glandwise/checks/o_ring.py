"""The O-ring in the outer diameter of a seal: its condition at temperature, and a proposal of ring and groove.

A PTFE body grows and shrinks many times as much as its bore. Cold, it draws the groove away from the bore; hot, it
grows until the bore stops it, and from then on the groove can only get as shallow as the body makes it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from glandwise.checks.engine import refusal
from glandwise.checks.hardware import End, Hardware, Size, by_class, by_request
from glandwise.contract.gland import Gland, ORingByDash
from glandwise.mechanics import expansion, fits
from glandwise.mechanics import numeric as num
from glandwise.rules.gland_model import ORing, ORingSeries
from glandwise.rules.model import RuleSetData


class Ring(NamedTuple):
    """An O-ring with its limits [m]."""

    dash: int | None
    inner_diameter: Size
    section: Size


class Groove(NamedTuple):
    """A groove with its limits [m]."""

    diameter: Size
    width: Size


class Window(NamedTuple):
    """A value at the end of its range that lies nearest to, or furthest beyond, its bound."""

    value: num.Real
    bound: num.Real
    utilization: num.Real


class Use(NamedTuple):
    """Squeeze, stretch and fill at their worst."""

    squeeze: Window
    stretch: Window
    fill: Window
    squeeze_end: End
    squeeze_temperature: float
    fill_temperature: float

    @property
    def worst(self) -> float:
        """Greatest utilization of the three."""
        return float(max(self.squeeze.utilization, self.stretch.utilization, self.fill.utilization))


def _pick(size: Size, end: End, loose: str) -> float:
    """Limit of a size at an end of the tolerances; ``loose`` names the limit that loosens."""
    if end == "nominal":
        return size.nominal
    return size.low if (loose == "low") == (end == "loosest") else size.high


class Strains(NamedTuple):
    """Strains of the parts at a temperature, from the reference temperature."""

    temperature: num.Real
    housing: num.Real
    seal: num.Real
    ring: num.Real


def strains(h: Hardware, temperature: num.Real) -> Strains:
    """Return the strains of housing, seal and O-ring at a temperature."""
    return Strains(temperature, h.housing_strain(temperature), h.seal_strain(temperature), h.ring_strain(temperature))


def condition(
    h: Hardware, ring: Ring, groove: Groove, at: Strains, end: End, body_share: num.Real = 1.0, centred: bool = False
) -> fits.ORingGland:
    """Condition of the ring at a temperature and an end of the tolerances.

    Unless ``centred``, the body sits off centre by a share of its clearance, away from the side looked at when loosest,
    towards it when tightest. ``body_share`` is what is left of the body's diameters after it has been squeezed hot.
    """
    bore = _pick(h.bore, end, "high") * (1.0 + at.housing)
    shrunk = body_share * (1.0 + at.seal)
    bottom = _pick(groove.diameter, end, "low") * shrunk
    off = 0.0 if centred else 0.5 * h.data.gland.body.offset_share.si

    def depth(body: float, sign: float) -> num.Real:
        # once the bore stops the hot body, the groove is as deep as it was cut
        outside = body * shrunk
        return 0.5 * (num.maximum(bore, outside) - bottom) + sign * off * num.maximum(bore - outside, 0.0)

    if end == "nominal":
        gland = depth(h.body.nominal, 0.0)
    elif end == "loosest":
        gland = num.maximum(depth(h.body.low, 1.0), depth(h.body.high, 1.0))
    else:
        gland = num.minimum(depth(h.body.low, -1.0), depth(h.body.high, -1.0))
    state = fits.o_ring_gland(
        bottom + 2.0 * gland, bottom, _pick(groove.width, end, "high") * (1.0 + at.seal),
        _pick(ring.inner_diameter, end, "low"), _pick(ring.section, end, "low"), ring_strain=at.ring,
    )  # fmt: skip
    if end == "nominal":
        return state
    other = ring.inner_diameter.high if end == "loosest" else ring.inner_diameter.low
    return state._replace(stretch=bottom / (other * (1.0 + at.ring)) - 1.0)


def body_share_after_heat(h: Hardware, hottest: Strains) -> num.Real:
    """Share of the body's diameter left once it has been hot in a bore that stops it."""
    after = expansion.diameter_after_confined_heating(
        h.body.high, h.bore.low, hottest.seal, hottest.housing, h.case.compound.set_fraction.si
    )
    return after / h.body.high


def squeeze_limits(data: RuleSetData, section: num.Real, assembled: bool) -> tuple[num.Real, num.Real]:
    """Least and greatest squeeze over section, as assembled or at any other temperature."""
    rule = data.gland.o_ring_gland
    if not assembled:
        return rule.squeeze_service_min.si, rule.squeeze_service_max.si
    return num.maximum(rule.squeeze_min.si, rule.squeeze_min_absolute.si / section), rule.squeeze_max.si


def use(h: Hardware, ring: Ring, groove: Groove, at: Sequence[Strains]) -> Use:
    """Return how much of the limits of squeeze, stretch and fill is used, at the worst tolerances and temperatures.

    The first of ``at`` is the assembly.
    """
    fill_max = h.data.gland.o_ring_gland.fill_max.si
    squeezes: list[tuple[Window, End, float]] = []
    fills: list[tuple[Window, float]] = []
    stretch_low = stretch_high = num.nan
    for index, state in enumerate(at):
        loose, tight = condition(h, ring, groove, state, "loosest"), condition(h, ring, groove, state, "tightest")
        least, most = squeeze_limits(h.data, loose.section, index == 0)
        low, high = loose.squeeze_ratio, tight.squeeze_ratio
        squeezes.append((Window(low, least, num.divide(least, max(low, 0.0))), "loosest", state.temperature))
        squeezes.append((Window(high, most, high / most), "tightest", state.temperature))
        fill = tight.fill if tight.depth > 0.0 else num.inf
        fills.append((Window(fill, fill_max, fill / fill_max), state.temperature))
        stretch_low = loose.stretch if index == 0 else stretch_low
        stretch_high = tight.stretch if index == 0 else max(stretch_high, tight.stretch)
    squeeze, end, squeezed_at = max(squeezes, key=lambda item: item[0].utilization)
    filled, filled_at = max(fills, key=lambda item: item[0].utilization)
    return Use(squeeze, _stretch(h.data, stretch_low, stretch_high), filled, end, squeezed_at, filled_at)


def _stretch(data: RuleSetData, low: float, high: float) -> Window:
    """Place of the stretch in its window: 0 in the middle, 1 at either end."""
    rule = data.gland.o_ring_gland
    half = 0.5 * (rule.stretch_max.si - rule.stretch_min.si)
    middle = rule.stretch_min.si + half
    below, above = (middle - low) / half, (high - middle) / half
    if below >= above:
        return Window(low, rule.stretch_min.si, max(below, 0.0))
    return Window(high, rule.stretch_max.si, max(above, 0.0))


# ------------------------------------------------------------------------------------------------------------ proposal


def _from_series(found: ORing) -> Ring:
    inner, section = found.inner_diameter, found.section
    d, s = found.inner_diameter_tolerance, found.section_tolerance
    return Ring(found.dash, Size(inner, inner - d, inner + d), Size(section, section - s, section + s))


def series(data: RuleSetData) -> dict[int, ORing]:
    """Sizes by dash number."""
    return {ring.dash: ring for table in data.o_rings.as568.values() for ring in table.rings}


def given_ring(h: Hardware, gland: Gland) -> Ring | None:
    """Ring of a request, ``None`` when it states none."""
    o = gland.o_ring
    if o is None:
        return None
    if isinstance(o, ORingByDash):
        sizes = series(h.data)
        if o.dash not in sizes:
            spans = ", ".join(f"{table.dash[0]} to {table.dash[-1]}" for table in h.data.o_rings.as568.values())
            raise refusal("unknown_name", ("gland", "o_ring", "dash"), "no size of this number", spans)
        return _from_series(sizes[o.dash])
    return Ring(None, by_request(o.inner_diameter), by_request(o.section))


def _round(value: float, digits: int) -> float:
    return float(round(value, digits))


class _Room(NamedTuple):
    depth: float
    width: float


def _room(h: Hardware) -> _Room:
    rule = h.data.gland.o_ring_choice
    return _Room(rule.depth_share.si * 0.5 * (h.bore.nominal - h.shaft.nominal), rule.width_share.si * h.width)


def _bottom(h: Hardware, diameter: float) -> Size:
    name = h.data.gland.tolerance_class.groove_diameter.name
    return by_class(h.data, name, diameter, ("gland", "groove"), "the groove with its tolerances")


def _wide(h: Hardware, width: float) -> Size:
    name = h.data.gland.tolerance_class.groove_width.name
    return by_class(h.data, name, width, ("gland", "groove"), "the groove with its tolerances")


def _width_for(h: Hardware, ring: Ring, bottom: float, at: Sequence[Strains]) -> float:
    """Least groove width that keeps the fill within its limits, rounded up to a tenth of a millimetre."""
    rule, aim = h.data.gland.o_ring_gland, h.data.gland.o_ring_choice.aim.si
    trial = Groove(_bottom(h, bottom), Size(1e-3, 1e-3, 1e-3))
    width = condition(h, ring, trial, at[0], "nominal").fill * 1e-3 / rule.fill_target.si
    for state in at:
        width = max(width, condition(h, ring, trial, state, "tightest").fill * 1e-3 / (aim * rule.fill_max.si))
    return _round(-(-width // 1e-4) * 1e-4, 6) if num.isfinite(width) else num.nan


def _groove_for(h: Hardware, ring: Ring, at: Sequence[Strains]) -> Groove | None:
    """Groove for a ring: squeezed as far as the aim allows, further only where it would else be too loose."""
    aim = h.data.gland.o_ring_choice.aim.si

    def ends(bottom: float) -> tuple[float, float]:
        groove = Groove(_bottom(h, bottom), Size(1e-3, 1e-3, 1e-3))
        loosest = tightest = 0.0
        for index, state in enumerate(at):
            loose, tight = condition(h, ring, groove, state, "loosest"), condition(h, ring, groove, state, "tightest")
            least, most = squeeze_limits(h.data, loose.section, index == 0)
            loosest = max(loosest, num.divide(least, max(loose.squeeze_ratio, 0.0)))
            tightest = max(tightest, tight.squeeze_ratio / most)
        return loosest, tightest

    low = max(h.bore.nominal - 2.0 * ring.section.nominal, h.shaft.high * (1.0 + 1e-6))
    high = h.body.low * (1.0 - 1e-6)
    if low >= high:
        return None

    def greatest(holds: Callable[[float, float], bool]) -> float:
        """Greatest bottom diameter, to 10 um, for which a condition holds that fails beyond."""
        a, b = low, high
        while b - a > 5e-6:
            middle = 0.5 * (a + b)
            a, b = (middle, b) if holds(*ends(middle)) else (a, middle)
        return a

    bottom = greatest(lambda _, tight: tight <= aim)
    if ends(bottom)[0] > aim:
        bottom = max(bottom, greatest(lambda loose, tight: tight <= loose))
    bottom = _bring_to_stretch(h, ring, bottom, at, greatest)
    bottom = _round(bottom // 1e-5 * 1e-5, 6)
    width = _width_for(h, ring, bottom, at) if low <= bottom < high else num.nan
    return Groove(_bottom(h, bottom), _wide(h, width)) if width == width else None


def _bring_to_stretch(
    h: Hardware,
    ring: Ring,
    bottom: float,
    at: Sequence[Strains],
    greatest: Callable[[Callable[[float, float], bool]], float],
) -> float:
    """Move a groove bottom until the ring's stretch is within its limits, as far as the squeeze allows."""
    rule = h.data.gland.o_ring_gland
    size = _bottom(h, bottom)
    grown = float(max((1.0 + state.seal) / (1.0 + state.ring) for state in at))
    # 20 um of room for the rounding of the bottom
    least = ring.inner_diameter.high * (1.0 + rule.stretch_min.si) + (bottom - size.low) + 2e-5
    most = ring.inner_diameter.low * (1.0 + rule.stretch_max.si) / grown - (size.high - bottom)
    if bottom < least:
        return min(least, max(bottom, greatest(lambda _, tight: tight <= 1.0)))
    if bottom > most:
        return max(most, min(bottom, greatest(lambda loose, _: loose > 1.0) + 2e-5))
    return bottom


def _fits(h: Hardware, groove: Groove) -> bool:
    room = _room(h)
    return 0.5 * (h.bore.nominal - groove.diameter.nominal) <= room.depth and groove.width.nominal <= room.width


class Proposal(NamedTuple):
    """Ring and groove, and who chose them."""

    ring: Ring
    groove: Groove
    ring_proposed: bool
    groove_proposed: bool
    use: Use


def propose(h: Hardware, gland: Gland, at: Sequence[Strains]) -> Proposal | None:
    """Complete ring and groove; ``None`` when no ring of the series comes near. The first of ``at`` is the assembly.

    Of the rings that meet all limits and leave the lip its room, the thickest is taken: it holds most torque and
    minds tolerances and temperature least. Where none meets the limits, the one that comes nearest.
    """
    given = given_ring(h, gland)
    if gland.groove is not None:
        groove = Groove(by_request(gland.groove.diameter), by_request(gland.groove.width))
        if given is not None:
            return Proposal(given, groove, False, False, use(h, given, groove, at))
        wanted = groove.diameter.nominal / (1.0 + h.data.gland.o_ring_gland.stretch_target.si)
        rings = [ring for table in h.data.o_rings.as568.values() for ring in _nearest(table, wanted, 4)]
        found = [Proposal(ring, groove, True, False, use(h, ring, groove, at)) for ring in rings]
        return min(found, key=lambda item: (item.use.worst, -item.ring.section.nominal), default=None)
    if given is not None:
        fitted = _groove_for(h, given, at)
        return None if fitted is None else Proposal(given, fitted, False, True, use(h, given, fitted, at))
    nearest: Proposal | None = None
    for table in sorted(h.data.o_rings.as568.values(), key=lambda item: -item.section):
        found = list(_candidates(h, table, at))
        good = [item for item in found if item.use.worst <= 1.0]
        if good:
            return min(good, key=lambda item: item.use.stretch.utilization)
        nearest = min((*found, *([nearest] if nearest else ())), key=lambda item: item.use.worst, default=None)
    return nearest


def _nearest(table: ORingSeries, inner_diameter: float, count: int) -> list[Ring]:
    """Sizes of a series whose inner diameter comes nearest, if any comes within a tenth."""
    near = sorted(table.rings, key=lambda ring: abs(ring.inner_diameter - inner_diameter))[:count]
    return [_from_series(ring) for ring in near if abs(ring.inner_diameter / inner_diameter - 1.0) < 0.1]


def _candidates(h: Hardware, table: ORingSeries, at: Sequence[Strains]) -> Iterable[Proposal]:
    """The rings of a section whose stretch comes nearest to the one aimed at, each with its groove."""
    target = h.data.gland.o_ring_gland.stretch_target.si
    # three quarters of the section is near enough to find the rings; the groove is worked out for each after
    bottom = h.bore.nominal - 1.5 * table.rings[0].section
    for ring in _nearest(table, bottom / (1.0 + target), 2):
        groove = _groove_for(h, ring, at)
        if groove is not None and _fits(h, groove):
            yield Proposal(ring, groove, True, True, use(h, ring, groove, at))
