"""What all plots share: colours, type, and an SVG that is the same for the same result."""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from threading import Lock
from typing import Any

import matplotlib as mpl
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine

from glandwise.api.render.words import VERDICT_COLOUR, VERDICT_WORD, pretty, unit

INK = "#22282f"
SOFT = "#6b7480"
PAPER = "#ffffff"
PLACES = 6
"""Decimals of the places of axes, as shares of the figure: finer than any eye or printer."""
ACCENT = "#1f5f8b"

__all__ = [
    "ACCENT",
    "INK",
    "PAPER",
    "SOFT",
    "VERDICT_COLOUR",
    "VERDICT_WORD",
    "figure",
    "foot",
    "style",
    "svg",
    "unit",
    "wrapped",
]

_STYLE: Any = {
    "svg.hashsalt": "glandwise",
    "svg.fonttype": "path",
    "font.family": "DejaVu Sans",
    "font.size": 9.0,
    "text.color": INK,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.8,
    "axes.titlesize": 10.5,
    "axes.titlelocation": "left",
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "hatch.linewidth": 0.6,
    "legend.frameon": False,
    "legend.fontsize": 8.0,
}


_DRAWING = Lock()
"""Held while a plot is drawn: the settings of the plotting library belong to the whole process."""


@contextmanager
def style() -> Iterator[None]:
    """The context in which a plot is drawn; one plot at a time."""
    with _DRAWING, mpl.rc_context(_STYLE):
        yield


def figure(width: float, height: float, foot: float = 0.0) -> Figure:
    """Return an empty figure of a size in inches that draws SVG and lays itself out, above a foot of that height."""
    room = (0.0, foot / height, 1.0, 1.0 - foot / height)
    layout = ConstrainedLayoutEngine(w_pad=0.1, h_pad=0.1, rect=room)
    made = Figure(figsize=(width, height), layout=layout, facecolor=PAPER, dpi=72)
    FigureCanvasSVG(made)
    return made


def svg(made: Figure, title: str) -> bytes:
    """Write a figure as SVG: no date, and identifiers that depend on the content only.

    It is laid out once and the axes stand at rounded places: the solver of layouts differs in the last bits from one
    run to the next, and the identifiers of clip paths are made of every bit.
    """
    made.draw_without_rendering()
    made.set_layout_engine("none")
    for axes in made.axes:
        left, bottom, wide, high = (round(float(bound), PLACES) for bound in axes.get_position().bounds)
        axes.set_position((left, bottom, wide, high))
    stream = io.BytesIO()
    made.savefig(stream, format="svg", metadata={"Date": None, "Creator": "Glandwise", "Title": title})
    return stream.getvalue()


def foot(made: Figure, result: Mapping[str, Any]) -> None:
    """Write under a plot which rules and which question it belongs to."""
    stamp = result["stamp"]
    rules = stamp["rule_set"]
    text = f"rules {rules['name']} {rules['version']} of {rules['as_of']}  ·  {stamp['fingerprint'][:12]}"
    made.text(0.99, 0.008, text, ha="right", va="bottom", fontsize=6.5, color=SOFT)


def wrapped(text: str, width: int) -> str:
    """Break a sentence into lines, its units set for reading."""
    lines = [""]
    for word in pretty(text).split():
        if len(lines[-1]) + len(word) + 1 > width and lines[-1]:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return "\n".join(lines)
