"""The working of an energizer load: nominal, and at the two ends of its tolerances that give the least and most load."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from glandwise.checks.working import Steps, cantilever_steps, coil_steps, garter_steps
from glandwise.checks.worksheet import Worksheet
from glandwise.contract.energizer import (
    CantedCoilEnergizer,
    CantileverVEnergizer,
    EnergizerLoadRequest,
    GarterEnergizer,
    ORingEnergizer,
)
from glandwise.mechanics import beams, fits, rods, springs
from glandwise.mechanics import numeric as num
from glandwise.rules.model import RuleSetData

_TITLES = {
    "strip_thickness": ("t_s", "Strip thickness"),
    "finger_length": ("L_s", "Finger length"),
    "wire_diameter": ("d_w", "Wire diameter"),
    "coil_height": ("h_w", "Coil height"),
    "coil_width": ("w_w", "Coil width"),
    "pitch": ("p_w", "Pitch of the turns"),
    "mean_coil_diameter": ("D_g", "Mean coil diameter"),
    "ring_diameter": ("D_s", "Diameter of the coil axis on its seat"),
    "section": ("d_0", "Section of the ring as made"),
    "deflection": ("Delta", "Deflection"),
    "free_height": ("H_free", "Free height"),
    "gland_height": ("H_gland", "Gland height"),
}
_COMPRESSION = {"deflection", "free_height", "gland_height"}
_LINDLEY = "Lindley 1967 (models/o_ring)"


class _Energizer:
    """Writes one energizer in one state of its toleranced inputs."""

    def __init__(self, request: EnergizerLoadRequest, data: RuleSetData, metal: Any, modulus: float) -> None:
        self.request, self.data, self.metal, self.e = request, data, metal, request.energizer
        self.modulus = modulus
        self.sheet = Worksheet()
        self.common: dict[str, str] = {}
        sheet, e = self.sheet, request.energizer
        sheet.given("d", "Diameter of the contact", request.contact_diameter, "m", "request /contact_diameter")
        sheet.step("r", "Radius of the contact", "d / 2", "m", "definition")
        if isinstance(e, ORingEnergizer):
            self._rubber(e)
        else:
            self._alloy(e)

    def _alloy(self, e: Any) -> None:
        sheet, data, metal = self.sheet, self.data, self.metal
        sheet.given("T", "Temperature of the energizer", self.request.temperature, "K", "request /temperature")
        name = e.alloy or (data.sizing.garter_alloy if e.kind == "garter" else data.sizing.energizer_alloy).name
        record, path = data.alloys.get(name), f"alloys.{name}"
        if metal.named:
            self._stands(record, path)
        for symbol, title, field, value, unit in (
            ("E_s", "Young's modulus of the alloy", "elastic_modulus", metal.modulus, "Pa"),
            ("nu_s", "Poisson ratio of the alloy", "poisson_ratio", metal.poisson, "1"),
            ("S_s", "Yield strength of the alloy", "yield_strength", metal.strength, "Pa"),
        ):
            if getattr(e, field) is not None or record is None:
                sheet.given(symbol, title, value, unit, f"request /energizer/{field}")
            elif field == "poisson_ratio":
                sheet.rule(symbol, title, record.poisson_ratio, unit, f"{path}.{field}")
            elif not num.isfinite(value):  # beyond the table
                sheet.given(symbol, title, value, unit, f"{path}.{field}")
            else:
                sheet.lookup(symbol, title, getattr(record, field), "T", unit, f"{path}.{field}")
        self.common = {"modulus": "E_s", "poisson": "nu_s", "strength": "S_s"}

    def _stands(self, record: Any, path: str) -> None:
        for symbol, end in (("T_min", "min"), ("T_max", "max")):
            limit = getattr(record, f"temperature_{end}")
            title = f"{'Lowest' if end == 'min' else 'Highest'} temperature the material stands"
            self.sheet.rule(symbol, title, limit, "K", f"{path}.temperature_{end}")

    def _rubber(self, e: ORingEnergizer) -> None:
        sheet, data = self.sheet, self.data
        name = e.elastomer
        if name is None and e.elastic_modulus is None and e.hardness is None:
            name = data.sizing.o_ring_elastomer.name
        if name is not None:
            sheet.given("T", "Temperature of the energizer", self.request.temperature, "K", "request /temperature")
            self._stands(data.elastomers[name], f"elastomers.{name}")
        if e.elastic_modulus is not None:
            sheet.given(
                "E_s", "Young's modulus of the elastomer", e.elastic_modulus, "Pa", "request /energizer/elastic_modulus"
            )
        else:
            if e.hardness is not None:
                hard = sheet.given("S_A", "Hardness, Shore A", e.hardness, "1", "request /energizer/hardness")
            else:
                assert name is not None
                hard = sheet.rule(
                    "S_A", "Hardness, Shore A", data.elastomers[name].hardness, "1", f"elastomers.{name}.hardness"
                )
            if num.isfinite(self.modulus):
                sheet.step(
                    "E_s", "Young's modulus of the elastomer",
                    f"1e6 * 0.0981 * (56 + 7.62336 * {hard}) / (0.137505 * (254 - 2.54 * {hard}))", "Pa", "Gent 1958 (models/o_ring)",
                    springs.gent_modulus(sheet[hard]),
                )  # fmt: skip
            else:  # the hardness of room temperature says nothing at this one
                sheet.given("E_s", "Young's modulus of the elastomer", self.modulus, "Pa", "not known")
        sheet.given("d_i", "Inside diameter as made", e.inside_diameter, "m", "request /energizer/inside_diameter")
        if e.seat_diameter is None:
            sheet.step("d_s", "Diameter the ring sits on", "d_i", "m", "not stated: the inside diameter")
        else:
            sheet.given("d_s", "Diameter the ring sits on", e.seat_diameter, "m", "request /energizer/seat_diameter")
        sheet.rule("C_max", "Squeeze up to which the load holds", data.sizing.energizer.o_ring_squeeze_limit, "1",
                   "sizing.energizer.o_ring_squeeze_limit")  # fmt: skip

    def state(self, sheet: Worksheet, x: Mapping[str, float], end: str) -> str:
        """Write the energizer for inputs ``x``; returns the symbol of its line load."""
        names = dict(self.common)
        for name, value in x.items():
            if name == "elastic_modulus":
                if end:
                    names["modulus"] = self._scattered(sheet, value)
                continue
            symbol, title = _TITLES[name]
            within = isinstance(self.e, CantileverVEnergizer | CantedCoilEnergizer) and name in _COMPRESSION
            source = f"request /energizer/{'compression/' if within else ''}{name}"
            names[name] = sheet.given(symbol, title, value, "m", f"{source}, at a limit" if end else source)
        if "free_height" in names:
            names["deflection"] = sheet.step(
                "Delta", "Deflection", f"max({names['free_height']} - {names['gland_height']}, 0)", "m", "definition"
            )
        e = self.e
        if isinstance(e, CantileverVEnergizer):
            return self._fingers(sheet, e, names)
        if isinstance(e, CantedCoilEnergizer):
            return self._coil(sheet, e, names)
        if isinstance(e, GarterEnergizer):
            return self._garter(sheet, e, names)
        return self._ring(sheet, e, names)

    def _scattered(self, sheet: Worksheet, value: float) -> str:
        """Write the modulus at an end of its scatter."""
        nominal = self.sheet["E_s"]
        if value == nominal:
            return "E_s"
        stated, rule = self.request.modulus_scatter, self.data.sizing.energizer
        title = "Relative scatter of the modulus"
        if stated is not None:
            self.sheet.given("f_E", title, stated, "1", "request /modulus_scatter")
        else:
            kind = "elastomer" if isinstance(self.e, ORingEnergizer) else "metal"
            record = rule.elastomer_modulus_scatter if kind == "elastomer" else rule.metal_modulus_scatter
            self.sheet.rule("f_E", title, record, "1", f"sizing.energizer.{kind}_modulus_scatter")
        sign = "-" if value < nominal else "+"
        return sheet.step(
            "E_s", "Young's modulus at the end of its scatter", f"E_s * (1 {sign} f_E)", "Pa", "definition", value
        )

    def _fingers(self, sheet: Worksheet, e: CantileverVEnergizer, n: dict[str, str]) -> str:
        s, at = self.sheet, "request /energizer/"
        angle = s.given("psi", "Root angle of a finger to its land", e.root_angle, "rad", at + "root_angle")
        share = s.given("c_s", "Share of the circumference with fingers", e.coverage, "1", at + "coverage")
        blend = None
        if e.plate_blend:
            blend = s.given("f_plate", "Share of the plate stiffening", e.plate_blend, "1", at + "plate_blend")
        value = {key: s[name] for key, name in n.items()}
        found = beams.cantilever_v(
            value["deflection"], value["strip_thickness"], value["finger_length"], e.root_angle, e.coverage, value["modulus"],
            value["strength"], value["poisson"], e.plate_blend or 0.0,
        )  # fmt: skip
        names = {
            **n,
            "thickness": n["strip_thickness"],
            "length": n["finger_length"],
            "angle": angle,
            "coverage": share,
        }
        cantilever_steps(sheet, names, found, blend, loading=True)
        return "q_spring"

    def _coil(self, sheet: Worksheet, e: CantedCoilEnergizer, n: dict[str, str]) -> str:
        s = self.sheet
        angle = s.given("beta", "Cant angle", e.cant_angle, "rad", "request /energizer/cant_angle")
        ratio = sheet.step(
            "f_r",
            "Circumference of the coil over that of the contact",
            f"(d + {n['coil_height']}) / d",
            "1",
            "definition",
        )
        value = {key: s[name] for key, name in n.items()}
        wire = value["wire_diameter"]
        found = rods.canted_coil_load(
            value["deflection"], value["pitch"], 0.5 * (value["coil_width"] - wire), 0.5 * (value["coil_height"] - wire),
            e.cant_angle, wire, value["modulus"], value["modulus"] / (2.0 * (1.0 + value["poisson"])), s[ratio],
        )  # fmt: skip
        names = {**n, "wire": n["wire_diameter"], "height": n["coil_height"], "width": n["coil_width"], "angle": angle}
        coil_steps(sheet, names, found, ratio)
        return "q_spring"

    def _garter(self, sheet: Worksheet, e: GarterEnergizer, n: dict[str, str]) -> str:
        s, at = self.sheet, "request /energizer/"
        s.given("N_g", "Active coils", e.active_coils, "1", at + "active_coils")
        s.given("L_g", "Free developed length", e.free_length, "m", at + "free_length")
        s.given("F_0", "Initial tension", e.initial_tension, "N", at + "initial_tension")
        seat = sheet.step("r_s", "Radius of the coil axis on its seat", f"{n['ring_diameter']} / 2", "m", "definition")
        value = {key: s[name] for key, name in n.items()}
        found = springs.garter_ring(
            value["wire_diameter"], value["mean_coil_diameter"], value["modulus"] / (2.0 * (1.0 + value["poisson"])), e.active_coils,
            e.free_length, e.initial_tension, s[seat], 0.5 * self.request.contact_diameter,
        )  # fmt: skip
        names = {**n, "wire": n["wire_diameter"], "coil": n["mean_coil_diameter"], "coils": "N_g", "free_length": "L_g",
                 "tension": "F_0", "seat": seat}  # fmt: skip
        garter_steps(sheet, names, found, "r")
        return "q_spring"

    def _ring(self, sheet: Worksheet, e: ORingEnergizer, n: dict[str, str]) -> str:
        s, modulus = self.sheet, n.get("modulus", "E_s")
        seat = s["d_s"]
        section = fits.stretched_section(s[n["section"]], e.inside_diameter, seat)
        d1 = sheet.step(
            "d_1", "Section as seated, its volume kept", f"stretched_section({n['section']}, d_i, d_s)", "m",
            "volume constancy (models/fits)", section,
        )  # fmt: skip
        squeeze = sheet.step("C", "Squeeze over section", f"({d1} - {n['gland_height']}) / {d1}", "1", "definition")
        found = springs.oring_load(section, s[squeeze], s[modulus], s["C_max"])
        c = f"max({squeeze}, 0)"
        for symbol, title, equation, unit, value in (
            (
                "q_ring",
                "Load per mean circumference",
                f"{d1} * {modulus} * (1.25 * {c}**1.5 + 50 * {c}**6)",
                "N/m",
                found.line_load,
            ),
            (
                "k_ring",
                "Stiffness per mean circumference",
                f"{modulus} * (1.875 * {c}**0.5 + 300 * {c}**5)",
                "N/m/m",
                found.stiffness,
            ),
        ):
            if num.isfinite(value):
                sheet.step(symbol, title, equation, unit, _LINDLEY, value)
            else:  # squeezed beyond what the correlation covers
                sheet.given(symbol, title, value, unit, _LINDLEY)
        ratio = sheet.step("f_r", "Mean circumference over that of the contact", f"(d_s + {d1}) / d", "1", "definition")
        suffix = d1.removeprefix("d_1")
        sheet.step(
            "k_spring", "Stiffness per circumference of the contact", f"k_ring{suffix} * {ratio}", "N/m/m", "definition"
        )
        sheet.step(
            "q_spring", "Load per circumference of the contact", f"q_ring{suffix} * {ratio}", "N/m", "definition"
        )
        return "q_spring"


def steps(
    request: EnergizerLoadRequest,
    data: RuleSetData,
    metal: Any,
    model: Any,
    here: Any,
    corners: Mapping[str, Any],
    loads: Any,
) -> Steps:
    """Working of an energizer load: the nominal state, then those corners of the tolerances with the least and most load."""
    writer = _Energizer(request, data, metal, model.nominal["elastic_modulus"])
    sheet, e = writer.sheet, request.energizer
    load = writer.state(sheet, model.nominal, "")
    sheet.step(
        "F_all",
        "Load summed round the circumference",
        f"{load} * pi * d",
        "N",
        "definition",
        float(here.line_load) * np.pi * request.contact_diameter,
    )
    if isinstance(e, CantileverVEnergizer):
        sheet.step(
            "h_set", "Loss of free height after release, both legs", "2 * L_s * finger_set(psi, delta_leg / L_s, kappa_y)", "m",
            "elastic-perfectly plastic strip (models/cantilever_v)", here.permanent_set,
        )  # fmt: skip
    if model.stress_limit is not None and num.isfinite(float(here.stress)):
        limit = "S_s"
        if isinstance(e, GarterEnergizer):
            ratio = sheet.rule(
                "f_tau",
                "Shear over tensile yield",
                data.sizing.energizer.shear_yield_ratio,
                "1",
                "sizing.energizer.shear_yield_ratio",
            )
            limit = sheet.step("S_tau", "Shear yield strength", f"S_s * {ratio}", "Pa", "von Mises", model.stress_limit)
        sheet.step(
            "u_stress",
            "Use of the strength",
            f"sigma_spring / {limit}",
            "1",
            "demand over capacity",
            float(here.stress) / model.stress_limit,
        )
    if model.limits and np.isfinite(loads).all():
        for name, index in (("least", int(np.argmin(loads))), ("most", int(np.argmax(loads)))):
            inputs = {
                key: float(np.atleast_1d(value)[index if np.ndim(value) else 0]) for key, value in corners.items()
            }
            writer.state(sheet.scope(name), inputs, name)
    return sheet.steps
