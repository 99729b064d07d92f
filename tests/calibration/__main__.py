"""Measure how often intervals of calibrations hold the truth: ``python -m tests.calibration [REPETITIONS] [KIND ...]``."""

from __future__ import annotations

import sys

from scipy import stats

from tests.calibration.simulated import ASKED, MADE, held


def main() -> int:
    """Print coverage by kind and value; 1 where it is below what was promised beyond chance."""
    repetitions = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    kinds = sys.argv[2:] or list(MADE)
    short = False
    for kind in kinds:
        counts: dict[str, int] = {}
        for seed in range(repetitions):
            for name, holds in held(kind, seed).items():
                counts[name] = counts.get(name, 0) + holds
        for name, count in counts.items():
            ends = stats.binomtest(count, repetitions).proportion_ci(0.95, method="exact")
            short |= ends.high < ASKED.cover
            print(
                f"{kind:12} {name:24} {count / repetitions:.3f} of {ASKED.cover}  ({ends.low:.3f} to {ends.high:.3f})"
            )
    return 1 if short else 0


if __name__ == "__main__":
    raise SystemExit(main())
