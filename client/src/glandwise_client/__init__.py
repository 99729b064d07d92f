"""Thin client of the Glandwise service.

>>> from glandwise_client import GlandwiseClient
>>> with GlandwiseClient("http://127.0.0.1:8710") as client:
...     result = client.check_envelope(
...         duty={
...             "shaft_diameter": "50 mm",
...             "motion": {"kind": "rotation", "rotational_speed": "1500 rpm"},
...             "pressure": "50 psi",
...             "temperature": {"normal": (80, "degC")},
...             "fluid": "mineral_oil_gear",
...         },
...         design={"family": "flexible_lip", "compound": "ptfe_carbon_graphite_25"},
...     )
>>> print(result.verdict, result.governing.title)
caution sealed pressure

Models of requests and results are in ``glandwise_client.models``, the same requests typed as dicts in
:mod:`glandwise_client.dicts`; exceptions are listed in a tree in
:class:`GlandwiseError`'s module.
"""

from __future__ import annotations

from glandwise_client import _models as models
from glandwise_client._async_client import AsyncGlandwiseClient
from glandwise_client._base import Answer, Quantity
from glandwise_client._batch import BatchItem
from glandwise_client._client import GlandwiseClient
from glandwise_client._errors import (
    AnswerError,
    BadGateway,
    BadRequest,
    ConnectionFailed,
    ContentTooLarge,
    FieldFault,
    Forbidden,
    GatewayTimeout,
    GlandwiseError,
    HeaderTooLarge,
    InternalError,
    InvalidJson,
    InvalidRequest,
    LengthRequired,
    MethodNotAllowed,
    NotAcceptable,
    NotFound,
    NotInstalled,
    OutOfDomain,
    ProblemError,
    RequestError,
    RequestTimeout,
    RequestTooSlow,
    RulesRefused,
    TooBusy,
    TookTooLong,
    TooManyRequests,
    TransportError,
    Unauthorized,
    Unavailable,
    UnknownName,
    UnprocessableRequest,
    UnsupportedMediaType,
)
from glandwise_client._requests import Timeouts
from glandwise_client._retry import RetryPolicy
from glandwise_client._version import __version__

__all__ = [
    "Answer",
    "AnswerError",
    "AsyncGlandwiseClient",
    "BadGateway",
    "BadRequest",
    "BatchItem",
    "ConnectionFailed",
    "ContentTooLarge",
    "FieldFault",
    "Forbidden",
    "GatewayTimeout",
    "GlandwiseClient",
    "GlandwiseError",
    "HeaderTooLarge",
    "InternalError",
    "InvalidJson",
    "InvalidRequest",
    "LengthRequired",
    "MethodNotAllowed",
    "NotAcceptable",
    "NotFound",
    "NotInstalled",
    "OutOfDomain",
    "ProblemError",
    "Quantity",
    "RequestError",
    "RequestTimeout",
    "RequestTooSlow",
    "RetryPolicy",
    "RulesRefused",
    "Timeouts",
    "TooBusy",
    "TooManyRequests",
    "TookTooLong",
    "TransportError",
    "Unauthorized",
    "Unavailable",
    "UnknownName",
    "UnprocessableRequest",
    "UnsupportedMediaType",
    "__version__",
    "models",
]
