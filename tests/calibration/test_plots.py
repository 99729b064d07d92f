"""The plot of a calibration: every kind is drawn, the same for the same result, with all that the records say."""

from __future__ import annotations

import csv
import io
import xml.etree.ElementTree as ET
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from glandwise.api.render.calibration import MOST, render_fit
from glandwise.contract.calibration import CalibrationRequest, CalibrationResult
from glandwise.engine import Engine
from glandwise.mechanics.viscoelastic import relaxed_share
from glandwise.review.calibration.operation import calibrate
from glandwise.review.calibration.relaxation import series_of
from glandwise.rules.loader import RuleStore

from tests.calibration.simulated import COMPOUND, MADE, baseline, pv_steps


@pytest.fixture(scope="module")
def engine() -> Engine:
    return Engine(RuleStore(None), "baseline")


def asked(kind: str, text: str) -> dict[str, Any]:
    return {"kind": kind, "records": text, "rig": "Invented rig", "closed_on": "2026-03-01"}


def made(engine: Engine, kind: str, text: str) -> dict[str, Any]:
    answer = calibrate(CalibrationRequest.model_validate(asked(kind, text)), engine)
    CalibrationResult.model_validate(answer)
    return answer


@pytest.mark.parametrize("kind", MADE)
def test_every_kind_is_drawn_and_is_the_same_again(kind: str, engine: Engine) -> None:
    answer = made(engine, kind, MADE[kind](np.random.default_rng(2)).text)
    values = [value for value in answer["values"] if value["points"]]
    assert values
    picture = render_fit(answer)
    ET.fromstring(picture)
    assert render_fit(answer) == picture
    point = next(point for point in values[0]["points"] if point["seen"] or point["low"])
    name = "seen" if point["seen"] else "low"
    point[name] *= 1.3
    assert render_fit(answer) != picture


@pytest.mark.parametrize("kind", ["wear", "friction", "energizer_load", "pv_steps"])
def test_points_are_the_specimens_and_the_fit_is_the_value(kind: str, engine: Engine) -> None:
    answer = made(engine, kind, MADE[kind](np.random.default_rng(3)).text)
    (value,) = answer["values"]
    assert len(value["points"]) == value["specimens"] == answer["records"]["specimens"]
    assert {point["fitted"] for point in value["points"]} == {value["found"]["value"]}
    if kind != "pv_steps":  # the middle of logarithms lies among them
        seen = [point["seen"] for point in value["points"]]
        assert min(seen) < value["found"]["value"] < max(seen)


def test_readings_of_relaxation_have_what_the_fit_makes_of_them(engine: Engine) -> None:
    text = MADE["relaxation"](np.random.default_rng(3)).text
    answer = made(engine, "relaxation", text)
    points = answer["values"][0]["points"]
    assert len(points) == answer["records"]["taken"]
    held = baseline().compounds[COMPOUND].relaxation
    series = series_of(held, answer["values"][0]["found"]["value"], held.activation_energy.si)
    at_reference = 0
    rows = list(csv.DictReader(io.StringIO(text)))
    for point, row in zip(points, rows, strict=True):
        T = float(row["temperature [degC]"]) + 273.15
        share = relaxed_share(series, T, float(row["time [s]"])) / relaxed_share(series, T, 60.0)
        if (
            abs(T - held.reference_temperature.si) < 0.01
        ):  # there the shift with temperature, joined with a prior, is nothing
            at_reference += 1
            assert point["fitted"] == pytest.approx(share, rel=1e-3)
        assert point["seen"] == pytest.approx(float(row["load_share"]), rel=1e-3)
    assert at_reference > 10
    assert [point["line"] for point in points] == list(range(2, len(points) + 2))


def test_ranks_of_lives_are_those_of_a_table(engine: Engine) -> None:
    """Johnson's ranks of the example with two suspended among seven items, by hand: increment (n + 1 - rank)/(1 + items left)."""
    text = "specimen,life [h],state\n" + "".join(
        f"S{k},{life},{state}\n"
        for k, (life, state) in enumerate(
            [
                (100, "ended"),
                (200, "survived"),
                (300, "ended"),
                (400, "ended"),
                (500, "survived"),
                (600, "ended"),
                (700, "ended"),
            ]
        )
    )
    (scale,) = (value for value in made(engine, "life", text)["values"] if value["points"])
    shares = [point["x"] for point in scale["points"] if point["x"] is not None]
    ranks = [1.0]
    for left in (5, 4, 2, 1):  # items from this one on
        ranks.append(ranks[-1] + (8.0 - ranks[-1]) / (1.0 + left))
    assert shares == pytest.approx([(rank - 0.3) / 7.4 for rank in ranks], rel=1e-3)
    living = [point for point in scale["points"] if point["x"] is None]
    assert [(point["seen"], point["low"], point["high"]) for point in living] == [
        (None, 200.0, None),
        (None, 500.0, None),
    ]


def test_open_steps_and_many_values_are_drawn(engine: Engine) -> None:
    few = made(engine, "pv_steps", pv_steps(np.random.default_rng(5), truth=1.3, steps=6).text)
    (value,) = few["values"]
    assert any(point["high"] is None for point in value["points"])
    ET.fromstring(render_fit(few))
    several = {**few, "values": [value] * (MOST + 1)}
    assert f"first {MOST} of {MOST + 1}" not in few["summary"]
    ET.fromstring(render_fit(several))


def test_records_that_tell_nothing_say_so(engine: Engine) -> None:
    answer = made(engine, "life", "specimen,life [h],state\nA,100,survived\n")
    ET.fromstring(render_fit(answer))


def test_the_interface_draws_it(client: TestClient) -> None:
    body = asked("wear", MADE["wear"](np.random.default_rng(2)).text)
    answer = client.post("/v1/calibrations", json=body, headers={"accept": "image/svg+xml"})
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("image/svg+xml")
    ET.fromstring(answer.content)
    sheet = client.post("/v1/calibrations", json=body, headers={"accept": "text/html"})
    assert "<svg" in sheet.text
