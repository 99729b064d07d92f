"""Run the tests of one module against one mutant, in a process forked from one that has the libraries loaded."""

from __future__ import annotations

import contextlib
import importlib
import importlib.abc
import importlib.util
import os
import resource
import signal
import sys
import time
import traceback
import warnings
from collections.abc import Sequence
from importlib.machinery import ModuleSpec, SourceFileLoader
from pathlib import Path
from types import CodeType
from typing import Any, NamedTuple

import pytest

from tests.published import test_cases

ROOT = Path(__file__).parent.parent.parent
PACKAGE = "glandwise.twofold"
SOURCE = ROOT / "service" / "src"
SOLVERS = frozenset({"strip", "coil"})
"""Modules that stand with the formulas."""


def dotted(module: str) -> str:
    """Return the full name of a module."""
    return f"glandwise.mechanics.solvers.{module}" if module in SOLVERS else f"{PACKAGE}.{module}"


def source_of(module: str) -> Path:
    """Return the file of a module."""
    return SOURCE / f"{dotted(module).replace('.', '/')}.py"


_MEMORY = 6 << 30


class Outcome(NamedTuple):
    """What became of a mutant."""

    status: str
    """killed, timeout or survived"""
    seconds: float
    """processor time"""
    tests: dict[str, float]
    """duration of each test that passed"""
    failed: str
    """the test that failed"""


class _Loader(SourceFileLoader):
    """Load a module from a changed source as if it stood in the file."""

    def __init__(self, name: str, path: str, text: str) -> None:
        super().__init__(name, path)
        self._text = text

    def get_code(self, fullname: str) -> CodeType:  # noqa: ARG002 - the interface
        """Compile the changed source."""
        return compile(self._text, self.path, "exec", dont_inherit=True)


class _Finder(importlib.abc.MetaPathFinder):
    """Give the changed source for one module."""

    def __init__(self, name: str, path: Path, text: str) -> None:
        self._name, self._path, self._text = name, path, text

    def find_spec(self, fullname: str, path: Any, target: Any = None) -> ModuleSpec | None:  # noqa: ARG002 - likewise
        """Return the changed module, and no other."""
        if fullname != self._name:
            return None
        loader = _Loader(fullname, str(self._path), self._text)
        return importlib.util.spec_from_file_location(fullname, self._path, loader=loader)


class _Order:
    """Run the tests in a given order and report how long each took and which one failed."""

    def __init__(self, order: Sequence[str], report: int) -> None:
        self._rank = {name: rank for rank, name in enumerate(order)}
        self._report = report

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        items.sort(key=lambda item: self._rank.get(item.nodeid, -1))

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.when == "call" or report.failed:
            line = f"{'passed' if report.passed else 'failed'}\t{report.duration}\t{report.nodeid}\n"
            os.write(self._report, line.encode())


def _quick(module: str) -> None:
    """Call the tests that are tables of cases, those of one module alone: most mutants fail here, at little cost."""
    warnings.simplefilter("error")
    for parameters in test_cases._load():
        case, sources = parameters.values
        if case["function"].startswith(f"{dotted(module)}:"):
            test_cases.test_case(case, sources)
    from tests.twofold import test_domains, test_shapes

    for name in test_shapes.EXAMPLES:
        if name.startswith(f"{module}."):
            test_shapes.test_floats_give_floats(name)
            for size in (1, 5):
                test_shapes.test_arrays_give_what_floats_give(name, size)
            test_shapes.test_one_array_among_floats_is_enough(name)
            test_shapes.test_two_dimensions_give_what_one_gives(name)
            test_domains.test_nan_is_no_exception(name)
            test_domains.test_what_is_left_out_adds_nothing(name)
    for edge in test_domains.EDGES:
        if edge.name.startswith(f"{module}."):
            for shape in ("float", "array"):
                test_domains.test_range_ends_where_it_is_said_to(edge.name, edge, shape)


def preload() -> None:
    """Load what the tests need, but none of the mechanics, so that each fork starts at once."""
    for name in (
        "hypothesis.strategies",
        "numpy",
        "scipy.integrate",
        "scipy.interpolate",
        "scipy.optimize",
        "scipy.special",
        "scipy.stats",
        "scipy.sparse.linalg",
        "skfem",
        "ht",
        "fluids.atmosphere",
        "pytest",
    ):
        importlib.import_module(name)
    assert not any(name.startswith(PACKAGE) for name in sys.modules)
    from hypothesis import HealthCheck, Phase, settings

    # no search for smaller examples: the first failure decides
    settings.register_profile(
        "mutation",
        derandomize=True,
        database=None,
        deadline=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )


def _child(
    module: str, text: str | None, files: Sequence[str], marks: str, limit: float, order: Sequence[str], report: int
) -> int:
    resource.setrlimit(resource.RLIMIT_CPU, (int(limit) + 1, int(limit) + 2))
    resource.setrlimit(resource.RLIMIT_AS, (_MEMORY, _MEMORY))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    if text is not None:
        sys.meta_path.insert(0, _Finder(dotted(module), source_of(module), text))
    from hypothesis import settings

    settings.load_profile("mutation")
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    arguments = ["-x", "-q", "--confcutdir=tests/twofold", "-p", "no:cacheprovider", "--no-header", "--tb=line"]
    if marks:
        arguments += ["-m", marks]
    with warnings.catch_warnings():
        _quick(module)
    return int(pytest.main([*arguments, *files], plugins=[_Order(order, report)]))


def run(
    module: str,
    text: str | None,
    files: Sequence[str],
    marks: str,
    limit: float,
    order: Sequence[str] = (),
    show: bool = False,
) -> Outcome:
    """Run the tests ``files`` of a module against a changed source, within ``limit`` seconds of processor time."""
    sys.stdout.flush()
    sys.stderr.flush()
    reader, writer = os.pipe()
    pid = os.fork()
    if pid == 0:
        code = 99
        try:
            os.setsid()
            os.close(reader)
            if not show:
                null = os.open(os.devnull, os.O_RDWR)
                for stream in (0, 1, 2):
                    os.dup2(null, stream)
            code = _child(module, text, files, marks, limit, order, writer)
        except BaseException:  # a failing case; and a fork must never return to the caller's loop
            traceback.print_exc()
            code = 1
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code)
    os.close(writer)
    os.set_blocking(reader, False)
    deadline = time.monotonic() + 8.0 * limit
    output = b""
    while True:
        done, status, usage = os.wait4(pid, os.WNOHANG)
        with contextlib.suppress(BlockingIOError):
            output += os.read(reader, 1 << 20)
        if done:
            break
        if time.monotonic() > deadline:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(pid, signal.SIGKILL)
        time.sleep(0.01)
    os.close(reader)
    rows = [row.split("\t") for row in output.decode().splitlines()]
    passed = {name: float(duration) for outcome, duration, name in rows if outcome == "passed"}
    failed = next((name for outcome, _, name in rows if outcome == "failed"), "")
    seconds = usage.ru_utime + usage.ru_stime
    if os.WIFSIGNALED(status):
        timed_out = os.WTERMSIG(status) in {signal.SIGXCPU, signal.SIGKILL}
        return Outcome("timeout" if timed_out else "killed", seconds, passed, failed)
    return Outcome("survived" if os.WEXITSTATUS(status) == 0 else "killed", seconds, passed, failed)
