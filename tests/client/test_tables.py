"""Tables of cases by the client: what comes back is of the same kind, with each row's own answer or fault beside it."""

from __future__ import annotations

import asyncio
import importlib
import math
import subprocess
import sys
from typing import Any

import httpx
import pytest
from glandwise_client import AnswerError, AsyncGlandwiseClient, GlandwiseClient, InvalidRequest, RequestError
from glandwise_client._operations import OPERATIONS
from glandwise_client._tables import PREFIXES

from tests.client.support import Script

COLUMNS: dict[str, list[Any]] = {
    "customer": ["one", "two\nlines", "three", "four"],
    "shaft_diameter [mm]": [60.0, 40.0, 60.0, 60.0],
    "rotational_speed [rpm]": [420, 300, 420, 420],
    "pressure [psi]": [12.0, 1500.0, None, 12.0],
    "temperature [degC]": [45, 60, 45, 45],
    "fluid": ["mineral_oil_gear", "mineral_oil_hydraulic", "mineral_oil_gear", "unobtainium"],
    "family": ["flexible_lip", "energized_lip", "flexible_lip", "flexible_lip"],
    "compound": ["ptfe_carbon_graphite_25", "ptfe_carbon_25", "ptfe_carbon_graphite_25", "ptfe_glass_15"],
    "reinforcing_band": [True, None, False, None],
    "runout [mil]": [3, None, None, math.nan],
}
KEEP = ["customer"]


def made(kind: str, columns: dict[str, list[Any]] = COLUMNS) -> Any:
    library = importlib.import_module(kind)
    return (
        library.table(columns)
        if kind == "pyarrow"
        else library.DataFrame(columns, **({"strict": False} if kind == "polars" else {}))
    )


def column(frame: Any, name: str) -> list[Any]:
    """A column as Python has it, what stands for nothing as ``None``."""
    values = frame.column(name).to_pylist() if hasattr(frame, "column_names") else list(frame[name])
    return [None if value is None or value != value else value for value in values]


@pytest.fixture(params=["pandas", "polars", "pyarrow"])
def kind(request: pytest.FixtureRequest) -> str:
    pytest.importorskip(request.param)
    return str(request.param)


def test_the_operations_are_those_of_the_contract(document: dict[str, Any]) -> None:
    taken = {
        described["operationId"]
        for item in document["paths"].values()
        for described in item.values()
        if "text/csv" in described.get("x-batches", {})
    }
    assert taken == set(PREFIXES) <= set(OPERATIONS)


@pytest.mark.parametrize("size", [1, 3, 100])
def test_a_frame_comes_back_with_its_answers(client: GlandwiseClient, kind: str, size: int) -> None:
    frame = made(kind)
    found = client.table(frame, keep=KEEP, size=size)
    assert type(found) is type(frame)
    names = list(found.column_names) if kind == "pyarrow" else list(found.columns)
    assert names[: len(COLUMNS)] == list(COLUMNS)
    assert names[len(COLUMNS)] == "envelope.fault"
    for name in COLUMNS:
        assert column(found, name) == column(frame, name)
    verdicts, faults = column(found, "envelope.verdict"), column(found, "envelope.fault")
    assert [verdict is None for verdict in verdicts] == [False, False, True, True]
    assert faults[:2] == [None, None]
    assert faults[2].startswith("pressure: missing")
    assert faults[3].startswith("fluid: no fluid of this name")
    alone = client.check_envelope(
        duty={
            "shaft_diameter": "40 mm", "motion": {"kind": "rotation", "rotational_speed": "300 rpm"}, "pressure": "1500 psi",
            "temperature": {"normal": "60 degC"}, "fluid": "mineral_oil_hydraulic",
        },
        design={"family": "energized_lip", "compound": "ptfe_carbon_25"},
    )  # fmt: skip
    assert column(found, "envelope.fingerprint")[1] == alone.stamp.fingerprint
    assert column(found, "envelope.utilization")[1] == alone.governing.utilization


def test_progress_is_told_by_the_row(client: GlandwiseClient, app: Any, kind: str) -> None:
    told: list[tuple[int, int | None]] = []

    async def ask() -> None:
        async with AsyncGlandwiseClient.in_process(app) as other:
            await other.table(made(kind), keep=KEEP, size=3, progress=lambda *said: told.append(said))

    client.table(made(kind), keep=KEEP, size=3, progress=lambda *said: told.append(said))
    assert told == [(0, 4), (3, 4), (4, 4)]
    asyncio.run(ask())
    assert told == [(0, 4), (3, 4), (4, 4)] * 2


def test_further_answers_are_put_beside_the_first(client: GlandwiseClient, kind: str) -> None:
    once = client.table(made(kind), keep=KEEP)
    twice = client.table(once, "estimate_wear", keep=KEEP, units="us")
    assert column(twice, "envelope.verdict") == column(once, "envelope.verdict")
    lives = column(twice, "wear.life_nominal [h]")
    assert [isinstance(life, float) for life in lives] == [True, True, False, False]
    with pytest.raises(RequestError, match="another prefix"):
        client.table(twice, "estimate_wear", keep=KEEP, units="us")
    again = client.table(twice, "estimate_wear", keep=KEEP, units="us", prefix="wear.again.")
    assert column(again, "wear.again.life_nominal [h]") == lives


def test_a_frame_without_rows_has_the_columns(client: GlandwiseClient, kind: str) -> None:
    empty = made(kind)[:0]
    assert column(client.table(empty, keep=KEEP), "envelope.verdict") == []


def test_an_index_stays(client: GlandwiseClient) -> None:
    frame = made("pandas").set_index("customer").loc[["four", "one", "one"]]
    found = client.table(frame)
    assert list(found.index) == ["four", "one", "one"]
    assert column(found, "envelope.verdict")[0] is None
    assert str(found["envelope.utilization"].dtype) == "float64"


def test_a_row_in_which_nothing_stands_is_not_lost(client: GlandwiseClient) -> None:
    frame = made("pandas", {name: [values[0], None, values[1]] for name, values in COLUMNS.items()})
    found = client.table(frame, keep=KEEP)
    assert column(found, "envelope.fault") == [None, "nothing stands in the row", None]
    assert column(found, "envelope.verdict")[2] is not None


def test_the_asynchronous_client_answers_alike(client: GlandwiseClient, app: Any) -> None:
    async def ask() -> Any:
        async with AsyncGlandwiseClient.in_process(app) as other:
            return await other.table(made("pandas"), "answer_enquiry", keep=KEEP)

    assert asyncio.run(ask()).equals(client.table(made("pandas"), "answer_enquiry", keep=KEEP))


def test_a_heading_that_is_not_known_is_named(client: GlandwiseClient, kind: str) -> None:
    with pytest.raises(InvalidRequest) as caught:
        client.table(made(kind))
    assert caught.value.errors[0].pointer == "/customer"


@pytest.mark.parametrize(
    ("frame", "arguments", "said"),
    [
        ([{"fluid": "water"}], {}, "not a list"), ({}, {"operation": "select_design"}, "takes no table"),
        ({}, {"size": 0}, "at least 1"), ({}, {"units": {"system": "us"}}, "units of a system"),
        ({}, {"keep": ["costumer"]}, "no column costumer"), ({7: [1, 2, 3, 4]}, {}, "no text"),
    ],
)  # fmt: skip
def test_what_cannot_be_asked_is_refused_unsent(frame: Any, arguments: dict[str, Any], said: str) -> None:
    script = Script()
    table = made("pandas", {**COLUMNS, **frame}) if isinstance(frame, dict) else frame
    with GlandwiseClient(transport=script.transport) as client, pytest.raises(RequestError, match=said):
        client.table(table, **arguments)
    assert script.requests == []


@pytest.mark.parametrize(
    "content", [b"", b"a,b\n1,2\n", b"line,case_id,status,fault\n9,,200,\n", b"line,case_id,status,fault\n2,,200\n"]
)
def test_an_answer_that_is_no_table_is_refused(content: bytes) -> None:
    script = Script(httpx.Response(200, content=content, headers={"content-type": "text/csv"}))
    with GlandwiseClient(transport=script.transport) as client, pytest.raises(AnswerError):
        client.table(made("pandas"), keep=KEEP)


def test_no_library_of_tables_is_loaded_with_the_client() -> None:
    code = (
        "import sys, glandwise_client; print([n for n in ('pandas', 'polars', 'pyarrow', 'numpy') if n in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
