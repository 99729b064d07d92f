"""Results in a script and in a notebook: quantities to convert and compare, names that are nearly right, tables to look at."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

import pytest
from glandwise import units
from glandwise_client import GlandwiseClient, Quantity, models

from tests.client.support import DESIGN, DUTY

TORQUE = Quantity(value=1.5, unit="N.m")
PAIRS = [
    (name, one.symbol, other.symbol)
    for name, dimension in units.DIMENSIONS.items()
    for one in dimension.units
    for other in dimension.units
]
IN_DOUBT = {("temperature", "K", "degC"), ("temperature", "K", "degF")}


@pytest.fixture(scope="module")
def result(client: GlandwiseClient) -> models.EnvelopeCheckResult:
    return client.check_envelope(duty=DUTY, design=DESIGN)


@pytest.mark.parametrize("case", [case for case in PAIRS if case not in IN_DOUBT], ids="-".join)
def test_a_quantity_is_had_in_every_unit_as_the_service_has_it(case: tuple[str, str, str]) -> None:
    name, unit, wanted = case
    found = Quantity(value=12.5, unit=unit).to(wanted)
    assert found.unit == wanted
    assert units.to_si(float(found), name, wanted) == pytest.approx(units.to_si(12.5, name, unit), rel=1e-12)


def test_units_are_spelled_as_people_spell_them() -> None:
    assert TORQUE.to("N*m") == TORQUE
    assert TORQUE.to("lbf in").unit == "lbf.in"
    assert str(Quantity(value=80.0, unit="degC").to("°F")) == "176 degF"


@pytest.mark.parametrize(
    ("quantity", "unit", "said"),
    [(TORQUE, "mm", "accepted: N.m, N.mm"), (TORQUE, "", "accepted"), (Quantity(value=1.0, unit="furlong"), "mm", "no unit"),
     (Quantity(value=5.0, unit="K"), "degC", "difference of two")],
)  # fmt: skip
def test_what_is_no_unit_of_it_is_refused(quantity: Quantity, unit: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        quantity.to(unit)


def test_quantities_are_compared_whatever_their_units() -> None:
    assert TORQUE < Quantity(value=2000.0, unit="N.mm")
    assert TORQUE > "10 lbf.in"
    assert TORQUE <= (1.5, "N.m")
    assert TORQUE >= "1.5 N.m"
    assert not TORQUE > "1.5 N.m"
    assert max([TORQUE, Quantity(value=1600.0, unit="N.mm")]).unit == "N.mm"
    assert Quantity(value=50.0, unit="%") < 0.6
    assert Quantity(value=3.0, unit="bar") < "50 psig"
    assert Quantity(value=80.0, unit="degC") < "180 degF"
    assert TORQUE == Quantity(value=1.5, unit="N.m") != Quantity(value=1500.0, unit="N.mm")


@pytest.mark.parametrize(
    ("other", "kind"), [(2.0, TypeError), ("2 mm", ValueError), ("much", ValueError), (None, TypeError)]
)
def test_what_cannot_be_compared_is_refused(other: Any, kind: type[Exception]) -> None:
    with pytest.raises(kind):
        _ = other > TORQUE
    with pytest.raises(kind):
        _ = TORQUE < other


def test_a_quantity_is_a_number_in_its_own_unit() -> None:
    assert float(TORQUE) == 1.5
    assert f"{TORQUE:.2f}" == "1.50 N.m"


@pytest.mark.parametrize(
    ("name", "near"), [("verdct", "verdict"), ("governin", "governing"), ("criterions", "criteria")]
)
def test_a_name_that_is_nearly_right_is_met_with_the_right_one(
    result: models.EnvelopeCheckResult, name: str, near: str
) -> None:
    with pytest.raises(AttributeError, match=f"did you mean .*{near}") as caught:
        getattr(result, name)
    assert name in str(caught.value)


def test_a_name_that_is_near_none_is_met_with_those_there_are(result: models.EnvelopeCheckResult) -> None:
    with pytest.raises(AttributeError, match=r"it has .*utilization"):
        _ = result.governing.zzz  # type: ignore[attr-defined]
    with pytest.raises(AttributeError, match="only the result of a call"):
        _ = result.governing.answer
    assert not hasattr(result, "_ipython_display_")


def test_a_result_is_a_table_in_a_notebook(client: GlandwiseClient, result: models.EnvelopeCheckResult) -> None:
    said = result._repr_html_()
    text = unescape(re.sub(r"<[^>]*>", " ", said))
    assert result.verdict in text
    assert result.summary in text
    for criterion in result.criteria:
        assert criterion.title in text
    for caution in result.cautions:
        assert caution.text in text, "a caution is never left out"
    assert result.cautions
    friction = client.estimate_friction(duty=DUTY, design=DESIGN)
    nominal = friction.levels[1].torque
    assert nominal is not None
    assert str(nominal) in friction._repr_html_()
    assert TORQUE._repr_html_() == "1.5 N.m"


def test_what_came_is_escaped() -> None:
    hostile = "<script>alert(1)</script>"
    shown = models.Caution.model_construct(id=hostile, text=hostile)._repr_html_()
    assert "<script>" not in shown
    assert "&lt;script&gt;" in shown
