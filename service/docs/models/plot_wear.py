"""Plot of the wear models against numerical integration: ``python service/docs/models/plot_wear.py``."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.mechanics import wear
from glandwise.numerics.over import over
from scipy.integrate import solve_ivp

HERE = Path(__file__).parent
RATE, LOAD, WIDTH = 1e-15, 2000.0, 0.5e-3


def integrate(slope: Callable[[float], float], distances: np.ndarray, start: float, depth: float) -> np.ndarray:
    """Depth at ``distances`` from dh/ds, in micrometres and kilometres inside."""
    solution = solve_ivp(
        lambda _, y: [slope(y[0] * 1e-6) * 1e9],
        (start / 1e3, distances[-1] / 1e3),
        [depth * 1e6],
        t_eval=distances / 1e3,
        rtol=1e-9,
        atol=1e-9,
    )
    return solution.y[0]


def main() -> None:
    """Write ``img/wear.svg``."""
    mpl.rcParams["svg.hashsalt"] = "glandwise"
    figure, (left, right) = plt.subplots(1, 2, figsize=(10.0, 4.0), layout="constrained")
    reach = over(wear.relieved_distance)
    worn = np.linspace(1e-9, 52e-6, 200)
    spots = np.linspace(1e3, 10e3, 10)
    left.plot(reach(RATE, LOAD, 0.0, WIDTH, worn) / 1e3, worn * 1e6, "k", label="constant load and width")
    for stiffness, colour in ((10e6, "tab:blue"), (30e6, "tab:red")):
        left.plot(
            reach(RATE, LOAD, stiffness, WIDTH, worn) / 1e3,
            worn * 1e6,
            color=colour,
            label=f"load lost at {stiffness / 1e6:g} N/mm per mm",
        )
        check = integrate(lambda h, k=stiffness: RATE * (LOAD - k * h) / WIDTH, spots, 0.0, 0.0)
        left.plot(spots / 1e3, check, "o", color=colour, mfc="white", ms=5)
    left.plot([], [], "ko", mfc="white", label="integrated numerically")
    left.set(xlabel="sliding distance, km", ylabel="worn depth, µm", xlim=(0, 10), ylim=(0, 52))
    left.set_title("K 1e-6 mm³/(N·m), 2 N/mm, 0.5 mm wide", fontsize=10)
    left.legend(fontsize=8)
    pv = np.geomspace(0.1e6, 10e6, 100)
    long, short = (0.1e-3 / over(wear.depth_rate)(rate, pv, 1.0) for rate in (1e-16, 1e-14))
    right.loglog(pv / 1e6, np.sqrt(long * short) / 3600, "tab:blue", label="nominal (geometric mean)")
    right.fill_between(pv / 1e6, short / 3600, long / 3600, color="tab:blue", alpha=0.2, lw=0, label="range")
    right.set(xlabel="pressure times speed, MPa·m/s", ylabel="hours to 0.1 mm")
    right.set_title("K 1e-7 to 1e-5 mm³/(N·m), an example range", fontsize=10)
    right.legend(fontsize=8)
    figure.savefig(HERE / "img" / "wear.svg", metadata={"Date": None})
    plt.close(figure)


if __name__ == "__main__":
    main()
