"""Constants that several formulas of a case share."""

from __future__ import annotations

from glandwise.numerics.lives import Constant

ROOM = Constant(
    293.15, "T_room", "K", "ISO 1", "Room temperature: from it the use of a range of temperature is counted"
)
UNIT_LOAD = Constant(1.0, "q_1", "N/m", "definition", "Unit of contact load")
UNIT_MODULUS = Constant(1.0e8, "E_1", "Pa", "definition", "Modulus for which a lip is looked at, which cancels")
UNIT_PRESSURE = Constant(1.0, "p_1", "Pa", "definition", "Unit of pressure")
ATMOSPHERE = Constant(101325.0, "p_atm", "Pa", "ISO 2533", "Pressure of the standard atmosphere")
HOTTEST = Constant(
    1000.0, "T_top", "K", "far beyond the decomposition of PTFE", "Temperature above which no balance is looked for"
)
STILL = Constant(
    1.0,
    "dT_0",
    "K",
    "choice of this service",
    "Least difference of shaft and air that the film of a shaft is asked for",
)
THOUSAND_HOURS = Constant(3.6e6, "t_1000", "s", "definition", "A thousand hours")
