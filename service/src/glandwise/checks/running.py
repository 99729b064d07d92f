"""Friction, heat and contact of a running lip: the physics that friction, wear and the envelope share.

Load, friction and temperature hang together: PTFE softens as it warms, so the load falls, and with it the heat. The
contact temperature is where heat made and heat carried away balance.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from glandwise.checks import lip
from glandwise.checks.case import Case
from glandwise.mechanics import contact, heat
from glandwise.mechanics import numeric as num

AIR_PRESSURE = 101325.0
"""Standard atmosphere (ISO 2533) [Pa]."""
TOLERANCE = 0.01
"""Imbalance of the contact temperature taken as solved [K]."""
HOTTEST = 1000.0
"""Temperature above which no balance is looked for [K]: far beyond the decomposition of PTFE."""


class Surroundings(NamedTuple):
    """What carries the heat away; floats or arrays, SI."""

    ambient: num.Real
    shaft_conductivity: num.Real
    shaft_length: num.Real
    fluid_film: num.Real
    correlation: str
    records: tuple[Any, ...]


class Running(NamedTuple):
    """State of the main lip in running; floats or arrays, SI."""

    temperature: num.Real
    """Contact temperature [K]; ``nan`` where no balance was found."""
    load: lip.LipLoad
    """Contact load at that temperature [N/m]."""
    spring: lip.Energizer
    """The energizer, at the temperature of the fluid."""
    second_load: num.Real
    """Contact load of the second lip [N/m]."""
    contact_pressure: num.Real
    """Mean contact pressure of the main lip [Pa]."""
    torque: num.Real
    """Of both lips [N m]."""
    power: num.Real
    """Of both lips [W]."""
    conductance: num.Real
    """Heat carried off per kelvin [W/K]."""
    sink: num.Real
    """Temperature without friction [K]."""
    iterations: int
    converged: Any
    beyond: Any
    """Whether even at the hottest temperature looked at more heat is made than carried away."""


def surroundings(case: Case, **given: num.Real | str | None) -> Surroundings:
    """Fill in what carries heat away; ``given`` overrides the rules field by field."""
    rule = case.data.running
    film, conductivity = case.fluid_film, case.shaft_conductivity
    values: dict[str, Any] = {
        "ambient": rule.ambient_temperature.si,
        "shaft_conductivity": conductivity.si,
        "shaft_length": rule.shaft_length_ratio.si * case.shaft_diameter,
        "fluid_film": film.si,
        "correlation": rule.film_correlation,
    }
    records = {
        "ambient": rule.ambient_temperature,
        "shaft_conductivity": conductivity,
        "shaft_length": rule.shaft_length_ratio,
        "fluid_film": film,
    }
    for name, value in given.items():
        if value is not None:
            values[name] = value
            records.pop(name, None)
    return Surroundings(**values, records=tuple(records.values()))


def no_balance(case: Case) -> str:
    """Say why there is no running state of a single case."""
    if not lip.modelled(case):
        return lip.OUTSIDE
    return "No balance of frictional heat was found: the lip would heat without bound."


class Paths(NamedTuple):
    """Ways of the heat: those that do not depend on the contact temperature are joined beforehand."""

    constriction: num.Real
    wet_side: heat.HeatPath
    back: heat.HeatPath


def fixed_paths(case: Case, around: Surroundings) -> Paths:
    """Return the ways of the heat that do not depend on the contact temperature."""
    d, bulk, k = case.shaft_diameter, case.temperature, around.shaft_conductivity
    area = num.pi * d * case.contact_width
    thickness = case.lip_thickness * case.data.running.housing_length_ratio.si
    through = heat.plane_wall_conductance(area, thickness, case.compound.thermal_conductivity.si)
    return Paths(
        heat.ring_constriction(d, case.contact_width, k),
        heat.HeatPath(heat.fin_conductance(d, k, around.fluid_film, around.shaft_length), bulk),
        heat.HeatPath(heat.series(through, around.fluid_film * area), bulk),
    )


def air_film(case: Case, around: Surroundings, temperature: num.Real) -> num.Real:
    """Film coefficient of the shaft in air, at a shaft temperature [W/(m² K)]."""
    air = heat.dry_air(0.5 * (temperature + around.ambient), AIR_PRESSURE)
    difference = num.maximum(temperature - around.ambient, 1.0)
    return heat.shaft_coefficient(case.shaft_diameter, case.rotational_speed, air, difference, around.correlation)


def heat_path(case: Case, around: Surroundings, fixed: Paths, temperature: num.Real) -> heat.HeatPath:
    """Joint path of the heat from the contact: shaft both ways, and the lip into the fluid behind it."""
    film = air_film(case, around, temperature)
    conductance = heat.fin_conductance(case.shaft_diameter, around.shaft_conductivity, film, around.shaft_length)
    shaft = heat.behind(fixed.constriction, heat.join(fixed.wet_side, (conductance, around.ambient)))
    return heat.join(shaft, fixed.back)


def run(
    case: Case, around: Surroundings, friction: num.Real, time: num.Real, pressure: num.Real | None = None
) -> Running:
    """Return the running state for a friction coefficient after ``time`` [s] under load, and under ``pressure`` [Pa].

    The pressure is that of the duty when ``None``.
    """
    share = case.second_lip_share
    spring = lip.energizer(case, case.temperature)
    loading = lip.Loading(case, time, case.pressure if pressure is None else pressure, spring.line_load)
    fixed = fixed_paths(case, around)
    power_per_load = contact.friction(friction, 1.0, case.shaft_diameter, case.rotational_speed).power

    def state(temperature: num.Real) -> tuple[lip.LipLoad, num.Real, heat.HeatPath]:
        main = loading.at(temperature)
        return main, share * (main.lip + main.energizer), heat_path(case, around, fixed, temperature)

    last: Any = None

    def settled(temperature: num.Real) -> num.Real:
        nonlocal last
        last = main, second, path = state(temperature)
        return path.temperature + power_per_load * (main.total + second) / path.conductance

    # heat is made, never taken up: no balance lies below the colder end of the ways out
    lowest = num.minimum(case.temperature, around.ambient)
    balance = heat.fixed_point(settled, lowest, lowest, HOTTEST, TOLERANCE)
    temperature = num.where(balance.converged, balance.value, num.nan)
    everywhere = balance.converged if type(balance.converged) is bool else balance.converged.all()
    # the last evaluation was at the balance, where there is one
    main, second, path = last if everywhere else state(temperature)
    made = contact.friction(friction, main.total + second, case.shaft_diameter, case.rotational_speed)
    return Running(
        temperature=temperature,
        load=main,
        spring=spring,
        second_load=second,
        contact_pressure=contact.mean_contact_pressure(main.total, case.contact_width),
        torque=made.torque,
        power=made.power,
        conductance=path.conductance,
        sink=path.temperature,
        iterations=balance.iterations,
        converged=balance.converged,
        beyond=(balance.value >= HOTTEST) & (balance.residual > TOLERANCE),
    )
