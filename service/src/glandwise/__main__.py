"""Serve: ``python -m glandwise``, configured by ``GLANDWISE_*`` environment variables."""

from __future__ import annotations

import sys

import uvicorn

from glandwise import process
from glandwise.rules.loader import RuleError
from glandwise.settings import Settings, SettingsError


def main() -> int:
    """Run the service until it is stopped."""
    process.begin()
    from glandwise.api.wire import protocol
    from glandwise.app import create_app

    try:
        settings = Settings()
    except SettingsError as error:
        print(f"The settings cannot be used.\n{error}", file=sys.stderr)
        return 2
    try:
        app = create_app(settings)
    except RuleError as error:
        print(f"The rules cannot be used.\n{error}", file=sys.stderr)
        return 2
    process.settle()
    uvicorn.run(
        app,
        host=settings.host,
        port=settings.port,
        loop="uvloop",
        http=protocol(settings),
        timeout_keep_alive=settings.idle_seconds,
        server_header=False,
        access_log=False,
        timeout_graceful_shutdown=5,
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
