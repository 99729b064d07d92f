"""Answers are compressed where the caller takes that, and are the same all the same."""

from __future__ import annotations

import gzip
import json
import zlib

import pytest
import zstandard
from fastapi.testclient import TestClient

from tests.conftest import example

ENQUIRY = example("answer_enquiry", "swivel_proposed")
CHECK = example("check_envelope", "gearbox_input_shaft")


def raw(client: TestClient, accepted: str, body: bytes, kind: str = "application/json") -> tuple[dict[str, str], bytes]:
    headers = {"accept-encoding": accepted, "content-type": kind}
    path = "/v1/envelope-checks" if kind != "application/json" else "/v1/enquiries"
    with client.stream("POST", path, content=body, headers=headers) as answer:
        return dict(answer.headers), b"".join(answer.iter_raw())


def decoded(coding: str, content: bytes) -> bytes:
    return (
        gzip.decompress(content)
        if coding == "gzip"
        else zstandard.ZstdDecompressor().decompressobj().decompress(content)
    )


@pytest.mark.parametrize("coding", ["gzip", "zstd"])
def test_an_answer_is_compressed_and_is_the_same(client: TestClient, coding: str) -> None:
    body = json.dumps(ENQUIRY).encode()
    _, plain = raw(client, "identity", body)
    headers, content = raw(client, coding, body)
    assert headers["content-encoding"] == coding
    assert "content-length" not in headers  # it leaves in pieces
    assert "Accept-Encoding" in headers["vary"]
    assert decoded(coding, content) == plain
    assert len(content) * 4 < len(plain)


@pytest.mark.parametrize("accepted", ["", "identity", "br", "deflate", "gzip;q=0", "compress, *;q=0"])
def test_a_caller_that_takes_neither_gets_it_as_it_is(client: TestClient, accepted: str) -> None:
    headers, content = raw(client, accepted, json.dumps(ENQUIRY).encode())
    assert "content-encoding" not in headers
    assert json.loads(content)["verdict"]


def test_an_answer_of_one_piece_tells_its_length(client: TestClient) -> None:
    headers = {"accept-encoding": "gzip"}
    with client.stream("POST", "/v1/envelope-checks", json=CHECK, headers=headers) as answer:
        assert answer.headers["content-encoding"] == "gzip"
        assert answer.headers["content-length"] == str(len(b"".join(answer.iter_raw())))


def test_a_small_answer_is_left_as_it_is(client: TestClient) -> None:
    answer = client.post("/v1/envelope-checks", json={"duty": 1}, headers={"accept-encoding": "gzip"})
    assert answer.status_code == 422
    assert "content-encoding" not in answer.headers
    assert answer.headers["content-type"] == "application/problem+json"


def test_each_piece_of_a_batch_can_be_read_when_it_comes(client: TestClient) -> None:
    lines = (json.dumps(CHECK) + "\n").encode() * 40
    headers = {"accept-encoding": "gzip", "content-type": "application/x-ndjson"}
    unpack = zlib.decompressobj(31)
    found: list[bytes] = []
    with client.stream("POST", "/v1/envelope-checks", content=lines, headers=headers) as answer:
        assert answer.headers["content-encoding"] == "gzip"
        found.extend(map(unpack.decompress, answer.iter_raw()))
    assert b"".join(found).count(b"\n") == 40
    assert found[0].endswith(b"\n")  # whole lines, not what happens to be ready


def test_reference_data_are_known_again_in_another_coding(client: TestClient) -> None:
    first = client.get("/v1/fluids", headers={"accept-encoding": "gzip"})
    assert first.headers["content-encoding"] == "gzip"
    assert first.headers["etag"].startswith('W/"')
    for accepted in ("gzip", "zstd", "identity"):
        again = client.get("/v1/fluids", headers={"accept-encoding": accepted, "if-none-match": first.headers["etag"]})
        assert again.status_code == 304
        assert "content-encoding" not in again.headers
        assert "Accept-Encoding" in again.headers["vary"]


def test_a_head_has_the_headers_and_no_content(client: TestClient) -> None:
    answer = client.head("/v1/fluids", headers={"accept-encoding": "gzip"})
    assert answer.status_code == 200
    assert answer.content == b""
