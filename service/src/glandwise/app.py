"""The application: wiring only."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from fastapi_offline import FastAPIOffline
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette_compress import CompressMiddleware, add_compress_type

from glandwise import __version__, openapi, process
from glandwise.api import access, calculations, deprecation, page, problems, reference, spans
from glandwise.api.desk import Desk
from glandwise.api.lanes import RENDERINGS, Lane, Lanes
from glandwise.api.metrics import Metrics
from glandwise.api.middleware import Front, Headless
from glandwise.api.negotiation import COLUMNS
from glandwise.api.rates import Rates
from glandwise.api.reload import Reload
from glandwise.engine import Engine
from glandwise.operations import LINES, OPERATIONS
from glandwise.questions.warm import warm
from glandwise.rules import archive
from glandwise.settings import Settings

COMPRESSED_FROM = 1024
"""Bytes of an answer from which on it is compressed, where the caller takes that: a smaller one fits a packet as it is."""
add_compress_type(problems.MEDIA_TYPE)
add_compress_type("text/csv")
add_compress_type(COLUMNS)
add_compress_type(LINES, streaming=True)  # each piece of a batch leaves at once


async def _handle_parameters(request: Request, error: Exception) -> Response:
    """Answer a parameter of a reference resource that does not fit."""
    assert isinstance(error, RequestValidationError)
    fields = [problems.field_problem(item, item["loc"]) for item in error.errors()]
    return await problems.handle_problem(request, problems.of_fields("invalid-request", fields))


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    await asyncio.to_thread(warm)
    process.settle()
    app.state.desk.open()
    yield
    for lane in app.state.lanes:
        lane.end()
    app.state.desk.close()


def create_app(settings: Settings | None = None) -> FastAPI:
    """Return the application.

    Raises :class:`glandwise.rules.loader.RuleError` for rules that cannot be used, and
    :class:`glandwise.settings.SettingsError` for tokens that cannot.
    """
    settings = settings or Settings()
    app = FastAPIOffline(
        swagger_ui_parameters={"validatorUrl": None},  # the page asks nothing of other hosts
        title="Glandwise",
        version=__version__,
        docs_url="/docs",
        redoc_url=None,
        openapi_url="/openapi.json",
        redirect_slashes=False,
        lifespan=_lifespan,
        telemetry=spans.config(settings.telemetry),
        exception_handlers={
            problems.ProblemError: problems.handle_problem,
            RequestValidationError: _handle_parameters,
            HTTPException: problems.handle_http,
            Exception: problems.handle_unexpected,
        },
    )
    app.state.guard = access.guard(settings)
    app.state.metrics = Metrics()
    rates = Rates(settings.rate, settings.rate_burst) if settings.rate else None
    app.add_middleware(
        Front,
        calculations=calculations.by_path(),
        guard=app.state.guard,
        rates=rates,
        metrics=app.state.metrics,
        log_requests=settings.log_requests,
        deprecated=deprecation.by_path(OPERATIONS.values()),
    )
    app.add_middleware(CompressMiddleware, minimum_size=COMPRESSED_FROM, brotli=False)
    app.add_middleware(Headless)  # around all else
    app.state.settings = settings
    app.state.engine = Engine(
        archive.store(settings.rules, settings.rule_archive, settings.rule_history), settings.default_rule_set
    )
    app.state.desk = Desk(
        app.state.engine, settings.batch_workers, settings.max_batches, settings.max_batches * settings.max_batch_bytes
    )
    bounds = settings.long_waiting, settings.long_seconds
    app.state.lanes = Lanes(
        Lane("long operations", settings.long_operations, *bounds), Lane("sheets and plots", RENDERINGS, *bounds)
    )
    app.state.metrics.watch(app.state)
    app.state.reload = Reload(app.state)
    for router in (calculations.router, reference.router, reference.health_router, page.router):
        app.include_router(router)

    def document() -> dict[str, Any]:
        return openapi.build(app)

    app.openapi = document  # type: ignore[method-assign]
    routes = app.router.routes
    (own,) = (place for place, route in enumerate(routes) if getattr(route, "path", None) == app.openapi_url)
    routes[own] = reference.contract_route("/openapi.json", document)  # the framework's holds up all others
    return app
