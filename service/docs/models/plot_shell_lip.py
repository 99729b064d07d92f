"""Plot of the lip shell against solid elements and a boundary value solver.

``python service/docs/models/plot_shell_lip.py`` (needs scikit-fem); prints the table of the model's page.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Any

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.twofold import shells

HERE = Path(__file__).parent
TESTS = HERE.parents[2] / "tests" / "twofold" / "test_shells.py"
MODULUS, POISSON, LENGTH = 600e6, 0.46, 5e-3
MARKS = {0.05: "o", 0.1: "s", 0.2: "^", 0.3: "D", 0.4: "v"}


def checks() -> Any:
    """The independent routes kept with the tests."""
    spec = importlib.util.spec_from_file_location("test_shells", TESTS)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def main() -> None:
    """Write ``img/shell_lip.svg``."""
    mpl.rcParams["svg.hashsalt"] = "glandwise"
    routes = checks()
    figure, (left, middle, right) = plt.subplots(1, 3, figsize=(12.5, 4.2), layout="constrained")

    x = np.linspace(0.02, 5.0, 200)
    # any lip of the right λL: thickness follows from it
    radius = 50e-3
    thickness = (x / LENGTH) ** -2 * np.sqrt(3 * (1 - POISSON**2)) / radius
    lip = shells.lip_response(radius, thickness, LENGTH, MODULUS, POISSON, 0.0)
    strip = 3 * shells.flexural_rigidity(MODULUS, POISSON, thickness) / LENGTH**3
    left.plot(x, lip.stiffness / strip, "k", label="shell, closed form")
    left.plot(x, np.ones_like(x), "k:", lw=0.9, label="flat strip, 3D/L³")
    left.plot(x, 2 * x**3 / 3, "k--", lw=0.9, label="long shell")
    middle.plot(x, lip.pressure_coefficient / LENGTH, "k", label="shell, closed form")
    middle.plot(x, np.full_like(x, 0.375), "k:", lw=0.9, label="flat strip, 3/8")
    middle.plot(x, 1 / (2 * x), "k--", lw=0.9, label="long shell, 1/(2λL)")

    print("t/L   r/L   λL     k shell/solid   c shell/solid   k cosθ/even (solid)")  # noqa: T201
    for share, mark in MARKS.items():
        points = []
        for slenderness in (2.5, 5.0, 10.0, 20.0):
            case = (slenderness * LENGTH, share * LENGTH, LENGTH, MODULUS, POISSON)
            stiffness, coefficient = routes.solid_ring(*case)
            sideways, _ = routes.solid_ring(*case, harmonic=1)
            shell = shells.lip_response(*case, 0.0)
            rigid = 3 * shells.flexural_rigidity(MODULUS, POISSON, share * LENGTH) / LENGTH**3
            points.append((shell.length_parameter, stiffness / rigid, coefficient / LENGTH))
            print(  # noqa: T201
                f"{share:4.2f}  {slenderness:4.1f}  {shell.length_parameter:5.3f}  {shell.stiffness / stiffness:8.4f}"
                f"        {shell.pressure_coefficient / coefficient:8.4f}        {sideways / stiffness:8.4f}"
            )
        across, stiff, react = np.array(points).T
        left.plot(across, stiff, mark, mfc="none", color="tab:red", ms=5, label=f"solid elements, t/L {share}")
        middle.plot(across, react, mark, mfc="none", color="tab:red", ms=5)
    left.set(xlabel="λL", ylabel="stiffness over flat strip's, k L³/3D", xlim=(0, 4), ylim=(0, 12))
    left.legend(fontsize=7)
    middle.set(xlabel="λL", ylabel="pressure carried by the contact, c/L", xlim=(0, 5), ylim=(0, 0.45))
    middle.legend(fontsize=7)

    station = np.linspace(0, 1, 201)
    case = (25e-3, 0.5e-3, LENGTH, MODULUS, POISSON)
    for delta, pressure, colour in (
        (0.3e-3, 0.0, "tab:blue"),
        (0.3e-3, 0.4e6, "tab:green"),
        (0.3e-3, 1.0e6, "tab:orange"),
        (-0.3e-3, 0.02e6, "tab:purple"),
    ):
        profile = shells.lip_profile(station, *case, delta, pressure)
        edge = "" if delta > 0 else ", edge free"
        label = f"δ {delta * 1e3:.1f} mm, p {pressure / 1e6:g} MPa{edge}"
        right.plot(station * LENGTH * 1e3, profile.deflection * 1e3, color=colour, label=label)
        held = float(profile.deflection[-1])
        _, _, shape = routes.boundary_value([(0.5e-3, LENGTH)], 25e-3, held, pressure)
        at = np.linspace(0.1, 1.0, 10)
        right.plot(at * LENGTH * 1e3, shape(at) * 1e3, "o", color=colour, mfc="white", ms=4)
    right.plot([], [], "ko", mfc="white", ms=4, label="boundary value solver")
    right.set(xlabel="distance from clamp, mm", ylabel="radial deflection, mm")
    right.set_title("r 25, t 0.5, L 5 mm, E 600 MPa, ν 0.46", fontsize=9)
    right.legend(fontsize=7)
    for axes in (left, middle, right):
        axes.grid(alpha=0.3)
    figure.savefig(HERE / "img" / "shell_lip.svg", metadata={"Date": None})
    plt.close(figure)


if __name__ == "__main__":
    main()
