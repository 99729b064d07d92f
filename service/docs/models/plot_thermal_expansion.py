"""Draw the check of the thermal expansion page: the joined PTFE curve, its two sources, and a fit over temperature."""

from __future__ import annotations

import sys
from pathlib import Path

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.case import gland_numbers
from glandwise.mechanics import expansion
from glandwise.mechanics.choices import PtfeTransition
from glandwise.numerics.compiled import compiled
from glandwise.numerics.over import Over
from glandwise.rules.loader import RuleStore

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parents[2]))  # what the checks are made of stands with the tests

from tests.mechanics import test_expansion as routes  # noqa: E402

PLAIN = Over(expansion)
mpl.rcParams["svg.hashsalt"] = "glandwise"
ZERO = 273.15


def main() -> None:
    """Write ``img/thermal_expansion.svg``."""
    data = RuleStore().trees["baseline"].newest().data
    strains_of = data.expansion.cryogenic
    fit, steel = strains_of.ptfe_expansion, strains_of.austenitic_steel_expansion
    table = data.expansion.ptfe_unfilled

    figure, (left, right) = plt.subplots(1, 2, figsize=(10, 4.4), layout="constrained")
    t = np.linspace(20.0, 533.15, 400)
    ptfe = np.array([routes.spliced(x) for x in t])
    rows, strains = map(np.array, gland_numbers.strain_curve(table))
    cold = np.linspace(4.0, 300.0, 200)
    nist = np.polynomial.polynomial.polyval(cold, fit.si_coefficients)
    offset = np.polynomial.polynomial.polyval(table.si_reference, fit.si_coefficients)
    left.plot(t - ZERO, 100 * ptfe, color="tab:blue", lw=1.5, label="model, unfilled PTFE")
    left.plot(
        rows - ZERO, 100 * strains, "o", ms=5, mfc="none", color="tab:blue", label="Kirby (1956), mean coefficients"
    )
    left.plot(
        cold - ZERO,
        100 * PLAIN.strain_between(nist, offset),
        "--",
        color="tab:orange",
        lw=1.2,
        label="NIST fit, 4–300 K",
    )
    powers = routes.Lives([float(i) for i in range(len(steel.si_coefficients))], steel.si_coefficients, None).machine
    metal = np.array(
        [
            compiled(expansion.metal_strain)(powers, steel.lowest_k, steel.flat_below_k, 1.0, 17.2e-6, 293.15, x)
            for x in t
        ]
    )
    left.plot(t - ZERO, 100 * metal, color="0.4", lw=1.2, label="austenitic steel, from 20 °C")
    for name in PtfeTransition:
        left.axvline(PLAIN.transition_temperature(101325.0, name) - ZERO, color="tab:red", lw=0.7, ls=":")
    left.annotate("transitions", (33, -2.2), color="tab:red", fontsize=8)
    left.set_xlim(-275, 270)
    left.set_ylim(-2.4, 4.5)
    left.set_xlabel("temperature, °C")
    left.set_ylabel("strain from 25 °C, %")
    left.legend(fontsize=8, loc="upper left")
    left.grid(alpha=0.3)

    start = routes.spliced(293.15)
    for scale, style in ((1.0, "-"), (0.75, "--")):
        strain = PLAIN.strain_between(scale * ptfe, scale * start)
        lip = PLAIN.fit_at_temperature(50e-3, 49e-3, metal, strain)
        bore = PLAIN.fit_at_temperature(72.2e-3, 72e-3, strain, metal)
        label = "unfilled" if scale == 1.0 else "filled, 0.75 of it"
        right.plot(t - ZERO, 1e3 * lip.interference, style, color="tab:blue", label=f"lip on a 50 mm shaft, {label}")
        right.plot(t - ZERO, 1e3 * bore.interference, style, color="tab:green", label=f"body in a 72 mm bore, {label}")
    right.axhline(0.0, color="0.3", lw=0.8)
    right.set_xlim(-275, 270)
    right.set_xlabel("temperature, °C")
    right.set_ylabel("interference on the radius, mm")
    right.set_title("Measured at 20 °C, steel shaft and bore, free growth", fontsize=10)
    right.legend(fontsize=7.5, loc="upper center")
    right.set_ylim(-0.9, 2.0)
    right.grid(alpha=0.3)
    figure.savefig(HERE / "img" / "thermal_expansion.svg", metadata={"Date": None})


if __name__ == "__main__":
    main()
