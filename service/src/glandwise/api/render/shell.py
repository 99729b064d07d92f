"""The proposed seal as an Asset Administration Shell (IEC 63278) in JSON, for product lifecycle management.

Needs the library of the extra ``aas``. One shell of the type of seal that an enquiry proposes, with one submodel. All is read from
the answer; identifiers are made of it, so that the same answer gives the same bytes. The meanings (``semanticId``) are this
service's own and registered nowhere: whoever takes the shell over maps them to the dictionary of his house.
"""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

import orjson
from pydantic import BaseModel

from glandwise.contract.enquiry import EnquiryResult
from glandwise.contract.seal import (
    CaseDimensions,
    ClampDimensions,
    Dimension,
    ORingDimensions,
    SealDimensions,
    SpringNumber,
)
from glandwise.described import text_of

if TYPE_CHECKING:
    from basyx.aas import model as aas

OWN = "urn:glandwise:aas:1:"
"""What the service's own meanings begin with; the number changes where a meaning does."""
IEC_61360 = "https://admin-shell.io/DataSpecificationTemplates/DataSpecificationIEC61360/3/1"
"""What the standard calls the specification of a property's name and unit."""
NOTE = "Starting geometry, to be released by design."
PARTS: Mapping[str, type[BaseModel]] = {"o_ring": ORingDimensions, "case": CaseDimensions, "clamp": ClampDimensions}
"""Dimensions that stand together, by their name in the answer."""
MATERIALS = {
    "family": "Family of the lip.", "compound": "PTFE compound of the seal, by its name in the rules.",
    "o_ring_elastomer": "Elastomer of the O-ring, by ISO 1629.", "alloy": "Alloy of the energizer, by its UNS number.",
}  # fmt: skip
STAMP = {
    "engine": "The engine: its version, and a digest of its formulas.", "rule_set": "Name of the rule set.",
    "version": "Version of the rule set.", "digest": "SHA-256 of the rule set.",
    "as_of": "Date of the rule values.", "fingerprint": "SHA-256 over request, rule set and engine.",
}  # fmt: skip
SAID = ("reference", "verdict", "chosen", "title", "summary", "evidence")
"""What the answer says of the seal as a whole."""


class MissingError(Exception):
    """The library of the extra is not installed."""


def render_shell(result: Mapping[str, Any], documents: Iterable[tuple[str, str, str, bytes]]) -> bytes:
    """Write the seal of an answer as a shell. Raises :class:`MissingError` without the library for it.

    ``documents`` go with it: name, title, media type and content of each.
    """
    try:
        from basyx.aas.adapter.json import object_store_to_json
        from basyx.aas.model import DictIdentifiableStore
    except ImportError:
        raise MissingError from None
    shell, submodel = _Writer(result).write(documents)
    return object_store_to_json(DictIdentifiableStore([shell, submodel]), ensure_ascii=False).encode("utf-8")


def _camel(name: str) -> str:
    return "".join(part[:1].upper() + part[1:] for part in name.split("_"))


class _Writer:
    """Writes one answer with the classes of the library."""

    def __init__(self, result: Mapping[str, Any]) -> None:
        from basyx.aas import model

        self.aas, self.result = model, result

    def write(
        self, documents: Iterable[tuple[str, str, str, bytes]]
    ) -> tuple[aas.AssetAdministrationShell, aas.Submodel]:
        """Return the shell and its submodel."""
        model, result = self.aas, self.result
        fingerprint = result["stamp"]["fingerprint"]
        whole = hashlib.sha256(orjson.dumps(result)).hexdigest()
        known = [model.SpecificAssetId("fingerprint", fingerprint)]
        if result["reference"] is not None:
            known.append(model.SpecificAssetId("reference", result["reference"]))
        submodel = model.Submodel(
            _identifier("submodel", whole), self.elements(documents), id_short="SealProposal",
            description=model.MultiLanguageTextType({"en": f"A machined PTFE rotary shaft seal as proposed. {NOTE}"}),
            semantic_id=self.meaning("seal_proposal"),
        )  # fmt: skip
        shell = model.AssetAdministrationShell(
            model.AssetInformation(
                model.AssetKind.TYPE, _identifier("asset", fingerprint), known, asset_type=f"{OWN}rotary_shaft_seal"
            ),
            _identifier("shell", whole), id_short="ProposedSeal",
            submodel={model.ModelReference.from_referable(submodel)},
        )  # fmt: skip
        return shell, submodel

    def elements(self, documents: Iterable[tuple[str, str, str, bytes]]) -> list[aas.SubmodelElement]:
        """Return what the submodel holds."""
        result = self.result
        stamp = result["stamp"]
        rules = stamp["rule_set"]
        dimensions = result["dimensions"]
        energizer, ring = dimensions["energizer"] or {}, dimensions["o_ring"] or {}
        materials = {
            "family": result["design"]["family"], "compound": result["design"]["compound"],
            "o_ring_elastomer": ring.get("elastomer"), "alloy": energizer.get("alloy"),
        }  # fmt: skip
        provenance = {
            "engine": stamp["engine"], "rule_set": rules["name"], "version": rules["version"], "digest": rules["digest"],
            "as_of": rules["as_of"], "fingerprint": stamp["fingerprint"],
        }  # fmt: skip
        return [
            self.group("proposal", [self.text(name, result[name], text_of(EnquiryResult, name)) for name in SAID]),
            self.group("dimensions", self.dimensions(dimensions)),
            self.group("materials", [self.text(name, materials[name], said) for name, said in MATERIALS.items()]),
            self.listed("requirements", [self.requirement(one) for one in result["requirements"]]),
            self.listed("cautions", [self.caution(one) for one in result["cautions"]]),
            self.group("documents", [self.document(*one) for one in documents]),
            self.group("provenance", [self.text(name, provenance[name], said) for name, said in STAMP.items()]),
        ]

    def meaning(self, name: str) -> aas.ExternalReference:
        """Return a meaning of the service's own."""
        return self.aas.ExternalReference((self.aas.Key(self.aas.KeyTypes.GLOBAL_REFERENCE, OWN + name),))

    def group(
        self, name: str | None, elements: Iterable[aas.SubmodelElement | None], meaning: str = ""
    ) -> aas.SubmodelElementCollection:
        """Return elements that belong together; one of a list has no name of its own."""
        return self.aas.SubmodelElementCollection(
            None if name is None else _camel(name), [one for one in elements if one is not None],
            semantic_id=self.meaning(meaning or str(name)),
        )  # fmt: skip

    def listed(
        self, name: str, entries: list[aas.SubmodelElementCollection]
    ) -> aas.SubmodelElementList[aas.SubmodelElementCollection]:
        """Return a list."""
        return self.aas.SubmodelElementList(
            _camel(name), self.aas.SubmodelElementCollection, entries, semantic_id=self.meaning(name)
        )

    def text(self, name: str, value: Any, said: str) -> aas.Property | None:
        """Return a text with what it means; ``None`` for none."""
        if value is None:
            return None
        described = self.aas.MultiLanguageTextType({"en": said})
        return self.aas.Property(
            _camel(name), str, str(value), description=described, semantic_id=self.meaning(name)
        )  # fmt: skip

    def unit(self, name: str, unit: str) -> list[aas.EmbeddedDataSpecification]:
        """Return what says which unit a number has."""
        model = self.aas
        reference = model.ExternalReference((model.Key(model.KeyTypes.GLOBAL_REFERENCE, IEC_61360),))
        content = model.DataSpecificationIEC61360(
            model.PreferredNameTypeIEC61360({"en": name.replace("_", " ")}), unit=unit,
            data_type=model.DataTypeIEC61360.REAL_MEASURE,
        )  # fmt: skip
        return [model.EmbeddedDataSpecification(reference, content)]

    def number(self, name: str, quantity: Mapping[str, Any] | None, meaning: str) -> aas.Property | None:
        """Return a number with its unit; ``None`` for none."""
        if quantity is None:
            return None
        return self.aas.Property(
            _camel(name), float, float(quantity["value"]), semantic_id=self.meaning(meaning),
            embedded_data_specifications=self.unit(meaning, quantity["unit"]),
        )  # fmt: skip

    def dimensions(self, found: Mapping[str, Any]) -> list[aas.SubmodelElement]:
        """Return every dimension that was found."""
        elements: list[aas.SubmodelElement] = []
        for name, entry in found.items():
            if entry is None:
                continue
            if name == "energizer":
                numbers = [self.spring(one) for one in entry["numbers"]]
                kind = self.text("kind", entry["kind"], "Kind of the energizer.")
                elements.append(self.group(name, [kind, *numbers]))
            elif name in PARTS:
                elements.append(self.group(name, self.part(name, entry)))
            else:
                elements.append(self.dimension(name, name, entry, text_of(SealDimensions, name)))
        return elements

    def part(self, part: str, entry: Mapping[str, Any]) -> list[aas.SubmodelElement | None]:
        """Return the dimensions of a part; what it is made of stands with the materials."""
        return [
            self.dimension(name, f"{part}_{name}", value, text_of(PARTS[part], name))
            if isinstance(value, dict)
            else self.text(name, value, text_of(PARTS[part], name))
            for name, value in entry.items()
            if name != "elastomer"
        ]

    def dimension(self, name: str, meaning: str, entry: Mapping[str, Any], said: str) -> aas.SubmodelElementCollection:
        """Return a dimension with its limits and where it comes from."""
        model = self.aas
        low, high = entry["minimum"], entry["maximum"]
        limits = None
        if low is not None and high is not None:
            limits = model.Range(
                "Limits", float, float(low["value"]), float(high["value"]), semantic_id=self.meaning("limits"),
                embedded_data_specifications=self.unit("limits", low["unit"]),
            )  # fmt: skip
        texts = [self.text(one, entry[one], text_of(Dimension, one)) for one in ("tolerance_class", *_ORIGIN)]
        found = self.group(name, [self.number("nominal", entry["nominal"], "nominal"), limits, *texts], meaning)
        found.description = model.MultiLanguageTextType({"en": said})
        return found

    def spring(self, entry: Mapping[str, Any]) -> aas.SubmodelElementCollection:
        """Return a number of an energizer."""
        texts = [self.text(one, entry[one], text_of(SpringNumber, one)) for one in _ORIGIN]
        value = self.number("nominal", entry["value"], "nominal")
        return self.group(entry["name"], [value, *texts], f"energizer_{entry['name']}")

    def requirement(self, entry: Mapping[str, Any]) -> aas.SubmodelElementCollection:
        """Return what has to stand on the drawing of the hardware."""
        texts = [
            self.text("id", entry["id"], "Stable identifier."),
            self.text("text", entry["text"], "What is required, with its numbers."),
            self.text("reason", entry["reason"], "Why."),
            self.text("evidence", entry["evidence"], "The weakest evidence it rests on."),
            self.text("sources", ", ".join(entry["sources"]) or None, "Identifiers of its sources."),
        ]
        return self.group(None, [*texts, self.number("value", entry["value"], "value")], "requirement")

    def caution(self, entry: Mapping[str, Any]) -> aas.SubmodelElementCollection:
        """Return a caution."""
        texts = [
            self.text("id", entry["id"], "Identifier of the caution."),
            self.text("text", entry["text"], "The caution in words."),
        ]
        return self.group(None, texts, "caution")

    def document(self, name: str, title: str, media_type: str, content: bytes) -> aas.Blob:
        """Return a document with its content: nothing is stored here that a link could lead to."""
        return self.aas.Blob(
            _camel(name), media_type, content, semantic_id=self.meaning(name),
            description=self.aas.MultiLanguageTextType({"en": title}),
        )  # fmt: skip


_ORIGIN = ("origin", "rule", "given_in")


def _identifier(kind: str, digest: str) -> str:
    """Return an identifier made of a digest: a UUID by name, which nobody has to give out."""
    return uuid.uuid5(uuid.NAMESPACE_URL, f"{OWN}{kind}:{digest}").urn
