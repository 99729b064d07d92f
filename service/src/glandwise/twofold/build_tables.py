"""Rebuild the dimensionless tables from their solvers: ``python -m glandwise.twofold.build_tables [beams ...]``."""

from __future__ import annotations

import importlib
import sys

TABLES = {
    "beams": "glandwise.mechanics.solvers.finger_table:build",
    "heat": "glandwise.twofold.heat:build_table",
    "rods": "glandwise.mechanics.solvers.coil_table:build",
}
"""What makes the tables of each module."""


def main(names: list[str]) -> None:
    """Make the tables of each module named, or of all that have some.

    Parameters
    ----------
    names : list of str
        Modules out of `TABLES`; none means all. [-]

    Returns
    -------
    None
        The tables are written.

    Notes
    -----
    Minutes, for all.
    """
    for name in names or TABLES:
        module, _, function = TABLES[name].partition(":")
        getattr(importlib.import_module(module), function)()


if __name__ == "__main__":
    main(sys.argv[1:])
