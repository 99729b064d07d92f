"""Hold the answers of before against those of now: ``python -m tests.answers store FILE``, later ``compare FILE``.

For a change of the code that must change no number. ``store`` asks every example and random variations of them, over all
operations, and keeps requests with answers, a line each; ``compare`` asks the same again and says what differs: numbers by
more than one part in a thousand million, words, verdicts. What is kept of evidence, sources, workings and stamps is
counted apart, since a change of the code may mend it.
"""

from __future__ import annotations

import argparse
import collections
import copy
import json
import math
import random
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from fastapi.testclient import TestClient
from glandwise.app import create_app
from glandwise.settings import Settings

TOLERANCE = 1e-9
APART = frozenset({"evidence", "sources", "working", "stamp", "fingerprint"})
"""Parts of an answer that are counted apart."""
COUNTS = {
    "check_envelope": 420, "estimate_friction": 260, "estimate_wear": 260, "allow_runout": 200, "estimate_energizer_load": 240,
    "check_gland": 170, "check_thermal_fit": 150, "estimate_blank": 60, "answer_enquiry": 70, "select_design": 40,
    "map_operation": 40, "assess_spectrum": 80, "compare_rule_sets": 6, "audit_rule_set": 4,
}  # fmt: skip
"""Random requests of each operation."""
CHOICES: dict[str, list[Any]] = {
    "lubrication": ["dry", "starved", "flooded"],
    "second_lip": ["none", "excluder", "redundant"],
    "lip_tip": ["plain", "upturned_with_garter"],
    "reinforcing_band": [True, False],
    "lip_form": ["plain", "scraper", "tapered"],
    "heel": ["standard", "extended"],
    "contaminants": ["clean", "dusty", "abrasive", "wet", "submerged"],
    "machining_lead": ["none", "present"],
    "working": [False],
}


def _varied(value: Any, names: dict[str, list[Any]], chance: random.Random) -> Any:
    if isinstance(value, list):
        return [_varied(item, names, chance) for item in value]
    if not isinstance(value, dict):
        return value
    if set(value) == {"value", "unit"} and isinstance(value["value"], int | float):
        if chance.random() < 0.5:
            return value
        return {"value": float(f"{value['value'] * math.exp(chance.uniform(-0.7, 0.7)):.6g}"), "unit": value["unit"]}
    found = {}
    for key, item in value.items():
        options = CHOICES.get(key) or names.get(key)
        if options and not isinstance(item, dict | list) and chance.random() < 0.4:
            found[key] = chance.choice(options)
        else:
            found[key] = _varied(item, names, chance)
    return found


def requests(client: TestClient, seed: int) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Yield operation, path and request: every example, then random variations of them."""
    chance = random.Random(seed)
    names: dict[str, list[Any]] = {}
    for key, path in (("compound", "compounds"), ("fluid", "fluids"), ("material", "shaft-materials")):
        names[key] = list(client.get(f"/v1/{path}").json()[path.replace("-", "_")])
    for path, methods in client.get("/openapi.json").json()["paths"].items():
        for method, operation in methods.items():
            if method != "post":
                continue
            examples = operation["requestBody"]["content"]["application/json"].get("examples", {})
            found = [example["value"] for example in examples.values()]
            for example in found:
                yield operation["operationId"], path, example
            for _ in range(COUNTS.get(operation["operationId"], 0)):
                yield operation["operationId"], path, _varied(copy.deepcopy(chance.choice(found)), names, chance)


def _differences(a: Any, b: Any, where: str = "") -> Iterator[tuple[str, Any, Any]]:
    if isinstance(a, dict) and isinstance(b, dict):
        for key in dict.fromkeys([*a, *b]):
            if key not in a or key not in b:
                yield f"{where}/{key}", a.get(key, "absent"), b.get(key, "absent")
            else:
                yield from _differences(a[key], b[key], f"{where}/{key}")
    elif isinstance(a, list) and isinstance(b, list) and len(a) == len(b):
        for index, (x, y) in enumerate(zip(a, b, strict=True)):
            yield from _differences(x, y, f"{where}/{index}")
    elif (
        isinstance(a, int | float)
        and isinstance(b, int | float)
        and not isinstance(a, bool)
        and not isinstance(b, bool)
    ):
        if abs(a - b) > TOLERANCE * max(abs(a), abs(b)):
            yield where, a, b
    elif a != b:
        yield where, a, b


def main() -> int:
    """Store or compare."""
    parser = argparse.ArgumentParser(prog="python -m tests.answers", description=__doc__)
    parser.add_argument("what", choices=("store", "compare"))
    parser.add_argument("file", type=Path)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--most", type=int, default=40, help="differences to print")
    given = parser.parse_args()
    with TestClient(create_app(Settings())) as client:
        if given.what == "store":
            statuses: collections.Counter[tuple[str, int]] = collections.Counter()
            with given.file.open("w", encoding="utf-8") as file:
                for operation, path, request in requests(client, given.seed):
                    answer = client.post(path, json=request)
                    statuses[operation, answer.status_code] += 1
                    line = {"operation": operation, "path": path, "request": request, "status": answer.status_code}
                    file.write(json.dumps({**line, "answer": answer.json()}) + "\n")
            for (operation, status), count in sorted(statuses.items()):
                print(f"{operation:28s} {status} {count}")
            return 0
        total = apart = 0
        places: collections.Counter[str] = collections.Counter()
        shown = 0
        for number, text in enumerate(given.file.read_text("utf-8").splitlines(), 1):
            line = json.loads(text)
            answer = client.post(line["path"], json=line["request"])
            total += 1
            if line["status"] != 200 and answer.status_code == line["status"]:
                continue  # words of a refusal may be mended
            found = list(_differences(line["answer"], answer.json()))
            apart += sum(bool(APART & set(where.split("/"))) for where, *_ in found)
            for where, before, now in found:
                if APART & set(where.split("/")):
                    continue
                places[
                    line["operation"] + "".join("/#" if part.isdigit() else f"/{part}" for part in where.split("/")[1:])
                ] += 1
                if shown < given.most:
                    shown += 1
                    print(f"line {number} {line['operation']} {where}: {str(before)[:160]!s} -> {str(now)[:160]!s}")
        print(
            f"{total} requests; differences by place: {dict(places.most_common(60))}; {apart} of evidence, sources, workings"
        )
        return 1 if places else 0


if __name__ == "__main__":
    sys.exit(main())
