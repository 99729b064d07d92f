"""Tokens that an identity provider has signed (OIDC, JWT access tokens), verified by its published keys."""

from __future__ import annotations

import asyncio
import logging
import time
from pathlib import Path
from typing import Any, Final

import jwt
import orjson

from glandwise.api.access import RIGHTS, Caller
from glandwise.api.problems import shown
from glandwise.settings import SettingsError

log: Final = logging.getLogger("glandwise.security")

ALGORITHMS: Final = ("RS256", "RS384", "RS512", "PS256", "PS384", "PS512", "ES256", "ES384", "ES512", "EdDSA")
"""Signatures by a key pair only: a secret that both sides hold would let this service sign, and ``none`` is no signature."""
LEEWAY: Final = 30.0
"""Seconds by which two clocks may differ."""
SCOPE: Final = "glandwise:"
"""What stands before a right among the scopes of a token: ``glandwise:judge``."""
FETCH_SECONDS: Final = 5.0
"""Seconds within which the keys have to come."""
PAUSE: Final = 60.0
"""Seconds between two fetches: a token that names a key of its own making has them fetched no more often."""
KEPT: Final = 3600.0
"""Seconds after which keys are fetched anew: one that the provider has withdrawn is taken no longer than that."""


class SignedTokens:
    """Verifies tokens of one issuer for one audience.

    ``keys`` is the path of a JSON Web Key Set, or its address, which begins with ``https://``; it is asked when a key is wanted
    first. Raises :class:`SettingsError` for keys that cannot be used.
    """

    def __init__(self, issuer: str, audience: str, keys: str) -> None:
        self.issuer, self.audience = issuer, audience
        self._keys: dict[str, jwt.PyJWK] = {}
        self._fetched = self._tried = float("-inf")
        self._fetching = asyncio.Lock()
        self._source: jwt.PyJWKClient | None = None
        if keys.startswith("https://"):
            self._source = jwt.PyJWKClient(keys, timeout=FETCH_SECONDS)
            return
        try:
            self._take(orjson.loads(Path(keys).read_bytes()))
        except (OSError, ValueError, jwt.PyJWTError):
            accepted = "the path of a JSON Web Key Set with public keys that have a kid, or its address, which begins with https://"
            raise SettingsError(f"GLANDWISE_OIDC_KEYS: cannot be used; accepted: {accepted}") from None

    def _take(self, document: Any) -> None:
        found = {key.key_id: key for key in jwt.PyJWKSet.from_dict(document).keys if key.key_id is not None}
        if not found:
            raise ValueError
        self._keys, self._fetched = found, time.monotonic()

    async def _key(self, key_id: str) -> jwt.PyJWK | None:
        if self._source is None:
            return self._keys.get(key_id)
        if key_id not in self._keys or time.monotonic() - self._fetched > KEPT:
            await self._fetch()
        return self._keys.get(key_id)

    async def _fetch(self) -> None:
        assert self._source is not None
        async with self._fetching:
            if time.monotonic() - self._tried < PAUSE:
                return
            self._tried = time.monotonic()
            try:
                self._take(await asyncio.to_thread(self._source.fetch_data))
            except (ValueError, jwt.PyJWTError):
                log.error("the keys of the identity provider cannot be had", extra={"event": "no_keys"})
                if time.monotonic() - self._fetched > KEPT:
                    self._keys = {}  # withdrawn keys are not trusted for ever because nobody can be asked

    async def caller(self, token: str) -> Caller | None:
        """Return whom a token stands for; ``None`` for one that is not to be trusted."""
        try:
            head = jwt.get_unverified_header(token)
            key_id = head.get("kid")
            if head.get("alg") not in ALGORITHMS or not isinstance(key_id, str):
                return None
            key = await self._key(key_id)
            if key is None:
                return None
            said = jwt.decode(
                token, key, algorithms=list(ALGORITHMS), audience=self.audience, issuer=self.issuer, leeway=LEEWAY,
                options={"require": ["exp", "iss", "aud", "sub"]},
            )  # fmt: skip
        except (jwt.PyJWTError, ValueError, TypeError):
            return None
        return Caller(shown(str(said["sub"])), _rights(said))


def _rights(said: dict[str, Any]) -> frozenset[str]:
    """Return the rights among the scopes of a token, written as one text (``scope``) or as a list (``scp``)."""
    scopes = said.get("scope", said.get("scp", ""))
    listed = scopes.split() if isinstance(scopes, str) else scopes if isinstance(scopes, list) else []
    return frozenset(right for right in RIGHTS if f"{SCOPE}{right}" in listed)
