"""A study as a value: its sheet and its trials, checked against each other."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

from optimiser.errors import BadInput, InvalidSettings, InvalidTrial, NotFound
from optimiser.space import Settings
from optimiser.study.overall import Part, combine, nearness, nearness_in_words, parts_of
from optimiser.study.sheet import StudySheet
from optimiser.study.trial import SET_ASIDE, Trial


@dataclass(frozen=True)
class Study:
    """One hunt. A change gives a new study.

    Attributes:
        sheet: what the hunt is about.
        trials: every trial by rising number; their settings are read against the sheet, values outside its
            ranges are kept (see `SettingsSpace.outside`). Of a trial that was struck out or put aside, settings that
            the sheet cannot read are left out.
        goal_known: whether a goal reference was recorded; also true once a trial carries a goal score.
        advisers: earlier studies on related chains, sorted by name, each without advisers of its own.

    Raises:
        BadInput: two advisers of one name.
        InvalidSettings: settings that do not fit the sheet, of a trial that waits or was made.
        InvalidTrial: a reading off the device's scale, or a number given twice.
    """

    sheet: StudySheet
    trials: tuple[Trial, ...] = ()
    goal_known: bool = False
    advisers: tuple["Study", ...] = ()

    def __post_init__(self) -> None:
        numbered: list[Trial] = []
        taken: set[int] = set()
        last = 0
        for trial in self.trials:
            if trial.number in taken:
                raise InvalidTrial(f"Trial {trial.number} is given twice.", "Give each trial its own number.")
            numbered.append(self._checked(trial, last + 1))
            taken.add(number := numbered[-1].number or 0)
            last = max(last, number)
        object.__setattr__(self, "trials", tuple(sorted(numbered, key=lambda trial: trial.number or 0)))
        if self.advisers:
            object.__setattr__(self, "advisers", _sorted(self.advisers))

    def _checked(self, trial: Trial, number: int) -> Trial:
        band = self.sheet.reading
        if band is not None and trial.reading is not None and not band.low <= trial.reading <= band.high:
            raise InvalidTrial(
                f"The {band.name} cannot be {trial.reading:g}.", f"Its scale goes from {band.low:g} to {band.high:g}."
            )
        return replace(trial, settings=self._read(trial), number=trial.number or number)

    def _read(self, trial: Trial) -> Settings:
        """Settings as the sheet reads them; of a trial that counts for nothing as many as it can read."""
        space = self.sheet.space
        try:
            return space.parse(trial.settings)
        except InvalidSettings:
            if trial.state not in SET_ASIDE:
                raise
            return space.readable(trial.settings)

    def with_trial(self, trial: Trial) -> "Study":
        """The study with one trial more; a trial whose number is taken stands in for the old one."""
        kept = tuple(other for other in self.trials if other.number != trial.number or trial.number is None)
        return replace(self, trials=(*kept, trial))

    def trial(self, number: int) -> Trial:
        """The trial of that number.

        Raises:
            NotFound: there is none.
        """
        for trial in self.trials:
            if trial.number == number:
                return trial
        last = self.trials[-1].number if self.trials else 0
        raise NotFound(f"Study {self.sheet.name} has no trial {number}.", f"Its trials go up to {last}.")

    def in_state(self, *states: str) -> tuple[Trial, ...]:
        """The trials in any of these states."""
        return tuple(trial for trial in self.trials if trial.state in states)

    @cached_property
    def has_goal(self) -> bool:
        """Whether the goal counts: a goal reference was recorded, or a trial was scored against one."""
        return self.goal_known or any(trial.goal is not None for trial in self.trials if trial.counts)

    @cached_property
    def by_reading_alone(self) -> bool:
        """Whether the device's readings are all there is to go by."""
        measured = self.in_state("measured")
        parts = (part for trial in measured for part in self.parts(trial))
        scored = any(trial.overall is not None for trial in measured) or any(p.desirability is not None for p in parts)
        return self.sheet.reading is not None and bool(measured) and not scored

    @property
    def reading_in_words(self) -> str:
        """How readings are scored while they are all there is to go by; empty when they are not."""
        return nearness_in_words(self.sheet.reading) if self.by_reading_alone and self.sheet.reading else ""

    def parts(self, trial: Trial) -> tuple[Part, ...]:
        """The parts of the overall score of one trial."""
        return parts_of(trial, self.sheet.overall, has_goal=self.has_goal)

    def overall(self, trial: Trial) -> tuple[float, float] | None:
        """A trial's overall score and its within-take standard error, None while a part is missing."""
        if not trial.counts:
            return None
        if trial.overall is not None:
            return trial.overall, trial.overall_se or 0.0
        if self.by_reading_alone and self.sheet.reading is not None:
            return (nearness(trial.reading, self.sheet.reading), 0.0) if trial.reading is not None else None
        parts = self.parts(trial)
        if not parts or any(part.desirability is None for part in parts):
            return None
        return combine(parts)

    def present(self) -> Trial | None:
        """The trial that was made last, whose settings the chain still stands at."""
        made: Iterable[Trial] = self.in_state("measured", "failed")
        return max(made, key=lambda trial: trial.number or 0, default=None)


def _sorted(advisers: Iterable[Study]) -> tuple[Study, ...]:
    """Advisers by name, so that the order in which they are told does not matter."""
    alone = [replace(adviser, advisers=()) if adviser.advisers else adviser for adviser in advisers]
    names = sorted(adviser.sheet.name for adviser in alone)
    for name, following in pairwise(names):
        if name == following:
            raise BadInput(f"The study {name} is named as an adviser twice.", "Name each adviser once.")
    return tuple(sorted(alone, key=lambda adviser: adviser.sheet.name))
