"""The working of what is added up: a duty of several phases, and the blanks of a number of pieces."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from glandwise.checks import friction, working
from glandwise.checks import wear as wearing
from glandwise.checks.case import Case
from glandwise.checks.working import Steps, Trail
from glandwise.checks.worksheet import Worksheet, datum_source
from glandwise.contract.duty_spectrum import SpectrumRequest
from glandwise.mechanics import wear

if TYPE_CHECKING:
    from glandwise.checks.duty_spectrum import PhaseState, SpectrumWear

_DEFINITION = "definition"
_WEAR = "Archard 1953, summed over the phases (models/wear)"
_MEAN = "mean over calendar time"


# ------------------------------------------------------------------------------------------------------------- spectrum


def spectrum(
    request: SpectrumRequest,
    states: Sequence[PhaseState],
    arounds: Sequence[Any],
    k: wear.WearRate,
    worn: SpectrumWear | None,
) -> Steps:
    """Working of a duty spectrum: each phase as a duty of its own, then what they add up to."""
    sheet = Worksheet()
    parts = [_phase(request, state, around) for state, around in zip(states, arounds, strict=True)]
    common = _common([steps for steps, _ in parts])
    rows: list[dict[str, str]] = []
    for position, (state, (steps, own)) in enumerate(zip(states, parts, strict=True)):
        tag = f"p{position + 1}"
        here = sheet.adopt(steps, tag, common)
        names = {name: here[symbol] for name, symbol in own.items()}
        source = f"request /phases/{position}/share"
        names["s"] = sheet.given(f"s_{tag}", f"Share of calendar time of phase {state.name}", state.share, "1", source)
        rows.append(names)
    lasting = [(names, state) for names, state in zip(rows, states, strict=True) if state.share > 0.0]
    _means(sheet, rows, lasting)
    sliding = " + ".join(f"{names['s']} * {names['v']}" for names, _ in lasting) or "0"
    sheet.step("s_1000", "Sliding distance in 1000 h", f"({sliding}) * 3.6e6", "m", _DEFINITION)
    first = states[0]
    trail = Trail(first.case, first.duty, request.design)
    trail.dimensions()
    if first.case.energizer is not None:
        trail.spring(trail.sheet, "T")
    working.wear_allowance(trail, request.wear_allowance)
    # the allowance belongs to the design, not to the first phase, whose duty only carries it here
    kept = {"h_all", "h_lip", "h_spring", "h_fit", "f_h", "f_D", "f_i"}
    depth = sheet.adopt(trail.sheet.steps, "p1", common | kept)["h_all"]
    if worn is not None:
        _wear(sheet, lasting, first.case, request, k, worn, depth)
    return sheet.steps


def _phase(request: SpectrumRequest, state: PhaseState, around: Any) -> tuple[Steps, dict[str, str]]:
    """Envelope and friction of one phase on one sheet; returns its steps, and its symbols by those of the friction."""
    sheet = Worksheet()
    measures = {finding.id: finding.measure for finding in state.findings if finding.measure is not None}
    sheet.adopt(working.envelope(state.case, state.duty, request.design, measures), "")
    levels = friction.states(state.case, around)
    # the envelope takes the surroundings of the rules, the friction those of the request
    steps = working.friction(state.case, state.duty, request.design, around, request.surroundings, levels)
    return sheet.steps, sheet.adopt(steps, "run")


def _common(sheets: Sequence[Steps]) -> set[str]:
    """Symbols that mean the same on every sheet that has them, and on more than one; all of a single sheet."""
    found: dict[str, list[dict[str, Any]]] = {}
    for steps in sheets:
        for step in steps:
            found.setdefault(step["symbol"], []).append(step)
    if len(sheets) == 1:
        return set(found)
    same: set[str] = set()
    for symbol, group in found.items():
        first = group[0]
        rests = all(name in same for name in first["inputs"] if name in found)
        alike = all(step["equation"] == first["equation"] and step["value"] == first["value"] for step in group)
        if rests and alike and len(group) > 1:
            same.add(symbol)
    return same


def _means(
    sheet: Worksheet, rows: Sequence[dict[str, str]], lasting: Sequence[tuple[dict[str, str], PhaseState]]
) -> None:
    for level in ("low", "nominal", "high"):
        if lasting and all(f"P_{level}" in names for names, _ in lasting):
            total = " + ".join(f"{names['s']} * {names[f'P_{level}']}" for names, _ in lasting)
            sheet.step(f"P_mean_{level}", f"Mean frictional heat, {level}", total, "W", _MEAN)
    if lasting and all("M_nominal" in names for names, _ in lasting):
        total = " + ".join(f"{names['s']} * {names['M_nominal']}" for names, _ in lasting)
        share = " + ".join(names["s"] for names, _ in lasting)
        sheet.step("M_mean", "Mean torque while a phase lasts", f"({total}) / ({share})", "N.m", _MEAN)
    if all("M_high" in names for names in rows):
        torques = [names["M_high"] for names in rows]
        equation = f"max({', '.join(torques)})" if len(torques) > 1 else torques[0]
        sheet.step("M_most", "Greatest torque of all phases", equation, "N.m", _DEFINITION)


def _wear(
    sheet: Worksheet, lasting: Sequence[tuple[dict[str, str], PhaseState]], case: Case, request: SpectrumRequest, k: wear.WearRate,
    worn: SpectrumWear, depth: str,
) -> None:  # fmt: skip
    side = "k_side" if case.energizer == "garter" else "k_spring"
    loads, losses = [], []
    for index, (names, state) in enumerate(lasting, 1):
        lost = sheet.step(
            f"k_w_{index}", f"Load lost per worn depth, phase {state.name}",
            f"(k_E * {names['E_nominal']} * {names['phi_nominal']} + {names[side]}) * f_form", "N/m/m", _WEAR,
            wearing.stiffness_of(state.case, state.nominal),
        )  # fmt: skip
        slides = f"{names['s']} * {names['v']}"
        loads.append(f"{slides} * {names['q_nominal']}")
        losses.append(f"{slides} * min({lost}, {names['q_nominal']} / {depth})")
    load = sheet.step("Q_all", "Load times sliding speed, mean over all phases", " + ".join(loads) or "0", "N/s", _WEAR)
    loss = sheet.step("S_all", "What of it goes per worn depth", " + ".join(losses) or "0", "N/m/s", _WEAR)
    record = case.wear
    assert record is not None
    factor = "1"
    if case.shaft_material is not None:
        path = f"shaft_materials.{request.duty.shaft.material}.wear_factor"
        factor = sheet.rule("f_wear", "Factor of the counterface on wear", case.shaft_material.wear_factor, "1", path)
    source = datum_source(f"compounds.{request.design.compound}.wear.{case.lubrication}", record)
    share = (
        sheet.step(
            "x_lost", "Share of the load that goes with the allowance", f"min({loss} * {depth} / {load}, 1)", "1", _WEAR
        )
        if sheet[load] > 0.0
        else None
    )
    pressures = " + ".join(f"{names['s']} * {names['p_c_nominal']} * {names['v']}" for names, _ in lasting) or "0"
    for name, end, raw in (
        ("low", "long", record.si_low),
        ("nominal", "nominal", record.si),
        ("high", "short", record.si_high),
    ):
        inner = sheet.scope(name)
        base = inner.given("K_0", f"Specific wear rate of the compound, {name}", raw, "1/Pa", source)
        rate = inner.step(
            "K", f"Specific wear rate on this shaft, {name}", f"{base} * {factor}", "1/Pa", _WEAR, getattr(k, name)
        )
        worn_per_time = inner.step(
            "h_dot", "Depth worn per calendar time", f"{rate} * ({pressures})", "m/s", _WEAR, getattr(worn.rates, name)
        )
        inner.step("h_1000", "Depth worn in 1000 h", f"{worn_per_time} * 3.6e6", "m", _DEFINITION)
        if share is not None:
            relief = f" * (-log1p(-{share}) / {share})" if sheet[share] > 0.0 else ""
            time = inner.step(
                "t_life",
                f"Calendar time to the allowance, {end}",
                f"{depth} * b / ({rate} * {load}){relief}",
                "s",
                _WEAR,
                getattr(worn.life, end),
            )
            working.told_life(inner, time, case.data.running.wear.longest_life)
