"""The first page of an enquiry's sheet, and sheets as PDF: both formats, fonts embedded, nothing fetched."""

from __future__ import annotations

import importlib.util
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from tests.conftest import Answers, Example, assert_problem, load_examples

ENQUIRIES = [example for example in load_examples() if example.operation == "answer_enquiry"]
TOOLS = ("pdfinfo", "pdffonts", "pdftotext")
HAS_PDF = importlib.util.find_spec("weasyprint") is not None
needs_pdf = pytest.mark.skipif(not HAS_PDF, reason="WeasyPrint is not installed")
needs_tools = pytest.mark.skipif(not all(map(shutil.which, TOOLS)), reason=f"not installed: {', '.join(TOOLS)}")


def ask(answer_to: Answers, example: Example, form: str, **changes: Any) -> Any:
    """Ask for an example in a form."""
    return answer_to(example.path, {**example.request, **changes}, form)


def plain(text: str) -> str:
    """Text with its blanks made single."""
    return re.sub(r"\s+", " ", text)


@pytest.mark.parametrize("example", ENQUIRIES, ids=lambda e: e.name)
def test_the_first_page_says_it_all(answer_to: Answers, example: Example) -> None:
    """Verdict, drawing, lines, requirements, cautions, reference and fingerprint come before anything else, each once."""
    result = ask(answer_to, example, "application/json", reference="offer 12").json()
    page = ask(answer_to, example, "text/html", reference="offer 12").text
    head, _, rest = page.partition("<h2>Enquiry</h2>")
    assert rest
    assert "<svg" in head
    assert "<svg" not in rest
    assert "<style>@media (prefers-color-scheme" not in head  # paper is white
    assert "offer 12" in head
    assert result["stamp"]["fingerprint"][:16] in head
    assert head.count("<dt>") == 6 + len(result["alternatives"])
    lists = head[head.index('<div class="close">') :]
    assert lists.count("<li>") == len(result["requirements"]) + len(result["cautions"])
    assert "<h2>Cautions</h2>" not in rest


@needs_pdf
@needs_tools
@pytest.mark.parametrize(
    ("example", "system", "size"),
    [*((one, "si", "A4") for one in ENQUIRIES), (ENQUIRIES[-1], "us", "letter")],
    ids=lambda e: e.name if isinstance(e, Example) else e,
)
def test_pdf(answer_to: Answers, example: Example, system: str, size: str, tmp_path: Path) -> None:
    """On the paper of the units, every font embedded, the first page whole, no script in it."""
    changes = {"units": {"system": system}}
    answer = ask(answer_to, example, "application/pdf", **changes)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/pdf"
    file = tmp_path / "sheet.pdf"
    file.write_bytes(answer.content)

    def tool(*words: str) -> str:
        return subprocess.run([*words], check=True, capture_output=True, text=True).stdout

    facts = tool("pdfinfo", str(file))
    assert size in re.search(r"Page size:.*", facts).group()  # type: ignore[union-attr]
    assert re.search(r"JavaScript:\s+no", facts)
    fonts = tool("pdffonts", str(file)).splitlines()[2:]
    assert fonts
    assert all(re.search(r"\byes\s+(yes|no)\s+(yes|no)\s+\d+\s+\d+$", line) for line in fonts)
    first = plain(tool("pdftotext", "-f", "1", "-l", "1", str(file), "-"))
    result = ask(answer_to, example, "application/json", **changes).json()
    assert "As fitted" in first
    assert "Enquiry" not in first.replace("enquiry", "")
    for item in result["cautions"]:
        assert item["text"].split()[0] in first
    assert "Enquiry" in plain(tool("pdftotext", "-f", "2", "-l", "2", str(file), "-")), "the first page runs over"


@needs_pdf
def test_a_working_is_not_for_pdf(answer_to: Answers) -> None:
    """Its formulas could not be set."""
    problem = assert_problem(ask(answer_to, ENQUIRIES[0], "application/pdf", working=True), 406, "not-acceptable")
    assert "text/html" in problem["detail"]


def test_a_service_without_the_library_says_so(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """PDF is refused with what is there instead."""
    from glandwise.api.render import pdf

    pdf._library.cache_clear()
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    problem = assert_problem(ask(Answers(client), ENQUIRIES[0], "application/pdf"), 406, "not-acceptable")
    assert "text/html" in problem["detail"]
    pdf._library.cache_clear()


@needs_pdf
def test_nothing_is_fetched(tmp_path: Path) -> None:
    """Neither a file of this machine nor anything by the network, only the fonts."""
    from glandwise.api.render import pdf

    secret = tmp_path / "secret.svg"
    secret.write_text('<svg xmlns="http://www.w3.org/2000/svg"><text>secret</text></svg>')
    _, fetcher, faces = pdf._library()
    for url in (secret.as_uri(), "http://127.0.0.1:9/", "data:text/plain,x"):
        with pytest.raises(ValueError, match="nothing is fetched"):
            fetcher.fetch(url)
    font = re.search(r"url\('([^']+)'\)", faces)
    assert font is not None
    fetcher.fetch(font.group(1)).close()
