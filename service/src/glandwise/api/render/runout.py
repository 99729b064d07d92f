"""Allowed runout over speed as a picture."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from glandwise.api.render import plot
from glandwise.units import format_number

RATED, FOLLOWED, WITH_OFFSET = "#e3c48f", "#2f7f9e", "#8c2f4b"
BAND = "#d8e8e2"


def render_curve(result: Mapping[str, Any]) -> bytes:
    """Draw the allowed runout over speed as SVG."""
    with plot.style():
        return _draw(result)


def _draw(result: Mapping[str, Any]) -> bytes:
    points = sorted([*result["curve"], result["at_duty"]], key=lambda point: point["rotational_speed"]["value"])
    first = points[0]

    def column(name: str) -> Any:
        return np.array([np.nan if point[name] is None else point[name]["value"] for point in points])

    speed, allowed = column("rotational_speed"), column("allowed_runout")
    figure = plot.figure(7.6, 4.6)
    axes = figure.add_subplot()
    lone = len(np.unique(speed)) < 2
    marks: dict[str, Any] = {"marker": "_", "ms": 14.0} if lone else {}
    axes.fill_between(speed, 0.0, allowed, color=BAND, lw=0.0, zorder=1)
    here = result["at_duty"]
    at = here["rotational_speed"]["value"]
    limit = here["allowed_runout"] if here["allowed_with_offset"] is None else here["allowed_with_offset"]
    used = result["utilization"]
    stated = None if used is None else used * limit["value"]
    # the curve of what the lip follows may soar; what is allowed is what matters
    top = max(float(np.nanmax(allowed)), 0.0 if stated is None else stated)
    top = 1.35 * top if top > 0.0 else 1.0
    axes.set_ylim(0.0, top)
    followed, rated = column("followed_runout"), column("rated_runout")
    least = float(np.nanmin(followed)) if np.isfinite(followed).any() else np.inf
    if least < top:
        axes.plot(speed, followed, color=FOLLOWED, lw=1.4, ls="--", label="what the lip follows", zorder=3, **marks)
    elif np.isfinite(least):
        beyond = f"what the lip follows lies above: {format_number(least, 3)} {plot.unit(limit['unit'])} and more"
        axes.plot([], [], ls="none", label=beyond)
    capped = np.isfinite(rated).any()
    if capped:  # wide and pale, to be seen where it is what is allowed
        axes.plot(speed, rated, color=RATED, lw=6.0, label="rated cap", zorder=2, **marks)
    label = "allowed: the lesser of both" if capped else "allowed: what the lip follows"
    axes.plot(speed, allowed, color=plot.INK, lw=2.0, label=label, zorder=4, **marks)
    if np.isfinite(column("allowed_with_offset")).any():
        axes.plot(speed, column("allowed_with_offset"), color=WITH_OFFSET, lw=1.6, ls="-.",
                  label="allowed with the stated offset", zorder=5, **marks)  # fmt: skip
    colour = plot.VERDICT_COLOUR[result["verdict"]]
    if stated is not None:
        axes.plot([at, at], [stated, limit["value"]], color=colour, lw=1.0, zorder=5)
        axes.plot(at, stated, "o", ms=8.0, mfc=colour, mec=plot.PAPER, mew=1.2, zorder=6, clip_on=False,
                  label=f"the duty {plot.VERDICT_WORD[result['verdict']]}")  # fmt: skip
    else:
        axes.axvline(at, color=plot.SOFT, lw=1.0, ls=(0, (2, 2)), zorder=2, label="speed of the duty")
    if not lone:
        axes.set_xlim(speed[0], speed[-1])
        surface = column("surface_speed")
        scale = surface[-1] / speed[-1]
        above = axes.secondary_xaxis("top", functions=(lambda x: x * scale, lambda x: x / scale))
        above.set_xlabel(f"Surface speed, {plot.unit(first['surface_speed']['unit'])}")
        above.tick_params(length=3.0)
    axes.set_xlabel(f"Rotational speed, {plot.unit(first['rotational_speed']['unit'])}")
    axes.set_ylabel(f"Dynamic runout (TIR), {plot.unit(first['allowed_runout']['unit'])}")
    axes.set_title(plot.wrapped(result["summary"], 96), fontsize=9.5)
    axes.legend(loc="best")
    axes.grid(color="#e7eaed", lw=0.6, zorder=0)
    axes.set_axisbelow(True)
    plot.foot(figure, result)
    return plot.svg(figure, "Allowed runout over speed")
