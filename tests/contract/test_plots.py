"""Plots: well-formed, the same for the same result, and with the result in them."""

from __future__ import annotations

import copy
import json
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from glandwise.api.render import (
    comparison,
    duty_spectrum,
    energizer,
    operating_map,
    runout,
    selection,
    thermal_fit,
)
from glandwise.api.render.renderers import rendered
from glandwise.operations import OPERATIONS
from glandwise.questions.friction.over_speed import over_speed
from glandwise.questions.wear.over_time import over_time
from glandwise.units import format_number

from tests.conftest import Answers, Example, changed, example, load_examples
from tests.questions.support import call, engine, si

DRAWN = [item for item in load_examples() if OPERATIONS[item.operation].drawing]
SVG = "{http://www.w3.org/2000/svg}"


def draw(answer_to: Answers, item: Example) -> bytes:
    answer = answer_to(item.path, item.request, "image/svg+xml")
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "image/svg+xml"
    assert answer.headers["x-content-type-options"] == "nosniff"
    return answer.content


@pytest.mark.parametrize("item", DRAWN, ids=lambda item: f"{item.operation}-{item.name}")
def test_every_example_is_drawn_the_same_each_time(client: TestClient, answer_to: Answers, item: Example) -> None:
    drawing = draw(answer_to, item)
    root = ET.fromstring(drawing)
    assert root.tag == f"{SVG}svg"
    assert len(drawing) < 250_000
    assert draw(Answers(client), item) == drawing
    text = drawing.decode()
    assert "<script" not in text
    assert 'href="http' not in text
    assert "<dc:date" not in text


def test_a_drawing_is_the_same_in_another_process(client: TestClient) -> None:
    item = next(item for item in DRAWN if item.operation == "allow_runout")
    result = client.post(item.path, json=item.request).json()
    script = (
        "import json, sys; from glandwise.api.render.runout import render_curve;"
        "sys.stdout.buffer.write(render_curve(json.load(sys.stdin)))"
    )
    other = subprocess.run(
        [sys.executable, "-c", script], input=json.dumps(result).encode(), capture_output=True, check=True
    )
    assert other.stdout == runout.render_curve(result)


def test_libraries_of_plots_tables_and_fits_are_not_loaded_before_they_are_asked_for() -> None:
    script = "import sys; from glandwise.app import create_app; create_app();"
    script += "sys.exit(' '.join({'matplotlib', 'pyarrow', 'scipy.stats', 'scipy.optimize', 'openpyxl'} & set(sys.modules)) or 0)"
    assert subprocess.run([sys.executable, "-c", script], check=False).returncode == 0


def test_the_document_lists_drawings(document: dict[str, Any]) -> None:
    listed = {
        operation["operationId"]
        for methods in document["paths"].values()
        for operation in methods.values()
        if "image/svg+xml" in operation.get("x-representations", ())
    }
    assert listed == {name for name, row in OPERATIONS.items() if row.drawing or row.section}


def test_operations_without_a_drawing_say_what_they_offer(client: TestClient) -> None:
    entry = next(entry for entry in load_examples() if entry.operation == "recheck_result")
    answer = client.post(entry.path, json=entry.request, headers={"accept": "image/svg+xml"})
    assert answer.status_code == 406
    assert "application/json" in answer.json()["detail"]


# ---------------------------------------------------------------------------------------- what changes the picture


def _map(client: TestClient, **changes: Any) -> Any:
    request = example("map_operation", "rotary_union")
    for pointer, value in changes.items():
        request = changed(request, "/" + pointer.replace("__", "/"), value)
    return client.post("/v1/operating-maps", json=request).json()


def test_a_map_draws_its_duty_where_it_lies(client: TestClient) -> None:
    result = _map(client)
    moved = copy.deepcopy(result)
    moved["duty_point"]["x"] *= 1.5
    absent = copy.deepcopy(result)
    absent["duty_point"]["x"] = None
    pictures = {operating_map.render_map(each) for each in (result, moved, absent)}
    assert len(pictures) == 3


def test_a_map_without_a_region_is_drawn(client: TestClient) -> None:
    result = _map(client, duty__shaft__machining_lead="present")
    assert result["region"] == []
    ET.fromstring(operating_map.render_map(result))


def test_a_map_of_which_all_is_inside_is_drawn(client: TestClient) -> None:
    small = {"kind": "pressure", "high": {"value": 1.0, "unit": "bar"}, "points": 10}
    slow = {"kind": "rotational_speed", "high": {"value": 10.0, "unit": "rpm"}, "points": 10}
    result = _map(client, x=slow, y=small)
    assert result["region"][0]["governing"] == [None] * 4
    ET.fromstring(operating_map.render_map(result))


def test_a_map_with_inputs_missing_is_marked_throughout(client: TestClient) -> None:
    """What passes with care for lack of an input is not drawn as plainly passing."""
    result = _map(client, duty__runout=...)
    status = {result["statuses"][code] for row in result["status"] for code in row}
    assert "pass" not in status
    stated = _map(client)
    assert operating_map.render_map(result) != operating_map.render_map(stated)


def test_every_criterion_with_a_number_has_a_colour_of_its_own(client: TestClient) -> None:
    check = client.post("/v1/envelope-checks", json=example("check_envelope", "gearbox_input_shaft")).json()
    varying = {item["id"] for item in check["criteria"] if item["utilization"] is not None} - {
        "shaft_hardness",
        "shaft_roughness",
    }
    assert varying <= set(operating_map.ZONES)
    fills = [fill for fill, _, _ in operating_map.ZONES.values()]
    assert len(set(fills)) == len(fills)


def _luminance(colour: str) -> float:
    """Relative luminance of WCAG 2."""
    parts = [int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_boundaries_stand_out_from_paper_and_from_their_zone() -> None:
    for fill, line, _ in operating_map.ZONES.values():
        for ground in ("#ffffff", fill):
            light, dark = sorted((_luminance(ground), _luminance(line)), reverse=True)
            assert (light + 0.05) / (dark + 0.05) >= 2.8, (fill, line)


def test_a_curve_at_one_speed_is_drawn(client: TestClient) -> None:
    request = changed(
        example("allow_runout", "blower_shaft_with_garter"), "/rotational_speeds", [{"value": 3000, "unit": "rpm"}]
    )
    result = client.post("/v1/runout-allowances", json=request).json()
    ET.fromstring(runout.render_curve(result))


def test_a_curve_without_a_stated_runout_is_drawn(client: TestClient) -> None:
    request = changed(example("allow_runout", "blower_shaft_with_garter"), "/duty/runout", ...)
    result = client.post("/v1/runout-allowances", json=request).json()
    assert result["utilization"] is None
    ET.fromstring(runout.render_curve(result))


def test_an_energizer_outside_its_model_is_drawn(client: TestClient) -> None:
    request = changed(
        example("estimate_energizer_load", "cantilever_v"), "/energizer/root_angle", {"value": 85, "unit": "deg"}
    )
    result = client.post("/v1/energizer-loads", json=request).json()
    assert result["verdict"] == "not_evaluated"
    ET.fromstring(energizer.render_curve(result))


# ----------------------------------------------------------------------------------------------- what legends and sheets say


def test_a_curve_beyond_the_frame_is_told_in_words(client: TestClient) -> None:
    """A line in the legend for a curve that nobody sees would be looked for in vain."""
    result = client.post("/v1/runout-allowances", json=example("allow_runout", "blower_shaft_with_garter")).json()
    assert b"lies above" not in runout.render_curve(result)
    for point in (*result["curve"], result["at_duty"]):
        point["followed_runout"]["value"] *= 100.0
    drawing = runout.render_curve(result)
    assert b"what the lip follows lies above" in drawing
    assert b"<!-- what the lip follows -->" not in drawing


def test_a_map_over_surface_speed_tells_its_limit_as_its_axis_does(client: TestClient) -> None:
    result = _map(client, x={"kind": "surface_speed", "points": 20})
    limit = next(item for item in result["limits"] if item["id"] == "greatest_speed")
    assert limit["value"]["unit"] == "rpm"
    assert result["x"]["unit"] == limit["surface_speed"]["unit"]
    told = format_number(limit["surface_speed"]["value"])
    assert f"speed up to {told} m/s, which is {format_number(limit['value']['value'])} rpm (" in result["summary"]
    assert "which is" not in _map(client, x={"kind": "rotational_speed", "points": 20})["summary"]


def test_a_sheet_names_the_coordinates_of_the_duty(client: TestClient) -> None:
    request = example("map_operation", "rotary_union")
    page = client.post("/v1/operating-maps", json=request, headers={"accept": "text/html"}).text
    result = client.post("/v1/operating-maps", json=request).json()
    facts = dict(re.findall(r"<dt>([^<]*)</dt><dd>([^<]*)</dd>", page))
    for name in ("x", "y"):
        title, unit = result[name]["title"].capitalize(), result[name]["unit"]
        assert facts[title] == f"{format_number(result['duty_point'][name])} {unit}"
        assert name.upper() not in facts
    assert "<h3>Horizontal axis</h3>" in page or "x" not in request


def test_a_spectrum_of_many_phases_draws_those_that_wear_the_most() -> None:
    result = copy.deepcopy(call("assess_spectrum", example("assess_spectrum", "agitator_drive")))
    one = result["phases"][0]
    result["phases"] = [{**one, "name": f"phase {k}", "wear_share": k / 100.0} for k in range(30)]
    few = {**result, "phases": result["phases"][6:]}
    many = duty_spectrum.render_phases(result)
    assert many != duty_spectrum.render_phases(few)  # it says how many are left out
    ET.fromstring(many)


def test_a_fit_at_one_temperature_is_drawn() -> None:
    result = copy.deepcopy(call("check_thermal_fit", example("check_thermal_fit", "liquid_nitrogen_valve")))
    whole = thermal_fit.render_curve(result)
    result["points"] = result["points"][:1]
    ET.fromstring(thermal_fit.render_curve(result))
    assert thermal_fit.render_curve(result) != whole


def test_a_ranking_shows_another_score_and_what_stops_all() -> None:
    result = copy.deepcopy(call("select_design", example("select_design", "gearbox_input")))
    first = selection.render_ranking(result)
    result["ranked"][0]["score"] = 0.5 * result["ranked"][0]["score"]
    assert selection.render_ranking(result) != first
    result["ranked"] = []
    stopped = selection.render_ranking(result)
    ET.fromstring(stopped)
    result["failures"] = []
    assert selection.render_ranking(result) != stopped


def test_a_life_is_drawn_through_what_is_told_and_where_nothing_is() -> None:
    request = example("estimate_wear", "kneader_drive")
    row = OPERATIONS["estimate_wear"]
    result = copy.deepcopy(call("estimate_wear", request))

    def drawn(answer: Any) -> bytes:
        picture = rendered(row, "image/svg+xml", request, answer, engine())
        assert picture is not None
        ET.fromstring(picture)
        return picture

    longer = copy.deepcopy(result)
    longer["life"]["nominal"]["value"] *= 1.5
    nothing = {**result, "life": None, "life_probability": None}
    ends = dict.fromkeys(("short", "sure", "nominal", "long"))
    unworn = {**result, "life": {**result["life"], **ends}}
    assert drawn(result) == drawn(result)
    assert len({drawn(item) for item in (result, longer, nothing, unworn)}) == 4


def test_the_wear_over_the_time_is_that_of_lives_to_less_depth() -> None:
    """The last depth is the allowance; one on the way is the life of the same seal that may wear so deep."""
    request = example("estimate_wear", "kneader_drive")
    row = OPERATIONS["estimate_wear"]
    found = over_time(row.request.model_validate(request), engine())
    assert found is not None
    assert (np.diff(found.time) > 0.0).all()
    assert (found.early < found.time).all()
    assert (found.time < found.late).all()
    result = call("estimate_wear", request)
    assert found.depth[-1] == pytest.approx(si(result["wear_allowance"], "length"), rel=1e-9)
    assert found.time[-1] == pytest.approx(si(result["life"]["nominal"], "time"), rel=1e-9)
    half = call("estimate_wear", {**request, "wear_allowance": {"value": float(found.depth[7]), "unit": "m"}})
    assert found.time[7] == pytest.approx(si(half["life"]["nominal"], "time"), rel=1e-9)
    assert found.early[7] == pytest.approx(si(half["life"]["short"], "time"), rel=1e-6)


def test_a_comparison_of_which_nothing_differs_is_drawn() -> None:
    result = copy.deepcopy(call("compare_rule_sets", example("compare_rule_sets", "lower_rated_pressure")))
    first = comparison.render_outcomes(result)
    for counts in (*result["by_operation"].values(), *result["by_criterion"].values()):
        counts.update({"same": counts["same"] + counts["worse"] + counts["shifted"], "worse": 0, "shifted": 0})
    alike = comparison.render_outcomes(result)
    assert alike != first
    result["by_operation"], result["by_criterion"] = {}, {}
    ET.fromstring(comparison.render_outcomes(result))


def test_the_friction_over_the_speed_is_that_of_other_estimates() -> None:
    """At the speed of the duty, and of the same seal at others; a curve each for low, nominal and high friction."""
    request = example("estimate_friction", "kneader_drive")
    row = OPERATIONS["estimate_friction"]
    curve = over_speed(row.request.model_validate(request), engine())
    assert curve is not None
    here = call("estimate_friction", request)
    motion = request["duty"]["motion"]
    assert motion["kind"] == "rotation"
    for at in (3, 20, 40):
        factor = float(curve.surface_speed[at]) / si(here["surface_speed"], "surface_speed")
        speed = motion["rotational_speed"]
        turned = {**motion, "rotational_speed": {**speed, "value": factor * speed["value"]}}
        levels = call("estimate_friction", changed(request, "/duty/motion", turned))["levels"]
        for level, torque, temperature in zip(levels, curve.torque[:, at], curve.temperature[:, at], strict=True):
            assert torque == pytest.approx(si(level["torque"], "torque"), rel=1e-6)
            assert temperature == pytest.approx(si(level["contact_temperature"], "temperature"), abs=0.02)
        assert curve.film_share[at] == pytest.approx(levels[1]["film_share"], rel=1e-6)
    assert (np.diff(curve.film_share) >= -1e-9).all()


def test_friction_is_drawn_where_nothing_moves_and_not_without_the_engine() -> None:
    request = example("estimate_friction", "kneader_drive")
    row = OPERATIONS["estimate_friction"]
    result = call("estimate_friction", request)
    assert rendered(row, "image/svg+xml", request, result, None) is None
    still = changed(request, "/duty/motion/rotational_speed/value", 0.0)
    drawn = rendered(row, "image/svg+xml", still, result, engine())
    assert drawn is not None
    ET.fromstring(drawn)


def test_what_tolerances_do_to_the_torque_is_drawn() -> None:
    item = next(
        item for item in load_examples() if item.operation == "estimate_friction" and item.request.get("tolerances")
    )
    row = OPERATIONS["estimate_friction"]
    result = copy.deepcopy(call("estimate_friction", item.request))
    first = rendered(row, "image/svg+xml", item.request, result, engine())
    result["spread"]["sensitivities"][0]["swing"] *= 0.5
    assert rendered(row, "image/svg+xml", item.request, result, engine()) != first
    result["spread"]["torque"] = dict.fromkeys(result["spread"]["torque"])
    assert rendered(row, "image/svg+xml", item.request, result, engine()) is not None
