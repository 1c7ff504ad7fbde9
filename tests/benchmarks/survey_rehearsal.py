"""Looks for the best settings of the rehearsal amp without any optimiser: coarse grid, then all orders, then finer.

    python -m tests.benchmarks.survey_rehearsal

Each arrangement is taken and measured without error of hands, days or files. Every result is one line of
`survey.jsonl` in the study's folder; a survey that was broken off goes on where it stood. Each line carries what a
probe at the room's favourite settings scored, so that results of an amp or a measure that has changed are not used.
"""

import json
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import permutations
from pathlib import Path
from typing import Any, Final, cast

import numpy as np
from numpy.typing import NDArray

from optimiser.audio import Reel, build_reel
from optimiser.rehearsal import (
    FAVOURITE_SETTINGS,
    LEARNING_RIFFS,
    RATE_HZ,
    REHEARSAL_SHEET,
    RehearsalAmp,
    play_riff,
)
from optimiser.scoring import measure
from optimiser.space import Knob, Settings
from optimiser.study import Study, Trial, load_sheet

FOLDER: Final = Path(__file__).parents[2] / "studies" / "rehearsal-amp"
COARSE_GAINS_HOURS: Final = tuple(float(hours) for hours in np.arange(8.0, 17.1, 1.0))
FINER_STEPS_HOURS: Final = (0.5, 0.25, 1.0 / 12.0)
SPOTS_KEPT: Final = 3
ORDERS_KEPT: Final = 2
N_RANDOM: Final = 40
N_REPEATS: Final = 16
RANDOM_SEED: Final = 20_260

Row = dict[str, Any]


@dataclass(frozen=True)
class Bench:
    """The rehearsal amp with its reels, measured without error."""

    amp: RehearsalAmp = field(default_factory=RehearsalAmp)

    @cached_property
    def proof(self) -> Reel:
        """The proof reel."""
        return build_reel({name: play_riff(name) for name in LEARNING_RIFFS}, LEARNING_RIFFS, "proof", int(RATE_HZ))

    @cached_property
    def goal(self) -> NDArray[np.float64]:
        """The goal reference."""
        return self.amp.goal_reference(self.proof.samples, seed=0, exact=True)

    @cached_property
    def probe(self) -> float:
        """Overall score at the favourite settings, by which a changed amp or measure is told."""
        settings: Settings = {**FAVOURITE_SETTINGS, "riffs": list(LEARNING_RIFFS)}
        return cast(float, self.measured(settings)["overall"])

    def measured(self, settings: Settings, *, seed: int = 0, day: int = 0, exact: bool = True) -> Row:
        """Settings with what one take at them scores."""
        learning = [(name, play_riff(name)) for name in cast(list[str], settings["riffs"])]
        took = self.amp.take(settings, learning, self.proof.samples, seed=seed, day=day, exact=exact)
        told = measure(took.reference, took.capture, int(RATE_HZ), layout=self.proof.layout, goal=self.goal)
        trial = Trial(settings, match=told.match, goal=told.goal, articulation_kept=told.articulation_kept)
        study = Study(load_sheet(REHEARSAL_SHEET), (trial,))
        overall = study.overall(study.trials[0])
        return {
            "settings": settings,
            "overall": round(overall[0], 3) if overall else None,
            "match": round(told.match, 2),
            "goal": round(told.goal or 0.0, 2),
            "articulation_kept": round(told.articulation_kept, 4),
            "reading": took.reading,
        }


class Survey:
    """Every result so far, kept in one file."""

    def __init__(self, bench: Bench, path: Path) -> None:
        self.bench = bench
        self.path = path
        text = path.read_text(encoding="utf-8") if path.exists() else ""
        rows = [json.loads(line) for line in text.splitlines(keepends=True) if line.endswith("\n")]
        self.seen: dict[str, Row] = {}
        self.rows: dict[str, Row] = {_key(row["settings"]): row for row in rows if row["probe"] == bench.probe}

    def visit(self, stage: str, arrangements: Iterable[Settings]) -> list[Row]:
        """Results of arrangements that the sheet allows, best first; those known already are not taken again."""
        space = self.bench.amp.sheet.space
        visited = []
        for settings in arrangements:
            if not space.allows(settings):
                continue
            key = _key(settings)
            if key not in self.rows:
                self.rows[key] = {"stage": stage, "probe": self.bench.probe, **self.bench.measured(settings)}
                with self.path.open("a", encoding="utf-8") as lines:
                    lines.write(json.dumps(self.rows[key]) + "\n")
                sys.stderr.write(f"{stage}: {len(self.rows)} taken, {self.rows[key]['overall']}  {key}\n")
            self.seen[key] = self.rows[key]
            visited.append(self.rows[key])
        return sorted(visited, key=lambda row: -cast(float, row["overall"]))

    @property
    def best(self) -> Row:
        """The best row visited so far; a survey that goes on walks the way that it would have walked in one go."""
        return max(self.seen.values(), key=lambda row: cast(float, row["overall"]))


def _key(settings: Settings) -> str:
    return json.dumps(settings, sort_keys=True)


def coarse_grid(amp: RehearsalAmp) -> Iterator[Settings]:
    """Every stage and spot at whole hours of gain, one order."""
    stages, spots = (cast(tuple[str, ...], amp.sheet.space.by_name[name].levels()) for name in ("stage", "mic"))
    for gain in COARSE_GAINS_HOURS:
        for stage in stages:
            for spot in spots:
                yield {"gain": gain, "stage": stage, "mic": spot, "riffs": list(LEARNING_RIFFS)}


def survey(bench: Bench, path: Path) -> Survey:
    """Coarse grid; all orders at its best; finer and finer gains with the best spots and orders."""
    found = Survey(bench, path)
    coarse = found.visit("coarse", coarse_grid(bench.amp))
    stage = coarse[0]["settings"]["stage"]
    spots = list(dict.fromkeys(row["settings"]["mic"] for row in coarse))[:SPOTS_KEPT]
    every = [list(order) for order in permutations(LEARNING_RIFFS)]
    by_order = found.visit("orders", ({**coarse[0]["settings"], "riffs": order} for order in every))
    orders = [row["settings"]["riffs"] for row in by_order[:ORDERS_KEPT]]
    knob = cast(Knob, bench.amp.sheet.space.by_name["gain"])
    for step in FINER_STEPS_HOURS:
        middle = found.best["settings"]["gain"]
        gains = [knob.nearest(middle + step * place) for place in (-2, -1, 0, 1, 2)]
        grid = ((gain, spot, order) for gain in gains for spot in spots for order in orders)
        found.visit("finer", ({"gain": g, "stage": stage, "mic": m, "riffs": list(o)} for g, m, o in grid))
    found.visit("orders again", ({**found.best["settings"], "riffs": order} for order in every))
    rng = np.random.default_rng(RANDOM_SEED)
    found.visit("random", (bench.amp.sheet.space.sample(rng) for _ in range(N_RANDOM)))
    return found


def report(found: Survey, folder: Path) -> None:
    """Write `summary.json` and tell the best."""
    random = [row["overall"] for row in found.rows.values() if row["stage"] == "random"]
    one_day, days = (_repeats(found, day_of) for day_of in (lambda _: 0, lambda seed: seed))
    summary = {
        "best": found.best,
        "taken": len(found.rows),
        "random_mean": round(float(np.mean(random)), 2),
        "random_sd": round(float(np.std(random, ddof=1)), 2),
        "random_most": max(random),
        "repeats_one_day": {"mean": round(float(one_day.mean()), 2), "sd": round(float(one_day.std(ddof=1)), 2)},
        "repeats_over_days": {"mean": round(float(days.mean()), 2), "sd": round(float(days.std(ddof=1)), 2)},
    }
    (folder / "summary.json").write_text(json.dumps(summary, indent=2) + "\n", encoding="utf-8")
    sys.stdout.write(json.dumps(summary, indent=2) + "\n")


def _repeats(found: Survey, day_of: Callable[[int], int]) -> NDArray[np.float64]:
    """Overall scores of ordinary takes at the best settings."""
    best = found.best["settings"]
    seeds = range(1, N_REPEATS + 1)
    return np.array([found.bench.measured(best, seed=s, day=day_of(s), exact=False)["overall"] for s in seeds])


def main() -> None:
    """Survey into the study's folder."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    report(survey(Bench(), FOLDER / "survey.jsonl"), FOLDER)


if __name__ == "__main__":
    main()
