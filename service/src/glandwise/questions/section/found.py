"""The dimensions of a seal and its gland for a drawing: read from what the questions found, nothing is worked out here."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite, nan
from typing import TYPE_CHECKING, NamedTuple, TypedDict

import numpy as np
from pydantic import TypeAdapter, ValidationError
from pydantic_core import PydanticCustomError

from glandwise.case.choices import LipForm, SecondLip
from glandwise.case.hardware_intake import propose_bore
from glandwise.case.intake import Case, build
from glandwise.case.tolerances import size_step_value
from glandwise.contract.design import Design
from glandwise.contract.gland import Gland, check_gland_fits
from glandwise.drawing.seal import SealSize, Shares
from glandwise.engine import fault_in_words
from glandwise.json_values import Json
from glandwise.questions.gland import operation as gland
from glandwise.rules.once import OncePerRuleSet

if TYPE_CHECKING:
    from glandwise.contract.blank import BlankRequest
    from glandwise.contract.duty import Duty
    from glandwise.contract.enquiry import EnquiryRequest
    from glandwise.contract.envelope import EnvelopeCheckRequest
    from glandwise.contract.gland import GlandCheckRequest
    from glandwise.engine import Engine
    from glandwise.questions.gland.operation import GlandJudged
    from glandwise.rules.loader import RuleSet
    from glandwise.rules.model import RuleSetData

    Drawn = EnvelopeCheckRequest | GlandCheckRequest | BlankRequest | EnquiryRequest

_DESIGN: TypeAdapter[Design] = TypeAdapter(Design)
OF_CASE = (
    "lip_thickness", "lip_length", "interference", "contact_width", "bore_angle", "spring_place", "garter_wire",
    "garter_coil", "v_thickness", "v_length", "v_angle", "v_deflection", "coil_wire", "coil_height", "coil_width",
    "coil_deflection",
)  # fmt: skip
_OF_HARDWARE = (
    "bore", "body", "width", "throat", "ring_inner", "ring_section", "groove", "groove_width", "case", "case_wall",
    "case_length", "clamp_inner", "clamp_outer",
)  # fmt: skip
_TOLERANCED = ("shaft", "bore", "body", "throat", "groove", "groove_width", "ring_inner", "ring_section", "case")


class Limits(NamedTuple):
    """Ends of a size [m], and its tolerance class."""

    low: float
    high: float
    tolerance_class: str | None


class Drawable(NamedTuple):
    """What is drawn."""

    size: SealSize
    limits: Mapping[str, Limits]
    """Of those sizes that have any, by the names of the size."""
    case: Case
    design: Design
    undecided: str | None
    """Why the gland could not be worked out, where it could not; what depends on it is as the rules usually have it."""
    ring: str | None
    """Number of the O-ring in its series."""
    duty: Duty
    asked: Gland
    """The gland as far as it is stated."""
    held: GlandJudged | None
    """The gland as it was judged; ``None`` where it could not be."""

    @property
    def remark(self) -> str | None:
        """What is said where the gland could not be worked out."""
        if self.undecided is None:
            return None
        return f"The gland could not be worked out ({self.undecided}): bore and width are those the rules usually have."

    @property
    def supplied(self) -> Mapping[str, str]:
        """Rules that gave bore and width where they are not stated, by the names of the size."""
        if self.held is not None:
            pointers = {"/duty/bore/diameter": "bore", "/gland/seal_width": "width"}
            return {
                pointers[item.pointer]: item.rule for item in self.held.resolved.assumed if item.pointer in pointers
            }
        rules = {"bore": "gland.nominal_sizes", "width": f"sizing.{self.case.family}.axial_width"}
        stated = {"bore": self.duty.bore.diameter, "width": self.asked.seal_width}
        return {name: rule for name, rule in rules.items() if stated[name] is None}


def read(request: Drawn, result: Mapping[str, Json], engine: Engine) -> Drawable:
    """Read what to draw of a request that names a duty, and of its answer where that chose the design."""
    design = request.design if request.design is not None else _DESIGN.validate_python(result["design"])
    asked = getattr(request, "gland", None) or Gland()
    width = getattr(request, "axial_width", None)
    if width is not None:
        asked = asked.model_copy(update={"seal_width": width})
    return drawable(request.duty, design, asked, engine.rules(request))


def drawable(duty: Duty, design: Design, asked: Gland, rules: RuleSet, held: GlandJudged | None = None) -> Drawable:
    """Read what to draw of a design in its gland; ``held`` is that gland where it was judged before."""
    case = build(duty, design, rules)
    undecided = None
    try:
        if held is None:
            check_gland_fits(duty, design, asked)
            held = gland.judge(duty, design, asked, rules)
    except ValidationError as error:
        undecided = fault_in_words(error.errors(include_url=False, include_input=False)[0])
    except PydanticCustomError as error:
        undecided = error.message()
    numbers = _of_case(case) | _of_gland(case, held, asked, duty)
    size = SealSize(family=case.family, shares=shares_of(case.data), **_choices_of(case), **numbers)
    return Drawable(size, _limits(held), case, design, undecided, _ring(held), duty, asked, held)


@OncePerRuleSet
def shares_of(data: RuleSetData) -> Shares:
    """Return the shares of a rule set that sections are drawn by."""
    return Shares(*(getattr(data.blank.drawn, name).si for name in Shares._fields))


class _Choices(TypedDict):
    """Those of a case that are drawn, by the names of the size."""

    second_lip: str
    lip_form: str
    lip_direction: str
    energizer: str
    retention: str


def _choices_of(case: Case) -> _Choices:
    row = case.row[0]
    directions = {0: "toward", 1: "away"}
    return {
        "second_lip": SecondLip(int(row["second_lip"])).name,
        "lip_form": LipForm(int(row["lip_form"])).name,
        "lip_direction": directions[int(row["lip_direction"])] if "lip_direction" in row.dtype.names else "toward",
        "energizer": case.energizer or "none",
        "retention": case.features["retention"],
    }


def _of_case(case: Case) -> dict[str, float]:
    row, data = case.row[0], case.data
    flexible = case.family == "flexible_lip"
    found: dict[str, float] = {
        name: float(row[name]) if name in row.dtype.names else nan for name in OF_CASE
    }  # fmt: skip
    return found | {
        "shaft": float(case.shaft_diameter),
        "band_share": data.sizing.flexible_lip.band_length_share.si
        if flexible and row["reinforcing_band"] == 1
        else nan,
        "wall_share": data.blank.outer_wall_share.si if flexible else nan,
    }


def _of_gland(case: Case, held: GlandJudged | None, asked: Gland, duty: Duty) -> dict[str, float]:
    data = case.data
    sizing = data.sizing.flexible_lip if case.family == "flexible_lip" else data.sizing.energized_lip
    if held is None:
        bore = duty.bore.diameter or propose_bore(case)
        curve = sizing.axial_width
        width = asked.seal_width or float(np.interp(case.shaft_diameter, curve.si_x, curve.si_y))
        found: dict[str, float] = {"bore": float(bore), "body": float(bore), "width": float(width)}
        throat = asked.throat_diameter
        found["throat"] = nan if throat is None else float(throat.nominal)
    else:
        found = {name: float(held.row[name]) for name in _OF_HARDWARE}
    if case.family != "flexible_lip":
        if held is not None:
            found["heel"] = float(held.row["heel"])
        elif asked.heel_thickness is not None:
            found["heel"] = float(asked.heel_thickness)
        else:
            curve = data.sizing.energized_lip.heel_thickness
            ratio = data.sizing.energized_lip.extended_heel_ratio.si if case.features["heel"] == "extended" else 1.0
            found["heel"] = float(np.interp(case.shaft_diameter, curve.si_x, curve.si_y)) * ratio
    table = data.gland.housing_bore
    found["bore_chamfer"] = size_step_value(
        found["width"], table.si_over, table.si_up_to, table.si_columns["chamfer_min"]
    )
    return found


def _limits(held: GlandJudged | None) -> dict[str, Limits]:
    if held is None:
        return {}
    row, classes = held.row, held.resolved.classes
    return {
        name: Limits(float(row[f"{name}_low"]), float(row[f"{name}_high"]), classes.get(name))
        for name in _TOLERANCED
        if isfinite(row[f"{name}_low"]) and isfinite(row[f"{name}_high"])
    }


def _ring(held: GlandJudged | None) -> str | None:
    if held is None or held.row["dash"] < 0:
        return None
    return f"AS568-{held.row['dash']:03d}"
