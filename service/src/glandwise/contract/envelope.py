"""Request and result of an envelope check."""

from __future__ import annotations

from glandwise.contract.base import CalculationRequest, Criterion, Governing, Result, Status
from glandwise.contract.design import Design
from glandwise.contract.duty import Duty


class EnvelopeCheckRequest(CalculationRequest):
    """A duty and a design: would this seal live there?"""

    duty: Duty
    """What the seal has to live with."""
    design: Design
    """Which seal is asked about."""


class EnvelopeCheckResult(Result):
    """Verdict with every criterion."""

    verdict: Status
    """The worst criterion; a pass with criteria that could not be evaluated is a `caution`."""
    summary: str
    """The verdict in one sentence."""
    governing: Governing
    """The criterion that decides."""
    criteria: list[Criterion]
    """Every criterion, in a fixed order."""
