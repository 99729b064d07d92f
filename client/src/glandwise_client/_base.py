"""Base classes of the generated models.

Their validators are built at first use, so that importing the package stays quick.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any, Self, get_args

from pydantic import BaseModel, ConfigDict, model_validator

from glandwise_client._quantities import pint_expression, several, write


@dataclass(frozen=True)
class Answer:
    """An answer as it came."""

    status: int
    """HTTP status."""
    headers: Mapping[str, str]
    """Headers, by lower-case name."""
    content: bytes
    """Body."""
    request_id: str | None
    """Identifier to quote when reporting something about this call."""

    @property
    def media_type(self) -> str:
        """Media type without its parameters; empty when none was stated."""
        return self.headers.get("content-type", "").partition(";")[0].strip().lower()

    @property
    def text(self) -> str:
        """Body as UTF-8 text."""
        return self.content.decode("utf-8")

    def _repr_svg_(self) -> str | None:
        """Show a drawing or a plot in a notebook."""
        return self.text if self.media_type == "image/svg+xml" else None


class RequestModel(BaseModel):
    """An object of a request. Unknown fields are refused, and what is assigned later is held to the same rules."""

    model_config = ConfigDict(extra="forbid", validate_assignment=True, hide_input_in_errors=True, defer_build=True)

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """Return a copy, some of its fields replaced. Raises ``pydantic.ValidationError`` as an assignment does."""
        copied = super().model_copy(deep=deep)
        for name, value in (update or {}).items():
            setattr(copied, name, value)
        return copied


class RequestQuantity(RequestModel):
    """A number with its unit, as a request takes it; may be given as ``"50 psi"``, ``(50, "psi")`` or a pint quantity."""

    @classmethod
    @lru_cache(maxsize=256)
    def accepted_units(cls) -> tuple[str, ...]:
        """Return the units and unit codes taken here."""
        return get_args(cls.model_fields["unit"].annotation)

    @model_validator(mode="before")
    @classmethod
    def _write(cls, value: Any) -> Any:
        if isinstance(value, cls):
            return value
        return write(value, cls.accepted_units(), gauge=cls.is_gauge())

    @classmethod
    def is_gauge(cls) -> bool:
        """Tell a pressure relative to the ambient."""
        return cls.__name__.endswith("GaugePressure")


def each(value: Any) -> Any:
    """Return the quantities of a field that takes several, however they were given (``([500, 1000], "rpm")``)."""
    return value if value is None else list(several(value))


class ResultModel(BaseModel):
    """An object of a result. Fields and names that a later service adds do not disturb."""

    model_config = ConfigDict(extra="ignore", frozen=True, hide_input_in_errors=True, defer_build=True)

    @cached_property
    def answer(self) -> Answer:
        """The HTTP answer this result was read from (headers, request id, body)."""
        raise AttributeError("only the result of a call holds its answer, not the objects inside it")


class Quantity(ResultModel):
    """A number with its unit in a result. May be given in a request as it is."""

    value: float
    unit: str

    def __str__(self) -> str:
        return format(self, ".6g")

    def __format__(self, spec: str) -> str:
        number = format(self.value, spec or ".6g")
        return number if self.unit == "1" else f"{number} {self.unit}"

    def to_pint(self, registry: Any) -> Any:
        """Return a quantity of a pint registry. Raises ``ValueError`` for a hardness scale, which pint does not have."""
        expression = pint_expression(self.unit)
        if expression is None:
            raise ValueError(f"pint has no unit {self.unit!r}")
        return registry.Quantity(self.value, expression)
