"""Plot of the viscoelastic series against its check rows: ``python service/docs/models/plot_viscoelastic_ptfe.py``."""

from __future__ import annotations

import math
import sys
import tomllib
from pathlib import Path

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parents[2]))  # what the checks are made of stands with the tests

from tests.published import routes  # noqa: E402

CASES = HERE.parents[2] / "tests" / "published" / "cases" / "viscoelastic.toml"
SETS = {
    "set 1": ("tab:blue", (300.0, [200.0], [0.01])),
    "set 2": ("tab:red", (250.0, [100.0, 80.0, 70.0], [1e-3, 0.1, 10.0])),
}


def main() -> None:
    """Write ``img/viscoelastic_ptfe.svg``."""
    mpl.rcParams["svg.hashsalt"] = "glandwise"
    figure, (left, middle, right) = plt.subplots(1, 3, figsize=(12.5, 4.0), layout="constrained")
    times, frequencies = np.geomspace(1e-4, 200.0, 300), np.geomspace(0.01, 3000.0, 300)
    for name, (colour, series) in SETS.items():
        left.semilogx(times, [routes.relaxation_modulus(t, *series) for t in times], color=colour, label=name)
        moduli = np.array([routes.complex_modulus(2 * math.pi * f, *series) for f in frequencies])
        middle.semilogx(frequencies, moduli[:, 0], color=colour, label=f"E', {name}")
        middle.semilogx(frequencies, moduli[:, 1], color=colour, ls="--", label=f"E'', {name}")
        right.semilogx(frequencies, moduli[:, 1] / moduli[:, 0], color=colour, label=name)
    for case in tomllib.loads(CASES.read_text(encoding="utf-8"))["case"]:
        name, function = case["name"][:5], case["function"].split(":")[1]
        colour = SETS.get(name, ("tab:blue",))[0]
        style = {"marker": "o", "color": colour, "mfc": "white", "ms": 5, "ls": "none"}
        if function == "relaxation_modulus" and case["input"]["time"] > 0:
            left.plot(case["input"]["time"], case["expected"]["value"], **style)
        elif function == "complex_modulus":
            at = case["input"]["angular_frequency"] / (2 * math.pi)
            middle.plot([at, at], [case["expected"]["storage"], case["expected"]["loss"]], **style)
        elif function == "loss_factor":
            right.plot(case["input"]["angular_frequency"] / (2 * math.pi), case["expected"]["value"], **style)
        elif function == "standard_solid_loss_peak" and "loss_factor" in case["expected"]:
            peak = case["expected"]["angular_frequency"] / (2 * math.pi)
            right.plot(peak, case["expected"]["loss_factor"], "k*", ms=9, label="peak of set 1, closed form")
    left.set(xlabel="time after a step, s", ylabel="relaxation modulus, MPa", ylim=(0, 520))
    middle.set(xlabel="frequency, Hz", ylabel="storage and loss modulus, MPa", ylim=(0, 520))
    right.set(xlabel="frequency, Hz", ylabel="loss factor", ylim=(0, 0.36))
    left.plot([], [], "ko", mfc="white", ms=5, label="check rows")
    for axes in (left, middle, right):
        axes.legend(fontsize=8)
        axes.grid(alpha=0.3)
    figure.suptitle("synthetic series, not PTFE data", fontsize=9)
    figure.savefig(HERE / "img" / "viscoelastic_ptfe.svg", metadata={"Date": None})
    plt.close(figure)


if __name__ == "__main__":
    main()
