"""Calibrations whole: values of records as a rule set that loads, and what it does to quotes."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from glandwise.contract.calibration import CalibrationRequest, CalibrationResult
from glandwise.engine import Engine
from glandwise.mechanics.viscoelastic import relaxed_share
from glandwise.mechanics.wear import wear_rate
from glandwise.review.calibration.operation import calibrate
from glandwise.review.calibration.relaxation import series_of
from glandwise.rules import compare
from glandwise.rules.loader import RuleStore
from glandwise_client._cli import main
from scipy import stats

from tests.calibration.simulated import (
    ALLOY,
    COMPOUND,
    MADE,
    baseline,
    energizer_load,
    fitted,
    found,
    friction,
    life,
    relaxation,
    wear,
)
from tests.conftest import example

EXAMPLE = example("calibrate_rules", "wear_on_an_invented_rig")
QUOTES = EXAMPLE["against"]


@pytest.fixture(scope="module")
def engine() -> Engine:
    return Engine(RuleStore(None), "baseline")


def asked(engine: Engine, text: str, **more: Any) -> dict[str, Any]:
    request = {"kind": "wear", "records": text, "rig": "Invented rig", "closed_on": "2026-03-01", **more}
    return calibrate(CalibrationRequest.model_validate(request), engine)


@pytest.fixture(scope="module")
def answer(engine: Engine) -> dict[str, Any]:
    return asked(engine, wear(np.random.default_rng(1), truth=6.0e-16).text)


def house(tmp_path: Path, answer: dict[str, Any]) -> RuleStore:
    """Load the files of an answer as a house set."""
    folder = tmp_path / "rules" / "own"
    folder.mkdir(parents=True)
    for name, text in answer["files"].items():
        (folder / name).write_text(text, encoding="utf-8")
    return RuleStore(folder.parent)


# ------------------------------------------------------------------------------------------------------------ the rules


def test_what_is_found_is_a_rule_set_that_loads(answer: dict[str, Any], tmp_path: Path) -> None:
    assert (answer["verdict"], answer["refused"]) == ("pass", [])
    tree = house(tmp_path, answer).get("own-tests")
    assert tree is not None
    rules = tree.newest().data
    held = rules.compounds[COMPOUND].wear.dry
    (value,) = answer["values"]
    assert held is not None
    assert (held.value, held.low, held.high) == tuple(value["found"][name] for name in ("value", "low", "high"))
    assert (held.evidence, str(held.valid_from)) == ("own_test", "2026-03-01")
    records = rules.sources[held.source].records
    assert records is not None
    assert (records.rig, records.specimens, records.sha256) == ("Invented rig", 8, answer["records"]["sha256"])
    base = RuleStore(None).trees["baseline"]
    last = tree.breakpoints[-1]
    changed = {item.key for item in compare.diff(compare.as_of(base, last), compare.as_of(tree, last))}
    assert {key for key in changed if not key.startswith(("rule_set.", "sources."))} == {
        f"compounds.{COMPOUND}.wear.dry"
    }


def test_the_digest_is_that_of_the_table(engine: Engine) -> None:
    text = wear(np.random.default_rng(1)).text
    assert asked(engine, text)["records"]["sha256"] == hashlib.sha256(text.encode()).hexdigest()


def test_before_its_day_the_house_holds(answer: dict[str, Any], tmp_path: Path) -> None:
    tree = house(tmp_path, answer).get("own-tests")
    assert tree is not None
    before = tree.at(tree.valid_from).data.compounds[COMPOUND].wear.dry
    assert before == baseline().compounds[COMPOUND].wear.dry


def test_a_gate_that_refuses_is_told_and_fails(engine: Engine) -> None:
    """Far less wear dry than the house believes of a wetted lip breaks the order of both."""
    others = [item for item in ("boundary", "aqueous") if hasattr(baseline().compounds[COMPOUND].wear, item)]
    wetted = getattr(baseline().compounds[COMPOUND].wear, others[0])
    made = asked(engine, wear(np.random.default_rng(1), truth=wetted.si / 100.0).text, against=QUOTES)
    assert made["verdict"] == "fail"
    assert made["gate"]["accepted"] is False
    assert any("over" in fault or "band" in fault or others[0] in fault for fault in made["gate"]["faults"])
    assert made["comparison"] is None


# ---------------------------------------------------------------------------------------------------------- wear


@pytest.mark.parametrize("shaft", ["steel_hardened", "steel_soft"])
def test_the_counterface_is_taken_off(shaft: str) -> None:
    """The same true rate on two shafts; an independent slope of every specimen, corrected by the formula of an answer."""
    made = wear(np.random.default_rng(4), truth=6.0e-16, shaft=shaft)
    (value,) = fitted("wear", made.text)
    rows = [line.split(",") for line in made.text.splitlines()[1:]]
    slopes = []
    for name in dict.fromkeys(row[0] for row in rows):
        own = [row for row in rows if row[0] == name]
        x = [float(row[4]) * float(row[5]) * 1e6 for row in own]
        slopes.append(np.polyfit(x, [float(row[6]) * 1e-6 for row in own], 1)[0])
    factor = wear_rate(1.0, baseline().shaft_materials[shaft].wear_factor.si)
    assert found(value).value == pytest.approx(np.exp(np.mean(np.log(slopes))) / factor / 1e-9, rel=0.1)
    assert found(value).low < 6.0e-7 < found(value).high


def test_mass_tells_as_much_as_depth() -> None:
    """A loss of mass is density times volume: the same specimens weighed give the same rate."""
    made = wear(np.random.default_rng(2), truth=6.0e-16)
    density, area = baseline().compounds[COMPOUND].density.si, 1.0e-4
    rows = [line.split(",") for line in made.text.splitlines()[1:]]
    weighed = ["specimen,compound,medium,shaft_material,sliding_distance [m],normal_load [N],mass_loss [g]"]
    for *same, pressure, depth in rows:
        load, mass = float(pressure) * 1e6 * area, float(depth) * 1e-6 * area * density * 1e3
        weighed.append(",".join([*same, f"{load:.9g}", f"{mass:.9g}"]))
    by_depth, by_mass = (found(fitted("wear", text)[0]) for text in (made.text, "\n".join(weighed)))
    assert by_mass == pytest.approx(by_depth, rel=1e-4)


def test_few_specimens_lean_on_the_house_and_fewer_tell_nothing() -> None:
    for specimens, leans in ((8, False), (4, True)):
        (value,) = fitted("wear", wear(np.random.default_rng(3), specimens, truth=6.0e-16).text)
        assert ("prior" in value.method) is leans
        assert value.record is not None
    (value,) = fitted("wear", wear(np.random.default_rng(3), 2, truth=6.0e-16).text)
    assert (value.found, value.record) == (None, None)
    assert value.stays.startswith("2 of at least 3 specimens")


def test_records_that_tell_less_than_the_house_leave_its_value() -> None:
    lines = wear(np.random.default_rng(3), 3, truth=6.0e-16).text.splitlines()
    for place, factor in ((1, 0.02), (2, 1.0), (3, 50.0)):
        for row, line in enumerate(lines):
            cells = line.split(",")
            if cells[0] == f"W{place}":
                lines[row] = ",".join([*cells[:-1], f"{float(cells[-1]) * factor:.6g}"])
    (value,) = fitted("wear", "\n".join(lines))
    assert value.record is None
    assert "less than what the house has already" in value.stays
    assert value.own_share is not None
    assert value.own_share < 0.5


def test_a_wild_specimen_and_a_wild_reading_are_named() -> None:
    lines = wear(np.random.default_rng(6), 12, truth=6.0e-16).text.splitlines()
    wild = [",".join([*(cells := line.split(","))[:-1], f"{float(cells[-1]) * 40.0:.6g}"]) if line.startswith("W12,") else line
            for line in lines]  # fmt: skip
    (value,) = fitted("wear", "\n".join(wild))
    assert [item.specimen for item in value.outliers] == ["W12"]
    assert found(value).low < 6.0e-7 < found(value).high


def test_a_rate_that_hangs_on_pressure_is_a_lack_of_fit() -> None:
    lines = wear(np.random.default_rng(6), 12, truth=6.0e-16).text.splitlines()
    for row, line in enumerate(lines[1:], start=1):
        cells = line.split(",")
        lines[row] = ",".join([*cells[:-1], f"{float(cells[-1]) * float(cells[5]) ** 2:.6g}"])
    (value,) = fitted("wear", "\n".join(lines))
    assert any("contact pressure" in text for text in value.lack_of_fit)


def test_rows_that_do_not_go_with_their_specimen_are_refused(engine: Engine) -> None:
    lines = wear(np.random.default_rng(1)).text.splitlines()
    lines[2] = lines[2].replace(",1,", ",9,", 1)
    lines[4] = lines[4].replace("steel_hardened", "steel_soft")
    refused = {item["line"]: item["reason"] for item in asked(engine, "\n".join(lines))["refused"]}
    assert sorted(refused) == [3, 5]
    assert refused[3].startswith("contact_pressure: not as in the first row of this specimen")
    assert refused[5].startswith("shaft_material: another one")


# ------------------------------------------------------------------------------------------------------- asked and shown


def test_past_quotes_are_compared(client: TestClient) -> None:
    made = client.post("/v1/calibrations", json=EXAMPLE)
    assert made.status_code == 200, made.text
    result = made.json()
    key = f"compounds.{COMPOUND}.wear.dry"
    assert [item["key"] for item in result["comparison"]["changes"] if item["evidence"] == "own_test"] == [key]
    assert [item["line"] for item in result["refused"]] == [42]


def test_the_set_sent_back_is_a_candidate(client: TestClient) -> None:
    made = client.post("/v1/calibrations", json={**EXAMPLE, "against": []}).json()
    answer = client.post(
        "/v1/rule-set-comparisons",
        json={"base": {"kind": "name", "name": "baseline"}, "candidate": {"kind": "whole", "rule_set": made["rule_set"]},
              "cases": QUOTES},
    )  # fmt: skip
    assert answer.status_code == 200, answer.text


def test_a_table_that_cannot_be_read_is_told_to_people(client: TestClient) -> None:
    answer = client.post(
        "/v1/calibrations", json={**EXAMPLE, "records": "specimen,compound\n1,2\n"}, headers={"accept-language": "de"}
    )
    assert answer.status_code == 422
    (error,) = answer.json()["errors"]
    assert (error["pointer"], error["code"]) == ("/records", "missing_column")
    assert error["message"] == "In der Tabelle fehlt eine Spalte."


def run(*arguments: str) -> int:
    return main(["rules", "calibrate", *arguments, "--in-process"])


def test_the_command_writes_a_folder_of_rules(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    records, out = tmp_path / "wear.csv", tmp_path / "rules" / "own"
    records.write_bytes(EXAMPLE["records"].encode())
    quotes = tmp_path / "quotes.ndjson"
    quotes.write_text("".join(json.dumps(case) + "\n" for case in QUOTES), encoding="utf-8")
    code = run(str(records), "--kind", "wear", "--rig", "Invented rig", "--closed-on", "2026-03-01", "--out", str(out),
               "--against", str(quotes))  # fmt: skip
    said = capsys.readouterr().out
    assert code == 0, said
    assert "line 42: depth: not a number" in said
    assert f"compounds.{COMPOUND}.wear.dry" in said
    assert (out / "records.csv").read_bytes() == records.read_bytes()
    tree = RuleStore(out.parent).get("own-tests")
    assert tree is not None
    (source,) = (item for item in tree.newest().data.sources.values() if item.records is not None)
    assert source.records is not None
    assert source.records.sha256 == hashlib.sha256(records.read_bytes()).hexdigest()
    assert (
        run(str(records), "--kind", "wear", "--rig", "Invented rig", "--closed-on", "2026-03-01", "--out", str(out))
        == 2
    )


def test_parquet_says_the_same(tmp_path: Path) -> None:
    csv, parquet = pytest.importorskip("pyarrow.csv"), pytest.importorskip("pyarrow.parquet")
    plain, table = tmp_path / "wear.csv", tmp_path / "wear.parquet"
    plain.write_text(wear(np.random.default_rng(1)).text, encoding="utf-8")
    parquet.write_table(csv.read_csv(plain), table)
    found_ = []
    for place, file in enumerate((plain, table)):
        report = tmp_path / f"{place}.json"
        assert run(str(file), "--kind", "wear", "--rig", "Invented rig", "--closed-on", "2026-03-01", "--out",
                   str(tmp_path / f"out{place}"), "--json", str(report)) == 0  # fmt: skip
        found_.append(json.loads(report.read_text(encoding="utf-8"))["values"])
    assert found_[0] == found_[1]


# ------------------------------------------------------------------------------------------------------- other kinds


KEYS = {
    "friction": f"compounds.{COMPOUND}.friction.dry",
    "relaxation": f"compounds.{COMPOUND}.relaxation",
    "energizer_load": f"alloys.{ALLOY}.elastic_modulus",
    "pv_steps": f"compounds.{COMPOUND}.limiting_pv",
}


@pytest.mark.parametrize("kind", KEYS)
def test_every_kind_makes_a_rule_set_that_loads(kind: str, engine: Engine, tmp_path: Path) -> None:
    made = asked(engine, MADE[kind](np.random.default_rng(2)).text, kind=kind)
    assert made["gate"] == {"accepted": True, "faults": []}
    assert {item["key"]: item["replaces"] for item in made["values"]}[KEYS[kind]] is True
    tree = house(tmp_path, made).get("own-tests")
    assert tree is not None
    base, last = RuleStore(None).trees["baseline"], tree.breakpoints[-1]
    changed = {item.key for item in compare.diff(compare.as_of(base, last), compare.as_of(tree, last))}
    own = {key for key in changed if not key.startswith(("rule_set.", "sources."))}
    assert own
    assert all(key.startswith(KEYS[kind]) for key in own)


def test_friction_that_goes_with_speed_is_a_lack_of_fit() -> None:
    plain, film = (
        fitted("friction", friction(np.random.default_rng(5), 8, 0.15, with_speed=power).text)[0]
        for power in (0.0, -0.2)
    )
    assert not any("speed" in text for text in plain.lack_of_fit)
    assert any("falls with speed" in text for text in film.lack_of_fit)


def test_one_temperature_tells_no_shift_and_the_house_stays() -> None:
    made = relaxation(np.random.default_rng(5), 6, 1.1, 60e3, temperatures=(296.15,))
    amount, energy = fitted("relaxation", made.text)
    assert found(amount).low < 1.1 < found(amount).high
    assert (energy.found, energy.record) == (None, None)
    assert "two temperatures" in energy.stays
    held = baseline().compounds[COMPOUND].relaxation.activation_energy
    assert amount.record is not None
    kept = amount.record["activation_energy"]
    assert (kept["value"], kept["source"], kept["evidence"]) == (held.value, held.source, held.evidence)


def test_relaxation_of_the_house_gives_the_house_again() -> None:
    """Without any scatter the fit must come back to what the records were made from."""
    prony = baseline().compounds[COMPOUND].relaxation
    rows = ["specimen,compound,temperature [degC],reference_time [s],time [s],load_share"]
    for place, T in enumerate((296.15, 296.15, 333.15, 333.15, 373.15, 373.15)):
        series = series_of(prony, 1.3, 75e3 + 10.0 * place)
        whole = relaxed_share(series, T, 60.0)
        rows += [f"R{place},{COMPOUND},{T - 273.15:.6g},60,{t:g},{relaxed_share(series, T, t) / whole:.12g}"
                 for t in (1e3, 1e4, 1e5, 1e6)]  # fmt: skip
    amount, energy = fitted("relaxation", "\n".join(rows))
    assert found(amount).value == pytest.approx(1.3, rel=1e-3)
    assert found(energy).value == pytest.approx(75.0, rel=5e-3)


def test_energizers_need_the_dimensions_of_their_kind(engine: Engine) -> None:
    lines = energizer_load(np.random.default_rng(1)).text.splitlines()
    lines[2] = ",".join([*lines[2].split(",")[:-1], ""])
    lines[5] = lines[5].replace("cantilever_v,", "canted_coil,")
    refused = {
        item["line"]: item["reason"] for item in asked(engine, "\n".join(lines), kind="energizer_load")["refused"]
    }
    assert refused[3].startswith("coverage: missing; accepted: a number, for a cantilever_v")
    assert refused[6].startswith("wire_diameter: missing; accepted: a number, for a canted_coil")


def test_lives_make_no_rule_where_the_rules_have_none(engine: Engine) -> None:
    made = asked(engine, life(np.random.default_rng(3)).text, kind="life")
    titles = [item["title"] for item in made["values"]]
    assert titles[:3] == [
        "Weibull shape of the lives",
        *(f"Weibull scale of the lives of duty {one}" for one in (1, 2)),
    ]
    assert all(item["key"] is None and item["stays"] for item in made["values"][:3])
    assert (made["rule_set"] is None) == (not any(item["replaces"] for item in made["values"]))


def test_a_seal_has_one_row(engine: Engine) -> None:
    text = "specimen,life [h],state\nA,100,ended\nA,200,ended\nB,300,ended\nC,400,lost\n"
    made = asked(engine, text, kind="life")
    assert {item["line"]: item["reason"].partition(":")[0] for item in made["refused"]} == {3: "specimen", 5: "state"}
    assert made["records"]["taken"] == 2


def test_a_further_report_goes_over_the_first(answer: dict[str, Any], tmp_path: Path) -> None:
    store = house(tmp_path, answer)
    text = friction(np.random.default_rng(2)).text
    made = asked(Engine(store, "baseline"), text, kind="friction", rule_set="own-tests", name="own-tests-2")
    assert made["gate"] == {"accepted": True, "faults": []}
    folder = tmp_path / "rules" / "own2"
    folder.mkdir()
    for name, content in made["files"].items():
        (folder / name).write_text(content, encoding="utf-8")
    tree = RuleStore(folder.parent).get("own-tests-2")
    assert tree is not None
    compound = tree.newest().data.compounds[COMPOUND]
    assert [record.evidence for record in (compound.wear.dry, compound.friction.dry) if record] == ["own_test"] * 2


def test_a_set_that_would_extend_itself_is_told(engine: Engine) -> None:
    made = asked(engine, wear(np.random.default_rng(1), truth=6.0e-16).text, name="baseline")
    assert made["verdict"] == "fail"
    assert made["gate"]["faults"]


@pytest.mark.parametrize("lives", [(1.0, 1.1), (1.0, 1e6), (10.0, 10.0001), (3.0, 3.0)])
def test_two_lives_make_a_valid_answer(lives: tuple[float, float], engine: Engine) -> None:
    text = "specimen,life [h],state\n" + "".join(f"{place},{life},ended\n" for place, life in enumerate(lives))
    CalibrationResult.model_validate_json(json.dumps(asked(engine, text, kind="life"), allow_nan=False))


def test_wild_loads_of_an_energizer_make_a_valid_answer(engine: Engine) -> None:
    lines = energizer_load(np.random.default_rng(1)).text.splitlines()
    for row, factor in ((1, 1e-3), (2, 1e3), (5, 30.0), (9, 0.02)):
        cells = lines[row].split(",")
        lines[row] = ",".join([*cells[:5], f"{float(cells[5]) * factor:.6g}", *cells[6:]])
    made = asked(engine, "\n".join(lines), kind="energizer_load")
    CalibrationResult.model_validate_json(json.dumps(made, allow_nan=False))


# ------------------------------------------------------------------------------------------------------ step tests of PV


STEPS = "specimen,compound,medium,contact_pressure [MPa],surface_speed [m/s],temperature [degC],state\n"


def steps(*specimens: tuple[tuple[float, ...], float | None]) -> str:
    """Steps at 1 m/s and room temperature: pressures that were held, and that of the failure if there was one."""
    rows = []
    for place, (held, failed) in enumerate(specimens):
        rows += [(f"P{place}", COMPOUND, "dry", p, 1.0, 23.0, "held") for p in held]
        rows += [] if failed is None else [(f"P{place}", COMPOUND, "dry", failed, 1.0, 23.0, "failed")]
    return STEPS + "".join(",".join(map(str, row)) + "\n" for row in rows)


def test_a_limit_lies_between_the_step_held_and_the_step_failed() -> None:
    """Specimens that fail at the same step: the middle of it, and no scatter is seen."""
    (value,) = fitted("pv_steps", steps(*[((0.2, 0.3, 0.4), 0.5)] * 4))
    got = found(value)
    assert got.value == pytest.approx((0.4 * 0.5) ** 0.5, rel=1e-5)
    assert 0.39 < got.low < 0.42  # within the step little is told
    assert 0.48 < got.high < 0.52
    assert value.scatter is None
    assert value.unit == "MPa.m/s"


def test_fine_steps_agree_with_the_mean_of_the_limits() -> None:
    """Steps of a thousandth tell the limits themselves: middle and interval are those of the normal distribution."""
    limits = np.exp(np.random.default_rng(4).normal(np.log(0.5), 0.2, 12))
    (value,) = fitted("pv_steps", steps(*[((x * 0.9995,), x * 1.0005) for x in limits.tolist()]))
    got, logs, n = found(value), np.log(limits), len(limits)
    assert got.value == pytest.approx(float(np.exp(logs.mean())), rel=1e-4)
    assert value.scatter == pytest.approx(float(logs.std()), rel=1e-3)
    # profile likelihood of a normal mean: n ln(1 + (m/s)^2) = F
    reach = float(logs.std()) * np.sqrt(np.expm1(stats.f.ppf(0.9, 1, n - 1) / n))
    assert np.log(got.high / got.low) == pytest.approx(2.0 * reach, rel=1e-2)


def test_specimens_that_never_fail_pull_the_limit_up() -> None:
    failing: list[tuple[tuple[float, ...], float | None]] = [((0.2, 0.3), 0.4), ((0.3, 0.4), 0.5), ((0.2, 0.25), 0.3)]
    (plain,), (censored,) = (fitted("pv_steps", steps(*failing, *more)) for more in ([], [((0.3, 0.45), None)] * 2))
    assert found(censored).value > found(plain).value
    assert "(2 have not failed)" in censored.method


@pytest.mark.parametrize(
    ("specimens", "why"),
    [
        ([((0.2, 0.3), None)] * 4, "no specimen has failed"),
        ([((), 0.3)] * 4, "no specimen has held a step"),
        ([((0.2, 0.3), 0.4)] * 2, "2 of at least 3 specimens"),
    ],
)
def test_steps_that_bound_nothing_leave_the_house_its_value(specimens: list[Any], why: str, engine: Engine) -> None:
    made = asked(engine, steps(*specimens), kind="pv_steps")
    (value,) = made["values"]
    assert value["found"] is None
    assert why in value["stays"]
    assert made["verdict"] == "not_evaluated"
    assert made["rule_set"] is None


def test_steps_that_no_test_can_give_are_refused_by_row(engine: Engine) -> None:
    text = steps(((0.2, 0.3), 0.4), ((0.3,), 0.2), ((0.2,), 0.4))
    text += f"P0,{COMPOUND},dry,0.5,1,23,held\nP2,ptfe_glass_15,dry,0.6,1,23,failed\nP3,{COMPOUND},wet,0.5,1,23,held\n"
    refused = {item["line"]: item["reason"] for item in asked(engine, text, kind="pv_steps")["refused"]}
    assert sorted(refused) == [6, 9, 10, 11]
    assert refused[6].startswith("contact_pressure: a failure at no more than a step that was held")
    assert refused[9].startswith("state: a step after the specimen has failed")
    assert refused[10].startswith("compound: ")
    assert refused[11] == "medium: not one of the values known here; accepted: one of: dry"


def test_a_limit_that_stands_far_off_is_named_and_one_that_goes_with_speed_is_a_lack_of_fit() -> None:
    usual = [((0.38, 0.4), 0.42), ((0.4, 0.42), 0.44), ((0.36, 0.38), 0.4), ((0.41, 0.43), 0.45), ((0.37, 0.39), 0.41)]
    (value,) = fitted("pv_steps", steps(*usual, ((0.4,), 1.2), ((0.4, 1.6), 1.8)))
    assert [item.specimen for item in value.outliers] == ["P6"]
    rows = []
    for place, v in enumerate((0.2, 0.5, 1.0, 2.0, 4.0, 8.0)):
        limit = 0.4 * v**-0.4
        rows += [
            (f"V{place}", COMPOUND, "dry", share * limit / v, v, 23.0, state)
            for share, state in ((0.95, "held"), (1.05, "failed"))
        ]
    text = STEPS + "".join(",".join(map(str, row)) + "\n" for row in rows)
    (value,) = fitted("pv_steps", text)
    assert any("surface speed, about as its power -0.4" in text for text in value.lack_of_fit)


def test_heat_is_taken_off_as_the_rules_do() -> None:
    """The same limits in a hot room: what the rules take off for heat does not enter the value."""
    compound = baseline().compounds[COMPOUND]
    taken = float(np.interp(373.15, compound.pv_derating.array_x, compound.pv_derating.array_y))
    cold = steps(*[((0.2, 0.3), 0.4), ((0.3, 0.4), 0.5), ((0.2, 0.25), 0.3)])
    hot = cold.replace(",23.0,", ",100.0,")
    a, b = (found(fitted("pv_steps", text)[0]) for text in (cold, hot))
    assert b.value * taken == pytest.approx(a.value, rel=1e-5)


@pytest.mark.parametrize("kind", ["leakage", "leakage_onset"])
def test_the_onset_of_leakage_is_refused_by_name(kind: str, client: TestClient) -> None:
    body = {"kind": kind, "records": "specimen\nA\n", "rig": "Invented rig", "closed_on": "2026-03-01"}
    problem = client.post("/v1/calibrations", json=body, headers={"accept-language": "de"}).json()
    (fault,) = problem["errors"]
    assert (fault["pointer"], fault["code"]) == ("/kind", "no_rule_on_leakage")
    assert fault["accepted"] == "wear, friction, relaxation, energizer_load, life, pv_steps"
