"""A script as a user types it; type checkers have nothing to say about it."""

from __future__ import annotations

from glandwise_client import AsyncGlandwiseClient, BatchItem, GlandwiseClient, dicts, models

duty = models.Duty(
    shaft_diameter="60 mm",
    motion=models.Rotation(kind="rotation", rotational_speed=(420, "rpm")),
    pressure={"value": 8, "unit": "bar"},
    temperature={"normal": "45 degC"},
    fluid="paint_solvent_based",
    shaft=models.Shaft(hardness="58 HRC", material=None),
)
design: dicts.FlexibleLip = {"family": "flexible_lip", "compound": "ptfe_carbon_graphite_25"}
as_dict: dicts.Duty = {
    "shaft_diameter": "60 mm",
    "motion": {"kind": "rotation", "rotational_speed": "420 rpm"},
    "pressure": (8, "bar"),
    "temperature": {"normal": "45 degC"},
    "fluid": "paint_solvent_based",
}
rows: list[dicts.EnvelopeCheckRequest] = [{"duty": as_dict, "design": design}]
allowances = models.Allowances(reject_share=0.05)
speeds = models.RunoutAllowanceRequest(
    duty=duty, design=design, rotational_speeds=([500, 1000], "rpm"), as_of="2026-01-01"
)


def ask(client: GlandwiseClient) -> str:
    """Ask in several ways."""
    result = client.check_envelope(duty=duty, design=design)
    other = client.check_envelope(duty=as_dict, design={"family": "flexible_lip", "compound": "ptfe_glass_15"})
    limit = result.criteria[0].capacity
    again = models.Duty(
        shaft_diameter="60 mm",
        motion=duty.motion,
        pressure=limit if limit is not None else "1 bar",
        temperature=duty.temperature,
        fluid="water",
    )
    return f"{result.verdict} {other.verdict} {again.fluid} {client.allow_runout(speeds).summary}"


def ask_many(client: GlandwiseClient) -> list[BatchItem[models.FrictionEstimateResult]]:
    """Ask for many; what comes back is typed by the name of the operation."""
    for item in client.batch("check_envelope", rows):
        print(item.number, item.result.criteria[0].reason)
    for short in client.batch("check_envelope", rows, detail="verdict"):
        verdict: models.EnvelopeVerdict = short.result
        print(verdict.verdict)
    return list(client.batch("estimate_friction", [{"duty": as_dict, "design": design}, b"{}"]))


async def ask_later(client: AsyncGlandwiseClient) -> None:
    """Ask without waiting."""
    async for item in client.batch("estimate_wear", rows):
        print(item.result.stamp.fingerprint)
