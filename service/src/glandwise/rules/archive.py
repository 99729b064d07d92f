"""An archive of rule sets as they were, each in a file named by its digest.

A file holds the canonical bytes of a set, so that the digest of a stamp is the SHA-256 of the file that bears it: what was
in force when an answer was given can be shown years later, and ``sha256sum`` verifies it. Nothing in an archive is ever changed.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import orjson

from glandwise.rules.compare import from_json
from glandwise.rules.history import Both, History
from glandwise.rules.loader import BUILT_IN, RuleError, RuleStore, RuleTree, canonical
from glandwise.rules.stated import TABLES_OF_ENTRIES

_NAME = re.compile(r"[0-9a-f]{64}\.json")


def put(tree: RuleTree, folder: Path) -> Path:
    """Put a rule set with all its history into an archive, and return its file; one that is there already stays."""
    path = folder / f"{tree.digest}.json"
    if not path.exists():
        beside = path.with_suffix(".part")
        beside.write_bytes(canonical(tree.tree))
        beside.replace(path)
    return path


class Archive:
    """The rule sets of an archive, read when they are asked for; the files are verified at once.

    Raises :class:`RuleError` for a file that is not what its name says.
    """

    def __init__(self, folder: Path, criteria: Iterable[str]) -> None:
        self._criteria = frozenset(criteria)
        if not folder.is_dir():
            raise RuleError("archive", None, "", "there is no such folder", "a folder of rule sets by digest")
        self._paths: dict[str, Path] = {}
        for path in sorted(folder.iterdir()):
            if not _NAME.fullmatch(path.name):
                continue  # a README, say
            if hashlib.sha256(path.read_bytes()).hexdigest() != path.stem:
                raise RuleError("archive", None, path.name, "its content is not what its name is the SHA-256 of",
                                "a file as `glandwise rules archive` wrote it")  # fmt: skip
            self._paths[path.stem] = path

    @property
    def digests(self) -> list[str]:
        """Digests of the sets that are held, sorted."""
        return list(self._paths)

    @property
    def known_by(self) -> tuple[str, ...]:
        """Its digests."""
        return tuple(self._paths)

    def get(self, digest: str) -> RuleTree | None:
        """Return a set by its digest; it is not checked, for it was when it was in force."""
        path = self._paths.get(digest)
        if path is None:
            return None
        tree, order = orjson.loads(path.read_bytes())
        for names, table in zip(order, TABLES_OF_ENTRIES, strict=False):
            _reorder(tree, table, names)
        return RuleTree(from_json(tree), (), self._criteria)


def store(house: Path | None, folder: Path | None, history: Path | None = None) -> RuleStore:
    """Return the rule sets in force, with an archive and a git history of those that were before them."""
    if folder is None and history is None:
        return RuleStore(house)
    built_in = RuleStore().trees
    criteria = built_in[BUILT_IN].criteria
    kept = None if folder is None else Archive(folder, criteria)
    if history is None:
        return RuleStore(house, kept)
    past = History(history, list(built_in.values()), kept)
    return RuleStore(house, past if kept is None else Both(kept, past))


def _reorder(tree: Any, path: Iterable[str], names: Iterable[str]) -> None:
    """Put the entries of a table into their order, which the bytes keep beside them."""
    *above, last = path
    for part in above:
        tree = tree.get(part, {})
    held = tree.get(last)
    if isinstance(held, dict) and held.keys() == set(names):  # another version may have had other tables
        tree[last] = {name: held[name] for name in names}
