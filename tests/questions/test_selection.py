"""Selection agrees with envelope checks one by one; what it proposes holds when it is sent back."""

from __future__ import annotations

import copy
import json
import re
from importlib.resources import files
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from glandwise.app import create_app
from glandwise.contract.selection import SelectionRequest
from glandwise.questions.envelope import evaluation
from glandwise.questions.selection import operation as selection
from glandwise.rules.loader import RuleStore

from tests.questions import support

client = TestClient(create_app())
EXAMPLES = files("glandwise.contract").joinpath("examples")


def duty(**changes: Any) -> dict[str, Any]:
    base: dict[str, Any] = json.loads(
        EXAMPLES.joinpath("select_design", "gearbox_input.json").read_text(encoding="utf-8")
    )["request"]["duty"]
    return {**base, **changes}


def select(request: dict[str, Any]) -> dict[str, Any]:
    response = client.post("/v1/selections", json=request)
    assert response.status_code == 200, response.text
    answer: dict[str, Any] = response.json()
    return answer


def check(duty: dict[str, Any], design: dict[str, Any]) -> dict[str, Any]:
    response = client.post("/v1/envelope-checks", json={"duty": duty, "design": design})
    assert response.status_code == 200, response.text
    answer: dict[str, Any] = response.json()
    return answer


AIMS = ("margin", "friction", "life", "simplicity", "practice", "evidence")
DUTIES = {
    "gearbox": duty(),
    "swivel": duty(
        motion={"kind": "rotation", "rotational_speed": {"value": 8, "unit": "rpm"}},
        pressure={"value": 1800, "unit": "psi"},
        fluid="water_glycol_hydraulic",
        runout={"value": 0.05, "unit": "mm"},
    ),
    "food": duty(fluid="vegetable_oil", food_contact=True, contaminants="clean"),
    "vacuum": duty(pressure={"value": -0.9, "unit": "bar"}, fluid="nitrogen", runout={"value": 0.02, "unit": "mm"}),
    "cold": duty(
        fluid="nitrogen_liquid",
        temperature={"normal": {"value": -196, "unit": "degC"}},
        motion={"kind": "surface", "surface_speed": {"value": 0.5, "unit": "m/s"}},
    ),
}


@pytest.mark.parametrize(
    ("passing", "careful", "said"),
    [
        (0, 2736, "None of 3000 designs passes outright, 2736 pass with care; first: a lip."),
        (0, 1, "None of 3000 designs passes outright, 1 passes with care; first: a lip."),
        (1, 0, "1 of 3000 designs passes; first: a lip."),
        (12, 0, "12 of 3000 designs pass; first: a lip."),
        (12, 40, "12 of 3000 designs pass, 40 more with care; first: a lip."),
    ],
)
def test_the_sentence_of_a_selection_counts_as_its_counts_do(passing: int, careful: int, said: str) -> None:
    counts = {"evaluated": 3000, "passing": passing, "with_caution": careful}
    assert selection._summary(counts, [{"title": "a lip"}], []) == said


@pytest.mark.parametrize("name", DUTIES)
def test_the_sentence_and_the_counts_of_an_answer_agree(name: str) -> None:
    found = select({"duty": DUTIES[name], "limit": 1})
    counts = found["counts"]
    passing = counts["passing"] or "None"
    assert found["summary"].startswith(f"{passing} of {counts['evaluated']} designs pass")
    told = re.search(r", (\d+) (?:more|pass|passes) with care; ", found["summary"])
    assert (int(told[1]) if told else 0) == counts["with_caution"]
    assert bool(found["ranked"]) is (counts["passing"] + counts["with_caution"] > 0)


@pytest.mark.parametrize("name", DUTIES)
def test_every_listed_design_is_judged_as_by_a_check_of_its_own(name: str) -> None:
    found = select({"duty": DUTIES[name], "limit": 40, "near_miss_limit": 10})
    best = found["ranked"] or found["near_misses"]
    assert check(DUTIES[name], best[0]["design"])["verdict"] == best[0].get("verdict", "fail")
    assert found["counts"]["evaluated"] > 2000
    assert (
        sum(found["counts"][key] for key in ("passing", "with_caution", "failing", "not_evaluated"))
        == found["counts"]["evaluated"]
    )
    for row in [*found["ranked"], *found["near_misses"]]:
        single = support.verdict_of(DUTIES[name], row["design"])
        assert single["verdict"] == row.get("verdict", "fail")
        if row["governing"]["utilization"] is not None:
            by_id = {item["id"]: item for item in single["criteria"]}
            assert by_id[row["governing"]["id"]]["utilization"] == pytest.approx(
                row["governing"]["utilization"], rel=2e-4
            )
    for miss in found["near_misses"]:
        single = support.verdict_of(DUTIES[name], miss["design"])
        assert sorted(miss["failing"]) == sorted(item["id"] for item in single["criteria"] if item["status"] == "fail")


@pytest.mark.parametrize("name", DUTIES)
def test_the_smallest_change_makes_a_near_miss_pass(name: str) -> None:
    found = select({"duty": DUTIES[name], "near_miss_limit": 10})
    for miss in found["near_misses"]:
        change = miss["change"]
        if change is None or change["kind"] != "design":
            continue
        fields = change["design"]
        if "family" in fields:  # another family keeps only what both have
            kept = {
                key: miss["design"][key]
                for key in ("compound", "retention", "o_ring_elastomer")
                if key in miss["design"]
            }
            design = {**kept, **fields}
        else:
            design = {**miss["design"], **fields}
        if design.get("retention") != "o_ring":
            design.pop("o_ring_elastomer", None)
        single = check(DUTIES[name], design)
        assert single["verdict"] == change["verdict"] != "fail", (miss, single["summary"])


@pytest.mark.parametrize("contaminants", ["clean", "dusty"])
def test_the_ranking_is_in_order_of_verdict_and_score(contaminants: str) -> None:
    """Where the air side is dusty, designs that keep the dust out come before all others."""
    rows = select({"duty": {**DUTIES["gearbox"], "contaminants": contaminants}, "limit": 100})["ranked"]
    order, shields = ["pass", "caution"], {"excluder", "scraper"}

    def is_open(row: dict[str, Any]) -> bool:
        kinds = {row["design"].get("second_lip"), row["design"].get("lip_form")}
        return contaminants != "clean" and not kinds & shields

    keys = [(is_open(row), order.index(row["verdict"]), -row["score"]) for row in rows]
    assert keys == sorted(keys)
    assert contaminants == "clean" or {key[0] for key in keys} == {False, True}
    assert [row["rank"] for row in rows] == list(range(1, len(rows) + 1))


def materials_in_doubt(fluid: str, design: dict[str, Any]) -> int:
    """Count the materials of a design that the rules do not call compatible with a fluid."""
    data = RuleStore().trees["baseline"].newest().data
    table = data.fluids[fluid].compatibility
    fillers = [table.fillers.get(filler) for filler in data.compounds[design["compound"]].fillers]
    said = [
        "compatible" if {table.ptfe, *fillers} == {"compatible"} else "doubtful",
        table.alloys.get(design["energizer_alloy"]) if design["family"] == "energized_lip" else "compatible",
        table.elastomers.get(design["o_ring_elastomer"]) if design["retention"] == "o_ring" else "compatible",
    ]
    return sum(word != "compatible" for word in said)


@pytest.mark.parametrize("fluid", ["chlorine_gas", "oxygen_liquid"])
def test_a_material_that_is_not_known_to_stand_the_fluid_takes_a_tenth_of_the_score(fluid: str) -> None:
    coldest = -183.0 if fluid == "oxygen_liquid" else 20.0
    duty = {
        "shaft_diameter": {"value": 30.0, "unit": "mm"},
        "motion": {"kind": "rotation", "rotational_speed": {"value": 5.0, "unit": "rpm"}},
        "pressure": {"value": 5.0, "unit": "bar"},
        "temperature": {name: {"value": coldest, "unit": "degC"} for name in ("minimum", "normal", "maximum")},
        "fluid": fluid,
    }
    rows = select({"duty": duty, "limit": 100})["ranked"]
    doubts = [materials_in_doubt(fluid, row["design"]) for row in rows]
    assert doubts[0] == min(doubts)
    assert len(set(doubts)) > 1
    for row, doubt in zip(rows, doubts, strict=True):
        near = limits_near(duty, row["design"])
        assert row["score"] == pytest.approx(mean_of(row) * 0.9**doubt * 0.95**near, abs=2e-6)


def mean_of(row: dict[str, Any]) -> float:
    """Weigh the aims of a ranked design as the rules do."""
    weights = RuleStore().trees["baseline"].newest().data.aims.weights
    shares = {name: getattr(weights, name).si for name in AIMS}
    return sum(shares[name] * row["scores"][name] for name in AIMS) / sum(shares.values())


def limits_near(duty: dict[str, Any], design: dict[str, Any]) -> int:
    """Count the criteria with numbers that a design passes with care only."""
    checked = support.verdict_of(duty, design)["criteria"]
    return sum(item["status"] == "caution" and item["utilization"] is not None for item in checked)


def test_each_limit_that_is_near_takes_a_twentieth_of_the_score() -> None:
    duty = {
        "shaft_diameter": {"value": 60.0, "unit": "mm"},
        "motion": {"kind": "rotation", "rotational_speed": {"value": 100.0, "unit": "rpm"}},
        "pressure": {"value": 195.0, "unit": "bar"},
        "temperature": {name: {"value": 40.0, "unit": "degC"} for name in ("minimum", "normal", "maximum")},
        "fluid": "mineral_oil_hydraulic",
    }
    rows = select({"duty": duty, "limit": 60})["ranked"]
    near = [limits_near(duty, row["design"]) for row in rows]
    assert len(set(near)) > 1
    for row, count in zip(rows, near, strict=True):
        assert row["score"] == pytest.approx(mean_of(row) * 0.95**count, abs=2e-6)
    assert rows[0]["design"]["heel"] == "extended", "a standard heel is close to its rated pressure here"


@pytest.mark.parametrize(("fluid", "temperature", "pressure", "speed", "family"), [
    ("nitrogen_liquid", -190.0, 3.0, 1500.0, "energized_lip"),
    ("mineral_oil_gear", 90.0, 3.0, 60000.0, "flexible_lip"),
])  # fmt: skip
def test_the_nearest_of_those_that_fail_is_of_the_family_that_the_trade_takes(
    fluid: str, temperature: float, pressure: float, speed: float, family: str
) -> None:
    duty = {
        "shaft_diameter": {"value": 35.0, "unit": "mm"},
        "motion": {"kind": "rotation", "rotational_speed": {"value": speed, "unit": "rpm"}},
        "pressure": {"value": pressure, "unit": "bar"},
        "temperature": {"normal": {"value": temperature, "unit": "degC"}},
        "fluid": fluid,
    }
    found = select({"duty": duty, "near_miss_limit": 1})
    assert found["verdict"] == "fail"
    assert found["near_misses"][0]["design"]["family"] == family


def test_what_is_not_known_to_be_fit_for_food_comes_last() -> None:
    rows = select({"duty": DUTIES["food"], "limit": 100})["ranked"]
    unknown = [row["design"]["compound"] in {"ptfe_polyimide", "ptfe_carbon_fibre_15"} for row in rows]
    assert not unknown[0]
    assert unknown == sorted(unknown)


def test_the_aims_decide_the_order() -> None:
    def first(**weights: float) -> dict[str, Any]:
        none = dict.fromkeys(AIMS, 0.0)
        row: dict[str, Any] = select({"duty": DUTIES["gearbox"], "aims": {**none, **weights}, "limit": 100})["ranked"]
        return row

    for aim in ("margin", "friction", "life", "simplicity", "practice"):
        rows: Any = first(**{aim: 1.0})
        passing = [row for row in rows if row["verdict"] == rows[0]["verdict"]]
        assert rows[0]["scores"][aim] == max(row["scores"][aim] for row in passing)


@pytest.mark.parametrize("name", ["gearbox", "swivel", "food"])
def test_wear_and_life_of_a_ranked_design_are_those_of_a_wear_estimate(name: str) -> None:
    rows = select({"duty": DUTIES[name], "limit": 40})["ranked"]
    assert rows
    for row in rows:
        worn = client.post("/v1/wear-estimates", json={"duty": DUTIES[name], "design": row["design"]}).json()
        # the contact temperature is solved to 0.01 K on both paths
        assert row["wear_per_1000_h"]["value"] == pytest.approx(worn["wear_per_1000_h"]["nominal"]["value"], rel=2e-4)
        assert row["life"] is not None or worn["life"]["nominal"] is None
        if row["life"] is not None:
            assert row["life"]["value"] == pytest.approx(worn["life"]["nominal"]["value"], rel=2e-3)


def test_a_longer_life_never_scores_less() -> None:
    rows = [row for row in select({"duty": DUTIES["gearbox"], "limit": 200})["ranked"] if row["life"] is not None]
    rows.sort(key=lambda row: row["life"]["value"])
    scores = [row["scores"]["life"] for row in rows]
    assert scores == sorted(scores)
    assert 0.0 <= scores[0] < 0.2 < 0.6 < scores[-1] <= 1.0


@pytest.mark.parametrize("name", ["gearbox", "swivel"])
def test_a_design_that_soon_wears_out_is_not_put_first(name: str) -> None:
    """An unfilled lip has little friction and is simple; by these alone it came first, to be worn out within days."""
    first = select({"duty": DUTIES[name], "limit": 1})["ranked"][0]
    unfilled = select({"duty": DUTIES[name], "restrict": {"compounds": ["ptfe_unfilled"]}, "limit": 200})["ranked"]
    assert first["design"]["compound"] != "ptfe_unfilled"
    assert unfilled
    assert all(row["life"] is None or first["life"]["value"] > 10.0 * row["life"]["value"] for row in unfilled)
    careless = select({"duty": DUTIES[name], "aims": {"life": 0.0}, "limit": 1})["ranked"][0]
    assert first["life"]["value"] >= careless["life"]["value"]


WORDS = {
    "margin": ("its margin", "its small margin"),
    "friction": ("its low friction", "its friction"),
    "life": ("its long life", "its short life"),
    "simplicity": ("its simplicity", "its effort"),
    "practice": ("being usual there", "being unusual there"),
    "evidence": ("the evidence behind its ratings", "thin evidence"),
}


@pytest.mark.parametrize(
    "weights", [{}, *({aim: 20.0} for aim in AIMS), *({a: 0.0 for a in AIMS if a != aim} for aim in AIMS)]
)
def test_no_aim_both_carries_a_design_and_holds_it_back(weights: dict[str, float]) -> None:
    for row in select({"duty": DUTIES["gearbox"], "aims": weights, "limit": 60})["ranked"]:
        merit, _, rest = row["reason"].removeprefix("Carried by ").partition("; ")
        strength, _, weakness = merit.partition(", held back by ")
        (carries,) = (aim for aim, words in WORDS.items() if words[0] == strength)
        assert rest.endswith(".")
        if weakness:
            (holds,) = (aim for aim, words in WORDS.items() if words[1] == weakness)
            assert holds != carries
            assert weights.get(holds) != 0.0
            assert row["scores"][holds] < 1.0


def test_restrictions_are_kept_and_can_leave_nothing() -> None:
    restrict = {
        "families": ["flexible_lip"],
        "compounds": ["ptfe_unfilled", "ptfe_graphite_15"],
        "retentions": ["clamped_flange"],
    }
    found = select({"duty": DUTIES["gearbox"], "restrict": restrict, "limit": 100})
    assert found["counts"]["evaluated"] == 3 * 2 * 2 * 2
    for row in found["ranked"]:
        assert row["design"]["family"] == "flexible_lip"
        assert row["design"]["compound"] in restrict["compounds"]
        assert row["design"]["retention"] == "clamped_flange"
    nothing = client.post(
        "/v1/selections",
        json={"duty": DUTIES["gearbox"], "restrict": {"families": ["energized_lip"], "retentions": ["press_fit_case"]}},
    )
    assert nothing.status_code == 422
    assert nothing.json()["errors"][0]["pointer"] == "/restrict"


def test_when_nothing_passes_it_says_what_stands_in_the_way() -> None:
    hopeless = duty(
        pressure={"value": 4500, "unit": "psi"},
        motion={"kind": "surface", "surface_speed": {"value": 700, "unit": "ft/min"}},
    )
    found = select({"duty": hopeless})
    assert found["verdict"] == "fail"
    assert found["ranked"] == []
    first = found["obstacles"][0]
    assert first["criterion"] == "pressure_velocity"
    assert first["best_utilization"] > 1.0
    assert first["fails"] == found["counts"]["evaluated"]
    assert any(miss["change"] and miss["change"]["kind"] == "duty" for miss in found["near_misses"])


def test_the_units_of_the_answer_change_no_order() -> None:
    si = select({"duty": DUTIES["gearbox"]})
    us = select({"duty": DUTIES["gearbox"], "units": {"system": "us"}})
    assert [row["design"] for row in si["ranked"]] == [row["design"] for row in us["ranked"]]
    assert si["stamp"] == us["stamp"]


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"pressure": {"value": -0.2, "unit": "bar"}, "lubrication": "dry", "food_contact": True},
        {
            "motion": {"kind": "oscillation", "half_amplitude": {"value": 40, "unit": "deg"}, "frequency": {"value": 2, "unit": "Hz"}},
            "pressure": {"value": 6.0, "unit": "MPa"},
        },
    ],
    ids=["as it is", "vacuum", "swing"],
)  # fmt: skip
def test_designs_are_judged_the_same_in_any_order(changes: dict[str, Any]) -> None:
    """Those that differ only in what they are rated for share their friction and wear."""
    data = RuleStore().trees["baseline"].newest().data
    request = SelectionRequest.model_validate({"duty": duty(**changes)})
    c = selection.candidates(data, request)
    rows = selection.spread(data, request.duty, c, next(iter(data.elastomers)))
    one, other = evaluation.evaluate(data, rows), evaluation.evaluate(data, rows, c.together)
    assert len(rows) > 2000
    for by_name in ("demand", "capacity", "utilization", "status"):
        for name, column in getattr(one, by_name).items():
            np.testing.assert_array_equal(column, getattr(other, by_name)[name], name)
    for name in ("torque", "wear_rate", "life", "verdict", "governing"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name), name)


def test_a_ranking_does_not_hang_on_how_many_rule_sets_were_looked_at_before() -> None:
    """Numbers of a rule set that were forgotten and made again give out other codes of ratings."""
    from glandwise.case.ratings import numbers_of

    from tests.questions.support import rules

    request = {"duty": DUTIES["gearbox"], "limit": 100}
    before = select(request)
    data = rules().data
    numbers_of.forget(data)
    numbers_of(data).ratings(np.arange(300)[::-1])
    after = select(request)
    assert after["ranked"] == before["ranked"]


def test_what_is_in_use_is_not_forgotten_for_what_came_later() -> None:
    from glandwise.rules.once import _KEPT, OncePerRuleSet

    from tests.questions.support import rules

    data = rules().data
    others = [copy.copy(data) for _ in range(2 * _KEPT)]
    made: list[Any] = []
    once = OncePerRuleSet(lambda each: made.append(each))
    for other in others:
        once(data)
        once(other)
    assert sum(each is data for each in made) == 1
