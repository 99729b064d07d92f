"""What a change of rules does to past quotes, as a picture: outcomes by operation, and by criterion where any differs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from matplotlib.ticker import MaxNLocator

from glandwise.api.render import plot

OUTCOMES = {
    "worse": ("#a8323e", "worse", ""), "refused": ("#6b7480", "refused", "xx"), "shifted": ("#d8b365", "shifted", "//"),
    "better": ("#2f7f6e", "better", "\\\\"), "same": ("#e7eaed", "same", ""),
}  # fmt: skip
MOST = 16
"""Criteria drawn, those that differ most first."""


def render_outcomes(result: Mapping[str, Any]) -> bytes:
    """Draw the outcomes of a comparison as SVG."""
    with plot.style():
        return _draw(result)


def _draw(result: Mapping[str, Any]) -> bytes:
    operations = [(name.replace("_", " "), counts) for name, counts in result["by_operation"].items()]
    criteria = [(name.replace("_", " "), counts) for name, counts in result["by_criterion"].items() if _apart(counts)]
    criteria.sort(key=lambda row: (-row[1]["worse"], -_apart(row[1]), row[0]))
    rows = [*operations, *criteria[:MOST]]
    at = np.arange(len(rows))[::-1].astype(float)
    at[: len(operations)] += 0.6  # a gap between operations and criteria
    figure = plot.figure(8.8, 2.0 + 0.36 * max(len(rows), 1))
    axes = figure.add_subplot()
    so_far = np.zeros(len(rows))
    for name, (colour, label, hatch) in OUTCOMES.items():
        counts = np.array([counts.get(name, 0) for _, counts in rows], dtype=float)
        axes.barh(at, counts, 0.7, left=so_far, color=colour, hatch=hatch, ec=plot.PAPER, lw=0.0, label=label, zorder=3)
        so_far = so_far + counts
    axes.set_yticks(at, [name for name, _ in rows])
    axes.tick_params(axis="y", length=0.0)
    if len(rows):
        axes.set_xlim(0.0, max(1.0, float(so_far.max())))
    axes.set_xlabel("Cases")
    axes.xaxis.set_major_locator(MaxNLocator(integer=True))
    axes.grid(axis="x", color="#d5d9de", lw=0.6)
    axes.set_axisbelow(True)
    figure.legend(*axes.get_legend_handles_labels(), loc="outside lower left", ncols=5)
    figure.suptitle(plot.wrapped(result["summary"], 110), fontsize=9.5, x=0.02, ha="left")
    if result.get("stamp") is not None:
        plot.foot(figure, result)
    return plot.svg(figure, "Outcomes of a comparison of rule sets")


def _apart(counts: Mapping[str, int]) -> int:
    return sum(counts.get(name, 0) for name in OUTCOMES if name != "same")
