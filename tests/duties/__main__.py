"""``make duties``: ask the service about every invented duty, print the table, write it as a page of the documentation."""

from __future__ import annotations

import argparse
import json
import sys
import textwrap
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path

from glandwise import units
from glandwise.engine import Engine
from glandwise.rules.loader import RuleStore

from tests.duties.agreement import MEASURES, Item, Outcome, judge
from tests.duties.model import NOT_YET, DutyFile, files, not_yet

PAGE = Path(__file__).parents[2] / "service" / "docs" / "duties.md"
SHOWN = {"life": "h", "torque": "N.m", "contact_temperature": "degC"}
COLUMNS = ("duty", "expected", "got", "agrees", "compound", "life h", "torque N m", "contact °C", "what does not agree")
ROW = "{:<28.28} {:<15} {:<8} {:<7} {:<24.24} {:>8} {:>10} {:>10}  {}"

HEAD = """\
# Ordinary duties

Duties of every trade that buys rotary seals, **each of our own invention**, with what an engineer expected of the answer
before the service was asked, and what the service answers. Reasons, bands and their bases stand beside each duty in
`tests/duties/`; the folder's `README.md` has the formulas of the hand calculations. An expectation is not a measurement: where both
differ, either may be wrong. `make duties` writes this page.

Engine {engine}, rule set {name} {version} ({digest}), as of {as_of}; written {today}.

**{agreed} of {total} duties agree wholly**, {items} of {asked} items; of the others {signed} would be signed as they stand
(the last section says why they differ); {open} items ask for what results do not name yet.
Items with disagreements: {kinds}.
"""


def main() -> int:
    """Run all duties."""
    parser = argparse.ArgumentParser(prog="python -m tests.duties", description=__doc__)
    parser.add_argument(
        "--not-yet", action="store_true", help="write not_yet.toml again; agreed duties go, none is added"
    )
    parser.add_argument("--json", action="store_true", help="print every item as a line of JSON instead of the table")
    given = parser.parse_args()
    engine = Engine(RuleStore(None), "baseline")
    found = [(file, [judge(duty, engine) for duty in file.duty]) for file in files()]
    outcomes = [outcome for _, some in found for outcome in some]
    if given.json:
        for outcome in outcomes:
            for item in outcome.items:
                print(json.dumps({"duty": outcome.duty.id, **item._asdict()}))
        return 0
    print(ROW.format(*COLUMNS))
    for outcome in outcomes:
        *cells, apart = row(outcome)
        lines = textwrap.wrap(apart, 90) or [""]
        print(ROW.format(*cells, lines[0]))
        for line in lines[1:]:
            print(" " * 120 + line)
    page = "\n".join([head(outcomes, engine), *(table(file, some) for file, some in found), *reasons(outcomes)])
    PAGE.write_text(page, encoding="utf-8")
    print(f"\n{sum(not outcome.apart for outcome in outcomes)} of {len(outcomes)} duties agree wholly; written: {PAGE}")
    if given.not_yet:
        write_not_yet(outcomes)
    return 0


def row(outcome: Outcome) -> list[str]:
    """Return the cells of a duty."""
    return [
        outcome.duty.id, "/".join(outcome.duty.expect.verdict), outcome.verdict,
        "yes" if not outcome.apart else "no" if any(item.standing == "disagrees" for item in outcome.apart) else "not yet",
        outcome.compound,
        *(number(outcome, name, unit) for name, unit in SHOWN.items()),
        "; ".join(map(words, outcome.apart)),
    ]  # fmt: skip


def number(outcome: Outcome, name: str, unit: str) -> str:
    """Write a number of the answer, three digits."""
    value = outcome.numbers[name]
    if value is None:
        return "-"
    shown = units.from_si(value, MEASURES[name], unit)
    return f"{shown:,.0f}" if abs(shown) >= 100 else f"{shown:.3g}"


def words(item: Item) -> str:
    """Say what does not agree of an item."""
    if item.standing == "not answered yet":
        return f"{item.name} not answered yet ({item.expected})"
    return f"{item.name} {item.got} (expected {item.expected})"


def head(outcomes: Sequence[Outcome], engine: Engine) -> str:
    """Return the head of the page."""
    stamp = engine.stamp_of(engine.rules_of(None, None))
    rules = stamp["rule_set"]
    items = [item for outcome in outcomes for item in outcome.items]
    names = list(dict.fromkeys(item.name for item in items))
    counts = {name: sum(item.name == name and item.standing == "disagrees" for item in items) for name in names}
    return HEAD.format(
        engine=stamp["engine"].partition("+")[0],
        name=rules["name"], version=rules["version"], digest=rules["digest"][:12], as_of=rules["as_of"],
        today=datetime.now(UTC).date(), total=len(outcomes), agreed=sum(not outcome.apart for outcome in outcomes),
        items=sum(item.standing == "agrees" for item in items), asked=len(items),
        signed=sum(not_yet()[outcome.duty.id].signed for outcome in outcomes if outcome.duty.id in not_yet()),
        open=sum(item.standing == "not answered yet" for item in items),
        kinds=", ".join(f"{name} {count}" for name, count in counts.items() if count) or "none",
    )  # fmt: skip


def table(file: DutyFile, outcomes: Sequence[Outcome]) -> str:
    """Return the section of a trade."""
    return "\n".join([f"## {file.trade.replace('_', ' ').capitalize()}", "", *_rows(outcomes), ""])


def _rows(outcomes: Sequence[Outcome]) -> Iterator[str]:
    yield "| " + " | ".join(COLUMNS) + " |"
    yield "|---|---|---|---|---|---:|---:|---:|---|"
    for outcome in outcomes:
        name, *cells = row(outcome)
        yield f"| {outcome.duty.title} (`{name}`) | " + " | ".join(cells) + " |"


def reasons(outcomes: Sequence[Outcome]) -> Iterator[str]:
    """Say of each duty that does not agree why that is so, and whether an engineer would sign the answer all the same."""
    yield "## What does not agree, and why"
    yield ""
    yield "Signed: whether an engineer of ours would sign the answer as it stands. MPa are mean contact pressures."
    yield ""
    yield "| duty | signed | why |"
    yield "|---|---|---|"
    for outcome in outcomes:
        entry = not_yet().get(outcome.duty.id)
        if entry is not None:
            yield f"| {outcome.duty.title} (`{outcome.duty.id}`) | {'yes' if entry.signed else 'no'} | {entry.why} |"
    yield ""


def write_not_yet(outcomes: Sequence[Outcome]) -> None:
    """Write the list of duties that do not agree yet; one that was not on it is not put there, since it lacks its reason."""
    head, listed = NOT_YET.read_text(encoding="utf-8").partition("\n\n")[0], not_yet()
    lines = [head]
    for outcome in outcomes:
        name, names = outcome.duty.id, list(dict.fromkeys(item.name for item in outcome.apart))
        if not names:
            continue
        if name not in listed:
            print(f"not put on the list: {name} disagrees, and did not before", file=sys.stderr)
            continue
        entry = listed[name]
        lines += [
            "", f"[{name}]", f"disagrees = {json.dumps(names)}", f"signed = {str(entry.signed).lower()}",
            f"why = {json.dumps(entry.why)}",
        ]  # fmt: skip
    NOT_YET.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
