"""Table of the constriction under a contact ring, from the integral of its Fourier transform along the shaft."""

from __future__ import annotations

import json
from itertools import pairwise
from math import exp, log, pi, sin
from pathlib import Path

import numpy as np
from scipy.integrate import quad
from scipy.special import i0e, i1e

from glandwise.mechanics import tables

NARROWEST, POINTS = 1.0e-5, 93
"""Least width of the ring over the radius of the shaft, and points of the table from there to 1, even in its logarithm."""
_LOBES = 300


def factor(epsilon: float) -> float:
    """Constriction factor of a ring by the integral in :func:`glandwise.mechanics.heat.ring_constriction`."""

    def kernel(s: float) -> float:
        if s < 1.0e-2:  # series, where the difference cancels
            return 0.25 - s * s / 96.0
        return float(i0e(s) / (s * i1e(s))) - 2.0 / (s * s)

    def weighted(s: float) -> float:
        z = 0.5 * s * epsilon
        return kernel(s) if z == 0.0 else (sin(z) / z) ** 2 * kernel(s)

    total = 0.0
    lobe = 2.0 * pi / epsilon
    edges = [0.0, *(10.0**p for p in range(-1, 8) if 10.0**p < lobe), lobe]
    for a, b in pairwise(edges):
        total += quad(weighted, a, b, epsabs=1.0e-13, epsrel=1.0e-12, limit=200)[0]
    for i in range(1, _LOBES):
        total += quad(weighted, i * lobe, (i + 1) * lobe, epsabs=1.0e-13, epsrel=1.0e-9)[0]
    end = _LOBES * lobe
    # beyond, the sine squared averages to a half and the kernel is 1/s
    return (total + 1.0 / (epsilon * epsilon * end * end)) / pi


def build(path: Path = tables.FOLDER / "heat.json") -> None:
    """Work the factor out over its range and write it to a file; a few seconds."""
    axis = (log(NARROWEST), 0.0, POINTS)
    rows = [[float(f"{factor(exp(place)):.10g}")] for place in np.linspace(*axis).tolist()]
    document = {"ring": {"axis": axis, "rows": rows}}
    path.write_text(json.dumps(document, separators=(",", ":")) + "\n", encoding="utf-8")
