"""What of a change to the contract breaks a client of before: ``python -m tests.contract.compatible BEFORE AFTER``.

Requests: whatever was taken must be taken still, so nothing may go, become mandatory or be bounded more closely. Results:
whatever could be read must be there still, so no field may go, become one that may be missing or null, or be of another kind.
New operations, new optional fields of requests, new fields and new values of results break nothing.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

KNOWN = "x-extensible-enum"
_LOWER, _UPPER = (
    ("minimum", "exclusiveMinimum", "minLength", "minItems"),
    ("maximum", "exclusiveMaximum", "maxLength", "maxItems"),
)


class Comparison:
    """Two documents."""

    def __init__(self, before: dict[str, Any], after: dict[str, Any]) -> None:
        self.before, self.after = before, after
        self._seen: set[tuple[str, str, bool]] = set()

    def breaks(self) -> Iterator[str]:
        """Yield a sentence for each break."""
        for path, methods in self.before["paths"].items():
            for method, old in methods.items():
                name, new = old["operationId"], self.after["paths"].get(path, {}).get(method)
                if new is None:
                    yield f"{name}: {method.upper()} {path} is gone"
                    continue
                if new["operationId"] != name:
                    yield f"{name}: is called {new['operationId']}"
                yield from self._operation(name, old, new)

    def _operation(self, name: str, old: dict[str, Any], new: dict[str, Any]) -> Iterator[str]:
        parameters = {(item["in"], item["name"]): item for item in new.get("parameters", ())}
        for item in old.get("parameters", ()):
            kept = parameters.pop((item["in"], item["name"]), None)
            if kept is None:
                yield f"{name}: the parameter {item['name']} is gone"
            else:
                yield from self._asked(f"{name}?{item['name']}", item["schema"], kept["schema"])
        yield from (
            f"{name}: the parameter {item['name']} is mandatory" for item in parameters.values() if item.get("required")
        )
        for kind, of_old, of_new in self._contents(old, new):
            for media_type, schema in of_old.items():
                if media_type not in of_new:
                    yield f"{name}: {media_type} is gone from its {kind}"
                elif kind == "request":
                    yield from self._asked(f"{name} request", schema, of_new[media_type])
                else:
                    yield from self._answered(f"{name} response", schema, of_new[media_type])
        for media_type in old.get("x-representations", ()):
            if media_type not in new.get("x-representations", ()):
                yield f"{name}: is not answered in {media_type} any more"
        yield from (f"{name}: the status {code} is gone" for code in old["responses"] if code not in new["responses"])

    @staticmethod
    def _contents(old: dict[str, Any], new: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any], dict[str, Any]]]:
        def schemas(content: dict[str, Any]) -> dict[str, Any]:
            return {media_type: item["schema"] for media_type, item in content.items()}

        yield "request", *(schemas(item.get("requestBody", {}).get("content", {})) for item in (old, new))
        yield "response", *(schemas(item["responses"]["200"].get("content", {})) for item in (old, new))
        for kind in ("request", "response"):
            yield kind, *({name: form[kind] for name, form in item.get("x-batches", {}).items()} for item in (old, new))

    def _resolved(self, document: dict[str, Any], schema: dict[str, Any]) -> tuple[str, dict[str, Any]]:
        if "$ref" not in schema:
            return "", schema
        name = schema["$ref"].rpartition("/")[2]
        return name, document["components"]["schemas"][name]

    def _both(self, old: Any, new: Any, asked: bool) -> tuple[dict[str, Any], dict[str, Any]] | None:
        """Return two schemas resolved; ``None`` where the pair has been compared."""
        (a, old), (b, new) = self._resolved(self.before, old), self._resolved(self.after, new)
        if a or b:
            if (a, b, asked) in self._seen:
                return None
            self._seen.add((a, b, asked))
        return old, new

    def _members(self, document: dict[str, Any], schema: dict[str, Any]) -> list[dict[str, Any]]:
        members = schema.get("anyOf") or schema.get("oneOf") or [schema]
        return [
            self._resolved(document, member)[1] | ({"$ref": member["$ref"]} if "$ref" in member else {})
            for member in members
        ]

    @staticmethod
    def _kind(schema: dict[str, Any]) -> str:
        tags = [str(field["const"]) for field in schema.get("properties", {}).values() if "const" in field]
        quantity = {"value", "unit"} <= set(schema.get("properties", ())) <= {"value", "unit", "low", "high"}
        return ":".join([str(schema.get("type", "any")), "quantity" if quantity else "", *sorted(tags)])

    def _pairs(self, old: dict[str, Any], new: dict[str, Any]) -> Iterator[tuple[dict[str, Any], list[dict[str, Any]]]]:
        """Yield each member of the old schema with those of the new one that it can be."""
        others = self._members(self.after, new)
        for member in self._members(self.before, old):
            yield member, [item for item in others if self._kind(item) == self._kind(member) or not item.get("type")]

    def _asked(self, at: str, old: Any, new: Any) -> Iterator[str]:
        """Yield what was taken and is not any more."""
        both = self._both(old, new, asked=True)
        if both is None:
            return
        for member, others in self._pairs(*both):
            if not others:
                yield f"{at}: {self._kind(member)} is not taken any more"
                continue
            found = [list(self._asked_one(at, member, other)) for other in others]
            yield from min(found, key=len)

    def _asked_one(self, at: str, old: dict[str, Any], new: dict[str, Any]) -> Iterator[str]:
        values, now = old.get("enum"), new.get("enum")
        if now is not None and (values is None or set(values) - set(now)):
            yield f"{at}: takes no more than {', '.join(map(str, now))}"
        for keys, closer in ((_LOWER, lambda a, b: b > a), (_UPPER, lambda a, b: b < a)):
            for key in keys:
                if key in new and (key not in old or closer(old[key], new[key])):
                    yield f"{at}: {key} is {new[key]}"
        if "pattern" in new and new["pattern"] != old.get("pattern"):
            yield f"{at}: has another pattern"
        fields, further = old.get("properties", {}), new.get("properties", {})
        yield from (
            f"{at}/{name}: is mandatory" for name in new.get("required", ()) if name not in old.get("required", ())
        )
        for name, field in fields.items():
            if name in further:
                yield from self._asked(f"{at}/{name}", field, further[name])
            elif new.get("additionalProperties") is False:
                yield f"{at}/{name}: is gone"
        if "items" in old and "items" in new:
            yield from self._asked(f"{at}[]", old["items"], new["items"])

    def _answered(self, at: str, old: Any, new: Any) -> Iterator[str]:
        """Yield what could be read and cannot any more."""
        both = self._both(old, new, asked=False)
        if both is None:
            return
        old, new = both
        known = {self._kind(member) for member in self._members(self.before, old)}
        more = [kind for item in self._members(self.after, new) if (kind := self._kind(item)) not in known]
        if more and "any" not in "".join(known):
            yield f"{at}: may be {', '.join(more)}"
        for member, others in self._pairs(old, new):
            for other in others[:1]:
                yield from self._answered_one(at, member, other)

    def _answered_one(self, at: str, old: dict[str, Any], new: dict[str, Any]) -> Iterator[str]:
        if KNOWN in old and KNOWN not in new and new.get("type") == "string" and "enum" in new:
            yield f"{at}: takes no further values"
        fields, further = old.get("properties", {}), new.get("properties", {})
        for name, field in fields.items():
            if name not in further:
                yield f"{at}/{name}: is gone"
                continue
            if name in old.get("required", ()) and name not in new.get("required", ()):
                yield f"{at}/{name}: may be missing"
            yield from self._answered(f"{at}/{name}", field, further[name])
        for key in ("items", "additionalProperties"):
            if isinstance(old.get(key), dict) and isinstance(new.get(key), dict):
                yield from self._answered(f"{at}[]", old[key], new[key])


def breaks(before: dict[str, Any], after: dict[str, Any]) -> list[str]:
    """Return what of a change breaks a client of before, a sentence each."""
    return list(Comparison(before, after).breaks())


if __name__ == "__main__":
    found = breaks(*(json.loads(Path(name).read_text(encoding="utf-8")) for name in sys.argv[1:3]))
    print("\n".join(found) or "Nothing breaks.")
    sys.exit(1 if found else 0)
