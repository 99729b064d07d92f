"""Values by date: both sides of every edge, what is absent before its time, what a request may ask."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from glandwise.app import create_app
from glandwise.rules.loader import RuleError, RuleStore, RuleTree
from glandwise.settings import Settings

from .conftest import HEADER

JULY = date(2026, 7, 1)
DAY = timedelta(days=1)
SOURCE = 'source = "house-estimate", evidence = "house_estimate"'


def value(number: float, unit: str, day: date) -> str:
    return f'{{ value = {number}, unit = "{unit}", {SOURCE}, valid_from = {day} }}'


HOUSE = {
    "compounds": (
        f"[ptfe_unfilled]\ndensity = {value(2.2, 'g/cm3', JULY)}\n"
        f"[ptfe_glass_15.friction]\ndry = [\n  {value(0.2, '1', date(2026, 3, 1))},\n  {value(0.3, '1', JULY)},\n]\n"
    ),
    "designs": (
        "[capacities.house_heel]\ncriterion = 'pressure'\ntitle = 'tested heel'\n"
        "when = { family = 'energized_lip', heel = 'extended', energizer = 'cantilever_v' }\n"
        f"limit = {value(500.0, 'bar', JULY)}\n"
    ),
}  # fmt: skip


@pytest.fixture
def tree(load: Callable[..., RuleStore]) -> RuleTree:
    return load(HOUSE).trees["house"]


@pytest.mark.parametrize(
    ("day", "density", "friction", "capacity"),
    [
        (date(2026, 1, 1), 2170.0, None, False),
        (date(2026, 2, 28), 2170.0, None, False),
        (date(2026, 3, 1), 2170.0, 0.2, False),
        (date(2026, 3, 2), 2170.0, 0.2, False),
        (JULY - DAY, 2170.0, 0.2, False),
        (JULY, 2200.0, 0.3, True),
        (JULY + DAY, 2200.0, 0.3, True),
        (date(2099, 12, 31), 2200.0, 0.3, True),
    ],
)
def test_both_sides_of_a_date(
    tree: RuleTree, day: date, density: float, friction: float | None, capacity: bool
) -> None:
    rules = tree.at(day)
    assert rules.as_of == day
    assert rules.data.compounds["ptfe_unfilled"].density.si == pytest.approx(density)
    found = rules.data.compounds["ptfe_glass_15"].friction.dry
    # Before the house's first entry the extended set's own value holds.
    before = tree.at(tree.valid_from).data.compounds["ptfe_glass_15"].friction.dry
    assert found.si == (before.si if friction is None else friction)
    assert before.si not in (0.2, 0.3) or before.evidence == "house_estimate"
    assert ("house_heel" in rules.data.designs.capacities) is capacity


def test_a_set_is_whole_from_its_own_date_on(tree: RuleTree) -> None:
    assert tree.breakpoints == [date(2026, 1, 1), date(2026, 3, 1), JULY]
    assert tree.newest().as_of == JULY
    with pytest.raises(ValueError, match="in force from 2026-01-01"):
        tree.at(date(2025, 12, 31))


def test_days_between_two_changes_share_their_data(tree: RuleTree) -> None:
    assert tree.at(JULY).data is tree.at(JULY + DAY).data
    assert tree.at(JULY).data is not tree.at(JULY - DAY).data
    assert tree.at(JULY).digest == tree.at(JULY - DAY).digest == tree.digest


def test_a_value_older_than_the_set_holds_from_the_start(load: Callable[..., RuleStore]) -> None:
    text = f"[ptfe_unfilled]\ndensity = {value(2.2, 'g/cm3', date(2019, 5, 1))}\n"
    tree = load({"compounds": text}).trees["house"]
    assert tree.breakpoints == [date(2026, 1, 1)]
    assert tree.newest().data.compounds["ptfe_unfilled"].density.value == 2.2


def test_a_house_set_may_begin_later_than_the_set_it_extends(load: Callable[..., RuleStore]) -> None:
    tree = load({"rule_set": HEADER + "valid_from = 2026-05-01\n", **HOUSE}).trees["house"]
    assert tree.breakpoints == [date(2026, 5, 1), JULY]
    assert tree.at(date(2026, 5, 1)).data.compounds["ptfe_glass_15"].friction.dry.si == 0.2


def test_a_house_set_cannot_begin_before_its_values(load: Callable[..., RuleStore]) -> None:
    with pytest.raises(RuleError, match="is not in force yet on 2025-05-01, only from 2026-01-01") as caught:
        load({"rule_set": HEADER + "valid_from = 2025-05-01\n"})
    assert caught.value.accepted.startswith("a valid_from not later than 2025-05-01")


def test_an_optional_value_before_its_time_is_absent_and_not_zero(load: Callable[..., RuleStore]) -> None:
    """The record is there, its dry friction is not: the removed value of the extended set does not come back."""
    header = HEADER + 'remove = ["compounds.ptfe_unfilled.friction.dry"]\n'
    text = f"[ptfe_unfilled.friction]\ndry = {value(0.1, '1', JULY)}\n"
    tree = load({"rule_set": header, "compounds": text}).trees["house"]
    assert tree.at(JULY - DAY).data.compounds["ptfe_unfilled"].friction.dry is None
    assert tree.at(JULY - DAY).data.compounds["ptfe_unfilled"].friction.aqueous is not None
    assert tree.at(JULY).data.compounds["ptfe_unfilled"].friction.dry.si == 0.1


def test_an_entry_comes_into_force_as_a_whole(load: Callable[..., RuleStore]) -> None:
    """A shaft material of which nothing is in force is absent; usable from the date of its values on."""
    record = "\n".join(
        f"{name} = {value(number, unit, JULY)}"
        for name, number, unit in (
            ("thermal_conductivity", 20.0, "W/m/K"), ("mean_expansion", 12.0, "1e-6/K"), ("elastic_modulus", 200.0, "GPa"),
            ("poisson_ratio", 0.3, "1"), ("wear_factor", 1.0, "1"),
        )
    )  # fmt: skip
    tree = load({"shaft_materials": f'[invented_steel]\ntitle = "Invented"\n{record}\n'}).trees["house"]
    assert "invented_steel" not in tree.at(JULY - DAY).data.shaft_materials
    assert "invented_steel" in tree.at(JULY).data.shaft_materials


def test_a_dated_compatibility_of_a_fluid(load: Callable[..., RuleStore]) -> None:
    text = (
        f'[steam]\nsource = "house-estimate"\nevidence = "house_estimate"\nvalid_from = {JULY}\n'
        '[steam.compatibility.elastomers]\nEPDM = "caution"\n'
    )
    tree = load({"fluids": text}).trees["house"]
    before, after = (tree.at(day).data.fluids["steam"] for day in (JULY - DAY, JULY))
    assert (before.compatibility.elastomers["EPDM"], before.evidence) == ("compatible", "common_practice")
    assert (after.compatibility.elastomers["EPDM"], after.evidence) == ("caution", "house_estimate")
    assert after.compatibility.fillers == before.compatibility.fillers


# ----------------------------------------------------------------------------------------------------- by request


@pytest.fixture
def client(write: Callable[..., Path]) -> Iterator[TestClient]:
    with TestClient(create_app(Settings(rules=write(HOUSE), default_rule_set="house"))) as session:
        yield session


def density(client: TestClient, **parameters: Any) -> tuple[float, str]:
    answer = client.get("/v1/compounds", params=parameters)
    assert answer.status_code == 200, answer.text
    content = answer.json()
    return content["compounds"]["ptfe_unfilled"]["density"]["value"], content["rule_set"]["as_of"]


def test_a_request_selects_by_date(client: TestClient) -> None:
    assert density(client, as_of="2026-06-30") == (2.17, "2026-06-30")
    assert density(client, as_of="2026-07-01") == (2.2, "2026-07-01")
    assert density(client) == (2.2, "2026-07-01")
    assert density(client, rule_set="baseline")[0] == 2.17


def test_a_date_before_the_set_is_refused_with_the_first_that_is_not(client: TestClient) -> None:
    answer = client.get("/v1/compounds", params={"as_of": "2025-12-31"})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["accepted"] == "2026-01-01 or later"


def check(client: TestClient, day: str) -> dict[str, Any]:
    request = {
        "as_of": day,
        "duty": {
            "shaft_diameter": {"value": 50, "unit": "mm"},
            "motion": {"kind": "rotation", "rotational_speed": {"value": 200, "unit": "rpm"}},
            "pressure": {"value": 400, "unit": "bar"},
            "temperature": {"normal": {"value": 40, "unit": "degC"}},
            "fluid": "mineral_oil_hydraulic",
        },
        "design": {"family": "energized_lip", "heel": "extended", "compound": "ptfe_carbon_graphite_25"},
    }
    answer = client.post("/v1/envelope-checks", json=request)
    assert answer.status_code == 200, answer.text
    return next(item for item in answer.json()["criteria"] if item["id"] == "pressure")


def test_a_verdict_follows_the_date(client: TestClient) -> None:
    """400 bar against the rated 10 000 psi of the extended set, and against the house's 500 bar from July on."""
    before, after = check(client, "2026-06-30"), check(client, "2026-07-01")
    assert before["utilization"] == pytest.approx(400e5 / (10_000 * 6894.757), rel=1e-5)
    assert after["utilization"] == pytest.approx(400 / 500, rel=1e-5)
    # how far the rating holds in the heat is estimated, before and after
    assert ("common-practice" in before["sources"], "common-practice" in after["sources"]) == (True, False)
    assert "house-estimate" in before["sources"]
