"""Features by which the rules look the capacities of a design up, as one number and in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from glandwise.case.choices import Energizer, Family, Heel, LipForm, Medium, Retention, SecondLip

if TYPE_CHECKING:
    from glandwise.case.record import Case

Features = dict[str, Any]
"""Features of a design, with ``medium`` and ``filled``."""

ENERGIZERS, SECOND_LIPS, LIP_FORMS = len(Energizer), len(SecondLip), len(LipForm)
RETENTIONS, HEELS, MEDIA = len(Retention), len(Heel), len(Medium)
SORTS = len(Family) * ENERGIZERS * SECOND_LIPS * LIP_FORMS * 2 * RETENTIONS * HEELS * MEDIA * 2
"""Sorts of designs that can be told apart."""


def sort_of(case: Case, filled: int) -> int:
    """Return the number of the sort of design that a case has: all that its rated capacities hang on."""
    sort = case.family * ENERGIZERS + case.energizer
    sort = sort * SECOND_LIPS + case.second_lip
    sort = sort * LIP_FORMS + case.lip_form
    sort = sort * 2 + case.reinforcing_band
    sort = sort * RETENTIONS + case.retention
    sort = sort * HEELS + case.heel
    sort = sort * MEDIA + case.medium
    return sort * 2 + filled


def features_of(sort: int) -> Features:
    """Return the features of a sort of design."""
    codes: dict[str, int] = {}
    for name, count in (
        ("filled", 2),
        ("medium", MEDIA),
        ("heel", HEELS),
        ("retention", RETENTIONS),
        ("reinforcing_band", 2),
        ("lip_form", LIP_FORMS),
        ("second_lip", SECOND_LIPS),
        ("energizer", ENERGIZERS),
    ):
        sort, codes[name] = divmod(sort, count)
    family = Family(sort)
    found: Features = {"family": family.name}
    if family == Family.flexible_lip:
        found["second_lip"] = SecondLip(codes["second_lip"]).name
        found["lip_tip"] = "upturned_with_garter" if codes["energizer"] == Energizer.garter else "plain"
        found["reinforcing_band"] = bool(codes["reinforcing_band"])
    else:
        found["lip_form"] = LipForm(codes["lip_form"]).name
        found["energizer"] = Energizer(codes["energizer"]).name
        found["heel"] = Heel(codes["heel"]).name
    found["retention"] = Retention(codes["retention"]).name
    found["medium"] = Medium(codes["medium"]).name
    found["filled"] = bool(codes["filled"])
    return found
