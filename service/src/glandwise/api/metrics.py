"""What is counted and measured, for a collector that asks ``/metrics`` (Prometheus' text format).

Nothing of a request becomes a label but the operation, its form, the status and the verdict: names that callers make would be
repeated there, and would have the number of series grow without bound.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any, Final

from prometheus_client import CollectorRegistry, Counter, Histogram, ProcessCollector
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, InfoMetricFamily, Metric
from prometheus_client.exposition import CONTENT_TYPE_LATEST, generate_latest
from prometheus_client.registry import Collector

from glandwise import __version__
from glandwise.questions.warm import is_warm

if TYPE_CHECKING:
    from starlette.datastructures import State

MEDIA_TYPE: Final = CONTENT_TYPE_LATEST
BUCKETS: Final = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0, 60.0, 600.0)
"""Seconds."""


class Metrics:
    """What one application has counted."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        self._seconds = Histogram(
            "glandwise_request_seconds",
            "Time from the head of a request to the end of its answer.",
            ("operation", "form", "status"), buckets=BUCKETS, registry=self.registry,
        )  # fmt: skip
        self._lines = Counter(
            "glandwise_batch_lines", "Lines of batches answered.", ("operation", "status"), registry=self.registry
        )
        self._verdicts = Counter(
            "glandwise_verdicts", "Verdicts given, to single requests and lines.", ("operation", "verdict"),
            registry=self.registry,
        )  # fmt: skip
        self.reloads = Counter(
            "glandwise_rule_reloads", "Reloads of the rules that were asked for.", ("outcome",), registry=self.registry
        )
        ProcessCollector(registry=self.registry)
        self._kept: dict[tuple[str, str, int], Any] = {}

    def watch(self, state: State) -> None:
        """Tell the state of an application as well, each time it is asked for."""
        self.registry.register(_State(state))

    def answered(self, operation: str, form: str, status: int, seconds: float) -> None:
        """Count a request."""
        key = operation, form, status
        child = self._kept.get(key)
        if child is None:
            child = self._kept[key] = self._seconds.labels(operation, form, str(status))
        child.observe(seconds)

    def judged(self, operation: str, result: Mapping[str, Any]) -> None:
        """Count the verdict of a result, where it has one."""
        verdict = result.get("verdict")
        if isinstance(verdict, str):
            self._verdicts.labels(operation, verdict).inc()

    def block(self, operation: str, told: Iterable[tuple[int, str | None]]) -> None:
        """Count lines of a batch by status and verdict."""
        for status, verdict in told:
            self._lines.labels(operation, str(status)).inc()
            if verdict is not None:
                self._verdicts.labels(operation, verdict).inc()

    def written(self) -> bytes:
        """Return everything, as the collector reads it."""
        return generate_latest(self.registry)


class _State(Collector):
    """The state of an application when it is asked for."""

    def __init__(self, state: State) -> None:
        self.state = state

    def collect(self) -> Iterator[Metric]:
        """Yield what there is."""
        yield InfoMetricFamily("glandwise_build", "The engine.", {"version": __version__})
        yield GaugeMetricFamily(
            "glandwise_kernels_ready", "Whether the machine code of all formulas is ready.", is_warm()
        )
        engine, desk = self.state.engine, self.state.desk
        sets = GaugeMetricFamily(
            "glandwise_rule_set",
            "Rule sets that are served; 1 for each.",
            labels=("name", "version", "digest", "default"),
        )
        for name, tree in sorted(engine.store.trees.items()):
            header = tree.newest().data.rule_set
            sets.add_metric((name, header.version, tree.digest, str(name == engine.default_rule_set).lower()), 1.0)
        yield sets
        yield GaugeMetricFamily("glandwise_rules_since_seconds", "When they were read.", self.state.reload.since)
        taken = GaugeMetricFamily("glandwise_lane_taken", "Places taken: under way or waiting.", labels=("lane",))
        places = GaugeMetricFamily("glandwise_lane_places", "Places there are.", labels=("lane",))
        for lane in self.state.lanes:
            taken.add_metric((lane.what,), lane.taken)
            places.add_metric((lane.what,), lane.places)
        yield from (taken, places)
        yield GaugeMetricFamily("glandwise_batches", "Batches and tables under way.", desk.turns)
        yield GaugeMetricFamily("glandwise_batch_places", "Batches and tables taken at once.", desk.max_batches)
        yield GaugeMetricFamily("glandwise_batch_bytes", "Bytes of batches and tables that are held.", desk.bytes_held)
        yield GaugeMetricFamily("glandwise_workers", "Processes for batches that there are.", len(desk.processes))
        yield GaugeMetricFamily("glandwise_workers_missing", "Whether no process can be had.", desk.lacks_workers)
        yield CounterMetricFamily("glandwise_workers_lost", "Processes that ended while at work.", desk.lost)
