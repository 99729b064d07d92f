"""A calibration as a picture: for each value what the records say beside what the fit has, and what is left over."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import scipy
from matplotlib.lines import Line2D

from glandwise.api.render import plot
from glandwise.units import format_number

SEEN, FIT, BAND, HOUSE, FAR = "#1f5f8b", "#7a4b12", "#f0e3cf", "#dfe3e7", "#a8323e"
MOST = 6
"""Values that are drawn; what is told of further ones stands in the answer."""
_NAMED = 24
"""Specimens up to which each is named."""


def render_fit(result: Mapping[str, Any]) -> bytes:
    """Draw fit and residuals of a calibration as SVG."""
    with plot.style():
        return _draw(result)


def _draw(result: Mapping[str, Any]) -> bytes:
    values = [value for value in result["values"] if value["points"]]
    shown = values[:MOST]
    figure = plot.figure(9.6, 1.2 + 3.4 * max(len(shown), 1), foot=0.2)
    if not shown:
        axes = figure.add_subplot()
        axes.set_axis_off()
        axes.text(
            0.5, 0.5, "The records tell no value: there is nothing to draw.", ha="center", va="center", color=plot.SOFT
        )
    else:
        grid = figure.subplots(len(shown), 2, squeeze=False, width_ratios=(3, 2))
        for value, (left, right) in zip(shown, grid, strict=True):
            _fit(left, value)
            _residuals(right, value)
            for axes in (left, right):
                axes.grid(color="#e7eaed", lw=0.6)
                axes.set_axisbelow(True)
    more = f" Drawn are the first {MOST} of {len(values)} values." if len(values) > MOST else ""
    figure.suptitle(plot.wrapped(f"{result['summary']}{more}", 110), fontsize=9.5, x=0.01, ha="left")
    plot.foot(figure, result)
    return plot.svg(figure, "Fit and residuals of a calibration")


def _label(axis: Mapping[str, Any]) -> str:
    title = f"{axis['title'][0].upper()}{axis['title'][1:]}"
    return title if axis["unit"] == "1" else f"{title}, {plot.unit(axis['unit'])}"


def _far(value: Mapping[str, Any]) -> set[tuple[str, int | None]]:
    """Return specimens and readings that stand far off."""
    return {(item["specimen"], item["line"]) for item in value["outliers"]}


def _is_far(point: Mapping[str, Any], far: set[tuple[str, int | None]]) -> bool:
    return (point["specimen"], None) in far or (point["specimen"], point["line"]) in far


def _fit(axes: Any, value: Mapping[str, Any]) -> None:
    """Draw what the records say, and the fit."""
    if value["x"] is None:
        _by_specimen(axes, value)
    elif any(point["x"] is None or point["line"] is None for point in value["points"]) or value["x"]["unit"] == "1":
        _lives(axes, value)
    else:
        _readings(axes, value)


def _ends(axes: Any, place: float, point: Mapping[str, Any], colour: str) -> None:
    """Draw between what a number lies; an open end is an arrow."""
    low, high = point["low"], point["high"]
    if low is not None and high is not None:
        axes.plot([low, high], [place, place], color=colour, lw=2.0, marker="|", ms=7.0, zorder=4)
        return
    end = high if low is None else low
    axes.annotate("", (end * (0.8 if low is None else 1.25), place), (end, place), zorder=4,
                  arrowprops={"arrowstyle": "->", "color": colour, "lw": 1.6})  # fmt: skip
    axes.plot(end, place, marker="|", ms=7.0, color=colour, zorder=4)


def _by_specimen(axes: Any, value: Mapping[str, Any]) -> None:
    """Draw one number a specimen, from top to bottom, with the value that was found and what the house has."""
    points, far, found, house = value["points"], _far(value), value["found"], value["house"]
    handles: list[Any] = []
    if house is not None and house["high"] > house["low"]:
        handles.append(axes.axvspan(house["low"], house["high"], color=HOUSE, lw=0.0, zorder=1, label="house"))
    elif house is not None:
        handles.append(axes.axvline(house["value"], color=plot.SOFT, lw=1.2, ls="--", zorder=2, label="house"))
    handles.append(axes.axvspan(found["low"], found["high"], color=BAND, lw=0.0, zorder=2, label="interval"))
    handles.append(axes.axvline(found["value"], color=FIT, lw=1.8, zorder=3, label="found"))
    for place, point in enumerate(points):
        colour = FAR if _is_far(point, far) else SEEN
        if point["seen"] is None:
            _ends(axes, place, point, colour)
        else:
            axes.plot(point["seen"], place, "o", ms=5.5, mfc=colour, mec=plot.PAPER, zorder=5)
    exact = any(point["seen"] is not None for point in points)
    for colour, label in ((SEEN, "a specimen"), (FAR, "far off")):
        if colour == SEEN or any(_is_far(point, far) for point in points):
            mark: dict[str, Any] = (
                {"ls": "none", "marker": "o", "mfc": colour, "mec": plot.PAPER} if exact else {"lw": 2.0}
            )
            handles.append(Line2D([], [], color=colour, label=label, **mark))
    axes.set_xscale("log")
    _plain_ticks(axes.xaxis)
    axes.set_ylim(len(points) - 0.4, -0.6)
    if len(points) <= _NAMED:
        axes.set_yticks(range(len(points)), [point["specimen"][:16] for point in points], fontsize=7.0)
    else:
        axes.set_yticks([])
        axes.set_ylabel(f"{len(points)} specimens")
    axes.set_xlabel(plot.wrapped(_label(value["y"]), 62))
    axes.legend(handles=handles, loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=5, borderaxespad=0.2, handlelength=1.4,
                columnspacing=1.2)  # fmt: skip


def _plain_ticks(axis: Any) -> None:
    """Write the ticks of a logarithmic axis as numbers, some of them."""
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

    low, high = axis.get_view_interval()
    narrow = low > 0.0 and high / low < 30.0
    axis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0) if narrow else (1.0,)))
    axis.set_major_formatter(FuncFormatter(lambda number, _: format_number(number, 2)))
    axis.set_minor_formatter(NullFormatter())


def _readings(axes: Any, value: Mapping[str, Any]) -> None:
    """Draw readings over their axis, and the line of the fit for each specimen."""
    points, far = value["points"], _far(value)
    for specimen in dict.fromkeys(point["specimen"] for point in points):
        own = sorted((point for point in points if point["specimen"] == specimen), key=lambda point: point["x"])
        axes.plot([p["x"] for p in own], [p["fitted"] for p in own], color=FIT, lw=1.0, alpha=0.7, zorder=3)
    for point in points:
        colour = FAR if _is_far(point, far) else SEEN
        axes.plot(point["x"], point["seen"], "o", ms=4.0, mfc=colour, mec=plot.PAPER, mew=0.6, zorder=5)
    axes.set_xscale("log")
    _plain_ticks(axes.xaxis)
    axes.set_xlabel(_label(value["x"]))
    axes.set_ylabel(plot.wrapped(_label(value["y"]), 34))
    handles = [
        Line2D([], [], ls="none", marker="o", mfc=SEEN, mec=plot.PAPER, label="a reading"),
        Line2D([], [], color=FIT, lw=1.4, label="the fit, a line for each specimen"),
    ]
    axes.legend(handles=handles, loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=3, borderaxespad=0.2)


def _weibull(share: Any) -> Any:
    """Return the ordinate of a Weibull plot, on which the distribution is a straight line."""
    return np.log(-np.log1p(-np.asarray(share)))


def _lives(axes: Any, value: Mapping[str, Any]) -> None:
    """Draw lives on a Weibull plot: what has ended at its median rank, and what goes on below it."""
    points = value["points"]
    ended = [point for point in points if point["x"] is not None]
    share = _weibull([point["x"] for point in ended])
    axes.plot([p["seen"] for p in ended], share, "o", ms=5.0, mfc=SEEN, mec=plot.PAPER, zorder=5, label="ended")
    order = np.argsort(share)
    axes.plot([ended[k]["fitted"] for k in order], share[order], color=FIT, lw=1.8, zorder=3, label="the fit")
    floor = min(float(share.min()), float(_weibull(0.02)))
    for k, point in enumerate(point for point in points if point["x"] is None):
        axes.plot(point["low"], floor, ">", ms=5.0, mfc="none", mec=SEEN, zorder=4, label="" if k else "still living")
    axes.set_xscale("log")
    _plain_ticks(axes.xaxis)
    marks = [share for share in (0.02, 0.05, 0.1, 0.2, 0.5, 0.8, 0.95, 0.99) if _weibull(share) >= floor - 0.1]
    axes.set_yticks(_weibull(marks), [f"{100.0 * share:g} %" for share in marks])
    axes.set_xlabel(_label(value["y"]))
    axes.set_ylabel(_label({**value["x"], "unit": "1"}))
    axes.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=3, borderaxespad=0.2)


def _residuals(axes: Any, value: Mapping[str, Any]) -> None:
    """Draw what is left over: seen over fitted, against what it should not depend on."""
    points, far = value["points"], _far(value)
    exact = [point for point in points if point["seen"] is not None]
    axes.axhline(1.0, color=plot.SOFT, lw=1.0, zorder=2)
    if value["x"] is None and exact:
        ordered = sorted(exact, key=lambda point: point["seen"])
        n = len(ordered)
        x: Sequence[float] = scipy.stats.norm.ppf((np.arange(n) + 0.625) / (n + 0.25)).tolist()
        if value["scatter"] is not None and value["scatter"] > 0.0:
            edge = np.array([x[0], x[-1]])
            axes.plot(
                edge,
                np.exp(edge * value["scatter"]),
                color=FIT,
                lw=1.2,
                ls="--",
                zorder=3,
                label="normal, of this scatter",
            )
            axes.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), borderaxespad=0.2)
        axes.set_xlabel("Normal quantile")
    elif value["x"] is None:
        for place, point in enumerate(points):
            colour = FAR if _is_far(point, far) else SEEN
            held = [end / point["fitted"] for end in (point["low"], point["high"]) if end is not None]
            axes.plot([place] * len(held), held, color=colour, lw=2.0, marker="_", ms=7.0, zorder=4)
        axes.set_xticks([])
        axes.set_xlabel("Specimen, in the order of the table")
        ordered, x = [], []
    else:
        ordered = [point for point in exact if point["x"] is not None]
        x = [point["x"] for point in ordered]
        axes.set_xlabel(_label(value["x"]))
        if value["x"]["unit"] != "1":
            axes.set_xscale("log")
    for at, point in zip(x, ordered, strict=True):
        colour = FAR if _is_far(point, far) else SEEN
        axes.plot(at, point["seen"] / point["fitted"], "o", ms=4.5, mfc=colour, mec=plot.PAPER, mew=0.6, zorder=5)
    if axes.get_xscale() == "log":
        _plain_ticks(axes.xaxis)
    low, high = axes.get_ylim()
    if low > 0.0 and high / low > 3.0:
        axes.set_yscale("log")
        _plain_ticks(axes.yaxis)
    axes.set_ylabel("Records over fit")
