"""The material data of the built-in rule set: shape, sources, and the orderings that the trade would insist on."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterator
from functools import lru_cache
from importlib.resources import files
from typing import Any

import numpy as np
import pytest
from glandwise.rules.model import (
    Alloy,
    Compound,
    Elastomer,
    Fluid,
    Name,
    ShaftMaterial,
    Source,
    SourceId,
    walk,
)
from pydantic import TypeAdapter

ADAPTERS: dict[str, TypeAdapter[Any]] = {
    "sources": TypeAdapter(dict[SourceId, Source]),
    "compounds": TypeAdapter(dict[Name, Compound]),
    "fluids": TypeAdapter(dict[Name, Fluid]),
    "alloys": TypeAdapter(dict[Name, Alloy]),
    "elastomers": TypeAdapter(dict[Name, Elastomer]),
    "shaft_materials": TypeAdapter(dict[Name, ShaftMaterial]),
}
FUME_ONSET = 260.0 + 273.15
BASELINE = files("glandwise.rules").joinpath("data", "baseline")


def text(name: str) -> str:
    return BASELINE.joinpath(f"{name}.toml").read_text(encoding="utf-8")


@lru_cache
def table(name: str) -> dict[str, Any]:
    data: dict[str, Any] = ADAPTERS[name].validate_python(tomllib.loads(text(name)))
    return data


def filled() -> dict[str, Compound]:
    return {name: compound for name, compound in table("compounds").items() if compound.fillers}


UNFILLED = "ptfe_unfilled"


@pytest.mark.parametrize("name", ADAPTERS)
def test_the_file_parses_into_its_records(name: str) -> None:
    assert table(name)


@pytest.mark.parametrize("name", [name for name in ADAPTERS if name != "sources"])
def test_every_number_names_a_known_source_that_fits_its_evidence(name: str) -> None:
    sources = table("sources")
    records = [pair for key, entry in table(name).items() for pair in walk(entry, key)]
    assert records
    for path, record in records:
        assert record.source in sources, path
        if record.evidence == "published":
            assert sources[record.source].read != "none", path
        if record.evidence == "house_estimate":
            assert record.source == "house-estimate", path
        if record.evidence == "common_practice":
            assert record.source == "common-practice", path
        if record.evidence == "standard":
            assert record.source == "definition", path


def written_records(tree: Any, path: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Records of a file as they are written."""
    if isinstance(tree, dict):
        if "source" in tree and "evidence" in tree:
            yield path, tree
        for key, value in tree.items():
            yield from written_records(value, f"{path}.{key}")
    elif isinstance(tree, list):
        for place, value in enumerate(tree):
            yield from written_records(value, f"{path}[{place}]")


FILES = sorted(entry.name.removesuffix(".toml") for entry in BASELINE.iterdir() if entry.name.endswith(".toml"))


@pytest.mark.parametrize("name", [name for name in FILES if name != "sources"])
def test_what_comes_from_memory_names_a_source_that_says_so(name: str) -> None:
    """In every file: who cites a document as read has read it, and what was not seen is said to be so at the number."""
    sources = table("sources")
    for path, record in written_records(tomllib.loads(text(name)), name):
        if record["evidence"] in {"published", "standard"}:
            remembered = sources[record["source"]].read == "from_memory"
            assert remembered == ("from memory" in record.get("note", "").lower()), path


def test_a_document_read_does_not_speak_of_memory() -> None:
    for name, source in table("sources").items():
        if source.read in {"read", "secondary"}:
            assert "memory" not in source.text, name


@pytest.mark.parametrize("name", ADAPTERS)
def test_there_is_no_trade_mark_sign(name: str) -> None:
    assert not re.search("[®™℠©]", text(name))


@pytest.mark.parametrize(
    ("name", "curve"),
    [
        ("compounds", "elastic_modulus"),
        ("compounds", "yield_strength"),
        ("compounds", "pv_derating"),
        ("alloys", "elastic_modulus"),
        ("alloys", "yield_strength"),
    ],
)
def test_curves_fall_with_temperature(name: str, curve: str) -> None:
    for key, entry in table(name).items():
        y = np.asarray(getattr(entry, curve).si_y)
        assert np.all(np.diff(y) <= 0), key
        assert y[-1] > 0, key


def test_derating_starts_at_one() -> None:
    for key, compound in table("compounds").items():
        assert compound.pv_derating.si_y[0] == 1.0, key


def test_the_relaxation_series_leaves_a_long_term_share_and_runs_one_term_a_decade() -> None:
    for key, compound in table("compounds").items():
        series = compound.relaxation
        assert len(series.ratios) == len(series.times_s), key
        assert all(ratio > 0 for ratio in series.ratios), key
        assert sum(series.ratios) < 1, key
        assert np.diff(np.log10(series.times_s)) == pytest.approx(1.0), key


def share(compound: Compound, time: float) -> float:
    series = compound.relaxation
    lost = sum(r * (1 - math.exp(-time / tau)) for r, tau in zip(series.ratios, series.times_s, strict=True))
    return 1 - lost


def test_modulus_of_unfilled_ptfe_stays_in_the_published_range_during_a_tensile_test() -> None:
    """Callister and Rethwisch, Table B.2, prints 0.40-0.55 GPa: the instantaneous value and the one after 10 s."""
    compound = table("compounds")[UNFILLED]
    at_room = float(np.interp(296.15, compound.elastic_modulus.si_x, compound.elastic_modulus.si_y))
    assert 0.40e9 <= at_room * share(compound, 10.0) < at_room <= 0.55e9


def test_modulus_of_unfilled_ptfe_falls_as_remembered() -> None:
    """By 2-3 from 23 to 100 degC, by 5-8 to 200 degC (from memory)."""
    curve = table("compounds")[UNFILLED].elastic_modulus
    room, warm, hot = (float(np.interp(t + 273.15, curve.si_x, curve.si_y)) for t in (23, 100, 200))
    assert 2 <= room / warm <= 3
    assert 5 <= room / hot <= 8


def test_unfilled_ptfe_loses_five_to_ten_percent_of_stress_per_decade() -> None:
    compound = table("compounds")[UNFILLED]
    for decade in range(-3, 6):
        kept = share(compound, 10.0 ** (decade + 1)) / share(compound, 10.0**decade)
        assert 0.90 <= kept <= 0.95, decade


def test_published_room_temperature_values_of_unfilled_ptfe() -> None:
    """Callister and Rethwisch, Appendix B; Springer Handbook, Table 3.3-13."""
    compound = table("compounds")[UNFILLED]
    assert compound.density.si == pytest.approx(2170)
    assert compound.poisson_ratio.si == 0.46
    strength = float(np.interp(296.15, compound.yield_strength.si_x, compound.yield_strength.si_y))
    assert 13.8e6 <= strength <= 15.2e6
    assert (compound.thermal_conductivity.si_low, compound.thermal_conductivity.si_high) == (0.23, 0.26)
    assert compound.expansion_ratio.si == 1.0


def test_filled_compounds_are_stiffer_and_creep_less_than_unfilled() -> None:
    unfilled = table("compounds")[UNFILLED]
    for key, compound in filled().items():
        assert all(a > b for a, b in zip(compound.elastic_modulus.si_y, unfilled.elastic_modulus.si_y, strict=True)), (
            key
        )
        assert share(compound, 3.6e6) > share(unfilled, 3.6e6), key
        assert compound.set_fraction.si < unfilled.set_fraction.si, key
        assert compound.expansion_ratio.si < 1.0, key
        assert compound.thermal_conductivity.si > unfilled.thermal_conductivity.si, key


@pytest.mark.parametrize("medium", ["dry", "aqueous", "oil"])
def test_filled_compounds_wear_less_than_unfilled(medium: str) -> None:
    unfilled = getattr(table("compounds")[UNFILLED].wear, medium)
    for key, compound in filled().items():
        assert getattr(compound.wear, medium).si < unfilled.si, key
        assert getattr(compound.wear, medium).si_high < unfilled.si_high, key


def test_filled_compounds_carry_more_pressure_times_speed_than_unfilled() -> None:
    compounds = table("compounds")
    unfilled = compounds[UNFILLED].limiting_pv
    assert all(0.035e6 <= value <= 0.09e6 for value in unfilled.si_y)
    for key, compound in filled().items():
        pv = compound.limiting_pv
        # the handbook has up to 10 000 psi ft/min for the class
        assert all(value == pytest.approx(10_000 * 6894.757 * 0.3048 / 60.0, rel=2e-3) for value in pv.si_y), key
        assert min(pv.si_y) > max(unfilled.si_y), key


def test_oil_lowers_friction_and_wear_and_water_friction_only() -> None:
    for key, compound in table("compounds").items():
        friction, wear = compound.friction, compound.wear
        assert friction.dry.si > friction.aqueous.si > friction.oil.si > 0, key
        assert wear.dry.si > wear.oil.si > 0, key
        assert wear.aqueous.si > wear.oil.si, key
        if {"glass", "bronze"} & set(compound.fillers):  # water is worst for these (read in abstracts)
            assert wear.aqueous.si > wear.dry.si, key


def test_no_compound_is_rated_above_the_onset_of_fume() -> None:
    for key, compound in table("compounds").items():
        assert compound.temperature_max.si_high <= FUME_ONSET + 1e-9, key
        assert compound.temperature_min.si < compound.temperature_max.si, key


def test_unfilled_ptfe_has_the_rating_of_the_trade() -> None:
    compound = table("compounds")[UNFILLED]
    assert (compound.temperature_min.value, compound.temperature_min.unit) == (-425, "degF")
    assert (compound.temperature_max.value, compound.temperature_max.unit) == (450, "degF")


def test_abrasive_fillers_ask_for_a_harder_shaft() -> None:
    hardness = {key: compound.shaft_hardness_min.value for key, compound in table("compounds").items()}
    assert min(hardness.values()) == hardness[UNFILLED]
    assert hardness["ptfe_glass_25"] >= hardness["ptfe_glass_15"] > hardness["ptfe_carbon_25"]
    assert hardness["ptfe_carbon_25"] > hardness["ptfe_bronze_60"] > hardness["ptfe_polyimide"]


def test_roughness_windows_are_open() -> None:
    for key, compound in table("compounds").items():
        assert compound.shaft_roughness_min.si_high < compound.shaft_roughness_max.si_low, key


def test_only_the_base_resin_is_listed_for_food() -> None:
    for key, compound in table("compounds").items():
        listed = compound.food_contact == "base_resin_listed"
        assert listed == (not compound.fillers), key


def test_every_filler_of_the_contract_is_in_a_compound() -> None:
    fillers = {filler for compound in table("compounds").values() for filler in compound.fillers}
    assert fillers == {
        "glass",
        "carbon",
        "carbon_fibre",
        "graphite",
        "bronze",
        "mineral",
        "molybdenum_disulfide",
        "peek",
        "polyimide",
    }


def test_there_are_enough_fluids_and_each_has_a_verdict_on_ptfe() -> None:
    fluids = table("fluids")
    assert len(fluids) >= 50
    assert all(fluid.compatibility.ptfe is not None for fluid in fluids.values())


def test_fluids_name_only_known_alloys_and_elastomers() -> None:
    for key, fluid in table("fluids").items():
        assert fluid.compatibility.alloys.keys() <= table("alloys").keys(), key
        assert fluid.compatibility.elastomers.keys() <= table("elastomers").keys(), key


def test_no_elastomer_alloy_or_filler_goes_without_a_verdict_everywhere() -> None:
    fluids = table("fluids").values()
    assert {name for fluid in fluids for name in fluid.compatibility.alloys} == table("alloys").keys()
    assert {name for fluid in fluids for name in fluid.compatibility.elastomers} == table("elastomers").keys()


def test_only_what_takes_fluorine_from_ptfe_or_gives_it_is_no_match_for_ptfe() -> None:
    for key, fluid in table("fluids").items():
        attacks = {"alkali_metal", "fluorine_attack"} & set(fluid.hazards)
        assert (fluid.compatibility.ptfe != "compatible") == bool(attacks), key


@pytest.mark.parametrize(
    ("fluid", "kind", "name", "verdict"),
    [
        ("hydrofluoric_acid", "fillers", "glass", "incompatible"),
        ("sodium_hydroxide", "fillers", "glass", "incompatible"),
        ("sodium_hydroxide", "fillers", "polyimide", "incompatible"),
        ("nitric_acid_65", "fillers", "carbon", "incompatible"),
        ("nitric_acid_65", "fillers", "bronze", "incompatible"),
        ("sulfuric_acid_98", "fillers", "peek", "incompatible"),
        ("ammonia_gas", "fillers", "bronze", "incompatible"),
        ("hydrogen_sulfide", "fillers", "bronze", "incompatible"),
        ("steam", "fillers", "polyimide", "incompatible"),
        ("hydrochloric_acid", "alloys", "S31600", "incompatible"),
        ("sea_water", "alloys", "S30200", "incompatible"),
        ("sea_water", "alloys", "R30003", "compatible"),
        ("hydrogen_sulfide", "alloys", "S17700", "incompatible"),
        ("hydrogen_sulfide", "alloys", "R30003", "compatible"),
        ("mineral_oil_hydraulic", "elastomers", "EPDM", "incompatible"),
        ("mineral_oil_hydraulic", "elastomers", "NBR", "compatible"),
        ("brake_fluid_glycol", "elastomers", "EPDM", "compatible"),
        ("acetone", "elastomers", "FKM", "incompatible"),
        ("toluene", "elastomers", "FKM", "compatible"),
        ("silicone_oil", "elastomers", "VMQ", "incompatible"),
        ("phosphate_ester", "elastomers", "NBR", "incompatible"),
        ("ammonia_gas", "elastomers", "FKM", "incompatible"),
        ("nitrogen_liquid", "elastomers", "FFKM", "incompatible"),
    ],
)
def test_well_known_verdicts(fluid: str, kind: str, name: str, verdict: str) -> None:
    assert getattr(table("fluids")[fluid].compatibility, kind)[name] == verdict


def test_hazards_follow_from_what_the_fluid_is() -> None:
    for key, fluid in table("fluids").items():
        if fluid.category == "cryogen":
            assert "cryogen" in fluid.hazards, key
        if fluid.category == "food":
            assert "food" in fluid.hazards, key
        if fluid.category == "steam":
            assert "steam" in fluid.hazards, key
        if key.startswith("oxygen_"):
            assert "oxygen" in fluid.hazards, key


def test_gases_and_boiling_liquids_do_not_lubricate_and_greases_do() -> None:
    for key, fluid in table("fluids").items():
        if fluid.phase == "gas" or fluid.category == "cryogen":
            assert fluid.lubrication == "dry", key
        if fluid.phase == "grease":
            assert (fluid.lubrication, fluid.medium) == ("grease", "oil"), key


def test_viscosities_are_of_the_order_of_their_phase() -> None:
    for key, fluid in table("fluids").items():
        if fluid.phase == "gas":
            assert 5e-6 < fluid.reference_viscosity.si < 5e-5, key
        elif fluid.viscosity is not None:
            assert fluid.viscosity.note, key
            assert 1e-6 < min(fluid.viscosity.si_y), key
            if fluid.category == "oil" and fluid.medium == "oil":
                assert fluid.viscosity.si_y[0] > 5e-3, key
        else:
            assert "alkali_metal" in fluid.hazards, key


def test_the_heat_that_a_fluid_takes_can_be_worked_out() -> None:
    for key, fluid in table("fluids").items():
        if fluid.viscosity_form == "sutherland":
            assert None not in (fluid.prandtl_number, fluid.molar_mass, fluid.heat_capacity), key
        elif fluid.viscosity is not None:
            assert None not in (fluid.density, fluid.thermal_conductivity, fluid.heat_capacity), key


@pytest.mark.parametrize(
    ("name", "modulus"),
    [("S31600", 195e9), ("S17700", 204e9), ("S30200", 193e9)],
)
def test_alloy_modulus_at_room_temperature(name: str, modulus: float) -> None:
    """ASME BPVC II-D, Table TM-1 (195 GPa, group G); Callister and Rethwisch, Table B.2 (204, 193 GPa)."""
    curve = table("alloys")[name].elastic_modulus
    assert float(np.interp(298.15, curve.si_x, curve.si_y)) == pytest.approx(modulus, rel=1e-9)


def test_alloys_yield_at_a_sound_share_of_their_modulus() -> None:
    for key, alloy in table("alloys").items():
        strain = np.asarray(alloy.yield_strength.si_y) / np.asarray(alloy.elastic_modulus.si_y)
        assert np.all((strain > 0.003) & (strain < 0.011)), key


def test_alloy_keys_are_uns_numbers() -> None:
    assert all(re.fullmatch(r"[A-Z]\d{5}", key) for key in table("alloys"))


def test_elastomers_expand_more_than_metals_and_stand_less_heat_than_ptfe() -> None:
    metal = max(alloy.mean_expansion.si_high for alloy in table("alloys").values())
    for key, elastomer in table("elastomers").items():
        assert elastomer.mean_expansion.si_low > 3 * metal, key
        assert elastomer.temperature_max.si <= FUME_ONSET, key
        assert elastomer.friction_lubricated.si < elastomer.friction_dry.si, key
        assert 0 < elastomer.compression_set.si_high < 1, key


def test_the_reference_counterface_has_wear_factor_one_and_soft_metals_more() -> None:
    materials = table("shaft_materials")
    assert materials["steel_hardened"].wear_factor.si == 1.0
    for key, material in materials.items():
        if material.hardness.value < 30:
            assert material.wear_factor.si_low > 1.0, key


@pytest.mark.parametrize(
    ("name", "modulus", "expansion"),
    [
        ("steel_hardened", 207, 12.3),
        ("steel_soft", 207, 11.3),
        ("stainless_austenitic_316", 193, 16.0),
        ("stainless_martensitic_hardened", 200, 10.2),
        ("aluminium_alloy", 69, 23.6),
        ("cast_iron_ductile", 168, 10.6),
    ],
)
def test_shaft_materials_agree_with_the_published_table(name: str, modulus: float, expansion: float) -> None:
    """Callister and Rethwisch, Appendix B, Tables B.2 and B.6."""
    material = table("shaft_materials")[name]
    assert material.elastic_modulus.si == pytest.approx(modulus * 1e9)
    assert material.mean_expansion.si == pytest.approx(expansion * 1e-6)
