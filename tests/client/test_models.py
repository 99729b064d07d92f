"""Models of requests keep their rules after they are made; clients find the address of the service."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest
from glandwise_client import AsyncGlandwiseClient, GlandwiseClient, models
from pydantic import ValidationError

from tests.conftest import example

REQUEST = example("check_envelope", "gearbox_input_shaft")


@pytest.fixture
def request_model() -> models.EnvelopeCheckRequest:
    return models.EnvelopeCheckRequest.model_validate(REQUEST)


def test_what_is_assigned_is_read_like_what_is_given(request_model: models.EnvelopeCheckRequest) -> None:
    request_model.duty.pressure = "3 bar"  # type: ignore[assignment]
    assert request_model.duty.pressure.model_dump(exclude_none=True) == {"value": 3.0, "unit": "bar"}
    request_model.duty.pressure.value = 4
    assert request_model.duty.pressure.value == 4.0


@pytest.mark.parametrize(
    ("pointer", "value"),
    [
        ("duty.pressure", "3 kg"), ("duty.pressure", 3), ("duty.presure", "3 bar"), ("duty.pressure.unit", "mm"),
        ("duty.pressure.value", "many"), ("duty.shaft.hardnes", "58 HRC"), ("design", {"family": "other"}),
        ("design", {"family": "flexible_lip", "compound": "a", "wrong": 1}), ("working", "perhaps"), ("wroking", True),
    ],
)  # fmt: skip
def test_what_cannot_be_assigned_is_refused_and_changes_nothing(
    request_model: models.EnvelopeCheckRequest, pointer: str, value: Any
) -> None:
    *way, last = pointer.split(".")
    target: Any = request_model
    for name in way:
        target = getattr(target, name)
    before = request_model.model_dump()
    with pytest.raises(ValidationError):
        setattr(target, last, value)
    with pytest.raises(ValidationError):
        target.model_copy(update={last: value})
    assert request_model.model_dump() == before


@pytest.mark.parametrize("deep", [False, True])
def test_a_copy_is_changed_and_its_original_is_not(request_model: models.EnvelopeCheckRequest, deep: bool) -> None:
    other = request_model.duty.model_copy(update={"pressure": (1, "MPa"), "runout": None}, deep=deep)
    assert (other.pressure.value, other.pressure.unit, other.runout) == (1.0, "MPa", None)
    assert request_model.duty.model_dump() != other.model_dump()
    assert request_model == models.EnvelopeCheckRequest.model_validate(REQUEST)


def test_every_model_of_a_request_keeps_its_rules() -> None:
    kept = [
        item for item in vars(models).values() if isinstance(item, type) and issubclass(item, models.Duty.__mro__[1])
    ]
    assert len(kept) > 80
    for model in kept:
        assert model.model_config.get("validate_assignment"), model
        assert model.model_config.get("extra") == "forbid", model


@pytest.mark.parametrize("given", [None, "http://given:1"])
@pytest.mark.parametrize("stated", [None, "", "http://stated:2/api"])
def test_the_address_is_the_one_given_or_that_of_the_environment(
    monkeypatch: pytest.MonkeyPatch, given: str | None, stated: str | None
) -> None:
    monkeypatch.delenv("GLANDWISE_URL", raising=False)
    if stated is not None:
        monkeypatch.setenv("GLANDWISE_URL", stated)
    expected = given or stated or "http://127.0.0.1:8710"
    arguments = () if given is None else (given,)
    with GlandwiseClient(*arguments) as client:
        assert client.base_url == expected
    other = AsyncGlandwiseClient(*arguments)
    assert other.base_url == expected
    asyncio.run(other.close())
