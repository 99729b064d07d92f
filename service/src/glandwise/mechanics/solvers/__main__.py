"""Make the tables again from their solvers: ``python -m glandwise.mechanics.solvers``; a few minutes."""

from __future__ import annotations

from glandwise.mechanics.solvers import coil_table, finger_table, ring_table

for table in (finger_table, coil_table, ring_table):
    table.build()
