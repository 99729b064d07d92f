"""Cases of a comparison as NDJSON: one case a line, to be read by streaming tools."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import orjson


def render_cases(result: Mapping[str, Any]) -> bytes:
    """Return each listed case on a line of its own; the totals are in the JSON answer."""
    return b"".join(orjson.dumps(case, option=orjson.OPT_APPEND_NEWLINE) for case in result["cases"])
