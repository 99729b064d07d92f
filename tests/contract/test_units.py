"""Units on the wire: factors, traps, aliases, and answers in the units asked for."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from fastapi.testclient import TestClient
from glandwise import spelling, units, units_build

from tests.conftest import Answers, Example, changed, dimensions_of, example, load_examples

EXAMPLES = load_examples()
IN_TEXT = {"with_steps_of_pv_on_an_invented_rig", "with_two_specimens_as_a_posterior"}
"""Examples whose numbers all stand in the text of their records, with units in its headings: see tests/calibration."""

# ------------------------------------------------------------------------------------------------------- the factors


def test_factor_table_is_what_pint_derives() -> None:
    derived = json.dumps(units_build.derive(units.DIMENSIONS), indent=1, sort_keys=True) + "\n"
    assert units_build.TARGET.read_text(encoding="utf-8") == derived, "stale; run: make units"


INCH = 0.0254  # exact by definition (international yard and pound agreement of 1959)
POUND = 0.45359237  # exact by the same agreement
GRAVITY = 9.80665  # exact by definition (3rd CGPM, 1901)
POUND_FORCE = POUND * GRAVITY
BTU = 1055.05585262  # International Table: 4186.8 J/kg/K x 1 lb x 1 degF, exact (5th Steam Conference, 1956)

EXACT = [
    ("length", "in", INCH),
    ("length", "mil", 1e-3 * INCH),
    ("roughness", "uin", 1e-6 * INCH),
    ("area", "in2", INCH**2),
    ("volume", "in3", INCH**3),
    ("surface_speed", "ft/min", 0.3048 / 60.0),
    ("surface_speed", "ft/s", 0.3048),
    ("surface_speed", "m/min", 1.0 / 60.0),
    ("rotational_speed", "rpm", 1.0 / 60.0),
    ("rotational_speed", "rad/s", 1.0 / (2.0 * math.pi)),
    ("frequency", "1/min", 1.0 / 60.0),
    ("angle", "deg", math.pi / 180.0),
    ("gauge_pressure", "psi", POUND_FORCE / INCH**2),
    ("gauge_pressure", "bar", 1e5),
    ("gauge_pressure", "kgf/cm2", 9.80665 / 1e-4),
    ("stress", "kgf/cm2", 9.80665 / 1e-4),
    ("stress", "psi", POUND_FORCE / INCH**2),
    ("stress", "bar", 1e5),
    ("stress", "ksi", 1e3 * POUND_FORCE / INCH**2),
    ("stress", "GPa", 1e9),
    ("temperature_difference", "delta_degF", 5.0 / 9.0),
    ("force", "lbf", POUND_FORCE),
    ("line_load", "lbf/in", POUND_FORCE / INCH),
    ("spring_rate", "lbf/in", POUND_FORCE / INCH),
    ("line_stiffness", "lbf/in/in", POUND_FORCE / INCH**2),
    ("line_stiffness", "N/mm/mm", 1e6),
    ("torque", "lbf.in", POUND_FORCE * INCH),
    ("torque", "lbf.ft", POUND_FORCE * 0.3048),
    ("torque", "N.mm", 1e-3),
    ("power", "hp", 550.0 * 0.3048 * POUND_FORCE),
    ("pressure_velocity", "psi.ft/min", POUND_FORCE / INCH**2 * 0.3048 / 60.0),
    ("dynamic_viscosity", "cP", 1e-3),
    ("density", "lb/in3", POUND / INCH**3),
    ("density", "g/cm3", 1e3),
    ("mass", "lb", POUND),
    ("time", "h", 3600.0),
    ("time", "d", 86400.0),
    ("thermal_conductivity", "Btu/h/ft/degF", BTU / 3600.0 / 0.3048 * 1.8),
    ("heat_transfer_coefficient", "Btu/h/ft2/degF", BTU / 3600.0 / 0.3048**2 * 1.8),
    ("thermal_conductance", "Btu/h/degF", BTU / 3600.0 * 1.8),
    ("thermal_expansion", "1e-6/K", 1e-6),
    ("thermal_expansion", "1e-6/degF", 1.8e-6),
    ("specific_wear_rate", "mm3/N/m", 1e-9),
    ("specific_wear_rate", "in3.min/ft/lbf/h", INCH**3 * 60.0 / (0.3048 * POUND_FORCE * 3600.0)),
    ("mass_per_area", "lb/in2", POUND / INCH**2),
    ("molar_energy", "kJ/mol", 1e3),
    ("molar_mass", "g/mol", 1e-3),
    ("heat_capacity", "Btu/lb/degF", BTU / POUND * 1.8),
    ("heat_capacity", "kJ/kg/K", 1e3),
    ("heat_of_vaporization", "kJ/kg", 1e3),
    ("heat_of_vaporization", "Btu/lb", BTU / POUND),
    ("ratio", "%", 0.01),
]


@pytest.mark.parametrize(("dimension", "symbol", "factor"), EXACT, ids=[f"{row[0]}-{row[1]}" for row in EXACT])
def test_factor_by_its_definition(dimension: str, symbol: str, factor: float) -> None:
    scale, offset = units.factor(dimension, symbol)
    assert scale == pytest.approx(factor, rel=1e-15, abs=0.0)
    assert offset == 0.0


POWERS_OF_TEN = {
    "m": 1.0, "cm": 1e-2, "mm": 1e-3, "um": 1e-6, "mm2": 1e-6, "mm3": 1e-9, "cm3": 1e-6, "rev/s": 1.0, "Hz": 1.0, "rad": 1.0,
    "Pa": 1.0, "kPa": 1e3, "MPa": 1e6, "m/s": 1.0, "K": 1.0, "delta_degC": 1.0, "N": 1.0, "kN": 1e3, "N/m": 1.0, "N/mm": 1e3,
    "N/m/m": 1.0, "N.m": 1.0, "W": 1.0, "kW": 1e3, "MPa.m/s": 1e6, "Pa.s": 1.0, "mPa.s": 1e-3, "kg/m3": 1.0, "kg": 1.0, "g": 1e-3,
    "s": 1.0, "min": 60.0, "W/m/K": 1.0, "W/m2/K": 1.0, "W/K": 1.0, "1/K": 1.0, "kg/m2": 1.0, "J/mol": 1.0, "kg/mol": 1.0, "1": 1.0,
    "HRC": 1.0, "ShoreA": 1.0, "J/kg/K": 1.0, "J/kg": 1.0,
}  # fmt: skip


def test_every_unit_is_checked_by_its_definition() -> None:
    by_definition = {(dimension, symbol) for dimension, symbol, _ in EXACT}
    for dimension in units.DIMENSIONS.values():
        for unit in dimension.units:
            if (dimension.name, unit.symbol) in by_definition or unit.symbol in {"degC", "degF"}:
                continue  # temperature points: below
            assert units.factor(dimension.name, unit.symbol) == (POWERS_OF_TEN[unit.symbol], 0.0), unit.symbol


def test_rpm_counts_turns_not_radians() -> None:
    assert units.to_si(1500.0, "rotational_speed", "rpm") == 25.0
    assert units.to_si(50.0 * math.pi, "rotational_speed", "rad/s") == pytest.approx(25.0, rel=1e-15)
    assert units.to_si(50.0, "frequency", "Hz") == 50.0


@pytest.mark.parametrize(
    ("value", "unit", "kelvin"),
    [(0.0, "degC", 273.15), (20.0, "degC", 293.15), (32.0, "degF", 273.15), (212.0, "degF", 373.15), (68.0, "degF", 293.15),
     (-40.0, "degF", 233.15), (-40.0, "degC", 233.15), (-459.67, "degF", 0.0), (300.0, "K", 300.0)],
)  # fmt: skip
def test_temperature_points(value: float, unit: str, kelvin: float) -> None:
    assert units.to_si(value, "temperature", unit) == pytest.approx(kelvin, abs=1e-12)
    assert units.from_si(kelvin, "temperature", unit) == pytest.approx(value, abs=1e-12)


def test_temperature_differences_have_no_offset() -> None:
    assert units.to_si(9.0, "temperature_difference", "delta_degF") == pytest.approx(5.0, rel=1e-15)
    assert units.to_si(5.0, "temperature_difference", "delta_degC") == 5.0
    assert not {"degC", "degF"} & set(units.DIMENSIONS["temperature_difference"].symbols)
    assert not {"delta_degC", "delta_degF"} & set(units.DIMENSIONS["temperature"].symbols)


def test_psi_and_feet_per_minute() -> None:
    assert units.to_si(1.0, "gauge_pressure", "psi") == pytest.approx(6894.757293168361, rel=1e-15)
    assert units.to_si(1.0, "surface_speed", "ft/min") == pytest.approx(0.00508, rel=1e-15)
    assert units.to_si(550.0, "torque", "lbf.ft") == pytest.approx(745.6998715822702, rel=1e-15)


# ------------------------------------------------------------------------------------------------------- the codes

# (quantity, unit, Rec 20 code, UCUM code, factor printed beside it or None). Rec 20: UN/ECE Recommendation 20, revision
# 17 (2021); UCUM: Unified Code for Units of Measure, version 2.2, compounds by its grammar.
CODES: list[tuple[str, str, str, str, float | None]] = [
    ("length", "mm", "MMT", "mm", None),
    ("length", "m", "MTR", "m", None),
    ("length", "in", "INH", "[in_i]", 25.4e-3),
    ("length", "um", "4H", "um", None),
    ("roughness", "um", "4H", "um", None),
    ("length", "mil", "77", "[mil_i]", 25.4e-6),
    ("rotational_speed", "rpm", "RPM", "{rev}/min", None),
    ("surface_speed", "m/s", "MTS", "m/s", None),
    ("surface_speed", "ft/min", "FR", "[ft_i]/min", 5.08e-3),
    ("surface_speed", "m/min", "2X", "m/min", None),
    ("gauge_pressure", "Pa", "PAL", "Pa", None),
    ("gauge_pressure", "kPa", "KPA", "kPa", None),
    ("gauge_pressure", "MPa", "MPA", "MPa", None),
    ("gauge_pressure", "bar", "BAR", "bar", None),
    ("gauge_pressure", "psi", "PS", "[psi]", 6894.757),
    ("stress", "psi", "PS", "[psi]", 6894.757),
    ("temperature", "degC", "CEL", "Cel", None),
    ("temperature", "K", "KEL", "K", None),
    ("temperature", "degF", "FAH", "[degF]", None),
    ("force", "N", "NEW", "N", None),
    ("force", "lbf", "C78", "[lbf_av]", 4.448222),
    ("line_load", "N/m", "4P", "N/m", None),
    ("line_load", "N/mm", "F47", "N/mm", None),
    ("line_load", "lbf/in", "F48", "[lbf_av]/[in_i]", 175.127),
    ("spring_rate", "lbf/in", "F48", "[lbf_av]/[in_i]", 175.127),
    ("torque", "N.m", "NU", "N.m", None),
    ("torque", "lbf.in", "F21", "[lbf_av].[in_i]", 0.112985),
    ("power", "W", "WTT", "W", None),
    ("power", "kW", "KWT", "kW", None),
    ("power", "hp", "", "[HP]", 745.69987),
    ("mass", "kg", "KGM", "kg", None),
    ("mass", "g", "GRM", "g", None),
    ("time", "h", "HUR", "h", None),
]


@pytest.mark.parametrize(
    ("dimension", "unit", "rec20", "ucum", "printed"), CODES, ids=[f"{row[0]}-{row[1]}" for row in CODES]
)
def test_codes_stand_for_their_unit(dimension: str, unit: str, rec20: str, ucum: str, printed: float | None) -> None:
    own = units.factor(dimension, unit)
    for code in filter(None, (rec20, ucum)):
        assert code in units.DIMENSIONS[dimension].symbols, f"{code} is not accepted for {dimension}"
        assert units.factor(dimension, code) == own
    if printed is not None:
        digits = len(f"{printed:g}".replace(".", "").strip("0"))
        assert own[0] == pytest.approx(printed, rel=0.6 * 10.0 ** (1 - digits))


def test_codes_that_are_easily_mistaken() -> None:
    # PS is pound per square inch, not metric horsepower; 2X is metre per minute, not foot per minute; BHP, HJ and A25
    # are other horsepowers; M46 is an angular velocity
    assert "PS" not in units.DIMENSIONS["power"].symbols
    assert units.factor("surface_speed", "2X") != units.factor("surface_speed", "FR")
    accepted = {symbol for dimension in units.DIMENSIONS.values() for symbol in dimension.symbols}
    assert not accepted & {"BHP", "HJ", "A25", "K43", "M46"}


def test_codes_that_differ_from_a_unit_by_case_alone_are_taken_without_being_listed() -> None:
    unlisted = {
        (name, code)
        for name, dimension in units.DIMENSIONS.items()
        for code in set(dimension.symbols) - set(dimension.published)
    }
    assert unlisted == {
        ("rotational_speed", "RPM"), ("gauge_pressure", "KPA"), ("gauge_pressure", "MPA"), ("gauge_pressure", "BAR"),
        ("stress", "KPA"), ("stress", "MPA"), ("stress", "BAR"), ("temperature", "CEL"), ("time", "MIN"),
    }  # fmt: skip
    for name, code in unlisted:
        found = spelling.find_unit(code, units.DIMENSIONS[name].published)
        assert found is not None
        assert units.factor(name, found) == units.factor(name, code)


def test_unlisted_codes_are_answered_as_their_unit(client: TestClient) -> None:
    asked = example("check_envelope", "gearbox_input_shaft")
    answers = [
        client.post("/v1/envelope-checks", json=changed(asked, "/duty/pressure", {"value": 30, "unit": unit})).json()
        for unit in ("kPa", "KPA")
    ]
    assert answers[0] == answers[1]
    assert "criteria" in answers[0]


def test_a_symbol_has_one_meaning_within_a_dimension() -> None:
    for dimension in units.DIMENSIONS.values():
        assert len(set(dimension.symbols)) == len(dimension.symbols)


# ------------------------------------------------------------------------------------------------------- on the wire


def quantities(value: Any, pointer: str = "") -> list[tuple[str, dict[str, Any]]]:
    """Return every quantity of a document with its JSON pointer."""
    if isinstance(value, dict):
        if set(value) == {"value", "unit"} and isinstance(value["value"], int | float):
            return [(pointer, value)]
        return [found for key, entry in value.items() for found in quantities(entry, f"{pointer}/{key}")]
    if isinstance(value, list):
        return [found for index, entry in enumerate(value) for found in quantities(entry, f"{pointer}/{index}")]
    return []


def statuses(value: Any, pointer: str = "") -> dict[str, str]:
    """Return every status and verdict of a document by JSON pointer."""
    found: dict[str, str] = {}
    if isinstance(value, dict):
        for key, entry in value.items():
            if key in {"status", "verdict", "governs"} and isinstance(entry, str):
                found[f"{pointer}/{key}"] = entry
            else:
                found.update(statuses(entry, f"{pointer}/{key}"))
    elif isinstance(value, list):
        for index, entry in enumerate(value):
            found.update(statuses(entry, f"{pointer}/{index}"))
    return found


def in_other_units(request: dict[str, Any], step: int) -> dict[str, Any]:
    """Return a request with every quantity in another unit of its dimension, its number rounded to 15 digits."""
    result = request
    for pointer, quantity in quantities(request):
        if pointer.startswith("/units"):
            continue
        names = dimensions_of(quantity["unit"])
        # a symbol of several dimensions (K, mm, MPa ...) is only changed to symbols that all of them have
        common = [
            s for s in units.DIMENSIONS[names[0]].symbols if all(s in units.DIMENSIONS[name].symbols for name in names)
        ]
        symbol = common[(common.index(quantity["unit"]) + step) % len(common)]
        value = units.from_si(units.to_si(quantity["value"], names[0], quantity["unit"]), names[0], symbol)
        result = changed(result, pointer, {"value": float(f"{value:.15g}"), "unit": symbol})
    return result


# an audit and a review are asked in rules alone, whose units are those of their files
@pytest.mark.parametrize(
    "item",
    [
        item
        for item in EXAMPLES
        if item.operation not in {"audit_rule_set", "review_rule_set"} and item.name not in IN_TEXT
    ],
    ids=lambda item: f"{item.operation}-{item.name}",
)
def test_units_of_the_request_change_nothing(client: TestClient, answer_to: Answers, item: Example) -> None:
    plain = answer_to(item.path, item.request)
    for step in (1, 2, 3, 5):
        request = in_other_units(item.request, step)
        assert request != item.request
        answer = client.post(item.path, json=request)
        assert answer.status_code == 200, answer.text
        assert answer.json()["stamp"]["fingerprint"] == plain.json()["stamp"]["fingerprint"]
        assert answer.content == plain.content


WITHOUT_UNITS = {"audit_rule_set", "calibrate_rules", "compare_rule_sets", "recheck_result", "review_rule_set"}
"""Operations that answer in plain ratios, or in the units of what they are given."""


def test_only_these_operations_take_no_units(answer_to: Answers) -> None:
    for item in EXAMPLES:
        answer = answer_to(item.path, {**item.request, "units": {"system": "si"}})
        assert (answer.status_code == 422) == (item.operation in WITHOUT_UNITS), item.operation


@pytest.mark.parametrize(
    "item",
    [item for item in EXAMPLES if item.operation not in WITHOUT_UNITS],
    ids=lambda item: f"{item.operation}-{item.name}",
)
def test_units_of_the_answer_change_numbers_and_words_only(
    client: TestClient, answer_to: Answers, item: Example
) -> None:
    si = answer_to(item.path, {**item.request, "units": {"system": "si"}}).json()
    us = client.post(item.path, json={**item.request, "units": {"system": "us"}}).json()
    assert statuses(si) == statuses(us)
    assert si["stamp"] == us["stamp"]
    there, here = dict(quantities(us)), quantities(si)
    assert set(there) == {pointer for pointer, _ in here}
    converted = 0
    for pointer, quantity in here:
        other = there[pointer]
        if quantity["unit"] == other["unit"]:
            assert quantity["value"] == other["value"]
            continue
        converted += 1
        shared = [n for n in dimensions_of(quantity["unit"]) if other["unit"] in units.DIMENSIONS[n].symbols]
        assert shared, (pointer, quantity, other)
        assert any(
            units.to_si(other["value"], name, other["unit"])
            == pytest.approx(
                units.to_si(quantity["value"], name, quantity["unit"]),
                rel=1.1e-9,
                # a temperature is written to seven decimals, which is more than 1e-9 of few kelvins
                abs=1.1e-7 if name == "temperature" else 1e-12,
            )
            for name in shared
        ), (pointer, quantity, other)
    assert converted


def test_answers_in_the_us_system_with_single_units_that_differ(client: TestClient) -> None:
    request = example("check_envelope", "gearbox_input_shaft")

    def criteria(preference: dict[str, str]) -> dict[str, dict[str, Any]]:
        answer = client.post("/v1/envelope-checks", json={**request, "units": preference}).json()
        return {criterion["id"]: criterion for criterion in answer["criteria"]}

    us = criteria({"system": "us"})
    assert us["pressure"]["demand"] == {"value": pytest.approx(4.351132, rel=1e-6), "unit": "psi"}
    assert us["surface_speed"]["demand"]["unit"] == "ft/min"
    assert us["temperature_high"]["demand"] == {"value": 248.0, "unit": "degF"}
    assert us["runout"]["demand"]["unit"] == "in"
    assert "psi" in us["pressure"]["reason"]
    mixed = criteria({"system": "us", "gauge_pressure": "bar", "length": "um", "temperature": "K"})
    assert mixed["pressure"]["demand"] == {"value": 0.3, "unit": "bar"}
    assert mixed["runout"]["demand"] == {"value": 50.0, "unit": "um"}
    assert mixed["temperature_high"]["demand"] == {"value": 393.15, "unit": "K"}
    assert mixed["surface_speed"]["demand"]["unit"] == "ft/min"


def test_answers_carry_no_noise_of_conversion(client: TestClient) -> None:
    request = changed(
        example("allow_runout", "agitator_at_given_speeds"), "/rotational_speeds", [{"value": 0.1, "unit": "rpm"}]
    )
    answer = client.post("/v1/runout-allowances", json=request).json()
    assert answer["curve"][0]["rotational_speed"] == {"value": 0.1, "unit": "rpm"}


@pytest.mark.parametrize(
    ("value", "unit"),
    [(0.01, "in"), (10, "mil"), (0.254, "mm"), (254, "um"), (0.0254, "cm"), (0.000254, "m"), (10, "77")],
)
def test_a_demand_equal_to_the_rated_limit_is_within_it_in_every_unit(
    client: TestClient, value: float, unit: str
) -> None:
    # the rated offset of a flexible lip is 0.010 in; on a large shaft nothing lowers it
    request = changed(example("check_envelope", "gearbox_input_shaft"), "/duty/offset", {"value": value, "unit": unit})
    request = changed(request, "/duty/bore/diameter", {"value": 340, "unit": "mm"})
    request = changed(request, "/duty/shaft_diameter", {"value": 300, "unit": "mm"})
    answer = client.post("/v1/envelope-checks", json=request).json()
    criterion = next(item for item in answer["criteria"] if item["id"] == "offset")
    assert criterion["utilization"] == 1.0
    assert criterion["status"] == "caution"
