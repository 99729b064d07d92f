"""Quantities as people write them. The service's table of units is the reference for meaning."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import numpy as np
import pint
import pytest
from glandwise import units
from glandwise_client import Quantity, RequestError, models
from glandwise_client._quantities import QuantityFault, pint_expression, several, write
from glandwise_client._requests import body
from glandwise_client._spelling import factors, find_unit
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

REGISTRY = pint.UnitRegistry()
ACCEPTED = {name: dimension.symbols for name, dimension in units.DIMENSIONS.items()}
SPELLED = [(name, unit) for name, dimension in units.DIMENSIONS.items() for unit in dimension.units]
NO_PINT = {"HRC", "ShoreA"}
PINT_FREQUENCY = {"Hz": "hertz", "1/min": "1 / minute"}  # in pint, a turn is 2 pi and a hertz has no turn in it


def ident(case: Any) -> str:
    return f"{case[0]}-{case[1].symbol}"


@pytest.mark.parametrize("case", SPELLED, ids=ident)
def test_every_unit_of_the_service_is_taken_as_text_pair_and_object(case: tuple[str, units.Unit]) -> None:
    name, unit = case
    expected = {"value": 5.0, "unit": unit.symbol}
    for given_value in (
        "5" if unit.symbol == "1" else f"5 {unit.symbol}",
        (5, unit.symbol),
        {"value": 5, "unit": unit.symbol},
        Quantity(value=5, unit=unit.symbol),
    ):
        assert write(given_value, ACCEPTED[name]) == expected
    for code in unit.aliases:
        assert write((5, code), ACCEPTED[name])["unit"] == code


@pytest.mark.parametrize("case", [case for case in SPELLED if case[1].symbol not in NO_PINT], ids=ident)
@pytest.mark.parametrize("style", ["", "~", "~P", "~C"])
def test_every_unit_of_the_service_is_read_from_pint(case: tuple[str, units.Unit], style: str) -> None:
    name, unit = case
    expression = PINT_FREQUENCY.get(unit.symbol, unit.expression).replace(
        "1e-6", "1"
    )  # pint puts a scale into the number
    quantity = REGISTRY.Quantity(5.0, expression)
    printed = SimpleNamespace(magnitude=quantity.magnitude, units=format(quantity.units, style), to=quantity.to)
    written = write(printed, ACCEPTED[name])
    meant = units.to_si(5.0, name, unit.symbol) * (1e6 if unit.symbol.startswith("1e-6") else 1.0)
    assert units.to_si(written["value"], name, written["unit"]) == pytest.approx(meant, rel=1e-12)


@pytest.mark.parametrize("case", [case for case in SPELLED if case[1].symbol not in NO_PINT], ids=ident)
def test_a_result_goes_to_pint_with_its_meaning(case: tuple[str, units.Unit]) -> None:
    name, unit = case
    quantity = Quantity(value=5.0, unit=unit.symbol).to_pint(REGISTRY)
    back = quantity.to("hertz" if name == "frequency" else units.DIMENSIONS[name].si).magnitude
    assert back == pytest.approx(units.to_si(5.0, name, unit.symbol), rel=1e-9)


def test_a_hardness_has_no_unit_in_pint() -> None:
    with pytest.raises(ValueError, match="HRC"):
        Quantity(value=58, unit="HRC").to_pint(REGISTRY)


PRESSURE, SPEED, LENGTH = ACCEPTED["gauge_pressure"], ACCEPTED["rotational_speed"], ACCEPTED["length"]


@pytest.mark.parametrize(
    ("text", "accepted", "value", "unit"),
    [
        ("50 psi", PRESSURE, 50, "psi"),
        ("50psi", PRESSURE, 50, "psi"),
        ("-.5e1 bar", PRESSURE, -5, "bar"),
        ("−0.9 bar", PRESSURE, -0.9, "bar"),
        ("3 N/mm²", PRESSURE, 3, "MPa"),
        ("3 N/mm^2", PRESSURE, 3, "MPa"),
        ("14.5 lbf/in2", PRESSURE, 14.5, "psi"),
        ("1500 rev/min", SPEED, 1500, "rpm"),
        ("1500 U/min", SPEED, 1500, "rpm"),
        ("1500 1/min", SPEED, 1500, "rpm"),
        ("1500 min-1", SPEED, 1500, "rpm"),
        ("30 lb/in²", PRESSURE, 30, "psi"),
        ("25 rev/s", SPEED, 25, "rev/s"),
        ("2 inches", LENGTH, 2, "in"),
        ('2"', LENGTH, 2, "in"),
        ("25 µm", LENGTH, 25, "um"),
        ("25 μm", LENGTH, 25, "um"),
        ("3 thou", LENGTH, 3, "mil"),
        ("80 °C", ACCEPTED["temperature"], 80, "degC"),
        ("80 C", ACCEPTED["temperature"], 80, "degC"),
        ("80 deg C", ACCEPTED["temperature"], 80, "degC"),
        ("176 degrees F", ACCEPTED["temperature"], 176, "degF"),
        ("30%", ACCEPTED["ratio"], 30, "%"),
        ("0.3", ACCEPTED["ratio"], 0.3, "1"),
        ("0.25 W/(m·K)", ACCEPTED["thermal_conductivity"], 0.25, "W/m/K"),
        ("2 lbf·in", ACCEPTED["torque"], 2, "lbf.in"),
        ("2 in*lbf", ACCEPTED["torque"], 2, "lbf.in"),
        ("2 newton meters", ACCEPTED["torque"], 2, "N.m"),
        ("300 ft per minute", ACCEPTED["surface_speed"], 300, "ft/min"),
    ],
)  # fmt: skip
def test_spellings_of_the_trade(text: str, accepted: tuple[str, ...], value: float, unit: str) -> None:
    assert write(text, accepted) == {"value": value, "unit": unit}


@pytest.mark.parametrize("text", ["50 psig", "3.4 barg", "3.4 bar(g)"])
def test_gauge_spellings_are_taken_where_a_gauge_pressure_is_asked_for(text: str) -> None:
    assert write(text, PRESSURE, gauge=True)["unit"] in {"psi", "bar"}
    with pytest.raises(QuantityFault, match="does not fit"):
        write(text, ACCEPTED["stress"])


@pytest.mark.parametrize("text", ["64.7 psia", "4.4 bara", "4.4 bar(a)"])
def test_an_absolute_pressure_is_not_taken_for_a_gauge_pressure(text: str) -> None:
    with pytest.raises(QuantityFault, match="absolute"):
        write(text, PRESSURE, gauge=True)


@pytest.mark.parametrize(
    ("value", "accepted", "fault"),
    [
        (50, PRESSURE, "this number has no unit"),
        ("50", PRESSURE, "unit is missing"),
        ("psi", PRESSURE, "not a number with a unit"),
        ("", PRESSURE, "not a number with a unit"),
        ("0,35 MPa", PRESSURE, "comma or a gap"),
        ("1,750 rpm", SPEED, "comma or a gap"),
        ("1 750 rpm", SPEED, "comma or a gap"),
        ("1/2 in", LENGTH, "fraction or a range"),
        ("1-1/2 in", LENGTH, "fraction or a range"),
        ("20-30 degC", ACCEPTED["temperature"], "fraction or a range"),
        ("50 furlong", LENGTH, "this unit does not fit"),
        ("50 mm", PRESSURE, "this unit does not fit"),
        ("50 Hz", SPEED, "this unit does not fit"),
        ("50 mpa", PRESSURE, "this unit does not fit"),
        ("50 mPa", PRESSURE, "this unit does not fit"),
        ("10 K", ACCEPTED["hardness_hrc"], "does not fit"),
        ("10 mm/", LENGTH, "does not fit"),
        ("10 (mm", LENGTH, "does not fit"),
        ("10 m)m", LENGTH, "does not fit"),
        ("10 mm²", LENGTH, "does not fit"),
        ("1e999 mm", LENGTH, "not finite"),
        ((math.nan, "mm"), LENGTH, "not finite"),
        ((True, "mm"), LENGTH, "the number is none"),
        (("5", "mm"), LENGTH, "the number is none"),
        ((None, "mm"), LENGTH, "the number is none"),
        ((10**400, "mm"), LENGTH, "the number is none"),
        ((5, "mm", "x"), LENGTH, "pair"),
        ((5, 6), LENGTH, "pair"),
        ({"value": 5}, LENGTH, "exactly the fields"),
        (None, LENGTH, "no quantity"),
        (True, ACCEPTED["ratio"], "no quantity"),
        (object(), LENGTH, "no quantity"),
    ],
)  # fmt: skip
def test_what_is_no_quantity_is_refused_with_what_would_be(value: Any, accepted: tuple[str, ...], fault: str) -> None:
    with pytest.raises(QuantityFault, match=fault) as caught:
        write(value, accepted)
    assert caught.value.accepted


@pytest.mark.parametrize("number", [5, 5.0, Decimal(5), Fraction(5), np.float32(5), np.int64(5), np.array(5)])
def test_numbers_of_any_type_are_taken(number: Any) -> None:
    assert write((number, "mm"), LENGTH) == {"value": 5.0, "unit": "mm"}
    assert write(REGISTRY.Quantity(number, "mm"), LENGTH) == {"value": 5.0, "unit": "mm"}


def test_pint_converts_what_the_service_does_not_take() -> None:
    assert write(REGISTRY.Quantity(1, "foot"), LENGTH) == {"value": pytest.approx(304.8), "unit": "mm"}
    assert write(REGISTRY.Quantity(1, "atm"), PRESSURE) == {"value": pytest.approx(101325.0), "unit": "Pa"}
    assert write(REGISTRY.Quantity(2, "week"), ACCEPTED["time"]) == {"value": pytest.approx(336.0), "unit": "h"}


@pytest.mark.parametrize(
    ("quantity", "name"),
    [
        (REGISTRY.Quantity(50, "Hz"), "rotational_speed"),  # pint would make 477 rpm of it
        (REGISTRY.Quantity(50, "1/s"), "rotational_speed"),
        (REGISTRY.Quantity(50, "rad/s"), "frequency"),
        (REGISTRY.Quantity(0.5, ""), "angle"),
        (REGISTRY.Quantity(20, "delta_degC"), "temperature"),  # pint would make -253 degC of it
        (REGISTRY.Quantity(5, "mil"), "length"),  # pint's mil is an angle
        (REGISTRY.Quantity(5, "second"), "length"),
    ],
)  # fmt: skip
def test_pint_is_not_let_to_convert_where_it_would_mislead(quantity: Any, name: str) -> None:
    with pytest.raises(QuantityFault, match="does not fit"):
        write(quantity, ACCEPTED[name])


def test_lists_of_quantities() -> None:
    speeds = [{"value": 100.0, "unit": "rpm"}, {"value": 200.0, "unit": "rpm"}]
    for value in (["100 rpm", (200, "rpm")], ([100, 200], "rpm"), (np.array([100, 200]), "rpm"),
                  REGISTRY.Quantity(np.array([100, 200]), "rpm"), (Quantity(value=100, unit="rpm"), "200 rpm"),
                  iter(["100 rpm", "200 rpm"])):  # fmt: skip
        assert [write(item, SPEED) for item in several(value)] == speeds
    for value in ("100 rpm", 5, {"value": 1, "unit": "rpm"}, REGISTRY.Quantity(1, "rpm")):
        with pytest.raises(QuantityFault, match="a list is needed"):
            several(value)


@given(st.floats(allow_nan=False, allow_infinity=False), st.sampled_from(SPELLED))
def test_text_carries_every_float_exactly(number: float, case: tuple[str, units.Unit]) -> None:
    name, unit = case
    written = write(f"{number!r} {unit.symbol}" if unit.symbol != "1" else repr(number), ACCEPTED[name])
    assert written == {"value": number, "unit": unit.symbol}
    assert math.copysign(1.0, written["value"]) == math.copysign(1.0, number)


@given(st.text(max_size=30))
def test_no_text_raises_anything_else(text: str) -> None:
    try:
        written = write(text, PRESSURE, gauge=True)
    except QuantityFault:
        return
    assert written["unit"] in PRESSURE
    assert math.isfinite(written["value"])


@given(st.text(max_size=30))
def test_no_text_breaks_the_reading_of_units(text: str) -> None:
    assert find_unit(text, PRESSURE) is None or factors(text) is not None or text.strip() in PRESSURE


def test_no_two_units_of_a_dimension_read_the_same() -> None:
    for dimension in units.DIMENSIONS.values():
        found = [factors(unit.symbol) for unit in dimension.units]
        assert None not in found
        assert len(set(found)) == len(found), dimension.name


def test_pint_names_are_names_of_pint() -> None:
    for dimension in units.DIMENSIONS.values():
        for unit in dimension.units:
            expression = pint_expression(unit.symbol)
            assert (expression is None) == (unit.symbol in NO_PINT)
            if expression:
                REGISTRY.parse_units(expression)


# In requests --------------------------------------------------------------------------------------------------------

MODEL = models.EnvelopeCheckRequest


def duty(**changes: Any) -> dict[str, Any]:
    return {
        "shaft_diameter": "50 mm",
        "motion": {"kind": "rotation", "rotational_speed": REGISTRY.Quantity(1500, "rpm")},
        "pressure": "50 psi",
        "temperature": {"normal": (80, "degC")},
        "fluid": "mineral_oil_gear",
        **changes,
    }


def test_a_dict_is_written_with_its_quantities() -> None:
    written = body(MODEL, {"duty": duty(food_contact=True, runout=None)}, {"rule_set": "3 mm"}, "us", "id")
    assert written == {
        "duty": {
            "shaft_diameter": {"value": 50.0, "unit": "mm"},
            "motion": {"kind": "rotation", "rotational_speed": {"value": 1500.0, "unit": "rpm"}},
            "pressure": {"value": 50.0, "unit": "psi"},
            "temperature": {"normal": {"value": 80.0, "unit": "degC"}},
            "fluid": "mineral_oil_gear",
            "food_contact": True,
        },
        "rule_set": "3 mm",  # a name is no quantity, whatever it looks like
        "units": {"system": "us"},
    }


def test_models_take_the_same_spellings_and_write_the_same() -> None:
    model = models.Duty(**duty())
    assert body(MODEL, None, {"duty": model}, None, "id") == body(MODEL, None, {"duty": duty()}, None, "id")
    whole = MODEL(duty=model, design={"family": "flexible_lip", "compound": "ptfe_carbon_25"})
    assert body(MODEL, whole, {}, None, "id")["duty"] == body(MODEL, None, {"duty": duty()}, None, "id")["duty"]


def test_a_model_names_the_field_at_fault() -> None:
    with pytest.raises(ValidationError, match=r"(?s)pressure.*has no unit.*accepted"):
        models.Duty(**duty(pressure=50))
    with pytest.raises(ValidationError, match="greater than 0"):
        models.Duty(**duty(shaft_diameter="-50 mm"))
    with pytest.raises(ValidationError, match="Extra inputs"):
        models.Duty(**duty(presure="50 psi"))


def test_every_field_at_fault_is_named() -> None:
    with pytest.raises(RequestError) as caught:
        body(
            MODEL,
            None,
            {"duty": duty(pressure=50, shaft_diameter="50 furlong", shaft={"hardness": "58 HB"})},
            None,
            "id-7",
        )
    error = caught.value
    assert [fault.pointer for fault in error.errors] == [
        "/duty/shaft_diameter",
        "/duty/pressure",
        "/duty/shaft/hardness",
    ]
    assert all(fault.accepted for fault in error.errors)
    assert (error.status, error.request_id) == (None, "id-7")
    assert "/duty/pressure: this number has no unit" in str(error)
    assert isinstance(error, ValueError)


def test_a_tag_decides_which_member_of_a_union_a_field_belongs_to() -> None:
    motion = {"kind": "oscillation", "half_amplitude": "30 deg", "frequency": "2 Hz"}
    written = body(MODEL, None, {"duty": duty(motion=motion)}, None, "id")
    assert written["duty"]["motion"]["half_amplitude"] == {"value": 30.0, "unit": "deg"}


def test_lists_in_requests() -> None:
    written = body(models.RunoutAllowanceRequest, None, {"rotational_speeds": ([100, 200], "rpm")}, None, "id")
    assert [item["value"] for item in written["rotational_speeds"]] == [100.0, 200.0]
    with pytest.raises(RequestError, match="/rotational_speeds/1"):
        body(models.RunoutAllowanceRequest, None, {"rotational_speeds": ["1 rpm", "2"]}, None, "id")


def test_fields_this_client_does_not_know_are_left_to_the_service() -> None:
    written = body(
        MODEL, {"later": {"depth": REGISTRY.Quantity(3, "mm"), "n": [np.int64(3), 2.5], "text": "3 mm"}}, {}, None, "id"
    )
    assert written == {"later": {"depth": {"value": 3, "unit": "millimeter"}, "n": [3, 2.5], "text": "3 mm"}}


@pytest.mark.parametrize("value", [math.inf, object(), b"bytes", {1: 2}, [math.nan]])
def test_what_json_cannot_hold_is_refused_by_name(value: Any) -> None:
    with pytest.raises(RequestError, match="/later"):
        body(MODEL, {"later": value}, {}, None, "id")


def test_pointers_are_escaped() -> None:
    with pytest.raises(RequestError, match="/a~1b~0c"):
        body(MODEL, {"a/b~c": math.inf}, {}, None, "id")


def test_keyword_arguments_replace_fields_of_the_request() -> None:
    request = {"duty": duty(), "working": False, "units": "si"}
    written = body(MODEL, request, {"working": True, "units": None}, "us", "id")
    assert (written["working"], written["units"]) == (True, {"system": "si"})


def test_units_of_the_answer_are_taken_in_every_form() -> None:
    for form, expected in (
        ("us", {"system": "us"}),
        ({"system": "us", "length": "mm"}, {"system": "us", "length": "mm"}),
        (models.AnswerUnits(system="us", length="mm"), {"system": "us", "length": "mm"}),
    ):
        assert body(MODEL, {}, {"units": form}, None, "id")["units"] == expected
        assert body(MODEL, {}, {}, form, "id")["units"] == expected


def test_a_request_that_is_no_object_is_refused() -> None:
    with pytest.raises(RequestError, match="EnvelopeCheckRequest"):
        body(MODEL, ["duty"], {}, None, "id")


def test_quantities_read_as_people_write() -> None:
    quantity = Quantity(value=0.3447378646, unit="MPa")
    assert (str(quantity), f"{quantity:.2f}", str(Quantity(value=0.5, unit="1"))) == ("0.344738 MPa", "0.34 MPa", "0.5")


RANGE = {"value": 60, "unit": "degC", "low": 50, "high": 75}


def test_a_range_goes_with_a_number_where_the_field_takes_one() -> None:
    """As a dict, and as the model of the field; in the units of the number."""
    normal = {"value": 60.0, "unit": "degC", "low": 50.0, "high": 75.0}
    model = models.Temperatures(normal=RANGE)
    assert model.model_dump(exclude_unset=True) == {"normal": normal}
    assert body(MODEL, {"duty": {"temperature": {"normal": RANGE}}}, {}, None, "id")["duty"] == {
        "temperature": {"normal": normal}
    }
    assert models.TemperatureWithRange(**RANGE) == models.TemperatureWithRange(**normal)
    assert write({"value": 2, "unit": "bar", "low": 1, "high": None}, PRESSURE, gauge=True, ranged=True) == {
        "value": 2.0, "unit": "bar", "low": 1.0,
    }  # fmt: skip


def test_a_range_is_refused_where_the_field_takes_none() -> None:
    with pytest.raises(QuantityFault, match="exactly the fields value and unit"):
        write(RANGE, ACCEPTED["temperature"])
    with pytest.raises(QuantityFault, match="low and high of a range"):
        write({**RANGE, "middle": 3}, ACCEPTED["temperature"], ranged=True)
    with pytest.raises(QuantityFault, match="the number is none"):
        write({**RANGE, "low": "cold"}, ACCEPTED["temperature"], ranged=True)
