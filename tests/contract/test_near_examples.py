"""Requests near the examples: where generated data are mostly refused, these reach the mechanics.

Each request is an example with a few changes: numbers scaled by orders of magnitude or set to nothing, units swapped,
names and choices exchanged, fields dropped, nulled, doubled or misplaced. Whatever comes out,

* the JSON Schema of the document and the service agree on whether it fits;
* what fits is answered, or refused as unphysical or for an unknown name, with the field and what is accepted;
* an answer is strict JSON, fits its schema, and is the same a second time.
"""

from __future__ import annotations

import json
import os
import random
import re
from collections import Counter
from typing import Any

import jsonschema
import jsonschema_rs
import pytest
from fastapi.testclient import TestClient
from glandwise import units

from tests.conftest import assert_problem, changed, dimensions_of, load_examples
from tests.laws import FUZZ, share

EXAMPLES = load_examples()
OPERATIONS = sorted({item.operation for item in EXAMPLES})
REQUESTS = int(os.environ.get("NEAR_REQUESTS", "400" if FUZZ else "20"))
"""Requests per operation; `make fuzz` sends more."""
HEAVY = {"select_design": 20, "map_operation": 10, "compare_rule_sets": 10, "audit_rule_set": 3}
"""Fewer requests where one answer holds hundreds of evaluations."""
SEED = 1


def leaves(value: Any, pointer: str = "") -> list[tuple[str, Any]]:
    """Return every quantity, scalar and object of a request with its JSON pointer."""
    if isinstance(value, dict):
        found = [(pointer, value)] if pointer else []
        if set(value) != {"value", "unit"}:
            for key, entry in value.items():
                found += leaves(entry, f"{pointer}/{key}")
        return found
    if isinstance(value, list):
        return [(pointer, value)] + [leaf for i, entry in enumerate(value) for leaf in leaves(entry, f"{pointer}/{i}")]
    return [(pointer, value)]


class Vocabulary:
    """Words of the contract by the name of the property they stand in."""

    def __init__(self, document: dict[str, Any], client: TestClient) -> None:
        self.words: dict[str, list[Any]] = {}
        for schema in document["components"]["schemas"].values():
            for name, entry in schema.get("properties", {}).items():
                for part in (entry, *entry.get("anyOf", ())):
                    self.words.setdefault(name, []).extend(part.get("enum", ()))
                    if "const" in part:
                        self.words.setdefault(name, []).append(part["const"])
        for fields, path, key in (
            (("compound",), "/v1/compounds", "compounds"),
            (("fluid",), "/v1/fluids", "fluids"),
            (("alloy", "energizer_alloy"), "/v1/alloys", "alloys"),
            (("elastomer", "o_ring_elastomer"), "/v1/elastomers", "elastomers"),
            (("material",), "/v1/shaft-materials", "shaft_materials"),
        ):
            names = list(client.get(path).json()[key])
            for field in fields:
                self.words[field] = names


TEXT = "25 mm"


def in_full(request: dict[str, Any]) -> dict[str, Any]:
    """The request as its schema has it: a quantity that is written as text is read as well, and stands for an object."""
    found: dict[str, Any] = json.loads(json.dumps(request).replace(f'"{TEXT}"', '{"value": 25, "unit": "mm"}'))
    return found


def mutate(request: dict[str, Any], chance: random.Random, vocabulary: Vocabulary) -> dict[str, Any]:
    """Return a request with one change."""
    places = [leaf for leaf in leaves(request) if leaf[0]]
    if not places:
        return {"units": {}}
    pointer, value = chance.choice(places)
    name = pointer.rsplit("/", 1)[1]
    kind = chance.random()
    if isinstance(value, dict) and set(value) == {"value", "unit"}:
        number, unit = value["value"], value["unit"]
        if kind < 0.55:
            decades = chance.choice([0.2, 1.0, 4.0])
            number = float(f"{number * 10.0 ** chance.uniform(-decades, decades):.6g}")
        elif kind < 0.62:
            number = chance.choice([0, -number, 1e300, 1e-300, 5e-324])
        elif kind < 0.8:
            dimension = chance.choice(dimensions_of(unit))
            unit = chance.choice(units.DIMENSIONS[dimension].published)
        elif kind < 0.84:
            unit = chance.choice(["mm", "rpm", "degC", "K", "MPa", "none"])
        elif kind < 0.94:
            return changed(request, pointer, ...) if not isinstance(_parent(request, pointer), list) else request
        else:
            return changed(request, pointer, chance.choice([None, number, [value], {}, TEXT]))
        return changed(request, pointer, {"value": number, "unit": unit})
    if name in vocabulary.words and vocabulary.words[name] and kind < 0.85:
        return changed(request, pointer, chance.choice(vocabulary.words[name]))
    if isinstance(value, bool) and kind < 0.85:
        return changed(request, pointer, not value)
    if isinstance(value, int | float) and kind < 0.85:
        return changed(request, pointer, chance.choice([value + 1, value * 10, 0, -1, value / 3.0, 2**31]))
    if isinstance(value, dict) and kind < 0.6:
        word = chance.choice(sorted(vocabulary.words))
        entry = chance.choice([*vocabulary.words[word], None, 1]) if vocabulary.words[word] else None
        return changed(request, f"{pointer}/{word}", entry)
    if isinstance(value, list) and kind < 0.6:
        return changed(request, pointer, chance.choice([[], value * 3, value[:1], list(reversed(value))]))
    if kind < 0.95 and not isinstance(_parent(request, pointer), list):
        return changed(request, pointer, ...)
    return changed(request, pointer, chance.choice([None, "text", [], {}, 1.5, True]))


def _parent(request: Any, pointer: str) -> Any:
    for part in pointer.split("/")[1:-1]:
        request = request[int(part) if isinstance(request, list) else part]
    return request


def _refuse(token: str) -> float:
    raise AssertionError(f"{token} in an answer")


def _no_number(value: Any) -> list[str]:
    """Return the texts of an answer that speak of what is no number: "the inf MPa", "a life of nan h"."""
    if isinstance(value, dict):
        return [text for entry in value.values() for text in _no_number(entry)]
    if isinstance(value, list):
        return [text for entry in value for text in _no_number(entry)]
    return [value] if isinstance(value, str) and re.search(r"(?<!\w)-?(inf|nan)\b|e\+\d{2,3} h\b", value) else []


@pytest.mark.drawn
@pytest.mark.slow
@pytest.mark.parametrize("operation", OPERATIONS)
def test_requests_near_the_examples(client: TestClient, document: dict[str, Any], operation: str) -> None:
    chance = random.Random(f"{SEED} {operation}")
    vocabulary = Vocabulary(document, client)
    examples = [item for item in EXAMPLES if item.operation == operation]
    path = examples[0].path
    described = document["paths"][path]["post"]
    components = {"components": document["components"]}
    body = described["requestBody"]["content"]["application/json"]["schema"]
    answer = described["responses"]["200"]["content"]["application/json"]["schema"]
    # the fast validator judges each request; the slow one, from another hand, must agree with it on the first few
    fits = jsonschema_rs.Draft202012Validator({**body, **components}, validate_formats=True)
    also_fits = jsonschema.Draft202012Validator({**body, **components}, format_checker=jsonschema.FormatChecker())
    answers = jsonschema_rs.Draft202012Validator({**answer, **components}, validate_formats=True)
    outcomes: Counter[str] = Counter()
    total = share(HEAVY[operation]) if operation in HEAVY else REQUESTS
    for number in range(total):
        request = chance.choice(examples).request
        gentle = chance.random() < 0.75  # only changes after which the request still fits its schema
        for _ in range(chance.choice([1, 2, 4, 8]) if gentle else chance.choice([1, 1, 2, 3])):
            other = mutate(request, chance, vocabulary)
            if not gentle or fits.is_valid(in_full(other)):
                request = other
        response = client.post(path, json=request)
        case = f"{json.dumps(request)} -> {response.status_code} {response.text[:600]}"
        valid = fits.is_valid(in_full(request))
        if number < 10:
            assert also_fits.is_valid(in_full(request)) is valid, case
        if response.status_code == 200:
            assert valid, f"accepted although it does not fit the schema: {case}"
            result = json.loads(response.content, parse_constant=_refuse)
            answers.validate(result)
            assert not _no_number(result), case
            outcomes["answered"] += 1
            outcomes[result.get("verdict", "no verdict")] += 1
            if number % 10 == 0:
                assert client.post(path, json=request).content == response.content, case
            continue
        problem = response.json()
        kind = problem["type"].removeprefix("/problems/")
        assert kind in ({"out-of-domain", "unknown-name"} if valid else {"invalid-request"}), case
        assert_problem(response, 422, kind)
        assert all(error["accepted"] for error in problem["errors"]), case
        outcomes[kind] += 1
    print(operation, dict(outcomes))
    if total < 100:
        assert outcomes["answered"], outcomes
        return
    # or the test would not reach what it is for
    assert outcomes["answered"] >= 0.15 * total, outcomes
    assert outcomes["invalid-request"] + outcomes["out-of-domain"] + outcomes["unknown-name"] >= 0.15 * total, outcomes
