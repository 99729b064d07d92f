"""One formula, two shapes: every public function of the mechanics gives the same for floats and for arrays.

`EXAMPLES` holds valid arguments of every polymorphic function, numbers that may be arrays apart from what is always
scalar, a table or a name. Arguments in it are invented unless a test elsewhere says otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

import numpy as np
import pytest

from tests.twofold.test_docstrings import FUNCTIONS

FACTORS = np.array([1.0, 0.97, 1.01, 0.995, 1.02])
"""Five cases about an example, near enough to stay valid."""


class Example(NamedTuple):
    """Arguments of one function."""

    numbers: dict[str, float]
    """arguments that may be floats or arrays"""
    fixed: dict[str, Any]
    """arguments that are never arrays: tables, names, solver settings"""
    call: Callable[..., Any] | None = None
    """how to call it with those names, where not by keyword"""


def _of(call: Callable[..., Any] | None = None, fixed: dict[str, Any] | None = None, **numbers: float) -> Example:
    return Example(numbers, fixed or {}, call)


_BRANCHES = {"branch_moduli": (200.0, 80.0), "relaxation_times": (0.01, 1.0)}
_LIP_BRANCHES = {"branch_stiffnesses": (2.0e5, 0.8e5), "relaxation_times": (0.01, 1.0)}
_LIP = {
    "radius": 0.025,
    "thickness": 0.5e-3,
    "free_length": 5.0e-3,
    "modulus": 600.0e6,
    "poisson_ratio": 0.46,
    "interference": 0.3e-3,
    "pressure": 0.05e6,
}
_COIL = {
    "pitch": 1.0e-3,
    "half_width": 2.0e-3,
    "half_height": 1.8e-3,
    "cant_angle": 0.61,
    "wire_diameter": 0.4e-3,
    "elastic_modulus": 200.0e9,
    "shear_modulus": 77.0e9,
}
_HELIX = {"wire_diameter": 1.8e-3, "coil_diameter": 14.0e-3, "shear_modulus": 79.0e9}
_FIN = {"diameter": 0.05, "conductivity": 50.0, "film": 40.0, "length": 0.2, "end_film": 10.0}
_STEPS = {"over": (0.01, 0.018, 0.03), "up_to": (0.018, 0.03, 0.05)}
_GRADES = {"IT7": (18e-6, 21e-6, 25e-6), "IT8": (27e-6, 33e-6, 39e-6), "IT11": (110e-6, 130e-6, 160e-6)}
_SHAFTS = {"f": (-16e-6, -20e-6, -25e-6), "k": (1e-6, 2e-6, 2e-6)}
_EXPANSION = {
    "temperatures": (83.15, 173.15, 273.15, 323.15, 423.15),
    "mean_coefficients": (8.6e-5, 11.2e-5, 20.0e-5, 12.4e-5, 13.5e-5),
    "reference_temperature": 298.15,
}
_CRYOGENIC = (-0.02125, -8.201e-06, 6.161e-07, -3.171e-09, 6.85e-12)


def _fluid(k: Any, nu: Any, pr: Any, beta: Any) -> tuple[Any, ...]:
    return (k, nu, pr, beta)


def _film(name: str) -> Callable[..., Any]:
    def call(k: Any, nu: Any, pr: Any, beta: Any, **rest: Any) -> Any:
        return FUNCTIONS[f"heat.{name}"](fluid=_fluid(k, nu, pr, beta), **rest)

    return call


_AIR = {"k": 0.0263, "nu": 15.89e-6, "pr": 0.707, "beta": 1 / 300}


def _path(name: str) -> Callable[..., Any]:
    from glandwise.twofold.heat import HeatPath

    function = FUNCTIONS[f"heat.{name}"]
    calls: dict[str, Callable[..., Any]] = {
        "series": lambda a, b: function(a, b),
        "join": lambda g1, t1, g2, t2: function(HeatPath(g1, t1), HeatPath(g2, t2)),
        "behind": lambda resistance, g, t: function(resistance, HeatPath(g, t)),
        "contact_temperature": lambda heat, g1, t1, g2, t2: function(heat, HeatPath(g1, t1), HeatPath(g2, t2)),
        "balance_temperature": lambda power, g, t, upper: function(
            lambda x: power * (1.0 - 1.0e-3 * x), HeatPath(g, t), upper, 1.0e-9
        ),
        "fixed_point": lambda scale, start, lower, upper: function(
            lambda x: 1.0 + scale * x, start, lower, upper, 1.0e-12
        ),
    }
    return calls[name]


def _numbered(name: str, *groups: str) -> Callable[..., Any]:
    """Call a function that takes a group of numbers as one argument: ``mu_0``, ``mu_1`` make up ``mu``."""

    def call(**arguments: Any) -> Any:
        for group in groups:
            parts = sorted(key for key in arguments if key.rpartition("_")[0] == group)
            arguments[group] = tuple(arguments.pop(key) for key in parts)
        return FUNCTIONS[name](**arguments)

    return call


def _life(allowance: Any, low: Any, high: Any, **rest: Any) -> Any:
    rate = FUNCTIONS["wear.wear_rate_range"](low, high)
    return FUNCTIONS["wear.life"](allowance, rate, **rest)


EXAMPLES: dict[str, Example] = {
    "beams.finger": _of(root_angle=0.4, deflection=0.12, yield_curvature=0.9),
    "beams.anticlastic_blend": _of(width=2e-3, thickness=0.15e-3, bending_radius=5e-3, poisson_ratio=0.3),
    "beams.bending_modulus": _of(modulus=200e9, poisson_ratio=0.3, plate_blend=0.6),
    "beams.cantilever_v": _of(
        gland_deflection=0.4e-3,
        thickness=0.12e-3,
        length=3e-3,
        root_angle=0.35,
        coverage=0.8,
        modulus=200e9,
        yield_strength=1.1e9,
        poisson_ratio=0.3,
        plate_blend=0.5,
        stiffness_ratio=1.2,
        land_angle=0.05,
    ),
    "contact.total_line_load": _of(lip=300.0, energizer=1500.0, pressure=-200.0),
    "contact.pressure_line_load": _of(pressure=1e6, pressurised_length=2e-3, contact_width=0.4e-3, profile_factor=0.5),
    "contact.gas_profile_factor": _of(high_pressure=1.1e6, low_pressure=1e5),
    "contact.mean_contact_pressure": _of(line_load=2000.0, contact_width=0.4e-3),
    "contact.friction": _of(friction_coefficient=0.12, line_load=2000.0, diameter=0.05, rotation_speed=-50.0),
    "contact.pressure_velocity": _of(contact_pressure=2e6, surface_speed=-3.0),
    "contact.rounded_edge_contact": _of(line_load=2000.0, edge_radius=0.2e-3, modulus=6e8, poisson_ratio=0.46),
    "contact.rounded_land_width": _of(
        line_load=2000.0, land_width=0.2e-3, edge_radius=0.3e-3, modulus=6e8, poisson_ratio=0.46
    ),
    "expansion.strain_from_mean_coefficients": _of(None, _EXPANSION, temperature=360.0),
    "expansion.strain_from_polynomial": _of(
        None,
        {"coefficients": _CRYOGENIC, "lowest": 4.0, "highest": 300.0, "flat_below": 23.0},
        temperature=90.0,
    ),
    "expansion.log_polynomial": _of(
        None, {"coefficients": (1.0, -0.5, 0.1), "lowest": 4.0, "highest": 300.0}, temperature=70.0
    ),
    "expansion.spliced_strain": _of(
        None,
        {
            **_EXPANSION,
            "cryogenic_coefficients": _CRYOGENIC,
            "cryogenic_lowest": 4.0,
            "flat_below": 23.0,
        },
        temperature=82.0,
        scale=1.1,
    ),
    "expansion.strain_between": _of(strain=0.01, reference_strain=-0.002),
    "expansion.transition_pressure": _of(None, {"transition": "II-IV"}, temperature=295.0),
    "expansion.transition_temperature": _of(None, {"transition": "IV-I"}, pressure=5e6),
    "expansion.crosses_transition": _of(
        None, {"transition": "II-IV"}, measured_temperature=298.15, temperature=285.0, pressure=1e5
    ),
    "expansion.fit_at_temperature": _of(
        inner_diameter=0.05, outer_diameter=0.0502, inner_strain=1e-3, outer_strain=-2e-3
    ),
    "expansion.diameter_after_confined_heating": _of(
        outer_diameter=0.072, bore_diameter=0.07205, seal_strain=0.012, bore_strain=1.2e-3, kept_share=0.4
    ),
    "expansion.energizer_space": _of(
        bore_diameter=0.06,
        shaft_diameter=0.05,
        outer_wall=0.8e-3,
        inner_wall=0.7e-3,
        free_height=4e-3,
        bore_strain=1e-3,
        shaft_strain=1.1e-3,
        seal_strain=8e-3,
        energizer_strain=1.5e-3,
    ),
    "fits.size_step_value": _of(None, {**_STEPS, "values": (1.0, 2.0, 3.0)}, size=0.0302),
    "fits.tolerance_factor": _of(lower_size=0.018, upper_size=0.03),
    "fits.formula_tolerance": _of(None, {"grade": 8}, lower_size=0.018, upper_size=0.03),
    "fits.limit_deviations": _of(
        None, {**_STEPS, "tolerance_class": "K8", "grades": _GRADES, "shaft_deviations": _SHAFTS}, size=0.0302
    ),
    "fits.cylinder_stress": _of(
        radius=0.03, inner_radius=0.025, outer_radius=0.04, inner_pressure=5e6, outer_pressure=1e6
    ),
    "fits.bore_growth": _of(
        pressure=5e6, bore_radius=0.025, outer_radius=0.04, modulus=200e9, poisson=0.3, axial_stress=1e6
    ),
    "fits.interference_fit": _of(
        interference=20e-6,
        interface_radius=0.025,
        inner_radius=0.01,
        outer_radius=0.05,
        inner_modulus=207e9,
        inner_poisson=0.292,
        outer_modulus=71e9,
        outer_poisson=0.33,
    ),
    "fits.same_material_pressure": _of(
        interference=20e-6, interface_radius=0.025, inner_radius=0.01, outer_radius=0.05, modulus=207e9
    ),
    "fits.radial_gap": _of(
        bore_diameter=0.0505, part_diameter=0.048, offset=20e-6, bore_growth=5e-6, bore_strain=1e-3, part_strain=9e-4
    ),
    "fits.stretched_section": _of(section=3.53e-3, inner_diameter=0.06, groove_diameter=0.063),
    "fits.o_ring_gland": _of(
        bore_diameter=0.072,
        groove_diameter=0.0662,
        groove_width=4.8e-3,
        inner_diameter=0.064,
        section=3.53e-3,
        offset=20e-6,
        bore_strain=1e-3,
        body_strain=8e-3,
        ring_strain=1e-2,
    ),
    "fits.o_ring_extremes": _of(
        _numbered(
            "fits.o_ring_extremes", "bore_diameter", "groove_diameter", "groove_width", "inner_diameter", "section"
        ),
        bore_diameter_0=0.0710,
        bore_diameter_1=0.0730,
        groove_diameter_0=0.0652,
        groove_diameter_1=0.0672,
        groove_width_0=4.7e-3,
        groove_width_1=4.9e-3,
        inner_diameter_0=0.063,
        inner_diameter_1=0.065,
        section_0=3.4e-3,
        section_1=3.6e-3,
        offset=20e-6,
        bore_strain=1e-3,
        body_strain=8e-3,
        ring_strain=1e-2,
    ),
    "fits.shaft_lead_in": _of(
        None, {**_STEPS, "reductions": (1.5e-3, 2.0e-3, 3.0e-3)}, shaft_diameter=0.0302, angle=0.35
    ),
    "fits.housing_bore": _of(
        None,
        {
            "over": (0.0, 0.01),
            "up_to": (0.01, 0.02),
            "extra_depth": (0.9e-3, 1.2e-3),
            "chamfer_min": (0.7e-3, 1.2e-3),
            "chamfer_max": (1.0e-3, 1.5e-3),
            "corner_radius": (0.5e-3, 0.75e-3),
        },
        width=0.01,
    ),
    "following.dynamic_stiffness": _of(
        None,
        _LIP_BRANCHES,
        angular_frequency=200.0,
        equilibrium_stiffness=5e5,
        mass=2e-3,
        elastic_stiffness=1e5,
    ),
    "following.peak_dynamic_stiffness": _of(
        None,
        _LIP_BRANCHES,
        angular_frequency=2.0e4,
        equilibrium_stiffness=5e5,
        mass=2e-2,
        elastic_stiffness=1e5,
    ),
    "following.eccentricity_at_frequency": _of(
        None,
        _LIP_BRANCHES,
        angular_frequency=200.0,
        lip_preload=100.0,
        equilibrium_stiffness=5e5,
        mass=2e-3,
        elastic_preload=150.0,
        elastic_stiffness=1e5,
    ),
    "following.allowed_eccentricity": _of(
        None,
        _LIP_BRANCHES,
        angular_frequency=200.0,
        lip_preload=100.0,
        equilibrium_stiffness=5e5,
        mass=2e-3,
        elastic_preload=150.0,
        elastic_stiffness=1e5,
        offset=5e-5,
    ),
    "following.preload_under_offset": _of(
        lip_preload=100.0, equilibrium_stiffness=5e5, offset=5e-5, elastic_preload=150.0, elastic_stiffness=1e5
    ),
    "following.allowed_offset": _of(
        None,
        _LIP_BRANCHES,
        eccentricity=5e-5,
        angular_frequency=200.0,
        lip_preload=100.0,
        equilibrium_stiffness=5e5,
        mass=2e-3,
        elastic_preload=150.0,
        elastic_stiffness=1e5,
    ),
    "heat.fin_parameter": _of(diameter=0.05, conductivity=50.0, film=40.0),
    "heat.long_shaft_length": _of(diameter=0.05, conductivity=50.0, film=40.0, share=0.95),
    "heat.fin_conductance": _of(**_FIN),
    "heat.fin_temperature_ratio": _of(position=0.05, **_FIN),
    "heat.fin_temperature_rise": _of(heat=20.0, **_FIN),
    "heat.ring_constriction": _of(diameter=0.05, contact_width=0.4e-3, conductivity=50.0),
    "heat.cylinder_wall_conductance": _of(inner_radius=0.025, outer_radius=0.04, length=0.03, conductivity=0.25),
    "heat.plane_wall_conductance": _of(area=1e-3, thickness=2e-3, conductivity=0.25),
    "heat.series": _of(_path("series"), a=2.0, b=3.0),
    "heat.join": _of(_path("join"), g1=2.0, t1=300.0, g2=3.0, t2=350.0),
    "heat.behind": _of(_path("behind"), resistance=0.5, g=2.0, t=300.0),
    "heat.contact_temperature": _of(_path("contact_temperature"), heat=20.0, g1=2.0, t1=300.0, g2=3.0, t2=350.0),
    "heat.rotating_cylinder_film": _of(
        _film("rotating_cylinder_film"),
        {"correlation": "kays_bjorklund"},
        diameter=0.05,
        rotation_speed=8.0,
        temperature_difference=50.0,
        axial_speed=0.5,
        **_AIR,
    ),
    "heat.natural_cylinder_film": _of(
        _film("natural_cylinder_film"), diameter=0.05, temperature_difference=50.0, **_AIR
    ),
    "heat.shaft_film": _of(
        _film("shaft_film"),
        {"correlation": "becker"},
        diameter=0.05,
        rotation_speed=8.0,
        temperature_difference=50.0,
        axial_speed=0.5,
        **_AIR,
    ),
    "heat.shaft_coefficient": _of(
        _film("shaft_coefficient"),
        {"correlation": "becker"},
        diameter=0.05,
        rotation_speed=8.0,
        temperature_difference=50.0,
        axial_speed=0.5,
        **_AIR,
    ),
    "heat.dry_air": _of(temperature=320.0, pressure=1e5),
    "heat.flash_band": _of(heat_flux=1e6, half_width=0.2e-3, speed=-3.0, conductivity=45.0, diffusivity=1.25e-5),
    "heat.flash_circle": _of(heat=1.0, radius=0.5e-3, speed=-3.0, conductivity=45.0, diffusivity=1.25e-5),
    "heat.fixed_point": _of(_path("fixed_point"), scale=-0.6, start=0.2, lower=-5.0, upper=5.0),
    "heat.balance_temperature": _of(_path("balance_temperature"), power=40.0, g=0.5, t=300.0, upper=600.0),
    "kinematics.surface_speed": _of(diameter=0.05, rotation_speed=50.0),
    "kinematics.rotation_speed": _of(diameter=0.05, surface_speed=7.0),
    "kinematics.oscillation_mean_speed": _of(diameter=0.05, half_amplitude=0.3, frequency=2.0),
    "kinematics.oscillation_peak_speed": _of(diameter=0.05, half_amplitude=0.3, frequency=2.0),
    "kinematics.sliding_distance": _of(speed=-3.0, duration=60.0),
    "numeric.log": _of(x=2.3),
    "numeric.log1p": _of(x=0.3),
    "numeric.log10": _of(x=2.3),
    "numeric.absolute": _of(x=-2.3),
    "numeric.power": _of(x=2.3, exponent=-0.7),
    "numeric.divide": _of(a=2.3, b=-0.7),
    "numeric.minimum": _of(a=2.3, b=2.31),
    "numeric.maximum": _of(a=2.3, b=2.31),
    "numeric.clip": _of(x=2.3, low=2.29, high=2.31),
    "numeric.where": _of(lambda x, a, b: FUNCTIONS["numeric.where"](x > 2.29, a, b), x=2.3, a=1.0, b=2.0),
    "numeric.isfinite": _of(x=2.3),
    "numeric.interp": _of(None, {"xp": (1.0, 2.0, 2.3, 4.0), "fp": (5.0, 1.0, 8.0, -3.0)}, x=2.3),
    "numeric.polyval": _of(None, {"coefficients": (1.0, -2.0, 0.5)}, x=2.3),
    **{f"numeric.{name}": _of(x=0.4) for name in ("sqrt", "exp", "expm1", "sinh", "cosh", "tanh")},
    **{f"numeric.{name}": _of(x=0.4) for name in ("sin", "cos", "tan", "arctan", "arcsin", "arccos")},
    "retention.o_ring_holding_torque": _of(line_load=1000.0, friction=0.1, mean_radius=0.0345, slip_radius=0.033),
    "retention.o_ring_slip_torque": _of(
        line_load=1000.0, inner_friction=0.2, inner_radius=0.033, outer_friction=0.19, outer_radius=0.0355
    ),
    "retention.clamp_friction_radius": _of(inner_radius=0.1, outer_radius=0.15),
    "retention.clamp_holding_torque": _of(
        clamp_force=1e4, friction=0.25, inner_radius=0.1, outer_radius=0.15, faces=2.0, kept_share=0.6
    ),
    "retention.press_fit_holding_torque": _of(pressure=5e6, friction=0.12, radius=0.036, length=8e-3),
    "retention.extrusion_pressure": _of(
        gap=0.4e-3, heel_thickness=2e-3, tensile_strength=10e6, shear_strength=5e6, planes=1.0
    ),
    "retention.allowable_gap": _of(
        pressure=20e6, heel_thickness=2e-3, tensile_strength=10e6, shear_strength=5e6, planes=1.0
    ),
    "rods.canted_coil_linear_rate": _of(**_COIL, axial_flexibility=0.1, shear_flexibility=0.2),
    "rods.canted_coil_load": _of(deflection=0.9e-3, radius_ratio=1.05, **_COIL),
    "shells.flexural_rigidity": _of(modulus=6e8, poisson_ratio=0.46, thickness=0.5e-3),
    "shells.decay_parameter": _of(poisson_ratio=0.46, radius=0.025, thickness=0.5e-3),
    "shells.lip_response": _of(**_LIP),
    "shells.lip_profile": _of(station=0.6, **_LIP),
    "shells.lip_peak_stress": _of(**_LIP),
    "shells.lip_effective_mass": _of(
        radius=0.025, thickness=0.5e-3, free_length=5e-3, poisson_ratio=0.46, density=2200.0
    ),
    "shells.held_root_share": _of(radius=0.025, thickness=0.5e-3, free_length=5e-3, poisson_ratio=0.46),
    "shells.banded_free_length": _of(free_length=5e-3, band_share=0.4),
    "shells.banded_lip_response": _of(**_LIP, band_share=0.4, band_thickness=0.4e-3),
    "springs.spring_index": _of(wire_diameter=1.8e-3, coil_diameter=14e-3),
    "springs.wahl_factor": _of(index=7.0),
    "springs.bergstraesser_factor": _of(index=7.0),
    "springs.en13906_factor": _of(index=7.0),
    "springs.helical_rate": _of(active_coils=16.3, **_HELIX),
    "springs.active_coils_for_rate": _of(rate=2400.0, **_HELIX),
    "springs.hook_adjusted_coils": _of(body_coils=12.0, modulus=198e9, shear_modulus=80e9),
    "springs.closed_body_length": _of(wire_diameter=1.8e-3, body_coils=16.3),
    "springs.helical_shear_stress": _of(force=100.0, wire_diameter=1.8e-3, coil_diameter=14e-3, factor=1.19),
    "springs.helical_force_for_stress": _of(stress=5e8, wire_diameter=1.8e-3, coil_diameter=14e-3, factor=1.19),
    "springs.wire_tensile_strength": _of(
        wire_diameter=0.9e-3, strength_at_reference=1.8e9, reference_diameter=1e-3, exponent=0.145
    ),
    "springs.extension_length": _of(force=72.5, initial_tension=72.0, rate=2400.0),
    "springs.garter_ring": _of(
        wire_diameter=0.4e-3,
        coil_diameter=2e-3,
        shear_modulus=78.5e9,
        active_coils=150.0,
        free_length=0.24,
        initial_tension=0.6,
        ring_radius=0.041,
        contact_radius=0.04,
    ),
    "springs.garter_free_length": _of(tension=1.2, rate=30.0, initial_tension=0.6, ring_radius=0.041),
    "springs.gent_modulus": _of(None, {}, shore_a=70.0),
    "springs.irhd_modulus": _of(irhd=70.0),
    "springs.irhd_hardness": _of(modulus=5.5e6),
    "springs.lindley_factor": _of(squeeze_ratio=0.2, squeeze_limit=0.202),
    "springs.oring_load": _of(section=3.53e-3, squeeze_ratio=0.2, modulus=5.5e6, squeeze_limit=0.3),
    "viscoelastic.instantaneous_modulus": _of(None, {"branch_moduli": (200.0, 80.0)}, equilibrium=300.0),
    "viscoelastic.relaxation_modulus": _of(None, _BRANCHES, time=0.02, equilibrium=300.0),
    "viscoelastic.complex_modulus": _of(None, _BRANCHES, angular_frequency=30.0, equilibrium=300.0),
    "viscoelastic.loss_factor": _of(None, _BRANCHES, angular_frequency=30.0, equilibrium=300.0),
    "viscoelastic.standard_solid_loss_peak": _of(equilibrium=300.0, branch_modulus=200.0, relaxation_time=0.01),
    "viscoelastic.arrhenius_shift": _of(temperature=350.0, reference_temperature=296.15, activation_energy=8e4),
    "viscoelastic.wlf_shift": _of(temperature=320.0, reference_temperature=296.15, c1=17.44, c2=51.6),
    "viscoelastic.tabulated_modulus": _of(
        None,
        {"table_temperatures": (250.0, 320.0, 400.0), "table_moduli": (900e6, 450e6, 200e6)},
        temperature=320.0,
    ),
    "viscoelastic.relaxed_load_ratio": _of(
        None, _BRANCHES, time=0.02, shift_factor=0.7, equilibrium=300.0, set_fraction=0.2
    ),
    "viscoelastic.recoverable_interference": _of(interference=0.3e-3, set_fraction=0.2),
    "wear.depth_rate": _of(wear_rate=1e-15, contact_pressure=2e6, surface_speed=3.0),
    "wear.wear_depth": _of(wear_rate=1e-15, contact_pressure=2e6, distance=1e6),
    "wear.wear_distance": _of(wear_rate=1e-15, contact_pressure=2e6, allowance=0.2e-3),
    "wear.wear_rate_range": _of(low=1e-16, high=2e-15, counterface_factor=1.5, lubrication_factor=0.3, nominal=4e-16),
    "wear.life": _of(_life, allowance=0.2e-3, low=1e-16, high=2e-15, contact_pressure=2e6, surface_speed=3.0),
    "wear.duty_wear": _of(
        _numbered("wear.duty_wear", "time_shares", "depth_rates"),
        time_shares_0=0.3,
        time_shares_1=0.7,
        depth_rates_0=1e-9,
        depth_rates_1=3e-10,
    ),
    "wear.relieved_depth": _of(wear_rate=1e-15, line_load=2000.0, stiffness=5e5, contact_width=0.4e-3, distance=1e6),
    "wear.relieved_distance": _of(
        wear_rate=1e-15, line_load=2000.0, stiffness=5e5, contact_width=0.4e-3, allowance=0.2e-3
    ),
    "wear.rounded_edge_depth": _of(wear_rate=1e-15, line_load=2000.0, edge_radius=0.2e-3, distance=1e6),
}

SCALAR_ONLY = {
    "heat.build_table": "writes a table",
    "build_tables.main": "writes tables",
    "heat.exact_band_rise": "solver of a table, floats only",
    "heat.exact_band_mean": "solver of a table, floats only",
    "heat.exact_band_peak": "solver of a table, floats only",
    "heat.exact_ring_factor": "solver of a table, floats only",
    "expansion.strain_curve": "takes and gives a table",
    "fits.accepted_classes": "takes tables, gives names",
    "numeric.is_array": "tells the shapes apart",
}


def _flatten(result: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(result, tuple):
        names = getattr(result, "_fields", [str(i) for i in range(len(result))])
        for name, value in zip(names, result, strict=True):
            yield from _flatten(value, f"{path}.{name}")
    else:
        yield path, result


def _call(name: str, numbers: dict[str, Any]) -> dict[str, Any]:
    example = EXAMPLES[name]
    return dict(_flatten((example.call or FUNCTIONS[name])(**numbers, **example.fixed)))


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, (str, bool, np.bool_)):
        return bool(one == other)
    return bool(other == pytest.approx(one, rel=1e-11, abs=1e-300, nan_ok=True))


def _assert_agrees(name: str, numbers: dict[str, Any], size: int) -> None:
    """Assert that an array case equals the float cases it is made of."""
    together = _call(name, numbers)
    for i in range(size):
        single = {key: float(value[i]) if isinstance(value, np.ndarray) else value for key, value in numbers.items()}
        for path, expected in _call(name, single).items():
            found = together[path]
            assert np.shape(found) in {(), (size,)}, f"{path}: shape {np.shape(found)}"
            value = found if np.shape(found) == () else found[i]
            assert _same(expected, value), f"{path}, case {i}: float {expected!r}, array {value!r}"


def test_every_public_function_has_an_example() -> None:
    assert EXAMPLES.keys() | SCALAR_ONLY.keys() == FUNCTIONS.keys()
    assert not EXAMPLES.keys() & SCALAR_ONLY.keys()


@pytest.mark.parametrize("name", EXAMPLES)
def test_floats_give_floats(name: str) -> None:
    for path, value in _call(name, EXAMPLES[name].numbers).items():
        assert type(value) in {float, bool, int, str}, f"{path}: {type(value)}"
        if isinstance(value, float):
            assert not math.isnan(value), f"{path}: the example is out of range"


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize("size", [1, 5])
def test_arrays_give_what_floats_give(name: str, size: int) -> None:
    shift = {key: np.roll(FACTORS, i) for i, key in enumerate(EXAMPLES[name].numbers)}
    numbers = {key: value * shift[key][:size] for key, value in EXAMPLES[name].numbers.items()}
    _assert_agrees(name, numbers, size)
    assert {np.shape(value) for value in _call(name, numbers).values()} == {(size,)}


@pytest.mark.parametrize("name", EXAMPLES)
def test_one_array_among_floats_is_enough(name: str) -> None:
    for key, value in EXAMPLES[name].numbers.items():
        _assert_agrees(name, EXAMPLES[name].numbers | {key: value * FACTORS}, 5)


@pytest.mark.parametrize("name", EXAMPLES)
def test_two_dimensions_give_what_one_gives(name: str) -> None:
    shift = {key: np.roll(FACTORS, i)[:4] for i, key in enumerate(EXAMPLES[name].numbers)}
    numbers = {key: value * shift[key] for key, value in EXAMPLES[name].numbers.items()}
    flat = _call(name, numbers)
    square = _call(name, {key: value.reshape(2, 2) for key, value in numbers.items()})
    for path, expected in flat.items():
        assert np.shape(square[path]) == (2, 2), path
        assert all(_same(a, b) for a, b in zip(expected, np.ravel(square[path]), strict=True)), path
