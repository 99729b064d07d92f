"""A PostgreSQL of a test's own: made in a temporary folder, heard on a socket there, stopped and thrown away at the end."""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

SETTINGS = {
    "listen_addresses": "", "fsync": "off", "synchronous_commit": "off", "full_page_writes": "off", "max_connections": "10",
    "shared_buffers": "16MB", "lc_messages": "C",
}  # fmt: skip


def programs() -> Path | None:
    """Return the folder of the programs of PostgreSQL, the newest one; ``None`` where it is not installed."""
    folders = [path.parent for path in Path("/usr/lib/postgresql").glob("*/bin/initdb")]
    on_path = shutil.which("initdb")
    if on_path is not None:
        folders.append(Path(on_path).resolve().parent)
    found = [folder for folder in folders if (folder / "postgres").exists()]
    return max(found, key=lambda folder: (folder.parent.name.zfill(4), folder.name), default=None)


def _plain_user() -> dict[str, Any]:
    """Return what makes a process one of a plain user: PostgreSQL does not run as root."""
    if os.geteuid():
        return {}
    for name in ("postgres", "nobody"):
        try:
            found = pwd.getpwnam(name)
        except KeyError:
            continue
        return {"user": found.pw_uid, "group": found.pw_gid, "extra_groups": []}
    raise OSError("there is no plain user to run PostgreSQL as")


@contextmanager
def running(bin_folder: Path) -> Iterator[str]:
    """Yield the address of a new, empty database."""
    plain = _plain_user()
    # not below pytest's folder, which is root's alone, and short: a socket has a path of some hundred characters at most
    folder = Path(tempfile.mkdtemp(prefix="pg-"))
    if plain:
        os.chown(folder, plain["user"], plain["group"])
    environment = {"PATH": os.environ["PATH"], "LC_ALL": "C"}
    options: dict[str, Any] = {**plain, "cwd": folder, "env": environment}
    command = [bin_folder / "initdb", "-D", folder / "data", "-U", "tester", "-A", "trust", "-E", "UTF8", "--no-sync"]
    try:
        subprocess.run(command, check=True, capture_output=True, timeout=120, **options)
        settings = [text for name, value in SETTINGS.items() for text in ("-c", f"{name}={value}")]
        with (folder / "log").open("wb") as log:
            server = subprocess.Popen(
                [bin_folder / "postgres", "-D", folder / "data", "-k", folder, *settings],
                stdout=log, stderr=log, **options,
            )  # fmt: skip
            try:
                yield _address(folder, server)
            finally:
                server.send_signal(signal.SIGINT)  # ends it at once, whoever is connected
                server.wait(timeout=60)
    finally:
        shutil.rmtree(folder)


def _address(folder: Path, server: subprocess.Popen[bytes]) -> str:
    import psycopg

    address = f"postgresql://tester@/postgres?host={folder}"
    until = time.monotonic() + 60.0
    while True:
        try:
            psycopg.connect(address).close()
        except psycopg.OperationalError:
            if server.poll() is not None or time.monotonic() > until:
                raise RuntimeError((folder / "log").read_text(encoding="utf-8")) from None
            time.sleep(0.1)
        else:
            return address
