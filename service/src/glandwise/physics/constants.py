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
LEAST_PRESSURE = Constant(
    1.0, "p_0", "Pa", "choice of this service", "Least absolute pressure at which a boiling point is asked for"
)
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
NINE_IN_TEN = Constant(
    1.6448536269514722, "z_90", "-", "normal distribution", "Quantile between whose signs nine in ten lie"
)
FOUR_IN_FIVE = Constant(
    0.8416212335729143, "z_80", "-", "normal distribution", "Quantile that four in five are above with minus"
)
LEAST_SLOPE = Constant(
    1e-3,
    "theta_0",
    "-",
    "choice of this service",
    "Slope of the edge of a lip that lies on the shaft, in place of none",
)
