"""House rule sets written for one test."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping
from importlib.resources import files
from pathlib import Path

import pytest
from glandwise.rules.loader import RuleStore

BASELINE = Path(str(files("glandwise.rules"))) / "data" / "baseline"

HEADER = """\
name = "house"
version = "1"
title = "Invented house rules"
description = "Written for a test."
extends = "baseline"
"""

Write = Callable[..., Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Write a rule set folder and return the folder above it; a set that extends ``baseline`` unless said otherwise."""

    def write(
        contents: Mapping[str, str], name: str = "house", *, header: str | None = None, whole: bool = False
    ) -> Path:
        folder = tmp_path / name
        if whole:
            shutil.copytree(BASELINE, folder)
        folder.mkdir(exist_ok=True)
        if not whole and "rule_set" not in contents:
            text = HEADER.replace('"house"', f'"{name}"') if header is None else header
            (folder / "rule_set.toml").write_text(text, encoding="utf-8")
        for file, text in contents.items():
            (folder / f"{file}.toml").write_text(text, encoding="utf-8")
        return tmp_path

    return write


@pytest.fixture
def load(write: Write) -> Callable[..., RuleStore]:
    """Write one house set and load it beside the built-in one."""

    def load(contents: Mapping[str, str], **settings: object) -> RuleStore:
        return RuleStore(write(contents, **settings))

    return load
