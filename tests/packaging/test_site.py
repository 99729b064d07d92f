"""The documentation as a site: it is built without a network, holds every page, and leads nowhere else."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.packaging.test_docs import DOCS, ROOT

pytestmark = pytest.mark.slow


def build(root: Path, target: Path) -> subprocess.CompletedProcess[str]:
    command = [
        sys.executable,
        "-m",
        "mkdocs",
        "build",
        "--config-file",
        str(root / "docs_site" / "mkdocs.yml"),
    ]
    environment = {**os.environ, "NO_MKDOCS_2_WARNING": "1"}
    return subprocess.run(
        [*command, "--site-dir", str(target)], env=environment, text=True, capture_output=True, timeout=300
    )


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("docs") / "site"
    done = build(ROOT, target)
    assert done.returncode == 0, done.stdout + done.stderr
    return target


def test_every_page_is_there_and_the_formulas_are_set(site: Path) -> None:
    for page in DOCS.rglob("*.md"):
        made = page.relative_to(DOCS).with_suffix(".html")
        assert (site / ("index.html" if made.name == "README.html" else made)).is_file(), made
    wear = (site / "models" / "wear_life.html").read_text(encoding="utf-8")
    assert wear.count("<math") > 10
    assert "arithmatex" not in wear
    formulas = (site / "formulas" / "wear_life.html").read_text(encoding="utf-8")
    assert "Mean sliding speed" in formulas
    assert "Archard" in formulas


def test_nothing_is_loaded_from_another_host(site: Path) -> None:
    loaded = re.compile(r'<(?:script|img|iframe|link)\b[^>]*?\b(?:src|href)="((?:https?:)?//[^"]*)"')
    for page in site.rglob("*.html"):
        assert loaded.findall(page.read_text(encoding="utf-8")) == [], page


def test_a_link_that_leads_nowhere_stops_it(tmp_path: Path) -> None:
    for name in ("README.md", "DEVELOPERS.md", "docs_site", "openapi", "service"):
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, tmp_path / name)
    page = tmp_path / "service" / "docs" / "glossary.md"
    page.write_text(page.read_text(encoding="utf-8") + "\n[nowhere](rules.md#nowhere)\n", encoding="utf-8")
    done = build(tmp_path, tmp_path / "site")
    assert done.returncode != 0
    assert "nowhere" in done.stdout + done.stderr
