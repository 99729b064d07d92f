"""The record of a number of seals to be machined from stock, and the numbers of the rules that it takes."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, NamedTuple

import numpy as np

from glandwise.case.shape import Shape
from glandwise.case.tables import CURVE, POINTS, source_of
from glandwise.numerics.docstring import attributes
from glandwise.numerics.interpolation import CurveRecord
from glandwise.numerics.trace import TracedCurve, leaf
from glandwise.rules.model import Compound, RuleSetData
from glandwise.rules.once import OncePerRuleSet


class BlankOrder:
    """A number of seals of one design; what the request does not state is NaN, but the sizes of the part."""

    form: int
    """[StockForm]: Form of the stock"""
    shaft_diameter: float
    """d [m]: Shaft diameter"""
    part_outer: float
    """D_1 [m]: Part, outer diameter"""
    part_width: float
    """w [m]: Axial width of the part"""
    lip_thickness: float
    """t [m]: Lip thickness"""
    lip_length: float
    """L_lip [m]: Lip length"""
    interference: float
    """i [m]: Interference on the diameter, free"""
    part_volume: float
    """V [m³]: Part, volume"""
    pieces: float
    """N [-]: Pieces wanted"""
    outer_allowance: float
    """a_o [m]: Allowance on the outer diameter, radial"""
    inner_allowance: float
    """a_i [m]: Allowance in the bore, radial"""
    face_allowance: float
    """a_f [m]: Allowance on each face"""
    parting_width: float
    """a_p [m]: Width of the parting cut"""
    chucking_remnant: float
    """a_c [m]: Remnant in the chuck"""
    reject_share: float
    """f_rej [-]: Share of pieces lost"""
    stock_outer: float
    """D_b [m]: Stock, outer diameter"""
    stock_inner: float
    """d_b [m]: Stock, bore"""
    stock_length: float
    """L_b [m]: Length of one piece of stock"""
    price: float
    """c_m [-]: Price of stock for one unit of mass"""
    price_mass: float
    """m_per [kg]: Mass of one unit that stock is priced by"""
    hourly: float
    """c_h [-]: Price of an hour of the machine"""
    time_per_piece: float
    """t_1 [s]: Machine time per piece"""
    setup_time: float
    """t_0 [s]: Time of setting up"""


class BlankNumbers:
    """Numbers of the rules for one compound."""

    density: float
    """rho_c [kg/m³]: Density of the compound"""
    outer_allowance: CurveRecord
    """a_o [m]: Allowance on the outer diameter, radial"""
    inner_allowance: CurveRecord
    """a_i [m]: Allowance in the bore, radial"""
    face_allowance: CurveRecord
    """a_f [m]: Allowance on each face"""
    parting_width: CurveRecord
    """a_p [m]: Width of the parting cut"""
    chucking_remnant: CurveRecord
    """a_c [m]: Remnant in the chuck"""
    reject_share: float
    """f_rej [-]: Share of pieces lost"""
    diameter_step: float
    """D_step [m]: Step of stock diameters"""
    tube_bore_min: float
    """d_tube [m]: Least bore of a tube"""
    tube_length: float
    """L_b [m]: Usual length of tube"""
    rod_length: float
    """L_b [m]: Usual length of rod"""


SHAPE = Shape(BlankOrder)
NUMBERS = attributes(BlankNumbers)
DTYPE = np.dtype([(name, CURVE if q.is_curve else "f8") for name, q in NUMBERS.items()], align=True)


class OrderNumbers(NamedTuple):
    """Numbers of the rules: a table of one row, and leaves with the same names."""

    packed: Any
    leaves: SimpleNamespace

    def of(self, compound: Compound, name: str) -> OrderNumbers:
        """Return them with the density of a compound."""
        table, density = self.packed.copy(), compound.density
        table["density"] = density.si
        told = leaf(density.si, NUMBERS["density"], source_of(f"compounds.{name}.density", density), density)
        return OrderNumbers(table, SimpleNamespace(**{**vars(self.leaves), "density": told}))


@OncePerRuleSet
def order_numbers(data: RuleSetData) -> OrderNumbers:
    """Return the numbers of a rule set; the density is that of no compound yet."""
    table, told = np.zeros(1, DTYPE), dict[str, Any]()
    for name, q in NUMBERS.items():
        if name == "density":
            continue
        record = getattr(data.blank, name)
        source = source_of(f"blank.{name}", record)
        if q.is_curve:
            row, count = table[name][0], len(record.si_x)
            assert count <= POINTS
            row["x"][:count], row["y"][:count], row["n"] = record.si_x, record.si_y, count
            told[name] = TracedCurve(q, record.si_x, record.si_y, source, record)
        else:
            table[name] = record.si
            told[name] = leaf(record.si, q, source, record)
    return OrderNumbers(table, SimpleNamespace(**told))
