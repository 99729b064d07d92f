"""A single case as a row for machine code."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from glandwise.case import record
from glandwise.case.choices import Energizer as EnergizerKind
from glandwise.case.choices import Family, LipForm, SecondLip
from glandwise.case.intake import Case
from glandwise.case.numbers import compound_row
from glandwise.case.ratings import numbers_of
from glandwise.rules.model import RuleSetData
from glandwise.rules.once import OncePerRuleSet

LUBRICATIONS = ("dry", "boundary", "lubricated")


def energizer_kind(features: Mapping[str, Any]) -> str | None:
    """Return the kind of energizer of a design, if it has one."""
    if features["family"] == "energized_lip":
        kind: str = features["energizer"]
        return kind
    return "garter" if features.get("lip_tip") == "upturned_with_garter" else None


ROW_NUMBERS = (
    "shaft_diameter", "rotational_speed", "surface_speed", "peak_speed", "pressure", "temperature_min", "temperature",
    "temperature_max", "runout", "offset", "hardness", "roughness",
)  # fmt: skip
ROW_DIMENSIONS: Mapping[str, Mapping[str, str]] = {
    "cantilever_v": {
        "thickness": "v_thickness",
        "length": "v_length",
        "root_angle": "v_angle",
        "coverage": "v_coverage",
        "deflection": "v_deflection",
    },
    "canted_coil": {
        "wire_diameter": "coil_wire",
        "height": "coil_height",
        "width": "coil_width",
        "pitch": "coil_pitch",
        "cant_angle": "coil_angle",
        "deflection": "coil_deflection",
    },
    "garter": {
        "wire_diameter": "garter_wire",
        "mean_coil_diameter": "garter_coil",
        "free_length": "garter_length",
        "initial_tension": "garter_tension",
        "active_coils": "garter_coils",
    },
}
"""Field of a row by kind and dimension of an energizer."""


def features_code(features: Mapping[str, Any]) -> tuple[int, int, int, int, int]:
    """Return the codes of family, energizer, second lip, lip form and band of a design."""
    return (
        Family[features["family"]],
        EnergizerKind[energizer_kind(features) or "none"],
        SecondLip[features.get("second_lip", "none")],
        LipForm[features.get("lip_form", "plain")],
        int(bool(features.get("reinforcing_band", False))),
    )


_GIVEN = (*ROW_NUMBERS, "lip_thickness", "lip_length", "interference", "contact_width")
_PLACE = {name: at for at, name in enumerate(record.FIELDS)}
_NUMBERS_AT = tuple(_PLACE[name] for name in _GIVEN)
_EMPTY: tuple[Any, ...] = record.table(1)[0].item()


def row_of(case: Case) -> Any:
    """Return a single case as a table of one row, and its compound where the caller has given properties of it."""
    data, features = case.data, case.features
    values = list(_EMPTY)
    for at, name in zip(_NUMBERS_AT, _GIVEN, strict=True):
        values[at] = getattr(case, name)
    for part, name in ROW_DIMENSIONS.get(case.energizer or "", {}).items():
        values[_PLACE[name]] = case.dimensions[part]
    codes = codes_of(data)
    own = codes.get(id(case.compound))
    family, energizer, second_lip, lip_form, band = features_code(features)
    for name, code in (
        ("family", family),
        ("energizer", energizer),
        ("lubrication", LUBRICATIONS.index(case.lubrication)),
        ("second_lip", second_lip),
        ("lip_form", lip_form),
        ("reinforcing_band", band),
        ("compound", 0 if own is None else own),
        ("fluid", codes[id(case.fluid)]),
        ("alloy", -1 if case.alloy is None else codes[id(case.alloy)]),
        ("elastomer", -1 if case.elastomer is None else codes[id(case.elastomer)]),
        ("shaft_material", -1 if case.shaft_material is None else codes[id(case.shaft_material)]),
        ("rating", numbers_of(data).rating(features)),
    ):
        values[_PLACE[name]] = code
    return np.array([tuple(values)], record.DTYPE), (compound_row(case.compound) if own is None else None)


@OncePerRuleSet
def codes_of(data: RuleSetData) -> dict[int, int]:
    """Return the codes of the records of a rule set by their identity."""
    tables = (data.compounds, data.fluids, data.alloys, data.elastomers, data.shaft_materials)
    return {id(entry): code for table in tables for code, entry in enumerate(table.values())}
