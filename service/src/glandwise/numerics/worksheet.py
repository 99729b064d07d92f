"""Steps of a working as an answer writes them: symbol, title, equation, inputs, value, unit, source."""

from __future__ import annotations

import math
from typing import Any

from glandwise.numerics.dimensions import spelled
from glandwise.numerics.trace import Step, Working


def _title(step: Step, symbol: str) -> str:
    title = step.title or symbol
    return title[:1].upper() + title[1:]


def written(*results: Any) -> list[dict[str, Any]]:
    """Write the working of some traced results, inputs before what they give.

    A step that needs a number which is not known is left out, and with it all that would follow from it.
    """
    working = Working(*results)
    steps = []
    for step in working.steps:
        symbol, inputs = working.symbol(step), working.inputs(step)
        if not (math.isfinite(step.value) or inputs) or not all(map(math.isfinite, inputs.values())):
            continue
        equation, source = working.equation(step), step.source
        if step.words and (said := working.words(step)) != equation:
            source = f"{source}; {said}" if source else said
        steps.append(
            {
                "symbol": symbol,
                "title": _title(step, symbol),
                "equation": equation,
                "inputs": inputs,
                "value": step.value if math.isfinite(step.value) else None,
                "unit": spelled(step.dim).replace("·", "."),
                "source": source or "definition",
                "because": working.because(step) or None,
            }
        )
    return steps
