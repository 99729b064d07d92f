"""A seal for a slow swivel at high pressure, from the enquiry to the blank. All data are invented.

Run it with the service in this process, or against one that is running::

    python service/docs/examples/high_pressure_swivel.py
    python service/docs/examples/high_pressure_swivel.py --url http://127.0.0.1:8710
"""

from __future__ import annotations

import sys
from typing import Any

from glandwise_client import GlandwiseClient
from report import cautions, criterion, heading, open_points, point, run, shortlist, verdict

DUTY: dict[str, Any] = {
    "shaft_diameter": "70 mm",
    "motion": {"kind": "rotation", "rotational_speed": "10 rpm"},
    "pressure": "250 bar",
    "temperature": {"minimum": "-10 °C", "normal": "45 °C", "maximum": "70 °C"},
    "fluid": "mineral_oil_hydraulic",
    "contaminants": "clean",
    "runout": "0.02 mm",
    "offset": "0.02 mm",
    "target_life": "1500 h",  # five hours on each working day, a new seal every year
    "shaft": {
        "material": "hard_chrome_plated",
        "hardness": "64 HRC",
        "roughness": "0.2 um",
        "machining_lead": "none",
    },
    "bore": {"material": "steel_soft"},
}
DESIGN: dict[str, Any] = {
    "family": "energized_lip",
    "compound": "ptfe_carbon_graphite_25",
    "energizer": "cantilever_v",
    "energizer_alloy": "R30003",
    "heel": "extended",
    "retention": "clamped_flange",
}
COILED = {**DESIGN, "energizer": "canted_coil", "energizer_alloy": "S30100"}


def ask(client: GlandwiseClient) -> dict[str, Any]:
    """Ask everything a quote needs."""
    case: dict[str, Any] = {"duty": DUTY, "design": DESIGN}
    gland = client.check_gland(**case, working=True)
    # the blank is for the bore that the gland check proposes
    bored = {**DUTY, "bore": {**DUTY["bore"], "diameter": gland.bore.nominal}}
    return {
        "selection": client.select_design(duty=DUTY, restrict={"compounds": [DESIGN["compound"]]}, limit=3),
        "envelope": client.check_envelope(**case, working=True),
        "gland": gland,
        "friction": client.estimate_friction(**case, working=True),
        "wear": client.estimate_wear(**case, working=True),
        "fit": client.check_thermal_fit(**case, working=True),
        "blank": client.estimate_blank(duty=bored, design=DESIGN, pieces=20),
        "coiled_wear": client.estimate_wear(duty=DUTY, design=COILED),
    }


def numbers(a: dict[str, Any]) -> dict[str, Any]:
    """Return what the page works by hand."""
    nominal = a["friction"].levels[1]
    return {
        "surface speed": a["friction"].surface_speed,
        "pressure times speed": criterion(a["envelope"], "pressure_velocity").demand,
        "line load of the lip": nominal.load.lip,
        "line load of the energizer": nominal.load.energizer,
        "line load": nominal.load.total,
        "contact width": nominal.lips[0].contact_width,
        "contact pressure": nominal.lips[0].mean_contact_pressure,
        "friction torque": nominal.torque,
        "friction power": nominal.power,
        "contact temperature": nominal.contact_temperature,
        "pressure on the clamped face": a["gland"].clamp.pressure,
        "greatest gap at 70 °C": a["gland"].extrusion.states[-1].gap,
        "gap that the heel bridges at 70 °C": a["gland"].extrusion.states[-1].allowed_gap,
        "wear in 1000 h": a["wear"].wear_per_1000_h.nominal.value / 1000,
        "life": a["wear"].life.nominal,
        "interference at 70 °C": point(a["fit"], "maximum").interference,
    }


def given(a: dict[str, Any]) -> dict[str, Any]:
    """Return what the page takes over from the answers, beside the working, by the symbol it has there."""
    return {
        "mu_b": a["friction"].levels[1].boundary_friction_coefficient,
        "eta": a["friction"].levels[1].viscosity,
    }


def report(a: dict[str, Any]) -> str:
    """Return the answers as text."""
    low, nominal, high = a["friction"].levels
    wear, turning = a["wear"], criterion(a["gland"], "seal_rotation")
    lines = [
        "High pressure swivel (invented): 70 mm shaft, 10 rpm, hydraulic oil at 250 bar, -10 to 70 °C.",
        heading("Choice"),
        verdict("selection", a["selection"]),
        *shortlist(a["selection"]),
        heading("Energized lip with a cantilever V, extended heel, clamped by a flange"),
        *(verdict(name, a[name]) for name in ("envelope", "gland", "fit", "friction", "wear", "blank")),
        *open_points(a["envelope"], a["gland"], a["fit"]),
        heading("Numbers"),
        f"load       {nominal.load.total:.3g}, of it {nominal.load.pressure:.3g} by pressure",
        f"torque     {nominal.torque:.3g}, known to lie between {low.torque:.3g} and {high.torque:.3g}",
        f"holding    {turning.reason}",
        f"wear       {1000 * wear.wear_per_1000_h.nominal.value:.0f} um in 1000 h; {wear.life.short:.0f}, {wear.life.nominal:.0f} or"
        f" {wear.life.long:.0f} to {wear.allowance_by}",
        f"blank      {a['blank'].summary}",
        heading("If the spring were a canted coil"),
        verdict("wear", a["coiled_wear"]),
        heading("Cautions"),
        *cautions(a[name] for name in ("envelope", "friction", "wear")),
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    sys.exit(run("High pressure swivel (invented)", ask, report))
