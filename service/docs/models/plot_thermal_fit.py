"""Draw the thermal fit page: interference, body clearance and energizer deflection over temperature."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
from glandwise.contract.thermal_fit import ThermalFitRequest
from glandwise.engine import Engine
from glandwise.questions.thermal_fit import operation as thermal_fit
from glandwise.rules.loader import RuleStore

HERE = Path(__file__).parent
mpl.rcParams["svg.hashsalt"] = "glandwise"
ENGINE = Engine(RuleStore(), "baseline")
# Kirby (1956), mean coefficient between 25 degC and T, 1e-6/K; from memory
KIRBY = {-190: 86, -150: 96, -100: 112, -50: 135, 0: 200, 50: 124, 100: 124, 150: 135, 200: 151, 250: 174}


INTERFERENCE = {"value": 0.8, "unit": "mm"}


def fit(compound: str, **design: Any) -> dict[str, Any]:
    """Return the thermal fit of a 50 mm shaft, measured at 25 degC."""
    duty = {
        "shaft_diameter": {"value": 50, "unit": "mm"},
        "motion": {"kind": "rotation", "rotational_speed": {"value": 100, "unit": "rpm"}},
        "pressure": {"value": 0, "unit": "bar"},
        "temperature": {"normal": {"value": 25, "unit": "degC"}},
        "fluid": "nitrogen",
        "shaft": {"material": "stainless_austenitic_316"},
        "bore": {"diameter": {"value": 72, "unit": "mm"}, "material": "stainless_austenitic_316"},
    }
    body = {
        "duty": duty,
        "design": {"compound": compound, **design},
        "assembly_temperature": {"value": 25, "unit": "degC"},
    }
    return thermal_fit.check(ThermalFitRequest.model_validate(body), ENGINE)


def column(result: dict[str, Any], name: str) -> list[float]:
    """Return one column of the curve."""
    return [point[name]["value"] if isinstance(point[name], dict) else point[name] for point in result["points"]]


def main() -> None:
    """Write ``img/thermal_fit.svg``."""
    figure, (left, right) = plt.subplots(1, 2, figsize=(10, 4.4), layout="constrained")
    for compound, word, color in (
        ("ptfe_unfilled", "unfilled PTFE", "tab:blue"),
        ("ptfe_carbon_graphite_25", "25 % carbon and graphite", "tab:orange"),
    ):
        result = fit(compound, family="flexible_lip", retention="o_ring", interference=INTERFERENCE)
        t = column(result, "temperature")
        left.plot(t, column(result, "interference"), color=color, label=f"lip on shaft, O-ring, {word}")
        left.plot(t, column(result, "body_clearance"), color=color, ls="--", label=f"body in bore, {word}")
        if compound == "ptfe_unfilled":
            made = result["points"][0]["body_diameter"]["value"] / (1.0 + result["points"][0]["seal_strain"])
            held = fit(compound, family="flexible_lip", retention="clamped_flange", interference=INTERFERENCE)
            left.plot(t, column(held, "interference"), color=color, ls=":", label="lip on shaft, flange, unfilled PTFE")
    # the lip of 49.2 mm, 0.8 mm thick and 4.2 mm long, by the table's own strains; steel by 16e-6/K (its fit below 20 degC
    # is left to the curve); the root is free until the bore of 72 mm stops the body
    x = 4.2 * (3.0 * (1.0 - 0.46**2) / (25.4 * 0.8) ** 2) ** 0.25
    share = 2.0 * math.cosh(x) * math.cos(x) / (math.cosh(x) ** 2 + math.cos(x) ** 2)
    temperatures = [celsius for celsius in KIRBY if celsius >= 0]
    by_hand = []
    for celsius in temperatures:
        free, steel = KIRBY[celsius] * 1e-6 * (celsius - 25.0), 16e-6 * (celsius - 25.0)
        root = min(free, 72.0 * (1.0 + steel) / made - 1.0)
        by_hand.append(50.0 * (1.0 + steel) - 49.2 * (1.0 + share * root + (1.0 - share) * free))
    left.plot(temperatures, by_hand, "o", ms=5, mfc="none", color="tab:blue", label="by hand from Kirby (1956)")
    band = result["transition"]
    for axis in (left, right):
        axis.axvspan(
            band["lower"]["value"], band["upper"]["value"], color="tab:red", alpha=0.15, lw=0, label="transitions"
        )
        axis.axhline(0.0, color="0.4", lw=0.8)
        axis.set_xlabel("temperature, °C")
        axis.grid(alpha=0.3)
    left.set_ylabel("interference, clearance on the diameter, mm")
    left.set_title("Flexible lip, 0.8 mm interference as made", fontsize=10)
    left.legend(fontsize=8)
    for energizer, word in (("cantilever_v", "cantilever V"), ("canted_coil", "canted coil")):
        result = fit("ptfe_unfilled", family="energized_lip", energizer=energizer, retention="clamped_flange")
        t = column(result, "temperature")
        right.plot(t, column(result, "energizer_deflection"), label=f"deflection of the {word}, mm")
    right.set_ylabel("deflection, mm")
    right.set_title("Unfilled PTFE, shaft and bore of one steel", fontsize=10)
    right.legend(fontsize=8)
    figure.savefig(HERE / "img" / "thermal_fit.svg", metadata={"Date": None})


if __name__ == "__main__":
    main()
