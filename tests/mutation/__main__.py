"""Mutation testing of the mechanics: ``python -m tests.mutation [--report] [module ...]``.

Writes nothing in the repository unless ``--report`` is given, which renews the tables of ``service/docs/mutation.md``.
"""

from __future__ import annotations

import argparse
import datetime
import json
import os
import sys
import time
import tomllib
from collections import Counter
from pathlib import Path
from typing import NamedTuple

from tests.mutation import mutants, runner

SEED = 6194
DOCUMENT = runner.ROOT / "service" / "docs" / "mutation.md"
EQUIVALENT = Path(__file__).parent / "equivalent.toml"


class Target(NamedTuple):
    """A module, or the part of it that only makes its table, with its tests and how many places are changed."""

    module: str
    places: int
    functions: frozenset[str] = frozenset()
    offline: bool = False
    tests: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """Name in the report."""
        return f"{self.module} (solver of the table)" if self.offline else self.module

    @property
    def files(self) -> list[str]:
        """Return the test files of the module; the tables of cases are called apart."""
        return [f"tests/twofold/{name}" for name in self.tests or (f"test_{self.module}.py",)]


_HEAT_OFFLINE = frozenset(
    {"build_table", "exact_band_rise", "exact_band_mean", "exact_band_peak", "exact_ring_factor", "_band_integral"}
)

TARGETS = (
    Target("shells", 80),
    Target("following", 80),
    Target("viscoelastic", 80),
    Target("beams", 80),
    Target("rods", 80),
    Target("springs", 80),
    Target("contact", 80),
    Target("heat", 80, _HEAT_OFFLINE),
    Target("wear", 60),
    Target("fits", 80),
    Target("expansion", 80),
    Target("retention", 60),
    Target("kinematics", 60),
    Target("numeric", 60),
    Target("grid", 60),
    Target("strip", 30, tests=("test_beams.py",)),
    Target("coil", 30, tests=("test_rods.py",)),
    Target("heat", 20, _HEAT_OFFLINE, offline=True),
)


class Result(NamedTuple):
    """A mutant and what became of it."""

    title: str
    module: str
    function: str
    line: int
    before: str
    after: str
    status: str
    reason: str


def _equivalent() -> dict[tuple[str, str, str], str]:
    if not EQUIVALENT.exists():
        return {}
    document = tomllib.loads(EQUIVALENT.read_text(encoding="utf-8"))
    return {(row["module"], row["before"], row["after"]): row["reason"] for row in document["mutant"]}


def _examine(target: Target, seed: int, share: float, earlier: list[Result] | None) -> list[Result]:
    source = runner.source_of(target.module).read_text(encoding="utf-8")
    places = max(1, round(target.places * share))
    changes = mutants.sample(target.module, source, places, seed, target.functions, target.offline)
    kept = {(r.before, r.after, r.function): r for r in earlier or () if r.title == target.title}
    # what is marked slow is asked last, and only where there is such a test
    marks = "not slow"
    texts = [(runner.ROOT / name).read_text(encoding="utf-8") for name in target.files]
    slow = any("mark.slow" in text for text in texts)
    clean = runner.run(target.module, None, target.files, marks, 600.0)
    if clean.status != "survived":
        runner.run(target.module, None, target.files, marks, 600.0, show=True)
        sys.exit(f"the tests of {target.module} fail without a mutant")
    limit = 5.0 + 3.0 * clean.seconds
    print(f"{target.title}: {len(changes)} mutants, {clean.seconds:.1f} s of tests", flush=True)
    failures: Counter[str] = Counter()
    equivalent, results = _equivalent(), []
    for change in changes:
        mutant = change.mutant
        before = kept.get((change.before, change.after, mutant.function))
        if before is not None and before.status in {"killed", "timeout"}:
            status = before.status
        else:
            # what has noticed much in little time comes first
            order = sorted(clean.tests, key=lambda name: -(failures[name] + 0.05) / (clean.tests[name] + 0.01))
            outcome = runner.run(target.module, change.source, target.files, marks, limit, order)
            failures[outcome.failed] += 1
            status = outcome.status
            if status == "survived" and slow:
                status = runner.run(target.module, change.source, target.files, "slow", 60.0 + limit).status
        reason = ""
        if status == "survived":
            reason = equivalent.get((target.module, change.before, change.after), "")
            status = "equivalent" if reason else status
            print(
                f"  {status} {mutant.function}:{mutant.line}\n    - {change.before}\n    + {change.after}", flush=True
            )
        results.append(
            Result(
                target.title, target.module, mutant.function, mutant.line, change.before, change.after, status, reason
            )
        )
        if sys.stdout.isatty():
            print(f"  {len(results)} of {len(changes)}", end="\r", flush=True)
    return results


def _table(results: list[Result]) -> list[str]:
    head = "| Module | Mutants | Killed | Time limit | Equivalent | Survived | Surviving share |"
    rows = [head, "|---|---:|---:|---:|---:|---:|---:|"]

    def row(title: str, some: list[Result]) -> str:
        count = {key: sum(r.status == key for r in some) for key in ("killed", "timeout", "equivalent", "survived")}
        share = 100.0 * count["survived"] / len(some)
        cells = [len(some), count["killed"], count["timeout"], count["equivalent"], count["survived"]]
        return f"| {title} | {' | '.join(map(str, cells))} | {share:.1f} % |"

    titles = dict.fromkeys(result.title for result in results)
    rows += [row(title, [result for result in results if result.title == title]) for title in titles]
    rows.append(row("**all**", results))
    return rows


def _listing(results: list[Result], status: str) -> list[str]:
    lines = []
    for title in dict.fromkeys(result.title for result in results if result.status == status):
        lines += ["", f"### {title}", ""]
        lines += [
            f"- `{r.function}`: `{r.before}` → `{r.after}`" + (f" ({r.reason})" if r.reason else "")
            for r in results
            if (r.status, r.title) == (status, title)
        ]
    return lines or ["", "None."]


def _report(results: list[Result], seed: int) -> None:
    text = DOCUMENT.read_text(encoding="utf-8")
    today = datetime.datetime.now(tz=datetime.UTC).date()
    parts = {
        "run": [f"Run of {today}, {mutants.version()}, seed {seed}.", "", *_table(results)],
        "survivors": _listing(results, "survived"),
        "equivalents": _listing(results, "equivalent"),
    }
    for name, lines in parts.items():
        start, end = f"<!-- {name} -->", f"<!-- end of {name} -->"
        before, rest = text.split(start, 1)
        after = rest.split(end, 1)[1]
        text = "\n".join([before + start, *lines, end]) + after
    DOCUMENT.write_text(text, encoding="utf-8")


def main(arguments: list[str]) -> None:
    """Run the mutants of the named modules, or of all."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("modules", nargs="*", help="modules of glandwise.twofold; all unless named")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--share", type=float, default=1.0, help="share of the usual number of places")
    parser.add_argument("--report", action="store_true", help=f"renew {DOCUMENT.relative_to(runner.ROOT)}")
    parser.add_argument("--save", type=Path, help="file to keep the outcome of each mutant in")
    parser.add_argument("--again", type=Path, help="file of an earlier run: only what was not noticed then is tried")
    options = parser.parse_args(arguments)
    earlier = None
    if options.again:
        earlier = [Result(**row) for row in json.loads(options.again.read_text(encoding="utf-8"))]
    if options.report and (options.modules or options.share != 1.0):
        parser.error("a report is made of a whole run")
    os.chdir(runner.ROOT)
    runner.preload()
    began = time.monotonic()
    results: list[Result] = []
    for target in TARGETS:
        if not options.modules or target.module in options.modules:
            results += _examine(target, options.seed, options.share, earlier)
            if options.save:
                rows = [result._asdict() for result in results]
                options.save.write_text(json.dumps(rows, indent=1), encoding="utf-8")
    print("\n".join(_table(results)))
    print(f"{(time.monotonic() - began) / 60.0:.1f} minutes")
    if options.report:
        _report(results, options.seed)


if __name__ == "__main__":
    main(sys.argv[1:])
