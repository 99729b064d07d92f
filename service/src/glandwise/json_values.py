"""What an answer is made of before it is bytes: values of JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeAlias

Json: TypeAlias = "str | float | bool | Sequence[Json] | Mapping[str, Json] | None"
"""A value of JSON."""
JsonObject: TypeAlias = dict[str, Json]
"""An answer, or a part of one, by its names in the contract."""
