"""What nobody would believe is refused with file, line, key, band and what is accepted; a stated reason lets it in."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from fastapi.testclient import TestClient
from glandwise.rules import compare, plausibility
from glandwise.rules.loader import RuleError, RuleStore
from glandwise.rules.model import BODIES, Curve, Datum, walk

from .conftest import HEADER

BASE = RuleStore().trees["baseline"]
SIGNED = 'source = "house-estimate", evidence = "house_estimate", valid_from = 2026-01-01'
COMPOUND = "ptfe_unfilled"
"""The compound that the seeds change."""


class Seed(NamedTuple):
    """An unbelievable value: its file and text, its key, the band it leaves, and what is accepted."""

    file: str
    text: str
    key: str
    band: str
    accepted: str


def number(value: float | str, unit: str) -> str:
    return f'{{ value = {value}, unit = "{unit}", {SIGNED} }}'


def curve(x: list[float], y: list[float], x_unit: str, y_unit: str) -> str:
    return f'{{ x = {x}, y = {y}, x_unit = "{x_unit}", y_unit = "{y_unit}", {SIGNED} }}'


def value(name: str, text: str, where: str = COMPOUND, file: str = "compounds") -> tuple[str, str, str]:
    return file, f"[{where}]\n{name} = {text} # here\n", f"{where}.{name}"


def compound(name: str, text: str, band: str, accepted: str, *, ends: str = ".value") -> Seed:
    file, content, key = value(name, text)
    return Seed(file, content, key + ends, f"compounds.*.{band}", accepted)


def other(file: str, where: str, name: str, text: str, band: str, accepted: str, ends: str = ".value") -> Seed:
    return Seed(*value(name, text, where, file)[:2], f"{where}.{name}{ends}", band, accepted)


def capacity(when: str, text: str, band: str, accepted: str, criterion: str = "pressure", ends: str = "value") -> Seed:
    lines = f'[capacities.house]\ncriterion = "{criterion}"\nwhen = {{ {when} }}\ntitle = "invented"\n{text} # here\n'
    return Seed("designs", lines, f"capacities.house.{text.split(' =')[0]}.{ends}", band, accepted)


ROOM = [-254, 23, 260]
MODULUS = [4200, 550, 45]
STRENGTH = [110, 14.5, 2.2]

SEEDS = {
    "PTFE at 450 degC": compound(
        "temperature_max", number(450, "degC"), "temperature_max", "100 to 260 degC"
    ),
    "a lowest temperature above freezing": compound(
        "temperature_min", number(300, "K"), "temperature_min", "-273.15 to 0 degC"
    ),
    "density in the wrong unit": compound("density", number(2220, "g/cm3"), "density", "1.8 to 4.5 g/cm3"),
    "density of a foam": compound("density", number(220, "kg/m3"), "density", "1.8 to 4.5 g/cm3"),
    "density beyond a double in SI": compound("density", number("1e308", "g/cm3"), "density", "1.8 to 4.5 g/cm3"),
    "modulus 1000 times": compound(
        "elastic_modulus", curve(ROOM, [y * 1000 for y in MODULUS], "degC", "MPa"), "elastic_modulus.y", "5 to 12000 MPa", ends=".y"
    ),
    "modulus 5 times at room temperature": compound(
        "elastic_modulus", curve(ROOM, [4200, 3100, 45], "degC", "MPa"), "elastic_modulus.at_room", "0.25 to 3 GPa", ends=".y"
    ),
    "a modulus table that ends at 23 degC": compound(
        "elastic_modulus", curve([-254, 23], [4200, 550], "degC", "MPa"), "elastic_modulus.uncovered", "0 to 2 K", ends=".x"
    ),
    "a modulus table that begins at 23 degC": compound(
        "elastic_modulus", curve([23, 260], [550, 45], "degC", "MPa"), "elastic_modulus.uncovered", "0 to 2 K", ends=".x"
    ),
    "a modulus that rises with heat": compound(
        "elastic_modulus", curve([-254, 0, 23, 260], [4200, 500, 550, 45], "degC", "MPa"), "elastic_modulus.rise", "0 to 1", ends=".y"
    ),
    "a strength that rises with heat": compound(
        "yield_strength", curve([-254, 0, 23, 260], [110, 12, 14.5, 2.2], "degC", "MPa"), "yield_strength.rise", "0 to 1", ends=".y"
    ),
    "a strength table that ends at 23 degC": compound(
        "yield_strength", curve([-254, 23], [110, 14.5], "degC", "MPa"), "yield_strength.uncovered", "0 to 2 K", ends=".x"
    ),
    "a strength of 100 MPa at room temperature": compound(
        "yield_strength", curve(ROOM, [200, 100, 2.2], "degC", "MPa"), "yield_strength.at_room", "5 to 40 MPa", ends=".y"
    ),
    "yield at a third of the modulus": compound(
        "yield_strength", curve(ROOM, [110, 14.5, 14], "degC", "MPa"), "yield_strength_over_elastic_modulus", "0.004 to 0.15", ends=".y"
    ),
    "a derating that ends at 50 degC": compound(
        "pv_derating", curve([23, 50], [1, 0.85], "degC", "1"), "pv_derating.uncovered", "0 to 2 K", ends=".x"
    ),
    "a derating above 1": compound(
        "pv_derating", curve([23, 232], [1.2, 0.2], "degC", "1"), "pv_derating.y", "0.01 to 1", ends=".y"
    ),
    "no limiting PV at all": compound(
        "limiting_pv", curve([10, 5000], [0.001, 0.001], "ft/min", "psi.ft/min"), "limiting_pv.y", "200 to 100000", ends=".y"
    ),
    "PTFE that conducts like a metal": compound(
        "thermal_conductivity", number(25, "W/m/K"), "thermal_conductivity", "0.15 to 2.5 W/m/K"
    ),
    "a range with an unbelievable end": compound(
        "thermal_conductivity", number("0.25, high = 25", "W/m/K"), "thermal_conductivity", "0.15 to 2.5", ends=".high"
    ),
    "friction 20": Seed(
        "compounds", f"[{COMPOUND}.friction]\ndry = {number(20, '1')} # here\n", f"{COMPOUND}.friction.dry.value",
        "compounds.*.friction.*", "0.01 to 0.6",
    ),
    "no friction": Seed(
        "compounds", f"[{COMPOUND}.friction]\noil = {number(0, '1')} # here\n", f"{COMPOUND}.friction.oil.value",
        "compounds.*.friction.*", "0.01 to 0.6",
    ),
    "lubricated friction above dry": Seed(
        "compounds",
        f"[{COMPOUND}.friction]\ndry = {number(0.1, '1')}\naqueous = {number(0.1, '1')}\noil = {number(0.2, '1')} # here\n",
        f"{COMPOUND}.friction.oil.value", "compounds.*.friction.oil_over_aqueous", "0 to 1",
    ),
    "wetted friction above dry": Seed(
        "compounds", f"[{COMPOUND}.friction]\naqueous = {number(0.2, '1')} # here\n", f"{COMPOUND}.friction.aqueous.value",
        "compounds.*.friction.aqueous_over_dry", "0 to 1",
    ),
    "wetted wear above dry": Seed(
        "compounds", f"[{COMPOUND}.wear]\naqueous = {number(0.009, 'mm3/N/m')} # here\n", f"{COMPOUND}.wear.aqueous.value",
        "compounds.*.wear.aqueous_over_dry", "0 to 10",
    ),
    "wear of chalk": Seed(
        "compounds", f"[{COMPOUND}.wear]\ndry = {number(0.1, 'mm3/N/m')} # here\n", f"{COMPOUND}.wear.dry.value",
        "compounds.*.wear.dry", "1e-08 to 0.01 mm3/N/m",
    ),
    "relaxation of nothing": compound(
        "relaxation",
        f"{{ ratios = [0.01], times_s = [1], reference_temperature = {number(23, 'degC')}, "
        f"activation_energy = {number(60, 'kJ/mol')}, {SIGNED} }}",
        "relaxation.ratios", "0.05 to 0.95", ends=".ratios",
    ),
    "zero capacity": capacity(
        'family = "flexible_lip", second_lip = "excluder", lip_tip = "plain"', f"limit = {number(0, 'psi')}",
        "capacities.pressure.flexible_lip.plain", "0.05 to 10 bar",
    ),
    "a plain lip at 1000 psi": capacity(
        'family = "flexible_lip", second_lip = "excluder", lip_tip = "plain"', f"limit = {number(1000, 'psi')}",
        "capacities.pressure.flexible_lip.plain", "0.05 to 10 bar",
    ),
    "a plain lip at 1000 psi without its family": capacity(
        'lip_tip = "plain", second_lip = "none", retention = "clamped_flange"', f"limit = {number(1000, 'psi')}",
        "capacities.pressure.flexible_lip.plain", "0.05 to 10 bar",
    ),
    "a banded lip at 1000 psi": capacity(
        'family = "flexible_lip", reinforcing_band = true, lip_tip = "plain"', f"limit = {number(1000, 'psi')}",
        "capacities.pressure.flexible_lip.banded", "0.1 to 35 bar",
    ),
    "a standard heel at 20,000 psi": capacity(
        'family = "energized_lip", heel = "standard", lip_form = "plain"', f"limit = {number(20000, 'psi')}",
        "capacities.pressure.energized_lip.standard", "5 to 700 bar",
    ),
    "a capacity of 100 times another": capacity(
        'family = "energized_lip", lip_form = "plain"', f"factor = {number(100, '1')}", "capacities.*.*.*.factor", "0.02 to 3"
    ),
    "a runout of inches": capacity(
        'family = "energized_lip", lip_form = "plain"', f"limit_by_speed = {curve([0, 10], [0.1, 0.08], 'm/s', 'in')}",
        "capacities.runout.*.*", "0.001 to 2 mm", criterion="runout", ends="y",
    ),
    "a caution beyond the limit": other(
        "criteria", "pressure", "caution_at", number(1.5, "1"), "criteria.*.caution_at", "0.3 to 1"
    ),
    "an alloy that ends at 23 degC": other(
        "alloys", "R30003", "elastic_modulus", curve([-253, 23], [210, 200], "degC", "GPa"),
        "alloys.*.elastic_modulus.uncovered", "0 to 2 K", ".x",
    ),
    "an alloy that stiffens as it warms": other(
        "alloys", "R30003", "elastic_modulus", curve([-253, 23, 300], [190, 200, 180], "degC", "GPa"),
        "alloys.*.elastic_modulus.rise", "0 to 1", ".y",
    ),
    "an alloy of a plastic": other(
        "alloys", "R30003", "density", number(1.4, "g/cm3"), "alloys.*.density", "4 to 10 g/cm3"
    ),
    "rubber that slips less in oil": other(
        "elastomers", "NBR", "friction_lubricated", number(0.9, "1"), "elastomers.*.friction_lubricated_over_friction_dry", "0 to 1"
    ),
    "rubber of 500 degC": other(
        "elastomers", "FKM", "temperature_max", number(500, "degC"), "elastomers.*.temperature_max", "60 to 330 degC"
    ),
    "a shaft of nothing": other(
        "shaft_materials", "steel_soft", "elastic_modulus", number(2, "GPa"), "shaft_materials.*.elastic_modulus", "20 to 700 GPa"
    ),
    "a fluid of tar": other(
        "fluids", "water", "viscosity", curve([0.0, 40.0, 100.0], [1e9, 1e6, 1e3], "degC", "mPa.s"),
        "fluids.*.viscosity.y", "0.001 to 1e+07 mPa.s", ".y"
    ),
    "a lip as thick as it is long": other(
        "sizing", "flexible_lip", "slenderness", number(0.9, "1"), "sizing.flexible_lip.slenderness", "1 to 40"
    ),
    "a heavy spring that presses less": other(
        "sizing", "energized_lip", "spring_load_heavy", number(0.5, "N/mm"),
        "sizing.energized_lip.spring_load_medium_over_spring_load_heavy", "0 to 1",
    ),
    "a lip of metres": other(
        "sizing", "flexible_lip", "lip_length", number(5, "m"), "sizing.flexible_lip.lip_length", "0.5 to 40 mm"
    ),
    "a seal that is new for a year": other(
        "running", "wear", "longest_life", number(300, "h"), "running.wear.longest_life", "10000 to 1e+07 h"
    ),
    "an O-ring squeezed flat": other(
        "gland", "o_ring_gland", "squeeze_max", number(0.8, "1"), "gland.o_ring_gland.squeeze_max", "0.1 to 0.5"
    ),
    "a chamfer out of order": other(
        "gland", "shaft_lead_in_angle", "min", number(40, "deg"), "gland.shaft_lead_in_angle.min_over_max", "0 to 1"
    ),
    "expansion of a gas": other(
        "expansion", "ptfe_transition", "length_change", number(0.5, "1"), "expansion.ptfe_transition.length_change", "0.0005 to 0.02"
    ),
    "a blank of kilometres": Seed(
        "blank", f"rod_length = {number(3000, 'm')} # here\n", "rod_length.value", "blank.rod_length", "10 to 5000 mm"
    ),
}  # fmt: skip


def line_of(text: str) -> int:
    (found,) = [index for index, line in enumerate(text.splitlines(), start=1) if line.endswith("# here")]
    return found


@pytest.mark.parametrize("name", SEEDS)
def test_what_nobody_would_believe_is_refused_with_its_band(name: str, load: Callable[..., RuleStore]) -> None:
    seed = SEEDS[name]
    with pytest.raises(RuleError) as caught:
        load({seed.file: seed.text})
    found = {(item.line, item.key): item for item in (caught.value, *caught.value.also)}
    assert all(item.file == f"house/{seed.file}.toml" for item in found.values())
    error = found[line_of(seed.text), seed.key]
    assert f"is outside the band of {seed.band}: " in error.fault
    assert error.accepted.startswith(f"{seed.accepted}"), error.accepted
    assert "; or, where more is to be believed, a band of its own in bands.toml: [" in error.accepted
    place, _, last = f"{seed.file}.{seed.key}".rpartition(".")
    if last in {"value", "low", "high"} and "_over_" not in seed.band:
        assert f'["{place}"] with low, high, unit, reason' in error.accepted


def test_what_the_house_states_is_shown_where_it_does_not_go_with_the_rest(load: Callable[..., RuleStore]) -> None:
    """The table that ends too early is the baseline's; the temperature that it does not reach is the house's."""
    text = f"[{COMPOUND}]\ntemperature_max = {number(250, 'degC')} # here\n"
    with pytest.raises(RuleError) as caught:
        load({"compounds": text})
    error = caught.value
    assert (error.file, error.line, error.key) == ("house/compounds.toml", 2, f"{COMPOUND}.temperature_max.value")
    assert "18 K is outside the band of compounds.*.pv_derating.uncovered: the table must reach" in error.fault
    assert error.also == ()


# ------------------------------------------------------------------------------------------------------ the whole range


def records(data: Any) -> Iterator[tuple[tuple[Any, ...], Any]]:
    yield from plausibility._records(data)
    for name, entry in data.designs.capacities.items():
        for what in ("limit", "limit_by_speed", "factor"):
            if (record := getattr(entry, what)) is not None:
                yield ("designs", "capacities", name, what), record


@pytest.mark.parametrize("end", ["low", "high"])
def test_every_number_is_bounded_on_either_side(end: str) -> None:
    """Every number and table at once, a hundredth of its band beyond an end of it."""
    data = copy.deepcopy(BASE.newest().data)
    bands = plausibility._table(tuple(data.bands.items()))
    stated = (*plausibility._values(data), *plausibility._capacities(data))
    kinds = {item.place: (item.kinds, item.dimension) for item in stated}
    beyond = {}
    for place, record in records(data):
        for name, where in (("si", "value"), ("si_x", "x"), ("si_y", "y")):
            if isinstance(record, Datum | Curve) and hasattr(record, name):
                by, dimension = kinds[(*place, where)]
                low, high = bands.limits(bands.of(by)[0], dimension)
                number_ = low - 0.01 * (high - low) if end == "low" else high + 0.01 * (high - low)
                object.__setattr__(record, name, number_ if name == "si" else (*getattr(record, name)[:-1], number_))
                beyond[*place, where] = number_
    refused = {finding.path for finding in plausibility.faults(data)}
    assert len(beyond) > 1000
    assert set(beyond) == refused


def test_the_built_in_values_are_believed_and_every_band_is_used() -> None:
    data = BASE.newest().data
    assert list(plausibility.faults(data)) == []
    bands = plausibility._table(tuple(data.bands.items()))
    used = {key for item in plausibility.measured(data) for key in bands.of(item.kinds)}
    assert set(data.bands) - used == {
        # for what the built-in set does not state, though a house may
        "compounds.*.friction.oil_over_dry",
        "compounds.*.wear.oil_over_dry",
        "capacities.offset.*.*.speed",
    }
    assert all(band.reason and band.low is not None and band.high is not None for band in data.bands.values())


def test_the_key_with_the_most_spelled_out_counts() -> None:
    data = BASE.newest().data
    bands = plausibility._table(tuple(data.bands.items()))
    assert bands.of((("gland", "retention", "margin_min"),)) == ("gland.retention.margin_min", "gland.retention.*")
    assert bands.of((("gland", "retention", "clamp_aim"),)) == ("gland.retention.*",)


# -------------------------------------------------------------------------------------------------------------- exceptions

HOT = '[ptfe_unfilled]\ntemperature_max = { value = 280, unit = "degC", ' + SIGNED + " }\n"
OWN = (
    '["compounds.ptfe_unfilled.temperature_max"]\nlow = 100\nhigh = 290\nunit = "degC"\n'
    'reason = "short peaks in vacuum, by our own test"\n' + SIGNED.replace(", ", "\n") + "\n"
)


def test_a_stated_reason_lets_a_value_in_and_no_other(load: Callable[..., RuleStore]) -> None:
    tables = "".join(
        f"{field} = {curve([-254, 23, 280], y, 'degC', unit)}\n"
        for field, y, unit in (
            ("elastic_modulus", MODULUS, "MPa"), ("yield_strength", STRENGTH, "MPa"), ("pv_derating", [1, 1, 0.2], "1"),
        )
    )  # fmt: skip
    house = load({"compounds": HOT + tables, "bands": OWN}).trees["house"].newest().data
    assert house.compounds["ptfe_unfilled"].temperature_max.value == 280
    assert house.bands["compounds.ptfe_unfilled.temperature_max"].reason.startswith("short peaks")
    with pytest.raises(RuleError, match=r"house/compounds\.toml:2: ptfe_glass_15\.temperature_max\.value: 280 degC is"):
        load({"compounds": HOT.replace("unfilled", "glass_15"), "bands": OWN})


BAD_BANDS = {
    "no reason": (OWN.replace('reason = "short peaks in vacuum, by our own test"\n', ""), "reason", "is missing", "text"),
    "an empty reason": (
        OWN.replace("short peaks in vacuum, by our own test", ""), "reason", "should have at least 12 characters", "text"
    ),
    "no source": (OWN.replace('source = "house-estimate"\n', ""), "source", "is missing", "text that matches"),
    "unit of something else": (OWN.replace("degC", "MPa"), "unit", "'MPa' is no unit of what the band is for", "degC"),
    "no bounds": (OWN.replace("low = 100\nhigh = 290\n", ""), "low", "bounds nothing", "low, high or both"),
    "bounds out of order": (OWN.replace("low = 100", "low = 300"), "low", "low lies above high", "at most 290 degC"),
    "evidence dressed up": (
        OWN.replace('"house_estimate"', '"published"'), "evidence", "of which no document was read", "common_practice"
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD_BANDS)
def test_a_band_that_is_none(name: str, load: Callable[..., RuleStore]) -> None:
    text, field, fault, accepted = BAD_BANDS[name]
    with pytest.raises(RuleError) as caught:
        load({"bands": text})
    error = caught.value
    assert (error.file, error.key) == ("house/bands.toml", f"compounds.ptfe_unfilled.temperature_max.{field}")
    assert error.line is not None
    assert fault in error.fault
    assert accepted in error.accepted


def test_a_band_of_no_value_names_those_that_are_near(load: Callable[..., RuleStore]) -> None:
    with pytest.raises(RuleError, match=r"bands\.toml:1: .*temperature_maks: is the band of no value") as caught:
        load({"bands": OWN.replace("temperature_max", "temperature_maks")})
    assert "compounds.ptfe_unfilled.temperature_max" in caught.value.accepted


def test_a_band_holds_from_its_own_date(load: Callable[..., RuleStore]) -> None:
    text = HOT.replace("temperature_max", "density").replace("280", "1.5").replace("degC", "g/cm3")
    band = OWN.replace("temperature_max", "density").replace("100", "1").replace("290", "3").replace("degC", "g/cm3")
    assert load({"compounds": text, "bands": band})
    with pytest.raises(RuleError, match=r"compounds\.toml:2: ptfe_unfilled\.density\.value: 1\.5 g/cm3 is outside"):
        load({"compounds": text, "bands": band.replace("2026-01-01", "2026-05-01")})


def test_a_set_of_its_own_must_bring_bands(load: Callable[..., RuleStore]) -> None:
    header = HEADER.replace('extends = "baseline"', "valid_from = 2026-01-01")
    with pytest.raises(RuleError, match="is of a kind for which there is no band") as caught:
        load({"rule_set": header, "bands": ""}, whole=True)
    assert "a band in bands.toml: [" in caught.value.accepted


# ---------------------------------------------------------------------------------------------------- evidence `standard`

MEMO = '[memo]\ntext = "Our memo of last week"\nread = "read"\n'
DENSITY = 'density = { value = 2.2, unit = "g/cm3", source = "memo", evidence = "standard", valid_from = 2026-01-01 }'
ON_A_MEMO = f"[{COMPOUND}]\n{DENSITY}\n"


@pytest.mark.parametrize("read", ["read", "secondary", "from_memory", "definition"])
def test_a_memo_is_no_standard(read: str, load: Callable[..., RuleStore]) -> None:
    with pytest.raises(RuleError) as caught:
        load({"sources": MEMO.replace('"read"', f'"{read}"'), "compounds": ON_A_MEMO})
    error = caught.value
    assert (error.file, error.line, error.key) == ("house/compounds.toml", 2, "ptfe_unfilled.density.evidence")
    assert "'standard' rests on 'memo', which is no standard" in error.fault
    assert error.accepted.startswith("published, common_practice or house_estimate; or a source whose `standard`")


@pytest.mark.parametrize(
    "designation", ["ISO 6194-1:2007", "SAE AS568", "DIN EN ISO 3601-1", "21 CFR 177.1550", "ASTM G63"]
)
def test_a_source_with_a_designation_is_a_standard(designation: str, load: Callable[..., RuleStore]) -> None:
    assert load({"sources": f'{MEMO}standard = "{designation}"\n', "compounds": ON_A_MEMO})


@pytest.mark.parametrize(
    "designation", ["our memo 5", "ISO", "ISO standard", "HOUSE 14", "AS agreed in memo 5", "", *BODIES[:2]]
)
def test_what_is_no_designation_is_refused(designation: str, load: Callable[..., RuleStore]) -> None:
    with pytest.raises(RuleError, match=r"house/sources\.toml:4: memo\.standard: is not text that can stand here"):
        load({"sources": f'{MEMO}standard = "{designation}"\n', "compounds": ON_A_MEMO})


# ------------------------------------------------------------------------------------------------------------------ patches


def test_a_patch_is_held_to_the_bands_too() -> None:
    signed = {"source": "house-estimate", "evidence": "house_estimate", "valid_from": "2026-06-01"}
    patch: dict[str, Any] = {"compounds": {COMPOUND: {"density": {"value": 1.2, "unit": "g/cm3", **signed}}}}
    with pytest.raises(RuleError) as caught:
        compare.patched(BASE, compare.from_json(patch))
    assert caught.value.path == ("compounds", COMPOUND, "density", "value")
    patch["bands"] = {
        f"compounds.{COMPOUND}.density": {"low": 1, "high": 3, "unit": "g/cm3", "reason": "an expanded grade", **signed}
    }
    changes = compare.diff(BASE.tree, compare.patched(BASE, compare.from_json(patch)).tree)
    assert {change.key for change in changes} == {
        f"compounds.{COMPOUND}.density",
        f"bands.compounds.{COMPOUND}.density",
    }


def test_a_band_of_the_house_that_the_baseline_breaks_is_shown_itself(load: Callable[..., RuleStore]) -> None:
    text = OWN.partition("\n")[0].replace("compounds.ptfe_unfilled.temperature_max", "running.redundant_load_share")
    band = """
low = 0
high = 0.1
unit = "1"
reason = "a second lip is to bear little"
source = "house-estimate"
evidence = "house_estimate"
valid_from = 2026-01-01
"""
    with pytest.raises(RuleError) as caught:
        load({"bands": text + band})
    error = caught.value
    assert (error.file, error.line, error.key) == ("house/bands.toml", 1, "running.redundant_load_share")
    assert error.fault.startswith("running.redundant_load_share.")
    assert ": 1 is outside the band of running.redundant_load_share: a second lip is to" in error.fault
    assert error.accepted.startswith("0 to 0.1; or")


def test_a_band_cannot_be_patched_away() -> None:
    with pytest.raises(RuleError, match="is of a kind for which there is no band"):
        compare.patched(BASE, {"bands": {"compounds.*.density": None}})


def test_the_exception_of_the_documentation_loads(load: Callable[..., RuleStore]) -> None:
    text = (Path(__file__).parents[2] / "service" / "docs" / "rules.md").read_text(encoding="utf-8")
    key = '["compounds.ptfe_unfilled.set_fraction"]'
    band = key + text.partition(key)[2].partition("```")[0]
    source = text.partition("[test-report-2026-14]")[2].partition("```")[0]
    low = number(0.015, "1").replace("2026-01-01", "2026-03-01")
    files = {
        "bands": band,
        "sources": f"[test-report-2026-14]{source}",
        "compounds": f"[{COMPOUND}]\nset_fraction = {low}\n",
    }
    assert load(files).trees["house"].newest().data.compounds[COMPOUND].set_fraction.value == 0.015
    with pytest.raises(RuleError, match=r"0\.015 is outside the band of compounds\.\*\.set_fraction"):
        load({"compounds": files["compounds"], "bands": ""})


def test_a_list_of_rule_sets_counts_no_bands(client: TestClient) -> None:
    counted = sum(client.get("/v1/rule-sets/baseline").json()["evidence_counts"].values())
    assert counted == sum(not path.startswith("bands.") for path, _ in walk(BASE.newest().data))
    assert counted > 1000
