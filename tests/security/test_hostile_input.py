"""Hostile and broken input: each kind gets its problem document, nothing is echoed, nothing fails."""

from __future__ import annotations

import gzip
import json
import math
import threading
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from glandwise.api import problems
from glandwise.api.rates import READING, cost_of

from tests.conftest import AnsweredBy, assert_problem, changed, example

JSON = {"content-type": "application/json"}
CALCULATION = "/v1/energizer-loads"
REFERENCE = "/v1/fluids"
REQUEST = example("estimate_energizer_load", "cantilever_v")
ENVELOPE = example("check_envelope", "gearbox_input_shaft")
TEXT = json.dumps(REQUEST)
LIMIT = 4 * 1024 * 1024


def post(client: TestClient, body: Any, path: str = CALCULATION, **headers: str) -> Any:
    """Send a body as it is, bytes or text."""
    return client.post(path, content=body, headers={**JSON, **{k.replace("_", "-"): v for k, v in headers.items()}})


def test_the_unchanged_request_is_answered(client: TestClient) -> None:
    # every other test of this file changes one thing of it
    assert post(client, TEXT).status_code == 200


def with_number(token: str) -> str:
    """Return the request with the number of the contact diameter replaced by a token as it is."""
    text = json.dumps(changed(REQUEST, "/contact_diameter/value", 123456789))
    assert text.count("123456789") == 1
    return text.replace("123456789", token)


# ------------------------------------------------------------------------------------------------------- the JSON text


@pytest.mark.parametrize("token", ["NaN", "Infinity", "-Infinity", "nan", "+1", "0x10", "01", "1.", ".5", "1e", "--1"])
def test_what_is_no_json_number(client: TestClient, token: str) -> None:
    assert_problem(post(client, with_number(token)), 400, "invalid-json")


@pytest.mark.parametrize("token", ["1e400", "-1e400", "9" * 400, "1" + "0" * 309 + ".0"])
def test_number_beyond_the_range_of_a_double(client: TestClient, token: str) -> None:
    response = post(client, with_number(token))
    if response.status_code == 400:  # an integer is already refused by the parser
        assert_problem(response, 400, "invalid-json")
    else:
        assert_problem(response, 422, "invalid-request", "/contact_diameter/value")


@pytest.mark.parametrize("token", ["1e-400", "5e-324"])
def test_number_that_is_next_to_nothing(client: TestClient, token: str) -> None:
    kind = "invalid-request" if float(token) == 0.0 else "out-of-domain"
    assert_problem(post(client, with_number(token)), 422, kind)


def test_integer_of_5000_digits(client: TestClient) -> None:
    assert_problem(post(client, with_number("9" * 5000)), 400, "invalid-json", secret="99999")
    text = json.dumps(changed(REQUEST, "/sampling", {"seed": 123456789})).replace("123456789", "9" * 5000)
    assert_problem(post(client, text), 400, "invalid-json", secret="99999")


def test_integer_beyond_its_range(client: TestClient) -> None:
    for seed in (2**31, 2**53 + 1, 2**63, 2**64, -1):
        response = post(client, json.dumps(changed(REQUEST, "/sampling", {"seed": seed})))
        assert_problem(response, 422, "invalid-request", "/sampling/seed")


@pytest.mark.parametrize("escape", ["\\ud800", "\\udc00", "\\udc00\\ud800", "\\ud83d", "\\u12", "\\ud800\\u0041"])
@pytest.mark.parametrize("place", ['"R30003"', '"alloy"'])
def test_lone_surrogate_by_escape(client: TestClient, escape: str, place: str) -> None:
    text = TEXT.replace(place, f'"secret{escape}"')
    assert_problem(post(client, text), 400, "invalid-json", secret="secret")


@pytest.mark.parametrize("raw", [b"\xed\xa0\x80", b"\xed\xb0\x80"])
def test_lone_surrogate_as_bytes(client: TestClient, raw: bytes) -> None:
    assert_problem(
        post(client, TEXT.encode().replace(b"R30003", b"secret" + raw)), 400, "invalid-json", secret="secret"
    )


@pytest.mark.parametrize("raw", [b"\xff\xfe", b"\xc0\xaf", b"\x80", b"\xf5\x80\x80\x80", b"\xe2\x82"])
def test_bad_utf8(client: TestClient, raw: bytes) -> None:
    assert_problem(post(client, TEXT.encode().replace(b"R30003", raw)), 400, "invalid-json")


def test_bytes_that_are_not_utf8_text(client: TestClient) -> None:
    for body in (
        b"\xef\xbb\xbf" + TEXT.encode(),
        TEXT.encode("utf-16"),
        TEXT.encode("utf-32"),
        gzip.compress(TEXT.encode()),
    ):
        assert_problem(post(client, body), 400, "invalid-json")


def test_control_characters_in_a_string(client: TestClient) -> None:
    assert_problem(post(client, TEXT.replace("R30003", "R3\n0003")), 400, "invalid-json")
    assert_problem(post(client, TEXT.replace("R30003", "R3\\u0000")), 422, "invalid-request", "/energizer/alloy")


def test_duplicate_keys(client: TestClient) -> None:
    for key in ("temperature", "temperatur\\u0065"):
        text = TEXT.replace('"temperature"', f'"{key}": {{"value": 77731, "unit": "K"}}, "temperature"')
        problem = assert_problem(post(client, text), 400, "invalid-json", secret="77731")
        assert "twice" in problem["detail"]


@pytest.mark.parametrize(
    "body",
    [
        "[" * 50_000 + "]" * 50_000,
        '{"a":' * 50_000 + "1" + "}" * 50_000,
        "[" * 50_000,
        TEXT[:-1] + ', "x": ' + "[" * 50_000,
    ],
    ids=["arrays", "objects", "unclosed", "inside"],
)
def test_deep_nesting(client: TestClient, body: str) -> None:
    problem = assert_problem(post(client, body), 400, "invalid-json")
    assert "recursion" in problem["detail"]


@pytest.mark.parametrize("body", ["", " \r\n\t "])
def test_empty_body(client: TestClient, body: str) -> None:
    problem = assert_problem(post(client, body), 400, "invalid-json")
    assert "empty" in problem["detail"]


@pytest.mark.parametrize("body", ["[]", '"text"', "1", "null", "true", f"[{TEXT}]"])
def test_body_that_is_not_an_object(client: TestClient, body: str) -> None:
    assert_problem(post(client, body), 422, "invalid-request", "")


def test_object_without_fields(client: TestClient) -> None:
    problem = assert_problem(post(client, "{}"), 422, "invalid-request", "/energizer")
    assert {error["pointer"] for error in problem["errors"]} == {"/energizer", "/contact_diameter", "/temperature"}


@pytest.mark.parametrize(
    "text", [TEXT + "x", TEXT + TEXT, "/* */" + TEXT, TEXT.replace('"', "'"), TEXT[:-1], TEXT[:-1] + ",}"]
)
def test_text_around_or_instead_of_json(client: TestClient, text: str) -> None:
    assert_problem(post(client, text), 400, "invalid-json")


# ------------------------------------------------------------------------------------------------------- the fields


def test_wrong_unit_for_the_dimension(client: TestClient) -> None:
    for unit in ("psi", "rpm", "degC", "mm2", "MM", "m m", "mm;", "", "1"):
        response = post(client, json.dumps(changed(REQUEST, "/contact_diameter/unit", unit)))
        problem = assert_problem(response, 422, "invalid-request", "/contact_diameter/unit")
        assert "'mm'" in problem["errors"][0]["accepted"]


def test_unit_expressions_are_not_evaluated(client: TestClient) -> None:
    # a unit parser that took these would run for ages, or run code
    for unit in ("mm**9999999999", "1e9999*mm", "(" * 1000 + "mm", "__import__('os')", "mm" * 500_000):
        response = post(client, json.dumps(changed(REQUEST, "/contact_diameter/unit", unit)))
        assert_problem(response, 422, "invalid-request", "/contact_diameter/unit", secret=unit[:40])
        assert response.elapsed.total_seconds() < 1.0


def test_huge_strings(client: TestClient) -> None:
    huge = "Qx" * 500_000
    assert_problem(post(client, json.dumps(changed(REQUEST, "/energizer/alloy", huge))), 422, "invalid-request",
                   "/energizer/alloy", secret="QxQxQx")  # fmt: skip
    assert_problem(post(client, json.dumps(changed(REQUEST, "/energizer/kind", huge))), 422, "invalid-request",
                   "/energizer/kind", secret="QxQxQx")  # fmt: skip
    response = post(client, json.dumps(changed(REQUEST, f"/{huge}", 1)))
    assert_problem(response, 422, "invalid-request")
    assert len(response.content) < 2000


def test_many_unknown_fields_give_a_short_problem(client: TestClient) -> None:
    response = post(client, json.dumps({**REQUEST, **{f"field{number}": 0 for number in range(20_000)}}))
    problem = assert_problem(response, 422, "invalid-request")
    assert "19999 more" in problem["detail"]


@pytest.mark.parametrize(
    "name", ["colour", "__proto__", "constructor", "prototype", "__class__", "toString", "$ref", "", " "]
)
@pytest.mark.parametrize("place", ["", "/energizer", "/contact_diameter", "/energizer/compression/free_height"])
def test_unknown_field(client: TestClient, name: str, place: str) -> None:
    request = changed(REQUEST, f"{place}/{name}", {"polluted": "secret value"})
    assert_problem(post(client, json.dumps(request)), 422, "invalid-request", f"{place}/{name}", secret="secret value")


def test_unknown_field_is_named_by_plain_characters_alone(client: TestClient) -> None:
    request = {**REQUEST, "a/b~c\r\n\u2028<script>\u001b[2J'\"": 1}
    problem = assert_problem(post(client, json.dumps(request)), 422, "invalid-request")
    assert problem["errors"][0]["pointer"] == "/a~1b~0c????script??[2J??"
    assert problem["detail"].startswith("/a~1b~0c????script??[2J??: ")


@pytest.mark.parametrize("value", ["25", "25 mm", True, False, None, [], [25], {}, {"value": 25}])
def test_number_of_another_type(client: TestClient, value: Any) -> None:
    response = post(client, json.dumps(changed(REQUEST, "/contact_diameter/value", value)))
    assert_problem(response, 422, "invalid-request", "/contact_diameter/value")


@pytest.mark.parametrize("value", [25, "25", "25 mm 3", "25 furlong", True, None, [25, "mm"]])
def test_quantity_of_another_type(client: TestClient, value: Any) -> None:
    response = post(client, json.dumps(changed(REQUEST, "/contact_diameter", value)))
    assert_problem(response, 422, "invalid-request", "/contact_diameter")


@pytest.mark.parametrize("value", ["true", 1, 0, "yes", []])
def test_truth_value_of_another_type(client: TestClient, value: Any) -> None:
    response = post(client, json.dumps(changed(ENVELOPE, "/duty/food_contact", value)), "/v1/envelope-checks")
    assert_problem(response, 422, "invalid-request", "/duty/food_contact")


@pytest.mark.parametrize("value", [1.5, "10000", True, 1e3 + 0.5])
def test_whole_number_of_another_type(client: TestClient, value: Any) -> None:
    response = post(client, json.dumps(changed(REQUEST, "/sampling", {"samples": value})))
    assert_problem(response, 422, "invalid-request", "/sampling/samples")


@pytest.mark.parametrize(
    "value", [0, 1735689600, "1735689600", "2026-01-31T00:00:00", "2026-1-31", "2026-02-30", "٢٠٢٦-٠١-٣١"]
)
def test_what_is_no_date(client: TestClient, value: Any) -> None:
    assert_problem(post(client, json.dumps({**REQUEST, "as_of": value})), 422, "invalid-request", None)
    assert_problem(client.get(REFERENCE, params={"as_of": value}), 422, "invalid-request", None)


@pytest.mark.parametrize(
    "pointer",
    ["/energizer", "/temperature", "/temperature/unit", "/energizer/kind", "/energizer/strip_thickness/nominal"],
)
def test_required_field_missing_or_null(client: TestClient, pointer: str) -> None:
    assert_problem(post(client, json.dumps(changed(REQUEST, pointer, ...))), 422, "invalid-request", pointer)
    assert_problem(post(client, json.dumps(changed(REQUEST, pointer, None))), 422, "invalid-request", pointer)


def test_field_named_like_the_kind_of_its_object(client: TestClient) -> None:
    # the field `deflection` inside a compression of kind `deflection`, and `canted_coil` inside the design
    request = changed(REQUEST, "/energizer/compression", {"kind": "deflection", "deflection": {"nominal": 1}})
    pointer = "/energizer/compression/deflection/nominal"
    assert_problem(post(client, json.dumps(request)), 422, "invalid-request", pointer)
    envelope = changed(example("check_envelope", "dough_mixer_us_units"), "/design/canted_coil", {"deflection": 1})
    response = post(client, json.dumps(envelope), "/v1/envelope-checks")
    assert_problem(response, 422, "invalid-request", "/design/canted_coil/deflection")


@pytest.mark.parametrize("name", ["unobtainium", "R3000", "r30003", "R30003; DROP TABLE alloys"])
def test_unknown_name(client: TestClient, name: str) -> None:
    response = post(client, json.dumps(changed(REQUEST, "/energizer/alloy", name)))
    kind = "unknown-name" if name.isalnum() else "invalid-request"
    problem = assert_problem(response, 422, kind, "/energizer/alloy", secret="DROP")
    assert kind != "unknown-name" or "R30003" in problem["errors"][0]["accepted"]


def test_unknown_rule_set(client: TestClient) -> None:
    assert_problem(post(client, json.dumps({**REQUEST, "rule_set": "none"})), 422, "unknown-name", "/rule_set")
    assert_problem(client.get(REFERENCE, params={"rule_set": "none"}), 422, "unknown-name", "/query/rule_set")
    assert_problem(client.get("/v1/rule-sets/none"), 404, "not-found")
    assert_problem(
        client.get(REFERENCE, params={"rule_set": "../../etc/passwd"}), 422, "invalid-request", "/query/rule_set"
    )


def test_date_before_the_rules(client: TestClient) -> None:
    assert_problem(post(client, json.dumps({**REQUEST, "as_of": "1999-12-31"})), 422, "out-of-domain", "/as_of")
    assert_problem(client.get(REFERENCE, params={"as_of": "1999-12-31"}), 422, "out-of-domain", "/query/as_of")


# ------------------------------------------------------------------------------------------------------- the message


@pytest.mark.parametrize(
    "content_type",
    [None, "", "text/plain", "text/json", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "json",
     "application/jsonp", "application/xml", "*/*"],
)  # fmt: skip
def test_missing_or_wrong_content_type(client: TestClient, content_type: str | None) -> None:
    headers = {} if content_type is None else {"content-type": content_type}
    assert_problem(client.post(CALCULATION, content=TEXT, headers=headers), 415, "unsupported-media-type")


@pytest.mark.parametrize(
    "content_type", ["application/json; charset=utf-8", "APPLICATION/JSON", "application/geo+json"]
)
def test_content_types_of_json(client: TestClient, content_type: str) -> None:
    assert client.post(CALCULATION, content=TEXT, headers={"content-type": content_type}).status_code == 200


@pytest.mark.parametrize("coding", ["gzip", "GZIP", "br", "deflate", "identity, gzip", "x"])
def test_content_coding(client: TestClient, coding: str) -> None:
    # a small body that unpacks to a hundred megabytes must not be unpacked at all
    bomb = gzip.compress(b" " * 10_000_000, 9)
    assert_problem(post(client, bomb, content_encoding=coding), 415, "unsupported-media-type")


@pytest.mark.parametrize("accept", ["image/png", "application/json;q=0", "text/plain, audio/*", "nonsense", "///;;,,"])
def test_accept_that_cannot_be_satisfied(client: TestClient, accept: str) -> None:
    problem = assert_problem(post(client, TEXT, accept=accept), 406, "not-acceptable")
    assert "application/json" in problem["detail"]
    assert_problem(client.get(REFERENCE, headers={"accept": accept}), 406, "not-acceptable")


@pytest.mark.parametrize(
    "accept", ["*/*", "application/*", "application/json", "text/plain;q=0.5, application/json;q=0.1", ""]
)
def test_accept_that_leaves_room_for_json(client: TestClient, accept: str) -> None:
    assert post(client, TEXT, accept=accept).headers["content-type"] == "application/json"
    assert client.get(REFERENCE, headers={"accept": accept}).headers["content-type"] == "application/json"


@pytest.mark.parametrize(
    "path", ["/nowhere", "/v1", "/v2/fluids", "/v1/fluids/", "/v1/energizer-loads/1", "/v1/../etc/passwd", "/v1/%2e%2e/x", "/docs/x",
             "http://testserver//", "/v1/rule-sets/..%2f..%2fetc%2fpasswd"]
)  # fmt: skip
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_unknown_path(client: TestClient, path: str, method: str) -> None:
    assert_problem(client.request(method, path), 404, "not-found", secret="passwd")


@pytest.mark.parametrize("method", ["GET", "PUT", "DELETE", "PATCH", "TRACE", "BREW"])
def test_wrong_method_on_a_calculation(client: TestClient, method: str) -> None:
    response = client.request(method, CALCULATION)
    problem = assert_problem(response, 405, "method-not-allowed")
    assert response.headers["allow"] == "POST, OPTIONS"
    assert problem["detail"] == "This path takes POST, OPTIONS."


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "TRACE"])
@pytest.mark.parametrize("path", [REFERENCE, "/v1/rule-sets/baseline", "/healthz"])
def test_wrong_method_on_a_reference(client: TestClient, method: str, path: str) -> None:
    response = client.request(method, path)
    assert_problem(response, 405, "method-not-allowed")
    assert response.headers["allow"] == "GET, HEAD, OPTIONS"


def _every_path(app: FastAPI) -> dict[str, set[str]]:
    """Return the paths of the contract and those beside it, with their methods."""
    found = {path: {method.upper() for method in methods} for path, methods in app.openapi()["paths"].items()}
    return {**found, **{path: {"GET"} for path in BESIDE_THE_CONTRACT}, "/v1/rule-set-reloads": {"POST"}}


BESIDE_THE_CONTRACT = ("/", "/page/page.css", "/docs", "/openapi.json", "/static-offline-docs/swagger-ui.css", "/metrics",
                       "/v1/rule-schemas/compounds")  # fmt: skip


def test_every_path_says_its_methods(client: TestClient, app: FastAPI) -> None:
    for path, methods in _every_path(app).items():
        taken = {*methods, "OPTIONS", *({"HEAD"} if "GET" in methods else ())}
        response = client.options(path.replace("{", "").replace("}", ""))
        assert (response.status_code, response.content) == (204, b""), path
        assert set(response.headers["allow"].split(", ")) == taken, path
        for other in {"GET", "HEAD", "POST", "PUT", "DELETE"} - taken:
            refused = client.request(other, path)
            assert refused.status_code == 405, (other, path)
            assert refused.headers["allow"] == response.headers["allow"]
    assert_problem(client.options("/nowhere"), 404, "not-found")


def test_the_methods_cost_what_reading_costs() -> None:
    assert cost_of("/v1/operating-maps") > READING
    assert cost_of("/v1/operating-maps", "OPTIONS") == READING


@pytest.mark.parametrize("kind", [kind for kind, (status, _, _) in problems.KINDS.items() if status in {429, 503}])
def test_what_may_be_asked_again_says_when(kind: str) -> None:
    assert int(problems.response(kind, "later").headers["retry-after"]) > 0
    assert problems.response(kind, "later", headers={"Retry-After": "17"}).headers["retry-after"] == "17"


def test_head_of_a_calculation_is_refused_without_a_body(client: TestClient) -> None:
    response = client.head(CALCULATION)
    assert response.status_code == 405
    assert response.headers["allow"] == "POST, OPTIONS"
    assert response.content == b""


def test_head_of_a_resource_is_its_get_without_the_body(client: TestClient) -> None:
    for path in (REFERENCE, "/healthz", "/readyz"):
        head, whole = client.head(path), client.get(path)
        assert head.status_code == 200
        assert head.content == b""
        apart = {"x-request-id"}
        assert {k: v for k, v in head.headers.items() if k not in apart} == {
            k: v for k, v in whole.headers.items() if k not in apart
        }
    tag = client.get(REFERENCE).headers["etag"]
    assert client.head(REFERENCE, headers={"if-none-match": tag}).status_code == 304


@pytest.mark.parametrize(
    ("path", "accepted"),
    [(f"{REFERENCE}?ruleset=house", "as_of, rule_set, search"), ("/v1/rule-sets?x=1&y=2", "no parameter")],
)
def test_a_parameter_that_is_not_there_is_not_ignored(client: TestClient, path: str, accepted: str) -> None:
    problem = assert_problem(client.get(path), 422, "invalid-request")
    assert {error["accepted"] for error in problem["errors"]} == {accepted}


@pytest.mark.parametrize(
    ("change", "pointer", "accepted"),
    [
        ({"duty": {"presure": 1}}, "/duty/presure", "did you mean pressure?"),
        ({"design": {"heel": "extended"}}, "/design/heel", "second_lip"),
        ({"unit": "si"}, "/unit", "did you mean units?"),
    ],
)
def test_an_unknown_field_is_told_what_there_is(
    client: TestClient, change: dict[str, Any], pointer: str, accepted: str
) -> None:
    request = example("check_envelope", "gearbox_input_shaft")
    for name, value in change.items():
        request[name] = {**request[name], **value} if isinstance(value, dict) else value
    problem = assert_problem(client.post("/v1/envelope-checks", json=request), 422, "invalid-request", pointer)
    found = {error["pointer"]: error["accepted"] for error in problem["errors"]}
    assert accepted in found[pointer]


@pytest.mark.parametrize("path", [CALCULATION, REFERENCE])
def test_no_cross_origin_permission_is_given(client: TestClient, path: str) -> None:
    headers = {"origin": "https://attacker.example", "access-control-request-method": "POST"}
    response = client.options(path, headers=headers)
    assert not [name for name in response.headers if name.startswith("access-control-")]


@pytest.mark.parametrize("given", ["a b", "x" * 65, "", "a;b", "<script>", "a\tb", "ä", "a,b"])
@pytest.mark.parametrize("path", [REFERENCE, "/nowhere"])
def test_request_id_that_is_no_token_is_replaced(client: TestClient, given: str, path: str) -> None:
    response = client.get(path, headers={"x-request-id": given.encode("latin-1")})
    assert response.headers["x-request-id"] != given
    assert len(response.headers["x-request-id"]) == 32


def test_line_breaks_in_a_request_id_do_not_come_back(client: TestClient) -> None:
    for given in (b"a\r\nSet-Cookie: stolen=1", b"a\nb", b"a\x00b"):
        response = client.get(REFERENCE, headers={"x-request-id": given})
        assert "set-cookie" not in response.headers
        assert len(response.headers["x-request-id"]) == 32


def test_request_id_that_is_a_token_comes_back(client: TestClient) -> None:
    token = "order-4711.line_2"
    assert client.get(REFERENCE, headers={"x-request-id": token}).headers["x-request-id"] == token
    assert post(client, TEXT, x_request_id=token).headers["x-request-id"] == token
    problem = assert_problem(post(client, "{", x_request_id=token), 400, "invalid-json")
    assert problem["request_id"] == token


def test_ten_megabytes_declared(client: TestClient) -> None:
    assert_problem(post(client, b" " * 10_000_000), 413, "content-too-large")


def test_ten_megabytes_in_chunks_are_read_no_further_than_the_limit(client: TestClient) -> None:
    sent = 0

    def chunks() -> Iterator[bytes]:
        nonlocal sent
        for _ in range(160):
            sent += 65536
            yield b" " * 65536

    assert_problem(post(client, chunks()), 413, "content-too-large")
    assert sent >= LIMIT


def test_body_just_within_the_limit_is_read(client: TestClient) -> None:
    assert post(client, TEXT + " " * (LIMIT - len(TEXT))).status_code == 200
    assert_problem(post(client, TEXT + " " * (LIMIT - len(TEXT) + 1)), 413, "content-too-large")


@pytest.mark.parametrize("declared", ["-1", "abc", "1e3", "", "99999999999999999999"])
def test_declared_length_that_is_no_length(client: TestClient, declared: str) -> None:
    response = post(client, TEXT, content_length=declared)
    if declared.isdecimal():
        assert_problem(response, 413, "content-too-large")
    else:
        assert response.status_code in {200, 400}


def test_query_parameters_on_a_calculation_are_refused(client: TestClient) -> None:
    response = post(client, TEXT, f"{CALCULATION}?units=us&working=true&__proto__=1")
    problem = assert_problem(response, 422, "invalid-request")
    assert [error["pointer"] for error in problem["errors"]] == ["/query/__proto__", "/query/units", "/query/working"]


def test_many_and_long_headers(client: TestClient) -> None:
    headers = {f"x-header-{number}": "v" * 100 for number in range(200)}
    assert client.get(REFERENCE, headers=headers).status_code == 200


# ------------------------------------------------------------------------------------------------------- the physics

UNPHYSICAL = [
    ("check_envelope", "gearbox_input_shaft", "/duty/shaft_diameter", {"value": 9, "unit": "m"}, None),
    ("check_envelope", "gearbox_input_shaft", "/duty/bore/diameter", {"value": 40, "unit": "mm"}, None),
    ("check_envelope", "gearbox_input_shaft", "/duty/bore/diameter", {"value": 45, "unit": "mm"}, None),
    ("check_envelope", "gearbox_input_shaft", "/duty/temperature/minimum", {"value": 91, "unit": "degC"}, None),
    ("check_envelope", "gearbox_input_shaft", "/duty/temperature/maximum", {"value": 89, "unit": "degC"}, None),
    ("check_envelope", "gearbox_input_shaft", "/duty/temperature/minimum", {"value": -300, "unit": "degC"}, None),
    ("check_envelope", "gearbox_input_shaft", "/duty/temperature/normal", {"value": -500, "unit": "degF"}, None),
    ("check_envelope", "gearbox_input_shaft", "/duty/temperature/normal", {"value": -0.1, "unit": "K"}, None),
    ("check_envelope", "gearbox_input_shaft", "/duty/pressure", {"value": -2, "unit": "bar"}, None),
    ("check_envelope", "gearbox_input_shaft", "/design/garter", {
        "wire_diameter": {"value": 1, "unit": "mm"}, "mean_coil_diameter": {"value": 5, "unit": "mm"},
        "free_length": {"value": 200, "unit": "mm"}, "initial_tension": {"value": 1, "unit": "N"},
        "active_coils": {"value": 180, "unit": "1"}}, None),
    ("check_envelope", "high_pressure_swivel", "/design/cantilever_v", {
        "strip_thickness": {"value": 0.1, "unit": "mm"}, "finger_length": {"value": 2, "unit": "mm"},
        "root_angle": {"value": 20, "unit": "deg"}, "coverage": {"value": 0.8, "unit": "1"},
        "deflection": {"value": 3, "unit": "mm"}}, "/design/cantilever_v/deflection"),
    ("estimate_energizer_load", "cantilever_v", "/energizer/strip_thickness/nominal", {"value": 3, "unit": "mm"},
     "/energizer/strip_thickness"),
    ("estimate_energizer_load", "cantilever_v", "/energizer/strip_thickness/minus", {"value": 0.1, "unit": "mm"}, None),
    ("estimate_energizer_load", "cantilever_v", "/energizer/coverage", {"value": 101, "unit": "%"}, None),
    ("estimate_energizer_load", "cantilever_v", "/energizer/root_angle", {"value": 95, "unit": "deg"}, None),
    ("estimate_energizer_load", "cantilever_v", "/energizer/compression/gland_height/nominal", {"value": 2, "unit": "mm"},
     "/energizer/compression/gland_height"),
    ("estimate_energizer_load", "cantilever_v", "/energizer/compression/gland_height/nominal", {"value": 0.01, "unit": "mm"},
     "/energizer/compression"),
    ("estimate_energizer_load", "canted_coil", "/energizer/compression/deflection/nominal", {"value": 3.2, "unit": "mm"},
     "/energizer/compression"),
    ("estimate_energizer_load", "canted_coil", "/energizer/pitch/nominal", {"value": 0.2, "unit": "mm"}, "/energizer/pitch"),
    ("estimate_energizer_load", "canted_coil", "/energizer/coil_height/nominal", {"value": 0.5, "unit": "mm"},
     "/energizer/coil_height"),
    ("estimate_energizer_load", "garter_us_units", "/energizer/mean_coil_diameter/nominal", {"value": 0.01, "unit": "in"},
     "/energizer/mean_coil_diameter"),
    ("estimate_energizer_load", "o_ring", "/energizer/section/nominal", {"value": 50, "unit": "mm"}, "/energizer/section"),
    ("estimate_energizer_load", "o_ring", "/energizer/gland_height/nominal", {"value": 2.7, "unit": "mm"},
     "/energizer/gland_height"),
    ("estimate_energizer_load", "o_ring", "/energizer/seat_diameter", {"value": 20, "unit": "mm"}, None),
    ("allow_runout", "agitator_at_given_speeds", "/rotational_speeds/1", {"value": 1e9, "unit": "rpm"}, None),
    ("allow_runout", "agitator_at_given_speeds", "/service_time", {"value": 1e9, "unit": "h"}, None),
]  # fmt: skip
PATHS = {
    "check_envelope": "/v1/envelope-checks",
    "estimate_energizer_load": CALCULATION,
    "allow_runout": "/v1/runout-allowances",
}


@pytest.mark.parametrize(
    ("operation", "name", "pointer", "value", "at"),
    UNPHYSICAL,
    ids=[f"{row[0]}-{row[1]}-{row[2]}" for row in UNPHYSICAL],
)
def test_unphysical(client: TestClient, operation: str, name: str, pointer: str, value: Any, at: str | None) -> None:
    request = changed(example(operation, name), pointer, value)
    response = post(client, json.dumps(request), PATHS[operation])
    assert_problem(response, 422, "out-of-domain", at or pointer)


@pytest.mark.parametrize(
    ("operation", "name", "pointer"),
    [
        ("check_envelope", "gearbox_input_shaft", "/duty/shaft_diameter"),
        ("check_envelope", "gearbox_input_shaft", "/duty/motion/rotational_speed"),
        ("check_envelope", "gearbox_input_shaft", "/duty/runout"),
        ("check_envelope", "high_pressure_swivel", "/duty/motion/frequency"),
        ("estimate_energizer_load", "o_ring", "/energizer/section/nominal"),
        ("estimate_energizer_load", "o_ring", "/contact_diameter"),
    ],
)
def test_negative_number_where_none_can_be(client: TestClient, operation: str, name: str, pointer: str) -> None:
    request = changed(example(operation, name), f"{pointer}/value", -1)
    response = post(client, json.dumps(request), PATHS[operation])
    assert_problem(response, 422, "invalid-request", f"{pointer}/value")


@pytest.mark.parametrize(
    ("value", "unit"), [(0, "K"), (-273.15, "degC"), (-459.67, "degF")], ids=["kelvin", "celsius", "fahrenheit"]
)
def test_absolute_zero_is_the_same_in_every_unit(client: TestClient, value: float, unit: str) -> None:
    answers = post(client, json.dumps(changed(REQUEST, "/temperature", {"value": value, "unit": unit})))
    kelvin = post(client, json.dumps(changed(REQUEST, "/temperature", {"value": 0, "unit": "K"})))
    assert answers.content == kelvin.content or answers.status_code == kelvin.status_code == 422


def test_squeeze_beyond_the_section(client: TestClient) -> None:
    # a negative gland height is the only way to squeeze a ring by more than itself
    request = changed(example("estimate_energizer_load", "o_ring"), "/energizer/gland_height/nominal/value", -0.1)
    assert_problem(post(client, json.dumps(request)), 422, "invalid-request", "/energizer/gland_height/nominal/value")


def test_answers_hold_no_number_that_is_not_finite(client: TestClient) -> None:
    # far outside the range of the model: what cannot be evaluated is null, with a status that says so
    request = changed(
        example("estimate_energizer_load", "canted_coil"), "/energizer/cant_angle", {"value": 80, "unit": "deg"}
    )
    response = post(client, json.dumps(request))
    assert response.status_code == 200

    def refuse(token: str) -> float:
        raise AssertionError(token)

    answer = json.loads(response.content, parse_constant=refuse)
    assert answer["verdict"] == "not_evaluated"
    assert answer["load"]["nominal"] is None
    assert all(math.isfinite(point["line_load"]["value"]) for point in answer["curve"])


def test_only_the_faults_that_are_listed_are_put_into_words(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Looking for a close name among the fields takes a while, and nobody else is answered meanwhile."""
    worded: list[Any] = []
    field_problem = problems.field_problem

    def counting(*given: Any) -> Any:
        worded.append(given)
        return field_problem(*given)

    monkeypatch.setattr(problems, "field_problem", counting)
    response = client.post(
        PATHS["check_envelope"], json={**ENVELOPE, **{f"pressur{number}": 0 for number in range(3000)}}
    )
    problem = assert_problem(response, 422, "invalid-request")
    assert len(problem["errors"]) == len(worded) == problems.MOST_FAULTS
    assert "(and 2999 more)" in problem["detail"]


def test_more_faults_than_can_be_named(client: TestClient) -> None:
    many = {**ENVELOPE, **{f"pressure{number}": 0 for number in range(problems.MOST_READ + 1)}}
    problem = assert_problem(client.post(PATHS["check_envelope"], json=many), 422, "invalid-request", "")
    assert f"{problems.MOST_READ + 1} fields" in problem["detail"]


def test_a_large_body_is_read_off_the_event_loop(monkeypatch: pytest.MonkeyPatch) -> None:
    threads: list[int] = []

    def noting(body: bytes) -> Any:
        threads.append(threading.get_ident())
        return read_json(body)

    from glandwise.api import calculation
    from glandwise.api.body import read_json
    from glandwise.app import create_app

    monkeypatch.setattr(calculation, "read_json", noting)
    with TestClient(create_app()) as session:
        plain = session.post(PATHS["check_envelope"], json=ENVELOPE)
        large = session.post(PATHS["check_envelope"], content=json.dumps(ENVELOPE).encode() + b" " * 300_000,
                             headers={"content-type": "application/json"})  # fmt: skip
        assert plain.content == large.content
    assert len(set(threads)) == 2


# ------------------------------------------------------------------------------------------------------- a defect


def test_a_defect_is_answered_with_a_problem_and_tells_nothing(answered_by: AnsweredBy) -> None:
    from glandwise.app import create_app

    def fail(*arguments: Any) -> None:
        raise RuntimeError("secret inside")

    answered_by("check_envelope", fail)
    with TestClient(create_app(), raise_server_exceptions=False) as session:
        response = session.post("/v1/envelope-checks", json=ENVELOPE, headers={"x-request-id": "abc-1"})
    problem = assert_problem(response, 500, "internal-error", secret="secret inside")
    assert problem["request_id"] == "abc-1"


@pytest.mark.parametrize("content_type", ["application/json", "application/x-ndjson"])
def test_declared_length_of_5000_digits(client: TestClient, content_type: str) -> None:
    headers = {"content-type": content_type, "content-length": "9" * 5000}
    assert_problem(client.post(CALCULATION, content=TEXT, headers=headers), 413, "content-too-large")
    headers["content-length"] = "0" * 5000 + str(len(TEXT))
    assert client.post(CALCULATION, content=TEXT, headers=headers).status_code == 200
