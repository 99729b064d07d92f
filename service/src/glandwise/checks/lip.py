"""Loads and stiffnesses of the lip on the shaft: the one place where shell, energizer and pressure meet.

Everything is per unit circumference of the shaft and runs on floats or arrays.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from glandwise.checks.banks import curve_at
from glandwise.checks.case import Case
from glandwise.mechanics import beams, contact, rods, shells, springs, viscoelastic
from glandwise.mechanics import numeric as num
from glandwise.rules.model import Alloy


class Energizer(NamedTuple):
    """What an energizer gives at its installed deflection; zeros when there is none."""

    line_load: num.Real
    """[N/m]"""
    stiffness: num.Real
    """Per radial movement of the shaft surface [N/m²]."""
    stress: num.Real
    """Greatest stress [Pa]."""
    yield_strength: num.Real
    """At its temperature [Pa]; ``nan`` when there is no energizer."""
    mass: num.Real
    """Mass that moves with the lip [kg/m]."""


_NO_ENERGIZER = Energizer(0.0, 0.0, 0.0, num.nan, 0.0)


class LipLoad(NamedTuple):
    """Contact load of the main lip by its parts."""

    lip: num.Real
    """From the interference of the lip itself [N/m]."""
    energizer: num.Real
    """[N/m]"""
    pressure: num.Real
    """[N/m]"""
    total: num.Real
    """Never below zero [N/m]."""


def effective_length(case: Case) -> num.Real:
    """Free length of the lip [m]: what a reinforcing band leaves of it."""
    share = case.data.sizing.flexible_lip.band_length_share.si
    banded = case.features.get("reinforcing_band", False)
    return (
        num.where(banded, case.lip_length * share, case.lip_length)
        if case.family == "flexible_lip"
        else case.lip_length
    )


_COLDEST = 1.0
"""Temperature below which relaxation is no slower [K]: the shift has no value at absolute zero."""
_FROZEN = 1e30
"""Shift factor beyond which nothing relaxes in any service life; larger ones would overflow when squared."""


def relaxation(case: Case, temperature: num.Real) -> tuple[num.Real, Any, num.Real, Any]:
    """Return equilibrium share, branch shares, shift factor and relaxation times (branches on the last axis)."""
    prony: Any = case.compound.relaxation
    shift = viscoelastic.arrhenius_shift(
        num.maximum(temperature, _COLDEST), prony.reference_temperature.si, prony.activation_energy.si
    )
    shift = num.minimum(shift, _FROZEN)
    return prony.equilibrium, prony.branches, shift, prony.times


def relaxed_share(case: Case, temperature: num.Real, time: num.Real) -> num.Real:
    """Share of the lip's own load that is left after ``time`` [s] at ``temperature``; 1 for time zero."""
    equilibrium, branches, shift, times = relaxation(case, temperature)
    # the series is in shares of the instantaneous modulus
    return viscoelastic.relaxation_modulus(num.divide(time, shift), equilibrium, branches, times)


class Geometry(NamedTuple):
    """What the shape of the lip alone gives: linear in the modulus or in the pressure, so worked out once per case."""

    stiffness_per_modulus: num.Real
    """Contact stiffness over Young's modulus, per shaft circumference [-]."""
    pressure_length: num.Real
    """Line load per pressure, per shaft circumference [m]."""
    clamp_stress_per_pressure: num.Real
    """Bending stress at the clamp per pressure, edge held by the shaft [-]."""
    mass: num.Real
    """Moving mass of the lip, per shaft circumference [kg/m]."""


def geometry(case: Case) -> Geometry:
    """Return the response of the lip as a shell of unit modulus; kept with the case."""
    held: Geometry | None = case.geometry
    if held is None:
        poisson, length = case.compound.poisson_ratio.si, effective_length(case)
        radius, thickness, to_shaft = case.lip_radius, case.lip_thickness, case.lip_radius / case.radius
        unit = shells.lip_response(radius, thickness, length, 1.0, poisson, 0.0, 1.0)
        mass = shells.lip_effective_mass(radius, thickness, length, poisson, case.compound.density.si)
        held = case.geometry = Geometry(
            unit.stiffness * to_shaft,
            unit.pressure_coefficient * to_shaft,
            num.absolute(unit.clamp_bending_stress),
            mass * to_shaft,
        )
    return held


def modulus(case: Case, temperature: num.Real) -> num.Real:
    """Instantaneous Young's modulus of the compound [Pa]."""
    return curve_at(case.compound.elastic_modulus, temperature)


def energizer(case: Case, temperature: num.Real, deflection: num.Real | None = None) -> Energizer:
    """Load, stiffness and stress of the energizer at a temperature."""
    if case.energizer is None or case.alloy is None:
        return _NO_ENERGIZER
    g, alloy = case.dimensions, case.alloy
    modulus = curve_at(alloy.elastic_modulus, temperature)
    strength = curve_at(alloy.yield_strength, temperature)
    if case.energizer == "garter":
        return _garter(case, alloy, modulus, strength)
    travel = g["deflection"] if deflection is None else deflection
    if case.energizer == "cantilever_v":
        v = beams.cantilever_v(
            travel,
            g["thickness"],
            g["length"],
            g["root_angle"],
            g["coverage"],
            modulus,
            strength,
            alloy.poisson_ratio.si,
        )
        mass = alloy.density.si * g["coverage"] * g["thickness"] * g["length"] * _RAYLEIGH_CANTILEVER
        return Energizer(v.line_load, v.recovery_stiffness, v.root_stress, strength, mass)
    wire = g["wire_diameter"]
    radius = case.radius + case.lip_thickness + 0.5 * g["height"]
    c = rods.canted_coil_load(
        travel, g["pitch"], 0.5 * (g["width"] - wire), 0.5 * (g["height"] - wire), g["cant_angle"], wire, modulus,
        modulus / (2.0 * (1.0 + alloy.poisson_ratio.si)), radius / case.radius,
    )  # fmt: skip
    turn = num.pi * 0.5 * (g["width"] + g["height"] - 2.0 * wire)
    mass = alloy.density.si * num.pi * wire * wire / 4.0 * turn / g["pitch"] * _MOVING_TURN
    return Energizer(c.load_per_length, c.rate_per_length, c.equivalent_stress, strength, mass)


OUTSIDE = "The dimensions of the energizer lie outside the range of its model."
"""What is said where a load, and all that follows from it, is not known."""
ACCEPTED = {
    "cantilever_v": "a root angle of 1 to 60 degrees and a deflection of at most 0.95 times the opening of the free V",
    "canted_coil": "a cant angle of 15 to 60 degrees, width over height 0.8 to 1.8 and pitch over half height 0.2 to 1.4, "
    "both of the wire centreline, and a deflection of at most 0.54 times its height",
    "garter": "a coil larger than its wire",
}
"""Dimensions that the model of each energizer covers."""


def modelled(case: Case) -> bool:
    """Whether the energizer of a single case, if it has one, lies within the range of its model."""
    return bool(num.isfinite(energizer(case, case.temperature).line_load))


# 33/140 of a cantilever's mass moves with its tip (Rayleigh); a coil squeezed across moves half at its crest, and the
# squares of a linear fall of speed through its height average to a third.
_RAYLEIGH_CANTILEVER = 33.0 / 140.0
_MOVING_TURN = 1.0 / 3.0


def _garter(case: Case, alloy: Alloy, modulus: num.Real, strength: num.Real) -> Energizer:
    """Load of the garter. A shaft that runs out moves the ring sideways without lengthening it: no stiffness."""
    g = case.dimensions
    shear = modulus / (2.0 * (1.0 + alloy.poisson_ratio.si))
    wire, coil = g["wire_diameter"], g["mean_coil_diameter"]
    seat = case.radius + case.lip_thickness + 0.5 * (coil + wire)
    ring = springs.garter_ring(
        wire, coil, shear, g["active_coils"], g["free_length"], g["initial_tension"], seat, case.radius
    )
    volume = num.pi * wire * wire / 4.0 * num.pi * coil * g["active_coils"]
    mass = alloy.density.si * volume / (2.0 * num.pi * case.radius)
    return Energizer(ring.contact_line_load, 0.0 * ring.contact_line_load, ring.shear_stress, strength, mass)


class Loading:
    """Contact load of the main lip under one pressure and after one time: what its temperature changes, and the rest.

    The iteration for the contact temperature asks for it at several temperatures.
    """

    __slots__ = ("_case", "_half_interference", "_pressure", "_spring", "_stiffness_per_modulus", "_time")

    def __init__(self, case: Case, time: num.Real, pressure: num.Real, spring_load: num.Real | None = None) -> None:
        """Set up for ``time`` [s] under load and ``pressure`` [Pa].

        The energizer, which the fluid surrounds, has the normal temperature of the duty unless its load is given.
        """
        spring = energizer(case, case.temperature).line_load if spring_load is None else spring_load
        if case.family == "flexible_lip":
            by_pressure: Any = geometry(case).pressure_length * pressure
        else:
            rule = case.data.sizing.pressure_load
            length = case.lip_length * rule.energized_length_share.si + case.contact_width
            share = rule.contact_pressure_share.si
            by_pressure = contact.pressure_line_load(pressure, length, case.contact_width, share)
        self._case, self._time, self._half_interference = case, time, 0.5 * case.interference
        self._stiffness_per_modulus = geometry(case).stiffness_per_modulus
        self._spring, self._pressure = spring * case.load_factor, by_pressure

    def at(self, temperature: num.Real) -> LipLoad:
        """Load at a temperature of the lip."""
        case = self._case
        own = self._stiffness_per_modulus * modulus(case, temperature) * self._half_interference
        own = own * relaxed_share(case, temperature, self._time) * case.load_factor
        return LipLoad(own, self._spring, self._pressure, contact.total_line_load(own, self._spring, self._pressure))


def load(
    case: Case, temperature: num.Real, time: num.Real, pressure: num.Real, spring_load: num.Real | None = None
) -> LipLoad:
    """Contact load of the main lip after ``time`` [s] at ``temperature`` under ``pressure``.

    The energizer, which the fluid surrounds, has the normal temperature of the duty unless its load is given.
    """
    return Loading(case, time, pressure, spring_load).at(temperature)


def records(case: Case) -> tuple[Any, ...]:
    """Records that the contact load and the contact width of a single case rest on; none of a batch of designs."""
    if case.capacities is not None:
        return ()
    compound, alloy, series = case.compound, case.alloy, case.compound.relaxation
    found: list[Any] = [compound.elastic_modulus, compound.poisson_ratio]
    found += [series, series.reference_temperature, series.activation_energy, *case.trace.records]
    if case.family == "energized_lip":
        rule = case.data.sizing.pressure_load
        found += [rule.energized_length_share, rule.contact_pressure_share]
    if alloy is not None:
        found += [alloy.elastic_modulus, alloy.poisson_ratio]
        if case.energizer == "cantilever_v":
            found.append(alloy.yield_strength)
    return tuple(found)
