"""Film coefficient of the shaft where the sealed fluid wets it: by what the fluid is and how far it gets there."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.choices import Lubrication, Wetting
from glandwise.case.sizing import stated_or
from glandwise.mechanics.choices import FilmCorrelation
from glandwise.mechanics.films import (
    condensing_share,
    gas_properties,
    liquid_properties,
    packed_film,
    saturation_temperature,
    wetted_film,
)
from glandwise.mechanics.heat import dry_air, shaft_film
from glandwise.mechanics.viscosity import liquid_density, liquid_viscosity
from glandwise.numerics.arithmetic import greatest, least
from glandwise.physics.constants import ATMOSPHERE, STILL

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case

BECKER = int(FilmCorrelation.becker)
"""The only one of the correlations that was measured in a liquid and tells one fluid from another."""


class Wetted(NamedTuple):
    """What the sealed fluid does for the shaft."""

    film: float
    """Film coefficient while it does not boil [W/(m2 K)]."""
    boils_at: float
    """Temperature at which the fluid boils away from the shaft [K]; infinite for all but liquefied gases."""


def absolute_pressure(case: Case) -> float:
    """Absolute pressure of the sealed fluid; a vacuum is not relied upon to be one.

    Returns
    -------
    p_abs : Pa
        Absolute pressure of the sealed fluid, at least that of the air.
    """
    return ATMOSPHERE + greatest(case.pressure, 0.0)


def liquid_film(case: Case, rules: Rules) -> float:
    """Film coefficient of a shaft that its liquid floods, by the liquid's own properties at its normal temperature.

    Returns
    -------
    h_l : W/(m²·K)
        Film coefficient of the flooded shaft; not known where a property is not.

    References
    ----------
    Becker (models/heat).
    """
    fluid, constants = rules.films[case.fluid], rules.constants[0]
    reach = constants.viscosity_reach
    T_eta = least(greatest(case.temperature, fluid.T_1 - reach), fluid.hottest + reach)  # temperature of its viscosity
    eta = liquid_viscosity(
        fluid.viscosity_form, T_eta, fluid.T_1, fluid.eta_1, fluid.T_2, fluid.eta_2, fluid.T_3, fluid.eta_3,
        fluid.density, fluid.volume_expansion,
    )  # fmt: skip
    rho = liquid_density(T_eta, fluid.T_1, fluid.density, fluid.volume_expansion)
    l = liquid_properties(eta, rho, fluid.thermal_conductivity, fluid.heat_capacity, fluid.volume_expansion)  # noqa: E741
    return shaft_film(
        case.shaft_diameter, case.rotational_speed, l.conductivity, l.viscosity, l.prandtl, l.expansion, STILL, BECKER
    )


def gas_film(case: Case, rules: Rules) -> float:
    """Film coefficient of a shaft in the sealed gas, whose density goes with its pressure.

    Returns
    -------
    h_g : W/(m²·K)
        Film coefficient in the gas; not known where a property is not.

    References
    ----------
    Ideal gas; Becker (models/heat).
    """
    fluid = rules.films[case.fluid]
    p_abs = absolute_pressure(case)
    g = gas_properties(
        case.temperature, p_abs, fluid.molar_mass, fluid.reference_temperature, fluid.reference_viscosity,
        fluid.sutherland_temperature, fluid.heat_capacity, fluid.prandtl_number,
    )  # fmt: skip
    return shaft_film(
        case.shaft_diameter, case.rotational_speed, g.conductivity, g.viscosity, g.prandtl, g.expansion, STILL, BECKER
    )


def boiling_point(case: Case, rules: Rules) -> float:
    """Temperature at which the sealed fluid boils at its pressure; infinite where that is not known.

    Returns
    -------
    T_b : K
        Boiling point of the sealed fluid.

    References
    ----------
    Clausius and Clapeyron, integrated (models/heat).
    """
    fluid = rules.films[case.fluid]
    p_abs = absolute_pressure(case)
    T_b = saturation_temperature(p_abs, ATMOSPHERE, fluid.boiling_point, fluid.molar_mass, fluid.heat_of_vaporization)
    if T_b != T_b:
        return inf
    return T_b


def wetted_share(case: Case, rules: Rules) -> float:
    """Share of the shaft that a liquid wets: all of it, but where less gets to it than is usual of the liquid.

    Grease under a lip says nothing of the shaft beside it.

    Returns
    -------
    f_w : -
        Wetted share of the shaft.

    References
    ----------
    Shares are house estimates.
    """
    constants = rules.constants[0]
    if case.lubrication == rules.fluids[case.fluid].lubrication:
        return 1.0
    if case.lubrication == Lubrication.mist:
        return constants.wetted_mist
    if case.lubrication == Lubrication.starved:
        return constants.wetted_starved
    if case.lubrication == Lubrication.dry:
        return 0.0
    return 1.0


def splashed_film(case: Case, rules: Rules, h_l: float) -> float:
    """Film coefficient of a shaft that its liquid wets in part, with air around the rest.

    Parameters
    ----------
    h_l : W/(m²·K)
        Film coefficient of the flooded shaft.

    Returns
    -------
    h_s : W/(m²·K)
        Film coefficient of the shaft in splash.

    References
    ----------
    Surfaces side by side; Becker (models/heat).
    """
    f_w = wetted_share(case, rules)
    if f_w == 1.0:
        return h_l
    air = dry_air(case.temperature, ATMOSPHERE)
    h_a = shaft_film(
        case.shaft_diameter, case.rotational_speed, air.conductivity, air.viscosity, air.prandtl, air.expansion, STILL,
        BECKER,
    )  # fmt: skip
    return wetted_film(f_w, h_l, least(h_a, h_l))


def wetted_shaft(case: Case, rules: Rules) -> Wetted:
    """Film coefficient of the shaft on the side of the sealed fluid, and where the fluid boils away from it.

    Liquids by their own properties and as far as they get to the shaft, what is packed around the shaft by what it conducts,
    gas by its pressure. Vapour near its boiling point condenses wherever it is not hotter, and holds the shaft there. Where a
    property of the fluid is not known, what the rules hold for its phase.

    Returns
    -------
    h_fluid : W/(m²·K)
        Film coefficient of the wetted shaft.
    T_away : K
        Temperature at which the fluid boils away from the shaft; infinite for all but liquefied gases.

    References
    ----------
    Film coefficients (models/heat).
    """
    fluid, constants = rules.films[case.fluid], rules.constants[0]
    if fluid.wetting == Wetting.packed:
        h_p = packed_film(fluid.thermal_conductivity, constants.packed_thickness)
        return Wetted(stated_or(h_p, fluid.usual), inf)
    if fluid.wetting == Wetting.gas:
        h_g = gas_film(case, rules)
        return Wetted(stated_or(h_g, fluid.usual), inf)
    if fluid.wetting == Wetting.condensing:
        h_v = stated_or(gas_film(case, rules), fluid.usual)  # film coefficient of the vapour
        T_b = boiling_point(case, rules)
        w = condensing_share(case.temperature, T_b, constants.condensing_superheat)  # share of the shaft that is wetted
        return Wetted(wetted_film(w, constants.condensing_film, h_v), inf)
    h_l = stated_or(liquid_film(case, rules), fluid.usual)  # film coefficient of the flooded shaft
    if fluid.wetting == Wetting.boiling:
        return Wetted(h_l, boiling_point(case, rules))
    h_s = splashed_film(case, rules, h_l)  # film coefficient as far as the liquid gets to the shaft
    return Wetted(h_s, inf)
