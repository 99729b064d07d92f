"""Load and stress of an energizer over its deflection as a picture."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from glandwise.api.render import plot
from glandwise.units import format_number

LOAD, STRESS, LIMIT, BAND = "#1f5f8b", "#7a4b12", "#a8323e", "#dfeaf2"


def render_curve(result: Mapping[str, Any]) -> bytes:
    """Draw the load curve of an energizer as SVG."""
    with plot.style():
        return _draw(result)


def _draw(result: Mapping[str, Any]) -> bytes:
    points = result["curve"]

    def column(name: str) -> Any:
        return np.array([point[name]["value"] for point in points])

    figure = plot.figure(7.6, 5.6)
    upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(3, 2))
    here, load = result["deflection"], result["load"]
    if points:
        deflection = column("deflection")
        upper.plot(deflection, column("line_load"), color=LOAD, lw=2.2, zorder=3, label="load, nominal dimensions")
        lower.plot(deflection, column("stress"), color=STRESS, lw=2.0, zorder=3,
                   label="elastic stress" if result["squeeze"] is None else "mean contact pressure")  # fmt: skip
        upper.set_ylabel(f"Line load, {plot.unit(points[0]['line_load']['unit'])}")
        lower.set_ylabel(
            f"{'Stress' if result['squeeze'] is None else 'Pressure'}, {plot.unit(points[0]['stress']['unit'])}"
        )
        upper.set_xlim(0.0, max(float(deflection[-1]), here["value"] * 1.02))
    band = result["working_range"]
    if band is not None:
        label = f"load within {100.0 * band['load_share']:.0f} % of its middle"
        upper.axvspan(band["lower"]["value"], band["upper"]["value"], color=BAND, lw=0.0, zorder=1, label=label)
    _spread(upper, here["value"], load)
    if result["stress_limit"] is not None:
        limit = result["stress_limit"]
        label = f"yields at {format_number(limit['value'], 4)} {plot.unit(limit['unit'])}"
        lower.axhline(limit["value"], color=LIMIT, lw=1.4, ls="--", zorder=2, label=label)
    if result["stress"] is not None:
        lower.plot(here["value"], result["stress"]["value"], "o", ms=6.0, mfc=STRESS, mec=plot.PAPER, zorder=5, clip_on=False,
                   label="as installed")  # fmt: skip
    for axes in (upper, lower):
        axes.set_ylim(0.0, axes.get_ylim()[1] * 1.04)
        axes.grid(color="#e7eaed", lw=0.6)
        axes.set_axisbelow(True)
        if axes.get_legend_handles_labels()[0]:
            axes.legend(loc="center left", bbox_to_anchor=(1.01, 0.5))
    if result["stress_limit"] is not None:
        # far beyond yield the elastic stress means nothing and would flatten the rest
        installed = 0.0 if result["stress"] is None else result["stress"]["value"]
        most = max(2.5 * result["stress_limit"]["value"], 1.2 * installed)
        lower.set_ylim(0.0, min(lower.get_ylim()[1], most))
    lower.set_xlabel(f"Deflection, {plot.unit(here['unit'])}")
    upper.set_title(plot.wrapped(result["summary"], 96), fontsize=9.5)
    plot.foot(figure, result)
    return plot.svg(figure, "Load of an energizer over its deflection")


def _spread(axes: Any, deflection: float, load: Mapping[str, Any]) -> None:
    """Draw the load as installed with what tolerances make of it."""

    def value(name: str) -> float:
        return float("nan") if load[name] is None else float(load[name]["value"])

    low, high = value("minimum"), value("maximum")
    if np.isfinite([low, high]).all() and high > low:
        axes.plot([deflection] * 2, [low, high], color=plot.INK, lw=1.0, marker="_", ms=9.0, zorder=4,
                  label="extremes of tolerance")  # fmt: skip
    low, high = value("percentile_5"), value("percentile_95")
    if np.isfinite([low, high]).all() and high > low:
        axes.plot([deflection] * 2, [low, high], color=plot.INK, lw=10.0, alpha=0.4, solid_capstyle="butt", zorder=4,
                  label="nine tenths of all samples")  # fmt: skip
    if np.isfinite(value("nominal")):
        axes.plot(deflection, value("nominal"), "o", ms=5.5, mfc=LOAD, mec=plot.PAPER, mew=1.2, zorder=6, clip_on=False,
                  label="as installed")  # fmt: skip
