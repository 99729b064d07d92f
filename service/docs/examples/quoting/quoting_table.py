"""A table of quote lines and the service beside it: judge what is new, check again at night, list what turned.

A plain script to copy and change. It knows one table of yours, ``quote_line``, which it only reads, and two of its own,
``quote_answer`` and ``quote_recheck``. The database is PostgreSQL (with psycopg 3), or a file of SQLite, which needs nothing::

    python quoting_table.py create                  # the tables, where they are not there yet
    python quoting_table.py sample                  # some invented lines to try it with
    python quoting_table.py judge                   # ask about every open line that has no answer yet
    python quoting_table.py judge --again Q-1001/10 # ask about a line anew, by the rules of today
    python quoting_table.py recheck                 # nightly: does each answer hold under the rules of today?
    python quoting_table.py turned                  # the quotes that turned, with why

``--database postgresql://user@host/name`` or ``--database quotes.sqlite`` (the default; also ``QUOTES_DATABASE``), and ``--url``
for a service that is running; without it the service runs in this process.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import re
import sqlite3
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from glandwise_client import BatchItem, GlandwiseClient, TransportError

OPERATION = "answer_enquiry"
FINAL = frozenset({None, 200, 400, 413, 422})
"""Statuses of a line that asking again would not change: answered, or refused for what stands in it. ``None`` is a line that
the client could not write. Anything else (busy, stopping, a defect) leaves the line for the next run."""
MESSAGE: dict[str, Any] = {"size": 20, "timeout": 300.0}
"""Lines in a message, and the seconds that it may take: an enquiry is some ten to a hundred milliseconds of work."""
COMPARED = ("verdict", "chosen", "title", "summary", "stamp")
"""What of an answer is checked again. The rest, such as the last digit of a dimension, is no reason to look at a quote."""
TURNS = frozenset({"/verdict", "/chosen", "/title"})
"""Where a difference turns a quote: its verdict, or the seal that was offered. A sentence that reads otherwise does not."""

TABLES = (
    """
    CREATE TABLE IF NOT EXISTS quote_line (
        reference text PRIMARY KEY,
        is_open boolean NOT NULL DEFAULT true,
        shaft_diameter_mm double precision,
        rotational_speed_rpm double precision,
        pressure_bar double precision,
        temperature_degc double precision,
        temperature_max_degc double precision,
        fluid text,
        runout_mm double precision,
        family text,
        compound text,
        target_life_h double precision,
        pieces integer
    )
    """,
    """
    CREATE TABLE IF NOT EXISTS quote_answer (
        reference text NOT NULL,
        asked text NOT NULL,
        is_current boolean NOT NULL,
        request text NOT NULL,
        status integer,
        verdict text NOT NULL,
        title text,
        summary text NOT NULL,
        fingerprint text,
        rule_set text,
        answer text,
        answered_at timestamp with time zone NOT NULL,
        PRIMARY KEY (reference, asked)
    )
    """,
    """
    CREATE TABLE IF NOT EXISTS quote_recheck (
        reference text NOT NULL,
        asked text NOT NULL,
        verdict_before text NOT NULL,
        verdict_after text NOT NULL,
        turned boolean NOT NULL,
        why text NOT NULL,
        checked_at timestamp with time zone NOT NULL,
        turned_at timestamp with time zone,
        PRIMARY KEY (reference, asked)
    )
    """,
)
STORE_ANSWER = """
    INSERT INTO quote_answer (reference, asked, is_current, request, status, verdict, title, summary, fingerprint, rule_set,
                              answer, answered_at)
    VALUES (:reference, :asked, true, :request, :status, :verdict, :title, :summary, :fingerprint, :rule_set, :answer, :now)
    ON CONFLICT (reference, asked) DO UPDATE SET
        is_current = true, request = excluded.request, status = excluded.status, verdict = excluded.verdict,
        title = excluded.title, summary = excluded.summary, fingerprint = excluded.fingerprint,
        rule_set = excluded.rule_set, answer = excluded.answer, answered_at = excluded.answered_at
"""
MARK_CURRENT = """
    UPDATE quote_answer SET is_current = (asked = :asked)
    WHERE reference = :reference AND is_current <> (asked = :asked)
"""
STORE_RECHECK = """
    INSERT INTO quote_recheck (reference, asked, verdict_before, verdict_after, turned, why, checked_at, turned_at)
    VALUES (:reference, :asked, :verdict_before, :verdict_after, :turned, :why, :now, :turned_at)
    ON CONFLICT (reference, asked) DO UPDATE SET
        verdict_before = excluded.verdict_before, verdict_after = excluded.verdict_after, turned = excluded.turned,
        why = excluded.why, checked_at = excluded.checked_at,
        turned_at = CASE WHEN excluded.turned THEN COALESCE(quote_recheck.turned_at, excluded.turned_at) END
"""
OPEN_ANSWERS = """
    SELECT a.reference, a.asked, a.request, a.status, a.verdict, a.answer
    FROM quote_answer a JOIN quote_line l ON l.reference = a.reference
    WHERE a.is_current AND l.is_open
    ORDER BY a.reference
"""
TURNED = """
    SELECT r.reference, r.verdict_before, r.verdict_after, r.why, r.turned_at, a.title
    FROM quote_recheck r
    JOIN quote_answer a ON a.reference = r.reference AND a.asked = r.asked
    JOIN quote_line l ON l.reference = r.reference
    WHERE r.turned AND a.is_current AND l.is_open
    ORDER BY r.reference
"""


class Database:
    """PostgreSQL or SQLite behind the few statements above, which both understand."""

    def __init__(self, address: str) -> None:
        self.postgresql = address.startswith(("postgresql://", "postgres://"))
        if self.postgresql:
            import psycopg  # only where it is used
            from psycopg.rows import dict_row

            self._connection: Any = psycopg.connect(address, row_factory=dict_row)
        else:
            self._connection = sqlite3.connect(address.removeprefix("sqlite:"))
            self._connection.row_factory = sqlite3.Row

    def run(self, statement: str, **values: Any) -> list[dict[str, Any]]:
        """Run a statement and return its rows."""
        if self.postgresql:
            statement = re.sub(r":(\w+)", r"%(\1)s", statement)
        cursor = self._connection.execute(statement, values)
        return [dict(row) for row in cursor.fetchall()] if cursor.description else []

    def commit(self) -> None:
        """Keep what was written."""
        self._connection.commit()

    def __enter__(self) -> Database:
        return self

    def __exit__(self, *_: object) -> None:
        self._connection.close()  # what was not committed is gone


def request_of(line: Mapping[str, Any]) -> dict[str, Any]:
    """Return what is asked about a line. **This is what you change**: your columns on one side, the contract on the other.

    What a line leaves open is left out: the service says what is missing, or what it took instead.
    """
    temperature = {
        "normal": quantity(line["temperature_degc"], "degC"),
        "maximum": quantity(line["temperature_max_degc"], "degC"),
    }
    duty = {
        "shaft_diameter": quantity(line["shaft_diameter_mm"], "mm"),
        "motion": stated({"kind": "rotation", "rotational_speed": quantity(line["rotational_speed_rpm"], "rpm")}),
        "pressure": quantity(line["pressure_bar"], "bar"),
        "temperature": stated(temperature),
        "fluid": line["fluid"],
        "runout": quantity(line["runout_mm"], "mm"),
        "target_life": quantity(line["target_life_h"], "h"),
    }
    design = stated({"family": line["family"], "compound": line["compound"]})
    request = {
        "reference": line["reference"],
        "duty": stated(duty),
        "design": design or None,  # the service chooses one
        "pieces": line["pieces"],
        "detail": "summary",  # dimensions, requirements, questions to ask back; not the answers of the single operations
    }
    return stated(request)


def quantity(value: float | None, unit: str) -> dict[str, Any] | None:
    """Return a number of a column with its unit."""
    return None if value is None else {"value": value, "unit": unit}


def stated(fields: Mapping[str, Any]) -> dict[str, Any]:
    """Return the fields that are stated."""
    return {name: value for name, value in fields.items() if value is not None}


def written(content: Any) -> str:
    """Write JSON in one way only, so that the same content has the same digest."""
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def digest(request: Mapping[str, Any]) -> str:
    """Return the SHA-256 of what is asked."""
    return hashlib.sha256(written([OPERATION, request]).encode("utf-8")).hexdigest()


def now() -> str:
    """Return the time, for the columns of time."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def create(database: Database) -> None:
    """Make the tables that are not there yet."""
    for statement in TABLES:
        database.run(statement)
    database.commit()


def judge(database: Database, client: GlandwiseClient, again: Iterable[str] = ()) -> Counter[str]:
    """Ask about every open line that has no answer yet, or has changed since; return how many became what.

    Each answer is kept at once, so that a run that breaks off is taken up by the next. A second run asks nothing.
    """
    anew, counts = set(again), Counter[str]()
    held = {
        (row["reference"], row["asked"]): bool(row["is_current"])
        for row in database.run("SELECT reference, asked, is_current FROM quote_answer")
    }
    asked = []
    for line in database.run("SELECT * FROM quote_line WHERE is_open ORDER BY reference"):
        request = request_of(line)
        key = (line["reference"], digest(request))
        if key not in held or line["reference"] in anew:
            asked.append((*key, request))
            continue
        counts["held"] += 1
        if not held[key]:  # changed, and changed back
            database.run(MARK_CURRENT, reference=key[0], asked=key[1])
            database.commit()
    for item in client.batch(OPERATION, [request for *_, request in asked], **MESSAGE):
        reference, key_of_request, request = asked[item.number - 1]
        if item.status not in FINAL:
            counts["put off"] += 1
            continue
        row = answer_row(item)
        database.run(
            STORE_ANSWER, reference=reference, asked=key_of_request, request=written(request), now=now(), **row
        )
        database.run(MARK_CURRENT, reference=reference, asked=key_of_request)
        # whoever asks anew has seen what turned
        database.run(
            "DELETE FROM quote_recheck WHERE reference = :reference AND asked = :asked",
            reference=reference, asked=key_of_request,
        )  # fmt: skip
        database.commit()
        counts[row["verdict"]] += 1
    return counts


def answer_row(item: BatchItem[Any]) -> dict[str, Any]:
    """Return the columns of an answer, or of a refusal, which is an answer, too: somebody has to see to the line."""
    if item.error is not None:
        empty = dict.fromkeys(("title", "fingerprint", "rule_set"))
        problem = None if item.document is None else written(item.document)
        return {"status": item.status, "verdict": "refused", "summary": said(item), "answer": problem, **empty}
    answer: Any = item.document
    stamp = answer["stamp"]
    rules = stamp["rule_set"]
    return {
        "status": item.status, "verdict": answer["verdict"], "title": answer["title"], "summary": answer["summary"],
        "fingerprint": stamp["fingerprint"], "rule_set": f"{rules['name']} {rules['version']} of {rules['as_of']}",
        "answer": written(answer),
    }  # fmt: skip


def said(item: BatchItem[Any]) -> str:
    """Say why a line was refused: each fault with the field, and what is accepted there."""
    error = item.error
    assert error is not None
    return "; ".join(map(str, error.errors)) or error.detail


def recheck(database: Database, client: GlandwiseClient) -> Counter[str]:
    """Hold every answer of an open line to the rules of today; return how many became what.

    An answer itself is never changed: it is what the customer was told.
    """
    counts = Counter[str]()
    rows = database.run(OPEN_ANSWERS)
    answered = [row for row in rows if row["verdict"] != "refused"]
    refused = [row for row in rows if row["verdict"] == "refused" and row["status"] is not None]
    for row, item in put(client, "recheck_result", answered, [recheck_of(row) for row in answered]):
        keep(database, counts, row, item, rechecked)
    for row, item in put(client, OPERATION, refused, [json.loads(row["request"]) for row in refused]):
        keep(database, counts, row, item, asked_again)
    return counts


def put(
    client: GlandwiseClient, operation: str, rows: Sequence[Any], requests: Sequence[Any]
) -> Iterator[tuple[Any, BatchItem[Any]]]:
    """Yield each row with what became of its request."""
    for item in client.batch(operation, requests, **MESSAGE):
        yield rows[item.number - 1], item


def recheck_of(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return the request that checks an answer again."""
    answer = json.loads(row["answer"])
    return {
        "operation": OPERATION,
        "stored_request": json.loads(row["request"]),
        "stored_result": {name: answer[name] for name in COMPARED},
        "detail": "differences",
    }


def keep(database: Database, counts: Counter[str], row: Mapping[str, Any], item: BatchItem[Any], read: Any) -> None:
    """Keep what a check said of a row."""
    if item.status not in FINAL:
        counts["put off"] += 1
        return
    after, has_turned, why = read(item)
    database.run(
        STORE_RECHECK, reference=row["reference"], asked=row["asked"], verdict_before=row["verdict"], verdict_after=after,
        turned=has_turned, why=why, now=now(), turned_at=now() if has_turned else None,
    )  # fmt: skip
    database.commit()
    counts["turned" if has_turned else "stands"] += 1


def rechecked(item: BatchItem[Any]) -> tuple[str, bool, str]:
    """Return the verdict now, whether the quote turned, and why."""
    if item.error is not None:
        return "refused", True, f"The service refuses it now: {said(item)}"
    found: Any = item.document
    differences = {one["pointer"]: one for one in found["differences"]}
    has_turned = not TURNS.isdisjoint(differences)
    parts = [found["summary"], *(changed(change) for change in found["rule_changes"] if change["moves"])]
    for pointer, what in (("/title", "Seal"), ("/summary", "Answer")):
        if has_turned and pointer in differences:
            parts.append(f"{what} now: {differences[pointer]['after']}")
    return found["verdict_after"], has_turned, " ".join(parts)


def changed(change: Mapping[str, Any]) -> str:
    """Say what became of a value of the rules that moves the answer."""
    before, after = (rule_value(change[side], change["unit"]) for side in ("before", "after"))
    return f"{change['key']} was {before} and is {after}."


def rule_value(entry: Any, unit: str | None) -> str:
    """Write a value of the rules, without its source and date."""
    if entry is None:
        return "not there"
    plain = entry["value"] if isinstance(entry, dict) and "value" in entry else entry
    return f"{written(plain)} {unit or ''}".strip()


def asked_again(item: BatchItem[Any]) -> tuple[str, bool, str]:
    """Return the same for a line that had been refused and was asked again."""
    if item.error is not None:
        return "refused", False, f"Still refused: {said(item)}"
    answer: Any = item.document
    return answer["verdict"], True, f"It was refused and is answered now: {answer['summary']}"


def turned(database: Database) -> list[dict[str, Any]]:
    """Return the open quotes that turned, each with why."""
    return database.run(TURNED)


NAMES = (
    "reference", "shaft_diameter_mm", "rotational_speed_rpm", "pressure_bar", "temperature_degc", "fluid", "runout_mm",
    "family", "compound", "pieces",
)  # fmt: skip
INVENTED: tuple[tuple[Any, ...], ...] = (
    ("Q-1001/10", 60, 420, 0.5, 45, "mineral_oil_gear", 0.05, None, None, 20),
    ("Q-1001/20", 60, 420, 2.0, 45, "mineral_oil_gear", 0.05, "flexible_lip", "ptfe_carbon_graphite_25", 50),
    ("Q-1002/10", 45, 300, 0.2, 45, "white_oil_food_grade", 0.05, "flexible_lip", "ptfe_unfilled", 20),
    ("Q-1003/10", 50, 1500, 40.0, 80, "mineral_oil_gear", 0.03, "flexible_lip", "ptfe_glass_15", 5),
    ("Q-1004/10", 40, 300, 1.0, 60, "brake_fluid_of_the_house", None, None, None, 1),
    ("Q-1005/10", 35, None, 1.0, 60, "mineral_oil_gear", None, None, None, 1),
)
"""Lines to try it with: what can be had, what cannot, a fluid that nobody knows, a speed that was forgotten."""


def sample(database: Database) -> int:
    """Put the invented lines into the table, where they are not there yet; return how many there are."""
    names = ", ".join(NAMES)
    places = ", ".join(f":{name}" for name in NAMES)
    statement = f"INSERT INTO quote_line ({names}) VALUES ({places}) ON CONFLICT (reference) DO NOTHING"  # noqa: S608
    for line in INVENTED:
        database.run(statement, **dict(zip(NAMES, line, strict=True)))
    database.commit()
    return len(INVENTED)


def told(counts: Mapping[str, int]) -> str:
    """Say what became of the lines."""
    return ", ".join(f"{count} {name}" for name, count in sorted(counts.items())) or "nothing to do"


def parser() -> argparse.ArgumentParser:
    """Return the parser of the command line."""
    found = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    found.add_argument("--database", default=os.environ.get("QUOTES_DATABASE", "quotes.sqlite"))
    found.add_argument("--url", help="ask the service there; without it the service runs in this process")
    commands = found.add_subparsers(dest="command", required=True)
    for name in ("create", "sample", "judge", "recheck", "turned"):
        command = commands.add_parser(name)
        if name == "judge":
            command.add_argument("--again", nargs="+", default=[], metavar="REFERENCE", help="lines to ask about anew")
    return found


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command. 1: lines were put off, or quotes turned; 2: the service could not be reached."""
    given = parser().parse_args(arguments)
    say = sys.stdout.write
    with Database(given.database) as database:
        if given.command == "create":
            create(database)
            return 0
        if given.command == "sample":
            say(f"{sample(database)} invented lines\n")
            return 0
        if given.command == "turned":
            rows = turned(database)
            for row in rows:
                say(f"{row['reference']}  {row['verdict_before']} -> {row['verdict_after']}, seen {row['turned_at']}\n")
                say(f"    {row['why']}\n")
            return 1 if rows else 0
        try:
            with GlandwiseClient(given.url) if given.url else GlandwiseClient.in_process() as client:
                judging = given.command == "judge"
                counts = judge(database, client, given.again) if judging else recheck(database, client)
        except TransportError as error:
            sys.stderr.write(f"{error}\nWhat was answered is kept; run it again.\n")
            return 2
        say(f"{given.command}: {told(counts)}\n")
        return 1 if counts["put off"] or counts["turned"] else 0


if __name__ == "__main__":
    sys.exit(main())
