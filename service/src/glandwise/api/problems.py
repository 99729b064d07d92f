"""Problem documents (RFC 9457): one shape for every error, whatever layer it was born in.

No text that was sent is echoed: a value can hold what must not be repeated (a lone surrogate, a secret, a megabyte). A
problem names the field by JSON pointer, the fault, and what is accepted instead. Names of the caller's own making stand in
a pointer only as :func:`shown` writes them.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from difflib import get_close_matches
from typing import Annotated, Any, Literal, get_args, get_origin

import orjson
from pydantic import BaseModel, ConfigDict, Field, ValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from glandwise import units
from glandwise.api import messages
from glandwise.contract.base import LINE, NAME
from glandwise.contract.faults import WORDS
from glandwise.contract.quantities import measured
from glandwise.contract.reading import example_of
from glandwise.engine import UnknownName
from glandwise.logs import log

MEDIA_TYPE = "application/problem+json"
METHODS = ("GET", "HEAD", "POST", "OPTIONS")
"""Methods that some path takes."""
SAFETY_HEADERS = {"x-content-type-options": "nosniff", "cache-control": "no-store"}
"""On every answer that does not say otherwise."""


class FieldProblem(BaseModel):
    """What is wrong with one field of the request."""

    model_config = ConfigDict(extra="forbid")

    pointer: Annotated[
        str,
        Field(
            description="JSON pointer (RFC 6901) to the field, from the root of the request body; "
            "`/query/...` and `/path/...` name a parameter."
        ),
    ]
    detail: Annotated[str, Field(description="The fault of the value.")]
    accepted: Annotated[str | None, Field(description="What is accepted there.")] = None
    code: Annotated[str, Field(description="Stable code of the fault; its words may change, and are translated.")] = (
        messages.OTHER
    )
    parameters: Annotated[
        dict[str, str | float],
        Field(description="What the words are made of, by name: bounds, and an example of what is accepted."),
    ] = {}
    message: Annotated[
        str,
        Field(
            description="The fault in a sentence for somebody who knows the machine and not the program, in the language of "
            "the header `Accept-Language` (`en`, `de`)."
        ),
    ] = ""


class Problem(BaseModel):
    """A problem document (RFC 9457)."""

    model_config = ConfigDict(extra="forbid")

    type: Annotated[str, Field(description="Stable identifier of the kind of problem; a path of this service.")]
    title: Annotated[str, Field(description="The kind of problem in words; the same for every problem of its type.")]
    status: Annotated[
        int, Field(description="HTTP status code.", ge=400, le=599, json_schema_extra={"format": "int32"})
    ]
    detail: Annotated[str, Field(description="What happened in this request.")]
    message: Annotated[
        str,
        Field(
            description="The problem in a sentence or some for people, in the language of the header `Accept-Language`."
        ),
    ] = ""
    request_id: Annotated[str | None, Field(description="Quote this when you report the problem.")] = None
    errors: Annotated[list[FieldProblem], Field(description="Each field at fault; empty when no field is.")] = []


KINDS: Mapping[str, tuple[int, str, str]] = {
    "bad-request": (400, "The request cannot be read", "The HTTP message itself is malformed."),
    "invalid-json": (
        400,
        "The body is not acceptable JSON",
        "RFC 8259 JSON in UTF-8 is needed: no NaN or Infinity, no duplicate keys, no lone surrogates, at most 200 levels deep.",
    ),
    "unauthorized": (
        401,
        "Authentication is needed",
        "The service, or a gateway in front of it, asks for credentials: send a token that is taken there.",
    ),
    "forbidden": (
        403,
        "This is not allowed",
        "The token does not allow this, or the service answers its own machine only; ask whoever runs it.",
    ),
    "not-found": (404, "There is no such resource", "The path, or the name in it, is not known."),
    "method-not-allowed": (405, "The method is not allowed here", "The Allow header lists the methods of the path."),
    "not-acceptable": (
        406,
        "No acceptable representation",
        "The Accept header excludes every media type of the resource.",
    ),
    "request-timeout": (
        408,
        "The request came too slowly",
        "Headers and body have to come without long pauses; send the request again on a better line.",
    ),
    "length-required": (411, "A length is needed", "A gateway in front of the service asks for a Content-Length."),
    "rules-refused": (
        409,
        "The rules cannot be used",
        "The files of the rules, or of the tokens, are at fault; what was served before is served on.",
    ),
    "content-too-large": (413, "The request is too large", "Split the work into several requests."),
    "unsupported-media-type": (
        415,
        "The media type is not supported",
        "Send one of the media types that the contract lists for the operation, without a content coding.",
    ),
    "invalid-request": (
        422,
        "The request does not fit its schema",
        "A field is missing, unknown or of the wrong kind.",
    ),
    "out-of-domain": (
        422,
        "The request describes something unphysical or outside the domain",
        "The request fits its schema, but no such part or duty can exist, or the models do not reach there.",
    ),
    "unknown-name": (
        422,
        "A name is not known to the rule set",
        "A compound, fluid, alloy, elastomer, material or rule set of that name does not exist.",
    ),
    "too-many-requests": (429, "Too many requests", "Wait as long as Retry-After says."),
    "header-too-large": (431, "The headers are too large", "Send a shorter target and fewer or shorter headers."),
    "internal-error": (500, "The service failed", "A defect of the service; the same request will fail again."),
    "not-installed": (
        501,
        "This service was set up without what that needs",
        "Ask whoever runs it for the part that the problem names; asking again changes nothing.",
    ),
    "unavailable": (503, "The service is not ready", "Wait as long as Retry-After says."),
    "too-busy": (503, "Too much is under way", "Others are being answered; wait as long as Retry-After says."),
    "took-too-long": (
        503,
        "The answer took too long",
        "Ask for less at once, or wait as long as Retry-After says for a time when there is less to do.",
    ),
}
"""Kind → status, title, explanation. ``/problems/{kind}`` answers with the explanation."""

RETRY_AFTER = "2"
"""Seconds after which to ask again, where nothing more is known of it."""
_PUT_OFF = frozenset({429, 503})
"""Statuses of what may be asked again later: their answers say when."""

DEFECT = KINDS["internal-error"][2]
"""What is said of a defect: nothing of its inside."""

_BY_STATUS = {400: "bad-request", 401: "unauthorized", 403: "forbidden", 404: "not-found", 405: "method-not-allowed", 406: "not-acceptable",
              408: "request-timeout", 411: "length-required", 413: "content-too-large", 415: "unsupported-media-type",
              429: "too-many-requests", 431: "header-too-large", 501: "not-installed", 503: "unavailable"}  # fmt: skip


class ProblemError(Exception):
    """An error that is answered with a problem document."""

    def __init__(
        self, kind: str, detail: str, errors: Sequence[FieldProblem] = (), headers: Mapping[str, str] | None = None
    ) -> None:
        super().__init__(detail)
        self.kind, self.detail, self.errors, self.headers = kind, detail, list(errors), headers

    def __reduce__(self) -> Any:
        """Travel from a worker process whole."""
        return ProblemError, (self.kind, self.detail, self.errors, self.headers)


_UNSHOWN = re.compile(r"[^\w $\-.,:+*/~%^°²³·()\[\]{}]")
"""What no name of a field or heading of a column needs: quotes, brackets of markup, control characters and the like."""


def shown(name: str) -> str:
    """Write a name of the caller's own making: letters, digits, blanks and the signs of units, at most 64."""
    return _UNSHOWN.sub("?", name[:64].encode("utf-8", "replace").decode("utf-8"))


def pointer(location: Sequence[str | int]) -> str:
    """Write a location as a JSON pointer."""
    return "".join("/" + shown(str(part)).replace("~", "~0").replace("/", "~1") for part in location)


def _safe(text: str) -> str:
    """Bound a text, and keep it fit for UTF-8."""
    return text.encode("utf-8", "replace").decode("utf-8")[:400]


def document(
    kind: str, detail: str, errors: Sequence[FieldProblem] = (), request_id: str | None = None,
    language: str = messages.DEFAULT,
) -> dict[str, Any]:  # fmt: skip
    """Return the content of the problem document of ``kind``, its sentences for people in a language."""
    status, title, explanation = KINDS[kind]
    fields = [_said(error, language) for error in errors]
    message = messages.problem_sentence(kind, explanation, [field["message"] for field in fields], language)
    return {"type": f"/problems/{kind}", "title": title, "status": status, "detail": detail, "message": message,
            "request_id": request_id, "errors": fields}  # fmt: skip


def _said(error: FieldProblem, language: str) -> dict[str, Any]:
    """Return the problem of a field with its code and its sentence."""
    code = messages.code_of("", error.detail) if error.code == messages.OTHER else error.code
    example = error.parameters.get("example")
    shown_example = None if example is None else str(example)
    message = messages.sentence(code, error.pointer, error.detail, error.accepted, shown_example, language)
    return {**error.model_dump(), "code": code, "message": message}


def response(kind: str, detail: str, errors: Sequence[FieldProblem] = (), *, request: Request | None = None,
             headers: Mapping[str, str] | None = None) -> Response:  # fmt: skip
    """Return the problem document of ``kind``."""
    request_id, language = None, messages.DEFAULT
    if request is not None:
        request_id = request.scope.get("glandwise.request_id")
        language = messages.language_of(request.headers.get("accept-language"))
    content = document(kind, detail, errors, request_id, language)
    told = {"content-language": language, "vary": "Accept-Language", **(headers or {})}
    if content["status"] in _PUT_OFF and "Retry-After" not in told:
        told["Retry-After"] = RETRY_AFTER
    return Response(orjson.dumps(content), content["status"], headers=told, media_type=MEDIA_TYPE)


_FORMS = {NAME.pattern.pattern: "name_form", LINE: "line_form"}
"""Patterns of texts, with the kind of fault that says it in words."""


_BOUNDS = ("gt", "ge", "lt", "le", "min_length", "max_length")


def field_problem(item: Mapping[str, Any], location: Sequence[str | int], example: str | None = None) -> FieldProblem:
    """Return the problem of one field from an error of the validator; what it says of the input value is dropped.

    ``example`` is a value of the field as people write it, where it is a quantity.
    """
    context: Mapping[str, Any] = item.get("ctx") or {}
    kind = _FORMS.get(context.get("pattern", ""), item["type"])
    detail, accepted = WORDS.get(kind, (str(item["msg"]), None))
    accepted = accepted.format_map(context) if accepted is not None else context.get("accepted")
    if item["type"].startswith("union_tag"):
        location = [*location, str(context["discriminator"]).strip("'")]
    return FieldProblem(
        pointer=_safe(pointer(location)),
        detail=_safe(detail),
        accepted=None if accepted is None else _safe(str(accepted)),
        code=messages.code_of(kind, detail),
        parameters={
            **{name: float(context[name]) for name in _BOUNDS if isinstance(context.get(name), int | float)},
            **({} if example is None else {"example": example}),
        },
    )


def from_validation(
    error: ValidationError, raw: Any = None, prefix: Sequence[str | int] = (), model: Any = None,
    names: Sequence[UnknownName] = (),
) -> ProblemError:  # fmt: skip
    """Turn the validator's errors into one problem.

    ``raw`` is what was validated: it tells the tag of a discriminated union, which pydantic puts into a location, from
    a field of the same name. ``model`` is what it was validated by: it tells which fields there are.
    ``names`` are the unknown names of the request, told beside its other faults.
    """
    unknown = {_safe(pointer([*prefix, *name.location])): name for name in names}
    if (count := error.error_count()) > MOST_READ:
        detail = f"{count} fields are at fault, too many to name them"
        accepted = "only the fields of the schema of the operation"
        return of_fields("invalid-request", [FieldProblem(pointer="", detail=detail, accepted=accepted)])
    fields: list[FieldProblem] = []
    items = error.errors(include_url=False, include_input=False)
    kinds = {item["type"] if item["type"] in {"out_of_domain", "unknown_name"} else "invalid_request" for item in items}
    for item in items[:MOST_FAULTS]:  # a message can hold hundreds of thousands of them
        further = (item.get("ctx") or {}).get("fields", ())
        example = None if model is None else _example_of(model, item["loc"])
        found = field_problem(item, [*prefix, *_fields(item["loc"], raw), *further], example)
        if item["type"] == "extra_forbidden" and model is not None and item["loc"]:
            found.accepted = _known_fields(model, item["loc"]) or found.accepted
        if item["type"] in _SIGN_FAULTS and model is not None:  # the sign is not all that is asked for
            found.accepted = _range_of(model, item["loc"], raw) or found.accepted
        if (name := unknown.pop(found.pointer, None)) is not None and item["type"] in _NO_NAME:
            found.accepted = _safe(name.accepted)
        fields.append(found)
    fields += [
        FieldProblem(pointer=place, detail=name.detail, accepted=_safe(name.accepted))
        for place, name in unknown.items()
    ]
    kinds |= {"unknown_name"} if unknown else set()
    kind = "invalid-request" if "invalid_request" in kinds else min(kinds).replace("_", "-")
    return of_fields(kind, fields, len(items) + len(unknown))


MOST_READ = 50_000
"""Fields at fault that are looked at."""
MOST_FAULTS = 50
"""Fields at fault that a problem lists."""


def of_fields(kind: str, fields: Sequence[FieldProblem], count: int | None = None) -> ProblemError:
    """Return the problem of ``count`` fields, of which the first are given; it lists no more than :data:`MOST_FAULTS`."""
    count = len(fields) if count is None else count
    more = f" (and {count - 1} more)" if count > 1 else ""
    return ProblemError(kind, f"{fields[0].pointer or 'the body'}: {fields[0].detail}{more}", fields[:MOST_FAULTS])


def of_column(column: str, detail: str, accepted: str) -> ProblemError:
    """Return the problem of a column of a table, or, without one, of the table."""
    place = pointer([column] if column else [])
    return of_fields("invalid-request", [FieldProblem(pointer=place, detail=detail, accepted=accepted)])


def unknown_parameters(given: Iterable[str], known: Collection[str], accepted: str) -> ProblemError:
    """Return the problem of parameters that are not among the known ones."""
    unknown = sorted(set(given) - set(known))
    fields = [
        FieldProblem(pointer=_safe(pointer(["query", name])), detail="not known here", accepted=accepted)
        for name in unknown
    ]
    return of_fields("invalid-request", fields)


def _models(annotation: Any) -> Iterator[type[BaseModel]]:
    """Yield the models that an annotation holds, at any depth."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for item in get_args(annotation):
        yield from _models(item)


def _known_fields(model: type[BaseModel], location: Sequence[str | int]) -> str | None:
    """Say which fields there are where one is not known: those close in writing, or all where they are few.

    A part of the location that is no field is the tag of a union, which tells its members apart.
    """
    here = models_at(model, location[:-1])
    names = dict.fromkeys(name for one in here for name in one.model_fields)
    last = str(location[-1])
    near = get_close_matches(last, names, n=4, cutoff=0.6)
    if near:
        return f"did you mean {' or '.join(near)}?"
    return f"only {', '.join(names)}" if len(names) <= MOST_FIELDS else None


def models_at(model: type[BaseModel], location: Sequence[str | int]) -> list[type[BaseModel]]:
    """Return the models that an object at a location may have."""
    here = [model]
    for part in location:
        inner = [
            found
            for one in here
            if part in one.model_fields
            for found in _models(one.model_fields[str(part)].annotation)
        ]
        tagged = [one for one in here if any(_is_tag(field.annotation, part) for field in one.model_fields.values())]
        here = inner or tagged or here
    return here


_NO_NAME = frozenset({"string_pattern_mismatch", "string_too_long"})
_SIGN_FAULTS = frozenset({"greater_than", "greater_than_equal"})


def _range_of(model: type[BaseModel], location: Sequence[str | int], raw: Any) -> str | None:
    """Say the range of a quantity whose number, the last part of the location, has the wrong sign; in its own unit."""
    quantity: Any = raw
    for part in _fields(location[:-1], raw):
        try:
            quantity = quantity[part]
        except (KeyError, IndexError, TypeError):
            return None
    *outer, name = [part for part in location[:-1] if isinstance(part, str)] or [""]
    for one in models_at(model, outer):
        held = measured(one, name) if name in one.model_fields else None
        if held is not None and isinstance(quantity, dict) and quantity.get("unit") in units.factors(held.dimension):
            return held.accepted(quantity["unit"])
    return None


def _example_of(model: type[BaseModel], location: Sequence[str | int]) -> str | None:
    """Write a value of a field as people write it; ``None`` where it is no quantity."""
    *outer, name = [part for part in location if isinstance(part, str) and part not in {"value", "unit"}] or [""]
    for one in models_at(model, outer):
        held = measured(one, name) if name in one.model_fields else None
        if held is not None:
            return example_of(held.dimension)
    return None


def _is_tag(annotation: Any, value: Any) -> bool:
    return get_origin(annotation) is Literal and value in get_args(annotation)


MOST_FIELDS = 24
"""Fields of an object that are listed where an unknown one has no close name."""

_DISCRIMINATORS = ("kind", "family")


def _fields(location: Sequence[str | int], raw: Any) -> list[str | int]:
    """Return a location without the tags of discriminated unions: the first part inside an object that it names."""
    fields: list[str | int] = []
    entered = True
    for part in location:
        if entered and isinstance(raw, dict) and part in [raw.get(name) for name in _DISCRIMINATORS]:
            entered = False
            continue
        fields.append(part)
        entered = True
        try:
            raw = raw[part]
        except (KeyError, IndexError, TypeError):
            raw = None
    return fields


async def handle_problem(request: Request, error: Exception) -> Response:
    """Answer a :class:`ProblemError`."""
    assert isinstance(error, ProblemError)
    return response(error.kind, error.detail, error.errors, request=request, headers=error.headers)


def _methods(allow: str) -> str:
    """Return the methods of a path as an ``Allow`` header: every resource has its ``HEAD``, and every path its ``OPTIONS``."""
    taken = {name.strip() for name in allow.split(",")}
    taken |= {"HEAD", "OPTIONS"} if "GET" in taken else {"OPTIONS"}
    return ", ".join(name for name in METHODS if name in taken)


async def handle_http(request: Request, error: Exception) -> Response:
    """Answer what the framework raises: no such path, wrong method and the like.

    An ``OPTIONS`` is a wrong method everywhere, and so comes by here with the methods that are right.
    """
    assert isinstance(error, HTTPException)
    kind = _BY_STATUS.get(error.status_code, "bad-request" if error.status_code < 500 else "internal-error")
    headers = dict(error.headers or {})
    detail = KINDS[kind][2]
    if error.status_code == 405 and (allow := headers.get("Allow") or headers.get("allow")):
        headers = {"Allow": _methods(allow)}
        if request.method == "OPTIONS":
            return Response(status_code=204, headers=headers)
        detail = f"This path takes {headers['Allow']}."
    return response(kind, detail, request=request, headers=headers)


async def handle_unexpected(request: Request, error: Exception) -> Response:
    """Answer a defect without telling its inside; the log has the trace under the same request id."""
    log.error("request %s failed", request.scope.get("glandwise.request_id"), exc_info=error)
    # this answer is made outside the middleware that gives the others their headers
    headers = {**SAFETY_HEADERS, "x-request-id": request.scope.get("glandwise.request_id", "")}
    return response("internal-error", DEFECT, request=request, headers=headers)
