"""A repository of design rules and its pull requests: the gate as CI calls it, each with the outcome that an owner demands.

The repository holds a house set on a set of the company on the baseline, a policy, and past quotes (all invented). Each pull
request is a branch; the gate runs in it against the branch that it would be merged into, as the pages about CI say.
"""

from __future__ import annotations

import json
import re
import subprocess
import xml.etree.ElementTree as ET
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from glandwise_client import _policy, _report
from glandwise_client._cli import main

from tests.client.support import ROOT

BASELINE = ROOT / "service" / "src" / "glandwise" / "rules" / "data" / "baseline"
LIMIT = "designs.capacities.pressure_flexible_lip.limit"
FINE, TRIPPED, UNUSABLE = 0, 1, 2
AHEAD = (datetime.now(tz=UTC).date() + timedelta(days=200)).isoformat()

POLICY = """fail_on = "worse"
operations = ["check_envelope", "estimate_wear", "select_design", "estimate_blank"]

[thresholds]
margin_loss = 0.3
"""


def header(name: str, extends: str, more: str = "") -> str:
    return f'name = "{name}"\nversion = "1"\ntitle = "T"\ndescription = "Invented."\nextends = "{extends}"\n{more}'


def value(number: str, unit: str, evidence: str = "common_practice", day: str = "2026-02-01", note: str = "") -> str:
    source = evidence.replace("_", "-")
    beside = f', note = "{note}"' if note else ""
    return f'{{ value = {number}, unit = "{unit}", source = "{source}", evidence = "{evidence}", valid_from = {day}{beside} }}'


def rated(*values: str) -> str:
    """Write the rated pressure of a plain flexible lip, with a history where there are several values."""
    stated = values[0] if len(values) == 1 else f"[{', '.join(values)}]"
    return f"[capacities.pressure_flexible_lip]\nlimit = {stated}\n"


def quote(name: str, pressure: float, compound: str) -> dict[str, Any]:
    return {
        "case_id": name,
        "duty": {
            "shaft_diameter": {"value": 60.0, "unit": "mm"},
            "motion": {"kind": "rotation", "rotational_speed": {"value": 300.0, "unit": "rpm"}},
            "pressure": {"value": pressure, "unit": "psi"},
            "temperature": {"normal": {"value": 45.0, "unit": "degC"}},
            "fluid": "mineral_oil_gear", "contaminants": "clean",
            "runout": {"value": 0.03, "unit": "mm"}, "offset": {"value": 0.03, "unit": "mm"},
            "shaft": {"hardness": {"value": 62.0, "unit": "HRC"}, "roughness": {"value": 0.2, "unit": "um"},
                      "machining_lead": "none"},
        },
        "design": {"family": "flexible_lip", "compound": compound, "retention": "clamped_flange", "second_lip": "none"},
        "target_life": {"value": 10.0, "unit": "h"}, "pieces": 20,
    }  # fmt: skip


QUOTES = (quote("Q-1", 20.0, "ptfe_carbon_graphite_25"), quote("Q-2", 42.0, "ptfe_carbon_graphite_25"),
          quote("Q-3", 90.0, "ptfe_carbon_graphite_25"), quote("Q-4", 20.0, "ptfe_mineral"))  # fmt: skip
"""Of a lip that is rated for 50 psi: with room, close to the limit, failing already, and of another compound."""


class Outcome(NamedTuple):
    code: int
    report: dict[str, Any]
    junit: ET.Element
    comment: str

    def change(self, key: str) -> dict[str, Any]:
        """Return a changed value."""
        (found,) = [item for item in self.report["changes"] if item["key"] == key]
        return dict(found)


def git(folder: Path, *arguments: str) -> None:
    identity = ["-c", "user.name=Owner", "-c", "user.email=owner@example.invalid"]
    subprocess.run(["git", *identity, *arguments], cwd=folder, check=True, capture_output=True)


def write(folder: Path, **files: str) -> None:
    for name, text in files.items():
        path = folder / f"{name}.toml"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")


class Repository:
    """A repository of rules with its main branch."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir()
        git(folder, "init", "--quiet", "--initial-branch", "main")
        write(folder / "rules" / "corp", rule_set=header("corp", "baseline"), designs=rated(value("50.0", "psi")))
        write(folder / "rules" / "house", rule_set=header("house", "corp"))
        write(folder / "rules", policy=POLICY)
        (folder / "corpus").mkdir()
        (folder / "corpus" / "quotes.ndjson").write_text(
            "".join(json.dumps(one) + "\n" for one in QUOTES), encoding="utf-8"
        )
        git(folder, "add", "--all")
        git(folder, "commit", "--quiet", "--message", "Begin")

    def pull(self, monkeypatch: Any, edit: Callable[[Path], None], *more: str) -> Outcome:
        """Open a pull request and run the gate as the pages about CI do."""
        git(self.folder, "checkout", "--quiet", "-B", "proposal", "main")
        edit(self.folder / "rules")
        git(self.folder, "add", "--all")
        git(self.folder, "commit", "--quiet", "--allow-empty", "--message", "Propose")
        before = self.folder / "before"
        git(self.folder, "worktree", "add", "--force", "--detach", "before", "main")
        try:
            monkeypatch.chdir(self.folder)
            monkeypatch.setenv("GLANDWISE_RULES", "before/rules")
            monkeypatch.delenv("GLANDWISE_URL", raising=False)
            (self.folder / "reports").mkdir(exist_ok=True)
            code = main(["rules", "compare", "--in-process", "--base", "house", "--candidate", "rules/house",
                         "--cases", "corpus/quotes.ndjson", "--policy", "before/rules/policy.toml",
                         "--junit", "reports/compare.xml", "--html", "reports/compare.html",
                         "--markdown", "reports/compare.md", "--comment", "reports/comment.md",
                         "--json", "reports/compare.json", "--out", "reports/differences.parquet", *more])  # fmt: skip
        finally:
            git(self.folder, "worktree", "remove", "--force", str(before))
        reports = self.folder / "reports"
        return Outcome(
            code,
            json.loads((reports / "compare.json").read_text(encoding="utf-8")),
            ET.parse(reports / "compare.xml").getroot(),
            (reports / "comment.md").read_text(encoding="utf-8"),
        )

    def commit(self, edit: Callable[[Path], None]) -> None:
        """Change the main branch."""
        git(self.folder, "checkout", "--quiet", "main")
        edit(self.folder / "rules")
        git(self.folder, "add", "--all")
        git(self.folder, "commit", "--quiet", "--message", "Change")


@pytest.fixture
def repository(tmp_path: Path) -> Repository:
    return Repository(tmp_path / "repository")


Pull = Callable[..., Outcome]


@pytest.fixture
def pull(repository: Repository, monkeypatch: Any) -> Pull:
    return lambda edit, *more: repository.pull(monkeypatch, edit, *more)


def house(**files: str) -> Callable[[Path], None]:
    return lambda rules: write(rules / "house", **files)


# ---------------------------------------------------------------------------------------------------- ten pull requests


def test_harmless_a_remark_passes(pull: Pull) -> None:
    found = pull(house(designs=rated(value("50.0", "psi", note="Agreed with the test field."))))
    assert found.code == FINE
    assert found.report["counts"]["same"] == len(QUOTES)
    change = found.change(LIMIT)
    assert (change["fields"], change["exercised"], change["cases"]) == (["note"], False, 0)
    assert found.report["transitions"] == []
    assert found.junit.find(".//testcase") is None


def test_harmful_a_lower_rating_trips_for_the_quote_that_turns(pull: Pull) -> None:
    found = pull(house(designs=rated(value("40.0", "psi"))))
    assert found.code == TRIPPED
    assert found.report["gate"]["reason"] == "1 case worse"  # Q-3 failed before, Q-1 and Q-4 lose little margin
    (worst,) = found.report["worst"]
    assert worst["case_id"] == "Q-2"
    pressure = next(item for item in worst["criteria"] if item["id"] == "pressure")
    assert (pressure["status_after"], pressure["alone"], pressure["caused_by"]) == ("fail", [LIMIT], [LIMIT])
    assert {case.get("name") for case in found.junit.iter("testcase")} == {"Q-2"}
    first, *_ = found.report["transitions"]
    assert (first["operation"], first["kind"], first["after"], first["cases"]) == (
        "check_envelope",
        "verdict",
        "fail",
        1,
    )
    assert "Q-2" in found.comment
    assert LIMIT in found.comment


def test_chained_a_change_of_the_parent_trips_in_the_set_that_stands_on_it(pull: Pull) -> None:
    found = pull(lambda rules: write(rules / "corp", designs=rated(value("40.0", "psi"))))
    assert found.code == TRIPPED
    assert found.report["worst"][0]["case_id"] == "Q-2"


def test_dated_a_change_ahead_trips_today_and_says_when(pull: Pull) -> None:
    found = pull(house(designs=rated(value("50.0", "psi"), value("40.0", "psi", day=AHEAD))))
    assert found.code == TRIPPED
    (worst,) = found.report["worst"]
    assert (worst["case_id"], worst["verdict_after"], worst["as_of"]) == ("Q-2", "fail", AHEAD)
    assert found.change(LIMIT)["as_of"] in (AHEAD, found.report["dates"][0])
    assert AHEAD in found.comment


HALF = f"""
[capacities.half_again]
criterion = "pressure"
title = "invented"
when = {{ family = "flexible_lip" }}
factor = {value("0.5", "1")}
"""


def test_cancelling_two_changes_that_cancel_out_pass_and_both_are_counted(pull: Pull) -> None:
    found = pull(house(designs=rated(value("100.0", "psi")) + HALF))
    assert found.code == FINE
    assert found.report["by_operation"]["check_envelope"]["same"] == len(QUOTES)
    limit, half = found.change(LIMIT), found.change("designs.capacities.half_again")
    assert limit["exercised"]
    assert half["exercised"]
    # alone, each turns or moves all four
    assert limit["cases"] == half["cases"] == len(QUOTES)
    strict = pull(house(designs=rated(value("100.0", "psi"))), "--fail-on", "any")
    assert strict.code == TRIPPED


def test_units_only_is_no_change_of_any_answer(pull: Pull) -> None:
    found = pull(house(designs=rated(value("0.344737864658", "MPa"))))
    assert found.code == FINE
    assert found.report["counts"]["same"] == len(QUOTES)
    assert found.change(LIMIT)["fields"] == ["unit", "value"]
    assert found.change(LIMIT)["cases"] == 0


def test_evidence_only_weaker_evidence_trips_and_stronger_does_not(pull: Pull, repository: Repository) -> None:
    found = pull(house(designs=rated(value("50.0", "psi", "house_estimate"))))
    assert found.code == TRIPPED
    assert found.report["gate"]["reason"] == "1 value on weaker evidence"
    assert "common practice -> house estimate" in found.comment
    repository.commit(lambda rules: write(rules / "corp", designs=rated(value("50.0", "psi", "house_estimate"))))
    assert pull(house(designs=rated(value("50.0", "psi")))).code == FINE


def test_deleted_a_compound_that_is_gone_trips_for_the_quotes_that_name_it(pull: Pull) -> None:
    found = pull(house(rule_set=header("house", "corp", 'remove = ["compounds.ptfe_mineral"]\n')))
    assert found.code == TRIPPED
    assert found.report["gate"]["reason"] == "1 case no longer judged"
    (worst,) = found.report["worst"]
    assert (worst["case_id"], worst["alone"], worst["caused_by"]) == (
        "Q-4", ["compounds.ptfe_mineral"], ["compounds.ptfe_mineral"],
    )  # fmt: skip
    assert found.change("compounds.ptfe_mineral")["cases"] == 1
    assert len(list(found.junit.iter("error"))) == 1


def copy_of(name: str, new: str, **replaced: str) -> str:
    """Return the tables of a compound of the baseline under another name, with some lines of its own."""
    text = (BASELINE / "compounds.toml").read_text(encoding="utf-8")
    tables = "".join(re.findall(rf"^\[{name}[\].].*?(?=^\[(?!{name}\.)|\Z)", text, re.MULTILINE | re.DOTALL)[:1])
    for key, line in replaced.items():
        tables, count = re.subn(rf"^{key} = .*$", f"{key} = {line}", tables, count=1, flags=re.MULTILINE)
        assert count == 1
    return tables.replace(f"[{name}", f"[{new}")


def test_new_compound_passes_while_nothing_else_is_proposed(pull: Pull) -> None:
    softer = copy_of("ptfe_mineral", "ptfe_house", shaft_hardness_min=value("68", "HRC", day="2026-01-01"))
    found = pull(house(compounds=softer), "--fail-on", "design")
    assert found.code == FINE
    assert found.change("compounds.ptfe_house")["kind"] == "added"
    assert found.report["counts"]["same"] == len(QUOTES)


def test_new_compound_that_is_proposed_trips_the_gate_of_designs(pull: Pull) -> None:
    """The best compound of the selection under a name that sorts first, a little better at each of its limits.

    For one quote only: what each of the changes does to a choice among all designs is looked for.
    """
    twin = copy_of("ptfe_carbon_graphite_25", "ptfe_house", temperature_max=value("255", "degC", day="2026-01-01"))
    harder = "".join(
        f"[{name}]\nshaft_hardness_min = {value('68', 'HRC')}\n" for name in names() if name != "ptfe_unfilled"
    )

    def edit(rules: Path) -> None:
        house(compounds=twin + harder)(rules)
        (rules.parent / "corpus" / "quotes.ndjson").write_text(json.dumps(QUOTES[0]), encoding="utf-8")

    found = pull(edit, "--fail-on", "design")
    assert found.code == TRIPPED
    assert "another proposed design" in found.report["gate"]["reason"] or "no longer" in found.report["gate"]["reason"]
    assert any(item["kind"] == "design" for item in found.report["transitions"])


def names() -> list[str]:
    text = (BASELINE / "compounds.toml").read_text(encoding="utf-8")
    return re.findall(r"^\[(\w+)\]$", text, re.MULTILINE)


def test_renamed_a_compound_under_another_name_trips_for_the_quotes_that_name_it(pull: Pull) -> None:
    found = pull(
        house(
            rule_set=header("house", "corp", 'remove = ["compounds.ptfe_mineral"]\n'),
            compounds=copy_of("ptfe_mineral", "ptfe_calcium"),
        )
    )
    assert found.code == TRIPPED
    assert {item["key"]: item["kind"] for item in found.report["changes"]} == {
        "compounds.ptfe_mineral": "removed", "compounds.ptfe_calcium": "added",
    }  # fmt: skip
    (worst,) = found.report["worst"]
    assert (worst["case_id"], worst["alone"]) == ("Q-4", ["compounds.ptfe_mineral"])


# ------------------------------------------------------------------------------------------------------------- waivers


def waiver(until: str, subject: str) -> str:
    return f'\n[[waivers]]\n{subject}\nuntil = {until}\napproved_by = "Owner of the standard"\nreason = "Quotes are withdrawn."\n'


@pytest.mark.parametrize("subject", [f'change = "{LIMIT}"', 'case = "Q-2"'])
def test_a_waiver_lets_through_until_its_day_and_is_printed(
    subject: str, pull: Pull, repository: Repository, capsys: Any
) -> None:
    repository.commit(lambda rules: write(rules, policy=POLICY + waiver(AHEAD, subject)))
    lower = house(designs=rated(value("40.0", "psi")))
    found = pull(lower)
    assert found.code == FINE
    assert found.report["waived"] == 1
    assert "Owner of the standard" in capsys.readouterr().out
    assert "Quotes are withdrawn." in found.comment
    assert len(list(found.junit.iter("skipped"))) == 1
    repository.commit(lambda rules: write(rules, policy=POLICY + waiver("2026-01-31", subject)))
    found = pull(lower)
    assert found.code == TRIPPED
    assert found.report["waivers"][0]["expired"]
    assert "expired on 2026-01-31" in capsys.readouterr().out


def test_a_waiver_of_a_change_covers_no_other(pull: Pull, repository: Repository) -> None:
    other = 'change = "compounds.ptfe_mineral.density"'
    repository.commit(lambda rules: write(rules, policy=BY_ENVELOPE + waiver(AHEAD, other)))
    assert pull(house(designs=rated(value("40.0", "psi")))).code == TRIPPED


# -------------------------------------------------------------------------------------------------------------- policy


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("fail_on = 'sometimes'", "fail_on: .*accepted: one of verdict, design, worse, any, none"),
        ("operations = ['guess']", "operations: 'guess' is no operation that is compared; accepted: check_envelope"),
        ("operations = []", "operations: .*accepted: a list of check_envelope"),
        ("[thresholds]\nmargin_loss = -0.1", "thresholds.margin_loss: .*accepted: a share from 0 to 10"),
        ("[thresholds]\nmargin_loss = '10 %'", "thresholds.margin_loss: .*accepted: a share from 0 to 10"),
        ("[thresholds]\nlife_loss = 0.1", "thresholds.life_loss: there is no such entry; accepted: margin_loss, life_change"),
        ("colour = 'red'", "colour: there is no such entry; accepted: fail_on, operations, thresholds, waivers"),
        (waiver("'soon'", 'case = "Q-1"'), "waivers.1.until: .*accepted: a date as in 2027-01-31"),
        (waiver(AHEAD, 'case = "Q-1"\nchange = "x"'), "waivers.1: .*a waiver names either a case or a change"),
        (waiver(AHEAD, ""), "a waiver names either a case or a change"),
        (waiver(AHEAD, 'case = "Q-1"').replace('reason = "Quotes are withdrawn."', ""), "waivers.1.reason: is missing"),
        (waiver(AHEAD, 'case = "Q-1"').replace("Owner of the standard", "  "), "waivers.1.approved_by: "),
        ("fail_on = ", "policy.toml: "),
        ("require_approval = 'yes'", "require_approval: .*accepted: true or false"),
        ("[versions]\nversion = 'never'", "versions.version: .*accepted: fail, warn or ignore"),
        ("[versions]\nnumber = 1", "versions.number: there is no such entry; accepted: version, steps, changelog"),
        ("[reviews]\nhouse_estimate_days = -1", "reviews.house_estimate_days: .*accepted: a whole number of days"),
        ("[reviews]\noverdue = true", "reviews.overdue: .*accepted: fail, warn or ignore"),
    ],
)  # fmt: skip
def test_a_policy_that_cannot_be_meant_is_refused(text: str, said: str, tmp_path: Path, capsys: Any) -> None:
    cases, policy = tmp_path / "quotes.ndjson", tmp_path / "policy.toml"
    cases.write_text(json.dumps(QUOTES[0]), encoding="utf-8")
    policy.write_text(text, encoding="utf-8")
    code = main(["rules", "compare", "--in-process", "--base", "baseline", "--candidate", "baseline",
                 "--cases", str(cases), "--policy", str(policy)])  # fmt: skip
    printed = capsys.readouterr().err
    assert code == UNUSABLE
    assert re.search(said, printed, re.DOTALL), printed
    assert "--policy" in printed


def test_what_the_policy_knows_is_what_the_service_compares() -> None:
    from glandwise.contract.comparison import ComparisonThresholds
    from glandwise.review.answers import OPERATIONS

    assert OPERATIONS == _policy.OPERATIONS
    assert tuple(_report.OPERATIONS) == OPERATIONS
    assert ComparisonThresholds().model_dump() == _policy.Thresholds().model_dump()


# ------------------------------------------------------------------------------------------------- who answers for rules


def unchanged(rules: Path) -> None:
    """Leave the rules as they are."""


BY_ENVELOPE = POLICY.replace('"check_envelope", "estimate_wear", "select_design", "estimate_blank"', '"check_envelope"')
"""For what does not hang on how the quotes are judged."""
APPROVED = 'approved_by = { who = "Owner of the standard", on = 2026-03-01, version = "1.1" }\n'
SLIGHTLY = rated(value("49.0", "psi"))
"""A change that turns no quote of the corpus."""


def raised(version: str = "1.1", more: str = "") -> str:
    return header("house", "corp", more).replace('version = "1"', f'version = "{version}"')


def test_a_policy_can_demand_an_approval(pull: Pull, repository: Repository, capsys: Any) -> None:
    assert pull(house(designs=SLIGHTLY)).code == FINE
    repository.commit(lambda rules: write(rules, policy="require_approval = true\n" + BY_ENVELOPE))
    found = pull(house(designs=SLIGHTLY))
    assert found.code == TRIPPED
    said = "not approved: house 1: nobody is named in approved_by, not approved: corp 1: nobody is named in approved_by"
    assert found.report["gate"]["reason"] == said
    assert said in capsys.readouterr().out
    assert "FAIL not approved: house 1" in found.comment
    assert {case.get("name") for case in found.junit.iter("testcase")} == {"approval house 1", "approval corp 1"}
    # of another version it is none
    corp = header("corp", "baseline", APPROVED.replace("1.1", "1"))
    repository.commit(lambda rules: write(rules / "corp", rule_set=corp))
    found = pull(house(designs=SLIGHTLY, rule_set=raised("1.2", APPROVED)))
    assert (found.code, found.report["gate"]["reason"]) == (
        TRIPPED, "not approved: house 1.2: the approval is of version 1.1",
    )  # fmt: skip
    found = pull(house(designs=SLIGHTLY, rule_set=raised("1.1", APPROVED)))
    assert found.code == FINE
    told = "approved by Owner of the standard on 2026-03-01"
    assert {item.get("value") for item in found.junit.iter("property") if "approval" in str(item.get("name"))} == {told}
    for text in (
        found.comment, *((repository.folder / "reports" / name).read_text(encoding="utf-8") for name in ("compare.html", "compare.md"))
    ):  # fmt: skip
        assert told in text


@pytest.mark.parametrize(
    ("version", "level", "code"),
    [("1", "fail", TRIPPED), ("1", "warn", FINE), ("1.0.1", "fail", TRIPPED), ("1.1", "fail", FINE)],
)
def test_a_changed_value_asks_for_a_version(
    version: str, level: str, code: int, pull: Pull, repository: Repository
) -> None:
    repository.commit(lambda rules: write(rules, policy=f'{BY_ENVELOPE}[versions]\nversion = "{level}"\n'))
    found = pull(house(designs=SLIGHTLY, rule_set=raised(version)))
    assert found.code == code
    words = {"1": "it is still 1", "1.0.1": "1 -> 1.0.1 is a new patch one"}.get(version)
    faults = [item["said"] for item in found.report["governance"]["faults"]]
    assert len(faults) == (words is not None)
    assert all(words in said and "asks for a new minor version" in said for said in faults if words)
    assert ("FAIL" in found.comment) == (code == TRIPPED)
    assert ("CARE" in found.comment) == (words is not None and code == FINE)


def test_any_new_version_will_do_where_the_policy_says_so(pull: Pull, repository: Repository) -> None:
    policy = f'{BY_ENVELOPE}[versions]\nversion = "fail"\nsteps = false\n'
    repository.commit(lambda rules: write(rules, policy=policy))
    assert pull(house(designs=SLIGHTLY, rule_set=raised("1.0.1"))).code == FINE
    assert pull(house(designs=SLIGHTLY)).code == TRIPPED


ENTRY = "# Changes\n\n## 2026-11-20, version 1.1\n\n- What: a rating.\n- Why: tests (invented).\n"


@pytest.mark.parametrize(
    ("changelog", "said"),
    [
        (None, "there is no rules/house/CHANGELOG.md"),
        ("# Changes\n", "has no entry; accepted: ## 2026-11-25, version 1.1"),
        (ENTRY.replace("1.1", "1.0"), "is of version 1.0, the set is of 1.1"),
        (ENTRY.replace("- Why: tests (invented).\n", ""), "does not say: Why"),
        (ENTRY + "\n## 2026-01-20, version 1\n\n- What: a first set.\n", None),
    ],
)
def test_a_changed_value_asks_for_an_entry_in_the_changelog(
    changelog: str | None, said: str | None, pull: Pull, repository: Repository
) -> None:
    repository.commit(lambda rules: write(rules, policy=f'{BY_ENVELOPE}[versions]\nchangelog = "fail"\n'))

    def edit(rules: Path) -> None:
        write(rules / "house", designs=SLIGHTLY, rule_set=raised())
        if changelog is not None:
            (rules / "house" / "CHANGELOG.md").write_text(changelog, encoding="utf-8")

    found = pull(edit)
    assert found.code == (FINE if said is None else TRIPPED)
    assert (said or "") in found.report["gate"]["reason"]
    assert ("no entry in the changelog: house 1.1" in found.report["gate"]["reason"]) == (said is not None)


def test_an_estimate_past_its_day_of_review_is_told_and_can_fail(pull: Pull, repository: Repository) -> None:
    old = rated(value("50.0", "psi", "house_estimate", day="2026-01-01"))
    repository.commit(lambda rules: write(rules / "corp", designs=old))
    policies = {
        level: f'{BY_ENVELOPE}[reviews]\nhouse_estimate_days = 5\noverdue = "{level}"\n'
        for level in ("fail", "warn", "ignore")
    }
    codes = {}
    for level, policy in policies.items():
        repository.commit(lambda rules, text=policy: write(rules, policy=text))
        found = pull(unchanged)
        codes[level] = found.code
        assert found.report["gate"]["reason"] == ("1 review overdue" if level == "fail" else "")
        assert (f"review overdue: {LIMIT}: house estimate of corp, due on 2026-01-06" in found.comment) == (
            level != "ignore"
        )
        assert found.report["governance"]["overdue"] == 1
        assert [case.get("name") for case in found.junit.iter("testcase")] == (
            [f"review {LIMIT}"] if level == "fail" else []
        )
    assert codes == {"fail": TRIPPED, "warn": FINE, "ignore": FINE}
    # a waiver of the value lets it through
    repository.commit(lambda rules: write(rules, policy=policies["fail"] + waiver(AHEAD, f'change = "{LIMIT}"')))
    assert pull(unchanged).code == FINE
    repository.commit(lambda rules: write(rules, policy=policies["fail"]))
    assert pull(unchanged, "--fail-on", "none").code == FINE


def test_weaker_evidence_is_a_test_case_of_its_own(pull: Pull) -> None:
    found = pull(house(designs=rated(value("50.0", "psi", "house_estimate"))))
    assert found.code == TRIPPED
    (case,) = found.junit.iter("testcase")
    assert case.get("name") == LIMIT


def test_a_review_lists_what_is_due_and_holds_the_policy(repository: Repository, monkeypatch: Any, capsys: Any) -> None:
    def told() -> str:
        out: str = capsys.readouterr().out
        return out

    monkeypatch.chdir(repository.folder)
    monkeypatch.setenv("GLANDWISE_RULES", "rules")
    soon = (datetime.now(tz=UTC).date() + timedelta(days=30)).isoformat()
    stated = rated(value("50.0", "psi").replace(" }", f", review_by = {soon} }}"))
    write(repository.folder / "rules" / "corp", designs=stated)
    command = ["rules", "review", "--rule-set", "house"]
    files = ["--json", "found.json", "--markdown", "found.md", "--html", "found.html", "--junit", "found.xml"]
    assert main([*command, *files]) == FINE
    out = told()
    assert f"30 {LIMIT} (common practice of corp, by {soon})" in out
    assert "house 1: not approved" in out
    for name in ("found.md", "found.html"):
        assert LIMIT in (repository.folder / name).read_text(encoding="utf-8")
    assert list(ET.parse(repository.folder / "found.xml").getroot().iter("testcase")) == []
    assert main([*command, "--within", "29"]) == FINE
    assert LIMIT not in told()
    demands = repository.folder / "demands.toml"
    demands.write_text('require_approval = true\n[versions]\nchangelog = "fail"\n', encoding="utf-8")
    proposed = ["--candidate", "rules/proposed", "--policy", str(demands), *files]
    write(repository.folder / "rules" / "proposed", rule_set=header("house", "corp"), designs=SLIGHTLY)
    monkeypatch.setenv("GLANDWISE_RULES", "before")
    write(repository.folder / "before" / "house", rule_set=header("house", "corp"))
    write(repository.folder / "before" / "corp", rule_set=header("corp", "baseline"), designs=stated)
    (repository.folder / "rules" / "house" / "rule_set.toml").unlink()
    assert main([*command, *proposed]) == TRIPPED
    out = told()
    assert "The policy is not kept: not approved: house 1: nobody is named" in out
    assert "no entry in the changelog: house 1: there is no rules/proposed/CHANGELOG.md" in out
    assert {case.get("name") for case in ET.parse(repository.folder / "found.xml").getroot().iter("testcase")} == {
        "approval house 1", "approval corp 1", "changelog house 1",
    }  # fmt: skip
    assert main([*command, "--days", "-1"]) == UNUSABLE


def test_a_difference_is_a_page(repository: Repository, monkeypatch: Any, capsys: Any) -> None:
    monkeypatch.chdir(repository.folder)
    monkeypatch.setenv("GLANDWISE_RULES", "rules")
    proposed = repository.folder / "proposed"
    write(proposed / "corp", rule_set=header("corp", "baseline"), designs=rated(value("50.0", "psi")))
    report = '[report-7]\ntext = "Test laboratory, report 7 (invented)"\nread = "read"\n'
    better = value("48.0", "psi", "published").replace('source = "published"', 'source = "report-7"')
    write(
        proposed / "house", rule_set=raised("1.1", 'remove = ["compounds.ptfe_mineral"]\n'), sources=report,
        designs=rated(better) + f"[capacities.pressure_flexible_lip_band]\nlimit = {value('110', 'psi', 'house_estimate')}\n",
    )  # fmt: skip
    files = ["--json", "found.json", "--markdown", "found.md", "--html", "found.html"]
    assert main(["rules", "diff", "--base", "house", "--candidate", str(proposed / "house"), *files]) == FINE
    out = capsys.readouterr().out
    assert f"changed {LIMIT}: 50 psi -> 48 psi (common practice -> published, stronger)" in out
    assert "removed compounds.ptfe_mineral" in out
    assert "asks for a new major version; 1 -> 1.1 is a new minor one" in out
    page = (repository.folder / "found.html").read_text(encoding="utf-8")
    assert (
        page.index(">Compounds<")
        < page.index(">Designs<")
        < page.index(">Values by evidence<")
        < page.index(">Values by source<")
    )
    assert "common practice -&gt; published (stronger)" in page
    assert "common practice -&gt; house estimate (weaker)" in page
    assert "common-practice -&gt; report-7" in page
    assert "report 7 (invented)" in page
    assert "http" not in page
    ET.fromstring(page.partition("<body>")[2].join(("<body>", "")).replace("</html>", ""))
    assert main(["rules", "diff", "--base", "house", "--candidate", "house"]) == FINE
    assert "No value differs." in capsys.readouterr().out
    assert main(["rules", "diff", "--base", "house", "--candidate", "nobody"]) == UNUSABLE


# ------------------------------------------------------------------------------------------------------------- reports


def test_reports_begin_with_what_turned_and_cut_nothing(pull: Pull, repository: Repository) -> None:
    curve = copy_of("ptfe_mineral", "ptfe_mineral")
    steeper = re.search(r"^yield_strength = .*$", curve, re.MULTILINE)
    assert steeper is not None
    line = steeper[0]
    ys = re.search(r"y = \[([^\]]*)\]", line)
    assert ys is not None
    numbers = ys[1].split(", ")
    numbers[6] = f"{float(numbers[6]) * 0.9:.4g}"
    compounds = f"[ptfe_mineral]\n{line.replace(ys[1], ', '.join(numbers))}\n"
    found = pull(house(designs=rated(value("40.0", "psi")), compounds=compounds))
    assert found.code == TRIPPED
    reports = repository.folder / "reports"
    for name in ("compare.html", "compare.md"):
        text = (reports / name).read_text(encoding="utf-8")
        assert (
            text.index("What turned")
            < text.index("Worst cases")
            < text.index("Changed values")
            < text.index("By operation")
        )
        assert "..." not in text
        assert "…" not in text
        assert f"at 23: {ys[1].split(', ')[6]} " in text  # of a table, the point that differs
    page = (reports / "compare.html").read_text(encoding="utf-8")
    assert page.startswith("<!doctype html>")
    assert "<script" not in page
    assert "http" not in page
    ET.fromstring(page.partition("<body>")[2].join(("<body>", "")).replace("</html>", ""))
    assert len(found.comment.splitlines()) < 60
    worst = page.partition("Worst cases")[2].partition("Changed values")[0]
    assert "by " + LIMIT in worst


JUNIT_CASE = {"name", "classname", "time"}


def test_junit_holds_to_what_readers_ask_for(pull: Pull) -> None:
    """The attributes and the order that the schema in common use asks for."""
    found = pull(
        house(
            designs=rated(value("40.0", "psi")),
            rule_set=header("house", "corp", 'remove = ["compounds.ptfe_mineral"]\n'),
        )
    )
    assert found.junit.tag == "testsuites"
    (suite,) = found.junit
    assert {"name", "timestamp", "hostname", "tests", "failures", "errors", "time", "id", "package"} <= set(
        suite.keys()
    )
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d", str(suite.get("timestamp")))
    tags = [child.tag for child in suite]
    assert tags == ["properties", *["testcase"] * (len(tags) - 3), "system-out", "system-err"]
    cases = list(suite.iter("testcase"))
    assert {case.get("name") for case in cases} == {"Q-2", "Q-4"}
    for case in cases:
        assert set(case.keys()) == JUNIT_CASE
        (result,) = case
        assert result.tag in ("failure", "error")
        assert {"type", "message"} <= set(result.keys())
    assert [suite.get(name) for name in ("tests", "failures", "errors", "skipped")] == ["2", "1", "1", "0"]


def test_junit_does_not_grow_with_what_does_not_trip(tmp_path: Path) -> None:
    """Two hundred thousand cases whose margins shift are one line of the summary."""
    row = {
        "case_id": "Q", "outcome": "shifted", "verdict_before": "pass", "verdict_after": "pass", "as_of": "2026-01-01",
        "fault": None, "criteria": [], "answers": [], "trips": [], "alone": [], "caused_by": [], "jointly": [],
    }  # fmt: skip
    bad = {**row, "outcome": "worse", "verdict_after": "fail", "trips": ["verdict", "design", "worse"]}
    path = tmp_path / "junit.xml"
    held = _report.Cases(path)
    held.add([row] * 200_000)
    held.add([bad] * 2000)
    held.write(
        {
            "gate": {"fail_on": "worse", "tripped": True, "reason": "2000 cases worse"},
            "summary": "s",
            "waived": 0,
            "weaker": [],
            "governance": None,
        }
    )
    assert path.stat().st_size < 300_000
    suite = ET.parse(path).getroot()[0]
    assert len(list(suite.iter("testcase"))) == _report.LISTED + 1
    assert "1500 more cases trip the gate" in path.read_text(encoding="utf-8")


def test_rules_are_kept_by_their_digest(pull: Pull, repository: Repository, monkeypatch: Any, capsys: Any) -> None:
    """The archive that CI writes whenever rules are merged."""
    monkeypatch.chdir(repository.folder)
    monkeypatch.setenv("GLANDWISE_RULES", "rules")
    assert main(["rules", "archive", "--to", "archive", "--rule-set", "house"]) == FINE
    (path,) = (repository.folder / "archive").iterdir()
    assert path.stem in capsys.readouterr().out
    assert main(["rules", "archive", "--to", "archive"]) == FINE
    assert len(list((repository.folder / "archive").iterdir())) == 3  # the baseline and the set of the company as well
    assert main(["rules", "archive", "--to", "archive", "--rule-set", "nobody"]) == UNUSABLE
    assert "no rule set 'nobody'" in capsys.readouterr().err


def test_what_decides_the_quotes_is_told(repository: Repository, monkeypatch: Any, capsys: Any) -> None:
    """As an owner asks whether the quotes are fit for a gate."""
    monkeypatch.chdir(repository.folder)
    monkeypatch.setenv("GLANDWISE_RULES", "rules")
    asked = ["rules", "sensitivity", "corpus/quotes.ndjson", "--rule-set", "house", "--only", LIMIT, "--step", "20"]
    written = ["--json", "found.json", "--markdown", "found.md", "--html", "found.html", "--suggest", "more.csv"]
    assert main([*asked, *written, "--suggestions", "3"]) == FINE
    said = capsys.readouterr().out
    found = json.loads((repository.folder / "found.json").read_text(encoding="utf-8"))
    (value,) = found["values"]
    assert (value["key"], value["turned"], value["turned_cases"]) == (LIMIT, 1, ["Q-2"])
    assert value["read"] == len(QUOTES)
    page = (repository.folder / "found.md").read_text(encoding="utf-8")
    for text in (said, page, (repository.folder / "found.html").read_text(encoding="utf-8")):
        assert found["summary"] in text
        assert LIMIT in text
    assert len(found["suggestions"]) == 3
    # what is suggested is a corpus
    assert main([*asked, "corpus/quotes.ndjson", "more.csv", "--suggestions", "0", "--json", "again.json"]) == FINE
    again = json.loads((repository.folder / "again.json").read_text(encoding="utf-8"))
    assert again["cases"] == 2 * len(QUOTES) + 3
    assert again["refused"] == 0
    assert again["whole"] is None
    # beyond the envelope: what a quote is told of its blank, and how long the seal lives
    beyond = ["--only", "blank.face_allowance", "--operation", "estimate_blank", "--operation", "estimate_wear"]
    assert (
        main([*asked, *beyond, "--sample", "2", "--evidence", "house_estimate", *written, "--suggestions", "0"]) == FINE
    )
    said = capsys.readouterr().out
    whole = json.loads((repository.folder / "found.json").read_text(encoding="utf-8"))["whole"]
    assert (whole["cases"], whole["of_cases"], whole["case_ids"]) == (2, len(QUOTES), ["Q-1", "Q-4"])
    assert whole["operations"] == ["estimate_wear", "estimate_blank"]
    assert {value["key"] for value in whole["values"]} == {"blank.face_allowance"}
    page = (repository.folder / "found.md").read_text(encoding="utf-8")
    for text in (said, page, (repository.folder / "found.html").read_text(encoding="utf-8")):
        assert whole["summary"] in text
        assert LIMIT in text
    for bad, words in (
        (["--operation", "nobody"], "--operation nobody: no operation that is compared; accepted: check_envelope, "),
        (["--sample", "3"], "--sample: is for whole answers"),
        (["--operation", "check_envelope", "--workers", "2"], "--workers: is for whole answers"),
        (["--operation", "estimate_wear", "--evidence", "rumour"], "--evidence rumour: no level of evidence"),
        (["--only", "nobody"], "no number of the rule set stands under this key"),
        (["--step", "0"], "is not a number from 0.01 to 20, in per cent"),
        (["--suggest", "more.json"], "accepted: .csv"),
        (["--rule-set", "nobody"], "no rule set 'nobody'"),
        (["nobody.csv"], "nobody.csv"),
    ):
        assert main([*asked, *bad]) == UNUSABLE
        assert words in capsys.readouterr().err
