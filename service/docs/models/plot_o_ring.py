"""Plot of the O-ring load and hardness models against their checks: ``python service/docs/models/plot_o_ring.py``."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.mechanics import springs
from glandwise.numerics.over import Over
from scipy.stats import norm

HERE = Path(__file__).parent
CASES = HERE.parents[2] / "tests" / "published" / "cases" / "o_ring.toml"


PLAIN = Over(springs)


def line_contact(squeeze: float) -> float:
    """Load factor of an incompressible cylinder between rigid flats, plane strain and small strain (Johnson, 5.57)."""
    plane, radius, load = 1.0 / 0.75, 0.5, 1e-3
    for _ in range(200):
        a = math.sqrt(4.0 * load * radius / (math.pi * plane))
        load = squeeze * math.pi * plane / (4.0 * (math.log(4.0 * radius / a) - 0.5))
    return load


def main() -> None:
    """Write ``img/o_ring.svg``."""
    mpl.rcParams["svg.hashsalt"] = "glandwise"
    cases = tomllib.loads(CASES.read_text(encoding="utf-8"))["case"]
    figure, (left, right) = plt.subplots(1, 2, figsize=(10.0, 4.2), layout="constrained")

    squeeze = np.linspace(0.0, 0.42, 300)
    left.plot(100 * squeeze, PLAIN.o_ring_load(1.0, squeeze, 1.0, 0.5).line_load, color="tab:blue", label="Lindley")
    small = np.linspace(0.005, 0.25, 60)
    contact = [line_contact(float(c)) for c in small]
    left.plot(100 * small, contact, "k--", lw=0.9, label="line contact, small strain")
    rows = [case for case in cases if case["function"].endswith(":lindley_factor")]
    left.plot(
        [100 * case["input"]["squeeze_ratio"] for case in rows],
        [case["expected"]["value"] for case in rows],
        "o",
        ms=5,
        mfc="white",
        color="tab:blue",
        label="check rows",
    )
    left.set(xlabel="squeeze over section, %", ylabel="F/(πDdE)", xlim=(0, 42), ylim=(0, 0.55))
    left.legend(fontsize=8, loc="upper left")

    hardness = np.linspace(30.0, 92.0, 200)
    right.semilogy(hardness, PLAIN.gent_modulus(hardness) / 1e6, color="tab:blue", label="Gent, Shore A")
    right.semilogy(hardness, 10.0 ** (0.364 + 0.7 * norm.ppf(hardness / 100.0)), color="tab:red", label="ISO 48, IRHD")
    for name, colour in (("gent_modulus", "tab:blue"), ("irhd_modulus", "tab:red")):
        rows = [case for case in cases if case["function"].endswith(":" + name)]
        right.semilogy(
            [case["input"].get("S", case["input"].get("irhd")) for case in rows],
            [case["expected"]["value"] for case in rows],
            "o",
            ms=5,
            mfc="white",
            color=colour,
        )
    right.axvspan(30, 40, color="0.9", label="below the range stated for Gent")
    right.plot([], [], "ko", mfc="white", label="check rows")
    right.set(xlabel="hardness", ylabel="Young's modulus, MPa", xlim=(30, 92))
    right.legend(fontsize=8, loc="upper left")
    for axes in (left, right):
        axes.grid(alpha=0.3, which="both")
    figure.savefig(HERE / "img" / "o_ring.svg", metadata={"Date": None})
    plt.close(figure)


if __name__ == "__main__":
    main()
