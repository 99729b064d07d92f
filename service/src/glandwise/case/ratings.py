"""Rated capacities of designs, by their features: found once for each combination, then a row of a table."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from typing import Any

import numpy as np

from glandwise.case.features import SORTS, Features, features_of
from glandwise.case.numbers import RATED, Rated, Rules, leaves, packed, rating_row
from glandwise.rules.features import most_special
from glandwise.rules.model import Capacity, RuleSetData
from glandwise.rules.once import OncePerRuleSet


def found(data: RuleSetData, features: Features) -> dict[str, Rated]:
    """Return the rated capacities of a design: the most special matching limit and all matching factors."""
    result: dict[str, Rated] = {}
    for criterion in RATED:
        matching: dict[str, Capacity] = {
            name: entry
            for name, entry in data.designs.capacities.items()
            if entry.criterion == criterion and all(features.get(key) == value for key, value in entry.when.items())
        }
        name = most_special({name: entry.when for name, entry in matching.items() if entry.factor is None})
        limit = None if name is None else matching[name]
        factors = tuple(entry for entry in matching.values() if entry.factor is not None)
        titles = () if limit is None else tuple(entry.title for entry in (limit, *factors))
        result[criterion] = Rated(limit, factors, titles)
    return result


class RuleNumbers:
    """The numbers of one rule set for formulas; ratings of designs are added as they are asked for."""

    def __init__(self, data: RuleSetData) -> None:
        self.data = data
        self._codes = np.full(SORTS, -1)
        """Codes by sort of design; -1 where none has been asked for."""
        self._features: list[Features] = []
        self._rated: list[Mapping[str, Rated]] = []
        self._table = np.zeros(0, rating_row(found(data, {})).dtype)
        self._lock = threading.Lock()
        self._packed = packed(data, self._table)
        self._leaves = leaves(data, lambda code: self._rated[code])

    def rating(self, sort: int) -> int:
        """Return the code of the ratings of a sort of design."""
        code: int = self._codes.item(sort)
        if code < 0:
            with self._lock:
                code = self._codes.item(sort)
                if code < 0:
                    code = self._add(sort)
        return code

    def ratings(self, sorts: Any) -> Any:
        """Return the codes of the ratings of some sorts of designs."""
        codes = self._codes[sorts]
        if (codes < 0).any():
            for sort in np.unique(sorts[codes < 0]).tolist():
                self.rating(sort)
            codes = self._codes[sorts]
        return codes

    def _add(self, sort: int) -> int:
        features = features_of(sort)
        rated = found(self.data, features)
        code = len(self._rated)
        if code >= len(self._table):
            more = np.zeros(max(64, len(self._table)), self._table.dtype)
            self._table = np.concatenate([self._table, more])
        self._features.append(features)
        self._rated.append(rated)
        self._table[code] = rating_row(rated)[0]
        self._packed = self._packed._replace(ratings=self._table)
        self._codes[sort] = code
        return code

    def rated(self, code: int) -> Mapping[str, Rated]:
        """Return what the ratings of a design come from."""
        return self._rated[code]

    def features(self, code: int) -> Features:
        """Return the features of the designs with some ratings."""
        return self._features[code]

    @property
    def packed(self) -> Rules:
        """Tables for machine code; those of codes given out before are in it."""
        return self._packed

    @property
    def leaves(self) -> Rules:
        """Leaves for a trace."""
        return self._leaves


numbers_of = OncePerRuleSet(
    RuleNumbers,
    (
        "compounds",
        "fluids",
        "alloys",
        "elastomers",
        "shaft_materials",
        "designs",
        "sizing",
        "running",
        "criteria",
        "expansion",
        "gland",
    ),
)
"""The numbers of a rule set."""


def tables_of(data: RuleSetData, compounds: Any = None) -> Rules:
    """Return the tables of a rule set; ``compounds`` are those of the caller in place of the rule set's."""
    packed = numbers_of(data).packed
    return packed if compounds is None else packed._replace(compounds=compounds)
