"""Operating map of the example duty: ``python service/docs/models/plot_operating_map.py``."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

from glandwise.api.render.operating_map import render_map
from glandwise.contract.operating_map import OperatingMapRequest
from glandwise.engine import Engine
from glandwise.questions.operating_map import operation as operating_map
from glandwise.rules.loader import RuleStore

HERE = Path(__file__).parent


def main() -> None:
    """Write ``img/operating_map.svg``."""
    path = files("glandwise.contract").joinpath("examples", "map_operation", "rotary_union.json")
    request = OperatingMapRequest.model_validate(json.loads(path.read_text("utf-8"))["request"])
    result = operating_map.map_operation(request, Engine(RuleStore(), "baseline"))
    (HERE / "img" / "operating_map.svg").write_bytes(render_map(result))


if __name__ == "__main__":
    main()
