"""JSON Schemas of the files of a rule set, built from the model where they are asked for, for editors and other tools.

Two for each file: ``<file>.schema.json`` for a set of its own, in which everything mandatory must be there, and
``<file>.overlay.schema.json`` for a set that extends another, in which only a sourced value must be whole. They tell
shape, units and allowed words; what they cannot tell (sources that are not there, ranges out of order) is told when the
rule set is loaded.

``python -m glandwise.rules.schemas FOLDER`` writes them into a folder.
"""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import Any, get_type_hints

from pydantic import TypeAdapter
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from glandwise import units
from glandwise.rules.model import Header, RuleSetData
from glandwise.rules.values import CurveIn, DatumIn

FILES: tuple[str, ...] = tuple(RuleSetData.__dataclass_fields__)
"""Files of a rule set."""
_DIALECT = "http://json-schema.org/draft-07/schema#"
"""The dialect that TOML tools of editors understand; in it nothing may stand beside a ``$ref``."""


class _Generator(GenerateJsonSchema):
    """Generator that knows the units of a sourced number."""

    def function_after_schema(self, schema: core_schema.AfterValidatorFunctionSchema) -> JsonSchemaValue:
        inner = super().function_after_schema(schema)
        check: Any = schema["function"]["function"]
        if isinstance(check, DatumIn):
            return {"allOf": [inner, {"properties": {"unit": _unit(check.dimension)}}]}
        if isinstance(check, CurveIn):
            properties = {"x_unit": _unit(check.x_dimension), "y_unit": _unit(check.y_dimension)}
            return {"allOf": [inner, {"properties": properties}]}
        return inner


def _unit(dimension: str) -> dict[str, Any]:
    return {"enum": list(dict.fromkeys(units.DIMENSIONS[dimension].symbols))}


def _dated(definitions: dict[str, Any]) -> set[str]:
    """Name the definitions of what has a date of its own and so may have a history."""
    return {name for name, item in definitions.items() if {"valid_from", "evidence"} <= set(item.get("properties", ()))}


def _with_histories(node: Any, dated: set[str]) -> Any:
    """Let an array of tables stand wherever a dated table can."""
    if isinstance(node, dict):
        first = node.get("allOf", [node])[0]
        name = first.get("$ref", "").rpartition("/")[2] if isinstance(first, dict) else ""
        if name in dated and set(node) <= {"$ref", "allOf", "description", "title"}:
            value = {key: item for key, item in node.items() if key in ("$ref", "allOf")}
            rest = {key: item for key, item in node.items() if key not in ("$ref", "allOf")}
            return {**rest, "anyOf": [value, {"type": "array", "items": value, "minItems": 1}]}
        return {key: _with_histories(item, dated) for key, item in node.items()}
    if isinstance(node, list):
        return [_with_histories(item, dated) for item in node]
    return node


def _plain(node: Any) -> Any:
    """Drop what TOML cannot say (an option is left out, it is not null), and put nothing beside a ``$ref``."""
    if isinstance(node, list):
        return [_plain(item) for item in node]
    if not isinstance(node, dict):
        return node
    result = {key: _plain(item) for key, item in node.items() if not (key == "default" and item is None)}
    if isinstance(result.get("anyOf"), list):
        kept = [item for item in result.pop("anyOf") if item != {"type": "null"}]
        result = {**kept[0], **result} if len(kept) == 1 else {**result, "anyOf": kept}
    if "patternProperties" in result:
        result["additionalProperties"] = False
    if "$ref" in result and len(result) > 1:
        result["allOf"] = [{"$ref": result.pop("$ref")}]
    return result


def _as_overlay(definitions: dict[str, Any], top: dict[str, Any]) -> None:
    """Make parts optional: an overlay states what it changes, and only a sourced value must be whole."""
    composite = {
        name
        for name in _dated(definitions)
        if any(_is_plain_table(item, definitions) for item in definitions[name]["properties"].values())
    }
    for name, item in [*definitions.items(), ("", top)]:
        if name not in _dated(definitions) or name in composite:
            item.pop("required", None)


def _is_plain_table(node: Any, definitions: dict[str, Any]) -> bool:
    """Tell a property that is a table without a source of its own."""
    name = node.get("$ref", "").rpartition("/")[2]
    if name:
        return name not in _dated(definitions)
    return bool(node.get("type") == "object")


def build(file: str, overlay: bool = False) -> dict[str, Any]:
    """Return the JSON Schema of a file of a rule set."""
    kind = get_type_hints(RuleSetData, include_extras=True)[file]
    schema: dict[str, Any] = TypeAdapter(kind).json_schema(
        schema_generator=_Generator, ref_template="#/definitions/{model}"
    )
    definitions: dict[str, Any] = schema.pop("$defs", {})
    top = schema
    if "$ref" in schema:
        top = definitions.pop(schema["$ref"].rpartition("/")[2])
    if overlay and kind is not Header:
        _as_overlay(definitions, top)
    if kind is Header:
        top["required"] = [*top["required"], "extends" if overlay else "valid_from"]
        if not overlay:
            top["properties"] = {
                key: item for key, item in top["properties"].items() if key not in ("extends", "remove")
            }
    dated = _dated(definitions)
    definitions = {name: _plain(_with_histories(item, dated)) for name, item in sorted(definitions.items())}
    top = {key: item for key, item in _plain(_with_histories(top, dated)).items() if key != "title"}
    title = f"{file}.toml of a rule set" + (" that extends another" if overlay else "")
    return {"$schema": _DIALECT, "title": title, **top, "definitions": definitions}


def name_of(file: str, overlay: bool = False) -> str:
    """Return the name of the schema of a file."""
    return f"{file}.overlay.schema.json" if overlay else f"{file}.schema.json"


def text(schema: dict[str, Any]) -> str:
    """Return a schema as it is written."""
    return json.dumps(schema, indent=1, sort_keys=True, ensure_ascii=False) + "\n"


def write(folder: Path) -> None:
    """Write all schemas into a folder, in place of those that are there."""
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("*.schema.json"):
        old.unlink()
    for file in FILES:
        for overlay in (False, True):
            (folder / name_of(file, overlay)).write_text(text(build(file, overlay)), encoding="utf-8")


@lru_cache
def kept(file: str, overlay: bool = False) -> dict[str, Any]:
    """Return the schema of a file, built at the first call; not to be changed."""
    return build(file, overlay)
