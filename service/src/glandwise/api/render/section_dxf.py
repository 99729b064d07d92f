"""The cross-section of a seal as DXF: real size in millimetres, by layers, the axis on the line y = 0.

Needs the library of the extra ``dxf``. The seal as made lies at its own place; the section as fitted beside it.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from glandwise.api.render.section import NOTE, OPEN, Dimension, dimensions, parts
from glandwise.drawing.outline import Outline, Point
from glandwise.drawing.seal import Section, section
from glandwise.questions.section.found import read

if TYPE_CHECKING:
    from glandwise.engine import Engine

MM = 1e3
LAYERS: Mapping[str, tuple[int, int, str]] = {
    "SEAL_AS_MADE": (7, 50, "CONTINUOUS"),
    "SEAL_AS_FITTED": (7, 50, "CONTINUOUS"),
    "LIP_FREE": (8, 25, "PHANTOM"),
    "ENERGIZER": (7, 25, "CONTINUOUS"),
    "BAND": (7, 25, "CONTINUOUS"),
    "O_RING": (7, 25, "CONTINUOUS"),
    "CASE": (7, 35, "CONTINUOUS"),
    "HOUSING": (8, 50, "CONTINUOUS"),
    "COVER": (8, 50, "CONTINUOUS"),
    "SHAFT": (8, 50, "CONTINUOUS"),
    "CONTACT": (1, 70, "CONTINUOUS"),
    "HATCHING": (9, 13, "CONTINUOUS"),
    "AXIS": (8, 25, "CENTER"),
    "DIMENSIONS": (7, 25, "CONTINUOUS"),
    "NOTES": (7, 25, "CONTINUOUS"),
}
"""Colour, line width in hundredths of a millimetre and line type of each layer."""


class MissingError(Exception):
    """The library of the extra is not installed."""


def render_dxf(request: Any, result: Mapping[str, Any], engine: Engine) -> bytes:
    """Draw the cross-section of an answer as DXF. Raises :class:`MissingError` without the library for it."""
    try:
        import ezdxf
        from ezdxf import units as dxf_units
    except ImportError:
        raise MissingError from None
    found, units = read(request, result, engine), request.units.system_of_units()
    drawn = section(found.size)
    document = ezdxf.new("R2010", setup=True)  # type: ignore[attr-defined, unused-ignore]
    document.units = dxf_units.MM
    for name, (colour, weight, line) in LAYERS.items():
        document.layers.add(name, color=colour, lineweight=weight, linetype=line)
    page = _Page(document.modelspace(), found.size.width)
    page.seal(drawn)
    for item in dimensions(found, drawn, units):
        page.dimension(item)
    names = [
        f"{k} {part.name}{': ' if part.details else ''}{part.details}"
        for k, part in enumerate(parts(found, drawn, units), 1)
    ]
    stamp = result["stamp"]
    rules = stamp["rule_set"]
    more = [f"Gland not worked out: {found.undecided}"] if found.undecided else []
    page.notes([
        NOTE, OPEN, *drawn.remarks, *more, "Geometry in mm; dimensions in " + units.units["length"] + ".", *names,
        f"rules {rules['name']} {rules['version']} of {rules['as_of']}, fingerprint {stamp['fingerprint']}",
    ])  # fmt: skip
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode("utf-8")


class _Page:
    """The model space."""

    def __init__(self, space: Any, width: float) -> None:
        self.space = space
        self.beside = 4.0 * width
        """How far to the right the fitted section lies."""
        self.size = 0.09 * MM * width
        """Height of letters, in proportion to the seal."""
        self.corner = 0.0, 0.0
        """Where the notes begin, beside everything."""

    def _at(self, point: Point | tuple[float, float], view: str) -> tuple[float, float]:
        return MM * (point[0] + (self.beside if view == "fitted" else 0.0)), MM * point[1]

    def outline(self, outline: Outline, layer: str, view: str, hatching: float | None = None) -> None:
        """Write a closed outline, its arcs as arcs."""
        corners = [(*self._at(vertex.point, view), vertex.bulge) for vertex in outline.vertices]
        line = self.space.add_lwpolyline(corners, format="xyb", close=True, dxfattribs={"layer": layer})
        if hatching is not None:
            hatch = self.space.add_hatch(dxfattribs={"layer": "HATCHING"})
            hatch.set_pattern_fill("ANSI31", scale=0.12 * self.size, angle=hatching)
            path = hatch.paths.add_polyline_path(corners, is_closed=True)
            hatch.associate(path, [line])

    def open(self, points: Iterable[Point], layer: str, view: str) -> None:
        """Write an open line."""
        self.space.add_lwpolyline([self._at(point, view) for point in points], dxfattribs={"layer": layer})

    def seal(self, s: Section) -> None:
        """Write both states."""
        for state, view, layer in ((s.free, "free", "SEAL_AS_MADE"), (s.fitted, "fitted", "SEAL_AS_FITTED")):
            self.outline(state.body, layer, view, 90.0)
            for item in state.spring:
                self.outline(item, "ENERGIZER", view)
            for item in state.band:
                self.outline(item, "BAND", view)
            if s.case is not None:
                self.outline(s.case, "CASE", view)
        self.open(s.free.lip, "LIP_FREE", "fitted")
        self.outline(s.housing, "HOUSING", "fitted", 0.0)
        self.outline(s.shaft, "SHAFT", "fitted")
        if s.plate is not None:
            self.outline(s.plate, "COVER", "fitted", 90.0)
        if s.ring is not None:
            self.outline(s.ring, "O_RING", "fitted")
        radius = 0.5 * s.size.shaft
        self.open([Point(x, radius) for x in s.contact], "CONTACT", "fitted")
        left, right = -0.7 * s.size.width, self.beside + 2.0 * s.size.width
        self.open([Point(left, 0.0), Point(right, 0.0)], "AXIS", "free")
        self.corner = self._at((2.6 * s.size.width, 0.5 * s.size.bore), "fitted")

    def dimension(self, d: Dimension) -> None:
        """Write a dimension with its own text: the number of the case, in the units asked for."""
        attributes = {"layer": "DIMENSIONS"}
        style = {
            "dimtxt": self.size, "dimasz": 0.8 * self.size, "dimexe": 0.3 * self.size, "dimexo": 0.3 * self.size,
            "dimgap": 0.3 * self.size, "dimtad": 1, "dimblk": "",
        }  # fmt: skip
        text = f"{d.whole}".replace("⌀", "%%c").replace("−", "-")
        a, b = self._at(d.first, d.view), self._at(d.second, d.view)
        if d.kind == "diameter":
            order = {
                "shaft": -1.2,
                "bore": -1.7,
                "throat": 1.9,
                "lip_bore": -0.7,
                "groove": 1.4,
                "body": 1.9,
                "case": 2.4,
            }
            x = self._at((order[d.name] * self.beside / 4.0, 0.0), d.view)[0]
            made = self.space.add_linear_dim(
                base=(x, 0.0), p1=(a[0], -a[1]), p2=a, angle=90.0, text=text, override=style, dxfattribs=attributes
            )
        else:
            upright = d.kind == "thickness"
            away = {"groove_width": 2.5, "contact_width": -4.0, "lip_length": -6.0, "heel": -6.0, "width": -9.0}.get(
                d.name, -2.0
            )
            base = (a[0] - 3.0 * self.size, a[1]) if upright else (a[0], a[1] + away * self.size)
            made = self.space.add_linear_dim(
                base=base, p1=a, p2=b, angle=90.0 if upright else 0.0, text=text, override=style, dxfattribs=attributes
            )
        made.render()

    def notes(self, lines: list[str]) -> None:
        """Write the notes beside everything."""
        text = "\\P".join(line.replace("⌀", "%%c").replace("−", "-") for line in lines)
        note = self.space.add_mtext(text, dxfattribs={"layer": "NOTES", "char_height": self.size})
        note.set_location(self.corner)
