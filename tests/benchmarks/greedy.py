"""Processes that ask a service for much, or keep a machine busy. They are a module of their own, so that a new process finds them."""

from __future__ import annotations

import time


def token(index: int) -> str:
    return f"invented-for-this-benchmark-{index:02d}"


def asks_on(port: int, path: str, content: bytes, kind: str, token: str) -> None:
    """Ask for the same again and again, as soon as that is let in, until it is ended."""
    import httpx2

    headers = {"content-type": kind, "authorization": f"Bearer {token}"}
    with httpx2.Client(base_url=f"http://127.0.0.1:{port}", timeout=120.0) as client:
        while True:
            answer = client.post(path, content=content, headers=headers)
            time.sleep(float(answer.headers.get("retry-after", 0.0)))


def counts() -> None:
    """Be busy with something else."""
    while True:
        pass
