"""Invented duties: their shape, and that the contract takes every request."""

from __future__ import annotations

from collections import Counter

import pytest
from glandwise.contract.enquiry import EnquiryRequest

from tests.duties.model import FOLDER, TRADES, Duty, files
from tests.questions import support

DUTIES = [pytest.param(duty, id=duty.id) for file in files() for duty in file.duty]


def test_every_trade_is_covered_by_a_file_of_its_name() -> None:
    assert {path.stem for path in FOLDER.glob("*.toml")} - {"not_yet"} == set(TRADES)
    assert [file.trade for file in files()] == list(TRADES)


def test_there_are_eighty_duties_or_more_of_different_names_and_sizes() -> None:
    duties = [duty for file in files() for duty in file.duty]
    assert len(duties) >= 80
    assert max(Counter(duty.id for duty in duties).values()) == 1
    diameters = [EnquiryRequest.model_validate(duty.request).duty.shaft_diameter for duty in duties]
    assert min(diameters) <= 8.0001e-3
    assert max(diameters) >= 0.9999
    for verdict in ("pass", "caution", "fail"):
        assert sum(duty.expect.verdict == [verdict] for duty in duties) >= 4
    for other in ("elastomer_lip", "mechanical_face_seal", "packing", "labyrinth"):
        assert sum(other in duty.expect.alternatives for duty in duties) >= 5


@pytest.mark.parametrize("duty", DUTIES)
def test_the_contract_takes_the_request_and_the_rules_know_its_names(duty: Duty) -> None:
    request, data = EnquiryRequest.model_validate(duty.request), support.rules().data
    assert request.duty.fluid in data.fluids
    assert request.duty.shaft.material is None or request.duty.shaft.material in data.shaft_materials
    assert set(duty.expect.compounds) | set(duty.expect.not_compounds) <= set(data.compounds)
    options = {(option.field, str(option.value)) for option in data.designs.options}
    for wanted in (duty.expect.options, duty.expect.not_options):
        assert {(field, value) for field, values in wanted.items() for value in values} <= options
