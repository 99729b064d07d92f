"""The one table of operations: what is left out of a row, or said twice, does not start."""

from __future__ import annotations

import pickle
from dataclasses import replace

import pytest
from glandwise.api.render.renderers import renderer
from glandwise.operations import OPERATIONS, Operation, _checked

from tests.conftest import EXAMPLES

ROWS = list(OPERATIONS.values())
CHECK = OPERATIONS["check_envelope"]


def test_each_operation_has_examples_and_each_folder_of_examples_an_operation() -> None:
    assert {folder.name for folder in EXAMPLES.iterdir() if any(folder.glob("*.json"))} == set(OPERATIONS)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_a_worker_finds_an_operation_again(row: Operation) -> None:
    again = pickle.loads(pickle.dumps(row))
    assert again == row
    assert again.answer is row.answer


@pytest.mark.parametrize("place", [place for row in ROWS for _, place in row.renderings])
def test_what_makes_a_rendering_is_there(place: str) -> None:
    assert callable(renderer(place))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_texts_are_sentences_and_drawn_fields_those_of_the_result(row: Operation) -> None:
    assert row.text.endswith(".")
    assert row.text[0].isupper()
    assert row.drawn <= row.result.model_fields.keys()
    assert not row.drawn or row.drawing
    assert row.cost > 0.0
    assert row.long or row.cost <= 2.0, "what takes longer would keep the event loop from everything else"


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (CHECK, "name twice"),
        (replace(CHECK, name="check_seal"), "path twice"),
        (replace(CHECK, name="check_seal", path="/v1/seals"), "title twice"),
        (replace(CHECK, name="check_seal", path="/v1/seals", title="Seal"), "request twice"),
        (replace(CHECK, name="seals", path="/v1/seals", title="Seal"), "verb_noun"),
        (replace(CHECK, name="check_seal", path="/seals", title="Seal"), "/v1/"),
    ],
)
def test_a_table_that_says_a_thing_twice_does_not_load(row: Operation, said: str) -> None:
    with pytest.raises(ImportError, match=said):
        _checked((*ROWS, row))
