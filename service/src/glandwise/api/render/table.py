"""A result as a table for spreadsheets: the list it is about, or its criteria, or its single numbers (RFC 4180)."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from typing import Any

from glandwise.api.render import words

_LISTS = ("points", "curve", "levels", "ranked", "phases", "cases", "laws", "criteria")
"""Lists of a result that it is about, the first that is there."""
_LEFT_OUT = frozenset({"stamp", "assumptions", "cautions", "working", "notes", "remedies", "design", "sensitivities"})


def _flat(item: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, Any]]:
    """Columns of an object: a quantity gives two, its number and its unit."""
    for name, entry in item.items():
        if name in _LEFT_OUT and not prefix:
            continue
        column = prefix + name
        if words.is_quantity(entry):
            yield column, entry["value"]
            yield f"{column}_unit", entry["unit"]
        elif isinstance(entry, dict):
            yield from _flat(entry, f"{column}_")
        elif isinstance(entry, list):
            if not any(isinstance(part, dict | list) for part in entry):
                yield column, " ".join(map(str, entry))
        else:
            yield column, entry


def cell(entry: Any) -> Any:
    """Write a cell; text that a spreadsheet would take for a formula is marked as text."""
    if entry is None:
        return ""
    if entry is True or entry is False:
        return "true" if entry else "false"
    if isinstance(entry, str) and entry[:1] in {"=", "+", "-", "@", "\t", "\r"}:
        return f"'{entry}"
    return entry


def _grid(result: Mapping[str, Any]) -> tuple[list[str], list[list[Any]]]:
    """Return the header and the rows of an operating map: a row for each point of its grid."""
    x, y = result["x"], result["y"]
    heads = [f"{axis['kind']} [{axis['unit']}]" for axis in (x, y)]
    body = [
        [
            across,
            up,
            result["statuses"][result["status"][j][i]],
            result["criteria"][result["governing"][j][i]]["id"],
            cell(result["utilization"][j][i]),
        ]
        for j, up in enumerate(y["values"])
        for i, across in enumerate(x["values"])
    ]
    return [*heads, "status", "governing", "utilization"], body


def rows(result: Mapping[str, Any]) -> tuple[list[str], list[list[Any]]]:
    """Return the header and the rows of a result."""
    if {"x", "y", "statuses", "utilization"} <= result.keys():
        return _grid(result)
    for name in _LISTS:
        entries = result.get(name)
        if isinstance(entries, list) and entries and isinstance(entries[0], dict):
            flat = [dict(_flat(entry)) for entry in entries]
            head = list(dict.fromkeys(column for row in flat for column in row))
            return head, [[cell(row.get(column)) for column in head] for row in flat]
    lines = [
        [path, *(map(cell, (entry["value"], entry["unit"])) if words.is_quantity(entry) else (cell(entry), ""))]
        for path, entry in _lines(result)
    ]
    return ["field", "value", "unit"], lines


def _lines(item: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, Any]]:
    for name, entry in item.items():
        if name in _LEFT_OUT:
            continue
        if isinstance(entry, dict) and not words.is_quantity(entry):
            yield from _lines(entry, f"{prefix}{name}.")
        elif isinstance(entry, list):
            for index, part in enumerate(entry):
                if isinstance(part, dict) and not words.is_quantity(part):
                    yield from _lines(part, f"{prefix}{name}.{index}.")
                elif not isinstance(part, list):
                    yield f"{prefix}{name}.{index}", part
        else:
            yield prefix + name, entry


def render(result: Mapping[str, Any]) -> bytes:
    """Write a result as CSV."""
    stream = io.StringIO()
    writer = csv.writer(stream)
    head, body = rows(result)
    writer.writerow(head)
    writer.writerows(body)
    return stream.getvalue().encode("utf-8")
