"""The working of what is added up: a duty of several phases, and the blanks of a number of pieces."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from glandwise.checks import friction, working
from glandwise.checks import wear as wearing
from glandwise.checks.case import Case
from glandwise.checks.working import Steps, Trail
from glandwise.checks.worksheet import Worksheet, datum_source
from glandwise.contract.blank import BlankRequest
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.contract.duty_spectrum import SpectrumRequest
from glandwise.mechanics import wear
from glandwise.rules.model import Curve

if TYPE_CHECKING:
    from glandwise.checks.blank import Part, Plan
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


# ---------------------------------------------------------------------------------------------------------------- blank


def blank(
    request: BlankRequest, case: Case, part: Part, plan: Plan, assumed: dict[str, str], counts: tuple[int, int, int],
    masses: tuple[float, float, float],
) -> Steps:  # fmt: skip
    """Working of a blank: the part, the stock, the pieces and their mass.

    ``counts`` are pieces to make, pieces per length and lengths; ``masses`` those of the seals, used, and of the stock.
    """
    trail = Trail(case, request.duty, request.design)
    sheet, data, design = trail.sheet, case.data, request.design
    trail.dimensions()
    sizing: Any = data.sizing.flexible_lip if isinstance(design, FlexibleLip) else data.sizing.energized_lip
    family = f"sizing.{design.family}"
    if request.duty.bore.diameter is not None:
        outer = sheet.given("D", "Bore", request.duty.bore.diameter, "m", "request /duty/bore/diameter")
    else:
        section = sheet.lookup("w_r", "Radial section", sizing.radial_section, "d", "m", f"{family}.radial_section")
        outer = sheet.step("D", "Bore", f"d + 2 * {section}", "m", _DEFINITION)
    if design.retention == "press_fit_case":
        wall = sheet.lookup(
            "w_K",
            "Wall of the metal case",
            data.gland.press_fit.wall_thickness,
            outer,
            "m",
            "gland.press_fit.wall_thickness",
        )
        outer = sheet.step(
            "D_1",
            "Part, outer diameter inside its case",
            f"{outer} - 2 * {wall}",
            "m",
            _DEFINITION,
            part.outer_diameter,
        )
    else:
        outer = sheet.step("D_1", "Part, outer diameter", outer, "m", _DEFINITION, part.outer_diameter)
    if request.axial_width is not None:
        width = sheet.given("w", "Axial width of the part", part.width, "m", "request /axial_width")
    else:
        plain = sheet.lookup("w_0", "Axial width of the part", sizing.axial_width, "d", "m", f"{family}.axial_width")
        if isinstance(design, EnergizedLip) and design.heel == "extended":
            heel = sheet.lookup(
                "t_h", "Thickness of a standard heel", sizing.heel_thickness, "d", "m", f"{family}.heel_thickness"
            )
            more = sheet.rule(
                "f_h", "Extended over standard heel", sizing.extended_heel_ratio, "1", f"{family}.extended_heel_ratio"
            )
            width = sheet.step(
                "w",
                "Axial width of the part, its heel extended",
                f"{plain} + {heel} * ({more} - 1)",
                "m",
                _DEFINITION,
                part.width,
            )
        else:
            width = sheet.step("w", "Axial width of the part", plain, "m", _DEFINITION, part.width)
    inner = sheet.step("d_1", "Part, bore", "max(d - i, 0)", "m", _DEFINITION, part.inner_diameter)
    radial = sheet.step("s_r", "Radial section of the part", f"({outer} - {inner}) / 2", "m", _DEFINITION)
    if isinstance(design, FlexibleLip):
        share = sheet.rule(
            "f_w", "Outer wall over the section", data.blank.outer_wall_share, "1", "blank.outer_wall_share"
        )
        wall = sheet.step("t_2", "Outer wall", f"{share} * {radial}", "m", _DEFINITION)
    else:
        wall = sheet.step("t_2", "Static leg, as thick as the lip", "t", "m", _DEFINITION)
    height = sheet.step("h_c", "Cavity, height", f"max({radial} - t - {wall}, 0)", "m", _DEFINITION)
    depth = sheet.step("l_c", "Cavity, depth", f"min(L_lip, {width})", "m", _DEFINITION)
    cavity = sheet.step(
        "V_c", "Cavity, volume", f"pi * ({inner} + 2 * t + {height}) * {height} * {depth}", "m3", "Pappus' theorem"
    )
    volume = sheet.step(
        "V", "Part, volume", f"pi / 4 * ({outer}**2 - {inner}**2) * {width} - {cavity}", "m3", _DEFINITION, part.volume
    )
    _stock(request, trail, plan, assumed, outer, inner, width)
    _count(request, trail, counts, masses, volume)
    return sheet.steps


def _stock(
    request: BlankRequest, trail: Trail, plan: Plan, assumed: dict[str, str], outer: str, inner: str, width: str
) -> None:
    sheet, rule = trail.sheet, trail.case.data.blank

    def taken(symbol: str, title: str, value: float, pointer: str, record: Any, field: str, unit: str = "m") -> str:
        if pointer not in assumed:
            return sheet.given(symbol, title, value, unit, f"request {pointer}")
        if isinstance(record, Curve):
            return sheet.lookup(symbol, title, record, outer, unit, f"blank.{field}")
        return sheet.rule(symbol, title, record, unit, f"blank.{field}")

    given = request.allowances
    more = taken(
        "a_o",
        "Allowance on the outer diameter, radial",
        given.outer or 0.0,
        "/allowances/outer",
        rule.outer_allowance,
        "outer_allowance",
    )
    less = taken(
        "a_i",
        "Allowance in the bore, radial",
        given.inner or 0.0,
        "/allowances/inner",
        rule.inner_allowance,
        "inner_allowance",
    )
    face = taken("a_f", "Allowance on each face", plan.face, "/allowances/face", rule.face_allowance, "face_allowance")
    parting = taken(
        "a_p", "Width of the parting cut", plan.parting, "/allowances/parting", rule.parting_width, "parting_width"
    )
    taken(
        "a_c", "Remnant in the chuck", plan.chucking, "/allowances/chucking", rule.chucking_remnant, "chucking_remnant"
    )
    taken(
        "f_rej",
        "Share of pieces lost",
        plan.reject_share,
        "/allowances/reject_share",
        rule.reject_share,
        "reject_share",
        "1",
    )
    least = sheet.step(
        "D_least", "Blank, least outer diameter", f"{outer} + 2 * {more}", "m", _DEFINITION, plan.least_outer
    )
    greatest = sheet.step("d_most", "Blank, greatest bore", f"{inner} - 2 * {less}", "m", _DEFINITION)
    step = sheet.rule("D_step", "Step of stock diameters", rule.diameter_step, "m", "blank.diameter_step")
    if "/stock/outer_diameter" in assumed:
        sheet.step(
            "D_b",
            "Stock, outer diameter: the next step",
            f"ceil({least} / {step} - 1e-9) * {step}",
            "m",
            _DEFINITION,
            plan.outer_diameter,
        )
    else:
        sheet.given("D_b", "Stock, outer diameter", plan.outer_diameter, "m", "request /stock/outer_diameter")
    if plan.form == "rod":
        sheet.given(
            "d_b",
            "Stock, bore: a rod has none",
            0.0,
            "m",
            "request /stock/form" if "/stock/form" not in assumed else "rule blank.tube_bore_min",
        )
    elif "/stock/inner_diameter" in assumed:
        sheet.step(
            "d_b",
            "Stock, bore: the step before",
            f"floor({greatest} / {step} + 1e-9) * {step}",
            "m",
            _DEFINITION,
            plan.inner_diameter,
        )
    else:
        sheet.given("d_b", "Stock, bore", plan.inner_diameter, "m", "request /stock/inner_diameter")
    record = rule.tube_length if plan.form == "tube" else rule.rod_length
    if "/stock/length" in assumed:
        sheet.rule("L_b", "Length of one piece of stock", record, "m", f"blank.{plan.form}_length")
    else:
        sheet.given("L_b", "Length of one piece of stock", plan.length, "m", "request /stock/length")
    sheet.step("l_b", "Length of stock per piece", f"{width} + 2 * {face} + {parting}", "m", _DEFINITION)


def _count(
    request: BlankRequest, trail: Trail, counts: tuple[int, int, int], masses: tuple[float, float, float], volume: str
) -> None:
    sheet, case = trail.sheet, trail.case
    to_make, per_length, lengths = counts
    net, used, stock = masses
    pieces = sheet.given("N", "Pieces wanted", float(request.pieces), "1", "request /pieces")
    sheet.step(
        "N_l", "Pieces from one length", "max(floor((L_b - a_c) / l_b + 1e-9), 0)", "1", _DEFINITION, float(per_length)
    )
    make = sheet.step("N_m", "Pieces to make", f"ceil({pieces} / (1 - f_rej) - 1e-9)", "1", _DEFINITION, float(to_make))
    sheet.step("N_s", "Lengths of stock", f"ceil({make} / N_l)", "1", _DEFINITION, float(lengths))
    rho = sheet.rule("rho_c", "Density of the compound", case.compound.density, "kg/m3", f"{trail.compound}.density")
    per_metre = sheet.step(
        "m_b", "Mass of stock per length", f"pi / 4 * (D_b**2 - d_b**2) * {rho}", "kg/m", _DEFINITION
    )
    length = sheet.step("L_used", "Length used", f"{make} * l_b + N_s * a_c", "m", _DEFINITION)
    sheet.step("m_1", "Mass of one part", f"{volume} * {rho}", "kg", _DEFINITION)
    sheet.step("m_net", "Mass of the seals wanted", f"{pieces} * {volume} * {rho}", "kg", _DEFINITION, net)
    sheet.step("m_used", "Mass used", f"{length} * {per_metre}", "kg", _DEFINITION, used)
    sheet.step("m_stock", "Mass of the stock", f"N_s * L_b * {per_metre}", "kg", _DEFINITION, stock)
    sheet.step("y_used", "Yield of what is used", "m_net / m_used", "1", _DEFINITION, net / used)
    sheet.step("y_stock", "Yield of the stock", "m_net / m_stock", "1", _DEFINITION, net / stock)
    _cost(request, sheet, make)


def _cost(request: BlankRequest, sheet: Worksheet, make: str) -> None:
    rates = request.rates
    if rates is None:
        return
    parts = []
    if rates.material is not None:
        amount = sheet.given(
            "c_m",
            f"Price of stock, {rates.currency} per {rates.material.per}",
            rates.material.amount,
            "1",
            "request /rates/material",
        )
        mass = {"kg": 1.0, "g": 1e-3, "lb": 0.45359237}[rates.material.per]
        unit = sheet.given("m_per", f"Mass of one {rates.material.per}", mass, "kg", "definition of the unit")
        parts.append(
            sheet.step("c_stock", f"Stock, {rates.currency}", f"{amount} * m_stock / {unit}", "1", _DEFINITION)
        )
    if rates.machine_per_hour is not None:
        hourly = sheet.given(
            "c_h", f"Machine, {rates.currency} per hour", rates.machine_per_hour, "1", "request /rates/machine_per_hour"
        )
        each = sheet.given(
            "t_1",
            "Machine time per piece",
            rates.machine_time_per_piece or 0.0,
            "s",
            "request /rates/machine_time_per_piece",
        )
        once = sheet.given("t_0", "Time of setting up", rates.setup_time or 0.0, "s", "request /rates/setup_time")
        hour = sheet.given("t_hour", "One hour", 3600.0, "s", "definition of the unit")
        parts.append(
            sheet.step(
                "c_machine",
                f"Machining, {rates.currency}",
                f"{hourly} * ({make} * {each} + {once}) / {hour}",
                "1",
                _DEFINITION,
            )
        )
    if parts:
        total = sheet.step("c_all", f"Altogether, {rates.currency}", " + ".join(parts), "1", _DEFINITION)
        sheet.step("c_1", f"Per piece, {rates.currency}", f"{total} / N", "1", _DEFINITION)
