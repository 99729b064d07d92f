"""Colours of an operating map: fill, line and hatch of each criterion where it fails.

Neighbours on usual maps differ in lightness as well as in hue, and by their hatch, so that they stay apart in grey and for
every kind of colour vision.
"""

from __future__ import annotations

from collections.abc import Mapping

from glandwise.questions.envelope.kernel import IDS, MEASURED

ZONES: Mapping[str, tuple[str, str, str]] = {
    name: module.ZONE for name, module in zip(IDS, MEASURED, strict=True) if module.ZONE is not None
}
OTHER = ("#d5d8dc", "#4a5159", "")
CAUTION = "#b07a00"
