"""Settings of the service, from environment variables with the prefix ``GLANDWISE_``."""

from __future__ import annotations

from pathlib import Path

from pydantic import Field
from pydantic_settings import BaseSettings, SettingsConfigDict


class Settings(BaseSettings):
    """Everything that may differ from one deployment to the next. Requests never change it."""

    model_config = SettingsConfigDict(env_prefix="GLANDWISE_", extra="ignore")

    host: str = Field(default="127.0.0.1", description="Address to listen on.")
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
        default=2, ge=1, le=256, description="Long operations worked on at once, each in a thread of its own."
    )
    long_waiting: int = Field(
        default=16, ge=0, le=10_000, description="Long operations that wait for their turn; more are put off by a 503."
    )
    long_seconds: float = Field(
        default=60.0, gt=0.0, le=3600.0, description="Seconds that a long operation may wait and take in all."
    )
    rules: Path | None = Field(default=None, description="Folder of house rule sets, loaded beside the built-in ones.")
    default_rule_set: str = Field(default="baseline", description="Rule set used when a request names none.")
