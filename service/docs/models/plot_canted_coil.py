"""Plot of the canted coil model against its check rows: ``python service/docs/models/plot_canted_coil.py``."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.mechanics import rods
from glandwise.numerics.over import Over

HERE = Path(__file__).parent
CASES = HERE.parents[2] / "tests" / "published" / "cases" / "canted_coil.toml"
COLOURS = {"A": "tab:blue", "C": "tab:red", "D": "tab:green"}
ANGLES = {"A": 35, "C": 45, "D": 30}
PLAIN = Over(rods)


def load_per_coil(delta: Any, coil: dict[str, float]) -> Any:
    """Load of one turn."""
    shape = [coil[name] for name in ("pitch", "half_width", "half_height", "cant_angle")]
    return rate(coil) * PLAIN.canted_coil(delta, *shape, poisson(coil)).share * delta


def rate(coil: dict[str, float]) -> Any:
    """Load of one turn over a small compression."""
    names = ("pitch", "half_width", "half_height", "cant_angle", "wire_diameter", "elastic_modulus", "shear_modulus")
    return PLAIN.canted_coil_rate(*(coil[name] for name in names))


def poisson(coil: dict[str, float]) -> float:
    """Poisson ratio of the wire."""
    return 0.5 * coil["elastic_modulus"] / coil["shear_modulus"] - 1.0


def main() -> None:
    """Write ``img/canted_coil.svg``."""
    mpl.rcParams["svg.hashsalt"] = "glandwise"
    figure, (left, right) = plt.subplots(1, 2, figsize=(10.0, 4.2), layout="constrained")
    shown: set[str] = set()
    for case in tomllib.loads(CASES.read_text(encoding="utf-8"))["case"]:
        if (
            "load_per_coil" not in case["expected"] or case.get("scale", {}).get("load_per_coil", 1.0) != 1.0
        ):  # a secant, not a load
            continue
        coil = dict(case["input"])
        delta = coil.pop("deflection")
        name = case["name"].split()[1]
        height = 2 * coil["half_height"] + coil["wire_diameter"]
        if name not in shown:
            shown.add(name)
            share = np.linspace(0.0, 0.45, 181)
            load = load_per_coil(share * height, coil)
            left.plot(share, load, color=COLOURS[name], label=f"coil {name}, cant {ANGLES[name]}°")
            start = np.array([0.0, 0.12])
            left.plot(start, rate(coil) * start * height, color=COLOURS[name], lw=0.8, ls=":")
            shape = [coil[name] for name in ("pitch", "half_width", "half_height", "cant_angle", "wire_diameter")]
            touch = PLAIN.canted_coil_touching(*shape, poisson(coil))
            if touch < 0.45 * height:
                left.plot(touch / height, load_per_coil(touch, coil), "k|", ms=12)
        bvp = case["source"] == "rod"
        left.plot(
            delta / height,
            case["expected"]["load_per_coil"],
            "o" if bvp else "x",
            color=COLOURS[name],
            mfc="white" if bvp else None,
            ms=6,
        )
    left.plot([], [], "ko", mfc="white", label="boundary-value solution")
    left.plot([], [], "kx", label="discrete rod, fixed crest")
    left.plot([], [], "k:", lw=0.8, label="small-deflection rate")
    left.plot([], [], "k|", ms=12, label="neighbouring turns touch")
    left.set(xlabel="compression over free height, δ/H", ylabel="load per coil, N", xlim=(0, 0.45), ylim=(0, 0.95))
    left.legend(fontsize=8, loc="upper left")
    xi = np.linspace(0.0, 0.54, 181)
    shades = plt.get_cmap("viridis")(np.linspace(0.0, 0.9, 7))
    for shade, angle in zip(shades, (15, 20, 25, 30, 40, 50, 60), strict=True):
        coil = {
            "pitch": 0.6e-3,
            "half_width": 1.1e-3,
            "half_height": 1.0e-3,
            "cant_angle": math.radians(angle),
            "wire_diameter": 0.2e-3,
            "elastic_modulus": 200e9,
            "shear_modulus": 200e9 / 2.6,
        }
        load = load_per_coil(2e-3 * xi, coil)
        right.plot(xi, load / load[120], color=shade, label=f"{angle}°")
    right.set(xlabel="compression over centreline height, δ/2b", ylabel="load over load at δ/2b = 0.36", xlim=(0, 0.54))
    right.set_ylim(0, 1.3)
    right.legend(title="cant angle; a/b 1.1, p/b 0.6", fontsize=8, loc="lower right", ncols=2)
    for axes in (left, right):
        axes.grid(alpha=0.3)
    figure.savefig(HERE / "img" / "canted_coil.svg", metadata={"Date": None})
    plt.close(figure)


if __name__ == "__main__":
    main()
