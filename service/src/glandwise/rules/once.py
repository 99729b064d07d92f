"""What is worked out once per rule set."""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar

from glandwise.rules.model import RuleSetData

T = TypeVar("T")

_KEPT = 16
"""Rule sets whose results are kept, the newest: comparisons of rule sets make new ones without end, a megabyte each."""


class OncePerRuleSet(Generic[T]):
    """A function of the rule set alone, called once for each and remembered."""

    def __init__(self, function: Callable[[RuleSetData], T]) -> None:
        self._function = function
        # the rule set is held with its result: another one cannot take its place in memory
        self._held: dict[int, tuple[RuleSetData, T]] = {}
        self.__doc__ = function.__doc__

    def __call__(self, data: RuleSetData) -> T:
        held = self._held.get(id(data))
        if held is None:
            while len(self._held) >= _KEPT:
                self._held.pop(next(iter(self._held)), None)
            held = self._held[id(data)] = (data, self._function(data))
        return held[1]

    def forget(self, data: RuleSetData) -> None:
        """Forget what was worked out for a rule set whose numbers have been changed in place."""
        self._held.pop(id(data), None)
