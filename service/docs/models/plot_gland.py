"""Draw the gland page: torque held against lip torque over temperature, and heel pressure over the gap."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.contract.gland import GlandCheckRequest
from glandwise.engine import Engine
from glandwise.questions.gland import operation as gland
from glandwise.rules.loader import RuleStore
from matplotlib.ticker import NullFormatter

HERE = Path(__file__).parent
mpl.rcParams["svg.hashsalt"] = "glandwise"
ENGINE = Engine(RuleStore(), "baseline")


def check(cold: float, clearance: float, **design: Any) -> dict[str, Any]:
    """Return the gland check of an 80 mm shaft in oil."""

    def celsius(value: float) -> dict[str, Any]:
        return {"value": value, "unit": "degC"}

    duty = {
        "shaft_diameter": {"value": 80, "unit": "mm"},
        "motion": {"kind": "rotation", "rotational_speed": {"value": 300, "unit": "rpm"}},
        "pressure": {"value": 0, "unit": "bar"},
        "temperature": {"minimum": celsius(cold), "normal": celsius(max(cold, 40)), "maximum": celsius(max(cold, 60))},
        "fluid": "mineral_oil_hydraulic",
        "bore": {"diameter": {"value": 110, "unit": "mm"}},
    }
    tight = {"kind": "deviations", "upper": {"value": 0, "unit": "mm"}, "lower": {"value": 0, "unit": "mm"}}
    opening = {"throat_diameter": {"nominal": {"value": 80 + clearance, "unit": "mm"}}, "shaft_tolerance": tight}
    body = {"duty": duty, "design": {"compound": "ptfe_carbon_graphite_25", **design}, "gland": opening}
    return gland.check(GlandCheckRequest.model_validate(body), ENGINE)


def main() -> None:
    """Write ``img/gland.svg``."""
    figure, (left, right) = plt.subplots(1, 2, figsize=(10, 4.4), layout="constrained")
    colds = np.linspace(-15.0, 40.0, 23)
    for retention, word, color in (
        ("o_ring", "O-ring", "tab:blue"),
        ("clamped_flange", "clamped flange", "tab:green"),
    ):
        states: dict[str, list[float]] = {"cold_start": [], "end_of_life_start": []}
        lips: dict[str, list[float]] = {"cold_start": [], "end_of_life_start": []}
        for cold in colds:
            for state in check(float(cold), 0.2, family="flexible_lip", retention=retention)["rotation"]["states"]:
                if state["state"] in states:
                    states[state["state"]].append(state["holding_torque"]["value"] / 2.0)
                    lips[state["state"]].append(state["lip_torque"]["value"])
        left.semilogy(colds, states["cold_start"], color=color, label=f"half of what the {word} holds, new")
        if retention == "o_ring":
            left.semilogy(colds, states["end_of_life_start"], color=color, ls="--", label="the same, end of life")
            left.semilogy(colds, lips["cold_start"], color="tab:red", label="lips, first start")
            left.semilogy(colds, lips["end_of_life_start"], color="tab:red", ls="--", label="lips, end of life")
    left.set_xlabel("temperature at the start, °C")
    left.set_ylabel("torque, N m")
    left.set_title("Will it spin? Flexible lip on 80 mm", fontsize=10)
    left.legend(fontsize=8)
    left.grid(alpha=0.3, which="both", lw=0.4)

    clearances = np.geomspace(0.04, 0.8, 25)
    heels: dict[str, list[float]] = {"standard": [], "extended": []}
    flow = 0.0
    for clearance in clearances:
        found = check(20.0, float(clearance), family="energized_lip", retention="clamped_flange")["extrusion"]
        for item in found["heels"]:
            heels[item["heel"]].append(item["allowed_pressure"]["value"])
        flow = min(state["surface_flow_pressure"]["value"] for state in found["states"])
    for name, pressures in heels.items():
        right.loglog(clearances, pressures, label=f"{name} heel")
    right.axhline(flow, color="0.4", lw=0.9, ls=":", label="surface flows into any gap")
    for axis in (right.xaxis, right.yaxis):
        axis.set_major_formatter("{x:g}")
        axis.set_minor_formatter(NullFormatter())
    right.set_xticks([0.05, 0.1, 0.2, 0.4, 0.8])
    right.set_yticks([5, 10, 20, 40, 80])
    right.set_xlabel("clearance behind the seal, on the diameter, mm")
    right.set_ylabel("pressure the heel bridges, MPa")
    right.set_title("Shaft against one side, 60 °C", fontsize=10)
    right.legend(fontsize=8)
    right.grid(alpha=0.3, which="both", lw=0.4)
    figure.savefig(HERE / "img" / "gland.svg", metadata={"Date": None})


if __name__ == "__main__":
    main()
