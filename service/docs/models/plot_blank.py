"""Section of a part in its blank, and yields over shaft diameter: ``python service/docs/models/plot_blank.py``."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from typing import Any

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.contract.blank import BlankRequest
from glandwise.drawing.seal import section
from glandwise.engine import Engine
from glandwise.questions.blank import operation as blank
from glandwise.rules.loader import RuleStore
from matplotlib.patches import Polygon, Rectangle

HERE = Path(__file__).parent
ENGINE = Engine(RuleStore(), "baseline")


def estimate(request: dict[str, Any]) -> dict[str, Any]:
    """Answer a request in millimetres."""
    return blank.estimate(BlankRequest.model_validate(request), ENGINE)


def main() -> None:
    """Write ``img/blank.svg``."""
    path = files("glandwise.contract").joinpath("examples", "estimate_blank", "swivel_batch_with_rates.json")
    request = json.loads(path.read_text("utf-8"))["request"]
    found = estimate(request)
    part, stock = found["finished"], found["blank"]
    mpl.rcParams["svg.hashsalt"] = "glandwise"
    figure, (left, right) = plt.subplots(1, 2, figsize=(10.0, 4.2), layout="constrained")
    inner, outer = stock["inner_diameter"]["value"] / 2.0, stock["outer_diameter"]["value"] / 2.0
    width, pitch = part["axial_width"]["value"], stock["length_per_piece"]["value"]
    face = next(item["value"]["value"] for item in found["assumptions"] if item["field"] == "/allowances/face")
    left.add_patch(
        Rectangle(
            (0.0, inner),
            pitch,
            outer - inner,
            facecolor="#d8e3ea",
            edgecolor="#6b7480",
            label="stock that one piece takes",
        )
    )
    asked = BlankRequest.model_validate(request)
    rules = ENGINE.rules(asked)
    drawn = blank.drawn_of(asked, rules)
    outline = [(face + 1e3 * x, 1e3 * r) for x, r in section(drawn.size).free.body.flat()]
    left.add_patch(Polygon(outline, facecolor="#1f5f8b", edgecolor="#22282f", label="finished part, as made"))
    left.add_patch(
        Rectangle((face * 2.0 + width, inner), pitch - width - 2.0 * face, outer - inner, facecolor="#e0a030", alpha=0.6, lw=0.0,
                  label="parting cut")
    )  # fmt: skip
    left.set(
        xlim=(-1.0, pitch + 1.0),
        ylim=(inner - 1.5, outer + 1.5),
        xlabel="axial, mm",
        ylabel="radius, mm",
        aspect="equal",
    )
    left.legend(fontsize=8, loc="upper left", bbox_to_anchor=(1.02, 1.0))
    diameters = np.geomspace(10.0, 500.0, 120)
    for family, compound, colour in (
        ("flexible_lip", "ptfe_carbon_graphite_25", "#1f5f8b"),
        ("energized_lip", "ptfe_carbon_graphite_25", "#8c2f4b"),
    ):
        yields = []
        for diameter in diameters:
            duty = {**request["duty"], "shaft_diameter": {"value": float(diameter), "unit": "mm"}, "bore": {}}
            answer = estimate({"duty": duty, "design": {"family": family, "compound": compound}, "pieces": 1000})
            yields.append(answer["allocation"]["yield_of_used"])
        right.semilogx(diameters, yields, color=colour, label=family.replace("_", " "))
    right.set(xlabel="shaft diameter, mm", ylabel="net mass over used mass", ylim=(0.0, 0.5))
    right.set_title("1000 pieces, all sizes by the rules", fontsize=10)
    right.grid(color="#e7eaed", lw=0.6)
    right.legend(fontsize=8)
    figure.savefig(HERE / "img" / "blank.svg", metadata={"Date": None})
    plt.close(figure)


if __name__ == "__main__":
    main()
