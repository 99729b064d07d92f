"""Plot of wear over a duty of phases and phase by phase: ``python service/docs/models/plot_duty_spectrum.py``."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from glandwise.contract.duty_spectrum import SpectrumRequest
from glandwise.engine import Engine
from glandwise.mechanics import wear_life
from glandwise.numerics.over import over
from glandwise.questions.duty_spectrum import operation as duty_spectrum
from glandwise.rules.loader import RuleStore

HERE = Path(__file__).parent
HOUR = 3600.0


def main() -> None:
    """Write ``img/duty_spectrum.svg``."""
    path = files("glandwise.contract").joinpath("examples", "assess_spectrum", "agitator_drive.json")
    request = SpectrumRequest.model_validate(json.loads(path.read_text("utf-8"))["request"])
    engine = Engine(RuleStore(), "baseline")
    found = duty_spectrum.answer(request, engine)
    states, worn = found.states, found.worn
    assert worn is not None
    mpl.rcParams["svg.hashsalt"] = "glandwise"
    figure, (left, right) = plt.subplots(1, 2, figsize=(10.0, 4.0), layout="constrained", width_ratios=(3, 2))
    time = np.geomspace(worn.life / 300.0, worn.life * 300.0, 200)
    reached = over(wear_life.probability_reached)
    colours = ("#1f5f8b", "#e0a030", "#8c2f4b")
    for state, colour in zip(states, colours, strict=True):
        alone = state.worn.worn
        left.semilogx(time / HOUR, reached(time, alone.life, alone.spread), color=colour, label=f"{state.name} alone")
    left.semilogx(time / HOUR, reached(time, worn.life, worn.spread), "k", lw=2.0, label="all phases")
    # once more by a draw of what is not known, the same for all phases
    draws = np.exp(np.random.default_rng(1).normal(0.0, worn.spread, 20000))
    lives = draws / sum(s.share / s.worn.worn.life for s in states)
    spots = np.geomspace(worn.life / 30.0, worn.life * 30.0, 9)
    drawn = np.array([(lives > spot).mean() for spot in spots])
    left.semilogx(spots / HOUR, drawn, "ko", mfc="white", label="by draws")
    worst = float(np.abs(drawn - reached(spots, worn.life, worn.spread)).max())
    left.set(xlabel="calendar time, h", ylabel="probability that it is reached", ylim=(0.0, 1.02))
    left.legend(fontsize=8)
    names = [s.name.replace("_", " ") for s in states] + ["standstill"]
    shares = [s.share for s in states] + [1.0 - sum(s.share for s in states)]
    parts = [*found.wear_shares, 0.0]
    power = [s.share * s.levels.nominal.running.power for s in states] + [0.0]
    bottom = np.zeros(3)
    for name, share, part, watts, colour in zip(
        names, shares, parts, np.array(power) / sum(power), (*colours, "#d5d8dc"), strict=True
    ):
        right.bar([0, 1, 2], [share, watts, part], bottom=bottom, color=colour, width=0.6, label=name)
        bottom += [share, watts, part]
    right.set_xticks([0, 1, 2], ["time", "heat", "wear"])
    right.set(ylabel="share", ylim=(0.0, 1.0))
    right.legend(fontsize=8, loc="upper left", bbox_to_anchor=(1.0, 1.0))
    figure.savefig(HERE / "img" / "duty_spectrum.svg", metadata={"Date": None})
    plt.close(figure)
    assert worst < 0.01, worst  # as the page says


if __name__ == "__main__":
    main()
