"""``make release-notes``: what changed in rules, engine and contract since a release, and a signature of it.

The notes are made of what the repository holds: values of the built-in rules then and now, the digest of the formulas and the files
that make it, what the changelogs gained. They are signed with an SSH key (``ssh-keygen -Y sign``), as commits are.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import os
import subprocess
import sys
import tarfile
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from glandwise.rules import compare, loader
from glandwise.rules.overlay import newest

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = Path("service/src/glandwise")
DATA = PACKAGE / "rules" / "data" / "baseline"
NAMESPACE = "glandwise-release"
"""What a signature is for: one made for something else does not count."""


class Repository:
    """A checkout, and what it held at a revision."""

    def __init__(self, root: Path = ROOT) -> None:
        self.root = root

    def git(self, *arguments: str) -> bytes:
        """Ask git. Raises :class:`subprocess.CalledProcessError` where it does not know."""
        command = ("git", "-C", str(self.root), *arguments)
        return subprocess.run(command, capture_output=True, check=True).stdout

    def at(self, revision: str, folder: Path) -> Path:
        """Write what stands at a revision, as far as the notes look at it, into a folder."""
        kept = [str(path) for path in (PACKAGE, Path("openapi")) if self.git("ls-tree", revision, str(path))]
        content = self.git("archive", "--format=tar", revision, *kept)
        with tarfile.open(fileobj=io.BytesIO(content)) as archive:
            archive.extractall(folder, filter="data")
        return folder


def engine_of(root: Path) -> tuple[str, dict[str, str]]:
    """Return the digest of the formulas of a checkout by its own definition, and that of each of their files."""
    code = (
        "from glandwise.numerics import sources; import hashlib; print(sources.digest()); "
        "[print(hashlib.sha256(path.read_bytes()).hexdigest(), path.relative_to(sources.PACKAGE).as_posix()) for path in sources._files()]"
    )
    environment = {**os.environ, "PYTHONPATH": str(root / "service" / "src")}
    told = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, check=True, text=True)
    first, *rest = told.stdout.splitlines()
    return first, {name: digest for digest, name in (line.split(maxsplit=1) for line in rest)}


def _value(value: Any) -> str:
    """Write a value of the rules in short."""
    if isinstance(value, dict) and "value" in value:
        unit = "" if value.get("unit", "1") == "1" else f" {value['unit']}"
        ends = f" ({value['low']} to {value['high']})" if {"low", "high"} <= value.keys() else ""
        return f"{value['value']}{unit}{ends}"
    if isinstance(value, dict):
        return "a table" if "x" in value else "a record"
    return str(value)


def rules(before: Path, after: Path) -> Iterator[str]:
    """Yield what differs between the built-in rules of two checkouts."""
    then, now = (loader.read_folder(root / DATA) for root in (before, after))
    yield f"Digest: `{loader.digest(then)}` then, `{loader.digest(now)}` now."
    changes = compare.diff(then, now)
    yield "" if changes else "No value differs."
    for change in changes:
        told = {"added": f"added: {_value(newest(change.after))}", "removed": "removed"}.get(change.kind)
        if told is None and not change.affects_results:
            told = f"{', '.join(change.fields)} changed, the value is the same"
        told = told or f"{_value(newest(change.before))} → {_value(newest(change.after))}"
        yield f"- `{change.key}`: {told}"


def engine(before: Path, after: Path) -> Iterator[str]:
    """Yield what differs between the formulas of two checkouts."""
    (then, files_then), (now, files_now) = engine_of(before), engine_of(after)
    yield f"Digest of the formulas: `{then}` then, `{now}` now."
    names = sorted({*files_then, *files_now})
    changed = [name for name in names if files_then.get(name) != files_now.get(name)]
    yield "" if changed else "No formula differs."
    for name in changed:
        kind = "new" if name not in files_then else "gone" if name not in files_now else "changed"
        yield f"- `{name}`: {kind}"


def gained(repository: Repository, since: str, file: Path) -> Iterator[str]:
    """Yield the lines that a changelog gained since a revision."""
    told = repository.git("diff", "--unified=0", since, "HEAD", "--", str(file)).decode()
    found = [line[1:] for line in told.splitlines() if line.startswith("+") and not line.startswith("+++")]
    yield from found or ["No entry."]


def notes(repository: Repository, since: str) -> str:
    """Return what changed since a revision, as Markdown."""
    day = repository.git("log", "-1", "--format=%cs").decode().strip()
    head, base = (repository.git("rev-parse", name).decode().strip() for name in ("HEAD", f"{since}^{{commit}}"))
    parts: list[str] = [f"# What changed since {since}", "", f"{day}, from `{base}` to `{head}`.", ""]
    with tempfile.TemporaryDirectory() as folder:
        before = repository.at(since, Path(folder) / "then")
        after = repository.at("HEAD", Path(folder) / "now")
        parts += ["## Rules", "", *rules(before, after), ""]
        parts += ["## Why the rules changed", "", *gained(repository, since, PACKAGE / "rules" / "CHANGELOG.md"), ""]
        parts += ["## Engine", "", *engine(before, after), ""]
        contract = hashlib.sha256((after / "openapi" / "openapi.json").read_bytes()).hexdigest()
        parts += ["## Contract", "", f"SHA-256 of `openapi.json`: `{contract}`", ""]
        parts += [*gained(repository, since, Path("openapi/CHANGELOG.md")), ""]
    return "\n".join(parts)


def sign(file: Path, key: Path) -> Path:
    """Sign a file with an SSH key; the signature stands beside it."""
    signature = file.with_name(f"{file.name}.sig")
    signature.unlink(missing_ok=True)
    subprocess.run(
        ["ssh-keygen", "-q", "-Y", "sign", "-n", NAMESPACE, "-f", str(key), str(file)], check=True, capture_output=True
    )
    return signature


def main() -> int:
    """Write the notes and sign them where a key is named."""
    parser = argparse.ArgumentParser(prog="python -m tests.supply.release")
    parser.add_argument("target", type=Path)
    parser.add_argument("--since", required=True, help="the release before: a tag or a commit")
    parser.add_argument("--key", type=Path, help="an SSH key to sign with")
    given = parser.parse_args()
    try:
        text = notes(Repository(), given.since)
    except subprocess.CalledProcessError as error:
        print(f"git: {error.stderr.decode(errors='replace').strip().splitlines()[0]}", file=sys.stderr)
        return 2
    given.target.parent.mkdir(parents=True, exist_ok=True)
    given.target.write_text(text, encoding="utf-8")
    print(given.target)
    if given.key is not None:
        print(sign(given.target, given.key))
    return 0


if __name__ == "__main__":
    sys.exit(main())
