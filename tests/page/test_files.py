"""The page as it is served: what it is made of, what a browser may do with it, who may read it."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from glandwise.api import page
from glandwise.api.access import new_token
from glandwise.api.render.zones import OTHER, ZONES
from glandwise.app import create_app
from glandwise.operations import OPERATIONS
from glandwise.settings import Settings

from tests.conftest import assert_problem

FILES = Path(page.__file__).parent / "files"


@pytest.mark.parametrize("path", sorted(page.PATHS))
def test_every_file_comes_with_its_type_and_its_policy(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 200
    ending = path.rpartition(".")[2] if path != "/" else "html"
    expected = {"html": "text/html", "css": "text/css", "js": "text/javascript", "svg": "image/svg+xml"}[ending]
    assert answer.headers["content-type"].split(";")[0] == expected
    policy = dict(part.split(" ", 1) for part in answer.headers["content-security-policy"].split("; "))
    assert policy["default-src"] == policy["base-uri"] == policy["form-action"] == policy["frame-ancestors"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["connect-src"] == "'self'"
    assert "unsafe" not in answer.headers["content-security-policy"]
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["referrer-policy"] == "no-referrer"


@pytest.mark.parametrize("path", sorted(page.PATHS))
def test_a_browser_that_holds_a_file_is_told_so(client: TestClient, path: str) -> None:
    first = client.get(path)
    held = client.get(path, headers={"if-none-match": first.headers["etag"]})
    assert (held.status_code, held.content) == (304, b"")
    assert client.get(path, headers={"if-none-match": '"another"'}).status_code == 200


def test_what_is_no_file_of_the_page_is_a_problem(client: TestClient) -> None:
    assert_problem(client.get("/page/other.js"), 404, "not-found")
    assert client.get("/page/..%2fapp.py").status_code in {404, 422}


def test_nothing_is_asked_of_another_host_or_run_from_the_markup() -> None:
    text = {item.name: item.read_text(encoding="utf-8") for item in FILES.iterdir()}
    for name, content in text.items():
        for address in re.findall(r"(?:https?:|wss?:|[\"'(=])//[\w.-]+", content):
            assert address == "http://www.w3.org", (name, address)  # names of SVG, which nobody fetches
    markup = text["index.html"]
    assert re.findall(r"<script(?![^>]* src=)", markup) == []
    assert re.findall(r"\son\w+=|\sstyle=|<style|javascript:", markup) == []
    for name, content in text.items():
        if name.endswith(".js"):
            assert not re.search(
                r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|eval\(|new Function", content
            ), name
            assert not re.search(r"localStorage|sessionStorage|indexedDB|document\.cookie", content), name


def test_the_page_asks_public_operations_alone(document: dict[str, dict[str, object]]) -> None:
    script = (FILES / "page.js").read_text(encoding="utf-8")
    asked = {f"/{path}" for path in re.findall(r"v1/[a-z-]+[a-z]", script)}
    listed = {f"/v1/{name}" for name in re.findall(r'"(compounds|designs|shaft-materials|alloys|elastomers)"', script)}
    assert {OPERATIONS["answer_enquiry"].path, OPERATIONS["map_operation"].path, "/v1/fluids"} <= asked
    assert asked | listed <= set(document["paths"])
    assert len(listed) == 5


def test_colours_of_the_map_are_those_of_the_plot(client: TestClient) -> None:
    sheet = client.get("/page/zones.css").text
    for name, (fill, line, _) in {**ZONES, "other": OTHER}.items():
        assert f"--fails-{name}: {fill}; --edge-{name}: {line};" in sheet


def test_the_page_needs_no_token_and_what_it_asks_does(tmp_path: Path) -> None:
    token, entry = new_token("engineer", ["read", "judge"], None)
    file = tmp_path / "tokens.toml"
    file.write_text(entry, encoding="utf-8")
    with TestClient(create_app(Settings(tokens=file))) as guarded:
        assert {guarded.get(path).status_code for path in page.PATHS} == {200}
        assert_problem(guarded.get("/v1/compounds"), 401, "unauthorized")
        assert guarded.get("/v1/compounds", headers={"authorization": f"Bearer {token}"}).status_code == 200
        assert_problem(guarded.get("/page/other.js"), 401, "unauthorized")


def test_another_machine_is_refused_the_page_where_only_this_one_is_served() -> None:
    app = create_app(Settings())
    with TestClient(app, client=("192.0.2.7", 50000)) as other:
        for path in sorted(page.PATHS):
            assert_problem(other.get(path), 403, "forbidden")


def test_the_page_stands_in_no_contract(document: dict[str, dict[str, object]]) -> None:
    assert not {"/", "/page/{file}"} & set(document["paths"])


def test_the_page_takes_no_other_method(client: TestClient) -> None:
    for path in sorted(page.PATHS):
        refused = client.post(path, content=b"{}")
        assert_problem(refused, 405, "method-not-allowed")
        assert "GET" in refused.headers["allow"]
        assert client.head(path).status_code == 200
    assert_problem(client.get("http://testserver//"), 404, "not-found")


def places_of(model: Any) -> dict[str, Any]:
    """Return what stands at each pointer of a request: the schema of every field, through all of its forms."""
    schema = model.model_json_schema()
    found: dict[str, list[Any]] = {}

    def walk(node: Any, at: str, depth: int) -> None:
        if depth > 12:
            return
        if "$ref" in node:
            node = schema["$defs"][node["$ref"].rpartition("/")[2]]
        for form in (*node.get("anyOf", ()), *node.get("oneOf", ())):
            walk(form, at, depth + 1)
        found.setdefault(at, []).append(node)
        for name, inside in node.get("properties", {}).items():
            walk(inside, f"{at}/{name}", depth + 1)

    walk(schema, "", 0)
    return found


def test_every_field_of_the_form_stands_where_an_enquiry_has_it() -> None:
    """Its choices are those of the contract, and what says which of several forms it has is one of them."""
    from glandwise.contract.enquiry import EnquiryRequest

    places = places_of(EnquiryRequest)
    markup = (FILES / "index.html").read_text(encoding="utf-8")
    fields = re.findall(r'<(input|select)([^>]* data-at="([^"]+)"[^>]*)>(.*?)(?:</select>|</div>)', markup, re.DOTALL)
    assert len(fields) > 35
    for kind, attributes, at, inside in fields:
        assert at in places, at
        forms = places[at]
        if kind == "select" and "data-list" not in attributes:
            allowed = {value for form in forms for value in (*form.get("enum", ()), form.get("const"))}
            offered = set(re.findall(r'<option value="([^"]+)"', inside))
            assert offered <= allowed, at
            assert allowed - offered <= {None, "boundary", "lubricated"}, at  # the last two: names of before
        sort = re.search(r'data-sort="([^"]+)"', attributes)
        if sort:
            kinds = {form.get("const") for form in places[re.sub(r"\w+$", "kind", at)]}
            assert sort[1] in kinds, at


def test_a_form_with_every_field_of_the_hardware_is_an_enquiry(client: TestClient) -> None:
    """What the page sends for an O-ring and for a clamped flange, as its script puts it together."""
    duty = {
        "shaft_diameter": {"value": 60, "unit": "mm"}, "pressure": {"value": 20, "unit": "bar"}, "fluid": "water",
        "motion": {"kind": "rotation", "rotational_speed": {"value": 30, "unit": "rpm"}}, "application": "rotary_union",
        "temperature": {"normal": {"value": 30, "unit": "degC"}}, "contaminants": "wet",
    }  # fmt: skip
    gland = {
        "throat_diameter": {"nominal": {"value": 60.2, "unit": "mm"}}, "shaft_tolerance": {"kind": "class", "name": "h8"},
        "bore_tolerance": {"kind": "class", "name": "H8"},
    }  # fmt: skip
    design = {"family": "energized_lip", "compound": "ptfe_carbon_25", "lip_direction": "away"}
    for held, part in (
        ("o_ring", {"o_ring": {"kind": "as568", "dash": 228}}),
        ("clamped_flange", {"clamp": {"force": {"value": 4, "unit": "kN"}}}),
    ):
        body = {"duty": duty, "gland": {**gland, **part}, "design": {**design, "retention": held}}
        answer = client.post("/v1/enquiries", json=body)
        assert answer.status_code == 200, answer.text
        assert answer.json()["gland"] is not None
    assert_problem(client.post("/v1/enquiries", json={
        "duty": duty, "gland": {"o_ring": {"kind": "as568", "dash": "x"}}, "design": design,
    }), 422, "invalid-request")  # fmt: skip
