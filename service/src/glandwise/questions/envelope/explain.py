"""What a case was judged by: the formulas run once more on numbers that remember how they were made."""

from __future__ import annotations

from types import SimpleNamespace

from glandwise.case import sizing
from glandwise.case.gland_numbers import GlandRules
from glandwise.case.numbers import Rules
from glandwise.numerics.trace import traced
from glandwise.physics.state import State, state_of
from glandwise.questions.envelope.kernel import IDS, MEASURED, OF_HARDWARE
from glandwise.questions.envelope.measure import Measure

_complete = traced(sizing.complete)
_state_of = traced(state_of)
_measures = {name: traced(module.measure) for name, module in zip(IDS, MEASURED, strict=True)}


def explained(
    case: SimpleNamespace, rules: Rules, gland: GlandRules, ids: tuple[str, ...] = IDS
) -> tuple[State, dict[str, Measure]]:
    """Return the state and the measures of a case given as leaves, each number with its tree; the case is filled in."""
    _complete(case, rules)
    state = _state_of(case, rules)
    more = {name: (gland,) if name in OF_HARDWARE else () for name in ids}
    return state, {name: _measures[name](case, rules, state, *more[name]) for name in ids}


def numbers(m: Measure) -> tuple[float, float, float]:
    """Return what a working of a criterion has to lead to."""
    return m.demand, m.capacity, m.utilization
