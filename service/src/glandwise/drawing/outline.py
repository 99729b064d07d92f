"""Closed outlines of straight lines and circular arcs in a plane of axial position and radius [m]."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import atan, atan2, cos, hypot, pi, sin, tan
from typing import NamedTuple

FINE = 1e-9
"""Length below which two points are one [m]."""


class Point(NamedTuple):
    """A point of the section."""

    x: float
    """Axial position [m]: 0 at the face on the pressure side, growing towards the air side."""
    r: float
    """Radius [m]."""


class Vertex(NamedTuple):
    """A corner, and how it goes on to the next."""

    x: float
    r: float
    bulge: float = 0.0
    """Tangent of a quarter of the angle of the arc to the next corner, positive to the left; 0 is straight."""

    @property
    def point(self) -> Point:
        """Where it is."""
        return Point(self.x, self.r)


def bulge_through(start: Point, middle: Point, end: Point) -> float:
    """Return the bulge of the arc from one point through another to a third."""
    (ax, ay), (bx, by), (cx, cy) = start, middle, end
    turn = atan2((bx - ax) * (cy - by) - (by - ay) * (cx - bx), (bx - ax) * (cx - bx) + (by - ay) * (cy - by))
    return tan(0.5 * turn)  # the chords turn by half the angle of the arc


class Outline(NamedTuple):
    """A closed outline; it may be run through either way."""

    vertices: tuple[Vertex, ...]

    def mirrored(self, width: float) -> Outline:
        """Return the outline with its two sides changed, about the middle of a width."""
        return Outline(tuple(Vertex(width - x, r, -bulge) for x, r, bulge in self.vertices))

    def moved(self, x: float = 0.0, r: float = 0.0) -> Outline:
        """Return the outline at another place."""
        return Outline(tuple(Vertex(v.x + x, v.r + r, v.bulge) for v in self.vertices))

    def sides(self) -> Iterator[tuple[Vertex, Vertex]]:
        """Yield corner and next corner, round to the first."""
        for k, vertex in enumerate(self.vertices):
            yield vertex, self.vertices[(k + 1) % len(self.vertices)]

    def flat(self, step: float = pi / 36.0) -> list[Point]:
        """Return points of the outline, arcs by chords of at most an angle of ``step``."""
        points: list[Point] = []
        for start, end in self.sides():
            points.append(start.point)
            if start.bulge != 0.0:
                points.extend(_along(start, end, step))
        return points

    @property
    def area(self) -> float:
        """Area [m²]."""
        return abs(self._moments()[0])

    @property
    def volume(self) -> float:
        """Volume of the body that the outline makes when it turns about the axis, by Pappus' theorem [m³]."""
        return 2.0 * pi * abs(self._moments()[1])

    def _moments(self) -> tuple[float, float]:
        """Signed area, and its moment about the axis: polygon of the corners, and the segments of the arcs."""
        area = moment = 0.0
        for a, b in self.sides():
            cross = a.x * b.r - b.x * a.r
            area += 0.5 * cross
            moment += cross * (a.r + b.r) / 6.0
            if a.bulge != 0.0:
                centre, radius, swept = arc(a, b)
                segment = 0.5 * radius * radius * (swept - sin(swept))
                reach = 4.0 * radius * sin(0.5 * swept) ** 3 / (3.0 * (swept - sin(swept)))
                middle = atan2(a.r - centre.r, a.x - centre.x) + 0.5 * swept
                area += segment
                moment += segment * (centre.r + reach * sin(middle))
        return area, moment

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Least and greatest axial position, least and greatest radius."""
        return box_of(self.flat())


def box_of(points: Iterable[Point]) -> tuple[float, float, float, float]:
    """Return least and greatest axial position, least and greatest radius."""
    xs, rs = zip(*points, strict=True)
    return min(xs), max(xs), min(rs), max(rs)


def arc(start: Vertex, end: Vertex) -> tuple[Point, float, float]:
    """Return centre, radius and angle swept of the arc between two corners, positive anticlockwise."""
    swept = 4.0 * atan(start.bulge)
    dx, dr = end.x - start.x, end.r - start.r
    radius = abs(hypot(dx, dr) / (2.0 * sin(0.5 * swept)))
    apart = (1.0 - start.bulge**2) / (4.0 * start.bulge)  # of the centre from the chord, over the chord
    return Point(0.5 * (start.x + end.x) - apart * dr, 0.5 * (start.r + end.r) + apart * dx), radius, swept


def _along(start: Vertex, end: Vertex, step: float) -> Iterator[Point]:
    centre, radius, swept = arc(start, end)
    first = atan2(start.r - centre.r, start.x - centre.x)
    count = max(2, int(abs(swept) / step) + 1)
    for k in range(1, count):
        angle = first + swept * k / count
        yield Point(centre.x + radius * cos(angle), centre.r + radius * sin(angle))


def closed(vertices: Iterable[Vertex]) -> Outline:
    """Return the outline of some corners; a corner at the place of the one before is left out."""
    kept: list[Vertex] = []
    for vertex in vertices:
        if kept and hypot(vertex.x - kept[-1].x, vertex.r - kept[-1].r) < FINE:
            kept[-1] = Vertex(kept[-1].x, kept[-1].r, vertex.bulge)
        else:
            kept.append(vertex)
    while len(kept) > 1 and hypot(kept[0].x - kept[-1].x, kept[0].r - kept[-1].r) < FINE:
        kept.pop()
    return Outline(tuple(kept))


def corner(before: Point, at: Point, after: Point, radius: float) -> list[Vertex]:
    """Round a corner between two straight sides; as much as the shorter of them has room for."""
    into, out = (at.x - before.x, at.r - before.r), (after.x - at.x, after.r - at.r)
    long_in, long_out = hypot(*into), hypot(*out)
    if radius <= 0.0 or long_in < FINE or long_out < FINE:
        return [Vertex(at.x, at.r)]
    turn = atan2(into[0] * out[1] - into[1] * out[0], into[0] * out[0] + into[1] * out[1])
    if abs(turn) < 1e-6 or abs(turn) > pi - 1e-3:
        return [Vertex(at.x, at.r)]
    back = min(radius * abs(tan(0.5 * turn)), 0.45 * long_in, 0.45 * long_out)
    return [
        Vertex(at.x - back * into[0] / long_in, at.r - back * into[1] / long_in, tan(0.25 * turn)),
        Vertex(at.x + back * out[0] / long_out, at.r + back * out[1] / long_out),
    ]


def circle(centre: Point, radius: float) -> Outline:
    """Return a circle as two half arcs."""
    return Outline((Vertex(centre.x - radius, centre.r, 1.0), Vertex(centre.x + radius, centre.r, 1.0)))


def rectangle(left: float, right: float, low: float, high: float) -> Outline:
    """Return a rectangle."""
    return closed((Vertex(left, low), Vertex(right, low), Vertex(right, high), Vertex(left, high)))


def ribbon(line: Sequence[Point], thickness: float) -> Outline:
    """Return the outline of a strip about a line of points."""
    sides: tuple[list[Vertex], list[Vertex]] = ([], [])
    for k, (x, r) in enumerate(line):
        before, after = line[max(k - 1, 0)], line[min(k + 1, len(line) - 1)]
        dx, dr = after.x - before.x, after.r - before.r
        scale = 0.5 * thickness / hypot(dx, dr)
        sides[0].append(Vertex(x - dr * scale, r + dx * scale))
        sides[1].append(Vertex(x + dr * scale, r - dx * scale))
    return closed((*sides[0], *reversed(sides[1])))


def crosses_itself(points: Sequence[Point]) -> bool:
    """Tell whether the closed line through some points crosses or touches itself."""
    count = len(points)

    def side(a: Point, b: Point, c: Point) -> float:
        return (b.x - a.x) * (c.r - a.r) - (b.r - a.r) * (c.x - a.x)

    for i in range(count):
        a, b = points[i], points[(i + 1) % count]
        for j in range(i + 2, count):
            if i == 0 and j == count - 1:
                continue
            c, d = points[j], points[(j + 1) % count]
            if side(a, b, c) * side(a, b, d) < 0.0 and side(c, d, a) * side(c, d, b) < 0.0:
                return True
    return False
