"""Derive ``unit_factors.json`` from pint: ``python -m glandwise.units_build [--check]``.

Run by hand when a unit is added to :mod:`glandwise.units`; needs pint, which the service itself does not.
"""

from __future__ import annotations

import json
import sys
from fractions import Fraction
from pathlib import Path
from typing import Any

TARGET = Path(__file__).with_name("unit_factors.json")


def derive(dimensions: Any) -> dict[str, dict[str, list[float]]]:
    """Return ``{dimension: {symbol: [scale, offset]}}`` with ``si = value * scale + offset``."""
    import pint  # type: ignore[import-not-found, unused-ignore]

    # Exact rational arithmetic, so that each factor is the double nearest to the true ratio.
    registry: Any = pint.UnitRegistry(non_int_type=Fraction)
    registry.define("mil_length = 0.001 * inch")
    zero, one = Fraction(0), Fraction(1)
    result: dict[str, dict[str, list[float]]] = {}
    for dimension in dimensions.values():
        target = registry.Unit(dimension.si) if dimension.si != "dimensionless" else registry.dimensionless
        table: dict[str, list[float]] = {}
        for unit in dimension.units:
            prefix, _, rest = unit.expression.partition(" / ")
            if prefix == "1e-6":
                scale, offset = Fraction(1, 10**6) * registry.Quantity(one, f"1 / {rest}").m_as(target), zero
            else:
                source = (
                    registry.Unit(unit.expression) if unit.expression != "dimensionless" else registry.dimensionless
                )
                offset = registry.Quantity(zero, source).m_as(target)
                scale = registry.Quantity(one, source).m_as(target) - offset
            for symbol in (unit.symbol, *unit.aliases):
                table[symbol] = [float(scale), float(offset)]
        result[dimension.name] = table
    return result


def main() -> int:
    """Write the table, or with ``--check`` compare it."""
    if not TARGET.exists():
        TARGET.write_text("{}", encoding="utf-8")
    from glandwise import units

    table = derive(units.DIMENSIONS)
    text = json.dumps(table, indent=1, sort_keys=True) + "\n"
    if "--check" in sys.argv:
        return 0 if TARGET.read_text(encoding="utf-8") == text else 1
    TARGET.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
