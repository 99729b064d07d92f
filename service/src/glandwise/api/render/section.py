"""The cross-section of a seal in its gland, to scale: as fitted, and as made.

The lines, arrows and hatchings are those of technical drawings (ISO 128, ISO 129), the names those of ISO 6194 and ISO
16589. Every number on the drawing is one of the case, in the units asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from math import ceil, isfinite, log10
from typing import TYPE_CHECKING, Any, NamedTuple

from glandwise.api.render import words
from glandwise.api.render.svg import NARROW, TEXT, Dot, Svg, width_of
from glandwise.drawing.outline import Outline, Point
from glandwise.drawing.seal import Section, State, section
from glandwise.questions.section.found import Drawable, read
from glandwise.units import UnitSystem

if TYPE_CHECKING:
    from glandwise.engine import Engine

WIDTH = 180.0
"""Width of the paper [mm], which is the room on A4 and on Letter."""
SCALES = (50, 40, 30, 25, 20, 15, 12, 10, 8, 6, 5, 4, 3, 2.5, 2, 1.5, 1, 0.5, 0.25, 0.1, 0.05, 0.02)
HIGHEST = 76.0
"""Height of a view at most [mm]."""
SHEET = (164.0, 38.0)
"""Width of a drawing on the first page of a sheet, and height of its section at most, in mm."""
COLUMN = 7.6
"""Room of an upright dimension [mm]."""
NOTE = "Starting geometry, to be released by design."
OPEN = "What bears no dimension (fillets, webs, tip) is drawn by usual shares."
PHANTOM = "5 0.9 0.6 0.9 0.6 0.9"
CENTRE = "6 1 0.8 1"


class Dimension(NamedTuple):
    """A number on the drawing."""

    name: str
    """Name of the size."""
    value: float
    """In SI."""
    symbol: str
    """What stands before it."""
    text: str
    deviations: tuple[str, str] | None
    """Upper and lower deviation as written."""
    kind: str
    """``diameter``, ``axial`` or ``thickness``."""
    view: str
    """``fitted`` or ``free``."""
    first: Point
    """Where it begins; of a diameter the point at that radius."""
    second: Point

    @property
    def whole(self) -> str:
        """Everything in one line."""
        more = "" if self.deviations is None else f" ({self.deviations[0]} / {self.deviations[1]})"
        return self.symbol + self.text + more


class Part(NamedTuple):
    """A part with its number on the drawing."""

    name: str
    details: str
    at: Point
    """Point inside it, in the fitted view."""


def dimensions(found: Drawable, drawn: Section, units: UnitSystem) -> list[Dimension]:
    """Return the dimensions that are written on the drawing."""
    z, s = found.size, drawn
    made: list[Dimension] = []

    def add(name: str, value: float, symbol: str, kind: str, view: str, first: Point, second: Point) -> None:
        if not isfinite(value):
            return
        limits = None if name == "body" and s.case is not None else found.limits.get(name)
        text, deviations = number(value, units), None
        if limits is not None and limits.high > limits.low:
            text = number(value, units, LAST_OF_LIMITS)
            deviations = signed(limits.high - value, units), signed(limits.low - value, units)
            if limits.tolerance_class:
                text += f" {limits.tolerance_class}"
        made.append(Dimension(name, value, symbol, text, deviations, kind, view, first, second))

    def diameter(name: str, value: float, view: str, x: float) -> None:
        at = Point(x, 0.5 * value)
        add(name, value, "⌀", "diameter", view, at, at)

    left, right, _, _ = s.shaft.box
    turned = z.lip_direction == "away"
    diameter("shaft", z.shaft, "fitted", left)
    diameter("bore", z.bore, "fitted", s.housing.box[0])
    diameter("throat", z.throat, "fitted", right)
    add(
        "contact_width",
        z.contact_width,
        "",
        "axial",
        "fitted",
        Point(s.contact[0], 0.5 * z.shaft),
        Point(s.contact[1], 0.5 * z.shaft),
    )
    body = s.free.body.box
    diameter("lip_bore", z.shaft - z.interference, "free", s.free.edge.x)
    diameter("body", 2.0 * body[3] if s.case is not None else z.body, "free", body[0] if turned else body[1])
    if s.case is not None:
        diameter("case", z.case, "free", s.case.box[0] if turned else s.case.box[1])
    if s.ring_at is not None:
        diameter("groove", z.groove, "free", s.ring_at.x)
        half = 0.5 * z.groove_width
        top = 0.5 * z.body
        add(
            "groove_width",
            z.groove_width,
            "",
            "axial",
            "free",
            Point(s.ring_at.x - half, top),
            Point(s.ring_at.x + half, top),
        )
    ends = sorted((s.free.edge, Point(s.free.root.x, s.free.root.r)), key=lambda p: p.x)
    add("lip_length", z.lip_length, "", "axial", "free", ends[0], ends[1])
    if z.family != "flexible_lip" and isfinite(z.heel):
        back = 0.0 if turned else z.width
        two = sorted((Point(s.free.root.x, s.free.root.r), Point(back, s.free.root.r)), key=lambda p: p.x)
        add("heel", z.heel, "", "axial", "free", two[0], two[1])
    low = 0.5 * z.shaft
    add("width", z.width, "", "axial", "free", Point(0.0, low), Point(z.width, low))
    along = 0.3
    if z.family != "flexible_lip":  # its energizer leaves no room
        return made
    bore = Point(*(a + along * (b - a) for a, b in zip(s.free.root, s.free.edge, strict=True)))
    add("lip_thickness", z.lip_thickness, "t ", "thickness", "free", bore, Point(bore.x, bore.r + z.lip_thickness))
    return made


LAST = 1e-5
"""Length that the last decimal of a size without limits stands for at most [m]."""
LAST_OF_LIMITS = 1e-6
"""The same of a size with limits, its deviations, and of what is drawn from wire or strip [m]."""


def number(si: float, units: UnitSystem, last: float = LAST) -> str:
    """Write a length without its unit, which the drawing names once, to the decimals that a workshop can use.

    A size without limits has two decimals of a millimetre or four of an inch, one with limits three or five: the digits of
    a calculation behind them would ask for what nobody turns or measures.
    """
    one = units.number("length", 1.0)
    return _trimmed(units.number("length", si), max(0, ceil(-log10(last * one) - 1e-9)))


def _trimmed(value: float, decimals: int) -> str:
    text = f"{value:,.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def signed(si: float, units: UnitSystem) -> str:
    """Write a deviation with its sign; what is less than a micrometre is none."""
    text = number(abs(si), units, LAST_OF_LIMITS)
    if text == "0":
        return text
    return f"+{text}" if si > 0.0 else f"−{text}"


def parts(found: Drawable, s: Section, units: UnitSystem) -> list[Part]:
    """Return the parts in the order of the list on the drawing."""
    z, case = found.size, found.case
    w = z.width

    def n(value: float) -> str:
        return number(value, units)

    def drawn(value: float) -> str:
        return number(value, units, LAST_OF_LIMITS)

    def side(x: float) -> float:
        return w - x if z.lip_direction == "away" else x

    body = s.fitted.body.box
    top = 0.5 * z.groove if isfinite(z.groove) else body[3]
    back = z.width - (z.case_wall if s.case is not None else 0.0)
    lip = s.fitted.lip
    middle = Point(0.4 * s.fitted.edge.x + 0.6 * s.fitted.root.x, 0.0)
    lower = min((p for p in lip[: len(lip) // 2]), key=lambda p: abs(p.x - middle.x))
    made = [
        Part(
            "Seal body",
            case.compound.title,
            Point(side(back - 0.07 * w), 0.5 * (0.5 * z.shaft + top) + 0.1 * (top - 0.5 * z.shaft)),
        )
    ]
    made.append(
        Part(
            "Sealing lip",
            f"thickness {n(z.lip_thickness)}, interference {n(z.interference)} on the diameter",
            Point(middle.x, lower.r + 0.5 * z.lip_thickness),
        )
    )
    root = side(s.fitted.root.x)
    if z.second_lip != "none":
        name = "Excluder lip" if z.second_lip == "excluder" else "Second sealing lip"
        made.append(
            Part(
                name,
                "",
                Point(
                    side(root + (0.62 if z.second_lip == "excluder" else 0.6) * (back - root)),
                    0.5 * z.shaft + 0.45 * z.lip_thickness,
                ),
            )
        )
    alloy = next((name for name, record in case.data.alloys.items() if record is case.alloy), None)
    of_alloy = f", UNS {alloy}" if alloy else ""
    if s.fitted.spring:
        left, right, low, high = s.fitted.spring[0].box
        at = Point(0.5 * (left + right), high)
        if z.energizer == "garter":
            text = f"wire ⌀{drawn(z.garter_wire)}, coil mean ⌀{n(z.garter_coil)}{of_alloy}"
            made.append(Part("Garter spring", text, Point(0.5 * (left + right), high - 0.5 * z.garter_wire)))
        elif z.energizer == "cantilever_v":
            text = f"strip {drawn(z.v_thickness)}, finger {n(z.v_length)}, closed by {n(z.v_deflection)}{of_alloy}"
            apex = left if z.lip_direction == "away" else right
            made.append(Part("Cantilever V energizer", text, Point(apex, 0.5 * (low + high))))
        else:
            text = f"wire ⌀{drawn(z.coil_wire)}, {n(z.coil_height)} high, {n(z.coil_width)} wide, pressed by {n(z.coil_deflection)}"
            text += of_alloy
            made.append(Part("Canted coil energizer", text, Point(at.x, high - 0.5 * z.coil_wire)))
    if s.fitted.band:
        left, right, low, high = s.fitted.band[0].box
        made.append(Part("Reinforcing band", "metal", Point(0.5 * (left + right), 0.5 * (low + high))))
    if s.ring_at is not None:
        elastomer = case.elastomer_name or ""
        size = f", {n(z.ring_inner)} × {n(z.ring_section)}" if isfinite(z.ring_section) else ""
        made.append(
            Part(
                "O-ring",
                f"{found.ring or 'of its own size'}{size}, {elastomer}".rstrip(", "),
                Point(s.ring_at.x, 0.5 * z.groove + 0.6 * (0.5 * z.bore - 0.5 * z.groove)),
            )
        )
    if s.case is not None:
        made.append(
            Part(
                "Metal case",
                f"wall {n(z.case_wall)}, length {n(z.case_length)}",
                Point(side(w - 0.5 * z.case_length), 0.5 * z.case - 0.5 * z.case_wall),
            )
        )
    if s.plate is not None:
        left, right, low, high = s.plate.box
        text = f"on ⌀{n(z.clamp_inner)} to ⌀{n(z.clamp_outer)}" if isfinite(z.clamp_inner) else ""
        made.append(Part("Clamp cover", text, Point(0.5 * (left + right), high - 0.12 * (high - low))))
    left, right, low, high = s.housing.box
    made.append(Part("Housing", "", Point(0.5 * (w + right), 0.5 * z.bore - 0.12 * (0.5 * z.bore - 0.5 * z.shaft))))
    left, right, low, high = s.shaft.box
    made.append(Part("Shaft", "", Point(right - 0.08 * (right - left), high - 0.24 * (high - low))))
    return made


class _Frame:
    """From metres of the section to millimetres of paper."""

    def __init__(self, scale: float, left: float, x_0: float, top: float, r_0: float) -> None:
        self.k, self.left, self.x_0, self.top, self.r_0 = 1e3 * scale, left, x_0, top, r_0

    def __call__(self, point: Point | tuple[float, float]) -> Dot:
        return self.left + self.k * (point[0] - self.x_0), self.top + self.k * (self.r_0 - point[1])

    def all(self, outline: Outline) -> list[Dot]:
        return [self(point) for point in outline.flat()]


class Drawing:
    """One drawing on paper."""

    def __init__(
        self,
        found: Drawable,
        result: Mapping[str, Any],
        units: UnitSystem,
        room: tuple[float, float] = (WIDTH, HIGHEST),
    ) -> None:
        self.found, self.result, self.units = found, result, units
        self.width, self.highest = room
        self.section = section(found.size)
        self.dimensions = dimensions(found, self.section, units)
        self.parts = parts(found, self.section, units)
        self.svg = Svg(self.width)
        self._place()

    # ----------------------------------------------------------------------------------------------------- layout

    def _place(self) -> None:
        s = self.section
        left, right, low, _ = s.shaft.box
        high = s.housing.box[3]
        free = self._free_box()
        lefts = 2.0 * COLUMN + 3.6
        rights = COLUMN + 1.0
        uprights = [d for d in self.dimensions if d.kind == "diameter" and d.view == "free" and d.name != "lip_bore"]
        self.free_columns = len(uprights)
        room = self.width - lefts - rights - 2.0 * COLUMN - self.free_columns * COLUMN - 6.0
        wide = 1e3 * ((right - left) + (free[1] - free[0]))
        tall = 1e3 * (high - low)
        self.scale = next((k for k in SCALES if k * wide <= room and k * tall <= self.highest), SCALES[-1])
        spare = room - self.scale * wide
        top = 15.5
        self.fitted = _Frame(self.scale, lefts + 0.25 * spare, left, top, high)
        x_free = self.fitted((right, high))[0] + rights + 2.0 * COLUMN + 4.0 + 0.45 * spare
        self.free = _Frame(self.scale, x_free, free[0], top, high)
        self.bottom = self.fitted((left, low))[1]
        true_axis = low <= 1e-9
        self.axis = self.bottom if true_axis else self.bottom + 2.6
        # a diameter is written upright beside its line: the longest decides how far the lines reach
        shortest = {"fitted": 0.5 * self.found.size.shaft, "free": 0.5 * self.found.size.shaft}
        reach = self._width_row() + 2.0
        for d in self.dimensions:
            if d.kind == "diameter":
                frame = self.fitted if d.view == "fitted" else self.free
                reach = max(
                    reach, frame((0.0, max(0.5 * d.value, 0.9 * shortest[d.view])))[1] + self._length(d) + ARROW_ROOM
                )
        self.reach = reach

    def _width_row(self) -> float:
        """Height of the dimension of the width, under everything else."""
        edge, shaft = self.free(self.section.free.edge)[1], self.free((0.0, 0.5 * self.found.size.shaft))[1]
        return max(self.axis + 6.0, max(edge, shaft) + 14.5)

    def _free_box(self) -> tuple[float, float]:
        s = self.section
        outlines = [s.free.body, *s.free.spring, *([s.case] if s.case is not None else [])]
        boxes = [outline.box for outline in outlines]
        return min(box[0] for box in boxes), max(box[1] for box in boxes)

    @staticmethod
    def _length(d: Dimension) -> float:
        long = width_of(d.symbol + d.text)
        if d.deviations is not None:
            long += 0.8 + max(width_of(text, 0.72 * TEXT) for text in d.deviations)
        return long

    # ------------------------------------------------------------------------------------------------------- views

    def draw(self, *, paper: bool) -> bytes:
        """Return the drawing."""
        title = str(self.result.get("title") or _title(self.found))
        svg, z = self.svg, self.found.size
        svg.text((0.0, 3.6), "As fitted", bold=True)
        svg.text((self.free((0.0, 0.0))[0] - 2.0 * COLUMN, 3.6), "As made", bold=True)
        unit = words.unit(self.units.units["length"])
        svg.text((self.width, 3.6), f"scale {_scale(self.scale)}  ·  {unit}", anchor="end", colour="soft")
        self._fitted()
        self._free()
        self._axis()
        for d in self.dimensions:
            self._dimension(d)
        self._numbers()
        end = self._brief_notes(self.reach + 3.0) if paper else self._notes(self.reach + 5.0)
        about = f"{title}. Shaft {number(z.shaft, self.units)} {unit}, bore {number(z.bore, self.units)} {unit}. {NOTE}"
        return svg.written(end + 1.5, f"Cross-section: {title}", about, paper=paper)

    def _state(self, state: State, frame: _Frame) -> None:
        svg = self.svg
        svg.path(frame.all(state.body), fill="seal", closed=True)
        for band in state.band:
            svg.path(frame.all(band), fill="metal", line=NARROW, closed=True)
        kind = self.found.size.energizer
        for k, outline in enumerate(state.spring):
            if kind in {"garter", "canted_coil"}:
                svg.path(frame.all(outline), fill="metal" if k == 0 else "hollow", line=NARROW, closed=True)
            else:
                svg.path(frame.all(outline), fill="metal", line=NARROW, closed=True)
        if self.section.case is not None:
            svg.path(frame.all(self.section.case), fill="metal", line=NARROW, closed=True)

    def _fitted(self) -> None:
        svg, s, f = self.svg, self.section, self.fitted
        svg.path(f.all(s.wetted), fill="fluid", line=0.0, closed=True)
        svg.path(f.all(s.shaft), fill="shaft", line=0.0, closed=True)
        left, right, low, high = s.shaft.box
        svg.path(f.all(s.housing), fill="housing", line=0.0, closed=True)
        corners = [f(v.point) for v in s.housing.vertices]
        svg.path([corners[-1], *corners[:-2]])
        svg.break_line(corners[-3], corners[-2])
        svg.break_line(corners[-2], corners[-1])
        if s.plate is not None:
            a, b, c, d = (f(v.point) for v in s.plate.vertices)
            svg.path(f.all(s.plate), fill="cover", line=0.0, closed=True)
            svg.path([d, a, b, c])
            svg.break_line(c, d)
        if s.ring is not None:
            svg.path(f.all(s.ring), fill="rubber", closed=True, line=NARROW)
        self._state(s.fitted, f)
        svg.path([f((left, high)), f((right, high))])
        svg.break_line(f((left, high)), f((left, low)))
        svg.break_line(f((right, high)), f((right, low)))
        if low > 1e-9:
            svg.break_line(f((left, low)), f((right, low)))
        svg.path([f(point) for point in s.free.lip], line=NARROW, dash=PHANTOM)
        contact = [f((x, 0.5 * self.found.size.shaft)) for x in s.contact]
        svg.path(contact, line=1.0, colour="accent")
        self._sides()

    def _sides(self) -> None:
        """Write which side is which."""
        svg, s, f, z = self.svg, self.section, self.fitted, self.found.size
        left, right, _, high = s.shaft.box
        ceiling = 0.5 * z.clamp_inner if s.plate is not None and isfinite(z.clamp_inner) else 0.5 * z.bore
        edge = min(s.fitted.body.box[0], s.fitted.edge.x)
        x, y = f((left, 0.5 * (high + ceiling)))
        room = f((edge, high))[0] - x - 2.0
        lines = ["pressure", "side", f"p {self.units.text('gauge_pressure', float(self.found.case.pressure))}"]
        size = 0.92 * TEXT
        if width_of(lines[2], 0.8 * TEXT) > room:  # the answer tells it as well
            del lines[2]
        size *= min(1.0, room / max(width_of(line, size) for line in lines))
        for k, line in enumerate(lines):
            svg.text((x + 1.0, y + (k - 1) * 1.25 * size), line, size=size)
        at = y + 2.2 * size
        svg.line((x + 1.0, at), (x + min(room, 9.0), at))
        svg.arrow((x + 1.0 + min(room, 9.0), at), (x, at))
        x, y = f((right, high))
        svg.text((x - 1.2, self.bottom - 1.4), "air side", anchor="end", size=0.92 * TEXT)

    def _free(self) -> None:
        self._state(self.section.free, self.free)

    def _axis(self) -> None:
        svg = self.svg
        left, right, _, _ = self.section.shaft.box
        a, b = self.fitted((left, 0.0))[0] - 3.0, self.fitted((right, 0.0))[0] + 3.0
        svg.line((a, self.axis), (b, self.axis), dash=CENTRE)
        low, high = self._free_box()
        svg.line((self.free((low, 0.0))[0] - 4.0, self.axis), (self.free((high, 0.0))[0] + 4.0, self.axis), dash=CENTRE)

    # -------------------------------------------------------------------------------------------------- dimensions

    def _dimension(self, d: Dimension) -> None:
        frame = self.fitted if d.view == "fitted" else self.free
        if d.kind == "diameter":
            self._diameter(d, frame)
        elif d.kind == "axial":
            self._axial(d, frame)
        else:
            self._thickness(d, frame)

    def _diameter(self, d: Dimension, frame: _Frame) -> None:
        svg = self.svg
        x, y = frame(d.first)
        left, right, _, _ = self.section.shaft.box
        low, high = self._free_box()
        turned = self.found.size.lip_direction == "away"
        ends = {
            "shaft": frame((left, 0.0))[0] - 0.75 * COLUMN, "bore": frame((left, 0.0))[0] - 1.75 * COLUMN,
            "throat": frame((right, 0.0))[0] + COLUMN,
        }  # fmt: skip
        if d.view == "fitted":
            at = ends[d.name]
        elif d.name == "lip_bore":
            at = frame((high, 0.0))[0] + 0.8 * COLUMN if turned else frame((low, 0.0))[0] - 0.8 * COLUMN
        else:
            order = [
                e.name for e in self.dimensions if e.kind == "diameter" and e.view == "free" and e.name != "lip_bore"
            ]
            order.sort(key=lambda name: next(e.value for e in self.dimensions if e.name == name))
            place = 0.9 + order.index(d.name)
            at = frame((low, 0.0))[0] - place * COLUMN if turned else frame((high, 0.0))[0] + place * COLUMN
        away = 1.0 if at > x else -1.0
        svg.line((x + 0.6 * away, y), (at + 1.2 * away, y))
        svg.line((at, y), (at, self.reach))
        svg.arrow((at, y), (at, self.reach))
        self._upright(d, at - 0.9)

    def _upright(self, d: Dimension, x: float) -> None:
        """Write a text along an upright line, at its lower end."""
        svg, start = self.svg, self.reach
        svg.text((x, start), d.symbol + d.text, turned=True, halo=True)
        if d.deviations is not None:
            along = start - width_of(d.symbol + d.text) - 0.8
            small = 0.72 * TEXT
            svg.text((x - 0.62 * TEXT, along), d.deviations[0], turned=True, size=small, halo=True)
            svg.text((x + 0.18 * TEXT, along), d.deviations[1], turned=True, size=small, halo=True)

    def _axial(self, d: Dimension, frame: _Frame) -> None:
        svg = self.svg
        a, b = frame(d.first), frame(d.second)
        shaft = frame((0.0, 0.5 * self.found.size.shaft))[1]
        edge = frame(self.section.free.edge)[1]
        if d.name == "groove_width":
            y = a[1] - 5.0
        elif d.name == "contact_width":
            y = shaft + 0.5 * (self.bottom - shaft) + 0.6
        elif d.name == "width":
            y = self._width_row()
        else:
            y = max(edge, shaft) + 8.0
        over = -1.0 if y < a[1] else 1.0
        for end in (a, b):
            svg.line((end[0], end[1] + 0.7 * over), (end[0], y + 1.2 * over))
        text, long = d.symbol + d.text, width_of(d.symbol + d.text)
        wide = b[0] - a[0]
        middle = 0.5 * (a[0] + b[0])
        if wide >= 2.0 * ARROW_ROOM + 1.0:
            svg.line((a[0], y), (b[0], y))
            svg.arrow((a[0], y), b)
            svg.arrow((b[0], y), a)
            if long + 1.0 <= wide:
                svg.text((middle, y - 0.7), text, anchor="middle", halo=True)
            else:
                self._beside(d, a, b, y, text, long)
        else:
            svg.line((a[0] - 4.2, y), (b[0] + 4.2, y))
            svg.arrow((a[0], y), (a[0] - 4.2, y))
            svg.arrow((b[0], y), (b[0] + 4.2, y))
            self._beside(d, a, b, y, text, long)

    def _beside(self, d: Dimension, a: Dot, b: Dot, y: float, text: str, long: float) -> None:
        """Write a text beside a short dimension: a heel behind it, everything else before or behind by its room."""
        svg = self.svg
        if d.name == "heel":  # the length of the lip stands beside it, over the line
            svg.text((b[0], y + 0.72 * TEXT + 0.8), text, anchor="end", halo=True)
        elif d.name == "contact_width":
            svg.line((b[0], y), (b[0] + 4.2 + long, y))
            svg.text((b[0] + 4.0, y - 0.7), text, halo=True)
        else:
            svg.line((a[0] - 4.2 - long, y), (a[0], y))
            svg.line((b[0], y), (b[0] + 4.2, y))
            svg.text((a[0] - 4.0, y - 0.7), text, anchor="end", halo=True)

    def _thickness(self, d: Dimension, frame: _Frame) -> None:
        """Write a thickness at a leader from the outside of the lip."""
        svg = self.svg
        a, b = frame(d.first), frame(d.second)
        z = self.found.size
        high = 3.4 + (1e3 * self.scale * (z.garter_coil + z.garter_wire) if z.energizer == "garter" else 0.0)
        svg.line((a[0], a[1] + 3.8), (a[0], a[1]))
        svg.arrow(a, (a[0], a[1] + 3.0))
        svg.line((b[0], b[1] - high - 2.8), b)
        svg.arrow(b, (b[0], b[1] - 3.0))
        svg.line(a, b)
        away = z.lip_direction == "away"
        svg.text((b[0] + (0.8 if away else -0.8), b[1] - high), d.whole, anchor="start" if away else "end", halo=True)

    def _numbers(self) -> None:
        """Number the parts: a row over the view, in the order of what they point at."""
        svg, f = self.svg, self.fitted
        placed = sorted(enumerate(self.parts, 1), key=lambda item: item[1].at.x)
        left, right, _, _ = self.section.shaft.box
        a, b = f((left, 0.0))[0], f((right, 0.0))[0]
        step = max((b - a) / max(len(placed), 1), 6.0)
        y = 10.0
        xs = [f(part.at)[0] for _, part in placed]
        for k in range(1, len(xs)):
            xs[k] = max(xs[k], xs[k - 1] + min(step, 6.4))
        shift = max(xs[-1] - (b - 2.0), 0.0)
        for k in range(len(xs) - 1, -1, -1):
            limit = (b - 2.0) - 6.4 * (len(xs) - 1 - k)
            xs[k] = min(xs[k], limit) if shift else xs[k]
        for x, (number_, part) in zip(xs, placed, strict=True):
            target = f(part.at)
            svg.line((x, y + 2.3), target)
            svg.dot(target)
            svg.circle((x, y), 2.3)
            svg.text((x, y + 1.0), str(number_), anchor="middle")

    def _notes(self, y: float) -> float:
        """Write list of parts and notes; return where they end."""
        svg, size, step = self.svg, 0.9 * TEXT, 4.1
        svg.line((0.0, y), (self.width, y), colour="soft")
        left = y
        half = 0.53 * self.width
        for k, part in enumerate(self.parts, 1):
            left += step
            svg.text((0.0, left), str(k), size=size)
            svg.text((4.5, left), part.name, size=size, bold=True)
            start = 4.5 + width_of(part.name, size) * 1.14 + 1.4
            for line in _wrapped(part.details, half - start - 3.0, size):
                svg.text((start, left), line, size=size)
                left += step
            if part.details:
                left -= step
        right = y
        for text, colour in self._remarks():
            for line in _wrapped(text, self.width - half, size):
                right += step
                svg.text((half, right), line, size=size, colour=colour)
        end = max(left, right) + 4.6
        rules = self.result["stamp"]["rule_set"]
        stamp = f"rules {rules['name']} {rules['version']} of {rules['as_of']}  ·  {self.result['stamp']['fingerprint'][:12]}"
        svg.text((0.0, end), NOTE, size=size, bold=True)
        svg.text((self.width, end), stamp, size=0.75 * TEXT, anchor="end", colour="soft")
        return end

    def _brief_notes(self, y: float) -> float:
        """Write list of parts and notes closely, for a sheet that has more to say; return where they end."""
        svg, size, step = self.svg, 0.82 * TEXT, 3.5
        svg.line((0.0, y), (self.width, y), colour="soft")
        half, ends = 0.5 * self.width, [y, y]
        for k, part in enumerate(self.parts, 1):
            column = 0 if k <= (len(self.parts) + 1) // 2 else 1
            x = column * half
            ends[column] += step
            svg.text((x, ends[column]), str(k), size=size)
            svg.text((x + 4.0, ends[column]), part.name, size=size, bold=True)
            start = x + 4.0 + width_of(part.name, size) * 1.14 + 1.2
            for n, line in enumerate(_wrapped(part.details, x + half - start - 2.0, size)):
                ends[column] += step if n else 0.0
                svg.text((start, ends[column]), line, size=size)
        end = max(ends) + 0.6
        for text, colour in self._remarks(brief=True):
            for line in _wrapped(text, self.width, size):
                end += step
                svg.text((0.0, end), line, size=size, colour=colour)
        return end

    def _remarks(self, *, brief: bool = False) -> Iterator[tuple[str, str]]:
        for text in self.section.remarks:
            yield text, "accent"
        if self.found.remark is not None:
            yield self.found.remark, "accent"
        if brief:
            yield f"{NOTE} {OPEN}", "soft"
            return
        yield "Dash and double dots: the free lip. Thick line on the shaft: its contact.", "ink"
        volume = words.quantity(self.units.quantity("volume", self.section.free.body.volume), 3)
        yield f"Volume of the PTFE part by this geometry: {volume}.", "ink"
        yield OPEN, "ink"


ARROW_ROOM = 2.9


def _wrapped(text: str, room: float, size: float) -> list[str]:
    lines: list[str] = []
    for word in text.split():
        if lines and width_of(f"{lines[-1]} {word}", size) <= room:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def _scale(scale: float) -> str:
    return f"{scale:g}:1" if scale >= 1.0 else f"1:{1.0 / scale:g}"


def _title(found: Drawable) -> str:
    z = found.size
    kind = "flexible lip" if z.family == "flexible_lip" else "energized lip"
    return f"{kind}, {found.case.compound.title}"


Draw = Callable[[Any, Mapping[str, Any], "Engine"], bytes]


def drawing(
    request: Any, result: Mapping[str, Any], engine: Engine, room: tuple[float, float] = (WIDTH, HIGHEST)
) -> Drawing:
    """Return the drawing of an answer, its views of some height at most [mm]."""
    return Drawing(read(request, result, engine), result, request.units.system_of_units(), room)


def render_svg(request: Any, result: Mapping[str, Any], engine: Engine, *, paper: bool = False) -> bytes:
    """Draw the cross-section of an answer as SVG; for ``paper``, which stays white, not so wide and high."""
    return drawing(request, result, engine, SHEET if paper else (WIDTH, HIGHEST)).draw(paper=paper)
