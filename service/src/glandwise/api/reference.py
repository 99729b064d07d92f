"""Reference resources: what the rules hold. Cacheable by entity tag."""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from datetime import date
from typing import Annotated, Any, Literal

import orjson
from fastapi import APIRouter, Depends, Path, Query, Request
from pydantic import ValidationError
from starlette.responses import Response
from starlette.routing import Route

from glandwise import __version__
from glandwise.api import held, negotiation, problems
from glandwise.api import search as fluid_search
from glandwise.api.desk import NO_WORKER, Desk
from glandwise.api.metrics import MEDIA_TYPE, Metrics
from glandwise.api.problems import KINDS, ProblemError
from glandwise.contract import reference as contract
from glandwise.contract.base import LINE, NAME, CalculationRequest, WrittenDate
from glandwise.engine import Engine
from glandwise.operations import OPERATIONS, XLSX
from glandwise.questions.warm import is_warm
from glandwise.rules import schemas
from glandwise.rules.loader import RuleSet, RuleTree
from glandwise.rules.model import walk


def _known_parameters(request: Request) -> None:
    """Refuse a parameter that the resource does not have: one that is misspelt would be ignored in silence."""
    known = {field.alias for field in request.scope["route"].dependant.query_params}
    if set(request.query_params) - known:
        raise problems.unknown_parameters(request.query_params, known, ", ".join(sorted(known)) or "no parameter")


router = APIRouter(tags=["reference"], dependencies=[Depends(_known_parameters)])

RuleSetQuery = Annotated[
    str | None,
    Query(description="Rule set; the default one when absent.", pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]*$", max_length=64),
]
AsOfQuery = Annotated[
    WrittenDate | None, Query(description="Take the values in force on this date; the newest when absent.")
]
SearchQuery = Annotated[
    str | None,
    Query(
        description="Look for a fluid by whatever it is called, spelt nearly right.",
        pattern=LINE,
        min_length=1,
        max_length=64,
    ),
]
FluidNamePath = Annotated[
    str, Path(description="Name of the fluid.", pattern=NAME.pattern.pattern, max_length=NAME.longest)
]
RuleSetName = Annotated[
    str, Path(description="Name of the rule set.", pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]*$", max_length=64)
]


def _engine(request: Request) -> Engine:
    engine: Engine = request.app.state.engine
    return engine


def _rules(request: Request, rule_set: str | None, as_of: date | None) -> RuleSet:
    try:
        return _engine(request).rules(CalculationRequest(rule_set=rule_set, as_of=as_of))
    except ValidationError as error:
        raise problems.from_validation(error, prefix=("query",)) from None


def contract_route(path: str, build: Callable[[], dict[str, Any]]) -> Route:
    """Return the route of the contract, which is put together once, in a thread: that takes a second."""
    alone, kept = asyncio.Lock(), list[tuple[bytes, str]]()

    def made() -> tuple[bytes, str]:
        body = orjson.dumps(build())
        return body, held.tag_of(body)

    async def contract_document(request: Request) -> Response:
        async with alone:
            if not kept:
                kept.append(await asyncio.to_thread(made))
        return held.answer(request, *kept[0], negotiation.JSON, _REVALIDATED)

    return Route(path, contract_document, include_in_schema=False)


_REVALIDATED = {"cache-control": "public, max-age=0, must-revalidate"}


def answer(request: Request, content: Any) -> Response:
    """Answer with JSON and an entity tag, or 304 when the caller holds it already."""
    negotiation.require_json(request.headers.get("accept"))
    body = orjson.dumps(content)
    return held.answer(request, body, held.tag_of(body), negotiation.JSON, _REVALIDATED)


def _records(table: dict[str, Any]) -> dict[str, Any]:
    return {name: _deep(record) for name, record in table.items()}


def _deep(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {item.name: _deep(getattr(value, item.name)) for item in fields(value) if item.init}
    if isinstance(value, dict):
        return {key: _deep(entry) for key, entry in value.items()}
    if isinstance(value, list):
        return [_deep(entry) for entry in value]
    return value


def _stamp(rules: RuleSet) -> dict[str, Any]:
    return {"name": rules.name, "version": rules.version, "digest": rules.digest, "as_of": rules.as_of}


def _summary(engine: Engine, tree: RuleTree) -> dict[str, Any]:
    header = tree.newest().data.rule_set
    return {
        "name": header.name,
        "version": header.version,
        "title": header.title,
        "description": header.description,
        "digest": tree.digest,
        "extends": header.extends,
        "default": header.name == engine.default_rule_set,
        "dates": tree.breakpoints,
        "approved_by": _deep(header.approved_by),
    }


@router.get("/v1/rule-sets", operation_id="list_rule_sets", response_model=contract.RuleSetList)
async def list_rule_sets(request: Request) -> Response:
    """List the rule sets the service holds."""
    engine = _engine(request)
    return answer(
        request, {"rule_sets": [_summary(engine, engine.store.trees[name]) for name in sorted(engine.store.trees)]}
    )


@router.get("/v1/rule-sets/{name}", operation_id="get_rule_set", response_model=contract.RuleSetDetail)
async def get_rule_set(request: Request, name: RuleSetName, as_of: AsOfQuery = None) -> Response:
    """Show one rule set: its criteria, its sources, and how many values rest on which evidence."""
    engine = _engine(request)
    tree = engine.store.get(name)
    if tree is None:
        raise ProblemError("not-found", f"no rule set of this name; there are: {', '.join(sorted(engine.store.trees))}")
    data = _rules(request, name, as_of).data
    # a band is no value: no answer rests on it
    counts = Counter(record.evidence for path, record in walk(data) if not path.startswith("bands."))
    return answer(
        request,
        {
            **_summary(engine, tree),
            "criteria": _records(data.criteria),
            "sources": _records(data.sources),
            "evidence_counts": counts,
        },
    )


@router.get("/v1/compounds", operation_id="list_compounds", response_model=contract.CompoundList)
async def list_compounds(request: Request, rule_set: RuleSetQuery = None, as_of: AsOfQuery = None) -> Response:
    """List the PTFE compounds with their properties, each with source and evidence."""
    rules = _rules(request, rule_set, as_of)
    return answer(request, {"rule_set": _stamp(rules), "compounds": _records(rules.data.compounds)})


@router.get("/v1/fluids", operation_id="list_fluids", response_model=contract.FluidList)
async def list_fluids(
    request: Request, rule_set: RuleSetQuery = None, as_of: AsOfQuery = None, search: SearchQuery = None
) -> Response:
    """List the fluids with what they do to each material, or look for one by whatever it is called."""
    rules = _rules(request, rule_set, as_of)
    fluids, matches = rules.data.fluids, None
    if search is not None:
        matches = fluid_search.find(fluids, search)
        fluids = {match.name: fluids[match.name] for match in matches}
    found = None if matches is None else [match._asdict() for match in matches]
    return answer(request, {"rule_set": _stamp(rules), "fluids": _records(fluids), "matches": found})


@router.get("/v1/fluids/{name}", operation_id="get_fluid", response_model=contract.FluidDetail)
async def get_fluid(
    request: Request, name: FluidNamePath, rule_set: RuleSetQuery = None, as_of: AsOfQuery = None
) -> Response:
    """Show one fluid: what the rules hold of it, and by which other names it is found."""
    rules = _rules(request, rule_set, as_of)
    fluid = rules.data.fluids.get(name)
    if fluid is None:
        near = ", ".join(match.name for match in fluid_search.find(rules.data.fluids, name.replace("_", " ")))
        detail = f"no fluid of this name; close names: {near}" if near else "no fluid of this name; see /v1/fluids"
        raise ProblemError("not-found", detail)
    others = list(fluid_search.other_names().get(name, ()))
    return answer(request, {"rule_set": _stamp(rules), "name": name, "other_names": others, "fluid": _deep(fluid)})


@router.get("/v1/alloys", operation_id="list_alloys", response_model=contract.AlloyList)
async def list_alloys(request: Request, rule_set: RuleSetQuery = None, as_of: AsOfQuery = None) -> Response:
    """List the energizer alloys by UNS number."""
    rules = _rules(request, rule_set, as_of)
    return answer(request, {"rule_set": _stamp(rules), "alloys": _records(rules.data.alloys)})


@router.get("/v1/elastomers", operation_id="list_elastomers", response_model=contract.ElastomerList)
async def list_elastomers(request: Request, rule_set: RuleSetQuery = None, as_of: AsOfQuery = None) -> Response:
    """List the O-ring elastomers by ISO 1629 symbol."""
    rules = _rules(request, rule_set, as_of)
    return answer(request, {"rule_set": _stamp(rules), "elastomers": _records(rules.data.elastomers)})


@router.get("/v1/shaft-materials", operation_id="list_shaft_materials", response_model=contract.ShaftMaterialList)
async def list_shaft_materials(request: Request, rule_set: RuleSetQuery = None, as_of: AsOfQuery = None) -> Response:
    """List the shaft and housing materials."""
    rules = _rules(request, rule_set, as_of)
    return answer(request, {"rule_set": _stamp(rules), "shaft_materials": _records(rules.data.shaft_materials)})


@router.get("/v1/designs", operation_id="list_designs", response_model=contract.DesignList)
async def list_designs(request: Request, rule_set: RuleSetQuery = None, as_of: AsOfQuery = None) -> Response:
    """List the options of both families and their rated capacities, each with source and evidence."""
    rules = _rules(request, rule_set, as_of)
    designs = rules.data.designs
    return answer(
        request,
        {"rule_set": _stamp(rules), "options": _deep(designs.options), "capacities": _records(designs.capacities)},
    )


@router.get(
    "/v1/rule-schemas/{file}",
    include_in_schema=False,
    operation_id="get_rule_schema",
    response_model=contract.RuleSchema,
)
async def get_rule_schema(
    request: Request,
    file: Annotated[str, Path(description="File of a rule set, without `.toml`.", pattern=r"^[a-z_]+$", max_length=64)],
    overlay: Annotated[bool, Query(description="Schema for a set that extends another: nothing is mandatory.")] = False,
) -> Response:
    """Show the JSON Schema of a file of a rule set, for editors."""
    if file not in schemas.FILES:
        raise ProblemError("not-found", f"no file of a rule set has this name; there are: {', '.join(schemas.FILES)}")
    return answer(request, schemas.kept(file, overlay))


@router.get("/v1/templates/{operation}", include_in_schema=False, operation_id="get_template")
async def get_template(
    request: Request,
    operation: Annotated[str, Path(description="Operation that takes tables.", pattern=r"^[a-z_]+$", max_length=64)],
    units: Annotated[Literal["si", "us"], Query(description="Units of the headings.")] = "si",
    rule_set: RuleSetQuery = None,
    as_of: AsOfQuery = None,
) -> Response:
    """Give an empty workbook to be filled in with cases, for an operation that takes them so."""
    row = OPERATIONS.get(operation)
    if row is None or not row.told:
        taken = ", ".join(name for name, one in OPERATIONS.items() if one.told)
        raise ProblemError("not-found", f"no workbook is taken by an operation of this name; by these: {taken}")
    negotiation.require(XLSX, request.headers.get("accept"))
    from glandwise.api import workbooks

    data = _rules(request, rule_set, as_of).data
    system = CalculationRequest.model_validate({"units": {"system": units}}).units.system_of_units()
    body = await asyncio.to_thread(workbooks.template, row, system, data)
    headers = {
        "cache-control": "public, max-age=0, must-revalidate",
        "content-disposition": f'attachment; filename="{operation}.xlsx"',
    }
    return held.answer(request, body, held.tag_of(body), XLSX, headers)


@router.get("/problems/{kind}", operation_id="explain_problem", response_model=contract.ProblemKind)
async def explain_problem(
    request: Request,
    kind: Annotated[str, Path(description="Last part of the type of a problem.", pattern=r"^[a-z-]+$", max_length=64)],
) -> Response:
    """Explain a kind of problem: the `type` of a problem document leads here."""
    if kind not in KINDS:
        raise ProblemError("not-found", f"no such kind of problem; there are: {', '.join(KINDS)}")
    status, title, explanation = KINDS[kind]
    return answer(request, {"type": f"/problems/{kind}", "title": title, "status": status, "explanation": explanation})


health_router = APIRouter(tags=["health"])


def _health(request: Request) -> dict[str, Any]:
    return {"status": "ok", "engine": __version__, "rule_sets": sorted(_engine(request).store.trees)}


@health_router.get("/healthz", operation_id="check_health", response_model=contract.Health)
async def check_health(request: Request) -> Response:
    """Tell that the process is alive."""
    return Response(orjson.dumps(_health(request)), media_type="application/json")


@health_router.get("/readyz", operation_id="check_readiness", response_model=contract.Health)
async def check_readiness(request: Request) -> Response:
    """Tell that requests can be answered, batches as well: rules, machine code, workers, queue."""
    state = request.app.state
    desk: Desk = state.desk
    if not is_warm():
        raise ProblemError("unavailable", "the formulas are being compiled")
    if desk.lacks_workers:
        desk.try_again()
        raise ProblemError("unavailable", NO_WORKER)
    engine, found = _engine(request), _health(request)
    found["digests"] = {name: engine.store.trees[name].digest for name in found["rule_sets"]}
    lane = state.lanes.long
    # a replica that is busy still answers what is quick: it is told, and does not count against being ready
    full = lane.taken >= lane.places or desk.turns >= desk.max_batches
    workers = f"{len(desk.processes)} of {desk.workers}, started when first needed" if desk.workers else "a thread"
    queue = f"{lane.taken} of {lane.places} long operations, {desk.turns} of {desk.max_batches} batches"
    found["parts"] = [
        {"name": name, "state": said, "detail": detail}
        for name, said, detail in (
            ("rules", "ok", f"{len(engine.store.trees)}, the default is {engine.default_rule_set}"),
            ("kernels", "ok", "compiled"),
            ("workers", "ok", workers),
            ("queue", "busy" if full else "ok", queue),
        )
    ]
    return Response(orjson.dumps(found), media_type="application/json")


@health_router.post("/v1/rule-set-reloads", operation_id="reload_rule_sets", include_in_schema=False)
async def reload_rule_sets(request: Request) -> Response:
    """Read rules and tokens anew, for whoever runs the service."""
    state = request.app.state
    if not state.guard.tells_operators:
        detail = "callers are not told apart here: whoever runs the service sends its process a SIGHUP instead"
        raise ProblemError("forbidden", detail)
    return Response(orjson.dumps(await state.reload()), media_type="application/json")


@health_router.get("/metrics", operation_id="read_metrics", include_in_schema=False)
async def read_metrics(request: Request) -> Response:
    """Tell what was counted and measured, for a collector."""
    metrics: Metrics = request.app.state.metrics
    return Response(metrics.written(), media_type=MEDIA_TYPE)
