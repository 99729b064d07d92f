"""What the drawing of the hardware has to have, by what the duty needs."""

from __future__ import annotations

from typing import Any

import pytest
from glandwise.contract.enquiry import EnquiryRequest
from glandwise.questions.enquiry import operation

from tests.questions.support import engine


def enquiry(design: dict[str, Any] | None = None, gland: dict[str, Any] | None = None, **duty: Any) -> dict[str, Any]:
    """Answer an invented enquiry with a design; returns requirements by id."""
    asked = {
        "duty": {
            "shaft_diameter": {"value": 80.0, "unit": "mm"},
            "motion": {"kind": "rotation", "rotational_speed": {"value": 30.0, "unit": "rpm"}},
            "pressure": {"value": 1.0, "unit": "bar"},
            "temperature": {"normal": {"value": 50.0, "unit": "degC"}},
            "fluid": "mineral_oil_hydraulic",
            **duty,
        },
        "design": {"family": "energized_lip", "compound": "ptfe_carbon_25", "retention": "clamped_flange", **(design or {})},
        "gland": gland or {},
    }  # fmt: skip
    result = operation.answer(EnquiryRequest.model_validate(asked), engine())
    items = {item["id"]: item for item in result["requirements"]}
    assert len(items) == len(result["requirements"])
    assert all(
        item["text"].endswith(".") and item["reason"].endswith(".") and item["sources"] for item in items.values()
    )
    return items


def mm(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "mm"}


def bar(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "bar"}


ALWAYS = {"hardness", "finish", "lead", "chamfer", "fitting", "pressure_limits", "air_side"}


def test_a_plain_duty_asks_for_a_shaft_and_a_flange() -> None:
    found = enquiry(runout={"value": 0.02, "unit": "mm"})
    assert set(found) == ALWAYS | {"flange"}
    assert found["hardness"]["value"] == {"value": 50.0, "unit": "HRC"}  # what carbon asks for; lip seals ask for 45
    assert found["finish"]["value"] == {"value": 0.3, "unit": "um"}
    assert set(enquiry({"retention": "o_ring"}, runout={"value": 0.02, "unit": "mm"})) == ALWAYS


def test_pressure_asks_for_a_fit_and_more_of_it_for_a_ring() -> None:
    found = enquiry({"heel": "extended"}, pressure=bar(200.0))
    assert found["throat_fit"]["value"] == {"value": 0.106, "unit": "mm"}
    assert "H8 and shaft to f7" in found["throat_fit"]["text"]
    assert "0.106 mm at 80 mm" in found["throat_fit"]["text"]
    assert found["gap"]["value"]["value"] <= 0.2
    assert {"housing", "shaft_guidance"} <= set(found)
    assert "back_up_ring" not in found
    assert "back_up_ring" in enquiry(pressure=bar(400.0))
    assert enquiry(pressure=bar(400.0))["gap"]["value"]["value"] < 0.2


def test_what_is_stated_of_the_throat_is_not_asked_for_again() -> None:
    stated = {
        "throat_diameter": {
            "nominal": {"value": 80.1, "unit": "mm"},
            "plus": {"value": 0.02, "unit": "mm"},
            "minus": {"value": 0.0, "unit": "mm"},
        },
        "shaft_tolerance": {"kind": "class", "name": "f7"},
    }
    found = enquiry(gland=stated, pressure=bar(200.0), bore={"material": "steel_soft"})
    assert "throat_fit" not in found
    assert "housing" not in found
    assert "gap" in found


def test_speed_asks_for_a_harder_shaft() -> None:
    fast = {"kind": "surface", "surface_speed": {"value": 4.5, "unit": "m/s"}}
    assert enquiry(motion=fast)["hardness"]["value"]["value"] == 55.0


@pytest.mark.parametrize(
    ("fluid", "wanted"),
    [
        ("slurry_mineral", {"purge", "coating"}),
        ("hydrofluoric_acid", {"second_barrier", "coating"}),
        ("natural_gas", {"second_barrier"}),
        ("milk", {"food_declaration", "second_barrier"}),
        ("dough", {"food_declaration"}),
        ("sodium_hydroxide", {"second_barrier", "coating", "quench"}),
        ("urea_solution", {"quench"}),
        ("water", set()),
    ],
)
def test_the_fluid_asks_for_what_is_around_the_seal(fluid: str, wanted: set[str]) -> None:
    asked = {"purge", "coating", "second_barrier", "food_declaration", "back_up_ring", "quench"}
    found = enquiry(fluid=fluid)
    assert set(found) & asked == wanted
    assert fluid != "water" or found["finish"]["value"] == {"value": 0.2, "unit": "um"}


def test_a_soft_shaft_is_to_be_coated_and_a_wandering_one_guided() -> None:
    soft = enquiry({"compound": "ptfe_glass_25"}, shaft={"material": "stainless_austenitic_316"})
    assert "coating" in soft
    wild = enquiry(runout={"value": 1.0, "unit": "mm"})
    assert wild["shaft_guidance"]["value"]["value"] < 1.0
    assert "not stated" in enquiry()["shaft_guidance"]["reason"]


def test_a_vacuum_over_oil_asks_for_two_lips() -> None:
    assert "back to back" in enquiry(pressure=bar(-0.9))["second_barrier"]["text"]
    assert "second_barrier" not in enquiry(pressure=bar(-0.4))


def test_fillers_of_a_food_compound_are_named_with_their_regulation() -> None:
    text = enquiry({"compound": "ptfe_peek"}, fluid="milk")["food_declaration"]["text"]
    assert "21 CFR 177.2415" in text
    assert "21 CFR 177.1550" in text


@pytest.mark.parametrize(
    ("compound", "status", "words"),
    [
        ("ptfe_unfilled", "caution", "base resin"),
        ("ptfe_peek", "caution", "21 CFR 177.2415"),
        ("ptfe_glass_25", "caution", "declaration"),
        ("ptfe_polyimide", "not_evaluated", "not known"),
        ("ptfe_carbon_25", "fail", "2.5 %"),
        ("ptfe_bronze_60", "fail", "Not a candidate"),
        ("ptfe_molybdenum_glass", "fail", "Molybdenum disulfide"),
    ],
)
def test_the_fillers_of_a_compound_decide_on_food(compound: str, status: str, words: str) -> None:
    asked = {
        "duty": {
            "shaft_diameter": {"value": 30.0, "unit": "mm"},
            "motion": {"kind": "rotation", "rotational_speed": {"value": 60.0, "unit": "rpm"}},
            "pressure": {"value": 1.0, "unit": "bar"},
            "temperature": {"normal": {"value": 20.0, "unit": "degC"}},
            "fluid": "milk",
        },
        "design": {"family": "energized_lip", "compound": compound, "retention": "clamped_flange"},
    }
    result = operation.answer(EnquiryRequest.model_validate(asked), engine())
    criterion = next(item for item in result["check"]["criteria"] if item["id"] == "food_contact")
    assert criterion["status"] == status
    assert words in criterion["reason"]


def test_where_dust_comes_from_outside_a_design_that_keeps_it_out_is_chosen() -> None:
    duty = {
        "shaft_diameter": {"value": 40.0, "unit": "mm"},
        "motion": {"kind": "rotation", "rotational_speed": {"value": 1450.0, "unit": "rpm"}},
        "pressure": {"value": 0.0, "unit": "bar"},
        "temperature": {"normal": {"value": 70.0, "unit": "degC"}},
        "fluid": "grease_lithium",
        "contaminants": "dusty",
    }
    for target in (None, {"value": 20000.0, "unit": "h"}):
        asked = {"duty": duty, **({} if target is None else {"target_life": target})}
        result = operation.answer(EnquiryRequest.model_validate(asked), engine())
        designs = [result["design"], *(item["design"] for item in result["selection"]["ranked"])]
        assert all(item.get("second_lip") == "excluder" or item.get("lip_form") == "scraper" for item in designs)


def test_clean_air_is_asked_for_where_nothing_is_said_of_it() -> None:
    """Stated, or kept out by the seal itself, it is asked for no more; a plain oil duty that leaves it open passes."""
    found = enquiry()["air_side"]
    assert "else a scraper lip" in found["text"]
    assert "an excluder" in enquiry({"family": "flexible_lip", "second_lip": "none"})["air_side"]["text"]
    assert "air_side" not in enquiry({"lip_form": "scraper"})
    assert "air_side" not in enquiry({"family": "flexible_lip", "second_lip": "excluder"})
    for dirt in ("clean", "dusty", "abrasive", "wet", "submerged"):
        assert "air_side" not in enquiry(contaminants=dirt)
    duty = {
        "shaft_diameter": mm(50.0),
        "motion": {"kind": "rotation", "rotational_speed": {"value": 3000.0, "unit": "rpm"}},
        "pressure": bar(0.2),
        "temperature": {"normal": {"value": 80.0, "unit": "degC"}},
        "fluid": "mineral_oil_gear",
        "runout": mm(0.05),
        "offset": mm(0.1),
        "shaft": {"material": "steel_hardened", "roughness": {"value": 0.2, "unit": "um"}, "machining_lead": "none"},
    }
    answer = operation.answer(EnquiryRequest.model_validate({"duty": duty}), engine())
    assert answer["verdict"] == "pass"
    (air,) = (item for item in answer["check"]["criteria"] if item["id"] == "contaminants")
    assert (air["status"], "the drawing of the hardware has to keep it so" in air["reason"]) == ("pass", True)


def test_water_outside_asks_for_a_shaft_that_does_not_rust_and_where_it_stands_for_two_barriers() -> None:
    """Common practice, no source: a stern tube has lips in sets, one of which faces the sea."""
    flexible = {"family": "flexible_lip", "second_lip": "excluder"}
    oil = {"fluid": "mineral_oil_hydraulic", "pressure": bar(0.3)}
    for dirt, barrier in (("clean", False), ("wet", False), ("submerged", True)):
        found = enquiry(flexible, contaminants=dirt, **oil)
        assert ("second_barrier" in found) == barrier
        assert ("coating" in found and "rust" in found["coating"]["text"]) == (dirt != "clean")
        told = enquiry(flexible, contaminants=dirt, shaft={"material": "hard_chrome_plated"}, **oil)
        assert "rust" not in told.get("coating", {"text": ""})["text"]


def test_pressure_says_what_peaks_and_the_other_side_may_bring() -> None:
    found = enquiry(pressure=bar(20.0))["pressure_limits"]
    assert found["value"]["value"] >= 2.0  # MPa
    assert "from the air side" in found["text"]
    assert "pressure_limits" not in enquiry(pressure=bar(0.0))
    turned = enquiry({"lip_direction": "away"}, pressure=bar(-0.8), fluid="air")["pressure_limits"]
    assert "from the fluid side" in turned["text"]


def test_a_lip_that_is_stretched_far_is_warmed() -> None:
    little = enquiry({"interference": mm(0.5)})["fitting"]
    much = enquiry({"interference": mm(6.0)})["fitting"]
    assert "where it goes on hard" in little["text"]
    assert "warmed to 100 degC just before" in much["text"]
    assert little["value"] == much["value"]


def test_runout_is_split_into_play_and_deflection() -> None:
    found = enquiry(pressure=bar(200.0))["shaft_guidance"]
    tir = found["value"]["value"]
    assert f"{0.5 * tir:.4g}"[:5] in found["text"]
    assert "play of the bearings" in found["text"]


def test_a_seal_that_may_turn_is_pinned() -> None:
    """A pressed-in case that hardly holds, against the same with what is usual."""
    loose = {"case": {"outer_diameter": {"nominal": mm(100.0)}}}
    design = {"family": "flexible_lip", "retention": "press_fit_case"}
    found = enquiry(design, loose, bore={"diameter": mm(100.0)}, pressure=bar(0.5))
    assert "pin" in found["retention"]["text"]
    assert found["retention"]["value"]["unit"] == "N.m"
    assert "retention" not in enquiry(design, bore={"diameter": mm(100.0)}, pressure=bar(0.5))
