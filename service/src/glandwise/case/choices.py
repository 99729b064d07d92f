"""Names that a formula branches on; to machine code they are integers."""

from __future__ import annotations

from enum import IntEnum

from glandwise.mechanics.choices import LipDirection as LipDirection


class Family(IntEnum):
    """Family of a seal."""

    flexible_lip = 0
    energized_lip = 1


class Energizer(IntEnum):
    """What presses the lip beside its own interference."""

    none = 0
    garter = 1
    cantilever_v = 2
    canted_coil = 3


class EnergizerKind(IntEnum):
    """Kind of an energizer by itself."""

    cantilever_v = 0
    canted_coil = 1
    garter = 2
    o_ring = 3


class Material(IntEnum):
    """What is known of the material of an energizer by itself."""

    named = 0
    described = 1
    """Only the properties that the request states."""


class Lubrication(IntEnum):
    """How far a lip is supplied with what could carry it."""

    dry = 0
    starved = 1
    mist = 2
    grease = 3
    flooded = 4


class Medium(IntEnum):
    """What surrounds the contact, as friction and wear see it."""

    dry = 0
    aqueous = 1
    oil = 2


class Application(IntEnum):
    """Machine that a seal is for, as far as the life that is wanted of it goes."""

    not_stated = 0
    gearbox = 1
    electric_motor = 2
    compressor = 3
    process_pump = 4
    hygienic_machine = 5
    mixer = 6
    rotary_union = 7
    spindle = 8
    engine = 9
    heavy_slow_shaft = 10


class Wetting(IntEnum):
    """How a sealed fluid takes heat from the shaft."""

    liquid = 0
    packed = 1
    gas = 2
    condensing = 3
    boiling = 4


class SecondLip(IntEnum):
    """What stands before the main lip of a flexible seal."""

    none = 0
    excluder = 1
    redundant = 2


class LipForm(IntEnum):
    """Form of an energized lip."""

    plain = 0
    scraper = 1
    tapered = 2


class WidthBy(IntEnum):
    """Where the width of the contact comes from."""

    open = 0
    """Not stated, and not filled in yet."""
    rules = 1
    """The width of a worn-in lip by the rules: the contact may spread beyond it."""
    stated = 2
    """The request."""


class Lead(IntEnum):
    """Machining lead of the shaft."""

    not_stated = 0
    none = 1
    present = 2


class Dirt(IntEnum):
    """What comes from the air side."""

    not_stated = 0
    clean = 1
    dusty = 2
    abrasive = 3
    wet = 4
    submerged = 5


class Retention(IntEnum):
    """What holds a seal in its bore."""

    o_ring = 0
    clamped_flange = 1
    press_fit_case = 2


class Heel(IntEnum):
    """Heel of an energized lip."""

    standard = 0
    extended = 1


class StockForm(IntEnum):
    """Form of the stock that seals are turned from."""

    not_stated = 0
    tube = 1
    rod = 2


class End(IntEnum):
    """End of the tolerances: nominal dimensions, or the corner of all with the least or the most squeeze."""

    nominal = 0
    loosest = 1
    tightest = 2


NOMINAL, LOOSEST, TIGHTEST = map(int, End)
"""Ends as arguments: an integer and a member are two types to the compiler, and each a function of its own."""


class Start(IntEnum):
    """State in which a seal may turn in its bore."""

    cold_start = 0
    hot_running = 1
    end_of_life_start = 2
