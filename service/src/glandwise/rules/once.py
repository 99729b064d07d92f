"""What is worked out once per rule set."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from operator import is_
from typing import Any, Generic, TypeVar

from glandwise.rules.model import RuleSetData

T = TypeVar("T")

_KEPT = 24
"""Rule sets whose results are kept, those used last: comparisons of rule sets make new ones without end, a megabyte each."""


class OncePerRuleSet(Generic[T]):
    """A function of the rule set alone, called once for each and remembered.

    One that reads some ``files`` only is called once for all rule sets that have these in common.
    """

    def __init__(self, function: Callable[[RuleSetData], T], files: Sequence[str] = ()) -> None:
        self._function, self._files = function, tuple(files)
        self._lock = threading.Lock()
        # what was read is held with its result: nothing else can take its place in memory
        self._held: dict[tuple[int, ...], tuple[Sequence[Any], T]] = {}
        self._newest: tuple[Sequence[Any], T] | None = None
        self._last: tuple[RuleSetData, T] | None = None
        self.__doc__ = function.__doc__

    def _read(self, data: RuleSetData) -> Sequence[Any]:
        return [getattr(data, name) for name in self._files] or [data]

    def __call__(self, data: RuleSetData) -> T:
        last = self._last
        if last is not None and last[0] is data:
            return last[1]
        value = self._find(data)
        self._last = data, value
        return value

    def _find(self, data: RuleSetData) -> T:
        read = self._read(data)
        newest = self._newest
        if newest is not None and all(map(is_, read, newest[0])):
            return newest[1]
        key = tuple(map(id, read))
        with self._lock:
            held = self._held.pop(key, None)
            if held is not None:  # in again as the newest: what is in use is not forgotten for what was new once
                self._held[key] = self._newest = held
                return held[1]
        made = (read, self._function(data))
        with self._lock:
            # of two threads that made it at once both go on with the same
            held = self._newest = self._held.setdefault(key, made)
            while len(self._held) > _KEPT:
                del self._held[next(iter(self._held))]
        return held[1]

    def forget(self, data: RuleSetData) -> None:
        """Forget what was worked out for a rule set whose numbers have been changed in place."""
        with self._lock:
            self._newest = self._last = None
            self._held.pop(tuple(map(id, self._read(data))), None)

    def clear(self) -> None:
        """Forget all."""
        with self._lock:
            self._newest = self._last = None
            self._held.clear()
