"""Load rule sets: TOML folders, dated values, house sets that extend others, and digests.

A value with a history is an array of tables (each with its ``valid_from``) where a plain value is one table. For a date
the newest entry not later than it counts; a value whose first entry lies later is absent on that date:

* An optional value that is absent leads to a verdict of ``not_evaluated``.
* A named entry (a compound, a fluid, a capacity ...) none of whose dated values is in force yet is itself absent.
* A mandatory value that is absent otherwise is a fault of the set, for a rule set is whole on every date from its own
  ``valid_from`` on.

Every set is checked at each date at which one of its values changes, when the service starts.
"""

from __future__ import annotations

import hashlib
import os
import re
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple, Protocol

import orjson
from pydantic import TypeAdapter, ValidationError

from glandwise.patience import go_on
from glandwise.rules import explain, plausibility, positions
from glandwise.rules.features import designs_with, undecided
from glandwise.rules.model import Header, RuleSetData, Source, walk, written
from glandwise.rules.overlay import OverlayError, Tree, dates, is_date, is_history, lay_over, removed
from glandwise.rules.stated import TABLES_OF_ENTRIES, File, Read, files_of

BUILT_IN = "baseline"
"""Name of the rule set that comes with the service."""
DEFINITION = "definition"
"""Source of what is true by definition, and so needs no standard to be one."""
FILES = tuple(RuleSetData.__dataclass_fields__)
"""Names of the files of a rule set, without ``.toml``."""


class RuleError(Exception):
    """A rule set that cannot be used: file, line, key, fault and what is accepted.

    ``path`` is the place as keys and indices, from the name of the file on; ``also`` holds further faults.
    """

    def __init__(
        self,
        file: str,
        line: int | None,
        key: str,
        fault: str,
        accepted: str = "",
        *,
        path: Sequence[str | int] = (),
        also: Sequence[RuleError] = (),
    ) -> None:
        self.file, self.line, self.key, self.fault, self.accepted = file, line, key, fault, accepted
        self.path, self.also = tuple(path), tuple(also)
        where = f"{file}:{line}" if line else file
        text = f"{where}: {key}: {fault}" + (f"; accepted: {accepted}" if accepted else "")
        # a key or a name of a file can hold what a terminal would obey
        self.text = "".join(letter if letter.isprintable() else ascii(letter)[1:-1] for letter in text)
        super().__init__("\n".join((self.text, *(error.text for error in self.also))))


def _together(faults: Sequence[RuleError]) -> RuleError:
    """Return one error for several faults."""
    first, *others = faults
    return RuleError(first.file, first.line, first.key, first.fault, first.accepted, path=first.path, also=others)


@lru_cache(maxsize=1)
def _adapter() -> TypeAdapter[RuleSetData]:
    return TypeAdapter(RuleSetData)


def canonical(tree: Tree) -> bytes:
    """Return the canonical bytes of a rule tree: JSON with sorted keys, so formatting and comments do not count.

    The order of named entries does count, for it decides between equals: which of two compounds of the same merit comes
    first, which of two criteria at the same utilization governs.
    """
    order = [list(_entries(tree, path)) for path in TABLES_OF_ENTRIES]
    return orjson.dumps([tree, order], option=orjson.OPT_SORT_KEYS)


def _entries(tree: Any, path: Iterable[str]) -> Mapping[str, Any]:
    for part in path:
        tree = tree.get(part) if isinstance(tree, dict) else None
    return tree if isinstance(tree, dict) else {}


def digest(tree: Tree) -> str:
    """Return the SHA-256 of the canonical content."""
    return hashlib.sha256(canonical(tree)).hexdigest()


_TOO_DEEP = ("nests too deeply", f"at most {positions.DEEPEST} levels of tables and arrays")
_LEAST, _GREATEST = -(2**63), 2**63 - 1
_TOO_LARGE = ("is beyond what a whole number may be", f"a whole number from {_LEAST} to {_GREATEST}")
_MANY_DIGITS = re.compile(r"[0-9a-fA-F_]{1000,}")


@dataclass(frozen=True)
class Layer:
    """What one folder states, before it is laid over the set that it extends."""

    label: str
    tree: Tree
    folder: Any
    """Folder of the files; ``None`` for a tree that comes from elsewhere."""
    remove: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        self._check_bounds(self.tree, ())

    def _check_bounds(self, value: Any, path: tuple[str | int, ...]) -> None:
        """Refuse tables nested without end and whole numbers beyond what TOML has: nothing else could be said of them."""
        if len(path) > positions.DEEPEST:
            raise self.error(path[: positions.DEEPEST], *_TOO_DEEP)
        if type(value) is int and not _LEAST <= value <= _GREATEST:
            raise self.error(path, *_TOO_LARGE)
        if isinstance(value, dict | list):
            for key, item in value.items() if isinstance(value, dict) else enumerate(value):
                self._check_bounds(item, (*path, key))

    def positions(self, file: str) -> positions.Positions:
        """Scan a file for the places of its keys."""
        return positions.scan(_text(self.folder.joinpath(f"{file}.toml")))

    def error(self, path: Sequence[str | int], fault: str, accepted: str) -> RuleError:
        """Return a fault of this layer with its line; ``path`` begins with the file and has indices into histories."""
        file, inside = str(path[0]), tuple(path[1:])
        line = self.positions(file).line(inside) if self.folder is not None and file in self.tree else None
        key = ".".join(str(part) for part in inside if isinstance(part, str)) or f"{file}.toml"
        return RuleError(f"{self.label}/{file}.toml", line, key, fault, accepted, path=path)


def _text(entry: Any) -> str:
    text: str = entry.read_text(encoding="utf-8")
    return text.replace("\r\n", "\n")


@dataclass(frozen=True)
class RuleSet:
    """A rule set at a date: its data, name, version, digest and the date."""

    data: RuleSetData
    name: str
    version: str
    digest: str
    as_of: date


class RuleTree:
    """A rule set with all its history.

    ``layers`` are the folders it was put together from, the uppermost first; they serve to say where a fault stands.
    ``criteria`` are the criteria that the engine judges by: a set may word and weigh them, not add or drop one.
    ``like`` is a set with which this one may have files in common, the one that it was laid over as a rule.
    """

    def __init__(
        self, tree: Tree, layers: Sequence[Layer] = (), criteria: Iterable[str] | None = None,
        like: RuleTree | None = None,
    ) -> None:  # fmt: skip
        self.tree = tree
        self.layers = tuple(layers)
        self.criteria = frozenset(tree.get("criteria") or () if criteria is None else criteria)
        self.digest = digest(tree)
        start = tree["rule_set"].get("valid_from")
        if not is_date(start):
            accepted = "a date without quotes, as in 2026-01-01"
            raise self._error([explain.Finding(("rule_set", "valid_from"), "is missing", accepted, True)])
        self.valid_from: date = start
        self._files: dict[str, File] = files_of(tree, None if like is None else like._files)
        points = {point for file in self._files.values() for point in file.dates}
        self.breakpoints = sorted({start, *(point for point in points if point > start)})
        self._cache: dict[date, RuleSet] = {}

    @property
    def name(self) -> str:
        """What the set is called."""
        return str(self.tree["rule_set"]["name"])

    def check(self) -> RuleTree:
        """Check the set at every date at which a value changes; raises :class:`RuleError`."""
        for point in self.breakpoints:
            self.at(point)
        return self

    def at(self, as_of: date) -> RuleSet:
        """Return the rule set in force on ``as_of``; values between two dates of change are shared.

        Raises :class:`ValueError` for a date before the set's own ``valid_from``.
        """
        if as_of < self.valid_from:
            raise ValueError(f"the rule set is in force from {self.valid_from}")
        key = max(point for point in self.breakpoints if point <= as_of)
        base = self._cache.get(key)
        if base is None:
            base = self._cache[key] = self._build(key)
        return base if base.as_of == as_of else RuleSet(base.data, base.name, base.version, base.digest, as_of)

    def newest(self) -> RuleSet:
        """Return the rule set with the newest values."""
        return self.at(self.breakpoints[-1])

    def as_of(self, day: date) -> Tree:
        """Return the tree as it stood on a day: histories resolved, values not yet in force left out.

        Raises :class:`ValueError` for a date before the set's own ``valid_from``.
        """
        if day < self.valid_from:
            raise ValueError(f"the rule set is in force from {self.valid_from}")
        return {name: read.content for name, read in self._read(day).items()}

    def _read(self, day: date) -> dict[str, Read]:
        """Return the files of which anything is in force on a day."""
        found = {name: file.on(day) for name, file in self._files.items()}
        return {name: read for name, read in found.items() if read.content is not None}

    def _build(self, as_of: date) -> RuleSet:
        go_on()
        files = self._read(as_of)
        try:  # what was read before is taken as it is
            data = _adapter().validate_python(
                {name: read.content if read.record is None else read.record for name, read in files.items()}
            )
        except ValidationError as error:
            raise self._error(list(explain.findings(error)), as_of) from None
        for name, read in files.items():
            read.record = getattr(data, name)
        found = [
            *criteria_faults(data, self.criteria),
            *_evidence_faults(data, files),
            *plausibility.faults(data, as_of == self.breakpoints[-1], files),
            *reference_faults(data, self.tree, self.criteria),
            *limit_faults(data, self._stated),
        ]
        if found:
            raise self._error(found, as_of)
        return RuleSet(data, data.rule_set.name, data.rule_set.version, self.digest, as_of)

    def _stated(self, capacity: str) -> int:
        """Return the uppermost layer that says something of a capacity."""
        for index, layer in enumerate(self.layers):
            if capacity in (layer.tree.get("designs") or {}).get("capacities", {}):
                return index
        return len(self.layers)

    def _error(self, found: Sequence[explain.Finding], as_of: date | None = None) -> RuleError:
        faults = {
            (fault.file, fault.line, fault.key): fault for fault in (self._explain(item, as_of) for item in found[:20])
        }
        return _together(list(faults.values()))

    def _explain(self, finding: explain.Finding, as_of: date | None) -> RuleError:
        path, fault, accepted, missing, needs, others = finding
        if others:
            judged, path = path, self._uppermost((path, *others), as_of)
            if path[0] == "bands":  # a band that a house narrowed, not the value, is what is to be looked at
                fault = f"{'.'.join(map(str, judged))}: {fault}"
        if missing and len(path) == 1:
            fault, accepted = "the file is missing", "all of " + ", ".join(f"{name}.toml" for name in FILES)
        elif missing and as_of is not None and (first := min(_dates_at(self.tree, path), default=None)) is not None:
            # It is there, only later: the place to show is the value itself.
            fault = f"is not in force yet on {as_of}, only from {first}"
            accepted = f"a valid_from not later than {as_of}, or an earlier entry in its history"
            missing, as_of = False, None
        if as_of is not None and as_of > self.valid_from:
            fault = f"{fault} (on {as_of})"
        for layer in self.layers:
            for index, name in enumerate(layer.remove):
                gone = tuple(name.split("."))
                if gone in needs:
                    user = ".".join(str(part) for part in path)
                    return layer.error(
                        ("rule_set", "remove", index), f"{name} cannot be spared: {user} uses it", accepted
                    )
                if missing and gone == path[: len(gone)]:
                    return layer.error(("rule_set", "remove", index), f"{name} cannot be spared: it {fault}", accepted)
        if not self.layers:
            key = ".".join(str(part) for part in path[1:])
            return RuleError(f"{path[0]}.toml", None, key or str(path[0]), fault, accepted, path=path)
        # The layer that holds the most of the path is the one at fault; the upper one of equals.
        sought = path[:-1] if missing else path
        reach = [_reach(layer.tree, sought, as_of) for layer in self.layers]
        best = max(range(len(reach)), key=lambda index: (len(_plain(reach[index])), -index))
        where = reach[best] or path[:1]
        inside = _plain(where)
        shown = (*where, *path[len(inside) :]) if len(inside) <= len(path) else where
        return self.layers[best].error(shown, fault, accepted)

    def _uppermost(self, paths: Sequence[explain.Path], as_of: date | None) -> explain.Path:
        """Return the first of some paths that the uppermost layer to state one of them states."""
        stated = (
            path for layer in self.layers for path in paths if len(_plain(_reach(layer.tree, path, as_of))) == len(path)
        )
        return next(stated, paths[0])


def _condition(when: Mapping[str, Any]) -> str:
    """Write a condition as TOML."""
    return f"{{ {', '.join(f'{key} = {written(value)}' for key, value in when.items())} }}"


def _designs(features: Mapping[str, Any]) -> str:
    """Name the designs of which one has some features."""
    return "a design with " + ", ".join(f"{key} = {written(value)}" for key, value in features.items())


def _plain(path: Sequence[str | int]) -> tuple[str | int, ...]:
    """Return a path without the indices that :func:`_reach` put in for histories."""
    return tuple(part for part in path if not isinstance(part, _Entry))


class _Entry(int):
    """Index of the entry of a history that is in force."""


def _reach(tree: Any, path: Sequence[str | int], as_of: date | None) -> tuple[str | int, ...]:
    """Return as much of a path as a tree holds, with the index of the entry in force where there is a history."""
    found: list[str | int] = []
    for part in path:
        held = (isinstance(tree, dict) and part in tree) or (
            isinstance(tree, list) and isinstance(part, int) and part < len(tree)
        )
        if not held:
            break
        tree = tree[part]
        found.append(part)
        if as_of is None:
            continue
        if is_history(tree):
            in_force = [index for index, item in enumerate(tree) if item["valid_from"] <= as_of]
            if not in_force:
                found.pop()
                break
            index = max(in_force, key=lambda item: tree[item]["valid_from"])
            found.append(_Entry(index))
            tree = tree[index]
        elif (
            isinstance(tree, dict) and is_date(tree.get("valid_from")) and tree["valid_from"] > as_of and len(found) > 1
        ):
            found.pop()
            break
    return tuple(found)


def _dates_at(tree: Any, path: Sequence[str | int]) -> Iterator[date]:
    for index, part in enumerate(path):
        if is_history(tree):
            for item in tree:
                yield from _dates_at(item, path[index:])
            return
        if not isinstance(tree, dict) or part not in tree:
            return
        tree = tree[part]
    yield from dates(tree)


def _parts(path: str) -> tuple[str | int, ...]:
    """Split a path as :func:`glandwise.rules.model.walk` writes it."""
    return tuple(int(part) if part.isdecimal() else part for part in re.split(r"[.\[\]]+", path) if part)


def _evidence_faults(data: RuleSetData, files: Mapping[str, Read]) -> Iterator[explain.Finding]:
    """Check that every record names a source that is there and can carry the evidence claimed."""
    for name, read in ((name, files[name]) for name in FILES):
        if read.rests_on is files["sources"]:
            continue
        records: Iterable[tuple[Any, Any]] = walk(getattr(data, name), name)
        if name == "bands":  # whose keys have dots in them
            records = ((("bands", key), band) for key, band in data.bands.items())
        fine = True
        for path, record in records:
            fault = _evidence_fault(record, data.sources)
            if fault is not None:
                fine = False
                place = _parts(path) if isinstance(path, str) else path
                yield explain.Finding((*place, fault.of), fault.said, fault.accepted)
        if fine:
            read.rests_on = files["sources"]


class _EvidenceFault(NamedTuple):
    of: str
    """Its field."""
    said: str
    accepted: str


def _evidence_fault(record: Any, sources: Mapping[str, Source]) -> _EvidenceFault | None:
    """Tell what is wrong with the source or the evidence of a record."""
    source = sources.get(record.source)
    if source is None:
        return _EvidenceFault("source", f"{record.source!r} is not in sources.toml", ", ".join(sources))
    if source.read == "none" and record.evidence in ("standard", "published", "own_test"):
        return _EvidenceFault(
            "evidence",
            f"{record.evidence!r} rests on {record.source!r}, of which no document was read",
            "common_practice or house_estimate, or a source with a document",
        )
    if record.evidence == "standard" and source.standard is None and record.source != DEFINITION:
        return _EvidenceFault(
            "evidence",
            f"'standard' rests on {record.source!r}, which is no standard",
            "published, common_practice or house_estimate; or a source whose `standard` in sources.toml gives the "
            "body and the number, as in ISO 6194-1:2007",
        )
    if record.evidence == "own_test" and source.records is None:
        return _EvidenceFault(
            "evidence",
            f"'own_test' rests on {record.source!r}, which has no records",
            "common_practice or house_estimate; or a source whose `records` in sources.toml give rig, closed_on, specimens "
            "and sha256, the digest of the data",
        )
    return None


def reference_faults(data: RuleSetData, tree: Tree, criteria: frozenset[str]) -> Iterator[explain.Finding]:
    """Check the names that one file uses of another.

    What a calculation falls back on must be in force; what is only listed must be a name at any date.
    """

    def unknown(
        path: tuple[str | int, ...], name: Any, *kinds: str, known: Mapping[str, Any] | None = None
    ) -> Iterator[explain.Finding]:
        tables = [tree[kind] for kind in kinds] if known is None else [known]
        if not any(name in table for table in tables):
            names = ", ".join(item for table in tables for item in table)
            yield explain.Finding(path, f"{name!r} is not known", names, needs=tuple((kind, name) for kind in kinds))

    for path, name, kind, known in (
        (("sizing", "energizer_alloy"), data.sizing.energizer_alloy.name, "alloys", data.alloys),
        (("sizing", "garter_alloy"), data.sizing.garter_alloy.name, "alloys", data.alloys),
        (("sizing", "o_ring_elastomer"), data.sizing.o_ring_elastomer.name, "elastomers", data.elastomers),
        (("running", "lubricant"), data.running.lubricant.name, "fluids", data.fluids),
        (
            ("gland", "press_fit", "material"),
            data.gland.press_fit.material.name,
            "shaft_materials",
            data.shaft_materials,
        ),
        (("gland", "housing", "material"), data.gland.housing.material.name, "shaft_materials", data.shaft_materials),
        (
            ("gland", "housing", "shaft_material"),
            data.gland.housing.shaft_material.name,
            "shaft_materials",
            data.shaft_materials,
        ),
    ):
        yield from unknown((*path, "name"), name, kind, known=known)
    for name in data.expansion.metals.fits:
        yield from unknown(("expansion", "metals", "fits", name), name, "shaft_materials", "alloys")
    for part in ("shaft_material", "housing_material"):
        for name in getattr(data.unknowns, part):
            yield from unknown(("unknowns", part, name), name, "shaft_materials")
    for fluid, record in data.fluids.items():
        for kind, used in (("alloys", record.compatibility.alloys), ("elastomers", record.compatibility.elastomers)):
            for name in (name for name in used if name not in tree[kind]):
                yield from unknown(("fluids", fluid, "compatibility", kind, name), name, kind)
    for change, rule in data.changes.items():
        for index, criterion in enumerate(rule.criteria):
            if criterion not in criteria:
                yield explain.Finding(
                    ("changes", change, "criteria", index),
                    f"{criterion!r} is not a criterion",
                    ", ".join(sorted(criteria)),
                )
        for field, kind in (
            ("compound", "compounds"),
            ("energizer_alloy", "alloys"),
            ("o_ring_elastomer", "elastomers"),
        ):
            if field in rule.design:
                yield from unknown(("changes", change, "design", field), rule.design[field], kind)


def limit_faults(data: RuleSetData, stated: Callable[[str], int] = lambda _: 0) -> Iterator[explain.Finding]:
    """Check that for every design one limit of each criterion is the most special.

    ``stated`` gives the uppermost layer that says something of a capacity.
    """
    limits: dict[str, dict[str, Any]] = {}
    for name, entry in data.designs.capacities.items():
        if entry.factor is None:
            limits.setdefault(entry.criterion, {})[name] = entry.when
    for conditions in limits.values():
        for earlier, later, design in undecided(conditions):
            # the one that the upper layer states is at fault: what it was laid over is sound by itself
            name, other = (earlier, later) if stated(earlier) < stated(later) else (later, earlier)
            if designs_with(conditions[name]) == designs_with(conditions[other]):
                fault, cure = f"limits the same designs as {other}", "one limit for each set of designs"
            else:
                both = {**conditions[other], **conditions[name]}
                fault = f"neither {name} nor {other} is the more special, and both limit {_designs(design)}"
                cure = (
                    f"conditions of which one holds for a part of the designs of the other only, or a limit of its own "
                    f"for those that have both, when = {_condition(both)}"
                )
            yield explain.Finding(("designs", "capacities", name), fault, cure)


def criteria_faults(data: RuleSetData, criteria: frozenset[str]) -> Iterator[explain.Finding]:
    """Check that the set has the criteria that the engine judges by, and no other."""
    for name in data.criteria:
        if name not in criteria:
            yield explain.Finding(
                ("criteria", name), "the engine judges by no such criterion", ", ".join(sorted(criteria))
            )
    for name in sorted(criteria - set(data.criteria)):
        yield explain.Finding(("criteria", name), "is missing", "title, caution_at and meaning", True)


def read_folder(folder: Any, label: str = "") -> Tree:
    """Read the TOML files of a folder into one tree keyed by file name."""
    label = label or folder.name
    tree: Tree = {}
    for entry in sorted(folder.iterdir(), key=lambda item: item.name):
        if not entry.name.endswith(".toml") or entry.name.startswith("."):
            continue
        name = entry.name.removesuffix(".toml")
        if name not in FILES:
            accepted = ", ".join(f"{item}.toml" for item in FILES)
            raise RuleError(f"{label}/{entry.name}", None, entry.name, "no file of a rule set has this name", accepted)
        file = f"{label}/{entry.name}"
        try:
            text = _text(entry)
            tree[name] = tomllib.loads(text)
        except OSError as error:
            raise RuleError(file, None, entry.name, f"cannot be read: {error.strerror}", "a file of TOML 1.0") from None
        except UnicodeDecodeError as error:
            raise RuleError(file, None, entry.name, f"is not UTF-8: {error}", "TOML 1.0 in UTF-8") from None
        except tomllib.TOMLDecodeError as error:
            raise _not_toml(file, entry.name, text, error) from None
        except RecursionError:
            raise _beyond_reading(file, entry.name, text, *_TOO_DEEP) from None
        except ValueError as error:  # Python bounds the digits of a whole number
            before = text[: digits.start()] if (digits := _MANY_DIGITS.search(text)) else text
            fault, accepted = _TOO_LARGE if digits else (f"is not TOML: {error}", "TOML 1.0")
            raise _beyond_reading(file, entry.name, before, fault, accepted) from None
    if "rule_set" not in tree:
        raise RuleError(f"{label}/rule_set.toml", None, "rule_set.toml", "the file is missing", "a file rule_set.toml")
    return tree


def _beyond_reading(file: str, name: str, text: str, fault: str, accepted: str) -> RuleError:
    """Return a fault that the parser gives no place for: it stands where the scanner stops, or at the end of a text."""
    where = positions.scan(text)
    key = ".".join(str(part) for part in where.last() if isinstance(part, str)) or name
    return RuleError(file, where.end, key, fault, accepted)


def _not_toml(file: str, name: str, text: str, error: tomllib.TOMLDecodeError) -> RuleError:
    where = positions.scan(text)
    if where.duplicate is not None:
        path, line, first = where.duplicate
        key = ".".join(str(part) for part in path if isinstance(part, str))
        return RuleError(
            file,
            line,
            key,
            f"is defined twice, first on line {first}",
            "one definition; a history is an array of tables",
        )
    # What was begun last before the place where the parser stopped is what is at fault.
    if place := re.search(r"line (\d+), column (\d+)", str(error)):
        line = int(place[1])
        read = "\n".join([*text.split("\n")[: line - 1], text.split("\n")[line - 1][: int(place[2]) - 1]])
    else:
        read = text.rstrip()
        line = read.count("\n") + 1
    where, above = positions.scan(read), positions.scan(read[: read.rfind("\n") + 1])
    begun = where.last()
    if above.complete and where.lines.get(begun, 0) < line:
        begun = ()  # the line begins something new, of which not even the key could be read
    key = ".".join(str(part) for part in begun if isinstance(part, str)) or name
    return RuleError(file, line, key, f"is not TOML: {error}", "TOML 1.0")


EARLIEST = date(1900, 1, 1)
"""Date before which no value can be dated."""
YEARS_AHEAD = 10
"""Years from today beyond which no value can be dated: further away it is a slip, and would never be looked at."""


def today() -> date:
    """Return the current date in UTC."""
    return datetime.now(UTC).date()


def latest() -> date:
    """Return the last date that a value can have today."""
    now = today()
    return date(now.year + YEARS_AHEAD, now.month, min(now.day, 28))


def check_dates(layer: Layer) -> None:
    """Refuse dates that cannot be meant and histories that name a date twice, before anything is taken from them."""
    last = latest()

    def check(value: Any, path: tuple[str | int, ...]) -> None:
        if isinstance(value, dict):
            for name in ("valid_from", "review_by"):
                if name not in value:
                    continue
                found = value[name]
                if not is_date(found):
                    raise layer.error((*path, name), "is not a date", "a date without quotes, as in 2026-01-01")
                if not EARLIEST <= found <= last:
                    raise layer.error(
                        (*path, name), f"{found} is too far from today to be meant", f"{EARLIEST} to {last}"
                    )
            if "review_by" in value and value["review_by"] < (begun := value.get("valid_from", EARLIEST)):
                raise layer.error((*path, "review_by"), "is before the value is in force", f"{begun} or later")
            for key, item in value.items():
                check(item, (*path, key))
        elif isinstance(value, list):
            for index, item in enumerate(value):
                check(item, (*path, index))
            if is_history(value):
                seen: set[date] = set()
                for index, item in enumerate(value):
                    if item["valid_from"] in seen:
                        raise layer.error(
                            (*path, index, "valid_from"),
                            f"{item['valid_from']} is the date of another entry of this history",
                            "a date of its own for each entry",
                        )
                    seen.add(item["valid_from"])

    for file, content in layer.tree.items():
        check(content, (file,))


def checked(layer: Layer) -> Layer:
    """Return a layer with what it removes, its dates and its header checked; raises :class:`RuleError`."""
    check_dates(layer)
    header = layer.tree["rule_set"]
    try:
        parsed = TypeAdapter(Header).validate_python(header)
    except ValidationError as error:
        found = [layer.error(item.path, item.fault, item.accepted) for item in explain.findings(error, ("rule_set",))]
        raise _together(found) from None
    if parsed.remove and parsed.extends is None:
        raise layer.error(("rule_set", "remove"), "there is nothing to remove from", "remove beside extends")
    return Layer(layer.label, layer.tree, layer.folder, tuple(parsed.remove))


def read_layer(folder: Any) -> Layer:
    """Read what a folder states, with what it removes, its dates and its head checked; raises :class:`RuleError`."""
    return checked(Layer(folder.name, read_folder(folder), folder))


@lru_cache(maxsize=1)
def _built_in() -> Mapping[str, RuleTree]:
    """Return the rule sets that come with the service; they never change while it runs."""
    folders = [entry for entry in files("glandwise.rules").joinpath("data").iterdir() if entry.is_dir()]
    layers = {folder.name: read_layer(folder) for folder in folders}
    return {name: RuleTree(layer.tree, (layer,)).check() for name, layer in layers.items()}


def comes_with_the_service(layer: Layer) -> bool:
    """Tell what a set states that is built in from what a house states, though it be called the same."""
    return any(layer is own for tree in _built_in().values() for own in tree.layers)


class Kept(Protocol):
    """Rule sets that are no longer in force, by their digests."""

    @property
    def known_by(self) -> tuple[str, ...]:
        """What tells these from others: their digests, or those of commits."""

    def get(self, digest: str) -> RuleTree | None:
        """Return one of them."""


class RuleStore:
    """All rule sets the service knows, checked at every date at which a value changes."""

    def __init__(self, house: Path | None = None, kept: Kept | None = None) -> None:
        self.trees: dict[str, RuleTree] = dict(_built_in())
        self._criteria = self.trees[BUILT_IN].criteria
        self._kept = kept
        pending: dict[str, Layer] = {}
        labels = {name: tree.layers[0].label for name, tree in self.trees.items()}
        for folder in _house_folders(house) if house is not None else ():
            layer = read_layer(folder)
            name = str(layer.tree["rule_set"]["name"])
            if name in labels:
                raise layer.error(
                    ("rule_set", "name"), f"{name!r} is the name of {labels[name]} too", "a name of its own"
                )
            labels[name] = layer.label
            pending[name] = layer
        for layer in pending.values():
            put_together(layer, pending, self.trees, self._criteria)

    def get(self, name: str) -> RuleTree | None:
        """Return a rule set by name."""
        return self.trees.get(name)

    def of_digest(self, digest: str) -> RuleTree | None:
        """Return a rule set by the digest of its content: one that is in force, else one that is kept in an archive."""
        held = next((tree for tree in self.trees.values() if tree.digest == digest), None)
        return held if held is not None or self._kept is None else self._kept.get(digest)

    @property
    def kept(self) -> tuple[str, ...]:
        """What tells the sets that are kept from others."""
        return () if self._kept is None else self._kept.known_by


def put_together(
    layer: Layer,
    beside: Mapping[str, Layer],
    held: dict[str, RuleTree],
    criteria: Iterable[str],
    chain: tuple[str, ...] = (),
) -> RuleTree:
    """Return a set laid over those that it extends, checked at every date, and put it and them into ``held``.

    Parents are taken from ``held``, else from ``beside``. Raises :class:`RuleError`.
    """
    name = str(layer.tree["rule_set"]["name"])
    if name in held:
        return held[name]
    tree = layer.tree
    layers: tuple[Layer, ...] = (layer,)
    below: RuleTree | None = None
    base = tree["rule_set"].get("extends")
    if base is not None:
        others = ", ".join(sorted({*held, *beside} - {name, *chain}))
        if base in (*chain, name):
            circle = " → ".join((*chain[chain.index(base) if base in chain else len(chain) :], name, base))
            raise layer.error(("rule_set", "extends"), f"the set extends itself: {circle}", others)
        if base not in beside and base not in held:
            raise layer.error(("rule_set", "extends"), f"there is no rule set {base!r}", others)
        below = held.get(base) or put_together(beside[base], beside, held, criteria, (*chain, name))
        tree, layers = extended(below, layer), (layer, *below.layers)
    held[name] = RuleTree(tree, layers, criteria, below).check()
    return held[name]


def candidate(layer: Layer, beside: Mapping[str, Layer], base: RuleTree) -> RuleTree:
    """Return a set that is to be compared with ``base`` or audited, with the parents that stand beside it.

    A parent comes from beside the set, for it may be changed there as well; else it is one that is built in, or ``base``
    itself. Another set that the service holds is none: it may not be what the set will stand on.
    """
    held = {**_built_in(), base.name: base}
    own = str(layer.tree["rule_set"]["name"])
    for name in (own, *beside):
        held.pop(name, None)
    for name, other in beside.items():
        if name in _built_in():
            raise other.error(("rule_set", "name"), f"{name!r} is the name of a built-in set too", "a name of its own")
    for below in (layer, *beside.values()):
        wanted = below.tree["rule_set"].get("extends")
        if wanted is not None and wanted not in {own, *held, *beside}:
            others = ", ".join(sorted({*held, *beside} - {str(below.tree["rule_set"]["name"])}))
            raise below.error(
                ("rule_set", "extends"),
                f"there is no rule set {wanted!r}: it does not stand beside the set, nor is it built in or the base",
                others,
            )
    return put_together(layer, beside, held, base.criteria)


def read_candidate(folder: Path, base: RuleTree) -> RuleTree:
    """Read a set from a folder, with its parents from the folders beside it (:func:`candidate`)."""
    folder = Path(os.path.abspath(folder))  # noqa: PTH100 - a link is not followed: what stands beside it counts
    layer = read_layer(folder)
    beside: dict[str, Layer] = {}
    below = layer
    while (wanted := below.tree["rule_set"].get("extends")) is not None and wanted not in beside:
        found = [entry for entry in folders_beside(folder) if _name_in(entry) == wanted]
        if not found:
            break
        below = beside[wanted] = read_layer(found[0])
        if len(found) > 1:
            raise below.error(
                ("rule_set", "name"), f"{wanted!r} is the name of {found[1].name} too", "a name of its own"
            )
    return candidate(layer, beside, base)


def folders_beside(folder: Path) -> list[Path]:
    """Return the other folders of rule sets in the folder that a rule set stands in."""
    return sorted(
        entry
        for entry in folder.parent.iterdir()
        if entry != folder and not entry.name.startswith(".") and (entry / "rule_set.toml").is_file()
    )


def _name_in(folder: Path) -> Any:
    """Return what a folder calls its rule set; one that cannot be read has no name by which it could be meant."""
    try:
        return tomllib.loads(_text(folder / "rule_set.toml")).get("name")
    except ValueError:
        return None


def _house_folders(house: Path) -> list[Any]:
    what = ("GLANDWISE_RULES",)
    if not house.is_dir():
        raise RuleError(str(house), None, what[0], "is not a folder", "a folder that holds rule set folders")
    if (house / "rule_set.toml").is_file():
        raise RuleError(str(house), None, what[0], "is itself the folder of a rule set", "the folder above it")
    # Names that begin with a dot belong to whatever mounts or keeps the folder.
    found = sorted(entry for entry in house.iterdir() if entry.is_dir() and not entry.name.startswith("."))
    if not found:
        raise RuleError(str(house), None, what[0], "holds no rule set", "a folder for each rule set in it")
    return list(found)


def extended(below: RuleTree, layer: Layer) -> Tree:
    """Return the tree of a set that extends another: what it removes taken away, what it states laid over."""
    own = {key: value for key, value in layer.tree["rule_set"].items() if key != "remove"}
    base = dict(below.tree)
    inherited = {"valid_from": below.tree["rule_set"]["valid_from"]}
    try:
        base = removed(base, list(layer.remove))
    except OverlayError as error:
        index = next(i for i, name in enumerate(layer.remove) if tuple(name.split(".")) == error.path)
        raise layer.error(("rule_set", "remove", index), error.fault, error.accepted) from None
    try:
        merged: Tree = lay_over(base, {key: value for key, value in layer.tree.items() if key != "rule_set"})
    except OverlayError as error:
        raise layer.error(error.path, error.fault, error.accepted) from None
    merged["rule_set"] = {**inherited, **own}
    return merged
