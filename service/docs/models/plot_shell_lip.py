"""Plot of the lip shell against solid elements and a boundary value solver.

``python service/docs/models/plot_shell_lip.py`` (needs scikit-fem); prints the table of the model's page.
"""

from __future__ import annotations

import sys
from pathlib import Path

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.mechanics import shells
from glandwise.numerics.over import Over

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parents[2]))  # what the checks are made of stands with the tests

from tests.mechanics import test_shells as routes  # noqa: E402

MODULUS, POISSON, LENGTH = 600e6, 0.46, 5e-3
MARKS = {0.05: "o", 0.1: "s", 0.2: "^", 0.3: "D", 0.4: "v"}


PLAIN = Over(shells)


def rigidity(thickness: float) -> float:
    """Flexural rigidity of a lip."""
    return MODULUS * thickness**3 / (12.0 * (1.0 - POISSON**2))


def main() -> None:
    """Write ``img/shell_lip.svg``."""
    mpl.rcParams["svg.hashsalt"] = "glandwise"
    figure, (left, middle) = plt.subplots(1, 2, figsize=(10.0, 4.2), layout="constrained")

    x = np.linspace(0.02, 5.0, 200)
    # any lip of the right λL: thickness follows from it
    radius = 50e-3
    thickness = (x / LENGTH) ** -2 * np.sqrt(3 * (1 - POISSON**2)) / radius
    lip = PLAIN.lip_shell(radius, thickness, LENGTH, POISSON)
    strip = 3 * rigidity(thickness) / LENGTH**3
    left.plot(x, MODULUS * lip.stiffness_per_modulus / strip, "k", label="shell, closed form")
    left.plot(x, np.ones_like(x), "k:", lw=0.9, label="flat strip, 3D/L³")
    left.plot(x, 2 * x**3 / 3, "k--", lw=0.9, label="long shell")
    middle.plot(x, lip.pressure_length / LENGTH, "k", label="shell, closed form")
    middle.plot(x, np.full_like(x, 0.375), "k:", lw=0.9, label="flat strip, 3/8")
    middle.plot(x, 1 / (2 * x), "k--", lw=0.9, label="long shell, 1/(2λL)")

    print("t/L   r/L   λL     k shell/solid   c shell/solid   k cosθ/even (solid)")  # noqa: T201
    for share, mark in MARKS.items():
        points = []
        for slenderness in (2.5, 5.0, 10.0, 20.0):
            case = (slenderness * LENGTH, share * LENGTH, LENGTH, MODULUS, POISSON)
            stiffness, coefficient = routes.solid_ring(*case)
            sideways, _ = routes.solid_ring(*case, harmonic=1)
            lip = PLAIN.lip_shell(*case[:3], POISSON)
            along = PLAIN.length_parameter(*case[:3], POISSON)
            rigid = 3 * rigidity(share * LENGTH) / LENGTH**3
            points.append((along, stiffness / rigid, coefficient / LENGTH))
            print(  # noqa: T201
                f"{share:4.2f}  {slenderness:4.1f}  {along:5.3f}  {MODULUS * lip.stiffness_per_modulus / stiffness:8.4f}"
                f"        {lip.pressure_length / coefficient:8.4f}        {sideways / stiffness:8.4f}"
            )
        across, stiff, react = np.array(points).T
        left.plot(across, stiff, mark, mfc="none", color="tab:red", ms=5, label=f"solid elements, t/L {share}")
        middle.plot(across, react, mark, mfc="none", color="tab:red", ms=5)
    left.set(xlabel="λL", ylabel="stiffness over flat strip's, k L³/3D", xlim=(0, 4), ylim=(0, 12))
    left.legend(fontsize=7)
    middle.set(xlabel="λL", ylabel="pressure carried by the contact, c/L", xlim=(0, 5), ylim=(0, 0.45))
    middle.legend(fontsize=7)

    for axes in (left, middle):
        axes.grid(alpha=0.3)
    figure.savefig(HERE / "img" / "shell_lip.svg", metadata={"Date": None})
    plt.close(figure)


if __name__ == "__main__":
    main()
