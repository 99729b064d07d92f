"""Operating maps: they agree with single checks, their boundary is one, and their limits sit on it."""

from __future__ import annotations

import copy
import random
from functools import cache
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from glandwise.app import create_app
from glandwise.contract.operating_map import OperatingMapResult
from glandwise.numerics import boundary as region
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.path import Path

from tests.conftest import assert_problem, load_examples
from tests.laws import laws
from tests.questions.support import fixed, verdict_of

Request = dict[str, Any]


@cache
def client() -> TestClient:
    return TestClient(create_app())


def post(path: str, request: Request) -> Any:
    answer = client().post(path, json=request)
    assert answer.status_code == 200, answer.text
    return answer.json()


def mapped(request: Request) -> Any:
    answer = post("/v1/operating-maps", request)
    OperatingMapResult.model_validate(answer)
    return answer


def q(value: float, unit: str) -> dict[str, Any]:
    return {"value": value, "unit": unit}


def question(**changes: Any) -> Request:
    """A benign duty of a flexible lip, with parts changed."""
    request: Request = {
        "duty": {
            "shaft_diameter": q(50.0, "mm"),
            "motion": {"kind": "rotation", "rotational_speed": q(1200.0, "rpm")},
            "pressure": q(10.0, "kPa"),
            "temperature": {"minimum": q(10.0, "degC"), "normal": q(40.0, "degC"), "maximum": q(60.0, "degC")},
            "fluid": "mineral_oil_gear",
            "contaminants": "clean",
            "runout": q(0.02, "mm"),
            "offset": q(0.02, "mm"),
            "shaft": {"hardness": q(60.0, "HRC"), "roughness": q(0.25, "um"), "machining_lead": "none"},
        },
        "design": {"family": "flexible_lip", "compound": "ptfe_carbon_graphite_25", "retention": "clamped_flange"},
    }
    for key, value in changes.items():
        if isinstance(request.get(key), dict) and isinstance(value, dict):
            request[key].update(copy.deepcopy(value))
        else:
            request[key] = copy.deepcopy(value)
    return request


ENERGIZED = {"family": "energized_lip", "compound": "ptfe_carbon_graphite_25", "retention": "clamped_flange"}
SLOW = {"motion": {"kind": "surface", "surface_speed": q(0.3, "m/s")}, "pressure": q(0.5, "MPa")}
SWING = {"motion": {"kind": "oscillation", "half_amplitude": q(40.0, "deg"), "frequency": q(2.0, "Hz")}}
QUESTIONS: dict[str, Request] = {
    "flexible": question(),
    "garter and runout": question(
        design={"lip_tip": "upturned_with_garter"}, x={"kind": "rotational_speed"}, y={"kind": "runout", "points": 40}
    ),
    "energized": question(
        duty=SLOW, design=ENERGIZED, x={"kind": "pressure"}, y={"kind": "surface_speed"}, units={"system": "us"}
    ),
    "canted coil and temperature": question(
        duty=SLOW,
        design={**ENERGIZED, "energizer": "canted_coil"},
        x={"kind": "maximum_temperature"},
        y={"kind": "pressure"},
    ),
    "dry": question(
        duty={"lubrication": "dry", "fluid": "air", "motion": {"kind": "surface", "surface_speed": q(0.1, "m/s")}}
    ),
    "swinging": question(duty=SWING, design=ENERGIZED, x={"kind": "frequency"}, y={"kind": "pressure", "points": 25}),
    "vacuum": question(duty={"pressure": q(-15.0, "kPa")}, design={"second_lip": "redundant"}),
    "own compound": question(
        design={
            "compound_properties": {
                "friction_coefficient": {"low": q(0.1, "1"), "nominal": q(0.3, "1"), "high": q(0.5, "1")}
            }
        }
    ),
    "not stated": question(
        duty={"runout": None, "offset": None, "shaft": {}}, x={"kind": "surface_speed", "points": 15}
    ),
}


def at(request: Request, kind: str, value: float, unit: str) -> Request:
    """The duty of a request with the number of one axis set."""
    result = copy.deepcopy(request)
    duty = result["duty"]
    if kind == "rotational_speed":
        duty["motion"] = {"kind": "rotation", "rotational_speed": q(value, unit)}
    elif kind == "surface_speed":
        duty["motion"] = {"kind": "surface", "surface_speed": q(value, unit)}
    elif kind == "frequency":
        duty["motion"]["frequency"] = q(value, unit)
    elif kind == "maximum_temperature":
        duty["temperature"]["maximum"] = q(value, unit)
    elif kind == "minimum_temperature":
        duty["temperature"]["minimum"] = q(value, unit)
    else:
        duty[kind] = q(value, unit)
    return result


def check(request: Request) -> Any:
    return post("/v1/envelope-checks", {key: request[key] for key in ("duty", "design")})


def judged(request: Request) -> Any:
    return verdict_of(request["duty"], request["design"])


@cache
def sized(name: str) -> Request:
    """The question with the sizes of the one seal that a map is of: those that the rules give it for the duty stated."""
    return fixed(QUESTIONS[name])


@cache
def answer_to(name: str) -> Any:
    return mapped(QUESTIONS[name])


@pytest.mark.parametrize("name", QUESTIONS)
def test_the_grid_agrees_with_single_checks(name: str) -> None:
    request, answer = sized(name), answer_to(name)
    x, y, chance = answer["x"], answer["y"], random.Random(name)
    cells = [(chance.randrange(len(y["values"])), chance.randrange(len(x["values"]))) for _ in range(16)]
    for j, i in cells:
        single = at(request, x["kind"], x["values"][i], x["unit"])
        found = judged(at(single, y["kind"], y["values"][j], y["unit"]))
        status = answer["statuses"][answer["status"][j][i]]
        assert status == found["verdict"], (j, i)
        governing = answer["criteria"][answer["governing"][j][i]]["id"]
        used = found["governing"]["utilization"]
        if used is None:
            assert answer["utilization"][j][i] is None
            assert governing == found["governing"]["id"]
        else:
            # the contact temperature is solved to 0.01 K on both ways
            assert answer["utilization"][j][i] == pytest.approx(used, rel=3e-4)


@pytest.mark.parametrize("name", QUESTIONS)
def test_the_duty_point_is_the_envelope_check_of_the_duty(name: str) -> None:
    answer, found = answer_to(name), check(QUESTIONS[name])
    assert answer["verdict"] == answer["duty_point"]["verdict"] == found["verdict"]
    assert answer["duty_point"]["governing"] == found["governing"]
    assert answer["evidence"] == found["evidence"]
    assert answer["cautions"] == found["cautions"]


def _contains(polygons: list[Any], points: Any, scale: Any) -> Any:
    """Even-odd membership; a point on a side counts as inside."""
    within = np.zeros(len(points), dtype=int)
    touching = np.zeros(len(points), dtype=bool)
    for polygon in polygons:
        vertices = np.array([polygon["x"], polygon["y"]]).T / scale
        within += Path(np.concatenate([vertices, vertices[:1]])).contains_points(points)
        for a, b in zip(vertices, np.roll(vertices, -1, axis=0), strict=True):
            length = np.maximum(((b - a) ** 2).sum(), 1e-30)
            share = np.clip(((points - a) @ (b - a)) / length, 0.0, 1.0)
            touching |= np.hypot(*(points - a - share[:, None] * (b - a)).T) < 1e-9
    return (within % 2 == 1) | touching


@pytest.mark.parametrize("name", QUESTIONS)
def test_the_region_holds_exactly_the_grid_points_that_do_not_fail(name: str) -> None:
    answer = answer_to(name)
    x, y = np.array(answer["x"]["values"]), np.array(answer["y"]["values"])
    scale = np.array([np.ptp(x), np.ptp(y)])
    points = np.stack([column.ravel() for column in np.meshgrid(x, y)], axis=1) / scale
    status = np.array(answer["status"]).ravel()
    expected = status != answer["statuses"].index("fail")
    assert 0 < expected.sum() < len(expected), "the map shows no boundary: the test would prove nothing"
    assert (_contains(answer["region"], points, scale) == expected).all()


@pytest.mark.parametrize(
    "name", ["flexible", "garter and runout", "energized", "canted coil and temperature", "swinging"]
)
def test_vertices_lie_on_the_boundary_and_name_what_fails_beyond(name: str) -> None:
    request, answer = sized(name), answer_to(name)
    x, y = answer["x"], answer["y"]
    polygon = answer["region"][0]
    n = len(polygon["x"])
    chance = random.Random(1)
    sides = [k for k in range(n) if polygon["governing"][k] is not None and polygon["governing"][k - 1] is not None]
    for k in chance.sample(sides, min(12, len(sides))):
        # outward from the middle of the map's mildest corner: both coordinates a little smaller, or greater
        here = {"x": polygon["x"][k], "y": polygon["y"][k]}
        for factor, fails in ((0.999, False), (1.001, True)):
            moved = {
                field: axis["values"][0] + factor * (here[field] - axis["values"][0])
                for field, axis in (("x", x), ("y", y))
            }
            single = at(request, x["kind"], moved["x"], x["unit"])
            found = judged(at(single, y["kind"], moved["y"], y["unit"]))
            assert (found["verdict"] == "fail") is fails, (k, factor, found["governing"])
            if fails:
                beyond = {answer["criteria"][polygon["governing"][j]]["id"] for j in (k - 1, k)}
                failing = {item["id"] for item in found["criteria"] if item["status"] == "fail"}
                assert beyond & failing


LIMITED_BY = {
    "greatest_speed": None,
    "greatest_pressure": "pressure",
    "deepest_vacuum": "pressure",
    "greatest_runout": "runout",
    "greatest_temperature": "maximum_temperature",
    "least_temperature": "minimum_temperature",
}
MOTION = {"rotation": "rotational_speed", "surface": "surface_speed", "oscillation": "frequency"}


@pytest.mark.parametrize("name", QUESTIONS)
def test_each_limit_sits_on_the_boundary(name: str) -> None:
    request, answer = sized(name), answer_to(name)
    seen = set()
    for limit in answer["limits"]:
        if limit["value"] is None or not limit["bounded"]:
            continue
        kind = LIMITED_BY[limit["id"]] or MOTION[request["duty"]["motion"]["kind"]]
        value, unit = limit["value"]["value"], limit["value"]["unit"]
        if kind.endswith("temperature"):
            kelvin = {"degC": 273.15, "degF": 459.67}[unit]
            inside, outside = ((value + kelvin) * factor - kelvin for factor in (0.999, 1.001))
            if kind == "minimum_temperature":
                inside, outside = outside, inside
        else:
            inside, outside = 0.999 * value, 1.001 * value
        assert judged(at(request, kind, inside, unit))["verdict"] != "fail", limit
        beyond = judged(at(request, kind, outside, unit))
        assert beyond["verdict"] == "fail", limit
        failing = {item["id"] for item in beyond["criteria"] if item["status"] == "fail"}
        assert limit["governing"]["id"] in failing
        seen.add(limit["id"])
    assert {"greatest_speed", "greatest_pressure", "greatest_temperature", "least_temperature"} <= seen


def test_the_greatest_speed_is_told_as_surface_speed_too() -> None:
    limit = {row["id"]: row for row in answer_to("flexible")["limits"]}["greatest_speed"]
    assert limit["surface_speed"]["value"] == pytest.approx(np.pi * 0.05 * limit["value"]["value"] / 60.0)
    assert limit["value"]["unit"] == "rpm"


def test_rated_corner_is_a_vertex() -> None:
    """Rated pressure and the product of pressure and speed meet in a corner that no grid line goes through."""
    # a lip that is sized for that pressure
    design = fixed(question(duty={"pressure": q(50.0, "psi")}))["design"]
    answer = mapped(question(design=design))
    polygon = answer["region"][0]
    psi = 6.894757293168362e-3
    corners = [
        (x, y) for x, y, side in zip(polygon["x"], polygon["y"], polygon["governing"], strict=True)
        if side is not None and y == pytest.approx(50.0 * psi, rel=1e-6)
    ]  # fmt: skip
    # 100,000 psi ft/min over 50 psi
    assert any(x == pytest.approx(2000.0 * 0.3048 / 60.0, rel=1e-6) for x, _ in corners)


def test_what_fails_everywhere_leaves_no_region() -> None:
    answer = mapped(question(duty={"shaft": {"machining_lead": "present"}}))
    assert answer["region"] == []
    assert {answer["statuses"][code] for row in answer["status"] for code in row} == {"fail"}
    assert all(row["value"] is None and row["governing"]["id"] == "shaft_lead" for row in answer["limits"])


def test_units_change_no_verdict() -> None:
    si, us = mapped(question()), mapped(question(units={"system": "us"}))
    assert si["status"] == us["status"]
    assert si["governing"] == us["governing"]
    assert si["stamp"]["fingerprint"] == us["stamp"]["fingerprint"]
    assert len(si["region"][0]["x"]) == len(us["region"][0]["x"])


def test_a_range_of_the_request_is_kept() -> None:
    answer = mapped(
        question(
            x={"kind": "rotational_speed", "low": q(100.0, "rpm"), "high": q(900.0, "rpm"), "points": 11},
            y={"kind": "pressure", "low": q(-20.0, "kPa"), "high": q(1.0, "bar"), "points": 13},
        )
    )
    assert answer["x"]["values"] == pytest.approx(np.linspace(100.0, 900.0, 11))
    assert answer["y"]["values"] == pytest.approx(np.linspace(-0.02, 0.1, 13))
    assert (len(answer["status"]), len(answer["status"][0])) == (13, 11)


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"x": {"kind": "pressure"}, "y": {"kind": "pressure"}}, "/y/kind"),
        ({"x": {"kind": "surface_speed"}, "y": {"kind": "rotational_speed"}}, "/y/kind"),
        ({"x": {"kind": "frequency"}}, "/x/kind"),
        ({"duty": SWING, "x": {"kind": "rotational_speed"}}, "/x/kind"),
        ({"x": {"kind": "surface_speed", "low": q(3.0, "m/s"), "high": q(3.0, "m/s")}}, "/x/high"),
        ({"y": {"kind": "maximum_temperature", "low": q(20.0, "degC")}}, "/y/low"),
        ({"y": {"kind": "pressure", "low": q(500.0, "MPa")}}, "/y/low"),
    ],
)
def test_what_cannot_be_mapped_is_refused(changes: dict[str, Any], pointer: str) -> None:
    answer = client().post("/v1/operating-maps", json=question(**changes))
    assert_problem(answer, 422, "out-of-domain", pointer)


@pytest.mark.parametrize("points", [9, 201, 10.5])
def test_resolution_is_bounded(points: float) -> None:
    answer = client().post("/v1/operating-maps", json=question(x={"kind": "surface_speed", "points": points}))
    assert_problem(answer, 422, "invalid-request", "/x/points")


@pytest.mark.parametrize(
    "item", [item for item in load_examples() if item.operation == "map_operation"], ids=lambda item: item.name
)
def test_examples_show_a_boundary(item: Any) -> None:
    answer = mapped(item.request)
    assert answer["region"]
    assert any(side is not None for side in answer["region"][0]["governing"])


# ---------------------------------------------------------------------------------------------- the tracing alone


def _trace(fields: Any, n: int) -> list[region.Polygon]:
    """Trace a region given by functions, each at most 1 inside, on a grid of the unit square."""
    x = np.linspace(0.0, 1.0, n)

    def utilization(points: Any) -> Any:
        return np.array([field(points[:, 0], points[:, 1]) for field in fields])

    def point(points: Any) -> region.Point:
        table = utilization(points)
        return region.Point((table <= 1.0).all(axis=0), table.argmax(axis=0))

    mask = point(np.stack([column.ravel() for column in np.meshgrid(x, x)], axis=1)).inside.reshape(n, n)
    return region.trace(mask, x, x, point, utilization)


@laws(40)
@given(st.floats(0.15, 0.9), st.floats(0.15, 0.9), st.floats(0.02, 0.5), st.integers(10, 40))
def test_box_cut_by_a_hyperbola_has_its_area(a: float, b: float, product: float, n: int) -> None:
    """Area of x <= a, y <= b, x y <= c: exact by hand; what a cell hides of its corners is less than a cell or two."""
    fields = [lambda x, _: x / a, lambda _, y: y / b, lambda x, y: x * y / product]
    polygons = _trace(fields, n)
    exact = a * b if product >= a * b else product * (1.0 + np.log(a * b / product))
    assert len(polygons) == 1
    assert region.area(polygons[0].points) == pytest.approx(exact, abs=1.5 / (n - 1) ** 2)
    x, y = polygons[0].points.T
    used = np.array([field(x, y) for field in fields])
    assert (used <= 1.0 + 1e-6).all()
    beyond = np.array(polygons[0].sides)
    at_limit = np.array([used[side, k] for k, side in enumerate(beyond) if side >= 0])
    assert at_limit == pytest.approx(1.0, abs=1e-6)


def test_a_disc_and_a_hole_are_two_polygons() -> None:
    def ring(x: Any, y: Any) -> Any:
        r = np.hypot(x - 0.5, y - 0.5)
        return np.maximum(r / 0.4, 0.2 / np.maximum(r, 1e-9))

    outer, inner = _trace([ring], 60)
    assert region.area(outer.points) == pytest.approx(np.pi * 0.16, rel=1e-3)
    assert region.area(inner.points) == pytest.approx(-np.pi * 0.04, rel=2e-3)
    assert np.hypot(*(outer.points - 0.5).T) == pytest.approx(0.4, abs=1e-6)
    middles = 0.5 * (outer.points + np.roll(outer.points, -1, axis=0))
    assert np.hypot(*(middles - 0.5).T) == pytest.approx(0.4, abs=0.02 / 59.0)
    assert set(outer.sides) == {0}


def test_nothing_inside_has_no_boundary() -> None:
    assert _trace([lambda x, _: 2.0 + 0.0 * x], 10) == []


def test_everything_inside_is_the_edge_of_the_grid() -> None:
    (polygon,) = _trace([lambda x, _: 0.5 + 0.0 * x], 10)
    assert sorted(map(tuple, polygon.points.tolist())) == [(0.0, 0.0), (0.0, 1.0), (1.0, 0.0), (1.0, 1.0)]
    assert set(polygon.sides) == {-1}


def test_bisection_ends_at_the_last_point_inside() -> None:
    edge = np.array([0.1, 1.0 / 3.0, 0.9, 0.5])

    def point(values: Any) -> region.Point:
        return region.Point(values <= np.tile(edge, len(values) // 4), np.arange(len(values)) % 4)

    inside, blame = region.bisect(point, np.zeros(4), np.ones(4), 50)
    assert inside == pytest.approx(edge, abs=1e-14)
    assert (inside <= edge).all()
    assert blame.tolist() == [0, 1, 2, 3]


def test_of_several_ways_out_that_nearest_to_the_inside_is_found() -> None:
    def point(values: Any) -> region.Point:
        return region.Point((values <= 0.1) | ((values >= 0.15) & (values <= 0.7)), np.where(values < 0.5, 4, 5))

    for at_first, edge, beyond in ((1, 0.7, 5), (region.WIDE, 0.1, 4)):
        inside, blame = region.bisect(point, np.zeros(1), np.ones(1), 50, at_first)
        assert inside == pytest.approx(edge, abs=1e-14)
        assert blame.tolist() == [beyond]
