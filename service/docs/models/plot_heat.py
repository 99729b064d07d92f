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
from glandwise.mechanics import heat
from glandwise.mechanics.choices import FilmCorrelation
from glandwise.numerics.over import Over

PLAIN = Over(heat)
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
    figure, axes = plt.subplots(1, 3, figsize=(14.0, 4.2), layout="constrained")
    fin, film, ring = axes
    length = np.linspace(0.03, 0.6, 60)
    for (d, k, h, q), colour in zip(
        ((0.05, 50.0, 40.0, 100.0), (0.05, 15.0, 40.0, 100.0), (0.03, 45.0, 25.0, 50.0), (0.1, 50.0, 60.0, 400.0)),
        ("tab:blue", "tab:red", "tab:green", "tab:purple"),
        strict=True,
    ):
        label = f"d {d * 1e3:g} mm, k {k:g}, h {h:g}, {q:g} W"
        fin.plot(length, 0.5 * q / PLAIN.fin_conductance(d, k, h, length), color=colour, label=label)
        fin.axhline(0.5 * q / PLAIN.fin_conductance(d, k, h, np.inf), color=colour, lw=0.7, ls=":")
        for case in rows("fin_temperature_rise", diameter=d, conductivity=k, film=h):
            if "length" in case["input"]:
                fin.plot(case["input"]["length"], case["expected"]["value"], "o", color=colour, mfc="white")
    fin.plot([], [], "ko", mfc="white", label="rows, insulated end")
    fin.set(xlabel="length of either side, m", ylabel="rise at the contact, K", ylim=(0, 260), title="Shaft as a fin")
    fin.legend(fontsize=8)
    air = [0.0263, 15.89e-6, 0.707, 1 / 300]
    turns = np.geomspace(10.0, 10_000.0, 40) / 60
    for name, colour in zip(FilmCorrelation, plt.colormaps["tab10"].colors, strict=False):
        reynolds = math.pi * turns * 0.05**2 / air[1]
        grashof = 9.80665 * air[3] * 50.0 * 0.05**3 / air[1] ** 2
        h = PLAIN.turning_nusselt(reynolds, grashof, air[2], name) * air[0] / 0.05
        film.loglog(turns * 60, h, color=colour, label=name.name)
        for case in rows("rotating_cylinder_film", diameter=0.05, correlation=name.name):
            film.plot(case["input"]["rotation_speed"] * 60, case["expected"]["film"], "o", color=colour, mfc="white")
    film.axhline(PLAIN.still_nusselt(grashof, air[2]) * air[0] / 0.05, color="k", ls="--", label="natural convection")
    film.set(
        xlabel="turns per minute",
        ylabel="h, W/(m²·K)",
        ylim=(2, 200),
        title="50 mm shaft in air, 50 K",
    )
    film.legend(fontsize=8)
    epsilon = np.geomspace(1e-4, 1.0, 50)
    factor = PLAIN.ring_constriction(2.0, epsilon, 1.0) * 2 * math.pi
    ring.semilogx(epsilon, factor, "tab:blue", label="table of the integral")
    ring.semilogx(epsilon, -np.log(epsilon) / math.pi, "k:", label="ln(1/ε)/π")
    for case in rows("ring_constriction"):
        ring.plot(case["input"]["b"], case["expected"]["value"], "o", color="tab:blue", mfc="white")
    ring.plot([], [], "o", color="tab:blue", mfc="white", label="finite elements")
    ring.set(xlabel="ring width over shaft radius ε", ylabel="constriction factor Φ", ylim=(0, 3), title="Constriction")
    ring.legend(fontsize=8)
    for axis in axes.flat:
        axis.minorticks_off()  # each tick costs as much in the file as a data point
    figure.savefig(HERE / "img" / "heat.svg", metadata={"Date": None})
    plt.close(figure)


if __name__ == "__main__":
    main()
