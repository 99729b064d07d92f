"""Take out of an environment what the service never loads: tests, headers, caches, what installs, libraries of file formats,
names of machine code for debuggers.

Run in the build of the image, by the environment's own interpreter. ``make image-test`` holds that the service answers
without what is taken out.
"""

from __future__ import annotations

import shutil
import struct
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
    # plots are SVG: no photographs, no text set by another library, no colours of printing, no window
    "PIL/_avif*", "PIL/_webp.*", "PIL/_imagingft.*", "PIL/_imagingcms.*", "PIL/_imagingtk.*",
    *(f"pillow.libs/lib{name}-*" for name in (
        "avif", "webp", "webpmux", "webpdemux", "sharpyuv", "freetype", "harfbuzz", "lcms2", "png16", "brotlicommon", "brotlidec",
    )),
    # their text is of DejaVu Sans, or Mono in a PDF, and they set no formula
    "matplotlib/mpl-data/fonts/afm", "matplotlib/mpl-data/fonts/pdfcorefonts", "matplotlib/mpl-data/images",
    *(f"matplotlib/mpl-data/fonts/ttf/{name}" for name in ("DejaVuSerif*", "STIX*", "cm*")), "matplotlib/backends/_tkagg*",
    # what tests extensions
    "numpy/_core/_*_tests.*", "numpy/_core/_simd.*", "scipy/*/_test_*.so", "scipy/*/_ctest.*", "scipy/*/_cytest.*",
    # the second way to show the contract
    "fastapi_offline/static/redoc*",
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


def end_of_what_is_loaded(content: bytes) -> int:
    """Return where the part of a library ends that a process loads: headers and segments (ELF of 64 bits, the generic ABI).

    Of anything else it is the end of the file.
    """
    if content[:6] != b"\x7fELF\x02\x01":
        return len(content)
    (table,) = struct.unpack_from("<Q", content, 32)
    size, count = struct.unpack_from("<HH", content, 54)
    end = max(64, table + size * count)
    for entry in range(table, table + size * count, size):
        start, length = struct.unpack_from("<Q16xQ", content, entry + 8)
        end = max(end, start + length)
    return min(end, len(content))


def cut(library: Path) -> None:
    """Take from a library what stands behind the part that is loaded: names and lines for debuggers, and where sections are.

    Not a byte of that part moves, so that it is loaded as before.
    """
    content = library.read_bytes()
    end = end_of_what_is_loaded(content)
    if end < len(content):
        part = bytearray(content[:end])
        struct.pack_into("<Q", part, 40, 0)  # sections begin nowhere,
        struct.pack_into("<HHH", part, 58, 0, 0, 0)  # and there are none
        library.write_bytes(part)


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
        elif path.is_file() and not path.is_symlink() and ".so" in path.suffixes:
            cut(path)
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
