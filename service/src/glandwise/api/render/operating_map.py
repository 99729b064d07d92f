"""The operating map as a picture: zones of what fails, the region that is left, the duty in it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, PathPatch
from matplotlib.path import Path

from glandwise.api.render import plot
from glandwise.api.render.zones import CAUTION, OTHER, ZONES

_FAR = 1 << 30
"""Square of a distance that no map has."""


def _zone(criterion: str) -> tuple[str, str, str]:
    return ZONES.get(criterion, OTHER)


def _spread(zones: Any) -> Any:
    """Fill the inside with the zone nearest to each point, so that zones reach up to the solved boundary."""
    known = zones >= 0
    if not known.any() or known.all():
        return zones
    # within each column first, then among columns: squares of distances add
    rows, columns = (np.arange(n) for n in zones.shape)
    apart = np.where(known[None, :, :], np.square(rows[:, None] - rows)[:, :, None], _FAR)
    row, square = apart.argmin(axis=1), apart.min(axis=1)
    column = (square[:, None, :] + np.square(columns[:, None] - columns)).argmin(axis=2)
    return zones[np.take_along_axis(row, column, axis=1), column]


def _closeness(result: Mapping[str, Any], careful: Any) -> Any:
    """Return a number that is above 1 where a duty passes with care only.

    It is the utilization over the one from which care is due, which runs smoothly over the map; where care is due for
    another reason than a number, the whole region is marked.
    """
    used = np.array([[np.nan if u is None else u for u in row] for row in result["utilization"]])
    limit = np.array([item["caution_at"] for item in result["criteria"]])[np.array(result["governing"])]
    close = np.where(np.isnan(used), 2.0, used / limit)
    return np.full(close.shape, 2.0) if (careful & (close <= 1.0)).any() else np.minimum(close, 10.0)


def _path(region: list[Mapping[str, Any]]) -> Path:
    vertices: list[tuple[float, float]] = []
    codes: list[Any] = []
    for polygon in region:
        points = list(zip(polygon["x"], polygon["y"], strict=True))
        vertices += [*points, points[0]]
        codes += [Path.MOVETO, *[Path.LINETO] * (len(points) - 1), Path.CLOSEPOLY]
    return Path(vertices, codes)


def _label(axis: Mapping[str, Any]) -> str:
    title = axis["title"]
    return f"{title[0].upper()}{title[1:]}, {plot.unit(axis['unit'])}"


def _sides(polygon: Mapping[str, Any]) -> list[tuple[int, list[float], list[float]]]:
    """Return runs of sides with the same criterion beyond them, as polylines."""
    runs: list[tuple[int, list[float], list[float]]] = []
    x, y, n = polygon["x"], polygon["y"], len(polygon["x"])
    for k, beyond in enumerate(polygon["governing"]):
        if beyond is None:
            continue
        following = (k + 1) % n
        if runs and runs[-1][0] == beyond and (runs[-1][1][-1], runs[-1][2][-1]) == (x[k], y[k]):
            runs[-1][1].append(x[following])
            runs[-1][2].append(y[following])
        else:
            runs.append((beyond, [x[k], x[following]], [y[k], y[following]]))
    return runs


def render_map(result: Mapping[str, Any]) -> bytes:
    """Draw an operating map as SVG."""
    with plot.style():
        return _draw(result)


def _draw(result: Mapping[str, Any]) -> bytes:
    x, y = np.array(result["x"]["values"]), np.array(result["y"]["values"])
    status, governing = np.array(result["status"]), np.array(result["governing"])
    statuses, criteria = result["statuses"], result["criteria"]
    fails = status == statuses.index("fail")
    figure = plot.figure(8.6, 5.2)
    axes = figure.add_subplot()
    zones = _spread(np.where(fails, governing, -1))
    shown = [int(code) for code in np.unique(zones) if code >= 0]
    handles: list[Any] = []
    for code in shown:
        fill, line, hatch = _zone(criteria[code]["id"])
        mask = (zones == code).astype(float)
        filled = axes.contourf(x, y, mask, levels=[0.5, 1.5], colors=[fill], hatches=[hatch or None], zorder=1)
        filled.set_edgecolor(line if hatch else fill)
        filled.set_linewidth(0.0)
        filled.set_alpha(None)
        title = f"fails by {criteria[code]['title']}"
        handles.append(Patch(facecolor=fill, edgecolor=line, hatch=hatch, lw=0.6, label=title))
    if result["region"]:
        path = _path(result["region"])
        axes.add_patch(PathPatch(path, facecolor=plot.PAPER, edgecolor="none", zorder=2))
        careful = status == statuses.index("caution")
        if careful.any():
            near = axes.contourf(
                x, y, _closeness(result, careful), levels=[1.0, 1e9], colors=["none"], hatches=["//////"], zorder=3
            )
            near.set_edgecolor(CAUTION)
            near.set_linewidth(0.0)
            near.set_clip_path(PathPatch(path, transform=axes.transData))
            handles.insert(
                0, Patch(facecolor=plot.PAPER, edgecolor=CAUTION, hatch="//////", lw=0.6, label="passes with care")
            )
        if (status == statuses.index("pass")).any():
            handles.insert(0, Patch(facecolor=plot.PAPER, edgecolor=plot.SOFT, lw=0.6, label="passes"))
        for polygon in result["region"]:
            for beyond, run_x, run_y in _sides(polygon):
                colour = _zone(criteria[beyond]["id"])[1]
                axes.plot(run_x, run_y, color=plot.PAPER, lw=4.2, zorder=4, solid_capstyle="round")
                axes.plot(run_x, run_y, color=colour, lw=2.2, zorder=5, solid_capstyle="round")
    handles.extend(_duty(axes, result["duty_point"], x, y))
    axes.set_xlim(x[0], x[-1])
    axes.set_ylim(y[0], y[-1])
    axes.set_xlabel(_label(result["x"]))
    axes.set_ylabel(_label(result["y"]))
    axes.set_title(plot.wrapped(result["summary"], 100), fontsize=9.5)
    axes.legend(handles=handles, loc="upper left", bbox_to_anchor=(1.01, 1.0), borderaxespad=0.0, handlelength=1.8,
                handleheight=1.2, labelspacing=0.7)  # fmt: skip
    plot.foot(figure, result)
    return plot.svg(figure, "Operating map")


def _duty(axes: Any, duty: Mapping[str, Any], x: Any, y: Any) -> list[Any]:
    """Mark the duty where it lies on the map, and return its entry in the legend."""
    if duty["x"] is None or duty["y"] is None:
        return []
    colour, word = plot.VERDICT_COLOUR[duty["verdict"]], f"the duty {plot.VERDICT_WORD[duty['verdict']]}"
    if not (x[0] <= duty["x"] <= x[-1] and y[0] <= duty["y"] <= y[-1]):
        return [Line2D([], [], ls="none", label=f"off the map, {word}")]
    marker = {"pass": "o", "caution": "D", "fail": "X", "not_evaluated": "s"}[duty["verdict"]]
    axes.plot(duty["x"], duty["y"], marker=marker, ms=9.0, mfc=colour, mec=plot.PAPER, mew=1.4, ls="none", zorder=8,
              clip_on=False)  # fmt: skip
    return [Line2D([], [], marker=marker, ms=8.0, mfc=colour, mec=plot.PAPER, ls="none", label=word)]
