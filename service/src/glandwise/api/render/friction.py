"""Torque, contact temperature and film over the speed, as a picture."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from glandwise.api.render import plot
from glandwise.contract.running import FrictionEstimateRequest
from glandwise.engine import Engine
from glandwise.questions.friction.over_speed import over_speed

TORQUE, HEAT, FILM, LIMIT, BAND = "#1f5f8b", "#b5651d", "#2f7f6e", "#a8323e", "#dfeaf2"


def render_over_speed(result: Mapping[str, Any], request: FrictionEstimateRequest, engine: Engine) -> bytes:
    """Draw the friction of a request over the speed as SVG."""
    with plot.style():
        return _draw(result, request, engine)


def _draw(result: Mapping[str, Any], request: FrictionEstimateRequest, engine: Engine) -> bytes:
    found, units = over_speed(request, engine), request.units.system_of_units()

    def shown(dimension: str, values: Any) -> Any:
        flat = [units.quantity(dimension, float(x))["value"] if np.isfinite(x) else np.nan for x in np.ravel(values)]
        return np.array(flat).reshape(np.shape(values))

    spread = result["spread"]
    figure = plot.figure(7.6, 6.6 if spread is None else 8.4, 0.12)
    if spread is None:
        upper, middle, lower = figure.subplots(3, 1, sharex=True, height_ratios=(3, 3, 2))
    else:
        grid = figure.add_gridspec(4, 1, height_ratios=(3, 3, 2, 2))
        upper = figure.add_subplot(grid[0])
        middle, lower = figure.add_subplot(grid[1], sharex=upper), figure.add_subplot(grid[2], sharex=upper)
        for axes in (upper, middle):
            axes.tick_params(labelbottom=False)
        ends = grid[3].subgridspec(1, 2, width_ratios=(2, 3))
        _tolerances(figure.add_subplot(ends[0]), figure.add_subplot(ends[1]), spread)
    symbol = {name: plot.unit(units.units[name]) for name in ("surface_speed", "torque", "temperature")}
    upper.set_ylabel(f"Torque, {symbol['torque']}")
    middle.set_ylabel(f"Contact temperature, {symbol['temperature']}")
    lower.set_ylabel("Load on the film, %")
    lower.set_xlabel(f"Surface speed, {symbol['surface_speed']}")
    lower.set_ylim(0.0, 100.0)
    if found is None:
        upper.annotate("nothing moves", (0.5, 0.5), xycoords="axes fraction", ha="center", color=plot.SOFT)
    else:
        speed = shown("surface_speed", found.surface_speed)
        for axes, values, colour in (
            (upper, shown("torque", found.torque), TORQUE), (middle, shown("temperature", found.temperature), HEAT),
        ):  # fmt: skip
            axes.fill_between(speed, values[0], values[2], color=BAND, lw=0.0, zorder=1, label="low to high friction")
            axes.plot(speed, values[1], color=colour, lw=2.0, zorder=3, label="nominal")
        lower.plot(speed, 100.0 * found.film_share, color=FILM, lw=2.0, zorder=3)
        lower.set_xscale("log")
        lower.set_xlim(float(speed[0]), float(speed[-1]))
        upper.set_ylim(0.0, None)
        limit = result["temperature_limit"]["value"]
        bottom, top = middle.get_ylim()
        if limit <= top + 0.3 * (top - bottom):
            what = "the fluid leaves deposits" if result["temperature_limit_by"] == "fluid" else "limit of the compound"
            middle.axhline(limit, color=LIMIT, lw=1.4, ls="--", zorder=2, label=what)
        here = result["surface_speed"]["value"]
        for axes in (upper, middle, lower):
            axes.axvline(here, color=plot.SOFT, lw=1.0, ls=(0, (2, 2)), zorder=2,
                         label=f"the duty {plot.VERDICT_WORD[result['verdict']]}" if axes is upper else None)  # fmt: skip
        upper.legend(loc="best")
        middle.legend(loc="best")
    for axes in (upper, middle, lower):
        axes.grid(color="#e7eaed", lw=0.6)
        axes.set_axisbelow(True)
    figure.suptitle(plot.wrapped(result["summary"], 96), fontsize=9.5, x=0.02, ha="left")
    plot.foot(figure, result)
    return plot.svg(figure, "Friction over the speed")


def _tolerances(left: Any, right: Any, spread: Mapping[str, Any]) -> None:
    """Draw what tolerances make of the torque, and how much each of them, the widest first."""
    torque = spread["torque"]

    def value(name: str) -> float:
        return np.nan if torque[name] is None else float(torque[name]["value"])

    left.plot([value("minimum"), value("maximum")], [0.0] * 2, color=plot.INK, lw=1.0, marker="|", ms=9.0, zorder=3,
              label="extremes of tolerance")  # fmt: skip
    left.plot([value("percentile_5"), value("percentile_95")], [0.0] * 2, color=plot.INK, lw=8.0, alpha=0.4,
              solid_capstyle="butt", zorder=3, label="nine tenths of all samples")  # fmt: skip
    left.plot(value("nominal"), 0.0, "o", ms=5.5, mfc=TORQUE, mec=plot.PAPER, zorder=4, label="nominal")
    left.set_ylim(-1.0, 2.2)
    left.set_yticks([])
    known = next((torque[name]["unit"] for name in torque if torque[name] is not None), "")
    left.set_xlabel(f"Torque with tolerances{', ' + plot.unit(known) if known else ': not known'}")
    left.legend(loc="upper left", fontsize=7.0)
    inputs = spread["sensitivities"]
    at = np.arange(len(inputs))[::-1]
    right.barh(at, [100.0 * item["swing"] for item in inputs], 0.62, color=TORQUE, zorder=3)
    right.axvline(0.0, color=plot.SOFT, lw=0.8)
    right.set_yticks(at, [item["input"].replace("_", " ") for item in inputs])
    right.tick_params(axis="y", length=0.0, labelsize=7.5)
    right.set_xlabel("Change of the torque over each tolerance, %")
    for axes in (left, right):
        axes.grid(axis="x", color="#e7eaed", lw=0.6)
        axes.set_axisbelow(True)
