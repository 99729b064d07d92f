"""Names that a formula branches on: integers to the compiled life, spelled as the rules and requests spell them."""

from __future__ import annotations

from enum import IntEnum


class FilmCorrelation(IntEnum):
    """Measurements that the film of a turning shaft goes by."""

    anderson_saunders = 0
    becker = 1
    etemad = 2
    kays_bjorklund = 3
    dropkin_carmi = 4
    ozerdem = 5
