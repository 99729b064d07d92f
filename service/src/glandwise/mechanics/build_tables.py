"""Rebuild the dimensionless tables from their solvers: ``python -m glandwise.mechanics.build_tables [beams ...]``."""

from __future__ import annotations

import importlib
import sys

TABLES = ("beams", "heat", "rods")
"""Modules of this package that keep a table."""


def main(names: list[str]) -> None:
    """Call ``build_table`` of each module named, or of all that have one.

    Parameters
    ----------
    names : list of str
        Modules out of `TABLES`; none means all. [-]

    Returns
    -------
    None
        Each module writes its own table.

    Notes
    -----
    Minutes, for all.
    """
    for name in names or TABLES:
        importlib.import_module(f"glandwise.mechanics.{name}").build_table()


if __name__ == "__main__":
    main(sys.argv[1:])
