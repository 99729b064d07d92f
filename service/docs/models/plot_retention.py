"""Draw the retention page: heel extrusion limits with the block-mechanism check, and what holds a seal."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.mechanics import retention
from glandwise.numerics.over import Over

HERE = Path(__file__).parent
mpl.rcParams["svg.hashsalt"] = "glandwise"


def block_bound(triangles: int) -> float:
    """Upper bound p/k of a strip on a half-space by rigid blocks: two 45-degree wedges and a fan between them."""
    radius = math.sqrt(0.5)
    rim = [
        np.array([1.0 + radius * math.cos(a), radius * math.sin(a)])
        for a in (math.radians(225.0 + 90.0 * i / triangles) for i in range(triangles + 1))
    ]
    edge = np.array([1.0, 0.0])
    ground = [np.zeros(2), *rim, np.array([2.0, 0.0])]
    velocity = (ground[1] - ground[0]) / abs(ground[1][1] - ground[0][1])
    total = np.linalg.norm(velocity) * np.linalg.norm(ground[1] - ground[0])
    for start, end in pairwise(ground[1:]):
        along, between = end - start, start - edge
        along, between = along / np.linalg.norm(along), between / np.linalg.norm(between)
        speed, jump = np.linalg.solve(np.column_stack([along, -between]), velocity)
        total += abs(speed) * np.linalg.norm(end - start) + abs(jump) * np.linalg.norm(start - edge)
        velocity = speed * along
    return float(total)


def main() -> None:
    """Write ``img/retention.svg``."""
    figure, (left, right) = plt.subplots(1, 2, figsize=(10, 4.4), layout="constrained")
    ratio = np.geomspace(0.2, 30.0, 300)
    limit = Over(retention).extrusion_pressure(1.0, ratio, 1.0, 1.0 / math.sqrt(3.0), 1.0)
    left.loglog(ratio, limit.shear, ":", color="tab:blue", label="shear, one plane")
    left.loglog(ratio, limit.bending, "--", color="tab:green", label="bending")
    left.loglog(ratio, limit.local, "-.", color="tab:orange", label="local flow")
    left.loglog(ratio, np.minimum.reduce(limit), color="k", lw=2, label="least of the three")
    left.set_ylim(0.02, 20)
    left.set_xlabel("heel thickness / gap")
    left.set_ylabel("pressure / tensile strength")
    left.set_title("Heel over a gap (shear strength 1/√3 of tensile)", fontsize=10)
    left.legend(fontsize=8, loc="lower right")
    left.grid(alpha=0.3, which="both", lw=0.4)

    count = [1, 2, 3, 4, 6, 8, 12, 16, 24, 32]
    right.semilogx(count, [block_bound(n) for n in count], "o", label="rigid-block upper bounds")
    right.axhline(retention.extrusion_pressure(1.0, 100.0, 1.0, 1.0, 1.0).local, color="k", label="model, 2 + π")
    right.set_xlabel("triangles in the fan")
    right.set_ylabel("collapse pressure / shear strength")
    right.set_title("Local flow into the gap: independent check", fontsize=10)
    right.set_xticks(count, [str(n) for n in count], minor=False)
    right.minorticks_off()
    right.legend(fontsize=8)
    right.grid(alpha=0.3)
    figure.savefig(HERE / "img" / "retention.svg", metadata={"Date": None})


if __name__ == "__main__":
    main()
