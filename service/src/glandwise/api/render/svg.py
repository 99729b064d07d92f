"""A small writer of SVG in millimetres of paper, with the lines, arrows and hatchings of technical drawings.

Colours stand on the elements themselves, so that every viewer shows them; a class on each lets a dark screen turn them
about. Nothing is referred to but patterns of the same file.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, cos, hypot, pi, sin
from xml.sax.saxutils import escape, quoteattr

WIDE, NARROW = 0.5, 0.25
"""Line widths in a ratio of two to one (ISO 128) [mm]."""
TEXT = 2.9
"""Size of letters [mm]; a capital is 0.72 of it."""
LETTER = 0.62
"""Mean width of a letter over the size."""
ARROW = 2.2
"""Length of an arrow [mm]."""

INK, SOFT, PAPER, ACCENT = "#1b2128", "#5b6570", "#ffffff", "#b5432a"
FILLS = {
    "seal": ("#f7eeda", "#8a6d2f", 135.0, 1.7),
    "housing": ("#eceff2", "#818b95", 45.0, 2.6),
    "cover": ("#e2e6ea", "#818b95", 135.0, 2.6),
    "shaft": ("#f4f6f8", None, 0.0, 0.0),
    "fluid": ("#e3f0f8", None, 0.0, 0.0),
    "rubber": ("#555d66", None, 0.0, 0.0),
    "metal": ("#1b2128", None, 0.0, 0.0),
    "hollow": ("#ffffff", None, 0.0, 0.0),
}
"""Fill of a material; colour, angle and spacing of its hatching. Parts side by side differ in hatching, thin metal is solid."""
_DARK = {
    "seal": "#3a3222", "housing": "#262c33", "cover": "#2d343c", "shaft": "#1d2227", "fluid": "#16303f", "rubber": "#a7afb8",
    "metal": "#e8ecf0", "hollow": "#14181c",
}  # fmt: skip

Dot = tuple[float, float]
"""A point on paper [mm], y downwards."""


def width_of(text: str, size: float = TEXT) -> float:
    """Return about how wide a text is [mm]."""
    return (
        LETTER
        * size
        * sum(1.35 if letter in "⌀Mmw—%" else 0.55 if letter in " .,:;il|'()–" else 1.0 for letter in text)
    )


def _n(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


class Svg:
    """Elements in the order they are painted."""

    def __init__(self, width: float) -> None:
        self.width = width
        self.parts: list[str] = []
        self.texts: list[tuple[str, float, float, float, float]] = []
        """Every text with its box, left, top, right, bottom: what tests look at."""

    def path(
        self, points: Sequence[Dot], *, fill: str | None = None, line: float = WIDE, closed: bool = False,
        colour: str = "ink", dash: str | None = None,
    ) -> None:  # fmt: skip
        """Draw a line through points, filled with a material where it is closed."""
        d = "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in points) + ("Z" if closed else "")
        stroke = f' stroke="{_COLOURS[colour]}" stroke-width="{_n(line)}" stroke-linejoin="round"' if line else ""
        broken = f' stroke-dasharray="{dash}"' if dash else ""
        name = f"gd-s-{colour}" if line else ""
        if fill is None:
            self.parts.append(f'<path class="{name}" d="{d}" fill="none"{stroke}{broken}/>')
            return
        ground, hatching, _, _ = FILLS[fill]
        self.parts.append(
            f'<path class="gd-{fill} {name}" d="{d}" fill="{ground}" fill-rule="evenodd"{stroke}{broken}/>'
        )
        if hatching:
            self.parts.append(f'<path d="{d}" fill="url(#gd-{fill})" fill-rule="evenodd"/>')

    def line(self, a: Dot, b: Dot, *, line: float = NARROW, colour: str = "ink", dash: str | None = None) -> None:
        """Draw a straight line."""
        self.path((a, b), line=line, colour=colour, dash=dash)

    def break_line(self, a: Dot, b: Dot) -> None:
        """Draw the freehand line along which a part is broken off."""
        long = hypot(b[0] - a[0], b[1] - a[1])
        count = max(int(long / 1.2), 2)
        across = (-(b[1] - a[1]) / long, (b[0] - a[0]) / long)
        points = []
        for k in range(count + 1):
            part = k / count
            sway = 0.0 if k in (0, count) else 0.45 * sin(2.4 * k) * (1.0 if k % 2 else -0.7)
            points.append(
                (a[0] + part * (b[0] - a[0]) + sway * across[0], a[1] + part * (b[1] - a[1]) + sway * across[1])
            )
        self.path(points, line=NARROW)

    def arrow(self, tip: Dot, tail: Dot) -> None:
        """Draw a closed filled arrow head of thirty degrees at a tip."""
        a = atan2(tail[1] - tip[1], tail[0] - tip[0])
        ends = [(tip[0] + ARROW * cos(a + s), tip[1] + ARROW * sin(a + s)) for s in (pi / 18.0, -pi / 18.0)]
        d = "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in (tip, *ends)) + "Z"
        self.parts.append(f'<path class="gd-f-ink" d="{d}" fill="{INK}"/>')

    def dot(self, at: Dot, radius: float = 0.45) -> None:
        """Draw a dot, in which a leader ends inside a part."""
        self.parts.append(
            f'<circle class="gd-f-ink gd-halo" cx="{_n(at[0])}" cy="{_n(at[1])}" r="{_n(radius)}" fill="{INK}" '
            f'stroke="{PAPER}" stroke-width="0.2"/>'
        )

    def circle(self, at: Dot, radius: float) -> None:
        """Draw an empty circle."""
        self.parts.append(
            f'<circle class="gd-bg gd-s-ink" cx="{_n(at[0])}" cy="{_n(at[1])}" r="{_n(radius)}" fill="{PAPER}" '
            f'stroke="{INK}" stroke-width="{_n(NARROW)}"/>'
        )

    def text(
        self, at: Dot, text: str, *, size: float = TEXT, anchor: str = "start", turned: bool = False, bold: bool = False,
        colour: str = "ink", halo: bool = False,
    ) -> None:  # fmt: skip
        """Write a text, its base line at a point; turned, it is read from the right."""
        turn = f' transform="rotate(-90 {_n(at[0])} {_n(at[1])})"' if turned else ""
        weight = ' font-weight="600"' if bold else ""
        where = f'x="{_n(at[0])}" y="{_n(at[1])}" font-size="{_n(size)}" text-anchor="{anchor}"{weight}{turn}>{escape(text)}</text>'
        if halo:  # a text of its own beneath: not every viewer paints a stroke under its letters
            self.parts.append(
                f'<text class="gd-bg gd-halo" aria-hidden="true" fill="{PAPER}" stroke="{PAPER}" stroke-width="0.7" '
                f'stroke-linejoin="round" {where}'
            )
        self.parts.append(f'<text class="gd-f-{colour}" fill="{_COLOURS[colour]}" {where}')
        long = width_of(text, size)
        before = {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * long
        high = 0.72 * size
        box = (
            (at[0] - high, at[1] - (long - before), at[0], at[1] + before)
            if turned
            else (at[0] - before, at[1] - high, at[0] - before + long, at[1])
        )
        self.texts.append((text, *box))

    def written(self, height: float, title: str, description: str, *, paper: bool) -> bytes:
        """Return the drawing as a file, of a height in mm; on ``paper`` it stays light on a dark screen."""
        patterns = "".join(
            f'<pattern id="gd-{name}" width="{_n(gap)}" height="{_n(gap)}" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate({_n(angle)})"><line class="gd-h-{name}" x1="0" y1="0" x2="{_n(gap)}" y2="0" '
            f'stroke="{colour}" stroke-width="0.22"/></pattern>'
            for name, (_, colour, angle, gap) in FILLS.items()
            if colour
        )
        where = "gd" if paper else "gd gd-screen"
        return (
            '<?xml version="1.0" encoding="UTF-8"?>\n'
            f'<svg xmlns="http://www.w3.org/2000/svg" class={quoteattr(where)} width="{_n(self.width)}mm" '
            f'height="{_n(height)}mm" viewBox="0 0 {_n(self.width)} {_n(height)}" role="img" '
            "font-family=\"'DejaVu Sans', Verdana, Arial, sans-serif\">"
            f"<title>{escape(title)}</title><desc>{escape(description)}</desc>"
            f"{'' if paper else _STYLE}<defs>{patterns}</defs>"
            f'<rect class="gd-bg" width="{_n(self.width)}" height="{_n(height)}" fill="{PAPER}"/>'
            f"{''.join(self.parts)}</svg>\n"
        ).encode()


_COLOURS = {"ink": INK, "soft": SOFT, "accent": ACCENT, "paper": PAPER}
_STYLE = (
    "<style>@media (prefers-color-scheme: dark) {"
    ".gd-screen .gd-s-ink{stroke:#e8ecf0}.gd-screen .gd-f-ink{fill:#e8ecf0}.gd-screen .gd-s-soft{stroke:#9aa4ae}"
    ".gd-screen .gd-f-soft{fill:#9aa4ae}.gd-screen .gd-s-accent{stroke:#ff9a7a}.gd-screen .gd-f-accent{fill:#ff9a7a}"
    ".gd-screen .gd-bg{fill:#14181c}.gd-screen .gd-halo{stroke:#14181c}"
    + "".join(f".gd-screen .gd-{name}{{fill:{colour}}}" for name, colour in _DARK.items())
    + "".join(f".gd-screen .gd-h-{name}{{stroke:{colour}}}" for name, colour in
              (("seal", "#c9ab6a"), ("housing", "#77818b"), ("cover", "#77818b")))
    + "}</style>"
)  # fmt: skip
