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
from collections.abc import Sequence
from importlib.machinery import ModuleSpec, SourceFileLoader
from pathlib import Path
from types import CodeType
from typing import Any, NamedTuple

import pytest

ROOT = Path(__file__).parent.parent.parent
PACKAGE = "glandwise.mechanics"
SOURCE = ROOT / "service" / "src" / "glandwise" / "mechanics"
_MEMORY = 6 << 30


class Outcome(NamedTuple):
    """What became of a mutant."""

    status: str
    """killed, timeout or survived"""
    seconds: float
    """processor time"""


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


class _Selection:
    """Keep the tests that belong to a module, those of published rows first."""

    def __init__(self, module: str) -> None:
        self._module = module

    def _belongs(self, item: Any) -> bool:
        parameters = item.callspec.params if hasattr(item, "callspec") else {}
        if "case" in parameters and "published" in item.path.parts:
            return str(parameters["case"]["function"]).startswith(f"{PACKAGE}.{self._module}:")
        if item.path.name in {"test_shapes.py", "test_docstrings.py"}:
            return str(parameters.get("name", "")).startswith(f"{self._module}.")
        return True

    def pytest_collection_modifyitems(self, config: Any, items: list[Any]) -> None:
        kept = [item for item in items if self._belongs(item)]
        config.hook.pytest_deselected(items=[item for item in items if item not in kept])
        items[:] = sorted(kept, key=lambda item: "published" not in item.path.parts)


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


def _child(module: str, text: str | None, files: Sequence[str], marks: str, limit: float) -> int:
    resource.setrlimit(resource.RLIMIT_CPU, (int(limit) + 1, int(limit) + 2))
    resource.setrlimit(resource.RLIMIT_AS, (_MEMORY, _MEMORY))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    if text is not None:
        sys.meta_path.insert(0, _Finder(f"{PACKAGE}.{module}", SOURCE / f"{module}.py", text))
    from hypothesis import settings

    settings.load_profile("mutation")
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    arguments = ["-x", "-q", "--noconftest", "-p", "no:cacheprovider", "--no-header", "--tb=line"]
    if marks:
        arguments += ["-m", marks]
    return int(pytest.main([*arguments, *files], plugins=[_Selection(module)]))


def run(
    module: str, text: str | None, files: Sequence[str], marks: str, limit: float, show: bool = False
) -> tuple[Outcome, int]:
    """Run the tests ``files`` of a module against a changed source, within ``limit`` seconds of processor time."""
    sys.stdout.flush()
    sys.stderr.flush()
    pid = os.fork()
    if pid == 0:
        code = 99
        try:
            os.setsid()
            if not show:
                null = os.open(os.devnull, os.O_RDWR)
                for stream in (0, 1, 2):
                    os.dup2(null, stream)
            code = _child(module, text, files, marks, limit)
        except BaseException:  # a fork must never return to the caller's loop
            traceback.print_exc()
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code)
    deadline = time.monotonic() + 6.0 * limit
    while True:
        done, status, usage = os.wait4(pid, os.WNOHANG)
        if done:
            break
        if time.monotonic() > deadline:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(pid, signal.SIGKILL)
        time.sleep(0.01)
    seconds = usage.ru_utime + usage.ru_stime
    if os.WIFSIGNALED(status):
        timed_out = os.WTERMSIG(status) in {signal.SIGXCPU, signal.SIGKILL}
        return Outcome("timeout" if timed_out else "killed", seconds), -os.WTERMSIG(status)
    code = os.WEXITSTATUS(status)
    return Outcome("survived" if code == 0 else "killed", seconds), code
