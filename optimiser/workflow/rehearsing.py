"""A whole hunt on the rehearsal amp, through the same steps as a real one, on WAV files."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cached_property
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from optimiser.audio import Reel, build_reel, write_wav
from optimiser.errors import BadUse
from optimiser.proposals import recommend
from optimiser.rehearsal import BEST_OVERALL, LEARNING_RIFFS, RATE_HZ, REHEARSAL_SHEET, RehearsalAmp
from optimiser.review import CAUTIONS
from optimiser.scoring import measure
from optimiser.storage import Store, open_store
from optimiser.study import Study, Trial, fold, load_sheet
from optimiser.workflow.beginning import record_goal, start
from optimiser.workflow.files import make_folder
from optimiser.workflow.levels import highest_of
from optimiser.workflow.looking import reviewed
from optimiser.workflow.next_trial import Wish, next_trials
from optimiser.workflow.reel_files import ReelWish, built_in_riffs, keep_reel
from optimiser.workflow.stamp import Stamp
from optimiser.workflow.takes import Answer, take
from optimiser.workflow.views import View

TRIALS_A_DAY: Final = 8
"""Trials that a pretend day holds, so that a rehearsal shows the drift between days (no source)."""

MINUTES_A_TRIAL: Final = 6
"""Minutes between the pretend trials' times (no source)."""

MOST_TRIALS: Final = 100
"""Trials in one rehearsal; each writes some megabytes of recordings (no source)."""

_FIRST_MORNING: Final = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
_SEED_ENTRY: Final = "rehearsal seed"


@dataclass(frozen=True)
class Rehearsal:
    """One pretend room: the amp, and what is played through it.

    Attributes:
        seed: another seed is another room and another pair of hands.
        out: folder for recordings, store and report.
    """

    seed: int
    out: Path

    @cached_property
    def amp(self) -> RehearsalAmp:
        """The pretend amp, with its days."""
        return RehearsalAmp(day_seed=self.seed)

    @cached_property
    def riffs(self) -> dict[str, NDArray[np.float64]]:
        """The dry riffs."""
        return built_in_riffs(LEARNING_RIFFS)

    @cached_property
    def proof(self) -> Reel:
        """The proof reel."""
        return build_reel(self.riffs, LEARNING_RIFFS, "proof", int(RATE_HZ))

    def stamp(self, number: int) -> Stamp:
        """The pretend time of a trial."""
        day, place = divmod(max(number - 1, 0), TRIALS_A_DAY)
        return Stamp(_FIRST_MORNING + timedelta(days=day, minutes=place * MINUTES_A_TRIAL), "rehearsal")

    def sheet_text(self) -> str:
        """The sheet, with the seed among what is fixed."""
        return f'{REHEARSAL_SHEET}"{_SEED_ENTRY}" = {self.seed}\n'

    def perform(self, number: int, settings: dict[str, Any]) -> tuple[tuple[Path, Path], float]:
        """Make one take: its two files and the reading."""
        learning = [(name, self.riffs[name]) for name in settings["riffs"]]
        day = (number - 1) // TRIALS_A_DAY
        made = self.amp.take(settings, learning, self.proof.samples, seed=_mixed(self.seed, number), day=day)
        files = tuple(self.out / "takes" / f"trial-{number:02d}-{part}.wav" for part in ("reference", "capture"))
        for path, samples in zip(files, (made.reference, made.capture), strict=True):
            write_wav(path, samples, int(RATE_HZ))
        return (files[0], files[1]), made.reading

    def true_overall(self, study: Study, settings: dict[str, Any]) -> float:
        """What settings are worth without noise, hands or days; the search never sees it."""
        learning = [(name, self.riffs[name]) for name in settings["riffs"]]
        proof = self.proof.samples
        goal = self.amp.goal_reference(proof, seed=0, exact=True)
        made = self.amp.take(settings, learning, proof, seed=0, exact=True)
        told = measure(made.reference, made.capture, int(RATE_HZ), layout=self.proof.layout, goal=goal)
        trial = Trial(settings, match=told.match, goal=told.goal, articulation_kept=told.articulation_kept)
        exact = Study(study.sheet, (trial,))
        overall = exact.overall(exact.trials[0])
        return overall[0] if overall else float("nan")


def rehearse(out: Path, trials: int, seed: int, tell: Callable[[str], None]) -> View:
    """Walk a hunt of `trials` trials, or walk on one that stands in `out` already.

    Raises:
        BadUse: a number of trials that cannot be, or a folder that holds a rehearsal with another seed.
        StorageError: a folder that cannot be written.
    """
    if not 1 <= trials <= MOST_TRIALS:
        raise BadUse(f"A rehearsal cannot have {trials} trials.", f"Ask for 1 to {MOST_TRIALS}.")
    if not 0 <= seed < 2**31:
        raise BadUse(f"{seed} cannot be a seed.", "Give a whole number from 0 to 2147483647.")
    room = Rehearsal(seed, out)
    name = load_sheet(REHEARSAL_SHEET).name
    database = make_folder(out / "takes").parent.absolute() / "rehearsal.db"
    with open_store(f"sqlite:///{database}") as store:
        _set_up(store, room, name, tell)
        _walk(store, room, name, trials, tell)
        view = reviewed(store, name, out / "report", room.stamp(trials), tell)
        study = fold(store.events(name)).study
    kept = room.true_overall(study, recommend(study).settings)
    return {
        **view,
        "store": f"sqlite:///{database}",
        "true_kept": kept,
        "true_best": BEST_OVERALL,
        "cautions": list(CAUTIONS),
    }


def _set_up(store: Store, room: Rehearsal, name: str, tell: Callable[[str], None]) -> None:
    if name in store.study_names():
        known = fold(store.events(name)).study.sheet.fixed.get(_SEED_ENTRY)
        if known != str(room.seed):
            raise BadUse(f"{room.out} holds a rehearsal with seed {known}.", "Name another folder with --out.")
        return
    tell(f"setting up the pretend amp in {room.out}")
    stamp = room.stamp(1)
    start(store, room.sheet_text(), stamp)
    keep_reel(store, name, (room.proof, LEARNING_RIFFS), ReelWish("proof", room.out / "proof.wav"), stamp)
    goal = room.amp.goal_reference(room.proof.samples, seed=room.seed)
    write_wav(room.out / "goal.wav", goal, int(RATE_HZ))
    record_goal(store, name, room.out / "goal.wav", stamp, tell)


def _walk(store: Store, room: Rehearsal, name: str, trials: int, tell: Callable[[str], None]) -> None:
    state = fold(store.events(name))
    for made in range(len(state.study.in_state("measured")), trials):
        stamp = room.stamp(made + 1)
        proposal = next_trials(store, name, Wish(), stamp)["proposals"][0]
        number = proposal["trial"]
        files, reading = room.perform(number, proposal["settings"])
        view = take(store, name, files, Answer(number, figures={"reading": reading}), stamp)
        which = f"trial {number} of {trials}" if number == made + 1 else f"trial {number}, {made + 1} of {trials}"
        highest = highest_in_words(highest_of(fold(store.events(name)).study), number, view["overall"])
        tell(f"{which}: overall {view['overall']:.1f}, reading {reading:g}{highest}")


def highest_in_words(highest: tuple[Trial, float] | None, number: int, overall: float) -> str:
    """Whether a trial is the highest, and with which figure where days are taken off; empty when it is not."""
    if highest is None or highest[0].number != number:
        return ""
    level = f"{highest[1]:.1f}"
    return " (highest so far)" if level == f"{overall:.1f}" else f" (highest: {level} with its day taken off)"


def _mixed(seed: int, number: int) -> int:
    return seed * 1_000 + number
