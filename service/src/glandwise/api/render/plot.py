"""What all plots share: colours, type, and an SVG that is the same for the same result."""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

import matplotlib as mpl
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine

INK = "#22282f"
SOFT = "#6b7480"
PAPER = "#ffffff"
ACCENT = "#1f5f8b"

VERDICT_COLOUR: Mapping[str, str] = {"pass": "#1d7a5f", "caution": "#b07a00", "fail": "#a8323e", "not_evaluated": SOFT}
VERDICT_WORD: Mapping[str, str] = {
    "pass": "passes",
    "caution": "passes with care",
    "fail": "does not pass",
    "not_evaluated": "cannot be judged",
}

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


def style() -> Any:
    """Return the context in which a plot is drawn."""
    return mpl.rc_context(_STYLE)


def figure(width: float, height: float) -> Figure:
    """Return an empty figure of a size in inches that draws SVG and lays itself out."""
    made = Figure(figsize=(width, height), layout=ConstrainedLayoutEngine(w_pad=0.1, h_pad=0.1), facecolor=PAPER)
    FigureCanvasSVG(made)
    return made


def svg(made: Figure, title: str) -> bytes:
    """Write a figure as SVG: no date, and identifiers that depend on the content only."""
    stream = io.BytesIO()
    made.savefig(stream, format="svg", metadata={"Date": None, "Creator": "Glandwise", "Title": title})
    return stream.getvalue()


UNIT_TEXT: Mapping[str, str] = {
    "degC": "°C", "degF": "°F", "um": "µm", "uin": "µin", "N/mm/mm": "N/mm²", "N.m": "N·m", "mm2": "mm²",
}  # fmt: skip


def unit(symbol: str) -> str:
    """Write the symbol of a unit for reading."""
    return UNIT_TEXT.get(symbol, symbol)


def foot(made: Figure, result: Mapping[str, Any]) -> None:
    """Write under a plot which rules and which question it belongs to."""
    stamp = result["stamp"]
    rules = stamp["rule_set"]
    text = f"rules {rules['name']} {rules['version']} of {rules['as_of']}  ·  {stamp['fingerprint'][:12]}"
    made.text(0.99, 0.008, text, ha="right", va="bottom", fontsize=6.5, color=SOFT)


def wrapped(text: str, width: int) -> str:
    """Break a sentence into lines."""
    lines = [""]
    for word in text.split():
        if len(lines[-1]) + len(word) + 1 > width and lines[-1]:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return "\n".join(lines)
