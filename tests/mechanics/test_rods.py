"""Canted coil spring: limits, scaling, both shapes, and routes that share no code with the model."""

from __future__ import annotations

import math

import numpy as np
import pytest
from glandwise.mechanics import rods
from hypothesis import given, settings
from hypothesis import strategies as st

E = 200e9
G = E / 2.6
COIL_A = {
    "pitch": 1.0e-3,
    "half_width": 2.0e-3,
    "half_height": 1.8e-3,
    "cant_angle": math.radians(35.0),
    "wire_diameter": 0.4e-3,
    "elastic_modulus": E,
    "shear_modulus": G,
}

coils = st.fixed_dictionaries(
    {
        "pitch": st.floats(0.3e-3, 1.2e-3),
        "half_width": st.floats(0.9e-3, 1.6e-3),
        "half_height": st.just(1.0e-3),
        "cant_angle": st.floats(math.radians(20.0), math.radians(55.0)),
        "wire_diameter": st.floats(0.05e-3, 0.25e-3),
        "elastic_modulus": st.just(E),
        "shear_modulus": st.floats(E / 2.7, E / 2.5),
    }
)


@given(coils, st.floats(0.2, 5.0))
def test_linear_rate_scales_with_wire_size_and_modulus(coil: dict[str, float], factor: float) -> None:
    rate = rods.canted_coil_linear_rate(**coil)
    assert rate > 0.0
    thicker = coil | {"wire_diameter": factor * coil["wire_diameter"]}
    assert rods.canted_coil_linear_rate(**thicker) == pytest.approx(rate * factor**4, rel=1e-12)
    larger = coil | {name: factor * coil[name] for name in ("pitch", "half_width", "half_height")}
    assert rods.canted_coil_linear_rate(**larger) == pytest.approx(rate / factor**3, rel=1e-9)
    stiffer = coil | {name: factor * coil[name] for name in ("elastic_modulus", "shear_modulus")}
    assert rods.canted_coil_linear_rate(**stiffer) == pytest.approx(rate * factor, rel=1e-12)


@given(coils)
def test_added_flexibility_softens(coil: dict[str, float]) -> None:
    bare = rods.canted_coil_linear_rate(**coil)
    stretch = rods.canted_coil_linear_rate(**coil, axial_flexibility=1.0)
    both = rods.canted_coil_linear_rate(**coil, axial_flexibility=1.0, shear_flexibility=10 / 9)
    assert bare > stretch > both > 0.0


def test_linear_rate_takes_arrays() -> None:
    cant = np.radians(np.linspace(0.0, 60.0, 1500)).reshape(3, 500)
    rates = rods.canted_coil_linear_rate(**COIL_A | {"cant_angle": cant})
    assert rates.shape == cant.shape
    for index in ((0, 0), (1, 499), (2, 100)):
        alone = rods.canted_coil_linear_rate(**COIL_A | {"cant_angle": float(cant[index])})
        assert isinstance(alone, float)
        assert rates[index] == pytest.approx(alone, rel=1e-13)


@pytest.mark.parametrize(
    "change",
    [{"pitch": 0.0}, {"half_width": -1.0}, {"half_height": 0.0}, {"cant_angle": 1.6}, {"wire_diameter": -1e-4}],
)
def test_no_geometry_gives_nan(change: dict[str, float]) -> None:
    assert math.isnan(rods.canted_coil_linear_rate(**COIL_A | change))
    name, value = next(iter(change.items()))
    mixed = rods.canted_coil_linear_rate(**COIL_A | {name: np.array([value, COIL_A[name]])})
    assert np.isnan(mixed[0])
    assert np.isfinite(mixed[1])


def _frame_rate(coil: dict[str, float], elements: int, stretch: float = 1.0) -> float:
    """Half coil of straight Euler-Bernoulli elements (12 degrees of freedom); ``stretch`` 1 is the real EA."""
    p, a, b, beta, d, e, g = (coil[name] for name in COIL_A)
    theta = np.linspace(-math.pi / 2, math.pi / 2, elements + 1)
    nodes = np.stack(
        (p * theta / (2 * math.pi) + b * np.cos(theta) * math.tan(beta), a * np.sin(theta), b * np.cos(theta)), axis=1
    )
    area, inertia = math.pi * d**2 / 4, math.pi * d**4 / 64
    size = 6 * (elements + 1)
    stiffness = np.zeros((size, size))
    for i in range(elements):
        chord = nodes[i + 1] - nodes[i]
        length = float(np.linalg.norm(chord))
        t = chord / length
        v = np.cross(t, [0.0, 0.0, 1.0] if abs(t[2]) < 0.9 else [0.0, 1.0, 0.0])
        v /= np.linalg.norm(v)
        frame = np.stack((t, v, np.cross(t, v)))
        local = np.zeros((12, 12))
        for dofs, value in (((0, 6), e * area / (stretch * length)), ((3, 9), 2 * g * inertia / length)):
            local[np.ix_(dofs, dofs)] += value * np.array([[1, -1], [-1, 1]])
        k = e * inertia / length**3
        block = k * np.array(
            [
                [12, 6 * length, -12, 6 * length],
                [6 * length, 4 * length**2, -6 * length, 2 * length**2],
                [-12, -6 * length, 12, -6 * length],
                [6 * length, 2 * length**2, -6 * length, 4 * length**2],
            ]
        )
        sign = np.diag([1, -1, 1, -1])
        local[np.ix_((1, 5, 7, 11), (1, 5, 7, 11))] += block
        local[np.ix_((2, 4, 8, 10), (2, 4, 8, 10))] += sign @ block @ sign
        turn = np.kron(np.eye(4), frame)
        where = slice(6 * i, 6 * i + 12)
        stiffness[where, where] += turn.T @ local @ turn
    last = size - 6
    held = [0, 2, 3, 5, last, last + 1, last + 2, last + 3, last + 5]  # two-fold axes, and y once
    free = np.setdiff1d(np.arange(size), held)
    load = np.zeros(size)
    crest = 6 * (elements // 2) + 2
    load[crest] = -1.0
    moved = np.zeros(size)
    moved[free] = np.linalg.solve(stiffness[np.ix_(free, free)], load[free])
    return float(-0.5 / moved[crest])


@settings(max_examples=6, deadline=None)
@given(coils)
def test_linear_rate_agrees_with_a_frame_of_straight_elements(coil: dict[str, float]) -> None:
    coarse, fine = _frame_rate(coil, 40), _frame_rate(coil, 80)
    frame = fine + (fine - coarse) / 3.0  # straight elements converge with the square of their length
    assert rods.canted_coil_linear_rate(**coil, axial_flexibility=1.0) == pytest.approx(frame, rel=3e-4)


@pytest.mark.parametrize(("elements", "printed"), [(40, 1.164717), (80, 1.163558), (160, 1.163267)])
def test_frame_reproduces_the_computed_reference_rows(elements: int, printed: float) -> None:
    # 1e-3 of the real stretch: less would lose digits to the conditioning of the frame.
    assert _frame_rate(COIL_A, elements, stretch=1e-3) / 1e3 == pytest.approx(printed, abs=5e-6)
