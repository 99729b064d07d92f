"""Thermal strains of the parts of a seal and its hardware, from the temperature at which dimensions hold."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from glandwise.case.lip_fit import metal_strain

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules
    from glandwise.case.hardware import Hardware
    from glandwise.case.record import Case


class Parts(Protocol):
    """Hardware by what it is made of."""

    @property
    def reference(self) -> float:
        """Temperature at which dimensions hold [K]."""

    @property
    def shaft_metal(self) -> int:
        """Material of the shaft."""

    @property
    def housing_metal(self) -> int:
        """Material of the housing."""


def ring_strain(case: Case, hardware: Hardware, gland: GlandRules, T: float) -> float:
    """Strain of the O-ring from where dimensions hold."""
    return gland.rubbers[case.elastomer].mean_expansion * (T - hardware.reference)


def housing_strain(hardware: Parts, gland: GlandRules, T: float) -> float:
    """Strain of the housing from where dimensions hold."""
    return metal_strain(gland.metals[hardware.housing_metal], gland, hardware.reference, T)


def shaft_strain(hardware: Parts, gland: GlandRules, T: float) -> float:
    """Strain of the shaft from where dimensions hold."""
    return metal_strain(gland.metals[hardware.shaft_metal], gland, hardware.reference, T)


def alloy_strain(case: Case, hardware: Hardware, gland: GlandRules, T: float) -> float:
    """Strain of the alloy of the energizer from where dimensions hold."""
    return metal_strain(gland.alloys[case.alloy], gland, hardware.reference, T)
