"""Friction estimates: order of levels, the balance of heat recomputed, and what happens without one."""

from __future__ import annotations

import itertools
import math
from typing import Any

import pytest
from glandwise.case.intake import Case
from glandwise.case.lip_fit import interference_at
from glandwise.contract.running import HeatSurroundings
from glandwise.mechanics import films, heat, lip_contact
from glandwise.mechanics.choices import FilmPressure, LipDirection, LipRoot, LipState
from glandwise.mechanics.lip_contact import LipContact
from glandwise.numerics.interpolation import curve_at
from glandwise.physics.heat_balance import AROUND, TOLERANCE
from glandwise.physics.lubrication import film_at
from glandwise.questions.friction.operation import levels_of, subject_of
from hypothesis import given
from hypothesis import strategies as st

from tests.laws import laws
from tests.questions.plain import Plain, run
from tests.questions.support import (
    assert_finite,
    call,
    case_of,
    energized,
    flexible,
    keeps_schema,
    merged,
    post,
    q,
    random_request,
    rules,
    si,
)

seeds = st.integers(min_value=0, max_value=10**9)
DESIGNS = [
    flexible(),
    flexible(lip_tip="upturned_with_garter", second_lip="redundant"),
    energized(),
    energized(energizer="canted_coil", lip_form="tapered"),
]
NAMES = ["flexible", "garter", "cantilever_v", "canted_coil"]
each_design = pytest.mark.parametrize("request_", DESIGNS, ids=NAMES)
AMBIENT = {"ambient_temperature": q(25.0, "degC")}


def at(request: dict[str, Any], speed: float, **duty: Any) -> dict[str, Any]:
    return merged(request, duty={"motion": {"kind": "surface", "surface_speed": q(speed, "m/s")}, **duty})


def levels(request: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {level["level"]: level for level in post("estimate_friction", request)["levels"]}


def torque(level: dict[str, Any]) -> float:
    return si(level["torque"], "torque")


def found_around(case: Case) -> Any:
    """What carries the heat away where a request states nothing of it."""
    given_ = HeatSurroundings()
    return levels_of(case, subject_of(case, given_)).around.item()


def heat_path(case: Case, around: dict[str, Any], temperature: float, width: float) -> heat.HeatPath:
    """The ways of the heat from a contact of some temperature, joined from the pieces."""
    d, bulk, k, air = case.shaft_diameter, case.temperature, around["shaft_conductivity"], around["ambient"]
    film, area = around["fluid_film"], math.pi * case.shaft_diameter * width
    gas = run(heat.dry_air, 0.5 * (temperature + air), 101325.0)
    over = max(temperature - air, 1.0)
    n, h = float(case.rotational_speed), film
    if temperature > around["boils_at"]:
        rule = rules().data.running.fluid_film
        h = run(films.boiling_film, temperature - around["boils_at"], rule.boiling_superheat.si, film, rule.vapour.si)
    dry = run(
        heat.shaft_film, d, n, gas.conductivity, gas.viscosity, gas.prandtl, gas.expansion, over, around["correlation"]
    )
    length = around["shaft_length"]
    sides = run(
        heat.join, run(heat.fin_conductance, d, k, h, length), bulk, run(heat.fin_conductance, d, k, dry, length), air
    )
    shaft = run(heat.behind, run(heat.ring_constriction, d, width, k), sides.conductance)
    thickness = case.lip_thickness * rules().data.running.housing_length_ratio.si
    through = run(heat.plane_wall_conductance, area, thickness, case.compound.thermal_conductivity.si)
    return run(heat.join, shaft, sides.temperature, run(heat.series, through, film * area), bulk)


@laws(100)
@given(seed=seeds)
def test_levels_are_in_order_and_heat_balances(seed: int) -> None:
    request = random_request(seed, wild=seed % 5 == 4)
    answer = call("estimate_friction", request)
    assert_finite(answer)
    keeps_schema("estimate_friction", answer)
    found = [level for level in answer["levels"] if level["converged"]]
    assert [level["level"] for level in answer["levels"]] == ["low", "nominal", "high"]
    for a, b in itertools.pairwise(found):
        assert b["friction_coefficient"] >= a["friction_coefficient"]
        if request["duty"]["pressure"]["value"] < 0.0 and a["lip_state"] == "laid":
            continue  # a vacuum lifts a stiff new lip more than a relaxed one that lies on the shaft
        assert torque(b) >= torque(a) * (1.0 - 1e-4)
        narrow, wide = (si(level["lips"][0]["contact_width"], "length") for level in (a, b))
        if wide <= narrow:  # a contact that has spread carries its heat off better
            # both are solved to a hundredth of a kelvin of heat, and the torque is in order to 1e-4 of itself
            hot, hotter = (si(level["contact_temperature"], "temperature") for level in (a, b))
            assert hotter >= hot - 0.03 - 1e-4 * hot
    case = case_of(request)
    around = dict(zip(AROUND.names or (), found_around(case), strict=True))
    for level in found:
        # the heat made is carried off by the difference to the sink: to the 0.01 K that the balance is solved to
        temperature, conductance = (
            si(level[name], dimension)
            for name, dimension in (("contact_temperature", "temperature"), ("conductance", "thermal_conductance"))
        )
        path = heat_path(case, around, temperature, si(level["lips"][0]["contact_width"], "length"))
        assert path.conductance == pytest.approx(conductance, rel=1e-6)
        assert si(level["power"], "power") == pytest.approx(
            conductance * (temperature - path.temperature), abs=1.01 * TOLERANCE * conductance
        )
        assert si(level["power"], "power") == pytest.approx(
            torque(level) * 2.0 * math.pi * case.rotational_speed, rel=1e-8, abs=1e-12
        )
        assert sum(si(item["torque"], "torque") for item in level["lips"]) == pytest.approx(torque(level), rel=1e-8)
        load = {name: si(value, "line_load") for name, value in level["load"].items()}
        assert load["total"] == pytest.approx(
            max(load["lip"] + load["energizer"] + load["pressure"], 0.0), abs=1e-6, rel=1e-8
        )
    for level in answer["levels"]:
        if not level["converged"]:
            assert level["torque"] is level["power"] is level["load"] is level["contact_temperature"] is None
            assert level["lips"] == []
    by_name = {level["level"]: level for level in answer["levels"]}
    if not by_name["nominal"]["converged"]:
        assert answer["verdict"] == "not_evaluated"
        return
    limit = si(answer["temperature_limit"], "temperature")
    plain = Plain(case)
    wetted_by = plain.rules.fluids[plain.row.lubricant].deposits_from
    assert limit == pytest.approx(min(case.compound.temperature_max.si, wetted_by), rel=1e-9)
    assert answer["temperature_limit_by"] == ("fluid" if wetted_by < case.compound.temperature_max.si else "compound")
    beyond = {
        name: not level["converged"] or si(level["contact_temperature"], "temperature") > limit
        for name, level in by_name.items()
    }
    assert answer["verdict"] == ("fail" if beyond["nominal"] else "caution" if beyond["high"] else "pass")


@each_design
def test_a_shaft_at_rest_makes_no_heat_and_lies_between_fluid_and_air(request_: dict[str, Any]) -> None:
    for celsius in (-50.0, 25.0, 90.0):
        still = at(request_, 0.0, temperature={"normal": q(celsius, "degC")})
        for level in levels({**still, "surroundings": AMBIENT}).values():
            assert si(level["power"], "power") == 0.0
            assert torque(level) > 0.0, "it still holds on to the shaft"
            temperature = si(level["contact_temperature"], "temperature") - 273.15
            assert min(celsius, 25.0) - 0.02 <= temperature <= max(celsius, 25.0) + 0.02


@each_design
def test_torque_is_friction_times_load_times_radius(request_: dict[str, Any]) -> None:
    for level in levels(request_).values():
        main = next(item for item in level["lips"] if item["lip"] == "main")
        line = si(level["load"]["solid"], "line_load")  # the film of the sealed fluid bears the rest
        assert line <= si(main["line_load"], "line_load") == si(level["load"]["total"], "line_load")
        expected = level["friction_coefficient"] * line * 2.0 * math.pi * 0.025**2
        assert si(main["torque"], "torque") == pytest.approx(expected, rel=1e-8)
        width = si(main["contact_width"], "length")
        assert width >= case_of(request_).contact_width * (1.0 - 1e-9)
        assert si(main["mean_contact_pressure"], "stress") == pytest.approx(line / width, rel=1e-8)


@each_design
def test_friction_scales_where_heat_does_not_matter(request_: dict[str, Any]) -> None:
    """Slow and well cooled, so that the contact stays at the temperature of its surroundings."""
    slow = at(request_, 1e-4, temperature={"normal": q(25.0, "degC")})
    cooled = {**AMBIENT, "fluid_film": q(1e4, "W/m2/K")}

    def with_friction(mu: float) -> float:
        given_ = {"friction_coefficient": {end: q(mu, "1") for end in ("low", "nominal", "high")}}
        return torque(
            levels({**merged(slow, design={"compound_properties": given_}), "surroundings": cooled})["nominal"]
        )

    assert with_friction(0.2) == pytest.approx(2.0 * with_friction(0.1), rel=1e-5)


@each_design
def test_speed_pressure_and_dry_running_heat_the_contact(request_: dict[str, Any]) -> None:
    def hot(request: dict[str, Any]) -> float:
        return si(levels(request)["nominal"]["contact_temperature"], "temperature")

    by_speed = [hot(at(request_, speed)) for speed in (0.0, 0.1, 0.5, 2.0)]
    assert by_speed == sorted(by_speed)
    assert by_speed[-1] > by_speed[0] + 0.5
    by_pressure = [hot(at(request_, 0.5, pressure=q(pressure, "kPa"))) for pressure in (0.0, 100.0, 300.0)]
    assert by_pressure == sorted(by_pressure)
    # the film of a flooded lip may rub more than a starved one: nothing is said of them; dry is worst in what is thin
    assert hot(at(request_, 0.5, lubrication="starved", fluid="water")) < hot(
        at(request_, 0.5, lubrication="dry", fluid="water")
    )


def test_friction_has_a_least_value_between_boundary_and_film() -> None:
    """As Stribeck found; without a step between."""
    speeds = [10.0 ** (-5.0 + 0.05 * k) for k in range(127)]
    answers = [
        levels(at(flexible(), v, fluid="mineral_oil_gear", lubrication="flooded", pressure=q(0.0, "bar")))["nominal"]
        for v in speeds
    ]
    mu = [level["friction_coefficient"] for level in answers]
    boundary = answers[0]["boundary_friction_coefficient"]
    at_least = mu.index(min(mu))
    assert 20 < at_least < 110
    assert mu[0] == pytest.approx(boundary, rel=1e-2)
    assert mu[at_least] < 0.95 * boundary
    assert mu[-1] > 1.3 * mu[at_least]
    assert mu[: at_least + 1] == sorted(mu[: at_least + 1], reverse=True)
    # a step is 12 % of the speed, and friction in a film goes with its cube root
    assert max(abs(b - a) / max(a, b) for a, b in itertools.pairwise(mu)) < 0.04
    shares = [level["film_share"] for level in answers]
    assert shares == sorted(shares)
    assert 0.8 < shares[-1] < 1.0


def test_each_lip_has_the_film_of_its_own_load() -> None:
    request = at(flexible(lip_tip="upturned_with_garter", second_lip="redundant"), 8.0, pressure=q(30.0, "kPa"))
    level = levels(request)["nominal"]
    main, second = level["lips"]
    assert main["friction_coefficient"] == level["friction_coefficient"] != second["friction_coefficient"]
    case, constants = case_of(request), case_of(request).data.running.lubrication
    temperature = si(level["contact_temperature"], "temperature")
    film = run(film_at, Plain(case).row, Plain(case).rules, si(second["line_load"], "line_load"), case.contact_width,
               temperature, math.inf)  # fmt: skip
    full = constants.film_friction_factor.si * film.duty_number ** (1.0 / 3.0)
    shared = film.share * level["boundary_friction_coefficient"] + (1.0 - film.share) * full
    assert second["friction_coefficient"] == pytest.approx(shared, rel=1e-8)
    radius, load = case.shaft_diameter / 2.0, si(second["line_load"], "line_load")
    assert si(second["torque"], "torque") == pytest.approx(shared * load * 2.0 * math.pi * radius**2, rel=1e-8)


def test_a_lip_that_vacuum_lifts_leaves_the_second_one_its_friction() -> None:
    """Nothing jumps as it lifts, and a balance of heat is found all the way."""
    request = at(flexible(lip_tip="upturned_with_garter", second_lip="redundant"), 20.0, fluid="engine_oil")
    found = [levels({**request, **at(request, 20.0, pressure=q(-2.0 * k, "kPa"))})["nominal"] for k in range(46)]
    assert all(level["converged"] for level in found)
    states = [level["lip_state"] for level in found]
    assert states[0] == "edge"
    assert states[-1] == "lifted"
    torques = [torque(level) for level in found]
    assert all(abs(b - a) < 0.1 * a for a, b in itertools.pairwise(torques))
    second = found[-1]["lips"][1]
    assert 0.0 < si(second["torque"], "torque") == pytest.approx(torques[-1], rel=1e-8)


def law_by_hand(request: dict[str, Any], level: dict[str, Any], root: LipRoot) -> LipContact:
    """The law of contact with the numbers of a case worked out here: expansion, relaxation, spring, heel."""
    case = case_of(request)
    plain, row = Plain(case), Plain(case).row
    temperature = si(level["contact_temperature"], "temperature")
    time = si(level["time"], "time")
    modulus = plain.modulus(temperature) * plain.relaxed_share(temperature, time)
    ratio, t, d = case.compound.poisson_ratio.si, case.lip_thickness, case.shaft_diameter
    spring = plain.spring(case.temperature).line_load * d / (d + t)
    turn = moved = 0.0
    strength = math.inf
    if root != LipRoot.clamped:
        turn = run(lip_contact.root_compliance, modulus, ratio, t)
        if case.family == "energized_lip":
            section = run(curve_at, plain.rules.energized[0].radial_section, d)
            moved = run(lip_contact.heel_bulge, case.pressure, modulus, ratio, section)
    if root == LipRoot.yielding:
        strength = run(curve_at, plain.compound.yield_strength, temperature)
    interference = run(interference_at, row, plain.rules, temperature)
    found: LipContact = run(
        lip_contact.lip_contact, d, t, case.lip_length, float(row.bore_angle), interference, modulus, ratio, case.pressure,
        spring, float(row.spring_place) * case.lip_length, turn, moved, strength, LipDirection.toward, FilmPressure.linear,
    )  # fmt: skip
    return found


@pytest.mark.parametrize("kpa", [0.0, 100.0, 500.0, 2e4])
@pytest.mark.parametrize("make", [flexible, energized], ids=["flexible", "energized"])
def test_load_and_width_are_those_of_the_law(make: Any, kpa: float) -> None:
    """Load, width and state together, with the root that each end of the range has."""
    request = at(make(), 0.01, pressure=q(kpa, "kPa"))
    case = case_of(request)
    ends = zip(levels(request).values(), ((0, 1), (1,), (0, 1, 2)), strict=True)
    for level, roots in ends:
        laws_ = [law_by_hand(request, level, LipRoot(root)) for root in roots]
        law, main = sorted(laws_, key=lambda law: law.load)[0 if level["level"] == "low" else -1], level["lips"][0]
        load, width = si(main["line_load"], "line_load"), si(main["contact_width"], "length")
        assert load == pytest.approx(law.load, rel=1e-8)
        temperature = si(level["contact_temperature"], "temperature")
        strength = run(curve_at, Plain(case).compound.yield_strength, temperature)
        assert width == pytest.approx(max(law.width, case.contact_width, load / (3.0 * strength)), rel=1e-8)
        assert load / width <= 3.0 * strength * (1.0 + 1e-9)
        solid = si(level["load"]["solid"], "line_load")
        assert solid == pytest.approx(max(load - 0.5e3 * kpa * width, 0.5 * load), rel=1e-8)
        assert level["lip_state"] == LipState(law.state).name


def test_a_stated_width_stays_until_the_hot_compound_flows() -> None:
    stated = {"contact_width": q(0.2, "mm")}
    level = levels(at(energized(**stated), 0.01, pressure=q(2.0, "MPa")))["nominal"]
    assert level["lip_state"] == "laid"
    assert si(level["lips"][0]["contact_width"], "length") == pytest.approx(0.2e-3, rel=1e-9)
    pressed = levels(at(energized(**stated), 0.01, pressure=q(30.0, "MPa")))["nominal"]["lips"][0]
    assert si(pressed["contact_width"], "length") > 0.2e-3


def test_a_lip_that_points_away_is_lifted_and_one_that_has_grown_off_does_not_touch() -> None:
    away = [
        levels(at(flexible(lip_direction="away"), 0.1, pressure=q(kpa, "kPa")))["nominal"] for kpa in (0.0, 10.0, 300.0)
    ]
    loads = [si(level["load"]["total"], "line_load") for level in away]
    assert loads[0] > loads[1] > loads[2] == 0.0
    assert away[2]["lip_state"] == "lifted"
    grown = at(
        flexible(interference=q(0.02, "mm")), 0.1, pressure=q(0.0, "kPa"), temperature={"normal": q(150.0, "degC")}
    )
    assert {level["lip_state"] for level in levels(grown).values()} == {"no_contact"}


def test_forms_of_an_energized_lip_are_told_apart_the_same_way_everywhere() -> None:
    """The scraper has the sharpest edge, the taper the least friction; slow, so that heat does not tell them apart."""
    forms = ("plain", "scraper", "tapered")
    found = {form: levels(at(energized(lip_form=form), 0.05, lubrication="dry"))["nominal"] for form in forms}
    width, pressure, load, torques = (
        {form: read(level) for form, level in found.items()}
        for read in (
            lambda level: si(level["lips"][0]["contact_width"], "length"),
            lambda level: si(level["lips"][0]["mean_contact_pressure"], "stress"),
            lambda level: si(level["load"]["total"], "line_load"),
            torque,
        )
    )
    assert width["scraper"] < width["tapered"] < width["plain"]
    assert pressure["tapered"] < pressure["plain"] < pressure["scraper"]
    assert load["tapered"] < load["plain"] < load["scraper"]
    assert torques["tapered"] < torques["plain"] < torques["scraper"]
    # the film under a wide contact drags more than that under a narrow one: only the taper is least there as well
    wet = {form: torque(levels(energized(lip_form=form))["nominal"]) for form in forms}
    assert wet["tapered"] < min(wet["plain"], wet["scraper"])
    worn = {
        form: post("estimate_wear", energized(lip_form=form))["wear_per_1000_h"]["nominal"]["value"] for form in found
    }
    assert worn["tapered"] < worn["plain"] < worn["scraper"]


def test_without_a_balance_there_are_no_numbers_and_no_crash() -> None:
    request = at(flexible(compound="ptfe_unfilled"), 400.0, lubrication="dry", pressure=q(30.0, "MPa"))
    answer = post("estimate_friction", request)
    assert answer["verdict"] == "not_evaluated"
    assert "balance" in answer["summary"]
    for level in answer["levels"]:
        assert not level["converged"]
        assert level["contact_temperature"] is level["torque"] is level["power"] is level["load"] is None
        assert level["lips"] == []
    assert_finite(answer)


def test_a_high_level_without_balance_is_a_caution() -> None:
    """Only new and at high friction does this contact run away."""
    spread = {"low": q(0.01, "1"), "nominal": q(0.02, "1"), "high": q(10.0, "1")}
    request = merged(at(energized(), 2.0), design={"compound_properties": {"friction_coefficient": spread}})
    answer = post("estimate_friction", request)
    assert [level["converged"] for level in answer["levels"]] == [True, True, False]
    assert answer["verdict"] == "caution"
    assert "no upper bound" in answer["summary"]


def test_more_ways_out_for_the_heat_cool_the_contact() -> None:
    request = at(flexible(), 8.0, temperature={"normal": q(40.0, "degC")})

    def hot(**surroundings: Any) -> float:
        found = levels({**request, "surroundings": {**AMBIENT, **surroundings}})["nominal"]
        return si(found["contact_temperature"], "temperature")

    base = hot()
    assert hot(shaft_conductivity=q(390.0, "W/m/K")) < base < hot(shaft_conductivity=q(12.0, "W/m/K"))
    assert hot(fluid_film=q(5000.0, "W/m2/K")) < base < hot(fluid_film=q(20.0, "W/m2/K"))
    assert hot(shaft_length=q(500.0, "mm")) < base < hot(shaft_length=q(20.0, "mm"))
    assert hot(ambient_temperature=q(0.0, "degC")) < base < hot(ambient_temperature=q(60.0, "degC"))


@pytest.mark.parametrize(
    "correlation", ["anderson_saunders", "becker", "etemad", "kays_bjorklund", "dropkin_carmi", "ozerdem"]
)
def test_correlations_of_the_air_film_differ_little(correlation: str) -> None:
    request = at(flexible(), 8.0)
    usual, other = (
        si(
            levels({**request, "surroundings": {**AMBIENT, "correlation": name}})["nominal"]["contact_temperature"],
            "temperature",
        )
        for name in ("anderson_saunders", correlation)
    )
    assert other == pytest.approx(usual, abs=5.0)


def test_a_shaft_material_brings_its_conductivity() -> None:
    data = rules().data
    for name in ("steel_hardened", "aluminium_hard_anodised", "stainless_austenitic"):
        if name not in data.shaft_materials:
            continue
        conductivity = data.shaft_materials[name].thermal_conductivity.si
        by_name = merged(at(flexible(), 5.0), duty={"shaft": {"material": name}})
        told, half = (
            {**by_name, "surroundings": {"shaft_conductivity": q(f * conductivity, "W/m/K")}} for f in (1.0, 0.5)
        )
        assert levels(by_name)["nominal"]["torque"] == levels(told)["nominal"]["torque"]
        assert levels(by_name)["nominal"]["torque"] != levels(half)["nominal"]["torque"]


def test_a_cold_sink_is_found_below_ambient_fluid() -> None:
    """A cryogenic fluid with a shaft warmed by the air: the balance lies below where a hot shaft would look for it."""
    for celsius in (-196.0, -150.0, -80.0):
        request = at(energized(), 0.05, temperature={"normal": q(celsius, "degC")}, fluid="nitrogen_liquid")
        found = levels({**request, "surroundings": AMBIENT})["nominal"]
        assert found["converged"]
        assert celsius < si(found["contact_temperature"], "temperature") - 273.15 < 25.0


def test_what_the_rules_supply_is_said() -> None:
    fields = {item["field"] for item in post("estimate_friction", flexible())["assumptions"]}
    names = ("ambient_temperature", "shaft_conductivity", "shaft_length", "fluid_film", "correlation")
    assert {f"/surroundings/{name}" for name in names} <= fields
    stated = {
        "ambient_temperature": q(20.0, "degC"), "shaft_conductivity": q(45.0, "W/m/K"), "shaft_length": q(0.1, "m"),
        "fluid_film": q(300.0, "W/m2/K"), "correlation": "becker",
    }  # fmt: skip
    fields = {
        item["field"] for item in post("estimate_friction", {**flexible(), "surroundings": stated})["assumptions"]
    }
    assert not any(field.startswith("/surroundings") for field in fields)


def test_units_change_no_verdict_and_no_number() -> None:
    for request in DESIGNS:
        here, there = (post("estimate_friction", {**request, "units": {"system": system}}) for system in ("si", "us"))
        assert here["verdict"] == there["verdict"]
        for a, b in zip(here["levels"], there["levels"], strict=True):
            assert torque(a) == pytest.approx(torque(b), rel=1e-8)
            assert a["friction_coefficient"] == b["friction_coefficient"]
