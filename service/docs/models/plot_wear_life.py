"""Plot of the life of a worn lip against integration and sampling: ``python service/docs/models/plot_wear_life.py``."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.mechanics import wear_life
from glandwise.mechanics.choices import Motion
from scipy.integrate import solve_ivp

HERE = Path(__file__).parent


class Series:
    """A relaxation of eight branches, one a decade, made up for the plot."""

    equilibrium, n = 0.6, 8
    shares = (0.05,) * 8
    times = tuple(10.0**k for k in range(8))
    reference_temperature, activation_energy = 296.0, 8e4


LIP: dict[str, Any] = {
    "T": 313.0, "t_0": 86400.0, "K_b": 3e-16, "v": 4.6, "motion": Motion.turning, "S": 0.2, "G_0": 1e-7, "f_0": 0.1,
    "q_p": 100.0, "q_e": 200.0, "k_e": 4e5, "q_l": 190.0, "k_l": 5e5, "p": 3e5, "b_0": 5e-5, "theta": 0.15, "V_0": 400.0,
    "D": 0.02, "c_f": 2.0, "L": 2e-3, "f_q": 0.5, "f_x": 0.2, "h_a": 1.9e-4, "h_e": 3e-4, "h_m": 4e-4, "t_m": 86400.0,
}  # fmt: skip
HOURS = np.geomspace(0.1, 2e4, 60)


def left(t: float) -> float:
    """Share of the load of the lip that relaxing leaves; the temperature shifts times by their activation energy."""
    shift = math.exp(Series.activation_energy / 8.31446 * (1 / LIP["T"] - 1 / Series.reference_temperature))

    def share(time: float) -> float:
        return Series.equilibrium + sum(
            g * math.exp(-time / shift / tau) for g, tau in zip(Series.shares, Series.times, strict=True)
        )

    return share(LIP["t_0"] + t) / share(LIP["t_0"])


def load(h: float, t: float, a: dict[str, Any]) -> float:
    """Line load of a worn lip."""
    return float(a["q_p"] + max(a["q_e"] - a["k_e"] * h, 0.0) + left(t) * max(a["q_l"] - a["k_l"] * h, 0.0))


def width(h: float, a: dict[str, Any]) -> float:
    """Contact width of a worn lip."""
    w = wear_life.worn_width(h, a["theta"], a["V_0"], a["D"])
    return float(wear_life.contact_width(a["b_0"], w, h, a["c_f"], a["L"]))


def integrated(a: dict[str, Any], hours: np.ndarray) -> np.ndarray:
    """Depth over time by an adaptive integration over time, m."""

    def rate(t: float, y: Any) -> list[float]:
        h = y[0] * 1e-6
        q, b = load(h, t, a), width(h, a)
        phi = a["f_0"] + (1 - a["f_0"]) / (1 + a["S"] * b / q / a["G_0"])
        return [1e6 * a["K_b"] * phi * a["v"] * max(q - 0.5 * a["p"] * b, a["f_q"] * q) / b]

    seconds = hours * 3600.0
    run = solve_ivp(rate, (0.0, seconds[-1]), [0.0], t_eval=seconds, rtol=1e-8, atol=1e-8, method="LSODA")
    return np.asarray(run.y[0]) * 1e-6


def main() -> None:
    """Write ``img/wear_life.svg``."""
    mpl.rcParams["svg.hashsalt"] = "glandwise"
    figure, (first, second, third) = plt.subplots(1, 3, figsize=(14.5, 4.6), layout="constrained")
    spots = np.geomspace(0.3, 1e4, 12)
    for title, colour, changes in (
        ("in water", "tab:blue", {}),
        ("dry, same rate", "tab:red", {"S": 0.0}),
        ("in water, lip lies flat", "tab:green", {"theta": 0.0, "b_0": 1e-3}),
    ):
        a = {**LIP, **changes}
        marks = [wear_life.lip_life(Series, *{**a, "t_m": 3600.0 * hour}.values()) for hour in HOURS]
        end = np.array([m.depth for m in marks]) < 0.999 * a["h_m"]
        first.loglog(HOURS[end], np.array([1e6 * m.depth for m in marks])[end], color=colour, label=title)
        second.loglog(
            HOURS[end],
            np.array([m.load for m in marks])[end] / 1e3,
            color=colour,
            label="load" if not changes else None,
        )
        second.loglog(HOURS[end], np.array([1e3 * m.width for m in marks])[end], color=colour, ls="--")
        depth = integrated(a, spots)
        shown = depth < a["h_m"]
        first.plot(spots[shown], 1e6 * depth[shown], "o", color=colour, mfc="white", ms=5)
        loads = [load(h, 3600 * t, a) / 1e3 for h, t in zip(depth, spots, strict=True)]
        second.plot(spots[shown], np.array(loads)[shown], "o", color=colour, mfc="white", ms=5)
        second.plot(
            spots[shown], np.array([1e3 * width(h, a) for h in depth])[shown], "s", color=colour, mfc="white", ms=4
        )
        life = wear_life.lip_life(Series, *a.values())
        if math.isfinite(life.to_half_load):
            second.plot(life.to_half_load / 3600, 0.5 * load(0.0, 0.0, a) / 1e3, "x", color=colour, ms=9, mew=2)
    first.axhline(1e6 * LIP["h_a"], color="k", lw=0.8, ls=":")
    first.text(0.12, 1.08e6 * LIP["h_a"], "depth that may wear", fontsize=8, va="bottom")
    first.plot([], [], "ko", mfc="white", ms=5, label="integrated over time")
    first.set(xlabel="hours", ylabel="worn depth, µm", ylim=(0.3, 600))
    first.set_title("Depth of an energized lip, 4.6 m/s, 3 bar", fontsize=10)
    first.legend(fontsize=8, loc="lower right")
    second.plot([], [], "k--", label="width")
    second.plot([], [], "kx", ms=9, mew=2, label="half of the load")
    second.plot([], [], "ko", mfc="white", ms=5, label="integrated over time")
    second.set(xlabel="hours", ylabel="load, N/mm; width, mm", ylim=(0.03, 30))
    second.set_title("Load falls, contact widens", fontsize=10)
    second.legend(fontsize=8, loc="upper left", ncols=2)

    target = np.geomspace(30.0, 1e6, 200)
    random = np.random.default_rng(1)
    for title, colour, high in (
        ("rates from tables", "tab:blue", math.sqrt(115.0)),
        ("rate measured", "tab:green", math.sqrt(15.0)),
    ):
        sigma = wear_life.log_spread(1.0 / high, high, 1.645)
        third.semilogx(target, [wear_life.probability_reached(t, 5e3, sigma) for t in target], color=colour,
                       label=f"{title}: nine in ten within 1:{high**2:.0f}")  # fmt: skip
        lives = 5e3 * np.exp(random.normal(0.0, sigma, 20_000))
        at = np.geomspace(60.0, 5e5, 12)
        third.plot(at, [np.mean(lives > t) for t in at], "o", color=colour, mfc="white", ms=5)
        four = wear_life.life_quantile(5e3, sigma, -0.8416)
        third.plot([four, four], [0.0, 0.8], color=colour, lw=0.9, ls=":")
    third.axhline(0.8, color="k", lw=0.8, ls=":")
    third.text(35.0, 0.785, "four in five", fontsize=8, va="top")
    third.plot([], [], "ko", mfc="white", ms=5, label="20,000 draws")
    third.set(
        xlabel="target, h", ylabel="probability that it is reached", ylim=(0, 1.35), yticks=np.linspace(0.0, 1.0, 6)
    )
    third.set_title("Median life 5,000 h", fontsize=10)
    third.legend(fontsize=8, loc="upper right")
    for axes in (first, second, third):
        axes.grid(alpha=0.3, which="both")
    figure.savefig(HERE / "img" / "wear_life.svg", metadata={"Date": None})
    plt.close(figure)


if __name__ == "__main__":
    main()
