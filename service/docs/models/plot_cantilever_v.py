"""Plot of the cantilever V model against its checks: ``python service/docs/models/plot_cantilever_v.py``."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.mechanics import beams
from glandwise.mechanics.solvers import strip
from glandwise.numerics.over import Over

HERE = Path(__file__).parent
CASES = HERE.parents[2] / "tests" / "published" / "cases" / "elastica.toml"


def main() -> None:
    """Write ``img/cantilever_v.svg``."""
    mpl.rcParams["svg.hashsalt"] = "glandwise"
    figure, (left, middle, right) = plt.subplots(1, 3, figsize=(13.0, 4.2), layout="constrained")

    alpha = np.linspace(0.0, 10.5, 211)
    dead = strip.dead_load(alpha)
    left.plot(alpha, dead.deflection, color="tab:blue", label="deflection")
    left.plot(alpha, dead.shortening, color="tab:red", label="shortening")
    left.plot(alpha[:60], alpha[:60] / 3.0, "k:", lw=0.8, label="PL³/3EI")
    for case in tomllib.loads(CASES.read_text(encoding="utf-8"))["case"]:
        if "shortening" in case["expected"]:
            for name, colour in (("deflection", "tab:blue"), ("shortening", "tab:red")):
                left.plot(case["input"]["load"], case["expected"][name], "o", ms=4, mfc="white", color=colour)
    left.plot([], [], "ko", ms=4, mfc="white", label="30-digit elliptic integrals")
    left.set(xlabel="load, PL²/EI", ylabel="travel of the tip over L", xlim=(0, 10.5), ylim=(0, 0.9))
    left.set_title("end-loaded cantilever", fontsize=10)
    left.legend(fontsize=8, loc="lower right")

    chi = np.linspace(0.0, 0.95, 381)
    for degrees, colour in ((10, "tab:green"), (30, "tab:blue"), (55, "tab:red")):
        psi = math.radians(degrees)
        state = Over(beams).finger(np.full_like(chi, psi), chi * math.sin(psi), math.inf)
        middle.plot(chi, state.load, color=colour, label=f"root angle {degrees}°")
        nodes = np.array([0.15, 0.3, 0.45, 0.6])
        _, tip = strip.solve_elastic_tip(np.full(4, psi), nodes)
        begins = 1.0 - strip.solve_lay_down(psi).height / math.sin(psi)
        middle.plot(nodes[nodes < begins], tip.load[nodes < begins], "o", ms=4, mfc="white", color=colour)
        middle.plot(begins, strip.solve_lay_down(psi).load, "k|", ms=12)
        middle.plot(chi, 3.0 * chi * math.sin(psi) / math.cos(psi) ** 2, ":", lw=0.8, color=colour)
    middle.plot([], [], "ko", ms=4, mfc="white", label="elliptic integrals")
    middle.plot([], [], "k|", ms=12, label="begins to lie down")
    middle.plot([], [], "k:", lw=0.8, label="small deflection")
    middle.set(xlabel="deflection over free height", ylabel="load, PL²/EI", xlim=(0, 0.95), ylim=(0, 7))
    middle.set_title("elastic finger on a flat", fontsize=10)
    middle.legend(fontsize=8, loc="upper left")

    chi = np.linspace(0.0, 0.9, 361)
    psi = math.radians(30.0)
    # Layered chain of the tests at yield curvature 0.35 (tests/mechanics/test_beams.py), every 15 % of the free height.
    chain = {
        0.15: (0.2773, 0.0),
        0.3: (0.4973, 0.0071),
        0.45: (0.5456, 0.0596),
        0.6: (0.5388, 0.1299),
        0.75: (0.5321, 0.2023),
        0.9: (0.7243, 0.3054),
    }
    for kappa_y, colour in ((math.inf, "0.5"), (0.6, "tab:green"), (0.35, "tab:blue")):
        state = Over(beams).finger(np.full_like(chi, psi), chi * math.sin(psi), kappa_y)
        name = "elastic" if math.isinf(kappa_y) else f"yield curvature {kappa_y}"
        right.plot(chi, state.load, color=colour, label=name)
        if not math.isinf(kappa_y):
            right.plot(chi, state.permanent_set, "--", color=colour)
    for level, (load, left_over) in chain.items():
        right.plot(level, load, "o", ms=4, mfc="white", color="tab:blue")
        right.plot(level, left_over, "o", ms=4, mfc="white", color="tab:blue")
    right.plot([], [], "k--", label="permanent set over L")
    right.plot([], [], "ko", ms=4, mfc="white", label="path-dependent layered chain")
    right.set(xlabel="deflection over free height", ylabel="load, PL²/EI; set over L", xlim=(0, 0.92), ylim=(0, 2))
    right.set_title("beyond yield, root angle 30°", fontsize=10)
    right.legend(fontsize=8, loc="upper left")

    for axes in (left, middle, right):
        axes.grid(alpha=0.3)
    figure.savefig(HERE / "img" / "cantilever_v.svg", metadata={"Date": None})
    plt.close(figure)


if __name__ == "__main__":
    main()
