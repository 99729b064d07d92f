"""The proposed seal as numbers: read from what the single questions found, nothing is worked out here."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from typing import TYPE_CHECKING

from glandwise.case.choices import Retention
from glandwise.case.vocabulary import NUMBERS
from glandwise.contract.quantities import measured
from glandwise.json_values import JsonObject
from glandwise.questions.arrays import Row

if TYPE_CHECKING:
    from glandwise.case.intake import Case
    from glandwise.questions.blank.operation import Estimate
    from glandwise.questions.gland.operation import GlandJudged
    from glandwise.units import UnitSystem

_LIP = ("lip_thickness", "lip_length", "interference", "contact_width")


class _Sheet:
    """Writes dimensions with what the rules supplied of them, by the pointers of the assumptions."""

    def __init__(self, supplied: Mapping[str, str], units: UnitSystem) -> None:
        self.supplied, self.units = supplied, units

    def origin(self, field: str | None) -> JsonObject:
        """Say where a number comes from that an enquiry states in a field."""
        if field is None:
            return {"origin": "derived", "rule": None, "given_in": None}
        # an O-ring and a groove are supplied as a whole
        rule = next((self.supplied[name] for name in (field, field.rpartition("/")[0]) if name in self.supplied), None)
        return {"origin": "stated" if rule is None else "rules", "rule": rule, "given_in": field}

    def length(
        self, field: str | None, nominal: float, ends: tuple[float, float] | None = None, name: str | None = None
    ) -> JsonObject | None:
        """Write a length; ``None`` where it is not known."""
        if not isfinite(nominal):
            return None
        low, high = (None, None) if ends is None else map(float, ends)
        return {
            "nominal": self.units.quantity("length", float(nominal)),
            "minimum": self.units.optional("length", low),
            "maximum": self.units.optional("length", high),
            "tolerance_class": name,
            **self.origin(field),
        }

    def of_row(self, field: str | None, row: Row, name: str, tolerance: str | None = None) -> JsonObject | None:
        """Write a size of the hardware with its limits."""
        return self.length(field, row[name], (row[f"{name}_low"], row[f"{name}_high"]), tolerance)

    def energizer(self, case: Case) -> JsonObject | None:
        """Write the energizer of a case."""
        kind = case.energizer
        if kind is None:
            return None
        numbers: list[JsonObject] = []
        for number in NUMBERS.values():
            head, _, name = number.place.rpartition(".")
            if head == f"design.{kind}":
                held = measured(number.model, name)
                assert held is not None
                value = self.units.optional(held.dimension, float(case.row[number.field][0]))
                if value is not None:
                    numbers.append({"name": name, "value": value, **self.origin(f"/design/{kind}/{name}")})
        alloy = next((name for name, record in case.data.alloys.items() if record is case.alloy), None)
        return {"kind": kind, "alloy": alloy, "numbers": numbers}

    def o_ring(self, held: GlandJudged) -> JsonObject | None:
        """Write O-ring and groove."""
        if held.retention != Retention.o_ring or not held.has_ring:
            return None
        row = held.row
        return {
            "elastomer": held.case.elastomer_name,
            "dash": None if row["dash"] < 0 else int(row["dash"]),
            "inner_diameter": self.of_row("/gland/o_ring/inner_diameter", row, "ring_inner"),
            "section": self.of_row("/gland/o_ring/section", row, "ring_section"),
            "groove_diameter": self.of_row("/gland/groove/diameter", row, "groove"),
            "groove_width": self.of_row("/gland/groove/width", row, "groove_width"),
        }

    def case(self, held: GlandJudged) -> JsonObject | None:
        """Write the metal case."""
        row = held.row
        if held.retention != Retention.press_fit_case or not isfinite(row["case"]):
            return None
        return {
            "outer_diameter": self.of_row("/gland/case/outer_diameter", row, "case"),
            "wall_thickness": self.length("/gland/case/wall_thickness", row["case_wall"]),
            "length": self.length("/gland/case/length", row["case_length"]),
        }

    def clamp(self, held: GlandJudged) -> JsonObject | None:
        """Write the clamped flange."""
        if held.retention != Retention.clamped_flange:
            return None
        stated = held.gland.clamp is not None and held.gland.clamp.outer_diameter is not None
        return {
            "inner_diameter": self.length("/gland/clamp/inner_diameter", held.row["clamp_inner"]),
            "outer_diameter": self.length("/gland/clamp/outer_diameter" if stated else None, held.row["clamp_outer"]),
        }


def dimensions(case: Case, held: GlandJudged | None, made: Estimate | None, units: UnitSystem) -> JsonObject:
    """Write the seal of a case, in its gland where that could be judged, as made where that could be worked out."""
    told = [*case.assumed, *(() if held is None else held.case.assumed)]
    sheet = _Sheet({item.pointer: item.rule for item in told}, units)
    found: JsonObject = dict.fromkeys(
        (
            "bore_diameter",
            "body_diameter",
            "throat_diameter",
            "axial_width",
            "heel_thickness",
            "o_ring",
            "case",
            "clamp",
        )
    )
    if held is None:
        shaft = sheet.length("/duty/shaft_diameter", case.shaft_diameter)
    else:
        row, classes = held.row, held.resolved.classes
        shaft = sheet.of_row("/duty/shaft_diameter", row, "shaft", classes.get("shaft"))
        heel = "/gland/heel_thickness"
        is_lip = case.family == "flexible_lip" and held.gland.heel_thickness is None
        found |= {
            "bore_diameter": sheet.of_row("/duty/bore/diameter", row, "bore", classes.get("bore")),
            "body_diameter": sheet.of_row("/gland/body_diameter", row, "body", classes.get("body")),
            "throat_diameter": sheet.of_row("/gland/throat_diameter", row, "throat", classes.get("throat")),
            "axial_width": sheet.length("/gland/seal_width", row["width"]),
            # the lip of a flexible one is what bridges the gap
            "heel_thickness": sheet.length(None if is_lip else heel, row["heel"]),
            "o_ring": sheet.o_ring(held),
            "case": sheet.case(held),
            "clamp": sheet.clamp(held),
        }
    return {
        "shaft_diameter": shaft,
        **found,
        "lip_bore": None if made is None else sheet.length(None, made.found.part["inner"]),
        **{name: sheet.length(f"/design/{name}", getattr(case, name)) for name in _LIP},
        "energizer": sheet.energizer(case),
    }
