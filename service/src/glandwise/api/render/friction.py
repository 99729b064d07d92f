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

    figure = plot.figure(7.6, 6.6)
    upper, middle, lower = figure.subplots(3, 1, sharex=True, height_ratios=(3, 3, 2))
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
