"""A short slice of what ``make fuzz`` lets at the parsers."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.client.support import ROOT

pytest.importorskip("atheris", reason="the fuzzer is built for one kind of machine only")


@pytest.mark.slow
def test_nothing_is_found_in_a_few_thousand_inputs() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.fuzz", "--inputs", "2500"], cwd=ROOT, text=True, capture_output=True, timeout=300
    )
    assert done.returncode == 0, done.stdout
    assert done.stdout.count("nothing found") == 5
