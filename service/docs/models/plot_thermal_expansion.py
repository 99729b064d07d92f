"""Draw the check of the thermal expansion page: the joined PTFE curve, its two sources, and a fit over temperature."""

from __future__ import annotations

import tomllib
from pathlib import Path

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.twofold import expansion

HERE = Path(__file__).parent
mpl.rcParams["svg.hashsalt"] = "glandwise"
ZERO = 273.15


def main() -> None:
    """Write ``img/thermal_expansion.svg``."""
    rules = HERE.parents[1] / "src/glandwise/rules/data/baseline/expansion.toml"
    data = tomllib.loads(rules.read_text(encoding="utf-8"))
    table = data["ptfe_unfilled"]
    temperatures = [t + ZERO for t in table["temperature"]]
    means = [1e-6 * a for a in table["mean_coefficient"]]
    reference = table["reference_temperature"] + ZERO
    fit = [1e-5 * c for c in data["cryogenic"]["ptfe_expansion"]["coefficients"]]
    steel = [1e-5 * c for c in data["cryogenic"]["austenitic_steel_expansion"]["coefficients"]]

    figure, (left, right) = plt.subplots(1, 2, figsize=(10, 4.4), layout="constrained")
    t = np.linspace(20.0, 533.15, 400)
    ptfe = expansion.spliced_strain(t, temperatures, means, reference, fit, 20.0)
    rows, strains = expansion.strain_curve(temperatures, means, reference)
    cold = np.linspace(4.0, 300.0, 200)
    nist = expansion.strain_from_polynomial(cold, fit, 4.0, 300.0)
    offset = expansion.strain_from_polynomial(reference, fit, 4.0, 300.0)
    left.plot(t - ZERO, 100 * ptfe, color="tab:blue", lw=1.5, label="model, unfilled PTFE")
    left.plot(
        rows - ZERO, 100 * strains, "o", ms=5, mfc="none", color="tab:blue", label="Kirby (1956), mean coefficients"
    )
    left.plot(
        cold - ZERO,
        100 * expansion.strain_between(nist, offset),
        "--",
        color="tab:orange",
        lw=1.2,
        label="NIST fit, 4–300 K",
    )
    metal = expansion.spliced_strain(t, [293.15, 573.15], [17.2e-6, 17.2e-6], 293.15, steel, 4.0, flat_below=23.0)
    left.plot(t - ZERO, 100 * metal, color="0.4", lw=1.2, label="austenitic steel, from 20 °C")
    for name in ("II-IV", "IV-I"):
        left.axvline(expansion.transition_temperature(101325.0, name) - ZERO, color="tab:red", lw=0.7, ls=":")
    left.annotate("transitions", (33, -2.2), color="tab:red", fontsize=8)
    left.set_xlim(-275, 270)
    left.set_ylim(-2.4, 4.5)
    left.set_xlabel("temperature, °C")
    left.set_ylabel("strain from 25 °C, %")
    left.legend(fontsize=8, loc="upper left")
    left.grid(alpha=0.3)

    start = expansion.spliced_strain(293.15, temperatures, means, reference, fit, 20.0)
    for scale, style in ((1.0, "-"), (0.75, "--")):
        strain = expansion.strain_between(scale * ptfe, scale * start)
        lip = expansion.fit_at_temperature(50e-3, 49e-3, metal, strain)
        bore = expansion.fit_at_temperature(72.2e-3, 72e-3, strain, metal)
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
