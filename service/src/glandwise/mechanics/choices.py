"""Names that a formula branches on: integers to the compiled life, spelled as the rules and requests spell them."""

from __future__ import annotations

from enum import IntEnum


class FilmCorrelation(IntEnum):
    """Measurements that the film of a turning shaft goes by."""

    anderson_saunders = 0
    becker = 1
    etemad = 2
    kays_bjorklund = 3
    dropkin_carmi = 4
    ozerdem = 5


class PtfeTransition(IntEnum):
    """Change of phase of PTFE: at about 20 and at about 30 degrees Celsius at one atmosphere."""

    II_IV = 0
    IV_I = 1


class ToleranceZone(IntEnum):
    """Place of a tolerance zone by its fundamental deviation."""

    symmetric = 0
    """js and JS."""
    shaft_below = 1
    """Shafts d to h: the upper deviation is tabulated."""
    hole_above = 2
    """Holes D to H, mirrored from the shafts."""
    shaft_above = 3
    """Shafts k to p: the lower deviation is tabulated."""
    hole_below = 4
    """Holes K to P, mirrored from the shafts and corrected."""


class Governs(IntEnum):
    """What limits the runout that a lip may have."""

    nothing = 0
    recovery = 1
    inertia = 2
    rated_cap = 3


class ViscosityForm(IntEnum):
    """How the viscosity of a liquid goes from the points at which it is known to another temperature."""

    walther = 0
    """Double logarithm of the kinematic viscosity over the logarithm of the temperature, two points: oils."""
    vogel = 1
    """Three points: water, solutions, solvents."""
    andrade = 2
    """Logarithm over 1/T, two points: where no third one is known."""


class Motion(IntEnum):
    """How a shaft moves under the lip."""

    turning = 0
    swinging = 1
    """To and fro like a sine: at each reversal nothing is carried by a film."""


class LipDirection(IntEnum):
    """Where the tip of a lip points, seen from its root."""

    toward = 0
    """Towards the sealed pressure, which presses the lip on."""
    away = 1
    """Away from the sealed pressure, which lifts the lip."""


class FilmPressure(IntEnum):
    """What the sealed pressure does in the gap under a contact."""

    none = 0
    """It does not enter."""
    linear = 1
    """It falls evenly from one side of the contact to the other."""
    full = 2
    """It stands under the whole contact."""


class LipRoot(IntEnum):
    """What the root of a lip does."""

    clamped = 0
    """It neither turns nor moves."""
    elastic = 1
    """It turns in an elastic heel, which pressure squeezes towards the shaft."""
    yielding = 2
    """It yields as well."""
    lightest = 3
    """Whatever gives the least load: a clamped root under pressure, an elastic one without."""
    heaviest = 4
    """Whatever gives the greatest load: a yielding root under high pressure."""


class LipState(IntEnum):
    """How a lip stands on the shaft."""

    unknown = 0
    """An argument was out of range."""
    edge = 1
    """On the edge of its tip."""
    laid = 2
    """Laid down: part of its bore face lies on the shaft."""
    lifted = 3
    """Lifted off its interference by pressure."""
    no_contact = 4
    """Without interference, and not pressed down by pressure."""
    root_touches = 5
    """No clearance is left at the root: the whole lip is shrunk onto the shaft, which this law does not cover."""
