"""Module-level application for ASGI servers: ``uvicorn glandwise.asgi:app``."""

from glandwise.app import create_app

app = create_app()
