"""Descriptions of fields: the text below each, read when the document is made and not while the service starts.

The library would read them at import, class by class from the source, which takes longer than all else about the models.
"""

from __future__ import annotations

import ast
import inspect
import sys
from collections.abc import Mapping
from functools import cache
from typing import Any


@cache
def _texts(module: str) -> Mapping[str, Mapping[str, str]]:
    """Return the texts below the fields of every class of a module, by class and field."""
    found: dict[str, dict[str, str]] = {}
    for node in ast.walk(ast.parse(inspect.getsource(sys.modules[module]))):
        if isinstance(node, ast.ClassDef):
            texts = found.setdefault(node.name, {})
            for field, below in zip(node.body, node.body[1:], strict=False):
                if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name):
                    match below:
                        case ast.Expr(value=ast.Constant(value=str(text))):
                            texts[field.target.id] = inspect.cleandoc(text)
    return found


def text_of(owner: type[Any], field: str) -> str:
    """Return the text below a field; empty where there is none."""
    if field in owner.__pydantic_fields__ and (said := owner.__pydantic_fields__[field].description):
        return str(said)
    bases = (base for base in owner.__mro__ if base.__module__.startswith("glandwise."))
    return next((text for base in bases if (text := _texts(base.__module__).get(base.__name__, {}).get(field))), "")


def describe(schema: dict[str, Any], owner: type[Any]) -> None:
    """Give the fields of an object's schema their descriptions, as far as they have none: for ``json_schema_extra``."""
    fields, properties = owner.__pydantic_fields__, schema.get("properties", {})
    for base in reversed(owner.__mro__):
        if base.__module__.startswith("glandwise."):
            for name, text in _texts(base.__module__).get(base.__name__, {}).items():
                shown = properties.get(fields[name].alias or name) if name in fields else None
                if shown is not None and fields[name].description is None:
                    shown["description"] = text
