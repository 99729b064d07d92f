"""The record of one case: a row of a table for machine code, a namespace of leaves for a trace.

A number that is not stated is NaN, a name that is not chosen -1.
"""

from __future__ import annotations

import struct
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import numpy as np

from glandwise.case import choices
from glandwise.numerics.docstring import Quantity, attributes
from glandwise.numerics.trace import Choice, Traced, leaf

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence


class Case:
    """One case."""

    shaft_diameter: float
    """d [m]: Shaft diameter"""
    rotational_speed: float
    """n [rev/s]: Rotational speed, of an oscillation that of the same mean surface speed"""
    surface_speed: float
    """v_mean [m/s]: Mean surface speed"""
    peak_speed: float
    """v_peak [m/s]: Peak surface speed"""
    half_amplitude: float
    """theta [rad]: Half of the total swing"""
    frequency: float
    """f [1/s]: Frequency of the swing"""
    pressure: float
    """p [Pa]: Sealed pressure, gauge"""
    temperature_min: float
    """T_low [K]: Lowest temperature"""
    temperature: float
    """T [K]: Normal temperature"""
    temperature_max: float
    """T_high [K]: Highest temperature"""
    runout: float
    """TIR [m]: Dynamic runout of the shaft, total indicator reading"""
    offset: float
    """a [m]: Static offset of shaft to bore"""
    hardness: float
    """H [-]: Hardness of the shaft, HRC"""
    roughness: float
    """Ra [m]: Roughness of the shaft"""
    target_life: float
    """t_want [s]: Life that is wanted"""
    lip_thickness: float
    """t [m]: Lip thickness"""
    lip_length: float
    """L_lip [m]: Lip length"""
    interference: float
    """i [m]: Interference on the diameter, free"""
    contact_width: float
    """b_w [m]: Width of the worn-in contact"""
    bore_angle: float
    """alpha [rad]: Angle of the bore of the lip to the axis, free"""
    spring_place: float
    """f_F [-]: Place of the spring on the lip, from its root, over the free length"""
    v_thickness: float
    """t_v [m]: Strip thickness of the V energizer"""
    v_length: float
    """L_v [m]: Finger length of the V energizer"""
    v_angle: float
    """phi_v [rad]: Angle of a finger of the V energizer to the axis"""
    v_coverage: float
    """c_v [-]: Share of the circumference that the fingers cover"""
    v_deflection: float
    """delta_v [m]: Deflection of the V energizer as fitted"""
    coil_wire: float
    """d_w [m]: Wire diameter of the canted coil"""
    coil_height: float
    """h_coil [m]: Height of the canted coil"""
    coil_width: float
    """w_coil [m]: Width of the canted coil"""
    coil_pitch: float
    """p_coil [m]: Pitch of the canted coil"""
    coil_angle: float
    """phi_coil [rad]: Cant angle of the coil"""
    coil_deflection: float
    """delta_coil [m]: Deflection of the canted coil as fitted"""
    garter_wire: float
    """d_g [m]: Wire diameter of the garter"""
    garter_coil: float
    """D_g [m]: Mean coil diameter of the garter"""
    garter_length: float
    """L_g [m]: Free developed length of the garter"""
    garter_tension: float
    """F_i [N]: Initial tension of the garter"""
    garter_coils: float
    """N_g [-]: Active coils of the garter"""
    family: int
    """[Family]: Family"""
    energizer: int
    """[Energizer]: Energizer"""
    lubrication: int
    """[Lubrication]: Lubrication"""
    medium: int
    """[Medium]: Medium around the contact"""
    lubricant: int
    """[Name]: Fluid that wets the lip"""
    second_lip: int
    """[SecondLip]: Second lip"""
    lip_form: int
    """[LipForm]: Form of the lip"""
    lip_direction: int
    """[LipDirection]: Where the tip of the lip points"""
    width_by: int
    """[WidthBy]: Where the contact width comes from"""
    reinforcing_band: int
    """[Bool]: Reinforcing band"""
    retention: int
    """[Retention]: What holds the seal in its bore"""
    heel: int
    """[Heel]: Heel of an energized lip"""
    compound: int
    """[Name]: Compound"""
    fluid: int
    """[Name]: Fluid"""
    alloy: int
    """[Name]: Alloy of the energizer"""
    elastomer: int
    """[Name]: Elastomer of the O-ring"""
    shaft_material: int
    """[Name]: Shaft material"""
    housing_material: int
    """[Name]: Material of the housing"""
    rating: int
    """[Name]: Ratings of the design"""
    lead: int
    """[Lead]: Machining lead"""
    dirt: int
    """[Dirt]: Dirt on the air side"""
    application: int
    """[Application]: Machine"""
    food_contact: int
    """[Bool]: Food contact"""


FIELDS: Mapping[str, Quantity] = attributes(Case)
NAMES = tuple(name for name, q in FIELDS.items() if q.is_choice)
"""Fields that hold a code."""
NUMBERS = tuple(name for name in FIELDS if name not in NAMES)
DTYPE = np.dtype([(name, "i8" if name in NAMES else "f8") for name in FIELDS], align=True)
"""Row of a table of cases."""
OPEN = (
    "lubrication",
    "lubricant",
    "compound",
    "fluid",
    "alloy",
    "elastomer",
    "shaft_material",
    "housing_material",
    "rating",
)
"""Names that can be left open; the other choices begin at 0 with the usual one, or with that nothing is stated."""
_ENUMS = {name: getattr(choices, FIELDS[name].unit, None) for name in NAMES}


def _nothing() -> np.ndarray[Any, Any]:
    row = np.zeros(1, DTYPE)
    for name in NUMBERS:
        row[name] = np.nan
    for name in OPEN:
        row[name] = -1
    return row


_WHOLE = np.dtype(f"V{DTYPE.itemsize}")
"""A row as it lies in memory: field by field, which is the usual way, copying takes fifty times as long."""
_NOTHING = _nothing().view(_WHOLE)


def table(count: int) -> np.ndarray[Any, Any]:
    """Return a table of cases of which nothing is known."""
    return np.repeat(_NOTHING, count).view(DTYPE)


def code(name: str, value: Any, words: str = "") -> Choice:
    """Return a code of a case with its words."""
    enum = _ENUMS[name]
    return Choice(int(value), FIELDS[name].title.lower(), words or (enum(value).name if enum else str(int(value))))


def leaves(row: Any, sources: Mapping[str, str], names: Mapping[str, str]) -> SimpleNamespace:
    """Return one row as leaves of a trace.

    ``sources`` says of a number where it comes from if not from the request, ``names`` what a code stands for.
    """
    found: dict[str, Choice | Traced] = {}
    for name, q in FIELDS.items():
        if name in NAMES:
            found[name] = code(name, row[name], names.get(name, ""))
        else:
            found[name] = leaf(float(row[name]), q, sources.get(name, "request"))
    return SimpleNamespace(**found)


_LAYOUT = struct.Struct("=" + "".join("q" if name in NAMES else "d" for name in FIELDS))


def one(values: Sequence[Any]) -> np.ndarray[Any, Any]:
    """Return a table of one row, of its values in the order of the fields."""
    return np.frombuffer(bytearray(_LAYOUT.pack(*values)), DTYPE)


def copied(rows: Any) -> Any:
    """Return a copy of some rows."""
    return rows.view(_WHOLE).copy().view(DTYPE)


def chosen(rows: Any, index: Any) -> Any:
    """Return some of many rows: a slice, or those that are marked or numbered."""
    whole = rows.view(_WHOLE)
    if isinstance(index, slice):
        return whole[index].view(DTYPE)
    index = np.asarray(index)
    return whole.take(np.flatnonzero(index) if index.dtype == bool else index).view(DTYPE)


def joined(parts: Iterable[Any]) -> Any:
    """Return several tables as one."""
    return np.concatenate([part.view(_WHOLE) for part in parts]).view(DTYPE)
