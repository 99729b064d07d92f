"""Values of the rules made larger for a while, and the criteria that come out otherwise meanwhile."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from typing import Any

from glandwise.questions import told
from glandwise.rules.loader import RuleSet
from glandwise.rules.model import Curve, Datum, Prony, walk


@contextmanager
def nudged(record: Any) -> Iterator[None]:
    """Make the numbers of a record 3 % larger for a while."""
    if isinstance(record, Datum):
        changes = {name: getattr(record, name) * 1.03 for name in ("si", "si_low", "si_high")}
    elif isinstance(record, Curve):
        changes = {"si_y": tuple(y * 1.03 for y in record.si_y)}
    else:
        changes = {"branches": tuple(share * 1.03 for share in record.branches)}
        changes["equilibrium"] = 1.0 - sum(changes["branches"])
    held = {name: getattr(record, name) for name in changes}
    try:
        for name, value in changes.items():
            object.__setattr__(record, name, value)
        yield
    finally:
        for name, value in held.items():
            object.__setattr__(record, name, value)


class Larger:
    """Finds the criteria that some values move: ``find`` gives the findings with numbers, under rules that are nobody else's."""

    def __init__(self, own: RuleSet, places: tuple[str, ...], find: Callable[[], Mapping[str, Any]]) -> None:
        self._own, self._find = own, find
        self.records = {
            path: record
            for path, record in walk(own.data)
            if isinstance(record, Datum | Curve | Prony) and path.startswith(places)
        }
        found = find()
        self._before = {name: finding.measure[1:4] for name, finding in found.items()}
        self.named = {name: {id(record) for record in finding.records} for name, finding in found.items()}

    def moved(self, *paths: str) -> set[str]:
        """Return the criteria whose demand, capacity or utilization is another with some values made larger."""
        with ExitStack() as held:
            for path in paths:
                held.enter_context(nudged(self.records[path]))
            told.forget(self._own.data)
            now = self._find()
        told.forget(self._own.data)
        return {name for name, then in self._before.items() if name not in now or now[name].measure[1:4] != then}

    def require_names(self, least: int) -> None:
        """Fail where a criterion moves with the values that it does not name, of which there are ``least`` at least."""
        for name, named in self.named.items():
            others = [path for path, record in self.records.items() if id(record) not in named]
            assert len(others) > least
            if name in self.moved(*others):
                culprits = [path for path in others if name in self.moved(path)]
                raise AssertionError(f"{culprits or 'several values together'} move {name}, which does not name them")
