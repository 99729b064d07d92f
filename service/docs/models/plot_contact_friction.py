"""Plot of contact width and pressure profile: ``python service/docs/models/plot_contact_friction.py``."""

from __future__ import annotations

import math
from pathlib import Path

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.twofold import contact
from scipy.optimize import brentq

HERE = Path(__file__).parent
RADIUS, MODULUS, POISSON = 0.2e-3, 500e6, 0.46


def needed_load(half: float, half_land: float) -> float:
    """Load for a contact half-width by quadrature of the integral equation of line contact."""
    start = math.asin(half_land / half)
    nodes, weights = np.polynomial.legendre.leggauss(40)
    x = half * np.sin(start + (math.pi / 2 - start) * (nodes + 1) / 2)
    reduced = MODULUS / (1 - POISSON**2)
    return float(reduced * weights @ (x * (x - half_land)) / RADIUS * (math.pi / 2 - start) / 2)


def main() -> None:
    """Write ``img/contact_friction.svg``."""
    mpl.rcParams["svg.hashsalt"] = "glandwise"
    figure, (left, right) = plt.subplots(1, 2, figsize=(10.0, 4.0), layout="constrained")
    loads = np.linspace(0.0, 5000.0, 201)
    points = np.linspace(500.0, 5000.0, 10)
    for land, colour in ((0.0, "tab:blue"), (0.05e-3, "tab:red"), (0.2e-3, "tab:green")):
        width = contact.rounded_land_width(loads, land, RADIUS, MODULUS, POISSON)
        left.plot(loads / 1e3, width * 1e3, color=colour, label=f"land {land * 1e3:g} mm")
        checks = [
            2 * brentq(lambda a, q=q, land=land: needed_load(a, land / 2) - q, land / 2 + 1e-12, 1e-3, xtol=1e-15)
            for q in points
        ]
        left.plot(points / 1e3, np.array(checks) * 1e3, "o", color=colour, mfc="white", ms=5)
    left.plot([], [], "ko", mfc="white", label="integral equation, by quadrature")
    left.set(xlabel="line load q, N/mm", ylabel="contact width b, mm", xlim=(0, 5), ylim=(0, None))
    left.set_title("Edge radius 0.2 mm, E 500 MPa, ν 0.46", fontsize=10)
    left.legend(fontsize=8)
    ratio = np.geomspace(1.0001, 100.0, 200)
    right.semilogx(ratio, contact.gas_profile_factor(ratio, 1.0), "k", label="gas, closed form")
    mid = (np.arange(20_000) + 0.5) / 20_000
    spots = np.geomspace(1.2, 90.0, 9)
    means = [(np.sqrt(p * p + (1 - p * p) * mid).mean() - 1) / (p - 1) for p in spots]
    right.semilogx(spots, means, "ko", mfc="white", ms=5, label="gas, mean of the profile summed")
    right.axhline(contact.LINEAR_PROFILE, color="tab:blue", ls="--", label="liquid (linear fall)")
    right.set(xlabel="sealed over outer absolute pressure", ylabel="pressure profile factor λ", ylim=(0.45, 0.7))
    right.legend(fontsize=8, loc="lower right")
    figure.savefig(HERE / "img" / "contact_friction.svg", metadata={"Date": None})
    plt.close(figure)


if __name__ == "__main__":
    main()
