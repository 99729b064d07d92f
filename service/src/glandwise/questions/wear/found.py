"""Running state and wear of a case, by machine code."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from glandwise.case import record
from glandwise.case.numbers import empty
from glandwise.case.ratings import tables_of
from glandwise.numerics.compiled import compiled, over_rows, ready
from glandwise.physics.heat_balance import AROUND, Running
from glandwise.physics.wear import EndedBy, Ends, Rates, Room, Wearing
from glandwise.questions.arrays import Row, Table
from glandwise.questions.friction.states import Subject
from glandwise.questions.wear import kernel


class Measured(NamedTuple):
    """What machine code finds of a case, SI; NaN where no balance of heat was found."""

    running: Running
    modelled: bool
    """Whether the energizer, if there is one, lies within the range of its model."""
    around: Row
    """Surroundings: a row."""
    room: Room
    """Depths that may wear."""
    target: float
    """Life that is wanted [s]."""
    rates: Rates
    worn: Wearing
    ends: Ends

    @property
    def by(self) -> EndedBy:
        """What ends the life."""
        return EndedBy(int(self.worn.by))


_kernel = compiled(kernel.wear)


def warm() -> None:
    """Compile, or read from disk, all that a request may need; nothing is compiled after that."""
    ready(_kernel, record.table(0), np.zeros(0, kernel.OUT), np.zeros(1, AROUND), 0.0, empty())


def over(subject: Subject, rows: Table) -> Table:
    """Find running state and wear of rows of a case that are filled in, as the kernel has them."""
    rules, tables = tables_of(subject.data, subject.compounds), (rows, np.zeros(len(rows), kernel.OUT))
    found: Table = over_rows(_kernel, tables, subject.stated, np.nan, rules)
    return found


def measured(subject: Subject, room: float) -> Measured:
    """Find running state and wear of a case; ``room`` is a wear that is stated in place of that of the rules, else NaN."""
    rules, tables = tables_of(subject.data, subject.compounds), (subject.rows, np.zeros(1, kernel.OUT))
    row = over_rows(_kernel, tables, subject.stated, room, rules)[0]
    return Measured(
        running=Running(*(row[name].item() for name in Running._fields)),
        modelled=bool(np.isfinite(row["spring_load"])),
        around=row["around"],
        room=Room(float(row["room_lip"]), float(row["room_energizer"])),
        target=float(row["target"]),
        rates=Rates(*(float(row[f"rate_{name}"]) for name in Rates._fields)),
        worn=Wearing(*(float(row[f"worn_{name}"]) for name in Wearing._fields)),
        ends=Ends(*(float(row[f"ends_{name}"]) for name in Ends._fields)),
    )
