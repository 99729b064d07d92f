"""The service with an empty FastAPI endpoint beside it: the yardstick under the same server."""

from __future__ import annotations

from fastapi import FastAPI
from glandwise import process
from glandwise.app import create_app


def build() -> FastAPI:
    """Return the application with ``POST /empty``."""
    process.begin()
    app = create_app()
    process.settle()

    @app.post("/empty", include_in_schema=False)
    async def empty() -> dict[str, str]:
        return {"status": "ok"}

    return app
