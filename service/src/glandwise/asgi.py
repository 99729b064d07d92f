"""Module-level application for ASGI servers: ``uvicorn glandwise.asgi:app``."""

from glandwise import process

process.begin()
from glandwise.app import create_app  # noqa: E402

app = create_app()
process.settle()
