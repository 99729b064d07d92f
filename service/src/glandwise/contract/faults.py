"""Faults of a case in words, the same wherever the case came from: a request, a line, a row of a table."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from pydantic_core import PydanticCustomError

WORDS: Mapping[str, tuple[str, str | None]] = {
    "missing": ("missing", "this field is required"),
    "extra_forbidden": ("not known here", "only the fields of the schema of the operation"),
    "float_type": ("not a number", "a JSON number"),
    "int_type": ("not a whole number", "a JSON number without a fraction"),
    "int_from_float": ("not a whole number", "a JSON number without a fraction"),
    "bool_type": ("not a truth value", "true or false"),
    "string_type": ("not a string", "a JSON string"),
    "dict_type": ("not an object", 'an object {{"value": number, "unit": unit}}'),
    "model_type": ("not an object", "a JSON object"),
    "model_attributes_type": ("not an object", "a JSON object"),
    "list_type": ("not an array", "a JSON array"),
    "finite_number": ("not a finite number", "a finite number"),
    "literal_error": ("not one of the values known here", "{expected}"),
    "union_tag_invalid": ("not one of the kinds known here", "{expected_tags}"),
    "union_tag_not_found": ("missing", "this field is required"),
    "greater_than": ("too small", "more than {gt}"),
    "greater_than_equal": ("too small", "at least {ge}"),
    "less_than": ("too large", "less than {lt}"),
    "less_than_equal": ("too large", "at most {le}"),
    "string_pattern_mismatch": ("not written as it must be", "a string that matches {pattern}"),
    "name_form": ("not a name", "letters, digits and underscores, a letter first"),
    "line_form": ("not one line of text", "text without line breaks and other control characters"),
    "string_too_short": ("too short", "at least {min_length} characters"),
    "string_too_long": ("too long", "at most {max_length} characters"),
    "too_short": ("too few items", "at least {min_length}"),
    "too_long": ("too many items", "at most {max_length}"),
}
"""Kind of fault → what is wrong, what is accepted; in place of the validator's own words, which can name its classes."""

OUTSIDE = "outside the range the service answers for"
"""What is wrong with a number that is none of those taken."""


class Misfit(NamedTuple):
    """A number that does not go with another one of the same object."""

    field: str
    refused: Any
    """Whether, or of many cases which, are refused."""
    detail: str
    accepted: str


def refuse(misfits: Iterable[Misfit]) -> None:
    """Refuse an object for the first of what does not fit in it."""
    for item in misfits:
        if item.refused:
            raise PydanticCustomError(
                "out_of_domain",
                item.detail,  # type: ignore[arg-type, unused-ignore]
                {"fields": (item.field,), "accepted": item.accepted},
            )
