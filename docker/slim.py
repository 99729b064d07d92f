"""Take out of an environment what the service never loads: tests, headers, caches, what installs, libraries of file formats.

Run in the build of the image, by the environment's own interpreter. ``make image-test`` holds that the service answers
without what is taken out.
"""

from __future__ import annotations

import shutil
import sys
import sysconfig
from pathlib import Path

PACKAGES = Path(sysconfig.get_path("purelib"))
INSTALLERS = (
    "pip",
    "pip-*",
    "setuptools",
    "setuptools-*",
    "pkg_resources",
    "_distutils_hack",
    "distutils-precedence.pth",
)
"""What installs packages: nothing is installed in a running container."""
FOLDERS = ("tests", "test", "__pycache__", "include", "sample_data")
"""Folders of packages, wherever they are. The machine code of the formulas has another place."""
UNUSED = (
    # columns are read and written in memory: remote tables and stores are not; copies of a library by other names
    "pyarrow/libarrow_flight*", "pyarrow/libarrow_python_flight*", "pyarrow/libarrow_s3*", "pyarrow/_flight*", "pyarrow/_s3fs*",
    "pyarrow/src", "pyarrow/_orc*", "pyarrow/_dataset_orc*", "pyarrow/_gcsfs*", "pyarrow/_azurefs*", "pyarrow/_hdfs*",
    "pyarrow/_substrait*", "pyarrow/_pyarrow_cpp_tests*", "pyarrow/libarrow_python*.so", "pyarrow/libarrow_python*.so.*.*.*",
    # parts of it that neither the service nor another part calls
    "scipy/cluster", "scipy/datasets", "scipy/fftpack", "scipy/io", "scipy/misc", "scipy/odr", "scipy/signal",
    # plots are SVG: no photographs
    "PIL/_avif*", "pillow.libs/libavif*",
    # another way to the same compression, for interpreters without extensions
    "zstandard/_cffi*",
)  # fmt: skip
OF_FONTS = (
    "fontTools/*Lib", "fontTools/cu2qu", "fontTools/merge", "fontTools/pens", "fontTools/qu2cu", "fontTools/subset",
    "fontTools/misc/bezierTools*",
)  # fmt: skip
"""What takes fonts apart: plots name theirs, and only a PDF embeds them."""
NEEDS_FONTS = "weasyprint"
SOURCES = (".pyx", ".pxd", ".pxi", ".pyi", ".h", ".hpp", ".c", ".cc", ".lib", ".a")
"""What only compilers and editors read."""


def slim(folder: Path) -> int:
    """Take it out of a folder of packages; return how many bytes are gone."""
    before = size(folder)
    fonts = () if (folder / NEEDS_FONTS).exists() else OF_FONTS
    for pattern in (*INSTALLERS, *UNUSED, *fonts):
        for path in folder.glob(pattern):
            remove(path)
    for path in sorted(folder.rglob("*"), reverse=True):
        if (path.is_dir() and path.name in FOLDERS) or path.suffix in SOURCES:
            remove(path)
    return before - size(folder)


def remove(path: Path) -> None:
    """Remove a file, a link or a folder."""
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)
    else:
        path.unlink(missing_ok=True)


def size(folder: Path) -> int:
    """Return the bytes of all files below a folder."""
    return sum(path.lstat().st_size for path in folder.rglob("*") if path.is_file() and not path.is_symlink())


if __name__ == "__main__":
    gone = slim(PACKAGES)
    sys.stdout.write(f"{gone / 1e6:.0f} MB taken out, {size(PACKAGES) / 1e6:.0f} MB left\n")
