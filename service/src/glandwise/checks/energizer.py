"""What load does an energizer give: over its deflection, at the ends of its tolerances, and how sure is that.

Each kind is one function from named inputs (floats or arrays) to a :class:`State`; nominal values, corners, samples
and the curve are the same function on other inputs.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

import numpy as np

from glandwise.checks import tolerance, working_energizer
from glandwise.checks.banks import curve_at
from glandwise.checks.case import Assumed
from glandwise.checks.engine import Engine, Trace, known
from glandwise.checks.report import assumption, general_cautions
from glandwise.contract.energizer import (
    ByDeflection,
    CantedCoilEnergizer,
    CantileverVEnergizer,
    EnergizerLoadRequest,
    GarterEnergizer,
    ORingEnergizer,
    TolerancedLength,
)
from glandwise.mechanics import beams, fits, rods, springs
from glandwise.mechanics import numeric as num
from glandwise.rules.model import Curve, RuleSetData
from glandwise.units import UnitSystem

Inputs = Mapping[str, Any]


class State(NamedTuple):
    """State of an energizer; floats or arrays."""

    line_load: num.Real
    stiffness: num.Real
    stress: num.Real
    permanent_set: num.Real


class Model(NamedTuple):
    """One energizer set up for evaluation."""

    evaluate: Callable[[Inputs], State]
    nominal: dict[str, float]
    limits: dict[str, tuple[float, float]]
    """Inputs with a tolerance: lower and upper value."""
    deflection: Callable[[Inputs], Any]
    set_deflection: Callable[[dict[str, Any], Any], dict[str, Any]]
    full_deflection: float
    stress_limit: float | None
    notes: list[str]
    squeezed: str = ""
    """How far an O-ring is squeezed, in words."""


def _toleranced(parts: Mapping[str, TolerancedLength]) -> tuple[dict[str, float], dict[str, tuple[float, float]]]:
    nominal = {name: part.nominal for name, part in parts.items()}
    return nominal, {name: (part.low, part.high) for name, part in parts.items() if part.low < part.high}


def _compression(c: Any) -> dict[str, TolerancedLength]:
    if isinstance(c, ByDeflection):
        return {"deflection": c.deflection}
    return {"free_height": c.free_height, "gland_height": c.gland_height}


def _travel(x: Inputs) -> Any:
    return x["deflection"] if "deflection" in x else x["free_height"] - x["gland_height"]


def _set_travel(x: dict[str, Any], travel: Any) -> dict[str, Any]:
    rest = {name: value for name, value in x.items() if name not in {"free_height", "gland_height"}}
    return {**rest, "deflection": travel}


class _MetalData(NamedTuple):
    modulus: float
    """``nan`` where the table of the alloy does not reach."""
    poisson: float
    strength: float
    """As the modulus."""
    named: bool
    """Whether an alloy is named, or supplied."""


class Range(NamedTuple):
    """Temperatures in which the material of an energizer is used, SI."""

    name: str
    """Of the material."""
    low: float
    high: float
    unknown: str | None = None
    """Which properties are not known at the temperature asked for."""

    def holds(self, temperature: float) -> bool:
        """Whether the material stands a temperature."""
        return self.low <= temperature <= self.high


def _range(name: str, record: Any, trace: Trace, unknown: str | None = None) -> Range:
    trace.add(record.temperature_min, record.temperature_max)
    return Range(name, record.temperature_min.si, record.temperature_max.si, unknown)


def _within_table(curve: Curve, temperature: float) -> float:
    """Value of a table, ``nan`` beyond its ends."""
    inside = curve.si_x[0] <= temperature <= curve.si_x[-1]
    return float(curve_at(curve, temperature)) if inside else num.nan


def _metal(
    e: Any, request: EnergizerLoadRequest, data: RuleSetData, assumed: list[Assumed], trace: Trace
) -> tuple[_MetalData, Range | None]:
    complete = e.elastic_modulus is not None and e.poisson_ratio is not None and e.yield_strength is not None
    name = e.alloy
    if name is None and not complete:
        usual = data.sizing.garter_alloy if e.kind == "garter" else data.sizing.energizer_alloy
        name = usual.name
        assumed.append(Assumed("/energizer/alloy", None, name, "sizing.energizer_alloy"))
        trace.add(usual)
    modulus, poisson, strength = e.elastic_modulus, e.poisson_ratio, e.yield_strength
    stands: Range | None = None
    if name is not None:
        alloy = known(data.alloys, name, ("energizer", "alloy"), "alloy")
        if modulus is None:
            modulus = _within_table(alloy.elastic_modulus, request.temperature)
            trace.add(alloy.elastic_modulus)
        if poisson is None:
            poisson = alloy.poisson_ratio.si
            trace.add(alloy.poisson_ratio)
        if strength is None:
            strength = _within_table(alloy.yield_strength, request.temperature)
            trace.add(alloy.yield_strength)
        missing = [
            word for word, value in (("modulus", modulus), ("yield strength", strength)) if not num.isfinite(value)
        ]
        stands = _range(name, alloy, trace, " or ".join(missing) or None)
    return _MetalData(modulus, poisson, strength, stands is not None), stands


def _cantilever(e: CantileverVEnergizer, m: _MetalData) -> Model:
    nominal, limits = _toleranced(
        {"strip_thickness": e.strip_thickness, "finger_length": e.finger_length, **_compression(e.compression)}
    )
    blend = e.plate_blend or 0.0

    def evaluate(x: Inputs) -> State:
        v = beams.cantilever_v(
            num.maximum(_travel(x), 0.0), x["strip_thickness"], x["finger_length"], e.root_angle, e.coverage,
            x["elastic_modulus"], m.strength, m.poisson, blend,
        )  # fmt: skip
        # both legs take the same set
        return State(v.line_load, v.gland_stiffness, v.root_stress, 2.0 * v.permanent_set)

    opening = 2.0 * e.finger_length.nominal * float(np.sin(e.root_angle))
    notes = [
        "Exact elastica with a contact that moves and lays down on the land; friction on the land is left out.",
        "Beyond yield the strip is elastic-perfectly plastic; the stress given is the elastic one, above the yield strength.",
    ]
    return Model(evaluate, nominal, limits, _travel, _set_travel, 0.95 * opening, m.strength, notes)


def _coil(e: CantedCoilEnergizer, m: _MetalData, contact_diameter: float) -> Model:
    nominal, limits = _toleranced(
        {
            "wire_diameter": e.wire_diameter,
            "coil_height": e.coil_height,
            "coil_width": e.coil_width,
            "pitch": e.pitch,
            **_compression(e.compression),
        }
    )

    def evaluate(x: Inputs) -> State:
        wire = x["wire_diameter"]
        ratio = (contact_diameter + x["coil_height"]) / contact_diameter
        c = rods.canted_coil_load(
            num.maximum(_travel(x), 0.0), x["pitch"], 0.5 * (x["coil_width"] - wire), 0.5 * (x["coil_height"] - wire),
            e.cant_angle, wire, x["elastic_modulus"], x["elastic_modulus"] / (2.0 * (1.0 + m.poisson)), ratio,
        )  # fmt: skip
        return State(c.load_per_length, c.rate_per_length, c.equivalent_stress, num.nan)

    full = 0.54 * (e.coil_height.nominal - e.wire_diameter.nominal)
    notes = [
        "Geometrically exact rod of a straight row of turns between smooth plates; friction, side walls and plastic set are left out.",
        "The finite-deflection model covers cant angles of 15 to 60 degrees, width over height 0.8 to 1.8 and pitch over "
        "half height 0.2 to 1.4 (of the wire centreline).",
    ]
    return Model(evaluate, nominal, limits, _travel, _set_travel, full, m.strength, notes)


def _garter(e: GarterEnergizer, m: _MetalData, contact_diameter: float, shear_ratio: float) -> Model:
    nominal, limits = _toleranced(
        {"wire_diameter": e.wire_diameter, "mean_coil_diameter": e.mean_coil_diameter, "ring_diameter": e.ring_diameter}
    )
    free_diameter = e.free_length / np.pi

    def evaluate(x: Inputs) -> State:
        g = springs.garter_ring(
            x["wire_diameter"], x["mean_coil_diameter"], x["elastic_modulus"] / (2.0 * (1.0 + m.poisson)), e.active_coils,
            e.free_length, e.initial_tension, 0.5 * x["ring_diameter"], 0.5 * contact_diameter,
        )  # fmt: skip
        return State(g.contact_line_load, g.stiffness, g.shear_stress, num.nan)

    def travel(x: Inputs) -> Any:
        return x["ring_diameter"] - free_diameter

    def set_travel(x: dict[str, Any], value: Any) -> dict[str, Any]:
        return {**x, "ring_diameter": free_diameter + value}

    stretch = max(2.0 * (e.ring_diameter.nominal - free_diameter), 0.05 * free_diameter)
    notes = [
        "A ring that is not stretched gives no load that can be relied upon: zero is reported.",
        "The stress is the corrected shear stress of the wire and is held against the shear yield strength.",
    ]
    return Model(evaluate, nominal, limits, travel, set_travel, stretch, m.strength * shear_ratio, notes)


def _o_ring(
    e: ORingEnergizer, request: EnergizerLoadRequest, data: RuleSetData, assumed: list[Assumed], trace: Trace
) -> tuple[Model, float, Range | None]:
    nominal, limits = _toleranced({"section": e.section, "gland_height": e.gland_height})
    rule = data.sizing.energizer
    trace.add(rule.o_ring_squeeze_limit)
    modulus = e.elastic_modulus
    stands: Range | None = None
    if e.elastomer is not None:
        stands = _range(
            e.elastomer, known(data.elastomers, e.elastomer, ("energizer", "elastomer"), "elastomer"), trace
        )
    if modulus is None:
        hardness = e.hardness
        if hardness is None:
            name = e.elastomer
            if name is None:
                name = data.sizing.o_ring_elastomer.name
                assumed.append(Assumed("/energizer/elastomer", None, name, "sizing.o_ring_elastomer"))
                trace.add(data.sizing.o_ring_elastomer)
            elastomer = known(data.elastomers, name, ("energizer", "elastomer"), "elastomer")
            stands = _range(name, elastomer, trace)
            hardness = elastomer.hardness.si
            assumed.append(Assumed("/energizer/hardness", "hardness_shore_a", hardness, f"elastomers.{name}"))
            trace.add(elastomer.hardness)
        modulus = springs.gent_modulus(hardness)
        if stands is not None and not stands.holds(request.temperature):
            # glassy in the cold, decaying in the heat: the hardness of room temperature says nothing there
            modulus, stands = num.nan, stands._replace(unknown="modulus")
    seat = e.inside_diameter if e.seat_diameter is None else e.seat_diameter

    def evaluate(x: Inputs) -> State:
        section = fits.stretched_section(x["section"], e.inside_diameter, seat)
        o = springs.oring_load(
            section, (section - x["gland_height"]) / section, x["elastic_modulus"], rule.o_ring_squeeze_limit.si
        )
        to_contact = (seat + section) / request.contact_diameter
        return State(o.line_load * to_contact, o.stiffness * to_contact, o.mean_pressure, num.nan)

    def travel(x: Inputs) -> Any:
        return fits.stretched_section(x["section"], e.inside_diameter, seat) - x["gland_height"]

    def set_travel(x: dict[str, Any], value: Any) -> dict[str, Any]:
        return {**x, "gland_height": fits.stretched_section(x["section"], e.inside_diameter, seat) - value}

    section = fits.stretched_section(e.section.nominal, e.inside_diameter, seat)
    notes = [
        "Lindley's load of a laterally unrestrained ring between flats; a gland that confines the ring sideways loads it more.",
        f"Taken as valid up to {100.0 * rule.o_ring_squeeze_limit.si:.0f} % squeeze; the modulus is that of room temperature.",
    ]
    limit = rule.o_ring_squeeze_limit.si
    squeezed = f"squeezed by {100.0 * (1.0 - e.gland_height.nominal / section):.3g} %; the model holds up to {100.0 * limit:.3g} %"
    model = Model(evaluate, nominal, limits, travel, set_travel, limit * float(section), None, notes, squeezed)
    return model, float(modulus), stands


def _working_range(
    e: CantedCoilEnergizer, m: _MetalData, share: float, upper: float, units: UnitSystem
) -> dict[str, Any] | None:
    wire = e.wire_diameter.nominal
    dims = (e.pitch.nominal, 0.5 * (e.coil_width.nominal - wire), 0.5 * (e.coil_height.nominal - wire), e.cant_angle, wire,
            m.modulus, m.modulus / (2.0 * (1.0 + m.poisson)))  # fmt: skip
    touching = rods.canted_coil_touching_deflection(*dims)
    found = rods.canted_coil_working_range(share, num.minimum(upper, touching), *dims)
    lower, top = units.optional("length", float(found.lower)), units.optional("length", float(found.upper))
    return None if lower is None or top is None else {"lower": lower, "upper": top, "load_share": share}


def estimate(request: EnergizerLoadRequest, engine: Engine) -> dict[str, Any]:
    """Answer an energizer load request."""
    rules, units = engine.rules(request), request.units.system_of_units()
    data, e = rules.data, request.energizer
    rule = data.sizing.energizer
    assumed: list[Assumed] = []
    trace = Trace()
    metal: _MetalData | None = None
    if isinstance(e, ORingEnergizer):
        model, modulus, stands = _o_ring(e, request, data, assumed, trace)
        usual_scatter = rule.elastomer_modulus_scatter
    else:
        metal, stands = _metal(e, request, data, assumed, trace)
        modulus, usual_scatter = metal.modulus, rule.metal_modulus_scatter
        if isinstance(e, CantileverVEnergizer):
            model = _cantilever(e, metal)
        elif isinstance(e, CantedCoilEnergizer):
            model = _coil(e, metal, request.contact_diameter)
        else:
            model = _garter(e, metal, request.contact_diameter, rule.shear_yield_ratio.si)
            trace.add(rule.shear_yield_ratio)
    scatter = request.modulus_scatter
    if scatter is None:
        scatter = usual_scatter.si
        assumed.append(Assumed("/modulus_scatter", "ratio", scatter, "sizing.energizer.*_modulus_scatter"))
        trace.add(usual_scatter)
    model.nominal["elastic_modulus"] = modulus
    if scatter > 0.0 and num.isfinite(modulus):
        model.limits["elastic_modulus"] = (modulus * (1.0 - scatter), modulus * (1.0 + scatter))

    here = model.evaluate(model.nominal)
    extremes = tolerance.corners(model.nominal, model.limits)
    corners = model.evaluate(extremes)
    how = request.sampling
    sampled = model.evaluate(tolerance.samples(model.nominal, model.limits, how.samples, how.seed, how.distribution))
    loads = np.atleast_1d(np.asarray(corners.line_load, dtype=float))
    drawn = np.atleast_1d(np.asarray(sampled.line_load, dtype=float))
    within = bool(np.isfinite(loads).all() and np.isfinite(drawn).all())
    travel = float(model.deflection(model.nominal))
    missing = None
    if stands is not None and stands.unknown is not None:
        missing = (
            f"The {stands.unknown} of {stands.name} is not known at {units.text('temperature', request.temperature)}"
        )
    verdict, text, used = _judge(model, here, corners, within, units, missing)
    o_ring = isinstance(e, ORingEnergizer)
    verdict, text = _judge_temperature(verdict, text, request.temperature, stands, o_ring, units)
    if stands is None and not o_ring:
        model.notes.append("No alloy is named: whether it stands the temperature is not judged.")
    grid = np.linspace(0.0, max(model.full_deflection, travel), 41)[1:]
    curve = model.evaluate(model.set_deflection(dict(model.nominal), grid))
    columns = np.broadcast_arrays(grid, curve.line_load, curve.stiffness, curve.stress)
    points = [
        {
            "deflection": units.quantity("length", float(x)),
            "line_load": units.quantity("line_load", float(q)),
            "stiffness": units.quantity("line_stiffness", float(k)),
            "stress": units.quantity("stress", float(s)),
        }
        for x, q, k, s in zip(*columns, strict=True)
        if np.isfinite([q, k, s]).all()
    ]
    return {
        "verdict": verdict,
        "summary": text,
        "load": tolerance.spread(units, "line_load", here.line_load, loads, drawn),
        "total_load": units.optional("force", float(here.line_load) * np.pi * request.contact_diameter),
        "stiffness": units.optional("line_stiffness", float(here.stiffness)),
        "deflection": units.quantity("length", travel),
        "stress": None if o_ring else units.optional("stress", float(here.stress)),
        "stress_limit": units.optional("stress", model.stress_limit),
        "utilization": used,
        "temperature_minimum": None if stands is None else units.quantity("temperature", stands.low),
        "temperature_maximum": None if stands is None else units.quantity("temperature", stands.high),
        "permanent_set": units.optional("length", float(here.permanent_set)),
        "working_range": _working_range(e, metal, rule.working_load_share.si, model.full_deflection, units)
        if isinstance(e, CantedCoilEnergizer) and metal is not None
        else None,
        "squeeze": float(f"{travel / (travel + e.gland_height.nominal):.10g}")
        if isinstance(e, ORingEnergizer)
        else None,
        "sensitivities": tolerance.sensitivities(lambda x: model.evaluate(x).line_load, model.nominal, model.limits),
        "curve": points,
        "samples": request.sampling.samples,
        "notes": model.notes,
        "assumptions": [assumption(item, units) for item in assumed],
        "cautions": general_cautions(data),
        "evidence": trace.evidence,
        "stamp": engine.stamp("estimate_energizer_load", request, rules),
        "working": working_energizer.steps(request, data, metal, model, here, extremes, loads)
        if request.working
        else None,
    }


def _judge_temperature(
    verdict: str, text: str, temperature: float, stands: Range | None, rubber: bool, units: UnitSystem
) -> tuple[str, str]:
    """Return verdict and words with the temperature held against what the material stands."""
    if stands is None:
        if rubber and verdict != "fail":
            return "not_evaluated", f"{text} No elastomer is named, so that the temperature is not judged."
        return verdict, text
    if stands.holds(temperature):
        return verdict, text
    end, limit = ("below", stands.low) if temperature < stands.low else ("above", stands.high)
    beyond = f"{units.text('temperature', temperature)} is {end} the {units.text('temperature', limit)} {stands.name} stands."
    return "fail", f"{beyond} {text}"


def _judge(
    model: Model, here: State, corners: State, within: bool, units: UnitSystem, missing: str | None
) -> tuple[str, str, float | None]:
    """Return verdict, sentence and utilization of the stress; ``missing`` says what is not known of the material."""
    if not np.isfinite(here.line_load):
        if missing is not None:
            return "not_evaluated", f"{missing}; no load is given.", None
        return "not_evaluated", "The dimensions lie outside the range of the model; see the notes.", None
    load = units.text("line_load", float(here.line_load))
    if float(here.line_load) <= 0.0:
        return "fail", "The energizer is slack and gives no load.", None
    slack = float(np.nanmin(np.asarray(corners.line_load, dtype=float))) <= 0.0
    if model.stress_limit is None:
        more = ""
        if slack:
            more = "; it is slack at an extreme of its tolerances"
        elif not within:
            more = "; an extreme of tolerance lies outside the range of the model"
        return "caution" if more else "pass", f"The ring gives {load}, {model.squeezed}{more}.", None
    if not np.isfinite(model.stress_limit):
        return "not_evaluated", f"The energizer gives {load}. {missing}; whether it yields is not judged.", None
    used = float(here.stress) / model.stress_limit
    worst = float(np.nanmax(np.asarray(corners.stress, dtype=float))) / model.stress_limit
    text = units.text("stress", float(here.stress))
    limit = units.text("stress", model.stress_limit)
    rounded = float(f"{used:.10g}")
    if used > 1.0:
        return "fail", f"The energizer gives {load} but yields: {text} elastic stress is beyond {limit}.", rounded
    if worst > 1.0:
        return "caution", f"The energizer gives {load}; it yields at an extreme of its tolerances.", rounded
    if slack:
        return "caution", f"The energizer gives {load}; it is slack at an extreme of its tolerances.", rounded
    if not within:
        return (
            "caution",
            f"The energizer gives {load}; an extreme of tolerance lies outside the range of the model.",
            rounded,
        )
    return "pass", f"The energizer gives {load} and stays elastic at {text} of {limit}.", rounded
