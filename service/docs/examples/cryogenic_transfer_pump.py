"""A seal for a slow transfer pump for liquid nitrogen, from the enquiry to the blank. All data are invented.

The lip is fitted warm with little interference. Cold it has shrunk onto the shaft, and that is how it runs: the answers
take the interference at the temperature of the contact.

Run it with the service in this process, or against one that is running::

    python service/docs/examples/cryogenic_transfer_pump.py
    python service/docs/examples/cryogenic_transfer_pump.py --url http://127.0.0.1:8710
"""

from __future__ import annotations

import sys
from typing import Any

from glandwise_client import GlandwiseClient
from report import cautions, heading, open_points, point, run, shortlist, verdict

DUTY: dict[str, Any] = {
    "shaft_diameter": "25 mm",
    "motion": {"kind": "rotation", "rotational_speed": "50 rpm"},
    "pressure": "3 bar",
    "temperature": {"minimum": "-196 °C", "normal": "-196 °C", "maximum": "30 °C"},
    "fluid": "nitrogen_liquid",
    "contaminants": "clean",
    "runout": "0.03 mm",
    "offset": "0.03 mm",
    "target_life": "100 h",  # an hour for each transfer, two transfers a week, a new seal every year
    "shaft": {"material": "chrome_oxide_coated", "roughness": "0.13 um", "machining_lead": "none"},
    "bore": {"material": "stainless_austenitic_316"},
}
# A thin, long lip with little interference: it lies down as it shrinks on, which one of the usual sizes hardly does.
DESIGN: dict[str, Any] = {
    "family": "energized_lip",
    "compound": "ptfe_polyimide",
    "energizer": "canted_coil",
    "energizer_alloy": "S30100",
    "retention": "clamped_flange",
    "lip_thickness": "0.3 mm",
    "lip_length": "4 mm",
    "interference": "0.1 mm",
}
USUAL = {key: value for key, value in DESIGN.items() if key not in ("lip_thickness", "lip_length", "interference")}
GLAND: dict[str, Any] = {
    "shaft_tolerance": {"kind": "class", "name": "h7"},
    "bore_tolerance": {"kind": "class", "name": "H7"},
}


def ask(client: GlandwiseClient) -> dict[str, Any]:
    """Ask everything a quote needs."""
    case: dict[str, Any] = {"duty": DUTY, "design": DESIGN}
    gland = client.check_gland(**case, gland=GLAND)
    # the blank is for the bore that the gland check proposes
    bored = {**DUTY, "bore": {**DUTY["bore"], "diameter": gland.bore.nominal}}
    return {
        "selection": client.select_design(duty=DUTY, limit=3),
        "envelope": client.check_envelope(**case),
        "gland": gland,
        "fit": client.check_thermal_fit(**case, gland=GLAND, working=True),
        "friction": client.estimate_friction(**case, working=True),
        "wear": client.estimate_wear(**case, working=True),
        "blank": client.estimate_blank(duty=bored, design=DESIGN, pieces=12),
        "usual": client.check_envelope(duty=DUTY, design=USUAL),
        "usual_friction": client.estimate_friction(duty=DUTY, design=USUAL),
    }


def numbers(a: dict[str, Any]) -> dict[str, Any]:
    """Return what the page works by hand."""
    warm, cold, nominal = point(a["fit"], "assembly"), point(a["fit"], "normal"), a["friction"].levels[1]
    return {
        "surface speed": a["friction"].surface_speed,
        "shaft at -196 °C": cold.shaft_diameter,
        "lip at -196 °C, not stretched": cold.lip_diameter,
        "interference at -196 °C": cold.interference,
        "body clearance at -196 °C": cold.body_clearance,
        "energizer deflection at -196 °C": cold.energizer_deflection,
        "lip load at 20 °C, not relaxed": warm.lip_load,
        "line load": nominal.load.total,
        "contact width": nominal.lips[0].contact_width,
        "contact pressure": nominal.lips[0].mean_contact_pressure,
        "friction torque": nominal.torque,
        "friction power": nominal.power,
        "contact temperature": nominal.contact_temperature,
        "wear in 1000 h": a["wear"].wear_per_1000_h.nominal.value / 1000,
        "life": a["wear"].life.nominal,
    }


def given(a: dict[str, Any]) -> dict[str, Any]:
    """Return what the page takes over from the answers, beside the working, by the symbol it has there."""
    return {"B": a["gland"].body.nominal}


def report(a: dict[str, Any]) -> str:
    """Return the answers as text."""
    warm, cold = point(a["fit"], "assembly"), point(a["fit"], "normal")
    nominal, usual, wear = a["friction"].levels[1], a["usual_friction"].levels[1], a["wear"]
    lines = [
        "Cryogenic transfer pump (invented): 25 mm shaft, 50 rpm, liquid nitrogen at 3 bar, -196 to 30 °C.",
        heading("Choice"),
        verdict("selection", a["selection"]),
        *shortlist(a["selection"]),
        heading("Thin energized lip with a canted coil, clamped by a flange, 0.1 mm of interference as made"),
        *(verdict(name, a[name]) for name in ("envelope", "gland", "fit", "friction", "wear", "blank")),
        *open_points(a["envelope"], a["gland"], a["fit"]),
        heading("Numbers"),
        f"fit        interference {warm.interference:.3g} at 20 °C becomes {cold.interference:.3g} at -196 °C",
        f"load       {nominal.load.total:.3g} over {nominal.lips[0].contact_width:.3g}, {nominal.lips[0].mean_contact_pressure:.3g}",
        f"torque     {nominal.torque:.3g}",
        f"wear       {wear.life.short:.0f}, {wear.life.nominal:.0f} or {wear.life.long:.0f} to {wear.allowance_by}",
        heading("If the lip had the usual sizes"),
        verdict("envelope", a["usual"]),
        *open_points(a["usual"]),
        f"load       {usual.load.total:.3g} over {usual.lips[0].contact_width:.3g}, {usual.lips[0].mean_contact_pressure:.3g}",
        heading("Cautions"),
        *cautions(a[name] for name in ("envelope", "friction", "wear")),
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    sys.exit(run("Cryogenic transfer pump (invented)", ask, report))
