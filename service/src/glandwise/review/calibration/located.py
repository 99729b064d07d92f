"""Values of which every specimen gives one number: the middle of them, beside the range of the house."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import exp, hypot, log, sqrt
from typing import Any

import scipy

from glandwise.review.calibration.estimates import FEW, LEAST, Middle, Prior, middle_of, prior_of, trend
from glandwise.review.calibration.found import (
    NO_BELIEF,
    Asked,
    Axis,
    Outlier,
    Point,
    Range,
    Value,
    datum,
    house_range,
    in_unit,
    method_of,
    posterior_of,
    told_less,
)
from glandwise.review.calibration.posterior import belief_of, middle_believed

OWN = 0.5
"""Share of the precision that records must contribute, so that a value is theirs and no longer the house's estimate."""


def located(
    key: tuple[str, ...], title: str, dimension: str, unit: str, held: Any | None, of_specimens: Mapping[str, float],
    readings: int, asked: Asked, against: Mapping[str, Mapping[str, float]], scatter: str, beside: Prior | None = None,
    believed: Any | None = None,
) -> Value:  # fmt: skip
    """Return a value from one number of each specimen, in SI.

    ``held`` is the sourced number of the rules, if any; ``against`` are numbers of the specimens on which the value should not
    depend, by what they are: a trend along one of them is a lack of fit. ``scatter`` names what the house believes of how specimens
    differ, ``believed`` is a sourced range of the value where ``held`` has none. ``beside`` is a scatter that the rules have of something
    near: it is not joined with the records, for it is no belief about this value, but records that are less sharp and do not
    contradict it leave the value as it is.
    """
    names, logs = list(of_specimens), [log(number) for number in of_specimens.values()]
    house = None if held is None else house_range(held)
    prior = None if held is None else prior_of(held.si, held.si_low, held.si_high)
    value = Value(
        key, title, unit, house, None if held is None else held.evidence, None, len(names), readings,
        "not estimated",
    )  # fmt: skip
    middle: Middle | None
    if asked.beliefs is None:
        middle = middle_of(logs, asked.cover, prior)
        if middle is None:
            value.stays = f"{len(names)} of at least {LEAST} specimens: fewer do not tell how specimens differ"
            return value
        value.method = method_of(middle, len(names), asked.cover, robust=len(names) >= FEW)
    else:
        held = believed or held
        prior, spread = None if held is None else belief_of(held), belief_of(getattr(asked.beliefs.scatter, scatter))
        if prior is None or spread is None or not logs:
            value.stays = NO_BELIEF if logs else "no specimen is left"
            return value
        beside, middle = None, middle_believed(logs, asked.cover, prior, spread)
        value.method = posterior_of(
            f"the middle of normal logarithms of {len(names)} specimen{'s' * (len(names) > 1)}", asked.cover,
            f"the range of the house and `calibration.scatter.{scatter}`, each nine in ten of a log-normal",
        )  # fmt: skip
    value.scatter, value.own_share = middle.scatter, middle.own_share
    value.found = Range(*(in_unit(exp(end), dimension, unit) for end in (middle.middle, middle.low, middle.high)))
    value.y = Axis(title, unit)
    value.points = [
        Point(name, None, None, in_unit(number, dimension, unit), None, None, value.found.value)
        for name, number in of_specimens.items()
    ]
    value.outliers = [
        Outlier(names[place], None, f"its value is {_off(logs, place)} the median of all specimens")
        for place in middle.outliers
    ]
    value.lack_of_fit = _lack_of_fit(against, names, logs)
    if prior is not None and middle.with_prior:
        own = prior.spread if asked.beliefs is None else hypot(prior.spread, middle.scatter / sqrt(len(logs)))
        away = abs(sum(logs) / len(logs) - prior.middle) / own
        if away > 2.0:
            value.lack_of_fit.append("the specimens lie outside of what the house believes; test more of them")
    if beside is not None:
        own = (middle.high - middle.low) / (2.0 * float(scipy.stats.norm.ppf(0.5 + 0.5 * asked.cover)))
        value.own_share = beside.spread**2 / (beside.spread**2 + own**2)
        if not middle.low <= beside.middle <= middle.high:
            value.own_share = 1.0
    if value.own_share < OWN:
        value.stays = told_less(value.own_share)
        return value
    value.record = datum(value.found, unit, asked, f"{value.method[0].upper()}{value.method[1:]}.")
    return value


def _off(logs: Sequence[float], place: int) -> str:
    others = sorted(logs)
    middle = (
        others[len(others) // 2] if len(others) % 2 else 0.5 * sum(others[len(others) // 2 - 1 : len(others) // 2 + 1])
    )
    return f"{exp(logs[place] - middle):.3g} times"


def _lack_of_fit(against: Mapping[str, Mapping[str, float]], names: Sequence[str], logs: Sequence[float]) -> list[str]:
    """Say along what the numbers of specimens run that the model takes as without effect."""
    said = []
    for what, numbers in against.items():
        known = [numbers.get(name, float("nan")) for name in names]
        slope = trend([log(x) if x > 0.0 else float("nan") for x in known], logs)
        if slope is not None:
            said.append(
                f"it changes with the {what}, about as its power {slope:.2g}, which the model does not have; "
                "give the records of one range by themselves"
            )
    return said
