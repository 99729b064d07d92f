"""Settings: a misspelt name or a value that is not taken stops the start, named with what is there instead."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from glandwise.settings import Settings, SettingsError
from glandwise_client import GlandwiseClient, RequestError


def faults(monkeypatch: pytest.MonkeyPatch, **environment: str) -> list[str]:
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    with pytest.raises(SettingsError) as caught:
        Settings()
    return str(caught.value).splitlines()


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("GLANDWISE_PROT", "GLANDWISE_PORT"), ("GLANDWISE_RULE", "GLANDWISE_RULES"), ("glandwise_prot", "GLANDWISE_PORT"),
        ("GLANDWISE_MAX_BODY", "GLANDWISE_MAX_BODY_BYTES"), ("GLANDWISE_WORKERS", "GLANDWISE_BATCH_WORKERS"),
        ("GLANDWISE_DEFAULT_RULES", "GLANDWISE_DEFAULT_RULE_SET"),
    ],
)  # fmt: skip
def test_a_name_that_is_no_setting_is_refused_with_the_nearest(
    monkeypatch: pytest.MonkeyPatch, name: str, near: str
) -> None:
    first, last = faults(monkeypatch, **{name: "Zq7secret"})
    assert first == f"{name.upper()}: not a setting; did you mean {near}?"
    assert last.startswith("The settings are: GLANDWISE_HOST, GLANDWISE_PORT, ")
    assert all(f"GLANDWISE_{field.upper()}" in last for field in Settings.model_fields)


def test_a_name_near_none_is_refused_with_those_there_are(monkeypatch: pytest.MonkeyPatch) -> None:
    first, last = faults(monkeypatch, GLANDWISE_ZZZZ="1")
    assert first == "GLANDWISE_ZZZZ: not a setting"
    assert last.startswith("The settings are: ")


@pytest.mark.parametrize(
    ("name", "value", "accepted"),
    [
        ("GLANDWISE_PORT", "70000", "a whole number, at least 0, at most 65535"),
        ("GLANDWISE_PORT", "-1", "a whole number, at least 0, at most 65535"),
        ("GLANDWISE_PORT", "tcp://10.0.0.1:8710", "a whole number, at least 0, at most 65535"),
        ("GLANDWISE_MAX_BODY_BYTES", "5", "a whole number, at least 1024"),
        ("GLANDWISE_BATCH_WORKERS", "1.5", "a whole number, at least 0, at most 256"),
        ("GLANDWISE_BATCH_WORKERS", "", "a whole number, at least 0, at most 256"),
        ("GLANDWISE_LONG_SECONDS", "nan", "a number, above 0, at most 3600"),
        ("GLANDWISE_RULES", "", "the path of a folder"),
        ("GLANDWISE_DEFAULT_RULE_SET", "", "text that is not empty"),
    ],
)
def test_a_value_that_is_not_taken_is_refused_with_what_is(
    monkeypatch: pytest.MonkeyPatch, name: str, value: str, accepted: str
) -> None:
    assert faults(monkeypatch, **{name: value}) == [f"{name}: this value is not taken; accepted: {accepted}"]


def test_all_faults_are_told_at_once_and_no_value(monkeypatch: pytest.MonkeyPatch) -> None:
    told = faults(monkeypatch, GLANDWISE_PROT="Zq7secret", GLANDWISE_PORT="Zq7secret", GLANDWISE_MAX_BATCHES="0")
    assert [line.partition(":")[0] for line in told] == [
        "GLANDWISE_PROT", "GLANDWISE_PORT", "GLANDWISE_MAX_BATCHES", "The settings are",
    ]  # fmt: skip
    assert "Zq7secret" not in "".join(told)


def test_what_others_read_is_let_through(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("URL", "CACHE", "NATIVE", "REPOSITORY", "REF"):
        monkeypatch.setenv(f"GLANDWISE_{name}", "x")
    monkeypatch.setenv("GLANDWISE_PORT", "0")
    assert Settings().port == 0


def test_a_misspelt_keyword_is_refused_as_well() -> None:
    with pytest.raises(
        SettingsError, match="GLANDWISE_BATCH_WORKER: not a setting; did you mean GLANDWISE_BATCH_WORKERS"
    ):
        Settings(batch_worker=0)  # type: ignore[call-arg]


def test_the_service_does_not_start_with_a_misspelt_setting() -> None:
    run = subprocess.run(
        [sys.executable, "-m", "glandwise"],
        env={**os.environ, "GLANDWISE_MAX_BATCH": "2"},
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert run.returncode == 2
    assert run.stderr.startswith(
        "The settings cannot be used.\nGLANDWISE_MAX_BATCH: not a setting; did you mean GLANDWISE_MAX_BATCHES?\n"
    )
    assert "Traceback" not in run.stderr


def test_a_client_in_process_says_so_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("GLANDWISE_PROT", "1")
    with pytest.raises(RequestError, match="The service cannot start: GLANDWISE_PROT: not a setting"):
        GlandwiseClient.in_process()
