"""Rule sets as they were, out of the history of a git repository that holds them.

A set is known by the digest of its content. Every commit that can be reached from a branch or a tag is looked at, the newest first, and
every folder in it that holds folders of rule sets; what stands in it unchanged is looked at once. A set that extends others takes
them from beside it, as a candidate does, else from the built-in sets and from an archive: the digest covers what a
set stands on, so that of a house set whose baseline was another is found only where that baseline is still held.

Nothing is written, no work tree is needed, and no program is started: the repository is read by dulwich, which is loaded when
a history is asked for (``glandwise-service[git]``).
"""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple

from glandwise.patience import go_on
from glandwise.rules.loader import Kept, Layer, RuleError, RuleTree, extended, read_layer

COMMITS = 50_000
"""Commits that are looked at, the newest first."""
DEEPEST = 8
"""Folders below one another in which rule sets are looked for."""
LARGEST = 16 * 2**20
"""Bytes of a file of rules that are read."""
_MARK = b"rule_set.toml"


class File(NamedTuple):
    """A file of a commit, read as a path is."""

    name: str
    content: bytes

    def read_text(self, encoding: str) -> str:
        """Return its text."""
        return self.content.decode(encoding)


class Folder(NamedTuple):
    """A folder of a commit, read as a path is."""

    name: str
    files: Mapping[str, bytes]

    def iterdir(self) -> Iterator[File]:
        """Yield its files."""
        return (File(name, content) for name, content in self.files.items())

    def joinpath(self, name: str) -> File:
        """Return one of them."""
        return File(name, self.files[name])


class Recipe(NamedTuple):
    """How a set is put together again: from a folder of folders, by its name, on which set that does not stand beside it."""

    home: bytes
    name: str
    below: str | None
    """Digest of the lowest set of its chain that was taken from elsewhere."""


class History:
    """The rule sets of a repository, by their digests; what is not asked for is not read.

    Raises :class:`RuleError` for what is no repository, and where dulwich is not installed.
    """

    def __init__(self, path: Path, built_in: Sequence[RuleTree], archive: Kept | None = None) -> None:
        self._path, self._built_in, self._archive = path, tuple(built_in), archive
        self._criteria = frozenset(name for tree in built_in for name in tree.criteria)
        self.known_by = tuple(sorted({commit.decode() for commit in self._tips()}))
        self._begin()

    def _begin(self) -> None:
        self._lock = threading.Lock()
        self._recipes: dict[str, Recipe] = {}
        self._homes: list[bytes] | None = None
        self._done = 0
        self._found: dict[bytes, tuple[bytes, ...]] = {}

    def __getstate__(self) -> dict[str, Any]:
        """Return what a worker needs: where the repository is, and on what sets may stand."""
        return {name: getattr(self, name) for name in ("_path", "_built_in", "_archive", "_criteria", "known_by")}

    def __setstate__(self, state: Mapping[str, Any]) -> None:
        self.__dict__.update(state)
        self._begin()

    @cached_property
    def _repository(self) -> Any:
        try:
            from dulwich.errors import NotGitRepository
            from dulwich.repo import Repo
        except ModuleNotFoundError:
            raise RuleError(
                str(self._path), None, "GLANDWISE_RULE_HISTORY", "dulwich, which reads it, is not installed",
                "glandwise-service[git]",
            ) from None  # fmt: skip
        try:
            return Repo(str(self._path))
        except (NotGitRepository, OSError):
            raise RuleError(
                str(self._path), None, "GLANDWISE_RULE_HISTORY", "is no git repository",
                "a folder with a work tree, or a bare one",
            ) from None  # fmt: skip

    @cached_property
    def _below(self) -> tuple[RuleTree, ...]:
        """Sets on which others may stand that are not beside them; of an archive those that extend none."""
        held = [] if self._archive is None else [self._archive.get(digest) for digest in self._archive.known_by]
        kept = [tree for tree in held if tree is not None and "extends" not in tree.tree["rule_set"]]
        return tuple({tree.digest: tree for tree in (*self._built_in, *kept)}.values())

    def _tips(self) -> set[bytes]:
        """Return the commits that branches and tags lead to."""
        store, found = self._repository.object_store, set()
        for tip in self._repository.get_refs().values():
            held = tip
            while held in store and (shown := store[held]).type_name == b"tag":
                held = shown.object[1]
            if held in store and store[held].type_name == b"commit":
                found.add(held)
        return found

    @property
    def digests(self) -> list[str]:
        """Digests of the sets that were met so far, sorted."""
        return sorted(self._recipes)

    def get(self, digest: str) -> RuleTree | None:
        """Return a set by its digest; it is not checked, for it was when it was in force."""
        with self._lock:
            while digest not in self._recipes and self._look_further():
                go_on()
            recipe = self._recipes.get(digest)
            if recipe is None:
                return None
            return next((tree for tree, made in self._sets(recipe.home) if made == recipe), None)

    def every(self) -> Iterator[RuleTree]:
        """Yield each set of the history once, the newest first."""
        met: set[str] = set()
        with self._lock:
            for home in dict.fromkeys(self._all_homes()):
                for tree, _ in self._sets(home):
                    if tree.digest not in met:
                        met.add(tree.digest)
                        yield tree

    def _look_further(self) -> bool:
        """Look at the next folder of rule sets; false where there is none."""
        if self._homes is None:
            self._homes = list(dict.fromkeys(self._all_homes()))
        if self._done >= len(self._homes):
            return False
        for tree, recipe in self._sets(self._homes[self._done]):
            self._recipes.setdefault(tree.digest, recipe)
        self._done += 1
        return True

    def _all_homes(self) -> Iterator[bytes]:
        """Yield the folders of each commit that hold folders of rule sets, the newest commit first."""
        tips = sorted(self._tips())
        if not tips:
            return
        for entry in self._repository.get_walker(include=tips, max_entries=COMMITS):
            go_on()
            yield from self._homes_in(entry.commit.tree, 0)

    def _homes_in(self, folder: bytes, depth: int) -> tuple[bytes, ...]:
        """Return the folders in a folder, itself included, that hold folders of rule sets."""
        if folder not in self._repository.object_store:
            return ()  # of a clone that is not whole
        if folder not in self._found:
            inner = [item for item in self._repository.object_store[folder].items() if item.mode & 0o170000 == 0o040000]
            mine = any(self._holds_rules(item.sha) for item in inner)
            below = (
                home
                for item in inner
                if depth < DEEPEST and not item.path.startswith(b".")
                for home in self._homes_in(item.sha, depth + 1)
            )
            self._found[folder] = ((folder,) if mine else ()) + tuple(below)
        return self._found[folder]

    def _holds_rules(self, folder: bytes) -> bool:
        store = self._repository.object_store
        return folder in store and _MARK in store[folder]

    def _sets(self, home: bytes) -> Iterator[tuple[RuleTree, Recipe]]:
        """Yield the sets whose folders stand in a folder, on all that they may stand on."""
        layers: dict[str, Layer] = {}
        for item in self._repository.object_store[home].items():
            if item.mode & 0o170000 == 0o040000 and self._holds_rules(item.sha):
                try:
                    layer = read_layer(self._folder(item.path.decode("utf-8", "replace"), item.sha))
                except RuleError:
                    continue  # a commit that nobody could have served
                layers.setdefault(str(layer.tree["rule_set"]["name"]), layer)
        for name in layers:
            for tree, below in self._put_together(name, layers, ()):
                yield tree, Recipe(home, name, below)

    def _put_together(
        self, name: str, layers: Mapping[str, Layer], chain: tuple[str, ...]
    ) -> Iterator[tuple[RuleTree, str | None]]:
        """Yield a set on each that it may stand on, with the digest of the one that was taken from elsewhere."""
        layer = layers.get(name)
        if layer is None:
            yield from ((tree, tree.digest) for tree in self._below if tree.name == name)
            return
        extends = layer.tree["rule_set"].get("extends")
        if extends is None:
            yield from self._made(layer.tree, layer, None, None)
        elif extends not in (name, *chain):
            for below, digest in self._put_together(str(extends), layers, (*chain, name)):
                try:
                    tree = extended(below, layer)
                except RuleError:
                    continue  # on this one it could not stand
                yield from self._made(tree, layer, below, digest)

    def _made(
        self, tree: dict[str, Any], layer: Layer, below: RuleTree | None, digest: str | None
    ) -> Iterator[tuple[RuleTree, str | None]]:
        layers = () if below is None else below.layers
        try:
            yield RuleTree(tree, (layer, *layers), self._criteria, below), digest
        except RuleError:  # of a set without a date
            return

    def _folder(self, name: str, folder: bytes) -> Folder:
        store = self._repository.object_store
        files: dict[str, bytes] = {}
        for item in store[folder].items():
            if item.path.endswith(b".toml") and item.mode & 0o170000 == 0o100000 and item.sha in store:
                content = store[item.sha].data
                if len(content) <= LARGEST:
                    files[item.path.decode("utf-8", "replace")] = content
        return Folder(name, files)


class Both:
    """An archive and a history, the archive first."""

    def __init__(self, *kept: Kept) -> None:
        self._kept = kept

    @property
    def known_by(self) -> tuple[str, ...]:
        """What tells them from others."""
        return tuple(mark for one in self._kept for mark in one.known_by)

    def get(self, digest: str) -> RuleTree | None:
        """Return a set by its digest."""
        return next((tree for one in self._kept if (tree := one.get(digest)) is not None), None)
