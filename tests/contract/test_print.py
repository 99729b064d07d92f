"""Sheets on paper: nothing runs off the page, at A4 and at Letter, and no label breaks inside a word.

Twice: by the rules that the page is made by, everywhere; and by measuring in Chromium, where it is installed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from glandwise.api.render import formula, sheet, words
from glandwise.operations import OPERATIONS

from tests import chromium
from tests.conftest import Answers, Example, load_examples
from tests.contract.test_representations import asked

EXAMPLES = load_examples()
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height in mm."""
MARGIN = 15.0
"""Left and right, in mm."""
LETTER = 1.62
"""Width in mm of a letter of the type of tables, 8 pt, on the wide side."""


def wide_result() -> dict[str, Any]:
    """An answer with whatever is long: lists too wide for a table either way, words without end, deep objects."""
    long = {f"field_number_{index}": f"a text of several words about the matter {index}" for index in range(14)}
    return {
        "summary": f"Word {'x' * 300} and key {'a_long_key.' * 20}end.",
        "wide": [long] * 30,
        "turned": [{"title": "one of a few long titles, with its parts; and more", **long}] * 3,
        "digest": "0123456789abcdef" * 8,
        "differences": [
            {"pointer": "/a/" + "deep/" * 12, "before": None, "after": long},
            {"pointer": "/b", "before": "x" * 200, "after": [long]},
            {"pointer": "/c", "before": {"value": 1.0, "unit": "mm"}, "after": False},
        ],
        "notes": ["y" * 200],
        "assumptions": [{"field": "/duty/" + "z" * 60, "value": "w" * 64, "rule": "v" * 64}],
        "stamp": None,
    }


@pytest.fixture(scope="module")
def sheets(answer_to: Answers) -> dict[str, bytes]:
    """The sheets of all examples, with their working, and one of what is longest."""

    def made(entry: Example) -> bytes:
        answer = answer_to(entry.path, asked(entry), "text/html")
        assert answer.status_code == 200
        return answer.content

    found = {f"{entry.operation}.{entry.name}": made(entry) for entry in EXAMPLES}
    request = {"duty": {"fluid": "f" * 64, "remark_of_the_duty": "g" * 64}, "name": "h" * 64}
    return {**found, "longest": sheet.render(OPERATIONS["check_envelope"], request, wide_result())}


# ---------------------------------------------------------------------------------------------------------------- rules


class Cells(HTMLParser):
    """The cells of the tables of a page: class, pieces that stay on one line."""

    def __init__(self, page: bytes) -> None:
        super().__init__()
        self.tables: list[tuple[str, list[list[tuple[str, list[str]]]]]] = []
        self.inside = self.nowrap = self.long = self.skipped = 0
        self.feed(page.decode("utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        style = dict(attrs).get("class") or ""
        if tag == "table":
            self.tables.append((style, []))
        elif tag == "tr":
            self.tables[-1][1].append([])
        elif tag in {"td", "th"}:
            self.inside, self.nowrap = 1, tag == "td" and "n" in style.split()
            self.tables[-1][1][-1].append((style, [""]))
        elif tag == "math":
            self.skipped += 1
        elif tag == "span" and style == "long":
            self.long = 1
        elif tag in {"wbr", "div", "span"} and self.inside:
            self.tables[-1][1][-1][-1][1].append("")

    def handle_endtag(self, tag: str) -> None:
        if tag in {"td", "th"}:
            self.inside = 0
        elif tag == "math":
            self.skipped -= 1
        elif tag == "span":
            self.long = 0

    def handle_data(self, data: str) -> None:
        if not self.inside or self.long or self.skipped:
            return
        pieces = self.tables[-1][1][-1][-1][1]
        first, *rest = [data] if self.nowrap else re.split(r"\s", data)
        pieces[-1] += first
        pieces.extend(rest)


def test_cells_of_tables_have_room_side_by_side(sheets: dict[str, bytes]) -> None:
    seen = 0
    for name, page in sheets.items():
        for style, rows in Cells(page).tables:
            if not {"small"} & set(style.split()):
                continue
            scale = 0.9 if "dense" in style else 1.0
            widths = [0.0] * max(map(len, rows))
            for row in rows:
                for index, (_, pieces) in enumerate(row):
                    widths[index] = max(widths[index], max(map(len, pieces)) * LETTER * scale + 2.0)
            assert sum(widths) <= min(width for width, _ in PAPERS.values()) - 2.0 * MARGIN, (name, style, rows[0])
            seen += 1
    assert seen > 60


def test_no_piece_of_a_label_is_longer_than_a_column_holds(sheets: dict[str, bytes]) -> None:
    for name, page in sheets.items():
        for style, rows in Cells(page).tables:
            for row in rows:
                for _, pieces in row:
                    assert max(map(len, pieces)) <= words.LONGEST, (name, style, pieces)


def rules(page: bytes) -> Iterator[tuple[str, str]]:
    """Yield the selectors of the style of a page with what they say."""
    style = page[page.index(b"<style>") : page.index(b"</style>")].decode("utf-8")
    for line in re.finditer(r"([^{}]+)\{([^{}]*)\}", style):
        yield line[1].strip(), line[2]


def test_only_words_without_a_seam_may_break_anywhere(sheets: dict[str, bytes]) -> None:
    anywhere = {
        selector
        for selector, said in rules(sheets["longest"])
        if "overflow-wrap: anywhere" in said or "break-all" in said
    }
    assert anywhere == {".long", "code"}


def test_the_paper_is_that_of_the_printer(sheets: dict[str, bytes]) -> None:
    page = sheets["longest"].decode("utf-8")
    said = page[page.index("@page") : page.index("@bottom-left")]
    assert f"margin: 16mm {MARGIN:.0f}mm" in said
    assert "size" not in said


@pytest.mark.parametrize(
    "expression",
    [
        "stretched_section(d_s_lo * (1 + eps_ring_norm), d_i_lo * (1 + eps_ring_norm), G_t_loose_norm_c)",
        "sqrt(" + " + ".join(f"first_long_name_{index} * second_long_name_{index}" for index in range(6)) + ")",
        "("
        + " + ".join(f"first_long_name_{index}" for index in range(9))
        + ")**2 / -("
        + " - ".join("abcdefgh" * 2)
        + ")",
        "abs(" + " - ".join(f"name_of_more_letters_{index}" for index in range(7)) + ")",
    ],
)
def test_wide_formulas_are_taken_apart(expression: str) -> None:
    text = str(formula.equation("a_symbol", expression))
    assert max(len(re.sub(r"<[^>]*>", "", part)) for part in text.split("</math> ")) < 50
    assert text.count("<math") > 2


# -------------------------------------------------------------------------------------------------------------- Chromium

MEASURE = r"""
(() => {
  const width = document.documentElement.clientWidth, faults = [];
  if (document.documentElement.scrollWidth > width) faults.push(`the page is ${document.documentElement.scrollWidth} px wide`);
  for (const item of document.querySelectorAll("svg, table, .bar"))
    if (item.getBoundingClientRect().right > width + 0.5) faults.push(`${item.tagName} runs off the page`);
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), range = document.createRange();
  for (let node; (node = walker.nextNode());) {
    const host = node.parentElement, box = host.closest("td, th, dt, dd, p, li, h1, h2, h3, strong");
    if (!node.data.trim() || host.closest("svg, style") || !box) continue;
    const room = box.getBoundingClientRect();
    range.selectNodeContents(node);
    for (const place of range.getClientRects()) {
      const outside = (left, right) => place.right > right + 0.5 || place.left < left - 0.5;
      if (outside(0, width)) faults.push(`off the page: ${node.data.trim()}`);
      else if (outside(room.left, room.right)) faults.push(`out of its ${box.tagName}: ${node.data.trim()}`);
    }
    if (host.closest("math, code, .long")) continue;
    for (const word of node.data.matchAll(/[\p{L}\p{N}_.]+/gu)) {
      range.setStart(node, word.index);
      range.setEnd(node, word.index + word[0].length);
      const lines = new Set([...range.getClientRects()].filter(place => place.width > 0).map(place => Math.round(place.top)));
      if (lines.size > 1) faults.push(`broken: ${word[0]}`);
    }
  }
  return faults;
})()
"""


@pytest.mark.skipif(
    chromium.PROGRAM is None, reason="Chromium is not installed: the sheets were judged by their rules alone"
)
def test_chromium_lays_every_sheet_out_within_the_paper(
    sheets: dict[str, bytes], tmp_path: Path, record_property: Any
) -> None:
    faults: dict[str, list[str]] = {}
    with chromium.Browser(tmp_path) as browser:
        record_property("measured in", browser.version)
        for paper, (width, _) in PAPERS.items():
            for name, page in sheets.items():
                browser.show(page, math.floor((width - 2.0 * MARGIN) / 25.4 * 96.0))
                if found := browser.run(MEASURE):
                    faults[f"{name} at {paper}"] = found[:8]
        printed = browser.pdf(8.5, 11.0)
        version = browser.version
    assert not faults, version
    # on the paper that was put in, not on one of the page's own choice
    assert re.search(rb"/MediaBox \[0 0 612(\.0*)? 792(\.0*)?\]", printed)


@pytest.mark.skipif(chromium.PROGRAM is None, reason="Chromium is not installed")
def test_the_measure_sees_what_it_looks_for(tmp_path: Path) -> None:
    page = (
        b"<!DOCTYPE html><html><body style='margin:0'><p style='width:3em;overflow-wrap:anywhere'>Extraordinarily</p>"
        b"<table><tr><td style='white-space:nowrap'>" + b"far too wide " * 40 + b"</td></tr></table></body></html>"
    )
    with chromium.Browser(tmp_path) as browser:
        browser.show(page, 680)
        found = browser.run(MEASURE)
    assert any(fault.startswith("broken: Extra") for fault in found)
    assert any("px wide" in fault for fault in found)
    assert any(fault.startswith("off the page: far") for fault in found)
