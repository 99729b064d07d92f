"""The answer of an energizer load in the units and the words of the contract."""

from __future__ import annotations

from typing import Any

import numpy as np

from glandwise.case.choices import EnergizerKind
from glandwise.checks import tolerance
from glandwise.checks.engine import Engine
from glandwise.checks.report import assumption, general_cautions, provenance
from glandwise.contract.energizer import EnergizerLoadRequest
from glandwise.numerics.worksheet import written
from glandwise.questions.energizer.answer import Answer, Why, answer
from glandwise.questions.energizer.explain import explained, records_of
from glandwise.rules.model import RuleSetData
from glandwise.units import UnitSystem


def estimate(request: EnergizerLoadRequest, engine: Engine) -> dict[str, Any]:
    """Answer an energizer load request."""
    rules, units = engine.rules(request), request.units.system_of_units()
    found = answer(request, rules.data)
    told = explained(found, rules.data)
    return {
        **write(found, request, rules.data, units),
        "cautions": general_cautions(rules.data),
        "evidence": provenance(records_of(told, found.question)).evidence,
        "stamp": engine.stamp("estimate_energizer_load", request, rules),
        "working": written(*told.shown) if request.working else None,
    }


def write(found: Answer, request: EnergizerLoadRequest, data: RuleSetData, units: UnitSystem) -> dict[str, Any]:
    """Write an answer."""
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
        "assumptions": [assumption(item, units) for item in question.assumed],
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
