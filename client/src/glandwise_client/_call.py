"""What both clients do around a call."""

from __future__ import annotations

from typing import Any, Final

from glandwise_client._errors import ConnectionFailed, GlandwiseError, RequestError, RequestTimeout
from glandwise_client._operations import OPERATIONS
from glandwise_client._requests import Operation
from glandwise_client._retry import Failure

DEFAULT_URL: Final = "http://127.0.0.1:8710"


def find_operation(name: str) -> Operation[Any]:
    """Return an operation by its name. Raises :class:`RequestError`."""
    operation = OPERATIONS.get(name)
    if operation is None:
        raise RequestError(f"no operation {name!r}; there are: {', '.join(OPERATIONS)}")
    return operation


def transport_error(kind: Failure, text: str, base_url: str, request_id: str | None) -> GlandwiseError:
    """Return the exception of a call that got no answer."""
    if kind == "timeout":
        return RequestTimeout(f"{base_url}: {text}", request_id=request_id)
    if kind == "unusable":
        return RequestError(f"{base_url}: {text}", request_id=request_id)
    return ConnectionFailed(f"{base_url}: {text}", request_id=request_id)
