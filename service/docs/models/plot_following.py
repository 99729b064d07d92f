"""Plot of runout following against check rows and simulation: ``python service/docs/models/plot_following.py``."""

from __future__ import annotations

import math
import sys
import tomllib
from pathlib import Path
from typing import Any

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np

HERE = Path(__file__).parent
TESTS = HERE.parents[2] / "tests"
sys.path.insert(0, str(HERE.parents[2]))  # what the checks are made of stands with the tests

from tests.mechanics import test_following as routes  # noqa: E402

CASES: dict[str, tuple[str, tuple[float, float, list[float], list[float], float]]] = {
    "case 1": ("tab:blue", (10.0, 50e3, [], [], 2e-3)),
    "case 2": ("tab:red", (10.0, 50e3, [30e3], [2e-3], 2e-3)),
    "case 3": ("tab:green", (10.0, 20e3, [20e3, 10e3], [1e-3, 20e-3], 5e-3)),
}


def first_loss(simulate: Any, frequency: float, case: tuple[Any, ...]) -> float:
    """Least eccentricity that loses contact in the simulation, by bisection to 0.1 %."""
    preload, static, stiffnesses, times, mass = case
    stiffnesses, times = stiffnesses or [0.0], times or [1e-3]
    settle = max(8 * max(times), 10 / frequency)
    low, high = 1e-6, 20e-3
    while high / low > 1.001:
        middle = math.sqrt(low * high)
        run = simulate(middle, 2 * math.pi * frequency, preload, static, stiffnesses, times, mass, settle)
        low, high = (middle, high) if run.lost_at is None else (low, middle)
    return math.sqrt(low * high)


def main() -> None:
    """Write ``img/following.svg``."""
    mpl.rcParams["svg.hashsalt"] = "glandwise"
    figure, (left, right) = plt.subplots(1, 2, figsize=(11.5, 4.4), layout="constrained")
    frequency = np.geomspace(3.0, 1500.0, 500)
    worst = 0.0
    for name, (colour, case) in CASES.items():
        omega = 2 * math.pi * frequency
        left.loglog(frequency, [1e6 * routes.at_frequency(w, *case) for w in omega], color=colour, lw=0.9, ls=":")
        allowed = [1e6 * routes.allowed(w, *case).eccentricity for w in omega]
        left.loglog(frequency, allowed, color=colour, lw=2.0, label=name)
        for at in (30.0, 100.0, 300.0, 1200.0):
            simulated = first_loss(routes.simulate, at, case)
            plain = routes.at_frequency(2 * math.pi * at, *case)
            worst = max(worst, abs(simulated / plain - 1))
            left.plot(at, 1e6 * simulated, "x", color=colour, ms=7)
    for row in tomllib.loads((TESTS / "published" / "cases" / "following.toml").read_text(encoding="utf-8"))["case"]:
        if row["function"].endswith("eccentricity_at_frequency"):
            at = row["input"]["angular_frequency"] / (2 * math.pi)
            left.plot(at, row["expected"]["value"], "o", color=CASES[row["name"][:6]][0], mfc="white", ms=5)
    left.plot([], [], "k:", lw=0.9, label="plain formula at one speed")
    left.plot([], [], "k", lw=2.0, label="allowed: least on the way up")
    left.plot([], [], "ko", mfc="white", ms=5, label="check rows")
    left.plot([], [], "kx", ms=7, label="first loss in simulation")
    left.set(xlabel="shaft frequency, Hz", ylabel="eccentricity at first loss of contact, µm", ylim=(20, 6000))
    left.legend(fontsize=8, loc="upper left")
    print(f"simulated first loss against the plain formula: worst {worst:.2%}")  # noqa: T201

    speed = np.linspace(0.0, 6000.0, 200)
    omega = 2 * math.pi * speed / 60
    # one lip: 0.7 MN/m² relaxed, half as much again relaxing, 1.1 g per metre
    lip: dict[str, Any] = {
        "preload": 140.0,
        "equilibrium": 7e5,
        "stiffnesses": [2e5, 1.5e5],
        "times": [1e-3, 2e-2],
        "mass": 1.1e-3,
    }
    for label, colour, changes in (
        ("lip alone", "tab:blue", {}),
        ("with offset 0.05 mm", "tab:purple", {"offset": 0.05e-3}),
        ("with garter 100 N/m", "tab:orange", {"elastic_preload": 100.0, "elastic_stiffness": 3e3}),
        ("garter and offset", "tab:brown", {"elastic_preload": 100.0, "elastic_stiffness": 3e3, "offset": 0.05e-3}),
    ):
        tir = [1e3 * routes.allowed(w, **lip, **changes).tir for w in omega]
        right.plot(speed, tir, color=colour, label=label)
    right.set(xlabel="shaft speed, rev/min", ylabel="allowed TIR, mm", ylim=(0, None), xlim=(0, 6000))
    right.set_title("example with made-up constants", fontsize=9)
    right.legend(fontsize=8)
    for axes in (left, right):
        axes.grid(alpha=0.3, which="both")
    figure.savefig(HERE / "img" / "following.svg", metadata={"Date": None})
    plt.close(figure)


if __name__ == "__main__":
    main()
