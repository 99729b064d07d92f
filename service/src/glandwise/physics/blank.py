"""What machining a number of seals takes: the part, the stock it is turned from, pieces and masses, and the caller's money."""

from __future__ import annotations

from math import nan, pi
from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.choices import StockForm
from glandwise.numerics.arithmetic import greatest, whole_above, whole_below
from glandwise.numerics.interpolation import CurveRecord, curve_at
from glandwise.numerics.lives import Constant

if TYPE_CHECKING:
    from glandwise.case.blank_order import BlankNumbers, BlankOrder

HOUR = Constant(3600.0, "t_hour", "s", "definition of the unit", "One hour")
WHOLE = 1e-9
"""Lengths written in decimals may divide to a hair less than a whole number."""

# ------------------------------------------------------------------------------------------------------------- the part


class Part(NamedTuple):
    """Finished part."""

    outer: float
    """[m]"""
    inner: float
    """[m]"""
    width: float
    """[m]"""
    volume: float
    """[m³]"""
    lip_thickness: float
    """[m]"""
    lip_length: float
    """[m]"""
    interference: float
    """On the diameter [m]."""


def by_shaft(stated: float, usual: CurveRecord, d: float) -> float:
    """Return what is stated, else what is usual for a diameter."""
    if stated == stated:
        return stated
    return curve_at(usual, d)


def part(o: BlankOrder) -> Part:
    """Finished part: the extents of its drawn section, and the volume that it has turned about the axis.

    Returns
    -------
    D_1 : m
        Part, outer diameter.
    d_1 : m
        Part, bore.
    w : m
        Axial width of the part.
    V : m³
        Part, volume.
    t : m
        Lip thickness.
    L_lip : m
        Lip length.
    i : m
        Interference on the diameter, free.
    """
    i = o.interference
    d_1 = greatest(o.shaft_diameter - i, 0.0)  # part, bore
    return Part(o.part_outer, d_1, o.part_width, o.part_volume, o.lip_thickness, o.lip_length, i)


# ------------------------------------------------------------------------------------------------------------ the stock


class Stock(NamedTuple):
    """Stock and allowances."""

    is_tube: float
    """1 for tube, 0 for rod."""
    outer: float
    """[m]"""
    inner: float
    """0 for a rod [m]."""
    length: float
    """[m]"""
    pitch: float
    """Length of stock per piece [m]."""
    least_outer: float
    """[m]"""
    greatest_inner: float
    """0 or less where no tube has so small a bore [m]."""
    tube_bore: float
    """Bore of the tube that gives every allowance, in steps [m]."""
    outer_allowance: float
    inner_allowance: float
    face: float
    parting: float
    chucking: float
    reject_share: float


def is_tube(o: BlankOrder, rules: BlankNumbers, d_step: float) -> float:
    """Whether the seals are turned from tube: as stated, else where a tube has so small a bore.

    Parameters
    ----------
    d_step : m
        Bore that gives every allowance, in steps.

    Returns
    -------
    tube : -
        1 for tube, 0 for rod.
    """
    if o.form == StockForm.tube:
        return 1.0
    if o.form == StockForm.rod:
        return 0.0
    if o.stock_inner == o.stock_inner:
        return 1.0
    if d_step >= rules.tube_bore_min:
        return 1.0
    return 0.0


def stock_bore(o: BlankOrder, tube: float, d_step: float) -> float:
    """Bore of the stock.

    Parameters
    ----------
    tube : -
        1 for tube, 0 for rod.
    d_step : m
        Bore that gives every allowance, in steps.

    Returns
    -------
    d_b : m
        Stock, bore; a rod has none.
    """
    if tube == 0.0:
        return 0.0
    if o.stock_inner == o.stock_inner:
        return o.stock_inner
    return d_step


def stock_outer(o: BlankOrder, rules: BlankNumbers, D_least: float) -> float:
    """Outer diameter of the stock: as stated, else the next step.

    Parameters
    ----------
    D_least : m
        Least outer diameter.

    Returns
    -------
    D_b : m
        Stock, outer diameter.
    """
    if o.stock_outer == o.stock_outer:
        return o.stock_outer
    return whole_above(D_least / rules.diameter_step - WHOLE) * rules.diameter_step


def stock_length(o: BlankOrder, rules: BlankNumbers, tube: float) -> float:
    """Length of one piece of stock: as stated, else the usual one of tube or rod.

    Parameters
    ----------
    tube : -
        1 for tube, 0 for rod.

    Returns
    -------
    L_b : m
        Length of one piece of stock.
    """
    if o.stock_length == o.stock_length:
        return o.stock_length
    if tube == 1.0:
        return rules.tube_length
    return rules.rod_length


def reject_share(o: BlankOrder, rules: BlankNumbers) -> float:
    """Share of pieces lost: as stated, else the usual one."""
    if o.reject_share == o.reject_share:
        return o.reject_share
    return rules.reject_share


def stock(o: BlankOrder, rules: BlankNumbers, D_1: float, d_1: float, w: float) -> Stock:
    """Stock and allowances for a part.

    Parameters
    ----------
    D_1 : m
        Part, outer diameter.
    d_1 : m
        Part, bore.
    w : m
        Axial width of the part.

    Returns
    -------
    tube : -
        1 for tube, 0 for rod.
    D_b : m
        Stock, outer diameter.
    d_b : m
        Stock, bore.
    L_b : m
        Length of one piece of stock.
    l_b : m
        Length of stock per piece.
    D_least : m
        Blank, least outer diameter.
    d_most : m
        Blank, greatest bore.
    d_step : m
        Blank, greatest bore in steps of stock.
    a_o : m
        Allowance on the outer diameter, radial.
    a_i : m
        Allowance in the bore, radial.
    a_f : m
        Allowance on each face.
    a_p : m
        Width of the parting cut.
    a_c : m
        Remnant in the chuck.
    f_rej : -
        Share of pieces lost.
    """
    a_o = by_shaft(o.outer_allowance, rules.outer_allowance, D_1)
    a_i = by_shaft(o.inner_allowance, rules.inner_allowance, D_1)
    a_f = by_shaft(o.face_allowance, rules.face_allowance, D_1)
    a_p = by_shaft(o.parting_width, rules.parting_width, D_1)
    a_c = by_shaft(o.chucking_remnant, rules.chucking_remnant, D_1)
    D_least = D_1 + 2.0 * a_o  # blank, least outer diameter
    d_most = d_1 - 2.0 * a_i  # blank, greatest bore
    d_step = whole_below(d_most / rules.diameter_step + WHOLE) * rules.diameter_step
    tube = is_tube(o, rules, d_step)
    D_b, d_b = stock_outer(o, rules, D_least), stock_bore(o, tube, d_step)
    L_b = stock_length(o, rules, tube)
    l_b = w + 2.0 * a_f + a_p  # length of stock per piece
    f_rej = reject_share(o, rules)
    return Stock(tube, D_b, d_b, L_b, l_b, D_least, d_most, d_step, a_o, a_i, a_f, a_p, a_c, f_rej)


# ------------------------------------------------------------------------------------------------------------ the order


class Taken(NamedTuple):
    """What the whole order takes."""

    per_length: float
    to_make: float
    lengths: float
    used_length: float
    """[m]"""
    part_mass: float
    """[kg]"""
    blank_mass: float
    """Of the stock length of one piece [kg]."""
    net_mass: float
    """Of the seals wanted [kg]."""
    used_mass: float
    """[kg]"""
    stock_mass: float
    """[kg]"""
    yield_of_used: float
    yield_of_stock: float


def taken(o: BlankOrder, rules: BlankNumbers, V: float, s: Stock) -> Taken:
    """Pieces, lengths and masses of an order; lengths are cut one after another.

    Parameters
    ----------
    V : m³
        Part, volume.

    Returns
    -------
    N_l : -
        Pieces from one length.
    N_m : -
        Pieces to make.
    N_s : -
        Lengths of stock.
    L_used : m
        Length used.
    m_1 : kg
        Mass of one part.
    m_l : kg
        Mass of the stock length of one piece.
    m_net : kg
        Mass of the seals wanted.
    m_used : kg
        Mass used.
    m_stock : kg
        Mass of the stock.
    y_used : -
        Yield of what is used.
    y_stock : -
        Yield of the stock.
    """
    rho = rules.density
    N_l = greatest(whole_below((s.length - s.chucking) / s.pitch + WHOLE), 0.0)  # pieces from one length
    N_m = whole_above(o.pieces / (1.0 - s.reject_share) - WHOLE)  # pieces to make
    N_s = whole_above(N_m / N_l)  # lengths of stock
    L_used = N_m * s.pitch + N_s * s.chucking  # length used
    m_b = pi * 0.25 * (s.outer**2 - s.inner**2) * rho  # mass of stock per length
    m_net = o.pieces * V * rho  # mass of the seals wanted
    m_used = L_used * m_b  # mass used
    m_stock = N_s * s.length * m_b  # mass of the stock
    return Taken(
        N_l, N_m, N_s, L_used, V * rho, s.pitch * m_b, m_net, m_used, m_stock, m_net / m_used, m_net / m_stock
    )  # fmt: skip


class Money(NamedTuple):
    """The caller's rates times the quantities; NaN where a rate is not stated."""

    material: float
    machining: float
    total: float
    per_piece: float


def money_for_stock(o: BlankOrder, m_stock: float) -> float:
    """Money for the stock.

    Parameters
    ----------
    m_stock : kg
        Mass of the stock.

    Returns
    -------
    c_stock : -
        Stock, in the currency of the rates.
    """
    if o.price == o.price:
        return o.price * m_stock / o.price_mass
    return nan


def money_for_machine(o: BlankOrder, N_m: float) -> float:
    """Money for the machine.

    Parameters
    ----------
    N_m : -
        Pieces to make.

    Returns
    -------
    c_machine : -
        Machining, in the currency of the rates.
    """
    if o.hourly == o.hourly:
        return o.hourly * (N_m * o.time_per_piece + o.setup_time) / HOUR
    return nan


def money(o: BlankOrder, m_stock: float, N_m: float) -> Money:
    """Money that an order takes, by the rates of the caller.

    Parameters
    ----------
    m_stock : kg
        Mass of the stock.
    N_m : -
        Pieces to make.

    Returns
    -------
    c_stock : -
        Stock, in the currency of the rates.
    c_machine : -
        Machining, in the currency of the rates.
    c_all : -
        Altogether, in the currency of the rates.
    c_1 : -
        Per piece, in the currency of the rates.
    """
    c_stock = money_for_stock(o, m_stock)
    c_machine = money_for_machine(o, N_m)
    c_all = 0.0
    if c_stock == c_stock:
        c_all = c_stock
        if c_machine == c_machine:
            c_all = c_stock + c_machine  # altogether, in the currency of the rates
    elif c_machine == c_machine:
        c_all = c_machine
    return Money(c_stock, c_machine, c_all, c_all / o.pieces)
