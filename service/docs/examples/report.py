"""What the example scripts share: where the answers come from, and a few ways to print them."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable
from typing import Any

from glandwise_client import GlandwiseClient

MARKS = {"pass": "ok", "caution": "care", "fail": "FAIL", "not_evaluated": "?"}


def run(title: str, ask: Callable[[GlandwiseClient], dict[str, Any]], report: Callable[[dict[str, Any]], str]) -> int:
    """Ask a service, or one in this process, and print the report."""
    parser = argparse.ArgumentParser(description=title)
    parser.add_argument("--url", help="ask the service there; without it the service runs in this process")
    url = parser.parse_args().url
    with GlandwiseClient(url) if url else GlandwiseClient.in_process() as client:
        sys.stdout.write(report(ask(client)) + "\n")
    return 0


def heading(text: str) -> str:
    """Return a heading."""
    return f"\n{text}\n{'-' * len(text)}"


def verdict(name: str, result: Any) -> str:
    """Return verdict and summary of a result as a line."""
    return f"{MARKS.get(result.verdict, result.verdict):<6}{name:<10}{result.summary}"


def open_points(*results: Any) -> list[str]:
    """Return the criteria that do not simply pass, each with its reason."""
    return [
        f"      {MARKS.get(criterion.status, criterion.status)}: {criterion.title}. {criterion.reason}"
        for result in results
        for criterion in result.criteria
        if criterion.status != "pass"
    ]


def shortlist(selection: Any, count: int = 3) -> list[str]:
    """Return the first designs of a selection."""
    return [f"      {one.rank}. {one.title} (governed by {one.governing.title})" for one in selection.ranked[:count]]


def cautions(results: Iterable[Any]) -> list[str]:
    """Return the cautions of all results, each once."""
    return [f"- {text}" for text in dict.fromkeys(one.text for result in results for one in result.cautions)]


def point(fit: Any, mark: str) -> Any:
    """Return the point of a thermal fit with a mark."""
    return next(one for one in fit.points if one.mark == mark)


def criterion(result: Any, name: str) -> Any:
    """Return a criterion by its identifier."""
    return next(one for one in result.criteria if one.id == name)
