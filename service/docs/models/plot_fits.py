"""Draw the two checks of the fits page: tolerance grades against the formula, Lamé stresses against a BVP solution."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path
from typing import Any

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.mechanics import fits
from scipy.integrate import solve_bvp

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parents[2]))  # what the checks are made of stands with the tests

from tests.published import routes  # noqa: E402

mpl.rcParams["svg.hashsalt"] = "glandwise"

# The steel sleeve in a steel hub of the published cases.
DELTA, INTERFACE, INNER, OUTER, E, NU = 20e-6, 0.025, 0.010, 0.050, 207e9, 0.292


def numerical() -> tuple[list[Any], list[Any], list[Any]]:
    """Radius, radial and hoop stress of both rings from the displacement equation, solved numerically."""
    spans = ((INNER, INTERFACE), (INTERFACE, OUTER))
    factor = E / (1 - NU * NU)

    def radius(s: Any, ring: int) -> Any:
        a, b = spans[ring]
        return a + (b - a) * s

    def system(s: Any, y: Any) -> Any:
        rows = []
        for ring, (a, b) in enumerate(spans):
            r = radius(s, ring)
            rows += [(b - a) * y[2 * ring + 1], (b - a) * (y[2 * ring] / r**2 - y[2 * ring + 1] / r)]
        return np.array(rows)

    def radial(u: Any, du: Any, r: Any) -> Any:
        return factor * (du + NU * u / r)

    def boundary(a: Any, b: Any) -> Any:
        jump = radial(b[0], b[1], INTERFACE) - radial(a[2], a[3], INTERFACE)
        rim, bore = radial(b[2], b[3], OUTER), radial(a[0], a[1], INNER)
        return np.array([bore / 1e8, rim / 1e8, (a[2] - b[0] - DELTA) / DELTA, jump / 1e8])

    mesh = np.linspace(0, 1, 15)
    solution = solve_bvp(system, boundary, mesh, np.full((4, 15), 1e-6), tol=1e-9)
    assert solution.success
    s = np.linspace(0, 1, 9)
    y = solution.sol(s)
    radii = [radius(s, ring) for ring in (0, 1)]
    stresses = [radial(y[2 * k], y[2 * k + 1], radii[k]) for k in (0, 1)]
    hoops = [factor * (y[2 * k] / radii[k] + NU * y[2 * k + 1]) for k in (0, 1)]
    return radii, stresses, hoops


def main() -> None:
    """Write ``img/fits.svg``."""
    figure, (left, right) = plt.subplots(1, 2, figsize=(10, 4.4), layout="constrained")

    rules = HERE.parents[1] / "src/glandwise/rules/data/baseline/gland.toml"
    table = tomllib.loads(rules.read_text(encoding="utf-8"))["it_grades"]
    over, up_to, table = table["over"], table["up_to"], table["columns"]
    middle = [float(np.sqrt(max(a, 1) * b)) for a, b in zip(over, up_to, strict=True)]
    size = np.geomspace(3.0, 500.0, 200) * 1e-3
    for grade in (5, 7, 8, 9, 11, 13):
        (line,) = left.loglog(size * 1e3, np.array([1e6 * routes.formula_tolerance(grade, d, d) for d in size]), lw=1)
        left.loglog(middle, table[f"IT{grade}"], "o", ms=4, color=line.get_color())
        left.annotate(
            f"IT{grade}", (500, table[f"IT{grade}"][-1]), xytext=(8, -3), textcoords="offset points", fontsize=8
        )
    left.set_xlim(1.4, 900)
    left.set_xlabel("nominal size, mm")
    left.set_ylabel("standard tolerance, µm")
    left.set_title("ISO 286-1: table (dots) and unrounded formula (lines)", fontsize=10)
    left.grid(alpha=0.3, which="both", lw=0.4)

    fit = fits.interference_fit(DELTA, INTERFACE, INNER, OUTER, E, NU, E, NU)
    radii, stresses, hoops = numerical()
    for ring, (a, b) in enumerate(((INNER, INTERFACE), (INTERFACE, OUTER))):
        r = np.linspace(a, b, 100)
        inside, outside = ((0.0, fit.pressure), (fit.pressure, 0.0))[ring]
        mean = (inside * a**2 - outside * b**2) / (b**2 - a**2)
        change = (inside - outside) * a**2 * b**2 / ((b**2 - a**2) * r**2)
        for values, points, color, label in (
            (mean + change, hoops[ring], "tab:blue", "hoop"),
            (mean - change, stresses[ring], "tab:red", "radial"),
        ):
            right.plot(r * 1e3, values / 1e6, color=color, lw=1.2, label=f"{label}, Lamé" if ring == 0 else None)
            right.plot(
                radii[ring] * 1e3,
                points / 1e6,
                "o",
                ms=4,
                mfc="none",
                color=color,
                label=f"{label}, boundary-value problem" if ring == 0 else None,
            )
    right.axvline(INTERFACE * 1e3, color="0.6", lw=0.8)
    right.set_xlabel("radius, mm")
    right.set_ylabel("stress, MPa")
    right.set_title("Interference fit, 20 µm on the radius, steel in steel", fontsize=10)
    right.legend(fontsize=8, loc="lower right")
    right.grid(alpha=0.3)
    figure.savefig(HERE / "img" / "fits.svg", metadata={"Date": None})


if __name__ == "__main__":
    main()
