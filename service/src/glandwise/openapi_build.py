"""Write the committed contract: ``python -m glandwise.openapi_build FOLDER``.

``openapi.json``, and the example requests with their answers.
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


def write(folder: Path) -> None:
    """Write ``openapi.json`` and ``examples/*.json`` (requests with their answers) into a folder."""
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
                for name, example in examples(operation["operationId"]).items():
                    answer = client.post(path, json=example["value"])
                    answer.raise_for_status()
                    content = {
                        "operation": operation["operationId"],
                        "path": path,
                        "summary": example["summary"],
                        "request": example["value"],
                        "response": answer.json(),
                    }
                    file = target / f"{operation['operationId']}.{name}.json"
                    file.write_text(json.dumps(content, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    write(Path(sys.argv[1]))
