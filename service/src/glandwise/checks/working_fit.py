"""The working of gland checks and thermal fits: limits, strains, what holds the seal, and the gap behind it.

Of several states the worst is shown: the one that gave the criterion its demand and capacity.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from glandwise.checks import gland as glands
from glandwise.checks import o_ring as rings
from glandwise.checks import running
from glandwise.checks import thermal_fit as thermal
from glandwise.checks.case import Case, changed
from glandwise.checks.envelope import Finding, ratio
from glandwise.checks.hardware import End, Hardware, Size
from glandwise.checks.lip import load, relaxed_share
from glandwise.checks.working import Steps, Trail, ratio_of, temperature_high, temperature_low
from glandwise.checks.worksheet import datum_source
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.contract.duty import Duty
from glandwise.contract.gland import Deviations, Gland
from glandwise.mechanics import contact, fits, retention, springs
from glandwise.mechanics import numeric as num

if TYPE_CHECKING:
    from glandwise.checks.o_ring import Proposal

Design = FlexibleLip | EnergizedLip

_DEFINITION = "definition"
_STRAIN = "thermal strain from curves of the rules (models/thermal_expansion)"
_HELD = "shell held at its root and heated, derived (models/shell_lip)"
_LIMITS = "limits of size, ISO 286-1"
_GLAND = "geometry of the O-ring gland (models/fits)"
_LAME = "Lame's thick-walled cylinders (models/fits)"
_EXTRUSION = "heel in shear and bending over the gap (models/retention)"
_HOLDING = "Coulomb friction and elementary statics (models/retention)"
_LINDLEY = "Lindley 1967 (models/o_ring)"


class FitTrail(Trail):
    """The way through the fits of one case: hardware, strains, and what is judged of them."""

    def __init__(self, h: Hardware, duty: Duty, design: Design, gland: Gland, reference: float | None = None) -> None:
        super().__init__(h.case, duty, design)
        self.h, self.gland = h, gland
        sheet, rule = self.sheet, h.data.expansion.metals.reference_temperature
        path = "expansion.metals.reference_temperature"
        sheet.rule("T_20", "Temperature from which expansions of metals count", rule, "K", path)
        if reference is None:
            sheet.step(
                "T_ref",
                "Temperature at which dimensions hold",
                "T_20",
                "K",
                "dimensions hold at 20 degC, ISO 1",
                h.reference,
            )
        else:
            sheet.given(
                "T_ref", "Temperature at which dimensions hold", reference, "K", "request /assembly_temperature"
            )
        self._tags: dict[str, str] = {"T_ref": "ref", "T_min": "min", "T": "norm", "T_max": "max"}

    def at(self, temperature: float) -> str:
        """Symbol of a temperature of the duty or of the assembly, or one found by a search over the duty's range."""
        for symbol in self._tags:
            if self.sheet[symbol] == temperature:
                return symbol
        symbol = f"T_w{len(self._tags) - 3}"
        self._tags[symbol] = symbol.removeprefix("T_")
        return self.sheet.given(
            symbol,
            "Worst temperature in the range of the duty, found by search",
            temperature,
            "K",
            "search over the range",
        )

    # ---------------------------------------------------------------------------------------------------------- sizes

    def _limit_of(self, symbol: str, title: str, size: Size, which: str, pointer: str, nominal: str | None) -> str:
        """Write one limit of a size."""
        sheet, value = self.sheet, size.low if which == "low" else size.high
        end = "lo" if which == "low" else "hi"
        words = "lower" if which == "low" else "upper"
        if nominal is None:
            return sheet.given(f"{symbol}_{end}", f"{title}, {words} limit", value, "m", f"request {pointer}")
        deviation = self._deviation(size, which, pointer)
        name = sheet.given(
            f"e_{symbol}_{end}",
            f"{title}, {words} deviation",
            deviation,
            "m",
            f"tolerance class {size.tolerance_class}, rule gland.it_grades"
            if size.tolerance_class
            else f"request {pointer}",
        )
        return sheet.step(f"{symbol}_{end}", f"{title}, {words} limit", f"{nominal} + {name}", "m", _LIMITS, value)

    def _deviation(self, size: Size, which: str, pointer: str) -> float:
        grades, shafts = self.h.data.gland.it_grades, self.h.data.gland.shaft_fundamental_deviations
        if size.tolerance_class is not None:
            found = fits.limit_deviations(
                size.tolerance_class,
                size.nominal,
                grades.si_over,
                grades.si_up_to,
                grades.si_columns,
                shafts.si_columns,
            )
            return float(found.lower if which == "low" else found.upper)
        given = self.gland.shaft_tolerance if "shaft" in pointer else self.gland.bore_tolerance
        assert isinstance(given, Deviations)
        return given.lower if which == "low" else given.upper

    def shaft(self, which: str) -> str:
        """Write a limit of the shaft."""
        return self._limit_of("d", "Shaft", self.h.shaft, which, "/gland/shaft_tolerance", "d")

    def bore(self, which: str) -> str:
        """Write a limit of the bore, or its nominal size."""
        if which == "nominal":
            pointer = "/duty/bore/diameter"
            source = f"rule {self.assumed[pointer]}" if pointer in self.assumed else f"request {pointer}"
            return self.sheet.given("D", "Bore, nominal", self.h.bore.nominal, "m", source)
        return self._limit_of("D", "Bore", self.h.bore, which, "/gland/bore_tolerance", self.bore("nominal"))

    def _part(self, symbol: str, title: str, size: Size, which: str, field: str) -> str:
        pointer = f"/gland/{field}"
        if pointer not in self.assumed:
            if which == "nominal":
                return self.sheet.given(symbol, f"{title}, nominal", size.nominal, "m", f"request {pointer}")
            return self._limit_of(symbol, title, size, which, pointer, None)
        source = f"rule {self.assumed[pointer]}, rounded"
        nominal = self.sheet.given(symbol, f"{title}, nominal", size.nominal, "m", source)
        return nominal if which == "nominal" else self._limit_of(symbol, title, size, which, pointer, nominal)

    def body(self, which: str) -> str:
        """Write a limit of the body."""
        return self._part("B", "Body of the seal", self.h.body, which, "body_diameter")

    def throat(self, which: str) -> str:
        """Write a limit of the opening behind the seal."""
        return self._part("H", "Opening of the housing", self.h.throat, which, "throat_diameter")

    def housing(self) -> str:
        """Write the outer diameter of the housing."""
        pointer, h = "/gland/housing_outer_diameter", self.h
        if pointer not in self.assumed:
            return self.sheet.given(
                "D_o", "Outer diameter of the housing", h.housing_outer_diameter, "m", f"request {pointer}"
            )
        record = h.data.gland.housing.outer_diameter_ratio
        share = self.sheet.rule("f_o", "Housing over bore", record, "1", "gland.housing.outer_diameter_ratio")
        return self.sheet.step(
            "D_o",
            "Outer diameter of the housing",
            f"{share} * {self.bore('nominal')}",
            "m",
            _DEFINITION,
            h.housing_outer_diameter,
        )

    # --------------------------------------------------------------------------------------------------------- strains

    def _polynomial(self, fit: Any, part: str, path: str) -> Callable[[str], str]:
        names = [
            self.sheet.given(
                f"n_{part}_{i}",
                f"Coefficient of the low-temperature fit, power {i}",
                value,
                f"1/K{i if i > 1 else ''}",
                datum_source(path, fit),
            )
            for i, value in enumerate(fit.si_coefficients)
            if i and value
        ]
        return lambda at: " + ".join(
            f"{name} * {at}**{name.rpartition('_')[2]}" if not name.endswith("_1") else f"{name} * {at}"
            for name in names
        )

    def _metal(self, part: str, name: str, record: Any, path: str, at: str) -> str:
        """Write the strain of a metal from 20 degC to a temperature."""
        sheet, rule = self.sheet, self.h.data.expansion
        symbol, tag = f"e_{part}", self._tags[at]
        words = f"Strain of the {_PART[part]} from 20 degC"
        alpha = sheet.rule(f"alpha_{part}", f"Mean expansion of the {_PART[part]}", record, "1/K", path)
        if sheet[at] >= sheet["T_20"]:
            return sheet.step(f"{symbol}_{tag}", words, f"{alpha} * ({at} - T_20)", "1", _STRAIN)
        own = rule.metals.fits.get(name)
        key = own or rule.metals.other
        fit = getattr(rule.cryogenic, key)
        poly = self._polynomial(fit, part, f"expansion.cryogenic.{key}")
        cold = at
        if fit.flat_below_k > 0.0:
            flat = sheet.given(
                f"T_flat_{part}",
                "Temperature below which nothing shrinks further",
                fit.flat_below_k,
                "K",
                datum_source(f"expansion.cryogenic.{key}", fit),
            )
            cold = sheet.step(f"T_{part}_{tag}", "Temperature, not below that", f"max({at}, {flat})", "K", _DEFINITION)
        equation = f"({poly(cold)}) - ({poly('T_20')})"
        if own is None:
            low = sheet.rule(
                "T_span",
                "Lower end of the span over which a lent shape is scaled",
                rule.metals.shape_span,
                "K",
                "expansion.metals.shape_span",
            )
            scale = sheet.step(
                f"f_{part}",
                f"Scale of the lent shape for the {_PART[part]}",
                f"{alpha} * (T_20 - {low}) / (({poly('T_20')}) - ({poly(low)}))",
                "1",
                _STRAIN,
            )
            equation = f"{scale} * ({equation})"
        return sheet.step(f"{symbol}_{tag}", words, equation, "1", _STRAIN)

    def _ptfe(self, at: str) -> str:
        """Write the strain of the compound from the reference of its table to a temperature."""
        sheet, rule = self.sheet, self.h.data.expansion
        table, path = rule.ptfe_unfilled, "expansion.ptfe_unfilled"
        source, symbol = datum_source(path, table), f"e_seal_{self._tags[at]}"
        zero = sheet.given("T_K", "Reference temperature of the table of PTFE", table.si_reference, "K", source)
        scale = sheet.rule(
            "f_exp",
            "Expansion of the compound over that of unfilled PTFE",
            self.case.compound.expansion_ratio,
            "1",
            f"{self.compound}.expansion_ratio",
        )
        coefficients = dict(zip(map(float, table.si_temperature), map(float, table.si_coefficient), strict=True))
        knots = sorted({*coefficients, float(table.si_reference)})
        t, title = sheet[at], "Strain of the seal's compound from 25 degC (from its table)"
        points: dict[str, float] = {}

        def strain(knot: float, end: str) -> tuple[str, str]:
            """Symbol of a point of the table, and the strain there."""
            if knot == table.si_reference:
                return zero, "0"
            x, y = f"{symbol}_x{end}", f"{symbol}_y{end}"
            points[x], points[y] = knot, coefficients[knot]
            return x, f"{y} * ({x} - {zero})"

        if t < knots[0]:
            poly = self._polynomial(rule.cryogenic.ptfe_expansion, "seal", "expansion.cryogenic.ptfe_expansion")
            x, e = strain(knots[0], "0")
            equation = f"{scale} * ({e} + ({poly(at)}) - ({poly(x)}))"
            return sheet.step(symbol, "Strain of the seal's compound from 25 degC", equation, "1", source, **points)
        index = min(max(i for i, knot in enumerate(knots) if knot <= t), len(knots) - 2)
        (x0, e0), (x1, e1) = strain(knots[index], "0"), strain(knots[index + 1], "1")
        equation = f"{scale} * ({e0} + ({e1} - {e0}) * ({at} - {x0}) / ({x1} - {x0}))"
        return sheet.step(symbol, title, equation, "1", source, **points)

    def strain(self, part: str, at: str) -> str:
        """Write the strain of a part from where its dimensions hold to a temperature."""
        h, sheet = self.h, self.sheet
        name = f"eps_{part}_{self._tags[at]}"
        if part == "ring":
            assert h.case.elastomer is not None
            elastomer = next(key for key, record in h.data.elastomers.items() if record is h.case.elastomer)
            alpha = sheet.rule(
                "alpha_ring",
                "Mean expansion of the O-ring",
                h.case.elastomer.mean_expansion,
                "1/K",
                f"elastomers.{elastomer}.mean_expansion",
            )
            return sheet.step(
                name, "Strain of the O-ring", f"{alpha} * ({at} - T_ref)", "1", _STRAIN, h.ring_strain(sheet[at])
            )
        if part == "seal":
            there, here, value = self._ptfe(at), self._ptfe("T_ref"), h.seal_strain(sheet[at])
        else:
            material, record, path = self._material(part)
            there, here = (self._metal(part, material, record, path, item) for item in (at, "T_ref"))
            value = h.metal_strain(material, record.si, sheet[at])
        title = f"Strain of the {_PART[part]} from where dimensions hold"
        return sheet.step(name, title, f"({there} - {here}) / (1 + {here})", "1", _STRAIN, value)

    def _material(self, part: str) -> tuple[str, Any, str]:
        h = self.h
        if part == "alloy":
            name = self._alloy_path().removeprefix("alloys.")
            assert h.case.alloy is not None
            return name, h.case.alloy.mean_expansion, f"alloys.{name}.mean_expansion"
        if part == "case":
            given = self.gland.case
            name = h.data.gland.press_fit.material.name if given is None or given.material is None else given.material
            return name, h.data.shaft_materials[name].mean_expansion, f"shaft_materials.{name}.mean_expansion"
        name = h.shaft_material_name if part == "shaft" else h.housing_material_name
        return name, h.data.shaft_materials[name].mean_expansion, f"shaft_materials.{name}.mean_expansion"

    # ---------------------------------------------------------------------------------------------------------- O-ring

    def _ring_size(self, symbol: str, title: str, size: Size, which: str, source: str) -> str:
        words = {"low": ("_lo", ", lower limit"), "high": ("_hi", ", upper limit"), "nominal": ("", ", nominal")}[which]
        return self.sheet.given(symbol + words[0], title + words[1], getattr(size, which), "m", source)

    def ring(
        self, p: Proposal, at: str, end: End, share: str | None = None, centred: bool = False, tag: str = ""
    ) -> dict[str, str]:
        """Write the O-ring at a temperature and an end of the tolerances; returns its symbols."""
        h = self.h
        inner = self.sheet.scope(f"{end[:5]}_{self._tags[at]}{tag}")
        value = None if share is None else self.sheet[share]
        state = rings.condition(
            h, p.ring, p.groove, rings.strains(h, self.sheet[at]), end, 1.0 if value is None else value, centred
        )

        def pick(loose: str) -> str:
            if end == "nominal":
                return "nominal"
            return "low" if (loose == "low") == (end == "loosest") else "high"

        housing, seal, rubber = (self.strain(part, at) for part in ("housing", "seal", "ring"))
        given = self.gland.o_ring is not None
        of_ring = "request /gland/o_ring" if given else f"AS568-{p.ring.dash:03d}, rule gland.o_ring_choice"
        of_groove = "request /gland/groove" if self.gland.groove is not None else "rule gland.o_ring_choice, by search"
        bottom0 = self._ring_size("G", "Groove bottom", p.groove.diameter, pick("low"), of_groove)
        width0 = self._ring_size("W", "Groove width", p.groove.width, pick("high"), of_groove)
        inner0 = self._ring_size("d_i", "Inner diameter of the O-ring", p.ring.inner_diameter, pick("low"), of_ring)
        section0 = self._ring_size("d_s", "Section of the O-ring", p.ring.section, pick("low"), of_ring)
        grown = f"(1 + {seal})" if share is None else f"{share} * (1 + {seal})"
        bore = inner.step("D_t", "Bore at temperature", f"{self.bore(pick('high'))} * (1 + {housing})", "m", _GLAND)
        bottom = inner.step("G_t", "Groove bottom at temperature", f"{bottom0} * {grown}", "m", _GLAND)
        depths = []
        sides = {
            "nominal": (("nominal", 0),),
            "loosest": (("low", 1), ("high", 1)),
            "tightest": (("low", -1), ("high", -1)),
        }[end]
        off = None
        if not centred and end != "nominal":
            record = h.data.gland.body.offset_share
            off = self.sheet.rule(
                "f_off", "Share of the clearance the body sits off centre", record, "1", "gland.body.offset_share"
            )
        for which, sign in sides:
            outside = inner.step(
                f"B_{which}_t", f"Body at temperature, {which}", f"{self.body(which)} * {grown}", "m", _GLAND
            )
            equation = f"(max({bore}, {outside}) - {bottom}) / 2"
            if off is not None:
                equation += f" {'+' if sign > 0 else '-'} {off} / 2 * max({bore} - {outside}, 0)"
            depths.append(inner.step(f"h_{which}", f"Depth of the gland, body {which}", equation, "m", _GLAND))
        joined = ", ".join(depths)
        pickword = {"nominal": depths[0], "loosest": f"max({joined})", "tightest": f"min({joined})"}[end]
        depth = inner.step("h", "Depth of the gland", pickword, "m", _GLAND, state.depth)
        section = inner.step(
            "d_1",
            "Section on its seat",
            f"stretched_section({section0} * (1 + {rubber}), {inner0} * (1 + {rubber}), {bottom})",
            "m",
            _GLAND,
            state.section,
        )
        squeeze = inner.step("s", "Squeeze", f"{section} - {depth}", "m", _GLAND, state.squeeze)
        other = inner0
        if end != "nominal":
            other = self._ring_size(
                "d_i",
                "Inner diameter of the O-ring",
                p.ring.inner_diameter,
                "high" if end == "loosest" else "low",
                of_ring,
            )
        names = {
            "bottom": bottom,
            "depth": depth,
            "section": section,
            "squeeze": squeeze,
            "ratio": inner.step(
                "C", "Squeeze over section", f"{squeeze} / {section}", "1", _GLAND, state.squeeze_ratio
            ),
            "stretch": inner.step(
                "st", "Stretch", f"{bottom} / ({other} * (1 + {rubber})) - 1", "1", _GLAND, state.stretch
            ),
        }
        if state.depth > 0.0:
            names["fill"] = inner.step(
                "fi",
                "Fill of the gland",
                f"pi * {section}**2 / 4 / ({depth} * {width0} * (1 + {seal}))",
                "1",
                _GLAND,
                state.fill,
            )
        return names

    def share_after_heat(self) -> str:
        """Write what is left of the body's diameter once the bore has stopped it hot."""
        h = self.h
        seal, housing = self.strain("seal", "T_max"), self.strain("housing", "T_max")
        kept = self.sheet.rule(
            "f_set",
            "Share of a deformation that stays",
            h.case.compound.set_fraction,
            "1",
            f"{self.compound}.set_fraction",
        )
        return self.sheet.step(
            "f_body",
            "Share of the body's diameter left after heat",
            f"1 - {kept} * max(1 - {self.bore('low')} * (1 + {housing}) / ({self.body('high')} * (1 + {seal})), 0)",
            "1",
            "what is squeezed hot does not come back (models/thermal_expansion)",
            rings.body_share_after_heat(h, rings.strains(h, self.sheet["T_max"])),
        )

    def o_ring(self, p: Proposal, t: glands.Temperatures) -> None:
        """Write squeeze, stretch and fill of the O-ring at their worst."""
        sheet, _h, use, rule = self.sheet, self.h, p.use, self.h.data.gland.o_ring_gland
        path = "gland.o_ring_gland"
        at = self.at(use.squeeze_temperature)
        names = self.ring(p, at, use.squeeze_end)
        assembled = use.squeeze_temperature == t.assembly and use.squeeze.bound not in {
            rule.squeeze_service_min.si,
            rule.squeeze_service_max.si,
        }
        if use.squeeze_end == "tightest":
            field = "squeeze_max" if assembled else "squeeze_service_max"
            limit = sheet.rule("C_most", "Greatest squeeze", getattr(rule, field), "1", f"{path}.{field}")
            self.use("o_ring_squeeze", f"{names['ratio']} / {limit}", use.squeeze.utilization)
        else:
            if assembled:
                share = sheet.rule("C_0", "Least squeeze over section", rule.squeeze_min, "1", f"{path}.squeeze_min")
                length = sheet.rule(
                    "s_0", "Least squeeze", rule.squeeze_min_absolute, "m", f"{path}.squeeze_min_absolute"
                )
                limit = sheet.step(
                    "C_least",
                    "Least squeeze",
                    f"max({share}, {length} / {names['section']})",
                    "1",
                    _DEFINITION,
                    use.squeeze.bound,
                )
            else:
                limit = sheet.rule(
                    "C_least", "Least squeeze in service", rule.squeeze_service_min, "1", f"{path}.squeeze_service_min"
                )
            self.use("o_ring_squeeze", f"{limit} / max({names['ratio']}, 0)", use.squeeze.utilization)
        self._stretch(p, t)
        filled = self.ring(p, self.at(use.fill_temperature), "tightest")
        if "fill" in filled:
            limit = sheet.rule("F_most", "Greatest fill", rule.fill_max, "1", f"{path}.fill_max")
            self.use("o_ring_fill", f"{filled['fill']} / {limit}", use.fill.utilization)

    def _stretch(self, p: Proposal, t: glands.Temperatures) -> None:
        sheet, h, use, rule = self.sheet, self.h, p.use, self.h.data.gland.o_ring_gland
        if use.stretch.bound == rule.stretch_min.si:
            value = self.ring(p, self.at(t.assembly), "loosest")["stretch"]
        else:
            hottest = max(
                t, key=lambda item: rings.condition(h, p.ring, p.groove, rings.strains(h, item), "tightest").stretch
            )
            value = self.ring(p, self.at(hottest), "tightest")["stretch"]
        low = sheet.rule("S_least", "Least stretch", rule.stretch_min, "1", "gland.o_ring_gland.stretch_min")
        high = sheet.rule("S_most", "Greatest stretch", rule.stretch_max, "1", "gland.o_ring_gland.stretch_max")
        equation = f"max(abs({value} - ({low} + {high}) / 2) / (({high} - {low}) / 2), 0)"
        self.use("o_ring_stretch", equation, use.stretch.utilization)

    # ------------------------------------------------------------------------------------------------------- press fit

    def press_fit(self, c: glands.PressedCase, fit: glands.Fit, criterion: str, utilization: Any) -> str:
        """Write a pressed-in case in one state; returns the symbol of its interference."""
        sheet, h = self.sheet, self.h
        at = self.at(fit.temperature)
        which, hole = ("low", "high") if fit.end == "loosest" else ("high", "low")
        given, rule = self.gland.case, h.data.gland.press_fit
        stated = given is not None and given.outer_diameter is not None
        if stated:
            outside = self._ring_size("K", "Case", c.outer, which, "request /gland/case/outer_diameter")
        else:
            column = "lower" if which == "low" else "upper"
            table = h.data.gland.case_interference
            more = fits.size_step_value(h.bore.nominal, table.si_over, table.si_up_to, table.si_columns[column])
            step = sheet.given(
                f"e_K_{which}",
                f"Interference of the case, {column} end",
                more,
                "m",
                datum_source("gland.case_interference", table),
            )
            words = "lower" if which == "low" else "upper"
            outside = sheet.step(
                f"K_{'lo' if which == 'low' else 'hi'}",
                f"Case, {words} limit",
                f"{self.bore('nominal')} + {step}",
                "m",
                _DEFINITION,
                c.outer.low if which == "low" else c.outer.high,
            )
        housing, grown = self.strain("housing", at), self.strain("case", at)
        left = sheet.step(
            f"i_{fit.end[:5]}_{self._tags[at]}",
            f"Interference of the case at its {fit.end}",
            f"{outside} * (1 + {grown}) - {self.bore(hole)} * (1 + {housing})",
            "m",
            "geometry (models/fits)",
            fit.interference,
        )
        if criterion:
            least = sheet.rule(
                "i_least", "Least interference", rule.interference_min, "m", "gland.press_fit.interference_min"
            )
            if fit.interference > 0.0:
                self.use(criterion, f"{least} / {left}", utilization)
        return left

    def press_pressure(self, c: glands.PressedCase, fit: glands.Fit, left: str) -> str:
        """Write the contact pressure of a pressed-in case, capped where the case yields."""
        sheet, h = self.sheet, self.h
        rule, given = h.data.gland.press_fit, self.gland.case
        name = self._material("case")[0]
        material, housing = h.data.shaft_materials[name], h.housing_material
        tag = left.removeprefix("i_")
        bore = self.bore("nominal")
        wall = self._case_number("wall_thickness", "w_K", "Wall of the case", c.wall, rule.wall_thickness, bore)
        moduli = []
        for part, record, path in (("K", material, name), ("H", housing, h.housing_material_name)):
            words = "case" if part == "K" else "housing"
            moduli.append(
                (
                    sheet.rule(
                        f"E_{part}",
                        f"Young's modulus of the {words}",
                        record.elastic_modulus,
                        "Pa",
                        f"shaft_materials.{path}.elastic_modulus",
                    ),
                    sheet.rule(
                        f"nu_{part}",
                        f"Poisson ratio of the {words}",
                        record.poisson_ratio,
                        "1",
                        f"shaft_materials.{path}.poisson_ratio",
                    ),
                )
            )
        (e_k, nu_k), (e_h, nu_h) = moduli
        inside = sheet.step("r_K", "Inner radius of the case", f"{bore} / 2 - {wall}", "m", _DEFINITION)
        hub = sheet.step(
            "c_H",
            "Shape of the housing as a ring",
            f"({self.housing()}**2 + {bore}**2) / ({self.housing()}**2 - {bore}**2)",
            "1",
            _LAME,
        )
        sleeve = sheet.step(
            "c_K",
            "Shape of the case as a ring",
            f"(({bore} / 2)**2 + {inside}**2) / (({bore} / 2)**2 - {inside}**2)",
            "1",
            _LAME,
        )
        elastic = sheet.step(
            f"p_el_{tag}",
            "Contact pressure, elastic",
            f"max({left} / 2 / ({bore} / 2 / {e_h} * ({hub} + {nu_h}) + {bore} / 2 / {e_k} * ({sleeve} - {nu_k})), 0)",
            "Pa",
            _LAME,
        )
        if given is not None and given.yield_strength is not None:
            strength = sheet.given(
                "S_K", "Yield strength of the case", given.yield_strength, "Pa", "request /gland/case/yield_strength"
            )
        else:
            strength = sheet.rule(
                "S_K", "Yield strength of the case", rule.yield_strength, "Pa", "gland.press_fit.yield_strength"
            )
        most = sheet.step(
            "p_y",
            "Pressure at which the case yields inside",
            f"{strength} * (1 - ({inside} / ({bore} / 2))**2) / 2",
            "Pa",
            _LAME,
        )
        return sheet.step(
            f"p_K_{tag}", "Contact pressure of the case", f"min({elastic}, {most})", "Pa", _LAME, fit.pressure
        )

    def _case_number(self, field: str, symbol: str, title: str, value: float, record: Any, at: str) -> str:
        pointer = f"/gland/case/{field}"
        if pointer in self.assumed:
            return self.sheet.lookup(symbol, title, record, at, "m", f"gland.press_fit.{field}")
        return self.sheet.given(symbol, title, value, "m", f"request {pointer}")

    def case_length(self, c: glands.PressedCase) -> str:
        """Write the length of a pressed-in case."""
        sheet, pointer, h = self.sheet, "/gland/case/length", self.h
        if pointer not in self.assumed:
            return sheet.given("L_K", "Length of the case", c.length, "m", f"request {pointer}")
        share = sheet.rule(
            "f_K", "Case over seal width", h.data.gland.press_fit.length_share, "1", "gland.press_fit.length_share"
        )
        width = "/gland/seal_width"
        source = f"rule {self.assumed[width]}" if width in self.assumed else f"request {width}"
        name = sheet.given("w", "Width of the seal", h.width, "m", source)
        return sheet.step("L_K", "Length of the case", f"{share} * {name}", "m", _DEFINITION, c.length)

    # ------------------------------------------------------------------------------------------------------------ clamp

    def clamp(self, f: glands.Flange, utilization: Any) -> None:
        """Write the clamped flange."""
        sheet, h, rule = self.sheet, self.h, self.h.data.gland.retention
        given, path = self.gland.clamp, "gland.retention"
        if given is not None and given.outer_diameter is not None:
            outer = sheet.given(
                "D_f", "Clamped face, outer diameter", f.outer, "m", "request /gland/clamp/outer_diameter"
            )
        else:
            outer = sheet.step("D_f", "Clamped face, outer diameter", self.bore("nominal"), "m", "the bore", f.outer)
        if given is not None and given.inner_diameter is not None:
            inner = sheet.given(
                "d_f", "Clamped face, inner diameter", f.inner, "m", "request /gland/clamp/inner_diameter"
            )
        else:
            share = sheet.rule(
                "f_face", "Clamped share of the section", rule.clamp_face_share, "1", f"{path}.clamp_face_share"
            )
            inner = sheet.step(
                "d_f",
                "Clamped face, inner diameter",
                f"{outer} - {share} * ({self.bore('nominal')} - d)",
                "m",
                _DEFINITION,
                f.inner,
            )
        area = sheet.step("A_f", "Clamped area", f"pi / 4 * max({outer}**2 - {inner}**2, 0)", "m2", _DEFINITION)
        strength = sheet.lookup(
            "S_hot",
            "Yield strength of the hot compound",
            h.case.compound.yield_strength,
            "T_max",
            "Pa",
            f"{self.compound}.yield_strength",
        )
        long = sheet.rule(
            "f_long",
            "Share of it that is stood for long",
            rule.clamp_pressure_share,
            "1",
            f"{path}.clamp_pressure_share",
        )
        allowed = sheet.step(
            "p_f_max", "Allowed pressure on the face", f"{strength} * {long}", "Pa", _DEFINITION, f.allowed
        )
        if f.proposed:
            aim = sheet.rule("f_aim", "Share of it to be aimed at", rule.clamp_aim, "1", f"{path}.clamp_aim")
            force = sheet.step("F_f", "Clamp force, proposed", f"{aim} * {allowed} * {area}", "N", _DEFINITION, f.force)
        else:
            force = sheet.given("F_f", "Clamp force", f.force, "N", "request /gland/clamp/force")
        if num.isfinite(f.pressure):
            pressure = sheet.step("p_f", "Pressure on the face", f"{force} / {area}", "Pa", _DEFINITION, f.pressure)
            self.use("clamp", ratio_of(sheet, pressure, allowed), utilization)

    # -------------------------------------------------------------------------------------------------------- extrusion

    def extrusion(self, judged: glands.Judged, finding: Finding) -> None:
        """Write the gap behind the seal at its worst, and the pressure that the heel bridges over it."""
        sheet, h, case = self.sheet, self.h, self.case
        worst = min(judged.extrusion, key=lambda state: state.allowed_pressure)
        assert finding.measure is not None
        demand = sheet.step(
            "p_in", "Sealed pressure, a vacuum counting as none", "max(p, 0)", "Pa", _DEFINITION, finding.measure.demand
        )
        at, rule = self.at(worst.temperature), h.data.gland.extrusion
        path = "gland.extrusion"
        heel = self._heel(judged)
        base = sheet.lookup(
            f"S_{self._tags[at]}",
            "Yield strength of the compound",
            case.compound.yield_strength,
            at,
            "Pa",
            f"{self.compound}.yield_strength",
        )
        share = sheet.rule(
            "f_life", "Share of it that the heel may see for life", rule.strength_share, "1", f"{path}.strength_share"
        )
        tension = sheet.step("S_t", "Strength of the heel in tension", f"{base} * {share}", "Pa", _DEFINITION)
        factor = sheet.rule(
            "f_sh", "Strength in shear over that in tension", rule.shear_over_yield, "1", f"{path}.shear_over_yield"
        )
        shear = sheet.step("S_sh", "Strength of the heel in shear", f"{tension} * {factor}", "Pa", _DEFINITION)
        planes = sheet.rule("n_sh", "Shear planes", rule.planes, "1", f"{path}.planes")
        sheet.step(
            "p_flow",
            "Pressure at which the surface flows into any gap",
            f"(2 + pi) * {shear}",
            "Pa",
            _EXTRUSION,
            worst.surface_flow,
        )
        self.gap("g", "Gap at the pressure of the duty", at, demand, worst.gap)
        if num.isfinite(worst.allowed_pressure):
            allowed = sheet.given(
                "p_br",
                "Pressure the heel bridges, found by search; proved below",
                worst.allowed_pressure,
                "Pa",
                _EXTRUSION,
            )
            there = self.gap("g_br", "Gap at that pressure", at, allowed, None)
            if sheet[there] > 0.0:
                limit = sheet.step(
                    "p_pr",
                    "Pressure that shears or folds the heel into it",
                    f"min({planes} * {shear} * {heel} / {there}, {tension} / 2 * ({heel} / {there})**2)",
                    "Pa",
                    _EXTRUSION,
                )
                sheet.step("dp_br", "What the search leaves", f"{limit} - {allowed}", "Pa", _EXTRUSION)
            self.use("extrusion_gap", ratio_of(sheet, demand, allowed), finding.measure.utilization)

    def _heel(self, judged: glands.Judged) -> str:
        sheet, case, pointer = self.sheet, self.case, "/gland/heel_thickness"
        if self.gland.heel_thickness is not None:
            return sheet.given("t_h", "Thickness of the heel", judged.heel, "m", f"request {pointer}")
        if case.family == "flexible_lip":
            self.dimensions()
            return sheet.step(
                "t_h", "Thickness of what bridges the gap", "t", "m", "a flexible lip bridges it itself", judged.heel
            )
        sizing = case.data.sizing.energized_lip
        path = "sizing.energized_lip"
        standard = sheet.lookup(
            "t_h0", "Thickness of a standard heel", sizing.heel_thickness, "d", "m", f"{path}.heel_thickness"
        )
        if case.features["heel"] != "extended":
            return sheet.step("t_h", "Thickness of the heel", standard, "m", _DEFINITION, judged.heel)
        more = sheet.rule(
            "f_h", "Extended over standard heel", sizing.extended_heel_ratio, "1", f"{path}.extended_heel_ratio"
        )
        return sheet.step("t_h", "Thickness of the heel", f"{standard} * {more}", "m", _DEFINITION, judged.heel)

    def gap(self, symbol: str, title: str, at: str, pressure: str, value: Any) -> str:
        """Write the greatest gap between shaft and opening at a temperature and a pressure."""
        sheet, h = self.sheet, self.h
        material, name = h.housing_material, h.housing_material_name
        modulus = sheet.rule(
            "E_H",
            "Young's modulus of the housing",
            material.elastic_modulus,
            "Pa",
            f"shaft_materials.{name}.elastic_modulus",
        )
        poisson = sheet.rule(
            "nu_H", "Poisson ratio of the housing", material.poisson_ratio, "1", f"shaft_materials.{name}.poisson_ratio"
        )
        bore, outer, throat = self.bore("high"), self.housing(), self.throat("high")
        growth = sheet.step(
            "u_p",
            "Growth of the opening's radius per pressure",
            f"{bore} / 2 / {modulus} * (({outer}**2 + {bore}**2) / ({outer}**2 - {bore}**2) + {poisson}) * {throat} / {bore}",
            "m/Pa",
            _LAME,
        )
        housing, shaft = self.strain("housing", at), self.strain("shaft", at)
        clear = sheet.step(
            f"c_{symbol}",
            f"{title}: clearance on the diameter",
            f"max({throat} * (1 + {housing}) + 2 * {growth} * max({pressure}, 0) - {self.shaft('low')} * (1 + {shaft}), 0)",
            "m",
            "geometry (models/fits)",
        )
        if not num.isfinite(h.offset):
            return sheet.step(
                symbol, f"{title}, the shaft touching the other side", clear, "m", "no offset is stated", value
            )
        offset = self._given("a_off", "Shaft-to-bore offset", self.duty.offset, "m", "/duty/offset")
        moved = f"{offset}"
        if self.duty.runout:
            moved += " + " + self._given("TIR_stated", "Stated runout", self.duty.runout, "m", "/duty/runout") + " / 2"
        return sheet.step(
            symbol, title, f"{clear} / 2 + min({moved}, {clear} / 2)", "m", "geometry (models/fits)", value
        )

    # --------------------------------------------------------------------------------------------------------- rotation

    def rotation(self, judged: glands.Judged, finding: Finding, means: str) -> None:
        """Write the state in which the seal is most likely to turn: torque of the lips, torque that holds."""
        sheet, _h, rule = self.sheet, self.h, self.h.data.gland.retention
        if finding.measure is None:
            return
        margin = rule.margin_min.si
        worst = max(judged.rotation, key=lambda state: ratio(margin * state.lip_torque, state.holding_torque))
        driving = self._driving(judged, worst)
        holding = self._holding(judged, worst, means)
        if holding is None:
            return
        if worst.pressure > 0.0:
            share = sheet.rule(
                "f_seat",
                "Share of the thrust that seats the body",
                rule.seating_share,
                "1",
                "gland.retention.seating_share",
            )
            friction = self._friction("ptfe_on_metal", "PTFE on metal")
            bore, pressure = self.bore("nominal"), self._pressure(worst)
            thrust = sheet.step(
                "F_seat",
                "Thrust that seats the body",
                f"{share} * {pressure} * pi * (({bore} / 2)**2 - r**2)",
                "N",
                _HOLDING,
            )
            seating = sheet.step(
                "M_seat",
                "Torque that it holds",
                f"{friction} * {thrust} * 2 / 3 * (({bore} / 2)**2 + {bore} / 2 * r + r**2) / ({bore} / 2 + r)",
                "N.m",
                _HOLDING,
            )
            holding = f"{holding} + {seating}"
        holds = sheet.step(
            "M_hold", "Torque at which the seal turns in its bore", holding, "N.m", _HOLDING, worst.holding_torque
        )
        needed = sheet.rule("n_margin", "Margin asked for", rule.margin_min, "1", "gland.retention.margin_min")
        equation = "0" if sheet[driving] == 0.0 else f"{needed} * {driving} / {holds}"
        self.use("seal_rotation", equation, finding.measure.utilization)

    def _pressure(self, worst: glands.Rotation) -> str:
        if worst.pressure == 0.0:
            return self.sheet.given("p_s", "Pressure in this state", 0.0, "Pa", "state without pressure")
        return self.sheet.step("p_s", "Pressure in this state", "max(p, 0)", "Pa", _DEFINITION, worst.pressure)

    def _friction(self, field: str, words: str) -> str:
        record = getattr(self.h.data.gland.static_friction, field)
        return self.sheet.rule(
            f"mu_{field}", f"Static friction of {words}", record, "1", f"gland.static_friction.{field}"
        )

    def _driving(self, judged: glands.Judged, worst: glands.Rotation) -> str:
        """Write the torque of the lips in a state of its own, and take its steps over."""
        case, data = judged.case, judged.case.data
        resting = worst.state != "hot_running"
        time = data.running.nominal_time if not resting else data.running.fresh_time
        seal, aged = case, worst.state == "end_of_life_start"
        if aged:
            kept = relaxed_share(case, judged.temperatures.normal, data.sizing.following.service_time.si)
            seal = changed(
                case,
                interference=case.interference
                * kept
                / relaxed_share(case, judged.temperatures.minimum, data.running.fresh_time.si),
            )
        there = changed(
            seal,
            temperature=worst.temperature,
            rotational_speed=0.0 if resting else case.rotational_speed,
            pressure=worst.pressure,
        )
        trail = StateTrail(
            there, self.duty, self.design, worst, case.interference if aged else None, judged.temperatures
        )
        sheet = trail.sheet
        trail.shape()
        record = case.friction
        assert record is not None
        source = datum_source(f"{self.compound}.friction.{case.lubrication}", record)
        if resting:
            high = sheet.given("mu_high", "Friction coefficient, high", record.si_high, "1", source)
            factor = sheet.rule(
                "f_br",
                "Breakaway over running friction",
                data.gland.retention.breakaway_factor,
                "1",
                "gland.retention.breakaway_factor",
            )
            mu = sheet.step(
                "mu", "Friction coefficient at breakaway", f"{high} * {factor}", "1", _DEFINITION, worst.friction
            )
        else:
            mu = sheet.given("mu", "Friction coefficient", worst.friction, "1", source)
        around = running.surroundings(there, ambient=there.temperature if resting else None)
        state = running.run(there, around, worst.friction, time.si)
        path = "running.nominal_time" if not resting else "running.fresh_time"
        hold = sheet.rule("t_load", "Time under load", time, "s", path)
        trail.surroundings(around)
        trail.spring(sheet, "T")
        if state.converged:
            trail.state(sheet, around, state, mu, hold)
        else:
            main = load(there, there.temperature, time.si, there.pressure)
            q = trail.load(sheet, "T", hold, "p", "q_spring", main)
            share = trail.second_lip()
            second = there.second_lip_share * (main.lip + main.energizer)
            total = q if share is None else f"({q} + {share} * (q_lip + q_e))"
            made = contact.friction(worst.friction, main.total + second, there.shaft_diameter, there.rotational_speed)
            sheet.step(
                "M",
                "Friction torque of a lip that heat has not softened",
                f"{mu} * {total} * pi * d**2 / 2",
                "N.m",
                "Coulomb friction",
                made.torque,
            )
        return self.sheet.adopt(sheet.steps, "s", _of_the_design(sheet.steps))["M"]

    def _holding(self, judged: glands.Judged, worst: glands.Rotation, means: str) -> str | None:
        sheet, _h, rule = self.sheet, self.h, self.h.data.gland.retention
        if means == "clamped_flange":
            friction = self._friction("ptfe_on_metal", "PTFE on metal")
            kept = sheet.rule(
                "f_kept",
                "Share of the clamp force that creep leaves",
                rule.clamp_force_kept,
                "1",
                "gland.retention.clamp_force_kept",
            )
            return sheet.step(
                "M_f",
                "Torque the flange holds, on both faces",
                f"2 * {friction} * F_f * 2 / 3 * ((D_f / 2)**2 + D_f / 2 * d_f / 2 + (d_f / 2)**2) / (D_f / 2 + d_f / 2) * {kept}",
                "N.m",
                _HOLDING,
            )
        at = self.at(worst.temperature)
        if means == "press_fit_case":
            pressed = judged.press_fit
            assert pressed is not None
            fit = next(item for item in pressed.fits if item.temperature == worst.temperature and item.end == "loosest")
            pressure = self.press_pressure(pressed, fit, self.press_fit(pressed, fit, "", None))
            friction = self._friction("metal_on_metal", "metal on metal")
            return sheet.step(
                "M_K",
                "Torque the case holds",
                f"2 * pi * ({self.bore('nominal')} / 2)**2 * {self.case_length(pressed)} * {friction} * {pressure}",
                "N.m",
                _HOLDING,
            )
        return self._ring_torque(judged, worst, at)

    def _ring_torque(self, judged: glands.Judged, worst: glands.Rotation, at: str) -> str | None:
        sheet, h, p = self.sheet, self.h, judged.o_ring
        if p is None or not num.isfinite(worst.holding_torque):
            return None
        elastomer, case = h.case.elastomer, h.case
        assert elastomer is not None
        name = next(key for key, record in h.data.elastomers.items() if record is elastomer)
        wet = case.lubrication != "dry"
        inside = self._friction("elastomer_on_ptfe_lubricated" if wet else "elastomer_on_ptfe", "elastomer on PTFE")
        field = "friction_lubricated" if wet else "friction_dry"
        outside = sheet.rule(
            "mu_bore",
            "Static friction of the O-ring on the bore",
            getattr(elastomer, field),
            "1",
            f"elastomers.{name}.{field}",
        )
        hard = sheet.given(
            "S_A",
            "Hardness of the O-ring, Shore A, lower end",
            elastomer.hardness.si_low,
            "1",
            datum_source(f"elastomers.{name}.hardness", elastomer.hardness),
        )
        modulus = sheet.step(
            "E_r",
            "Young's modulus of the O-ring",
            f"1e6 * 0.0981 * (56 + 7.62336 * {hard}) / (0.137505 * (254 - 2.54 * {hard}))",
            "Pa",
            "Gent 1958 (models/o_ring)",
            springs.gent_modulus(elastomer.hardness.si_low),
        )
        aged = worst.state == "end_of_life_start"
        share = self.share_after_heat() if aged else None
        ring = self.ring(p, at, "loosest", share, centred=True, tag="_c" if not aged else "_old")
        squeeze = ring["squeeze"]
        if aged:
            normal = self.ring(p, "T", "loosest", centred=True, tag="_c")
            lost = sheet.rule(
                "f_cs",
                "Share of the squeeze lost for good",
                elastomer.compression_set,
                "1",
                f"elastomers.{name}.compression_set",
            )
            squeeze = sheet.step(
                "s_left",
                "Squeeze left at the end of life",
                f"{squeeze} - {lost} * max({normal['squeeze']}, 0)",
                "m",
                _GLAND,
            )
        c = sheet.step("C_hold", "Squeeze over section in this state", f"{squeeze} / {ring['section']}", "1", _GLAND)
        limit = h.data.sizing.energizer.o_ring_squeeze_limit.si
        found = springs.oring_load(sheet[ring["section"]], sheet[c], sheet[modulus], limit)
        q = sheet.step(
            "q_ring",
            "Load of the O-ring per circumference",
            f"{ring['section']} * {modulus} * (1.25 * max({c}, 0)**1.5 + 50 * max({c}, 0)**6)",
            "N/m",
            _LINDLEY,
            found.line_load,
        )
        seal = self.strain("seal", at)
        bottom = sheet.step("r_i", "Radius of the groove bottom", f"G_lo * (1 + {seal}) / 2", "m", _GLAND)
        top = sheet.step("r_o", "Radius of the O-ring on the bore", f"{bottom} + {ring['depth']}", "m", _GLAND)
        value = retention.o_ring_slip_torque(found.line_load, sheet[inside], sheet[bottom], sheet[outside], sheet[top])
        return sheet.step(
            "M_r",
            "Torque the O-ring holds, by its weaker surface",
            f"2 * pi * ({bottom} + {top}) / 2 * {q} * min({inside} * {bottom}, {outside} * {top})",
            "N.m",
            _HOLDING,
            value,
        )


def _of_the_design(steps: Steps) -> set[str]:
    """Symbols of steps that do not depend on the state: neither on its speed, temperature and pressure nor on its lip."""
    state = {"n", "T", "p", "i", "i_0", "mu", "T_amb", "t_load"}
    found: set[str] = set()
    for step in steps:
        if step["symbol"] in state or state.intersection(step["inputs"]):
            state.add(step["symbol"])
        else:
            found.add(step["symbol"])
    return found


_PART = {
    "seal": "seal's compound",
    "shaft": "shaft",
    "housing": "housing",
    "ring": "O-ring",
    "case": "case",
    "alloy": "alloy",
}
_STATE = {
    "cold_start": "start at the lowest temperature",
    "hot_running": "running at the highest temperature",
    "end_of_life_start": "start at the lowest temperature at the end of life",
}


class StateTrail(Trail):
    """The way to the torque of the lips in a state other than that of the duty."""

    def __init__(
        self, case: Case, duty: Duty, design: Design, state: glands.Rotation, made: float | None, t: glands.Temperatures
    ) -> None:
        self.state_of, self.made, self.t = state, made, t
        super().__init__(case, duty, design)

    def _base(self) -> None:
        sheet, case, words = self.sheet, self.case, f"state: {_STATE[self.state_of.state]}"
        if self.state_of.state == "hot_running":
            self._motion()
        else:
            d = sheet.given("d", "Shaft diameter", case.shaft_diameter, "m", "request /duty/shaft_diameter")
            sheet.step("r", "Shaft radius", f"{d} / 2", "m", _DEFINITION, case.radius)
            sheet.given("n", "Rotational speed, turns per second", 0.0, "1/s", words)
        sheet.given("T", "Temperature of the state", case.temperature, "K", words)
        sheet.given("p", "Pressure of the state", case.pressure, "Pa", words)

    def _ambient(self) -> None:
        if self.state_of.state == "hot_running":
            super()._ambient()
        else:
            self.sheet.step("T_amb", "Temperature on the air side, at rest that of the seal", "T", "K", _DEFINITION)

    def _sized(self, symbol: str, title: str, value: Any, unit: str, pointer: str, record: Any, name: str) -> str:
        if symbol != "i" or self.made is None:
            return super()._sized(symbol, title, value, unit, pointer, record, name)
        # at the end of its life the lip has relaxed at the normal temperature, not at that of the cold start
        sheet, data = self.sheet, self.case.data
        base = super()._sized("i_0", "Diametral interference as made", self.made, unit, pointer, record, name)
        normal = sheet.given("T_norm", "Normal temperature", self.t.normal, "K", "request /duty/temperature/normal")
        service = sheet.rule(
            "t_service", "Service time", data.sizing.following.service_time, "s", "sizing.following.service_time"
        )
        fresh = sheet.rule("t_load", "Time under load", data.running.fresh_time, "s", "running.fresh_time")
        old = self.relaxed(sheet.scope("old"), normal, service)
        new = self.relaxed(sheet.scope("new"), "T", fresh)
        return sheet.step(
            "i",
            "Interference that stands for the lip relaxed in service",
            f"{base} * {old} / {new}",
            unit,
            _DEFINITION,
            value,
        )


class ThermalTrail(FitTrail):
    """The way through a thermal fit."""

    def seat_of_body(self, p: Proposal, worst: thermal.Worst) -> None:
        """Write the squeeze of the O-ring at its worst over the range."""
        sheet, rule = self.sheet, self.h.data.gland.o_ring_gland
        at = self.at(worst.temperature)
        if worst.loose:
            ring = self.ring(p, at, "loosest", self.share_after_heat(), tag="_old")
            limit = sheet.rule(
                "C_least",
                "Least squeeze in service",
                rule.squeeze_service_min,
                "1",
                "gland.o_ring_gland.squeeze_service_min",
            )
            self.use("body_in_bore", f"{limit} / max({ring['ratio']}, 0)", worst.utilization)
        else:
            ring = self.ring(p, at, "tightest")
            limit = sheet.rule(
                "C_most",
                "Greatest squeeze in service",
                rule.squeeze_service_max,
                "1",
                "gland.o_ring_gland.squeeze_service_max",
            )
            self.use("body_in_bore", f"{ring['ratio']} / {limit}", worst.utilization)

    def lip_fit(self, worst: thermal.Worst) -> None:
        """Write what temperature takes of the interference of the lip, and what the energizer can make up for."""
        sheet, h, case = self.sheet, self.h, self.case
        self.shape()
        at = self.at(worst.temperature)
        shaft, seal = self.strain("shaft", at), self.strain("seal", at)
        hole = sheet.step("d_l", "Lip as made, on the nominal shaft", "d - i", "m", _DEFINITION)
        share = sheet.step(
            "phi_root",
            "Share of the strain of the root in that of the edge",
            "2 * cosh(x) * cos(x) / (cosh(x)**2 + cos(x)**2)",
            "1",
            _HELD,
            float(thermal.root_share(case)),
        )
        root = self.strain("housing", at)
        if case.features["retention"] == "o_ring":
            root = sheet.step(
                "eps_root",
                "Strain of the root: free, until the bore stops the body",
                f"min({seal}, {self.bore('high')} * (1 + {root}) / {self.body('low')} - 1)",
                "1",
                _HELD,
            )
        edge = sheet.step(
            "eps_edge", "Strain of the edge of the lip", f"{share} * {root} + (1 - {share}) * {seal}", "1", _HELD
        )
        left = sheet.step(
            "i_t",
            "Interference on the smallest shaft",
            f"{self.shaft('low')} * (1 + {shaft}) - {hole} * (1 + {edge})",
            "m",
            "lip held at its root (models/thermal_fit)",
            worst.left,
        )
        loss = sheet.step("i_lost", "Interference lost", f"max(i - {left}, 0)", "m", _DEFINITION, worst.demand)
        capacity = "i"
        if case.energizer is not None:
            capacity = self._reach(at, worst)
        self.use("lip_interference", ratio_of(sheet, loss, capacity), worst.utilization)
        del h

    def _reach(self, at: str, worst: thermal.Worst) -> str:
        """Write the interference as made with the gap that the energizer can close beyond it."""
        sheet, case = self.sheet, self.case
        inner = sheet.scope(self._tags[at])
        modulus = self.modulus(inner, at)
        if case.energizer != "garter":
            travel = self.travel(at, self.bore("nominal"), "d", "", None)
            self._spring_dimensions()
            self.spring_names = {**self.spring_names, "deflection": travel}
            case = changed(case)
            case.dimensions = {**case.dimensions, "deflection": sheet[travel]}
        kept, self.case = self.case, case
        self.spring(inner, at)
        self.case = kept
        load = f"q_spring_{self._tags[at]}"
        reach = (
            sheet.step(
                "i_reach",
                "Gap on the diameter that the energizer closes",
                f"2 * f_form * {load} / (k_E * {modulus} * f_form)",
                "m",
                "load of the spring over the stiffness of the lip",
            )
            if num.isfinite(sheet[load])
            else "0"
        )
        return sheet.step(
            "i_all", "Interference as made and reach of the energizer", f"i + {reach}", "m", _DEFINITION, worst.capacity
        )

    def travel(self, at: str, bore: str, shaft: str, tag: str, value: Any) -> str:
        """Write the deflection of the energizer at a temperature between a bore and a shaft."""
        sheet, case = self.sheet, self.case
        names = self._spring_dimensions()
        self.dimensions()
        alloy = self.strain("alloy", at)
        eps_d, eps_s = self.strain("shaft", at), self.strain("seal", at)
        inner = sheet.scope(self._tags[at] + tag)
        if case.energizer == "garter":
            equation = (
                f"max(2 * pi * ({shaft} / 2 * (1 + {eps_d}) + (t + ({names['coil']} + {names['wire']}) / 2) * (1 + {eps_s}))"
                f" - {names['free_length']} * (1 + {alloy}), 0)"
            )
            return inner.step(
                "x_t",
                "Stretch of the garter at temperature",
                equation,
                "m",
                "geometry (models/thermal_expansion)",
                value,
            )
        if case.energizer == "cantilever_v":
            free = sheet.step(
                "H_0",
                "Free height of the V",
                f"2 * {names['length']} * sin({names['angle']})",
                "m",
                _DEFINITION,
                thermal.free_height(case),
            )
        else:
            free = sheet.step(
                "H_0", "Free height of the coil", names["height"], "m", _DEFINITION, thermal.free_height(case)
            )
        nominal = self.bore("nominal")
        made = "Delta"
        walls = sheet.step(
            "t_w",
            "Walls between energizer, bore and shaft",
            f"max(({nominal} - d) / 2 - ({free} - {made}), 2 * t)",
            "m",
            _DEFINITION,
        )
        room = inner.step(
            "h_e",
            "Room for the energizer",
            f"({bore} * (1 + {self.strain('housing', at)}) - {shaft} * (1 + {eps_d})) / 2 - (1 + {eps_s}) * {walls}",
            "m",
            "geometry (models/thermal_expansion)",
        )
        installed = sheet.step(
            "H_1",
            "Height that the stated deflection leaves to be taken up",
            f"({nominal} - d) / 2 - {walls} + {made}",
            "m",
            _DEFINITION,
        )
        return inner.step(
            "x_t",
            "Deflection at temperature",
            f"max(max({installed} - {room}, 0) + {free} * {alloy}, 0)",
            "m",
            "geometry (models/thermal_expansion)",
            value,
        )

    def energizer_fit(self, worst: thermal.Worst) -> None:
        """Write the deflection of the energizer at its worst over the range."""
        sheet, h, case, rule = self.sheet, self.h, self.case, self.h.data.expansion.energizer_travel
        at = self.at(worst.temperature)
        if worst.loose:
            found = self.travel(at, self.bore("high"), self.shaft("low"), "_lo", worst.demand)
            made = self.travel("T_ref", self.bore("nominal"), "d", "_0", thermal.as_made(h))
            share = sheet.rule(
                "f_least",
                "Least deflection over that as made",
                rule.least_share,
                "1",
                "expansion.energizer_travel.least_share",
            )
            limit = sheet.step("x_least", "Least deflection", f"{share} * {made}", "m", _DEFINITION, worst.capacity)
            self.use("energizer_deflection", ratio_of(sheet, limit, found), worst.utilization)
            return
        found = self.travel(at, self.bore("low"), self.shaft("high"), "_hi", worst.demand)
        if not num.isfinite(worst.capacity):
            sheet.given(
                "u_energizer_deflection",
                "Use of the limit: a garter has no greatest stretch",
                worst.utilization,
                "1",
                _DEFINITION,
            )
            return
        share = sheet.rule(
            "f_most",
            "Greatest deflection over that at which it closes",
            rule.greatest_share,
            "1",
            "expansion.energizer_travel.greatest_share",
        )
        closing = "H_0" if case.energizer == "cantilever_v" else "(H_0 - 2 * d_w)"
        limit = sheet.step("x_most", "Greatest deflection", f"{share} * {closing}", "m", _DEFINITION, worst.capacity)
        self.use("energizer_deflection", f"{found} / {limit}", worst.utilization)


# ------------------------------------------------------------------------------------------------------------ operations


def gland_check(judged: glands.Judged, duty: Duty, design: Design, gland: Gland) -> Steps:
    """Working of a gland check."""
    trail = FitTrail(judged.hardware, duty, design, gland)
    by_id: Mapping[str, Finding] = {finding.id: finding for finding in judged.findings}
    for name, writer in (("temperature_low", temperature_low), ("temperature_high", temperature_high)):
        writer(trail, by_id[name].measure)
    if judged.o_ring is not None:
        trail.o_ring(judged.o_ring, judged.temperatures)
    if judged.press_fit is not None and num.isfinite(judged.press_fit.outer.low):
        loosest = min(judged.press_fit.fits, key=lambda fit: fit.interference)
        measure = by_id["press_fit"].measure
        trail.press_fit(judged.press_fit, loosest, "press_fit", None if measure is None else measure.utilization)
    if judged.flange is not None:
        measure = by_id["clamp"].measure
        trail.clamp(judged.flange, None if measure is None else measure.utilization)
    trail.extrusion(judged, by_id["extrusion_gap"])
    trail.rotation(judged, by_id["seal_rotation"], design.retention)
    return trail.sheet.steps


def thermal_fit(judged: thermal.Judged, duty: Duty, design: Design, gland: Gland, reference: float | None) -> Steps:
    """Working of a thermal fit."""
    trail = ThermalTrail(judged.hardware, duty, design, gland, reference)
    by_id: Mapping[str, Finding] = {finding.id: finding for finding in judged.findings}
    for name, writer in (("temperature_low", temperature_low), ("temperature_high", temperature_high)):
        writer(trail, by_id[name].measure)
    if judged.o_ring is not None:
        trail.seat_of_body(judged.o_ring, thermal.worst_ring(judged.hardware, judged.o_ring, judged.grid))
    if judged.press_fit is not None and num.isfinite(judged.press_fit.outer.low):
        loosest = min(judged.press_fit.fits, key=lambda fit: fit.interference)
        measure = by_id["body_in_bore"].measure
        trail.press_fit(judged.press_fit, loosest, "body_in_bore", None if measure is None else measure.utilization)
    trail.lip_fit(thermal.worst_lip(judged.hardware, judged.grid))
    if judged.case.energizer is not None:
        trail.energizer_fit(thermal.worst_energizer(judged.hardware, judged.grid))
    return trail.sheet.steps
