"""The numbers of a rule set as formulas take them: tables of records for machine code, leaves for a trace.

Tables, not single records, and not one record that holds all: the compiler takes ten times as long to look at a single
record as at a table, and the length of a table within a record would be part of its type, so that one compound more would
compile everything anew. What a table holds for one name stands in one row; the last row of some stands for "not stated".
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from types import SimpleNamespace
from typing import Any, NamedTuple, Protocol

import numpy as np

from glandwise.case import film_numbers, fluid_numbers
from glandwise.case.choices import Application, LipForm, Medium
from glandwise.case.expansion_numbers import (
    METAL_TYPE,
    PTFE_TYPE,
    MetalNumbers,
    PtfeExpansion,
    packed_ptfe,
    packed_usual,
    traced_ptfe,
    traced_usual,
)
from glandwise.case.film_numbers import FilmNumbers
from glandwise.case.fluid_numbers import FluidNumbers
from glandwise.case.tables import (
    BRANCHES,
    CURVE,
    LazyRows,
    OneRow,
    Rows,
    at_path,
    fill,
    filled,
    packed_curve,
    record_dtype,
    source_of,
    traced_datum,
    traced_record,
)
from glandwise.mechanics.choices import FilmCorrelation
from glandwise.numerics.dimensions import dimension
from glandwise.numerics.docstring import Quantity, attributes
from glandwise.numerics.interpolation import CurveRecord
from glandwise.numerics.trace import Choice, TracedCurve, leaf
from glandwise.rules.model import CAPACITY_DIMENSION, Capacity, Compound, Datum, Prony, RuleSetData

FACTORS = 8
"""Factors on one rated capacity that stand by themselves; any more are multiplied into the last."""

PRONY = np.dtype(
    [
        ("equilibrium", "f8"),
        ("shares", "f8", (BRANCHES,)),
        ("times", "f8", (BRANCHES,)),
        ("n", "i8"),
        ("reference_temperature", "f8"),
        ("activation_energy", "f8"),
    ]
)
RATING = np.dtype([("limit", "f8"), ("curve", CURVE), ("factors", "f8", (FACTORS,)), ("n", "i8")])


class Constants:
    """Numbers that hold for every case."""

    nominal_time: float
    """t_run [s]: Time after which the lip has run in"""
    fresh_time: float
    """t_fresh [s]: Time after which a new lip is looked at"""
    service_time: float
    """t_service [s]: Time for which the lip has to follow the shaft"""
    ambient_temperature: float
    """T_amb [K]: Temperature on the air side"""
    air_side_below: float
    """Delta_T_air [K]: How far the air side of a hot machine lies below its fluid at most"""
    shaft_length_ratio: float
    """f_shaft [-]: Length of shaft that carries heat, each side, over the diameter"""
    housing_length_ratio: float
    """f_back [-]: Way of the heat through the lip over its thickness"""
    packed_thickness: float
    """t_p [m]: Thickness of grease or paste around the shaft through which heat is conducted"""
    condensing_film: float
    """h_cond [W/(m²·K)]: Film coefficient where vapour condenses"""
    condensing_superheat: float
    """dT_cond [K]: Superheat of a vapour from which nothing condenses on the shaft"""
    boiling_superheat: float
    """dT_n [K]: Superheat of the shaft to which bubbles form and leave"""
    vapour_film: float
    """h_f [W/(m²·K)]: Film coefficient under a film of vapour"""
    wetted_mist: float
    """f_mist [-]: Share of the shaft that splash and mist wet"""
    wetted_starved: float
    """f_starved [-]: Share of the shaft that is wetted where little gets to it"""
    viscosity_reach: float
    """dT_reach [K]: How far beyond its points a viscosity is continued"""
    pressure_rating_temperature: float
    """T_rated [K]: Temperature to which the rated pressure of an energized lip holds"""
    dry_pv_factor: float
    """f_dry [-]: Limiting PV of a dry contact over that of the compound"""
    dry_pv_factor_high: float
    """f_dry_high [-]: High end of the limiting PV of a dry contact over that of the compound"""
    wet_pv_factor: float
    """f_wet [-]: Limiting PV of a wet contact over that of the compound"""
    wet_pv_factor_high: float
    """f_wet_high [-]: High end of the limiting PV of a wet contact over that of the compound"""
    root_stress_share: float
    """f_root [-]: Stress that the root bears for long over the yield strength"""
    band_length_share: float
    """f_band [-]: Length that a reinforcing band leaves free over that of the lip"""
    plastic_ratio: float
    """f_p [-]: Mean contact pressure at which a compound flows over its yield strength"""
    wander_margin: float
    """m_w [m]: Clearance at the root of a lip beside a shaft that wanders"""
    cold_margin: float
    """m_cold [m]: Clearance at the root of a lip that has shrunk in the cold"""
    size_reference: float
    """d_0 [m]: Shaft diameter at which the sizes of lips are given"""
    length_power: float
    """n_L [-]: Power of the shaft diameter by which lip lengths grow"""
    interference_power: float
    """n_i [-]: Power of the shaft diameter by which interferences grow"""
    clearance_power: float
    """n_g [-]: Power of the shaft diameter by which clearances grow"""
    reference_modulus: float
    """E_0 [Pa]: Modulus for which the slenderness is given"""
    runout_share: float
    """f_TIR [-]: Radial interference of a relaxed lip over the runout that it follows"""
    hot_share: float
    """f_hot [-]: Share of the interference lost in the heat that is made up for"""
    bore_angle_max: float
    """alpha_max [rad]: Greatest angle of the bore of the lip"""
    least_load: float
    """q_least [N/m]: Load below which a lip is not taken to touch"""
    reference_temperature: float
    """T_20 [K]: Temperature from which expansions of metals count"""
    shape_span: float
    """T_span [K]: Lower end of the span over which a lent shape is scaled"""
    excluder_load_share: float
    """f_excluder [-]: Load of an excluder over that of the main lip without pressure"""
    redundant_load_share: float
    """f_redundant [-]: Load of a redundant lip over that of the main lip without pressure"""
    lip_allowance_share: float
    """f_wear_t [-]: Share of the lip thickness that may wear"""
    energizer_allowance_share: float
    """f_wear_e [-]: Share of the travel of the energizer that wear may use up"""
    squeeze_limit: float
    """C_max [-]: Squeeze of an O-ring up to which its load holds"""
    shear_yield_ratio: float
    """f_tau [-]: Shear yield strength over that in tension"""
    metal_modulus_scatter: float
    """x_E [-]: Relative scatter of the modulus of an alloy"""
    elastomer_modulus_scatter: float
    """x_E [-]: Relative scatter of the modulus of an elastomer"""
    working_load_share: float
    """f_q [-]: Share of the middle load by which that of a canted coil may differ within its working range"""

    duty_number_half: float
    """G_0 [-]: Duty number at which half of what a film may carry is carried"""
    full_film_share: float
    """f_0 [-]: Share of the load that solid contact bears in a full film"""
    full_film_share_particles: float
    """f_0 [-]: Share of the load that solid contact bears in a full film with solids"""
    film_friction_low: float
    """C_low [-]: Low end of the friction of a full film over the cube root of the duty number"""
    film_friction: float
    """C [-]: Friction of a full film over the cube root of the duty number"""
    film_friction_high: float
    """C_high [-]: High end of the friction of a full film over the cube root of the duty number"""
    supply_grease: float
    """f_G [-]: Duty number in grease over that of a flooded lip"""
    supply_mist: float
    """f_G [-]: Duty number in mist over that of a flooded lip"""
    supply_starved: float
    """f_G [-]: Duty number of a starved lip over that of a flooded one"""
    boiling_distance: float
    """dT_sat [K]: Distance below boiling from which the film is lost"""
    reversal_floor: float
    """f_r [-]: Share that solid contact bears at the least in a slow swing"""
    reversal_speed: float
    """v_r [m/s]: Mean speed up to which that holds"""
    greatest_viscosity: float
    """eta_max [Pa·s]: Viscosity beyond which nothing more is gained"""
    reach_cold: float
    """dT_cold [K]: How far below its coldest point a viscosity is continued"""
    reach_hot: float
    """dT_hot [K]: How far above its hottest point a viscosity is continued"""

    duty_number_half_low: float
    """G_0_low [-]: Low end of the duty number at which half of a film carries"""
    duty_number_half_high: float
    """G_0_high [-]: High end of the duty number at which half of a film carries"""
    full_film_share_low: float
    """f_0_low [-]: Low end of the share of solid contact in a full film"""
    full_film_share_high: float
    """f_0_high [-]: High end of the share of solid contact in a full film"""
    full_film_share_particles_low: float
    """f_0_low [-]: Low end of the share of solid contact in a full film with solids"""
    full_film_share_particles_high: float
    """f_0_high [-]: High end of the share of solid contact in a full film with solids"""
    lip_allowance_low: float
    """f_wear_low [-]: Low end of the share of the lip thickness that may wear"""
    lip_allowance_high: float
    """f_wear_high [-]: High end of the share of the lip thickness that may wear"""
    lost_load_share: float
    """f_x [-]: Share of the load left where a lip is taken as worn out"""
    solid_load_floor: float
    """f_q_s [-]: Least share of the load that solid contact bears"""
    wear_temperature_1: float
    """T_w1 [K]: Point 1 of the factor of the temperature on wear"""
    wear_temperature_2: float
    """T_w2 [K]: Point 2 of the factor of the temperature on wear"""
    wear_temperature_3: float
    """T_w3 [K]: Point 3 of the factor of the temperature on wear"""
    wear_temperature_4: float
    """T_w4 [K]: Point 4 of the factor of the temperature on wear"""
    wear_filled_1: float
    """f_w1 [-]: Factor on the wear of filled PTFE at point 1"""
    wear_filled_2: float
    """f_w2 [-]: Factor on the wear of filled PTFE at point 2"""
    wear_filled_3: float
    """f_w3 [-]: Factor on the wear of filled PTFE at point 3"""
    wear_filled_4: float
    """f_w4 [-]: Factor on the wear of filled PTFE at point 4"""
    wear_unfilled_1: float
    """f_w1 [-]: Factor on the wear of unfilled PTFE at point 1"""
    wear_unfilled_2: float
    """f_w2 [-]: Factor on the wear of unfilled PTFE at point 2"""
    wear_unfilled_3: float
    """f_w3 [-]: Factor on the wear of unfilled PTFE at point 3"""
    wear_unfilled_4: float
    """f_w4 [-]: Factor on the wear of unfilled PTFE at point 4"""
    finish_roughness: float
    """R_1 [m]: Roughness up to which the finish does not count"""
    finish_exponent: float
    """m_R [-]: Power of the roughness beyond it"""
    mild_speed: float
    """v_m [m/s]: Speed up to which dry unfilled PTFE wears mildly"""
    severe_speed: float
    """v_s [m/s]: Speed from which on it wears severely"""
    mild_factor: float
    """f_m [-]: Rate of mild wear over that of severe wear"""
    known_pressure: float
    """p_known [Pa]: Mean contact pressure up to which wear was measured"""
    wear_fuel: float
    """f_l [-]: Factor of a fuel on wear, over oil"""
    wear_fuel_low: float
    """f_l_low [-]: Factor of a fuel on wear, low end"""
    wear_fuel_high: float
    """f_l_high [-]: Factor of a fuel on wear, high end"""
    wear_solvent: float
    """f_l [-]: Factor of a solvent on wear, over water"""
    wear_solvent_low: float
    """f_l_low [-]: Factor of a solvent on wear, low end"""
    wear_solvent_high: float
    """f_l_high [-]: Factor of a solvent on wear, high end"""
    wear_crystals: float
    """f_x [-]: Factor of crystals that a drying fluid leaves at the lip on wear"""
    wear_crystals_low: float
    """f_x_low [-]: Factor of crystals on wear, low end"""
    wear_crystals_high: float
    """f_x_high [-]: Factor of crystals on wear, high end"""
    solids_powder: float
    """f_s [-]: Factor of powder in the fluid on wear"""
    solids_powder_low: float
    """f_s_low [-]: Factor of powder in the fluid on wear, low end"""
    solids_powder_high: float
    """f_s_high [-]: Factor of powder in the fluid on wear, high end"""
    solids_dough: float
    """f_s [-]: Factor of dough in the fluid on wear"""
    solids_dough_low: float
    """f_s_low [-]: Factor of dough in the fluid on wear, low end"""
    solids_dough_high: float
    """f_s_high [-]: Factor of dough in the fluid on wear, high end"""
    solids_chips: float
    """f_s [-]: Factor of chips in the fluid on wear"""
    solids_chips_low: float
    """f_s_low [-]: Factor of chips in the fluid on wear, low end"""
    solids_chips_high: float
    """f_s_high [-]: Factor of chips in the fluid on wear, high end"""
    solids_slurry: float
    """f_s [-]: Factor of slurry in the fluid on wear"""
    solids_slurry_low: float
    """f_s_low [-]: Factor of slurry in the fluid on wear, low end"""
    solids_slurry_high: float
    """f_s_high [-]: Factor of slurry in the fluid on wear, high end"""
    seal_scatter: float
    """r_s [-]: Ratio of the ends of life of nine in ten seals of one kind"""
    probability_fail: float
    """P_fail [-]: Probability of a life below which it is failed"""
    probability_caution: float
    """P_caution [-]: Probability of a life below which it is a caution"""
    life_caution_at: float
    """U_caution [-]: Utilization from which a pass becomes a caution"""
    pv_caution_at: float
    """U_PV_caution [-]: Utilization from which the contact PV is a caution"""
    longest_life: float
    """t_max [s]: Longest life that is estimated"""

    PATHS: Mapping[str, str] = {
        "duty_number_half_low": "running.lubrication.duty_number_half:low",
        "duty_number_half_high": "running.lubrication.duty_number_half:high",
        "full_film_share_low": "running.lubrication.full_film_share:low",
        "full_film_share_high": "running.lubrication.full_film_share:high",
        "full_film_share_particles_low": "running.lubrication.full_film_share_particles:low",
        "full_film_share_particles_high": "running.lubrication.full_film_share_particles:high",
        "lip_allowance_low": "running.wear.lip_allowance_share:low",
        "lip_allowance_high": "running.wear.lip_allowance_share:high",
        "lost_load_share": "running.wear.lost_load_share",
        "solid_load_floor": "running.wear.solid_load_floor",
        "wear_temperature_1": "running.wear.temperature_filled:x0",
        "wear_temperature_2": "running.wear.temperature_filled:x1",
        "wear_temperature_3": "running.wear.temperature_filled:x2",
        "wear_temperature_4": "running.wear.temperature_filled:x3",
        "wear_filled_1": "running.wear.temperature_filled:y0",
        "wear_filled_2": "running.wear.temperature_filled:y1",
        "wear_filled_3": "running.wear.temperature_filled:y2",
        "wear_filled_4": "running.wear.temperature_filled:y3",
        "wear_unfilled_1": "running.wear.temperature_unfilled:y0",
        "wear_unfilled_2": "running.wear.temperature_unfilled:y1",
        "wear_unfilled_3": "running.wear.temperature_unfilled:y2",
        "wear_unfilled_4": "running.wear.temperature_unfilled:y3",
        "finish_roughness": "running.wear.finish_roughness",
        "finish_exponent": "running.wear.finish_exponent",
        "mild_speed": "running.wear.mild_speed",
        "severe_speed": "running.wear.severe_speed",
        "mild_factor": "running.wear.mild_factor",
        "known_pressure": "running.wear.known_pressure",
        "wear_fuel": "running.wear.fluids.fuel",
        "wear_fuel_low": "running.wear.fluids.fuel:low",
        "wear_fuel_high": "running.wear.fluids.fuel:high",
        "wear_solvent": "running.wear.fluids.solvent",
        "wear_solvent_low": "running.wear.fluids.solvent:low",
        "wear_solvent_high": "running.wear.fluids.solvent:high",
        "wear_crystals": "running.wear.fluids.crystals",
        "wear_crystals_low": "running.wear.fluids.crystals:low",
        "wear_crystals_high": "running.wear.fluids.crystals:high",
        "solids_powder": "running.wear.solids.powder",
        "solids_powder_low": "running.wear.solids.powder:low",
        "solids_powder_high": "running.wear.solids.powder:high",
        "solids_dough": "running.wear.solids.dough",
        "solids_dough_low": "running.wear.solids.dough:low",
        "solids_dough_high": "running.wear.solids.dough:high",
        "solids_chips": "running.wear.solids.chips",
        "solids_chips_low": "running.wear.solids.chips:low",
        "solids_chips_high": "running.wear.solids.chips:high",
        "solids_slurry": "running.wear.solids.slurry",
        "solids_slurry_low": "running.wear.solids.slurry:low",
        "solids_slurry_high": "running.wear.solids.slurry:high",
        "seal_scatter": "running.wear.seal_scatter",
        "probability_fail": "running.wear.probability_fail",
        "probability_caution": "running.wear.probability_caution",
        "life_caution_at": "criteria.life.caution_at",
        "pv_caution_at": "criteria.contact_pressure_velocity.caution_at",
        "longest_life": "running.wear.longest_life",
        "nominal_time": "running.nominal_time",
        "fresh_time": "running.fresh_time",
        "service_time": "sizing.following.service_time",
        "ambient_temperature": "running.ambient_temperature",
        "air_side_below": "running.air_side_below",
        "shaft_length_ratio": "running.shaft_length_ratio",
        "housing_length_ratio": "running.housing_length_ratio",
        "packed_thickness": "running.fluid_film.packed_thickness",
        "condensing_film": "running.fluid_film.condensing",
        "condensing_superheat": "running.fluid_film.condensing_superheat",
        "boiling_superheat": "running.fluid_film.boiling_superheat",
        "vapour_film": "running.fluid_film.vapour",
        "wetted_mist": "running.fluid_film.wetted_mist",
        "wetted_starved": "running.fluid_film.wetted_starved",
        "viscosity_reach": "running.fluid_film.viscosity_reach",
        "pressure_rating_temperature": "running.pressure_rating_temperature",
        "dry_pv_factor": "running.dry_pv_factor",
        "dry_pv_factor_high": "running.dry_pv_factor:high",
        "wet_pv_factor": "running.wet_pv_factor",
        "wet_pv_factor_high": "running.wet_pv_factor:high",
        "root_stress_share": "running.root_stress_share",
        "band_length_share": "sizing.flexible_lip.band_length_share",
        "plastic_ratio": "sizing.contact.plastic_ratio",
        "wander_margin": "sizing.lip.wander_margin",
        "cold_margin": "sizing.lip.cold_margin",
        "size_reference": "sizing.lip.reference_diameter",
        "length_power": "sizing.lip.length_power",
        "interference_power": "sizing.lip.interference_power",
        "clearance_power": "sizing.lip.clearance_power",
        "reference_modulus": "sizing.lip.reference_modulus",
        "runout_share": "sizing.lip.runout_share",
        "hot_share": "sizing.lip.hot_share",
        "bore_angle_max": "sizing.lip.bore_angle_max",
        "least_load": "sizing.contact.least_load",
        "reference_temperature": "expansion.metals.reference_temperature",
        "shape_span": "expansion.metals.shape_span",
        "excluder_load_share": "running.excluder_load_share",
        "redundant_load_share": "running.redundant_load_share",
        "lip_allowance_share": "running.wear.lip_allowance_share",
        "energizer_allowance_share": "running.wear.energizer_allowance_share",
        **{
            name: f"running.lubrication.{name}"
            for name in (
                "duty_number_half",
                "full_film_share",
                "full_film_share_particles",
                "supply_grease",
                "supply_mist",
                "supply_starved",
                "boiling_distance",
                "reversal_floor",
                "reversal_speed",
                "greatest_viscosity",
                "reach_cold",
                "reach_hot",
            )
        },
        "film_friction_low": "running.lubrication.film_friction_factor:low",
        "film_friction": "running.lubrication.film_friction_factor",
        "film_friction_high": "running.lubrication.film_friction_factor:high",
        "squeeze_limit": "sizing.energizer.o_ring_squeeze_limit",
        "shear_yield_ratio": "sizing.energizer.shear_yield_ratio",
        "metal_modulus_scatter": "sizing.energizer.metal_modulus_scatter",
        "elastomer_modulus_scatter": "sizing.energizer.elastomer_modulus_scatter",
        "working_load_share": "sizing.energizer.working_load_share",
    }
    film_correlation: int
    # codes of the materials that a design has where it names none
    energizer_alloy: int
    garter_alloy: int
    o_ring_elastomer: int
    # of how many elastomers there is a choice
    elastomers: int
    # and the code of the fluid that wets a lip in a gas
    lubricant: int


class CompoundNumbers:
    """Numbers of a compound."""

    density: float
    """rho [kg/m³]: Density of the compound"""
    poisson_ratio: float
    """nu [-]: Poisson's ratio of the compound"""
    thermal_conductivity: float
    """k_lip [W/(m·K)]: Conductivity of the compound"""
    temperature_min: float
    """T_min [K]: Lowest temperature of the compound"""
    temperature_max: float
    """T_max [K]: Highest temperature of the compound"""
    shaft_hardness_min: float
    """H_min [-]: Least hardness of the shaft that the fillers ask for, HRC"""
    shaft_roughness_min: float
    """Ra_min [m]: Least roughness of the shaft"""
    shaft_roughness_max: float
    """Ra_max [m]: Greatest roughness of the shaft"""
    elastic_modulus: CurveRecord
    """E [Pa]: Young's modulus of the compound"""
    yield_strength: CurveRecord
    """S [Pa]: Yield strength of the compound"""
    limiting_pv: CurveRecord
    """PV [Pa·m/s]: Limiting product of contact pressure and speed"""
    pv_derating: CurveRecord
    """f_PV [-]: Factor on the limiting product in the heat"""
    expansion_ratio: float
    """f_exp [-]: Expansion of the compound over that of unfilled PTFE"""
    set_fraction: float
    """kappa [-]: Share of a deformation in the heat that stays"""
    # by medium
    friction: Sequence[float]
    friction_low: Sequence[float]
    friction_high: Sequence[float]
    wear: Sequence[float]
    wear_low: Sequence[float]
    wear_high: Sequence[float]
    relaxation: Any
    filled: int  # whether it has fillers
    # whether friction and wear are those of the caller, measured in the duty
    own_friction: int
    own_wear: int
    # factor of a dry inert gas on wear
    dry_inert: float
    dry_inert_low: float
    dry_inert_high: float


class AlloyNumbers:
    """Numbers of an alloy."""

    density: float
    """rho_e [kg/m³]: Density of the alloy"""
    poisson_ratio: float
    """nu_e [-]: Poisson's ratio of the alloy"""
    temperature_min: float
    """T_min_e [K]: Lowest temperature of the alloy"""
    temperature_max: float
    """T_max_e [K]: Highest temperature of the alloy"""
    elastic_modulus: CurveRecord
    """E_e [Pa]: Young's modulus of the alloy"""
    yield_strength: CurveRecord
    """S_e [Pa]: Yield strength of the alloy"""


class ElastomerNumbers:
    """Numbers of an elastomer."""

    hardness: float
    """S_A [-]: Hardness of the elastomer, Shore A"""
    temperature_min: float
    """T_min_o [K]: Lowest temperature of the O-ring"""
    temperature_max: float
    """T_max_o [K]: Highest temperature of the O-ring"""


class RingNumbers:
    """What a fluid does to an elastomer."""

    attack: int
    """0 nothing, 1 not known, 2 care is needed, 3 it is attacked."""


_ATTACKS = ("compatible", None, "caution", "incompatible")


class FlexibleSizing:
    """Usual dimensions of a flexible lip, by shaft diameter."""

    lip_length: float
    """L_0 [m]: Lip length at the reference diameter"""
    interference: float
    """i_0 [m]: Interference on the diameter while running, at the reference diameter"""
    root_clearance: float
    """g_d0 [m]: Radial clearance at the root, at the reference diameter"""
    slenderness: float
    """s_0 [-]: Slenderness that a root bears at a pressure and a strength"""
    slenderness_pressure: float
    """p_0 [Pa]: Pressure at which the slenderness is given"""
    slenderness_strength: float
    """sigma_0 [Pa]: Strength at which the slenderness is given"""
    slenderness_min: float
    """s_least [-]: Least slenderness"""
    slenderness_max: float
    """s_most [-]: Greatest slenderness"""
    thickness_share_max: float
    """f_t [-]: Greatest thickness over free length"""
    band_slenderness: float
    """s_band [-]: Slenderness of a banded lip"""
    band_interference: float
    """i_band [m]: Interference of a banded lip on the diameter while running, at the reference diameter"""
    band_clearance: float
    """g_band [m]: Radial clearance at the root of a banded lip, at the reference diameter"""
    garter_place: float
    """f_garter [-]: Place of the garter, from the root, over the free length"""
    radial_section: CurveRecord
    """w_r [m]: Radial section of the seal"""
    contact_width: CurveRecord
    """b_w [m]: Width of the worn-in contact"""
    garter_wire_diameter: CurveRecord
    """d_g [m]: Wire diameter of the garter"""
    garter_coil_ratio: float
    """f_coil [-]: Mean coil diameter of the garter over its wire"""
    garter_stretch: float
    """f_stretch [-]: Stretch of the garter on its seat"""
    garter_initial_stress: float
    """tau_i [Pa]: Torsion stress of the initial tension of the garter"""


class EnergizedSizing:
    """Usual dimensions of an energized lip, by shaft diameter."""

    light_pressure: float
    """p_light [Pa]: Pressure up to which a lip is long and slender"""
    heavy_pressure: float
    """p_heavy [Pa]: Pressure from which a lip is short and thick"""
    lip_length_light: float
    """L_light [m]: Lip length at low pressure, at the reference diameter"""
    lip_length_heavy: float
    """L_heavy [m]: Lip length at high pressure, at the reference diameter"""
    slenderness_light: float
    """s_light [-]: Slenderness at low pressure"""
    slenderness_heavy: float
    """s_heavy [-]: Slenderness at high pressure"""
    interference: float
    """i_0 [m]: Interference on the diameter while running, at the reference diameter"""
    cold_share: float
    """s_cold [-]: Share of what the cold brings that the lip is made without"""
    least_share: float
    """s_least [-]: Least share of the interference that the lip is made with"""
    bore_angle: float
    """alpha_0 [rad]: Usual angle of the bore of the lip"""
    spring_load_light: float
    """F_light [N/m]: Load of the spring at low pressure"""
    spring_load_medium: float
    """F_medium [N/m]: Load of the spring at middling pressure"""
    spring_load_heavy: float
    """F_heavy [N/m]: Load of the spring at high pressure"""
    coil_load_share: float
    """f_coil [-]: Load of a canted coil over that of a cantilever V"""
    spring_place: float
    """f_spring [-]: Place of the spring, from the root, over the free length"""
    radial_section: CurveRecord
    """w_r [m]: Radial section of the seal"""
    contact_width: CurveRecord
    """b_w [m]: Width of the worn-in contact of a plain lip"""
    strip_thickness: CurveRecord
    """t_v [m]: Strip thickness of the V energizer"""
    finger_length: CurveRecord
    """L_v [m]: Finger length of the V energizer"""
    finger_angle: float
    """phi_v [rad]: Angle of a finger of the V energizer to the axis"""
    finger_coverage: float
    """c_v [-]: Share of the circumference that the fingers cover"""
    finger_deflection: CurveRecord
    """delta_v [m]: Deflection of the V energizer as fitted"""
    coil_wire_diameter: CurveRecord
    """d_w [m]: Wire diameter of the canted coil"""
    coil_height: CurveRecord
    """h_coil [m]: Height of the canted coil"""
    coil_width_ratio: float
    """f_width [-]: Width of the canted coil over its height"""
    coil_pitch_ratio: float
    """f_pitch [-]: Pitch of the canted coil over its wire"""
    coil_cant_angle: float
    """phi_coil [rad]: Cant angle of the coil"""
    coil_deflection_share: float
    """f_deflection [-]: Deflection of the canted coil as fitted over its height"""
    heel_thickness: CurveRecord
    """t_h0 [m]: Thickness of a standard heel"""
    extended_heel_ratio: float
    """f_h [-]: Extended over standard heel"""


class ShaftMaterialNumbers(Protocol):
    """Numbers of a shaft material."""

    thermal_conductivity: float
    wear_factor: float
    wear_factor_low: float
    wear_factor_high: float
    hardness: float


class TargetNumbers(Protocol):
    """Life that is wanted where none is stated, by the machine."""

    life: float


class LipFormNumbers(Protocol):
    """What the form of an energized lip does to contact width and load."""

    contact_width_factor: float
    load_factor: float


class RatingRecord(Protocol):
    """A rated capacity and the first ``n`` factors on it; a curve without points is none."""

    limit: float
    curve: CurveRecord
    factors: Sequence[float]
    n: int


class RatingNumbers(Protocol):
    """Rated capacities of a design."""

    surface_speed: RatingRecord
    pressure: RatingRecord
    vacuum: RatingRecord
    pressure_velocity: RatingRecord
    runout: RatingRecord
    offset: RatingRecord


class Rules(NamedTuple):
    """Numbers of a rule set: tables of records, or leaves with the same names."""

    constants: Rows[Constants]
    flexible: Rows[FlexibleSizing]
    energized: Rows[EnergizedSizing]
    compounds: Rows[CompoundNumbers]
    alloys: Rows[AlloyNumbers]
    elastomers: Rows[ElastomerNumbers]
    rings: Rows[RingNumbers]
    """What each fluid does to each elastomer, fluid by fluid."""
    fluids: Rows[FluidNumbers]
    films: Rows[FilmNumbers]
    """Of the fluids around a shaft, by the code of the fluid."""
    shaft_materials: Rows[ShaftMaterialNumbers]
    lip_forms: Rows[LipFormNumbers]
    targets: Rows[TargetNumbers]
    ratings: Rows[RatingNumbers]
    ptfe: Rows[PtfeExpansion]
    metals: Rows[MetalNumbers]
    """Materials of shafts and housings, the last two those of a housing and of a shaft that are not stated."""


RATED = tuple(CAPACITY_DIMENSION)
"""Criteria with a rated capacity, in the order of the fields of a rating."""


_BY_MEDIUM = (len(Medium),)
DTYPES: Mapping[str, np.dtype[Any]] = {
    "constants": record_dtype(
        Constants,
        ("film_correlation", "i8"),
        ("energizer_alloy", "i8"),
        ("garter_alloy", "i8"),
        ("o_ring_elastomer", "i8"),
        ("elastomers", "i8"),
        ("lubricant", "i8"),
    ),
    "flexible": record_dtype(FlexibleSizing),
    "energized": record_dtype(EnergizedSizing),
    "compounds": record_dtype(
        CompoundNumbers,
        ("friction", "f8", _BY_MEDIUM),
        ("friction_low", "f8", _BY_MEDIUM),
        ("friction_high", "f8", _BY_MEDIUM),
        ("wear", "f8", _BY_MEDIUM),
        ("wear_low", "f8", _BY_MEDIUM),
        ("wear_high", "f8", _BY_MEDIUM),
        ("relaxation", PRONY),
        ("filled", "i8"),
        ("own_friction", "i8"),
        ("own_wear", "i8"),
        ("dry_inert", "f8"),
        ("dry_inert_low", "f8"),
        ("dry_inert_high", "f8"),
    ),
    "alloys": record_dtype(AlloyNumbers),
    "elastomers": record_dtype(ElastomerNumbers),
    "rings": np.dtype([("attack", "i8")]),
    "fluids": fluid_numbers.DTYPE,
    "films": film_numbers.DTYPE,
    "shaft_materials": np.dtype(
        [
            (name, "f8")
            for name in ("thermal_conductivity", "wear_factor", "wear_factor_low", "wear_factor_high", "hardness")
        ]
    ),
    "targets": np.dtype([("life", "f8")]),
    "lip_forms": np.dtype([("contact_width_factor", "f8"), ("load_factor", "f8")]),
    "ratings": np.dtype([(name, RATING) for name in RATED]),
    "ptfe": PTFE_TYPE,
    "metals": METAL_TYPE,
}


def _prony(record: Prony) -> Any:
    return (
        record.equilibrium,
        filled(record.branches, BRANCHES),
        filled(record.times, BRANCHES),
        len(record.times),
        record.reference_temperature.si,
        record.activation_energy.si,
    )


def _is_own(by_medium: Any) -> bool:
    """Whether one of some values is of the request."""
    return any(
        datum is not None and datum.source == "request" for datum in (getattr(by_medium, item.name) for item in Medium)
    )


def constant_at(data: RuleSetData, path: str) -> tuple[Any, float]:
    """Return the record at a dotted path and its number.

    Behind the path ``:low`` and ``:high`` are the ends of its range, ``:x1`` and ``:y1`` the second point of a table.
    """
    place, _, end = path.partition(":")
    record = at_path(data, place)
    if end[:1] in ("x", "y"):
        return record, getattr(record, f"si_{end[0]}")[int(end[1:])]
    return record, getattr(record, f"si_{end}") if end else record.si


def _dry_inert(record: Compound, data: RuleSetData) -> tuple[str, Datum]:
    """Return the factor of a dry inert gas on the wear of a compound, with its name: the greatest of its fillers."""
    names = {
        "carbon": "carbon_or_graphite",
        "graphite": "carbon_or_graphite",
        "glass": "glass",
        "carbon_fibre": "carbon_fibre",
    }
    found = dict.fromkeys(names.get(filler, "other") for filler in record.fillers) or {"other": None}
    name = max(found, key=lambda item: getattr(data.running.wear.dry_inert, item).si)
    return name, getattr(data.running.wear.dry_inert, name)


def compound_row(record: Compound, data: RuleSetData) -> Any:
    """Return a compound as a table of one row."""
    table = np.zeros(1, DTYPES["compounds"])
    row = table[0]
    fill(row, CompoundNumbers, record)
    for item in Medium:
        for name in ("friction", "wear"):
            datum = getattr(getattr(record, name), item.name)
            row[name][item] = np.nan if datum is None else datum.si
            row[f"{name}_low"][item] = np.nan if datum is None else datum.si_low
            row[f"{name}_high"][item] = np.nan if datum is None else datum.si_high
    row["relaxation"] = _prony(record.relaxation)
    row["filled"] = bool(record.fillers)
    row["own_friction"], row["own_wear"] = _is_own(record.friction), _is_own(record.wear)
    inert = _dry_inert(record, data)[1]
    row["dry_inert"], row["dry_inert_low"], row["dry_inert_high"] = inert.si, inert.si_low, inert.si_high
    return table


def packed(data: RuleSetData, ratings: Any) -> Rules:
    """Pack the numbers of a rule set; ``ratings`` is the table of the ratings of designs (see :func:`rating_row`)."""
    made = {name: np.zeros(1, DTYPES[name]) for name in ("constants", "flexible", "energized")}
    for name, path in Constants.PATHS.items():
        made["constants"][0][name] = constant_at(data, path)[1]
    made["constants"][0]["film_correlation"] = FilmCorrelation[data.running.film_correlation]
    for name, named in (
        ("energizer_alloy", data.alloys),
        ("garter_alloy", data.alloys),
        ("o_ring_elastomer", data.elastomers),
    ):
        made["constants"][0][name] = list(named).index(getattr(data.sizing, name).name)
    fill(made["flexible"][0], FlexibleSizing, data.sizing.flexible_lip)
    fill(made["energized"][0], EnergizedSizing, data.sizing.energized_lip)
    made["compounds"] = np.concatenate([compound_row(record, data) for record in data.compounds.values()])
    for name, kind, records in (
        ("alloys", AlloyNumbers, data.alloys),
        ("elastomers", ElastomerNumbers, data.elastomers),
    ):
        made[name] = np.zeros(len(records) + 1, DTYPES[name])
        for row, record in zip(made[name], records.values(), strict=False):
            fill(row, kind, record)
    attacks = [
        (_ATTACKS.index(fluid.compatibility.elastomers.get(name)),)
        for fluid in data.fluids.values()
        for name in data.elastomers
    ]
    made["constants"][0]["elastomers"] = len(data.elastomers)
    made["rings"] = np.array(attacks, DTYPES["rings"])
    made["constants"][0]["lubricant"] = list(data.fluids).index(data.running.lubricant.name)
    made["fluids"] = np.zeros(len(data.fluids), DTYPES["fluids"])
    made["films"] = np.zeros(len(data.fluids), DTYPES["films"])
    for at, fluid in enumerate(data.fluids.values()):
        fluid_numbers.put(made["fluids"][at], fluid)
        film_numbers.put(made["films"][at], fluid, getattr(data.running.fluid_film, fluid.phase))
    materials = [
        (
            item.thermal_conductivity.si,
            item.wear_factor.si,
            item.wear_factor.si_low,
            item.wear_factor.si_high,
            np.nan if item.hardness is None else item.hardness.si,
        )
        for item in data.shaft_materials.values()
    ]
    made["shaft_materials"] = np.array(
        [*materials, (data.running.shaft_conductivity.si, 1.0, 1.0, 1.0, np.nan)], DTYPES["shaft_materials"]
    )
    forms = [data.sizing.lip_forms[form.name] for form in LipForm]  # type: ignore[index]
    made["lip_forms"] = np.array(
        [(form.contact_width_factor.si, form.load_factor.si) for form in forms], DTYPES["lip_forms"]
    )
    lives = [(getattr(data.running.wear.targets, item.name).si,) for item in Application]
    made["targets"] = np.array(lives, DTYPES["targets"])
    return Rules(**made, ratings=ratings, ptfe=packed_ptfe(data), metals=packed_usual(data))


def empty() -> Rules:
    """Return tables of zeros: what a kernel is warmed with; of metals the two that stand for what is not stated."""
    return Rules(**{name: np.zeros(2 if name == "metals" else 1, DTYPES[name]) for name in Rules._fields})


class Rated(NamedTuple):
    """What a capacity of a design comes from: the limit, then every factor on it."""

    limit: Capacity | None
    factors: tuple[Capacity, ...]
    titles: tuple[str, ...]
    """What the capacity is rated for, in words."""

    @property
    def records(self) -> tuple[Any, ...]:
        """Records of the limit and of the factors on it."""
        return () if self.limit is None else tuple(entry.record for entry in (self.limit, *self.factors))


def rating_row(rated: Mapping[str, Rated]) -> Any:
    """Return the ratings of one design as a table of one row."""
    table = np.zeros(1, DTYPES["ratings"])
    for name in RATED:
        row, found = table[0][name], rated[name]
        limit = found.limit
        row["limit"] = np.nan if limit is None or limit.limit is None else limit.limit.si
        if limit is not None and limit.limit_by_speed is not None:
            row["curve"] = packed_curve(limit.limit_by_speed)
        factors = [entry.factor.si for entry in found.factors if entry.factor is not None] if limit is not None else []
        if len(factors) > FACTORS:
            factors = [*factors[: FACTORS - 1], math.prod(factors[FACTORS - 1 :])]
        row["factors"], row["n"] = filled(factors, FACTORS), len(factors)
    return table


# ----------------------------------------------------------------------------------------------- for the traced life


class _Relaxation(SimpleNamespace):
    """A relaxation for the traced life: one number of a working for the whole series."""


def _traced_prony(record: Prony, path: str) -> _Relaxation:
    share = Quantity("g_inf", "-", "Share of the modulus that does not relax")
    reference = Quantity("T_ref", "K", "Temperature to which the relaxation times refer")
    energy = Quantity("H_a", "J/mol", "Activation energy of the relaxation times")
    return _Relaxation(
        equilibrium=leaf(record.equilibrium, share, source_of(path, record), record),
        shares=np.array(record.branches),
        times=np.array(record.times),
        n=len(record.times),
        reference_temperature=traced_datum(reference, record.reference_temperature, f"{path}.reference_temperature"),
        activation_energy=traced_datum(energy, record.activation_energy, f"{path}.activation_energy"),
    )


_FRICTION = Quantity("mu", "-", "Friction coefficient")
_WEAR = Quantity("k", "m³/(N·m)", "Specific wear rate")


def traced_compound(record: Compound, name: str, data: RuleSetData) -> SimpleNamespace:
    """Return a compound as leaves."""
    path = f"compounds.{name}"
    kind, inert = _dry_inert(record, data)
    where = source_of(f"running.wear.dry_inert.{kind}", inert)

    def by_medium(field: str, plain: Quantity, end: str) -> list[Any]:
        found: list[Any] = []
        q = plain._replace(
            symbol=plain.symbol + end, title=plain.title + end.replace("_", ", ") + (" end" if end else "")
        )
        for item in Medium:
            datum = getattr(getattr(record, field), item.name)
            where = f"{path}.{field}.{item.name}"
            found.append(
                leaf(np.nan, q, "not known")
                if datum is None
                else leaf(getattr(datum, f"si{end}"), q, source_of(where, datum), datum)
            )
        return found

    return SimpleNamespace(
        **traced_record(CompoundNumbers, record, path),
        **{
            f"{field}{end}": by_medium(field, q, end)
            for field, q in (("friction", _FRICTION), ("wear", _WEAR))
            for end in ("", "_low", "_high")
        },
        relaxation=_traced_prony(record.relaxation, f"{path}.relaxation"),
        filled=int(bool(record.fillers)),
        own_friction=int(_is_own(record.friction)),
        own_wear=int(_is_own(record.wear)),
        dry_inert=leaf(inert.si, Quantity("f_dry", "-", "Factor of a dry inert gas on wear"), where, inert),
        dry_inert_low=leaf(inert.si_low, Quantity("f_dry_low", "-", "Low end of that factor"), where, inert),
        dry_inert_high=leaf(inert.si_high, Quantity("f_dry_high", "-", "High end of that factor"), where, inert),
    )


def traced_rating(rated: Mapping[str, Rated], path: Mapping[int, str], units: Mapping[str, str]) -> SimpleNamespace:
    """Return the ratings of one design as leaves; ``path`` gives the place of an entry by its identity."""
    found: dict[str, Any] = {}
    for name in RATED:
        limit, factors, _ = rated[name]
        unit = units[name]
        curve: Any = SimpleNamespace(n=0)
        value: Any = leaf(np.nan, Quantity("rated", unit, "Rated capacity"), "the rule set has none")
        if limit is not None:
            where = path[id(limit)]
            q = Quantity("rated", unit, f"Rated: {limit.title}")
            if limit.limit_by_speed is not None:
                by_speed = limit.limit_by_speed
                curve = TracedCurve(q, by_speed.si_x, by_speed.si_y, source_of(where, by_speed), by_speed)
            if limit.limit is not None:
                value = traced_datum(q, limit.limit, where)
        shares = [
            traced_datum(Quantity("f_rated", "-", f"Factor: {entry.title}"), entry.factor, path[id(entry)])
            for entry in factors
            if entry.factor is not None and limit is not None
        ]
        found[name] = SimpleNamespace(limit=value, curve=curve, factors=shares, n=len(shares))
    return SimpleNamespace(**found)


RATED_UNITS: Mapping[str, str] = {
    "surface_speed": "m/s",
    "pressure": "Pa",
    "vacuum": "Pa",
    "pressure_velocity": "Pa·m/s",
    "runout": "m",
    "offset": "m",
}


def leaves(data: RuleSetData, rated: Callable[[int], Mapping[str, Rated]]) -> Rules:
    """Return the numbers of a rule set as leaves of a trace; ``rated`` gives the ratings of a design by its code."""
    constants = {}
    for name, q in attributes(Constants).items():
        path = Constants.PATHS[name]
        datum, si = constant_at(data, path)
        constants[name] = leaf(si, q, source_of(path.partition(":")[0], datum), datum)
    correlation = FilmCorrelation[data.running.film_correlation]
    compounds, alloys, elastomers = list(data.compounds), list(data.alloys), list(data.elastomers)
    fluids, materials = list(data.fluids), list(data.shaft_materials)
    places = {id(entry): f"designs.capacities.{name}" for name, entry in data.designs.capacities.items()}
    conductivity = Quantity("k_shaft", "W/(m·K)", "Conductivity of the shaft")
    wear_factor = Quantity("f_shaft_wear", "-", "Factor of the shaft on the wear of the lip")

    def film(code: int) -> SimpleNamespace:
        fluid = data.fluids[fluids[code]]
        usual, of_usual = getattr(data.running.fluid_film, fluid.phase), f"running.fluid_film.{fluid.phase}"
        return film_numbers.leaves(fluid, f"fluids.{fluids[code]}", usual, of_usual, source_of)

    def fluid(code: int) -> SimpleNamespace:
        return fluid_numbers.leaves(data.fluids[fluids[code]], f"fluids.{fluids[code]}", source_of)

    def material(code: int) -> SimpleNamespace:
        if code < 0:
            default = data.running.shaft_conductivity
            return SimpleNamespace(
                thermal_conductivity=traced_datum(conductivity, default, "running.shaft_conductivity"),
                wear_factor=1.0,
                wear_factor_low=1.0,
                wear_factor_high=1.0,
            )
        record, path = data.shaft_materials[materials[code]], f"shaft_materials.{materials[code]}"
        return SimpleNamespace(
            thermal_conductivity=traced_datum(
                conductivity, record.thermal_conductivity, f"{path}.thermal_conductivity"
            ),
            wear_factor=traced_datum(wear_factor, record.wear_factor, f"{path}.wear_factor"),
            **{
                f"wear_factor_{end}": leaf(
                    getattr(record.wear_factor, f"si_{end}"),
                    Quantity(f"f_shaft_wear_{end}", "-", f"Factor of the shaft on the wear of the lip, {end} end"),
                    source_of(f"{path}.wear_factor", record.wear_factor),
                    record.wear_factor,
                )
                for end in ("low", "high")
            },
        )

    def form(code: int) -> SimpleNamespace:
        name = LipForm(code).name
        record, path = data.sizing.lip_forms[name], f"sizing.lip_forms.{name}"  # type: ignore[index]
        return SimpleNamespace(
            contact_width_factor=traced_datum(
                Quantity("f_width", "-", "Contact width of the form of the lip over that of the plain one"),
                record.contact_width_factor,
                f"{path}.contact_width_factor",
            ),
            load_factor=traced_datum(
                Quantity("f_form", "-", "Load of the form of the lip over that of the plain one"),
                record.load_factor,
                f"{path}.load_factor",
            ),
        )

    def target(code: int) -> SimpleNamespace:
        name = Application(code).name
        datum = getattr(data.running.wear.targets, name)
        q = Quantity("t_want", "s", "Life that is wanted where none is stated")
        return SimpleNamespace(life=traced_datum(q, datum, f"running.wear.targets.{name}"))

    def named(kind: type, table: Mapping[str, Any], names: list[str], path: str) -> LazyRows:
        return LazyRows(
            lambda code: SimpleNamespace(**traced_record(kind, table[names[code]], f"{path}.{names[code]}"))
        )

    return Rules(
        constants=OneRow(
            SimpleNamespace(**constants, film_correlation=Choice(correlation, "film correlation", correlation.name))
        ),
        flexible=OneRow(
            SimpleNamespace(**traced_record(FlexibleSizing, data.sizing.flexible_lip, "sizing.flexible_lip"))
        ),
        energized=OneRow(
            SimpleNamespace(**traced_record(EnergizedSizing, data.sizing.energized_lip, "sizing.energized_lip"))
        ),
        compounds=LazyRows(lambda code: traced_compound(data.compounds[compounds[code]], compounds[code], data)),
        alloys=named(AlloyNumbers, data.alloys, alloys, "alloys"),
        elastomers=named(ElastomerNumbers, data.elastomers, elastomers, "elastomers"),
        rings=(),  # a ring is chosen before there is anything to trace
        fluids=LazyRows(fluid),
        films=LazyRows(film),
        shaft_materials=LazyRows(material),
        lip_forms=LazyRows(form),
        targets=LazyRows(target),
        ratings=LazyRows(lambda code: traced_rating(rated(code), places, RATED_UNITS)),
        ptfe=OneRow(traced_ptfe(data)),
        metals=traced_usual(data),
    )


for _unit in RATED_UNITS.values():
    dimension(_unit)
