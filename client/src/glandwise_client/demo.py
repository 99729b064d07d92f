"""Demonstration: ``python -m glandwise_client.demo``.

Starts the service on a free port of the loopback interface, asks it three things about one enquiry through the client,
prints the answers, and stops it. The enquiry is invented.
"""

from __future__ import annotations

import contextlib
import importlib.util
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from typing import Any, Final

from glandwise_client import models as m
from glandwise_client._client import GlandwiseClient
from glandwise_client._errors import GlandwiseError, TransportError
from glandwise_client._print import MARGIN, WIDTH, caution_lines, envelope_lines, foot, heading, number, wrap
from glandwise_client._retry import RetryPolicy

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


def runout_lines(result: m.RunoutAllowanceResult) -> list[str]:
    """Return a runout allowance as lines of text."""
    lines = [*heading("2  How much runout does the lip follow?", result.verdict, result.summary), ""]
    lines.append(
        f"{'':<{MARGIN}}{'speed':>10} {'surface':>10}   {'mechanics':>10} {'rated':>10} {'allowed':>10}   governed by"
    )
    step = max(1, (len(result.curve) - 1) // 5)
    points = [("duty", result.at_duty), *(("", point) for point in result.curve[::step])]
    for label, point in points:
        cells = [point.followed_runout, point.rated_runout, point.allowed_runout]
        lines.append(
            f"{label:<{MARGIN}}{number(point.rotational_speed):>10} {number(point.surface_speed):>10}   "
            + " ".join(f"{number(cell):>10}" for cell in cells)
            + f"   {point.governs.replace('_', ' ')}"
        )
    held = (
        f"The relaxed lip is held to the shaft by {number(result.preload)} and keeps {100 * result.relaxed_share:.0f} %"
    )
    return [*lines, "", *wrap(f"{held} of its own load.", MARGIN), "", *foot(result)]


def energizer_lines(result: m.EnergizerLoadResult) -> list[str]:
    """Return an energizer load as lines of text."""
    question = "3  How hard would a canted coil press, if an energized lip is chosen instead?"
    lines = [*heading(question, result.verdict, result.summary), ""]
    load = result.load
    rows = [
        ("load, nominal", number(load.nominal)),
        ("load, 5 to 95 % of parts", f"{number(load.percentile_5)} to {number(load.percentile_95)}"),
        ("load, worst case of the tolerances", f"{number(load.minimum)} to {number(load.maximum)}"),
        ("load round the circumference", number(result.total_load)),
        ("stress / yield", f"{number(result.stress)} / {number(result.stress_limit)}"),
    ]
    if result.working_range is not None:
        band = result.working_range
        rows.append(
            (
                f"load within ±{100 * band.load_share:.0f} %",
                f"{number(band.lower)} to {number(band.upper)} of deflection",
            )
        )
    lines += [f"{'':<{MARGIN}}{title:<38} {text}" for title, text in rows]
    if result.sensitivities:
        swings = ", ".join(
            f"{item.input.replace('_', ' ')} {100 * item.swing:+.0f} %" for item in result.sensitivities[:4]
        )
        lines += wrap(f"{swings}", MARGIN + 39, f"{'':<{MARGIN}}{'load over the tolerance of one input':<38}")
    return [*lines, "", *foot(result)]


def run(client: GlandwiseClient) -> str:
    """Ask the three questions and return the answers as text."""
    envelope = client.check_envelope(duty=DUTY, design=DESIGN)
    runout = client.allow_runout(duty=DUTY, design=DESIGN)
    energizer = client.estimate_energizer_load(energizer=ENERGIZER, contact_diameter="60 mm", temperature="45 °C")
    lines = ["", "An invented enquiry", "-" * WIDTH, *wrap(ENQUIRY, 0)]
    lines += (
        envelope_lines(envelope, "1  Does the proposed design live in this duty?")
        + runout_lines(runout)
        + energizer_lines(energizer)
    )
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
