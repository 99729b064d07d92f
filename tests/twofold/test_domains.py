"""Where the formulas of the mechanics hold: the edges of each stated range, in both shapes, and neutral defaults.

Each row of `EDGES` starts from the valid example of `test_shapes` and moves one argument: at the values inside every
number of the result is a number, at those outside it is ``nan``. A range that includes its end has that end inside.
"""

from __future__ import annotations

import inspect
import math
from typing import Any, NamedTuple

import numpy as np
import pytest

from tests.twofold.test_docstrings import FUNCTIONS
from tests.twofold.test_shapes import EXAMPLES, SCALAR_ONLY, _call

DEGREE = math.pi / 180.0


class Edge(NamedTuple):
    """Ends of the range of one argument."""

    name: str
    argument: str
    inside: tuple[float, ...]
    outside: tuple[float, ...]
    others: dict[str, float]
    """arguments that differ from the example"""
    fields: tuple[str, ...] = ()
    """fields of the result that are meant; all unless given"""


def _edge(
    name: str,
    argument: str,
    inside: tuple[float, ...],
    outside: tuple[float, ...],
    fields: tuple[str, ...] = (),
    **others: float,
) -> Edge:
    return Edge(name, argument, inside, outside, others, fields)


_NO_SPRING = {"elastic_stiffness": 0.0, "elastic_preload": 0.0}
_B = 1.8e-3  # half height of the example coil
_COIL_EDGES = (
    ("pitch", (0.2 * _B, 1.4 * _B), (0.199 * _B, 1.401 * _B)),
    ("half_width", (0.8 * _B, 1.8 * _B), (0.799 * _B, 1.801 * _B)),
    ("cant_angle", (15 * DEGREE, 60 * DEGREE), (14.99 * DEGREE, 60.01 * DEGREE)),
    ("shear_modulus", (200e9 / 2.4, 200e9 / 2.8), (200e9 / 2.399, 200e9 / 2.801)),
    ("wire_diameter", (1e-9,), (0.0, -1e-4)),
    ("half_height", (), (0.0, -_B)),
)
_SHELL_EDGES = (
    ("radius", (1e-3, math.inf), (0.0, -0.025)),
    ("thickness", (1e-6,), (0.0, -1e-4)),
    ("free_length", (1e-6,), (0.0, -1e-3)),
    ("poisson_ratio", (-0.999, 0.0, 0.999), (-1.0, 1.0, 1.5)),
)

EDGES = [
    _edge("beams.finger", "root_angle", (DEGREE, 60 * DEGREE), (0.999 * DEGREE, 60.001 * DEGREE), deflection=0.01),
    _edge("beams.finger", "deflection", (-1.0, 0.0, 0.95 * math.sin(0.4)), (0.951 * math.sin(0.4),)),
    _edge("beams.finger", "yield_curvature", (0.05, math.inf), (0.0, -1.0)),
    _edge("beams.anticlastic_blend", "bending_radius", (1e-3, math.inf), ()),
    _edge(
        "beams.cantilever_v",
        "land_angle",
        (0.35 - DEGREE,),
        (0.35 - 0.999 * DEGREE,),
        ("line_load",),
        gland_deflection=1e-5,
    ),
    _edge("beams.cantilever_v", "yield_strength", (math.inf,), (-1.0,), ("line_load",)),
    _edge("beams.cantilever_v", "stiffness_ratio", (1e-3, math.inf), ()),
    _edge("contact.rounded_land_width", "line_load", (-1.0, 0.0), ()),
    _edge("contact.rounded_land_width", "land_width", (0.0,), ()),
    _edge("contact.rounded_land_width", "edge_radius", (0.0,), ()),
    _edge("contact.rounded_edge_contact", "line_load", (-1.0, 0.0), ()),
    _edge("expansion.strain_from_mean_coefficients", "temperature", (83.15, 423.15), (83.14, 423.16)),
    _edge("expansion.strain_from_polynomial", "temperature", (4.0, 300.0), (3.99, 300.01)),
    _edge("expansion.log_polynomial", "temperature", (4.0, 300.0), (3.99, 300.01)),
    _edge("expansion.spliced_strain", "temperature", (4.0, 423.15), (3.99, 423.16)),
    _edge("expansion.transition_temperature", "pressure", (0.0, 68.6e6), (-1.0, 68.61e6)),
    # II-IV from nothing to 68.6 MPa; the quadratic has its zero at 20.18 degrees and reaches the limit at 31.27
    _edge("expansion.transition_pressure", "temperature", (293.34, 304.41), (293.32, 304.43)),
    _edge("expansion.crosses_transition", "pressure", (0.0, 68.6e6), (-1.0, 68.61e6)),
    _edge("fits.size_step_value", "size", (0.01001, 0.05), (0.01, 0.0501)),
    _edge("fits.cylinder_stress", "radius", (0.025, 0.04), (0.02499, 0.04001)),
    _edge("fits.cylinder_stress", "inner_radius", (0.0, 0.03), (-1e-3, 0.0301), radius=0.03),
    _edge("fits.cylinder_stress", "outer_radius", (0.03,), (0.025, 0.02), radius=0.03),
    _edge("fits.bore_growth", "outer_radius", (0.02501, math.inf), (0.025, 0.02)),
    _edge("fits.interference_fit", "inner_radius", (0.0, 0.02499), (-1e-4, 0.025)),
    _edge("fits.interference_fit", "outer_radius", (0.02501,), (0.025, 0.02)),
    _edge("fits.o_ring_gland", "bore_diameter", (0.0668,), (0.0662, 0.06), ("fill",), offset=0.0),
    _edge("following.dynamic_stiffness", "angular_frequency", (0.0,), (-1e-6,)),
    _edge("following.dynamic_stiffness", "mass", (0.0,), (-1e-9, -0.5)),
    _edge("following.dynamic_stiffness", "equilibrium_stiffness", (1e-3,), (0.0, -1.0), elastic_stiffness=0.0),
    _edge("following.dynamic_stiffness", "equilibrium_stiffness", (0.0,), (-2e5,)),
    _edge("following.peak_dynamic_stiffness", "angular_frequency", (0.0,), (-1e-6, math.inf), ("magnitude",)),
    _edge("following.peak_dynamic_stiffness", "mass", (0.0,), (-1e-9, -0.5), ("magnitude",)),
    _edge(
        "following.peak_dynamic_stiffness",
        "equilibrium_stiffness",
        (1e-3, 0.5),
        (0.0, -1.0),
        ("magnitude",),
        elastic_stiffness=0.0,
    ),
    _edge("following.allowed_eccentricity", "angular_frequency", (0.0,), (-1e-6, math.inf), ("eccentricity", "tir")),
    _edge("following.allowed_eccentricity", "offset", (0.0,), (-1e-9,), ("eccentricity", "preload")),
    _edge("following.preload_under_offset", "offset", (0.0, 1.0), (-1e-9,)),
    _edge("following.allowed_offset", "eccentricity", (0.0, 1.0), (-1e-9,)),
    _edge("following.allowed_offset", "mass", (0.0,), (-1e-9,)),
    _edge("heat.fin_temperature_ratio", "position", (0.0, 0.2), (-1e-6, 0.2001)),
    _edge("heat.ring_constriction", "contact_width", (2.5e-7, 0.025), (2.499e-7, 0.02501)),
    _edge("heat.flash_circle", "speed", (0.0, 4.9e-3, 0.251), (5.1e-3, 0.249), ("mean",)),
    *(_edge("rods.canted_coil_load", *row) for row in _COIL_EDGES),
    _edge("rods.canted_coil_load", "deflection", (0.0, 0.54 * 2 * _B), (-1e-9, 0.5401 * 2 * _B)),
    _edge("rods.canted_coil_load", "radius_ratio", (1e-3,), (0.0, -1.0)),
    _edge("rods.canted_coil_load", "elastic_modulus", (), (0.0, -200e9)),
    _edge("rods.canted_coil_linear_rate", "wire_diameter", (1e-9,), (0.0, -1e-4)),
    _edge("rods.canted_coil_linear_rate", "cant_angle", (0.0, 89 * DEGREE), (-1e-9, 90 * DEGREE)),
    _edge("rods.canted_coil_linear_rate", "half_width", (1e-5, 1.0), (0.0, -1e-3)),
    _edge("rods.canted_coil_linear_rate", "pitch", (1e-6, 1.0), (0.0, -1e-3)),
    _edge("rods.canted_coil_linear_rate", "half_height", (), (0.0, -1e-3)),
    _edge("rods.canted_coil_linear_rate", "shear_modulus", (100e9, 50e9), (0.0, -50e9)),
    _edge("rods.canted_coil_linear_rate", "axial_flexibility", (0.0,), (-1e-9,)),
    _edge("rods.canted_coil_linear_rate", "shear_flexibility", (0.0,), (-1e-9,)),
    *(_edge("shells.lip_response", *row, fields=("stiffness", "raw_reaction")) for row in _SHELL_EDGES),
    *(_edge("shells.lip_profile", *row) for row in _SHELL_EDGES if row[0] != "radius"),
    *(_edge("shells.lip_effective_mass", *row) for row in _SHELL_EDGES),
    *(_edge("shells.held_root_share", *row) for row in _SHELL_EDGES),
    _edge("shells.lip_response", "modulus", (1e-3, 0.5), (0.0, -1.0)),
    _edge("shells.lip_profile", "station", (0.0, 1.0), (-1e-9, 1.0 + 1e-9)),
    _edge("shells.lip_peak_stress", "modulus", (1e3,), (0.0, -1.0)),
    _edge("shells.lip_peak_stress", "thickness", (1e-4,), (0.0, -1.0)),
    _edge("shells.lip_effective_mass", "density", (1e-3, 0.5), (0.0, -1.0)),
    _edge("shells.banded_free_length", "band_share", (0.0, 0.999), (-1e-9, 1.0, 1.5)),
    _edge("shells.banded_free_length", "free_length", (1e-9,), (0.0, -1.0)),
    *(_edge("shells.banded_lip_response", *row) for row in _SHELL_EDGES if row[0] not in {"radius", "thickness"}),
    _edge("shells.banded_lip_response", "modulus", (1e-3, 0.5), (0.0, -1.0)),
    _edge("shells.banded_lip_response", "band_share", (0.0, 0.999), (-1e-9, 1.0, 1.5)),
    _edge("shells.banded_lip_response", "band_thickness", (1e-4, 1e-2), (0.0, -1e-4)),
    # λ of the example is 350.8 per metre; with a band as thick as the lip, λL reaches 20 at 57.01 mm
    _edge("shells.banded_lip_response", "free_length", (0.0570,), (0.0571,), band_thickness=0.5e-3),
    _edge("springs.wahl_factor", "index", (1.001,), (1.0, 0.5, -3.0)),
    _edge("springs.bergstraesser_factor", "index", (1.001,), (1.0, 0.9, -3.0)),
    _edge("springs.en13906_factor", "index", (1.001,), (1.0, 0.9, -3.0)),
    _edge("springs.gent_modulus", "shore_a", (0.0, 99.99), (-0.01, 100.0)),
    _edge("springs.irhd_modulus", "irhd", (0.01, 99.99), (0.0, -1.0, 100.0, 101.0)),
    _edge("springs.lindley_factor", "squeeze_ratio", (-0.1, 0.0, 0.202), (0.2021,)),
    _edge("springs.oring_load", "squeeze_ratio", (-0.1, 0.0, 0.3), (0.3001,)),
    _edge("springs.garter_free_length", "tension", (0.61,), (0.6, 0.0)),
    _edge("viscoelastic.relaxation_modulus", "time", (0.0, math.inf), (-1e-9,)),
    _edge("viscoelastic.complex_modulus", "angular_frequency", (0.0,), (-1e-9,)),
    _edge("viscoelastic.loss_factor", "angular_frequency", (0.0,), (-1e-9,)),
    _edge("viscoelastic.arrhenius_shift", "temperature", (0.5, 1e3), (0.0, -1.0)),
    _edge("viscoelastic.arrhenius_shift", "reference_temperature", (0.5, 1e3), (0.0, -1.0)),
    _edge("viscoelastic.wlf_shift", "temperature", (296.15 - 51.5,), (244.5, 200.0)),
    _edge("viscoelastic.tabulated_modulus", "temperature", (250.0, 400.0), (249.99, 400.01)),
    _edge("viscoelastic.relaxed_load_ratio", "shift_factor", (1e-9, 0.5), (0.0, -1.0)),
    _edge("viscoelastic.relaxed_load_ratio", "shift_factor", (0.5,), (0.0, -1.0), time=0.0),
    _edge("viscoelastic.relaxed_load_ratio", "set_fraction", (0.0, 1.0), (-1e-9, 1.0 + 1e-9)),
    _edge("viscoelastic.relaxed_load_ratio", "time", (0.0, math.inf), (-1e-9,)),
    _edge("viscoelastic.recoverable_interference", "set_fraction", (0.0, 1.0), (-1e-9, 1.0 + 1e-9)),
    _edge("viscoelastic.recoverable_interference", "interference", (0.0,), (-1e-9,)),
    _edge("wear.duty_wear", "time_shares_1", (0.0, 0.7), (-1e-9, 0.7001)),
]


def _numbers(name: str, numbers: dict[str, Any], fields: tuple[str, ...]) -> list[Any]:
    result = _call(name, numbers)
    chosen = [value for path, value in result.items() if not fields or path.removeprefix(".") in fields]
    assert len(chosen) == len(fields or result)
    return [value for value in chosen if not isinstance(value, str) and np.asarray(value).dtype.kind == "f"]


@pytest.mark.parametrize("shape", ["float", "array"])
@pytest.mark.parametrize(
    ("name", "edge"), [pytest.param(e.name, e, id=f"{e.name}-{e.argument}-{i}") for i, e in enumerate(EDGES)]
)
def test_range_ends_where_it_is_said_to(name: str, edge: Edge, shape: str) -> None:
    base = EXAMPLES[name].numbers | edge.others
    for values, missing in ((edge.inside, False), (edge.outside, True)):
        for value in values:
            argument: Any = value if shape == "float" else np.array([value, base[edge.argument]])
            numbers = _numbers(name, base | {edge.argument: argument}, edge.fields)
            assert numbers
            for number in numbers:
                first = np.ravel(number)[0]
                assert math.isnan(first) == missing, f"{edge.argument} = {value}: {first}"


@pytest.mark.parametrize("name", EXAMPLES)
def test_nan_is_no_exception(name: str) -> None:
    numbers = EXAMPLES[name].numbers
    for key, value in numbers.items():
        with_float = _call(name, numbers | {key: math.nan})
        with_array = _call(name, numbers | {key: np.array([math.nan, value])})
        for path, result in with_float.items():
            first = np.ravel(with_array[path])[0]
            if isinstance(result, float):
                assert first == pytest.approx(result, rel=1e-11, nan_ok=True), f"{key} is nan: {path}"


NEUTRAL = {
    **dict.fromkeys(("elastic_stiffness", "elastic_preload", "offset", "pressure", "set_fraction"), 0.0),
    **dict.fromkeys(("poisson_ratio", "plate_blend", "land_angle", "axial_stress", "bore_growth"), 0.0),
    **dict.fromkeys(("bore_strain", "part_strain", "body_strain", "ring_strain", "flat_below"), 0.0),
    **dict.fromkeys(("end_film", "axial_speed", "axial_flexibility", "shear_flexibility"), 0.0),
    **dict.fromkeys(("stiffness_ratio", "planes", "kept_share", "scale", "factor", "radius_ratio"), 1.0),
    **dict.fromkeys(("counterface_factor", "lubrication_factor", "damping"), 1.0),
    "length": math.inf,
    "nominal": None,
    "shaft_deviations": None,
}
"""What an argument left out stands for: nothing added, a factor of one, a shaft without end."""

CHOSEN = {"correlation": "becker", "slope": 7.62336, "max_iterations": 50}
"""Defaults that are a choice: the film correlation for a liquid, the fit's own slope, a bound of an iteration."""


@pytest.mark.parametrize("name", [name for name in FUNCTIONS if name not in SCALAR_ONLY])
def test_what_is_left_out_adds_nothing(name: str) -> None:
    for parameter in inspect.signature(FUNCTIONS[name]).parameters.values():
        if parameter.default is not inspect.Parameter.empty:
            assert parameter.default == {**NEUTRAL, **CHOSEN}[parameter.name], parameter.name
