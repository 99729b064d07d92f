"""The policy of a gate: a TOML file beside the rules that says what is judged, from how much on, and what is waived."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Annotated, Any, Final, Literal, NamedTuple

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError, model_validator

from glandwise_client._cli_base import Unusable

OPERATIONS: Final = (
    "check_envelope", "check_gland", "check_thermal_fit", "estimate_friction", "estimate_wear", "select_design",
    "estimate_blank", "answer_enquiry",
)  # fmt: skip
"""What answers can be compared."""
Level = Literal["fail", "warn", "ignore"]
"""What becomes of something that is not as it should be: it trips the gate, is told only, or not even that."""
FAIL_ON: Final = ("verdict", "design", "worse", "any", "none")
_Said = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=500)]
_Share = Annotated[float, Field(ge=0.0, le=10.0, allow_inf_nan=False)]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class Thresholds(_Table):
    """From how much on a change is listed; each a share."""

    margin_loss: _Share = 0.1
    life_change: _Share = 0.1
    torque_change: _Share = 0.1
    quantity_change: _Share = 0.01


class Waiver(_Table):
    """What the gate lets through until a day: a case, or whatever is due to one change."""

    case: _Said | None = None
    change: _Said | None = None
    until: date
    approved_by: _Said
    reason: _Said

    @model_validator(mode="after")
    def _of_something(self) -> Waiver:
        if (self.case is None) == (self.change is None):
            raise ValueError("a waiver names either a case or a change")
        return self

    @property
    def expired(self) -> bool:
        """Whether its day is past."""
        return self.until < today()

    @property
    def subject(self) -> str:
        """What is waived, in words."""
        return f"case {self.case}" if self.case is not None else f"what is due to {self.change}"

    def covers(self, row: Mapping[str, Any], gate: str, margin_loss: float) -> bool:
        """Tell whether a case that trips a gate may pass: it is named, or all that trips is due to the change."""
        if self.case is not None:
            return bool(row["case_id"] == self.case)
        items = tripping(row, gate, margin_loss)
        return bool(items) and all(self.change in (*item["alone"], *item["caused_by"]) for item in items)


class Versions(_Table):
    """What is asked of a set whose content changed."""

    version: Level = "warn"
    steps: bool = True
    """Whether the part of the version is asked for that the change needs; else any higher version will do."""
    changelog: Level = "ignore"


class Reviews(_Table):
    """What is asked of values that are to be looked at again."""

    house_estimate_days: Annotated[int, Field(ge=0, le=36_500)] | None = None
    overdue: Level = "warn"
    built_in: bool = False
    """Whether values of sets that come with the service are looked at."""


class Policy(_Table):
    """What a gate judges by."""

    fail_on: Literal["verdict", "design", "worse", "any", "none"] | None = None
    operations: Annotated[tuple[str, ...], Field(min_length=1, strict=False)] | None = None
    thresholds: Thresholds = Thresholds()
    waivers: Annotated[tuple[Waiver, ...], Field(strict=False)] = ()
    require_approval: bool = False
    versions: Versions = Versions()
    reviews: Reviews = Reviews()

    @property
    def demands(self) -> bool:
        """Whether anything is asked of a rule set itself, beside what it does to cases."""
        levels = self.versions.version, self.versions.changelog, self.reviews.overdue
        return self.require_approval or "fail" in levels


class Waived(NamedTuple):
    """A waiver, and how many cases it let through."""

    waiver: Waiver
    cases: int
    expired: bool

    def written(self) -> dict[str, Any]:
        """Write it for a report."""
        return {
            **self.waiver.model_dump(mode="json"), "subject": self.waiver.subject, "cases": self.cases,
            "expired": self.expired,
        }  # fmt: skip


def tripping(row: Mapping[str, Any], gate: str, margin_loss: float) -> list[Mapping[str, Any]]:
    """Return what of a case trips a gate: criteria of the envelope, the case itself, and what turned of other answers."""
    items: list[Mapping[str, Any]] = []
    turned = row["verdict_before"] != row["verdict_after"]
    if "refused" in (row["verdict_before"], row["verdict_after"]):
        items += [row] if turned else []
    else:
        failing = row["verdict_before"] == row["verdict_after"] == "fail"
        lost = [item for item in row["criteria"] if _lost(item, gate, margin_loss)]
        items += [] if failing else lost
    for answer in row["answers"]:
        items += [
            item
            for item in answer["transitions"]
            if (item["effect"] == "worse" and (gate == "worse" or item["kind"] == "verdict"))
            or (gate == "design" and item["kind"] == "design")
        ]
    return items


def _lost(item: Mapping[str, Any], gate: str, margin_loss: float) -> bool:
    """Tell whether a criterion of the envelope turned worse, or lost more of its margin than it may."""
    if item["outcome"] == "worse":
        return True
    shift = item["margin_shift"]
    return gate == "worse" and item["outcome"] == "shifted" and shift is not None and -shift > margin_loss


_ACCEPTED: Final[Mapping[str, str]] = {
    "fail_on": f"one of {', '.join(FAIL_ON)}",
    "operations": f"a list of {', '.join(OPERATIONS)}",
    "until": "a date as in 2027-01-31, without quotation marks",
    "version": "fail, warn or ignore",
    "changelog": "fail, warn or ignore",
    "overdue": "fail, warn or ignore",
    "steps": "true or false",
    "built_in": "true or false",
    "require_approval": "true or false",
    "house_estimate_days": "a whole number of days from 0 to 36500",
    "waivers": "[[waivers]] with case or change, until, approved_by and reason",
}


def read(path: Path) -> Policy:
    """Read a policy, or refuse it with the place and what is accepted."""
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise Unusable(f"--policy {path}: {error.strerror or error}") from None
    except ValueError as error:  # not UTF-8, or not TOML
        raise Unusable(f"--policy {path}: {error}") from None
    stated = content.get("operations")
    for name in stated if isinstance(stated, list) else ():
        if name not in OPERATIONS:
            raise Unusable(
                f"--policy {path}: operations: {name!r} is no operation that is compared; accepted: {', '.join(OPERATIONS)}"
            )
    try:
        return Policy.model_validate(content)
    except ValidationError as error:
        texts = [_fault(item) for item in error.errors(include_url=False, include_input=False)]
        raise Unusable(f"--policy {path}: " + "\n  ".join(texts)) from None


def _fault(item: Mapping[str, Any]) -> str:
    place = ".".join(str(part + 1) if isinstance(part, int) else part for part in item["loc"])
    names = [part for part in item["loc"] if isinstance(part, str)]
    known: Mapping[str, type[_Table]] = {
        "thresholds": Thresholds, "waivers": Waiver, "versions": Versions, "reviews": Reviews,
    }  # fmt: skip
    if item["type"] == "extra_forbidden":
        table = known.get(names[0], Policy) if len(names) > 1 else Policy
        return f"{place}: there is no such entry; accepted: {', '.join(table.model_fields)}"
    accepted = next((_ACCEPTED[name] for name in reversed(names) if name in _ACCEPTED), None)
    if names and names[0] == "thresholds":
        accepted = "a share from 0 to 10, as 0.1 for 10 %"
    words = "is missing" if item["type"] == "missing" else str(item["msg"])
    return f"{place}: {words}" + (f"; accepted: {accepted}" if accepted else "")


def today() -> date:
    """Return the current date (UTC), by which waivers expire."""
    return datetime.now(tz=UTC).date()


class Waivers:
    """Counts what waivers let through; one that is past its day lets nothing through."""

    def __init__(self, policy: Policy, day: date | None = None) -> None:
        self._day, self._policy = day or today(), policy
        self.waivers: Sequence[Waiver] = policy.waivers
        self._counts = dict.fromkeys(range(len(self.waivers)), 0)

    def cover(self, row: Mapping[str, Any], gate: str) -> bool:
        """Tell whether a case that trips a gate is let through, and count it with the first waiver that does."""
        for index, waiver in enumerate(self.waivers):
            if waiver.until >= self._day and waiver.covers(row, gate, self._policy.thresholds.margin_loss):
                self._counts[index] += 1
                return True
        return False

    def used(self) -> list[dict[str, Any]]:
        """Write each waiver with the cases it let through."""
        return [
            Waived(waiver, self._counts[index], waiver.until < self._day).written()
            for index, waiver in enumerate(self.waivers)
        ]
