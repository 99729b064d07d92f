"""A script with a mistake in each line that says so."""

from __future__ import annotations

from glandwise_client import GlandwiseClient, dicts, models

without_unit = models.Shaft(hardness=58)  # wrong
incomplete = models.Duty(shaft_diameter="60 mm")  # wrong
misspelled = models.Shaft(hardnes="58 HRC")  # wrong
misspelled_too: dicts.Shaft = {"hardnes": "58 HRC"}  # wrong
unknown: dicts.Rotation = {"kind": "rotaton", "rotational_speed": "1 rpm"}  # wrong
without_unit_too: dicts.Temperatures = {"normal": 45}  # wrong


def ask(client: GlandwiseClient) -> None:
    """Ask for what the answer does not hold."""
    client.check_envelope(working="yes")  # wrong
    for item in client.batch("check_envelope", []):
        print(item.result.verdct)  # wrong
