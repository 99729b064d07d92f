"""Plot of viscosity and lubrication against their checks: ``python service/docs/models/plot_lubrication.py``."""

from __future__ import annotations

import math
from pathlib import Path

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.mechanics import lubrication, viscosity
from scipy.integrate import quad
from scipy.optimize import brentq

HERE = Path(__file__).parent
WATER = {0: 1.7916, 20: 1.0016, 40: 0.6527, 60: 0.4660, 80: 0.3540, 100: 0.2816}
"""mPa·s after IAPWS, from memory."""
GLYCOL = {280: 42.0, 290: 24.7, 300: 15.7, 310: 10.7, 320: 7.57, 330: 5.61, 340: 4.31, 350: 3.42, 360: 2.78, 370: 2.28}
OIL = {273: 4280, 280: 2430, 290: 1120, 300: 550, 310: 288, 320: 161, 330: 96.6, 340: 61.7, 350: 41.7, 360: 29.7, 370: 22.0,
       380: 16.9, 390: 13.3, 400: 10.6, 410: 8.52, 420: 6.94, 430: 5.83}  # fmt: skip
"""Engine oil, mm²/s; both after Incropera and DeWitt, from memory."""
DENSITY = 850.0
DUTIES = {"rotary union, 200 bar": 2e-8, "water pump": 2e-7, "dairy pump": 8e-7, "gearbox": 1.6e-5}
MU_B, F_0 = 0.08, 0.1


def friction(G: float, G_0: float, C: float) -> float:
    """Coefficient of friction at a duty number."""
    phi = lubrication.film_share(G, G_0, F_0)
    return lubrication.mixed_friction(phi, MU_B, lubrication.film_friction(C, G))


def swing(g: float) -> float:
    """Mean over a swing by quadrature."""
    return float(quad(lambda a: math.cos(a) / (1.0 + g * math.cos(a)), 0.0, 0.5 * math.pi, limit=500)[0])


def main() -> None:
    """Write ``img/lubrication.svg``."""
    mpl.rcParams["svg.hashsalt"] = "glandwise"
    figure, (left, middle, right) = plt.subplots(1, 3, figsize=(14.5, 4.6), layout="constrained")
    T = np.linspace(270.0, 435.0, 200)
    points = (273.15, 1.792e-3, 313.15, 6.527e-4, 373.15, 2.816e-4)
    oil = [1e3 * DENSITY * viscosity.walther_viscosity(t, 310.0, 288e-6, 370.0, 22e-6) for t in T]
    left.semilogy(T - 273.15, oil, "tab:brown", label="engine oil, two points")
    glycol = [1e3 * viscosity.vogel_viscosity(t, 280.0, 42e-3, 320.0, 7.57e-3, 370.0, 2.28e-3) for t in T]
    left.semilogy(T - 273.15, glycol, "tab:green", label="ethylene glycol, three points")
    left.semilogy(
        T - 273.15, [1e3 * viscosity.vogel_viscosity(t, *points) for t in T], "tab:blue", label="water, three points"
    )
    air = [1e3 * viscosity.sutherland_viscosity(t, 273.0, 1.716e-5, 111.0) for t in T]
    left.semilogy(T - 273.15, air, "0.5", label="air, Sutherland")
    left.plot(
        [t - 273.15 for t in OIL],
        [1e-3 * DENSITY * nu for nu in OIL.values()],
        "o",
        color="tab:brown",
        mfc="white",
        ms=5,
    )
    left.plot([t - 273.15 for t in GLYCOL], list(GLYCOL.values()), "o", color="tab:green", mfc="white", ms=5)
    left.plot(list(WATER), list(WATER.values()), "o", color="tab:blue", mfc="white", ms=5)
    left.plot([], [], "ko", mfc="white", ms=5, label="tables")
    left.set(xlabel="temperature, °C", ylabel="viscosity, mPa·s", xlim=(-5, 165), ylim=(1e-2, 1e4))
    left.set_title("Viscosity", fontsize=10)
    left.legend(fontsize=8)

    G = np.geomspace(1e-10, 1e-4, 400)
    for G_0, style in ((3e-8, "--"), (1e-7, "-"), (3e-7, ":")):
        middle.semilogx(
            G, [lubrication.film_share(x, G_0, F_0) for x in G], "tab:blue", ls=style, label=f"turning, G₀ {G_0:g}"
        )
    middle.semilogx(G, [lubrication.swing_share(x, 1e-7, F_0) for x in G], "tab:red", label="swinging, G₀ 1e-07")
    spots = np.geomspace(1e-9, 1e-4, 11)
    middle.plot(spots, [F_0 + (1 - F_0) * swing(x / 1e-7) for x in spots], "o", color="tab:red", mfc="white", ms=5,
                label="mean by quadrature")  # fmt: skip
    middle.set(xlabel="duty number G", ylabel="share of load on solid contact", ylim=(0, 1.05), xlim=(1e-10, 1e-4))
    middle.set_title("Share of solid contact, f₀ 0.1", fontsize=10)
    middle.legend(fontsize=8, loc="lower left")

    for C, style in ((5.0, "--"), (10.0, "-"), (20.0, ":")):
        right.semilogx(G, [friction(x, 1e-7, C) for x in G], "k", ls=style, label=f"C {C:g}")
        bound = MU_B / (C * 1e-7 ** (1 / 3))
        x = brentq(lambda y, b=bound: (4 * y ** (1 / 3) + y ** (4 / 3)) / 3 - b, 1e-6, 1e3)
        right.plot(1e-7 * x, friction(1e-7 * x, 1e-7, C), "ko", mfc="white", ms=6)
    right.plot([], [], "ko", mfc="white", ms=6, label="least value by its derivative")
    for (name, at), colour in zip(DUTIES.items(), ("tab:red", "tab:blue", "tab:green", "tab:brown"), strict=True):
        right.axvline(at, color=colour, lw=0.9, label=name)
    right.set(xlabel="duty number G", ylabel="coefficient of friction", ylim=(0, 0.4), xlim=(1e-10, 1e-4))
    right.set_title("Friction, boundary 0.08", fontsize=10)
    right.legend(fontsize=8, loc="upper left")
    for axes in (left, middle, right):
        axes.grid(alpha=0.3)
    figure.savefig(HERE / "img" / "lubrication.svg", metadata={"Date": None})
    plt.close(figure)


if __name__ == "__main__":
    main()
