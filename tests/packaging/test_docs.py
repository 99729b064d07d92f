"""The documents: nothing leads nowhere, nothing is left out, every call is one that works."""

from __future__ import annotations

import json
import re
import shlex
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from string import Template
from typing import Any
from urllib.parse import unquote

import pytest
from fastapi.testclient import TestClient
from glandwise.api.problems import KINDS
from glandwise.app import create_app
from glandwise.operations import OPERATIONS
from glandwise.settings import Settings

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "service" / "docs"
PAGES = sorted([ROOT / "README.md", ROOT / "DEVELOPERS.md", *DOCS.rglob("*.md")])
API = (DOCS / "api.md").read_text(encoding="utf-8")
README = (ROOT / "README.md").read_text(encoding="utf-8")
DOCUMENT: dict[str, Any] = json.loads((ROOT / "openapi" / "openapi.json").read_text(encoding="utf-8"))
LINK = re.compile(r"\]\(\s*<?([^)\s>]+)>?(?:\s+\"[^\"]*\")?\s*\)")
FENCED = re.compile(r"^(```|~~~).*?^\1", re.DOTALL | re.MULTILINE)


def name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def prose(page: Path) -> str:
    """Return a page without its blocks of code."""
    return FENCED.sub("", page.read_text(encoding="utf-8"))


def links(page: Path) -> Iterator[tuple[Path, str]]:
    """Yield the files that relative links of a page lead to, with the fragment."""
    for target in LINK.findall(prose(page)):
        if re.match(r"[a-z][a-z0-9+.-]*:", target):
            continue
        path, _, fragment = target.partition("#")
        yield (page.parent / unquote(path)).resolve() if path else page, fragment


def anchors(page: Path) -> set[str]:
    """Return the anchors of the headings of a page, made as the usual renderers make them."""
    headings = re.findall(r"^#+ +(.+?) *$", prose(page), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}


def operations() -> Iterator[tuple[str, str, str]]:
    for path, methods in DOCUMENT["paths"].items():
        for method, operation in methods.items():
            yield operation["operationId"], method, path


def calls() -> dict[str, str]:
    """Return the shell block of each operation of the page of the interface."""
    sections = re.split(r"^### (\w+)\n", API, flags=re.MULTILINE)[1:]
    found = {}
    for operation, section in zip(sections[::2], sections[1::2], strict=True):
        (found[operation],) = re.findall(r"```sh\n(.*?)```", section, re.DOTALL)
    return found


VARIABLES = dict(re.findall(r"^([A-Z]+)=(?:'(.*?)'|(?:\S+))$", API, re.MULTILINE | re.DOTALL))


def send(block: str, client: TestClient) -> Any:
    """Run a call of the page as the shell and curl would, against the service in this process."""
    variables = dict(VARIABLES)
    while (first := re.match(r"([A-Z]+)=\$\((curl .*)\)\n", block)) is not None:
        answer = send(first[2], client)
        assert answer.status_code == 200, answer.text
        variables[first[1]], block = answer.text, block[first.end() :]
    line, _, rest = block.partition("\n")
    body = Template(rest.rpartition("END\n")[0]).substitute(variables) if "<<END" in line else None
    words = shlex.split(line.removesuffix("<<END"))
    url, headers, position = "", {}, 1
    assert words[0] == "curl"
    while position < len(words):
        word = words[position]
        if word == "-H":
            position += 1
            header, _, value = Template(words[position]).substitute(variables).partition(": ")
            headers[header] = value
        elif word in {"-d", "--data-binary"}:
            many = any(form in headers["Content-Type"] for form in ("ndjson", "csv"))
            assert (word == "--data-binary") == many, "-d would join the lines"
            position += 1
            if words[position] != "@-":
                body = Template(words[position]).substitute(variables)
        elif word != "-s":
            url = word.removeprefix("$BASE")
        position += 1
    if body is None:
        return client.get(url, headers=headers)
    return client.post(url, content=body.encode(), headers=headers)


@pytest.fixture(scope="module")
def service() -> Iterator[TestClient]:
    with TestClient(create_app(Settings(batch_workers=0))) as client:
        yield client


def test_every_page_is_in_the_index_once() -> None:
    index = DOCS / "README.md"
    linked = [target for target, _ in links(index) if target.is_relative_to(DOCS) and target.suffix == ".md"]
    assert sorted(linked) == sorted(page for page in DOCS.rglob("*.md") if page != index)


@pytest.mark.parametrize("page", PAGES, ids=name)
def test_every_relative_link_leads_somewhere(page: Path) -> None:
    for target, fragment in links(page):
        assert target.exists(), target
        assert target.is_relative_to(ROOT)
        if fragment:
            assert fragment in anchors(target)


def test_every_picture_is_shown_by_a_page() -> None:
    shown = {target for page in PAGES for target, _ in links(page)}
    assert set(DOCS.rglob("*.svg")) <= shown


@pytest.mark.skipif(shutil.which("make") is None, reason="make is not installed")
@pytest.mark.parametrize("target", ["demo", "serve"])
def test_whoever_only_uses_the_service_installs_no_tools_of_developers(target: str, tmp_path: Path) -> None:
    def steps() -> str:
        command = ["make", "-n", target, f"VENV={tmp_path}/all", f"USE={tmp_path}/use"]
        return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True, timeout=60.0).stdout

    light = steps()
    assert "tests/dev.lock" not in light
    assert "docker/service.lock" in light
    assert f"{tmp_path}/use/bin/python -m glandwise" in light
    (tmp_path / "all").mkdir()
    (tmp_path / "all" / ".installed").touch()
    here = steps()
    assert f"{tmp_path}/all/bin/python -m glandwise" in here
    assert "pip install" not in here


def test_every_make_target_named_exists() -> None:
    targets = set(re.findall(r"^([a-z-]+):", (ROOT / "Makefile").read_text(encoding="utf-8"), re.MULTILINE))
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        code = re.findall(r"`([^`\n]+)`", text) + re.findall(r"^(?: {4}|\t)(.+)$", text, re.MULTILINE)
        for piece in code:
            for named in re.findall(r"(?:^|[;&|] *)make +([a-z-]+)\b", piece):
                assert named in targets, f"{name(page)}: make {named}"


def test_every_operation_is_named_and_has_its_call() -> None:
    known = {operation for operation, _, _ in operations()}
    assert set(calls()) == known
    for operation, _, path in operations():
        assert re.search(rf"\b{operation}\b", README + API)
        assert re.sub(r"\{\w+\}", "", path) in calls()[operation]


def test_the_table_of_the_readme_holds_every_calculation() -> None:
    rows = re.findall(r"^\| `(/v1/[a-z-]+)` \|", README, re.MULTILINE)
    assert sorted(rows) == sorted(path for _, method, path in operations() if method == "post")
    for _, method, path in operations():
        if method == "get" and path.startswith("/v1/"):
            assert re.sub(r"/\{\w+\}", "", path) in README


@pytest.mark.parametrize(
    "operation",
    [pytest.param(one, marks=pytest.mark.slow if one == "audit_rule_set" else ()) for one in sorted(calls())],
)
def test_every_call_is_answered(operation: str, service: TestClient) -> None:
    answer = send(calls()[operation], service)
    assert answer.status_code == 200, answer.text


def test_the_call_for_a_sheet_is_answered_with_a_page(service: TestClient) -> None:
    (block,) = (b for b in re.findall(r"```sh\n(.*?)```", API, re.DOTALL) if "text/html" in b)
    answer = send(block, service)
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("text/html")


def test_the_batch_is_answered_line_by_line(service: TestClient) -> None:
    (block,) = (b for b in re.findall(r"```sh\n(.*?)```", API, re.DOTALL) if "x-ndjson" in b)
    answer = send(block, service)
    rows = [json.loads(line) for line in answer.content.splitlines()]
    assert [(row["line"], row["status"]) for row in rows] == [(1, 200), (2, 422)]


def test_the_table_of_problems_is_the_services() -> None:
    rows = re.findall(r"^\| `/problems/([a-z-]+)` \| (\d+) \|", API, re.MULTILINE)
    assert [(kind, int(status)) for kind, status in rows] == [(kind, row[0]) for kind, row in KINDS.items()]


def test_the_operations_said_to_give_a_plot_are_those_that_do() -> None:
    plots = re.search(r"for\s([^.]*?) `image/svg\+xml` \(the plot\)", API)
    sections = re.search(r"and for\s([^.]*?) `image/svg\+xml` and `image/vnd\.dxf`", API)
    assert plots is not None
    assert sections is not None
    rows = [OPERATIONS[operation] for operation, _, _ in operations() if operation in OPERATIONS]
    assert set(re.findall(r"`(\w+)`", plots[1])) == {row.name for row in rows if row.drawing}
    assert set(re.findall(r"`(\w+)`", sections[1])) == {row.name for row in rows if row.section}


def test_the_stored_answer_of_the_page_rechecks_cleanly_in_every_form_it_names(service: TestClient) -> None:
    block = calls()["recheck_result"]
    whole = send(block, service).json()
    assert (whole["same"], whole["stamp_holds"], whole["summary"]) == (True, True, "The stored answer holds.")
    request = {"duty": json.loads(VARIABLES["DUTY"]), "design": json.loads(VARIABLES["DESIGN"])}
    stamp = whole["stamp"]
    for short in ({"verdict": whole["verdict_after"], "stamp": stamp},
                  {"verdict": whole["verdict_after"], "stamp": {"fingerprint": stamp["fingerprint"]}}):  # fmt: skip
        body = {"operation": "check_envelope", "stored_request": request, "stored_result": short}
        answer = service.post("/v1/rechecks", json=body).json()
        assert (answer["same"], answer["summary"]) == (True, "The stored answer holds.")


def test_the_answer_to_the_call_of_the_readme_is_as_the_readme_says(service: TestClient) -> None:
    call = re.search(r"-d '(\{.*?\n {4}\})'\n\n(.*?)\n\n", README, re.DOTALL)
    assert call is not None
    said = " ".join(call[2].split())
    request = json.loads(call[1])
    answer = service.post("/v1/envelope-checks", json=request).json()
    governing = answer["governing"]
    assert f'`"verdict": "{answer["verdict"]}"`' in said
    assert f"{governing['title']} governs at {100 * governing['utilization']:.0f} % of its limit" in said
    (pressure,) = (item for item in answer["criteria"] if item["id"] == "pressure")
    remedies = {item["change"]: item for item in pressure["remedies"]}
    assert all(remedies[name]["evaluated"] for name in ("energize_lip", "add_reinforcing_band"))
    assert remedies["energize_lip"]["verdict"] == "caution"
    assert "an energized lip would live there, with care" in said
    band = remedies["add_reinforcing_band"]
    assert f"brings the pressure to {100 * band['utilization']:.0f} % of its limit" in said
    assert f"the verdict becomes `{band['verdict']}`" in said
    request["design"] |= band["design"]
    banded = service.post("/v1/envelope-checks", json=request).json()
    assert banded["verdict"] == band["verdict"] != "fail"


def test_tag_and_determinism_are_as_the_page_says(service: TestClient) -> None:
    first = service.get("/v1/alloys")
    assert service.get("/v1/alloys", headers={"If-None-Match": first.headers["etag"]}).status_code == 304
    block = calls()["check_envelope"]
    one, two = send(block, service), send(block, service)
    assert one.content == two.content
    assert one.headers["cache-control"] == "no-store"
    metric = json.loads(VARIABLES["DUTY"])
    other = {**metric, "pressure": {"value": 20, "unit": "kPa"}}
    design = json.loads(VARIABLES["DESIGN"])
    answer = service.post("/v1/envelope-checks", json={"duty": other, "design": design, "units": {"system": "us"}})
    assert answer.json()["stamp"]["fingerprint"] == one.json()["stamp"]["fingerprint"]
