"""The calculation sheet: any result as a page for printing, with its enquiry, its criteria and its working.

The page needs nothing from elsewhere: no script, no font, no picture by address. What is shown of a result follows from
its shape, so that a new operation has a sheet without more ado.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from functools import cache
from typing import Any, NamedTuple

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from glandwise.api.render import formula, words
from glandwise.api.render.renderers import rendered
from glandwise.api.render.section import render_svg
from glandwise.engine import Engine
from glandwise.operations import OPERATIONS, SVG, Operation, parts

Result = Mapping[str, Any]

_OWN = {
    "verdict",
    "summary",
    "governing",
    "criteria",
    "assumptions",
    "cautions",
    "confidence",
    "questions",
    "evidence",
    "stamp",
    "working",
    "notes",
    "detail",
}
"""Fields of a result that have a place of their own on the sheet."""
_HIDDEN = {"units", "detail", "parts", "questions", "working", "rule_set", "as_of", "sampling"}
"""Fields of a request that change no number shown."""
_MACHINE = {"design", "id", "sources", "scores", "given_in"}
"""Fields of lists that are for programs; a title or a total says the same in words."""
CURVE_ROWS = 14
"""Rows of a curve at most; it is thinned out, and left to the plot where the operation has one."""
LIST_ROWS = 60
"""Rows of any other list at most."""
WIDE = 7
"""Columns beyond which a table is turned on its side."""
ACROSS = 10
"""Columns of numbers that a table on its side has at most."""
BLOCKS = 20
"""Entries at most of a list that is too wide for a table either way, each written as lines of its own."""
ROOM = 112
"""Letters side by side that a table has room for on the narrower of A4 and Letter."""
DENSE = 8
"""Columns beyond which a table is set in smaller type."""
NESTED = 6
"""Fields of an object inside an entry of a list that are shown one by one; a larger one is named."""


class Fact(NamedTuple):
    """One line: what, and how much."""

    label: str
    text: str


class Facts(NamedTuple):
    """Lines under a heading."""

    title: str
    facts: list[Fact]


class Table(NamedTuple):
    """A table under a heading."""

    title: str
    head: list[str]
    rows: list[list[str]]
    numeric: list[bool]
    """Whether a column stands at the right."""
    turned: bool
    """Whether the first column holds the names of the fields."""
    groups: list[Facts]
    """The entries one by one, in place of rows, where they are too wide for a table."""
    remark: str


class Line(NamedTuple):
    """One line of the working."""

    title: str
    formula: Markup
    value: Markup
    source: str
    points: Markup
    given: bool
    wide: bool


# ------------------------------------------------------------------------------------------------------ any data at all


def _flat(item: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, Any]]:
    """Fields of an object and of the objects in it, as name and value."""
    for name, entry in item.items():
        title = f"{prefix}{words.label(name)}" if not prefix else f"{prefix}{words.label(name).lower()}"
        if isinstance(entry, dict) and {"title", "status", "utilization"} <= entry.keys():
            yield title, _governing(entry)
        elif isinstance(entry, dict) and not words.is_quantity(entry):
            yield from _flat(entry, f"{title}: ")
        elif isinstance(entry, list):
            if entry and all(not isinstance(part, list | dict) or words.is_quantity(part) for part in entry):
                yield title, _series(entry)
        else:
            yield title, entry


def _governing(item: Mapping[str, Any]) -> str:
    """A criterion that governs, in a few words."""
    used = item["utilization"]
    return str(item["title"]) if used is None else f"{item['title']}, {words.number(100.0 * used, 3)} % used"


def _series(entries: list[Any]) -> str:
    if len(entries) > 8:
        return f"{len(entries)} values, {words.value(entries[0])} to {words.value(entries[-1])}"
    return ", ".join(words.value(entry) for entry in entries)


def _facts(item: Mapping[str, Any], prefix: str = "") -> list[Fact]:
    return [Fact(name, words.value(entry)) for name, entry in _flat(item, prefix) if entry is not None]


def _shown(entry: Mapping[str, Any]) -> dict[str, Any]:
    """An entry of a list without what is for programs, at any depth."""
    return {
        name: _shown(part)
        if isinstance(part, dict) and not words.is_quantity(part) and "utilization" not in part
        else part
        for name, part in entry.items()
        if name not in _MACHINE
    }


def _flattened(entries: list[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Return the fields of like objects for a row each; what is large, or an object in some rows only, is named."""
    shown = [_shown(entry) for entry in entries]
    named: set[str] = set()
    for name in dict.fromkeys(name for entry in shown for name in entry):
        values = [entry[name] for entry in shown if entry.get(name) is not None]
        inside = [
            part
            for part in values
            if isinstance(part, dict) and not words.is_quantity(part) and "utilization" not in part
        ]
        lists = [part for part in values if isinstance(part, list)]
        mixed = 0 < len(inside) < len(values) or 0 < len(lists) < len(values)
        if mixed or any(sum(1 for _ in _flat(part)) > NESTED for part in inside):
            named.add(name)
    return [
        dict(
            _flat(
                {
                    name: words.brief(part) if name in named and isinstance(part, dict | list) else part
                    for name, part in entry.items()
                }
            )
        )
        for entry in shown
    ]


def _table(title: str, entries: list[Mapping[str, Any]], drawn: bool) -> Table | None:
    """Put a list of like objects into a table, on its side or entry by entry where it would be too wide."""
    rows = _flattened(entries)
    names = [
        name
        for name in dict.fromkeys(name for row in rows for name in row)
        if any(row.get(name) is not None for row in rows)
    ]
    if not names:
        return None
    curve = title in {"Curve", "Points"}
    if curve and drawn:
        return None
    most = LIST_ROWS if not curve else ACROSS if len(names) > WIDE else CURVE_ROWS
    rows, remark = _few(rows, most, curve)
    heads = []
    for name in names:
        held = {row[name]["unit"] for row in rows if words.is_quantity(row.get(name))}
        only = all(row.get(name) is None or words.is_quantity(row[name]) for row in rows)
        shared = words.unit(held.pop()) if only and len(held) == 1 else ""
        heads.append((name, shared))
    body = [[_cell(row.get(name), bool(shared)) for name, shared in heads] for row in rows]
    texts = [f"{name}, {shared}" if shared else name for name, shared in heads]
    columns = [[text, *(line[index] for line in body)] for index, text in enumerate(texts)]
    upright, turned = _fits([texts, *body], 20), len(rows) <= ACROSS and _fits(columns, 14)
    if turned and (not upright or (len(names) > WIDE and len(names) > len(rows))):
        numeric = [all(len(cell) <= ACROSS for line in columns for cell in line[1:])] * len(columns[0])
        return Table(title, columns[0], columns[1:], numeric, True, [], remark)
    if upright:
        numeric = [all(_NUMERIC.match(line[index]) for line in body) for index in range(len(texts))]
        return Table(title, texts, body, numeric, False, [], remark)
    if len(rows) > BLOCKS:
        rows, remark = _few(rows, BLOCKS, curve, len(entries))
    groups = [
        Facts(f"{title}, {index}", [Fact(name, words.value(row[name])) for name in names if row.get(name) is not None])
        for index, row in enumerate(rows, 1)
    ]
    return Table(title, [], [], [], False, groups, remark)


def _few(
    rows: list[dict[str, Any]], most: int, curve: bool, whole: int | None = None
) -> tuple[list[dict[str, Any]], str]:
    """Return the rows that are shown, a curve thinned out, and a remark on the others."""
    if len(rows) <= most:
        return rows, ""
    step = -(-len(rows) // most) if curve else 1
    which = f"One row in {step}" if curve else f"The first {most}"
    return rows[::step][:most], f"{which} of {whole or len(rows)}; the others are in the JSON answer."


def _fits(lines: list[list[str]], comfort: int) -> bool:
    """Tell whether a table has room on the page: numbers on one line, texts over lines of some ``comfort``."""
    room, wanted = ROOM * (1.1 if len(lines[0]) > DENSE else 1.0), 0.0
    for head, *cells in zip(*lines, strict=True):
        longest = max(map(len, cells), default=0)
        if all(_NUMERIC.match(cell) for cell in cells):
            wanted += max(longest, min(words.longest_part(head), comfort)) + 1.5
        else:
            parts = max(words.longest_part(text) for text in (head, *cells))
            wanted += max(parts, min(comfort, longest)) + 1.5
    return wanted <= room


_NUMERIC = re.compile(r"[-\d–].{0,18}$|(yes|no)$")
"""Cells that stand at the right of their column."""


def _cell(entry: Any, bare: bool) -> str:
    if entry is None:
        return "–"
    return words.number(float(entry["value"])) if bare else words.value(entry)


def _blocks(result: Result, drawn: bool, hidden: set[str]) -> tuple[list[Fact], list[Facts], list[Table]]:
    """Sort the fields of a result into single numbers, groups of numbers, and tables."""
    single: list[Fact] = []
    groups: list[Facts] = []
    tables: list[Table] = []

    def table(title: str, entries: list[Any]) -> None:
        if entries and all(isinstance(entry, dict) and not words.is_quantity(entry) for entry in entries):
            made = _table(title, entries, drawn)
            if made is not None:
                tables.append(made)

    for name, entry in result.items():
        if name in _OWN or name in hidden or entry is None:
            continue
        if isinstance(entry, dict) and not words.is_quantity(entry):
            alike, entry = _alike(entry)
            table(words.label(name), alike)
            facts = _facts(entry)
            if facts:
                groups.append(Facts(words.label(name), facts))
            for key, part in entry.items():
                for inner, held in part.items() if isinstance(part, dict) else ((key, part),):
                    if isinstance(held, list):
                        table(
                            f"{words.label(name)}: {words.label(key if inner == key else f'{key}_{inner}').lower()}",
                            held,
                        )
        elif isinstance(entry, list):
            table(words.label(name), entry)
            if entry and all(isinstance(part, str) for part in entry):
                single.append(Fact(words.label(name), "; ".join(map(words.value, entry))))
        else:
            single.append(Fact(words.label(name), words.value(entry)))
    return single, groups, tables


def _objects(entry: Mapping[str, Any], at: str = "") -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Yield the objects inside an object that hold no others, by their names."""
    for key, part in entry.items():
        if isinstance(part, dict) and not words.is_quantity(part):
            inside = any(isinstance(held, dict) and not words.is_quantity(held) for held in part.values())
            yield from _objects(part, f"{at}{key}_") if inside else ((f"{at}{key}", part),)


def _alike(entry: Mapping[str, Any]) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """Take like objects out of an object, as the rows of a table, where there are more than two; return them and the rest."""
    objects = list(_objects(entry))
    kinds = Counter(tuple(part) for _, part in objects)
    kind, count = kinds.most_common(1)[0] if kinds else ((), 0)
    if count < 3:
        return [], dict(entry)
    rows = [{"quantity": words.label(name), **part} for name, part in objects if tuple(part) == kind]

    def rest(held: Mapping[str, Any]) -> dict[str, Any]:
        return {
            key: rest(part) if isinstance(part, dict) and not words.is_quantity(part) else part
            for key, part in held.items()
            if not (isinstance(part, dict) and tuple(part) == kind)
        }

    return rows, rest(entry)


def _enquiry(request: Mapping[str, Any]) -> list[Facts]:
    """Write what was asked, in the units it was asked in."""
    loose: list[Fact] = []
    groups: list[Facts] = []
    for name, entry in request.items():
        if name in _HIDDEN or entry is None:
            continue
        if isinstance(entry, dict) and not words.is_quantity(entry):
            groups.append(Facts(words.label(name), _facts(entry)))
        elif isinstance(entry, list) and entry and isinstance(entry[0], dict) and not words.is_quantity(entry[0]):
            groups.extend(
                Facts(f"{words.label(name).removesuffix('s')} {index}", _facts(part))
                for index, part in enumerate(entry[:20], 1)
            )
        elif isinstance(entry, list):
            loose.append(Fact(words.label(name), _series(entry)))
        else:
            loose.append(Fact(words.label(name), words.value(entry)))
    if loose:
        groups.append(Facts("Other", loose))
    return [group for group in groups if group.facts]


# ------------------------------------------------------------------------------------------------------------- criteria

BAR_END = 1.25
"""Utilization at the right end of a bar."""


def _criterion(item: Mapping[str, Any]) -> dict[str, Any]:
    used = item["utilization"]
    return {
        "title": words.label(item["title"]),
        "status": item["status"],
        "word": words.VERDICT_WORD[item["status"]],
        "demand": words.value(item["demand"]),
        "capacity": words.value(item["capacity"]),
        "used": None if used is None else f"{words.number(100.0 * used, 3)} %",
        "width": None if used is None else f"{100.0 * min(max(used, 0.0), BAR_END) / BAR_END:.1f}",
        "over": used is not None and used > BAR_END,
        "reason": item["reason"],
        "evidence": words.EVIDENCE_WORD.get(item["evidence"] or "", "–"),
        "remedies": [
            {
                "title": remedy["title"],
                "verdict": words.VERDICT_WORD[remedy["verdict"]],
                "status": remedy["verdict"],
                "used": "" if remedy["utilization"] is None else f"{words.number(100.0 * remedy['utilization'], 3)} %",
            }
            for remedy in item["remedies"]
        ],
    }


# -------------------------------------------------------------------------------------------------------------- working


def _working(steps: list[dict[str, Any]]) -> list[Line]:
    """Write the steps, a run of given numbers of one series (g_1, g_2, ...) on one line."""
    lines: list[Line] = []
    index = 0
    while index < len(steps):
        step = steps[index]
        end = index + 1
        while end < len(steps) and _continues(step, steps[end], end - index + 1):
            end += 1
        if end - index > 1:
            numbers = ", ".join(words.number(part["value"], 6) for part in steps[index:end])
            stem = step["symbol"].rpartition("_")[0]
            symbols = Markup("{} … {}").format(formula.lone(f"{stem}_1"), formula.lone(f"{stem}_{end - index}"))
            title = f"{step['title']} to {end - index}"
            unit = words.unit(step["unit"])
            lines.append(
                Line(
                    title,
                    symbols,
                    Markup("{} {}").format(numbers, unit),
                    step["source"],
                    Markup(""),
                    given=True,
                    wide=True,
                )
            )
        else:
            lines.append(_line(step))
        index = end
    return lines


def _continues(first: Mapping[str, Any], step: Mapping[str, Any], place: int) -> bool:
    stem, _, number = first["symbol"].rpartition("_")
    return (
        number == "1"
        and step["symbol"] == f"{stem}_{place}"
        and not first["inputs"]
        and not step["inputs"]
        and step["source"] == first["source"]
        and step["unit"] == first["unit"]
        and step["title"].removesuffix(f" {place}") == first["title"].removesuffix(" 1")
    )


def _line(step: Mapping[str, Any]) -> Line:
    given = not step["inputs"]
    shown = formula.lone(step["symbol"]) if given else formula.equation(step["symbol"], step["equation"])
    own = {
        name: value
        for name, value in step["inputs"].items()
        if re.fullmatch(rf"{step['symbol']}_(x0|x1|y0|y1|end)", name)
    }
    points = Markup(", ").join(
        Markup("{} = {}").format(formula.lone(name), words.number(value, 6)) for name, value in own.items()
    )
    return Line(
        step["title"], shown, formula.plain(step["value"], step["unit"]), step["source"], points, given, wide=False
    )


# ----------------------------------------------------------------------------------------------------------------- page


@cache
def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("glandwise.api.render", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals.update(COLOUR=words.VERDICT_COLOUR)
    made.filters["set"] = words.set_text
    made.globals.update(DENSE=DENSE)
    return made


def _figure(operation: Operation, request: Mapping[str, Any], result: Result, engine: Engine | None) -> Markup | None:
    """Draw the plot of an operation that has one, to stand in the page itself."""
    if operation.drawing is None:
        return None
    drawn = rendered(operation, SVG, request, result, engine)
    return None if drawn is None else _inside(drawn)


def _inside(drawing: bytes) -> Markup:
    """Return a drawing as it stands inside a page."""
    text = drawing.decode("utf-8")
    # the drawing is made by this service from numbers; its prologue has no place inside a page
    return Markup(text[text.index("<svg") :])  # noqa: S704


def _summary(result: Result) -> str | None:
    """The summary without the verdict before its colon, which stands above it."""
    text, verdict = result.get("summary"), words.VERDICT_WORD.get(result.get("verdict") or "")
    if text is not None and verdict is not None and text.lower().startswith(f"{verdict}: "):
        text = text[len(verdict) + 2 :]
        return str(text[:1].upper() + text[1:])
    return text


@cache
def _parts() -> Mapping[str, str]:
    """Fields of a result that are whole results, and the titles of these."""
    found = {name: row.title for operation in OPERATIONS.values() for name, row in parts(operation).items()}
    return {**found, "result": "The result today"}  # a recheck holds that of any operation


def _placed(result: Result) -> Result:
    """Name the coordinates of a duty on a map by what its axes show, with their units."""
    point = result.get("duty_point")
    if not isinstance(point, dict):
        return result
    axes = {name: result[name] for name in ("x", "y")}
    named = {
        axis["title"]: None if point[name] is None else {"value": point[name], "unit": axis["unit"]}
        for name, axis in axes.items()
    }
    rest = {name: entry for name, entry in point.items() if name not in axes}
    return {**result, "duty_point": {**named, **rest}}


def _document(
    title: str, result: Result, figure: Markup | None, hidden: frozenset[str] = frozenset()
) -> dict[str, Any]:
    """What the page shows of one result."""
    whole = {
        name: entry
        for name, entry in result.items()
        if name in _parts() and isinstance(entry, dict) and "stamp" in entry
    }
    single, groups, tables = _blocks(_placed(result), figure is not None, {*hidden, *whole})
    verdict = result.get("verdict")
    return {
        "title": title,
        "verdict": verdict,
        "word": None if verdict is None else words.label(words.VERDICT_WORD.get(verdict, str(verdict))),
        "summary": _summary(result),
        "criteria": [_criterion(item) for item in result.get("criteria", ()) if "reason" in item],
        "figure": figure,
        "single": single,
        "groups": groups,
        "tables": tables,
        "notes": result.get("notes") or (),
        "working": _working(result["working"]) if result.get("working") else [],
        "parts": [_document(_parts()[name], entry, None) for name, entry in whole.items()],
    }


_LINES = (
    ("check", "Envelope"),
    ("gland", "Gland"),
    ("thermal_fit", "Thermal fit"),
    ("friction", "Friction"),
    ("wear", "Wear"),
    ("blank", "Blank"),
)
"""Answers that the first page tells in a line each, with their labels."""


class Front(NamedTuple):
    """What the first page of an enquiry says beside verdict, drawing and cautions."""

    lines: list[dict[str, str | None]]
    requirements: list[str]
    reference: str | None
    date: str


def _front(result: Result) -> Front:
    """Gather the first page: one line of each answer, what the hardware needs, whose it is and when it was answered."""
    lines: list[dict[str, str | None]] = []
    for name, label in _LINES:
        part = result.get(name)
        if isinstance(part, dict):
            verdict = part.get("verdict")
            word = words.VERDICT_WORD.get(verdict or "")
            lines.append({"label": label, "verdict": verdict if word else None, "word": word, "text": _summary(part)})
    lines.extend(
        {"label": "Alternative", "verdict": None, "word": None, "text": item["title"]}
        for item in result.get("alternatives") or ()
    )
    wanted = [str(item["text"]) for item in result.get("requirements") or ()]
    return Front(lines, wanted, result.get("reference"), datetime.now(UTC).date().isoformat())


def _shortened(summary: str, result: Result) -> str:
    """Leave out of the head what the line of the life says word for word."""
    worn = result.get("wear")
    return (
        summary.replace(str(worn["summary"]), "").strip() if isinstance(worn, dict) and worn.get("summary") else summary
    )


class AskedBack(NamedTuple):
    """What the customer is asked to confirm, and how sure the verdict is without it."""

    questions: list[tuple[str, str]]
    confidence: list[str]
    shares: list[tuple[str, str, str]]
    """Of the plausible cases: what is so, width of a bar in percent, share in words."""


def _asked(result: Result) -> AskedBack | None:
    """Gather what is asked back; nothing where nothing is."""
    questions = [(str(item["text"]), str(item["reason"])) for item in result.get("questions") or ()]
    confidence = result.get("confidence") or {}
    spread = confidence.get("spread") or {}
    if not questions and not spread:
        return None
    told = [("the verdict stands", confidence["holds"]), ("nothing fails", confidence["lives"])] if confidence else []
    told += [(f"worse by: {turn['title']}", turn["share"]) for turn in confidence.get("turns_on") or ()]
    shares = [(what, f"{100.0 * share:.4g}", f"{100.0 * share:.0f} %") for what, share in told]
    return AskedBack(questions, [part["text"] for part in (confidence, spread) if part], shares)


def render(operation: Operation, request: Mapping[str, Any], result: Result, engine: Engine | None = None) -> bytes:
    """Write the calculation sheet of a result, with its drawing where the operation has one.

    A cross-section is drawn with the rules of the engine, and left out without one.
    """
    figure = _figure(operation, request, result, engine)
    if operation.section and engine is not None:
        drawn = render_svg(operation.request.model_validate(request), result, engine, paper=True)
        figure = _inside(drawn)
    document = _document(operation.title, result, figure, operation.drawn)
    front = _front(result) if operation.name == "answer_enquiry" else None
    if front is not None and document["summary"]:
        document["summary"] = _shortened(document["summary"], result)
    page = _environment().get_template("sheet.html").render(
        **document,
        document=document,
        front=front,
        asked=_asked(result),
        behind={**document, "figure": None},
        colour=words.VERDICT_COLOUR.get(document["verdict"] or "", "#22282f"),
        enquiry=_enquiry(request),
        assumptions=[
            (words.label(item["field"].rpartition("/")[2]), item["field"], words.value(item["value"]), item["rule"])
            for item in result.get("assumptions", ())
        ],
        cautions=[item["text"] for item in result.get("cautions", ())],
        evidence=words.EVIDENCE_WORD.get(result.get("evidence") or ""),
        stamp=result.get("stamp"),
    )  # fmt: skip
    return page.encode("utf-8")
