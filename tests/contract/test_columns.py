"""Envelope checks by columns: what a table is told is what each of its rows is told alone."""

from __future__ import annotations

import asyncio
import json
import os
import random
import subprocess
import sys
from collections.abc import Iterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest
from fastapi.testclient import TestClient
from glandwise.api.columns import answer as answer_table
from glandwise.api.desk import Desk, WorkerLost
from glandwise.api.negotiation import COLUMNS
from glandwise.api.problems import ProblemError
from glandwise.app import create_app
from glandwise.case import flat as corpus
from glandwise.contract.envelope import EnvelopeCheckRequest
from glandwise.operations import XLSX
from glandwise.questions.envelope import flat_check
from glandwise.settings import Settings

from tests.conftest import ROOT, assert_problem, changed, load_examples

PATH = "/v1/envelope-checks"
HEADERS = {"content-type": COLUMNS}
REQUESTS = [entry.request for entry in load_examples() if entry.operation == "check_envelope"]


def rows(count: int) -> list[dict[str, Any]]:
    """Invented cases around the examples, so many that most criteria pass here and fail there."""
    seeded = random.Random(3601)
    found = []
    for place in range(count):
        request = {key: REQUESTS[place % len(REQUESTS)][key] for key in ("duty", "design")}
        for pointer, shares in (
            ("/duty/pressure/value", [0.3, 0.9, 1.0, 1.5, 4.0]),
            ("/duty/shaft_diameter/value", [0.5, 0.8, 1.0]),
            ("/duty/runout/value", [0.3, 1.0, 2.0]),
        ):
            value: Any = request
            for part in pointer.split("/")[1:]:
                value = value.get(part) if isinstance(value, dict) else None
            if value is not None:
                request = changed(request, pointer, value * seeded.choice(shares))
        request = changed(request, "/duty/food_contact", seeded.random() < 0.3)
        request = changed(
            request, "/duty/contaminants", seeded.choice(["clean", "dusty", "abrasive", "wet", "submerged", None])
        )
        found.append(request)
    return found


def table(requests: list[dict[str, Any]], **metadata: Any) -> pa.Table:
    """Requests as a flat table."""
    models = [EnvelopeCheckRequest.model_validate(request) for request in requests]
    flat = [corpus.flatten(f"case {place}", one.duty, one.design) for place, one in enumerate(models)]
    made = pa.table(corpus.table(flat))
    return made.replace_schema_metadata({"glandwise": json.dumps(metadata)}) if metadata else made


def stream(content: pa.Table, **options: Any) -> bytes:
    """A table as an Arrow IPC stream."""
    sink = pa.BufferOutputStream()
    with pa.ipc.new_stream(sink, content.schema, options=pa.ipc.IpcWriteOptions(**options)) as writer:
        writer.write_table(content, max_chunksize=7)
    return bytes(sink.getvalue())


def answer(client: TestClient, content: bytes) -> pa.Table:
    """What comes back for a stream."""
    response = client.post(PATH, content=content, headers=HEADERS)
    assert response.status_code == 200, response.text
    assert response.headers["content-type"] == COLUMNS
    found = pa.ipc.open_stream(response.content).read_all()
    found.validate(full=True)
    return found


@pytest.fixture(scope="module")
def service() -> Iterator[TestClient]:
    """A service that judges tables in a thread."""
    with TestClient(create_app(Settings(batch_workers=0))) as session:
        yield session


@pytest.mark.parametrize("units", ["si", "us"])
def test_a_table_is_told_what_each_row_is_told_alone(service: TestClient, units: str) -> None:
    requests = rows(60)
    found = answer(service, stream(table(requests, units={"system": units})))
    said = json.loads(found.schema.metadata[b"glandwise"])
    verdicts = set()
    for place, (request, row) in enumerate(zip(requests, found.to_pylist(), strict=True)):
        alone = service.post(PATH, json={**request, "units": {"system": units}}).json()
        assert row["case_id"] == f"case {place}"
        assert row["fault"] is None
        assert (row["verdict"], row["governing"]) == (alone["verdict"], alone["governing"]["id"])
        verdicts.add(row["verdict"])
        for item in alone["criteria"]:
            name = item["id"]
            assert row[f"{name}.status"] == item["status"], name
            if f"{name}.utilization" not in row:
                assert item["utilization"] is None
                continue
            loose = 2e-3 if name == "contact_temperature" else 1e-6  # solved to 0.01 K, each in its own way
            pairs = [(row[f"{name}.utilization"], item["utilization"])]
            pairs += [
                (row[f"{name}.{part} [{item[part]['unit']}]"], item[part]["value"])
                for part in ("demand", "capacity")
                if item[part] is not None
            ]
            for own, other in pairs:
                assert own == (None if other is None else pytest.approx(other, rel=loose, abs=1e-9)), name
        assert {item["id"] for item in alone["cautions"]} == {key for key in said["cautions"] if row[f"caution.{key}"]}
        assert all(item["text"] == said["cautions"][item["id"]] for item in alone["cautions"])
        assert {key: alone["stamp"][key] for key in ("engine", "rule_set")} == {
            key: said[key] for key in ("engine", "rule_set")
        }
    assert {"caution", "fail"} <= verdicts


def test_rows_without_an_id_are_numbered_over_the_whole_stream(service: TestClient) -> None:
    content = table(rows(20)).drop_columns("case_id")
    assert answer(service, stream(content)).column("case_id").to_pylist() == [str(place) for place in range(1, 21)]


def test_units_stand_in_headings_and_types_may_vary(service: TestClient) -> None:
    """One case as text, as narrow numbers, as a dictionary: the same answer."""
    plain = pa.table({
        "shaft_diameter [mm]": [60.0], "rotational_speed [rpm]": [420], "pressure [psi]": [12.0], "temperature [degC]": [45.0],
        "fluid": ["mineral_oil_gear"], "family": ["flexible_lip"], "compound": ["ptfe_carbon_graphite_25"],
        "reinforcing_band": [True], "runout [µm]": pa.nulls(1),
    })  # fmt: skip
    text = pa.table({name: pa.array([None if v is None else str(v) for v in plain[name].to_pylist()], pa.large_string())
                     for name in plain.column_names})  # fmt: skip
    narrow = plain.set_column(1, "rotational_speed [rpm]", pa.array([420], pa.int16()))
    coded = plain.set_column(4, "fluid", plain["fluid"].dictionary_encode())
    found = [answer(service, stream(one)).to_pylist() for one in (plain, text, narrow, coded)]
    assert found[0][0]["pressure.demand [MPa]"] == pytest.approx(0.08273709, rel=1e-6)
    assert found[1:] == found[:1] * 3


def test_a_refused_row_stops_no_other(service: TestClient) -> None:
    content = table(rows(3))
    fluids = content["fluid"].to_pylist()
    content = content.set_column(content.column_names.index("fluid"), "fluid", [[fluids[0], "unobtainium", fluids[2]]])
    found = answer(service, stream(content)).to_pylist()
    first, second, third = (row["fault"] for row in found)
    assert first is third is None
    assert second.startswith("fluid: no fluid of this name in the rule set; accepted: one of: ")
    assert {value for key, value in found[1].items() if key not in {"case_id", "fault"}} == {None}
    assert found[0]["verdict"] is not None
    assert found[2]["caution.estimate"] is True


def test_compressed_streams_are_read(service: TestClient) -> None:
    content = table(rows(10))
    assert answer(service, stream(content, compression="zstd")).equals(answer(service, stream(content)))


def test_the_date_of_the_rules_is_chosen_as_in_a_request(service: TestClient) -> None:
    said = answer(service, stream(table(rows(1), as_of="2026-06-30", rule_set="baseline"))).schema.metadata
    assert json.loads(said[b"glandwise"])["rule_set"]["as_of"] == "2026-06-30"


# ------------------------------------------------------------------------------------------------------------ refused


@pytest.mark.parametrize(
    ("metadata", "status", "kind", "pointer"),
    [
        ({"rule_set": "unheard_of"}, 422, "unknown-name", "/options/rule_set"),
        ({"as_of": "1999-01-01"}, 422, "out-of-domain", "/options/as_of"),
        ({"units": {"system": "cgs"}}, 422, "invalid-request", "/options/units/system"),
        ({"working": True}, 422, "invalid-request", "/options/working"),
        ({"colour": 1}, 422, "invalid-request", "/options/colour"),
    ],
)
def test_options_are_judged_as_in_a_request(
    service: TestClient, metadata: dict[str, Any], status: int, kind: str, pointer: str
) -> None:
    response = service.post(PATH, content=stream(table(rows(1), **metadata)), headers=HEADERS)
    assert_problem(response, status, kind, pointer)


def test_options_that_are_no_json_are_refused(service: TestClient) -> None:
    content = table(rows(1)).replace_schema_metadata({"glandwise": "{"})
    assert_problem(service.post(PATH, content=stream(content), headers=HEADERS), 400, "invalid-json")


def columns(**changes: Any) -> pa.Table:
    content = table(rows(2))
    for name, column in changes.items():
        if column is None:
            content = content.drop_columns(name)
        elif name in content.column_names:
            content = content.set_column(content.column_names.index(name), name, column)
        else:
            content = content.append_column(name, column)
    return content


@pytest.mark.parametrize(
    ("content", "pointer", "words"),
    [
        (columns(colour=[["a", "b"]]), "/colour", "no such column"),
        (columns(**{"pressure [Pa]": None}), "/pressure", "missing"),
        (columns().rename_columns({"pressure [Pa]": "pressure"}), "/pressure", "the heading has no unit"),
        (
            columns(**{"pressure [Pa]": None}).append_column("pressure [bara]", [[1.0, 2.0]]),
            "/pressure [bara]",
            "absolute",
        ),
        (columns(fluid=pa.array([["a"], ["b"]])), "/fluid", "of this type"),
        (columns(**{"pressure [Pa]": pa.array([b"1", b"2"])}), "/pressure [Pa]", "of this type"),
        (columns(**{"runout [m]": pa.array([1, 2], pa.timestamp("s"))}), "/runout [m]", "of this type"),
        (columns(**{"pressure [psi]": [[1.0, 2.0]]}), "/pressure [psi]", "twice"),
        (columns(**{"shaft_hardness [psi]": [[1.0, 2.0]]}), "/shaft_hardness [psi]", "the unit does not fit"),
        (columns().append_column("fluid", [["a", "b"]]), "/fluid", "twice"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_table_that_cannot_be_read_names_the_column(
    service: TestClient, content: pa.Table, pointer: str, words: str
) -> None:
    response = service.post(PATH, content=stream(content), headers=HEADERS)
    problem = assert_problem(response, 422, "invalid-request", pointer)
    assert words in problem["errors"][0]["detail"]


def test_a_table_without_a_row_is_refused(service: TestClient) -> None:
    for content in (stream(table(rows(1)).slice(0, 0)), stream(pa.table({}))):
        response = service.post(PATH, content=content, headers=HEADERS)
        assert "no row" in assert_problem(response, 422, "invalid-request", "")["detail"]


def test_rows_and_bytes_are_bounded() -> None:
    with TestClient(create_app(Settings(batch_workers=0, max_batch_lines=5, max_batch_bytes=100_000))) as session:
        problem = assert_problem(
            session.post(PATH, content=stream(table(rows(6))), headers=HEADERS), 413, "content-too-large"
        )
        assert "5 rows" in problem["detail"]
        assert_problem(session.post(PATH, content=b"x" * 100_001, headers=HEADERS), 413, "content-too-large")


def test_only_the_envelope_takes_columns(service: TestClient) -> None:
    response = service.post("/v1/friction-estimates", content=b"", headers=HEADERS)
    problem = assert_problem(response, 415, "unsupported-media-type")
    accepted = problem["detail"].partition("accepted: ")[2].split(", ")
    assert accepted == ["application/json", "application/x-ndjson", "text/csv", XLSX]


def test_columns_are_answered_in_columns_only(service: TestClient) -> None:
    response = service.post(PATH, content=b"", headers={**HEADERS, "accept": "application/json"})
    assert_problem(response, 406, "not-acceptable")


# ------------------------------------------------------------------------------------------------------------ hostile


@pytest.mark.slow
def test_broken_streams_are_refused_and_bring_nothing_down() -> None:
    """Cut short at any place, and with bytes changed at random; in a worker, where a crash would cost a 500."""
    whole = stream(table(rows(10)))
    seeded = random.Random(16589)
    with TestClient(create_app(Settings(batch_workers=1))) as session:
        for size in range(0, len(whole), len(whole) // 150):
            content = whole[:size]
            response = session.post(PATH, content=content, headers=HEADERS)
            assert response.status_code in {200, 400, 422}, response.text  # a stream may end between two batches
        statuses = set()
        for _ in range(300):
            content = bytearray(whole)
            for _ in range(seeded.choice([1, 2, 5, 20])):
                content[seeded.randrange(len(content))] = seeded.randrange(256)
            statuses.add(session.post(PATH, content=bytes(content), headers=HEADERS).status_code)
        assert statuses <= {200, 400, 422}
        assert 400 in statuses
        assert len(answer(session, whole)) == 10


_MAKE = """
import sys
import pyarrow as pa
column = pa.array([b"a" * (1 << 29)], pa.binary()).cast(pa.string())
batch = pa.record_batch({"fluid": column})
with pa.ipc.new_stream(sys.argv[1], batch.schema, options=pa.ipc.IpcWriteOptions(compression="zstd")) as writer:
    writer.write_batch(batch)
"""
_READ = """
import sys
from pathlib import Path
from glandwise.api import columns, memory
from glandwise.api.problems import ProblemError
columns.is_worker = memory.is_worker = lambda: True
try:
    columns.judge_stream(None, Path(sys.argv[1]).read_bytes(), 10, 1 << 28)
except ProblemError as error:
    print(error.kind)
assert len(bytearray(1 << 29)) == 1 << 29  # the bound is gone again
"""


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere the system does not bound the memory of a process")
def test_a_small_stream_that_unpacks_to_a_large_one_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "stream.arrow"
    subprocess.run([sys.executable, "-c", _MAKE, path], check=True)
    assert path.stat().st_size < 1 << 20
    done = subprocess.run([sys.executable, "-c", _READ, path], capture_output=True, text=True, check=False, cwd=ROOT)
    assert (done.stdout, done.returncode) == ("content-too-large\n", 0), done.stderr


_LOW = """
import resource
from pathlib import Path
from glandwise.api import memory
memory.is_worker = lambda: True
size = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
low = size + (1 << 27)
resource.setrlimit(resource.RLIMIT_AS, (low, low))
with memory.bounded(1 << 40):
    assert resource.getrlimit(resource.RLIMIT_AS) == (low, low)
with memory.bounded(1 << 20):
    assert resource.getrlimit(resource.RLIMIT_AS)[0] < low
assert resource.getrlimit(resource.RLIMIT_AS) == (low, low)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere the system does not bound the memory of a process")
def test_a_lower_bound_of_the_system_stands() -> None:
    done = subprocess.run([sys.executable, "-c", _LOW], capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 0, done.stderr


_WITHOUT = """
import json, sys
from fastapi.testclient import TestClient
from glandwise.app import create_app
case = {name: json.loads(sys.argv[1])[name] for name in ("duty", "design")}
cells = "shaft_diameter [mm],rotational_speed [rpm],pressure [bar],temperature [degC],fluid,family,compound\\n" \\
    "60,420,1,45,mineral_oil_gear,flexible_lip,ptfe_carbon_graphite_25\\n"
with TestClient(create_app(), client=("127.0.0.1", 50000)) as client:
    def ask(form, content):
        answer = client.post("/v1/envelope-checks", content=content, headers={"content-type": form})
        return answer.status_code, answer.content
    told = {"one": ask("application/json", json.dumps(case))[0]}
    told["lines"] = ask("application/x-ndjson", json.dumps(case))[1].count(b'"status":200')
    told["rows"] = ask("text/csv", cells)[1].count(b",200,")
    book = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    told["workbook"] = ask(book, client.get("/v1/templates/check_envelope").content)[1][:2] == b"PK"
    status, problem = ask("application/vnd.apache.arrow.stream", b"")
    told["columns"] = status, json.loads(problem)["type"], json.loads(problem)["detail"]
    told["document"] = client.get("/openapi.json").json()
json.dump(told, sys.stdout)
"""


def test_without_the_library_the_service_says_so_and_answers_every_other_form(tmp_path: Path) -> None:
    """The library is not there for this process nor for its workers."""
    (tmp_path / "pyarrow.py").write_text('raise ModuleNotFoundError("none", name="pyarrow")\n', encoding="utf-8")
    variables = {
        **os.environ,
        "PYTHONPATH": os.pathsep.join([str(tmp_path), *filter(None, [os.environ.get("PYTHONPATH")])]),
    }
    done = subprocess.run(
        [sys.executable, "-c", _WITHOUT, json.dumps(REQUESTS[0])],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
        env=variables,
    )
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    status, kind, detail = told.pop("columns")
    assert (status, kind) == (415, "/problems/unsupported-media-type")
    assert "its extra tables" in detail
    assert "text/csv, application/x-ndjson" in detail
    assert told.pop("document") == json.loads((ROOT / "openapi" / "openapi.json").read_text(encoding="utf-8"))
    assert told == {"one": 200, "lines": 1, "rows": 1, "workbook": True}


def test_rows_are_judged_together_whatever_batches_they_came_in(
    service: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    content, passes = table(rows(20)), []
    judge = flat_check.judge

    def counted(*arguments: Any) -> Any:
        passes.append(arguments)
        return judge(*arguments)

    monkeypatch.setattr(flat_check, "judge", counted)
    found = answer(service, stream(content))  # in batches of seven
    assert len(passes) == 1
    monkeypatch.setattr("glandwise.api.columns.BLOCK", 8)
    named = ["case_id", "verdict", "governing"]
    assert answer(service, stream(content)).select(named).to_pylist() == found.select(named).to_pylist()
    assert len(passes) == 4


@pytest.mark.parametrize("culprit", [False, True])
def test_a_table_whose_worker_is_lost_is_tried_once_more_apart(culprit: bool) -> None:
    class Lost(Desk):
        def __init__(self) -> None:
            pass

        async def run(self, *_: Any) -> Any:
            raise WorkerLost

        @asynccontextmanager
        async def apart(self) -> Any:
            yield self if culprit else Other()

    class Other:
        async def run(self, *_: Any) -> Any:
            return b"answer", 0.0

    asked = answer_table(Lost(), b"", 1, 1)
    if culprit:
        with pytest.raises(ProblemError, match="defect"):
            asyncio.run(asked)
    else:
        assert asyncio.run(asked).body == b"answer"
