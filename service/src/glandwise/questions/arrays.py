"""Arrays that questions hand to machine code and read from it."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Table: TypeAlias = NDArray[np.void]
"""Records in rows: cases, hardware, what machine code found of them."""
Row: TypeAlias = np.void
"""One of them; its fields go by their names."""
Floats: TypeAlias = NDArray[np.float64]
"""Numbers in SI."""
Codes: TypeAlias = NDArray[np.integer]
"""Codes of names, or places in a table."""
Column: TypeAlias = NDArray[np.number]
"""Numbers or codes, one of each case."""
Truths: TypeAlias = NDArray[np.bool_]
"""Which of many it holds for."""
Numbers: TypeAlias = float | Floats
"""One number, or one for each of many cases."""
Compiled: TypeAlias = np.recarray[tuple[int], np.dtype[np.record]]
"""Records in rows as machine code has them: their fields are attributes."""
