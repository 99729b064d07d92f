"""Settings of the service, from environment variables with the prefix ``GLANDWISE_``."""

from __future__ import annotations

import os
from difflib import get_close_matches
from pathlib import Path
from typing import Annotated, Any, Final, Literal, get_args, get_origin

from annotated_types import Ge, Gt, Le, Lt
from pydantic import BeforeValidator, Field, ValidationError
from pydantic.fields import FieldInfo
from pydantic_settings import BaseSettings, SettingsConfigDict

from glandwise.logs import Form, Level

PREFIX: Final = "GLANDWISE_"
ELSEWHERE: Final = (
    "GLANDWISE_URL",
    "GLANDWISE_TOKEN",
    "GLANDWISE_CACHE",
    "GLANDWISE_NATIVE",
    "GLANDWISE_REPOSITORY",
    "GLANDWISE_REF",
)
"""Variables of this prefix that others read: the client, the formulas when they are compiled, a pipeline's checkout."""


class SettingsError(ValueError):
    """Settings that cannot be used: a line for each fault. What was given is not repeated."""


def _not_empty(value: Any) -> Any:
    """Refuse an empty path, which would be the folder that the service happens to be started in."""
    if value == "":
        raise ValueError
    return value


class Settings(BaseSettings):
    """Everything that may differ from one deployment to the next. Requests never change it.

    Raises :class:`SettingsError` for a value that is not taken, and for a variable that is no setting: a misspelt one
    would leave the default in force in silence.
    """

    model_config = SettingsConfigDict(env_prefix=PREFIX, extra="forbid", hide_input_in_errors=True)

    host: str = Field(default="127.0.0.1", min_length=1, description="Address to listen on.")
    port: int = Field(default=8710, ge=0, le=65535, description="Port to listen on; 0 lets the system choose one.")
    max_body_bytes: int = Field(
        default=4 * 1024 * 1024, ge=1024, description="Largest request body accepted, in bytes."
    )
    max_header_bytes: int = Field(
        default=32 * 1024, ge=1024, le=16 * 1024 * 1024, description="Largest target and headers accepted, in bytes."
    )
    header_seconds: float = Field(
        default=10.0,
        gt=0.0,
        le=3600.0,
        description="Seconds within which the target and headers of a request must come.",
    )
    body_seconds: float = Field(
        default=10.0,
        gt=0.0,
        le=3600.0,
        description="Seconds that a body may take beyond what it takes at 16 KiB a second.",
    )
    idle_seconds: int = Field(
        default=5, ge=1, le=3600, description="Seconds that a connection may be idle after an answer."
    )
    stall_seconds: float = Field(
        default=30.0,
        gt=0.0,
        le=3600.0,
        description="Seconds that an answer may wait to be taken, a batch beyond what it takes at 16 KiB a second.",
    )
    max_batch_bytes: int = Field(
        default=64 * 1024 * 1024,
        ge=1024,
        description="Largest batch of requests or table of cases accepted, in bytes.",
    )
    max_batch_lines: int = Field(
        default=100_000, ge=1, description="Most lines of a batch, or rows of a table, accepted."
    )
    max_batches: int = Field(
        default=4,
        ge=1,
        le=10_000,
        description="Batches and tables worked on at once; more are put off by a 503.",
    )
    max_table_bytes: int = Field(
        default=512 * 1024 * 1024,
        ge=64 * 1024 * 1024,
        description="Memory that a worker may take for a table, in bytes; a small message can unpack to a large table.",
    )
    batch_workers: int = Field(
        default=1, ge=0, le=256, description="Processes that answer batches, started at the first; 0: a thread instead."
    )
    long_operations: int = Field(
        default=2,
        ge=1,
        le=256,
        description="Long operations worked on at once, each in a thread of its own; they calculate in turn.",
    )
    long_waiting: int = Field(
        default=32, ge=0, le=10_000, description="Long operations that wait for their turn; more are put off by a 503."
    )
    long_seconds: float = Field(
        default=60.0, gt=0.0, le=3600.0, description="Seconds that a long operation may wait and take in all."
    )
    batch_seconds: float = Field(
        default=600.0, gt=0.0, le=86400.0, description="Seconds for which a batch or a table is worked at."
    )
    max_connections: int = Field(
        default=1000, ge=1, le=1_000_000, description="Connections whose requests are answered; others get a 503."
    )
    rate: float = Field(
        default=0.0,
        ge=0.0,
        le=1e6,
        description="Work that a caller may ask for, in milliseconds of one core for each second; 0: no bound.",
    )
    rate_burst: float = Field(
        default=10_000.0, ge=1.0, le=1e9, description="Work that a caller may ask for at once, in milliseconds."
    )
    grace_seconds: int = Field(
        default=15, ge=1, le=3600, description="Seconds for what is under way when the service is stopped."
    )
    log_level: Level = Field(default="info", description="Least level of what is logged.")
    log_format: Form = Field(default="text", description="How the log is written: for reading, or a line of JSON each.")
    telemetry: bool = Field(
        default=False, description="Send a span of OpenTelemetry for each request; where to, say the variables OTEL_*."
    )
    log_requests: bool = Field(default=False, description="Log each request.")
    rules: Annotated[Path, BeforeValidator(_not_empty)] | None = Field(
        default=None, description="Folder of house rule sets, loaded beside the built-in ones."
    )
    rule_archive: Annotated[Path, BeforeValidator(_not_empty)] | None = Field(
        default=None, description="Folder of rule sets as they were, each in a file named by its digest."
    )
    rule_history: Annotated[Path, BeforeValidator(_not_empty)] | None = Field(
        default=None, description="Git repository in whose history rule sets as they were are looked for."
    )
    default_rule_set: str = Field(
        default="baseline", min_length=1, description="Rule set used when a request names none."
    )
    behind_gateway: bool = Field(
        default=False, description="States that a gateway in front lets nobody through who is not known."
    )
    tokens: Annotated[Path, BeforeValidator(_not_empty)] | None = Field(
        default=None,
        description="File of the tokens that are taken, by their digests.",
        json_schema_extra={"accepted": "the path of a file"},
    )
    oidc_issuer: str | None = Field(
        default=None,
        min_length=1,
        description="Issuer of tokens that an identity provider signs.",
        json_schema_extra={"accepted": "text that is not empty"},
    )
    oidc_audience: str | None = Field(
        default=None,
        min_length=1,
        description="Audience that signed tokens have to name.",
        json_schema_extra={"accepted": "text that is not empty"},
    )
    oidc_keys: str | None = Field(
        default=None,
        min_length=1,
        description="Keys of the issuer: the path of a JSON Web Key Set, or its https address.",
        json_schema_extra={"accepted": "a path, or an address that begins with https://"},
    )

    def __init__(self, **given: Any) -> None:
        faults = _unknown(type(self))
        listed = [f"The settings are: {', '.join(_names(type(self)))}."] if faults else []
        try:
            super().__init__(**given)
        except ValidationError as error:
            faults += [_fault(type(self), str(item["loc"][0])) for item in error.errors(include_input=False)]
        if faults:
            raise SettingsError("\n".join(dict.fromkeys([*faults, *listed]))) from None


def _names(model: type[BaseSettings]) -> list[str]:
    return [f"{PREFIX}{name.upper()}" for name in model.model_fields]


def _unknown(model: type[BaseSettings]) -> list[str]:
    """Return a line for each variable of the prefix that is no setting."""
    known = _names(model)
    found = sorted(name for name in map(str.upper, os.environ) if name.startswith(PREFIX))
    return [_misspelt(name, known) for name in found if name not in {*known, *ELSEWHERE}]


def _misspelt(name: str, known: list[str]) -> str:
    near = get_close_matches(name.removeprefix(PREFIX), [item.removeprefix(PREFIX) for item in known], n=1, cutoff=0.6)
    shown = "".join(letter if letter.isalnum() or letter == "_" else "?" for letter in name[:64])
    return f"{shown}: not a setting" + (f"; did you mean {PREFIX}{near[0]}?" if near else "")


def _fault(model: type[BaseSettings], name: str) -> str:
    field = model.model_fields.get(name)
    if field is None:
        return _misspelt(f"{PREFIX}{name.upper()}", _names(model))
    return f"{PREFIX}{name.upper()}: this value is not taken; accepted: {_accepted(field)}"


def _accepted(field: FieldInfo) -> str:
    """Say which values a setting takes."""
    if isinstance(field.json_schema_extra, dict) and "accepted" in field.json_schema_extra:
        return str(field.json_schema_extra["accepted"])
    if get_origin(field.annotation) is Literal:
        return f"one of {', '.join(get_args(field.annotation))}"
    if field.annotation is bool:
        return "true or false"
    if field.annotation not in (int, float):
        return "the path of a folder" if field.annotation is not str else "text that is not empty"
    parts = {Ge: ("at least", "ge"), Gt: ("above", "gt"), Le: ("at most", "le"), Lt: ("below", "lt")}
    bounds = [
        f"{word} {getattr(item, name):.12g}"
        for kind, (word, name) in parts.items()
        for item in field.metadata
        if isinstance(item, kind)
    ]
    return ", ".join(["a whole number" if field.annotation is int else "a number", *bounds])
