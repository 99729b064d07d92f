"""Serve: ``python -m glandwise``, configured by ``GLANDWISE_*`` environment variables."""

from __future__ import annotations

import argparse
import asyncio
import logging
import signal
import socket
import sys
from collections.abc import Sequence
from contextlib import suppress

import uvicorn

from glandwise import logs, process
from glandwise.rules.loader import RuleError
from glandwise.settings import Settings, SettingsError

_EPILOG = "Everything else is set by variables of the environment, see service/docs/deploy.md."


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="glandwise-service", description="Serve, until stopped.", epilog=_EPILOG)
    parser.add_argument(
        "--behind-gateway", action="store_true",
        help="state that a gateway in front lets nobody through who is not known; as GLANDWISE_BEHIND_GATEWAY=true",
    )  # fmt: skip
    commands = parser.add_subparsers(dest="command", metavar="token")
    token = commands.add_parser("token", help="make a token, and print it with its entry for the file of tokens")
    token.add_argument("name", help="who will hold it")
    token.add_argument("--rights", default="read,judge", help="of read, judge, rules, operate (default: %(default)s)")
    token.add_argument("--expires", metavar="DATE", help="last day on which it is taken, as 2027-06-30")
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the service until it is stopped, or make a token."""
    given = _parser().parse_args(arguments)
    if given.command == "token":
        return _make_token(given.name, given.rights, given.expires)
    process.begin()
    from glandwise.api.access import require_access
    from glandwise.api.wire import protocol
    from glandwise.app import create_app

    log = logging.getLogger("glandwise.security")
    try:
        settings = Settings(**({"behind_gateway": True} if given.behind_gateway else {}))
        require_access(settings)
        app = create_app(settings)
    except SettingsError as error:
        print(f"The settings cannot be used.\n{error}", file=sys.stderr)
        return 2
    except RuleError as error:
        print(f"The rules cannot be used.\n{error}", file=sys.stderr)
        return 2
    logs.set_up(settings.log_format, settings.log_level)
    log.info("callers are told apart by: %s", app.state.guard.mode, extra={"event": "access"})
    process.settle()
    config = uvicorn.Config(
        app,
        host=settings.host,
        port=settings.port,
        loop="uvloop",
        http=protocol(settings),
        ws="none",
        timeout_keep_alive=settings.idle_seconds,
        server_header=False,
        access_log=False,
        log_config=None,
        timeout_graceful_shutdown=settings.grace_seconds,
    )
    server = _Server(config)
    with suppress(KeyboardInterrupt):
        server.run()
    return 0 if server.started else 3


DRAINED = 0.8
"""Part of the grace after which what is under way is put off, so that its answer still gets out."""


class _Server(uvicorn.Server):
    """A server that answers what is under way before it ends, or says that it should be asked of another."""

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin; a SIGHUP has rules and tokens read anew from then on."""
        await super().startup(sockets)
        if hasattr(signal, "SIGHUP"):
            asyncio.get_running_loop().add_signal_handler(signal.SIGHUP, self._reload)

    def _reload(self) -> None:
        self._reloading = asyncio.create_task(self._reloaded())

    async def _reloaded(self) -> None:
        from glandwise.api.problems import ProblemError

        state = self.config.app.state  # type: ignore[union-attr]
        with suppress(ProblemError):  # which has been logged
            await state.reload()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End within the grace."""
        state = self.config.app.state  # type: ignore[union-attr]
        for bounded in (state.desk, *state.lanes):
            bounded.drain(state.settings.grace_seconds * DRAINED)
        await super().shutdown(sockets)


def _make_token(name: str, rights: str, expires: str | None) -> int:
    from glandwise.api.access import RIGHTS, new_token

    try:
        token, entry = new_token(name, [part.strip() for part in rights.split(",")], expires)
    except ValueError:
        accepted = f"a name of letters, digits, '_', '.', '-'; rights of {', '.join(RIGHTS)}; a date as 2027-06-30"
        print(f"This token cannot be made. Accepted: {accepted}.", file=sys.stderr)
        return 2
    print("The token, which is not kept anywhere and not shown again:", file=sys.stderr)
    print(token, file=sys.stderr)
    print("Its entry for the file of GLANDWISE_TOKENS:", file=sys.stderr)
    print(entry, end="")
    return 0


if __name__ == "__main__":
    sys.exit(main())
