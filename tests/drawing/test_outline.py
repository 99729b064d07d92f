"""Outlines: area and volume by Pappus' theorem against a mesh, arcs against circles, crossings found."""

from __future__ import annotations

from math import cos, pi, sin

import pytest
from glandwise.drawing.outline import (
    Outline,
    Point,
    Vertex,
    bulge_through,
    circle,
    closed,
    corner,
    crosses_itself,
    rectangle,
    ribbon,
)


def mesh_volume(points: list[Point], slices: int = 720) -> float:
    """Volume of the closed surface of triangles that a polygon leaves as it turns about the axis, by the divergence theorem."""
    total = 0.0
    for k in range(slices):
        a, b = 2.0 * pi * k / slices, 2.0 * pi * (k + 1) / slices
        for p, q in zip(points, [*points[1:], points[0]], strict=True):
            corners = [(v.x, v.r * cos(w), v.r * sin(w)) for v, w in ((p, a), (q, a), (q, b), (p, b))]
            for triangle in ((0, 1, 2), (0, 2, 3)):
                (x1, y1, z1), (x2, y2, z2), (x3, y3, z3) = (corners[i] for i in triangle)
                total += (x1 * (y2 * z3 - z2 * y3) - y1 * (x2 * z3 - z2 * x3) + z1 * (x2 * y3 - y2 * x3)) / 6.0
    return abs(total)


def test_torus() -> None:
    """A circle that turns about the axis is a torus, whose volume is known."""
    ring = circle(Point(0.3, 2.0), 0.5)
    assert ring.area == pytest.approx(pi * 0.25, rel=1e-12)
    assert ring.volume == pytest.approx(2.0 * pi * 2.0 * pi * 0.25, rel=1e-12)


def test_volume_of_lines_and_arcs_is_that_of_a_mesh() -> None:
    """A plate with one rounded corner and one hollow one."""
    shape = closed(
        [Vertex(0.0, 1.0), Vertex(3.0, 1.0, 0.3), Vertex(3.0, 2.5), Vertex(1.0, 2.5, -0.25), Vertex(0.0, 2.0)]
    )
    assert shape.volume == pytest.approx(mesh_volume(shape.flat(pi / 720.0)), rel=3e-5)
    for turned in (
        shape.mirrored(3.0),
        Outline(tuple(reversed(closed([v._replace(bulge=0.0) for v in shape.vertices]).vertices))),
    ):
        assert turned.volume > 0.0
    assert shape.mirrored(3.0).volume == pytest.approx(shape.volume, rel=1e-12)
    assert shape.moved(x=5.0).volume == pytest.approx(shape.volume, rel=1e-12)


def test_arc_through_three_points() -> None:
    """The arc of a quarter of a circle."""
    bulge = bulge_through(Point(1.0, 0.0), Point(cos(0.4), sin(0.4)), Point(0.0, 1.0))
    points = closed([Vertex(1.0, 0.0, bulge), Vertex(0.0, 1.0), Vertex(0.0, 0.0)]).flat()
    assert all(abs((p.x**2 + p.r**2) ** 0.5 - 1.0) < 1e-12 for p in points[:-1])


def test_a_rounded_corner_touches_both_sides() -> None:
    """A corner of a square takes away what a square has over a quarter of a circle."""
    points = [Point(0.0, 0.0), Point(4.0, 0.0), Point(4.0, 4.0), Point(0.0, 4.0)]
    rounded = closed(
        [*corner(points[0], points[1], points[2], 1.0), *(Vertex(*p) for p in (points[2], points[3], points[0]))]
    )
    assert rounded.area == pytest.approx(16.0 - (1.0 - pi / 4.0), rel=1e-12)


def test_crossings_are_found() -> None:
    """A bow crosses itself, a rectangle and a strip do not."""
    assert crosses_itself([Point(0.0, 0.0), Point(1.0, 1.0), Point(1.0, 0.0), Point(0.0, 1.0)])
    assert not crosses_itself(rectangle(0.0, 1.0, 0.0, 1.0).flat())
    assert not crosses_itself(ribbon([Point(0.0, 0.0), Point(1.0, 0.2), Point(2.0, 0.1)], 0.1).flat())
