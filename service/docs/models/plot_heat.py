"""Plot of the heat models against their check rows: ``python service/docs/models/plot_heat.py``."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.twofold import heat

HERE = Path(__file__).parent
CASES = HERE.parents[2] / "tests" / "published" / "cases" / "heat.toml"


def rows(function: str, **match: Any) -> list[dict[str, Any]]:
    """Check rows of one function whose input agrees with ``match``."""
    document = tomllib.loads(CASES.read_text(encoding="utf-8"))
    return [
        case
        for case in document["case"]
        if case["function"].endswith(":" + function)
        and all(case["input"].get(key) == value for key, value in match.items())
    ]


def main() -> None:
    """Write ``img/heat.svg``."""
    mpl.rcParams["svg.hashsalt"] = "glandwise"
    figure, axes = plt.subplots(2, 2, figsize=(10.0, 7.6), layout="constrained")
    (fin, film), (ring, flash) = axes
    length = np.linspace(0.03, 0.6, 60)
    for (d, k, h, q), colour in zip(
        ((0.05, 50.0, 40.0, 100.0), (0.05, 15.0, 40.0, 100.0), (0.03, 45.0, 25.0, 50.0), (0.1, 50.0, 60.0, 400.0)),
        ("tab:blue", "tab:red", "tab:green", "tab:purple"),
        strict=True,
    ):
        label = f"d {d * 1e3:g} mm, k {k:g}, h {h:g}, {q:g} W"
        fin.plot(length, heat.fin_temperature_rise(q, d, k, h, length), color=colour, label=label)
        fin.axhline(heat.fin_temperature_rise(q, d, k, h), color=colour, lw=0.7, ls=":")
        for case in rows("fin_temperature_rise", diameter=d, conductivity=k, film=h):
            if "length" in case["input"]:
                end = "end_film" in case["input"]
                fin.plot(
                    case["input"]["length"], case["expected"]["value"], "s" if end else "o", color=colour, mfc="white"
                )
    fin.plot([], [], "ko", mfc="white", label="rows, insulated end")
    fin.plot([], [], "ks", mfc="white", label="rows, cooled end")
    fin.set(xlabel="length of either side, m", ylabel="rise at the contact, K", ylim=(0, 260), title="Shaft as a fin")
    fin.legend(fontsize=8)
    air = [0.0263, 15.89e-6, 0.707, 1 / 300]
    turns = np.geomspace(10.0, 10_000.0, 40) / 60
    for name, colour in zip(heat.CORRELATIONS, plt.colormaps["tab10"].colors, strict=False):
        result = heat.rotating_cylinder_film(0.05, turns, air, 50.0, name)
        film.loglog(turns * 60, np.where(result.in_range, result.film, np.nan), color=colour, label=name)
        film.loglog(turns * 60, result.film, color=colour, lw=0.6, ls=":")
        for case in rows("rotating_cylinder_film", diameter=0.05, correlation=name):
            film.plot(case["input"]["rotation_speed"] * 60, case["expected"]["film"], "o", color=colour, mfc="white")
    film.axhline(heat.natural_cylinder_film(0.05, air, 50.0).film, color="k", ls="--", label="natural convection")
    film.set(
        xlabel="turns per minute",
        ylabel="h, W/(m²·K)",
        ylim=(2, 200),
        title="50 mm shaft in air, 50 K (dotted: out of range)",
    )
    film.legend(fontsize=8)
    epsilon = np.geomspace(1e-4, 1.0, 50)
    factor = heat.ring_constriction(2.0, epsilon, 1.0) * 2 * math.pi
    ring.semilogx(epsilon, factor, "tab:blue", label="table of the integral")
    ring.semilogx(epsilon, -np.log(epsilon) / math.pi, "k:", label="ln(1/ε)/π")
    for case in rows("ring_constriction"):
        ring.plot(case["input"]["contact_width"], case["expected"]["value"], "o", color="tab:blue", mfc="white")
    ring.plot([], [], "o", color="tab:blue", mfc="white", label="finite elements")
    ring.set(xlabel="ring width over shaft radius ε", ylabel="constriction factor Φ", ylim=(0, 3), title="Constriction")
    ring.legend(fontsize=8)
    peclet = np.geomspace(0.02, 300.0, 60)
    band = heat.flash_band(math.pi * peclet, 1.0, 2 * peclet, 1.0, 1.0)
    fast = 2 * np.sqrt(math.pi * peclet)
    flash.semilogx(peclet, band.maximum / fast, "tab:red", label="greatest over fast limit")
    flash.semilogx(peclet, 1.5 * band.mean / fast, "tab:blue", label="mean over fast limit's mean")
    for case in rows("flash_band"):
        if len(case["expected"]) == 1:
            colour = "tab:red" if "maximum" in case["expected"] else "tab:blue"
            value = next(iter(case["expected"].values()))
            flash.plot(case["input"]["speed"] / 2, value, "o", color=colour, mfc="white")
    flash.plot([], [], "ko", mfc="white", label="rows")
    flash.set(xlabel="Péclet number L = Vb/2χ", ylabel="ratio", ylim=(0, 1.15), title="Band moving over a half space")
    flash.legend(fontsize=8, loc="lower right")
    for axis in axes.flat:
        axis.minorticks_off()  # each tick costs as much in the file as a data point
    figure.savefig(HERE / "img" / "heat.svg", metadata={"Date": None})
    plt.close(figure)


if __name__ == "__main__":
    main()
