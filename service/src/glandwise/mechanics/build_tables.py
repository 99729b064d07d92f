"""Rebuild a dimensionless table from its solver: ``python -m glandwise.mechanics.build_tables beams``."""

from __future__ import annotations

import importlib
import sys


def main(names: list[str]) -> None:
    """Call ``build_table`` of each module of this package named."""
    for name in names:
        importlib.import_module(f"glandwise.mechanics.{name}").build_table()


if __name__ == "__main__":
    main(sys.argv[1:])
