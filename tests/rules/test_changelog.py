"""The changelog of the rule data: its format, and that the newest entry is that of the data."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest
from glandwise.rules import changelog
from glandwise.rules.loader import RuleStore, RuleTree

HASHES = ("a" * 64, "b" * 64)
CRITERIA = frozenset({"pressure", "runout"})


def entry(
    day: str = "2026-11-25", version: str = "2026.1", criteria: str = "pressure, runout", digest: str = HASHES[0]
) -> str:
    head = f"## {day}, version {version}\n\n- What: the density\n  of one compound.\n- Why: weighed.\n"
    return f"{head}- Criteria: {criteria}\n- Digest: {digest}\n\n"


@pytest.fixture(scope="module")
def rules() -> RuleTree:
    return RuleStore().trees["baseline"]


def committed() -> str:
    return files("glandwise.rules").joinpath("CHANGELOG.md").read_text(encoding="utf-8")


def test_the_newest_entry_is_that_of_the_data(rules: RuleTree) -> None:
    fault = changelog.fault(committed(), rules)
    assert fault is None, fault


def test_only_the_newest_entry_can_be_unfinished(rules: RuleTree) -> None:
    entries = changelog.parse(committed(), rules.criteria)
    assert all(item.digest != "pending" for item in entries[1:])


def test_an_entry_is_read() -> None:
    text = "# Title\n\n" + entry() + entry("2026-01-01", criteria="all", digest=HASHES[1])
    newest, oldest = changelog.parse(text, CRITERIA)
    assert (newest.day.isoformat(), newest.version) == ("2026-11-25", "2026.1")
    assert (newest.what, newest.why) == ("the density of one compound.", "weighed.")
    assert (newest.criteria, newest.digest) == (("pressure", "runout"), HASHES[0])
    assert oldest.criteria == ("all",)


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("# Title\n", "CHANGELOG.md:2: there is no entry"),
        ("## yesterday\n", "CHANGELOG.md:1: '## yesterday' is not the heading"),
        (entry("2026-13-01"), "2026-13-01 is not a date"),
        (entry().replace("- Why: weighed.\n", ""), "the entry does not say: Why"),
        (entry(criteria="colour"), "'colour' is not a criterion; accepted: all, none, or of pressure, runout"),
        (entry(criteria="all, runout"), "'all' is not a criterion"),
        (entry(digest="abc"), "the digest is none"),
        ("# T\n\n" + entry() + entry("2026-12-01", digest=HASHES[1]), "CHANGELOG.md:11: the entry is newer"),
        (entry() + entry(), "the digest is that of another entry"),
    ],
)
def test_a_changelog_out_of_form_is_refused(text: str, fault: str) -> None:
    with pytest.raises(changelog.ChangelogError) as caught:
        changelog.parse(text, CRITERIA)
    assert fault in str(caught.value)


def test_data_without_an_entry_are_told_what_to_do(rules: RuleTree) -> None:
    text = entry(criteria="all")
    said = changelog.fault(text, rules)
    assert said is not None
    assert "python -m glandwise.rules.changelog --update" in said
    changed = changelog.updated(text, rules)
    assert changelog.fault(changed, rules) is None
    assert changed == text.replace(HASHES[0], rules.digest)


def test_an_entry_of_an_older_version_is_never_touched(rules: RuleTree) -> None:
    text = entry(version="2025.9", criteria="all")
    said = changelog.fault(text, rules)
    assert said is not None
    assert "of version 2025.9" in said
    with pytest.raises(changelog.ChangelogError, match=r"an entry of version 2026\.1 at the top"):
        changelog.updated(text, rules)


def test_a_change_of_one_number_changes_the_digest(rules: RuleTree) -> None:
    compounds = dict(rules.tree["compounds"])
    record = compounds["ptfe_unfilled"]
    compounds["ptfe_unfilled"] = {
        **record,
        "density": {**record["density"], "value": record["density"]["value"] + 0.001},
    }
    other = RuleTree({**rules.tree, "compounds": compounds}, (), rules.criteria)
    assert changelog.fault(changelog.updated(entry(criteria="all"), rules), other) is not None


def test_the_command_checks_and_updates(
    rules: RuleTree, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(changelog, "files", lambda _: tmp_path)
    (tmp_path / "CHANGELOG.md").write_text(entry(criteria="all", digest="pending"), encoding="utf-8")
    assert changelog.main([]) == 1
    assert "the rule data differ from the newest entry" in capsys.readouterr().out
    assert changelog.main(["--update"]) == 0
    assert changelog.main([]) == 0
    assert rules.digest in (tmp_path / "CHANGELOG.md").read_text(encoding="utf-8")
