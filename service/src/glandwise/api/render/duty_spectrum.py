"""What the phases of a spectrum take and what they ask of the seal, as a picture."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from glandwise.api.render import plot

TIME, WEAR, TORQUE, HEAT = "#9db8cc", "#8c2f4b", "#1f5f8b", "#b5651d"
MOST = 24
"""Phases drawn; those that wear the most come first where there are more."""


def render_phases(result: Mapping[str, Any]) -> bytes:
    """Draw time, wear, torque and contact temperature by phase as SVG."""
    with plot.style():
        return _draw(result)


def _draw(result: Mapping[str, Any]) -> bytes:
    phases = list(result["phases"])
    shown = phases
    if len(phases) > MOST:
        keep = sorted(range(len(phases)), key=lambda k: -(phases[k]["wear_share"] or 0.0))[:MOST]
        shown = [phases[k] for k in sorted(keep)]
    count = len(shown)
    at = np.arange(count)[::-1]

    def value(phase: Mapping[str, Any], name: str) -> float:
        return np.nan if phase[name] is None else float(phase[name]["value"])

    figure = plot.figure(8.4, 1.9 + 0.46 * count)
    left, middle, right = figure.subplots(1, 3, sharey=True, width_ratios=(3, 2, 2))
    left.barh(at + 0.2, [100.0 * phase["share"] for phase in shown], 0.36, color=TIME, label="of the time", zorder=3)
    wear = [np.nan if phase["wear_share"] is None else 100.0 * phase["wear_share"] for phase in shown]
    left.barh(at - 0.2, wear, 0.36, color=WEAR, hatch="//", ec=plot.PAPER, lw=0.0, label="of the wear", zorder=3)
    left.set_xlim(0.0, 100.0)
    left.set_xlabel("Share, %")
    for axes, name, colour, label in (
        (middle, "torque", TORQUE, "Torque"), (right, "contact_temperature", HEAT, "Contact temperature"),
    ):  # fmt: skip
        values = [value(phase, name) for phase in shown]
        axes.plot(values, at, "o", ms=7.0, mfc=colour, mec=plot.PAPER, zorder=3)
        axes.hlines(at, axes.get_xlim()[0], values, color=colour, lw=1.2, zorder=2)
        unit = next((phase[name]["unit"] for phase in shown if phase[name] is not None), "")
        axes.set_xlabel(f"{label}, {plot.unit(unit)}")
        axes.margins(x=0.12)
    left.set_yticks(at, [plot.wrapped(phase["name"].replace("_", " "), 22) for phase in shown])
    for place, phase in zip(at, shown, strict=True):
        word = plot.VERDICT_WORD[phase["verdict"]]
        right.annotate(word, (1.03, place), xycoords=("axes fraction", "data"), va="center", fontsize=7.5,
                       color=plot.VERDICT_COLOUR[phase["verdict"]], annotation_clip=False)  # fmt: skip
    left.set_ylim(-0.6, count - 0.4)
    for axes in (left, middle, right):
        axes.grid(axis="x", color="#e7eaed", lw=0.6)
        axes.set_axisbelow(True)
        axes.tick_params(axis="y", length=0.0)
    figure.legend(*left.get_legend_handles_labels(), loc="outside lower left", ncols=2)
    more = f" {len(phases) - count} phases that wear less are not drawn." if len(phases) > count else ""
    figure.suptitle(plot.wrapped(result["summary"] + more, 104), fontsize=9.5, x=0.02, ha="left")
    plot.foot(figure, result)
    return plot.svg(figure, "Phases of a spectrum")
