"""How lip and body fit over the temperature, as a picture."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from glandwise.api.render import plot

LIP, BODY, LOAD, CHANGE = "#1f5f8b", "#8c5a12", "#2f7f6e", "#e9e4d6"


def render_curve(result: Mapping[str, Any]) -> bytes:
    """Draw interference of the lip, clearance of the body and load over the temperature as SVG."""
    with plot.style():
        return _draw(result)


def _draw(result: Mapping[str, Any]) -> bytes:
    points = sorted(result["points"], key=lambda point: point["temperature"]["value"])

    def column(name: str) -> Any:
        return np.array([np.nan if point[name] is None else point[name]["value"] for point in points])

    warm = column("temperature")
    figure = plot.figure(7.6, 6.4)
    upper, middle, lower = figure.subplots(3, 1, sharex=True)
    lone = {"marker": "o", "ms": 5.0} if len(points) < 3 else {}
    for axes, name, colour, label in (
        (upper, "interference", LIP, "lip on the shaft, on the diameter"),
        (middle, "body_clearance", BODY, "body in the bore, on the diameter"),
        (lower, "lip_load", LOAD, "lip by itself"),
    ):
        values = column(name)
        axes.plot(warm, values, color=colour, lw=2.0, label=label, zorder=3, **lone)
        if name != "lip_load":
            axes.axhline(0.0, color=plot.SOFT, lw=0.9, zorder=2)
    if np.isfinite(column("energizer_load")).any():
        lower.plot(warm, column("energizer_load"), color=plot.INK, lw=1.6, ls="--", label="energizer", zorder=3, **lone)
    upper.set_ylabel(f"Interference, {plot.unit(points[0]['interference']['unit'])}")
    middle.set_ylabel(f"Clearance, {plot.unit(points[0]['body_clearance']['unit'])}")
    lower.set_ylabel(f"Line load, {plot.unit(points[0]['lip_load']['unit'])}")
    band = result["transition"]
    for axes in (upper, middle, lower):
        if band is not None and band["crossed"]:
            axes.axvspan(band["lower"]["value"], band["upper"]["value"], color=CHANGE, lw=0.0, zorder=1,
                         label="PTFE changes its phase" if axes is upper else None)  # fmt: skip
        for point in points:
            if point["mark"] is not None:
                axes.axvline(point["temperature"]["value"], color=plot.SOFT, lw=0.8, ls=(0, (2, 2)), zorder=2)
        axes.grid(color="#e7eaed", lw=0.6)
        axes.set_axisbelow(True)
        axes.legend(loc="best")
    for place, mark in _marks(points):
        upper.annotate(mark, (place, 1.0), xycoords=("data", "axes fraction"), xytext=(2.0, 3.0), textcoords="offset points",
                       fontsize=7.0, color=plot.SOFT, rotation=25.0, annotation_clip=False)  # fmt: skip
    lower.set_xlabel(f"Temperature, {plot.unit(points[0]['temperature']['unit'])}")
    if len(warm) > 1 and warm[-1] > warm[0]:
        lower.set_xlim(warm[0], warm[-1])
    figure.suptitle(plot.wrapped(result["summary"], 96), fontsize=9.5, x=0.02, ha="left")
    plot.foot(figure, result)
    return plot.svg(figure, "Fit of lip and body over the temperature")


def _marks(points: list[Any]) -> list[tuple[float, str]]:
    """Return the temperatures of the duty and their names; those at one place share a mark."""
    named: dict[float, list[str]] = {}
    for point in points:
        if point["mark"] is not None:
            named.setdefault(point["temperature"]["value"], []).append(point["mark"])
    return [(place, ", ".join(dict.fromkeys(names))) for place, names in named.items()]
