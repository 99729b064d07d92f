"""Lengths and wear rates in SI are small numbers: nothing is alike for being near zero."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, settings

if settings.default is not None and settings.default.deadline is not None:
    # how long an example takes says something of the machine, not of the formula
    settings.register_profile("unhurried", deadline=None, suppress_health_check=[HealthCheck.too_slow])
    settings.load_profile("unhurried")


@pytest.fixture(autouse=True)
def no_absolute_tolerance_by_default(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let ``approx(x, rel=...)`` mean that: its usual 1e-12 beside would accept any wear rate for any other."""
    monkeypatch.setattr(type(pytest.approx(1.0)), "DEFAULT_ABSOLUTE_TOLERANCE", 1.0e-300)
