"""Wear over the time and how sure a life is, as a picture: depth worn, and the share of such seals that still runs."""

from __future__ import annotations

from collections.abc import Mapping
from statistics import NormalDist
from typing import Any

import numpy as np

from glandwise.api.render import plot
from glandwise.contract.running import WearEstimateRequest
from glandwise.engine import Engine
from glandwise.questions.wear.over_time import over_time
from glandwise.units import format_number, from_si

SHARES = {"short": 0.95, "sure": 0.8, "nominal": 0.5, "long": 0.05}
"""Share of seals that reaches each of the lives of a result."""
LINE, BAND, WANTED = "#1f5f8b", "#dfeaf2", "#8c2f4b"


def render_life(result: Mapping[str, Any], request: WearEstimateRequest, engine: Engine) -> bytes:
    """Draw the depth worn and the share of seals that still runs over the time as SVG."""
    with plot.style():
        return _draw(result, request, engine)


def _depth(axes: Any, result: Mapping[str, Any], request: WearEstimateRequest, engine: Engine) -> None:
    """Draw the depth worn over the time, with nine in ten of such seals."""
    units, found = request.units.system_of_units(), over_time(request, engine)
    length, unit = units.units["length"], result["target_life"]["unit"]
    axes.set_ylabel(f"Wear of the lip, {plot.unit(length)}")
    if found is None:
        axes.annotate("no wear is known", (0.5, 0.5), xycoords="axes fraction", ha="center", color=plot.SOFT)
        return
    depth = np.array([from_si(float(value), "length", length) for value in found.depth])

    def shown(times: Any) -> Any:
        return np.array([from_si(float(value), "time", unit) if np.isfinite(value) else np.nan for value in times])

    axes.fill_betweenx(depth, shown(found.early), shown(found.late), color=BAND, lw=0.0, zorder=1, label="nine in ten")
    axes.plot(shown(found.time), depth, color=LINE, lw=2.0, zorder=3, label="median")
    axes.axhline(
        depth[-1], color=WANTED, lw=1.2, ls=":", zorder=2, label=f"allowed {format_number(float(depth[-1]), 3)}"
    )
    axes.set_ylim(0.0, 1.12 * float(depth[-1]))
    half = result["to_half_load"]
    if half is not None:
        axes.axvline(half["value"], color=plot.SOFT, lw=1.0, ls=(0, (4, 2)), zorder=2, label="half of the load is lost")
    axes.grid(color="#e7eaed", lw=0.6, which="both")
    axes.set_axisbelow(True)
    axes.legend(loc="best")


def _draw(result: Mapping[str, Any], request: WearEstimateRequest, engine: Engine) -> bytes:
    figure = plot.figure(7.6, 6.4)
    upper, axes = figure.subplots(2, 1, sharex=True)
    _depth(upper, result, request, engine)
    life, wanted = result["life"], result["target_life"]
    unit = wanted["unit"]
    axes.set_xlabel(f"Running time, {plot.unit(unit)}")
    axes.set_ylabel("Seals that still run, %")
    axes.set_ylim(0.0, 100.0)
    axes.set_xscale("log")
    if life is None:
        axes.annotate("the life is not known", (0.5, 0.5), xycoords="axes fraction", ha="center", color=plot.SOFT)
    else:
        _life(axes, life, wanted["value"])
    axes.axvline(wanted["value"], color=WANTED, lw=1.4, ls="--", zorder=4,
                 label=f"wanted{'' if result['target_stated'] else ', taken since none is stated'}")  # fmt: skip
    if result["life_probability"] is not None:
        axes.plot(wanted["value"], 100.0 * result["life_probability"], "o", ms=8.0, mfc=plot.VERDICT_COLOUR[result["verdict"]],
                  mec=plot.PAPER, mew=1.2, zorder=6, clip_on=False,
                  label=f"{100.0 * result['life_probability']:.0f} % reach it")  # fmt: skip
    axes.grid(color="#e7eaed", lw=0.6, which="both")
    axes.set_axisbelow(True)
    axes.legend(loc="best")
    figure.suptitle(plot.wrapped(result["summary"], 96), fontsize=9.5, x=0.02, ha="left")
    plot.foot(figure, result)
    return plot.svg(figure, "Wear over the time, and how sure the life is")


def _life(axes: Any, life: Mapping[str, Any], wanted: float) -> None:
    """Draw the curve through the lives told; beyond the longest that is told nothing is known."""
    longest = life["longest"]["value"]
    known = [(life[name]["value"], share) for name, share in SHARES.items() if life[name] is not None]
    told = [(time, share) for time, share in known if 0.0 < time < longest]
    if len(told) > 1:
        # straight between the points where the time is in logarithms and the share in standard deviations
        normal = NormalDist()
        times = np.log([time for time, _ in told])
        deviates = np.array([normal.inv_cdf(share) for _, share in told])
        steep = (deviates[-1] - deviates[0]) / (times[-1] - times[0])
        first = min(times[0] - 1.5, np.log(wanted) - 0.7)
        last = min(times[-1] + 1.5, np.log(longest))
        at = np.linspace(first, last, 160)
        inside = np.interp(at, times, deviates)
        z = np.where(at < times[0], deviates[0] + steep * (at - times[0]), inside)
        z = np.where(at > times[-1], deviates[-1] + steep * (at - times[-1]), z)
        share = 100.0 * np.array([normal.cdf(float(value)) for value in z])
        axes.fill_between(np.exp(at), 0.0, share, color=BAND, lw=0.0, zorder=1)
        axes.plot(np.exp(at), share, color=LINE, lw=2.0, zorder=3, label="estimate, by its range")
        axes.set_xlim(float(np.exp(first)), float(np.exp(last)))
    elif known:
        axes.set_xlim(0.2 * wanted, 1.2 * max(longest, wanted))
    axes.plot([time for time, _ in told], [100.0 * share for _, share in told], "D", ms=5.0, mfc=LINE, mec=plot.PAPER,
              ls="none", zorder=5)  # fmt: skip
    if len(told) < len(known):
        axes.annotate("the longest life that is told", (longest, 4.0), xytext=(-4.0, 0.0), textcoords="offset points",
                      ha="right", fontsize=7.5, color=plot.SOFT)  # fmt: skip
