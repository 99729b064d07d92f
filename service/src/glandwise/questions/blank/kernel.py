"""What machine code runs over a table of orders: part, stock, quantities and money of each row."""

from __future__ import annotations

import numpy as np

from glandwise.physics.blank import Money, Part, Stock, Taken, money, part, stock, taken
from glandwise.questions.arrays import Compiled

PARTS = (("part", Part), ("stock", Stock), ("taken", Taken), ("money", Money))
OUT = np.dtype([(name, [(field, "f8") for field in kind._fields]) for name, kind in PARTS])


def orders(rows: Compiled, out: Compiled, numbers: Compiled) -> None:
    """Part, stock, quantities and money of every order; ``numbers`` are those of its compound, in one row."""
    rules = numbers[0]
    for index in range(len(rows)):
        o, row = rows[index], out[index]
        p = part(o)
        s = stock(o, rules, p.outer, p.inner, p.width)
        q = taken(o, rules, p.volume, s)
        c = money(o, q.stock_mass, q.to_make)
        row.part.outer = p.outer
        row.part.inner = p.inner
        row.part.width = p.width
        row.part.volume = p.volume
        row.part.lip_thickness = p.lip_thickness
        row.part.lip_length = p.lip_length
        row.part.interference = p.interference
        row.stock.is_tube = s.is_tube
        row.stock.outer = s.outer
        row.stock.inner = s.inner
        row.stock.length = s.length
        row.stock.pitch = s.pitch
        row.stock.least_outer = s.least_outer
        row.stock.greatest_inner = s.greatest_inner
        row.stock.tube_bore = s.tube_bore
        row.stock.outer_allowance = s.outer_allowance
        row.stock.inner_allowance = s.inner_allowance
        row.stock.face = s.face
        row.stock.parting = s.parting
        row.stock.chucking = s.chucking
        row.stock.reject_share = s.reject_share
        row.taken.per_length = q.per_length
        row.taken.to_make = q.to_make
        row.taken.lengths = q.lengths
        row.taken.used_length = q.used_length
        row.taken.part_mass = q.part_mass
        row.taken.blank_mass = q.blank_mass
        row.taken.net_mass = q.net_mass
        row.taken.used_mass = q.used_mass
        row.taken.stock_mass = q.stock_mass
        row.taken.yield_of_used = q.yield_of_used
        row.taken.yield_of_stock = q.yield_of_stock
        row.money.material = c.material
        row.money.machining = c.machining
        row.money.total = c.total
        row.money.per_piece = c.per_piece
