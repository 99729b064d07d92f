"""The page in a browser, used as an engineer would: by mouse, by keyboard, on a small screen, in the dark, by a screen reader."""

from __future__ import annotations

import io
import json
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx2
import pytest
from glandwise.api.access import new_token
from PIL import Image

from tests import chromium
from tests.security.test_wire import served

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(chromium.PROGRAM is None, reason="the page in a browser: Chromium is not installed here"),
]

if chromium.PROGRAM is not None:
    from axe_playwright_python.sync_playwright import Axe
    from playwright.sync_api import Browser, Page, expect, sync_playwright

    expect.set_options(timeout=30000)  # on a machine with other things to do

FLAGS = [flag for flag in chromium.FLAGS if "remote-debugging" not in flag]
SWIVEL = (
    "shaft=80&motion=oscillation&swing=45&frequency=6&pressure=250&temperature=50&coldest=-10&hottest=80&runout=0.02"
    "&shaft_material=hard_chrome_plated&roughness=0.2&lead=none&bore=92.5&bore_material=steel_soft&seal=own"
    "&family=energized_lip&compound=ptfe_carbon_25&energizer=cantilever_v&alloy=R30003&heel=extended"
    "&retention=clamped_flange&fluid=mineral_oil_hydraulic"
)


@pytest.fixture(scope="module")
def port() -> Iterator[int]:
    """The port of a service."""
    with served() as (number, _):
        yield number


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """A browser without a window, with a fresh profile."""
    with sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=chromium.PROGRAM, args=FLAGS)
        yield started
        started.close()


Open = Callable[..., "Page"]


@pytest.fixture
def visit(browser: Browser, port: int) -> Iterator[Open]:
    """Open the page; at the end, nothing was said on the console and no other address was asked."""
    said: list[str] = []
    asked: list[str] = []
    contexts = []

    def visited(state: str = "", at: int | None = None, faults: bool = False, **options: Any) -> Page:
        context = browser.new_context(**{"viewport": {"width": 1360, "height": 900}, **options})
        context.grant_permissions(["clipboard-read", "clipboard-write"])
        contexts.append(context)
        opened = context.new_page()
        opened.set_default_timeout(60000)
        if not faults:
            opened.on("console", lambda item: said.append(item.text))
        opened.on("pageerror", lambda error: said.append(str(error)))
        opened.on("request", lambda request: asked.append(request.url))
        opened.goto(f"http://127.0.0.1:{at or port}/{'#' + state if state else ''}")
        return opened

    yield visited
    for context in contexts:
        context.close()
    assert said == []
    for url in asked:
        assert re.match(r"http://127\.0\.0\.1:\d+/($|#|page/|v1/)|blob:http://127\.0\.0\.1:", url), url


def settled(page: Page) -> None:
    """Wait until the last answer is shown, with its map and its drawing."""
    page.wait_for_timeout(500)  # what is typed is asked a moment later
    expect(page.locator("#answer")).not_to_have_attribute("aria-busy", "true", timeout=60000)


def request_of(page: Page) -> dict[str, Any]:
    """The enquiry that the page would hand over."""
    page.get_by_role("button", name="Copy JSON").click()
    found: dict[str, Any] = json.loads(page.locator("#copy").input_value())
    return found


def ask(port: int, request: dict[str, Any]) -> dict[str, Any]:
    """What the service answers by itself."""
    answer = httpx2.post(f"http://127.0.0.1:{port}/v1/enquiries", json=request, timeout=60)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def words_of(code: str) -> str:
    """A verdict as the page says it."""
    return {
        "pass": "Passes",
        "caution": "Passes with care",
        "fail": "Does not pass",
        "not_evaluated": "Cannot be judged",
    }[code]


def test_verdict_drawing_and_map_are_there_at_once(visit: Open, port: int) -> None:
    page = visit()
    settled(page)
    answer = ask(port, request_of(page))
    expect(page.locator("#word")).to_have_text(words_of(answer["verdict"]))
    expect(page.get_by_text("An engineering estimate, to be proved by test").first).to_be_visible()
    expect(page.get_by_text("Local codes and a licensed engineer decide").first).to_be_visible()
    assert page.locator("#drawing").evaluate("image => image.complete && image.naturalWidth > 0")
    assert answer["title"] in (page.locator("#drawing").get_attribute("alt") or "")
    expect(page.get_by_role("slider", name="Duty on the map")).to_be_visible()
    inks = page.locator("#map canvas").evaluate(
        "c => new Set([...new Uint32Array(c.getContext('2d').getImageData(0, 0, c.width, c.height).data.buffer)]).size"
    )
    assert inks > 2, "the map shows zones"
    rows = page.locator(".criteria-table tbody tr:not(.why):not(.group)").count()
    assert rows >= len(answer["check"]["criteria"])
    for item in answer["requirements"]:
        expect(page.locator("#requirements")).to_contain_text(item["text"].split(" ")[0])
    assert page.locator("#requirements > ul").first.locator("li").count() == len(answer["requirements"])
    for item in answer["alternatives"]:
        expect(page.locator("#others")).to_contain_text(item["title"])
    expect(page.locator("#stamp")).to_contain_text(answer["stamp"]["fingerprint"][:8])


def test_no_code_is_shown_where_words_exist(visit: Open) -> None:
    for state in ("", SWIVEL):
        page = visit(state)
        settled(page)
        page.locator("#reasons").check()
        page.locator("#sizes summary").click()
        text = page.evaluate("document.querySelector('#answer').innerText")
        assert (
            re.findall(
                r"\b[a-z]+_[a-z_0-9]+\b|\bdeg[CF]\b|\bN\.m\b|undefined|\bNaN\b|\bnull\b|\bfalse\b|\[object", text
            )
            == []
        )


def test_a_change_shows_what_turns(visit: Open, port: int) -> None:
    page = visit()
    settled(page)
    expect(page.locator("#turned")).to_be_hidden()
    page.get_by_role("textbox", name="Sealed pressure").fill("40")
    settled(page)
    expect(page.locator("#turned-head")).to_contain_text("Sealed pressure")
    page.get_by_role("button", name="Take this design over").click()
    settled(page)
    assert request_of(page)["design"]["family"]
    before = ask(port, request_of(page))
    page.get_by_role("textbox", name="Sealed pressure").fill("0.3")
    page.get_by_role("textbox", name="Runout").fill("0.8")
    settled(page)
    after = ask(port, request_of(page))
    status = {row["id"]: row["status"] for row in before["check"]["criteria"]}
    turned = [row["title"] for row in after["check"]["criteria"] if row["status"] != status[row["id"]]]
    assert turned
    for title in turned:
        expect(page.locator("#turned")).to_contain_text(title, ignore_case=True)


@pytest.mark.parametrize("pressure", [0.3, 60])
def test_what_governs_is_what_the_service_says_governs(visit: Open, port: int, pressure: float) -> None:
    """Dirt without an excluder has no number; a pressure far beyond the limit has one."""
    page = visit(
        f"shaft=45&speed=100&pressure={pressure}&temperature=40&fluid=polyalphaolefin_oil&runout=0.02&offset=0.02&hardness=60"
        "&roughness=0.2&lead=none&dirt=abrasive&seal=own&family=flexible_lip&compound=ptfe_carbon_graphite_25&second_lip=none"
    )
    settled(page)
    check = ask(port, request_of(page))["check"]
    assert check["verdict"] == "fail"
    expect(page.locator(".figures div").first).to_contain_text(check["governing"]["title"], ignore_case=True)


def test_a_design_of_ones_own(visit: Open, port: int) -> None:
    page = visit()
    settled(page)
    proposed = ask(port, request_of(page))["design"]
    page.get_by_label("I choose").check(force=True)
    settled(page)
    own = request_of(page)["design"]
    assert {name: own[name] for name in proposed} == proposed, "the choice begins with what was proposed"
    page.get_by_label("Compound").select_option(label="Unfilled PTFE")
    settled(page)
    assert request_of(page)["design"]["compound"] == "ptfe_unfilled"
    expect(page.locator("#turned-head")).to_contain_text("Compound")
    page.get_by_label("energized lip").check(force=True)
    page.get_by_label("Energizer", exact=True).select_option(label="Canted coil spring")
    settled(page)
    design = request_of(page)["design"]
    assert (design["family"], design["energizer"]) == ("energized_lip", "canted_coil")
    expect(page.locator("#verdict .seal")).to_contain_text("canted coil", ignore_case=True)
    page.get_by_label("the service proposes").check(force=True)
    settled(page)
    assert "design" not in request_of(page)


def test_a_ranked_design_is_taken_over(visit: Open, port: int) -> None:
    page = visit()
    settled(page)
    ranked = ask(port, request_of(page))["selection"]["ranked"]
    page.locator("#others").get_by_role("button", name="Take over").nth(1).click()
    settled(page)
    assert request_of(page)["design"].items() >= ranked[1]["design"].items()


@pytest.mark.parametrize("words", ["Add a metal band", "Use an energized lip instead"])
def test_a_remedy_is_tried(visit: Open, port: int, words: str) -> None:
    page = visit(
        "shaft=45&speed=1450&pressure=6&temperature=80&fluid=polyalphaolefin_oil&runout=0.3&offset=0.1"
        "&seal=own&family=flexible_lip&compound=ptfe_unfilled&retention=press_fit_case"
    )
    settled(page)
    before = ask(port, request_of(page))
    change = next(
        remedy["design"]
        for row in before["check"]["criteria"]
        for remedy in row["remedies"]
        if remedy["title"].lower().startswith(words.lower())
    )
    page.locator(".remedies li", has_text=words).first.get_by_role("button", name="Try").click()
    settled(page)
    assert request_of(page)["design"].items() >= change.items()
    expect(page.locator("#turned-head")).to_be_visible()
    expect(page.get_by_role("alert")).to_be_hidden()


def test_faults_stand_beside_their_fields(visit: Open) -> None:
    page = visit(faults=True)  # the browser logs each refusal
    settled(page)
    shaft = page.get_by_role("textbox", name="Shaft diameter")
    shaft.fill("0")
    page.get_by_role("textbox", name="Sealed pressure").fill("0,3")
    settled(page)
    for label in ("Shaft diameter", "Sealed pressure"):
        field = page.get_by_role("textbox", name=label)
        expect(field).to_have_attribute("aria-invalid", "true")
        fault = page.locator(f"#{(field.get_attribute('aria-describedby') or '').split()[-1]}")
        expect(fault).to_be_visible()
        assert len(fault.inner_text()) > 15
    expect(page.get_by_role("alert")).to_contain_text("marked fields")
    assert "old" in (page.locator("#answer").get_attribute("class") or "")
    shaft.fill("2 in")
    page.get_by_role("textbox", name="Sealed pressure").fill("5 psi")
    settled(page)
    expect(page.get_by_role("alert")).to_be_hidden()
    expect(shaft).not_to_have_attribute("aria-invalid", "true")
    assert request_of(page)["duty"]["shaft_diameter"] == "2 in"
    page.get_by_label("lowest").fill("200")
    settled(page)
    expect(page.get_by_label("lowest")).to_have_attribute("aria-invalid", "true")


def test_a_fault_in_a_folded_part_unfolds_it(visit: Open) -> None:
    page = visit("shaft=45&speed=1450&pressure=0.3&temperature=80&fluid=water&bore=30", faults=True)
    settled(page)
    expect(page.get_by_label("Bore diameter")).to_be_visible()
    expect(page.get_by_label("Bore diameter")).to_have_attribute("aria-invalid", "true")


def test_units_change_numbers_and_no_verdict(visit: Open) -> None:
    page = visit()
    settled(page)
    word = page.locator("#word").inner_text()
    entered = {
        item: page.locator(f"#{item}").input_value()
        for item in ("shaft", "pressure", "temperature", "coldest", "roughness")
    }
    page.get_by_label("Customary in").check(force=True)
    settled(page)
    assert float(page.locator("#shaft").input_value()) == pytest.approx(45 / 25.4, rel=1e-5)
    assert float(page.locator("#coldest").input_value()) == pytest.approx(14)
    expect(page.locator("#word")).to_have_text(word)
    expect(page.locator("#verdict")).to_contain_text("lbf·in")
    expect(page.locator("#turned")).to_be_hidden()
    page.get_by_label("SI mm").check(force=True)
    settled(page)
    assert {item: page.locator(f"#{item}").input_value() for item in entered} == entered


def test_a_fluid_is_found_by_keyboard(visit: Open) -> None:
    page = visit()
    settled(page)
    fluid = page.get_by_role("combobox", name="Fluid")
    fluid.fill("hydraulik")
    expect(page.get_by_role("option").first).to_be_visible()
    expect(fluid).to_have_attribute("aria-expanded", "true")
    fluid.press("ArrowDown")
    fluid.press("ArrowUp")
    active = fluid.get_attribute("aria-activedescendant")
    wanted = page.locator(f"#{active}").inner_text().split("\n")[0]
    fluid.press("Enter")
    settled(page)
    expect(fluid).to_have_value(wanted)
    expect(page.get_by_role("listbox")).to_be_hidden()
    assert request_of(page)["duty"]["fluid"] == "mineral_oil_hydraulic"
    fluid.fill("")
    page.wait_for_timeout(300)
    fluid.press("ArrowDown")
    expect(page.get_by_role("option").nth(100)).to_be_attached()  # without a word, all that there are
    assert "degC" not in page.get_by_role("listbox").inner_text()
    fluid.fill("xyzzyxyzzy")
    page.wait_for_timeout(500)
    fluid.press("Escape")
    page.get_by_label("Runout").focus()
    expect(page.locator("#fluid-fault")).to_contain_text("Choose a fluid")


def test_the_duty_is_dragged_over_the_map(visit: Open, port: int) -> None:
    page = visit(SWIVEL.replace("motion=oscillation&swing=45&frequency=6", "speed=100"))
    settled(page)
    point = page.get_by_role("slider", name="Duty on the map")
    point.scroll_into_view_if_needed()
    frame, start = page.locator("#map .frame").bounding_box(), point.bounding_box()
    assert frame is not None
    assert start is not None
    page.mouse.move(start["x"] + start["width"] / 2, start["y"] + start["height"] / 2)
    page.mouse.down()
    page.mouse.move(frame["x"] + 0.95 * frame["width"], frame["y"] + 0.1 * frame["height"], steps=6)
    during = page.locator("#reading").inner_text()
    assert "governs" in during
    assert "does not pass" in during.lower(), "nothing passes in the harsh corner"
    page.mouse.up()
    settled(page)
    request = request_of(page)
    answer = ask(port, request)
    assert answer["check"]["verdict"] == "fail"
    expect(page.locator("#reading")).to_contain_text(answer["check"]["governing"]["title"], ignore_case=True)
    assert request["duty"]["pressure"]["value"] > 250
    assert request["duty"]["motion"]["rotational_speed"]["value"] > 100


def test_the_duty_is_moved_by_keys(visit: Open) -> None:
    page = visit()
    settled(page)
    point = page.get_by_role("slider", name="Duty on the map")
    point.focus()
    before = float(page.locator("#speed").input_value())
    for _ in range(3):
        point.press("ArrowLeft")
    told = point.get_attribute("aria-valuetext") or ""
    assert "governs" in told
    page.wait_for_timeout(700)
    settled(page)
    assert float(page.locator("#speed").input_value()) < before
    expect(page.get_by_role("slider", name="Duty on the map")).to_be_focused()


def test_a_duty_far_outside_lies_on_the_map(visit: Open) -> None:
    page = visit("shaft=50&speed=9000&pressure=60&temperature=80&fluid=water&runout=0.1")
    settled(page)
    expect(page.locator("#word")).to_have_text("Does not pass")
    point, frame = page.get_by_role("slider").bounding_box(), page.locator("#map .frame").bounding_box()
    assert point is not None
    assert frame is not None
    middle = point["x"] + point["width"] / 2
    assert frame["x"] + 1 < middle < frame["x"] + frame["width"] - 1


def test_what_was_assumed_is_confirmed(visit: Open, port: int) -> None:
    page = visit()
    settled(page)
    assumed = {item["field"]: item["value"] for item in ask(port, request_of(page))["assumptions"]}
    button = page.get_by_role("button", name="Confirm Bore diameter")
    button.focus()
    button.press("Enter")
    settled(page)
    request = request_of(page)
    assert request["duty"]["bore"]["diameter"] == assumed["/duty/bore/diameter"]
    assert "/duty/bore/diameter" not in {item["field"] for item in ask(port, request)["assumptions"]}
    expect(button).to_have_count(0)


def test_what_is_not_stated_is_named(visit: Open) -> None:
    page = visit("shaft=45&speed=1450&pressure=0.3&temperature=80&fluid=polyalphaolefin_oil")
    settled(page)
    for question in (
        "How much does the shaft run out",
        "How hard is",
        "How rough is",
        "How far may the middle of the shaft",
    ):
        expect(page.locator("#asked")).to_contain_text(question)
    expect(page.locator("#asked")).to_contain_text("the verdict stands with this design")
    expect(page.locator("#confidence")).to_contain_text("of the plausible cases of what is not stated")
    expect(page.locator("#confirm")).not_to_contain_text("Dynamic runout")  # asked once, not listed as lacking besides


def test_a_link_holds_everything(visit: Open) -> None:
    page = visit(SWIVEL)
    settled(page)
    page.get_by_role("textbox", name="Runout").fill("0.03")
    page.locator("#lip summary").click()
    page.get_by_label("Thickness", exact=True).fill("1.2")
    settled(page)
    request = request_of(page)
    page.get_by_role("button", name="Copy link").click()
    link = page.locator("#copy").input_value()
    assert page.evaluate("navigator.clipboard.readText()") == link
    again = visit(link.split("#")[1])
    settled(again)
    assert request_of(again) == request
    assert request["duty"]["motion"]["kind"] == "oscillation"
    assert request["design"]["energizer_alloy"] == "R30003"


def test_a_link_with_something_unknown_says_so(visit: Open) -> None:
    page = visit(SWIVEL.replace("ptfe_carbon_25", "ptfe_nobody"))
    settled(page)
    expect(page.get_by_role("alert")).to_contain_text("Compound")


def test_what_a_link_says_stays_text(visit: Open) -> None:
    page = visit("shaft=%3Cimg%20src%3Dx%20onerror%3Ddocument.title%3D1%3E&fluid=%3Cscript%3E&speed=1", faults=True)
    settled(page)
    assert page.locator("main img[src=x]").count() == 0
    assert page.title().startswith("Glandwise")
    expect(page.get_by_label("Shaft diameter")).to_have_attribute("aria-invalid", "true")


def test_curl_and_python_give_the_same_answer(visit: Open, port: int) -> None:
    page = visit()
    settled(page)
    answer = ask(port, request_of(page))
    page.get_by_role("button", name="Copy Python").click()
    line = page.locator("#copy").input_value()
    assert "\n" not in line
    done = subprocess.run([sys.executable, "-c", line], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.strip() == answer["summary"]
    page.get_by_role("button", name="Copy curl").click()
    command = shlex.split(page.locator("#copy").input_value())
    assert command[0] == "curl"
    if shutil.which("curl") is not None:
        done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)
        assert json.loads(done.stdout)["stamp"] == answer["stamp"]


def test_drawing_and_sheet_are_saved(visit: Open, tmp_path: Path) -> None:
    page = visit()
    settled(page)
    for name, begins in (
        ("drawing (SVG)", b"<?xml"),
        ("drawing (DXF)", b"  0"),
        ("calculation sheet (HTML)", b"<!DOCTYPE html>"),
    ):
        with page.expect_download() as coming:
            page.get_by_role("button", name=name).click()
        file = tmp_path / coming.value.suggested_filename
        coming.value.save_as(file)
        assert file.read_bytes().lstrip(b"\n")[:20].startswith(begins), name


def test_a_token_is_asked_for_and_kept_in_memory_alone(visit: Open, tmp_path: Path) -> None:
    token, entry = new_token("engineer", ["read", "judge"], None)
    file = tmp_path / "tokens.toml"
    file.write_text(entry, encoding="utf-8")
    with served(tokens=str(file)) as (number, _):
        page = visit(at=number, faults=True)
        field = page.get_by_label("Access token")
        expect(field).to_be_visible()
        expect(field).to_be_focused()
        field.fill("gw_wrong")
        page.get_by_role("button", name="Use this token").click()
        expect(page.get_by_role("alert")).to_contain_text("token")
        expect(field).to_be_visible()
        field.fill(token)
        page.get_by_role("button", name="Use this token").click()
        page.wait_for_selector("#word")
        settled(page)
        expect(field).to_be_hidden()
        page.get_by_role("button", name="Copy curl").click()
        assert token not in page.locator("#copy").input_value()
        assert "GLANDWISE_TOKEN" in page.locator("#copy").input_value()
        kept = page.evaluate("JSON.stringify([location.href, {...localStorage}, {...sessionStorage}, document.cookie])")
        assert token not in kept
        page.reload()
        expect(page.get_by_label("Access token")).to_be_visible()


def test_a_picture_that_cannot_be_had_says_why(visit: Open) -> None:
    page = visit(faults=True)
    settled(page)
    problem = {"title": "The service is busy", "detail": "busy", "message": "There is much to do.", "errors": []}
    page.route(
        "**/v1/operating-maps",
        lambda route: route.fulfill(status=503, headers={"retry-after": "7"}, content_type="application/problem+json",
                                    body=json.dumps(problem)),
    )  # fmt: skip
    page.get_by_role("textbox", name="Runout").fill("0.12")
    settled(page)
    expect(page.locator("#map-fault")).to_have_text("There is much to do. Ask again in 7 s.")
    expect(page.locator("#map")).to_be_hidden()
    expect(page.locator("#drawing")).to_be_visible()
    page.unroute("**/v1/operating-maps")
    page.get_by_role("textbox", name="Runout").fill("0.1")
    settled(page)
    expect(page.locator("#map-fault")).to_be_hidden()
    expect(page.get_by_role("slider", name="Duty on the map")).to_be_visible()


def test_a_service_that_is_gone_is_told(visit: Open) -> None:
    with served() as (number, _):
        page = visit(at=number, faults=True)
        settled(page)
    page.get_by_role("textbox", name="Runout").fill("0.2")
    settled(page)
    expect(page.get_by_role("alert")).to_contain_text("cannot be reached")
    expect(page.get_by_role("button", name="Ask again")).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1360, 400])
def test_anybody_can_use_it(visit: Open, scheme: str, width: int) -> None:
    """By the rules of accessibility that a program can check: names, roles, contrast, structure."""
    page = visit(SWIVEL, color_scheme=scheme, viewport={"width": width, "height": 900})
    settled(page)
    page.locator("#reasons").check()
    page.locator("#hardware summary").click()
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
    assert [(item["id"], item["nodes"][0]["html"][:160], item["nodes"][0]["failureSummary"]) for item in found] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_the_drawing_is_dark_on_a_dark_screen(visit: Open) -> None:
    paper = {}
    for scheme in ("light", "dark"):
        page = visit(color_scheme=scheme)
        settled(page)
        with Image.open(io.BytesIO(page.locator("#drawing").screenshot())) as picture:
            paper[scheme] = max(picture.convert("RGB").getpixel((3, picture.height // 2)))
    assert paper["light"] > 240
    assert paper["dark"] < 60


def test_the_keyboard_reaches_everything_in_order(visit: Open) -> None:
    page = visit()
    settled(page)
    reached: list[str] = []
    while len(reached) < 60:
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement === document.body"):
            break
        reached.append(
            page.evaluate("(e => e.id || e.name || e.getAttribute('href') || e.textContent)(document.activeElement)")
        )
        assert page.evaluate("document.activeElement.matches(':focus-visible')"), reached
    wanted = [
        "#answer",
        "u",
        "shaft",
        "pressure",
        "motion",
        "speed",
        "life",
        "coldest",
        "temperature",
        "hottest",
        "fluid",
        "runout",
        "offset",
        "seal",
    ]
    places = [reached.index(item) for item in wanted]
    assert places == sorted(places), reached
    buttons = ["Take this design over", "Confirm", "Take over", "Copy link"]
    assert [reached.index(item) for item in buttons] == sorted(reached.index(item) for item in buttons)
    assert reached.index("Take this design over") < reached.index("") < reached.index("sheet"), "the point of the map"
