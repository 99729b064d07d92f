"""What load does an energizer give: the request taken in, the answer written in the units and words of the contract."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from glandwise.case.bare_energizer import SHAPE
from glandwise.case.choices import EnergizerKind, Material
from glandwise.case.intake import Assumed
from glandwise.contract.energizer import (
    ByDeflection,
    CantedCoilEnergizer,
    CantileverVEnergizer,
    EnergizerLoadRequest,
    GarterEnergizer,
    ORingEnergizer,
    TolerancedLength,
)
from glandwise.engine import Engine, known
from glandwise.json_values import JsonObject
from glandwise.numerics.worksheet import written
from glandwise.questions import tolerance
from glandwise.questions.energizer.answer import MODULUS, Answer, Question, Why
from glandwise.questions.energizer.answer import answer as loaded
from glandwise.questions.energizer.explain import Explained, explained, records_of
from glandwise.questions.report import assumption, general_cautions, provenance
from glandwise.rules.model import Alloy, Elastomer, Evidence, RuleSetData
from glandwise.rules.sourced import Sourced
from glandwise.units import UnitSystem

_TOLERANCED: Mapping[type, tuple[str, ...]] = {
    CantileverVEnergizer: ("strip_thickness", "finger_length"),
    CantedCoilEnergizer: ("wire_diameter", "coil_height", "coil_width", "pitch"),
    GarterEnergizer: ("wire_diameter", "mean_coil_diameter", "ring_diameter"),
    ORingEnergizer: ("section", "gland_height"),
}
_EXACT: Mapping[type, tuple[str, ...]] = {
    CantileverVEnergizer: ("root_angle", "coverage", "plate_blend"),
    CantedCoilEnergizer: ("cant_angle",),
    GarterEnergizer: ("active_coils", "free_length", "initial_tension"),
    ORingEnergizer: ("inside_diameter", "seat_diameter", "hardness"),
}


def asked(request: EnergizerLoadRequest, data: RuleSetData) -> tuple[Question, list[Assumed]]:
    """Return the energizer of a request, and what was assumed; a name that the rules do not know is refused."""
    e = request.energizer
    parts: dict[str, TolerancedLength] = {name: getattr(e, name) for name in _TOLERANCED[type(e)]}
    pointers = {"contact_diameter": "/contact_diameter", "temperature": "/temperature"}
    pointers |= {name: f"/energizer/{name}" for name in parts}
    if isinstance(e, CantileverVEnergizer | CantedCoilEnergizer):
        c = e.compression
        heights = (
            {"deflection": c.deflection}
            if isinstance(c, ByDeflection)
            else {"free_height": c.free_height, "gland_height": c.gland_height}
        )
        parts |= heights
        pointers |= {name: f"/energizer/compression/{name}" for name in heights}
    table = SHAPE.table(1)
    row = table[0]
    row["kind"], row["modulus_factor"] = EnergizerKind[e.kind], 1.0
    row["contact_diameter"], row["temperature"] = request.contact_diameter, request.temperature
    properties = () if isinstance(e, ORingEnergizer) else ("poisson_ratio", "yield_strength")
    for name in (*_EXACT[type(e)], *properties, MODULUS):
        value = getattr(e, name)
        if value is not None:
            row[name], pointers[name] = value, f"/energizer/{name}"
    for name, part in parts.items():
        row[name] = part.nominal

    assumed: list[Assumed] = []
    chosen: list[Sourced] = []
    record, name = _material(request, data, assumed, chosen)
    row["material"] = Material.described if record is None else Material.named
    ring = isinstance(e, ORingEnergizer)
    if record is not None:
        row["elastomer" if ring else "alloy"] = list(data.elastomers if ring else data.alloys).index(name)
    scatter = request.modulus_scatter
    if scatter is None:
        usual = data.sizing.energizer
        scatter = (usual.elastomer_modulus_scatter if ring else usual.metal_modulus_scatter).si
        assumed.append(Assumed("/modulus_scatter", "ratio", scatter, "sizing.energizer.*_modulus_scatter"))
    limits = {name: (part.low, part.high) for name, part in parts.items() if part.low < part.high}
    if scatter > 0.0:
        limits[MODULUS] = (1.0 - scatter, 1.0 + scatter)
    question = Question(
        EnergizerKind[e.kind],
        table,
        {**{name: part.nominal for name, part in parts.items()}, MODULUS: 1.0},
        limits,
        pointers,
        name if record is not None else None,
        None if record is None else record.temperature_min,
        None if record is None else record.temperature_max,
        scatter,
        request.modulus_scatter is not None,
        tuple(chosen),
    )
    return question, assumed


def _material(
    request: EnergizerLoadRequest, data: RuleSetData, assumed: list[Assumed], chosen: list[Sourced]
) -> tuple[Alloy | Elastomer | None, str]:
    """Return the record of the material and its name, the usual one where the request leaves its properties open."""
    e = request.energizer
    if isinstance(e, ORingEnergizer):
        name, open_ = e.elastomer, e.elastic_modulus is None and e.hardness is None
        usual, field, rule = data.sizing.o_ring_elastomer, "elastomer", "o_ring_elastomer"
    else:
        name, open_ = e.alloy, None in (e.elastic_modulus, e.poisson_ratio, e.yield_strength)
        usual = data.sizing.garter_alloy if e.kind == "garter" else data.sizing.energizer_alloy
        field, rule = "alloy", "garter_alloy" if e.kind == "garter" else "energizer_alloy"
    if name is None and open_:
        name = usual.name
        assumed.append(Assumed(f"/energizer/{field}", None, name, f"sizing.{rule}"))
        chosen.append(usual)
    if name is None:
        return None, ""
    record: Alloy | Elastomer
    if isinstance(e, ORingEnergizer):
        record = known(data.elastomers, name, ("energizer", field), field)
    else:
        record = known(data.alloys, name, ("energizer", field), field)
    if isinstance(record, Elastomer) and open_:
        assumed.append(Assumed("/energizer/hardness", "hardness_shore_a", record.hardness.si, f"elastomers.{name}"))
    return record, name


class Estimate(NamedTuple):
    """Load of an energizer, in SI, and what that rests on."""

    found: Answer
    assumed: list[Assumed]
    told: Explained
    """The same numbers by a trace."""
    evidence: Evidence | None

    @property
    def verdict(self) -> str:
        """How the energizer fares."""
        return self.found.verdict


def answer(request: EnergizerLoadRequest, engine: Engine) -> Estimate:
    """Answer an energizer load request, in SI."""
    data = engine.rules(request).data
    question, assumed = asked(request, data)
    found = loaded(question, request, data)
    told = explained(found, data)
    return Estimate(found, assumed, told, provenance(records_of(told, question)).evidence)


def write(result: Estimate, request: EnergizerLoadRequest, engine: Engine) -> JsonObject:
    """Write an answer as its contract has it, in the units of the request."""
    rules, units = engine.rules(request), request.units.system_of_units()
    return {
        **_quantities(result.found, request, rules.data, units, result.assumed),
        "cautions": general_cautions(rules.data),
        "evidence": result.evidence,
        "stamp": engine.stamp("estimate_energizer_load", request, rules),
        "working": written(*result.told.shown) if request.working else None,
    }


def estimate(request: EnergizerLoadRequest, engine: Engine) -> JsonObject:
    """Answer an energizer load request."""
    return write(answer(request, engine), request, engine)


def _quantities(
    found: Answer, request: EnergizerLoadRequest, data: RuleSetData, units: UnitSystem, assumed: Sequence[Assumed]
) -> JsonObject:
    question, here, ranges = found.question, found.nominal, found.ranges
    ring, coil = question.kind == EnergizerKind.o_ring, question.kind == EnergizerKind.canted_coil
    judged = np.isfinite([here["line_load"], here["utilization"]]).all() and here["line_load"] > 0.0
    return {
        "verdict": found.verdict,
        "summary": _summary(found, request, data, units),
        "load": tolerance.spread(
            units, "line_load", here["line_load"], found.at_corners["line_load"], found.drawn["line_load"]
        ),
        "total_load": units.optional("force", float(here["total_load"])),
        "stiffness": units.optional("line_stiffness", float(here["stiffness"])),
        "deflection": units.quantity("length", float(here["deflection"])),
        "stress": None if ring else units.optional("stress", float(here["stress"])),
        "stress_limit": units.optional("stress", float(here["stress_limit"])),
        "utilization": _number(here["utilization"]) if judged else None,
        "temperature_minimum": None if question.lowest is None else units.quantity("temperature", question.lowest.si),
        "temperature_maximum": None if question.highest is None else units.quantity("temperature", question.highest.si),
        "permanent_set": units.optional("length", float(here["permanent_set"])),
        "working_range": {
            "lower": units.quantity("length", float(ranges["lower"])),
            "upper": units.quantity("length", float(ranges["upper"])),
            "load_share": data.sizing.energizer.working_load_share.si,
        }
        if coil and np.isfinite([ranges["lower"], ranges["upper"]]).all()
        else None,
        "squeeze": _number(here["squeeze"]) if ring else None,
        "sensitivities": found.sensitivities,
        "curve": [
            {
                "deflection": units.quantity("length", float(x)),
                "line_load": units.quantity("line_load", float(at["line_load"])),
                "stiffness": units.quantity("line_stiffness", float(at["stiffness"])),
                "stress": units.quantity("stress", float(at["stress"])),
            }
            for x, at in zip(found.deflections, found.curve, strict=True)
            if np.isfinite([at["line_load"], at["stiffness"], at["stress"]]).all()
        ],
        "samples": request.sampling.samples,
        "notes": _notes(found, data),
        "assumptions": [assumption(item, units) for item in assumed],
    }


def _number(value: float) -> float:
    return float(f"{value:.10g}")


def _notes(found: Answer, data: RuleSetData) -> list[str]:
    """Say what the model of a kind leaves out and how far it holds."""
    limit = 100.0 * data.sizing.energizer.o_ring_squeeze_limit.si
    notes = {
        EnergizerKind.cantilever_v: [
            "Exact elastica with a contact that moves and lays down on the land; friction on the land is left out.",
            "Beyond yield the strip is elastic-perfectly plastic; the stress given is the elastic one, above the yield "
            "strength.",
        ],
        EnergizerKind.canted_coil: [
            "Geometrically exact rod of a straight row of turns between smooth plates; friction, side walls and plastic set "
            "are left out.",
            "The finite-deflection model covers cant angles of 15 to 60 degrees, width over height 0.8 to 1.8 and pitch over "
            "half height 0.2 to 1.4 (of the wire centreline).",
        ],
        EnergizerKind.garter: [
            "A ring that is not stretched gives no load that can be relied upon: zero is reported.",
            "The stress is the corrected shear stress of the wire and is held against the shear yield strength.",
        ],
        EnergizerKind.o_ring: [
            "Lindley's load of a laterally unrestrained ring between flats; a gland that confines the ring sideways loads it "
            "more.",
            f"Taken as valid up to {limit:.0f} % squeeze; the modulus is that of room temperature.",
        ],
    }[found.question.kind]
    if found.question.material is None and found.question.kind != EnergizerKind.o_ring:
        notes.append("No alloy is named: whether it stands the temperature is not judged.")
    return notes


_MORE = {
    Why.slack_at_extreme: "it is slack at an extreme of its tolerances",
    Why.yields_at_extreme: "it yields at an extreme of its tolerances",
    Why.outside_at_extreme: "an extreme of tolerance lies outside the range of the model",
}


def _summary(found: Answer, request: EnergizerLoadRequest, data: RuleSetData, units: UnitSystem) -> str:
    """Say the verdict in words."""
    question, text = found.question, _load_words(found, request, data, units)
    if found.beyond:
        limit = question.lowest if found.beyond == "below" else question.highest
        assert limit is not None
        temperature, end = units.text("temperature", request.temperature), units.text("temperature", limit.si)
        return f"{temperature} is {found.beyond} the {end} {question.material} stands. {text}"
    if question.kind == EnergizerKind.o_ring and question.material is None and found.verdict == "not_evaluated":
        return f"{text} No elastomer is named, so that the temperature is not judged."
    return text


def _load_words(found: Answer, request: EnergizerLoadRequest, data: RuleSetData, units: UnitSystem) -> str:
    here, why = found.nominal, found.why
    missing = (
        f"The {' or '.join(found.missing)} of {found.question.material} is not known at "
        f"{units.text('temperature', request.temperature)}"
    )
    if why == Why.material:
        return f"{missing}; no load is given."
    if why == Why.outside:
        return "The dimensions lie outside the range of the model; see the notes."
    if why == Why.slack:
        return "The energizer is slack and gives no load."
    load = units.text("line_load", float(here["line_load"]))
    if found.question.kind == EnergizerKind.o_ring:
        limit = 100.0 * data.sizing.energizer.o_ring_squeeze_limit.si
        more = f"; {_MORE[why]}" if why in _MORE else ""
        squeezed = f"squeezed by {100.0 * here['squeeze']:.3g} %; the model holds up to {limit:.3g} %"
        return f"The ring gives {load}, {squeezed}{more}."
    if why == Why.strength:
        return f"The energizer gives {load}. {missing}; whether it yields is not judged."
    if why in _MORE:
        return f"The energizer gives {load}; {_MORE[why]}."
    stress, limit_words = (units.text("stress", float(here[name])) for name in ("stress", "stress_limit"))
    if why == Why.yields:
        return f"The energizer gives {load} but yields: {stress} elastic stress is beyond {limit_words}."
    return f"The energizer gives {load} and stays elastic at {stress} of {limit_words}."
