"""The model of the rules against the contract it serves, and values at the edge of what can be."""

from __future__ import annotations

from datetime import date
from typing import Any, get_args

import pytest
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.rules.loader import RuleStore
from glandwise.rules.model import FEATURES, Capacity, Change, Compound, Datum, DutyField, Lubrication, Prony, walk
from glandwise.rules.values import CurveIn, DatumIn
from pydantic import TypeAdapter, ValidationError
from pydantic_core import PydanticCustomError

GIVEN: dict[str, Any] = {"source": "house-estimate", "evidence": "house_estimate", "valid_from": date(2026, 1, 1)}


@pytest.mark.parametrize("model", [FlexibleLip, EnergizedLip])
def test_the_features_of_the_rules_are_those_of_the_designs(model: Any) -> None:
    family = get_args(model.model_fields["family"].annotation)[0]
    choices = {}
    for name, field in model.model_fields.items():
        if (
            name not in {"family", "lip_direction"}  # a direction is no feature that capacities are rated for
            and (values := get_args(field.annotation))
            and all(isinstance(item, str) for item in values)
        ):
            choices[name] = values
        elif field.annotation is bool:
            choices[name] = (False, True)
    assert FEATURES[family] == choices


def test_every_option_of_a_design_is_described_and_no_other() -> None:
    options = RuleStore().trees["baseline"].newest().data.designs.options
    described = {(item.family, item.field, item.value) for item in options}
    assert len(described) == len(options)
    known = {
        (family, name, value)
        for family, fields in FEATURES.items()
        for name, values in fields.items()
        for value in values
    }
    assert described == known


def test_every_record_of_the_built_in_set_can_carry_its_evidence() -> None:
    data = RuleStore().trees["baseline"].newest().data
    records = list(walk(data))
    assert len(records) > 500
    for path, record in records:
        assert record.source in data.sources, path
        if data.sources[record.source].read == "none":
            assert record.evidence in ("common_practice", "house_estimate"), path


def datum(value: float, unit: str, **more: float) -> Datum:
    return Datum(value=value, unit=unit, **GIVEN, **more)


@pytest.mark.parametrize(
    ("check", "value", "unit", "accepted"),
    [
        (DatumIn("density"), 0.0, "g/cm3", "more than 0 g/cm3"),
        (DatumIn("temperature"), -273.15, "degC", "more than -273.15 degC"),
        (DatumIn("temperature"), -459.67, "degF", "more than -459.67 degF"),
        (DatumIn("length"), -1e-9, "mm", "at least 0 mm"),
        (DatumIn("gauge_pressure"), -1.0, "psi", "at least 0 psi"),
        (DatumIn("ratio", below=0.5), 50.0, "%", "less than 50 %"),
        (DatumIn("ratio", at_most=1.0), 1.0000001, "1", "at most 1 1"),
        (DatumIn("stress"), 1.0, "mm", "Pa"),
    ],
)
def test_numbers_just_outside(check: DatumIn, value: float, unit: str, accepted: str) -> None:
    with pytest.raises(PydanticCustomError) as caught:
        check(datum(value, unit))
    assert accepted in (caught.value.context or {})["accepted"]


@pytest.mark.parametrize(
    ("check", "value", "unit", "si"),
    [
        (DatumIn("density"), 1e-9, "g/cm3", 1e-6),
        (DatumIn("temperature"), -273.14, "degC", 0.01),
        (DatumIn("length"), 0.0, "mm", 0.0),
        (DatumIn("ratio", below=0.5), 49.9, "%", 0.499),
        (DatumIn("ratio", at_most=1.0), 100.0, "%", 1.0),
        (DatumIn("thermal_expansion"), -5.0, "1e-6/K", -5e-6),
    ],
)
def test_numbers_just_inside(check: DatumIn, value: float, unit: str, si: float) -> None:
    assert check(datum(value, unit)).si == pytest.approx(si, rel=1e-9, abs=1e-12)


def test_a_range_fills_in_its_ends() -> None:
    both = DatumIn("length")(datum(2.0, "mm", low=1.0, high=3.0))
    assert (both.si_low, both.si, both.si_high) == pytest.approx((1e-3, 2e-3, 3e-3))
    none = DatumIn("length")(datum(2.0, "mm"))
    assert (none.si_low, none.si, none.si_high) == pytest.approx((2e-3, 2e-3, 2e-3))


@pytest.mark.parametrize(
    ("ratios", "times", "accepted"),
    [
        ([0.6, 0.4], [1.0, 2.0], "less than 1"),
        ([0.6], [1.0, 2.0], "as many as ratios"),
        ([0.0], [1.0], "more than 0"),
        ([0.1], [0.0], "more than 0 s"),
    ],
)
def test_relaxation_that_cannot_be(ratios: list[float], times: list[float], accepted: str) -> None:
    with pytest.raises(ValidationError) as caught:
        Prony(
            ratios=ratios,
            times_s=times,
            reference_temperature=DatumIn("temperature")(datum(23.0, "degC")),
            activation_energy=DatumIn("molar_energy")(datum(60.0, "kJ/mol")),
            **GIVEN,
        )
    assert accepted in caught.value.errors()[0]["ctx"]["accepted"]


@pytest.mark.parametrize("criterion", ["surface_speed", "pressure", "vacuum", "pressure_velocity", "runout", "offset"])
def test_a_capacity_takes_the_dimension_of_its_criterion(criterion: str) -> None:
    units = {"surface_speed": "m/s", "pressure": "bar", "vacuum": "bar", "pressure_velocity": "MPa.m/s"}
    entry = TypeAdapter(Capacity).validate_python(
        {
            "criterion": criterion,
            "when": {"medium": "dry", "filled": False},
            "title": "invented",
            "limit": {"value": 1.0, "unit": units.get(criterion, "mm"), **GIVEN},
        }
    )
    assert entry.record is entry.limit
    assert entry.limit.si > 0.0


@pytest.mark.parametrize(
    "when",
    [
        {"reinforcing_band": "true"},
        {"filled": "no"},
        {"family": "flexible_lip", "energizer": "canted_coil"},
        {"lip_tip": "plain", "energizer": "canted_coil"},
        {"retention": "glued"},
        {"energizer": "canted_coil", "retention": "press_fit_case"},
    ],
)
def test_features_that_no_design_has(when: dict[str, Any]) -> None:
    content = {"criterion": "pressure", "when": when, "title": "t", "limit": {"value": 1.0, "unit": "bar", **GIVEN}}
    with pytest.raises(ValidationError):
        TypeAdapter(Capacity).validate_python(content)


def test_a_change_sets_a_design_or_a_duty_and_not_both() -> None:
    adapter = TypeAdapter(Change)
    head = {"title": "t", "criteria": ["pressure"]}
    assert adapter.validate_python({**head, "design": {"family": "energized_lip", "heel": "extended"}}).rank == 100
    for field in get_args(DutyField):
        assert adapter.validate_python({**head, "to_capacity": field}).to_capacity == field
    for bad in ({}, {"design": {"heel": "extended"}, "to_capacity": "pressure"}, {"design": {"medium": "dry"}}):
        with pytest.raises(ValidationError):
            adapter.validate_python({**head, **bad})


def test_curves_are_checked_in_both_dimensions() -> None:
    from glandwise.rules.model import Curve

    def curve(x: list[float], y: list[float]) -> Curve:
        return CurveIn("temperature", "stress")(Curve(x=x, y=y, x_unit="degC", y_unit="MPa", **GIVEN))

    assert curve([0.0, 1.0], [2.0, 1.0]).si_y == pytest.approx((2e6, 1e6))
    for x, y in (([-300.0, 0.0], [1.0, 1.0]), ([0.0, 1.0], [1.0, 0.0]), ([1.0, 0.0], [1.0, 1.0])):
        with pytest.raises(PydanticCustomError):
            curve(x, y)


def test_lubrications_of_the_contract_and_of_the_rules_are_the_same() -> None:
    from glandwise.contract.duty import Duty

    def words(annotation: Any) -> set[str]:
        parts = get_args(getattr(annotation, "__value__", annotation))
        return {item for part in parts for item in ({part} if isinstance(part, str) else words(part))}

    assert set(get_args(Lubrication)) <= words(Duty.model_fields["lubrication"].annotation)


def test_a_compound_cannot_end_below_where_it_begins() -> None:
    data = RuleStore().trees["baseline"].newest().data
    compound: Compound = data.compounds["ptfe_unfilled"]
    content = {name: getattr(compound, name) for name in compound.__dataclass_fields__}
    with pytest.raises(ValidationError, match="is not below temperature_max"):
        Compound(**{**content, "temperature_min": compound.temperature_max})
