"""Rules, and the archive of those before, read anew while the service runs: checked first, and until they stand the old ones are served.

A request is answered by the rules that are served when it is read, a batch by those that were served when it began.
"""

from __future__ import annotations

import asyncio
import logging
import time
from typing import TYPE_CHECKING, Any, Final

from glandwise.api.access import read_tokens
from glandwise.api.desk import Desk
from glandwise.api.problems import FieldProblem, ProblemError
from glandwise.engine import Engine
from glandwise.rules import archive
from glandwise.rules.loader import RuleError
from glandwise.settings import Settings, SettingsError

if TYPE_CHECKING:
    from starlette.datastructures import State

log: Final = logging.getLogger("glandwise")
POLL: Final = 0.2
"""Seconds between two looks at whether the batches of the rules before have been answered."""


class Reload:
    """Reads rules and tokens of one application anew, one time after the other."""

    def __init__(self, state: State) -> None:
        self._state = state
        self._under_way = False
        self._retiring: set[asyncio.Task[None]] = set()
        self.since = time.time()
        """When the rules that are served were read, in seconds of the epoch."""

    async def __call__(self) -> dict[str, Any]:
        """Read them, and say what became of them. Raises :class:`ProblemError`; what was served is then served on."""
        if self._under_way:
            raise ProblemError("too-busy", "the rules are being read already")
        self._under_way = True
        try:
            outcome = await self._read()
        except (RuleError, SettingsError) as error:
            self._state.metrics.reloads.labels("refused").inc()
            faults = str(error).splitlines()
            for fault in faults:
                log.error(
                    "new rules are refused, the old ones are served on: %s", fault, extra={"event": "rules_refused"}
                )
            errors = [FieldProblem(pointer="", detail=fault[:400]) for fault in faults[:50]]
            detail = "the files cannot be used; what was served before is served on"
            raise ProblemError("rules-refused", detail, errors) from None
        finally:
            self._under_way = False
        self._state.metrics.reloads.labels(outcome["outcome"]).inc()
        return outcome

    async def _read(self) -> dict[str, Any]:
        state = self._state
        settings: Settings = state.settings
        tokens = None if settings.tokens is None else await asyncio.to_thread(read_tokens, settings.tokens)
        engine = await asyncio.to_thread(
            lambda: Engine(
                archive.store(settings.rules, settings.rule_archive, settings.rule_history), settings.default_rule_set
            )
        )
        before, now = digests(state.engine), digests(engine)
        same = before == now and state.engine.store.kept == engine.store.kept
        state.guard.tokens = tokens
        told = {"outcome": "unchanged" if same else "taken", "before": before, "now": now}
        if not same:
            old: Desk = state.desk
            state.desk = Desk(engine, old.workers, old.max_batches, old.max_bytes, old)
            state.engine = engine
            self.since = time.time()
            task = asyncio.create_task(self._retire(old, state.desk))
            self._retiring.add(task)
            task.add_done_callback(self._retiring.discard)
        for name in sorted(before.keys() | now.keys()):
            if before.get(name) != now.get(name):
                extra = {"event": "rules_taken", "rule_set": name, "before": before.get(name), "digest": now.get(name)}
                log.info("rule set %s is now %s, it was %s", name, now.get(name), before.get(name), extra=extra)
        return told

    @staticmethod
    async def _retire(old: Desk, new: Desk) -> None:
        """End the workers of the rules before, once all that they were at has been answered."""
        while old.own_turns:
            await asyncio.sleep(POLL)
        await asyncio.to_thread(old.close)
        new.forget_before()


def digests(engine: Engine) -> dict[str, str]:
    """Return the digest of each rule set."""
    return {name: tree.digest for name, tree in sorted(engine.store.trees.items())}
