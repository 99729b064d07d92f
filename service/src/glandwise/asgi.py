"""Module-level application for ASGI servers: ``uvicorn glandwise.asgi:app``."""

import gc

gc.disable()  # what is loaded stays: looking through it again and again for what could go takes a sixth of the start
from glandwise.app import create_app  # noqa: E402

app = create_app()
gc.freeze()  # nor is it looked through while requests wait
gc.enable()
