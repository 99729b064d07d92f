"""A seal for the output shaft of a food mixer's gearbox, from the enquiry to the blank. All data are invented.

Run it with the service in this process, or against one that is running::

    python service/docs/examples/food_mixer_gearbox.py
    python service/docs/examples/food_mixer_gearbox.py --url http://127.0.0.1:8710
"""

from __future__ import annotations

import sys
from typing import Any

from glandwise_client import GlandwiseClient
from report import cautions, criterion, heading, open_points, point, run, shortlist, verdict

DUTY: dict[str, Any] = {
    "shaft_diameter": "45 mm",
    "motion": {"kind": "rotation", "rotational_speed": "300 rpm"},
    "pressure": "0.2 bar",
    "temperature": {"minimum": "10 °C", "normal": "45 °C", "maximum": "60 °C"},
    "fluid": "white_oil_food_grade",
    "food_contact": True,
    "contaminants": "clean",
    "runout": "0.05 mm",
    "offset": "0.1 mm",
    "target_life": "300 h",  # an hour a day, a new seal every year
    "shaft": {
        "material": "stainless_martensitic_hardened",
        "hardness": "52 HRC",
        "roughness": "0.25 um",
        "machining_lead": "none",
    },
    "bore": {"material": "stainless_austenitic_316"},
}
# A little less interference than the sizing rule gives: less load and less wear, and still enough for the runout.
DESIGN: dict[str, Any] = {
    "family": "flexible_lip",
    "compound": "ptfe_unfilled",
    "second_lip": "none",
    "retention": "o_ring",
    "o_ring_elastomer": "FKM",
    "interference": "0.6 mm",
}
FILLED = {**DESIGN, "compound": "ptfe_carbon_graphite_25"}
GLAND: dict[str, Any] = {"shaft_tolerance": {"kind": "class", "name": "h8"}}


def ask(client: GlandwiseClient) -> dict[str, Any]:
    """Ask everything a quote needs."""
    case: dict[str, Any] = {"duty": DUTY, "design": DESIGN}
    restrict = {"families": ["flexible_lip"], "retentions": ["o_ring"]}
    gland = client.check_gland(**case, gland=GLAND, working=True)
    # the blank is for the bore that the gland check proposes
    bored = {**DUTY, "bore": {**DUTY["bore"], "diameter": gland.bore.nominal}}
    return {
        "selection": client.select_design(duty=DUTY, restrict=restrict, limit=3),
        "envelope": client.check_envelope(**case),
        "gland": gland,
        "friction": client.estimate_friction(**case, working=True),
        "wear": client.estimate_wear(**case, working=True),
        "fit": client.check_thermal_fit(**case, gland=GLAND, working=True),
        "blank": client.estimate_blank(duty=bored, design=DESIGN, pieces=20, working=True),
        "filled": client.check_envelope(duty=DUTY, design=FILLED),
        "filled_wear": client.estimate_wear(duty=DUTY, design=FILLED),
    }


def numbers(a: dict[str, Any]) -> dict[str, Any]:
    """Return what the page works by hand."""
    nominal = a["friction"].levels[1]
    return {
        "surface speed": a["friction"].surface_speed,
        "pressure times speed": criterion(a["envelope"], "pressure_velocity").demand,
        "line load of the lip": nominal.load.lip,
        "line load by pressure": nominal.load.pressure,
        "line load": nominal.load.total,
        "contact pressure": nominal.lips[0].mean_contact_pressure,
        "friction torque": nominal.torque,
        "friction power": nominal.power,
        "conductance": nominal.conductance,
        "contact temperature": nominal.contact_temperature,
        "interference at 60 °C": point(a["fit"], "maximum").interference,
        "O-ring squeeze at 20 °C, tightest": next(
            state.squeeze_ratio for state in a["gland"].o_ring.states if state.tolerances == "tightest"
        ),
        "wear in 1000 h": a["wear"].wear_per_1000_h.nominal.value / 1000,
        "life": a["wear"].life.nominal,
        "volume of the part": a["blank"].finished.volume,
    }


def given(a: dict[str, Any]) -> dict[str, Any]:
    """Return what the page takes over from the answers, beside the working, by the symbol it has there."""
    return {
        "mu_b": a["friction"].levels[1].boundary_friction_coefficient,
        "eta": a["friction"].levels[1].viscosity,
        "G_n": a["gland"].o_ring.groove_diameter.nominal,
        "W_g": a["gland"].o_ring.groove_width.nominal,
    }


def report(a: dict[str, Any]) -> str:
    """Return the answers as text."""
    nominal, wear = a["friction"].levels[1], a["wear"]
    low, high = a["friction"].levels[0], a["friction"].levels[2]
    lines = [
        "Food mixer gearbox (invented): 45 mm shaft, 300 rpm, food-grade oil at 0.2 bar, 10 to 60 °C.",
        heading("Choice"),
        verdict("selection", a["selection"]),
        *shortlist(a["selection"]),
        heading("Flexible lip of unfilled PTFE, O-ring, 0.6 mm of interference"),
        *(verdict(name, a[name]) for name in ("envelope", "gland", "fit", "friction", "wear", "blank")),
        *open_points(a["envelope"], a["gland"], a["fit"]),
        heading("Numbers"),
        f"torque     {nominal.torque:.3g}, known to lie between {low.torque:.3g} and {high.torque:.3g}",
        f"power      {nominal.power:.3g}; the contact runs at {nominal.contact_temperature:.3g}",
        f"lip        {point(a['fit'], 'maximum').interference:.3g} of interference left at 60 °C",
        f"wear       {1000 * wear.wear_per_1000_h.nominal.value:.0f} um in 1000 h; {wear.life.short:.0f}, {wear.life.nominal:.0f} or"
        f" {wear.life.long:.0f} to {wear.allowance_by}",
        f"blank      {a['blank'].summary}",
        heading("If the lip were filled with carbon and graphite"),
        verdict("envelope", a["filled"]),
        verdict("wear", a["filled_wear"]),
        heading("Cautions"),
        *cautions(a[name] for name in ("envelope", "friction", "wear")),
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    sys.exit(run("Food mixer gearbox (invented)", ask, report))
