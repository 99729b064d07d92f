"""Rule sets larger than the built-in one: what the formulas can read answers, what they cannot is refused with its place."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from glandwise.case.intake import build
from glandwise.contract.envelope import EnvelopeCheckRequest
from glandwise.questions.envelope import operation as envelope
from glandwise.rules.loader import RuleError, RuleStore
from glandwise.rules.values import MOST_BRANCHES, MOST_POINTS

from tests.questions.support import flexible

SIGNED = 'source = "house-estimate", evidence = "house_estimate", valid_from = 2026-01-01'
Load = Callable[..., RuleStore]


def measured(store: RuleStore, name: str = "house") -> dict[str, envelope.Measure]:
    """Criteria of an ordinary flexible lip."""
    tree = store.get(name)
    assert tree is not None
    request = EnvelopeCheckRequest.model_validate(flexible())
    return envelope.measure(build(request.duty, request.design, tree.newest()))


def widths(points: int) -> dict[str, str]:
    """A table of contact widths of so many points."""
    x, y = [5.0 + 4.0 * i for i in range(points)], [0.3 + 0.002 * i for i in range(points)]
    return {
        "sizing": f'[flexible_lip]\ncontact_width = {{ x = {x}, y = {y}, x_unit = "mm", y_unit = "mm", {SIGNED} }}\n'
    }


def test_the_longest_table_is_read_to_its_end(load: Load) -> None:
    assert math.isfinite(measured(load(widths(MOST_POINTS)))["contact_temperature"].utilization)


def test_a_longer_table_is_refused_with_its_place(load: Load) -> None:
    with pytest.raises(RuleError, match=rf"there are {MOST_POINTS + 1} numbers.*at most {MOST_POINTS}") as caught:
        load(widths(MOST_POINTS + 1))
    assert "sizing.toml" in str(caught.value)
    assert "flexible_lip.contact_width.x" in str(caught.value)


def test_a_longer_relaxation_is_refused_with_its_place(load: Load) -> None:
    count = MOST_BRANCHES + 1
    series = "\n".join(
        (
            f"ratios = {[0.5 / count] * count}",
            f"times_s = {[10.0**i for i in range(count)]}",
            f'reference_temperature = {{ value = 23, unit = "degC", {SIGNED} }}',
            f'activation_energy = {{ value = 60, unit = "kJ/mol", {SIGNED} }}',
            *SIGNED.split(", "),
        )
    )
    with pytest.raises(RuleError, match=rf"there are {count} numbers.*at most {MOST_BRANCHES}"):
        load({"compounds": f"[ptfe_unfilled.relaxation]\n{series}\n"})


def test_any_number_of_factors_is_applied_to_a_capacity(load: Load) -> None:
    factors = [0.99 - 0.01 * i for i in range(13)]
    entries = [
        f'[capacities.less_{i}]\ncriterion = "pressure"\nwhen = {{ family = "flexible_lip" }}\ntitle = "less {i}"\n'
        f'factor = {{ value = {factor}, unit = "1", {SIGNED} }}\n'
        for i, factor in enumerate(factors)
    ]
    store = load({"designs": "".join(entries)})
    plain, less = (measured(store, name)["pressure"].capacity for name in ("baseline", "house"))
    assert less == pytest.approx(plain * math.prod(factors), rel=1e-12)
