"""Rule sets out of the history of a git repository, made here with dulwich; found by their digest, told in a recheck."""

from __future__ import annotations

import pickle
import sys
from pathlib import Path
from typing import Any

import pytest
from dulwich import porcelain
from fastapi.testclient import TestClient
from glandwise import patience
from glandwise.app import create_app
from glandwise.rules import archive, compare, history
from glandwise.rules.history import History
from glandwise.rules.loader import RuleError, RuleStore, RuleTree
from glandwise.settings import Settings
from glandwise_client._cli import main

from tests.conftest import assert_problem

BUILT_IN = list(RuleStore().trees.values())
(BASE,) = BUILT_IN
LIMIT = "designs.capacities.pressure_flexible_lip.limit"
WHO = b"Owner <owner@example.invalid>"


def head(name: str, extends: str, version: str) -> str:
    return f'name = "{name}"\nversion = "{version}"\ntitle = "T"\ndescription = "Invented."\nextends = "{extends}"\n'


def rated(psi: float) -> str:
    value = f'{{ value = {psi}, unit = "psi", source = "common-practice", evidence = "common_practice", valid_from = 2026-02-01 }}'
    return f"[capacities.pressure_flexible_lip]\nlimit = {value}\n"


class Repository:
    """A repository of rules: house on corp on the baseline, in a folder among other things."""

    def __init__(self, path: Path) -> None:
        self.path, self.rules = path, path / "seals" / "rules"
        path.mkdir()
        porcelain.init(path)

    def write(self, name: str, **files: str) -> None:
        for file, text in files.items():
            place = self.rules / name / f"{file}.toml"
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_text(text, encoding="utf-8")

    def commit(self) -> bytes:
        names = [str(path) for path in self.path.rglob("*") if path.is_file() and ".git" not in path.parts]
        porcelain.add(self.path, names)
        made: bytes = porcelain.commit(self.path, message=b"Change", author=WHO, committer=WHO)
        return made

    def served(self, name: str = "house") -> RuleTree:
        """Return a set as a service would have had it."""
        return RuleStore(self.rules).trees[name]


@pytest.fixture
def repository(tmp_path: Path) -> Repository:
    found = Repository(tmp_path / "repository")
    (found.path / "README").write_text("Seals (invented).", encoding="utf-8")
    found.write("corp", rule_set=head("corp", "baseline", "1"), designs=rated(50.0))
    found.write("house", rule_set=head("house", "corp", "1"))
    found.commit()
    return found


def test_every_state_is_found_by_its_digest_as_it_was(repository: Repository) -> None:
    then = [repository.served()]
    repository.write("corp", designs=rated(40.0))  # the house set is another by its parent alone
    repository.commit()
    then.append(repository.served())
    (repository.path / "README").write_text("Seals and more (invented).", encoding="utf-8")
    repository.commit()
    repository.write("house", rule_set=head("house", "baseline", "2"), designs=rated(45.0))
    repository.commit()
    then.append(repository.served())
    assert len({tree.digest for tree in then}) == 3
    kept = History(repository.path, BUILT_IN)
    for tree in then:
        found = kept.get(tree.digest)
        assert found is not None
        assert found.digest == tree.digest
        assert compare.diff(found.tree, tree.tree) == []
        assert found.newest().data.designs.capacities["pressure_flexible_lip"].limit is not None
    assert kept.get("0" * 64) is None
    # the newest is found without looking at all
    again = History(repository.path, BUILT_IN)
    assert again.get(then[-1].digest) is not None
    assert then[0].digest not in again.digests


def test_another_branch_a_tag_and_a_commit_that_nobody_could_serve(repository: Repository) -> None:
    main_branch = porcelain.active_branch(repository.path)
    porcelain.branch_create(repository.path, "proposal")
    porcelain.checkout(repository.path, "proposal")
    repository.write("house", designs=rated(30.0))
    repository.commit()
    aside = repository.served()
    porcelain.checkout(repository.path, main_branch)
    repository.write("house", designs="[")
    repository.commit()
    repository.write("house", designs=rated(35.0))
    repository.commit()
    porcelain.tag_create(repository.path, b"then", message=b"Given out", author=WHO, annotated=True)
    last = repository.served()
    kept = History(repository.path, BUILT_IN)
    assert kept.get(aside.digest) is not None
    assert kept.get(last.digest) is not None
    assert kept.get("0" * 64) is None
    # what cannot be read is left out, what stands beside it is not
    assert RuleStore(repository.rules).trees["corp"].digest in kept.digests


def test_a_set_on_an_older_baseline_is_found_where_that_is_kept(repository: Repository, tmp_path: Path) -> None:
    older = compare.patched(BASE, compare.from_json({"designs": {"capacities": {"pressure_flexible_lip": {"limit": {
        "value": 60.0, "unit": "psi", "source": "common-practice", "evidence": "common_practice", "valid_from": "2026-01-01",
    }}}}}))  # fmt: skip
    repository.write("house", rule_set=head("house", "baseline", "1"), designs="")
    repository.commit()
    house = RuleStore(repository.rules).trees["house"].layers[0]
    from glandwise.rules.loader import extended

    then = RuleTree(extended(older, house), (house,), BASE.criteria)
    assert History(repository.path, BUILT_IN).get(then.digest) is None
    folder = tmp_path / "archive"
    folder.mkdir()
    archive.put(older, folder)
    kept = History(repository.path, BUILT_IN, archive.Archive(folder, BASE.criteria))
    found = kept.get(then.digest)
    assert found is not None
    assert compare.diff(found.tree, then.tree) == []


def test_a_worker_can_have_it(repository: Repository) -> None:
    then = repository.served()
    kept = History(repository.path, BUILT_IN)
    kept.get("0" * 64)
    found = pickle.loads(pickle.dumps(kept)).get(then.digest)
    assert found is not None
    assert found.digest == then.digest


def test_giving_up_loses_nothing(repository: Repository, monkeypatch: Any) -> None:
    for psi in (41.0, 42.0, 43.0):
        repository.write("corp", designs=rated(psi))
        repository.commit()
    oldest = History(repository.path, BUILT_IN)
    oldest.get("0" * 64)
    assert len(oldest.digests) == 8
    kept = History(repository.path, BUILT_IN)
    kept._look_further()
    met = kept.digests
    with patience.within(patience.Patience(-1.0)), pytest.raises(patience.GivenUp):
        kept.get("0" * 64)
    assert set(met) < set(kept.digests)
    assert kept.get("0" * 64) is None
    assert kept.digests == oldest.digests


def test_what_is_no_repository_or_cannot_be_read_is_refused(
    repository: Repository, tmp_path: Path, monkeypatch: Any
) -> None:
    for path in (tmp_path, tmp_path / "nowhere"):
        with pytest.raises(RuleError, match="GLANDWISE_RULE_HISTORY: is no git repository"):
            create_app(Settings(rule_history=path))
    monkeypatch.setitem(sys.modules, "dulwich.errors", None)
    monkeypatch.setitem(sys.modules, "dulwich", None)
    monkeypatch.setitem(sys.modules, "dulwich.repo", None)
    with pytest.raises(
        RuleError, match=r"dulwich, which reads it, is not installed; accepted: glandwise-service\[git\]"
    ):
        create_app(Settings(rule_history=repository.path))


def test_dulwich_is_loaded_only_for_a_history() -> None:
    import subprocess

    code = "import sys, glandwise.app, glandwise.rules.history; sys.exit('dulwich' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


REQUEST = {
    "duty": {
        "shaft_diameter": {"value": 60.0, "unit": "mm"},
        "motion": {"kind": "rotation", "rotational_speed": {"value": 300.0, "unit": "rpm"}},
        "pressure": {"value": 42.0, "unit": "psi"},
        "temperature": {"normal": {"value": 45.0, "unit": "degC"}},
        "fluid": "mineral_oil_gear",
    },
    "design": {"family": "flexible_lip", "compound": "ptfe_carbon_graphite_25"},
}


def test_a_recheck_tells_what_changed_since_a_commit(repository: Repository) -> None:
    """And a reload sees what was committed meanwhile."""
    settings = Settings(rules=repository.rules, default_rule_set="house", rule_history=repository.path, batch_workers=0)
    with TestClient(create_app(settings)) as client:
        repository.write("corp", designs=rated(40.0))
        repository.commit()
        assert client.post("/v1/rule-set-reloads").json()["outcome"] == "taken"
        stored = client.post("/v1/envelope-checks", json=REQUEST).json()
        repository.write("corp", designs=rated(50.0), rule_set=head("corp", "baseline", "2"))
        assert client.post("/v1/rule-set-reloads").json()["outcome"] == "taken"
        body = {"operation": "check_envelope", "stored_request": REQUEST, "stored_result": stored}
        found = client.post("/v1/rechecks", json=body)
        assert found.status_code == 200, found.text
        answer = found.json()
        assert (answer["rules_changed"], answer["rules_of_then_held"]) == (True, True)
        (change,) = answer["rule_changes"]
        assert (change["key"], change["before"]["value"], change["after"]["value"]) == (LIMIT, 40.0, 50.0)
        assert change["moves"] > 0
        # nobody can ask to be judged by what is in a history
        assert_problem(client.post("/v1/envelope-checks", json={**REQUEST, "rule_set": "gone"}), 422, "unknown-name")
        repository.commit()
        assert client.post("/v1/rule-set-reloads").json()["outcome"] == "taken", "a commit more"
        assert client.post("/v1/rule-set-reloads").json()["outcome"] == "unchanged"


def test_a_history_can_be_written_into_an_archive(repository: Repository, tmp_path: Path, capsys: Any) -> None:
    then = repository.served()
    repository.write("corp", designs=rated(40.0))
    repository.commit()
    folder = tmp_path / "archive"
    assert main(["rules", "archive", "--to", str(folder), "--history", str(repository.path)]) == 0
    assert f"house 1: {folder / then.digest}.json" in capsys.readouterr().out
    kept = archive.Archive(folder, BASE.criteria)
    assert len(kept.digests) == 5  # the baseline, and two states of both sets
    found = kept.get(then.digest)
    assert found is not None
    assert compare.diff(found.tree, then.tree) == []
    assert main(["rules", "archive", "--to", str(folder), "--history", str(tmp_path)]) == 2
    assert "is no git repository" in capsys.readouterr().err


def test_what_is_bounded(repository: Repository, monkeypatch: Any) -> None:
    then = repository.served()
    repository.write("corp", designs=rated(40.0))
    repository.commit()
    monkeypatch.setattr(history, "COMMITS", 1)
    assert History(repository.path, BUILT_IN).get(then.digest) is None
    monkeypatch.undo()
    monkeypatch.setattr(history, "DEEPEST", 0)
    assert History(repository.path, BUILT_IN).get(then.digest) is None
    monkeypatch.undo()
    monkeypatch.setattr(history, "LARGEST", 10)
    assert History(repository.path, BUILT_IN).get(then.digest) is None
    monkeypatch.undo()
    assert History(repository.path, BUILT_IN).get(then.digest) is not None
