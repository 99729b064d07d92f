"""What the body of a section rests on: the records of the rules behind those sizes that can move its volume."""

from __future__ import annotations

from collections.abc import Hashable
from math import isfinite
from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.hardware_intake import size_of
from glandwise.numerics.trace import records
from glandwise.questions import told
from glandwise.questions.gland.explain import complete
from glandwise.rules.sourced import Records

if TYPE_CHECKING:
    from glandwise.drawing.seal import SealSize
    from glandwise.questions.section.found import Drawable

_LIP = ("lip_thickness", "lip_length", "interference", "bore_angle")
_OF_ENERGIZER = {
    "garter": ("spring_place", "garter_wire", "garter_coil"),
    "cantilever_v": ("contact_width", "spring_place", "v_thickness", "v_length", "v_angle", "v_deflection"),
    "canted_coil": ("contact_width", "spring_place", "coil_height", "coil_width", "coil_deflection"),
}
"""Sizes of the case that shape the cavity, by the energizer that lies in it."""


class RestsOn(NamedTuple):
    """Records behind the extents and the volume of a body."""

    outer: Records
    width: Records
    volume: Records


def _of_case(z: SealSize) -> tuple[str, ...]:
    return tuple(name for name in (*_LIP, *_OF_ENERGIZER.get(z.energizer, ())) if isfinite(getattr(z, name)))


def _outside(z: SealSize) -> tuple[str, ...]:
    if z.retention == "press_fit_case" and isfinite(z.case):
        return "bore", "case", "case_wall"
    return "bore", "body"


def _along(z: SealSize) -> tuple[str, ...]:
    if z.retention == "press_fit_case" and isfinite(z.case):
        return "bore", "width", "case_wall"  # the usual width is that of a bore
    return "bore", "width"


def _of_gland(z: SealSize) -> tuple[str, ...]:
    names = [*_outside(z), "width"]
    if z.retention == "o_ring":
        names += ["groove", "groove_width"]
    if z.family != "flexible_lip":
        names.append("heel")
    elif z.retention == "clamped_flange":
        names.append("clamp_inner")
    return tuple(name for name in names if isfinite(getattr(z, name)))


def _shares(found: Drawable) -> Records:
    """Return the records of the shares that are drawn."""
    z, data = found.size, found.case.data
    shares, used = data.blank.drawn, ["least_clearance", "fillet", "chamfer"]
    if not isfinite(z.bore_angle):
        used.append("root_over_interference")
    if z.energizer in _OF_ENERGIZER and not z.spring_place > 0.0:
        used.append("spring_place")
    if z.second_lip != "none":
        used += ["web", "second_lip_thickness", "second_interference"]
    if z.lip_form == "tapered":
        used.append("taper")
    if z.family != "flexible_lip":
        return tuple(getattr(shares, name) for name in (*used, "lead_in"))
    used.append("recess")
    more = [data.blank.outer_wall_share]
    if isfinite(z.band_share):
        used.append("band_thickness")
        more.append(data.sizing.flexible_lip.band_length_share)
    return (*(getattr(shares, name) for name in used), *more)


def _of_usual(found: Drawable, name: str) -> Records:
    """Return the records of a size of a gland that could not be worked out."""
    data, sizing = found.case.data, getattr(found.case.data.sizing, found.case.family)
    if name in {"bore", "body"}:
        return (data.gland.nominal_sizes, sizing.radial_section) if "bore" in found.supplied else ()
    if name == "width":
        return (sizing.axial_width,) if "width" in found.supplied else ()
    if name == "heel" and found.asked.heel_thickness is None:
        extended = (sizing.extended_heel_ratio,) if found.case.features["heel"] == "extended" else ()
        return (sizing.heel_thickness, *extended)
    return ()


def names_of(found: Drawable) -> Hashable:
    """Return what decides which records a body rests on, beside the names of its case: no number but those of a search."""
    z, held = found.size, found.held
    sizes = _of_case(z), _of_gland(z), not z.spring_place > 0.0, isfinite(z.band_share)
    if held is None:
        return *sizes, tuple(found.supplied), found.asked.heel_thickness is None
    supplied = tuple((item.pointer, item.rule) for item in (*held.resolved.assumed, *held.resolved.assumed_last))
    if not (held.has_ring and held.is_groove_proposed):
        return *sizes, supplied
    # a groove is looked for over the temperatures; which strains are known there hangs on them
    return *sizes, supplied, _series(found), *held.temperatures, float(found.case.pressure)


def _series(found: Drawable) -> str | None:
    """Return the series of the O-ring that a groove was made for, where it was chosen of one."""
    held = found.held
    sized = None if held is None or held.row["dash"] < 0 else size_of(found.case.data, int(held.row["dash"]))
    return None if sized is None else sized[0]


def rests_on(found: Drawable) -> RestsOn:
    """Return the records of the rules behind the extents and the volume of a body."""
    z, held, case = found.size, found.held, found.case
    if held is not None:
        of_case, hardware = held.told.case, held.told.hardware
    else:
        of_case, rules = told.leaves_of(case, found.duty, case.row[0])
        complete(of_case, rules)

    def of_gland(*names: str) -> Records:
        if held is None:
            return tuple(record for name in names for record in _of_usual(found, name))
        return records(*(getattr(hardware, name) for name in names))

    chosen = _series(found) if held is not None and held.is_groove_proposed else None
    series = () if chosen is None else (case.data.o_rings.as568[chosen],)
    volume = (
        *records(*(getattr(of_case, name) for name in _of_case(z))), *of_gland(*_of_gland(z)), *series, *_shares(found),
    )  # fmt: skip
    return RestsOn(of_gland(*_outside(z)), of_gland(*_along(z)), volume)
