"""Demonstration: ``python -m glandwise_client.demo``.

Starts the service on a free port of the loopback interface, asks it three things about one enquiry through the client,
prints the answers, and stops it. The enquiry is invented.
"""

from __future__ import annotations

import contextlib
import importlib.util
import os
import re
import signal
import socket
import subprocess
import sys
import tempfile
import textwrap
import time
from collections.abc import Iterator, Sequence
from typing import Any, Final

from glandwise_client import models as m
from glandwise_client._base import Quantity
from glandwise_client._client import GlandwiseClient
from glandwise_client._errors import GlandwiseError, TransportError
from glandwise_client._retry import RetryPolicy

WIDTH: Final = 100
START_SECONDS: Final = 60.0

# Units are mixed on purpose: an enquiry comes as people write it.
DUTY: Final[dict[str, Any]] = {
    "shaft_diameter": "60 mm",
    "motion": {"kind": "rotation", "rotational_speed": "420 rpm"},
    "pressure": "8 bar",
    "temperature": {"minimum": "5 °C", "normal": "45 °C", "maximum": (158, "degF")},
    "fluid": "paint_solvent_based",
    "contaminants": "abrasive",
    "runout": "3 mil",
    "offset": "0.1 mm",
    "shaft": {
        "material": "stainless_martensitic_hardened",
        "hardness": "54 HRC",
        "roughness": "12 uin",
        "machining_lead": "none",
    },
    "bore": {"diameter": "80 mm", "material": "cast_iron"},
}
DESIGN: Final[dict[str, Any]] = {
    "family": "flexible_lip",
    "compound": "ptfe_carbon_graphite_25",
    "second_lip": "excluder",
    "retention": "o_ring",
}
ENERGIZER: Final[dict[str, Any]] = {
    "kind": "canted_coil",
    "alloy": "R30003",
    "wire_diameter": {"nominal": "0.32 mm", "plus": "6 um", "minus": "6 um"},
    "coil_height": {"nominal": "3.3 mm", "plus": "0.1 mm", "minus": "0.1 mm"},
    "coil_width": {"nominal": "3.8 mm"},
    "pitch": {"nominal": "0.58 mm"},
    "cant_angle": "35 deg",
    "compression": {"kind": "deflection", "deflection": {"nominal": "0.82 mm", "plus": "0.15 mm", "minus": "0.15 mm"}},
}
ENQUIRY: Final = (
    "Agitator shaft of a bead mill for solvent-based paint: 60 mm shaft of hardened stainless steel at 420 rpm, 8 bar, "
    "5 to 70 °C, 3 mil of runout, abrasive dirt outside. Proposed: a flexible lip with an excluder, in PTFE with 25 % "
    "carbon and graphite, held by an O-ring."
)

# The service as a process of its own --------------------------------------------------------------------------------


class ServiceNotStarted(RuntimeError):  # noqa: N818 - says what happened
    """The service did not start."""


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextlib.contextmanager
def running_service(seconds: float = START_SECONDS) -> Iterator[str]:
    """Run the service for the length of a block and give its URL; it is stopped whatever happens."""
    if importlib.util.find_spec("glandwise") is None:
        raise ServiceNotStarted("the service is not installed in this environment (distribution glandwise-service)")
    port = _free_port()
    url = f"http://127.0.0.1:{port}"
    environment = {**os.environ, "GLANDWISE_HOST": "127.0.0.1", "GLANDWISE_PORT": str(port)}
    with tempfile.TemporaryFile() as log:
        command = [sys.executable, "-m", "glandwise"]
        process = subprocess.Popen(command, env=environment, stdout=log, stderr=log)  # noqa: S603 - fixed command
        try:
            _wait_until_ready(url, process, seconds)
            yield url
        except ServiceNotStarted as error:
            log.seek(0)
            tail = log.read()[-2000:].decode("utf-8", "replace").strip()
            raise ServiceNotStarted(f"{error}\n{tail}".strip()) from None
        finally:
            _stop(process)


def _wait_until_ready(url: str, process: subprocess.Popen[bytes], seconds: float) -> None:
    deadline = time.monotonic() + seconds
    with GlandwiseClient(url, retry=RetryPolicy(retries=0), timeout=2.0, trust_env=False) as client:
        while True:
            try:
                client.check_readiness()
            except GlandwiseError as error:
                if process.poll() is not None:
                    raise ServiceNotStarted(f"the service ended with code {process.returncode}") from None
                if time.monotonic() > deadline:
                    raise ServiceNotStarted(
                        f"the service was not ready within {seconds:g} s ({error.detail})"
                    ) from None
                time.sleep(0.1)
            else:
                return


def _stop(process: subprocess.Popen[bytes]) -> None:
    if process.poll() is None:
        process.terminate()
        try:
            process.wait(timeout=15)
        except subprocess.TimeoutExpired:
            process.kill()
    process.wait()


# The answers on paper -----------------------------------------------------------------------------------------------

_MARKS: Final = {"pass": "ok", "caution": "CARE", "fail": "FAIL", "not_evaluated": "?"}
_BAR: Final = 12
_MARGIN: Final = 8
_EVIDENCE: Final = {
    "standard": "a standard",
    "published": "published data",
    "common_practice": "common practice of the trade",
    "house_estimate": "a house estimate",
}


def _bar(utilization: float | None) -> str:
    if utilization is None:
        return " " * (_BAR + 8)
    share = min(1.0, max(0.0, utilization))
    filled = round(share * _BAR)
    end = ">" if utilization > 1 else "|"
    return f"{'=' * filled}{'.' * (_BAR - filled)}{end} {100 * utilization:4.0f} %"


def _wrap(text: str, indent: int = _MARGIN, first: str | None = None) -> list[str]:
    """Fill lines, keeping numbers together with their units."""
    lines = textwrap.wrap(
        re.sub(r"(?<=[0-9]) (?=[%°A-Za-z])", "\u00a0", text),
        WIDTH,
        initial_indent=" " * indent if first is None else first.ljust(indent),
        subsequent_indent=" " * indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace("\u00a0", " ") for line in lines]


def _number(quantity: Quantity | None) -> str:
    if quantity is None:
        return "-"
    return format(quantity, ",.0f" if abs(quantity.value) >= 999.5 else ".3g")


_WHOLE: Final = {"pass": "the whole design passes", "caution": "the whole design passes with care"}


def _remedies(remedies: Sequence[m.Remedy]) -> list[str]:
    lines: list[str] = []
    for remedy in remedies:
        effect = "cures this" if remedy.cures else "does not cure this"
        if remedy.utilization is not None:
            effect += f" ({100 * remedy.utilization:.0f} % of the limit)"
        if remedy.evaluated:
            effect += f", and {_WHOLE.get(remedy.verdict, 'something else still fails')}"
        lines += _wrap(f"{remedy.title} - {effect}", _MARGIN + 5, " " * _MARGIN + "  -> ")
    return lines


def _ways_out(criteria: Sequence[m.Criterion]) -> list[str]:
    """Name the single changes with which the whole design would pass."""
    found = {
        remedy.change: remedy.title
        for criterion in criteria
        if criterion.status == "fail"
        for remedy in criterion.remedies
        if remedy.evaluated and remedy.cures and remedy.verdict in _WHOLE
    }
    return _wrap("; or ".join(found.values()) + ".", _MARGIN, "Change:") if found else []


def _heading(number: int, question: str, verdict: str, summary: str) -> list[str]:
    return ["", f"{number}  {question}", "-" * WIDTH, *_wrap(summary, _MARGIN, _MARKS.get(verdict, verdict))]


def _foot(result: m.EnvelopeCheckResult | m.RunoutAllowanceResult | m.EnergizerLoadResult) -> list[str]:
    lines = []
    if result.assumptions:
        taken = ", ".join(
            f"{item.field.rpartition('/')[2].replace('_', ' ')} {item.value}" for item in result.assumptions
        )
        lines += _wrap(f"{taken.replace('o ring', 'O-ring')}.", 10, "Assumed:")
    stamp = result.stamp
    evidence = _EVIDENCE.get(result.evidence or "", "nothing stated")
    lines += _wrap(
        f"weakest evidence: {evidence}; rules {stamp.rule_set.name} {stamp.rule_set.version} as of "
        f"{stamp.rule_set.as_of} (sha256 {stamp.rule_set.digest[:12]}...), engine {stamp.engine}, "
        f"fingerprint {stamp.fingerprint[:12]}...",
        10,
        "Stamp:",
    )
    return lines


def envelope_lines(result: m.EnvelopeCheckResult) -> list[str]:
    """Return an envelope check as lines of text."""
    lines = _heading(1, "Does the proposed design live in this duty?", result.verdict, result.summary)
    lines += [*_ways_out(result.criteria), ""]
    lines.append(f"{'':<{_MARGIN}}{'criterion':<32} {'share of the limit':<20}  what is asked / what there is")
    for criterion in result.criteria:
        mark = _MARKS.get(criterion.status, criterion.status)
        title = criterion.title if len(criterion.title) <= 32 else criterion.title[:31] + "…"
        numbers = ""
        if criterion.demand is not None and criterion.capacity is not None:
            numbers = f"{_number(criterion.demand)} / {_number(criterion.capacity)}"
        lines.append(f"{mark:<{_MARGIN}}{title:<32} {_bar(criterion.utilization)}  {numbers}".rstrip())
        if criterion.status != "pass":
            lines += _wrap(criterion.reason)
            lines += _remedies(criterion.remedies)
    return [*lines, "", *_foot(result)]


def runout_lines(result: m.RunoutAllowanceResult) -> list[str]:
    """Return a runout allowance as lines of text."""
    lines = [*_heading(2, "How much runout does the lip follow?", result.verdict, result.summary), ""]
    lines.append(
        f"{'':<{_MARGIN}}{'speed':>10} {'surface':>10}   {'mechanics':>10} {'rated':>10} {'allowed':>10}   governed by"
    )
    step = max(1, (len(result.curve) - 1) // 5)
    points = [("duty", result.at_duty), *(("", point) for point in result.curve[::step])]
    for label, point in points:
        cells = [point.followed_runout, point.rated_runout, point.allowed_runout]
        lines.append(
            f"{label:<{_MARGIN}}{_number(point.rotational_speed):>10} {_number(point.surface_speed):>10}   "
            + " ".join(f"{_number(cell):>10}" for cell in cells)
            + f"   {point.governs.replace('_', ' ')}"
        )
    held = f"The relaxed lip is held to the shaft by {_number(result.preload)} and keeps {100 * result.relaxed_share:.0f} %"
    return [*lines, "", *_wrap(f"{held} of its own load.", _MARGIN), "", *_foot(result)]


def energizer_lines(result: m.EnergizerLoadResult) -> list[str]:
    """Return an energizer load as lines of text."""
    question = "How hard would a canted coil press, if an energized lip is chosen instead?"
    lines = [*_heading(3, question, result.verdict, result.summary), ""]
    load = result.load
    rows = [
        ("load, nominal", _number(load.nominal)),
        ("load, 5 to 95 % of parts", f"{_number(load.percentile_5)} to {_number(load.percentile_95)}"),
        ("load, worst case of the tolerances", f"{_number(load.minimum)} to {_number(load.maximum)}"),
        ("load round the circumference", _number(result.total_load)),
        ("stress / yield", f"{_number(result.stress)} / {_number(result.stress_limit)}"),
    ]
    if result.working_range is not None:
        band = result.working_range
        rows.append(
            (
                f"load within ±{100 * band.load_share:.0f} %",
                f"{_number(band.lower)} to {_number(band.upper)} of deflection",
            )
        )
    lines += [f"{'':<{_MARGIN}}{title:<38} {text}" for title, text in rows]
    if result.sensitivities:
        swings = ", ".join(
            f"{item.input.replace('_', ' ')} {100 * item.swing:+.0f} %" for item in result.sensitivities[:4]
        )
        lines += _wrap(f"{swings}", _MARGIN + 39, f"{'':<{_MARGIN}}{'load over the tolerance of one input':<38}")
    return [*lines, "", *_foot(result)]


def caution_lines(*results: m.EnvelopeCheckResult | m.RunoutAllowanceResult | m.EnergizerLoadResult) -> list[str]:
    """Return the cautions of several results, each once."""
    cautions = {caution.id: caution.text for result in results for caution in result.cautions}
    return ["", "Cautions", "-" * WIDTH, *(line for text in cautions.values() for line in _wrap(text, 2, "- "))]


def run(client: GlandwiseClient) -> str:
    """Ask the three questions and return the answers as text."""
    envelope = client.check_envelope(duty=DUTY, design=DESIGN)
    runout = client.allow_runout(duty=DUTY, design=DESIGN)
    energizer = client.estimate_energizer_load(energizer=ENERGIZER, contact_diameter="60 mm", temperature="45 °C")
    lines = ["", "An invented enquiry", "-" * WIDTH, *_wrap(ENQUIRY, 0)]
    lines += envelope_lines(envelope) + runout_lines(runout) + energizer_lines(energizer)
    lines += caution_lines(envelope, runout, energizer)
    return "\n".join(lines) + "\n"


def main() -> int:
    """Run the demonstration."""
    if sys.stdout.encoding.lower().replace("-", "") != "utf8" and hasattr(sys.stdout, "reconfigure"):
        sys.stdout.reconfigure(errors="replace")
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))  # so that the service is stopped then, too
    begun = time.monotonic()
    try:
        with running_service() as url, GlandwiseClient(url, trust_env=False) as client:
            sys.stdout.write(f"The service runs at {url} (started in {time.monotonic() - begun:.1f} s).\n")
            asked = time.monotonic()
            text = run(client)
            sys.stdout.write(f"{text}\nThree checks over HTTP took {1000 * (time.monotonic() - asked):.0f} ms.")
            sys.stdout.write(" The service has its documentation at /docs (make serve).\n")
    except (ServiceNotStarted, TransportError) as error:
        sys.stderr.write(f"{error}\n")
        return 1
    sys.stdout.write("The service is stopped.\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
