"""Formulas that no answer uses: what published or remembered values are compared with."""

from __future__ import annotations

from functools import cache
from math import exp, log10, pi

import numpy as np
from glandwise.mechanics.lubrication import duty_number, film_friction, film_share, mixed_friction
from glandwise.rules.loader import RuleStore
from glandwise.rules.model import RuleSetData

GAS_CONSTANT = 8.31446261815324


@cache
def _rules() -> RuleSetData:
    return RuleStore().trees["baseline"].newest().data


def elastomer_torque(d: float, k: float) -> float:
    """Torque of an elastomer lip seal in oil, N·m: d in m; k in N·m/mm by rubber (ISO/TR 14179-1, from memory)."""
    return k * d * 1e3


def elastomer_power(d: float, rpm: float, celsius: float, nu_40: float) -> float:
    """Loss of an elastomer lip seal in oil, W: d in m, nu_40 in mm²/s (ISO/TR 14179-2, from memory)."""
    return (145.0 - 1.6 * celsius + 350.0 * log10(log10(nu_40 + 0.8))) * (d * 1e3) ** 2 * rpm * 1e-7


def elastomer_power_torque(d: float, rpm: float, celsius: float, nu_40: float) -> float:
    """Torque that belongs to that loss, N·m."""
    return elastomer_power(d, rpm, celsius, nu_40) / (rpm * pi / 30.0)


def lip_torque(d: float, rpm: float, eta: float, q: float, b: float, mu_b: float, C: float) -> float:
    """Torque of a flooded PTFE lip by the film share with G_0 1e-7 and f_0 0.1, N·m."""
    G = duty_number(eta * rpm * pi / 30.0, q, b)
    mu = mixed_friction(film_share(G, 1e-7, 0.1), mu_b, film_friction(C, G))
    return mu * q * pi * d**2 / 2.0


def load_left(compound: str, celsius: float, hours: float) -> float:
    """Share of the load of a lip at 10 s and 23 °C that the relaxation and modulus of the rules leave at a temperature."""
    rule = _rules().compounds[compound]
    series, modulus = rule.relaxation, rule.elastic_modulus
    reference = series.reference_temperature.si

    def left(T: float, t: float) -> float:
        shift = exp(series.activation_energy.si / GAS_CONSTANT * (1.0 / T - 1.0 / reference))
        return series.equilibrium + sum(
            g * exp(-t / shift / tau) for g, tau in zip(series.branches, series.times, strict=True)
        )

    T = celsius + 273.15
    return float(
        float(np.interp(T, modulus.si_x, modulus.si_y))
        * left(T, hours * 3600.0)
        / (float(np.interp(reference, modulus.si_x, modulus.si_y)) * left(reference, 10.0))
    )
