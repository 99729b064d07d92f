"""Leakage of gas through a contact."""

from __future__ import annotations

from glandwise.mechanics import leakage

from tests.mechanics.support import draws, told, told_alike


def test_lives() -> None:
    told_alike(
        leakage.gas_leakage, draws((1e-8, 1e-6), (1e-4, 2e-3), (0.03, 1.0), (1e5, 1e7), (0.0, 1e5), (8e-6, 3e-5))
    )


def test_gas_goes_down_the_pressure() -> None:
    forth = told(leakage.gas_leakage, 2e-7, 5e-4, 0.1, 6e5, 1e5, 2e-5)
    assert forth > 0.0
    assert told(leakage.gas_leakage, 2e-7, 5e-4, 0.1, 1e5, 6e5, 2e-5) == -forth
    assert told(leakage.gas_leakage, 2e-7, 5e-4, 0.1, 3e5, 3e5, 2e-5) == 0.0
