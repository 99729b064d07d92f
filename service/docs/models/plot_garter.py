"""Plot of the garter ring against its check rows: ``python service/docs/models/plot_garter.py``."""

from __future__ import annotations

import tomllib
from pathlib import Path

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.mechanics import springs
from glandwise.numerics.over import Over

HERE = Path(__file__).parent
CASES = HERE.parents[2] / "tests" / "published" / "cases" / "springs.toml"
PLAIN = Over(springs)
COLOURS = ("tab:blue", "tab:red")


def main() -> None:
    """Write ``img/garter.svg``."""
    mpl.rcParams["svg.hashsalt"] = "glandwise"
    cases = tomllib.loads(CASES.read_text(encoding="utf-8"))["case"]
    figure, (left, right) = plt.subplots(1, 2, figsize=(10.0, 4.2), layout="constrained")

    rings = [case for case in cases if case["function"].endswith(":garter_ring")]
    for case, colour in zip(rings, COLOURS, strict=True):
        ring = dict(case["input"])
        seat = ring.pop("ring_radius")
        ring.pop("contact_radius")
        free = ring["free_length"] / (2.0 * np.pi)
        radius = np.linspace(0.97 * free, 1.14 * free, 400)
        names = ("wire_diameter", "coil_diameter", "shear_modulus", "active_coils", "free_length", "initial_tension")
        load = PLAIN.garter_ring(*(ring[name] for name in names), radius, radius).line_load
        stretched = radius > free
        label = f"free length {1e3 * ring['free_length']:.0f} mm, initial tension {ring['initial_tension']:g} N"
        left.plot(1e3 * radius[stretched], load[stretched] / 1e3, color=colour, label=label)
        left.plot(1e3 * radius[~stretched], load[~stretched] / 1e3, color=colour)
        left.plot(1e3 * seat, case["expected"]["line_load"], "o", ms=6, mfc="white", color=colour, zorder=3)
    left.plot([], [], "ko", mfc="white", label="check rows")
    left.set(xlabel="radius of the spring axis on its seat, mm", ylabel="radial load T/r, N/mm", ylim=(-0.002, 0.24))
    left.legend(fontsize=8, loc="upper left")

    index = np.linspace(2.5, 14.0, 200)
    right.plot(index, (4.0 * index - 1.0) / (4.0 * index - 4.0) + 0.615 / index, color="tab:blue", label="Wahl")
    right.plot(index, PLAIN.en13906_factor(index), color="tab:red", label="EN 13906 (= Bergsträsser)")
    for name, colour in (("wahl_factor", "tab:blue"), ("en13906_factor", "tab:red")):
        rows = [case for case in cases if case["function"].endswith(":" + name) and case["kind"] == "derived"]
        right.plot(
            [case["input"].get("index", case["input"].get("w")) for case in rows],
            [case["expected"]["value"] for case in rows],
            "o",
            ms=5,
            mfc="white",
            color=colour,
        )
    right.plot([], [], "ko", mfc="white", label="check rows")
    right.set(xlabel="spring index D/d", ylabel="stress factor", xlim=(2.5, 14))
    right.legend(fontsize=8)
    for axes in (left, right):
        axes.grid(alpha=0.3)
    figure.savefig(HERE / "img" / "garter.svg", metadata={"Date": None})
    plt.close(figure)


if __name__ == "__main__":
    main()
