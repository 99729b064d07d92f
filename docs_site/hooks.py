"""What the site adds to the pages: their order, the pages of the repository beside them, the reference made from the code."""

from __future__ import annotations

import html
import inspect
import json
import os
import pkgutil
import re
from collections.abc import Iterable
from importlib import import_module
from pathlib import Path
from typing import Any

import glandwise.mechanics
from glandwise.numerics.docstring import Quantity, declared
from latex2mathml.converter import convert
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.structure.files import File, Files
from mkdocs.structure.pages import Page

ROOT = Path(__file__).resolve().parents[1]
DOCS = ROOT / "service" / "docs"
BESIDE = {
    ROOT / "README.md": "project.md",
    ROOT / "DEVELOPERS.md": "developers.md",
    ROOT / "openapi" / "CHANGELOG.md": "contract-changes.md",
    ROOT / "service" / "src" / "glandwise" / "rules" / "CHANGELOG.md": "rule-changes.md",
}
"""Pages that stand elsewhere in the repository, by where they go in the site."""
DOCUMENT = ROOT / "openapi" / "openapi.json"
LINK = re.compile(r"(!?)\[((?:[^\[\]]|\[[^\]]*\])*)\]\(\s*([^)\s]+)\s*\)")
MATH = re.compile(r'<(span|div) class="arithmatex">\\([(\[])(.*?)\\[)\]]</\1>', re.DOTALL)
FENCE = re.compile(r"(^ {0,3}```.*?^ {0,3}```\s*$|`[^`\n]+`)", re.DOTALL | re.MULTILINE)


# ------------------------------------------------------------------------------------------------------------ the order


def on_config(config: MkDocsConfig) -> MkDocsConfig:
    """Take the order of the pages from the index of the documents."""
    nav: list[Any] = [{"Documentation": "README.md"}, {"The project": "project.md"}]
    for part in re.split(r"^## +", (DOCS / "README.md").read_text(encoding="utf-8"), flags=re.MULTILINE)[1:]:
        heading, _, body = part.partition("\n")
        nav.append({heading.strip(): [{text: target} for _, text, target in LINK.findall(body)]})
    modules = [{title(name): page_of(name)} for name in modules_of()]
    nav.append({"Reference": [{"Operations": "operations.md"}, {"Formulas": modules}]})
    nav.append(
        {"Changes and contributing": [
            {"Changes of the contract": "contract-changes.md"}, {"Changes of the rules": "rule-changes.md"},
            {"For developers": "developers.md"},
        ]}
    )  # fmt: skip
    config.nav = nav
    return config


# ------------------------------------------------------------------------------------------------------- pages of code


def modules_of() -> list[str]:
    """Name the modules of formulas."""
    return [item.name for item in pkgutil.iter_modules(glandwise.mechanics.__path__) if formulas(item.name)]


def formulas(name: str) -> list[tuple[str, Any]]:
    """Return the formulas of a module that declare their quantities, in the order of its text."""
    module = import_module(f"glandwise.mechanics.{name}")
    found = [
        (key, thing)
        for key, thing in vars(module).items()
        if inspect.isfunction(thing)
        and thing.__module__ == module.__name__
        and not key.startswith("_")
        and "Returns\n" in (thing.__doc__ or "")
    ]
    return sorted(found, key=lambda item: item[1].__code__.co_firstlineno)


def title(name: str) -> str:
    """Say a module in words."""
    return name.replace("_", " ").capitalize()


def page_of(name: str) -> str:
    """Name the page of a module."""
    return f"formulas/{name}.md"


def rows(quantities: Iterable[Quantity]) -> list[str]:
    """Write quantities as lines of a table."""
    return [f"| `{item.symbol}` | {item.unit} | {item.title} |" for item in quantities]


def formula(name: str, thing: Any) -> str:
    """Write one formula: what it says of itself, its quantities, where it comes from."""
    told = declared(thing)
    head = inspect.cleandoc(thing.__doc__).split("\nParameters\n---")[0].split("\nReturns\n---")[0].strip()
    arguments = ", ".join(inspect.signature(thing).parameters)
    lines = [f"## {name}", "", f"`{name}({arguments})`", "", head, ""]
    for heading, quantities in (("Given", told.given.values()), ("Found", told.results)):
        if quantities:
            lines += [f"| {heading} | unit | what it is |", "|---|---|---|", *rows(quantities), ""]
    for section, heading in (("Raises", "Refuses"), ("Notes", "Notes"), ("References", "Source")):
        if section in told.sections:
            lines += [f"**{heading}.** {' '.join(told.sections[section].split())}", ""]
    return "\n".join(lines)


def module_page(name: str) -> str:
    """Write the page of a module."""
    module = import_module(f"glandwise.mechanics.{name}")
    intro = inspect.cleandoc(module.__doc__ or "")
    parts = (f"# {title(name)}", intro, *(formula(*item) for item in formulas(name)))
    return "\n\n".join(html.escape(part, quote=False).replace("&gt;", ">") for part in parts)


def operations_page() -> str:
    """Write the table of operations, from the document of the interface."""
    lines = [
        "# Operations", "",
        "A call of each is in [the interface](api.md); every field is in the [OpenAPI document](openapi.json) and at `/docs` of a",
        "running service.", "", "| operation | call | what it does |", "|---|---|---|",
    ]  # fmt: skip
    for path, methods in json.loads(DOCUMENT.read_text(encoding="utf-8"))["paths"].items():
        for method, told in methods.items():
            lines.append(f"| `{told['operationId']}` | `{method.upper()} {path}` | {told['summary']} |")
    return "\n".join(lines)


def on_files(files: Files, config: MkDocsConfig) -> Files:
    """Add the pages that stand elsewhere, and those that are made from the code."""
    made = {target: source.read_text(encoding="utf-8") for source, target in BESIDE.items()}
    made["operations.md"] = operations_page()
    made.update({page_of(name): module_page(name) for name in modules_of()})
    made["openapi.json"] = DOCUMENT.read_text(encoding="utf-8")
    made["own.css"] = (ROOT / "docs_site" / "own.css").read_text(encoding="utf-8")
    for target, text in made.items():
        files.append(File.generated(config, target, content=text))
    return files


# ------------------------------------------------------------------------------------------------------ links and math


def source_of(page: Page) -> Path:
    """Return where a page stands in the repository."""
    uri = page.file.src_uri
    return next((source for source, target in BESIDE.items() if target == uri), DOCS / uri)


def uri_of(path: Path) -> str | None:
    """Return where a file of the repository stands in the site; ``None`` where it does not."""
    if path == DOCUMENT:
        return "openapi.json"
    if path in BESIDE:
        return BESIDE[path]
    if path.is_relative_to(DOCS) and path.is_file() and path.suffix != ".py":
        return path.relative_to(DOCS).as_posix()
    return None


def on_page_markdown(markdown: str, page: Page, **_: Any) -> str:
    """Lead links to where things are in the site; what is in the repository alone is named without a link."""
    source = source_of(page)

    def lead(match: re.Match[str]) -> str:
        picture, text, target = match.groups()
        path, _, fragment = target.partition("#")
        if not path or re.match(r"[a-z][a-z0-9+.-]*:", target) or not source.exists():
            return match.group(0)
        uri = uri_of((source.parent / path).resolve())
        if uri is None:
            return text
        here = os.path.relpath(uri, Path(page.file.src_uri).parent)
        return f"{picture}[{text}]({here}{'#' + fragment if fragment else ''})"

    pieces = FENCE.split(markdown)
    return "".join(piece if place % 2 else LINK.sub(lead, piece) for place, piece in enumerate(pieces))


def on_page_content(content: str, **_: Any) -> str:
    """Set formulas in MathML."""

    def set_in(match: re.Match[str]) -> str:
        text = html.unescape(match.group(3))
        return (
            f'<div class="formula">{convert(text, display="block")}</div>' if match.group(2) == "[" else convert(text)
        )

    return MATH.sub(set_in, content)
