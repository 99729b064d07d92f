"""Building requests: no input or output here."""

from __future__ import annotations

import json
import math
import re
import types
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Annotated, Any, Generic, Literal, NamedTuple, TypeAlias, TypeVar, Union, get_args, get_origin
from urllib.parse import quote

from pydantic import BaseModel

from glandwise_client import _models as m
from glandwise_client._base import RequestModel, RequestQuantity
from glandwise_client._errors import FieldFault, RequestError
from glandwise_client._quantities import QuantityFault, several, split, write
from glandwise_client._version import __version__

R = TypeVar("R")

Fields: TypeAlias = Mapping[str, Any]
"""Fields of a request object by name; quantities in it as people write them."""
Units: TypeAlias = Literal["si", "us"] | m.AnswerUnits | Fields
"""Units of the answer: a system, or a system with single units that differ (``{"system": "us", "length": "mm"}``)."""


@dataclass(frozen=True, kw_only=True)
class Timeouts:
    """Seconds to wait for each phase of a call."""

    connect: float = 5.0
    """For the connection."""
    read: float = 30.0
    """For each piece of the answer."""
    write: float = 30.0
    """For each piece of the request to leave."""
    pool: float = 10.0
    """For a free connection."""


Timeout: TypeAlias = float | Timeouts | None
"""One number of seconds for every phase, or one for each; ``None``: the client's own."""


@dataclass(frozen=True)
class Operation(Generic[R]):
    """One operation of the service."""

    name: str
    method: str
    path: str
    request: type[RequestModel] | None
    result: type[R] | None
    query: tuple[str, ...]
    media_types: tuple[str, ...]
    batch: bool
    """Whether it takes many requests in one message."""
    others: tuple[type[BaseModel], ...] = ()
    """Results that a field of the request asks for in place of the usual one."""


class Prepared(NamedTuple):
    """A request ready to be sent."""

    method: str
    path: str
    query: dict[str, str]
    headers: dict[str, str]
    content: bytes | None
    request_id: str
    batch: bool = False
    """Whether it holds many requests."""


# What a field of a request model may hold ---------------------------------------------------------------------------


class Shape(NamedTuple):
    """What a field may hold: objects of these models, or a quantity."""

    models: tuple[type[RequestModel], ...] = ()
    quantity: type[RequestQuantity] | None = None
    many: bool = False


_PLAIN = Shape()


def _shape(annotation: Any) -> Shape:
    origin = get_origin(annotation)
    if origin is Annotated:
        return _shape(get_args(annotation)[0])
    if origin in (Union, types.UnionType):
        shapes = [_shape(item) for item in get_args(annotation)]
        quantity = next((shape.quantity for shape in shapes if shape.quantity), None)
        models = tuple(model for shape in shapes for model in shape.models)
        return Shape(models, quantity, any(shape.many for shape in shapes))
    if origin is list:
        return _shape(get_args(annotation)[0])._replace(many=True)
    if isinstance(annotation, type) and issubclass(annotation, RequestQuantity):
        return Shape(quantity=annotation)
    if isinstance(annotation, type) and issubclass(annotation, RequestModel):
        return Shape(models=(annotation,))
    return _PLAIN


@lru_cache(maxsize=512)
def _shapes(model: type[RequestModel]) -> dict[str, Shape]:
    model.model_rebuild()  # resolves the names in its annotations, which are text until first use
    return {name: _shape(field.annotation) for name, field in model.model_fields.items()}


@lru_cache(maxsize=512)
def _tags(model: type[RequestModel]) -> dict[str, tuple[Any, ...]]:
    """Return the fields of a model that hold one of few texts."""
    model.model_rebuild()
    return {
        name: get_args(field.annotation)
        for name, field in model.model_fields.items()
        if get_origin(field.annotation) is Literal
    }


def _candidates(models: tuple[type[RequestModel], ...], fields: Fields) -> tuple[type[RequestModel], ...]:
    """Keep the members of a union that an object can be by its tag."""
    if len(models) < 2:
        return models
    fitting = tuple(
        model
        for model in models
        if all(name not in fields or fields[name] in allowed for name, allowed in _tags(model).items())
    )
    return fitting or models


def _field_shape(models: tuple[type[RequestModel], ...], name: str) -> Shape:
    return next((_shapes(model)[name] for model in models if name in _shapes(model)), _PLAIN)


# Writing ------------------------------------------------------------------------------------------------------------


_UNSHOWN = re.compile(r"[^\w $\-.,:+*/~%^°²³·()\[\]{}]")


def shown(name: str) -> str:
    """Write a name of the caller's own making as the service does: at most 64 characters, none that a terminal obeys."""
    return _UNSHOWN.sub("?", name[:64].encode("utf-8", "replace").decode("utf-8"))


class _Writer:
    """Turns what the caller gave into JSON values, and collects what cannot be."""

    def __init__(self) -> None:
        self.faults: list[FieldFault] = []

    def fault(self, pointer: str, detail: str, accepted: str | None = None) -> None:
        self.faults.append(FieldFault(pointer, detail, accepted))

    def value(self, value: Any, shape: Shape, pointer: str) -> Any:
        if shape.quantity is not None:
            return self.quantities(value, shape, pointer) if shape.many else self.quantity(value, shape, pointer)
        if isinstance(value, BaseModel):
            value = value.model_dump(mode="json", exclude_unset=True, exclude_none=True)
        if isinstance(value, Mapping):
            return self.object(value, shape.models, pointer)
        if isinstance(value, (list, tuple)):
            return [
                self.value(item, shape._replace(many=False), f"{pointer}/{place}") for place, item in enumerate(value)
            ]
        return self.plain(value, pointer)

    def object(self, fields: Mapping[Any, Any], models: tuple[type[RequestModel], ...], pointer: str) -> dict[str, Any]:
        models = _candidates(models, fields)
        written = {}
        for name, value in fields.items():
            if not isinstance(name, str):
                self.fault(pointer, "a name of a field is not text")
            elif value is not None:
                step = shown(name).replace("~", "~0").replace("/", "~1")
                written[name] = self.value(value, _field_shape(models, name), f"{pointer}/{step}")
        return written

    def answer(self, value: Any, pointer: str) -> Any:
        """Write a stored answer as it stands: a null in it is a statement, and no field left out."""
        if isinstance(value, BaseModel):
            value = value.model_dump(mode="json", exclude_unset=True)
        if isinstance(value, Mapping):
            for name in value:
                if not isinstance(name, str):
                    self.fault(pointer, "a name of a field is not text")
            return {
                name: self.answer(item, f"{pointer}/{str(name).replace('~', '~0').replace('/', '~1')}")
                for name, item in value.items()
            }
        if isinstance(value, (list, tuple)):
            return [self.answer(item, f"{pointer}/{place}") for place, item in enumerate(value)]
        return self.plain(value, pointer)

    def quantity(self, value: Any, shape: Shape, pointer: str) -> Any:
        assert shape.quantity is not None
        try:
            of = shape.quantity
            return write(value, of.accepted_units(), gauge=of.is_gauge(), ranged=of.is_ranged())
        except QuantityFault as fault:
            self.fault(pointer, fault.detail, fault.accepted)
            return None

    def quantities(self, value: Any, shape: Shape, pointer: str) -> Any:
        try:
            items = several(value)
        except QuantityFault as fault:
            self.fault(pointer, fault.detail, fault.accepted)
            return None
        return [self.quantity(item, shape, f"{pointer}/{place}") for place, item in enumerate(items)]

    def plain(self, value: Any, pointer: str) -> Any:
        if isinstance(value, float) and not math.isfinite(value):
            self.fault(pointer, "the number is not finite", "a finite number")
            return None
        if value is None or isinstance(value, (str, bool, int, float)):
            return value
        if isinstance(value, date):
            return value.isoformat()
        parts = split(value)
        if parts is not None:  # a quantity in a field that this client does not know: the service judges it
            return {"value": self.plain(parts[0], pointer), "unit": str(parts[1])}
        if hasattr(value, "tolist"):  # scalars and arrays of NumPy
            return self.value(value.tolist(), _PLAIN, pointer)
        if isinstance(value, Iterable) and not isinstance(value, bytes):
            return [self.value(item, _PLAIN, f"{pointer}/{place}") for place, item in enumerate(value)]
        self.fault(pointer, f"a {type(value).__name__} cannot be sent", "numbers, text, lists, objects and quantities")
        return None


def _answer_units(units: Any) -> Any:
    """Write out the short form of the answer's units."""
    return {"system": units} if isinstance(units, str) else units


def new_request_id() -> str:
    """Return a fresh identifier of a request."""
    return uuid.uuid4().hex


def body(
    model: type[RequestModel] | None, request: Any, fields: Fields, units: Units | None, request_id: str
) -> dict[str, Any]:
    """Return the JSON object of a request. Raises :class:`RequestError` with every field at fault."""
    writer = _Writer()
    try:
        if isinstance(request, BaseModel):
            request = request.model_dump(mode="json", exclude_unset=True, exclude_none=True)
        if request is not None and not isinstance(request, Mapping):
            expected = "keyword arguments" if model is None else f"a {model.__name__}, a mapping, or keyword arguments"
            detail = f"the request is a {type(request).__name__}; it has to be {expected}"
            raise RequestError(detail, request_id=request_id)
        given = {**(request or {}), **{name: value for name, value in fields.items() if value is not None}}
        if model is not None and "units" in model.model_fields:
            chosen = given.pop("units", None)
            chosen = units if chosen is None else chosen
            if chosen is not None:
                given["units"] = _answer_units(chosen)
        rechecked = model is m.RecheckRequest
        stored = given.pop("stored_request", None) if rechecked else None
        answer = given.pop("stored_result", None) if rechecked else None
        written = writer.object(given, (model,) if model else (), "")
        if answer is not None:
            written["stored_result"] = writer.answer(answer, "/stored_result")
        if stored is not None:
            written["stored_request"] = writer.value(stored, _stored_shape(given.get("operation")), "/stored_request")
    except RecursionError:
        raise RequestError(_TOO_DEEP, request_id=request_id) from None
    if writer.faults:
        first = str(writer.faults[0])
        more = f" (and {len(writer.faults) - 1} more)" if len(writer.faults) > 1 else ""
        raise RequestError(first + more, errors=writer.faults, request_id=request_id)
    return written


def _stored_shape(operation: Any) -> Shape:
    """Return what the request of an operation is like, for a request that is sent inside another."""
    from glandwise_client._operations import OPERATIONS  # which builds on this module

    stored = OPERATIONS.get(operation) if isinstance(operation, str) else None
    return Shape((stored.request,)) if stored is not None and stored.request is not None else _PLAIN


_TOO_DEEP = "the request is nested too deep"


def encoded(written: dict[str, Any], request_id: str) -> bytes:
    """Return a request as JSON. Raises :class:`RequestError`."""
    try:
        return json.dumps(written, allow_nan=False, ensure_ascii=False, separators=(",", ":")).encode("utf-8")
    except UnicodeEncodeError:
        raise RequestError("a text holds a lone surrogate", request_id=request_id) from None
    except RecursionError:
        raise RequestError(_TOO_DEEP, request_id=request_id) from None


def build(
    operation: Operation[Any],
    request: Any = None,
    fields: Fields | None = None,
    path: Fields | None = None,
    *,
    units: Units | None = None,
    request_id: str | None = None,
    accept: str = "application/json",
    content: bytes | None = None,
    content_type: str = "application/json",
) -> Prepared:
    """Return the request of an operation, ready to be sent. Raises :class:`RequestError`."""
    request_id = request_id or new_request_id()
    fields = fields or {}
    headers = {"accept": accept, "x-request-id": request_id, "user-agent": f"glandwise-client/{__version__}"}
    address = operation.path
    for name, value in (path or {}).items():
        if not str(value):
            raise RequestError(
                f"{name} is empty", errors=[FieldFault(f"/{name}", "it is empty", None)], request_id=request_id
            )
        address = address.replace("{" + name + "}", quote(str(value), safe=""))
    query = {
        name: value.isoformat() if isinstance(value, date) else str(value)
        for name, value in fields.items()
        if name in operation.query and value is not None
    }
    if content is None and operation.method == "POST":
        own = {name: value for name, value in fields.items() if name not in operation.query}
        content = encoded(body(operation.request, request, own, units, request_id), request_id)
    if content is not None:
        headers["content-type"] = content_type
    many = content is not None and content_type != "application/json"
    return Prepared(operation.method, address, query, headers, content, request_id, many)
