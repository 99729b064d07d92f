"""Plot of the contact of a lip under pressure, law against elements.

``python service/docs/models/plot_lip_contact.py`` (needs scikit-fem); prints the table of the model's page.
"""

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
from glandwise.mechanics.choices import FilmPressure, LipDirection
from glandwise.mechanics.lip_contact import LipContact, heel_bulge, lip_contact, root_compliance
from glandwise.numerics.compiled import compiled

HERE = Path(__file__).parent
ROOT = HERE.parents[2]
sys.path.insert(0, str(ROOT))

from tests.mechanics.lip_routes import Lip, solid  # noqa: E402

ENERGIZED = Lip(50e-3, 0.8e-3, 4e-3, math.radians(7.0), 0.15e-3, 400e6, 0.45, 0.0)
FLEXIBLE = Lip(50e-3, 0.8e-3, 4.2e-3, math.radians(15.0), 0.4e-3, 400e6, 0.45, 0.0)
HEEL = 3.2e-3
YIELD = 12e6


def law(lip: Lip, p: float, heel: bool = False, sigma_y: float = math.inf) -> LipContact:
    """Law at a pressure, that of a lip that points away where it is negative."""
    C_r = root_compliance(lip.E, lip.nu, lip.t) if heel else 0.0
    w_h = heel_bulge(p, lip.E, lip.nu, HEEL) if heel else 0.0
    found: LipContact = compiled(lip_contact)(
        *lip[:7], p, lip.F, lip.spring_at, C_r, w_h, sigma_y, LipDirection.toward, FilmPressure.linear
    )
    return found


def pressed(axes: Any, below: Any) -> None:
    """Load and width of both lips over pressure, clamped, on a heel, yielding."""
    pressures = np.geomspace(0.05e6, 70e6, 160)
    for lip, name, colour, most in (
        (ENERGIZED, "energized, 7°", "tab:blue", 70e6),
        (FLEXIBLE, "flexible, 15°", "tab:green", 10e6),
    ):
        across = pressures[pressures <= most]
        clamped, soft, hard = (
            [law(lip, p, heel, sigma_y) for p in across.tolist()]
            for heel, sigma_y in ((False, math.inf), (True, math.inf), (True, YIELD))
        )
        stiff, nominal, high = (np.array([x.load for x in found]) / (across * lip.L) for found in (clamped, soft, hard))
        axes.plot(across / 1e6, stiff, color=colour, label=f"{name}: clamped root")
        axes.plot(across / 1e6, nominal, color=colour, ls="--", lw=0.9, label="elastic heel")
        axes.fill_between(across / 1e6, stiff, high, color=colour, alpha=0.15, lw=0, label="heel yielding at 12 MPa")
        below.plot(across / 1e6, [x.width * 1e3 for x in clamped], color=colour)
        below.plot(across / 1e6, [x.width * 1e3 for x in soft], color=colour, ls="--", lw=0.9)
        points = np.array([0.1e6, 0.3e6, 1e6, 3e6, 10e6, 30e6, 70e6])
        points = points[points <= most]
        for heel, mark in ((0.0, "o"), (HEEL, "^")):
            found = [solid(lip._replace(p=p), 60, 8, heel=heel) for p in points.tolist()]
            shares = [x.load / (p * lip.L) for p, x in zip(points.tolist(), found, strict=True)]
            axes.plot(points / 1e6, shares, mark, color=colour, mfc="white", ms=5)
            below.plot(points / 1e6, [x.width * 1e3 for x in found], mark, color=colour, mfc="white", ms=5)
            for p, x in zip(points.tolist(), found, strict=True):
                own = law(lip, p, heel=heel > 0.0)
                print(  # noqa: T201
                    f"{name:14s} {p / 1e6:5.1f} MPa {'heel' if heel else 'clamped':8s} {x.load / 1e3:8.3f} "
                    f"{100 * (own.load / x.load - 1):+5.1f} %  {x.width * 1e3:6.3f} {100 * (own.width / x.width - 1):+5.1f} %"
                )
    axes.plot([], [], "ko", mfc="white", ms=5, label="elements, clamped root")
    axes.plot([], [], "k^", mfc="white", ms=5, label="elements, elastic heel")
    axes.set(
        xscale="log", xlabel="sealed pressure, MPa", ylabel="line load over pressure times free length", ylim=(0, 1.7)
    )
    axes.set_title("pressed on: d 50, t 0.8, L 4 and 4.2 mm, E 400 MPa", fontsize=9)
    axes.legend(fontsize=6.5)
    below.set(xscale="log", xlabel="sealed pressure, MPa", ylabel="contact width, mm", ylim=(0, 4.2))
    below.set_title("the contact spreads once the lip lies down", fontsize=9)


def lifted(axes: Any) -> None:
    """Load of lips that point away from the pressure."""
    for a, colour in ((15.0, "tab:green"), (7.0, "tab:orange")):
        lip = FLEXIBLE._replace(a=math.radians(a))
        across = np.linspace(0.0, 0.5e6, 400)
        load = np.array([law(lip, -p).load / 1e3 for p in across.tolist()])
        axes.plot(across / 1e6, load, color=colour, label=f"flexible, bore angle {a:g}°")
        points = np.linspace(0.0, 0.45e6, 10)
        found = [solid(lip._replace(p=-p), 60, 8).load / 1e3 for p in points.tolist()]
        axes.plot(points / 1e6, found, "o", color=colour, mfc="white", ms=5)
    axes.plot([], [], "ko", mfc="white", ms=5, label="elements")
    axes.set(xlabel="sealed pressure, MPa", ylabel="line load, N/mm", ylim=(0, None))
    axes.set_title("pointing away: pressure lifts the lip", fontsize=9)
    axes.legend(fontsize=7)


def points(axes: Any) -> None:
    """Law over elements at the reference points."""
    cases = tomllib.loads((ROOT / "tests/published/cases/lip_contact.toml").read_text("utf-8"))["case"]
    errors: dict[str, list[tuple[float, float]]] = {"lip on its edge": [], "lip laid down": []}
    for case in cases:
        found = lip_contact(**case["input"])
        ratio = 100.0 * (found.load / (1e3 * case["expected"]["load"]) - 1.0)
        kind = "lip laid down" if found.laid_length > 0.0 else "lip on its edge"
        errors[kind].append((max(case["input"]["p"] / 1e6, 0.03), ratio))
    for (kind, rows), mark, colour in zip(errors.items(), "os", ("tab:purple", "tab:red"), strict=True):
        axes.plot(*np.array(rows).T, mark, color=colour, mfc="white", ms=5, label=kind)
    every = np.array([y for rows in errors.values() for _, y in rows])
    rms, most = float(np.sqrt(np.mean(every**2))), float(np.abs(every).max())
    print(f"{len(every)} points: rms {rms:.2f} %, greatest {most:.2f} %")  # noqa: T201
    axes.axhline(0.0, color="k", lw=0.8)
    axes.axhspan(-8.0, 8.0, color="0.9", zorder=0)
    axes.set(
        xscale="log", xlabel="sealed pressure, MPa (0 at the left edge)", ylabel="law over elements, %", ylim=(-12, 12)
    )
    axes.set_title(f"36 reference points: rms {rms:.1f} %, greatest {most:.1f} %", fontsize=9)
    axes.legend(fontsize=7)


def main() -> None:
    """Write ``img/lip_contact.svg``."""
    mpl.rcParams["svg.hashsalt"] = "glandwise"
    figure, (top, bottom) = plt.subplots(2, 2, figsize=(11, 8), layout="constrained")
    pressed(*top)
    lifted(bottom[0])
    points(bottom[1])
    for axes in (*top, *bottom):
        axes.grid(alpha=0.3)
    figure.savefig(HERE / "img" / "lip_contact.svg", metadata={"Date": None})
    if len(sys.argv) > 1:
        figure.savefig(sys.argv[1], dpi=80)
    plt.close(figure)


if __name__ == "__main__":
    main()
