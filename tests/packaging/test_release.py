"""Notes of a release: what changed in rules, formulas and contract, and a signature that tells whether they were touched."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.supply.release import DATA, NAMESPACE, PACKAGE, ROOT, Repository, notes, sign

pytestmark = [
    pytest.mark.packaging,
    pytest.mark.skipif(shutil.which("git") is None, reason="git is not here"),
]


def git(root: Path, *arguments: str) -> None:
    identity = ("-c", "user.name=Release", "-c", "user.email=release@example.invalid", "-c", "commit.gpgsign=false")
    subprocess.run(["git", "-C", str(root), *identity, *arguments], check=True, capture_output=True)


def replaced(file: Path, old: str, new: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert text.count(old) == 1
    file.write_text(text.replace(old, new), encoding="utf-8")


@pytest.fixture(scope="module")
def scratch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A repository of the sources as they are, tagged, and a commit in which a value, a formula and two changelogs differ."""
    root = tmp_path_factory.mktemp("release")
    skipped = shutil.ignore_patterns("__pycache__", "*.nbi", "*.nbc")
    shutil.copytree(ROOT / PACKAGE, root / PACKAGE, ignore=skipped)
    shutil.copytree(ROOT / "openapi", root / "openapi", ignore=shutil.ignore_patterns("examples", "released"))
    git(root, "init", "--quiet")
    git(root, "add", "--all")
    git(root, "commit", "--quiet", "--message", "First")
    git(root, "tag", "v1")
    replaced(root / DATA / "gland.toml", "margin_min = { value = ", "margin_min = { value = 1")
    with (root / PACKAGE / "mechanics" / "wear.py").open("a", encoding="utf-8") as formulas:
        formulas.write("# a remark\n")
    replaced(root / "openapi" / "CHANGELOG.md", "## Next\n", "## Next\n\n- an addition that was made up;\n")
    replaced(root / PACKAGE / "rules" / "CHANGELOG.md", "- What: ", "- What: a margin that was made up; ")
    git(root, "commit", "--quiet", "--all", "--message", "Second")
    return root


def section(text: str, title: str) -> str:
    return re.split(r"^## ", text.partition(f"## {title}\n")[2], maxsplit=1, flags=re.MULTILINE)[0]


def test_notes_name_each_value_formula_and_entry_that_changed(scratch: Path) -> None:
    text = notes(Repository(scratch), "v1")
    rules, engine = section(text, "Rules"), section(text, "Engine")
    assert re.search(r"^- `gland\.retention\.margin_min`: \S+ .*→ 1\S+", rules, re.MULTILINE)
    assert rules.count("- `") == 1
    assert engine.count("- `") == 1
    assert "- `mechanics/wear.py`: changed" in engine
    for part in (rules, engine):
        then, now = re.findall(r"`([0-9a-f]{64})`", part)[:2]
        assert then != now
    assert "an addition that was made up" in section(text, "Contract")
    assert "a margin that was made up" in section(text, "Why the rules changed")


def test_nothing_changed_is_said(scratch: Path) -> None:
    text = notes(Repository(scratch), "HEAD")
    assert "No value differs." in section(text, "Rules")
    assert "No formula differs." in section(text, "Engine")


@pytest.mark.skipif(shutil.which("ssh-keygen") is None, reason="ssh-keygen is not here")
def test_a_signature_holds_until_a_letter_changes(tmp_path: Path) -> None:
    key, file, allowed = tmp_path / "key", tmp_path / "NOTES.md", tmp_path / "allowed_signers"
    make = ["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-C", "release@example.invalid", "-f", str(key)]
    subprocess.run(make, check=True)
    file.write_text("# What changed\n", encoding="utf-8")
    allowed.write_text(
        f"release@example.invalid {key.with_suffix('.pub').read_text(encoding='utf-8')}", encoding="utf-8"
    )
    signature = sign(file, key)

    def holds(namespace: str = NAMESPACE) -> bool:
        command = ["ssh-keygen", "-Y", "verify", "-f", str(allowed), "-I", "release@example.invalid", "-n", namespace]
        done = subprocess.run(
            [*command, "-s", str(signature)], input=file.read_bytes(), capture_output=True, check=False
        )
        return done.returncode == 0

    assert holds()
    assert not holds("something-else")
    file.write_text("# What changed.\n", encoding="utf-8")
    assert not holds()
