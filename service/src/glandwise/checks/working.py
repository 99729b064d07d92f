"""The working of a result: the way from the request and the rules to its numbers, step by step.

A :class:`Trail` follows one case and writes each piece of it to a worksheet: the equation for the reader, the value from
the mechanics that gave the verdict. It is made on request only; nothing here lies on the way of a calculation without
working.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from glandwise.checks import following, lip, running
from glandwise.checks.banks import curve_at
from glandwise.checks.case import Case, Limit, rated
from glandwise.checks.worksheet import Worksheet, datum_source
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.contract.duty import Duty, Oscillation, Rotation
from glandwise.mechanics import beams, heat, rods, springs, viscoelastic, wear
from glandwise.mechanics import numeric as num
from glandwise.rules.model import Curve, Datum

Steps = list[dict[str, Any]]
Names = Mapping[str, str]

_DEFINITION = "definition"
_SHELL = "Timoshenko and Woinowsky-Krieger 1959, art. 114; end functions derived (models/shell_lip)"
_RAYLEIGH = "Rayleigh's method on the shell (models/shell_lip)"
_PRONY = "generalised Maxwell series; Ferry 1980, ch. 3 (models/viscoelastic_ptfe)"
_SHIFT = "Arrhenius shift; Ferry 1980, ch. 11 (models/viscoelastic_ptfe)"
_FINGER = "Bisshopp and Drucker 1945, extended (models/cantilever_v)"
_COIL = "geometrically exact rod, derived (models/canted_coil)"
_SPRING = "helical spring; Shigley, ch. 10 (models/garter)"
_FOLLOWING = "driven lip with relaxing stiffness and mass, derived (models/following)"
_FIN = "fin equations; Incropera and DeWitt, ch. 3 (models/heat)"
_NETWORK = "conductances in row and side by side, Thevenin (models/heat)"
_AIR = "U.S. Standard Atmosphere 1976, eqs. 51 and 53; Moran and Shapiro, table A-21 (models/heat)"
_WEAR = "Archard 1953 (models/wear)"
_COULOMB = "Coulomb friction (models/contact_friction)"
_EQUILIBRIUM = "equilibrium of the lip (models/contact_friction)"

_CORRELATIONS: Mapping[str, str] = {
    "anderson_saunders": "0.10 * {re}**(2 / 3)",
    "becker": "0.133 * {re}**(2 / 3) * {pr}**(1 / 3)",
    "etemad": "0.11 * ((0.5 * {re}**2 + {gr}) * {pr})**0.35",
    "kays_bjorklund": "0.095 * (0.5 * {re}**2 + {gr})**0.35",
    "dropkin_carmi": "0.073 * {re}**0.7",
    "ozerdem": "0.318 * {re}**0.571",
}


# ------------------------------------------------------------------------------------------- energizers, from symbols


def cantilever_steps(
    sheet: Worksheet, s: Names, state: beams.CantileverV, blend: str | None = None, loading: bool = False
) -> None:
    """Write V fingers. ``s`` names thickness, length, angle, coverage, deflection, modulus, strength (and poisson).

    The stiffness is that of pressing further where ``loading``, else that of a small step back.
    """
    t, length, bend = s["thickness"], s["length"], s["modulus"]
    if blend is not None:
        nu = s["poisson"]
        equation = f"{bend} * (1 + {blend} * {nu}**2 / (1 - {nu}**2))"
        bend = sheet.step("E_bend", "Bending modulus of the fingers, between beam and plate", equation, "Pa", _FINGER)
    leg = sheet.step(
        "delta_leg",
        "Deflection of either leg",
        f"{s['deflection']} / 2",
        "m",
        "equal legs in series",
        state.leg_deflection,
    )
    kappa = sheet.step(
        "kappa_y", "Curvature at first yield over that of one finger length", f"2 * {s['strength']} * {length} / ({bend} * {t})",
        "1", _FINGER,
    )  # fmt: skip
    arguments = f"({s['angle']}, {leg} / {length}, {kappa})"
    alpha = sheet.step("alpha", "Load of a finger, P L2/(E I)", f"finger_load{arguments}", "1", _FINGER)
    if loading:
        slope = sheet.step("alpha_on", "Its slope as it is pressed further", f"finger_tangent{arguments}", "1", _FINGER)
    else:
        slope = sheet.step("alpha_back", "Its slope for a small step back", f"finger_recovery{arguments}", "1", _FINGER)
    curvature = sheet.step("kappa_root", "Elastic curvature at the root", f"finger_curvature{arguments}", "1", _FINGER)
    bending = f"{s['coverage']} * {bend} * {t}**3"
    sheet.step(
        "q_spring", "Load of the energizer per circumference", f"{bending} / (12 * {length}**2) * {alpha}", "N/m", _FINGER,
        state.line_load,
    )  # fmt: skip
    sheet.step(
        "k_spring", "Stiffness of the energizer, both legs together", f"{bending} / (24 * {length}**3) * {slope}", "N/m/m",
        _FINGER, state.gland_stiffness if loading else state.recovery_stiffness,
    )  # fmt: skip
    sheet.step(
        "sigma_spring", "Bending stress at the root, elastic", f"{bend} * {t} * {curvature} / (2 * {length})", "Pa", _FINGER,
        state.root_stress,
    )  # fmt: skip


def coil_steps(sheet: Worksheet, s: Names, state: rods.CantedCoilLoad, ratio: str) -> None:
    """Write a canted coil. ``s`` names wire, height, width, pitch, angle, deflection, modulus and poisson."""
    wire, modulus, nu = s["wire"], s["modulus"], s["poisson"]
    a = sheet.step("a_coil", "Half width of the wire centreline", f"({s['width']} - {wire}) / 2", "m", _DEFINITION)
    b = sheet.step("b_coil", "Half height of the wire centreline", f"({s['height']} - {wire}) / 2", "m", _DEFINITION)
    shear = sheet.step(
        "G_spring", "Shear modulus of the wire", f"{modulus} / (2 * (1 + {nu}))", "Pa", "isotropic elasticity"
    )
    shape = f"{s['pitch']}, {a}, {b}, {s['angle']}"
    rate = sheet.step(
        "k_turn",
        "Rate of one turn at small deflection",
        f"canted_coil_rate({shape}, {wire}, {modulus}, {shear})",
        "N/m",
        _COIL,
    )
    bent = f"({s['deflection']}, {shape}, {nu})"
    share = sheet.step("w_turn", "Load over that at the small-deflection rate", f"canted_coil_share{bent}", "1", _COIL)
    slope = sheet.step("w_slope", "Rate over the small-deflection rate", f"canted_coil_tangent{bent}", "1", _COIL)
    moment = sheet.step(
        "m_turn", "Equivalent moment over the wire's rigidity", f"canted_coil_moment{bent}", "1/m", _COIL
    )
    load = sheet.step(
        "F_turn", "Load of one turn", f"{rate} * {share} * {s['deflection']}", "N", _COIL, state.load_per_coil
    )
    sheet.step(
        "q_spring", "Load of the energizer per circumference", f"{load} / {s['pitch']} * {ratio}", "N/m", _COIL,
        state.load_per_length,
    )  # fmt: skip
    sheet.step(
        "k_spring", "Stiffness of the energizer per circumference", f"{rate} * {slope} / {s['pitch']} * {ratio}", "N/m/m", _COIL,
        state.rate_per_length,
    )  # fmt: skip
    sheet.step(
        "sigma_spring", "Equivalent stress of bending and torsion", f"{moment} * {modulus} * {wire} / 2", "Pa", _COIL,
        state.equivalent_stress,
    )  # fmt: skip


def garter_steps(sheet: Worksheet, s: Names, ring: springs.GarterRing, contact_radius: str) -> None:
    """Write a garter. ``s`` names wire, coil, coils, free_length, tension, seat, modulus and poisson."""
    wire, coil, modulus = s["wire"], s["coil"], s["modulus"]
    shear = sheet.step(
        "G_spring", "Shear modulus of the wire", f"{modulus} / (2 * (1 + {s['poisson']}))", "Pa", "isotropic elasticity"
    )
    rate = sheet.step(
        "k_ring",
        "Rate of the garter",
        f"{shear} * {wire}**4 / (8 * {coil}**3 * {s['coils']})",
        "N/m",
        _SPRING,
        ring.rate,
    )
    growth = sheet.step(
        "x_ring", "Extension of the garter on its seat", f"2 * pi * {s['seat']} - {s['free_length']}", "m", _SPRING,
        ring.extension,
    )  # fmt: skip
    stretched = sheet[growth] > 0.0
    tension = sheet.step(
        "F_ring", "Tension in the garter" if stretched else "Tension in the garter, which is slack",
        f"{s['tension']} + {rate} * {growth}" if stretched else f"0 * {rate} * {growth}", "N", _SPRING, ring.tension,
    )  # fmt: skip
    sheet.step(
        "q_spring", "Load of the energizer per circumference of the contact", f"{tension} / {contact_radius}", "N/m", _SPRING,
        ring.contact_line_load,
    )  # fmt: skip
    sheet.step(
        "k_spring", "Stiffness of the garter as its ring grows",
        f"(2 * pi * {rate} - {tension} / {contact_radius}) / {contact_radius}" if stretched else f"0 * {rate} / {contact_radius}",
        "N/m/m", _SPRING, ring.stiffness,
    )  # fmt: skip
    index = sheet.step("w_ring", "Index of the garter", f"{coil} / {wire}", "1", _DEFINITION)
    if sheet[index] > 1.0:
        sheet.step(
            "sigma_spring", "Corrected shear stress of the wire",
            f"({index} + 0.5) / ({index} - 0.75) * 8 * {tension} * {coil} / (pi * {wire}**3)", "Pa",
            "stress correction factor of EN 13906-2 (models/garter)", ring.shear_stress,
        )  # fmt: skip


def end_functions(x: float) -> tuple[str, str, str, str]:
    """Equations in the shell parameter x of k L3/D, c/L, M/(p L2) and the share of the mass, exact at either end of x.

    The closed forms lose digits by cancellation for a short lip's mass and overflow for a long one.
    """
    if x > 30.0:
        return "2 * x**3", "1 / (2 * x)", "1 / (2 * x**2)", "3 / (8 * x)"
    spread, full = "(sinh(2 * x) - sin(2 * x))", "(cosh(x)**2 + cos(x)**2)"
    series = "33 / 140 - 1037 / 242550 * x**4 + 769 / 7357350 * x**8"
    closed = f"3 * {full} / (4 * x * {spread}) + 1 / 4 - {full} * (cosh(2 * x) - cos(2 * x)) / (2 * {spread}**2)"
    return (
        f"4 * x**3 * {full} / {spread}",
        f"(cosh(x) - cos(x))**2 / (x * {spread})",
        f"(sinh(x) - sin(x)) * (cosh(x) - cos(x)) / (x**2 * {spread})",
        series if x < 0.1 else closed,
    )


# ------------------------------------------------------------------------------------------------------------ a case


class Trail:
    """The way through one case."""

    def __init__(self, case: Case, duty: Duty, design: FlexibleLip | EnergizedLip) -> None:
        self.case, self.duty, self.design = case, duty, design
        self.sheet = Worksheet()
        self.assumed = {item.pointer: item.rule for item in case.assumed}
        self.compound = f"compounds.{design.compound}"
        self.spring_names: dict[str, str] = {}
        self._base()

    # ---------------------------------------------------------------------------------------------- duty and dimensions

    def _base(self) -> None:
        self._motion()
        self._conditions()

    def _motion(self) -> None:
        sheet, case, motion = self.sheet, self.case, self.duty.motion
        d = sheet.given("d", "Shaft diameter", case.shaft_diameter, "m", "request /duty/shaft_diameter")
        sheet.step("r", "Shaft radius", f"{d} / 2", "m", _DEFINITION, case.radius)
        if isinstance(motion, Rotation):
            n = sheet.given(
                "n", "Rotational speed, turns per second", motion.rotational_speed, "1/s", "request /duty/motion"
            )
            sheet.step("v", "Mean surface speed", f"pi * {d} * {n}", "m/s", _DEFINITION, case.surface_speed)
            sheet.step("v_peak", "Peak surface speed", "v", "m/s", _DEFINITION, case.peak_speed)
        elif isinstance(motion, Oscillation):
            half = sheet.given("theta", "Half of the swing", motion.half_amplitude, "rad", "request /duty/motion")
            f = sheet.given("f", "Frequency", motion.frequency, "1/s", "request /duty/motion")
            sheet.step("v", "Mean surface speed", f"2 * {half} * {d} * {f}", "m/s", _DEFINITION, case.surface_speed)
            sheet.step(
                "v_peak",
                "Peak surface speed of a sine",
                f"pi * {half} * {d} * {f}",
                "m/s",
                _DEFINITION,
                case.peak_speed,
            )
            sheet.step(
                "n", "Equivalent rotational speed, turns per second", f"v / (pi * {d})", "1/s", _DEFINITION,
                case.rotational_speed,
            )  # fmt: skip
        else:
            sheet.given("v", "Surface speed", motion.surface_speed, "m/s", "request /duty/motion")
            sheet.step("v_peak", "Peak surface speed", "v", "m/s", _DEFINITION, case.peak_speed)
            sheet.step(
                "n", "Rotational speed, turns per second", f"v / (pi * {d})", "1/s", _DEFINITION, case.rotational_speed
            )

    def _conditions(self) -> None:
        sheet, case = self.sheet, self.case
        sheet.given("p", "Sealed pressure, gauge", case.pressure, "Pa", "request /duty/pressure")
        sheet.given("T", "Normal temperature", case.temperature, "K", "request /duty/temperature/normal")
        for symbol, end, title, value in (
            ("T_min", "minimum", "Lowest temperature", case.temperature_min),
            ("T_max", "maximum", "Highest temperature", case.temperature_max),
        ):
            if f"/duty/temperature/{end}" in self.assumed:
                sheet.step(symbol, title, "T", "K", "not stated: equal to the normal one", value)
            else:
                sheet.given(symbol, title, value, "K", f"request /duty/temperature/{end}")

    def _given(self, symbol: str, title: str, value: Any, unit: str, pointer: str) -> str:
        return self.sheet.given(symbol, title, value, unit, f"request {pointer}")

    def _sized(self, symbol: str, title: str, value: Any, unit: str, pointer: str, record: Any, name: str) -> str:
        """State a dimension of the request, or read it from the sizing rule."""
        if pointer not in self.assumed:
            return self._given(symbol, title, value, unit, pointer)
        path = f"sizing.{self.case.family}.{name}"
        if isinstance(record, Curve):
            return self.sheet.lookup(symbol, title, record, "d", unit, path)
        return self.sheet.rule(symbol, title, record, unit, path)

    def dimensions(self) -> None:
        """Write the dimensions of the lip."""
        sheet, case = self.sheet, self.case
        flexible = case.family == "flexible_lip"
        sizing: Any = case.data.sizing.flexible_lip if flexible else case.data.sizing.energized_lip
        for symbol, title, name, value in (
            ("t", "Lip thickness", "lip_thickness", case.lip_thickness),
            ("L_lip", "Lip length", "lip_length", case.lip_length),
            ("i", "Diametral interference", "interference", case.interference),
        ):
            self._sized(symbol, title, value, "m", f"/design/{name}", getattr(sizing, name), name)
        if "/design/contact_width" not in self.assumed:
            self._given("b", "Contact width", case.contact_width, "m", "/design/contact_width")
        elif flexible:
            sheet.lookup("b", "Contact width", sizing.contact_width, "d", "m", "sizing.flexible_lip.contact_width")
        else:
            width = sheet.lookup(
                "b_plain",
                "Contact width of a plain lip",
                sizing.contact_width,
                "d",
                "m",
                "sizing.energized_lip.contact_width",
            )
            assert isinstance(self.design, EnergizedLip)
            form = self.design.lip_form
            factor = sheet.rule(
                "f_width", "Factor of the lip form on the contact width", case.data.sizing.lip_forms[form].contact_width_factor,
                "1", f"sizing.lip_forms.{form}.contact_width_factor",
            )  # fmt: skip
            sheet.step("b", "Contact width", f"{width} * {factor}", "m", _DEFINITION, case.contact_width)
        if isinstance(self.design, EnergizedLip):
            form = self.design.lip_form
            record = case.data.sizing.lip_forms[form].load_factor
            sheet.rule(
                "f_form", "Factor of the lip form on the load", record, "1", f"sizing.lip_forms.{form}.load_factor"
            )
        else:
            sheet.given("f_form", "Factor of the lip form on the load", 1.0, "1", "a flexible lip has one form")
        if flexible and case.features.get("reinforcing_band"):
            share = sheet.rule(
                "f_band", "Share of the lip length that the band leaves free", sizing.band_length_share, "1",
                "sizing.flexible_lip.band_length_share",
            )  # fmt: skip
            sheet.step(
                "L", "Free length of the lip", f"{share} * L_lip", "m", "the band is rigid (models/shell_lip)",
                lip.effective_length(case),
            )  # fmt: skip
        else:
            sheet.step("L", "Free length of the lip", "L_lip", "m", _DEFINITION, lip.effective_length(case))

    def shape(self) -> None:
        """Write what the shape of the lip alone gives: stiffness per modulus, pressure length, root stress, mass."""
        self.dimensions()
        sheet, case = self.sheet, self.case
        shape = lip.geometry(case)
        nu = sheet.rule(
            "nu", "Poisson ratio of the compound", case.compound.poisson_ratio, "1", f"{self.compound}.poisson_ratio"
        )
        rho = sheet.rule("rho_c", "Density of the compound", case.compound.density, "kg/m3", f"{self.compound}.density")
        r_m = sheet.step("r_m", "Mean radius of the lip", "(d + t) / 2", "m", _DEFINITION, case.lip_radius)
        lam = sheet.step(
            "lam", "Decay parameter of the shell", f"(3 * (1 - {nu}**2))**0.25 / sqrt({r_m} * t)", "1/m", _SHELL
        )
        x = sheet.step("x", "Free length in decay lengths", f"{lam} * L", "1", _SHELL)
        if not num.isfinite(sheet[x]):
            for symbol in ("k_E", "c_p", "s_p", "m_lip"):
                sheet.given(symbol, "", num.nan, "1", _SHELL)
            return
        stiff, react, root, mass = end_functions(sheet[x])
        e_k = sheet.step("e_k", "End function of the stiffness, k L3/D", stiff, "1", _SHELL)
        e_c = sheet.step("e_c", "End function of pressure, c/L", react, "1", _SHELL)
        e_s = sheet.step("e_s", "End function of the moment by pressure, M/(p L2)", root, "1", _SHELL)
        e_m = sheet.step("e_m", "Share of the lip's mass that its edge feels", mass, "1", _RAYLEIGH)
        sheet.step(
            "k_E", "Contact stiffness over Young's modulus, per circumference of the shaft",
            f"{e_k} * t**3 / (12 * (1 - {nu}**2) * L**3) * {r_m} / r", "1", _SHELL, shape.stiffness_per_modulus,
        )  # fmt: skip
        sheet.step(
            "c_p", "Length of lip whose pressure the contact carries", f"{e_c} * L * {r_m} / r", "m", _SHELL,
            shape.pressure_length,
        )  # fmt: skip
        sheet.step(
            "s_p", "Bending stress at the root per pressure", f"6 * {e_s} * (L / t)**2", "1", _SHELL,
            shape.clamp_stress_per_pressure,
        )  # fmt: skip
        sheet.step(
            "m_lip", "Moving mass of the lip, per circumference of the shaft", f"{e_m} * {rho} * t * L * {r_m} / r", "kg/m",
            _RAYLEIGH, shape.mass,
        )  # fmt: skip

    # ------------------------------------------------------------------------------------------------------- relaxation

    def _series(self) -> tuple[list[str], list[str]]:
        """Write the relaxation series; returns the symbols of shares and times."""
        sheet, record, path = self.sheet, self.case.compound.relaxation, f"{self.compound}.relaxation"
        source = datum_source(path, record)
        shares = [
            sheet.given(f"g_{i}", f"Share of relaxation branch {i}", value, "1", source)
            for i, value in enumerate(record.ratios, 1)
        ]
        times = [
            sheet.given(f"tau_{i}", f"Time of relaxation branch {i}", value, "s", source)
            for i, value in enumerate(record.times_s, 1)
        ]
        total = " + ".join(shares) or "0"
        sheet.step("g_inf", "Share that does not relax", f"1 - ({total})", "1", _PRONY, 1.0 - sum(record.ratios))
        return shares, times

    def _shift(self, sheet: Worksheet, at: str, shift: Any) -> str:
        record, path = self.case.compound.relaxation, f"{self.compound}.relaxation"
        gas = self.sheet.given("R_gas", "Molar gas constant", viscoelastic.GAS_CONSTANT, "J/mol/K", "SI of 2019, exact")
        zero = self.sheet.rule(
            "T_rel",
            "Reference temperature of the relaxation",
            record.reference_temperature,
            "K",
            f"{path}.reference_temperature",
        )
        energy = self.sheet.rule(
            "H_a", "Activation energy of the relaxation", record.activation_energy, "J/mol", f"{path}.activation_energy"
        )
        equation = f"min(exp({energy} / {gas} * (1 / max({at}, 1) - 1 / {zero})), 1e30)"
        return sheet.step("a_T", "Time-temperature shift", equation, "1", _SHIFT, shift)

    def relaxed(self, sheet: Worksheet, at: str, time: str) -> str:
        """Write the share of its own load that a lip keeps."""
        shares, times = self._series()
        _, _, shift, _ = lip.relaxation(self.case, self.sheet[at])
        a = self._shift(sheet, at, shift)
        branches = "".join(f" + {g} * exp(-{time} / ({a} * {tau}))" for g, tau in zip(shares, times, strict=True))
        return sheet.step(
            "phi", "Share of the lip's own load that is left", f"g_inf{branches}", "1", _PRONY,
            lip.relaxed_share(self.case, self.sheet[at], self.sheet[time]),
        )  # fmt: skip

    def modulus(self, sheet: Worksheet, at: str) -> str:
        """Write Young's modulus of the compound at a temperature."""
        curve = self.case.compound.elastic_modulus
        return sheet.lookup(
            "E", "Young's modulus of the compound at once", curve, at, "Pa", f"{self.compound}.elastic_modulus"
        )

    # -------------------------------------------------------------------------------------------------------- energizer

    def _spring_dimensions(self) -> dict[str, str]:
        if self.spring_names:
            return self.spring_names
        case, design = self.case, self.design
        g = case.dimensions
        if case.energizer == "garter":
            names = self._garter_dimensions()
        elif case.energizer == "cantilever_v":
            s, at = case.data.sizing.energized_lip, "/design/cantilever_v/"
            names = {
                "thickness": self._sized("t_s", "Strip thickness", g["thickness"], "m", at + "strip_thickness",
                                         s.strip_thickness, "strip_thickness"),
                "length": self._sized("L_s", "Finger length", g["length"], "m", at + "finger_length", s.finger_length,
                                      "finger_length"),
                "angle": self._sized("psi", "Root angle of a finger to its land", g["root_angle"], "rad", at + "root_angle",
                                     s.finger_angle, "finger_angle"),
                "coverage": self._sized("c_s", "Share of the circumference with fingers", g["coverage"], "1", at + "coverage",
                                        s.finger_coverage, "finger_coverage"),
                "deflection": self._sized("Delta", "Deflection of the energizer, both legs", g["deflection"], "m",
                                          at + "deflection", s.finger_deflection, "finger_deflection"),
            }  # fmt: skip
        else:
            assert isinstance(design, EnergizedLip)
            names = self._coil_dimensions()
        alloy = case.alloy
        assert alloy is not None
        path = self._alloy_path()
        names["poisson"] = self.sheet.rule(
            "nu_s", "Poisson ratio of the alloy", alloy.poisson_ratio, "1", f"{path}.poisson_ratio"
        )
        names["density"] = self.sheet.rule("rho_s", "Density of the alloy", alloy.density, "kg/m3", f"{path}.density")
        self.spring_names = names
        return names

    def _alloy_path(self) -> str:
        alloys = self.case.data.alloys
        return f"alloys.{next(name for name, record in alloys.items() if record is self.case.alloy)}"

    def _coil_dimensions(self) -> dict[str, str]:
        s, g, at, sheet = self.case.data.sizing.energized_lip, self.case.dimensions, "/design/canted_coil/", self.sheet
        names = {
            "wire": self._sized("d_w", "Wire diameter", g["wire_diameter"], "m", at + "wire_diameter", s.coil_wire_diameter,
                                "coil_wire_diameter"),
            "height": self._sized("h_w", "Coil height", g["height"], "m", at + "coil_height", s.coil_height, "coil_height"),
            "angle": self._sized("beta", "Cant angle", g["cant_angle"], "rad", at + "cant_angle", s.coil_cant_angle,
                                 "coil_cant_angle"),
        }  # fmt: skip
        for key, symbol, title, field, rule, of in (
            ("width", "w_w", "Coil width", "coil_width", "coil_width_ratio", "height"),
            ("pitch", "p_w", "Pitch of the turns", "pitch", "coil_pitch_ratio", "wire"),
            ("deflection", "Delta", "Deflection of the energizer", "deflection", "coil_deflection_share", "height"),
        ):
            if at + field not in self.assumed:
                names[key] = self._given(symbol, title, g[key], "m", at + field)
                continue
            share = sheet.rule(
                f"f_{symbol}", f"{title} over {'wire diameter' if of == 'wire' else 'coil height'}", getattr(s, rule), "1",
                f"sizing.energized_lip.{rule}",
            )  # fmt: skip
            names[key] = sheet.step(symbol, title, f"{share} * {names[of]}", "m", _DEFINITION, g[key])
        return names

    def _garter_dimensions(self) -> dict[str, str]:
        s, g, at, sheet = self.case.data.sizing.flexible_lip, self.case.dimensions, "/design/garter/", self.sheet
        rows = (
            ("wire", "d_g", "Wire diameter of the garter", "m", "wire_diameter"),
            ("coil", "D_g", "Mean coil diameter of the garter", "m", "mean_coil_diameter"),
            ("free_length", "L_g", "Free developed length of the garter", "m", "free_length"),
            ("tension", "F_0", "Initial tension of the garter", "N", "initial_tension"),
            ("coils", "N_g", "Active coils of the garter", "1", "active_coils"),
        )
        if at + "wire_diameter" not in self.assumed:
            names = {
                key: self._given(symbol, title, g[field], unit, at + field) for key, symbol, title, unit, field in rows
            }
        else:
            path = "sizing.flexible_lip.garter"
            sheet.lookup(
                "d_g", "Wire diameter of the garter", s.garter_wire_diameter, "d", "m", f"{path}_wire_diameter"
            )
            ratio = sheet.rule("f_coil", "Coil over wire diameter", s.garter_coil_ratio, "1", f"{path}_coil_ratio")
            stretch = sheet.rule(
                "f_stretch", "Extension of the fitted garter", s.garter_stretch, "1", f"{path}_stretch"
            )
            stress = sheet.rule(
                "tau_0", "Stress at which coils open", s.garter_initial_stress, "Pa", f"{path}_initial_stress"
            )
            equations = {
                "coil": f"{ratio} * d_g",
                "free_length": f"2 * pi * (r + t + (D_g + d_g) / 2) / (1 + {stretch})",
                "tension": f"{stress} * pi * d_g**3 / (8 * D_g)",
                "coils": "L_g / d_g",
            }
            names = {"wire": "d_g"}
            for key, symbol, title, unit, field in rows[1:]:
                names[key] = sheet.step(
                    symbol, title, equations[key], unit, "close-wound spring sized to its seat", g[field]
                )
        names["seat"] = sheet.step(
            "r_s", "Radius of the garter's axis on its seat", "r + t + (D_g + d_g) / 2", "m", _DEFINITION
        )
        return names

    def spring(self, sheet: Worksheet, at: str) -> None:
        """Write load, stiffness, stress and mass of the energizer at a temperature, as q_spring, k_spring, m_spring."""
        case = self.case
        state = lip.energizer(case, self.sheet[at])
        if case.energizer is None or case.alloy is None:
            for symbol, unit in (("q_spring", "N/m"), ("k_spring", "N/m/m"), ("m_spring", "kg/m")):
                sheet.given(symbol, "Energizer: none", 0.0, unit, "request /design")
            return
        s, path = dict(self._spring_dimensions()), self._alloy_path()
        alloy, g = case.alloy, case.dimensions
        s["modulus"] = sheet.lookup(
            "E_s", "Young's modulus of the alloy", alloy.elastic_modulus, at, "Pa", f"{path}.elastic_modulus"
        )
        s["strength"] = sheet.lookup(
            "S_s", "Yield strength of the alloy", alloy.yield_strength, at, "Pa", f"{path}.yield_strength"
        )
        modulus, nu = curve_at(alloy.elastic_modulus, self.sheet[at]), alloy.poisson_ratio.si
        rho = s["density"]
        if case.energizer == "garter":
            ring = springs.garter_ring(
                g["wire_diameter"], g["mean_coil_diameter"], modulus / (2.0 * (1.0 + nu)), g["active_coils"], g["free_length"],
                g["initial_tension"], self.sheet[s["seat"]], case.radius,
            )._replace(contact_line_load=state.line_load)  # fmt: skip
            garter_steps(sheet, s, ring, "r")
            equation = f"{rho} * pi**2 * {s['wire']}**2 * {s['coil']} * {s['coils']} / (8 * pi * r)"
            reason = "mass of the garter over the circumference"
        elif case.energizer == "cantilever_v":
            fingers = beams.cantilever_v(
                g["deflection"], g["thickness"], g["length"], g["root_angle"], g["coverage"], modulus,
                curve_at(alloy.yield_strength, self.sheet[at]), nu,
            )._replace(line_load=state.line_load, recovery_stiffness=state.stiffness, root_stress=state.stress)  # fmt: skip
            cantilever_steps(sheet, s, fingers)
            equation = f"33 / 140 * {rho} * {s['coverage']} * {s['thickness']} * {s['length']}"
            reason = "33/140 of a cantilever moves with its tip (Rayleigh)"
        else:
            radius = self.sheet.step(
                "r_coil", "Radius of the coil axis", f"r + t + {s['height']} / 2", "m", _DEFINITION
            )
            ratio = self.sheet.step(
                "f_r", "Circumference of the coil over that of the shaft", f"{radius} / r", "1", _DEFINITION
            )
            wire = g["wire_diameter"]
            turn = rods.canted_coil_load(
                g["deflection"], g["pitch"], 0.5 * (g["width"] - wire), 0.5 * (g["height"] - wire), g["cant_angle"], wire,
                modulus, modulus / (2.0 * (1.0 + nu)), self.sheet[ratio],
            )._replace(
                load_per_length=state.line_load, rate_per_length=state.stiffness, equivalent_stress=state.stress
            )  # fmt: skip
            coil_steps(sheet, s, turn, ratio)
            equation = f"{rho} * pi * {s['wire']}**2 / 4 * pi * ({s['width']} + {s['height']} - 2 * {s['wire']}) / 2 / {s['pitch']} / 3"
            reason = "a third of a turn squeezed across moves with its crest"
        sheet.step("m_spring", "Moving mass of the energizer", equation, "kg/m", reason, state.mass)
        if case.energizer == "garter":
            # a shaft that runs out moves the ring sideways without lengthening it
            sheet.given("k_side", "Stiffness of the garter against sideways motion", 0.0, "N/m/m", "models/garter")

    # ------------------------------------------------------------------------------------------------------------- load

    def load(self, sheet: Worksheet, at: str, time: str, pressure: str, spring: str, load: lip.LipLoad) -> str:
        """Write the contact load of the main lip and its parts; returns the symbol of the whole."""
        case = self.case
        modulus = self.modulus(sheet, at)
        left = self.relaxed(sheet, at, time)
        own = sheet.step(
            "q_lip",
            "Load of the lip itself, relaxed",
            f"k_E * {modulus} * i / 2 * {left} * f_form",
            "N/m",
            _EQUILIBRIUM,
            load.lip,
        )
        energizer = sheet.step(
            "q_e", "Load of the energizer at the lip", f"{spring} * f_form", "N/m", _EQUILIBRIUM, load.energizer
        )
        if case.family == "flexible_lip":
            equation, source = f"c_p * {pressure}", _SHELL
        else:
            rule, path = case.data.sizing.pressure_load, "sizing.pressure_load"
            share = self.sheet.rule(
                "f_L", "Share of the lip length that pressure loads", rule.energized_length_share, "1",
                f"{path}.energized_length_share",
            )  # fmt: skip
            under = self.sheet.rule(
                "f_b", "Mean pressure under the contact over the sealed one", rule.contact_pressure_share, "1",
                f"{path}.contact_pressure_share",
            )  # fmt: skip
            equation, source = f"{pressure} * (L_lip * {share} + b - {under} * b)", _EQUILIBRIUM
        by_pressure = sheet.step("q_p", "Load by the sealed pressure", equation, "N/m", source, load.pressure)
        return sheet.step(
            "q",
            "Contact load of the main lip",
            f"max({own} + {energizer} + {by_pressure}, 0)",
            "N/m",
            _EQUILIBRIUM,
            load.total,
        )

    # ---------------------------------------------------------------------------------------------------- running state

    def surroundings(self, around: running.Surroundings, given: Any = None) -> None:
        """Write what carries the heat away; ``given`` is what the request stated of it."""
        sheet, case, rule = self.sheet, self.case, self.case.data.running

        def stated(name: str) -> bool:
            return given is not None and getattr(given, name) is not None

        at = "/surroundings/"
        if stated("ambient_temperature"):
            self._given("T_amb", "Temperature on the air side", around.ambient, "K", at + "ambient_temperature")
        else:
            self._ambient()
        if stated("shaft_conductivity"):
            self._given(
                "k_shaft", "Conductivity of the shaft", around.shaft_conductivity, "W/m/K", at + "shaft_conductivity"
            )
        else:
            material = self.duty.shaft.material
            path = (
                "running.shaft_conductivity" if material is None else f"shaft_materials.{material}.thermal_conductivity"
            )
            sheet.rule("k_shaft", "Conductivity of the shaft", case.shaft_conductivity, "W/m/K", path)
        if stated("shaft_length"):
            self._given(
                "L_shaft", "Length of shaft that carries heat, each side", around.shaft_length, "m", at + "shaft_length"
            )
        else:
            ratio = sheet.rule(
                "f_shaft", "That length over the diameter", rule.shaft_length_ratio, "1", "running.shaft_length_ratio"
            )
            sheet.step(
                "L_shaft",
                "Length of shaft that carries heat, each side",
                f"{ratio} * d",
                "m",
                _DEFINITION,
                around.shaft_length,
            )
        if stated("fluid_film"):
            self._given(
                "h_fluid", "Film coefficient of the wetted shaft", around.fluid_film, "W/m2/K", at + "fluid_film"
            )
        else:
            path = f"running.fluid_film.{case.fluid.phase}"
            sheet.rule("h_fluid", "Film coefficient of the wetted shaft", case.fluid_film, "W/m2/K", path)
        fixed = running.fixed_paths(case, around)
        area = sheet.step("A_c", "Area of the contact", "pi * d * b", "m2", _DEFINITION)
        sheet.step(
            "R_c", "Constriction of the heat under the contact", "ring_constriction(2 * b / d) / (pi * d * k_shaft)", "K/W",
            "Fourier transform along the shaft, derived (models/heat)", fixed.constriction,
        )  # fmt: skip
        fin = sheet.step("m_wet", "Fin parameter of the wetted shaft", "sqrt(4 * h_fluid / (k_shaft * d))", "1/m", _FIN)
        sheet.step(
            "G_wet", "Conductance of the wetted shaft", f"{fin} * k_shaft * pi * d**2 / 4 * tanh({fin} * L_shaft)", "W/K", _FIN,
            fixed.wet_side.conductance,
        )  # fmt: skip
        through = sheet.rule(
            "k_lip", "Conductivity of the compound", case.compound.thermal_conductivity, "W/m/K",
            f"{self.compound}.thermal_conductivity",
        )  # fmt: skip
        path_ratio = sheet.rule(
            "f_back", "Way of the heat through the lip over its thickness", rule.housing_length_ratio, "1",
            "running.housing_length_ratio",
        )  # fmt: skip
        sheet.step(
            "G_back", "Conductance through the lip into the fluid",
            f"1 / (t * {path_ratio} / ({through} * {area}) + 1 / (h_fluid * {area}))", "W/K", _NETWORK, fixed.back.conductance,
        )  # fmt: skip

    def _ambient(self) -> None:
        record = self.case.data.running.ambient_temperature
        self.sheet.rule("T_amb", "Temperature on the air side", record, "K", "running.ambient_temperature")

    def second_lip(self) -> str | None:
        """Write the load share of a second lip, if there is one."""
        kind = self.case.features.get("second_lip", "none")
        rule = self.case.data.running
        if kind == "excluder":
            return self.sheet.rule("f_2", "Load of the excluder over that of the main lip", rule.excluder_load_share, "1",
                                   "running.excluder_load_share")  # fmt: skip
        if kind == "redundant":
            return self.sheet.rule("f_2", "Load of the redundant lip over that of the main lip", rule.redundant_load_share, "1",
                                   "running.redundant_load_share")  # fmt: skip
        return None

    def state(
        self,
        sheet: Worksheet,
        around: running.Surroundings,
        state: running.Running,
        mu: str,
        time: str,
        pressure: str = "p",
    ) -> None:
        """Write a running state at its contact temperature, and the balance of heat that made it so."""
        at = sheet.given(
            "T_c", "Contact temperature, found by iteration to 0.01 K; proved by the balance below", state.temperature, "K",
            "balance of heat made and carried away (models/heat)",
        )  # fmt: skip
        if not num.isfinite(state.temperature):
            return
        q = self.load(sheet, at, time, pressure, "q_spring", state.load)
        sheet.step("p_c", "Mean contact pressure", f"{q} / b", "Pa", _DEFINITION, state.contact_pressure)
        share, total = self.second_lip(), q
        if share is not None:
            suffix = at.removeprefix("T_c")
            second = sheet.step(
                "q_2",
                "Load of the second lip",
                f"{share} * (q_lip{suffix} + q_e{suffix})",
                "N/m",
                _EQUILIBRIUM,
                state.second_load,
            )
            total = f"({q} + {second})"
        torque = sheet.step("M", "Friction torque", f"{mu} * {total} * pi * d**2 / 2", "N.m", _COULOMB, state.torque)
        power = sheet.step("P", "Frictional heat", f"2 * pi * n * {torque}", "W", _COULOMB, state.power)
        film = self.air(sheet, around, at)
        fin = sheet.step("m_air", "Fin parameter of the shaft in air", f"sqrt(4 * {film} / (k_shaft * d))", "1/m", _FIN)
        dry = sheet.step(
            "G_air",
            "Conductance of the shaft in air",
            f"{fin} * k_shaft * pi * d**2 / 4 * tanh({fin} * L_shaft)",
            "W/K",
            _FIN,
        )
        shaft = sheet.step(
            "G_shaft",
            "Conductance of the shaft, constriction in front",
            f"1 / (R_c + 1 / (G_wet + {dry}))",
            "W/K",
            _NETWORK,
        )
        far = sheet.step(
            "T_shaft", "Temperature behind it", f"(G_wet * T + {dry} * T_amb) / (G_wet + {dry})", "K", _NETWORK
        )
        whole = sheet.step("G", "Conductance of all ways", f"{shaft} + G_back", "W/K", _NETWORK, state.conductance)
        sink = sheet.step(
            "T_sink",
            "Temperature without friction",
            f"({shaft} * {far} + G_back * T) / {whole}",
            "K",
            _NETWORK,
            state.sink,
        )
        balance = sheet.step(
            "T_bal", "Temperature at which the heat goes off", f"{sink} + {power} / {whole}", "K", _NETWORK
        )
        sheet.step("dT_bal", "Imbalance left by the iteration", f"{balance} - {at}", "K", _NETWORK)

    def air(self, sheet: Worksheet, around: running.Surroundings, at: str) -> str:
        """Write the film coefficient of the shaft in air at a contact temperature."""
        case, root = self.case, self.sheet
        p0 = root.given("p_atm", "Standard atmosphere", running.AIR_PRESSURE, "Pa", "ISO 2533")
        gravity = root.given(
            "g_n", "Standard acceleration of free fall", heat.STANDARD_GRAVITY, "m/s2", "3rd CGPM 1901, exact"
        )
        gas = root.given(
            "R_air", "Gas constant of dry air", heat._GAS_CONSTANT_AIR, "J/kg/K", "U.S. Standard Atmosphere 1976"
        )
        t = sheet.step("T_f", "Film temperature", f"({at} + T_amb) / 2", "K", _DEFINITION)
        fluid = heat.dry_air(root[t], running.AIR_PRESSURE)
        k = sheet.step(
            "k_air",
            "Conductivity of air",
            f"2.64638e-3 * {t}**1.5 / ({t} + 245.4 * 10**(-12 / {t}))",
            "W/m/K",
            _AIR,
            fluid.conductivity,
        )
        nu = sheet.step(
            "nu_air",
            "Kinematic viscosity of air",
            f"1.458e-6 * {t}**1.5 / ({t} + 110.4) * {gas} * {t} / {p0}",
            "m2/s",
            _AIR,
            fluid.viscosity,
        )
        heat_capacity = sheet.step(
            "cp_R", "Heat capacity of air over its gas constant",
            f"3.653 - 1.337e-3 * {t} + 3.294e-6 * {t}**2 - 1.913e-9 * {t}**3 + 0.2763e-12 * {t}**4", "1", _AIR,
        )  # fmt: skip
        pr = sheet.step(
            "Pr", "Prandtl number of air", f"{heat_capacity} * {p0} * {nu} / ({t} * {k})", "1", _AIR, fluid.prandtl,
        )  # fmt: skip
        least = root.given("dT_least", "Least difference counted for natural convection", 1.0, "K", "models/heat")
        difference = num.maximum(root[at] - around.ambient, 1.0)
        film = heat.shaft_film(case.shaft_diameter, case.rotational_speed, fluid, difference, around.correlation)
        turning = heat.rotating_cylinder_film(
            case.shaft_diameter, case.rotational_speed, fluid, difference, around.correlation
        )
        still = heat.natural_cylinder_film(case.shaft_diameter, fluid, difference)
        re = sheet.step(
            "Re", "Reynolds number of the shaft in air", f"pi * n * d**2 / {nu}", "1", _DEFINITION, turning.reynolds
        )
        gr = sheet.step(
            "Gr", "Grashof number of the shaft in air", f"{gravity} / {t} * max({at} - T_amb, {least}) * d**3 / {nu}**2", "1", _DEFINITION,
            turning.grashof,
        )  # fmt: skip
        turn = sheet.step(
            "Nu_turn", "Nusselt number of the turning shaft", _CORRELATIONS[around.correlation].format(re=re, gr=gr, pr=pr), "1",
            f"{heat.CORRELATIONS[around.correlation].source} (models/heat)", turning.nusselt,
        )  # fmt: skip
        rest = sheet.step(
            "Nu_still", "Nusselt number of the shaft at rest",
            f"(0.60 + 0.387 * ({gr} * {pr})**(1 / 6) / (1 + (0.559 / {pr})**(9 / 16))**(8 / 27))**2", "1",
            "Churchill and Chu 1975 (models/heat)", still.nusselt,
        )  # fmt: skip
        return sheet.step(
            "h_air", "Film coefficient of the shaft in air", f"max({turn}, {rest}) * {k} / d", "W/m2/K",
            "the larger of both; common practice (models/heat)", film.film,
        )  # fmt: skip

    # -------------------------------------------------------------------------------------------------------- following

    def following(
        self, found: following.Allowance, time: Any, time_source: str, offset: str | None = None, suffix: str = ""
    ) -> str:
        """Write the runout the lip follows and its rated cap; returns the symbol of what is allowed."""
        case, sheet = self.case, self.sheet
        self.held(time, time_source)
        omega = sheet.step("omega", "Angular speed", "2 * pi * n", "1/s", _DEFINITION)
        states = ["cold"]
        hot = following.ends(case, sheet["t_hold"])[1]
        if case.energizer in {"cantilever_v", "canted_coil"} or hot.mass * sheet[omega] ** 2 > hot.equilibrium:
            states.append("hot")
        limits = [self._limit(name, omega, offset, suffix) for name in states]
        followed = sheet.step(
            f"TIR_follow{suffix}", "Runout the lip follows", limits[0] if len(limits) == 1 else f"min({', '.join(limits)})", "m",
            _FOLLOWING, found.followed_tir,
        )  # fmt: skip
        speed = sheet.step(
            "v_n", "Surface speed for the rated cap", "pi * d * n", "m/s", _DEFINITION,
            num.pi * case.shaft_diameter * case.rotational_speed,
        )  # fmt: skip
        cap = self.capacity("runout", speed, rated(case, "runout", sheet[speed]), "m")
        return sheet.step(
            f"TIR{suffix}", "Allowed runout, the lesser of both", f"min({followed}, {cap})", "m", _DEFINITION, found.tir
        )

    def held(self, time: Any, time_source: str) -> None:
        """Write what holds the relaxed lip to the shaft at its coldest and at its hottest."""
        case, root = self.case, self.sheet
        self.shape()
        hold = root.given("t_hold", "Time under load after which the lip is judged", time, "s", time_source)
        left = self.relaxed(root.scope("hot"), "T_max", hold)
        cold = root.step("T_cold", "Coldest state, not above 20 degC", "min(T_min, 293.15)", "K", _DEFINITION)
        for name, at, parts in zip(("cold", "hot"), (cold, "T_max"), following.ends(case, root[hold]), strict=True):
            sheet = root.scope(name)
            modulus = self.modulus(sheet, at)
            _, _, shift, _ = lip.relaxation(case, root[at])
            self._shift(sheet, at, shift)
            self.spring(sheet, at)
            stiffness = sheet.step("k_lip", "Stiffness of the lip at once", f"k_E * {modulus}", "N/m/m", _SHELL)
            sheet.step(
                "q_own",
                "Load left of the relaxed lip",
                f"{stiffness} * i / 2 * {left} * f_form",
                "N/m",
                _FOLLOWING,
                parts.load,
            )
            sheet.step(
                "q_es",
                "Load of the energizer at the lip",
                f"q_spring_{name} * f_form",
                "N/m",
                _FOLLOWING,
                parts.spring_load,
            )
            sheet.step("m", "Moving mass", f"m_lip + m_spring_{name}", "kg/m", _FOLLOWING, parts.mass)
            side = f"k_side_{name}" if case.energizer == "garter" else f"max(k_spring_{name}, 0)"
            sheet.step("k_rest", "Stiffness that does not relax", f"{stiffness} * g_inf + {side}", "N/m/m", _FOLLOWING,
                       parts.equilibrium + parts.spring_stiffness)  # fmt: skip

    def _limit(self, name: str, omega: str, offset: str | None, suffix: str) -> str:
        root = self.sheet
        sheet = root.scope(name)
        shares, times = self._series()
        parts = following.ends(self.case, root["t_hold"])[name == "hot"]
        found = following.limit_at(parts, root[omega], None if offset is None else root[offset])
        stiffness, a, mass, rest = (f"{symbol}_{name}" for symbol in ("k_lip", "a_T", "m", "k_rest"))
        preload = f"q_own_{name} + q_es_{name}" + ("" if offset is None else f" - {rest} * {offset}")
        load = sheet.step(
            f"q_pre{suffix}",
            "Load that holds the lip to the shaft",
            f"max({preload}, 0)",
            "N/m",
            _FOLLOWING,
            found.preload,
        )
        worst = found.governing_frequency
        title = "Frequency of the greatest stiffness on the way up"
        if worst == root[omega]:
            at_worst = sheet.step("omega_w", title, omega, "1/s", _FOLLOWING, worst)
        else:
            at_worst = sheet.given("omega_w", f"{title}, found by search", worst, "1/s", _FOLLOWING)
        ratios = [f"{at_worst} * {a} * {tau}" for tau in times]
        storage = "".join(
            f" + {stiffness} * {g} * ({y})**2 / (1 + ({y})**2)" for g, y in zip(shares, ratios, strict=True)
        )
        loss = " + ".join(f"{g} * {y} / (1 + ({y})**2)" for g, y in zip(shares, ratios, strict=True)) or "0"
        real = sheet.step(
            "k_re", "Stiffness in phase less the mass", f"{rest}{storage} - {mass} * {at_worst}**2", "N/m/m", _FOLLOWING
        )
        imaginary = sheet.step(
            "k_im", "Stiffness a quarter period ahead", f"{stiffness} * ({loss})", "N/m/m", _FOLLOWING
        )
        z = sheet.step(
            "Z", "Greatest dynamic stiffness on the way up", f"sqrt({real}**2 + {imaginary}**2)", "N/m/m", _FOLLOWING,
            found.dynamic_stiffness,
        )  # fmt: skip
        return sheet.step(
            f"TIR{suffix}", "Runout followed in this state", f"2 * {load} / {z}", "m", _FOLLOWING, found.tir
        )

    # --------------------------------------------------------------------------------------------------------- criteria

    def capacity(self, criterion: str, speed: str, limit: Limit, unit: str) -> str:
        """Write a rated capacity: its limit, and every factor of the options on it."""
        sheet, symbol = self.sheet, f"lim_{criterion}"
        if not limit.records:
            return sheet.given(symbol, "", num.nan, unit, _DEFINITION)
        paths = {
            id(entry.record): f"designs.capacities.{name}" for name, entry in self.case.data.designs.capacities.items()
        }
        (first, *factors), (title, *titles) = limit.records, limit.titles
        base = f"{symbol}_base" if factors else symbol
        words = f"Rated capacity: {title}"
        if isinstance(first, Curve):
            name = sheet.lookup(base, words, first, speed, unit, paths[id(first)])
        else:
            name = sheet.rule(base, words, first, unit, paths[id(first)])
        if not factors:
            return name
        product = [name]
        for index, (record, words) in enumerate(zip(factors, titles, strict=True), 1):
            product.append(sheet.rule(f"f_{criterion}_{index}", f"Factor: {words}", record, "1", paths[id(record)]))
        return sheet.step(
            symbol, "Rated capacity with its factors", " * ".join(product), unit, _DEFINITION, limit.value
        )

    def use(self, criterion: str, equation: str, utilization: Any) -> None:
        """Write the utilization of a criterion."""
        title = self.case.data.criteria[criterion].title
        self.sheet.step(
            f"u_{criterion}", f"Use of the limit: {title}", equation, "1", "demand over capacity", utilization
        )


def ratio_of(sheet: Worksheet, demand: str, limit: str) -> str:
    """Equation of a utilization: no demand uses nothing, whatever the capacity."""
    nothing = sheet[demand] == 0.0 and (sheet[limit] == 0.0 or not num.isfinite(sheet[limit]))
    return "0" if nothing else f"{demand} / {limit}"


def envelope(case: Case, duty: Duty, design: FlexibleLip | EnergizedLip, measures: Mapping[str, Any]) -> Steps:
    """Working of an envelope check; ``measures`` are its numeric criteria by name."""
    trail = Trail(case, duty, design)
    trail.shape()
    writers = {
        "surface_speed": _surface_speed, "pressure": _pressure, "vacuum": _vacuum, "pressure_velocity": _pressure_velocity,
        "contact_temperature": _contact_temperature, "contact_pressure_velocity": _contact_pressure_velocity,
        "lip_stress": _lip_stress, "temperature_low": temperature_low, "temperature_high": temperature_high,
        "runout": _runout, "offset": _offset, "shaft_hardness": _shaft_hardness, "shaft_roughness": _shaft_roughness,
    }  # fmt: skip
    for name, m in measures.items():
        if name in writers:
            writers[name](trail, m)
    return trail.sheet.steps


def _surface_speed(trail: Trail, m: Any) -> None:
    limit = trail.capacity("surface_speed", "v_peak", m.limit, "m/s")
    trail.use("surface_speed", ratio_of(trail.sheet, "v_peak", limit), m.utilization)


def _pressure(trail: Trail, m: Any) -> None:
    demand = trail.sheet.step(
        "p_in", "Sealed pressure, a vacuum counting as none", "max(p, 0)", "Pa", _DEFINITION, m.demand
    )
    base = rated(trail.case, "pressure", trail.case.peak_speed)
    limit = trail.capacity("pressure", "v_peak", base, "Pa")
    if m.capacity < base.value:
        limit = _hot_pressure(trail, limit, m.capacity)
    trail.use("pressure", ratio_of(trail.sheet, demand, limit), m.utilization)


def _hot_pressure(trail: Trail, limit: str, value: Any) -> str:
    """Write what the heat leaves of the rated pressure of an energized lip."""
    sheet, strength = trail.sheet, trail.case.compound.yield_strength
    upto = sheet.rule(
        "T_rated",
        "Temperature to which the rated pressure holds",
        trail.case.data.running.pressure_rating_temperature,
        "K",
        "running.pressure_rating_temperature",
    )
    path = f"{trail.compound}.yield_strength"
    there = sheet.lookup("S_rated", "Yield strength of the compound there", strength, upto, "Pa", path)
    hot = sheet.lookup("S_c", "Yield strength of the hot compound", strength, "T_max", "Pa", path)
    return sheet.step(
        "lim_pressure_hot",
        "Rated pressure with the strength that is left",
        f"{limit} * min({hot} / {there}, 1)",
        "Pa",
        "models/retention",
        value,
    )


def _vacuum(trail: Trail, m: Any) -> None:
    demand = trail.sheet.step("p_out", "Pressure from the air side", "max(-p, 0)", "Pa", _DEFINITION, m.demand)
    limit = trail.capacity("vacuum", "v_peak", m.limit, "Pa")
    trail.use("vacuum", ratio_of(trail.sheet, demand, limit), m.utilization)


def _pressure_velocity(trail: Trail, m: Any) -> None:
    demand = trail.sheet.step(
        "pv", "Sealed pressure times surface speed", "max(p, 0) * v", "Pa.m/s", _DEFINITION, m.demand
    )
    limit = trail.capacity("pressure_velocity", "v", m.limit, "Pa.m/s")
    trail.use("pressure_velocity", ratio_of(trail.sheet, demand, limit), m.utilization)


def _room(trail: Trail) -> str:
    return trail.sheet.given(
        "T_room", "Temperature from which the use of a limit counts", 293.15, "K", "20 degC, ISO 1"
    )


def _top(trail: Trail) -> str:
    record = trail.case.compound.temperature_max
    return trail.sheet.rule(
        "T_top", "Highest temperature of the compound", record, "K", f"{trail.compound}.temperature_max"
    )


def _contact_temperature(trail: Trail, m: Any) -> None:
    case, sheet = trail.case, trail.sheet
    if case.friction is None:
        return
    state = running.run(
        case,
        running.surroundings(case),
        case.friction.si,
        case.data.running.nominal_time.si,
        num.maximum(case.pressure, 0.0),
    )
    mu = sheet.rule("mu", "Friction coefficient", case.friction, "1", f"{trail.compound}.friction.{case.lubrication}")
    time = sheet.rule(
        "t_run", "Time under load, after running in", case.data.running.nominal_time, "s", "running.nominal_time"
    )
    around = running.surroundings(case)
    trail.surroundings(around)
    trail.spring(sheet, "T")
    pressure = sheet.step("p_run", "Sealed pressure, a vacuum counting as none", "max(p, 0)", "Pa", _DEFINITION)
    trail.state(sheet, around, state, mu, time, pressure)
    if num.isfinite(state.temperature):
        hot = sheet.step(
            "T_hot",
            "Rise by friction on top of the hottest fluid, cooling by the shaft not relied upon",
            "max(T_sink, T, T_max) + max(T_c - T_sink, 0)",
            "K",
            _DEFINITION,
            m.demand,
        )
        room, top = _room(trail), _top(trail)
        trail.use("contact_temperature", f"max({hot} - {room}, 0) / ({top} - {room})", m.utilization)


def _contact_pressure_velocity(trail: Trail, m: Any) -> None:
    case, sheet = trail.case, trail.sheet
    limiting = sheet.lookup(
        "pv_lim",
        "Limiting PV of the compound, dry",
        case.compound.limiting_pv,
        "v",
        "Pa.m/s",
        f"{trail.compound}.limiting_pv",
    )
    factor = sheet.lookup(
        "f_pv",
        "Derating of it by temperature",
        case.compound.pv_derating,
        "T_max",
        "1",
        f"{trail.compound}.pv_derating",
    )
    equation = f"{limiting} * {factor}"
    if case.lubrication == "boundary":
        wetted = sheet.rule(
            "f_boundary",
            "Limiting PV under boundary lubrication over that measured dry",
            case.data.running.boundary_pv_factor,
            "1",
            "running.boundary_pv_factor",
        )
        equation += f" * {wetted}"
    limit = sheet.step("lim_pv", "Limiting PV at the highest temperature", equation, "Pa.m/s", _DEFINITION, m.capacity)
    if case.lubrication == "lubricated":
        sheet.given(
            "pv_c",
            "Contact pressure times speed: a lubricated lip is not held to a dry limit",
            m.demand,
            "Pa.m/s",
            "models/contact_friction",
        )
        trail.use("contact_pressure_velocity", ratio_of(sheet, "pv_c", limit), m.utilization)
        return
    inner = sheet.scope("pv")
    cold = sheet.step("T_cold", "Coldest state, not above 20 degC", "min(T_min, 293.15)", "K", _DEFINITION)
    time = sheet.rule(
        "t_run", "Time under load, after running in", case.data.running.nominal_time, "s", "running.nominal_time"
    )
    pressure = sheet.step("p_run", "Sealed pressure, a vacuum counting as none", "max(p, 0)", "Pa", _DEFINITION)
    trail.spring(inner, cold)
    spring = lip.energizer(case, sheet[cold]).line_load
    load = lip.load(case, sheet[cold], sheet[time], sheet[pressure], spring)
    q = trail.load(inner, cold, time, pressure, "q_spring_pv", load)
    demand = sheet.step(
        "pv_c",
        "Contact pressure of the cold lip times speed",
        f"{q} / b * v",
        "Pa.m/s",
        "Neale, section A5 (models/contact_friction)",
        m.demand,
    )
    trail.use("contact_pressure_velocity", ratio_of(sheet, demand, limit), m.utilization)


def _lip_stress(trail: Trail, m: Any) -> None:
    case, sheet = trail.case, trail.sheet
    strength = sheet.lookup(
        "S_c",
        "Yield strength of the hot compound",
        case.compound.yield_strength,
        "T_max",
        "Pa",
        f"{trail.compound}.yield_strength",
    )
    share = sheet.rule(
        "f_root",
        "Stress borne for long over the yield strength at short time",
        case.data.running.root_stress_share,
        "1",
        "running.root_stress_share",
    )
    limit = sheet.step(
        "lim_lip_stress", "Stress the root bears for long", f"{share} * {strength}", "Pa", _DEFINITION, m.capacity
    )
    if case.family == "flexible_lip":
        demand = sheet.step(
            "sigma_lip", "Bending at the root of the lip by pressure", "s_p * max(p, 0)", "Pa", _SHELL, m.demand
        )
    else:
        demand = sheet.given(
            "sigma_lip", "Bending at the root: an energized lip bears on its heel", m.demand, "Pa", "models/shell_lip"
        )
    trail.use("lip_stress", ratio_of(sheet, demand, limit), m.utilization)


def _part_limits(trail: Trail, end: str, words: str) -> list[str]:
    case, sheet = trail.case, trail.sheet
    parts: list[tuple[str, Any, str]] = [("compound", case.compound, trail.compound)]
    if case.alloy is not None:
        parts.append(("alloy", case.alloy, trail._alloy_path()))
    if case.elastomer is not None:
        name = next(name for name, record in case.data.elastomers.items() if record is case.elastomer)
        parts.append(("ring", case.elastomer, f"elastomers.{name}"))
    return [
        sheet.rule(f"T_{end}_{part}", f"{words} temperature of the {'O-ring' if part == 'ring' else part}",
                   getattr(record, f"temperature_{end}"), "K", f"{path}.temperature_{end}")
        for part, record, path in parts
    ]  # fmt: skip


def temperature_low(trail: Trail, m: Any) -> None:
    """Write how far the coldest duty goes towards the lowest temperature of all parts."""
    names, room = _part_limits(trail, "min", "Lowest"), _room(trail)
    limit = trail.sheet.step(
        "T_low",
        "Lowest temperature of all parts",
        f"max({', '.join(names)})" if len(names) > 1 else names[0],
        "K",
        _DEFINITION,
        m.capacity,
    )
    trail.use("temperature_low", f"max({room} - T_min, 0) / ({room} - {limit})", m.utilization)


def temperature_high(trail: Trail, m: Any) -> None:
    """Write how far the hottest duty goes towards the highest temperature of all parts."""
    names, room = _part_limits(trail, "max", "Highest"), _room(trail)
    limit = trail.sheet.step(
        "T_high",
        "Highest temperature of all parts",
        f"min({', '.join(names)})" if len(names) > 1 else names[0],
        "K",
        _DEFINITION,
        m.capacity,
    )
    trail.use("temperature_high", f"max(T_max - {room}, 0) / ({limit} - {room})", m.utilization)


def _hold(trail: Trail) -> tuple[float, str]:
    rule = trail.case.data.sizing.following.service_time
    return rule.si, datum_source("sizing.following.service_time", rule)


def _offset_given(trail: Trail) -> str:
    sheet, case = trail.sheet, trail.case
    if num.isfinite(case.offset):
        return sheet.given("a_off", "Stated shaft-to-bore offset", case.offset, "m", "request /duty/offset")
    return sheet.given("a_off", "Shaft-to-bore offset", 0.0, "m", "not stated: none is counted")


def _runout(trail: Trail, m: Any) -> None:
    case, sheet = trail.case, trail.sheet
    offset = _offset_given(trail)
    found = following.allowance(case, case.rotational_speed, sheet[offset])
    allowed = trail.following(found, *_hold(trail), offset=offset)
    if num.isfinite(case.runout):
        stated = sheet.given("TIR_stated", "Stated runout", case.runout, "m", "request /duty/runout")
        trail.use("runout", ratio_of(sheet, stated, allowed), m.utilization)


def _offset(trail: Trail, m: Any) -> None:
    case, sheet = trail.case, trail.sheet
    cap = trail.capacity("offset", "v", rated(case, "offset", case.surface_speed), "m")
    trail.held(*_hold(trail))
    ends = [
        sheet.step(f"a_{name}", f"Offset at which the {name} lip leaves the shaft", f"max(q_own_{name} + q_es_{name}, 0) / k_rest_{name}",
                   "m", _FOLLOWING)
        for name in ("cold", "hot")
    ]  # fmt: skip
    limit = sheet.step(
        "lim_a", "Allowed offset, the least of all", f"min({cap}, {', '.join(ends)})", "m", _DEFINITION, m.capacity
    )
    if num.isfinite(case.offset):
        trail.use("offset", ratio_of(sheet, _offset_given(trail), limit), m.utilization)


def _shaft_hardness(trail: Trail, m: Any) -> None:
    case, sheet, pointer = trail.case, trail.sheet, "/duty/shaft/hardness"
    least = sheet.rule(
        "H_min",
        "Shaft hardness the fillers ask for, HRC",
        case.compound.shaft_hardness_min,
        "1",
        f"{trail.compound}.shaft_hardness_min",
    )
    if pointer in trail.assumed and case.shaft_material is not None and case.shaft_material.hardness is not None:
        have = sheet.rule(
            "H_shaft",
            "Hardness of the shaft, HRC",
            case.shaft_material.hardness,
            "1",
            f"{trail.assumed[pointer]}.hardness",
        )
    else:
        have = sheet.given("H_shaft", "Hardness of the shaft, HRC", case.hardness, "1", f"request {pointer}")
    trail.use("shaft_hardness", f"{least} / {have}", m.utilization)


def _shaft_roughness(trail: Trail, m: Any) -> None:
    case, sheet = trail.case, trail.sheet
    low = sheet.rule(
        "Ra_min",
        "Least shaft roughness of the compound",
        case.compound.shaft_roughness_min,
        "m",
        f"{trail.compound}.shaft_roughness_min",
    )
    high = sheet.rule(
        "Ra_max",
        "Greatest shaft roughness of the compound",
        case.compound.shaft_roughness_max,
        "m",
        f"{trail.compound}.shaft_roughness_max",
    )
    have = sheet.given("Ra", "Roughness of the shaft", case.roughness, "m", "request /duty/shaft/roughness")
    trail.use("shaft_roughness", f"max({have} / {high}, {low} / {have})", m.utilization)


def friction(
    case: Case, duty: Duty, design: FlexibleLip | EnergizedLip, around: running.Surroundings, given: Any,
    states: Iterable[tuple[str, float, float, running.Running]],
) -> Steps:  # fmt: skip
    """Working of a friction estimate: its levels, each with its load, its torque and its balance of heat."""
    trail = Trail(case, duty, design)
    sheet = trail.sheet
    trail.shape()
    trail.surroundings(around, given)
    trail.spring(sheet, "T")
    record = case.friction
    assert record is not None
    source = datum_source(f"{trail.compound}.friction.{case.lubrication}", record)
    rule = case.data.running
    times = {
        "low": ("sizing.following.service_time", case.data.sizing.following.service_time),
        "nominal": ("running.nominal_time", rule.nominal_time),
        "high": ("running.fresh_time", rule.fresh_time),
    }
    for name, mu, time, state in states:
        inner = sheet.scope(name)
        path, datum = times[name]
        coefficient = inner.given("mu", f"Friction coefficient, {name}", mu, "1", source)
        hold = inner.given("t", f"Time under load, {name} level", time, "s", datum_source(path, datum))
        trail.state(inner, around, state, coefficient, hold)
    _top(trail)
    return sheet.steps


def wearing(
    case: Case, duty: Duty, design: FlexibleLip | EnergizedLip, around: running.Surroundings, given: Any, stated: float | None,
    state: running.Running, k: wear.WearRate, life: wear.Life | None, stiffness: float | None,
) -> Steps:  # fmt: skip
    """Working of a wear estimate; ``stated`` is the wear allowance of the request, ``stiffness`` what wear takes load by."""
    trail = Trail(case, duty, design)
    sheet, rule = trail.sheet, case.data.running
    trail.shape()
    trail.surroundings(around, given)
    trail.spring(sheet, "T")
    assert case.friction is not None
    assert case.wear is not None
    mu = sheet.rule("mu", "Friction coefficient", case.friction, "1", f"{trail.compound}.friction.{case.lubrication}")
    time = sheet.rule("t_run", "Time under load, after running in", rule.nominal_time, "s", "running.nominal_time")
    trail.state(sheet, around, state, mu, time)
    wear_allowance(trail, stated)
    factor = "1"
    if case.shaft_material is not None:
        path = f"shaft_materials.{duty.shaft.material}.wear_factor"
        factor = sheet.rule("f_wear", "Factor of the counterface on wear", case.shaft_material.wear_factor, "1", path)
    source = datum_source(f"{trail.compound}.wear.{case.lubrication}", case.wear)
    side = "k_side" if case.energizer == "garter" else "k_spring"
    if life is not None:
        sheet.step(
            "k_wear", "Load lost per worn depth", f"(k_E * E * phi + {side}) * f_form", "N/m/m", _WEAR, stiffness
        )
    sheet.step("s_1000", "Sliding distance in 1000 h", "v * 3.6e6", "m", _DEFINITION)
    for name, end, raw in (
        ("low", "long", case.wear.si_low),
        ("nominal", "nominal", case.wear.si),
        ("high", "short", case.wear.si_high),
    ):
        inner = sheet.scope(name)
        base = inner.given("K_0", f"Specific wear rate of the compound, {name}", raw, "1/Pa", source)
        found = inner.step(
            "K", f"Specific wear rate on this shaft, {name}", f"{base} * {factor}", "1/Pa", _WEAR, getattr(k, name)
        )
        if life is None or sheet["q"] == 0.0:
            continue
        depth = inner.step(
            "h_dot", "Depth worn per time", f"{found} * p_c * v", "m/s", _WEAR,
            wear.depth_rate(getattr(k, name), state.contact_pressure, case.surface_speed),
        )  # fmt: skip
        inner.step("h_1000", "Depth worn in 1000 h", f"{depth} * 3.6e6", "m", _DEFINITION)
        lost = inner.step(
            "x_lost", "Share of the load that goes with the allowance", "min(k_wear * h_all / q, 1)", "1", _WEAR
        )
        relief = f" * (-log1p(-{lost}) / {lost})" if sheet[lost] > 0.0 else ""
        distance = inner.step(
            "s", "Sliding distance to the allowance, the load falling with wear", f"h_all * b / ({found} * q){relief}", "m", _WEAR,
            wear.relieved_distance(getattr(k, name), state.load.total, stiffness, case.contact_width, sheet["h_all"]),
        )  # fmt: skip
        time = inner.step(
            "t_life", f"Running time to the allowance, {end}", f"{distance} / v", "s", _DEFINITION, getattr(life, end)
        )
        told_life(inner, time, rule.wear.longest_life)
    return sheet.steps


def told_life(sheet: Worksheet, time: str, longest: Datum) -> None:
    """Bound a life that is longer than any that is estimated."""
    if longest.si < sheet[time] < num.inf:
        most = sheet.given(
            "t_max",
            "Longest life that is estimated",
            longest.si,
            "s",
            datum_source("running.wear.longest_life", longest),
        )
        sheet.step("t_told", "Life as it is told", f"min({time}, {most})", "s", _DEFINITION)


def wear_allowance(trail: Trail, stated: float | None) -> None:
    """Write the wear at which a lip is worn out, as h_all."""
    sheet, case, rule = trail.sheet, trail.case, trail.case.data.running.wear
    title = "Wear at which the seal is worn out"
    if stated is not None:
        sheet.given("h_all", title, stated, "m", "request /wear_allowance")
        return
    share = sheet.rule(
        "f_h",
        "Share of the lip thickness that may wear",
        rule.lip_allowance_share,
        "1",
        "running.wear.lip_allowance_share",
    )
    options = [sheet.step("h_lip", "Wear by the lip thickness", f"{share} * t", "m", _DEFINITION)]
    if case.energizer in {"cantilever_v", "canted_coil"}:
        share = sheet.rule(
            "f_D",
            "Share of the energizer's travel",
            rule.energizer_allowance_share,
            "1",
            "running.wear.energizer_allowance_share",
        )
        options.append(
            sheet.step("h_spring", "Wear by the travel of the energizer", f"{share} * Delta", "m", _DEFINITION)
        )
    else:
        share = sheet.rule(
            "f_i",
            "Share of the radial interference",
            rule.interference_allowance_share,
            "1",
            "running.wear.interference_allowance_share",
        )
        options.append(sheet.step("h_fit", "Wear by the interference", f"{share} * i / 2", "m", _DEFINITION))
    sheet.step("h_all", title, f"min({', '.join(options)})" if len(options) > 1 else options[0], "m", _DEFINITION)


def runout(
    case: Case, duty: Duty, design: FlexibleLip | EnergizedLip, time: float | None, here: following.Allowance,
    left: following.Allowance, utilization: float | None,
) -> Steps:  # fmt: skip
    """Working of a runout allowance at the speed of the duty; ``left`` is what an offset leaves of ``here``."""
    trail = Trail(case, duty, design)
    sheet = trail.sheet
    hold, source = _hold(trail) if time is None else (time, "request /service_time")
    allowed = trail.following(here, hold, source)
    if duty.offset is not None:
        allowed = trail.following(left, hold, source, _offset_given(trail), "_off")
    if duty.runout is not None and utilization is not None:
        stated = sheet.given("TIR_stated", "Stated runout", case.runout, "m", "request /duty/runout")
        trail.use("runout", ratio_of(sheet, stated, allowed), utilization)
    return sheet.steps
