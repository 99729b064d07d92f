"""Write the committed contract: ``python -m glandwise.openapi_build FOLDER``.

``openapi.json``, and of each operation its first example request with the answer. Digests and fingerprints are written as
zeros in the answers, so that a file shows a change of what is answered and not of every note beside a rule.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from fastapi.testclient import TestClient

from glandwise.app import create_app
from glandwise.openapi import build, examples
from glandwise.settings import Settings


def text(document: dict[str, Any]) -> str:
    """Return the document as it is committed."""
    return json.dumps(document, indent=2, sort_keys=True, ensure_ascii=False) + "\n"


def without_digests(answer: Any) -> Any:
    """Return an answer whose digests and fingerprints are zeros."""
    if isinstance(answer, list):
        return [without_digests(item) for item in answer]
    if not isinstance(answer, dict):
        return answer
    return {
        key: "0" * len(value) if key in {"digest", "fingerprint"} and isinstance(value, str) else without_digests(value)
        for key, value in answer.items()
    }


def write(folder: Path) -> None:
    """Write ``openapi.json`` and ``examples/*.json`` (one request of each operation with its answer) into a folder."""
    app = create_app(Settings())
    document = build(app)
    (folder / "openapi.json").write_text(text(document), encoding="utf-8")
    target = folder / "examples"
    target.mkdir(exist_ok=True)
    for old in target.glob("*.json"):
        old.unlink()
    with TestClient(app) as client:
        for path, methods in document["paths"].items():
            for method, operation in methods.items():
                if method != "post":
                    continue
                name, example = next(iter(examples(operation["operationId"]).items()))
                answer = client.post(path, json=example["value"])
                answer.raise_for_status()
                content = {
                    "operation": operation["operationId"],
                    "path": path,
                    "summary": example["summary"],
                    "request": example["value"],
                    "response": without_digests(answer.json()),
                }
                file = target / f"{operation['operationId']}.{name}.json"
                file.write_text(json.dumps(content, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    write(Path(sys.argv[1]))
