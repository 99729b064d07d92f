"""Plot of wear over a duty of phases and phase by phase: ``python service/docs/models/plot_duty_spectrum.py``."""

from __future__ import annotations

import json
import math
from importlib.resources import files
from pathlib import Path

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.contract.duty_spectrum import SpectrumRequest
from glandwise.engine import Engine
from glandwise.mechanics import wear
from glandwise.numerics.over import over
from glandwise.questions.duty_spectrum import operation as duty_spectrum
from glandwise.questions.wear.found import measured
from glandwise.rules.loader import RuleStore

HERE = Path(__file__).parent
HOUR, CYCLES = 3600.0, 1000


def main() -> None:
    """Write ``img/duty_spectrum.svg``."""
    path = files("glandwise.contract").joinpath("examples", "assess_spectrum", "agitator_drive.json")
    request = SpectrumRequest.model_validate(json.loads(path.read_text("utf-8"))["request"])
    engine = Engine(RuleStore(), "baseline")
    found = duty_spectrum.answer(request, engine)
    states, lives, depth = found.states, found.worn, found.room
    assert lives is not None
    rates, width = measured(states[0].subject, math.nan).rates, states[0].case.contact_width
    load = sum(s.share * s.case.surface_speed * s.levels.nominal.running.load for s in states)
    stiffness = sum(s.share * s.case.surface_speed * s.levels.nominal.lost_stiffness for s in states)
    mpl.rcParams["svg.hashsalt"] = "glandwise"
    figure, (left, right) = plt.subplots(1, 2, figsize=(10.0, 4.0), layout="constrained", width_ratios=(3, 2))
    worst = 0.0
    for rate, life, colour, word in (
        (rates.high, lives.short, "#a8323e", "unfavourable"),
        (rates.nominal, lives.nominal, "#22282f", "nominal"),
        (rates.low, lives.long, "#1f5f8b", "favourable"),
    ):
        worn = np.geomspace(1e-3 * depth, 1.12 * depth, 120)
        time = over(wear.relieved_distance)(rate, load, stiffness, width, worn)
        left.semilogx(
            time / HOUR,
            worn * 1e3,
            color=colour,
            label=f"{word} wear rate",
        )
        # the phases one after another, each exact with its own load and stiffness, the whole life cut into cycles
        depths, h = [0.0], 0.0
        for _ in range(CYCLES):
            for s in states:
                q, loss = s.levels.nominal.running.load, s.levels.nominal.lost_stiffness
                slid = s.share * s.case.surface_speed * life / CYCLES
                h = q / loss + (h - q / loss) * np.exp(-rate * loss * slid / width)
            depths.append(h)
        spots = np.linspace(0.1, 1.0, 6)
        at = np.rint(spots * CYCLES).astype(int)
        left.semilogx(spots * life / HOUR, np.array(depths)[at] * 1e3, "o", color=colour, mfc="white", ms=5)
        worst = max(worst, abs(depths[-1] / depth - 1.0))
    left.axhline(depth * 1e3, color="#6b7480", ls="--", lw=1.0, label="allowance")
    left.plot([], [], "ko", mfc="white", label="phases one after another")
    left.set(xlabel="calendar time, h", ylabel="worn depth, mm", ylim=(0.0, 1.15 * depth * 1e3))
    left.legend(fontsize=8, loc="upper left", bbox_to_anchor=(0.0, 0.88))
    names = [s.name.replace("_", " ") for s in states] + ["standstill"]
    shares = [s.share for s in states] + [1.0 - sum(s.share for s in states)]
    parts = [*found.wear_shares, 0.0]
    power = [s.share * s.levels.nominal.running.power for s in states] + [0.0]
    bottom = np.zeros(3)
    for name, share, part, watts, colour in zip(
        names, shares, parts, np.array(power) / sum(power), ("#1f5f8b", "#e0a030", "#8c2f4b", "#d5d8dc"), strict=True
    ):
        right.bar([0, 1, 2], [share, watts, part], bottom=bottom, color=colour, width=0.6, label=name)
        bottom += [share, watts, part]
    right.set_xticks([0, 1, 2], ["time", "heat", "wear"])
    right.set(ylabel="share", ylim=(0.0, 1.0))
    right.legend(fontsize=8, loc="upper left", bbox_to_anchor=(1.0, 1.0))
    figure.savefig(HERE / "img" / "duty_spectrum.svg", metadata={"Date": None})
    plt.close(figure)
    assert worst < 2e-5, worst  # as the page says


if __name__ == "__main__":
    main()
