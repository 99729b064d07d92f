"""The cross-section: geometry that closes, seals that fit their glands, numbers that are those of the case, clean SVG and DXF."""

from __future__ import annotations

import importlib.util
import io
import random
import re
import xml.etree.ElementTree as ET
from functools import cache
from math import isfinite, pi
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from glandwise.api.render import section as render
from glandwise.app import create_app
from glandwise.contract.gland import GlandCheckRequest
from glandwise.contract.selection import SelectionRequest
from glandwise.drawing.outline import Outline, Point, crosses_itself
from glandwise.drawing.seal import Section, section
from glandwise.questions.section.found import read
from glandwise.questions.selection import operation as selection
from glandwise.settings import Settings
from matplotlib.path import Path

from tests.conftest import Answers, Example, assert_problem, load_examples

FINE = 1e-7
SHAFTS = (10.0, 22.0, 45.0, 110.0, 300.0, 500.0)
DRAWN = ("answer_enquiry", "check_envelope", "check_gland", "estimate_blank")
SECTIONS = [example for example in load_examples() if example.operation in DRAWN]
HAS_DXF = importlib.util.find_spec("ezdxf") is not None


@cache
def engine() -> Any:
    """The engine of an application."""
    return create_app(Settings()).state.engine


def duty(shaft: float, pressure: float) -> dict[str, Any]:
    """An ordinary duty."""
    return {
        "shaft_diameter": {"value": shaft, "unit": "mm"},
        "motion": {"kind": "rotation", "rotational_speed": {"value": 60, "unit": "rpm"}},
        "pressure": {"value": pressure, "unit": "bar"},
        "temperature": {"normal": {"value": 60, "unit": "degC"}},
        "fluid": "polyalphaolefin_oil",
    }


def asked(design: dict[str, Any], shaft: float = 45.0, pressure: float = 0.3, **more: Any) -> GlandCheckRequest:
    """A request for a drawing."""
    return GlandCheckRequest.model_validate({"duty": duty(shaft, pressure), "design": design, **more})


@cache
def sample() -> tuple[tuple[dict[str, Any], float], ...]:
    """Some of all coherent designs, each on a shaft; the same in every run."""
    rules = engine().rules_of(None, None)
    found = selection.rank(SelectionRequest.model_validate({"duty": duty(45.0, 0.0)}), rules).candidates
    draw = random.Random(20260101)
    picked = draw.sample(range(len(found.rows)), 60)
    designs = [selection.as_request(selection.design_of(rules.data, found, index, "FKM")) for index in picked]
    return tuple((design, draw.choice(SHAFTS)) for design in designs)


def drawn(request: GlandCheckRequest) -> render.Drawing:
    """The drawing of a request."""
    result = {"stamp": engine().stamp("check_gland", request, engine().rules(request))}
    return render.drawing(request, result, engine())


@cache
def sampled() -> tuple[render.Drawing, ...]:
    """The drawings of the sample, alternating in what the lip points at and in the units."""
    made = []
    for k, (design, shaft) in enumerate(sample()):
        pressure = 0.2 if design["family"] == "flexible_lip" else 60.0
        made.append(drawn(asked(design, shaft, pressure, units={"system": "us" if k % 3 == 0 else "si"})))
    return tuple(made)


def outlines(s: Section) -> list[Outline]:
    """Every outline of a section."""
    some = [s.shaft, s.housing, s.wetted, *(item for item in (s.ring, s.case, s.plate) if item is not None)]
    return [*some, *(item for state in (s.free, s.fitted) for item in (state.body, *state.spring, *state.band))]


def test_every_outline_is_closed_and_does_not_cross_itself() -> None:
    """No part of any drawing folds over."""
    for drawing in sampled():
        for outline in outlines(drawing.section):
            assert outline.area > 0.0
            assert not crosses_itself(outline.flat()), drawing.found.design


def test_a_fitted_seal_lies_in_its_gland_and_touches_its_shaft() -> None:
    """Between shaft and bore, before the shoulder; the lip lies on the shaft over the contact, and nowhere else."""
    for drawing in sampled():
        s, z = drawing.section, drawing.found.size
        left, right, low, high = s.fitted.body.box
        assert low == pytest.approx(0.5 * z.shaft, abs=FINE)
        assert high <= 0.5 * z.bore + FINE
        assert right <= z.width + FINE
        assert left >= -FINE or s.remarks
        touching = [p.x for p in s.fitted.lip if p.r <= 0.5 * z.shaft + FINE]
        assert min(touching) == pytest.approx(s.contact[0], abs=FINE)
        assert max(touching) == pytest.approx(s.contact[1], abs=FINE)
        assert s.contact[1] - s.contact[0] == pytest.approx(z.contact_width, abs=FINE)
        for outline in (*s.fitted.spring, *s.fitted.band):
            box = outline.box
            assert box[2] > 0.5 * z.shaft
            assert box[3] < 0.5 * z.bore


def test_the_free_lip_has_its_own_dimensions() -> None:
    """Its bore is the shaft less the interference; it is as long and as thick as the case has it."""
    for drawing in sampled():
        s, z = drawing.section, drawing.found.size
        assert 2.0 * s.free.edge.r == pytest.approx(z.shaft - z.interference, abs=FINE)
        assert abs(s.free.root.x - s.free.edge.x) == pytest.approx(z.lip_length, abs=FINE)
        if z.family == "energized_lip":
            assert z.width - s.free.root.x == pytest.approx(z.heel, abs=FINE)


def test_parts_do_not_run_into_each_other() -> None:
    """Neither the energizer into the seal, nor the seal into the O-ring."""
    for drawing in sampled():
        s = drawing.section
        if s.remarks:
            continue
        for state in (s.free, s.fitted):
            body = Path(state.body.flat())
            for outline in state.spring[:1]:
                middle = outline.box
                depth = 0.06 * (middle[3] - middle[2])
                inner = [Point(x, r) for x, r in outline.flat()]
                centre = 0.5 * (middle[0] + middle[1]), 0.5 * (middle[2] + middle[3])
                pulled = [(x + depth * _to(x, centre[0]), r + depth * _to(r, centre[1])) for x, r in inner]
                assert not body.contains_points(pulled).any(), drawing.found.design


def _to(value: float, middle: float) -> float:
    return 1.0 if value < middle else -1.0


def test_an_o_ring_keeps_its_area() -> None:
    """Pressed between groove and bore it becomes wider as it becomes lower."""
    rings = [d for d in sampled() if d.section.ring is not None]
    assert rings
    for drawing in rings:
        assert drawing.section.ring is not None
        z, box = drawing.found.size, drawing.section.ring.box
        assert drawing.section.ring.area == pytest.approx(pi * z.ring_section**2 / 4.0, rel=1e-9)
        assert box[1] - box[0] < z.groove_width


def test_numbers_on_the_drawing_are_those_of_the_case() -> None:
    """In the units asked for, to the last decimal written; with both deviations where the size has limits."""
    decimals = {"mm": (2, 3), "in": (4, 5)}
    seen = set()
    for drawing in sampled():
        for item in drawing.dimensions:
            seen.add(item.name)
            written = float(item.text.split(" ")[0].replace(",", ""))
            value = drawing.units.number("length", item.value)
            size, limit = decimals[drawing.units.units["length"]]
            places = size if item.deviations is None else limit
            assert len(item.text.split(" ")[0].partition(".")[2]) <= places
            assert abs(written - value) <= 0.501 * 10.0**-places
            limits = drawing.found.limits.get(item.name)
            if limits is not None and item.deviations is not None:
                upper, lower = (float(text.replace("−", "-")) for text in item.deviations)
                for deviation, end in ((upper, limits.high), (lower, limits.low)):
                    assert abs(deviation - drawing.units.number("length", end - item.value)) <= 0.501 * 10.0**-limit
    assert {
        "shaft",
        "bore",
        "throat",
        "lip_bore",
        "lip_length",
        "width",
        "heel",
        "groove",
        "contact_width",
        "case",
    } <= seen


def test_nothing_is_written_over_anything_else() -> None:
    """Texts stand within the paper and clear of each other."""
    for drawing in sampled():
        height = float(re.search(rb'height="([\d.]+)mm"', drawing.draw(paper=False)).group(1))  # type: ignore[union-attr]
        boxes = drawing.svg.texts
        for k, (text, left, top, right, bottom) in enumerate(boxes):
            assert left > -0.3, text
            assert right < render.WIDTH + 0.3, text
            assert top > 0.0, text
            assert bottom < height, text
            for other, a, b, c, d in boxes[k + 1 :]:
                lapped = min(right, c) - max(left, a), min(bottom, d) - max(top, b)
                assert min(lapped) <= 0.25, (text, other, drawing.found.design, drawing.found.size.shaft)


@pytest.mark.parametrize("example", SECTIONS, ids=lambda e: f"{e.operation}-{e.name}")
def test_svg_of_every_example(client: TestClient, answer_to: Answers, example: Example) -> None:
    """Valid XML with nothing that runs and nothing from elsewhere; a title and a description."""
    answer = answer_to(example.path, example.request, "image/svg+xml")
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "image/svg+xml"
    root = ET.fromstring(answer.content)
    names = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert {"title", "desc", "path", "text"} <= names
    assert not names & {"script", "foreignObject", "image", "a", "use", "animate"}
    for element in root.iter():
        for name, value in element.attrib.items():
            assert not name.lower().startswith("on")
            assert "href" not in name
            assert "://" not in value
            assert "url(" not in value or re.fullmatch(r"url\(#gd-\w+\)", value)
    assert "to be released by design" in answer.text
    again = client.post(example.path, json=example.request, headers={"accept": "image/svg+xml"})
    assert again.content == answer.content


@pytest.mark.skipif(not HAS_DXF, reason="ezdxf is not installed")
@pytest.mark.parametrize("example", SECTIONS, ids=lambda e: f"{e.operation}-{e.name}")
def test_dxf_of_every_example(answer_to: Answers, example: Example) -> None:
    """A file that its own library finds nothing to mend in, in millimetres, by layers; the seal closed and at its own place."""
    import ezdxf

    answer = answer_to(example.path, example.request, "image/vnd.dxf")
    assert answer.status_code == 200, answer.text
    document = ezdxf.read(io.StringIO(answer.text))  # type: ignore[attr-defined]
    assert not document.audit().errors
    assert document.units == 4
    space = document.modelspace()
    (seal,) = space.query('LWPOLYLINE[layer=="SEAL_AS_MADE"]')
    assert seal.closed
    result = answer_to(example.path, example.request).json()
    request = _model(example).model_validate(example.request)
    found = read(request, result, engine())
    lowest = min(point[1] for point in seal.get_points("xy"))
    z = found.size
    assert 2.0 * lowest == pytest.approx(1e3 * (z.shaft - z.interference), abs=1e-4) or z.second_lip == "redundant"
    assert space.query('DIMENSION[layer=="DIMENSIONS"]')
    assert any("to be released by design" in note.text for note in space.query("MTEXT"))


def _model(example: Example) -> Any:
    from glandwise.operations import OPERATIONS

    return OPERATIONS[example.operation].request


def test_a_service_without_the_library_says_so(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """DXF is refused with what is there instead."""
    import sys

    monkeypatch.setitem(sys.modules, "ezdxf", None)
    example = SECTIONS[0]
    problem = assert_problem(
        client.post(example.path, json=example.request, headers={"accept": "image/vnd.dxf"}), 406, "not-acceptable"
    )
    assert "image/svg+xml" in problem["detail"]


def turned_volume(points: list[Point], steps: int) -> float:
    """Volume of a mesh: the closed line turned about the axis in steps, its triangles summed as tetrahedra to the origin."""
    x, r = np.array(points).T
    angles = 2.0 * pi * np.arange(steps) / steps
    corners = np.stack([
        np.broadcast_to(x, (steps, len(x))), np.outer(np.cos(angles), r), np.outer(np.sin(angles), r),
    ], axis=-1)  # fmt: skip
    on, next_on = np.roll(corners, -1, axis=1), np.roll(np.roll(corners, -1, axis=1), -1, axis=0)
    beside = np.roll(corners, -1, axis=0)
    triangles = np.concatenate([
        np.stack([corners, on, next_on], axis=2).reshape(-1, 3, 3),
        np.stack([corners, next_on, beside], axis=2).reshape(-1, 3, 3),
    ])  # fmt: skip
    return abs(float(np.linalg.det(triangles).sum()) / 6.0)


def test_the_mesh_of_a_ring_has_its_volume() -> None:
    """The measure of the next test, on a ring whose volume everybody knows."""
    ring = [Point(0.0, 1.0), Point(2.0, 1.0), Point(2.0, 3.0), Point(0.0, 3.0)]
    assert turned_volume(ring, 720) == pytest.approx(pi * (9.0 - 1.0) * 2.0, rel=2e-5)


def test_the_volume_of_a_blank_is_that_of_a_mesh_of_its_drawing() -> None:
    """Each design, second lips, grooves and cases included: the blank estimate weighs what is drawn."""
    from glandwise.contract.blank import BlankRequest
    from glandwise.questions.blank import operation as blank

    kinds = set()
    for design, shaft in sample():
        pressure = 0.2 if design["family"] == "flexible_lip" else 60.0
        request = BlankRequest.model_validate({"duty": duty(shaft, pressure), "design": design, "pieces": 1})
        found = blank.answer(request, engine()).found
        assert found.order.drawn is not None
        body = section(found.order.drawn.size).free.body
        part = float(found.part["volume"])
        assert part == pytest.approx(turned_volume(body.flat(pi / 180.0), 720), rel=2e-4), design
        whole = pi / 4.0 * (found.part["outer"] ** 2 - found.part["inner"] ** 2) * found.part["width"]
        assert 0.0 < part < whole, design
        kinds.add((design["family"], design["retention"], design.get("second_lip", "none")))
    assert {family for family, _, _ in kinds} == {"flexible_lip", "energized_lip"}
    assert {held for _, held, _ in kinds} == {"o_ring", "press_fit_case", "clamped_flange"}
    assert {second for _, _, second in kinds} == {"none", "redundant", "excluder"}


def test_the_blank_of_an_enquiry_weighs_what_its_drawing_shows(answer_to: Answers) -> None:
    """The drawing of the answer writes the volume of the PTFE part: the same as that of the blank, to its digits."""
    for example in SECTIONS:
        if example.operation != "answer_enquiry":
            continue
        answer = answer_to(example.path, example.request).json()
        request = _model(example).model_validate(example.request)
        if answer.get("blank") is None:
            continue
        volume = section(read(request, answer, engine()).size).free.body.volume
        told = answer["blank"]["finished"]["volume"]
        units = request.units.system_of_units()
        assert told == units.quantity("volume", volume), example.name


def test_a_lip_that_points_away_is_drawn_the_other_way_round() -> None:
    """The same seal, turned about: the same volume, its edge on the other side."""
    request = asked({"family": "flexible_lip", "compound": "ptfe_glass_25"})
    size = read(request, {}, engine()).size
    here, there = section(size), section(size.__class__(**{**size.__dict__, "lip_direction": "away"}))
    assert there.fitted.edge.x == pytest.approx(size.width - here.fitted.edge.x)
    assert there.free.body.volume == pytest.approx(here.free.body.volume, rel=1e-12)
    assert there.contact[1] == pytest.approx(there.fitted.edge.x)


def test_odd_dimensions_are_drawn_with_a_remark() -> None:
    """What does not go together is drawn all the same, and the drawing says so."""
    design = {
        "family": "energized_lip", "compound": "ptfe_glass_25", "lip_thickness": {"value": 6, "unit": "mm"},
        "lip_length": {"value": 30, "unit": "mm"},
    }  # fmt: skip
    drawing = drawn(asked(design))
    assert drawing.section.remarks
    assert drawing.draw(paper=True)
    assert isfinite(drawing.section.free.body.volume)


@pytest.mark.parametrize("angle", [0.1, 0.2, 0.35])
@pytest.mark.parametrize("place", [0.6, 0.75, 0.9])
def test_stated_bore_angles_and_places_of_the_spring_are_drawn(angle: float, place: float) -> None:
    """Whatever the bore angle and the place of the spring, outlines hold and the lip touches the shaft; or a remark says why not."""
    for drawing in sampled()[::4]:
        size = drawing.found.size
        s = section(size.__class__(**{**size.__dict__, "bore_angle": angle, "spring_place": place}))
        assert s.fitted.body.box[2] == pytest.approx(0.5 * size.shaft, abs=FINE)
        for outline in outlines(s):
            assert s.remarks or not crosses_itself(outline.flat())
