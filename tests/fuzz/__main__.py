"""``make fuzz``: let a fuzzer that sees which branches an input takes look for what a parser does not expect.

Each parser runs in a process of its own, until so many inputs were tried. An input may be refused in the words made for it;
whatever else is raised, a status of 500 or more, a NaN or an answer that contradicts itself ends the run with the input
beside it in ``build/fuzz``.
"""

from __future__ import annotations

import argparse
import json
import math
import pkgutil
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

import glandwise

ROOT = Path(__file__).parents[2]
FOUND = ROOT / "build" / "fuzz"
SHARES = {"quantity": 0.35, "unit": 0.3, "accept": 0.15, "request": 0.17, "wire": 0.03}
"""Share of the inputs that each parser gets; an input over the wire takes a thousand times as long as a unit."""
FORMULAS = re.compile(r"glandwise\.(numerics|mechanics|physics|case)\b|glandwise\.questions\.\w+\.(kernel|criteria)\b")
SLOWEST = 20
"""Seconds after which an input hangs."""
FORMS = ("application/json", "application/x-ndjson", "text/csv", "application/vnd.apache.arrow.stream")


def main() -> int:
    """Run every parser, or the one that is named."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("parser", nargs="?", choices=SHARES)
    parser.add_argument("--inputs", type=int, default=1_000_000, help="of all parsers together (1,000,000)")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    if given.parser is not None:
        run(given.parser, given.inputs, given.seed)  # ends the process
    bad = 0
    for name, share in SHARES.items():
        count = max(1, round(share * given.inputs))
        command = [sys.executable, "-m", "tests.fuzz", name, "--inputs", str(count), "--seed", str(given.seed)]
        done = subprocess.run(command, cwd=ROOT, text=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
        tried = re.findall(r"^Done (\d+) runs in (\d+) second", done.stdout, re.MULTILINE)
        if done.returncode or not tried or int(tried[0][0]) < count:
            bad += 1
            print(f"{name:<10} FAILED\n{done.stdout[-4000:]}")
        else:
            print(f"{name:<10} {int(tried[0][0]):>9,} inputs in {tried[0][1]} s, nothing found")
    return bad


def run(name: str, count: int, seed: int) -> None:
    """Try so many inputs on one parser; ends the process, with a code other than 0 where something is found."""
    import atheris

    if name == "wire":
        for module in pkgutil.walk_packages(glandwise.__path__, "glandwise."):
            if FORMULAS.match(module.name) and not module.name.endswith("__main__"):
                import_module(module.name)  # the compiler of the formulas cannot read what is traced
    with atheris.instrument_imports(include=["glandwise"]):
        judge = PARSERS[name](atheris)
    begin = FOUND / f"{name}-seeds"
    shutil.rmtree(begin, ignore_errors=True)  # what another run has added there is not begun with
    begin.mkdir(parents=True)
    for place, seed_input in enumerate(seeds(name)):
        (begin / str(place)).write_bytes(seed_input)
    arguments = [
        sys.argv[0], str(begin), f"-runs={count}", f"-seed={seed}", f"-timeout={SLOWEST}", f"-artifact_prefix={FOUND}/{name}-",
        f"-max_len={4096 if name in ('wire', 'request') else 120}", "-print_final_stats=1", "-verbosity=1",
    ]  # fmt: skip
    atheris.Setup(arguments, judge)
    atheris.Fuzz()


def seeds(name: str) -> Iterator[bytes]:
    """Give what the fuzzer begins with."""
    examples = [
        json.loads(path.read_text(encoding="utf-8")) for path in sorted((ROOT / "openapi" / "examples").glob("check_*"))
    ]
    requests = [json.dumps(example["request"]).encode() for example in examples]
    if name in {"quantity", "unit"}:
        yield from (
            b"8 bar",
            b"1,5 mm",
            b"1450 1/min",
            b"-40 degF",
            b"30 lb/in\xc2\xb2",
            b"1.5e-3 kgf/cm^2",
            b"58 HRC",
            b"2 psia",
        )
    elif name == "accept":
        yield from (b"*/*", b"application/json", b"text/html;q=0.5, image/*;q=0.9", b"application/problem+json;q=0")
    elif name == "request":
        yield from requests
    else:
        yield from (b"\0" + request for request in requests)
        yield from (
            b"\1" + b"\n".join(requests),
            b"\2shaft_diameter [mm],fluid,pressure [bar]\n60,water,8\n",
            b"\3ARROW1\0\0",
        )


# ------------------------------------------------------------------------------------------------------------ the parsers


def text_of(data: bytes) -> str:
    """Return bytes as text; what is no UTF-8 stands for itself."""
    return data.decode("utf-8", errors="replace")


def quantity(atheris: Any) -> Callable[[bytes], None]:
    """Quantities as people write them."""
    from glandwise import units
    from glandwise.contract.reading import quantity as read
    from pydantic_core import PydanticCustomError

    names = sorted(units.DIMENSIONS)

    def judge(data: bytes) -> None:
        source = atheris.FuzzedDataProvider(data)
        dimension, sign = (
            names[source.ConsumeIntInRange(0, len(names) - 1)],
            (None, "point", "comma")[source.ConsumeIntInRange(0, 2)],
        )
        text = text_of(source.ConsumeBytes(200))
        try:
            found = read(text, dimension, sign)
        except PydanticCustomError:
            return
        if isinstance(found, dict):
            assert found["unit"] in units.factors(dimension), found
            assert isinstance(found["value"], float), found
            assert not math.isnan(found["value"]), found
            again = f"{found['value']!r} {found['unit']}".removesuffix(" 1")
            assert read(again, dimension, "point") == found, (text, found)

    return judge


def unit(atheris: Any) -> Callable[[bytes], None]:
    """Units in other spellings."""
    from glandwise import units
    from glandwise.contract.reading import find_unit
    from pydantic_core import PydanticCustomError

    names = sorted(units.DIMENSIONS)

    def judge(data: bytes) -> None:
        source = atheris.FuzzedDataProvider(data)
        dimension = names[source.ConsumeIntInRange(0, len(names) - 1)]
        try:
            found = find_unit(text_of(source.ConsumeBytes(100)), dimension)
        except PydanticCustomError:
            return
        assert found is None or find_unit(found, dimension) == found

    return judge


def accept(_: Any) -> Callable[[bytes], None]:
    """What a caller accepts."""
    from glandwise.api import negotiation
    from glandwise.api.problems import ProblemError
    from glandwise.operations import OPERATIONS

    operations = tuple(OPERATIONS.values())

    def judge(data: bytes) -> None:
        operation = operations[data[0] % len(operations)] if data else operations[0]
        try:
            negotiation.choose(data[1:].decode("latin-1"), operation)
        except ProblemError as error:
            if error.kind != "not-acceptable":
                raise

    return judge


def request(_: Any) -> Callable[[bytes], None]:
    """JSON of a request."""
    from glandwise.api.body import read_json
    from glandwise.api.problems import ProblemError
    from glandwise.contract.envelope import EnvelopeCheckRequest
    from pydantic import ValidationError

    def judge(data: bytes) -> None:
        try:
            found = EnvelopeCheckRequest.model_validate(read_json(data))
        except (ProblemError, ValidationError):
            return
        assert found == EnvelopeCheckRequest.model_validate(read_json(data))

    return judge


def wire(_: Any) -> Callable[[bytes], None]:
    """Whole messages, in every form that the check of an envelope takes."""
    from fastapi.testclient import TestClient
    from glandwise.app import create_app
    from glandwise.settings import Settings

    client = TestClient(create_app(Settings(batch_workers=1)), raise_server_exceptions=False)
    client.__enter__()  # until the process ends

    def unheard(constant: str) -> float:
        raise AssertionError(f"{constant} in an answer")

    def judge(data: bytes) -> None:
        form = FORMS[data[0] % len(FORMS)] if data else FORMS[0]
        answer = client.post("/v1/envelope-checks", content=data[1:], headers={"Content-Type": form})
        assert answer.status_code < 500, (answer.status_code, answer.text[:500])
        kind = answer.headers["Content-Type"].partition(";")[0]
        if answer.status_code >= 400:
            assert kind == "application/problem+json"
        if kind.endswith("json"):
            lines = answer.content.splitlines() if kind == "application/x-ndjson" else [answer.content]
            told = [json.loads(line, parse_constant=unheard) for line in lines]
            if answer.status_code == 200 and kind == "application/json":
                ranks = ("pass", "not_evaluated", "caution", "fail")
                worst = max((item["status"] for item in told[0]["criteria"]), key=ranks.index)
                assert told[0]["verdict"] in {worst, "caution"}, told[0]["summary"]

    return judge


PARSERS = {"quantity": quantity, "unit": unit, "accept": accept, "request": request, "wire": wire}

if __name__ == "__main__":
    sys.exit(main())
