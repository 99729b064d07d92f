"""A seal for a slow transfer pump for liquid nitrogen, from the enquiry to the blank. All data are invented.

The lip is fitted warm with hardly any interference. Cold it has shrunk onto the shaft, and that is how it runs: the fit
cold goes into a second round of questions.

Run it with the service in this process, or against one that is running::

    python service/docs/examples/cryogenic_transfer_pump.py
    python service/docs/examples/cryogenic_transfer_pump.py --url http://127.0.0.1:8710
"""

from __future__ import annotations

import sys
from typing import Any

from glandwise_client import GlandwiseClient
from report import cautions, criterion, heading, open_points, point, run, shortlist, verdict

DUTY: dict[str, Any] = {
    "shaft_diameter": "25 mm",
    "motion": {"kind": "rotation", "rotational_speed": "50 rpm"},
    "pressure": "3 bar",
    "temperature": {"minimum": "-196 °C", "normal": "-196 °C", "maximum": "30 °C"},
    "fluid": "nitrogen_liquid",
    "contaminants": "clean",
    "runout": "0.03 mm",
    "offset": "0.03 mm",
    "shaft": {"material": "chrome_oxide_coated", "roughness": "0.13 um", "machining_lead": "none"},
    "bore": {"material": "stainless_austenitic_316"},
}
# A thin, long lip with hardly any interference: stiff PTFE that shrinks on would press far too hard.
DESIGN: dict[str, Any] = {
    "family": "energized_lip",
    "compound": "ptfe_polyimide",
    "energizer": "canted_coil",
    "energizer_alloy": "S30100",
    "retention": "clamped_flange",
    "lip_thickness": "0.3 mm",
    "lip_length": "4 mm",
    "interference": "0.04 mm",
}
GLAND: dict[str, Any] = {
    "shaft_tolerance": {"kind": "class", "name": "h7"},
    "bore_tolerance": {"kind": "class", "name": "H7"},
}
LIFE = "100 h"  # an hour for each transfer, two transfers a week, a new seal every year


def ask(client: GlandwiseClient) -> dict[str, Any]:
    """Ask everything a quote needs, first for the lip as made, then for the lip as cold as it runs."""
    case: dict[str, Any] = {"duty": DUTY, "design": DESIGN}
    fit = client.check_thermal_fit(**case, gland=GLAND, working=True)
    cold: dict[str, Any] = {"duty": DUTY, "design": {**DESIGN, "interference": point(fit, "normal").interference}}
    gland = client.check_gland(**case, gland=GLAND)
    # the blank is for the bore that the gland check proposes
    bored = {**DUTY, "bore": {**DUTY["bore"], "diameter": gland.bore.nominal}}
    return {
        "selection": client.select_design(duty=DUTY, limit=3),
        "fit": fit,
        "envelope": client.check_envelope(**case),
        "friction": client.estimate_friction(**case),
        "gland": gland,
        "cold_envelope": client.check_envelope(**cold),
        "cold_friction": client.estimate_friction(**cold, working=True),
        "cold_wear": client.estimate_wear(**cold, target_life=LIFE, working=True),
        "blank": client.estimate_blank(duty=bored, design=DESIGN, pieces=12, working=True),
    }


def numbers(a: dict[str, Any]) -> dict[str, Any]:
    """Return what the page works by hand."""
    warm, cold, nominal = point(a["fit"], "assembly"), point(a["fit"], "normal"), a["cold_friction"].levels[1]
    return {
        "surface speed": a["cold_friction"].surface_speed,
        "shaft at -196 °C": cold.shaft_diameter,
        "lip at -196 °C, not stretched": cold.lip_diameter,
        "interference at -196 °C": cold.interference,
        "lip load at -196 °C, not relaxed": cold.lip_load,
        "lip load at 20 °C, not relaxed": warm.lip_load,
        "body clearance at -196 °C": cold.body_clearance,
        "energizer deflection at -196 °C": cold.energizer_deflection,
        "line load, cold fit": nominal.load.total,
        "contact pressure, cold fit": nominal.lips[0].mean_contact_pressure,
        "friction torque, cold fit": nominal.torque,
        "friction power, cold fit": nominal.power,
        "contact temperature, cold fit": nominal.contact_temperature,
        "wear in 1000 h, cold fit": a["cold_wear"].wear_per_1000_h.nominal.value / 1000,
    }


def given(a: dict[str, Any]) -> dict[str, Any]:
    """Return what the page takes over from the answers, beside the working, by the symbol it has there."""
    return {
        "B": a["gland"].body.nominal,
        "i": point(a["fit"], "assembly").interference,
        "K_m": a["cold_wear"].specific_wear_rate_nominal,
        "phi_m": 1.0 - a["cold_wear"].film_share,
        "p_m": a["cold_wear"].mean_contact_pressure,
    }


def report(a: dict[str, Any]) -> str:
    """Return the answers as text."""
    warm, cold, nominal = point(a["fit"], "assembly"), point(a["fit"], "normal"), a["cold_friction"].levels[1]
    as_made, wear = a["friction"].levels[1], a["cold_wear"]
    lines = [
        "Cryogenic transfer pump (invented): 25 mm shaft, 50 rpm, liquid nitrogen at 3 bar, -196 to 30 °C.",
        heading("Choice"),
        verdict("selection", a["selection"]),
        *shortlist(a["selection"]),
        heading("Thin energized lip with a canted coil, clamped by a flange, 0.04 mm of interference as made"),
        *(verdict(name, a[name]) for name in ("envelope", "gland", "fit", "friction")),
        *open_points(a["envelope"], a["gland"], a["fit"]),
        heading("The same lip as cold as it runs"),
        f"interference {warm.interference:.3g} at 20 °C becomes {cold.interference:.3g} at -196 °C",
        verdict("envelope", a["cold_envelope"]),
        verdict("friction", a["cold_friction"]),
        verdict("wear", wear),
        *open_points(a["cold_envelope"]),
        heading("Numbers"),
        f"torque     {as_made.torque:.3g} with the fit as made, {nominal.torque:.3g} with the fit cold",
        f"contact PV {100 * criterion(a['envelope'], 'contact_pressure_velocity').utilization:.0f} % of the limit as made,"
        f" {100 * criterion(a['cold_envelope'], 'contact_pressure_velocity').utilization:.0f} % cold",
        f"wear       {wear.life.short:.0f}, {wear.life.nominal:.0f} or {wear.life.long:.0f} to {wear.allowance_by}",
        f"blank      {a['blank'].summary}",
        heading("Cautions"),
        *cautions(a[name] for name in ("cold_envelope", "cold_friction", "cold_wear")),
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    sys.exit(run("Cryogenic transfer pump (invented)", ask, report))
