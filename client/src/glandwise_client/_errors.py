"""Exceptions of the client.

::

    GlandwiseError
    ├── RequestError                    the request cannot be written; nothing was sent
    ├── TransportError                  no answer came
    │   ├── ConnectionFailed            the service was not reached, or hung up
    │   └── RequestTimeout              it did not answer in time
    ├── AnswerError                     an answer came that is not one of this service's
    └── ProblemError                    the service answered with a problem (RFC 9457)
        ├── BadRequest                  400  the message is malformed
        │   └── InvalidJson             400  the body is not acceptable JSON
        ├── Unauthorized                401
        ├── Forbidden                   403
        ├── NotFound                    404
        ├── MethodNotAllowed            405
        ├── NotAcceptable               406
        ├── RequestTooSlow              408  the request came too slowly
        ├── RulesRefused                409  the rules to be read anew are at fault; the old ones are served on
        ├── LengthRequired              411
        ├── ContentTooLarge             413
        ├── UnsupportedMediaType        415
        ├── UnprocessableRequest        422
        │   ├── InvalidRequest          422  a field is missing, unknown or of the wrong kind
        │   ├── OutOfDomain             422  unphysical, or outside what the models answer for
        │   └── UnknownName             422  the rule set knows no such compound, fluid, ...
        ├── TooManyRequests             429
        ├── HeaderTooLarge              431
        ├── InternalError               500
        ├── NotInstalled                501  the service was set up without what that needs
        ├── BadGateway                  502
        ├── Unavailable                 503
        │   ├── TooBusy                 503  too much is under way
        │   └── TookTooLong             503  the answer was given up after its time
        └── GatewayTimeout              504

Every one carries ``status``, ``type``, ``title``, ``detail``, ``errors``, ``request_id`` and ``retry_after``; what does
not apply is ``None`` (``errors``: empty).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import ClassVar, Final, NamedTuple


class FieldFault(NamedTuple):
    """What is wrong with one field of the request."""

    pointer: str
    """JSON pointer (RFC 6901) to the field, from the root of the request."""
    detail: str
    """The fault."""
    accepted: str | None
    """What is accepted there."""

    def __str__(self) -> str:
        accepted = f" (accepted: {self.accepted})" if self.accepted else ""
        return f"{self.pointer or 'the request'}: {self.detail}{accepted}"


class GlandwiseError(Exception):
    """Whatever can go wrong with a call."""

    default_title: ClassVar[str] = "The call failed"

    def __init__(
        self,
        detail: str,
        *,
        status: int | None = None,
        type: str | None = None,  # noqa: A002 - the name RFC 9457 gives it
        title: str | None = None,
        errors: Sequence[FieldFault] = (),
        request_id: str | None = None,
        retry_after: float | None = None,
    ) -> None:
        super().__init__(detail)
        self.detail = detail
        self.status = status
        self.type = type
        self.title = title or self.default_title
        self.errors = tuple(errors)
        self.request_id = request_id
        self.retry_after = retry_after

    def __str__(self) -> str:
        head = self.title if self.status is None else f"{self.title} ({self.status})"
        lines = [f"{head}: {self.detail}"]
        if self.errors:
            lines = [head, *(f"  {fault}" for fault in self.errors)]
        if self.request_id:
            lines.append(f"  request id: {self.request_id}")
        return "\n".join(lines)


class RequestError(GlandwiseError, ValueError):
    """The request cannot be written; nothing was sent."""

    default_title = "The request cannot be written"


class TransportError(GlandwiseError):
    """No answer came."""

    default_title = "No answer came from the service"


class ConnectionFailed(TransportError, ConnectionError):  # noqa: N818 - says what happened
    """The service was not reached, or hung up before it had answered."""

    default_title = "The service was not reached"


class RequestTimeout(TransportError, TimeoutError):  # noqa: N818
    """The service did not answer in time."""

    default_title = "The service did not answer in time"


class AnswerError(GlandwiseError):
    """An answer came that is not one of this service's: another program at this address, or a much newer service."""

    default_title = "The answer is not one of this service's"


class ProblemError(GlandwiseError):
    """The service answered with a problem."""

    default_title = "The service refused the request"


class BadRequest(ProblemError):  # noqa: N818
    """400: the message is malformed."""


class InvalidJson(BadRequest):
    """400: the body is not acceptable JSON."""


class Unauthorized(ProblemError):  # noqa: N818
    """401: the service, or a gateway, asks for a token (``GLANDWISE_TOKEN``, or give it as ``headers``)."""


class Forbidden(ProblemError):  # noqa: N818
    """403: the token does not allow this."""


class NotFound(ProblemError):  # noqa: N818
    """404: no such resource; mind the base URL."""


class MethodNotAllowed(ProblemError):  # noqa: N818
    """405: the path does not take this method."""


class NotAcceptable(ProblemError):  # noqa: N818
    """406: the operation does not answer in this media type."""


class RequestTooSlow(ProblemError):  # noqa: N818
    """408: the request came too slowly."""


class RulesRefused(ProblemError):  # noqa: N818
    """409: the rules to be read anew are at fault; what was served before is served on."""


class LengthRequired(ProblemError):  # noqa: N818
    """411: a gateway asks for a Content-Length."""


class ContentTooLarge(ProblemError):  # noqa: N818
    """413: the body is too large; split the work."""


class UnsupportedMediaType(ProblemError):  # noqa: N818
    """415: the operation does not take this media type."""


class UnprocessableRequest(ProblemError):  # noqa: N818
    """422: the request was understood and refused."""


class InvalidRequest(UnprocessableRequest):
    """422: a field is missing, unknown or of the wrong kind."""


class OutOfDomain(UnprocessableRequest):
    """422: unphysical, or outside what the models answer for."""


class UnknownName(UnprocessableRequest):
    """422: the rule set knows no such compound, fluid, alloy, elastomer, material or rule set."""


class TooManyRequests(ProblemError):  # noqa: N818
    """429: slow down; ``retry_after`` says for how long, in seconds."""


class HeaderTooLarge(ProblemError):  # noqa: N818
    """431: the target or the headers are too large."""


class InternalError(ProblemError):
    """500: a defect of the service; the same request will fail again."""


class NotInstalled(ProblemError):  # noqa: N818
    """501: the service was set up without what that needs; asking again changes nothing."""


class BadGateway(ProblemError):  # noqa: N818
    """502: a gateway did not understand the service."""


class Unavailable(ProblemError):  # noqa: N818
    """503: the service is not ready; ``retry_after`` says for how long, in seconds."""


class TooBusy(Unavailable):
    """503: too much is under way; ``retry_after`` says when to ask again."""


class TookTooLong(Unavailable):
    """503: the answer took too long; ask for less at once, or later."""


class GatewayTimeout(ProblemError):  # noqa: N818
    """504: a gateway lost patience with the service."""


BY_KIND: Final[Mapping[str, type[ProblemError]]] = {
    "bad-request": BadRequest,
    "invalid-json": InvalidJson,
    "unauthorized": Unauthorized,
    "forbidden": Forbidden,
    "not-found": NotFound,
    "method-not-allowed": MethodNotAllowed,
    "not-acceptable": NotAcceptable,
    "request-timeout": RequestTooSlow,
    "rules-refused": RulesRefused,
    "length-required": LengthRequired,
    "content-too-large": ContentTooLarge,
    "unsupported-media-type": UnsupportedMediaType,
    "invalid-request": InvalidRequest,
    "out-of-domain": OutOfDomain,
    "unknown-name": UnknownName,
    "too-many-requests": TooManyRequests,
    "header-too-large": HeaderTooLarge,
    "internal-error": InternalError,
    "not-installed": NotInstalled,
    "unavailable": Unavailable,
    "too-busy": TooBusy,
    "took-too-long": TookTooLong,
}
"""Last part of a problem's ``type`` → exception."""

BY_STATUS: Final[Mapping[int, type[ProblemError]]] = {
    400: BadRequest,
    401: Unauthorized,
    403: Forbidden,
    404: NotFound,
    405: MethodNotAllowed,
    406: NotAcceptable,
    408: RequestTooSlow,
    409: RulesRefused,
    411: LengthRequired,
    413: ContentTooLarge,
    415: UnsupportedMediaType,
    422: UnprocessableRequest,
    429: TooManyRequests,
    431: HeaderTooLarge,
    500: InternalError,
    501: NotInstalled,
    502: BadGateway,
    503: Unavailable,
    504: GatewayTimeout,
}
"""Status → exception, for a type this client does not know and for answers of a gateway."""
