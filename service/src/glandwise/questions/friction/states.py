"""Running states of a case with low, nominal and high friction: by machine code, and by a trace."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from types import SimpleNamespace
from typing import NamedTuple, TypeAlias

import numpy as np

from glandwise.case import record
from glandwise.case.numbers import Rules, empty
from glandwise.case.ratings import tables_of
from glandwise.contract.running import HeatSurroundings
from glandwise.mechanics.choices import LipRoot
from glandwise.numerics.compiled import compiled, over_rows, ready
from glandwise.numerics.trace import labelled, traced
from glandwise.physics import friction as physics
from glandwise.physics.energizer import Spring, spring_of
from glandwise.physics.friction import Level, LipFriction
from glandwise.physics.heat_balance import AROUND, Running, Surroundings, surroundings_with
from glandwise.physics.lip import Shape, shape_of
from glandwise.physics.temperatures import HottestContact
from glandwise.questions.arrays import Floats, Row, Table
from glandwise.questions.energizer_range import OUTSIDE
from glandwise.questions.friction import kernel
from glandwise.questions.friction.surroundings import leaves_of
from glandwise.rules.model import RuleSetData

NAMES = ("low", "nominal", "high")
"""Low: the lip has relaxed, low friction; nominal: after running in; high: a new lip, high friction."""
ROOTS = (LipRoot.lightest, LipRoot.elastic, LipRoot.heaviest)
"""What the root of the lip does: the law's own range of the load under pressure."""


Each: TypeAlias = float | Sequence[float] | Floats
"""A number that all cases have, or one of each."""


class State(NamedTuple):
    """A running state, SI; NaN where no balance of heat was found."""

    friction: float
    """Friction coefficient where solid contact bears all of the load [-]."""
    time: float
    """Under load [s]."""
    running: Running
    main: LipFriction
    second: LipFriction
    modelled: bool
    """Whether the energizer, if there is one, lies within the range of its model."""


def why_unknown(modelled: bool) -> str:
    """Say why there is no running state."""
    return "No balance of frictional heat was found: the lip would heat without bound." if modelled else OUTSIDE


_kernel = compiled(kernel.friction)


def warm() -> None:
    """Compile, or read from disk, all that a request may need; nothing is compiled after that."""
    ready(_kernel, record.table(0), np.zeros(0, kernel.OUT), np.zeros(1, AROUND), empty())


class Subject(NamedTuple):
    """A case as machine code takes it."""

    data: RuleSetData
    rows: Table
    """The case, a table of one row."""
    compounds: Table | None
    """Compounds of the request in place of those of the rules."""
    stated: Table
    """Surroundings of the request, a table of one row."""

    def found(self, cases: Table, friction: Each, film: Each, time: Each, root: Each) -> Table:
        """Return what machine code finds of cases, each with its friction of solid contact and of a film, its time and root."""
        out = np.zeros(len(cases), kernel.OUT)
        out["mu"], out["film_friction"], out["time"], out["root"] = friction, film, time, root
        found: Table = over_rows(_kernel, (cases, out), self.stated, tables_of(self.data, self.compounds))
        return found


def state_of(row: Row) -> State:
    """Read a state from a row that machine code found."""
    main, second = (
        LipFriction(*(float(row[f"{lip}_{name}"]) for name in LipFriction._fields)) for lip in ("main", "second")
    )
    running = Running(*(row[name].item() for name in Running._fields))
    modelled = bool(np.isfinite(row["spring_load"]))
    return State(float(row["mu"]), float(row["time"]), running, main, second, modelled)


class Levels(NamedTuple):
    """States at low, nominal and high friction, in surroundings that all have in common."""

    low: State
    nominal: State
    high: State
    around: Row
    """Surroundings: a row as machine code gave it."""
    limit: HottestContact

    def named(self) -> list[tuple[str, State]]:
        """Return the states with their names."""
        return list(zip(NAMES, self[:3], strict=True))


def levels(subject: Subject, friction: tuple[float, float, float]) -> Levels:
    """Return the running states of a case with its low, nominal and high friction coefficient."""
    data = subject.data
    times = (data.sizing.following.service_time.si, data.running.nominal_time.si, data.running.fresh_time.si)
    film = data.running.lubrication.film_friction_factor
    found = subject.found(np.repeat(subject.rows, 3), friction, (film.si_low, film.si, film.si_high), times, ROOTS)
    low, nominal, high = map(state_of, found)
    limit = HottestContact(float(found[1]["limit"]), float(found[1]["limit_by"]))
    return Levels(low, nominal, high, found[1]["around"], limit)


# ------------------------------------------------------------------------------------------------------ by a trace

_shape_of = traced(shape_of)
_spring_of = traced(spring_of)
_surroundings_with = traced(surroundings_with)
_level = traced(physics.level)


class Told(NamedTuple):
    """What a trace tells of the running states of a case."""

    shape: Shape
    spring: Spring
    around: Surroundings
    low: Level
    nominal: Level
    high: Level


def told_levels(case: SimpleNamespace, rules: Rules, given: HeatSurroundings) -> Told:
    """Return the states of a case given as leaves and filled in, each number with the tree that it came from."""
    compound, constants = rules.compounds[case.compound], rules.constants[0]
    shape, spring = _shape_of(case, rules), _spring_of(case, rules, case.temperature)
    around = _surroundings_with(case, rules, leaves_of(given))
    inputs = {
        "low": (compound.friction_low, constants.film_friction_low, constants.service_time, LipRoot.lightest),
        "nominal": (compound.friction, constants.film_friction, constants.nominal_time, LipRoot.elastic),
        "high": (compound.friction_high, constants.film_friction_high, constants.fresh_time, LipRoot.heaviest),
    }
    found = {
        name: labelled(name, partial(_level, case, rules, spring, around, mu[case.medium], film, time, root))
        for name, (mu, film, time, root) in inputs.items()
    }
    return Told(shape, spring, around, **found)
