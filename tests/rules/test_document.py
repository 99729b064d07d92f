"""What the page on rule sets shows is what the service does."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from glandwise.__main__ import main
from glandwise.rules.loader import RuleStore

PAGE = (Path(__file__).parents[2] / "service" / "docs" / "rules.md").read_text(encoding="utf-8")
NAMED = dict(re.findall(r"^`house/(\w+)\.toml`\n\n```toml\n(.*?)```", PAGE, re.MULTILINE | re.DOTALL))
FLUIDS = next(block for block in re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL) if block.startswith("# fluids.toml"))


def test_the_house_set_of_the_page_loads_and_does_what_is_said(load: Callable[..., RuleStore]) -> None:
    assert set(NAMED) == {"rule_set", "sources", "compounds", "designs"}
    tree = load({**NAMED, "fluids": FLUIDS}).trees["house"]
    before, after = tree.at(date(2026, 2, 28)).data, tree.at(date(2026, 3, 1)).data
    base = RuleStore().trees["baseline"].newest().data
    assert before.compounds["ptfe_unfilled"].density.value == base.compounds["ptfe_unfilled"].density.value
    assert after.compounds["ptfe_unfilled"].density.value == 2.16
    assert [data.compounds["ptfe_glass_15"].density.value for data in (before, after)] == [2.22, 2.21]
    assert after.compounds["ptfe_glass_15"].friction.dry is None
    assert "chlorine_gas" not in after.fluids
    assert [data.fluids["steam"].compatibility.elastomers["EPDM"] for data in (before, after)] == [
        "compatible",
        "caution",
    ]
    assert "house_heel" not in after.designs.capacities
    assert tree.newest().data.designs.capacities["house_heel"].limit.si == 55e6


def test_the_fault_of_the_page_is_that_of_the_service(
    write: Callable[..., Path], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shown = re.search(r"```\n(The rules cannot be used\..*?)```", PAGE, re.DOTALL)
    assert shown is not None
    text = NAMED["compounds"].replace('unit = "g/cm3"', 'unit = "kg/m"', 1)
    monkeypatch.setenv("GLANDWISE_RULES", str(write({**NAMED, "compounds": text})))
    assert main() == 2
    assert capsys.readouterr().err == shown[1]


def test_the_schema_addresses_of_the_page_are_served(client: object) -> None:
    [address] = re.findall(r"#:schema http://127\.0\.0\.1:8710(\S+)", PAGE)
    assert client.get(address).status_code == 200
