"""Results as calculation sheets and as tables: every operation, every example, nothing from elsewhere, nothing unescaped."""

from __future__ import annotations

import ast
import csv
import io
import re
import xml.etree.ElementTree as ET
from html.parser import HTMLParser
from typing import Any

import pytest
from fastapi.testclient import TestClient
from glandwise.api.render import formula, sheet, table, words
from glandwise.operations import OPERATIONS

from tests.conftest import Answers, Example, assert_problem, example, load_examples

EXAMPLES = load_examples()
BROWSER = "text/html,application/xhtml+xml,application/xml;q=0.9,image/avif,image/webp,*/*;q=0.8"
VOID = {"meta", "col", "br", "wbr"}
WITH_WORKING = {
    "check_envelope", "allow_runout", "estimate_energizer_load", "estimate_friction", "estimate_wear", "check_gland",
    "check_thermal_fit", "assess_spectrum", "estimate_blank",
}  # fmt: skip


class Page(HTMLParser):
    """Text of a page, and whether its elements are closed in order."""

    def __init__(self, content: bytes) -> None:
        super().__init__()
        self.open: list[str] = []
        self.parts: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(content.decode("utf-8"))
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not {"style", "script"} & set(self.open):
            self.parts.append(data)

    @property
    def text(self) -> str:
        """Text for reading, blanks made single."""
        return re.sub(r"\s+", " ", "".join(self.parts))


def one_space(text: str) -> str:
    """Text with single blanks and written units, as it stands on a sheet."""
    return re.sub(r"\s+", " ", words.pretty(text))


def asked(entry: Example) -> dict[str, Any]:
    """The request of an example, with its working where there is one."""
    return {**entry.request, "working": True} if entry.operation in WITH_WORKING else entry.request


@pytest.mark.parametrize("entry", EXAMPLES, ids=lambda entry: f"{entry.operation}-{entry.name}")
def test_every_example_has_a_sheet(answer_to: Answers, entry: Example) -> None:
    result = answer_to(entry.path, asked(entry)).json()
    answer = answer_to(entry.path, asked(entry), "text/html")
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    page = Page(answer.content)
    assert not page.open, "elements left open"
    shown = page.text
    if "summary" in result:
        assert one_space(result["summary"]).rpartition(": ")[2].lower() in shown.lower()
    for item in result.get("criteria", ()):
        if "reason" in item:
            assert one_space(item["reason"]) in shown
            assert words.label(item["title"]) in shown
            assert all(one_space(remedy["title"]) in shown for remedy in item["remedies"])
    for item in result.get("assumptions", ()):
        assert item["field"] in shown
        assert item["rule"] in shown
    for item in result.get("cautions", ()):
        assert one_space(item["text"]) in shown
    for step in result.get("working") or ():
        series = re.fullmatch(r"(.*) \d+", step["title"])
        assert one_space(step["title"]) in shown or (series is not None and series[1] in shown), step
    if "stamp" in result:
        assert result["stamp"]["fingerprint"] in shown
        assert result["stamp"]["rule_set"]["digest"] in shown


@pytest.mark.parametrize("entry", EXAMPLES, ids=lambda entry: f"{entry.operation}-{entry.name}")
def test_sheets_need_nothing_from_elsewhere(client: TestClient, answer_to: Answers, entry: Example) -> None:
    content = answer_to(entry.path, asked(entry), "text/html").content
    page = Page(content)
    assert not {tag for tag, _ in page.tags} & {
        "script",
        "link",
        "iframe",
        "img",
        "object",
        "embed",
        "base",
        "form",
        "a",
    }
    for tag, attributes in page.tags:
        for name, value in attributes.items():
            assert not name.startswith("on"), (tag, name)
            if name in {"src", "href", "xlink:href", "action"}:
                assert (value or "").startswith("#"), (tag, name, value)
    style = content[content.index(b"<style>") : content.index(b"</style>")]
    assert b"url(" not in style
    assert b"@import" not in style
    again = client.post(entry.path, json=asked(entry), headers={"accept": "text/html"}).content
    assert content == again


def test_sheet_escapes_whatever_a_result_says() -> None:
    hostile = "<script>alert(1)</script>\" onload='x'"
    answer = {
        "verdict": "fail", "summary": hostile, "cautions": [{"id": "a", "text": hostile}], "notes": [hostile],
        "assumptions": [{"field": hostile, "value": hostile, "rule": hostile}], "things": [{"title": hostile, hostile: hostile}],
        "group": {hostile: hostile}, hostile: 1.0, "evidence": None, "stamp": None,
        "criteria": [{
            "id": "x", "title": hostile, "status": "fail", "demand": {"value": 1.0, "unit": hostile}, "capacity": None,
            "utilization": 2.0, "reason": hostile, "evidence": None, "sources": [hostile],
            "remedies": [{"title": hostile, "utilization": None, "verdict": "fail"}],
        }],
        "working": [{"symbol": "a", "title": hostile, "equation": "1.0", "inputs": {}, "value": 1.0, "unit": hostile, "source": hostile}],
    }  # fmt: skip
    content = sheet.render(OPERATIONS["check_envelope"], {"duty": {hostile: hostile}, hostile: [hostile]}, answer)
    page = Page(content)
    assert "script" not in {tag for tag, _ in page.tags}
    assert not any(name.startswith("on") for _, attributes in page.tags for name in attributes)
    assert page.text.count("<script>alert(1)</script>") >= 12


def test_sheet_of_a_failing_check_says_what_would_cure_it(client: TestClient) -> None:
    request = example("check_envelope", "gearbox_input_shaft")
    page = Page(client.post("/v1/envelope-checks", json=request, headers={"accept": "text/html"}).content)
    assert "Does not pass" in page.text
    assert "What would change the verdict" in page.text
    assert "clamp the seal by a flange" in page.text
    bars = [attributes.get("style") for tag, attributes in page.tags if tag == "i"]
    assert all(re.fullmatch(r"width:(\d|\d\d|100)\.\d%", style or "") for style in bars)
    assert len(bars) > 8


# ------------------------------------------------------------------------------------------------------------- formulas


def test_every_equation_is_set_as_well_formed_formulas(answer_to: Answers) -> None:
    seen: set[str] = set()
    for entry in EXAMPLES:
        if entry.operation not in WITH_WORKING:
            continue
        for step in answer_to(entry.path, asked(entry)).json()["working"]:
            seen.add(step["equation"])
            tree = ET.fromstring(f"<all>{formula.equation(step['symbol'], step['equation'])}</all>")
            # nothing is lost on the way: every number and every name of the equation stands in the formula
            names = {node.id for node in ast.walk(ast.parse(step["equation"])) if isinstance(node, ast.Name)}
            letters = "".join(tree.itertext())
            for name in names:
                head = name.partition("_")[0]
                known = {"log": "ln", "log10": "lg", "atan": "arctan", "sqrt": "", "abs": "|", **formula.GREEK}
                assert known.get(head, head) in letters, (name, letters)
    assert len(seen) > 200


def shown(expression: str) -> str:
    """Text of a formula, its structure in brackets."""
    tree = ET.fromstring(f"<all>{formula.equation('y', expression)}</all>")

    def of(node: Any) -> str:
        parts = [of(child) for child in node]
        joined = "".join(parts) + (node.text or "").strip()
        structure = {"mfrac": "[{}/{}]", "msup": "{}^{{{}}}", "msub": "{}_{}", "msqrt": "√({})"}
        return structure[node.tag].format(*parts) if node.tag in structure else joined

    return of(tree)


@pytest.mark.parametrize(
    ("expression", "text"),
    [
        ("a + b * c", "y=a+b·c"),
        ("(a + b) * c", "y=(a+b)·c"),
        ("a - (b - c)", "y=a−(b−c)"),
        ("a - b - c", "y=a−b−c"),
        ("a / (b + c)", "y=[a/b+c]"),
        ("(a / b)**2", "y=([a/b])^{2}"),
        ("(-a)**2", "y=(−a)^{2}"),
        ("-a**2", "y=−a^{2}"),
        ("a**(2 / 3)", "y=a^{[2/3]}"),
        ("a * -b", "y=a·−b"),
        ("sqrt(a + b)", "y=√(a+b)"),
        ("max(a, b) * pi", "y=max(a,b)·π"),
        ("sigma_lip_hot", "y=σ_lip,hot"),
        ("2.5e-3 * a", "y=0.0025·a"),
        ("1e-06 * a", "y=10^{-6}·a"),
        ("a * (b + c) / d", "y=[a·(b+c)/d]"),
    ],
)
def test_formulas_keep_the_order_of_operations(expression: str, text: str) -> None:
    assert shown(expression) == text


def test_long_sums_become_several_formulas_between_which_a_line_may_break() -> None:
    expression = " + ".join(f"g_{index} * exp(-t_hold / (a_T * tau_{index}))" for index in range(12))
    assert str(formula.equation("phi", expression)).count("<math") > 6


# ---------------------------------------------------------------------------------------------------------------- words


@pytest.mark.parametrize(
    ("symbol", "text"),
    [
        ("N/mm/mm", "N/mm²"), ("W/m/K", "W/(m·K)"), ("W/m2/K", "W/(m²·K)"), ("N.m", "N·m"), ("MPa.m/s", "MPa·m/s"), ("1", ""),
        ("kg/m3", "kg/m³"), ("m2/s", "m²/s"), ("degC", "°C"), ("1/K", "1/K"), ("J/mol/K", "J/(mol·K)"), ("mm3/N/m", "mm³/(N·m)"),
        ("Btu/h/ft2/degF", "Btu/(h·ft²·degF)"),
    ],
)  # fmt: skip
def test_units_are_written_as_by_hand(symbol: str, text: str) -> None:
    assert words.unit(symbol) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (1234.5, "1,234"),
        (12345678.0, "1.235·10⁷"),
        (-0.00001234, "-1.234·10⁻⁵"),
        (0.5, "0.5"),
        (-30000.0, "-30,000"),
    ],
)
def test_numbers_are_written_for_reading(value: float, text: str) -> None:
    assert words.number(value) == text


def test_sentences_are_given_written_units_and_nothing_else() -> None:
    text = words.pretty("At 95.8 degC the lip takes 0.1 N.m; MPa.m/s of 3.5 MPa.m/s, see AS568-242. No.5 of them.")
    assert text == "At 95.8 °C the lip takes 0.1 N·m; MPa.m/s of 3.5 MPa·m/s, see AS568-242. No.5 of them."


# --------------------------------------------------------------------------------------------------------------- tables


@pytest.mark.parametrize("entry", EXAMPLES, ids=lambda entry: f"{entry.operation}-{entry.name}")
def test_every_example_has_a_table(answer_to: Answers, entry: Example) -> None:
    result = answer_to(entry.path, entry.request).json()
    answer = answer_to(entry.path, entry.request, "text/csv")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    assert b"\r\n" in answer.content
    head, *body = csv.reader(io.StringIO(answer.text, newline=""))
    assert len(set(head)) == len(head)
    assert all(len(row) == len(head) for row in body)
    assert body
    if result.get("points"):
        assert len(body) == len(result["points"])
        assert {"temperature", "temperature_unit"} <= set(head)
    elif result.get("criteria") and "reason" in result["criteria"][0] and not result.get("phases"):
        assert [row[head.index("id")] for row in body] == [item["id"] for item in result["criteria"]]
        for row, item in zip(body, result["criteria"], strict=True):
            used = row[head.index("utilization")]
            assert (None if used == "" else float(used)) == item["utilization"]
            if item["demand"] is not None:
                assert float(row[head.index("demand")]) == item["demand"]["value"]
                assert row[head.index("demand_unit")] == item["demand"]["unit"]


def test_table_of_a_map_has_a_row_for_each_point_of_its_grid(client: TestClient) -> None:
    request = example("map_operation", "rotary_union")
    result = client.post("/v1/operating-maps", json=request).json()
    answer = client.post("/v1/operating-maps", json=request, headers={"accept": "text/csv"})
    head, *body = csv.reader(io.StringIO(answer.text, newline=""))
    x, y = result["x"], result["y"]
    assert head == [f"{x['kind']} [{x['unit']}]", f"{y['kind']} [{y['unit']}]", "status", "governing", "utilization"]
    assert len(body) == len(x["values"]) * len(y["values"])
    width = len(x["values"])
    for j, i in ((0, 0), (3, 5), (len(y["values"]) - 1, width - 1)):
        row = body[j * width + i]
        assert (float(row[0]), float(row[1])) == (x["values"][i], y["values"][j])
        assert row[2] == result["statuses"][result["status"][j][i]]
        assert row[3] == result["criteria"][result["governing"][j][i]]["id"]
        used = result["utilization"][j][i]
        assert (None if row[4] == "" else float(row[4])) == used


def test_table_marks_text_that_a_spreadsheet_would_run() -> None:
    result = {"criteria": [{"id": "a", "reason": "=1+1"}, {"id": "+b", "reason": 'fine, "quoted"\nand broken'}]}
    head, *body = csv.reader(io.StringIO(table.render(result).decode(), newline=""))
    assert head == ["id", "reason"]
    assert body == [["a", "'=1+1"], ["'+b", 'fine, "quoted"\nand broken']]


# ---------------------------------------------------------------------------------------------------------- negotiation


@pytest.mark.parametrize(
    ("accept", "media_type"),
    [
        (None, "application/json"), ("*/*", "application/json"), ("application/json, text/html", "application/json"),
        ("text/html", "text/html; charset=utf-8"), (BROWSER, "text/html; charset=utf-8"), ("text/*", "text/html; charset=utf-8"),
        ("text/csv", "text/csv; charset=utf-8"), ("application/json;q=0.1, text/csv", "text/csv; charset=utf-8"),
    ],
)  # fmt: skip
def test_representation_follows_the_accept_header(client: TestClient, accept: str | None, media_type: str) -> None:
    headers = {} if accept is None else {"accept": accept}
    answer = client.post("/v1/envelope-checks", json=example("check_envelope", "gearbox_input_shaft"), headers=headers)
    assert answer.headers["content-type"] == media_type


def test_unknown_representations_are_refused_with_those_there_are(client: TestClient) -> None:
    request = example("check_envelope", "gearbox_input_shaft")
    answer = client.post("/v1/envelope-checks", json=request, headers={"accept": "application/msword"})
    problem = assert_problem(answer, 406, "not-acceptable")
    assert "application/json, text/html, text/csv" in problem["detail"]


def test_problems_stay_problem_documents_for_a_browser(client: TestClient) -> None:
    answer = client.post("/v1/envelope-checks", json={}, headers={"accept": BROWSER})
    assert_problem(answer, 422, "invalid-request")


def test_document_lists_every_representation(document: dict[str, Any]) -> None:
    found = 0
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            if method != "post" or operation["tags"] != ["calculations"]:
                continue
            assert set(operation["responses"]["200"]["content"]) == {"application/json"}, path
            assert {"text/html", "text/csv"} <= set(operation["x-representations"]), path
            found += 1
    assert found >= 10


def test_a_sheet_keeps_the_limits_of_a_fit_apart() -> None:
    written = [words.quantity({"value": value, "unit": unit}) for value, unit in (
        (163.88, "mm"), (163.846, "mm"), (65.046, "mm"), (10.0, "mm"), (0.43808885, "mm"), (3.147244094, "in"), (1234.5678, "N"),
    )]  # fmt: skip
    assert written == ["163.88 mm", "163.846 mm", "65.046 mm", "10 mm", "0.4381 mm", "3.1472 in", "1,235 N"]


def test_the_sheet_shows_how_sure_the_verdict_is_and_what_it_turns_on(client: TestClient) -> None:
    """A bar for each share of the plausible cases; what the customer is asked stands below."""
    request = {
        "duty": {
            "shaft_diameter": {"value": 35, "unit": "mm"}, "pressure": {"value": 0.2, "unit": "bar"}, "fluid": "mineral_oil_gear",
            "motion": {"kind": "rotation", "rotational_speed": {"value": 1450, "unit": "rpm"}},
            "temperature": {"normal": {"value": 60, "unit": "degC"}},
        }
    }  # fmt: skip
    answer = client.post("/v1/enquiries", json=request).json()
    page = client.post("/v1/enquiries", json=request, headers={"accept": "text/html"}).text
    confidence = answer["confidence"]
    assert confidence["turns_on"]
    assert "Please confirm" in page
    shares = re.findall(r'<i style="width:([0-9.]+)%"></i></div></td><td class="n">(\d+) %</td>', page)
    told = [confidence["holds"], confidence["lives"], *(turn["share"] for turn in confidence["turns_on"])]
    assert [float(width) for width, _ in shares] == pytest.approx([100.0 * share for share in told], rel=1e-3, abs=1e-6)
    assert [word for _, word in shares] == [f"{100.0 * share:.0f}" for share in told]
