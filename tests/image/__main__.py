"""Run the image as the manifests do and ask it everything: ``make image-test``, or ``python -m tests.image --url URL``."""

from __future__ import annotations

import argparse
import json
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx2
from glandwise.openapi_build import without_digests
from glandwise.operations import OPERATIONS

ROOT = Path(__file__).resolve().parents[2]
HARDENED = (
    "--read-only", "--tmpfs", "/tmp:size=64m,mode=1777", "--cap-drop", "all", "--security-opt", "no-new-privileges", "--init",
    "--memory", "2048m", "--pids-limit", "128",
)  # fmt: skip
"""As in ``docker/compose.yaml``."""
PATIENCE = 120.0


def answers(url: str, extras: Sequence[str] = ()) -> Iterator[tuple[str, bool]]:
    """Ask a service with these extras everything; yield what was held, and whether it holds."""
    with httpx2.Client(base_url=url, timeout=PATIENCE) as client:
        ready = client.get("/readyz").json()
        yield "readiness", all(part["state"] == "ok" for part in ready["parts"])
        for path in sorted((ROOT / "openapi" / "examples").glob("*.json")):
            example = json.loads(path.read_text(encoding="utf-8"))
            response = client.post(example["path"], json=example["request"])
            extra = OPERATIONS[example["operation"]].extra
            if extra and extra not in extras:
                said = response.json()["detail"]
                yield (
                    f"no answer of {path.stem}, and what to install for it",
                    response.status_code == 501 and extra in said,
                )
                continue
            same = response.status_code == 200 and without_digests(response.json()) == example["response"]
            yield f"answer of {path.stem}", same
            if example["operation"] == "check_envelope":
                lines = b"\n".join([json.dumps(example["request"]).encode()] * 50)
                batch = client.post(example["path"], content=lines, headers={"content-type": "application/x-ndjson"})
                yield "a batch of fifty lines", batch.text.count('"status":200') == 50
                sheet = client.post(example["path"], json=example["request"], headers={"accept": "text/html"})
                yield "a sheet", sheet.status_code == 200 and sheet.text.startswith("<!")
                status, text = _columns(client, example["path"])
                if "tables" in extras:
                    yield "a table by column", status in {200, 422}  # read, whatever the units of the headings
                else:
                    yield "no table by column, and what to install for it", status == 415 and "its extra tables" in text
            if example["operation"] == "map_operation":
                plot = client.post(example["path"], json=example["request"], headers={"accept": "image/svg+xml"})
                yield "a plot, which needs a writable /tmp", plot.status_code == 200 and "<svg" in plot.text
        yield "metrics", "glandwise_kernels_ready 1" in client.get("/metrics").text


def _columns(client: Any, path: str) -> tuple[int, str]:
    """Send a table by column; return status and text of the answer."""
    import pyarrow as pa

    columns = {
        "shaft_diameter": [50.0], "rotational_speed": [1500.0], "pressure": [2.0], "temperature": [80.0], "fluid": ["mineral_oil_gear"],
        "family": ["flexible_lip"], "compound": ["ptfe_carbon_graphite_25"],
    }  # fmt: skip
    batch = pa.RecordBatch.from_pydict(columns)
    sink = pa.BufferOutputStream()
    with pa.ipc.new_stream(sink, batch.schema) as writer:
        writer.write_batch(batch)
    media_type = "application/vnd.apache.arrow.stream"
    response = client.post(path, content=sink.getvalue().to_pybytes(), headers={"content-type": media_type})
    return response.status_code, response.text if response.status_code >= 400 else ""


class Engine:
    """An engine of containers, by its command."""

    def __init__(self, command: Sequence[str], image: str, options: Sequence[str] = ()) -> None:
        self.command, self.image, self.options = list(command), image, list(options)

    def run(self, *words: str, check: bool = True) -> subprocess.CompletedProcess[str]:
        """Run a command of the engine."""
        return subprocess.run([*self.command, *words], capture_output=True, text=True, check=check, timeout=300)

    @contextmanager
    def served(self, port: int) -> Iterator[str]:
        """Run the image as the manifests do; yield the container."""
        published = f"127.0.0.1:{port}:8710"
        container = self.run(
            "run",
            "--detach",
            *HARDENED,
            *self.options,
            "--publish",
            published,
            "--env",
            "GLANDWISE_BEHIND_GATEWAY=true",
            self.image,
        ).stdout.strip()
        try:
            yield container
        finally:
            self.run("rm", "--force", container, check=False)


def contained(engine: Engine, extras: Sequence[str]) -> Iterator[tuple[str, bool]]:
    """Run the image; yield what was held, and whether it holds."""
    refused = engine.run("run", "--rm", *HARDENED, *engine.options, engine.image, check=False)
    yield "no start without a statement of who may ask", refused.returncode == 2 and "who may ask" in refused.stderr
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    with engine.served(port) as container:
        url, begin = f"http://127.0.0.1:{port}", time.monotonic()
        while not _is_ready(url):
            if time.monotonic() - begin > PATIENCE:
                yield "ready in time", False
                return
            time.sleep(0.1)
        yield f"ready after {time.monotonic() - begin:.1f} s", True
        inside = ("exec", container)
        yield "user 10001", engine.run(*inside, "id", "-u").stdout.strip() == "10001"
        yield "nothing installs packages", engine.run(*inside, "python", "-m", "pip", check=False).returncode != 0
        yield "the root is read-only", engine.run(*inside, "touch", "/opt/code/x", check=False).returncode != 0
        health = json.loads(engine.run("image", "inspect", engine.image).stdout)[0].get("Config", {}).get("Healthcheck")
        if health:
            yield "the health check", engine.run(*inside, *health["Test"][1:], check=False).returncode == 0
        yield from answers(url, extras)
        begin = time.monotonic()
        engine.run("stop", "--time", "20", container)
        yield f"ended after {time.monotonic() - begin:.1f} s", time.monotonic() - begin < 10.0


def _is_ready(url: str) -> bool:
    try:
        return httpx2.get(f"{url}/readyz", timeout=5.0).status_code == 200
    except httpx2.TransportError:
        return False


def main() -> int:
    """Print what was held; return 1 where something does not hold."""
    parser = argparse.ArgumentParser(prog="python -m tests.image")
    parser.add_argument("--image", default="glandwise-service:0.1.0")
    parser.add_argument("--engine", default="", help="command of the engine, with its options")
    parser.add_argument("--options", default="", help="further options of its run")
    parser.add_argument("--extras", default="", help="extras of the service that it was built with")
    parser.add_argument("--url", help="ask a service that runs already, and start none")
    given = parser.parse_args()
    if given.url:
        held = answers(given.url, given.extras.split())
    else:
        command = given.engine.split() or [shutil.which("podman") or shutil.which("docker") or ""]
        if not command[0]:
            print("Neither podman nor docker is here: nothing was tested.")
            return 2
        held = contained(Engine(command, given.image, given.options.split()), given.extras.split())
    failed = 0
    for what, holds in held:
        print(f"{'holds ' if holds else 'FAILS '} {what}", flush=True)
        failed += not holds
    print(f"{failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
