"""What both clients do around a call."""

from __future__ import annotations

import os
import re
from typing import Any, Final

from glandwise_client._errors import ConnectionFailed, GlandwiseError, RequestError, RequestTimeout
from glandwise_client._operations import OPERATIONS
from glandwise_client._requests import Operation
from glandwise_client._retry import Failure

DEFAULT_URL: Final = "http://127.0.0.1:8710"


def address(given: str | None) -> str:
    """Return the address of the service: the one given, that of the environment, or the usual one."""
    return given if given is not None else os.environ.get("GLANDWISE_URL") or DEFAULT_URL


def find_operation(name: str) -> Operation[Any]:
    """Return an operation by its name. Raises :class:`RequestError`."""
    operation = OPERATIONS.get(name)
    if operation is None:
        raise RequestError(f"there is no operation of this name; there are: {', '.join(OPERATIONS)}")
    return operation


def transport_error(kind: Failure, text: str, base_url: str, request_id: str | None) -> GlandwiseError:
    """Return the exception of a call that got no answer."""
    if kind == "unusable":
        return RequestError(text, request_id=request_id)
    failed = RequestTimeout if kind == "timeout" else ConnectionFailed
    return failed(f"{_without_credentials(base_url)}: {text}", request_id=request_id)


def _without_credentials(url: str) -> str:
    """Return an address as it may be shown: without a name and password before the host, and what follows the path."""
    shown = re.sub(r"^([a-z]+://)[^/?#]*@", r"\1", re.split(r"[?#]", url)[0], flags=re.IGNORECASE)
    return "the address" if "@" in shown or not shown.isprintable() else shown
