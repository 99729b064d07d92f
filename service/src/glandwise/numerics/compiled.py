"""The compiled life: machine code, kept on disk under a digest of everything that it was made of.

The compiler's own cache looks only at the file of the function that Python calls: an edit of a formula in another file
would go unnoticed, and old machine code would answer. So the folder of the cache is named by the digest of all sources.
"""

from __future__ import annotations

import logging
import os
import shutil
import stat
import sys
import tempfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from functools import cache, partial
from pathlib import Path
from typing import Any

from glandwise.numerics import sources
from glandwise.numerics.lives import Life

_log = logging.getLogger(__name__)


def cache_folder() -> Path:
    """Return the folder for machine code: ``GLANDWISE_CACHE``, else the user's cache, else a temporary one.

    A folder that cannot be written would fail only once a kernel is compiled, so it is tried here. What such a folder
    holds, as in an image whose root is read-only, is copied to the temporary one and need not be compiled again.
    """
    stated = os.environ.get("GLANDWISE_CACHE")
    usual = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "glandwise"
    wanted = (Path(stated) if stated else usual) / sources.digest()[:16]
    try:
        wanted.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=wanted):
            return wanted
    except OSError:
        own = _own_folder()
        folder = own / wanted.name
        if not folder.exists() and wanted.is_dir():
            with tempfile.TemporaryDirectory(dir=own) as beside:
                copy = Path(shutil.copytree(wanted, Path(beside) / "copy"))
                with suppress(OSError):  # another process was first
                    copy.rename(folder)
        elif not folder.exists():
            _log.warning("machine code cannot be kept in %s; it is kept in a temporary folder", wanted.parent)
        folder.mkdir(exist_ok=True)
        return folder


def _own_folder() -> Path:
    """Return a temporary folder that nobody else can have put machine code into."""
    user = os.getuid() if hasattr(os, "getuid") else 0
    own = Path(tempfile.gettempdir()) / f"glandwise-{user}"
    own.mkdir(mode=0o700, exist_ok=True)
    about = own.lstat()
    if stat.S_ISDIR(about.st_mode) and about.st_uid == user and not about.st_mode & 0o022:
        return own
    return Path(tempfile.mkdtemp(prefix="glandwise-"))


# before the compiler is imported: it reads these once. Code for any processor of the kind serves in an image built elsewhere
# too, and costs nothing that could be measured.
os.environ["NUMBA_CACHE_DIR"] = str(cache_folder())
os.environ["NUMBA_CACHE_LOCATOR_CLASSES"] = (
    f"{__name__}.InPackage,UserProvidedCacheLocator,InTreeCacheLocator,UserWideCacheLocator,IPythonCacheLocator"
)
if "GLANDWISE_NATIVE" not in os.environ:
    os.environ.setdefault("NUMBA_CPU_NAME", "generic")
    os.environ.setdefault("NUMBA_CPU_FEATURES", "")

_is_late = "numba" in sys.modules
import numba  # noqa: E402
from numba.core.caching import UserProvidedCacheLocator  # noqa: E402

if _is_late:  # the program around has loaded the compiler: what is kept on disk must not land beside the sources
    for _name in ("CACHE_DIR", "CACHE_LOCATOR_CLASSES"):
        setattr(numba.config, _name, os.environ[f"NUMBA_{_name}"])


class InPackage(UserProvidedCacheLocator):  # type: ignore[misc, unused-ignore]
    """Keeps machine code by the place of its source within this package, wherever that lies.

    So another clone, working tree or environment with the same sources has nothing to compile.
    """

    @classmethod
    def from_function(cls, py_func: Any, py_file: str) -> Any:
        """Return where a function of this package is kept; ``None`` for any other."""
        if not Path(py_file).is_relative_to(sources.PACKAGE):
            return None
        locate: Any = super().from_function
        return locate(py_func, py_file)

    @classmethod
    def get_suitable_cache_subpath(cls, py_file: str) -> str:
        """Return the folder of a source as a name."""
        return "_".join(Path(py_file).parent.relative_to(sources.PACKAGE.parent).parts)


# A function in machine code is named by the types that it takes, and a named tuple by all fields of what it holds: tens of thousands
# of letters, some hundred times in what is kept on disk and read at each start. A plain tuple is named by its parts, records by a number.
_named_tuple: Any = numba.types.NamedTuple
_named_tuple.mangling_args = property(lambda kind: (kind.instance_class.__name__, kind.types))

_OPTIONS: dict[str, Any] = {"error_model": "numpy", "nogil": True}
_njit: Any = numba.njit


def _made(copy: Any, original: Any, **options: Any) -> Any:
    # without counting who holds an array: a pass of the tables of the rules to a function would count each of them up and down
    counted = getattr(original, "with_arrays", False)
    return _njit(copy, **_OPTIONS, _nrt=counted, **options)


_inner = Life(partial(_made, no_cpython_wrapper=True, no_cfunc_wrapper=True))
"""Functions that only compiled functions call: no wrapper for Python, no file of their own."""
_entries: dict[Any, Any] = {}


def compiled(function: Any) -> Any:
    """Return the compiled life of a function that Python calls; what it names is compiled with it."""
    if function not in _entries:
        _entries[function] = _made(_inner.copied(function), function, cache=True)
    return _entries[function]


def ready(kernel: Any, *arguments: Any) -> None:
    """Have a kernel compiled, or read from disk, for arguments of these types; any others are refused from then on."""
    kernel(*arguments)
    kernel.disable_compile()


CHUNK = 512
"""Rows that one thread takes at a time."""
_SHARED = 2 * CHUNK
"""Rows from which threads share the work."""


niceness: int | None = None
"""How nice threads of long work are; set by a process that serves."""


@cache
def _threads() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(os.cpu_count() or 1, thread_name_prefix="formulas", initializer=give_way)


def give_way() -> None:
    """Have this thread yield the processor to others, in a process that serves."""
    if niceness is not None and sys.platform == "linux":  # elsewhere this is a matter of the whole process
        with suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, 0, niceness)


def over_rows(kernel: Callable[..., None], tables: tuple[Any, ...], *arguments: Any) -> Any:
    """Run a kernel over the rows of tables and return the last of them; the kernel lets go of the interpreter.

    The tables are contiguous and have as many rows each; slices of long ones go to threads.
    """
    count = len(tables[0])
    if count < _SHARED:
        kernel(*tables, *arguments)
        return tables[-1]

    def run(start: int) -> None:
        kernel(*(table[start : start + CHUNK] for table in tables), *arguments)

    list(_threads().map(run, range(0, count, CHUNK)))
    return tables[-1]
