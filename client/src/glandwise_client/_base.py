"""Base classes of the generated models.

Their validators are built at first use, so that importing the package stays quick.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cached_property, lru_cache
from html import escape
from typing import TYPE_CHECKING, Any, Self, get_args

from pydantic import BaseModel, ConfigDict, model_validator

from glandwise_client._quantities import QuantityLike, convert, number_and_unit, pint_expression, several, write


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
        return write(value, cls.accepted_units(), gauge=cls.is_gauge(), ranged=cls.is_ranged())

    @classmethod
    def is_gauge(cls) -> bool:
        """Tell a pressure relative to the ambient."""
        return cls.__name__.removesuffix("WithRange").endswith("GaugePressure")

    @classmethod
    def is_ranged(cls) -> bool:
        """Tell a quantity that may come with a range."""
        return "low" in cls.model_fields


def each(value: Any) -> Any:
    """Return the quantities of a field that takes several, however they were given (``([500, 1000], "rpm")``)."""
    return value if value is None else list(several(value))


class ResultModel(BaseModel):
    """An object of a result. Fields and names that a later service adds do not disturb."""

    model_config = ConfigDict(extra="ignore", frozen=True, hide_input_in_errors=True, defer_build=True)

    if not TYPE_CHECKING:

        def __getattr__(self, name: str) -> Any:
            """Say which names there are near one that there is not."""
            try:
                return super().__getattr__(name)
            except AttributeError as error:
                if name.startswith("_") or hasattr(type(self), name):
                    raise
                near = get_close_matches(name, type(self).model_fields, n=3, cutoff=0.6)
                hint = f"did you mean {' or '.join(near)}?" if near else f"it has {', '.join(type(self).model_fields)}"
                raise AttributeError(f"{error}; {hint}") from None

    def _repr_html_(self) -> str:
        """Show the object as a table in a notebook."""
        from glandwise_client._show import page  # which is only needed there

        return page(self)

    @cached_property
    def answer(self) -> Answer:
        """The HTTP answer this result was read from (headers, request id, body)."""
        raise AttributeError("only the result of a call holds its answer, not the objects inside it")


class Quantity(ResultModel):
    """A number with its unit in a result. May be given in a request as it is.

    Quantities are compared and converted whatever their units (``torque < "2 N.m"``, ``torque.to("lbf.in")``);
    ``==`` asks for the same number in the same unit. ``float(quantity)`` is the number in its own unit.
    """

    value: float
    unit: str

    def to(self, unit: str) -> Quantity:
        """Return the quantity in another unit. Raises ``ValueError`` for a unit of something else."""
        value, symbol = convert(self.value, self.unit, unit)
        return Quantity(value=value, unit=symbol)

    def __float__(self) -> float:
        return float(self.value)

    def _difference(self, other: object) -> float | None:
        """Return the number less another quantity's in the same unit; ``None`` for what is no quantity."""
        if isinstance(other, (bool, Mapping)) or not isinstance(other, (str, tuple, float, int, Quantity)):
            return None
        if isinstance(other, Quantity):
            other = (other.value, other.unit)
        if isinstance(other, (float, int)):
            if self.unit not in {"1", "%"}:
                raise TypeError(f"a quantity in {self.unit} cannot be compared with a number that has no unit")
            return convert(self.value, self.unit, "1")[0] - other
        given = number_and_unit(other)
        return self.value - convert(*given, self.unit)[0]

    def __lt__(self, other: QuantityLike | float) -> bool:
        return NotImplemented if (difference := self._difference(other)) is None else difference < 0.0

    def __le__(self, other: QuantityLike | float) -> bool:
        return NotImplemented if (difference := self._difference(other)) is None else difference <= 0.0

    def __gt__(self, other: QuantityLike | float) -> bool:
        return NotImplemented if (difference := self._difference(other)) is None else difference > 0.0

    def __ge__(self, other: QuantityLike | float) -> bool:
        return NotImplemented if (difference := self._difference(other)) is None else difference >= 0.0

    def _repr_html_(self) -> str:
        return escape(str(self))

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
