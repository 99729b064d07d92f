"""A corpus in a file: the format, the size of a block and the number of workers change nothing but the time."""

from __future__ import annotations

import csv
import itertools
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from glandwise.review import comparison
from glandwise.review import corpus_job as jobs
from glandwise.review.told import Told
from glandwise.rules import compare
from glandwise.rules.loader import RuleStore

from tests.benchmarks import corpus as invented

CASES = 240
EXAMPLE = (
    Path(comparison.__file__).parents[1] / "contract" / "examples" / "compare_rule_sets" / "lower_rated_pressure.json"
)


@pytest.fixture(scope="module")
def table() -> dict[str, list[Any]]:
    return invented.invented(CASES, 7)


@pytest.fixture(scope="module")
def sets() -> jobs.Sets:
    return invented.sets()


def write(path: Path, table: dict[str, list[Any]]) -> Path:
    """Write a table in the format of the file's ending."""
    if path.suffix == ".parquet":
        pq.write_table(pa.table(table), path)
    elif path.suffix == ".csv":
        with path.open("w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            writer.writerow(table)
            writer.writerows(zip(*table.values(), strict=True))
    else:
        rows = [dict(zip(table, cells, strict=True)) for cells in zip(*table.values(), strict=True)]
        path.write_text("".join(json.dumps(row) + "\n" for row in rows), encoding="utf-8")
    return path


def gathered(sets: jobs.Sets, path: Path, **options: Any) -> tuple[dict[str, Any], list[Any]]:
    """Compare a corpus and return the counts and the rows that differ."""
    rows: list[Any] = []
    run = jobs.run_on_dask if "workers" in options else jobs.run
    result = run(sets, path, each=rows.extend, **options)
    return result.totals.plain(), rows


@pytest.fixture(scope="module")
def whole(sets: jobs.Sets, table: dict[str, list[Any]]) -> tuple[dict[str, Any], list[Any]]:
    """The answer with the table in memory as one block."""
    found = comparison.compare_table(jobs.pair_of(sets), table)
    totals = comparison.Totals()
    totals.add(found)
    return totals.plain(), Told.of(found).rows()


def test_the_corpus_tells_something(whole: tuple[dict[str, Any], list[Any]]) -> None:
    totals, rows = whole
    assert totals["cases"] == CASES
    assert sum(counts["worse"] for counts in totals["by_criterion"].values()) > 5
    assert totals["outcomes"]["shifted"] > 50  # many cases of the random corpus fail before and after
    assert totals["outcomes"]["same"] > 50
    assert totals["outcomes"]["refused"] == 0
    assert len(totals["by_change"]) == 2
    assert len(rows) == CASES - totals["outcomes"]["same"]


@pytest.mark.parametrize("ending", ["parquet", "csv", "ndjson"])
@pytest.mark.parametrize("size", [70, 1000])
def test_format_and_size_of_a_block_do_not_matter(
    ending: str, size: int, sets: jobs.Sets, table: dict[str, list[Any]], whole: Any, tmp_path: Path
) -> None:
    path = write(tmp_path / f"corpus.{ending}", table)
    assert gathered(sets, path, size=size) == whole


@pytest.mark.slow
@pytest.mark.filterwarnings("default")  # of Dask and what it stands on
def test_workers_give_the_same_answer_in_the_same_order(
    sets: jobs.Sets, table: dict[str, list[Any]], whole: Any, tmp_path: Path
) -> None:
    pytest.importorskip("distributed")
    path = write(tmp_path / "corpus.ndjson", table)
    here, there = tmp_path / "here.ndjson", tmp_path / "there.ndjson"
    assert gathered(sets, path, size=50, out=here) == whole
    assert gathered(sets, path, size=50, workers=2, out=there) == whole
    assert here.read_bytes() == there.read_bytes()
    assert len(here.read_text(encoding="utf-8").splitlines()) == len(whole[1])


@pytest.mark.slow
@pytest.mark.filterwarnings("default")
def test_a_fault_of_a_table_comes_back_from_a_worker(
    sets: jobs.Sets, table: dict[str, list[Any]], tmp_path: Path
) -> None:
    pytest.importorskip("distributed")
    path = write(tmp_path / "corpus.parquet", {name: cells for name, cells in table.items() if name != "fluid"})
    with pytest.raises(jobs.CorpusError, match="fluid: the column is missing"):
        jobs.run_on_dask(sets, path, workers=1)


@pytest.mark.parametrize("ending", ["csv", "ndjson"])
@pytest.mark.parametrize("size", [1, 1000])
@pytest.mark.parametrize(
    ("heading", "value", "fault"),
    [
        ("fluid", "nectar", "fluid: no fluid of this name in the rule set"),
        ("pressure [psi]", "n/a", "pressure: not a number"),
        ("pressure [psi]", "", "pressure: missing"),
        ("temperature [degC]", "-400", "temperature: outside the range"),
    ],
)
def test_a_bad_row_is_refused_alone(
    ending: str, size: int, heading: str, value: Any, fault: str, sets: jobs.Sets, table: Any, tmp_path: Path
) -> None:
    some = {name: cells[:6] for name, cells in table.items()}
    good = gathered(sets, write(tmp_path / f"good.{ending}", some), size=size)
    some[heading] = [*some[heading][:2], value, *some[heading][3:]]
    totals, rows = gathered(sets, write(tmp_path / f"bad.{ending}", some), size=size)
    assert totals["outcomes"]["refused"] == 1
    (refused,) = [row for row in rows if row["outcome"] == "refused"]
    assert refused["case_id"] == table["case_id"][2]
    assert fault in refused["fault"]
    assert [row for row in rows if row is not refused] == [
        row for row in good[1] if row["case_id"] != refused["case_id"]
    ]


@pytest.mark.parametrize("ending", ["parquet", "csv", "ndjson"])
def test_rows_without_an_identifier_get_their_number_in_the_file(
    ending: str, sets: jobs.Sets, table: Any, tmp_path: Path
) -> None:
    path = write(tmp_path / f"corpus.{ending}", {name: cells for name, cells in table.items() if name != "case_id"})
    answers = [gathered(sets, path, size=size) for size in (70, 1000)]
    assert answers[0] == answers[1]
    numbers = [table["case_id"].index(f"quote-7-{int(row['case_id']) - 1}") + 1 for row in answers[0][1]]
    assert [str(number) for number in numbers] == [row["case_id"] for row in answers[0][1]]


def test_a_row_left_empty_where_its_block_has_nothing_is_refused_and_no_more(
    sets: jobs.Sets, table: Any, tmp_path: Path
) -> None:
    rows = [dict(zip(table, cells, strict=True)) for cells in zip(*table.values(), strict=True)][:4]
    del rows[2]["fluid"], rows[2]["pressure [psi]"]
    path = tmp_path / "corpus.ndjson"
    path.write_text("\n".join(json.dumps(row) for row in rows), encoding="utf-8")
    answers = [gathered(sets, path, size=size) for size in (1, 1000)]
    assert answers[0] == answers[1]
    assert answers[0][0]["outcomes"]["refused"] == 1


def test_requests_and_flat_rows_of_the_same_cases_agree(tmp_path: Path) -> None:
    request = json.loads(EXAMPLE.read_text(encoding="utf-8"))["request"]
    path = tmp_path / "quotes.ndjson"
    path.write_text("".join(json.dumps(case) + "\n" for case in request["cases"]), encoding="utf-8")
    base = RuleStore().trees["baseline"]
    candidate = compare.patched(base, compare.from_json(request["candidate"]["patch"]))
    totals, rows = gathered(jobs.sets_of(base, candidate), path)
    outcomes = {row["case_id"]: row["outcome"] for row in rows}
    assert totals["cases"] == 3
    assert outcomes["quote-2"] == "worse"  # 45 psi between the old and the new rated pressure
    (pressure,) = [item for row in rows for item in row["criteria"] if item["outcome"] == "worse"]
    assert pressure["caused_by"] == ["designs.capacities.pressure_flexible_lip.limit"]
    assert "quote-3" not in outcomes  # an energized lip is rated by itself


def test_a_heading_of_a_parquet_file_needs_its_unit(sets: jobs.Sets, table: Any, tmp_path: Path) -> None:
    bare = {name.replace("pressure [psi]", "pressure"): cells[:6] for name, cells in table.items()}
    with pytest.raises(jobs.CorpusError, match="pressure: the heading has no unit"):
        jobs.run(sets, write(tmp_path / "corpus.parquet", bare))


@pytest.mark.parametrize("ending", ["parquet", "csv", "ndjson"])
def test_spellings_of_a_unit_change_nothing(ending: str, sets: jobs.Sets, table: Any, tmp_path: Path) -> None:
    names = {"pressure [psi]": "pressure [psig]", "temperature [degC]": "temperature [°C]", "runout [mm]": "runout [millimetres]",
             "rotational_speed [rpm]": "rotational_speed [ rev/min ]"}  # fmt: skip
    spelled = {names.get(name, name): cells for name, cells in table.items()}
    usual = gathered(sets, write(tmp_path / f"usual.{ending}", table))
    assert gathered(sets, write(tmp_path / f"spelled.{ending}", spelled)) == usual


@pytest.mark.parametrize(
    ("name", "content", "fault"),
    [
        ("a.ndjson", '{"fluid": 1}\nnonsense\n', "line 2"),
        ("a.ndjson", "[1]\n", "line 1: not an object"),
        ("a.ndjson", '{"colour": 1}\n', "colour: no such column"),
        ("a.ndjson", '{"pressure [psi]": 1}\n{"pressure [bar]": 1}\n', "line 2: 'pressure \\[bar\\]' above was"),
        ("a.ndjson", '{"pressure": 8}\n', "line 1: pressure: the heading has no unit; accepted: pressure \\[Pa\\], "),
        ("a.csv", "fluid,pressure\nwater,8\n", "pressure: the heading has no unit; accepted: pressure \\[Pa\\], "),
        ("a.ndjson", '{"duty": {}, "design": {}}\n', "line 1"),
        ("a.csv", "", "the file is empty"),
        ("a.csv", "fluid,family\nwater\n", "line 2: 1 cells under 2 headings"),
        ("a.xlsx", "", "unknown ending"),
    ],
)
def test_a_file_that_cannot_be_read_says_where(
    name: str, content: str, fault: str, sets: jobs.Sets, tmp_path: Path
) -> None:
    path = tmp_path / name
    path.write_text(content, encoding="utf-8")
    with pytest.raises(jobs.CorpusError, match=fault):
        jobs.run(sets, path)


def test_no_more_of_the_file_is_read_than_the_block_at_hand(tmp_path: Path, table: Any) -> None:
    """The first block comes although the file is broken further on: the rest had not been read."""
    path = write(tmp_path / "corpus.ndjson", table)
    with path.open("a", encoding="utf-8") as file:
        file.write("nonsense\n")
    read = jobs.blocks(path, 50)
    assert len(next(read).table["fluid"]) == 50
    with pytest.raises(jobs.CorpusError, match=f"line {CASES + 1}"):
        list(read)


def test_blocks_have_the_size_asked_for(tmp_path: Path, table: Any) -> None:
    for ending in ("parquet", "csv", "ndjson"):
        path = write(tmp_path / f"corpus.{ending}", table)
        assert [len(block.table["fluid"]) for block in jobs.blocks(path, 100)] == [100, 100, 40]
    assert jobs.length(tmp_path / "corpus.parquet") == CASES
    assert jobs.length(tmp_path / "corpus.csv") is None


def test_blocks_are_asked_for_one_by_one(sets: jobs.Sets, table: Any, tmp_path: Path, monkeypatch: Any) -> None:
    """No block is read before the one before it is done with: what is held does not grow with the file."""
    path = write(tmp_path / "corpus.csv", table)
    events: list[str] = []
    reading, working = jobs.blocks, jobs.work

    def read(*arguments: Any) -> Iterator[Any]:
        for block in reading(*arguments):
            events.append("read")
            yield block

    def work(*arguments: Any) -> Any:
        events.append("work")
        return working(*arguments)

    monkeypatch.setattr(jobs, "blocks", read)
    monkeypatch.setattr(jobs, "work", work)
    jobs.run(sets, path, size=60, progress=lambda _: events.append("done"))
    assert events == list(itertools.chain.from_iterable([["read", "work", "done"]] * 4))


def test_rows_that_differ_are_written_as_parquet(sets: jobs.Sets, table: Any, whole: Any, tmp_path: Path) -> None:
    table = {**table, "fluid": ["nectar", *table["fluid"][1:]]}
    path, out = write(tmp_path / "corpus.parquet", table), tmp_path / "rows.parquet"
    rows: list[Any] = []
    result = jobs.run(sets, path, out, size=100, each=rows.extend)
    written = pq.read_table(out).to_pylist()
    names = {"id": "criterion", "outcome": "criterion_outcome", "as_of": "criterion_as_of", "utilization_before": "utilization_before",
             "utilization_after": "utilization_after", "caused_by": "caused_by", "alone": "alone"}  # fmt: skip
    told = [{**{name: row[name] for name in row if name not in ("criteria", "answers", "jointly")},
             **dict.fromkeys(("criterion", "criterion_outcome", "criterion_as_of", "utilization_before", "utilization_after")),
             "operation": "check_envelope", "jointly": [" + ".join(some) for some in (item or row)["jointly"]],
             **{names[name]: value for name, value in item.items() if name in names}}
            for row in rows for item in row["criteria"] or [{}]]  # fmt: skip
    assert [{name: row[name] for name in one} for row, one in zip(written, told, strict=True)] == told
    assert all(row["transition"] is None for row in written)
    assert result.written == len(rows)
    assert list(dict.fromkeys(row["case_id"] for row in written)) == [row["case_id"] for row in rows]
    assert len(written) == sum(max(1, len(row["criteria"])) for row in rows)
    (refused,) = [row for row in written if row["outcome"] == "refused"]
    assert refused["case_id"] == "quote-7-0"
    assert "fluid" in refused["fault"]
    assert refused["criterion"] is None


def test_where_nothing_differs_the_file_is_there_and_empty(table: Any, tmp_path: Path) -> None:
    base = RuleStore().trees["baseline"]
    path = write(tmp_path / "corpus.parquet", table)
    for name in ("rows.parquet", "rows.ndjson"):
        assert jobs.run(jobs.sets_of(base, base), path, tmp_path / name).written == 0
    assert pq.read_table(tmp_path / "rows.parquet").num_rows == 0
    assert (tmp_path / "rows.ndjson").read_bytes() == b""
