"""The retry decision, without clock or network."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from email.utils import format_datetime

import pytest
from glandwise_client import RetryPolicy
from glandwise_client._retry import RETRIED_STATUS, delay, retry_after
from hypothesis import given
from hypothesis import strategies as st

POLICY = RetryPolicy(retries=3, first_delay=0.5, factor=2.0, longest_delay=1.5, jitter=0.2)
NOW = datetime(2026, 11, 25, 12, 0, 0, tzinfo=UTC)


def decide(attempt: int = 0, **given: object) -> float | None:
    return delay(POLICY, attempt, now=lambda: NOW, random=lambda: 0.0, **given)  # type: ignore[arg-type]


@pytest.mark.parametrize("status", [408, 429, 502, 503, 504])
def test_a_passing_trouble_is_tried_again(status: int) -> None:
    assert decide(status=status) == 0.5


@pytest.mark.parametrize("status", [200, 304, 400, 401, 404, 409, 413, 422, 500, 501])
def test_what_would_answer_the_same_is_not_tried_again(status: int) -> None:
    assert decide(status=status) is None


@pytest.mark.parametrize(
    ("failure", "wait"), [("connect", 0.5), ("timeout", 0.5), ("disconnected", 0.5), ("unusable", None)]
)
def test_a_call_without_an_answer_is_tried_again_unless_the_address_is_wrong(failure: str, wait: float | None) -> None:
    assert decide(failure=failure) == wait


def test_a_batch_that_took_too_long_is_not_sent_again() -> None:
    for trouble in ({"failure": "timeout"}, {"status": 504}, {"status": 408}):
        assert decide(**trouble) == 0.5
        assert decide(**trouble, batch=True) is None
    for trouble in ({"failure": "connect"}, {"failure": "disconnected"}, {"status": 503}, {"status": 429}):
        assert decide(**trouble, batch=True) == 0.5


def test_waits_grow_to_the_longest_and_end_with_the_retries() -> None:
    assert [decide(attempt, status=503) for attempt in range(5)] == [0.5, 1.0, 1.5, None, None]


def test_jitter_only_shortens() -> None:
    assert delay(POLICY, 0, status=503, random=lambda: 1.0) == pytest.approx(0.4)


@pytest.mark.parametrize("text", ["7", " 7 ", format_datetime(NOW + timedelta(seconds=7), usegmt=True)])
def test_retry_after_is_waited_for_exactly(text: str) -> None:
    assert delay(POLICY, 0, status=429, headers={"retry-after": text}, now=lambda: NOW, random=lambda: 1.0) == 7.0


def test_a_date_in_the_past_means_at_once() -> None:
    past = format_datetime(NOW - timedelta(hours=1), usegmt=True)
    assert decide(status=503, headers={"retry-after": past}) == 0.0


def test_a_date_without_a_zone_is_read_as_utc() -> None:
    assert retry_after({"retry-after": "Wed, 25 Nov 2026 12:00:05 -0000"}, lambda: NOW) == 5.0


@pytest.mark.parametrize("text", ["", "soon", "-3", "1.5", "٣", "Wed, 99 Nov 2026"])
def test_an_unreadable_retry_after_falls_back_to_the_growing_wait(text: str) -> None:
    assert decide(status=503, headers={"retry-after": text}) == 0.5


def test_a_wait_longer_than_the_policy_is_left_to_the_caller() -> None:
    assert decide(status=503, headers={"retry-after": "61"}) is None
    assert decide(status=503, headers={"retry-after": "60"}) == 60.0


@pytest.mark.parametrize(
    "fault", [{"retries": -1}, {"first_delay": -1.0}, {"factor": 0.5}, {"jitter": 1.5}, {"longest_wait": -1}]
)
def test_a_policy_that_makes_no_sense_is_refused(fault: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=r"retry policy|factor"):
        RetryPolicy(**fault)  # type: ignore[arg-type]


@given(st.integers(0, 20), st.sampled_from(sorted(RETRIED_STATUS)), st.floats(0, 1))
def test_a_wait_of_its_own_choosing_stays_within_the_policy(attempt: int, status: int, chance: float) -> None:
    wait = delay(POLICY, attempt, status=status, random=lambda: chance)
    assert wait is None if attempt >= POLICY.retries else 0 <= wait <= POLICY.longest_delay
