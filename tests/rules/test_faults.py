"""Every kind of bad rule set stops the start and says where and why.

Each seed has one fault, on the line that ends in ``# here``; so the line expected is read off the seed itself.
"""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest
from glandwise.__main__ import main
from glandwise.rules.loader import RuleError, RuleStore

from .conftest import BASELINE, HEADER

SIGNED = 'source = "house-estimate", evidence = "house_estimate", valid_from = 2026-01-01'
SIGNED_LINES = SIGNED.replace(", ", "\n")
LATER = SIGNED.replace("2026-01-01", "2026-07-01")
DENSITY = f'{{ value = 2.2, unit = "g/cm3", {SIGNED} }}'


class Seed(NamedTuple):
    """A bad house set: its file, the text of it, and what must be said."""

    file: str
    text: str
    key: str
    fault: str
    accepted: str


def compound(line: str) -> str:
    return f"# An overlay\n\n[ptfe_unfilled]\n{line} # here\n"


def density(old: str, new: str) -> str:
    return compound(f"density = {DENSITY.replace(old, new)}")


def capacity(
    line: str, criterion: str = "pressure", when: str = '{ family = "energized_lip", heel = "standard" }'
) -> str:
    return f'[capacities.house_entry]\ncriterion = "{criterion}"\nwhen = {when}\ntitle = "invented"\n{line}\n'


LIMIT = f'limit = {{ value = 8.0, unit = "bar", {SIGNED} }}'

FLUID = """\
[invented_oil]
title = "Invented oil"
category = "oil"
phase = "liquid"
lubrication = "flooded"
medium = "oil"
hazards = []
source = "house-estimate"
evidence = "house_estimate"
valid_from = 2026-01-01
"""

PRONY = (
    'relaxation = {{ ratios = {ratios}, times_s = {times}, reference_temperature = {{ value = 23, unit = "degC", '
    + SIGNED
    + ' }}, activation_energy = {{ value = 60, unit = "kJ/mol", '
    + SIGNED
    + " }}, "
    + SIGNED
    + " }}"
)
CURVE = '{key} = {{ x = {x}, y = {y}, x_unit = "degC", y_unit = "MPa", ' + SIGNED + " }}"

SEEDS = {
    "unknown key": Seed(
        "compounds", compound(f"densty = {DENSITY}"), "ptfe_unfilled.densty", "is not known here", "density"
    ),
    "unknown key in a value": Seed(
        "compounds",
        compound(f'density = {{ value = 2.2, units = "g/cm3", unit = "g/cm3", {SIGNED} }}'),
        "ptfe_unfilled.density.units",
        "is not known here",
        "unit, perhaps",
    ),
    "unit of another dimension": Seed(
        "compounds",
        compound(f'density = {{ value = 2.2, unit = "g", {SIGNED} }}'),
        "ptfe_unfilled.density.unit",
        "'g' is not a unit of density",
        "g/cm3",
    ),
    "missing source": Seed(
        "compounds",
        compound('density = { value = 2.2, unit = "g/cm3", evidence = "house_estimate", valid_from = 2026-01-01 }'),
        "ptfe_unfilled.density.source",
        "is missing",
        "text that matches",
    ),
    "missing evidence": Seed(
        "compounds",
        compound('density = { value = 2.2, unit = "g/cm3", source = "house-estimate", valid_from = 2026-01-01 }'),
        "ptfe_unfilled.density.evidence",
        "is missing",
        '"standard", "published", "own_test", "common_practice", "house_estimate"',
    ),
    "missing date": Seed(
        "compounds",
        compound('density = { value = 2.2, unit = "g/cm3", source = "house-estimate", evidence = "house_estimate" }'),
        "ptfe_unfilled.density.valid_from",
        "is missing",
        "a date without quotes",
    ),
    "evidence that is none": Seed(
        "compounds",
        density('house_estimate', 'measured'),
        "ptfe_unfilled.density.evidence",
        "'measured' is not one of those that are known",
        '"published"',
    ),
    "evidence dressed up": Seed(
        "compounds",
        density('house_estimate', 'published'),
        "ptfe_unfilled.density.evidence",
        "'published' rests on 'house-estimate', of which no document was read",
        "common_practice or house_estimate",
    ),
    "a test without records": Seed(
        "compounds",
        density('"house-estimate"', '"callister-rethwisch-app-b"').replace("house_estimate", "own_test"),
        "ptfe_unfilled.density.evidence",
        "'own_test' rests on 'callister-rethwisch-app-b', which has no records",
        "give rig, closed_on, specimens",
    ),
    "evidence of a fluid dressed up": Seed(
        "fluids",
        FLUID.replace('evidence = "house_estimate"', 'evidence = "standard" # here') + "[invented_oil.compatibility]\n",
        "invented_oil.evidence",
        "'standard' rests on 'house-estimate'",
        "a source with a document",
    ),
    "unknown source": Seed(
        "compounds",
        density('house-estimate', 'lab-report-7'),
        "ptfe_unfilled.density.source",
        "'lab-report-7' is not in sources.toml",
        "house-estimate",
    ),
    "text for a number": Seed(
        "compounds",
        density('2.2,', '"2.2",'),
        "ptfe_unfilled.density.value",
        "is not a number",
        "a finite number",
    ),
    "truth for a number": Seed(
        "compounds",
        density('2.2,', 'true,'),
        "ptfe_unfilled.density.value",
        "is not a number",
        "a finite number",
    ),
    "nan": Seed(
        "compounds",
        density('2.2,', 'nan,'),
        "ptfe_unfilled.density.value",
        "is not a finite number",
        "a finite number",
    ),
    "infinity": Seed(
        "compounds",
        density('2.2,', '2.2, high = inf,'),
        "ptfe_unfilled.density.high",
        "is not a finite number",
        "a finite number",
    ),
    "a bare number": Seed(
        "compounds", compound("density = 2.2"), "ptfe_unfilled.density", "is not a table", "value, unit, source, evidence"
    ),
    "low above value": Seed(
        "compounds",
        density('2.2,', '2.2, low = 2.3,'),
        "ptfe_unfilled.density.low",
        "the range is not in order",
        "low <= value <= high",
    ),
    "friction range inverted": Seed(
        "compounds",
        f'[ptfe_unfilled.friction]\ndry = {{ value = 0.1, low = 0.2, high = 0.05, unit = "1", {SIGNED} }} # here\n',
        "ptfe_unfilled.friction.dry.low",
        "the range is not in order: low 0.2, value 0.1, high 0.05",
        "low <= value <= high",
    ),
    "negative density": Seed(
        "compounds",
        density('2.2,', '-2.2,'),
        "ptfe_unfilled.density.value",
        "-2.2 g/cm3 is no density",
        "more than 0 g/cm3",
    ),
    "below absolute zero": Seed(
        "compounds",
        compound(f'temperature_min = {{ value = -280, unit = "degC", {SIGNED} }}'),
        "ptfe_unfilled.temperature_min.value",
        "is no temperature",
        "more than -273.15 degC",
    ),
    "Poisson's ratio of a half": Seed(
        "compounds",
        compound(f'poisson_ratio = {{ value = 0.46, high = 0.5, unit = "1", {SIGNED} }}'),
        "ptfe_unfilled.poisson_ratio.high",
        "0.5 1 cannot be",
        "less than 0.5 1",
    ),
    "share above one": Seed(
        "compounds",
        compound(f'set_fraction = {{ value = 30, unit = "1", {SIGNED} }}'),
        "ptfe_unfilled.set_fraction.value",
        "cannot be",
        "at most 1 1",
    ),
    "lowest temperature above the highest": Seed(
        "compounds",
        compound(f'temperature_min = {{ value = 300, unit = "degC", {SIGNED} }}'),
        "ptfe_unfilled.temperature_min",
        "is not below temperature_max",
        "less than ",
    ),
    "curve that does not increase": Seed(
        "compounds",
        compound(CURVE.format(key="elastic_modulus", x=[-50, 23, 23], y=[900, 550, 200])),
        "ptfe_unfilled.elastic_modulus.x",
        "x does not increase: 23.0, then 23.0",
        "increasing numbers",
    ),
    "curve of two lengths": Seed(
        "compounds",
        compound(CURVE.format(key="elastic_modulus", x=[-50, 23, 100], y=[900, 550])),
        "ptfe_unfilled.elastic_modulus.y",
        "x has 3 numbers, y has 2",
        "as many in y as in x",
    ),
    "curve of one point": Seed(
        "compounds",
        compound(CURVE.format(key="elastic_modulus", x=[23], y=[550])),
        "ptfe_unfilled.elastic_modulus.y",
        "x has 1 numbers, y has 1",
        "at least 2",
    ),
    "curve with text in it": Seed(
        "compounds",
        "[ptfe_unfilled.elastic_modulus]\nx = [-50, 23]\ny = [\n  900,\n  'soft', # here\n]\n"
        f'x_unit = "degC"\ny_unit = "MPa"\n{SIGNED_LINES}\n',
        "ptfe_unfilled.elastic_modulus.y",
        "is not a number",
        "a finite number",
    ),
    "wrong unit of ordinates": Seed(
        "compounds",
        compound(CURVE.format(key="elastic_modulus", x=[-50, 23], y=[900, 550]).replace('"MPa"', '"degC"')),
        "ptfe_unfilled.elastic_modulus.y_unit",
        "'degC' is not a unit of stress",
        "MPa",
    ),
    "branches that leave nothing": Seed(
        "compounds",
        compound(PRONY.format(ratios=[0.5, 0.5], times=[1, 10])),
        "ptfe_unfilled.relaxation.ratios",
        "the branches leave nothing that does not relax",
        "less than 1",
    ),
    "branches without times": Seed(
        "compounds",
        compound(PRONY.format(ratios=[0.2, 0.2], times=[1])),
        "ptfe_unfilled.relaxation.times_s",
        "there are 2 ratios and 1 times",
        "as many as ratios",
    ),
    "filler that is none": Seed(
        "compounds",
        '[ptfe_unfilled]\nfillers = [\n  "glass",\n  "sawdust", # here\n]\n',
        "ptfe_unfilled.fillers",
        "'sawdust' is not one of those that are known",
        '"glass", "carbon"',
    ),
    "date that is none": Seed(
        "compounds",
        density('2026-01-01', '2026-02-30'),
        "ptfe_unfilled.density.valid_from",
        "is not TOML",
        "TOML 1.0",
    ),
    "date in quotes": Seed(
        "compounds",
        density('2026-01-01', '"2026-01-01"'),
        "ptfe_unfilled.density.valid_from",
        "is not a date",
        "a date without quotes",
    ),
    "date with a time of day": Seed(
        "compounds",
        density('2026-01-01', '2026-01-01T00:00:00'),
        "ptfe_unfilled.density.valid_from",
        "is not a date",
        "a date without quotes",
    ),
    "duplicate key": Seed(
        "compounds",
        f"[ptfe_unfilled]\ndensity = {DENSITY}\nnote = 'x'\ndensity = {DENSITY} # here\n",
        "ptfe_unfilled.density",
        "is defined twice, first on line 2",
        "one definition",
    ),
    "duplicate table": Seed(
        "compounds",
        "[ptfe_unfilled]\nnote = 'x'\n\n[ptfe_unfilled] # here\nnote = 'y'\n",
        "ptfe_unfilled",
        "is defined twice, first on line 1",
        "one definition",
    ),
    "not TOML": Seed(
        "compounds", "[ptfe_unfilled]\nnote = 'x'\ntitle = PTFE # here\n", "ptfe_unfilled.title", "is not TOML", "TOML 1.0"
    ),
    "not even a key": Seed("compounds", "[ptfe_unfilled]\nnote = 'x'\n? # here\n", "compounds.toml", "is not TOML", "TOML 1.0"),
    "not TOML within a list": Seed(
        "compounds",
        "[ptfe_unfilled]\nfillers = [\n  'glass',\n  graphite, # here\n]\n",
        "ptfe_unfilled.fillers",
        "is not TOML",
        "TOML 1.0",
    ),
    "name of a set with a blank": Seed(
        "rule_set", HEADER.replace('"house"', '"the house" # here'), "name", "is not text that can stand here", "^[A-Za-z0-9]"
    ),
    "empty history": Seed(
        "compounds", compound("density = []"), "ptfe_unfilled.density", "is a history without an entry", "array of such tables"
    ),
    "two entries of one date": Seed(
        "compounds",
        "[[ptfe_unfilled.density]]\nvalue = 2.2\nunit = 'g/cm3'\nsource = 'house-estimate'\nevidence = 'house_estimate'\n"
        "valid_from = 2026-01-01\n\n[[ptfe_unfilled.density]]\nvalue = 2.3\nunit = 'g/cm3'\nsource = 'house-estimate'\n"
        "evidence = 'house_estimate'\nvalid_from = 2026-01-01 # here\n",
        "ptfe_unfilled.density.valid_from",
        "2026-01-01 is the date of another entry",
        "a date of its own",
    ),
    "history with an undated entry": Seed(
        "compounds",
        f'[ptfe_unfilled]\ndensity = [ # here\n  {DENSITY},\n  {{ value = 2.3, unit = "g/cm3" }},\n]\n',
        "ptfe_unfilled.density",
        "is an array in which not every entry has a date",
        "a valid_from in every entry",
    ),
    "fault in the second entry of a history": Seed(
        "compounds",
        f"[ptfe_unfilled]\ndensity = [\n  {DENSITY},\n"
        f'  {{ value = 2.3, unit = "kg", {LATER} }}, # here\n]\n',
        "ptfe_unfilled.density.unit",
        "'kg' is not a unit of density (on 2026-07-01)",
        "g/cm3",
    ),
    "mandatory value of a new compound not in force yet": Seed(
        "alloys",
        (BASELINE / "alloys.toml").read_text(encoding="utf-8").split("\n\n")[1].replace("[S30100]", "[S99999]").replace(
            "valid_from = 2026-01-01", "valid_from = 2026-07-01 # here", 1
        ).replace("2026-07-01 # here, note = \"Table B.1, the value of S30400.\" }", "2026-07-01, note = 'x' } # here"),
        "S99999.density",
        "is not in force yet on 2026-01-01, only from 2026-07-01",
        "a valid_from not later than 2026-01-01",
    ),
    "missing mandatory field of a new entry": Seed(
        "fluids", FLUID.replace("]\ntitle", "] # here\ntitle"), "invented_oil.compatibility", "is missing", "a table of ptfe"
    ),
    "name that is none": Seed(
        "fluids",
        FLUID.replace("[invented_oil]", '["invented oil"] # here') + '["invented oil".compatibility]\n',
        "invented oil",
        "is not a name that can stand here",
        "^[A-Za-z]",
    ),
    "change to an unknown compound": Seed(
        "changes",
        '[fill]\ntitle = "fill"\ncriteria = ["pressure"]\ndesign = { compound = "ptfe_sawdust_25" } # here\n',
        "fill.design.compound",
        "'ptfe_sawdust_25' is not known",
        "ptfe_glass_15",
    ),
    "change for an unknown criterion": Seed(
        "changes",
        '[fill]\ntitle = "fill"\ncriteria = [\n  "pressure",\n  "presure", # here\n]\ndesign = { heel = "extended" }\n',
        "fill.criteria",
        "'presure' is not a criterion",
        "pressure",
    ),
    "change of an unknown field": Seed(
        "changes",
        '[fill]\ntitle = "fill"\ncriteria = ["pressure"]\nfamily = "flexible_lip"\ndesign = { heel = "extended" } # here\n',
        "fill.design.heel",
        "no design of flexible_lip has it",
        "reinforcing_band",
    ),
    "change to an unknown duty field": Seed(
        "changes",
        '[fill]\ntitle = "fill"\ncriteria = ["pressure"]\nto_capacity = "shaft.colour" # here\n',
        "fill.to_capacity",
        "'shaft.colour' is not one of those that are known",
        '"surface_speed", "pressure"',
    ),
    "criterion the engine does not know": Seed(
        "criteria",
        f'[taste] # here\ntitle = "taste"\nmeaning = "none"\ncaution_at = {{ value = 0.9, unit = "1", {SIGNED} }}\n',
        "taste",
        "the engine judges by no such criterion",
        "pressure_velocity",
    ),
    "capacity with two of limit and factor": Seed(
        "designs",
        capacity(LIMIT + f'\nfactor = {{ value = 1.1, unit = "1", {SIGNED} }}').replace("entry]", "entry] # here"),
        "capacities.house_entry",
        "gives not one of limit, limit_by_speed and factor",
        "exactly one of them",
    ),
    "capacity in the unit of another dimension": Seed(
        "designs",
        capacity(LIMIT.replace('"bar"', '"ft/min"') + " # here"),
        "capacities.house_entry.limit.unit",
        "'ft/min' is not a unit of gauge pressure",
        "psi",
    ),
    "length for a capacity of speed": Seed(
        "designs",
        capacity(
            f'limit_by_speed = {{ x = [0, 5], y = [1, 2], x_unit = "m/s", y_unit = "mm", {SIGNED} }} # here',
            "surface_speed",
        ),
        "capacities.house_entry.limit_by_speed",
        "is a length, which surface_speed is not",
        "limit or factor",
    ),
    "capacity for an unknown feature": Seed(
        "designs",
        capacity(LIMIT, when='{ family = "energized_lip", colour = "white" } # here'),
        "capacities.house_entry.when.colour",
        "is not known here",
        '"heel"',
    ),
    "capacity for an unknown value of a feature": Seed(
        "designs",
        capacity(LIMIT, when='{ family = "energized_lip", heel = "long" } # here'),
        "capacities.house_entry.when.heel",
        '"long" is not a value of it',
        '"standard", "extended"',
    ),
    "capacity for features no design has together": Seed(
        "designs",
        capacity(LIMIT, when='{ heel = "extended", second_lip = "excluder" } # here'),
        "capacities.house_entry.when.second_lip",
        "no design of energized_lip has it",
        "lip_form",
    ),
    "date long past": Seed(
        "compounds", density("2026-01-01", "1066-01-01"), "ptfe_unfilled.density.valid_from",
        "1066-01-01 is too far from today to be meant", "1900-01-01 to 20",
    ),
    "date far ahead": Seed(
        "compounds", density("2026-01-01", "2062-01-01"), "ptfe_unfilled.density.valid_from",
        "2062-01-01 is too far from today to be meant", "1900-01-01 to 20",
    ),
    "capacity that limits what another limits": Seed(
        "designs",
        capacity(LIMIT, when='{ family = "flexible_lip" }').replace("entry]", "entry] # here"),
        "capacities.house_entry",
        "limits the same designs as pressure_flexible_lip",
        "one limit for each set of designs",
    ),
    "capacity that limits what another limits, in other words": Seed(
        "designs",
        capacity(LIMIT, when='{ family = "flexible_lip", reinforcing_band = true }', criterion="pressure").replace(
            'family = "flexible_lip", ', ""
        ).replace("entry]", "entry] # here"),
        "capacities.house_entry",
        "limits the same designs as pressure_flexible_lip_band",
        "one limit for each set of designs",
    ),
    "capacity whose designs overlap those of another": Seed(
        "designs",
        capacity(LIMIT, when='{ second_lip = "none" }').replace("entry]", "entry] # here"),
        "capacities.house_entry",
        "neither house_entry nor pressure_flexible_lip_band is the more special",
        'when = { family = "flexible_lip", reinforcing_band = true, second_lip = "none" }',
    ),
    "capacity that names more features and is not the more special": Seed(
        "designs",
        capacity(LIMIT, when='{ family = "flexible_lip", second_lip = "none", lip_tip = "plain" }').replace(
            "entry]", "entry] # here"
        ),
        "capacities.house_entry",
        "neither house_entry nor pressure_flexible_lip_band is the more special",
        "a limit of its own for those that have both",
    ),
    "unknown elastomer": Seed(
        "fluids",
        FLUID + '[invented_oil.compatibility]\nelastomers = { NBR = "compatible", XYZ = "caution" } # here\n',
        "invented_oil.compatibility.elastomers.XYZ",
        "'XYZ' is not known",
        "NBR, HNBR",
    ),
    "unknown usual alloy": Seed(
        "sizing",
        f'energizer_alloy = {{ name = "S99999", {SIGNED} }} # here\n',
        "energizer_alloy.name",
        "'S99999' is not known",
        "S30100",
    ),
    "unknown usual lubricant": Seed(
        "running",
        f'lubricant = {{ name = "snake_oil", {SIGNED} }} # here\n',
        "lubricant.name",
        "'snake_oil' is not known",
        "mineral_oil_hydraulic",
    ),
    "unsigned change of a fluid": Seed(
        "fluids",
        '[chlorine_gas.compatibility] # here\nptfe = "incompatible"\n',
        "chlorine_gas.compatibility",
        "changes a sourced record without stating what the change rests on",
        "source, evidence, valid_from in fluids.chlorine_gas",
    ),
    "bad unit inside a dotted key": Seed(
        "compounds",
        "ptfe_unfilled.density.value = 2.2\nptfe_unfilled.density.unit = 'kg' # here\n"
        "ptfe_unfilled.density.source = 'house-estimate'\nptfe_unfilled.density.evidence = 'house_estimate'\n"
        "ptfe_unfilled.density.valid_from = 2026-01-01\n",
        "ptfe_unfilled.density.unit",
        "'kg' is not a unit of density",
        "g/cm3",
    ),
    "steps that do not join": Seed(
        "gland",
        '[case_interference] # here\nsize_unit = "mm"\nover = [0, 50]\nup_to = [40, 120]\nunit = "mm"\nsource = "house-estimate"\n'
        'evidence = "house_estimate"\nvalid_from = 2026-01-01\ncolumns = { lower = [0.1, 0.1], upper = [0.2, 0.2] }\n',
        "case_interference",
        "each step must begin where the one before ends",
        "a table of size_unit",
    ),
    "extends what is not there": Seed(
        "rule_set",
        HEADER.replace('extends = "baseline"', 'extends = "base line" # here'),
        "extends",
        "there is no rule set 'base line'",
        "baseline",
    ),
    "extends itself": Seed(
        "rule_set", HEADER.replace('"baseline"', '"house" # here'), "extends", "the set extends itself: house → house", "baseline"
    ),
    "takes the name of another": Seed(
        "rule_set", HEADER.replace('name = "house"', 'name = "baseline" # here'), "name", "'baseline' is the name of baseline", "its own"
    ),
    "header without a title": Seed(
        "rule_set", HEADER.replace('title = "Invented house rules"\n', ""), "title", "is missing", "text in quotes"
    ),
    "version that is a number": Seed(
        "rule_set", HEADER.replace('"1"', "1 # here"), "version", "is not text", "text in quotes"
    ),
    "removes what is not there": Seed(
        "rule_set",
        HEADER + 'remove = [\n  "fluids.steam",\n  "fluids.chlorin_gas", # here\n]\n',
        "remove",
        "the extended set has no 'fluids.chlorin_gas'",
        "fluids.chlorine_gas",
    ),
    "removes a part of a value": Seed(
        "rule_set",
        HEADER + 'remove = ["compounds.ptfe_unfilled.density.unit"] # here\n',
        "remove",
        "is a part of a sourced value",
        "the whole value: compounds.ptfe_unfilled.density",
    ),
    "removes a whole file": Seed(
        "rule_set", HEADER + 'remove = ["fluids"] # here\n', "remove", "'fluids' cannot be removed", "a dotted key inside a file"
    ),
    "removes what cannot be spared": Seed(
        "rule_set",
        HEADER + 'remove = ["compounds.ptfe_unfilled.density"] # here\n',
        "remove",
        "compounds.ptfe_unfilled.density cannot be spared",
        "a table of value, unit",
    ),
    "an ample life that is none": Seed(
        "aims",
        f'ample_life = {{ value = 50.0, unit = "h", {SIGNED} }} # here\n',
        "ample_life",
        "is not longer than least_life",
        "more than least_life",
    ),
    "removes a criterion": Seed(
        "rule_set", HEADER + 'remove = ["criteria.lip_stress"] # here\n', "remove", "criteria.lip_stress cannot be spared", "title"
    ),
    "removes from nothing": Seed(
        "rule_set",
        HEADER.replace('extends = "baseline"\n', "") + 'remove = ["fluids.chlorine_gas"] # here\n',
        "remove",
        "there is nothing to remove from",
        "remove beside extends",
    ),
}  # fmt: skip


def expected_line(text: str) -> int | None:
    marked = [number for number, line in enumerate(text.splitlines(), start=1) if line.endswith("# here")]
    assert len(marked) <= 1
    return marked[0] if marked else None


def assert_says(error: RuleError, seed: Seed) -> None:
    assert (error.file, error.line, error.key) == (f"house/{seed.file}.toml", expected_line(seed.text), seed.key)
    assert seed.fault in error.fault
    assert seed.accepted in error.accepted
    assert error.also == (), "one fault, one report"
    where = f"house/{seed.file}.toml" + (f":{error.line}" if error.line else "")
    assert str(error) == f"{where}: {seed.key}: {error.fault}; accepted: {error.accepted}"


@pytest.mark.parametrize("name", SEEDS)
def test_a_bad_house_set_is_refused_where_it_is_bad(name: str, load: Callable[..., RuleStore]) -> None:
    seed = SEEDS[name]
    with pytest.raises(RuleError) as caught:
        load({seed.file: seed.text})
    assert_says(caught.value, seed)


def test_only_a_missing_key_of_a_file_has_no_line() -> None:
    assert [name for name, seed in SEEDS.items() if expected_line(seed.text) is None] == ["header without a title"]


def changed(file: str, old: str, new: str) -> str:
    """Return a built-in file with one line changed."""
    text = (BASELINE / f"{file}.toml").read_text(encoding="utf-8")
    assert old in text
    line = next(line for line in text.splitlines() if old in line)
    return text.replace(line, line.replace(old, new) + " # here", 1)


OWN = HEADER.replace('extends = "baseline"', "valid_from = 2026-01-01")

WHOLE = {
    "misspelt key": Seed(
        "sizing", changed("sizing", "service_time", "servicetime"), "following.servicetime", "is not known here", "service_time"
    ),
    "alloy that energizers fall back on is gone": Seed(
        "sizing",
        changed("sizing", 'name = "R30003"', 'name = "X30003"'),
        "energizer_alloy.name",
        "is not known",
        "S30100",
    ),
    "a fit of an unknown metal": Seed(
        "expansion",
        changed("expansion", "aluminium_alloy =", "unobtainium ="),
        "metals.fits.unobtainium",
        "'unobtainium' is not known",
        "steel_hardened",
    ),
    "option that no design has": Seed(
        "designs",
        changed("designs", 'field = "second_lip"', 'field = "third_lip"'),
        "options.field",
        "flexible_lip has no field 'third_lip'", "second_lip"
    ),
    "hazard that is none": Seed(
        "cautions",
        changed("cautions", 'hazards = ["oxygen"]', 'hazards = ["oxigen"]'),
        "oxygen.hazards",
        "'oxigen' is not one of those", '"oxygen"'
    ),
    "value later than the set": Seed(
        "sizing",
        changed("sizing", f'1000.0, unit = "h", {SIGNED}', f'1000.0, unit = "h", {SIGNED.replace("-01-01", "-01-02")}'),
        "following.service_time",
        "is not in force yet on 2026-01-01, only from 2026-01-02",
        "a valid_from not later than 2026-01-01",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", WHOLE)
def test_a_bad_set_of_its_own_is_refused_where_it_is_bad(name: str, load: Callable[..., RuleStore]) -> None:
    seed = WHOLE[name]
    with pytest.raises(RuleError) as caught:
        load({"rule_set": OWN, seed.file: seed.text}, whole=True)
    error = caught.value
    if name == "misspelt key":
        # The key that should be there is missing too.
        assert [item.key for item in error.also] + [error.key] == ["following.servicetime", "following.service_time"]
        error = error.also[0]
        error.also = ()
    assert_says(error, seed)


def test_every_fault_of_a_set_is_reported_at_once(load: Callable[..., RuleStore]) -> None:
    text = "[ptfe_unfilled]\ndensity = " + DENSITY.replace("2.2", "-1") + '\ncolour = "white"\n'
    with pytest.raises(RuleError) as caught:
        load({"compounds": text})
    lines = str(caught.value).splitlines()
    assert len(lines) == 2
    assert {line.split(": ")[0] for line in lines} == {"house/compounds.toml:2", "house/compounds.toml:3"}


def test_a_file_that_is_missing_is_named(load: Callable[..., RuleStore], write: Callable[..., Path]) -> None:
    folder = write({"rule_set": OWN}, whole=True)
    (folder / "house" / "running.toml").unlink()
    with pytest.raises(
        RuleError, match=r"running\.toml: the file is missing; accepted: all of rule_set\.toml"
    ) as caught:
        RuleStore(folder)
    assert (caught.value.file, caught.value.line) == ("house/running.toml", None)


def test_a_set_without_a_header_is_refused(write: Callable[..., Path]) -> None:
    folder = write({"compounds": ""})
    (folder / "house" / "rule_set.toml").unlink()
    with pytest.raises(RuleError, match=r"house/rule_set.toml: rule_set.toml: the file is missing"):
        RuleStore(folder)


def test_a_set_of_its_own_says_from_when_it_holds(load: Callable[..., RuleStore]) -> None:
    with pytest.raises(
        RuleError, match=r"house/rule_set.toml: valid_from: is missing; accepted: a date without quotes"
    ):
        load({"rule_set": HEADER.replace('extends = "baseline"\n', "")}, whole=True)


def test_a_file_of_another_name_is_refused(load: Callable[..., RuleStore]) -> None:
    with pytest.raises(RuleError, match=r"house/compound.toml: compound.toml: no file of a rule set .*compounds.toml"):
        load({"compound": ""})


def test_a_file_that_is_not_utf_8_is_refused(write: Callable[..., Path]) -> None:
    folder = write({})
    (folder / "house" / "compounds.toml").write_bytes(b'title = "\xff"\n')
    with pytest.raises(RuleError, match="is not UTF-8"):
        RuleStore(folder)


def test_two_house_sets_of_one_name_are_refused(write: Callable[..., Path]) -> None:
    write({}, "first")
    folder = write({"rule_set": HEADER.replace('"house"', '"first"')}, "second")
    with pytest.raises(RuleError) as caught:
        RuleStore(folder)
    assert (caught.value.file, caught.value.line) == ("second/rule_set.toml", 1)
    assert "'first' is the name of first too" in caught.value.fault


def test_a_circle_of_sets_is_refused(write: Callable[..., Path]) -> None:
    for name, base in (("a", "b"), ("b", "c"), ("c", "a")):
        folder = write({"rule_set": HEADER.replace('"house"', f'"{name}"').replace("baseline", base)}, name)
    with pytest.raises(RuleError) as caught:
        RuleStore(folder)
    assert (caught.value.file, caught.value.line, caught.value.key) == ("c/rule_set.toml", 5, "extends")
    assert caught.value.fault == "the set extends itself: a → b → c → a"


def test_what_others_use_cannot_be_removed(load: Callable[..., RuleStore]) -> None:
    with pytest.raises(RuleError) as caught:
        load({"rule_set": HEADER + 'remove = ["fluids.steam", "alloys.S30200"]\n'})
    error = caught.value
    assert (error.file, error.line, error.key) == ("house/rule_set.toml", 6, "remove")
    assert "alloys.S30200 cannot be spared: fluids." in error.fault
    assert error.also == ()


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda path: path / "absent", "is not a folder; accepted: a folder that holds rule set folders"),
        (lambda path: path / "house", "is itself the folder of a rule set; accepted: the folder above it"),
        (lambda path: (path / "house" / "empty").mkdir() or path / "house" / "empty", "holds no rule set"),
    ],
)
def test_the_folder_of_house_sets_must_be_one(
    make: Callable[[Path], Path], said: str, write: Callable[..., Path]
) -> None:
    with pytest.raises(RuleError, match=re.escape(said)) as caught:
        RuleStore(make(write({})))
    assert caught.value.key == "GLANDWISE_RULES"


def test_the_service_does_not_start_on_bad_rules(
    write: Callable[..., Path], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    seed = SEEDS["negative density"]
    monkeypatch.setenv("GLANDWISE_RULES", str(write({seed.file: seed.text})))
    assert main() == 2
    said = capsys.readouterr().err
    assert "The rules cannot be used." in said
    assert (
        "house/compounds.toml:4: ptfe_unfilled.density.value: -2.2 g/cm3 is no density; accepted: more than 0 g/cm3"
        in said
    )


def test_the_service_does_not_start_without_its_default_rule_set(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("GLANDWISE_DEFAULT_RULE_SET", "house")
    assert main() == 2
    assert "GLANDWISE_DEFAULT_RULE_SET: there is no rule set 'house'; accepted: baseline" in capsys.readouterr().err


def test_the_process_ends_with_status_2(write: Callable[..., Path], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("GLANDWISE_RULES", str(write({"compounds": "[ptfe_unfilled"})))
    done = subprocess.run([sys.executable, "-m", "glandwise"], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 2
    assert "house/compounds.toml:1: " in done.stderr
    assert "Traceback" not in done.stderr
