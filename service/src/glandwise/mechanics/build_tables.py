"""Rebuild the dimensionless tables from their solvers: ``python -m glandwise.mechanics.build_tables [beams ...]``."""

from __future__ import annotations

import importlib
import sys

TABLES = {
    "beams": "glandwise.formulas.solvers.finger_table:build",
    "heat": "glandwise.mechanics.heat:build_table",
    "rods": "glandwise.formulas.solvers.coil_table:build",
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
