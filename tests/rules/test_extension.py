"""House sets that extend others: what they override, add, date and remove, and what they must sign."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from glandwise.rules.loader import RuleStore, digest
from glandwise.rules.overlay import OverlayError, is_value, lay_over, merge_patch, removed

from .conftest import BASELINE, HEADER

SIGNED = 'source = "house-estimate", evidence = "house_estimate", valid_from = 2026-01-01'
Load = Callable[..., RuleStore]


def compound(store: RuleStore, name: str = "ptfe_unfilled", rules: str = "house", as_of: date | None = None) -> object:
    tree = store.trees[rules]
    return (tree.newest() if as_of is None else tree.at(as_of)).data.compounds[name]


def test_an_empty_house_set_is_the_set_it_extends(load: Load) -> None:
    store = load({})
    house, base = store.trees["house"], store.trees["baseline"]
    assert {**house.tree, "rule_set": {}} == {**base.tree, "rule_set": {}}
    assert house.digest != base.digest
    assert (house.newest().name, house.newest().version) == ("house", "1")
    assert house.newest().data.rule_set.extends == "baseline"
    assert house.valid_from == base.valid_from


def test_the_house_overrides_one_value_and_nothing_else(load: Load) -> None:
    text = f'[ptfe_unfilled]\ndensity = {{ value = 2.2, unit = "g/cm3", {SIGNED}, note = "weighed" }}\n'
    store = load({"compounds": text})
    mine, theirs = compound(store), compound(store, rules="baseline")
    assert mine.density.si == pytest.approx(2200.0)
    assert theirs.density.si == pytest.approx(2170.0)
    for name in theirs.__dataclass_fields__:
        if name != "density":
            mine_value, their_value = getattr(mine, name), getattr(theirs, name)
            assert getattr(mine_value, "value", None) == getattr(their_value, "value", None), name
    house, base = store.trees["house"].tree, store.trees["baseline"].tree
    assert house["fluids"] == base["fluids"]
    assert {**house["compounds"]["ptfe_unfilled"], "density": 0} == {**base["compounds"]["ptfe_unfilled"], "density": 0}


def test_an_overridden_value_keeps_nothing_of_the_old_one(load: Load) -> None:
    """Neither the old range nor the old remark nor the old source may stand beside a new number."""
    base = load({}).trees["baseline"].newest().data.compounds["ptfe_unfilled"].density
    assert base.low is not None
    assert base.note
    text = f'[ptfe_glass_15]\ndensity = {{ value = 3.9, unit = "g/cm3", {SIGNED} }}\n'
    density = compound(load({"compounds": text}), "ptfe_glass_15").density
    assert (density.value, density.low, density.high, density.note) == (3.9, None, None, "")
    assert (density.source, density.evidence, density.valid_from) == (
        "house-estimate",
        "house_estimate",
        date(2026, 1, 1),
    )


def test_the_house_adds_a_compound(load: Load) -> None:
    text = (BASELINE / "compounds.toml").read_text(encoding="utf-8")
    start = text.index("[ptfe_glass_15]")
    record = text[start : text.index("[ptfe_glass_25]")].replace("ptfe_glass_15", "ptfe_basalt_15")
    store = load({"compounds": record})
    house, base = store.trees["house"].newest().data.compounds, store.trees["baseline"].newest().data.compounds
    assert set(house) == {*base, "ptfe_basalt_15"}
    assert house["ptfe_basalt_15"].density.si == base["ptfe_glass_15"].density.si


def test_the_house_removes_a_fluid_and_a_value(load: Load) -> None:
    header = HEADER + 'remove = ["fluids.chlorine_gas", "compounds.ptfe_unfilled.friction.dry"]\n'
    store = load({"rule_set": header})
    house, base = store.trees["house"].newest().data, store.trees["baseline"].newest().data
    assert set(base.fluids) - set(house.fluids) == {"chlorine_gas"}
    assert house.compounds["ptfe_unfilled"].friction.dry is None
    assert base.compounds["ptfe_unfilled"].friction.dry is not None
    assert "remove" not in store.trees["house"].tree["rule_set"], "what was removed is gone, not a part of the content"


def test_what_is_removed_can_be_stated_anew_in_full(load: Load) -> None:
    """Removal comes before the overlay, so a record can be replaced and not merged."""
    fluid = (
        '[chlorine_gas]\ntitle = "Chlorine"\ncategory = "gas"\nphase = "gas"\nlubrication = "dry"\nhazards = ["toxic"]\n'
        f'{SIGNED.replace(", ", chr(10))}\n[chlorine_gas.compatibility]\nptfe = "caution"\n'
    )
    data = (
        load({"rule_set": HEADER + 'remove = ["fluids.chlorine_gas"]\n', "fluids": fluid}).trees["house"].newest().data
    )
    record = data.fluids["chlorine_gas"]
    assert (record.hazards, record.compatibility.ptfe, record.compatibility.alloys) == (["toxic"], "caution", {})


def test_a_signed_change_of_a_fluid_keeps_the_rest(load: Load) -> None:
    text = f'[chlorine_gas]\n{SIGNED.replace(", ", chr(10))}\n[chlorine_gas.compatibility.alloys]\nS31600 = "incompatible"\n'
    store = load({"fluids": text})
    mine = store.trees["house"].newest().data.fluids["chlorine_gas"]
    theirs = store.trees["baseline"].newest().data.fluids["chlorine_gas"]
    assert mine.compatibility.alloys == {**theirs.compatibility.alloys, "S31600": "incompatible"}
    assert mine.compatibility.elastomers == theirs.compatibility.elastomers
    assert (mine.title, mine.source, mine.evidence) == (theirs.title, "house-estimate", "house_estimate")


def test_a_dated_value_inside_a_fluid_is_signed_by_itself(load: Load) -> None:
    text = f'[water]\nheat_capacity = {{ value = 4.2, unit = "kJ/kg/K", {SIGNED} }}\n'
    store = load({"fluids": text})
    mine = store.trees["house"].newest().data.fluids["water"]
    theirs = store.trees["baseline"].newest().data.fluids["water"]
    assert mine.heat_capacity.si == pytest.approx(4200.0)
    assert (mine.source, mine.compatibility) == (theirs.source, theirs.compatibility)


def test_a_list_is_replaced_whole(load: Load) -> None:
    data = (
        load({"compounds": '[ptfe_glass_15]\nfillers = ["glass", "molybdenum_disulfide"]\n'})
        .trees["house"]
        .newest()
        .data
    )
    assert data.compounds["ptfe_glass_15"].fillers == ["glass", "molybdenum_disulfide"]


def test_sets_extend_in_a_chain_and_the_uppermost_wins(write: Callable[..., Path]) -> None:
    def density(value: float, name: str) -> str:
        return f'[{name}]\ndensity = {{ value = {value}, unit = "g/cm3", {SIGNED} }}\n'

    def header(name: str, base: str) -> str:
        return HEADER.replace('"house"', f'"{name}"').replace("baseline", base)

    # Named so that the folder of the uppermost set is read first.
    write({"rule_set": header("a_site", "b_house"), "compounds": density(2.3, "ptfe_glass_15")}, "a_site")
    both = density(2.1, "ptfe_glass_15") + density(2.12, "ptfe_unfilled")
    folder = write({"rule_set": header("b_house", "baseline"), "compounds": both}, "b_house")
    store = RuleStore(folder)
    assert compound(store, "ptfe_glass_15", "a_site").density.value == 2.3
    assert compound(store, "ptfe_glass_15", "b_house").density.value == 2.1
    assert compound(store, "ptfe_unfilled", "a_site").density.value == 2.12
    assert [layer.label for layer in store.trees["a_site"].layers] == ["a_site", "b_house", "baseline"]
    assert len({tree.digest for tree in store.trees.values()}) == 3


def test_the_built_in_set_is_not_changed_by_what_extends_it(load: Load) -> None:
    before = RuleStore().trees["baseline"].digest
    after = load({"rule_set": HEADER + 'remove = ["fluids.chlorine_gas"]\n'}).trees["baseline"]
    assert digest(after.tree) == before == after.digest


def test_a_set_of_its_own_needs_no_other(load: Load) -> None:
    header = HEADER.replace('extends = "baseline"', "valid_from = 2026-01-01")
    tree = load({"rule_set": header}, whole=True).trees["house"]
    assert tree.newest().data.rule_set.extends is None
    assert len(tree.layers) == 1


def test_folders_of_whatever_mounts_the_rules_are_left_alone(write: Callable[..., Path]) -> None:
    folder = write({})
    (folder / "..data").mkdir()
    (folder / "..data" / "rule_set.toml").write_text("name = 'hidden'", encoding="utf-8")
    assert set(RuleStore(folder).trees) == {"baseline", "house"}


# ------------------------------------------------------------------------------------------------ the overlay itself


@pytest.mark.parametrize(
    ("target", "patch", "result"),
    [
        ({"a": "b"}, {"a": "c"}, {"a": "c"}),
        ({"a": "b"}, {"b": "c"}, {"a": "b", "b": "c"}),
        ({"a": "b"}, {"a": None}, {}),
        ({"a": "b", "b": "c"}, {"a": None}, {"b": "c"}),
        ({"a": ["b"]}, {"a": "c"}, {"a": "c"}),
        ({"a": "c"}, {"a": ["b"]}, {"a": ["b"]}),
        ({"a": {"b": "c"}}, {"a": {"b": "d", "c": None}}, {"a": {"b": "d"}}),
        ({"a": [{"b": "c"}]}, {"a": [1]}, {"a": [1]}),
        (["a", "b"], ["c", "d"], ["c", "d"]),
        ({"a": "b"}, ["c"], ["c"]),
        ({"a": "foo"}, None, None),
        ({"a": "foo"}, "bar", "bar"),
        ({"e": None}, {"a": 1}, {"e": None, "a": 1}),
        ([1, 2], {"a": "b", "c": None}, {"a": "b"}),
        ({}, {"a": {"bb": {"ccc": None}}}, {"a": {"bb": {}}}),
    ],
)
def test_the_merge_patch_is_that_of_rfc_7396(target: object, patch: object, result: object) -> None:
    """The test cases of RFC 7396, appendix A."""
    assert merge_patch(target, patch) == result


def record(value: float, year: int, **more: object) -> dict[str, object]:
    return {"value": value, "unit": "1", "source": "s", "evidence": "published", "valid_from": date(year, 1, 1), **more}


@pytest.mark.parametrize(
    ("base", "patch", "result"),
    [
        # without sources it is RFC 7396
        ({"a": {"b": 1, "c": 2}}, {"a": {"b": None, "d": 3}}, {"a": {"c": 2, "d": 3}}),
        ({"a": [1, 2]}, {"a": [3]}, {"a": [3]}),
        # a sourced value is replaced whole
        ({"a": record(1, 2026, low=0)}, {"a": record(2, 2026)}, {"a": record(2, 2026)}),
        ({"a": record(1, 2026)}, {"a": {"value": 2}}, {"a": {"value": 2}}),
        ({"a": record(1, 2026)}, {"a": None}, {}),
        ({}, {"a": record(1, 2026)}, {"a": record(1, 2026)}),
        # it holds from its own date
        ({"a": record(1, 2026)}, {"a": record(2, 2027)}, {"a": [record(1, 2026), record(2, 2027)]}),
        ({"a": record(1, 2026)}, {"a": record(2, 2025)}, {"a": record(2, 2025)}),
        (
            {"a": [record(1, 2024), record(2, 2026), record(3, 2028)]},
            {"a": record(4, 2027)},
            {"a": [record(1, 2024), record(2, 2026), record(4, 2027)]},
        ),
        (
            {"a": record(1, 2024)},
            {"a": [record(2, 2025), record(3, 2026)]},
            {"a": [record(1, 2024), record(2, 2025), record(3, 2026)]},
        ),
        # a table that happens to hold a value called evidence is still a table
        (
            {"w": {"margin": record(1, 2026), "evidence": record(2, 2026)}},
            {"w": {"evidence": record(3, 2026)}},
            {"w": {"margin": record(1, 2026), "evidence": record(3, 2026)}},
        ),
        # a value takes the place of something else, and the other way round
        ({"a": {"b": 1}}, {"a": [record(1, 2026)]}, {"a": [record(1, 2026)]}),
        ({"a": record(1, 2026)}, {"a": [1]}, {"a": [1]}),
    ],
)
def test_sourced_values_are_laid_over_whole_and_by_date(base: object, patch: object, result: object) -> None:
    assert lay_over(base, patch) == result


def composite(year: int, kind: str, note: str = "n") -> dict[str, object]:
    return {
        "note": note,
        "inner": {"kind": kind},
        "source": "s",
        "evidence": "published",
        "valid_from": date(year, 1, 1),
    }


def test_a_record_with_unsourced_parts_is_changed_only_by_a_signed_patch() -> None:
    base = {"a": composite(2026, "x")}
    assert not is_value(base["a"])
    with pytest.raises(OverlayError) as caught:
        lay_over(base, {"a": {"inner": {"kind": "y"}}})
    assert caught.value.path == ("a", "inner")
    signature = {"source": "t", "evidence": "house_estimate", "valid_from": date(2026, 1, 1)}
    assert lay_over(base, {"a": {"inner": {"kind": "y"}, **signature}}) == {"a": {**composite(2026, "y"), **signature}}
    later = {**signature, "valid_from": date(2027, 1, 1)}
    result = lay_over(base, {"a": {"inner": {"kind": "y"}, **later}})
    assert result == {"a": [composite(2026, "x"), {**composite(2026, "y"), **later}]}
    assert base == {"a": composite(2026, "x")}


def test_a_sourced_value_inside_needs_no_signature_of_the_record_around_it() -> None:
    base = {"a": [composite(2025, "w"), {**composite(2026, "x"), "v": record(1, 2026)}]}
    result = lay_over(base, {"a": {"v": record(2, 2026)}})
    assert result == {"a": [composite(2025, "w"), {**composite(2026, "x"), "v": record(2, 2026)}]}
    assert lay_over(base, {"a": {"v": None}}) == {"a": [composite(2025, "w"), composite(2026, "x")]}


def test_removal_reaches_into_every_entry_of_a_history() -> None:
    tree = {"f": {"a": [composite(2025, "w"), composite(2026, "x")]}}
    result = removed(tree, ["f.a.inner.kind"])
    assert [entry["inner"] for entry in result["f"]["a"]] == [{}, {}]
    assert tree["f"]["a"][0]["inner"] == {"kind": "w"}
