"""A report as headings, sentences and tables, written as Markdown or as a page of HTML that needs nothing else."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import Any, Final, NamedTuple


class Heading(NamedTuple):
    """A heading."""

    text: str
    level: int = 2


class Sentence(NamedTuple):
    """A paragraph; the first part of it may be told louder."""

    text: str
    strong: str = ""


class Rows(NamedTuple):
    """A table. A row may begin with the kind of its effect, by which it is coloured on a page."""

    heads: Sequence[str]
    rows: Sequence[Sequence[Any]]
    effects: Sequence[str] = ()


Part = Heading | Sentence | Rows


def cell(text: Any) -> str:
    """Write a cell of a Markdown table."""
    return " ".join(str(text).split()).replace("\\", "\\\\").replace("|", "\\|").replace("<", "&lt;")


def markdown(parts: Iterable[Part]) -> str:
    """Write a report as Markdown."""
    lines: list[str] = []
    for part in parts:
        if isinstance(part, Heading):
            lines += [f"{'#' * part.level} {cell(part.text)}", ""]
        elif isinstance(part, Sentence):
            lines += [(f"**{cell(part.strong)}** " if part.strong else "") + cell(part.text), ""]
        elif part.rows:
            lines += [f"| {' | '.join(part.heads)} |", f"|{'|'.join('---' for _ in part.heads)}|"]
            lines += [f"| {' | '.join(cell(entry) for entry in row)} |" for row in part.rows]
            lines.append("")
    return "\n".join(lines)


_STYLE: Final = """
body { font: 15px/1.45 system-ui, sans-serif; margin: 2rem auto; max-width: 75rem; padding: 0 1rem; color: #1b1b1b; }
table { border-collapse: collapse; margin: .5rem 0 1.2rem; }
th, td { border: 1px solid #bbb; padding: .25rem .6rem; text-align: left; vertical-align: top; overflow-wrap: anywhere; }
th { background: #eee; }
td.number { text-align: right; white-space: nowrap; }
tr.worse td:first-child { border-left: .4rem solid #b3261e; }
tr.better td:first-child { border-left: .4rem solid #2e7d32; }
tr.changed td:first-child { border-left: .4rem solid #8a6d00; }
@media print { body { margin: 0; max-width: none; font-size: 10pt; } tr { break-inside: avoid; } }
"""


def html(title: str, parts: Iterable[Part]) -> str:
    """Write a report as a page of HTML."""
    lines = [
        "<!doctype html>", '<html lang="en">', "<head>", '<meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width">', f"<title>{escape(title)}</title>",
        f"<style>{_STYLE}</style>", "</head>", "<body>",
    ]  # fmt: skip
    for part in parts:
        if isinstance(part, Heading):
            lines.append(f"<h{part.level}>{escape(part.text)}</h{part.level}>")
        elif isinstance(part, Sentence):
            strong = f"<strong>{escape(part.strong)}</strong> " if part.strong else ""
            lines.append(f"<p>{strong}{escape(part.text)}</p>")
        elif part.rows:
            lines.append(
                "<table><thead><tr>"
                + "".join(f"<th>{escape(head)}</th>" for head in part.heads)
                + "</tr></thead><tbody>"
            )
            for index, row in enumerate(part.rows):
                effect = f' class="{escape(part.effects[index])}"' if part.effects else ""
                lines.append(f"<tr{effect}>{''.join(map(_td, row))}</tr>")
            lines.append("</tbody></table>")
    return "\n".join([*lines, "</body>", "</html>", ""])


def _td(value: Any) -> str:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return f'<td class="number">{value}</td>' if number else f"<td>{escape(str(value))}</td>"
