"""Measure how often intervals of posteriors hold truths that are as the house believes them to be.

``python -m tests.calibration.believed [REPETITIONS] [KIND ...]``
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from math import exp, log
from typing import Any

import numpy as np
from glandwise.review.calibration.lives import ratio_of
from glandwise.review.calibration.posterior import belief_of
from scipy import stats

from tests.calibration import simulated
from tests.calibration.simulated import ALLOY, ASKED, COMPOUND, Simulated, baseline, fitted, found, name_of

ASKED_BAYES = ASKED._replace(beliefs=baseline().calibration)
COUNTS = (1, 3, 8)
"""Specimens of which records are made; of lives ten seals for each."""


def drawn(rng: Any, datum: Any) -> float:
    """Draw a number as the house believes it."""
    belief = belief_of(datum)
    assert belief is not None
    return exp(rng.normal(belief.middle, belief.spread))


def wear(rng: Any, specimens: int) -> Simulated:
    """Specific wear rates from the house's range."""
    rules = baseline()
    return simulated.wear(
        rng,
        specimens,
        drawn(rng, rules.compounds[COMPOUND].wear.dry),
        scatter=drawn(rng, rules.calibration.scatter.wear),
    )


def friction(rng: Any, specimens: int) -> Simulated:
    """Friction coefficients from the house's range."""
    rules = baseline()
    truth, scatter = (
        drawn(rng, datum) for datum in (rules.compounds[COMPOUND].friction.dry, rules.calibration.scatter.friction)
    )
    return simulated.friction(rng, specimens, truth, scatter=scatter)


def relaxation(rng: Any, specimens: int) -> Simulated:
    """Series off by what the house believes they may be."""
    prony, held = baseline().compounds[COMPOUND].relaxation, baseline().calibration
    amount = 1e9
    while amount * sum(prony.branches) >= 0.999:  # more than the whole cannot relax
        amount = drawn(rng, held.factor.relaxation)
    return simulated.relaxation(
        rng, specimens, amount, drawn(rng, prony.activation_energy), scatter=drawn(rng, held.scatter.relaxation),
        noise=drawn(rng, held.readings.relaxation),
    )  # fmt: skip


def energizer_load(rng: Any, specimens: int) -> Simulated:
    """Moduli off by what the house believes they may be."""
    assert baseline().alloys[ALLOY]
    held = baseline().calibration
    return simulated.energizer_load(
        rng, specimens, drawn(rng, held.factor.energizer_load), drawn(rng, held.scatter.energizer_load)
    )


def life(rng: Any, specimens: int) -> Simulated:
    """Lives with a spread from the house's range."""
    ratio = drawn(rng, baseline().running.wear.seal_scatter)
    return simulated.life(rng, 10 * specimens, log(ratio_of(1.0)) / log(ratio))


def pv_steps(rng: Any, specimens: int) -> Simulated:
    """Limits off by what the house believes they may be."""
    held = baseline().calibration
    return simulated.pv_steps(
        rng, specimens, drawn(rng, held.factor.limiting_pv), spread=drawn(rng, held.scatter.pv_steps)
    )


MADE: Mapping[str, Callable[[Any, int], Simulated]] = {
    "wear": wear, "friction": friction, "relaxation": relaxation, "energizer_load": energizer_load, "life": life,
    "pv_steps": pv_steps,
}  # fmt: skip


def held(kind: str, seed: int, specimens: int) -> dict[str, bool]:
    """Say of one repetition whether each interval holds its truth."""
    made = MADE[kind](np.random.default_rng((seed, specimens, list(MADE).index(kind))), specimens)
    values = {name_of(value): value for value in fitted(kind, made.text, ASKED_BAYES)}
    told = {name: truth for name, truth in made.truth.items() if name in values and values[name].found is not None}
    return {name: found(values[name]).low <= truth <= found(values[name]).high for name, truth in told.items()}


def main() -> int:
    """Print coverage by kind, specimens and value; 1 where it is not what was promised, beyond chance."""
    repetitions = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    off = False
    for kind in sys.argv[2:] or MADE:
        for specimens in COUNTS:
            counts: dict[str, list[bool]] = {}
            for seed in range(repetitions):
                for name, holds in held(kind, seed, specimens).items():
                    counts.setdefault(name, []).append(holds)
            for name, all_of in counts.items():
                ends = stats.binomtest(sum(all_of), len(all_of)).proportion_ci(0.95, method="exact")
                off |= not ends.low <= ASKED.cover <= ends.high
                print(
                    f"{kind:12} {specimens:3} {name:42} {np.mean(all_of):.3f} of {len(all_of)} ({ends.low:.3f} to {ends.high:.3f})",
                    flush=True,
                )
    return 1 if off else 0


if __name__ == "__main__":
    raise SystemExit(main())
