"""Load rule sets: TOML folders, dated values, house sets that extend others, and digests.

A value with a history is an array of tables (each with its ``valid_from``) where a plain value is one table. For a date
the newest entry not later than it counts; a value whose first entry lies later is absent on that date.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import orjson
from pydantic import TypeAdapter, ValidationError

from glandwise.rules.model import RuleSetData, walk

Tree = dict[str, Any]


class RuleError(Exception):
    """A rule set that cannot be used: file, line, key, fault and what is accepted."""

    def __init__(self, file: str, line: int | None, key: str, fault: str, accepted: str = "") -> None:
        self.file, self.line, self.key, self.fault, self.accepted = file, line, key, fault, accepted
        where = f"{file}:{line}" if line else file
        super().__init__(f"{where}: {key}: {fault}" + (f"; accepted: {accepted}" if accepted else ""))


@lru_cache(maxsize=1)
def _adapter() -> TypeAdapter[RuleSetData]:
    return TypeAdapter(RuleSetData)


def merge_patch(target: Any, patch: Any) -> Any:
    """Apply a JSON merge patch (RFC 7396) and return the result; neither argument is changed."""
    if not isinstance(patch, dict):
        return patch
    result = dict(target) if isinstance(target, dict) else {}
    for key, value in patch.items():
        if value is None:
            result.pop(key, None)
        else:
            result[key] = merge_patch(result.get(key), value)
    return result


def canonical(tree: Tree) -> bytes:
    """Return the canonical bytes of a rule tree: JSON with sorted keys, so formatting and comments do not count."""
    return orjson.dumps(tree, option=orjson.OPT_SORT_KEYS)


def digest(tree: Tree) -> str:
    """Return the SHA-256 of the canonical content."""
    return hashlib.sha256(canonical(tree)).hexdigest()


def _is_history(value: Any) -> bool:
    return (
        isinstance(value, list)
        and bool(value)
        and all(isinstance(item, dict) and "valid_from" in item for item in value)
    )


def dates(tree: Any) -> Iterator[date]:
    """Yield every ``valid_from`` of a tree."""
    if isinstance(tree, dict):
        if isinstance(tree.get("valid_from"), date):
            yield tree["valid_from"]
        for value in tree.values():
            yield from dates(value)
    elif isinstance(tree, list):
        for value in tree:
            yield from dates(value)


def at(tree: Any, as_of: date) -> Any:
    """Return the tree as it stood on ``as_of``: histories resolved, values not yet in force left out."""
    if isinstance(tree, dict):
        return {key: resolved for key, value in tree.items() if (resolved := at(value, as_of)) is not None}
    if _is_history(tree):
        in_force = [item for item in tree if _date(item) <= as_of]
        return max(in_force, key=_date) if in_force else None
    if isinstance(tree, list):
        return [at(value, as_of) for value in tree]
    return tree


def _date(item: Mapping[str, Any]) -> date:
    value = item["valid_from"]
    return value if isinstance(value, date) else date.fromisoformat(str(value))


def _not_yet(tree: Any, as_of: date) -> Any:
    """Drop single values that are not in force yet."""
    if isinstance(tree, dict):
        if "valid_from" in tree and _date(tree) > as_of:
            return None
        return {key: kept for key, value in tree.items() if (kept := _not_yet(value, as_of)) is not None}
    if isinstance(tree, list):
        return [_not_yet(value, as_of) for value in tree]
    return tree


@dataclass(frozen=True)
class RuleSet:
    """A rule set at a date: its data, name, version, digest and the date."""

    data: RuleSetData
    name: str
    version: str
    digest: str
    as_of: date


class RuleTree:
    """A rule set with all its history."""

    def __init__(self, tree: Tree, folder: Path | None = None) -> None:
        self.tree = tree
        self.folder = folder
        self.digest = digest(tree)
        self.breakpoints = sorted(set(dates(tree)))
        self._cache: dict[date, RuleSet] = {}

    def at(self, as_of: date) -> RuleSet:
        """Return the rule set in force on ``as_of``; values between two dates of change are shared."""
        key = max((point for point in self.breakpoints if point <= as_of), default=date.min)
        base = self._cache.get(key)
        if base is None:
            base = self._cache[key] = self._resolve(key if key != date.min else as_of)
        return base if base.as_of == as_of else RuleSet(base.data, base.name, base.version, base.digest, as_of)

    def newest(self) -> RuleSet:
        """Return the rule set with the newest values."""
        return self.at(self.breakpoints[-1] if self.breakpoints else date.min)

    def _resolve(self, as_of: date) -> RuleSet:
        resolved = _not_yet(at(self.tree, as_of), as_of)
        try:
            data = _adapter().validate_python(resolved)
        except ValidationError as error:
            raise self._explain(error) from None
        for path, record in walk(data):
            if record.source not in data.sources:
                raise self._fault(path.replace("[", ".").replace("]", "").split("."), f"source {record.source!r} is not in sources",
                                  "an identifier of sources.toml")  # fmt: skip
        _check_references(data, self._fault)
        return RuleSet(data, data.rule_set.name, data.rule_set.version, self.digest, as_of)

    def _explain(self, error: ValidationError) -> RuleError:
        item = error.errors(include_url=False)[0]
        context = item.get("ctx") or {}
        accepted = str(context.get("accepted") or context.get("expected") or "")
        location = [str(part) for part in item["loc"] if not str(part).startswith("function-")]
        return self._fault(location, item["msg"], accepted)

    def _fault(self, location: Iterable[str], fault: str, accepted: str = "") -> RuleError:
        parts = list(location)
        file = f"{parts[0]}.toml" if parts else "rule_set.toml"
        text = ""
        if self.folder is not None and (self.folder / file).is_file():
            text = (self.folder / file).read_text(encoding="utf-8")
            file = f"{self.folder.name}/{file}"
        return RuleError(file, locate(text, parts[1:]), ".".join(parts[1:]) or file, fault, accepted)


def _check_references(data: RuleSetData, fault: Any) -> None:
    """Check the names that one file uses of another."""
    for key, usual, known in (
        ("energizer_alloy", data.sizing.energizer_alloy, data.alloys),
        ("garter_alloy", data.sizing.garter_alloy, data.alloys),
        ("o_ring_elastomer", data.sizing.o_ring_elastomer, data.elastomers),
    ):
        if usual.name not in known:
            raise fault(["sizing", key, "name"], f"{usual.name!r} is not known", ", ".join(known))
    for path, usual in (
        ("press_fit", data.gland.press_fit.material),
        ("housing", data.gland.housing.material),
        ("housing", data.gland.housing.shaft_material),
    ):
        if usual.name not in data.shaft_materials:
            raise fault(["gland", path, "name"], f"{usual.name!r} is not known", ", ".join(data.shaft_materials))
    for name in data.expansion.metals.fits:
        if name not in data.shaft_materials and name not in data.alloys:
            raise fault(["expansion", "metals", "fits", name], f"{name!r} is not known", "a shaft material or an alloy")
    for name, fluid in data.fluids.items():
        for kind, used, known in (
            ("alloys", fluid.compatibility.alloys, data.alloys),
            ("elastomers", fluid.compatibility.elastomers, data.elastomers),
        ):
            for key in used:
                if key not in known:
                    raise fault(["fluids", name, "compatibility", kind, key], f"{key!r} is not known", ", ".join(known))
    for name, change in data.changes.items():
        for criterion in change.criteria:
            if criterion not in data.criteria:
                raise fault(
                    ["changes", name, "criteria"], f"{criterion!r} is not a criterion", ", ".join(data.criteria)
                )


def locate(text: str, path: list[str]) -> int | None:
    """Return the line of a TOML text that holds the deepest part of ``path``, ``None`` when none does."""
    best: tuple[int, int] | None = None
    table: list[str] = []
    for number, line in enumerate(text.splitlines(), start=1):
        if header := re.match(r"\s*\[\[?\s*([^\]]+?)\s*\]\]?", line):
            table = [part.strip().strip('"') for part in header[1].split(".")]
            here = table
        elif key := re.match(r"\s*([\w.\"-]+)\s*=", line):
            here = [*table, *(part.strip('"') for part in key[1].split("."))]
        else:
            continue
        plain = [part for part in path if not part.isdecimal()]
        depth = next(
            (i for i, (a, b) in enumerate(zip(here, plain, strict=False)) if a != b), min(len(here), len(plain))
        )
        if depth == len(here) and (best is None or depth > best[0]):
            best = (depth, number)
    return best[1] if best and best[0] else None


def read_folder(folder: Any, label: str = "") -> Tree:
    """Read the TOML files of a folder into one tree keyed by file name."""
    tree: Tree = {}
    for entry in sorted(folder.iterdir(), key=lambda item: item.name):
        if not entry.name.endswith(".toml"):
            continue
        try:
            tree[entry.name.removesuffix(".toml")] = tomllib.loads(entry.read_text(encoding="utf-8"))
        except tomllib.TOMLDecodeError as error:
            position = re.search(r"line (\d+)", str(error))
            raise RuleError(f"{label or folder.name}/{entry.name}", int(position[1]) if position else None, entry.name,
                            f"not TOML: {error}", "TOML 1.0") from None  # fmt: skip
    if "rule_set" not in tree:
        raise RuleError(
            f"{label or folder.name}/rule_set.toml", None, "rule_set", "the file is missing", "a file rule_set.toml"
        )
    return tree


class RuleStore:
    """All rule sets the service knows, checked at every date at which a value changes."""

    def __init__(self, house: Path | None = None) -> None:
        self.trees: dict[str, RuleTree] = {}
        folders: list[Any] = [entry for entry in files("glandwise.rules").joinpath("data").iterdir() if entry.is_dir()]
        if house is not None:
            if not house.is_dir():
                raise RuleError(str(house), None, "GLANDWISE_RULES", "is not a folder", "a folder of rule set folders")
            folders += [entry for entry in house.iterdir() if entry.is_dir()]
        pending: dict[str, tuple[Tree, Any]] = {}
        for folder in sorted(folders, key=lambda item: item.name):
            tree = read_folder(folder)
            name = str(tree["rule_set"].get("name", folder.name))
            if name in pending:
                raise RuleError(
                    f"{folder.name}/rule_set.toml",
                    None,
                    "name",
                    f"the name {name!r} is used twice",
                    "a name of its own",
                )
            pending[name] = (tree, folder)
        for name in pending:
            self._add(name, pending, ())

    def _add(self, name: str, pending: Mapping[str, tuple[Tree, Any]], chain: tuple[str, ...]) -> RuleTree:
        if name in self.trees:
            return self.trees[name]
        tree, folder = pending[name]
        base = tree["rule_set"].get("extends")
        if base is not None:
            if base not in pending or base in (*chain, name):
                raise RuleError(f"{folder.name}/rule_set.toml", None, "extends", f"{base!r} cannot be extended",
                                ", ".join(sorted(set(pending) - {name, *chain})))  # fmt: skip
            tree = merge_patch(self._add(base, pending, (*chain, name)).tree, tree)
        rules = RuleTree(tree, Path(str(folder)))
        for point in rules.breakpoints:
            rules.at(point)
        self.trees[name] = rules
        return rules

    def get(self, name: str) -> RuleTree | None:
        """Return a rule set by name."""
        return self.trees.get(name)
