"""The ranking of a selection as a picture: what each design earns by each aim; where none passes, what stops them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from glandwise.api.render import plot

AIMS = {
    "margin": ("#1f5f8b", "margin", ""), "friction": ("#7fb1d3", "little friction", "//"), "life": ("#2f7f6e", "life", ""),
    "simplicity": ("#a7cfa9", "simplicity", "\\\\"), "practice": ("#8c5a12", "usual there", ""),
    "evidence": ("#d8b365", "evidence", ".."),
}  # fmt: skip
MOST = 12
"""Designs drawn."""


def render_ranking(result: Mapping[str, Any]) -> bytes:
    """Draw the best designs by what they earn as SVG."""
    with plot.style():
        return _draw(result)


def _stopped(result: Mapping[str, Any]) -> bytes:
    """Draw which criterion stops how many designs, where none passes."""
    failures = result["failures"][:MOST]
    at = np.arange(len(failures))[::-1]
    figure = plot.figure(9.2, 1.9 + 0.4 * max(len(failures), 1))
    axes = figure.add_subplot()
    axes.barh(at + 0.2, [row["fails"] for row in failures], 0.36, color="#d9b3bd", label="fail by it", zorder=3)
    axes.barh(at - 0.2, [row["governs"] for row in failures], 0.36, color="#8c2f4b", hatch="//", ec=plot.PAPER, lw=0.0,
              label="fail by it the most", zorder=3)  # fmt: skip
    axes.set_yticks(at, [row["title"] for row in failures])
    axes.tick_params(axis="y", length=0.0)
    axes.set_xlim(0.0, max(result["counts"]["evaluated"], 1))
    axes.set_xlabel(f"Designs, of {result['counts']['evaluated']}")
    axes.grid(axis="x", color="#e7eaed", lw=0.6)
    axes.set_axisbelow(True)
    if failures:
        figure.legend(*axes.get_legend_handles_labels(), loc="outside lower left", ncols=2)
    figure.suptitle(plot.wrapped(result["summary"], 112), fontsize=9.5, x=0.02, ha="left")
    plot.foot(figure, result)
    return plot.svg(figure, "What stops the designs of a selection")


def _draw(result: Mapping[str, Any]) -> bytes:
    ranked = result["ranked"][:MOST]
    if not ranked:
        return _stopped(result)
    count = len(ranked)
    at = np.arange(len(ranked))[::-1]
    figure = plot.figure(9.2, 1.9 + 0.52 * count)
    axes = figure.add_subplot()
    so_far = np.zeros(len(ranked))
    for name, (colour, label, hatch) in AIMS.items():
        earned = np.array([result["weights"].get(name, 0.0) * design["scores"][name] for design in ranked])
        if not earned.any():
            continue
        axes.barh(
            at, earned, 0.62, left=so_far, color=colour, hatch=hatch, ec=plot.PAPER, lw=0.6, label=label, zorder=3
        )
        so_far = so_far + earned
    axes.set_yticks(at, [plot.wrapped(f"{design['rank']}  {design['title']}", 62) for design in ranked])
    axes.tick_params(axis="y", length=0.0, labelsize=7.5)
    axes.plot([design["score"] for design in ranked], at, "D", ms=5.0, mfc=plot.INK, mec=plot.PAPER, mew=1.0, zorder=4,
              label="score, less what doubt and near limits take")  # fmt: skip
    for place, design, end in zip(at, ranked, so_far, strict=True):
        axes.annotate(plot.VERDICT_WORD[design["verdict"]], (end, place), xytext=(4.0, 0.0), textcoords="offset points",
                      va="center", fontsize=7.5, color=plot.VERDICT_COLOUR[design["verdict"]])  # fmt: skip
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(-0.6, count - 0.4)
    axes.set_xlabel("What is earned by each aim, of 1")
    axes.grid(axis="x", color="#e7eaed", lw=0.6)
    axes.set_axisbelow(True)
    figure.legend(*axes.get_legend_handles_labels(), loc="outside lower left", ncols=4)
    figure.suptitle(plot.wrapped(result["summary"], 112), fontsize=9.5, x=0.02, ha="left")
    plot.foot(figure, result)
    return plot.svg(figure, "Ranking of a selection")
