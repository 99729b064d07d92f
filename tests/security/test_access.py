"""Who may ask: this machine alone, callers with a token, or whoever a gateway has let through."""

from __future__ import annotations

import asyncio
import hmac
import json
import logging
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import jwt
import pytest
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from fastapi.testclient import TestClient
from glandwise.__main__ import main
from glandwise.api import access
from glandwise.api.access import RIGHTS, digest, read_tokens, require_access, right_for
from glandwise.app import create_app
from glandwise.operations import OPERATIONS
from glandwise.settings import Settings, SettingsError

from tests.conftest import assert_problem, example

CHECK = "/v1/envelope-checks"
COMPARE = "/v1/rule-set-comparisons"
READ = "/v1/compounds"
REQUEST = example("check_envelope", "gearbox_input_shaft")
TODAY = datetime.now(UTC).date()


def bearer(token: str) -> dict[str, str]:
    return {"authorization": f"Bearer {token}"}


def token_file(path: Path, *entries: tuple[str, str, list[str], str]) -> Path:
    """Write a file of tokens: name, token, rights, further lines."""
    text = "\n".join(
        f'[{name}]\nsha256 = "{digest(token)}"\nrights = {json.dumps(rights)}\n{more}\n'
        for name, token, rights, more in entries
    )
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def tokens(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return token_file(
        tmp_path_factory.mktemp("access") / "tokens.toml",
        ("reader", "reads-only", ["read"], ""),
        ("quoting", "quotes-now", ["read", "judge"], ""),
        ("quoting-next", "quotes-next", ["read", "judge"], f"expires = {TODAY}"),
        ("quoting-before", "quotes-before", ["read", "judge"], f"expires = {TODAY - timedelta(days=1)}"),
        ("rule-maker", "rules-too", ["read", "judge", "rules"], ""),
    )


class Noon(datetime):
    """The noon of the day on which the tests began: some hours go by before the last of them."""

    @classmethod
    def now(cls, tz: Any = None) -> Noon:
        """Return that noon."""
        return cls(TODAY.year, TODAY.month, TODAY.day, 12, tzinfo=tz)


@pytest.fixture(scope="module")
def guarded(tokens: Path) -> Iterator[TestClient]:
    with pytest.MonkeyPatch.context() as patch, TestClient(create_app(Settings(tokens=tokens))) as session:
        patch.setattr(access, "datetime", Noon)
        yield session


# ------------------------------------------------------------------------------------------------------------- tokens


def test_without_a_token_nothing_but_the_state_is_told(guarded: TestClient) -> None:
    for path in ("/healthz", "/readyz"):
        assert guarded.get(path).status_code == 200
    for path in (READ, "/docs", "/openapi.json", "/problems/unauthorized", "/nowhere", CHECK):
        response = guarded.get(path)
        assert_problem(response, 401, "unauthorized")
        assert response.headers["www-authenticate"] == 'Bearer realm="glandwise"'
    for row in OPERATIONS.values():
        assert_problem(guarded.post(row.path, json={}), 401, "unauthorized")
        lines = {"content-type": "application/x-ndjson"}
        assert_problem(guarded.post(row.path, content=b"{}\n", headers=lines), 401, "unauthorized")


def test_several_tokens_are_taken_at_once_so_that_one_can_follow_another(guarded: TestClient) -> None:
    for token in ("quotes-now", "quotes-next", "rules-too"):
        assert guarded.post(CHECK, json=REQUEST, headers=bearer(token)).status_code == 200
        assert guarded.get(READ, headers=bearer(token)).status_code == 200


@pytest.mark.parametrize("token", ["quotes-before", "wrong", "quotes-now ", "quotes", "Quotes-now", "\x80\xff", ""])
def test_what_is_not_known_or_taken_no_more_is_refused(guarded: TestClient, token: str) -> None:
    headers = {b"authorization": b"Bearer " + token.encode("latin-1")}
    response = guarded.post(CHECK, json=REQUEST, headers=headers)
    if token.strip() == "quotes-now":  # blanks around a header do not belong to it
        assert response.status_code == 200
        return
    assert_problem(response, 401, "unauthorized", secret=token if len(token) > 6 else None)


@pytest.mark.parametrize("value", ["quotes-now", "Basic quotes-now", "Bearerquotes-now", "Bearer"])
def test_only_the_bearer_scheme_is_read(guarded: TestClient, value: str) -> None:
    assert_problem(guarded.get(READ, headers={"authorization": value}), 401, "unauthorized")


def test_two_headers_are_no_token(guarded: TestClient) -> None:
    headers = [("authorization", "Bearer quotes-now"), ("authorization", "Bearer quotes-now")]
    assert_problem(guarded.get(READ, headers=httpx.Headers(headers)), 401, "unauthorized")


def test_a_token_allows_what_its_rights_say(guarded: TestClient) -> None:
    response = guarded.post(CHECK, json=REQUEST, headers=bearer("reads-only"))
    problem = assert_problem(response, 403, "forbidden")
    assert "'judge'" in problem["detail"]
    assert 'error="insufficient_scope", scope="judge"' in response.headers["www-authenticate"]
    assert_problem(guarded.post(COMPARE, json={}, headers=bearer("quotes-now")), 403, "forbidden")
    assert_problem(guarded.post(COMPARE, json={}, headers=bearer("rules-too")), 422, "invalid-request")


def test_each_operation_asks_for_its_right() -> None:
    asked = {row.name: right_for(row.path) for row in OPERATIONS.values()}
    assert {name for name, right in asked.items() if right == "rules"} == {
        "compare_rule_sets", "audit_rule_set", "review_rule_set", "calibrate_rules",
    }  # fmt: skip
    assert {*asked.values(), "read", "operate"} == set(RIGHTS)
    assert right_for(f"{CHECK}/") == right_for("/anything") == "read"  # there is nothing to judge at such a path


def test_every_digest_is_compared_whichever_fits(guarded: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    compared, compare = list[str](), hmac.compare_digest

    def noted(one: str, other: str) -> bool:
        compared.append(one)
        return compare(one, other)

    monkeypatch.setattr(access.hmac, "compare_digest", noted)  # type: ignore[attr-defined]
    for token in ("reads-only", "rules-too", "wrong"):
        compared.clear()
        guarded.get(READ, headers=bearer(token))
        assert len(compared) == 5


def test_a_refusal_comes_before_anything_of_the_body_is_read(guarded: TestClient) -> None:
    sent: list[dict[str, Any]] = []

    async def receive() -> Any:
        raise AssertionError("the body was asked for")

    async def send(message: Any) -> None:
        sent.append(message)

    scope = {"type": "http", "method": "POST", "path": CHECK, "headers": [], "query_string": b"", "client": None}
    asyncio.run(guarded.app(scope, receive, send))  # type: ignore[arg-type]
    assert sent[0]["status"] == 401
    assert (b"connection", b"close") in sent[0]["headers"]


def test_the_log_says_who_was_refused_what_and_nothing_that_was_sent(
    guarded: TestClient, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.INFO, "glandwise.security"):
        guarded.post(CHECK, json=REQUEST, headers=bearer("a-marked-token"))
        guarded.post(CHECK, json=REQUEST, headers=bearer("reads-only"))
        guarded.post(CHECK, json=REQUEST, headers=bearer("quotes-now"))
    told = [(record.levelname, record.__dict__["caller"], record.__dict__["reason"]) for record in caplog.records]
    assert told == [
        ("WARNING", "nobody known", "unknown or expired token"),
        ("WARNING", "reader", "the right judge is missing"),
    ]
    assert "marked" not in caplog.text
    assert "reads-only" not in caplog.text


# ----------------------------------------------------------------------------------------------------- the file of tokens


@pytest.mark.parametrize(
    "text, told",
    [
        ("", "the file holds no token"),
        ("[a", "the file is not TOML"),
        ("a = 1", "not taken"),
        ('[a]\nsha256 = "SECRET"\nrights = ["read"]', "sha256"),
        ('[a]\ntoken = "SECRET"\nrights = ["read"]', "sha256, token"),
        (f'[a]\nsha256 = "{digest("x")}"\nrights = []', "rights"),
        (f'[a]\nsha256 = "{digest("x")}"\nrights = ["SECRET"]', "rights"),
        (f'[a]\nsha256 = "{digest("x")}"\nrights = ["read"]\nexpires = "SECRET"', "expires"),
        (f'["a SECRET/name"]\nsha256 = "{digest("x")}"\nrights = ["read"]', "a name of a token"),
        (
            f'[a]\nsha256 = "{digest("x")}"\nrights = ["read"]\n[b]\nsha256 = "{digest("x")}"\nrights = ["read"]',
            "two names",
        ),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_at_start_without_its_values(
    tmp_path: Path, text: str, told: str
) -> None:
    path = tmp_path / "tokens.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError) as caught:
        create_app(Settings(tokens=path))
    assert str(caught.value).startswith("GLANDWISE_TOKENS: ")
    assert told in str(caught.value)
    assert "accepted: " in str(caught.value)
    assert "SECRET" not in str(caught.value)


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="cannot be read"):
        create_app(Settings(tokens=tmp_path / "none.toml"))


def test_the_command_makes_tokens_that_are_taken(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, made = tmp_path / "tokens.toml", list[str]()
    for name in ("one", "two"):
        assert main(["token", name, "--rights", "read, judge", "--expires", "2099-12-31"]) == 0
        out, err = capsys.readouterr()
        path.write_text(path.read_text() + out if made else out, encoding="utf-8")
        made.append(err.splitlines()[1])
        assert made[-1] not in out, "the token itself does not get into the file"
    assert made[0] != made[1]
    assert [len(token) for token in made] == [46, 46]  # 256 bits
    assert list(read_tokens(path)) == ["one", "two"]
    with TestClient(create_app(Settings(tokens=path))) as session:
        for token in made:
            assert session.post(CHECK, json=REQUEST, headers=bearer(token)).status_code == 200


@pytest.mark.parametrize(
    "arguments", [["a b"], ["a", "--rights", "all"], ["a", "--expires", "soon"], ["a", "--rights", ""]]
)
def test_the_command_makes_no_other(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["token", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "This token cannot be made. Accepted: " in err


# ------------------------------------------------------------------------------------------------------ beyond loopback


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.1", "seals.example", "fe80::1%eth0"])
def test_an_address_beyond_this_machine_needs_a_statement(host: str, tokens: Path) -> None:
    with pytest.raises(SettingsError, match="GLANDWISE_HOST: other machines can reach this address"):
        require_access(Settings(host=host))
    require_access(Settings(host=host, behind_gateway=True))
    require_access(Settings(host=host, tokens=tokens))
    require_access(Settings(host=host, oidc_issuer="https://identity.example"))


@pytest.mark.parametrize("host", ["127.0.0.1", "127.8.8.8", "::1", "localhost"])
def test_an_address_of_this_machine_needs_none(host: str) -> None:
    require_access(Settings(host=host))


@pytest.mark.parametrize("statement", [[], ["--behind-gateway"]])
def test_the_service_starts_beyond_this_machine_only_with_a_statement(statement: list[str]) -> None:
    environment = {**os.environ, "GLANDWISE_HOST": "192.0.2.1", "GLANDWISE_PORT": "0"}  # an address of no machine here
    run = subprocess.run(
        [sys.executable, "-m", "glandwise", *statement], env=environment, capture_output=True, text=True, timeout=120
    )
    assert run.returncode != 0
    assert ("nothing is said of who may ask" in run.stderr) == (not statement)


@pytest.mark.parametrize(
    "client, settings, status",
    [
        ("127.0.0.1", {}, 200),
        ("::1", {}, 200),
        ("203.0.113.9", {}, 403),
        ("2001:db8::9", {}, 403),
        ("203.0.113.9", {"behind_gateway": True}, 200),
    ],
)
def test_another_server_around_the_application_is_held_to_it_too(
    client: str, settings: dict[str, Any], status: int
) -> None:
    with TestClient(create_app(Settings(**settings)), client=(client, 50000)) as session:
        for path in ("/healthz", READ):
            response = session.get(path)
            assert response.status_code == status
            if status == 403:
                assert_problem(response, 403, "forbidden")


# --------------------------------------------------------------------------------------------------------- signed tokens

ISSUER, AUDIENCE = "https://identity.example/realm", "glandwise"
KEY, OTHER_KEY = (rsa.generate_private_key(public_exponent=65537, key_size=2048) for _ in range(2))
CURVE = ec.generate_private_key(ec.SECP256R1())


def key_set() -> dict[str, Any]:
    keys = []
    for name, algorithm, key in (
        ("rsa", jwt.algorithms.RSAAlgorithm, KEY),
        ("curve", jwt.algorithms.ECAlgorithm, CURVE),
    ):
        keys.append({**algorithm.to_jwk(key.public_key(), as_dict=True), "kid": name, "use": "sig"})
    keys[0]["alg"] = "RS256"
    return {"keys": keys}


def signed(key: Any = KEY, algorithm: str = "RS256", key_id: str | None = "rsa", **claims: Any) -> str:
    said = {
        "iss": ISSUER, "aud": AUDIENCE, "sub": "seal-shop", "exp": time.time() + 7200,
        "scope": "openid glandwise:read glandwise:judge", **claims,
    }  # fmt: skip
    said = {name: value for name, value in said.items() if value is not ...}
    return jwt.encode(said, key, algorithm=algorithm, headers={"kid": key_id} if key_id else None)


@pytest.fixture(scope="module")
def keys(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("oidc") / "keys.json"
    path.write_text(json.dumps(key_set()), encoding="utf-8")
    return path


@contextmanager
def trusting(keys: str, **settings: Any) -> Iterator[TestClient]:
    given = Settings(oidc_issuer=ISSUER, oidc_audience=AUDIENCE, oidc_keys=keys, **settings)
    with TestClient(create_app(given)) as session:
        yield session


@pytest.fixture(scope="module")
def trusted(keys: Path, tokens: Path) -> Iterator[TestClient]:
    with trusting(str(keys), tokens=tokens) as session:
        yield session


@pytest.mark.parametrize(
    "token",
    [
        signed(),
        signed(CURVE, "ES256", "curve"),
        signed(scope=..., scp=["glandwise:read", "glandwise:judge"]),
        signed(aud=["others", AUDIENCE]),
        "quotes-now",
    ],
)
def test_a_signed_token_is_taken_beside_those_of_the_file(trusted: TestClient, token: str) -> None:
    assert trusted.post(CHECK, json=REQUEST, headers=bearer(token)).status_code == 200


UNTRUSTED: dict[str, Callable[[], str]] = {
    "signed by another": lambda: signed(OTHER_KEY),
    "of a key that is not there": lambda: signed(key_id="none"),
    "without the name of its key": lambda: signed(key_id=None),
    "expired": lambda: signed(exp=time.time() - 60),
    "not yet in force": lambda: signed(nbf=time.time() + 300),
    "without an end": lambda: signed(exp=...),
    "of another issuer": lambda: signed(iss="https://other.example"),
    "for another audience": lambda: signed(aud="others"),
    "without an audience": lambda: signed(aud=...),
    "of nobody": lambda: signed(sub=...),
    "not signed": lambda: signed(None, "none"),
    "signed by the public key as a secret": lambda: signed(
        jwt.utils.base64url_encode(b"a public key, taken for a secret of 32 bytes"), "HS256"
    ),
    "of another algorithm than its key": lambda: signed(KEY, "PS256"),
    "cut short": lambda: signed()[:-10],
    "no token at all": lambda: "a.b.c",
}


@pytest.mark.parametrize("kind", UNTRUSTED)
def test_a_token_that_is_not_to_be_trusted_is_refused(trusted: TestClient, kind: str) -> None:
    assert_problem(trusted.post(CHECK, json=REQUEST, headers=bearer(UNTRUSTED[kind]())), 401, "unauthorized")


@pytest.mark.parametrize("scope", ["", "judge", "glandwise:read", "glandwise:judgement", 7])
def test_rights_are_the_scopes_of_the_token(trusted: TestClient, scope: Any) -> None:
    assert_problem(trusted.post(CHECK, json=REQUEST, headers=bearer(signed(scope=scope))), 403, "forbidden")


def test_keys_are_fetched_when_they_are_wanted_and_not_for_every_made_up_name(
    keys: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fetched: list[bool] = []

    def fetch(_: Any) -> Any:
        fetched.append(True)
        return json.loads(keys.read_text(encoding="utf-8"))

    monkeypatch.setattr(jwt.PyJWKClient, "fetch_data", fetch)
    with trusting("https://identity.example/keys") as session:
        assert not fetched
        for _ in range(5):
            assert session.get(READ, headers=bearer(signed())).status_code == 200
            assert session.get(READ, headers=bearer(signed(key_id="made-up"))).status_code == 401
    assert len(fetched) == 1


def test_nobody_is_let_in_while_the_keys_cannot_be_had(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_: Any) -> Any:
        raise jwt.PyJWKClientConnectionError("no connection")

    monkeypatch.setattr(jwt.PyJWKClient, "fetch_data", fail)
    with trusting("https://identity.example/keys") as session:
        assert_problem(session.get(READ, headers=bearer(signed())), 401, "unauthorized")


@pytest.mark.parametrize(
    "settings, told",
    [
        ({"oidc_issuer": ISSUER}, "GLANDWISE_OIDC_AUDIENCE, GLANDWISE_OIDC_KEYS: missing"),
        (
            {"oidc_issuer": ISSUER, "oidc_audience": AUDIENCE, "oidc_keys": "/nowhere"},
            "GLANDWISE_OIDC_KEYS: cannot be used",
        ),
        (
            {"oidc_issuer": ISSUER, "oidc_audience": AUDIENCE, "oidc_keys": "http://plain.example"},
            "begins with https://",
        ),
    ],
)
def test_half_of_the_settings_is_refused(settings: dict[str, Any], told: str) -> None:
    with pytest.raises(SettingsError) as caught:
        create_app(Settings(**settings))
    assert told in str(caught.value)


def test_where_the_library_is_not_installed_the_start_says_what_is_missing(
    keys: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delitem(sys.modules, "glandwise.api.oidc", raising=False)
    monkeypatch.setitem(sys.modules, "jwt", None)
    with pytest.raises(SettingsError, match=r"not installed; install glandwise-service\[oidc\]"):
        create_app(Settings(oidc_issuer=ISSUER, oidc_audience=AUDIENCE, oidc_keys=str(keys)))
