"""Who may ask: loopback alone, callers with a bearer token, or whoever a gateway in front has let through.

A token is a long random text, so that its plain digest is safe to keep: it cannot be found by trying. The file of tokens holds
digests only. What is presented is compared with every digest there is, each in constant time, whichever fits.
"""

from __future__ import annotations

import hashlib
import hmac
import logging
import secrets
import tomllib
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from functools import lru_cache
from ipaddress import ip_address
from pathlib import Path
from typing import Annotated, Any, Final, Literal, NamedTuple, Protocol, get_args

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError
from starlette.types import Scope as Request

from glandwise.api import page
from glandwise.api.problems import ProblemError
from glandwise.operations import OPERATIONS
from glandwise.settings import Settings, SettingsError

log: Final = logging.getLogger("glandwise.security")

Right = Literal["read", "judge", "rules", "operate"]
"""What a token allows: reading what the rules hold, calculations, comparing and auditing rule sets, running the service."""
RIGHTS: Final[tuple[Right, ...]] = get_args(Right)
PROBES: Final = frozenset({"/healthz", "/readyz"})
"""Paths of probes, which carry no token: nothing of the rules is told there but their names and digests."""
OPEN: Final = PROBES | page.PATHS
"""Paths that anybody may ask: a browser sends no token for the page, which has a field for it."""
OPERATED: Final = frozenset({"/metrics", "/v1/rule-set-reloads"})
_CHALLENGE: Final = 'Bearer realm="glandwise"'
_BY_PATH: Final[Mapping[str, Right]] = {
    **{row.path: row.right for row in OPERATIONS.values()},
    **dict.fromkeys(OPERATED, "operate"),
}


def right_for(path: str) -> Right:
    """Return the right that a path asks for."""
    return _BY_PATH.get(path, "read")


class Caller(NamedTuple):
    """Who asks, and what for they may."""

    name: str
    rights: frozenset[str]


class Verifier(Protocol):
    """Verifies tokens that others have signed."""

    async def caller(self, token: str) -> Caller | None:
        """Return whom a token stands for; ``None`` for one that is not to be trusted."""


# ------------------------------------------------------------------------------------------------------ the file of tokens


class Token(BaseModel):
    """What the file says of one token."""

    model_config = ConfigDict(extra="forbid", hide_input_in_errors=True)

    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    """Digest of the token."""
    rights: Annotated[list[Right], Field(min_length=1)]
    """What it allows."""
    expires: date | None = None
    """Last day on which it is taken, in UTC."""

    def has_expired(self, today: date) -> bool:
        """Tell whether it is taken no more."""
        return self.expires is not None and today > self.expires


_FILE: Final = TypeAdapter(dict[Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,63}$")], Token])
_ACCEPTED: Final = (
    "a table for each token, named by who holds it (letters, digits, '_', '.', '-'), with sha256 (64 hexadecimal digits, lower "
    f"case), rights (a list of {', '.join(RIGHTS)}) and, where it ends, expires (a date)"
)


def read_tokens(path: Path) -> dict[str, Token]:
    """Read a file of tokens. Raises :class:`SettingsError`, which names the place at fault and repeats no value."""
    where = "GLANDWISE_TOKENS"
    try:
        found = _FILE.validate_python(tomllib.loads(path.read_text(encoding="utf-8")))
    except OSError:
        raise SettingsError(f"{where}: the file cannot be read; accepted: {_ACCEPTED}") from None
    except ValidationError as error:
        items = error.errors(include_url=False, include_input=False, include_context=False)
        places = sorted({".".join(str(part) for part in item["loc"][1:] if part != "[key]") for item in items})
        named = ", ".join(place for place in places if place) or "a name of a token"
        raise SettingsError(f"{where}: not taken: {named}; accepted: {_ACCEPTED}") from None
    except ValueError:  # of TOML, or of UTF-8
        raise SettingsError(f"{where}: the file is not TOML in UTF-8; accepted: {_ACCEPTED}") from None
    if not found:
        raise SettingsError(f"{where}: the file holds no token, so that nobody could ask; accepted: {_ACCEPTED}")
    if len({token.sha256 for token in found.values()}) < len(found):
        raise SettingsError(f"{where}: two names have the same token; accepted: a token of its own for each name")
    return found


def new_token(name: str, rights: Sequence[str], expires: str | None) -> tuple[str, str]:
    """Return a new token, and what the file is to say of it. Raises ``ValueError`` for what the file would not take."""
    token = f"gw_{secrets.token_urlsafe(32)}"
    listed = ", ".join(f'"{right}"' for right in rights)
    entry = f'[{name}]\nsha256 = "{digest(token)}"\nrights = [{listed}]\n' + (
        f"expires = {expires}\n" if expires else ""
    )
    _FILE.validate_python(tomllib.loads(entry))
    return token, entry


def digest(token: str) -> str:
    """Return the digest of a token."""
    return hashlib.sha256(token.encode("utf-8", "surrogateescape")).hexdigest()


# ------------------------------------------------------------------------------------------------------------- the guard


class Guard:
    """Lets callers in, or refuses them with a problem; the security log says what happened, and never what was sent."""

    def __init__(self, tokens: Mapping[str, Token] | None, verifier: Verifier | None, behind_gateway: bool) -> None:
        self.tokens, self.verifier = tokens, verifier
        self.loopback_only = tokens is None and verifier is None and not behind_gateway

    @property
    def asks_for_tokens(self) -> bool:
        """Tell whether callers need a token."""
        return self.tokens is not None or self.verifier is not None

    @property
    def tells_operators(self) -> bool:
        """Tell whether whoever runs the service is known from its callers: by a token, or by being on this machine."""
        return self.asks_for_tokens or self.loopback_only

    @property
    def mode(self) -> str:
        """Say how callers are told apart."""
        kinds = [name for name, there in (("tokens", self.tokens), ("oidc", self.verifier)) if there is not None]
        return " and ".join(kinds) or ("loopback" if self.loopback_only else "gateway")

    async def admit(self, request: Request) -> Caller | None:
        """Return who asks, ``None`` where callers are not told apart. Raises :class:`ProblemError`."""
        if self.loopback_only:
            client = request.get("client")
            if client is not None and not is_loopback(client[0]):
                self._refused(request, "not from this machine")
                detail = "this service answers its own machine only; whoever runs it can set tokens or put it behind a gateway"
                raise ProblemError("forbidden", detail, headers={"Connection": "close"})
            return None
        path = request["path"]
        if not self.asks_for_tokens or path in OPEN:
            return None
        presented = _bearer(request["headers"])
        caller = None if presented is None else await self._known(presented)
        if caller is None:
            why = "no token" if presented is None else "unknown or expired token"
            self._refused(request, why)
            challenge = _CHALLENGE if presented is None else f'{_CHALLENGE}, error="invalid_token"'
            detail = (
                "send a token: Authorization: Bearer ..." if presented is None
                else "this token is not known here, or is taken no more"
            )  # fmt: skip
            raise ProblemError("unauthorized", detail, headers={"WWW-Authenticate": challenge, "Connection": "close"})
        if (right := right_for(path)) not in caller.rights:
            self._refused(request, f"the right {right} is missing", caller)
            challenge = f'{_CHALLENGE}, error="insufficient_scope", scope="{right}"'
            detail = f"this token does not allow it; needed is the right {right!r}"
            raise ProblemError("forbidden", detail, headers={"WWW-Authenticate": challenge, "Connection": "close"})
        return caller

    async def _known(self, presented: str) -> Caller | None:
        today, shown = datetime.now(UTC).date(), digest(presented)
        found: Caller | None = None
        for name, token in (self.tokens or {}).items():  # to the end, whichever fits
            if hmac.compare_digest(token.sha256, shown) and not token.has_expired(today):
                found = Caller(name, frozenset(token.rights))
        if found is None and self.verifier is not None:
            found = await self.verifier.caller(presented)
        return found

    @staticmethod
    def _refused(request: Request, why: str, caller: Caller | None = None) -> None:
        name, right = caller.name if caller is not None else "nobody known", right_for(request["path"])
        client = request.get("client")
        extra = {"event": "refused", "reason": why, "caller": name, "right": right, "address": client and client[0]}
        log.warning("refused %s, who asks to %s: %s", name, right, why, extra=extra)


def _bearer(headers: Sequence[tuple[bytes, bytes]]) -> str | None:
    """Return the token of a request; ``None`` where there is none, or more than one."""
    given = [value for name, value in headers if name == b"authorization"]
    if len(given) != 1:
        return None
    scheme, _, token = given[0].partition(b" ")
    token = token.strip()
    return token.decode("latin-1") if scheme.lower() == b"bearer" and token else None


@lru_cache(maxsize=4096)
def is_loopback(host: str) -> bool:
    """Tell whether an address, or the name of one, is of this machine and reached from it only; names are not looked up.

    What is no address at all (a test client says who it is by a word) has not come over a network.
    """
    try:
        return ip_address(host.partition("%")[0]).is_loopback
    except ValueError:
        return True


def require_access(settings: Settings) -> None:
    """Raise :class:`SettingsError` for an address beyond this machine where nothing is said of who may ask."""
    host = settings.host
    stated = settings.behind_gateway or settings.tokens is not None or settings.oidc_issuer is not None
    local = host == "localhost" or (is_address(host) and is_loopback(host))
    if not stated and not local:
        raise SettingsError(
            "GLANDWISE_HOST: other machines can reach this address, and nothing is said of who may ask; accepted: an address of "
            "this machine only (127.0.0.1, ::1, localhost), or beside it GLANDWISE_TOKENS (a file of tokens), GLANDWISE_OIDC_ISSUER "
            "(tokens of your identity provider), or the statement --behind-gateway (GLANDWISE_BEHIND_GATEWAY=true) that a gateway "
            "in front lets nobody through whom you do not know"
        )


def is_address(host: str) -> bool:
    """Tell whether a text is an IP address."""
    try:
        ip_address(host.partition("%")[0])
    except ValueError:
        return False
    return True


def guard(settings: Settings) -> Guard:
    """Return the guard that the settings ask for. Raises :class:`SettingsError`."""
    tokens = None if settings.tokens is None else read_tokens(settings.tokens)
    return Guard(tokens, _verifier(settings), settings.behind_gateway)


def _verifier(settings: Settings) -> Verifier | None:
    given: dict[str, Any] = {name: getattr(settings, name) for name in ("oidc_issuer", "oidc_audience", "oidc_keys")}
    missing = [f"GLANDWISE_{name.upper()}" for name, value in given.items() if value is None]
    if len(missing) == len(given):
        return None
    if missing:
        raise SettingsError(
            f"{', '.join(missing)}: missing; accepted: issuer, audience and keys together, or none of them"
        )
    try:
        from glandwise.api.oidc import SignedTokens
    except ModuleNotFoundError as error:
        raise SettingsError(
            f"GLANDWISE_OIDC_ISSUER: the library {error.name} is not installed; install glandwise-service[oidc]"
        ) from None
    return SignedTokens(**{name.removeprefix("oidc_"): value for name, value in given.items()})
