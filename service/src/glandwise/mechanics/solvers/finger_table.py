"""Tables of a strip finger, elastic and beyond yield, from the solutions of its strip."""

from __future__ import annotations

from math import sqrt
from pathlib import Path
from typing import NamedTuple

import numpy as np

from glandwise.mechanics import tables
from glandwise.mechanics.beams import COMPRESSION_GREATEST, ROOT_ANGLE_GREATEST, ROOT_ANGLE_LEAST
from glandwise.mechanics.solvers import strip

Axis = tuple[float, float, int]
"""First and last point of an axis, and how many it has."""


class Axes(NamedTuple):
    """Axes of the tables."""

    angle: Axis
    root: Axis
    """Root of the compression."""
    plastic_angle: Axis
    plastic_root: Axis
    slack: Axis
    """Yield curvature over the elastic curvature at the root."""
    height: Axis
    """Root of the height over that at first yield."""


_ANGLES = (ROOT_ANGLE_LEAST, ROOT_ANGLE_GREATEST)
_ROOTS = (0.0, sqrt(COMPRESSION_GREATEST))
AXES = Axes((*_ANGLES, 60), (*_ROOTS, 65), (*_ANGLES, 13), (*_ROOTS, 17), (0.0, 1.0, 61), (0.0, 1.0, 61))


def build(path: Path = tables.FOLDER / "beams.npz", axes: Axes = AXES) -> None:
    """Solve the finger over the extent of the tables and write them to a file.

    Takes a minute or two. Each quantity is stored scaled by its small-angle form, so that the tables vary slowly and
    have finite ends. Slopes are central differences of the solver, not of the table.
    """
    tiny, step = 1e-5, 1e-3  # the limits at zero are read a little inside the range

    psi = np.linspace(*axes.angle)[:, None]
    chi = np.maximum(np.linspace(*axes.root) ** 2, tiny)[None, :]
    factors = (1 - 2 * step, 1 - step, 1 + step, 1 + 2 * step)
    logs = [np.log(strip.solve_elastic_tip(psi, chi * f)[1].load) for f in factors]
    _, state = strip.solve_elastic_tip(psi, chi)
    tip = np.stack(
        [
            state.load * np.cos(psi) ** 2 / (3.0 * chi * np.sin(psi)),
            state.arm / np.cos(psi),
            (logs[0] - 8 * logs[1] + 8 * logs[2] - logs[3]) / (12.0 * step),
        ],
        axis=-1,
    )

    tip[:, 0, :] = 1.0  # the limit itself, known here

    lay = strip.solve_lay_down(psi[:, 0])
    lay_down = np.stack(
        [
            lay.load * np.cos(psi[:, 0]) ** 2 / np.sin(psi[:, 0]),
            lay.height / np.sin(psi[:, 0]),
            lay.arm / np.cos(psi[:, 0]),
        ],
        axis=-1,
    )

    psi, chi, slack = np.meshgrid(
        np.linspace(*axes.plastic_angle),
        np.maximum(np.linspace(*axes.plastic_root) ** 2, tiny),
        np.maximum(np.linspace(*axes.slack), tiny),
        indexing="ij",
    )
    _, state = strip.solve_elastic_tip(psi, chi)
    kappa_y = state.load * state.arm * slack
    load, _, shape = strip.solve_plastic_tip(psi, chi, kappa_y)
    below, above = (np.log(strip.solve_plastic_tip(psi, chi * f, kappa_y)[0]) for f in (1 - step, 1 + step))
    plastic_tip = np.stack(
        [
            load * np.cos(psi) / kappa_y,
            shape.root_moment,
            (1.0 - shape.released_height / np.sin(psi)) / chi,
            (above - below) / (2.0 * step),
        ],
        axis=-1,
    )

    psi, u = np.meshgrid(np.linspace(*axes.plastic_angle), np.maximum(np.linspace(*axes.height), 1e-3), indexing="ij")
    lay = strip.solve_lay_down(psi)
    first = np.sqrt(2.0 * lay.load * np.sin(psi))  # length of the arc, times the yield curvature, at first yield
    height = lay.height * first * u**2
    load, shape = strip.solve_plastic_lay_down(psi, height)
    below, above = (np.log(strip.solve_plastic_lay_down(psi, height * f)[0]) for f in (1 - step, 1 + step))
    plastic_lay_down = np.stack(
        [
            load * 2.0 * np.sin(psi) * u,
            shape.root_moment,
            shape.length / (first * u),
            shape.released_height / height,
            shape.released_angle / (psi * u),
            (below - above) / (2.0 * step),
        ],
        axis=-1,
    )
    np.savez_compressed(
        path,
        tip=tip,
        lay_down=lay_down,
        plastic_tip=plastic_tip.astype(np.float32),
        plastic_lay_down=plastic_lay_down.astype(np.float32),
    )
