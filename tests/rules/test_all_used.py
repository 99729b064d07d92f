"""No value of the rules lies idle: some answer reads each kind of it."""

from __future__ import annotations

import ast
import gc
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, get_args

import glandwise
import numpy as np
import pytest
from fastapi.testclient import TestClient
from glandwise.app import create_app
from glandwise.case import numbers
from glandwise.rules import compare, model
from glandwise.rules.loader import RuleError, RuleStore
from glandwise.rules.once import OncePerRuleSet
from glandwise.settings import Settings

from tests.calibration.simulated import MADE
from tests.conftest import changed, example, load_examples

LABELS = {
    "title",
    "note",
    "source",
    "evidence",
    "valid_from",
    "review_by",
    "unit",
    "x_unit",
    "y_unit",
    "temperature_unit",
    "size_unit",
}
"""What says of a value what it is called and where it comes from: for a reader, not for the engine."""

AS_WRITTEN = {
    "Datum": {"value", "low", "high"},
    "Curve": {"x", "y"},
    "Prony": {"ratios", "times_s"},
    "StepTable": {"over", "up_to", "columns"},
    "NominalSizes": {"shaft", "bore", "width"},
    "ORingSeries": {"section_tolerance", "inner_diameter", "inner_diameter_tolerance"},
    "MeanExpansion": {"reference_temperature", "temperature", "mean_coefficient"},
    "CryogenicFit": {"coefficients"},
}
"""Numbers as they are written; the engine reads what the record makes of them in SI."""

TOLD = {
    "Designs": {"options"},
    "Option": {"family", "field", "value", "effect"},
    "CriterionRule": {"meaning"},
}
"""What the reference lists tell, and no calculation needs."""

NOT_DATA = {"Header", "Approval", "Source", "OwnRecords", "Band"}
CHECKED_ON_LOADING = {"RuleSetData": {"rule_set", "sources", "bands"}, "CryogenicFit": {"highest_k"}}


ROOMS = re.compile(r"/glandwise/(case|questions|review)/")
"""Where calculations read rules; what `case` packs for the formulas is held to them below."""


def kinds(kind: Any) -> dict[str, type]:
    """Return the record types that a type is made of, by name."""
    found: dict[str, type] = {}
    if is_dataclass(kind) and isinstance(kind, type):
        found[kind.__name__] = kind
        for field in kind.__pydantic_fields__.values():  # type: ignore[attr-defined]
            found |= kinds(field.annotation)
    for part in get_args(kind):
        found |= kinds(part)
    return found


RECORDS = kinds(model.RuleSetData)


@contextmanager
def watched(monkeypatch: pytest.MonkeyPatch) -> Iterator[set[str]]:
    """Note which fields of rule records a calculation reads, as ``Kind.field``."""
    found: set[str] = set()
    with monkeypatch.context() as patch:
        for kind in RECORDS.values():
            names = frozenset(item.name for item in fields(kind))  # type: ignore[arg-type]

            def note(self: Any, name: str, kind: str = kind.__name__, names: frozenset[str] = names) -> Any:
                if name in names and ROOMS.search(sys._getframe(1).f_code.co_filename):
                    found.add(f"{kind}.{name}")
                return object.__getattribute__(self, name)

            patch.setattr(kind, "__getattribute__", note)
        yield found


def given(name: str) -> set[str]:
    """Fields of a record that the data give and a calculation should read."""
    others = LABELS | AS_WRITTEN.get(name, set()) | TOLD.get(name, set()) | CHECKED_ON_LOADING.get(name, set())
    return {f"{name}.{item.name}" for item in fields(RECORDS[name]) if item.init and item.name not in others}  # type: ignore[arg-type]


def enquiries_of_many_kinds() -> Iterator[dict[str, Any]]:
    """Yield invented enquiries that between them come to every other kind of seal and every line of a drawing."""
    duty = {
        "shaft_diameter": {"value": 50.0, "unit": "mm"},
        "motion": {"kind": "surface", "surface_speed": {"value": 1.0, "unit": "m/s"}},
        "pressure": {"value": 1.0, "unit": "bar"},
        "temperature": {"normal": {"value": 40.0, "unit": "degC"}},
        "fluid": "nitrogen",
    }
    design = {"family": "energized_lip", "compound": "ptfe_peek", "retention": "clamped_flange"}
    fast = {"kind": "surface", "surface_speed": {"value": 12.0, "unit": "m/s"}}
    oil, hot = {"fluid": "mineral_oil_hydraulic"}, {"normal": {"value": 210.0, "unit": "degC"}}
    for more in (
        {}, {"fluid": "slurry_mineral"}, {"fluid": "milk"}, {"motion": fast}, {**oil, "motion": fast},
        {**oil, "motion": fast, "contaminants": "abrasive"}, {"temperature": hot, "pressure": {"value": 30.0, "unit": "bar"}},
    ):  # fmt: skip
        yield {"duty": {**duty, **more}, "design": design}


def posteriors_of_all_kinds() -> Iterator[dict[str, Any]]:
    """Yield a calibration of every kind of records, as a posterior."""
    for kind, made in MADE.items():
        records = made(np.random.default_rng(1), 4).text
        yield {"kind": kind, "records": records, "rig": "Invented", "closed_on": "2026-03-01", "method": "bayes"}


def blanks_beyond_the_series() -> Iterator[dict[str, Any]]:
    """Yield a blank of each family for a shaft that the series of nominal sizes does not reach."""
    asked = example("estimate_blank", "swivel_batch_with_rates")
    duty = {**asked["duty"], "shaft_diameter": {"value": 800.0, "unit": "mm"}, "bore": {}}
    for family in ("flexible_lip", "energized_lip"):
        yield {"duty": duty, "design": {"family": family, "compound": "ptfe_glass_15"}, "pieces": 2}


@pytest.mark.slow
def test_every_kind_of_value_is_read_by_some_calculation(monkeypatch: pytest.MonkeyPatch) -> None:
    requests = [(entry.path, entry.request) for entry in load_examples()]
    dry = changed(example("check_gland", "oven_conveyor_o_ring"), "/duty/lubrication", "dry")
    requests.append(("/v1/gland-checks", dry))
    requests.extend(("/v1/enquiries", body) for body in enquiries_of_many_kinds())
    requests.extend(("/v1/blank-estimates", body) for body in blanks_beyond_the_series())
    requests.extend(("/v1/calibrations", body) for body in posteriors_of_all_kinds())
    gc.unfreeze()  # what was loaded first would not be found
    for kept in (item for item in gc.get_objects() if isinstance(item, OncePerRuleSet)):
        kept.clear()  # what other tests have had packed would not be read again
    with TestClient(create_app(Settings())) as client, watched(monkeypatch) as read:
        for path, request in requests:
            client.post(path, json=request).raise_for_status()
    wanted = set().union(*(given(name) for name in RECORDS if name not in NOT_DATA))
    assert len(wanted) > 200
    assert sorted(wanted - read) == []


def test_what_is_set_apart_is_there() -> None:
    for apart in (AS_WRITTEN, TOLD, CHECKED_ON_LOADING):
        for name, names in apart.items():
            assert names <= {item.name for item in fields(RECORDS[name])}  # type: ignore[arg-type]


def test_a_low_temperature_fit_reaches_to_where_the_table_begins() -> None:
    base = RuleStore().trees["baseline"]
    for fit in ("ptfe_expansion", "nickel_718_expansion"):
        patch = {"expansion": {"cryogenic": {fit: {**base.tree["expansion"]["cryogenic"][fit], "highest_k": 60.0}}}}
        with pytest.raises(RuleError, match="highest_k"):
            compare.patched(base, patch).newest()


def test_every_number_that_is_packed_for_formulas_is_read_by_one() -> None:
    """A field of the tables that no formula names would be dead weight that looks used."""
    package = Path(glandwise.__file__).parent
    folders = [package / "physics", package / "case", *sorted((package / "questions").rglob("criteria"))]
    named = {
        node.attr
        for folder in folders
        for path in folder.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Attribute)
    }
    packed = {name for dtype in numbers.DTYPES.values() for name in dtype.names or ()}
    # read by questions that still go by other ways
    assert packed - named <= {"fresh_time", "friction_low", "friction_high", "film_friction_low", "film_friction_high"}
