"""The section of a seal in its gland, from its dimensions: free as made, and as fitted on the shaft.

What a case states or the rules supply is drawn with its number. What no question asks for (the web between two lips, the
form of a tip, fillets, the thickness of a band) has a share of those numbers, most of them in :class:`Shares`: no dimension
is written at it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import asin, atan, cos, isfinite, nan, pi, sin, sqrt, tan
from typing import Literal, NamedTuple

from glandwise.drawing.outline import Outline, Point, Vertex, bulge_through, circle, closed, corner, rectangle, ribbon

CHORDS = 20
"""Chords of a bent lip."""


class Shares(NamedTuple):
    """Shares of what is drawn without a dimension; each is described in :class:`glandwise.rules.blank_model.DrawnShares`."""

    spring_place: float
    root_over_interference: float
    least_clearance: float
    fillet: float
    chamfer: float
    recess: float
    web: float
    second_lip_thickness: float
    second_interference: float
    band_thickness: float
    taper: float
    lead_in: float


@dataclass(frozen=True)
class SealSize:
    """Dimensions of a seal and its gland [m]; NaN is what is not known or does not belong to it."""

    family: str
    shaft: float
    bore: float
    body: float
    width: float
    lip_thickness: float
    lip_length: float
    interference: float
    """On the diameter, free."""
    contact_width: float
    shares: Shares
    throat: float = nan
    heel: float = nan
    """Axial thickness of the heel of an energized lip."""
    bore_angle: float = nan
    """Of the free lip to the axis [rad]."""
    spring_place: float = nan
    """From the root, over the free length."""
    band_share: float = nan
    """Free length of the lip that a band leaves, over its length; NaN without a band."""
    wall_share: float = nan
    """Outer wall of a flexible seal over its radial section."""
    second_lip: str = "none"
    lip_form: str = "plain"
    lip_direction: str = "toward"
    energizer: str = "none"
    retention: str = "o_ring"
    garter_wire: float = nan
    garter_coil: float = nan
    v_thickness: float = nan
    v_length: float = nan
    v_angle: float = nan
    v_deflection: float = nan
    coil_wire: float = nan
    coil_height: float = nan
    coil_width: float = nan
    coil_deflection: float = nan
    ring_inner: float = nan
    ring_section: float = nan
    groove: float = nan
    groove_width: float = nan
    case: float = nan
    case_wall: float = nan
    case_length: float = nan
    clamp_inner: float = nan
    clamp_outer: float = nan
    bore_chamfer: float = nan


@dataclass
class State:
    """The seal in one state: as made, or as fitted."""

    body: Outline
    lip: list[Point]
    """Open line round the main lip, from its root to its root."""
    edge: Point
    """Edge of the main lip."""
    root: Point
    spring: list[Outline] = field(default_factory=list)
    band: list[Outline] = field(default_factory=list)


@dataclass
class Section:
    """A seal in its gland."""

    size: SealSize
    free: State
    fitted: State
    shaft: Outline
    housing: Outline
    wetted: Outline
    """Where the sealed pressure stands, under everything else."""
    contact: tuple[float, float]
    """Axial ends of the contact."""
    ring: Outline | None = None
    case: Outline | None = None
    plate: Outline | None = None
    """Cover that clamps a flange."""
    ring_at: Point | None = None
    """Middle of the groove at its bottom, where there is one."""
    remarks: list[str] = field(default_factory=list)


class _Curve(NamedTuple):
    """The bore face of a lip over its free length: height above the shaft and slope, by the distance from the root."""

    length: float
    height: Callable[[float], float]
    slope: Callable[[float], float]
    samples: list[float]

    @property
    def angle(self) -> float:
        """Angle at the edge."""
        return atan(self.slope(self.length))


def _straight(length: float, root: float, interference: float, stiff: float) -> _Curve:
    """A lip as made: cylindrical over its stiff part, then a cone down to the edge."""
    slope = -(root + interference) / (length - stiff)
    samples = [0.0, *([stiff] if stiff > 0.0 else []), length]
    return _Curve(
        length,
        lambda s: root if s <= stiff else root + slope * (s - stiff),
        lambda s: slope if s > stiff else 0.0 if stiff > 0.0 else slope,
        samples,
    )


def _bent(length: float, root: float, interference: float, stiff: float, width: float) -> _Curve:
    """A lip on the shaft: from its root, which keeps its direction, bent until it lies on the shaft over the contact."""
    flexible = length - stiff
    contact = min(width, 0.6 * flexible)
    run = flexible - contact
    root = max(root, 0.0)
    tangent = -(root + interference) * run / flexible

    def height(s: float) -> float:
        if s <= stiff:
            return root
        z = min((s - stiff) / run, 1.0)
        return max((1.0 - z) ** 2 * (root + z * (2.0 * root + tangent)), 0.0)

    def slope(s: float) -> float:
        h = 1e-4 * flexible
        low, high = max(s - h, 0.0), min(s + h, length)
        return (height(high) - height(low)) / (high - low)

    samples = [stiff + run * k / CHORDS for k in range(CHORDS + 1)] + [length]
    return _Curve(length, height, slope, [*([0.0] if stiff > 0.0 else []), *samples])


class _Lip:
    """A lip about the shaft, its root at an axial position, pointing to the left (-1) or to the right (+1)."""

    def __init__(
        self, curve: _Curve, root: float, shaft: float, thickness: float, taper: float = 0.0, side: float = -1.0
    ) -> None:
        self.curve, self.root, self.shaft, self.t, self.taper, self.side = curve, root, shaft, thickness, taper, side

    def thickness(self, s: float) -> float:
        """Thickness at a distance from the root."""
        return self.t * (1.0 - self.taper * s / self.curve.length)

    def bore(self, s: float) -> Point:
        """Point of the bore face."""
        return Point(self.root + self.side * s, self.shaft + self.curve.height(s))

    def outer(self, s: float) -> Point:
        """Point of the outer face."""
        x, r = self.bore(s)
        return Point(x, r + self.thickness(s) / cos(atan(self.curve.slope(s))))

    def local(self, u: float, n: float) -> Point:
        """Point by its distance beyond the edge along the lip, and across it."""
        x, r = self.bore(self.curve.length)
        a = self.curve.angle
        return Point(x + self.side * (u * cos(a) - n * sin(a)), r + u * sin(a) + n * cos(a))

    @property
    def tip_thickness(self) -> float:
        """Thickness at the edge."""
        return self.thickness(self.curve.length)

    def bore_line(self, skip: float = -1.0) -> list[Point]:
        """Bore face from the root to the edge, beyond a distance."""
        return [self.bore(s) for s in self.curve.samples if s > skip]

    def outer_line(self, first: float, last: float) -> list[Point]:
        """Outer face from a distance near the edge back to one near the root."""
        inner = [s for s in self.curve.samples if first + 1e-9 < s < last - 1e-9]
        return [self.outer(s) for s in (last, *reversed(inner), first)]


def _corners(points: Sequence[Point]) -> list[Vertex]:
    return [Vertex(*point) for point in points]


class _Builder:
    """One seal; its own frame has the lip pointing to the left, which is the pressure side unless it is turned about."""

    def __init__(self, size: SealSize) -> None:
        z = self.size = size
        self.shares = size.shares
        self.remarks: list[str] = []
        self.rs, self.rb = 0.5 * z.shaft, 0.5 * z.body
        self.flexible = z.family == "flexible_lip"
        self.t, self.length = z.lip_thickness, z.lip_length
        self.i = 0.5 * z.interference
        self.back = z.width  # of the PTFE part
        if z.retention == "press_fit_case" and isfinite(z.case):
            self.rb = 0.5 * z.case - z.case_wall
            self.back = z.width - z.case_wall
        free = self.length * (z.band_share if isfinite(z.band_share) else 1.0)
        self.stiff = self.length - free
        self.g = (
            free * tan(z.bore_angle) - self.i if isfinite(z.bore_angle) else self.shares.root_over_interference * self.i
        )
        if self.g < self.shares.least_clearance * self.length:
            self.g = self.shares.least_clearance * self.length
            self.remarks.append("The bore of the lip leaves no clearance at its root: a little is drawn.")
        self.b = z.contact_width
        self.taper = self.shares.taper if z.lip_form == "tapered" else 0.0
        self.place = z.spring_place if isfinite(z.spring_place) and z.spring_place > 0.0 else self.shares.spring_place
        self.garter = 0.5 * (z.garter_coil + z.garter_wire) if z.energizer == "garter" else 0.0
        self._behind()
        self._outside()
        self._cavity()

    # ------------------------------------------------------------------------------------------------ the main lip

    def lip(self, is_fitted: bool) -> _Lip:
        """Return the main lip."""
        dimensions = self.length, self.g, self.i, self.stiff
        curve = _bent(*dimensions, self.b) if is_fitted else _straight(*dimensions)
        return _Lip(curve, self.root, self.rs, self.t, self.taper)

    def _behind(self) -> None:
        """Place the root of the lip: before the heel, or so that the tip stands back a little from the face."""
        if self.flexible:
            ahead = self._turned_up()[1] if self.garter else 0.0
            self.behind = self.back - self.length - ahead - self.shares.recess * self.back
            least = max(1.2 * self.t, 0.15 * self.back)
        else:
            self.behind = self.size.heel if isfinite(self.size.heel) else self.back - self.length
            least = 0.1 * self.back
        if self.behind < least:
            self.behind = least
        self.root = self.back - self.behind
        if self.root - self.length < -1e-6:
            self.remarks.append("The lip is longer than the body leaves room for and stands out of its face.")
        self.nose = 0.0 if self.flexible else min(max(self.root - self.length, 0.0), 0.5 * self.length)

    def _turned_up(self) -> tuple[float, float]:
        """Inner and outer face of an upturned tip, beyond the edge."""
        inner = (self.place - 1.0) * self.length + 1.04 * self.garter
        return inner, max(inner + 0.8 * self.t, 0.35 * self.t)

    def _tip(self, lip: _Lip) -> tuple[list[Vertex], float]:
        """Corners from the edge to where the outer face begins, and the distance of that from the root."""
        t, length = lip.tip_thickness, self.length
        edge = Vertex(*lip.local(0.0, 0.0))
        if self.garter:
            centre = self._garter(lip)
            a = lip.curve.angle
            along = lip.side * (centre.x - edge.x) * cos(a) + (centre.r - edge.r) * sin(a)
            inner = along + 1.04 * self.garter
            outer = max(inner + 0.8 * self.t, 0.35 * self.t)
            top = t + 1.35 * self.garter
            under = min(outer, 0.9 * top)
            start, end = lip.local(0.0, 0.0), lip.local(outer, under)
            middle = lip.local(outer * sin(0.25 * pi), under * (1.0 - cos(0.25 * pi)))
            bulge = bulge_through(start, middle, end) if abs(outer - under) < 1e-12 else 0.0
            last = min(length + inner * cos(a) - t * sin(a), length)  # where the inner face stands on the outer face
            foot = lip.local(inner, t) if last == length else lip.outer(last)
            tops = (lip.local(outer, top), lip.local(inner, top))
            corners = [
                Vertex(*start, bulge), Vertex(*end),
                *corner(end, tops[0], tops[1], 0.4 * (outer - inner)), *corner(tops[0], tops[1], foot, 0.4 * (outer - inner)),
                Vertex(*foot),
            ]  # fmt: skip
            return corners, last
        if self.size.lip_form == "scraper":
            back = 0.45 * t
            return [edge], length - back
        if self.nose > 0.05 * self.length:
            rise = min(self.nose * self.shares.lead_in, 0.55 * t)
            low, high = lip.local(self.nose, rise), lip.local(self.nose, t)
            return [
                edge,
                *corner(Point(edge.x, edge.r), low, high, 0.15 * t),
                *corner(low, high, lip.outer(length), 0.2 * t),
            ], length
        return [edge, Vertex(*lip.local(0.0, t))], length

    # ---------------------------------------------------------------------------------------------------- the body

    def _outside(self) -> None:
        """Groove of the O-ring, and the least radius that the outside leaves to the cavity."""
        z = self.size
        self.has_groove = z.retention == "o_ring" and isfinite(z.groove) and isfinite(z.groove_width)
        self.top = self.rb
        self.groove = (nan, nan)
        if self.has_groove:
            half = 0.5 * min(z.groove_width, 0.92 * self.back)
            self.groove = (0.5 * self.back - half, 0.5 * self.back + half)
            self.top = 0.5 * z.groove

    def _cavity(self) -> None:
        """Outer radius of the cavity: where the spring ends, or where the outer wall begins."""
        z, lip = self.size, self.lip(is_fitted=True)
        self.fillet = self.shares.fillet * self.t
        tops = [self.lip(is_fitted).outer(0.0).r for is_fitted in (False, True)]
        if self.flexible:
            share = z.wall_share if isfinite(z.wall_share) else 0.35
            limits = [self.rb - share * (self.rb - self.rs), self.top - self.t]
            if z.retention == "clamped_flange" and isfinite(z.clamp_inner):
                limits.append(0.5 * z.clamp_inner)
            self.rc = min(limits)
            if self.garter:
                tops.append(lip.local(0.0, self.t + 2.0 * self.garter).r)
            least = max(tops) + 2.0 * self.fillet
            if self.rc < least:
                self.rc = least
        else:
            self.rc = max(self._spring_fitted(lip), max(tops) + 2.0 * self.fillet)
        if self.rc > self.top - 0.2 * self.t:
            self.remarks.append(
                "The section leaves no wall between the cavity and the outside: the parts do not go together."
            )
            self.rc = min(self.rc, self.top - 0.2 * self.t)
        self.lacks: Literal["height", "length"] | None = None
        if not self.rc > max(tops):
            self.lacks = "height"
        elif not self.root > self._chamfer:
            self.lacks = "length"

    @property
    def _chamfer(self) -> float:
        """Axial length of the chamfers of the body."""
        return min(self.shares.chamfer * self.size.width, 0.35 * (self.top - self.rc))

    def _spring_fitted(self, lip: _Lip) -> float:
        """Place the spring on the fitted lip; return the radius of the static leg that it bears on."""
        z = self.size
        if z.energizer == "cantilever_v":
            opening = 2.0 * z.v_length * sin(z.v_angle) - z.v_deflection
            reach = z.v_length * cos(asin(min(0.5 * opening / z.v_length, 1.0)))
            self.apex = max(self.place * self.length - reach, self.fillet + z.v_thickness)
            self.at = min(self.apex + reach, self.root)
            return lip.outer(min(self.at, self.length)).r + opening
        if z.energizer == "canted_coil":
            half, height = 0.5 * z.coil_width, z.coil_height - z.coil_deflection
            least, most = half + 0.1 * self.t, self.root - half
            self.at = min(max(self.place * self.length, least), max(most, least))
            return self._coil_middle(lip, height) + 0.5 * height
        return lip.outer(0.0).r + 2.0 * self.t

    def _coil_middle(self, lip: _Lip, height: float) -> float:
        """Radius of the middle of a coil that rests on a lip."""
        half = 0.5 * self.size.coil_width
        found = 0.0
        for k in range(-12, 13):
            s = self.at + half * k / 12.0
            if 0.0 <= s <= self.length + self.nose:
                top = lip.outer(min(s, self.length)).r
                found = max(found, top + 0.5 * height * sqrt(max(1.0 - (k / 12.0) ** 2, 0.0)))
        return found

    def spring(self, lip: _Lip, is_fitted: bool) -> list[Outline]:
        """Return the energizer between lip and static leg."""
        z = self.size
        if z.energizer == "garter":
            centre = self._garter(lip)
            return [circle(centre, self.garter), circle(centre, self.garter - z.garter_wire)]
        if z.energizer == "cantilever_v":
            open_free = 2.0 * z.v_length * sin(z.v_angle)
            room = self.rc - lip.outer(min(self.at, self.length)).r
            opening = room if is_fitted else min(open_free, room)
            return [self._strip(opening)]
        if z.energizer == "canted_coil":
            height = z.coil_height - z.coil_deflection
            if not is_fitted:
                low, high = 0.5 * height, z.coil_height
                for _ in range(40):
                    height = 0.5 * (low + high)
                    if self._coil_middle(lip, height) + 0.5 * height > self.rc:
                        high = height
                    else:
                        low = height
            middle = Point(self.root - self.at, self.rc - 0.5 * height)
            wire = z.coil_wire
            return [
                _ellipse(middle, 0.5 * z.coil_width, 0.5 * height),
                _ellipse(middle, 0.5 * z.coil_width - wire, 0.5 * height - wire),
            ]
        return []

    def _garter(self, lip: _Lip) -> Point:
        """Middle of the garter, which lies on the outer face of the lip."""
        at, found = self.place * self.length, 0.0
        for k in range(-24, 25):
            s = at + self.garter * k / 24.0
            if 0.0 <= s <= self.length:
                found = max(found, lip.outer(s).r + self.garter * sqrt(1.0 - (k / 24.0) ** 2))
        return Point(self.root - at, found)

    def _strip(self, opening: float) -> Outline:
        """Return a V strip of an opening, over both of its outer faces, that touches the static leg."""
        z = self.size
        half = max(0.5 * (opening - z.v_thickness), z.v_thickness)
        middle, apex = self.rc - 0.5 * opening, self.root - self.apex
        angle = asin(min(half / z.v_length, 0.95))
        round_ = min(2.0 * z.v_thickness, 0.4 * half)
        centre = apex - round_
        reach = z.v_length * cos(angle)
        turn = [
            Point(centre + round_ * cos(a), middle + round_ * sin(a))
            for a in [(0.5 * pi - angle) * (1.0 - k / 6.0) for k in range(13)]
        ]
        tips = Point(apex - reach, middle + half), Point(apex - reach, middle - half)
        return ribbon([tips[0], *turn, tips[1]], z.v_thickness)

    def _body(self, is_fitted: bool) -> State:
        z, lip = self.size, self.lip(is_fitted)
        heel = self.rs + max(self.g, 0.0)
        band: list[Outline] = []
        before = self._second_lip(heel, is_fitted)
        bore: list[Vertex]
        if self.stiff > 0.0:
            deep, into = self.shares.band_thickness * self.t, min(0.5 * self.t, 0.25 * self.behind)
            left, right = self.root - self.stiff, self.root + into
            bore = [Vertex(right, heel), Vertex(right, heel + deep), Vertex(left, heel + deep), Vertex(left, heel)]
            bore += _corners(lip.bore_line(self.stiff)[:-1])
            band.append(rectangle(left, right, heel, heel + deep))
        else:
            bore = _corners(lip.bore_line()[:-1])
        tip, last = self._tip(lip)
        outer = lip.outer_line(min(1.5 * self.fillet, 0.3 * self.length), last)
        lip_line = [*lip.bore_line(), *(v.point for v in tip[1:]), *outer, lip.outer(0.0)]
        foot, ceiling = lip.outer(0.0), Point(self.root, self.rc)
        cavity = [
            *_corners(outer), *corner(outer[-1], foot, ceiling, self.fillet),
            *corner(foot, ceiling, Point(0.0, self.rc), self.fillet),
        ]  # fmt: skip
        c = self._chamfer
        mouth = [Vertex(c, self.rc), Vertex(0.0, self.rc + 0.6 * c)]
        if z.retention == "clamped_flange":  # its faces are plain
            front, rear = [Vertex(0.0, self.rb)], [Vertex(self.back, self.rb)]
        else:
            front = [Vertex(0.0, self.rb - c), Vertex(c, self.rb)]
            rear = [Vertex(self.back - c, self.rb), Vertex(self.back, self.rb - c)]
        groove: list[Vertex] = []
        if self.has_groove:
            a, b = self.groove
            groove = [Vertex(a, self.rb), Vertex(a, self.top), Vertex(b, self.top), Vertex(b, self.rb)]
        body = closed((*before, *bore, *tip, *cavity, *mouth, *front, *groove, *rear))
        return State(body, lip_line, lip.local(0.0, 0.0), lip.bore(0.0), self.spring(lip, is_fitted), band)

    def _second_lip(self, heel: float, is_fitted: bool) -> list[Vertex]:
        """Corners of the bore behind the main lip, from the back face to the root."""
        kind, end = self.size.second_lip, self.back
        if kind == "none":
            return [Vertex(end, heel)]
        t = min(self.shares.second_lip_thickness * self.t, 0.18 * self.behind)
        web = self.shares.web * self.behind
        i, g = self.shares.second_interference * self.i, max(self.g, 0.0)
        ceiling = min(heel + 2.4 * t + (g + i if kind == "excluder" else 0.5 * t), 0.5 * (heel + self.top))
        edge = self.root + web
        if kind == "excluder":
            room = end - edge
            blunt = t * min((g + i) / room, 0.45)  # how far its end, square to the slope, reaches beyond its edge
            length, root, side = room - 0.04 * self.behind - blunt, edge, 1.0
        else:
            back = 0.3 * self.behind
            length, root, side = 0.78 * (end - back - edge), end - back, -1.0
        width = 0.2 * length
        g, i = min(g, 0.3 * length), min(i, 0.15 * length)
        curve = _bent(length, g, i, 0.0, width) if is_fitted else _straight(length, g, i, 0.0)
        lip = _Lip(curve, root, self.rs, t, side=side)
        first = 0.25 * t
        bore = _corners(lip.bore_line())
        outer = [Vertex(*lip.local(0.0, t)), *_corners(lip.outer_line(first, length)[1:])]
        seat = lip.outer(0.0).r
        high = Point(root, seat + first)
        if kind == "excluder":
            ring = [
                Vertex(end, ceiling),
                *corner(Point(end, ceiling), Point(root, ceiling), high, first),
                Vertex(*high),
            ]
            return [*ring, *reversed(outer), *reversed(bore)]
        ring = [
            Vertex(*high), *corner(high, Point(root, ceiling), Point(edge, ceiling), first),
            *corner(Point(root, ceiling), Point(edge, ceiling), Point(edge, heel), first), Vertex(edge, heel),
        ]  # fmt: skip
        return [Vertex(end, heel), *bore, *outer, *ring]

    def free(self) -> State:
        """Return the seal as made."""
        return self._body(is_fitted=False)

    # --------------------------------------------------------------------------------------------------- the gland

    def section(self) -> Section:
        """Return everything."""
        z, free, fitted = self.size, self.free(), self._body(is_fitted=True)
        section_height = 0.5 * z.bore - self.rs
        end, bore = z.width, 0.5 * z.bore
        left, right = -0.45 * z.width, z.width * 1.42
        depth = min(self.rs, 0.28 * section_height)
        throat = 0.5 * z.throat if isfinite(z.throat) else self.rs + 0.02 * section_height
        high = bore + 0.2 * section_height
        chamfer = z.bore_chamfer if isfinite(z.bore_chamfer) else 0.0
        plate = None
        if z.retention == "clamped_flange":
            front = 0.05 * z.width
            housing = closed((
                Vertex(front, bore), Vertex(end, bore), Vertex(end, throat), Vertex(right, throat), Vertex(right, high),
                Vertex(front, high),
            ))  # fmt: skip
            inner = 0.5 * z.clamp_inner if isfinite(z.clamp_inner) else 0.5 * (self.rc + self.rb)
            plate = rectangle(0.6 * left, 0.0, inner, high)
        else:
            front = -0.18 * z.width - chamfer
            housing = closed((
                Vertex(front, bore + chamfer * tan(pi / 9.0)), Vertex(front + chamfer, bore), Vertex(end, bore),
                Vertex(end, throat), Vertex(right, throat), Vertex(right, high), Vertex(front, high),
            ))  # fmt: skip
        found = Section(
            z, free, fitted, rectangle(left, right, self.rs - depth, self.rs), housing,
            self._wetted(left, fitted), self._contact(fitted), plate=plate, remarks=self.remarks,
        )  # fmt: skip
        if z.retention == "press_fit_case" and isfinite(z.case):
            found.case = self._case()
        if self.has_groove:
            found.ring_at = Point(0.5 * sum(self.groove), self.top)
            if isfinite(z.ring_section):
                found.ring = _squeezed(found.ring_at, bore - self.top, z.ring_section)
        return self._turned(found) if z.lip_direction == "away" else found

    def _contact(self, fitted: State) -> tuple[float, float]:
        return fitted.edge.x, fitted.edge.x + min(self.b, 0.6 * (self.length - self.stiff))

    def _case(self) -> Outline:
        z = self.size
        outer, inner = 0.5 * z.case, self.rb
        lip = self.rs + 0.5 * (self.rb - self.rs)
        start = max(z.width - z.case_length, 0.0)
        return closed((
            Vertex(start, inner), Vertex(self.back, inner), Vertex(self.back, lip), Vertex(z.width, lip),
            *corner(Point(z.width, lip), Point(z.width, outer), Point(start, outer), 0.5 * z.case_wall), Vertex(start, outer),
        ))  # fmt: skip

    def _wetted(self, left: float, fitted: State) -> Outline:
        bore, root = 0.5 * self.size.bore, self.root
        edge = fitted.edge.x
        low = self.rs + 0.5 * self.t
        return closed((
            Vertex(left, self.rs), Vertex(edge, self.rs), Vertex(edge, low), Vertex(root, fitted.root.r + 0.5 * self.t),
            Vertex(root, self.top), Vertex(0.5 * self.back, self.top), Vertex(0.5 * self.back, bore), Vertex(left, bore),
        ))  # fmt: skip

    def _turned(self, s: Section) -> Section:
        """Turn the seal about, so that its lip points away from the pressure."""
        w = s.size.width

        def flip(outline: Outline | None) -> Outline | None:
            return None if outline is None else outline.mirrored(w)

        for state in (s.free, s.fitted):
            state.body = state.body.mirrored(w)
            state.lip = [Point(w - x, r) for x, r in state.lip]
            state.edge, state.root = Point(w - state.edge.x, state.edge.r), Point(w - state.root.x, state.root.r)
            state.spring = [item.mirrored(w) for item in state.spring]
            state.band = [item.mirrored(w) for item in state.band]
        s.contact = (w - s.contact[1], w - s.contact[0])
        s.ring, s.case = flip(s.ring), flip(s.case)
        s.ring_at = None if s.ring_at is None else Point(w - s.ring_at.x, s.ring_at.r)
        left, bore = s.wetted.box[0], 0.5 * s.size.bore
        heel = s.fitted.root.x
        s.wetted = closed((
            Vertex(left, self.rs), Vertex(s.contact[0], self.rs), Vertex(heel, s.fitted.root.r + 0.5 * self.t),
            Vertex(heel, bore), Vertex(left, bore),
        ))  # fmt: skip
        return s


def _ellipse(middle: Point, half_width: float, half_height: float) -> Outline:
    count = 48
    return closed(
        Vertex(middle.x + half_width * cos(2.0 * pi * k / count), middle.r + half_height * sin(2.0 * pi * k / count))
        for k in range(count)
    )


def _squeezed(foot: Point, height: float, section: float) -> Outline:
    """Return an O-ring pressed between groove and bore: its area kept, its sides round."""
    if height >= section:
        return circle(Point(foot.x, foot.r + 0.5 * section), 0.5 * section)
    straight = (0.25 * pi * section**2 - 0.25 * pi * height**2) / height
    left, right = foot.x - 0.5 * straight, foot.x + 0.5 * straight
    return closed((
        Vertex(left, foot.r), Vertex(right, foot.r, 1.0), Vertex(right, foot.r + height), Vertex(left, foot.r + height, 1.0),
    ))  # fmt: skip


class Made(NamedTuple):
    """The part as made, without what is around it."""

    body: Outline
    lacks: Literal["height", "length"] | None
    """What there is too little of for a lip with a cavity, where that is so."""
    remarks: list[str]


def made(size: SealSize) -> Made:
    """Return the part as made: the body of the free state of its section."""
    builder = _Builder(size)
    body = builder.free().body
    return Made(body.mirrored(size.width) if size.lip_direction == "away" else body, builder.lacks, builder.remarks)


def section(size: SealSize) -> Section:
    """Return the section of a seal in its gland."""
    return _Builder(size).section()
