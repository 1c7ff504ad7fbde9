"""How long the commands take beside the amp when a study has become long.

    python -m tests.benchmarks.long_study [TRIALS ...]

Without numbers 30 and 300 trials. A made-up study of ten days: a gain and a second knob, a stage, a free microphone and
a riff order; match, goal, articulation, readings, and details of the size that takes leave. Each trial is proposed,
then measured. The study is imported into a store of its own; each command then runs a few times in a process of its
own, from a cold start, its modules compiled as after an installation. `next` is asked for on a new day, which may begin
with a check, and within a day. Printed are the medians of wall time and of processor time. Run it on an idle machine;
one thread is used.
"""

import json
import os
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any, Final

import numpy as np

from optimiser.scoring import MEASURE_VERSION
from optimiser.space import Settings
from optimiser.study import StudySheet, load_sheet, sheet_to_tables

SHEET: Final = """
[study]
name = "long-hunt"
trials_planned = 300

[settings.gain]
kind = "knob"
scale = "clock"
low = "8:00"
high = "17:00"

[settings.bright]
kind = "knob"
low = 0
high = 10

[settings.stage]
kind = "stage"
steps = ["open", "pushed", "full"]

[settings.mic]
kind = "mic"
free = true
radial_mm = [0, 90]
distance_mm = [10, 150]
angle_deg = [0, 50]

[settings.riffs]
kind = "riff order"
riffs = ["chugs", "held chord", "run", "two-note"]

[reading]
wanted = [6, 8]
redo_below = 5
"""

STAGES: Final = ("open", "pushed", "full")
DAYS: Final = 10
RUNS: Final = 3
PARTS: Final = ("tone", "dynamics", "attack", "residual", "texture", "decay", "noise")
FIRST_MORNING: Final = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
MINUTES_APART: Final = 6


def long_study(trials: int, seed: int = 1, last_made: datetime | None = None) -> dict[str, Any]:
    """A study as `optimiser export` writes it: half of its trials lie anywhere, half near the best before them.

    Its days begin on a fixed date, or end on that of `last_made`.
    """
    rng = np.random.default_rng(seed)
    sheet = load_sheet(SHEET)
    shifts = 0.03 * rng.normal(size=DAYS)
    begun = FIRST_MORNING if last_made is None else last_made - timedelta(minutes=MINUTES_APART * trials)
    first_day = FIRST_MORNING if last_made is None else last_made - timedelta(days=DAYS - 1)
    events = [_event("started", {"sheet": sheet_to_tables(sheet)}, begun)]
    best: tuple[float, Settings | None] = (0.0, None)
    for number in range(1, trials + 1):
        settings = _settings(sheet, best[1] if rng.random() < 0.5 else None, rng)
        day = (number - 1) * DAYS // trials
        figures = _figures(settings, float(shifts[day]), rng)
        best = max(best, (figures["match"] * figures["goal"], settings), key=lambda pair: pair[0])
        proposal = {"trial": number, "settings": settings, "kind": "search", "effort_minutes": 1.0, "reason": ""}
        date = (first_day + timedelta(days=day)).date().isoformat()
        trial = {"trial": number, "settings": settings, "day": date, "minutes": 5.0, **figures}
        body = {"trial": trial, "asked": None, "details": _details(rng)}
        at = begun + timedelta(minutes=MINUTES_APART * number)
        events += [_event("proposed", {"proposal": proposal}, at), _event("measured", body, at)]
    return {"events": events}


def _event(kind: str, body: dict[str, Any], at: datetime) -> dict[str, Any]:
    return {"kind": kind, "body": body, "at": at.isoformat()}


def _settings(sheet: StudySheet, near: Settings | None, rng: np.random.Generator) -> Settings:
    """Anywhere, or as a hand sets it near another arrangement."""
    drawn = sheet.space.sample(rng)
    if near is None:
        return drawn
    kept = dict(near)
    for name in rng.choice(list(drawn), size=2, replace=False).tolist():
        kept[name] = drawn[name]
    return sheet.space.parse(kept)


def _figures(settings: Settings, shift: float, rng: np.random.Generator) -> dict[str, float]:
    """Match falls with the drive, the goal has its best in the middle, the mic and the order bring a little."""
    known: dict[str, Any] = dict(settings)
    drive = (known["gain"] - 8.0) / 9.0 + 0.15 * STAGES.index(known["stage"]) / 2.0
    mic = np.hypot((known["mic"]["radial_mm"] - 25.0) / 90.0, (known["mic"]["distance_mm"] - 30.0) / 140.0)
    order = 0.03 * (known["riffs"].index("chugs") < known["riffs"].index("run"))
    match = 0.95 - 0.5 / (1.0 + np.exp(-12.0 * (drive - 0.6))) - 0.2 * mic**2 + order + shift
    goal = 0.9 * np.exp(-((drive - 0.55) ** 2) / 0.08) - 0.15 * mic**2 - 0.002 * (known["bright"] - 6.0) ** 2 + shift
    kept = 0.95 - 0.4 * drive
    noisy = np.array([match, goal, kept]) + rng.normal(0.0, [0.02, 0.02, 0.03])
    match, goal, kept = np.clip(noisy, 0.05, 0.99).tolist()
    reading = round(float(np.clip(9.0 - 4.0 * drive + rng.normal(0.0, 0.3), 0.0, 10.0)), 1)
    scores = {"match": 100.0 * match, "match_se": 2.5, "goal": 100.0 * goal, "goal_se": 3.0}
    return {**scores, "articulation": 60.0 * kept, "articulation_kept": kept, "reading": reading}


def _details(rng: np.random.Generator) -> dict[str, Any]:
    """As much as a take leaves beside its scores."""
    steps = rng.lognormal(0.3, 0.7, (11, len(PARTS)))
    parts = [{"name": name, "steps": step, "weight": 1.0} for name, step in zip(PARTS, steps[0], strict=True)]
    rows = steps[1:].tolist()
    passages = [{"name": f"riff {place}", "kind": "riff", "start_s": 3.0 * place, "score": 80.0} for place in range(6)]
    return {
        "parts": parts,
        "parts_without": rows,
        "goal_parts": parts,
        "goal_parts_without": rows,
        "passages": passages,
        "advice": ["More distorted than the amp: lower gain or stage first."] * 2,
        "warnings": [],
        "sweep": [],
        "measure_version": MEASURE_VERSION,
    }


def _run(words: list[str], store: Path) -> tuple[float, float]:
    """Seconds of wall time and of processor time that a command takes."""
    threads = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    around = os.environ | threads | {"PYTHONDONTWRITEBYTECODE": "", "OPTIMISER_STORE": str(store)}
    started = time.monotonic()
    process = subprocess.Popen([sys.executable, "-m", "optimiser", *words], env=around, stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise RuntimeError(f"optimiser {' '.join(words)} failed")
    return time.monotonic() - started, used.ru_utime + used.ru_stime


def _timed(words: list[str], folder: Path, *, renew: bool) -> str:
    """Medians over runs; with `renew` each run begins at the study as it was, as asking again would be quick."""
    runs = []
    for turn in range(RUNS):
        store = folder / "store.db"
        if renew:
            store = folder / f"store-{words[0]}-{turn}.db"
            store.write_bytes((folder / "store.db").read_bytes())
        runs.append(_run(words, store))
    wall, processor = (median(column) for column in zip(*runs, strict=True))
    return f"{wall:6.2f} s wall, {processor:6.2f} s processor"


def main() -> None:
    counts = [int(word) for word in sys.argv[1:]] or [30, 300]
    with TemporaryDirectory() as name:
        print(f"                      --help: {_timed(['--help'], Path(name), renew=False)}")  # noqa: T201
        for count in counts:
            within = _imported(long_study(count, last_made=datetime.now(UTC)), Path(name) / f"{count} within a day")
            _tell(count, "next within a day", _timed(["next", "long-hunt"], within, renew=True))
            folder = _imported(long_study(count), Path(name) / str(count))
            for command in ("next on a new day", "predict", "studies", "history", "review", "review --out"):
                words = [command.split()[0], *([] if command == "studies" else ["long-hunt"])]
                words += ["--out", str(folder / "report")] if "--out" in command else []
                words += _SOMEWHERE if command == "predict" else []
                _tell(count, command, _timed(words, folder, renew=words[0] == "next"))


def _imported(study: dict[str, Any], folder: Path) -> Path:
    """The folder, made, with the study in a store there."""
    folder.mkdir()
    (folder / "study.json").write_text(json.dumps(study))
    _run(["import-study", str(folder / "study.json")], folder / "store.db")
    return folder


def _tell(count: int, command: str, figures: str) -> None:
    print(f"{count:4} trials {command:>17}: {figures}", flush=True)  # noqa: T201


_SOMEWHERE: Final = [
    *("--set", "gain=1:00", "--set", "bright=6", "--set", "stage=pushed", "--set", "mic.radial_mm=25"),
    *("--set", "mic.distance_mm=30", "--set", "mic.angle_deg=0", "--set", "riffs=chugs,run,two-note,held chord"),
]


if __name__ == "__main__":
    main()
