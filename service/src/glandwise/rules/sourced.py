"""Records of the rules as far as a result rests on them."""

from __future__ import annotations

from typing import Protocol, TypeAlias

from glandwise.rules.values import Evidence


class Sourced(Protocol):
    """A record with its source: a number, a table, a material, a rule."""

    @property
    def source(self) -> str:
        """Identifier of the source, in the rule set's sources."""

    @property
    def evidence(self) -> Evidence:
        """How good the evidence is."""


Records: TypeAlias = tuple[Sourced, ...]
"""What a statement rests on."""
