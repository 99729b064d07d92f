"""Table of the canted coil from the solutions of its rod: Chebyshev series in shape and compression."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from glandwise.mechanics import tables
from glandwise.mechanics.rods import _linear_coefficient
from glandwise.mechanics.solvers import coil

Array = NDArray[np.float64]

# Range of β, a/b, p/b, ν and ξ, and number of Chebyshev nodes in each: limits of the table, not of any seal.
LOW = (math.radians(15.0), 0.8, 0.2, 0.2, 0.0)
HIGH = (math.radians(60.0), 1.8, 1.4, 0.4, 0.54)
NODES = (10, 6, 5, 3, 12)


def _nodes(low: float, high: float, count: int) -> Array:
    """Chebyshev points of the first kind, ascending."""
    x: Array = -np.cos((2.0 * np.arange(count) + 1.0) * (math.pi / (2 * count)))
    return low + (high - low) * (x + 1.0) / 2.0


def solve(
    cant: Array, aspect: Array, pitch: Array, nu: Array, xi: Sequence[float] | Array, steps: int = 32
) -> tuple[Array, Array, Array, Array]:
    """Exact F/(linear rate·δ), resultant and equivalent moment b/EI over ξ and gap over p; each (levels, coils)."""
    levels = np.asarray(xi, dtype=float)
    rate = np.vectorize(_linear_coefficient)(aspect, pitch, np.tan(cant), nu)
    parts = []
    for start in range(0, cant.size, 256):
        some = slice(start, start + 256)
        coils = coil.Coils(aspect[some], pitch[some], cant[some], nu[some])
        path = coil.compress(coils, 2.0 * levels, steps)
        column = levels[:, None]
        secant = path.load / (rate[some] * 2.0 * column)
        parts.append((secant, path.moment / column, path.equivalent / column, path.gap / pitch[some]))
    one, two, three, four = (np.concatenate(item, axis=1) for item in zip(*parts, strict=True))
    return one, two, three, four


def _chebyshev(x: Array, count: int) -> Array:
    """Chebyshev polynomials from degree 0 at each place of a line from -1 to 1."""
    terms: Array = np.polynomial.chebyshev.chebvander(x, count - 1).astype(np.float64)
    return terms


def build(path: Path = tables.FOLDER / "canted_coil.npz") -> None:
    """Solve the rod at the nodes of the table and write its Chebyshev coefficients in each of the five arguments.

    About ten seconds. The nodes are the Chebyshev points of the first kind, at which the coefficients are exact.
    """
    axes = [_nodes(*item) for item in zip(LOW, HIGH, NODES, strict=True)]
    xi = axes[4]
    cant, aspect, pitch, nu = (item.reshape(-1) for item in np.meshgrid(*axes[:4], indexing="ij"))
    secant, moment, equivalent, gap = solve(cant, aspect, pitch, nu, xi)
    softening = np.log((1.0 / secant - 1.0) / xi[:, None])
    values = np.stack((softening, moment, equivalent, gap))  # (quantity, ξ, coil)
    if not np.isfinite(values).all():
        raise ArithmeticError("the rod was not solved at every node")
    coefficients = values.transpose(2, 0, 1).reshape(*NODES[:4], 4, NODES[4])
    for axis, count in zip((0, 1, 2, 3, 5), NODES, strict=True):
        inverse = np.linalg.inv(_chebyshev(_nodes(-1.0, 1.0, count), count))
        coefficients = np.moveaxis(np.tensordot(inverse, coefficients, (1, axis)), 0, axis)
    path.parent.mkdir(exist_ok=True)
    np.savez_compressed(path, low=np.array(LOW), high=np.array(HIGH), coefficients=coefficients.astype(np.float32))
