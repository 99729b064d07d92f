"""``make bench-corpus``: cases per second and peak memory of a rule comparison over a corpus in a Parquet file, by workers.

The corpus is invented: random duties and designs, seeded, written chunk by chunk. Each run is a process of its own, so
that its peak memory is its own. ``--cases 1000000`` takes minutes and is asked for by itself.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from glandwise.review import corpus_job as corpus
from glandwise.review.answers import OPERATIONS
from glandwise.rules import compare
from glandwise.rules.loader import RuleStore

ROOT = Path(__file__).parents[2]
CHUNK = 50_000
CASES = (10_000, 100_000)


def invented(count: int, seed: int) -> dict[str, list[Any]]:
    """Return a flat table of invented duties and designs, with units in the headings."""
    data = RuleStore().trees["baseline"].newest().data
    r = np.random.default_rng(seed)

    def pick(names: Any) -> list[str]:
        return [str(name) for name in r.choice(sorted(names), count)]

    flexible = r.random(count) < 0.6

    def where(own: Any, cells: list[Any]) -> list[Any]:
        return [cell if here else None for here, cell in zip(own.tolist(), cells, strict=True)]

    normal = r.uniform(0.0, 180.0, count)
    return {
        "case_id": [f"quote-{seed}-{row}" for row in range(count)],
        "shaft_diameter [mm]": np.round(np.exp(r.uniform(np.log(8), np.log(400), count)), 1).tolist(),
        "rotational_speed [rpm]": np.round(np.exp(r.uniform(np.log(5), np.log(6000), count)), 0).tolist(),
        "pressure [psi]": np.round(np.where(flexible, 90.0, 4000.0) * r.random(count) ** 2, 1).tolist(),
        "temperature_min [degC]": np.round(normal - r.uniform(0.0, 40.0, count), 1).tolist(),
        "temperature [degC]": np.round(normal, 1).tolist(),
        "temperature_max [degC]": np.round(normal + r.uniform(0.1, 60.0, count), 1).tolist(),
        "runout [mm]": np.round(r.uniform(0.0, 0.25, count), 3).tolist(),
        "offset [mm]": np.round(r.uniform(0.0, 0.2, count), 3).tolist(),
        "shaft_hardness [HRC]": np.round(r.uniform(25.0, 64.0, count), 0).tolist(),
        "shaft_roughness [um]": np.round(r.uniform(0.1, 0.8, count), 2).tolist(),
        "fluid": pick(data.fluids),
        "family": np.where(flexible, "flexible_lip", "energized_lip").tolist(),
        "compound": pick(data.compounds),
        "second_lip": where(flexible, pick(("excluder", "none", "redundant"))),
        "lip_tip": where(flexible, pick(("plain", "plain", "upturned_with_garter"))),
        "energizer": where(~flexible, pick(("cantilever_v", "canted_coil"))),
        "retention": pick(("o_ring", "clamped_flange")),
        "reinforcing_band": where(flexible, (r.random(count) < 0.4).tolist()),
        "contaminants": pick(("clean", "dusty", "abrasive")),
    }


def write(path: Path, count: int, seed: int = 1) -> None:
    """Write an invented corpus as Parquet, chunk by chunk."""
    writer = None
    for chunk, start in enumerate(range(0, count, CHUNK)):
        table = pa.table(invented(min(CHUNK, count - start), seed + chunk))
        writer = writer or pq.ParquetWriter(path, table.schema)
        writer.write_table(table)
    if writer is not None:
        writer.close()


def patch() -> dict[str, Any]:
    """Return a change of two rated pressures (invented)."""
    limit = {
        "unit": "psi",
        "source": "house-estimate",
        "evidence": "house_estimate",
        "valid_from": "2026-06-01",
        "note": "invented for this benchmark",
    }
    return {
        "designs": {
            "capacities": {
                "pressure_flexible_lip": {"limit": {**limit, "value": 40.0}},
                "pressure_flexible_lip_band": {"limit": {**limit, "value": 90.0}},
            }
        }
    }


def sets() -> corpus.Sets:
    """Return the baseline and the same with the change."""
    base = RuleStore().trees["baseline"]
    return corpus.sets_of(base, compare.patched(base, compare.from_json(patch())))


def one(path: Path, size: int, workers: int, attribute: bool, whole: bool) -> dict[str, Any]:
    """Compare one corpus in this process and say how long it took and how much memory it needed."""
    pair = sets()
    asked = corpus.asked_of(OPERATIONS) if whole else corpus.ENVELOPE_ALONE
    resident = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    begun, worked = time.perf_counter(), time.process_time()
    if workers > 1:
        found = corpus.run_on_dask(pair, path, size=size, workers=workers, attribute=attribute, asked=asked)
    else:
        found = corpus.run(pair, path, size=size, attribute=attribute, asked=asked)
    seconds = time.perf_counter() - begun
    elsewhere = resource.getrusage(resource.RUSAGE_CHILDREN)
    worked = time.process_time() - worked + elsewhere.ru_utime + elsewhere.ru_stime
    return {
        "cases": found.totals.cases,
        "outcomes": found.totals.outcomes,
        "seconds": seconds,
        "processor_seconds": worked,
        "start_mb": resident / 1024,  # kilobytes on Linux
        "peak_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        "workers_mb": elsewhere.ru_maxrss / 1024 if workers > 1 else None,
    }


def main() -> None:
    """Measure, each run in a process of its own."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.corpus")
    parser.add_argument("--cases", type=int, nargs="+", default=list(CASES))
    parser.add_argument("--block", type=int, help="rows of a block")
    parser.add_argument("--whole", action="store_true", help="answer every case whole, not by the envelope alone")
    parser.add_argument("--workers", type=int, nargs="+", default=[1, 2], help="more than one: on local Dask workers")
    parser.add_argument("--no-attribution", action="store_true", help="do not look for causes")
    parser.add_argument("--write", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--one", type=Path, help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.write is not None:
        write(chosen.write, chosen.cases[0])
        return
    size = chosen.block or (corpus.WHOLE_BLOCK if chosen.whole else corpus.BLOCK)
    if chosen.one is not None:
        print(json.dumps(one(chosen.one, size, chosen.workers[0], not chosen.no_attribution, chosen.whole)))
        return
    load = os.getloadavg()[0]
    print(f"{multiprocessing.cpu_count()} processors, blocks of {size}; load before the start {load:.1f}")
    print(
        f"{'cases':>9} {'workers':>7} {'seconds':>8} {'CPU s':>7} {'cases/s':>9} {'start MB':>9} {'peak MB':>8}  outcomes"
    )
    with tempfile.TemporaryDirectory() as folder:
        for count in chosen.cases:
            path = Path(folder) / f"{count}.parquet"
            me = [sys.executable, "-m", "tests.benchmarks.corpus"]
            # elsewhere, because a process starts with the peak of the one that started it
            subprocess.run([*me, "--write", str(path), "--cases", str(count)], check=True, cwd=ROOT)
            seconds: dict[int, float] = {}
            for workers in chosen.workers:
                command = [*me, "--one", str(path), "--block", str(size), "--workers", str(workers)]
                command += ["--no-attribution"] * chosen.no_attribution + ["--whole"] * chosen.whole
                answer = subprocess.run(command, check=True, cwd=ROOT, capture_output=True, text=True)
                found = json.loads(answer.stdout.splitlines()[-1])
                seconds[workers] = found["seconds"]
                outcomes = ", ".join(f"{name} {number}" for name, number in found["outcomes"].items())
                print(
                    f"{found['cases']:9} {workers:7} {found['seconds']:8.1f} {found['processor_seconds']:7.1f} "
                    f"{found['cases'] / found['seconds']:9,.0f} {found['start_mb']:9.0f} {found['peak_mb']:8.0f}  {outcomes}",
                    flush=True,
                )
            first, *others = seconds
            for workers in others:
                gain = seconds[first] / seconds[workers]
                print(
                    f"{count:9} {workers:7} over {first}: {gain:.2f} times as fast, the start of the workers included"
                )
            path.unlink()


if __name__ == "__main__":
    main()
